"""Readings of a unit in service, for a diagnosis: a CSV or XLSX file to means with their uncertainties.

One row, or several taken while nothing changed: the mean counts. Columns are those of acceptance.run.log.SteadyReadings
with their units, such as tank_temperature (degF), and for each, where it is known, its expanded uncertainty (k = 2):
tank_temperature uncertainty (degF). Where it is not stated, what is usual for such an instrument stands in.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from math import sqrt
from pathlib import Path
from typing import Final

from vaporwright.acceptance.run.log import CHANNEL_OF, Measured, SteadyReadings
from vaporwright.acceptance.steps.instruments import KINDS
from vaporwright.files.cell_table import CellTable, csv_table, read_cell_table
from vaporwright.files.cells import Cell, is_missing, shown_cell
from vaporwright.files.log_columns import Column, Scale, cell_number, columns_of, split_head, stem, values_below
from vaporwright.files.log_times import TIME_NAMES
from vaporwright.files.quantities import unit_line
from vaporwright.files.typed_reading import BARE_NUMBERS
from vaporwright.foundation.errors import InputError

UNCERTAINTY: Final = " uncertainty"
COVERAGE_FACTOR: Final = 2.0
_DIFFERENCE_OF: Final = {"temperature": "temperature difference", "absolute pressure": "pressure"}


@dataclass(frozen=True)
class ServiceColumn:
    """A quantity of a unit in service, and the kind of instrument that usually reads it."""

    name: str
    label: str
    quantity: str
    instrument: str  # kind, of instruments.KINDS; "" where nothing is usual and the uncertainty must be stated
    low: float
    high: float


def _of_channel(name: str, channel: str) -> ServiceColumn:
    known = CHANNEL_OF[channel]
    return ServiceColumn(name, known.label, known.quantity, known.instrument, known.low, known.high)


SERVICE_COLUMNS: Final = (
    ServiceColumn("evaporation_kg_s", "evaporation, drift taken off", "evaporation", "water meter", 0.0, 10.0),
    ServiceColumn("pressure_Pa", "barometer", "absolute pressure", "barometer", 6.0e4, 1.1e5),
    ServiceColumn("heat_drawn_W", "gross fuel input, electric power or heat of steam", "heat", "gas meter", 0.0, 5.0e7),
    ServiceColumn("set_point_K", "set point that the control shows", "temperature", "thermometer", 283.15, 373.15),
    ServiceColumn("drift_kg_s", "drift", "evaporation", "", 0.0, 1.0),
    *(_of_channel(field.name, field.name) for field in fields(SteadyReadings) if field.name in CHANNEL_OF),
)
_NEEDED: Final = tuple(field.name for field in fields(SteadyReadings) if field.default is not None)
_NEEDED_WORDS: Final = "columns " + ", ".join(stem(name) for name in _NEEDED) + ", each with its unit"


def read_service_readings(path: Path, *, sheet: str | None = None) -> SteadyReadings:
    """The means of the rows of a file.

    Raises: InputError naming file, row, column, value and what is allowed.
    """
    return _means(read_cell_table(path, _is_header, _NEEDED_WORDS, sheet=sheet))


def service_readings_of(content: bytes, where: str) -> SteadyReadings:
    """The same of the bytes of a CSV file."""
    return _means(csv_table(content, where, _is_header, _NEEDED_WORDS))


def _is_header(header: tuple[str, ...]) -> bool:
    names = {split_head(head)[0].casefold().replace(" ", "_") for head in header}
    known = {spelling.casefold() for column in SERVICE_COLUMNS for spelling in (column.name, stem(column.name))}
    return len(header) > 1 and bool(names & known)


def _means(table: CellTable) -> SteadyReadings:
    apart = {
        place
        for place, head in enumerate(table.header)
        if split_head(head)[0].casefold() in TIME_NAMES or split_head(head)[0].casefold().endswith(UNCERTAINTY)
    }
    found = columns_of(table, SERVICE_COLUMNS, apart)
    stated = _stated(table, found)
    measured: dict[str, Measured] = {}
    for place, (column, scale) in found.items():
        values = [value for value in values_below(table, place, column, scale, total=False) if value is not None]
        if values:
            mean = sum(values) / len(values)
            measured[column.name] = _measured(values, stated.get(column.name) or _usual(table, column, mean))
    for name in _NEEDED:
        if name not in measured:
            raise InputError(table.where, f"column {stem(name)}", "missing, or blank in every row", _NEEDED_WORDS)
    if measured["inlet_wet_bulb_K"].value > measured["inlet_air_temperature_K"].value:
        problem = "lies above the air's temperature"
        raise InputError(table.where, "column inlet_wet_bulb", problem, "at most the air's temperature")
    return SteadyReadings(**measured)


def _measured(values: list[float], standard_uncertainty: float) -> Measured:
    """Mean of the rows. What an instrument is off by does not average out; the scatter of the rows does.

    Equation: u^2 = u_instrument^2 + s^2/n (GUM 4.2.3 and 5.1.2).
    """
    mean = sum(values) / len(values)
    scatter = 0.0
    if len(values) > 1:
        scatter = sum((value - mean) ** 2 for value in values) / (len(values) - 1) / len(values)
    return Measured(mean, sqrt(standard_uncertainty**2 + scatter))


def _usual(table: CellTable, column: Column, mean: float) -> float:
    """Standard uncertainty usual for the instrument that reads such a quantity."""
    instrument = next(known.instrument for known in SERVICE_COLUMNS if known.name == column.name)
    if not instrument:
        problem = "has no usual uncertainty, and none is stated"
        key = f"column {stem(column.name)}"
        raise InputError(table.where, key, problem, f"a column {stem(column.name)}{UNCERTAINTY} (unit)")
    kind = KINDS[instrument]
    absolute = kind.usual_expanded if column.quantity == kind.quantity else 0.0
    return (absolute + kind.usual_expanded_relative * abs(mean)) / COVERAGE_FACTOR


def _stated(table: CellTable, found: Mapping[int, tuple[Column, Scale]]) -> dict[str, float]:
    """Standard uncertainties from the columns that state expanded ones, by quantity; the largest of the rows."""
    by_stem = {stem(column.name): column for column, _ in found.values()}
    stated: dict[str, float] = {}
    for place, head in enumerate(table.header):
        name, unit = split_head(head)
        if not name.casefold().endswith(UNCERTAINTY):
            continue
        of = name[: -len(UNCERTAINTY)].strip().casefold().replace(" ", "_")
        if of not in by_stem:
            raise InputError(table.where, f"column {head}", f'belongs to "{of}", which has no column', "its column too")
        column = by_stem[of]
        if not unit and column.quantity not in BARE_NUMBERS:
            raise InputError(table.where, f"column {head}", "states no unit", f"{name} (unit)")
        quantity = _DIFFERENCE_OF.get(column.quantity, column.quantity)
        per_unit, _ = unit_line(unit or "", quantity, where=table.where, key=f"column {head}")
        numbers = [
            _positive(table, row, place, cells[place], unit or "")
            for row, cells in table.rows
            if not is_missing(cells[place])
        ]
        if numbers:
            stated[column.name] = max(numbers) * per_unit / COVERAGE_FACTOR
    return stated


def _positive(table: CellTable, row: int, place: int, cell: Cell, unit: str) -> float:
    number = cell_number(table, row, place, cell, unit)
    if not number > 0.0:
        raise table.error(row, place, f'"{shown_cell(cell)}" is no uncertainty', "more than 0")
    return number
