"""Laws of the simulated unit: its balances close, its steady state is what `settle` says, small steps change nothing.

For the three demo enquiries: a gas, an electric and a steam unit.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import pytest

from vaporwright.files.catalogue_file import read_catalogue_file
from vaporwright.files.job_file import read_job_file
from vaporwright.properties.liquor import Liquor, density_kg_m3, heat_capacity_J_kgK
from vaporwright.properties.water import liquid_enthalpy_J_kg, liquid_heat_capacity_J_kgK
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.assembly import WATER_DENSITY_kg_m3
from vaporwright.unit.balance import SeasonResult, pump_shaft_power_W
from vaporwright.unit.job import build_job
from vaporwright.unit.levels import LevelStack, levels_of, refill_of
from vaporwright.unit.plant import Plant
from vaporwright.unit.plant_design import PlantDesign, plant_design
from vaporwright.unit.plant_state import PlantInputs, PlantTotals
from vaporwright.unit.sizing import size_unit
from vaporwright.unit.warm_up import warm_up

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
UNITS = ("tumbling_effluent_gas", "nickel_rinse_electric", "coolant_wash_steam")
RUNNING = PlantInputs(heat_load=1.0, air_share=1.0, pump_share=1.0, spray_open=1.0)
REFILLING = replace(RUNNING, refill_valve_open=True, refill_second_valve_open=True)
DAY_s = 86_400


@dataclass(frozen=True)
class Case:
    answer: UnitAnswer
    season: SeasonResult
    stack: LevelStack
    design: PlantDesign

    def height_m(self, mark: str) -> float:
        return self.stack.mark(mark).height_m  # type: ignore[arg-type]

    def plant(self, temperature_K: float, level_m: float | None = None) -> Plant:
        at_m = self.height_m("refill-off") if level_m is None else level_m
        return Plant(self.design, level_m=at_m, temperature_K=temperature_K)


@lru_cache
def case(name: str, season: str = "") -> Case:
    job_file = read_job_file(EXAMPLES / f"{name}.toml")
    job = build_job(job_file.values)
    answer = size_unit(job, read_catalogue_file(job_file.catalogue)).answer
    result = answer.seasons[season or answer.governing]
    stack = levels_of(answer)
    return Case(answer, result, stack, plant_design(job, answer.unit, result.conditions, stack))


@lru_cache
def refilled_day(name: str) -> tuple[Plant, tuple[PlantInputs, ...], tuple[float, float, float, float]]:
    """A day on its heat, refilled between its rods: the plant and its inputs.

    Then mass, heat by publication, heat by the plant, and salt at the start.
    """
    this = case(name)
    on_m, off_m = this.height_m("refill-on"), this.height_m("refill-off")
    subject = this.plant(this.season.settling_temperature_K)
    start = (subject.mass_kg, stored_J(subject), subject.energy_J, subject.salt_kg)
    record = []
    inputs = RUNNING
    for _ in range(DAY_s):
        if inputs is RUNNING and subject.level_m < on_m:
            inputs = REFILLING
        elif inputs is REFILLING and subject.level_m > off_m:
            inputs = RUNNING
        subject.step(inputs)
        record.append(inputs)
    return subject, tuple(record), start


def stored_J(subject: Plant) -> float:
    """Heat of the liquor from its published heat capacity at its strength, and of the heater's metal."""
    state = subject.state
    total = state.heater_W * subject.design.heater_lag_s
    for water_kg, salt_kg, temperature_K in (
        (state.water_kg, state.salt_kg, state.temperature_K),
        (state.tower_water_kg, state.tower_salt_kg, state.return_temperature_K),
    ):
        mass_kg = water_kg + salt_kg
        if mass_kg > 0.0:
            total += water_kg * liquid_enthalpy_J_kg(temperature_K)
            total += mass_kg * salt_part_J_kg(salt_kg / mass_kg, temperature_K)
    return total


def salt_part_J_kg(solids: float, temperature_K: float) -> float:
    """Enthalpy of a kilogram of liquor beyond that of its water, from 273.15 K."""
    liquor, steps = Liquor(solids), 40
    width_K = (temperature_K - 273.15) / steps
    places = [273.15 + (index + 0.5) * width_K for index in range(steps)]
    return sum(
        width_K * (heat_capacity_J_kgK(liquor, place) - (1.0 - solids) * liquid_heat_capacity_J_kgK(place))
        for place in places
    )


