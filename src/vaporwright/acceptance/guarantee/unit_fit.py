"""The unit that best explains the readings of a performance run: least squares with what is known before them.

Everything that is not exactly known is a term with a value and a standard uncertainty before the run: the conditions
as read (tank, inlet air, wet bulb, barometer, make-up) and the unit's own factors (`unit_terms`). Each other reading is
one equation more. Least squares over both, each weighed by its uncertainty, gives the terms and their covariance, and
the gain by which every source moves them; that is Bayes' rule for normal distributions and a model taken as straight
over the spreads (JCGM 101 says when that may be done; `site_prediction` has its Monte Carlo beside it).

The tank's temperature is read, so nothing has to be settled here: at that temperature tower, surface and walls ask for
a heat, and that the heat source gives it is one of the equations. So the settling temperature, not the rate, tells of
the fill: the rate follows from the heat alone.

A tank at its clamp, or held at a set point under it, had its heat going on and off: what the heat gives when it is on
does not show in the run. Then it counts what was clocked or weighed apart with the heat on throughout
(`full_heat_W`); without that, only what was thought of it before, cut off at what the tank took.

The air is read at the blower's inlet, exhaust drawn in again included: the fit takes it as it is, without adding any.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from vaporwright.acceptance.guarantee.fit_readings import LABELS, READ, RUN, require_readings
from vaporwright.acceptance.guarantee.unit_terms import (
    AIR_MODEL,
    BALANCE_MODEL,
    DRIFT_SPREAD,
    FLUE_CASING,
    FLUE_MODEL,
    FULL_HEAT_MODEL,
    TERMS,
    EXHAUST_MODEL_difference_K,
    EXHAUST_WET_BULB_MODEL_difference_K,
    RETURN_MODEL_difference_K,
)
from vaporwright.acceptance.run.log import Measured, SteadyReadings
from vaporwright.acceptance.run.uncertainty import chi_square_deviate, normal_above
from vaporwright.acceptance.run.wet_bulbs import wet_thermometer_K
from vaporwright.foundation.errors import InputError, VaporwrightError
from vaporwright.foundation.register import sourced
from vaporwright.properties.flue_gas import burn, excess_air_from_oxygen_dry, gross_combustion_efficiency
from vaporwright.properties.moist_air import (
    humidity_ratio_from_wet_bulb_kg_kg,
    saturation_humidity_ratio_kg_kg,
)
from vaporwright.unit.air_path import TowerRating
from vaporwright.unit.as_found import AsFound, as_found
from vaporwright.unit.assembly import AssembledUnit
from vaporwright.unit.balance import Conditions, EnergyTerms, clamp_of, in_air, operate
from vaporwright.unit.heat import FUELS, HeatKind, kind_of, rate_heat

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Vector = NDArray[np.float64]

CLOSE_TO_CLAMP_difference_K: Final = 0.6  # a tank this near its clamp had its heat cycled
STEP: Final = 0.3  # of a spread: difference for a slope
LONGEST_STEP: Final = 3.0  # in spreads, of one round
SETTLED: Final = 2.0e-3  # in spreads
ALL_BUT_SATURATED: Final = 0.9999
ROUNDS, WITH_NEW_SLOPES = 14, 3
MISFIT_ERROR, MISFIT_NOTICE = 5.0, 2.5  # normal deviates of the sum of squares
FARTHEST_START: Final = 1.0e5  # standard deviations of a reading beside the unit as designed
LEAST_TOLD: Final = 0.02  # of a source's variance: where all others together say less of it, it is not judged
FAR_OFF: Final = 5.5  # normal deviates of one source beside all others


@dataclass(frozen=True)
class Source:
    """One independent source of what is known: a reading, or what was known before."""

    key: str
    label: str
    by_instrument: float  # share of its variance; the rest is the model's own
    deviate: float  # how far it is from what all the others say, in standard deviations; 0 where they say nothing


@dataclass(frozen=True)
class UnitFit:
    """Terms of the unit as fitted; arrays in the order of `names`, spreads before the run as units."""

    heat: HeatKind
    names: tuple[str, ...]
    values: Vector  # natural logarithms for factors
    spreads: Vector  # before the run, SI or relative
    covariance: Vector  # of values / spreads
    gain: Vector  # what each source, in its own standard deviations, moves values / spreads
    sources: tuple[Source, ...]
    cycling: bool  # the heat went on and off: full output was not seen
    misfit: float  # normal deviate of the sum of squares; 0 is the median
    again: Callable[[Vector], Vector]  # values for sources shifted by so many of their standard deviations

    def place(self, name: str) -> int | None:
        """Where a term stands; None where this unit or run has none."""
        return self.names.index(name) if name in self.names else None


@dataclass(frozen=True)
class _Equation:
    """A reading and what the model must say of it: difference over standard deviation."""

    key: str
    standard: float
    by_instrument: float


@dataclass
class _State:
    """What the unit on test does for one set of terms."""

    evaporation_kg_s: float
    tower: TowerRating
    demand_W: float
    heat_W: float  # that the source would give at full output
    drawn_W: float
    full_drawn_W: float  # at full output in the bath in which that was clocked
    efficiency: float


class _Run:
    """The unit on test as a function of its terms."""

    def __init__(self, unit: AssembledUnit, conditions: Conditions, readings: SteadyReadings) -> None:
        self.unit, self.readings = unit, readings
        self.heat = kind_of(unit.heat_source)
        clamp_K, _ = clamp_of(unit, conditions)
        self.cycling = readings.tank_temperature_K.value > clamp_K - CLOSE_TO_CLAMP_difference_K
        self.conditions = replace(conditions, intake=replace(conditions.intake, recirculated_share=0.0))
        self._set_air_slopes()
        self.names, start, spreads = self._terms()
        self.start, self.spreads = start, spreads
        self.equations = self._equations()
        self._earlier: list[TowerRating] = []

    def _set_air_slopes(self) -> None:
        """Humidity by its slopes: a bulb a little above the air, as errors have it, is air all but saturated."""
        air_K = self.readings.inlet_air_temperature_K.value
        bulb_K = self.readings.inlet_wet_bulb_K.value
        pressure = self.readings.pressure_Pa.value
        self.humidity = humidity_ratio_from_wet_bulb_kg_kg(air_K, bulb_K, pressure)
        warmer = humidity_ratio_from_wet_bulb_kg_kg(air_K + 0.5, bulb_K, pressure)
        self.humidity_per_air_K = (warmer - self.humidity) / 0.5
        beside = humidity_ratio_from_wet_bulb_kg_kg(air_K + 0.5, bulb_K + 0.5, pressure)
        self.humidity_per_bulb_K = (beside - warmer) / 0.5

    def _terms(self) -> tuple[tuple[str, ...], list[float], list[float]]:
        names, start, spreads = list(READ), [], []
        for name in READ:
            measured = getattr(self.readings, name)
            start.append(measured.value)
            spreads.append(measured.standard_uncertainty)
        if self.readings.drift_kg_s is None:
            names.append("drift_kg_s")
            start.append(0.0)
            spreads.append(DRIFT_SPREAD * self.unit.tower.drift_fraction * self.unit.spray_flow_m3_s * 1000.0)
        if self.cycling and self.heat != "steam" and self.readings.heat_drawn_W is not None:
            names.append("heat_drawn_W")
            start.append(self.readings.heat_drawn_W.value)
            spreads.append(self.readings.heat_drawn_W.standard_uncertainty)
        for term in TERMS:
            if term.applies(self.heat):
                names.append(term.name)
                start.append(0.0)
                spreads.append(term.before[self.heat])
        return tuple(names), start, spreads

    def know_least_heat(self, values: Vector) -> None:
        """Heat that goes on and off is at least what the tank took: that cuts off what was thought of it before.

        What it took is known by the fit, which no full output entered.
        """
        terms = dict(zip(self.names, (float(value) for value in values), strict=True))
        state = self._state(terms)
        name, least = "heat", math.log(state.demand_W / state.heat_W) + terms["heat"]
        if self.heat != "steam":
            name, drawn_W = "input", terms.get("heat_drawn_W", state.demand_W / state.efficiency)
            least = math.log(drawn_W / state.drawn_W) + terms["input"]
        place = self.names.index(name)
        mean, standard = normal_above(least / self.spreads[place])
        self.start[place] = mean * self.spreads[place]
        self.spreads[place] *= standard

    def _equations(self) -> tuple[_Equation, ...]:
        found = self.readings
        kept = [_relative("evaporation_kg_s", found.evaporation_kg_s, 0.0)]
        if found.spray_flow_m3_s is not None:
            kept.append(_relative("spray_flow_m3_s", found.spray_flow_m3_s, 0.0))
        if found.air_flow_m3_s is not None:
            kept.append(_relative("air_flow_m3_s", found.air_flow_m3_s, AIR_MODEL))
        for key, model_K in (
            ("return_temperature_K", RETURN_MODEL_difference_K),
            ("exhaust_temperature_K", EXHAUST_MODEL_difference_K),
            ("exhaust_wet_bulb_K", EXHAUST_WET_BULB_MODEL_difference_K),
        ):
            measured = getattr(found, key)
            if measured is not None:
                kept.append(_equation(key, measured.standard_uncertainty, model_K))
        if found.heat_drawn_W is not None and (self.heat == "steam" or not self.cycling):
            kept.append(_relative("heat_drawn_W", found.heat_drawn_W, BALANCE_MODEL if self.heat == "steam" else 0.0))
        if self.cycling and found.full_heat_W is not None:
            kept.append(_equation("full_heat_W", self._full_heat_standard(), FULL_HEAT_MODEL[self.heat]))
        if self.heat == "gas" and found.stack_temperature_K is not None and found.flue_oxygen is not None:
            kept.append(_equation("stack", self._flue_standard(), FLUE_MODEL))
        if not self.cycling or "heat_drawn_W" in self.names:
            kept.append(_equation("balance", 0.0, BALANCE_MODEL))
        return tuple(kept)

    def flue_efficiency(self, stack_K: float, oxygen: float) -> float:
        """Efficiency by the stack."""
        fuel = FUELS[self.conditions.heat_site.fuel]
        air_K = self.readings.inlet_air_temperature_K.value
        combustion = burn(fuel, excess_air_from_oxygen_dry(fuel, oxygen), self.humidity)
        return gross_combustion_efficiency(combustion, stack_K, air_K) - FLUE_CASING

    def _full_heat_standard(self) -> float:
        """Of the heat clocked apart, with what the tank's temperature meanwhile leaves open."""
        full, bath = self.readings.full_heat_W, self.readings.full_heat_bath_K
        assert full is not None
        relative = full.standard_uncertainty / full.value
        if bath is None:
            return relative
        part, site = self.unit.heat_source, self.conditions.heat_site
        warmer = rate_heat(part, site, bath.value + bath.standard_uncertainty).drawn_W
        return math.hypot(relative, warmer / rate_heat(part, site, bath.value).drawn_W - 1.0)

    def _flue_standard(self) -> float:
        stack, oxygen = self.readings.stack_temperature_K, self.readings.flue_oxygen
        assert stack is not None
        assert oxygen is not None
        at = self.flue_efficiency(stack.value, oxygen.value)
        hotter = self.flue_efficiency(stack.value + stack.standard_uncertainty, oxygen.value)
        leaner = self.flue_efficiency(stack.value, oxygen.value + oxygen.standard_uncertainty)
        return math.hypot(hotter / at - 1.0, leaner / at - 1.0)

    def _state(self, terms: dict[str, float]) -> _State:
        air_K = terms["inlet_air_temperature_K"]
        humidity = self.humidity
        humidity += self.humidity_per_air_K * (air_K - self.readings.inlet_air_temperature_K.value)
        humidity += self.humidity_per_bulb_K * (terms["inlet_wet_bulb_K"] - self.readings.inlet_wet_bulb_K.value)
        pressure, conditions = terms["pressure_Pa"], self.conditions
        humidity = min(humidity, ALL_BUT_SATURATED * saturation_humidity_ratio_kg_kg(air_K, pressure))
        air = replace(conditions.air, temperature_K=air_K, humidity_ratio_kg_kg=humidity)
        conditions = in_air(conditions, air, pressure, terms["feed_temperature_K"])
        unit, conditions = as_found(self.unit, conditions, factors_of(terms))
        tank_K = terms["tank_temperature_K"]
        operation = operate(unit, conditions, tank_K, 0.0, self._earlier)
        self._earlier = [operation.tower]
        source = rate_heat(unit.heat_source, conditions.heat_site, tank_K)
        weighed = source
        if self.readings.full_heat_bath_K is not None:
            weighed = rate_heat(unit.heat_source, conditions.heat_site, self.readings.full_heat_bath_K.value)
        share = math.exp(terms["losses"])
        room = self.readings.room_temperature_K
        if room is not None and tank_K - air_K > 1.0:
            share *= (tank_K - room.value) / (tank_K - air_K)
        return _State(
            evaporation_kg_s=operation.evaporation_kg_s * math.exp(terms["vapour"]),
            tower=operation.tower,
            demand_W=operation.energy.demand_W + (share - 1.0) * losses_W(operation.energy),
            heat_W=source.heat_W,
            drawn_W=source.drawn_W,
            full_drawn_W=weighed.drawn_W,
            efficiency=source.efficiency,
        )

    def deviates(self, values: Vector) -> Vector:
        """What every equation leaves over, in its standard deviations."""
        import numpy as np

        terms = dict(zip(self.names, (float(value) for value in values), strict=True))
        state = self._state(terms)
        left = [self._left_over(equation.key, terms, state) / equation.standard for equation in self.equations]
        return np.array(left)

    def _left_over(self, key: str, terms: dict[str, float], state: _State) -> float:
        found, tower = self.readings, state.tower
        if key == "balance":
            given = state.heat_W
            if "heat_drawn_W" in terms:
                given = terms["heat_drawn_W"] * state.efficiency
            return math.log(given / state.demand_W)
        if key == "stack":
            assert found.stack_temperature_K is not None
            assert found.flue_oxygen is not None
            by_stack = self.flue_efficiency(found.stack_temperature_K.value, found.flue_oxygen.value)
            return math.log(by_stack / state.efficiency)
        measured = getattr(found, key).value
        if key == "evaporation_kg_s":
            return math.log(measured / (state.evaporation_kg_s + terms.get("drift_kg_s", 0.0)))
        if key == "spray_flow_m3_s":
            return math.log(measured / self.unit.spray_flow_m3_s) - terms["spray"]
        if key == "air_flow_m3_s":
            return math.log(measured / (self.unit.towers * tower.blower_flow_m3_s))
        if key == "heat_drawn_W":
            return math.log(measured / (state.demand_W if self.heat == "steam" else state.drawn_W))
        if key == "full_heat_W":
            return math.log(measured / state.full_drawn_W)
        if key == "return_temperature_K":
            return float(measured - tower.rating.water_out_temperature_K)
        if key == "exhaust_temperature_K":
            return float(measured - tower.rating.air_out_temperature_K)
        rating = tower.rating
        out_K, humidity = rating.air_out_temperature_K, rating.air_out_humidity_ratio_kg_kg
        return float(measured - wet_thermometer_K(out_K, humidity, terms["pressure_Pa"]))


