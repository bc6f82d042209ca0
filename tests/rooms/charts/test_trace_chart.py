"""The chart of a rehearsal, read back from its SVG as a reader would: values by the ticks, times by the axis."""

from __future__ import annotations

import json
import re
import string
import xml.etree.ElementTree as ElementTree
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cache, cached_property
from importlib.resources import as_file, files
from itertools import combinations, pairwise
from random import Random
from typing import Any, Final, Literal

import pytest
import typst
from hypothesis import given, settings
from hypothesis import strategies as st

from example_rigs import example_rig, library
from vaporwright.charts.rate_picture import COLOURS, WIDTH_px
from vaporwright.charts.trace_chart import PRIORITY_COLOURS, text_width_px, trace_chart_svg
from vaporwright.controls.rehearsal import AlarmEntry, Entry, Rehearsal, Trace, rehearse
from vaporwright.foundation.errors import InputError, OutOfRange

SVG: Final = "{http://www.w3.org/2000/svg}"
GALLON_PER_HOUR_kg_s: Final = 3.785411784e-3 * 998.2 / 3600.0
BASELINE: Final = 0.34  # of the size, under the middle of a text
HALF_HEIGHT: Final = 0.42  # of the size: what a line of text takes above and below its middle
LARGEST_SVG: Final = 300_000  # bytes
READ_px: Final = 0.02  # positions are written to a hundredth
KINDS: Final[Mapping[str, Literal["gas", "electric"]]] = {
    "cold_start": "gas",
    "refill_supply_fails": "gas",
    "day_of_refills": "electric",
    "flame_failure": "gas",
}
LETTERS: Final = string.ascii_letters + string.digits + string.punctuation + " °·²³"


@cache
def rehearsed(name: str) -> Rehearsal:
    return rehearse(library(name), example_rig(KINDS[name]))


@cache
def marks_of(kind: str) -> Mapping[str, float]:
    rig = example_rig(kind)
    heights = {rod: rig.stack.mark(rod).height_m for rod in ("low", "refill-on", "refill-off", "high")}
    return heights | {
        "set point": rig.points.set_point_K,
        "deviation alarm": rig.points.deviation_alarm_K,
        "plastic limit": rig.points.plastic_limit_K,
        "rate": rig.season.evaporation_kg_s,
    }


@cache
def letter_widths() -> dict[str, float]:
    """Widths over size as typst sets them in the charts' typeface, the wider of regular and semibold."""
    source = """
    #let letters = json(bytes(sys.inputs.letters))
    #let wide(words, weight) = measure(text(font: "Source Sans Pro", weight: weight, size: 100pt, words)).width.pt()
    #context [#metadata(letters.map(l => calc.max(
      ..(400, 600).map(weight => wide("H" + l + "H", weight) - wide("HH", weight))))) <widths>]
    """
    query: Any = typst.query
    with as_file(files("vaporwright") / "documents" / "fonts") as folder:
        found = query(
            source.encode(),
            "<widths>",
            field="value",
            one=True,
            font_paths=[str(folder)],
            sys_inputs={"letters": json.dumps(list(LETTERS))},
        )
    return {letter: width / 100.0 for letter, width in zip(LETTERS, json.loads(found), strict=True)}


@dataclass(frozen=True)
class Words:
    """A text and the room that it takes."""

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


def words_of(element: ElementTree.Element) -> Words:
    text, size, x = element.text or "", float(element.attrib["font-size"]), float(element.attrib["x"])
    known = letter_widths()
    width = size * sum(known.get(letter, 1.0) for letter in text)
    anchor = element.attrib["text-anchor"]
    left = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * width
    middle = float(element.attrib["y"]) - BASELINE * size
    return Words(text, left, left + width, middle, HALF_HEIGHT * size, anchor, element.attrib["fill"])


