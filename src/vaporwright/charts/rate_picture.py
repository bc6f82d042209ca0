"""The picture behind an answer: evaporation against tank temperature, where tower and heat meet.

Grey lines, told apart by dash and by direct labels: what the tower carries in the air of each season rises, what the
heat drives falls a little. One accent marks where the unit settles. Labels are placed here, in pixels, so that they
never overlap; the drawing itself is one Vega-Lite specification, the same for page and paper.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from vaporwright.charts.label_places import Span, between, spread
from vaporwright.display_units import show, shown_unit, to_shown
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.balance import LIMIT_HEAT, SeasonResult
from vaporwright.unit.job import SEASONS
from vaporwright.unit.rate_curve import RateCurve

WIDTH_px = 516.0  # plot and the label column right of it
PLOT_HEIGHT_px = 150.0
CHARACTER_px = 4.4  # of a label, on average, bold
LEADER_px = 14.0  # from the plot to the label column
TEXT_px = 8.5
LINE_px = 11.0  # from one label to the next
POINT_LABEL_px = 126.0  # the longest label of an operating point, and its leader

COLOURS: Final[Mapping[str, str]] = {
    "paper": "#ffffff",
    "text": "#1f1f1f",
    "quiet text": "#5c5c5c",
    "line": "#6e6e6e",
    "faint line": "#b4b4b4",
    "grid": "#ececec",
    "accent": "#1f5f8b",
}
DASHES: Final[Mapping[str, tuple[int, ...]]] = {"summer": (), "winter": (7, 3), "average": (2, 2)}
IN_SEASON: Final[Mapping[str, str]] = {"summer": "in summer", "winter": "in winter", "average": "on average"}

Point = tuple[float, float]


@dataclass(frozen=True)
class Axes:
    """The shown ranges, and pixels from the plot's upper left corner."""

    temperature: Span
    rate: Span
    width_px: float  # of the plot

    def x_px(self, temperature: float) -> float:
        """Across, of a shown temperature."""
        return self.temperature.share(temperature) * self.width_px

    def y_px(self, rate: float) -> float:
        """Down, of a shown rate."""
        return (1.0 - self.rate.share(rate)) * PLOT_HEIGHT_px


@dataclass(frozen=True)
class Line:
    """One curve in shown units, cut at the top of the plot."""

    name: str
    points: tuple[Point, ...]
    dash: tuple[int, ...]
    colour: str
    width: float


@dataclass(frozen=True)
class Label:
    """One text and the line that leads to what it names, in pixels."""

    text: str
    at: Point
    leads_to: Point
    right_aligned: bool
    colour: str
    bold: bool = False


@dataclass(frozen=True)
class RatePicture:
    """Everything that is drawn, placed."""

    title: str
    axes: Axes
    lines: tuple[Line, ...]
    points: tuple[Point, ...]  # where the unit settles, shown units
    labels: tuple[Label, ...]
    clamp: float
    clamp_text: str
    duty: float | None  # None where it lies above the picture
    units: tuple[str, str]  # of temperature and of rate


def chart_title(answer: UnitAnswer, system: str) -> str:
    """What one sees in the chart, in one sentence."""
    result = answer.seasons[answer.governing]
    settles = show(result.settling_temperature_K, "temperature", system)
    rate = show(result.evaporation_kg_s, "evaporation", system)
    where = IN_SEASON[answer.governing]
    if result.limit == LIMIT_HEAT:
        return f"Heat limits it: the tank settles at {settles} and evaporates {rate} {where}"
    return f"The tower limits it: the tank sits at its clamp, {settles}, and evaporates {rate} {where}"


