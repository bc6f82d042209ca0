"""The simulated technician: faults sit in the unit, readings carry only the error of their instrument."""

from __future__ import annotations

import statistics
from dataclasses import replace
from functools import lru_cache

import pytest

from example_rigs import example_answer, example_rig, example_table
from example_subjects import day_of, example_subject
from vaporwright.acceptance.quality.as_built import AsBuilt, Truth, healthy_value, modelled_fields
from vaporwright.acceptance.quality.planted_faults import inverted_input, planted_faults, swapped_inputs
from vaporwright.acceptance.quality.simulated_floor import SimulatedFloor, Subject, Wiring
from vaporwright.acceptance.sections.procedure_of_unit import procedure_for
from vaporwright.acceptance.sections.unit_under_test import UnitUnderTest, under_test
from vaporwright.acceptance.steps.outcomes import NOT_ACCEPTED, PASSES
from vaporwright.acceptance.steps.procedure import TEXT, YES_OR_NO, Limits, Procedure, ReadingField, Step
from vaporwright.acceptance.trials.found import ControlTrials
from vaporwright.acceptance.trials.row_steps import IN_SERIES
from vaporwright.acceptance.trials.table_changes import with_delay
from vaporwright.unit.as_found import AsFound

POINTS_SHOWN = ("set_point", "deviation_alarm", "high_limit", "plastic_limit")


@lru_cache
def on_its_day(heat: str) -> UnitUnderTest:
    return under_test(example_answer(heat), example_table(heat), day_of(heat), "full")


@lru_cache
def measured_procedure(heat: str) -> Procedure:
    return procedure_for(example_answer(heat), example_table(heat), day_of(heat), "full", ())


def subject(heat: str = "electric") -> Subject:
    return example_subject(heat)


def true_value(heat: str, built: AsBuilt, key: str) -> float | bool | str:
    step_key, _, field_key = key.rpartition(".")
    step = measured_procedure(heat).step(step_key)
    assert step is not None
    found = step.field(field_key)
    assert found is not None
    return Truth(on_its_day(heat), built).value(step, found)


def sound_value(heat: str, key: str) -> float:
    value = true_value(heat, AsBuilt(), key)
    assert isinstance(value, float)
    return value


# What a unit as built shows


def test_a_rod_cut_short_hangs_higher_and_wets_later() -> None:
    built = AsBuilt(offsets={"rod_low": 0.010})
    cut, wets = "rods.low.insertion_m", "rods.rising_level.low_m"
    assert true_value("gas", built, cut) == pytest.approx(sound_value("gas", cut) - 0.010)
    assert true_value("gas", built, wets) == pytest.approx(sound_value("gas", wets) + 0.010)
    other = "rods.rising_level.high_m"
    assert true_value("gas", built, other) == sound_value("gas", other)


def test_a_thermometer_that_reads_high_makes_the_control_act_early() -> None:
    built = AsBuilt(offsets={"thermometer": 2.0})
    acts = "set_points.acting.heat_off_K"
    assert true_value("gas", built, acts) == pytest.approx(sound_value("gas", acts) - 2.0)
    assert true_value("gas", built, "set_points.thermometer.hot_difference_K") == pytest.approx(2.0)


def test_plugged_nozzles_raise_the_header_by_the_square() -> None:
    header = "hydraulics.spray_flow.header_gauge_Pa"
    built = AsBuilt(factors={"nozzles_open": 0.5})
    assert true_value("steam", built, header) == pytest.approx(4.0 * sound_value("steam", header))


def test_short_heat_leaves_the_tank_colder_and_a_short_tower_hotter() -> None:
    tank = "run.settle.tank_temperature_K"
    sound_K = sound_value("electric", tank)
    heat_short = true_value("electric", AsBuilt(AsFound(heat_factor=0.85)), tank)
    tower_short = true_value("electric", AsBuilt(AsFound(merkel_factor=0.7)), tank)
    assert isinstance(heat_short, float)
    assert isinstance(tower_short, float)
    assert heat_short < sound_K - 0.5
    assert tower_short > sound_K + 0.5


def test_what_is_plainly_wrong_is_a_tick_that_says_no() -> None:
    built = AsBuilt(wrong=frozenset(("blower_reversed", "material:tank")))
    assert true_value("gas", built, "electrical.rotation.blower") is False
    assert true_value("gas", built, "electrical.rotation.pump") is True
    assert true_value("gas", built, "mechanical.materials.tank") is False


