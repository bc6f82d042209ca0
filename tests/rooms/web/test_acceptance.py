"""The acceptance pages: readings judged at once and entered once, who may do what, points, files, signatures, links."""

from __future__ import annotations

import json
import logging
import re
import uuid
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
from sqlalchemy import delete, select

from floor_shop import RUN, open_invented
from invented_acceptance import PROCEDURE
from vaporwright.acceptance.record.events import RegisterInstrument
from vaporwright.acceptance.record.state import RunState
from vaporwright.acceptance.steps.instruments import Instrument
from vaporwright.actions.acceptance_papers import tank_drawing
from vaporwright.actions.control_job import control_job
from vaporwright.actions.desk import Desk
from vaporwright.actions.job_book import JobBook, laid_out
from vaporwright.documents.procedure_paper import procedure_pdf
from vaporwright.store.commit import load_state
from vaporwright.store.job_store import JobStore
from vaporwright.store.sql_store import _EVENTS
from vaporwright.store.web_tables import RUN_PINS
from web_client import PASSWORD, Browser, Site, site

SCRIPT = "<script>alert(1)</script>"
ESCAPED = "&lt;script&gt;"
PICTURE = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010802000000907753de"
    "0000000c49444154789c63f8ffff3f0005fe02fe0def46b80000000049454e44ae426082"
)
HOLD = "tank.leak"


class Floor:
    """A job with one run."""

    def __init__(self, where: Site, **run: Any) -> None:
        self.site = where
        self.job = where.shop.book.start("Invented", "Invented Plating", "26 gal/h", by="test").id
        open_invented(where.shop.database.records, where.shop.book, self.job, **run)
        self.run = f"/jobs/{self.job}/acceptance/{RUN}"

    @property
    def state(self) -> RunState:
        return Desk(self.site.shop.database.records, "x", "engineer").state(RUN)

    def entry(self, browser: Browser, kind: str, typed_by: str, **more: Any) -> httpx.Response:
        body = {"event_id": str(uuid.uuid4()), "kind": kind, "typed_by": typed_by, **more}
        return browser.send("POST", f"/api/v1/runs/{RUN}/entries", json=body)

    def reads(self, browser: Browser, by: str, step: str, field: str, text: str, **more: Any) -> httpx.Response:
        return self.entry(browser, "reading", by, step=step, field=field, text=text, units="US", **more)

    def all_done(self, browser: Browser, by: str) -> None:
        """Every step passed, every point accepted, in the shop's dry run."""
        for name in ("near", "middle", "far"):
            self.reads(browser, by, "sizes.pipe", f"{name}_m", "1.0")
        self.reads(browser, by, "documents.nameplate", "serial", "V-1")
        self.reads(browser, by, HOLD, "drops", "no")
        browser.post(f"{self.run}/steps/{HOLD}/point", {"event_id": str(uuid.uuid4()), "proof": PASSWORD})
        self.entry(browser, "step not run", by, step="electrical.insulation", reason="no electrician today")
        self.reads(browser, by, "set_points.clamp", "clamp_K", "150.0", instrument="T1")
        browser.post(f"{self.run}/steps/set_points.clamp/point", {"event_id": str(uuid.uuid4()), "proof": PASSWORD})
        assert self.entry(browser, "step done", by, step="end.drain").status_code == 200


@pytest.fixture
def floor(local: Site) -> Floor:
    return Floor(local)


@pytest.fixture
def pat(floor: Floor) -> Browser:
    browser = floor.site.browser()
    browser.post("/who", {"name": "Pat"})
    return browser


# Readings


def test_a_reading_is_judged_at_once_with_the_unit_beside_its_box(floor: Floor, pat: Browser) -> None:
    said = floor.reads(pat, "Pat", "sizes.pipe", "near_m", "1.01").json()
    assert (said["outcome"], said["entered"], said["look"]) == ("accepted", "1.01 ft", "")
    said = floor.reads(pat, "Pat", "sizes.pipe", "far_m", "9").json()
    assert (said["outcome"], said["look"], said["step_verdict"]) == ("not accepted", "alarm", "not accepted")
    page = pat.get(f"{floor.run}/steps/sizes.pipe").text
    assert "1.01 ft" in page
    assert "not accepted" in page
    assert "as drawn" in page  # the reason of the tolerance, in sight
    assert floor.state.current("sizes.pipe", "near_m").mark.who == "Pat"  # type: ignore[union-attr]


