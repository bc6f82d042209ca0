"""The PLC text, read back by an independent reader: proved equal to the table, and run against the scan engine."""

from __future__ import annotations

from dataclasses import replace

import lark
import numpy as np
import pytest

from invented_controls import BUTTONS, RUNNING, invented_table
from oracle.structured_text_reader import beginning, difference_from, executor, read
from rooms.controls.random_tables import disturbed_inputs, random_inputs, random_table
from vaporwright.controls.scan import Engine
from vaporwright.controls.structured_text import CAUTIONS, io_list, structured_text
from vaporwright.controls.table import Table


def test_the_text_is_proved_equal_to_the_table() -> None:
    table = invented_table()
    text = read(structured_text(table))
    assert difference_from(text, table) is None
    start = beginning(text)
    assert not any(start.values())  # which is the table's power-up
    assert text.period_ms == 100


@pytest.mark.parametrize("seed", range(24))
def test_any_text_is_proved_equal_to_its_table(seed: int) -> None:
    table = random_table(seed, comparators=seed % 2 == 0)
    assert difference_from(read(structured_text(table)), table) is None


@pytest.mark.parametrize(
    ("written", "instead", "found"),
    [
        ("low_level_delay_count < 20", "low_level_delay_count < 21", "low_level_delay_count"),
        ("low_level_delay_count >= 20", "low_level_delay_count >= 19", "low_level_delay"),
        ("tank_temperature_K >= 341.5", "tank_temperature_K >= 341.6", "at_set_point"),
        ("tank_temperature_K < 340.5", "tank_temperature_K <= 340.5", "at_set_point"),
        ("stop_pushed := (NOT stop_clear)", "stop_pushed := stop_clear", "stop_pushed"),
        ("was_heat := heat;", "was_heat := run;", "was_heat"),
        ("was_heat := heat;", "", "was_heat"),
        ("reset_released := (NOT reset);", "", "reset_released"),
        ("(control_reset OR control_on_held) AND NOT", "control_reset OR control_on_held AND NOT", "control_on_held"),
        ("spray_valve := spraying AND NOT", "spray_valve := spraying OR NOT", "spray_valve"),
    ],
)
def test_one_slip_in_the_text_is_found(written: str, instead: str, found: str) -> None:
    text = structured_text(invented_table())
    assert written in text
    assert difference_from(read(text.replace(written, instead, 1)), invented_table()) == found


@pytest.mark.parametrize(
    ("written", "instead"),
    [
        ("VAR\n", "VAR RETAIN\n"),
        ("stop_pushed := (NOT stop_clear);", "delay(IN := stop_clear, PT := T#1s);"),
        ("stop_pushed := (NOT stop_clear);", "stop_pushed := stop_clear - 1;"),
    ],
)
def test_blocks_and_retained_variables_do_not_parse(written: str, instead: str) -> None:
    text = structured_text(invented_table())
    assert written in text
    with pytest.raises(lark.exceptions.LarkError):
        read(text.replace(written, instead, 1))


def test_the_reader_refuses_what_is_undeclared_or_written_to_an_input() -> None:
    text = structured_text(invented_table())
    for written, instead in (("stop_pushed := ", "unknown := "), ("stop_pushed := ", "stop_clear := ")):
        with pytest.raises(AssertionError):
            read(text.replace(written, instead, 1))


def test_declarations_and_io_list_name_what_is_wired() -> None:
    table = invented_table()
    text = read(structured_text(table))
    assert text.of_block("VAR_INPUT", "BOOL") == table.inputs
    assert text.of_block("VAR_INPUT", "LREAL") == ("tank_temperature_K",)
    assert text.of_block("VAR_OUTPUT", "BOOL") == table.outputs
    points = {point.name: point for point in io_list(table)}
    assert tuple(points) == (*table.inputs, "tank_temperature_K", *table.outputs)
    assert (points["low_rod"].direction, points["low_rod"].on_means) == ("digital input", "wet")
    assert points["tank_temperature_K"].direction == "analog input"
    assert "over_set_point: above 344" in points["tank_temperature_K"].on_means
    assert points["blower"].direction == "digital output"


def test_the_cautions_head_the_text_and_lines_fit_an_editor() -> None:
    text = structured_text(invented_table())
    head = text[: text.index("*)")]
    assert all(line in head for line in CAUTIONS)
    assert max(len(line) for line in text.splitlines()) <= 120


def run_both(table: Table, inputs: np.ndarray) -> np.ndarray:
    """Run the text's executor and the engine on the same scans; returns what the engine gave."""
    text = read(structured_text(table))
    one_scan, variables = executor(text), beginning(text)
    expected = Engine(table).run(inputs)
    for place, row in enumerate(inputs.tolist()):
        variables.update(zip(table.signals, row, strict=True))
        one_scan(variables)
        got = [variables[name] for name in table.names]
        if got != expected[place].tolist():
            unlike = [name for name, a, b in zip(table.names, got, expected[place], strict=True) if a != b]
            pytest.fail(f"scan {place}: {', '.join(unlike)}")
    return expected


@pytest.mark.parametrize("seed", range(10))
def test_text_and_engine_run_alike(seed: int) -> None:
    table = random_table(seed)
    run_both(table, random_inputs(table, 500, seed))


def without_comparators(table: Table) -> Table:
    """The same table with what comparators say as plain inputs: so the text can be fed any run of them."""
    names = tuple(item.name for item in table.comparators)
    return replace(table, inputs=table.inputs + names, comparators=())


def test_text_and_engine_of_the_invented_table_run_alike() -> None:
    table = without_comparators(invented_table())
    run_both(table, disturbed_inputs(table, 5000, 3, RUNNING, BUTTONS))


@pytest.mark.slow
def test_text_and_engine_run_alike_for_a_million_scans() -> None:
    table = without_comparators(invented_table())
    expected = run_both(table, disturbed_inputs(table, 1_000_000, 2, RUNNING, BUTTONS))
    on = dict(zip(table.names, expected.mean(axis=0), strict=True))
    still = {name for name, share in on.items() if share in (0.0, 1.0)}
    # Only the two longest delays, 30 min of refill and 45 s without flame, were not waited out.
    assert {name.removesuffix("_delay").split("_unack")[0].removesuffix("_cause") for name in still} == {
        "always",
        "refill_too_long",
        "no_flame",
    }
