"""Part 2 of the sizing sheet: the drawing of tank and rods, and how each of its heights came about.

The drawing carries its own caution and its own account of conflicts; the page adds sizes, sources and what resolves.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from vaporwright.display_units import US, shown_unit, to_shown
from vaporwright.documents.printed import cut, plain, unbroken
from vaporwright.documents.section_rows import refill_sentence
from vaporwright.documents.wording import notice_text
from vaporwright.drawings.tank_elevation import tank_elevation_svg
from vaporwright.equipment.level_rods import LevelMark, LevelStack
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.body import Body
from vaporwright.unit.levels import KEY

NEGLIGIBLE_m: Final = 0.00005  # smaller allowances would print as nothing
LONGEST_CONFLICT: Final = 220


@dataclass(frozen=True)
class ElevationRoom:
    """How part 2 shares its page: conflicts told at length, width of the drawing, text and row gap of the table."""

    conflicts: int
    drawing_width_mm: float
    text_size_pt: float
    row_gap_pt: float


ELEVATION_ROOMS: Final = (  # from generous to terse; 180 mm is the width at which the drawing's scale holds
    *(ElevationRoom(9, 180.0, 8.0, gap) for gap in (5.4, 4.4)),
    *(ElevationRoom(9, 180.0, 7.5, gap) for gap in (4.4, 3.8)),
    *(ElevationRoom(conflicts, 180.0, 7.0, 3.4) for conflicts in (9, 7, 5, 4, 3)),
    *(ElevationRoom(3, width, 7.0, 3.4) for width in (175.0, 170.0, 165.0, 160.0)),
    *(ElevationRoom(1, width, 7.0, 3.4) for width in (160.0, 150.0, 140.0, 130.0)),
)


def elevation_svg(answer: UnitAnswer, stack: LevelStack, system: str, *, title: str) -> str:
    """The tank and rod elevation with its lengths in the reader's units."""

    def shown(length_m: float) -> str:
        return f"{_length(length_m, system)} {shown_unit('short length', system).text}"

    return tank_elevation_svg(
        stack,
        title=title,
        tank_length_m=answer.unit.tank.length_m,
        bottom_slope=answer.unit.practice.bottom_slope,
        heater_label=answer.unit.heat_source.name,
        show_length=shown,
    )


def _length(length_m: float, system: str) -> str:
    """Rods are cut to 1/16 in: more digits than other lengths."""
    return f"{to_shown(length_m, 'short length', system):,.{2 if system == US else 1}f}"


def elevation_data(
    answer: UnitAnswer, body: Body, system: str, *, room: ElevationRoom = ELEVATION_ROOMS[0]
) -> dict[str, Any]:
    """Every string of part 2 beside the drawing, in the units of `system`."""
    section = body.section(KEY)
    conflicts = [
        cut(notice_text(entry, system), LONGEST_CONFLICT) for entry in body.conflicts if entry in section.notices
    ]
    more = len(conflicts) - room.conflicts
    data = {
        "section": section.title,
        "tank": cut(plain(answer.unit.tank.name), 80),
        "problem": "" if body.levels is not None and not section.problem else section.problem,
        "table": None if body.levels is None else _table(body.levels, system),
        "refill": refill_sentence(section, system),
        "conflicts": conflicts[: room.conflicts],
        "more_conflicts": f"and {more} more, marked CONFLICT in the drawing" if more > 0 else "",
        "watch": [notice_text(entry, system) for entry in section.notices if entry not in body.conflicts],
        "drawing_width_mm": room.drawing_width_mm,
        "text_size_pt": room.text_size_pt,
        "row_gap_pt": room.row_gap_pt,
    }
    return unbroken(data)  # type: ignore[no-any-return]


def _table(stack: LevelStack, system: str) -> dict[str, Any]:
    """The stack from the top down: each height with the mark below it, what its gap must hold and what is to spare."""
    unit = shown_unit("short length", system).text
    tolerance = _length(max(rod.tolerance_m for rod in stack.rods), system)
    marks = sorted((*stack.stack, stack.reference, stack.rod_holder), key=lambda mark: -mark.height_m)
    return {
        "columns": [
            "",
            f"Height, {unit}",
            "counted from",
            f"What the gap must hold, {unit}",
            f"To spare, {unit}",
            f"Rod cut to, {unit} ±\u00a0{tolerance}",
        ],
        "rows": [_row(mark, stack, system) for mark in marks],
    }


def _row(mark: LevelMark, stack: LevelStack, system: str) -> dict[str, Any]:
    conflicting = any(conflict.mark == mark.name for conflict in stack.conflicts)
    allowances = [part for part in mark.allowances if abs(part.rise_m) >= NEGLIGIBLE_m]
    cuts = {rod.name: rod.cut_length_m for rod in stack.rods}
    cut_m = cuts.get(mark.name)
    rod = "" if mark.name not in cuts else "conflict" if cut_m is None else _length(cut_m, system)
    direction = "below" if mark.name == "reference" else "above"
    return {
        "cells": [
            mark.name,
            _length(mark.height_m, system),
            f"{direction} {mark.above}",
            " + ".join(f"{part.name}\u00a0{_length(part.rise_m, system)}" for part in allowances),
            _length(mark.margin_m, system),
            rod,
        ],
        "conflict": conflicting,
        "given": mark.given and mark.name != "rim",
    }
