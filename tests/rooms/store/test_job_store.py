"""Jobs and revisions, in both kinds of database; records and web tables in one place."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import create_engine, inspect, text

from invented_record import Hand
from vaporwright.foundation.errors import InputError
from vaporwright.store.database import Database
from vaporwright.store.job_store import JobStore, Texts
from vaporwright.store.people_store import PeopleStore
from vaporwright.store.record_store import Conflict, StoreError
from vaporwright.store.sql_store import open_store
from vaporwright.store.web_tables import METADATA

FIRST, SECOND = Texts("a = 1\n"), Texts("a = 2\n", "catalogue", "table")


@pytest.fixture
def database(where: str) -> Iterator[Database]:
    opened = Database(where)
    yield opened
    opened.close()


@pytest.fixture
def jobs(database: Database) -> JobStore:
    return JobStore(database)


def _add(jobs: JobStore, name: str = "Small", at: float = 10.0) -> str:
    return jobs.add(name, "Invented", FIRST, at=at, by="Pat", note="started").id


def test_a_job_and_its_revisions(jobs: JobStore) -> None:
    job = _add(jobs)
    assert jobs.revise(job, 1, "Large", "Other", SECOND, at=20.0, by="Kim", note="why") == 2
    found = jobs.job(job)
    assert found is not None
    assert (found.name, found.customer, found.made_by, found.revision, found.revised_at) == (
        "Large",
        "Other",
        "Pat",
        2,
        20.0,
    )
    newest, first = jobs.revisions(job)
    assert (newest.number, newest.texts, newest.made_by, newest.note) == (2, SECOND, "Kim", "why")
    assert (first.number, first.texts, first.made_at) == (1, FIRST, 10.0)
    assert jobs.revision(job, 1) == first
    assert jobs.revision(job, 3) is None
    assert jobs.job("nobody's") is None


def test_the_list_has_the_one_revised_last_first(jobs: JobStore) -> None:
    older, newer = _add(jobs, "A", 10.0), _add(jobs, "B", 20.0)
    assert [entry.id for entry in jobs.jobs()] == [newer, older]
    jobs.revise(older, 1, "A", "", SECOND, at=30.0, by="Pat", note="")
    assert [entry.id for entry in jobs.jobs()] == [older, newer]
    jobs.archive(older, 40.0)
    assert {entry.id: entry.archived_at for entry in jobs.jobs()} == {older: 40.0, newer: None}


def test_of_two_who_revise_at_once_one_is_told(jobs: JobStore) -> None:
    job = _add(jobs)
    outcomes: list[object] = []
    barrier = threading.Barrier(4)

    def revise(place: int) -> None:
        barrier.wait()
        try:
            outcomes.append(jobs.revise(job, 1, "A", "", Texts(f"a = {place}"), at=20.0, by=str(place), note=""))
        except Conflict as error:
            outcomes.append(error)

    threads = [threading.Thread(target=revise, args=(place,)) for place in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(str(type(one).__name__) for one in outcomes) == ["Conflict"] * 3 + ["int"]
    assert len(jobs.revisions(job)) == 2


def test_no_number_is_left_out(jobs: JobStore) -> None:
    job = _add(jobs)
    for after in (0, 2, 5):
        with pytest.raises(Conflict):
            jobs.revise(job, after, "A", "", SECOND, at=1.0, by="Pat", note="")
    assert [revision.number for revision in jobs.revisions(job)] == [1]


def test_guests_see_what_was_opened_to_them(jobs: JobStore, database: Database) -> None:
    people = PeopleStore(database)
    wim = people.add_account("Wim", "seven dry pumps in a row", "witness", (), "US", at=1.0, by="test").id
    job, other = _add(jobs), _add(jobs)
    jobs.open_to(job, (wim,))
    jobs.open_to(other, (wim,))
    jobs.open_to(other, ())
    assert (jobs.guests(job), jobs.guests(other)) == ({wim}, set())
    assert jobs.open_jobs(wim) == {job}


def test_nothing_is_revised_that_is_not_there(jobs: JobStore) -> None:
    with pytest.raises(InputError, match="no job of this store"):
        jobs.revise("nobody's", 1, "A", "", SECOND, at=1.0, by="Pat", note="")


def test_marks_and_runs(jobs: JobStore) -> None:
    job, other = _add(jobs), _add(jobs)
    jobs.mark(job, "sized", 1, at=20.0, who="Pat")
    jobs.mark(job, "sized", 1, at=30.0, who="Kim")
    jobs.mark(other, "controls", 1, at=25.0, who="Kim", note="by hand")
    assert [(mark.stage, mark.at, mark.who) for mark in jobs.marks(job)] == [("sized", 20.0, "Pat")]
    assert len(jobs.marks()) == 2
    jobs.link_run("run-1", job, 1, at=40.0)
    with pytest.raises(InputError, match="belongs to a job already"):
        jobs.link_run("run-1", other, 1, at=50.0)
    assert [linked.run for linked in jobs.runs(job)] == ["run-1"]
    assert jobs.runs(other) == ()
    linked = jobs.run("run-1")
    assert linked is not None
    assert linked.job == job


def test_records_and_jobs_are_in_one_place(where: str, database: Database) -> None:
    hand = Hand()
    hand.begins()
    database.records.append(hand.run, 0, hand.rows)
    _add(JobStore(database))
    again = open_store(where)  # as a command without pages opens it
    assert again.load(hand.run) == tuple(hand.rows)
    again.close()
    names = set(inspect(database.engine).get_table_names())
    assert set(METADATA.tables) <= names


def test_a_store_of_records_alone_gets_the_other_tables(where: str) -> None:
    open_store(where).close()
    database = Database(where)
    assert JobStore(database).jobs() == ()
    database.close()


def test_a_newer_version_and_a_database_of_something_else_are_refused(where: str, tmp_path: Path) -> None:
    database = Database(where)
    with database.writing() as connection:
        connection.execute(text("UPDATE web_schema SET version = 99"))
    database.close()
    with pytest.raises(StoreError, match="version 99"):
        Database(where)
    other = tmp_path / "other.db"
    engine = create_engine(f"sqlite:///{other}")
    with engine.begin() as connection:
        connection.execute(text("CREATE TABLE orders (id INTEGER)"))
    engine.dispose()
    with pytest.raises(StoreError, match="something else"):
        Database(str(other))


def test_what_is_acknowledged_lasts_by_the_same_rules_as_records(database: Database) -> None:
    with database.engine.connect() as connection:
        if database.engine.dialect.name == "postgresql":
            assert connection.execute(text("SHOW synchronous_commit")).scalar_one() == "on"
        else:
            assert connection.execute(text("PRAGMA synchronous")).scalar_one() in (2, 3)
            journal = connection.execute(text("PRAGMA journal_mode")).scalar_one()
            assert (journal, connection.execute(text("PRAGMA synchronous")).scalar_one()) in (("wal", 2), ("delete", 3))


def test_nothing_of_a_change_that_fails_is_kept(database: Database) -> None:
    def half() -> None:
        with database.writing() as connection:
            connection.execute(text("INSERT INTO web_jobs VALUES ('x', 'A', '', 1.0, 'Pat', NULL)"))
            raise RuntimeError("in the middle")

    with pytest.raises(RuntimeError, match="in the middle"):
        half()
    assert JobStore(database).job("x") is None
    assert database.rows(text("SELECT count(*) FROM web_jobs"))[0][0] == 0
