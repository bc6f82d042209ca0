"""The appendix of a certificate: every step with what was read, what was expected and what was decided."""

from __future__ import annotations

from typing import Any

from vaporwright.acceptance.record.certificate import Certificate, ReadingResult, StepResult
from vaporwright.acceptance.steps.outcomes import NOT_RUN, PASSES
from vaporwright.display_units import QUANTITIES
from vaporwright.documents.measured_words import expected_text, moment_text, reading_text
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
    return {
        "number": number,
        "title": plain(result.step.title),
        "done": " · ".join(entry for entry in (done, point) if entry),
        "note": plain(act.note),
        "outcome": result.outcome,
        "passes": result.outcome in PASSES,
        "readings": [_reading(one, system) for one in result.readings if one.field.needed or one.reading is not None],
    }


def _reading(one: ReadingResult, system: str) -> dict[str, Any]:
    reading, verdict = one.reading, one.verdict
    numeric = one.field.quantity in QUANTITIES
    shown = ""
    if reading is not None and numeric:
        shown = reading_text(reading.value, one.field, system, verdict.expanded_uncertainty)
    words = (
        "" if verdict.words is None or verdict.outcome in (NOT_RUN, "accepted") else notice_text(verdict.words, system)
    )
    return {
        "label": plain(one.field.label),
        "numeric": numeric,
        "entered": "" if reading is None else plain(reading.entered),
        "shown": shown,
        "expected": expected_text(one.field, system),
        "with": "" if reading is None else " · ".join(filter(None, (plain(reading.instrument), _way(reading.way)))),
        "outcome": verdict.outcome,
        "passes": verdict.outcome in PASSES,
        "words": plain(words),
    }


def _way(way: str) -> str:
    return "" if way == "typed" else {"file": "from a file", "live": "read live"}[way]
