"""What is out of the usual where a unit settles: raised beyond each limit with the figures compared, not within."""

from __future__ import annotations

from dataclasses import replace

import pytest

from invented_unit import FILL, GPM, unit
from vaporwright.equipment.tank import TankLosses
from vaporwright.unit.balance import conditions_of, settle
from vaporwright.unit.job import build_job
from vaporwright.unit.operation_notices import fill_notices, tank_notices

SETTLED = settle(unit(), conditions_of(build_job({"duty.volume": 8.6e-6}), "summer")).operation
TOWER = replace(
    SETTLED.tower,
    water_loading_kg_s_m2=0.5 * (FILL.least_water_loading_kg_s_m2 + FILL.most_water_loading_kg_s_m2),
    face_velocity_m_s=0.9 * FILL.flooding_air_velocity_m_s,
    water_to_air_ratio=FILL.tested_ratio_low,
)


@pytest.mark.parametrize(
    ("quantity", "key", "value", "limit", "name"),
    [
        ("water loading", "water_loading_kg_s_m2", 0.99, FILL.least_water_loading_kg_s_m2, "minimum wetting"),
        ("water loading", "water_loading_kg_s_m2", 1.01, FILL.most_water_loading_kg_s_m2, "water loading"),
        ("velocity", "face_velocity_m_s", 1.01, FILL.flooding_air_velocity_m_s, "flooding"),
        ("ratio", "water_to_air_ratio", 0.99, FILL.tested_ratio_low, "L/G outside the fill test"),
        ("ratio", "water_to_air_ratio", 1.01, FILL.tested_ratio_high, "L/G outside the fill test"),
    ],
)
def test_each_limit_of_the_fill(quantity: str, key: str, value: float, limit: float, name: str) -> None:
    water_K = FILL.tested_water_high_K
    assert fill_notices(FILL, TOWER, water_K) == ()
    assert fill_notices(FILL, replace(TOWER, **{key: limit}), water_K) == ()
    (notice,) = fill_notices(FILL, replace(TOWER, **{key: value * limit}), water_K)
    assert notice.name == name
    assert {(value * limit, quantity), (limit, quantity)} <= set(notice.figures)


def test_a_tank_much_hotter_than_the_fill_test() -> None:
    tested_K = FILL.tested_water_high_K
    assert fill_notices(FILL, TOWER, tested_K + 9.9) == ()
    (notice,) = fill_notices(FILL, TOWER, tested_K + 10.1)
    assert notice.name == "hotter than the fill test"
    assert notice.figures == ((tested_K, "temperature"), (tested_K + 10.1, "temperature"))


def tank(wall_K: float) -> TankLosses:
    """Losses of a tank whose walls are that hot outside, whose lid is cold and whose floor loses nothing."""
    losses = SETTLED.tank
    lid = replace(losses.lid, heat_W=1.0, outer_temperature_K=300.0)
    walls = replace(losses.walls, heat_W=1.0, outer_temperature_K=wall_K)
    return replace(losses, lid=lid, walls=walls, floor=replace(losses.floor, heat_W=0.0, outer_temperature_K=wall_K))


def test_surfaces_that_burn_are_named() -> None:
    at_set_point = (345.0, "set point")
    assert tank_notices(unit(), tank(333.1), 345.0, at_set_point) == ()
    (notice,) = tank_notices(unit(), tank(333.2), 345.0, at_set_point)
    assert notice.name == "too hot to touch"
    assert notice.words(lambda value, _: f"{value} K") == (
        "Too hot to touch (above 333.15 K): walls; guard or insulate."
    )


def test_a_set_point_above_what_a_part_bears() -> None:
    cool = tank(300.0)
    assert tank_notices(unit(), cool, 340.0, (340.0, "set point")) == ()
    assert tank_notices(unit(), cool, 340.0, (340.0, "hose")) == ()
    (notice,) = tank_notices(unit(), cool, 345.0, (340.0, "hose"))
    assert notice.words(lambda value, _: f"{value} K") == (
        "The set point 345.0 K is above what the hose bears: clamped at 340.0 K."
    )


def test_a_pump_that_gives_less_than_the_spray() -> None:
    pump = unit().pump
    spray_gpm = pump.flow_m3_s / GPM
    assert tank_notices(unit(spray_gpm=0.99 * spray_gpm), tank(300.0), 340.0, (340.0, "set point")) == ()
    (notice,) = tank_notices(unit(spray_gpm=1.01 * spray_gpm), tank(300.0), 340.0, (340.0, "set point"))
    assert notice.name == "pump too small"
    assert notice.figures[0] == (pump.flow_m3_s, "liquid flow")
    assert notice.figures[1] == (pytest.approx(1.01 * pump.flow_m3_s), "liquid flow")
