"""Enquiry and sizing in a real browser: pointing at the chart, the keyboard alone, papers and how far they are."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from real_browser import PHONE, Watched, watched
from web_server import WebServer, web_server

pytestmark = pytest.mark.slow
MOST_TABS = 150


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[WebServer]:
    with web_server(tmp_path_factory.mktemp("sizing"), "--demo") as made:
        yield made


@pytest.fixture
def person(browser: Browser, shop: WebServer) -> Iterator[Watched]:
    with watched(browser, shop.address) as made:
        yield made


def _sizing(person: Watched) -> Page:
    """The sizing of the gas job, worked out, with its chart."""
    page: Page = person.goes("/jobs?q=tumbling")
    job = page.get_by_role("link", name="tumbling", exact=False).first.get_attribute("href")
    page.goto(f"{job}/sizing")
    expect(page.locator("#full h2").first).to_be_visible(timeout=60_000)
    expect(page.locator(".pointed svg")).to_be_visible(timeout=30_000)
    return page


def _curves(page: Page) -> dict[str, Any]:
    found = json.loads(page.locator(".pointed").get_attribute("data-curves") or "")
    return {curve["season"]: curve for curve in found}


def _told(page: Page) -> tuple[str, ...]:
    return tuple(page.locator(f"[data-told={name}]").inner_text() for name in ("temperature", "tower", "heat", "says"))


def _of(step: dict[str, Any]) -> tuple[str, ...]:
    return tuple(step[name] for name in ("temperature", "tower", "heat", "says"))


def _place(page: Page, x: float, y: float) -> tuple[float, float]:
    """A place of the plot on the screen."""
    found: list[float] = page.locator(".pointer").evaluate(
        "(one, at) => { const on = new DOMPoint(...at).matrixTransform(one.getScreenCTM()); return [on.x, on.y]; }",
        [x, y],
    )
    return found[0], found[1]


def test_keys_step_along_the_curves_and_say_what_stands_there(person: Watched) -> None:
    page = _sizing(person)
    curves = _curves(page)
    season = page.locator(".pointed").get_attribute("data-governing") or ""
    curve = curves[season]
    at = curve["operating"]
    slider = page.get_by_role("slider", name="Tank temperature along the curves")
    expect(slider).to_have_attribute("aria-valuetext", curve["steps"][at]["words"])
    assert "Operating point" in _told(page)[3]
    slider.focus()
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    assert _told(page) == _of(curve["steps"][at + 3])
    expect(slider).to_have_attribute("aria-valuetext", curve["steps"][at + 3]["words"])
    page.keyboard.press("Home")
    assert _told(page) == _of(curve["steps"][0])
    other = next(name for name in curves if name != season)
    page.get_by_role("radio", name=other).check()
    assert _told(page)[0] == curves[other]["steps"][0]["temperature"]
    page.get_by_role("button", name="Go to the operating point").press("Enter")
    assert _told(page) == _of(curves[other]["steps"][curves[other]["operating"]])


def test_the_mouse_points_at_a_curve_and_its_season_is_told(person: Watched) -> None:
    page = _sizing(person)
    for curve in _curves(page).values():
        step = curve["steps"][4]
        page.mouse.move(*_place(page, step["x"], step["tower_y"]))
        assert _told(page) == _of(step)
        expect(page.get_by_role("radio", name=curve["season"])).to_be_checked()
        line = page.locator(".pointer line")
        expect(line).to_have_attribute("x1", str(step["x"]))


def test_a_finger_taps_and_a_narrow_drawing_follows(browser: Browser, shop: WebServer) -> None:
    with watched(browser, shop.address, PHONE, has_touch=True) as person:
        page = _sizing(person)
        curve = _curves(page)[page.locator(".pointed").get_attribute("data-governing") or ""]
        page.locator(".pointed").scroll_into_view_if_needed()
        last = curve["steps"][-1]
        slider = page.get_by_role("slider", name="Tank temperature along the curves")
        slider.press("End")
        assert _told(page)[0] == last["temperature"]
        x, _ = _place(page, last["x"], 10.0)
        assert 0.0 < x < PHONE[0]
        step = curve["steps"][-4]
        page.touchscreen.tap(*_place(page, step["x"], step["heat_y"]))
        assert _told(page)[0] == step["temperature"]


def test_the_chart_follows_what_is_typed(person: Watched) -> None:
    page = _sizing(person)
    before = page.locator(".pointed").get_attribute("data-key")
    page.get_by_label("Volume").fill("5500 gal/month")
    expect(page.locator(f".pointed[data-key='{before}']")).to_have_count(0, timeout=20_000)
    live = page.locator("#live")
    expect(page.locator(".pointed")).to_have_attribute("data-key", live.get_attribute("data-key") or "")
    assert _told(page)[0] in live.inner_text()


def test_a_paper_tells_how_far_it_is_and_what_is_typed_stays(person: Watched) -> None:
    page = _sizing(person)
    page.get_by_label("Volume").fill("5600 gal/month")
    with page.expect_download(timeout=60_000) as caught:
        page.get_by_role("link", name="Sizing sheet (PDF)").click()
        expect(page.get_by_role("status").filter(has_text="Writing: Sizing sheet (PDF).")).to_be_attached()
    assert Path(caught.value.path()).read_bytes().startswith(b"%PDF")
    expect(page.get_by_label("Volume")).to_have_value("5600 gal/month")
    expect(page.get_by_role("status").filter(has_text="Writing")).to_have_count(0)


def _tabs_to(page: Page, found: str) -> None:
    """Tab until the focus is on what a selector finds; where it is, one sees."""
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        if page.evaluate("(one) => document.activeElement.matches(one)", found):
            outline = page.evaluate("() => getComputedStyle(document.activeElement).outlineStyle")
            assert outline != "none"
            return
    raise AssertionError(f"no Tab leads to {found}")


def test_the_keyboard_alone_fills_an_enquiry_chooses_a_candidate_and_takes_the_sheet(person: Watched) -> None:
    page = _sizing(person)
    candidates = page.locator("button[name=take_hand]")
    assert candidates.count() > 0
    wanted = candidates.first.get_attribute("value")
    _tabs_to(page, "#field-duty-volume")
    page.keyboard.press("Control+A")
    page.keyboard.type("6100 gal/month")
    before = page.locator("#live").get_attribute("data-key")
    expect(page.locator(f"#live[data-key='{before}']")).to_have_count(0)
    _tabs_to(page, "button[name=take_hand]")
    page.keyboard.press("Enter")
    expect(page.locator("#field-duty-volume")).to_have_value("6100 gal/month")
    expect(page.locator("#hand")).to_have_value(wanted or "")
    _tabs_to(page, "a[href*='sheet.pdf']")
    with page.expect_download(timeout=60_000) as caught:
        page.keyboard.press("Enter")
    assert Path(caught.value.path()).read_bytes().startswith(b"%PDF")
