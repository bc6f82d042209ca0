"""What of a unit's matrix is so, in words and shapes: made here once, for the page as it is sent and as it goes on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from vaporwright.actions.at_hand import title_of
from vaporwright.actions.control_job import ControlledJob
from vaporwright.controls.rig import Rig
from vaporwright.web.controls_view import ColumnView, RowView, matrix_view

SHAPES: Final = {"high": "■", "": "●"}  # by priority; every other alarm has a triangle


@dataclass(frozen=True)
class Matrix:
    """A unit's matrix, with the places of its names in the table."""

    columns: tuple[ColumnView, ...] = ()
    rows: tuple[RowView, ...] = ()
    rods: tuple[tuple[str, int], ...] = ()  # title and place
    horn: int = -1


def matrix_of(controlled: ControlledJob, rig: Rig) -> Matrix:
    """The matrix of a unit."""
    columns, rows = matrix_view(controlled)
    names = rig.table.names
    rods = tuple((title_of(rig, name), place) for place, name in enumerate(names) if name.endswith("_rod"))
    return Matrix(columns, rows, rods, names.index("horn") if "horn" in names else -1)


def lit(matrix: Matrix, bits: str) -> dict[str, Any]:
    """What is so: of rows by their number those that say something, effects and rods as 0 and 1, the horn."""

    def on(place: int) -> bool:
        return place >= 0 and bits[place] == "1"

    rows: dict[str, list[Any]] = {}
    for number, row in enumerate(matrix.rows):
        said = _row(row, on(row.item), on(row.cause), on(row.first))
        if said[0]:
            rows[str(number)] = said
    acts = [matrix.rows[int(number)].title for number, said in rows.items() if said[3]]
    works = [column.title for column in matrix.columns if on(column.item)]
    return {
        "rows": rows,
        "effects": "".join("1" if on(column.item) else "0" for column in matrix.columns),
        "rods": "".join("1" if on(place) else "0" for _, place in matrix.rods),
        "horn": on(matrix.horn),
        "said": f"{_counted(len(acts), 'cause')} true. On: {', '.join(works) or 'nothing'}.",
    }


def _row(row: RowView, on: bool, cause: bool, first: bool) -> list[Any]:
    """Classes, shape, words, and whether the row itself is true."""
    stays = on and row.cause >= 0 and not cause
    active = on or bool(row.alarm and cause)
    lacks = not on and any(cell.kind == "need" for cell in row.cells)
    flags = {
        "true": active,
        "abnormal": active and bool(row.alarm),
        "high": active and row.alarm == "high",
        "first": first,
        "holds-back": lacks,
    }
    words = shape = ""
    if active:
        shape = SHAPES.get(row.alarm, "▲")
        words = ("latched" if stays else "true") + (", came first" if first else "")
    elif first:
        words = "came first"
    elif lacks:
        shape, words = "○", "missing"
    return [" ".join(name for name, holds in flags.items() if holds), shape, words, int(on)]


def _counted(count: int, what: str) -> str:
    return f"{count or 'no'} {what}{'' if count == 1 else 's'}"
