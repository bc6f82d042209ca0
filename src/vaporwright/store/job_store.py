"""Jobs with their revisions, the marks along their way, and which test runs belong to them.

A revision is never altered: what changes becomes the next one.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from typing import Any

from sqlalchemy import delete, func, insert, select, update
from sqlalchemy.exc import IntegrityError

from vaporwright.foundation.errors import InputError
from vaporwright.store.database import Database
from vaporwright.store.record_store import Conflict
from vaporwright.store.web_tables import GUESTS, JOBS, MARKS, REVISIONS, RUNS


@dataclass(frozen=True)
class Texts:
    """What a job consists of: its file, and the shop's own catalogue and control table where it names them."""

    job: str
    catalogue: str | None = None
    table: str | None = None


@dataclass(frozen=True)
class Job:
    """A job as listed."""

    id: str
    name: str
    customer: str
    made_at: float
    made_by: str
    archived_at: float | None
    revision: int  # the newest
    revised_at: float


@dataclass(frozen=True)
class Revision:
    """One state of a job's texts."""

    job: str
    number: int
    texts: Texts
    made_at: float
    made_by: str
    note: str


@dataclass(frozen=True)
class Mark:
    """A stage of the job's way that a revision has reached."""

    job: str
    stage: str
    revision: int
    at: float
    who: str
    note: str


@dataclass(frozen=True)
class LinkedRun:
    """A test run of a job."""

    run: str
    job: str
    revision: int
    at: float