class Chart:
    """A picture as its reader has it."""

    def __init__(self, svg: str) -> None:
        self.root = ElementTree.fromstring(svg)

    @cached_property
    def words(self) -> list[Words]:
        return [words_of(element) for element in self.root.iter(f"{SVG}text")]

    @cached_property
    def texts(self) -> list[str]:
        return [words.text for words in self.words]

    @cached_property
    def time_axis(self) -> tuple[Callable[[float], float], float, float]:
        """What turns a place into the axis' unit, and where the axis begins and its last tick stands."""
        foot = max(words.middle for words in self.words if words.anchor == "middle")
        ticks = [words for words in self.words if words.anchor == "middle" and words.middle == foot]
        places = [(0.5 * (words.left + words.right), float(words.text)) for words in ticks]
        return scale(places), places[0][0], places[-1][0]

    def panel(self, name: str) -> ElementTree.Element:
        return next(group for group in self.root.iter(f"{SVG}g") if group.attrib["data-panel"].startswith(name))

    def values(self, name: str) -> Callable[[float], float]:
        ticks = [words for words in map(words_of, self.panel(name).iter(f"{SVG}text")) if words.anchor == "end"]
        return scale([(words.middle, float(words.text.replace(",", ""))) for words in ticks])

    def line(self, name: str, kind: str, which: str) -> list[tuple[float, float]]:
        lines = self.panel(name).iter(f"{SVG}polyline")
        return points_of(next(line for line in lines if line.get(f"data-{kind}") == which))

    def curve(self, panel: str, which: str) -> list[tuple[float, float]]:
        """Points as a reader has them: the time in the axis' unit, and the value."""
        time, value = self.time_axis[0], self.values(panel)
        return [(time(x), value(y)) for x, y in self.line(panel, "curve", which)]

    def bars(self, kind: str, which: str) -> list[tuple[float, float]]:
        """From and to, in the axis' unit."""
        time = self.time_axis[0]
        paths = [path for path in self.root.iter(f"{SVG}path") if path.get(f"data-{kind}") == which]
        found = [re.findall(r"M([\d.]+) [\d.]+h([\d.]+)v", path.attrib["d"]) for path in paths]
        return [(time(float(x)), time(float(x) + float(wide))) for bars in found for x, wide in bars]


def points_of(line: ElementTree.Element) -> list[tuple[float, float]]:
    pairs = (pair.split(",") for pair in line.attrib["points"].split())
    return [(float(x), float(y)) for x, y in pairs]


def scale(ticks: list[tuple[float, float]]) -> Callable[[float], float]:
    (one, first), (other, last) = ticks[0], ticks[-1]
    for place, value in ticks:
        assert first + (place - one) / (other - one) * (last - first) == pytest.approx(
            value, abs=1e-3 * abs(last - first)
        )
    return lambda place: first + (place - one) / (other - one) * (last - first)


def require_readable(svg: str) -> None:
    chart = Chart(svg)
    for one, other in combinations(chart.words, 2):
        assert not one.overlaps(other), (one, other)
    for words in chart.words:
        assert words.left >= -0.5, words
        assert words.right <= WIDTH_px + 0.5, words
        assert words.half <= words.middle <= float(chart.root.attrib["height"]) - words.half, words
    hairs = [points_of(line) for line in chart.root.iter(f"{SVG}polyline") if line.get("data-hair")]
    first_panel = min(words.middle for words in chart.words if words.text.startswith("temperature, "))
    for words in chart.words:
        if words.middle < first_panel:  # below, texts stand on paper of their own
            for (x, top), _ in hairs:
                assert not (words.left < x < words.right and top < words.middle + 0.8 * words.half), words


# What it shows


@pytest.mark.parametrize("system", ["US", "SI"])
def test_the_curves_are_the_traces_in_shown_units(system: str) -> None:
    rehearsal = rehearsed("cold_start")
    chart, trace = Chart(trace_chart_svg(rehearsal, system, marks_of("gas"))), rehearsal.trace
    shown: dict[tuple[str, str], Callable[[float], float]] = {
        ("temperature", "tank_temperature"): lambda K: K * 1.8 - 459.67 if system == "US" else K - 273.15,
        ("temperature", "thermometer"): lambda K: K * 1.8 - 459.67 if system == "US" else K - 273.15,
        ("level", "level"): lambda m: m / 0.0254 if system == "US" else m * 1000.0,
    }
    for (panel, name), convert in shown.items():
        expected = dict(zip(trace.time_s, map(convert, trace.quantities[name]), strict=True))
        points = chart.curve(panel, name)
        assert len(points) > 0.9 * len(expected)  # one a pixel and fewer: nothing to thin out but level runs
        room = max(expected.values()) - min(expected.values())
        for hours, value in points:
            time_s = min(expected, key=lambda at: abs(at - hours * 3600.0))
            assert abs(time_s - hours * 3600.0) < 3.0
            assert value == pytest.approx(expected[time_s], abs=0.002 * room + 0.02 * (1.0 if system == "US" else 25.0))


