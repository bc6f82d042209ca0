"""How the steps of a procedure are made: fields with their limits and reasons, and the cautions that steps share.

A reason says where the expected value comes from and why the tolerance is what it is. "Practice" in a reason is common
practice, no source; "from memory" names a code that was not seen. No figure with a unit stands in a text: texts are
printed for readers of either system of units, and figures belong into limits.
"""

from __future__ import annotations

from typing import Final

from vaporwright.acceptance.steps.procedure import TEXT, YES_OR_NO, Limits, ReadingField

PRACTICE: Final = "common practice, no source"
MEMORY: Final = "from memory"
FAHRENHEIT_K: Final = 1.0 / 1.8  # a difference of one degree Fahrenheit
INCH_m: Final = 0.0254

LOCAL_CODE: Final = (
    "Local codes, the authority having jurisdiction and the licensed engineer, gas fitter and electrician decide; this"
    " step is no safety approval."
)
POWER_CAUTION: Final = (
    "Electricity kills, the more so beside water: lock out, tag and prove dead before a cover is opened; live readings"
    " by the qualified electrician alone, with guards and gloves."
)
GAS_CAUTION: Final = (
    "Gas explodes and flue gas poisons: ventilate, carry a gas and a CO alarm, no open flame, stand aside of burner and"
    " explosion relief, let the chamber purge before every try. Qualified burner technician only. " + LOCAL_CODE
)
HOT_CAUTION: Final = (
    "Hot liquid, hot surfaces and steam scald: face shield, gloves, apron; eye wash and shower within reach; nobody"
    " leans over the tank."
)
STEAM_CAUTION: Final = (
    "Steam and hot condensate scald and burst what is shut in: warm the pipe slowly, vent and drain before a joint is"
    " opened, lock the supply valve out. " + LOCAL_CODE
)
MOVING_CAUTION: Final = (
    "Blower and pump start without warning: guards on, hands and clothing clear, lock out to reach in."
)
ENTRY_CAUTION: Final = (
    "Tank and tower are confined spaces: nobody enters without a permit, tested air, a standby person and everything"
    " locked out."
)
LIFT_CAUTION: Final = "Nobody under or beside a hung load; slings and lifting points for the whole weight, tank empty."
CHEMICAL_CAUTION: Final = (
    "The liquor's own safety data sheet counts, and it is stronger than the feed: gloves, apron, eye protection;"
    " ventilate; eye wash and shower within reach."
)


def tick(key: str, label: str, reason: str = "", *, instrument: str = "", needed: bool = True) -> ReadingField:
    """Something seen: yes is right."""
    return ReadingField(key, label, YES_OR_NO, True, None, reason, instrument, needed)


def words(key: str, label: str, *, needed: bool = True) -> ReadingField:
    """Words to be written down."""
    return ReadingField(key, label, TEXT, needed=needed)


def within(
    key: str,
    label: str,
    quantity: str,
    limits: Limits,
    reason: str,
    instrument: str,
    *,
    expected: float | None = None,
    needed: bool = True,
) -> ReadingField:
    """A number within limits."""
    return ReadingField(key, label, quantity, expected, limits, reason, instrument, needed)


def about(
    key: str, label: str, quantity: str, expected: float, tolerance: float, reason: str, instrument: str
) -> ReadingField:
    """A number as expected, give or take a tolerance [SI]."""
    limits = Limits(expected - tolerance, expected + tolerance)
    return within(key, label, quantity, limits, reason, instrument, expected=expected)


def about_share(
    key: str, label: str, quantity: str, expected: float, share: float, reason: str, instrument: str
) -> ReadingField:
    """A number as expected, give or take a share of it."""
    return about(key, label, quantity, expected, abs(expected) * share, reason, instrument)


def at_most(
    key: str,
    label: str,
    quantity: str,
    high: float,
    reason: str,
    instrument: str,
    *,
    expected: float | None = None,
    proven: bool = False,
) -> ReadingField:
    """A number with an upper limit alone."""
    return within(key, label, quantity, Limits(None, high, proven), reason, instrument, expected=expected)


def at_least(
    key: str,
    label: str,
    quantity: str,
    low: float,
    reason: str,
    instrument: str,
    *,
    expected: float | None = None,
    proven: bool = False,
) -> ReadingField:
    """A number with a lower limit alone."""
    return within(key, label, quantity, Limits(low, None, proven), reason, instrument, expected=expected)
