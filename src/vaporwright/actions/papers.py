"""The chart, the sizing sheet and the tank elevation of an answer, as text or bytes, and written to files."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from vaporwright.actions.size_job import Outcome
from vaporwright.foundation.errors import InputError
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.body import Body
from vaporwright.unit.questions import Question

if TYPE_CHECKING:
    from vaporwright.charts.pointed_chart import PointedChart

POINTED_POINTS: Final = 31  # one can point finer than a printed line needs


def chart_svg(answer: UnitAnswer, system: str) -> str:
    """Rate against tank temperature, as SVG."""
    from vaporwright.charts.rate_chart import rate_chart_svg
    from vaporwright.unit.rate_curve import rate_curves

    return rate_chart_svg(answer, rate_curves(answer), system)


def chart_to_point_at(answer: UnitAnswer, system: str) -> PointedChart:
    """The same with what stands at each point of its curves, the operating points among them."""
    from vaporwright.charts.pointed_chart import pointed_chart
    from vaporwright.unit.rate_curve import rate_curves

    settled = [result.settling_temperature_K for result in answer.seasons.values()]
    return pointed_chart(answer, rate_curves(answer, points=POINTED_POINTS, through_K=settled), system)


def sizing_sheet(answer: UnitAnswer, body: Body, questions: Sequence[Question], system: str) -> bytes:
    """The PDF: capacity, elevation with rods, connections."""
    from vaporwright.documents.sizing_sheet import sizing_sheet_pdf
    from vaporwright.unit.rate_curve import rate_curves

    return sizing_sheet_pdf(answer, body, questions, rate_curves(answer), system, made_on=None)


def tank_elevation(answer: UnitAnswer, body: Body, system: str) -> str:
    """Tank and rods to scale, as SVG. Raises InputError where the levels could not be solved."""
    from vaporwright.documents.elevation_part import elevation_svg

    if body.levels is None:
        raise InputError("elevation", "", f"levels not solved: {body.section('levels').problem}")
    return elevation_svg(answer, body.levels, system, title=answer.job.text("job.name"))


def write_chart(outcome: Outcome, path: Path, system: str) -> Path:
    """Write the chart as SVG. Raises InputError where the file can't be written."""
    return write_bytes(path, chart_svg(outcome.answer, system).encode("utf-8"))


def write_sizing_sheet(outcome: Outcome, path: Path, system: str) -> Path:
    """Write the PDF of `sizing_sheet`. Raises InputError where the file can't be written."""
    return write_bytes(path, sizing_sheet(outcome.answer, outcome.body, outcome.questions, system))


def write_elevation(outcome: Outcome, path: Path, system: str) -> Path:
    """Write the tank and rod elevation as SVG. Raises InputError where the file can't be written."""
    return write_bytes(path, tank_elevation(outcome.answer, outcome.body, system).encode("utf-8"))


def write_bytes(path: Path, content: bytes) -> Path:
    """Write a file. Raises InputError where it can't be written."""
    try:
        path.write_bytes(content)
    except OSError as error:
        raise InputError(str(path), "", f"cannot be written: {error.strerror}", "a file in a writable folder") from None
    return path
