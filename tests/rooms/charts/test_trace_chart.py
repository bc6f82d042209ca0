"""The chart of a rehearsal, read back from its SVG as a reader would: scales from their ticks, times from the axis."""

from __future__ import annotations

import re
import string
import xml.etree.ElementTree as ElementTree
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import as_file, files
from itertools import pairwise
from random import Random
from typing import Literal

import pytest
import typst
from hypothesis import given, settings
from hypothesis import strategies as st

from example_rigs import example_rig, library
from vaporwright.charts.rate_picture import COLOURS, WIDTH_px
from vaporwright.charts.trace_chart import PRIORITY_COLOURS, text_width_px, trace_chart_svg
from vaporwright.controls.rehearsal import AlarmEntry, Entry, Rehearsal, rehearse
from vaporwright.foundation.errors import InputError, OutOfRange

GALLON_PER_HOUR_kg_s = 3.785411784e-3 * 998.2 / 3600.0
BASELINE = 0.34  # of the size, under a text's middle
HALF_HEIGHT = 0.42  # of the size: a line of text takes as much above its middle, and below
LARGEST_SVG = 300_000
SCRIPTS: Mapping[str, Literal["gas", "electric"]] = {
    "cold_start": "gas",
    "refill_supply_fails": "gas",
    "day_of_refills": "electric",
    "flame_failure": "gas",
}


@cache
def rehearsed(name: str) -> Rehearsal:
    return rehearse(library(name), example_rig(SCRIPTS[name]))


@cache
def marks_of(kind: str) -> Mapping[str, float]:
    rig = example_rig(kind)
    return {
        "set point": rig.points.set_point_K,
        "deviation alarm": rig.points.deviation_alarm_K,
        "plastic limit": rig.points.plastic_limit_K,
        "rate": rig.season.evaporation_kg_s,
        "low": rig.stack.mark("low").height_m,
        "refill-on": rig.stack.mark("refill-on").height_m,
        "refill-off": rig.stack.mark("refill-off").height_m,
        "high": rig.stack.mark("high").height_m,
    }


@cache
def letter_widths(weight: int) -> dict[str, float]:
    """Widths over size as typst sets them, in the typeface of the charts."""
    letters = string.ascii_letters + string.digits + string.punctuation + " °·²³"
    content = ", ".join(f'"{letter}"' if letter not in '"\\' else f'"\\{letter}"' for letter in letters)
    source = f"""
    #context {{
      let set-in(words) = text(font: "Source Sans Pro", weight: {weight}, size: 100pt, words)
      [#metadata(({content}).map(letter => measure(set-in("x" + letter + "x")).width.pt()
        - measure(set-in("xx")).width.pt())) <widths>]
    }}
    """
    with as_file(files("vaporwright") / "documents" / "fonts") as folder:
        found = typst.query(source.encode(), "<widths>", field="value", one=True, font_paths=[str(folder)])
    widths = ElementTree  # keeps the linter's eye on the next line
    del widths
    return {letter: float(width) / 100.0 for letter, width in zip(letters, eval_numbers(found), strict=True)}


def eval_numbers(listed: str) -> list[float]:
    return [float(number) for number in re.findall(r"-?[\d.]+", listed)]


@dataclass(frozen=True)
class Words:
    """A text of the picture with the room that it takes."""

    text: str
    left: float
    right: float
    middle: float
    half: float
    anchor: str
    ink: str

    def overlaps(self, other: Words) -> bool:
        across = self.left < other.right and other.left < self.right
        return across and abs(self.middle - other.middle) < self.half + other.half
