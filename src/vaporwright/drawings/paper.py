"""What our drawings share: paper, typeface, line weights, title block, dimension lines and labels that never overlap.

One user unit is one millimetre of paper, as long as a drawing is printed 180 mm wide; a graphic scale shows it where it
is not. Text is placed by an estimate of its width that errs wide.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal, NamedTuple
from xml.sax.saxutils import escape, quoteattr

from vaporwright.foundation.errors import require_range

PAGE_WIDTH_mm: Final = 180.0
EDGE_mm: Final = 4.0  # page edge to text
RIGHT_mm: Final = PAGE_WIDTH_mm - EDGE_mm
FONT: Final = "'Source Sans Pro', 'Source Sans 3', sans-serif"

INK: Final = "#1f1f1f"
QUIET: Final = "#5c5c5c"
FAINT: Final = "#8a8a8a"
WHITE: Final = "#ffffff"
ACCENT: Final = "#1f5f8b"  # the liquor, nothing else
LIQUOR: Final = "#e9f0f5"

EXTENSION_mm: Final = 0.14  # line weights
THIN_mm: Final = 0.18
RULE_mm: Final = 0.25
TICK_mm: Final = 0.3
OUTLINE_mm: Final = 0.35
ABNORMAL_mm: Final = 0.45
HEAVY_mm: Final = 0.5
ABNORMAL_DASH: Final = "3 0.9 0.7 0.9"

TITLE: Final = 4.4  # text sizes [mm]
SENTENCE: Final = 3.1
NAME: Final = 2.8
CAUTION_SIZE: Final = 2.6
FLAG: Final = 2.5
CAPTION: Final = 2.5
_BOLD: Final = 600

Anchor = Literal["start", "middle", "end"]


# Text


def text_width_mm(text: str, size_mm: float) -> float:
    """Width of a text in the drawings' typeface, estimated letter by letter; never less than it sets."""
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


def one_line(text: str) -> str:
    """Text without line breaks and without characters that XML forbids."""
    legal = re.sub("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]", " ", text)
    return " ".join(legal.split())


def cut(text: str, size_mm: float, width_mm: float) -> str:
    """Text that fits; what was cut shows as an ellipsis."""
    if text_width_mm(text, size_mm) <= width_mm:
        return text
    while text and text_width_mm(text + "…", size_mm) > width_mm:
        text = text[:-1]
    return text.rstrip() + "…"


def wrapped(text: str, size_mm: float, width_mm: float) -> list[str]:
    """Lines that fit, broken at spaces; a word longer than a line is cut."""
    lines: list[str] = []
    for word in text.split(" "):
        if lines and text_width_mm(f"{lines[-1]} {word}", size_mm) <= width_mm:
            lines[-1] += f" {word}"
        else:
            lines.append(cut(word, size_mm, width_mm))
    return lines


def balanced(text: str, size_mm: float, width_mm: float) -> list[str]:
    """Wrapped into as few lines, of about equal length."""
    lines = wrapped(text, size_mm, width_mm)
    for share in (0.9, 0.8, 0.7, 0.6, 0.5):
        narrower = wrapped(text, size_mm, share * width_mm)
        if len(narrower) == len(lines) and " ".join(narrower) == " ".join(lines):
            lines = narrower
    return lines


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


# Sheet


@dataclass
class Sheet:
    """Elements of a drawing in millimetres from the upper left corner."""

    elements: list[str] = field(default_factory=list)

    def line(
        self, x1: float, y1: float, x2: float, y2: float, *, width: float = THIN_mm, ink: str = INK, more: str = ""
    ) -> None:
        """A straight line; more: further attributes, here and below."""
        at = f'x1="{x1:.4f}" y1="{y1:.4f}" x2="{x2:.4f}" y2="{y2:.4f}"'
        self.elements.append(f'<line {at} stroke="{ink}" stroke-width="{width:g}" {more}/>')

    def shape(
        self, points: Sequence[tuple[float, float]], *, fill: str = "none", ink: str = "none", more: str = ""
    ) -> None:
        """A closed outline."""
        listed = " ".join(f"{x:.4f},{y:.4f}" for x, y in points)
        paint = f'fill="{fill}" stroke="{ink}" stroke-width="{RULE_mm:g}"'
        self.elements.append(f'<polygon points="{listed}" {paint} {more}/>')

    def box(self, x1: float, y1: float, x2: float, y2: float, *, fill: str = WHITE, more: str = "") -> None:
        """A rectangle with an outline."""
        at = f'x="{x1:.4f}" y="{y1:.4f}" width="{x2 - x1:.4f}" height="{y2 - y1:.4f}"'
        self.elements.append(f'<rect {at} fill="{fill}" stroke="{INK}" stroke-width="{OUTLINE_mm:g}" {more}/>')

    def text(
        self,
        x: float,
        y: float,
        text: str,
        *,
        size: float = FLAG,
        anchor: Anchor = "start",
        ink: str = INK,
        bold: bool = False,
    ) -> None:
        """One line of text on the baseline y."""
        weight = f' font-weight="{_BOLD}"' if bold else ""
        where = f'x="{x:.3f}" y="{y:.3f}" font-size="{size:g}" text-anchor="{anchor}" fill="{ink}"{weight}'
        self.elements.append(f"<text {where}>{escape(text)}</text>")

    def arrow(self, x: float, y: float, dx: float, dy: float, *, ink: str = INK) -> None:
        """A filled arrowhead with its tip at x, y, pointing along dx, dy (unit length)."""
        back_x, back_y = x - 1.8 * dx, y - 1.8 * dy
        self.shape(
            [(x, y), (back_x - 0.45 * dy, back_y + 0.45 * dx), (back_x + 0.45 * dy, back_y - 0.45 * dx)], fill=ink
        )

    def document(self, height_mm: float, *, title: str, description: str, scale: int, definitions: str = "") -> str:
        """The drawing as SVG; scale as in 1 : scale; definitions: patterns that fills refer to, as SVG."""
        size = f'width="{PAGE_WIDTH_mm:g}mm" height="{height_mm:.1f}mm" viewBox="0 0 {PAGE_WIDTH_mm:g} {height_mm:.1f}"'
        return "\n".join(
            [
                f'<svg xmlns="http://www.w3.org/2000/svg" {size} data-scale="{scale}" role="img" '
                f"font-family={quoteattr(FONT)}>",
                f"<title>{escape(title)}</title>",
                f"<desc>{escape(description)}</desc>",
                *([f"<defs>{definitions}</defs>"] if definitions else []),
                f'<rect x="0.25" y="0.25" width="{PAGE_WIDTH_mm - 0.5:g}" height="{height_mm - 0.5:.2f}" '
                f'fill="{WHITE}" stroke="{INK}" stroke-width="{HEAVY_mm:g}"/>',
                *self.elements,
                "</svg>\n",
            ]
        )


