"""The simulated unit at which one can work, and the trainer on it. Nothing is computed here: a thread steps the unit,
pages put into its queue what people do and tell what it left to be seen.
"""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import AsyncIterator
from typing import Annotated, Any, Final

from fastapi import APIRouter, FastAPI, Form, Query, Request
from fastapi.responses import JSONResponse, Response, StreamingResponse

from vaporwright.actions.training import tasks_for
from vaporwright.display_units import shown_unit
from vaporwright.foundation.errors import InputError, VaporwrightError
from vaporwright.web.context import Stop, redirect, viewer
from vaporwright.web.controlled import Entry, controlled, controlled_of
from vaporwright.web.errors import problem_of
from vaporwright.web.pages.controls import entry_of, page, waiting
from vaporwright.web.running.beginning import begun_task, begun_unit, surroundings_of
from vaporwright.web.running.deeds import ask
from vaporwright.web.running.lit import matrix_of
from vaporwright.web.running.stream import HEADERS, MOST_STREAMS, Cursor, Teller, told
from vaporwright.web.running.unit import RunningUnit
from vaporwright.web.running.view import TRENDS, gauge_of, hands_of, state_of, trainer_of

STOP: Stop | None = None
WAITS: Final = "The unit is sized, its table made, and a simulated unit wired to it."
Whole = Annotated[int, Query(ge=0, le=2**53)]
Typed = Annotated[str, Form(max_length=200)]


@contextlib.asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    yield
    controlled_of(app).units.close()


router = APIRouter(lifespan=_lifespan)


def owner_of(request: Request) -> str:
    """Whose unit it is: this browser's session's."""
    return hashlib.sha256(b"unit " + viewer(request).token.encode()).hexdigest()


def _mine(request: Request, job: str) -> RunningUnit | None:
    """This browser's unit of this job."""
    found = controlled(request).units.of(owner_of(request))
    return found if found is not None and found.job == job else None


def _my_unit(request: Request, job: str) -> RunningUnit:
    found = _mine(request, job)
    if found is None:
        raise InputError("simulated unit", "", "none of yours runs for this job", "begin one")
    found.looked_at()
    return found


@router.get("/jobs/{job}/controls/run")
def run(request: Request, job: str, still: bool = False) -> Response:
    """The panel, the mimic, the matrix that lights, alarms, trends, events, faults. `still`: where there is no script
    the page comes anew every few seconds, unless it is asked to keep still.
    """
    entry = entry_of(request, job)
    state = controlled(request).preparing(entry)
    if state is not None:
        return waiting(request, job, state, WAITS, "run")
    if "HX-Request" in request.headers:
        return redirect(request, request.url.path)
    unit = _mine(request, job)
    if unit is None or unit.state == "ended" or unit.revision != entry.revision:
        return _begin_page(request, job, entry)
    unit.looked_at()
    return _unit_page(request, job, unit, entry, still)


def _begin_page(request: Request, job: str, entry: Entry) -> Response:
    rig = entry.known.rig
    airs = surroundings_of(request, job, entry)
    return page(request, job, "controls_begin.html", "run", airs=airs, heat=rig.heat, set_point=rig.points.set_point_K)


def _unit_page(request: Request, job: str, unit: RunningUnit, entry: Entry, still: bool) -> Response:
    units, rig = viewer(request).units, unit.rig
    return page(
        request,
        job,
        "controls_run.html",
        "run" if unit.task is None else "train",
        unit=unit,
        task=unit.task,
        told=state_of(unit, units, events_after=0, generation=0, points_after_s=-1.0),
        matrix=unit.matrix if unit.matrix.rows else matrix_of(entry.known.controlled, rig),
        hands=hands_of(rig, units),
        gauge=gauge_of(rig, units),
        trainer=trainer_of(rig),
        heat=rig.heat,
        trends=[(key, title, shown_unit(quantity, units).text) for key, title, quantity in TRENDS],
        still=still,
        settled=unit.air,
    )


@router.post("/jobs/{job}/controls/run/begin")
def begin(request: Request, job: str, air: Typed = "") -> Response:
    """A fresh unit at rest in the air chosen: power on, working level, every selector off."""
    begun_unit(request, job, entry_of(request, job), owner_of(request), air)
    return redirect(request, f"/jobs/{job}/controls/run")


@router.post("/jobs/{job}/controls/run/end")
def end(request: Request, job: str) -> Response:
    """End this browser's unit."""
    if _mine(request, job) is not None:
        controlled(request).units.end(owner_of(request))
    return redirect(request, f"/jobs/{job}/controls/run", "The simulated unit has ended.")


