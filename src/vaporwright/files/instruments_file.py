"""Instruments files: the test instruments of a shop as TOML, one table [[instrument]] each, as its certificate says.

`uncertainty` is the expanded uncertainty of the certificate: "0.5 degF", "1 %" of the reading, or both as a list. An
absolute one of a temperature is a difference, of a fraction in points: "0.3 %" of a flue gas analyser would be of the
reading, and is written "0.3 points".
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, datetime
from pathlib import Path
from typing import Any, Final

from vaporwright.acceptance.steps.instruments import KINDS, Instrument
from vaporwright.acceptance.steps.procedure import YES_OR_NO
from vaporwright.files.catalogue_keys import CatalogueKey
from vaporwright.files.catalogue_values import Place, one_value, values_of
from vaporwright.files.quantities import EXAMPLES
from vaporwright.files.typed_reading import read_number
from vaporwright.files.values import parse_toml, read_toml, typed_text
from vaporwright.foundation.errors import InputError

INSTRUMENT_KEYS: Final = (
    CatalogueKey("id", "text", "Short name by which readings name it"),
    CatalogueKey("kind", "choice", "What it is", choices=tuple(KINDS)),
    CatalogueKey("title", "text", "What it is in words"),
    CatalogueKey("certificate", "text", "Number of its calibration certificate"),
    CatalogueKey(
        "coverage_factor", "ratio", "k of the certificate; 2 where it is not stated", 1.0, 10.0, optional=True
    ),
)
_READ_APART: Final = ("due", "uncertainty", "low", "high", "resolution")
_DIFFERENCE_OF: Final = {"temperature": "temperature difference", "absolute pressure": "pressure"}
_SHARE = re.compile(r"(.+?)\s*(?:%|percent)(?:\s+of\s+(?:the\s+)?reading)?")
_POINTS = re.compile(r"(.+?)\s*points?")
MOST_INSTRUMENTS: Final = 1000


def read_instruments_file(path: Path) -> tuple[Instrument, ...]:
    """The instruments of a file, in its order.

    Raises: InputError naming file, instrument, key, the value as typed and what is allowed.
    """
    _, tables = read_toml(path)
    return _read(tables, str(path))


def read_instruments_text(text: str, where: str) -> tuple[Instrument, ...]:
    """The same of a text; `where` stands for the file in messages."""
    return _read(parse_toml(text, where), where)


def _read(tables: Mapping[str, Any], where: str) -> tuple[Instrument, ...]:
    values_of({key: raw for key, raw in tables.items() if key != "instrument"}, (), Place(where, ""), ("instrument",))
    entries = tables.get("instrument")
    if not isinstance(entries, list) or not entries:
        raise InputError(where, "instrument", "missing", "at least one table [[instrument]]")
    if len(entries) > MOST_INSTRUMENTS:
        raise InputError(where, "instrument", f"stands there {len(entries)} times", f"at most {MOST_INSTRUMENTS}")
    found: dict[str, Instrument] = {}
    for number, entry in enumerate(entries, 1):
        if not isinstance(entry, dict):
            raise InputError(where, f"instrument {number}", f"{typed_text(entry)} is no table", "[[instrument]]")
        instrument = _instrument(entry, Place(where, _label(entry, number)))
        if instrument.id in found:
            problem = f'"{instrument.id}" stands there twice'
            raise InputError(where, f"instrument {number}: id", problem, "ids that differ")
        found[instrument.id] = instrument
    return tuple(found.values())


def _label(entry: Mapping[str, Any], number: int) -> str:
    name = entry.get("id")
    return f"instrument {name[:40]}" if isinstance(name, str) and name.strip() else f"instrument {number}"


def _instrument(entry: Mapping[str, Any], place: Place) -> Instrument:
    values = values_of(entry, INSTRUMENT_KEYS, place, _READ_APART)
    kind = KINDS[values["kind"]]
    says_yes_or_no = kind.quantity == YES_OR_NO
    for key in ("uncertainty", "low", "high", "resolution"):
        if says_yes_or_no and key in entry:
            raise place.error(key, f"a {kind.name} says yes or no", "no such key")
    expanded, share = (0.0, 0.0) if says_yes_or_no else _uncertainty(entry.get("uncertainty"), kind.quantity, place)
    given: dict[str, Any] = {
        **values,
        "due": _due(entry.get("due"), place),
        "expanded": expanded,
        "expanded_relative": share,
    }
    for key, quantity in (("low", kind.quantity), ("high", kind.quantity), ("resolution", _difference(kind.quantity))):
        if key in entry:
            given[key] = one_value(entry[key], CatalogueKey(key, quantity, key), place, key)
    try:
        return Instrument(**given)
    except InputError as error:  # what only several keys show together
        key = "uncertainty" if error.key.startswith("expanded") else error.key
        raise place.error(key, error.problem, error.allowed) from None


def _difference(quantity: str) -> str:
    return _DIFFERENCE_OF.get(quantity, quantity)


def _due(raw: object, place: Place) -> str:
    if isinstance(raw, date) and not isinstance(raw, datetime):
        return raw.isoformat()
    allowed = "the last day of its calibration as YYYY-MM-DD"
    if raw is None:
        raise place.error("due", "missing", allowed)
    if isinstance(raw, str) and re.fullmatch(r"\d{4}-\d\d-\d\d", raw, re.ASCII):
        try:
            return date.fromisoformat(raw).isoformat()
        except ValueError:
            pass
    raise place.error("due", f"{typed_text(raw)} is no day", allowed)


def _uncertainty(raw: object, quantity: str, place: Place) -> tuple[float, float]:
    """Expanded uncertainty: the absolute part [SI], and the share of the reading."""
    points = ' or "0.3 points"' if quantity == "fraction" else f' or "{EXAMPLES[_difference(quantity)][0]}"'
    allowed = f'"1 %" of the reading{points}, as the certificate states it; both as a list'
    if raw is None:
        raise place.error("uncertainty", "missing", allowed)
    items = raw if isinstance(raw, list) else [raw]
    absolute: float | None = None
    share: float | None = None
    for item in items:
        if not isinstance(item, str):
            raise place.error("uncertainty", f"{typed_text(item)} is no text with a unit", allowed)
        value, is_share = _part(item.strip(), quantity, place)
        if value < 0.0 or (share if is_share else absolute) is not None:
            raise place.error("uncertainty", f'"{item}" is negative, or the second of its kind', allowed)
        absolute, share = (absolute, value) if is_share else (value, share)
    return absolute or 0.0, share or 0.0


def _part(text: str, quantity: str, place: Place) -> tuple[float, bool]:
    """One part of an uncertainty, and whether it is a share of the reading."""
    key = place.key("uncertainty")
    share, points = _SHARE.fullmatch(text), _POINTS.fullmatch(text)
    if points is not None and quantity == "fraction":
        return read_number(f"{points[1]} %", "fraction", where=place.where, key=key), False
    if share is not None:
        return read_number(f"{share[1]} %", "fraction", where=place.where, key=key), True
    if quantity == "sound level" and text.endswith("dB"):
        text += "(A)"
    return read_number(text, _difference(quantity), where=place.where, key=key), False
