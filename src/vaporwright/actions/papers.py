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
    return _write(path, text.encode("utf-8"))


def write_sizing_sheet(outcome: Outcome, path: Path, system: str) -> Path:
    """Write the one-page PDF. Raises InputError where the file can't be written."""
    from vaporwright.documents.sizing_sheet import sizing_sheet_pdf
    from vaporwright.unit.rate_curve import rate_curves

    curves = rate_curves(outcome.answer)
    return _write(path, sizing_sheet_pdf(outcome.answer, outcome.questions, curves, system, made_on=None))


def write_elevation(outcome: Outcome, path: Path, system: str) -> Path:
    """Write the tank and rod elevation to scale as SVG. Raises InputError where the file can't be written."""
    from vaporwright.display_units import US, shown_unit, to_shown
    from vaporwright.drawings.tank_elevation import tank_elevation_svg
    from vaporwright.unit.levels import BOTTOM_SLOPE, levels_of

    answer = outcome.answer
    unit, decimals = shown_unit("short length", system).text, 2 if system == US else 1  # rods are cut to 1/16 in

    def shown(length_m: float) -> str:
        return f"{to_shown(length_m, 'short length', system):,.{decimals}f} {unit}"

    text = tank_elevation_svg(
        levels_of(answer),
        title=answer.job.text("job.name"),
        tank_length_m=answer.unit.tank.length_m,
        bottom_slope=BOTTOM_SLOPE,
        heater_label=answer.unit.heat_source.name,
        show_length=shown,
    )
    return _write(path, text.encode("utf-8"))


def _write(path: Path, content: bytes) -> Path:
    try:
        path.write_bytes(content)
    except OSError as error:
        raise InputError(str(path), "", f"cannot be written: {error.strerror}", "a file in a writable folder") from None
    return path
