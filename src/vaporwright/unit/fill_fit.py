"""Refitting a fill's transfer law Me = c (L/G)^n from raw fill-test points.

Each point is reduced to its Merkel number by the model asked for; ln Me = ln c + n ln(L/G) is fitted by least squares,
as in the calibration example of the GUM (H.3). The intervals say how well the points settle the law, not how true
the instruments were: an error that all points share (a flow meter's, say) shows in none of them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple, TypeAlias

from vaporwright.equipment.fill_test import merkel_method_number, poppe_merkel_number
from vaporwright.foundation.errors import InputError, VaporwrightError, require_range
from vaporwright.foundation.notice import Notice
from vaporwright.foundation.register import sourced
from vaporwright.unit.catalogue import FillTestPoint

Model: TypeAlias = Literal["poppe", "merkel"]

CONFIDENCE: Final = 0.95
LEAST_POINTS: Final = 3  # two for the line, one for its scatter
LEAST_RATIO_SPREAD: Final = 1.05  # highest over lowest L/G: less is within what the two flow meters leave uncertain
LEAST_OUTLIER_LIMIT: Final = 3.0
HOTTER_THAN_TESTED_difference_K: Final = 10.0
_ROUNDING: Final = 1.0e-9
_REDUCTION_NOISE: Final = 5.0e-4  # of a Merkel number, no instrument is that good: scatter below it says nothing


@dataclass(frozen=True)
class StraightLine:
    """y = intercept + slope x by least squares, with what its scatter says about it."""

    intercept: float
    slope: float
    intercept_standard_deviation: float
    slope_standard_deviation: float
    correlation: float  # of intercept and slope
    residual_standard_deviation: float
    r_squared: float
    degrees_of_freedom: int
    residuals: tuple[float, ...]
    leverages: tuple[float, ...]
    mean_x: float
    sum_of_squares_x: float  # about the mean

    def at(self, x: float) -> float:
        """The line's y at x."""
        return self.intercept + self.slope * x

    def standard_deviation_at(self, x: float) -> float:
        """Standard deviation of the line's y at x (of the line, not of one more reading)."""
        share = 1.0 / (self.degrees_of_freedom + 2) + (x - self.mean_x) ** 2 / self.sum_of_squares_x
        return self.residual_standard_deviation * math.sqrt(share)


class Range(NamedTuple):
    """Lowest and highest value."""

    low: float
    high: float

    def holds(self, value: float) -> bool:
        """Whether the value lies within, its rounding forgiven."""
        return self.low * (1.0 - _ROUNDING) <= value <= self.high * (1.0 + _ROUNDING)


class Band(NamedTuple):
    """Confidence band of the law at one L/G."""

    low: float
    best: float
    high: float


@dataclass(frozen=True)
class TestedRanges:
    """What the points covered; loadings only where the fill's area is known."""

    __test__ = False  # the name is no test class

    water_to_air_ratio: Range
    water_in_temperature_K: Range
    water_flow_kg_s: Range
    dry_air_flow_kg_s: Range
    air_temperature_K: Range
    air_humidity_ratio_kg_kg: Range
    pressure_Pa: Range
    water_loading_kg_s_m2: Range | None
    dry_air_loading_kg_s_m2: Range | None


@dataclass(frozen=True)
class FittedPoint:
    """One point of the fit."""

    number: int  # from 1, in the order given
    water_to_air_ratio: float
    merkel_number: float
    other_model_number: float | None  # None where the other model finds no fill that could do it
    law_merkel_number: float
    residual: float  # of ln Me, about the relative deviation from the law
    leverage: float
    studentised_residual: float | None  # by the scatter of the other points; None where they cannot give one
    outlier: bool


@dataclass(frozen=True)
class ModelDifference:
    """Poppe's Merkel number over Merkel's, at the same points."""

    mean: float
    lowest: float
    highest: float


