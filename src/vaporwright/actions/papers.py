"""Writing the chart and the sizing sheet of an outcome."""

from __future__ import annotations

from pathlib import Path

from vaporwright.actions.size_job import Outcome
from vaporwright.foundation.errors import InputError


def write_chart(outcome: Outcome, path: Path, system: str) -> Path:
    """Write the chart as SVG. Raises InputError where the file can't be written."""
    from vaporwright.charts.rate_chart import rate_chart_svg
    from vaporwright.unit.rate_curve import rate_curves

    text = rate_chart_svg(outcome.answer, rate_curves(outcome.answer), system)
    return _write(path, text.encode("utf-8"))


def write_sizing_sheet(outcome: Outcome, path: Path, system: str) -> Path:
    """Write the one-page PDF. Raises InputError where the file can't be written."""
    from vaporwright.documents.sizing_sheet import sizing_sheet_pdf
    from vaporwright.unit.rate_curve import rate_curves

    curves = rate_curves(outcome.answer)
    return _write(path, sizing_sheet_pdf(outcome.answer, outcome.questions, curves, system, made_on=None))


def _write(path: Path, content: bytes) -> Path:
    try:
        path.write_bytes(content)
    except OSError as error:
        raise InputError(str(path), "", f"cannot be written: {error.strerror}", "a file in a writable folder") from None
    return path