@pytest.mark.slow
@pytest.mark.parametrize("name", UNITS)
def test_water_heat_and_salt_of_a_refilled_day_close(name: str) -> None:
    subject, record, (mass_kg, energy_J, by_plant_J, salt_kg) = refilled_day(name)
    totals, unit, season = subject.totals, case(name).answer.unit, case(name).season
    assert sum(1 for before, after in pairwise(record) if before is not after) > 3
    assert subject.mass_kg - mass_kg == pytest.approx(totals.mass_gained_kg, abs=1e-3 * totals.feed_kg)
    assert abs(stored_J(subject) - energy_J - totals.energy_gained_J) < 1e-3 * totals.heat_source_J
    assert abs(subject.energy_J - by_plant_J - totals.energy_gained_J) < 1e-6 * totals.heat_source_J
    salt_in_kg = totals.feed_kg * subject.design.feed_solids_kg_kg
    assert subject.salt_kg - salt_kg == pytest.approx(salt_in_kg - totals.salt_out_kg, rel=1e-9)
    # The terms themselves, from what is known without the plant.
    feed_J_kg = liquid_enthalpy_J_kg(season.conditions.feed_temperature_K)
    assert totals.feed_J == pytest.approx(totals.feed_kg * feed_J_kg, rel=2e-2)  # its salt carries less
    pump_W = pump_shaft_power_W(unit, density_kg_m3(season.conditions.liquor, season.settling_temperature_K))
    assert totals.pump_J == pytest.approx(DAY_s * pump_W, rel=2e-2)  # the liquor grows heavier
    assert totals.heat_source_J == pytest.approx(DAY_s * season.heat.heat_W, rel=5e-3)
    assert totals.evaporation_kg == pytest.approx(DAY_s * season.evaporation_kg_s, rel=1e-2)
    assert totals.drift_kg == pytest.approx(DAY_s * season.operation.drift_kg_s, rel=2e-2)


@pytest.mark.slow
@pytest.mark.parametrize("name", UNITS)
def test_on_trickle_feed_the_unit_settles_where_settle_says(name: str) -> None:
    for season in ("summer", "winter"):
        this = case(name, season)
        result = this.season
        trickle_m3_s = result.operation.feed_kg_s / this.design.feed_kg_m3
        subject = this.plant(result.settling_temperature_K - 3.0)
        inputs = replace(RUNNING, trickle_m3_s=trickle_m3_s)
        for _ in range(8 * 3600):
            subject.step(inputs)
        before = copy.copy(subject.totals)
        for _ in range(3600):
            subject.step(inputs)
        hour = subject.totals.since(before)
        feed_K = result.conditions.feed_temperature_K
        rise_K, settled_K = subject.state.temperature_K - feed_K, result.settling_temperature_K - feed_K
        assert rise_K == pytest.approx(settled_K, rel=5e-3)
        assert abs(subject.state.slope_K_s) < 1e-5
        operation, energy = result.operation, result.operation.energy
        terms = (
            (hour.surface_evaporation_kg, operation.surface_evaporation_kg_s),
            (hour.drift_kg, operation.drift_kg_s),
            (hour.heat_source_J, energy.heat_source_W),
            (hour.pump_J, energy.pump_W),
            (hour.tower_air_J, energy.tower_air_W),
            (hour.surface_vapour_J, energy.surface_vapour_W),
            (hour.surface_dry_J, energy.surface_dry_W),
            (hour.walls_J, energy.walls_W),
            (hour.piping_J, energy.piping_W),
        )
        assert hour.evaporation_kg == pytest.approx(3600.0 * result.evaporation_kg_s, rel=5e-3)
        for index, (found, rate) in enumerate(terms):
            # Wider: the liquor gains strength over the nine hours, so that pump and drift move a heavier one.
            assert found == pytest.approx(3600.0 * rate, rel=1.5e-2), index
        returned_K = result.operation.tower.rating.water_out_temperature_K
        assert subject.state.return_temperature_K == pytest.approx(returned_K, abs=0.5)
        assert abs(hour.feed_kg - hour.evaporation_kg - hour.drift_kg) < 5e-3 * hour.feed_kg


