"""Test runs for programs, and for the queue of a tablet: how a run stands, entries that are judged at once."""

from __future__ import annotations

from typing import Annotated, Any, Final, Literal

from fastapi import APIRouter, File, Form, Path, Request, UploadFile
from pydantic import Field

from vaporwright.acceptance.record.state import RunState, TakenReading
from vaporwright.acceptance.steps.outcomes import Outcome
from vaporwright.actions.floor_work import Entry, EntryKind, Waited
from vaporwright.web.api.shapes import Shape, faults
from vaporwright.web.context import book, shop, viewer
from vaporwright.web.floor import (
    enter_entry,
    kind_of,
    require_typist,
    run_named,
    standing_of,
    state_of,
    words_of,
)
from vaporwright.web.floor_photo import enter_photo

router = APIRouter(tags=["acceptance"])
RunName = Annotated[str, Path(max_length=80)]
JobId = Annotated[str, Path(max_length=40)]
Short = Annotated[str, Field(max_length=200)]
Words = Annotated[str, Field(max_length=2000)]
UUID: Final = r"^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$"
EventId = Annotated[str, Field(pattern=UUID)]
Age = Annotated[float, Field(ge=-1.0e9, le=1.0e9, allow_inf_nan=False)]  # the record says what is too old


class RunListed(Shape):
    """A run of a job."""

    run: str
    revision: int
    kind: str
    seq: int
    head: str
    settled: int
    steps: int
    signed: bool
    closed: bool


class ReadingShown(Shape):
    """A reading that counts, with the verdict of the moment; its value is SI."""

    entered: str
    value: float | bool | str
    outcome: Outcome
    instrument: str
    by: str
    at: str
    read_at: str
    event_id: str


class StepShown(Shape):
    """A step with its readings by field."""

    verdict: Outcome
    readings: dict[str, ReadingShown]


class RunShown(RunListed):
    """A run as it stands."""

    job: str
    variant: str
    void: bool
    released: bool
    outstanding: list[str]
    steps_by_key: dict[str, StepShown]


class FloorEntry(Shape):
    """Something typed on the floor. Sent again under the same event id, it is entered once.

    What waited before it was sent says for how long (`age_s`); or when it was done, with the reason.
    """

    event_id: EventId
    kind: EntryKind
    typed_by: Short
    step: Short = ""
    field: Short = ""
    text: Words = ""
    units: Literal["", "US", "SI"] = ""
    instrument: Short = ""
    corrects: Short = ""
    reason: Words = ""
    by: Short = ""
    category: Literal["", "A", "B", "C"] = ""
    number: Annotated[int, Field(ge=0, le=100_000)] = 0
    minutes: Annotated[float, Field(ge=0.0, le=1.0e6)] = 0.0
    at: Short = ""
    cells: Annotated[dict[Short, Short], Field(max_length=40)] = Field(default_factory=dict)
    instruments: Annotated[dict[Short, Short], Field(max_length=40)] = Field(default_factory=dict)
    age_s: Age = 0.0
    happened: Short = ""
    late_because: Words = ""


class Judged(Shape):
    """What was entered is on the disk: where the record stands, and for a reading what it is worth."""

    seq: int
    head: str
    outcome: Outcome | None = None
    words: str = ""
    look: Literal["", "caution", "alarm"] = ""
    entered: str = ""
    step_verdict: Outcome | None = None


@router.get("/jobs/{job}/runs", summary="Test runs of a job", responses=faults(404))
def runs(request: Request, job: JobId) -> list[RunListed]:
    """The runs, newest first."""
    entry = book(request).job(job)
    found = [(link, state_of(shop(request), link.run)) for link in book(request).runs(entry.id)]
    return [RunListed(**_listed(link.run, link.revision, state)) for link, state in found]


@router.get("/runs/{run}", summary="How a test run stands", responses=faults(404))
def one(request: Request, run: RunName) -> RunShown:
    """Every step with its verdict and its readings."""
    opened = run_named(request, run)
    state = opened.state
    return RunShown(
        **_listed(opened.run, opened.link.revision, state),
        job=opened.link.job,
        variant=state.procedure.variant if state.procedure else "",
        void=state.void is not None,
        released=state.release is not None,
        outstanding=[step.key for step in state.outstanding],
        steps_by_key={
            step.key: StepShown(
                verdict=state.verdict(step),
                readings={
                    field.key: _reading(taken)
                    for field in step.fields
                    if (taken := state.current(step.key, field.key)) is not None
                },
            )
            for step in state.steps
        },
    )


@router.post("/runs/{run}/entries", summary="Enter something", responses=faults(404, 409))
def enter(request: Request, run: RunName, entry: FloorEntry) -> Judged:
    """A reading is judged at once; sent again under the same event id, nothing is entered twice."""
    told = entry.model_dump(exclude={"age_s", "happened", "late_because"})
    waited = Waited(entry.age_s, entry.happened, entry.late_because)
    state = enter_entry(request, run_named(request, run), Entry(**told, waited=waited))
    taken = next(
        (had for history in state.history.values() for had in history if had.mark.event_id == entry.event_id), None
    )
    step = state.procedure.step(entry.step) if state.procedure and entry.step else None
    verdict = None if step is None else state.verdict(step)
    if taken is None:
        return Judged(seq=state.seq, head=state.head, step_verdict=verdict)
    return Judged(
        seq=state.seq,
        head=state.head,
        outcome=taken.outcome,
        words=words_of(taken.words, viewer(request).units),
        look=kind_of(taken.outcome),  # type: ignore[arg-type]
        entered=taken.reading.entered,
        step_verdict=verdict,
    )


class PhotoKept(Shape):
    """A file is in the record: where that stands."""

    seq: int
    head: str


@router.post("/runs/{run}/photos", summary="Add a photograph or a PDF", responses=faults(404, 409))
def add_photo(
    request: Request,
    run: RunName,
    event_id: Annotated[EventId, Form()],
    typed_by: Annotated[Short, Form()],
    step: Annotated[Short, Form()],
    photo: Annotated[UploadFile, File()],
    age_s: Annotated[Age, Form()] = 0.0,
    happened: Annotated[Short, Form()] = "",
    late_because: Annotated[Words, Form()] = "",
) -> PhotoKept:
    """A file of a step, JPEG, PNG, WebP or PDF; sent again under the same event id, it is there once."""
    opened = run_named(request, run)
    who = require_typist(request, typed_by)
    state = enter_photo(request, opened, who, step, photo, event_id, Waited(age_s, happened, late_because))
    return PhotoKept(seq=state.seq, head=state.head)


def _listed(run: str, revision: int, state: RunState) -> dict[str, Any]:
    standing = standing_of(state)
    return {
        "run": run,
        "revision": revision,
        "kind": state.kind or "",
        "seq": state.seq,
        "head": state.head,
        "settled": standing.settled,
        "steps": standing.of,
        "signed": bool(state.covering),
        "closed": state.closed is not None,
    }


def _reading(taken: TakenReading) -> ReadingShown:
    return ReadingShown(
        entered=taken.reading.entered,
        value=taken.reading.value,
        outcome=taken.outcome,
        instrument=taken.reading.instrument,
        by=taken.mark.who,
        at=taken.mark.at,
        read_at=taken.read_at,
        event_id=taken.mark.event_id,
    )
