"""Why does it fall short: causes ranked by how likely they make the readings, and what to read next.

First split, from the trade: a tank colder than predicted is short of heat, a hotter one is short of tower. Then each
cause of `causes` is put into the model at several severities s, the model says what every instrument would read, and
Bayes' rule weighs them:

    P(cause | readings) ~ P(cause) x sum over s of P(s) x exp(-1/2 sum over i of ((read_i - model_i(s)) / u_i)^2)

with u_i the reading's standard uncertainty and the model's own spread together, and `nothing is wrong` among the
causes. One cause at a time: where none of them makes the readings, that is said, and more than one may be at work.

The reading to take next is the one that tells the two likeliest causes furthest apart, in its own uncertainties.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

from vaporwright.acceptance.diagnosis.causes import Case, Cause, causes_for, predicted_readings
from vaporwright.acceptance.run.log import Measured, SteadyReadings
from vaporwright.foundation.errors import InputError, VaporwrightError
from vaporwright.foundation.notice import Notice
from vaporwright.foundation.register import sourced
from vaporwright.properties.moist_air import (
    humidity_ratio_from_wet_bulb_kg_kg,
    relative_humidity_from_humidity_ratio,
)
from vaporwright.unit.assembly import AssembledUnit
from vaporwright.unit.balance import Conditions, in_air
from vaporwright.unit.job import AirState

NOTHING: Final = "nothing"
NOTHING_WEIGHT: Final = (0.25, 0.10)  # that nothing is wrong, before anything is read: new, in service
SPLIT_AT: Final = 2.0  # standard deviations from which a tank counts as colder or hotter than predicted
TELLS_AT: Final = 1.0  # standard uncertainties of the difference from which a reading is worth taking
STEPS_BETWEEN: Final = 6  # two severities of a cause
UNEXPLAINED_AT: Final = 0.01  # probability of so bad a fit by chance


@dataclass(frozen=True)
class ReadingKind:
    """One reading that a diagnosis can use: the model's own spread, and what a careful reading costs in uncertainty."""

    name: str
    label: str
    quantity: str
    model_share: float  # standard, of the value
    model_absolute: float  # standard, SI
    reading_share: float  # standard uncertainty of a reading yet to be taken
    reading_absolute: float


# Spreads of the model: common practice, no source; those of readings are half the expanded ones of the trade's table.
KINDS: Final = (
    ReadingKind("evaporation_kg_s", "evaporation", "evaporation", 0.02, 0.0, 0.02, 0.0),
    ReadingKind("tank_temperature_K", "tank temperature", "temperature", 0.0, 1.0, 0.0, 0.14),
    ReadingKind("return_temperature_K", "temperature of the return", "temperature", 0.0, 1.0, 0.0, 0.14),
    ReadingKind("spray_flow_m3_s", "spray flow", "liquid flow", 0.03, 0.0, 0.015, 0.0),
    ReadingKind("air_flow_m3_s", "air flow at the blower's inlet", "air flow", 0.03, 0.0, 0.035, 0.0),
    ReadingKind("exhaust_temperature_K", "exhaust temperature", "temperature", 0.0, 1.0, 0.0, 0.28),
    ReadingKind("exhaust_wet_bulb_K", "wet bulb of the exhaust", "temperature", 0.0, 0.8, 0.0, 0.28),
    ReadingKind("heat_drawn_W", "fuel or power drawn", "heat", 0.02, 0.0, 0.0075, 0.0),
    ReadingKind("stack_temperature_K", "stack temperature", "temperature", 0.0, 12.0, 0.0, 1.4),
    ReadingKind("set_point_K", "set point that the control shows", "temperature", 0.0, 0.5, 0.0, 0.14),
    ReadingKind("air_in_wet_bulb_K", "wet bulb inside the blower's inlet", "temperature", 0.0, 0.3, 0.0, 0.28),
)
READ: Final = tuple(kind for kind in KINDS if kind.name != "air_in_wet_bulb_K")


@dataclass(frozen=True)
class Suspect:
    """A cause, how likely it is, and how bad it would have to be."""

    cause: Cause | None  # None: nothing is wrong
    probability: float
    severity: float | None  # the likeliest of those tried
    misfit: float  # sum of squared deviations at that severity
    predicted: Mapping[str, float]  # what the instruments would read then

    @property
    def key(self) -> str:
        """Its name for machines."""
        return NOTHING if self.cause is None else self.cause.key

    @property
    def title(self) -> str:
        """Its name for people."""
        return "nothing is wrong: the readings fit the unit as designed" if self.cause is None else self.cause.title


