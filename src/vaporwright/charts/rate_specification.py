"""The placed rate picture as a Vega-Lite specification: plain data, no library needed to build it."""

from __future__ import annotations

from typing import Any, Final

from vaporwright.charts.rate_picture import (
    COLOURS,
    Axes,
    Label,
    Line,
    Point,
    RatePicture,
    TEXT_px,
    WIDTH_px,
)

FONT: Final = "Source Sans Pro"
TITLE_px = 10.5


def rate_specification(picture: RatePicture) -> dict[str, Any]:
    """Lines, clamp, duty, points and labels as layers over one pair of axes; labels stand in the axes' coordinates."""
    axes = picture.axes
    layers = [
        _path([(picture.clamp, 0.0), (picture.clamp, axes.rate.high)], COLOURS["text"], 1.0, (1, 2)),
        *([] if picture.duty is None else [_duty(picture.duty, axes)]),
        *(_curve(line) for line in picture.lines),
        *(_leader(label, axes) for label in picture.labels),
        _points(picture.points),
        *(_text(label, axes) for label in picture.labels),
        _text(_clamp_label(picture), axes),
    ]
    return {
        "$schema": "https://vega.github.io/schema/vega-lite/v6.json",
        "width": axes.width_px,
        "height": axes.height_px,
        "padding": {"left": 0, "top": 2, "right": 2, "bottom": 2},
        "autosize": {"type": "pad", "contains": "content"},
        "title": {"text": picture.title, "anchor": "start", "frame": "bounds", "offset": 14},
        "description": picture.title,
        "layer": [_frame(picture), *layers],
        "config": _config(),
    }


def _config() -> dict[str, Any]:
    axis = {
        "labelFont": FONT,
        "titleFont": FONT,
        "labelFontSize": TEXT_px,
        "titleFontSize": TEXT_px,
        "titleFontWeight": "normal",
        "labelColor": COLOURS["quiet text"],
        "titleColor": COLOURS["quiet text"],
        "domainColor": COLOURS["line"],
        "tickColor": COLOURS["line"],
        "gridColor": COLOURS["grid"],
        "tickSize": 3,
        "titlePadding": 4,
    }
    return {
        "background": COLOURS["paper"],
        "font": FONT,
        "view": {"stroke": None},
        "axis": axis,
        "text": {"font": FONT, "fontSize": TEXT_px},
        "title": {"font": FONT, "fontSize": TITLE_px, "fontWeight": 600, "color": COLOURS["text"]},
    }


def _frame(picture: RatePicture) -> dict[str, Any]:
    """An unseen layer that carries the axes, and holds the label column open."""
    axes = picture.axes
    temperature, rate = picture.units
    right = axes.temperature.at(WIDTH_px / axes.width_px)
    scale = {"zero": False, "nice": False, "clamp": False}
    return {
        "data": {"values": [{"x": axes.temperature.low, "y": 0.0}, {"x": right, "y": 0.0}]},
        "mark": {"type": "point", "opacity": 0.0, "size": 1},
        "encoding": {
            "x": {
                "field": "x",
                "type": "quantitative",
                "scale": {**scale, "domain": [axes.temperature.low, axes.temperature.high]},
                "axis": {"title": f"tank temperature, {temperature}", "grid": False, "tickCount": 8},
            },
            "y": {
                "field": "y",
                "type": "quantitative",
                "scale": {**scale, "domain": [axes.rate.low, axes.rate.high]},
                "axis": {"title": f"evaporation, {rate}", "tickCount": 5},
            },
        },
    }


def _encoding() -> dict[str, Any]:
    return {"x": {"field": "x", "type": "quantitative"}, "y": {"field": "y", "type": "quantitative"}}


def _path(points: list[Point], colour: str, width: float, dash: tuple[int, ...]) -> dict[str, Any]:
    rows = [{"x": x, "y": y, "order": index} for index, (x, y) in enumerate(points)]
    return {
        "data": {"values": rows},
        "mark": {"type": "line", "color": colour, "strokeWidth": width, "strokeDash": list(dash)},
        "encoding": {**_encoding(), "order": {"field": "order", "type": "quantitative"}},
    }


def _curve(line: Line) -> dict[str, Any]:
    return _path(list(line.points), line.colour, line.width, line.dash)


def _duty(duty: float, axes: Axes) -> dict[str, Any]:
    ends = [(axes.temperature.low, duty), (axes.temperature.high, duty)]
    return _path(ends, COLOURS["text"], 0.8, (4, 2, 1, 2))


def _in_axes(place: Point, axes: Axes) -> Point:
    """Pixels of the plot as coordinates of the axes, beyond their ends too."""
    return axes.temperature.at(place[0] / axes.width_px), axes.rate.at(1.0 - place[1] / axes.height_px)


def _leader(label: Label, axes: Axes) -> dict[str, Any]:
    away = 2.0 if label.right_aligned else -2.0
    places = [(label.at[0] + away, label.at[1]), label.leads_to]
    return _path([_in_axes(place, axes) for place in places], COLOURS["faint line"], 0.6, ())


def _points(points: tuple[Point, ...]) -> dict[str, Any]:
    return {
        "data": {"values": [{"x": x, "y": y} for x, y in points]},
        "mark": {
            "type": "point",
            "shape": "circle",
            "filled": True,
            "size": 34,
            "opacity": 1.0,
            "color": COLOURS["accent"],
            "stroke": COLOURS["paper"],
            "strokeWidth": 0.8,
        },
        "encoding": _encoding(),
    }


def _text(label: Label, axes: Axes) -> dict[str, Any]:
    x, y = _in_axes(label.at, axes)
    return {
        "data": {"values": [{"x": x, "y": y, "text": label.text}]},
        "mark": {
            "type": "text",
            "align": "right" if label.right_aligned else "left",
            "baseline": "middle",
            "color": label.colour,
            "fontWeight": 600 if label.bold else "normal",
        },
        "encoding": {**_encoding(), "text": {"field": "text"}},
    }


def _clamp_label(picture: RatePicture) -> Label:
    """Above the plot, ending at the clamp's line: nothing else stands there."""
    at = (picture.axes.x_px(picture.clamp) + 1.0, -7.0)
    return Label(picture.clamp_text, at, at, True, COLOURS["text"])
