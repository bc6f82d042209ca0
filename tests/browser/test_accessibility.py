"""Every page in a real browser: axe in both looks, on phone and desk, size of what one touches, the keyboard alone.

The pages come from the application's routes, see `pages_of_shop`. To them come the states of pages for which there is
no address beforehand: work under way and done, a unit that runs, a trainer task, steps of each kind, refusals.
Each is loaded once and looked at in every way; the tests tell apart what was found.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import httpx
import pytest
from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import Browser, Page, Route, expect

from finished_shop import PASSWORD, READINGS, FinishedShop
from pages_of_shop import address_of, routes_to_look_at
from real_browser import DESK, PHONE, TABLET, Watched, watched
from vaporwright.acceptance.steps.procedure import TEXT, YES_OR_NO, Step
from vaporwright.store.commit import load_state
from vaporwright.store.sql_store import open_store
from web_server import WebServer, web_server

pytestmark = pytest.mark.slow
RULES: Final = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
COLOURS: Final = {"runOnly": {"type": "rule", "values": ["color-contrast"]}}  # all that hangs on the look alone
# Each page: light and dark, on a phone and at a desk; what hangs on the look alone again in the other two.
VIEWS: Final = ((DESK, "light", RULES), (DESK, "dark", COLOURS), (PHONE, "light", COLOURS), (PHONE, "dark", RULES))
SIZES: Final = (PHONE, TABLET, DESK)
# Told while something is worked out; the page goes on by itself.
WORKING: Final = ":is(.working, #controls-progress) progress"
LOADING: Final = ".htmx-request, [data-trend]:empty"  # parts that a page asks for by itself
PROOF: Final = "/jobs/{job}/controls/proof"
PATIENCE_ms: Final = 300_000
FLOOR: Final = "floor"  # class of the body of a page that is used beside the tank
SMALLEST_px: Final = 24
SMALLEST_ON_THE_FLOOR_px: Final = 56

# What one can touch, with its size; links within a line of text are exempt (WCAG 2.5.8), and so is what is hidden.
TARGETS: Final = """
() => {
  const found = [];
  for (const one of document.querySelectorAll("a[href], button, summary, select, textarea, input, [role=button]")) {
    if (one.type === "hidden" || one.disabled || one.matches(".skip")) continue;
    if (!one.checkVisibility({ visibilityProperty: true })) continue;
    const style = getComputedStyle(one);
    const inline = one.matches("a") && style.display === "inline";
    const box = (one.matches("input[type=checkbox], input[type=radio]") && one.closest("label")) || one;
    const size = box.getBoundingClientRect();
    if (size.width === 0 || size.height === 0) continue;
    found.push({ words: (one.textContent || one.name || one.id).trim().slice(0, 40), tag: one.tagName, inline: inline,
                 within: !!one.closest("header, footer, nav"), width: size.width, height: size.height });
  }
  return found;
}
"""


@dataclass
class Looked:
    """What was found wrong on each page, by what it is called here."""

    axe: dict[str, list[str]] = field(default_factory=dict)
    wide: dict[str, int] = field(default_factory=dict)
    small: dict[str, list[str]] = field(default_factory=dict)
    seen: list[str] = field(default_factory=list)
    floor: int = 0

    def at(self, page: Page, name: str) -> None:
        """Look at the page as it stands, in every way."""
        assert page.locator("main").count() == 1, f"{name} is no page: {page.url}"
        page.evaluate("document.querySelectorAll('details:not(.menu)').forEach((one) => { one.open = true; })")
        page.evaluate(AXE_SCRIPT)
        for size, look, rules in VIEWS:
            _seen_as(page, size, look)
            if wrong := violations(page, rules):
                self.axe[f"{name}, {look}, {size[0]} px"] = wrong
        if page.evaluate("matchMedia('print').matches"):
            self.seen.append(name)
            return  # on paper nothing is touched, and its width is its own
        on_the_floor = FLOOR in (page.locator("body").get_attribute("class") or "").split()
        for size in SIZES:
            _seen_as(page, size, "light")
            width = page.evaluate("document.documentElement.scrollWidth")
            if size == PHONE and width > PHONE[0]:
                self.wide[name] = width
            if wrong := too_small(page, on_the_floor):
                self.small[f"{name}, {size[0]} px"] = wrong
        self.floor += on_the_floor
        self.seen.append(name)


def _seen_as(page: Page, size: tuple[int, int], look: str) -> None:
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.emulate_media(color_scheme=look)  # type: ignore[arg-type]


def violations(page: Page, rules: dict[str, Any]) -> list[str]:
    found: dict[str, Any] = page.evaluate("(rules) => axe.run(document, rules)", rules)
    return [
        f"{one['id']}: {node['html'][:160]} ({'; '.join(why['message'] for why in node['any'][:1])})"
        for one in found["violations"]
        for node in one["nodes"][:3]
    ]


def too_small(page: Page, on_the_floor: bool) -> list[str]:
    wrong = []
    for one in page.evaluate(TARGETS):
        least = SMALLEST_ON_THE_FLOOR_px if on_the_floor and not one["within"] else SMALLEST_px
        if not one["inline"] and min(one["width"], one["height"]) < least - 0.5:
            wrong.append(f"{one['tag']} {one['words']!r} {one['width']:.0f} x {one['height']:.0f}")
    return wrong


class Visit:
    """A person's browser on its way through the pages."""

    def __init__(self, person: Watched, shop: FinishedShop, looked: Looked) -> None:
        self.page, self.shop, self.looked = person.page, shop, looked
        self.run = f"/jobs/{shop.job}/acceptance"

    def looks(self, name: str, path: str, status: int = 200) -> None:
        """Go to a page, wait for what it loads by itself, and look at it."""
        answer = self.page.goto(path, wait_until="load")
        assert answer is not None
        assert answer.status == status, f"{name}: {answer.status}"
        expect(self.page.locator(WORKING)).to_have_count(0, timeout=PATIENCE_ms)
        expect(self.page.locator(LOADING)).to_have_count(0, timeout=PATIENCE_ms)
        self.looked.at(self.page, name)

    def sends(self, form: str, **fields: str) -> None:
        """Fill in a form past its own checks, and send it."""
        sent = """([form, fields]) => {
          const one = document.querySelector(form);
          for (const [name, text] of Object.entries(fields)) { one.elements[name].value = text; }
          one.noValidate = true; HTMLFormElement.prototype.submit.call(one);
        }"""
        with self.page.expect_navigation(wait_until="load", timeout=PATIENCE_ms):
            self.page.evaluate(sent, [form, fields])

    @contextmanager
    def standing_still(self) -> Iterator[None]:
        """A page that waits for a task goes on waiting, so that it can be looked at."""
        parts = re.compile(r"/(live|full|proof|controls|settings|train|run)(\?.*)?$")

        def answers(route: Route) -> None:
            if route.request.headers.get("hx-request") == "true":
                route.fulfill(status=204)
            else:
                route.fallback()

        self.page.route(parts, answers)
        try:
            yield
        finally:
            self.page.unroute(parts, answers)

    def looks_at_proof_under_way(self) -> None:
        """It takes its time: begun here, it is done when everything else has been looked at."""
        with self.standing_still():
            self.page.goto(address_of(PROOF, self.shop), wait_until="load")
            assert self.page.get_by_role("progressbar").count() == 1
            self.looked.at(self.page, f"{PROOF}, under way")

    def looks_at_task(self, name: str, send: Callable[[], None]) -> None:
        """What a form begins: while it is under way, and when it is done."""
        with self.standing_still():
            send()
            assert self.page.get_by_role("progressbar").count() >= 1, f"{name} was over before it was looked at"
            self.looked.at(self.page, f"{name}, under way")
            address = self.page.url
            self.page.goto("about:blank")  # so that it does not go on by itself meanwhile
        self.page.goto(address, wait_until="load")
        expect(self.page.locator("#part-progress")).to_have_count(0, timeout=PATIENCE_ms)
        self.page.wait_for_load_state("load")
        self.looked.at(self.page, f"{name}, done")


