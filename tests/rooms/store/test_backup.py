"""Backup and restoring, within a kind of database and from one to the other: everything, unaltered, or nothing."""

from __future__ import annotations

import gzip
import hashlib
import json
import sqlite3
import stat
import subprocess
import tarfile
import zipfile
from pathlib import Path

import pytest
from sqlalchemy import inspect, text

from invented_record import JOB_FILE, Hand
from postgres_server import fresh_database
from vaporwright.acceptance.record.chain import verify
from vaporwright.cli.main import main
from vaporwright.store.backup import backup
from vaporwright.store.database import Database
from vaporwright.store.job_store import JobStore, Texts
from vaporwright.store.people_store import PeopleStore
from vaporwright.store.record_store import StoreError
from vaporwright.store.restore import restore
from vaporwright.store.sql_store import open_store

ODD = 'tab\t, back\\slash, "quotes", ünïcode 水 \U0001f525, \\N, \\., \x7f\u2028second line\r\n'
BLOB = bytes(range(256)) * 50
VERSION_TABLES = {"record_schema", "web_schema"}


def _fill(where: str) -> Database:
    database = Database(where)
    jobs, people = JobStore(database), PeopleStore(database)
    job = jobs.add(ODD, "", Texts(ODD, None, ODD), at=1764112345.1234567, by="Pat", note="")
    jobs.revise(job.id, 1, ODD, "", Texts("b"), at=0.1 + 0.2, by="Kim", note=ODD)
    jobs.mark(job.id, "sized", 1, at=1e-300, who="Pat")
    people.note("something", at=1.0, who="Pat", account="", address="x", detail=ODD)
    hand = Hand()
    hand.begins()
    database.records.append(hand.run, 0, hand.rows)
    database.records.put(JOB_FILE)
    database.records.put(BLOB)
    return database


