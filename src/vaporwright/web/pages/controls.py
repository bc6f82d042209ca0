"""The control of a job: its matrix, temperatures with reasons, proof, troubleshooting guide, files to keep."""

from __future__ import annotations

from typing import Any, Final

from fastapi import APIRouter, Request
from fastapi.responses import Response

from vaporwright.actions.control_desk import FILES, Written, written
from vaporwright.actions.control_job import ControlledJob
from vaporwright.controls.unit_table import CONTROL_CAUTION
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.telling import unheard
from vaporwright.web.context import (
    Stop,
    book,
    download,
    file_name_of,
    is_partial,
    note,
    redirect,
    render,
    require,
    require_name,
    shop,
    viewer,
)
from vaporwright.web.controlled import Entry, controlled
from vaporwright.web.controls_view import (
    fallen_view,
    faults_view,
    figures_view,
    guide_view,
    headline,
    matrix_view,
    proof_headline,
)
from vaporwright.web.working import TaskState

STOP: Final = Stop("controls", "Controls", "/jobs/{job}/controls", 2)
TABS: Final = (
    ("run", "Simulated unit", "/run"),
    ("train", "Trainer", "/train"),
    ("matrix", "Matrix", ""),
    ("settings", "Temperatures and delays", "/settings"),
    ("proof", "Proof", "/proof"),
    ("guide", "Why did it stop", "/guide"),
)
router = APIRouter()


def entry_of(request: Request, job: str) -> Entry:
    """The newest revision of a job, as this server has its control in hand."""
    revision = book(request).revision(job)
    return controlled(request).entry(job, revision.number, revision.texts)


def tabs_of(job: str) -> list[tuple[str, str, str]]:
    """The parts of this stop."""
    return [(key, words, f"/jobs/{job}/controls{path}") for key, words, path in TABS]


def page(request: Request, job: str, template: str, tab: str, **data: Any) -> Response:
    """A page of this stop."""
    common: dict[str, Any] = {"job": book(request).job(job), "stop": "controls", "tab": tab, "tabs": tabs_of(job)}
    return render(request, template, **common, caution=CONTROL_CAUTION, **data)


def waiting(request: Request, job: str, state: TaskState, words: str, tab: str) -> Response:
    """The page, or the part of one, that asks again by itself until the work is done."""
    template = "partials/controls_progress.html" if is_partial(request) else "controls_wait.html"
    return page(request, job, template, tab, state=state, words=words, here_again=request.url.path)


def _prepared_or_waiting(request: Request, job: str, tab: str) -> tuple[Entry, Response | None]:
    """The entry of a job, and what to answer where it is not prepared yet."""
    entry = entry_of(request, job)
    state = controlled(request).preparing(entry)
    if state is not None:
        return entry, waiting(request, job, state, "The unit is sized, and its table made from it.", tab)
    if is_partial(request):
        return entry, redirect(request, request.url.path)
    return entry, None


@router.get("/jobs/{job}/controls")
def matrix(request: Request, job: str) -> Response:
    """The matrix, every row with its reason; the files that come from it."""
    entry, wait = _prepared_or_waiting(request, job, "matrix")
    if wait is not None:
        return wait
    known: ControlledJob = entry.known.controlled
    columns, rows = matrix_view(known)
    return page(
        request,
        job,
        "controls.html",
        "matrix",
        sentence=headline(known),
        columns=columns,
        rows=rows,
        files=tuple(FILES),
        alarms=sum(bool(row.alarm) for row in rows),
        heat=known.unit.heat,
    )


@router.get("/jobs/{job}/controls/settings")
def settings(request: Request, job: str) -> Response:
    """Temperatures and delays, each with its reason."""
    entry, wait = _prepared_or_waiting(request, job, "settings")
    if wait is not None:
        return wait
    sections = figures_view(entry.known.controlled, viewer(request).units)
    return page(request, job, "controls_settings.html", "settings", sections=sections)


@router.get("/jobs/{job}/controls/guide")
def guide(request: Request, job: str) -> Response:
    """From symptom to cause, worked out from the table."""
    entry, wait = _prepared_or_waiting(request, job, "guide")
    if wait is not None:
        return wait
    symptoms = guide_view(entry.known.controlled)
    return page(request, job, "controls_guide.html", "guide", symptoms=symptoms)


@router.get("/jobs/{job}/controls/proof")
def proof(request: Request, job: str) -> Response:
    """What is proved of the table; it is proved when the page is first looked at."""
    entry, here = entry_of(request, job), controlled(request)
    state = here.proving(entry, with_faults=False, begin=True)
    if state is not None:
        return waiting(request, job, state, "Every property is proved over every input, timer and memory.", "proof")
    faults = here.proving(entry, with_faults=True, begin=False)
    if is_partial(request):
        if faults is None:
            return redirect(request, request.url.path)
        return waiting(request, job, faults, FAULTS_WORDS, "proof")
    return _proof_page(request, job, entry, faults)


FAULTS_WORDS: Final = "Each contact is stuck either way, and every claim is proved again: a few minutes."


def _proof_page(request: Request, job: str, entry: Entry, faults: TaskState | None) -> Response:
    proved = entry.proof
    assert proved is not None
    counts, stuck = faults_view(proved)
    return page(
        request,
        job,
        "controls_proof.html",
        "proof",
        sentence=proof_headline(proved),
        proofs=proved.proofs,
        fallen=fallen_view(proved),
        never_act=proved.never_act,
        tried=len(proved.faults),
        counts=counts,
        stuck=stuck,
        holds=proved.holds,
        under_way=faults,
        faults_words=FAULTS_WORDS,
        here_again=request.url.path,
        is_settled=any(
            one.stage == "controls" and one.mark is not None and not one.of_older for one in book(request).way(job)
        ),
    )


@router.post("/jobs/{job}/controls/proof/faults")
def prove_faults(request: Request, job: str) -> Response:
    """Begin the look at every single fault."""
    require(request, "engineer", "technician")
    controlled(request).proving(entry_of(request, job), with_faults=True, begin=True)
    return redirect(request, f"/jobs/{job}/controls/proof")


@router.post("/jobs/{job}/controls/settle")
def settle(request: Request, job: str) -> Response:
    """Mark that the control of this revision is settled; its proof must hold."""
    who = require_name(request, "engineer")
    entry = entry_of(request, job)
    if entry.proof is None or not entry.proof.holds:
        raise InputError("controls", "proof", "does not hold for this revision", "a table whose properties are proved")
    book(request).mark(job, "controls", entry.revision, by=who.name, note=proof_headline(entry.proof))
    note(request, "controls settled", job, f"revision {entry.revision}")
    return redirect(request, f"/jobs/{job}/controls/proof", f"The control of revision {entry.revision} is settled.")


@router.get("/jobs/{job}/controls/files/{kind}")
def file(request: Request, job: str, kind: str) -> Response:
    """A file that comes from the table."""
    entry = entry_of(request, job)
    made: Written = shop(request).working.run(_written, entry.texts, kind, viewer(request).units)
    stem = file_name_of(book(request).job(job).name)
    return download(made.content, f"{stem}_r{entry.revision}_{made.name}", made.media_type)


def _written(texts: Any, kind: str, system: str) -> Written:
    return written(unheard, texts, kind, system)
