"""Laws of the crossflow tower: balances close, grids converge, and it does less than counterflow."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vaporwright.equipment.crossflow import CrossflowRating, rate_crossflow
from vaporwright.equipment.crossflow_kernels import CrossflowInlet, FillMarch, _extrapolated, _march_fill
from vaporwright.equipment.tower import rate_counterflow
from vaporwright.foundation.errors import OutOfRange
from vaporwright.properties.moist_air import enthalpy_J_kg, humidity_ratio_kg_kg, wet_bulb_temperature_K
from vaporwright.properties.moist_air_kernels import liquid_water_enthalpy_J_kg
from vaporwright.properties.water import saturation_temperature_K


@st.composite
def towers(draw: st.DrawFn, *, gentle: bool = False) -> dict[str, Any]:
    """Over all that is allowed; `gentle` keeps off ice, the wet bulb and endless fills."""
    pressure_Pa = draw(st.floats(61e3, 109e3))
    air_K = draw(st.floats(275.0 if gentle else 243.2, 323.1))
    humidity = humidity_ratio_kg_kg(air_K, draw(st.floats(0.05, 0.95)), pressure_Pa)
    hottest_K = min(368.1, saturation_temperature_K(pressure_Pa) - 5.1)
    coldest_K = wet_bulb_temperature_K(air_K, humidity, pressure_Pa) + 15.0 if gentle else 274.0
    ratio = draw(st.floats(-1.2, 3.4)) if not gentle else draw(st.floats(0.0, 2.1))
    merkel = draw(st.floats(-4.6, 1.6)) if not gentle else draw(st.floats(-3.0, 0.0))
    return {
        "water_temperature_K": draw(st.floats(coldest_K, hottest_K)) if coldest_K < hottest_K else hottest_K,
        "water_flow_kg_s": 2.718281828**ratio * 0.7,
        "air_temperature_K": air_K,
        "air_humidity_ratio_kg_kg": humidity,
        "dry_air_flow_kg_s": 0.7,
        "pressure_Pa": pressure_Pa,
        "merkel_number": 2.718281828**merkel,
        "water_activity": draw(st.sampled_from([1.0, 0.95] if gentle else [1.0, 1.0, 0.9, 0.6])),
    }


@settings(max_examples=80, deadline=None)
@given(tower=towers())
def test_balances_close_or_the_refusal_has_a_name(tower: dict[str, Any]) -> None:
    refused = ""
    try:
        rating = rate_crossflow(**tower)
    except OutOfRange as error:
        refused = error.name
    if refused:
        assert refused in ("water_temperature_K", "water_out_coldest_temperature_K")
    else:
        _check_balances(rating, tower)


def _check_balances(rating: CrossflowRating, tower: dict[str, Any]) -> None:
    air, water = tower["dry_air_flow_kg_s"], tower["water_flow_kg_s"]
    before_W = water * liquid_water_enthalpy_J_kg(tower["water_temperature_K"]) + air * enthalpy_J_kg(
        tower["air_temperature_K"], tower["air_humidity_ratio_kg_kg"], tower["pressure_Pa"]
    )
    left_kg_s = water - rating.evaporation_kg_s
    air_out_W = air * rating.air_out_enthalpy_J_kg
    after_W = left_kg_s * liquid_water_enthalpy_J_kg(rating.water_out_temperature_K) + air_out_W
    assert after_W == pytest.approx(before_W, rel=1e-8, abs=1e-8 * abs(air_out_W))
    taken_kg_s = air * (rating.air_out_humidity_ratio_kg_kg - tower["air_humidity_ratio_kg_kg"])
    assert taken_kg_s == pytest.approx(rating.evaporation_kg_s, rel=1e-8, abs=1e-12)
    assert left_kg_s > 0.0
    # The air's mixed temperature belongs to its mixed enthalpy and water.
    again_J_kg = enthalpy_J_kg(rating.air_out_temperature_K, rating.air_out_humidity_ratio_kg_kg, tower["pressure_Pa"])
    assert again_J_kg == pytest.approx(rating.air_out_enthalpy_J_kg, abs=2.0 + 1e-5 * abs(again_J_kg))
    # Streaks bound the mixture, but for the last hundredths where all water is at rest.
    assert rating.water_out_coldest_temperature_K < rating.water_out_temperature_K + 0.05
    assert rating.water_out_temperature_K < rating.water_out_hottest_temperature_K + 0.05


@settings(max_examples=40, deadline=None)
@given(tower=towers(gentle=True))
def test_less_than_counterflow(tower: dict[str, Any]) -> None:
    cross, counter = rate_crossflow(**tower), rate_counterflow(**tower)
    assert cross.evaporation_kg_s < counter.evaporation_kg_s * 1.0005
    assert cross.water_out_temperature_K > counter.water_out_temperature_K - 0.01


@settings(max_examples=15, deadline=None)
@given(tower=towers(gentle=True))
def test_equal_to_counterflow_where_hardly_any_fill(tower: dict[str, Any]) -> None:
    # What the arrangement changes goes with the square of the fill, so its share of the whole with the fill.
    def short_by(merkel: float) -> float:
        inputs = {**tower, "merkel_number": merkel}
        return 1.0 - rate_crossflow(**inputs).evaporation_kg_s / rate_counterflow(**inputs).evaporation_kg_s

    assert -1e-3 < short_by(0.01) < 0.4 * short_by(0.04) + 1e-3


@settings(max_examples=40, deadline=None)
@given(tower=towers(gentle=True))
def test_evaporation_goes_the_right_way(tower: dict[str, Any]) -> None:
    def evaporation(**changes: float) -> float:
        return rate_crossflow(**{**tower, **changes}).evaporation_kg_s

    plain = evaporation()
    assert evaporation(merkel_number=1.1 * tower["merkel_number"]) > plain
    assert evaporation(water_temperature_K=tower["water_temperature_K"] - 1.0) < plain
    assert evaporation(air_humidity_ratio_kg_kg=0.8 * tower["air_humidity_ratio_kg_kg"]) > plain
    assert evaporation(water_activity=tower["water_activity"] - 0.05) < plain
    more_air = 1.1 * tower["dry_air_flow_kg_s"]
    same_fill = tower["merkel_number"]
    assert evaporation(dry_air_flow_kg_s=more_air, merkel_number=same_fill) > plain


def _march(inlet: CrossflowInlet, cells: int) -> FillMarch:
    room = [[0.0] * (cells + 2) for _ in range(3)]
    return _march_fill(inlet, cells, *room)


@pytest.mark.parametrize(
    ("water_K", "ratio", "merkel"), [(333.15, 2.5, 0.3), (333.15, 1.5, 1.0), (353.15, 4.0, 0.5), (313.15, 0.5, 2.0)]
)
def test_grid_converges_with_second_order(water_K: float, ratio: float, merkel: float) -> None:
    humidity = humidity_ratio_kg_kg(293.15, 0.5, 101325.0)
    enthalpy = enthalpy_J_kg(293.15, humidity, 101325.0)
    inlet = CrossflowInlet(water_K, ratio, enthalpy, humidity, 293.15, 101325.0, 1.0, merkel * ratio)
    marches = {cells: _march(inlet, cells) for cells in (6, 12, 24, 48)}
    gained = {cells: march.evaporation_kg_kg for cells, march in marches.items()}
    limit = _extrapolated(marches[24], marches[48]).evaporation_kg_kg
    assert abs(gained[12] - limit) < 1.5e-3 * limit
    assert 2.5 < (gained[12] - limit) / (gained[24] - limit) < 6.0
    assert _extrapolated(marches[6], marches[12]).evaporation_kg_kg == pytest.approx(limit, rel=2e-4)
    # Water and air balance on every grid: what one cell takes the other gives.
    for cells, march in marches.items():
        room = [[0.0] * (cells + 2) for _ in range(3)]
        _march_fill(inlet, cells, *room)
        edges = [(k / cells) * (0.05 + 0.95 * k / cells) for k in range(cells + 1)]
        left = sum((edges[k + 1] - edges[k]) * room[0][k] for k in range(cells))
        held = sum((edges[k + 1] - edges[k]) * room[0][k] * room[1][k] for k in range(cells))
        assert ratio - left == pytest.approx(march.evaporation_kg_kg, rel=1e-10)
        brought = ratio * liquid_water_enthalpy_J_kg(water_K)
        assert brought - held == pytest.approx(march.heat_J_kg, rel=1e-10)
