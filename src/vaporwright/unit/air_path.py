"""One tower on its blower: the air flow that fill, eliminator and duct let through, and what it evaporates.

Air flow and evaporation depend on each other (density of the exhaust, exhaust drawn in again, warmth of the
blower), so both are repeated until the air flow stands still.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from vaporwright.equipment.air_resistance import velocity_heads_loss_Pa
from vaporwright.equipment.blower import (
    BlowerCurve,
    blower_best_flow_m3_s,
    blower_operating_flow_m3_s,
    blower_shaft_power_W,
    blower_static_pressure_Pa,
)
from vaporwright.equipment.crossflow import CrossflowRating, rate_crossflow
from vaporwright.equipment.tower import CounterflowRating, rate_counterflow
from vaporwright.foundation.constants import MOLAR_MASS_RATIO
from vaporwright.foundation.errors import InputError, NotConverged
from vaporwright.properties.moist_air import enthalpy_J_kg, specific_volume_m3_kg
from vaporwright.properties.moist_air_kernels import air_state_from_enthalpy
from vaporwright.unit.catalogue import CROSSFLOW, BlowerPart, TowerPart

STANDARD_DENSITY_kg_m3 = 1.2
AIR_SETTLED = 1.0e-4  # what a round may change of the exhaust's volume and of its enthalpy drawn in again, as a share
WARMING_SETTLED_J_kg = 20.0  # and of the warmth of the blower: 0.02 K


@dataclass(frozen=True)
class Intake:
    """Air offered to the blower, and how the ducts treat it."""

    temperature_K: float
    humidity_ratio_kg_kg: float
    pressure_Pa: float
    recirculated_share: float
    duct_loss_Pa: float  # at the blower's best flow and standard density


@dataclass(frozen=True)
class TowerRating:
    """One tower on its blower at one water temperature and flow."""

    rating: CounterflowRating | CrossflowRating
    water_temperature_K: float
    merkel_number: float
    water_to_air_ratio: float
    water_flow_kg_s: float
    dry_air_flow_kg_s: float
    air_in_temperature_K: float
    air_in_humidity_ratio_kg_kg: float
    blower_flow_m3_s: float
    blower_density_kg_m3: float
    blower_static_pressure_Pa: float
    blower_shaft_power_W: float
    blower_input_W: float
    exhaust_flow_m3_s: float
    face_velocity_m_s: float
    water_loading_kg_s_m2: float
    evaporation_kg_s: float
    heat_to_air_W: float


@dataclass(frozen=True)
class _Exhaust:
    temperature_K: float
    humidity_ratio_kg_kg: float
    enthalpy_J_kg: float

    def volume(self) -> float:
        """As an ideal gas, up to a constant: only its change is looked at."""
        return self.temperature_K * (1.0 + self.humidity_ratio_kg_kg / MOLAR_MASS_RATIO)


def blower_curve(part: BlowerPart) -> BlowerCurve:
    """The curve of a catalogue blower as the equipment takes it."""
    return BlowerCurve(part.flow_m3_s, part.static_pressure_Pa, part.shaft_power_W, part.density_kg_m3)


def merkel_number_of_fill(tower: TowerPart, water_to_air_ratio: float) -> float:
    """Merkel number by the fill's own law Me = c (L/G)^n, Poppe's model.

    Raises InputError where the fill's points were reduced by another model: its number would be 7 to 12 % off.
    """
    fill = tower.fill
    if fill.model != "poppe":
        raise InputError(
            "catalogue",
            f"tower {tower.part_id}: fill.model",
            f"{fill.model!r} points cannot be used by this tower model",
            "poppe (refit the raw points: vaporwright catalogue fit)",
        )
    return fill.merkel_coefficient * float(water_to_air_ratio**fill.merkel_exponent)


def rate_tower_on_blower(
    *,
    tower: TowerPart,
    blower: BlowerPart,
    intake: Intake,
    water_temperature_K: float,
    water_flow_kg_s: float,
    water_activity: float,
    heat_capacity_share: float = 1.0,
    earlier: Sequence[TowerRating] = (),
) -> TowerRating:
    """Rate one tower with the air flow its blower achieves.

    Args:
        water_temperature_K [K] and water_flow_kg_s [kg/s]: at the spray of this tower.
        heat_capacity_share [-]: of the liquor over that of water. The tower's equations know the liquor's heat
            capacity only through water flow x cp, so that a liquor is rated as that share of the water flow with the
            same K a V.
        earlier: ratings nearby, the newest last, to begin from (two make a line in water temperature).
    Raises: OutOfRange and NotConverged from the tower and the blower, each naming its variable.
    """
    pressure = intake.pressure_Pa
    outdoor_J_kg = enthalpy_J_kg(intake.temperature_K, intake.humidity_ratio_kg_kg, pressure)
    exhaust = _Exhaust(intake.temperature_K, intake.humidity_ratio_kg_kg, outdoor_J_kg)
    warming_J_kg = 0.0
    if earlier:
        exhaust = _expected_exhaust(earlier, water_temperature_K)
        warming_J_kg = earlier[-1].blower_shaft_power_W / earlier[-1].dry_air_flow_kg_s
    for _ in range(40):
        rated = _once(
            tower,
            blower,
            intake,
            outdoor_J_kg,
            exhaust,
            warming_J_kg,
            water_temperature_K,
            water_flow_kg_s,
            water_activity,
            heat_capacity_share,
        )
        out = rated.rating
        taken, taken_warming_J_kg = exhaust, warming_J_kg
        exhaust = _Exhaust(out.air_out_temperature_K, out.air_out_humidity_ratio_kg_kg, out.air_out_enthalpy_J_kg)
        warming_J_kg = rated.blower_shaft_power_W / rated.dry_air_flow_kg_s
        moved_J_kg = abs(exhaust.enthalpy_J_kg - taken.enthalpy_J_kg) * intake.recirculated_share
        if (
            abs(exhaust.volume() / taken.volume() - 1.0) < AIR_SETTLED
            and moved_J_kg < AIR_SETTLED * abs(exhaust.enthalpy_J_kg)
            and abs(warming_J_kg - taken_warming_J_kg) < WARMING_SETTLED_J_kg
        ):
            return rated
    flow_kg_s = rated.dry_air_flow_kg_s
    raise NotConverged(f"dry_air_flow_kg_s: air flow and evaporation did not settle, last {flow_kg_s:.6g} kg/s")


def _expected_exhaust(earlier: Sequence[TowerRating], water_temperature_K: float) -> _Exhaust:
    """Exhaust state on the line through the last two ratings, or that of the last."""
    last = earlier[-1]
    share = 0.0
    before = last
    if len(earlier) > 1:
        before = earlier[-2]
        apart_K = last.water_temperature_K - before.water_temperature_K
        if abs(apart_K) > 0.01:
            share = max(min((water_temperature_K - last.water_temperature_K) / apart_K, 1.0), -2.0)

    def on_line(new: float, old: float) -> float:
        return new + share * (new - old)

    if on_line(last.rating.air_out_humidity_ratio_kg_kg, before.rating.air_out_humidity_ratio_kg_kg) <= 0.0:
        share = 0.0  # a line from hot to cold water runs below dry air
    return _Exhaust(
        on_line(last.rating.air_out_temperature_K, before.rating.air_out_temperature_K),
        on_line(last.rating.air_out_humidity_ratio_kg_kg, before.rating.air_out_humidity_ratio_kg_kg),
        on_line(last.rating.air_out_enthalpy_J_kg, before.rating.air_out_enthalpy_J_kg),
    )


def _once(
    tower: TowerPart,
    blower: BlowerPart,
    intake: Intake,
    outdoor_J_kg: float,
    exhaust: _Exhaust,
    warming_J_kg: float,
    water_temperature_K: float,
    water_flow_kg_s: float,
    water_activity: float,
    heat_capacity_share: float,
) -> TowerRating:
    pressure, share, fill = intake.pressure_Pa, intake.recirculated_share, tower.fill
    humidity = (1.0 - share) * intake.humidity_ratio_kg_kg + share * exhaust.humidity_ratio_kg_kg
    mixed_J_kg = (1.0 - share) * outdoor_J_kg + share * exhaust.enthalpy_J_kg
    mixed_K = air_state_from_enthalpy(mixed_J_kg, humidity, pressure, intake.temperature_K, False, 1e-5).temperature_K
    entering_K = mixed_K
    if not tower.blower_after_fill:
        warmed = air_state_from_enthalpy(mixed_J_kg + warming_J_kg, humidity, pressure, mixed_K, False, 1e-5)
        entering_K = warmed.temperature_K
    mixed_m3_kg = specific_volume_m3_kg(mixed_K, humidity, pressure)
    entering_m3_kg = specific_volume_m3_kg(entering_K, humidity, pressure)
    leaving_m3_kg = specific_volume_m3_kg(exhaust.temperature_K, exhaust.humidity_ratio_kg_kg, pressure)
    handled_m3_kg = leaving_m3_kg if tower.blower_after_fill else mixed_m3_kg
    handled_humidity = exhaust.humidity_ratio_kg_kg if tower.blower_after_fill else humidity
    handled_density = (1.0 + handled_humidity) / handled_m3_kg
    mean_m3_kg = 0.5 * (entering_m3_kg + leaving_m3_kg)
    mean_density = (1.0 + 0.5 * (humidity + exhaust.humidity_ratio_kg_kg)) / mean_m3_kg
    loading = water_flow_kg_s / fill.area_m2
    heads = fill.loss_velocity_heads + fill.loss_velocity_heads_per_loading * loading + tower.other_loss_velocity_heads
    curve = blower_curve(blower)
    best_flow = blower_best_flow_m3_s(curve)

    def resistance_Pa(flow_m3_s: float) -> float:
        velocity = flow_m3_s / handled_m3_kg * mean_m3_kg / fill.area_m2
        duct = intake.duct_loss_Pa * (flow_m3_s / best_flow) ** 2 * handled_density / STANDARD_DENSITY_kg_m3
        return velocity_heads_loss_Pa(heads, mean_density, velocity) + duct

    flow = blower_operating_flow_m3_s(curve, handled_density, resistance_Pa)
    air_flow = flow / handled_m3_kg
    ratio = water_flow_kg_s / air_flow
    merkel = merkel_number_of_fill(tower, ratio)
    rate = rate_crossflow if tower.arrangement == CROSSFLOW else rate_counterflow
    rating = rate(
        water_temperature_K=water_temperature_K,
        water_flow_kg_s=water_flow_kg_s * heat_capacity_share,
        air_temperature_K=entering_K,
        air_humidity_ratio_kg_kg=humidity,
        dry_air_flow_kg_s=air_flow,
        pressure_Pa=pressure,
        merkel_number=merkel / heat_capacity_share,
        water_activity=water_activity,
    )
    shaft_W = blower_shaft_power_W(curve, flow, handled_density)
    return TowerRating(
        rating=rating,
        water_temperature_K=water_temperature_K,
        merkel_number=merkel,
        water_to_air_ratio=ratio,
        water_flow_kg_s=water_flow_kg_s,
        dry_air_flow_kg_s=air_flow,
        air_in_temperature_K=entering_K,
        air_in_humidity_ratio_kg_kg=humidity,
        blower_flow_m3_s=flow,
        blower_density_kg_m3=handled_density,
        blower_static_pressure_Pa=blower_static_pressure_Pa(curve, flow, handled_density),
        blower_shaft_power_W=shaft_W,
        blower_input_W=shaft_W / blower.motor_efficiency,
        exhaust_flow_m3_s=air_flow * leaving_m3_kg,
        face_velocity_m_s=air_flow * entering_m3_kg / fill.area_m2,
        water_loading_kg_s_m2=loading,
        evaporation_kg_s=rating.evaporation_kg_s,
        heat_to_air_W=rating.heat_to_air_W,
    )


def with_merkel_factor(tower: TowerPart, factor: float) -> TowerPart:
    """The same tower with its Merkel number scaled, for laws and what-ifs."""
    return replace(tower, fill=replace(tower.fill, merkel_coefficient=tower.fill.merkel_coefficient * factor))
