"""A performance run while it goes on and when it is over: steady or not, void or not, and why."""

from __future__ import annotations

from dataclasses import replace

import pytest

from run_simulator import OnTest, RunOptions, SimulatedRun, on_test, simulate_run
from vaporwright.acceptance.run.log import RunLog
from vaporwright.acceptance.run.performance_run import (
    GO_ON,
    NOT_YET,
    VOID,
    LiveState,
    RunEvaluation,
    evaluate_run,
    live_state,
)
from vaporwright.acceptance.run.span import RunBasis
from vaporwright.acceptance.steps.outcomes import ACCEPTED, NOT_RUN, TEST_ERROR, UNDECIDED
from vaporwright.foundation.errors import InputError

KINDS = ("gas", "electric", "steam")
HEAT_METERS = ("gas_volume_standard_m3", "electric_energy_J", "condensate_mass_kg")


def run(kind: str, seed: int = 3, **options: object) -> tuple[OnTest, SimulatedRun]:
    given = on_test(kind)
    simulated = simulate_run(
        given.unit,
        given.conditions,
        given.stack,
        seed=seed,
        options=RunOptions(**options),  # type: ignore[arg-type]
    )
    return given, simulated


def evaluated(given: OnTest, log: RunLog, **basis: object) -> RunEvaluation:
    return evaluate_run(
        log,
        given.unit,
        given.conditions,
        given.stack,
        basis=RunBasis(**basis),  # type: ignore[arg-type]
    )


def live(given: OnTest, log: RunLog, until_s: float) -> LiveState:
    return live_state(log.between(0.0, until_s), given.unit, given.conditions, given.stack)


def changed(log: RunLog, name: str, change: dict[int, float | None]) -> RunLog:
    values = list(log.columns[name])
    for place, value in change.items():
        values[place] = value
    return RunLog(log.times_s, {**log.columns, name: tuple(values)})


@pytest.mark.parametrize("kind", KINDS)
def test_a_good_run_is_accepted_and_finds_the_truth(kind: str) -> None:
    given, simulated = run(kind)
    found = evaluated(given, simulated.log)
    assert (found.outcome, found.reasons, found.notices) == (ACCEPTED, (), ())
    begin_s, end_s = found.steadiness.begin_s, found.steadiness.end_s
    assert begin_s is not None
    assert end_s is not None
    assert end_s - begin_s >= 2.0 * 3600.0
    truth = simulated.evaporation_kg_s(begin_s, end_s)
    assert found.evaporation_kg_s is not None
    assert found.expanded_kg_s is not None
    assert abs(found.evaporation_kg_s.value - truth) < found.expanded_kg_s < 0.05 * truth
    assert found.hours is not None
    assert found.hours.agree
    assert {closure.state for closure in found.balances.closures} == {"closes"}  # type: ignore[union-attr]


@pytest.mark.parametrize("kind", KINDS)
def test_steady_readings_are_the_units_own(kind: str) -> None:
    given, simulated = run(kind)
    readings = evaluated(given, simulated.log).readings
    settled = simulated.settled
    assert readings is not None
    assert readings.tank_temperature_K.value == pytest.approx(settled.settling_temperature_K, abs=0.3)
    assert readings.heat_drawn_W is not None
    assert readings.heat_drawn_W.value == pytest.approx(settled.fuel_or_power_W, rel=0.005)
    assert readings.spray_flow_m3_s is not None
    assert readings.spray_flow_m3_s.value == pytest.approx(given.unit.spray_flow_m3_s, rel=0.002)
    # Half of the expanded uncertainty of the instruments (3 %, 0.5 degF), scatter added.
    assert readings.spray_flow_m3_s.standard_uncertainty == pytest.approx(
        0.015 * readings.spray_flow_m3_s.value, rel=0.01
    )
    assert readings.tank_temperature_K.standard_uncertainty == pytest.approx(0.25 / 1.8, rel=0.1)


