"""Reading through what is kept, in a backup or in a store: is all of it there, and is it what was once entered?

What is missing or cannot be read is an error. A record whose chain is broken, or an attachment that is not what was
put, is told and kept: a shop whose only copy has one spoilt photo wants the rest.
"""

from __future__ import annotations

import hashlib
import json
import tarfile
import zlib
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import text

from vaporwright.acceptance.record.chain import Broken, Chain, Row, verify
from vaporwright.store.backup_file import (
    ALLOWED,
    ATTACHMENTS,
    CONTENTS,
    FORMAT,
    as_bytes,
    members,
    require_whole,
    rows_of,
    table_of,
)
from vaporwright.store.database import Database
from vaporwright.store.record_store import StoreError

_EVENTS, _BLOBS = "record_events", "record_blobs"


@dataclass(frozen=True)
class Contents:
    """What a backup holds: the versions of its tables, rows of each, and what is not sound."""

    versions: dict[str, int]
    rows: dict[str, int]
    unsound: tuple[str, ...]


def contents_of(path: Path) -> Contents:
    """Read a backup through to its end.

    Raises: StoreError where it is none, or lacks anything.
    """
    require_whole(path)
    reading = _Reading()
    try:
        for name, content in members(path):
            reading.take(name, content)
        return reading.contents()
    except (tarfile.TarError, zlib.error, ValueError, KeyError, TypeError, OSError) as error:
        raise StoreError(str(path), "", f"cannot be read ({error}): nothing of it is restored", ALLOWED) from None


class _Reading:
    """Counts and verifies the members of a backup as they come."""

    def __init__(self) -> None:
        self._rows = Counter[str]()
        self._chains: dict[str, Chain] = {}
        self._unsound: dict[str, str] = {}  # by run or attachment
        self._said: dict[str, Any] = {}

    def take(self, name: str, content: bytes) -> None:
        if name.startswith(ATTACHMENTS):
            self._rows[_BLOBS] += 1
            sha256 = name.removeprefix(ATTACHMENTS)
            if hashlib.sha256(content).hexdigest() != sha256:
                self._unsound[sha256] = _altered(sha256)
        elif table_of(name):
            columns, rows = rows_of(content)
            self._rows[table_of(name)] += len(rows)
            if table_of(name) == _EVENTS:
                for row in rows:
                    self._follow(dict(zip(columns, row, strict=True)))
        elif name == CONTENTS:
            self._said = json.loads(content)
        else:
            raise ValueError(f"{name} does not belong in it")

    def _follow(self, values: dict[str, Any]) -> None:
        row = Row(**(values | {"body": as_bytes(values["body"])}))
        if row.run in self._unsound:
            return
        try:
            self._chains.setdefault(row.run, Chain()).take(row)
        except Broken as error:
            self._unsound[row.run] = _broken(row.run, row.seq, str(error))

    def contents(self) -> Contents:
        if self._said["format"] != FORMAT:
            raise ValueError(f"it is of format {self._said['format']}")
        found = {name: self._rows[name] for name in self._said["rows"]}
        if found != self._said["rows"] or self._rows.keys() - found.keys():
            raise ValueError("it does not hold the rows that it says it holds")
        return Contents(self._said["versions"], found, tuple(self._unsound.values()))


def look_through(where: str) -> tuple[str, ...]:
    """Verify every record's chain and every attachment in a store, one at a time; what is not sound comes back."""
    database = Database(where)
    unsound = []
    try:
        for entry in database.records.runs():
            found = verify(database.records.load(entry.run))
            if not found.ok:
                unsound.append(_broken(entry.run, found.seq, found.problem))
        for (sha256,) in database.rows(text(f"SELECT sha256 FROM {_BLOBS} ORDER BY sha256")):
            try:
                database.records.get(sha256)
            except StoreError:
                unsound.append(_altered(sha256))
    finally:
        database.close()
    return tuple(unsound)


def _broken(run: str, seq: int, problem: str) -> str:
    return f"run {run} does not verify at event {seq}: {problem}"


def _altered(sha256: str) -> str:
    return f"attachment {sha256} is not what was put"
