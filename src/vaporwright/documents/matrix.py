"""A cause-and-effect table as people read it: rows of causes under columns of effects, for terminal and paper.

Marks, explained in one line under each matrix:

    +  asks for the effect        L           latched until the panel's reset
    x  ends it                    (L)         held until its own reset
    o  is needed for it           ! !! !!!    alarm of low, medium, high priority
                                  1           competes for first-out
"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import Final

from vaporwright.controls.design import CauseAndEffect, Column, Row

WIDTH: Final = 80
MARKS: Final = {"on": "+", "off": "x", "need": "o"}
PRIORITIES: Final = {"low": "!", "medium": "!!", "high": "!!!"}
KEY: Final = (
    "+ asks for it    x ends it    o is needed for it",
    "L latched until reset    (L) held until its own reset    1 first-out",
    "! !! !!! alarm of low, medium, high priority",
)
_NOTES: Final = 15  # characters for delay, latch, alarm and first-out
_TITLE: Final = 36


def matrix_lines(design: CauseAndEffect, width: int = WIDTH) -> list[str]:
    """The matrix as text, its effects in groups that fit the width; a group shows the rows that act in it."""
    lines: list[str] = []
    groups = _groups(design.columns, width - _TITLE - _NOTES)
    for number, group in enumerate(groups, 1):
        if len(groups) > 1:
            lines += [f"Effects {number} of {len(groups)}", ""]
        rows = [row for row in design.rows if any(column.name in row.effects for column in group)]
        lines += [*_heading(group), "-" * (_TITLE + _NOTES + sum(map(_column_width, group)))]
        for row in rows:
            lines += _row_lines(row, group)
        lines.append("")
    alone = [row for row in design.rows if not row.effects]
    if alone:
        lines.append("Rows that act through others, or only tell")
        for row in alone:
            lines += _row_lines(row, ())
        lines.append("")
    return [line.rstrip() for line in (*lines, *KEY)]


def matrix_rows(design: CauseAndEffect, reasons: Mapping[str, str] | None = None) -> list[list[str]]:
    """The matrix as cells for a paper: a heading, then a row each; the reason stands last."""
    heading = ["cause", "delay, latch, alarm", *(column.title for column in design.columns), "why"]
    return [
        heading,
        *(
            [row.title, notes_of(row), *_marks(row, design.columns), (reasons or {}).get(row.name, "")]
            for row in design.rows
        ),
    ]


def notes_of(row: Row) -> str:
    """Delay, latch, alarm and first-out of a row in a few characters."""
    parts = (
        f"{row.delay_s:g} s" if row.delay_s else "",
        ("L" if row.reset is None else "(L)") if row.latched else "",
        PRIORITIES[row.alarm] if row.alarm else "",
        "1" if row.first_out else "",
    )
    return " ".join(part for part in parts if part)


def _marks(row: Row, columns: Sequence[Column]) -> list[str]:
    return [MARKS[row.effects[column.name]] if column.name in row.effects else "" for column in columns]


def _words(column: Column) -> list[str]:
    return column.name.split("_")


def _column_width(column: Column) -> int:
    return max(map(len, _words(column))) + 1


def _groups(columns: Sequence[Column], room: int) -> list[list[Column]]:
    """Columns packed in order into as few groups as fit."""
    groups: list[list[Column]] = [[]]
    for column in columns:
        if groups[-1] and sum(map(_column_width, (*groups[-1], column))) > room:
            groups.append([])
        groups[-1].append(column)
    return groups


def _heading(group: Sequence[Column]) -> list[str]:
    """Names of effects, a word a line, standing on the matrix."""
    height = max(len(_words(column)) for column in group)
    words = [[""] * (height - len(_words(column))) + _words(column) for column in group]
    return [
        " " * (_TITLE + _NOTES)
        + "".join(f" {word[line]:<{_column_width(column) - 1}}" for column, word in zip(group, words, strict=True))
        for line in range(height)
    ]


def _row_lines(row: Row, group: Sequence[Column]) -> list[str]:
    title = textwrap.wrap(row.title, _TITLE - 1, subsequent_indent="  ")
    cells = "".join(
        f" {mark:<{_column_width(column) - 1}}" for column, mark in zip(group, _marks(row, group), strict=True)
    )
    return [f"{title[0]:<{_TITLE}}{notes_of(row):<{_NOTES}}{cells}", *title[1:]]
