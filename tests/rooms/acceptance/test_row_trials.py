"""Rows of a table as trials: found by search, seen to show the row, and put into steps for people."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest

from example_rigs import example_table
from example_subjects import example_subject
from vaporwright.acceptance.steps.procedure import YES_OR_NO, ProcedureSection
from vaporwright.acceptance.trials.found import ControlTrials
from vaporwright.acceptance.trials.means import STRING, means_of, resting_signals
from vaporwright.acceptance.trials.other_trials import series_checks
from vaporwright.acceptance.trials.paper_unit import PaperUnit
from vaporwright.acceptance.trials.row_steps import IN_SERIES, sections_of
from vaporwright.acceptance.trials.row_trials import control_trials, tells
from vaporwright.acceptance.trials.table_changes import aspects_of, with_delay, without_latch
from vaporwright.acceptance.trials.trial import Replay, Sign, Timing, first_change
from vaporwright.controls.alarms import AlarmPanel
from vaporwright.controls.design import CauseAndEffect, Column, Row, Signal
from vaporwright.controls.expressions import Is, Not, Was, both
from vaporwright.controls.unit_table import UnitTable

DRY_s = 4.0


def small_design() -> CauseAndEffect:
    """Worked by hand: a pump that runs in hand, stopped by a low rod that is dry for four seconds, until reset."""
    names = ("emergency_stop_clear", "pump_hand", "low_rod", "reset", "silence", "acknowledge")
    kinds = ("contact", "selector", "rod", "button", "button", "button")
    return CauseAndEffect(
        name="small",
        scan_s=0.1,
        signals=tuple(Signal(name, name, kind, "on") for name, kind in zip(names, kinds, strict=True)),
        columns=(Column("spray_pump", "spray pump", "motor", wins="off"),),
        rows=(
            Row("low_level", "low level", Not(Is("low_rod")), {"spray_pump": "off"}, delay_s=DRY_s, latched=True,
                alarm="high", first_out="trips"),
            Row("emergency_stop", "emergency stop", Not(Is("emergency_stop_clear")), {"spray_pump": "off"},
                latched=True, alarm="high", first_out="trips"),
            Row("pump_by_hand", "spray pump in hand", Is("pump_hand"), {"spray_pump": "on"}),
        ),
        panel=AlarmPanel("silence", "acknowledge", "reset"),
    )  # fmt: skip


def small_unit() -> UnitTable:
    return replace(example_table("electric"), design=small_design(), reasons={})


@lru_cache
def small_trials() -> ControlTrials:
    return control_trials(small_unit())


def whole_trials(heat: str) -> ControlTrials:
    return example_subject(heat).trials


def looks_of(found: ControlTrials, key: str) -> dict[str, dict[str, bool]]:
    return {look.field: dict(look.expected) for look in found.by_step[key].looks}


def test_delay_is_timed_from_the_deed_to_what_is_seen() -> None:
    (item,) = small_trials().of("low_level")
    (timing,) = item.trial.timings
    assert timing.expected_s == DRY_s
    assert timing.tolerance_s == 1.0
    assert timing.end in (Sign("alarm:low_level", True), Sign("output:spray_pump", False))
    assert item.means.key == "low_rod_off"
    assert item.context.key == "power, pump_hand"  # with the pump running, or its stop could not be seen


def test_tolerance_of_a_long_delay_is_a_tenth() -> None:
    assert Timing("t", 0, Sign("output:x", True), 120.0).tolerance_s == pytest.approx(12.0)


def test_what_must_be_seen_follows_the_table_as_designed() -> None:
    looks = looks_of(small_trials(), "rows.low_level")
    assert looks["before"]["output:spray_pump"]
    assert looks["then_spray_pump"] == {"output:spray_pump": False}
    assert looks["then_alarm"] == {
        "alarm:low_level": True, "unseen:low_level": True, "output:horn": True, "output:beacon": True,
    }  # fmt: skip
    assert looks["then_first"] == {"first:low_level": True}
    assert looks["silenced"]["alarm:low_level"]
    assert not looks["silenced"]["output:horn"]
    assert looks["reset_with_cause"]["alarm:low_level"]
    assert looks["restored"]["alarm:low_level"], "it latches"
    assert not looks["reset"]["alarm:low_level"]
    assert looks["reset"]["output:spray_pump"], "the selector still stands in hand"
    assert looks["reset_unseen"]["alarm:low_level"], "a reset before it was acknowledged does nothing"
    assert not looks["reset_seen"]["alarm:low_level"]


@pytest.mark.parametrize("row", ["low_level", "emergency_stop", "pump_by_hand"])
def test_trials_tell_each_aspect_of_a_row(row: str) -> None:
    found = small_trials()
    assert not found.hidden.get(row)
    design_row = next(item for item in small_design().rows if item.name == row)
    table = PaperUnit(small_unit(), resting_signals(small_unit())).table
    for aspect, other in aspects_of(design_row, table):
        replay = Replay(other)
        assert any(tells(item.trial, item.film, replay.film(item.context, item.film)) for item in found.rows), aspect


def test_a_trial_does_not_tell_the_table_from_itself() -> None:
    found = small_trials()
    replay = Replay(PaperUnit(small_unit(), resting_signals(small_unit())).table)
    for item in found.rows:
        assert not tells(item.trial, item.film, replay.film(item.context, item.film))


def test_a_delay_off_by_less_than_its_tolerance_passes_and_by_twice_fails() -> None:
    (item,) = small_trials().of("low_level")
    for by_s, seen in ((0.5, False), (-0.5, False), (2.2, True), (-2.2, True)):
        replay = Replay(with_delay(item.film.table, "low_level_delay", by_s))
        assert tells(item.trial, item.film, replay.film(item.context, item.film)) == seen, by_s


def test_a_missing_latch_shows_when_the_cause_is_put_back() -> None:
    (item,) = small_trials().of("low_level")
    film = Replay(without_latch(item.film.table, "low_level")).film(item.context, item.film)
    restored = next(look for look in item.trial.looks if look.field == "restored")
    line = film.column("low_level")
    assert line is not None
    assert not line[restored.scan]


def test_row_that_reads_nothing_that_people_can_do_is_named_as_hidden() -> None:
    twice = Row("again", "the same once more", both(Is("low_level"), Was("low_level")), {"spray_pump": "off"})
    design = replace(small_design(), rows=(*small_design().rows, twice))
    found = control_trials(replace(small_unit(), design=design))
    assert found.hidden["again"] == (("cell", "spray_pump"),)
    assert found.covered["again"] == "rows.low_level"


def test_nothing_is_bridged() -> None:
    for heat in ("gas", "electric", "steam"):
        for means in means_of(example_table(heat)):
            assert not means.changes.get(STRING), means.key
            assert "bridge" not in f"{means.action} {means.restore}"


def test_every_contact_in_series_is_tried_by_itself() -> None:
    checks = {(check.output, check.contact) for check in series_checks(example_table("gas"))}
    for contact in ("low_water_clear", "high_limit_clear", "airflow", "emergency_stop_clear", "gas_pressure_low_clear"):
        assert ("heat", contact) in checks
    assert ("blower", "blower_overload_clear") in checks
    assert ("spray_pump", "pump_overload_clear") in checks


def test_airflow_on_paper_follows_the_blower_after_its_lag() -> None:
    table = example_table("electric")
    paper = PaperUnit(table, resting_signals(table))
    paper.run(5)  # a reset counts only if its button was seen up
    for changes, scans in (({"reset": True}, 5), ({"blower_auto": False, "blower_hand": True}, 60)):
        paper.hold(changes)
        paper.run(scans)
        paper.let_go({"reset": True})
    _, made = paper.record()
    blower, air = (made[:, paper.place[name]] for name in ("blower", "airflow"))
    lag_s = 0.1 * (int(np.flatnonzero(air)[0]) - int(np.flatnonzero(blower)[0]))
    assert lag_s == pytest.approx(0.7 * 5.0, abs=0.11)  # the switch closes at 0.7 of a run-up of five seconds


def test_first_change_ignores_what_was_so_before() -> None:
    (item,) = small_trials().of("low_level")
    assert first_change(item.film, Sign("output:spray_pump", True), 1, 10) is None
    found = first_change(item.film, Sign("alarm:low_level", True), 1, item.trial.scans)
    assert found == 20 + round(DRY_s / 0.1) - 1  # the deed is two seconds into the trial


# Whole units


@pytest.mark.slow
@pytest.mark.parametrize("heat", ["gas", "electric", "steam"])
def test_every_row_input_output_and_alarm_of_a_unit_has_its_step(heat: str) -> None:
    table, found = example_table(heat), whole_trials(heat)
    sections = {section.key: section for section in sections_of(table, found)}
    assert list(sections) == ["io", "rows", "alarms"]
    keys = [step.key for section in sections.values() for step in section.steps]
    assert len(keys) == len(set(keys))
    assert IN_SERIES in keys
    for signal in table.design.signals:
        assert f"io.input_{signal.name}" in keys
    for column in table.design.columns:
        assert f"io.output_{column.name}" in keys
    for row in table.design.rows:
        assert f"rows.{row.name}" in keys or found.covered[row.name] in keys
        for column in row.effects:
            shown = {aspect for item in found.of(row.name) for aspect in item.shows}
            assert ("cell", column) in shown | set(found.hidden.get(row.name, ())) or row.name in found.covered \
                or any(column in item.row.effects for item in found.rows)  # fmt: skip
    assert set(found.by_step) | {IN_SERIES} == set(keys)


@pytest.mark.slow
@pytest.mark.parametrize("heat", ["gas", "electric", "steam"])
def test_every_delayed_alarm_is_timed_against_the_designs_own_delay(heat: str) -> None:
    table, found = example_table(heat), whole_trials(heat)
    for row in table.design.rows:
        if row.alarm and row.delay_s:
            times = [timing.expected_s for item in found.of(row.name) for timing in item.trial.timings]
            assert times, row.name
            assert times[0] == pytest.approx(row.delay_s, abs=0.25), row.name


@pytest.mark.slow
def test_what_needs_a_flame_is_hot_and_what_needs_none_is_not() -> None:
    steps = {
        step.key: step for section in sections_of(example_table("gas"), whole_trials("gas")) for step in section.steps
    }
    for row in ("flame_lost", "flame_unasked", "combustion_air_lost", "no_flame"):
        assert steps[f"rows.{row}"].hot, row
    for row in ("low_level", "low_water", "airflow_lost", "high_limit", "over_temperature", "gas_pressure_low"):
        assert not steps[f"rows.{row}"].hot, row


@pytest.mark.slow
def test_steps_say_what_to_do_what_to_see_and_how_to_put_it_back() -> None:
    sections: tuple[ProcedureSection, ...] = sections_of(example_table("gas"), whole_trials("gas"))
    for step in (step for section in sections for step in section.steps):
        assert step.purpose
        assert step.actions[0].startswith(("Bring the unit to", "Lock the power out"))
        assert step.minutes > 0.0
        for field in step.fields:
            assert field.label
            assert field.reason
            if field.quantity == YES_OR_NO:
                assert field.expected is True
            else:
                assert (field.quantity, field.instrument) == ("delay", "stopwatch")
                assert field.limits is not None
                assert field.limits.low is not None
                assert field.limits.high is not None


@pytest.mark.slow
def test_what_stays_hidden_is_what_other_rows_do_as_well() -> None:
    """Each was looked at: the first row named takes the effect away in the same scan, or in the one after."""
    done_by_others = {
        "emergency_stop": ("run",),  # control_lost, a scan later
        "control_there": ("heat", "refill_shutoff", "spray_valve"),  # pump_may_run, refill_open, airflow_proven
        "control_lost": ("run",),  # emergency_stop, or the start of a program
        "low_level": ("heat",),  # heat_called needs the pump
        "low_water": ("heat",),
        "plastic_too_hot": ("heat",),
        "pump_may_run": ("heat",),
        "high_level": ("refill_shutoff",),  # refill_open needs the first valve
        "high_high_level": ("refill_shutoff",),
        "refill_too_long": ("refill_shutoff",),
        "too_hot": ("heat",),  # at_set_point ends the call before
    }
    for heat in ("gas", "electric", "steam"):
        for row, aspects in whole_trials(heat).hidden.items():
            for kind, column in aspects:
                if kind == "cell":
                    assert column in done_by_others[row], (heat, row, column)
                else:
                    assert row in ("reset_released", "start_released", "airflow_absent", "flow_absent"), (
                        heat,
                        row,
                        kind,
                    )
