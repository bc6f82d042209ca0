"""What holds of every decision: symmetry, no firmer with a worse instrument, and nonsense never passes."""

from __future__ import annotations

from dataclasses import replace
from math import isfinite
from typing import Any

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as some
from scipy.integrate import quad
from scipy.stats import norm

from vaporwright.acceptance.steps.decisions import acceptance_limit, conformity_probability, decide
from vaporwright.acceptance.steps.instruments import KINDS, Instrument
from vaporwright.acceptance.steps.judging import judge_reading, judge_step
from vaporwright.acceptance.steps.outcomes import ACCEPTED, NOT_ACCEPTED, OUTCOMES, PASSES, TEST_ERROR, UNDECIDED
from vaporwright.acceptance.steps.procedure import TEXT, YES_OR_NO, Limits, ReadingField, Step
from vaporwright.acceptance.steps.readings import Reading

plain = some.floats(-1e6, 1e6)
width = some.floats(1e-3, 1e6)
deviations = some.floats(1e-6, 1e6)
finite = some.floats(allow_nan=False, allow_infinity=False)
sides = some.tuples(plain, width, some.sampled_from(["both", "low", "high"]), some.booleans()).map(
    lambda drawn: Limits(
        None if drawn[2] == "high" else drawn[0],
        None if drawn[2] == "low" else drawn[0] + drawn[1],
        drawn[3],
    )
)


def mirrored(limits: Limits) -> Limits:
    low = None if limits.high is None else -limits.high
    return Limits(low, None if limits.low is None else -limits.low, limits.proven)


@given(plain, deviations, sides)
def test_both_sides_are_judged_alike(value: float, deviation: float, limits: Limits) -> None:
    here, there = decide(value, deviation, limits), decide(-value, deviation, mirrored(limits))
    assert here.outcome == there.outcome
    assert here.guard_band == there.guard_band
    if here.conformity_probability is not None:
        assert there.conformity_probability == pytest.approx(here.conformity_probability, rel=1e-12, abs=1e-300)


@given(plain, sides, deviations, some.floats(1.0, 1e3))
def test_a_worse_instrument_never_decides_more_firmly(
    value: float, limits: Limits, deviation: float, worse: float
) -> None:
    good, poor = decide(value, deviation, limits).outcome, decide(value, deviation * worse, limits).outcome
    if poor == ACCEPTED:
        assert good == ACCEPTED
    if poor in PASSES:
        assert good in PASSES
    if poor == NOT_ACCEPTED:
        assert good == NOT_ACCEPTED
    if good == TEST_ERROR:
        assert poor == TEST_ERROR


@given(plain, some.floats(0.0, 1e5), deviations, sides)
def test_nearer_the_middle_is_never_worse(value: float, step: float, deviation: float, limits: Limits) -> None:
    """Of one limit: the further inside, the better the outcome."""
    assume(limits.low is None or limits.high is None)
    inside = value + step if limits.high is None else value - step
    ranks: list[str] = [NOT_ACCEPTED, TEST_ERROR, UNDECIDED, "accepted in the guard band", ACCEPTED]
    near, far = decide(value, deviation, limits).outcome, decide(inside, deviation, limits).outcome
    assert ranks.index(far) >= ranks.index(near)


@given(plain, deviations, sides)
def test_a_limit_on_which_safety_hangs_is_never_softer(value: float, deviation: float, limits: Limits) -> None:
    usual = decide(value, deviation, replace(limits, proven=False)).outcome
    proven = decide(value, deviation, replace(limits, proven=True)).outcome
    assert (proven in PASSES) <= (usual in PASSES)
    assert (proven == ACCEPTED) == (usual == ACCEPTED)
    assert proven in (ACCEPTED, UNDECIDED, NOT_ACCEPTED, TEST_ERROR)


@given(plain, deviations, sides)
def test_no_pass_below_an_even_chance(value: float, deviation: float, limits: Limits) -> None:
    """Inside two limits further apart than the uncertainty allows, the true value is more likely inside than not."""
    decision = decide(value, deviation, limits)
    if decision.outcome in PASSES:
        assert decision.conformity_probability is not None
        assert decision.conformity_probability >= 0.4772  # at a limit, with the other one two deviations off
    if decision.outcome == ACCEPTED:
        assert decision.conformity_probability is not None
        assert decision.conformity_probability >= 0.9544


@given(some.floats(-50.0, 50.0), some.floats(0.1, 10.0), some.floats(-50.0, 50.0), some.floats(0.1, 50.0))
@example(0.0, 1.0, 8.0, 1.0)  # far in a tail
def test_probability_against_integration(value: float, deviation: float, low: float, wide: float) -> None:
    limits = Limits(low, low + wide)
    found = conformity_probability(value, deviation, limits)
    begin, end = max(low, value - 12.0 * deviation), min(low + wide, value + 12.0 * deviation)
    inside = [value] if begin < value < end else None
    area = quad(norm(value, deviation).pdf, begin, end, points=inside, epsabs=1e-13)[0] if begin < end else 0.0
    assert found == pytest.approx(area, abs=1e-9)
    assert 0.0 <= found <= 1.0


@given(some.floats(3.0, 30.0))
def test_tails_keep_their_digits(far: float) -> None:
    assert conformity_probability(0.0, 1.0, Limits(far, None)) == pytest.approx(norm.sf(far), rel=1e-10)
    assert conformity_probability(0.0, 1.0, Limits(None, -far)) == pytest.approx(norm.sf(far), rel=1e-10)


