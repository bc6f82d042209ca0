"""A table of cells from a CSV or XLSX file, each with its row and column as the file's own reader sees them.

Nothing is guessed: the separator is the one that yields the columns that must be there, and a comma is a decimal comma
only where the file's own numbers leave no other reading.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final, TypeAlias

from vaporwright.files.cells import MOST_COLUMNS, MOST_ROWS, Cell, is_missing, shown_cell
from vaporwright.foundation.errors import InputError

LARGEST_FILE_bytes: Final = 40_000_000
SEPARATORS: Final = {",": "comma", ";": "semicolon", "\t": "tab"}
# A number, with or without a unit behind it.
_WITH_COMMA = re.compile(r"[+-]?(\d*),(\d+)(?:\s*[^\d\s.,].*)?")
_WITH_POINT = re.compile(r"[+-]?[\d,]*\.\d+(?:\s*[^\d\s.,].*)?")
_THOUSANDS_DIGITS: Final = 3

Recognised: TypeAlias = Callable[[tuple[str, ...]], bool]  # whether a header has the columns that must be there
Records: TypeAlias = list[tuple[int, list[Cell]]]  # rows with their numbers in the file, blank ones left out


@dataclass(frozen=True)
class CellTable:
    """Header and rows; every row is as long as the header."""

    where: str  # file, and sheet where it has sheets
    header: tuple[str, ...]
    rows: tuple[tuple[int, tuple[Cell, ...]], ...]  # with the number of the row in the file
    decimal_comma: bool = False

    def place(self, name: str) -> int | None:
        """Place of a column by its name, in upper or lower case."""
        names = [head.casefold() for head in self.header]
        return names.index(name.casefold()) if name.casefold() in names else None

    def number_text(self, cell: Cell) -> str:
        """A cell as text, with a decimal point."""
        text = shown_cell(cell)
        return text.replace(",", ".", 1) if self.decimal_comma and _WITH_COMMA.fullmatch(text) else text

    def error(self, row: int, place: int, problem: str, allowed: str = "") -> InputError:
        """The error of a cell."""
        return InputError(self.where, f"row {row}, column {self.header[place]}", problem, allowed)


def read_cell_table(path: Path, recognised: Recognised, needed: str, *, sheet: str | None = None) -> CellTable:
    """The table of a file.

    Args:
        recognised: whether a header has the columns that must be there.
        needed: these columns in words, for messages.
        sheet: name of the sheet; None: the only one whose header is recognised.
    Raises: InputError naming file, row and column.
    """
    content = _content(path)
    suffix = path.suffix.casefold()
    if suffix in (".xlsx", ".xlsm"):
        from vaporwright.files.workbook_cells import read_workbook

        sheets = read_workbook(content, str(path))
        if sheet is not None and sheet not in sheets:
            raise InputError(str(path), "", f'has no sheet "{sheet}"', ", ".join(sheets))
        return _sheet_table(sheets if sheet is None else {sheet: sheets[sheet]}, str(path), recognised, needed)
    if suffix not in (".csv", ".txt", ".tsv"):
        raise InputError(str(path), "", f'"{path.suffix}" is no kind of file that is read here', ".csv or .xlsx")
    if sheet is not None:
        raise InputError(str(path), "", "is a text file and has no sheets", "no sheet")
    return csv_table(content, str(path), recognised, needed)


def csv_table(content: bytes, where: str, recognised: Recognised, needed: str) -> CellTable:
    """The table of the bytes of a CSV file; `where` stands for it in messages."""
    text = _text(content, where)
    found = []
    for separator in SEPARATORS:
        records, fault = _records(text, separator, where)
        if _has_header(records, recognised):
            found.append((separator, records, fault))
    if not found:
        raise InputError(where, "first row", "does not have the columns that must be there", needed)
    if len(found) > 1:
        names = " and by ".join(SEPARATORS[separator] for separator, _, _ in found)
        raise InputError(where, "first row", f"can be parted by {names}", "one kind of separator")
    _, records, fault = found[0]
    if fault is not None:
        raise fault
    return _table(where, records)


def _content(path: Path) -> bytes:
    where = str(path)
    try:
        if path.is_dir():
            raise InputError(where, "", "is a folder", "a .csv or .xlsx file")
        if path.stat().st_size > LARGEST_FILE_bytes:
            raise InputError(where, "", "is too large for readings", f"at most {LARGEST_FILE_bytes // 1_000_000} MB")
        return path.read_bytes()
    except FileNotFoundError:
        raise InputError(where, "", "no such file") from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else "not a usable path"
        raise InputError(where, "", f"cannot be read ({reason})") from None


def _text(content: bytes, where: str) -> str:
    allowed = "a CSV text file saved as UTF-8"
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise InputError(where, "", "is UTF-16 text", allowed)
    if content[:4] == b"PK\x03\x04":
        raise InputError(where, "", "is a workbook or an archive, not text", "a workbook's name ends in .xlsx")
    if b"\0" in content:
        raise InputError(where, "", "is a binary file", allowed)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise InputError(where, f"row {line}", "is not UTF-8 text", allowed) from None
    if not text.strip():
        raise InputError(where, "", "is empty", "a header and at least one row")
    return text


def _records(text: str, separator: str, where: str) -> tuple[Records, InputError | None]:
    """Records with the line on which each begins, without comments before the header; and what ended them early."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    records: Records = []
    line = 1
    try:
        for record in reader:
            is_comment = not records and bool(record) and record[0].lstrip().startswith("#")
            if not is_comment and any(cell.strip() for cell in record):
                records.append((line, list(record)))
            line = reader.line_num + 1
            if len(records) > MOST_ROWS:
                return records, InputError(where, "", f"has more than {MOST_ROWS:,} rows", "fewer rows")
    except csv.Error as error:
        return records, InputError(where, f"row {line}", f"cannot be read: {error}", "quotes around a whole cell")
    return records, None


