"""The plume against mixes worked by hand from printed saturation values, and against a search with CoolProp.

Printed: ASHRAE Handbook - Fundamentals (2017), chapter 1, table 2, and RP-1485 (see test_moist_air.py), 101.325 kPa:

    degC   W_s kg/kg   h_s kJ/kg
       5   0.005425     18.639
      25   0.020173     76.504
      30   0.027333    100.01
      40   0.049144    166.688

Liquid water at 25 degC: 104.83 kJ/kg (steam tables, from memory).
"""

from __future__ import annotations

import random
from typing import Any

import pytest
from CoolProp.HumidAirProp import HAPropsSI

from support import verifies
from vaporwright.equipment.plume import exhaust_plume, mixed_air
from vaporwright.foundation.errors import OutOfRange
from vaporwright.properties.moist_air import saturation_humidity_ratio_kg_kg

SEA_LEVEL_Pa = 101325.0
K = 273.15


@verifies("equipment.plume.mixed_air")
def test_fog_of_a_mix_worked_by_hand() -> None:
    """Exhaust saturated at 40 degC and r of air saturated at 5 degC, r chosen for a mix at 25 degC:

    166.688 + 18.639 r = (1 + r)(76.504 - 0.020173 x 104.83) + 104.83 (0.049144 + 0.005425 r): r = 1.54738.
    Then W = (0.049144 + 0.005425 r) / (1 + r) = 0.022587 and the fog is W - 0.020173 = 0.002414 kg/kg.
    """
    got = mixed_air(
        exhaust_temperature_K=40.0 + K,
        exhaust_humidity_ratio_kg_kg=0.049144,
        outdoor_temperature_K=5.0 + K,
        outdoor_humidity_ratio_kg_kg=0.005425,
        pressure_Pa=SEA_LEVEL_Pa,
        outdoor_air_ratio=1.54738,
    )
    assert got.temperature_K == pytest.approx(25.0 + K, abs=0.02)
    assert got.humidity_ratio_kg_kg == pytest.approx(0.022587, abs=1e-6)
    assert got.liquid_kg_kg == pytest.approx(0.002414, abs=1.5e-5)  # 0.05 % of W_s and 0.02 K


@verifies("equipment.plume.mixed_air")
def test_a_mix_without_fog_worked_by_hand() -> None:
    """1 kg at 30 degC and 0.010 with 3 kg at 10 degC and 0.002: 0.004 kg/kg. h = 1.006 t + W (2501 + 1.86 t), the usual
    form: 55.748 and 15.107 kJ/kg, mean 25.267; t = (25.267 - 10.004) / (1.006 + 0.00744) = 15.06 degC."""
    got = mixed_air(
        exhaust_temperature_K=30.0 + K,
        exhaust_humidity_ratio_kg_kg=0.010,
        outdoor_temperature_K=10.0 + K,
        outdoor_humidity_ratio_kg_kg=0.002,
        pressure_Pa=SEA_LEVEL_Pa,
        outdoor_air_ratio=3.0,
    )
    assert got.temperature_K == pytest.approx(15.06 + K, abs=0.02)
    assert got.humidity_ratio_kg_kg == pytest.approx(0.004)
    assert got.liquid_kg_kg == 0.0


@verifies("equipment.plume.exhaust_plume")
def test_the_ratio_that_clears_worked_by_hand() -> None:
    """Exhaust saturated at 30 degC whose mixing line leaves saturation at 5 degC with a tenth of exhaust in the mix:
    outdoor W = (0.005425 - 0.0027333) / 0.9 = 0.0029908, h = (18.639 - 10.001) / 0.9 = 9.5978 kJ/kg, so
    t = (9.5978 - 0.0029908 x 2501) / (1.006 + 0.00556) = 2.093 degC (68 %). Nine of air to one of exhaust clear it."""
    got = exhaust_plume(
        exhaust_temperature_K=30.0 + K,
        exhaust_humidity_ratio_kg_kg=0.027333,
        outdoor_temperature_K=2.093 + K,
        outdoor_humidity_ratio_kg_kg=0.0029908,
        pressure_Pa=SEA_LEVEL_Pa,
    )
    assert got.is_visible
    # 1e-3 of h at 5 degC, where line and saturation cross at an acute angle, moves the ratio by 1 %
    assert got.clears_ratio == pytest.approx(9.0, rel=0.01)


