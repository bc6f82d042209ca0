"""Judging what was read: a reading against its field, and a step by the worst of its fields.

Nothing that a person, a file or a wire may deliver as a reading raises here, and nothing but a reading of the right
kind, taken with the right instrument in its calibration, within its limits, passes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from vaporwright.acceptance.steps.decisions import Decision, decide
from vaporwright.acceptance.steps.instruments import (
    ABSOLUTE_ONLY,
    KINDS,
    Instrument,
    is_iso_date,
    is_number,
    standard_uncertainty,
    usable_on,
)
from vaporwright.acceptance.steps.outcomes import (
    ACCEPTED,
    IN_GUARD_BAND,
    NOT_ACCEPTED,
    NOT_RUN,
    TEST_ERROR,
    UNDECIDED,
    Outcome,
    worst,
)
from vaporwright.acceptance.steps.procedure import TEXT, YES_OR_NO, Limits, ReadingField, Step
from vaporwright.acceptance.steps.readings import Reading
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.notice import Notice

LONGEST_SHOWN: Final = 40  # characters of what was entered
DIFFERENCE_OF: Final = {"temperature": "temperature difference"}  # in which an uncertainty is shown


@dataclass(frozen=True)
class Judged:
    """What a reading is worth, and why; probability that the true value keeps its limits, where there is one."""

    outcome: Outcome
    words: Notice
    probability: float | None = None


@dataclass(frozen=True)
class StepVerdict:
    """A step's outcome, the worst of its fields, with the words of the field that decides it."""

    outcome: Outcome
    words: Notice
    fields: Mapping[str, Judged]


def judge_step(
    step: Step, readings: Mapping[str, Reading], instruments: Mapping[str, Instrument], iso_date: str
) -> StepVerdict:
    """Judge every field of a step.

    A needed field without a reading was not run; one that is not needed is left out. A step without any reading was
    not run. A reading for a field that the step does not have is an error of the test itself.

    Args: readings: by field key. instruments: by id. iso_date: the day of the test, YYYY-MM-DD.
    Raises: InputError for a day that is none.
    """
    _require_day(iso_date)
    fields: dict[str, Judged] = {}
    labels = {field.key: field.label for field in step.fields}
    for field in step.fields:
        reading = readings.get(field.key)
        if reading is not None:
            instrument = instruments.get(reading.instrument)
            fields[field.key] = _judged_in(step, field, reading, instrument, iso_date)
        elif field.needed:
            fields[field.key] = Judged(NOT_RUN, Notice(NOT_RUN, "not read yet"))
    for key in readings:
        if key not in labels:
            fields[key] = _error("the step has no such field: enter it where it belongs")
    outcome = worst(judged.outcome for judged in fields.values())
    decisive = next((key for key, judged in fields.items() if judged.outcome == outcome), None)
    if decisive is None:
        return StepVerdict(NOT_RUN, Notice(NOT_RUN, "nothing was read"), fields)
    if outcome == ACCEPTED:
        return StepVerdict(outcome, Notice(outcome, "every reading is accepted"), fields)
    words = fields[decisive].words
    label = labels.get(decisive, decisive)
    return StepVerdict(outcome, Notice(outcome, f"{_plain(label)}: {words.text}", words.figures), fields)


def _judged_in(
    step: Step, field: ReadingField, reading: Reading, instrument: Instrument | None, iso_date: str
) -> Judged:
    if reading.step != step.key:
        return _error(f"the reading belongs to step {_plain(_cut(reading.step))}: read it again in this one")
    return judge_reading(field, reading, instrument, iso_date)


def judge_reading(field: ReadingField, reading: Reading, instrument: Instrument | None, iso_date: str) -> Judged:
    """Judge one reading by the field that it was taken for, with the instrument that it was taken with.

    Args: instrument: the registered one with the reading's id; None where it is not registered, or read by eye.
    Raises: InputError for a day that is none.
    """
    _require_day(iso_date)
    if reading.field != field.key:
        return _error(f"the reading belongs to {_plain(_cut(reading.field))}: enter it where it belongs")
    problem = _instrument_problem(field, reading, instrument) or (usable_on(instrument, iso_date) if instrument else "")
    if problem:
        return _error(_plain(problem))
    if field.quantity == TEXT:
        return _judge_text(field, reading)
    if field.quantity == YES_OR_NO:
        return _judge_contact(field, reading)
    return _judge_number(field, reading, instrument, iso_date)


def _instrument_problem(field: ReadingField, reading: Reading, instrument: Instrument | None) -> str:
    named = _cut(reading.instrument)
    if instrument is None and named:
        return f"instrument {named} is not registered: register it, then read again"
    if instrument is None:
        missing = f"taken without a registered {field.instrument}: register one, then read again"
        return missing if field.instrument else ""
    if reading.instrument != instrument.id:
        return f"taken with {named or 'no instrument'}, not with {instrument.id}: pick the one that was used"
    if field.instrument and instrument.kind != field.instrument:
        return f"taken with a {instrument.kind}; this needs a {field.instrument}"
    return ""


