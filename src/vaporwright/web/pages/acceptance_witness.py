"""The witness's view: by a link with a secret in it, read-only, on a phone.

The engineer makes a link for each person, with an end, sees which there are, and withdraws one at a time. The secret is
shown once; what is kept of it is its hash.
"""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import Annotated, Any, Final

import segno
from fastapi import APIRouter, Form, HTTPException, Request
from fastapi.responses import Response

from vaporwright.acceptance.steps.outcomes import NOT_RUN
from vaporwright.documents.measured_words import moment_text
from vaporwright.foundation.errors import InputError
from vaporwright.store.people_store import Link
from vaporwright.web.context import book, note, redirect, render, require, require_name, shop, viewer, when
from vaporwright.web.errors import Problem, problem_of
from vaporwright.web.floor import OpenedRun, kind_of, latest_of, run_of, standing_of, state_of
from vaporwright.web.pages.acceptance_ending import exported_record

PURPOSE: Final = "witness"
USUAL_days: Final = 7
LONGEST_days: Final = 92
router = APIRouter()

Typed = Annotated[str, Form()]


@router.get("/jobs/{job}/acceptance/{run}/witness")
def links(request: Request, job: str, run: str) -> Response:
    """Who may look at this run by a link, and until when."""
    require(request, "engineer")
    return _links_page(request, run_of(request, job, run), {})


@router.post("/jobs/{job}/acceptance/{run}/witness")
def make_link(request: Request, job: str, run: str, label: Typed = "", ends: Typed = "") -> Response:
    """An address for one person; it is shown this once."""
    who = require_name(request, "engineer")
    opened, here = run_of(request, job, run), shop(request)
    try:
        until = _end_of(ends, here.clock())
        token = here.people.make_link(PURPOSE, opened.run, label, by=who.name, at=here.clock(), until=until)
    except InputError as error:
        return _links_page(request, opened, {"label": label, "ends": ends}, problem_of(error))
    note(request, "witness's link made", opened.run, f"for {label.strip()}, until {when(until)}")
    address = f"{here.settings.scheme}://{request.headers.get('host', '')}/witness/{token}"
    return render(
        request,
        "acceptance_link.html",
        job=book(request).job(job),
        stop="acceptance",
        opened=opened,
        address=address,
        picture=segno.make(address, error="m").svg_data_uri(scale=5, dark="#000", light="#fff"),
        label=label.strip(),
        until=until,
        is_local=here.settings.is_local,
    )


@router.post("/jobs/{job}/acceptance/{run}/witness/{link}/withdraw")
def withdraw(request: Request, job: str, run: str, link: str) -> Response:
    """One link works no longer; the others do."""
    require_name(request, "engineer")
    opened, here = run_of(request, job, run), shop(request)
    found = next((one for one in here.people.links(PURPOSE, opened.run) if one.id == link), None)
    if found is None:
        raise HTTPException(404, "there is no such link to this run")
    if found.withdrawn_at is None:
        here.people.withdraw_link(PURPOSE, opened.run, link, at=here.clock())
        note(request, "witness's link withdrawn", opened.run, f"for {found.label or 'somebody not named'}")
    said = f"The link for {found.label or 'somebody not named'} no longer works."
    return redirect(request, f"{opened.address}/witness", said)


def _end_of(typed: str, now: float) -> float:
    """The end of a day that was typed. Raises: InputError for one that is none, past, or far off."""
    today = datetime.fromtimestamp(now).astimezone().date()
    allowed = f"a day from {today} to {today + timedelta(days=LONGEST_days)}, as YYYY-MM-DD"
    try:
        day = date.fromisoformat(typed.strip())
    except ValueError:
        raise InputError("link", "ends", f"{typed[:40]!r} is no day", allowed) from None
    if not today <= day <= today + timedelta(days=LONGEST_days):
        raise InputError("link", "ends", f"{day} is {'past' if day < today else 'too far off'}", allowed)
    return datetime.combine(day + timedelta(days=1), time()).astimezone().timestamp()


def _links_page(request: Request, opened: OpenedRun, typed: dict[str, str], problem: Problem | None = None) -> Response:
    now = shop(request).clock()
    usual = datetime.fromtimestamp(now).astimezone().date() + timedelta(days=USUAL_days)
    return render(
        request,
        "acceptance_links.html",
        status=problem.status if problem else 200,
        job=book(request).job(opened.link.job),
        stop="acceptance",
        opened=opened,
        links=[(one, one.is_open(now)) for one in shop(request).people.links(PURPOSE, opened.run)],
        typed={"ends": usual.isoformat()} | typed,
        problem=problem,
    )


def _linked(request: Request, token: str) -> tuple[OpenedRun, Link]:
    """The run that a secret shows. Raises: HTTPException 404 where there is none, 410 where it is no longer shown."""
    here = shop(request)
    link = here.people.link(token, PURPOSE)
    found = None if link is None else here.book.job_of_run(link.subject)
    if link is None or found is None:
        raise HTTPException(404, "this link is not known; ask the engineer for another")
    if link.withdrawn_at is not None:
        raise HTTPException(410, f"it was withdrawn on {when(link.withdrawn_at)}; ask the engineer for another")
    if not link.is_open(here.clock()):
        raise HTTPException(410, f"it ended on {when(link.until)}; ask the engineer for another")
    return OpenedRun(found, state_of(here, link.subject)), link


@router.get("/witness/{token}")
def look(request: Request, token: str, units: str = "") -> Response:
    """How the test stands."""
    opened, link = _linked(request, token)
    return render(request, "acceptance_witness.html", token=token, link=link, **_shown(request, opened, units))


@router.get("/witness/{token}/live")
def look_live(request: Request, token: str, seq: int = -1, units: str = "") -> Response:
    """What is new; where the link no longer shows anything, the page is to say so."""
    try:
        opened, _ = _linked(request, token)
    except HTTPException as error:
        if error.status_code != 410:
            raise
        return Response(status_code=204, headers={"X-Go-To": f"/witness/{token}"})
    if opened.state.seq == seq:
        return Response(status_code=204)
    return render(request, "acceptance_witness_live.html", token=token, **_shown(request, opened, units))


@router.get("/witness/{token}/record.zip")
def raw_data(request: Request, token: str) -> Response:
    """Everything that was entered so far, in one file that can be verified."""
    return exported_record(request, _linked(request, token)[0])


def _shown(request: Request, opened: OpenedRun, units: str) -> dict[str, Any]:
    state = opened.state
    system = units if units in ("US", "SI") else viewer(request).units
    waiting = [
        step
        for step in state.outstanding
        if step.point and not state.point_passed(step) and step.key not in state.not_run
    ]
    return {
        "run": state,
        "units": system,
        "standing": standing_of(state),
        "procedure": state.procedure,
        "verdicts": state.verdicts,
        "kind_of": kind_of,
        "latest": latest_of(state, system, most=12),
        "waiting": waiting[:5],
        "moment": moment_text,
        "not_run": NOT_RUN,
    }
