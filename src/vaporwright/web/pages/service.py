"""Start-up and service: the site test, why a unit falls short, its history, refits of the catalogue."""

from __future__ import annotations

import io
from dataclasses import dataclass, fields
from typing import Annotated, Any, Final

from fastapi import APIRouter, Form, HTTPException, Request
from fastapi.responses import Response

from vaporwright.acceptance.run.log import SteadyReadings
from vaporwright.acceptance.steps.outcomes import PASSES
from vaporwright.actions.floor_work import with_shown_unit
from vaporwright.actions.tested_job import CATALOGUE
from vaporwright.display_units import show, shown_unit
from vaporwright.documents.measured_words import moment_text
from vaporwright.files.log_columns import stem
from vaporwright.files.service_readings_file import SERVICE_COLUMNS, UNCERTAINTY, ServiceColumn
from vaporwright.files.typed_reading import is_blank, read_number
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.notice import Notice
from vaporwright.store.service_store import KeptDiagnosis, ServiceStore
from vaporwright.web.context import (
    Stop,
    Viewer,
    bar_of,
    book,
    download,
    file_name_of,
    note,
    redirect,
    render,
    require,
    require_name,
    shop,
    viewer,
)
from vaporwright.web.errors import Problem, problem_of
from vaporwright.web.floor import state_of, words_of
from vaporwright.web.floor_tasks import Refit, diagnosis_in_pool, refit_in_pool
from vaporwright.web.naming import as_named

STOP: Final = Stop("service", "Service", "/jobs/{job}/service", 5)
WORKERS: Final = ("engineer", "technician")
LARGEST_FILE_bytes: Final = 4_000_000
LEAST_SHOWN: Final = 0.02  # probability of a cause that is worth a line
NEEDED: Final = tuple(one.name for one in fields(SteadyReadings) if one.default is not None)
# The SI unit in which a form's values are handed on, as a header of a readings file has it.
_HANDED_ON: Final = {
    "temperature": "K",
    "absolute pressure": "Pa",
    "liquid flow": "m3/s",
    "air flow": "m3/s",
    "evaporation": "kg/s",
    "heat": "W",
    "fraction": "%",
}
router = APIRouter()

Typed = Annotated[str, Form()]


@dataclass(frozen=True)
class Happened:
    """A line of a unit's history."""

    at: float
    what: str
    who: str
    words: str
    address: str


@router.get("/jobs/{job}/service")
def service(request: Request, job: str) -> Response:
    """What there is to do for a unit in service, and what has happened to it."""
    entry = book(request).job(job)
    return render(
        request, "service.html", job=entry, stop="service", history=history_of(request, job), workers=_may_work(request)
    )


def _may_work(request: Request) -> bool:
    return viewer(request).may(*WORKERS)


def history_of(request: Request, job: str) -> list[Happened]:
    """Revisions, runs, diagnoses and stages of a unit, newest first."""
    here = shop(request)
    found = [
        Happened(
            one.made_at, f"revision {one.number}", one.made_by, one.note, f"/jobs/{job}/file?revision={one.number}"
        )
        for one in here.book.revisions(job)
    ]
    for link in here.book.runs(job):
        state = state_of(here, link.run)
        outcome = "" if state.result is None else f"performance run {state.result.outcome}; "
        standing = "closed" if state.closed else "signed" if state.covering else "void" if state.void else "open"
        who = state.opened.who if state.opened else ""
        words = f"{outcome}{standing}"
        what = "dry run" if state.kind == "dry run" else f"{state.kind or 'test'} run"
        found.append(Happened(link.at, what, who, words, f"/jobs/{job}/acceptance/{link.run}"))
    for one in ServiceStore(here.database).diagnoses(job):
        likeliest = one.found["suspects"][0]
        words = f"{likeliest['title']} ({likeliest['probability']:.0%})"
        found.append(Happened(one.at, "diagnosis", one.who, words, f"/jobs/{job}/service/diagnosis/{one.id}"))
    for mark in here.book.marks(job):
        if mark.stage in ("shipped", "in service"):
            found.append(Happened(mark.at, mark.stage, mark.who, mark.note, ""))
    return sorted(found, key=lambda one: one.at, reverse=True)


