"""The acceptance test in the terminal: a procedure at a glance, how a run stands, what a performance run says."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from vaporwright.acceptance.record.state import RunState, TakenReading
from vaporwright.acceptance.run.averages import COVERAGE
from vaporwright.acceptance.run.log import CHANNEL_OF, Measured
from vaporwright.acceptance.steps.outcomes import (
    ACCEPTED,
    IN_GUARD_BAND,
    NOT_ACCEPTED,
    NOT_RUN,
    OUTCOMES,
    PASSES,
    TEST_ERROR,
    UNDECIDED,
    Outcome,
)
from vaporwright.acceptance.steps.procedure import Procedure, ReadingField, Step
from vaporwright.display_units import show, shown_unit, to_shown
from vaporwright.documents.measured_words import expected_text
from vaporwright.foundation.notice import Notice

if TYPE_CHECKING:
    from vaporwright.acceptance.record.chain import Verification
    from vaporwright.acceptance.run.performance_run import LiveState
    from vaporwright.actions.accept_run import EvaluatedRun
    from vaporwright.actions.refine_catalogue import RefinedTower
    from vaporwright.actions.rehearse_acceptance import RehearsedAcceptance
    from vaporwright.live.live_log import LiveRow

WIDTH = 80
COUNTED: Final[tuple[tuple[Outcome, ...], ...]] = (
    (ACCEPTED,),
    (IN_GUARD_BAND,),
    (NOT_ACCEPTED, TEST_ERROR, UNDECIDED),
    (NOT_RUN,),
)
TEST_CAUTION = (
    "A test shows what a unit did on one day. It is no approval: local codes, the authority having jurisdiction and the"
    " licensed engineer, gas fitter and electrician decide. Hot liquor, flame and live parts: qualified people only."
)


def _fill(text: str, indent: str = "", hang: str = "") -> str:
    return textwrap.fill(text, WIDTH, initial_indent=indent, subsequent_indent=hang or indent)


def _words(notice: Notice, system: str) -> str:
    return notice.words(lambda value, quantity: show(value, quantity, system))


# A procedure


def procedure_text(procedure: Procedure, system: str) -> str:
    """A procedure at a glance: how long, how many steps, what of whom."""
    from vaporwright.documents.procedure_paper import sentence

    steps = list(procedure.steps)
    points = sum(bool(step.point) for step in steps)
    readings = sum(len(step.fields) for step in steps)
    hours = procedure.minutes / 60.0
    blocks = [
        f"{procedure.job}: acceptance procedure ({procedure.variant})\n{'-' * WIDTH}",
        _fill(sentence(procedure)),
        _fill(f"{len(steps)} steps with {readings} readings, {points} hold and witness points, about {hours:.0f} h."),
        "\n".join(_sections(procedure)),
        "\n".join(_expected(procedure, system)),
        "\n".join(_fill(rule, "- ", "  ") for rule in procedure.rules),
        _fill(TEST_CAUTION),
    ]
    return "\n\n".join(blocks)


def _sections(procedure: Procedure) -> Iterator[str]:
    yield f"{'section':<52}{'steps':>7}{'readings':>10}{'min':>8}"
    for section in procedure.sections:
        readings = sum(len(step.fields) for step in section.steps)
        minutes = sum(step.minutes for step in section.steps)
        yield f"{section.title[:51]:<52}{len(section.steps):>7}{readings:>10}{minutes:>8.0f}"


def _expected(procedure: Procedure, system: str) -> Iterator[str]:
    from vaporwright.documents.procedure_paper import GUARANTEE

    yield "Expected of the performance run"
    for key, label, quantity in GUARANTEE:
        if key in procedure.guarantee:
            yield f"  {label:<56}{show(procedure.guarantee[key], quantity, system):>20}"


# A run


def standing_line(state: RunState) -> str:
    """Where a run stands, in a line or two."""
    verdicts = list(state.verdicts.values())
    settled = sum(verdict in PASSES for verdict in verdicts)
    bad = [f"{verdicts.count(one)} {one}" for one in (NOT_ACCEPTED, TEST_ERROR, UNDECIDED) if one in verdicts]
    open_items = sum(not item.settled for item in state.punch_list)
    parts = [f"{settled} of {len(verdicts)} steps accepted", *bad]
    if open_items:
        parts.append(f"{open_items} punch items open")
    if state.void:
        parts.insert(0, "VOID")
    return _fill(f"{state.run}, event {state.seq}: {', '.join(parts)}.")


def runs_text(states: Sequence[RunState]) -> str:
    """The runs of a store."""
    if not states:
        return "No runs yet: vaporwright accept open RUN JOB --day FILE --by NAME"
    return "\n".join(
        f"{state.run:<24} {state.kind or '':<10} {state.job[:30]:<31}"
        f" {'closed' if state.closed else 'signed' if state.covering else 'open'}"
        for state in states
    )


def status_text(state: RunState, system: str, *, full: bool = False) -> str:
    """A run: counts, what is outstanding, punch list, signatures; every step with --full."""
    kind = f"{state.kind}, {state.procedure.variant}" if state.procedure else str(state.kind)
    blocks = [
        f"{state.run}: {state.job} ({kind})\n{'-' * WIDTH}",
        standing_line(state),
        "\n".join(_counts(state)),
        "\n".join(_steps(state, system) if full else _outstanding(state)),
        "\n".join(_punch_list(state)),
        "\n".join(_signatures(state)),
        f"Head, event {state.seq}:\n  {state.head}",
    ]
    return "\n\n".join(block for block in blocks if block)


def _counts(state: RunState) -> Iterator[str]:
    if state.procedure is None:
        return
    yield "".join(f"{title:>14}" for title in ("", "accepted", "guard band", "not accepted", "open"))[:WIDTH]
    for section in state.procedure.sections:
        verdicts = [state.verdict(step) for step in section.steps]
        row = "".join(f"{sum(verdict in group for verdict in verdicts):>14}" for group in COUNTED)
        yield f"{section.key:<14}{row}"


def _outstanding(state: RunState, most: int = 12) -> Iterator[str]:
    left = state.outstanding
    if not left:
        yield "Nothing is outstanding."
        return
    yield "Outstanding, in order"
    for step in left[:most]:
        verdict = state.verdict(step)
        words = "" if verdict == NOT_RUN else f"  ({verdict})"
        point = f"  [{step.point} point]" if step.point else ""
        yield _fill(f"{step.key}: {step.title}{point}{words}", "  ", "    ")
    if len(left) > most:
        yield f"  ({len(left) - most} more; --full lists every step)"


def _steps(state: RunState, system: str) -> Iterator[str]:
    for step in state.steps:
        yield _fill(f"{step.key}: {step.title}: {state.verdict(step)}")
        yield from reading_lines(state, step, system)


def reading_lines(state: RunState, step: Step, system: str) -> Iterator[str]:
    """The readings of a step with their verdicts."""
    for field in step.fields:
        taken = state.current(step.key, field.key)
        if taken is None:
            yield _fill(f"{field.key}: {field.label}: not read; {_asked(field, system)}", "    ", "      ")
        else:
            yield _fill(f"{field.key}: {_taken(taken, system)}", "    ", "      ")


def _asked(field: ReadingField, system: str) -> str:
    return expected_text(field, system) or "recorded"


def _taken(taken: TakenReading, system: str) -> str:
    return f"{taken.reading.entered}: {taken.outcome}: {_words(taken.words, system)}"


def _punch_list(state: RunState) -> Iterator[str]:
    if state.punch_list:
        yield "Punch list"
    for item in state.punch_list:
        standing = "closed" if item.closed else "left open by the witness" if item.accepted_open else "open"
        yield _fill(f"{item.number} {item.category} {item.text} ({item.owner}): {standing}", "  ", "      ")


def _signatures(state: RunState) -> Iterator[str]:
    for signed in state.covering:
        words = "released to ship by" if signed.kind == "ship released" else "signed by"
        yield _fill(
            f"{words} {signed.name} ({signed.role}) at event {signed.seq - 1}: {signed.statement}", "  ", "    "
        )
    lost = len(state.signatures) - len(state.covering)
    if lost:
        yield f"  {lost} earlier signatures no longer cover the record: it was reopened"


def state_as_json(state: RunState) -> dict[str, Any]:
    """A run for machines: stable keys, SI."""
    return {
        "run": state.run,
        "seq": state.seq,
        "head": state.head,
        "kind": state.kind,
        "job": state.job,
        "void": None if state.void is None else state.void.words,
        "closed": state.closed is not None,
        "steps": {
            step.key: {
                "verdict": state.verdict(step),
                "readings": {
                    field.key: {
                        "entered": taken.reading.entered,
                        "value": taken.reading.value,
                        "outcome": taken.outcome,
                        "instrument": taken.reading.instrument,
                        "by": taken.mark.who,
                        "at": taken.mark.at,
                        "read_at": taken.read_at,
                    }
                    for field in step.fields
                    if (taken := state.current(step.key, field.key)) is not None
                },
            }
            for step in state.steps
        },
        "outstanding": [step.key for step in state.outstanding],
        "counts": {one: list(state.verdicts.values()).count(one) for one in OUTCOMES},
        "result": None if state.result is None else {"outcome": state.result.outcome, **state.result.figures},
        "punch_list": [
            {
                "number": item.number,
                "category": item.category,
                "text": item.text,
                "owner": item.owner,
                "closed": item.closed is not None,
                "left_open": item.accepted_open is not None,
            }
            for item in state.punch_list
        ],
        "signatures": [
            {"role": signed.role, "name": signed.name, "seq": signed.seq, "head": signed.head}
            for signed in state.covering
        ],
        "released": state.release is not None,
    }


# The performance run


def live_row_text(row: LiveRow, system: str) -> str:
    """One polled row: good values, and what is wrong with the others."""
    parts = []
    for target, value in row.values.items():
        if value.value is None:
            seen = f" (seen {value.seen})" if value.seen else ""
            parts.append(f"{target} {value.quality.upper()}: {value.reason}{seen}")
        elif target in CHANNEL_OF and isinstance(value.value, float):
            parts.append(f"{target} {show(value.value, CHANNEL_OF[target].quantity, system, 4)}")
        else:
            parts.append(f"{target} {value.seen or value.value}")
    return _fill(f"{row.time_s:8.0f} s  " + "; ".join(parts), "", " " * 12)


def _plus_minus(measured: Measured, quantity: str, system: str) -> str:
    unit = shown_unit(quantity, system)
    value = to_shown(measured.value, quantity, system)
    expanded = COVERAGE * measured.standard_uncertainty / unit.si_per_unit
    decimals = 0 if expanded >= 10.0 else 1 if expanded >= 1.0 else 2
    return f"{value:,.{decimals}f} ± {expanded:,.{decimals}f} {unit.text}".rstrip()


def live_text(live: LiveState, system: str) -> str:
    """How a run that goes on stands: go on, not yet, or stop."""
    so_far = "nothing yet"
    if live.evaporation_kg_s is not None:
        so_far = _plus_minus(live.evaporation_kg_s, "evaporation", system)
    lines = [_fill(f"{live.verdict.upper()}: {so_far} after {live.time_s / 3600.0:.1f} h.")]
    lines += [_fill(_words(notice, system), "- ", "  ") for notice in live.reasons]
    lines += [_fill(f"check first: {text}", "  ", "    ") for text in live.check_first]
    if live.seconds_to_go:
        lines.append(f"  about {live.seconds_to_go / 3600.0:.1f} h to go, if nothing moves any more")
    return "\n".join(lines)


def result_text(evaluated: EvaluatedRun, system: str) -> str:
    """What a performance run came to, and what it says of the site."""
    evaluation, prediction = evaluated.evaluation, evaluated.prediction
    lines = [_fill(f"Performance run: {evaluated.result.outcome}. {evaluated.result.words}.")]
    if evaluation.evaporation_kg_s is not None:
        expected = show(evaluated.result.figures["expected_kg_s"], "evaporation", system)
        measured = _plus_minus(evaluation.evaporation_kg_s, "evaporation", system)
        lines.append(f"  {'evaporation measured (expected today ' + expected + ')':<54}{measured:>24}")
    lines += [_fill(_words(notice, system), "- ", "  ") for notice in (*evaluation.reasons, *evaluation.notices)]
    for closure in evaluation.balances.closures if evaluation.balances else ():
        shown = "not read" if closure.difference is None else _percent(closure.difference)
        lines.append(f"  {'balance of ' + closure.key + ', open by':<54}{shown:>24}")
    if prediction is None:
        return "\n".join(lines)
    lines.append("")
    low, high = prediction.interval_percent
    text = (
        f"Capability {prediction.capability_percent:.1f} % ± {prediction.half_width_percent:.1f} % of the guarantee"
        f" ({show(prediction.guarantee_kg_s, 'evaporation', system)} in {prediction.governing}); 95 % between {low:.1f}"
        f" and {high:.1f} %."
    )
    lines.append(_fill(text))
    for season, entry in prediction.seasons.items():
        shown = _plus_minus(entry.capacity_kg_s, "evaporation", system)
        lines.append(f"  {'at the site in ' + season + ', limited by ' + entry.limit:<54}{shown:>24}")
    for factor in prediction.factors:
        told = "" if factor.told else "  ?"
        expanded = COVERAGE * factor.standard_uncertainty
        lines.append(f"  {factor.label[:54]:<56}{factor.value:>9.3f} ± {expanded:.3f}{told}")
    if not all(factor.told for factor in prediction.factors):
        lines.append("  ? these readings say little of it beyond what was known before")
    for part in prediction.half_of_it:
        lines.append(_fill(f"{part.share:.0%} of the ± comes from: {part.label}", "  ", "    "))
    lines += [_fill(_words(notice, system), "- ", "  ") for notice in prediction.notices]
    lines += [_fill(f"the test sat beyond its stated limit: {name}", "- ", "  ") for name in prediction.departures]
    return "\n".join(lines)


def _percent(measured: Measured) -> str:
    return f"{100.0 * measured.value:+.1f} ± {100.0 * COVERAGE * measured.standard_uncertainty:.1f} %"


# Record and catalogue


def verification_text(path: Path, found: Verification) -> str:
    """Whether an exported record is untouched."""
    if not found.ok:
        at = f" at event {found.seq}" if found.seq else ""
        return _fill(f"{path} does NOT verify{at}: {found.problem}")
    lines = [_fill(f"{path} verifies: run {found.run}, {found.events} events, head"), f"  {found.head}"]
    for signed in found.signatures:
        from vaporwright.store.signing import fingerprint_of

        lines.append(
            _fill(
                f"signed at event {signed.seq - 1} by {signed.name} ({signed.role}), key {fingerprint_of(signed.public_key)}",  # noqa: E501
                "  ",
                "    ",
            )
        )
    if not found.signatures:
        lines.append("  nobody has signed it: its tail could have been cut without a trace")
    return "\n".join(lines)


def refinement_text(refined: RefinedTower) -> str:
    """A tower's law before and after."""
    found, fill = refined.refinement, refined.tower.fill
    rests = f"{found.from_points} fill-test points" if found.from_points else "the stated law"
    lines = [
        f"{refined.tower.name}: transfer law Me = c (L/G)^n, from {rests} and {len(found.runs)} accepted runs",
        "-" * WIDTH,
        f"  {'':<20}{'c':>8}{'95 %':>20}{'n':>10}{'95 %':>20}",
        f"  {'in the catalogue':<20}{found.stated.coefficient:>8.4f}{'':>20}{found.stated.exponent:>10.3f}",
    ]
    for name, law, c, n in (
        ("before the runs", found.before, found.before_coefficient, found.before_exponent),
        ("refined", found.after, found.after_coefficient, found.after_exponent),
    ):
        c_text, n_text = f"{c.low:.4f} to {c.high:.4f}", f"{n.low:.3f} to {n.high:.3f}"
        lines.append(f"  {name:<20}{law.coefficient:>8.4f}{c_text:>20}{law.exponent:>10.3f}{n_text:>20}")
    low, high = fill.tested_ratio_low, fill.tested_ratio_high
    middle = (low * high) ** 0.5
    lines.append(
        _fill(f"At L/G {middle:.2f} the refined law gives {100.0 * (found.change_at(middle) - 1.0):+.1f} % Me.")
    )
    for entry in found.runs:
        flag = "  FAR OFF the law of the others: look at its record" if entry.outlier else ""
        lines.append(
            f"  {entry.point.run:<24} L/G {entry.point.water_to_air_ratio:5.2f}  Me {entry.point.merkel_number:.4f}"
            f" ± {100.0 * 2.0 * entry.point.standard_share:.0f} %{flag}"
        )
    lines.append(_fill("Nothing is written without --write FILE; the catalogue itself stays as it is."))
    return "\n".join(lines)


def rehearsed_text(rehearsed: RehearsedAcceptance, system: str) -> str:
    """A whole test with simulated instruments."""
    lines = [
        f"{rehearsed.certificate.job}: a whole test with simulated instruments\n{'-' * WIDTH}",
        result_text(rehearsed.evaluated, system),
        "",
        verification_text(rehearsed.export, rehearsed.verification),
        "",
        *(f"Wrote {path}" for path in rehearsed.papers),
        "",
        _fill("Everything here is simulated: unit, technician, witness and instruments. It shows the way of a test, and"
              " tests nothing."),
    ]  # fmt: skip
    return "\n".join(lines)
