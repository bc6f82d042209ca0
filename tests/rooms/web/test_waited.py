"""What waited in a tablet, as the server takes it in: ages, typed times, photographs; and how it is said afterwards."""

from __future__ import annotations

import hashlib
import uuid
from datetime import datetime, timedelta
from typing import Any

import httpx
import pytest

from floor_shop import RUN, open_invented
from vaporwright.acceptance.record.state import RunState
from vaporwright.actions.certificate_of_run import certificate_of
from vaporwright.actions.desk import Desk
from vaporwright.documents.certificate_steps import step_groups
from vaporwright.documents.measured_words import times_text
from web_client import Browser, Site

STEP = "sizes.pipe"
PHOTO = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010802000000907753de"
    "0000000c49444154789c63f8ffff3f0005fe02fe0def46b80000000049454e44ae426082"
)


def _two_days_ago() -> str:
    return (datetime.now().astimezone() - timedelta(days=2)).isoformat(timespec="seconds")


class Tablet:
    """One person's browser at a run that was opened two days ago."""

    def __init__(self, site: Site) -> None:
        self.site = site
        job = site.shop.book.start("Invented", "Invented Plating", "26 gal/h", by="test").id
        open_invented(site.shop.database.records, site.shop.book, job, clock=_two_days_ago)
        self.page = f"/jobs/{job}/acceptance/{RUN}"
        self.browser: Browser = site.browser()
        self.browser.post("/who", {"name": "Pat"})

    @property
    def state(self) -> RunState:
        return Desk(self.site.shop.database.records, "x", "engineer").state(RUN)

    def reads(self, field: str = "near_m", **more: Any) -> httpx.Response:
        body = {"event_id": str(uuid.uuid4()), "kind": "reading", "typed_by": "Pat", "step": STEP, "field": field}
        return self.browser.send("POST", f"/api/v1/runs/{RUN}/entries", json=body | {"text": "1.0 ft"} | more)

    def sends_photo(self, content: bytes = PHOTO, **more: Any) -> httpx.Response:
        form = {"event_id": str(uuid.uuid4()), "typed_by": "Pat", "step": STEP} | more
        files = {"photo": ("tank.jpg", content)}
        headers = {"X-Vaporwright": "1"}
        return self.browser.send("POST", f"/api/v1/runs/{RUN}/photos", data=form, files=files, headers=headers)


@pytest.fixture
def tablet(local: Site) -> Tablet:
    return Tablet(local)


def apart_s(state: RunState, field: str = "near_m") -> float:
    mark = state.history[STEP, field][0].mark
    return (datetime.fromisoformat(mark.at) - datetime.fromisoformat(mark.happened)).total_seconds()


def test_the_age_of_an_entry_becomes_the_time_at_which_it_was_read(tablet: Tablet) -> None:
    assert tablet.reads(age_s=1740.4).status_code == 200
    assert apart_s(tablet.state) == 1740.0
    assert tablet.reads("middle_m", age_s=0.4).status_code == 200
    assert tablet.state.history[STEP, "middle_m"][0].mark.happened_at == ""
    told = tablet.browser.get(f"/api/v1/runs/{RUN}").json()["steps_by_key"][STEP]["readings"]["near_m"]
    assert datetime.fromisoformat(told["at"]) - datetime.fromisoformat(told["read_at"]) == timedelta(seconds=1740)


@pytest.mark.parametrize("age_s", [-5.0, 86_402.0, 1.0e9])
def test_an_age_that_cannot_be_is_refused_with_words(tablet: Tablet, age_s: float) -> None:
    answer = tablet.reads(age_s=age_s)
    assert answer.status_code == 422
    assert "it was done at" in answer.json()["error"]["problem"]
    assert "with the reason" in answer.json()["error"]["allowed"]
    assert not tablet.state.history


def test_no_number_is_no_age(tablet: Tablet) -> None:
    assert tablet.reads(age_s=2.0e9).status_code == 422
    assert tablet.reads(age_s="NaN").status_code == 422
    assert not tablet.state.history


def test_a_typed_time_needs_its_reason_and_takes_the_place_of_the_age(tablet: Tablet) -> None:
    wall = (datetime.now() - timedelta(hours=30)).strftime("%Y-%m-%dT%H:%M")
    assert tablet.reads(age_s=9.0e5, happened=wall).status_code == 422
    assert tablet.reads(happened="yesterday", late_because="lost").status_code == 422
    assert tablet.reads(age_s=9.0e5, happened=wall, late_because="it lay in the office").status_code == 200
    mark = tablet.state.history[STEP, "near_m"][0].mark
    assert datetime.fromisoformat(mark.happened_at) == datetime.fromisoformat(wall).astimezone()
    assert "late: it lay in the office" in tablet.browser.get(f"{tablet.page}/steps/{STEP}").text


