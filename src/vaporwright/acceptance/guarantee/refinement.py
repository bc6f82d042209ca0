"""What accepted runs say of a tower's transfer law Me = c (L/G)^n: the shop's catalogue refined, on request.

ln Me = ln c + n ln(L/G) is a straight line. What is known before the runs is the line of the raw fill-test points with
its scatter, or the stated law with the spread of common practice; each run then adds one point, weighted by its own
uncertainty and by how much units of one shop differ. With X the rows (1, ln(L/G)) and W the weights (GUM F.2; least
squares with prior covariance C0, as in any textbook of regression):

    C = (C0^-1 + X' W X)^-1        (ln c, n) = C (C0^-1 (ln c0, n0) + X' W ln Me)

A run far off the law of all others is named, and stays in: who wants it out looks at its record first, and leaves it
out by name.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from vaporwright.foundation.errors import InputError, require_range
from vaporwright.foundation.register import sourced
from vaporwright.unit.catalogue import Fill
from vaporwright.unit.fill_fit import LEAST_POINTS, fit_fill

STATED_COEFFICIENT_share: Final = 0.10  # standard, of a law stated without points: common practice, no source
STATED_EXPONENT_spread: Final = 0.10  # standard, the same
SERVICE_share: Final = 0.07  # standard, of a fill test against the same fill in a hot unit: common practice, no source
UNITS_share: Final = 0.03  # standard, from one unit of a kind to the next: common practice, no source
OUTLIER_AT: Final = 3.0  # standard deviations
NORMAL_95: Final = 1.959964


class Law(NamedTuple):
    """Me = coefficient (L/G)^exponent."""

    coefficient: float
    exponent: float

    def merkel_number(self, water_to_air_ratio: float) -> float:
        """Merkel number at an L/G above 0."""
        return float(self.coefficient * water_to_air_ratio**self.exponent)


class Interval(NamedTuple):
    """95 % interval."""

    low: float
    high: float


@dataclass(frozen=True)
class RunPoint:
    """What one accepted run says of the tower: its Merkel number at its L/G.

    Raises: OutOfRange for a number, a ratio or an uncertainty that no tower has.
    """

    run: str
    head: str  # of its record
    water_to_air_ratio: float
    merkel_number: float
    standard_share: float  # standard uncertainty of the Merkel number, as a share of it

    def __post_init__(self) -> None:
        require_range("water_to_air_ratio", self.water_to_air_ratio, 0.1, 20.0, f"run {self.run}")
        require_range("merkel_number", self.merkel_number, 0.005, 5.0, f"run {self.run}")
        require_range("standard_share", self.standard_share, 1.0e-4, 1.0, f"run {self.run}")


@dataclass(frozen=True)
class JudgedRun:
    """A run beside the refined law."""

    point: RunPoint
    law_merkel_number: float  # refined
    deviations: float  # from the law of everything but this run, in standard deviations of the difference
    outlier: bool


@dataclass(frozen=True)
class Refinement:
    """A tower's law before and after."""

    stated: Law  # as the catalogue has it
    before: Law  # what is known without the runs
    before_coefficient: Interval
    before_exponent: Interval
    after: Law
    after_coefficient: Interval
    after_exponent: Interval
    correlation: float  # of ln c and n, after
    from_points: int  # raw fill-test points that the law before rests on; 0: the stated law
    runs: tuple[JudgedRun, ...]

    @property
    def outliers(self) -> tuple[str, ...]:
        """Runs far off the law of the others."""
        return tuple(entry.point.run for entry in self.runs if entry.outlier)

    def change_at(self, water_to_air_ratio: float) -> float:
        """Merkel number after over that of the catalogue, at an L/G."""
        return self.after.merkel_number(water_to_air_ratio) / self.stated.merkel_number(water_to_air_ratio)


class _Line(NamedTuple):
    """Mean and covariance of (ln c, n)."""

    intercept: float
    slope: float
    v_intercept: float
    v_both: float
    v_slope: float


