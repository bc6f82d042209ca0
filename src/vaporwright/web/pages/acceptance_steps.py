"""One step of a test at a time, beside the unit: what to do, what to read, the verdict at once, points, photographs."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Annotated, Any, Final

from fastapi import APIRouter, Form, HTTPException, Request, UploadFile
from fastapi.responses import Response

from vaporwright.acceptance.record.events import AcceptPoint, Refused
from vaporwright.acceptance.record.state import RunState, TakenReading
from vaporwright.acceptance.steps.instruments import is_number
from vaporwright.acceptance.steps.outcomes import NOT_RUN, PASSES
from vaporwright.acceptance.steps.procedure import TEXT, YES_OR_NO, ReadingField, Step
from vaporwright.acceptance.steps.walk import parts_of
from vaporwright.actions.desk import Desk, fresh_id
from vaporwright.actions.floor_photo import LARGEST_PHOTO_bytes
from vaporwright.actions.floor_work import may_perform, shown_unit_of
from vaporwright.documents.measured_words import expected_text, moment_text, reading_text, times_text
from vaporwright.foundation.errors import InputError
from vaporwright.web.context import SVG_POLICY, Viewer, book, desk_of, redirect, render, shop, viewer
from vaporwright.web.errors import problem_of
from vaporwright.web.floor import (
    REFUSALS,
    OpenedRun,
    desk_by_proof,
    enter,
    kind_of,
    neighbours,
    run_of,
    standing_of,
    step_named_in,
    today,
    words_of,
)
from vaporwright.web.floor_photo import enter_photo
from vaporwright.web.naming import as_named
from vaporwright.web.panel import step_panel_shown

router = APIRouter()

Typed = Annotated[str, Form()]
FEW: Final = 3  # fields that share a reason before it is said once for all


@dataclass(frozen=True)
class FieldShown:
    """A field of a step as its page shows it."""

    key: str
    label: str
    kind: str  # "number", "yes or no" or "text"
    unit: str
    expected: str
    tolerance: str  # what is allowed, where it is more than what is expected
    reason: str
    proven: bool
    instrument: str
    choices: tuple[tuple[str, str], ...]  # instruments of today: id, words
    needed: bool
    taken: TakenReading | None
    words: str
    shown: str  # the reading with its uncertainty, in the reader's units
    verdict_kind: str
    earlier: tuple[TakenReading, ...]

    @property
    def version(self) -> str:
        """Differs when something was entered here."""
        return self.taken.mark.event_id if self.taken else f"open-{len(self.earlier)}-{len(self.choices)}"


@dataclass(frozen=True)
class PartShown:
    """Deeds of a step, numbered from where the part before ended, and the fields that are read after them."""

    begins: int
    deeds: tuple[str, ...]
    fields: tuple[FieldShown, ...]


@router.get("/jobs/{job}/acceptance/{run}/steps/{step}")
def step_page(request: Request, job: str, run: str, step: str) -> Response:
    """One step."""
    opened = run_of(request, job, run)
    return render(
        request,
        "acceptance_step.html",
        job=book(request).job(job),
        stop="acceptance",
        **_shown(request, opened, step_named_in(opened, step)),
    )


@router.get("/jobs/{job}/acceptance/{run}/steps/{step}/live")
def step_live(request: Request, job: str, run: str, step: str, seq: int = -1) -> Response:
    """The parts of it anew, where anything has been entered since."""
    opened = run_of(request, job, run)
    if opened.state.seq == seq:
        return Response(status_code=204)
    return render(request, "acceptance_step_live.html", **_shown(request, opened, step_named_in(opened, step)))


def _shown(request: Request, opened: OpenedRun, step: Step) -> dict[str, Any]:
    who, state = viewer(request), opened.state
    steps = list(state.steps)
    outstanding = {one.key for one in state.outstanding}
    standing = standing_of(state)
    before, after = neighbours(steps, step.key, outstanding)
    first, then = neighbours(steps, step.key, {one.key for one in steps})
    day = today(request)
    return {
        "opened": opened,
        "run": state,
        "step": step,
        "section": next(one for one in state.issues[-1].procedure.sections if step in one.steps),
        "place": [one.key for one in steps].index(step.key) + 1,
        "count": len(steps),
        "standing": standing,
        "parts": _parts(state, step, who.units, day),
        "usual_reason": _usual_reason(step),
        "verdict": state.verdict(step),
        "verdict_kind": kind_of(state.verdict(step)),
        "only_actions": not any(one.needed for one in step.fields),
        "before": before,
        "after": after,
        "first": first,
        "then": then,
        "may_perform": may_perform(who.roles, step),
        "blocked": _blocked(state, step),
        "may_accept": step.point != "" and _accepting_role(who, state) != "",
        "point_ready": state.verdict(step) in PASSES or step.key in state.not_run,
        "has_entries": step.key in state.done or any(key[0] == step.key for key in state.readings),
        "notes": [one for one in state.notes if one.about == step.key],
        "photos": [one for one in state.attachments if one.step == step.key],
        "items": [one for one in state.punch_list if one.step == step.key],
        "moment": moment_text,
        "times": times_text,
        "largest_photo_bytes": LARGEST_PHOTO_bytes,
        "fresh_id": fresh_id,
        "not_run": NOT_RUN,
        **step_panel_shown(request, opened, step),
    }


def _parts(state: RunState, step: Step, system: str, day: str) -> list[PartShown]:
    """What to do and what to read after it, deeds numbered through."""
    parts, number = [], 1
    for part in parts_of(step):
        fields = tuple(_field(state, step, one, system, day) for one in part.fields)
        parts.append(PartShown(number, part.deeds, fields))
        number += len(part.deeds)
    return parts


def _usual_reason(step: Step) -> str:
    """A reason that most fields of a long step share: said once, above them."""
    [(reason, count)] = Counter(one.reason for one in step.fields).most_common(1) or [("", 0)]
    return reason if count >= FEW else ""


def _field(state: RunState, step: Step, one: ReadingField, system: str, day: str) -> FieldShown:
    history = state.history.get((step.key, one.key), ())
    taken = state.current(step.key, one.key)
    registered = [entries[-1] for entries in state.instruments.values() if any(had.day == day for had in entries)]
    fitting = [had.instrument for had in registered if had.instrument.kind == one.instrument]
    kind = one.quantity if one.quantity in (TEXT, YES_OR_NO) else "number"
    asked = expected_text(one, system)
    expected, _, tolerance = asked.partition("; ")
    return FieldShown(
        key=one.key,
        label=one.label,
        kind=kind,
        unit=shown_unit_of(one, system),
        expected=expected,
        tolerance=tolerance,
        reason=one.reason,
        proven=one.limits is not None and one.limits.proven,
        instrument=one.instrument,
        choices=tuple((had.id, f"{had.id}: {had.title}, due {had.due}") for had in fitting),
        needed=one.needed,
        taken=taken,
        words="" if taken is None else words_of(taken.words, system),
        shown=_reading_shown(taken, one, system),
        verdict_kind="" if taken is None else kind_of(taken.outcome),
        earlier=tuple(entry for entry in history if entry is not taken),
    )


def _reading_shown(taken: TakenReading | None, one: ReadingField, system: str) -> str:
    """The reading in the reader's units, where that says more than what was entered."""
    if taken is None or not is_number(taken.reading.value):
        return ""
    return reading_text(float(taken.reading.value), one, system, taken.expanded_uncertainty)