def test_fields_without_a_truth_model_are_these() -> None:
    """Read as a sound unit would have them, whatever is planted: conditions of the day, durations that people keep."""
    without = {
        "documents.conditions": None,  # of the day, not of the unit
        "leak.cold": {"stands_s"},  # kept by people
        "rods.low_water_cut_off": set(),
        "set_points.left": {f"found_{name}_K" for name in POINTS_SHOWN}
        | {"left_high_limit_K"},  # the dial may say what it likes
        "set_points.delays": None,  # as displayed: a program that waits otherwise displays the sheet's
        "electrical.power_on": {"imbalance"},  # worked out from the three voltages
        "electrical.currents": {"burner_fan_A"},  # no model of its shaft
        "run.isolate": {"inlet_wet_bulb_K"},
        "run.settle": {"settled_s", "hourly_difference_K"},
        "run.log": {"run_s", "hours_apart", "water_gap", "heat_gap"},  # decided by performance_run, tested there
        "run.refill_sag": {"sag_difference_K"},
        "heater.power": {"voltage_V"},
        "steam.condensate": {"tank_temperature_K"},  # chosen by the technician
    }  # fmt: skip
    named = ("electrical.earth.", "electrical.insulation.", "electrical.currents.", "electrical.power_on.volts",
             "heater.dead.", "heater.power.heater_")  # fmt: skip
    as_found = {
        "run.settle.tank_temperature_K", "run.log.evaporated_kg", "run.log.range_difference_K",
        "run.log.air_flow_m3_s", "run.log.exhaust_temperature_K", "run.log.spray_flow_m3_s",
        "run.log.gas_volume_standard_m3", "run.log.electric_energy_J", "run.log.condensate_kg",
        "run.warm_up.warm_up_s",
    }  # fmt: skip
    known = modelled_fields() | as_found
    for heat in ("gas", "electric", "steam"):
        for step in measured_procedure(heat).steps:
            for field in step.fields:
                key = f"{step.key}.{field.key}"
                if field.quantity in (YES_OR_NO, TEXT) or key in known:
                    continue
                allowed = without.get(step.key, set())
                assert allowed is None or field.key in allowed or key.startswith(named) or (
                    step.key in ("burner.combustion_low",) and field.key == "stack_temperature_K"
                ), key  # fmt: skip


# Readings


def reading_step(kind: str, quantity: str, expected: float) -> Step:
    field = ReadingField("value", "value", quantity, expected, Limits(0.0, None), "a reason", kind)
    return Step("test.step", "a step", "a purpose", ("do",), (field,), 1.0)


def test_noise_is_that_of_the_certificate() -> None:
    """A usual stopwatch is certified to 0.2 s with k = 2."""
    floor = SimulatedFloor(_bare(), seed=7)
    step = reading_step("stopwatch", "delay", 10.0)
    values = [float(floor.readings(step)["value"].value) for _ in range(4000)]
    assert statistics.fmean(values) == pytest.approx(10.0, abs=0.01)
    assert statistics.stdev(values) == pytest.approx(0.1, rel=0.05)


def test_the_same_seed_reads_the_same() -> None:
    step = reading_step("thermometer", "temperature", 300.0)
    first, second, other = (SimulatedFloor(_bare(), seed=seed).readings(step)["value"].value for seed in (3, 3, 4))
    assert first == second != other


@lru_cache
def _bare() -> Subject:
    """A subject without trials, for what is measured."""
    none = ControlTrials((), (), {}, {}, {})
    return Subject(on_its_day("electric"), example_rig("electric"), none, measured_procedure("electric"))


def test_a_sound_unit_passes_what_is_measured() -> None:
    floor = SimulatedFloor(_bare(), seed=11)
    for step in measured_procedure("electric").steps:
        verdict = floor.verdict(step)
        assert verdict.outcome in PASSES, (step.key, verdict.words.text)


def test_healthy_value_of_a_one_sided_field_lies_well_inside() -> None:
    field = ReadingField("x_A", "x", "current", None, Limits(None, 2.0), "why", "clamp ammeter")
    assert healthy_value(field) == pytest.approx(1.2)


# The control, performed