def test_an_entry_that_is_sent_twice_is_entered_once(floor: Floor, pat: Browser) -> None:
    body = {"event_id": str(uuid.uuid4()), "kind": "reading", "typed_by": "Pat", "step": "sizes.pipe"}
    body |= {"field": "near_m", "text": "1.0", "units": "US"}
    first = pat.send("POST", f"/api/v1/runs/{RUN}/entries", json=body)
    again = pat.send("POST", f"/api/v1/runs/{RUN}/entries", json=body)
    assert first.status_code == again.status_code == 200
    assert first.json() == again.json()
    assert len(floor.state.history[("sizes.pipe", "near_m")]) == 1
    other = pat.send("POST", f"/api/v1/runs/{RUN}/entries", json=body | {"text": "2.0"})
    assert other.status_code == 422
    assert "belongs to another entry" in other.json()["error"]["problem"]


def test_a_second_reading_of_a_field_is_refused_and_a_correction_keeps_the_first(floor: Floor, pat: Browser) -> None:
    floor.reads(pat, "Pat", "sizes.pipe", "near_m", "9")
    assert "read already" in floor.reads(pat, "Pat", "sizes.pipe", "near_m", "1").text
    wrong = floor.state.current("sizes.pipe", "near_m")
    assert wrong is not None
    more = {"step": "sizes.pipe", "field": "near_m", "text": "1.0 ft", "corrects": wrong.mark.event_id}
    assert "reason" in floor.entry(pat, "correction", "Pat", **more).json()["error"]["problem"]
    assert floor.entry(pat, "correction", "Pat", **more, reason="misread").json()["outcome"] == "accepted"
    assert len(floor.state.history[("sizes.pipe", "near_m")]) == 2
    assert "no longer counts" in pat.get(f"{floor.run}/steps/sizes.pipe").text


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"text": "1,234"}, "1234 or 1.234"),
        ({"text": "70 degF"}, "a length is meant"),
        ({"text": ""}, "nothing was read"),
        ({"text": "1.0", "units": ""}, "has no unit"),
        ({"text": "1.0", "field": "nothing"}, "no reading of step"),
        ({"text": "1.0", "step": "no.such"}, "is no step"),
        ({"text": "1.0", "typed_by": "Kim"}, "typed by Kim; you are here as Pat"),
    ],
)
def test_what_cannot_be_a_reading_is_refused_with_the_reason(
    floor: Floor, pat: Browser, more: dict[str, str], said: str
) -> None:
    body = {"event_id": str(uuid.uuid4()), "kind": "reading", "typed_by": "Pat", "step": "sizes.pipe"}
    answer = pat.send("POST", f"/api/v1/runs/{RUN}/entries", json={**body, "field": "near_m", "units": "US", **more})
    assert answer.status_code == 422
    assert said in json.dumps(answer.json()["error"])
    assert floor.state.seq == 4


def test_the_unit_beside_a_box_is_the_readers_and_what_was_typed_keeps_its_own(local: Site) -> None:
    floor = Floor(local, made=PROCEDURE)
    browser = local.browser()
    browser.post("/who", {"name": "Pat"})
    browser.post("/preferences", {"units": "SI"})
    path = f"{floor.run}/steps/tank_leak.cold"
    page = browser.get(path).text
    assert '<span class="unit">mm</span>' in page
    assert "at most 1.6 mm" in page
    assert "No rule is registered today" in page
    browser.post("/preferences", {"units": "US"})
    assert '<span class="unit">in</span>' in browser.get(path).text
    # Typed while the page showed millimetres, sent after its reader has changed to inches:
    body = {"step": "tank_leak.cold", "field": "level_fall_m", "text": "1.5", "units": "SI"}
    assert floor.entry(browser, "reading", "Pat", **body).json()["entered"] == "1.5 mm"


def test_without_a_script_a_form_does_the_same(floor: Floor, pat: Browser) -> None:
    page = pat.get(f"{floor.run}/steps/{HOLD}").text
    event = re.search(r'name="event_id" value="([0-9a-f-]{36})"', page)
    assert event is not None
    form = {"event_id": event[1], "kind": "reading", "step": HOLD, "field": "drops", "text": "no", "typed_by": "Pat"}
    form |= {"units": "US", "next": f"{floor.run}/steps/{HOLD}"}
    assert "accepted" in pat.post(f"{floor.run}/entries", form).text
    assert pat.post(f"{floor.run}/entries", form).status_code == 200  # sent again by reloading
    assert len(floor.state.history[(HOLD, "drops")]) == 1


def test_a_page_is_told_only_what_is_new(floor: Floor, pat: Browser) -> None:
    live = f"{floor.run}/steps/sizes.pipe/live"
    assert pat.part("GET", f"{live}?seq=4").status_code == 204
    floor.reads(pat, "Pat", "sizes.pipe", "near_m", "1.0")
    fresh = pat.part("GET", f"{live}?seq=4")
    assert fresh.status_code == 200
    assert 'data-seq="5"' in fresh.text
    assert "<html" not in fresh.text
    assert pat.part("GET", f"{floor.run}/live?seq=5").status_code == 204


