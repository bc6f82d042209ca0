"""A refined transfer law written into a copy of the shop's catalogue; every other line stays as it was."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from vaporwright.files.catalogue_file import read_catalogue_file
from vaporwright.files.new_file import write_new
from vaporwright.foundation.errors import InputError

_TABLE = re.compile(r"^\s*\[")
_TOWER = re.compile(r"^\s*\[\[\s*tower\s*\]\]")
_FILL = re.compile(r"^\s*\[\s*tower\s*\.\s*fill\s*\]")
_KEY = re.compile(r"^(\s*(merkel_coefficient|merkel_exponent)\s*=\s*)([^#\n]*?)(\s*(?:#.*)?)$")


def write_refined_catalogue(
    source: Path, target: Path, tower_id: str, coefficient: float, exponent: float, note: str
) -> Path:
    """Copy a catalogue with a tower's merkel_coefficient and merkel_exponent replaced.

    Args: note: one line that says where the new law comes from; goes into the file as a comment.
    Raises: InputError where the tower or its keys are not found as lines of their own, the target exists, or the copy
        would not read back as meant.
    """
    text = source.read_text(encoding="utf-8")
    number = _number_of(text, tower_id, source)
    edited = _edited(text, number, {"merkel_coefficient": coefficient, "merkel_exponent": exponent}, note, source)
    written = write_new(target, edited)
    fill = read_catalogue_file(written).towers[tower_id].fill
    before = read_catalogue_file(source).towers
    others = all(read_catalogue_file(written).towers[name] == before[name] for name in before if name != tower_id)
    if (fill.merkel_coefficient, fill.merkel_exponent) != (float(f"{coefficient:.4g}"), float(f"{exponent:.4g}")):
        written.unlink()
        raise InputError(str(source), f"tower {tower_id}: fill", "is written in a way that cannot be edited by line")
    assert others, "a line of another tower was edited"
    return written


def _number_of(text: str, tower_id: str, source: Path) -> int:
    towers = tomllib.loads(text).get("tower", [])
    ids = [str(tower.get("id")) for tower in towers]
    if tower_id not in ids:
        raise InputError(str(source), "tower", f"{tower_id!r} is no tower of this catalogue", ", ".join(ids))
    return ids.index(tower_id)


def _edited(text: str, number: int, values: dict[str, float], note: str, source: Path) -> str:
    lines, tower, in_fill, left = [], -1, False, dict(values)
    for line in text.split("\n"):
        if _TABLE.match(line):
            tower += bool(_TOWER.match(line))
            in_fill = bool(_FILL.match(line)) and tower == number
            lines.append(line)
            if in_fill:
                lines.append(f"# {note}")
            continue
        found = _KEY.match(line) if in_fill else None
        if found is not None and found[2] in left:
            lines.append(f"{found[1]}{left.pop(found[2]):.4g}{found[4]}")
        else:
            lines.append(line)
    if left:
        allowed = "lines of their own under [tower.fill]"
        raise InputError(str(source), f"tower {number + 1}", f"has no line for {' and '.join(left)}", allowed)
    return "\n".join(lines)
