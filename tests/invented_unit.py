"""Invented parts from which scenarios and laws build units without a catalogue file."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from vaporwright.equipment.pump import PumpCurve
from vaporwright.unit.assembly import AssembledUnit
from vaporwright.unit.catalogue import (
    BlowerPart,
    ElectricHeaterPart,
    Fill,
    GasBurnerPart,
    PumpPart,
    TankPart,
    TowerPart,
)

FOOT = 0.3048
INCH = 0.0254
GALLON = 3.785411784e-3
GPM = GALLON / 60.0
CFM = FOOT**3 / 60.0
IN_WC = 249.08891
BTU_H = 0.29307107
GALLON_PER_HOUR_kg_s = GALLON * 998.2 / 3600.0


def fahrenheit(degrees: float) -> float:
    return (degrees + 459.67) / 1.8


FILL = Fill(
    area_m2=6.0 * FOOT**2,
    depth_m=2.0 * FOOT,
    merkel_coefficient=0.35,
    merkel_exponent=-0.6,
    model="poppe",
    tested_ratio_low=1.5,
    tested_ratio_high=5.0,
    tested_water_high_K=fahrenheit(115.0),
    loss_velocity_heads=28.0,
    loss_velocity_heads_per_loading=1.2,
    least_water_loading_kg_s_m2=2.7,
    most_water_loading_kg_s_m2=8.1,
    flooding_air_velocity_m_s=3.3,
)
TOWER = TowerPart(
    part_id="T",
    name="tower 6 sq ft",
    fill=FILL,
    blower_id="B",
    blower_after_fill=False,
    rated_water_loading_kg_s_m2=5.4,
    other_loss_velocity_heads=6.0,
    drift_fraction=2e-4,
    temperature_limits_K=(("fill", fahrenheit(180.0)), ("shell", fahrenheit(180.0))),
    materials=(("fill", "polypropylene"), ("shell", "polypropylene")),
    nozzles=6,
    nozzle_gauge_pressure_Pa=34.5e3,
    nozzle_passage_m=0.008,
    sump_bottom_m=4.5 * FOOT,
    sump_depth_m=6.0 * INCH,
    mass_kg=200.0,
    floor_area_m2=0.75,
)
BLOWER = BlowerPart(
    part_id="B",
    name="blower",
    flow_m3_s=tuple(flow * CFM for flow in (800.0, 1400.0, 2000.0, 2600.0, 3000.0)),
    static_pressure_Pa=tuple(pressure * IN_WC for pressure in (2.6, 2.4, 1.9, 1.1, 0.2)),
    shaft_power_W=(520.0, 710.0, 860.0, 930.0, 900.0),
    density_kg_m3=1.2,
    motor_efficiency=0.85,
    motor_rating_W=1100.0,
)
TANK = TankPart(
    part_id="K",
    name="tank 7 x 4 x 3 ft",
    material="316 stainless",
    length_m=7.0 * FOOT,
    width_m=4.0 * FOOT,
    height_m=3.0 * FOOT,
    working_depth_m=2.2 * FOOT,
    wall_thickness_m=0.003,
    wall_conductivity_W_mK=16.0,
    insulation_thickness_m=2.0 * INCH,
    insulation_conductivity_W_mK=0.045,
    temperature_limit_K=fahrenheit(200.0),
    standing_height_m=4.0 * INCH,
    suction_mouth_m=0.12,
    drain_bore_m=1.5 * INCH,
    overflow_bore_m=3.0 * INCH,
)
BURNER = GasBurnerPart(
    part_id="G",
    name="burner",
    fuels=("natural gas", "propane"),
    gross_input_W=550_000.0 * BTU_H,
    least_input_W=150_000.0 * BTU_H,
    fan_assisted=True,
    height_m=14.0 * INCH,
    tube_material="316 stainless",
    tube_outer_diameter_m=6.5 * INCH,
    tube_wall_thickness_m=0.25 * INCH,
    tube_length_m=50.0 * FOOT,
    tube_conductivity_W_mK=16.0,
    tube_emissivity=0.85,
    flame_length_m=12.0 * 6.0 * INCH,
    blower_power_W=300.0,
    train_lowest_gauge_Pa=4.5 * IN_WC,
    train_highest_gauge_Pa=14.0 * IN_WC,
    manifold_gauge_Pa=3.5 * IN_WC,
    flue_diameter_m=6.0 * INCH,
    mass_kg=130.0,
)
HEATER = ElectricHeaterPart(
    "E", "heater", 60e3, 480.0, 3, 0.2, "316 stainless", 60e3 / (15.0 / INCH**2), 0.475 * INCH, 4, 40.0
)
_PUMP_FLOWS_gpm, _PUMP_HEADS_ft = (0.0, 30.0, 60.0, 75.0), (54.0, 50.0, 40.0, 32.0)
_PUMP_DUTY_W = 998.2 * 9.80665 * 60.0 * GPM * 40.0 * FOOT / 0.5  # half of it reaches the water
PUMP = PumpPart(
    "P",
    "pump",
    60.0 * GPM,
    PumpCurve(
        tuple(flow * GPM for flow in _PUMP_FLOWS_gpm),
        tuple(head * FOOT for head in _PUMP_HEADS_ft),
        tuple(_PUMP_DUTY_W * share for share in (0.55, 0.8, 1.0, 1.1)),
        (1.0, 1.2, 1.6, 2.2),
    ),
    0.82,
    1500.0,
    centre_height_m=0.2,
    strainer_hole_m=0.003,
    strainer_loss_Pa=2.0e3,
    mass_kg=40.0,
)


def unit(*, spray_gpm: float = 45.0, merkel: float = 1.0, blower: float = 1.0, **parts: Any) -> AssembledUnit:
    """The unit of common practice, with its fill's Merkel number and its blower's flow scaled."""
    tower = replace(TOWER, fill=replace(FILL, merkel_coefficient=FILL.merkel_coefficient * merkel))
    scaled = replace(BLOWER, flow_m3_s=tuple(flow * blower for flow in BLOWER.flow_m3_s))
    given = {"tower": tower, "blower": scaled, "tank": TANK, "heat_source": BURNER, "pump": PUMP, **parts}
    return AssembledUnit(towers=1, spray_flow_m3_s=spray_gpm * GPM, **given)