def test_notes_of_what_happened_otherwise(floor: Floor, pat: Browser) -> None:
    floor.reads(pat, "Pat", "sizes.pipe", "near_m", "1.0")
    for kind, more in (
        ("deviation", {"text": "measured cold", "by": "Wilma"}),
        ("interruption", {"reason": "lunch", "minutes": 30.0}),
        ("repeat", {"step": "sizes.pipe", "reason": "tape was bent", "by": "Wilma"}),
        ("step not run", {"step": "end.drain", "reason": "stays full"}),
        ("punch item", {"step": "sizes.pipe", "category": "B", "text": "paint", "by": "shop"}),
    ):
        assert floor.entry(pat, kind, "Pat", **more).status_code == 200, kind
    page = pat.get(floor.run).text
    for words in ("measured cold", "lunch", "tape was bent"):
        assert words in page
    assert "paint" in pat.get(f"{floor.run}/punch").text
    assert floor.state.current("sizes.pipe", "near_m") is None


# Who may do what


def test_nobody_enters_more_than_their_role_allows(shared: Site) -> None:
    floor = Floor(shared, kind="witnessed")
    people = {role: shared.signed_in(role.title(), role) for role in ("engineer", "technician", "witness", "viewer")}
    shared.shop.jobs.open_to(floor.job, (shared.people.account_named("Witness").id,))  # type: ignore[union-attr]
    for role in ("witness", "viewer"):
        answer = floor.reads(people[role], role.title(), "sizes.pipe", "near_m", "1.0")
        assert answer.status_code in (403, 422), role
    assert floor.state.seq == 4
    technician = people["technician"]
    assert floor.reads(technician, "Technician", "sizes.pipe", "near_m", "1.0").status_code == 200
    assert floor.reads(technician, "Technician", HOLD, "drops", "no").status_code == 200
    refused = floor.reads(
        technician, "Technician", "electrical.insulation", "resistance_ohm", "120 Mohm", instrument="R1"
    )
    assert "not for the technician" in refused.json()["error"]["problem"]
    point = {"event_id": str(uuid.uuid4()), "proof": PASSWORD}
    for role in ("technician", "engineer", "viewer"):
        assert people[role].post(f"{floor.run}/steps/{HOLD}/point", point).status_code in (403, 422), role
    assert HOLD not in floor.state.points
    witness = people["witness"]
    for wrong in ("", "another password"):  # whoever finds the phone of the witness accepts nothing
        refused = witness.post(f"{floor.run}/steps/{HOLD}/point", point | {"proof": wrong})
        assert refused.status_code == 403
        assert "not your password" in refused.text
        assert "Your password again" in refused.text  # to be typed at once
    assert HOLD not in floor.state.points
    assert "Accepted by Witness" in witness.post(f"{floor.run}/steps/{HOLD}/point", point).text
    sign = {"what": "sign", "role": "engineer", "proof": PASSWORD, **_head(floor)}
    assert technician.post(f"{floor.run}/sign", sign).status_code == 403
    assert people["viewer"].post(f"{floor.run}/sign", sign).status_code == 403
    for path in ("/acceptance/new", "/service/diagnosis", "/service/refit"):
        assert people["viewer"].get(f"/jobs/{floor.job}{path}").status_code == 403
    assert people["technician"].post(f"{floor.run}/witness", {}).status_code == 403
    assert people["viewer"].get(f"{floor.run}/steps/{HOLD}").status_code == 200  # looks


def test_a_witness_sees_no_run_of_a_job_that_was_not_opened_to_them(shared: Site) -> None:
    floor = Floor(shared)
    witness = shared.signed_in("Wilma", "witness")
    for path in (floor.run, f"{floor.run}/steps/{HOLD}", f"/api/v1/runs/{RUN}", f"{floor.run}/record.zip"):
        assert witness.get(path).status_code == 404
    assert floor.reads(witness, "Wilma", "sizes.pipe", "near_m", "1.0").status_code == 404


def test_a_run_is_found_only_under_its_own_job(floor: Floor, pat: Browser) -> None:
    other = floor.site.shop.book.start("Other", "B", "26 gal/h", by="test").id
    assert pat.get(f"/jobs/{other}/acceptance/{RUN}").status_code == 404
    assert pat.get(f"/jobs/{floor.job}/acceptance/no-such-run").status_code == 404
    assert pat.get(f"{floor.run}/steps/no.such").status_code == 404
    assert pat.get(f"{floor.run}/files/{'0' * 64}").status_code == 404


