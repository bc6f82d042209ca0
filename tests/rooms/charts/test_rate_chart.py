"""The rate chart: the numbers it shows are the answer's, and no label ever touches another."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vaporwright.charts.rate_chart import rate_chart_png, rate_chart_spec, rate_chart_svg
from vaporwright.charts.rate_picture import (
    COLOURS,
    CHARACTER_px,
    Label,
    LINE_px,
    PLOT_HEIGHT_px,
    RatePicture,
    WIDTH_px,
    chart_title,
    rate_picture,
)
from vaporwright.files.catalogue_file import read_catalogue_file
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.balance import LIMIT_HEAT, LIMIT_TOWER
from vaporwright.unit.job import SEASONS, build_job
from vaporwright.unit.rate_curve import CurvePoint, RateCurve, rate_curves
from vaporwright.unit.sizing import size_unit

MONTHLY_GALLONS_m3_s = 3.785411784e-3 / (30.4 * 86400.0)
GALLON_PER_HOUR_kg_s = 3.785411784e-3 * 998.2 / 3600.0


@cache
def answer_of(heat_source: str) -> UnitAnswer:
    given_values: Mapping[str, Any] = {"duty.volume": 6000.0 * MONTHLY_GALLONS_m3_s, "choices.heat_source": heat_source}
    return size_unit(build_job(given_values), read_catalogue_file(None)).answer


@cache
def picture_of(heat_source: str, system: str) -> RatePicture:
    answer = answer_of(heat_source)
    return rate_picture(answer, rate_curves(answer), system)


def moved(
    settled_K: tuple[float, ...], rates_kg_s: tuple[float, ...], clamp_K: float, duty_kg_s: float
) -> tuple[UnitAnswer, tuple[RateCurve, ...]]:
    """An answer with other operating points, and straight curves that cross in them; no physics in it."""
    base = answer_of("gas")
    seasons, curves = {}, []
    for season, settled, rate in zip(SEASONS, settled_K, rates_kg_s, strict=True):
        result = base.seasons[season]
        operation = replace(result.operation, evaporation_kg_s=rate)
        limit = LIMIT_TOWER if settled >= clamp_K else LIMIT_HEAT
        seasons[season] = replace(
            result, settling_temperature_K=settled, clamp_K=clamp_K, operation=operation, limit=limit
        )
        low = settled - 20.0
        step = (clamp_K - low) / 14.0
        temperatures = [low + step * index for index in range(15)]
        points = tuple(
            CurvePoint(at, rate * (1.0 + 0.04 * (at - settled)), rate * (1.0 + 0.002 * (settled - at)))
            for at in temperatures
        )
        curves.append(RateCurve(season, points))
    governing = min(seasons, key=lambda season: seasons[season].evaporation_kg_s)
    return replace(base, seasons=seasons, governing=governing, required_kg_s=duty_kg_s), tuple(curves)


def box(label: Label) -> tuple[float, float, float, float]:
    width = CHARACTER_px * len(label.text)
    left = label.at[0] - width if label.right_aligned else label.at[0]
    return left, label.at[1] - 0.45 * LINE_px, left + width, label.at[1] + 0.45 * LINE_px


def overlap(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def require_readable(picture: RatePicture) -> None:
    boxes = [box(label) for label in picture.labels]
    for index, one in enumerate(boxes):
        assert not any(overlap(one, other) for other in boxes[index + 1 :]), picture.labels
    for label, (left, top, right, bottom) in zip(picture.labels, boxes, strict=True):
        assert left >= -1.0
        assert right <= WIDTH_px + 1.0, label
        assert top >= -0.5 * LINE_px
        assert bottom <= picture.axes.height_px + 0.5 * LINE_px
        if label.right_aligned:  # beside its point, inside the plot
            clear_of_points = all(right < picture.axes.x_px(temperature) for temperature, _ in picture.points)
            assert clear_of_points
            heights = [
                picture.axes.y_px(rate) for line in picture.lines if line.name[:4] == "heat" for _, rate in line.points
            ]
            assert bottom < min(heights)
            if picture.duty is not None:
                assert abs(picture.axes.y_px(picture.duty) - label.at[1]) > 0.7 * LINE_px


@pytest.mark.parametrize("system", ["US", "SI"])
@pytest.mark.parametrize("heat_source", ["gas", "electric", "steam"])
def test_labels_of_sized_units_are_readable(heat_source: str, system: str) -> None:
    require_readable(picture_of(heat_source, system))


@given(
    st.tuples(*[st.floats(312.0, 345.0)] * 3),
    st.tuples(*[st.floats(0.8, 1.2)] * 3),
    st.floats(1e-3, 1.0),
    st.floats(0.0, 12.0),
    st.floats(0.05, 8.0),
    st.sampled_from(["US", "SI"]),
    st.sampled_from([PLOT_HEIGHT_px, 105.0]),
)
@settings(max_examples=150, deadline=None)
def test_labels_never_overlap(
    settled_K: tuple[float, ...],
    spread_of_rates: tuple[float, ...],
    rate_kg_s: float,
    below_clamp_K: float,
    share: float,
    system: str,
    height_px: float,
) -> None:
    rates = tuple(rate_kg_s * factor for factor in spread_of_rates)
    answer, curves = moved(settled_K, rates, max(settled_K) + below_clamp_K, share * rate_kg_s)
    require_readable(rate_picture(answer, curves, system, height_px))


@pytest.mark.parametrize("below_clamp_K", [0.0, 0.3, 2.0, 15.0])
def test_labels_never_overlap_where_the_points_coincide(below_clamp_K: float) -> None:
    answer, curves = moved((330.0, 330.2, 330.4), (0.0262, 0.0263, 0.0264), 330.4 + below_clamp_K, 0.0263)
    require_readable(rate_picture(answer, curves, "US"))


def test_operating_points_are_the_answers_in_shown_units() -> None:
    answer = answer_of("gas")
    picture = picture_of("gas", "US")
    for season, (temperature, rate) in zip(SEASONS, picture.points, strict=True):
        result = answer.seasons[season]
        assert temperature == pytest.approx(result.settling_temperature_K * 1.8 - 459.67)
        assert rate == pytest.approx(result.evaporation_kg_s / GALLON_PER_HOUR_kg_s)
        marked = [label.text for label in picture.labels if label.text.startswith(season)]
        assert marked == [f"{season} {temperature:.0f} °F, {rate:.1f} gal/h"]


def test_the_curves_cross_where_the_unit_settles() -> None:
    picture = picture_of("gas", "SI")
    lines = {line.name: line for line in picture.lines}
    for season, (settled, rate) in zip(SEASONS, picture.points, strict=True):
        cold, hot = ([lines[f"{name} {season}"].points[end][1] for name in ("tower", "heat")] for end in (0, -1))
        assert cold[0] < cold[1]
        assert hot[0] > hot[1]
        for name in (f"tower {season}", f"heat {season}"):
            points = lines[name].points
            before = max((point for point in points if point[0] <= settled), key=lambda point: point[0])
            after = min((point for point in points if point[0] > settled), key=lambda point: point[0])
            share = (settled - before[0]) / (after[0] - before[0])
            assert before[1] + share * (after[1] - before[1]) == pytest.approx(rate, rel=0.01)


def test_a_unit_at_its_clamp_is_labelled_beside_the_plot() -> None:
    answer, curves = moved((339.95, 339.95, 335.0), (0.02, 0.021, 0.0205), 339.95, 0.015)
    picture = rate_picture(answer, curves, "SI")
    beside = {label.text.split()[0]: label.right_aligned for label in picture.labels}
    assert beside["summer"] is False
    assert beside["winter"] is False
    assert beside["average"] is True
    assert chart_title(answer, "SI").startswith("The tower limits it: the tank sits at its clamp, 66.8 °C")


def test_a_duty_far_above_is_named_and_not_drawn() -> None:
    answer, curves = moved((330.0, 331.0, 332.0), (0.02, 0.021, 0.0205), 340.0, 0.2)
    picture = rate_picture(answer, curves, "SI")
    assert picture.duty is None
    assert "duty 720 kg/h, above" in [label.text for label in picture.labels]


def test_the_title_says_what_one_sees() -> None:
    answer, _ = moved((330.0, 328.15, 329.0), (0.0275, 0.0261, 0.0268), 341.0, 0.02)
    assert chart_title(answer, "SI") == "Heat limits it: the tank settles at 55.0 °C and evaporates 94.0 kg/h in winter"


def test_axes_are_named_with_units() -> None:
    encoding = rate_chart_spec(answer_of("gas"), rate_curves(answer_of("gas")), "US")["layer"][0]["encoding"]
    assert encoding["x"]["axis"]["title"] == "tank temperature, °F"
    assert encoding["y"]["axis"]["title"] == "evaporation, gal/h"


def luminance(colour: str) -> float:
    channels = [int(colour[index : index + 2], 16) / 255.0 for index in (1, 3, 5)]
    linear = [channel / 12.92 if channel <= 0.04045 else ((channel + 0.055) / 1.055) ** 2.4 for channel in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("name", ["text", "quiet text", "accent"])
def test_text_colours_stand_out_from_the_paper(name: str) -> None:
    # WCAG 2.2, contrast ratio (L1 + 0.05) / (L2 + 0.05), at least 4.5 for small text.
    assert (luminance(COLOURS["paper"]) + 0.05) / (luminance(COLOURS[name]) + 0.05) >= 4.5


def test_rendered_offline_with_text_as_text_and_the_same_each_time() -> None:
    answer = answer_of("steam")
    curves = rate_curves(answer)
    svg = rate_chart_svg(answer, curves, "US")
    assert svg == rate_chart_svg(answer, curves, "US")
    assert "tank temperature, °F" in svg
    assert "Source Sans Pro" in svg
    width = re.match(r'<svg[^>]* width="([\d.]+)"', svg)
    assert width is not None
    assert float(width.group(1)) < WIDTH_px + 45.0  # labels do not push the picture wider than axis and column
    assert rate_chart_png(answer, curves, "US", scale=1.0)[:8] == b"\x89PNG\r\n\x1a\n"
