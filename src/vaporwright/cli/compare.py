"""What a change order moves: two jobs side by side, only the lines that differ in print."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterator

from vaporwright.actions.size_job import Outcome
from vaporwright.display_units import show
from vaporwright.foundation.errors import VaporwrightError
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.hydraulics import hydraulics_of
from vaporwright.unit.job import SEASONS
from vaporwright.unit.levels import levels_of
from vaporwright.unit.materials_at_a_glance import materials_at_a_glance
from vaporwright.unit.notice import Shown

WIDTH = 80
LABEL = 36
COLUMN = (WIDTH - LABEL) // 2
Row = tuple[str, str, str]  # section, label, value in print


def compare_text(old: Outcome, new: Outcome, system: str) -> str:
    """Everything printed of two answers that differs, the old value beside the new."""
    before = {(section, label): value for section, label, value in _rows(old.answer, system)}
    after = {(section, label): value for section, label, value in _rows(new.answer, system)}
    names = tuple(outcome.answer.job.text("job.name") for outcome in (old, new))
    lines = [
        textwrap.fill(f"{names[0]}  ->  {names[1]}", WIDTH),
        "-" * WIDTH,
        f"{'':<{LABEL}}{'old':>{COLUMN}}{'new':>{COLUMN}}",
    ]
    sections: dict[str, list[str]] = {}
    for section, label in dict.fromkeys((*before, *after)):
        was, becomes = (rows.get((section, label), "-") for rows in (before, after))
        if was != becomes:
            sections.setdefault(section, []).extend(_line(label, was, becomes))
    for section, entries in sections.items():
        lines += ["", section, *entries]
    if not sections:
        lines += ["", "Nothing that is printed differs."]
    return "\n".join(lines)


def _line(label: str, old: str, new: str) -> list[str]:
    if max(len(old), len(new)) < COLUMN:
        return [f"  {label:<{LABEL - 2}}{old:>{COLUMN}}{new:>{COLUMN}}"]
    long = [f"{side}: {text}" for side, text in (("old", old), ("new", new))]
    return [
        f"  {label}",
        *(textwrap.fill(text, WIDTH, initial_indent="    ", subsequent_indent="    ") for text in long),
    ]


def _rows(answer: UnitAnswer, system: str) -> Iterator[Row]:
    def shown(value: float, quantity: str) -> str:
        return show(value, quantity, system)

    unit = answer.unit
    for label, name in (
        ("tower", unit.tower.name if unit.towers == 1 else f"{unit.towers} x {unit.tower.name}"),
        ("tank", unit.tank.name),
        ("heat source", unit.heat_source.name),
        ("pump", unit.pump.name),
        ("blower", unit.blower.name),
    ):
        yield "Parts", label, name
    yield "Duty", "needed while running", shown(answer.required_kg_s, "evaporation")
    for season in SEASONS:
        result = answer.seasons[season]
        yield (
            "Set points and capacity",
            f"{season}: tank settles at",
            shown(result.settling_temperature_K, "temperature"),
        )
        yield "Set points and capacity", f"{season}: evaporates", shown(result.evaporation_kg_s, "evaporation")
        yield "Set points and capacity", f"{season}: limited by", result.limit
        yield "Connections", f"{season}: fuel, power or steam heat", shown(result.fuel_or_power_W, "heat")
        yield "Connections", f"{season}: blower power", shown(result.blower_power_W, "power")
    yield "Set points and capacity", "clamp", shown(answer.job.number("choices.set_point"), "temperature")
    yield from _rows_or_problem("Levels above the low corner", lambda: list(_level_rows(answer, shown)))
    yield from _rows_or_problem("Hydraulics", lambda: list(_hydraulic_rows(answer, shown)))
    yield from _rows_or_problem("Materials, first look", lambda: _material_rows(answer))


def _rows_or_problem(section: str, rows: Callable[[], list[Row]]) -> list[Row]:
    """Rows of a section, or why its figures fit none."""
    try:
        return rows()
    except VaporwrightError as error:
        return [(section, "not solved", str(error))]


def _material_rows(answer: UnitAnswer) -> list[Row]:
    parts = materials_at_a_glance(answer).parts
    return [("Materials, first look", part.part, f"{part.material}: {part.suitability}") for part in parts]


def _level_rows(answer: UnitAnswer, shown: Shown) -> Iterator[Row]:
    stack = levels_of(answer)
    cut = {rod.name: rod.cut_length_m for rod in stack.rods}
    for mark in (*reversed(stack.stack), stack.reference):
        yield "Levels above the low corner", mark.name, shown(mark.height_m, "short length")
    for name, length_m in cut.items():
        yield "Rods, cut to", name, shown(length_m, "short length") if length_m is not None else "conflict"
    yield "Levels above the low corner", "conflicts", ", ".join(entry.mark for entry in stack.conflicts) or "none"


def _hydraulic_rows(answer: UnitAnswer, shown: Shown) -> Iterator[Row]:
    found = hydraulics_of(answer)
    for label, value in (
        ("spray", shown(found.flows.spray_flow_m3_s, "liquid flow")),
        ("header pressure", shown(found.flows.header_gauge_Pa, "gauge pressure")),
        ("valve handle, of 90 degrees", f"{found.flows.handle_angle_deg:.0f}"),
        ("NPSH margin at the low rod", shown(found.flows.npsh_margin_m, "length")),
        ("suction pipe", f"{found.suction_pipe.nominal_in:g} in"),
        ("discharge pipe", f"{found.discharge_pipe.nominal_in:g} in"),
        ("motor, smallest that serves", shown(found.motor_size_W, "power")),
    ):
        yield "Hydraulics", label, value