@dataclass(frozen=True)
class NextReading:
    """The reading that tells the two likeliest apart, and what each would make it read."""

    kind: ReadingKind
    first: float
    second: float
    apart: float  # in standard uncertainties of the difference


@dataclass(frozen=True)
class Diagnosis:
    """What the readings say."""

    side: str  # "heat short", "tower short" or "as predicted"
    tank_difference_K: float  # read over predicted
    tank_deviations: float  # the same in standard deviations
    evaporation_share: float  # read over predicted
    suspects: tuple[Suspect, ...]  # likeliest first
    next_reading: NextReading | None
    explained: bool  # whether any one cause makes these readings
    predicted: Mapping[str, float]  # by the unit as designed, under the conditions read
    used: tuple[str, ...]  # readings that were weighed

    @property
    def split(self) -> Notice:
        """The first split as a sentence."""
        figures = ((abs(self.tank_difference_K), "temperature difference"), (self.evaporation_share, "fraction"))
        words = {
            "heat short": "The tank is {0} colder than predicted: look at the heat first. Evaporation is {1} of the"
            " prediction.",
            "tower short": "The tank is {0} hotter than predicted: look at the tower first, its air, spray and fill."
            " Evaporation is {1} of the prediction.",
            "as predicted": "The tank stands within {0} of the prediction. Evaporation is {1} of it.",
        }
        return Notice("first split", words[self.side], figures)


@sourced("diagnosis-practice", "first split by tank temperature; causes weighed by Bayes' rule under the unit's model")
def diagnose(
    readings: SteadyReadings, unit: AssembledUnit, conditions: Conditions, *, in_service: bool = False
) -> Diagnosis:
    """Rank the causes by the readings.

    Args:
        readings: means of a steady hour or more.
        conditions: of the job or the day; air, pressure and feed are taken from the readings instead.
        in_service: weigh causes as for a unit that has run for years.
    Raises: InputError for a reading that is no number, OutOfRange where the unit's model does not cover the conditions
        read.
    """
    design = Case(unit, _as_read(readings, conditions))
    read = _read(readings)
    predicted = predicted_readings(design)
    suspects = _weighed(design, read, predicted, in_service)
    tank = read["tank_temperature_K"]
    difference_K = tank.value - predicted["tank_temperature_K"]
    deviations = difference_K / _spread(_KIND_OF["tank_temperature_K"], tank, predicted["tank_temperature_K"])
    side = "as predicted"
    if abs(deviations) >= SPLIT_AT:
        side = "heat short" if difference_K < 0.0 else "tower short"
    free = len(read) - 1
    least = min(suspect.misfit for suspect in suspects)
    return Diagnosis(
        side=side,
        tank_difference_K=difference_K,
        tank_deviations=deviations,
        evaporation_share=readings.evaporation_kg_s.value / predicted["evaporation_kg_s"],
        suspects=tuple(suspects),
        next_reading=_next_reading(suspects, read),
        explained=_by_chance(least, free) >= UNEXPLAINED_AT,
        predicted=predicted,
        used=tuple(read),
    )


_KIND_OF: Final = {kind.name: kind for kind in KINDS}


def _as_read(readings: SteadyReadings, conditions: Conditions) -> Conditions:
    """The conditions with the air, pressure and feed that were read."""
    air_K, wet_K = readings.inlet_air_temperature_K.value, readings.inlet_wet_bulb_K.value
    pressure_Pa = readings.pressure_Pa.value
    humidity = humidity_ratio_from_wet_bulb_kg_kg(air_K, wet_K, pressure_Pa)
    relative = relative_humidity_from_humidity_ratio(air_K, humidity, pressure_Pa)
    air = AirState(conditions.air.season, air_K, air_K, humidity, relative, wet_K)
    return in_air(conditions, air, pressure_Pa, readings.feed_temperature_K.value)


