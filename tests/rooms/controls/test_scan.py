"""The flat program against the table as it is written."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from invented_controls import BUTTONS, RUNNING, invented_table
from rooms.controls.random_tables import disturbed_inputs, random_inputs, random_table
from vaporwright.controls.program import compiled_program, run_scans
from vaporwright.controls.scan import Engine, power_up, scanned
from vaporwright.controls.table import Table
from vaporwright.foundation.errors import InputError


def reference(table: Table, inputs: np.ndarray) -> np.ndarray:
    state, rows = power_up(table), []
    for row in inputs.tolist():
        state = scanned(table, state, dict(zip(table.signals, row, strict=True)))
        rows.append([state.values[name] for name in table.names])
    return np.array(rows)


def test_the_engine_does_what_the_table_says() -> None:
    table = invented_table()
    inputs = disturbed_inputs(table, 1200, 1, RUNNING, BUTTONS)
    expected = reference(table, inputs)
    assert np.array_equal(Engine(table).run(inputs), expected)
    seen_both_ways = {name for name, on in zip(table.names, expected.mean(axis=0), strict=True) if 0.0 < on < 1.0}
    assert seen_both_ways >= {"run", "blower", "spray_pump", "heat", "horn", "low_water", "circulation_delay"}


def test_the_interpreter_is_the_same_before_it_is_compiled() -> None:
    table = random_table(5, comparators=True)
    program = compiled_program(table)
    inputs = random_inputs(table, 60, 2)
    record = np.empty((60, program.names), dtype=np.uint8)
    values, counters = np.zeros(program.slots, np.uint8), np.zeros(program.counters, np.int64)
    run_scans(
        program.code, program.kept, program.signals, program.names, values, counters, inputs.astype(np.uint8), record
    )
    assert np.array_equal(record.astype(bool), Engine(table).run(inputs))


def test_a_run_goes_on_where_the_last_one_ended() -> None:
    table = invented_table()
    inputs = random_inputs(table, 300, 3)
    whole = Engine(table).run(inputs)
    engine = Engine(table)
    parts = [engine.run(inputs[:100])]
    for row in inputs[100:110].tolist():
        values = engine.scan(dict(zip(table.signals, row, strict=True)))
        parts.append(np.array([[values[name] for name in table.names]]))
    other = Engine(table)
    other.load(engine.state())
    parts.append(other.run(inputs[110:]))
    assert np.array_equal(np.concatenate(parts), whole)


def test_inputs_of_another_shape_or_value_are_refused() -> None:
    engine = Engine(random_table(1))
    with pytest.raises(InputError, match="one a signal"):
        engine.run(np.zeros((3, 99), dtype=bool))
    with pytest.raises(InputError, match="neither 0 nor 1"):
        engine.run(np.full((3, len(engine.table.signals)), 2))


def test_a_table_of_inputs_only_runs() -> None:
    table = replace(random_table(1), timers=(), causes=(), latches=(), effects=(), outputs=())
    inputs = random_inputs(table, 5, 1)
    assert np.array_equal(Engine(table).run(inputs), inputs)
