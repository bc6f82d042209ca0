"""The way to a database, for records and web tables alike: its address, its connections, and its errors in plain words.

A connection keeps the rules of `durability`. It is used in one of three ways, which an execution option says:

    nothing              a transaction that writes; it takes the writer's place when it begins
    reading=True         one statement that only reads, and needs no transaction
    reading="snapshot"   several statements that only read, all of them the store as it was at the first
"""

from __future__ import annotations

import contextlib
import sqlite3
import threading
import unicodedata
from collections import defaultdict, deque
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, Engine, create_engine, event, make_url
from sqlalchemy.engine import URL
from sqlalchemy.exc import ArgumentError, DBAPIError, SQLAlchemyError

from vaporwright.store.durability import check_sqlite, set_on_postgres, set_on_sqlite, sqlite_settings
from vaporwright.store.record_store import StoreError

JOURNALS: Final = ("-journal", "-wal", "-shm")  # what SQLite has beside a file
_FULL: Final = ("disk is full", "disk i/o error", "no space left", "diskfull", "could not extend", "could not write")


def url_of(where: str) -> URL:
    """The address of a store: a path (SQLite), or postgresql://user@host/name.

    Raises: StoreError where it is neither.
    """
    if not where.strip() or any(unicodedata.category(one) == "Cc" for one in where):
        problem = "has a control character in it" if where.strip() else "is empty"  # a file that nobody could name
        seen = "its address" if "://" in where else repr(where)  # an address may hold a password
        raise StoreError("store", "", f"{seen} {problem}", "a path in plain letters, or postgresql://user@host/name")
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


def shown(where: str | URL) -> str:
    """A store's address as people may see it: a path, or an address without its password."""
    if isinstance(where, str):
        if "://" not in where:
            return where
        where = url_of(where)
    if where.get_backend_name() == "sqlite":
        return where.database or ""
    return where.set(drivername="postgresql").render_as_string(hide_password=True)


def is_postgres(connection: Connection | Engine) -> bool:
    """Whether it leads to PostgreSQL."""
    return connection.dialect.name == "postgresql"


def made_engine(where: str, **more: Any) -> Engine:
    """The connections to a store.

    Raises: StoreError for an address that is none.
    """
    url, seen = url_of(where), shown(where)
    if url.get_backend_name() == "postgresql":
        engine = create_engine(url, pool_pre_ping=True, **more)
        event.listen(engine, "connect", lambda connection, _record: set_on_postgres(connection, seen))
        return engine
    settings = sqlite_settings(sqlite3.sqlite_version_info)
    engine = create_engine(url, **more)
    event.listen(engine, "connect", lambda connection, _record: set_on_sqlite(connection, settings, seen))
    # another program may have changed the journal of the file meanwhile
    event.listen(engine, "checkout", lambda connection, *_rest: check_sqlite(connection, settings, seen))
    event.listen(engine, "begin", _begin)
    return engine


def clear_draft(path: Path) -> None:
    """Remove what a killed process left of a new SQLite file: SQLite would put an old journal into the next one."""
    for suffix in ("", *JOURNALS):
        path.with_name(path.name + suffix).unlink(missing_ok=True)


def draft_engine(path: Path) -> Engine:
    """The connections to a new file that nobody knows of yet: fast, and only good once it was closed and synced."""
    engine = create_engine(URL.create("sqlite", database=str(path)))
    event.listen(engine, "connect", lambda connection, _record: _set_on_draft(connection))
    event.listen(engine, "begin", _begin)
    return engine


def _set_on_draft(connection: Any) -> None:
    connection.isolation_level = None
    for pragma in ("journal_mode = off", "synchronous = off"):  # no journal that could outlive a kill
        connection.execute(f"PRAGMA {pragma}").close()


def _begin(connection: Connection) -> None:
    """Take the writer's place when a transaction begins: one that reads first and then writes could only fail."""
    reading = connection.get_execution_options().get("reading")
    if reading == "snapshot":
        connection.exec_driver_sql("BEGIN")
    elif not reading:
        connection.exec_driver_sql("BEGIN IMMEDIATE")


class _Turns:
    """Lets one in at a time, in the order in which they came."""

    def __init__(self) -> None:
        self._guard = threading.Lock()
        self._waiting: deque[threading.Lock] = deque()

    @contextmanager
    def mine(self) -> Iterator[None]:
        """Wait for one's turn, and pass it on at the end."""
        turn = threading.Lock()
        with self._guard:
            self._waiting.append(turn)
            turn.acquire()
            if self._waiting[0] is turn:
                turn.release()
        with turn:
            try:
                yield
            finally:
                with self._guard:
                    self._waiting.popleft()
                    if self._waiting:
                        self._waiting[0].release()


_TURNS: Final[defaultdict[str, _Turns]] = defaultdict(_Turns)  # by the SQLite file


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """A transaction that writes: all of it is on the disk when the block ends, or none.

    SQLite lets one write at a time and has whoever finds it taken try again later, so that with many at once some wait
    for ever: within this process they line up.
    """
    turns = contextlib.nullcontext() if is_postgres(engine) else _TURNS[str(engine.url)].mine()
    with turns, engine.begin() as connection:
        yield connection


@contextmanager
def snapshot(engine: Engine) -> Iterator[Connection]:
    """All that is read within the block is of one moment. In a rollback journal who writes waits for its end."""
    options: dict[str, Any] = {"reading": "snapshot"}
    if is_postgres(engine):
        options |= {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
    with engine.connect() as connection:
        yield connection.execution_options(**options)


def explained(where: str, error: SQLAlchemyError) -> StoreError:
    """What a database says, with what it means for who has sent something."""
    cause = str(error.orig) if isinstance(error, DBAPIError) and error.orig else str(error)
    said = " ".join(cause.split())
    low = f"{type(getattr(error, 'orig', None)).__name__} {said}".lower()
    if any(sign in low for sign in _FULL):
        problem = f"the disk is full or failing ({said}): this entry is not kept, all that was acknowledged is"
        return StoreError(where, "", problem, "make room, then send it again")
    if "locked" in low:
        return StoreError(where, "", "somebody else holds the store for writing", "send it again")
    if isinstance(error, DBAPIError) and error.connection_invalidated:
        problem = f"the connection broke ({said}): the entry may be kept or not"
        return StoreError(where, "", problem, "send it again: sent twice, it is entered once")
    return StoreError(where, "", said)
