"""The library of scripts on the three example units, their balances, and faults planted in the table.

What is expected stands in the scripts, from the trade's behaviour and the delays' reasons; no number of it comes from
a run. The exact rating of the unit is the other side of the steady state.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import pytest

from example_rigs import SCRIPTS, altered_rig, example_rig, library, script
from vaporwright.controls.design import CauseAndEffect, Row
from vaporwright.controls.expressions import TRUE, Is, Not, Was
from vaporwright.controls.rehearsal import Rehearsal, rehearse
from vaporwright.controls.unit_signals import BY_RESET, STOP_THE_UNIT, UnitOptions

HEATS = ("gas", "electric", "steam")
NAMES = sorted(path.stem for path in SCRIPTS.glob("*.toml"))
FITTING = [(name, heat) for name in NAMES for heat in library(name).heats]
QUICK = {
    ("normal_stop", "electric"), ("airflow_lost", "electric"), ("pump_lost", "electric"), ("by_hand", "electric"),
    ("over_temperature", "electric"), ("emergency_stop", "electric"), ("power_loss", "electric"),
    ("start_welded", "electric"), ("broken_reference", "electric"), ("silence_and_reset", "electric"),
    ("heater_contactor", "electric"), ("drain_and_press", "electric"), ("rods_in_a_bucket", "electric"),
}  # fmt: skip


@cache
def played(name: str, heat: str) -> Rehearsal:
    return rehearse(library(name), example_rig(heat))


def unmet(found: Rehearsal) -> list[str]:
    """What was not met, in words."""
    return [
        f"{verdict.expectation.label} {verdict.expectation.text}: {verdict.found} at {verdict.time_s} {verdict.note}"
        for verdict in found.verdicts
        if not verdict.met
    ]


@pytest.mark.parametrize(
    ("name", "heat"), [pair if pair in QUICK else pytest.param(*pair, marks=pytest.mark.slow) for pair in FITTING]
)
def test_a_script_of_the_library_is_met(name: str, heat: str) -> None:
    assert unmet(played(name, heat)) == []


@pytest.mark.slow
@pytest.mark.parametrize("heat", HEATS)
def test_every_row_and_signal_of_the_table_is_seen_on(heat: str) -> None:
    rig = example_rig(heat)
    seen: set[str] = set()
    for name in NAMES:
        if heat in library(name).heats:
            seen |= {entry.name for entry in played(name, heat).entries if entry.on}
    records = set(rig.table.first_out)  # not every trip can be the first of one script or another
    assert set(rig.table.names) - seen - records == set()
    assert len(records - seen) <= 4


@pytest.mark.slow
@pytest.mark.parametrize("heat", HEATS)
def test_water_and_heat_of_a_day_close(heat: str) -> None:
    balance = played("day_of_refills", heat).balance
    assert balance.totals.refill_kg > 100.0
    assert balance.totals.heat_source_J > 1.0e9
    assert abs(balance.water_gap) < 1.0e-3
    assert abs(balance.heat_gap) < 1.0e-3


@pytest.mark.slow
@pytest.mark.parametrize("heat", HEATS)
@pytest.mark.parametrize("season", ["summer", "winter"])
def test_on_trickle_feed_the_unit_evaporates_at_its_rate(heat: str, season: str) -> None:
    text = """
    [[event]]
    at = "1 min"
    trickle = "feed rate"
    [[expect]]
    quantity = "evaporation"
    least = "99.5 % of rate"
    most = "100.5 % of rate"
    from = "8 h"
    to = "9 h"
    why = "its steady state is what rate says"
    [[expect]]
    quantity = "tank_temperature"
    least = "settling - 1 degF"
    most = "settling + 1 degF"
    from = "8 h"
    why = "and it stands where rate says that it settles"
    [[expect]]
    that = "refill_valve"
    is = "off"
    why = "nothing else feeds it"
    """
    # From the middle of the band, above the start's drawdown.
    steady = script(text, duration="9 h", head='[start]\nlevel = "refill-off + 0.75 in"')
    found = rehearse(steady, example_rig(heat, season=season))
    assert [(verdict.expectation.text, verdict.found) for verdict in found.verdicts if not verdict.met] == []


@pytest.mark.slow
def test_a_day_without_waves_runs_in_seconds() -> None:
    # No bound on time, which is the bench's: that most scans of a quiet day are owed and not run one by one.
    this = library("day_of_refills")
    calm = replace(this, events=tuple(event for event in this.events if event.deeds[0].verb != "wave"))
    found = rehearse(calm, example_rig("electric"))
    assert found.met
    assert found.speed > 1000.0


# The job's other choices.


def test_a_shop_that_stops_the_unit_at_high_gets_it_going_again() -> None:
    text = """
    [[event]]
    at = "4 min"
    dip = "high"
    [[event]]
    at = "6 min"
    push = "acknowledge"
    [[event]]
    at = "6 min + 10 s"
    push = "reset"
    [[event]]
    at = "7 min"
    push = "start"
    [[expect]]
    that = "run"
    is = "off"
    at = "4 min + rod_wet + 0.3 s"
    why = "the shop stops at high"
    [[expect]]
    that = "heat"
    is = "on"
    at = "8 min"
    why = "with the rod still wet it can be run down, or nothing ever lowers the level"
    [[expect]]
    that = "refill_valve"
    is = "off"
    from = "4 min"
    why = "nothing refills"
    """
    found = rehearse(script(text), example_rig("electric", replace(UnitOptions(), high_level=STOP_THE_UNIT)))
    assert [verdict.expectation.text for verdict in found.verdicts if not verdict.met] == []


@pytest.mark.slow
def test_low_level_that_clears_by_reset_waits_for_it() -> None:
    text = """
    [[event]]
    at = "4 min"
    dip = "refill-off"
    lift = { low = "24 in" }
    fail = { low_rod = "stuck dry" }
    [[event]]
    at = "5 min"
    fail = { low_rod = "sound" }
    [[event]]
    at = "7 min"
    push = "acknowledge"
    [[event]]
    at = "7 min + 10 s"
    push = "reset"
    [[expect]]
    that = "low_level"
    is = "on"
    from = "4 min + rod_dry + 0.2 s"
    to = "7 min + 10 s"
    why = "refill-off alone does not clear it on this job"
    [[expect]]
    that = "low_level"
    is = "off"
    from = "7 min + 11 s"
    why = "reset does"
    [[expect]]
    that = "run"
    is = "off"
    from = "4 min + rod_dry + 0.2 s"
    why = "the unit starts again by hand"
    """
    found = rehearse(script(text), example_rig("electric", replace(UnitOptions(), low_level_clears=BY_RESET)))
    assert [verdict.expectation.text for verdict in found.verdicts if not verdict.met] == []


@pytest.mark.slow
def test_a_unit_without_options_starts_and_stops() -> None:
    bare = replace(UnitOptions(), warm_up=False, refill_by_hand=False, drain=False, filter_press=False)
    assert [
        verdict.expectation.text
        for verdict in rehearse(library("normal_stop"), example_rig("electric", bare)).verdicts
        if not verdict.met
    ] == []


# Faults planted in the table: each must fail an expectation of the script named.


def row(name: str, change: Callable[[Row], Row]) -> Callable[[CauseAndEffect], CauseAndEffect]:
    def alter(design: CauseAndEffect) -> CauseAndEffect:
        assert any(item.name == name for item in design.rows), name
        return replace(design, rows=tuple(change(item) if item.name == name else item for item in design.rows))

    return alter


def without(name: str, effect: str) -> Callable[[CauseAndEffect], CauseAndEffect]:
    def drop(item: Row) -> Row:
        assert effect in item.effects, effect
        return replace(item, effects={key: cell for key, cell in item.effects.items() if key != effect})

    return row(name, drop)


def delayed(name: str, delay_s: float) -> Callable[[CauseAndEffect], CauseAndEffect]:
    return row(name, lambda item: replace(item, delay_s=delay_s))


PLANTED = {
    "low level leaves the pump on": ("broken_reference", without("low_level", "spray_pump")),
    "low level acts late": ("broken_reference", delayed("low_level", 8.0)),
    "high-high does not shut the refill": ("broken_reference", without("high_high_level", "refill_valve")),
    "high-high does not stop the unit": ("broken_reference", without("high_high_level", "run")),
    "airflow lost leaves the blower on": ("airflow_lost", without("airflow_lost", "blower")),
    "spray needs no proven air": ("airflow_lost", without("airflow_proven", "spray_valve")),
    "pump needs no proven air": ("by_hand", without("pump_may_run", "spray_pump")),
    "air counts as proven at once": ("normal_stop", delayed("airflow_proven", 0.1)),
    "flow counts as proven at once": ("normal_stop", delayed("circulation", 0.1)),
    "pump does not cool the heater": ("normal_stop", without("pump_runs_on", "spray_pump")),
    "heater counts as cool too soon": ("normal_stop", delayed("heater_cooled", 60.0)),
    "blower does not run on": ("normal_stop", without("blower_runs_on", "blower")),
    "flow lost leaves the pump on": ("pump_lost", without("pump_flow_lost", "spray_pump")),
    "flow lost acts late": ("pump_lost", delayed("pump_flow_lost", 6.0)),
    "over-temperature lets heat come back": ("over_temperature", without("over_temperature", "heat")),
    "over-temperature trips at once": ("over_temperature", delayed("over_temperature", 0.1)),
    "over-temperature does not latch": (
        "over_temperature",
        row("over_temperature", lambda item: replace(item, latched=False)),
    ),
    "emergency stop leaves the run": (
        "start_welded",
        row("start_released", lambda item: replace(item, condition=TRUE)),
    ),
    "reset alone restarts": (
        "power_loss",
        row("start_pushed", lambda item: replace(item, condition=Was("control_on"))),
    ),
    "stop is wired the wrong way": (
        "normal_stop",
        row("stop_pushed", lambda item: replace(item, condition=Is("stop_clear"))),
    ),
    "trip without alarm": ("silence_and_reset", row("blower_overload", lambda item: replace(item, alarm=None))),
    "drain does not wait": (
        "drain_and_press",
        row("draining", lambda item: replace(item, condition=Is("drain_selected"))),
    ),
    "rods disagree the wrong way": (
        "normal_stop",
        row("rods_disagree", lambda item: replace(item, condition=Not(Is("high_rod")))),
    ),
    "run timer is short": ("run_timer", delayed("refill_too_long", 60.0)),
}


@pytest.mark.parametrize("fault", [*PLANTED])
def test_a_fault_planted_in_the_table_fails_its_script(fault: str) -> None:
    name, alter = PLANTED[fault]
    assert unmet(rehearse(library(name), altered_rig("electric", alter))) != []
