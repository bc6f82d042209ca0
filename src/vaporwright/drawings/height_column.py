"""A column of heights at the right of an elevation: extension lines to one axis, leaders, heights, names and flags.

Labels are moved apart as little as their order allows. Data attributes name what is measured (data-mark, data-leader),
so that heights can be read back: height = (y of the mark at zero - y) times the scale.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from vaporwright.drawings.paper import (
    ABNORMAL_DASH,
    FAINT,
    FLAG,
    INK,
    NAME,
    QUIET,
    ABNORMAL_mm,
    EXTENSION_mm,
    RIGHT_mm,
    RULE_mm,
    Sheet,
    TICK_mm,
    spread_apart,
    text_width_mm,
    wrapped,
)

AXIS_mm: Final = 121.0  # x of the column's axis
_LABEL_mm: Final = 127.0  # where leaders end
_COLUMN_GAP_mm: Final = 2.0  # between heights and names
_FLAG_ROW_mm: Final = 2.9
_MIDDLE_mm: Final = 1.9  # from the top of a label to the middle of its name


class HeightLabel(NamedTuple):
    """One entry of the column; its flags stand under its name, joined where they fit into one line."""

    name: str
    y_mm: float
    shown: str  # the height, with its unit
    flags: Sequence[str]
    conflict: bool
    from_mm: float  # x where its extension line starts: at the thing that has the height


class _Place(NamedTuple):
    """Where a label stands: right end of its height, middle of its name."""

    heights_mm: float
    name_mm: float


def height_column(sheet: Sheet, labels: Sequence[HeightLabel], *, top_mm: float, foot_mm: float) -> float:
    """Draw the column between two heights of the page; returns where the labels end.

    Args: labels: in any order; the axis runs from the highest to the lowest. foot_mm: passed only where labels need it.
    """
    heights_mm = _LABEL_mm + max(text_width_mm(label.shown, NAME) for label in labels)
    wide_mm = RIGHT_mm - heights_mm - _COLUMN_GAP_mm
    downwards = sorted(labels, key=lambda label: label.y_mm)
    labels = [label._replace(flags=_flag_rows(label.flags, wide_mm)) for label in downwards]
    rooms = [4.0 + _FLAG_ROW_mm * len(label.flags) for label in labels]
    # A label is led to at its name, not at the middle of the room that its flags need.
    wanted = [label.y_mm - _MIDDLE_mm + 0.5 * room for label, room in zip(labels, rooms, strict=True)]
    centres = spread_apart(wanted, rooms, top_mm, max(foot_mm, top_mm + sum(rooms)))
    sheet.line(AXIS_mm, labels[-1].y_mm, AXIS_mm, labels[0].y_mm, width=RULE_mm, more='data-part="axis"')
    for label, centre, room in zip(labels, centres, rooms, strict=True):
        _dimension(sheet, label, _Place(heights_mm, centre - 0.5 * room + _MIDDLE_mm))
    return max(centre + 0.5 * room for centre, room in zip(centres, rooms, strict=True))


def _flag_rows(flags: Sequence[str], wide_mm: float) -> list[str]:
    joined = "; ".join(flags)
    if text_width_mm(joined, FLAG) > wide_mm:
        return [line for flag in flags for line in wrapped(flag, FLAG, wide_mm)]
    return [joined] if joined else []


def _dimension(sheet: Sheet, label: HeightLabel, place: _Place) -> None:
    """One mark's extension line, tick, leader, height, name and flags."""
    y, name_mm = label.y_mm, place.name_mm
    names_mm = place.heights_mm + _COLUMN_GAP_mm
    dash = f'stroke-dasharray="{ABNORMAL_DASH}"' if label.conflict else ""
    width, ink = (ABNORMAL_mm, INK) if label.conflict else (EXTENSION_mm, FAINT)
    what = f'data-mark="{label.name}" data-conflict="{"yes" if label.conflict else "no"}" {dash}'
    sheet.line(label.from_mm, y, AXIS_mm, y, width=width, ink=ink, more=what)
    if label.conflict:
        sheet.shape([(AXIS_mm - 0.2, y), (AXIS_mm + 2.0, y - 1.1), (AXIS_mm + 2.0, y + 1.1)], fill=INK)
    sheet.line(AXIS_mm - 0.8, y + 0.8, AXIS_mm + 0.8, y - 0.8, width=TICK_mm)
    sheet.line(AXIS_mm, y, _LABEL_mm - 1.2, name_mm, ink=QUIET, more=f'data-leader="{label.name}"')
    sheet.line(_LABEL_mm - 1.2, name_mm, _LABEL_mm - 0.3, name_mm, ink=QUIET)
    base_mm = name_mm + 0.35 * NAME
    sheet.text(place.heights_mm, base_mm, label.shown, size=NAME, anchor="end")
    sheet.text(names_mm, base_mm, label.name, size=NAME, bold=True)
    for row, flag in enumerate(label.flags, start=1):
        sheet.text(
            names_mm, base_mm + _FLAG_ROW_mm * row, flag, ink=INK if label.conflict else QUIET, bold=label.conflict
        )
