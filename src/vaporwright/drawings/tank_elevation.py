"""The tank and rod elevation as SVG: one section along the tank, every height at one stated scale.

One user unit is one millimetre of paper, as long as the drawing is printed 180 mm wide; a graphic scale shows it where
it is not. Heights and the tank's inside length are to scale. A tank too long and low to be read whole is broken, as
draughtsmen break a long part: both ends stay to scale. What the stack-up does not know (the heater's length, pipes,
holder, plate) is schematic, and the drawing says so.

Text is placed by an estimate of its width that errs wide, so that no two texts overlap: labels in the dimension
column, and those over the rods, are moved apart as little as their order allows. Data attributes name what is drawn
(data-mark, data-rod, data-part), so that heights can be read back: height = (y of the low corner - y) times the scale.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final, Literal, NamedTuple
from xml.sax.saxutils import escape, quoteattr

from vaporwright.equipment.level_rods import RODS, LevelConflict, LevelMark, LevelStack, MarkName
from vaporwright.foundation.errors import InputError, require_range

PAGE_WIDTH_mm: Final = 180.0
SCALES: Final = (5, 10, 15, 20, 25, 30, 40, 50, 75, 100, 150, 200, 250)
MOST_WIDE_mm: Final = 95.0  # of the tank as drawn
MOST_TALL_mm: Final = 100.0  # from the low corner to the highest mark
LEAST_TALL_mm: Final = 60.0  # less, because of the tank's length: break it
LONGEST_LIST: Final = 5  # conflicts told at length; the dimension column marks all
FONT: Final = "'Source Sans Pro', 'Source Sans 3', sans-serif"
CAUTION: Final = (
    "These rods are operating controls, no protection: a rod that reads wet when it is dry (scale, foam, a wet holder) "
    "lets the tank boil dry and burn. An independent, hard-wired, listed low-water cut-off of another principle with "
    "manual reset is required, and an over-temperature device on sheath or tube. The overflow carries hot, possibly "
    "hazardous liquor: pipe it to a safe place. This drawing is no safety approval; local codes and licensed practice "
    "decide."
)

_INK: Final = "#1f1f1f"
_QUIET: Final = "#5c5c5c"
_FAINT: Final = "#8a8a8a"
_ACCENT: Final = "#1f5f8b"  # the liquor, nothing else
_LIQUOR: Final = "#e9f0f5"
_EDGE_mm: Final = 4.0  # page edge to text
_AXIS_mm: Final = 121.0  # x of the dimension column's axis
_LABEL_mm: Final = 127.0  # where leaders end
_LONGEST_LENGTH_mm: Final = 16.0  # of a length as shown
_RIGHT_mm: Final = PAGE_WIDTH_mm - _EDGE_mm
_COLUMN_GAP_mm: Final = 2.0  # between heights and names
_PLATE_mm: Final = 1.0
_GAP_mm: Final = 4.0  # of a broken tank
_NAME: Final = 2.8  # text sizes [mm]
_FLAG: Final = 2.4
_BOLD: Final = 600
_CONFLICT_DASH: Final = "3 0.9 0.7 0.9"
_LEVEL_SWITCH_mm: Final = 1.6
_HEATER_START: Final = 0.06  # shares of the tank as drawn
_HEATER_END: Final = 0.45
_BREAK: Final = 0.51
_NEGLIGIBLE_m: Final = 0.0005  # half a millimetre is no margin that a shop could hold

Anchor = Literal["start", "middle", "end"]
ShowLength = Callable[[float], str]


def text_width_mm(text: str, size_mm: float) -> float:
    """Width of a text in the drawing's typeface, estimated letter by letter; never less than it sets."""
    return size_mm * sum(_letter_width(letter) for letter in text)


def _letter_width(letter: str) -> float:
    """Width over size, of the heavier weight."""
    if letter in " \u00a0!',.:;Iijl|":
        return 0.32
    if letter in "-()/[\\]{}frt·°":
        return 0.38
    if letter in "%@MWmw":
        return 0.9
    if letter in "cksvxyz±×–":
        return 0.53
    if letter.isascii():
        return 0.68 if letter.isupper() or letter == "&" else 0.57
    return 1.1


def spread_apart(wanted: Sequence[float], sizes: Sequence[float], low: float, high: float) -> list[float]:
    """Centres as near as possible (least squares) to those wanted, in the same order, none overlapping its neighbour.

    Args: wanted: centres in rising order; sizes: how much room each takes; low, high: between which all must lie.
    Returns: centres, in the order given.
    Raises: OutOfRange where the room does not hold them.
    """
    room = sum(sizes)
    require_range("room of the labels", room, 0.0, high - low + 1.0e-9, "between the ends")
    offsets, start = [], 0.0
    for size in sizes:
        offsets.append(start + 0.5 * size)
        start += size
    blocks: list[tuple[float, int]] = []  # mean of (wanted - offset), members: neighbours that touch move as one
    for place, offset in zip(wanted, offsets, strict=True):
        blocks.append((place - offset, 1))
        while len(blocks) > 1 and blocks[-2][0] > blocks[-1][0]:
            (one, few), (other, more) = blocks.pop(), blocks.pop()
            blocks.append(((one * few + other * more) / (few + more), few + more))
    starts = [min(max(mean, low), high - room) for mean, members in blocks for _ in range(members)]
    return [start + offset for start, offset in zip(starts, offsets, strict=True)]


