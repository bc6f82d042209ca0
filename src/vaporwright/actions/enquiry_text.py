"""The text of a job file with some values changed: lines that carry them are rewritten, all others stay as they are.

So an engineer's comments outlive a form. What was edited by line is read back; where it would not say what was meant
(keys written in ways that lines do not show), the file is written anew, and says so in its first line.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from functools import cache
from typing import Any, Final

from vaporwright.files.job_file import ACCEPTED_KEY, CATALOGUE_KEY, TABLE_KEY, started_job_text
from vaporwright.files.quantities import NUMBER_QUANTITIES
from vaporwright.files.values import flattened, parse_toml
from vaporwright.foundation.errors import InputError
from vaporwright.unit.fields import FIELDS_BY_KEY

Typed = str | tuple[str, ...]  # as a form has it; empty takes the key out
WHERE: Final = "enquiry"
MOST_LINES: Final = 400  # of one value
_HEADER = re.compile(r"^\s*\[\s*([A-Za-z0-9_.\-]+)\s*\]\s*(?:#.*)?$")
_PLAIN_NUMBER = re.compile(r"[+-]?(0|[1-9][0-9]*)(\.[0-9]+)?")
_BARE = re.compile(r"[A-Za-z0-9_\-]+")


def raw_values(text: str, where: str = WHERE) -> dict[str, object]:
    """The values of a job file by key, as TOML has them; without the files that it names.

    Raises: InputError as reading the file would.
    """
    tables = parse_toml(text, where)
    for key in (CATALOGUE_KEY, TABLE_KEY, ACCEPTED_KEY):
        tables.pop(key, None)
    return flattened(tables, FIELDS_BY_KEY, where)


def raw_of(key: str, typed: Typed) -> object:
    """What was typed for a key, as TOML would have it."""
    if isinstance(typed, tuple):
        return list(typed)
    if FIELDS_BY_KEY[key].quantity in NUMBER_QUANTITIES and _PLAIN_NUMBER.fullmatch(typed):
        return float(typed) if "." in typed else int(typed)
    return typed


def edited_text(text: str, changes: Mapping[str, Typed]) -> str:
    """A job file's text with other values for some of its keys.

    Raises: InputError where a value cannot be written as text at all.
    """
    wanted = raw_values(text)
    for key, typed in changes.items():
        wanted.pop(key, None)
        if typed:
            wanted[key] = raw_of(key, typed)
    lines = text.split("\n")
    for key, typed in changes.items():
        lines = _set(lines, key, _literal(key, typed)) if typed else _taken_out(lines, key)
    edited = "\n".join(lines)
    try:
        if raw_values(edited) == wanted and _others(edited) == _others(text):
            return edited
    except InputError:
        pass  # a line was taken for what it is not
    return _written_anew(text, wanted)


def _others(text: str) -> dict[str, Any]:
    tables = tomllib.loads(text)
    return {key: tables[key] for key in (CATALOGUE_KEY, TABLE_KEY, ACCEPTED_KEY) if key in tables}


def _literal(key: str, typed: Typed) -> str:
    raw = raw_of(key, typed)
    if isinstance(raw, list):
        return "[" + ", ".join(quoted(item, key) for item in raw) + "]"
    return quoted(raw, key) if isinstance(raw, str) else str(typed)


def quoted(value: str, key: str) -> str:
    """A text as TOML writes it in one line.

    Raises: InputError for what is no text.
    """
    plain = value.replace("\\", "\\\\").replace('"', '\\"')
    made = f'"{"".join(one if one.isprintable() else _escaped(one) for one in plain)}"'
    try:
        if tomllib.loads(f"value = {made}")["value"] == value:
            return made
    except (tomllib.TOMLDecodeError, UnicodeError):
        pass
    raise InputError(WHERE, key, "has characters that are no text", "a readable text")


def _escaped(one: str) -> str:
    short = {"\n": "\\n", "\t": "\\t"}.get(one)
    if short:
        return short
    return f"\\u{ord(one):04X}" if ord(one) <= 0xFFFF else f"\\U{ord(one):08X}"


def _set(lines: list[str], key: str, literal: str) -> list[str]:
    table, _, name = key.rpartition(".")
    span = _table_span(lines, table)
    if span is None:
        gap = [""] if lines and lines[-1] == "" else ["", ""]
        return [*lines, *gap[1:], f"[{table}]", f"{name} = {literal}", ""]
    start, end = span
    place = _place_of(lines, name, start, end)
    if place is not None:
        first, last = place
        remark = _remark(lines[first:last])
        return [*lines[:first], f"{name} = {literal}{remark}", *lines[last:]]
    for number in range(start, end):
        if lines[number].removeprefix("#").lstrip().startswith(f"{name} = ") and lines[number].startswith("#"):
            return [*lines[:number], f"{name} = {literal}", *lines[number + 1 :]]
    while end > start and not lines[end - 1].strip():
        end -= 1
    return [*lines[:end], f"{name} = {literal}", *lines[end:]]


def _taken_out(lines: list[str], key: str) -> list[str]:
    """The line of a key becomes what a started file has there: a comment with the value that holds without it."""
    table, _, name = key.rpartition(".")
    span = _table_span(lines, table)
    place = None if span is None else _place_of(lines, name, *span)
    if place is None:
        return lines
    first, last = place
    comment = _started_comments().get(key)
    left = [comment] if comment else []
    return [*lines[:first], *left, *lines[last:]]


def _table_span(lines: list[str], table: str) -> tuple[int, int] | None:
    """From the line behind a table's header to its end."""
    start = None
    for number, line in enumerate(lines):
        found = _HEADER.match(line)
        if found is None:
            continue
        if start is not None:
            return start, _without_heading(lines, start, number)
        if found[1].replace(" ", "") == table:
            start = number + 1
    return None if start is None else (start, len(lines))


