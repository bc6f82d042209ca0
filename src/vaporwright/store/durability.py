"""What makes a commit last, for each database: set on every connection, read back, and refused where it does not hold.

SQLite: a write-ahead log with synchronous FULL where its WAL-reset bug (two connections, a checkpoint at the wrong
moment, a page lost) is fixed, which is from 3.51.3 on, in 3.50.7 and in 3.44.6; else the rollback journal, deleted,
with synchronous EXTRA, which also syncs the folder after the journal is gone. PostgreSQL: synchronous_commit on, and a
server that has neither fsync nor full_page_writes off.
"""

from __future__ import annotations

from typing import Any, Final

from vaporwright.store.record_store import StoreError

Version = tuple[int, int, int]
BUSY_ms: Final = 10_000
_FIXED: Final[tuple[tuple[Version, Version], ...]] = (
    ((3, 44, 6), (3, 45, 0)),
    ((3, 50, 7), (3, 51, 0)),
    ((3, 51, 3), (4, 0, 0)),
)


def wal_is_safe(version: Version) -> bool:
    """Whether a version of SQLite has the WAL-reset bug fixed."""
    return any(first <= version < end for first, end in _FIXED)


def sqlite_settings(version: Version) -> dict[str, str | int]:
    """The pragmas of every connection, in the order in which they are set."""
    journal, synchronous = ("wal", 2) if wal_is_safe(version) else ("delete", 3)  # 2 is FULL, 3 is EXTRA
    return {
        "busy_timeout": BUSY_ms,
        "journal_mode": journal,
        "synchronous": synchronous,
        "fullfsync": 1,  # for machines where a plain fsync stops at the drive's cache; others ignore it
        "checkpoint_fullfsync": 1,
    }


def set_on_sqlite(connection: Any, settings: dict[str, str | int], where: str) -> None:
    """Set the pragmas of a new connection, and see that they hold.

    Raises: StoreError where one does not.
    """
    connection.isolation_level = None  # transactions begin where we say
    for name, value in settings.items():
        connection.execute(f"PRAGMA {name} = {value}").close()
    check_sqlite(connection, settings, where)


def check_sqlite(connection: Any, settings: dict[str, str | int], where: str) -> None:
    """Raise StoreError unless every pragma of a connection is what it must be."""
    for name, value in settings.items():
        cursor = connection.execute(f"PRAGMA {name}")
        found = cursor.fetchone()[0]
        cursor.close()
        if found != value:
            problem = f"{name} is {found}, so what is acknowledged might be lost"
            raise StoreError(where, "", problem, f"{name} = {value}; let no other program hold this file open")


_POSTGRES: Final = {"synchronous_commit": "on", "fsync": "on", "full_page_writes": "on"}


def set_on_postgres(connection: Any, where: str) -> None:
    """Set what a session may set, and see that session and server keep what they acknowledge.

    Raises: StoreError where they do not.
    """
    connection.autocommit = True
    try:
        connection.execute("SET synchronous_commit = on")
        for name, value in _POSTGRES.items():
            found = connection.execute(f"SHOW {name}").fetchone()[0]
            if found != value:
                problem = f"{name} is {found}, so what is acknowledged might be lost"
                raise StoreError(where, "", problem, f"{name} = {value} on the server")
    finally:
        connection.autocommit = False
