"""A number of the answer with how it came about, and a section of such numbers.

Reports, papers, comparison, JSON and `--why` all print the same figures: each is named, explained and worked out
once, where it is computed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from vaporwright.foundation.errors import VaporwrightError
from vaporwright.foundation.notice import Notice


@dataclass(frozen=True)
class Input:
    """One input of an explained number. `name` is itself explained where a figure of that name exists."""

    name: str
    value: float | str
    quantity: str  # of display_units; "text" for words


@dataclass(frozen=True)
class Figure:
    """One number: value, equation in words and symbols, inputs, and the functions that computed it.

    value is SI; None means that there is none (`absent` says why in a word or two). A label of a figure in a section
    starts in lower case and needs no unit.
    """

    name: str  # in JSON, with its SI suffix; in a section without the section's key
    value: float | str | None
    quantity: str  # of display_units; "text" for words
    equation: str
    inputs: tuple[Input, ...] = ()
    functions: tuple[str, ...] = ()  # as in the source register
    label: str = ""  # for people, in a section
    absent: str = "none"


@dataclass(frozen=True)
class Section:
    """Part of an answer: its figures, what to watch, what to be careful of; or why it could not be solved."""

    key: str  # in JSON and --why: key.name
    title: str
    figures: tuple[Figure, ...] = ()
    notices: tuple[Notice, ...] = ()
    cautions: tuple[str, ...] = ()
    problem: str = ""

    def value(self, name: str) -> float | str | None:
        """The value of one of its figures."""
        return next(figure.value for figure in self.figures if figure.name == name)


def section_or_problem(key: str, title: str, solve: Callable[[], Section]) -> Section:
    """A section, or why its figures fit none: the rest of the answer stands without it."""
    try:
        return solve()
    except VaporwrightError as error:
        return Section(key, title, problem=str(error))
