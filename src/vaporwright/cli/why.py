"""`--why NAME`: how a number came about, in the terminal."""

from __future__ import annotations

import difflib
import textwrap

from vaporwright.display_units import show
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.register import citations, sources
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.body import Body
from vaporwright.unit.explain import explanations
from vaporwright.unit.figures import Figure

WIDTH = 80
NAME, VALUE = 46, 20
LIST = "list"


def why_text(answer: UnitAnswer, body: Body, name: str, system: str) -> str:
    """Equation, inputs and sources of one number; "list" names all.

    A short name ("evaporation_kg_s", "settling_temperature_K") means the governing season.
    Raises InputError with the nearest names where there is no such number.
    """
    known = explanations(answer, body)
    if name == LIST:
        return "\n".join(known)
    in_sections = [full for full in known if full.endswith(f".{name}") and not full.startswith(("capacity.", "duty."))]
    for full in (name, f"capacity.{answer.governing}.{name}", f"duty.{name}", *in_sections):
        if full in known:
            return _text(known[full], known, answer, system)
    short = {full.rsplit(".", 1)[-1] for full in known}
    near = difflib.get_close_matches(name, [*known, *short], n=3, cutoff=0.4)
    raise InputError("--why", name, "no such number", ", ".join(near) or "a name of --why list")


def _shown(value: float | str, quantity: str, system: str) -> str:
    return value if isinstance(value, str) else show(value, quantity, system, 4)


def _text(entry: Figure, known: dict[str, Figure], answer: UnitAnswer, system: str) -> str:
    assumed = {assumption.key for assumption in answer.job.assumptions}
    value = entry.absent if entry.value is None else _shown(entry.value, entry.quantity, system)
    lines = [f"{entry.name} = {value}", ""]
    lines.append(textwrap.fill(entry.equation, WIDTH, initial_indent="  ", subsequent_indent="  "))
    lines.append("")
    for item in entry.inputs:
        mark = " (assumed)" if item.name in assumed else ""
        more = "  <- --why" if item.name in known and item.name != entry.name else ""
        width = VALUE if isinstance(item.value, float) else 0  # words start where the numbers' column does
        lines.append(f"  {item.name:<{NAME}}{_shown(item.value, item.quantity, system):>{width}}{mark}{more}")
    register = sources()
    for function in entry.functions:
        cited = [citation for citation in citations() if citation.function == function]
        for citation in cited:
            source = register[citation.source_id]
            text = f"{function}: {source.citation}; {citation.locator} [{source.kind}]. Checked: {source.checked}"
            lines += ["", textwrap.fill(text, WIDTH, initial_indent="  ", subsequent_indent="    ")]
    return "\n".join(lines)
