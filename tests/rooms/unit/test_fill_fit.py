"""The catalogue's fit: what it says, what it refuses, and whether its intervals hold what they promise."""

from __future__ import annotations

import math
import random
import sys
from dataclasses import replace

import pytest

from vaporwright.equipment.tower import rate_counterflow
from vaporwright.foundation.errors import InputError, OutOfRange
from vaporwright.properties.moist_air import humidity_ratio_from_wet_bulb_kg_kg
from vaporwright.unit.catalogue import FillTestPoint
from vaporwright.unit.fill_fit import (
    FillFit,
    extrapolation_flags,
    fit_fill,
    fit_notices,
    fit_straight_line,
    student_t_quantile,
)

# The law and the scatter of a published set of tests on a 33-point campaign: Me = 1.532 (L/G)^-0.6015, R2 0.846
# (wet cooling tower dataset of the Plataforma Solar de Almeria, third-party Poppe analysis; read in a stored copy).
COEFFICIENT, EXPONENT, R_SQUARED = 1.532, -0.6015, 0.846
RATIOS = (0.8, 1.0, 1.25, 1.6, 2.0, 2.5, 3.1, 3.8)
PRESSURE_Pa = 101325.0
HUMIDITY = humidity_ratio_from_wet_bulb_kg_kg(295.15, 289.15, PRESSURE_Pa)


def law(ratio: float, coefficient: float = 0.45) -> float:
    return coefficient * ratio**EXPONENT


def simulated_reading(ratio: float, merkel_number: float, water_K: float = 318.15) -> FillTestPoint:
    """The readings that a fill of this Merkel number leaves, by the tower model itself."""
    air = 2.0
    readings = rate_counterflow(
        water_temperature_K=water_K,
        water_flow_kg_s=air * ratio,
        air_temperature_K=295.15,
        air_humidity_ratio_kg_kg=HUMIDITY,
        dry_air_flow_kg_s=air,
        pressure_Pa=PRESSURE_Pa,
        merkel_number=merkel_number,
    )
    return FillTestPoint(
        water_in_temperature_K=water_K,
        water_out_temperature_K=readings.water_out_temperature_K,
        water_flow_kg_s=air * ratio,
        air_temperature_K=295.15,
        air_humidity_ratio_kg_kg=HUMIDITY,
        dry_air_flow_kg_s=air,
        pressure_Pa=PRESSURE_Pa,
    )


def campaign(scatter: float = 0.0, seed: int = 1, water_K: float = 318.15) -> list[FillTestPoint]:
    noise = random.Random(seed)
    return [simulated_reading(ratio, law(ratio) * math.exp(noise.gauss(0.0, scatter)), water_K) for ratio in RATIOS]


@pytest.fixture(scope="module")
def fit() -> FillFit:
    return fit_fill(campaign(0.03), "poppe", area_m2=0.8)


def test_law_comes_back_from_readings_without_noise() -> None:
    fit = fit_fill(campaign(), "poppe")
    assert fit.coefficient == pytest.approx(0.45, rel=1e-4)
    assert fit.exponent == pytest.approx(EXPONENT, abs=1e-4)
    assert fit.r_squared == pytest.approx(1.0, abs=1e-6)
    assert fit.residual_standard_deviation < 1e-4
    assert not any(point.outlier for point in fit.points)
    assert fit.merkel_number(2.2) == pytest.approx(law(2.2), rel=1e-4)


def test_report_of_a_fit(fit: FillFit) -> None:
    assert fit.model == "poppe"
    assert fit.degrees_of_freedom == 6
    assert 0.01 < fit.residual_standard_deviation < 0.06
    assert fit.coefficient_interval.low < fit.coefficient < fit.coefficient_interval.high
    assert fit.exponent_interval.low < fit.exponent < fit.exponent_interval.high < 0.0
    assert "negative" in fit.exponent_meaning()
    assert -1.0 < fit.correlation < 0.0
    assert [point.number for point in fit.points] == list(range(1, 9))
    for point, ratio in zip(fit.points, RATIOS, strict=True):
        assert point.water_to_air_ratio == pytest.approx(ratio)
        assert point.law_merkel_number == pytest.approx(fit.merkel_number(ratio), rel=1e-12)
        assert point.residual == pytest.approx(math.log(point.merkel_number / point.law_merkel_number), abs=1e-12)
    assert fit.tested.water_to_air_ratio == pytest.approx((0.8, 3.8))
    assert fit.tested.water_in_temperature_K == (318.15, 318.15)
    assert fit.tested.water_loading_kg_s_m2 == pytest.approx((2.0, 9.5))
    assert fit.tested.dry_air_loading_kg_s_m2 == pytest.approx((2.5, 2.5))
    assert fit.model_difference is not None
    assert 1.05 < fit.model_difference.lowest <= fit.model_difference.mean <= fit.model_difference.highest < 1.12
    assert fit_notices(fit) == ()