def _content(where: str) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table that the database itself says it has."""
    database = Database(where)
    names = sorted(inspect(database.engine).get_table_names())
    found = {
        name: sorted((tuple(row) for row in database.rows(text(f"SELECT * FROM {name}"))), key=str) for name in names
    }
    database.close()
    return found


def test_everything_comes_back_in_either_database(where: str, place: str, tmp_path: Path) -> None:
    database = _fill(where)  # open, as a server has it
    kept = backup(where, tmp_path / "backup")
    assert (kept.jobs, kept.attachments, kept.unsound) == (1, 2, ())
    database.close()
    restored = restore(tmp_path / "backup", place)
    assert restored.rows == kept.rows
    before = _content(where)
    assert _content(place) == before
    counted = {name: len(rows) for name, rows in before.items() if name not in VERSION_TABLES}
    assert counted == kept.rows  # no table is left out
    again = Database(place)  # it goes on from there
    PeopleStore(again).note("later", at=9.0, who="Pat", account="", address="x")
    assert [entry.what for entry in PeopleStore(again).audit()] == ["later", "something"]
    assert verify(again.records.load("demo-1")).ok
    again.close()
    assert list(tmp_path.glob("*.part*")) == []


def test_a_backup_of_what_was_restored_is_the_same_bytes(where: str, place: str, tmp_path: Path) -> None:
    """Whichever databases it went through: nothing is rounded, reordered or dated on the way."""
    _fill(where).close()
    backup(where, tmp_path / "first")
    restore(tmp_path / "first", place)
    backup(place, tmp_path / "second")
    assert (tmp_path / "first").read_bytes() == (tmp_path / "second").read_bytes()


def test_it_can_be_read_without_this_tool(where: str, tmp_path: Path) -> None:
    """As its README says: by tar, gzip, JSON and SHA-256."""
    _fill(where).close()
    backup(where, tmp_path / "backup")
    subprocess.run(["tar", "-xf", "backup"], cwd=tmp_path, check=True)
    assert (tmp_path / "attachments" / hashlib.sha256(BLOB).hexdigest()).read_bytes() == BLOB
    columns, *events = map(
        json.loads, gzip.decompress((tmp_path / "tables/record_events/0001.jsonl.gz").read_bytes()).splitlines()
    )
    hand = Hand()
    hand.begins()
    assert [row[columns.index("body")].encode() for row in events] == [row.body for row in hand.rows]
    _, first, *_ = gzip.decompress((tmp_path / "tables/web_revisions/0001.jsonl.gz").read_bytes()).splitlines()
    assert ODD in json.loads(first)
    whole = (tmp_path / "backup").read_bytes()
    said = (tmp_path / "check.txt").read_text().split()[0]
    end = whole.index(b"check.txt\0")
    assert hashlib.sha256(whole[:end]).hexdigest() == said


def test_only_its_owner_may_read_it(where: str, tmp_path: Path) -> None:
    _fill(where).close()
    backup(where, tmp_path / "backup")
    assert stat.S_IMODE((tmp_path / "backup").stat().st_mode) == 0o600


def test_nothing_is_overwritten(where: str, place: str, tmp_path: Path) -> None:
    _fill(where).close()
    target = tmp_path / "backup"
    backup(where, target)
    content = target.read_bytes()
    with pytest.raises(StoreError, match="not overwritten"):
        backup(where, target)
    with pytest.raises(StoreError, match="overwritten"):
        restore(target, where)
    assert target.read_bytes() == content
    restore(target, place)
    with pytest.raises(StoreError, match="overwritten"):
        restore(target, place)


def test_files_left_of_another_database_are_in_the_way(tmp_path: Path) -> None:
    """SQLite would roll an old journal back into the restored file."""
    _fill(str(tmp_path / "shop.db")).close()
    backup(str(tmp_path / "shop.db"), tmp_path / "backup")
    for suffix in ("-journal", "-wal"):
        left = tmp_path / f"new.db{suffix}"
        left.write_bytes(b"x")
        with pytest.raises(StoreError, match=f"new.db{suffix}: exists already|exists already"):
            restore(tmp_path / "backup", str(tmp_path / "new.db"))
        assert not (tmp_path / "new.db").exists()
        left.unlink()


def _is_empty(place: str) -> bool:
    if "://" not in place:
        return not Path(place).exists()
    database = Database(place)
    try:
        return JobStore(database).jobs() == () and database.records.runs() == ()
    finally:
        database.close()


def test_a_file_cut_anywhere_is_refused_and_nothing_is_written(tmp_path: Path) -> None:
    _fill(str(tmp_path / "shop.db")).close()
    backup(str(tmp_path / "shop.db"), tmp_path / "backup")
    whole = (tmp_path / "backup").read_bytes()
    place = str(tmp_path / "place.db")
    for length in [0, 1, 511, 512, *range(600, len(whole), 1499), len(whole) - 512, len(whole) - 1]:
        (tmp_path / "cut").write_bytes(whole[:length])
        with pytest.raises(StoreError, match=r"no backup|cut or changed"):
            restore(tmp_path / "cut", place)
    (tmp_path / "more").write_bytes(whole + b"\0")
    with pytest.raises(StoreError, match="cut or changed"):
        restore(tmp_path / "more", place)
    assert _is_empty(place)


def test_a_file_with_any_bit_changed_is_refused_and_nothing_is_written(tmp_path: Path) -> None:
    _fill(str(tmp_path / "shop.db")).close()
    backup(str(tmp_path / "shop.db"), tmp_path / "backup")
    whole = (tmp_path / "backup").read_bytes()
    place = str(tmp_path / "place.db")
    for at in [*range(0, len(whole), 97), *range(len(whole) - 2100, len(whole), 13)]:
        changed = bytearray(whole)
        changed[at] ^= 1 << (at % 8)
        (tmp_path / "changed").write_bytes(changed)
        with pytest.raises(StoreError, match=r"no backup|cut or changed"):
            restore(tmp_path / "changed", place)
    assert _is_empty(place)


def _resealed(source: Path, target: Path, **replaced: bytes) -> None:
    """Somebody who knows the format puts other content into a backup, and a right hash."""
    from vaporwright.store.backup_file import _ending, _member

    content = b""
    with tarfile.open(source) as archive:
        for entry in archive:
            read = archive.extractfile(entry)
            assert read is not None
            if entry.name != "check.txt":
                content += b"".join(_member(entry.name, replaced.get(entry.name, read.read())))
    target.write_bytes(content + _ending(hashlib.sha256(content).hexdigest()))


@pytest.mark.parametrize(
    ("name", "content", "problem"),
    [
        ("contents.json", b"{}", "cannot be read"),
        ("contents.json", b'{"format": "vaporwright backup 3", "versions": {}, "rows": {}}', "format"),
        ("tables/web_jobs/0001.jsonl.gz", gzip.compress(b"[]\n"), "does not hold the rows"),
        ("tables/web_jobs/0001.jsonl.gz", b"not gzip", "cannot be read"),
        ("tables/web_jobs/0001.jsonl.gz", gzip.compress(b'["id"]\n["x"]\n'), "other columns"),
        ("tables/record_events/0001.jsonl.gz", gzip.compress(b'["run"]\n["x"]\n'), "cannot be read"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_kept(
    place: str, tmp_path: Path, name: str, content: bytes, problem: str
) -> None:
    _fill(str(tmp_path / "shop.db")).close()
    backup(str(tmp_path / "shop.db"), tmp_path / "backup")
    _resealed(tmp_path / "backup", tmp_path / "other", **{name: content})
    with pytest.raises(StoreError, match=problem):
        restore(tmp_path / "other", place)
    assert _is_empty(place)


def test_a_backup_of_a_newer_version_is_refused(place: str, tmp_path: Path) -> None:
    _fill(str(tmp_path / "shop.db")).close()
    backup(str(tmp_path / "shop.db"), tmp_path / "backup")
    with tarfile.open(tmp_path / "backup") as archive:
        read = archive.extractfile("contents.json")
        assert read is not None
        said = json.load(read)
    said["versions"]["web_schema"] += 1
    _resealed(tmp_path / "backup", tmp_path / "newer", **{"contents.json": json.dumps(said).encode()})
    with pytest.raises(StoreError, match="the newer version of the tool"):
        restore(tmp_path / "newer", place)
    assert _is_empty(place)


def test_what_is_no_backup_is_refused(where: str, place: str, tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "earlier.zip", "w") as archive:
        archive.writestr("manifest.json", "{}")
    Database(str(tmp_path / "earlier.db")).close()
    (tmp_path / "letter.txt").write_bytes(b"Dear customer")
    (tmp_path / "empty").write_bytes(b"")
    said = {
        "letter.txt": "is no backup",
        "empty": "is no backup",
        "earlier.db": "is a store itself",
        "earlier.zip": "an earlier version",
        "none": "no such file",
    }
    for name, problem in said.items():
        with pytest.raises(StoreError, match=problem):
            restore(tmp_path / name, place)
    assert _is_empty(place)
    other = tmp_path / "other.db"
    connection = sqlite3.connect(other)
    connection.execute("CREATE TABLE orders (id INTEGER)")
    connection.close()
    with pytest.raises(StoreError, match="something else"):
        backup(str(other), tmp_path / "b")
    with pytest.raises(StoreError, match="no such store"):
        backup(str(tmp_path / "nowhere.db"), tmp_path / "b")
    if "://" in where:
        with pytest.raises(StoreError, match="something else"):
            backup(where, tmp_path / "b")
    assert not (tmp_path / "b").exists()


def test_a_store_of_the_terminal_alone_comes_back(place: str, tmp_path: Path) -> None:
    """A shop that has never opened the pages has no web tables yet."""
    hand = Hand()
    hand.begins()
    store = open_store(str(tmp_path / "record.db"))
    store.append(hand.run, 0, hand.rows)
    store.close()
    kept = backup(str(tmp_path / "record.db"), tmp_path / "backup")
    assert kept.jobs == 0
    assert restore(tmp_path / "backup", place).rows == {"record_events": 4, "record_blobs": 0}
    store = open_store(place)
    assert store.load(hand.run) == hand.rows
    store.close()


def _tamper(where: str, statement: str) -> None:
    database = Database(where)
    with database.writing() as connection:
        assert connection.execute(text(statement)).rowcount >= 1
    database.close()


def test_what_is_not_sound_is_told_at_the_backup_and_at_the_restore(
    where: str, place: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It is kept as it is: a shop whose only copy has one spoilt photo wants the rest."""
    _fill(where).close()
    empty = "'\\x00ff'::bytea" if "://" in where else "X'00FF'"  # no text in any encoding
    _tamper(where, f"UPDATE record_blobs SET content = {empty} WHERE length(content) = {len(BLOB)}")
    _tamper(where, f"UPDATE record_events SET body = {empty} WHERE seq = 2")
    kept = backup(where, tmp_path / "backup")
    assert len(kept.unsound) == 2
    assert any("run demo-1 does not verify at event 2" in problem for problem in kept.unsound)
    assert any(hashlib.sha256(BLOB).hexdigest() in problem for problem in kept.unsound)
    assert sorted(restore(tmp_path / "backup", place).unsound) == sorted(kept.unsound)
    assert _content(place) == _content(where)
    assert main(["backup", str(tmp_path / "again"), "--store", where]) == 1
    assert "does not verify at event 2" in capsys.readouterr().out


def test_what_postgres_cannot_keep_is_told_and_nothing_is_restored(postgres_address: str, tmp_path: Path) -> None:
    """SQLite takes texts that PostgreSQL refuses."""
    where, place = str(tmp_path / "shop.db"), fresh_database(postgres_address)
    _fill(where).close()
    _tamper(where, "UPDATE web_jobs SET customer = 'a' || char(0)")
    backup(where, tmp_path / "backup")
    with pytest.raises(StoreError, match=r"NUL.*nothing is restored"):
        restore(tmp_path / "backup", place)
    assert _is_empty(place)
    restore(tmp_path / "backup", str(tmp_path / "again.db"))


def test_the_commands_say_what_is_not_in_it_and_no_password(
    where: str, place: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _fill(where).close()
    assert main(["backup", str(tmp_path / "backup"), "--store", where]) == 0
    assert main(["restore", str(tmp_path / "backup"), "--store", place]) == 0
    said = capsys.readouterr()
    assert "1 jobs, 4 entries of tests, 2 attachments" in said.out
    assert said.out.count("vaporwright-data") == 2
    assert "TLS key" in said.out
    assert "signs" in said.out
    for address in (where, place):
        if "://" in address:
            assert address.split(":")[2].split("@")[0] not in said.out + said.err
