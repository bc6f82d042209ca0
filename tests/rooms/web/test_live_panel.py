"""A panel read live from the pages: who may, what is refused before anything is connected, rows, gaps, values taken."""

from __future__ import annotations

import json
import re
import time
import uuid
from collections.abc import Callable, Iterator
from typing import Any

import httpx
import pytest

from floor_shop import RUN, open_invented
from page_forms import form_in
from panel_stand import Panel, panel, register_instruments
from vaporwright.acceptance.record.state import RunState
from vaporwright.actions.desk import Desk
from vaporwright.actions.live_readings import MOST_READINGS, LiveReadings
from vaporwright.web.panel import panels_of
from web_client import Browser, Site

TANK, MASS = "tank_temperature_K", "make_up_mass_kg"
POUND = 0.45359237
PATIENCE_s = 20.0


def kelvin(fahrenheit: float) -> float:
    return (fahrenheit + 459.67) / 1.8


def until(holds: Callable[[], object]) -> None:
    """Wait for what the thread of a reading does."""
    end_s = time.monotonic() + PATIENCE_s
    while not holds():
        assert time.monotonic() < end_s, "it never came"
        time.sleep(0.02)


class Shown:
    """A job with one run, its instruments, and a panel."""

    def __init__(self, where: Site, stand: Panel) -> None:
        self.site, self.stand = where, stand
        self.records = where.shop.database.records
        self.job = where.shop.book.start("Invented", "Invented Plating", "26 gal/h", by="test").id
        open_invented(self.records, where.shop.book, self.job)
        register_instruments(self.records, RUN)
        self.page = f"/jobs/{self.job}/acceptance/{RUN}/performance"

    @property
    def state(self) -> RunState:
        return Desk(self.records, "x", "engineer").state(RUN)

    @property
    def rows(self) -> int:
        log = self.state.log
        return 0 if log is None else len(log.times_s)

    @property
    def readings(self) -> LiveReadings:
        return panels_of(self.site.app)

    def begins(self, browser: Browser, text: str | bytes = "", **more: str) -> httpx.Response:
        files = {"map": ("map.toml", text or self.stand.map, "application/toml")}
        return browser.post(f"{self.page}/reader", more, files=files)

    def stops(self, browser: Browser) -> httpx.Response:
        return browser.post(f"{self.page}/reader/stop")

    def part(self, browser: Browser) -> str:
        return browser.part("GET", f"{self.page}/reader/live").text

    def has_ended(self) -> bool:
        reading = self.readings.of(RUN)
        return reading is not None and reading.standing().phase == "ended"

    def audit(self) -> list[tuple[str, str, str]]:
        found = self.site.people.audit()
        return [(one.what, one.who, one.subject) for one in reversed(found) if one.what.startswith("panel")]


@pytest.fixture
def stand() -> Iterator[Panel]:
    with panel() as made:
        yield made


@pytest.fixture
def shown(local: Site, stand: Panel) -> Iterator[Shown]:
    made = Shown(local, stand)
    yield made
    made.readings.close()


@pytest.fixture
def pat(shown: Shown) -> Browser:
    browser = shown.site.browser()
    browser.post("/who", {"name": "Pat"})
    return browser


# Beginning