def hatching(name: str) -> str:
    """A pattern of thin slanting lines for Sheet.document, to fill with as url(#name)."""
    return (
        f'<pattern id="{name}" width="1.4" height="1.4" patternUnits="userSpaceOnUse">'
        f'<path d="M0 1.4 L1.4 0" stroke="{QUIET}" stroke-width="0.16"/></pattern>'
    )


# Head and foot


def head(sheet: Sheet, title: str, sentence: str, *, abnormal: bool = False) -> float:
    """Title, cut where it is longer than the page is wide, and the sentence that opens a drawing; returns their end."""
    wide_mm = RIGHT_mm - EDGE_mm
    sheet.text(EDGE_mm, 8.6, cut(title, TITLE, wide_mm), size=TITLE, bold=True)
    y = 10.2
    for line in wrapped(sentence, SENTENCE, wide_mm):
        y += 4.1
        sheet.text(EDGE_mm, y, line, size=SENTENCE, bold=abnormal)
    return y + 4.0


def paragraphs(sheet: Sheet, y: float, texts: Sequence[str]) -> float:
    """Texts across the page, each from a new line; returns the last baseline."""
    for text in texts:
        for line in wrapped(text, FLAG, RIGHT_mm - EDGE_mm):
            y += 3.2
            sheet.text(EDGE_mm, y, line)
    return y


class TitleCell(NamedTuple):
    """One cell of a title block: from the left edge of the text, what it is, what it says."""

    from_mm: float
    caption: str
    text: str


def title_block(sheet: Sheet, y: float, cells: Sequence[TitleCell], caution: str) -> float:
    """Title block between two rules, then the caution; returns the height of the drawing."""
    for cell in cells:
        x = EDGE_mm + cell.from_mm
        sheet.text(x, y + 3.2, cell.caption, size=CAPTION, ink=QUIET)
        sheet.text(x, y + 6.8, cell.text, size=NAME)
        if cell.from_mm > 0.0:
            sheet.line(x - 2.0, y, x - 2.0, y + 8.4, width=RULE_mm)
    for rule_mm in (y, y + 8.4):
        sheet.line(0.5, rule_mm, PAGE_WIDTH_mm - 0.5, rule_mm, width=RULE_mm)
    y += 9.2
    sheet.text(EDGE_mm, y + 3.4, "CAUTION", size=CAUTION_SIZE, bold=True)
    for line in wrapped(caution, CAUTION_SIZE, RIGHT_mm - EDGE_mm - 16.0):
        y += 3.4
        sheet.text(EDGE_mm + 16.0, y, line, size=CAUTION_SIZE)
    return y + 3.0


# Dimensions


def dimension_across(
    sheet: Sheet, y: float, left: tuple[float, float], right: tuple[float, float], *, more: str = ""
) -> None:
    """A horizontal dimension line at y with its arrowheads; left, right: x and y from which extension lines lead."""
    inside = right[0] - left[0] > 6.0  # else the arrowheads stand outside
    for (x, foot_mm), out in ((left, -1.0), (right, 1.0)):
        sheet.line(x, foot_mm, x, y + 1.0, ink=QUIET)
        sheet.arrow(x, y, out if inside else -out, 0.0, ink=QUIET)
    sheet.line(left[0], y, right[0], y, ink=QUIET, more=more)


def graphic_scale(sheet: Sheet, y: float, scale: int, show_length: Callable[[float], str]) -> float:
    """A bar of a length that is round in the units shown; returns where it ends."""

    def roughness(length_m: float) -> tuple[int, float]:
        return sum(digit in "123456789" for digit in show_length(length_m)), -length_m

    most_m = 0.045 * scale
    lengths = [step * unit for unit in (0.1, 0.3048) for step in (0.5, 1.0, 2.0, 3.0, 5.0, 10.0, 20.0, 30.0, 50.0)]
    bar_m = min((length_m for length_m in lengths if 0.3 * most_m < length_m <= most_m), key=roughness)
    bar_mm = 1000.0 * bar_m / scale
    x = EDGE_mm + 1.0
    for part in range(4):
        fill = INK if part % 2 == 0 else WHITE
        sheet.box(x + 0.25 * part * bar_mm, y, x + 0.25 * (part + 1) * bar_mm, y + 1.2, fill=fill)
    sheet.line(x, y + 1.2, x + bar_mm, y + 1.2, width=0.1, more='data-part="graphic scale"')
    text = f"{show_length(bar_m)} at 1 : {scale}"
    sheet.text(x + bar_mm + 2.0, y + 1.6, text)
    return y + 4.0