@pytest.mark.parametrize("gas_meter", [(268.15, 13_790.0), (303.15, 1_743.0)])
def test_gas_by_a_dial_is_brought_to_standard_conditions(gas_meter: tuple[float, float]) -> None:
    # A cold meter at 2 psi turns 18 % less than the standard volume; a warm one at 7 in. of water 4 % more.
    given, simulated = run("gas", gas_meter=gas_meter)
    rise = [simulated.log.series("gas_volume_meter_m3")[place][1] for place in (0, -1)]
    _, corrected = run("gas")
    standard = [corrected.log.series("gas_volume_standard_m3")[place][1] for place in (0, -1)]
    by_hand = (gas_meter[1] + given.conditions.pressure_Pa) / 101_325.0 * 288.706 / gas_meter[0]
    assert (standard[1] - standard[0]) / (rise[1] - rise[0]) == pytest.approx(by_hand, rel=1e-3)
    assert abs(by_hand - 1.0) > 0.035
    found = evaluated(given, simulated.log)
    assert (found.outcome, found.reasons, found.notices) == (ACCEPTED, (), ())
    assert found.readings is not None
    assert found.readings.heat_drawn_W is not None
    assert found.readings.heat_drawn_W.value == pytest.approx(simulated.settled.fuel_or_power_W, rel=0.005)
    # 1.5 % of the meter and 0.5 % of the heating value, and what gauge and thermometer leave open is little beside.
    assert found.readings.heat_drawn_W.standard_uncertainty == pytest.approx(
        0.0091 * found.readings.heat_drawn_W.value, rel=0.1
    )


@pytest.mark.parametrize("name", ["gas_meter_temperature_K", "gas_meter_gauge_Pa"])
def test_a_dial_without_its_temperature_or_pressure_gives_no_heat(name: str) -> None:
    given, simulated = run("gas", gas_meter=(290.0, 1_743.0), without=(name,))
    found = evaluated(given, simulated.log)
    assert found.balances is not None
    assert found.balances.heat_drawn_W is None
    open_for_it = found.balances.closure("heat by spray")
    assert (open_for_it.state, open_for_it.missing) == ("not measured", (name,))


def test_what_a_screen_shows_through_a_good_run() -> None:
    given, simulated = run("gas")
    early = live(given, simulated.log, 1200.0)
    assert early.verdict == NOT_YET
    assert "settling" in {notice.name for notice in early.reasons}
    assert early.seconds_to_go == pytest.approx(5400.0 - 1200.0 + 7200.0)
    middle = live(given, simulated.log, 3.0 * 3600.0)
    assert (middle.verdict, middle.reasons, middle.check_first) == (GO_ON, (), ())
    assert middle.seconds_to_go == pytest.approx(1800.0, abs=300.0)
    late = live(given, simulated.log, 4.0 * 3600.0)
    assert late.seconds_to_go == 0.0
    assert early.expanded_kg_s is not None
    assert late.expanded_kg_s is not None
    assert late.expanded_kg_s < 0.5 * early.expanded_kg_s
    assert late.balances is not None
    assert late.balances.quick_kg_s == pytest.approx(late.balances.by_spray_kg_s.value, rel=0.08)  # type: ignore[union-attr]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    ("planted", "blamed"),
    [
        ({"gains": {"make_up_mass_kg": 0.75}}, "weighed drum"),
        ({"gains": {"make_up_mass_kg": 1.25}}, "weighed drum"),
        ({"gains": dict.fromkeys(HEAT_METERS, 1.25)}, {"gas": "gas clocked", "electric": "energy", "steam": "trap"}),
        ({"gains": {"spray_flow_m3_s": 1.25}}, "spray flow meter"),
        ({"air_beside_fill": 0.25}, "air traverse"),
    ],
)
def test_a_wrong_instrument_stops_the_run_within_the_hour_and_is_named(
    kind: str, planted: dict[str, object], blamed: str | dict[str, str]
) -> None:
    given, simulated = run(kind, calibration=0.5, **planted)
    state = live(given, simulated.log, 3600.0)
    word = blamed if isinstance(blamed, str) else blamed[kind]
    assert state.verdict == VOID
    assert state.seconds_to_go is None
    assert word in state.check_first[0]
    assert all(notice.name.startswith("balance open: ") for notice in state.reasons[:2])
    finished = evaluated(given, simulated.log)
    assert finished.outcome == TEST_ERROR
    assert word in finished.check_first[0]


