"""The floor of an invented shop as a tablet sees it: a server with one run, its pages, and what its record says."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import datetime, timedelta
from pathlib import Path

from playwright.sync_api import Page

from floor_shop import RUN, open_invented
from vaporwright.acceptance.record.state import RunState
from vaporwright.actions.job_book import JobBook
from vaporwright.store.commit import load_state
from vaporwright.store.database import Database
from vaporwright.store.job_store import JobStore
from web_server import STORE, WebServer, web_server

STEP = "sizes.pipe"


class Floor:
    """A server with one run, and where its pages are."""

    def __init__(self, server: WebServer, job: str) -> None:
        self.server, self.job = server, job
        self.run = f"/jobs/{job}/acceptance/{RUN}"

    def step(self, key: str = STEP) -> str:
        return f"{self.run}/steps/{key}"

    def state(self) -> RunState:
        """The record as it is on the disk."""
        with closing(Database(self.server.store)) as database:
            return load_state(database.records, RUN)

    def entered(self, field: str) -> list[str]:
        """What was ever entered in a field of the step, in order."""
        return [taken.reading.entered for taken in self.state().history.get((STEP, field), ())]


@contextmanager
def floor_served(folder: Path, *options: str) -> Iterator[Floor]:
    """A server with one run that was opened two hours ago."""

    def two_hours_ago() -> str:
        return (datetime.now().astimezone() - timedelta(hours=2)).isoformat(timespec="seconds")

    with closing(Database(str(folder / STORE))) as database:
        book = JobBook(JobStore(database), database.records, time.time)
        job = book.start("Invented", "Invented Plating", "26 gal/h", by="test").id
        open_invented(database.records, book, job, clock=two_hours_ago)
    with web_server(folder, *options) as server:
        yield Floor(server, job)


def says_who(page: Page, name: str) -> None:
    page.goto("/who")
    page.locator("main input[name=name]").fill(name)
    page.get_by_role("button", name="That is me").click()


def reads(page: Page, field: str, text: str) -> None:
    page.locator(f"#read-{field}").fill(text)
    page.locator(f"#part-{field} .reading-form button.main").click()


def comes_true(page: Page, expression: str, argument: object = None) -> None:
    """Wait until a script's promise says yes."""
    end = time.monotonic() + 20.0
    while not page.evaluate(expression, argument):
        assert time.monotonic() < end, expression
        page.wait_for_timeout(50)
