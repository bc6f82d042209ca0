"""Does the 95 % interval of a site prediction hold the true site capacity? Simulated units that follow another model.

Each unit is drawn at random around a design, tested in a shop on a random day with instruments that err, and then run
at the site of the guarantee, both by tests/other_unit.py, which knows nothing of the product's tower. The product gets
the readings alone. Spreads of the truth are drawn from distributions unlike the product's normal ones; where they are
wider or narrower than its stated spreads, that is what real shops do as well.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from multiprocessing import get_context

import numpy as np
from numpy.typing import NDArray

from other_unit import Blowers, Settled, Surroundings, Towers, WATER_J_kgK, saturated, settle
from vaporwright.acceptance.guarantee.site_prediction import SitePrediction, predict_site
from vaporwright.acceptance.guarantee.unit_fit import losses_W
from vaporwright.acceptance.run.log import Measured, SteadyReadings
from vaporwright.acceptance.steps.day import TEST_SEASON, DayConditions, job_on
from vaporwright.equipment.blower import blower_best_flow_m3_s
from vaporwright.foundation.errors import InputError
from vaporwright.properties.flue_gas import burn, gross_combustion_efficiency
from vaporwright.properties.liquor import density_kg_m3
from vaporwright.unit.air_path import blower_curve
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.balance import Conditions, clamp_of, conditions_of, operate
from vaporwright.unit.catalogue import HeatSourcePart
from vaporwright.unit.heat import FUELS, HeatSite, kind_of, rate_heat

Array = NDArray[np.float64]

ZERO = 273.15
BELOW_K, ABOVE_K = 12.0, 10.0  # of the tables, about where the design settles


@dataclass(frozen=True)
class Simulated:
    """One unit's test, as the product sees it, and what it truly does at the site."""

    readings: SteadyReadings
    conditions: Conditions
    site_kg_s: float


@dataclass(frozen=True)
class Checked:
    """One prediction against the truth, in percent of the guarantee."""

    error_percent: float
    half_width_percent: float
    truth_percent: float
    cycling: bool  # the test saw heat that went on and off
    merkel: float
    misfit: float

    @property
    def covered(self) -> bool:
        return abs(self.error_percent) <= self.half_width_percent


@dataclass
class _Truth:
    """What is random about the units themselves."""

    towers: Towers
    blowers: Blowers
    spray: Array
    drift_share: Array
    power: Array
    heat: Array
    excess_air: Array
    losses: Array
    surface: Array
    site_power: Array  # steps from the shop to the site, as factors
    site_heat: Array
    site_losses: Array
    site_merkel: Array
    site_air: Array
    site_spray: Array
    site_activity: Array


def _truth(answer: UnitAnswer, random: np.random.Generator, count: int, steps: float) -> _Truth:
    unit, fill = answer.unit, answer.unit.tower.fill
    kind = kind_of(unit.heat_source)

    def factor(spread: float) -> Array:
        return np.exp(spread * random.standard_normal(count))

    def even(low: float, high: float) -> Array:
        return random.uniform(low, high, count)

    def step(spread: float) -> Array:
        """A change from the shop to the site, of the standard deviation that unit_terms states times `steps`."""
        return factor(steps * spread)

    ratio = answer.seasons[answer.governing].operation.tower.water_to_air_ratio
    exponent = fill.merkel_exponent + even(-0.12, 0.12)
    at_ratio = fill.merkel_coefficient * ratio**fill.merkel_exponent * factor(0.18)
    uneven = even(0.0, 0.06)
    towers = Towers(
        merkel=at_ratio / ratio**exponent,
        exponent=exponent,
        per_10K=even(0.0, 0.03),
        lewis=even(0.85, 1.05),
        film_J_kgK=np.exp(even(math.log(1.5e5), math.log(1.5e6))),
        bypass=even(0.0, 0.06),
        uneven=uneven,
        uneven_air=even(0.0, 0.06),
    )
    part = unit.blower
    loading = unit.spray_flow_m3_s * 998.2 / unit.towers / fill.area_m2
    heads = fill.loss_velocity_heads + fill.loss_velocity_heads_per_loading * loading
    blowers = Blowers(
        part.flow_m3_s,
        part.static_pressure_Pa,
        part.density_kg_m3,
        blower_best_flow_m3_s(blower_curve(part)),
        unit.tower.blower_after_fill,
        fill.area_m2,
        factor(0.05),
        (heads + unit.tower.other_loss_velocity_heads) * factor(0.12),
    )
    return _Truth(
        towers=towers,
        blowers=blowers,
        spray=unit.spray_flow_m3_s * factor(0.05),
        drift_share=unit.tower.drift_fraction * factor(0.5),
        power=np.ones(count) if kind == "steam" else even(0.94, 1.05) if kind == "gas" else factor(0.02),
        heat=factor(0.02) if kind == "gas" else even(0.992, 1.0) if kind == "electric" else factor(0.20),
        excess_air=even(0.15, 0.40),
        losses=factor(0.25),
        surface=factor(0.3),
        site_power=step(0.0 if kind == "steam" else 0.01 if kind == "gas" else 0.003),
        site_heat=step({"gas": 0.007, "electric": 0.002, "steam": 0.03}[kind]),
        site_losses=step(0.15),
        site_merkel=step(0.027),
        site_air=step(0.03),
        site_spray=step(0.02),
        site_activity=step(0.15),
    )


