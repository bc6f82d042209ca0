"""In which line of a register map a fault is: of its device, its point, its key."""

from __future__ import annotations

import re
from typing import Final

from vaporwright.foundation.errors import InputError

_PART: Final = re.compile(r"(modbus|opcua|point) (\d+)")
_HEAD: Final = re.compile(r"\s*\[\[?\s*([\w.]+)\s*\]\]?")


def with_line(error: InputError, text: str) -> InputError:
    """The same error with the line added to its place, where it can be told."""
    line = _line(error.key, text.splitlines())
    return error if line is None else InputError(f"{error.where}, line {line}", error.key, error.problem, error.allowed)


def _line(key: str, lines: list[str]) -> int | None:
    label, _, name = key.rpartition(": ")
    begin, end = 0, len(lines)
    head = ""
    for part in label.split(", ") if label else []:
        found = _PART.fullmatch(part)
        if found is None:
            return None
        head = f"{head}.{found[1]}" if head else found[1]
        places = [place for place in range(begin, end) if _heads(lines[place], head)]
        if len(places) < int(found[2]):
            return None  # written in another of the ways in which TOML can say it
        begin = places[int(found[2]) - 1]
        end = next((place for place in range(begin + 1, end) if _ends(lines[place], head)), end)
    own_end = next((place for place in range(begin + 1, end) if _HEAD.match(lines[place])), end)
    begin_of_key = begin + 1 if label else 0
    typed = re.compile(rf"""\s*["']?{re.escape(name)}["']?\s*=""")
    of_key = next((place for place in range(begin_of_key, own_end) if typed.match(lines[place])), None)
    if of_key is not None:
        return of_key + 1
    return begin + 1 if label else None


def _heads(line: str, name: str) -> bool:
    found = _HEAD.match(line)
    return found is not None and found[1] == name


def _ends(line: str, name: str) -> bool:
    """Whether a line begins a table that is no part of the one of that name."""
    found = _HEAD.match(line)
    return found is not None and not found[1].startswith(f"{name}.")
