"""The running unit in a real browser: told as it goes, by the keyboard alone, without a script, with many who look."""

from __future__ import annotations

import re
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest
from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import Browser, Locator, Page, expect

from real_browser import TABLET, Watched, watched
from web_server import WebServer, web_server

pytestmark = pytest.mark.slow
RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
FOCUS = """
() => {
  const one = document.activeElement, style = getComputedStyle(one), box = one.getBoundingClientRect();
  const label = one.labels && one.labels.length ? one.labels[0].textContent : "";
  return { tag: one.tagName.toLowerCase(), words: (label || one.textContent).replace(/\\s+/g, " ").trim(),
           seen: one === document.body || one.matches("main, [role=region]") ||
             (style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2 && box.bottom > 0 &&
              box.top < window.innerHeight) };
}
"""


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[WebServer]:
    with web_server(tmp_path_factory.mktemp("running"), "--demo") as made:
        yield made
        assert made.said == ""


@pytest.fixture
def person(browser: Browser, demo: WebServer) -> Iterator[Watched]:
    with watched(browser, demo.address, TABLET, bypass_csp=True) as made:  # for axe's own script
        yield made


def _controls(page: Page) -> str:
    """The address of the gas job's control, prepared."""
    page.goto("/jobs")
    page.get_by_role("link", name=re.compile("Tumbling")).click()
    base = f"{page.url}/controls"
    page.goto(base)
    page.locator("#matrix").wait_for(timeout=120_000)
    return base


def _switch_on(page: Page, base: str) -> None:
    page.goto(f"{base}/run")
    page.get_by_role("button", name="Switch it on").click()
    expect(page.locator("#clock")).not_to_have_text("0:00:00")


def test_a_whole_task_by_the_keyboard_alone(person: Watched) -> None:
    """Find out why it stopped: name, begin, look, name the cause, belt off and on by hand, back to heating, result."""
    page = person.page
    base = _controls(page)
    page.goto(f"{base}/train")
    _to(page, "input", "Your name")
    page.keyboard.type("Pat")
    page.keyboard.press("Enter")
    expect(page.get_by_text("Results are kept under the name Pat")).to_be_visible()
    _to(page, "button", "Begin Find out why it stopped")
    page.keyboard.press("Enter")
    expect(page.locator("#task-clock")).not_to_have_text("0:00:00", timeout=60_000)
    expect(page.locator("#alarms")).to_contain_text("airflow is lost")
    expect(page.locator("#matrix tr.first th")).to_have_text("airflow is lost")
    _to(page, "button", "That is it")
    page.keyboard.press("Shift+Tab")
    page.keyboard.type("the blower's belt")  # a list is chosen from by typing
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.locator("#task-said")).to_contain_text("Right")
    _to(page, "button", "the blower and its belt")
    page.keyboard.press("Enter")
    expect(page.locator("#seen")).to_contain_text("the belt lies in the guard")
    _to(page, "summary", "By hand")
    page.keyboard.press("Enter")
    blower = page.get_by_role("group", name="blower", exact=True)
    _selects(page, blower.get_by_role("button", name="off"))
    _presses(page, page.get_by_role("button", name="fit a new belt to the blower"))
    expect(page.locator("#task-told")).to_contain_text("a new belt fitted")
    _selects(page, blower.get_by_role("button", name="auto"))
    for key in ("A", "R", "S"):
        page.keyboard.down("Alt")
        page.keyboard.down("Shift")
        page.keyboard.down(f"Key{key}")
        page.wait_for_timeout(350)  # held for as long as a hand would
        page.keyboard.up(f"Key{key}")
        page.keyboard.up("Shift")
        page.keyboard.up("Alt")
    expect(page.locator("#w-blower")).to_contain_text("run")
    _presses(page, page.locator('[data-speed="10"]'))
    expect(page.locator("#debrief .verdict")).to_have_text("passed", timeout=90_000)
    _presses(page, page.locator("#debrief").get_by_role("link", name="Results"))
    row = page.locator("table.results tbody tr").first
    expect(row).to_contain_text("Find out why it stopped")
    expect(row).to_contain_text("done")
    expect(row).to_contain_text("4 of 4")