def test_loadings_are_left_open_without_the_area() -> None:
    tested = fit_fill(campaign(0.03), "poppe").tested
    assert tested.water_loading_kg_s_m2 is None
    assert tested.dry_air_loading_kg_s_m2 is None


def test_band_is_narrowest_at_the_middle_of_the_points(fit: FillFit) -> None:
    middle = math.exp(fit.line.mean_x)

    def width(ratio: float) -> float:
        band = fit.merkel_number_band(ratio)
        assert band.low < band.best < band.high
        return math.log(band.high / band.low)

    assert width(middle) < width(0.8) < width(0.3)
    assert width(middle) < width(3.8) < width(10.0)
    t = student_t_quantile(0.975, 6)
    assert width(middle) == pytest.approx(2.0 * t * fit.residual_standard_deviation / math.sqrt(8.0), rel=1e-12)
    # At L/G = 1 the band is the interval of the coefficient.
    assert fit.merkel_number_band(1.0) == pytest.approx(
        (fit.coefficient_interval.low, fit.coefficient, fit.coefficient_interval.high), rel=1e-12
    )
    wide, narrow = fit.merkel_number_band(2.0, 0.99), fit.merkel_number_band(2.0, 0.9)
    assert wide.low < narrow.low < narrow.high < wide.high


def test_studentised_residual_is_that_of_the_fit_without_the_point(fit: FillFit) -> None:
    x = [math.log(point.water_to_air_ratio) for point in fit.points]
    y = [math.log(point.merkel_number) for point in fit.points]
    for index, point in enumerate(fit.points):
        without = fit_straight_line(x[:index] + x[index + 1 :], y[:index] + y[index + 1 :])
        missed_by = y[index] - without.at(x[index])
        # The error of one more reading: its own scatter and the line's.
        expected = missed_by / math.hypot(without.residual_standard_deviation, without.standard_deviation_at(x[index]))
        assert point.studentised_residual == pytest.approx(expected, rel=1e-9)


def test_outlier_is_named_and_kept() -> None:
    points = campaign(0.01)
    points[4] = simulated_reading(RATIOS[4], 1.25 * law(RATIOS[4]))
    fit = fit_fill(points, "poppe")
    assert [point.number for point in fit.points if point.outlier] == [5]
    assert len(fit.points) == 8
    (notice,) = fit_notices(fit)
    assert notice.name == "outlier"
    assert "test point 5" in notice.text


def test_outlier_limit_follows_t() -> None:
    # 8 points, 5 degrees of freedom without one: the quantile at 1 - 0.05/16.
    limit = fit_fill(campaign(0.03), "poppe").outlier_limit
    assert limit == pytest.approx(student_t_quantile(1.0 - 0.05 / 16.0, 5))
    assert limit is not None
    assert limit > 3.0


def test_honest_scatter_rarely_shows_an_outlier() -> None:
    noise = random.Random(5)
    x = [math.log(ratio) for ratio in RATIOS]
    from vaporwright.unit.fill_fit import _outlier_limit, _studentised

    limit = _outlier_limit(len(x))
    assert limit is not None
    flagged = 0
    for _ in range(1000):
        line = fit_straight_line(x, [noise.gauss(0.0, 0.03) for _ in x])
        residuals = [_studentised(line, index) for index in range(len(x))]
        flagged += any(residual is not None and abs(residual) > limit for residual in residuals)
    print(f"campaigns with an outlier flagged by chance: {flagged / 10:.1f} %")
    assert flagged < 65  # 5 % meant, 2 standard deviations of the count above it


