"""One value of a TOML file, checked against its declaration: type, quantity, range, choices; and nearest keys.

Job and catalogue files share this, so that the same mistake gets the same message in both.
"""

from __future__ import annotations

import difflib
import math
import tomllib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, Protocol

from vaporwright.files.quantities import (
    NUMBER_QUANTITIES,
    TypedQuantity,
    allowed_examples,
    read_quantity,
    shown_in_typed_unit,
)
from vaporwright.foundation.errors import InputError

Value = float | str | tuple[str, ...]
LARGEST_FILE_bytes = 4_000_000


class Declared(Protocol):
    """What a declaration of a key says about its value; unit.fields.Field is one."""

    @property
    def quantity(self) -> str: ...
    @property
    def least(self) -> float | None: ...
    @property
    def most(self) -> float | None: ...
    @property
    def choices(self) -> tuple[str, ...]: ...


def read_toml(path: Path) -> tuple[str, dict[str, Any]]:
    """Text and tables of a TOML file.

    Raises: InputError for a missing, unreadable, binary, empty or misspelt file, with the line of a misspelling.
    """
    where = str(path)
    try:
        if path.is_dir():
            raise InputError(where, "", "is a folder", "a TOML text file")
        if path.stat().st_size > LARGEST_FILE_bytes:
            raise InputError(where, "", "is too large for such a file", "a TOML text file of at most 4 MB")
        content = path.read_bytes()
    except FileNotFoundError:
        raise InputError(where, "", "no such file") from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else "not a usable path"
        raise InputError(where, "", f"cannot be read ({reason})") from None
    if b"\0" in content:
        raise InputError(where, "", "is a binary file", "a TOML text file")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise InputError(where, "", f"is not UTF-8 text (line {line})", "a TOML text file saved as UTF-8") from None
    return text, parse_toml(text, where)


def parse_toml(text: str, where: str) -> dict[str, Any]:
    """Tables of a TOML text; raises InputError with the line of a misspelling, or for an empty text."""
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(
            where, "", _syntax_problem(text, str(error)), 'TOML lines such as volume = "26 gal/h"'
        ) from None
    except RecursionError:
        raise InputError(where, "", "is nested too deeply") from None
    if not tables:
        raise InputError(where, "", "is empty", "a TOML text file with keys")
    return tables


def _syntax_problem(text: str, message: str) -> str:
    """The parser's message with the offending line quoted; it only says (at line N, column M)."""
    reason, _, place = message.partition(" (at ")
    place = place.rstrip(")")
    if not place.startswith("line "):
        return f"is not valid TOML: {message}"
    number = int(place.split(",")[0].removeprefix("line "))
    line = text.splitlines()[number - 1].strip() if number <= len(text.splitlines()) else ""
    return f"is not valid TOML at {place}: {reason}, in: {line[:120]}"


def read_value(raw: object, declared: Declared, *, where: str, key: str) -> tuple[Value, str]:
    """The SI value of a raw TOML value, and its text as typed.

    Raises: InputError naming file, key, the value as typed and what is allowed.
    """
    if declared.quantity == "text":
        return _text(raw, where, key)
    if declared.quantity == "choice":
        return _choice(raw, declared.choices, where, key)
    if declared.quantity == "list":
        return _list(raw, declared.choices, where, key)
    if declared.quantity == "yes or no":
        if not isinstance(raw, bool):
            raise InputError(where, key, f"{typed_text(raw)} is not a yes or no", "true or false")
        return float(raw), typed_text(raw)
    typed = _quantity(raw, declared.quantity, where, key)
    _require_in_range(typed, declared, where, key)
    return typed.value_si, typed.text


def typed_text(raw: object) -> str:
    """A raw TOML value as its writer sees it."""
    if isinstance(raw, bool):
        return "true" if raw else "false"
    if isinstance(raw, dict):
        return "a table"
    if isinstance(raw, list):
        return "a list"
    return f'"{raw}"' if isinstance(raw, str) else str(raw)


def _quantity(raw: object, quantity: str, where: str, key: str) -> TypedQuantity:
    if isinstance(raw, str):
        typed = read_quantity(raw, quantity, where=where, key=key)
    elif isinstance(raw, int | float) and not isinstance(raw, bool):
        if quantity not in NUMBER_QUANTITIES:
            raise InputError(where, key, f"{raw} has no unit", allowed_examples(quantity))
        if not math.isfinite(raw):
            raise InputError(where, key, f"{raw} is not a finite number", allowed_examples(quantity))
        typed = TypedQuantity(str(raw), "", "", float(raw))
    else:
        kind = type(raw).__name__ if not isinstance(raw, bool | dict | list) else ""
        problem = f"{typed_text(raw)} is {f'a {kind}, ' if kind else ''}not {_article_of(quantity)}"
        raise InputError(where, key, problem, allowed_examples(quantity))
    if quantity == "count" and typed.value_si != round(typed.value_si):
        raise InputError(where, key, f"{typed.text} is not a whole number", allowed_examples(quantity))
    return typed


def _article_of(quantity: str) -> str:
    return allowed_examples(quantity).split(" such as ")[0]


