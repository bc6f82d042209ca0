"""Laws of a tank's losses: signs, monotony, balance, equilibrium, geometry."""

import dataclasses
import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vaporwright.equipment.tank import Tank, tank_losses
from vaporwright.equipment.tank_surface import free_surface_losses, liquid_film_W_m2K43
from vaporwright.equipment.tank_walls import TOUCH_LIMIT_K, UPRIGHT, panel_loss, pipe_loss
from vaporwright.properties.moist_air_kernels import (
    ideal_vapour_enthalpy_J_kg,
    liquid_water_enthalpy_J_kg,
    saturated_humidity_ratio_kg_kg,
)

LIQUIDS_K = st.floats(274.15, 366.15)
ROOMS_K = st.floats(268.15, 313.15)
HUMIDITIES = st.floats(0.0, 1.0)
PRESSURES_Pa = st.floats(85e3, 105e3)
SPEEDS_m_s = st.floats(0.0, 2.0)
ACTIVITIES = st.floats(0.75, 1.0)


def ratio_of(room_K, relative_humidity, pressure_Pa):
    return relative_humidity * saturated_humidity_ratio_kg_kg(room_K, pressure_Pa, 1.0)


def surface(liquid_K, room_K, ratio, pressure_Pa, speed=0.1, activity=1.0, open_fraction=1.0):
    return free_surface_losses(
        liquid_temperature_K=liquid_K,
        room_temperature_K=room_K,
        room_humidity_ratio_kg_kg=ratio,
        pressure_Pa=pressure_Pa,
        length_m=2.0,
        width_m=1.2,
        open_fraction=open_fraction,
        air_speed_m_s=speed,
        water_activity=activity,
    )


@settings(max_examples=60, deadline=None)
@given(LIQUIDS_K, ROOMS_K, HUMIDITIES, PRESSURES_Pa, SPEEDS_m_s, ACTIVITIES)
def test_surface_balance_closes(liquid_K, room_K, humidity, pressure_Pa, speed, activity):
    """What leaves the skin is what the liquid film delivers; the vapour has the enthalpy of its skin."""
    ratio = ratio_of(room_K, humidity, pressure_Pa)
    losses = surface(liquid_K, room_K, ratio, pressure_Pa, speed, activity)
    area_m2 = 2.4
    drop = liquid_K - losses.skin_temperature_K
    delivered = liquid_film_W_m2K43(liquid_K) * drop * abs(drop) ** (1 / 3) * area_m2
    leaving = losses.heat_W - losses.evaporation_kg_s * liquid_water_enthalpy_J_kg(liquid_K)
    assert leaving == pytest.approx(delivered, rel=1e-5, abs=1e-2)
    vapour_W = losses.evaporation_kg_s * ideal_vapour_enthalpy_J_kg(losses.skin_temperature_K)
    assert losses.vapour_enthalpy_flow_W == pytest.approx(vapour_W, rel=1e-12, abs=1e-12)


@settings(max_examples=60, deadline=None)
@given(LIQUIDS_K, ROOMS_K, HUMIDITIES, PRESSURES_Pa, SPEEDS_m_s, ACTIVITIES, st.floats(0.2, 5.0))
def test_evaporation_and_heat_rise_with_liquid_temperature(
    liquid_K, room_K, humidity, pressure_Pa, speed, activity, warmer_K
):
    """Left out: brine that draws water from the room, where the onset of buoyancy speeds the gain."""
    ratio = ratio_of(room_K, humidity * activity, pressure_Pa)
    cold = surface(liquid_K, room_K, ratio, pressure_Pa, speed, activity)
    warm = surface(min(liquid_K + warmer_K, 367.0), room_K, ratio, pressure_Pa, speed, activity)
    if warm.evaporation_kg_s > 0.0:
        assert warm.evaporation_kg_s > cold.evaporation_kg_s
    assert warm.heat_W - warm.evaporation_kg_s * 2.5e5 > cold.heat_W - cold.evaporation_kg_s * 2.5e5
    assert warm.skin_temperature_K > cold.skin_temperature_K


@settings(max_examples=60, deadline=None)
@given(LIQUIDS_K, ROOMS_K, st.floats(0.0, 0.9), PRESSURES_Pa, SPEEDS_m_s, st.floats(0.01, 0.1))
def test_evaporation_falls_with_room_humidity(liquid_K, room_K, humidity, pressure_Pa, speed, more):
    dry = surface(liquid_K, room_K, ratio_of(room_K, humidity, pressure_Pa), pressure_Pa, speed)
    wet = surface(liquid_K, room_K, ratio_of(room_K, humidity + more, pressure_Pa), pressure_Pa, speed)
    assert wet.evaporation_kg_s < dry.evaporation_kg_s


