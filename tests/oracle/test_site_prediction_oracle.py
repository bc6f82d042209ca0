"""Fits and site predictions against a library's least squares and against units that follow another tower model."""

from __future__ import annotations

import math
import statistics

import numpy as np
import pytest
from scipy.optimize import least_squares

from coverage_study import simulated_tests
from example_rigs import example_answer
from site_runs import as_tested
from support import verifies
from vaporwright.acceptance.guarantee import unit_fit
from vaporwright.acceptance.guarantee.site_prediction import predict_site, predict_site_by_monte_carlo
from vaporwright.acceptance.guarantee.unit_fit import fit_unit
from vaporwright.unit.as_found import AsFound


@verifies("acceptance.guarantee.unit_fit.fit_unit")
@pytest.mark.parametrize("kind", ["gas", "electric", "steam"])
def test_terms_are_where_a_library_finds_the_least_squares(kind: str) -> None:
    answer = example_answer(kind)
    planted = AsFound(merkel_factor=0.75, air_factor=1.08, spray_factor=0.93, heat_factor=0.98)
    readings, conditions, _ = as_tested(answer, planted)
    fit = fit_unit(readings, conditions, answer.unit)
    run = unit_fit._Run(answer.unit, conditions, readings)
    start, spreads = np.array(run.start), np.array(run.spreads)

    def rows(moved: np.ndarray) -> np.ndarray:
        return np.concatenate([moved, run.deviates(start + spreads * moved)])

    found = least_squares(rows, np.zeros(len(start)), method="lm", diff_step=1e-2, x_scale=1.0)
    ours = (fit.values - start) / spreads
    # Slopes over 0.3 of a spread and over 0.01 differ a little; a seventh of what is uncertain is near enough.
    assert np.max(np.abs(ours - found.x) / np.sqrt(np.diag(fit.covariance))) < 0.15
    assert np.sum(rows(ours) ** 2) == pytest.approx(2.0 * found.cost, rel=0.01, abs=0.01)
    jacobian = np.vstack([np.eye(len(start)), found.jac[len(start) :]])
    covariance = np.linalg.inv(jacobian.T @ jacobian)
    assert np.sqrt(np.diag(fit.covariance)) == pytest.approx(np.sqrt(np.diag(covariance)), rel=0.05)


@pytest.mark.slow
@verifies(
    "acceptance.guarantee.site_prediction.predict_site",
    "acceptance.guarantee.site_prediction.predict_site_by_monte_carlo",
)
def test_units_of_another_tower_model_do_at_the_site_what_was_predicted() -> None:
    answer = example_answer("electric")
    scaled, drawn = [], []
    for one in simulated_tests(answer, 16, 77):
        found = predict_site(one.readings, one.conditions, answer, seasons=())
        true = 100.0 * one.site_kg_s / answer.capacity_kg_s
        scaled.append((found.capability_percent - true) / found.standard_uncertainty_percent)
        if len(drawn) < 2:
            by_draws = predict_site_by_monte_carlo(one.readings, one.conditions, answer, draws=150)
            drawn.append((by_draws.capability_percent - true) / by_draws.standard_uncertainty_percent)
    # Of 16 standard normal deviates, the root mean square is below 1.5 in 998 of 1,000 samples.
    assert math.sqrt(statistics.fmean(deviate**2 for deviate in scaled)) < 1.5
    assert all(abs(deviate) < 3.5 for deviate in scaled + drawn)
