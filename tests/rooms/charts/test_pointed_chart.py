"""What one is told when pointing at the chart: the model's own values there, where the drawing has them."""

from __future__ import annotations

import re
from functools import cache

import pytest

from vaporwright.actions.papers import chart_to_point_at
from vaporwright.charts.pointed_chart import PointedChart, PointedStep
from vaporwright.display_units import show
from vaporwright.files.catalogue_file import read_catalogue_file
from vaporwright.files.values import Value
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.balance import LIMIT_HEAT, LIMIT_TOWER, operate
from vaporwright.unit.job import SEASONS, build_job
from vaporwright.unit.sizing import size_unit

MONTHLY_GALLONS_m3_s = 3.785411784e-3 / (30.4 * 86400.0)
AS_DRAWN_px = 0.01
KINDS = ("gas", "electric", "steam")


@cache
def answer_of(heat_source: str) -> UnitAnswer:
    values: dict[str, Value] = {"duty.volume": 6000.0 * MONTHLY_GALLONS_m3_s, "choices.heat_source": heat_source}
    return size_unit(build_job(values), read_catalogue_file(None)).answer


@cache
def chart_of(heat_source: str, system: str) -> PointedChart:
    return chart_to_point_at(answer_of(heat_source), system)


def number(text: str) -> float:
    return float(text.split()[0].replace(",", ""))


@pytest.mark.parametrize("system", ["US", "SI"])
@pytest.mark.parametrize("heat_source", KINDS)
def test_the_operating_point_says_the_answer_and_stands_where_it_is_drawn(heat_source: str, system: str) -> None:
    answer, chart = answer_of(heat_source), chart_of(heat_source, system)
    drawn = re.findall(r'translate\(([\d.]+),([\d.]+)\)" d="M2', chart.svg)  # the accent dots of the drawing
    assert [curve.season for curve in chart.curves] == list(SEASONS)
    assert len(drawn) == len(SEASONS)
    for curve, (x, y) in zip(chart.curves, drawn, strict=True):
        result, step = answer.seasons[curve.season], curve.steps[curve.operating]
        assert [one.settles for one in curve.steps].count(True) == 1
        assert show(result.settling_temperature_K, "temperature", system) in step.says
        assert show(result.evaporation_kg_s, "evaporation", system) in step.says
        assert ("heat limits it" in step.says) == (result.limit == LIMIT_HEAT)
        assert ("the tower limits it" in step.says) == (result.limit == LIMIT_TOWER)
        assert (step.x_px, step.tower_y_px) == pytest.approx((float(x), float(y)), abs=AS_DRAWN_px)
        assert step.words == step.says


@pytest.mark.parametrize("heat_source", KINDS)
def test_between_them_it_says_what_the_model_gives_there(heat_source: str) -> None:
    """The values of a step, worked out anew; below the operating point the tower is the lesser, above it the heat."""
    answer, chart = answer_of(heat_source), chart_of(heat_source, "SI")
    for curve in chart.curves:
        result = answer.seasons[curve.season]
        carried = [number(step.tower) for step in curve.steps]
        assert carried == sorted(carried)
        for step in curve.steps[:: max(len(curve.steps) // 4, 1)]:
            at_K = number(step.temperature) + 273.15
            there = operate(answer.unit, result.conditions, at_K, result.heat_W, [result.operation.tower])
            # temperatures are told in whole degrees: half of one moves the rate by that much
            warmer = operate(answer.unit, result.conditions, at_K + 0.5, result.heat_W, [result.operation.tower])
            slack_kg_s = warmer.evaporation_kg_s - there.evaporation_kg_s
            told = number(step.tower) * 1e-3 * 998.2 / 3600.0  # L/h
            assert told == pytest.approx(there.evaporation_kg_s, abs=1.2 * slack_kg_s + 0.005 * told)
        for place, step in enumerate(curve.steps):
            if not step.settles:
                lesser = "tower" if place < curve.operating else "heat"
                assert step.says.startswith(f"The {lesser} is the lesser")
                assert (number(step.tower) <= number(step.heat)) == (lesser == "tower")


def test_what_stands_above_the_plot_is_told_and_not_drawn() -> None:
    step = PointedStep(1.0, None, 2.0, "70 °C", "900 L/h", "100 L/h", "The heat is the lesser", False)
    assert step.words == "70 °C: the tower carries 900 L/h, the heat drives 100 L/h. The heat is the lesser"


def test_the_drawing_fits_into_a_page() -> None:
    """No style or script of its own, which the page's policy would refuse, and no words twice for who listens."""
    svg = chart_of("gas", "US").svg
    assert not re.search(r"style=|<style|<script|aria-label|role=|<rect[^>]*#ffffff", svg)
    assert svg.count('aria-hidden="true"') == 1
    assert re.search(r'<g class="pointer" visibility="hidden"><line [^>]*/><circle class="heat"[^>]*/><circle', svg)
