"""Values of a catalogue's tables, checked against their declared keys, with the place of each for messages."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from vaporwright.files.catalogue_keys import CatalogueKey
from vaporwright.files.values import read_value, typed_text, unknown_key
from vaporwright.foundation.errors import InputError

Values = dict[str, Any]


class Place:
    """Where in the file a value stands, for messages."""

    def __init__(self, where: str, label: str) -> None:
        self.where, self.label = where, label

    def key(self, name: str) -> str:
        """A key with the part that it belongs to."""
        return f"{self.label}: {name}" if self.label else name

    def error(self, name: str, problem: str, allowed: str = "") -> InputError:
        """The error of a key here."""
        return InputError(self.where, self.key(name), problem, allowed)


def table_of(tables: Mapping[str, Any], name: str, place: Place) -> Mapping[str, Any]:
    """A table that must be there."""
    table = tables.get(name)
    if table is None:
        raise place.error(name, "missing", f"a table [{name}]")
    if not isinstance(table, dict):
        raise place.error(name, f"{typed_text(table)} stands where a table belongs", f"a table [{name}]")
    return table


def values_of(
    table: Mapping[str, Any], declared: tuple[CatalogueKey, ...], place: Place, tables: tuple[str, ...] = ()
) -> Values:
    """SI values of a table's own keys; `tables` are read elsewhere."""
    by_name = {key.name: key for key in declared}
    for name in table:
        if name not in by_name and name not in tables:
            fault = unknown_key(place.where, name, (*by_name, *tables))
            raise place.error(name, fault.problem, fault.allowed)
    values: Values = {}
    for name, key in by_name.items():
        if name in table:
            values[name] = (
                many_values(table[name], key, place) if key.many else one_value(table[name], key, place, name)
            )
        elif not key.optional:
            raise place.error(name, f"missing: {key.meaning}")
    return values


def one_value(raw: object, key: CatalogueKey, place: Place, name: str) -> Any:
    """One value in SI, checked against its key."""
    return read_value(raw, key, where=place.where, key=place.key(name))[0]


def many_values(raw: object, key: CatalogueKey, place: Place) -> tuple[float, ...]:
    """A list of values in SI, each checked against its key."""
    if not isinstance(raw, list):
        raise place.error(key.name, f"{typed_text(raw)} is not a list", "a list of quantities in brackets")
    return tuple(one_value(item, key, place, f"{key.name}, point {number}") for number, item in enumerate(raw, 1))
