"""Backup while others write, and restoring: all that was acknowledged before, of one moment, and nothing altered."""

from __future__ import annotations

import hashlib
import json
import sqlite3
import threading
import zipfile
from pathlib import Path

import pytest
from sqlalchemy import inspect, text

from invented_record import JOB_FILE, Hand
from postgres_server import fresh_database
from vaporwright.store.backup import backup, look_through, restore
from vaporwright.store.database import Database
from vaporwright.store.job_store import JobStore, Texts
from vaporwright.store.people_store import PeopleStore
from vaporwright.store.record_store import StoreError

ODD = 'tab\t, back\\slash, "quotes", ünïcode 水, \\N, \\.\nsecond line\r\n'


def _fill(where: str) -> Database:
    database = Database(where)
    jobs, people = JobStore(database), PeopleStore(database)
    job = jobs.add(ODD, "", Texts(ODD, None, ODD), at=1.25, by="Pat", note="")
    jobs.revise(job.id, 1, ODD, "", Texts("b"), at=2.5, by="Kim", note=ODD)
    jobs.mark(job.id, "sized", 1, at=3.0, who="Pat")
    people.note("something", at=1.0, who="Pat", account="", address="x", detail=ODD)
    hand = Hand()
    hand.begins()
    database.records.append(hand.run, 0, hand.rows)
    database.records.put(JOB_FILE)
    database.records.put(bytes(range(256)) * 50)
    return database


def _place_for(where: str, request: pytest.FixtureRequest, folder: Path) -> str:
    if "://" in where:
        return fresh_database(request.getfixturevalue("postgres_address"))
    return str(folder / "restored.db")


def _content(where: str) -> dict[str, list[tuple[object, ...]]]:
    database = Database(where)
    names = sorted(inspect(database.engine).get_table_names())
    found = {
        name: sorted((tuple(row) for row in database.rows(text(f"SELECT * FROM {name}"))), key=str) for name in names
    }
    database.close()
    return found


def test_everything_comes_back(where: str, tmp_path: Path, request: pytest.FixtureRequest) -> None:
    database = _fill(where)  # open, as a server has it
    kept = backup(where, tmp_path / "backup")
    assert kept.jobs == 1
    assert kept.rows["web_revisions"] == 2
    database.close()
    place = _place_for(where, request, tmp_path)
    restored = restore(tmp_path / "backup", place)
    assert restored.rows == kept.rows
    before = _content(where)
    assert _content(place) == before
    assert {name: len(rows) for name, rows in before.items()} == kept.rows  # no table is left out
    again = Database(place)  # it goes on from there
    PeopleStore(again).note("later", at=9.0, who="Pat", account="", address="x")
    assert [entry.what for entry in PeopleStore(again).audit()] == ["later", "something"]
    again.close()
    assert list(tmp_path.glob("*.part*")) == []


