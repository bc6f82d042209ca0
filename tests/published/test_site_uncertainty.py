"""Propagation of uncertainty in a site prediction against worked examples of the GUM and its first supplement."""

from __future__ import annotations

import math

import numpy as np
import pytest

from support import verifies
from vaporwright.acceptance.run.uncertainty import (
    chi_square_deviate,
    combined_standard_uncertainty,
    coverage_interval,
    normal_above,
)
from vaporwright.foundation.errors import OutOfRange


@verifies("acceptance.run.uncertainty.combined_standard_uncertainty")
def test_end_gauge() -> None:
    # JCGM 100:2008 (GUM), H.1, from memory: 25, 9.7, 2.9 and 16.6 nm make 32 nm.
    assert combined_standard_uncertainty([25.0, -9.7, -2.9, -16.6]) == pytest.approx(32.0, abs=0.5)


def _sum_of_four(half_widths: tuple[float, ...], draws: int) -> list[float]:
    random = np.random.default_rng(101)
    return list(sum(random.uniform(-half, half, draws) for half in half_widths))


@verifies("acceptance.run.uncertainty.coverage_interval")
def test_additive_model_of_the_supplement() -> None:
    # JCGM 101:2008, 9.2.2 to 9.2.4, from memory: four inputs of standard deviation 1, normal, then rectangular, then
    # one of these ten times as wide. Tolerances are four standard deviations of the ends of so many draws.
    draws = 200_000
    normal = list(np.random.default_rng(7).standard_normal((4, draws)).sum(axis=0))
    root = math.sqrt(3.0)
    for drawn, expected, near in (
        (normal, 3.92, 0.05),
        (_sum_of_four((root,) * 4, draws), 3.88, 0.04),
        (_sum_of_four((root, root, root, 10.0 * root), draws), 17.0, 0.08),
    ):
        low, high = coverage_interval(drawn)
        assert low == pytest.approx(-expected, abs=near)
        assert high == pytest.approx(expected, abs=near)


@verifies("acceptance.run.uncertainty.coverage_interval")
def test_four_rectangles_by_their_own_distribution() -> None:
    # The sum of four rectangles is the cubic B-spline; its upper 2.5 % end solves (2 - x)^4 / 24 = 0.025 in units of
    # their width, 2 sqrt 3: x = 2 - 0.6^(1/4).
    end = (2.0 - 0.6**0.25) * 2.0 * math.sqrt(3.0)
    assert end == pytest.approx(3.88, abs=0.005)
    assert coverage_interval(_sum_of_four((math.sqrt(3.0),) * 4, 200_000))[1] == pytest.approx(end, abs=0.04)


@verifies("acceptance.run.uncertainty.coverage_interval")
def test_ranks_by_hand() -> None:
    # M = 1000, p = 0.95: q = 950, r = 25: from the 25th to the 975th.
    assert coverage_interval([float(rank) for rank in range(1, 1001)]) == (25.0, 975.0)


@verifies("acceptance.run.uncertainty.chi_square_deviate")
@pytest.mark.parametrize(
    ("degrees_of_freedom", "upper_5_percent", "upper_point_1_percent"),
    [(5, 11.070, 20.515), (10, 18.307, 29.588), (15, 24.996, 37.697)],
)
def test_usual_tables_of_chi_square(
    degrees_of_freedom: int, upper_5_percent: float, upper_point_1_percent: float
) -> None:
    assert chi_square_deviate(upper_5_percent, degrees_of_freedom) == pytest.approx(1.645, abs=0.03)
    assert chi_square_deviate(upper_point_1_percent, degrees_of_freedom) == pytest.approx(3.090, abs=0.03)


@verifies("acceptance.run.uncertainty.normal_above")
def test_upper_part_of_a_normal_distribution() -> None:
    mean, standard = normal_above(0.0)  # the half-normal distribution
    assert mean == pytest.approx(math.sqrt(2.0 / math.pi), rel=1e-12)
    assert standard == pytest.approx(math.sqrt(1.0 - 2.0 / math.pi), rel=1e-12)
    assert normal_above(-9.0) == pytest.approx((0.0, 1.0), abs=1e-12)
    for floor in (-1.3, 0.7, 2.5):
        x = np.linspace(floor, floor + 12.0, 200_001)
        density = np.exp(-0.5 * x**2)
        whole = float(np.sum(density))
        by_hand = float(np.sum(x * density)) / whole
        spread = math.sqrt(float(np.sum((x - by_hand) ** 2 * density)) / whole)
        assert normal_above(floor) == pytest.approx((by_hand, spread), rel=1e-3)
    with pytest.raises(OutOfRange, match="least"):
        normal_above(9.0)
