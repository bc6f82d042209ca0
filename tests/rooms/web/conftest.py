"""Applications for tests: one on this machine alone, one that others can reach."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from argon2 import PasswordHasher

from vaporwright.store import passwords
from web_client import Site, site


@pytest.fixture
def local(tmp_path: Path) -> Iterator[Site]:
    with site(tmp_path) as made:
        yield made


@pytest.fixture
def shared(tmp_path: Path) -> Iterator[Site]:
    with site(tmp_path, host="0.0.0.0", names=("shop-pc",)) as made:
        yield made


@pytest.fixture(autouse=True)
def _cheap_passwords(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hashing as cheap as it gets: what it costs in earnest is checked in tests/rooms/store."""
    hasher = PasswordHasher(1, 8, 1)
    monkeypatch.setattr(passwords, "_HASHER", hasher)
    monkeypatch.setattr(passwords, "_NOBODY", hasher.hash("nobody's password"))