def coolprop_ends(case: dict[str, float]) -> tuple[tuple[float, float], tuple[float, float]]:
    """Enthalpy and water of exhaust and outdoor air; the exhaust may be misty."""
    pressure_Pa, exhaust_K = case["pressure_Pa"], case["exhaust_temperature_K"]
    water = case["exhaust_humidity_ratio_kg_kg"]
    holds = HAPropsSI("W", "T", exhaust_K, "P", pressure_Pa, "R", 1.0)
    vapour = min(water, holds)
    enthalpy = HAPropsSI("Hda", "T", exhaust_K, "P", pressure_Pa, "W", vapour) + (water - vapour) * liquid_J_kg(
        exhaust_K
    )
    outdoor_W = case["outdoor_humidity_ratio_kg_kg"]
    outdoor_h = HAPropsSI("Hda", "T", case["outdoor_temperature_K"], "P", pressure_Pa, "W", outdoor_W)
    return (enthalpy, water), (outdoor_h, outdoor_W)


def liquid_J_kg(temperature_K: float) -> float:
    return 4190.0 * (temperature_K - K)


def coolprop_fog(enthalpy: float, water: float, pressure_Pa: float) -> float:
    """Fog by bisection in temperature with CoolProp's saturated air; zero where the mix is clear."""
    dew_K = HAPropsSI("T", "W", water, "P", pressure_Pa, "R", 1.0)
    if enthalpy >= HAPropsSI("Hda", "T", dew_K, "P", pressure_Pa, "R", 1.0):
        return 0.0
    low_K, high_K = dew_K - 60.0, dew_K
    for _ in range(40):
        middle_K = 0.5 * (low_K + high_K)
        holds = HAPropsSI("W", "T", middle_K, "P", pressure_Pa, "R", 1.0)
        have = HAPropsSI("Hda", "T", middle_K, "P", pressure_Pa, "R", 1.0) + (water - holds) * liquid_J_kg(middle_K)
        low_K, high_K = (middle_K, high_K) if have < enthalpy else (low_K, middle_K)
    return water - HAPropsSI("W", "T", low_K, "P", pressure_Pa, "R", 1.0)


def air(exhaust_C: float, exhaust_W: float, outdoor_C: float, outdoor_W: float, pressure_Pa: float) -> dict[str, float]:
    return {
        "exhaust_temperature_K": exhaust_C + K,
        "exhaust_humidity_ratio_kg_kg": exhaust_W,
        "outdoor_temperature_K": outdoor_C + K,
        "outdoor_humidity_ratio_kg_kg": outdoor_W,
        "pressure_Pa": pressure_Pa,
    }


FOGGY = [
    air(32.4, 0.0330, -6.7, 0.00154, 98_940.0),  # misty exhaust, the frozen day of a demo job
    air(45.0, 0.0550, 15.0, 0.0080, SEA_LEVEL_Pa),  # below saturation, fog forms on the way
    air(60.0, 0.1500, -20.0, 0.0005, 84_556.0),
    air(15.0, 0.0300, -25.0, 0.0003, 95_000.0),  # mist of 0.02, from a tower that draws bitter cold air
    air(25.0, 0.0190, 20.0, 0.0140, SEA_LEVEL_Pa),  # close together: hardly any
]


@pytest.mark.parametrize("case", FOGGY[:-1])
@verifies("equipment.plume.mixed_air", "equipment.plume.exhaust_plume")
def test_fog_along_the_mixing_line(case: dict[str, Any]) -> None:
    """Mixes of up to 1,800 times the exhaust by CoolProp: the fog of each, the greatest, the last that shows any."""
    (exhaust_h, exhaust_W), (outdoor_h, outdoor_W) = coolprop_ends(case)
    ratios = [0.0, *(0.02 * 1.045**step for step in range(260))]
    fog = []
    for ratio in ratios:
        mixed = [(end + ratio * far) / (1.0 + ratio) for end, far in ((exhaust_h, outdoor_h), (exhaust_W, outdoor_W))]
        fog.append(coolprop_fog(mixed[0], mixed[1], case["pressure_Pa"]))
    greatest = max(fog)
    assert greatest > 1e-4
    for ratio, expected in list(zip(ratios, fog, strict=True))[::10]:
        got = mixed_air(**case, outdoor_air_ratio=ratio)
        # 0.2 % of the humidity ratio is the agreement of moist air with CoolProp, see test_moist_air_oracle.py
        assert got.liquid_kg_kg == pytest.approx(expected, abs=2e-3 * got.humidity_ratio_kg_kg)
    plume = exhaust_plume(**case)
    assert plume.greatest_liquid_kg_kg == pytest.approx(greatest, abs=2e-3 * exhaust_W)
    densest = ratios[fog.index(greatest)]
    assert plume.densest_ratio == pytest.approx(densest, rel=0.1, abs=0.02)  # a flat top, 4.5 % apart
    last_foggy = max(ratio for ratio, liquid in zip(ratios, fog, strict=True) if liquid > 0.0)
    assert plume.clears_ratio is not None
    assert last_foggy * 0.97 < plume.clears_ratio < last_foggy * 1.045 * 1.03


