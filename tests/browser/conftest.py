"""A real browser for the tests of a module, and a filled shop to look at.

The browser is closed before the next module: its event loop is that of the thread.
"""

from __future__ import annotations

import shutil
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from finished_shop import FinishedShop, make_shop
from real_browser import real_browser
from web_server import STORE, WebServer, web_server


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with real_browser() as made:
        yield made


@pytest.fixture(scope="session")
def finished(tmp_path_factory: pytest.TempPathFactory) -> FinishedShop:
    """Made once; each module works on a copy of its store."""
    return make_shop(tmp_path_factory.mktemp("finished"), time.time())


@pytest.fixture(scope="module")
def served(finished: FinishedShop, tmp_path_factory: pytest.TempPathFactory) -> Iterator[WebServer]:
    """A server with the filled shop."""
    folder = tmp_path_factory.mktemp("served")
    shutil.copy(Path(finished.store), folder / STORE)
    with web_server(folder) as made:
        yield made
