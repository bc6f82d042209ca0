"""The chart of a rehearsal as SVG: panels over one time axis, names beside what they name, the same bytes each time.

Text is placed by an estimate of its width that errs wide, so that no label overlaps another. Each line and bar says in
a data attribute what it shows. Points that share a pixel are thinned to the first, least, greatest and last of them.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal
from xml.sax.saxutils import escape, quoteattr

from vaporwright.charts.label_places import Span, spread
from vaporwright.charts.rate_picture import COLOURS, LEADER_px, LINE_px, TEXT_px, WIDTH_px
from vaporwright.charts.rate_specification import FONT, TITLE_px
from vaporwright.charts.trace_specification import (
    AlarmRow,
    Interval,
    Moment,
    Panel,
    Point,
    TraceSpecification,
    clock,
    plain,
    time_ticks,
    trace_specification,
    value_ticks,
)
from vaporwright.controls.rehearsal import Rehearsal

CAUTION: Final = (
    "Caution. A rehearsal shows the table at work on a model: it tests no wiring, device or burner, and is no"
    " functional-safety assessment."
)
STATES: Final = "filled: its cause is there; outlined: the cause is gone, the alarm stands"
AMBER: Final = "#8a5a00"
RED: Final = "#a3221a"
PRIORITY_COLOURS: Final[Mapping[str, str]] = {"high": RED, "medium": AMBER, "low": AMBER}
SHAPES: Final[Mapping[str, Sequence[Point]]] = {  # around their middle [px]
    "high": ((0.0, -3.6), (3.8, 3.2), (-3.8, 3.2)),
    "medium": ((0.0, -3.8), (3.8, 0.0), (0.0, 3.8), (-3.8, 0.0)),
    "low": ((-2.8, -2.8), (2.8, -2.8), (2.8, 2.8), (-2.8, 2.8)),
}
HEIGHTS_px: Final = (92.0, 92.0, 46.0, 46.0)  # of the panels' plots
HEADING_px: Final = 20.0  # from one plot to the next: the heading stands there
HEADING_UP_px: Final = 10.5  # its middle, from the plot under it
ROW_px: Final = 10.0  # of an output
BAR_px: Final = 5.0
MOST_NOTE_ROWS: Final = 4
MOST_MISSED: Final = 5
LEAST_BAR_px: Final = 0.8  # a pulse shorter than that is still seen
TICK_GAP_px: Final = 18.0
WIDEST_COLUMN_px: Final = 150.0
NOTE_px: Final = 3.0  # from a hair line to its text
LIST_px: Final = 64.0  # where the list's texts begin
ALARM_px: Final = 12.0
ALARM_GAP_px: Final = 7.0
NEAR_px: Final = 7.0  # deeds closer than this share a number
NEAR_TENS_px: Final = 11.0  # where numbers go past nine

_LETTER_WIDTHS: Final = (
    (" ", 0.23),
    ("Iijl',.:;|", 0.31),
    ("!()[]{}-/\\frt", 0.39),
    ("csz", 0.48),
    ("aekvxyEFJLYZ0123456789", 0.56),
    ("@MWmw%", 0.9),
)

Anchor = Literal["start", "middle", "end"]


def trace_chart_svg(rehearsal: Rehearsal, system: str, marks: Mapping[str, float] | None = None) -> str:
    """The chart of a rehearsal, units "US" or "SI".

    Args: marks: figures of the unit in SI, by the names that scripts use for them ("set point", "refill-on", ...), and
        "rate" for the evaporation as rated; drawn as thin lines with their names.
    Raises: InputError for a mark that no panel has; OutOfRange for one that is no number.
    """
    shown = trace_specification(rehearsal, system, marks or {})
    return _Page(shown).document()


# Text


def text_width_px(text: str, size_px: float = TEXT_px) -> float:
    """Width of a text in the charts' typeface, semibold, estimated letter by letter; never less than it sets."""
    return size_px * sum(_letter_width(letter) for letter in text)


def _letter_width(letter: str) -> float:
    """Width over size, a little over that of the heavier weight."""
    if not letter.isascii():
        return 0.4 if letter in "°·²³" else 1.1
    fallback = 0.72 if letter.isupper() or letter == "&" else 0.6
    return next((width for letters, width in _LETTER_WIDTHS if letter in letters), fallback)


def cut(text: str, width_px: float) -> str:
    """Text that fits; what was cut shows as an ellipsis."""
    if text_width_px(text) <= width_px:
        return text
    while text and text_width_px(text + "…") > width_px:
        text = text[:-1]
    return text + "…"


