"""Debian's chromium under Playwright, for tests of the pages: it reaches this machine alone, and every script error,
dialog or request to elsewhere is written down.

Where there is no chromium the tests that need it are left out, and say so; with VAPORWRIGHT_CI=1 they fail instead.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

MISSING = "no chromium here (on PATH): left out"
TABLET, PHONE, DESK = (820, 1180), (390, 844), (1280, 900)
_ARGUMENTS = (
    "--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE 127.0.0.1",  # offline, as a shop may be
    "--disable-dev-shm-usage",
    "--disable-gpu",
)


def chromium() -> str:
    """Its path, or the test is left out, or fails where the service is demanded."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        if os.environ.get("VAPORWRIGHT_CI") == "1":
            pytest.fail(MISSING.replace("left out", "and VAPORWRIGHT_CI=1 demands it"))
        pytest.skip(MISSING)
    return found


@contextmanager
def real_browser(*more: str) -> Iterator[Browser]:
    """A running browser without a window, closed afterwards; `more` are further options of chromium."""
    arguments = [*_ARGUMENTS, *more, *(["--no-sandbox"] if os.geteuid() == 0 else [])]  # its sandbox refuses root
    path = chromium()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=arguments)
        try:
            yield browser
        finally:
            browser.close()


class Watched:
    """One person's browser: its context, and what must not happen in it."""

    def __init__(self, browser: Browser, base: str, size: tuple[int, int] = DESK, **options: Any) -> None:
        width, height = size
        self.context: BrowserContext = browser.new_context(
            base_url=base, viewport={"width": width, "height": height}, reduced_motion="reduce", **options
        )
        self.context.set_default_timeout(20_000)
        self.wrong: list[str] = []
        self._own = urlsplit(base).netloc
        self.context.on("page", self._watch)
        self.page: Page = self.context.new_page()

    def _watch(self, page: Page) -> None:
        page.on("pageerror", lambda error: self.wrong.append(f"script error: {error}"))
        page.on("console", lambda said: self._heard(said.type, said.text, page.url))
        page.on("request", lambda request: self._asked(request.url))
        page.on("response", lambda answer: self._answered(answer.status, answer.url))

    def _heard(self, kind: str, text: str, where: str) -> None:
        if kind == "error" and "Failed to load resource" not in text:  # those are judged by their status
            self.wrong.append(f"console at {where}: {text}")

    def _asked(self, address: str) -> None:
        parts = urlsplit(address)
        if parts.scheme not in ("data", "blob", "about") and parts.netloc != self._own:
            self.wrong.append(f"asks elsewhere: {address}")

    def _answered(self, status: int, address: str) -> None:
        if status >= 500:
            self.wrong.append(f"{status} from {address}")

    def goes(self, path: str) -> Page:
        """To a page."""
        self.page.goto(path, wait_until="load")
        return self.page

    def close(self) -> None:
        """Let go of it."""
        self.context.close()


@contextmanager
def watched(browser: Browser, base: str, size: tuple[int, int] = DESK, **options: Any) -> Iterator[Watched]:
    """A person's browser in which nothing that must not happen has happened, when it is closed."""
    made = Watched(browser, base, size, **options)
    try:
        yield made
        assert not made.wrong, made.wrong
    finally:
        made.close()
