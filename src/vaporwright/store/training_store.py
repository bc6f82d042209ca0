"""What people did at the trainer's tasks: begun under their name, and what came of it. A line is ended once."""

from __future__ import annotations

import json
import secrets
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal, TypeAlias

from sqlalchemy import ColumnElement, insert, select, true, update

from vaporwright.store.database import Database
from vaporwright.store.web_tables import TRAINING

Outcome: TypeAlias = Literal["at work", "done", "not done", "given up", "left"]


@dataclass(frozen=True)
class WrongDeed:
    """A deed that counted against a trainee, at a time of the unit since it was handed over."""

    time_s: float
    words: str
    dangerous: bool


@dataclass(frozen=True)
class Ending:
    """How an attempt ended."""

    outcome: Outcome
    unit_s: float
    reached: int
    wrong: tuple[WrongDeed, ...]
    guesses: int  # at the cause, that were wrong
    hints: int
    remark: str


@dataclass(frozen=True)
class KeptAttempt:
    """A line of the results."""

    id: str
    job: str
    revision: int
    task: str
    who: str
    account: str
    begun_at: float
    ended_at: float | None
    goals: int
    ending: Ending


class TrainingStore:
    """Attempts in a database."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def begin(self, job: str, revision: int, task: str, goals: int, *, who: str, account: str, at: float) -> str:
        """Keep that somebody has begun a task; the id of the line comes back."""
        made = secrets.token_hex(8)
        values = {"id": made, "job": job, "revision": revision, "task": task, "who": who, "account": account}
        nothing = _ending_values(Ending("at work", 0.0, 0, (), 0, 0, ""))
        with self._database.writing() as connection:
            connection.execute(insert(TRAINING).values(**values, begun_at=at, goals=goals, **nothing))
        return made

    def end(self, identifier: str, ending: Ending, *, at: float) -> None:
        """Keep what came of it. What has ended stays as it is."""
        place = (TRAINING.c.id == identifier) & TRAINING.c.ended_at.is_(None)
        with self._database.writing() as connection:
            connection.execute(update(TRAINING).where(place).values(ended_at=at, **_ending_values(ending)))

    def attempts(
        self,
        *,
        limit: int,
        account: str | None = None,
        who: str = "",
        jobs: Sequence[str] | None = None,
        before: float | None = None,
    ) -> tuple[KeptAttempt, ...]:
        """Newest first: of an account (of a name, where that is empty), on some jobs only, begun before a time."""
        place: ColumnElement[bool] = true()
        if account is not None:
            place &= (TRAINING.c.account == account) & (true() if account else TRAINING.c.who == who)
        if jobs is not None:
            place &= TRAINING.c.job.in_(jobs)
        if before is not None:
            place &= TRAINING.c.begun_at < before
        wanted = select(TRAINING).where(place).order_by(TRAINING.c.begun_at.desc(), TRAINING.c.id).limit(limit)
        return tuple(_kept(row) for row in self._database.rows(wanted))


def _ending_values(ending: Ending) -> dict[str, Any]:
    return {**asdict(ending), "wrong": json.dumps([asdict(one) for one in ending.wrong], allow_nan=False)}


def _kept(row: Any) -> KeptAttempt:
    wrong = tuple(WrongDeed(**one) for one in json.loads(row.wrong))
    ending = Ending(row.outcome, row.unit_s, row.reached, wrong, row.guesses, row.hints, row.remark)
    return KeptAttempt(
        row.id,
        row.job,
        row.revision,
        row.task,
        row.who,
        row.account,
        row.begun_at,
        row.ended_at,
        row.goals,
        ending,
    )
