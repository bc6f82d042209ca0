"""Jobs for programs: the list, one job with its revisions, taking in and revising, what differs."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import PlainTextResponse
from pydantic import Field

from vaporwright.actions.job_book import Change, Listed, Stage, difference
from vaporwright.store.job_store import Job, Texts
from vaporwright.web.api.shapes import Shape, faults, faults_of_text
from vaporwright.web.context import Viewer, book, note, require, require_name, viewer

router = APIRouter(tags=["jobs"])
JobId = Annotated[str, Path(max_length=40)]
Number = Annotated[int, Path(ge=1, le=2**31 - 1)]
Asked = Annotated[int, Query(ge=1, le=2**31 - 1)]
Toml = Annotated[str, Field(max_length=4_000_000)]


class JobEntry(Shape):
    """A job as listed; times are seconds since 1970."""

    id: str
    name: str
    customer: str
    revision: int
    stage: Stage
    made_at: float
    made_by: str
    revised_at: float
    archived: bool


class RevisionEntry(Shape):
    """A revision as listed."""

    number: int
    made_at: float
    made_by: str
    note: str


class Reached(Shape):
    """A stage of the job's way, and with which revision it was reached; none: not yet."""

    stage: Stage
    revision: int | None
    at: float | None
    who: str | None


class JobDetail(JobEntry):
    """A job with its revisions, newest first, and its way."""

    revisions: list[RevisionEntry]
    way: list[Reached]


class JobTexts(Shape):
    """What a job consists of: TOML texts; catalogue and table only where the job file names them."""

    job: Toml
    catalogue: Toml | None = None
    table: Toml | None = None
    note: str = Field(default="", max_length=2000)


class Revise(JobTexts):
    """The next revision, after the one that its writer saw."""

    after: int = Field(ge=1, le=2**31 - 1)


class Differing(Shape):
    """A key that differs; empty where it is not given."""

    key: str
    meaning: str
    old: str
    new: str
    kind: str


class Differences(Shape):
    """What differs between two revisions."""

    changes: list[Differing]
    catalogue: list[str]
    table: list[str]


@router.get("/jobs", summary="List, search and filter jobs", responses=faults())
def jobs(
    request: Request,
    search: Annotated[str, Query(max_length=200)] = "",
    stage: Stage | None = None,
    archived: bool = False,
) -> list[JobEntry]:
    """Jobs whose name, customer or id has every word of the search, the one revised last first."""
    return [_entry(one) for one in book(request).listed(search, stage or "", archived=archived)]


@router.post("/jobs", summary="Take in a job", status_code=201, responses=faults())
def take_in(request: Request, texts: JobTexts) -> JobEntry:
    """A new job from its texts."""
    who = _somebody(request)
    made = book(request).take_in(Texts(texts.job, texts.catalogue, texts.table), by=who.name, note=texts.note)
    note(request, "job made", made.id, made.name)
    return _entry(Listed(made, "enquiry"))


@router.get("/jobs/{job}", summary="One job", responses=faults(404))
def one(request: Request, job: JobId) -> JobDetail:
    """A job with its revisions and its way."""
    entry = book(request).job(job)
    way = book(request).way(job)
    revisions = [
        RevisionEntry(number=each.number, made_at=each.made_at, made_by=each.made_by, note=each.note)
        for each in book(request).revisions(job)
    ]
    reached = [
        Reached(
            stage=each.stage,
            revision=each.mark.revision if each.mark else None,
            at=each.mark.at if each.mark else None,
            who=each.mark.who if each.mark else None,
        )
        for each in way
    ]
    listed = _entry(Listed(entry, book(request).stage(job)))
    return JobDetail(**listed.model_dump(), revisions=revisions, way=reached)


@router.post("/jobs/{job}/revisions", summary="Revise a job", status_code=201, responses=faults(404, 409))
def revise(request: Request, job: JobId, texts: Revise) -> JobEntry:
    """The next revision of a job; where nothing differs, there is none."""
    who = _somebody(request)
    made = Texts(texts.job, texts.catalogue, texts.table)
    number = book(request).revise(job, texts.after, made, by=who.name, note=texts.note)
    note(request, "job revised", job, f"revision {number}")
    return _entry(Listed(book(request).job(job), book(request).stage(job)))


@router.get(
    "/jobs/{job}/revisions/{number}/file",
    summary="The job file of a revision",
    response_class=PlainTextResponse,
    responses=faults_of_text(404),
)
def job_file(request: Request, job: JobId, number: Number) -> PlainTextResponse:
    """TOML, as it was taken in."""
    return PlainTextResponse(book(request).revision(job, number).texts.job)


@router.get("/jobs/{job}/difference", summary="What differs between two revisions", responses=faults(404))
def compare(request: Request, job: JobId, old: Asked, new: Asked) -> Differences:
    """Keys that differ, as typed, and lines of catalogue and table."""
    before, after = book(request).revision(job, old), book(request).revision(job, new)
    found = difference(before.texts, after.texts, viewer(request).units)
    changes = [_differing(change) for change in found.changes]
    return Differences(changes=changes, catalogue=list(found.catalogue), table=list(found.table))


@router.post("/jobs/{job}/archive", summary="Put a job away", status_code=204, responses=faults(404))
def put_away(request: Request, job: JobId) -> None:
    """The job stays, and is listed under archived=true."""
    _archive(request, job, True)


@router.delete("/jobs/{job}/archive", summary="Bring a job back", status_code=204, responses=faults(404))
def bring_back(request: Request, job: JobId) -> None:
    """The job is listed with the others again."""
    _archive(request, job, False)


def _archive(request: Request, job: str, away: bool) -> None:
    require(request, "engineer")
    book(request).archive(job, away)
    note(request, "job put away" if away else "job brought back", job)


def _somebody(request: Request) -> Viewer:
    """An engineer; at the machine itself, a program names its user in the header X-Vaporwright-Name."""
    return require_name(request, "engineer")


def _entry(one: Listed) -> JobEntry:
    job: Job = one.job
    return JobEntry(
        id=job.id,
        name=job.name,
        customer=job.customer,
        revision=job.revision,
        stage=one.stage,
        made_at=job.made_at,
        made_by=job.made_by,
        revised_at=job.revised_at,
        archived=job.archived_at is not None,
    )


def _differing(change: Change) -> Differing:
    return Differing(key=change.key, meaning=change.meaning, old=change.old, new=change.new, kind=change.kind)
