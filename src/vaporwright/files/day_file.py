"""Day files: the conditions of the day of a test as TOML, quantities as texts with units ("75 degF")."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import Final

from vaporwright.acceptance.steps.day import DAY_KEYS, DayConditions, DayKey
from vaporwright.display_units import US, to_shown
from vaporwright.files.catalogue_keys import CatalogueKey
from vaporwright.files.catalogue_values import Place, values_of
from vaporwright.files.log_columns import stem
from vaporwright.files.values import parse_toml, read_toml
from vaporwright.foundation.errors import InputError

_OPTIONAL: Final = frozenset(("duct_loss_Pa", "exhaust_recirculation"))  # nothing where they are not stated
EXAMPLES: Final = {
    "air_temperature_K": "75 degF",
    "wet_bulb_K": "62 degF",
    "pressure_Pa": "29.1 inHg",
    "elevation_m": "700 ft",
    "water_temperature_K": "58 degF",
    "supply_voltage_V": "480 V",
    "duct_loss_Pa": "0.25 inH2O",
    "exhaust_recirculation": "2 %",
    "steam_gauge_Pa": "15 psi",
}
_UNIT_TEXTS: Final = {
    "temperature": "degF",
    "absolute pressure": "psia",
    "length": "ft",
    "voltage": "V",
    "pressure": "inH2O",
    "fraction": "%",
    "gauge pressure": "psi",
}
HEAD: Final = """\
# Conditions of the day of a test. Measure them, fill them in, and take the # away.
# Every expected value of the procedure follows from them. Quantities are texts with units, US or SI.
"""


def read_day_file(path: Path, heat: str) -> DayConditions:
    """The conditions of the day for a unit heated by "gas", "electric" or "steam".

    Raises: InputError naming file, key, the value as typed and what is allowed.
    """
    _, tables = read_toml(path)
    return _read(tables, str(path), heat)


def read_day_text(text: str, where: str, heat: str) -> DayConditions:
    """The same of a text; `where` stands for the file in messages."""
    return _read(parse_toml(text, where), where, heat)


def _read(tables: dict[str, object], where: str, heat: str) -> DayConditions:
    for key in DAY_KEYS:
        if key.only_for not in ("", heat) and stem(key.name) in tables:
            problem = f"is for a unit heated by {key.only_for}; this one is heated by {heat}"
            raise InputError(where, stem(key.name), problem, "no such key")
    keys = _keys_for(heat)
    declared = tuple(
        CatalogueKey(stem(key.name), key.quantity, key.label, key.low, key.high, optional=key.name in _OPTIONAL)
        for key in keys
    )
    values = values_of(tables, declared, Place(where, ""))
    try:
        return DayConditions(**{key.name: values[stem(key.name)] for key in keys if stem(key.name) in values})
    except InputError as error:  # what only several keys show together
        raise InputError(where, stem(error.key), error.problem, error.allowed) from None


def day_text(heat: str, day: DayConditions | None = None) -> str:
    """A commented day file to fill in; with the values of a day, where one is given."""
    lines = [HEAD]
    for key in _keys_for(heat):
        words = key.label + ("; nothing where it is left out" if key.name in _OPTIONAL else "")
        lines += textwrap.wrap(words, 112, initial_indent="# ", subsequent_indent="#   ")
        value = None if day is None else getattr(day, key.name)
        if value is None:
            lines.append(f'# {stem(key.name)} = "{EXAMPLES[key.name]}"')
        else:
            shown = f"{to_shown(value, key.quantity, US):.9g}"
            lines.append(f'{stem(key.name)} = "{shown} {_UNIT_TEXTS[key.quantity]}"')
        lines.append("")
    return "\n".join(lines)


def _keys_for(heat: str) -> tuple[DayKey, ...]:
    return tuple(key for key in DAY_KEYS if key.only_for in ("", heat))