def factors_of(terms: dict[str, float]) -> AsFound:
    """The factors on the unit, of its terms by name."""
    return AsFound(
        merkel_factor=math.exp(terms["merkel"]),
        air_factor=math.exp(terms["air"]),
        spray_factor=math.exp(terms["spray"]),
        input_factor=math.exp(terms.get("input", 0.0)),
        heat_factor=math.exp(terms["heat"]),
    )


def losses_W(energy: EnergyTerms) -> float:
    """What tank and piping lose without evaporating."""
    return energy.walls_W + energy.piping_W + energy.surface_dry_W


def _equation(key: str, by_instrument: float, by_model: float) -> _Equation:
    standard = math.hypot(by_instrument, by_model)
    return _Equation(key, standard, (by_instrument / standard) ** 2)


def _relative(key: str, measured: Measured, by_model: float) -> _Equation:
    return _equation(key, measured.standard_uncertainty / measured.value, by_model)


@sourced("site-prediction", "least squares over readings and prior terms, gain of each source")
@sourced("site-prediction-spreads", "spreads of unit_terms")
def fit_unit(readings: SteadyReadings, conditions: Conditions, unit: AssembledUnit) -> UnitFit:
    """The terms of the unit that best explain the readings, with their covariance.

    Args:
        readings: means over the steady span, each with its standard uncertainty.
        conditions: of the test (clean water, shop, supply); air, barometer and make-up are taken from the readings.
        unit: as designed.
    Raises: InputError where a reading is nonsense, or where no unit of this kind gives them all together; it names the
        one that is farthest from what all others say.
    """
    require_readings(readings)
    try:
        run = _Run(unit, conditions, readings)
        fit = _fit(run)
        if not run.cycling:
            return fit
        run.know_least_heat(fit.values)
        return _fit(run)
    except InputError:
        raise
    except VaporwrightError as error:
        raise InputError(
            RUN, "readings", f"no unit of this kind gives them all ({error})", "see each channel"
        ) from error