def _days(answer: UnitAnswer, random: np.random.Generator, count: int) -> list[DayConditions]:
    air = random.uniform(286.0, 301.0, count)
    bulb = air - random.uniform(1.5, 8.0, count)
    pressure = random.uniform(0.96e5, 1.02e5, count)
    feed = random.uniform(283.0, 296.0, count)
    duct = random.uniform(0.0, 60.0, count)
    steam = kind_of(answer.unit.heat_source) == "steam"
    gauge = answer.job.number("utilities.steam_pressure") if steam else None
    volts = answer.job.number("utilities.supply_voltage")
    rows = zip(air, bulb, pressure, feed, duct, strict=True)
    return [
        DayConditions(float(a), float(b), float(p), 200.0, float(f), volts, float(d), steam_gauge_Pa=gauge)
        for a, b, p, f, d in rows
    ]


def _surroundings(
    answer: UnitAnswer,
    conditions: Sequence[Conditions],
    truth: _Truth,
    table: tuple[float, float],
    *,
    at_site: bool,
    recirculated: Array,
    storing: Array,
    gauge_error: Array,
) -> Surroundings:
    unit = answer.unit
    kind = kind_of(unit.heat_source)
    low, high = table[0] + ZERO, table[1] + ZERO
    columns: dict[str, list[float]] = {}

    def put(**values: float) -> None:
        for name, value in values.items():
            columns.setdefault(name, []).append(value)

    for place, given in enumerate(conditions):
        site = replace(
            given.heat_site,
            excess_air_fraction=float(truth.excess_air[place]) if kind == "gas" else 0.25,
            steam_gauge_pressure_Pa=given.heat_site.steam_gauge_pressure_Pa * (1.0 + float(gauge_error[place])),
            input_factor=float(truth.power[place]),
            heat_factor=float(truth.heat[place]),
        )
        heat = [rate_heat(unit.heat_source, site, bath).heat_W for bath in (low, high)]
        cold, hot = (operate(unit, given, bath, 0.0) for bath in (low, high))
        middle = 0.5 * (low + high)
        put(
            t_air=given.air.temperature_K - ZERO,
            w_air=given.air.humidity_ratio_kg_kg,
            pressure=given.pressure_Pa,
            duct_Pa=given.intake.duct_loss_Pa,
            feed=given.feed_temperature_K - ZERO,
            activity=cold.water_activity,
            density=density_kg_m3(given.liquor, middle),
            heat_capacity_share=cold.heat_capacity_share,
            heat_low_W=heat[0],
            heat_high_W=heat[1],
            loss_low_W=losses_W(cold.energy),
            loss_high_W=losses_W(hot.energy),
            surface_low_kg_s=cold.surface_evaporation_kg_s,
            surface_high_kg_s=hot.surface_evaporation_kg_s,
            pump_W=cold.energy.pump_W,
        )
    found = {name: np.array(values) for name, values in columns.items()}
    for name, factor in (("loss", truth.losses), ("surface", truth.surface)):
        unit_name = "W" if name == "loss" else "kg_s"
        for end in ("low", "high"):
            found[f"{name}_{end}_{unit_name}"] = found[f"{name}_{end}_{unit_name}"] * factor
    if at_site:
        found["heat_low_W"] = found["heat_low_W"] * truth.site_heat * truth.site_power
        found["heat_high_W"] = found["heat_high_W"] * truth.site_heat * truth.site_power
        found["loss_low_W"] = found["loss_low_W"] * truth.site_losses
        found["loss_high_W"] = found["loss_high_W"] * truth.site_losses
        found["activity"] = 1.0 - (1.0 - found["activity"]) * truth.site_activity
    return Surroundings(recirculated=recirculated, storing_W=storing * found["heat_low_W"], **found)