def test_means_are_level_over_the_interval_that_they_are_of() -> None:
    rehearsal = rehearsed("flame_failure")
    points = Chart(trace_chart_svg(rehearsal, "US")).curve("evaporation", "evaporation")
    rates = [rate / GALLON_PER_HOUR_kg_s for rate in rehearsal.trace.quantities["evaporation"]]
    for minute in (0, 1, 5, 11, 19):
        middle = minute + 0.5
        before, after = next(pair for pair in pairwise(points) if pair[0][0] < middle < pair[1][0])
        assert before[1] == pytest.approx(rates[minute + 1], abs=0.05)
        assert after[1] == pytest.approx(rates[minute + 1], abs=0.05)


def test_marks_are_lines_at_their_values_with_their_names() -> None:
    chart = Chart(trace_chart_svg(rehearsed("cold_start"), "US", marks_of("gas")))
    for panel, name, shown in (
        ("temperature", "set point", marks_of("gas")["set point"] * 1.8 - 459.67),
        ("temperature", "plastic limit", marks_of("gas")["plastic limit"] * 1.8 - 459.67),
        ("level", "refill-on", marks_of("gas")["refill-on"] / 0.0254),
        ("evaporation", "rate", marks_of("gas")["rate"] / GALLON_PER_HOUR_kg_s),
    ):
        (left, y), (right, other) = chart.line(panel, "mark", name)
        assert (y, right > left) == (other, True)
        assert chart.values(panel)(y) == pytest.approx(shown, rel=2e-3)
        assert [text for text in chart.texts if text.startswith(f"{name} ")]


def test_bars_are_true_to_the_event_list_and_not_to_the_traces_points() -> None:
    rehearsal = rehearsed("flame_failure")
    chart = Chart(trace_chart_svg(rehearsal, "SI"))
    for name in ("spray_pump", "heat", "horn"):
        changes = [entry for entry in rehearsal.entries if entry.kind == "effect" and entry.name == name]
        times = [entry.time_s / 60.0 for entry in changes]
        times += [rehearsal.plant_time_s / 60.0] if len(times) % 2 else []
        flat = [time for bar in chart.bars("output", name) for time in bar]
        assert flat == pytest.approx(times, abs=0.005)
    assert any(time % 1.0 > 0.01 for time in flat)  # else the trace's minutes would have done
    assert "never on: refill valve, refill shutoff, agitation valve, drain valve, press feed" in chart.texts


def test_an_alarm_is_filled_while_its_cause_is_there_and_outlined_while_it_stands() -> None:
    rehearsal = rehearsed("refill_supply_fails")
    chart = Chart(trace_chart_svg(rehearsal, "US"))
    low = [entry for entry in rehearsal.alarms if entry.row == "low_level"]
    begun, gone, ended = low[0].time_s, low[1].time_s, low[-1].time_s
    assert (low[0].state, low[1].state, low[-1].state) == ("unacknowledged active", "latched unacknowledged", "normal")
    (filled,), (outlined,) = chart.bars("alarm", "low_level"), chart.bars("standing", "low_level")
    pixel_h = 10.0 / 380.0
    assert filled[0] == pytest.approx(begun / 3600.0, abs=0.1 * pixel_h)
    assert outlined == pytest.approx((gone / 3600.0, ended / 3600.0), abs=pixel_h)
    ink = {words.text: words.ink for words in chart.words}
    assert ink["low level: high alarm"] == PRIORITY_COLOURS["high"]
    assert ink["refill runs too long: medium alarm, came first"] == PRIORITY_COLOURS["medium"]
    assert PRIORITY_COLOURS["high"] != PRIORITY_COLOURS["medium"]


def test_no_colour_but_grey_where_nothing_is_abnormal() -> None:
    svg = trace_chart_svg(rehearsed("day_of_refills"), "US", marks_of("electric"))
    for colour in set(re.findall(r"#[0-9a-f]{6}", svg)):
        assert len({colour[1:3], colour[3:5], colour[5:7]}) == 1, colour
    assert "alarms: none came" in Chart(svg).texts


def test_the_title_says_whether_expectations_were_met() -> None:
    rehearsal = rehearsed("cold_start")
    assert Chart(trace_chart_svg(rehearsal, "US")).texts[0] == "Cold start with warm-up: all 10 expectations met"
    verdicts = tuple(replace(verdict, met=place not in (2, 5)) for place, verdict in enumerate(rehearsal.verdicts))
    chart = Chart(trace_chart_svg(replace(rehearsal, verdicts=verdicts), "US"))
    assert chart.texts[0] == "Cold start with warm-up: 2 of 10 expectations NOT met"
    told = [words for words in chart.words if words.text.startswith("NOT met")]
    assert len(told) == 2
    assert {words.ink for words in told} == {PRIORITY_COLOURS["high"]}
    assert verdicts[2].expectation.text in told[0].text
    none = Chart(trace_chart_svg(replace(rehearsal, verdicts=()), "US"))
    assert none.texts[0] == "Cold start with warm-up: nothing was expected"


