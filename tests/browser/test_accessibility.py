"""Every page in a real browser: axe in both looks, on a phone, size of what one touches, the keyboard alone."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import pytest
from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import Browser, Page, expect

from finished_shop import FinishedShop
from real_browser import DESK, PHONE, TABLET, Watched, watched
from vaporwright.web.app import make_app
from vaporwright.web.settings import Settings
from web_routes import routes_of
from web_server import WebServer, web_server

pytestmark = pytest.mark.slow
# Addresses that lead elsewhere, are parts of a page, or exist only while something is worked out.
NO_PAGES: Final = re.compile(
    r"/live$|/data$|/opening/|/weighing/|/refit/\{|/result/\{|/file$|/files/|/start-file$|/sizing/full$|\.(pdf|svg|zip|txt|toml|js|json)$"
)
ASKED_WITH: Final = {
    "/jobs/{job}/difference": "?old=1&new=2",
    "/jobs/{job}/sizing/why": "?name=summer.evaporation_kg_s",
}
RULES: Final = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
# Told while something is worked out; the page goes on by itself.
WORKING: Final = "progress[aria-label='Done'], progress[aria-label='Full sizing'], progress[aria-label='Two sizings']"
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


def paths_of_pages(folder: Path) -> list[str]:
    """Every address that the application answers with a page."""
    app = make_app(Settings(str(folder / "routes.db"), folder))
    found = {path for method, path in routes_of(app) if method == "GET" and not path.startswith("/api/")}
    app.state.shop.close()
    return sorted(path for path in found if not NO_PAGES.search(path))


def address_of(path: str, shop: FinishedShop) -> str:
    """The path with something of the shop for each name in braces. A new name wants an entry here."""
    values = {
        "job": shop.job,
        "run": shop.half,
        "step": shop.step,
        "token": shop.link,
        "account": shop.account,
        "identifier": shop.diagnosis,
    }
    return re.sub(r"{(\w+)(?::\w+)?}", lambda found: values[found[1]], path) + ASKED_WITH.get(path, "")


@pytest.fixture(scope="module")
def pages(finished: FinishedShop, tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    found = [address_of(path, finished) for path in paths_of_pages(tmp_path_factory.mktemp("routes"))]
    ends = ("", "/performance", "/punch", "/sign", "/instruments")
    found += [f"/jobs/{finished.job}/acceptance/{finished.run}{end}" for end in ends]
    return [*found, "/jobs?search=nothing+of+this+name", "/nowhere", f"/jobs/{finished.other}"]


@pytest.fixture
def person(browser: Browser, served: WebServer) -> Iterator[Watched]:
    with watched(browser, served.address, bypass_csp=True) as made:
        says_who(made.goes("/who"))
        yield made


def says_who(page: Page) -> None:
    """Give a name, with what is asked on that page."""
    page.locator("main input[name=name]").fill("Pat")
    page.locator("main form button").last.click()
    page.wait_for_load_state()


def is_page(page: Page, path: str) -> bool:
    """Whether an address answers with a page, once all that it loads by itself has come."""
    answer = page.goto(path, wait_until="load")
    assert answer is not None
    if "text/html" not in answer.headers.get("content-type", ""):
        return False
    page.wait_for_load_state("networkidle")
    expect(page.locator(WORKING)).to_have_count(0, timeout=180_000)
    page.wait_for_load_state("networkidle")
    return page.locator("main").count() == 1


def opened_up(page: Page) -> None:
    """Unfold everything."""
    page.evaluate("document.querySelectorAll('details:not(.menu)').forEach((one) => { one.open = true; })")


def violations(page: Page) -> list[str]:
    page.evaluate(AXE_SCRIPT)
    found: dict[str, Any] = page.evaluate("(rules) => axe.run(document, rules)", RULES)
    return [
        f"{one['id']}: {node['html'][:160]} ({'; '.join(why['message'] for why in node['any'][:1])})"
        for one in found["violations"]
        for node in one["nodes"][:3]
    ]


@pytest.mark.parametrize("look", ["light", "dark"])
def test_axe_finds_nothing_on_any_page(person: Watched, pages: list[str], look: str) -> None:
    person.page.emulate_media(color_scheme=look)  # type: ignore[arg-type]
    found, seen = {}, 0
    for path in pages:
        if not is_page(person.page, path):
            continue
        opened_up(person.page)
        seen += 1
        if wrong := violations(person.page):
            found[path] = wrong
    assert not found, found
    assert seen >= 25


def test_a_theme_that_was_chosen_holds_against_the_system(person: Watched) -> None:
    page = person.page
    page.emulate_media(color_scheme="light")
    page.goto("/jobs")
    ground = "getComputedStyle(document.documentElement).backgroundColor"
    light = page.evaluate(ground)
    page.locator("details.menu summary").click()
    page.locator("button[name=theme][value=dark]").click()
    page.wait_for_load_state()
    assert page.evaluate(ground) != light
    assert violations(page) == []


def test_no_page_scrolls_sideways_on_a_phone(browser: Browser, served: WebServer, pages: list[str]) -> None:
    with watched(browser, served.address, PHONE) as person:
        says_who(person.goes("/who"))
        wide = {}
        for path in pages:
            if is_page(person.page, path):
                opened_up(person.page)
                width = person.page.evaluate("document.documentElement.scrollWidth")
                if width > PHONE[0]:
                    wide[path] = width
        assert wide == {}


@pytest.mark.parametrize("size", [PHONE, TABLET, DESK])
def test_everything_that_one_touches_is_large_enough(
    browser: Browser, served: WebServer, pages: list[str], size: tuple[int, int]
) -> None:
    with watched(browser, served.address, size) as person:
        says_who(person.goes("/who"))
        small, floor = {}, 0
        for path in pages:
            if not is_page(person.page, path):
                continue
            opened_up(person.page)
            on_the_floor = FLOOR in (person.page.locator("body").get_attribute("class") or "").split()
            floor += on_the_floor
            wrong = []
            for one in person.page.evaluate(TARGETS):
                least = SMALLEST_ON_THE_FLOOR_px if on_the_floor and not one["within"] else SMALLEST_px
                if not one["inline"] and min(one["width"], one["height"]) < least - 0.5:
                    wrong.append(f"{one['tag']} {one['words']!r} {one['width']:.0f} x {one['height']:.0f}")
            if wrong:
                small[path] = wrong
        assert small == {}
        assert floor >= 1


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
