"""Bad states of water: one clear error that names what is wrong."""

from __future__ import annotations

import math

import pytest

from vaporwright.foundation.errors import OutOfRange
from vaporwright.properties import steam, water_films


@pytest.mark.parametrize(
    ("function", "arguments", "name"),
    [
        (steam.compressed_liquid, (270.0, 1e5), "temperature_K"),
        (steam.compressed_liquid, (400.0, 1e5), "pressure_Pa"),  # that is steam
        (steam.compressed_liquid, (300.0, 101e6), "pressure_Pa"),
        (steam.superheated_steam, (300.0, 1e5), "pressure_Pa"),  # that is liquid
        (steam.superheated_steam, (700.0, 31e6), "pressure_Pa"),  # that is region 3
        (steam.superheated_steam, (1100.0, 1e5), "temperature_K"),
        (steam.superheated_steam, (400.0, 0.0), "pressure_Pa"),
        (steam.superheated_steam, (400.0, math.nan), "pressure_Pa"),
        (steam.saturated_liquid, (math.nan,), "temperature_K"),
        (steam.saturated_steam, (640.0,), "temperature_K"),
        (steam.saturated_water, (200.0,), "temperature_K"),
        (steam.latent_heat_J_kg, (700.0,), "temperature_K"),
        (water_films.viscosity_Pa_s, (200.0, 1000.0), "temperature_K"),
        (water_films.viscosity_Pa_s, (300.0, -1.0), "density_kg_m3"),
        (water_films.thermal_conductivity_W_mK, (300.0, 2000.0), "density_kg_m3"),
        (water_films.surface_tension_N_m, (650.0,), "temperature_K"),
        (water_films.liquid_film, (480.0,), "temperature_K"),
        (water_films.horizontal_cylinder_nusselt_number, (2e12, 3.0), "rayleigh_number"),
        (water_films.horizontal_cylinder_nusselt_number, (1e6, 0.0), "prandtl_number"),
        (water_films.immersed_cylinder_coefficient_W_m2K, (350.0, 330.0, 0.0), "diameter_m"),
    ],
)
def test_out_of_range_names_the_argument(function: object, arguments: tuple[float, ...], name: str) -> None:
    assert callable(function)
    with pytest.raises(OutOfRange) as raised:
        function(*arguments)
    assert raised.value.name == name


def test_saturation_belongs_to_both_phases() -> None:
    """A pressure taken from the saturation line passes as liquid and as steam."""
    for temperature_K in (273.15, 300.0, 373.15, 473.15, 623.15):
        pressure_Pa = steam.saturated_water(temperature_K).pressure_Pa
        assert steam.compressed_liquid(temperature_K, pressure_Pa) == steam.saturated_liquid(temperature_K)
        assert steam.superheated_steam(temperature_K, pressure_Pa) == steam.saturated_steam(temperature_K)


def test_still_water_of_equal_temperature_only_conducts() -> None:
    """Without a temperature difference the Nusselt number is 0.36, at 4 degC as well where water does not
    expand."""
    for temperature_K in (277.13, 330.0):
        film = water_films.immersed_cylinder_coefficient_W_m2K(temperature_K, temperature_K, 0.02)
        conductivity = water_films.liquid_film(temperature_K).conductivity_W_mK
        assert film == pytest.approx(0.36 * conductivity / 0.02)
