"""Laws of the steam coil: the balance closes, the chain of resistances holds, heat goes the right way."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vaporwright.equipment.steam_coil import SteamCoilRating, rate_steam_coil, steam_coil_area_m2
from vaporwright.properties.steam import latent_heat_J_kg
from vaporwright.properties.water import saturation_pressure_Pa, saturation_temperature_K

ATMOSPHERE_Pa = 101325.0

bath = st.floats(278.15, 368.15)
gauge = st.floats(0.2e5, 10e5)


@st.composite
def tubes(draw: st.DrawFn) -> dict[str, Any]:
    outer_m = draw(st.floats(0.004, 0.06))
    return {
        "tube_outer_diameter_m": outer_m,
        "tube_wall_thickness_m": outer_m * draw(st.floats(0.03, 0.2)),
        "wall_conductivity_W_mK": draw(st.sampled_from([0.2, 16.0, 20.0, 50.0])),
        "tube_length_m": draw(st.floats(1.0, 200.0)),
        "parallel_tubes": draw(st.integers(1, 100)),
        "fouling_resistance_m2K_W": draw(st.floats(0.0, 0.001)),
        "agitation_multiplier": draw(st.floats(1.0, 3.0)),
        "steam_quality": draw(st.floats(0.8, 1.0)),
    }


def _check(rating: SteamCoilRating, bath_K: float, coil: dict[str, Any]) -> None:
    """What every rating must satisfy, limited or not."""
    difference_K = rating.coil_temperature_K - bath_K
    latent = latent_heat_J_kg(rating.coil_temperature_K)
    assert rating.heat_W == pytest.approx(rating.steam_flow_kg_s * coil["steam_quality"] * latent, rel=1e-9)
    assert rating.heat_W == pytest.approx(rating.overall_coefficient_W_m2K * rating.area_m2 * difference_K, rel=1e-9)
    inner_share = 1.0 - 2.0 * coil["tube_wall_thickness_m"] / coil["tube_outer_diameter_m"]
    resistance = (
        1.0 / rating.outside_coefficient_W_m2K
        + rating.fouling_resistance_m2K_W
        + rating.wall_resistance_m2K_W
        + 1.0 / (rating.inside_coefficient_W_m2K * inner_share)
    )
    assert 1.0 / rating.overall_coefficient_W_m2K == pytest.approx(resistance, rel=1e-7)
    smallest = min(rating.outside_coefficient_W_m2K, rating.inside_coefficient_W_m2K)
    assert 0.0 < rating.overall_coefficient_W_m2K < smallest
    assert rating.condensate_flow_kg_s == rating.steam_flow_kg_s
    assert rating.condensate_temperature_K == rating.coil_temperature_K
    chain = (
        rating.coil_temperature_K,
        rating.inner_wall_temperature_K,
        rating.outer_wall_temperature_K,
        rating.wetted_surface_temperature_K,
        bath_K,
    )
    assert list(chain) == sorted(chain, reverse=True)


@settings(max_examples=60, deadline=None)
@given(bath_K=bath, gauge_Pa=gauge, coil=tubes())
def test_balance_closes_and_resistances_add_up(bath_K: float, gauge_Pa: float, coil: dict[str, Any]) -> None:
    rating = rate_steam_coil(bath_temperature_K=bath_K, steam_pressure_Pa=ATMOSPHERE_Pa + gauge_Pa, **coil)
    assert rating.limit == "coil surface"
    assert rating.coil_temperature_K == pytest.approx(saturation_temperature_K(ATMOSPHERE_Pa + gauge_Pa))
    _check(rating, bath_K, coil)


@settings(max_examples=60, deadline=None)
@given(bath_K=bath, gauge_Pa=gauge, coil=tubes(), share=st.floats(0.05, 0.99))
def test_a_short_supply_is_taken_whole_at_a_lower_pressure(
    bath_K: float, gauge_Pa: float, coil: dict[str, Any], share: float
) -> None:
    steam_Pa = ATMOSPHERE_Pa + gauge_Pa
    free = rate_steam_coil(bath_temperature_K=bath_K, steam_pressure_Pa=steam_Pa, **coil)
    short_kg_s = share * free.steam_flow_kg_s
    short = rate_steam_coil(
        bath_temperature_K=bath_K, steam_pressure_Pa=steam_Pa, steam_supply_limit_kg_s=short_kg_s, **coil
    )
    assert short.limit == "steam supply"
    assert short.steam_flow_kg_s == pytest.approx(short_kg_s, rel=1e-9)
    assert short.coil_pressure_Pa < steam_Pa
    assert short.coil_temperature_K == pytest.approx(saturation_temperature_K(short.coil_pressure_Pa), abs=1e-3)
    _check(short, bath_K, coil)
    # the same coil given that lower pressure and all the steam it wants rates the same: two ways to one
    # answer
    again = rate_steam_coil(bath_temperature_K=bath_K, steam_pressure_Pa=short.coil_pressure_Pa, **coil)
    assert again.heat_W == pytest.approx(short.heat_W, rel=1e-4)


@settings(max_examples=40, deadline=None)
@given(bath_K=bath, gauge_Pa=gauge, coil=tubes())
def test_an_ample_supply_changes_nothing(bath_K: float, gauge_Pa: float, coil: dict[str, Any]) -> None:
    steam_Pa = ATMOSPHERE_Pa + gauge_Pa
    free = rate_steam_coil(bath_temperature_K=bath_K, steam_pressure_Pa=steam_Pa, **coil)
    ample = rate_steam_coil(
        bath_temperature_K=bath_K,
        steam_pressure_Pa=steam_Pa,
        steam_supply_limit_kg_s=1.001 * free.steam_flow_kg_s,
        **coil,
    )
    assert ample == free


@settings(max_examples=60, deadline=None)
@given(bath_K=bath, gauge_Pa=st.floats(0.2e5, 9e5), coil=tubes())
def test_heat_goes_the_right_way(bath_K: float, gauge_Pa: float, coil: dict[str, Any]) -> None:
    def heat_W(**changes: Any) -> float:
        given_now = {
            "bath_temperature_K": bath_K,
            "steam_pressure_Pa": ATMOSPHERE_Pa + gauge_Pa,
            **coil,
            **changes,
        }
        return rate_steam_coil(**given_now).heat_W

    plain = heat_W()
    assert heat_W(bath_temperature_K=bath_K + 1.0) < plain
    assert heat_W(steam_pressure_Pa=ATMOSPHERE_Pa + 1.05 * gauge_Pa) > plain
    assert heat_W(tube_length_m=1.1 * coil["tube_length_m"]) == pytest.approx(1.1 * plain, rel=1e-6)
    assert heat_W(fouling_resistance_m2K_W=coil["fouling_resistance_m2K_W"] + 1e-4) < plain
    assert heat_W(agitation_multiplier=coil["agitation_multiplier"] + 0.5) > plain
    assert heat_W(wall_conductivity_W_mK=1.1 * coil["wall_conductivity_W_mK"]) > plain


@settings(max_examples=40, deadline=None)
@given(bath_K=bath, margin_K=st.floats(0.15, 3.0), coil=tubes())
def test_steam_hardly_hotter_than_the_bath(bath_K: float, margin_K: float, coil: dict[str, Any]) -> None:
    steam_Pa = saturation_pressure_Pa(bath_K + margin_K)
    _check(rate_steam_coil(bath_temperature_K=bath_K, steam_pressure_Pa=steam_Pa, **coil), bath_K, coil)


@given(bath_K=bath, gauge_Pa=gauge, coefficient=st.floats(50.0, 3000.0), heat_W=st.floats(1e3, 1e6))
def test_area_inverts_the_heat(bath_K: float, gauge_Pa: float, coefficient: float, heat_W: float) -> None:
    steam_K = saturation_temperature_K(ATMOSPHERE_Pa + gauge_Pa)
    area_m2 = steam_coil_area_m2(
        heat_W=heat_W,
        overall_coefficient_W_m2K=coefficient,
        steam_temperature_K=steam_K,
        bath_temperature_K=bath_K,
    )
    assert coefficient * area_m2 * (steam_K - bath_K) == pytest.approx(heat_W)
