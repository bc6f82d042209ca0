"""A diagnosis in the terminal: the first split as a sentence, the likeliest causes, what to read next."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from vaporwright.acceptance.diagnosis.diagnosis import Diagnosis, Suspect
from vaporwright.actions.diagnose_job import DiagnosedJob
from vaporwright.display_units import show

WIDTH = 80
LEAST_SHOWN = 0.02  # probability of a cause that is worth a line
BAR = 20


def diagnosis_text(diagnosed: DiagnosedJob, system: str) -> str:
    """The report of a diagnosis."""
    found = diagnosed.diagnosis
    blocks = [
        f"{diagnosed.answer.job.text('job.name')}: diagnosis from readings\n{'-' * WIDTH}",
        textwrap.fill(_sentence(found, system), WIDTH),
        "\n".join(_causes(found, system)),
    ]
    if not found.explained:
        text = "No single cause makes these readings: more than one may be at work, or a reading is wrong. Check the"
        blocks.append(textwrap.fill(f"{text} instruments first, then the causes above one by one.", WIDTH))
    blocks.append("\n".join(_next(found, system)))
    blocks.append("\n".join(_readings(diagnosed, system)))
    caution = (
        "Probabilities weigh the causes under the unit's model; they replace no look at the unit. Fuel, flame and live"
        " parts are for qualified people, locked out first."
    )
    blocks.append(textwrap.fill(caution, WIDTH))
    return "\n\n".join(block for block in blocks if block)


def _sentence(found: Diagnosis, system: str) -> str:
    likeliest = found.suspects[0]
    text = found.split.words(lambda value, quantity: show(value, quantity, system))
    if likeliest.cause is None:
        return f"{text} Nothing is likely to be wrong ({likeliest.probability:.0%})."
    return f"{text} Likeliest: {likeliest.title} ({likeliest.probability:.0%})."


def _causes(found: Diagnosis, system: str) -> Iterator[str]:
    yield "Causes, by how likely they make the readings"
    for suspect in found.suspects:
        if suspect.probability < LEAST_SHOWN:
            continue
        bar = "#" * round(BAR * suspect.probability)
        title = suspect.title + _severity(suspect, system)
        yield from textwrap.wrap(
            f"{suspect.probability:>4.0%} {bar:<{BAR}} {title}", WIDTH, initial_indent="  ", subsequent_indent=" " * 28
        )
        if suspect.cause is not None and suspect.probability >= 0.1:
            for words in (f"look at: {suspect.cause.look}", f"careful: {suspect.cause.caution}"):
                yield from textwrap.wrap(words, WIDTH, initial_indent=" " * 7, subsequent_indent=" " * 9)


def _severity(suspect: Suspect, system: str) -> str:
    if suspect.cause is None or suspect.severity is None:
        return ""
    return (
        f", about {show(suspect.severity, suspect.cause.severity_quantity, system, 2)} {suspect.cause.severity_label}"
    )


def _next(found: Diagnosis, system: str) -> Iterator[str]:
    if found.next_reading is None:
        yield textwrap.fill("No further reading would tell the two likeliest apart; look at the unit.", WIDTH)
        return
    reading = found.next_reading
    quantity = reading.kind.quantity
    text = (
        f"Read next: {reading.kind.label}. About {show(reading.first, quantity, system)} would speak for"
        f' "{found.suspects[0].title}", {show(reading.second, quantity, system)} for "{found.suspects[1].title}".'
    )
    yield textwrap.fill(text, WIDTH)


def _readings(diagnosed: DiagnosedJob, system: str) -> Iterator[str]:
    from vaporwright.acceptance.diagnosis.diagnosis import KINDS

    found = diagnosed.diagnosis
    yield f"  {'reading':<34}{'read':>14}{'predicted':>14}{'likeliest':>14}"
    for kind in KINDS:
        if kind.name not in found.used or kind.name not in found.predicted:
            continue
        measured = getattr(diagnosed.readings, kind.name)
        values = (measured.value, found.predicted[kind.name], found.suspects[0].predicted[kind.name])
        shown = "".join(f"{show(value, kind.quantity, system):>14}" for value in values)
        yield f"  {kind.label:<34}{shown}"