@dataclass(frozen=True)
class FillFit:
    """Me = coefficient (L/G)^exponent with 95 % confidence intervals, and all that judges it."""

    model: Model
    coefficient: float
    coefficient_interval: Range
    exponent: float
    exponent_interval: Range
    correlation: float  # of ln coefficient and exponent
    residual_standard_deviation: float  # of ln Me: relative scatter of one point about the law
    r_squared: float  # of ln Me
    degrees_of_freedom: int
    points: tuple[FittedPoint, ...]
    outlier_limit: float | None  # of the studentised residual; None where too few points are left over
    tested: TestedRanges
    model_difference: ModelDifference | None  # None where no point can be reduced by both models
    line: StraightLine  # of ln Me against ln(L/G)

    def merkel_number(self, water_to_air_ratio: float) -> float:
        """Merkel number [-] of the law at an L/G above 0."""
        require_range("water_to_air_ratio", water_to_air_ratio, 1.0e-6, None, "law of the fill")
        return math.exp(self.line.at(math.log(water_to_air_ratio)))

    def merkel_number_band(self, water_to_air_ratio: float, confidence: float = CONFIDENCE) -> Band:
        """Confidence band of the law's Merkel number [-] at an L/G above 0; one more test scatters wider."""
        best = self.merkel_number(water_to_air_ratio)
        x = math.log(water_to_air_ratio)
        wide = student_t_quantile(0.5 + 0.5 * confidence, self.degrees_of_freedom) * self.line.standard_deviation_at(x)
        return Band(best * math.exp(-wide), best, best * math.exp(wide))

    def exponent_meaning(self) -> str:
        """What the sign of the exponent says, in words."""
        if self.exponent_interval.high < 0.0:
            return "n is negative: more water per air, smaller Merkel number"
        if self.exponent_interval.low > 0.0:
            return "n is positive: more water per air, larger Merkel number; unusual, check that L/G is water over air"
        return "the sign of n is not settled: its interval holds zero"


@sourced("nist-e-handbook", "critical values of Student's t")
def student_t_quantile(probability: float, degrees_of_freedom: int) -> float:
    """Quantile of Student's t distribution [-] for a probability in (0, 1) and at least 1 degree of freedom."""
    require_range("probability", probability, 1.0e-12, 1.0 - 1.0e-12, "quantile of Student's t")
    require_range("degrees_of_freedom", degrees_of_freedom, 1, None, "quantile of Student's t")
    from scipy.special import stdtrit

    return float(stdtrit(degrees_of_freedom, probability))


@sourced("jcgm-100-2008", "H.3, equations H.13a to H.13g")
@sourced("weisberg-2005", "leverages")
def fit_straight_line(x: Sequence[float], y: Sequence[float]) -> StraightLine:
    """Least squares of y on x, x without error and y of one unknown scatter.

    Equation: sums about the means, which lose no digits where x is far from 0.
    Args: x, y: at least 3 pairs, with at least two different x.
    Returns: StraightLine.
    Raises: OutOfRange with fewer pairs or a single x; ValueError where the lengths differ.
    """
    count = len(x)
    if len(y) != count:
        raise ValueError(f"{count} values of x and {len(y)} of y")
    require_range("count", count, LEAST_POINTS, None, "a line and its scatter")
    mean_x, mean_y = math.fsum(x) / count, math.fsum(y) / count
    sxx = math.fsum((a - mean_x) ** 2 for a in x)
    require_range("x", max(x) - min(x), 1.0e-12 * max(1.0, abs(mean_x)), None, "a line needs two different x")
    slope = math.fsum((a - mean_x) * (b - mean_y) for a, b in zip(x, y, strict=True)) / sxx
    intercept = mean_y - slope * mean_x
    residuals = tuple(b - mean_y - slope * (a - mean_x) for a, b in zip(x, y, strict=True))
    left_over = math.fsum(residual**2 for residual in residuals)
    syy = math.fsum((b - mean_y) ** 2 for b in y)
    scatter = math.sqrt(left_over / (count - 2))
    mean_square_x = 1.0 / count + mean_x**2 / sxx
    return StraightLine(
        intercept=intercept,
        slope=slope,
        intercept_standard_deviation=scatter * math.sqrt(mean_square_x),
        slope_standard_deviation=scatter / math.sqrt(sxx),
        correlation=-mean_x / math.sqrt(sxx * mean_square_x),
        residual_standard_deviation=scatter,
        r_squared=1.0 - left_over / syy if syy > 0.0 else 0.0,
        degrees_of_freedom=count - 2,
        residuals=residuals,
        leverages=tuple(1.0 / count + (a - mean_x) ** 2 / sxx for a in x),
        mean_x=mean_x,
        sum_of_squares_x=sxx,
    )