def _to(page: Page, tag: str, words: str) -> None:
    """Press Tab until something of a kind with these words has the focus; on the way one sees where it is."""
    for _ in range(250):
        page.keyboard.press("Tab")
        found = page.evaluate(FOCUS)
        assert found["seen"], f"no sign of the focus on {found}"
        if found["tag"] == tag and words in found["words"]:
            return
    raise AssertionError(f"{tag} {words!r} is not reached")


def _tab_to(page: Page, wanted: Locator) -> None:
    """Press Tab until that very element has the focus."""
    for _ in range(250):
        page.keyboard.press("Tab")
        if wanted.evaluate("one => one === document.activeElement"):
            return
    raise AssertionError(f"{wanted} is not reached")


def _presses(page: Page, wanted: Locator) -> None:
    _tab_to(page, wanted)
    page.keyboard.press("Enter")


def _selects(page: Page, wanted: Locator) -> None:
    _presses(page, wanted)
    expect(wanted).to_have_attribute("aria-pressed", "true")


def test_a_rod_is_lifted_and_put_back_by_the_keyboard(person: Watched) -> None:
    page = person.page
    _switch_on(page, _controls(page))
    lamp = page.locator(".rod-lamp", has_text="low rod")
    expect(lamp).to_contain_text("wet")
    _to(page, "summary", "Rods, thermometer")
    page.keyboard.press("Enter")
    _to(page, "input", "lift the low rod by")
    page.keyboard.type("10 in")
    page.keyboard.press("Enter")
    expect(lamp).to_contain_text("dry")
    expect(page.locator("#altered")).to_contain_text("lift the low rod by 10 in")
    row = page.get_by_role("row", name=re.compile("^low level"))
    expect(row.get_by_role("cell").first).to_have_text(re.compile("true"), timeout=20_000)
    _presses(page, page.get_by_role("button", name="Put right"))
    expect(lamp).to_contain_text("wet")
    expect(page.locator("#altered")).to_contain_text("Everything is in order.")


def test_the_matrix_is_told_in_words_on_a_phone_too(person: Watched) -> None:
    """Rows, columns and cells are a table to those who hear it, and a cell says what it does and whether it acts."""
    page = person.page
    base = _controls(page)
    _switch_on(page, base)
    page.locator("#emergency-stop").click()
    for width in (820, 390):
        page.set_viewport_size({"width": width, "height": 844})
        page.goto(f"{base}/run")
        page.locator("#only-true").uncheck()
        row = page.get_by_role("row", name=re.compile("^emergency stop"))
        expect(row.get_by_role("cell").first).to_contain_text("true")
        expect(row.get_by_role("cell", name=re.compile("ends control relay, acts now"))).to_have_count(1)
        expect(page.get_by_role("columnheader", name=re.compile("^control relay off"))).to_have_count(1)
        expect(page.locator("#matrix-said")).to_contain_text("On: nothing.")
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        page.evaluate(AXE_SCRIPT)
        for look in ("light", "dark"):
            page.emulate_media(color_scheme=look)  # type: ignore[arg-type]
            found = page.evaluate("(rules) => axe.run(document, rules)", RULES)
            assert [(one["id"], one["nodes"][0]["html"]) for one in found["violations"]] == []


def test_without_a_script_the_page_moves_and_its_buttons_work(browser: Browser, demo: WebServer) -> None:
    with watched(browser, demo.address, TABLET, java_script_enabled=False) as person:
        page = person.goes("/jobs")
        page.get_by_role("link", name=re.compile("Tumbling")).click()
        base = f"{page.url}/controls"
        page.goto(f"{base}/run")
        page.get_by_role("button", name="Switch it on").click(timeout=120_000)  # it was prepared meanwhile
        first = page.locator("#clock").inner_text()
        page.wait_for_event("load", timeout=15_000)
        assert page.locator("#clock").inner_text() != first
        page.get_by_role("link", name="Keep it still").click()
        page.wait_for_url("**/run?still=true")
        page.get_by_role("group", name="blower", exact=True).get_by_role("button", name="auto").click()
        chosen = page.get_by_role("group", name="blower", exact=True).get_by_role("button", name="auto")
        page.wait_for_event("load", timeout=15_000)
        expect(chosen).to_have_attribute("aria-pressed", "true")
        page.get_by_role("button", name="reset", exact=True).click()
        page.wait_for_event("load", timeout=15_000)
        expect(page.locator("#matrix-said")).to_contain_text("control relay")