def test_the_witness_at_the_machine_itself_comes_with_a_pin(local: Site) -> None:
    floor = Floor(local, kind="witnessed")
    pat = local.browser()
    pat.post("/who", {"name": "Pat"})
    for name in ("near", "middle", "far"):
        floor.reads(pat, "Pat", "sizes.pipe", f"{name}_m", "1.0")
    floor.reads(pat, "Pat", HOLD, "drops", "no")
    path = f"{floor.run}/steps/{HOLD}/point"
    assert pat.post(path, {"event_id": str(uuid.uuid4())}).status_code == 422  # no name
    short = pat.post(path, {"event_id": str(uuid.uuid4()), "name": "Wilma", "proof": "123"})
    assert "has 3 characters" in short.text
    assert HOLD not in floor.state.points
    assert pat.post(path, {"event_id": str(uuid.uuid4()), "name": "Wilma", "proof": "271828"}).status_code == 200
    assert (floor.state.points[HOLD].who, floor.state.points[HOLD].role) == ("Wilma", "witness")
    floor.reads(pat, "Pat", "set_points.clamp", "clamp_K", "150.0", instrument="T1")
    path = f"{floor.run}/steps/set_points.clamp/point"
    for wrong in ("271829", "000000"):
        answer = pat.post(path, {"event_id": str(uuid.uuid4()), "name": "wilma", "proof": wrong})
        assert answer.status_code == 403
    assert "set_points.clamp" not in floor.state.points
    rows = local.shop.database.rows(select(RUN_PINS.c.pin))
    assert [row.pin.startswith("$argon2id$") for row in rows] == [True]
    for _ in range(8):
        last = pat.post(path, {"event_id": str(uuid.uuid4()), "name": "Wilma", "proof": "111111"})
    assert last.status_code == 429


# Files


def _photo(floor: Floor, browser: Browser, content: bytes, name: str) -> httpx.Response:
    form = {"event_id": str(uuid.uuid4())}
    return browser.post(f"{floor.run}/steps/sizes.pipe/photo", form, files={"photo": (name, content)})


@pytest.mark.parametrize(
    "name", ["../../etc/passwd.png", "..\\..\\x.png", "/abs.png", "a\r\nb.png", f"{SCRIPT}.png", ".png"]
)
def test_whatever_a_photograph_is_called_it_is_kept_by_its_hash(floor: Floor, pat: Browser, name: str) -> None:
    assert _photo(floor, pat, PICTURE, name).status_code == 200
    kept = floor.state.attachments[-1]
    assert kept.step == "sizes.pipe"
    assert re.fullmatch(r"[A-Za-z0-9_-]+\.png", kept.attachment.name)
    file = pat.get(f"{floor.run}/files/{kept.attachment.sha256}")
    assert file.content == PICTURE
    assert file.headers["content-type"] == "image/png"
    assert file.headers["x-content-type-options"] == "nosniff"
    assert "sandbox" in file.headers["content-security-policy"]
    assert pat.get(f"{floor.run}/record.zip").status_code == 200


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"<svg onload=alert(1)>", "another kind"),
        (b"<html><script>alert(1)</script>", "another kind"),
        (b"GIF89a" + bytes(20), "another kind"),
        (b"", "empty"),
        (PICTURE + bytes(12_000_001), "too large"),
    ],
)
def test_a_file_of_another_kind_or_size_is_refused(floor: Floor, pat: Browser, content: bytes, said: str) -> None:
    answer = _photo(floor, pat, content, "photo.png")
    assert answer.status_code == 422
    assert said in answer.text
    assert [one for one in floor.state.attachments if one.step] == []


def test_a_script_in_any_field_is_shown_as_text(floor: Floor, pat: Browser) -> None:
    floor.reads(pat, "Pat", "documents.nameplate", "serial", SCRIPT)
    for kind, more in (
        ("deviation", {"text": SCRIPT, "by": SCRIPT, "step": "sizes.pipe"}),
        ("interruption", {"reason": SCRIPT, "minutes": 1.0}),
        ("step not run", {"step": "end.drain", "reason": SCRIPT}),
        ("punch item", {"step": "sizes.pipe", "category": "A", "text": SCRIPT, "by": SCRIPT}),
    ):
        assert floor.entry(pat, kind, "Pat", **more).status_code == 200, kind
    form = {"id": SCRIPT, "kind": "tape", "title": SCRIPT, "certificate": SCRIPT, "due": "2099-01-01"}
    assert pat.post(f"{floor.run}/instruments", form | {"uncertainty": "1 mm"}).status_code == 200
    bad = pat.post(f"{floor.run}/instruments", form | {"uncertainty": SCRIPT})
    assert SCRIPT not in bad.text
    token = _link(pat, floor)
    pages = (floor.run, f"{floor.run}/steps/sizes.pipe", f"{floor.run}/steps/documents.nameplate", f"{floor.run}/punch")
    pages += (f"{floor.run}/instruments", f"/jobs/{floor.job}/service", f"{floor.run}/sign", f"/witness/{token}")
    shown = 0
    for path in pages:
        page = pat.get(path)
        assert page.status_code == 200
        assert SCRIPT not in page.text, path
        shown += ESCAPED in page.text
    assert shown >= 5
    assert SCRIPT not in pat.get(f"{floor.run}/steps/sizes.pipe?seq={SCRIPT}").text


