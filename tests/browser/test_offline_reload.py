"""Pages of a test loaded again without a line, with --tls: kept by the worker, never stale, gone with who signs out.

A service worker is only let in where the certificate is trusted: chromium is started so that it trusts any.
"""

from __future__ import annotations

import shutil
import time
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

import vaporwright
from floor_tablet import STEP, Floor, comes_true, floor_served, reads, says_who
from real_browser import TABLET, real_browser, watched
from vaporwright.actions.people import add_person
from web_client import PASSWORD

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with real_browser("--ignore-certificate-errors") as made:
        yield made


@pytest.fixture
def floor(tmp_path: Path, browser: Browser) -> Iterator[Floor]:
    assert browser.is_connected()
    with floor_served(tmp_path, "--tls") as made:
        yield made


def opens(page: Page, path: str) -> None:
    """A step opened once, and kept."""
    page.goto(path)
    expect(page.locator("#offline-words")).to_contain_text("can be loaded again without a line", timeout=20_000)


def test_a_step_opened_once_opens_again_without_a_line_and_its_reading_is_sent_once(
    browser: Browser, floor: Floor
) -> None:
    with watched(browser, floor.server.address, TABLET) as tim:
        says_who(tim.page, "Tim")
        page = tim.page
        opens(page, floor.step())
        floor.server.stop()
        page.reload()
        expect(page.locator("h1")).to_have_text("Pipe")
        assert (
            page.evaluate("getComputedStyle(document.querySelector('button.wide')).minHeight") == "72px"
        )  # its styles
        read_at = time.time()
        reads(page, "near_m", "1.01")
        expect(page.locator("#kept")).to_contain_text("not yet sent (1)")
        page.reload()  # and once more, with something waiting
        expect(page.locator("#kept")).to_contain_text("not yet sent (1)")
        expect(page.locator("#line")).to_be_visible(timeout=10_000)
        floor.server.start()
        expect(page.locator("#part-near_m .verdict")).to_contain_text("accepted", timeout=30_000)
        expect(page.locator("#kept")).to_be_hidden()
        assert floor.entered("near_m") == ["1.01 ft"]
        mark = floor.state().history[(STEP, "near_m")][0].mark
        happened = datetime.fromisoformat(mark.happened_at).timestamp()  # by the tablet's clock: two pages have gone by
        assert happened == pytest.approx(read_at, abs=2.5)


def test_what_was_entered_on_a_kept_page_is_on_it_when_it_opens_again(browser: Browser, floor: Floor) -> None:
    with watched(browser, floor.server.address, TABLET) as tim:
        says_who(tim.page, "Tim")
        page = tim.page
        opens(page, floor.step())
        reads(page, "near_m", "1.01")
        expect(page.locator("#part-near_m .verdict")).to_contain_text("accepted")
        comes_true(page, "async (path) => (await (await caches.match(path)).text()).includes('1.01 ft')", floor.step())
        floor.server.stop()
        page.reload()
        expect(page.locator("#part-near_m .taken")).to_contain_text("1.01 ft")
        page.goto(floor.step("tank.leak"))
        expect(page.locator("h1")).to_have_text("No line to the server")
        page.get_by_role("link", name="Pipe").click()
        expect(page.locator("h1")).to_have_text("Pipe")
        _but_for(tim.wrong, "503")  # the page that the worker makes itself


def _but_for(wrong: list[str], expected: str) -> None:
    wrong[:] = [one for one in wrong if not one.startswith(expected)]


def test_nothing_of_a_person_is_shown_from_what_was_kept_after_they_signed_out(browser: Browser, floor: Floor) -> None:
    for name in ("Tim", "Kim"):
        add_person(floor.server.store, name, "engineer", PASSWORD, clock=time.time)
    with watched(browser, floor.server.address, TABLET) as tablet:
        page = tablet.page
        _signs_in(page, "Tim")
        opens(page, floor.step())
        assert _kept(page)
        page.locator("details.menu summary").click()
        page.get_by_role("button", name="Sign out").click()
        expect(page).to_have_url(f"{floor.server.address}/sign-in")
        assert _kept(page) == []
        floor.server.stop()
        page.goto(floor.step())
        expect(page.locator("h1")).to_have_text("No line to the server")
        assert "Tim" not in page.content()
        assert "Pipe" not in page.content()
        floor.server.start()
        _signs_in(page, "Kim")
        opens(page, floor.step())
        assert "Tim" not in page.content()
        _but_for(tablet.wrong, "503")


def _signs_in(page: Page, name: str) -> None:
    page.goto("/sign-in")
    page.get_by_label("Name").fill(name)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    expect(page.locator("details.menu summary")).to_contain_text(name)


def _kept(page: Page) -> list[str]:
    """Addresses of pages that the worker has kept."""
    found: list[str] = page.evaluate(
        """async () => {
          const all = [];
          for (const name of await caches.keys()) {
            for (const one of await (await caches.open(name)).keys()) { all.push(new URL(one.url).pathname); }
          }
          return all.filter((path) => path.startsWith("/jobs/"));
        }"""
    )
    return found


def test_a_new_version_of_the_files_takes_the_place_of_what_was_kept(tmp_path: Path, browser: Browser) -> None:
    package = Path(vaporwright.__file__).parent  # a copy in the server's folder is the one that runs
    shutil.copytree(package, tmp_path / "vaporwright", ignore=shutil.ignore_patterns("__pycache__"))
    style = tmp_path / "vaporwright" / "web" / "static" / "style.css"
    with floor_served(tmp_path, "--tls") as floor, watched(browser, floor.server.address, TABLET) as tim:
        says_who(tim.page, "Tim")
        page = tim.page
        opens(page, floor.step())
        (old,) = page.evaluate("caches.keys()")
        floor.server.stop()
        style.write_text(style.read_text(encoding="utf-8") + "\nbody { --invented: new; }\n", encoding="utf-8")
        page.reload()  # without a line it is the old one, whole
        expect(page.locator("h1")).to_have_text("Pipe")
        assert page.evaluate(_INVENTED) == ""
        floor.server.start()
        page.reload()
        assert page.evaluate(_INVENTED) == "new"
        comes_true(
            page,
            """async ([old, path]) => {
              const names = await caches.keys();
              return names.length === 1 && names[0] !== old && Boolean(await caches.match(path));
            }""",
            [old, floor.step()],
        )
        floor.server.stop()
        page.reload()
        expect(page.locator("h1")).to_have_text("Pipe")
        assert page.evaluate(_INVENTED) == "new"


_INVENTED = "getComputedStyle(document.body).getPropertyValue('--invented')"