def test_a_backup_while_others_write_is_of_one_moment(
    where: str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    database = _fill(where)
    jobs = JobStore(database)
    acknowledged: list[int] = []
    stop, begun = threading.Event(), threading.Event()
    faults: list[Exception] = []

    def write() -> None:
        number = 0
        while not stop.is_set():
            number += 1
            try:
                jobs.add(f"job {number}", "", Texts("a = 1\n" * 50), at=float(number), by="Pat", note="")
            except Exception as error:
                faults.append(error)
                return
            acknowledged.append(number)
            if number == 20:
                begun.set()

    writer = threading.Thread(target=write)
    writer.start()
    try:
        assert begun.wait(30)
        before = len(acknowledged)
        kept = backup(where, tmp_path / "backup")
        after = len(acknowledged) + 1  # one may be written and not yet counted
    finally:
        stop.set()
        writer.join()
        database.close()
    assert faults == []
    place = _place_for(where, request, tmp_path)
    restore(tmp_path / "backup", place)
    restored = Database(place)
    names = {job.name for job in JobStore(restored).jobs()} - {ODD}
    restored.close()
    assert before <= len(names) <= after
    assert names == {f"job {number}" for number in range(1, len(names) + 1)}  # none from later, none missing
    assert kept.rows["web_jobs"] == len(names) + 1
    assert kept.rows["web_revisions"] == len(names) + 2


def test_nothing_is_overwritten(where: str, tmp_path: Path, request: pytest.FixtureRequest) -> None:
    _fill(where).close()
    target = tmp_path / "backup"
    backup(where, target)
    content = target.read_bytes()
    with pytest.raises(StoreError, match="not overwritten"):
        backup(where, target)
    with pytest.raises(StoreError, match="overwritten"):
        restore(target, where)
    assert target.read_bytes() == content
    place = _place_for(where, request, tmp_path)
    restore(target, place)
    with pytest.raises(StoreError, match="overwritten"):
        restore(target, place)


def test_what_is_no_backup_is_refused(where: str, tmp_path: Path, request: pytest.FixtureRequest) -> None:
    place = _place_for(where, request, tmp_path)
    wrong = {
        "letter.txt": b"Dear customer",
        "empty": b"",
        "cut.db": b"SQLite format 3\0" + bytes(4000),
        "cut.zip": b"PK\x03\x04" + bytes(100),
    }
    for name, content in wrong.items():
        (tmp_path / name).write_bytes(content)
        with pytest.raises(StoreError):
            restore(tmp_path / name, place)
    with pytest.raises(StoreError, match="no such file"):
        restore(tmp_path / "none", place)
    other = tmp_path / "other.db"
    connection = sqlite3.connect(other)
    connection.execute("CREATE TABLE orders (id INTEGER)")
    connection.close()
    with pytest.raises(StoreError):
        restore(other, place)
    with pytest.raises(StoreError, match=r"no such store|no sound|something else|other kind"):
        backup(str(tmp_path / "nowhere.db"), tmp_path / "b")


def test_an_altered_record_is_found_when_it_is_restored(tmp_path: Path) -> None:
    where = str(tmp_path / "shop.db")
    _fill(where).close()
    connection = sqlite3.connect(where)
    altered = "CAST(replace(body, 'Invented Plating', 'Another Plating!') AS BLOB)"
    assert connection.execute(f"UPDATE record_events SET body = {altered} WHERE seq = 1").rowcount == 1
    connection.commit()
    connection.close()
    backup(where, tmp_path / "backup")
    with pytest.raises(StoreError, match="does not verify at event 1"):
        restore(tmp_path / "backup", str(tmp_path / "restored.db"))


def test_an_altered_attachment_is_found(tmp_path: Path) -> None:
    where = str(tmp_path / "shop.db")
    _fill(where).close()
    connection = sqlite3.connect(where)
    connection.execute("UPDATE record_blobs SET content = X'00'")
    connection.commit()
    connection.close()
    with pytest.raises(StoreError, match="is not what was put"):
        look_through(where)


def test_a_backup_of_postgres_that_was_altered_leaves_nothing_behind(postgres_address: str, tmp_path: Path) -> None:
    where = fresh_database(postgres_address)
    _fill(where).close()
    backup(where, tmp_path / "backup")
    with zipfile.ZipFile(tmp_path / "backup") as archive:
        entries = {name: archive.read(name) for name in archive.namelist()}
    entries["web_jobs.copy"] = entries["web_jobs.copy"].replace(b"Pat", b"Eve")
    with zipfile.ZipFile(tmp_path / "altered", "w") as archive:
        for name, content in entries.items():
            archive.writestr(name, content)
    place = fresh_database(postgres_address)
    with pytest.raises(StoreError, match="altered"):
        restore(tmp_path / "altered", place)
    database = Database(place)
    assert JobStore(database).jobs() == ()
    database.close()
    manifest = json.loads(entries["manifest.json"])
    digest = hashlib.sha256(entries["web_revisions.copy"]).hexdigest()
    assert manifest["sha256"]["web_revisions"] == digest


def test_the_kinds_of_database_are_not_mixed(postgres_address: str, tmp_path: Path) -> None:
    where = str(tmp_path / "shop.db")
    _fill(where).close()
    backup(where, tmp_path / "backup")
    with pytest.raises(StoreError, match="another kind of database"):
        restore(tmp_path / "backup", fresh_database(postgres_address))
