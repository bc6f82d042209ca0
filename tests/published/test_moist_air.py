"""Moist air against tables and worked examples.

ASHRAE: Handbook - Fundamentals (2017), chapter 1, as printed. RP-1485: the full real-gas formulation of Herrmann,
Kretzschmar & Gatley (2009), computed with a property library (computed, no printed table).
"""

from __future__ import annotations

import pytest

from support import verifies
from vaporwright.properties import moist_air

K = 273.15


@verifies("properties.moist_air.standard_pressure_Pa")
@pytest.mark.parametrize(("elevation_m", "pressure_Pa"), [(0.0, 101325.0), (500.0, 95461.0)])
def test_standard_atmosphere_of_ashrae_table_1(elevation_m: float, pressure_Pa: float) -> None:
    assert moist_air.standard_pressure_Pa(elevation_m) == pytest.approx(pressure_Pa, abs=1.0)


@verifies(
    "properties.moist_air.saturation_humidity_ratio_kg_kg",
    "properties.moist_air_kernels.saturated_humidity_ratio_kg_kg",
    "properties.moist_air_kernels.saturated_vapour_pressure_Pa",
)
@pytest.mark.parametrize(("t_C", "ratio"), [(5.0, 0.005425), (25.0, 0.020173), (50.0, 0.086863)])
def test_saturated_humidity_ratio_of_ashrae_table_2(t_C: float, ratio: float) -> None:
    # The table's own agreement with the RP-1485 property code is 0.05 %.
    assert moist_air.saturation_humidity_ratio_kg_kg(t_C + K, 101325.0) == pytest.approx(ratio, rel=5e-4)


@verifies("properties.moist_air.enthalpy_J_kg", "properties.moist_air_kernels.moist_air_enthalpy_J_kg")
@pytest.mark.parametrize(("t_C", "enthalpy_kJ_kg"), [(5.0, 18.639), (25.0, 76.504)])
def test_saturated_enthalpy_of_ashrae_table_2(t_C: float, enthalpy_kJ_kg: float) -> None:
    ratio = moist_air.saturation_humidity_ratio_kg_kg(t_C + K, 101325.0)
    assert moist_air.enthalpy_J_kg(t_C + K, ratio, 101325.0) == pytest.approx(enthalpy_kJ_kg * 1e3, rel=1e-3)


@verifies("properties.moist_air.humidity_ratio_from_wet_bulb_kg_kg", "properties.moist_air.dew_point_temperature_K")
def test_ashrae_example_1() -> None:
    # Example 1, read off the chart: 40 degC dry bulb, 20 degC wet bulb, sea level.
    ratio = moist_air.humidity_ratio_from_wet_bulb_kg_kg(40.0 + K, 20.0 + K, 101325.0)
    assert ratio == pytest.approx(0.0065, abs=1e-4)
    assert moist_air.dew_point_temperature_K(ratio, 101325.0) - K == pytest.approx(7.0, abs=0.5)
    assert moist_air.relative_humidity_from_humidity_ratio(40.0 + K, ratio, 101325.0) == pytest.approx(0.14, abs=0.01)
    assert moist_air.enthalpy_J_kg(40.0 + K, ratio, 101325.0) == pytest.approx(56.7e3, abs=200.0)
    assert moist_air.specific_volume_m3_kg(40.0 + K, ratio, 101325.0) == pytest.approx(0.896, rel=0.01)


# RP-1485, saturated: degC, Pa, kg/kg, kJ/kg, m3/kg dry air
SATURATED = [
    (20, 101325.0, 0.01476, 57.559, 0.84979),
    (20, 89874.5, 0.016686, 62.472, 0.96099),
    (20, 84555.9, 0.017762, 65.216, 1.02318),
    (30, 101325.0, 0.027333, 100.01, 0.89614),
    (30, 84555.9, 0.033025, 114.595, 1.08331),
    (30, 79495.1, 0.035241, 120.27, 1.15618),
    (30, 95460.8, 0.029085, 104.502, 0.95377),
    (40, 101325.0, 0.049144, 166.688, 0.95672),
    (40, 89874.5, 0.05595, 184.227, 1.08955),
    (40, 84555.9, 0.059798, 194.141, 1.16465),
    (40, 79495.1, 0.063987, 204.931, 1.2464),
    (40, 95460.8, 0.052409, 175.101, 1.02043),
    (50, 79495.1, 0.115045, 348.426, 1.38147),
    (50, 95460.8, 0.092979, 291.214, 1.11606),
    (60, 101325.0, 0.153545, 460.888, 1.17518),
    (60, 89874.5, 0.178642, 526.386, 1.36762),
    (60, 84555.9, 0.193325, 564.702, 1.4802),
    (60, 79495.1, 0.209731, 607.515, 1.606),
    (60, 95460.8, 0.165447, 491.951, 1.26644),
    (65, 89874.5, 0.242081, 699.009, 1.49732),
    (65, 79495.1, 0.28816, 819.644, 1.78273),
    (70, 101325.0, 0.279167, 803.479, 1.40489),
    (70, 84555.9, 0.366779, 1033.595, 1.84644),
    (70, 79495.1, 0.405172, 1134.43, 2.03993),
    (70, 95460.8, 0.304606, 870.297, 1.5331),
    (75, 95460.8, 0.426195, 1198.249, 1.75781),
    (80, 101325.0, 0.552926, 1541.795, 1.88091),
    (80, 89874.5, 0.701882, 1935.518, 2.38814),
    (80, 79495.1, 0.928783, 2535.258, 3.1608),
    (80, 95460.8, 0.620342, 1719.991, 2.11048),
    (85, 101325.0, 0.838105, 2307.521, 2.36652),
    (85, 89874.5, 1.137689, 3101.859, 3.21312),
    (85, 84555.9, 1.364275, 3702.639, 3.85343),
    (85, 79495.1, 1.683349, 4548.645, 4.7551),
    (85, 95460.8, 0.968734, 2653.88, 2.73566),
    (90, 101325.0, 1.420235, 3867.634, 3.34866),
    (90, 89874.5, 2.245589, 6062.773, 5.29576),
    (90, 84555.9, 3.07621, 8271.913, 7.2553),
    (90, 79495.1, 4.747461, 12716.802, 11.19797),
    (90, 95460.8, 1.749516, 4743.404, 4.12547),
]