def test_many_that_are_not_met_are_counted() -> None:
    rehearsal = rehearsed("cold_start")
    verdicts = tuple(replace(verdict, met=False) for verdict in rehearsal.verdicts)
    texts = Chart(trace_chart_svg(replace(rehearsal, verdicts=verdicts), "US")).texts
    assert len([text for text in texts if text.startswith("NOT met")]) == 5
    assert "and 5 more NOT met" in texts


def test_notes_stand_at_their_hair_lines_where_there_is_room() -> None:
    chart = Chart(trace_chart_svg(rehearsed("cold_start"), "US"))
    assert "turn blower, pump, refill, heat auto; turn warm up on; push reset; push start" in chart.texts
    note = next(words for words in chart.words if words.text == "turn warm up off (the operator ends warm-up)")
    assert chart.time_axis[0](note.left - 3.0) * 3600.0 == pytest.approx(
        3788.0, abs=20.0
    )  # its entry in the event list


def test_numbers_and_a_list_where_there_is_not() -> None:
    rehearsal = rehearsed("flame_failure")
    chart = Chart(trace_chart_svg(rehearsal, "US"))
    assert [text for text in chart.texts if text in "12345"][:5] == ["1", "2", "3", "4", "5"]
    listed = dict(pairwise(chart.texts))
    assert listed["0:07:10"] == "push reset (the panel does not reset the safeguard)"
    assert listed["0:08:00"] == "fail flame sound; reset burner"
    two = next(words for words in chart.words if words.text == "2" and words.anchor == "middle")
    assert chart.time_axis[0](0.5 * (two.left + two.right)) == pytest.approx(5.0, abs=0.02)


def test_a_buttons_release_is_not_told_but_the_emergency_stops_is() -> None:
    rehearsal = rehearsed("cold_start")
    deeds = [
        (100.0, "push reset"),
        (100.5, "pull reset"),
        (200.0, "push emergency stop"),
        (900.0, "pull emergency stop"),
    ]
    entries = tuple(Entry(time_s, "deed", "event 1", text) for time_s, text in deeds)
    told = " ".join(Chart(trace_chart_svg(replace(rehearsal, entries=entries), "US")).texts)
    assert "push reset" in told
    assert "pull reset" not in told
    assert "pull emergency stop" in told


def test_the_same_deed_to_several_things_is_said_once_and_keeps_its_value() -> None:
    rehearsal = rehearsed("cold_start")
    deeds = ["lift low 24 in", "lift refill-on 24 in", "lift high 20 in", "fail flame out", "supply gas off"]
    entries = tuple(Entry(60.0, "deed", "event 1", text) for text in deeds)
    texts = Chart(trace_chart_svg(replace(rehearsal, entries=entries), "US")).texts
    assert "lift low, refill-on 24 in; lift high 20 in; fail flame out; supply gas off" in texts


def test_axes_are_named_with_units_and_the_length_asks_for_hours_or_minutes() -> None:
    day, minutes = (trace_chart_svg(rehearsed(name), "SI") for name in ("day_of_refills", "flame_failure"))
    assert "time, h" in Chart(day).texts
    assert "time, min" in Chart(minutes).texts
    headings = [group.attrib["data-panel"] for group in Chart(minutes).root.iter(f"{SVG}g")]
    assert headings == [
        "temperature, °C",
        "level above the low corner, mm",
        "evaporation, kg/h, means over 1 min",
        "heat, kW, means over 1 min",
    ]
    assert "heat, Btu/h, means over 1 min" in Chart(trace_chart_svg(rehearsed("flame_failure"), "US")).texts


# How it reads


@pytest.mark.parametrize("system", ["US", "SI"])
@pytest.mark.parametrize("name", list(KINDS))
def test_no_text_of_a_rehearsal_touches_another(name: str, system: str) -> None:
    require_readable(trace_chart_svg(rehearsed(name), system, marks_of(KINDS[name])))
    require_readable(trace_chart_svg(rehearsed(name), system))


