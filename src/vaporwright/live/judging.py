"""What becomes of a sample: a value of good quality, or none with the reason.

A number in the wrong order of words or bytes is never swapped silently: the order that would make it plausible is
named.
"""

from __future__ import annotations

import math
from typing import Final

from vaporwright.files.register_map import Meaning
from vaporwright.live.samples import DROPPED_OUT, GOOD, IMPLAUSIBLE, STALE, WRONG_ORDER, LiveValue, RawSample

HARDLY_ZERO: Final = 1e-9  # of the plausible range
SMALLEST: Final = 1e-20  # in SI, where there is no such range


def judged(sample: RawSample, meaning: Meaning) -> LiveValue:
    """The value of a sample by itself, without what came before it."""
    target, number = meaning.target, sample.number
    if number is None:
        return LiveValue(target, DROPPED_OUT, reason=sample.fault)
    seen = _seen(number, meaning)
    if sample.fault:
        return LiveValue(target, STALE if sample.stale else DROPPED_OUT, seen=seen, reason=sample.fault)
    if isinstance(number, bool) or meaning.quantity == "yes or no":
        if isinstance(number, bool) and meaning.quantity == "yes or no":
            return LiveValue(target, GOOD, number, seen)
        wanted = "a yes or no" if meaning.quantity == "yes or no" else "a number"
        return LiveValue(target, IMPLAUSIBLE, seen=seen, reason=f"is not {wanted}")
    fault = _implausible(number, meaning)
    if not fault:
        return LiveValue(target, GOOD, meaning.si(number), seen)
    better = [
        f"{_seen(other, meaning)} with {order}"
        for order, other in (sample.others or {}).items()
        if not _implausible(other, meaning) and other != 0.0
    ]
    if better:
        reason = f"{fault}; plausible would be {', or '.join(better)} in the register map"
        return LiveValue(target, WRONG_ORDER, seen=seen, reason=reason)
    return LiveValue(target, IMPLAUSIBLE, seen=seen, reason=fault)


def _implausible(number: float, meaning: Meaning) -> str:
    """Why a number is no reading; empty where it is one."""
    value = meaning.si(number)
    if not math.isfinite(value):
        return "is not a finite number"
    if _is_hardly_zero(number, meaning):
        return f"{number:.3g} as read is neither zero nor a reading"
    if not meaning.low <= value <= meaning.high:
        return f"lies outside {meaning.shown_limit(meaning.low)} to {meaning.shown_limit(meaning.high)}"
    return ""


def _is_hardly_zero(number: float, meaning: Meaning) -> bool:
    """Whether a float is so small that it is no reading, and yet not zero: swapped words or bytes look like that."""
    span = meaning.high - meaning.low
    smallest = HARDLY_ZERO * span if math.isfinite(span) else SMALLEST
    return 0.0 < abs(number) < 1.0 and abs(number * meaning.scale * meaning.per_unit) < smallest


def _seen(number: float | bool, meaning: Meaning) -> str:
    if isinstance(number, bool):
        return "yes" if number else "no"
    return f"{meaning.in_unit(number):.12g} {meaning.unit}".rstrip()
