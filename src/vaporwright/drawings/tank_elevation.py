"""The tank and rod elevation as SVG: one section along the tank, every height at one stated scale.

Heights and the tank's inside length are to scale. A tank too long and low to be read whole is broken, as draughtsmen
break a long part: both ends stay to scale. What the stack-up does not know (the heater's length, pipes, holder, plate)
is schematic, and the drawing says so.

Labels in the column of heights, and those over the rods, are moved apart as little as their order allows. Data
attributes name what is drawn (data-mark, data-rod, data-part), so that heights can be read back: height = (y of the low
corner - y) times the scale.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, NamedTuple

from vaporwright.drawings.height_column import AXIS_mm, HeightLabel, height_column
from vaporwright.drawings.level_words import LevelWords, NEGLIGIBLE_m, ShowLength
from vaporwright.drawings.paper import (
    ABNORMAL_DASH,
    ACCENT,
    FAINT,
    FLAG,
    INK,
    LIQUOR,
    NAME,
    QUIET,
    WHITE,
    EDGE_mm,
    HEAVY_mm,
    OUTLINE_mm,
    RULE_mm,
    Sheet,
    TitleCell,
    balanced,
    dimension_across,
    graphic_scale,
    hatching,
    head,
    one_line,
    paragraphs,
    spread_apart,
    text_width_mm,
    title_block,
)
from vaporwright.equipment.level_rods import RODS, LevelStack, MarkName
from vaporwright.foundation.errors import InputError, require_range

SCALES: Final = (5, 10, 15, 20, 25, 30, 40, 50, 75, 100, 150, 200, 250)
MOST_WIDE_mm: Final = 95.0  # of the tank as drawn
MOST_TALL_mm: Final = 100.0  # from the low corner to the highest mark
LEAST_TALL_mm: Final = 60.0  # less, because of the tank's length: break it
LONGEST_LIST: Final = 5  # conflicts told at length; the column of heights marks all
CAUTION: Final = (
    "These rods are operating controls, no protection: a rod that reads wet when it is dry (scale, foam, a wet holder) "
    "lets the tank boil dry and burn. An independent, hard-wired, listed low-water cut-off of another principle with "
    "manual reset is required, and an over-temperature device on sheath or tube. The overflow carries hot, possibly "
    "hazardous liquor: pipe it to a safe place. This drawing is no safety approval; local codes and licensed practice "
    "decide."
)

_PLATE_mm: Final = 1.0
_GAP_mm: Final = 4.0  # of a broken tank
_LEVEL_SWITCH_mm: Final = 1.6
_HEATER_START: Final = 0.06  # shares of the tank as drawn
_HEATER_END: Final = 0.45
_BREAK: Final = 0.51


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
    sheet = Sheet()
    heater = re.sub(r"(?<=\d) (?=\S)", "\u00a0", one_line(heater_label))  # number and unit stay together
    words = LevelWords(stack, heater, show_length)
    head_mm = head(sheet, one_line(title), words.sentence(), abnormal=bool(stack.conflicts))
    rods_mm, rod_labels = _rod_labels(words, head_mm)
    frame = _frame(stack, tank_length_m, bottom_slope, rods_mm + 18.0)
    heater_labelled = _section(sheet, frame, words)
    _rods(sheet, frame, stack, rods_mm, rod_labels)
    _outlets(sheet, frame, words)
    below_mm = _below(sheet, frame, words)
    labels = _height_labels(frame, words, heater_labelled)
    column_mm = height_column(sheet, labels, top_mm=head_mm + 0.5, foot_mm=below_mm)
    height_mm = _foot(sheet, frame, words, max(below_mm, column_mm))
    return sheet.document(
        height_mm,
        title=one_line(title),
        description=f"Tank and rod elevation. {words.sentence()}",
        scale=frame.scale,
        definitions=hatching("sludge"),
    )


def _require_same_bottom(stack: LevelStack, rise_m: float) -> None:
    for part in stack.mark("sludge top").allowances:
        if part.name == "rise of the bottom" and abs(part.rise_m - rise_m) > 1.0e-6:
            problem = f"tank_length_m times bottom_slope is {rise_m:.6g} m, the stack-up has {part.rise_m:.6g} m"
            raise InputError("tank elevation", "bottom_slope", problem, "length and slope of the stack-up's tank")


# Where the section stands


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
    right_mm = min(AXIS_mm - 7.0, AXIS_mm - 12.5 + min(8.0, 0.12 * wide_mm))
    left_mm = right_mm - wide_mm
    low_mm = top_mm + 1000.0 * highest_m / scale
    if not broken:
        return _Frame(scale, low_mm, slope, (_Piece(0.0, length_m, left_mm, right_mm),))
    break_mm = left_mm + _BREAK * wide_mm
    one_mm, other_mm = break_mm - 0.5 * _GAP_mm, break_mm + 0.5 * _GAP_mm
    one = _Piece(0.0, (one_mm - left_mm) * scale / 1000.0, left_mm, one_mm)
    other = _Piece(length_m - (right_mm - other_mm) * scale / 1000.0, length_m, other_mm, right_mm)
    return _Frame(scale, low_mm, slope, (one, other))


# The section


def _section(sheet: Sheet, frame: _Frame, words: LevelWords) -> bool:
    """Tank, sludge, liquor, heater; says whether the heater could be labelled in its box."""
    liquor_m, sludge_m, rim_m = (words.height_m(name) for name in ("refill-off", "sludge top", "rim"))
    for piece in frame.pieces:
        outline = frame.level(piece, min(liquor_m, rim_m))
        if outline:
            sheet.shape(outline, fill=LIQUOR)
        outline = frame.level(piece, min(sludge_m, rim_m)) if sludge_m > frame.slope * frame.length_m + 1e-6 else []
        if outline:
            sheet.shape(outline, fill=WHITE)
            sheet.shape(outline, fill="url(#sludge)", more='data-part="sludge"')
    _shell(sheet, frame, rim_m)
    left_mm, right_mm = frame.across(_HEATER_START), frame.across(_HEATER_END)
    top_mm, bottom_mm = frame.y(words.height_m("heater top")), frame.y(words.height_m("heater bottom"))
    sheet.box(left_mm, top_mm, right_mm, bottom_mm, more='data-part="heater"')
    _surface(sheet, frame, liquor_m, top_mm)
    lines = balanced(words.heater, NAME, right_mm - left_mm - 2.0)
    row_mm = 1.25 * NAME
    inside = row_mm * len(lines) + 1.0 <= bottom_mm - top_mm and " ".join(lines) == words.heater
    for row, line in enumerate(lines if inside else ()):
        y = 0.5 * (top_mm + bottom_mm) + (row - 0.5 * (len(lines) - 1)) * row_mm + 0.35 * NAME
        sheet.text(0.5 * (left_mm + right_mm), y, line, size=NAME, anchor="middle")
    return inside


def _shell(sheet: Sheet, frame: _Frame, rim_m: float) -> None:
    """Plates outside the inside face, a rim, and the break of a tank that is broken."""
    rim_mm, lip_mm = frame.y(rim_m), 2.4
    for piece in frame.pieces:
        low_mm, high_mm = frame.y(frame.slope * piece.from_m), frame.y(frame.slope * piece.to_m)
        corners = [(piece.from_mm, low_mm), (piece.to_mm, high_mm)]
        sheet.shape(
            [*corners, *((x, y + _PLATE_mm) for x, y in reversed(corners))], fill=INK, more='data-part="bottom"'
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
            fill=INK,
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


def _surface(sheet: Sheet, frame: _Frame, liquor_m: float, heater_top_mm: float) -> None:
    """Liquor surface with its level mark, and its name where there is room above the heater."""
    y = frame.y(liquor_m)
    for piece in frame.pieces:
        sheet.line(piece.from_mm, y, piece.to_mm, y, width=HEAVY_mm, ink=ACCENT, more='data-part="liquor surface"')
    x = frame.across(0.1)
    if frame.right_mm - frame.left_mm < 40.0:
        return
    sheet.shape([(x, y - 0.4), (x - 1.3, y - 2.6), (x + 1.3, y - 2.6)], fill=WHITE, ink=ACCENT)
    for row, half in ((1.1, 1.1), (1.8, 0.6)):
        sheet.line(x - half, y + row, x + half, y + row, width=RULE_mm, ink=ACCENT)
    if y + 4.6 < heater_top_mm:
        sheet.text(x + 2.4, y + 3.2, "liquor, refill-off", ink=ACCENT)


# Rods


class _RodLabel(NamedTuple):
    lines: list[str]
    width_mm: float


def _rod_labels(words: LevelWords, top_mm: float) -> tuple[float, list[_RodLabel]]:
    """The labels over the rods, and where they end."""
    labels = []
    for rod in words.stack.rods:
        if rod.cut_length_m is None:
            lines = [rod.name, "no length: tip", "above holder"]
        else:
            lines = [rod.name, words.length(rod.cut_length_m), f"± {words.length(rod.tolerance_m)}"]
        labels.append(_RodLabel(lines, max(text_width_mm(line, NAME) for line in lines) + 1.6))
    return top_mm + 16.0, labels


def _rods(sheet: Sheet, frame: _Frame, stack: LevelStack, labels_end_mm: float, labels: list[_RodLabel]) -> None:
    """Holder and rods, from the seat to the tips, each with its label above."""
    places = [frame.rod_mm(index) for index in range(len(stack.rods))]
    headers = ("rod", "cut to", "tolerance")
    header_mm = max(text_width_mm(text, FLAG) for text in headers) + 1.0
    centres = spread_apart(places, [label.width_mm for label in labels], EDGE_mm + header_mm, AXIS_mm - 1.0)
    rows_mm = [labels_end_mm - 8.2 + 3.3 * row for row in range(3)]
    left_mm = centres[0] - 0.5 * labels[0].width_mm
    for y, text in zip(rows_mm, headers, strict=True):
        sheet.text(left_mm, y, text, anchor="end", ink=QUIET)
    names = "from tip to holder seat, and what the holder takes up" if _engaged(stack) else "from tip to holder seat"
    sheet.text(EDGE_mm, labels_end_mm - 12.6, f"Rods: cut {names}", ink=QUIET)
    seat_mm = frame.y(stack.rod_holder.height_m)
    conflicting = {conflict.mark for conflict in stack.conflicts}
    for rod, label, x, centre in zip(stack.rods, labels, places, centres, strict=True):
        for y, text in zip(rows_mm, label.lines, strict=True):
            sheet.text(centre, y, text, size=NAME, anchor="middle", bold=text == rod.name)
        tip_mm = frame.y(rod.tip_height_m)
        dash = f' stroke-dasharray="{ABNORMAL_DASH}"' if rod.name in conflicting or tip_mm <= seat_mm else ""
        sheet.line(x, seat_mm, x, tip_mm, width=0.55, more=f'data-rod="{rod.name}"{dash}')
        sheet.line(x - 0.7, tip_mm, x + 0.7, tip_mm, width=0.4)
        above_mm = labels_end_mm + 8.0
        sheet.line(x, min(seat_mm - 3.0, tip_mm), x, above_mm, ink=FAINT, more='data-part="leader"')
        sheet.line(x, above_mm, centre, labels_end_mm - 0.2, ink=FAINT, more='data-part="leader"')
    reach_mm = frame.holder_reach_mm
    sheet.box(places[0] - reach_mm, seat_mm - 2.6, places[-1] + reach_mm, seat_mm, more='data-part="rod holder"')


def _engaged(stack: LevelStack) -> bool:
    """Whether the holder takes up some of each rod's length."""
    rod = next((rod for rod in stack.rods if rod.cut_length_m is not None), None)
    seat_m = stack.rod_holder.height_m
    return rod is not None and rod.cut_length_m is not None and rod.cut_length_m > seat_m - rod.tip_height_m + 1.0e-6


