"""A reading as somebody types it ("26.3 gal/min", "71 degF", "1/8 in", "yes") for a field of a step.

What was entered is kept, with its unit, beside its SI value. A number without a unit is refused, unless a page showed
the unit beside the box. Where a text can be read in two ways it is refused and not guessed: 1,234 is a thousand here
and little more than one there.
"""

from __future__ import annotations

import math
import re
from typing import Final

from vaporwright.acceptance.steps.procedure import TEXT, YES_OR_NO, ReadingField
from vaporwright.acceptance.steps.readings import Reading, Way
from vaporwright.display_units import shown_unit
from vaporwright.files.quantities import NUMBER_QUANTITIES, allowed_examples, parse_quantity
from vaporwright.foundation.errors import InputError

YES_WORDS: Final = frozenset(("yes", "y", "true"))
NO_WORDS: Final = frozenset(("no", "n", "false"))
BLANKS: Final = frozenset(("", "-", "\u2013", "\u2014", "\u2212"))  # what people write where nothing was read
LONGEST_NUMBER: Final = 80  # characters of a number with its unit
LONGEST_WORDS: Final = 400  # characters of a reading in words
BARE_NUMBERS: Final = frozenset(("ratio", "pH", "count", "hours per day", "days per week"))  # they have no unit

_BARE = re.compile(r"[+-]?(?:\d+[ -]+)?\d+/\d+|[+-]?[\d.,]+(?:[eE][+-]?\d+)?")
_GROUPED = re.compile(r"[+-]?\d{1,3}(?:,\d{3})+(?!\d)")
_MORE_THAN_THE_ATMOSPHERE_Pa: Final = 1.1e5
# Below these there is nothing to be read: absolute zero, a full vacuum, less than nothing of something.
_LOWEST: Final[dict[str, float]] = {
    "temperature": 0.0,
    "absolute pressure": 0.0,
    "gauge pressure": -_MORE_THAN_THE_ATMOSPHERE_Pa,
    "pressure": -_MORE_THAN_THE_ATMOSPHERE_Pa,
    **dict.fromkeys(("mass concentration", "density", "area", "humidity ratio", "energy"), 0.0),
    **dict.fromkeys(("volume", "gas volume", "standard gas volume"), 0.0),
    **dict.fromkeys(("resistance", "insulation resistance", "conductivity", "sound level", "pH", "count"), 0.0),
    **dict.fromkeys(("duration", "short duration", "delay"), 0.0),
}
_IN_WORDS: Final[dict[str, str]] = {
    "temperature": "above absolute zero",
    "gauge pressure": "above a full vacuum",
    "pressure": "above a full vacuum",
}


def is_blank(text: str) -> bool:
    """Whether a text says that nothing was read."""
    return text.strip() in BLANKS


def is_bare_number(text: str) -> bool:
    """Whether a text is a number, or a fraction, without a unit."""
    return bool(_BARE.fullmatch(text.replace("\u2212", "-").strip()))


def typed_reading(
    field: ReadingField,
    text: str,
    *,
    shown_system: str | None = None,
    step: str = "",
    instrument: str = "",
    way: Way = "typed",
    where: str = "reading",
) -> Reading:
    """The reading that a text means for a field.

    Args:
        text: as entered.
        shown_system: "US" or "SI" where a page shows the field's unit in that system beside the box, so that a bare
            number has it; None where nothing does, and a bare number is refused.
        step, instrument, way: for the reading.
        where: for messages, before the field's key.
    Raises: InputError saying what is wrong with the text, and what is allowed.
    """
    plain = _readable(text, field, where)
    if field.quantity == TEXT:
        return Reading(step, field.key, plain, plain, instrument, way)
    if field.quantity == YES_OR_NO:
        return Reading(step, field.key, plain, yes_or_no(plain, where=where, key=field.key), instrument, way)
    entered = _with_unit(plain, field.quantity, shown_system)
    value = read_number(entered, field.quantity, where=where, key=field.key)
    return Reading(step, field.key, entered, value, instrument, way)


