"""Backup of everything that is kept into one file, while the server runs, and restoring it into an empty place.

SQLite: a copy of the database by its own backup, in one go, so that it is of one moment; who writes meanwhile waits.
PostgreSQL: a zip archive with each table as text, all read in one snapshot. What is stored can be restored into the
same kind of database. Both are looked through before they are called done: the database's own check of the copy, and
after restoring also every record's chain and every attachment's hash.

The private keys with which a shop signs are not in the store, and not in its backup.
"""

from __future__ import annotations

import hashlib
import json
import os
import sqlite3
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, Final

import psycopg
from psycopg import sql
from sqlalchemy import Column, String, Table

from vaporwright.acceptance.record.chain import verify
from vaporwright.store.database import Database
from vaporwright.store.record_store import StoreError
from vaporwright.store.sql_store import _METADATA as RECORDS
from vaporwright.store.sql_store import _url, open_store
from vaporwright.store.web_tables import METADATA

FORMAT: Final = "vaporwright backup 1"
_MANIFEST: Final = "manifest.json"
_SQLITE: Final = b"SQLite format 3\0"
_ZIP: Final = b"PK\x03\x04"
_SCHEMAS: Final = ("record_schema", "web_schema")
_BLOCK_bytes: Final = 1 << 20


@dataclass(frozen=True)
class Kept:
    """What a backup holds, or what was restored: rows of each table."""

    file: Path
    rows: dict[str, int]

    @property
    def jobs(self) -> int:
        """How many jobs."""
        return self.rows["web_jobs"]


def backup(where: str, target: Path) -> Kept:
    """Write everything to a new file; it is on the disk, and looked through, when this returns.

    Raises: StoreError where the store cannot be read, the file exists, or the copy is not sound.
    """
    target = Path(target)
    if target.exists():
        raise StoreError(str(target), "", "exists already and is not overwritten", "a new file name")
    if "://" not in where and not Path(where).is_file():
        raise StoreError(where, "", "no such store", "the file in which the jobs are kept")
    open_store(where).close()  # refuses what is none of ours
    draft = target.with_name(target.name + ".part")
    try:
        if _url(where).get_backend_name() == "sqlite":
            _copy_sqlite(Path(str(_url(where).database)), draft)
            rows = _counted(draft)
        else:
            rows = _dump_postgres(where, draft)
        _sync(draft)
        os.replace(draft, target)
    except OSError as error:
        problem = f"cannot be written ({error.strerror}): there is no backup"
        raise StoreError(str(target), "", problem, "room, and a folder that exists") from None
    finally:
        draft.unlink(missing_ok=True)
    return Kept(target, rows)


def restore(file: Path, where: str) -> Kept:
    """Put a backup into an empty place, and look it through there.

    Raises: StoreError where the file is no backup or was altered, or where the place is not empty.
    """
    file = Path(file)
    if not file.is_file():
        raise StoreError(str(file), "", "no such file", "a backup")
    with file.open("rb") as opened:
        begins = opened.read(len(_SQLITE))
    is_sqlite = _url(where).get_backend_name() == "sqlite"
    if begins == _SQLITE and is_sqlite:
        rows = _restore_sqlite(file, Path(str(_url(where).database)))
    elif begins.startswith(_ZIP) and not is_sqlite:
        rows = _restore_postgres(file, where)
    elif begins == _SQLITE or begins.startswith(_ZIP):
        kind = "SQLite (a path)" if begins == _SQLITE else "PostgreSQL (postgresql://...)"
        raise StoreError(where, "", "is another kind of database than the backup's", kind)
    else:
        raise StoreError(str(file), "", "is no backup", "a file that `backup` wrote")
    look_through(where)
    return Kept(file, rows)


def look_through(where: str) -> None:
    """Verify every record's chain, and every attachment by its hash.

    Raises: StoreError at the first that is not sound.
    """
    database = Database(where)
    try:
        for entry in database.records.runs():
            found = verify(database.records.load(entry.run))
            if not found.ok:
                raise StoreError(where, entry.run, f"does not verify at event {found.seq}: {found.problem}")
        for row in database.rows(RECORDS.tables["record_blobs"].select()):
            if hashlib.sha256(row.content).hexdigest() != row.sha256:
                raise StoreError(where, f"attachment {row.sha256}", "is not what was put")
    finally:
        database.close()


def _tables() -> list[Table]:
    """Ours, each after those that it refers to."""
    return [*RECORDS.sorted_tables, *METADATA.sorted_tables]


# SQLite


def _copy_sqlite(source: Path, target: Path) -> None:
    target.unlink(missing_ok=True)
    reader = sqlite3.connect(f"{source.resolve().as_uri()}?mode=ro", uri=True, timeout=60.0)
    writer = sqlite3.connect(target)
    try:
        reader.backup(writer)
        writer.execute("PRAGMA journal_mode = delete").close()
    except sqlite3.Error as error:
        raise StoreError(str(source), "", f"cannot be copied ({error}): there is no backup", "try again") from None
    finally:
        writer.close()
        reader.close()


def _counted(path: Path) -> dict[str, int]:
    connection = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)
    try:
        said = [row[0] for row in connection.execute("PRAGMA integrity_check")]
        if said != ["ok"]:
            raise StoreError(str(path), "", f"the copy is not sound: {said[0]}", "another disk, and the backup again")
        there = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        names = [table.name for table in _tables() if table.name in there]
        return {name: connection.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in names}
    except sqlite3.DatabaseError as error:
        raise StoreError(str(path), "", f"is no sound database ({error})", "a file that `backup` wrote") from None
    finally:
        connection.close()