def _blocked(state: RunState, step: Step) -> str:
    """Why nothing can be entered in a step now; the record itself decides, this says it beforehand."""
    if state.closed:
        return "The run is closed."
    if state.void:
        return "The whole test is void."
    if state.covering:
        return "The record is signed. Reopen it, with a reason, to enter more."
    for earlier in state.steps:
        if earlier.key == step.key:
            break
        if earlier.point == "hold" and not state.point_passed(earlier):
            return f"The hold point “{earlier.title}” before this step is not passed."
    agreed = {note.about for note in state.notes if note.kind == "deviation agreed"}
    for key in step.after:
        found = next((one for one in state.steps if one.key == key), None)
        if found is not None and state.verdict(found) not in PASSES and key not in agreed:
            return f"The step “{found.title}” comes first and is not accepted yet."
    return ""


# Points


def _accepting_role(who: Viewer, state: RunState) -> str:
    """In which role somebody may accept points; at the machine itself the witness comes with a PIN."""
    if state.kind == "dry run" and "engineer" in who.roles:
        return "engineer"
    if "witness" in who.roles or (who.is_local and state.kind != "dry run"):
        return "witness"
    return ""


@router.post("/jobs/{job}/acceptance/{run}/steps/{step}/point")
def accept_point(
    request: Request,
    job: str,
    run: str,
    step: str,
    event_id: Typed = "",
    note: Typed = "",
    name: Typed = "",
    proof: Typed = "",
    your_name: Typed = "",
) -> Response:
    """The witness accepts a point; in the shop's dry run the engineer does."""
    opened = run_of(request, job, run)
    step_named_in(opened, step)
    try:
        who = as_named(request, your_name, "engineer", "technician", "witness")
        role = _accepting_role(who, opened.state)
        if not role:
            raise Refused("a point is not for you to accept", "the witness; in the shop's dry run the engineer")
        desk = desk_at_point(request, opened, role, name, proof)
        enter(request, opened, desk, lambda at, _: AcceptPoint(at.stamp(event_id), step, note.strip()))
    except (InputError, *REFUSALS) as error:
        return _step_with_problem(request, opened, step, error)
    return redirect(request, f"{opened.address}/steps/{step}", f"The point is accepted by {desk.who}.")


