"""Backup of everything that is kept into one file, while the server runs; see `restore` for the way back.

The file is the same for SQLite and PostgreSQL: a shop that outgrows a file moves with `backup` and `restore`. It is of
one moment. Attachments are copied first, as they are only ever added and never altered; then, in one snapshot, the rows
and whatever was attached meanwhile. Where SQLite has no write-ahead log, who writes waits during the snapshot, which is
short because it leaves out the attachments.

A backup is read back before it is called done. The keys with which a shop signs are files of their own, neither in the
store nor in its backup.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, Engine, MetaData, String, Table, select
from sqlalchemy.exc import SQLAlchemyError

from vaporwright.foundation.telling import Report, unheard
from vaporwright.store.backup_file import ATTACHMENTS, BackupWriter
from vaporwright.store.engines import explained, is_postgres, made_engine, shown, snapshot, url_of
from vaporwright.store.looking_through import contents_of
from vaporwright.store.record_store import StoreError
from vaporwright.store.table_steps import ALL, RECORDS
from vaporwright.store.versions import sync, version_in

BLOBS: Final = "record_blobs"
_AT_ONCE: Final = 500  # rows held in memory


@dataclass(frozen=True)
class Kept:
    """What a backup holds: rows of each table, and what of it is not sound, which is kept as it is."""

    file: Path
    rows: dict[str, int]
    unsound: tuple[str, ...]

    @property
    def jobs(self) -> int:
        """How many jobs."""
        return self.rows.get("web_jobs", 0)

    @property
    def attachments(self) -> int:
        """How many different files were attached to records."""
        return self.rows[BLOBS]


def backup(where: str, target: Path, report: Report = unheard) -> Kept:
    """Write everything to a new file; it is on the disk, and read back, when this returns.

    Raises: StoreError where the store cannot be read, the file exists, or the copy is not what was written.
    """
    target = Path(target)
    if target.exists():
        raise StoreError(str(target), "", "exists already and is not overwritten", "a new file name")
    if url_of(where).get_backend_name() == "sqlite" and not Path(shown(where)).is_file():
        raise StoreError(where, "", "no such store", "the file in which the jobs are kept")
    draft = target.with_name(target.name + ".part")
    engine = made_engine(where)
    try:
        _written(engine, draft, report)
        report("Reading the backup back")
        contents = contents_of(draft)
        sync(draft)
        os.replace(draft, target)
        sync(target)
    except SQLAlchemyError as error:
        raise explained(shown(where), error) from error
    except OSError as error:
        problem = f"cannot be written ({error.strerror}): there is no backup"
        raise StoreError(str(target), "", problem, "room, and a folder that exists") from None
    finally:
        engine.dispose()
        draft.unlink(missing_ok=True)
    return Kept(target, contents.rows, contents.unsound)


def _written(engine: Engine, draft: Path, report: Report) -> None:
    with engine.connect().execution_options(reading=True) as connection:
        if not version_in(connection, RECORDS):
            raise StoreError(shown(engine.url), "", "is a database of something else", "a store of this tool")
    draft.unlink(missing_ok=True)
    handle = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)  # it holds hashes of passwords
    with os.fdopen(handle, "wb") as file:
        out = BackupWriter(file)
        done = set[str]()
        _add_attachments(engine, out, done, report)
        report("Copying the rows")
        with snapshot(engine) as connection:
            versions = {one.table: version_in(connection, one) for one in ALL}
            tables = tables_in(connection)
            rows = {name: _add_rows(connection, out, table) for name, table in tables.items() if name != BLOBS}
            _add_late(connection, out, tables[BLOBS], done)
        out.end(versions, rows | {BLOBS: len(done)})


def tables_in(connection: Connection) -> dict[str, Table]:
    """The tables of a store, whatever their version, each after those that it refers to; without those of versions."""
    found = MetaData()
    own = tuple(versions.table.removesuffix("schema") for versions in ALL)
    found.reflect(connection, only=lambda name, _metadata: name.startswith(own))
    named = {table.name: table for table in found.sorted_tables}
    return {name: table for name, table in named.items() if name not in {versions.table for versions in ALL}}


def _add_attachments(engine: Engine, out: BackupWriter, done: set[str], report: Report) -> None:
    """Each in a look of its own: nobody waits for them."""
    with engine.connect().execution_options(reading=True) as connection:
        listed = connection.exec_driver_sql(f"SELECT sha256 FROM {BLOBS}").scalars().all()
    for number, sha256 in enumerate(sorted(listed)):
        report("Copying attachments", number, len(listed))
        with engine.connect().execution_options(reading=True) as connection:
            _add_attachment(connection, out, sha256)
        done.add(sha256)


def _add_late(connection: Connection, out: BackupWriter, table: Table, done: set[str]) -> None:
    listed = connection.execute(select(table.c.sha256)).scalars().all()
    for sha256 in sorted(set(listed) - done):
        _add_attachment(connection, out, sha256)
        done.add(sha256)


def _add_attachment(connection: Connection, out: BackupWriter, sha256: str) -> None:
    mark = "%s" if is_postgres(connection) else "?"
    found = connection.exec_driver_sql(f"SELECT content FROM {BLOBS} WHERE sha256 = {mark}", (sha256,)).scalar_one()
    out.add(ATTACHMENTS + sha256, bytes(found))


def _add_rows(connection: Connection, out: BackupWriter, table: Table) -> int:
    def rows() -> Iterator[Any]:
        key = [_ordered(connection, column) for column in table.primary_key.columns]
        yield from connection.execute(select(table).order_by(*key), execution_options={"yield_per": _AT_ONCE})

    return out.add_table(table.name, [column.name for column in table.columns], rows())


def _ordered(connection: Connection, column: Any) -> Any:
    """A key in an order that does not depend on the server's language."""
    return column.collate("C") if is_postgres(connection) and isinstance(column.type, String) else column
