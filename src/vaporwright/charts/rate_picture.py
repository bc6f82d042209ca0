"""The picture behind an answer: evaporation against tank temperature, where tower and heat meet.

Grey lines, told apart by dash and by direct labels: what the tower carries in the air of each season rises, what the
heat drives falls a little. One accent marks where the unit settles. Labels are placed here, in pixels, so that they
never overlap; the drawing itself is one Vega-Lite specification, the same for page and paper.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from vaporwright.charts.label_places import Span, between, spread
from vaporwright.display_units import show, shown_unit, to_shown
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.balance import LIMIT_HEAT, SeasonResult
from vaporwright.unit.job import SEASONS
from vaporwright.unit.rate_curve import RateCurve

WIDTH_px = 516.0  # plot and the label column right of it
PLOT_HEIGHT_px = 150.0
CHARACTER_px = 4.1  # of a label, on average, bold
LEADER_px = 14.0  # from the plot to the label column
NEAR_CLAMP = 0.03  # of the temperatures shown: closer than this counts as sitting at the clamp
TALLEST = 3.0  # of the highest operating point: curves are cut above
MOST_DUTY = 2.0  # of the highest operating point: a duty above it is named, not drawn
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
    height_px: float

    def x_px(self, temperature: float) -> float:
        """Across, of a shown temperature."""
        return self.temperature.share(temperature) * self.width_px

    def y_px(self, rate: float) -> float:
        """Down, of a shown rate."""
        return (1.0 - self.rate.share(rate)) * self.height_px


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


@dataclass(frozen=True)
class _Shown:
    """The answer in shown units."""

    system: str
    governing: str
    settled: Mapping[str, Point]
    tower: Mapping[str, list[Point]]
    heat: Mapping[str, list[Point]]
    clamp: float
    duty: float
    held: frozenset[str]  # seasons at, or next to, the clamp

    @property
    def free(self) -> dict[str, Point]:
        """Where the unit settles short of the clamp."""
        return {season: point for season, point in self.settled.items() if season not in self.held}


def rate_picture(
    answer: UnitAnswer, curves: Sequence[RateCurve], system: str, plot_height_px: float = PLOT_HEIGHT_px
) -> RatePicture:
    """Place lines, points and labels. Seven labels beside the plot want a height of 80 pixels at least."""
    shown = _in_shown_units(answer, curves, system)
    axes = _axes(shown, plot_height_px)
    lines = [
        *(_tower_line(season, points, axes) for season, points in shown.tower.items()),
        *(_heat_line(season, points, season == shown.governing, axes) for season, points in shown.heat.items()),
    ]
    lines = sorted((line for line in lines if len(line.points) > 1), key=lambda line: line.width)  # the heaviest on top
    result = answer.seasons[answer.governing]
    return RatePicture(
        title=chart_title(answer, system),
        axes=axes,
        lines=tuple(lines),
        points=tuple(shown.settled.values()),
        labels=(*_column(lines, shown, axes), *_beside_points(shown, axes)),
        clamp=shown.clamp,
        clamp_text=f"clamp {show(result.clamp_K, 'temperature', system)}, {result.clamp_part}",
        duty=shown.duty if shown.duty <= axes.rate.high else None,
        units=(shown_unit("temperature", system).text, shown_unit("evaporation", system).text),
    )


def _in_shown_units(answer: UnitAnswer, curves: Sequence[RateCurve], system: str) -> _Shown:
    settled = {season: _settles_at(answer.seasons[season], system) for season in SEASONS}
    clamp = to_shown(answer.seasons[answer.governing].clamp_K, "temperature", system)
    heat = {curve.season: _shown(curve, "heat_drives_kg_s", system) for curve in curves}
    coldest = min((points[0][0] for points in heat.values() if points), default=clamp)
    return _Shown(
        system=system,
        governing=answer.governing,
        settled=settled,
        tower={curve.season: _shown(curve, "tower_carries_kg_s", system) for curve in curves},
        heat=heat,
        clamp=clamp,
        duty=to_shown(answer.required_kg_s, "evaporation", system),
        held=frozenset(season for season, at in settled.items() if clamp - at[0] <= NEAR_CLAMP * (clamp - coldest)),
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


def _axes(shown: _Shown, plot_height_px: float) -> Axes:
    """Ranges with room above the heat lines, left of the operating points, for their labels and the duty's line."""
    width = WIDTH_px - LEADER_px - CHARACTER_px * max(len(text) for text in _column_texts(shown))
    reached = max(rate for _, rate in shown.settled.values())
    top_tower = max((rate for line in shown.tower.values() for _, rate in line), default=reached)
    top_heat = min(max((rate for line in shown.heat.values() for _, rate in line), default=reached), TALLEST * reached)
    duty = shown.duty if shown.duty <= MOST_DUTY * reached else 0.0
    labels_px = LINE_px * (len(shown.free) + (1 if shown.duty > reached else 0)) + (12.0 if shown.free else 0.0)
    high = max(
        1.05 * min(top_tower, TALLEST * reached),
        1.05 * top_heat,
        1.12 * duty,
        top_heat / (1.0 - labels_px / plot_height_px),
    )
    coldest = min(temperature for temperature, _ in shown.settled.values())
    first = min((line[0][0] for line in shown.heat.values() if line), default=coldest - 1.0)
    right = shown.clamp + 0.02 * (shown.clamp - first)
    wanted = POINT_LABEL_px / width
    low = min(first, coldest - wanted / (1.0 - wanted) * (right - coldest)) if shown.free else first
    return Axes(Span(low, right), Span(0.0, high), width, plot_height_px)