# The end


def _head(floor: Floor) -> dict[str, str]:
    return {"seq": str(floor.state.seq), "head": floor.state.head, "event_id": str(uuid.uuid4())}


def test_a_run_is_signed_by_pin_verified_reopened_and_closed(floor: Floor, pat: Browser) -> None:
    sign = {"what": "sign", "name": "Pat", "role": "engineer", "proof": "314159"}
    early = pat.post(f"{floor.run}/sign", sign | _head(floor))
    assert early.status_code == 422
    assert "is not run" in early.text
    floor.all_done(pat, "Pat")
    assert floor.state.outstanding == ()
    old = _head(floor)
    floor.entry(pat, "interruption", "Pat", reason="lunch", minutes=10.0)
    assert "moved on" in pat.post(f"{floor.run}/sign", sign | old).text
    assert pat.post(f"{floor.run}/sign", sign | {"proof": "000000"} | _head(floor)).status_code == 403
    assert "Signed by Pat" in pat.post(f"{floor.run}/sign", sign | _head(floor)).text
    signed = floor.state.signed_by("engineer")
    assert signed is not None
    key = floor.site.settings.data_folder / "signing_key.pem"
    assert key.stat().st_mode & 0o077 == 0
    refused = floor.entry(pat, "interruption", "Pat", reason="tea", minutes=10.0)
    assert "signed by Pat" in refused.json()["error"]["problem"]
    assert "releases nothing" in pat.post(f"{floor.run}/sign", sign | {"what": "release"} | _head(floor)).text
    paper = pat.get(f"{floor.run}/certificate.pdf")
    assert paper.content.startswith(b"%PDF-")
    record = pat.get(f"{floor.run}/record.zip").content
    page = pat.post("/verify", {"head": signed.head}, files={"record": ("r.zip", record)})
    assert "verifies: run dry-run-1" in page.text
    assert "does not verify" in pat.post("/verify", files={"record": ("r.zip", record[:-9] + b"x" + record[-8:])}).text
    assert pat.post("/verify", files={"record": ("r.zip", b"")}).status_code == 422
    reopen = pat.post(f"{floor.run}/sign", sign | {"what": "reopen", "reason": "one more"} | _head(floor))
    assert "no longer cover" in reopen.text
    assert floor.state.covering == ()
    pat.post(f"{floor.run}/sign", sign | _head(floor))
    assert "closed" in pat.post(f"{floor.run}/sign", sign | {"what": "close"} | _head(floor)).text
    assert floor.state.closed is not None


def test_what_a_signature_brings_is_on_the_list_after_a_restart(floor: Floor, pat: Browser) -> None:
    """The list of a server that has looked at no run yet says it too."""
    database = floor.site.shop.database

    def listed_anew() -> str:
        return JobBook(JobStore(database), database.records, floor.site.clock).listed()[0].stage

    sign = {"what": "sign", "name": "Pat", "role": "engineer", "proof": "314159"}
    floor.all_done(pat, "Pat")
    assert listed_anew() == "enquiry"
    pat.post(f"{floor.run}/sign", sign | _head(floor))
    assert listed_anew() == "dry run"
    pat.post(f"{floor.run}/sign", sign | {"what": "reopen", "reason": "one more"} | _head(floor))
    assert listed_anew() == "enquiry"
    pat.post(f"{floor.run}/sign", sign | _head(floor))
    assert listed_anew() == "dry run"


def test_an_account_signs_with_its_password_again(shared: Site) -> None:
    floor = Floor(shared)
    ada = shared.signed_in("Ada", "engineer")
    floor.all_done(ada, "Ada")
    sign = {"what": "sign", "name": "Somebody Else", "role": "engineer"}
    assert ada.post(f"{floor.run}/sign", sign | {"proof": "wrong"} | _head(floor)).status_code == 403
    assert floor.state.covering == ()
    assert ada.post(f"{floor.run}/sign", sign | {"proof": PASSWORD} | _head(floor)).status_code == 200
    assert [one.name for one in floor.state.covering] == ["Ada"]  # never under a name that was typed


# The witness's link