@verifies(
    "properties.moist_air.saturation_humidity_ratio_kg_kg",
    "properties.moist_air.enthalpy_J_kg",
    "properties.moist_air.specific_volume_m3_kg",
    "properties.moist_air.density_kg_m3",
    "properties.moist_air_kernels.moist_air_specific_volume_m3_kg",
)
@pytest.mark.parametrize(("t_C", "pressure_Pa", "ratio", "enthalpy_kJ_kg", "volume_m3_kg"), SATURATED)
def test_saturated_air_of_rp_1485(
    t_C: float, pressure_Pa: float, ratio: float, enthalpy_kJ_kg: float, volume_m3_kg: float
) -> None:
    # 0.2 % is the case's tolerance; the nearer to boiling, the more the third virials (left out) weigh.
    got = moist_air.saturation_humidity_ratio_kg_kg(t_C + K, pressure_Pa)
    assert got == pytest.approx(ratio, rel=2e-3)
    assert moist_air.enthalpy_J_kg(t_C + K, ratio, pressure_Pa) == pytest.approx(enthalpy_kJ_kg * 1e3, rel=2e-3)
    volume = moist_air.specific_volume_m3_kg(t_C + K, ratio, pressure_Pa)
    assert volume == pytest.approx(volume_m3_kg, rel=2e-3)
    assert moist_air.density_kg_m3(t_C + K, ratio, pressure_Pa) == pytest.approx((1.0 + ratio) / volume_m3_kg, rel=2e-3)


# RP-1485, thermodynamic wet bulb: dry bulb, wet bulb degC, kg/kg, relative humidity, dew point degC, kJ/kg at sea level
WET_BULB = [
    (45, 35, 0.032337, 0.5193, 32.823, 128.811),
    (60, 50, 0.081962, 0.5881, 48.974, 274.327),
    (70, 65, 0.20279, 0.7937, 64.753, 603.186),
]


@verifies(
    "properties.moist_air.humidity_ratio_from_wet_bulb_kg_kg",
    "properties.moist_air.wet_bulb_temperature_K",
    "properties.moist_air.relative_humidity_from_humidity_ratio",
    "properties.moist_air.humidity_ratio_kg_kg",
    "properties.moist_air.dew_point_temperature_K",
)
@pytest.mark.parametrize(("dry_C", "wet_C", "ratio", "relative", "dew_C", "enthalpy_kJ_kg"), WET_BULB)
def test_wet_bulb_of_rp_1485(
    dry_C: float, wet_C: float, ratio: float, relative: float, dew_C: float, enthalpy_kJ_kg: float
) -> None:
    got = moist_air.humidity_ratio_from_wet_bulb_kg_kg(dry_C + K, wet_C + K, 101325.0)
    assert got == pytest.approx(ratio, rel=5e-3)
    assert moist_air.wet_bulb_temperature_K(dry_C + K, ratio, 101325.0) - K == pytest.approx(wet_C, abs=0.1)
    got_relative = moist_air.relative_humidity_from_humidity_ratio(dry_C + K, ratio, 101325.0)
    assert got_relative == pytest.approx(relative, rel=5e-3)
    assert moist_air.humidity_ratio_kg_kg(dry_C + K, relative, 101325.0) == pytest.approx(ratio, rel=5e-3)
    assert moist_air.dew_point_temperature_K(ratio, 101325.0) - K == pytest.approx(dew_C, abs=0.1)
    assert moist_air.enthalpy_J_kg(dry_C + K, ratio, 101325.0) == pytest.approx(enthalpy_kJ_kg * 1e3, rel=5e-3)


@verifies("properties.moist_air.saturation_humidity_ratio_kg_kg")
def test_the_much_cited_cubic_is_far_off_and_we_do_not_follow_it() -> None:
    # Nawayseh et al. (1999) as quoted: about 22 % low at 80 degC; the true value is that of RP-1485.
    t = 80.0
    cubic = 2.19e-6 * t**3 - 1.85e-4 * t**2 + 7.06e-3 * t - 0.077
    assert cubic == pytest.approx(0.4251, abs=1e-3)
    assert moist_air.saturation_humidity_ratio_kg_kg(t + K, 101325.0) == pytest.approx(0.55293, rel=2e-3)