def tank_elevation_svg(
    stack: LevelStack,
    *,
    title: str,
    tank_length_m: float,
    bottom_slope: float,
    heater_label: str,
    show_length: ShowLength,
) -> str:
    """The elevation as an SVG document, 180 mm wide.

    Args:
        stack: marks, rods and conflicts (equipment.level_rods).
        title: of the job; cut with an ellipsis where it is longer than the page is wide.
        tank_length_m [m]: inside, along the fall of the bottom, 0.1 to 20.
        bottom_slope [m/m]: 0 to 0.5; as in the stack.
        heater_label: what the heater is.
        show_length: metres to text with unit, as short as "38.44 in" or "976 mm".
    Returns: SVG text.
    Raises: OutOfRange outside those, and for a mark over 25 m; InputError where the bottom is not the stack's, or a
        length reads too long.
    """
    require_range("tank_length_m", tank_length_m, 0.1, 20.0, "tank")
    require_range("bottom_slope", bottom_slope, 0.0, 0.5, "the bottom falls to the drain")
    _require_same_bottom(stack, bottom_slope * tank_length_m)
    sheet = _Sheet()
    heater = re.sub(r"(?<=\d) (?=\S)", "\u00a0", _one_line(heater_label))  # number and unit stay together
    words = _Words(stack, heater, show_length)
    head_mm = _head(sheet, words, _one_line(title))
    rods_mm, rod_labels = _rod_labels(words, head_mm)
    frame = _frame(stack, tank_length_m, bottom_slope, rods_mm + 18.0)
    heater_labelled = _section(sheet, frame, words)
    _rods(sheet, frame, stack, rods_mm, rod_labels)
    _outlets(sheet, frame, words)
    foot_mm = _below(sheet, frame, words)
    column_mm = _dimension_column(sheet, frame, words, (head_mm, foot_mm), heater_labelled)
    height_mm = _foot(sheet, frame, words, max(foot_mm, column_mm))
    return sheet.document(height_mm, _one_line(title), words.sentence(), frame.scale)


def _require_same_bottom(stack: LevelStack, rise_m: float) -> None:
    for part in stack.mark("sludge top").allowances:
        if part.name == "rise of the bottom" and abs(part.rise_m - rise_m) > 1.0e-6:
            problem = f"tank_length_m times bottom_slope is {rise_m:.6g} m, the stack-up has {part.rise_m:.6g} m"
            raise InputError("tank elevation", "bottom_slope", problem, "length and slope of the stack-up's tank")


def _one_line(text: str) -> str:
    """Text without line breaks and without characters that XML forbids."""
    legal = re.sub("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]", " ", text)
    return " ".join(legal.split())


def _cut(text: str, size_mm: float, width_mm: float) -> str:
    """Text that fits; what was cut shows as an ellipsis."""
    if text_width_mm(text, size_mm) <= width_mm:
        return text
    while text and text_width_mm(text + "…", size_mm) > width_mm:
        text = text[:-1]
    return text.rstrip() + "…"


def _wrapped(text: str, size_mm: float, width_mm: float) -> list[str]:
    lines: list[str] = []
    for word in text.split(" "):
        if lines and text_width_mm(f"{lines[-1]} {word}", size_mm) <= width_mm:
            lines[-1] += f" {word}"
        else:
            lines.append(_cut(word, size_mm, width_mm))
    return lines


def _balanced(text: str, size_mm: float, width_mm: float) -> list[str]:
    """Wrapped into as few lines, of about equal length."""
    lines = _wrapped(text, size_mm, width_mm)
    for share in (0.9, 0.8, 0.7, 0.6, 0.5):
        narrower = _wrapped(text, size_mm, share * width_mm)
        if len(narrower) == len(lines) and " ".join(narrower) == " ".join(lines):
            lines = narrower
    return lines


# Words