class JobStore:
    """Jobs in a database."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, name: str, customer: str, texts: Texts, *, at: float, by: str, note: str) -> Job:
        """A new job with its first revision."""
        job = secrets.token_hex(8)
        with self._database.writing() as connection:
            values = {"id": job, "name": name, "customer": customer, "made_at": at, "made_by": by}
            connection.execute(insert(JOBS).values(**values))
            connection.execute(insert(REVISIONS).values(**_revision_values(job, 1, texts, at, by, note)))
        return Job(job, name, customer, at, by, None, 1, at)

    def revise(
        self, job: str, after: int, name: str, customer: str, texts: Texts, *, at: float, by: str, note: str
    ) -> int:
        """The next revision, after the one that its writer saw; its number comes back.

        Raises: Conflict where somebody else has revised the job meanwhile.
        """
        try:
            with self._database.writing() as connection:
                newest = select(func.max(REVISIONS.c.number)).where(REVISIONS.c.job == job)
                last = connection.execute(newest).scalar_one()
                if last is None:
                    raise InputError("job", job, "is no job of this store")
                if last != after:
                    raise Conflict(f"somebody else has made revision {last} since you opened revision {after}")
                connection.execute(insert(REVISIONS).values(**_revision_values(job, after + 1, texts, at, by, note)))
                connection.execute(update(JOBS).where(JOBS.c.id == job).values(name=name, customer=customer))
        except IntegrityError:
            raise Conflict(f"somebody else has made revision {after + 1} at this very moment") from None
        return after + 1

    def jobs(self) -> tuple[Job, ...]:
        """Every job, the one revised last first."""
        found = self._database.rows(_listed().order_by(REVISIONS.c.made_at.desc(), JOBS.c.id))
        return tuple(Job(*row) for row in found)

    def job(self, job: str) -> Job | None:
        """A job by its id."""
        found = self._database.rows(_listed().where(JOBS.c.id == job))
        return Job(*found[0]) if found else None

    def revisions(self, job: str) -> tuple[Revision, ...]:
        """The revisions of a job, newest first."""
        wanted = select(REVISIONS).where(REVISIONS.c.job == job).order_by(REVISIONS.c.number.desc())
        return tuple(_revision(row) for row in self._database.rows(wanted))

    def revision(self, job: str, number: int) -> Revision | None:
        """One revision of a job."""
        if not 0 < number < 2**31:  # what a database keeps as a number
            return None
        place = (REVISIONS.c.job == job) & (REVISIONS.c.number == number)
        found = self._database.rows(select(REVISIONS).where(place))
        return _revision(found[0]) if found else None

    def archive(self, job: str, at: float | None) -> None:
        """Put a job away, or bring it back with None."""
        with self._database.writing() as connection:
            connection.execute(update(JOBS).where(JOBS.c.id == job).values(archived_at=at))

    def mark(self, job: str, stage: str, revision: int, *, at: float, who: str, note: str = "") -> None:
        """Note that a revision has reached a stage; noted twice, the first time stands."""
        values = {"job": job, "stage": stage, "revision": revision, "at": at, "who": who, "note": note}
        place = (MARKS.c.job == job) & (MARKS.c.stage == stage) & (MARKS.c.revision == revision)
        try:
            with self._database.writing() as connection:
                if connection.execute(select(func.count()).select_from(MARKS).where(place)).scalar_one() == 0:
                    connection.execute(insert(MARKS).values(**values))
        except IntegrityError:
            return  # somebody else noted it at the same moment

    def unmark(self, job: str, stage: str, revision: int) -> None:
        """Take a stage back: what brought it no longer holds."""
        with self._database.writing() as connection:
            place = (MARKS.c.job == job) & (MARKS.c.stage == stage) & (MARKS.c.revision == revision)
            connection.execute(delete(MARKS).where(place))

    def marks(self, job: str | None = None) -> tuple[Mark, ...]:
        """The marks of a job, or of all jobs, in the order in which they were made."""
        wanted = select(MARKS).order_by(MARKS.c.at)
        found = self._database.rows(wanted if job is None else wanted.where(MARKS.c.job == job))
        return tuple(Mark(*row) for row in found)

    def link_run(self, run: str, job: str, revision: int, *, at: float) -> None:
        """Say that a run of the records belongs to a revision of a job.

        Raises: InputError where the run belongs to another one already.
        """
        try:
            with self._database.writing() as connection:
                connection.execute(insert(RUNS).values(run=run, job=job, revision=revision, at=at))
        except IntegrityError:
            raise InputError("run", run, "belongs to a job already", "another name of the run") from None

    def runs(self, job: str) -> tuple[LinkedRun, ...]:
        """The runs of a job, newest first."""
        wanted = select(RUNS).where(RUNS.c.job == job).order_by(RUNS.c.at.desc())
        return tuple(LinkedRun(*row) for row in self._database.rows(wanted))

    def run(self, run: str) -> LinkedRun | None:
        """Which job a run belongs to."""
        found = self._database.rows(select(RUNS).where(RUNS.c.run == run))
        return LinkedRun(*found[0]) if found else None

    def open_to(self, job: str, accounts: tuple[str, ...]) -> None:
        """Let these guests look at a job, and no others."""
        with self._database.writing() as connection:
            connection.execute(delete(GUESTS).where(GUESTS.c.job == job))
            if accounts:
                connection.execute(insert(GUESTS), [{"job": job, "account": account} for account in accounts])

    def guests(self, job: str) -> frozenset[str]:
        """The accounts of the guests who may look at a job."""
        return frozenset(row[0] for row in self._database.rows(select(GUESTS.c.account).where(GUESTS.c.job == job)))

    def open_jobs(self, account: str) -> frozenset[str]:
        """The jobs that a guest may look at."""
        return frozenset(row[0] for row in self._database.rows(select(GUESTS.c.job).where(GUESTS.c.account == account)))


def _listed() -> Any:
    newest = select(REVISIONS.c.job, func.max(REVISIONS.c.number).label("number")).group_by(REVISIONS.c.job).subquery()
    last = (REVISIONS.c.job == newest.c.job) & (REVISIONS.c.number == newest.c.number)
    columns = (JOBS.c.id, JOBS.c.name, JOBS.c.customer, JOBS.c.made_at, JOBS.c.made_by, JOBS.c.archived_at)
    joined = select(*columns, REVISIONS.c.number, REVISIONS.c.made_at.label("revised_at"))
    return joined.join(newest, newest.c.job == JOBS.c.id).join(REVISIONS, last)


def _revision(row: Any) -> Revision:
    texts = Texts(row.job_text, row.catalogue_text, row.table_text)
    return Revision(row.job, row.number, texts, row.made_at, row.made_by, row.note)


def _revision_values(job: str, number: int, texts: Texts, at: float, by: str, note: str) -> dict[str, object]:
    return {
        "job": job,
        "number": number,
        "job_text": texts.job,
        "catalogue_text": texts.catalogue,
        "table_text": texts.table,
        "made_at": at,
        "made_by": by,
        "note": note,
    }