@pytest.mark.parametrize("name", UNITS)
def test_warm_up_takes_the_time_that_warm_up_says(name: str) -> None:
    this = case(name)
    times = warm_up(this.answer.unit, this.season)
    tank = this.answer.unit.tank
    volume_m3 = tank.length_m * tank.width_m * tank.working_depth_m
    shut = replace(RUNNING, spray_open=0.0)
    quiet = this.plant(times.start_K, this.design.level_m(volume_m3))
    assert times.tower_off_s is not None
    assert seconds_until(quiet, lambda: shut, times.target_K) == pytest.approx(times.tower_off_s, rel=0.03)
    assert quiet.totals.tower_evaporation_kg == 0.0


@pytest.mark.slow
@pytest.mark.parametrize("name", UNITS)
def test_with_the_spray_on_warm_up_stalls(name: str) -> None:
    this = case(name)
    times = warm_up(this.answer.unit, this.season)
    tank = this.answer.unit.tank
    volume_m3 = tank.length_m * tank.width_m * tank.working_depth_m
    subject = this.plant(times.start_K, this.design.level_m(volume_m3))
    latest = RUNNING

    def fed_back() -> PlantInputs:
        # What has left is fed again, as the steady balance of `warm_up` takes it.
        nonlocal latest
        if subject.state.time_s % 10.0 == 0.0:
            owed_kg = subject.totals.evaporation_kg + subject.totals.drift_kg - subject.totals.feed_kg
            flow_m3_s = max(owed_kg, 0.0) / 60.0 / this.design.feed_kg_m3
            latest = replace(RUNNING, trickle_m3_s=flow_m3_s)
        return latest

    assert times.stalls_at_K is not None
    assert times.tower_on_s is not None
    seconds = seconds_until(subject, fed_back, times.target_K - 1.0)
    assert seconds == pytest.approx(times.tower_on_s, rel=0.04)
    for _ in range(6 * 3600):
        subject.step(fed_back())
    assert subject.state.temperature_K == pytest.approx(times.stalls_at_K, abs=0.3)


def seconds_until(subject: Plant, inputs: Callable[[], PlantInputs], temperature_K: float) -> int:
    for second in range(DAY_s):
        if subject.state.temperature_K >= temperature_K:
            return second
        subject.step(inputs())
    raise AssertionError(f"{temperature_K} K not reached in a day")


@pytest.mark.parametrize("name", UNITS)
def test_a_refill_cools_a_resting_tank_by_its_mixing_sag(name: str) -> None:
    # The same tank without the refill tells what it loses meanwhile.
    this = case(name)
    cycle = refill_of(this.answer, this.stack)
    start_K = this.answer.seasons[this.answer.governing].settling_temperature_K
    refilled, left = (this.plant(start_K, this.height_m("refill-on")) for _ in range(2))
    while refilled.level_m < this.height_m("refill-off"):
        refilled.step(replace(REFILLING, heat_load=0.0, air_share=0.0, pump_share=0.0))
        left.step(PlantInputs())
    sag_K = left.state.temperature_K - refilled.state.temperature_K
    assert sag_K == pytest.approx(cycle.sag_difference_K, rel=0.03)  # the feed shrinks nothing, hot liquor does


@pytest.mark.slow
@pytest.mark.parametrize("name", UNITS)
def test_a_refill_of_the_running_unit_sags_by_what_refill_cycle_says(name: str) -> None:
    # Running, the liquor in header and tower takes part (less sag), and the colder tank evaporates less (less sag).
    this = case(name)
    cycle = refill_of(this.answer, this.stack)
    subject = this.plant(this.season.settling_temperature_K)
    tops, bottoms, starts = [], [], []
    inputs = RUNNING
    for second in range(12 * 3600):
        before = inputs
        if inputs is RUNNING and subject.level_m < this.height_m("refill-on"):
            inputs = REFILLING
        elif inputs is REFILLING and subject.level_m > this.height_m("refill-off"):
            inputs = RUNNING
        if before is RUNNING and inputs is REFILLING:
            tops.append(subject.state.temperature_K)
            starts.append(second)
        if before is REFILLING and inputs is RUNNING and tops:
            bottoms.append(subject.state.temperature_K)
        subject.step(inputs)
    sag_K = tops[len(bottoms) - 1] - bottoms[-1]
    feed_K = this.season.conditions.feed_temperature_K
    hotter = (tops[len(bottoms) - 1] - feed_K) / (this.season.settling_temperature_K - feed_K)
    assert 0.7 * hotter * cycle.sag_difference_K < sag_K < 1.02 * hotter * cycle.sag_difference_K
    assert cycle.period_s is not None
    assert starts[-1] - starts[-2] == pytest.approx(cycle.period_s, rel=0.05)


