"""Laws of water and steam: phases agree at saturation, derivatives agree with differences, order is kept."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vaporwright.properties.steam import (
    compressed_liquid,
    latent_heat_J_kg,
    saturated_liquid,
    saturated_steam,
    superheated_steam,
)
from vaporwright.properties.water import saturation_pressure_Pa
from vaporwright.properties.water_films import immersed_cylinder_coefficient_W_m2K, surface_tension_N_m

temperatures = st.floats(273.16, 473.15)


@given(temperature_K=temperatures)
def test_gibbs_energy_of_both_phases_is_equal_at_saturation(temperature_K: float) -> None:
    """IF97's regions meet within the consistency that the release states; 20 J/kg is 0.001 % of the latent
    heat."""
    liquid, steam = saturated_liquid(temperature_K), saturated_steam(temperature_K)
    gibbs_liquid = liquid.enthalpy_J_kg - temperature_K * liquid.entropy_J_kgK
    gibbs_steam = steam.enthalpy_J_kg - temperature_K * steam.entropy_J_kgK
    assert gibbs_steam == pytest.approx(gibbs_liquid, abs=20.0)


@given(temperature_K=st.floats(275.0, 470.0), share=st.floats(0.01, 0.95))
def test_heat_capacity_and_expansion_are_the_derivatives(temperature_K: float, share: float) -> None:
    saturation_Pa, step_K = saturation_pressure_Pa(temperature_K), 0.01
    for state, pressure_Pa in ((superheated_steam, share * saturation_Pa), (compressed_liquid, 20e6)):
        here = state(temperature_K, pressure_Pa)
        colder, hotter = (state(temperature_K + side * step_K, pressure_Pa) for side in (-1.0, 1.0))
        slope = (hotter.enthalpy_J_kg - colder.enthalpy_J_kg) / (2 * step_K)
        assert here.heat_capacity_J_kgK == pytest.approx(slope, rel=1e-5)
        growth = (hotter.specific_volume_m3_kg - colder.specific_volume_m3_kg) / (2 * step_K)
        expansion = growth / here.specific_volume_m3_kg
        assert here.expansion_coefficient_1_K == pytest.approx(expansion, rel=1e-4, abs=1e-8)


@given(temperature_K=st.floats(273.16, 470.0), step_K=st.floats(0.1, 3.0))
def test_latent_heat_and_surface_tension_fall_with_temperature(temperature_K: float, step_K: float) -> None:
    assert latent_heat_J_kg(temperature_K + step_K) < latent_heat_J_kg(temperature_K)
    assert surface_tension_N_m(temperature_K + step_K) < surface_tension_N_m(temperature_K)


@given(temperature_K=st.floats(280.0, 470.0))
def test_clapeyron(temperature_K: float) -> None:
    """dp/dT along saturation = latent heat / (T dv): three regions of IF97 in one equation."""
    step_K = 0.02
    slope = saturation_pressure_Pa(temperature_K + step_K) - saturation_pressure_Pa(temperature_K - step_K)
    volumes = (
        saturated_steam(temperature_K).specific_volume_m3_kg,
        saturated_liquid(temperature_K).specific_volume_m3_kg,
    )
    right = latent_heat_J_kg(temperature_K) / (temperature_K * (volumes[0] - volumes[1]))
    assert slope / (2 * step_K) == pytest.approx(right, rel=5e-4)


@given(
    bath_K=st.floats(283.15, 368.15),
    first_K=st.floats(0.1, 50.0),
    more_K=st.floats(0.1, 50.0),
    diameter_m=st.floats(0.003, 0.1),
)
def test_film_flux_rises_with_the_surface_temperature(
    bath_K: float, first_K: float, more_K: float, diameter_m: float
) -> None:
    def flux(difference_K: float) -> float:
        film = immersed_cylinder_coefficient_W_m2K(bath_K + difference_K, bath_K, diameter_m)
        return film * difference_K

    assert flux(first_K + more_K) > flux(first_K) > 0.0
