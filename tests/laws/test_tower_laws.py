"""What must hold for every counterflow rating: balances, directions, one answer or one named error."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from vaporwright.equipment.fill_test import poppe_merkel_number
from vaporwright.equipment.tower import CounterflowRating, rate_counterflow, rate_counterflow_batch
from vaporwright.foundation.errors import OutOfRange, VaporwrightError
from vaporwright.properties.moist_air import (
    enthalpy_J_kg,
    saturation_humidity_ratio_kg_kg,
    wet_bulb_temperature_K,
)
from vaporwright.properties.water import liquid_enthalpy_J_kg, saturation_temperature_K

# The solver's own tolerance: what two neighbouring ratings may differ by without meaning.
SOLVER = 3e-4


@st.composite
def towers(draw: st.DrawFn, *, whole_range: bool = False) -> dict[str, float]:
    """Water well above the wet bulb of air that is not saturated; or everything that is allowed."""
    pressure_Pa = draw(st.floats(65e3, 106e3))
    hottest_K = min(368.15, saturation_temperature_K(pressure_Pa) - 5.0) - 1e-6
    air_K = draw(st.floats(243.15, 323.15) if whole_range else st.floats(253.15, 318.15))
    saturated = saturation_humidity_ratio_kg_kg(air_K, pressure_Pa)
    humidity = draw(st.floats(0.0, 1.0) if whole_range else st.floats(0.05, 0.9)) * saturated
    lowest_K = 280.0 if whole_range else max(308.15, wet_bulb_temperature_K(air_K, humidity, pressure_Pa) + 12.0)
    ratio = math.exp(draw(st.floats(math.log(0.301), math.log(29.9))))
    if not whole_range:
        ratio = min(max(ratio, 0.8), 12.0)
    merkel = math.exp(draw(st.floats(math.log(0.01), math.log(5.0))))
    return {
        "water_temperature_K": draw(st.floats(lowest_K, hottest_K)),
        "water_flow_kg_s": ratio * 0.7,
        "air_temperature_K": air_K,
        "air_humidity_ratio_kg_kg": humidity,
        "dry_air_flow_kg_s": 0.7,
        "pressure_Pa": pressure_Pa,
        "merkel_number": min(max(merkel, 0.0101), 4.99) if whole_range else min(max(merkel, 0.02), 2.5),
        "water_activity": draw(st.floats(0.75, 1.0)),
    }


def rated(tower: dict[str, float]) -> CounterflowRating:
    try:
        return rate_counterflow(**tower)
    except OutOfRange:
        assume(False)  # water that would freeze, or is not cooled: its own law below
        raise


@given(towers(whole_range=True))
@settings(max_examples=300, deadline=None)
def test_one_answer_or_one_named_error(tower: dict[str, float]) -> None:
    try:
        rating = rate_counterflow(**tower)
    except OutOfRange as refused:
        named = refused.name
        rating = None
    if rating is None:
        assert named in ("water_temperature_K", "water_out_temperature_K")  # not cooled, or it would freeze
        return
    values: list[Any] = [
        rating.water_out_temperature_K,
        rating.air_out_temperature_K,
        rating.air_out_humidity_ratio_kg_kg,
        rating.air_out_enthalpy_J_kg,
        rating.evaporation_kg_s,
    ]
    assert all(math.isfinite(value) for value in values)
    assert 273.15 <= rating.water_out_temperature_K < tower["water_temperature_K"]
    assert rating.evaporation_kg_s < tower["water_flow_kg_s"]


@given(towers(whole_range=True))
@settings(max_examples=100, deadline=None)
def test_water_and_energy_balance(tower: dict[str, float]) -> None:
    rating = rated(tower)
    air, water = tower["dry_air_flow_kg_s"], tower["water_flow_kg_s"]
    taken_up = air * (rating.air_out_humidity_ratio_kg_kg - tower["air_humidity_ratio_kg_kg"])
    assert rating.evaporation_kg_s == pytest.approx(taken_up, rel=1e-8, abs=1e-12)
    inlet_J_kg = enthalpy_J_kg(tower["air_temperature_K"], tower["air_humidity_ratio_kg_kg"], tower["pressure_Pa"])
    to_air_W = air * (rating.air_out_enthalpy_J_kg - inlet_J_kg)
    from_water_W = water * liquid_enthalpy_J_kg(tower["water_temperature_K"]) - (
        water - rating.evaporation_kg_s
    ) * liquid_enthalpy_J_kg(rating.water_out_temperature_K)
    turnover_W = water * liquid_enthalpy_J_kg(tower["water_temperature_K"])
    assert to_air_W == pytest.approx(from_water_W, abs=1e-8 * turnover_W)
    # The outlet air's temperature belongs to its enthalpy and humidity, mist included.
    state_J_kg = enthalpy_J_kg(rating.air_out_temperature_K, rating.air_out_humidity_ratio_kg_kg, tower["pressure_Pa"])
    assert state_J_kg == pytest.approx(rating.air_out_enthalpy_J_kg, rel=1e-5, abs=5.0)


def rises(tower: dict[str, float], **change: float) -> None:
    """Evaporation with the change is at least what it is without, but for the solver's tolerance.

    Laws about the air and the fill are held over pure water only. Cold air first turns to mist, which is saturated
    over pure water; over liquor of lower activity a taller fill then lets that mist evaporate and the liquor take it
    up again, so that evaporation has a maximum (test_over_liquor_a_taller_fill_may_evaporate_less).
    """
    before, after = rated(tower).evaporation_kg_s, rated(tower | change).evaporation_kg_s
    assert after >= before - SOLVER * abs(before)


@given(towers(), st.floats(0.5, 8.0))
@settings(max_examples=60, deadline=None)
def test_rises_with_water_temperature(tower: dict[str, float], colder_K: float) -> None:
    rises(tower | {"water_temperature_K": tower["water_temperature_K"] - colder_K},
          water_temperature_K=tower["water_temperature_K"])  # fmt: skip


@given(towers(), st.floats(1.03, 2.0))
@settings(max_examples=60, deadline=None)
def test_rises_with_air_flow(tower: dict[str, float], factor: float) -> None:
    assume(tower["air_temperature_K"] > 273.15)  # the next test has the reason
    rises(tower | {"water_activity": 1.0}, dry_air_flow_kg_s=factor * tower["dry_air_flow_kg_s"])


def test_more_arctic_air_may_evaporate_less() -> None:
    # It cools the water more without carrying more away. Confirmed by the slow solver of tests/oracle:
    # 0.034343 kg/s with 0.7 kg/s of air, 0.034277 kg/s with 2.3.
    tower = {
        "water_temperature_K": 354.0,
        "water_flow_kg_s": 0.7,
        "air_temperature_K": 254.0,
        "air_humidity_ratio_kg_kg": 0.00054,
        "pressure_Pa": 65000.0,
        "merkel_number": 0.1353,
    }
    little, much = (rate_counterflow(**tower, dry_air_flow_kg_s=flow).evaporation_kg_s for flow in (0.7, 2.3))
    assert little == pytest.approx(0.034343, rel=1e-3)
    assert much == pytest.approx(0.034277, rel=1e-3)
    assert much < little


@given(towers(), st.floats(1.03, 2.0))
@settings(max_examples=60, deadline=None)
def test_rises_with_merkel_number(tower: dict[str, float], factor: float) -> None:
    rises(tower | {"water_activity": 1.0}, merkel_number=factor * tower["merkel_number"])


def test_over_liquor_a_taller_fill_may_evaporate_less() -> None:
    # Confirmed by the slow solver of tests/oracle: 0.03887 kg/s at a Merkel number of 1, 0.03730 kg/s at 2.
    tower = {
        "water_temperature_K": 309.0,
        "water_flow_kg_s": 5.172339269251455,
        "air_temperature_K": 254.0,
        "air_humidity_ratio_kg_kg": 0.0005383008293580114,
        "dry_air_flow_kg_s": 0.7,
        "pressure_Pa": 65000.0,
        "water_activity": 0.875,
    }
    short, tall = (rate_counterflow(**tower, merkel_number=merkel).evaporation_kg_s for merkel in (1.0, 2.0))
    assert short == pytest.approx(0.03887, rel=1e-3)
    assert tall == pytest.approx(0.03730, rel=1e-3)


@given(towers(), st.floats(0.0, 0.9))
@settings(max_examples=60, deadline=None)
def test_falls_with_wet_bulb_at_the_same_dry_bulb(tower: dict[str, float], share: float) -> None:
    rises(tower | {"water_activity": 1.0}, air_humidity_ratio_kg_kg=share * tower["air_humidity_ratio_kg_kg"])


@given(towers(), st.floats(0.8, 0.99))
@settings(max_examples=60, deadline=None)
def test_falls_with_lowered_water_activity(tower: dict[str, float], factor: float) -> None:
    rises(tower | {"water_activity": factor * tower["water_activity"]}, water_activity=tower["water_activity"])


@given(towers(), st.floats(0.01, 100.0))
@settings(max_examples=30, deadline=None)
def test_a_tower_twice_the_size_does_twice_the_work(tower: dict[str, float], factor: float) -> None:
    one = rated(tower)
    many = rated(tower | {name: factor * tower[name] for name in ("water_flow_kg_s", "dry_air_flow_kg_s")})
    assert many.evaporation_kg_s == pytest.approx(factor * one.evaporation_kg_s, rel=1e-6)
    assert many.water_out_temperature_K == pytest.approx(one.water_out_temperature_K, abs=1e-5)


@given(towers())
@settings(max_examples=60, deadline=None)
def test_fill_test_reduction_inverts_the_rating(tower: dict[str, float]) -> None:
    rating = rated(tower)
    # Near a pinch the outlet hardly depends on the Merkel number, so that the way back has nothing to go by.
    more = rated(tower | {"merkel_number": 1.1 * tower["merkel_number"]})
    assume(rating.water_out_temperature_K - more.water_out_temperature_K > 0.1)
    given_air = {name: value for name, value in tower.items() if name not in ("merkel_number", "water_temperature_K")}
    number = poppe_merkel_number(
        water_in_temperature_K=tower["water_temperature_K"],
        water_out_temperature_K=rating.water_out_temperature_K,
        **given_air,
    )
    assert number == pytest.approx(tower["merkel_number"], rel=5e-3)


def random_towers(count: int, seed: int) -> list[dict[str, float]]:
    random = np.random.default_rng(seed)
    found: list[dict[str, float]] = []
    while len(found) < count:
        pressure_Pa = random.uniform(65e3, 106e3)
        air_K = random.uniform(245.0, 322.0)
        tower = {
            "water_temperature_K": random.uniform(300.0, min(368.0, saturation_temperature_K(pressure_Pa) - 5.1)),
            "water_flow_kg_s": 0.31 * 95.0 ** random.uniform(),
            "air_temperature_K": air_K,
            "air_humidity_ratio_kg_kg": random.uniform() * saturation_humidity_ratio_kg_kg(air_K, pressure_Pa),
            "dry_air_flow_kg_s": 1.0,
            "pressure_Pa": pressure_Pa,
            "merkel_number": 0.011 * 450.0 ** random.uniform(),
            "water_activity": random.uniform(0.75, 1.0),
        }
        try:
            rate_counterflow(**tower)
        except OutOfRange:
            continue
        found.append(tower)
    return found


def test_batch_equals_single() -> None:
    cases = random_towers(200, 7)
    columns = {name: np.array([case[name] for case in cases]) for name in cases[0]}
    singles = [rate_counterflow(**case) for case in cases]
    for threads in (1, 2):
        batch = rate_counterflow_batch(**columns, threads=threads)
        differences = np.array(
            [
                max(abs(getattr(batch, name)[row] / getattr(single, name) - 1.0) for name in batch._fields)
                for row, single in enumerate(singles)
            ]
        )
        # Compiled and interpreted arithmetic differ in the last digits; a deep pinch passes them on.
        assert np.quantile(differences, 0.8) < 1e-9
        assert differences.max() < 2e-5


def test_batch_names_the_row_that_fails() -> None:
    cases = random_towers(3, 8)
    columns = {name: np.array([case[name] for case in cases]) for name in cases[0]}
    columns["merkel_number"][1] = -1.0
    with pytest.raises(VaporwrightError, match="merkel_number") as caught:
        rate_counterflow_batch(**columns)
    assert any("row 1 of 3" in note for note in caught.value.__notes__)