def _restore_sqlite(file: Path, target: Path) -> dict[str, int]:
    if target.exists():
        raise StoreError(str(target), "", "exists already and is not overwritten", "a new file name")
    rows = _counted(file)
    if "record_schema" not in rows:
        raise StoreError(str(file), "", "is a database of something else", "a file that `backup` wrote")
    draft = target.with_name(target.name + ".part")
    try:
        _copy_sqlite(file, draft)
        if _counted(draft) != rows:
            raise StoreError(str(target), "", "is not what the backup holds", "another disk, and restoring again")
        _sync(draft)
        os.replace(draft, target)
    finally:
        draft.unlink(missing_ok=True)
    return rows


def _sync(path: Path) -> None:
    for place in (path, path.parent):
        handle = os.open(place, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


# PostgreSQL


def _connected(where: str) -> psycopg.Connection[Any]:
    address = _url(where).set(drivername="postgresql").render_as_string(hide_password=False)
    connection = psycopg.connect(address)
    connection.isolation_level = psycopg.IsolationLevel.REPEATABLE_READ
    return connection


def _copied(connection: psycopg.Connection[Any], table: Table) -> Iterator[bytes]:
    """A table as text in the order of its key, by blocks."""
    columns = sql.SQL(", ").join(sql.Identifier(column.name) for column in table.columns)
    key = list(table.primary_key.columns) or list(table.columns)
    order = sql.SQL(", ").join(_ordered(column) for column in key)
    wanted = sql.SQL("COPY (SELECT {} FROM {} ORDER BY {}) TO STDOUT").format(
        columns, sql.Identifier(table.name), order
    )
    with connection.cursor() as cursor, cursor.copy(wanted) as copy:
        for block in copy:
            yield bytes(block)


def _ordered(column: Column[Any]) -> sql.Composable:
    """A key in an order that does not depend on the server's language."""
    plain = sql.Identifier(column.name)
    return sql.SQL('{} COLLATE "C"').format(plain) if isinstance(column.type, String) else plain


def _dump_postgres(where: str, target: Path) -> dict[str, int]:
    rows: dict[str, int] = {}
    hashes: dict[str, str] = {}
    with _connected(where) as connection:
        connection.read_only = True
        there = {row[0] for row in connection.execute("SELECT tablename FROM pg_tables")}
        with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, allowZip64=True) as archive:
            for table in _tables():
                if table.name not in there:
                    continue
                digest, lines = hashlib.sha256(), 0
                with archive.open(f"{table.name}.copy", "w", force_zip64=True) as entry:
                    for block in _copied(connection, table):
                        digest.update(block)
                        lines += block.count(b"\n")
                        entry.write(block)
                rows[table.name], hashes[table.name] = lines, digest.hexdigest()
            manifest = {"format": FORMAT, "rows": rows, "sha256": hashes}
            archive.writestr(_MANIFEST, json.dumps(manifest, indent=1))
    with zipfile.ZipFile(target) as archive:
        broken = archive.testzip()
    if broken is not None:
        raise StoreError(str(target), broken, "the copy is not sound", "another disk, and the backup again")
    return rows


def _restore_postgres(file: Path, where: str) -> dict[str, int]:
    with _connected(where) as connection:
        there = {row[0] for row in connection.execute("SELECT tablename FROM pg_tables")}
    if there & {table.name for table in _tables()}:
        raise StoreError("store", "", "is not empty, and nothing is overwritten", "an empty database")
    try:
        with zipfile.ZipFile(file) as archive:
            manifest = json.loads(archive.read(_MANIFEST))
            if manifest.get("format") != FORMAT:
                raise StoreError(str(file), "", "is of another format", f"{FORMAT!r}")
            Database(where).close()  # makes the tables
            _fill(archive, manifest, where)
    except (zipfile.BadZipFile, KeyError, ValueError) as error:
        raise StoreError(str(file), "", f"cannot be read ({error})", "a file that `backup` wrote") from None
    return dict(manifest["rows"])


def _fill(archive: zipfile.ZipFile, manifest: dict[str, Any], where: str) -> None:
    with _connected(where) as connection:  # all of it, or nothing
        for table in _tables():
            expected = manifest["sha256"].get(table.name)
            if expected is None:
                continue
            if table.name not in _SCHEMAS:
                _copy_in(connection, table, archive.open(f"{table.name}.copy"))
            digest = hashlib.sha256()
            for block in _copied(connection, table):
                digest.update(block)
            if digest.hexdigest() != expected:
                problem = "is not what was backed up: the file was altered, or is of another version"
                raise StoreError("backup", table.name, problem, "an untouched backup, and the same version")
        number = "SELECT setval(pg_get_serial_sequence('web_audit', 'number'), max(number)) FROM web_audit"
        connection.execute(number)


def _copy_in(connection: psycopg.Connection[Any], table: Table, source: IO[bytes]) -> None:
    columns = sql.SQL(", ").join(sql.Identifier(column.name) for column in table.columns)
    wanted = sql.SQL("COPY {} ({}) FROM STDIN").format(sql.Identifier(table.name), columns)
    with source, connection.cursor() as cursor, cursor.copy(wanted) as copy:
        while block := source.read(_BLOCK_bytes):
            copy.write(block)
