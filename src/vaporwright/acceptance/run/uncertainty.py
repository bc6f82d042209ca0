"""Propagation of uncertainty, by the law of propagation and by Monte Carlo, and distributions that both lean on."""

from __future__ import annotations

import math
from collections.abc import Sequence

from vaporwright.foundation.errors import require_range
from vaporwright.foundation.register import sourced

COVERAGE = 0.95
COVERAGE_FACTOR = 1.959963984540054  # of the normal distribution, for 95 %
LEAST_DRAWS = 100  # fewer leave the ends of the interval to a handful of draws
MOST_DEVIATES = 8.0  # by which a floor may lie above the mean of what it cuts off


@sourced("gum", "5.1.2, equation 10")
def combined_standard_uncertainty(contributions: Sequence[float]) -> float:
    """Standard uncertainty of a result from those of its independent sources, each times its sensitivity.

    Equation: u = sqrt(sum (c_i u_i)^2).
    """
    return math.sqrt(math.fsum(contribution**2 for contribution in contributions))


@sourced("jcgm-101-2008", "7.7.1 and 7.7.2: probabilistically symmetric coverage interval")
def coverage_interval(draws: Sequence[float], probability: float = COVERAGE) -> tuple[float, float]:
    """The interval that leaves as many draws below it as above.

    Equation: of M sorted draws, q = p M (its whole part of p M + 1/2) lie between y_r and y_(r+q), r = (M - q) / 2
        rounded half up.
    Args: draws: at least 100. probability [-]: between 0 and 1.
    Raises: OutOfRange with fewer draws, or a probability so high that no draw is left outside.
    """
    require_range("draws", len(draws), LEAST_DRAWS, None, "coverage interval")
    require_range("probability", probability, 0.01, 1.0 - 2.0 / len(draws), "coverage interval")
    ordered = sorted(draws)
    inside = math.floor(probability * len(ordered) + 0.5)
    below = max(math.floor(0.5 * (len(ordered) - inside) + 0.5), 1)
    return ordered[below - 1], ordered[below - 1 + inside]


@sourced("normal-above-a-floor", "mean and standard deviation of the upper part")
def normal_above(least: float) -> tuple[float, float]:
    """Mean and standard deviation of a standard normal deviate that is known to be at least `least`.

    Equation: m = phi(a) / (1 - Phi(a)), s^2 = 1 + a m - m^2.
    Raises: OutOfRange above 8, where nothing is left of the distribution.
    """
    require_range("least", least, None, MOST_DEVIATES, "heat that the tank took, over what the source can give")
    above = 0.5 * math.erfc(least / math.sqrt(2.0))
    mean = math.exp(-0.5 * least**2) / math.sqrt(2.0 * math.pi) / above
    return mean, math.sqrt(1.0 + least * mean - mean**2)


@sourced("wilson-hilferty-1931", "cube root of chi-square over its degrees of freedom is nearly normal")
def chi_square_deviate(sum_of_squares: float, degrees_of_freedom: int) -> float:
    """The normal deviate that is exceeded as often as this sum of squares of so many standard normal deviates."""
    share = 2.0 / (9.0 * degrees_of_freedom)
    cube_root = math.cbrt(sum_of_squares / degrees_of_freedom)
    return (cube_root - (1.0 - share)) / math.sqrt(share)
