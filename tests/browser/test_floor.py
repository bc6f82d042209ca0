"""The floor in a real browser: readings queued without a line, sent once, seen by others, kept over reload and kill."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from floor_tablet import STEP, Floor, floor_served, reads, says_who
from real_browser import TABLET, watched

pytestmark = pytest.mark.slow


@pytest.fixture
def floor(tmp_path: Path, browser: Browser) -> Iterator[Floor]:
    assert browser.is_connected()
    with floor_served(tmp_path) as made:
        yield made


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
        assert floor.entered("middle_m") == []

        tim.context.set_offline(False)
        expect(page.locator("#kept")).to_be_hidden(timeout=20_000)
        expect(page.locator("#part-far_m .verdict.alarm")).to_contain_text("not accepted")
        expect(other.locator("#part-far_m")).to_contain_text("Tim", timeout=6000)
        page.reload()
        expect(page.locator("#part-far_m .taken")).to_contain_text("9")
        assert [floor.entered(f"{name}_m") for name in ("near", "middle", "far")] == [
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
        first, second = map(json.loads, sent)
        assert first.pop("age_s") < second.pop("age_s")  # it has waited longer by then, and is the same entry
        assert first == second
        assert floor.entered("near_m") == ["1.01 ft"]


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
        assert floor.entered("near_m") == ["1.01 ft"]
        assert floor.entered("middle_m") == ["1.02 ft"]


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
        assert floor.entered("near_m") == ["1.01 ft"]


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
