"""Steam and water films against CoolProp: its IF97 to rounding, its reference equations to their
difference."""

from __future__ import annotations

import pytest
from CoolProp import CoolProp

from support import verifies
from vaporwright.properties.steam import (
    compressed_liquid,
    latent_heat_J_kg,
    saturated_liquid,
    saturated_steam,
    saturated_water,
    superheated_steam,
)
from vaporwright.properties.water import saturation_pressure_Pa
from vaporwright.properties.water_films import (
    liquid_film,
    surface_tension_N_m,
    thermal_conductivity_W_mK,
    viscosity_Pa_s,
)

SATURATION_TEMPERATURES_K = [273.16, *(273.15 + celsius for celsius in range(5, 201, 15))]


def _if97(output: str, temperature_K: float, pressure_Pa: float) -> float:
    return float(CoolProp.PropsSI(output, "T", temperature_K, "P", pressure_Pa, "IF97::Water"))


def _saturated(output: str, temperature_K: float, quality: float, backend: str = "HEOS") -> float:
    return float(CoolProp.PropsSI(output, "T", temperature_K, "Q", quality, f"{backend}::Water"))


@verifies("properties.steam.compressed_liquid")
@pytest.mark.parametrize("temperature_K", [275.0, 300.0, 340.0, 400.0, 470.0, 560.0, 620.0])
@pytest.mark.parametrize("above_saturation_Pa", [1e3, 1e6, 15e6, 75e6])
def test_liquid_is_if97(temperature_K: float, above_saturation_Pa: float) -> None:
    pressure_Pa = saturation_pressure_Pa(temperature_K) + above_saturation_Pa
    state = compressed_liquid(temperature_K, pressure_Pa)
    assert 1.0 / state.specific_volume_m3_kg == pytest.approx(_if97("D", temperature_K, pressure_Pa), rel=1e-11)
    assert state.enthalpy_J_kg == pytest.approx(_if97("H", temperature_K, pressure_Pa), rel=1e-11, abs=1e-5)
    assert state.entropy_J_kgK == pytest.approx(_if97("S", temperature_K, pressure_Pa), rel=1e-11, abs=1e-7)
    assert state.heat_capacity_J_kgK == pytest.approx(_if97("C", temperature_K, pressure_Pa), rel=1e-11)


@verifies("properties.steam.superheated_steam")
@pytest.mark.parametrize("temperature_K", [280.0, 373.15, 450.0, 560.0, 620.0, 700.0, 900.0, 1073.0])
@pytest.mark.parametrize("share", [1e-3, 0.3, 0.9, 0.999])
def test_steam_is_if97(temperature_K: float, share: float) -> None:
    highest_Pa = saturation_pressure_Pa(temperature_K) if temperature_K < 623.0 else 28e6
    pressure_Pa = 650.0 + share * (highest_Pa - 650.0)  # CoolProp's IF97 begins at the triple point's pressure
    state = superheated_steam(temperature_K, pressure_Pa)
    assert 1.0 / state.specific_volume_m3_kg == pytest.approx(_if97("D", temperature_K, pressure_Pa), rel=1e-11)
    assert state.enthalpy_J_kg == pytest.approx(_if97("H", temperature_K, pressure_Pa), rel=1e-11)
    assert state.entropy_J_kgK == pytest.approx(_if97("S", temperature_K, pressure_Pa), rel=1e-11)
    assert state.heat_capacity_J_kgK == pytest.approx(_if97("C", temperature_K, pressure_Pa), rel=1e-11)


@verifies(
    "properties.steam.saturated_water",
    "properties.steam.saturated_liquid",
    "properties.steam.saturated_steam",
    "properties.steam.latent_heat_J_kg",
)
@pytest.mark.parametrize("temperature_K", SATURATION_TEMPERATURES_K)
def test_saturated_states(temperature_K: float) -> None:
    """IF97 to rounding; the scientific formulation IAPWS-95 to 0.015 % (density) and 0.01 % (latent heat)."""
    both = saturated_water(temperature_K)
    liquid, steam = saturated_liquid(temperature_K), saturated_steam(temperature_K)
    assert both.liquid_density_kg_m3 == pytest.approx(_saturated("D", temperature_K, 0, "IF97"), rel=1e-11)
    assert both.steam_density_kg_m3 == pytest.approx(_saturated("D", temperature_K, 1, "IF97"), rel=1e-11)
    assert liquid.enthalpy_J_kg == pytest.approx(_saturated("H", temperature_K, 0, "IF97"), rel=1e-10, abs=1e-5)
    assert steam.enthalpy_J_kg == pytest.approx(_saturated("H", temperature_K, 1, "IF97"), rel=1e-11)
    latent_95 = _saturated("H", temperature_K, 1) - _saturated("H", temperature_K, 0)
    assert latent_heat_J_kg(temperature_K) == pytest.approx(latent_95, rel=1e-4)
    assert both.liquid_density_kg_m3 == pytest.approx(_saturated("D", temperature_K, 0), rel=1.5e-4)
    assert both.steam_density_kg_m3 == pytest.approx(_saturated("D", temperature_K, 1), rel=1.5e-4)


@verifies(
    "properties.water_films.liquid_film",
    "properties.water_films.viscosity_Pa_s",
    "properties.water_films.thermal_conductivity_W_mK",
)
@pytest.mark.parametrize("temperature_K", SATURATION_TEMPERATURES_K[1:])
def test_films_of_saturated_water(temperature_K: float) -> None:
    """CoolProp's conductivity carries the critical enhancement: 0.22 % at 200 degC; the rest is IF97
    against 95."""
    film = liquid_film(temperature_K)
    assert film.viscosity_Pa_s == pytest.approx(_saturated("V", temperature_K, 0), rel=5e-5)
    assert film.conductivity_W_mK == pytest.approx(_saturated("L", temperature_K, 0), rel=2.5e-3)
    assert film.heat_capacity_J_kgK == pytest.approx(_saturated("C", temperature_K, 0), rel=1e-3)
    expansion = _saturated("isobaric_expansion_coefficient", temperature_K, 0)
    assert film.expansion_coefficient_1_K == pytest.approx(expansion, rel=3e-3, abs=5e-7)
    assert film.prandtl_number == pytest.approx(_saturated("Prandtl", temperature_K, 0), rel=3e-3)
    density = saturated_water(temperature_K).steam_density_kg_m3
    assert viscosity_Pa_s(temperature_K, density) == pytest.approx(_saturated("V", temperature_K, 1), rel=5e-5)
    conductivity = thermal_conductivity_W_mK(temperature_K, density)
    assert conductivity == pytest.approx(_saturated("L", temperature_K, 1), rel=2.5e-3)


@verifies("properties.water_films.surface_tension_N_m")
@pytest.mark.parametrize("temperature_K", SATURATION_TEMPERATURES_K)
def test_surface_tension(temperature_K: float) -> None:
    """CoolProp uses another correlation of the same data, 0.5 % away at 200 degC."""
    assert surface_tension_N_m(temperature_K) == pytest.approx(_saturated("I", temperature_K, 0), rel=5e-3)
