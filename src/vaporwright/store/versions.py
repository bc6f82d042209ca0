"""Versions of a set of tables, and the way from an older one to today's.

A set of tables is made and altered by numbered steps; step 1 makes it, and a fresh store goes through all of them. Each
step is one transaction with the change of the version, so that a kill in the middle leaves the older version whole. Who
opens a store first brings it up; a second server waits meanwhile, and finds nothing left to do. A store of a newer
version is refused. Of a SQLite file a copy is kept as it was before.

Steps are written in PostgreSQL's words; SQLite gets its own for the two that differ.
"""

from __future__ import annotations

import itertools
import logging
import os
import re
import sqlite3
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from sqlalchemy import Connection, Engine, inspect
from sqlalchemy.exc import SQLAlchemyError

from vaporwright.store.durability import BUSY_ms
from vaporwright.store.engines import clear_draft, explained, is_postgres, shown
from vaporwright.store.record_store import StoreError

_LOG: Final = logging.getLogger("vaporwright.store")
_SQLITE_WORDS: Final = {"BYTEA": "BLOB", "SERIAL": "INTEGER"}


@dataclass(frozen=True)
class Versions:
    """A set of tables: the table that keeps its version, and the statements of each step. Step n leads to version n."""

    table: str
    what: str  # as people read it
    lock: int  # any number of its own: PostgreSQL's lock while the tables are made or altered
    steps: tuple[tuple[str, ...], ...]

    @property
    def newest(self) -> int:
        """The version that this program works with."""
        return len(self.steps)


def version_in(connection: Connection, versions: Versions) -> int:
    """The version of a set of tables in a store; 0 where it has none of them.

    Raises: StoreError for a version that this program does not know.
    """
    if versions.table not in inspect(connection).get_table_names():
        return 0
    found = connection.exec_driver_sql(f"SELECT max(version) FROM {versions.table}").scalar_one()
    where = shown(connection.engine.url)
    if not isinstance(found, int) or found < 1:
        raise StoreError(where, versions.table, f"says version {found}, which is none", "an untouched store")
    if found > versions.newest:
        problem = f"its {versions.what} are of version {found}; this version of the tool knows {versions.newest}"
        raise StoreError(where, "", problem, "the newer version of the tool")
    return found


def bring_up(engine: Engine, versions: Versions) -> None:
    """Make a set of tables in a store that has none, or bring an older one to today's version, step by step.

    Raises: StoreError where it cannot be done; the store is then as it was, or at the version of a step that was done.
    """
    begun, copy = -1, ""
    try:
        while True:
            with engine.begin() as connection:
                version = locked_version(connection, versions)
                if begun < 0:
                    begun = version
                    copy = _kept_copy(connection, versions) if 0 < version < versions.newest else ""
                if version >= versions.newest:
                    break
                step(connection, versions, version)
    except SQLAlchemyError as error:
        raise explained(shown(engine.url), error) from error
    if 0 < begun < versions.newest:
        _LOG.warning("The %s went from version %d to %d.%s", versions.what, begun, versions.newest, copy)


def locked_version(connection: Connection, versions: Versions) -> int:
    """The version, read when nobody else can change it any more."""
    if is_postgres(connection):
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({versions.lock})")
    return version_in(connection, versions)


def step(connection: Connection, versions: Versions, version: int) -> None:
    """One step onwards from a version, within the caller's transaction."""
    for statement in versions.steps[version]:
        connection.exec_driver_sql(statement if is_postgres(connection) else _for_sqlite(statement))
    said = f"UPDATE {versions.table} SET version = {version + 1}"
    connection.exec_driver_sql(said if version else f"INSERT INTO {versions.table} (version) VALUES (1)")


def _for_sqlite(statement: str) -> str:
    return re.sub(r"\b(BYTEA|SERIAL)\b", lambda found: _SQLITE_WORDS[found[0]], statement)


def _kept_copy(connection: Connection, versions: Versions) -> str:
    """Copy the file of a SQLite store beside it, while nobody can write to it; what people are told of that.

    Raises: StoreError where there is no room for it: then nothing is altered.
    """
    if is_postgres(connection):
        return " PostgreSQL keeps no copy: restore the backup that you made before if you must go back."
    source = Path(connection.exec_driver_sql("PRAGMA database_list").all()[0][2])
    plain = source.with_name(f"{source.name}.before-{versions.table}-{versions.newest}")
    names = itertools.chain([plain], (plain.with_name(f"{plain.name}.{number}") for number in itertools.count(2)))
    target = next(name for name in names if not name.exists())
    draft = target.with_name(target.name + ".part")
    clear_draft(draft)
    try:
        copy_sqlite(source, draft)
        os.replace(draft, target)
        sync(target)
    except (OSError, sqlite3.Error) as error:
        problem = f"cannot be copied before its tables are altered ({error}): it is as it was"
        raise StoreError(str(source), "", problem, "room beside it for a copy") from None
    finally:
        clear_draft(draft)
    return f" The file as it was is kept as {target}."


def copy_sqlite(source: Path, target: Path) -> None:
    """A copy of one moment by SQLite's own backup, on the disk when this returns."""
    reader = sqlite3.connect(f"{source.resolve().as_uri()}?mode=ro", uri=True, timeout=BUSY_ms / 1000.0)
    writer = sqlite3.connect(target)
    try:
        reader.backup(writer)
        writer.execute("PRAGMA journal_mode = delete").close()
    finally:
        writer.close()
        reader.close()
    sync(target)


def sync(path: Path) -> None:
    """Have a file, and its name in its folder, on the disk."""
    for place in (path, path.parent):
        handle = os.open(place, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
