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
from vaporwright.foundation.notice import Notice
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


def _notice(rating: SteamCoilRating, name: str) -> Notice | None:
    return next((notice for notice in rating.warnings if notice.name == name), None)


def _figures(rating: SteamCoilRating, name: str) -> tuple[tuple[float, str], ...]:
    notice = _notice(rating, name)
    assert notice is not None
    assert "{" not in notice.words(lambda value, quantity: f"{value} {quantity}")
    return notice.figures


def test_warnings_of_condensate_piping() -> None:
    plain = _rate(modulated=False, condensate_returned=False)
    assert plain.warnings == ()
    part_load = _notice(_rate(), "condensate at part load")
    assert part_load is not None
    assert "vacuum breaker" in part_load.text
    assert "trap below the coil" in part_load.text
    assert not _notice(_rate(), "condensate lift")
    assert _figures(_rate(condensate_lift_m=2.0), "condensate lift") == ((2.0, "length"),)
    assert not _notice(_rate(condensate_lift_m=2.0, modulated=False), "condensate lift")
    returned = _notice(_rate(condensate_returned=True), "condensate returned")
    assert returned is not None
    assert "conductivity monitor" in returned.text
    # 170 kPa absolute pushes condensate 7 m up, not 8
    assert not _notice(_rate(condensate_lift_m=6.9, modulated=False), "condensate backs up")
    coil, against = _figures(_rate(condensate_lift_m=7.1, modulated=False), "condensate backs up")
    assert coil == (170e3, "absolute pressure")
    assert against == (pytest.approx(101325.0 + 7.1 * 9806.65), "absolute pressure")


def test_a_starved_coil_falls_into_vacuum_and_says_so() -> None:
    starved = _rate(steam_supply_limit_kg_s=0.4 * _rate().steam_flow_kg_s)
    assert starved.limit == "steam supply"
    assert starved.coil_pressure_Pa < 101325.0
    assert _figures(starved, "condensate backs up")[0] == (starved.coil_pressure_Pa, "absolute pressure")


def test_warnings_of_films() -> None:
    fast = _rate(tube_length_m=20.0)
    assert _figures(fast, "fast steam") == ((fast.steam_velocity_m_s, "velocity"), (40.0, "velocity"))
    assert not _notice(_rate(tube_length_m=20.0, parallel_tubes=4), "fast steam")
    hot = _rate(steam_pressure_Pa=900e3)
    surface, boiling = _figures(hot, "boiling on coil")
    assert surface == (hot.wetted_surface_temperature_K, "temperature")
    assert boiling == (pytest.approx(373.12, abs=0.05), "temperature")  # steam tables at 101.325 kPa
    assert not _notice(_rate(), "boiling on coil")
    assert _notice(_rate(site_pressure_Pa=70e3, steam_pressure_Pa=200e3), "boiling on coil")
    stirred = _rate(agitation_multiplier=5.0, tube_length_m=20.0, wall_conductivity_W_mK=50.0)
    reynolds, limit, share = _figures(stirred, "condensing film beyond its equation")
    assert reynolds[0] > 35_000.0 == limit[0]
    drop_K = stirred.coil_temperature_K - stirred.inner_wall_temperature_K
    assert share == (pytest.approx(drop_K / (stirred.coil_temperature_K - 333.15)), "fraction")


def test_the_caution_defers_to_codes_and_trades() -> None:
    assert "licensed" in _rate().caution
    assert "lock-out" in _rate().caution
