"""What every procedure must be, whoever made its steps: readable, in order, and measurable with usual instruments."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from vaporwright.acceptance.steps.instruments import KINDS
from vaporwright.acceptance.steps.procedure import TEXT, YES_OR_NO, Procedure, ReadingField
from vaporwright.foundation.errors import InputError

_WHERE: Final = "procedure"
ROUNDING: Final = 1.0e-9


def check_procedure(procedure: Procedure) -> None:
    """Raise InputError for a step written twice, one that waits for a later or unknown step, a tolerance that is
    narrower than its instrument, or a number without limits or reason."""
    seen: set[str] = set()
    for step in procedure.steps:
        if step.key in seen:
            raise InputError(_WHERE, step.key, "is written twice", "each step once")
        for before in step.after:
            if before not in seen:
                raise InputError(
                    _WHERE, step.key, f"waits for {before}, which does not come before it", "earlier steps"
                )
        seen.add(step.key)
        keys = [field.key for field in step.fields]
        for field in step.fields:
            where = f"{step.key}.{field.key}"
            if keys.count(field.key) > 1:
                raise InputError(_WHERE, where, "is written twice", "each field once")
            for problem in _problems(field):
                raise InputError(_WHERE, where, problem)


def _problems(field: ReadingField) -> Iterator[str]:
    if field.quantity in (YES_OR_NO, TEXT):
        return
    if field.limits is None or (field.limits.low is None and field.limits.high is None):
        yield "a number without limits decides nothing"
        return
    if not field.reason:
        yield "a tolerance without its reason"
    if field.instrument and field.instrument not in KINDS:
        yield f"{field.instrument!r} is no kind of instrument"
        return
    room, uncertainty = room_of(field), usual_uncertainty(field)
    if room is not None and room < uncertainty * (1.0 - ROUNDING):
        yield f"{room:.3g} to the limit is less than a usual {field.instrument} can tell, {uncertainty:.3g} (SI)"


def room_of(field: ReadingField) -> float | None:
    """What a sound unit may be off before a limit is met: half a band, or as far as the expected value clears a limit
    that must be proven; None where a limit on one side asks no more than a look."""
    limits = field.limits
    if limits is None:
        return None
    if limits.low is not None and limits.high is not None and not limits.proven:
        return 0.5 * (limits.high - limits.low)
    if not limits.proven or not isinstance(field.expected, float):
        return None
    sides = [] if limits.low is None else [field.expected - limits.low]
    sides += [] if limits.high is None else [limits.high - field.expected]
    return min(sides)


def usual_uncertainty(field: ReadingField) -> float:
    """Expanded uncertainty of the usual instrument of a field, at what is expected [SI]; 0 for the eye.

    Equation: U = absolute + share of reading; a field in another quantity than the kind's (a flow from a meter and a
    stopwatch) has the share alone.
    """
    if not field.instrument:
        return 0.0
    kind = KINDS[field.instrument]
    at = field.expected if isinstance(field.expected, float) else 0.0
    absolute = kind.usual_expanded if field.quantity in (kind.quantity, *kind.also) else 0.0
    return absolute + kind.usual_expanded_relative * abs(at)