@router.post("/jobs/{job}/service/in-service")
def in_service(request: Request, job: str, your_name: Typed = "", words: Typed = "") -> Response:
    """Note that a unit is in service."""
    require(request, "engineer")
    who = as_named(request, your_name, "engineer")
    newest = book(request).job(job).revision
    book(request).mark(job, "in service", newest, by=who.name, note=words.strip()[:400])
    note(request, "unit in service", job)
    return redirect(request, f"/jobs/{job}/service", "Noted: the unit is in service.")


# Diagnosis


@router.get("/jobs/{job}/service/diagnosis")
def diagnosis_form(request: Request, job: str) -> Response:
    """Readings from a form or a file."""
    require(request, *WORKERS)
    return _form_page(request, job, {})


@router.post("/jobs/{job}/service/diagnosis")
async def diagnose(request: Request, job: str) -> Response:
    """Begin to weigh the causes."""
    from anyio import to_thread

    content, name = b"", ""
    async with request.form() as form:
        typed = {key: value for key, value in form.items() if isinstance(value, str)}
        upload = form.get("readings")
        if upload is not None and not isinstance(upload, str):
            content, name = await upload.read(LARGEST_FILE_bytes + 1), upload.filename or ""
    return await to_thread.run_sync(_diagnose, request, job, typed, content, name)


def _diagnose(request: Request, job: str, typed: dict[str, str], content: bytes, name: str) -> Response:
    require(request, *WORKERS)
    revision = book(request).revision(job)
    try:
        who = as_named(request, typed.get("your_name", ""), *WORKERS)
        if len(content) > LARGEST_FILE_bytes:
            raise InputError("readings", "", "the file is too large", "at most 4 MB")
        suffix = ".xlsx" if name.casefold().endswith(".xlsx") else ".csv"
        if not content:
            content = readings_of_form(typed, who.units).encode()
    except InputError as error:
        return _form_page(request, job, typed, problem_of(error))
    order = (revision.number, revision.texts, content, suffix, typed.get("new_unit", "") == "")
    task = shop(request).working.start(_owner(who, job), diagnosis_in_pool, *order)
    return redirect(request, f"/jobs/{job}/service/weighing/{task}")


def readings_of_form(typed: dict[str, str], units: str) -> str:
    """The fields of the form as a file of readings, in SI. Raises: InputError naming the reading."""
    heads, cells = [], []
    for column in SERVICE_COLUMNS:
        for name, quantity, key in (
            (column.name, column.quantity, f"read.{column.name}"),
            (f"{stem(column.name)}{UNCERTAINTY}", _difference(column.quantity), f"unsure.{column.name}"),
        ):
            text = typed.get(key, "")
            if is_blank(text):
                if key in {f"read.{one}" for one in NEEDED}:
                    raise InputError("readings", key, f"{column.label}: is missing", "a value with its unit")
                continue
            plain = with_shown_unit(text, quantity, "", units)
            value = read_number(plain, quantity, where="readings", key=key)
            unit = _HANDED_ON.get(quantity, _HANDED_ON.get(column.quantity, ""))
            shown = 100.0 * value if unit == "%" else value
            label = stem(column.name) if name == column.name else name
            heads.append(f"{label} ({unit})")
            cells.append(f"{shown:.9g}")
    out = io.StringIO()
    out.write(",".join(heads) + "\n" + ",".join(cells) + "\n")
    return out.getvalue()


def _difference(quantity: str) -> str:
    return {"temperature": "temperature difference", "absolute pressure": "pressure"}.get(quantity, quantity)


def _owner(who: Viewer, job: str) -> str:
    return f"{who.account or who.token} {job}"


@router.get("/jobs/{job}/service/weighing/{task}")
def weighing(request: Request, job: str, task: str) -> Response:
    """How far it is; when it is done, the diagnosis, to be kept or not."""
    who = require(request, *WORKERS)
    found = shop(request).working.task(_owner(who, job), task)
    if found.done and found.error is None:
        if ServiceStore(shop(request).database).diagnosis(job, task) is not None:
            return redirect(request, f"/jobs/{job}/service/diagnosis/{task}")
        weighed = KeptDiagnosis(task, job, found.result[0], shop(request).clock(), who.name, *found.result[1:])
        return _diagnosis_page(request, weighed, is_kept=False)
    problem = problem_of(found.error) if isinstance(found.error, Exception) else None
    return render(
        request,
        "service_weighing.html",
        status=problem.status if problem else 200,
        job=book(request).job(job),
        stop="service",
        task=found,
        problem=problem,
        title="Weighing the causes",
        again=f"/jobs/{job}/service/diagnosis",
        live=f"/jobs/{job}/service/weighing/{task}/live",
    )


