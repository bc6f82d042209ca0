"""Older stores come to today's tables: every row kept, all of a step or nothing, once, and never the other way."""

from __future__ import annotations

import errno
import logging
import os
import signal
import sqlite3
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import psycopg
import pytest
from sqlalchemy import create_engine, inspect, text

from invented_record import Hand
from postgres_server import fresh_database
from vaporwright.acceptance.record.chain import verify
from vaporwright.store import backup as backup_module
from vaporwright.store import database as database_module
from vaporwright.store import restore as restore_module
from vaporwright.store import versions as versions_module
from vaporwright.store.backup import backup
from vaporwright.store.database import Database
from vaporwright.store.engines import url_of
from vaporwright.store.job_store import JobStore
from vaporwright.store.record_store import StoreError
from vaporwright.store.restore import restore
from vaporwright.store.sql_store import METADATA as RECORD_TABLES
from vaporwright.store.table_steps import RECORDS, WEB
from vaporwright.store.versions import Versions
from vaporwright.store.web_tables import METADATA as WEB_TABLES

HERE = Path(__file__).parent
INVENTED = (
    "ALTER TABLE web_jobs ADD COLUMN paint TEXT",
    "CREATE TABLE web_paints (name TEXT NOT NULL, mixed BYTEA, PRIMARY KEY (name))",
    "INSERT INTO web_paints (name) SELECT DISTINCT made_by FROM web_jobs",
    "UPDATE web_jobs SET paint = made_by",
)
ROWS = (
    "INSERT INTO record_schema VALUES (1)",
    "INSERT INTO web_schema VALUES (1)",
    "INSERT INTO web_jobs VALUES ('a1', 'Tank 7', 'Invented Plating', 1.5, 'Pat', NULL)",
    "INSERT INTO web_jobs VALUES ('b2', 'Tank 8', '', 2.5, 'Kim', 3.5)",
    "INSERT INTO web_revisions VALUES ('a1', 1, 'a = 1', NULL, NULL, 1.5, 'Pat', 'first')",
    "INSERT INTO web_marks VALUES ('a1', 'sized', 1, 1.5, 'Pat', '')",
    "INSERT INTO web_runs VALUES ('demo-1', 'a1', 1, 1.5)",
    "INSERT INTO web_accounts VALUES ('p', 'Pat', 'pat', 'hash', 'engineer', '', 'US', 'auto', 1.0, 'x', NULL)",
    "INSERT INTO web_guests VALUES ('a1', 'p')",
    "INSERT INTO web_sessions VALUES ('00', 'p', 'Pat', '', 'US', 'auto', 1.0, 1.0)",
    "INSERT INTO web_audit (at, who, account, address, what, subject, detail) VALUES (1.0, 'Pat', '', '', 'x', '', '')",
    "INSERT INTO web_links VALUES ('11', 'witness', 'demo-1', 1.0, 'Pat', 2.0, NULL)",
    "INSERT INTO web_run_pins VALUES ('demo-1', 'pat', 'witness', 'Pat', 'hash')",
    "INSERT INTO web_diagnoses VALUES ('d', 'a1', 1, 1.0, 'Pat', '{}', '{}')",
)


def _as_version_1(where: str) -> dict[str, list[tuple[object, ...]]]:
    """Make a store as the program of version 1 did, with a row of everything; what is in it."""
    kind = "postgresql" if "://" in where else "sqlite"
    hand = Hand()
    hand.runs_through()
    columns = ("run", "seq", "event_id", "body", "before", "hash")
    events = [tuple(getattr(row, name) for name in columns) for row in hand.rows]
    script = (HERE / f"version_1_{kind}.sql").read_text(encoding="utf-8")
    if kind == "sqlite":
        with closing(sqlite3.connect(where)) as connection:
            connection.executescript(script)
            for statement in ROWS:
                connection.execute(statement)
            connection.executemany("INSERT INTO record_events VALUES (?, ?, ?, ?, ?, ?)", events)
            connection.execute("INSERT INTO record_blobs VALUES ('22', X'0001')")
            connection.commit()
    else:
        with psycopg.connect(where) as connection:
            for statement in (*script.split(";")[:-1], *ROWS):
                connection.execute(statement)  # type: ignore[arg-type]
            marks = ", ".join(["%s"] * len(columns))
            connection.cursor().executemany(f"INSERT INTO record_events VALUES ({marks})", events)  # type: ignore[arg-type]
            connection.execute("INSERT INTO record_blobs VALUES ('22', '\\x0001')")
    return _raw(where)


