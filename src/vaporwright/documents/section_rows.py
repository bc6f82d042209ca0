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