@dataclass(frozen=True)
class _Words:
    """What the drawing says about a stack."""

    stack: LevelStack
    heater: str
    show_length: ShowLength

    def length(self, length_m: float) -> str:
        """A length as shown, never broken between number and unit."""
        text = _one_line(self.show_length(length_m))
        if text_width_mm(text, _NAME) > _LONGEST_LENGTH_mm:
            raise InputError("tank elevation", "show_length", f"{text!r} is too long", 'as short as "38.44 in"')
        return text.replace(" ", "\u00a0")

    def height_m(self, name: MarkName) -> float:
        return self.stack.mark(name).height_m

    def conflicts(self, name: MarkName) -> list[LevelConflict]:
        return [conflict for conflict in self.stack.conflicts if conflict.mark == name]

    def conflict(self, conflict: LevelConflict) -> str:
        """How far off a mark is, in words."""
        if conflict.unit != "m":
            return f"passes less than the {conflict.against}"
        high = conflict.mark == "reference" and conflict.against != "sludge top"
        return f"{self.length(conflict.size)} too {'high' if high else 'low'} against {conflict.against}"

    def flags(self, mark: LevelMark, heater_labelled: bool) -> list[str]:
        """What stands under a mark's name: conflicts, else what it is and what it has to spare."""
        conflicts = self.conflicts(mark.name)
        if conflicts:
            return [f"CONFLICT: {self.conflict(conflict)}" for conflict in conflicts]
        if mark.name == "sludge top":
            return []
        if mark.name == "heater top":
            return [] if heater_labelled else [self.heater]
        spare = f"{self.length(mark.margin_m)} to spare" if mark.margin_m >= _NEGLIGIBLE_m else "just enough"
        return [*self._kind(mark), spare]

    def _kind(self, mark: LevelMark) -> list[str]:
        gaps: dict[str, tuple[MarkName, str]] = {
            "low": ("heater top", "over the heater"),
            "make-up outlet": ("rim", "air gap"),
        }
        fixed: dict[str, str] = {"refill-off": "liquor drawn here", "high-high": "separate switch, no rod"}
        kinds = [fixed[mark.name]] if mark.name in fixed else []
        if mark.name in gaps:
            other, what = gaps[mark.name]
            gap_m = mark.height_m - self.height_m(other)
            kinds += [f"{self.length(gap_m)} {what}"] if gap_m > 0.0 else []
        return [*kinds, "given"] if mark.given and mark.name != "rim" else kinds

    def sentence(self) -> str:
        """The one sentence that opens the drawing."""
        names = list(dict.fromkeys(conflict.mark for conflict in self.stack.conflicts))
        if names:
            listed = " and ".join(filter(None, [", ".join(names[:-1]), names[-1]]))
            verb = "conflicts with what it needs" if len(names) == 1 else "conflict with what they need"
            return f"CONFLICT: {listed} {verb}. Cut no rod to this drawing before that is resolved."
        on, off, cover = (
            self.length(height_m)
            for height_m in (
                self.height_m("refill-on"),
                self.height_m("refill-off"),
                self.height_m("low") - self.height_m("heater top"),
            )
        )
        return (
            f"The refill keeps the liquor between {on} and {off} above the low corner; the low rod trips with {cover} "
            "of liquor over the heater. No conflict in the stack-up."
        )

    def told(self, conflict: LevelConflict) -> str:
        """A conflict with what would resolve it by itself."""
        enough = [remedy.change for remedy in conflict.remedies if remedy.enough][:3]
        ways = f" Enough by itself: {'; '.join(enough)}." if enough else " Only several changes together resolve it."
        return f"CONFLICT, {conflict.mark}: {self.conflict(conflict)}.{ways}"


# Paper


@dataclass
class _Sheet:
    """Elements of the drawing in millimetres from the upper left corner."""

    elements: list[str] = field(default_factory=list)

    def line(
        self, x1: float, y1: float, x2: float, y2: float, *, width: float = 0.18, ink: str = _INK, more: str = ""
    ) -> None:
        at = f'x1="{x1:.4f}" y1="{y1:.4f}" x2="{x2:.4f}" y2="{y2:.4f}"'
        self.elements.append(f'<line {at} stroke="{ink}" stroke-width="{width:g}" {more}/>')

    def shape(
        self, points: Sequence[tuple[float, float]], *, fill: str = "none", ink: str = "none", more: str = ""
    ) -> None:
        """A closed outline."""
        listed = " ".join(f"{x:.4f},{y:.4f}" for x, y in points)
        self.elements.append(f'<polygon points="{listed}" fill="{fill}" stroke="{ink}" stroke-width="0.25" {more}/>')

    def box(self, x1: float, y1: float, x2: float, y2: float, *, fill: str = "#ffffff", more: str = "") -> None:
        """A rectangle with an outline."""
        at = f'x="{x1:.4f}" y="{y1:.4f}" width="{x2 - x1:.4f}" height="{y2 - y1:.4f}"'
        self.elements.append(f'<rect {at} fill="{fill}" stroke="{_INK}" stroke-width="0.35" {more}/>')

    def text(
        self,
        x: float,
        y: float,
        text: str,
        *,
        size: float = _FLAG,
        anchor: Anchor = "start",
        ink: str = _INK,
        bold: bool = False,
    ) -> None:
        """One line of text on the baseline y."""
        weight = f' font-weight="{_BOLD}"' if bold else ""
        where = f'x="{x:.3f}" y="{y:.3f}" font-size="{size:g}" text-anchor="{anchor}" fill="{ink}"{weight}'
        self.elements.append(f"<text {where}>{escape(text)}</text>")

    def arrow(self, x: float, y: float, dx: float, dy: float, *, ink: str = _INK) -> None:
        """A filled arrowhead with its tip at x, y, pointing along dx, dy (unit length)."""
        back_x, back_y = x - 1.8 * dx, y - 1.8 * dy
        self.shape(
            [(x, y), (back_x - 0.45 * dy, back_y + 0.45 * dx), (back_x + 0.45 * dy, back_y - 0.45 * dx)], fill=ink
        )

    def document(self, height_mm: float, title: str, sentence: str, scale: int) -> str:
        size = f'width="{PAGE_WIDTH_mm:g}mm" height="{height_mm:.1f}mm" viewBox="0 0 {PAGE_WIDTH_mm:g} {height_mm:.1f}"'
        return "\n".join(
            [
                f'<svg xmlns="http://www.w3.org/2000/svg" {size} data-scale="{scale}" role="img" '
                f"font-family={quoteattr(FONT)}>",
                f"<title>{escape(title)}</title>",
                f"<desc>Tank and rod elevation. {escape(sentence)}</desc>",
                '<defs><pattern id="sludge" width="1.4" height="1.4" patternUnits="userSpaceOnUse">'
                f'<path d="M0 1.4 L1.4 0" stroke="{_QUIET}" stroke-width="0.16"/></pattern></defs>',
                f'<rect x="0.25" y="0.25" width="{PAGE_WIDTH_mm - 0.5:g}" height="{height_mm - 0.5:.2f}" '
                f'fill="#ffffff" stroke="{_INK}" stroke-width="0.5"/>',
                *self.elements,
                "</svg>\n",
            ]
        )


