"""Bad input to the tank: one clear error each."""

import math

import pytest

from vaporwright.equipment.tank import Tank, tank_losses
from vaporwright.equipment.tank_surface import free_surface_losses
from vaporwright.equipment.tank_walls import panel_loss, pipe_loss
from vaporwright.foundation.errors import OutOfRange

GOOD_TANK = {
    "length_m": 2.0,
    "width_m": 1.2,
    "liquid_depth_m": 0.6,
    "wall_height_m": 0.8,
    "lid_fraction": 0.5,
}
GOOD_SURFACE = {
    "liquid_temperature_K": 338.15,
    "room_temperature_K": 293.15,
    "room_humidity_ratio_kg_kg": 0.007,
    "pressure_Pa": 101325.0,
    "length_m": 2.0,
    "width_m": 1.2,
    "open_fraction": 1.0,
    "air_speed_m_s": 0.1,
    "water_activity": 1.0,
    "emissivity": 0.95,
}
GOOD_PIPE = {
    "liquid_temperature_K": 338.15,
    "room_temperature_K": 293.15,
    "pressure_Pa": 101325.0,
    "pipe_diameter_m": 0.06,
    "length_m": 1.0,
    "insulation_thickness_m": 0.025,
    "insulation_conductivity_W_mK": 0.04,
    "emissivity": 0.9,
}
GOOD_PANEL = {
    "liquid_temperature_K": 338.15,
    "room_temperature_K": 293.15,
    "pressure_Pa": 101325.0,
    "area_m2": 1.0,
    "size_m": 0.8,
    "shape": 0,
    "resistance_m2K_W": 0.5,
    "emissivity": 0.9,
}


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("length_m", 0.0),
        ("width_m", -1.0),
        ("liquid_depth_m", 0.81),
        ("wall_height_m", 0.5),
        ("lid_fraction", 1.01),
        ("lid_fraction", math.nan),
        ("shell_resistance_m2K_W", -0.1),
        ("wall_insulation_m", 0.5),
        ("floor_insulation_m", -0.01),
        ("lid_insulation_m", 1.0),
        ("insulation_conductivity_W_mK", 0.0),
        ("outer_emissivity", 1.2),
    ],
)
def test_tank_refuses(key, value):
    with pytest.raises(OutOfRange) as caught:
        Tank(**(GOOD_TANK | {key: value}))
    assert caught.value.name in {key, "liquid_depth_m"}


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("liquid_temperature_K", 65.0),
        ("liquid_temperature_K", math.nan),
        ("room_temperature_K", 20.0),
        ("room_humidity_ratio_kg_kg", 0.02),
        ("room_humidity_ratio_kg_kg", -0.001),
        ("pressure_Pa", 101.325),
        ("length_m", 0.0),
        ("width_m", 50.0),
        ("open_fraction", 1.5),
        ("air_speed_m_s", -0.1),
        ("water_activity", 1.01),
        ("emissivity", -0.1),
    ],
)
def test_surface_refuses(key, value):
    with pytest.raises(OutOfRange) as caught:
        free_surface_losses(**(GOOD_SURFACE | {key: value}))
    assert caught.value.name == key


def test_liquid_near_boiling_is_refused_with_the_limit():
    with pytest.raises(OutOfRange, match=r"liquid_temperature_K = 372.6: .*372.124.*1 K below boiling at 101325 Pa"):
        free_surface_losses(**(GOOD_SURFACE | {"liquid_temperature_K": 372.6}))


def test_solids_lift_the_boiling_limit():
    losses = free_surface_losses(**(GOOD_SURFACE | {"liquid_temperature_K": 372.6, "water_activity": 0.9}))
    assert losses.evaporation_kg_s > 0.0


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("pipe_diameter_m", 0.0),
        ("length_m", -1.0),
        ("insulation_thickness_m", -0.01),
        ("insulation_conductivity_W_mK", 0.0),
        ("emissivity", 2.0),
        ("pressure_Pa", 0.0),
    ],
)
def test_pipe_refuses(key, value):
    with pytest.raises(OutOfRange) as caught:
        pipe_loss(**(GOOD_PIPE | {key: value}))
    assert caught.value.name == key


@pytest.mark.parametrize(
    ("key", "value"), [("area_m2", -1.0), ("size_m", 0.0), ("shape", 3), ("resistance_m2K_W", 0.0)]
)
def test_panel_refuses(key, value):
    with pytest.raises(OutOfRange) as caught:
        panel_loss(**(GOOD_PANEL | {key: value}))
    assert caught.value.name == key


def test_whole_tank_passes_the_error_on():
    with pytest.raises(OutOfRange, match="room_temperature_K"):
        tank_losses(
            tank=Tank(**GOOD_TANK),
            liquid_temperature_K=338.15,
            room_temperature_K=70.0,
            room_humidity_ratio_kg_kg=0.007,
            pressure_Pa=101325.0,
            air_speed_m_s=0.1,
        )
