"""What is out of the usual where a unit settles: its fill, its clamp, hot surfaces, its pump."""

from __future__ import annotations

from vaporwright.equipment.tank import TankLosses
from vaporwright.equipment.tank_walls import TOUCH_LIMIT_K
from vaporwright.foundation.notice import Notice
from vaporwright.unit.air_path import TowerRating
from vaporwright.unit.assembly import AssembledUnit
from vaporwright.unit.catalogue import Fill
from vaporwright.unit.fill_fit import HOTTER_THAN_TESTED_difference_K


def fill_notices(fill: Fill, tower: TowerRating, water_K: float) -> tuple[Notice, ...]:
    """A fill wetted, blown through or warmed as it was not meant or not tested."""
    loading, ratio = tower.water_loading_kg_s_m2, tower.water_to_air_ratio
    checks = (
        (
            loading < fill.least_water_loading_kg_s_m2,
            "minimum wetting",
            "Minimum wetting: {0} is below the {1} that keeps the fill wet; dry patches scale and do not evaporate.",
            ((loading, "water loading"), (fill.least_water_loading_kg_s_m2, "water loading")),
        ),
        (
            loading > fill.most_water_loading_kg_s_m2,
            "water loading",
            "Water loading {0} is above what the fill takes, {1}.",
            ((loading, "water loading"), (fill.most_water_loading_kg_s_m2, "water loading")),
        ),
        (
            tower.face_velocity_m_s > fill.flooding_air_velocity_m_s,
            "flooding",
            "Flooding: air at {0} holds the water up in this fill (limit {1}).",
            ((tower.face_velocity_m_s, "velocity"), (fill.flooding_air_velocity_m_s, "velocity")),
        ),
        (
            not fill.tested_ratio_low <= ratio <= fill.tested_ratio_high,
            "L/G outside the fill test",
            "Extrapolation: L/G {0} is outside the fill test ({1} to {2}).",
            ((ratio, "ratio"), (fill.tested_ratio_low, "ratio"), (fill.tested_ratio_high, "ratio")),
        ),
        (
            water_K > fill.tested_water_high_K + HOTTER_THAN_TESTED_difference_K,
            "hotter than the fill test",
            "Extrapolation: the fill was tested with water up to {0}; the tank settles at {1}.",
            ((fill.tested_water_high_K, "temperature"), (water_K, "temperature")),
        ),
    )
    return tuple(Notice(name, text, figures) for present, name, text, figures in checks if present)


def tank_notices(
    unit: AssembledUnit, tank: TankLosses, set_point_K: float, clamp: tuple[float, str]
) -> tuple[Notice, ...]:
    """A set point that a part does not bear, surfaces that burn, a pump that gives less than the spray."""
    clamp_K, clamp_part = clamp
    touch = ", ".join(tank.too_hot_to_touch)
    checks = (
        (
            clamp_part != "set point" and clamp_K < set_point_K,
            "set point above a part's limit",
            "The set point {0} is above what the " + clamp_part + " bears: clamped at {1}.",
            ((set_point_K, "temperature"), (clamp_K, "temperature")),
        ),
        (
            bool(touch),
            "too hot to touch",
            "Too hot to touch (above {0}): " + touch + "; guard or insulate.",
            ((TOUCH_LIMIT_K, "temperature"),),
        ),
        (
            unit.spray_flow_m3_s > unit.pump.flow_m3_s,
            "pump too small",
            "The pump gives {0}, less than the spray flow of {1}.",
            ((unit.pump.flow_m3_s, "liquid flow"), (unit.spray_flow_m3_s, "liquid flow")),
        ),
    )
    return tuple(Notice(name, text, figures) for present, name, text, figures in checks if present)