# Openings


def _outlets(sheet: Sheet, frame: _Frame, words: LevelWords) -> None:
    """Overflow and drain at the low wall, make-up pipe over the rim with its air gap, high-high switch."""
    lip_mm, rim_mm = frame.y(words.height_m("overflow")), frame.y(words.height_m("rim"))
    bore_mm = min(3.0, max(0.8, 0.8 * (lip_mm - rim_mm)))
    x = frame.left_mm
    sheet.shape([(x - 8.0, lip_mm - bore_mm), (x, lip_mm - bore_mm), (x, lip_mm), (x - 8.0, lip_mm)], fill=WHITE)
    for y, part in ((lip_mm, "overflow lip"), (lip_mm - bore_mm, "overflow crown")):
        sheet.line(x - 8.0, y, x, y, width=OUTLINE_mm, more=f'data-part="{part}"')
    sheet.line(x - 6.0, lip_mm - 0.5 * bore_mm, x - 11.0, lip_mm - 0.5 * bore_mm)
    sheet.arrow(x - 11.6, lip_mm - 0.5 * bore_mm, -1.0, 0.0)
    over_drain = lip_mm + 5.0 > frame.low_mm  # an overflow put that low: its name goes above, clear of the drain's
    name_mm = lip_mm - bore_mm - 0.8 if over_drain else lip_mm + 3.1
    sheet.text(x - 2.0, name_mm, "overflow", anchor="end")
    low_mm = frame.low_mm
    bore_mm = min(2.6, 0.3 * (frame.right_mm - frame.left_mm))
    sheet.shape(
        [(x, low_mm - 0.1), (x + bore_mm, low_mm - 0.1), (x + bore_mm, low_mm + 4.0), (x, low_mm + 4.0)], fill=WHITE
    )
    for edge_mm in (x, x + bore_mm):
        sheet.line(edge_mm, low_mm, edge_mm, low_mm + 4.0, width=OUTLINE_mm, more='data-part="drain"')
    sheet.arrow(x + 0.5 * bore_mm, low_mm + 5.6, 0.0, 1.0)
    sheet.text(x - 2.0, low_mm + 4.6, "drain", anchor="end")
    outlet_mm, pipe_mm = frame.y(words.height_m("make-up outlet")), frame.pipe_mm
    half_mm = min(1.4, 0.03 * (frame.right_mm - frame.left_mm))
    name_mm = min(outlet_mm - 2.6, rim_mm - 1.2)  # clear of the wall also where the outlet hangs into the tank
    top_mm = name_mm - 3.9
    for edge_mm in (pipe_mm - half_mm, pipe_mm + half_mm):
        sheet.line(edge_mm, top_mm, edge_mm, outlet_mm, width=OUTLINE_mm, more='data-part="make-up outlet"')
    sheet.line(pipe_mm - half_mm - 0.8, top_mm + 0.4, pipe_mm + half_mm + 0.8, top_mm - 0.4, width=0.2)
    sheet.arrow(pipe_mm, outlet_mm - 1.2, 0.0, 1.0)
    sheet.text(pipe_mm + half_mm + 0.8, name_mm, "make-up")
    switch_mm = frame.y(words.height_m("high-high"))
    half_mm = 0.5 * _LEVEL_SWITCH_mm
    sheet.box(frame.right_mm - 2.0 * half_mm, switch_mm - half_mm, frame.right_mm, switch_mm + half_mm)