def _without_heading(lines: list[str], start: int, end: int) -> int:
    """Comments right above the next header belong to that table."""
    place = end
    while place > start and lines[place - 1].startswith("#") and " = " not in lines[place - 1]:
        place -= 1
    return place if place == start or not lines[place - 1].strip() else end


def _place_of(lines: list[str], name: str, start: int, end: int) -> tuple[int, int] | None:
    """The lines that hold a key and its value: the first, and the one behind the last."""
    begins = re.compile(rf"^\s*\"?{re.escape(name)}\"?\s*=")
    for first in range(start, end):
        if not begins.match(lines[first]):
            continue
        for last in range(first + 1, min(first + MOST_LINES, end) + 1):
            if _reads("\n".join(lines[first:last])):
                return first, last
    return None


def _remark(lines: list[str]) -> str:
    """The comment behind a value, with the blanks before it."""
    last = lines[-1]
    whole = "\n".join(lines)
    for place in (number for number, one in enumerate(last) if one == "#"):
        before = "\n".join([*lines[:-1], last[:place]])
        if _reads(before) and tomllib.loads(before) == tomllib.loads(whole):
            blanks = len(last[:place]) - len(last[:place].rstrip())
            return " " * max(blanks, 1) + last[place:]
    return ""


def _reads(text: str) -> bool:
    try:
        tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError):
        return False
    return True


@cache
def _started_comments() -> dict[str, str]:
    """The commented lines of a started job file by key."""
    found, table = {}, ""
    for line in started_job_text().split("\n"):
        header = _HEADER.match(line)
        if header is not None:
            table = header[1]
        name, sign, _ = line.removeprefix("# ").partition(" = ")
        if sign and line.startswith("# ") and f"{table}.{name}" in FIELDS_BY_KEY:
            found[f"{table}.{name}"] = line
    return found


def _written_anew(text: str, wanted: Mapping[str, object]) -> str:
    """A whole job file, for texts that cannot be edited by line."""
    lines = ["# Written anew by a form: the lines before could not be edited one by one; see the revision before."]
    others = _others(text)
    for key in (CATALOGUE_KEY, TABLE_KEY):
        if key in others:
            lines.append(f"{key} = {quoted(str(others[key]), key)}")
    tables: dict[str, list[str]] = {}
    for key in FIELDS_BY_KEY:
        if key in wanted:
            table, _, name = key.rpartition(".")
            tables.setdefault(table, []).append(f"{name} = {_raw_literal(wanted[key], key)}")
    for table, entries in tables.items():
        lines += ["", f"[{table}]", *entries]
    if others.get(ACCEPTED_KEY):
        lines += ["", f"[{ACCEPTED_KEY}]"]
        for name, reason in others[ACCEPTED_KEY].items():
            shown = name if _BARE.fullmatch(name) else quoted(name, ACCEPTED_KEY)
            lines.append(f"{shown} = {quoted(str(reason), ACCEPTED_KEY)}")
    return "\n".join(lines) + "\n"


def _raw_literal(raw: object, key: str) -> str:
    if isinstance(raw, bool):
        return "true" if raw else "false"
    if isinstance(raw, list):
        return "[" + ", ".join(quoted(str(item), key) for item in raw) + "]"
    return quoted(raw, key) if isinstance(raw, str) else str(raw)
