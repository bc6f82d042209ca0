"""Stores for tests: SQLite in a file, and PostgreSQL in a server that these tests start."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from postgres_server import fresh_database, postgres_server
from vaporwright.store.record_store import RecordStore
from vaporwright.store.sql_store import open_store


@pytest.fixture(scope="session")
def postgres_address() -> Iterator[str]:
    with postgres_server() as server:
        yield server.address


@pytest.fixture(params=["sqlite", "postgresql"])
def where(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """An empty place for a store, in each kind of database."""
    if request.param == "sqlite":
        return str(tmp_path / "record.db")
    return fresh_database(request.getfixturevalue("postgres_address"))


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Another empty place, for what comes from the first."""
    if request.param == "sqlite":
        return str(tmp_path / "place.db")
    return fresh_database(request.getfixturevalue("postgres_address"))


@pytest.fixture
def store(where: str) -> Iterator[RecordStore]:
    opened = open_store(where)
    yield opened
    opened.close()
