"""Moist air and water against CoolProp over the whole range that an evaporator meets.

Asked: -20 to 95 degC, -300 to 3,500 m: saturated humidity ratio within 0.2 % where vapour is at most 0.8 of the total
pressure, above that the vapour pressure within 0.05 %; enthalpy within 0.3 % or 100 J/kg.
"""

from __future__ import annotations

import pytest
from CoolProp.CoolProp import PropsSI
from CoolProp.HumidAirProp import HAPropsSI

from support import verifies
from vaporwright.properties import moist_air, water
from vaporwright.properties import moist_air_kernels as kernels

ELEVATIONS_m = (-300.0, 0.0, 700.0, 1500.0, 2500.0, 3500.0)
TEMPERATURES_K = [253.15 + 2.5 * step for step in range(47)]
RATIO = 0.62194


def coolprop_saturated(temperature_K: float, pressure_Pa: float) -> float | None:
    """CoolProp's saturated humidity ratio; None where it boils or CoolProp gives up near boiling."""
    try:
        ratio = float(HAPropsSI("W", "T", temperature_K, "P", pressure_Pa, "R", 1.0))
    except ValueError:
        return None
    return ratio if 0.0 < ratio < 10.0 else None


def states() -> list[tuple[float, float]]:
    return [(t, moist_air.standard_pressure_Pa(z)) for z in ELEVATIONS_m for t in TEMPERATURES_K]


@verifies(
    "properties.moist_air.saturation_humidity_ratio_kg_kg",
    "properties.moist_air_kernels.saturated_humidity_ratio_kg_kg",
    "properties.moist_air_kernels.saturated_vapour_pressure_Pa",
)
def test_saturated_humidity_ratio() -> None:
    compared = near_boiling = 0
    for temperature_K, pressure_Pa in states():
        expected = coolprop_saturated(temperature_K, pressure_Pa)
        if expected is None:
            continue
        got = moist_air.saturation_humidity_ratio_kg_kg(temperature_K, pressure_Pa)
        share = expected / (RATIO + expected)
        if share <= 0.8:
            compared += 1
            assert got == pytest.approx(expected, rel=2e-3), (temperature_K, pressure_Pa)
        else:
            near_boiling += 1
            assert got / (RATIO + got) == pytest.approx(share, rel=5e-4), (temperature_K, pressure_Pa)
    assert compared > 240
    assert near_boiling >= 5


@verifies("properties.moist_air.enthalpy_J_kg", "properties.moist_air_kernels.moist_air_enthalpy_J_kg")
@pytest.mark.parametrize("share", [0.0, 0.1, 0.5, 1.0])
def test_enthalpy(share: float) -> None:
    compared = 0
    for temperature_K, pressure_Pa in states():
        saturated = coolprop_saturated(temperature_K, pressure_Pa)
        if saturated is None:
            continue
        ratio = share * saturated * (1.0 - 1e-5)
        expected = float(HAPropsSI("H", "T", temperature_K, "P", pressure_Pa, "W", ratio))
        got = moist_air.enthalpy_J_kg(temperature_K, ratio, pressure_Pa)
        compared += 1
        assert abs(got - expected) < max(100.0, 3e-3 * abs(expected)), (temperature_K, pressure_Pa, ratio)
    assert compared > 240


@verifies("properties.moist_air.specific_volume_m3_kg", "properties.moist_air_kernels.moist_air_specific_volume_m3_kg")
def test_volume() -> None:
    for temperature_K, pressure_Pa in states()[::3]:
        saturated = coolprop_saturated(temperature_K, pressure_Pa)
        if saturated is None:
            continue
        expected = float(HAPropsSI("V", "T", temperature_K, "P", pressure_Pa, "W", 0.9 * saturated))
        got = moist_air.specific_volume_m3_kg(temperature_K, 0.9 * saturated, pressure_Pa)
        assert got == pytest.approx(expected, rel=1e-3)


@verifies("properties.moist_air.wet_bulb_temperature_K", "properties.moist_air.dew_point_temperature_K")
def test_wet_bulb_and_dew_point() -> None:
    for temperature_K, pressure_Pa in states()[::4]:
        saturated = coolprop_saturated(temperature_K, pressure_Pa)
        if saturated is None or temperature_K < 283.15:
            continue
        for share in (0.2, 0.6):
            wet = float(HAPropsSI("B", "T", temperature_K, "P", pressure_Pa, "W", share * saturated))
            dew = float(HAPropsSI("D", "T", temperature_K, "P", pressure_Pa, "W", share * saturated))
            got = moist_air.wet_bulb_temperature_K(temperature_K, share * saturated, pressure_Pa)
            if wet > 273.6:  # about 0 degC the two put ice and water on different sides
                assert got == pytest.approx(wet, abs=0.05)
            assert moist_air.dew_point_temperature_K(share * saturated, pressure_Pa) == pytest.approx(dew, abs=0.02)


@verifies("properties.moist_air_kernels.air_state_from_enthalpy")
def test_temperature_from_enthalpy_of_unsaturated_air() -> None:
    for temperature_K, relative in ((263.15, 0.6), (293.15, 0.5), (323.15, 0.3), (348.15, 0.8)):
        ratio = float(HAPropsSI("W", "T", temperature_K, "P", 95e3, "R", relative))
        enthalpy = float(HAPropsSI("H", "T", temperature_K, "P", 95e3, "W", ratio))
        for misty in (False, True):
            got = kernels.air_state_from_enthalpy(enthalpy, ratio, 95e3, 300.0, misty, 1e-4)
            assert got.temperature_K == pytest.approx(temperature_K, abs=0.05)
            assert got.vapour_humidity_ratio_kg_kg == ratio


@verifies("properties.moist_air_kernels.air_state_from_enthalpy")
def test_temperature_from_enthalpy_of_misty_air() -> None:
    for temperature_K in (280.15, 305.15, 330.15):
        ratio = float(HAPropsSI("W", "T", temperature_K, "P", 95e3, "R", 1.0))
        air = float(HAPropsSI("H", "T", temperature_K, "P", 95e3, "W", ratio))
        mist = 0.004 * float(PropsSI("H", "T", temperature_K, "P", 95e3, "IF97::Water"))
        for guess_K, misty in ((temperature_K - 15.0, False), (temperature_K + 5.0, True)):
            got = kernels.air_state_from_enthalpy(air + mist, ratio + 0.004, 95e3, guess_K, misty, 1e-5)
            assert got.temperature_K == pytest.approx(temperature_K, abs=0.02)
            assert got.excess_kg_kg == pytest.approx(0.004, rel=0.03)


@verifies(
    "properties.water.liquid_enthalpy_J_kg",
    "properties.water.vapour_enthalpy_J_kg",
    "properties.water.saturation_pressure_Pa",
)
def test_water_over_the_whole_range() -> None:
    for step in range(1, 22):
        temperature_K = 273.16 + 5.0 * step
        liquid = float(PropsSI("H", "T", temperature_K, "Q", 0, "IF97::Water"))
        assert water.liquid_enthalpy_J_kg(temperature_K) == pytest.approx(liquid, abs=20.0)
        thin = float(PropsSI("H", "T", temperature_K, "D", 1e-6, "Water"))
        assert water.vapour_enthalpy_J_kg(temperature_K) == pytest.approx(thin, abs=30.0)
        pressure = float(PropsSI("P", "T", temperature_K, "Q", 0, "IF97::Water"))
        assert water.saturation_pressure_Pa(temperature_K) == pytest.approx(pressure, rel=1e-9)