def _column_texts(shown: _Shown) -> list[str]:
    """What the column right of the plot may have to hold."""
    held = [point_text(season, shown.settled[season], shown.system) for season in shown.held]
    return [
        *held,
        *(f"tower, {season} air" for season in SEASONS),
        "heat, all three airs",
        f"{_duty_text(shown)}, above",
    ]


def _duty_text(shown: _Shown) -> str:
    unit = shown_unit("evaporation", shown.system)
    return f"duty {show(shown.duty * unit.si_per_unit, 'evaporation', shown.system)}"


def _heat_line(season: str, points: list[Point], governs: bool, axes: Axes) -> Line:
    if governs:
        return Line(f"heat {season}", tuple(_cut(points, axes)), (), COLOURS["text"], 1.8)
    return Line(f"heat {season}", tuple(_cut(points, axes)), DASHES[season], COLOURS["faint line"], 1.0)


def _tower_line(season: str, points: list[Point], axes: Axes) -> Line:
    return Line(f"tower {season}", tuple(_cut(points, axes)), DASHES[season], COLOURS["line"], 1.2)


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


def _column(lines: Sequence[Line], shown: _Shown, axes: Axes) -> list[Label]:
    """Labels right of the plot: where each line ends, the duty, and units that sit at their clamp."""
    ends = {line.name: (axes.x_px(line.points[-1][0]), axes.y_px(line.points[-1][1])) for line in lines}
    wanted: list[Label] = []
    for season in SEASONS:
        if season in shown.held:
            point = shown.settled[season]
            at = axes.x_px(point[0]), axes.y_px(point[1])
            wanted.append(_right(point_text(season, point, shown.system), at, COLOURS["accent"], True))
        elif f"tower {season}" in ends:
            wanted.append(_right(f"tower, {season} air", ends[f"tower {season}"], COLOURS["quiet text"]))
    wanted += _heat_labels(ends, axes)
    inside = shown.duty <= axes.rate.high
    y_duty = axes.y_px(min(shown.duty, axes.rate.high))
    text = _duty_text(shown) if inside else f"{_duty_text(shown)}, above"
    wanted.append(_right(text, (axes.width_px, y_duty), COLOURS["text"]))
    wanted.sort(key=lambda label: label.at[1])
    places = spread([label.at[1] for label in wanted], LINE_px, 0.0, axes.height_px)
    column_px = axes.width_px + LEADER_px
    return [replace(label, at=(column_px, place)) for place, label in zip(places, wanted, strict=True)]


def _heat_labels(ends: Mapping[str, Point], axes: Axes) -> list[Label]:
    """One label for all heat lines where they end close together, else one each."""
    heat = {name: end for name, end in ends.items() if name.startswith("heat")}
    if not heat:
        return [_right("heat, above", (axes.width_px, 0.0), COLOURS["text"])]
    heights = [end[1] for end in heat.values()]
    if max(heights) - min(heights) < 0.5 * LINE_px:
        middle = sorted(heat.values(), key=lambda end: end[1])[len(heat) // 2]
        return [_right("heat, all three airs", middle, COLOURS["text"])]
    return [_right(name.replace("heat ", "heat, ") + " air", end, COLOURS["text"]) for name, end in heat.items()]


def _right(text: str, end: Point, colour: str, bold: bool = False) -> Label:
    return Label(text, end, end, False, colour, bold)


def _beside_points(shown: _Shown, axes: Axes) -> list[Label]:
    """Labels of the points short of the clamp: stacked above the heat lines, left of the points."""
    if not shown.free:
        return []
    right_px = min(axes.x_px(point[0]) for point in shown.free.values()) - 16.0
    tops = [axes.y_px(min(rate, axes.rate.high)) for line in shown.heat.values() for _, rate in line]
    taken = [axes.y_px(shown.duty)] if shown.duty <= axes.rate.high else []
    places = between(len(shown.free), LINE_px, min(tops, default=axes.height_px) - 8.0, taken)
    ordered = sorted(shown.free.items(), key=lambda entry: entry[1][0])
    return [
        Label(
            point_text(season, point, shown.system),
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
