"""A whole job in a real browser: from the empty list to a signed certificate, on a unit that is simulated.

What a person does once is done on the pages: taking the job in, sizing, controls, opening the test, the first steps,
the performance run, signatures, certificate. The many readings between come through the interface for programs, and
the points that the witness accepts through the form of their page, in the same session.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any, Final

import pytest
from playwright.sync_api import Browser, Page, expect

from page_forms import form_in
from real_browser import Watched, watched
from vaporwright.acceptance.quality.as_built import AsBuilt
from vaporwright.acceptance.quality.simulated_floor import SimulatedFloor, subject_of
from vaporwright.acceptance.record.events import RegisterInstrument
from vaporwright.acceptance.run.simulated import RunOptions, simulate_run
from vaporwright.acceptance.sections.performance import LOG
from vaporwright.acceptance.steps.day import usual_day
from vaporwright.acceptance.steps.instruments import is_number
from vaporwright.acceptance.steps.outcomes import PASSES
from vaporwright.acceptance.steps.procedure import Step
from vaporwright.acceptance.steps.readings import Reading
from vaporwright.actions.accept_run import hold_up_kg
from vaporwright.actions.control_job import control_job
from vaporwright.actions.desk import Desk
from vaporwright.actions.job_book import laid_out
from vaporwright.display_units import to_shown
from vaporwright.documents.measured_words import paper_quantity
from vaporwright.documents.pdf_signing import verify_signed_pdf
from vaporwright.files.log_columns import stem
from vaporwright.store.commit import load_state
from vaporwright.store.database import Database
from vaporwright.store.export import verify_export
from vaporwright.store.job_store import Texts
from vaporwright.unit.as_found import AsFound
from vaporwright.unit.levels import levels_of
from web_server import WebServer, web_server

pytestmark = pytest.mark.slow
ENGINEER, WITNESS = "Ada Invented", "Wilma Invented"
SIGNERS: Final = {"technician": "Tim Invented", "engineer": ENGINEER, "witness": WITNESS}
PINS: Final = {"engineer": "314159", "technician": "161803", "witness": "271828"}
DUE = "2099-12-31"
PAPERS: Final = (("button", "Sign it with a key made now"), ("link", "Export the record"))
ON_THE_PAGES = 3  # readings that are typed into a page
TRIES = 4
UNITS: Final = {
    "_m3_s": "m3/s", "_kg_m3": "kg/m3", "_K": "K", "_Pa": "Pa", "_kg": "kg", "_m3": "m3", "_m": "m", "_J": "J"
}  # fmt: skip


class Job:
    """The job under way, with the simulated unit that is built for it."""

    def __init__(self, person: Watched, server: WebServer) -> None:
        self.person, self.server = person, server
        self.page: Page = person.page
        self.id, self.run = "", ""
        self.floor: SimulatedFloor | None = None

    @property
    def path(self) -> str:
        return f"/jobs/{self.id}"

    @property
    def run_path(self) -> str:
        return f"{self.path}/acceptance/{self.run}"

    def build(self) -> None:
        """Work out the unit of the newest revision, and build it as designed."""
        text = self.page.request.get(f"{self.path}/file").text()
        with laid_out(Texts(text)) as path:
            self.controlled = control_job(path)
        self.day = usual_day(self.controlled.answer)
        self.subject = subject_of(self.controlled.answer, self.controlled.unit, self.day)
        self.floor = SimulatedFloor(self.subject, built=AsBuilt(AsFound()), seed=1)

    def posts(self, path: str, page: str, **form: str) -> None:
        """Send the form that a page has for this address, filled in."""
        known = form_in(self.page.request.get(page).text(), action=path)
        answer = self.page.request.post(path, form={**known, **form}, max_redirects=0)
        assert answer.status == 303, answer.text()[:2000]

    def enters(self, **entry: Any) -> dict[str, Any]:
        """An entry of the floor, as a program sends it."""
        sent = {"event_id": str(uuid.uuid4()), "typed_by": ENGINEER, **entry}
        answer = self.page.request.post(f"/api/v1/runs/{self.run}/entries", data=sent, headers={"X-Vaporwright": "1"})
        assert answer.status == 200, (entry, answer.text()[:500])
        found: dict[str, Any] = answer.json()
        return found


@pytest.fixture
def job(browser: Browser, tmp_path: Path) -> Iterator[Job]:
    with web_server(tmp_path) as server, watched(browser, server.address) as person:
        yield Job(person, server)
        assert server.said == ""


def test_from_the_empty_list_to_a_signed_certificate(job: Job, tmp_path: Path) -> None:
    _takes_the_job_in(job)
    _sizes_it(job)
    _looks_at_its_controls(job)
    _opens_the_test(job)
    _performs_the_steps(job)
    _settles_its_controls(job)
    _signs(job)
    _has_the_certificate(job, tmp_path)


def _takes_the_job_in(job: Job) -> None:
    page = job.person.goes("/")
    expect(page.get_by_text("No job yet")).to_be_visible()
    page.get_by_role("link", name="Begin a job").click()
    page.get_by_label("Name of the job").fill("Rinse water")
    page.get_by_label("To be got rid of").fill("2850 L/week")
    page.locator("form[action='/jobs/new']").get_by_label("Your name").fill(ENGINEER)
    page.get_by_role("button", name="Begin the job").click()
    expect(page.get_by_text("Rinse water is in the book.")).to_be_visible()
    job.id = page.url.rpartition("/")[2]
    page.goto(f"/who?next={job.path}")
    for one in page.locator("main input[type=checkbox]").all():  # electrician, burner technician
        one.check()
    page.get_by_role("button", name="That is me").click()


def _sizes_it(job: Job) -> None:
    page = job.page
    page.goto(f"{job.path}/sizing")
    expect(page.locator("#live .sentence, #live p").first).to_be_visible(timeout=60_000)
    page.locator("#full[data-key], #full h2, #full table").first.wait_for(timeout=60_000)
    page.locator("details.group").evaluate_all("(all) => all.forEach((one) => { one.open = true; })")
    page.locator("[name='choices.heat_source']").select_option("electric")
    page.locator("[name='utilities.electric_limit']").fill("60 kW")
    page.locator("#enquiry").get_by_label("Why it changes").fill("no gas at the site")
    page.get_by_role("button", name="Save as revision 2").click()
    expect(page.get_by_text("Revision 2 is in the book.")).to_be_visible()
    page.locator("#hand:not([value=''])").wait_for(state="attached", timeout=60_000)  # the choice has been made
    page.get_by_role("button", name="Settle on this unit").click()
    expect(page.get_by_text(re.compile(r"Sized: revision 3"))).to_be_visible(timeout=60_000)
    expect(page.locator("header .state")).to_have_text("sized")


def _looks_at_its_controls(job: Job) -> None:
    page = job.page
    page.goto(f"{job.path}/controls")
    page.get_by_role("link", name="Run the simulated unit").click(timeout=60_000)
    page.locator("form[action$='/run/begin'] button").click()
    page.locator("button[data-push=start]").click()
    expect(page.locator("#emergency-stop")).to_be_visible()
    page.goto(f"{job.path}/controls/proof")  # it is proved while the test is opened
    expect(page.get_by_role("progressbar").or_(page.get_by_role("heading", name="Proof")).first).to_be_visible()


def _settles_its_controls(job: Job) -> None:
    page = job.page
    page.goto(f"{job.path}/controls/proof")
    page.get_by_role("button", name="Settle the control of this revision").click(timeout=180_000)
    expect(page.get_by_text(re.compile("^The control of revision 3 is settled")).first).to_be_visible()


def _opens_the_test(job: Job) -> None:
    job.build()
    page = job.page
    page.goto(f"{job.path}/acceptance/new")
    page.get_by_label(re.compile("^witnessed")).check()
    day = job.day
    typed = {
        "air_temperature_K": f"{day.air_temperature_K} K",
        "wet_bulb_K": f"{day.wet_bulb_K} K",
        "pressure_Pa": f"{day.pressure_Pa} Pa",
        "elevation_m": f"{day.elevation_m} m",
        "water_temperature_K": f"{day.water_temperature_K} K",
        "supply_voltage_V": f"{day.supply_voltage_V} V",
        "duct_loss_Pa": f"{day.duct_loss_Pa} Pa",
    }
    for name, text in typed.items():
        page.locator(f"[name='day.{name}']").fill(text)
    page.locator("[name=no_dry_run]").fill("the unit is simulated")
    page.get_by_role("button", name="Open the run").click()
    page.wait_for_url(re.compile(r"/acceptance/witnessed-"), timeout=120_000)
    job.run = page.url.rpartition("/")[2]
    _registers_the_instruments(job)


def _registers_the_instruments(job: Job) -> None:
    """One on the page, the others as it would."""
    page, floor = job.page, job.floor
    assert floor is not None
    first, *others = floor.instruments.values()
    page.goto(f"{job.run_path}/instruments")
    form = page.locator("form", has=page.locator("[name=certificate]"))
    form.locator("[name=id]").fill(first.id)
    form.locator("[name=kind]").select_option(first.kind)
    form.locator("[name=title]").fill(first.title)
    form.locator("[name=certificate]").fill(first.certificate)
    form.locator("[name=due]").fill(DUE)
    form.locator("[name=uncertainty]").fill("0.5 %")
    form.get_by_role("button").last.click()
    expect(page.get_by_text("Registered for today: 1.")).to_be_visible()
    with closing(Database(job.server.store)) as database:
        desk = Desk(database.records, ENGINEER, "engineer")
        for one in others:
            desk.enter(job.run, RegisterInstrument(desk.stamp(), replace(one, due=DUE)))


def _performs_the_steps(job: Job) -> None:
    typed = 0
    for step in job.subject.procedure.steps:
        if step.key == LOG:
            _runs_the_performance(job)
        typed += _reads(job, step, on_the_page=typed < ON_THE_PAGES)
        if step.point:
            address = f"{job.run_path}/steps/{step.key}"
            job.posts(f"{address}/point", address, name=WITNESS, proof=PINS["witness"])
    state = _state(job)
    assert state.outstanding == ()


def _reads(job: Job, step: Step, *, on_the_page: bool) -> int:
    """Take the readings of a step, over again where chance has put one beyond its limit; how many were on the page."""
    assert job.floor is not None
    typed = 0
    for attempt in range(TRIES):
        if attempt:
            job.enters(kind="repeat", step=step.key, reason="near the limit by chance", by=WITNESS)
        readings = job.floor.readings(step)
        verdict = "accepted"
        for field in step.fields:
            if field.key not in readings:
                continue
            text = _as_typed(readings[field.key], field.quantity, field.instrument)
            if on_the_page and not attempt and not field.instrument:
                _types(job, step, field.key, field.quantity, text)
                typed += 1
                continue
            with_what = readings[field.key].instrument
            told = job.enters(
                kind="reading", step=step.key, field=field.key, text=text, units="SI", instrument=with_what
            )
            verdict = told["step_verdict"]
        if not any(field.needed for field in step.fields):
            verdict = job.enters(kind="step done", step=step.key)["step_verdict"]
        if verdict in PASSES or typed:
            break
    else:
        raise AssertionError(f"{step.key}: {verdict}")
    return typed


def _types(job: Job, step: Step, field: str, quantity: str, text: str) -> None:
    """Into the step's page, as a technician would."""
    page = job.page
    page.goto(f"{job.run_path}/steps/{step.key}")
    part = page.locator(f"#part-{field}")
    if quantity == "yes or no":
        part.get_by_role("button", name=text.capitalize(), exact=True).click()
    else:
        part.locator("[name=text]").fill(text)
        part.get_by_role("button", name="Enter", exact=True).click()
    expect(part.locator(".taken")).to_be_visible()