def test_rows_come_from_the_panel_and_stop(shown: Shown, pat: Browser) -> None:
    page = shown.begins(pat)
    assert page.status_code == 200
    until(lambda: shown.rows >= 2)
    part = shown.part(pat)
    assert "begun by Pat (engineer), a row every 1 s" in part
    assert shown.stand.address in part
    assert "143.2 °F" in part
    assert "barometer" in part.split("Not in the map")[1]
    assert "liquor to the spray" not in part.split("Not in the map")[1]
    assert "Stop reading" in part
    shown.stops(pat)
    until(shown.has_ended)
    part, rows = shown.part(pat), shown.rows
    assert "stopped by Pat" in part
    assert f"{rows} rows of it went into the record" in part

    log = shown.state.log
    assert log is not None
    assert set(log.columns) == {TANK, MASS}
    assert log.columns[TANK] == pytest.approx((kelvin(143.2),) * rows, abs=1e-9)
    assert log.columns[MASS] == pytest.approx((123.4 * POUND,) * rows, abs=1e-9)
    last = shown.state.log_parts[-1]
    assert (last.mark.who, last.instruments) == ("Pat", {TANK: "P1", MASS: "S1"})
    until(lambda: len(shown.audit()) == 3)
    assert [name for name, _, _ in shown.audit()] == [
        "panel reading begun",
        "panel reading stopped",
        "panel reading ended",
    ]
    assert {who for _, who, _ in shown.audit()} == {"Pat", "the server"}
    kept = [one.attachment for one in shown.state.attachments]
    assert shown.records.get(kept[-1].sha256).decode() == shown.stand.map
    time.sleep(1.2)  # a reader that went on would have come to another row
    assert shown.rows == rows


@pytest.mark.parametrize(
    ("was", "becomes", "said"),
    [
        ('"lb"', '"degF"', ("line 22", "unit", "&#34;degF&#34; is a temperature")),
        ("address = 4\n", "address = -4\n", ("line 12", "address", "&#34;-4&#34; is too low", "0 to 65535")),
        ("[[modbus]]", "[[modbus", ("line 3", "TOML")),
        ('host = "127.0.0.1"', 'host = "8.8.8.8"', ("line 5", "host", "8.8.8.8", "private address")),
        ('host = "127.0.0.1"', 'host = "127.0.0.1"\nallow_public = true', ("allow_public", "private address")),
        ('poll = "1 s"', 'poll = "0.5 s"', ("poll", "0.5 s", "1 s to 1 h")),
    ],
)
def test_a_map_at_fault_is_told_before_anything_is_connected(
    shown: Shown, pat: Browser, was: str, becomes: str, said: tuple[str, ...]
) -> None:
    page = shown.begins(pat, shown.stand.map.replace(was, becomes, 1))
    assert page.status_code == 422
    for one in said:
        assert one in page.text
    assert shown.readings.of(RUN) is None
    assert shown.stand.connections == 0
    assert shown.audit() == []


@pytest.mark.parametrize(
    "address",
    ["http://127.0.0.1:502", "file:///etc/passwd", "modbus://8.8.8.8:502", "modbus://u:p@127.0.0.1:1", "127.0.0.1:502",
     "opc.tcp://127.0.0.1:4840", "modbus://127.0.0.1:1/x", "<script>alert(1)</script>"],
)  # fmt: skip
def test_only_the_two_protocols_and_no_public_address(shown: Shown, pat: Browser, address: str) -> None:
    page = shown.begins(pat, address=address, every="2 s")
    assert page.status_code == 422
    assert "address of the panel" in page.text
    assert "<script>alert" not in page.text
    form = form_in(page.text, action=f"{shown.page}/reader")
    assert form["every"] == "2 s"  # what was typed is still there
    assert shown.stand.connections == 0


def test_an_address_typed_stands_in_for_the_map_s(shown: Shown, pat: Browser) -> None:
    elsewhere = re.sub(r"port = \d+", "port = 1", shown.stand.map)
    assert shown.begins(pat, elsewhere, address=shown.stand.address, every="1.5 s").status_code == 200
    until(lambda: shown.rows >= 1)
    assert "a row every 2 s" in shown.part(pat) or "a row every 1.5 s" in shown.part(pat)


@pytest.mark.parametrize(
    ("content", "said"),
    [(b"\xff\xfe\x00", "no text in UTF-8"), (b"# x\n" * 150_000, "too large"), (b"a = 1\n", "unknown key")],
)
def test_another_file_is_no_register_map(shown: Shown, pat: Browser, content: bytes, said: str) -> None:
    page = shown.begins(pat, content)
    assert page.status_code == 422
    assert said in page.text