@pytest.fixture(scope="module")
def looked(
    browser: Browser, finished: FinishedShop, served: WebServer, tmp_path_factory: pytest.TempPathFactory
) -> Looked:
    """Everything that is to be looked at, looked at once."""
    found, pages = Looked(), routes_to_look_at(tmp_path_factory.mktemp("routes"))[0]
    with watched(browser, served.address, bypass_csp=True) as person:
        says_who(person.goes("/who"))
        visit = Visit(person, finished, found)
        visit.looks_at_proof_under_way()
        for route in pages:
            if route != PROOF:
                visit.looks(route, address_of(route, finished), status=403 if route == "/password" else 200)
        for end in ("", "/performance", "/punch", "/sign", "/instruments", "/witness"):
            visit.looks(f"the finished run{end}", f"{visit.run}/{finished.run}{end}")
        visit.looks("a job at which nothing was done", f"/jobs/{finished.other}")
        for name, key in one_step_of_each_kind(finished):
            visit.looks(f"a step {name}", f"{visit.run}/{finished.half}/steps/{key}")
        _refusals(visit)
        _tasks(visit)
        _simulated(visit)
        _as_printed(visit)
        visit.looks(PROOF, address_of(PROOF, finished))
    for name in ("Ada", "Wilma", "Vic"):
        with watched(browser, served.address, bypass_csp=True) as person:
            _with_account(Visit(person, finished, found), name)
    return found


