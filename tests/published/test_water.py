"""Water near atmospheric pressure against the IAPWS releases and ASHRAE's table."""

from __future__ import annotations

import math

import pytest

from support import verifies
from vaporwright.properties import moist_air_kernels, water

K = 273.15


@verifies("properties.water.saturation_pressure_Pa", "properties.moist_air_kernels.vapour_pressure_of_pure_water_Pa")
def test_saturation_pressure_of_iapws_table_35() -> None:
    # IAPWS R7-97(2012), Table 35 (from memory): 500 K; the equation verifies to the printed digits.
    assert water.saturation_pressure_Pa(500.0) == pytest.approx(2.63889776e6, rel=1e-8)


@verifies("properties.water.saturation_temperature_K")
@pytest.mark.parametrize(("pressure_Pa", "temperature_K"), [(0.1e6, 372.755919), (1.0e6, 453.035632)])
def test_saturation_temperature_of_iapws_table_36(pressure_Pa: float, temperature_K: float) -> None:
    # IAPWS R7-97(2012), Table 36 (from memory).
    assert water.saturation_temperature_K(pressure_Pa) == pytest.approx(temperature_K, rel=2e-9)


@verifies("properties.water.saturation_pressure_Pa")
@pytest.mark.parametrize(("t_C", "pressure_Pa"), [(25.0, 3169.7), (50.0, 12351.3)])
def test_saturation_pressure_of_ashrae_table_3(t_C: float, pressure_Pa: float) -> None:
    # ASHRAE Handbook - Fundamentals (2017), ch. 1, Table 3; its equation is good to 300 ppm.
    assert water.saturation_pressure_Pa(t_C + K) == pytest.approx(pressure_Pa, rel=3e-4)


@verifies("properties.water.saturation_pressure_Pa", "properties.moist_air_kernels.vapour_pressure_of_pure_water_Pa")
def test_sublimation_pressure_of_iapws_r14_08() -> None:
    # IAPWS R14-08(2011), verification value at 230 K: 8.947 35 Pa (from memory).
    assert water.saturation_pressure_Pa(230.0) == pytest.approx(8.94735, rel=1e-5)


# IAPWS R7-97 at saturation, computed with a library: degC, kPa, kJ/kg latent heat, kJ/(kg K) liquid
SATURATED = [
    (20, 2.33921, 2453.55, 4.1851),
    (25, 3.16975, 2441.706, 4.18218),
    (30, 4.24669, 2429.839, 4.18028),
    (40, 7.38443, 2406.001, 4.17878),
    (50, 12.35127, 2381.974, 4.17976),
    (65, 25.0411, 2345.432, 4.18534),
    (75, 38.59536, 2320.629, 4.19168),
    (80, 47.41472, 2308.066, 4.19563),
    (85, 57.86745, 2295.38, 4.2001),
    (90, 70.18236, 2282.56, 4.20509),
]


@verifies(
    "properties.water.saturation_pressure_Pa",
    "properties.water.vapour_enthalpy_J_kg",
    "properties.water.liquid_enthalpy_J_kg",
    "properties.water.liquid_heat_capacity_J_kgK",
    "properties.moist_air_kernels.liquid_water_enthalpy_J_kg",
    "properties.moist_air_kernels.liquid_water_heat_capacity_J_kgK",
    "properties.moist_air_kernels.ideal_vapour_enthalpy_J_kg",
)
@pytest.mark.parametrize(("t_C", "pressure_kPa", "latent_kJ_kg", "heat_capacity_kJ_kgK"), SATURATED)
def test_saturated_water(t_C: float, pressure_kPa: float, latent_kJ_kg: float, heat_capacity_kJ_kgK: float) -> None:
    t = t_C + K
    assert water.saturation_pressure_Pa(t) == pytest.approx(pressure_kPa * 1e3, rel=5e-4)
    assert water.liquid_heat_capacity_J_kgK(t) == pytest.approx(heat_capacity_kJ_kgK * 1e3, rel=2e-3)
    # Saturated vapour lies below vapour at vanishing pressure by p (B - T dB/dT) / M; the second virial coefficient in
    # the form of Hyland & Wexler (1983), from memory: B = RT (0.70e-8 - 0.147184e-8 exp(1734.29/T)), p in Pa.
    below = pressure_kPa * 1e3 * 461.5 * 0.147184e-8 * 1734.29 * math.exp(1734.29 / t)
    latent = water.vapour_enthalpy_J_kg(t) - below - water.liquid_enthalpy_J_kg(t)
    assert latent == pytest.approx(latent_kJ_kg * 1e3, rel=1e-3)
    assert moist_air_kernels.ideal_vapour_enthalpy_J_kg(t) == water.vapour_enthalpy_J_kg(t)
