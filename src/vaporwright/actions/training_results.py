"""Results of the trainer, kept: who began which task on which unit, how it ended, what was done wrong, hints taken.

A result says what somebody did at the panel of a model. It is no certificate, and qualifies nobody.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from vaporwright.actions.training import Attempt
from vaporwright.actions.training_tasks import Task
from vaporwright.store.database import Database
from vaporwright.store.people_store import PeopleStore
from vaporwright.store.training_store import Ending, Outcome, TrainingStore, WrongDeed


@dataclass(frozen=True)
class Trainee:
    """Who tries a task: by an account, or by the name given at the machine itself."""

    name: str
    account: str
    address: str


class KeptTry:
    """One trainee's try at one task, kept from its beginning; whoever runs the unit says when it is over."""

    def __init__(
        self, database: Database, clock: Callable[[], float], trainee: Trainee, job: str, revision: int, task: Task
    ) -> None:
        self._results, self._people = TrainingStore(database), PeopleStore(database)
        self._clock, self._trainee, self._job, self._task = clock, trainee, job, task
        at = clock()
        self.id = self._results.begin(
            job, revision, task.key, len(task.goals), who=trainee.name, account=trainee.account, at=at
        )
        self._note("training begun", task.title, at)

    def over(self, attempt: Attempt | None, time_s: float, why: str) -> None:
        """Keep how it ended; `attempt` is none where the unit was never handed over, `why` says why it was left."""
        at, ending = self._clock(), ending_of(attempt, time_s, why)
        self._results.end(self.id, ending, at=at)
        self._note("training ended", f"{self._task.title}: {ending.outcome}", at)

    def _note(self, what: str, detail: str, at: float) -> None:
        who = self._trainee
        self._people.note(
            what, at=at, who=who.name, account=who.account, address=who.address, subject=self._job, detail=detail
        )


def ending_of(attempt: Attempt | None, time_s: float, why: str) -> Ending:
    """How an attempt ended, at a time of the unit."""
    if attempt is None:
        return Ending("left", 0.0, 0, (), 0, 0, why)
    is_left = attempt.verdict == "at work"
    outcome: Outcome = "done" if attempt.verdict == "passed" else "not done"
    if attempt.given_up or is_left:
        outcome = "left" if is_left else "given up"
    return Ending(
        outcome,
        max(time_s - attempt.handed_over_s, 0.0),
        len(attempt.reached),
        tuple(WrongDeed(one.time_s, one.words, one.dangerous) for one in attempt.wrong),
        attempt.guesses - attempt.cause_named,
        attempt.hints,
        why if is_left else attempt.harm,
    )
