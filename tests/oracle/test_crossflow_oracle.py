"""The product's crossflow march against the slow one (nodes of a fine net, CoolProp), written apart from it.

Agreement asked: evaporation within 0.1 %, mixed outlet water within 0.02 K.
"""

from __future__ import annotations

import numpy as np
import pytest
from CoolProp.CoolProp import HAPropsSI, PropsSI
from scipy.stats import qmc

from oracle import slow_crossflow
from support import verifies
from vaporwright.equipment.crossflow import rate_crossflow, rate_crossflow_batch
from vaporwright.equipment.crossflow_kernels import CrossflowInlet, local_transfer
from vaporwright.foundation.errors import OutOfRange


def case(
    hot_C: float,
    ratio: float,
    merkel: float,
    air_C: float,
    humidity: float,
    pressure_Pa: float = 101325.0,
    activity: float = 1.0,
) -> dict[str, float]:
    return {
        "water_temperature_K": hot_C + 273.15,
        "water_flow_kg_s": ratio * 0.8,
        "air_temperature_K": air_C + 273.15,
        "air_humidity_ratio_kg_kg": humidity,
        "dry_air_flow_kg_s": 0.8,
        "pressure_Pa": pressure_Pa,
        "merkel_number": merkel,
        "water_activity": activity,
    }


def sample(count: int, seed: int, *, whole_range: bool) -> list[dict[str, float]]:
    """Latin hypercube over what shops build, or over all that is allowed."""
    cases = []
    for x in qmc.LatinHypercube(7, rng=np.random.default_rng(seed)).random(count):
        pressure_Pa = 65e3 + 40e3 * x[0]
        hottest_C = min(95.0, PropsSI("T", "P", pressure_Pa, "Q", 0, "Water") - 278.17)
        if whole_range:
            hot_C, air_C = 25.0 + x[1] * (hottest_C - 25.0), -29.9 + 79.8 * x[2]
            ratio, merkel = 0.3 * 100.0 ** x[4], 0.01 * 300.0 ** x[5]
        else:
            hot_C, air_C = 40.0 + x[1] * (hottest_C - 40.0), -20.0 + 55.0 * x[2]
            ratio, merkel = 8.0 ** x[4], 0.05 * 16.0 ** x[5]
        humidity = HAPropsSI("W", "T", air_C + 273.15, "P", pressure_Pa, "R", 0.05 + 0.9 * x[3])
        activity = min(1.0, 0.7 + 0.6 * x[6])
        cases.append(case(hot_C, ratio, merkel, air_C, humidity, pressure_Pa, activity))
    return cases


def label(given: dict[str, float]) -> str:
    return (
        f"{given['water_temperature_K'] - 273.15:.0f}C-LG{given['water_flow_kg_s'] / 0.8:.2g}"
        f"-air{given['air_temperature_K'] - 273.15:.0f}C-Me{given['merkel_number']:.2g}"
        f"-{given['pressure_Pa'] / 1e3:.0f}kPa-aw{given['water_activity']:.2f}"
    )


def compare(given: dict[str, float], meshes: int, streak_K: float = 0.05) -> None:
    slow = slow_crossflow.rate(**given, meshes=meshes)
    # A net loses what it gains, whatever its meshes: else it would be no second opinion on the balances.
    assert slow.evaporation_by_water_kg_s == pytest.approx(slow.evaporation_kg_s, rel=1e-9)
    fast = rate_crossflow(**given)
    assert fast.evaporation_kg_s == pytest.approx(slow.evaporation_kg_s, rel=1e-3)
    assert fast.heat_to_air_W == pytest.approx(slow.heat_W, rel=1e-3)
    assert fast.water_out_temperature_K == pytest.approx(slow.water_out_temperature_K, abs=0.02)
    assert fast.air_out_temperature_K == pytest.approx(slow.air_out_temperature_K, abs=0.1)
    edges = sorted((slow.water_out_inlet_face_K, slow.water_out_outlet_face_K))
    assert fast.water_out_coldest_temperature_K == pytest.approx(edges[0], abs=streak_K)
    assert fast.water_out_hottest_temperature_K == pytest.approx(edges[1], abs=streak_K)


ORDINARY = sample(6, 4, whole_range=False)
WIDE = sample(40, 11, whole_range=True)
EXTREMES = {
    "arctic air, hot water": case(90.0, 3.0, 0.2, -29.9, 1e-4),
    "arctic air, much water": case(40.0, 30.0, 0.05, -29.9, 2e-4),
    "at the wet bulb, hot dry air": case(40.0, 0.3, 5.0, 50.0, 0.002),
    "saturated inlet air": case(60.0, 2.5, 1.0, 20.0, 0.01469),
    "strong liquor in the mountains": case(82.0, 3.0, 0.5, 20.0, 0.007, 65000.0, 0.7),
}


@pytest.mark.parametrize("given", ORDINARY, ids=map(label, ORDINARY))
@verifies("equipment.crossflow.rate_crossflow", "equipment.crossflow_kernels.solve_crossflow")
def test_rating_over_what_shops_build(given: dict[str, float]) -> None:
    compare(given, 24)


