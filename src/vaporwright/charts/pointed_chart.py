"""The rate chart as a page has it: one can point at a curve, or step along it, and is told what stands there.

The drawing is the papers' own. Beside it come, for each season, the steps along its curves: where each stands in the
drawing, and what it says in words and units. Both are made from the same curves; a page only shows them.
"""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from vaporwright.charts.rate_chart import rate_picture_svg
from vaporwright.charts.rate_picture import IN_SEASON, Axes, rate_picture
from vaporwright.display_units import show, to_shown
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.balance import LIMIT_HEAT, SeasonResult
from vaporwright.unit.rate_curve import CurvePoint, RateCurve

SVG: Final = "http://www.w3.org/2000/svg"
SAME_K: Final = 1.0e-6  # the point of a curve at which the unit settles
DOT_px: Final = 3.5
PLOT_HEIGHT_px: Final = 190.0  # a page has more room than a sheet
GROUND: Final = "#ffffff"


@dataclass(frozen=True)
class PointedStep:
    """One tank temperature on a season's curves; places in pixels from the plot's upper left corner."""

    x_px: float
    tower_y_px: float | None  # None where it lies above the plot
    heat_y_px: float | None
    temperature: str
    tower: str  # what it carries
    heat: str  # what it drives
    says: str
    settles: bool  # the operating point

    @property
    def words(self) -> str:
        """All of it in one sentence, for who does not see the drawing."""
        if self.settles:
            return self.says
        return f"{self.temperature}: the tower carries {self.tower}, the heat drives {self.heat}. {self.says}"


@dataclass(frozen=True)
class PointedCurve:
    """The steps of a season, the coldest first, and which of them is its operating point."""

    season: str
    steps: tuple[PointedStep, ...]

    @property
    def operating(self) -> int:
        """The place of the operating point among the steps."""
        return next(place for place, step in enumerate(self.steps) if step.settles)


@dataclass(frozen=True)
class PointedChart:
    """A drawing, and what can be pointed at in it."""

    svg: str
    curves: tuple[PointedCurve, ...]
    governing: str


def pointed_chart(answer: UnitAnswer, curves: Sequence[RateCurve], system: str) -> PointedChart:
    """The chart of an answer with its steps, units "US" or "SI"."""
    picture = rate_picture(answer, curves, system, PLOT_HEIGHT_px)
    return PointedChart(
        _with_pointer(rate_picture_svg(picture), picture.axes.height_px),
        tuple(_curve(curve, answer.seasons[curve.season], picture.axes, system) for curve in curves),
        answer.governing,
    )


def _curve(curve: RateCurve, result: SeasonResult, axes: Axes, system: str) -> PointedCurve:
    settles_K = result.settling_temperature_K
    there = next((one for one in curve.points if abs(one.temperature_K - settles_K) < SAME_K), None)
    heat_kg_s = result.evaporation_kg_s if result.limit == LIMIT_HEAT or there is None else there.heat_drives_kg_s
    settled = CurvePoint(settles_K, result.evaporation_kg_s, heat_kg_s)
    points = sorted((*(one for one in curve.points if one is not there), settled), key=lambda one: one.temperature_K)
    return PointedCurve(
        curve.season,
        tuple(_step(one, result if one is settled else None, curve.season, axes, system) for one in points),
    )


def _step(point: CurvePoint, settled: SeasonResult | None, season: str, axes: Axes, system: str) -> PointedStep:
    tower = to_shown(point.tower_carries_kg_s, "evaporation", system)
    heat = to_shown(point.heat_drives_kg_s, "evaporation", system)
    temperature = show(point.temperature_K, "temperature", system)
    says = _between(point) if settled is None else _settled(settled, temperature, season, system)
    return PointedStep(
        round(axes.x_px(to_shown(point.temperature_K, "temperature", system)), 2),
        _y_px(tower, axes),
        _y_px(heat, axes),
        temperature,
        show(point.tower_carries_kg_s, "evaporation", system),
        show(point.heat_drives_kg_s, "evaporation", system),
        says,
        settled is not None,
    )


def _y_px(rate: float, axes: Axes) -> float | None:
    return round(axes.y_px(rate), 2) if 0.0 <= rate <= axes.rate.high else None


def _between(point: CurvePoint) -> str:
    if point.heat_drives_kg_s > point.tower_carries_kg_s:
        return "The tower is the lesser: a tank this warm would warm up"
    return "The heat is the lesser: a tank this warm would cool down"


def _settled(result: SeasonResult, temperature: str, season: str, system: str) -> str:
    rate = show(result.evaporation_kg_s, "evaporation", system)
    where = f"Operating point {IN_SEASON[season]}"
    if result.limit == LIMIT_HEAT:
        return f"{where}: the tank settles at {temperature} and evaporates {rate}; heat limits it"
    return f"{where}: the tank sits at its clamp, {temperature}, and evaporates {rate}; the tower limits it"


def _with_pointer(svg: str, height_px: float) -> str:
    """The drawing with a line and two dots that a page moves, in the plot's own pixels; no ground, no words for it."""
    ElementTree.register_namespace("", SVG)
    root = ElementTree.fromstring(svg)
    for element in root.iter():
        for name in [name for name in element.attrib if name.startswith("aria-") or name == "role"]:
            del element.attrib[name]
    for ground in [one for one in root if one.tag == f"{{{SVG}}}rect" and one.get("fill") == GROUND]:
        root.remove(ground)
    plot = next(one for one in root if one.tag == f"{{{SVG}}}g")  # all of the drawing, moved by the axes' room
    pointer = ElementTree.SubElement(plot, f"{{{SVG}}}g", {"class": "pointer", "visibility": "hidden"})
    ElementTree.SubElement(pointer, f"{{{SVG}}}line", {"y1": "0", "y2": f"{height_px:g}"})
    for name in ("heat", "tower"):
        ElementTree.SubElement(pointer, f"{{{SVG}}}circle", {"class": name, "r": f"{DOT_px:g}"})
    root.set("aria-hidden", "true")
    root.set("focusable", "false")
    return ElementTree.tostring(root, encoding="unicode")
