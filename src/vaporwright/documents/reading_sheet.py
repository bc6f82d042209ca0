"""Reading sheets: one line for each reading of a procedure, and the log of its performance run, to fill by hand.

Two columns a page. A step's key heads its lines and each line ends in its field's, as they are typed in afterwards;
the log's columns carry the names of its channels: what the readings file knows. Units are printed in every box; keys
keep their SI suffix whatever they are.
"""

from __future__ import annotations

from string import ascii_uppercase
from typing import Any, Final

from vaporwright.acceptance.run.log import Channel, channels_for
from vaporwright.acceptance.steps.procedure import TEXT, YES_OR_NO, Procedure, ReadingField, Step
from vaporwright.acceptance.steps.walk import parts_of
from vaporwright.documents.measured_words import clock, expected_text, limits_text, paper_quantity, unit_of
from vaporwright.documents.printed import cut, plain
from vaporwright.documents.procedure_paper import LONGEST_TITLE, TITLES, numbered, running_marks
from vaporwright.documents.typeset import ADVICE, paper_of, typeset
from vaporwright.files.log_columns import stem

LOG_HOURS: Final = 4
LOG_EVERY_min: Final = 15
LOG_ROW_pt: Final = 12.5
HOW: Final = (
    "Write the number in the unit printed in the box, as the instrument shows it. Another unit: write it down too.",
    "Strike out, never erase; initial a correction. An instrument's number is the one it was registered with today.",
    "Type in step (in the shaded line), field (the grey word), value, unit, instrument. A field keeps its name "
    "whatever unit you write.",
    "Of yes and no the heavier one is expected.",
)
LOG_HOW: Final = (
    "Every 15 min, pump and blower running, refill and drain isolated. Totals as the scale or meter stands, not the "
    "difference. What was not read stays empty. Where the tool says that a balance does not close: void, stop. "
    "In a file each column has its name, as below, and its unit: tank_temperature (degF)."
)


def reading_sheet_pdf(procedure: Procedure, system: str, *, run: str = "", revision: str = "") -> bytes:
    """The sheets as PDF, US letter or A4 (SI); the same procedure gives the same bytes. run, revision: as there."""
    return typeset("reading_sheet.typ", reading_sheet_data(procedure, system, run, revision))


def reading_sheet_data(procedure: Procedure, system: str, run: str = "", revision: str = "") -> dict[str, Any]:
    """Every string of the sheets, in the units of `system`."""
    lines = sum(len(step.fields) for step in procedure.steps)
    return {
        "paper": paper_of(system),
        "created": None,
        "title": TITLES[procedure.variant].replace("procedure", "reading sheets"),
        "marks": running_marks(procedure, run, revision),
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
        entry = found.setdefault(section.key, {"title": title, "steps": []})
        if step.fields:
            entry["steps"].append(_step(number, step, system))
    return [entry for entry in found.values() if entry["steps"]]


def _step(number: str, step: Step, system: str) -> dict[str, Any]:
    """The readings of a step, look by look as the procedure has them."""
    return {
        "number": number,
        "key": step.key,
        "title": plain(step.title),
        "point": step.point,
        "lines": [
            _line(one, part.when if place == 0 else "", part.when, system)
            for part in parts_of(step)
            for place, one in enumerate(part.fields)
        ],
    }


def _line(one: ReadingField, said: str, when: str, system: str) -> dict[str, Any]:
    return {
        "when": plain(said),
        "label": plain(one.label.removeprefix(f"{when}: ") if when else one.label),
        "key": one.key,
        "expected": expected_text(one, system),
        "kind": one.quantity if one.quantity in (YES_OR_NO, TEXT) else "",
        "unit": unit_of(paper_quantity(one.quantity, one.instrument), system).text,
        "instrument": bool(one.instrument),
        "optional": not one.needed,
    }


def log_data(heat: str, system: str) -> dict[str, Any]:
    """The log of the performance run: its times and the channels of that kind of heat."""
    return {
        "title": f"Log of the performance run, {LOG_HOURS} h",
        "how": LOG_HOW,
        "times": [clock(minutes) for minutes in range(0, LOG_HOURS * 60 + 1, LOG_EVERY_min)],
        "row_pt": LOG_ROW_pt,
        "channels": [
            _channel(letter, channel, system)
            for letter, channel in zip(ascii_uppercase, channels_for(heat), strict=False)
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