@pytest.mark.parametrize("given", EXTREMES.values(), ids=EXTREMES.keys())
@verifies("equipment.crossflow.rate_crossflow")
def test_rating_at_extremes(given: dict[str, float]) -> None:
    compare(given, 24)


SHARP = {
    "hottest, little water, endless fill": (case(94.9, 0.3, 5.0, 20.0, 0.007), 24),
    "pinched, hottest water": (case(94.9, 30.0, 5.0, 20.0, 0.007), 48),
    "hottest, endless fill": (case(94.9, 3.0, 5.0, 20.0, 0.007), 96),
    "a front half-way": (case(75.0, 8.0, 5.0, 20.0, 0.007), 48),
}


@pytest.mark.slow
@pytest.mark.parametrize(("given", "meshes"), SHARP.values(), ids=SHARP.keys())
@verifies("equipment.crossflow.rate_crossflow")
def test_rating_with_a_sharp_front(given: dict[str, float], meshes: int) -> None:
    compare(given, meshes, streak_K=0.2)  # the front meets the outlet face, where a streak is the last to settle


@pytest.mark.slow
@pytest.mark.parametrize("given", WIDE, ids=map(label, WIDE))
@verifies("equipment.crossflow.rate_crossflow")
def test_rating_over_the_whole_range(given: dict[str, float]) -> None:
    try:
        rate_crossflow(**given)
    except OutOfRange as refused:
        confirm_refusal(given, refused)
        return
    compare(given, 64, streak_K=0.2)


def confirm_refusal(given: dict[str, float], refused: OutOfRange) -> None:
    """A refusal must be for a reason that the slow march sees too: water that freezes, or is not cooled."""
    slow = slow_crossflow.rate(**given, meshes=64)
    if refused.name == "water_out_coldest_temperature_K":
        assert slow.water_out_inlet_face_K < 273.15
        assert refused.value == pytest.approx(slow.water_out_inlet_face_K, abs=0.1)
    else:
        assert refused.name == "water_temperature_K"
        assert slow.water_out_temperature_K > given["water_temperature_K"] - 0.2


@verifies("equipment.crossflow.rate_crossflow_batch")
def test_batch_against_the_slow_march() -> None:
    cases = ORDINARY[:2]
    batch = rate_crossflow_batch(**{name: np.array([c[name] for c in cases]) for name in cases[0]})
    for row, given in enumerate(cases):
        slow = slow_crossflow.rate(**given, meshes=24)
        assert batch.evaporation_kg_s[row] == pytest.approx(slow.evaporation_kg_s, rel=1e-3)
        assert batch.water_out_temperature_K[row] == pytest.approx(slow.water_out_temperature_K, abs=0.02)
        assert batch.air_out_temperature_K[row] == pytest.approx(slow.air_out_temperature_K, abs=0.1)


@pytest.mark.parametrize(
    ("water_C", "air_C", "humidity"),
    [(60.0, 20.0, 0.007), (80.0, 40.0, 0.08), (30.0, 45.0, 0.01), (70.0, 5.0, 0.02), (40.0, -10.0, 0.004)],
)
@verifies("equipment.crossflow_kernels.local_transfer")
def test_local_potentials_and_their_slopes(water_C: float, air_C: float, humidity: float) -> None:
    # The last two airs carry mist.
    pressure_Pa, water_K, air_K = 95e3, water_C + 273.15, air_C + 273.15
    of = slow_crossflow.Properties(pressure_Pa, air_K, 365.0, 0.9)
    w, at_air = np.array([humidity]), np.array([air_K])
    vapour = np.minimum(w, of.saturated_ratio(at_air))
    h = of.enthalpy_J_kg(at_air, vapour) + (w - vapour) * of.liquid_enthalpy_J_kg(at_air)
    net = slow_crossflow._Net(of, 1, 1.0, (1.0, 0.0), (0.0, 0.0, 0.0))

    def slow(water: float, more_h: float = 0.0, more_w: float = 0.0) -> tuple[float, float]:
        e, q, _ = net.potentials(np.array([water]), w + more_w, h + more_h, at_air)
        return float(e[0]), float(q[0])

    inlet = CrossflowInlet(350.0, 1.0, 0.0, 0.0, air_K, pressure_Pa, 0.9, 1.0)
    got = local_transfer(inlet, water_K, humidity, float(h[0]), air_K, False)
    e, q = slow(water_K)
    assert got.evaporation_kg_kg == pytest.approx(e, rel=2e-3)
    assert got.heat_J_kg == pytest.approx(q, rel=2e-3)
    # The slopes steer only Newton steps: a tenth will do.
    for more, per, got_e, got_q, least in (
        ((water_K + 0.1,), 0.1, got.evaporation_per_water_K, got.heat_per_water_K, 0.0),
        ((water_K, 100.0), 100.0, got.evaporation_per_enthalpy, got.heat_per_enthalpy, 1e-9),
        ((water_K, 0.0, 1e-4), 1e-4, got.evaporation_per_humidity, got.heat_per_humidity, 0.02),
    ):
        e_more, q_more = slow(*more)
        assert got_q == pytest.approx((q_more - q) / per, rel=0.12, abs=2.5e6 * least)
        assert got_e == pytest.approx((e_more - e) / per, rel=0.12, abs=least)