def yes_or_no(text: str, *, where: str, key: str) -> bool:
    """What a word says; raises InputError for any other."""
    word = text.strip().casefold()
    if word in YES_WORDS or word in NO_WORDS:
        return word in YES_WORDS
    raise InputError(where, key, f'"{_short(text)}" is neither yes nor no', "yes or no")


def read_number(text: str, quantity: str, *, where: str, key: str) -> float:
    """SI value of a number with its unit, in the strict way of readings.

    Raises: InputError for what cannot be read, can be read in two ways, or cannot be.
    """
    _refuse_doubtful_comma(text, where, key)
    if quantity == "fraction" and is_bare_number(text):
        raise InputError(where, key, f'"{text}" has no unit: it may be a share or a percentage', '"4.5 %"')
    value = parse_quantity(text, quantity, where=where, key=key)
    if not math.isfinite(value):
        raise InputError(where, key, f'"{text}" is too large a number', allowed_examples(quantity))
    if quantity == "count" and value != round(value):
        raise InputError(where, key, f'"{text}" is not a whole number', allowed_examples(quantity))
    lowest = _LOWEST.get(quantity)
    open_end = quantity in ("temperature", "absolute pressure")  # zero itself is none
    if lowest is not None and (value < lowest or (open_end and value <= lowest)):
        raise InputError(where, key, f'"{text}" cannot be', f"a reading {_IN_WORDS.get(quantity, 'of 0 or more')}")
    return value


def _readable(text: object, field: ReadingField, where: str) -> str:
    """The text without the space around it; refuses what is no text, blank, too long or unprintable."""
    if not isinstance(text, str):
        raise InputError(where, field.key, f"{type(text).__name__} is not a text", "the reading as typed")
    plain = text.strip()
    if is_blank(plain):
        raise InputError(where, field.key, f'"{plain}" says that nothing was read', _allowed(field))
    if not plain.isprintable() and any(not (sign.isprintable() or sign in "\u00a0\u2009\u202f") for sign in plain):
        raise InputError(where, field.key, f"{_short(plain)!a} has signs that cannot be printed", _allowed(field))
    longest = LONGEST_WORDS if field.quantity == TEXT else LONGEST_NUMBER
    if len(plain) > longest:
        raise InputError(where, field.key, f'"{_short(plain)}" is longer than {longest} characters', _allowed(field))
    return plain


def _allowed(field: ReadingField) -> str:
    if field.quantity == YES_OR_NO:
        return "yes or no"
    return f"up to {LONGEST_WORDS} characters" if field.quantity == TEXT else allowed_examples(field.quantity)


def _with_unit(text: str, quantity: str, shown_system: str | None) -> str:
    """The text, with the unit that the page showed where it has none of its own."""
    if shown_system is None or not is_bare_number(text):
        return text
    unit = shown_unit(quantity, shown_system).text
    return f"{text} {unit}" if unit and not _is_bare(quantity) else text


def _is_bare(quantity: str) -> bool:
    return quantity in BARE_NUMBERS and "" in NUMBER_QUANTITIES[quantity]


def _refuse_doubtful_comma(text: str, where: str, key: str) -> None:
    """Refuse "0,850" and "1,234": a thousand times the other meaning. "1,234.5" and "1,234,567" are plain."""
    plain = text.replace("\u2212", "-").strip()
    found = _GROUPED.match(plain)
    if found is None:
        return
    digits = found[0]
    if digits.lstrip("+-").startswith("0") and digits.count(",") > 1:
        raise InputError(where, key, f'"{text}" has commas where no thousands are', "a number without commas")
    if digits.count(",") == 1 and (digits.lstrip("+-").startswith("0") or plain[found.end() : found.end() + 1] != "."):
        point, none = digits.replace(",", "."), digits.replace(",", "")
        raise InputError(where, key, f'"{text}" may mean {none} or {point}', f"{none} or {point}, without a comma")


def _short(text: str) -> str:
    return text if len(text) <= 40 else text[:40] + "..."