def _fit(run: _Run) -> UnitFit:
    import numpy as np

    start, spreads = np.array(run.start), np.array(run.spreads)
    count = len(start)
    moved = np.zeros(count)  # in spreads
    slopes = np.zeros((len(run.equations), count))
    covariance: Vector = np.zeros((count, count))
    gain: Vector = np.zeros((count, count + len(slopes)))
    for done in range(ROUNDS):
        left = run.deviates(start + spreads * moved)
        if done == 0:
            _require_near(run, left)
        if done < WITH_NEW_SLOPES:
            slopes = _slopes(run, start, spreads, moved, left)
            covariance = np.asarray(np.linalg.inv(np.eye(count) + slopes.T @ slopes), dtype=np.float64)
            gain = covariance @ np.hstack([np.eye(count), slopes.T])
        step = gain @ np.concatenate([-moved, left])
        moved = moved + np.clip(step, -LONGEST_STEP, LONGEST_STEP)
        if np.max(np.abs(step)) < SETTLED:
            break
    else:
        raise InputError(RUN, "readings", "no unit of this kind gives them all together", "check every channel")
    left = run.deviates(start + spreads * moved)

    def again(shifts: Vector) -> Vector:
        """The same fit with its sources shifted, by the slopes found."""
        at: Vector = moved + gain @ shifts
        for _ in range(2):
            beside = np.concatenate([shifts[:count] - at, run.deviates(start + spreads * at) + shifts[count:]])
            at = at + gain @ beside
        values: Vector = start + spreads * at
        return values

    deviates = np.concatenate([-moved, left])
    rows = np.vstack([np.eye(count), -slopes])
    sources, misfit = _judged(run, deviates, np.diag(rows @ covariance @ rows.T))
    return UnitFit(
        run.heat, run.names, start + spreads * moved, spreads, covariance, gain, sources, run.cycling, misfit, again
    )


