"""Sections of an answer as printed text: report, papers and comparison show the same rows."""

from __future__ import annotations

from vaporwright.display_units import show
from vaporwright.unit.figures import Figure, Section


def figure_text(figure: Figure, system: str) -> str:
    """A figure's value with its unit, as people read it."""
    if figure.value is None:
        return figure.absent
    return figure.value if isinstance(figure.value, str) else show(figure.value, figure.quantity, system)


def section_rows(section: Section, system: str) -> list[tuple[str, str]]:
    """Label and value of every figure of a section, or the problem."""
    if section.problem:
        return [("not solved", section.problem)]
    return [(figure.label, figure_text(figure, system)) for figure in section.figures]


def refill_sentence(section: Section, system: str) -> str:
    """One refill: volume, time, period, sag and the timer that stops it."""
    if section.problem:
        return ""
    shown = {figure.name: figure_text(figure, system) for figure in section.figures}
    if "refill_volume_m3" not in shown:
        return "Refill: worked out once the conflicts are resolved."
    volume = shown["refill_volume_m3"]
    if section.value("refill_period_s") is None:
        return f"Refill-on to refill-off holds {volume}; the trickle feed carries what evaporates, so nothing refills."
    return (
        f"A refill of {volume} takes {shown['refill_time_s']}, comes every {shown['refill_period_s']} and cools the "
        f"tank by {shown['refill_sag_difference_K']}. Its timer stops it after {shown['refill_timer_s']}, with alarm."
    )