def simulated_tests(
    answer: UnitAnswer, count: int, seed: int, steps: float = 1.0, *, clocked: bool = True
) -> list[Simulated]:
    """Random units of one design, tested and run at the site.

    Args: steps: widens what changes between the two; clocked: full heat was clocked or weighed apart from the run.
    """
    random = np.random.default_rng(seed)
    truth = _truth(answer, random, count, steps)
    days = _days(answer, random, count)
    on_day = [_test_conditions(answer, day) for day in days]
    governing = answer.seasons[answer.governing]
    centre = governing.settling_temperature_K - ZERO
    table = centre - BELOW_K, centre + ABOVE_K
    unit, nothing = answer.unit, np.zeros(count)
    drift = truth.drift_share * truth.spray * 998.0
    test = settle(
        truth.towers,
        unit.towers,
        truth.blowers,
        truth.spray,
        drift,
        _surroundings(
            answer,
            on_day,
            truth,
            table,
            at_site=False,
            recirculated=random.uniform(0.0, 0.05, count),
            storing=random.uniform(-0.0087, 0.0087, count),
            gauge_error=0.01 * random.standard_normal(count),
        ),
        table,
        clamp_of(unit, on_day[0])[0] - ZERO,
    )
    site = settle(
        replace(truth.towers, merkel=truth.towers.merkel * truth.site_merkel),
        unit.towers,
        replace(truth.blowers, speed=truth.blowers.speed * truth.site_air),
        truth.spray * truth.site_spray,
        drift,
        _surroundings(
            answer,
            [governing.conditions] * count,
            truth,
            table,
            at_site=True,
            recirculated=nothing + governing.conditions.intake.recirculated_share,
            storing=nothing,
            gauge_error=nothing,
        ),
        table,
        governing.clamp_K - ZERO,
    )
    readings = _readings(answer, truth, drift, days, on_day, test, random, clocked)
    return [
        Simulated(found, given, float(true))
        for found, given, true in zip(readings, on_day, site.evaporation, strict=True)
    ]


def _test_conditions(answer: UnitAnswer, day: DayConditions) -> Conditions:
    return conditions_of(job_on(answer.job, day), TEST_SEASON)


