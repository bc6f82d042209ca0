"""What the blower refuses, and how it says so."""

from __future__ import annotations

import pytest

from vaporwright.equipment.blower import (
    BlowerCurve,
    blower_operating_flow_m3_s,
    blower_shaft_power_W,
    blower_static_pressure_Pa,
)
from vaporwright.foundation.errors import NotConverged, OutOfRange

CURVE = BlowerCurve((0.4, 0.8, 1.2), (500.0, 420.0, 150.0), (300.0, 420.0, 480.0), 1.2)


@pytest.mark.parametrize("of", [blower_static_pressure_Pa, blower_shaft_power_W])
@pytest.mark.parametrize("flow", [0.39, 1.21, float("nan"), -1.0])
def test_beyond_the_curve(of: object, flow: float) -> None:
    with pytest.raises(OutOfRange, match=r"flow_m3_s = .*: allowed 0\.4 to 1\.2 \(the blower's curve\)"):
        of(CURVE, flow, 1.2)  # type: ignore[operator]


def test_ends_of_the_curve_belong_to_it() -> None:
    assert blower_static_pressure_Pa(CURVE, 0.4, 1.2) == 500.0
    assert blower_static_pressure_Pa(CURVE, 0.8, 1.2) == 420.0
    assert blower_shaft_power_W(CURVE, 1.2, 1.2) == 480.0


def test_resistance_too_high() -> None:
    with pytest.raises(NotConverged, match=r"resistance 640 Pa at 0\.4 m3/s is above the blower's 500 Pa"):
        blower_operating_flow_m3_s(CURVE, 1.2, lambda flow: 4000.0 * flow**2)


def test_thin_air_makes_a_resistance_too_high() -> None:
    assert blower_operating_flow_m3_s(CURVE, 1.2, lambda _: 450.0) == pytest.approx(0.65, abs=1e-6)
    with pytest.raises(NotConverged, match=r"450 Pa at 0\.4 m3/s is above the blower's 416\.7 Pa"):
        blower_operating_flow_m3_s(CURVE, 1.0, lambda _: 450.0)


def test_resistance_too_low() -> None:
    with pytest.raises(NotConverged, match=r"runs out beyond the end of its curve \(1\.2 m3/s\)"):
        blower_operating_flow_m3_s(CURVE, 1.2, lambda flow: 100.0 * flow**2)


def test_operating_point_on_an_end_of_the_curve() -> None:
    assert blower_operating_flow_m3_s(CURVE, 1.2, lambda _: 500.0) == pytest.approx(0.4, abs=1e-6)
    assert blower_operating_flow_m3_s(CURVE, 1.2, lambda _: 150.0) == pytest.approx(1.2, abs=1e-6)
