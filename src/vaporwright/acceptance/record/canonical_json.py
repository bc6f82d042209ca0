"""Canonical JSON: one value has exactly one form in bytes, so that a hash over it means something.

Keys sorted, no spaces, UTF-8, floats in the shortest form that reads back to the same bits, no NaN and no infinity. The
procedure goes into the record and comes out of it exactly as it was issued.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any, Final, TypeAlias

from vaporwright.acceptance.steps.procedure import Limits, Procedure, ProcedureSection, ReadingField, Step
from vaporwright.foundation.errors import InputError

Json: TypeAlias = bool | int | float | str | list["Json"] | dict[str, "Json"] | None

_ENCODER: Final = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def as_json(value: object) -> Json:
    """A value of dataclasses, mappings and sequences as plain JSON values.

    Raises: InputError for anything else.
    """
    if value is None or isinstance(value, bool | int | float | str):
        return value
    if is_dataclass(value) and not isinstance(value, type):
        return {entry.name: as_json(getattr(value, entry.name)) for entry in fields(value)}
    if isinstance(value, Mapping):
        if not all(isinstance(key, str) for key in value):
            raise InputError("record", "", "a key that is no text cannot be kept", "text keys")
        return {key: as_json(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple):
        return [as_json(entry) for entry in value]
    raise InputError("record", "", f"a {type(value).__name__} cannot be kept", "numbers, texts, lists and tables")


def canonical(value: Json) -> bytes:
    """The one form of a value in bytes.

    Raises: InputError for a number that is not finite, or text that is not Unicode.
    """
    try:
        return _ENCODER.encode(value).encode("utf-8")
    except ValueError as error:  # UnicodeEncodeError is one
        raise InputError("record", "", f"cannot be kept: {error}", "finite numbers and Unicode text") from None


def parsed(body: bytes) -> dict[str, Any]:
    """The value of a canonical body.

    Raises: ValueError where the bytes are not the canonical form of a table.
    """
    try:
        value = json.loads(body)
        if isinstance(value, dict) and canonical(value) == body:
            return value
    except (ValueError, RecursionError, InputError):
        pass
    raise ValueError("the body is not canonical JSON")


def procedure_as_json(procedure: Procedure) -> Json:
    """A procedure as it goes into the record."""
    return as_json(procedure)


def procedure_from_json(value: Mapping[str, Any]) -> Procedure:
    """A procedure as it was issued; the exact inverse of `procedure_as_json`."""
    kept = dict(value)
    kept["sections"] = tuple(_section(entry) for entry in value["sections"])
    kept["rules"] = tuple(value["rules"])
    return Procedure(**kept)


def _section(value: Mapping[str, Any]) -> ProcedureSection:
    kept = dict(value)
    kept["steps"] = tuple(_step(entry) for entry in value["steps"])
    return ProcedureSection(**kept)


def _step(value: Mapping[str, Any]) -> Step:
    kept = dict(value)
    for name in ("actions", "cautions", "after"):
        kept[name] = tuple(value[name])
    kept["fields"] = tuple(_field(entry) for entry in value["fields"])
    return Step(**kept)


def _field(value: Mapping[str, Any]) -> ReadingField:
    kept = dict(value)
    kept["limits"] = None if value["limits"] is None else Limits(**value["limits"])
    return ReadingField(**kept)
