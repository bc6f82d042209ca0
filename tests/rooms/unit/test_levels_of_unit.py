"""A sized unit's tank, heater and refill reach the stack-up; a conflict is named, never reordered."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from invented_unit import BURNER, HEATER, TANK, unit
from vaporwright.unit.answer import UnitAnswer, answer_for
from vaporwright.unit.job import build_job
from vaporwright.unit.levels import displaced_by_heater_m3, key_of, levels_of, levels_section, refill_of

INCH = 0.0254
RISING = ("heater top", "low", "refill-on", "refill-off", "high", "high-high", "overflow", "rim")


def answered(parts: dict[str, Any] | None = None, **given: Any) -> UnitAnswer:
    values = {key.replace("__", "."): value for key, value in given.items()}
    return answer_for(build_job({"duty.volume": 8.6e-6, **values}), unit(**(parts or {})))


def test_usual_gaps_between_usual_parts() -> None:
    # Common practice, no source: 2.5, 2 and 3 in from low over the refill band to high, 4 in and tilt over the heater.
    stack = levels_of(answered({"tank": replace(TANK, height_m=4.5 * 0.3048)}))
    heights = [stack.mark(name).height_m for name in RISING]  # type: ignore[arg-type]
    assert heights == sorted(heights)
    low, on, off, high = (stack.mark(name).height_m for name in ("low", "refill-on", "refill-off", "high"))
    assert [(on - low) / INCH, (off - on) / INCH, (high - off) / INCH] == pytest.approx([2.5, 2.0, 3.0], abs=0.01)
    cover_m = low - stack.mark("heater top").height_m
    tilt_m = 0.125 / 12.0 * TANK.length_m
    assert cover_m >= 4.0 * INCH + tilt_m
    assert stack.conflicts == ()


def test_a_tank_too_low_for_its_heater_is_named() -> None:
    stack = levels_of(answered({"tank": replace(TANK, height_m=0.8)}))
    assert stack.conflicts
    conflict = stack.conflicts[0]
    assert conflict.mark == "rim"
    assert any("taller tank" in remedy.change and remedy.enough for remedy in conflict.remedies)


def test_more_sludge_lifts_every_level_above_it() -> None:
    parts = {"tank": replace(TANK, height_m=4.5 * 0.3048)}
    clean, dirty = (levels_of(answered(parts, choices__sludge_depth=depth)) for depth in (1.0 * INCH, 3.0 * INCH))
    assert dirty.mark("low").height_m - clean.mark("low").height_m == pytest.approx(2.0 * INCH, abs=0.05 * INCH)


def test_what_heaters_displace() -> None:
    tube_m3 = math.pi / 4.0 * (6.5 * INCH) ** 2 * 50.0 * 0.3048
    assert displaced_by_heater_m3(BURNER) == pytest.approx(tube_m3)
    # rods: area pi d L, volume pi d^2 / 4 L
    assert displaced_by_heater_m3(HEATER) == pytest.approx(HEATER.sheath_area_m2 * 0.475 * INCH / 4.0)


def test_a_refill_cools_the_tank_by_what_it_mixes_in() -> None:
    answer = answered({"tank": replace(TANK, height_m=4.5 * 0.3048)}, liquid__dissolved_solids=0.0)
    stack = levels_of(answer)
    cycle = refill_of(answer, stack)
    # By hand: 2 in over 28 ft2 of free surface; the tank holds the rest below, less the heater and half the slope.
    band_m3 = 2.0 * INCH * TANK.length_m * TANK.width_m
    assert cycle.band_m3 == pytest.approx(band_m3, rel=1e-6)
    area_m2 = TANK.length_m * TANK.width_m
    held_m3 = area_m2 * (stack.mark("refill-on").height_m - 0.5 * 0.125 / 12.0 * TANK.length_m)
    held_m3 -= displaced_by_heater_m3(BURNER)
    season = answer.seasons[answer.governing]
    apart_K = season.settling_temperature_K - answer.job.number("liquid.feed_temperature")
    # heat capacities of hot and cold water differ by 1 to 2 % in volume
    assert cycle.sag_difference_K == pytest.approx(apart_K * band_m3 / (held_m3 + band_m3), rel=0.025)
    seven_gpm = 7.0 * 3.785411784e-3 / 60.0
    assert cycle.fill_time_s is not None
    assert cycle.fill_time_s == pytest.approx(band_m3 / (seven_gpm - season.evaporation_kg_s / 998.2), rel=0.01)


TALL = {"tank": replace(TANK, height_m=4.5 * 0.3048)}


def test_a_given_mark_stays_and_those_above_follow_or_the_conflict_is_named() -> None:
    solved = levels_of(answered(TALL))
    low_m = solved.mark("low").height_m
    raised = levels_of(answered(TALL, levels__low=low_m + 2.0 * INCH))
    assert raised.conflicts == ()
    assert raised.mark("low").height_m == pytest.approx(low_m + 2.0 * INCH)
    for name in ("refill-on", "refill-off", "high", "overflow"):
        moved = raised.mark(name).height_m - solved.mark(name).height_m  # type: ignore[arg-type]
        assert moved == pytest.approx(2.0 * INCH, abs=0.02 * INCH)
    for name in ("heater bottom", "heater top", "sludge top"):
        assert raised.mark(name).height_m == solved.mark(name).height_m  # type: ignore[arg-type]
    answer = answered(TALL, levels__low=low_m - 1.0 * INCH)
    section = levels_section(answer, levels_of(answer))
    (notice,) = section.notices
    assert notice.text.startswith("CONFLICT: low is")
    assert notice.figures[0][0] == pytest.approx(1.0 * INCH)
    assert "raise low" in notice.text
    assert section.value("low_rod_m") is not None
    assert {figure.name for figure in section.figures} >= {f"{key_of(mark.name)}_m" for mark in solved.stack}


def test_foam_raises_the_marks_and_the_rim() -> None:
    calm, foaming = (levels_of(answered(TALL, liquid__foam_depth=depth_m)) for depth_m in (0.0, 2.0 * INCH))
    # Common practice, no source: a rod in foam reads wet, so low rises by the foam; the rim stands 12 in above high.
    assert foaming.mark("low").height_m - calm.mark("low").height_m == pytest.approx(2.0 * INCH)
    assert foaming.mark("rim").least_height_m >= foaming.mark("high").height_m + 12.0 * INCH - 1e-9


def test_an_overflow_narrower_than_the_refill_is_a_conflict() -> None:
    # 1 in vents itself up to 0.3 sqrt(g D) pi D^2 / 4 = 0.0759e-3 m3/s (by hand), the refill brings 7 gal/min, 0.44e-3.
    narrow = answered({"tank": replace(TANK, height_m=4.5 * 0.3048, overflow_bore_m=INCH)})
    (conflict,) = levels_of(narrow).conflicts
    assert (conflict.mark, conflict.against, conflict.unit) == ("overflow", "refill flow", "m3/s")
    assert conflict.size == pytest.approx(0.4416e-3 - 0.0759e-3, rel=0.01)


def test_a_trickle_as_large_as_the_evaporation_leaves_nothing_to_refill() -> None:
    answer = answered(TALL)
    season = answer.seasons[answer.governing]
    leaves_m3_s = (season.evaporation_kg_s + season.operation.drift_kg_s) / 998.2
    half = answered(TALL, choices__trickle_flow=0.5 * leaves_m3_s)
    plain, slowed = (refill_of(each, levels_of(each)) for each in (answer, half))
    assert plain.period_s is not None
    assert slowed.period_s is not None
    assert slowed.period_s > 1.85 * plain.period_s  # half the loss, and the fill itself
    fed = answered(TALL, choices__trickle_flow=leaves_m3_s)
    assert refill_of(fed, levels_of(fed)).period_s is None


def test_a_working_depth_that_the_rods_never_reach_is_said() -> None:
    stack = levels_of(answered(TALL))
    middle_m = 0.5 * (stack.mark("refill-on").height_m + stack.mark("refill-off").height_m)
    for depth_m, named in ((middle_m, False), (middle_m + 5.0 * INCH, True), (middle_m - 5.0 * INCH, True)):
        answer = answered({"tank": replace(TALL["tank"], working_depth_m=depth_m)})
        names = [notice.name for notice in levels_section(answer, levels_of(answer)).notices]
        assert ("working depth" in names) == named