def _has_header(records: Records, recognised: Recognised) -> bool:
    return bool(records) and recognised(tuple(shown_cell(cell).strip() for cell in records[0][1]))


def _sheet_table(sheets: dict[str, Records], path: str, recognised: Recognised, needed: str) -> CellTable:
    found = [name for name, records in sheets.items() if _has_header(records, recognised)]
    if not found:
        problem = "has no sheet whose first row has the columns that must be there"
        raise InputError(path, ", ".join(sheets), problem, needed)
    if len(found) > 1:
        raise InputError(path, ", ".join(found), "each look like readings", "the name of one sheet")
    records = sheets[found[0]]
    width = max(len(cells) for _, cells in records)
    return _table(f"{path}, sheet {found[0]}", [(row, cells + [None] * (width - len(cells))) for row, cells in records])


def _table(where: str, records: Records) -> CellTable:
    """Header and rows of equal length."""
    header_row, first = records[0]
    header = _header(where, header_row, first)
    rows = tuple((row, _row(where, row, cells, header)) for row, cells in records[1:])
    if not rows:
        raise InputError(where, "", "has no row under its header", "at least one row")
    return _with_decimal_sign(CellTable(where, header, rows))


def _header(where: str, row: int, cells: Iterable[Cell]) -> tuple[str, ...]:
    header = [shown_cell(cell).strip() for cell in cells]
    while header and not header[-1]:
        header.pop()
    if len(header) > MOST_COLUMNS:
        raise InputError(where, f"row {row}", f"has {len(header)} columns", f"at most {MOST_COLUMNS}")
    seen: set[str] = set()
    for head in header:
        if head and head.casefold() in seen:
            raise InputError(where, f"row {row}", f'names the column "{head}" twice', "each column once")
        seen.add(head.casefold())
    return tuple(header)


def _row(where: str, row: int, cells: list[Cell], header: tuple[str, ...]) -> tuple[Cell, ...]:
    kept = [cell.strip() if isinstance(cell, str) else cell for cell in cells]
    too_many = any(not is_missing(cell) for cell in kept[len(header) :])
    if too_many or len(kept) < len(header):
        problem = f"has {len(kept)} cells under {len(header)} columns"
        raise InputError(where, f"row {row}", problem, "a cell, empty or not, under every column and no more")
    kept = kept[: len(header)]
    for head, cell in zip(header, kept, strict=True):
        if not head and not is_missing(cell):
            raise InputError(where, f"row {row}", f'"{shown_cell(cell)[:40]}" stands in a column without a name')
    return tuple(kept)


def _with_decimal_sign(table: CellTable) -> CellTable:
    """The table, with the decimal comma noted where its numbers leave no other reading.

    A comma is a decimal one beyond doubt where other than three digits follow it, or no thousands stand before it.
    Where every comma may part thousands nothing is decided, and the reading of such a cell is refused.
    Raises: InputError where decimal commas and points are mixed.
    """
    if not any(_sure_comma(cell) for _, _, cell in _texts(table)):
        return table
    for row, place, cell in _texts(table):
        if _WITH_POINT.fullmatch(cell):
            problem = f'"{cell}" has a decimal point where other numbers have a decimal comma'
            raise table.error(row, place, problem, "one decimal sign throughout, and nothing between thousands")
    return replace(table, decimal_comma=True)


def _sure_comma(cell: str) -> bool:
    found = _WITH_COMMA.fullmatch(cell)
    if found is None:
        return False
    before, after = found.groups()
    return len(after) != _THOUSANDS_DIGITS or not 1 <= len(before) <= _THOUSANDS_DIGITS or before.startswith("0")


def _texts(table: CellTable) -> Iterator[tuple[int, int, str]]:
    for row, cells in table.rows:
        for place, cell in enumerate(cells):
            if isinstance(cell, str):
                yield row, place, cell