class _Piece(NamedTuple):
    """A length of the tank that is drawn whole: from and to, in metres of the tank and in millimetres of paper."""

    from_m: float
    to_m: float
    from_mm: float
    to_mm: float


@dataclass(frozen=True)
class _Frame:
    """Where the section stands on the page."""

    scale: int
    low_mm: float  # y of the low corner
    highest_m: float
    slope: float
    pieces: tuple[_Piece, ...]  # one; two where the tank is broken

    @property
    def left_mm(self) -> float:
        return self.pieces[0].from_mm

    @property
    def right_mm(self) -> float:
        return self.pieces[-1].to_mm

    @property
    def length_m(self) -> float:
        return self.pieces[-1].to_m

    def y(self, height_m: float) -> float:
        return self.low_mm - 1000.0 * height_m / self.scale

    def across(self, share: float) -> float:
        """x at a share of the tank as drawn."""
        return self.left_mm + share * (self.right_mm - self.left_mm)

    def rod_mm(self, index: int) -> float:
        """x of a rod, in the order of RODS."""
        return self.across(0.56 + 0.05 * index)

    @property
    def holder_reach_mm(self) -> float:
        """From the outer rods to the ends of their holder."""
        return min(2.5, 0.03 * (self.right_mm - self.left_mm))

    @property
    def pipe_mm(self) -> float:
        """x of the make-up pipe's middle."""
        return self.right_mm - min(8.0, 0.12 * (self.right_mm - self.left_mm))

    def level(self, piece: _Piece, level_m: float) -> list[tuple[float, float]]:
        """Outline of what stands in one piece up to a level; empty where the bottom lies higher."""
        dry_m = min(piece.to_m, level_m / self.slope) if self.slope > 0.0 else piece.to_m
        if level_m <= 0.0 or dry_m <= piece.from_m:
            return []
        dry_mm = piece.from_mm + 1000.0 * (dry_m - piece.from_m) / self.scale
        return [
            (piece.from_mm, self.y(level_m)),
            (piece.from_mm, self.y(self.slope * piece.from_m)),
            (dry_mm, self.y(self.slope * dry_m)),
            (dry_mm, self.y(level_m)),
        ]


def _frame(stack: LevelStack, length_m: float, slope: float, top_mm: float) -> _Frame:
    """Scale and place: the largest scale at which the whole fits; broken where that leaves heights too small."""
    highest_m = max(mark.height_m for mark in (*stack.stack, stack.reference, stack.rod_holder))
    require_range("highest mark_m", highest_m, 0.0, 0.001 * MOST_TALL_mm * SCALES[-1], "at the smallest scale drawn")
    tall = [scale for scale in SCALES if 1000.0 * highest_m / scale <= MOST_TALL_mm]
    scale = next(scale for scale in tall if 1000.0 * length_m / scale <= MOST_WIDE_mm)
    broken = 1000.0 * highest_m / scale < LEAST_TALL_mm and scale > tall[0]
    if broken:
        lower = [other for other in tall if 1000.0 * highest_m / other >= LEAST_TALL_mm]
        scale = lower[-1] if lower else tall[0]
    wide_mm = MOST_WIDE_mm if broken else 1000.0 * length_m / scale
    right_mm = min(_AXIS_mm - 7.0, _AXIS_mm - 12.5 + min(8.0, 0.12 * wide_mm))
    left_mm = right_mm - wide_mm
    low_mm = top_mm + 1000.0 * highest_m / scale
    if not broken:
        return _Frame(scale, low_mm, highest_m, slope, (_Piece(0.0, length_m, left_mm, right_mm),))
    break_mm = left_mm + _BREAK * wide_mm
    one_mm, other_mm = break_mm - 0.5 * _GAP_mm, break_mm + 0.5 * _GAP_mm
    one = _Piece(0.0, (one_mm - left_mm) * scale / 1000.0, left_mm, one_mm)
    other = _Piece(length_m - (right_mm - other_mm) * scale / 1000.0, length_m, other_mm, right_mm)
    return _Frame(scale, low_mm, highest_m, slope, (one, other))


def _head(sheet: _Sheet, words: _Words, title: str) -> float:
    """Title and sentence; returns where they end."""
    wide_mm = _RIGHT_mm - _EDGE_mm
    sheet.text(_EDGE_mm, 8.6, _cut(title, 4.4, wide_mm), size=4.4, bold=True)
    y = 10.2
    for line in _wrapped(words.sentence(), 3.1, wide_mm):
        y += 4.1
        sheet.text(_EDGE_mm, y, line, size=3.1, bold=bool(words.stack.conflicts))
    return y + 4.0


# The section


