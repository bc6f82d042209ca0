"""`--why NAME`: how a number came about, in the terminal."""

from __future__ import annotations

import textwrap

from vaporwright.actions.explain_number import Explained, explained, explained_names
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.body import Body

WIDTH = 80
NAME, VALUE = 46, 20
LIST = "list"


def why_text(answer: UnitAnswer, body: Body, name: str, system: str) -> str:
    """Equation, inputs and sources of one number; "list" names all.

    A short name ("evaporation_kg_s", "settling_temperature_K") means the governing season.
    Raises InputError with the nearest names where there is no such number.
    """
    if name == LIST:
        return "\n".join(explained_names(answer, body))
    return _text(explained(answer, body, name, system))


def _text(entry: Explained) -> str:
    lines = [f"{entry.name} = {entry.value}", ""]
    lines.append(textwrap.fill(entry.equation, WIDTH, initial_indent="  ", subsequent_indent="  "))
    lines.append("")
    for item in entry.inputs:
        mark = " (assumed)" if item.is_assumed else ""
        more = "  <- --why" if item.is_explained else ""
        width = VALUE if item.is_number else 0  # words start where the numbers' column does
        lines.append(f"  {item.name:<{NAME}}{item.value:>{width}}{mark}{more}")
    for text in entry.sources:
        lines += ["", textwrap.fill(text, WIDTH, initial_indent="  ", subsequent_indent="    ")]
    return "\n".join(lines)
