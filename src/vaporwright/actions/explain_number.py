"""How a number came about: equation, inputs, sources. What `--why` prints, and a page shows beside a number."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from typing import Final

from vaporwright.display_units import show
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.register import citations, sources
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.body import Body, body_of
from vaporwright.unit.explain import explanations
from vaporwright.unit.figures import Figure

DIGITS: Final = 4


@dataclass(frozen=True)
class ShownInput:
    """One input of a number, as people read it."""

    name: str
    value: str
    is_number: bool
    is_assumed: bool
    is_explained: bool  # there is an explanation under its own name


@dataclass(frozen=True)
class Explained:
    """One number with all that leads to it, as people read it."""

    name: str
    value: str
    equation: str
    inputs: tuple[ShownInput, ...]
    sources: tuple[str, ...]  # the function, its source, where in it, of which kind, against what it was checked


def explained(answer: UnitAnswer, body: Body, name: str, system: str) -> Explained:
    """How one number came about.

    A short name ("evaporation_kg_s", "settling_temperature_K") means the governing season.
    Raises: InputError with the nearest names where there is no such number.
    """
    known = explanations(answer, body)
    in_sections = [full for full in known if full.endswith(f".{name}") and not full.startswith(("capacity.", "duty."))]
    for full in (name, f"capacity.{answer.governing}.{name}", f"duty.{name}", *in_sections):
        if full in known:
            return _explained(known[full], known, answer, system)
    short = {full.rsplit(".", 1)[-1] for full in known}
    near = difflib.get_close_matches(name[:200], [*known, *short], n=3, cutoff=0.4)
    raise InputError("--why", name[:200], "no such number", ", ".join(near) or "a name of --why list")


def explained_in(answer: UnitAnswer, name: str, system: str) -> Explained:
    """As `explained`, where the body of the unit has not been solved yet. Raises: InputError."""
    return explained(answer, body_of(answer), name, system)


def explained_names(answer: UnitAnswer, body: Body) -> tuple[str, ...]:
    """The names of all numbers that can be followed."""
    return tuple(explanations(answer, body))


def _explained(entry: Figure, known: dict[str, Figure], answer: UnitAnswer, system: str) -> Explained:
    assumed = {assumption.key for assumption in answer.job.assumptions}
    inputs = tuple(
        ShownInput(
            item.name,
            _shown(item.value, item.quantity, system),
            isinstance(item.value, float),
            item.name in assumed,
            item.name in known and item.name != entry.name,
        )
        for item in entry.inputs
    )
    value = entry.absent if entry.value is None else _shown(entry.value, entry.quantity, system)
    return Explained(entry.name, value, entry.equation, inputs, tuple(_sources(entry)))


def _shown(value: float | str, quantity: str, system: str) -> str:
    return value if isinstance(value, str) else show(value, quantity, system, DIGITS)


def _sources(entry: Figure) -> list[str]:
    register = sources()
    found = []
    for function in entry.functions:
        for citation in (one for one in citations() if one.function == function):
            source = register[citation.source_id]
            found.append(
                f"{function}: {source.citation}; {citation.locator} [{source.kind}]. Checked: {source.checked}"
            )
    return found
