"""Tolerances of the procedure against the trade's table, and its contents against the standard's list, both typed in.

Trade's table: common practice, no source. List: IEC 62381, factory acceptance test, from memory; the standard was not
seen.
"""

from __future__ import annotations

from functools import cache

import pytest

from example_rigs import example_answer, example_table
from support import verifies
from vaporwright.acceptance.sections.procedure_of_unit import procedure_for
from vaporwright.acceptance.steps.day import DayConditions
from vaporwright.acceptance.steps.procedure import Procedure, ReadingField

FAHRENHEIT = 1.0 / 1.8
INCH = 0.0254
DAY = DayConditions(294.15, 288.15, 101_325.0, 0.0, 288.15, 460.0)
HEATS = ("gas", "electric", "steam")


@cache
def made(heat: str) -> Procedure:
    return procedure_for(example_answer(heat), example_table(heat), DAY, "full", rows=())


def field(heat: str, step: str, key: str) -> ReadingField:
    found = made(heat).step(step)
    assert found is not None
    read = found.field(key)
    assert read is not None
    return read


# Step, field, half of the band: a share of what is expected, or an absolute figure [SI]
BANDS = (
    ("gas", "hydraulics.spray_flow", "spray_flow_m3_s", 0.05, None),
    ("electric", "hydraulics.air_flow", "air_flow_m3_s", 0.10, None),
    ("gas", "burner.clocked_high", "gas_volume_standard_m3", 0.05, None),
    ("gas", "burner.combustion_high", "oxygen", None, 0.01),
    ("gas", "burner.combustion_high", "stack_temperature_K", None, 40.0 * FAHRENHEIT),
    ("steam", "electrical.power_on", "volts_12_V", 0.05, None),
    ("gas", "set_points.acting", "heat_off_K", None, 2.0 * FAHRENHEIT),
    ("steam", "set_points.acting", "alarm_K", None, 2.0 * FAHRENHEIT),
    ("gas", "rods.low", "insertion_m", None, 0.125 * INCH),
    ("electric", "rods.high", "insertion_m", None, 0.125 * INCH),
    ("gas", "run.settle", "hourly_difference_K", None, 1.0 * FAHRENHEIT),
    ("gas", "run.log", "water_gap", None, 0.07),
    ("gas", "run.log", "heat_gap", None, 0.07),
)


@verifies("acceptance.sections.procedure_of_unit.procedure_for")
@pytest.mark.parametrize(("heat", "step", "key", "share", "absolute"), BANDS)
def test_bands(heat: str, step: str, key: str, share: float | None, absolute: float | None) -> None:
    read = field(heat, step, key)
    assert isinstance(read.expected, float)
    half = share * read.expected if share is not None else absolute
    assert read.limits is not None
    assert read.limits.low == pytest.approx(read.expected - half, rel=1e-9)  # type: ignore[operator]
    assert read.limits.high == pytest.approx(read.expected + half, rel=1e-9)  # type: ignore[operator]


@verifies("acceptance.sections.procedure_of_unit.procedure_for")
@pytest.mark.parametrize(
    ("heat", "step", "key", "low", "high", "proven"),
    [
        ("gas", "burner.combustion_high", "carbon_monoxide", None, 100e-6, False),
        ("gas", "burner.trial", "trial_s", None, 15.0, True),
        ("gas", "burner.flame_failure", "response_s", None, 4.0, True),
        ("gas", "electrical.power_on", "imbalance", None, 0.02, False),
        ("gas", "leak.cold", "stands_s", 4.0 * 3600.0, None, False),
        ("electric", "leak.cold", "stands_s", 24.0 * 3600.0, None, False),
        ("gas", "run.settle", "settled_s", 1.5 * 3600.0, None, False),
        ("gas", "run.log", "run_s", 4.0 * 3600.0, None, False),
        ("gas", "run.log", "hours_apart", None, 0.03, False),
    ],
)
def test_limits_on_one_side(
    heat: str, step: str, key: str, low: float | None, high: float | None, proven: bool
) -> None:
    limits = field(heat, step, key).limits
    assert limits is not None
    assert (limits.low, limits.high, limits.proven) == (low, high, proven)


@verifies("acceptance.sections.procedure_of_unit.procedure_for")
@pytest.mark.parametrize("heat", HEATS)
def test_evaporation_is_accepted_from_95_percent_of_what_is_predicted(heat: str) -> None:
    read = field(heat, "run.log", "evaporated_kg")
    assert isinstance(read.expected, float)
    assert read.limits is not None
    assert read.limits.low == pytest.approx(0.95 * read.expected)


# The list of the standard: what covers each item
CONTENTS = {
    "document check": ("documents.list", "documents.nameplate"),
    "visual/mechanical inspection": ("mechanical.tank", "mechanical.heights", "mechanical.connections",
                                     "mechanical.materials", "mechanical.guards"),
    "wiring and power checks": ("electrical.earth", "electrical.insulation", "electrical.panel", "electrical.power_on"),
    "I/O loop test": ("io.",),
    "function/interlock test per cause-and-effect": ("rows.",),
    "alarm test": ("alarms.",),
    "failure and restart behaviour": ("electrical.power_return", "electrical.emergency_stop"),
    "punch list with categories": ("finish.punch_list",),
    "signed certificate": ("finish.sign",),
}  # fmt: skip


FROM_THE_TABLE = ("I/O loop test", "function/interlock test per cause-and-effect", "alarm test")


def covers(procedure: Procedure, item: str) -> bool:
    keys = [step.key for step in procedure.steps]
    return all(
        any(key == wanted or (wanted.endswith(".") and key.startswith(wanted)) for key in keys)
        for wanted in CONTENTS[item]
    )


@verifies("acceptance.sections.procedure_of_unit.procedure_for")
@pytest.mark.parametrize("heat", HEATS)
@pytest.mark.parametrize("item", [item for item in CONTENTS if item not in FROM_THE_TABLE])
def test_every_item_of_the_standards_list_has_a_step(heat: str, item: str) -> None:
    assert covers(made(heat), item)


@pytest.mark.slow  # searches the whole table for trials
@verifies("acceptance.sections.procedure_of_unit.procedure_for")
def test_so_have_those_that_come_from_the_table() -> None:
    whole = procedure_for(example_answer("steam"), example_table("steam"), DAY)
    assert all(covers(whole, item) for item in CONTENTS)
    # Nothing of the table's steps is lost or put elsewhere on the way into the procedure.
    order = [section.key for section in whole.sections]
    assert order.index("electrical") < order.index("io") < order.index("rods") < order.index("rows")
    assert order.index("rows") < order.index("alarms") < order.index("set_points")
    rows = tuple(section for section in whole.sections if section.key in ("io", "rows", "alarms"))
    cold = procedure_for(example_answer("steam"), example_table("steam"), DAY, "cold", rows)
    assert covers(cold, "alarm test")


@verifies("acceptance.sections.procedure_of_unit.procedure_for")
def test_the_punch_list_has_its_three_classes() -> None:
    step = made("gas").step("finish.punch_list")
    assert step is not None
    said = " ".join(step.actions)
    assert all(f"{letter} " in said for letter in "ABC")