@sourced("fill-law", "Me = c (L/G)^n")
@sourced("jcgm-100-2008", "H.3, on logarithms")
@sourced("weisberg-2005", "outlier test")
def fit_fill(
    points: Sequence[FillTestPoint], model: Model, *, area_m2: float | None = None, where: str = "fill test"
) -> FillFit:
    """Fit Me = c (L/G)^n to raw fill-test points.

    Equation: ln Me = ln c + n ln(L/G); 95 % intervals by Student's t, of c through its logarithm.
    Args:
        points: at least 3 raw points on clean water, at more than one L/G.
        model: "poppe" or "merkel", by which the points are reduced.
        area_m2 [m2]: plan area of the fill, for the tested loadings.
        where: file and part, for messages.
    Returns: FillFit.
    Raises: InputError with too few points, one single L/G, or a point that no fill could reach (by its number).
    """
    if model not in _REDUCTIONS:
        raise InputError(where, "model", f"{model!r} is no model", "poppe or merkel")
    if area_m2 is not None:
        require_range("area_m2", area_m2, 1.0e-6, None, "plan area of the fill")
    if len(points) < LEAST_POINTS:
        raise InputError(where, "test points", f"only {len(points)}", f"at least {LEAST_POINTS}, better 6 or more")
    numbers = [_reduced(point, model, number, where) for number, point in enumerate(points, 1)]
    ratios = [point.water_flow_kg_s / point.dry_air_flow_kg_s for point in points]
    if max(ratios) < LEAST_RATIO_SPREAD * min(ratios):
        raise InputError(
            where,
            "test points",
            f"all lie at one L/G ({min(ratios):.4g} to {max(ratios):.4g}), so that they hold no exponent",
            f"L/G that differ by a factor of {LEAST_RATIO_SPREAD:g} at the very least, better 2",
        )
    line = fit_straight_line([math.log(ratio) for ratio in ratios], [math.log(number) for number in numbers])
    t = student_t_quantile(0.5 + 0.5 * CONFIDENCE, line.degrees_of_freedom)
    wide_intercept, wide_slope = t * line.intercept_standard_deviation, t * line.slope_standard_deviation
    others = [_other_number(point, model) for point in points]
    limit = _outlier_limit(len(points))
    return FillFit(
        model=model,
        coefficient=math.exp(line.intercept),
        coefficient_interval=Range(
            math.exp(line.intercept - wide_intercept), math.exp(line.intercept + wide_intercept)
        ),
        exponent=line.slope,
        exponent_interval=Range(line.slope - wide_slope, line.slope + wide_slope),
        correlation=line.correlation,
        residual_standard_deviation=line.residual_standard_deviation,
        r_squared=line.r_squared,
        degrees_of_freedom=line.degrees_of_freedom,
        points=_point_table(line, ratios, numbers, others, limit),
        outlier_limit=limit,
        tested=_tested_ranges(points, ratios, area_m2),
        model_difference=_model_difference(model, numbers, others),
        line=line,
    )