def rate_picture(answer: UnitAnswer, curves: Sequence[RateCurve], system: str) -> RatePicture:
    """Place lines, points and labels."""
    results = [answer.seasons[season] for season in SEASONS]
    points = {result.season: _settles_at(result, system) for result in results}
    clamp = to_shown(answer.seasons[answer.governing].clamp_K, "temperature", system)
    duty = to_shown(answer.required_kg_s, "evaporation", system)
    tower = {curve.season: _shown(curve, "tower_carries_kg_s", system) for curve in curves}
    heat = {curve.season: _shown(curve, "heat_drives_kg_s", system) for curve in curves}
    axes = _axes(points.values(), tower.values(), heat.values(), clamp, duty)
    lines = [
        *(_line(f"heat {name}", heat[name], name, name == answer.governing, axes) for name in heat),
        *(_line(f"tower {name}", tower[name], name, False, axes) for name in tower),
    ]
    lines = [line for line in lines if len(line.points) > 1]
    held = {season for season, point in points.items() if axes.x_px(clamp) - axes.x_px(point[0]) < 0.03 * PLOT_WIDTH_px}
    unit = shown_unit("evaporation", system).text
    duty_text = f"duty {show(answer.required_kg_s, 'evaporation', system)}"
    labels = [
        *_column(lines, {season: points[season] for season in held}, axes, (duty, duty_text), system),
        *_beside_points(
            {season: point for season, point in points.items() if season not in held}, heat, axes, duty, system
        ),
    ]
    result = answer.seasons[answer.governing]
    return RatePicture(
        title=chart_title(answer, system),
        axes=axes,
        lines=tuple(lines),
        points=tuple(points[season] for season in SEASONS),
        labels=tuple(labels),
        clamp=clamp,
        clamp_text=f"clamp {show(result.clamp_K, 'temperature', system)}, {result.clamp_part}",
        duty=duty if duty <= axes.rate.high else None,
        units=(shown_unit("temperature", system).text, unit),
    )


def _settles_at(result: SeasonResult, system: str) -> Point:
    return (
        to_shown(result.settling_temperature_K, "temperature", system),
        to_shown(result.evaporation_kg_s, "evaporation", system),
    )


def _shown(curve: RateCurve, name: str, system: str) -> list[Point]:
    return [
        (to_shown(point.temperature_K, "temperature", system), to_shown(getattr(point, name), "evaporation", system))
        for point in curve.points
    ]


def _axes(
    points: Iterable[Point], tower: Iterable[list[Point]], heat: Iterable[list[Point]], clamp: float, duty: float
) -> Axes:
    """Ranges with room above the heat lines, left of the operating points, for three labels and the duty's line."""
    settled = list(points)
    reached = max(rate for _, rate in settled)
    top_tower = max((rate for line in tower for _, rate in line), default=reached)
    top_heat = max((rate for line in heat for _, rate in line), default=reached)
    tallest = min(max(top_tower, top_heat), 3.0 * reached)
    shown_heat = min(top_heat, 3.0 * reached)
    duty_room = duty if duty <= 2.0 * reached else 0.0
    labels_px = LINE_px * (4.0 if duty > reached else 3.0) + 12.0
    high = max(1.05 * tallest, 1.12 * duty_room, shown_heat / (1.0 - labels_px / PLOT_HEIGHT_px))
    coldest = min(temperature for temperature, _ in settled)
    first = min((line[0][0] for line in heat if line), default=coldest)
    wanted = POINT_LABEL_px / PLOT_WIDTH_px
    right = clamp + 0.02 * (clamp - first)
    low = min(first, coldest - wanted / (1.0 - wanted) * (right - coldest)) if coldest < clamp else first
    return Axes(Span(low, right), Span(0.0, high))


def _line(name: str, points: list[Point], season: str, heavy: bool, axes: Axes) -> Line:
    is_heat = name.startswith("heat")
    colour = COLOURS["text"] if heavy else COLOURS["faint line" if is_heat else "line"]
    return Line(name, tuple(_cut(points, axes)), DASHES[season], colour, 1.8 if heavy else 1.0 if is_heat else 1.2)


def _cut(points: list[Point], axes: Axes) -> list[Point]:
    """The part of a rising or falling curve inside the plot, up to where it leaves it at the top."""
    top = axes.rate.high
    kept: list[Point] = []
    for before, point in zip([None, *points[:-1]], points, strict=True):
        if before is not None and (before[1] > top) != (point[1] > top):
            share = (top - before[1]) / (point[1] - before[1])
            kept.append((before[0] + share * (point[0] - before[0]), top))
        if 0.0 <= point[1] <= top:
            kept.append(point)
    return kept


