"""One key of a job file: meaning, quantity, allowed range, default with basis, and question.

Values are SI. `low` and `high` span what is realistic when the customer has not said; the answer's movement between
them ranks the question.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

COMMON: Final = "common practice, no source"
Value = float | str | tuple[str, ...]


@dataclass(frozen=True)
class Field:
    """One key of a job file. Quantity names are those of display_units; "text", "choice" and "list" are words."""

    key: str
    quantity: str
    meaning: str
    default: Value | None = None  # None: required, or derived where `derived` says how
    low: float | None = None
    high: float | None = None
    least: float | None = None
    most: float | None = None
    basis: str = COMMON
    question: str = ""
    choices: tuple[str, ...] = ()
    required: bool = False
    derived: str = ""  # how a missing value follows from others; then no default
    only_for: str = ""  # the kind of heat that it concerns; else no assumption
    instead_of: str = ""  # the key that this one replaces when given; then no default and no assumption


def fahrenheit_K(fahrenheit: float) -> float:
    """Kelvin of a temperature in degrees Fahrenheit."""
    return (fahrenheit + 459.67) / 1.8


INCH_OF_WATER_Pa = 249.08891
FOOT_m = 0.3048
INCH_m = 0.0254
GALLON_PER_MINUTE_m3_s = 3.785411784e-3 / 60.0
