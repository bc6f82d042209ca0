"""The floor in a real browser: readings queued without a line, sent once, seen by others, kept over reload and kill."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from floor_shop import RUN, open_invented
from real_browser import TABLET, watched
from vaporwright.acceptance.record.state import RunState
from vaporwright.actions.job_book import JobBook
from vaporwright.store.commit import load_state
from vaporwright.store.database import Database
from vaporwright.store.job_store import JobStore
from web_server import WebServer, web_server

pytestmark = pytest.mark.slow
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


@pytest.fixture
def floor(tmp_path: Path, browser: Browser) -> Iterator[Floor]:
    assert browser.is_connected()
    with closing(Database(str(tmp_path / "shop.db"))) as database:
        book = JobBook(JobStore(database), database.records, time.time)
        job = book.start("Invented", "Invented Plating", "26 gal/h", by="test").id
        open_invented(database.records, book, job)
    with web_server(tmp_path) as server:
        yield Floor(server, job)


def says_who(page: Page, name: str) -> None:
    page.goto("/who")
    page.locator("main input[name=name]").fill(name)
    page.get_by_role("button", name="That is me").click()


def reads(page: Page, field: str, text: str) -> None:
    page.locator(f"#read-{field}").fill(text)
    page.locator(f"#part-{field} .reading-form button.main").click()


def readings(state: RunState, field: str) -> list[str]:
    return [taken.reading.entered for taken in state.history.get((STEP, field), ())]


def test_a_lost_line_loses_nothing_and_doubles_nothing(browser: Browser, floor: Floor) -> None:
    with (
        watched(browser, floor.server.address, TABLET) as tim,
        watched(browser, floor.server.address, TABLET) as kim,
    ):
        says_who(tim.page, "Tim")
        says_who(kim.page, "Kim")
        page, other = tim.goes(floor.step()), kim.goes(floor.step())
        reads(page, "near_m", "1.01")
        expect(page.locator("#part-near_m .verdict")).to_contain_text("accepted")
        expect(other.locator("#part-near_m")).to_contain_text("Tim", timeout=6000)  # by itself

        tim.context.set_offline(True)
        reads(page, "middle_m", "1.02")
        reads(page, "far_m", "9")
        expect(page.locator("#kept")).to_contain_text("not yet sent (2)")
        expect(page.locator("#part-middle_m .kept-note")).to_contain_text("kept here")
        expect(page.locator("#line")).to_be_visible(timeout=6000)
        assert readings(floor.state(), "middle_m") == []

        tim.context.set_offline(False)
        expect(page.locator("#kept")).to_be_hidden(timeout=20_000)
        expect(page.locator("#part-far_m .verdict.alarm")).to_contain_text("not accepted")
        expect(other.locator("#part-far_m")).to_contain_text("Tim", timeout=6000)
        page.reload()
        expect(page.locator("#part-far_m .taken")).to_contain_text("9")
        state = floor.state()
        assert [readings(state, f"{name}_m") for name in ("near", "middle", "far")] == [
            ["1.01 ft"],
            ["1.02 ft"],
            ["9 ft"],
        ]


def test_an_answer_that_is_lost_is_asked_for_again_and_entered_once(browser: Browser, floor: Floor) -> None:
    with watched(browser, floor.server.address, TABLET) as tim:
        says_who(tim.page, "Tim")
        page = tim.goes(floor.step())
        sent: list[str] = []

        def lose_the_first(route) -> None:  # type: ignore[no-untyped-def]
            answer = route.fetch()  # the server has it
            sent.append(route.request.post_data)
            if len(sent) == 1:
                route.abort()
            else:
                route.fulfill(response=answer)

        page.route("**/api/v1/runs/*/entries", lose_the_first)
        reads(page, "near_m", "1.01")
        expect(page.locator("#part-near_m .verdict")).to_contain_text("accepted", timeout=10_000)
        expect(page.locator("#kept")).to_be_hidden(timeout=10_000)
        assert len(sent) == 2
        assert sent[0] == sent[1]
        assert readings(floor.state(), "near_m") == ["1.01 ft"]


def test_what_waits_outlives_a_reload_and_a_server_that_was_killed(browser: Browser, floor: Floor) -> None:
    with watched(browser, floor.server.address, TABLET) as tim:
        says_who(tim.page, "Tim")
        page = tim.goes(floor.step())
        reads(page, "near_m", "1.01")
        expect(page.locator("#part-near_m .verdict")).to_contain_text("accepted")
        floor.server.kill()
        reads(page, "middle_m", "1.02")
        expect(page.locator("#kept")).to_contain_text("not yet sent (1)")
        floor.server.start()
        page.reload()  # the tab was closed and opened again: the queue is still there
        expect(page.locator("#kept")).to_be_hidden(timeout=20_000)
        expect(page.locator("#part-middle_m .verdict")).to_contain_text("accepted")
        assert readings(floor.state(), "near_m") == ["1.01 ft"]
        assert readings(floor.state(), "middle_m") == ["1.02 ft"]


def test_a_refused_reading_stays_with_its_reason_until_dealt_with(browser: Browser, floor: Floor) -> None:
    with watched(browser, floor.server.address, TABLET) as tim:
        says_who(tim.page, "Tim")
        page = tim.goes(floor.step())
        reads(page, "near_m", "1,234")  # may be read in two ways
        expect(page.locator("#kept")).to_contain_text("Refused (1)")
        expect(page.locator("#kept")).to_contain_text("1234 or 1.234")
        page.reload()
        expect(page.locator("#kept")).to_contain_text("Refused (1)")
        reads(page, "near_m", "1.01")
        expect(page.locator("#kept")).to_be_hidden()
        assert readings(floor.state(), "near_m") == ["1.01 ft"]


def test_what_one_typed_is_not_sent_under_another_name(browser: Browser, floor: Floor) -> None:
    with watched(browser, floor.server.address, TABLET) as tablet:
        says_who(tablet.page, "Tim")
        page = tablet.goes(floor.step())
        tablet.context.set_offline(True)
        reads(page, "near_m", "1.01")
        expect(page.locator("#kept")).to_contain_text("not yet sent (1)")
        page.goto("about:blank")
        tablet.context.set_offline(False)
        says_who(page, "Kim")
        page.goto(floor.step())
        expect(page.locator("#kept")).to_contain_text("Kept here for Tim (1)")
        reads(page, "middle_m", "1.02")
        expect(page.locator("#part-middle_m .verdict")).to_contain_text("accepted")
        # Tim's page may have sent it as it was left, its answer lost; nobody sends it as Kim.
        near = floor.state().history.get((STEP, "near_m"), ())
        assert {taken.mark.who for taken in near} <= {"Tim"}
        says_who(page, "Tim")
        page.goto(floor.step())
        expect(page.locator("#part-near_m .verdict")).to_contain_text("accepted", timeout=10_000)
        state = floor.state()
        assert [state.history[(STEP, f"{name}_m")][0].mark.who for name in ("near", "middle")] == ["Tim", "Kim"]


def test_steps_of_yes_and_no_and_of_a_point_without_a_keyboard(browser: Browser, floor: Floor) -> None:
    with watched(browser, floor.server.address, TABLET) as pat:
        says_who(pat.page, "Pat")
        page = pat.goes(floor.step("tank.leak"))
        for button in page.locator(".yes-no button").all():
            box = button.bounding_box()
            assert box is not None
            assert min(box["width"], box["height"]) >= 56
        page.get_by_role("button", name="No", exact=True).click()
        expect(page.locator("#part-drops .verdict")).to_contain_text("accepted")
        page.get_by_role("button", name="Accept the point").click()
        expect(page.locator("#part-end")).to_contain_text("Accepted by Pat (engineer)")
        assert "tank.leak" in floor.state().points