def _readings(
    answer: UnitAnswer,
    truth: _Truth,
    drift: Array,
    days: Sequence[DayConditions],
    on_day: Sequence[Conditions],
    test: Settled,
    random: np.random.Generator,
    clocked: bool,
) -> list[SteadyReadings]:
    """What the instruments say: limits as common practice has them, temperatures rectangular, flows normal."""

    def flow(true: float, share: float) -> Measured:
        return Measured(true * math.exp(share * random.standard_normal()), true * share)

    def degrees(true: float, limit_K: float) -> Measured:
        return Measured(true + ZERO + float(random.uniform(-limit_K, limit_K)), limit_K / math.sqrt(3.0))

    found = []
    for place, day in enumerate(days):
        traced, whole = random.random() < 0.5, random.random()
        scale = random.choice([0.004, 0.008])
        unknown_drift = 0.0
        if not traced:  # the design's drift was taken off
            design = answer.unit.tower.drift_fraction * answer.unit.spray_flow_m3_s * 998.0
            unknown_drift = float(drift[place]) - design
        evaporation = float(test.evaporation[place])
        seen = flow(evaporation + unknown_drift, scale)
        t_bulb = _bulb(float(test.t_mixed[place]), float(test.w_mixed[place]), day.pressure_Pa)
        # Exhaust drawn in again comes in streaks: the psychrometer misses a part of it.
        missed = float(random.uniform(0.0, 0.3))
        t_inlet = float(test.t_mixed[place]) - missed * (float(test.t_mixed[place]) - (day.air_temperature_K - ZERO))
        bulb = t_bulb - missed * (t_bulb - (day.wet_bulb_K - ZERO))
        air = degrees(t_inlet, 0.28)
        wet = degrees(bulb, 0.5)
        if wet.value > air.value:
            wet = Measured(air.value, wet.standard_uncertainty)
        t_out, w_out = float(test.exhaust_air[place]), float(test.exhaust_humidity[place])
        bulb_out = _bulb(t_out, w_out, day.pressure_Pa)
        exhaust_error = 0.8 * float(random.standard_normal())  # where in the duct it was read
        exhaust = degrees(t_out + exhaust_error, 0.5)
        exhaust_bulb = degrees(min(bulb_out + 0.6 * exhaust_error, exhaust.value - ZERO), 0.5)
        heat = _heat_readings(answer, truth, on_day[place], test, place, random, clocked)
        found.append(
            SteadyReadings(
                evaporation_kg_s=seen,
                tank_temperature_K=degrees(float(test.tank[place]), 0.28),
                inlet_air_temperature_K=air,
                inlet_wet_bulb_K=wet,
                pressure_Pa=Measured(day.pressure_Pa + float(random.uniform(-150, 150)), 87.0),
                feed_temperature_K=degrees(day.water_temperature_K - ZERO, 0.28),
                spray_flow_m3_s=flow(float(truth.spray[place]), 0.017) if whole > 0.1 else None,
                return_temperature_K=degrees(float(test.water_out[place]) + 0.15 * random.standard_normal(), 0.28),
                air_flow_m3_s=flow(float(test.blower_m3_s[place]), 0.04) if whole > 0.2 else None,
                exhaust_temperature_K=exhaust if whole < 0.9 else None,
                exhaust_wet_bulb_K=exhaust_bulb if whole < 0.9 else None,
                room_temperature_K=degrees(day.air_temperature_K - ZERO, 0.28),
                drift_kg_s=flow(float(drift[place]), 0.2) if traced else None,
                **heat,
            )
        )
    return found


def _heat_readings(
    answer: UnitAnswer,
    truth: _Truth,
    given: Conditions,
    test: Settled,
    place: int,
    random: np.random.Generator,
    clocked: bool,
) -> dict[str, Measured | None]:
    part, kind = answer.unit.heat_source, kind_of(answer.unit.heat_source)
    bath, clamp = float(test.tank[place]) + ZERO, clamp_of(answer.unit, given)[0] - ZERO
    site = replace(
        given.heat_site,
        excess_air_fraction=float(truth.excess_air[place]) if kind == "gas" else 0.25,
        input_factor=float(truth.power[place]),
        heat_factor=float(truth.heat[place]),
    )
    rated = rate_heat(part, site, bath)
    drawn = rated.drawn_W * float(test.load[place])
    share = {"gas": 0.01, "electric": 0.005, "steam": 0.008}[kind]
    found: dict[str, Measured | None] = {
        "heat_drawn_W": Measured(drawn * math.exp(share * random.standard_normal()), drawn * share)
    }
    if clocked:
        found |= _clocked(part, site, kind, clamp, share, random)
    if kind != "gas":
        return found
    combustion = burn(FUELS[site.fuel], float(truth.excess_air[place]), given.air.humidity_ratio_kg_kg)
    casing = float(random.uniform(0.0, 0.02))
    low, high = 350.0, 1100.0
    for _ in range(40):
        stack = 0.5 * (low + high)
        by_stack = gross_combustion_efficiency(combustion, stack, given.air.temperature_K)
        low, high = (stack, high) if by_stack > rated.efficiency + casing else (low, stack)
    oxygen = combustion.oxygen_dry_fraction
    return found | {
        "stack_temperature_K": Measured(stack + float(random.uniform(-3, 3)), 1.7),
        "flue_oxygen": Measured(max(oxygen + float(random.uniform(-0.003, 0.003)), 0.002), 0.0017),
    }