def _section(sheet: _Sheet, frame: _Frame, words: _Words) -> bool:
    """Tank, sludge, liquor, heater; says whether the heater could be labelled in its box."""
    liquor_m, sludge_m, rim_m = (words.height_m(name) for name in ("refill-off", "sludge top", "rim"))
    for piece in frame.pieces:
        outline = frame.level(piece, min(liquor_m, rim_m))
        if outline:
            sheet.shape(outline, fill=_LIQUOR)
        outline = frame.level(piece, min(sludge_m, rim_m)) if sludge_m > frame.slope * frame.length_m + 1e-6 else []
        if outline:
            sheet.shape(outline, fill="#ffffff")
            sheet.shape(outline, fill="url(#sludge)", more='data-part="sludge"')
    _shell(sheet, frame, rim_m)
    left_mm, right_mm = frame.across(_HEATER_START), frame.across(_HEATER_END)
    top_mm, bottom_mm = frame.y(words.height_m("heater top")), frame.y(words.height_m("heater bottom"))
    sheet.box(left_mm, top_mm, right_mm, bottom_mm, more='data-part="heater"')
    _surface(sheet, frame, liquor_m, top_mm)
    lines = _balanced(words.heater, _NAME, right_mm - left_mm - 2.0)
    row_mm = 1.25 * _NAME
    inside = row_mm * len(lines) + 1.0 <= bottom_mm - top_mm and " ".join(lines) == words.heater
    for row, line in enumerate(lines if inside else ()):
        y = 0.5 * (top_mm + bottom_mm) + (row - 0.5 * (len(lines) - 1)) * row_mm + 0.35 * _NAME
        sheet.text(0.5 * (left_mm + right_mm), y, line, size=_NAME, anchor="middle")
    return inside


def _shell(sheet: _Sheet, frame: _Frame, rim_m: float) -> None:
    """Plates outside the inside face, a rim, and the break of a tank that is broken."""
    rim_mm, lip_mm = frame.y(rim_m), 2.4
    for piece in frame.pieces:
        low_mm, high_mm = frame.y(frame.slope * piece.from_m), frame.y(frame.slope * piece.to_m)
        corners = [(piece.from_mm, low_mm), (piece.to_mm, high_mm)]
        sheet.shape(
            [*corners, *((x, y + _PLATE_mm) for x, y in reversed(corners))], fill=_INK, more='data-part="bottom"'
        )
    ends = (
        (frame.left_mm, -1.0, frame.low_mm, "low wall"),
        (frame.right_mm, 1.0, frame.y(frame.slope * frame.length_m), "far wall"),
    )
    for face_mm, out, foot_mm, part in ends:
        outer_mm, edge_mm = face_mm + out * _PLATE_mm, face_mm + out * (_PLATE_mm + lip_mm)
        under_mm = min(rim_mm + 0.8, foot_mm)
        sheet.shape(
            [
                (face_mm, rim_mm),
                (edge_mm, rim_mm),
                (edge_mm, under_mm),
                (outer_mm, under_mm),
                (outer_mm, foot_mm + _PLATE_mm),
                (face_mm, foot_mm + _PLATE_mm),
            ],
            fill=_INK,
            more=f'data-part="{part}"',
        )
    for one, other in pairwise(frame.pieces):
        for edge_mm in (one.to_mm, other.from_mm):
            top_mm, foot_mm = rim_mm - 2.5, frame.low_mm + 4.0
            middle_mm, x = 0.5 * (top_mm + foot_mm), edge_mm
            points = [(x, top_mm), (x, middle_mm - 3.0), (x - 1.3, middle_mm - 1.0), (x + 1.3, middle_mm + 1.0)]
            points += [(x, middle_mm + 3.0), (x, foot_mm)]
            for (x1, y1), (x2, y2) in pairwise(points):
                sheet.line(x1, y1, x2, y2, width=0.2, more='data-part="break"')


def _surface(sheet: _Sheet, frame: _Frame, liquor_m: float, heater_top_mm: float) -> None:
    """Liquor surface with its level mark, and its name where there is room above the heater."""
    y = frame.y(liquor_m)
    for piece in frame.pieces:
        sheet.line(piece.from_mm, y, piece.to_mm, y, width=0.5, ink=_ACCENT, more='data-part="liquor surface"')
    x = frame.across(0.1)
    if frame.right_mm - frame.left_mm < 40.0:
        return
    sheet.shape([(x, y - 0.4), (x - 1.3, y - 2.6), (x + 1.3, y - 2.6)], fill="#ffffff", ink=_ACCENT)
    for row, half in ((1.1, 1.1), (1.8, 0.6)):
        sheet.line(x - half, y + row, x + half, y + row, width=0.25, ink=_ACCENT)
    if y + 4.6 < heater_top_mm:
        sheet.text(x + 2.4, y + 3.2, "liquor, refill-off", ink=_ACCENT)


# Rods


class _RodLabel(NamedTuple):
    lines: list[str]
    width_mm: float


def _rod_labels(words: _Words, top_mm: float) -> tuple[float, list[_RodLabel]]:
    """The labels over the rods, and where they end."""
    labels = []
    for rod in words.stack.rods:
        if rod.cut_length_m is None:
            lines = [rod.name, "no length: tip", "above holder"]
        else:
            lines = [rod.name, words.length(rod.cut_length_m), f"± {words.length(rod.tolerance_m)}"]
        labels.append(_RodLabel(lines, max(text_width_mm(line, _NAME) for line in lines) + 1.6))
    return top_mm + 16.0, labels