@verifies("equipment.plume.exhaust_plume")
def test_no_fog_where_the_line_stays_below_saturation() -> None:
    case = FOGGY[-1]
    (exhaust_h, exhaust_W), (outdoor_h, outdoor_W) = coolprop_ends(case)
    for step in range(101):
        share = 0.01 * step
        mixed_h, mixed_W = outdoor_h + share * (exhaust_h - outdoor_h), outdoor_W + share * (exhaust_W - outdoor_W)
        assert coolprop_fog(mixed_h, mixed_W, case["pressure_Pa"]) == 0.0
    got = exhaust_plume(**case)
    assert not got.is_visible
    assert got.greatest_liquid_kg_kg == 0.0
    assert got.densest_ratio is None
    assert got.clears_ratio is None


def test_no_mix_is_foggier_than_the_densest_or_foggy_beyond_the_last() -> None:
    """The search along the line against two hundred mixes of each of forty seeded cases, both sides of freezing."""
    chance = random.Random(7)
    foggy = 0
    for _ in range(40):
        pressure_Pa, exhaust_K = chance.uniform(65e3, 105e3), chance.uniform(278.0, 350.0)
        outdoor_K = chance.uniform(245.0, 312.0)
        exhaust_W = chance.uniform(0.4, 1.02) * saturation_humidity_ratio_kg_kg(exhaust_K, pressure_Pa)
        outdoor_W = min(chance.uniform(0.1, 0.99) * saturation_humidity_ratio_kg_kg(outdoor_K, pressure_Pa), 0.05)
        case = air(exhaust_K - K, exhaust_W, outdoor_K - K, outdoor_W, pressure_Pa)
        plume = exhaust_plume(**case)
        foggy += plume.is_visible
        for step in range(1, 200):
            ratio = 200.0 / step - 1.0
            liquid = mixed_air(**case, outdoor_air_ratio=ratio).liquid_kg_kg
            assert liquid <= plume.greatest_liquid_kg_kg + 2e-8
            if plume.clears_ratio is None or ratio > plume.clears_ratio * (1.0 + 1e-6):
                assert liquid < 2e-8
    assert 10 < foggy < 40


def test_a_line_with_two_humps_about_freezing() -> None:
    """Saturation bends at 0 degC, from ice to water; this line has a hump on either side, the colder one higher."""
    case = air(15.063, 0.0104146, -16.445, 0.00068544, 95_475.0)
    plume = exhaust_plume(**case)
    fog = [mixed_air(**case, outdoor_air_ratio=0.002 * step).liquid_kg_kg for step in range(2000)]
    assert plume.greatest_liquid_kg_kg == pytest.approx(max(fog), abs=1e-8)
    assert plume.densest_ratio == pytest.approx(0.002 * fog.index(max(fog)), abs=0.004)


def test_saturated_outdoor_air_never_clears_a_plume() -> None:
    saturated = saturation_humidity_ratio_kg_kg(5.0 + K, SEA_LEVEL_Pa)
    got = exhaust_plume(**air(30.0, 0.0273, 5.0, saturated, SEA_LEVEL_Pa))
    assert got.is_visible
    assert got.clears_ratio is None


def test_rounding_of_saturated_outdoor_air_is_no_plume() -> None:
    saturated = saturation_humidity_ratio_kg_kg(30.0 + K, SEA_LEVEL_Pa) * (1.0 + 9e-7)
    assert not exhaust_plume(**air(30.0, 0.010, 30.0, saturated, SEA_LEVEL_Pa)).is_visible


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"exhaust_humidity_ratio_kg_kg": 0.2}, "exhaust_humidity_ratio_kg_kg"),
        ({"outdoor_humidity_ratio_kg_kg": 0.02}, "outdoor_humidity_ratio_kg_kg"),
        ({"exhaust_temperature_K": 32.4}, "exhaust_temperature_K"),
        ({"outdoor_temperature_K": float("nan")}, "outdoor_temperature_K"),
        ({"pressure_Pa": 1e3}, "pressure_Pa"),
    ],
)
def test_bad_input_names_the_variable(change: dict[str, float], word: str) -> None:
    with pytest.raises(OutOfRange, match=word):
        exhaust_plume(**{**FOGGY[0], **change})
    with pytest.raises(OutOfRange, match="outdoor_air_ratio"):
        mixed_air(**FOGGY[0], outdoor_air_ratio=-1.0)
