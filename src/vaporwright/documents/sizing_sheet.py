"""The sizing sheet: one page that carries a sizing answer, set by typst, offline, in the font shipped beside it.

`sheet_data` builds every printed string; the template only places them. Text of the user reaches the template as
data, never as markup. Where the page would overflow, lists are shortened and say how many entries the report has more.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import as_file, files
from typing import Any, Final

from vaporwright.charts.rate_chart import rate_chart_svg
from vaporwright.charts.rate_picture import chart_title
from vaporwright.display_units import QUANTITIES, SI
from vaporwright.documents.sheet_tables import (
    capacity_table,
    ranked_assumptions,
    ranked_questions,
    utilities_table,
    utility_notes,
)
from vaporwright.documents.wording import (
    cautions,
    headline,
    limit_sentences,
    notice_text,
    range_sentence,
    warm_up_sentence,
)
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.questions import Question
from vaporwright.unit.rate_curve import RateCurve

LONGEST_WORD, LONGEST_WARNING = 28, 260
UNITS: Final = "|".join(
    sorted({re.escape(unit.text) for entry in QUANTITIES.values() for unit in (entry.us, entry.metric) if unit.text})
)
NUMBER_AND_UNIT = re.compile(rf"(?<=\d) (?=(?:{UNITS})(?:\W|$))")
PAGES = re.compile(rb"/Type\s*/Page\b")


@dataclass(frozen=True)
class Room:
    """How many entries of each list are printed, and how tall the chart is."""

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
    """The sheet is longer than a page even with its shortest lists: a fault of the template, not of the input."""


def sizing_sheet_pdf(
    answer: UnitAnswer,
    questions: Sequence[Question],
    curves: Sequence[RateCurve],
    system: str,
    *,
    made_on: str | None = None,
) -> bytes:
    """The sizing sheet as PDF: one page, US letter or A4 (SI); the same answer gives the same bytes.

    Args: system "US" or "SI"; made_on: a date to print, None to print none.
    """
    charts: dict[float, str] = {}

    def pdf_in(room: Room) -> bytes:
        height = room.plot_height_px
        if height not in charts:
            charts[height] = rate_chart_svg(answer, curves, system, plot_height_px=height)
        return _compiled(sheet_data(answer, questions, system, made_on=made_on, room=room), charts[height])

    low, high = 0, len(ROOMS) - 1
    fitting: bytes | None = None
    while low <= high:  # the first room that fits: each takes less of the page than the one before
        middle = (low + high) // 2
        pdf = pdf_in(ROOMS[middle])
        if page_count(pdf) == 1:
            fitting, high = pdf, middle - 1
        else:
            low = middle + 1
    if fitting is None:
        raise SheetDoesNotFit("the sizing sheet takes more than a page with its shortest lists")
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
    """Every string that the sheet prints, in the units of `system`."""
    job = answer.job
    customer = _cut(plain(job.text("job.customer")), 60)
    liquid = _cut(plain(job.text("liquid.description")), 90)
    assumptions = ranked_assumptions(answer, questions, system)
    asked = ranked_questions(questions, room.questions, system)
    notices = answer.warnings
    warnings = [_cut(notice_text(entry, system), LONGEST_WARNING) for entry in notices[: room.warnings]]
    data = {
        "paper": "a4" if system == SI else "us-letter",
        "title": "Evaporator sizing",
        "job": _cut(plain(job.text("job.name")), 80),
        "parties": " · ".join(entry for entry in (customer, liquid) if entry),
        "unit": _cut(plain(answer.unit.label()), 160),
        "made_on": _cut(plain(made_on or ""), 40),
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
    return _unbroken(data)  # type: ignore[no-any-return]


def _unbroken(entry: Any) -> Any:
    """The same data with numbers held to their units by spaces that no line breaks at."""
    if isinstance(entry, str):
        return NUMBER_AND_UNIT.sub("\u00a0", entry).replace("h/day", "h/\u2060day")
    if isinstance(entry, dict):
        return {key: _unbroken(value) for key, value in entry.items()}
    return [_unbroken(value) for value in entry] if isinstance(entry, list) else entry


def _two_columns(entries: list[dict[str, str]]) -> list[list[dict[str, str]]]:
    """The register in two columns of about equal height, by the lines each entry should take."""
    lines = [-(-len(entry["meaning"] + entry["basis"]) // max(64 - len(entry["value"]), 20)) for entry in entries]
    left = next((index for index in range(len(entries)) if 2 * sum(lines[:index]) >= sum(lines)), len(entries))
    return [entries[:left], entries[left:]]


def _more(count: int) -> str:
    return f"and {count} more in the report" if count > 0 else ""


def plain(text: str) -> str:
    """A user's text on one line: no control characters, no lone surrogates, very long words breakable."""
    spaced = re.sub(r"\s+", " ", text)
    kept = "".join(letter for letter in spaced if unicodedata.category(letter) not in ("Cc", "Cs", "Co", "Cn")).strip()
    return re.sub(rf"\S{{{LONGEST_WORD}}}(?=\S)", lambda word: word.group() + "\u200b", kept)


def _cut(text: str, most: int) -> str:
    """Text of at most that many characters; what was cut shows as an ellipsis."""
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"


def _compiled(data: dict[str, Any], chart_svg: str) -> bytes:
    inputs = {"sheet": json.dumps(data, sort_keys=True), "chart": chart_svg}
    compiler, template = _compiler()
    pdf = compiler.compile(input=template, format="pdf", sys_inputs=inputs)
    assert isinstance(pdf, bytes)
    return pdf


@cache
def _compiler() -> tuple[Any, bytes]:
    """Typst with the shipped fonts, and the template; both are read once."""
    import typst

    papers = files("vaporwright") / "documents"
    template = (papers / "templates" / "sizing_sheet.typ").read_bytes()
    with as_file(papers / "fonts") as fonts:
        folders: list[Any] = [str(fonts)]
        return typst.Compiler(font_paths=folders, ignore_system_fonts=True), template