def _rods(sheet: _Sheet, frame: _Frame, stack: LevelStack, labels_end_mm: float, labels: list[_RodLabel]) -> None:
    """Holder and rods, from the seat to the tips, each with its label above."""
    places = [frame.rod_mm(index) for index in range(len(stack.rods))]
    headers = ("rod", "cut to", "tolerance")
    header_mm = max(text_width_mm(text, _FLAG) for text in headers) + 1.0
    centres = spread_apart(places, [label.width_mm for label in labels], _EDGE_mm + header_mm, _AXIS_mm - 1.0)
    rows_mm = [labels_end_mm - 8.2 + 3.3 * row for row in range(3)]
    left_mm = centres[0] - 0.5 * labels[0].width_mm
    for y, text in zip(rows_mm, headers, strict=True):
        sheet.text(left_mm, y, text, anchor="end", ink=_QUIET)
    names = "from tip to holder seat, and what the holder takes up" if _engaged(stack) else "from tip to holder seat"
    sheet.text(_EDGE_mm, labels_end_mm - 12.6, f"Rods: cut {names}", ink=_QUIET)
    seat_mm = frame.y(stack.rod_holder.height_m)
    conflicting = {conflict.mark for conflict in stack.conflicts}
    for rod, label, x, centre in zip(stack.rods, labels, places, centres, strict=True):
        for y, text in zip(rows_mm, label.lines, strict=True):
            sheet.text(centre, y, text, size=_NAME, anchor="middle", bold=text == rod.name)
        tip_mm = frame.y(rod.tip_height_m)
        dash = f' stroke-dasharray="{_CONFLICT_DASH}"' if rod.name in conflicting or tip_mm <= seat_mm else ""
        sheet.line(x, seat_mm, x, tip_mm, width=0.55, more=f'data-rod="{rod.name}"{dash}')
        sheet.line(x - 0.7, tip_mm, x + 0.7, tip_mm, width=0.4)
        above_mm = labels_end_mm + 8.0
        sheet.line(x, min(seat_mm - 3.0, tip_mm), x, above_mm, ink=_FAINT, more='data-part="leader"')
        sheet.line(x, above_mm, centre, labels_end_mm - 0.2, ink=_FAINT, more='data-part="leader"')
    reach_mm = frame.holder_reach_mm
    sheet.box(places[0] - reach_mm, seat_mm - 2.6, places[-1] + reach_mm, seat_mm, more='data-part="rod holder"')


def _engaged(stack: LevelStack) -> bool:
    """Whether the holder takes up some of each rod's length."""
    rod = next((rod for rod in stack.rods if rod.cut_length_m is not None), None)
    seat_m = stack.rod_holder.height_m
    return rod is not None and rod.cut_length_m is not None and rod.cut_length_m > seat_m - rod.tip_height_m + 1.0e-6


# Openings


def _outlets(sheet: _Sheet, frame: _Frame, words: _Words) -> None:
    """Overflow and drain at the low wall, make-up pipe over the rim with its air gap, high-high switch."""
    lip_mm, rim_mm = frame.y(words.height_m("overflow")), frame.y(words.height_m("rim"))
    bore_mm = min(3.0, max(0.8, 0.8 * (lip_mm - rim_mm)))
    x = frame.left_mm
    sheet.shape([(x - 8.0, lip_mm - bore_mm), (x, lip_mm - bore_mm), (x, lip_mm), (x - 8.0, lip_mm)], fill="#ffffff")
    for y, part in ((lip_mm, "overflow lip"), (lip_mm - bore_mm, "overflow crown")):
        sheet.line(x - 8.0, y, x, y, width=0.35, more=f'data-part="{part}"')
    sheet.line(x - 6.0, lip_mm - 0.5 * bore_mm, x - 11.0, lip_mm - 0.5 * bore_mm)
    sheet.arrow(x - 11.6, lip_mm - 0.5 * bore_mm, -1.0, 0.0)
    over_drain = lip_mm + 5.0 > frame.low_mm  # an overflow put that low: its name goes above, clear of the drain's
    name_mm = lip_mm - bore_mm - 0.8 if over_drain else lip_mm + 3.1
    sheet.text(x - 2.0, name_mm, "overflow", anchor="end")
    low_mm = frame.low_mm
    bore_mm = min(2.6, 0.3 * (frame.right_mm - frame.left_mm))
    sheet.shape(
        [(x, low_mm - 0.1), (x + bore_mm, low_mm - 0.1), (x + bore_mm, low_mm + 4.0), (x, low_mm + 4.0)], fill="#ffffff"
    )
    for edge_mm in (x, x + bore_mm):
        sheet.line(edge_mm, low_mm, edge_mm, low_mm + 4.0, width=0.35, more='data-part="drain"')
    sheet.arrow(x + 0.5 * bore_mm, low_mm + 5.6, 0.0, 1.0)
    sheet.text(x - 2.0, low_mm + 4.6, "drain", anchor="end")
    outlet_mm, pipe_mm = frame.y(words.height_m("make-up outlet")), frame.pipe_mm
    half_mm = min(1.4, 0.03 * (frame.right_mm - frame.left_mm))
    name_mm = min(outlet_mm - 2.6, rim_mm - 1.2)  # clear of the wall also where the outlet hangs into the tank
    top_mm = name_mm - 3.9
    for edge_mm in (pipe_mm - half_mm, pipe_mm + half_mm):
        sheet.line(edge_mm, top_mm, edge_mm, outlet_mm, width=0.35, more='data-part="make-up outlet"')
    sheet.line(pipe_mm - half_mm - 0.8, top_mm + 0.4, pipe_mm + half_mm + 0.8, top_mm - 0.4, width=0.2)
    sheet.arrow(pipe_mm, outlet_mm - 1.2, 0.0, 1.0)
    sheet.text(pipe_mm + half_mm + 0.8, name_mm, "make-up")
    switch_mm = frame.y(words.height_m("high-high"))
    half_mm = 0.5 * _LEVEL_SWITCH_mm
    sheet.box(frame.right_mm - 2.0 * half_mm, switch_mm - half_mm, frame.right_mm, switch_mm + half_mm)


