"""Service pages: weighing causes by form and file, the history of a unit, refits, who may."""

from __future__ import annotations

import time
from typing import Any

import httpx
import pytest

from floor_shop import RUN, open_invented
from vaporwright.store.job_store import Texts
from vaporwright.store.service_store import ServiceStore
from vaporwright.web.pages.service import readings_of_form
from web_client import Browser, Site

SCRIPT = "<script>alert(1)</script>"
# Readings of a steady hour of the electric demo unit, invented: less evaporation than its heat would drive.
FORM = {
    "read.evaporation_kg_s": "10",
    "read.pressure_Pa": "29.2 inHg",
    "read.tank_temperature_K": "150",
    "read.inlet_air_temperature_K": "70",
    "read.inlet_wet_bulb_K": "58",
    "read.feed_temperature_K": "14.4 degC",
}
FILE = (
    b"evaporation (gal/h),pressure (inHg),tank_temperature (degF),inlet_air_temperature (degF),inlet_wet_bulb (degF),"
    b"feed_temperature (degF)\n10,29.2,150,70,58,58\n"
)
FOUND: dict[str, Any] = {
    "split": {"text": "The tank is {0} hotter than predicted.", "figures": [[5.0, "temperature difference"]]},
    "explained": False,
    "suspects": [
        {
            "title": SCRIPT,
            "probability": 0.8,
            "severity": 0.3,
            "severity_quantity": "fraction",
            "severity_label": "of the air",
            "look": SCRIPT,
            "caution": SCRIPT,
        },
        {
            "title": "nothing is wrong",
            "probability": 0.2,
            "severity": None,
            "severity_quantity": "",
            "severity_label": "",
            "look": "",
            "caution": "",
        },
    ],
    "next": {"label": "air flow", "quantity": "air flow", "first": 0.5, "second": 0.9},
    "rows": [{"label": "tank", "quantity": "temperature", "read": 338.15, "predicted": 333.15, "likeliest": 338.0}],
}


@pytest.fixture
def pat(local: Site) -> Browser:
    browser = local.browser()
    browser.post("/who", {"name": "Pat"})
    return browser


def _job(where: Site) -> str:
    return where.shop.book.start("Invented", "Invented Plating", "26 gal/h", by="test").id


def _followed(browser: Browser, page: httpx.Response) -> httpx.Response:
    """The page that a task leads to, once it is done."""
    end = time.monotonic() + 90.0
    while "X-Go-To" not in (answer := browser.part("GET", f"{page.url.path}/live")).headers:
        assert time.monotonic() < end
        assert answer.status_code == 200
        time.sleep(0.2)
    return browser.get(answer.headers["X-Go-To"])


def test_a_form_is_handed_on_in_si() -> None:
    more = {"read.flue_oxygen": "4.5", "unsure.tank_temperature_K": "0.9", "read.heat_drawn_W": ""}
    head, row = readings_of_form(FORM | more, "US").splitlines()
    values = dict(zip(head.split(","), map(float, row.split(",")), strict=True))
    assert values["tank_temperature (K)"] == pytest.approx((150.0 + 459.67) / 1.8)
    assert values["tank_temperature uncertainty (K)"] == pytest.approx(0.5)  # a difference: no offset
    assert values["evaporation (kg/s)"] == pytest.approx(10.0 * 3.785411784 * 0.9982 / 3600.0)
    assert values["pressure (Pa)"] == pytest.approx(29.2 * 3386.389)
    assert values["feed_temperature (K)"] == pytest.approx(287.55)
    assert values["flue_oxygen (%)"] == pytest.approx(4.5)
    assert "heat_drawn (W)" not in values


def test_what_is_missing_or_cannot_be_is_named_and_what_was_typed_stays(local: Site, pat: Browser) -> None:
    path = f"/jobs/{_job(local)}/service/diagnosis"
    page = pat.post(path, FORM | {"read.feed_temperature_K": ""})
    assert page.status_code == 422
    assert "is missing" in page.text
    assert "29.2 inHg" in page.text
    assert "1234 or 1.234" in pat.post(path, FORM | {"read.evaporation_kg_s": "1,234"}).text
    large = pat.post(path, files={"readings": ("r.csv", bytes(4_000_001))})
    assert large.status_code == 422