def test_where_the_stream_breaks_the_page_asks_by_itself(browser: Browser, demo: WebServer) -> None:
    with watched(browser, demo.address, TABLET) as person:
        page = person.page
        asked: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        base = _controls(page)
        page.route("**/run/live*", lambda route: route.fulfill(status=404, body="no"))
        _switch_on(page, base)
        clock = page.locator("#clock").inner_text()
        expect(page.locator("#clock")).not_to_have_text(clock)
        assert sum("/run/state" in one for one in asked) >= 2
        page.unroute("**/run/live*")
        page.reload()
        clock = page.locator("#clock").inner_text()
        expect(page.locator("#clock")).not_to_have_text(clock)
        before = sum("/run/state" in one for one in asked)
        page.wait_for_timeout(1500)  # that nothing is asked for shows only by waiting
        assert sum("/run/state" in one for one in asked) == before
        events = page.locator("#events tr").all_inner_texts()
        assert len(events) == len(set(events))


LOOKERS = 20


def test_twenty_streams_slow_no_page_and_leave_nothing_behind(browser: Browser, demo: WebServer) -> None:
    with watched(browser, demo.address, TABLET) as person:
        page = person.page
        base = _controls(page)
        _switch_on(page, base)
        cookies = {one["name"]: one["value"] for one in person.context.cookies()}
        page.goto("/jobs")
        threads, alone_s = _threads(demo.pid), _median_s(demo.address, cookies)
        enough = threading.Barrier(LOOKERS + 1)
        stop = threading.Event()

        def look(_: int) -> int:
            heard = 0
            with httpx.stream("GET", f"{base}/run/live", cookies=cookies, timeout=30.0) as answer:
                for line in answer.iter_lines():
                    if line.startswith("data: "):
                        heard += 1
                        if heard == 3:
                            enough.wait(30.0)
                        if stop.is_set():
                            break
            return heard

        with ThreadPoolExecutor(LOOKERS) as pool:
            told = [pool.submit(look, number) for number in range(LOOKERS)]
            enough.wait(60.0)
            with_streams_s, held = _median_s(demo.address, cookies), _threads(demo.pid)
            stop.set()
            assert min(one.result(30.0) for one in told) >= 3
        print(f"a page takes {1e3 * alone_s:.1f} ms alone, {1e3 * with_streams_s:.1f} ms beside {LOOKERS} streams")
        assert with_streams_s < 2.0 * alone_s + 0.02
        assert held <= threads + 4  # a stream holds none
        until = time.monotonic() + 10.0
        while _open_lines(demo.pid) > 6 and time.monotonic() < until:
            time.sleep(0.1)
        assert _open_lines(demo.pid) <= 6
        assert _threads(demo.pid) <= threads + 4


def test_a_server_that_is_stopped_does_not_wait_for_streams(tmp_path: Path, browser: Browser) -> None:
    with web_server(tmp_path, "--demo") as server, watched(browser, server.address, TABLET) as person:
        _switch_on(person.page, _controls(person.page))
        begun = time.monotonic()
        server.stop()
        assert time.monotonic() - begun < 6.0  # not the ten seconds after which the server cuts its lines
        expect(person.page.locator("#standing")).to_contain_text("cannot be reached", timeout=30_000)
        assert server.said == ""


def _median_s(address: str, cookies: dict[str, str]) -> float:
    """Of a page that reads the store."""
    took = []
    with httpx.Client(base_url=address, cookies=cookies) as client:
        for _ in range(25):
            begun = time.perf_counter()
            assert client.get("/jobs").status_code == 200
            took.append(time.perf_counter() - begun)
    return sorted(took)[len(took) // 2]


def _threads(pid: int) -> int:
    return len(list(Path(f"/proc/{pid}/task").iterdir()))


def _open_lines(pid: int) -> int:
    """Sockets that a process holds."""
    found = 0
    for one in Path(f"/proc/{pid}/fd").iterdir():
        try:
            found += str(one.readlink()).startswith("socket:")
        except FileNotFoundError:
            continue
    return found