def one_step_of_each_kind(shop: FinishedShop) -> list[tuple[str, str]]:
    """A step of the test under way for each kind of field, point and state; what it has, and its key."""
    with closing(open_store(shop.store)) as store:
        state = load_state(store, shop.half)
    found: dict[str, str] = {}
    outstanding = {one.key for one in state.outstanding}
    for step in state.steps:
        for kind in _kinds(step):
            found.setdefault(f"{kind}, {'open' if step.key in outstanding else 'done'}", step.key)
    kinds = {name.partition(",")[0] for name in found}
    assert {"number", "number with an instrument", "yes or no", "text", "hold point", "witness point"} <= kinds, kinds
    return list(found.items())


def _kinds(step: Step) -> Iterator[str]:
    for one in step.fields:
        if one.quantity in (TEXT, YES_OR_NO):
            yield one.quantity
        else:
            yield "number with an instrument" if one.instrument else "number"
    if not any(one.needed for one in step.fields):
        yield "nothing needed"
    if step.point:
        yield f"{step.point} point"


def _refusals(visit: Visit) -> None:
    """What is not there, what may not be, what does not fit."""
    visit.looks("no such page", "/nowhere", 404)
    visit.looks("no such job", "/jobs/none", 404)
    visit.looks("no such link", "/witness/none", 404)
    visit.looks("no job fits", "/jobs?search=nothing+of+this+name")
    visit.looks("no such task", f"/jobs/{visit.shop.job}/service/weighing/none", 422)
    visit.page.goto("/jobs/new")
    visit.sends("form[action='/jobs/new']", name="x", volume="26 furlong")
    visit.looked.at(visit.page, "a job that does not fit")
    visit.page.goto(f"{visit.run}/{visit.shop.half}/sign")
    visit.sends("form:has([name=what][value=sign])", name="Pat", proof="1")
    visit.looked.at(visit.page, "a signature refused")
    visit.page.goto(f"{visit.run}/{visit.shop.half}/witness")
    visit.sends("form:has([name=ends])", label="Wim", ends="2000-01-01")
    visit.looked.at(visit.page, "a link refused")
    visit.page.goto(f"{visit.run}/{visit.shop.half}/witness")
    visit.page.locator("[name=label]").fill("Wim")
    visit.page.get_by_role("button", name="Make a link").click()
    address = visit.page.locator("code.address").inner_text()
    visit.looked.at(visit.page, "a link, shown once")
    visit.page.goto(f"{visit.run}/{visit.shop.half}/witness")
    visit.page.get_by_role("button", name="Withdraw it the link for Wim").click()
    expect(visit.page.get_by_text("no longer works")).to_be_visible()
    visit.looks("a link withdrawn", address, 410)


