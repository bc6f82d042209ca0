"""The witness's view: by a link with a secret in it, read-only, on a phone. The engineer makes it and withdraws it."""

from __future__ import annotations

from typing import Annotated, Any, Final

import segno
from fastapi import APIRouter, Form, HTTPException, Request
from fastapi.responses import Response

from vaporwright.acceptance.steps.outcomes import NOT_RUN
from vaporwright.documents.measured_words import moment_text
from vaporwright.web.context import book, note, redirect, render, require_name, shop, viewer
from vaporwright.web.floor import OpenedRun, kind_of, latest_of, run_of, standing_of, state_of
from vaporwright.web.pages.acceptance_ending import exported_record

PURPOSE: Final = "witness"
LASTS: Final = {"1": "a day", "7": "a week", "30": "a month"}
DAY_s: Final = 86_400.0
router = APIRouter()

Typed = Annotated[str, Form()]


@router.post("/jobs/{job}/acceptance/{run}/witness")
def make_link(request: Request, job: str, run: str, days: Typed = "7") -> Response:
    """An address for the witness; it is shown this once."""
    who = require_name(request, "engineer")
    opened, here = run_of(request, job, run), shop(request)
    lasting = days if days in LASTS else "7"
    until = here.clock() + float(lasting) * DAY_s
    token = here.people.make_link(PURPOSE, opened.run, by=who.name, at=here.clock(), until=until)
    note(request, "witness's link made", opened.run, f"for {LASTS[lasting]}")
    address = f"{here.settings.scheme}://{request.headers.get('host', '')}/witness/{token}"
    return render(
        request,
        "acceptance_link.html",
        job=book(request).job(job),
        stop="acceptance",
        opened=opened,
        address=address,
        picture=segno.make(address, error="m").svg_data_uri(scale=5, dark="#000", light="#fff"),
        until=until,
        is_local=here.settings.is_local,
    )


@router.post("/jobs/{job}/acceptance/{run}/witness/withdraw")
def withdraw(request: Request, job: str, run: str) -> Response:
    """No link to this run works any longer."""
    require_name(request, "engineer")
    opened = run_of(request, job, run)
    shop(request).people.withdraw_links(PURPOSE, opened.run, at=shop(request).clock())
    note(request, "witness's links withdrawn", opened.run)
    return redirect(request, opened.address, "No link to this run works any longer.")


def _linked(request: Request, token: str) -> tuple[OpenedRun, float]:
    """The run that a secret shows. Raises: HTTPException 404 where there is none, or no longer."""
    here = shop(request)
    link = here.people.link(token, PURPOSE, at=here.clock())
    found = None if link is None else here.book.job_of_run(link.subject)
    if link is None or found is None:
        raise HTTPException(404, "this link is not known, has run out, or was withdrawn; ask the engineer for another")
    return OpenedRun(found, state_of(here, link.subject)), link.until


@router.get("/witness/{token}")
def look(request: Request, token: str, units: str = "") -> Response:
    """How the test stands."""
    opened, until = _linked(request, token)
    return render(request, "acceptance_witness.html", token=token, until=until, **_shown(request, opened, units))


@router.get("/witness/{token}/live")
def look_live(request: Request, token: str, seq: int = -1, units: str = "") -> Response:
    """What is new."""
    opened, _ = _linked(request, token)
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