@router.get("/jobs/{job}/controls/run/state")
def state(request: Request, job: str, events: Whole = 0, generation: Whole = 0, points: float = -1.0) -> Response:
    """The unit as it stands, for the script of a page that is not told of it otherwise."""
    unit = _mine(request, job)
    if unit is None:
        return JSONResponse({"state": "none"})
    unit.looked_at()
    told = state_of(unit, viewer(request).units, events_after=events, generation=generation, points_after_s=points)
    return JSONResponse(told)


@router.get("/jobs/{job}/controls/run/live")
async def live(request: Request, job: str, after: Annotated[str, Query(max_length=60)] = "") -> Response:
    """The unit as it goes, as server-sent events, after what was heard last: a browser comes again by its id."""
    units, system = controlled(request).units, viewer(request).units
    if units.streams >= MOST_STREAMS:
        return JSONResponse({"problem": "too many pages are told of units; ask for the state instead"}, 503)
    cursor = Cursor.of(request.headers.get("last-event-id", after))
    is_ending = getattr(request.app.state, "is_ending", _not_ending)
    lines = told(units, _mine(request, job), lambda unit: Teller(unit, system, cursor), is_ending)
    return StreamingResponse(lines, media_type="text/event-stream", headers=HEADERS)


def _not_ending() -> bool:
    return False


@router.post("/jobs/{job}/controls/run/deed")
def deed(
    request: Request,
    job: str,
    deed: Typed = "",
    verb: Typed = "",
    target: Typed = "",
    value: Typed = "",
) -> Response:
    """One thing done. `deed` is verb|target|value of a button; a push from a page without script lets go by itself."""
    try:
        unit = _my_unit(request, job)
        if deed:
            verb, target, value = (*deed.split("|"), "", "")[:3]
        ask(unit, verb, target, value, viewer(request).units)
    except VaporwrightError as error:
        return _refused(request, job, error)
    return _done(request, job)


@router.post("/jobs/{job}/controls/run/speed")
def speed(request: Request, job: str, speed: Annotated[int, Form()]) -> Response:
    """How fast its time goes."""
    try:
        _my_unit(request, job).set_speed(speed)
    except VaporwrightError as error:
        return _refused(request, job, error)
    return _done(request, job)


@router.get("/jobs/{job}/controls/train")
def train(request: Request, job: str) -> Response:
    """The tasks that this unit can give."""
    entry = entry_of(request, job)
    state = controlled(request).preparing(entry)
    if state is not None:
        return waiting(request, job, state, WAITS, "train")
    if "HX-Request" in request.headers:
        return redirect(request, request.url.path)
    unit = _mine(request, job)
    at_work = unit.task if unit is not None and unit.state != "ended" else None
    return page(request, job, "controls_train.html", "train", tasks=tasks_for(entry.known.rig), at_work=at_work)


@router.post("/jobs/{job}/controls/train/{task}/begin")
def begin_task(request: Request, job: str, task: str) -> Response:
    """A fresh unit as the task hands it over."""
    begun_task(request, job, entry_of(request, job), owner_of(request), task)
    return redirect(request, f"/jobs/{job}/controls/run")


@router.post("/jobs/{job}/controls/train/answer")
def answer(request: Request, job: str, cause: Typed = "") -> Response:
    """Name what is behind it."""

    def named(attempt: Any, time_s: float) -> bool:
        return bool(attempt.answer(cause, time_s))

    return _coached(request, job, named, "Right: that is behind it.", "No, that is not what is behind it.")


@router.post("/jobs/{job}/controls/train/hint")
def hint(request: Request, job: str) -> Response:
    """The next hint."""
    return _coached(request, job, lambda attempt, _: attempt.hint())


@router.post("/jobs/{job}/controls/train/give-up")
def give_up(request: Request, job: str) -> Response:
    """See what it was; the attempt counts as not passed."""

    def given_up(attempt: Any, time_s: float) -> None:
        del time_s
        attempt.give_up()

    return _coached(request, job, given_up)


def _coached(request: Request, job: str, with_attempt: Any, right: str = "", wrong: str = "") -> Response:
    try:
        found = _my_unit(request, job).coached(with_attempt)
    except VaporwrightError as error:
        return _refused(request, job, error)
    said = "" if found is None else found if isinstance(found, str) else right if found else wrong
    return _done(request, job, said)


def _wants_json(request: Request) -> bool:
    return "application/json" in request.headers.get("accept", "")


def _done(request: Request, job: str, said: str = "") -> Response:
    if _wants_json(request):
        return JSONResponse({"said": said})
    return redirect(request, f"/jobs/{job}/controls/run", said)


def _refused(request: Request, job: str, error: VaporwrightError) -> Response:
    problem = problem_of(error)
    if _wants_json(request):
        allowed = f" Allowed: {problem.allowed}." if problem.allowed else ""
        return JSONResponse({"problem": f"{problem.problem}.{allowed}"}, problem.status)
    return redirect(request, f"/jobs/{job}/controls/run", str(error), "caution")
