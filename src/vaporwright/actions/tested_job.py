"""The job under a test: its procedure for the day, and the very job that a record was opened with, made anew from it.

A record carries the texts of job, catalogue and table as attachments. What is worked out later (the run's result, the
site's prediction) is worked out from those, never from files that may have changed since.
"""

from __future__ import annotations

import tempfile
import tomllib
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from vaporwright.acceptance.record.events import Attachment
from vaporwright.acceptance.record.state import RunState
from vaporwright.acceptance.sections.procedure_of_unit import procedure_for
from vaporwright.acceptance.steps.day import DayConditions
from vaporwright.acceptance.steps.procedure import Procedure, Variant
from vaporwright.actions.control_job import ControlledJob, control_job
from vaporwright.actions.desk import Desk
from vaporwright.files.day_file import read_day_file
from vaporwright.files.job_file import JobFile
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.telling import Report, unheard
from vaporwright.store.record_store import RecordStore
from vaporwright.unit.fields import FIELDS_BY_KEY

JOB, CATALOGUE, TABLE = "job.toml", "catalogue.toml", "table.toml"
TOML = "application/toml"


@dataclass(frozen=True)
class TestedJob:
    """A job with the procedure of a day."""

    __test__ = False  # no test class, in spite of its name

    controlled: ControlledJob
    procedure: Procedure


def procedure_of_job(path: Path | str, day: Path | DayConditions, variant: Variant = "full") -> TestedJob:
    """The procedure of a job's unit on a day.

    Raises: InputError of the job, the table or the day file; InputError where the unit's papers are not solved.
    """
    controlled = control_job(path)
    return TestedJob(controlled, procedure_on(controlled, day, variant))


def procedure_on(
    controlled: ControlledJob, day: Path | DayConditions, variant: Variant, report: Report = unheard
) -> Procedure:
    """The procedure of a unit on a day; the day may come as a file."""
    conditions = read_day_file(day, controlled.unit.heat) if isinstance(day, Path) else day
    return procedure_for(controlled.answer, controlled.unit, conditions, variant, report=report)


def attach_job(desk: Desk, job_file: JobFile) -> tuple[Attachment, ...]:
    """Keep the texts that a job consists of; the job's own first."""
    named = ((JOB, job_file.path), (CATALOGUE, job_file.catalogue), (TABLE, job_file.control_table))
    for key, path in (("catalogue", job_file.catalogue), ("control_table", job_file.control_table)):
        if path is not None and _named(Path(job_file.path), key).is_absolute():
            allowed = "a path from the job file's folder, so that the record can be read elsewhere"
            raise InputError(str(job_file.path), key, f"{path} is an absolute path", allowed)
    return tuple(desk.attach(Path(path).read_bytes(), name, TOML) for name, path in named if path is not None)


def job_of_record(store: RecordStore, state: RunState) -> ControlledJob:
    """The job that a run was opened with, from the record alone.

    Raises: InputError where the record does not hold it.
    """
    texts = {entry.attachment.name: entry.attachment.sha256 for entry in state.attachments if entry.step == ""}
    if JOB not in texts:
        raise InputError("record", state.run, f"has no {JOB}", "a run that was opened from a job file")
    with tempfile.TemporaryDirectory() as folder:
        # Deep enough that a path out of the job's own folder stays within.
        place = Path(folder) / "a" / "b" / "c" / "d" / "e"
        place.mkdir(parents=True)
        job = place / JOB
        job.write_bytes(store.get(texts[JOB]))
        for key, name in (("catalogue", CATALOGUE), ("control_table", TABLE)):
            if key not in tomllib.loads(job.read_text(encoding="utf-8")):
                continue
            target = (place / _named(job, key)).resolve()
            if name not in texts or not target.is_relative_to(Path(folder).resolve()):
                raise InputError("record", state.run, f"its {key} is not in the record", f"an attachment {name}")
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(store.get(texts[name]))
        return control_job(job)


def _named(job: Path, key: str) -> PurePosixPath:
    """A path as a job file states it."""
    return PurePosixPath(tomllib.loads(job.read_text(encoding="utf-8"))[key])


def report_units_of(store: RecordStore, state: RunState) -> str:
    """US or SI, as the job of a record asks for."""
    texts = {entry.attachment.name: entry.attachment.sha256 for entry in state.attachments if entry.step == ""}
    job = tomllib.loads(store.get(texts[JOB]).decode("utf-8")) if JOB in texts else {}
    return str(job.get("job", {}).get("report_units", FIELDS_BY_KEY["job.report_units"].default))