def test_a_tank_that_is_still_warming_is_named() -> None:
    given, simulated = run("electric")
    log, times = simulated.log, simulated.log.times_s
    for name in ("tank_temperature_K", "return_temperature_K"):
        warmer = zip(times, log.columns[name], strict=True)
        ramp = {place: value + 0.8 * time_s / 3600.0 for place, (time_s, value) in enumerate(warmer) if value}
        log = changed(log, name, ramp)
    found = evaluated(given, log)
    assert found.outcome == UNDECIDED
    moving = {entry.channel: entry for entry in found.steadiness.moving}
    assert moving["tank_temperature_K"].an_hour.value == pytest.approx(0.8, abs=0.1)
    assert moving["tank_temperature_K"].limit == pytest.approx(1.0 / 1.8)
    assert "moving: tank_temperature_K" in {notice.name for notice in found.reasons}
    state = live(given, log, times[-1])
    assert state.verdict == NOT_YET
    assert not state.steady


def test_a_run_cut_short_counts_as_not_run() -> None:
    given, simulated = run("electric", hours=3.0)
    found = evaluated(given, simulated.log)
    assert found.outcome == NOT_RUN
    assert found.evaporation_kg_s is None
    assert found.reasons[0].figures[0][0] == pytest.approx(3.0 * 3600.0)


def test_hours_that_disagree_leave_it_undecided() -> None:
    # Five per cent more on the scale in the last hour, and the level none the higher.
    given, simulated = run("electric")
    log = simulated.log
    total = log.columns["make_up_mass_kg"]
    rate = (total[-1] - total[-61]) / 3600.0  # type: ignore[operator]
    more = {place: value + 0.05 * rate * max(time_s - 10800.0, 0.0) for place, (time_s, value) in enumerate(
        zip(log.times_s, total, strict=True)) if value is not None}  # fmt: skip
    found = evaluated(given, changed(log, "make_up_mass_kg", more))
    assert found.outcome == UNDECIDED
    assert [notice.name for notice in found.reasons] == ["hours disagree"]
    assert found.hours is not None
    assert found.hours.difference == pytest.approx(0.05, abs=0.01)


def test_a_pump_that_stopped_is_named() -> None:
    given, simulated = run("electric", pump_stops_h=2.5)
    found = evaluated(given, simulated.log)
    assert found.outcome == UNDECIDED
    assert "pump stopped" in {notice.name for notice in found.reasons}


def test_a_leak_is_taken_off_and_named() -> None:
    given, _ = run("gas")
    leak_kg_s = 0.001 * given.unit.spray_flow_m3_s * 985.0
    given, simulated = run("gas", leak_kg_s=leak_kg_s)
    found = evaluated(given, simulated.log)
    assert [notice.name for notice in found.notices] == ["leak suspected"]
    assert found.evaporation_kg_s is not None
    truth = simulated.evaporation_kg_s(5400.0, 14400.0)
    assert found.evaporation_kg_s.value == pytest.approx(truth, rel=0.02)
    without = evaluated(given, RunLog(simulated.log.times_s, {
        name: values for name, values in simulated.log.columns.items() if name != "tracer_kg_m3"}))  # fmt: skip
    assert without.evaporation_kg_s is not None
    assert without.evaporation_kg_s.value > 1.05 * truth  # without a tracer a leak passes for evaporation


def test_the_level_checks_the_meter() -> None:
    given, good = run("steam", hours=4.5, isolated_h=(3.75, 4.4))
    found = evaluated(given, good.log)
    assert found.level_agrees is not None
    assert found.level_agrees.agrees
    assert found.notices == ()
    given, wrong = run("steam", hours=4.5, isolated_h=(3.75, 4.4), gains={"make_up_mass_kg": 1.12})
    assert "level and make-up disagree" in {notice.name for notice in evaluated(given, wrong.log).notices}


def test_scale_and_meter_check_each_other() -> None:
    given, good = run("electric", metered=True)
    assert evaluated(given, good.log).notices == ()
    given, wrong = run("electric", metered=True, gains={"make_up_volume_m3": 1.05})
    assert [notice.name for notice in evaluated(given, wrong.log).notices] == ["make-up meters disagree"]


def test_departures_from_the_stated_limits_leave_it_undecided() -> None:
    given, simulated = run("electric")
    found = evaluated(given, simulated.log, departures=("wet bulb",))
    assert (found.outcome, found.departures) == (UNDECIDED, ("wet bulb",))
    assert [notice.name for notice in found.reasons] == ["departure"]


