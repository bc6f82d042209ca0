"""Records in SQLite or PostgreSQL, through SQLAlchemy Core: the same three tables and the same statements for both.

    record_events   run, seq, event_id, body, before, hash; unique (run, seq) and unique (run, event_id)
    record_blobs    sha256, content
    record_schema   version

The first uniqueness is what two writers meet at; the second makes an entry that is sent twice harmless.
"""

from __future__ import annotations

import hashlib
import sqlite3
from pathlib import Path
from typing import Any, Final

from sqlalchemy import (
    Column,
    Connection,
    Engine,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    create_engine,
    event,
    func,
    insert,
    inspect,
    make_url,
    select,
    text,
)
from sqlalchemy.engine import URL
from sqlalchemy.exc import ArgumentError, DBAPIError, IntegrityError, SQLAlchemyError
from sqlalchemy.schema import PrimaryKeyConstraint, UniqueConstraint

from vaporwright.acceptance.record.chain import ORIGIN, Row
from vaporwright.store.durability import check_sqlite, set_on_postgres, set_on_sqlite, sqlite_settings
from vaporwright.store.record_store import Conflict, RecordStore, RunEntry, StoreError
from vaporwright.store.writer_queue import Request, WriterQueue

SCHEMA_VERSION: Final = 1
_MAKING: Final = 7_203_118  # any number: PostgreSQL's lock while the tables are made
_METADATA = MetaData()
_EVENTS = Table(
    "record_events",
    _METADATA,
    Column("run", String(80), nullable=False),
    Column("seq", Integer, nullable=False),
    Column("event_id", String(36), nullable=False),
    Column("body", LargeBinary, nullable=False),
    Column("before", String(64), nullable=False),
    Column("hash", String(64), nullable=False),
    PrimaryKeyConstraint("run", "seq"),
    UniqueConstraint("run", "event_id"),
)
_BLOBS = Table(
    "record_blobs",
    _METADATA,
    Column("sha256", String(64), primary_key=True),
    Column("content", LargeBinary, nullable=False),
)
_SCHEMA = Table("record_schema", _METADATA, Column("version", Integer, nullable=False))
_COLUMNS = (_EVENTS.c.run, _EVENTS.c.seq, _EVENTS.c.event_id, _EVENTS.c.body, _EVENTS.c.before, _EVENTS.c.hash)
_FULL: Final = ("disk is full", "disk i/o error", "no space left", "diskfull", "could not extend", "could not write")


class SqlStore:
    """A RecordStore in a database."""

    def __init__(self, where: str) -> None:
        """Open it, and make its tables in an empty one.

        Raises: StoreError, see `record_store.open_store`.
        """
        url = _url(where)
        self.where = url.render_as_string(hide_password=True) if "://" in where else where
        self._postgres = url.get_backend_name() == "postgresql"
        self._engine = self._made(url)
        self._queue = WriterQueue(self._write_group)
        try:
            with self._engine.begin() as connection:
                self._make_tables(connection)
        except SQLAlchemyError as error:
            self.close()
            raise self._explained(error) from error
        except StoreError:
            self.close()
            raise

    def _made(self, url: URL) -> Engine:
        if self._postgres:
            engine = create_engine(url, pool_pre_ping=True)
            event.listen(engine, "connect", lambda connection, _record: set_on_postgres(connection, self.where))
            return engine
        settings = sqlite_settings(sqlite3.sqlite_version_info)
        engine = create_engine(url)
        event.listen(engine, "connect", lambda connection, _record: set_on_sqlite(connection, settings, self.where))
        # another program may have changed the journal of the file meanwhile
        event.listen(engine, "checkout", lambda connection, *_rest: check_sqlite(connection, settings, self.where))
        event.listen(engine, "begin", _begin_at_once)
        return engine

    def _make_tables(self, connection: Connection) -> None:
        if self._postgres:
            connection.execute(text(f"SELECT pg_advisory_xact_lock({_MAKING})"))
        names = set(inspect(connection).get_table_names())
        if _SCHEMA.name not in names:
            if names and not self._postgres:
                raise StoreError(self.where, "", "is a database of something else", "a new file, or one of this tool")
            _METADATA.create_all(connection)
            connection.execute(insert(_SCHEMA).values(version=SCHEMA_VERSION))
        version = connection.execute(select(func.max(_SCHEMA.c.version))).scalar_one()
        if version != SCHEMA_VERSION:
            problem = f"its tables are of version {version}, and this version of the tool knows {SCHEMA_VERSION}"
            raise StoreError(self.where, "", problem, "the newer version of the tool")

    def load(self, run: str, after: int = 0) -> tuple[Row, ...]:
        """The rows of a run in order, those after an event's number."""
        wanted = select(*_COLUMNS).where(_EVENTS.c.run == run, _EVENTS.c.seq > after).order_by(_EVENTS.c.seq)
        return tuple(Row(*found) for found in self._read(wanted))

    def find(self, run: str, event_id: str) -> Row | None:
        """The row of an event, if it is stored."""
        found = self._read(select(*_COLUMNS).where(_EVENTS.c.run == run, _EVENTS.c.event_id == event_id))
        return Row(*found[0]) if found else None

    def runs(self) -> tuple[RunEntry, ...]:
        """Every run, by name."""
        last = select(_EVENTS.c.run, func.max(_EVENTS.c.seq).label("seq")).group_by(_EVENTS.c.run).subquery()
        ends = (_EVENTS.c.run == last.c.run) & (_EVENTS.c.seq == last.c.seq)
        wanted = select(_EVENTS.c.run, _EVENTS.c.seq, _EVENTS.c.hash).join(last, ends)
        return tuple(sorted((RunEntry(*found) for found in self._read(wanted)), key=lambda entry: entry.run))

    def get(self, sha256: str) -> bytes:
        """A blob by its hash."""
        found = self._read(select(_BLOBS.c.content).where(_BLOBS.c.sha256 == sha256))
        if not found:
            raise StoreError(self.where, f"attachment {sha256}", "is not in the store")
        content = bytes(found[0][0])
        if hashlib.sha256(content).hexdigest() != sha256:
            raise StoreError(self.where, f"attachment {sha256}", "is not what was put: it was altered in the store")
        return content

    def put(self, content: bytes) -> str:
        """Keep a blob; its SHA-256 comes back."""
        sha256 = hashlib.sha256(content).hexdigest()
        if not self._read(select(_BLOBS.c.sha256).where(_BLOBS.c.sha256 == sha256)):
            try:
                with self._engine.begin() as connection:
                    connection.execute(insert(_BLOBS).values(sha256=sha256, content=content))
            except IntegrityError:  # somebody else has put it meanwhile
                pass
            except SQLAlchemyError as error:
                raise self._explained(error) from error
        return sha256

    def append(self, run: str, expected_seq: int, rows: tuple[Row, ...]) -> tuple[Row, ...]:
        """Add rows after the event expected to be last, all or none; see RecordStore."""
        return self._queue.submit(Request(run, expected_seq, rows))

    def close(self) -> None:
        """Let go of everything."""
        self._engine.dispose()

    def _read(self, wanted: Any) -> list[Any]:
        try:
            with self._engine.connect().execution_options(reading=True) as connection:
                return list(connection.execute(wanted).all())
        except SQLAlchemyError as error:
            raise self._explained(error) from error

    def _write_group(self, group: list[Request]) -> None:
        """Write all of a group with one commit; if that fails, each by itself, so that none suffers for another."""
        try:
            with self._engine.begin() as connection:
                # in the order of runs, so that two processes never wait for each other crosswise
                outcomes = [(one, _appended(connection, one)) for one in sorted(group, key=lambda one: one.run)]
        except Exception as error:
            self._engine.dispose()  # a connection that failed in a commit is not used again
            if len(group) > 1:
                for request in group:
                    self._write_group([request])
            else:
                group[0].error = self._explained(error) if isinstance(error, SQLAlchemyError) else error
            return
        for request, outcome in outcomes:
            if isinstance(outcome, Conflict):
                request.error = outcome
            else:
                request.stored = outcome

    def _explained(self, error: SQLAlchemyError) -> StoreError:
        cause = str(error.orig) if isinstance(error, DBAPIError) and error.orig else str(error)
        said = " ".join(cause.split())
        low = f"{type(getattr(error, 'orig', None)).__name__} {said}".lower()
        if any(sign in low for sign in _FULL):
            problem = f"the disk is full or failing ({said}): this entry is not kept, all that was acknowledged is"
            return StoreError(self.where, "", problem, "make room, then send it again")
        if "locked" in low:
            return StoreError(self.where, "", "somebody else holds the store for writing", "send it again")
        if isinstance(error, DBAPIError) and error.connection_invalidated:
            problem = f"the connection broke ({said}): the entry may be kept or not"
            return StoreError(self.where, "", problem, "send it again: sent twice, it is entered once")
        return StoreError(self.where, "", said)


