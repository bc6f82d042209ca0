"""Control of a job for programs: the matrix, its proof, the troubleshooting guide, and a simulated unit to work at."""

from __future__ import annotations

import hashlib
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Path, Query, Request
from pydantic import Field

from vaporwright.actions.at_hand import offers_of, selectors_of
from vaporwright.actions.control_json import controls_as_json, proof_as_json
from vaporwright.actions.job_book import NoSuchJob
from vaporwright.actions.training import tasks_for
from vaporwright.foundation.errors import InputError
from vaporwright.web.api.shapes import Shape, faults
from vaporwright.web.context import book, viewer
from vaporwright.web.controlled import Entry, controlled
from vaporwright.web.controls_view import guide_view
from vaporwright.web.running.beginning import begun_task, begun_unit
from vaporwright.web.running.deeds import ask
from vaporwright.web.running.unit import RunningUnit
from vaporwright.web.running.view import state_of
from vaporwright.web.training_view import results_of

router = APIRouter(tags=["controls"])
JobId = Annotated[str, Path(max_length=40)]
UnitId = Annotated[str, Path(max_length=40)]
Whole = Annotated[int, Query(ge=0, le=2**53)]


class Suspect(Shape):
    """What to look at, and what can hurt."""

    title: str
    state: str
    look: str
    caution: str


class Symptom(Shape):
    """What one sees, and what may be behind it, the likeliest first."""

    name: str
    title: str
    alarms: list[str]
    suspects: list[Suspect]


class TaskEntry(Shape):
    """A task of the trainer."""

    key: str
    title: str
    story: str
    goals: int
    hints: int
    causes: dict[str, str]


class Begin(Shape):
    """A simulated unit to begin: as a task of the trainer hands it over, or at rest in an `air`.

    That is a season of the job, or `day RUN` of a test; the season that the unit was sized for where none is said.
    """

    task: str = Field(default="", max_length=40)
    air: str = Field(default="", max_length=100)


class Begun(Shape):
    """A simulated unit, with what one can do at it."""

    id: str
    names: list[str]
    selectors: dict[str, list[str]]
    offers: dict[str, list[str]]


class DeedAsked(Shape):
    """Something to be done: `look` and `work` (in a task) take their key as the value."""

    verb: str = Field(max_length=40)
    target: str = Field(default="", max_length=80)
    value: str = Field(default="", max_length=80)


class Speed(Shape):
    """How many times faster than real time; 0 holds it still."""

    speed: Literal[0, 1, 10, 60]


class Answer(Shape):
    """What is behind a task."""

    cause: str = Field(max_length=40)


class Said(Shape):
    """Whether an answer was right."""

    right: bool


class Hint(Shape):
    """A hint."""

    hint: str


class WrongOne(Shape):
    """A deed that was wrong, at a time of the unit since it was handed over."""

    time_s: float
    words: str
    dangerous: bool


class Result(Shape):
    """What somebody did at a task; it is no certificate."""

    who: str
    job: str
    revision: int
    task: str
    begun_at: float
    ended_at: float | None
    outcome: str
    unit_s: float
    reached: int
    goals: int
    wrong: list[WrongOne]
    wrong_guesses: int
    hints: int
    remark: str


@router.get("/jobs/{job}/controls", summary="The control of a job's unit", responses=faults(404))
def controls(request: Request, job: JobId) -> dict[str, Any]:
    """Set points, delays and the matrix with reasons; SI."""
    return controls_as_json(controlled(request).ready(_entry(request, job)).controlled)


@router.get("/jobs/{job}/controls/proof", summary="What is proved of the table", responses=faults(404))
def proof(request: Request, job: JobId) -> dict[str, Any]:
    """Every property with what became of it, without single faults."""
    return proof_as_json(controlled(request).proof_ready(_entry(request, job)))


@router.get("/jobs/{job}/controls/guide", summary="From symptom to cause", responses=faults(404))
def guide(request: Request, job: JobId) -> list[Symptom]:
    """The troubleshooting guide, worked out from the table."""
    symptoms = guide_view(controlled(request).ready(_entry(request, job)).controlled)
    return [
        Symptom(
            name=one.name,
            title=one.title,
            alarms=list(one.alarms),
            suspects=[Suspect(title=t, state=s, look=k, caution=c) for t, s, k, c in one.suspects],
        )
        for one in symptoms
    ]


@router.get("/jobs/{job}/controls/tasks", summary="Tasks of the trainer", responses=faults(404))
def tasks(request: Request, job: JobId) -> list[TaskEntry]:
    """The tasks that this unit can give."""
    return [
        TaskEntry(
            key=one.key,
            title=one.title,
            story=one.story,
            goals=len(one.goals),
            hints=len(one.hints),
            causes=dict(one.causes),
        )
        for one in tasks_for(controlled(request).ready(_entry(request, job)).rig)
    ]