def _tasks(visit: Visit) -> None:
    """Opening a run, weighing causes, refining a tower's law, working out the performance run."""
    service = f"/jobs/{visit.shop.job}/service"

    def weighs() -> None:
        visit.page.goto(f"{service}/diagnosis")
        file = {"name": "readings.csv", "mimeType": "text/csv", "buffer": READINGS.encode()}
        visit.page.locator("[name=readings]").set_input_files(file)  # type: ignore[arg-type]
        visit.sends("form:has([name=readings])")

    def refines() -> None:
        visit.page.goto(f"{service}/refit")
        visit.page.locator("[name=runs]").first.check()
        visit.sends("form:has([name=tower])")

    def opens() -> None:
        visit.page.goto(f"{visit.run}/new")
        day = {"air_temperature_K": "75", "wet_bulb_K": "60", "pressure_Pa": "29.1 inHg", "elevation_m": "700"}
        day |= {"water_temperature_K": "58", "supply_voltage_V": "480"}
        for name, text in day.items():
            visit.page.locator(f"[name='day.{name}']").fill(text)
        visit.sends("form:has([name='day.wet_bulb_K'])", variant="cold")

    visit.looks_at_task("weighing", weighs)
    visit.looks_at_task("refining", refines)
    visit.looks_at_task("opening a run", opens)


def _simulated(visit: Visit) -> None:
    """A unit that runs, the trainer's task at its beginning, with a hint, and given up."""
    controls = f"/jobs/{visit.shop.job}/controls"
    with visit.standing_still():
        visit.page.goto(f"/jobs/{visit.shop.other}/controls", wait_until="load")
        assert visit.page.get_by_role("progressbar").count() == 1
        visit.looked.at(visit.page, "controls, under way")
    for name, page, form in (
        ("a running unit", f"{controls}/run", "form[action$='/run/begin']"),
        ("a trainer's task", f"{controls}/train", "form[action*='/train/'][action$='/begin']"),
        ("a task with a hint", f"{controls}/run", "form[action$='/train/hint']"),
        ("a task given up", f"{controls}/run", "form[action$='/train/give-up']"),
    ):
        visit.page.goto(page, wait_until="load")  # it hears of the unit as it goes: the network is never idle
        visit.sends(form)
        visit.page.locator("#unit").wait_for()
        visit.looked.at(visit.page, name)


def _as_printed(visit: Visit) -> None:
    """On paper: the same words, on white."""
    visit.page.emulate_media(media="print")
    for end in ("", "/sizing", "/controls", f"/acceptance/{visit.shop.run}/sign", "/service"):
        visit.looks(f"printed {end or 'job'}", f"/jobs/{visit.shop.job}{end}")
    visit.page.emulate_media(media="screen")


def _with_account(visit: Visit, name: str) -> None:
    """What asks for a password again, what a guest and who only looks are shown."""
    visit.page.goto("/sign-in")
    visit.sends("form:has([name=password])", name=name, password="not this one")
    visit.looked.at(visit.page, f"{name} mistyped")
    visit.page.locator("main [name=password]").fill(PASSWORD)
    visit.page.locator("main form button").last.click()
    visit.page.wait_for_url("**/jobs")
    paths = [
        "/jobs",
        f"/jobs/{visit.shop.job}",
        f"{visit.run}/{visit.shop.half}",
        f"{visit.run}/{visit.shop.half}/sign",
    ]
    paths += ["/password", "/who", f"{visit.run}/{visit.shop.half}/steps/{visit.shop.step}"]
    if name == "Ada":
        paths += ["/people", f"/people/{visit.shop.account}", "/audit"]
    for path in paths:
        visit.looks(f"{path} as {name}", path)
    if name != "Ada":
        visit.looks(f"/people as {name}", "/people", 403)


def says_who(page: Page) -> None:
    """Give a name, with what is asked on that page."""
    page.locator("main input[name=name]").fill("Pat")
    page.locator("main form button").last.click()
    page.wait_for_load_state()


def test_axe_finds_nothing_on_any_page(looked: Looked) -> None:
    assert looked.axe == {}
    assert len(looked.seen) >= 85, looked.seen


def test_no_page_scrolls_sideways_on_a_phone(looked: Looked) -> None:
    assert looked.wide == {}


def test_everything_that_one_touches_is_large_enough(looked: Looked) -> None:
    assert looked.small == {}
    assert looked.floor >= 10


