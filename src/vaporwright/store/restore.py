"""Putting a backup into an empty place: all of it or nothing.

The file is read through before anything is written. A backup of older tables is restored as it was and then brought up.
At the end every record's chain and every attachment are verified in the store.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, LargeBinary, Table, func, insert, select
from sqlalchemy.exc import SQLAlchemyError

from vaporwright.foundation.telling import Report, unheard
from vaporwright.store.backup import BLOBS, Kept, tables_in
from vaporwright.store.backup_file import ALLOWED, ATTACHMENTS, as_bytes, members, rows_of, table_of
from vaporwright.store.engines import (
    JOURNALS,
    clear_draft,
    draft_engine,
    explained,
    is_postgres,
    made_engine,
    shown,
    url_of,
)
from vaporwright.store.looking_through import Contents, contents_of, look_through
from vaporwright.store.record_store import StoreError
from vaporwright.store.table_steps import ALL
from vaporwright.store.versions import locked_version, step, sync


def restore(file: Path, where: str, report: Report = unheard) -> Kept:
    """Put a backup into an empty place, and look it through there.

    Raises: StoreError where the file is no backup, was cut or changed, or where the place is not empty.
    """
    file = Path(file)
    if not file.is_file():
        raise StoreError(str(file), "", "no such file", "a backup")
    _require_empty(where)
    report("Reading the backup through")
    contents = contents_of(file)
    for versions in ALL:
        found = contents.versions.get(versions.table, 0)
        if found > versions.newest:
            problem = f"its {versions.what} are of version {found}; this version of the tool knows {versions.newest}"
            raise StoreError(str(file), "", problem, "the newer version of the tool")
    try:
        if _is_file(where):
            _into_file(file, contents, Path(shown(where)), report)
        else:
            _into_postgres(file, contents, where, report)
    except (ValueError, KeyError) as error:
        raise StoreError(str(file), "", f"cannot be read ({error}): nothing is restored", ALLOWED) from None
    except SQLAlchemyError as error:
        problem = f"cannot take what the backup holds ({' '.join(str(error.args[0]).split())}): nothing is restored"
        raise StoreError(shown(where), "", problem, "a database in UTF-8, with room") from None
    report("Verifying every record and attachment")
    return Kept(file, contents.rows, look_through(where))


def _is_file(where: str) -> bool:
    return url_of(where).get_backend_name() == "sqlite"


def _require_empty(where: str) -> None:
    if _is_file(where):
        target = Path(shown(where))
        for path in (target, *(target.with_name(target.name + suffix) for suffix in JOURNALS)):
            if path.exists():
                raise StoreError(str(path), "", "exists already and is not overwritten", "a new file name")
        return
    engine = made_engine(where)
    try:
        with engine.connect() as connection:
            _require_no_tables(connection)
    except SQLAlchemyError as error:
        raise explained(shown(where), error) from error
    finally:
        engine.dispose()


def _require_no_tables(connection: Connection) -> None:
    """Nobody else can make them until the transaction ends."""
    for versions in ALL:
        if locked_version(connection, versions):
            raise StoreError(
                shown(connection.engine.url), "", "is not empty, and nothing is overwritten", "an empty one"
            )


def _into_file(file: Path, contents: Contents, target: Path, report: Report) -> None:
    draft = target.with_name(target.name + ".part")
    clear_draft(draft)
    engine = draft_engine(draft)
    try:
        with engine.begin() as connection:
            _fill(connection, file, contents, report)
        engine.dispose()
        sync(draft)
        os.replace(draft, target)
        sync(target)
    except OSError as error:
        problem = f"cannot be written ({error.strerror}): nothing is restored"
        raise StoreError(str(target), "", problem, "room") from None
    finally:
        engine.dispose()
        clear_draft(draft)


def _into_postgres(file: Path, contents: Contents, where: str, report: Report) -> None:
    engine = made_engine(where)
    try:
        with engine.begin() as connection:
            _require_no_tables(connection)
            _fill(connection, file, contents, report)
    finally:
        engine.dispose()


def _fill(connection: Connection, file: Path, contents: Contents, report: Report) -> None:
    """Make the tables as they were, fill them, and bring them up, in the caller's transaction."""
    for versions in ALL:
        for version in range(contents.versions.get(versions.table, 0)):
            step(connection, versions, version)
    tables = tables_in(connection)
    restored = 0
    for name, content in members(file):
        if name.startswith(ATTACHMENTS):
            report("Restoring attachments", restored, contents.rows[BLOBS])
            restored += 1
            sha256 = name.removeprefix(ATTACHMENTS)
            connection.execute(insert(tables[BLOBS]), [{"sha256": sha256, "content": content}])
        elif table_of(name):
            _insert(connection, tables[table_of(name)], *rows_of(content))
    if is_postgres(connection):
        for table in tables.values():
            _count_on(connection, table)
    for versions in ALL:
        found = contents.versions.get(versions.table, 0)
        for version in range(found, versions.newest if found else 0):
            step(connection, versions, version)


def _insert(connection: Connection, table: Table, columns: list[str], rows: list[list[Any]]) -> None:
    if set(columns) != set(table.columns.keys()):
        raise ValueError(f"{table.name} has other columns")
    packed = [column for column in columns if isinstance(table.columns[column].type, LargeBinary)]
    values = [dict(zip(columns, row, strict=True)) for row in rows]
    for one in values:
        one.update({column: as_bytes(one[column]) for column in packed})
    if values:
        connection.execute(insert(table), values)


def _count_on(connection: Connection, table: Table) -> None:
    """Let numbers that the database gives go on after those that are there."""
    for column in table.columns:
        if "nextval" in str(getattr(column.server_default, "arg", "")):
            counter = func.pg_get_serial_sequence(table.name, column.name)
            newest = select(func.setval(counter, func.max(column))).having(func.max(column).is_not(None))
            connection.execute(newest)