def wrapped(text: str, width_px: float, size_px: float = TEXT_px) -> list[str]:
    """Lines that fit, broken at spaces; a word longer than a line is broken where the line ends."""
    lines: list[str] = []
    for word in text.split():
        if lines and text_width_px(f"{lines[-1]} {word}", size_px) <= width_px:
            lines[-1] += f" {word}"
            continue
        lines.append("")
        for letter in word:
            if lines[-1] and text_width_px(lines[-1] + letter, size_px) > width_px:
                lines.append("")
            lines[-1] += letter
    return lines


def _data(text: str) -> str:
    """Somebody's text as the content of an element: nothing in it is markup, and nothing that XML forbids is left."""
    return escape(re.sub("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]", " ", text))


# Points


def thinned(points: Sequence[Point]) -> list[Point]:
    """Of the points in each pixel column the first, least, greatest and last, in their order; level runs shortened."""
    columns: dict[int, list[Point]] = {}
    for point in points:
        columns.setdefault(int(point[0]), []).append(point)
    kept: list[Point] = []
    for column in columns.values():
        places = {0, len(column) - 1}
        for choose in (min, max):
            places.add(choose(range(len(column)), key=lambda place: column[place][1]))
        kept += [column[place] for place in sorted(places)]
    inner = zip(kept, kept[1:], kept[2:], strict=False)
    turns = [point for before, point, after in inner if not before[1] == point[1] == after[1]]
    return [*kept[:1], *turns, *kept[1:][-1:]]


def merged(spans: Sequence[Interval], gap_px: float = 0.5) -> list[Interval]:
    """Spans with gaps too small to print closed, so that a fluttering output is not a thousand bars."""
    joined: list[Interval] = []
    for begin, end in spans:
        if joined and begin - joined[-1][1] < gap_px:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((begin, end))
    return joined


@dataclass(frozen=True)
class _Group:
    """Moments too close together for a label each; the hair lines that they get."""

    moments: tuple[Moment, ...]
    xs: tuple[float, ...]

    @property
    def text(self) -> str:
        return "; ".join(moment.told for moment in self.moments)


@dataclass
class _Sheet:
    """Elements of the picture, pixels from its upper left corner."""

    elements: list[str] = field(default_factory=list)

    def line(self, points: Sequence[Point], ink: str, width: float, *, dash: str = "", more: str = "") -> None:
        """A line through points; more: further attributes."""
        listed = " ".join(f"{_short(x)},{_short(y)}" for x, y in points)
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        paint = f'fill="none" stroke="{ink}" stroke-width="{width:g}"{dashed}'
        self.elements.append(f'<polyline points="{listed}" {paint}{more}/>')

    def bars(self, spans: Sequence[Interval], middle: float, ink: str, *, filled: bool = True, more: str = "") -> None:
        """Bars of one row, in one path."""
        inset = 0.0 if filled else 0.4  # an outline lies on its bar's edge
        high = BAR_px - 2.0 * inset
        widths = [(begin, max(end - begin, LEAST_BAR_px)) for begin, end in spans]
        path = "".join(
            f"M{_short(x + inset)} {_short(middle - 0.5 * high)}h{_short(wide)}v{_short(high)}h{_short(-wide)}z"
            for x, wide in ((x, max(wide - 2.0 * inset, 0.1)) for x, wide in widths)
        )
        paint = f'fill="{ink}"' if filled else f'fill="{COLOURS["paper"]}" stroke="{ink}" stroke-width="0.8"'
        self.elements.append(f'<path d="{path}" {paint}{more}/>')

    def shape(self, priority: str, x: float, y: float) -> None:
        """The shape of an alarm's priority."""
        listed = " ".join(f"{_short(x + dx)},{_short(y + dy)}" for dx, dy in SHAPES[priority])
        paint = f'fill="{PRIORITY_COLOURS[priority]}" stroke="{COLOURS["paper"]}" stroke-width="0.7"'
        self.elements.append(f'<polygon points="{listed}" {paint}/>')

    def text(
        self,
        x: float,
        middle: float,
        text: str,
        *,
        ink: str = COLOURS["quiet text"],
        anchor: Anchor = "start",
        bold: bool = False,
        size: float = TEXT_px,
    ) -> None:
        """One line of text around a height."""
        weight = ' font-weight="600"' if bold else ""
        where = f'x="{_short(x)}" y="{_short(middle + 0.34 * size)}" text-anchor="{anchor}" font-size="{size:g}"'
        self.elements.append(f'<text {where} fill="{ink}"{weight}>{_data(text)}</text>')

    def backing(self, x: float, middle: float, text: str) -> None:
        """Paper behind a text, so that no line runs through it."""
        at = f'x="{_short(x - 1.0)}" y="{_short(middle - 0.5 * TEXT_px)}"'
        size = f'width="{_short(text_width_px(text) + 2.0)}" height="{TEXT_px:g}"'
        self.elements.append(f'<rect {at} {size} fill="{COLOURS["paper"]}"/>')