@pytest.mark.slow
def test_causes_are_weighed_and_kept_in_the_history(local: Site, pat: Browser) -> None:
    pat.post("/jobs/demo")
    job = local.shop.book.listed("nickel")[0].job.id
    page = _followed(pat, pat.post(f"/jobs/{job}/service/diagnosis", FORM))
    assert page.status_code == 200
    assert "Likeliest:" in page.text
    assert "150 °F" in page.text
    assert "not kept yet" in page.text
    address = page.url.path
    assert pat.get(address).text == page.text  # looked at twice, and nothing is kept by looking
    assert ServiceStore(local.shop.database).diagnoses(job) == ()
    local.shop.book.revise(job, 1, Texts(f"{local.shop.book.revision(job).texts.job}\n# a"), by="Kim", note="meanwhile")
    other = local.browser()
    other.post("/who", {"name": "Kim"})
    assert other.get(address).status_code == other.post(address).status_code == 422  # it is Pat's
    for _ in range(2):  # pressed twice, kept once
        page = pat.post(address)
        assert "in the unit&#39;s history" in page.text
    assert pat.get(address).url.path == page.url.path  # the task's page leads on to what was kept
    assert [one.what for one in local.people.audit()].count("diagnosis") == 1
    kept = ServiceStore(local.shop.database).diagnoses(job)
    assert [one.revision for one in kept] == [1]  # whose texts were weighed, not the newest of the moment
    assert [one.who for one in kept] == ["Pat"]
    assert kept[0].readings["feed_temperature_K"]["value"] == pytest.approx(287.55)
    history = pat.get(f"/jobs/{job}/service").text
    assert kept[0].id in history
    listed = pat.get(f"/api/v1/jobs/{job}/diagnoses").json()
    assert listed[0]["likeliest"] == kept[0].found["suspects"][0]["title"]
    pat.post("/preferences", {"units": "SI"})
    assert "65.6 °C" in pat.get(page.url.path).text
    answer = pat.post(f"/jobs/{job}/service/diagnosis", files={"readings": ("r.csv", FILE)})
    again = _followed(pat, answer)
    assert "Likeliest:" in again.text
    broken = pat.post(f"/jobs/{job}/service/diagnosis", files={"readings": ("r.csv", b"one,two\n1,2\n")})
    problem = _followed(pat, broken)
    assert problem.status_code == 422
    assert "/tmp" not in problem.text  # no path of ours


def test_a_diagnosis_is_shown_in_the_readers_units_and_as_text(local: Site, pat: Browser) -> None:
    job, other = _job(local), _job(local)
    store = ServiceStore(local.shop.database)
    made, _ = store.keep(job, 1, {}, FOUND, at=local.clock(), who=SCRIPT)
    page = pat.get(f"/jobs/{job}/service/diagnosis/{made}")
    assert page.status_code == 200
    assert "9.0 °F hotter" in page.text
    assert "about 30 % of the air" in page.text
    assert "No single cause" in page.text
    assert SCRIPT not in page.text
    assert SCRIPT not in pat.get(f"/jobs/{job}/service").text
    assert pat.get(f"/jobs/{other}/service/diagnosis/{made}").status_code == 404
    assert pat.get(f"/api/v1/jobs/{other}/diagnoses/{made}").status_code == 404
    assert pat.get(f"/api/v1/jobs/{job}/diagnoses/{made}").json()["probability"] == 0.8


def test_the_history_has_everything_in_order(local: Site, pat: Browser) -> None:
    job = _job(local)
    local.clock.at += 100.0
    open_invented(local.shop.database.records, local.shop.book, job)
    local.clock.at += 100.0
    ServiceStore(local.shop.database).keep(job, 1, {}, FOUND, at=local.clock(), who="Pat")
    local.clock.at += 100.0
    pat.post(f"/jobs/{job}/service/in-service", {"words": "first batch"})
    listed = pat.get(f"/api/v1/jobs/{job}/history").json()
    assert [one["what"] for one in listed] == ["in service", "diagnosis", "dry run", "revision 1"]
    page = pat.get(f"/jobs/{job}/service").text
    assert f"/jobs/{job}/acceptance/{RUN}" in page
    assert "first batch" in page
    assert local.shop.book.stage(job) == "in service"


def test_who_may_do_what(shared: Site) -> None:
    job = _job(shared)
    technician, viewer = shared.signed_in("Tim", "technician"), shared.signed_in("Vic", "viewer")
    assert viewer.get(f"/jobs/{job}/service").status_code == 200
    assert viewer.get(f"/jobs/{job}/service/diagnosis").status_code == 403
    assert viewer.post(f"/jobs/{job}/service/diagnosis", FORM).status_code == 403
    assert technician.get(f"/jobs/{job}/service/diagnosis").status_code == 200
    for browser in (technician, viewer):
        assert browser.get(f"/jobs/{job}/service/refit").status_code == 403
        assert browser.post(f"/jobs/{job}/service/refit", {"tower": "x", "runs": [RUN]}).status_code == 403
        assert browser.post(f"/jobs/{job}/service/in-service", {}).status_code == 403


def test_a_refit_wants_runs_that_were_accepted_and_signed(local: Site, pat: Browser) -> None:
    job = _job(local)
    open_invented(local.shop.database.records, local.shop.book, job)
    assert "No run has an accepted result" in pat.get(f"/jobs/{job}/service/refit").text
    answer = pat.post(f"/jobs/{job}/service/refit", {"tower": "x", "runs": [RUN]})
    assert answer.status_code == 422
    assert "no accepted run" in answer.text
    assert pat.get(f"/jobs/{job}/service/refit/nothing").status_code == 422
