"""One place for everything that is kept: the records, and the tables of the web application in the same database.

The records' own store opens first: it refuses a file of something else, and its rules of durability hold on every
connection made here too.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Final

from sqlalchemy import Connection, Engine, create_engine, event, func, insert, inspect, select, text
from sqlalchemy.engine import URL
from sqlalchemy.exc import DBAPIError, IntegrityError, SQLAlchemyError

from vaporwright.store.durability import check_sqlite, set_on_postgres, set_on_sqlite, sqlite_settings
from vaporwright.store.record_store import RecordStore, StoreError
from vaporwright.store.sql_store import _begin_at_once, _url, open_store
from vaporwright.store.web_tables import METADATA, SCHEMA

WEB_SCHEMA_VERSION: Final = 1
_MAKING: Final = 7_203_119  # any number: PostgreSQL's lock while the tables are made


class Database:
    """Records and web tables behind one address: a path (SQLite), or postgresql://user@host/name."""

    def __init__(self, where: str) -> None:
        """Open it, and make its tables in an empty one.

        Raises: StoreError where it cannot be opened, is of a newer version, or would not keep what it says it keeps.
        """
        self.where = where
        self.records: RecordStore = open_store(where)
        url = _url(where)
        self.is_postgres = url.get_backend_name() == "postgresql"
        self.engine = _engine(url, where)
        try:
            with self.writing() as connection:
                self._make_tables(connection)
        except StoreError:
            self.close()
            raise

    def _make_tables(self, connection: Connection) -> None:
        if self.is_postgres:
            connection.execute(text(f"SELECT pg_advisory_xact_lock({_MAKING})"))
        if SCHEMA.name not in inspect(connection).get_table_names():
            METADATA.create_all(connection)
            connection.execute(insert(SCHEMA).values(version=WEB_SCHEMA_VERSION))
        version = connection.execute(select(func.max(SCHEMA.c.version))).scalar_one()
        if version != WEB_SCHEMA_VERSION:
            problem = f"its web tables are of version {version}; this version of the tool knows {WEB_SCHEMA_VERSION}"
            raise StoreError(self.where, "", problem, "the newer version of the tool")

    def rows(self, wanted: Any) -> list[Any]:
        """The rows of one statement that only reads."""
        try:
            with self.engine.connect().execution_options(reading=True) as connection:
                return list(connection.execute(wanted).all())
        except SQLAlchemyError as error:
            raise self._explained(error) from error

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction that writes: all of it is on the disk when the block ends, or none."""
        try:
            with self.engine.begin() as connection:
                yield connection
        except IntegrityError:
            raise  # two wanted the same place: whoever writes says what that means
        except SQLAlchemyError as error:
            raise self._explained(error) from error

    def close(self) -> None:
        """Let go of everything."""
        self.engine.dispose()
        self.records.close()

    def _explained(self, error: SQLAlchemyError) -> StoreError:
        cause = str(error.orig) if isinstance(error, DBAPIError) and error.orig else str(error)
        said = " ".join(cause.split())
        if "locked" in said.lower():
            return StoreError("store", "", "somebody else holds the store for writing", "send it again")
        return StoreError("store", "", f"it could not be done ({said}): nothing of it is kept", "send it again")


def _engine(url: URL, where: str) -> Engine:
    if url.get_backend_name() == "postgresql":
        engine = create_engine(url, pool_pre_ping=True, pool_size=10)
        event.listen(engine, "connect", lambda connection, _record: set_on_postgres(connection, where))
        return engine
    settings = sqlite_settings(sqlite3.sqlite_version_info)
    engine = create_engine(url, pool_size=10)
    event.listen(engine, "connect", lambda connection, _record: set_on_sqlite(connection, settings, where))
    event.listen(engine, "checkout", lambda connection, *_rest: check_sqlite(connection, settings, where))
    event.listen(engine, "begin", _begin_at_once)
    return engine
