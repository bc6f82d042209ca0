"""A panel read live in a real browser: begun on the page, lost and found again, a value taken, the server killed."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from floor_shop import RUN, open_invented
from panel_stand import Panel, panel, register_instruments
from real_browser import TABLET, watched
from vaporwright.acceptance.record.events import AcceptPoint, TakeReading
from vaporwright.acceptance.record.state import RunState
from vaporwright.acceptance.steps.readings import Reading
from vaporwright.actions.desk import Desk
from vaporwright.actions.job_book import JobBook
from vaporwright.store.commit import load_state
from vaporwright.store.database import Database
from vaporwright.store.job_store import JobStore
from web_server import WebServer, web_server

pytestmark = pytest.mark.slow
TANK = "tank_temperature_K"
CLAMP = "set_points.clamp"
SOON_ms = 20_000


class Floor:
    """A server with one run past its hold point, and a panel."""

    def __init__(self, server: WebServer, job: str, stand: Panel) -> None:
        self.server, self.job, self.stand = server, job, stand
        self.run = f"/jobs/{job}/acceptance/{RUN}"
        self.page = f"{self.run}/performance"

    def state(self) -> RunState:
        """The record as it is on the disk."""
        with closing(Database(self.server.store)) as database:
            return load_state(database.records, RUN)

    def column(self) -> tuple[float | None, ...]:
        log = self.state().log
        return () if log is None else log.columns[TANK]


@pytest.fixture
def floor(tmp_path: Path, browser: Browser) -> Iterator[Floor]:
    assert browser.is_connected()
    with closing(Database(str(tmp_path / "shop.db"))) as database:
        book = JobBook(JobStore(database), database.records, time.time)
        job = book.start("Invented", "Invented Plating", "26 gal/h", by="test").id
        open_invented(database.records, book, job)
        register_instruments(database.records, RUN)
        desk = Desk(database.records, "Ada", "engineer")
        desk.enter(RUN, TakeReading(desk.stamp(), Reading("tank.leak", "drops", "no", False)))
        desk.enter(RUN, AcceptPoint(desk.stamp(), "tank.leak"))
    with panel() as stand, web_server(tmp_path) as server:
        yield Floor(server, job, stand)


def says_who(page: Page, name: str) -> None:
    page.goto("/who")
    page.locator("main input[name=name]").fill(name)
    page.get_by_role("button", name="That is me").click()


def begins(page: Page, floor: Floor) -> None:
    page.locator("#panel-map").set_input_files(
        {"name": "map.toml", "mimeType": "application/toml", "buffer": floor.stand.map.encode()}
    )
    page.get_by_role("button", name="Read the panel", exact=True).click()


def until_rows(floor: Floor, more_than: int) -> None:
    end_s = time.monotonic() + SOON_ms / 1000.0
    while len(floor.column()) <= more_than:
        assert time.monotonic() < end_s, "no further row came"
        time.sleep(0.1)


def test_rows_come_a_lost_line_is_told_and_they_go_on_until_stopped(browser: Browser, floor: Floor) -> None:
    with (
        watched(browser, floor.server.address, TABLET) as tim,
        watched(browser, floor.server.address, TABLET) as kim,
    ):
        says_who(tim.page, "Tim")
        says_who(kim.page, "Kim")
        page, other = tim.goes(floor.page), kim.goes(floor.page)
        page.locator("#panel-address").fill("http://127.0.0.1:1")
        begins(page, floor)
        expect(page.locator("[role=alert]")).to_contain_text("none of the two protocols")
        expect(page.locator("#panel-address")).to_have_value("http://127.0.0.1:1")
        page.locator("#panel-address").fill("")
        begins(page, floor)

        live = page.locator("#part-panel")
        expect(live).to_contain_text("begun by Tim", timeout=SOON_ms)
        expect(live).to_contain_text("143.2 °F", timeout=SOON_ms)
        expect(other.locator("#part-panel")).to_contain_text("begun by Tim", timeout=SOON_ms)  # by itself
        expect(page.locator("[aria-label='Last rows'] tbody tr").first).to_contain_text("143.2", timeout=SOON_ms)

        floor.stand.stop()
        expect(live).to_contain_text("No line to panel", timeout=SOON_ms)
        expect(live).to_contain_text("Asked again in", timeout=SOON_ms)
        expect(live).not_to_contain_text("143.2")
        rows = len(floor.column())

        floor.stand.start()
        floor.stand.hold(tank=144.5)
        expect(live).not_to_contain_text("No line to panel", timeout=SOON_ms)
        expect(live).to_contain_text("144.5 °F")
        until_rows(floor, rows + 1)

        page.get_by_role("button", name="Stop reading").focus()
        page.keyboard.press("Enter")
        expect(live).to_contain_text("stopped by Tim", timeout=SOON_ms)
        column = floor.column()
        assert column.count(None) == 1
        times_s = floor.state().log.times_s  # type: ignore[union-attr]
        assert list(times_s) == sorted(set(times_s))
        expect(live).to_contain_text(f"{len(column)} rows of it went into the record")
        expect(page.get_by_role("button", name="Read the panel again, by the same map")).to_be_visible()


def test_a_value_is_shown_beside_its_field_and_taken_by_a_press(browser: Browser, floor: Floor) -> None:
    with watched(browser, floor.server.address, TABLET) as tim:
        says_who(tim.page, "Tim")
        page = tim.goes(f"{floor.run}/steps/{CLAMP}")
        expect(page.locator("#panel-clamp_K")).to_be_empty()
        with watched(browser, floor.server.address, TABLET) as kim:
            says_who(kim.page, "Kim")
            begins(kim.goes(floor.page), floor)
            expect(kim.page.locator("#part-panel")).to_contain_text("143.2 °F", timeout=SOON_ms)
        shown = page.locator("#panel-clamp_K")
        expect(shown).to_contain_text("Panel reads 150.0 °F", timeout=SOON_ms)  # by itself
        page.locator("#read-remark").fill("half a remark")
        button = page.get_by_role("button", name="Take this value")
        button.focus()
        first = shown.inner_text()
        expect(shown).not_to_have_text(first, timeout=SOON_ms)  # further rows have come
        expect(button).to_be_focused()
        assert floor.state().current(CLAMP, "clamp_K") is None

        page.keyboard.press("Enter")
        expect(page.locator("#part-clamp_K .verdict")).to_contain_text("accepted", timeout=SOON_ms)
        expect(page.locator("#read-remark")).to_have_value("half a remark")
        taken = floor.state().current(CLAMP, "clamp_K")
        assert taken is not None
        assert (taken.reading.way, taken.reading.entered, taken.reading.instrument) == ("live", "150 degF", "T1")
        assert taken.mark.who == "Tim"
        expect(page.get_by_role("button", name="Take this value")).to_have_count(0)


def test_a_killed_server_does_not_read_on_by_itself(browser: Browser, floor: Floor) -> None:
    with watched(browser, floor.server.address, TABLET) as tim:
        says_who(tim.page, "Tim")
        page = tim.goes(floor.page)
        begins(page, floor)
        live = page.locator("#part-panel")
        expect(live).to_contain_text("143.2 °F", timeout=SOON_ms)
        until_rows(floor, 1)
        floor.server.kill()
        rows = len(floor.column())
        floor.server.start()
        page.goto(floor.page)
        expect(live).to_contain_text("it stopped with the server, at about")
        expect(live).to_contain_text("does not begin again by itself")
        assert len(floor.column()) == rows
        page.get_by_role("button", name="Read the panel again, by the same map").click()
        expect(live).to_contain_text("143.2 °F", timeout=SOON_ms)
        until_rows(floor, rows)

        floor.server.stop()  # in good order: what was read is in the record
        rows = len(floor.column())
        floor.server.start()
        page.goto(floor.page)
        expect(live).to_contain_text("the server was stopped at")
        assert len(floor.column()) == rows
        assert "Traceback" not in floor.server.said
