"""The catalogue's fit against certified regression data, the GUM's example, t tables and published reductions."""

from __future__ import annotations

import pytest

from published.tower_cases import POPPE, PoppeCase, as_inlet_merkel_number
from support import verifies
from vaporwright.unit.catalogue import FillTestPoint
from vaporwright.unit.fill_fit import fit_fill, fit_straight_line, student_t_quantile

# NIST Statistical Reference Datasets, linear regression, "Norris" (calibration of ozone monitors, 36 pairs):
# data and certified values, read in several stored copies that agree.
NORRIS_X = (
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4,
    0.6, 775.5, 666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3,
    0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
)  # fmt: skip
NORRIS_Y = (
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3,
    0.1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3,
    0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
)  # fmt: skip


@verifies("unit.fill_fit.fit_straight_line")
def test_certified_regression() -> None:
    line = fit_straight_line(NORRIS_X, NORRIS_Y)
    assert line.degrees_of_freedom == 34
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-11)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-13)
    assert line.intercept_standard_deviation == pytest.approx(0.232818234301152, rel=1e-11)
    assert line.slope_standard_deviation == pytest.approx(0.429796848199937e-3, rel=1e-11)
    assert line.residual_standard_deviation == pytest.approx(0.884796396144373, rel=1e-11)
    assert line.r_squared == pytest.approx(0.999993745883712, rel=1e-14)
    # Certified sum of squares of the residuals: 26.6173985294224.
    assert sum(residual**2 for residual in line.residuals) == pytest.approx(26.6173985294224, rel=1e-11)


# JCGM 100:2008 (GUM), H.3, table H.6 and H.3.3 to H.3.4: calibration of a thermometer. Read in stored copies of
# documents that quote it; tolerance is half a unit of the last printed digit.
READING_C = (21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
CORRECTION_C = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)


@verifies("unit.fill_fit.fit_straight_line")
def test_gum_thermometer() -> None:
    line = fit_straight_line([reading - 20.0 for reading in READING_C], CORRECTION_C)
    assert line.degrees_of_freedom == 9
    assert line.intercept == pytest.approx(-0.1712, abs=0.5e-4)
    assert line.intercept_standard_deviation == pytest.approx(0.0029, abs=0.5e-4)
    assert line.slope == pytest.approx(0.00218, abs=0.5e-5)
    assert line.slope_standard_deviation == pytest.approx(0.00067, abs=0.5e-5)
    assert line.correlation == pytest.approx(-0.930, abs=0.5e-3)
    assert line.residual_standard_deviation == pytest.approx(0.0035, abs=0.5e-4)
    # The correction at 30 degC, beyond all readings: -0.1494 with 0.0041.
    assert line.at(10.0) == pytest.approx(-0.1494, abs=0.5e-4)
    assert line.standard_deviation_at(10.0) == pytest.approx(0.0041, abs=0.5e-4)


# Critical values of Student's t, NIST/SEMATECH e-Handbook 1.3.6.7.2: from memory.
# Degrees of freedom: t at 0.975 and at 0.995.
CRITICAL_T = {
    1: (12.706, 63.657),
    2: (4.303, 9.925),
    3: (3.182, 5.841),
    4: (2.776, 4.604),
    5: (2.571, 4.032),
    9: (2.262, 3.250),
    10: (2.228, 3.169),
    20: (2.086, 2.845),
    30: (2.042, 2.750),
}


@pytest.mark.parametrize("degrees_of_freedom", CRITICAL_T)
@verifies("unit.fill_fit.student_t_quantile")
def test_critical_values_of_t(degrees_of_freedom: int) -> None:
    for probability, critical in zip((0.975, 0.995), CRITICAL_T[degrees_of_freedom], strict=True):
        # A quantile printed to 3 decimals.
        assert student_t_quantile(probability, degrees_of_freedom) == pytest.approx(critical, abs=0.0006)


# Kroeger 2004, Example 4.3.1, from the fill test in Kloppers' thesis (2003): inputs from memory, results computed
# with a library. Merkel within 1 %, Poppe within 1.5 %. (The outlet air's enthalpy is not used here.)
KROEGER = PoppeCase(39.67, 27.77, 3.999 / 4.134, 9.7, 0.006161, 101712.27, 0.6859, 0.7345, 0.02132, 0.0, 24.67,
                    0.0627 / 4.134, True)  # fmt: skip