@settings(max_examples=40, deadline=None)
@given(st.floats(303.15, 366.15), ROOMS_K, st.floats(0.0, 0.6), st.floats(0.75, 0.97), st.floats(0.0, 1.0))
def test_evaporation_falls_with_solids_and_rises_with_draught(liquid_K, room_K, humidity, activity, speed):
    ratio = ratio_of(min(room_K, liquid_K - 10.0), humidity, 101325.0)
    room_K = min(room_K, liquid_K - 10.0)
    here = surface(liquid_K, room_K, ratio, 101325.0, speed, activity)
    purer = surface(liquid_K, room_K, ratio, 101325.0, speed, activity + 0.02)
    windier = surface(liquid_K, room_K, ratio, 101325.0, speed + 0.1, activity)
    if here.evaporation_kg_s > 0.0:
        assert here.evaporation_kg_s < purer.evaporation_kg_s
        assert here.evaporation_kg_s < windier.evaporation_kg_s


@given(st.floats(274.15, 323.15), PRESSURES_Pa, SPEEDS_m_s)
def test_no_loss_in_equilibrium(kelvin, pressure_Pa, speed):
    """Liquid, saturated room and walls at one temperature exchange nothing."""
    tank = Tank(length_m=2.0, width_m=1.2, liquid_depth_m=0.6, wall_height_m=0.8, lid_fraction=0.5)
    losses = tank_losses(
        tank=tank,
        liquid_temperature_K=kelvin,
        room_temperature_K=kelvin,
        room_humidity_ratio_kg_kg=saturated_humidity_ratio_kg_kg(kelvin, pressure_Pa, 1.0),
        pressure_Pa=pressure_Pa,
        air_speed_m_s=speed,
    )
    # The skin is settled to 1e-7 K; at up to 100 W/(m2 K) over 1.2 m2 that is 1.2e-5 W, and as vapour 5e-12
    # kg/s.
    assert abs(losses.surface_evaporation_kg_s) < 1e-11
    assert abs(losses.heat_W) < 5e-5


@given(st.floats(274.15, 288.15), st.floats(295.15, 313.15), st.floats(0.8, 1.0))
def test_cold_liquid_in_a_warm_humid_room_gains_heat_and_water(liquid_K, room_K, humidity):
    losses = surface(liquid_K, room_K, ratio_of(room_K, humidity, 101325.0), 101325.0)
    assert losses.evaporation_kg_s < 0.0
    assert losses.convection_W < 0.0
    assert losses.radiation_W < 0.0
    assert losses.skin_temperature_K > liquid_K


@given(st.floats(313.15, 366.15), st.floats(0.0, 0.99))
def test_lid_scales_the_open_part_and_saves_heat(liquid_K, lid):
    def losses(lid_fraction):
        return tank_losses(
            tank=Tank(
                length_m=2.0,
                width_m=1.2,
                liquid_depth_m=0.6,
                wall_height_m=0.6,
                lid_fraction=lid_fraction,
                lid_insulation_m=0.025,
            ),
            liquid_temperature_K=liquid_K,
            room_temperature_K=293.15,
            room_humidity_ratio_kg_kg=0.007,
            pressure_Pa=101325.0,
            air_speed_m_s=0.1,
        )

    bare, lidded = losses(0.0), losses(lid)
    share = 1.0 - lid
    assert lidded.surface_evaporation_kg_s == pytest.approx(share * bare.surface_evaporation_kg_s, rel=1e-12)
    assert lidded.heat_W <= bare.heat_W
    whole = lidded.surface_heat_W + lidded.lid_heat_W + lidded.wall_heat_W + lidded.floor_heat_W
    assert lidded.heat_W == pytest.approx(whole, rel=1e-12)


@given(st.floats(0.0, 1.0), st.floats(0.1, 1.0))
def test_freeboard_counts_under_the_lid_only(lid, depth_m):
    tank = Tank(length_m=2.0, width_m=1.2, liquid_depth_m=depth_m, wall_height_m=1.0, lid_fraction=lid)
    whole_m2 = 2.0 * (2.0 + 1.2) * 1.0
    expected_m2 = whole_m2 * (depth_m + lid * (1.0 - depth_m))
    assert tank.warm_wall_area_m2 == pytest.approx(expected_m2, rel=1e-12)