def test_three_points_fit_but_show_no_outlier() -> None:
    fit = fit_fill(campaign(0.02)[::3], "poppe")
    assert fit.degrees_of_freedom == 1
    assert fit.outlier_limit is None
    assert all(point.studentised_residual is None for point in fit.points)
    assert "few test points" in [notice.name for notice in fit_notices(fit)]


def test_a_point_that_alone_settles_the_exponent_has_no_studentised_residual() -> None:
    points = [simulated_reading(1.5, law(1.5) * factor) for factor in (0.98, 1.0, 1.02)] + [
        simulated_reading(3.0, law(3.0))
    ]
    fit = fit_fill(points, "poppe")
    assert fit.points[3].leverage == pytest.approx(1.0)
    assert fit.points[3].studentised_residual is None
    assert fit.points[0].studentised_residual is not None


def test_sign_of_the_exponent_is_stated() -> None:
    rising = fit_fill([simulated_reading(ratio, 0.2 * ratio**0.5) for ratio in RATIOS[:5]], "poppe")
    assert "positive" in rising.exponent_meaning()
    assert [notice.name for notice in fit_notices(rising)] == ["sign of n"]
    unsettled = fit_fill(
        [simulated_reading(ratio, 0.3 * factor) for ratio, factor in zip(RATIOS, (0.9, 1.1) * 4, strict=True)], "poppe"
    )
    assert "not settled" in unsettled.exponent_meaning()
    shown = fit_notices(unsettled)[0].words(lambda value, _: f"{value:.2f}")
    assert shown.startswith("The sign of n is not settled: its interval holds zero (-")


def test_nothing_is_flagged_within_the_tested_range(fit: FillFit) -> None:
    assert extrapolation_flags(fit, 0.8, 318.15) == ()
    assert extrapolation_flags(fit, 3.8, 328.15, 9.5) == ()


def test_extrapolation_is_flagged(fit: FillFit) -> None:
    names = [flag.name for flag in extrapolation_flags(fit, 3.9, 328.2, 1.9)]
    assert names == ["L/G outside the fill test", "hotter than the fill test", "water loading outside the fill test"]
    assert [flag.name for flag in extrapolation_flags(fit, 0.7, 310.0)] == ["L/G outside the fill test"]
    (hot,) = extrapolation_flags(fit, 2.0, 340.0)
    assert hot.words(lambda value, quantity: f"{value:.2f} ({quantity})") == (
        "Extrapolation: the fill tests were cooler (water up to 318.15 (temperature)) "
        "than the water at 340.00 (temperature)."
    )
    assert extrapolation_flags(fit_fill(campaign(0.03), "poppe"), 2.0, 320.0, 99.0) == ()  # area not known


def test_too_few_points() -> None:
    with pytest.raises(InputError, match=r"shop\.toml: T6: test points: only 2\. Allowed: at least 3"):
        fit_fill(campaign()[:2], "poppe", where="shop.toml: T6")


def test_one_single_ratio() -> None:
    points = [simulated_reading(2.0 * factor, 0.3) for factor in (1.0, 1.01, 1.02, 1.03)]
    with pytest.raises(InputError, match=r"all lie at one L/G \(2 to 2\.06\), so that they hold no exponent"):
        fit_fill(points, "poppe")


@pytest.mark.parametrize("model", ["poppe", "merkel"])
@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"water_out_temperature_K": 285.0}, "no fill cools water"),  # under the wet bulb of 289.15 K
        ({"water_out_temperature_K": 320.0}, "a fill test cools the water"),
        ({"water_in_temperature_K": 400.0}, "400"),
        ({"dry_air_flow_kg_s": 0.0}, "dry_air_flow_kg_s = 0"),
        ({"water_flow_kg_s": -1.0}, "water_flow_kg_s = -1"),
        ({"pressure_Pa": math.nan}, "pressure_Pa = nan"),
        ({"air_humidity_ratio_kg_kg": -0.01}, "humidity"),
    ],
)
def test_impossible_point_is_named(model: str, change: dict[str, float], message: str) -> None:
    points = campaign()
    points[2] = replace(points[2], **change)
    with pytest.raises(InputError, match=message) as caught:
        fit_fill(points, model, where="shop.toml")  # type: ignore[arg-type]
    assert str(caught.value).startswith("shop.toml: test point 3: ")


