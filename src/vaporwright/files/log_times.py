"""The time column of a log: clock times, days with clock times, or elapsed times with a unit in the header.

Days are ISO only, since 3/4 is March here and April there. A clock that jumps back is refused: past midnight the day
must stand there too.
"""

from __future__ import annotations

import re
from datetime import datetime, time, timedelta
from typing import Final, TypeAlias

from vaporwright.files.cell_table import CellTable
from vaporwright.files.cells import Cell, is_missing, shown_cell
from vaporwright.files.log_columns import cell_number, split_head
from vaporwright.files.quantities import unit_line

TIME_NAMES: Final = frozenset(("time", "elapsed", "elapsed time"))
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}(?:\.\d{1,6})?))?(?:\s*([AaPp])\.?[Mm]\.?)?", re.ASCII)
_DAY_AND_CLOCK = re.compile(
    r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(?::\d{2}(?:\.\d{1,6})?)?(?:Z|[+-]\d{2}:\d{2})?", re.ASCII
)
_ALLOWED: Final = "14:05, 14:05:30, 2:05 PM or 2026-04-30 14:05; elapsed time under a header such as time (min)"

Moment: TypeAlias = datetime | time | timedelta


def time_place(header: tuple[str, ...]) -> int | None:
    """Place of the time column."""
    return next((place for place, head in enumerate(header) if split_head(head)[0].casefold() in TIME_NAMES), None)


def times_s(table: CellTable, place: int) -> tuple[float, ...]:
    """Times of the rows: as they stand where they are elapsed times, else from the first row on.

    Raises: InputError naming row, column and value.
    """
    _, unit = split_head(table.header[place])
    if unit is not None:
        per_unit, _ = unit_line(unit, "duration", where=table.where, key=f"column {table.header[place]}")
        times = [_number(table, row, place, cells[place], unit) * per_unit for row, cells in table.rows]
    else:
        times = _clock_times_s(table, place)
    for (row, cells), before_s, time_s in zip(table.rows[1:], times, times[1:], strict=False):
        if not time_s > before_s:
            problem = f'"{shown_cell(cells[place])}" does not come after the row before it'
            raise table.error(row, place, problem, "times that rise; past midnight, with their day")
    return tuple(times)


def moment_of(table: CellTable, row: int, place: int, cell: Cell) -> Moment:
    """What a cell of clock times says. Raises InputError for anything else."""
    if isinstance(cell, datetime | time | timedelta):
        return cell
    text = shown_cell(cell).strip()
    try:
        if isinstance(cell, str) and _DAY_AND_CLOCK.fullmatch(text):
            return datetime.fromisoformat(text)
        clock = _CLOCK.fullmatch(text) if isinstance(cell, str) else None
        if clock is not None:
            return _clock(*clock.groups())
    except ValueError:
        pass
    raise table.error(row, place, f'"{text[:40]}" is no time', _ALLOWED)


def _clock(hours: str, minutes: str, seconds: str | None, half: str | None) -> time:
    hour = int(hours)
    if half is not None:
        if not 1 <= hour <= 12:
            raise ValueError(hours)
        hour = hour % 12 + (12 if half in "Pp" else 0)
    whole, _, part = (seconds or "0").partition(".")
    return time(hour, int(minutes), int(whole), int(part.ljust(6, "0")) if part else 0)


def _number(table: CellTable, row: int, place: int, cell: Cell, unit: str) -> float:
    if is_missing(cell):
        raise table.error(row, place, "is missing", "the time of the row")
    return cell_number(table, row, place, cell, unit)


def _clock_times_s(table: CellTable, place: int) -> list[float]:
    moments: list[Moment] = []
    for row, cells in table.rows:
        if is_missing(cells[place]):
            raise table.error(row, place, "is missing", "the time of the row")
        moment = moment_of(table, row, place, cells[place])
        if moments and _kind(moment) != _kind(moments[0]):
            problem = f'"{shown_cell(cells[place])}" is {_kind(moment)}, and the first row has {_kind(moments[0])}'
            raise table.error(row, place, problem, "one kind of time throughout")
        moments.append(moment)
    first = moments[0]
    return [_between_s(first, moment) for moment in moments]


def _kind(moment: Moment) -> str:
    if isinstance(moment, datetime):
        return "a day with a clock time" + (" and its zone" if moment.tzinfo else "")
    return "a clock time" if isinstance(moment, time) else "an elapsed time"


def _between_s(first: Moment, moment: Moment) -> float:
    if isinstance(first, datetime) and isinstance(moment, datetime):
        return (moment - first).total_seconds()
    if isinstance(first, timedelta) and isinstance(moment, timedelta):
        return moment.total_seconds() - first.total_seconds()
    return _of_day_s(moment) - _of_day_s(first)


def _of_day_s(moment: Moment) -> float:
    assert isinstance(moment, time)
    return moment.hour * 3600.0 + moment.minute * 60.0 + moment.second + moment.microsecond * 1e-6