def differing_share(one: PlantTotals, other: PlantTotals) -> float:
    masses = ("evaporation_kg", "drift_kg", "overflowed_kg", "drained_kg")
    energies = ("surface_vapour_J", "tower_air_J", "walls_J", "heat_source_J")
    return max(
        abs(getattr(one, name) - getattr(other, name)) / max(getattr(one, name), 1e-9) for name in masses + energies
    )


def eventful_day(this: Case) -> Iterable[PlantInputs]:
    """Cold start, warm-up, run with refills by the clock, a stuck refill, a weak spray, stop, drain."""
    warming = PlantInputs(heat_load=1.0, pump_share=1.0, air_share=0.0)
    weak = replace(RUNNING, nozzle_share=0.6, air_share=0.8, heat_load=0.7)
    period_s = 3600
    feed_s = int(period_s * this.season.operation.feed_kg_s / (this.design.refill_m3_s * this.design.feed_kg_m3))
    for second in range(DAY_s):
        hour, past = divmod(second, period_s)
        if hour < 1:
            yield warming
        elif hour < 16:
            yield REFILLING if past < feed_s else RUNNING
        elif hour < 18:
            yield REFILLING
        elif hour < 22:
            yield weak
        else:
            yield PlantInputs(drain_opening=0.3 if hour == 23 else 0.0)


@pytest.mark.slow
@pytest.mark.parametrize("name", UNITS)
def test_halving_the_step_hardly_changes_a_day(name: str) -> None:
    this = case(name)
    apart_K = 0.0
    whole, halves = (this.plant(this.season.conditions.feed_temperature_K) for _ in range(2))
    for inputs in eventful_day(this):
        whole.step(inputs)
        halves.step(inputs, 0.5)
        halves.step(inputs, 0.5)
        if whole.mass_kg > 100.0:  # the temperature of the last dregs of a drained tank is nobody's
            apart_K = max(apart_K, abs(whole.state.temperature_K - halves.state.temperature_K))
    assert whole.totals.overflowed_kg > 10.0
    assert whole.totals.drained_kg > 10.0
    assert differing_share(whole.totals, halves.totals) < 1e-4
    assert apart_K < 0.02
    assert whole.mass_kg < 0.1


@pytest.mark.slow
def test_the_same_inputs_give_the_same_day() -> None:
    subject, record, _ = refilled_day(UNITS[1])
    this = case(UNITS[1])
    again = this.plant(this.season.settling_temperature_K)
    for inputs in record:
        again.step(inputs)
    assert again.state == subject.state
    assert again.totals == subject.totals


def test_a_colder_return_cools_the_tank_when_it_drains_back() -> None:
    # What the tower and its return hold is colder than the tank: the mix of both is what the stopped tank shows.
    this = case(UNITS[0])
    subject = this.plant(this.season.settling_temperature_K)
    for _ in range(600):
        subject.step(RUNNING)
    state = copy.copy(subject.state)
    held_kg, tank_kg = state.tower_water_kg + state.tower_salt_kg, state.water_kg + state.salt_kg
    mixed_K = (held_kg * state.return_temperature_K + tank_kg * state.temperature_K) / (held_kg + tank_kg)
    still = Plant(this.design, level_m=subject.level_m, temperature_K=state.temperature_K)
    for _ in range(400):
        subject.step(PlantInputs())
        still.step(PlantInputs())
    lost_K = state.temperature_K - still.state.temperature_K
    metal_K = state.heater_W * this.design.heater_lag_s / ((held_kg + tank_kg) * 4.0e3)
    drop_K = state.temperature_K - subject.state.temperature_K
    assert state.temperature_K - mixed_K > 0.2
    assert drop_K == pytest.approx(state.temperature_K - mixed_K + lost_K - metal_K, abs=0.02)
    expected_kg = 0.75 * this.answer.job.number("choices.drain_back")
    expected_kg *= this.answer.unit.tank.length_m * this.answer.unit.tank.width_m * WATER_DENSITY_kg_m3
    assert held_kg == pytest.approx(expected_kg, rel=0.05)
