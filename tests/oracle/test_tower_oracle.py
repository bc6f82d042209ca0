"""The product's counterflow solver against the slow one (SciPy, CoolProp), written apart from it.

Agreement asked: evaporation within 0.1 % (0.2 % where it is a small difference), outlet water within 0.02 K. The
outlet water is well-conditioned in a pinch too: there it hardly depends on the Merkel number.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from CoolProp.CoolProp import HAPropsSI, PropsSI
from scipy.stats import qmc

from oracle import slow_tower
from support import verifies
from vaporwright.equipment.fill_test import merkel_method_number, poppe_merkel_number
from vaporwright.equipment.tower import rate_counterflow, rate_counterflow_batch
from vaporwright.foundation.errors import OutOfRange
from vaporwright.properties.moist_air import enthalpy_J_kg, saturation_humidity_ratio_kg_kg

# Marches to 1e-6 leave under 2e-5 of evaporation.
COARSE = slow_tower.Options(relative_tolerance=1e-6)


def between(share: float, low: float, high: float, logarithmic: bool = False) -> float:
    return low * (high / low) ** share if logarithmic else low + (high - low) * share


def sample(count: int, seed: int, *, whole_range: bool) -> list[dict[str, float]]:
    """Latin hypercube over what shops build, or over all that is allowed (and a little that must be refused)."""
    cases = []
    for x in qmc.LatinHypercube(8, rng=np.random.default_rng(seed)).random(count):
        pressure_Pa = between(x[0], 65e3, 106e3)
        hottest_K = min(368.15, PropsSI("T", "P", pressure_Pa, "Q", 0, "Water") - 5.01)
        if whole_range:
            water_K, air_K = between(x[1], 298.15, hottest_K), between(x[2], 243.2, 323.1)
            ratio, merkel = between(x[4], 0.3, 30.0, True), between(x[5], 0.01, 5.0, True)
        else:
            water_K, air_K = between(x[1], 313.15, hottest_K), between(x[2], 253.15, 308.15)
            ratio, merkel = between(x[4], 1.0, 8.0, True), between(x[5], 0.05, 0.8, True)
        humidity = HAPropsSI("W", "T", air_K, "P", pressure_Pa, "R", between(x[3], 0.05, 0.95))
        cases.append(
            {
                "water_temperature_K": water_K,
                "water_flow_kg_s": ratio * 0.8,
                "air_temperature_K": air_K,
                "air_humidity_ratio_kg_kg": humidity,
                "dry_air_flow_kg_s": 0.8,
                "pressure_Pa": pressure_Pa,
                "merkel_number": merkel,
                "water_activity": between(x[6], 0.7, 1.0) if x[7] > 0.5 else 1.0,
            }
        )
    return cases


def label(case: dict[str, float]) -> str:
    return (
        f"{case['water_temperature_K'] - 273.15:.0f}C-LG{case['water_flow_kg_s'] / 0.8:.2g}"
        f"-air{case['air_temperature_K'] - 273.15:.0f}C-Me{case['merkel_number']:.2g}"
        f"-{case['pressure_Pa'] / 1e3:.0f}kPa-aw{case['water_activity']:.2f}"
    )


def compare(case: dict[str, float]) -> None:
    try:
        fast = rate_counterflow(**case)
    except OutOfRange as error:
        confirm_refusal(case, error)
        return
    slow = slow_tower.rate(**case, options=COARSE)
    # Hot humid air that cools on its way in brings much of the vapour it leaves with, and its driving force at the
    # bottom is a small difference: there the properties' own agreement (0.02 % in humidity ratio, 2 J/kg) shows.
    conditioned = case["air_humidity_ratio_kg_kg"] < 0.3 * slow.air_out_humidity_ratio_kg_kg
    assert fast.evaporation_kg_s == pytest.approx(slow.evaporation_kg_s, rel=1e-3 if conditioned else 2e-3)
    assert fast.water_out_temperature_K == pytest.approx(slow.water_out_temperature_K, abs=0.02)
    assert fast.air_out_temperature_K == pytest.approx(slow.air_out_temperature_K, abs=0.1)
    assert fast.air_out_enthalpy_J_kg == pytest.approx(slow.air_out_enthalpy_J_kg, rel=1e-3, abs=100.0)


def confirm_refusal(case: dict[str, float], error: OutOfRange) -> None:
    """A refusal must be for a physical reason that the slow solver sees too: water that freezes, or is not cooled."""
    try:
        slow = slow_tower.rate(**case, options=COARSE)
    except slow_tower.WaterFreezesError:
        assert error.name == "water_out_temperature_K"
        return
    assert error.name == "water_temperature_K"
    assert slow.water_out_temperature_K > case["water_temperature_K"] - 0.05


ORDINARY = sample(20, 20250, whole_range=False)
WIDE = sample(90, 31, whole_range=True)


@pytest.mark.parametrize("case", ORDINARY, ids=map(label, ORDINARY))
@verifies(
    "equipment.tower.rate_counterflow",
    "equipment.counterflow_solver.solve_counterflow",
    "equipment.tower_kernels.march_up",
    "equipment.tower_kernels.poppe_slope",
)
def test_rating_over_what_shops_build(case: dict[str, float]) -> None:
    compare(case)


def extreme(
    hot_C: float, ratio: float, merkel: float, air_C: float, humidity: float, pressure_Pa: float, activity: float
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


EXTREMES = {
    "pinched half-way": extreme(95.0, 30.0, 5.0, 20.0, 0.007, 101800.0, 1.0),
    "hottest, endless fill": extreme(95.0, 3.0, 5.0, 20.0, 0.007, 101800.0, 1.0),
    "hottest, hardly any fill": extreme(95.0, 0.3, 0.01, 20.0, 0.007, 101800.0, 1.0),
    "at the wet bulb, hot dry air": extreme(40.0, 0.3, 5.0, 50.0, 0.002, 101325.0, 1.0),
    "bone-dry air": extreme(60.0, 0.3, 5.0, 50.0, 0.0, 101325.0, 1.0),
    "arctic air, hot water": extreme(90.0, 3.0, 0.2, -29.9, 2e-4, 101325.0, 1.0),
    "arctic air, cold water, much of it": extreme(25.0, 30.0, 0.05, -29.9, 2e-4, 101325.0, 1.0),
    "strong liquor in the mountains": extreme(82.0, 3.0, 0.5, 20.0, 0.007, 65000.0, 0.7),
    "saturated inlet air": extreme(60.0, 2.5, 0.2, 20.0, 0.01469, 101325.0, 1.0),
    "pinched half-way, two outlet flows for one outlet": extreme(49.2, 24.0, 3.53, -8.0, 3.6e-4, 77800.0, 0.958),
    "pinched half-way, mist begins at the pinch": extreme(56.9, 22.1, 2.68, -28.0, 2.0e-4, 65700.0, 0.96),
    "pinched above": extreme(49.2, 13.0, 2.05, 3.0, 2.0e-3, 84000.0, 0.99),
    "boiling is near": extreme(80.0, 18.0, 0.684, -9.0, 1.0e-3, 87000.0, 0.89),
    "cold, much fill": extreme(42.7, 2.7, 3.28, -20.5, 6.0e-5, 74700.0, 1.0),
}


@pytest.mark.parametrize("case", EXTREMES.values(), ids=EXTREMES.keys())
@verifies(
    "equipment.tower.rate_counterflow",
    "equipment.tower_range.require_rating_range",
    "equipment.tower_kernels.poppe_forces",
    "equipment.counterflow_pinch.march_over_height",
    "equipment.counterflow_pinch.solve_pinched",
    "equipment.counterflow_pinch.starting_at",
)
def test_rating_at_extremes(case: dict[str, float]) -> None:
    compare(case)


@pytest.mark.slow
@pytest.mark.parametrize("case", WIDE, ids=map(label, WIDE))
@verifies("equipment.tower.rate_counterflow")
def test_rating_over_the_whole_range(case: dict[str, float]) -> None:
    compare(case)


@verifies("equipment.tower.rate_counterflow_batch", "equipment.tower_range.rows_in_range")
def test_batch_against_the_slow_solver() -> None:
    cases = [c for c in ORDINARY if c["water_activity"] == 1.0][:4]
    batch = rate_counterflow_batch(**{name: np.array([c[name] for c in cases]) for name in cases[0]})
    for row, case in enumerate(cases):
        slow = slow_tower.rate(**case, options=COARSE)
        assert batch.evaporation_kg_s[row] == pytest.approx(slow.evaporation_kg_s, rel=1e-3)
        assert batch.water_out_temperature_K[row] == pytest.approx(slow.water_out_temperature_K, abs=0.02)
        assert batch.air_out_temperature_K[row] == pytest.approx(slow.air_out_temperature_K, abs=0.1)


@pytest.mark.parametrize("case", ORDINARY[:6], ids=map(label, ORDINARY[:6]))
@verifies("equipment.fill_test.poppe_merkel_number", "equipment.fill_test.merkel_method_number")
def test_fill_test_reduction(case: dict[str, float]) -> None:
    given = {name: case[name] for name in case if name not in ("merkel_number", "water_temperature_K")}
    hot_K = case["water_temperature_K"]
    slow = slow_tower.rate(**case, options=COARSE)
    number = poppe_merkel_number(
        water_in_temperature_K=hot_K, water_out_temperature_K=slow.water_out_temperature_K, **given
    )
    assert number == pytest.approx(case["merkel_number"], rel=2e-3)
    del given["water_activity"]
    simple = {"water_in_temperature_K": hot_K, "water_out_temperature_K": hot_K - 3.0}
    expected = slow_tower.merkel_method_number(
        **simple,
        water_to_air_ratio=given["water_flow_kg_s"] / given["dry_air_flow_kg_s"],
        air_enthalpy_in_J_kg=slow_tower.air_enthalpy_J_kg(
            given["air_temperature_K"], given["air_humidity_ratio_kg_kg"], given["pressure_Pa"]
        ),
        pressure_Pa=given["pressure_Pa"],
    )
    assert merkel_method_number(**simple, **given) == pytest.approx(expected, rel=5e-3)


@pytest.mark.parametrize("celsius", [10.0, 40.0, 60.0, 80.0])
@pytest.mark.parametrize("activity", [1.0, 0.9, 0.7])
@verifies("properties.moist_air.saturation_humidity_ratio_kg_kg")
def test_air_over_liquor(celsius: float, activity: float) -> None:
    # Fugacity balance with CoolProp's virial coefficients; activity times share over water is 0.4 % off at 80 degC.
    expected = slow_tower.humidity_ratio_over_liquor(celsius + 273.15, 101325.0, activity)
    got = saturation_humidity_ratio_kg_kg(celsius + 273.15, 101325.0, activity)
    assert got == pytest.approx(expected, rel=1e-3)


@verifies("properties.moist_air.enthalpy_J_kg")
def test_enthalpy_at_the_interface_and_beside_it() -> None:
    for celsius, ratio in ((20.0, 0.007), (60.0, 0.05), (80.0, 0.5), (94.0, 2.4)):
        slow = slow_tower.air_enthalpy_J_kg(celsius + 273.15, ratio, 101325.0)
        assert enthalpy_J_kg(celsius + 273.15, ratio, 101325.0) == pytest.approx(slow, rel=5e-4)


def test_slow_solver_inverts_itself() -> None:
    case = ORDINARY[0]
    given = {name: case[name] for name in case if name not in ("merkel_number", "water_temperature_K")}
    rated = slow_tower.rate(**case)
    again = slow_tower.from_fill_test(
        water_in_temperature_K=case["water_temperature_K"],
        water_out_temperature_K=rated.water_out_temperature_K,
        **given,
    )
    assert again.merkel_number == pytest.approx(case["merkel_number"], rel=1e-6)
    assert again.evaporation_kg_s == pytest.approx(rated.evaporation_kg_s, rel=1e-6)


def test_interpolants_of_the_slow_solver() -> None:
    fits = slow_tower.Saturated(90e3, 245.0, 360.0, 0.8)
    for kelvin in (250.0, 268.0, 274.0, 300.0, 330.0, 359.0):
        exact = slow_tower.humidity_ratio_over_liquor(kelvin, 90e3)
        assert fits.humidity_ratio(kelvin) == pytest.approx(exact, rel=1e-8)
        enthalpy_J_kg = HAPropsSI("H", "T", kelvin, "P", 90e3, "R", 1.0)
        assert fits.enthalpy_J_kg(kelvin) == pytest.approx(enthalpy_J_kg, rel=1e-7, abs=1e-2)
        if kelvin > 273.2:
            liquor = slow_tower.humidity_ratio_over_liquor(kelvin, 90e3, 0.8)
            assert fits.humidity_ratio_over_liquor(kelvin) == pytest.approx(liquor, rel=1e-8)
            water_J_kg = PropsSI("H", "T", kelvin, "Q", 0, "Water")
            assert slow_tower.liquid_enthalpy_J_kg(kelvin) == pytest.approx(water_J_kg, rel=1e-8, abs=1e-2)


@verifies("equipment.tower_kernels.lewis_factor")
def test_lewis_factor() -> None:
    from vaporwright.equipment.tower_kernels import lewis_factor

    for interface, air in ((0.05, 0.01), (0.5, 0.1), (2.5, 0.2), (0.01, 0.0100001)):
        x = (interface + 0.621945) / (air + 0.621945)
        assert lewis_factor(interface, air) == pytest.approx(0.865 ** (2 / 3) * (x - 1) / math.log(x), rel=1e-5)


@verifies("equipment.tower_kernels.coldest_water_temperature_K")
def test_coldest_water_is_the_wet_bulb_of_the_library() -> None:
    from CoolProp.HumidAirProp import HAPropsSI

    from vaporwright.equipment.tower_kernels import coldest_water_temperature_K

    for dry_K, relative, pressure_Pa in ((305.15, 0.3, 101325.0), (318.15, 0.6, 85e3), (295.15, 0.9, 75e3)):
        ratio = HAPropsSI("W", "T", dry_K, "P", pressure_Pa, "R", relative)
        wet_K = HAPropsSI("B", "T", dry_K, "P", pressure_Pa, "R", relative)
        enthalpy = enthalpy_J_kg(dry_K, ratio, pressure_Pa)
        got = coldest_water_temperature_K(enthalpy, ratio, 330.0, pressure_Pa, 1.0)
        assert got == pytest.approx(wet_K, abs=0.05)
