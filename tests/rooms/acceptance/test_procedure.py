"""The procedure of the three example units: complete, in order, and expecting what the day's conditions make true."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from functools import cache

import pytest

from example_rigs import JOBS, example_answer, example_table
from vaporwright.acceptance.run.log import CHANNELS
from vaporwright.acceptance.sections.procedure_of_unit import RULES, procedure_for
from vaporwright.acceptance.steps.checks import check_procedure, room_of, usual_uncertainty
from vaporwright.acceptance.steps.day import DayConditions
from vaporwright.acceptance.steps.instruments import KINDS
from vaporwright.acceptance.steps.procedure import (
    TEXT,
    VARIANTS,
    YES_OR_NO,
    Limits,
    Procedure,
    ProcedureSection,
    ReadingField,
    Step,
    Variant,
)
from vaporwright.controls.unit_signals import UnitOptions
from vaporwright.controls.unit_table import unit_table
from vaporwright.foundation.errors import InputError
from vaporwright.unit.answer import UnitAnswer, answer_for
from vaporwright.unit.body import body_of

INCH = 0.0254
GALLON = 3.785411784e-3
FAHRENHEIT = 1.0 / 1.8
DAY = DayConditions(
    air_temperature_K=294.15,
    wet_bulb_K=288.15,
    pressure_Pa=101_325.0,
    elevation_m=0.0,
    water_temperature_K=288.15,
    supply_voltage_V=460.0,
    steam_gauge_Pa=2.0e5,
)
HEATS = tuple(JOBS)
# What a row's section looks like, for the places in which it goes; the rows themselves have tests of their own.
ROWS = tuple(
    ProcedureSection(
        key,
        key,
        (
            Step(f"{key}.trip", key, "To see it.", ("Look.",), (), 1.0, point="witness", hot=key == "alarms"),
            Step(f"{key}.other", key, "To see it.", ("Look.",), (), 1.0),
        ),
    )
    for key in ("io", "rows", "alarms")
)


@cache
def procedure(heat: str, variant: Variant = "full", day: DayConditions = DAY) -> Procedure:
    return procedure_for(example_answer(heat), example_table(heat), day, variant, ROWS)


def field(made: Procedure, step: str, key: str) -> ReadingField:
    found = made.step(step)
    assert found is not None, step
    read = found.field(key)
    assert read is not None, (key, [entry.key for entry in found.fields])
    return read


def expected(made: Procedure, step: str, key: str) -> float:
    value = field(made, step, key).expected
    assert isinstance(value, float)
    return value


def numbers(made: Procedure) -> list[tuple[Step, ReadingField]]:
    return [(step, entry) for step in made.steps for entry in step.fields if entry.quantity not in (TEXT, YES_OR_NO)]


@pytest.mark.parametrize("variant", VARIANTS)
@pytest.mark.parametrize("heat", HEATS)
class TestEveryProcedure:
    def test_a_step_says_what_for_what_to_do_and_how_long(self, heat: str, variant: Variant) -> None:
        for step in procedure(heat, variant).steps:
            assert step.purpose.endswith("."), step.key
            assert step.actions, step.key
            assert all(action.strip().endswith((".", ".)")) for action in step.actions), step.key
            assert 1.0 <= step.minutes <= 600.0, step.key
            section, _, name = step.key.partition(".")
            assert section in {entry.key for entry in procedure(heat, variant).sections}
            assert re.fullmatch(r"[a-z0-9_]+", name), step.key

    def test_a_number_has_limits_a_reason_and_an_instrument(self, heat: str, variant: Variant) -> None:
        for step, entry in numbers(procedure(heat, variant)):
            where = f"{step.key}.{entry.key}"
            assert entry.limits is not None, where
            assert entry.limits != Limits(None, None), where
            assert len(entry.reason) > 15, where
            if not entry.instrument:
                assert re.match(r"as displayed|worked out|keeps the room", entry.reason), where
                continue
            kind = KINDS[entry.instrument]
            assert entry.quantity in (kind.quantity, *kind.also), where

    def test_what_is_expected_lies_within_the_limits(self, heat: str, variant: Variant) -> None:
        for step, entry in numbers(procedure(heat, variant)):
            assert isinstance(entry.expected, float) or entry.expected is None
            if entry.expected is None:
                continue
            low, high = entry.limits.low, entry.limits.high  # type: ignore[union-attr]
            assert low is None or low <= entry.expected, f"{step.key}.{entry.key}"
            assert high is None or entry.expected <= high, f"{step.key}.{entry.key}"

    def test_no_tolerance_is_narrower_than_its_instrument(self, heat: str, variant: Variant) -> None:
        for step, entry in numbers(procedure(heat, variant)):
            room = room_of(entry)
            assert room is None or room >= usual_uncertainty(entry) * (1.0 - 1e-9), f"{step.key}.{entry.key}"

    def test_no_figure_with_a_unit_stands_in_a_text(self, heat: str, variant: Variant) -> None:
        # Figures belong into limits, so that they print in the reader's units. Hours, volts and the like are the same.
        unit = re.compile(r"\d\s?(°|deg|K\b|Pa\b|bar\b|psi|in\.|inch|ft\b|mm\b|m\b|gal|L/|kg\b|lb\b|kW|cfm|W\b|m3)")
        answer = example_answer(heat)
        names = [answer.unit.label(), answer.unit.heat_source.name]
        body = body_of(answer)
        names += [
            str(figure.value)
            for section in body.sections
            for figure in section.figures
            if figure.name.endswith("_pipe")
        ]
        for step in procedure(heat, variant).steps:
            texts = [step.title, step.purpose, step.restore, *step.actions, *step.cautions]
            texts += [part for entry in step.fields for part in (entry.reason, entry.label)]
            for text in texts:
                for name in names:  # parts and pipes are called by their trade sizes
                    text = text.replace(name, "")
                assert unit.search(text) is None, (step.key, text)

    def test_nothing_waits_for_what_comes_later(self, heat: str, variant: Variant) -> None:
        check_procedure(procedure(heat, variant))

    def test_those_who_are_qualified_do_it_and_are_warned(self, heat: str, variant: Variant) -> None:
        for step in procedure(heat, variant).steps:
            if step.key.startswith("burner.") or step.key == "utilities.gas":
                assert step.by == "burner technician", step.key
                assert any("Gas explodes" in caution for caution in step.cautions), step.key
            else:
                assert step.by != "burner technician", step.key
            if step.key.startswith(("electrical.", "heater.")):
                assert step.by == "electrician", step.key
                assert step.cautions, step.key
            if step.key.startswith("run."):
                assert step.hot, step.key
                assert step.cautions, step.key


@pytest.mark.parametrize("heat", HEATS)
class TestVariants:
    def test_the_sections_come_as_a_shop_goes(self, heat: str) -> None:
        own = {"gas": "burner", "electric": "heater", "steam": "steam"}[heat]
        assert [section.key for section in procedure(heat).sections] == [
            "documents", "mechanical", "leak", "electrical", "io", "rods", "rows", "alarms", "set_points", own,
            "hydraulics", "run", "finish",
        ]  # fmt: skip

    def test_cold_and_hot_together_are_the_whole_test(self, heat: str) -> None:
        full, cold, hot = ({step.key for step in procedure(heat, name).steps} for name in
                           ("full", "cold", "hot on site"))  # fmt: skip
        assert full <= cold | hot
        assert cold < full
        assert not any(step.hot for step in procedure(heat, "cold").steps)
        assert {step.key for step in procedure(heat).steps if step.hot} <= hot
        assert {"transport.guards", "transport.rods", "transport.wiring", "utilities.power"} <= hot
        assert {"finish.sign", "documents.conditions", "documents.dry_run"} <= cold & hot

    def test_a_cold_test_says_that_it_does_not_bind_alone(self, heat: str) -> None:
        cold = procedure(heat, "cold")
        assert "binding hot test follows on site" in cold.rules[0]
        assert all("together with the hot test" in section.note for section in cold.sections)
        assert "binding" in procedure(heat, "hot on site").rules[0]

    def test_start_up_is_on_the_liquor_with_training_and_approvals_by_others(self, heat: str) -> None:
        site = procedure(heat, "site")
        keys = {step.key for step in site.steps}
        assert {"finish.training", "finish.approvals", "utilities.exhaust", "transport.condition", "run.log"} <= keys
        assert "finish.ship" not in keys
        assert {"io.trip", "io.other", "rows.trip", "alarms.other"} <= keys
        assert "rows.other" not in keys
        isolate = site.step("run.isolate")
        assert isolate is not None
        assert not any("Dose the salt" in action for action in isolate.actions)
        assert site.guarantee["evaporation_kg_s"] < procedure(heat, "full").guarantee["evaporation_kg_s"]

    def test_rules_name_void_interruption_rerun_and_the_witness(self, heat: str) -> None:
        said = " ".join(procedure(heat).rules)
        assert procedure(heat).rules[1:] == RULES
        for word in ("Void:", "Interrupted:", "Rerun:", "own thermometer", "raw data", "no approval"):
            assert word in said

    def test_the_run_names_every_channel_of_its_kind_of_heat(self, heat: str) -> None:
        log = procedure(heat).step("run.log")
        assert log is not None
        for channel in CHANNELS:
            named = any(f"Log {channel.name}:" in action for action in log.actions)
            assert named == (channel.only_for in ("", heat)), channel.name

    def test_what_nobody_does_is_not_asked(self, heat: str) -> None:
        made = procedure(heat)
        assert not any(entry.quantity == "angle" for _, entry in numbers(made))  # header pressure and a handle mark
        asked = [
            entry.label.lower() for step in made.steps for entry in step.fields if step.key != "documents.instruments"
        ]
        assert not any("instrument" in label and "certificate" in label for label in asked)
        for step in made.steps:
            for entry in step.fields:
                assert entry.quantity != YES_OR_NO or entry.limits is None  # no guard bands on contacts

    def test_the_guarantee(self, heat: str) -> None:
        answer, promised = example_answer(heat), procedure(heat).guarantee
        assert promised["least_share"] == 0.95
        assert promised["guaranteed_site_kg_s"] == answer.capacity_kg_s
        assert promised["required_site_kg_s"] == answer.required_kg_s
        evaporated = field(procedure(heat), "run.log", "evaporated_kg")
        assert evaporated.expected == pytest.approx(promised["evaporation_kg_s"] * 7200.0)
        assert evaporated.limits == Limits(pytest.approx(0.95 * promised["evaporation_kg_s"] * 7200.0), None)


# Expected values against hand work


def test_rods_are_cut_from_the_holder_to_their_tips() -> None:
    # Tank 48 in high, holder on its rim; marks given in the job instead of solved, in inches.
    marks = {"low": 26.0, "refill_on": 29.0, "refill_off": 31.5, "high": 35.0}
    answer = example_answer("gas")
    job = replace(answer.job, values={**answer.job.values, **{f"levels.{key}": at * INCH for key, at in marks.items()}})
    moved = answer_for(job, answer.unit)
    made = procedure_for(moved, unit_table(moved), DAY, "cold", ROWS)
    for key, at in marks.items():
        read = field(made, f"rods.{key}", "insertion_m")
        assert read.expected == pytest.approx((48.0 - at) * INCH, abs=1e-9)
        assert read.limits == Limits(
            pytest.approx((48.0 - at - 0.125) * INCH, abs=1e-9), pytest.approx((48.0 - at + 0.125) * INCH, abs=1e-9)
        )
        assert expected(made, "rods.rising_level", f"{key}_m") == pytest.approx(at * INCH)


def test_power_of_a_heater_goes_with_the_square_of_the_voltage() -> None:
    # Two circuits of 18 kW at 480 V on three phases.
    for volts in (440.0, 460.0, 480.0):
        made = procedure("electric", "full", replace(DAY, supply_voltage_V=volts))
        watts = 36_000.0 * (volts / 480.0) ** 2
        assert expected(made, "heater.power", "energy_J") == pytest.approx(watts * 600.0, rel=1e-9)
        assert field(made, "heater.power", "energy_J").limits == Limits(
            pytest.approx(0.95 * watts * 600.0), pytest.approx(1.05 * watts * 600.0)
        )
        amps = 0.5 * watts / (math.sqrt(3.0) * volts)
        assert expected(made, "heater.power", "heater_1_line_2_A") == pytest.approx(amps, rel=1e-9)
        assert expected(made, "run.log", "electric_energy_J") == pytest.approx(watts * 7200.0, rel=1e-9)
    # The resistance of an element does not know the day: 2 x 480^2 / 18,000.
    assert expected(procedure("electric"), "heater.dead", "circuit_2_31_ohm") == pytest.approx(25.6)


@pytest.mark.parametrize("heat", HEATS)
def test_motors_draw_at_most_what_the_code_lists(heat: str) -> None:
    full_load = {0.5: 1.1, 0.75: 1.6, 1.0: 2.1, 1.5: 3.0, 2.0: 3.4, 3.0: 4.8, 5.0: 7.6}  # hp: A at 460 V, by the code
    unit = example_answer(heat).unit
    for name, watts in (("pump", unit.pump.motor_rating_W), ("blower", unit.blower.motor_rating_W)):
        size = min(hp for hp in full_load if hp * 745.7 > 0.99 * watts)
        for line in "123":
            read = field(procedure(heat), "electrical.currents", f"{name}_line_{line}_A")
            assert read.limits == Limits(None, full_load[size])
            assert isinstance(read.expected, float)
            assert 0.2 * full_load[size] < read.expected <= full_load[size]


def test_a_motors_expected_current_by_hand() -> None:
    # Current = shaft power over root 3, volts, efficiency and power factor (0.75 by common practice).
    answer = example_answer("gas")
    pump, made = answer.unit.pump, procedure("gas")
    shaft_W = 999.0 * 9.80665 * pump.head_m * pump.flow_m3_s / pump.efficiency
    amps = shaft_W / (math.sqrt(3.0) * 460.0 * pump.motor_efficiency * 0.75)
    assert expected(made, "electrical.currents", "pump_line_1_A") == pytest.approx(amps, rel=5e-3)


def test_refill_by_hand() -> None:
    # 2 in of a tank of 8 ft x 4 ft at 7 gal/min: 39.9 gal in 5.70 min.
    gallons = 2.0 / 12.0 * 8.0 * 4.0 * 1728.0 / 231.0
    made = procedure("gas")
    assert expected(made, "hydraulics.refill", "fill_s") == pytest.approx(gallons / 7.0 * 60.0, rel=1e-6)
    assert expected(made, "hydraulics.refill", "metered_m3") == pytest.approx(14.0 * GALLON, rel=1e-6)
    assert expected(made, "hydraulics.drawdown", "drawdown_m") == pytest.approx(1.25 * INCH)


def test_purge_is_four_volumes_at_least_and_safety_times_are_proven_maxima() -> None:
    part = example_answer("gas").unit.heat_source
    made = procedure("gas")
    bore = part.tube_outer_diameter_m - 2.0 * part.tube_wall_thickness_m  # type: ignore[union-attr]
    volume = math.pi / 4.0 * bore**2 * part.tube_length_m  # type: ignore[union-attr]
    limits = field(made, "burner.purge", "pre_purge_s").limits
    assert limits is not None
    assert limits.high is None
    assert limits.proven
    # The trade's rule of thumb: a cubic foot of air burns 100 Btu of gas.
    air = part.gross_input_W / (100.0 * 1055.056 / 0.3048**3)  # type: ignore[union-attr]
    assert 4.0 * volume / air > 20.0
    assert limits.low == pytest.approx(4.0 * volume / air, rel=0.01)
    assert field(made, "burner.trial", "trial_s").limits == Limits(None, 15.0, proven=True)
    assert field(made, "burner.flame_failure", "response_s").limits == Limits(None, 4.0, proven=True)


def test_the_cut_off_opens_while_the_heater_is_covered() -> None:
    for heat in HEATS:
        limits = field(procedure(heat), "rods.low_water_cut_off", "opens_m").limits
        assert limits is not None
        heights = procedure(heat).step("mechanical.heights")
        assert heights is not None
        assert limits.low == expected(procedure(heat), "mechanical.heights", "heater_top_m")
        assert limits.high == expected(procedure(heat), "rods.rising_level", "low_m")
        assert limits.proven


@pytest.mark.parametrize(("heat", "hours"), [("gas", 4.0), ("electric", 24.0), ("steam", 4.0)])
def test_a_plastic_tank_stands_longer(heat: str, hours: float) -> None:
    # 316 stainless, polypropylene, 316 stainless.
    assert field(procedure(heat), "leak.cold", "stands_s").limits == Limits(hours * 3600.0, None)


# Expected values move with the day, and in the right direction


def test_the_air_does_not_move_what_sprays() -> None:
    for heat in HEATS:
        other = procedure(heat, "full", replace(DAY, air_temperature_K=303.15, wet_bulb_K=292.15))
        for key in ("spray_flow_m3_s", "header_gauge_Pa"):
            was, now = (expected(made, "hydraulics.spray_flow", key) for made in (procedure(heat), other))
            assert now == pytest.approx(was, rel=1e-3)
        assert expected(other, "run.log", "spray_flow_m3_s") == example_answer(heat).unit.spray_flow_m3_s


def test_what_was_built_does_not_move_with_the_day() -> None:
    other = replace(DAY, air_temperature_K=303.15, wet_bulb_K=292.15, water_temperature_K=296.0, pressure_Pa=9.6e4)
    for heat in HEATS:
        for section in ("mechanical", "rods", "set_points", "leak"):
            one, two = ([step for step in made.steps if step.key.startswith(f"{section}.")] for made in
                        (procedure(heat), procedure(heat, "full", other)))  # fmt: skip
            assert one == two


def test_openings_of_the_room_are_those_on_the_connection_sheet_whatever_the_weather() -> None:
    cold_day = replace(DAY, air_temperature_K=275.15, wet_bulb_K=272.15, pressure_Pa=9.4e4)
    made, other = procedure("gas", "site"), procedure("gas", "site", cold_day)
    sheet_m2 = body_of(example_answer("gas")).section("room").value("opening_area_m2")
    assert expected(made, "utilities.exhaust", "opening_m2") == sheet_m2
    assert expected(other, "utilities.exhaust", "opening_m2") == sheet_m2


def test_colder_water_evaporates_less_and_warms_up_longer() -> None:
    cold = replace(DAY, water_temperature_K=279.15)
    for heat in HEATS:
        was, now = procedure(heat), procedure(heat, "full", cold)
        share = now.guarantee["evaporation_kg_s"] / was.guarantee["evaporation_kg_s"]
        # 9 K more to heat each kilogram: 38 kJ of some 2.9 MJ; a coil gives the colder tank a little more.
        assert 0.975 < share < 0.997
        assert expected(now, "run.warm_up", "warm_up_s") > expected(was, "run.warm_up", "warm_up_s")
        assert expected(now, "documents.conditions", "water_temperature_K") == 279.15


def test_thin_air_derates_a_burner_that_breathes_it_and_no_heater() -> None:
    high = replace(DAY, pressure_Pa=0.85 * 101_325.0, elevation_m=1360.0)
    was, now = procedure("gas"), procedure("gas", "full", high)
    for step in ("burner.clocked_high", "burner.clocked_low"):
        ratio = expected(now, step, "gas_volume_standard_m3") / expected(was, step, "gas_volume_standard_m3")
        assert ratio == pytest.approx(0.85, rel=0.01)
    assert now.guarantee["evaporation_kg_s"] < 0.92 * was.guarantee["evaporation_kg_s"]
    same = [expected(procedure("electric", "full", day), "heater.power", "energy_J") for day in (DAY, high)]
    assert same[0] == same[1]


def test_low_voltage_evaporates_less_and_the_tank_settles_colder() -> None:
    was, now = procedure("electric"), procedure("electric", "full", replace(DAY, supply_voltage_V=420.0))
    assert now.guarantee["heat_W"] / was.guarantee["heat_W"] == pytest.approx((420.0 / 460.0) ** 2)
    assert now.guarantee["evaporation_kg_s"] < 0.9 * was.guarantee["evaporation_kg_s"]
    assert expected(now, "run.settle", "tank_temperature_K") < expected(was, "run.settle", "tank_temperature_K") - 2.0
    assert expected(now, "electrical.power_on", "volts_23_V") == 420.0


def test_less_steam_pressure_condenses_less() -> None:
    was, now = procedure("steam"), procedure("steam", "full", replace(DAY, steam_gauge_Pa=1.4e5))
    assert expected(now, "steam.condensate", "condensate_kg") < 0.97 * expected(
        was, "steam.condensate", "condensate_kg"
    )
    assert expected(now, "steam.pressures", "coil_gauge_Pa") == pytest.approx(1.4e5)
    assert now.guarantee["evaporation_kg_s"] < was.guarantee["evaporation_kg_s"]


def test_a_duct_that_resists_takes_air_away() -> None:
    for heat in HEATS:
        was, now = procedure(heat), procedure(heat, "full", replace(DAY, duct_loss_Pa=100.0))
        for step in ("hydraulics.air_flow", "run.log"):
            assert expected(now, step, "air_flow_m3_s") < 0.99 * expected(was, step, "air_flow_m3_s")
        static = [expected(made, "hydraulics.air_flow", "static_Pa") for made in (was, now)]
        assert static[1] > static[0]


def test_the_tank_settles_within_a_few_degrees_of_its_prediction() -> None:
    for heat in HEATS:
        limits = field(procedure(heat), "run.settle", "tank_temperature_K").limits
        assert limits is not None
        assert limits.high is not None
        assert limits.low is not None
        assert 4.0 * FAHRENHEIT <= limits.high - limits.low <= 20.0 * FAHRENHEIT


def test_without_a_warm_up_mode_its_time_is_not_asked() -> None:
    table = unit_table(example_answer("gas"), UnitOptions(warm_up=False))
    made = procedure_for(example_answer("gas"), table, DAY, "full", ROWS)
    step = made.step("run.warm_up")
    assert step is not None
    assert step.field("warm_up_s") is None


def test_a_unit_at_its_clamp_is_expected_there_less_what_the_heat_cycles() -> None:
    answer = example_answer("gas")
    set_point_K = (120.0 + 459.67) / 1.8
    job = replace(answer.job, values={**answer.job.values, "choices.set_point": set_point_K})
    held = answer_for(job, answer.unit)
    made = procedure_for(held, unit_table(held), DAY, "full", ROWS)
    read = field(made, "run.settle", "tank_temperature_K")
    assert read.expected == pytest.approx(set_point_K)
    # Two degrees of a set point either side, and two of the heat's differential below.
    assert read.limits == Limits(
        pytest.approx(set_point_K - 4.0 * FAHRENHEIT), pytest.approx(set_point_K + 2.0 * FAHRENHEIT)
    )
    full, half = (
        expected(procedure("gas"), "run.log", "gas_volume_standard_m3"),
        expected(made, "run.log", "gas_volume_standard_m3"),
    )
    assert half < 0.9 * full


# What needs no heat, and what does


@pytest.mark.parametrize(
    ("heat", "cold"),
    [
        ("gas", {"burner.train", "burner.closure", "burner.purge", "burner.trial"}),
        ("electric", {"heater.dead", "heater.ground_fault"}),
        ("steam", {"steam.cold"}),
    ],
)
def test_no_gas_no_current_and_no_steam_in_a_cold_test(heat: str, cold: set[str]) -> None:
    keys = {step.key for step in procedure(heat, "cold").steps}
    assert {key for key in keys if key.startswith(("burner.", "heater.", "steam."))} == cold
    assert not any(key.startswith("run.") for key in keys)


# What is no procedure


def test_an_unknown_variant_is_named() -> None:
    with pytest.raises(InputError, match=r"variant: 'quick' is none.*full, cold, hot on site, site"):
        procedure_for(example_answer("gas"), example_table("gas"), DAY, "quick", ROWS)  # type: ignore[arg-type]


def test_a_unit_with_levels_in_conflict_is_not_tested_but_changed() -> None:
    answer = example_answer("gas")
    wrong = replace(answer, job=replace(answer.job, values={**answer.job.values, "levels.high": 28.7 * INCH}))
    with pytest.raises(InputError, match="high is in conflict"):
        procedure_for(wrong, example_table("gas"), DAY, "full", ROWS)


def test_a_pump_that_does_not_reach_the_spray_is_not_tested() -> None:
    answer: UnitAnswer = example_answer("electric")
    weak = replace(answer, unit=replace(answer.unit, spray_flow_m3_s=1.7 * answer.unit.spray_flow_m3_s))
    with pytest.raises(InputError, match="spray_flow"):
        procedure_for(weak, example_table("electric"), DAY, "full", ROWS)


def made_of(*steps: Step) -> Procedure:
    return Procedure("job", "", "unit", "gas", "full", {}, (ProcedureSection("a", "A", steps),))


def step_with(*fields: ReadingField, after: tuple[str, ...] = (), key: str = "a.one") -> Step:
    return Step(key, "Title", "To see.", ("Look.",), fields, 1.0, after=after)


GOOD = ReadingField("x_K", "x", "temperature", 300.0, Limits(299.0, 301.0), "because of the bath", "thermometer")


@pytest.mark.parametrize(
    ("steps", "problem"),
    [
        ((step_with(GOOD), step_with(GOOD)), "a.one: is written twice"),
        ((step_with(GOOD, after=("a.two",)), step_with(GOOD, key="a.two")), "waits for a.two"),
        ((step_with(GOOD, GOOD),), "x_K: is written twice"),
        ((step_with(replace(GOOD, limits=None)),), "without limits"),
        ((step_with(replace(GOOD, limits=Limits(None, None))),), "without limits"),
        ((step_with(replace(GOOD, reason="")),), "without its reason"),
        ((step_with(replace(GOOD, instrument="gauge of gauges")),), "no kind of instrument"),
        ((step_with(replace(GOOD, limits=Limits(299.8, 300.2))),), "less than a usual thermometer can tell"),
        (
            (step_with(replace(GOOD, limits=Limits(None, 300.2, proven=True))),),
            "less than a usual thermometer can tell",
        ),
    ],
)
def test_what_no_procedure_may_be_is_named(steps: tuple[Step, ...], problem: str) -> None:
    check_procedure(made_of(step_with(GOOD)))
    with pytest.raises(InputError, match=re.escape(problem)):
        check_procedure(made_of(*steps))