@router.post("/jobs/{job}/service/weighing/{task}")
def keep_weighed(request: Request, job: str, task: str) -> Response:
    """Keep the diagnosis of a task in the unit's history, once."""
    who = require_name(request, *WORKERS)
    found = shop(request).working.task(_owner(who, job), task)
    if not found.done or found.error is not None:
        return redirect(request, f"/jobs/{job}/service/weighing/{task}")
    kept, at = ServiceStore(shop(request).database), shop(request).clock()
    made, is_new = kept.keep(job, *found.result, at=at, who=who.name, identifier=task)
    if is_new:
        note(request, "diagnosis", job, found.result[2]["suspects"][0]["title"])
    return redirect(request, f"/jobs/{job}/service/diagnosis/{made}", "The diagnosis is in the unit's history.")


@router.get("/jobs/{job}/service/weighing/{task}/live")
def weighing_live(request: Request, job: str, task: str) -> Response:
    """The bar of it."""
    who = require(request, *WORKERS)
    found = shop(request).working.task(_owner(who, job), task)
    return bar_of(request, found, f"/jobs/{job}/service/weighing/{task}")


@router.get("/jobs/{job}/service/diagnosis/{identifier}")
def diagnosis_page(request: Request, job: str, identifier: str) -> Response:
    """A diagnosis as it was made, in the reader's units."""
    kept = ServiceStore(shop(request).database).diagnosis(job, identifier)
    if kept is None:
        raise HTTPException(404, "there is no such diagnosis of this job")
    return _diagnosis_page(request, kept, is_kept=True)


def _diagnosis_page(request: Request, found: KeptDiagnosis, *, is_kept: bool) -> Response:
    shown = _diagnosis_shown(request, found)
    job = book(request).job(found.job)
    return render(request, "service_diagnosis.html", job=job, stop="service", is_kept=is_kept, **shown)


def _diagnosis_shown(request: Request, kept: KeptDiagnosis) -> dict[str, Any]:
    system, found = viewer(request).units, kept.found
    split = Notice(
        "first split", found["split"]["text"], tuple((value, name) for value, name in found["split"]["figures"])
    )
    likeliest, second = found["suspects"][0], found["suspects"][1] if len(found["suspects"]) > 1 else None
    reading = found["next"]
    return {
        "kept": kept,
        "split": words_of(split, system),
        "likeliest": likeliest,
        "suspects": [
            one | {"severity_shown": _severity(one, system)}
            for one in found["suspects"]
            if one["probability"] >= LEAST_SHOWN
        ],
        "explained": found["explained"],
        "next": None
        if reading is None or second is None
        else {
            "label": reading["label"],
            "first": show(reading["first"], reading["quantity"], system),
            "second": show(reading["second"], reading["quantity"], system),
            "first_title": likeliest["title"],
            "second_title": second["title"],
        },
        "rows": [
            (one["label"], *(show(one[key], one["quantity"], system) for key in ("read", "predicted", "likeliest")))
            for one in found["rows"]
        ],
    }


def _severity(one: dict[str, Any], system: str) -> str:
    if one["severity"] is None:
        return ""
    return f"about {show(one['severity'], one['severity_quantity'], system, 2)} {one['severity_label']}"


def _form_page(request: Request, job: str, typed: dict[str, str], problem: Problem | None = None) -> Response:
    system = viewer(request).units

    def shown(one: ServiceColumn) -> tuple[ServiceColumn, str, bool]:
        return one, shown_unit(one.quantity, system).text, one.name in NEEDED

    ordered = sorted(SERVICE_COLUMNS, key=lambda one: one.name not in NEEDED)
    return render(
        request,
        "service_form.html",
        status=problem.status if problem else 200,
        job=book(request).job(job),
        stop="service",
        columns=[shown(one) for one in ordered],
        difference_unit=lambda one: shown_unit(_difference(one.quantity), system).text,
        typed=typed,
        problem=problem,
    )


# Refits of the catalogue


@router.get("/jobs/{job}/service/refit")
def refit_page(request: Request, job: str) -> Response:
    """Choose a tower and the accepted runs that speak for it."""
    require(request, "engineer")
    return _refit_page(request, job)