def _raw(where: str) -> dict[str, list[tuple[object, ...]]]:
    """Every table and row, looked at without the store."""
    engine = create_engine(url_of(where))
    with engine.connect() as connection:
        names = inspect(connection).get_table_names()
        found = {
            name: sorted((tuple(row) for row in connection.execute(text(f"SELECT * FROM {name}"))), key=str)
            for name in sorted(names)
        }
    engine.dispose()
    return found


def _one_more(monkeypatch: pytest.MonkeyPatch, *statements: str) -> Versions:
    """The program of the next version: one more step."""
    newer = replace(WEB, steps=(*WEB.steps, statements))
    monkeypatch.setattr(database_module, "WEB", newer)
    for module in (backup_module, restore_module):
        monkeypatch.setattr(module, "ALL", (RECORDS, newer))
    return newer


def _shape(where: str) -> dict[str, Any]:
    """What a database says of its tables."""
    engine = create_engine(url_of(where))
    asked = inspect(engine)
    found: dict[str, Any] = {}
    for name in asked.get_table_names():
        columns = {one["name"]: (str(one["type"]), one["nullable"], one["default"]) for one in asked.get_columns(name)}
        unique = sorted(sorted(one["column_names"]) for one in asked.get_unique_constraints(name))
        indexes = sorted((str(one["name"]), one["column_names"], one["unique"]) for one in asked.get_indexes(name))
        others = sorted((one["constrained_columns"], one["referred_table"]) for one in asked.get_foreign_keys(name))
        keys = asked.get_pk_constraint(name)["constrained_columns"]
        found[name] = (columns, keys, unique, indexes, others)
    engine.dispose()
    return found


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_the_steps_lead_to_the_declared_tables(kind: str, tmp_path: Path, request: pytest.FixtureRequest) -> None:
    """A table or a column that stands in web_tables or sql_store alone would be missing in every store."""
    if kind == "sqlite":
        where, place = str(tmp_path / "steps.db"), str(tmp_path / "declared.db")
    else:
        where, place = (fresh_database(request.getfixturevalue("postgres_address")) for _ in range(2))
    Database(where).close()
    engine = create_engine(url_of(place))
    for declared in (RECORD_TABLES, WEB_TABLES):
        declared.create_all(engine)
    engine.dispose()
    made = {name: shape for name, shape in _shape(where).items() if name not in (RECORDS.table, WEB.table)}
    assert made == _shape(place)


def test_a_store_of_version_1_comes_to_today(where: str) -> None:
    before = _as_version_1(where)
    database = Database(where)
    assert [job.name for job in JobStore(database).jobs()] == ["Tank 7"]
    assert verify(database.records.load("demo-1")).ok
    database.close()
    after = _raw(where)
    for name in before.keys() - {WEB.table}:
        kept = [row[: len(before[name][0])] for row in after[name]]  # columns are only added, at the end
        assert sorted(kept, key=str) == before[name], name
    assert after[WEB.table] == [(WEB.newest,)]
    fresh = _shape(where)
    assert fresh.keys() == {RECORDS.table, WEB.table, *RECORD_TABLES.tables, *WEB_TABLES.tables}


