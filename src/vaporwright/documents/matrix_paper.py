"""The cause-and-effect matrix on paper: every row with its marks and its reason, landscape."""

from __future__ import annotations

from typing import Any, Final

from vaporwright.controls.unit_table import CONTROL_CAUTION, UnitTable
from vaporwright.documents.matrix import KEY, matrix_rows
from vaporwright.documents.printed import cut, plain
from vaporwright.documents.typeset import paper_of, typeset

LONGEST_TITLE: Final = 90


def matrix_pdf(unit: UnitTable, job: str, system: str) -> bytes:
    """The matrix as PDF, US letter or A4 (SI); the same table gives the same bytes."""
    return typeset("matrix.typ", matrix_data(unit, job, system))


def matrix_data(unit: UnitTable, job: str, system: str) -> dict[str, Any]:
    """Every string of the paper."""
    heading, *rows = matrix_rows(unit.design, unit.reasons)
    return {
        "paper": paper_of(system),
        "created": None,
        "landscape": True,
        "title": "cause-and-effect matrix",
        "foot": "A matrix of ordinary control; limits that protect people are hard-wired ahead of it.",
        "job": cut(plain(job), LONGEST_TITLE),
        "sentence": (
            f"{len(rows)} causes act on {len(unit.design.columns)} effects of the {unit.heat} unit, "
            f"scanned every {unit.design.scan_s:g} s."
        ),
        "key": list(KEY),
        "advice": CONTROL_CAUTION,
        "effects": [plain(column.title) for column in unit.design.columns],
        "rows": [{"cause": plain(row[0]), "notes": row[1], "marks": row[2:-1], "why": plain(row[-1])} for row in rows],
        "head": [heading[0], heading[1], heading[-1]],
    }