WITH_KROEGER = (KROEGER, POPPE["poppe_60_40_LG1.5_0m_20C"], POPPE["poppe_60_45_LG2.0_0m_20C"])


def as_point(case: PoppeCase) -> FillTestPoint:
    return FillTestPoint(
        water_in_temperature_K=case.water_in_C + 273.15,
        water_out_temperature_K=case.water_out_C + 273.15,
        water_flow_kg_s=4.134 * case.water_to_air,
        air_temperature_K=case.air_C + 273.15,
        air_humidity_ratio_kg_kg=case.air_humidity_ratio,
        dry_air_flow_kg_s=4.134,
        pressure_Pa=case.pressure_Pa,
    )


@verifies("unit.fill_fit.fit_fill")
def test_points_are_reduced_by_both_models() -> None:
    points = [as_point(case) for case in WITH_KROEGER]
    by_poppe, by_merkel = fit_fill(points, "poppe", area_m2=2.25), fit_fill(points, "merkel", area_m2=2.25)
    for case, poppe, merkel in zip(WITH_KROEGER, by_poppe.points, by_merkel.points, strict=True):
        expected = as_inlet_merkel_number(case.poppe, case.evaporation_kg_kg / case.water_to_air)
        assert poppe.water_to_air_ratio == pytest.approx(case.water_to_air, rel=1e-12)
        assert poppe.merkel_number == pytest.approx(expected, rel=0.015)
        assert merkel.merkel_number == pytest.approx(case.merkel_method, rel=0.01)
        assert poppe.other_model_number == merkel.merkel_number
    # 3.999 kg/s on 2.25 m2: 1.777 kg/(s m2), the fill test's own figure.
    assert by_poppe.tested.water_loading_kg_s_m2 is not None
    assert by_poppe.tested.water_loading_kg_s_m2.low == pytest.approx(3.999 / 2.25, rel=1e-9)
    assert by_poppe.points[0].merkel_number / by_merkel.points[0].merkel_number == pytest.approx(
        as_inlet_merkel_number(0.7345, 0.0627 / 3.999) / 0.6859, rel=0.018
    )


@verifies("unit.fill_fit.fit_fill")
def test_poppe_is_seven_to_twelve_per_cent_above_merkel_in_hot_cases() -> None:
    # Over the 13 computed cases above 50 degC (see tower_cases) Poppe over Merkel is 1.093 to 1.146 by local water
    # flow; by water flow in, as the catalogue counts, half the evaporated share less.
    cases = [case for case in POPPE.values() if case.water_in_C > 50]
    expected = [
        as_inlet_merkel_number(case.poppe, case.evaporation_kg_kg / case.water_to_air) / case.merkel_method
        for case in cases
    ]
    difference = fit_fill([as_point(case) for case in cases], "poppe").model_difference
    assert difference is not None
    assert difference.mean == pytest.approx(sum(expected) / len(expected), rel=0.01)
    assert difference.lowest == pytest.approx(min(expected), rel=0.015)
    assert difference.highest == pytest.approx(max(expected), rel=0.015)
    assert 1.07 < difference.mean < 1.12


@verifies("unit.fill_fit.fit_straight_line")
def test_hand_worked_line() -> None:
    # x = 0, 1, 2; y = 1, 0, 2: slope 0.5, intercept 0.5, residuals 0.5, -1, 0.5, s = sqrt(1.5).
    line = fit_straight_line((0.0, 1.0, 2.0), (1.0, 0.0, 2.0))
    assert (line.intercept, line.slope) == pytest.approx((0.5, 0.5), rel=1e-14)
    assert line.residuals == pytest.approx((0.5, -1.0, 0.5), rel=1e-14)
    assert line.residual_standard_deviation == pytest.approx(1.5**0.5, rel=1e-14)
    assert line.slope_standard_deviation == pytest.approx(0.75**0.5, rel=1e-14)
    assert line.intercept_standard_deviation == pytest.approx((1.5 * 5.0 / 6.0) ** 0.5, rel=1e-14)
    assert line.leverages == pytest.approx((5 / 6, 1 / 3, 5 / 6), rel=1e-14)
    assert line.r_squared == pytest.approx(0.25, rel=1e-14)
