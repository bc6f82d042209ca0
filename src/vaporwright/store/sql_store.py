"""Records in SQLite or PostgreSQL, through SQLAlchemy Core: the same three tables and the same statements for both.

    record_events   run, seq, event_id, body, before, hash; unique (run, seq) and unique (run, event_id)
    record_blobs    sha256, content
    record_schema   version; see `versions`

The first uniqueness is what two writers meet at; the second makes an entry that is sent twice harmless.
"""

from __future__ import annotations

import hashlib
from typing import Any, Final

from sqlalchemy import Column, Connection, Integer, LargeBinary, MetaData, String, Table, func, insert, inspect, select
from sqlalchemy.exc import IntegrityError, SQLAlchemyError
from sqlalchemy.schema import PrimaryKeyConstraint, UniqueConstraint

from vaporwright.acceptance.record.chain import ORIGIN, Row
from vaporwright.store.engines import explained, made_engine, shown, writing
from vaporwright.store.record_store import Conflict, RecordStore, RunEntry, StoreError
from vaporwright.store.table_steps import RECORDS
from vaporwright.store.versions import bring_up
from vaporwright.store.writer_queue import Request, WriterQueue

METADATA: Final = MetaData()
_EVENTS = Table(
    "record_events",
    METADATA,
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
    METADATA,
    Column("sha256", String(64), primary_key=True),
    Column("content", LargeBinary, nullable=False),
)
_COLUMNS = (_EVENTS.c.run, _EVENTS.c.seq, _EVENTS.c.event_id, _EVENTS.c.body, _EVENTS.c.before, _EVENTS.c.hash)


class SqlStore:
    """A RecordStore in a database."""

    def __init__(self, where: str) -> None:
        """Open it, and make its tables in an empty one.

        Raises: StoreError, see `record_store.open_store`.
        """
        self.where = shown(where)
        self._engine = made_engine(where)
        self._queue = WriterQueue(self._write_group)
        try:
            self._refuse_another()
            bring_up(self._engine, RECORDS)
        except StoreError:
            self.close()
            raise

    def _refuse_another(self) -> None:
        """Raise StoreError for a SQLite file of another program. In PostgreSQL, others may have tables beside ours."""
        try:
            with self._engine.connect().execution_options(reading=True) as connection:
                names = inspect(connection).get_table_names()
        except SQLAlchemyError as error:
            raise explained(self.where, error) from error
        if self._engine.dialect.name == "sqlite" and names and RECORDS.table not in names:
            raise StoreError(self.where, "", "is a database of something else", "a new file, or one of this tool")

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
                with writing(self._engine) as connection:
                    connection.execute(insert(_BLOBS).values(sha256=sha256, content=content))
            except IntegrityError:  # somebody else has put it meanwhile
                pass
            except SQLAlchemyError as error:
                raise explained(self.where, error) from error
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
            raise explained(self.where, error) from error

    def _write_group(self, group: list[Request]) -> None:
        """Write all of a group with one commit; if that fails, each by itself, so that none suffers for another."""
        try:
            with writing(self._engine) as connection:
                # in the order of runs, so that two processes never wait for each other crosswise
                outcomes = [(one, _appended(connection, one)) for one in sorted(group, key=lambda one: one.run)]
        except Exception as error:
            self._engine.dispose()  # a connection that failed in a commit is not used again
            if len(group) > 1:
                for request in group:
                    self._write_group([request])
            else:
                group[0].error = explained(self.where, error) if isinstance(error, SQLAlchemyError) else error
            return
        for request, outcome in outcomes:
            if isinstance(outcome, Conflict):
                request.error = outcome
            else:
                request.stored = outcome


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


def open_store(where: str) -> RecordStore:
    """A store by a path (SQLite) or an address such as postgresql://user@host/name.

    Raises: StoreError where it cannot be opened, is of a newer version, or would not keep what it says it keeps.
    """
    return SqlStore(where)