def _link(browser: Browser, floor: Floor, label: str = "Wilma") -> str:
    ends = datetime.fromtimestamp(floor.site.clock()).date() + timedelta(days=1)
    page = browser.post(f"{floor.run}/witness", {"label": label, "ends": ends.isoformat()})
    found = re.search(r"/witness/([\w-]{40,})</code>", page.text)
    assert found is not None, page.text
    assert "data:image/svg+xml" in page.text
    return found[1]


def _withdraws(browser: Browser, floor: Floor, label: str) -> httpx.Response:
    """Press the button that stands with a link of the list."""
    part = browser.get(f"{floor.run}/witness").text.partition(f"<h2>{label}</h2>")[2].partition("</section>")[0]
    found = re.search(r'action="([^"]+/withdraw)"', part)
    assert found is not None, part
    return browser.post(found[1])


def test_a_witness_link_shows_one_run_read_only_until_it_is_withdrawn(shared: Site) -> None:
    floor = Floor(shared)
    ada = shared.signed_in("Ada", "engineer")
    token, other = _link(ada, floor), _link(ada, floor, "Walt")
    guest = shared.browser("203.0.113.9")
    page = guest.get(f"/witness/{token}")
    assert page.status_code == 200
    assert floor.state.head in page.text
    assert 'method="post"' not in page.text
    assert guest.get(f"/witness/{token}/record.zip").content.startswith(b"PK")
    assert guest.part("GET", f"/witness/{token}/live?seq=4").status_code == 204
    floor.reads(ada, "Ada", "sizes.pipe", "near_m", "1.0")
    assert "1.0 ft" in guest.part("GET", f"/witness/{token}/live?seq=4").text
    for method, path in (("GET", floor.run), ("GET", f"/api/v1/runs/{RUN}"), ("GET", f"{floor.run}/record.zip")):
        assert guest.send(method, path).status_code in (303, 401)
    assert floor.reads(guest, "Ada", "sizes.pipe", "far_m", "1.0").status_code == 401
    assert guest.post(f"/witness/{token}", {}).status_code in (403, 405)
    assert guest.get(f"/witness/{token[:-1]}x").status_code == 404
    assert shared.people.links("witness", RUN)[0].id not in page.text
    vic = shared.signed_in("Vic", "viewer")
    assert vic.get(f"{floor.run}/witness").status_code == 403
    assert vic.post(f"{floor.run}/witness/{shared.people.links('witness', RUN)[0].id}/withdraw").status_code == 403
    assert "no longer works" in _withdraws(ada, floor, "Wilma").text
    for end in ("", "/record.zip"):
        gone = guest.get(f"/witness/{token}{end}")
        assert gone.status_code == 410
        assert "it was withdrawn on" in gone.text
    live = guest.part("GET", f"/witness/{token}/live?seq=4")  # the open page goes where it is said
    assert live.headers["X-Go-To"] == f"/witness/{token}"
    assert guest.get(f"/witness/{other}").status_code == 200  # the others stay
    listed = ada.get(f"{floor.run}/witness").text
    assert listed.count("/withdraw") == 1
    assert token not in listed
    assert other not in listed
    noted = [(one.what, one.detail.partition(",")[0]) for one in shared.people.audit() if "link" in one.what]
    assert noted == [
        ("witness's link withdrawn", "for Wilma"),
        ("witness's link made", "for Walt"),
        ("witness's link made", "for Wilma"),
    ]


def test_a_witness_link_runs_out_at_the_end_of_its_day(floor: Floor, pat: Browser) -> None:
    token = _link(pat, floor)
    guest = floor.site.browser()
    now = datetime.fromtimestamp(floor.site.clock())
    end = datetime.combine(now.date() + timedelta(days=2), now.min.time()).timestamp()
    floor.site.clock.at = end - 1.0
    assert guest.get(f"/witness/{token}").status_code == 200
    floor.site.clock.at = end
    gone = guest.get(f"/witness/{token}")
    assert gone.status_code == 410
    assert "it ended on" in gone.text
    assert "ended" in pat.get(f"{floor.run}/witness").text


@pytest.mark.parametrize(
    ("label", "days", "said"),
    [
        ("", 1, "for whom"),
        ("x" * 81, 1, "for whom"),
        ("Wilma", -1, "is past"),
        ("Wilma", 93, "too far off"),
        ("Wilma", None, "is no day"),
    ],
)
def test_a_link_without_a_name_or_an_end_is_not_made(
    floor: Floor, pat: Browser, label: str, days: int | None, said: str
) -> None:
    today = datetime.fromtimestamp(floor.site.clock()).date()
    ends = "next week" if days is None else (today + timedelta(days=days)).isoformat()
    answer = pat.post(f"{floor.run}/witness", {"label": label, "ends": ends})
    assert answer.status_code == 422
    assert said in answer.text
    assert f'value="{ends}"' in answer.text
    assert floor.site.people.links("witness", RUN) == ()