def test_unknown_model_and_bad_figures(fit: FillFit) -> None:
    with pytest.raises(InputError, match=r"'popper' is no model\. Allowed: poppe or merkel"):
        fit_fill(campaign(), "popper")  # type: ignore[arg-type]
    with pytest.raises(OutOfRange, match="area_m2"):
        fit_fill(campaign(), "poppe", area_m2=0.0)
    with pytest.raises(OutOfRange, match="water_to_air_ratio"):
        fit.merkel_number(0.0)
    with pytest.raises(OutOfRange, match="probability"):
        fit.merkel_number_band(2.0, 1.0)
    with pytest.raises(OutOfRange, match="degrees_of_freedom"):
        student_t_quantile(0.975, 0)
    with pytest.raises(OutOfRange, match="two different x"):
        fit_straight_line((2.0, 2.0, 2.0), (1.0, 2.0, 3.0))
    with pytest.raises(ValueError, match="3 values of x and 2 of y"):
        fit_straight_line((1.0, 2.0, 3.0), (1.0, 2.0))


def test_law_by_merkels_numbers_is_lower() -> None:
    points = campaign(0.02)
    poppe, merkel = fit_fill(points, "poppe"), fit_fill(points, "merkel")
    assert poppe.model_difference == merkel.model_difference
    assert 0.88 < merkel.coefficient / poppe.coefficient < 0.95


def test_nothing_heavy_is_imported_before_it_is_needed() -> None:
    import subprocess

    code = "import sys, vaporwright.unit.fill_fit; print([m for m in ('scipy', 'numpy', 'numba') if m in sys.modules])"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "[]"


def test_intervals_cover_the_true_law() -> None:
    # 300 campaigns of 33 points with the scatter that the published campaign's R2 implies.
    noise = random.Random(20240)
    x = [math.log(0.7) + index / 32.0 * math.log(2.9 / 0.7) for index in range(33)]
    mean = sum(x) / 33.0
    spread = math.sqrt(sum((value - mean) ** 2 for value in x) / 33.0)
    scatter = abs(EXPONENT) * spread * math.sqrt((1.0 - R_SQUARED) / R_SQUARED)
    t = student_t_quantile(0.975, 31)
    held = {"c": 0, "n": 0, "band": 0}
    explained = 0.0
    for _ in range(300):
        y = [math.log(COEFFICIENT) + EXPONENT * value + noise.gauss(0.0, scatter) for value in x]
        line = fit_straight_line(x, y)
        held["c"] += abs(line.intercept - math.log(COEFFICIENT)) < t * line.intercept_standard_deviation
        held["n"] += abs(line.slope - EXPONENT) < t * line.slope_standard_deviation
        at = math.log(3.5)
        missed = line.at(at) - math.log(COEFFICIENT) - EXPONENT * at
        held["band"] += abs(missed) < t * line.standard_deviation_at(at)
        explained += line.r_squared / 300.0
    print(f"coverage of 95 % intervals, scatter {scatter:.3f}: { ({k: v / 3.0 for k, v in held.items()}) } %")
    for count in held.values():
        assert 276 <= count <= 294  # 92 to 98 %
    assert explained == pytest.approx(R_SQUARED, abs=0.02)


def test_intervals_cover_the_true_law_through_the_tower() -> None:
    held = {"c": 0, "n": 0, "band": 0}
    repetitions = 60
    for seed in range(repetitions):
        fit = fit_fill(campaign(0.03, seed=100 + seed), "poppe")
        held["c"] += fit.coefficient_interval.low < 0.45 < fit.coefficient_interval.high
        held["n"] += fit.exponent_interval.low < EXPONENT < fit.exponent_interval.high
        band = fit.merkel_number_band(5.0)
        held["band"] += band.low < law(5.0) < band.high
    print(f"coverage through the tower, {repetitions} campaigns: {held}")
    for count in held.values():
        assert count >= 0.87 * repetitions  # 95 % less 2.8 standard deviations of such a count