@sourced("gum", "F.2, weights as inverse variances; least squares with a prior")
def refine(fill: Fill, runs: Sequence[RunPoint], *, where: str = "catalogue") -> Refinement:
    """Refine a fill's law by accepted runs.

    Args:
        fill: as the catalogue has it; a law of Poppe's model.
        runs: at least one; each counts once.
    Returns: Refinement; 95 % intervals of a normal distribution.
    Raises: InputError for no run, the same run twice, or a law of another model.
    """
    if not runs:
        raise InputError(where, "runs", "none given", "at least one accepted run of a unit with this tower")
    names = [point.run for point in runs]
    for name in names:
        if names.count(name) > 1:
            raise InputError(where, "runs", f"{name} is given twice", "each run once")
    if fill.model != "poppe":
        raise InputError(where, "fill.model", f"{fill.model!r}: a run gives Poppe's Merkel number", "poppe")
    before, points = _before(fill, where)
    after = _with(before, runs)
    law = _law(after)
    judged = tuple(
        _judged(point, law, _with(before, [other for other in runs if other is not point])) for point in runs
    )
    return Refinement(
        stated=Law(fill.merkel_coefficient, fill.merkel_exponent),
        before=_law(before),
        before_coefficient=_coefficient(before),
        before_exponent=_exponent(before),
        after=law,
        after_coefficient=_coefficient(after),
        after_exponent=_exponent(after),
        correlation=after.v_both / math.sqrt(after.v_intercept * after.v_slope),
        from_points=points,
        runs=judged,
    )


def _before(fill: Fill, where: str) -> tuple[_Line, int]:
    """The law without the runs, and on how many raw points it rests."""
    if len(fill.test_points) < LEAST_POINTS:
        variance = STATED_COEFFICIENT_share**2 + SERVICE_share**2
        middle = math.log(math.sqrt(fill.tested_ratio_low * fill.tested_ratio_high))
        slope, v_slope = fill.merkel_exponent, STATED_EXPONENT_spread**2
        at_middle = math.log(fill.merkel_coefficient) + slope * middle
        # The stated law is best known where it was tested: there level and slope are independent.
        line = _Line(at_middle - slope * middle, slope, variance + v_slope * middle**2, -v_slope * middle, v_slope)
        return line, 0
    fitted = fit_fill(fill.test_points, "poppe", area_m2=fill.area_m2, where=where).line
    v_slope = fitted.slope_standard_deviation**2
    v_both = fitted.correlation * fitted.intercept_standard_deviation * fitted.slope_standard_deviation
    v_intercept = fitted.intercept_standard_deviation**2 + SERVICE_share**2
    return _Line(fitted.intercept, fitted.slope, v_intercept, v_both, v_slope), len(fill.test_points)


def _with(line: _Line, runs: Sequence[RunPoint]) -> _Line:
    """The line after the runs: two by two normal equations, written out."""
    determinant = line.v_intercept * line.v_slope - line.v_both**2
    a, b, d = line.v_slope / determinant, -line.v_both / determinant, line.v_intercept / determinant
    right_c, right_n = a * line.intercept + b * line.slope, b * line.intercept + d * line.slope
    for point in runs:
        x, y = math.log(point.water_to_air_ratio), math.log(point.merkel_number)
        weight = 1.0 / (point.standard_share**2 + UNITS_share**2)
        a, b, d = a + weight, b + weight * x, d + weight * x * x
        right_c, right_n = right_c + weight * y, right_n + weight * x * y
    determinant = a * d - b * b
    return _Line(
        (d * right_c - b * right_n) / determinant,
        (a * right_n - b * right_c) / determinant,
        d / determinant,
        -b / determinant,
        a / determinant,
    )


def _judged(point: RunPoint, law: Law, others: _Line) -> JudgedRun:
    x = math.log(point.water_to_air_ratio)
    of_line = others.v_intercept + 2.0 * others.v_both * x + others.v_slope * x * x
    spread = math.sqrt(of_line + point.standard_share**2 + UNITS_share**2)
    deviations = (math.log(point.merkel_number) - others.intercept - others.slope * x) / spread
    number = law.merkel_number(point.water_to_air_ratio)
    return JudgedRun(point, number, deviations, abs(deviations) > OUTLIER_AT)


def _law(line: _Line) -> Law:
    return Law(math.exp(line.intercept), line.slope)


def _coefficient(line: _Line) -> Interval:
    wide = NORMAL_95 * math.sqrt(line.v_intercept)
    return Interval(math.exp(line.intercept - wide), math.exp(line.intercept + wide))


def _exponent(line: _Line) -> Interval:
    wide = NORMAL_95 * math.sqrt(line.v_slope)
    return Interval(line.slope - wide, line.slope + wide)
