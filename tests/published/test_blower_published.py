"""The blower against the fan laws and against operating points worked by hand."""

from __future__ import annotations

import math

import pytest

from support import verifies
from vaporwright.equipment.air_resistance import velocity_heads_loss_Pa
from vaporwright.equipment.blower import (
    BlowerCurve,
    blower_best_flow_m3_s,
    blower_operating_flow_m3_s,
    blower_shaft_power_W,
    blower_static_pressure_Pa,
)

CFM_m3_s = 0.3048**3 / 60.0
INCH_WATER_Pa = 249.0889
HORSEPOWER_W = 745.69987

# A fan law case (flow with speed, pressure with density and speed squared, power with density and speed cubed):
# 2000 cfm, 2.0 in. w.c., 1.5 hp; speed 1.1 times, density 0.85 times: 2200 cfm, 2.057 in. w.c., 1.697 hp.
# Computed with a library, 0.1 %.
SPEED, DENSITY = 1.1, 0.85


@verifies("equipment.blower.blower_static_pressure_Pa", "equipment.blower.blower_shaft_power_W")
def test_fan_laws() -> None:
    # The catalogue gives one curve per speed, so that the speed's part of the law is done here.
    flows = tuple(SPEED * flow * CFM_m3_s for flow in (1000.0, 2000.0, 3000.0))
    curve = BlowerCurve(
        flow_m3_s=flows,
        static_pressure_Pa=tuple(SPEED**2 * inches * INCH_WATER_Pa for inches in (2.6, 2.0, 0.8)),
        shaft_power_W=tuple(SPEED**3 * power * HORSEPOWER_W for power in (1.0, 1.5, 1.8)),
        density_kg_m3=1.2,
    )
    assert flows[1] / CFM_m3_s == pytest.approx(2200.0)
    pressure = blower_static_pressure_Pa(curve, flows[1], DENSITY * 1.2)
    assert pressure / INCH_WATER_Pa == pytest.approx(2.057, rel=0.001)
    assert blower_shaft_power_W(curve, flows[1], DENSITY * 1.2) / HORSEPOWER_W == pytest.approx(1.697, rel=0.001)


# By hand: pressure 1000 - 400 Q from 0.5 to 2 m3/s at 1.2 kg/m3; power 600 + 200 Q.
STRAIGHT = BlowerCurve((0.5, 1.0, 1.5, 2.0), (800.0, 600.0, 400.0, 200.0), (700.0, 800.0, 900.0, 1000.0), 1.2)


@verifies("equipment.blower.blower_static_pressure_Pa", "equipment.blower.blower_shaft_power_W")
def test_between_the_points_by_hand() -> None:
    assert blower_static_pressure_Pa(STRAIGHT, 1.25, 1.2) == pytest.approx(500.0, rel=1e-12)
    assert blower_static_pressure_Pa(STRAIGHT, 0.6, 1.08) == pytest.approx(0.9 * 760.0, rel=1e-12)
    assert blower_shaft_power_W(STRAIGHT, 1.75, 1.08) == pytest.approx(0.9 * 950.0, rel=1e-12)


@verifies("equipment.blower.blower_operating_flow_m3_s")
def test_operating_point_by_hand() -> None:
    # 600 Q^2 = 1000 - 400 Q at Q = 1.
    assert blower_operating_flow_m3_s(STRAIGHT, 1.2, lambda flow: 600.0 * flow**2) == pytest.approx(1.0, abs=1e-6)
    # A steady 100 Pa beside it: 600 Q^2 + 400 Q - 900 = 0.
    by_hand = (-400.0 + math.sqrt(400.0**2 + 4.0 * 600.0 * 900.0)) / 1200.0
    flow = blower_operating_flow_m3_s(STRAIGHT, 1.2, lambda flow: 100.0 + 600.0 * flow**2)
    assert flow == pytest.approx(by_hand, abs=1e-6)
    # Thin air, a steady resistance that does not thin with it: 0.75 (1000 - 400 Q) = 450 at Q = 1.
    assert blower_operating_flow_m3_s(STRAIGHT, 0.9, lambda _: 450.0) == pytest.approx(1.0, abs=1e-6)


@verifies("equipment.blower.blower_operating_flow_m3_s", "equipment.air_resistance.velocity_heads_loss_Pa")
def test_resistance_of_a_fill_by_hand() -> None:
    # 2 m2 of face, 40 velocity heads at 1.15 kg/m3: 1 m3/s is 0.5 m/s and 40 x 1.15 x 0.25 / 2 = 5.75 Pa; with a
    # hose of 534.25 Pa at 1 m3/s that grows with the square, 540 Q^2 in all. The blower handles air of 1.08 kg/m3,
    # 900 - 360 Q: 540 Q^2 + 360 Q = 900 at Q = 1.
    def resistance_Pa(flow: float) -> float:
        return velocity_heads_loss_Pa(40.0, 1.15, flow / 2.0) + 534.25 * flow**2

    assert resistance_Pa(1.0) == pytest.approx(540.0, rel=1e-12)
    assert blower_operating_flow_m3_s(STRAIGHT, 1.08, resistance_Pa) == pytest.approx(1.0, abs=1e-6)


@verifies("equipment.blower.blower_best_flow_m3_s")
def test_best_point_by_hand() -> None:
    # Air power over shaft power: 0.571, 0.75, 0.667, 0.4.
    assert blower_best_flow_m3_s(STRAIGHT) == 1.0