@given(st.floats(300.15, 366.15), st.floats(0.001, 0.1))
def test_insulation_saves_heat_and_cools_the_outside(liquid_K, thickness_m):
    def wall(insulation_m):
        return panel_loss(
            liquid_temperature_K=liquid_K,
            room_temperature_K=293.15,
            pressure_Pa=101325.0,
            area_m2=1.0,
            size_m=0.8,
            shape=UPRIGHT,
            resistance_m2K_W=0.002 + insulation_m / 0.045,
            emissivity=0.9,
        )

    bare, insulated = wall(0.0), wall(thickness_m)
    assert insulated.heat_W < bare.heat_W
    assert 293.15 < insulated.outer_temperature_K < bare.outer_temperature_K < liquid_K
    assert bare.too_hot_to_touch == (bare.outer_temperature_K > TOUCH_LIMIT_K)


@given(st.floats(275.15, 366.15))
def test_wide_pipe_loses_as_its_developed_area(liquid_K):
    """A metre of insulated pipe as wide as a tank nearly loses what a flat wall of its mean area does."""
    pipe = pipe_loss(
        liquid_temperature_K=liquid_K,
        room_temperature_K=293.15,
        pressure_Pa=101325.0,
        pipe_diameter_m=1.0,
        length_m=1.0,
        insulation_thickness_m=0.05,
        insulation_conductivity_W_mK=0.04,
        emissivity=0.9,
    )
    flat = panel_loss(
        liquid_temperature_K=liquid_K,
        room_temperature_K=293.15,
        pressure_Pa=101325.0,
        area_m2=math.pi * 1.05,
        size_m=1.0,
        shape=UPRIGHT,
        resistance_m2K_W=0.002 + 0.05 / 0.04,
        emissivity=0.9,
    )
    assert pipe.heat_W == pytest.approx(flat.heat_W, rel=0.03, abs=0.5)


def test_losses_are_smooth_from_0_to_99_degC():
    """No jump anywhere; the slope kinks only where the air above turns buoyant (near 19 degC here)."""
    tank = Tank(length_m=2.0, width_m=1.2, liquid_depth_m=0.6, wall_height_m=0.8, lid_fraction=0.5)
    ratio = ratio_of(293.15, 0.5, 101325.0)

    def heat(liquid_K):
        losses = tank_losses(
            tank=tank,
            liquid_temperature_K=liquid_K,
            room_temperature_K=293.15,
            room_humidity_ratio_kg_kg=ratio,
            pressure_Pa=101325.0,
            air_speed_m_s=0.1,
        )
        return losses.heat_W

    step_K = 0.05
    values = [heat(273.15 + step_K * i) for i in range(round(98.9 / step_K))]
    slopes = [(after - before) / step_K for before, after in itertools.pairwise(values)]
    assert min(slopes) > 0.0
    for place, (before, after) in enumerate(itertools.pairwise(slopes)):
        celsius = place * step_K
        assert abs(after - before) < (120.0 if celsius < 20.0 else 2.0 + 0.01 * before)  # W/K


def test_dry_heat_leaves_out_the_vapour_only():
    tank = Tank(length_m=2.0, width_m=1.2, liquid_depth_m=0.6, wall_height_m=0.8, lid_fraction=0.0)
    losses = tank_losses(
        tank=dataclasses.replace(tank, wall_insulation_m=0.05),
        liquid_temperature_K=338.15,
        room_temperature_K=293.15,
        room_humidity_ratio_kg_kg=0.007,
        pressure_Pa=101325.0,
        air_speed_m_s=0.1,
    )
    assert losses.heat_W - losses.dry_heat_W == pytest.approx(losses.surface_vapour_enthalpy_flow_W, rel=1e-12)
    assert losses.too_hot_to_touch == ("floor",)


@pytest.mark.parametrize("room_K", [295.0, 303.0, 310.0])
def test_a_surface_whose_air_neither_rises_nor_sinks_settles_too(room_K: float) -> None:
    # Where the moist air at the skin is as dense as the room's, natural convection changes without bound.
    before = None
    for step in range(3000):
        liquid_K = room_K - 12.0 + 0.004 * step
        evaporation = surface(liquid_K, room_K=room_K, ratio=0.004, pressure_Pa=95e3, speed=0.0).evaporation_kg_s
        assert before is None or evaporation > before
        before = evaporation