def _judge_text(field: ReadingField, reading: Reading) -> Judged:
    if not isinstance(reading.value, str):
        return _error(f"{_shown(reading)} is no text: enter it again")
    if not reading.value.strip():
        return _error("nothing was entered: enter it again")
    if field.expected is None or reading.value.strip() == field.expected:
        return Judged(ACCEPTED, Notice(ACCEPTED, "entered"))
    return Judged(ACCEPTED, Notice(ACCEPTED, f"entered; {_plain(str(field.expected))} was expected"))


def _judge_contact(field: ReadingField, reading: Reading) -> Judged:
    if not isinstance(reading.value, bool):
        return _error(f"{_shown(reading)} is neither yes nor no: enter it again")
    said = _word(reading.value)
    if field.expected is None:
        return Judged(ACCEPTED, Notice(ACCEPTED, f"{said}, recorded"))
    if not isinstance(field.expected, bool):
        return _error("the step does not say whether yes or no is right: have the procedure corrected")
    if reading.value == field.expected:
        return Judged(ACCEPTED, Notice(ACCEPTED, f"{said}, as it must be"))
    return Judged(NOT_ACCEPTED, Notice(NOT_ACCEPTED, f"{said}; it must be {_word(field.expected)}"))


def _judge_number(field: ReadingField, reading: Reading, instrument: Instrument | None, iso_date: str) -> Judged:
    if not is_number(reading.value):
        return _error(f"{_shown(reading)} is no number: read it again")
    value = float(reading.value)
    deviation = 0.0
    if instrument is not None:
        problem = _unit_problem(field, instrument)
        # a range of temperatures says nothing of a difference between two
        if not problem and _reads(field, instrument) and field.quantity not in DIFFERENCE_OF.values():
            problem = usable_on(instrument, iso_date, value)
        if problem:
            figures = ((value, field.quantity),)
            return Judged(TEST_ERROR, Notice(TEST_ERROR, "{0}: " + _plain(problem), figures))
        deviation = standard_uncertainty(instrument, value)
    expected = field.expected if is_number(field.expected) else None
    decision = decide(value, deviation, field.limits, expected=expected)
    return Judged(decision.outcome, _words(field, value, decision), decision.conformity_probability)


def _reads(field: ReadingField, instrument: Instrument) -> bool:
    kind = KINDS[instrument.kind]
    return field.quantity == kind.quantity or field.quantity in kind.also


def _unit_problem(field: ReadingField, instrument: Instrument) -> str:
    """Why the instrument's uncertainty says nothing of this quantity; empty where it does.

    A procedure may ask for another quantity than the kind's own (a flow from a meter and a stopwatch): then the
    certificate's share of the reading holds, but not its absolute figures.
    """
    if _reads(field, instrument):
        return ""
    quantity = KINDS[instrument.kind].quantity
    if not field.instrument or field.quantity in ABSOLUTE_ONLY or quantity == YES_OR_NO:
        return f"{instrument.id}, a {instrument.kind}, does not read this: pick the instrument that was used"
    if instrument.expanded == 0.0 and instrument.resolution == 0.0:
        return ""
    return (
        f"the certificate of {instrument.id} is about {quantity}, not {field.quantity}: "
        "register its uncertainty as a share of the reading"
    )


def _words(field: ReadingField, value: float, decision: Decision) -> Notice:
    """Value, limits, uncertainty and probability, for the edge to put into the reader's units."""
    limits = field.limits or Limits(None, None)
    figures = [(value, field.quantity)]

    def placed(figure: float, quantity: str) -> str:
        figures.append((figure, quantity))
        return f"{{{len(figures) - 1}}}"

    if decision.outcome == TEST_ERROR and decision.guard_band == 0.0:
        return Notice(decision.outcome, "{0}: " + decision.words, tuple(figures))
    text = "{0}"
    if decision.guard_band > 0.0:
        text += " ± " + placed(decision.guard_band, DIFFERENCE_OF.get(field.quantity, field.quantity))
    if limits.low is not None and limits.high is not None:
        text += f" (allowed {placed(limits.low, field.quantity)} to {placed(limits.high, field.quantity)})"
    elif limits.low is not None:
        text += f" (at least {placed(limits.low, field.quantity)})"
    elif limits.high is not None:
        text += f" (at most {placed(limits.high, field.quantity)})"
    text += f": {decision.words}"
    probability = decision.conformity_probability
    if decision.outcome in (IN_GUARD_BAND, UNDECIDED) and probability is not None:
        text += f"; it keeps them with a probability of {placed(probability, 'fraction')}"
    return Notice(decision.outcome, text, tuple(figures))


def _error(text: str) -> Judged:
    return Judged(TEST_ERROR, Notice(TEST_ERROR, text))


def _require_day(iso_date: str) -> None:
    if not is_iso_date(iso_date):
        raise InputError("day of the test", "", f"{iso_date!r}", "a day as YYYY-MM-DD")


def _word(value: bool) -> str:
    return "yes" if value else "no"


def _shown(reading: Reading) -> str:
    """What was entered."""
    return _plain(_cut(reading.entered)) or "an empty entry"


def _cut(text: str) -> str:
    return text if len(text) <= LONGEST_SHOWN else text[:LONGEST_SHOWN] + "..."


def _plain(text: str) -> str:
    """A text in which braces are braces, not places of figures."""
    return text.replace("{", "{{").replace("}", "}}")