def test_the_secret_of_a_link_stays_out_of_store_log_and_referer(
    shared: Site, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    floor = Floor(shared)
    token = _link(shared.signed_in("Ada", "engineer"), floor)
    guest = shared.browser("203.0.113.9")
    for path in (f"/witness/{token}", f"/witness/{token}/record.zip", "/witness/unknown"):
        assert guest.get(path).headers["Referrer-Policy"] == "no-referrer"
    folder = shared.settings.data_folder
    assert [one.name for one in folder.iterdir() if token.encode() in one.read_bytes()] == []

    def broken(*_arguments: object, **_more: object) -> object:
        raise RuntimeError("broken")

    monkeypatch.setattr(shared.shop.book, "job_of_run", broken)
    with caplog.at_level(logging.DEBUG, "vaporwright"):
        assert guest.get(f"/witness/{token}").status_code == 500
    assert "/witness/..." in caplog.text
    assert token not in caplog.text


# Instruments, papers, opening


def test_instruments_by_form_and_by_file(floor: Floor, pat: Browser) -> None:
    form = {"id": "P1", "kind": "pressure gauge", "title": "gauge", "certificate": "C-9", "due": "2099-01-31"}
    assert pat.post(f"{floor.run}/instruments", form | {"uncertainty": "1 % and 0.2 psi"}).status_code == 200
    made = floor.state.instruments["P1"][-1].instrument
    assert made.expanded_relative == pytest.approx(0.01)
    assert made.expanded == pytest.approx(0.2 * 6894.757293168)
    wrong = pat.post(f"{floor.run}/instruments", form | {"id": "P2", "uncertainty": "often"})
    assert wrong.status_code == 422
    assert 'value="P2"' in wrong.text  # what was typed is still there
    file = b'[[instrument]]\nid = "S1"\nkind = "stopwatch"\ntitle = "w"\n'
    file += b'certificate = "C"\ndue = "2099-01-01"\nuncertainty = "0.2 s"\n'
    pat.post(f"{floor.run}/instruments", files={"instruments": ("i.toml", file)})
    assert "S1" in floor.state.instruments
    assert pat.post(f"{floor.run}/instruments", files={"instruments": ("i.toml", b"\0")}).status_code == 422


def test_a_page_is_still_right_when_the_store_was_put_back(floor: Floor, pat: Browser) -> None:
    """A state that is known in memory is not used for another record of the same name."""
    floor.reads(pat, "Pat", "sizes.pipe", "near_m", "1.0")
    assert "1.0 ft" in pat.get(f"{floor.run}/steps/sizes.pipe").text
    with floor.site.shop.database.writing() as connection:
        connection.execute(delete(_EVENTS).where(_EVENTS.c.seq == 5))
    assert "1.0 ft" not in pat.get(f"{floor.run}/steps/sizes.pipe").text


def test_the_conditions_of_a_day_are_asked_for_by_name(floor: Floor, pat: Browser) -> None:
    path = f"/jobs/{floor.job}/acceptance/new"
    day = {"air_temperature_K": "75", "wet_bulb_K": "80", "pressure_Pa": "29.1 inHg", "elevation_m": "700"}
    day |= {"water_temperature_K": "58", "supply_voltage_V": "480"}
    form = {f"day.{key}": value for key, value in day.items()} | {"kind": "dry run", "variant": "cold"}
    wrong = pat.post(path, form)
    assert wrong.status_code == 422
    assert "at most the air" in wrong.text
    assert "29.1 inHg" in wrong.text
    assert "is missing" in pat.post(path, form | {"day.wet_bulb_K": ""}).text
    witnessed = pat.post(path, form | {"day.wet_bulb_K": "60", "kind": "witnessed"})
    assert "needs one of the two" in witnessed.text
    assert pat.post(path, form | {"day.wet_bulb_K": "60", "kind": "no such"}).status_code == 422


@pytest.mark.slow
def test_a_run_is_opened_in_the_pool_with_progress(tmp_path: Path) -> None:
    import time

    with site(tmp_path) as made:
        pat = made.browser()
        pat.post("/who", {"name": "Pat"})
        pat.post("/jobs/demo")
        job = made.shop.book.listed("nickel")[0].job.id
        day = {"air_temperature_K": "75", "wet_bulb_K": "60", "pressure_Pa": "29.1 inHg", "elevation_m": "700"}
        day |= {"water_temperature_K": "58", "supply_voltage_V": "480"}
        form = {f"day.{key}": value for key, value in day.items()} | {"kind": "dry run", "variant": "cold"}
        page = pat.post(f"/jobs/{job}/acceptance/new", form)
        assert "Making the procedure" in page.text
        live = f"{page.url.path}/live"
        end, shares = time.monotonic() + 90.0, []
        while "X-Go-To" not in (answer := pat.part("GET", live)).headers:
            assert time.monotonic() < end
            shares.append(answer.text)
            time.sleep(0.5)
        assert len(set(shares)) > 1  # it moves
        counted = [re.search(r"Finding the trial of each row: (\d+) of (\d+)", one) for one in shares]
        rows = {int(found[2]) for found in counted if found}
        assert len(rows) == 1
        assert rows.pop() > 20  # the rows of its table
        run = pat.get(answer.headers["X-Go-To"])
        assert "Begin: next step" in run.text
        link = made.shop.book.runs(job)[0]
        assert link.run.startswith("dry-run-")
        base = f"/jobs/{job}/acceptance/{link.run}"
        _has_its_tank(made, pat.get(f"{base}/procedure.pdf").content, link.run)
        assert pat.get(f"{base}/sheets.pdf").content.startswith(b"%PDF-")
        assert "75" in pat.get(f"{base}/conditions").text
        other = made.browser("10.0.0.2")
        assert other.get(page.url.path).status_code == 422  # another's task


def _has_its_tank(made: Site, pdf: bytes, run: str) -> None:
    """The page's paper is the command's, with the same drawing: the same procedure gives the same bytes."""
    state = load_state(made.shop.database.records, run)
    with laid_out(made.shop.book.revision(made.shop.book.listed("nickel")[0].job.id).texts) as path:
        answer = control_job(path).answer
    system = answer.job.text("job.report_units")
    drawing = tank_drawing(answer, system)
    assert state.procedure is not None
    assert pdf == procedure_pdf(state.procedure, system, drawing=drawing, run=run, revision="1")
    assert pdf != procedure_pdf(state.procedure, system, run=run, revision="1")


# The performance run


def test_rows_typed_and_from_a_file_are_entered_once(floor: Floor, pat: Browser) -> None:
    desk = Desk(floor.site.shop.database.records, "Opener", "engineer")
    gauge = Instrument("B1", "barometer", "b", "C", "2099-01-01", expanded=100.0)
    desk.enter(RUN, RegisterInstrument(desk.stamp(), gauge))
    row = {"at": "2026-03-04T10:00:00-06:00", "units": "US", "cells": {"barometer_Pa": "29.1 inHg"}}
    body = {"event_id": str(uuid.uuid4()), "kind": "log row", "typed_by": "Pat", **row}
    for _ in range(2):
        assert pat.send("POST", f"/api/v1/runs/{RUN}/entries", json=body).status_code == 200
    later = row | {"at": "2026-03-04T10:01:00-06:00", "cells": {"barometer_Pa": "14.2", "tracer_kg_m3": ""}}
    assert floor.entry(pat, "log row", "Pat", **later).status_code == 200
    assert floor.entry(pat, "log row", "Pat", **row).status_code == 422  # before the last row
    log = floor.state.log
    assert log is not None
    assert log.times_s == (0.0, 60.0)
    assert log.columns["barometer_Pa"] == pytest.approx((29.1 * 3386.389, 14.2 * 6894.757293168))
    missing = floor.entry(pat, "log row", "Pat", at=row["at"], cells={"tank_temperature_K": "150"}, units="US")
    assert "thermometer pair" in missing.json()["error"]["problem"]
    file = b"time (min),barometer (inHg)\n1,29.1\n2,29.2\n3,29.0\n"
    pat.post(f"{floor.run}/performance/file", files={"log": ("log.csv", file)})
    pat.post(f"{floor.run}/performance/file", files={"log": ("log.csv", file)})
    assert floor.state.log is not None
    assert floor.state.log.times_s == (0.0, 60.0, 120.0, 180.0)
    assert pat.post(f"{floor.run}/performance/file", files={"log": ("log.xlsx", b"PK")}).status_code == 422
    data = pat.get(f"{floor.run}/performance/data").json()
    assert data["minutes"] == [0.0, 1.0, 2.0, 3.0]


def test_the_service_worker_is_there_only_where_the_line_is_encrypted(
    tmp_path: Path, floor: Floor, pat: Browser
) -> None:
    assert pat.get("/service-worker.js").status_code == 404
    assert 'data-service-worker=""' in pat.get(floor.run).text
    for name in ("c.pem", "k.pem"):
        (tmp_path / name).write_text("invented")
    (tmp_path / "tls").mkdir()
    with site(tmp_path / "tls", tls_cert=tmp_path / "c.pem", tls_key=tmp_path / "k.pem") as made:
        answer = made.browser(base="https://127.0.0.1:8420").get("/service-worker.js")
        assert answer.status_code == 200
        assert answer.headers["Service-Worker-Allowed"] == "/"
