"""What a sizing leaves to look at and to keep: chart, tank drawing, sizing sheet, questions to send, a comparison."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Annotated, Final

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from vaporwright.actions.compare_outcomes import compared
from vaporwright.actions.live_size import elevation_of, enquiry, rest_of, sheet_of
from vaporwright.actions.papers import chart_svg, chart_to_point_at
from vaporwright.charts.rate_picture import chart_title
from vaporwright.documents.question_list import question_list_text
from vaporwright.foundation.errors import InputError
from vaporwright.store.job_store import Revision
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.rate_curve import rate_curves
from vaporwright.web.context import Stop, book, download, file_name_of, render, shop, svg_response, viewer
from vaporwright.web.pages.sizing import Number, aside, asked_for
from vaporwright.web.papers import paper
from vaporwright.web.sized import Entry, sized
from vaporwright.web.sizing_view import curves_table, steps_json

STOP: Stop | None = None
MOST_OTHERS: Final = 60  # jobs to compare with
router = APIRouter()
_FONT: Final = re.compile(r'font-family="([^",]+)"')  # a picture in a page has none of the fonts of the papers

Asked = Annotated[str, Query(max_length=60)]


@router.get("/jobs/{job}/sizing/chart.svg")
def chart(request: Request, job: str, of: Asked = "", revision: Number | None = None) -> Response:
    """Rate against tank temperature."""
    entry = asked_for(request, job, of, revision)
    text = _picture(request, entry, "chart", chart_svg)
    return svg_response(_FONT.sub(r'font-family="\1, sans-serif"', text))


@router.get("/jobs/{job}/sizing/chart")
def chart_to_point(request: Request, job: str, of: Asked = "", revision: Number | None = None) -> Response:
    """The chart to point at, with what stands at each step of its curves: a part of the page, or a page."""
    entry, units = asked_for(request, job, of, revision), viewer(request).units
    if units not in entry.pointed:
        entry.pointed[units] = shop(request).working.run(chart_to_point_at, entry.known, units)
    found = entry.pointed[units]
    title = chart_title(entry.known, units)
    return aside(request, job, "sizing_chart.html", chart=found, title=title, key=entry.key, steps=steps_json(found))


@router.get("/jobs/{job}/sizing/elevation.svg")
def elevation(request: Request, job: str, of: Asked = "", revision: Number | None = None) -> Response:
    """Tank and rods to scale."""
    entry = asked_for(request, job, of, revision)
    return svg_response(_picture(request, entry, "elevation", elevation_of))


def _picture(request: Request, entry: Entry, name: str, draw: Callable[[UnitAnswer, str], str]) -> str:
    """A picture of an answer in the reader's units, drawn once."""
    key = (name, viewer(request).units)
    if key not in entry.pictures:
        entry.pictures[key] = shop(request).working.run(draw, entry.known, key[1])
    return entry.pictures[key]


@router.get("/jobs/{job}/sizing/curves")
def curves(request: Request, job: str, of: Asked = "", revision: Number | None = None) -> Response:
    """The chart in numbers: a part of the page, or a page."""
    entry, units = asked_for(request, job, of, revision), viewer(request).units
    found = shop(request).working.run(rate_curves, entry.known)
    return aside(request, job, "sizing_curves.html", table=curves_table(found, units))


@router.get("/jobs/{job}/sizing/sheet.pdf")
def sheet(request: Request, job: str, of: Asked = "", revision: Number | None = None) -> Response:
    """The sizing sheet as PDF."""
    entry, units = asked_for(request, job, of, revision), viewer(request).units
    rest = None if entry.outcome is None else (entry.outcome.body, entry.outcome.questions)
    order = (entry.known, dict(entry.values), rest, units)
    return paper(request, f"{entry.key} {units}", f"{_name(request, job)}_sizing_sheet.pdf", sheet_of, *order)


@router.get("/jobs/{job}/sizing/questions.txt")
def questions(request: Request, job: str, of: Asked = "", revision: Number | None = None) -> Response:
    """The questions for the customer as plain text."""
    entry = asked_for(request, job, of, revision)
    if entry.outcome is not None:
        asked = entry.outcome.questions
    else:
        asked = shop(request).working.run(rest_of, entry.known, dict(entry.values))[1]
    text = question_list_text(entry.known.job, asked, viewer(request).units)
    return download(text, f"{_name(request, job)}_questions.txt", "text/plain; charset=utf-8")


def _name(request: Request, job: str) -> str:
    return file_name_of(book(request).job(job).name)


@router.get("/jobs/{job}/sizing/compare")
def compare(request: Request, job: str, old: Asked = "", new: Asked = "") -> Response:
    """What differs in print between two sizings: of two revisions, or of two jobs."""
    entry = book(request).job(job)
    new = new or f"{job}:{entry.revision}"
    old = old or f"{job}:{max(entry.revision - 1, 1)}"
    revisions = [_revision(request, text) for text in (old, new)]
    entries = [sized(request).entry(one.job, one.texts, enquiry(one.texts).values) for one in revisions]
    states = [sized(request).begun(one) for one in entries]
    outcomes = [one.outcome for one in entries]
    waiting = [state for state in states if state is not None]
    moved = None
    if outcomes[0] is not None and outcomes[1] is not None and not waiting:
        moved = compared(outcomes[0], outcomes[1], viewer(request).units)
    return render(
        request,
        "sizing_compare.html",
        job=entry,
        stop="sizing",
        choices=_choices(request, job),
        old=old,
        new=new,
        names=[_words(request, one) for one in revisions],
        moved=moved,
        waiting=waiting,
    )


def _revision(request: Request, text: str) -> Revision:
    """A revision by job and number.

    Raises: InputError, NoSuchJob.
    """
    job, sign, number = text.partition(":")
    if not (sign and number.isascii() and number.isdigit() and len(number) < 10):
        raise InputError("compare", "", f'"{text}" names no revision', "a job and a number, with a colon between")
    return book(request).revision(job, int(number))


def _words(request: Request, one: Revision) -> str:
    return f"{book(request).job(one.job).name}, revision {one.number}"


def _choices(request: Request, job: str) -> list[tuple[str, str]]:
    """The revisions of this job, and the newest of others."""
    own = [(f"{job}:{one.number}", f"this job, revision {one.number}") for one in book(request).revisions(job)]
    others = [
        (f"{one.job.id}:{one.job.revision}", f"{one.job.name}, revision {one.job.revision}")
        for one in book(request).listed()
        if one.job.id != job
    ]
    return [*own, *others[:MOST_OTHERS]]