@pytest.mark.parametrize("name", ["make_up_mass_kg", "stilling_level_m", "inlet_wet_bulb_K", "barometer_Pa"])
def test_a_channel_that_no_run_can_do_without(name: str) -> None:
    given, simulated = run("electric", without=(name,))
    with pytest.raises(InputError, match=name):
        evaluated(given, simulated.log)
    state = live(given, simulated.log, 7200.0)
    assert state.verdict == NOT_YET
    assert [notice.name for notice in state.reasons] == ["channel missing"]


def test_what_hangs_on_a_channel_that_was_not_logged_is_not_measured() -> None:
    given, simulated = run("gas", without=("air_flow_m3_s", "flue_oxygen"))
    found = evaluated(given, simulated.log)
    assert found.outcome == ACCEPTED
    assert found.balances is not None
    assert {closure.key: closure.missing for closure in found.balances.closures} == {
        "water by air": ("air_flow_m3_s",),
        "water by spray": (),
        "heat by spray": ("flue_oxygen",),
        "heat by air": ("air_flow_m3_s", "flue_oxygen"),
    }
    assert found.readings is not None
    assert found.readings.air_flow_m3_s is None


def test_a_channel_that_stopped_coming_is_shown() -> None:
    given, simulated = run("electric")
    log = changed(simulated.log, "spray_flow_m3_s", dict.fromkeys(range(220, 241)))
    state = live(given, log, 14400.0)
    assert state.verdict == NOT_YET
    silent = [notice for notice in state.reasons if notice.name == "channel silent"]
    assert "spray flow" in silent[0].text
    assert silent[0].figures[0][0] == pytest.approx(21.0 * 60.0)


def test_dropouts_do_no_harm() -> None:
    given, simulated = run("electric")
    whole = evaluated(given, simulated.log)
    log = simulated.log
    for offset, name in enumerate(("make_up_mass_kg", "stilling_level_m", "exhaust_wet_bulb_K", "tracer_kg_m3")):
        log = changed(log, name, dict.fromkeys(range(95 + offset, 235, 7)))
    found = evaluated(given, log)
    assert found.outcome == ACCEPTED
    assert found.evaporation_kg_s is not None
    assert whole.evaporation_kg_s is not None
    assert found.evaporation_kg_s.value == pytest.approx(whole.evaporation_kg_s.value, rel=0.003)


def test_a_row_every_five_minutes_is_enough() -> None:
    given, simulated = run("steam", row_s=300.0)
    found = evaluated(given, simulated.log)
    assert found.outcome == ACCEPTED
    assert live(given, simulated.log, 14400.0).verdict == GO_ON


def test_a_wet_bulb_above_the_air_is_refused() -> None:
    given, simulated = run("electric", offsets={"inlet_wet_bulb_K": 9.0})
    with pytest.raises(InputError, match=r"inlet_wet_bulb_K.*at most"):
        evaluated(given, simulated.log)
    state = live(given, simulated.log, 7200.0)
    assert state.verdict == NOT_YET
    assert "inlet_wet_bulb_K" in state.reasons[0].text


def test_uncertainties_are_those_of_the_days_instruments() -> None:
    given, simulated = run("electric")
    fine, coarse = (
        evaluate_run(simulated.log, given.unit, given.conditions, given.stack, {"make_up_mass_kg": (share, 0.0)})
        for share in (0.001, 0.05)
    )
    assert fine.expanded_kg_s is not None
    assert coarse.expanded_kg_s is not None
    assert coarse.evaporation_kg_s is not None
    assert fine.expanded_kg_s < 0.5 * coarse.expanded_kg_s
    assert coarse.expanded_kg_s == pytest.approx(0.05 * coarse.evaporation_kg_s.value, rel=0.06)
    with pytest.raises(InputError, match=r"thermometer.*is no channel"):
        evaluate_run(simulated.log, given.unit, given.conditions, given.stack, {"thermometer": (0.0, 0.1)})


def test_another_elevation_of_the_day_is_taken_from_the_log() -> None:
    # The conditions that are handed in may be the design's: air, barometer and feed come from the log.
    given, simulated = run("electric")
    elsewhere = replace(given.conditions, pressure_Pa=85_000.0, feed_temperature_K=300.0)
    found = evaluate_run(simulated.log, given.unit, elsewhere, given.stack)
    assert found.outcome == ACCEPTED
    assert found.balances is not None
    assert abs(found.balances.closure("heat by spray").difference.value) < 0.02  # type: ignore[union-attr]