def test_a_channel_whose_instrument_is_not_registered_is_named(shown: Shown, pat: Browser) -> None:
    barometer = (
        '[[modbus.point]]\nchannel = "barometer"\ntable = "holding"\naddress = 20\ntype = "uint16"\nunit = "hPa"\n'
    )
    page = shown.begins(pat, shown.stand.map + barometer)
    assert page.status_code == 422
    assert "0 instruments of kind &#39;barometer&#39;" in page.text


def test_a_second_reader_is_told_who_began_the_first(shown: Shown, pat: Browser) -> None:
    shown.begins(pat)
    kim = shown.site.browser()
    kim.post("/who", {"name": "Kim"})
    page = shown.begins(kim)
    assert page.status_code == 422
    assert "is being read already, begun by Pat (engineer)" in page.text
    assert [what for what, _, _ in shown.audit()] == ["panel reading begun"]
    shown.stops(kim)
    until(shown.has_ended)
    assert "stopped by Kim" in shown.part(pat)
    assert MOST_READINGS >= 2


@pytest.mark.parametrize(("role", "may"), [("technician", True), ("engineer", True), ("viewer", False)])
def test_only_engineer_and_technician_begin_and_stop(shared: Site, stand: Panel, role: str, may: bool) -> None:
    shared.add("Ada", "engineer")
    shown = Shown(shared, stand)
    browser = shared.signed_in("Rae", role)
    answer = shown.begins(browser)
    assert answer.status_code == (200 if may else 403)
    assert (shown.readings.of(RUN) is not None) == may
    assert shown.stops(browser).status_code == (200 if may else 403)
    shown.readings.close()


def test_a_witness_may_look_and_not_begin(shared: Site, stand: Panel) -> None:
    shown = Shown(shared, stand)
    witness = shared.signed_in("Wilma", "witness")
    account = shared.people.account_named("Wilma")
    assert account is not None
    shared.shop.jobs.open_to(shown.job, (account.id,))
    assert shown.begins(witness).status_code == 403
    engineer = shared.signed_in("Ada", "engineer", "192.0.2.8")
    shown.begins(engineer)
    part = shown.part(witness)
    assert "begun by Ada" in part
    assert "Stop reading" not in part
    assert shown.stops(witness).status_code == 403
    shown.readings.close()


# A line that is lost


@pytest.mark.slow
def test_a_lost_line_is_told_and_leaves_a_gap(shown: Shown, pat: Browser) -> None:
    shown.begins(pat)
    until(lambda: shown.rows >= 1)
    shown.stand.stop()
    until(lambda: "No line to panel" in shown.part(pat))
    rows = shown.rows
    until(lambda: "Asked again in" in shown.part(pat))
    part = shown.part(pat)
    assert "panel cannot be reached" in part or "panel does not answer" in part
    assert "143.2" not in part  # nothing from before is shown as if it were read now
    assert "dropped out" in part
    shown.stand.start()
    shown.stand.hold(tank=144.5)
    until(lambda: shown.rows > rows + 1)
    assert "No line to panel" not in shown.part(pat)
    log = shown.state.log
    assert log is not None
    column = log.columns[TANK]
    assert column.count(None) == 1  # one row without a value stands for the gap
    place = column.index(None)
    assert column[:place] == pytest.approx((kelvin(143.2),) * place, abs=1e-9)
    assert column[place + 1 :] == pytest.approx((kelvin(144.5),) * (len(column) - place - 1), abs=1e-9)
    data = pat.get(f"{shown.page}/data").json()
    assert None in data["series"][0]["values"]  # the line of the trend is broken there