def test_many_deeds_in_a_row_share_numbers_that_do_not_touch() -> None:
    base = rehearsed("cold_start")
    entries = tuple(Entry(300.0 * place, "deed", f"deed {place}", "push silence") for place in range(48))
    svg = trace_chart_svg(replace(base, entries=entries), "US")
    require_readable(svg)
    assert Chart(svg).texts.count("push silence") == 48


SAID = st.text(st.sampled_from("abcdefgh MWmw%.,-ABC09"), min_size=1, max_size=70)
TIMES = st.floats(0.0, 14_400.0)
ALARMS = st.tuples(SAID, TIMES, TIMES, TIMES, st.sampled_from(["low", "medium", "high"]))


@given(
    st.lists(st.tuples(TIMES, SAID), max_size=30),
    st.lists(ALARMS, max_size=5),
    st.dictionaries(
        st.sampled_from(sorted(["set point", "deviation alarm", "high limit", "feed"])), st.floats(280, 370)
    ),
    st.dictionaries(
        st.sampled_from(["low", "high", "rim", "overflow", "heater top", "refill-on"]), st.floats(0.0, 1.5)
    ),
)
@settings(max_examples=60, deadline=None)
def test_no_text_ever_touches_another(
    deeds: list[tuple[float, str]],
    alarms: list[tuple[str, float, float, float, Literal["low", "medium", "high"]]],
    temperatures_K: dict[str, float],
    heights_m: dict[str, float],
) -> None:
    base = rehearsed("cold_start")
    entries = [Entry(time_s, "deed", f"event {place}", text) for place, (time_s, text) in enumerate(deeds)]
    entries = sorted(
        [*entries, *(entry for entry in base.entries if entry.kind == "effect")], key=lambda one: one.time_s
    )
    listed = []
    for place, (title, *times, priority) in enumerate(alarms):
        states = ("unacknowledged active", "latched acknowledged", "normal")
        for time_s, state in zip(sorted(times), states, strict=True):
            listed.append(AlarmEntry(time_s, f"row_{place}", title, priority, state))  # type: ignore[arg-type]
    listed.sort(key=lambda one: one.time_s)
    svg = trace_chart_svg(replace(base, entries=tuple(entries), alarms=tuple(listed)), "US", temperatures_K | heights_m)
    require_readable(svg)
    told = " ".join(Chart(svg).texts).split()
    for _, text in deeds:
        for word in text.replace(",", " ").split():
            assert any(word in other or other in word for other in told), word


def test_the_estimate_of_a_texts_width_errs_wide_and_not_by_much() -> None:
    for letter, width in letter_widths().items():
        assert text_width_px(letter, 1.0) >= width, letter
    sentence = "Heat is off at once; past its delay the trip latches, and pump and blower go on as the cooler."
    assert text_width_px(sentence, 1.0) < 1.25 * sum(letter_widths()[letter] for letter in sentence)


def test_figures_are_tabular() -> None:
    widths = {round(letter_widths()[digit], 3) for digit in string.digits}
    assert len(widths) == 1
    assert 'font-variant="tabular-nums"' in trace_chart_svg(rehearsed("cold_start"), "US")


