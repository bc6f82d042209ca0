"""Laws of a site prediction: what more heat, more readings and another guarantee must do to it."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
from hypothesis import Phase, example, given, settings
from hypothesis import strategies as st

from example_rigs import example_answer
from site_runs import as_tested
from vaporwright.acceptance.guarantee.site_prediction import SitePrediction, predict_site
from vaporwright.acceptance.run.log import Measured
from vaporwright.acceptance.run.uncertainty import combined_standard_uncertainty, coverage_interval, normal_above
from vaporwright.foundation.errors import InputError
from vaporwright.unit.as_found import AsFound

OPTIONAL = (
    "spray_flow_m3_s",
    "return_temperature_K",
    "air_flow_m3_s",
    "exhaust_temperature_K",
    "exhaust_wet_bulb_K",
    "heat_drawn_W",
    "stack_temperature_K",
)


DESIGN = AsFound()


@cache
def predicted(found: AsFound = DESIGN, without: str = "") -> SitePrediction:
    answer = example_answer("gas")
    readings, conditions, _ = as_tested(answer, found)
    if without:
        readings = replace(readings, **{without: None})  # type: ignore[arg-type]
    return predict_site(readings, conditions, answer, seasons=())


def test_more_heat_found_is_more_capability() -> None:
    percents = [predicted(AsFound(input_factor=factor)).capability_percent for factor in (0.94, 0.97, 1.0, 1.03)]
    assert percents == sorted(percents)
    # Heat limits: what evaporates goes nearly with it.
    assert percents[-1] - percents[0] == pytest.approx(9.0, abs=1.5)


def test_a_fouled_fill_moves_a_heat_limited_unit_little() -> None:
    # A hotter tank loses more, but gives more of its heat as vapour: the rate says next to nothing of the fill.
    clean, fouled = predicted(), predicted(AsFound(merkel_factor=0.7))
    assert fouled.capability_percent == pytest.approx(clean.capability_percent, abs=1.5)
    merkel = next(entry.value for entry in fouled.factors if entry.name == "merkel")
    assert merkel == pytest.approx(0.7, rel=0.03)


@pytest.mark.parametrize("name", OPTIONAL)
def test_a_reading_left_out_never_makes_the_interval_narrower(name: str) -> None:
    assert predicted(without=name).standard_uncertainty_percent >= 0.999 * predicted().standard_uncertainty_percent


READ = ("evaporation_kg_s", "tank_temperature_K", "return_temperature_K", "air_flow_m3_s", "pressure_Pa")


@settings(max_examples=15, deadline=None, phases=(Phase.explicit, Phase.generate))
@given(name=st.sampled_from(READ), value=st.one_of(st.floats(), st.floats(1e-3, 1e6)))
@example("evaporation_kg_s", 1e-300)
@example("evaporation_kg_s", 1e30)
@example("tank_temperature_K", 371.0)
@example("air_flow_m3_s", 1e-3)
def test_whatever_is_read_is_predicted_from_or_refused(name: str, value: float) -> None:
    answer = example_answer("gas")
    readings, conditions, _ = as_tested(answer, AsFound())
    usual: Measured = getattr(readings, name)
    changed = replace(readings, **{name: Measured(value, usual.standard_uncertainty)})  # type: ignore[arg-type]
    try:
        found = predict_site(changed, conditions, answer, seasons=())
    except InputError as error:
        where = error.where
    else:
        where = "performance run"
        assert 80.0 < found.capability_percent < 120.0
        assert abs(value / usual.value - 1.0) < 0.1
    assert where == "performance run"


@given(st.lists(st.floats(-1e6, 1e6), min_size=100, max_size=300))
def test_an_interval_leaves_a_twentieth_outside(draws: list[float]) -> None:
    low, high = coverage_interval(draws)
    outside = sum(not low <= draw <= high for draw in draws)
    assert outside <= 0.05 * len(draws) + 1.0


@given(st.lists(st.integers(-1000, 1000), min_size=1, max_size=20))
def test_uncertainties_add_like_sides_of_a_box(parts: list[int]) -> None:
    whole = combined_standard_uncertainty(parts)
    assert max(map(abs, parts)) <= whole * (1.0 + 1e-12)
    assert whole <= sum(map(abs, parts)) * (1.0 + 1e-12)


@given(st.floats(-8.0, 8.0))
def test_what_is_cut_off_moves_the_mean_up_and_narrows(least: float) -> None:
    mean, standard = normal_above(least)
    assert mean >= max(least, 0.0)
    assert 0.0 < standard <= 1.0
