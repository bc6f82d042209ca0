"""Water and heat of a performance run, each counted twice: what ought to be equal, by how much it is not, and why.

Four closures tie four groups of instruments in a ring, so that one wrong instrument opens just two of them:

    water by air      make-up  |  air flow x humidity rise + surface + drift
    water by spray    make-up  |  heat given up by the spray over the air's enthalpy rise per water, + surface + drift
    heat by spray     heat input  |  heat given up by the spray + losses + what warms the tank
    heat by air       heat input  |  air flow x enthalpy rise + losses + what warms the tank

Surface, walls, piping, pump and blower come from the model at the temperatures measured (unit.balance.operate), each
with an uncertainty of its own. A tank that is still warming stores heat; that is counted, so that balances close
before the run is steady. Exact for the trade's quick check, gal/h = gal/min x range degF / 21, is water by spray.

Exhaust that leaves misty carries water which a psychrometer does not see: where the model has mist and the exhaust
reads saturated, the model's mist is added, half of it uncertain.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Final, Literal, TypeAlias

from vaporwright.acceptance.run.averages import COVERAGE, RANGE, combined
from vaporwright.acceptance.run.evaporation import WaterLoss
from vaporwright.acceptance.run.heat_meters import HEAT_CONSTANTS, drawn_W, heat_channels
from vaporwright.acceptance.run.log import Measured
from vaporwright.acceptance.run.wet_bulbs import humidity_of_bulbs_kg_kg
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.register import sourced
from vaporwright.properties.flue_gas import burn, excess_air_from_oxygen_dry, gross_combustion_efficiency
from vaporwright.properties.fuels import FuelComposition
from vaporwright.properties.liquor import density_kg_m3, heat_capacity_J_kgK
from vaporwright.properties.moist_air import (
    enthalpy_J_kg,
    relative_humidity_from_humidity_ratio,
    saturation_humidity_ratio_kg_kg,
    specific_volume_m3_kg,
)
from vaporwright.properties.water import liquid_enthalpy_J_kg, liquid_heat_capacity_J_kgK
from vaporwright.unit.assembly import AssembledUnit
from vaporwright.unit.balance import Conditions, Operation, operate
from vaporwright.unit.heat import FUELS, kind_of

Key: TypeAlias = Literal["water by air", "water by spray", "heat by spray", "heat by air"]
State: TypeAlias = Literal["closes", "open within its uncertainty", "does not close", "not measured"]
CLOSES: Final = "closes"
DOES_NOT_CLOSE: Final = "does not close"
IMPOSSIBLE_BEYOND: Final = 3.0  # standard uncertainties that a wet bulb may read above its dry bulb in saturated air
CLOSE_WITHIN: Final = 0.07  # the trade's limit, common practice, no source
# What each closure hangs on
GROUPS: Final[Mapping[Key, tuple[str, str]]] = {
    "water by air": ("make-up", "air"),
    "water by spray": ("make-up", "spray"),
    "heat by spray": ("heat", "spray"),
    "heat by air": ("heat", "air"),
}
# Standard, common practice, no source
LOSSES_RELATIVE: Final = 0.25
SURFACE_RELATIVE: Final = 0.30
MIST_RELATIVE: Final = 0.50
BLOWER_RELATIVE: Final = 0.20
_AIR_IN: Final = ("inlet_air_temperature_K", "inlet_wet_bulb_K", "barometer_Pa")
_AIR_OUT: Final = ("exhaust_temperature_K", "exhaust_wet_bulb_K")
_SPRAY: Final = ("tank_temperature_K", RANGE, "spray_flow_m3_s")
_QUICK: Final = 1.8 / (21.0 * 60.0)  # per kelvin; gal/h over gal/min and degF


@dataclass(frozen=True)
class Closure:
    """One balance: two ways to the same flow of water [kg/s] or heat [W]."""

    key: Key
    quantity: str  # of display_units
    one: float | None
    other: float | None
    difference: Measured | None  # one less other, as a share of one
    state: State
    missing: tuple[str, ...] = ()  # channels that were not read

    @property
    def strain(self) -> float:
        """Difference over its expanded uncertainty and the limit together; above 1 it does not close."""
        if self.difference is None:
            return 0.0
        return abs(self.difference.value) / (CLOSE_WITHIN + COVERAGE * self.difference.standard_uncertainty)


@dataclass(frozen=True)
class Balances:
    """All closures over one span, with what they were made of."""

    begin_s: float
    end_s: float
    closures: tuple[Closure, ...]
    quick_kg_s: float | None  # spray flow x range / 21 in gal/min, degF and gal/h
    by_spray_kg_s: Measured | None  # the same, exactly: evaporation of the tower alone
    heat_drawn_W: Measured | None  # gross fuel input, electric power, or heat of the steam condensed
    heat_into_bath_W: Measured | None
    suspect: str  # the group of instruments that would explain what does not close, "" where all close

    def closure(self, key: Key) -> Closure:
        """One closure by its key."""
        return next(closure for closure in self.closures if closure.key == key)

    @property
    def open(self) -> tuple[Closure, ...]:
        """Those that do not close."""
        return tuple(closure for closure in self.closures if closure.state == DOES_NOT_CLOSE)


@dataclass(frozen=True)
class _Model:
    """What the model gives beside the readings."""

    unit: AssembledUnit
    conditions: Conditions
    operation: Operation
    fuel: FuelComposition | None
    mist_kg_kg: float  # beyond saturation, where the exhaust reads saturated

    @property
    def blower_W(self) -> float:
        """Warmth of the blower between the two psychrometers."""
        if self.unit.tower.blower_after_fill:
            return 0.0
        return self.operation.tower.blower_shaft_power_W * self.unit.towers


def measured_conditions(conditions: Conditions, means: Mapping[str, Measured]) -> Conditions:
    """Conditions with the air, barometer and feed that were measured; air as it enters the blower.

    Raises: InputError for a wet bulb above the air by more than both thermometers leave open.
    """
    air_K, pressure = means["inlet_air_temperature_K"].value, means["barometer_Pa"].value
    humidity = humidity_of_bulbs_kg_kg(air_K, means["inlet_wet_bulb_K"].value, pressure)
    room = means.get("room_temperature_K", means["inlet_air_temperature_K"]).value
    relative = min(relative_humidity_from_humidity_ratio(air_K, humidity, pressure), 1.0)
    air = replace(
        conditions.air,
        temperature_K=room,
        humidity_ratio_kg_kg=humidity,
        relative_humidity=relative,
        wet_bulb_temperature_K=min(means["inlet_wet_bulb_K"].value, air_K),
    )
    intake = replace(
        conditions.intake,
        temperature_K=air_K,
        humidity_ratio_kg_kg=humidity,
        pressure_Pa=pressure,
        recirculated_share=0.0,  # what is drawn in again is already in the air at the blower
    )
    feed = means.get("feed_temperature_K")
    return replace(
        conditions,
        air=air,
        intake=intake,
        pressure_Pa=pressure,
        feed_temperature_K=conditions.feed_temperature_K if feed is None else feed.value,
        heat_site=replace(conditions.heat_site, pressure_Pa=pressure),
    )


@sourced("run-closures", "four closures of water and heat round the unit, storage included")
def balances_of(
    means: Mapping[str, Measured],
    loss: WaterLoss,
    drift_kg_s: Measured,
    unit: AssembledUnit,
    conditions: Conditions,
    *,
    tank_trend_K_s: Measured,
    hold_up_kg: float = 0.0,
) -> Balances:
    """The balances over one span.

    Equation: see the module's text; each difference is a share of its first side.
    Args:
        means: of the span, run_means.means_of. loss, drift_kg_s: of the same span. tank_trend_K_s [K/s]: of the tank.
        conditions: of the unit; air, barometer and feed are taken from the means. hold_up_kg [kg]: liquor in tower,
        header and pipes, which warms too.
    Raises: InputError where readings contradict each other; OutOfRange where one lies outside a property's range.
    Source: run-closures (own derivation).
    """
    _require_possible(means)
    model = _model(means, unit, conditions)
    inputs = _inputs(means, loss, drift_kg_s, tank_trend_K_s, hold_up_kg)
    heat = heat_channels(kind_of(unit.heat_source), means)
    sides: tuple[tuple[Key, str, _Side, _Side, tuple[str, ...]], ...] = (
        ("water by air", "evaporation", _lost, _by_air, (*_AIR_IN, *_AIR_OUT, "air_flow_m3_s")),
        ("water by spray", "evaporation", _lost, _by_spray, (*_SPRAY, *_AIR_IN, *_AIR_OUT)),
        ("heat by spray", "heat", _into_bath, _out_by_spray, (*_SPRAY, *heat, *_AIR_IN)),
        ("heat by air", "heat", _into_bath, _out_by_air, (*_AIR_IN, *_AIR_OUT, "air_flow_m3_s", *heat)),
    )
    closures = tuple(_closure(model, inputs, *side) for side in sides)
    spray = _need(means, (*_SPRAY, *_AIR_IN, *_AIR_OUT))
    has_heat = not _need(means, (*heat, *_AIR_IN))
    return Balances(
        begin_s=loss.begin_s,
        end_s=loss.end_s,
        closures=closures,
        quick_kg_s=None if _need(means, _SPRAY) else _quick_kg_s(model, means),
        by_spray_kg_s=None if spray else combined(lambda values: _tower_by_spray(model, values), inputs),
        heat_drawn_W=combined(lambda values: drawn_W(model.fuel, values), inputs) if has_heat else None,
        heat_into_bath_W=combined(lambda values: _into_bath(model, values), inputs) if has_heat else None,
        suspect=_suspect(closures),
    )


@sourced("quick-evaporation-check", "gal/h = gal/min x range degF / 21")
def quick_evaporation_m3_s(spray_flow_m3_s: float, range_difference_K: float) -> float:
    """The trade's quick check of what a tower evaporates, as cold water; 5 to 7 % low for the demo units on a mild day.

    Equation: V = spray x range / 21, in gal/h, gal/min and degF.
    Source: quick-evaporation-check.
    """
    return _QUICK * spray_flow_m3_s * range_difference_K


_Values: TypeAlias = Mapping[str, float]
_Side: TypeAlias = Callable[["_Model", _Values], float]


def _inputs(
    means: Mapping[str, Measured], loss: WaterLoss, drift: Measured, trend: Measured, hold_up_kg: float
) -> dict[str, Measured]:
    return {
        **means,
        "lost": loss.lost_kg_s,
        "make_up": Measured(loss.make_up_kg_s, 0.0),
        "drift": drift,
        "trend": trend,
        "held": Measured(loss.held_kg + hold_up_kg, 0.02 * loss.held_kg + 0.3 * hold_up_kg),
        "losses": Measured(1.0, LOSSES_RELATIVE),
        "surface": Measured(1.0, SURFACE_RELATIVE),
        "mist": Measured(1.0, MIST_RELATIVE),
        "blower": Measured(1.0, BLOWER_RELATIVE),
        **HEAT_CONSTANTS,
    }


def _model(means: Mapping[str, Measured], unit: AssembledUnit, conditions: Conditions) -> _Model:
    measured = measured_conditions(conditions, means)
    operation = operate(unit, measured, means["tank_temperature_K"].value, 0.0)
    rating = operation.tower.rating
    mist = 0.0
    if rating.air_leaves_misty and not _need(means, _AIR_OUT):
        dry, wet = means["exhaust_temperature_K"], means["exhaust_wet_bulb_K"]
        if dry.value - wet.value <= COVERAGE * math.hypot(dry.standard_uncertainty, wet.standard_uncertainty):
            saturated = saturation_humidity_ratio_kg_kg(rating.air_out_temperature_K, measured.pressure_Pa)
            mist = rating.air_out_humidity_ratio_kg_kg - saturated
    fuel = FUELS[conditions.heat_site.fuel] if kind_of(unit.heat_source) == "gas" else None
    return _Model(unit, measured, operation, fuel, mist)


def _require_possible(means: Mapping[str, Measured]) -> None:
    missing = _need(means, (*_AIR_IN, "tank_temperature_K"))
    if missing:
        raise InputError("run log", missing[0], "not logged in this span", "needed for every balance")
    for wet_name, dry_name in (("inlet_wet_bulb_K", "inlet_air_temperature_K"), (_AIR_OUT[1], _AIR_OUT[0])):
        if _need(means, (wet_name, dry_name)):
            continue
        wet, dry = means[wet_name], means[dry_name]
        over_K = wet.value - dry.value
        allowed = IMPOSSIBLE_BEYOND * math.hypot(wet.standard_uncertainty, dry.standard_uncertainty)
        if over_K > allowed:
            problem = f"{over_K:.2f} K above {dry_name}"
            raise InputError("run log", wet_name, problem, f"at most {allowed:.2f} K above it, what both leave open")


def _need(means: Mapping[str, Measured], names: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(name for name in dict.fromkeys(names) if name not in means)


@dataclass(frozen=True)
class _Air:
    """The air before and after, per kg of dry air."""

    humidity_rise_kg_kg: float
    enthalpy_rise_J_kg: float
    handled_m3_kg: float


def _air(model: _Model, values: _Values) -> _Air:
    pressure, in_K = values["barometer_Pa"], values["inlet_air_temperature_K"]
    inlet = humidity_of_bulbs_kg_kg(in_K, values["inlet_wet_bulb_K"], pressure)
    out_K = values["exhaust_temperature_K"]
    seen = humidity_of_bulbs_kg_kg(out_K, values["exhaust_wet_bulb_K"], pressure)
    mist = model.mist_kg_kg * values["mist"]
    out_J_kg = enthalpy_J_kg(out_K, seen, pressure) + mist * liquid_enthalpy_J_kg(out_K)
    before = specific_volume_m3_kg(in_K, inlet, pressure)
    after = specific_volume_m3_kg(out_K, seen, pressure)
    return _Air(
        seen + mist - inlet,
        out_J_kg - enthalpy_J_kg(in_K, inlet, pressure),
        after if model.unit.tower.blower_after_fill else before,
    )


def _lost(_: _Model, values: _Values) -> float:
    return values["lost"]


def _beside_tower(model: _Model, values: _Values) -> float:
    return model.operation.surface_evaporation_kg_s * values["surface"] + values["drift"]


def _by_air(model: _Model, values: _Values) -> float:
    air = _air(model, values)
    return values["air_flow_m3_s"] / air.handled_m3_kg * air.humidity_rise_kg_kg + _beside_tower(model, values)


def _spray_fall_W(model: _Model, values: _Values) -> float:
    """Spray times what each kilogram gives up."""
    hot_K = values["tank_temperature_K"]
    cold_K = hot_K - values[RANGE]
    liquor = model.conditions.liquor
    share = heat_capacity_J_kgK(liquor, hot_K) / liquid_heat_capacity_J_kgK(hot_K)
    spray_kg_s = values["spray_flow_m3_s"] * density_kg_m3(liquor, hot_K)
    return spray_kg_s * share * (liquid_enthalpy_J_kg(hot_K) - liquid_enthalpy_J_kg(cold_K))


def _tower_by_spray(model: _Model, values: _Values) -> float:
    """Evaporation that the spray's heat drives: the air flow falls out of enthalpy rise over humidity rise."""
    air = _air(model, values)
    towers_air_kg_s = model.unit.towers * model.operation.tower.dry_air_flow_kg_s
    by_water_J_kg = air.enthalpy_rise_J_kg - model.blower_W * values["blower"] / towers_air_kg_s
    cold_J_kg = liquid_enthalpy_J_kg(values["tank_temperature_K"] - values[RANGE])
    return _spray_fall_W(model, values) / (by_water_J_kg / air.humidity_rise_kg_kg - cold_J_kg)


