"""Measured values, expectations and limits as the papers of a test print them.

An uncertainty is printed with two significant digits and its value to the same place (GUM 7.2.6: it suffices). A limit
has as many digits as leave what is printed within a few hundredths of the tolerance of what is judged.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime
from typing import Final

from vaporwright.acceptance.record.certificate import Estimate
from vaporwright.acceptance.steps.procedure import TEXT, YES_OR_NO, Limits, ReadingField
from vaporwright.display_units import QUANTITIES, SI, ShownUnit, show, shown_unit
from vaporwright.documents.printed import plain

COARSE: Final = 0.03  # of a tolerance: two digits that miss it by more get a third
SAME: Final = 0.01  # of a tolerance: limits that differ by less lie even about what is expected
MOST_DECIMALS: Final = 6
_AS_READ: Final = {
    ("volume", "gas meter"): "gas volume",  # of a record whose procedure was written before it was a quantity
    ("length", "tape"): "short length",
    ("length", "rule"): "short length",
    ("length", "level gauge"): "short length",
}
LATE_s: Final = 60.0  # from which on the times of reading and of entry are told apart
LIMIT_DIGITS: Final = 4  # of a limit with nothing beside it to judge its places by


def paper_quantity(quantity: str, instrument: str) -> str:
    """The quantity in whose unit an instrument is read: a gas meter shows no gallons, a tape no tenths of a foot."""
    return _AS_READ.get((quantity, instrument), quantity)


def unit_of(quantity: str, system: str) -> ShownUnit:
    """The unit of a quantity on these papers; "" for words and contacts."""
    return shown_unit(quantity, system) if quantity in QUANTITIES else ShownUnit("", 1.0)


def _shown(value: float, quantity: str, system: str) -> float:
    unit = unit_of(quantity, system)
    return value / unit.si_per_unit + unit.offset


def places(size: float, digits: int = 2) -> int:
    """Decimal places that give a size so many significant digits; negative left of the point."""
    if size == 0.0 or not math.isfinite(size):
        return 0
    exponent = int(f"{abs(size):.{digits - 1}e}".split("e")[1])
    return min(digits - 1 - exponent, MOST_DECIMALS)


def fixed(value: float, decimals: int) -> str:
    """A number to a decimal place, thousands separated; never a negative zero."""
    return f"{round(value, decimals) + 0.0:,.{max(decimals, 0)}f}"


def size_shown(difference: float, quantity: str, system: str) -> float:
    """The size of a difference in the shown unit: no offset."""
    return abs(difference) / unit_of(quantity, system).si_per_unit


def estimate_text(estimate: Estimate, quantity: str, system: str) -> str:
    """A value with its expanded uncertainty and unit."""
    number, uncertainty = estimate_parts(estimate, quantity, system)
    if not uncertainty:
        return show(estimate.value, quantity, system)
    return f"{number} ± {uncertainty} {unit_of(quantity, system).text}".rstrip()


def estimate_parts(estimate: Estimate, quantity: str, system: str) -> tuple[str, str]:
    """Number and uncertainty without their unit; no uncertainty where none is known."""
    value = _shown(estimate.value, quantity, system)
    if not estimate.expanded_uncertainty:
        return fixed(value, places(value, 3)), ""
    size = size_shown(estimate.expanded_uncertainty, quantity, system)
    decimals = places(size)
    return fixed(value, decimals), fixed(size, decimals)


def beside_text(value: float, estimate: Estimate, quantity: str, system: str) -> str:
    """A value to the places of an estimate that it is compared with."""
    if not estimate.expanded_uncertainty:
        return show(value, quantity, system)
    decimals = places(size_shown(estimate.expanded_uncertainty, quantity, system))
    return f"{fixed(_shown(value, quantity, system), decimals)} {unit_of(quantity, system).text}".rstrip()


def expected_text(one: ReadingField, system: str) -> str:
    """What a field expects and allows: "50.0 ± 2.5 gal/min", "at most 30.0 s", "yes"."""
    if one.quantity == YES_OR_NO:
        return "" if one.expected is None else yes_or_no(bool(one.expected))
    if one.quantity == TEXT:
        return "" if one.expected is None else plain(str(one.expected))
    quantity = paper_quantity(one.quantity, one.instrument)
    if one.limits is None or (one.limits.low is None and one.limits.high is None):
        return "" if one.expected is None else show(float(one.expected), quantity, system)
    expected = None if one.expected is None else float(one.expected)
    return _with_limits(expected, one.limits, quantity, system)


def limits_text(low: float | None, high: float | None, quantity: str, system: str) -> str:
    """Limits alone: "45.0 to 52.0 gal/min", "at least 45 gal/min"; "" where both sides are open."""
    return "" if low is None and high is None else _with_limits(None, Limits(low, high), quantity, system)


def _with_limits(expected: float | None, limits: Limits, quantity: str, system: str) -> str:
    unit = unit_of(quantity, system).text
    low, high = limits.low, limits.high
    gaps = [abs(limit - expected) for limit in (low, high) if limit is not None and expected is not None]
    if low is not None and high is not None:
        gaps.append((high - low) / 2.0)
    gap = min((size_shown(one, quantity, system) for one in gaps if one > 0.0), default=0.0)
    shown = [_shown(one, quantity, system) for one in (expected, low, high) if one is not None]
    even = low is not None and high is not None and expected is not None
    even = even and abs((high - expected) - (expected - low)) <= SAME * (high - low)  # type: ignore[operator]
    decimals = _decimals(gap, [*shown, gap] if even else shown)

    def text(value: float) -> str:
        return fixed(_shown(value, quantity, system), decimals)

    if low is not None and high is not None:
        if expected is not None and even:
            return f"{text(expected)} ± {fixed(gap, decimals)} {unit}".rstrip()
        span = f"{text(low)} to {text(high)} {unit}".rstrip()
        return span if expected is None else f"{text(expected)}; {span}"
    one_side, limit = ("at least", low) if low is not None else ("at most", high)
    assert limit is not None
    bound = f"{one_side} {text(limit)} {unit}".rstrip()
    return bound if expected is None or expected in (0.0, limit) else f"{text(expected)}; {bound}"


def _decimals(gap: float, shown: Sequence[float]) -> int:
    """Places for an expectation with its limits, without zeros that say nothing."""
    if gap > 0.0:
        decimals = places(gap)
        if abs(round(gap, decimals) - gap) > COARSE * gap:
            decimals = places(gap, 3)
    else:
        decimals = max(places(value, LIMIT_DIGITS) for value in shown)
    while decimals > 0 and all(fixed(value, decimals).endswith("0") for value in shown):
        decimals -= 1
    return decimals


def yes_or_no(value: bool) -> str:
    """A contact in words."""
    return "yes" if value else "no"


def reading_text(value: float | bool | str, one: ReadingField, system: str, uncertainty: float | None = None) -> str:
    """A value read, in the reader's units, to the place that its uncertainty, or else the field's limits, call for."""
    if isinstance(value, bool):
        return yes_or_no(value)
    if isinstance(value, str):
        return plain(value)
    quantity = paper_quantity(one.quantity, one.instrument)
    if uncertainty:
        return estimate_text(Estimate(value, uncertainty), quantity, system)
    return show(value, quantity, system, LIMIT_DIGITS)


def without_zeros(number: str) -> str:
    """A number without the zeros behind its point that say nothing."""
    return number.rstrip("0").rstrip(".") if "." in number else number


def trimmed(value: float, quantity: str, system: str) -> str:
    """A value that was set or entered: to four digits, a temperature to a tenth, without zeros that say nothing."""
    unit = unit_of(quantity, system).text
    digits = 3 if quantity == "temperature" and system == SI else LIMIT_DIGITS
    number = show(value, quantity, system, digits).removesuffix(unit).rstrip()
    return f"{without_zeros(number)} {unit}".rstrip()


def moment_text(iso: str) -> str:
    """A recorded time as people read it, with its offset: "2026-03-04 15:20 UTC"."""
    try:
        moment = datetime.fromisoformat(iso)
    except ValueError:
        return plain(iso)
    if "T" not in iso and " " not in iso:
        return iso
    offset = moment.strftime("%z")
    zone = "" if not offset else " UTC" if offset == "+0000" else f" UTC{offset[:3]}:{offset[3:5]}"
    return f"{moment:%Y-%m-%d %H:%M}{zone}"


def times_text(happened: str, entered: str, done: str = "read", entered_alone: str | None = None) -> str:
    """When something was done and when it was entered, where that is more than a minute apart.

    "read 2026-03-04 14:02, entered 14:31 UTC"; else the time of entry, or what is to stand there instead.
    """
    first, then = datetime.fromisoformat(happened), datetime.fromisoformat(entered)
    if abs((then - first).total_seconds()) <= LATE_s:
        return moment_text(entered) if entered_alone is None else entered_alone
    later = moment_text(entered)
    if first.utcoffset() != then.utcoffset():
        return f"{done} {moment_text(happened)}, entered {later}"
    same_day = first.date() == then.date()
    return f"{done} {first:%Y-%m-%d %H:%M}, entered {later.partition(' ')[2] if same_day else later}"


def clock(minutes: float) -> str:
    """Minutes as hours and minutes: "1:05"."""
    whole = round(minutes)
    return f"{whole // 60}:{whole % 60:02d}"
