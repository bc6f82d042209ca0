"""Steam coil: bad input is one clear error; piping that will not work is a warning."""

from __future__ import annotations

from typing import Any

import pytest

from vaporwright.equipment.steam_coil import (
    SteamCoilRating,
    rate_steam_coil,
    steam_coil_area_m2,
    stratified_condensation_coefficient_W_m2K,
    tube_wall_conductivity_W_mK,
)
from vaporwright.foundation.errors import InputError, OutOfRange
from vaporwright.properties.water_films import liquid_film

COIL: dict[str, Any] = {
    "bath_temperature_K": 333.15,
    "steam_pressure_Pa": 170e3,
    "tube_outer_diameter_m": 0.0334,
    "tube_wall_thickness_m": 0.0028,
    "wall_conductivity_W_mK": 16.0,
    "tube_length_m": 6.0,
}


def _rate(**changes: Any) -> SteamCoilRating:
    return rate_steam_coil(**{**COIL, **changes})


@pytest.mark.parametrize(
    ("changes", "name"),
    [
        ({"bath_temperature_K": 272.0}, "bath_temperature_K"),
        ({"bath_temperature_K": 375.0}, "bath_temperature_K"),
        ({"bath_temperature_K": float("nan")}, "bath_temperature_K"),
        ({"steam_pressure_Pa": 15e3}, "steam_pressure_Pa"),
        ({"steam_pressure_Pa": -1.0}, "steam_pressure_Pa"),
        ({"steam_pressure_Pa": float("nan")}, "steam_pressure_Pa"),
        ({"steam_pressure_Pa": 2e6}, "steam_pressure_Pa"),
        ({"tube_outer_diameter_m": 1.0}, "tube_outer_diameter_m"),
        ({"tube_wall_thickness_m": 0.017}, "tube_wall_thickness_m"),
        ({"wall_conductivity_W_mK": 0.0}, "wall_conductivity_W_mK"),
        ({"tube_length_m": 0.0}, "tube_length_m"),
        ({"parallel_tubes": 0}, "parallel_tubes"),
        ({"fouling_resistance_m2K_W": -1e-4}, "fouling_resistance_m2K_W"),
        ({"agitation_multiplier": 0.5}, "agitation_multiplier"),
        ({"steam_quality": 0.0}, "steam_quality"),
        ({"steam_supply_limit_kg_s": 0.0}, "steam_supply_limit_kg_s"),
        ({"condensate_lift_m": -1.0}, "condensate_lift_m"),
        ({"site_pressure_Pa": 0.0}, "pressure_Pa"),
    ],
)
def test_out_of_range_names_the_argument(changes: dict[str, Any], name: str) -> None:
    with pytest.raises(OutOfRange) as raised:
        _rate(**changes)
    assert raised.value.name == name


def test_steam_colder_than_the_bath_says_so() -> None:
    with pytest.raises(OutOfRange, match=r"steam_pressure_Pa = 50000: .*no hotter than the bath at 95\.0 degC"):
        _rate(bath_temperature_K=368.15, steam_pressure_Pa=50e3)


def test_unknown_material_lists_the_known() -> None:
    with pytest.raises(InputError, match="stainless steel, carbon steel, titanium, fluoropolymer"):
        tube_wall_conductivity_W_mK("cheese")


def test_area_needs_a_difference() -> None:
    with pytest.raises(OutOfRange, match="steam must be hotter"):
        steam_coil_area_m2(
            heat_W=1e4, overall_coefficient_W_m2K=800.0, steam_temperature_K=333.0, bath_temperature_K=333.0
        )


def test_condensation_needs_a_colder_wall() -> None:
    with pytest.raises(OutOfRange, match="the wall must be colder"):
        stratified_condensation_coefficient_W_m2K(
            film=liquid_film(370.0),
            vapour_density_kg_m3=0.6,
            latent_heat_J_kg=2.26e6,
            inner_diameter_m=0.02,
            temperature_difference_K=0.0,
        )


def _has(rating: SteamCoilRating, words: str) -> bool:
    return any(words in warning for warning in rating.warnings)


def test_warnings_of_condensate_piping() -> None:
    plain = _rate(modulated=False, condensate_returned=False)
    assert plain.warnings == ()
    assert _has(_rate(), "vacuum breaker")
    assert _has(_rate(), "trap below the coil")
    assert not _has(_rate(), "lift")
    assert _has(_rate(condensate_lift_m=2.0), "lift of 2.0 m on a modulated coil")
    assert not _has(_rate(condensate_lift_m=2.0, modulated=False), "lift")
    assert _has(_rate(condensate_returned=True), "conductivity monitor")
    # 170 kPa absolute pushes condensate 7 m up, not 8
    assert not _has(_rate(condensate_lift_m=6.9, modulated=False), "does not push")
    assert _has(_rate(condensate_lift_m=7.1, modulated=False), "does not push")


def test_a_starved_coil_falls_into_vacuum_and_says_so() -> None:
    starved = _rate(steam_supply_limit_kg_s=0.4 * _rate().steam_flow_kg_s)
    assert starved.limit == "steam supply"
    assert starved.coil_pressure_Pa < 101325.0
    assert _has(starved, "does not push the condensate out")


def test_warnings_of_films() -> None:
    assert _has(_rate(tube_length_m=20.0), "m/s")
    assert not _has(_rate(tube_length_m=20.0, parallel_tubes=4), "m/s")
    assert _has(_rate(steam_pressure_Pa=900e3), "above the boiling point")
    assert not _has(_rate(), "above the boiling point")
    assert _has(_rate(site_pressure_Pa=70e3, steam_pressure_Pa=200e3), "above the boiling point")
    fast = {"agitation_multiplier": 5.0, "tube_length_m": 20.0, "wall_conductivity_W_mK": 50.0}
    assert _has(_rate(**fast), "Vapour Reynolds number")


def test_the_caution_defers_to_codes_and_trades() -> None:
    assert "licensed" in _rate().caution
    assert "lock-out" in _rate().caution