def _by_spray(model: _Model, values: _Values) -> float:
    return _tower_by_spray(model, values) + _beside_tower(model, values)


def _into_bath(model: _Model, values: _Values) -> float:
    drawn = drawn_W(model.fuel, values)
    if model.fuel is None:
        return drawn
    air_K = model.conditions.air.temperature_K
    humidity = model.conditions.air.humidity_ratio_kg_kg
    excess = excess_air_from_oxygen_dry(model.fuel, values["flue_oxygen"])
    return drawn * gross_combustion_efficiency(burn(model.fuel, excess, humidity), values["stack_temperature_K"], air_K)


def _out_beside_tower(model: _Model, values: _Values) -> float:
    """Losses and storage, less what pump and feed bring; surface and drift at the tank's enthalpy."""
    energy = model.operation.energy
    tank_K = values["tank_temperature_K"]
    tank_J_kg = liquid_enthalpy_J_kg(tank_K)
    feed_J_kg = liquid_enthalpy_J_kg(model.conditions.feed_temperature_K)
    heat_capacity = heat_capacity_J_kgK(model.conditions.liquor, tank_K)
    return (
        energy.surface_vapour_W * values["surface"]
        + (energy.surface_dry_W + energy.walls_W + energy.piping_W) * values["losses"]
        + values["drift"] * tank_J_kg
        + values["held"] * heat_capacity * values["trend"]
        - energy.pump_W
        - values["make_up"] * feed_J_kg
        + (values["make_up"] - values["lost"]) * tank_J_kg
    )


