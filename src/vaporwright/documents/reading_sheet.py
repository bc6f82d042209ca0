"""Reading sheets: one line for each reading of a procedure, and the log of its performance run, to fill by hand.

Step and field stand on every line as they are typed in afterwards, and the log's columns carry the names of its
channels: what the readings file knows. Units are printed beside every box; keys keep their SI suffix whatever they are.
"""

from __future__ import annotations

from string import ascii_uppercase
from typing import Any, Final

from vaporwright.acceptance.run.log import CHANNELS, Channel
from vaporwright.acceptance.steps.procedure import TEXT, YES_OR_NO, Procedure, ReadingField
from vaporwright.documents.measured_words import clock, expected_text, limits_text, paper_quantity, unit_of
from vaporwright.documents.printed import cut, plain
from vaporwright.documents.procedure_paper import LONGEST_TITLE, TITLES, numbered
from vaporwright.documents.typeset import ADVICE, paper_of, typeset
from vaporwright.files.log_columns import stem

LOG_HOURS: Final = 4
LOG_EVERY_min: Final = 15
LOG_ROW_pt: Final = 12.5
HOW: Final = (
    "Write the number in the unit printed in the box, as the instrument shows it. Another unit: write it down too.",
    "Strike out, never erase; initial a correction. An instrument's number is the one it was registered with today.",
    "Type in step, field, value, unit, instrument. A field keeps its name whatever unit you write.",
)
LOG_HOW: Final = (
    "Every 15 min, pump and blower running, refill and drain isolated. Totals as the scale or meter stands, not the "
    "difference. What was not read stays empty. Where the tool says that a balance does not close: void, stop. "
    "In a file each column has its name, as below, and its unit: tank_temperature (degF)."
)


def reading_sheet_pdf(procedure: Procedure, system: str) -> bytes:
    """The sheets as PDF, US letter or A4 (SI); the same procedure gives the same bytes."""
    return typeset("reading_sheet.typ", reading_sheet_data(procedure, system))


def reading_sheet_data(procedure: Procedure, system: str) -> dict[str, Any]:
    """Every string of the sheets, in the units of `system`."""
    lines = sum(len(step.fields) for step in procedure.steps)
    return {
        "paper": paper_of(system),
        "created": None,
        "title": TITLES[procedure.variant].replace("procedure", "reading sheet"),
        "foot": "The record is what was typed in; keep this sheet with it.",
        "job": cut(plain(procedure.job), LONGEST_TITLE),
        "customer": cut(plain(procedure.customer), LONGEST_TITLE),
        "sentence": f"{lines} readings of {sum(bool(step.fields) for step in procedure.steps)} steps.",
        "how": list(HOW),
        "advice": ADVICE,
        "sections": _sections(procedure, system),
        "log": None if procedure.variant == "cold" else log_data(procedure.heat, system),
    }


def _sections(procedure: Procedure, system: str) -> list[dict[str, Any]]:
    found: dict[str, dict[str, Any]] = {}
    for section, number, step in numbered(procedure):
        title = f"{number.split('.')[0]}   {plain(section.title)}"
        entry = found.setdefault(section.key, {"title": title, "lines": []})
        entry["lines"] += [
            _line(one, number, step.key, system, first=place == 0) for place, one in enumerate(step.fields)
        ]
    return [entry for entry in found.values() if entry["lines"]]


def _line(one: ReadingField, number: str, step: str, system: str, *, first: bool) -> dict[str, Any]:
    return {
        "number": number,
        "first": first,
        "label": plain(one.label),
        "key": f"{step}\u2002{one.key}",
        "expected": expected_text(one, system),
        "kind": one.quantity if one.quantity in (YES_OR_NO, TEXT) else "",
        "unit": unit_of(paper_quantity(one.quantity, one.instrument), system).text,
        "instrument": bool(one.instrument),
        "optional": not one.needed,
    }


def log_data(heat: str, system: str) -> dict[str, Any]:
    """The log of the performance run: its times and the channels of that kind of heat."""
    channels = [channel for channel in CHANNELS if channel.only_for in ("", heat)]
    return {
        "title": f"Log of the performance run, {LOG_HOURS} h",
        "how": LOG_HOW,
        "times": [clock(minutes) for minutes in range(0, LOG_HOURS * 60 + 1, LOG_EVERY_min)],
        "row_pt": LOG_ROW_pt,
        "channels": [
            _channel(letter, channel, system) for letter, channel in zip(ascii_uppercase, channels, strict=False)
        ],
    }


def _channel(letter: str, channel: Channel, system: str) -> dict[str, str]:
    return {
        "letter": letter,
        "label": channel.label,
        "unit": unit_of(paper_quantity(channel.quantity, channel.instrument), system).text,
        "key": stem(channel.name),
        "instrument": channel.instrument,
        "range": "" if channel.total else limits_text(channel.low, channel.high, channel.quantity, system),
    }
