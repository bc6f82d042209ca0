"""What was found of units in service: readings and the diagnosis that was made of them, kept as they were."""

from __future__ import annotations

import json
import secrets
from dataclasses import dataclass
from typing import Any

from sqlalchemy import insert, select
from sqlalchemy.exc import IntegrityError

from vaporwright.store.database import Database
from vaporwright.store.web_tables import DIAGNOSES


@dataclass(frozen=True)
class KeptDiagnosis:
    """A diagnosis as it was made."""

    id: str
    job: str
    revision: int
    at: float
    who: str
    readings: dict[str, Any]
    found: dict[str, Any]


class ServiceStore:
    """Diagnoses in a database."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def keep(
        self,
        job: str,
        revision: int,
        readings: dict[str, Any],
        found: dict[str, Any],
        *,
        at: float,
        who: str,
        identifier: str = "",
    ) -> tuple[str, bool]:
        """Keep a diagnosis; its id comes back, and whether it is new: kept again under one id, the first one stands."""
        made = identifier or secrets.token_hex(8)
        texts = {"readings": json.dumps(readings, allow_nan=False), "found": json.dumps(found, allow_nan=False)}
        values = {"id": made, "job": job, "revision": revision, "at": at, "who": who, **texts}
        try:
            with self._database.writing() as connection:
                connection.execute(insert(DIAGNOSES).values(**values))
        except IntegrityError:
            if self.diagnosis(job, made) is None:
                raise
            return made, False
        return made, True

    def diagnoses(self, job: str) -> tuple[KeptDiagnosis, ...]:
        """Those of a job, newest first."""
        wanted = select(DIAGNOSES).where(DIAGNOSES.c.job == job).order_by(DIAGNOSES.c.at.desc())
        return tuple(_kept(row) for row in self._database.rows(wanted))

    def diagnosis(self, job: str, identifier: str) -> KeptDiagnosis | None:
        """One of a job's."""
        wanted = select(DIAGNOSES).where((DIAGNOSES.c.job == job) & (DIAGNOSES.c.id == identifier))
        found = self._database.rows(wanted)
        return _kept(found[0]) if found else None


def _kept(row: Any) -> KeptDiagnosis:
    return KeptDiagnosis(
        row.id, row.job, row.revision, row.at, row.who, json.loads(row.readings), json.loads(row.found)
    )