def desk_at_point(request: Request, opened: OpenedRun, role: str, name: str, proof: str) -> Desk:
    """The desk of whoever accepts a point: with an account by its password again, as at a signature.

    At the machine itself the witness comes by name and PIN; the engineer of the shop's dry run has no witness to show
    anything to.

    Raises: InputError where no name of the witness is typed; REFUSALS.
    """
    who = viewer(request)
    if who.is_local and role in who.roles:
        return desk_of(request, role)
    if who.is_local and not name.strip():
        raise InputError("witness", "name", "is missing", "the witness's own name, and the PIN chosen for this run")
    return desk_by_proof(request, opened.run, name, role, proof)


def _step_with_problem(request: Request, opened: OpenedRun, step: str, error: Exception) -> Response:
    """The step again, with what is wrong."""
    problem = problem_of(error)
    return render(
        request,
        "acceptance_step.html",
        status=problem.status,
        headers=problem.headers,
        job=book(request).job(opened.link.job),
        stop="acceptance",
        problem=problem,
        **_shown(request, opened, step_named_in(opened, step)),
    )


# Photographs and other files


@router.post("/jobs/{job}/acceptance/{run}/steps/{step}/photo")
def attach(
    request: Request,
    job: str,
    run: str,
    step: str,
    event_id: Typed = "",
    your_name: Typed = "",
    photo: UploadFile | None = None,
) -> Response:
    """A photograph, or a paper, that belongs to a step."""
    opened = run_of(request, job, run)
    try:
        who = as_named(request, your_name, "engineer", "technician", "witness")
        enter_photo(request, opened, who, step, photo, event_id)
    except InputError as error:
        return _step_with_problem(request, opened, step, error)
    return redirect(request, f"{opened.address}/steps/{step}", "The file is in the record.")


@router.get("/jobs/{job}/acceptance/{run}/files/{sha256}")
def file(request: Request, job: str, run: str, sha256: str) -> Response:
    """A file of the record, as it was put in; pictures in the page, anything else to keep."""
    opened = run_of(request, job, run)
    found = next((one.attachment for one in opened.state.attachments if one.attachment.sha256 == sha256), None)
    if found is None:
        raise HTTPException(404, "the record has no such file")
    is_picture = found.media_type in ("image/jpeg", "image/png", "image/webp")
    name = "".join(one if one.isascii() and (one.isalnum() or one in "-_.") else "_" for one in found.name)
    headers = {
        "Content-Disposition": f'{"inline" if is_picture else "attachment"}; filename="{name.strip(".") or "file"}"',
        "Content-Security-Policy": f"{SVG_POLICY}; sandbox",
        # Kept by a browser, and asked for each time: who has signed out, or is another person, gets it from no cache.
        "Cache-Control": "private, no-cache",
        "ETag": f'"{sha256}"',
    }
    if request.headers.get("if-none-match") == headers["ETag"]:
        return Response(status_code=304, headers=headers)
    content = shop(request).database.records.get(sha256)
    media_type = found.media_type if is_picture or found.media_type == "application/pdf" else "application/octet-stream"
    return Response(content, media_type=media_type, headers=headers)
