"""A browser without a window, for tests: it keeps cookies, brings the token of forms, and talks to the application.

No server, no port: requests go straight into the application, each from an address of one's choice.
"""

from __future__ import annotations

import asyncio
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx
from fastapi import FastAPI

from vaporwright.store.people_store import PeopleStore
from vaporwright.web.app import make_app
from vaporwright.web.settings import Settings

PASSWORD = "seven dry pumps in a row"


class Clock:
    """A clock that stands until it is moved."""

    def __init__(self) -> None:
        self.at = 1_800_000_000.0

    def __call__(self) -> float:
        return self.at


class Browser:
    """One person's browser."""

    def __init__(self, app: FastAPI, address: str = "127.0.0.1", base: str = "http://127.0.0.1:8420") -> None:
        self._runner = asyncio.Runner()
        transport = httpx.ASGITransport(app=app, client=(address, 50_000))
        self.client = httpx.AsyncClient(transport=transport, base_url=base)
        self.base = base

    def send(self, method: str, path: str, **more: Any) -> httpx.Response:
        """A request as it stands; redirects are not followed."""
        return self._runner.run(self.client.request(method, path, **more))

    def get(self, path: str, **more: Any) -> httpx.Response:
        """A page, and whatever it leads on to."""
        return self.send("GET", path, follow_redirects=True, **more)

    @property
    def csrf(self) -> str:
        """The token of forms, as a page of this browser's session has it."""
        found = re.search(r'name="csrf-token" content="([0-9a-f]{64})"', self.get("/sign-in").text)
        assert found is not None
        return found[1]

    def post(self, path: str, data: dict[str, Any] | None = None, **more: Any) -> httpx.Response:
        """Send a form of this server's own page; where it leads on to is followed."""
        form = {"csrf": self.csrf, **(data or {})}
        return self.send("POST", path, data=form, follow_redirects=True, **more)

    def part(self, method: str, path: str, **more: Any) -> httpx.Response:
        """As htmx asks for a part of a page."""
        headers = {"HX-Request": "true", "HX-Request-Type": "partial", "X-CSRF-Token": self.csrf}
        return self.send(method, path, headers=headers, **more)

    def sign_in(self, name: str, password: str = PASSWORD) -> httpx.Response:
        """Name and password into the form."""
        return self.post("/sign-in", {"name": name, "password": password})

    def close(self) -> None:
        """Let go of everything."""
        self._runner.run(self.client.aclose())
        self._runner.close()


class Site:
    """An application with its browsers and its clock."""

    def __init__(self, folder: Path, **settings: Any) -> None:
        self.clock = Clock()
        self.settings = Settings(str(folder / "shop.db"), folder, **settings)
        self.app = make_app(self.settings, self.clock)
        self.shop = self.app.state.shop
        self._browsers: list[Browser] = []

    @property
    def people(self) -> PeopleStore:
        """Accounts, sessions, audit."""
        found: PeopleStore = self.shop.people
        return found

    def browser(self, address: str = "127.0.0.1", base: str = "http://127.0.0.1:8420") -> Browser:
        """A fresh browser."""
        made = Browser(self.app, address, base)
        self._browsers.append(made)
        return made

    def add(self, name: str, role: str, *qualifications: str) -> None:
        """An account with PASSWORD."""
        self.people.add_account(name, PASSWORD, role, qualifications, "US", at=self.clock(), by="test")

    def signed_in(self, name: str, role: str, address: str = "192.0.2.7") -> Browser:
        """The browser of somebody with a fresh account."""
        self.add(name, role)
        browser = self.browser(address)
        assert browser.sign_in(name).status_code == 200
        return browser

    def close(self) -> None:
        """Let go of everything."""
        for browser in self._browsers:
            browser.close()
        self.shop.close()


@contextmanager
def site(folder: Path, **settings: Any) -> Iterator[Site]:
    """An application in a folder, let go of afterwards."""
    made = Site(folder, **settings)
    try:
        yield made
    finally:
        made.close()
