"""The safety properties of a unit's own table, proved over its variants, and planted faults that must break one.

`dev.py check` proves one variant of each heat; `dev.py test` proves all claims for a set of variants in which every two
options meet in every combination, with every heat, and the recoveries for the corners.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import combinations

import pytest

from unit_controls import BARE, HEATS, STOPS, every_option, unit_control, unit_plain
from vaporwright.controls.design import Row
from vaporwright.controls.expansion import expanded
from vaporwright.controls.expressions import TRUE, All, Any, Is, Not, Was, both, either
from vaporwright.controls.proof import prove, rows_that_never_act
from vaporwright.controls.properties import Property
from vaporwright.controls.unit_properties import SILENCE, claims_of, properties_of, recoveries_of
from vaporwright.controls.unit_signals import UnitOptions
from vaporwright.controls.unit_table import UnitTable
from vaporwright.unit.heat import HeatKind

WHOLE = UnitOptions()


def fallen(control: UnitTable, properties: tuple[Property, ...]) -> list[str]:
    table = expanded(control.design)
    return [wanted.name for wanted in properties if prove(table, wanted).status != "proved"]


def choices(options: UnitOptions) -> tuple[object, ...]:
    names = ("high_level", "low_level_clears", "warm_up", "refill_by_hand", "drain", "filter_press")
    return tuple(getattr(options, name) for name in names)


def pairwise() -> list[UnitOptions]:
    """Options chosen so that every two choices meet in every combination: the most new pairs first."""

    def pairs(options: UnitOptions) -> set[object]:
        return set(combinations(enumerate(choices(options)), 2))

    left = set().union(*map(pairs, every_option()))
    chosen: list[UnitOptions] = []
    while left:
        chosen.append(max(every_option(), key=lambda options: len(pairs(options) & left)))
        left -= pairs(chosen[-1])
    return chosen


@pytest.mark.parametrize(("heat", "options"), [("gas", WHOLE), ("electric", STOPS), ("steam", BARE)])
def test_every_claim_is_proved(heat: HeatKind, options: UnitOptions) -> None:
    control = unit_control(heat, options)
    claims = (*claims_of(control), SILENCE)
    assert len(claims) >= 45
    assert fallen(control, claims) == []


@pytest.mark.slow
@pytest.mark.parametrize("heat", HEATS)
def test_every_claim_is_proved_for_every_two_options(heat: HeatKind) -> None:
    chosen = pairwise()
    assert 4 <= len(chosen) <= 12
    for options in chosen:
        control = unit_control(heat, options)
        assert fallen(control, (*claims_of(control), SILENCE)) == [], options


@pytest.mark.slow
@pytest.mark.parametrize(("heat", "options"), [("gas", WHOLE), ("gas", STOPS), ("electric", BARE), ("steam", STOPS)])
def test_every_state_recovers(heat: HeatKind, options: UnitOptions) -> None:
    control = unit_control(heat, options)
    assert fallen(control, recoveries_of(control)) == []


def test_ids_and_sentences_are_fit_to_be_read() -> None:
    for options in (WHOLE, STOPS, BARE):
        for heat in HEATS:
            properties = properties_of(unit_control(heat, options))
            assert len({wanted.name for wanted in properties}) == len(properties)
            assert all(wanted.sentence.endswith(".") and "  " not in wanted.sentence for wanted in properties)


@pytest.mark.slow
@pytest.mark.parametrize("heat", HEATS)
def test_every_row_can_act(heat: HeatKind) -> None:
    assert rows_that_never_act(unit_plain(heat)) == ()


# Faults planted by hand: what was done, to which row, and the property that must fall.


def without(*columns: str) -> Callable[[Row], Row]:
    return lambda row: replace(row, effects={name: cell for name, cell in row.effects.items() if name not in columns})


def changed(**changes: object) -> Callable[[Row], Row]:
    return lambda row: replace(row, **changes)  # type: ignore[arg-type]


FAULTS: tuple[tuple[str, str, Callable[[Row], Row], str], ...] = (
    ("pump runs without air", "pump_may_run", without("spray_pump"), "pump_needs_air"),
    ("warm-up needs no shut spray", "pump_may_run",
     changed(condition=either(both(Is("airflow_proven"), Is("blower")), Is("warm_up"))), "pump_needs_air"),
    ("the blower's own command is forgotten", "pump_may_run",
     changed(condition=either(Is("airflow_proven"), both(Is("warm_up"), Is("spray_shut")))), "pump_needs_blower"),
    ("the spray opens without air", "airflow_proven", without("spray_valve"), "spray_needs_air"),
    ("the spray opens in warm-up", "spraying", changed(condition=TRUE), "warm_up_shuts_spray"),
    ("airflow counts without the blower", "airflow_proven",
     changed(condition=Is("airflow"), reset=Is("airflow_absent")), "air_switch_proved"),
    ("the airflow switch need not open", "air_switch_seen_open", changed(condition=Not(Was("blower"))),
     "blower_needs_open_switch"),
    ("low level reads the rod above", "low_level", changed(condition=Not(Is("refill_on_rod"))), "heat_needs_level"),
    ("low level forgets the pump", "low_level", without("spray_pump"), "low_level_stops_pump"),
    ("low level clears as drain-back wets the rod", "low_level", changed(reset=Is("low_rod")), "low_level_holds"),
    ("low level waits two scans more", "low_level", changed(delay_s=4.2), "heat_needs_level"),
    ("heat comes back with the level", "low_level_heat", changed(latched=False), "low_level_heat_by_hand"),
    ("the low-water contact is inverted", "low_water", changed(condition=Is("low_water_clear")), "heat_needs_water"),
    ("high leaves the second valve open", "high_level", without("refill_valve", "refill_shutoff"),
     "refill_shutoff_shuts_at_high"),
    ("the refill's timer closes nothing", "refill_too_long", without("refill_valve", "refill_shutoff"),
     "refill_run_time"),
    ("high-high does not latch", "high_high_level", changed(latched=False), "trips_stay"),
    ("over-temperature waits before heat goes", "too_hot", without("heat"), "over_temperature_stops_heat"),
    ("over-temperature stops the pump", "over_temperature",
     lambda row: replace(row, effects={**row.effects, "spray_pump": "off"}), "hot_tank_keeps_cooling"),
    ("over-temperature ends the run", "over_temperature",
     lambda row: replace(row, effects={**row.effects, "run": "off"}, first_out=""), "heat_trips_keep_running"),
    ("over-temperature clears itself", "over_temperature", changed(reset=Not(Is("over_set_point"))),
     "over_temperature_stays"),
    ("flow is not needed for heat", "circulation", without("heat"), "heat_needs_flow"),
    ("heat ignores the limit string", "limits_closed", without("heat"), "heat_needs_limits"),
    ("heat has a hand", "heat_called",
     changed(condition=All((Is("spray_pump"), either(Is("run"), Is("pump_hand")), Not(Is("at_set_point"))))),
     "heat_needs_run"),
    ("the set point's contact is inverted", "heat_called",
     changed(condition=All((Is("heat_auto"), Is("run"), Is("spray_pump"), Is("at_set_point")))),
     "heat_under_set_point"),
    ("a held start starts", "start_pushed", changed(condition=both(Is("start"), Was("control_on"))),
     "only_start_starts"),
    ("a held reset restores", "control_reset", changed(condition=Is("reset")), "only_reset_restores"),
    ("power return restores the relay", "control_reset", changed(condition=TRUE), "only_reset_restores"),
    ("emergency stop waits a second", "emergency_stop", changed(delay_s=1.0), "emergency_stop_stops"),
    ("the relay does not hold the drain", "control_there", without("drain_valve"), "control_relay_holds_all"),
    ("an overload does not latch", "pump_overload", changed(latched=False), "trips_stay"),
    ("the plastic's limit spares the pump", "plastic_too_hot", without("spray_pump"), "plastic_stops_pump"),
    ("silence acknowledges a level", "high_level", changed(condition=both(Is("high_rod"), Not(Is("silence")))),
     "silence_horn_only"),
    ("the drain opens in a run", "draining",
     changed(condition=both(Is("drain_selected"), Is("heater_cooled")), effects={"drain_valve": "on"}),
     "drain_at_rest"),
    ("the drain opens over a hot heater", "draining",
     changed(condition=both(Is("drain_selected"), Not(either(Was("run"), Was("heat"), Was("spray_pump"))))),
     "drain_waits_for_heater"),
    ("the drain's selector is inverted", "draining",
     changed(condition=All((Not(Is("drain_selected")), Not(Any((Was("run"), Was("heat"), Was("spray_pump")))),
                            Is("heater_cooled")))), "drain_by_selector"),
    ("flow that never comes spares the pump", "pump_flow_missing", without("spray_pump", "run"), "pump_needs_flow"),
    ("a flame unasked is told late", "flame_unasked", changed(delay_s=30.0), "unasked_heat_is_told"),
    ("the press is fed unasked", "press_asks", changed(condition=TRUE), "press_asks_first"),
    ("the pump cools only in a run", "pump_runs_on", changed(condition=both(Is("pump_auto"), Was("spray_pump"),
     Is("run"))), "pump_cools_heater"),
    ("a tripped flame keeps its call", "flame_lost", without("heat"), "flame_failure_ends_heat"),
)  # fmt: skip


@pytest.mark.parametrize(("what", "row", "fault", "falls"), FAULTS, ids=[entry[0] for entry in FAULTS])
def test_a_planted_fault_breaks_its_property(what: str, row: str, fault: Callable[[Row], Row], falls: str) -> None:
    control = unit_control("gas")
    rows = tuple(fault(entry) if entry.name == row else entry for entry in control.design.rows)
    assert rows != control.design.rows, what
    table = expanded(replace(control.design, rows=rows))
    wanted = {claim.name: claim for claim in (*claims_of(control), SILENCE)}  # of the unharmed table
    assert prove(table, wanted[falls]).status == "fallen"


@pytest.mark.slow
def test_a_deadlock_falls_to_the_recovery() -> None:
    """Low level clears at refill-off; not called for by low level, with the band full enough, no refill gets there."""
    control = unit_control("gas")
    wanted = next(wanted for wanted in recoveries_of(control) if wanted.name == "latches_reset")
    dead = both(Is("refill_auto"), Not(Is("refill_on_rod")))
    rows = tuple(replace(row, condition=dead) if row.name == "refill_called" else row for row in control.design.rows)
    assert prove(expanded(replace(control.design, rows=rows)), wanted).status == "fallen"


@pytest.mark.slow
def test_high_level_that_stops_for_good_falls_to_the_recovery() -> None:
    """Stopped as long as the rod is wet, nothing evaporates and the rod stays wet."""
    control = unit_control("gas", STOPS)
    rows = tuple(
        replace(row, condition=Is("high_level")) if row.name == "high_level_stop" else row
        for row in control.design.rows
    )
    wanted = next(wanted for wanted in recoveries_of(control) if wanted.name == "recovers_from_high")
    assert prove(expanded(replace(control.design, rows=rows)), wanted).status == "fallen"
