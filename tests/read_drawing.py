"""Reads a drawing's SVG back: places on the paper, texts as the typeface sets them, and what must hold of any."""

from __future__ import annotations

import itertools
import struct
from functools import cache
from importlib.resources import files
from typing import NamedTuple
from xml.etree import ElementTree


class Box(NamedTuple):
    text: str
    left: float
    top: float
    right: float
    bottom: float


class Drawing:
    """What can be read back from the SVG, in millimetres of paper and metres above the mark at zero height."""

    def __init__(self, svg: str, zero: str = "low corner") -> None:
        self.root = ElementTree.fromstring(svg)
        self.scale = int(self.root.get("data-scale", ""))
        self.width_mm, self.height_mm = (float(text) for text in self.root.get("viewBox", "").split()[2:])
        self._zero = zero

    def all(self, key: str, value: str | None = None) -> list[ElementTree.Element]:
        return [e for e in self.root.iter() if e.get(key) is not None and value in (None, e.get(key))]

    def one(self, key: str, value: str) -> ElementTree.Element:
        (found,) = self.all(key, value)
        return found

    @staticmethod
    def y(element: ElementTree.Element, key: str = "y1") -> float:
        return float(element.get(key, "nan"))

    def height_m(self, y_mm: float) -> float:
        zero_mm = self.y(self.one("data-mark", self._zero))
        return (zero_mm - y_mm) * self.scale / 1000.0

    def points(self, part: str) -> list[list[tuple[float, float]]]:
        outlines = []
        for element in self.all("data-part", part):
            pairs = [pair.split(",") for pair in element.get("points", "").split()]
            outlines.append([(float(x), float(y)) for x, y in pairs])
        return outlines

    def texts(self) -> str:
        return " ".join(self._texts()).replace("\u00a0", " ")

    def _texts(self) -> list[str]:
        return [e.text or "" for e in self.root.iter() if e.tag.endswith("}text")]

    def boxes(self) -> list[Box]:
        """Of each text, as the typeface that ships with the papers sets it; letters it lacks by count."""
        found = []
        for e in self.root.iter():
            if e.tag.endswith("}text"):
                size, x, y, text = (float(e.get("font-size", "")), float(e.get("x", "")), self.y(e, "y"), e.text or "")
                widths = advances("Semibold" if e.get("font-weight") else "Regular")
                width = size * sum(widths.get(ord(letter), 1.0) for letter in text)
                left = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[e.get("text-anchor", "")] * width
                found.append(Box(text, left, y - 0.72 * size, left + width, y + 0.21 * size))
        return found


@cache
def advances(weight: str) -> dict[int, float]:
    """Advance width over size of each character, from the font's own tables (OpenType cmap format 12, hmtx)."""
    font = (files("vaporwright") / "documents" / "fonts" / f"SourceSansPro-{weight}.ttf").read_bytes()

    def numbers(shape: str, at: int) -> tuple[int, ...]:
        return struct.unpack_from(f">{shape}", font, at)

    tables = {}
    for index in range(numbers("H", 4)[0]):
        name, _, offset, _ = struct.unpack_from(">4sIII", font, 12 + 16 * index)
        tables[name.decode()] = offset
    em = numbers("H", tables["head"] + 18)[0]
    count = numbers("H", tables["hhea"] + 34)[0]
    widths = [numbers("H", tables["hmtx"] + 4 * glyph)[0] / em for glyph in range(count)]
    cmap, found = tables["cmap"], {}
    for index in range(numbers("H", cmap + 2)[0]):
        at = cmap + numbers("HHI", cmap + 4 + 8 * index)[2]
        if numbers("H", at)[0] == 12:
            for group in range(numbers("I", at + 12)[0]):
                first, last, glyph = numbers("III", at + 16 + 12 * group)
                for letter in range(first, last + 1):
                    found[letter] = widths[min(glyph + letter - first, count - 1)]
    assert len(found) > 500
    return found


def assert_readable(drawing: Drawing) -> None:
    boxes = drawing.boxes()
    for box in boxes:
        assert box.left > 1.0, box
        assert box.right < drawing.width_mm - 1.0, box
        assert box.top > 1.0, box
        assert box.bottom < drawing.height_mm - 1.0, box
    for one, other in itertools.combinations(boxes, 2):
        apart = one.right <= other.left or other.right <= one.left or one.bottom <= other.top or other.bottom <= one.top
        assert apart, (one, other)
    assert drawing.width_mm == 180.0
    assert drawing.height_mm <= 245.0  # of a letter page between margins of 17 mm


def assert_leaders_keep_order(drawing: Drawing) -> None:
    leaders = drawing.all("data-leader")
    ends = [(drawing.y(e), drawing.y(e, "y2")) for e in leaders]
    assert ends == sorted(ends)
    at_axis = {e.get("x1") for e in leaders}
    assert len(at_axis) == 1