def test_what_is_said_to_be_no_page_is_none(finished: FinishedShop, served: WebServer, tmp_path: Path) -> None:
    """An address that is left out above answers with a file, a part of a page, or an error: never with a page."""
    others = routes_to_look_at(tmp_path)[1]
    assert len(others) >= 15
    for route in others:
        with httpx.stream("GET", served.address + address_of(route, finished), timeout=120.0) as answer:
            if "text/html" in answer.headers.get("content-type", "") and answer.status_code == 200:
                answer.read()
                assert "<main" not in answer.text, route


def test_a_theme_that_was_chosen_holds_against_the_system(browser: Browser, served: WebServer) -> None:
    with watched(browser, served.address, bypass_csp=True) as person:
        page = person.goes("/jobs")
        page.emulate_media(color_scheme="light")
        ground = "getComputedStyle(document.documentElement).backgroundColor"
        light = page.evaluate(ground)
        page.locator("details.menu summary").click()
        page.locator("button[name=theme][value=dark]").click()
        page.wait_for_load_state()
        assert page.evaluate(ground) != light
        page.evaluate(AXE_SCRIPT)
        assert violations(page, RULES) == []


def test_the_main_way_goes_by_the_keyboard_alone(browser: Browser, tmp_path: Path) -> None:
    """From the list to a new job, its sizing, and the start of its simulated control; where the focus is, one sees."""
    with web_server(tmp_path) as server, watched(browser, server.address) as person:
        page = person.goes("/jobs")
        _tabs_to(page, "link", "Begin a job")
        page.keyboard.press("Enter")
        page.wait_for_url("**/jobs/new")
        for label, text in (("Name of the job", "By keyboard"), ("To be got rid of", "26 gal/h"), ("Your name", "Pat")):
            _tabs_to(page, "textbox", label)
            page.keyboard.type(text)
        page.keyboard.press("Enter")
        page.wait_for_url(re.compile(r"/jobs/[0-9a-f]{16}$"))
        _tabs_to(page, "link", "sizing")
        page.keyboard.press("Enter")
        page.wait_for_url("**/sizing")
        page.locator("#hand:not([value=''])").wait_for(state="attached", timeout=60_000)
        _tabs_to(page, "textbox", "Volume")
        page.keyboard.press("Control+A")
        page.keyboard.type("30 gal/h")
        page.keyboard.press("Alt+Shift+Digit3")  # the job's way has keys of its own
        page.wait_for_url("**/controls")
        page.get_by_role("link", name="Run the simulated unit").wait_for(timeout=60_000)
        _tabs_to(page, "link", "Run the simulated unit")
        page.keyboard.press("Enter")
        page.wait_for_url("**/controls/run")
        _tabs_to(page, "button", "Switch it on")
        page.keyboard.press("Enter")
        page.locator("button[data-push=start]").wait_for()
        _tabs_to(page, "button", "start")
        page.keyboard.press("Enter")
        page.wait_for_load_state()
        assert page.locator("#emergency-stop").is_visible()
        page.keyboard.press("Alt+Shift+KeyJ")
        page.wait_for_url("**/jobs")


FOCUS: Final = """
() => {
  const one = document.activeElement;
  if (!one || one === document.body) return null;
  const style = getComputedStyle(one), box = one.getBoundingClientRect();
  const label = one.labels && one.labels.length ? one.labels[0].textContent : "";
  return {
    tag: one.tagName.toLowerCase(), words: (label || one.getAttribute("aria-label") || one.textContent || "").trim(),
    outlined: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2,
    inside: box.bottom > 0 && box.top < window.innerHeight && box.right > 0 && box.left < window.innerWidth,
    region: one.matches("main, [role=region], pre, iframe, object"),
  };
}
"""
TAGS: Final = {"link": ("a",), "button": ("button",), "textbox": ("input", "textarea")}
MOST_TABS: Final = 250


def _tabs_to(page: Page, role: str, words: str) -> None:
    """Press Tab until there; every place on the way shows that it has the focus, and lies within the window."""
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        found = page.evaluate(FOCUS)
        if found is None:
            continue
        assert found["outlined"] or found["region"], f"no sign of the focus on {found}"
        assert found["inside"], f"the focus is out of sight on {found}"
        if found["tag"] in TAGS[role] and words.casefold() in found["words"].casefold():
            return
    raise AssertionError(f"{role} {words!r} is not reached by {MOST_TABS} tabs on {page.url}")
