"""Cells of a file of readings: what one may hold, and what it says."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import Final, TypeAlias

from vaporwright.files.typed_reading import is_blank

Cell: TypeAlias = str | float | bool | datetime | time | timedelta | None
MOST_ROWS: Final = 200_000
MOST_COLUMNS: Final = 200


def is_missing(cell: Cell) -> bool:
    """Whether a cell says that nothing was read."""
    return cell is None or (isinstance(cell, str) and is_blank(cell))


def is_time(cell: Cell) -> bool:
    """Whether a cell is a day or a time, as a spreadsheet makes of "1/8"."""
    return isinstance(cell, datetime | time | timedelta)


def shown_cell(cell: Cell) -> str:
    """A cell as text, for messages and as what was entered."""
    if isinstance(cell, bool):
        return "TRUE" if cell else "FALSE"
    if isinstance(cell, float):
        return f"{cell:.15g}"  # what a spreadsheet keeps of a number
    if isinstance(cell, datetime):
        return cell.isoformat(" ")
    return "" if cell is None else str(cell)
