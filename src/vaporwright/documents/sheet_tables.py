"""The tables of the sizing sheet as printed text: capacity, utilities, questions, assumptions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

from vaporwright.display_units import rounded, show, shown_unit, to_shown
from vaporwright.documents.wording import limiter, percent
from vaporwright.equipment.electric_heater import ElectricHeaterRating
from vaporwright.equipment.gas_burner import GasBurnerRating
from vaporwright.equipment.steam_coil import SteamCoilRating
from vaporwright.properties.moist_air import relative_humidity_from_humidity_ratio
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.assembly import WATER_DENSITY_kg_m3
from vaporwright.unit.balance import SeasonResult
from vaporwright.unit.catalogue import GasBurnerPart
from vaporwright.unit.field import COMMON, Value
from vaporwright.unit.job import SEASONS, Assumption
from vaporwright.unit.questions import Question
from vaporwright.unit.running_cost import running_cost

Table: TypeAlias = dict[str, list[str] | list[list[str]]]
SAFETY_KEY = "liquid.hazards"


@dataclass(frozen=True)
class _Row:
    """One row of the utilities: a quantity over the seasons."""

    name: str
    quantity: str
    values: tuple[float, ...]


def capacity_table(answer: UnitAnswer, system: str) -> Table:
    """Settling temperature first, then rate, tower and surface apart, what limits, margin against the duty."""
    rows = [_capacity_row(season, answer.seasons[season], answer, system) for season in SEASONS]
    rows.append(_capacity_row(f"{answer.governing}, end of batch", answer.end_of_batch, answer, system))
    return {
        "columns": [
            "",
            "Tank settles at",
            "Evaporates",
            "by the tower",
            "by the surface",
            "Limited by",
            "Against the duty",
            "Air at the blower, wet bulb",
        ],
        "rows": rows,
    }


def _capacity_row(name: str, result: SeasonResult, answer: UnitAnswer, system: str) -> list[str]:
    operation = result.operation
    air = result.conditions.air
    return [
        name,
        show(result.settling_temperature_K, "temperature", system),
        show(operation.evaporation_kg_s, "evaporation", system),
        show(operation.tower_evaporation_kg_s, "evaporation", system),
        show(operation.surface_evaporation_kg_s, "evaporation", system),
        limiter(result).removeprefix("the "),
        _margin(result.evaporation_kg_s / answer.required_kg_s - 1.0),
        f"{show(air.temperature_K, 'temperature', system)}, {show(air.wet_bulb_temperature_K, 'temperature', system)}",
    ]


def _margin(margin: float) -> str:
    return f"{percent(margin)} over" if margin >= 0.0 else f"{percent(-margin)} short"


def utilities_table(answer: UnitAnswer, system: str) -> Table:
    """What the unit draws and sends out, heat full on, in each season; unit beside each name."""
    results = [answer.seasons[season] for season in SEASONS]
    rows = [*_heat_rows(results), *_air_rows(answer, results), *_cost_rows(answer, results)]
    printed = [
        [row.name, shown_unit(row.quantity, system).text, *(_number(value, row, system) for value in row.values)]
        for row in rows
    ]
    printed.append(["Exhaust humidity", "", *(_exhaust_humidity(result) for result in results)])
    return {"columns": ["", "", *SEASONS], "rows": printed}


def _number(value: float, row: _Row, system: str) -> str:
    shown = to_shown(value, row.quantity, system)
    if row.quantity == "temperature":
        return f"{shown:.{0 if abs(shown) >= 100.0 else 1}f}"
    return rounded(shown)


def _heat_rows(results: Sequence[SeasonResult]) -> list[_Row]:
    loads = tuple(result.load for result in results)
    heat_per_volume = tuple(_per_volume(result.heat_W, result) for result in results)
    drawn_per_volume = tuple(_per_volume(result.fuel_or_power_W, result) for result in results)
    full = tuple(result.heat.drawn_W for result in results)
    details = [result.heat.detail for result in results]
    gas = [detail for detail in details if isinstance(detail, GasBurnerRating)]
    steam = [detail for detail in details if isinstance(detail, SteamCoilRating)]
    rows = []
    if gas:
        rows += [
            _Row("Gas, gross", "heat", full),
            _Row("Gas, standard volume", "gas flow", tuple(detail.fuel_flow_standard_m3_s for detail in gas)),
            _Row("Heat into the tank, of gross", "fraction", tuple(result.heat.efficiency for result in results)),
            _Row("Flue gas leaving the tube", "temperature", tuple(detail.stack_temperature_K for detail in gas)),
        ]
    elif steam:
        rows += [
            _Row("Steam", "mass flow", tuple(detail.steam_flow_kg_s for detail in steam)),
            _Row("Heat into the tank", "heat", full),
        ]
    else:
        rows.append(_Row("Electric heat", "power", full))
    if min(loads) < 0.995:
        rows.append(_Row("Mean load of the heat source", "fraction", loads))
    rows.append(_Row("Heat per volume evaporated", "heat per volume", heat_per_volume))
    if gas:
        rows.append(_Row("Gross fuel per volume", "heat per volume", drawn_per_volume))
    return rows


def _per_volume(power_W: float, result: SeasonResult) -> float:
    return power_W * WATER_DENSITY_kg_m3 / result.evaporation_kg_s


def _air_rows(answer: UnitAnswer, results: Sequence[SeasonResult]) -> list[_Row]:
    towers = [result.operation.tower for result in results]
    return [
        _Row("Blower power", "power", tuple(result.blower_power_W for result in results)),
        _Row("Pump power", "power", tuple(result.pump_power_W for result in results)),
        _Row("Air to the blower", "air flow", tuple(answer.unit.towers * tower.blower_flow_m3_s for tower in towers)),
        _Row("Exhaust air", "temperature", tuple(tower.rating.air_out_temperature_K for tower in towers)),
    ]


def _cost_rows(answer: UnitAnswer, results: Sequence[SeasonResult]) -> list[_Row]:
    costs = [cost for result in results if (cost := running_cost(answer, result)) is not None]
    if len(costs) < len(results):
        return []
    return [_Row("Energy cost of evaporation", "volume price", tuple(cost.per_volume_USD_m3 for cost in costs))]


def _exhaust_humidity(result: SeasonResult) -> str:
    rating = result.operation.tower.rating
    if rating.air_leaves_misty:
        return "mist"
    relative = relative_humidity_from_humidity_ratio(
        rating.air_out_temperature_K, rating.air_out_humidity_ratio_kg_kg, result.conditions.pressure_Pa
    )
    return percent(relative)


def utility_notes(answer: UnitAnswer, system: str) -> list[str]:
    """What the heat source needs beside the table."""
    result = answer.seasons[answer.governing]
    detail, part = result.heat.detail, answer.unit.heat_source
    site = result.conditions.heat_site
    notes = []
    if isinstance(detail, GasBurnerRating) and isinstance(part, GasBurnerPart):
        notes.append(f"Fuel: {site.fuel}.")
        if result.heat.drawn_W < 0.9995 * part.gross_input_W:
            share = show(result.heat.drawn_W / part.gross_input_W, "fraction", system)
            notes.append(f"The burner is derated to {share} of its input for altitude.")
    elif isinstance(detail, ElectricHeaterRating):
        count = f"{detail.circuits} circuits" if detail.circuits > 1 else "one circuit"
        notes.append(
            f"{show(site.supply_voltage_V, 'voltage', system)}, {rounded(detail.line_current_A)} A a line, in {count} "
            f"of {rounded(detail.circuit_current_A)} A; branch rating {rounded(detail.circuit_branch_rating_A)} A each "
            f"(125 %), overcurrent device {rounded(detail.overcurrent_device_A)} A."
        )
    elif isinstance(detail, SteamCoilRating):
        pressure = show(site.steam_gauge_pressure_Pa, "gauge pressure", system)
        notes.append(f"Steam at {pressure} at the coil; as much condensate leaves, not returned to the boiler.")
    return notes


def ranked_questions(questions: Sequence[Question], most: int, system: str) -> list[dict[str, str]]:
    """The questions that move most; the safety question is always among those printed."""
    safety = [question for question in questions if question.key == SAFETY_KEY]
    others = [question for question in questions if question.key != SAFETY_KEY]
    return [_question(question, system) for question in [*others[: most - len(safety)], *safety]]


def _question(question: Question, system: str) -> dict[str, str]:
    if question.moves_kg_s == 0.0:
        moves = f"{question.moves[0].upper()}{question.moves[1:]}."
    else:
        moves = f"Moves the {question.moves} by {show(question.moves_kg_s, 'evaporation', system)}."
    assumed = f"assumed {value_text(question.assumed, question.quantity, system)}"
    if question.low is not None and question.high is not None:
        low, high = (value_text(value, question.quantity, system) for value in (question.low, question.high))
        assumed += f"; {low} or {high}" if isinstance(question.low, str) else f"; from {low} to {high}"
    return {"text": question.text, "assumed": assumed, "moves": moves}


def value_text(value: Value | None, quantity: str, system: str) -> str:
    """A job value as people read it."""
    if value is None:
        return "not given"
    if isinstance(value, tuple):
        return ", ".join(value) or "none stated"
    return value if isinstance(value, str) else show(value, quantity, system)


def ranked_assumptions(answer: UnitAnswer, questions: Sequence[Question], system: str) -> list[dict[str, str]]:
    """The register: what moves the answer first, what is not given last."""
    moves = {question.key: question.moves_kg_s for question in questions}
    ordered = sorted(answer.job.assumptions, key=lambda entry: (entry.value is None, -moves.get(entry.key, -1.0)))
    return [
        {
            "meaning": _meaning(entry),
            "value": value_text(entry.value, entry.quantity, system),
            "basis": "" if entry.basis == COMMON else entry.basis,
        }
        for entry in ordered
    ]


def _meaning(entry: Assumption) -> str:
    """Out of the job file's order, "that air" needs its season."""
    season = entry.key.split(".")[1] if entry.key.startswith("site.") and entry.key.count(".") == 2 else ""
    return entry.meaning.replace("that air", f"{season} air") if season else entry.meaning
