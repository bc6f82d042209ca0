"""Laws of the electric heater: heat is power, currents add up, the sheath balances."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vaporwright.equipment.electric_heater import rate_electric_heater, standard_overcurrent_device_A
from vaporwright.properties.water_films import immersed_cylinder_coefficient_W_m2K


@settings(max_examples=100, deadline=None)
@given(
    rated_power_W=st.floats(500.0, 300e3),
    rated_voltage_V=st.sampled_from([208.0, 240.0, 400.0, 480.0, 600.0]),
    ratio=st.floats(0.5, 1.1),
    phases=st.sampled_from([1, 3]),
    watt_density_W_m2=st.floats(3e3, 60e3),
    diameter_m=st.floats(0.006, 0.03),
    bath_K=st.floats(278.15, 368.15),
    limit_A=st.floats(20.0, 60.0),
    layers=st.floats(0.0, 1e-3),
)
def test_heat_currents_and_sheath(
    rated_power_W: float,
    rated_voltage_V: float,
    ratio: float,
    phases: int,
    watt_density_W_m2: float,
    diameter_m: float,
    bath_K: float,
    limit_A: float,
    layers: float,
) -> None:
    supply_V = ratio * rated_voltage_V
    power_W = rated_power_W * ratio**2
    rating = rate_electric_heater(
        rated_power_W=rated_power_W,
        rated_voltage_V=rated_voltage_V,
        supply_voltage_V=supply_V,
        phases=phases,
        sheath_area_m2=power_W / watt_density_W_m2,
        sheath_diameter_m=diameter_m,
        bath_temperature_K=bath_K,
        circuit_current_limit_A=limit_A,
        fouling_resistance_m2K_W=layers,
    )
    assert rating.heat_W == rating.power_W == pytest.approx(power_W)
    assert rating.line_current_A * supply_V * math.sqrt(float(phases)) == pytest.approx(power_W)
    assert rating.branch_rating_A == pytest.approx(1.25 * rating.line_current_A)
    assert rating.circuits * rating.circuit_current_A == pytest.approx(rating.line_current_A)
    assert rating.circuit_current_A <= limit_A * (1.0 + 1e-8)
    assert rating.circuits == 1 or rating.line_current_A / (rating.circuits - 1) > limit_A
    assert rating.overcurrent_device_A >= rating.circuit_branch_rating_A * (1.0 - 1e-8)
    film = immersed_cylinder_coefficient_W_m2K(rating.surface_temperature_K, bath_K, diameter_m)
    assert film * (rating.surface_temperature_K - bath_K) == pytest.approx(watt_density_W_m2, rel=1e-6)
    assert rating.sheath_temperature_K == pytest.approx(rating.surface_temperature_K + watt_density_W_m2 * layers)


@settings(max_examples=50, deadline=None)
@given(bath_K=st.floats(278.15, 360.0), watt_density_W_m2=st.floats(3e3, 50e3))
def test_surface_is_hotter_at_more_watt_density_and_in_a_hotter_bath(bath_K: float, watt_density_W_m2: float) -> None:
    def surface_K(bath_now_K: float, density_W_m2: float) -> float:
        return rate_electric_heater(
            rated_power_W=density_W_m2,
            rated_voltage_V=480.0,
            supply_voltage_V=480.0,
            phases=3,
            sheath_area_m2=1.0,
            sheath_diameter_m=0.0121,
            bath_temperature_K=bath_now_K,
        ).surface_temperature_K

    assert surface_K(bath_K, 1.1 * watt_density_W_m2) > surface_K(bath_K, watt_density_W_m2) > bath_K
    assert surface_K(bath_K + 5.0, watt_density_W_m2) > surface_K(bath_K, watt_density_W_m2)


@given(least_A=st.floats(0.1, 6000.0))
def test_standard_device_is_the_next_size(least_A: float) -> None:
    device_A = standard_overcurrent_device_A(least_A)
    assert device_A >= least_A * (1.0 - 1e-8)
    assert standard_overcurrent_device_A(device_A) == device_A
