"""Papers set by typst, offline, in the shipped font: data in, the same bytes out on every machine.

Every string is built in Python and reaches the templates as data, never as markup. No clock enters: the date in the
file is the one handed in, or none, and the file's identifier follows from its content.
"""

from __future__ import annotations

import json
import re
from functools import cache
from importlib.resources import as_file, files
from typing import Any, Final

from vaporwright.display_units import SI
from vaporwright.documents.printed import unbroken

SLASH: Final = re.compile(r"(?<=\u00a0)[^\s/]{1,6}/")
LOOK: Final = "test_look.typ"
REMEMBERED: Final = 10  # documents; measured with typst 0.15
ADVICE: Final = (
    "Gas, flame, power, hot water and moving parts hurt people: only those named beside a step do it, locked out where "
    "it says so, guards on, exits clear. Nobody enters tank or tower without a permit. This paper is no safety "
    "approval: local codes, the authority having jurisdiction and licensed people decide. Anyone may stop the test."
)


def paper_of(system: str) -> str:
    """The paper that goes with a system of units."""
    return "a4" if system == SI else "us-letter"


def typeset(template: str, data: dict[str, Any], **pictures: str) -> bytes:
    """A PDF of a template with its data and pictures (SVG); long, as papers of a test are."""
    try:
        return compiled(_template(template), {"sheet": json.dumps(_held(unbroken(data)), sort_keys=True), **pictures})
    finally:
        _forget()


def compiled(text: bytes, inputs: dict[str, str]) -> bytes:
    """A PDF of a template's text."""
    pdf = _compiler().compile(input=text, format="pdf", sys_inputs=inputs)
    assert isinstance(pdf, bytes)
    return pdf


def _forget() -> None:
    """Typst remembers how it laid out its last ten documents: hundreds of megabytes for a long one, held as long as a
    server runs. A few empty ones take their place.
    """
    for _ in range(REMEMBERED + 1):
        _compiler().compile(input=b"", format="pdf")


def _held(entry: Any) -> Any:
    """The same data with no line break behind the slash of a unit that follows its number."""
    if isinstance(entry, str):
        return SLASH.sub(lambda found: found.group() + "\u2060", entry)
    if isinstance(entry, dict):
        return {key: _held(value) for key, value in entry.items()}
    return [_held(value) for value in entry] if isinstance(entry, list) else entry


@cache
def _template(name: str) -> bytes:
    folder = files("vaporwright") / "documents" / "templates"
    return (folder / LOOK).read_bytes() + b"\n" + (folder / name).read_bytes()


@cache
def _compiler() -> Any:
    import typst

    with as_file(files("vaporwright") / "documents" / "fonts") as fonts:
        folders: list[Any] = [str(fonts)]
        return typst.Compiler(font_paths=folders, ignore_system_fonts=True)