def extrapolation_flags(
    fit: FillFit, water_to_air_ratio: float, water_temperature_K: float, water_loading_kg_s_m2: float | None = None
) -> tuple[Notice, ...]:
    """Say where an operating point lies outside what was tested; empty within.

    Args: water_to_air_ratio [-]; water_temperature_K [K] at the spray, flagged when more than 10 K above the
        hottest tested; water_loading_kg_s_m2 [kg/s m2], judged only where the fit knows the fill's area.
    """
    tested = fit.tested
    flags = []
    ratio = tested.water_to_air_ratio
    if not ratio.holds(water_to_air_ratio):
        flags.append(
            Notice(
                "L/G outside the fill test",
                "Extrapolation: L/G {0} is outside the fill test ({1} to {2}).",
                ((water_to_air_ratio, "ratio"), (ratio.low, "ratio"), (ratio.high, "ratio")),
            )
        )
    hottest_K = tested.water_in_temperature_K.high
    if not water_temperature_K <= hottest_K + HOTTER_THAN_TESTED_difference_K:
        flags.append(
            Notice(
                "hotter than the fill test",
                "Extrapolation: the fill tests were cooler (water up to {0}) than the water at {1}.",
                ((hottest_K, "temperature"), (water_temperature_K, "temperature")),
            )
        )
    loading = tested.water_loading_kg_s_m2
    if water_loading_kg_s_m2 is not None and loading is not None and not loading.holds(water_loading_kg_s_m2):
        figures = (water_loading_kg_s_m2, loading.low, loading.high)
        flags.append(
            Notice(
                "water loading outside the fill test",
                "Extrapolation: water loading {0} is outside the fill test ({1} to {2}).",
                tuple((value, "water loading") for value in figures),
            )
        )
    return tuple(flags)


def fit_notices(fit: FillFit) -> tuple[Notice, ...]:
    """What the reader of a fit must know before using its law."""
    notices = []
    if fit.exponent_interval.high >= 0.0:
        notices.append(
            Notice(
                "sign of n",
                f"{fit.exponent_meaning()[0].upper()}{fit.exponent_meaning()[1:]} ({{0}} to {{1}}).",
                ((fit.exponent_interval.low, "ratio"), (fit.exponent_interval.high, "ratio")),
            )
        )
    outliers = [str(point.number) for point in fit.points if point.outlier]
    if outliers:
        text = f"Far off the law of the others: test point {', '.join(outliers)}. Look at the raw reading; "
        notices.append(Notice("outlier", text + "nothing was left out of the fit."))
    if fit.outlier_limit is None:
        notices.append(
            Notice("few test points", f"{len(fit.points)} test points settle the law, but cannot show an outlier.")
        )
    return tuple(notices)


def _by_poppe(point: FillTestPoint) -> float:
    return poppe_merkel_number(
        water_in_temperature_K=point.water_in_temperature_K,
        water_out_temperature_K=point.water_out_temperature_K,
        water_flow_kg_s=point.water_flow_kg_s,
        air_temperature_K=point.air_temperature_K,
        air_humidity_ratio_kg_kg=point.air_humidity_ratio_kg_kg,
        dry_air_flow_kg_s=point.dry_air_flow_kg_s,
        pressure_Pa=point.pressure_Pa,
    )


def _by_merkel(point: FillTestPoint) -> float:
    return merkel_method_number(
        water_in_temperature_K=point.water_in_temperature_K,
        water_out_temperature_K=point.water_out_temperature_K,
        water_flow_kg_s=point.water_flow_kg_s,
        air_temperature_K=point.air_temperature_K,
        air_humidity_ratio_kg_kg=point.air_humidity_ratio_kg_kg,
        dry_air_flow_kg_s=point.dry_air_flow_kg_s,
        pressure_Pa=point.pressure_Pa,
    )


_REDUCTIONS: Final[dict[str, Callable[[FillTestPoint], float]]] = {"poppe": _by_poppe, "merkel": _by_merkel}


