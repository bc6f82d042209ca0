"""The sizing sheet as PDF: capacity and utilities; tank and rods; connections and loads. Set by typst, offline.

`sheet_data`, `elevation_data` and `connection_data` build every printed string; the templates only place them, in the
font shipped beside them. Text of the user reaches the templates as data, never as markup. Parts 1 and 2 take a page
each: where one would overflow, its lists are shortened and say how many entries the report has more.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Final, TypeVar

from vaporwright.charts.rate_chart import rate_chart_svg
from vaporwright.charts.rate_picture import chart_title
from vaporwright.display_units import SI
from vaporwright.documents.connection_part import connection_data
from vaporwright.documents.elevation_part import ELEVATION_ROOMS, ElevationRoom, elevation_data, elevation_svg
from vaporwright.documents.printed import cut, plain, unbroken
from vaporwright.documents.sheet_tables import (
    capacity_table,
    ranked_assumptions,
    ranked_questions,
    utilities_table,
    utility_notes,
)
from vaporwright.documents.typeset import compiled
from vaporwright.documents.wording import (
    cautions,
    headline,
    limit_sentences,
    notice_text,
    range_sentence,
    warm_up_sentence,
)
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.body import Body
from vaporwright.unit.questions import Question
from vaporwright.unit.rate_curve import RateCurve

LONGEST_WARNING: Final = 260
PAGES = re.compile(rb"/Type\s*/Page\b")
TEMPLATES: Final = ("look.typ", "capacity.typ", "elevation.typ", "connections.typ", "sizing_sheet.typ")
AnyRoom = TypeVar("AnyRoom")


@dataclass(frozen=True)
class Room:
    """How many entries of each list of part 1 are printed, and how tall its chart is."""

    questions: int
    assumptions: int
    warnings: int
    plot_height_px: float


ROOMS: Final = (  # from generous to terse; a test holds that no list grows on the way
    *(Room(7, assumptions, 8, 150.0) for assumptions in (26, 24, 22, 20, 18)),
    *(Room(7, assumptions, 8, 135.0) for assumptions in (18, 16)),
    *(Room(7, 16, warnings, 135.0) for warnings in (7, 6)),
    *(Room(6, assumptions, 6, 135.0) for assumptions in (16, 14, 12)),
    Room(6, 12, 6, 120.0),
    *(Room(5, assumptions, 5, 120.0) for assumptions in (12, 10)),
    *(Room(5, 10, warnings, 105.0) for warnings in (5, 4)),
    *(Room(4, assumptions, 4, 105.0) for assumptions in (10, 8)),
    *(Room(4, assumptions, 3, 105.0) for assumptions in (8, 6, 4)),
    *(Room(3, 4, warnings, 105.0) for warnings in (3, 2, 1)),
    *(Room(3, assumptions, 1, 105.0) for assumptions in (2, 0)),
)


class SheetDoesNotFit(RuntimeError):
    """A part is longer than its page even with its shortest lists: a fault of the template, not of the input."""


def sizing_sheet_pdf(
    answer: UnitAnswer,
    body: Body,
    questions: Sequence[Question],
    curves: Sequence[RateCurve],
    system: str,
    *,
    made_on: str | None = None,
) -> bytes:
    """The sizing sheet as PDF, US letter or A4 (SI); the same answer gives the same bytes.

    Args: system "US" or "SI"; made_on: a date to print, None to print none.
    """

    @cache
    def chart(height_px: float) -> str:
        return rate_chart_svg(answer, curves, system, plot_height_px=height_px)

    def capacity(room: Room) -> dict[str, str]:
        sheet = sheet_data(answer, questions, system, made_on=made_on, room=room)
        return {"sheet": json.dumps(sheet, sort_keys=True), "chart": chart(room.plot_height_px)}

    drawing = "" if body.levels is None else elevation_svg(answer, body.levels, system, title=answer.unit.tank.name)

    def elevation(room: ElevationRoom) -> dict[str, str]:
        data = elevation_data(answer, body, system, room=room)
        return {"elevation": json.dumps(data, sort_keys=True), "drawing": drawing}

    first = _fitting(ROOMS, "1", capacity)
    second = _fitting(ELEVATION_ROOMS, "2", lambda room: first | elevation(room))
    third = {"connections": json.dumps(connection_data(answer, body, system), sort_keys=True)}
    return compiled(_template(), {"parts": "123", **second, **third})


def _fitting(rooms: Sequence[AnyRoom], part: str, inputs: Callable[[AnyRoom], dict[str, str]]) -> dict[str, str]:
    """What the template gets for a part in the first room in which it fits a page; each asks less than the last."""
    low, high = 0, len(rooms) - 1
    fitting: dict[str, str] | None = None
    while low <= high:
        middle = (low + high) // 2
        tried = inputs(rooms[middle])
        if page_count(compiled(_template(), {"parts": part, **tried})) == 1:
            fitting, high = tried, middle - 1
        else:
            low = middle + 1
    if fitting is None:
        raise SheetDoesNotFit(f"part {part} of the sizing sheet takes more than a page with its shortest lists")
    return fitting


def page_count(pdf: bytes) -> int:
    """Pages of a PDF whose page objects stand outside compressed streams, as typst writes them."""
    return len(PAGES.findall(pdf))


def sheet_data(
    answer: UnitAnswer,
    questions: Sequence[Question],
    system: str,
    *,
    made_on: str | None = None,
    room: Room = ROOMS[0],
) -> dict[str, Any]:
    """Every string of part 1, in the units of `system`."""
    job = answer.job
    customer = cut(plain(job.text("job.customer")), 60)
    liquid = cut(plain(job.text("liquid.description")), 90)
    assumptions = ranked_assumptions(answer, questions, system)
    asked = ranked_questions(questions, room.questions, system)
    notices = answer.warnings
    warnings = [cut(notice_text(entry, system), LONGEST_WARNING) for entry in notices[: room.warnings]]
    data = {
        "paper": "a4" if system == SI else "us-letter",
        "title": "Evaporator sizing",
        "job": cut(plain(job.text("job.name")), 80),
        "parties": " · ".join(entry for entry in (customer, liquid) if entry),
        "unit": cut(plain(answer.unit.label()), 160),
        "made_on": cut(plain(made_on or ""), 40),
        "headline": f"{headline(answer, system)}.".replace("the duty needs ", "the\u00a0duty\u00a0needs\u00a0"),
        "capacity": capacity_table(answer, system),
        "chart_alt": chart_title(answer, system),
        "limits": [
            *limit_sentences(answer, system),
            range_sentence(answer, system),
        ],
        "warm_up": warm_up_sentence(answer, system),
        "utilities": utilities_table(answer, system),
        "utility_notes": " ".join(utility_notes(answer, system)),
        "questions": asked,
        "more_questions": _more(len(questions) - len(asked)),
        "assumed_mark": "nobody stated it; common practice, no source, unless a basis is given",
        "assumptions": _two_columns(assumptions[: room.assumptions]),
        "more_assumptions": _more(len(assumptions) - room.assumptions),
        "warnings": warnings,
        "more_warnings": _more(len(notices) - len(warnings)),
        "cautions": [{"hazard": caution.hazard, "text": caution.text} for caution in cautions(answer, system)],
    }
    return unbroken(data)  # type: ignore[no-any-return]


def _two_columns(entries: list[dict[str, str]]) -> list[list[dict[str, str]]]:
    """The register in two columns of about equal height, by the lines each entry should take."""
    lines = [-(-len(entry["meaning"] + entry["basis"]) // max(64 - len(entry["value"]), 20)) for entry in entries]
    left = next((index for index in range(len(entries)) if 2 * sum(lines[:index]) >= sum(lines)), len(entries))
    return [entries[:left], entries[left:]]


def _more(count: int) -> str:
    return f"and {count} more in the report" if count > 0 else ""


@cache
def _template() -> bytes:
    """The templates as one, read once."""
    folder = files("vaporwright") / "documents" / "templates"
    return b"\n".join((folder / name).read_bytes() for name in TEMPLATES)
