"""Laws of the blower: it delivers what the resistance lets through, less as that grows, more mass in denser air."""

from __future__ import annotations

from itertools import accumulate

from hypothesis import given
from hypothesis import strategies as st

from vaporwright.equipment.blower import (
    BlowerCurve,
    blower_best_flow_m3_s,
    blower_operating_flow_m3_s,
    blower_shaft_power_W,
    blower_static_pressure_Pa,
)


@st.composite
def curves(draw: st.DrawFn) -> BlowerCurve:
    """Rising flows, falling pressures down to a tenth of the first, powers above the air's."""
    count = draw(st.integers(3, 8))
    flows = list(accumulate(draw(st.lists(st.floats(0.05, 0.6), min_size=count, max_size=count))))
    steps = draw(st.lists(st.floats(0.1, 1.0), min_size=count - 1, max_size=count - 1))
    top = draw(st.floats(200.0, 1500.0))
    fallen = [0.0, *accumulate(steps)]
    pressures = [top * (1.0 - 0.9 * part / fallen[-1]) for part in fallen]
    efficiencies = draw(st.lists(st.floats(0.3, 0.8), min_size=count, max_size=count))
    powers = [flow * head / share for flow, head, share in zip(flows, pressures, efficiencies, strict=True)]
    return BlowerCurve(tuple(flows), tuple(pressures), tuple(powers), draw(st.floats(0.9, 1.25)))


densities = st.floats(0.8, 1.3)
shares = st.floats(0.05, 0.95)


def resistance_through(curve: BlowerCurve, share: float) -> float:
    """k of k Q^2, in air of the curve's density, so that it meets the curve at this share between its ends."""
    flow = curve.flow_m3_s[0] + share * (curve.flow_m3_s[-1] - curve.flow_m3_s[0])
    return blower_static_pressure_Pa(curve, flow, curve.density_kg_m3) / flow**2


def operating_flow(curve: BlowerCurve, factor: float) -> float:
    return blower_operating_flow_m3_s(curve, curve.density_kg_m3, lambda flow: factor * flow**2)


@given(curves(), shares, densities)
def test_pressure_meets_resistance(curve: BlowerCurve, share: float, density: float) -> None:
    # Fan and resistance both go with density, so that the flow stays and only the mass changes.
    factor = resistance_through(curve, share)

    def resistance_Pa(flow: float) -> float:
        return factor * density / curve.density_kg_m3 * flow**2

    flow = blower_operating_flow_m3_s(curve, density, resistance_Pa)
    asked = curve.flow_m3_s[0] + share * (curve.flow_m3_s[-1] - curve.flow_m3_s[0])
    assert abs(flow - asked) < 1e-6 * curve.flow_m3_s[-1]
    pressure = blower_static_pressure_Pa(curve, flow, density)
    steepest = max(
        (curve.static_pressure_Pa[i] - curve.static_pressure_Pa[i + 1]) / (curve.flow_m3_s[i + 1] - curve.flow_m3_s[i])
        for i in range(len(curve.flow_m3_s) - 1)
    )
    slope = (steepest + 2.0 * factor * flow) * density / curve.density_kg_m3
    assert abs(pressure - resistance_Pa(flow)) < slope * 1e-6 * curve.flow_m3_s[-1]


@given(curves(), shares, shares)
def test_flow_falls_with_resistance(curve: BlowerCurve, one: float, other: float) -> None:
    low, high = sorted((resistance_through(curve, one), resistance_through(curve, other)))
    assert operating_flow(curve, high) <= operating_flow(curve, low) + 1e-6 * curve.flow_m3_s[-1]


@given(curves(), shares, st.floats(1.02, 1.2))
def test_denser_air_carries_more_mass(curve: BlowerCurve, share: float, denser: float) -> None:
    factor = resistance_through(curve, share)
    heavy = denser * curve.density_kg_m3
    thin_flow = operating_flow(curve, factor)
    heavy_flow = blower_operating_flow_m3_s(curve, heavy, lambda flow: factor * denser * flow**2)
    assert heavy * heavy_flow > curve.density_kg_m3 * thin_flow * (1.0 + 0.5 * (denser - 1.0))


@given(curves(), st.floats(0.0, 1.0), densities)
def test_pressure_and_power_go_with_density(curve: BlowerCurve, share: float, density: float) -> None:
    flow = curve.flow_m3_s[0] + share * (curve.flow_m3_s[-1] - curve.flow_m3_s[0])
    flow = min(flow, curve.flow_m3_s[-1])
    for of in (blower_static_pressure_Pa, blower_shaft_power_W):
        at_curve = of(curve, flow, curve.density_kg_m3)
        assert abs(of(curve, flow, density) - at_curve * density / curve.density_kg_m3) <= 1e-12 * at_curve * 2.0


@given(curves())
def test_best_point_is_on_the_curve_and_no_other_is_better(curve: BlowerCurve) -> None:
    def efficiency(flow: float) -> float:
        pressure = blower_static_pressure_Pa(curve, flow, curve.density_kg_m3)
        return flow * pressure / blower_shaft_power_W(curve, flow, curve.density_kg_m3)

    best = blower_best_flow_m3_s(curve)
    assert best in curve.flow_m3_s
    assert all(efficiency(flow) <= efficiency(best) * (1.0 + 1e-12) for flow in curve.flow_m3_s)