def _short(value: float) -> str:
    """A length in pixels, to a hundredth."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


class _Page:
    """The page from its top down; what lies under the curves is kept apart, as its height is known last."""

    def __init__(self, shown: TraceSpecification) -> None:
        self.shown = shown
        self.under, self.over = _Sheet(), _Sheet()
        self.hairs: list[Point] = []  # hair lines: where, and their upper end
        labels = [
            [*(curve.label for curve in panel.curves), *(mark.label for mark in panel.marks)] for panel in shown.panels
        ]
        self.heights = [max(least, LINE_px * len(texts)) for least, texts in zip(HEIGHTS_px, labels, strict=True)]
        self.ticks = [
            value_ticks(panel.low, panel.high, int(height / TICK_GAP_px))
            for panel, height in zip(shown.panels, self.heights, strict=True)
        ]
        self.left = 6.0 + max(text_width_px(text) for ticks in self.ticks for _, text in ticks)
        names = [plain(row.name) for row in shown.effects]
        column = max(text_width_px(text) for text in [*(text for texts in labels for text in texts), *names])
        self.right = WIDTH_px - LEADER_px - min(column, WIDEST_COLUMN_px)
        self.column = self.right + LEADER_px
        self.time = Span(0.0, shown.end_s)

    def x(self, time_s: float) -> float:
        return self.left + self.time.share(time_s) * (self.right - self.left)

    def document(self) -> str:
        """All of it, as SVG."""
        groups = self.groups()
        rows = self.note_rows(groups)
        y = self.head()
        if groups:
            y = self.notes(groups, rows, y + 4.0)
        top = y + HEADING_px
        for panel, ticks, height in zip(self.shown.panels, self.ticks, self.heights, strict=True):
            y = self.panel(panel, ticks, y + HEADING_px, height)
        y = self.time_axis(top, self.alarms(self.outputs(y)))
        if groups and rows is None:
            y = self.listed(groups, y)
        for line in wrapped(CAUTION, WIDTH_px):
            y += LINE_px
            self.over.text(0.0, y, line)
        height_px = _short(y + LINE_px)
        size = f'width="{WIDTH_px:g}" height="{height_px}" viewBox="0 0 {WIDTH_px:g} {height_px}"'
        family = quoteattr(f"'{FONT}', 'Source Sans 3', sans-serif")
        return "\n".join(
            [
                f'<svg xmlns="http://www.w3.org/2000/svg" {size} role="img" font-family={family} '
                'font-variant="tabular-nums">',
                f"<title>{_data(self.shown.title)}</title>",
                f'<rect width="{WIDTH_px:g}" height="{height_px}" fill="{COLOURS["paper"]}"/>',
                *self.under.elements,
                *self.over.elements,
                "</svg>\n",
            ]
        )

    def head(self) -> float:
        """The title, what is not met, what the script is for; returns where they end."""
        y = 0.0
        for line in wrapped(self.shown.title, WIDTH_px, TITLE_px):
            y += 1.25 * TITLE_px
            self.over.text(0.0, y - 0.5 * TITLE_px, line, ink=COLOURS["text"], bold=True, size=TITLE_px)
        y += 2.0
        missed = list(self.shown.missed[:MOST_MISSED])
        if len(self.shown.missed) > MOST_MISSED:
            missed.append(f"and {len(self.shown.missed) - MOST_MISSED} more NOT met")
        for text in missed:
            self.over.shape("high", 4.0, y + 0.5 * LINE_px)
            for line in wrapped(text, WIDTH_px - 12.0):
                self.over.text(12.0, y + 0.5 * LINE_px, line, ink=RED, bold=True)
                y += LINE_px
        for text in self.shown.about:
            for line in wrapped(text, WIDTH_px):
                self.over.text(0.0, y + 0.5 * LINE_px, line)
                y += LINE_px
        return y

    # What was done

    def groups(self) -> list[_Group]:
        """Moments, those together that are too close for a number each."""
        found = self.grouped(NEAR_px)
        return found if len(found) < 10 else self.grouped(NEAR_TENS_px)

    def grouped(self, near_px: float) -> list[_Group]:
        found: list[list[Moment]] = []
        for moment in self.shown.moments:
            if found and self.x(moment.time_s) - self.x(found[-1][0].time_s) < near_px:
                found[-1].append(moment)
            else:
                found.append([moment])
        return [
            _Group(tuple(group), tuple(dict.fromkeys(round(self.x(moment.time_s), 1) for moment in group)))
            for group in found
        ]

    def note_rows(self, groups: Sequence[_Group]) -> list[int] | None:
        """In which row, from the plots upwards, each text stands clear of all others and their hair lines.

        None where there is no room: then numbers stand there, and a list below says what they are.
        """
        rows: list[int] = []  # of the groups from the last to the first
        for place in range(len(groups) - 1, -1, -1):
            end = groups[place].xs[0] + NOTE_px + text_width_px(groups[place].text)
            later = zip(reversed(groups[place + 1 :]), rows, strict=True)
            row = max((row + 1 for group, row in later if group.xs[0] < end + NOTE_px), default=0)
            if end > WIDTH_px or row >= MOST_NOTE_ROWS:
                return None
            rows.append(row)
        return rows[::-1]

    def notes(self, groups: Sequence[_Group], rows: Sequence[int] | None, y: float) -> float:
        """Texts at their hair lines, or numbers; returns where the band ends."""
        end = y + LINE_px * (1 + max(rows or [0]))
        for place, group in enumerate(groups):
            for x in group.xs:
                self.hairs.append((x, end))
            if rows is None:
                self.over.text(group.xs[0], y + 0.5 * LINE_px, f"{place + 1}", ink=COLOURS["text"], anchor="middle")
                continue
            middle = end - LINE_px * (rows[place] + 0.5)
            self.hairs.append((group.xs[0], middle - 0.5 * TEXT_px))
            self.over.text(group.xs[0] + NOTE_px, middle, group.text, ink=COLOURS["text"])
        return end

    def listed(self, groups: Sequence[_Group], y: float) -> float:
        """What the numbers stand for; returns where the list ends."""
        for place, group in enumerate(groups):
            number = f"{place + 1}"
            for moment in group.moments:
                self.over.text(12.0, y + 0.5 * LINE_px, number, ink=COLOURS["text"], anchor="end")
                self.over.text(LIST_px - 8.0, y + 0.5 * LINE_px, clock(moment.time_s), anchor="end")
                number = ""
                for line in wrapped(moment.told, WIDTH_px - LIST_px) or [""]:
                    self.over.text(LIST_px, y + 0.5 * LINE_px, line, ink=COLOURS["text"])
                    y += LINE_px
        return y + 4.0

    # Panels

    def panel(self, panel: Panel, ticks: Sequence[tuple[float, str]], top: float, height: float) -> float:
        """Curves, marks, scale and names; returns where the plot ends."""
        scale = Span(panel.low, panel.high)

        def down(value: float) -> float:
            return top + (1.0 - scale.share(value)) * height

        over, end = self.over, top + height
        over.elements.append(f"<g data-panel={quoteattr(panel.heading)}>")
        self.heading(panel.heading, top)
        for value, text in ticks:
            self.under.line([(self.left, down(value)), (self.right, down(value))], COLOURS["grid"], 0.7)
            over.text(self.left - 4.0, down(value), text, anchor="end")
        over.line([(self.left, top), (self.left, end)], COLOURS["line"], 0.7)
        labels: list[tuple[float, float, str, bool]] = []  # height and end of what is named
        for mark in panel.marks:
            at = down(mark.value)
            over.line(
                [(self.left, at), (self.right, at)], COLOURS["line"], 0.6, dash="1 2", more=_named("mark", mark.name)
            )
            labels.append((at, self.right, mark.label, False))
        for curve in sorted(panel.curves, key=lambda curve: curve.main):
            points = thinned([(self.x(time_s), down(value)) for time_s, value in curve.points])
            if not points:
                continue
            ink, width, dash = (COLOURS["text"], 1.2, "") if curve.main else (COLOURS["line"], 1.0, "3 2")
            over.line(points, ink, width, dash=dash, more=_named("curve", curve.name))
            labels.append((points[-1][1], points[-1][0], curve.label, curve.main))
        labels.sort()
        places = spread([at for at, *_ in labels], LINE_px, top, end)
        for place, (at, x, text, bold) in zip(places, labels, strict=True):
            over.line([(x, at), (self.right, at), (self.column - 2.0, place)], COLOURS["faint line"], 0.6)
            over.text(self.column, place, text, ink=COLOURS["text" if bold else "quiet text"], bold=bold)
        over.elements.append("</g>")
        return end

    def heading(self, text: str, top: float) -> None:
        """What a plot shows, over it."""
        self.over.backing(0.0, top - HEADING_UP_px, text)
        self.over.text(0.0, top - HEADING_UP_px, text, ink=COLOURS["text"])

    # Outputs and alarms

    def pixels(self, spans: Sequence[Interval]) -> list[Interval]:
        return merged([(self.x(begin), self.x(end)) for begin, end in spans])

    def outputs(self, y: float) -> float:
        """A row of bars for each output that was on; returns where they end."""
        y += HEADING_px
        self.heading("outputs, bars where on", y)
        for row in self.shown.effects:
            y += ROW_px
            middle = y - 0.5 * ROW_px
            self.under.line([(self.left, middle), (self.right, middle)], COLOURS["grid"], 0.7)
            self.over.bars(self.pixels(row.spans), middle, COLOURS["line"], more=_named("output", row.name))
            self.over.text(self.column, middle, cut(plain(row.name), WIDTH_px - self.column))
        if self.shown.never_on:
            names = ", ".join(plain(name) for name in self.shown.never_on)
            for line in wrapped(f"never on: {names}", self.right - self.left - NOTE_px):
                y += ROW_px
                self.over.backing(self.left + NOTE_px, y - 0.5 * ROW_px, line)
                self.over.text(self.left + NOTE_px, y - 0.5 * ROW_px, line)
        return y

    def alarms(self, y: float) -> float:
        """A row for each alarm that came, with its words beside it; returns where they end."""
        y += HEADING_px
        self.heading(f"alarms, {STATES}" if self.shown.alarms else "alarms: none came", y)
        for row in self.shown.alarms:
            y = self.alarm(row, y)
        return y + 2.0

    def alarm(self, row: AlarmRow, y: float) -> float:
        """Words right of the last bar or left of the first, or where neither has room in lines of their own."""
        there, standing = self.pixels(row.there), self.pixels(row.standing)
        width, ink = text_width_px(row.words), PRIORITY_COLOURS[row.priority]
        begin, end = min(x for x, _ in [*there, *standing]), max(x for _, x in [*there, *standing])
        lines = [row.words]
        if end + ALARM_GAP_px + width <= WIDTH_px:
            x, beside = end + ALARM_GAP_px, True
        elif begin - ALARM_GAP_px - width >= self.left:
            x, beside = begin - ALARM_GAP_px - width, True
        else:
            lines = wrapped(row.words, WIDTH_px - self.left)
            x, beside = max(min(begin, WIDTH_px - width), self.left), False
        for line in lines:
            self.over.backing(x, y + 0.5 * ALARM_px, line)
            self.over.text(x, y + 0.5 * ALARM_px, line, ink=ink, bold=True)
            y += 0.0 if beside else LINE_px
        middle = y + 0.5 * ALARM_px
        self.over.bars(standing, middle, ink, filled=False, more=_named("standing", row.row))
        self.over.bars(there, middle, ink, more=_named("alarm", row.row))
        shape_end = -math.inf
        for begin, _ in there:
            if begin > shape_end:
                self.over.shape(row.priority, begin, middle)
                shape_end = begin + ALARM_GAP_px
        return y + ALARM_px

    # Time

    def time_axis(self, top: float, y: float) -> float:
        """The axis under all plots, its grid and the hair lines through them; returns where its words end."""
        self.over.line([(self.left, y), (self.right, y)], COLOURS["line"], 0.7)
        for time_s, text in time_ticks(self.shown.end_s, self.shown.in_hours):
            x = self.x(time_s)
            self.under.line([(x, top), (x, y)], COLOURS["grid"], 0.7)
            self.over.line([(x, y), (x, y + 3.0)], COLOURS["line"], 0.7)
            self.over.text(x, y + 9.0, text, anchor="middle")
        self.over.text(self.column, y + 9.0, f"time, {'h' if self.shown.in_hours else 'min'}")
        for x, upper in self.hairs:
            self.under.line([(x, upper), (x, y)], COLOURS["faint line"], 0.5, more=_named("hair", "deed"))
        return y + 20.0


def _named(kind: str, name: str) -> str:
    return f" data-{kind}={quoteattr(name)}"