def _as_typed(reading: Reading, quantity: str, instrument: str) -> str:
    value = reading.value
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not is_number(value):
        return str(value)
    return f"{to_shown(float(value), paper_quantity(quantity, instrument), 'SI'):.7g}"


def _runs_the_performance(job: Job) -> None:
    page, answer = job.page, job.controlled.answer
    options = RunOptions(calibration=1.0, hold_up_kg=hold_up_kg(answer))
    today = job.subject.under.result
    run = simulate_run(answer.unit, today.conditions, levels_of(answer), seed=1, found=AsFound(), options=options)
    page.goto(f"{job.run_path}/performance")
    page.locator("[name=log]").set_input_files(
        {"name": "run.csv", "mimeType": "text/csv", "buffer": _as_csv(run.log).encode()}
    )
    page.get_by_role("button", name="Take in the rows").click()
    expect(page.get_by_text("The rows are in the record.")).to_be_visible(timeout=60_000)
    page.get_by_role("button", name="Work it out and enter it").click()
    expect(page.get_by_text(re.compile("^Entered: accepted"))).to_be_visible(timeout=120_000)


def _as_csv(log: Any) -> str:
    columns = {"time (s)": log.times_s}
    for name, values in log.columns.items():
        if log.has(name):
            unit = next(unit for ending, unit in UNITS.items() if name.endswith(ending))
            columns[f"{stem(name)} ({unit})"] = values
    rows = [",".join(columns)]
    for place in range(len(log.times_s)):
        rows.append(",".join("" if one[place] is None else repr(float(one[place])) for one in columns.values()))
    return "\n".join(rows) + "\n"