def _below(sheet: Sheet, frame: _Frame, words: LevelWords) -> float:
    """Length of the tank and the graphic scale; returns where they end."""
    y = frame.low_mm + 10.0
    left_mm, right_mm = frame.left_mm, frame.right_mm
    dimension_across(
        sheet,
        y,
        (left_mm, frame.low_mm + 6.2 + 1.6),
        (right_mm, frame.y(frame.slope * frame.length_m) + 1.6),
        more='data-part="inside length"',
    )
    rise_m = frame.slope * frame.length_m
    text = f"{words.length(frame.length_m)} inside"
    if rise_m >= NEGLIGIBLE_m:
        text += f", bottom rises {words.length(rise_m)} away from the drain"
    if len(frame.pieces) > 1:
        text += "; drawn broken"
    half_mm = 0.5 * text_width_mm(text, FLAG)
    middle_mm = min(max(0.5 * (left_mm + right_mm), EDGE_mm + half_mm), AXIS_mm - 1.0 - half_mm)
    sheet.text(middle_mm, y + 3.6, text, anchor="middle", ink=QUIET)
    return graphic_scale(sheet, y + 9.5, frame.scale, words.length)


# Heights


def _height_labels(frame: _Frame, words: LevelWords, heater_labelled: bool) -> list[HeightLabel]:
    """Every mark's height above the low corner, downwards."""
    marks = [*words.stack.stack, words.stack.reference, words.stack.rod_holder]
    labels = [HeightLabel("low corner", frame.low_mm, words.length(0.0), (), False, frame.right_mm)]
    for mark in sorted(marks, key=lambda mark: mark.height_m):
        labels.append(
            HeightLabel(
                mark.name,
                frame.y(mark.height_m),
                words.length(mark.height_m),
                words.flags(mark, heater_labelled),
                conflict=bool(words.conflicts(mark.name)),
                from_mm=_extension_mm(frame, mark.name),
            )
        )
    return labels[::-1]


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
    return min(starts.get(name, frame.right_mm), AXIS_mm - 1.0)


# Foot


def _foot(sheet: Sheet, frame: _Frame, words: LevelWords, y: float) -> float:
    """Conflicts with what resolves them, title block, caution; returns the height of the drawing."""
    conflicts = words.stack.conflicts
    told = [words.told(conflict) for conflict in conflicts[:LONGEST_LIST]]
    if len(conflicts) > LONGEST_LIST:
        told.append(f"{len(conflicts) - LONGEST_LIST} more, marked CONFLICT in the column of heights.")
    cells = (
        TitleCell(0.0, "drawing", "Tank and rod elevation"),
        TitleCell(46.0, "scale", f"1 : {frame.scale}, printed 180 mm wide"),
        TitleCell(92.0, "heights", "above the low corner, inside"),
        TitleCell(136.0, "schematic", "heater length, pipes, holder"),
    )
    return title_block(sheet, paragraphs(sheet, y + 1.0, told) + 3.0, cells, CAUTION)
