"""Text and numbers made fit for paper: a user's text on one line, numbers held to their units, figures split in two."""

from __future__ import annotations

import re
import unicodedata
from typing import Any, Final

from vaporwright.display_units import QUANTITIES, show, shown_unit

LONGEST_WORD: Final = 28
UNITS: Final = "|".join(
    sorted({re.escape(unit.text) for entry in QUANTITIES.values() for unit in (entry.us, entry.metric) if unit.text})
)
NUMBER_AND_UNIT: Final = re.compile(rf"(?<=\d) (?=(?:{UNITS})(?:\W|$))")
TURNING: Final = re.compile("[\u202a-\u202e\u2066-\u2069]")  # would set the words behind them backwards


def plain(text: str) -> str:
    """A user's text on one line: no control characters, no lone surrogates, very long words breakable."""
    spaced = re.sub(r"\s+", " ", TURNING.sub("", text))
    kept = "".join(letter for letter in spaced if unicodedata.category(letter) not in ("Cc", "Cs", "Co", "Cn")).strip()
    return re.sub(rf"\S{{{LONGEST_WORD}}}(?=\S)", lambda word: word.group() + "\u200b", kept)


def cut(text: str, most: int) -> str:
    """Text of at most that many characters; what was cut shows as an ellipsis."""
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"


def unbroken(entry: Any) -> Any:
    """The same data with numbers held to their units by spaces that no line breaks at."""
    if isinstance(entry, str):
        return NUMBER_AND_UNIT.sub("\u00a0", entry).replace("h/day", "h/\u2060day")
    if isinstance(entry, dict):
        return {key: unbroken(value) for key, value in entry.items()}
    return [unbroken(value) for value in entry] if isinstance(entry, list) else entry


def number_and_unit(value: float, quantity: str, system: str) -> tuple[str, str]:
    """A value as people read it, its unit apart: for tables whose numbers stand under each other."""
    unit = shown_unit(quantity, system).text
    return show(value, quantity, system).removesuffix(unit).rstrip(), unit


def round_number(value: float, quantity: str, system: str) -> str:
    """A value as people say it: without the zeros that only tell how well it is known."""
    number, unit = number_and_unit(value, quantity, system)
    if "." in number:
        number = number.rstrip("0").rstrip(".")
    return f"{number} {unit}".rstrip()
