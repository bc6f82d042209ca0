"""The report of `vaporwright catalogue fit` in the terminal."""

from __future__ import annotations

import textwrap

from vaporwright.actions.fit_catalogue import TowerFit
from vaporwright.display_units import US, show

WIDTH = 80


def fit_report_text(fits: tuple[TowerFit, ...]) -> str:
    """All towers, one after the other."""
    return "\n\n".join(_tower(entry) for entry in fits)


def _tower(entry: TowerFit) -> str:
    fit, tower, fill = entry.fit, entry.tower, entry.tower.fill
    low_c, high_c = fit.coefficient_interval
    low_n, high_n = fit.exponent_interval
    ratio, water = fit.tested.water_to_air_ratio, fit.tested.water_in_temperature_K
    lines = [
        f"Tower {tower.part_id}, {tower.name}: {len(fit.points)} points, reduced by the {fit.model} model",
        "-" * WIDTH,
        f"  Me = c (L/G)^n    c = {fit.coefficient:.4f}  ({low_c:.4f} to {high_c:.4f}, 95 %)",
        f"                    n = {fit.exponent:.3f}  ({low_n:.3f} to {high_n:.3f}, 95 %)",
        f"  {fit.exponent_meaning()}",
        f"  scatter of a point {fit.residual_standard_deviation:.1%}, R2 {fit.r_squared:.3f}",
        f"  tested: L/G {ratio.low:.2f} to {ratio.high:.2f}, "
        f"water in {show(water.low, 'temperature', US)} to {show(water.high, 'temperature', US)}",
        f"  catalogue states  c = {fill.merkel_coefficient:.4f}, n = {fill.merkel_exponent:.3f}, {fill.model} model",
    ]
    if fit.model_difference is not None:
        difference = fit.model_difference
        lines.append(
            f"  Poppe's number is {difference.mean - 1.0:.1%} above Merkel's at these points "
            f"({difference.lowest - 1.0:.1%} to {difference.highest - 1.0:.1%})"
        )
    lines += ["", "  point    L/G      Me   law Me  catalogue  off the law  studentised"]
    for point in fit.points:
        student = "-" if point.studentised_residual is None else f"{point.studentised_residual:.1f}"
        mark = "  outlier" if point.outlier else ""
        stated = entry.stated_merkel_number(point.water_to_air_ratio)
        lines.append(
            f"  {point.number:>5}{point.water_to_air_ratio:>7.2f}{point.merkel_number:>8.4f}"
            f"{point.law_merkel_number:>9.4f}{stated:>11.4f}{point.residual:>+13.1%}{student:>13}{mark}"
        )
    for notice in entry.notices:
        lines.append(
            textwrap.fill(
                "! " + notice.words(lambda value, quantity: show(value, quantity, US)),
                WIDTH,
                initial_indent="  ",
                subsequent_indent="    ",
            )
        )
    return "\n".join(lines)
