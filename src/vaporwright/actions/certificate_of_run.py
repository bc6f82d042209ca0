"""The certificate of a run, from its record alone."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from vaporwright.acceptance.record.certificate import (
    AsLeft,
    Certificate,
    CertificateFacts,
    Deviation,
    RecordHead,
    StepAct,
    Verdict,
    certificate_from,
)
from vaporwright.acceptance.record.events import WHOLE_TEST
from vaporwright.acceptance.record.punch_list import Mark
from vaporwright.acceptance.record.run_result import headline_of, performance_of
from vaporwright.acceptance.record.state import RunState
from vaporwright.acceptance.steps.instruments import Instrument, is_number
from vaporwright.acceptance.steps.outcomes import ACCEPTED, NOT_RUN
from vaporwright.actions.accept_run import moment_of_log, procedure_in

LEFT: Final = "left_"  # fields of settings as they were left
SERIAL: Final = "serial"  # field of the nameplate


def certificate_of(state: RunState) -> Certificate:
    """The certificate that a run's record gives now.

    Raises: InputError for a run without a procedure.
    """
    procedure = procedure_in(state)
    assert state.latest is not None  # as for every run in which something was entered
    taken = state.readings
    verdicts = {
        key: Verdict(found.outcome, found.expanded_uncertainty, found.words, found.read_at, found.mark.at)
        for key, found in taken.items()
    }
    readings = {key: found.reading for key, found in taken.items()}
    return certificate_from(procedure, readings, verdicts, _facts(state, state.latest), acts=_acts(state))


def _facts(state: RunState, latest: Mark) -> CertificateFacts:
    assert state.kind is not None
    assert state.opened is not None
    result = state.result
    log = state.log
    steady = ("", "")
    if result is not None and log is not None and "steady_from_s" in result.figures:
        steady = (
            moment_of_log(state, result.figures["steady_from_s"]),
            moment_of_log(state, result.figures["steady_to_s"]),
        )
    first, last = state.opened.at[:10], latest.at[:10]
    return CertificateFacts(
        head=RecordHead(state.run, state.seq, state.head),
        kind=state.kind,
        made_at=latest.at,
        tool_version=state.tool,
        serial=_text(state, SERIAL),
        tested_on=first if first == last else f"{first} to {last}",
        headline=None if result is None else headline_of(result),
        performance=None if result is None else performance_of(result, *steady),
        deviations=tuple(_deviations(state)),
        guarantee_conditions=GUARANTEE_CONDITIONS,
        instruments=_instruments_used(state),
        as_left=tuple(_as_left(state)),
        punch_list=state.punch_list,
        release=state.release,
        signatures=state.covering,
        dry_run=_dry_run(state),
        void="" if state.void is None else state.void.words,
        notes=tuple(_notes(state)),
    )


GUARANTEE_CONDITIONS: Final = (
    "the liquor, the feed and the air of the season are those of the job; scale and fouling are kept off the heating"
    " surface and the fill",
    "fuel, power or steam is supplied as the job states; the exhaust is not drawn in again beyond what the job allows",
    "spray flow and air flow stand as they were left; strainer, nozzles and fill are clean",
)


def _text(state: RunState, field: str) -> str:
    """A text that was read somewhere in the test, such as the serial number."""
    found = (taken.reading.entered for (_, key), taken in state.readings.items() if key == field)
    return next(found, "")


def _dry_run(state: RunState) -> str:
    if state.dry_run is not None:
        return f"signed dry run {state.dry_run.run}, head {state.dry_run.head}"
    return f"no signed dry run: {state.no_dry_run_because}" if state.no_dry_run_because else ""


def _acts(state: RunState) -> dict[str, StepAct]:
    """How each step was closed."""
    acts = {}
    for step in state.steps:
        accepted = state.points.get(step.key)
        by = "" if accepted is None else f"{accepted.who} ({accepted.role})"
        if step.key in state.not_run:
            mark = state.not_run[step.key]
            acts[step.key] = StepAct(mark.who, mark.at, NOT_RUN, mark.words, by)
        elif step.key in state.done:
            mark = state.done[step.key]
            outcome = state.verdict(step)
            acts[step.key] = StepAct(
                mark.who, mark.happened, outcome if outcome != NOT_RUN else ACCEPTED, mark.words, by
            )
        else:
            marks = [taken.mark for taken in (state.current(step.key, one.key) for one in step.fields) if taken]
            last = max(marks, key=lambda mark: mark.at, default=None)
            acts[step.key] = StepAct("" if last is None else last.who, "" if last is None else last.at, None, "", by)
    return acts


def _deviations(state: RunState) -> Iterable[Deviation]:
    for note in state.notes:
        if note.kind == "deviation agreed":
            yield Deviation(note.about or WHOLE_TEST, note.mark.words, note.by_wish_of, note.mark.at)


def _notes(state: RunState) -> Iterable[str]:
    """What else happened: repeats, voids, interruptions, corrections, reopenings, a procedure issued again."""
    for note in state.notes:
        if note.kind == "deviation agreed":
            continue
        about = f" {note.about}" if note.about else ""
        wished = f", by wish of {note.by_wish_of}" if note.by_wish_of else ""
        lasted = f", {note.minutes:g} min" if note.minutes else ""
        yield f"{note.kind}{about}: {note.mark.words}{wished}{lasted} ({note.mark.who}, {_when(note.mark)})"
    for issue in state.issues[1:]:
        yield f"procedure issued again: {issue.mark.words} ({issue.mark.who}, {issue.mark.at})"
    for (step, field), history in state.history.items():
        for taken in history:
            if taken.corrects:
                yield f"corrected {step}/{field}: {taken.mark.words} ({taken.mark.who}, {_when(taken.mark)})"
            if taken.mark.late_because:
                yield f"late {step}/{field}: {taken.mark.late_because} ({taken.mark.who}, {_when(taken.mark)})"
    for channel, why in state.log_expired.items():
        yield f"performance run, {channel}: {why}"


def _when(mark: Mark) -> str:
    return mark.at if mark.happened == mark.at else f"{mark.happened}, entered {mark.at}"


def _instruments_used(state: RunState) -> tuple[Instrument, ...]:
    used = {taken.reading.instrument for history in state.history.values() for taken in history}
    used |= {key for part in state.log_parts for key in part.instruments.values()}
    return tuple(entries[-1].instrument for key, entries in sorted(state.instruments.items()) if key in used)


def _as_left(state: RunState) -> Iterable[AsLeft]:
    for step in state.steps:
        for one in step.fields:
            taken = state.current(step.key, one.key)
            if one.key.startswith(LEFT) and taken is not None and is_number(taken.reading.value):
                designed = float(one.expected) if is_number(one.expected) else None
                label = one.label.removesuffix(", left")
                yield AsLeft(one.key.removeprefix(LEFT), label, one.quantity, float(taken.reading.value), designed)