def _appended(connection: Connection, request: Request) -> tuple[Row, ...] | Conflict:
    ids = [row.event_id for row in request.rows]
    known = select(*_COLUMNS).where(_EVENTS.c.run == request.run, _EVENTS.c.event_id.in_(ids)).order_by(_EVENTS.c.seq)
    stored = tuple(Row(*found) for found in connection.execute(known))
    if len(stored) == len(request.rows):
        return stored
    newest = select(_EVENTS.c.seq, _EVENTS.c.hash).where(_EVENTS.c.run == request.run)
    last = connection.execute(newest.order_by(_EVENTS.c.seq.desc()).limit(1)).first()
    seq, head = (last[0], last[1]) if last else (0, ORIGIN)
    if stored or seq != request.expected_seq or request.rows[0].before != head:
        return Conflict(f"run {request.run} has gone on to event {seq}, not {request.expected_seq}")
    values = [{column.name: getattr(row, column.name) for column in _COLUMNS} for row in request.rows]
    try:
        with connection.begin_nested():
            connection.execute(insert(_EVENTS), values)
    except IntegrityError:
        return Conflict(f"somebody else has entered event {request.rows[0].seq} of run {request.run}")
    return request.rows


def _begin_at_once(connection: Connection) -> None:
    """Take the writer's place when a transaction begins: one that reads first and then writes could only fail.

    What only reads is one statement, and needs no transaction.
    """
    if not connection.get_execution_options().get("reading"):
        connection.exec_driver_sql("BEGIN IMMEDIATE")


def _url(where: str) -> URL:
    if "://" not in where:
        path = Path(where)
        if not path.parent.is_dir():
            raise StoreError(where, "", "its folder does not exist", "a path in a folder that exists")
        return URL.create("sqlite", database=str(path))
    try:
        url = make_url(where)
    except ArgumentError:
        raise StoreError("store", "", "its address cannot be read", "postgresql://user@host/name") from None
    if url.get_backend_name() == "sqlite":
        return url
    if url.get_backend_name() != "postgresql":
        raise StoreError("store", "", f"{url.get_backend_name()} is not served", "a path (SQLite), or postgresql://...")
    return url.set(drivername="postgresql+psycopg")


def open_store(where: str) -> RecordStore:
    """A store by a path (SQLite) or an address such as postgresql://user@host/name.

    Raises: StoreError where it cannot be opened, is of a newer version, or would not keep what it says it keeps.
    """
    return SqlStore(where)
