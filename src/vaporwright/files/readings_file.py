"""Files of readings, CSV or XLSX: readings of steps, and the log of a performance run; and writing of such a log.

A file is read as a whole or not at all. A blank cell, or a dash, is a missing reading; everything else that is no
reading is refused with its file, row, column, value and what is allowed.

Readings of steps have the columns step, field and value, and may have unit, instrument, by and time. A log has a time
column and one column for each channel of acceptance.run.log, with its unit: tank_temperature (degF).
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from vaporwright.acceptance.run.log import CHANNEL_OF, CHANNELS, RunLog
from vaporwright.acceptance.steps.procedure import TEXT, YES_OR_NO, Procedure, ReadingField, Step
from vaporwright.acceptance.steps.readings import Reading
from vaporwright.display_units import US, shown_unit, to_shown
from vaporwright.files.cell_table import CellTable, csv_table, read_cell_table
from vaporwright.files.cells import Cell, is_missing, is_time, shown_cell
from vaporwright.files.log_columns import columns_of, stem, values_below
from vaporwright.files.log_times import moment_of, time_place, times_s
from vaporwright.files.new_file import write_new
from vaporwright.files.typed_reading import is_bare_number, typed_reading
from vaporwright.files.values import unknown_key
from vaporwright.foundation.errors import InputError

STEP_COLUMNS: Final = ("step", "field", "value")
OTHER_COLUMNS: Final = ("unit", "instrument", "by", "time", "note")
_NEEDED_OF_STEPS: Final = "columns " + ", ".join(STEP_COLUMNS)
_NEEDED_OF_LOG: Final = "a column time, and one for each channel, such as tank_temperature (degF)"
_LONGEST_NAME: Final = 80
_UNITS_OF_WORDS: Final = frozenset(("yes or no", "yes/no", "text"))
# The unit texts of display_units that a header has in plain letters.
_PLAIN_UNITS: Final = {"°F": "degF", "°C": "degC", "in. w.c.": "inH2O", "m³/h": "m3/h", "µS/cm": "uS/cm"}
_DIGITS: Final = 9


@dataclass(frozen=True)
class FileReading:
    """A reading of a step as a file had it."""

    row: int
    reading: Reading
    by: str = ""
    time: str = ""  # ISO, as far as it was stated


def read_step_readings(path: Path, procedure: Procedure, *, sheet: str | None = None) -> tuple[FileReading, ...]:
    """The readings of a file, in its order; rows without a value are left out.

    Raises: InputError naming file, row, column, value and what is allowed: nothing of such a file is used.
    """
    return _step_readings(read_cell_table(path, _is_step_header, _NEEDED_OF_STEPS, sheet=sheet), procedure)


def step_readings_of(content: bytes, where: str, procedure: Procedure) -> tuple[FileReading, ...]:
    """The same of the bytes of a CSV file."""
    return _step_readings(csv_table(content, where, _is_step_header, _NEEDED_OF_STEPS), procedure)


def read_run_log(path: Path, *, sheet: str | None = None) -> RunLog:
    """The log of a performance run.

    Raises: InputError naming file, row, column, value and what is allowed: nothing of such a file is used.
    """
    return _run_log(read_cell_table(path, _is_log_header, _NEEDED_OF_LOG, sheet=sheet))


def run_log_of(content: bytes, where: str) -> RunLog:
    """The same of the bytes of a CSV file."""
    return _run_log(csv_table(content, where, _is_log_header, _NEEDED_OF_LOG))


def write_run_log_csv(path: Path, log: RunLog, *, system: str = US, comment: str = "") -> Path:
    """Write a log as CSV that read_run_log reads; raises InputError rather than overwrite a file."""
    return write_new(path, run_log_text(log, system=system, comment=comment))


def run_log_text(log: RunLog, *, system: str = US, comment: str = "") -> str:
    """A log as CSV text, in US or SI units, to nine digits; read back and written again it is the same text."""
    kept = [channel for channel in CHANNELS if channel.name in log.columns]
    text = io.StringIO(newline="")
    for line in comment.splitlines():
        text.write(f"# {line}\n")
    writer = csv.writer(text, lineterminator="\n")
    units = {channel.name: shown_unit(channel.quantity, system).text for channel in kept}
    heads = [f"{stem(name)} ({_PLAIN_UNITS.get(unit, unit)})" for name, unit in units.items()]
    writer.writerow(["time (s)", *heads])
    for place, time_s in enumerate(log.times_s):
        cells = [_printed(log.columns[channel.name][place], channel.quantity, system) for channel in kept]
        writer.writerow([f"{time_s:.{_DIGITS + 3}g}", *cells])
    return text.getvalue()


def _printed(value: float | None, quantity: str, system: str) -> str:
    return "" if value is None else f"{to_shown(value, quantity, system):.{_DIGITS}g}"


def _is_step_header(header: tuple[str, ...]) -> bool:
    return set(STEP_COLUMNS) <= {head.casefold() for head in header}


def _is_log_header(header: tuple[str, ...]) -> bool:
    return len(header) > 1 and time_place(header) is not None


def _run_log(table: CellTable) -> RunLog:
    place = time_place(table.header)
    assert place is not None
    times = times_s(table, place)
    found = columns_of(table, CHANNELS, (place,))
    if not found:
        raise InputError(table.where, "", "has no channel", _NEEDED_OF_LOG)
    columns = {
        column.name: tuple(values_below(table, at, column, scale, total=CHANNEL_OF[column.name].total))
        for at, (column, scale) in found.items()
    }
    return RunLog(times, columns)


def _step_readings(table: CellTable, procedure: Procedure) -> tuple[FileReading, ...]:
    for head in table.header:
        if head and head.casefold() not in (*STEP_COLUMNS, *OTHER_COLUMNS):
            near = unknown_key(table.where, head.casefold(), (*STEP_COLUMNS, *OTHER_COLUMNS))
            raise InputError(table.where, f"column {head}", near.problem, near.allowed)
    places = {name: table.place(name) for name in (*STEP_COLUMNS, *OTHER_COLUMNS)}
    found: list[FileReading] = []
    rows: dict[tuple[str, str], int] = {}
    for row, cells in table.rows:
        reading = _row_reading(table, row, cells, places, procedure)
        if reading is None:
            continue
        key = (reading.reading.step, reading.reading.field)
        if key in rows:
            problem = f"{key[0]}, {key[1]} stands in row {rows[key]} too"
            raise InputError(table.where, f"row {row}", problem, "each field of a step once in a file")
        rows[key] = row
        found.append(reading)
    if not found:
        raise InputError(table.where, "", "has no value in any row", "at least one reading")
    return tuple(found)


def _row_reading(
    table: CellTable, row: int, cells: tuple[Cell, ...], places: dict[str, int | None], procedure: Procedure
) -> FileReading | None:
    """The reading of a row; None where its value is missing."""

    def words(name: str) -> str:
        place = places[name]
        return "" if place is None else _words(table, row, place, cells[place])

    step, field = _field(table, row, words("step"), words("field"), places, procedure)
    place = places["value"]
    assert place is not None
    value = cells[place]
    if is_missing(value):
        return None
    entered, plain = _entered(table, row, place, value, words("unit"), field)
    key = f"row {row}, column {table.header[place]}"
    try:
        reading = typed_reading(field, plain, step=step.key, instrument=words("instrument"), way="file")
    except InputError as error:
        raise InputError(table.where, f"{key} ({field.label})", error.problem, error.allowed) from None
    when = places["time"]
    stated = "" if when is None or is_missing(cells[when]) else _stated_time(table, row, when, cells[when])
    return FileReading(row, replace(reading, entered=entered), words("by"), stated)


def _field(
    table: CellTable, row: int, step_key: str, field_key: str, places: dict[str, int | None], procedure: Procedure
) -> tuple[Step, ReadingField]:
    step = procedure.step(step_key)
    if step is None:
        near = unknown_key(table.where, step_key, [step.key for step in procedure.steps])
        problem = f'"{step_key}" is no step of this procedure; {near.problem}'
        raise table.error(row, places["step"] or 0, problem, near.allowed[:200])
    field = step.field(field_key)
    if field is None:
        allowed = ", ".join(known.key for known in step.fields) or "a step that has something to be read"
        raise table.error(row, places["field"] or 0, f'"{field_key}" is no field of {step_key}', allowed)
    return step, field


def _entered(table: CellTable, row: int, place: int, value: Cell, unit: str, field: ReadingField) -> tuple[str, str]:
    """What was entered, with its unit; and the same with a decimal point."""
    if field.quantity in (TEXT, YES_OR_NO):
        if unit and unit.casefold() not in _UNITS_OF_WORDS:
            raise table.error(row, place, f'has the unit "{unit}", but is a {field.quantity}', "no unit")
        return shown_cell(value), shown_cell(value)
    if is_time(value):
        problem = f'"{shown_cell(value)}" is a day or a time; a spreadsheet makes one of a text such as 1/8'
        raise table.error(row, place, problem, "a number with its unit, as text")
    text, plain = shown_cell(value), table.number_text(value)
    if not unit:
        return text, plain
    if is_bare_number(plain):
        return f"{text} {unit}", f"{plain} {unit}"
    if not plain.endswith(unit):
        raise table.error(row, place, f'"{text}" has another unit than its column unit, "{unit}"', "one unit")
    return text, plain


def _words(table: CellTable, row: int, place: int, cell: Cell) -> str:
    text = "" if is_missing(cell) else shown_cell(cell)
    if len(text) > _LONGEST_NAME or not text.isprintable():
        raise table.error(row, place, f"{text[:40]!a} is too long or unprintable", f"{_LONGEST_NAME} characters")
    return text


def _stated_time(table: CellTable, row: int, place: int, cell: Cell) -> str:
    moment = moment_of(table, row, place, cell)
    if isinstance(moment, timedelta):
        raise table.error(row, place, f'"{shown_cell(cell)}" is an elapsed time', "a clock time, or a day with one")
    return moment.isoformat(*((" ",) if isinstance(moment, datetime) else ()))