@pytest.mark.slow
@pytest.mark.parametrize("heat", ["gas", "electric", "steam"])
def test_a_sound_unit_passes_every_step(heat: str) -> None:
    floor = SimulatedFloor(subject(heat), seed=5)
    for step in subject(heat).procedure.steps:
        verdict = floor.verdict(step)
        assert verdict.outcome in PASSES, (step.key, verdict.words.text)


def outcome(key: str, wiring: Wiring) -> str:
    step = subject().procedure.step(key)
    assert step is not None
    return SimulatedFloor(subject(), wiring).verdict(step).outcome


@pytest.mark.slow
def test_swapped_wires_light_the_other_lamp() -> None:
    wiring = swapped_inputs(subject().rig.table, "airflow", "pump_flow")
    assert outcome("io.input_airflow", wiring) == NOT_ACCEPTED
    assert outcome("io.input_pump_flow", wiring) == NOT_ACCEPTED


@pytest.mark.slow
def test_an_inverted_contact_shows_at_its_own_lamp() -> None:
    wiring = inverted_input(subject().rig.table, "high_high_clear")
    assert outcome("io.input_high_high_clear", wiring) == NOT_ACCEPTED


@pytest.mark.slow
def test_a_wrong_delay_is_timed_and_a_right_one_passes() -> None:
    table = subject().rig.table
    assert outcome("rows.low_level", Wiring(table=with_delay(table, "low_level_delay", 2.2))) == NOT_ACCEPTED
    assert outcome("rows.low_level", Wiring(table=with_delay(table, "low_level_delay", 0.3))) in PASSES


@pytest.mark.slow
def test_outputs_that_are_crossed_welded_or_open_show_at_the_device() -> None:
    crossed = Wiring(outputs={"blower": "spray_pump", "spray_pump": "blower"})
    assert outcome("io.output_blower", crossed) == NOT_ACCEPTED
    assert outcome("io.output_drain_valve", Wiring(contacts={"drain_valve": "open"})) == NOT_ACCEPTED
    assert outcome("io.output_drain_valve", Wiring(contacts={"drain_valve": "welded"})) == NOT_ACCEPTED


@pytest.mark.slow
def test_a_limit_left_out_of_the_string_shows_at_the_tester() -> None:
    left_out = Wiring(out_of_series=frozenset((("heat", "low_water_clear"),)))
    assert outcome(IN_SERIES, left_out) == NOT_ACCEPTED
    assert outcome(IN_SERIES, Wiring()) in PASSES


@pytest.mark.slow
@pytest.mark.parametrize("heat", ["gas", "electric", "steam"])
def test_there_are_three_hundred_faults_each_with_its_size(heat: str) -> None:
    faults = planted_faults(subject(heat))
    assert len(faults) >= 300
    assert len({fault.name for fault in faults}) == len(faults)
    for fault in faults:
        assert fault.size
        assert fault.wiring != Wiring() or fault.built != AsBuilt()


@pytest.mark.slow
def test_planted_sizes_are_twice_the_tolerance_of_the_step_that_ought_to_find_it() -> None:
    under, procedure = subject("gas").under, subject("gas").procedure
    fields = {f"{step.key}.{field.key}": (step, field) for step in procedure.steps for field in step.fields}
    sized = [fault for fault in planted_faults(subject("gas")) if "x the tolerance" in fault.size]
    assert len(sized) > 80
    for fault in sized:
        truth, shares = Truth(under, fault.built), [0.0]
        for key in truth.reached(procedure):
            step, field = fields[key]
            if field.limits is None:
                continue
            value, sound = truth.value(step, field), healthy_value(field)
            assert isinstance(value, float)
            assert isinstance(sound, float)
            low, high = field.limits.low, field.limits.high
            if value > sound and high is not None:
                shares.append((value - sound) / (high - sound))
            if value < sound and low is not None:
                shares.append((sound - value) / (sound - low))
        assert max(shares) > 1.99, fault.name


def test_wiring_of_the_program_alone_is_told_from_wiring_of_devices() -> None:
    table = on_its_day("electric").table
    assert Wiring(shorted={table.design.inputs[0]: True}).only_logic
    assert not Wiring(contacts={"heat": "welded"}).only_logic
    assert not replace(Wiring(), out_of_series=frozenset((("heat", "airflow"),))).only_logic
