"""Results of the trainer, as they are kept: begun, ended once, listed newest first."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from vaporwright.store.database import Database
from vaporwright.store.job_store import JobStore, Texts
from vaporwright.store.training_store import Ending, TrainingStore, WrongDeed

DONE = Ending("done", 95.0, 4, (WrongDeed(12.5, "Started too soon.", False),), 1, 2, "")


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    made = Database(str(tmp_path / "shop.db"))
    yield made
    made.close()


@pytest.fixture
def job(database: Database) -> str:
    return JobStore(database).add("A job", "A customer", Texts("[job]"), by="Ann", note="", at=1.0).id


def test_a_try_is_kept_from_its_beginning_and_ended_once(database: Database, job: str) -> None:
    store = TrainingStore(database)
    made = store.begin(job, 3, "belt", 4, who="Pat", account="a1", at=100.0)
    (line,) = store.attempts(limit=9)
    assert (line.who, line.account, line.job, line.revision, line.task) == ("Pat", "a1", job, 3, "belt")
    assert (line.begun_at, line.ended_at, line.goals, line.ending.outcome) == (100.0, None, 4, "at work")
    store.end(made, DONE, at=200.0)
    store.end(made, Ending("given up", 1.0, 0, (), 0, 0, ""), at=300.0)
    (line,) = store.attempts(limit=9)
    assert line.ended_at == 200.0
    assert line.ending == DONE


def test_one_sees_ones_own_by_account_or_by_name_and_newest_first(database: Database, job: str) -> None:
    store = TrainingStore(database)
    for at, (who, account) in enumerate((("Pat", ""), ("Pat", "a1"), ("Kim", ""), ("Pat", "")), 1):
        store.begin(job, 1, "stop", 4, who=who, account=account, at=float(at))
    assert [line.begun_at for line in store.attempts(limit=9)] == [4.0, 3.0, 2.0, 1.0]
    assert [line.begun_at for line in store.attempts(limit=9, account="", who="Pat")] == [4.0, 1.0]
    assert [line.begun_at for line in store.attempts(limit=9, account="a1", who="Anything")] == [2.0]
    assert [line.begun_at for line in store.attempts(limit=1, before=3.0)] == [2.0]
    assert store.attempts(limit=9, jobs=["another"]) == ()