def _read(readings: SteadyReadings) -> dict[str, Measured]:
    """What was read of what the model can predict; each value finite, each uncertainty above zero."""
    found: dict[str, Measured] = {}
    for kind in READ:
        measured = getattr(readings, kind.name)
        if measured is None:
            continue
        if not (math.isfinite(measured.value) and 0.0 < measured.standard_uncertainty < math.inf):
            problem = f"{measured.value} with standard uncertainty {measured.standard_uncertainty}"
            raise InputError("readings", kind.name, problem, "a finite value and an uncertainty above zero")
        found[kind.name] = measured
    return found


def _spread(kind: ReadingKind, read: Measured, predicted: float) -> float:
    return math.hypot(read.standard_uncertainty, kind.model_absolute, kind.model_share * predicted)


def _misfit(read: Mapping[str, Measured], predicted: Mapping[str, float]) -> float:
    """Sum of squared deviations; readings that this unit's model does not have are left out of both."""
    return math.fsum(
        ((measured.value - predicted[name]) / _spread(_KIND_OF[name], measured, predicted[name])) ** 2
        for name, measured in read.items()
        if name in predicted
    )


def _weighed(
    design: Case, read: Mapping[str, Measured], predicted: Mapping[str, float], in_service: bool
) -> list[Suspect]:
    causes = causes_for(design.unit)
    weights = {cause.key: cause.weight_service if in_service else cause.weight_new for cause in causes}
    nothing = NOTHING_WEIGHT[in_service]
    share = (1.0 - nothing) / sum(weights.values())
    suspects = [Suspect(None, 0.0, None, _misfit(read, predicted), predicted)]
    logs = [math.log(nothing) - 0.5 * suspects[0].misfit]
    for cause in causes:
        tried = _tried(design, cause, read)
        if not tried:
            continue
        best = min(tried, key=lambda entry: entry[1])
        least = best[1]
        mean = math.fsum(math.exp(-0.5 * (misfit - least)) for _, misfit, _ in tried) / len(tried)
        suspects.append(Suspect(cause, 0.0, best[0], least, best[2]))
        logs.append(math.log(share * weights[cause.key]) + math.log(mean) - 0.5 * least)
    most = max(logs)
    total = math.fsum(math.exp(value - most) for value in logs)
    suspects = [
        replace(suspect, probability=math.exp(value - most) / total)
        for suspect, value in zip(suspects, logs, strict=True)
    ]
    return sorted(suspects, key=lambda suspect: -suspect.probability)


def _tried(design: Case, cause: Cause, read: Mapping[str, Measured]) -> list[tuple[float, float, Mapping[str, float]]]:
    """Severity, misfit and prediction; between two severities of the cause on straight lines in STEPS_BETWEEN steps.

    A severity that the model does not cover is left out.
    """
    covered: list[tuple[float, Mapping[str, float]]] = []
    for severity in cause.severities:
        try:
            covered.append((severity, predicted_readings(cause.change(design, severity))))
        except VaporwrightError:
            continue
    finer = covered[:1]
    for (before, low), (after, high) in pairwise(covered):
        if before * after > 0.0:  # biases to both sides of none are not joined
            for step in range(1, STEPS_BETWEEN):
                share = step / STEPS_BETWEEN
                between = {name: (1.0 - share) * low[name] + share * high[name] for name in low}
                finer.append(((1.0 - share) * before + share * after, between))
        finer.append((after, high))
    return [(severity, _misfit(read, predicted), predicted) for severity, predicted in finer]


def _next_reading(suspects: Sequence[Suspect], read: Mapping[str, Measured]) -> NextReading | None:
    """Of the readings not yet taken, the one that tells the two likeliest furthest apart; None where none does."""
    first, second = suspects[0], suspects[1]
    best: NextReading | None = None
    for kind in KINDS:
        if kind.name not in first.predicted or kind.name not in second.predicted or kind.name in read:
            continue
        one, other = first.predicted[kind.name], second.predicted[kind.name]
        reading = math.hypot(kind.reading_absolute, kind.reading_share * one)
        spread = math.hypot(reading, kind.model_absolute, kind.model_share * one)
        found = NextReading(kind, one, other, abs(one - other) / spread)
        if found.apart > (TELLS_AT if best is None else best.apart):
            best = found
    return best


def _by_chance(misfit: float, free: int) -> float:
    """Probability of at least this sum of squares from `free` readings by chance."""
    if free < 1:
        return 1.0
    from scipy.stats import chi2

    return float(chi2.sf(misfit, free))