@router.post("/jobs/{job}/simulated-units", summary="Begin a simulated unit", status_code=201, responses=faults(404))
def begin(request: Request, job: JobId, asked: Begin) -> Begun:
    """One for each caller: an earlier one is ended. It is ended too when nobody has asked for its state for long. The
    result of a task is kept under the caller's name.
    """
    entry = _entry(request, job)
    rig = controlled(request).ready(entry).rig
    owner = _owner(request)
    if asked.task:
        unit = begun_task(request, job, entry, owner, asked.task)
    else:
        unit = begun_unit(request, job, entry, owner, asked.air)
    offers: dict[str, list[str]] = {}
    for offer in offers_of(rig):
        offers[f"{offer.verb} {offer.target}"] = [state for state, _ in offer.states]
    return Begun(
        id=unit.id,
        names=list(rig.table.names),
        selectors={name: list(positions) for name, positions in selectors_of(rig).items()},
        offers=offers,
    )


@router.get("/simulated-units/{unit}", summary="How a simulated unit stands", responses=faults(404))
def state(
    request: Request,
    unit: UnitId,
    events: Whole = 0,
    generation: Whole = 0,
    points: Annotated[float, Query(ge=-1.0, le=1e12)] = -1.0,
) -> dict[str, Any]:
    """As the page shows it, in the caller's units; `bits` has a 0 or 1 for each of `names`."""
    return state_of(
        _unit(request, unit), viewer(request).units, events_after=events, generation=generation, points_after_s=points
    )


@router.post("/simulated-units/{unit}/deeds", summary="Do something at it", status_code=202, responses=faults(404))
def deed(request: Request, unit: UnitId, asked: DeedAsked) -> None:
    """Before the next scan: push, pull, turn, reset, supply, fail, stick, short, weld, lift, dip, look, work, ..."""
    found = _unit(request, unit)
    ask(found, asked.verb, asked.target, asked.value, viewer(request).units)


@router.post("/simulated-units/{unit}/speed", summary="How fast its time goes", status_code=204, responses=faults(404))
def speed(request: Request, unit: UnitId, asked: Speed) -> None:
    """0, 1, 10 or 60."""
    _unit(request, unit).set_speed(asked.speed)


@router.post("/simulated-units/{unit}/answer", summary="Name what is behind a task", responses=faults(404))
def answer(request: Request, unit: UnitId, asked: Answer) -> Said:
    """Whether it is right."""
    right = _unit(request, unit).coached(lambda attempt, time_s: attempt.answer(asked.cause, time_s))
    return Said(right=bool(right))


@router.post("/simulated-units/{unit}/hint", summary="The next hint of its task", responses=faults(404))
def hint(request: Request, unit: UnitId) -> Hint:
    """It counts in the result."""
    return Hint(hint=str(_unit(request, unit).coached(lambda attempt, _: attempt.hint())))


@router.post("/simulated-units/{unit}/give-up", summary="Give its task up", status_code=204, responses=faults(404))
def give_up(request: Request, unit: UnitId) -> None:
    """Its state then says what was behind it."""
    _unit(request, unit).coached(lambda attempt, _: attempt.give_up())


@router.get("/training-results", summary="Results of the trainer", responses=faults())
def training_results(
    request: Request, everybody: bool = False, before: Annotated[float | None, Query(ge=0.0, le=1e12)] = None
) -> list[Result]:
    """One's own, newest first; an engineer may ask for everybody's. Times are seconds since 1970 (UTC)."""
    return [
        Result(
            who=one.who,
            job=one.job,
            revision=one.revision,
            task=one.task,
            begun_at=one.begun_at,
            ended_at=one.ended_at,
            outcome=outcome,
            unit_s=one.ending.unit_s,
            reached=one.ending.reached,
            goals=one.goals,
            wrong=[WrongOne(time_s=w.time_s, words=w.words, dangerous=w.dangerous) for w in one.ending.wrong],
            wrong_guesses=one.ending.guesses,
            hints=one.ending.hints,
            remark=one.ending.remark,
        )
        for one, outcome in results_of(request, everybody=everybody, before=before)
    ]


@router.delete("/simulated-units/{unit}", summary="End it", status_code=204, responses=faults(404))
def end(request: Request, unit: UnitId) -> None:
    """It is dropped."""
    controlled(request).units.end(_unit(request, unit).owner)


def _entry(request: Request, job: str) -> Entry:
    revision = book(request).revision(job)
    return controlled(request).entry(job, revision.number, revision.texts)


def _owner(request: Request) -> str:
    """A bearer's session; programs at the machine itself share one."""
    who = viewer(request)
    return hashlib.sha256(f"program {who.token if who.session is not None else who.address}".encode()).hexdigest()


def _unit(request: Request, unit: str) -> RunningUnit:
    found = controlled(request).units.by_id(unit)
    if found is None or (viewer(request).account and found.owner != _owner(request)):
        raise NoSuchUnit(unit)
    found.looked_at()
    return found


class NoSuchUnit(NoSuchJob):
    """There is no simulated unit of that id, or it is another's."""

    def __init__(self, unit: str) -> None:
        InputError.__init__(
            self, "simulated unit", unit[:40], "does not run, or is not yours", "the id of one you began"
        )
