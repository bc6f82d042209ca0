"""The matrix that a shop edits: what it refuses, and what it expands to."""

from __future__ import annotations

from dataclasses import replace

import pytest

from invented_controls import invented_design, invented_table
from vaporwright.controls.alarms import AlarmPanel
from vaporwright.controls.design import CauseAndEffect, Column, Row, Signal
from vaporwright.controls.expansion import expanded
from vaporwright.controls.expressions import FALSE, All, Any, Is, Not, Was
from vaporwright.controls.table import Effect, Latch, Timer
from vaporwright.foundation.errors import InputError

SIGNALS = tuple(Signal(name, name, "contact", "closed") for name in ("a", "b", "silence", "acknowledge", "reset"))
PANEL = AlarmPanel("silence", "acknowledge", "reset")
START, TRIP = Row("asked", "asked", Is("a"), {"motor": "on"}), Row("trip", "trip", Is("b"), {"motor": "off"})
SMALL = CauseAndEffect("small", 0.1, SIGNALS, (Column("motor", "motor", "motor", wins="off"),), (START, TRIP))


def refused(design: CauseAndEffect, **changes: object) -> InputError:
    with pytest.raises(InputError) as caught:
        expanded(replace(design, **changes))  # type: ignore[arg-type]
    assert caught.value.where == "small"
    assert caught.value.allowed
    return caught.value


@pytest.mark.parametrize(
    ("row", "problem"),
    [
        (replace(TRIP, condition=Is("c")), "unknown signal c"),
        (replace(TRIP, condition=Is("trip")), "unknown signal trip"),
        (replace(TRIP, condition=Was("nothing")), "unknown signal nothing"),
        (replace(TRIP, effects={"pump": "off"}), "unknown effect pump"),
        (replace(TRIP, effects={"motor": "stop"}), "cell 'stop'"),
        (replace(TRIP, latched=True), "nothing resets it"),
        (replace(TRIP, reset=Is("reset")), "not latched"),
        (replace(TRIP, latched=True, reset=All((Is("a"), Not(Is("a"))))), "reset can never be true"),
        (replace(TRIP, alarm="high"), "alarm of no panel"),
        (replace(TRIP, delay_s=0.25), "no whole number of scans"),
        (replace(TRIP, delay_s=-1.0), "out of range"),
        (replace(TRIP, delay_s=86_400.1), "out of range"),
        (replace(TRIP, condition=All((Is("a"), Is("b"), Not(Is("a"))))), "can never be true"),
        (replace(TRIP, condition=All((Is("asked"), Not(Is("a"))))), "can never be true"),
        (replace(TRIP, condition=FALSE), "can never be true"),
        (replace(TRIP, condition=Is("motor"), delay_s=1.0), "worked out after the timers"),
        (replace(TRIP, condition=Is("motor"), latched=True, reset=Is("reset")), "reads an effect of the same scan"),
        (replace(TRIP, condition=Is("motor"), first_out="trips"), "reads an effect of the same scan"),
        (replace(TRIP, condition=Is("motor")), "in a circle"),
    ],
)
def test_a_row_with_a_fault_is_refused(row: Row, problem: str) -> None:
    error = refused(SMALL, rows=(START, row))
    assert error.key in ("trip", "motor")
    assert problem in error.problem


def test_two_rows_that_drive_an_effect_both_ways_need_a_written_priority() -> None:
    unwritten = (Column("motor", "motor", "motor"),)
    error = refused(SMALL, columns=unwritten)
    assert error.key == "motor"
    assert "asked turns it on while trip turns it off" in error.problem
    apart = replace(TRIP, condition=All((Is("b"), Not(Is("a")))))
    expanded(replace(SMALL, columns=unwritten, rows=(START, apart)))  # they can never meet
    assert refused(SMALL, columns=unwritten, rows=(START, replace(apart, delay_s=1.0)))  # now they can


@pytest.mark.parametrize(
    ("column", "rows", "problem"),
    [
        (Column("motor", "motor", "motor", wins="on"), (START, TRIP), "never act"),
        (Column("motor", "motor", "motor", wins="off"), (TRIP,), "no row turns it on"),
        (Column("motor", "motor", "motor", holds=True, wins="off"), (START,), "no row turns it off"),
    ],
)
def test_a_column_with_a_fault_is_refused(column: Column, rows: tuple[Row, ...], problem: str) -> None:
    assert problem in refused(SMALL, columns=(column,), rows=rows).problem


def test_a_name_is_written_once_in_the_whole_matrix() -> None:
    assert refused(SMALL, rows=(START, TRIP, replace(TRIP, title="again"))).key == "trip"
    assert refused(SMALL, rows=(START, replace(TRIP, name="a"))).key == "a"
    assert refused(SMALL, panel=replace(PANEL, horn="motor")).key == "motor"
    assert refused(SMALL, panel=replace(PANEL, silence="quiet")).key == "quiet"


def test_cells_become_an_effect() -> None:
    need = Row("allowed", "allowed", Not(Is("reset")), {"motor": "need"})
    table = expanded(replace(SMALL, rows=(START, TRIP, need)))
    assert table.effects == (Effect("motor", Is("asked"), Any((Is("trip"), Not(Is("allowed"))))),)
    assert table.outputs == ("motor",)


def test_an_effect_that_holds_has_a_memory_that_a_need_only_interrupts() -> None:
    need = Row("allowed", "allowed", Not(Is("reset")), {"motor": "need"})
    holding = (Column("motor", "motor", "motor", holds=True, wins="off"),)
    table = expanded(replace(SMALL, columns=holding, rows=(START, TRIP, need)))
    assert table.latches == (Latch("motor_held", Is("asked"), Any((Is("trip"),)), set_wins=False),)
    assert table.effects == (Effect("motor", Is("motor_held"), Any((Not(Is("allowed")),))),)


def test_a_delayed_row_reads_other_rows_as_they_are_before_the_timers() -> None:
    slow = Row("slow", "slow", All((Is("asked"), Is("b"))), {"motor": "off"}, delay_s=2.0)
    slower = Row("slower", "slower", Is("slow"), {"motor": "off"}, delay_s=1.0)
    table = expanded(replace(SMALL, rows=(START, slow, slower)))
    assert table.timers == (
        Timer("slow_delay", All((Is("a"), Is("b"))), 20),
        Timer("slower_delay", Is("slow_delay"), 10),
    )


def test_rows_find_their_place_by_what_they_read() -> None:
    table = invented_table()
    causes, latches, effects = ({item.name for item in items} for items in (table.causes, table.latches, table.effects))
    assert "airflow_proven" in causes  # signals only
    assert "low_level_heat_cause" in latches  # reads a latched row
    assert "heat_called" in effects  # reads effects of the same scan
    assert "heat_called" not in table.outputs


def test_every_item_of_the_table_has_a_label() -> None:
    table = invented_table()
    assert set(table.names) == set(table.labels)


def test_the_invented_matrix_is_of_real_size() -> None:
    design, table = invented_design(), invented_table()
    assert len(table.signals) >= 31
    assert len(table.timers) >= 12
    assert len(table.latches) >= 13
    assert len(table.outputs) >= 13
    assert len(design.rows) >= 40
