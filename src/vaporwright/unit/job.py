"""The job as dataclasses: what the customer asks, his liquid, site and utilities, and what was assumed.

`build_job` turns a flat mapping of checked SI values (keys of unit.fields) into a `Job`, fills what is missing
with the stated defaults, and keeps a register of every assumption.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from vaporwright.foundation.errors import InputError, LiquidRefused, OutOfRange
from vaporwright.properties.moist_air import (
    humidity_ratio_from_wet_bulb_kg_kg,
    humidity_ratio_kg_kg,
    relative_humidity_from_humidity_ratio,
    standard_pressure_Pa,
    wet_bulb_temperature_K,
)
from vaporwright.unit.field import Field, Value
from vaporwright.unit.fields import FIELDS, FIELDS_BY_KEY

SEASONS = ("summer", "winter", "average")
SUMMER_WET_BULB = "site.summer.wet_bulb"
CHLORIDE, SOLIDS = "liquid.chloride", "liquid.dissolved_solids"
COOL_SUMMER_HUMIDITIES = (0.4, 0.6, 0.9)  # low, assumed, high where summer is too cool for the usual wet bulb
DAYS_PER_WEEK, HOURS_PER_DAY = 7.0, 24.0

REFUSALS = {
    "flammable": "flammable vapour above a heated open tank, with a burner or electric heat beside it, can explode",
    "cyanide": "cyanide can release deadly hydrogen cyanide when heated, acidified or aerated",
    "strong oxidiser": "a strong oxidiser concentrated hot can react with organics, plastics and packing violently",
    "volatile": "volatile content leaves with the exhaust air untreated, and its vapour can be toxic or flammable",
}


@dataclass(frozen=True)
class Assumption:
    """A value that nobody stated: what was taken instead, why, and between what it may lie."""

    key: str
    meaning: str
    quantity: str
    value: Value | None
    low: float | None
    high: float | None
    basis: str
    question: str


@dataclass(frozen=True)
class AirState:
    """Air of one season, as the blower draws it before any recirculation, and as the room has it."""

    season: str
    outdoor_temperature_K: float
    temperature_K: float
    humidity_ratio_kg_kg: float
    relative_humidity: float
    wet_bulb_temperature_K: float


@dataclass(frozen=True)
class Duty:
    """What must be evaporated while the unit runs."""

    calendar_volume_m3_s: float  # wastewater arriving, averaged over the whole calendar
    running_share: float  # of the calendar during which the unit evaporates
    evaporated_share: float  # of the wastewater; the rest is hauled as concentrate
    evaporation_m3_s: float  # water to evaporate while running
    hours_per_year: float


@dataclass(frozen=True)
class Job:
    """One enquiry, complete: given values and defaults alike, SI."""

    values: Mapping[str, Value]
    duty: Duty
    pressure_Pa: float
    air: Mapping[str, AirState]
    assumptions: tuple[Assumption, ...]

    def number(self, key: str) -> float:
        """A numeric value of the job file, given or assumed [SI]."""
        value = self.values[key]
        assert isinstance(value, float)
        return value

    def optional(self, key: str) -> float | None:
        """A numeric value that may be unknown [SI]."""
        return self.number(key) if key in self.values else None

    def text(self, key: str) -> str:
        """A text or choice of the job file."""
        value = self.values[key]
        assert isinstance(value, str)
        return value


def refuse_hazardous_liquid(values: Mapping[str, Value]) -> None:
    """Raise LiquidRefused if the liquid must not go into a heated open tank; comes before everything else."""
    stated = values.get("liquid.hazards", ())
    assert isinstance(stated, tuple)
    reasons = [f"{hazard}: {REFUSALS[hazard]}" for hazard in stated if hazard in REFUSALS]
    if reasons:
        raise LiquidRefused(
            "not sized: the liquid must not be put into a heated open tank. "
            + "; ".join(reasons)
            + ". Treat or separate it first, with a qualified chemist and the local authority."
        )


def build_job(given: Mapping[str, Value]) -> Job:
    """The job from checked values by key; refuses hazardous liquids, fills defaults, registers assumptions.

    Raises:
        LiquidRefused: the liquid is hazardous.
        InputError: two values contradict each other (wet bulb above dry bulb, season colder than air can be).
    """
    refuse_hazardous_liquid(given)
    values = dict(given)
    assumptions: list[Assumption] = []
    replaced = _replaced_keys(given)
    for field in FIELDS:
        if field.key in given or field.required or field.instead_of or field.key in replaced:
            continue
        if field.default is not None:
            values[field.key] = field.default
        if not _is_assumed(field, values):
            continue
        assumptions.append(_assumption(field, field.default))
    pressure = standard_pressure_Pa(_number(values, "site.elevation"))
    if "site.average.air_temperature" not in values:
        warm, cold = (
            _number(values, "site.summer.air_temperature"),
            _number(values, "site.winter.air_temperature"),
        )
        values["site.average.air_temperature"] = 0.5 * (warm + cold)
        assumptions = [
            _with_value(entry, 0.5 * (warm + cold), 0.5 * (warm + cold) - 4.0, 0.5 * (warm + cold) + 4.0)
            if entry.key == "site.average.air_temperature"
            else entry
            for entry in assumptions
        ]
    if SUMMER_WET_BULB in values and SUMMER_WET_BULB not in given:
        assumptions = _with_possible_wet_bulb(values, assumptions, pressure)
    assumptions = _with_possible_chloride(values, given, assumptions)
    air = {season: _air(season, values, pressure) for season in SEASONS}
    return Job(values, _duty(values), pressure, air, tuple(assumptions))


def _with_possible_wet_bulb(
    values: dict[str, Value], assumptions: list[Assumption], pressure_Pa: float
) -> list[Assumption]:
    """Lower the assumed summer wet bulb where the stated summer air is too cool for it."""
    air_K = _number(values, "site.summer.air_temperature")

    def wet_bulb_K(relative_humidity: float) -> float:
        humidity = humidity_ratio_kg_kg(air_K, relative_humidity, pressure_Pa)
        return wet_bulb_temperature_K(air_K, humidity, pressure_Pa)

    low_K, usual_K, high_K = (wet_bulb_K(relative_humidity) for relative_humidity in COOL_SUMMER_HUMIDITIES)
    if _number(values, SUMMER_WET_BULB) <= usual_K:
        return assumptions
    values[SUMMER_WET_BULB] = usual_K
    return [
        _with_value(entry, usual_K, low_K, high_K) if entry.key == SUMMER_WET_BULB else entry for entry in assumptions
    ]


def _is_assumed(field: Field, values: Mapping[str, Value]) -> bool:
    """Whether a missing key is an assumption: not where it is solved, nor where its kind of heat is not used."""
    if field.key.startswith(("unit.", "levels.")) or field.quantity == "text" or field.key == "job.report_units":
        return False
    kind = values.get("choices.heat_source", FIELDS_BY_KEY["choices.heat_source"].default)
    return not field.only_for or field.only_for == kind


def _with_possible_chloride(
    values: dict[str, Value], given: Mapping[str, Value], assumptions: list[Assumption]
) -> list[Assumption]:
    """Chloride is part of the dissolved solids: an assumed one gives way to a stated one, two stated ones must fit."""
    chloride, solids = _number(values, CHLORIDE), _number(values, SOLIDS)
    if chloride <= solids:
        return assumptions
    if CHLORIDE in given and SOLIDS in given:
        problem = f"{chloride * 1e3:.6g} mg/L is more than the dissolved solids of {solids * 1e3:.6g} mg/L that hold it"
        raise InputError("job", CHLORIDE, problem, f"at most {SOLIDS}")
    key, value = (SOLIDS, chloride) if CHLORIDE in given else (CHLORIDE, solids)
    values[key] = value
    return [
        _with_value(entry, value, min(entry.low or value, value), max(entry.high or value, value))
        if entry.key == key
        else entry
        for entry in assumptions
    ]


def _replaced_keys(given: Mapping[str, Value]) -> set[str]:
    """Keys that need no default because the alternative is given; both together contradict each other."""
    replaced = {field.instead_of for field in FIELDS if field.instead_of and field.key in given}
    for field in FIELDS:
        if field.instead_of in given and field.key in given:
            raise InputError("job", field.key, f"given together with {field.instead_of}", "one of the two")
    return replaced


def _assumption(field: Field, value: Value | None) -> Assumption:
    basis = field.derived or field.basis
    return Assumption(field.key, field.meaning, field.quantity, value, field.low, field.high, basis, field.question)


def _with_value(entry: Assumption, value: float, low: float, high: float) -> Assumption:
    return Assumption(entry.key, entry.meaning, entry.quantity, value, low, high, entry.basis, entry.question)


def _number(values: Mapping[str, Value], key: str) -> float:
    value = values[key]
    assert isinstance(value, float)
    return value


def _duty(values: Mapping[str, Value]) -> Duty:
    days = _number(values, "duty.days_per_week") / DAYS_PER_WEEK
    hours = _number(values, "duty.hours_per_day") / HOURS_PER_DAY
    running = days * hours * _number(values, "duty.availability")
    volume = _number(values, "duty.volume")
    evaporated = 1.0 - 1.0 / _number(values, "liquid.concentration_factor")
    return Duty(volume, running, evaporated, volume * evaporated / running, running * 8766.0)


def _degrees(temperature_K: float) -> str:
    celsius = temperature_K - 273.15
    return f"{1.8 * celsius + 32.0:.1f} degF ({celsius:.1f} degC)"


def _air(season: str, values: Mapping[str, Value], pressure_Pa: float) -> AirState:
    outdoor = _number(values, f"site.{season}.air_temperature")
    wet_bulb_key = f"site.{season}.wet_bulb"
    if wet_bulb_key in values:
        wet_bulb = _number(values, wet_bulb_key)
        if wet_bulb > outdoor:
            problem = f"{_degrees(wet_bulb)} is above the air temperature {_degrees(outdoor)}"
            raise InputError("job", wet_bulb_key, problem, "at most that")
        try:
            humidity = humidity_ratio_from_wet_bulb_kg_kg(outdoor, wet_bulb, pressure_Pa)
        except OutOfRange as error:
            problem = f"{_degrees(wet_bulb)} is below what dry air of {_degrees(outdoor)} has"
            driest = f"at least {_degrees(error.low)}" if error.low is not None else "nearer the air temperature"
            raise InputError("job", wet_bulb_key, problem, driest) from error
    else:
        relative = _number(values, f"site.{season}.relative_humidity")
        humidity = humidity_ratio_kg_kg(outdoor, relative, pressure_Pa)
    temperature = outdoor
    if values["site.air_supply"] == "room":
        # The blower changes the room's air every few minutes: the room keeps the moisture of the outdoor air.
        heated = _number(values, "site.room_winter_temperature")
        temperature = max(outdoor + _number(values, "site.room_above_outdoors"), heated)
    relative = relative_humidity_from_humidity_ratio(temperature, humidity, pressure_Pa)
    wet = wet_bulb_temperature_K(temperature, humidity, pressure_Pa)
    return AirState(season, outdoor, temperature, humidity, relative, wet)