def test_rows_that_wait_go_in_when_the_reading_is_stopped(shown: Shown, pat: Browser) -> None:
    shown.begins(pat, shown.stand.map.replace('frozen_after = "never"', 'frozen_after = "10 min"'))
    until(lambda: "143.2 °F" in shown.part(pat))
    part = shown.part(pat)
    assert "each for 10 min, until it is sure that no value stood still" in part
    assert shown.rows == 0
    shown.stops(pat)
    until(shown.has_ended)
    assert shown.rows >= 1


# A record that takes nothing


def test_a_signed_or_void_record_ends_the_reading(shown: Shown, pat: Browser) -> None:
    from vaporwright.acceptance.record.events import WHOLE_TEST, Void

    shown.begins(pat)
    until(lambda: shown.rows >= 1)
    desk = Desk(shown.records, "Ada", "engineer")
    desk.enter(RUN, Void(desk.stamp(), WHOLE_TEST, "invented"))
    until(shown.has_ended)
    assert "the whole test is void" in shown.part(pat)
    assert shown.begins(pat).status_code == 422


# The server ends


def test_after_the_server_it_says_so_and_offers_the_same_map(shown: Shown, pat: Browser) -> None:
    shown.begins(pat)
    until(lambda: shown.rows >= 1)
    shown.readings.close()  # as the server does when it ends
    rows = shown.rows
    assert "the server was stopped at 2027-01-15" in shown.part(pat)  # by the clock of these tests
    shown.site.app.state.panels = None  # and comes back
    part = shown.part(pat)
    assert "It does not begin again by itself" in part
    assert "Read the panel again, by the same map" in part
    assert shown.rows == rows
    answer = pat.post(f"{shown.page}/reader", {"again": "yes"})
    assert answer.status_code == 200
    until(lambda: shown.rows > rows)
    assert sum(one.attachment.name == "register_map.toml" for one in shown.state.attachments) == 1


def test_a_killed_server_is_told_from_what_was_kept(shown: Shown, pat: Browser) -> None:
    shown.begins(pat)
    until(lambda: shown.rows >= 1)
    shown.readings.close()
    file = next((shown.site.settings.data_folder / "panels").glob("*.json"))
    kept = json.loads(file.read_text())
    file.write_text(json.dumps(kept | {"ended_at": None, "why_ended": "", "rows_waiting": 7}))
    shown.site.app.state.panels = None
    part = shown.part(pat)
    assert "it stopped with the server, at about" in part
    assert "about 7 rows" in part
    assert shown.readings.of(RUN) is None


@pytest.mark.parametrize("content", ["", "{", "[]", '{"run": "another"}'])
def test_a_spoilt_note_of_the_last_reading_is_none(shown: Shown, pat: Browser, content: str) -> None:
    shown.begins(pat)
    shown.readings.close()
    file = next((shown.site.settings.data_folder / "panels").glob("*.json"))
    file.write_text(content)
    shown.site.app.state.panels = None
    assert "nothing is ever written to it" in shown.part(pat)


# Beside the fields of a step

CLAMP = "set_points.clamp"


def ready_for_the_clamp(shown: Shown, pat: Browser) -> str:
    """The hold point before the step is passed; the step's page."""
    run = f"/jobs/{shown.job}/acceptance/{RUN}"

    def reads(step: str, field: str, text: str) -> None:
        body: dict[str, Any] = {"event_id": str(uuid.uuid4()), "kind": "reading", "typed_by": "Pat", "units": "US"}
        answer = pat.send(
            "POST", f"/api/v1/runs/{RUN}/entries", json=body | {"step": step, "field": field, "text": text}
        )
        assert answer.status_code == 200, answer.text

    reads("tank.leak", "drops", "no")
    pat.post(f"{run}/steps/tank.leak/point", {"event_id": str(uuid.uuid4())})
    return f"{run}/steps/{CLAMP}"