def _require_near(run: _Run, left: Vector) -> None:
    """Raises for a reading from which no search can start."""
    for equation, deviate in zip(run.equations, left, strict=True):
        if not abs(float(deviate)) < FARTHEST_START:
            problem = f"{abs(float(deviate)):.2g} standard deviations from what the unit as designed does"
            raise InputError(RUN, equation.key, problem, f"within {FARTHEST_START:g}")


def _slopes(run: _Run, start: Vector, spreads: Vector, moved: Vector, left: Vector) -> Vector:
    """What each term, by one of its spreads, takes off what the equations leave over."""
    import numpy as np

    slopes = np.zeros((len(left), len(start)))
    for place in range(len(start)):
        beside = moved.copy()
        beside[place] += STEP
        slopes[:, place] = (left - run.deviates(start + spreads * beside)) / STEP
    return slopes


def _judged(run: _Run, deviates: Vector, leverages: Vector) -> tuple[tuple[Source, ...], float]:
    """Every source beside all others; raises where they contradict each other."""
    labels = {term.name: f"{term.label}, before the run" for term in TERMS} | LABELS
    keys = [(name, 1.0 if name in READ or name == "heat_drawn_W" else 0.0) for name in run.names]
    keys += [(equation.key, equation.by_instrument) for equation in run.equations]
    sources = []
    for (key, by_instrument), deviate, leverage in zip(keys, deviates, leverages, strict=True):
        told_by_others = 1.0 - float(leverage)
        alone = float(deviate) / math.sqrt(told_by_others) if told_by_others > LEAST_TOLD else 0.0
        sources.append(Source(key, labels[key], by_instrument, alone))
    misfit = chi_square_deviate(float(deviates @ deviates), len(run.equations))
    readable = [source for source in sources if source.by_instrument > 0.0]
    worst = max(readable, key=lambda source: abs(source.deviate))
    if misfit > MISFIT_ERROR or abs(worst.deviate) > FAR_OFF:
        value = getattr(run.readings, worst.key, None)
        shown = f"{value.value:.6g} (SI)" if isinstance(value, Measured) else worst.label
        problem = (
            f"{shown} is {abs(worst.deviate):.1f} standard deviations from what all other readings say of this unit"
        )
        raise InputError(
            RUN, worst.key, problem, f"readings that fit together, within {FAR_OFF:g}; check this one first"
        )
    return tuple(sources), misfit


def told_apart(fit: UnitFit, names: Sequence[str]) -> dict[str, tuple[float, float]]:
    """Of each term: its spread now over that before, and its strongest correlation with another of them."""
    places = [place for name in names if (place := fit.place(name)) is not None]
    found = {}
    for place in places:
        own = math.sqrt(fit.covariance[place, place])
        others = [
            abs(float(fit.covariance[place, other])) / (own * math.sqrt(fit.covariance[other, other]))
            for other in places
            if other != place
        ]
        found[fit.names[place]] = (own, max(others, default=0.0))
    return found
