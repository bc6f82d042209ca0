"""Decisions on conformity: what a reading, uncertain as it is, says about the limits it must lie within.

The rule is that of ISO 14253-1: conformity is proved only where a reading clears the limits by its expanded
uncertainty U, non-conformity only where it lies outside by more than U, and between the two neither is. What is then
done is this tool's own rule, fixed here so that nobody argues it during a test:

    clear of the limits by U or more              accepted
    inside, but nearer to a limit than U          accepted in the guard band, with its probability; a limit on which
                                                  safety hangs (`proven`): undecided
    outside by no more than U                     undecided; `proven`: not accepted
    outside by more than U                        not accepted
    near a limit, and U above half the tolerance  error of the test itself: this instrument cannot decide

Probabilities are those of JCGM 106:2012 for a normal distribution and nothing known beforehand.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import erfc, inf, sqrt, ulp
from typing import Final

from vaporwright.acceptance.steps.instruments import is_number
from vaporwright.acceptance.steps.outcomes import ACCEPTED, IN_GUARD_BAND, NOT_ACCEPTED, TEST_ERROR, UNDECIDED, Outcome
from vaporwright.acceptance.steps.procedure import Limits
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.register import sourced
from vaporwright.foundation.solvers import find_root

USUAL_COVERAGE_FACTOR: Final = 2.0
ROUNDING: Final = 1e-9  # share of the reading that unit conversion may have moved it
NO_LIMITS: Final = Limits(None, None)


@dataclass(frozen=True)
class Decision:
    """What a reading says of its limits.

    conformity_probability: that the true value lies within the limits; None where nothing could be decided.
    guard_band: the expanded uncertainty, which a reading must keep from the limits to be accepted outright.
    words: why, without figures.
    """

    outcome: Outcome
    conformity_probability: float | None
    guard_band: float
    words: str


@sourced("jcgm-106", "7.2 and 7.3, eqs. 11 to 13: normal distribution, limits on one side or both")
def conformity_probability(value: float, standard_uncertainty: float, limits: Limits) -> float:
    """Probability that the true value lies within the limits.

    Equation: p = Phi((high - y)/u) - Phi((low - y)/u), each tail worked out where it is small.
    """
    low = -inf if limits.low is None else limits.low
    high = inf if limits.high is None else limits.high
    if standard_uncertainty == 0.0:
        return 1.0 if low <= value <= high else 0.0
    below, above = (low - value) / standard_uncertainty, (high - value) / standard_uncertainty
    if below > 0.0:
        return _tail(below) - _tail(above)
    if above < 0.0:
        return _tail(-above) - _tail(-below)
    return 1.0 - _tail(-below) - _tail(above)


def _tail(deviations: float) -> float:
    """Probability that a normal value lies above its mean by more than so many standard deviations."""
    return 0.5 * erfc(deviations / sqrt(2.0))


@sourced("jcgm-106", "8.3.2 guarded acceptance and 8.3.3 guarded rejection, solved for the limit on the reading")
def acceptance_limit(
    limit: float,
    standard_uncertainty_at: Callable[[float], float],
    probability: float,
    *,
    lower: bool,
) -> float:
    """The reading from which on the true value keeps a limit with at least a wanted probability.

    Equation: y -+ z u(y) = limit, z the normal quantile of the probability; u may grow with the reading.

    Args:
        limit: what the true value must keep: at least (`lower`) or at most.
        standard_uncertainty_at: standard uncertainty of a reading of that size.
        probability: above one half, below one.
    Raises:
        InputError: a probability outside that; an uncertainty that grows too fast for any reading to prove the limit.
    """
    if not 0.5 < probability < 1.0:
        raise InputError("decision", "probability", f"{probability!r}", "above 0.5 and below 1")
    from statistics import NormalDist  # costs start-up time, and only a test plan needs it

    quantile = NormalDist().inv_cdf(probability)
    side = 1.0 if lower else -1.0

    def excess(reading: float) -> float:
        return side * (reading - limit) - quantile * standard_uncertainty_at(reading)

    step = quantile * standard_uncertainty_at(limit)
    if not is_number(step) or step < 0.0:
        raise InputError("decision", "standard uncertainty", f"{standard_uncertainty_at(limit)!r}", "0 or more")
    if step == 0.0:
        return limit
    far = limit + side * step
    for _ in range(60):
        if excess(far) >= 0.0:
            tolerance = max(1e-9 * step, 4.0 * ulp(far))
            return find_root(excess, limit, far, tolerance=tolerance, name="acceptance limit")
        step *= 2.0
        far = limit + side * step
    raise InputError("decision", "standard uncertainty", "grows too fast: no reading can prove the limit", "a better "
                     "instrument")  # fmt: skip


def decide(
    value: object,
    standard_uncertainty: object,
    limits: Limits | None,
    *,
    coverage_factor: float = USUAL_COVERAGE_FACTOR,
    expected: float | None = None,
) -> Decision:
    """What a reading says of its limits, by the table at the head of this module.

    Never raises for a reading: whatever is not a finite number is an error of the test itself.

    Args:
        value, standard_uncertainty: of the reading, SI; 0 for what is read by eye.
        limits: None for a reading that is only recorded.
        expected: gives a limit on one side its tolerance, the distance between the two.
    Raises:
        InputError: a coverage factor that is none.
    """
    if not is_number(coverage_factor) or not 0.0 < coverage_factor <= 10.0:
        raise InputError("decision", "coverage_factor", f"{coverage_factor!r}", "above 0, at most 10")
    if not is_number(value):
        return _error("it is no number: read it again")
    if not is_number(standard_uncertainty) or standard_uncertainty < 0.0:
        return _error("its uncertainty is not known: use a registered instrument")
    limits = limits or NO_LIMITS
    if not _possible(limits):
        return _error("the limits of the step are at fault: have the procedure corrected")
    reading, deviation = float(value), float(standard_uncertainty)
    band = coverage_factor * deviation
    if not is_number(band):
        return _error("its uncertainty is beyond every number: read it again")
    probability = conformity_probability(reading, deviation, limits)
    if limits.low is None and limits.high is None:
        return Decision(ACCEPTED, probability, band, "recorded; it has no limits")
    outcome, words = _judged(_margin(reading, limits), band, limits, _tolerance(limits, expected))
    return Decision(outcome, None if outcome == TEST_ERROR else probability, band, words)


def _error(words: str) -> Decision:
    return Decision(TEST_ERROR, None, 0.0, words)


def _possible(limits: Limits) -> bool:
    sides = [side for side in (limits.low, limits.high) if side is not None]
    return all(is_number(side) for side in sides) and sides == sorted(sides)


@sourced("iso-14253-1", "conformity, non-conformity, and the uncertainty range between them")
def within_uncertainty(margin: float, expanded_uncertainty: float) -> int:
    """Where a reading stands: 1 conformity proved, 0 neither, -1 non-conformity proved.

    Args: margin: distance from the nearest limit, positive inside.
    """
    if margin >= expanded_uncertainty:
        return 1
    return -1 if margin < -expanded_uncertainty else 0


def _judged(margin: float, band: float, limits: Limits, tolerance: float) -> tuple[Outcome, str]:
    place = within_uncertainty(margin, band)
    if place == 1:
        return ACCEPTED, "clear of its limits by more than the uncertainty"
    if place == -1:
        return NOT_ACCEPTED, "outside its limits by more than the uncertainty"
    if margin < 0.0 and limits.proven:
        return NOT_ACCEPTED, "outside a limit on which safety hangs"
    if band > tolerance:
        return TEST_ERROR, "the uncertainty is larger than the tolerance: use a better instrument"
    if margin < 0.0:
        return UNDECIDED, "outside its limits, but by no more than the uncertainty: use a better instrument or set it"
    if limits.proven:
        return UNDECIDED, "inside a limit on which safety hangs, but nearer than the uncertainty: not proved"
    return IN_GUARD_BAND, "inside its limits, but nearer to one than the uncertainty"


def _margin(value: float, limits: Limits) -> float:
    """Distance from the nearest limit, positive inside; what unit conversion may have rounded counts as inside."""
    margins = [] if limits.low is None else [value - limits.low]
    margins += [] if limits.high is None else [limits.high - value]
    nearest = min(margins)
    return 0.0 if -ROUNDING * abs(value) <= nearest < 0.0 else nearest


def _tolerance(limits: Limits, expected: float | None) -> float:
    """Half the width between the limits; of one limit, how far the expected value lies from it; else unlimited."""
    if limits.low is not None and limits.high is not None:
        return limits.high / 2.0 - limits.low / 2.0
    if not is_number(expected) or expected is None:
        return inf
    distance = _margin(expected, limits)
    return distance if distance > 0.0 else inf