@given(plain, some.floats(1e-3, 1e3), some.floats(0.0, 0.05), some.floats(0.51, 0.9999), some.booleans())
def test_at_the_acceptance_limit_the_probability_is_the_wanted_one(
    limit: float, absolute: float, share: float, wanted: float, lower: bool
) -> None:
    def uncertainty_at(value: float) -> float:
        return absolute + share * abs(value)

    reading = acceptance_limit(limit, uncertainty_at, wanted, lower=lower)
    limits = Limits(limit, None) if lower else Limits(None, limit)
    assert conformity_probability(reading, uncertainty_at(reading), limits) == pytest.approx(wanted, abs=1e-6)


nonsense: some.SearchStrategy[Any] = some.one_of(
    some.sampled_from([float("nan"), float("inf"), -float("inf"), None, True, False, "12", "NaN", b"1", 1j, [], {}]),
    some.text(max_size=20),
    some.integers(min_value=10**309, max_value=10**320),
)


@given(nonsense, some.one_of(deviations, nonsense), sides)
def test_nonsense_is_an_error_of_the_test(value: object, deviation: object, limits: Limits) -> None:
    for given_limits in (limits, None):
        assert decide(value, deviation, given_limits).outcome == TEST_ERROR
        assert decide(1.0, value, given_limits).outcome == TEST_ERROR


@given(finite, some.floats(0.0, allow_nan=False, allow_infinity=False), finite, finite, some.booleans())
def test_huge_and_tiny_numbers_are_decided_without_a_crash(
    value: float, deviation: float, one: float, other: float, proven: bool
) -> None:
    limits = Limits(min(one, other), max(one, other), proven)
    decision = decide(value, deviation, limits)
    assert decision.outcome in OUTCOMES
    if decision.outcome in PASSES:
        slack = 1e-9 * abs(value)
        assert min(one, other) - slack <= value <= max(one, other) + slack
        assert isfinite(decision.guard_band)


DAY = "2026-03-02"
METER = Instrument("F-1", "liquid flow meter", "a flow meter", "C-17", "2026-06-30", 0.0, 0.02, low=1e-4, high=5e-3)
FLOW = ReadingField("flow_m3_s", "spray flow", "liquid flow", 3e-3, Limits(2.8e-3, 3.2e-3), "", "liquid flow meter")
CONTACT = ReadingField("closed", "contact closed", YES_OR_NO, True)
SERIAL = ReadingField("serial", "serial number", TEXT)
STEP = Step("spray.flow", "Spray flow", "", ("Read it.",), (FLOW, CONTACT, SERIAL), 5.0)
GOOD = {
    "flow_m3_s": Reading(STEP.key, "flow_m3_s", "3 L/s", 3e-3, "F-1"),
    "closed": Reading(STEP.key, "closed", "yes", True),
    "serial": Reading(STEP.key, "serial", "A-12", "A-12"),
}


def test_the_good_readings_pass() -> None:
    """Without which nothing below would mean anything."""
    verdict = judge_step(STEP, GOOD, {"F-1": METER}, DAY)
    assert verdict.outcome == ACCEPTED, verdict.words


anything = some.one_of(nonsense, finite, some.integers(), some.floats(2.5e-3, 3.5e-3))


@given(anything, some.text(max_size=60), some.one_of(some.just("F-1"), some.text(max_size=5)))
def test_whatever_is_read_the_step_passes_only_inside_its_limits(value: Any, entered: str, named: str) -> None:
    readings = dict(GOOD) | {"flow_m3_s": Reading(STEP.key, "flow_m3_s", entered, value, named)}
    verdict = judge_step(STEP, readings, {"F-1": METER}, DAY)
    shown = verdict.words.words(lambda figure, quantity: f"{figure:g} {quantity}")
    assert shown
    if verdict.outcome in PASSES:
        assert named == "F-1"
        assert isinstance(value, int | float)
        assert 2.8e-3 <= value <= 3.2e-3


@given(anything, some.text(max_size=60))
def test_whatever_is_read_a_contact_passes_only_as_expected(value: Any, entered: str) -> None:
    readings = dict(GOOD) | {"closed": Reading(STEP.key, "closed", entered, value)}
    verdict = judge_step(STEP, readings, {"F-1": METER}, DAY)
    assert verdict.words.words(lambda figure, quantity: f"{figure:g} {quantity}")
    assert (verdict.outcome == ACCEPTED) == (value is True)
    if value is not True and value is not False:
        assert verdict.outcome == TEST_ERROR


@given(anything)
def test_whatever_is_entered_a_text_passes_only_as_a_text(value: Any) -> None:
    judged = judge_reading(SERIAL, Reading(STEP.key, "serial", "?", value), None, DAY)
    assert (judged.outcome == ACCEPTED) == (isinstance(value, str) and bool(value.strip()))
    assert judged.outcome in (ACCEPTED, TEST_ERROR)


@given(some.sampled_from(sorted(KINDS)), some.dates().map(str), some.floats(1e-6, 1.0))
def test_only_the_right_kind_in_its_calibration_passes(kind: str, due: str, share: float) -> None:
    relative = 0.02 if KINDS[kind].quantity not in ("temperature", "sound level") else 0.0
    instrument = Instrument("F-1", kind, "an instrument", "C-1", due, expanded=share * 1e-6, expanded_relative=relative)
    verdict = judge_step(STEP, GOOD, {"F-1": instrument}, DAY)
    right = kind == "liquid flow meter" and due >= DAY
    assert (verdict.outcome in PASSES) == right
    if not right:
        assert verdict.outcome == TEST_ERROR
