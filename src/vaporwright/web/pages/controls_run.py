"""The simulated unit at which one can work, and the trainer on it. Nothing is computed here: a thread steps the unit,
pages put into its queue what people do and tell what it left to be seen.
"""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import AsyncIterator
from typing import Annotated, Any, Final

from fastapi import APIRouter, FastAPI, Form, Query, Request
from fastapi.responses import JSONResponse, Response

from vaporwright.actions.at_hand import title_of
from vaporwright.actions.training import tasks_for
from vaporwright.actions.training_tasks import TASK_OF, Task
from vaporwright.controls.rig import Rig
from vaporwright.display_units import shown_unit
from vaporwright.foundation.errors import InputError, VaporwrightError
from vaporwright.web.context import Stop, redirect, viewer
from vaporwright.web.controlled import Controlled, Entry, controlled, controlled_of
from vaporwright.web.controls_view import matrix_view
from vaporwright.web.errors import problem_of
from vaporwright.web.pages.controls import entry_of, page, waiting
from vaporwright.web.running.deeds import ask
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


def _begun(request: Request, job: str, entry: Entry, task: Task | None = None) -> RunningUnit:
    here: Controlled = controlled(request)
    rig: Rig = entry.known.rig
    return here.units.begin(rig, owner=owner_of(request), job=job, revision=entry.revision, task=task)


@router.get("/jobs/{job}/controls/run")
def run(request: Request, job: str) -> Response:
    """The panel, the mimic, the matrix that lights, alarms, trends, events, faults."""
    entry = entry_of(request, job)
    state = controlled(request).preparing(entry)
    if state is not None:
        return waiting(request, job, state, WAITS, "run")
    if "HX-Request" in request.headers:
        return redirect(request, request.url.path)
    unit = _mine(request, job)
    if unit is not None and unit.state != "ended" and unit.revision == entry.revision:
        unit.looked_at()
    else:
        unit = None
    return _run_page(request, job, entry, unit)


def _run_page(request: Request, job: str, entry: Entry, unit: RunningUnit | None) -> Response:
    units, known = viewer(request).units, entry.known
    columns, rows = matrix_view(known.controlled)
    task = unit.task if unit is not None else None
    names = known.rig.table.names
    horn = names.index("horn") if "horn" in names else -1
    return page(
        request,
        job,
        "controls_run.html",
        "run" if task is None else "train",
        unit=unit,
        task=task,
        columns=columns,
        rows=rows,
        hands=hands_of(known.rig, units),
        gauge=gauge_of(known.rig, units),
        trainer=trainer_of(known.rig),
        heat=known.rig.heat,
        horn=horn,
        rods=[(name, title_of(known.rig, name), names.index(name)) for name in names if name.endswith("_rod")],
        trends=[(key, title, shown_unit(quantity, units).text) for key, title, quantity in TRENDS],
        settles=known.rig.season.settling_temperature_K,
        evaporates=known.rig.season.evaporation_kg_s,
        set_point=known.rig.points.set_point_K,
    )


@router.post("/jobs/{job}/controls/run/begin")
def begin(request: Request, job: str) -> Response:
    """A fresh unit at rest: power on, working level, every selector off."""
    _begun(request, job, entry_of(request, job))
    return redirect(request, f"/jobs/{job}/controls/run")


@router.post("/jobs/{job}/controls/run/end")
def end(request: Request, job: str) -> Response:
    """End this browser's unit."""
    if _mine(request, job) is not None:
        controlled(request).units.end(owner_of(request))
    return redirect(request, f"/jobs/{job}/controls/run", "The simulated unit has ended.")


@router.get("/jobs/{job}/controls/run/state")
def state(request: Request, job: str, events: Whole = 0, generation: Whole = 0, points: float = -1.0) -> Response:
    """The unit as it stands, for the script of the page, four times a second."""
    unit = _mine(request, job)
    if unit is None:
        return JSONResponse({"state": "none"})
    unit.looked_at()
    told = state_of(unit, viewer(request).units, events_after=events, generation=generation, points_after_s=points)
    return JSONResponse(told)


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
    entry = entry_of(request, job)
    found = TASK_OF.get(task)
    if found is None or found not in tasks_for(entry.known.rig):
        raise InputError("trainer", "task", "is no task for this unit", "one of the list")
    _begun(request, job, entry, found)
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