def _below(sheet: _Sheet, frame: _Frame, words: _Words) -> float:
    """Length of the tank and the graphic scale; returns where they end."""
    y = frame.low_mm + 10.0
    left_mm, right_mm = frame.left_mm, frame.right_mm
    for x, foot_mm, out in (
        (left_mm, frame.low_mm + 6.2, -1.0),
        (right_mm, frame.y(frame.slope * frame.length_m), 1.0),
    ):
        sheet.line(x, foot_mm + 1.6, x, y + 1.0, ink=_QUIET)
        sheet.arrow(x, y, out if right_mm - left_mm > 6.0 else -out, 0.0, ink=_QUIET)
    sheet.line(left_mm, y, right_mm, y, ink=_QUIET, more='data-part="inside length"')
    rise_m = frame.slope * frame.length_m
    text = f"{words.length(frame.length_m)} inside"
    if rise_m >= _NEGLIGIBLE_m:
        text += f", bottom rises {words.length(rise_m)} away from the drain"
    if len(frame.pieces) > 1:
        text += "; drawn broken"
    half_mm = 0.5 * text_width_mm(text, _FLAG)
    middle_mm = min(max(0.5 * (left_mm + right_mm), _EDGE_mm + half_mm), _AXIS_mm - 1.0 - half_mm)
    sheet.text(middle_mm, y + 3.6, text, anchor="middle", ink=_QUIET)
    return _graphic_scale(sheet, frame, words, y + 9.5)


def _graphic_scale(sheet: _Sheet, frame: _Frame, words: _Words, y: float) -> float:
    """A bar of a round length, in the units shown; returns where it ends."""

    def roughness(length_m: float) -> tuple[int, float]:
        return sum(digit in "123456789" for digit in words.length(length_m)), -length_m

    most_m = 0.045 * frame.scale
    lengths = [step * unit for unit in (0.1, 0.3048) for step in (0.5, 1.0, 2.0, 3.0, 5.0, 10.0, 20.0, 30.0, 50.0)]
    bar_m = min((length_m for length_m in lengths if 0.3 * most_m < length_m <= most_m), key=roughness)
    bar_mm = 1000.0 * bar_m / frame.scale
    x = _EDGE_mm + 1.0
    for part in range(4):
        fill = _INK if part % 2 == 0 else "#ffffff"
        sheet.box(x + 0.25 * part * bar_mm, y, x + 0.25 * (part + 1) * bar_mm, y + 1.2, fill=fill)
    sheet.line(x, y + 1.2, x + bar_mm, y + 1.2, width=0.1, more='data-part="graphic scale"')
    text = f"{words.length(bar_m)} at 1 : {frame.scale}"
    sheet.text(x + bar_mm + 2.0, y + 1.6, text)
    return y + 4.0


# Dimensions


class _Label(NamedTuple):
    """One entry of the dimension column."""

    name: str
    height_m: float
    shown: str
    flags: list[str]
    conflict: bool
    from_mm: float  # x where its extension line starts

    @property
    def room_mm(self) -> float:
        return 4.0 + 2.9 * len(self.flags)


def _dimension_column(
    sheet: _Sheet, frame: _Frame, words: _Words, between_mm: tuple[float, float], heater_labelled: bool
) -> float:
    """Every mark's height above the low corner, extension lines and leaders; returns where the labels end."""
    marks = [*words.stack.stack, words.stack.reference, words.stack.rod_holder]
    heights = [0.0, *(mark.height_m for mark in marks)]
    heights_mm = _LABEL_mm + max(text_width_mm(words.length(height), _NAME) for height in heights)
    wide_mm = _RIGHT_mm - heights_mm - _COLUMN_GAP_mm
    labels = [_Label("low corner", 0.0, words.length(0.0), [], False, frame.right_mm)]
    for mark in sorted(marks, key=lambda mark: mark.height_m):
        flags = words.flags(mark, heater_labelled)
        joined = "; ".join(flags)
        if text_width_mm(joined, _FLAG) > wide_mm:
            flags = [line for flag in flags for line in _wrapped(flag, _FLAG, wide_mm)]
        elif joined:
            flags = [joined]
        conflict, from_mm = bool(words.conflicts(mark.name)), _extension_mm(frame, mark.name)
        shown = words.length(mark.height_m)
        labels.append(_Label(mark.name, mark.height_m, shown, flags, conflict, from_mm))
    labels.reverse()  # downwards, as y
    rooms = [label.room_mm for label in labels]
    top_mm = between_mm[0] + 0.5
    foot_mm = max(between_mm[1], top_mm + sum(rooms))
    # A label is led to at its name, not at the middle of the room that its flags need.
    wanted = [frame.y(label.height_m) - 1.9 + 0.5 * room for label, room in zip(labels, rooms, strict=True)]
    centres = spread_apart(wanted, rooms, top_mm, foot_mm)
    sheet.line(_AXIS_mm, frame.low_mm, _AXIS_mm, frame.y(frame.highest_m), width=0.25, more='data-part="axis"')
    for label, centre, room in zip(labels, centres, rooms, strict=True):
        _dimension(sheet, frame, label, (heights_mm, centre - 0.5 * room + 1.9))
    return max(centre + 0.5 * room for centre, room in zip(centres, rooms, strict=True))