def _reduced(point: FillTestPoint, model: Model, number: int, where: str) -> float:
    try:
        for name in ("water_flow_kg_s", "dry_air_flow_kg_s", "pressure_Pa"):
            require_range(name, getattr(point, name), 1.0e-9, 1.0e9, "a measured value")
        return _REDUCTIONS[model](point)
    except VaporwrightError as error:
        allowed = "readings that belong together: water in above water out, and out above the air's wet bulb"
        raise InputError(where, f"test point {number}", str(error), allowed) from None


def _other_number(point: FillTestPoint, model: Model) -> float | None:
    try:
        return _REDUCTIONS["merkel" if model == "poppe" else "poppe"](point)
    except VaporwrightError:
        return None


def _outlier_limit(count: int) -> float | None:
    """Limit of the largest studentised residual of all points: 5 % by Bonferroni, and never below 3."""
    if count <= LEAST_POINTS:
        return None
    return max(LEAST_OUTLIER_LIMIT, student_t_quantile(1.0 - 0.025 / count, count - 3))


def _studentised(line: StraightLine, index: int) -> float | None:
    """Residual over its standard deviation, the scatter taken from all other points."""
    residual, free = line.residuals[index], 1.0 - line.leverages[index]
    if line.degrees_of_freedom < 2 or free < 1.0e-9:
        return None
    others = line.degrees_of_freedom * line.residual_standard_deviation**2 - residual**2 / free
    variance = max(others / (line.degrees_of_freedom - 1), _REDUCTION_NOISE**2)
    return residual / math.sqrt(variance * free)


def _point_table(
    line: StraightLine,
    ratios: Sequence[float],
    numbers: Sequence[float],
    others: Sequence[float | None],
    limit: float | None,
) -> tuple[FittedPoint, ...]:
    rows = []
    for index, (ratio, number, other) in enumerate(zip(ratios, numbers, others, strict=True)):
        studentised = _studentised(line, index)
        rows.append(
            FittedPoint(
                number=index + 1,
                water_to_air_ratio=ratio,
                merkel_number=number,
                other_model_number=other,
                law_merkel_number=math.exp(line.at(math.log(ratio))),
                residual=line.residuals[index],
                leverage=line.leverages[index],
                studentised_residual=studentised,
                outlier=studentised is not None and limit is not None and abs(studentised) > limit,
            )
        )
    return tuple(rows)


def _model_difference(model: Model, numbers: Sequence[float], others: Sequence[float | None]) -> ModelDifference | None:
    ratios = [
        number / other if model == "poppe" else other / number
        for number, other in zip(numbers, others, strict=True)
        if other is not None
    ]
    if not ratios:
        return None
    return ModelDifference(math.fsum(ratios) / len(ratios), min(ratios), max(ratios))


def _tested_ranges(points: Sequence[FillTestPoint], ratios: Sequence[float], area_m2: float | None) -> TestedRanges:
    def of(values: Sequence[float]) -> Range:
        return Range(min(values), max(values))

    water = of([point.water_flow_kg_s for point in points])
    air = of([point.dry_air_flow_kg_s for point in points])
    return TestedRanges(
        water_to_air_ratio=of(ratios),
        water_in_temperature_K=of([point.water_in_temperature_K for point in points]),
        water_flow_kg_s=water,
        dry_air_flow_kg_s=air,
        air_temperature_K=of([point.air_temperature_K for point in points]),
        air_humidity_ratio_kg_kg=of([point.air_humidity_ratio_kg_kg for point in points]),
        pressure_Pa=of([point.pressure_Pa for point in points]),
        water_loading_kg_s_m2=None if area_m2 is None else Range(water.low / area_m2, water.high / area_m2),
        dry_air_loading_kg_s_m2=None if area_m2 is None else Range(air.low / area_m2, air.high / area_m2),
    )
