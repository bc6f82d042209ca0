"""Cells of a workbook (XLSX), sheet by sheet, through openpyxl.

A formula counts only with the value that the spreadsheet kept of it. A number formatted as a percentage is a text with
its sign ("4.5 %"): what its writer sees. The size that a sheet states of itself is not believed, since rows past it
would be lost without a word.
"""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from datetime import date, datetime, time, timedelta
from typing import Any, Final

from vaporwright.files.cells import MOST_COLUMNS, MOST_ROWS, Cell, is_missing, shown_cell
from vaporwright.foundation.errors import InputError

LARGEST_UNPACKED_bytes: Final = 200_000_000
LAST_ROW: Final = 1_048_576  # of a sheet
_QUOTED = re.compile(r'"[^"]*"|\\.|\[[^\]]*\]')

Sheets = dict[str, list[tuple[int, list[Cell]]]]


def read_workbook(content: bytes, where: str) -> Sheets:
    """Rows of every sheet with their numbers, blank ones left out.

    Raises: InputError for what is no workbook, a formula without a kept value, an error value, and sizes beyond reason.
    """
    _refuse_large(content, where)
    with warnings.catch_warnings():
        # openpyxl warns of styles, extensions and validations that it leaves out: none of them is a value.
        warnings.filterwarnings("ignore", category=UserWarning, module=r"openpyxl\.")
        try:
            return _sheets(content, where)
        except InputError:
            raise
        except Exception as error:  # openpyxl lets errors of archive, XML and conversion through
            raise InputError(where, "", f"cannot be read as a workbook ({type(error).__name__})", ".xlsx") from None


def _refuse_large(content: bytes, where: str) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            size = sum(part.file_size for part in archive.infolist())
    except Exception:
        raise InputError(where, "", "is no workbook", "an .xlsx file, or .csv text") from None
    if size > LARGEST_UNPACKED_bytes:
        raise InputError(where, "", f"unpacks to {size / 1e6:.0f} MB", f"at most {LARGEST_UNPACKED_bytes / 1e6:.0f} MB")


def _sheets(content: bytes, where: str) -> Sheets:
    from openpyxl import load_workbook

    kept = load_workbook(io.BytesIO(content), read_only=True, data_only=True)
    written = load_workbook(io.BytesIO(content), read_only=True, data_only=False)
    try:
        return {sheet.title: _rows(sheet, written[sheet.title], where) for sheet in kept.worksheets}
    finally:
        kept.close()
        written.close()


def _rows(kept: Any, written: Any, where: str) -> list[tuple[int, list[Cell]]]:
    for sheet in (kept, written):
        sheet.reset_dimensions()
    place = f"{where}, sheet {kept.title}"
    rows: list[tuple[int, list[Cell]]] = []
    pairs = zip(kept.iter_rows(), written.iter_rows(), strict=True)
    for number, (cells, sources) in enumerate(pairs, 1):
        values = [_value(cell, source, place) for cell, source in zip(cells, sources, strict=True)]
        while values and values[-1] in (None, ""):
            values.pop()
        if len(values) > MOST_COLUMNS:
            raise InputError(place, f"row {number}", f"has {len(values)} columns", f"at most {MOST_COLUMNS}")
        if not all(is_missing(value) for value in values):
            rows.append((number, values))
        if len(rows) > MOST_ROWS or number > LAST_ROW:
            raise InputError(place, "", f"has more than {MOST_ROWS:,} rows", "fewer rows")
    return rows


def _value(cell: Any, source: Any, where: str) -> Cell:
    value = cell.value
    if source.data_type == "f" and value is None:
        problem = f"is a formula whose value the file does not keep: {str(source.value)[:60]}"
        raise InputError(where, f"cell {cell.coordinate}", problem, "a value; or open and save it in the spreadsheet")
    if cell.data_type == "e":
        raise InputError(where, f"cell {cell.coordinate}", f"holds the error {value}", "a value, or nothing")
    if value is None or isinstance(value, str | bool | datetime | time | timedelta):
        return value
    if isinstance(value, date):
        return datetime(value.year, value.month, value.day)
    if not isinstance(value, int | float):
        raise InputError(where, f"cell {cell.coordinate}", f"is a {type(value).__name__}", "a number or a text")
    number = float(value)
    if "%" in _QUOTED.sub("", cell.number_format or ""):
        return f"{shown_cell(number * 100.0)} %"
    return number