def _column(
    lines: Sequence[Line], held: Mapping[str, Point], axes: Axes, duty: tuple[float, str], system: str
) -> list[Label]:
    """Labels right of the plot: where each line ends, the duty, and units that sit at their clamp."""
    edge = PLOT_WIDTH_px
    wanted: list[tuple[float, Label]] = []
    ends = {line.name: (axes.x_px(line.points[-1][0]), axes.y_px(line.points[-1][1])) for line in lines}
    for season in SEASONS:
        end = ends.get(f"tower {season}")
        if season in held:
            point = held[season]
            end = axes.x_px(point[0]), axes.y_px(point[1])
            wanted.append((end[1], _right(point_text(season, point, system), end, COLOURS["accent"], True)))
        elif end is not None:
            wanted.append((end[1], _right(f"tower, {season} air", end, COLOURS["quiet text"])))
    wanted += _heat_labels(ends)
    y_duty = axes.y_px(min(duty[0], axes.rate.high))
    text = duty[1] if duty[0] <= axes.rate.high else f"{duty[1]}, above"
    wanted.append((y_duty, _right(text, (edge, y_duty), COLOURS["text"])))
    wanted.sort(key=lambda entry: entry[0])
    places = spread([place for place, _ in wanted], LINE_px, 0.0, PLOT_HEIGHT_px)
    return [
        Label(label.text, (edge + 14.0, place), label.leads_to, False, label.colour, label.bold)
        for place, (_, label) in zip(places, wanted, strict=True)
    ]


def _heat_labels(ends: Mapping[str, Point]) -> list[tuple[float, Label]]:
    """One label for all heat lines where they end close together, else one each."""
    heat = {name: end for name, end in ends.items() if name.startswith("heat")}
    if not heat:
        return [(0.0, _right("heat, above", (PLOT_WIDTH_px, 0.0), COLOURS["text"]))]
    heights = [end[1] for end in heat.values()]
    if max(heights) - min(heights) < 2.0 * LINE_px:
        middle = sorted(heat.values(), key=lambda end: end[1])[len(heat) // 2]
        return [(middle[1], _right("heat, all three airs", middle, COLOURS["text"]))]
    return [
        (end[1], _right(name.replace("heat ", "heat, ") + " air", end, COLOURS["text"])) for name, end in heat.items()
    ]


def _right(text: str, end: Point, colour: str, bold: bool = False) -> Label:
    return Label(text, end, end, False, colour, bold)


def _beside_points(
    points: Mapping[str, Point], heat: Mapping[str, list[Point]], axes: Axes, duty: float, system: str
) -> list[Label]:
    """Labels of the points short of the clamp: stacked above the heat lines, left of the points."""
    if not points:
        return []
    right_px = min(axes.x_px(point[0]) for point in points.values()) - 16.0
    tops = [axes.y_px(min(rate, axes.rate.high)) for line in heat.values() for _, rate in line]
    lowest = min(tops, default=PLOT_HEIGHT_px) - 8.0
    taken = [axes.y_px(duty)] if duty <= axes.rate.high else []
    places = between(len(points), LINE_px, lowest, taken)
    ordered = sorted(points.items(), key=lambda entry: entry[1][0])
    return [
        Label(
            point_text(season, point, system),
            (right_px, place),
            (axes.x_px(point[0]), axes.y_px(point[1])),
            True,
            COLOURS["accent"],
            True,
        )
        for place, (season, point) in zip(places, ordered, strict=True)
    ]


def point_text(season: str, point: Point, system: str) -> str:
    """An operating point in words: season, temperature, rate."""
    temperature, rate = (shown_unit(quantity, system) for quantity in ("temperature", "evaporation"))
    settles = show((point[0] - temperature.offset) * temperature.si_per_unit, "temperature", system)
    evaporates = show((point[1] - rate.offset) * rate.si_per_unit, "evaporation", system)
    return f"{season} {settles}, {evaporates}"
