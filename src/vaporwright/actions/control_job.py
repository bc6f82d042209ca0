"""The control of a job: its table, made from the unit or edited by the shop, and what is proved of it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from vaporwright.actions.size_job import answer_job
from vaporwright.controls.expansion import expanded
from vaporwright.controls.table import Table
from vaporwright.controls.unit_signals import UnitOptions
from vaporwright.controls.unit_table import UnitTable, unit_table
from vaporwright.files.job_file import JobFile
from vaporwright.files.new_file import write_new
from vaporwright.files.table_file import read_table_file
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.job import Job


@dataclass(frozen=True)
class ControlledJob:
    """A job with the control of its unit."""

    job_file: JobFile
    answer: UnitAnswer
    unit: UnitTable
    table: Table  # of unit.design, expanded

    @property
    def is_edited(self) -> bool:
        """Whether the shop's own table stands in place of the one made from the unit."""
        return self.job_file.control_table is not None


def control_job(path: Path | str) -> ControlledJob:
    """The control of the unit that a job file names, or else of the one that a sizing chooses.

    Raises: InputError and LiquidRefused as a sizing; InputError of the table file, naming row and key.
    """
    job_file, _, answer = answer_job(path)
    unit = unit_table(answer, options_of(answer.job))
    if job_file.control_table is not None:
        edited = read_table_file(job_file.control_table)
        unit = replace(unit, design=edited.design, reasons=dict(edited.reasons))
    return ControlledJob(job_file, answer, unit, expanded(unit.design))


def options_of(job: Job) -> UnitOptions:
    """What a job chooses of its control."""
    high: Literal["keep evaporating", "stop the unit"]
    high = "stop the unit" if job.text("controls.high_level") == "stop the unit" else "keep evaporating"
    low: Literal["at refill-off", "by reset"]
    low = "by reset" if job.text("controls.low_level_clears") == "by reset" else "at refill-off"
    return UnitOptions(high_level=high, low_level_clears=low, warm_up=job.text("controls.warm_up_mode") == "yes")


def write_table(controlled: ControlledJob, path: Path) -> Path:
    """Write the table as TOML for the shop to edit. Raises InputError rather than overwrite a file."""
    from vaporwright.files.table_file import table_text

    return write_new(path, table_text(controlled.unit.design, controlled.unit.reasons))


def write_plc_text(controlled: ControlledJob, path: Path) -> Path:
    """Write the table as Structured Text. Raises InputError rather than overwrite a file."""
    from vaporwright.controls.structured_text import structured_text

    return write_new(path, structured_text(controlled.table))


def write_io_list(controlled: ControlledJob, path: Path) -> Path:
    """Write the I/O list as CSV. Raises InputError rather than overwrite a file."""
    import csv
    import io
    from dataclasses import astuple

    from vaporwright.controls.structured_text import io_list

    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(("name", "direction", "what it is", "device", "on means"))
    writer.writerows(astuple(point) for point in io_list(controlled.table))
    return write_new(path, text.getvalue())
