"""What pages do with the control of a job, each a function that another process can run from the job's texts.

`report` is told the stage and its steps. Files are written by the commands' own actions, into a folder that goes.
"""

from __future__ import annotations

import csv
import io
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from vaporwright.actions.control_job import ControlledJob, control_job, write_io_list, write_plc_text, write_table
from vaporwright.actions.job_book import laid_out
from vaporwright.actions.prove_job import ProvedJob, prove_job, with_single_faults
from vaporwright.controls.rehearsal import rig_of
from vaporwright.controls.rig import Rig
from vaporwright.documents.matrix import matrix_rows
from vaporwright.documents.matrix_paper import matrix_pdf
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.telling import Report
from vaporwright.store.job_store import Texts

CSV: Final = "text/csv; charset=utf-8"
TEXT: Final = "text/plain; charset=utf-8"


@dataclass(frozen=True)
class Prepared:
    """The control of a job, and what its simulated unit is made of."""

    controlled: ControlledJob
    rig: Rig


def prepared(report: Report, texts: Texts) -> Prepared:
    """Size or rate the unit, make its table, and what a simulated unit needs. Takes a second or two.

    Errors: InputError, LiquidRefused, OutOfRange as a sizing and a table.
    """
    with laid_out(texts) as path:
        report("Sizing the unit and making its table")
        controlled = control_job(path)
        report("Building the simulated unit")
        return Prepared(controlled, rig_of(controlled.answer, controlled.unit))


def proved(report: Report, texts: Texts, with_faults: bool) -> ProvedJob:
    """Prove the table of a job. Errors: as `prepared`."""
    with laid_out(texts) as path:
        return prove_job(path, with_faults=with_faults, report=report)


def faults_looked_at(report: Report, proof: ProvedJob) -> ProvedJob:
    """Add to a proof what one stuck thing takes away from it."""
    return with_single_faults(proof, report)


@dataclass(frozen=True)
class Written:
    """A file to keep."""

    name: str  # its ending with a word before it
    media_type: str
    content: str | bytes


def written(report: Report, texts: Texts, kind: str, system: str) -> Written:
    """A file that comes from the table: a name of FILES. Errors: as `prepared`; InputError for no such kind."""
    if kind not in FILES:
        raise InputError("file", "kind", f'"{kind[:40]}" is no file of the control', ", ".join(FILES))
    report("Sizing the unit and making its table")
    with laid_out(texts) as path:
        controlled = control_job(path)
    report("Writing the file")
    return FILES[kind](controlled, system)


def _by(write: Callable[[ControlledJob, Path], Path], name: str, media_type: str) -> Callable[..., Written]:
    def made(controlled: ControlledJob, system: str) -> Written:
        del system
        with tempfile.TemporaryDirectory(prefix="vaporwright-file-") as folder:
            return Written(name, media_type, write(controlled, Path(folder) / name).read_text(encoding="utf-8"))

    return made


def _matrix_csv(controlled: ControlledJob, system: str) -> Written:
    del system
    text = io.StringIO()
    rows = matrix_rows(controlled.unit.design, controlled.unit.reasons)
    csv.writer(text, lineterminator="\n").writerows([_harmless(cell) for cell in row] for row in rows)
    return Written("matrix.csv", CSV, text.getvalue())


def _harmless(cell: str) -> str:
    """A cell that no spreadsheet takes for a formula: `+` alone is a mark and becomes its word."""
    if cell in _MARK_WORDS:
        return _MARK_WORDS[cell]
    return f"'{cell}" if cell[:1] in ("=", "+", "-", "@") else cell


_MARK_WORDS: Final = {"+": "on", "x": "off", "o": "need"}


def _matrix_pdf(controlled: ControlledJob, system: str) -> Written:
    return Written("matrix.pdf", "application/pdf", matrix_pdf(controlled.unit, _name(controlled), system))


def _name(controlled: ControlledJob) -> str:
    return controlled.answer.job.text("job.name")


FILES: Final[Mapping[str, Callable[[ControlledJob, str], Written]]] = {
    "matrix.pdf": _matrix_pdf,
    "matrix.csv": _matrix_csv,
    "table.toml": _by(write_table, "table.toml", "application/toml; charset=utf-8"),
    "plc_text.st": _by(write_plc_text, "plc_text.st", TEXT),
    "io_list.csv": _by(write_io_list, "io_list.csv", CSV),
}