@router.post("/jobs/{job}/service/refit")
def refit(request: Request, job: str, tower: Typed = "", runs: Annotated[list[str] | None, Form()] = None) -> Response:
    """Begin to refine a tower's law."""
    who = require(request, "engineer")
    texts = book(request).revision(job).texts
    fitting = {run for run, _ in accepted_runs(request)}
    chosen = tuple(run for run in runs or () if run in fitting)
    if not chosen or not tower.strip():
        problem = "no accepted run was chosen" if not chosen else "no tower was named"
        return _refit_page(request, job, problem_of(InputError("refit", "", problem, "both")))
    order = (shop(request).settings.store, texts.catalogue, tower.strip(), chosen)
    task = shop(request).working.start(_owner(who, job), refit_in_pool, *order)
    note(request, "refit", job, tower)
    return redirect(request, f"/jobs/{job}/service/refit/{task}")


@router.get("/jobs/{job}/service/refit/{task}")
def refit_shown(request: Request, job: str, task: str) -> Response:
    """The law before and after."""
    who = require(request, "engineer")
    found = shop(request).working.task(_owner(who, job), task)
    if not found.done:
        return render(
            request,
            "service_weighing.html",
            job=book(request).job(job),
            stop="service",
            task=found,
            problem=None,
            title="Refining the law",
            again=f"/jobs/{job}/service/refit",
            live=f"/jobs/{job}/service/refit/{task}/live",
        )
    problem = problem_of(found.error) if isinstance(found.error, Exception) else None
    return _refit_page(request, job, problem, None if problem else found.result, task)


@router.get("/jobs/{job}/service/refit/{task}/live")
def refit_live(request: Request, job: str, task: str) -> Response:
    """The bar of it."""
    who = require(request, "engineer")
    found = shop(request).working.task(_owner(who, job), task)
    return bar_of(request, found, f"/jobs/{job}/service/refit/{task}")


@router.get("/jobs/{job}/service/refit/{task}/catalogue.toml")
def refit_file(request: Request, job: str, task: str) -> Response:
    """A copy of the shop's catalogue with the refined law in it."""
    who = require(request, "engineer")
    found = shop(request).working.task(_owner(who, job), task)
    if not found.done or found.error is not None or not found.result.written:
        raise HTTPException(404, "there is no refined catalogue here")
    name = f"{file_name_of(book(request).job(job).name)}_{CATALOGUE}"
    return download(found.result.written, name, "application/toml; charset=utf-8")


def accepted_runs(request: Request) -> list[tuple[str, str]]:
    """Runs of the shop's jobs that were accepted and signed: name, and what they are of."""
    here, found = shop(request), []
    for listed in (*here.book.listed(), *here.book.listed(archived=True)):
        for link in here.book.runs(listed.job.id):
            state = state_of(here, link.run)
            accepted = state.result is not None and state.result.outcome in PASSES
            if accepted and state.signed_by("engineer") is not None and state.void is None:
                when = moment_text(state.opened.at) if state.opened else ""
                found.append((link.run, f"{state.job}, {when}, {state.unit}"))
    return found


def _refit_page(
    request: Request, job: str, problem: Problem | None = None, result: Refit | None = None, task: str = ""
) -> Response:
    texts = book(request).revision(job).texts
    towers, runs = _towers(texts.catalogue), accepted_runs(request)
    likely = next((key for key, name in towers for _, words in runs if f"{name}," in words), "")
    return render(
        request,
        "service_refit.html",
        status=problem.status if problem else 200,
        job=book(request).job(job),
        stop="service",
        runs=runs,
        towers=towers,
        likely=likely,
        has_catalogue=texts.catalogue is not None,
        problem=problem,
        result=result,
        task=task,
    )


def _towers(catalogue: str | None) -> list[tuple[str, str]]:
    """Id and name of each tower of the job's catalogue, or of the invented one."""
    import tempfile
    from pathlib import Path

    from vaporwright.files.catalogue_file import read_catalogue_file

    if catalogue is None:
        return [(key, one.name) for key, one in read_catalogue_file(None).towers.items()]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "catalogue.toml"
        path.write_text(catalogue, encoding="utf-8", newline="\n")
        return [(key, one.name) for key, one in read_catalogue_file(path).towers.items()]
