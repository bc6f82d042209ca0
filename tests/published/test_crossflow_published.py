"""The crossflow march against the exact effectiveness of a crossflow exchanger whose streams do not mix.

For water hardly warmer than misty air all slopes are constant, and the tower is such an exchanger between water
and air temperatures, whatever the Lewis factor: what cools the water is K A (q' - hw w') (Tw - Ta) with q', w' the
slopes of the potentials, and the air's capacity is dh/dT with its mist. The exact effectiveness is known.
"""

from __future__ import annotations

import math

import pytest
from CoolProp.CoolProp import HAPropsSI, PropsSI
from scipy.integrate import quad
from scipy.special import ive

from support import verifies
from vaporwright.equipment.crossflow import rate_crossflow, rate_crossflow_batch

PRESSURE_Pa = 101325.0
AIR_K = 308.15
MIST = 0.003
WARMER_K = 0.2


def exact_effectiveness(transfer_units: float, capacity_ratio: float) -> float:
    """Both streams unmixed; integral form as in A. Triboix, Int. Comm. Heat Mass Transfer 36 (2009) 121-124.

    Formula read in a stored copy of an open heat transfer library's source.
    """
    n, c = transfer_units, capacity_ratio

    def term(v: float) -> float:
        exponent = v * v / (4.0 * c * n)
        return (1.0 + n - exponent) * math.exp(v - exponent - c * n) * v * ive(0, v)

    return 1.0 / c - quad(term, 0.0, 2.0 * n * math.sqrt(c))[0] / (2.0 * (c * n) ** 2)


# Number of transfer units, ratio of capacities, effectiveness.
READ = [
    (5.0, 0.7, 0.84448218),  # documentation of the same library, read in a stored copy
    (1.0, 1.0, 0.476),  # W.M. Kays, A.L. London, Compact Heat Exchangers, unmixed crossflow; from memory
]
# The same formula computed here, for a long exchanger and for one stream far the larger.
COMPUTED = [(3.0, 1.0, exact_effectiveness(3.0, 1.0)), (1.5, 0.25, exact_effectiveness(1.5, 0.25))]


@pytest.mark.parametrize(("transfer_units", "capacity_ratio", "effectiveness"), READ)
def test_formula_against_printed_values(transfer_units: float, capacity_ratio: float, effectiveness: float) -> None:
    within = 1e-8 if effectiveness == 0.84448218 else 6e-4
    assert exact_effectiveness(transfer_units, capacity_ratio) == pytest.approx(effectiveness, abs=within)


def slopes(kelvin: float) -> tuple[float, float, float, float]:
    """Water's heat capacity, the air's with mist, q' - hw w', and the mist-free saturated humidity ratio at AIR_K."""
    step = 0.02

    def saturated(t: float) -> float:
        return HAPropsSI("W", "T", t, "P", PRESSURE_Pa, "R", 1.0)

    def enthalpy(t: float, w: float) -> float:
        return HAPropsSI("H", "T", t, "P", PRESSURE_Pa, "W", w)

    w = saturated(kelvin)
    w_slope = (saturated(kelvin + step) - saturated(kelvin - step)) / (2.0 * step)
    beside = (enthalpy(kelvin + step, w) - enthalpy(kelvin - step, w)) / (2.0 * step)
    along = (
        HAPropsSI("H", "T", kelvin + step, "P", PRESSURE_Pa, "R", 1.0)
        - HAPropsSI("H", "T", kelvin - step, "P", PRESSURE_Pa, "R", 1.0)
    ) / (2.0 * step)
    hw, cw = PropsSI("H", "T", kelvin, "Q", 0, "Water"), PropsSI("C", "T", kelvin, "Q", 0, "Water")
    air_capacity = along - w_slope * hw + MIST * cw
    # q = h(T, w_i) - h(T, w_v) + Le S, and the Lewis factor is that of equal humidities
    cooling = (along - beside) + 0.865 ** (2.0 / 3.0) * (beside + MIST * cw) - hw * w_slope
    return cw, air_capacity, cooling, saturated(AIR_K)


@pytest.mark.parametrize("water_is_smaller", [True, False], ids=["water the smaller", "air the smaller"])
@pytest.mark.parametrize(("transfer_units", "capacity_ratio", "effectiveness"), READ + COMPUTED)
@verifies(
    "equipment.crossflow.rate_crossflow",
    "equipment.crossflow.rate_crossflow_batch",
    "equipment.crossflow_kernels.solve_crossflow",
)
def test_small_differences_give_the_exact_effectiveness(
    transfer_units: float, capacity_ratio: float, effectiveness: float, water_is_smaller: bool
) -> None:
    cw, air_capacity, cooling, saturated = slopes(AIR_K + 0.5 * WARMER_K)
    larger_per_smaller = 1.0 / capacity_ratio
    water_ratio = air_capacity / cw * (capacity_ratio if water_is_smaller else larger_per_smaller)
    smaller = min(water_ratio * cw, air_capacity)
    inputs = {
        "water_temperature_K": AIR_K + WARMER_K,
        "water_flow_kg_s": water_ratio,
        "air_temperature_K": AIR_K,
        "air_humidity_ratio_kg_kg": saturated + MIST,
        "dry_air_flow_kg_s": 1.0,
        "pressure_Pa": PRESSURE_Pa,
        "merkel_number": transfer_units * smaller / cooling / water_ratio,
    }
    # 0.2 K is not quite nothing: over it the slope of humidity changes by 1 %, and half of that cancels.
    for water_out_K in (
        rate_crossflow(**inputs).water_out_temperature_K,
        float(rate_crossflow_batch(**inputs).water_out_temperature_K[0]),
    ):
        cooled_K = inputs["water_temperature_K"] - water_out_K
        assert cooled_K * water_ratio * cw / (smaller * WARMER_K) == pytest.approx(effectiveness, rel=2e-3, abs=6e-4)
