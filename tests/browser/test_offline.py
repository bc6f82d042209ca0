"""A tablet without wireless, in a real browser: photographs, times, refusals, two people, a server that comes back."""

from __future__ import annotations

import hashlib
import json
import re
import struct
import time
import zlib
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from floor_tablet import STEP, Floor, comes_true, floor_served, reads, says_who
from real_browser import PHONE, TABLET, watched

pytestmark = pytest.mark.slow
SHIFTED = """(() => {
  const hour = Date.now.bind(Date), page = performance.now.bind(performance);
  const read = (name) => Number(localStorage.getItem("test." + name) || 0);
  Date.now = () => hour() + read("wrong_ms") + read("passed_ms");
  performance.now = () => page() + read("passed_ms");
})()"""  # a tablet whose clock is wrong, and time that passes as the test wants it


@pytest.fixture
def floor(tmp_path: Path, browser: Browser) -> Iterator[Floor]:
    assert browser.is_connected()
    with floor_served(tmp_path) as made:
        yield made


def picture(shade: int) -> bytes:
    """An invented photograph: 40 by 30 pixels of one shade."""

    def part(name: bytes, content: bytes) -> bytes:
        return struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))

    rows = b"".join(b"\0" + bytes([shade] * 40) for _ in range(30))
    head = struct.pack(">IIBBBBB", 40, 30, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + part(b"IHDR", head) + part(b"IDAT", zlib.compress(rows)) + part(b"IEND", b"")


def chooses(page: Page, content: bytes, name: str = "tank.png", kind: str = "image/png") -> None:
    if not page.locator("#photo").is_visible():
        page.get_by_text("Take a photograph, or add a file").click()
    page.locator("#photo").set_input_files({"name": name, "mimeType": kind, "buffer": content})


def adds(page: Page, content: bytes, name: str = "tank.png", kind: str = "image/png") -> None:
    chooses(page, content, name, kind)
    page.get_by_role("button", name="Put it into the record").click()


def photos(floor: Floor) -> list[str]:
    return [one.attachment.sha256 for one in floor.state().attachments if one.step == STEP]


def seconds(moment: str) -> float:
    return datetime.fromisoformat(moment).timestamp()


def test_a_photograph_waits_is_looked_at_and_is_sent_once(browser: Browser, floor: Floor) -> None:
    with watched(browser, floor.server.address, TABLET) as tim:
        says_who(tim.page, "Tim")
        page = tim.goes(floor.step())
        floor.server.stop()
        reads(page, "near_m", "1.01")
        adds(page, picture(90), "tank.png")
        expect(page.locator("#kept")).to_contain_text("not yet sent (2)")
        page.get_by_text("Look at what waits").click()
        waits = page.locator("#kept li", has_text="tank.png")
        expect(waits).to_contain_text("kB")
        shade = waits.locator("canvas").evaluate("one => one.getContext('2d').getImageData(9, 9, 1, 1).data[0]")
        assert shade == 90
        waits.get_by_role("button", name="Look at tank.png").click()
        expect(page.get_by_role("dialog", name="tank.png").locator("canvas")).to_be_visible()
        page.get_by_role("button", name="Close").click()
        with page.expect_download() as saved:
            waits.get_by_text("Save a copy").click()
        assert Path(saved.value.path()).read_bytes() == picture(90)

        floor.server.start()
        page.reload()  # the tab was closed and opened again
        expect(page.locator("#part-notes img")).to_be_visible(timeout=20_000)
        expect(page.locator("#kept")).to_be_hidden(timeout=20_000)
        assert photos(floor) == [hashlib.sha256(picture(90)).hexdigest()]
        assert floor.entered("near_m") == ["1.01 ft"]
        assert page.evaluate(_FILES_KEPT) == 0


_FILES_KEPT = """() => new Promise((resolve, reject) => {
  const asked = indexedDB.open("vaporwright-floor");
  asked.onerror = () => reject(asked.error);
  asked.onsuccess = () => {
    const counted = asked.result.transaction("files").objectStore("files").count();
    counted.onsuccess = () => resolve(counted.result);
  };
})"""


def test_a_photograph_whose_answer_is_lost_is_there_once(browser: Browser, floor: Floor) -> None:
    with watched(browser, floor.server.address, TABLET) as tim:
        says_who(tim.page, "Tim")
        page = tim.goes(floor.step())
        sent: list[int] = []

        def lose_the_first(route) -> None:  # type: ignore[no-untyped-def]
            answer = route.fetch()  # the server has it
            sent.append(answer.status)
            if len(sent) == 1:
                route.abort()
            else:
                route.fulfill(response=answer)

        page.route("**/api/v1/runs/*/photos", lose_the_first)
        adds(page, picture(40))
        expect(page.locator("#part-notes img")).to_be_visible(timeout=10_000)
        expect(page.locator("#kept")).to_be_hidden(timeout=10_000)
        assert sent == [200, 200]
        assert photos(floor) == [hashlib.sha256(picture(40)).hexdigest()]


def test_what_is_too_large_or_of_another_kind_is_said_before_it_is_kept(browser: Browser, floor: Floor) -> None:
    with watched(browser, floor.server.address, PHONE) as tim:
        says_who(tim.page, "Tim")
        page = tim.goes(floor.step())
        floor.server.stop()
        said = page.locator("#photo-said")
        chooses(page, b"\xff\xd8\xff" + bytes(12_000_000), "large.jpg", "image/jpeg")
        expect(said).to_contain_text("large.jpg has 12.0 MB. Allowed: at most 12.0 MB")
        page.get_by_role("button", name="Put it into the record").click()
        chooses(page, b"words", "notes.txt", "text/plain")
        expect(said).to_contain_text("of another kind (text/plain)")
        page.get_by_role("button", name="Put it into the record").click()
        expect(page.locator("#kept")).to_be_hidden()
        chooses(page, picture(1), "small.png")
        expect(said).to_contain_text("fits")


def test_a_refused_photograph_stays_until_it_is_discarded_twice(browser: Browser, floor: Floor) -> None:
    with watched(browser, floor.server.address, TABLET) as tim:
        says_who(tim.page, "Tim")
        page = tim.goes(floor.step())
        adds(page, b"these are no pixels", "called.png")
        refused = page.locator("#kept li.refused")
        expect(refused).to_contain_text("called.png")
        expect(refused).to_contain_text("is of another kind")
        page.reload()
        expect(refused).to_contain_text("is of another kind")
        with page.expect_download() as saved:
            refused.get_by_text("Save a copy").click()
        assert Path(saved.value.path()).read_bytes() == b"these are no pixels"
        refused.get_by_role("button", name="Discard it").click()
        refused.get_by_role("button", name="Keep it").click()
        expect(refused).to_be_visible()
        refused.get_by_role("button", name="Discard it").click()
        refused.get_by_role("button", name="Discard it for good").click()
        expect(page.locator("#kept")).to_be_hidden()
        assert photos(floor) == []


def test_a_refused_reading_is_put_right_and_keeps_its_time(browser: Browser, floor: Floor) -> None:
    with watched(browser, floor.server.address, TABLET) as tim:
        tim.context.add_init_script(SHIFTED)
        says_who(tim.page, "Tim")
        page = tim.goes(floor.step())
        reads(page, "near_m", "1,234")
        refused = page.locator("#kept li.refused")
        expect(refused).to_contain_text("1234 or 1.234")
        page.evaluate("localStorage.setItem('test.passed_ms', 29 * 60000)")
        refused.get_by_text("Put it right").click()
        refused.get_by_label("What was entered").fill("1.01")
        refused.get_by_role("button", name="Send it so").click()
        expect(page.locator("#part-near_m .verdict")).to_contain_text("accepted")
        expect(page.locator("#kept")).to_be_hidden()
        taken = floor.state().history[(STEP, "near_m")][0]
        assert taken.reading.entered == "1.01 ft"
        assert seconds(taken.mark.at) - seconds(taken.read_at) == pytest.approx(29 * 60, abs=20)


def test_the_record_says_when_it_was_read_though_the_tablets_clock_is_wrong(browser: Browser, floor: Floor) -> None:
    with watched(browser, floor.server.address, TABLET) as tim:
        tim.context.add_init_script(SHIFTED)
        tim.context.add_init_script("localStorage.setItem('test.wrong_ms', -5 * 3600000)")
        says_who(tim.page, "Tim")
        page = tim.goes(floor.step())
        comes_true(page, "Boolean(localStorage.getItem('vaporwright.clock'))")  # the server's time was seen
        floor.server.stop()
        read_at = time.time()
        reads(page, "near_m", "1.01")
        expect(page.locator("#line")).to_be_visible(timeout=10_000)
        page.evaluate("localStorage.setItem('test.wrong_ms', 3 * 3600000)")  # set by somebody meanwhile
        floor.server.start()
        expect(page.locator("#part-near_m .verdict")).to_contain_text("accepted", timeout=20_000)
        entered_at = time.time()
        mark = floor.state().history[(STEP, "near_m")][0].mark
        assert mark.happened_at
        assert seconds(mark.happened_at) == pytest.approx(read_at, abs=2.0)
        assert read_at + 2.0 < seconds(mark.at) <= entered_at


def test_times_of_reading_and_entry_are_shown_where_they_differ(browser: Browser, floor: Floor) -> None:
    with watched(browser, floor.server.address, TABLET) as tim:
        tim.context.add_init_script(SHIFTED)
        says_who(tim.page, "Tim")
        page = tim.goes(floor.step())
        reads(page, "near_m", "1.01")
        expect(page.locator("#part-near_m")).to_contain_text("Tim (engineer)")
        assert "entered" not in page.locator("#part-near_m").inner_text()
        tim.context.set_offline(True)
        reads(page, "middle_m", "1.02")
        expect(page.locator("#kept")).to_contain_text("not yet sent (1)")
        page.evaluate("localStorage.setItem('test.passed_ms', 29 * 60000)")
        tim.context.set_offline(False)
        expect(page.locator("#part-middle_m .verdict")).to_contain_text("accepted", timeout=20_000)
        line = page.locator("#part-middle_m .why", has_text="Tim (engineer)").inner_text()
        times = re.search(r"read (\S+ \d\d:\d\d), entered (?:\S+ )?(\d\d:\d\d)", line)
        assert times is not None, line
        apart_s = datetime.strptime(times[2], "%H:%M") - datetime.strptime(times[1][-5:], "%H:%M")
        assert apart_s.seconds in range(28 * 60, 31 * 60)


def test_what_waited_too_long_goes_in_with_its_time_typed_and_the_reason(browser: Browser, floor: Floor) -> None:
    with watched(browser, floor.server.address, TABLET) as tim:
        tim.context.add_init_script(SHIFTED)
        says_who(tim.page, "Tim")
        page = tim.goes(floor.step())
        tim.context.set_offline(True)
        reads(page, "near_m", "1.01")
        expect(page.locator("#kept")).to_contain_text("not yet sent (1)")
        page.evaluate("localStorage.setItem('test.passed_ms', 25 * 3600000)")
        tim.context.set_offline(False)
        refused = page.locator("#kept li.refused")
        expect(refused).to_contain_text("at most 24 h", timeout=20_000)
        assert floor.entered("near_m") == []
        wall = datetime.now().strftime("%Y-%m-%dT%H:%M")
        refused.get_by_text("Put it right").click()
        refused.get_by_label("Done at").fill(wall)
        refused.get_by_label("Why the time is typed").fill("the tablet's clock ran away")
        refused.get_by_role("button", name="Send it so").click()
        expect(page.locator("#part-near_m")).to_contain_text("late: the tablet's clock ran away")
        mark = floor.state().history[(STEP, "near_m")][0].mark
        assert seconds(mark.happened_at) == seconds(wall)


def test_two_people_one_without_a_line_and_nothing_of_either_is_lost(browser: Browser, floor: Floor) -> None:
    with (
        watched(browser, floor.server.address, TABLET) as tim,
        watched(browser, floor.server.address, TABLET) as kim,
    ):
        says_who(tim.page, "Tim")
        says_who(kim.page, "Kim")
        page, other = tim.goes(floor.step()), kim.goes(floor.step())
        tim.context.set_offline(True)
        reads(page, "near_m", "1.01")
        reads(page, "middle_m", "1.02")
        expect(page.locator("#kept")).to_contain_text("not yet sent (2)")
        reads(other, "near_m", "1.03")
        expect(other.locator("#part-near_m .verdict")).to_contain_text("accepted")
        reads(other, "far_m", "1.04")
        expect(other.locator("#part-far_m .verdict")).to_contain_text("accepted")

        tim.context.set_offline(False)
        expect(page.locator("#part-far_m")).to_contain_text("Kim", timeout=20_000)  # the other's, by itself
        refused = page.locator("#kept li.refused")
        expect(refused).to_contain_text("is read already: 1.03 ft by Kim", timeout=20_000)
        expect(other.locator("#part-middle_m")).to_contain_text("Tim", timeout=10_000)
        refused.get_by_text("Enter mine as a correction").click()
        refused.get_by_label("Why it is corrected").fill("the tape had slipped")
        refused.get_by_role("button", name="Enter the correction").click()
        expect(page.locator("#part-near_m .taken")).to_contain_text("1.01")
        expect(page.locator("#kept")).to_be_hidden()
        history = floor.state().history[(STEP, "near_m")]
        assert [(one.reading.entered, one.mark.who, one.counts) for one in history] == [
            ("1.03 ft", "Kim", False),
            ("1.01 ft", "Tim", True),
        ]
        assert (floor.entered("middle_m"), floor.entered("far_m")) == (["1.02 ft"], ["1.04 ft"])


def test_a_server_that_starts_again_finds_the_page_open_and_the_queue_goes_on(browser: Browser, floor: Floor) -> None:
    with watched(browser, floor.server.address, TABLET) as tim:
        says_who(tim.page, "Tim")
        page = tim.goes(floor.step())
        reads(page, "near_m", "1.01")
        expect(page.locator("#part-near_m .verdict")).to_contain_text("accepted")
        sent: list[str] = []
        page.on("request", lambda asked: sent.append(asked.post_data or "") if "/entries" in asked.url else None)
        floor.server.stop()
        reads(page, "middle_m", "1.02")
        reads(page, "far_m", "1.03")
        expect(page.locator("#kept")).to_contain_text("not yet sent (2)")
        expect(page.locator("#line")).to_contain_text("Do not load this page again", timeout=10_000)
        assert [json.loads(one) for one in sent if "far_m" in one] == []  # in order: it waits behind the one before
        floor.server.start()
        expect(page.locator("#part-far_m .verdict")).to_contain_text("accepted", timeout=30_000)
        expect(page.locator("#kept")).to_be_hidden()
        expect(page.locator("#line")).to_be_hidden(timeout=10_000)
        assert [floor.entered(f"{one}_m") for one in ("near", "middle", "far")] == [
            ["1.01 ft"],
            ["1.02 ft"],
            ["1.03 ft"],
        ]
        order = sorted(
            (seconds(floor.state().history[(STEP, f"{one}_m")][0].mark.at), one) for one in ("near", "middle", "far")
        )
        assert order[0][1] == "near"


def test_without_encryption_the_page_says_what_does_not_work(browser: Browser, floor: Floor) -> None:
    with watched(browser, floor.server.address, TABLET) as tim:
        says_who(tim.page, "Tim")
        page = tim.goes(floor.step())
        words = page.locator("#offline-words")
        expect(words).to_contain_text("not kept, as this address is not encrypted: do not load it again")
        assert page.evaluate("navigator.serviceWorker.getRegistrations().then((all) => all.length)") == 0
