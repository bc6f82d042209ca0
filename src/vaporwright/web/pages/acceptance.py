"""The acceptance test: runs of a job, opening one, how it stands, its instruments and papers.

The steps themselves, the performance run, the end of a test and the witness's view are in modules beside this one.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from typing import Annotated, Any, Final

from fastapi import APIRouter, Form, HTTPException, Request, UploadFile
from fastapi.responses import Response

from vaporwright.acceptance.record.events import Command, RegisterInstrument
from vaporwright.acceptance.record.state import RunState
from vaporwright.acceptance.steps.day import DAY_KEYS
from vaporwright.acceptance.steps.instruments import KINDS, Instrument
from vaporwright.actions.desk import Desk, fresh_id
from vaporwright.actions.floor_work import Entry
from vaporwright.display_units import shown_unit
from vaporwright.files.day_file import EXAMPLES
from vaporwright.files.instruments_file import read_instruments_text
from vaporwright.files.typed_reading import read_number
from vaporwright.foundation.errors import InputError
from vaporwright.web.context import (
    Stop,
    book,
    desk_of,
    file_name_of,
    redirect,
    render,
    shop,
    viewer,
)
from vaporwright.web.errors import Problem, problem_of
from vaporwright.web.floor import (
    OpenedRun,
    enter,
    enter_entry,
    kind_of,
    latest_of,
    run_of,
    standing_of,
    state_of,
    system_of,
    today,
)
from vaporwright.web.floor_tasks import issue_again_in_store, procedure_paper, reading_sheets
from vaporwright.web.naming import as_named
from vaporwright.web.pages import (
    acceptance_ending,
    acceptance_live,
    acceptance_offline,
    acceptance_opening,
    acceptance_performance,
    acceptance_steps,
    acceptance_witness,
)
from vaporwright.web.pages.acceptance_opening import (
    LEFT_OUT,
    OPENERS,
    LARGEST_TEXT_bytes,
    day_of_form,
    instruments_of_file,
    owner_of,
    shown_bare,
)
from vaporwright.web.papers import paper

STOP: Final = Stop("acceptance", "Acceptance", "/jobs/{job}/acceptance", 4)
router = APIRouter()
for module in (
    acceptance_opening,
    acceptance_steps,
    acceptance_performance,
    acceptance_live,
    acceptance_ending,
    acceptance_offline,
    acceptance_witness,
):
    router.include_router(module.router)

Typed = Annotated[str, Form()]


# The runs of a job


@router.get("/jobs/{job}/acceptance")
def runs(request: Request, job: str) -> Response:
    """The runs of a job, newest first."""
    entry = book(request).job(job)
    found = [(link, state_of(shop(request), link.run)) for link in book(request).runs(job)]
    return render(
        request,
        "acceptance_runs.html",
        job=entry,
        stop="acceptance",
        runs=[(link, state, standing_of(state)) for link, state in found if state.kind != "site"],
        site_runs=[(link, state, standing_of(state)) for link, state in found if state.kind == "site"],
    )


# A run


@router.get("/jobs/{job}/acceptance/{run}")
def one(request: Request, job: str, run: str) -> Response:
    """How a run stands."""
    opened = run_of(request, job, run)
    return render(
        request, "acceptance_run.html", job=book(request).job(job), stop="acceptance", **run_shown(request, opened)
    )


@router.get("/jobs/{job}/acceptance/{run}/live")
def live(request: Request, job: str, run: str, seq: int = -1) -> Response:
    """What has changed since; nothing where nothing has."""
    opened = run_of(request, job, run)
    if opened.state.seq == seq:
        return Response(status_code=204)
    return render(request, "acceptance_run_live.html", job_id=job, **run_shown(request, opened))


def run_shown(request: Request, opened: OpenedRun) -> dict[str, Any]:
    """What the pages of a run show of it."""
    state = opened.state
    return {
        "opened": opened,
        "run": state,
        "standing": standing_of(state),
        "procedure": state.procedure,
        "verdicts": state.verdicts,
        "outstanding": {step.key for step in state.outstanding},
        "kind_of": kind_of,
        "may_open": viewer(request).may(*OPENERS),
        "latest": latest_of(state, viewer(request).units),
        "fresh_id": fresh_id,
    }


@router.post("/jobs/{job}/acceptance/{run}/entries")
async def entries(request: Request, job: str, run: str) -> Response:
    """An entry of the floor by a form, where no script has sent it."""
    from anyio import to_thread

    async with request.form() as form:
        typed = {key: value for key, value in form.items() if isinstance(value, str)}
    return await to_thread.run_sync(_enter_form, request, job, run, typed)


def _enter_form(request: Request, job: str, run: str, typed: dict[str, str]) -> Response:
    opened = run_of(request, job, run)
    who = as_named(request, typed.get("your_name", ""), "engineer", "technician", "witness")
    entry = Entry(
        event_id=typed.get("event_id", ""),
        kind=typed.get("kind", ""),  # type: ignore[arg-type]  # unknown ones are refused below
        typed_by=typed.get("typed_by") or who.name,
        step=typed.get("step", ""),
        field=typed.get("field", ""),
        text=typed.get("text", ""),
        units=typed.get("units", ""),
        instrument=typed.get("instrument", ""),
        corrects=typed.get("corrects", ""),
        reason=typed.get("reason", ""),
        by=typed.get("by", ""),
        category=typed.get("category", ""),
        number=_whole(typed.get("number", "0")),
        minutes=_minutes(typed.get("minutes", "0")),
        at=typed.get("at", ""),
        cells={key.removeprefix("cell."): text for key, text in typed.items() if key.startswith("cell.")},
        instruments={key.removeprefix("with."): text for key, text in typed.items() if key.startswith("with.")},
    )
    enter_entry(request, opened, entry)
    return redirect(request, typed.get("next") or opened.address, "Entered.")


def _whole(text: str) -> int:
    if text.isascii() and text.isdigit() and len(text) < 7:
        return int(text)
    raise InputError("form", "number", f"{text[:20]!r} is no whole number", "the number of the item")


def _minutes(text: str) -> float:
    return read_number(f"{text} min", "short duration", where="form", key="minutes") / 60.0


# Instruments


@router.get("/jobs/{job}/acceptance/{run}/instruments")
def instruments(request: Request, job: str, run: str) -> Response:
    """The instruments of the day."""
    return _instruments_page(request, job, run, {})


@router.post("/jobs/{job}/acceptance/{run}/instruments")
def register(
    request: Request,
    job: str,
    run: str,
    instruments: UploadFile | None = None,
    id: Typed = "",
    kind: Typed = "",
    title: Typed = "",
    certificate: Typed = "",
    due: Typed = "",
    uncertainty: Typed = "",
    again: Typed = "",
    reason: Typed = "",
    your_name: Typed = "",
) -> Response:
    """Register instruments: of a file, of a form, or those of the run once more for today."""
    opened = run_of(request, job, run)
    typed = {"id": id, "kind": kind, "title": title, "certificate": certificate, "due": due, "uncertainty": uncertainty}
    try:
        who = as_named(request, your_name, "engineer", "technician", "witness")
        if again:
            day = today(request)
            known = opened.state.instruments.values()
            found = tuple(entries[-1].instrument for entries in known if all(one.day != day for one in entries))
        elif instruments is not None and instruments.filename:
            found = instruments_of_file(instruments.file.read(LARGEST_TEXT_bytes + 1))
        else:
            found = (_instrument_of_form(typed),)
        desk = desk_of(request, who.roles[0])
        for instrument in found:
            enter(request, opened, desk, _registering(instrument, reason))
    except InputError as error:
        return _instruments_page(request, job, run, typed | {"reason": reason}, problem_of(error))
    return redirect(request, f"{opened.address}/instruments", f"Registered for today: {len(found)}.")


def _registering(instrument: Instrument, reason: str) -> Callable[[Desk, RunState], Command]:
    return lambda at, _: RegisterInstrument(at.stamp(), instrument, reason)


def _instrument_of_form(typed: dict[str, str]) -> Instrument:
    lines = ["[[instrument]]"]
    for key, text in typed.items():
        if not text.strip():
            continue
        parts = [part.strip() for part in text.split(" and ")] if key == "uncertainty" else [text.strip()]
        quoted = [json.dumps(part, ensure_ascii=False) for part in parts]
        value = quoted[0] if len(quoted) == 1 else "[" + ", ".join(quoted) + "]"
        lines.append(f"{key} = {value}")
    return read_instruments_text("\n".join(lines), "form")[0]


def _instruments_page(
    request: Request, job: str, run: str, typed: dict[str, str], problem: Problem | None = None
) -> Response:
    opened = run_of(request, job, run)
    needed = {one.instrument for step in opened.state.steps for one in step.fields if one.instrument}
    have = {
        entries[-1].instrument.kind
        for entries in opened.state.instruments.values()
        if any(one.day == today(request) for one in entries)
    }
    return render(
        request,
        "acceptance_instruments.html",
        status=problem.status if problem else 200,
        job=book(request).job(job),
        stop="acceptance",
        opened=opened,
        run=opened.state,
        today=today(request),
        kinds=[(kind.name, kind.name) for kind in KINDS.values()],
        missing=sorted(needed - have),
        typed=typed,
        problem=problem,
    )


# The procedure again, and papers


@router.post("/jobs/{job}/acceptance/{run}/reissue")
async def reissue(request: Request, job: str, run: str) -> Response:
    """The procedure anew for changed conditions of the day."""
    from anyio import to_thread

    async with request.form() as form:
        typed = {key: value for key, value in form.items() if isinstance(value, str)}
    return await to_thread.run_sync(_reissue, request, job, run, typed)


def _reissue(request: Request, job: str, run: str, typed: dict[str, str]) -> Response:
    opened = run_of(request, job, run)
    who = as_named(request, typed.get("your_name", ""), *OPENERS)
    day, reason = day_of_form(typed, who.units), typed.get("reason", "").strip()
    if not reason:
        raise InputError("procedure", "reason", "is missing", "why the procedure is issued again")
    desk = desk_of(request)
    order = (shop(request).settings.store, opened.run, day, reason, (desk.who, desk.role))
    task = shop(request).working.start(owner_of(who), issue_again_in_store, *order)
    return redirect(request, f"/jobs/{job}/acceptance/opening/{task}")


@router.get("/jobs/{job}/acceptance/{run}/conditions")
def conditions(request: Request, job: str, run: str) -> Response:
    """The conditions that the procedure was made for, and the form for others."""
    opened = run_of(request, job, run)
    if opened.state.procedure is None:
        raise HTTPException(404, "this run has no procedure yet")
    system = viewer(request).units
    given = opened.state.procedure.conditions
    typed = {
        f"day.{key.name}": shown_bare(given[key.name], key.quantity, system) for key in DAY_KEYS if key.name in given
    }
    return render(
        request,
        "acceptance_conditions.html",
        job=book(request).job(job),
        stop="acceptance",
        opened=opened,
        typed=typed,
        day_keys=[(key, shown_unit(key.quantity, system).text) for key in DAY_KEYS],
        left_out=LEFT_OUT,
        examples=EXAMPLES,
        guarantee=opened.state.procedure.guarantee,
        may_open=viewer(request).may(*OPENERS),
    )


@router.get("/jobs/{job}/acceptance/{run}/procedure.pdf")
def procedure_file(request: Request, job: str, run: str) -> Response:
    """The procedure for paper use."""
    return _paper(request, job, run, procedure_paper, "procedure")


@router.get("/jobs/{job}/acceptance/{run}/sheets.pdf")
def sheets_file(request: Request, job: str, run: str) -> Response:
    """Sheets to be filled in by hand."""
    return _paper(request, job, run, reading_sheets, "reading_sheets")


def _paper(request: Request, job: str, run: str, make: Any, what: str) -> Response:
    opened = run_of(request, job, run)
    if opened.state.procedure is None:
        raise HTTPException(404, "this run has no procedure yet")
    system = system_of(shop(request), opened.state)
    order = (opened.state.procedure, system, opened.run, str(opened.link.revision), shop(request).settings.store)
    made_from = f"{system} {hashlib.sha256(repr(order).encode()).hexdigest()}"  # another day, another paper
    return paper(request, made_from, f"{file_name_of(opened.state.job)}_{what}.pdf", make, *order)
