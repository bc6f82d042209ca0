"""What a change order moves: two answers side by side, only the lines that differ in print."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from vaporwright.actions.size_job import Outcome
from vaporwright.controls.set_points import set_points_of, set_points_section
from vaporwright.display_units import show
from vaporwright.documents.section_rows import section_rows
from vaporwright.unit.figures import section_or_problem
from vaporwright.unit.job import SEASONS

SET_POINTS: Final = "Temperatures at which the control acts"
ABSENT: Final = "-"
Row = tuple[str, str, str]  # section, label, value in print


@dataclass(frozen=True)
class Moved:
    """A line that differs."""

    label: str
    old: str
    new: str


def compared(old: Outcome, new: Outcome, system: str) -> dict[str, list[Moved]]:
    """Everything printed of two answers that differs, by its section, the old value beside the new."""
    before = {(section, label): value for section, label, value in _rows(old, system)}
    after = {(section, label): value for section, label, value in _rows(new, system)}
    sections: dict[str, list[Moved]] = {}
    for section, label in dict.fromkeys((*before, *after)):
        was, becomes = (rows.get((section, label), ABSENT) for rows in (before, after))
        if was != becomes:
            sections.setdefault(section, []).append(Moved(label, was, becomes))
    return sections


def _rows(outcome: Outcome, system: str) -> Iterator[Row]:
    answer = outcome.answer

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
    temperatures = section_or_problem("set_points", SET_POINTS, lambda: set_points_section(set_points_of(answer)))
    for section in (temperatures, *outcome.body.sections):
        rows = section_rows(section, system)
        yield from ((section.title, label, value) for label, value in rows)
        watched = ", ".join(notice.name for notice in section.notices)
        yield section.title, "to watch", watched or "nothing"
    if outcome.body.materials is not None:
        for part in outcome.body.materials.parts:
            yield "Materials, first look", part.part, f"{part.material}: {part.suitability}"
