"""A tower's law refined by runs, against numpy's least squares with the prior as two rows more."""

import math

import numpy as np
import pytest

from support import verifies
from vaporwright.acceptance.guarantee.refinement import RunPoint, SERVICE_share, UNITS_share, refine
from vaporwright.files.catalogue_file import read_catalogue_file
from vaporwright.unit.catalogue import Fill
from vaporwright.unit.fill_fit import fit_fill

TOWERS = read_catalogue_file(None).towers
RUNS = (
    RunPoint("a", "0" * 64, 2.4, 0.205, 0.05),
    RunPoint("b", "1" * 64, 3.1, 0.190, 0.03),
    RunPoint("c", "2" * 64, 2.8, 0.171, 0.08),
)


def by_numpy(prior: np.ndarray, covariance: np.ndarray, runs: tuple[RunPoint, ...]) -> tuple[np.ndarray, np.ndarray]:
    whiten = np.linalg.inv(np.linalg.cholesky(covariance))
    rows, right = [*whiten], [*(whiten @ prior)]
    for run in runs:
        spread = math.hypot(run.standard_share, UNITS_share)
        rows.append(np.array([1.0, math.log(run.water_to_air_ratio)]) / spread)
        right.append(math.log(run.merkel_number) / spread)
    matrix = np.array(rows)
    solution, *_ = np.linalg.lstsq(matrix, np.array(right), rcond=None)
    return solution, np.linalg.inv(matrix.T @ matrix)


def prior_of(fill: Fill) -> tuple[np.ndarray, np.ndarray]:
    """The raw points' line by numpy's own least squares, the scatter of service put on its level."""
    fit = fit_fill(fill.test_points, "poppe")
    x = np.log([point.water_to_air_ratio for point in fit.points])
    y = np.log([point.merkel_number for point in fit.points])
    matrix = np.column_stack([np.ones_like(x), x])
    solution, residual, *_ = np.linalg.lstsq(matrix, y, rcond=None)
    covariance = residual[0] / (len(x) - 2) * np.linalg.inv(matrix.T @ matrix)
    covariance[0, 0] += SERVICE_share**2
    return solution, covariance


@verifies("acceptance.guarantee.refinement.refine")
def test_the_refined_law_is_least_squares_with_a_prior() -> None:
    fill = next(tower.fill for tower in TOWERS.values() if tower.fill.test_points)
    solution, covariance = by_numpy(*prior_of(fill), RUNS)
    found = refine(fill, RUNS)
    assert math.log(found.after.coefficient) == pytest.approx(solution[0], abs=1e-6)
    assert found.after.exponent == pytest.approx(solution[1], abs=1e-6)
    half = (found.after_exponent.high - found.after_exponent.low) / 2.0
    assert half == pytest.approx(1.959964 * math.sqrt(covariance[1, 1]), rel=1e-5)
    spread = math.log(found.after_coefficient.high / found.after_coefficient.low) / 2.0
    assert spread == pytest.approx(1.959964 * math.sqrt(covariance[0, 0]), rel=1e-5)
    assert found.correlation == pytest.approx(
        covariance[0, 1] / math.sqrt(covariance[0, 0] * covariance[1, 1]), rel=1e-5
    )