def _clocked(
    part: HeatSourcePart, site: HeatSite, kind: str, clamp: float, share: float, random: np.random.Generator
) -> dict[str, Measured | None]:
    """Ten minutes at full heat, the meter of the run beside a stopwatch, in a tank that warms under its set point.

    What the coil gives is the mean over that rise; the technician has the mean of begin and end, a kelvin uncertain.
    Steam stands as it did in the run, and what is left of its dryness is in the share.
    """
    begin = clamp + ZERO - float(random.uniform(6.0, 14.0))
    rise = float(random.uniform(0.0, 6.0))
    true = np.mean([rate_heat(part, site, begin + rise * place / 4.0).drawn_W for place in range(5)])
    by_hand = 0.005 if kind != "steam" else math.hypot(0.005, 0.01)
    whole = math.hypot(share, by_hand)
    seen = float(true) * math.exp(whole * random.standard_normal())
    middle = begin + 0.5 * rise + random.standard_normal()
    return {
        "full_heat_W": Measured(seen, float(true) * whole),
        "full_heat_bath_K": Measured(middle, 1.0) if kind == "steam" else None,
    }


def _bulb(t: float, w: float, pressure: float) -> float:
    """Adiabatic saturation of this model's own air."""
    low, high = -20.0, t
    for _ in range(40):
        bulb = 0.5 * (low + high)
        ws = float(saturated(np.array(bulb), np.array(pressure)))
        given = 1006.0 * t + w * (2.501e6 + 1860.0 * t) + (ws - w) * WATER_J_kgK * bulb
        full = 1006.0 * bulb + ws * (2.501e6 + 1860.0 * bulb)
        low, high = (bulb, high) if full < given else (low, bulb)
    return bulb


def checked(answer: UnitAnswer, one: Simulated) -> Checked:
    """One prediction against its truth."""
    found = predict_site(one.readings, one.conditions, answer, seasons=())
    return _against(answer, one, found)


def _against(answer: UnitAnswer, one: Simulated, found: SitePrediction) -> Checked:
    truth = 100.0 * one.site_kg_s / answer.capacity_kg_s
    merkel = next(factor.value for factor in found.factors if factor.name == "merkel")
    cycling = bool({notice.name for notice in found.notices} & {"heat cycled", "full heat not seen"})
    return Checked(found.capability_percent - truth, found.half_width_percent, truth, cycling, merkel, found.misfit)


@dataclass(frozen=True)
class Study:
    """All predictions of one design, and what was said where there was none."""

    checked: tuple[Checked, ...]
    refused: tuple[str, ...]

    @property
    def covered(self) -> int:
        """Units whose true capacity lies in their interval; a refusal is none of them."""
        return sum(entry.covered for entry in self.checked)

    @property
    def count(self) -> int:
        return len(self.checked) + len(self.refused)


def _checked_all(work: tuple[UnitAnswer, int, int, float, bool]) -> Study:
    answer, count, seed, steps, clocked = work
    found, refused = [], []
    for one in simulated_tests(answer, count, seed, steps, clocked=clocked):
        try:
            found.append(checked(answer, one))
        except InputError as error:
            refused.append(str(error))
    return Study(tuple(found), tuple(refused))


def study(
    answer: UnitAnswer, count: int, seed: int, processes: int = 2, steps: float = 1.0, *, clocked: bool = True
) -> Study:
    """So many units of one design; arguments as of `simulated_tests`."""
    if processes == 1:
        return _checked_all((answer, count, seed, steps, clocked))
    counts = [len(range(first, count, processes)) for first in range(processes)]
    shares = [(answer, part, 1000 * seed + place, steps, clocked) for place, part in enumerate(counts)]
    with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
        found = list(pool.map(_checked_all, shares))
    return Study(
        tuple(entry for part in found for entry in part.checked),
        tuple(words for part in found for words in part.refused),
    )