def test_a_value_goes_into_a_step_only_when_somebody_takes_it(shown: Shown, pat: Browser) -> None:
    step = ready_for_the_clamp(shown, pat)
    assert "Panel reads" not in pat.get(step).text
    shown.begins(pat)
    until(lambda: shown.rows >= 1)
    page = pat.get(step).text
    assert re.search(r"Panel reads 150\.0 °F, \d+(\.\d)? s ago", page)
    live = pat.part("GET", f"{step}/panel/live").text
    assert "Panel reads 150.0 °F" in live
    assert shown.state.current(CLAMP, "clamp_K") is None  # not by itself

    form = form_in(page, id="take-clamp_K")
    row = re.search(r'name="row" value="(\d+)" form="take-clamp_K"', page)
    assert row is not None
    shown.stand.hold(clamp=190.0)  # what was shown is entered, whatever it reads meanwhile
    reading = shown.readings.of(RUN)
    assert reading is not None
    until(lambda: reading.standing().row.values[f"{CLAMP}/clamp_K"].seen == "190 degF")  # type: ignore[union-attr]
    answer = pat.post(f"{step}/panel", form | {"row": row[1], "instrument": "T1"})
    assert answer.status_code == 200
    taken = shown.state.current(CLAMP, "clamp_K")
    assert taken is not None
    assert (taken.reading.entered, taken.reading.way, taken.reading.instrument) == ("150 degF", "live", "T1")
    assert taken.reading.value == pytest.approx(kelvin(150.0), abs=1e-9)
    assert (taken.mark.who, taken.outcome) == ("Pat", "accepted")
    pat.post(f"{step}/panel", form | {"row": row[1], "instrument": "T1"})  # sent twice, entered once
    assert len(shown.state.history[CLAMP, "clamp_K"]) == 1


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"row": "99999"}, "not held any more"),
        ({"row": "<b>"}, "not held any more"),
        ({"field": "remark"}, "not read from the panel"),
        ({"field": "nothing"}, "not read from the panel"),
        ({"instrument": "P1"}, ""),  # another kind: an error of the test, as for any reading
        ({"instrument": ""}, ""),
        ({"instrument": "Z9"}, "not registered"),
    ],
)
def test_what_cannot_be_taken_is_refused(shown: Shown, pat: Browser, change: dict[str, str], said: str) -> None:
    step = ready_for_the_clamp(shown, pat)
    shown.begins(pat)
    until(lambda: shown.rows >= 1)
    form = {"event_id": str(uuid.uuid4()), "field": "clamp_K", "row": "1", "instrument": "T1"} | change
    answer = pat.post(f"{step}/panel", form)
    taken = shown.state.current(CLAMP, "clamp_K")
    if said:
        assert answer.status_code == 422
        assert said in answer.text
        assert taken is None
    else:
        assert taken is not None
        assert taken.outcome == "error of the test itself"


def test_no_value_can_be_taken_of_what_is_no_reading(shown: Shown, pat: Browser) -> None:
    step = ready_for_the_clamp(shown, pat)
    shown.stand.hold(clamp=900.0)  # out of the map's plausible range
    shown.begins(pat)
    until(lambda: shown.rows >= 1)
    page = pat.get(step).text
    assert "The panel gives no value: implausible: lies outside 32 degF to 212 degF; seen 900 degF" in page
    answer = pat.post(f"{step}/panel", {"field": "clamp_K", "row": "1", "instrument": "T1"})
    assert answer.status_code == 422
    assert "implausible" in answer.text
    assert shown.state.current(CLAMP, "clamp_K") is None


def test_a_hold_point_holds_for_live_values_too(shown: Shown, pat: Browser) -> None:
    shown.begins(pat)
    until(lambda: shown.rows >= 1)
    step = f"/jobs/{shown.job}/acceptance/{RUN}/steps/{CLAMP}"
    answer = pat.post(f"{step}/panel", {"field": "clamp_K", "row": "1", "instrument": "T1"})
    assert answer.status_code == 422
    assert "hold point" in answer.text
