"""Columns of a log: what a header such as "tank_temperature (degF)" names, and the values below it in SI.

A column has one unit, in its header; a name of the program's own, such as tank_temperature_K, says it itself. Every
cell is a plain number, or blank where nothing was read.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final, Protocol

from vaporwright.display_units import rounded
from vaporwright.files.cell_table import CellTable
from vaporwright.files.cells import Cell, is_missing, is_time, shown_cell
from vaporwright.files.quantities import EXAMPLES, allowed_examples, unit_line
from vaporwright.files.values import unknown_key
from vaporwright.foundation.errors import InputError

REMARKS: Final = frozenset(("note", "notes", "remark", "remarks"))  # columns that are not read
_HEAD = re.compile(r"([^()]*?)\s*(?:\((.*)\))?\s*")
_SUFFIX = re.compile(r"_(?:kg_s|m3_s|kg_m3|m3|kg|K|Pa|J|W|V|m)$")
_PLAIN_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?")
_ROUNDING: Final = 1e-8  # of a limit: 32 degF is 273.15 K within rounding, and so is what was printed to nine digits


class Column(Protocol):
    """What is known of a quantity that a column may hold; acceptance.run.log.Channel is one."""

    @property
    def name(self) -> str: ...
    @property
    def label(self) -> str: ...
    @property
    def quantity(self) -> str: ...
    @property
    def low(self) -> float: ...
    @property
    def high(self) -> float: ...


@dataclass(frozen=True)
class Scale:
    """The unit of a column: SI value = number * per_unit + at_zero."""

    unit: str
    per_unit: float
    at_zero: float

    def shown(self, value_si: float) -> str:
        """An SI value in the column's unit, for messages."""
        digits = rounded((value_si - self.at_zero) / self.per_unit, 6)
        return f"{digits.rstrip('0').rstrip('.') if '.' in digits else digits} {self.unit}".rstrip()


def stem(name: str) -> str:
    """A name without the suffix of its SI unit, as people write it."""
    return _SUFFIX.sub("", name)


def split_head(head: str) -> tuple[str, str | None]:
    """Name and unit of a header; None where it states no unit."""
    found = _HEAD.fullmatch(head)
    if found is None:
        return head.strip(), None
    return found[1].strip(), None if found[2] is None else found[2].strip()


def column_of(head: str, columns: Iterable[Column], where: str) -> tuple[Column, Scale]:
    """The quantity that a header names, and its unit.

    Raises: InputError for an unknown name, a missing unit, or one that does not fit.
    """
    name, unit = split_head(head)
    by_stem = {stem(column.name): column for column in columns}
    own = {column.name: column for column in by_stem.values()}
    key = f"column {head}"
    if name in own and own[name].name != stem(name):
        if unit is not None:
            raise InputError(where, key, "has the SI unit in its name and another behind it", f"{stem(name)} ({unit})")
        return own[name], Scale("SI", 1.0, 0.0)
    plain = name.casefold().replace(" ", "_")
    if plain not in by_stem:
        near = unknown_key(where, plain, by_stem)
        problem = near.problem.replace("unknown key", "is unknown").replace("nearest valid key", "nearest")
        raise InputError(where, key, problem, near.allowed or "a known name, or a column called note")
    column = by_stem[plain]
    if not unit:
        example = EXAMPLES[column.quantity][0].split(" ", 1)[-1]
        raise InputError(where, key, "states no unit", f"{plain} ({example}): {allowed_examples(column.quantity)}")
    return column, Scale(unit, *unit_line(unit, column.quantity, where=where, key=key))


def cell_number(table: CellTable, row: int, place: int, cell: Cell, unit: str) -> float:
    """The number of a cell; it may repeat the unit of its column. Raises InputError for anything else."""
    allowed = "a plain number, or nothing where nothing was read"
    if is_time(cell):
        problem = f'"{shown_cell(cell)}" is a day or a time; a spreadsheet makes one of a text such as 1/8'
        raise table.error(row, place, problem, allowed)
    text = table.number_text(cell).replace("\u2212", "-")
    if unit and text.endswith(unit):
        text = text.removesuffix(unit).rstrip()
    if isinstance(cell, bool) or not _PLAIN_NUMBER.fullmatch(text) or len(text) > 40:
        raise table.error(row, place, f'"{shown_cell(cell)[:40]}" is no number', allowed)
    return float(text)


def values_below(table: CellTable, place: int, column: Column, scale: Scale, *, total: bool) -> list[float | None]:
    """SI values of a column; None where nothing was read.

    Raises: InputError naming row, column and value for what is no number, implausible, or a total that falls.
    """
    values: list[float | None] = []
    latest: tuple[int, float] | None = None
    for row, cells in table.rows:
        cell = cells[place]
        if is_missing(cell):
            values.append(None)
            continue
        number = cell_number(table, row, place, cell, scale.unit)
        value = _within_rounding(number * scale.per_unit + scale.at_zero, column)
        shown = f'"{shown_cell(cell)}"'
        if not column.low <= value <= column.high:
            allowed = f"{scale.shown(column.low)} to {scale.shown(column.high)}: {column.label}"
            raise table.error(row, place, f"{shown} cannot be", allowed)
        if total and latest is not None and value < latest[1]:
            problem = f"{shown} comes after {scale.shown(latest[1])} in row {latest[0]}"
            raise table.error(row, place, problem, "a total that never falls")
        latest = (row, value)
        values.append(value)
    return values


def _within_rounding(value: float, column: Column) -> float:
    """The value, or the limit from which only the rounding of a conversion parts it."""
    for limit in (column.low, column.high):
        if abs(value - limit) <= _ROUNDING * abs(limit):
            return limit
    return value


def columns_of(table: CellTable, columns: Iterable[Column], skip: Iterable[int]) -> Mapping[int, tuple[Column, Scale]]:
    """Quantity and unit of every column, by its place; remarks and columns without a name left out."""
    columns = tuple(columns)
    found: dict[int, tuple[Column, Scale]] = {}
    for place, head in enumerate(table.header):
        if place in skip or not head or head.casefold() in REMARKS:
            continue
        column, scale = column_of(head, columns, table.where)
        for other, (same, _) in found.items():
            if same.name == column.name:
                raise InputError(table.where, f"column {head}", f'is read twice: also "{table.header[other]}"', "once")
        found[place] = (column, scale)
    return found
