"""The panel read live while the server runs: begun and stopped on the performance page, shown beside fields of a step.

No value goes into a step by itself: somebody has to take it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated, Final

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response
from starlette.datastructures import UploadFile

from vaporwright.acceptance.record.events import TakeReading
from vaporwright.actions.desk import fresh_id
from vaporwright.actions.floor_work import role_for
from vaporwright.actions.panel_plan import LARGEST_MAP_bytes, covered_by, plan_of
from vaporwright.foundation.errors import InputError
from vaporwright.web.context import desk_of, is_partial, note, redirect, render, require, require_name, shop
from vaporwright.web.errors import problem_of
from vaporwright.web.floor import FLOOR_ROLES, OpenedRun, enter, run_of, step_named_in, today
from vaporwright.web.naming import as_named
from vaporwright.web.pages.acceptance_performance import performance_page
from vaporwright.web.panel import READERS, panels, reader_shown, step_panel_shown

BEGUN: Final = "panel reading begun"
STOPPED: Final = "panel reading stopped"
router = APIRouter()

Typed = Annotated[str, Form()]


@router.get("/jobs/{job}/acceptance/{run}/performance/reader/live")
def reader_live(request: Request, job: str, run: str, seq: str = "") -> Response:
    """How the reading stands, anew."""
    opened = run_of(request, job, run)
    shown = reader_shown(request, opened)
    if seq == shown["panel_seq"] and not shown["panel"].goes_on:
        return Response(status_code=204)
    return render(request, "acceptance_reader.html", opened=opened, **shown)


@router.post("/jobs/{job}/acceptance/{run}/performance/reader")
async def begin(request: Request, job: str, run: str) -> Response:
    """Read the panel by the register map of a form, or by the one that was read last."""
    from anyio import to_thread

    async with request.form() as form:
        typed = {key: value for key, value in form.items() if isinstance(value, str)}
        file = form.get("map")
        content = await file.read(LARGEST_MAP_bytes + 1) if isinstance(file, UploadFile) else b""
    return await to_thread.run_sync(_begin, request, job, run, typed, content)


def _begin(request: Request, job: str, run: str, typed: dict[str, str], content: bytes) -> Response:
    opened = run_of(request, job, run)
    try:
        as_named(request, typed.get("your_name", ""), *READERS)
        if typed.get("again"):
            begin_again(request, opened)
        else:
            picked = {key.removeprefix("with."): one for key, one in typed.items() if key.startswith("with.")}
            begin_reading(request, opened, content, typed.get("address", ""), typed.get("every", ""), picked)
    except InputError as error:
        return performance_page(request, opened, "", problem_of(error), typed)
    return redirect(request, f"{opened.address}/performance#panel", "The panel is being read.")


def begin_reading(
    request: Request, opened: OpenedRun, content: bytes, address: str, every: str, picked: Mapping[str, str]
) -> None:
    """Check a register map and begin to read by it; who did goes into the audit.

    Raises: InputError for what does not fit, before anything is connected; Forbidden, NameNeeded.
    """
    require(request, *READERS)
    desk = desk_of(request)
    plan = plan_of(opened.state, content, address, every, picked, today(request))
    panels(request).begin(desk, opened.run, plan)
    note(request, BEGUN, opened.run, f"every {plan.every_s:g} s, {', '.join(plan.places)}, map {plan.sha256}")


def begin_again(request: Request, opened: OpenedRun) -> None:
    """The same by the map that was read last. Raises: the same, and InputError where none was."""
    kept = panels(request).kept(opened.run)
    if kept is None:
        raise InputError("panel", opened.run, "was never read", "a register map")
    content = shop(request).database.records.get(kept.map_sha256)
    begin_reading(request, opened, content, kept.address, f"{kept.every_s!r} s", kept.instruments)


@router.post("/jobs/{job}/acceptance/{run}/performance/reader/stop")
def stop(request: Request, job: str, run: str, your_name: Typed = "") -> Response:
    """Stop reading; what was read and waits goes into the record."""
    opened = run_of(request, job, run)
    as_named(request, your_name, *READERS)
    stop_reading(request, opened)
    return redirect(request, f"{opened.address}/performance#panel", "The reading is being stopped.")


def stop_reading(request: Request, opened: OpenedRun) -> None:
    """Stop the reading of a run; who did goes into the audit.

    Raises: InputError where none goes on; Forbidden, NameNeeded.
    """
    who = require_name(request, *READERS)
    panels(request).stop(opened.run, f"stopped by {who.name}")
    note(request, STOPPED, opened.run)


# Beside the fields of a step


@router.get("/jobs/{job}/acceptance/{run}/steps/{step}/panel/live")
def step_panel(request: Request, job: str, run: str, step: str, seq: str = "") -> Response:
    """What the panel reads for the fields of a step, anew."""
    opened = run_of(request, job, run)
    found = step_named_in(opened, step)
    shown = step_panel_shown(request, opened, found)
    if not shown["panel"] and seq == "none":
        return Response(status_code=204)
    return render(request, "acceptance_panel_live.html", opened=opened, step=found, run=opened.state, **shown)


@router.post("/jobs/{job}/acceptance/{run}/steps/{step}/panel")
def take(
    request: Request,
    job: str,
    run: str,
    step: str,
    field: Typed = "",
    row: Typed = "",
    instrument: Typed = "",
    event_id: Typed = "",
) -> Response:
    """Enter the value that was shown as a reading, live from the panel."""
    opened = run_of(request, job, run)
    who = require_name(request, *FLOOR_ROLES)
    found = step_named_in(opened, step)
    asked, reading = found.field(field), panels(request).of(opened.run)
    covered = None if asked is None or reading is None else covered_by(reading.plan, found, asked)
    if reading is None or covered is None or not covered.may_be_taken:
        raise InputError("live reading", field[:60], "is not read from the panel", "a value that the panel is read for")
    value = reading.taken(int(row) if row.isascii() and row.isdigit() else 0, covered.meaning.target)
    live = replace(value.reading(covered.instrument or instrument), step=step, field=field)
    desk = desk_of(request, role_for(who.roles, "reading", found))
    enter(request, opened, desk, lambda at, _: TakeReading(at.stamp(event_id or fresh_id()), live))
    if is_partial(request):
        return Response(status_code=204)
    return redirect(request, f"{opened.address}/steps/{step}", "Taken from the panel.")