def _extension_mm(frame: _Frame, name: MarkName) -> float:
    """Where a mark's extension line starts: at the thing that has the height."""
    if name in RODS:
        return frame.rod_mm(RODS.index(name)) + 0.9
    starts = {
        "heater bottom": frame.across(_HEATER_END),
        "heater top": frame.across(_HEATER_END),
        "overflow": frame.left_mm,
        "make-up outlet": frame.pipe_mm + 1.0,
        "rod holder": frame.rod_mm(len(RODS) - 1) + frame.holder_reach_mm,
        "rim": frame.right_mm + 3.4,
    }
    return min(starts.get(name, frame.right_mm), _AXIS_mm - 1.0)


def _dimension(sheet: _Sheet, frame: _Frame, label: _Label, at: tuple[float, float]) -> None:
    """One mark's extension line, tick, leader, height, name and flags; at: right end and middle of its height."""
    heights_mm, name_mm = at
    names_mm = heights_mm + _COLUMN_GAP_mm
    y = frame.y(label.height_m)
    dash = f'stroke-dasharray="{_CONFLICT_DASH}"' if label.conflict else ""
    width, ink = (0.45, _INK) if label.conflict else (0.14, _FAINT)
    what = f'data-mark="{label.name}" data-conflict="{"yes" if label.conflict else "no"}" {dash}'
    sheet.line(label.from_mm, y, _AXIS_mm, y, width=width, ink=ink, more=what)
    if label.conflict:
        sheet.shape([(_AXIS_mm - 0.2, y), (_AXIS_mm + 2.0, y - 1.1), (_AXIS_mm + 2.0, y + 1.1)], fill=_INK)
    sheet.line(_AXIS_mm - 0.8, y + 0.8, _AXIS_mm + 0.8, y - 0.8, width=0.3)
    sheet.line(_AXIS_mm, y, _LABEL_mm - 1.2, name_mm, ink=_QUIET, more=f'data-leader="{label.name}"')
    sheet.line(_LABEL_mm - 1.2, name_mm, _LABEL_mm - 0.3, name_mm, ink=_QUIET)
    base_mm = name_mm + 0.35 * _NAME
    sheet.text(heights_mm, base_mm, label.shown, size=_NAME, anchor="end")
    sheet.text(names_mm, base_mm, label.name, size=_NAME, bold=True)
    for row, flag in enumerate(label.flags, start=1):
        sheet.text(names_mm, base_mm + 2.9 * row, flag, ink=_INK if label.conflict else _QUIET, bold=label.conflict)


# Foot


def _foot(sheet: _Sheet, frame: _Frame, words: _Words, y: float) -> float:
    """Conflicts with what resolves them, title block, caution; returns the height of the drawing."""
    wide_mm = _RIGHT_mm - _EDGE_mm
    conflicts = words.stack.conflicts
    paragraphs = [words.told(conflict) for conflict in conflicts[:LONGEST_LIST]]
    if len(conflicts) > LONGEST_LIST:
        paragraphs.append(f"{len(conflicts) - LONGEST_LIST} more, marked CONFLICT in the column of heights.")
    y += 1.0
    for paragraph in paragraphs:
        for line in _wrapped(paragraph, _FLAG, wide_mm):
            y += 3.2
            sheet.text(_EDGE_mm, y, line)
    y += 3.0
    cells = (
        (0.0, "drawing", "Tank and rod elevation"),
        (46.0, "scale", f"1 : {frame.scale}, printed 180 mm wide"),
        (92.0, "heights", "above the low corner, inside"),
        (136.0, "schematic", "heater length, pipes, holder"),
    )
    for x, caption, text in cells:
        sheet.text(_EDGE_mm + x, y + 3.2, caption, size=2.1, ink=_QUIET)
        sheet.text(_EDGE_mm + x, y + 6.8, text, size=_NAME)
        if x:
            sheet.line(_EDGE_mm + x - 2.0, y, _EDGE_mm + x - 2.0, y + 8.4, width=0.25)
    for rule_mm in (y, y + 8.4):
        sheet.line(0.5, rule_mm, PAGE_WIDTH_mm - 0.5, rule_mm, width=0.25)
    y += 9.2
    sheet.text(_EDGE_mm, y + 3.4, "CAUTION", size=2.6, bold=True)
    for line in _wrapped(CAUTION, 2.6, wide_mm - 16.0):
        y += 3.4
        sheet.text(_EDGE_mm + 16.0, y, line, size=2.6)
    return y + 3.0
