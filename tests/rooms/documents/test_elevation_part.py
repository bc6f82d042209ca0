"""Part 2: the printed stack adds up from bottom to top, rods reach their tips, conflicts come first, problems print."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from itertools import pairwise
from typing import Any

import pytest

from vaporwright.documents.elevation_part import ELEVATION_ROOMS, elevation_data, elevation_svg
from vaporwright.files.catalogue_file import read_catalogue_file
from vaporwright.foundation.notice import Notice
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.body import Body, body_of
from vaporwright.unit.job import build_job
from vaporwright.unit.sizing import size_unit

MONTHLY_GALLONS_m3_s = 3.785411784e-3 / (30.4 * 86400.0)
INCH = 0.0254
MILLIMETRES = {"US": 25.4, "SI": 1.0}


@cache
def case(heat_source: str, **given: float) -> tuple[UnitAnswer, Body]:
    values: dict[str, Any] = {
        "duty.volume": 6000.0 * MONTHLY_GALLONS_m3_s,
        "choices.heat_source": heat_source,
        **{name.replace("__", "."): value for name, value in given.items()},
    }
    answer = size_unit(build_job(values), read_catalogue_file(None)).answer
    return answer, body_of(answer)


def conflicting() -> tuple[UnitAnswer, Body]:
    return case("gas", levels__low=10.0 * INCH, levels__high=12.0 * INCH, levels__overflow=14.0 * INCH)


def column(data: dict[str, Any], start: str) -> dict[str, str]:
    """One column of the stack by the start of its heading, by mark."""
    index = next(index for index, heading in enumerate(data["table"]["columns"]) if heading.startswith(start))
    return {row["cells"][0]: row["cells"][index] for row in data["table"]["rows"]}


def number(text: str) -> float:
    return float(text.replace(",", ""))


def in_mm(texts: dict[str, str], system: str) -> dict[str, float]:
    return {mark: number(text) * MILLIMETRES[system] for mark, text in texts.items() if text}


@pytest.mark.parametrize("system", ["US", "SI"])
@pytest.mark.parametrize("heat_source", ["gas", "electric", "steam"])
def test_the_printed_stack_adds_up(heat_source: str, system: str) -> None:
    """What it is counted from + what its gap must hold + what is to spare = its height, as printed."""
    data = elevation_data(*case(heat_source), system)
    heights, spare = in_mm(column(data, "Height"), system), in_mm(column(data, "To spare"), system)
    holds, counted = column(data, "What the gap must hold"), column(data, "counted from")
    assert len(heights) == 13
    assert list(heights.values()) == sorted(heights.values(), reverse=True)
    for mark, height_mm in heights.items():
        direction, start = counted[mark].split(" ", 1)
        sizes = [number(part.rsplit("\u00a0", 1)[1]) * MILLIMETRES[system] for part in holds[mark].split(" + ") if part]
        from_mm = 0.0 if start == "low corner" else heights[start]
        up = -1.0 if direction == "below" else 1.0
        rounding_mm = 0.006 * 25.4 * (len(sizes) + 3)
        assert height_mm == pytest.approx(from_mm + up * (sum(sizes) + spare[mark]), abs=rounding_mm), mark


@pytest.mark.parametrize("system", ["US", "SI"])
def test_each_rod_hangs_from_the_holder_to_its_mark(system: str) -> None:
    data = elevation_data(*case("gas"), system)
    heights, rods = in_mm(column(data, "Height"), system), in_mm(column(data, "Rod cut to"), system)
    assert set(rods) == {"reference", "low", "refill-on", "refill-off", "high"}
    for mark, length_mm in rods.items():
        assert heights[mark] + length_mm == pytest.approx(heights["rod holder"], abs=0.3)
    heading = data["table"]["columns"][-1]
    assert heading == ("Rod cut to, in ±\u00a00.06" if system == "US" else "Rod cut to, mm ±\u00a01.6")  # 1/16 in


def test_one_refill_in_a_sentence_with_its_figures() -> None:
    answer, body = case("gas")
    text = elevation_data(answer, body, "US")["refill"]
    values: dict[str, Any] = {figure.name: figure.value for figure in body.section("levels").figures}
    gallons, minutes, period, sag, timer = [number(value) for value in re.findall(r"[\d,.]*\d", text)]
    assert gallons == pytest.approx(values["refill_volume_m3"] / 3.785411784e-3, rel=0.006)
    assert minutes == pytest.approx(values["refill_time_s"] / 60.0, rel=0.006)
    assert period == pytest.approx(values["refill_period_s"] / 60.0, rel=0.006)
    assert sag == pytest.approx(1.8 * values["refill_sag_difference_K"], abs=0.06)
    assert timer == pytest.approx(values["refill_timer_s"] / 60.0, rel=0.006)


def test_a_trickle_that_carries_all_leaves_nothing_to_refill() -> None:
    answer, body = case("gas")
    section = body.section("levels")
    figures = tuple(
        replace(figure, value=None) if figure.name == "refill_period_s" else figure for figure in section.figures
    )
    body = replace(body, sections=(replace(section, figures=figures), *body.sections[1:]))
    assert "nothing refills" in elevation_data(answer, body, "US")["refill"]


def test_a_trickle_that_fills_the_tank_is_a_problem_beside_the_stack() -> None:
    answer, body = case("gas", choices__trickle_flow=3.0e-4)
    data = elevation_data(answer, body, "US")
    assert "trickle fills the tank" in data["problem"]
    assert len(data["table"]["rows"]) == 13
    assert data["refill"] == ""


def test_conflicts_are_named_told_and_marked() -> None:
    answer, body = conflicting()
    assert body.levels is not None
    data = elevation_data(answer, body, "US")
    names = [conflict.mark for conflict in body.levels.conflicts]
    assert len(names) >= 3
    assert len(data["conflicts"]) == len(names)
    for name, text in zip(names, data["conflicts"], strict=True):
        assert text.startswith(f"CONFLICT: {name} is ")
        assert "What would resolve it" in text
    assert {row["cells"][0] for row in data["table"]["rows"] if row["conflict"]} == set(names)
    assert {row["cells"][0] for row in data["table"]["rows"] if row["given"]} == {"low", "high", "overflow"}
    assert data["refill"] == "Refill: worked out once the conflicts are resolved."
    terse = elevation_data(answer, body, "US", room=ELEVATION_ROOMS[-1])
    assert terse["conflicts"] == data["conflicts"][:1]
    assert terse["more_conflicts"] == f"and {len(names) - 1} more, marked CONFLICT in the drawing"


def test_no_conflict_no_mark() -> None:
    data = elevation_data(*case("electric"), "US")
    assert data["conflicts"] == []
    assert data["more_conflicts"] == ""
    assert not any(row["conflict"] or row["given"] for row in data["table"]["rows"])


def test_what_else_the_levels_must_watch_is_printed() -> None:
    answer, body = case("gas")
    section = replace(body.section("levels"), notices=(Notice("w", "Watch {0}.", ((0.0254, "short length"),)),))
    body = replace(body, sections=(section, *body.sections[1:]))
    assert elevation_data(answer, body, "SI")["watch"] == ["Watch 25.4\u00a0mm."]


def test_levels_that_cannot_be_solved_say_why() -> None:
    answer, body = case("gas")
    section = replace(body.section("levels"), problem="the pump stands in the sky", figures=())
    data = elevation_data(answer, replace(body, levels=None, sections=(section, *body.sections[1:])), "US")
    assert data["problem"] == "the pump stands in the sky"
    assert data["table"] is None
    assert data["refill"] == ""


def test_the_drawing_has_the_readers_lengths_and_the_title() -> None:
    answer, body = case("gas")
    assert body.levels is not None
    low_m = body.levels.mark("low").height_m
    texts = {system: elevation_svg(answer, body.levels, system, title="A <title>") for system in ("US", "SI")}
    assert f"{low_m / INCH:.2f}\u00a0in" in texts["US"]
    assert f"{low_m * 1e3:,.1f}\u00a0mm" in texts["SI"]
    assert all("A &lt;title&gt;" in text for text in texts.values())


def test_rooms_only_ever_shrink() -> None:
    for room, next_room in pairwise(ELEVATION_ROOMS):
        before = (room.conflicts, room.drawing_width_mm, room.text_size_pt, room.row_gap_pt)
        after = (next_room.conflicts, next_room.drawing_width_mm, next_room.text_size_pt, next_room.row_gap_pt)
        assert before != after
        assert all(old >= new for old, new in zip(before, after, strict=True))
        assert next_room.text_size_pt >= 7.0
