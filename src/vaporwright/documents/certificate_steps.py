"""The appendix of a certificate: every step with what was read, what was expected and what was decided.

Numbers and words stand one by one, and so does a yes or no that was not as it ought to be; those that were are counted.
The record has each of them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from vaporwright.acceptance.record.certificate import Certificate, ReadingResult, StepResult
from vaporwright.acceptance.steps.outcomes import ACCEPTED, NOT_RUN, PASSES
from vaporwright.acceptance.steps.procedure import YES_OR_NO
from vaporwright.display_units import QUANTITIES
from vaporwright.documents.measured_words import expected_text, moment_text, reading_text, times_text
from vaporwright.documents.printed import plain
from vaporwright.documents.wording import notice_text


def step_groups(certificate: Certificate, system: str) -> list[dict[str, Any]]:
    """Sections with their steps and the steps' readings."""
    return [
        {
            "title": f"{place}   {plain(section.title)}",
            "steps": [_step(f"{place}.{count}", step, system) for count, step in enumerate(section.steps, 1)],
        }
        for place, section in enumerate(certificate.sections, 1)
    ]


def _step(number: str, result: StepResult, system: str) -> dict[str, Any]:
    act = result.act
    done = ", ".join(entry for entry in (plain(act.by), moment_text(act.when) if act.when else "") if entry)
    point = f"{result.step.point} point" if result.step.point else ""
    if point and act.point_accepted_by:
        point = f"{point} accepted by {plain(act.point_accepted_by)}"
    readings = [one for one in result.readings if one.field.needed or one.reading is not None]
    return {
        "number": number,
        "title": plain(result.step.title),
        "done": " · ".join(entry for entry in (done, point) if entry),
        "note": plain(act.note),
        "outcome": result.outcome,
        "passes": result.outcome in PASSES,
        "seen": _seen(readings),
        "readings": [_reading(one, system) for one in readings if not _as_expected(one)],
    }


def _as_expected(one: ReadingResult) -> bool:
    """Whether nothing more is to be said of a reading than that it was seen as it ought to be."""
    return one.field.quantity == YES_OR_NO and one.reading is not None and one.verdict.outcome == ACCEPTED


def _seen(readings: Sequence[ReadingResult]) -> str:
    """Yes-or-no readings that were as expected, counted by what they were read with."""
    asked = sum(one.field.quantity == YES_OR_NO for one in readings)
    counts = Counter(_with(one) for one in readings if _as_expected(one))
    said = [f"{count} of {asked} seen as expected{f', {way}' if way else ''}" for way, count in counts.items()]
    return "; ".join(said)


def _with(one: ReadingResult) -> str:
    """Instrument, way, and the times where a reading was entered late."""
    if one.reading is None:
        return ""
    read_at, entered_at = one.verdict.read_at, one.verdict.entered_at
    late = times_text(read_at, entered_at, entered_alone="") if read_at and entered_at else ""
    return " · ".join(filter(None, (plain(one.reading.instrument), _way(one.reading.way), late)))


def _reading(one: ReadingResult, system: str) -> dict[str, Any]:
    reading, verdict = one.reading, one.verdict
    numeric = one.field.quantity in QUANTITIES
    shown = ""
    if reading is not None and numeric:
        shown = reading_text(reading.value, one.field, system, verdict.expanded_uncertainty)
    words = (
        "" if verdict.words is None or verdict.outcome in (NOT_RUN, ACCEPTED) else notice_text(verdict.words, system)
    )
    return {
        "label": plain(one.field.label),
        "numeric": numeric,
        "entered": "" if reading is None else plain(reading.entered),
        "shown": shown,
        "expected": expected_text(one.field, system),
        "with": _with(one),
        "outcome": verdict.outcome,
        "passes": verdict.outcome in PASSES,
        "words": plain(words),
    }


def _way(way: str) -> str:
    return "" if way == "typed" else {"file": "from a file", "live": "read live"}[way]
