"""One place for everything that is kept: the records, and the tables of the web application in the same database.

The records' own store opens first: it refuses a file of something else, and its rules of durability hold on every
connection made here too.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import Connection
from sqlalchemy.exc import IntegrityError, SQLAlchemyError

from vaporwright.store.engines import explained, made_engine, shown, writing
from vaporwright.store.record_store import RecordStore, StoreError
from vaporwright.store.sql_store import open_store
from vaporwright.store.table_steps import WEB
from vaporwright.store.versions import bring_up


class Database:
    """Records and web tables behind one address: a path (SQLite), or postgresql://user@host/name."""

    def __init__(self, where: str) -> None:
        """Open it; make its tables in an empty one, and bring those of an older version up.

        Raises: StoreError where it cannot be opened, is of a newer version, or would not keep what it says it keeps.
        """
        self.where = where
        self.records: RecordStore = open_store(where)
        self.engine = made_engine(where, pool_size=10)
        try:
            bring_up(self.engine, WEB)
        except StoreError:
            self.close()
            raise

    def rows(self, wanted: Any) -> list[Any]:
        """The rows of one statement that only reads."""
        try:
            with self.engine.connect().execution_options(reading=True) as connection:
                return list(connection.execute(wanted).all())
        except SQLAlchemyError as error:
            raise explained(shown(self.where), error) from error

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction that writes: all of it is on the disk when the block ends, or none."""
        try:
            with writing(self.engine) as connection:
                yield connection
        except IntegrityError:
            raise  # two wanted the same place: whoever writes says what that means
        except SQLAlchemyError as error:
            raise explained(shown(self.where), error) from error

    def close(self) -> None:
        """Let go of everything."""
        self.engine.dispose()
        self.records.close()
