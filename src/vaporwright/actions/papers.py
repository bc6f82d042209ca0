"""Writing the chart, the sizing sheet and the tank elevation of an outcome."""

from __future__ import annotations

from pathlib import Path

from vaporwright.actions.size_job import Outcome
from vaporwright.foundation.errors import InputError


def write_chart(outcome: Outcome, path: Path, system: str) -> Path:
    """Write the chart as SVG. Raises InputError where the file can't be written."""
    from vaporwright.charts.rate_chart import rate_chart_svg
    from vaporwright.unit.rate_curve import rate_curves

    text = rate_chart_svg(outcome.answer, rate_curves(outcome.answer), system)
    return write_bytes(path, text.encode("utf-8"))


def write_sizing_sheet(outcome: Outcome, path: Path, system: str) -> Path:
    """Write the PDF: capacity, elevation with rods, connections. Raises InputError where the file can't be written."""
    from vaporwright.documents.sizing_sheet import sizing_sheet_pdf
    from vaporwright.unit.rate_curve import rate_curves

    curves = rate_curves(outcome.answer)
    pdf = sizing_sheet_pdf(outcome.answer, outcome.body, outcome.questions, curves, system, made_on=None)
    return write_bytes(path, pdf)


def write_elevation(outcome: Outcome, path: Path, system: str) -> Path:
    """Write the tank and rod elevation to scale as SVG. Raises InputError where the file can't be written."""
    from vaporwright.documents.elevation_part import elevation_svg

    answer, stack = outcome.answer, outcome.body.levels
    if stack is None:
        raise InputError("elevation", "", f"levels not solved: {outcome.body.section('levels').problem}")
    text = elevation_svg(answer, stack, system, title=answer.job.text("job.name"))
    return write_bytes(path, text.encode("utf-8"))


def write_bytes(path: Path, content: bytes) -> Path:
    """Write a file. Raises InputError where it can't be written."""
    try:
        path.write_bytes(content)
    except OSError as error:
        raise InputError(str(path), "", f"cannot be written: {error.strerror}", "a file in a writable folder") from None
    return path