def luminance(colour: str) -> float:
    channels = [int(colour[index : index + 2], 16) / 255.0 for index in (1, 3, 5)]
    linear = [channel / 12.92 if channel <= 0.04045 else ((channel + 0.055) / 1.055) ** 2.4 for channel in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("priority", ["high", "medium", "low"])
def test_amber_and_red_stand_out_from_the_paper(priority: str) -> None:
    # WCAG 2.2, contrast ratio (L1 + 0.05) / (L2 + 0.05), at least 4.5 for small text.
    assert (luminance(COLOURS["paper"]) + 0.05) / (luminance(PRIORITY_COLOURS[priority]) + 0.05) >= 4.5


# How it is written down


def restless(count: int, interval_s: float, spike_at: int) -> Rehearsal:
    """A rehearsal with that many points, all over the place, one of them out of all bounds, and a fluttering output."""
    base, random = rehearsed("cold_start"), Random(7)
    tank = [320.0 + 10.0 * random.random() for _ in range(count)]
    tank[spike_at] = 360.0
    quantities = {name: tuple(random.random() for _ in range(count)) for name in base.trace.quantities}
    quantities |= {"tank_temperature": tuple(tank), "thermometer": tuple(reversed(tank))}
    times = tuple(interval_s * place for place in range(count))
    flutter = tuple(Entry(5.0 * place, "effect", "horn", "horn", place % 2 == 0) for place in range(count // 5))
    trace = Trace(times, quantities, base.trace.effects)
    return replace(base, trace=trace, entries=flutter, alarms=(), plant_time_s=times[-1])


def test_a_day_by_the_second_stays_small_and_keeps_its_extremes() -> None:
    svg = trace_chart_svg(restless(86_401, 1.0, 50_003), "SI")
    assert len(svg.encode()) < LARGEST_SVG
    chart = Chart(svg)
    hours, highest = max(chart.curve("temperature", "tank_temperature"), key=lambda point: point[1])
    assert highest == pytest.approx(360.0 - 273.15, abs=0.1)
    assert hours * 3600.0 == pytest.approx(50_003.0, abs=5.0)
    require_readable(svg)


def test_a_day_of_the_library_stays_small() -> None:
    assert len(trace_chart_svg(rehearsed("day_of_refills"), "US", marks_of("electric")).encode()) < LARGEST_SVG / 3


@pytest.mark.parametrize("duration_s", [1.0, 59.0, 604_800.0])
def test_the_shortest_and_the_longest_scripts(duration_s: float) -> None:
    base = rehearsed("cold_start")
    count = 1 if duration_s < 60.0 else 169
    step_s = duration_s / (count - 1) if count > 1 else 60.0
    quantities = {name: values[:count] for name, values in base.trace.quantities.items()}
    trace = Trace(tuple(step_s * place for place in range(count)), quantities, base.trace.effects)
    svg = trace_chart_svg(replace(base, trace=trace, entries=(), plant_time_s=duration_s), "US", marks_of("gas"))
    require_readable(svg)
    time, begin, last = Chart(svg).time_axis
    assert time(begin) == pytest.approx(0.0, abs=1e-9)
    unit_s = 60.0 if duration_s < 60.0 else 3600.0
    assert 0.5 * duration_s / unit_s < time(last) <= duration_s / unit_s + 1e-9


def test_the_same_bytes_each_time_and_text_as_text_in_the_shipped_typeface() -> None:
    svg = trace_chart_svg(rehearsed("refill_supply_fails"), "US", marks_of("gas"))
    assert svg == trace_chart_svg(rehearsed("refill_supply_fails"), "US", dict(reversed(list(marks_of("gas").items()))))
    assert "Source Sans Pro" in svg
    assert "set point 155 °F" in svg


def test_somebodys_text_is_data() -> None:
    hostile = '</text><script>alert("x")</script> & \x00\x1b\ufffe\ud800 ]]> "quoted"'
    base = rehearsed("cold_start")
    script = replace(base.script, name=hostile, purpose=hostile * 4)
    alarm = AlarmEntry(60.0, '"><script>', hostile, "high", "unacknowledged active")
    verdict = replace(base.verdicts[0], met=False, expectation=replace(base.verdicts[0].expectation, text=hostile))
    rehearsal = replace(
        base,
        script=script,
        unit=hostile,
        entries=(Entry(60.0, "deed", "event 1", hostile), Entry(9.0, "effect", "horn", hostile, True)),
        alarms=(alarm,),
        verdicts=(verdict,),
    )
    svg = trace_chart_svg(rehearsal, "US")
    svg.encode()
    chart = Chart(svg)
    assert {element.tag.removeprefix(SVG) for element in chart.root.iter()} == {
        "svg", "title", "rect", "g", "text", "polyline", "polygon", "path"
    }  # fmt: skip
    assert '<script>alert("x")</script>' in " ".join(chart.texts)
    require_readable(svg)


def test_what_is_left_of_a_decay_is_said_as_nothing() -> None:
    base = rehearsed("cold_start")
    heat = (*base.trace.quantities["heat"][:-1], 3.0e-37)
    trace = replace(base.trace, quantities={**base.trace.quantities, "heat": heat})
    assert "0 kW at the end" in Chart(trace_chart_svg(replace(base, trace=trace), "SI")).texts


def test_a_mark_that_no_panel_has_is_refused() -> None:
    with pytest.raises(InputError, match=r"marks: settpoint: no panel of the chart has this mark. Allowed: set point"):
        trace_chart_svg(rehearsed("cold_start"), "US", {"settpoint": 330.0})


def test_a_mark_that_is_no_number_is_refused() -> None:
    with pytest.raises(OutOfRange, match='mark "set point"'):
        trace_chart_svg(rehearsed("cold_start"), "US", {"set point": float("nan")})
