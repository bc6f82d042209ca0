"""The library of rehearsal scripts that comes with the program: every row of the table, and ordinary days."""

from __future__ import annotations

from importlib import resources

from vaporwright.controls.script import Script
from vaporwright.files.script_file import script_of
from vaporwright.files.values import parse_toml


def library_scripts() -> tuple[Script, ...]:
    """Every script of the library, by its file's name."""
    folder = resources.files("vaporwright.files").joinpath("data", "scripts")
    found = sorted((entry for entry in folder.iterdir() if entry.name.endswith(".toml")), key=lambda entry: entry.name)
    return tuple(script_of(parse_toml(entry.read_text(encoding="utf-8"), entry.name), entry.name) for entry in found)
