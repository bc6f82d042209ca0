"""Laws of the crossflow tower: balances close, crossflow does less than counterflow, one answer or one named error."""

from __future__ import annotations

from dataclasses import astuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vaporwright.equipment.crossflow import rate_crossflow
from vaporwright.equipment.tower import rate_counterflow
from vaporwright.foundation.errors import OutOfRange
from vaporwright.properties.moist_air import enthalpy_J_kg, humidity_ratio_kg_kg
from vaporwright.properties.water import liquid_enthalpy_J_kg


@st.composite
def towers(draw: st.DrawFn, *, whole_range: bool = False) -> dict[str, float]:
    pressure = draw(st.floats(66e3, 106e3))
    air = draw(st.floats(243.15, 323.15) if whole_range else st.floats(263.15, 310.15))
    return {
        "water_temperature_K": draw(st.floats(300.0, 355.0) if whole_range else st.floats(318.15, 345.15)),
        "water_flow_kg_s": draw(st.floats(0.31, 29.0) if whole_range else st.floats(1.0, 6.0)),
        "air_temperature_K": air,
        "air_humidity_ratio_kg_kg": humidity_ratio_kg_kg(air, draw(st.floats(0.05, 0.95)), pressure),
        "dry_air_flow_kg_s": 1.0,
        "pressure_Pa": pressure,
        "merkel_number": draw(st.floats(0.01, 5.0) if whole_range else st.floats(0.05, 1.0)),
        "water_activity": draw(st.floats(0.8, 1.0)),
    }


@given(towers())
@settings(max_examples=40, deadline=None)
def test_water_and_energy_balances_close(case: dict[str, float]) -> None:
    got = rate_crossflow(**case)
    h_in = enthalpy_J_kg(case["air_temperature_K"], case["air_humidity_ratio_kg_kg"], case["pressure_Pa"])
    water_out = case["water_flow_kg_s"] - got.evaporation_kg_s
    brought = case["water_flow_kg_s"] * liquid_enthalpy_J_kg(case["water_temperature_K"]) + h_in
    taken = water_out * liquid_enthalpy_J_kg(got.water_out_temperature_K) + got.air_out_enthalpy_J_kg
    assert taken == pytest.approx(brought, rel=1e-8)
    humidity = case["air_humidity_ratio_kg_kg"] + got.evaporation_kg_s / case["dry_air_flow_kg_s"]
    assert got.air_out_humidity_ratio_kg_kg == pytest.approx(humidity, rel=1e-12)
    coldest, hottest = got.water_out_coldest_temperature_K, got.water_out_hottest_temperature_K
    assert coldest <= got.water_out_temperature_K <= hottest


@given(towers())
@settings(max_examples=30, deadline=None)
def test_crossflow_cools_less_than_counterflow_with_the_same_fill(case: dict[str, float]) -> None:
    cross, counter = rate_crossflow(**case), rate_counterflow(**case)
    assert cross.heat_to_air_W < counter.heat_to_air_W * (1.0 + 1e-3)
    little = {**case, "merkel_number": 0.01}
    agree = rate_crossflow(**little).heat_to_air_W / rate_counterflow(**little).heat_to_air_W
    # The share lost grows with Me x L/G: at Me 0.01 it is at most a few per cent.
    assert 1.0 - 0.4 * 0.01 * case["water_flow_kg_s"] - 2e-3 < agree < 1.0 + 1e-3


@given(towers(), st.floats(1.1, 2.0))
@settings(max_examples=30, deadline=None)
def test_more_fill_and_hotter_water_give_more_heat(case: dict[str, float], more: float) -> None:
    base = rate_crossflow(**case)
    taller = rate_crossflow(**{**case, "merkel_number": case["merkel_number"] * more})
    assert taller.heat_to_air_W > base.heat_to_air_W
    hotter = rate_crossflow(**{**case, "water_temperature_K": case["water_temperature_K"] + 2.0})
    assert hotter.evaporation_kg_s > base.evaporation_kg_s
    diluted = rate_crossflow(**{**case, "water_activity": min(1.0, case["water_activity"] + 0.02)})
    if case["water_activity"] < 0.98:
        assert diluted.evaporation_kg_s > base.evaporation_kg_s


@given(towers(whole_range=True))
@settings(max_examples=60, deadline=None)
def test_one_answer_or_one_named_error(case: dict[str, float]) -> None:
    try:
        got = rate_crossflow(**case)
    except OutOfRange as error:
        named = error.name
    else:
        assert all(value == value for value in astuple(got))
        return
    assert named.startswith("water_")