def _require_in_range(typed: TypedQuantity, declared: Declared, where: str, key: str) -> None:
    low, high, value = declared.least, declared.most, typed.value_si
    slack = 1e-9  # of the value: 0 degC is 273.15 K within rounding
    too_low = low is not None and value < low - slack * abs(low)
    too_high = high is not None and value > high + slack * abs(high)
    if not (too_low or too_high):
        return

    def shown(limit: float) -> str:
        return shown_in_typed_unit(limit, typed, declared.quantity)

    if low is not None and high is not None:
        allowed = f"{shown(low)} to {shown(high)}"
    else:
        allowed = f"at least {shown(low)}" if low is not None else f"at most {shown(high or 0.0)}"
    if declared.quantity == "fraction" and not typed.unit and 1.0 < value <= 100.0:
        allowed += f'; a percentage is written "{typed.text} %"'
    raise InputError(where, key, f'"{typed.text}" is too {"low" if too_low else "high"}', allowed)


def _text(raw: object, where: str, key: str) -> tuple[str, str]:
    if not isinstance(raw, str):
        raise InputError(where, key, f"{typed_text(raw)} is not a text", "a text in quotes")
    bad = next((character for character in raw if ord(character) < 32 and character not in "\n\t"), None)
    if bad is not None or len(raw) > 4000:
        raise InputError(where, key, "has control characters or more than 4,000 characters", "a readable text")
    return raw, raw


def _one_of(choices: tuple[str, ...]) -> str:
    return " or ".join(f'"{choice}"' for choice in choices)


def _choice(raw: object, choices: tuple[str, ...], where: str, key: str) -> tuple[str, str]:
    if isinstance(raw, str):
        for choice in choices:
            if raw.strip().casefold() == choice.casefold():
                return choice, raw
    problem = f"{typed_text(raw)} is not among the choices"
    near = difflib.get_close_matches(raw.casefold(), choices, n=1) if isinstance(raw, str) else []
    raise InputError(where, key, problem + (f'; did you mean "{near[0]}"?' if near else ""), _one_of(choices))


def _list(raw: object, choices: tuple[str, ...], where: str, key: str) -> tuple[tuple[str, ...], str]:
    items = [raw] if isinstance(raw, str) else raw
    if not isinstance(items, list):
        raise InputError(where, key, f"{typed_text(raw)} is not a list", f"a list of {_one_of(choices)}")
    if choices:
        values = tuple(dict.fromkeys(_choice(item, choices, where, key)[0] for item in items))
    else:
        values = tuple(_text(item, where, key)[0] for item in items)
    if "none" in values and len(values) > 1:
        raise InputError(where, key, '"none" stands together with others', f"a list of {_one_of(choices)}")
    return values, ", ".join(values)


def unknown_key(where: str, key: str, known: Iterable[str]) -> InputError:
    """The error for a key that nobody reads: names the nearest valid key, else those of its table."""
    known = list(known)
    table, _, last = key.rpartition(".")
    siblings = [name for name in known if name.rpartition(".")[0] == table]
    near = [name for name in known if name.rpartition(".")[2] == last][:3]
    near = near or _nearest(last, siblings, 0.6) or difflib.get_close_matches(key, known, n=1, cutoff=0.75)
    near = near or _nearest(last, known, 0.7)
    if near:
        return InputError(where, key, "unknown key; nearest valid key: " + " or ".join(near))
    tables = dict.fromkeys(f"[{name.rpartition('.')[0]}]" for name in known)
    return InputError(where, key, "unknown key", ", ".join(siblings) if siblings else "tables " + ", ".join(tables))


def _nearest(last: str, known: list[str], cutoff: float) -> list[str]:
    by_last = {name.rpartition(".")[2]: name for name in known}
    return [by_last[name] for name in difflib.get_close_matches(last, by_last, n=1, cutoff=cutoff)]


def flattened(tables: Mapping[str, Any], known: Iterable[str], where: str) -> dict[str, object]:
    """Nested tables as dotted keys; refuses values where tables belong, and the other way round."""
    known = dict.fromkeys(known)
    groups = {key[:end] for key in known for end, character in enumerate(key) if character == "."}
    flat: dict[str, object] = {}
    _flatten(tables, "", known, groups, where, flat)
    return flat


def _flatten(
    table: Mapping[str, Any], prefix: str, known: dict[str, None], groups: set[str], where: str, flat: dict[str, object]
) -> None:
    for name, raw in table.items():
        key = prefix + name
        if key in groups:
            if isinstance(raw, list) and raw and isinstance(raw[0], dict):
                raise InputError(where, key, "is written as a list of tables", f"one table [{key}]")
            if not isinstance(raw, dict):
                raise InputError(where, key, f"{typed_text(raw)} stands where a table belongs", f"a table [{key}]")
            _flatten(raw, key + ".", known, groups, where, flat)
        elif key in known:
            flat[key] = raw
        elif isinstance(raw, dict) and raw:
            raise unknown_key(where, f"{key}.{next(iter(raw))}", known)
        else:
            raise unknown_key(where, key, known)