def _signs(job: Job) -> None:
    page = job.page
    for role, name in SIGNERS.items():
        page.goto(f"{job.run_path}/sign")
        form = page.locator("form", has=page.locator("[name=what][value=sign]"))
        form.get_by_label("Name").fill(name)
        form.get_by_label("Role").select_option(role)
        form.locator("[name=proof]").fill(PINS[role])
        form.get_by_role("button", name="Sign").click()
        expect(page.get_by_text(re.compile(f"^Signed by .* as {role}"))).to_be_visible()
    form = page.locator("form", has=page.locator("[name=what][value=release]"))
    form.locator("[name=proof]").fill("000000")  # somebody else's hand
    form.get_by_role("button", name="Release").click()
    expect(page.get_by_role("alert").first).to_contain_text("PIN")
    form.locator("[name=proof]").fill(PINS["engineer"])
    form.get_by_role("button", name="Release").click()
    expect(page.get_by_text("The unit may ship.").first).to_be_visible()


def _has_the_certificate(job: Job, folder: Path) -> None:
    page = job.page
    certificate, record = folder / "certificate.pdf", folder / "record.zip"
    signs, exports = (page.get_by_role(role, name=name) for role, name in PAPERS)
    for place, path in ((signs, certificate), (exports, record)):
        with page.expect_download(timeout=60_000) as found:
            place.click()
        found.value.save_as(path)
    with ThreadPoolExecutor(1) as elsewhere:  # it runs an event loop of its own; the browser's is in this thread
        now = datetime.now().astimezone()
        report = elsewhere.submit(verify_signed_pdf, certificate.read_bytes(), at=now).result()
    assert report.intact
    assert report.covers_whole_file
    state = _state(job)
    assert state.release is not None
    assert {signed.role for signed in state.covering} == {"technician", "engineer", "witness"}
    verified = verify_export(record, state.head)
    assert verified.ok, verified.problem
    page.goto("/verify")
    page.locator("[name=record]").set_input_files(record)
    page.get_by_role("button", name="Verify").click()
    expect(page.locator("main")).to_contain_text(state.head[:16])
    assert page.get_by_role("alert").count() == 0
    page.goto("/jobs")
    expect(page.get_by_role("row", name=re.compile("Rinse water"))).to_contain_text("shipped")


def _state(job: Job) -> Any:
    with closing(Database(job.server.store)) as database:
        return load_state(database.records, job.run)