def test_the_page_and_the_certificate_say_both_times_where_they_differ_by_more_than_a_minute(tablet: Tablet) -> None:
    tablet.reads("near_m", age_s=59.0)
    tablet.reads("middle_m", age_s=1740.0)
    page = tablet.browser.get(f"{tablet.page}/steps/{STEP}").text
    assert page.count(", entered ") == 1
    readings = step_groups(certificate_of(tablet.state), "US")[0]["steps"][0]["readings"]
    late = {one["label"]: one["with"] for one in readings}
    assert late["near end"] == ""
    mark = tablet.state.history[STEP, "middle_m"][0].mark
    assert late["middle end"].startswith(f"read {mark.happened_at[:10]} {mark.happened_at[11:16]}, entered ")


@pytest.mark.parametrize(
    ("happened", "entered", "said"),
    [
        ("2026-03-04T14:02:10-06:00", "2026-03-04T14:31:00-06:00", "read 2026-03-04 14:02, entered 14:31 UTC-06:00"),
        ("2026-03-04T14:02:10-06:00", "2026-03-04T14:03:10-06:00", "2026-03-04 14:03 UTC-06:00"),
        ("2026-03-04T14:02:10+00:00", "2026-03-04T14:03:11+00:00", "read 2026-03-04 14:02, entered 14:03 UTC"),
        (
            "2026-03-04T23:58:00+00:00",
            "2026-03-05T00:04:00+00:00",
            "read 2026-03-04 23:58, entered 2026-03-05 00:04 UTC",
        ),
        (
            "2026-03-08T01:30:00-06:00",
            "2026-03-08T03:30:00-05:00",
            "read 2026-03-08 01:30 UTC-06:00, entered 2026-03-08 03:30 UTC-05:00",
        ),
    ],
)
def test_two_times_in_words(happened: str, entered: str, said: str) -> None:
    assert times_text(happened, entered) == said


def test_a_photograph_out_of_the_queue_is_there_once_with_both_times(tablet: Tablet) -> None:
    one = str(uuid.uuid4())
    first, again = (tablet.sends_photo(event_id=one, age_s=age_s) for age_s in ("600", "612.5"))
    assert first.status_code == again.status_code == 200, again.text
    assert first.json()["head"] == again.json()["head"]
    (kept,) = [found for found in tablet.state.attachments if found.step == STEP]
    assert kept.attachment.sha256 == hashlib.sha256(PHOTO).hexdigest()
    waited = datetime.fromisoformat(kept.mark.at) - datetime.fromisoformat(kept.mark.happened_at)
    assert waited == timedelta(seconds=600)


def test_a_photograph_is_refused_as_on_its_page(tablet: Tablet) -> None:
    for more in ({"typed_by": "Kim"}, {"event_id": "7"}, {"age_s": "-9"}):
        assert tablet.sends_photo(**more).status_code == 422, more
    assert tablet.sends_photo(step="no.such").status_code == 404
    assert tablet.sends_photo(b"words").json()["error"]["problem"] == "is of another kind"
    assert tablet.sends_photo(b"\xff\xd8\xff" + bytes(12_000_000)).json()["error"]["problem"] == "is too large"
    assert [one for one in tablet.state.attachments if one.step] == []


def test_a_page_of_another_server_cannot_send_a_photograph(tablet: Tablet) -> None:
    form = {"event_id": str(uuid.uuid4()), "typed_by": "Pat", "step": STEP}
    answer = tablet.browser.send("POST", f"/api/v1/runs/{RUN}/photos", data=form, files={"photo": ("a.jpg", PHOTO)})
    assert answer.status_code == 403


def test_a_file_is_asked_for_each_time_so_that_nobody_else_gets_it_from_a_cache(tablet: Tablet) -> None:
    tablet.sends_photo()
    where = f"{tablet.page}/files/{hashlib.sha256(PHOTO).hexdigest()}"
    first = tablet.browser.get(where)
    assert first.content == PHOTO
    assert first.headers["Cache-Control"] == "private, no-cache"
    again = tablet.browser.send("GET", where, headers={"If-None-Match": first.headers["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