def test_a_step_keeps_every_row_and_a_copy(
    where: str, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    before = _as_version_1(where)
    newer = _one_more(monkeypatch, *INVENTED)
    with caplog.at_level(logging.WARNING, "vaporwright.store"):
        Database(where).close()
    after = _raw(where)
    assert after["web_jobs"] == [
        ("a1", "Tank 7", "Invented Plating", 1.5, "Pat", None, "Pat"),
        ("b2", "Tank 8", "", 2.5, "Kim", 3.5, "Kim"),
    ]
    assert [row[0] for row in after["web_paints"]] == ["Kim", "Pat"]
    assert after["record_events"] == before["record_events"]
    assert after["web_schema"] == [(newer.newest,)]
    assert f"went from version 1 to {newer.newest}" in caplog.text
    if "://" not in where:
        copy = Path(f"{where}.before-web_schema-{newer.newest}")
        assert str(copy) in caplog.text
        assert _raw(str(copy)) == before
    caplog.clear()
    Database(where).close()  # no second time
    assert caplog.text == ""
    assert _raw(where) == after


@pytest.mark.parametrize("broken", ["UPDATE web_jobs SET paint = nonsense", "CREATE TABLE web_jobs (id TEXT)"])
def test_a_step_that_fails_leaves_the_version_before_it_whole(
    where: str, broken: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    _as_version_1(where)
    Database(where).close()
    before, shape = _raw(where), _shape(where)
    _one_more(monkeypatch, *INVENTED, broken)
    with pytest.raises(StoreError):
        Database(where)
    assert _raw(where) == before
    assert _shape(where) == shape


def test_without_room_for_the_copy_nothing_is_altered(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    where = str(tmp_path / "shop.db")
    Database(where).close()
    before = _raw(where)
    _one_more(monkeypatch, *INVENTED)

    def full(_source: Path, _target: Path) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(versions_module, "copy_sqlite", full)
    with pytest.raises(StoreError, match="cannot be copied before its tables are altered"):
        Database(where)
    assert _raw(where) == before


def test_a_copy_that_is_there_already_is_not_overwritten(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    where = str(tmp_path / "shop.db")
    before = _as_version_1(where)
    newer = _one_more(monkeypatch, *INVENTED)
    there = Path(f"{where}.before-web_schema-{newer.newest}")
    there.write_text("kept from before")
    Database(where).close()
    assert there.read_text() == "kept from before"
    assert _raw(f"{there}.2") == before


def test_several_that_start_at_once_take_the_step_once(where: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Twice could not pass: the column would be there already."""
    _as_version_1(where)
    newer = _one_more(monkeypatch, *INVENTED)
    with ThreadPoolExecutor(6) as pool:
        for opened in pool.map(Database, [where] * 6):
            opened.close()
    after = _raw(where)
    assert after["web_schema"] == [(newer.newest,)]
    assert len(after["web_paints"]) == 2
    assert len(list(Path(where).parent.glob("*.before-*"))) == (0 if "://" in where else 1)


@pytest.mark.parametrize("table", ["record_schema", "web_schema"])
def test_a_store_of_a_newer_version_is_refused_and_left_alone(where: str, table: str) -> None:
    Database(where).close()
    engine = create_engine(url_of(where))
    with engine.begin() as connection:
        connection.execute(text(f"UPDATE {table} SET version = 99"))
    engine.dispose()
    before = _raw(where)
    with pytest.raises(
        StoreError, match=r"of version 99; this version of the tool knows \d.*newer version of the tool"
    ):
        Database(where)
    assert _raw(where) == before


def test_a_store_that_does_not_say_its_version_is_refused(where: str) -> None:
    Database(where).close()
    engine = create_engine(url_of(where))
    with engine.begin() as connection:
        connection.execute(text("DELETE FROM web_schema"))
    engine.dispose()
    with pytest.raises(StoreError, match="says version None"):
        Database(where)


def test_a_backup_of_an_older_store_is_restored_and_brought_up(
    where: str, place: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The newer program can back up before it alters anything, and read the backups of the older one."""
    before = _as_version_1(where)
    newer = _one_more(monkeypatch, *INVENTED)
    backup(where, tmp_path / "backup")
    assert _raw(where) == before
    restore(tmp_path / "backup", place)
    after = _raw(place)
    assert after["web_schema"] == [(newer.newest,)]
    assert after["record_events"] == before["record_events"]
    assert [row[-1] for row in after["web_jobs"]] == ["Pat", "Kim"]
    assert list(tmp_path.glob("*.before-*")) == []  # of what was restored there is the backup


HALF_WAY = """
import sys
from dataclasses import replace
from sqlalchemy import Engine, event
from vaporwright.store import database
database.WEB = replace(database.WEB, steps=(*database.WEB.steps, tuple(sys.argv[2:])))

@event.listens_for(Engine, "after_cursor_execute")
def after(connection, cursor, statement, *rest):
    if statement == sys.argv[-2]:
        print("half way", flush=True)
        sys.stdin.read()

database.Database(sys.argv[1])
"""


def test_a_kill_in_mid_upgrade_leaves_the_older_version_whole(where: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Killed when most of the step is done and the version is not yet changed."""
    _as_version_1(where)
    Database(where).close()
    before, shape = _raw(where), _shape(where)
    called = [sys.executable, "-c", HALF_WAY, where, *INVENTED]
    with subprocess.Popen(called, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as upgrading:
        assert upgrading.stdout is not None
        assert upgrading.stdout.readline() == "half way\n"
        os.kill(upgrading.pid, signal.SIGKILL)
        assert upgrading.wait(30) == -signal.SIGKILL
    assert _raw(where) == before
    assert _shape(where) == shape
    newer = _one_more(monkeypatch, *INVENTED)
    Database(where).close()
    after = _raw(where)
    assert after["web_schema"] == [(newer.newest,)]
    assert len(after["web_paints"]) == 2
