"""Laws of the liquor: activity falls with solids, solids are conserved, boiling inverts the vapour
pressure."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vaporwright.properties.liquor import (
    Liquor,
    boiling_point_elevation_difference_K,
    boiling_temperature_K,
    concentrated,
    density_kg_m3,
    heat_capacity_J_kgK,
    water_activity,
)
from vaporwright.properties.moist_air_kernels import (
    liquid_water_heat_capacity_J_kgK,
    vapour_pressure_of_pure_water_Pa,
)
from vaporwright.properties.water_transport import liquid_density_kg_m3

SOLIDS = st.floats(0.0, 0.25)
KELVIN = st.floats(273.15, 383.15)


@given(SOLIDS, st.floats(0.0005, 0.01), KELVIN)
def test_activity_falls_density_rises_and_heat_capacity_falls_with_solids(solids, more, kelvin):
    thin, thick = Liquor(solids), Liquor(solids + more)
    assert water_activity(thick, kelvin) < water_activity(thin, kelvin) <= 1.0
    assert density_kg_m3(thick, kelvin) > density_kg_m3(thin, kelvin)
    assert heat_capacity_J_kgK(thick, kelvin) < heat_capacity_J_kgK(thin, kelvin)


@given(KELVIN)
def test_clean_liquor_is_water(kelvin):
    clean = Liquor(0.0)
    assert water_activity(clean, kelvin) == 1.0
    assert density_kg_m3(clean, kelvin) == pytest.approx(liquid_density_kg_m3(kelvin), rel=1e-12)
    assert heat_capacity_J_kgK(clean, kelvin) == pytest.approx(liquid_water_heat_capacity_J_kgK(kelvin), rel=1e-12)


@given(st.floats(0.0001, 0.02), st.floats(0.0, 1.0), st.floats(1.0, 12.0), st.floats(300.0, 370.0))
def test_solids_and_chloride_stay(solids, share, factor, kelvin):
    feed = Liquor(solids, share * solids)
    left = concentrated(feed, factor, kelvin)
    assert left.dissolved_solids_kg_kg / factor == pytest.approx(feed.dissolved_solids_kg_kg, rel=1e-12)
    assert left.chloride_kg_kg / factor == pytest.approx(feed.chloride_kg_kg, rel=1e-12, abs=1e-15)


@given(st.floats(0.0, 0.2), st.floats(60e3, 105e3))
def test_boiling_inverts_the_vapour_pressure(solids, pressure_Pa):
    liquor = Liquor(solids)
    kelvin = boiling_temperature_K(liquor, pressure_Pa)
    vapour_Pa = water_activity(liquor, kelvin) * vapour_pressure_of_pure_water_Pa(kelvin)
    assert vapour_Pa == pytest.approx(pressure_Pa, rel=1e-7)
    assert boiling_point_elevation_difference_K(liquor, pressure_Pa) >= 0.0


@given(st.floats(0.0, 0.25), st.floats(275.0, 380.0))
def test_clausius_clapeyron_of_the_liquor(solids, kelvin):
    """Activity hardly moves with temperature, for diluting sodium chloride takes little heat."""
    warmer = min(kelvin + 10.0, 383.15)
    assert abs(water_activity(Liquor(solids), warmer) - water_activity(Liquor(solids), kelvin)) < 0.02 * solids + 1e-9
