"""The cause-and-effect matrix as text and as cells: nothing lost, nothing wider than the page."""

from __future__ import annotations

import pytest

from unit_controls import HEATS, STOPS, unit_control
from vaporwright.controls.unit_signals import UnitOptions
from vaporwright.documents.matrix import MARKS, matrix_lines, matrix_rows, notes_of
from vaporwright.unit.heat import HeatKind


@pytest.mark.parametrize("heat", HEATS)
@pytest.mark.parametrize("options", [UnitOptions(), STOPS])
@pytest.mark.parametrize("width", [72, 80, 200])
def test_the_matrix_fits_and_holds_every_cell(heat: HeatKind, options: UnitOptions, width: int) -> None:
    design = unit_control(heat, options).design
    lines = matrix_lines(design, width)
    assert max(map(len, lines)) <= width
    cells = sum(len(row.effects) for row in design.rows)
    marks = sum(line[51:].split().count(mark) for line in lines[:-3] for mark in MARKS.values())
    assert marks == cells
    for row in design.rows:
        assert any(line.startswith(row.title[:30]) for line in lines), row.title


def test_a_row_reads_as_it_acts() -> None:
    lines = matrix_lines(unit_control("gas").design, 200)
    heading = next(place for place, line in enumerate(lines) if line.startswith("---"))
    at = {word: lines[heading - 1].index(word) for word in ("run", "blower", "heat")}
    high_high = next(line for line in lines if line.startswith("high-high level"))
    assert high_high[36:50].strip() == "1 s L !!! 1"
    assert high_high[at["run"]] == "x"
    assert high_high[at["blower"]] == " "
    over = next(line for line in lines if line.startswith("tank is over its set point"))
    assert (over[at["heat"]], over[at["run"]]) == ("x", " ")


def test_notes_of_rows() -> None:
    rows = {row.name: row for row in unit_control("gas").design.rows}
    assert notes_of(rows["low_level"]) == "4 s (L) !!! 1"
    assert notes_of(rows["rods_disagree"]) == "10 s !!"
    assert notes_of(rows["stop_pushed"]) == ""


def test_cells_for_a_paper_are_a_whole_table() -> None:
    control = unit_control("steam")
    table = matrix_rows(control.design, control.reasons)
    assert {len(line) for line in table} == {len(control.design.columns) + 3}
    assert len(table) == len(control.design.rows) + 1
    low = next(line for line in table if line[0] == "low level")
    heat = table[0].index("steam valve, shut without current")
    assert low[heat] == "x"
    assert low[-1].startswith("Heater and pump would run dry.")
    assert matrix_rows(control.design)[1][-1] == ""