def _out_by_spray(model: _Model, values: _Values) -> float:
    evaporated = values["lost"] - _beside_tower(model, values)
    cold_J_kg = liquid_enthalpy_J_kg(values["tank_temperature_K"] - values[RANGE])
    return _spray_fall_W(model, values) + evaporated * cold_J_kg + _out_beside_tower(model, values)


def _out_by_air(model: _Model, values: _Values) -> float:
    air = _air(model, values)
    rise_W = values["air_flow_m3_s"] / air.handled_m3_kg * air.enthalpy_rise_J_kg
    return rise_W - model.blower_W * values["blower"] + _out_beside_tower(model, values)


def _closure(
    model: _Model,
    inputs: Mapping[str, Measured],
    key: Key,
    quantity: str,
    one: _Side,
    other: _Side,
    needed: tuple[str, ...],
) -> Closure:
    missing = _need(inputs, needed)
    if missing:
        return Closure(key, quantity, None, None, None, "not measured", missing)

    def share(values: _Values) -> float:
        first = one(model, values)
        return (first - other(model, values)) / first

    best = {name: entry.value for name, entry in inputs.items()}
    if not one(model, best) > 0.0:
        return Closure(key, quantity, one(model, best), other(model, best), None, DOES_NOT_CLOSE)
    difference = combined(share, inputs)
    open_by = abs(difference.value)
    state: State = CLOSES
    if open_by > CLOSE_WITHIN + COVERAGE * difference.standard_uncertainty:
        state = DOES_NOT_CLOSE
    elif open_by > CLOSE_WITHIN:
        state = "open within its uncertainty"
    return Closure(key, quantity, one(model, best), other(model, best), difference, state)


def _quick_kg_s(model: _Model, means: Mapping[str, Measured]) -> float:
    cold = density_kg_m3(model.conditions.liquor, model.conditions.feed_temperature_K)
    return cold * quick_evaporation_m3_s(means["spray_flow_m3_s"].value, means[RANGE].value)


def _suspect(closures: tuple[Closure, ...]) -> str:
    """The group whose two closures are strained while the other two are not."""
    if all(closure.state != DOES_NOT_CLOSE for closure in closures):
        return ""
    strain = {
        group: sum(entry.strain if group in GROUPS[entry.key] else -entry.strain for entry in closures)
        for group in ("make-up", "heat", "spray", "air")
    }
    return max(strain, key=lambda group: strain[group])
