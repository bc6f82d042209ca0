"""Laws of moist air: inverses invert, and what must rise rises."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vaporwright.foundation.errors import OutOfRange
from vaporwright.properties import moist_air
from vaporwright.properties import moist_air_kernels as kernels

temperatures = st.floats(253.15, 345.15)
pressures = st.floats(65e3, 106e3)
shares = st.floats(0.05, 0.98)


@given(temperatures, shares, pressures)
def test_humidity_ratio_and_relative_humidity_invert(t: float, relative: float, p: float) -> None:
    ratio = moist_air.humidity_ratio_kg_kg(t, relative, p)
    assert moist_air.relative_humidity_from_humidity_ratio(t, ratio, p) == pytest.approx(relative, rel=1e-12)


@given(st.floats(274.15, 345.15), shares, pressures)
def test_wet_bulb_inverts_and_lies_between_dew_point_and_dry_bulb(t: float, relative: float, p: float) -> None:
    ratio = moist_air.humidity_ratio_kg_kg(t, relative, p)
    wet = moist_air.wet_bulb_temperature_K(t, ratio, p)
    if ratio > 2.5e-4:
        assert moist_air.dew_point_temperature_K(ratio, p) <= wet + 1e-4
    assert wet <= t
    if wet > 273.2:
        assert moist_air.humidity_ratio_from_wet_bulb_kg_kg(t, wet, p) == pytest.approx(ratio, abs=2e-7)


@given(temperatures, shares, pressures, st.floats(0.0, 0.02))
def test_air_state_inverts_enthalpy_with_and_without_mist(t: float, relative: float, p: float, mist: float) -> None:
    saturated = kernels.saturated_humidity_ratio_kg_kg(t, p, 1.0)
    for total in (relative * saturated, saturated + mist):
        enthalpy = moist_air.enthalpy_J_kg(t, total, p)
        got = kernels.air_state_from_enthalpy(enthalpy, total, p, t + 7.0, False, 1e-6)
        assert got.temperature_K == pytest.approx(t, abs=2e-4)


@given(temperatures, pressures, st.floats(0.5, 0.99))
def test_lower_activity_means_less_vapour(t: float, p: float, activity: float) -> None:
    lowered = moist_air.saturation_humidity_ratio_kg_kg(t, p, activity)
    assert lowered < moist_air.saturation_humidity_ratio_kg_kg(t, p)


@given(temperatures, pressures)
def test_saturation_rises_with_temperature_and_falls_with_pressure(t: float, p: float) -> None:
    base = moist_air.saturation_humidity_ratio_kg_kg(t, p)
    assert moist_air.saturation_humidity_ratio_kg_kg(t + 0.5, p) > base
    assert moist_air.saturation_humidity_ratio_kg_kg(t, p * 1.02) < base


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: moist_air.saturation_humidity_ratio_kg_kg(100.0, 101325.0), "temperature_K"),
        (lambda: moist_air.saturation_humidity_ratio_kg_kg(300.0, 20e3), "pressure_Pa"),
        (lambda: moist_air.saturation_humidity_ratio_kg_kg(372.0, 70e3), "temperature_K"),
        (lambda: moist_air.saturation_humidity_ratio_kg_kg(300.0, 101325.0, 1.2), "water_activity"),
        (lambda: moist_air.humidity_ratio_kg_kg(300.0, 1.2, 101325.0), "relative_humidity"),
        (lambda: moist_air.enthalpy_J_kg(300.0, -0.001, 101325.0), "humidity_ratio_kg_kg"),
        (lambda: moist_air.enthalpy_J_kg(float("nan"), 0.001, 101325.0), "temperature_K"),
        (lambda: moist_air.humidity_ratio_from_wet_bulb_kg_kg(300.0, 301.0, 101325.0), "wet_bulb_temperature_K"),
        (lambda: moist_air.humidity_ratio_from_wet_bulb_kg_kg(320.0, 280.0, 101325.0), "wet_bulb_temperature_K"),
        (lambda: moist_air.wet_bulb_temperature_K(300.0, 0.1, 101325.0), "humidity_ratio_kg_kg"),
        (lambda: moist_air.standard_pressure_Pa(9000.0), "elevation_m"),
        (lambda: moist_air.dew_point_temperature_K(0.0, 101325.0), "humidity_ratio_kg_kg"),
    ],
)
def test_out_of_range_names_the_variable(call: object, name: str) -> None:
    assert callable(call)
    with pytest.raises(OutOfRange) as caught:
        call()
    assert caught.value.name == name
