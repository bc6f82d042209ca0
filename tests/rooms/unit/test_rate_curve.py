"""The curves behind an answer cross where the unit settles."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest

from invented_unit import HEATER, fahrenheit, unit
from vaporwright.unit.answer import answer_for
from vaporwright.unit.assembly import AssembledUnit
from vaporwright.unit.job import build_job
from vaporwright.unit.rate_curve import RateCurve, rate_curves


def curves(parts: AssembledUnit, **given: Any) -> tuple[Any, dict[str, RateCurve]]:
    values = {key.replace("__", "."): value for key, value in given.items()}
    answer = answer_for(build_job({"duty.volume": 8.6e-6, **values}), parts)
    return answer, {curve.season: curve for curve in rate_curves(answer)}


def test_the_curves_cross_at_the_settling_temperature() -> None:
    answer, found = curves(unit(), choices__set_point=fahrenheit(160.0))
    assert set(found) == {"summer", "winter", "average"}
    for season, curve in found.items():
        result = answer.seasons[season]
        assert result.limit == "heat"
        for left, right in pairwise(curve.points):
            gap_left = left.tower_carries_kg_s - left.heat_drives_kg_s
            gap_right = right.tower_carries_kg_s - right.heat_drives_kg_s
            if gap_left <= 0.0 < gap_right:
                share = -gap_left / (gap_right - gap_left)
                crossing_K = left.temperature_K + share * (right.temperature_K - left.temperature_K)
                rate = left.tower_carries_kg_s + share * (right.tower_carries_kg_s - left.tower_carries_kg_s)
                assert crossing_K == pytest.approx(result.settling_temperature_K, abs=0.3)
                assert rate == pytest.approx(result.evaporation_kg_s, rel=0.01)
                break
        else:
            pytest.fail(f"{season}: the lines do not cross")


def test_the_tower_carries_more_the_hotter_and_the_heat_drives_a_little_less() -> None:
    _, found = curves(unit(heat_source=HEATER))
    for curve in found.values():
        for left, right in pairwise(curve.points):
            assert right.tower_carries_kg_s > left.tower_carries_kg_s
    # Hot dry summer air warms a cool tank, so that the heat drives more there; in winter the line is nearly level.
    rates = {season: [point.heat_drives_kg_s for point in curve.points] for season, curve in found.items()}
    assert rates["summer"] == sorted(rates["summer"], reverse=True)
    assert max(rates["winter"]) / min(rates["winter"]) < 1.1


def test_where_the_tower_limits_the_heat_drives_more_at_the_clamp() -> None:
    answer, found = curves(unit(merkel=0.4), choices__set_point=fahrenheit(115.0))
    last = found["summer"].points[-1]
    assert last.temperature_K == pytest.approx(answer.seasons["summer"].clamp_K)
    assert last.tower_carries_kg_s == pytest.approx(answer.seasons["summer"].evaporation_kg_s, rel=1e-3)
    assert last.heat_drives_kg_s > last.tower_carries_kg_s


def test_a_season_and_a_number_of_points_may_be_chosen() -> None:
    answer, _ = curves(unit())
    (curve,) = rate_curves(answer, points=5, seasons=("winter",))
    assert curve.season == "winter"
    assert len(curve.points) == 5
