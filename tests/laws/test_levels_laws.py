"""Laws of tank and levels: inverses, order, what moves and what stays."""

import itertools
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vaporwright.equipment.gravity_return import self_venting_bore_m, self_venting_capacity_m3_s
from vaporwright.equipment.level_rods import MOVABLE, ORDER, LevelPlan, LevelPractice, level_stack
from vaporwright.equipment.tank_volume import (
    ImmersedBody,
    SlopedTank,
    drain_time_s,
    level_after_change_m,
    level_at_volume_m,
    refill_cycle,
    volume_at_level_m3,
)

SHARES = st.floats(0.0, 1.0)


@st.composite
def tanks(draw):
    length, width, wall = draw(st.floats(0.5, 6.0)), draw(st.floats(0.5, 3.0)), draw(st.floats(0.4, 2.0))
    rise = min(draw(st.sampled_from([0.0, 1e-6, 0.02, 0.3])) * wall, 0.45 * length)
    bottom, height = rise + draw(SHARES) * 0.3, draw(st.floats(0.01, 0.3))
    body = ImmersedBody(bottom, height, draw(st.floats(0.0, 0.4)) * length * width * height)
    return SlopedTank(length, width, wall, bottom_slope=rise / length, immersed=(body,))


@st.composite
def plans(draw):
    """Plans good and bad, with up to four marks put anywhere."""
    start = draw(st.floats(0.0, 0.3))
    fixed = draw(st.dictionaries(st.sampled_from(MOVABLE), st.floats(0.0, 3.0), max_size=4))
    kept = ("floor_tilt", "air_gap_bores", "least_air_gap_m", "rod_tolerance_m")
    gaps = {name: st.floats(0.0, 0.1) for name in vars(LevelPractice()) if name not in kept}
    return LevelPlan(
        tank=replace(draw(tanks()), immersed=()),
        heater_height_m=draw(st.floats(0.02, 0.5)),
        heater_volume_m3=draw(st.floats(0.0, 0.002)),
        start_drawdown_m3=start,
        drain_back_m3=start * draw(SHARES),
        refill_flow_m3_s=draw(st.floats(0.0, 0.002)),
        overflow_capacity_m3_s=draw(st.floats(0.0, 0.004)),
        make_up_bore_m=draw(st.floats(0.01, 0.05)),
        overflow_head_m=draw(st.floats(0.0, 0.05)),
        expansion_ratio=draw(st.floats(1.0, 1.04)),
        sludge_depth_m=draw(st.floats(0.0, 0.1)),
        foam_m=draw(st.floats(0.0, 0.2)),
        heater_run_m=draw(st.floats(0.0, 3.0)),
        overflow_run_m=draw(st.floats(0.0, 3.0)),
        fixed_heights_m=fixed,
        practice=draw(st.just(LevelPractice()) | st.builds(LevelPractice, **gaps)),
    )


@given(tanks(), SHARES)
def test_level_and_volume_are_inverse(tank, share):
    level = share * tank.wall_height_m
    volume = volume_at_level_m3(tank, level)
    back = level_at_volume_m(tank, volume)
    # On a wedge that is nearly a point the level is the root of a rounded volume.
    assert back == pytest.approx(level, rel=1e-9, abs=1e-12)
    assert volume_at_level_m3(tank, back) == pytest.approx(volume, rel=1e-9, abs=1e-15)


@given(tanks(), SHARES, SHARES)
def test_volume_rises_with_level(tank, one, other):
    low, high = sorted((one * tank.wall_height_m, other * tank.wall_height_m))
    if high - low > 1e-6:
        assert volume_at_level_m3(tank, high) > volume_at_level_m3(tank, low)


@given(tanks(), st.floats(0.2, 1.0), st.floats(0.0, 0.2), st.floats(1.0, 1.05))
def test_what_is_added_and_warmed_can_be_taken_and_cooled(tank, share, added, ratio):
    level = share * tank.wall_height_m
    up = level_after_change_m(tank, level_m=level, added_m3=added, expansion_ratio=ratio)
    assert up >= level * (1.0 - 1e-12)
    cool = level_after_change_m(tank, level_m=up, expansion_ratio=1.0 / ratio)
    assert level_after_change_m(tank, level_m=cool, added_m3=-added) == pytest.approx(level, rel=1e-9)


@given(tanks(), SHARES, st.floats(0.0, 0.5))
def test_draining_in_two_steps_takes_as_long(tank, share, drop):
    def drain(from_m, to_m, bore_m=0.05, loss=2.0):
        return drain_time_s(
            tank, from_level_m=from_m, to_level_m=to_m, drain_bore_m=bore_m, loss_coefficient=loss, outlet_drop_m=drop
        )

    wall = tank.wall_height_m
    whole = drain(wall, 0.0)
    assert drain(wall, share * wall) + drain(share * wall, 0.0) == pytest.approx(whole, rel=1e-9)
    assert drain(wall, 0.0, bore_m=0.1) == pytest.approx(whole / 4.0, rel=1e-9)
    assert drain(wall, 0.0, loss=11.0) == pytest.approx(2.0 * whole, rel=1e-9)


@given(st.floats(0.3, 0.5), st.floats(0.01, 0.2), st.floats(1.0, 60.0), st.floats(0.0, 0.99))
def test_a_refill_sags_between_nothing_and_the_feed(on, band, difference, trickle):
    cycle = refill_cycle(
        SlopedTank(2.0, 1.0, 1.0),
        refill_on_m=on,
        refill_off_m=on + band,
        refill_flow_m3_s=5e-4,
        evaporation_m3_s=4e-5,
        liquor_temperature_K=285.0 + difference,
        feed_temperature_K=285.0,
        liquor_heat_capacity_J_m3K=4.1e6,
        feed_heat_capacity_J_m3K=4.2e6,
        trickle_flow_m3_s=trickle * 4e-5,
    )
    assert 0.0 < cycle.sag_difference_K < difference
    assert cycle.fill_time_s < cycle.period_s
    # One cycle's refill and trickle replace one cycle's evaporation.
    fed = 5e-4 * cycle.fill_time_s + trickle * 4e-5 * cycle.period_s
    assert fed == pytest.approx(4e-5 * cycle.period_s, rel=1e-9)


@settings(max_examples=150, deadline=None)
@given(plans())
def test_nothing_is_out_of_order_without_a_named_conflict(plan):
    stack = level_stack(plan)
    named = {conflict.mark for conflict in stack.conflicts}
    for lower, upper in itertools.combinations(stack.stack, 2):
        if upper.height_m < lower.height_m - 1e-9:
            assert {lower.name, upper.name} & named, (lower, upper)
    for mark in (stack.reference, *stack.stack[3:]):
        if stack.rod_holder.height_m < mark.height_m and mark.name not in ("rim", "make-up outlet"):
            assert {mark.name, "rod holder"} & named
    if stack.reference.height_m > stack.mark("low").height_m + 1e-9:
        assert {"reference", "low"} & named
    for conflict in stack.conflicts:
        assert conflict.size > 0.0
        assert conflict.remedies[0].enough


@settings(max_examples=150, deadline=None)
@given(plans())
def test_marks_stay_where_they_are_put_and_gaps_hold_their_allowances(plan):
    stack = level_stack(plan)
    named = {conflict.mark for conflict in stack.conflicts}
    for name, height in plan.fixed_heights_m.items():
        assert stack.mark(name).height_m == height
        assert stack.mark(name).given
    for lower, upper in itertools.pairwise(stack.stack):
        if upper.name not in named:
            need = sum(part.rise_m for part in upper.allowances)
            assert upper.height_m - lower.height_m >= need - 2e-9 or lower.name in named
    low = {conflict.mark for conflict in stack.conflicts if conflict.unit == "m"}
    for mark in stack.stack:
        assert (mark.margin_m < -1e-9) == (mark.name in low)


@settings(max_examples=150, deadline=None)
@given(plans(), st.sampled_from(MOVABLE), st.floats(0.0, 3.0))
def test_moving_one_mark_never_swaps_others(plan, moved, height):
    before = level_stack(plan)
    after = level_stack(replace(plan, fixed_heights_m={**plan.fixed_heights_m, moved: height}))
    others = [name for name in ORDER if name != moved and name not in plan.fixed_heights_m and name != "rim"]
    for stack in (before, after):
        heights = [stack.mark(name).height_m for name in others]
        assert heights == sorted(heights)
    if moved in ORDER:
        for name in ORDER[: ORDER.index(moved)]:
            assert after.mark(name).height_m == before.mark(name).height_m


@settings(max_examples=60, deadline=None)
@given(plans(), st.floats(0.01, 0.3))
def test_what_a_remedy_says_it_frees_is_freed(plan, drop):
    tall = replace(plan, fixed_heights_m={}, tank=replace(plan.tank, wall_height_m=5.0))
    need = level_stack(tall).mark("rim").least_height_m
    low = replace(tall, tank=replace(plan.tank, wall_height_m=max(need - drop, 0.4)))
    for conflict in level_stack(low).conflicts:
        if conflict.mark == "rim":
            frees = {remedy.change: remedy.frees for remedy in conflict.remedies}
            assert frees["a taller tank"] == pytest.approx(conflict.size)
            calm = level_stack(replace(low, practice=replace(low.practice, wave_m=0.0))).mark("rim").margin_m
            gain = calm + conflict.size
            assert frees.get("a calmer surface at the rods (stilling well)", 0.0) == pytest.approx(gain, abs=2e-6)


@given(st.floats(1e-4, 0.1), st.floats(0.05, 0.3))
def test_self_venting_bore_and_capacity_are_inverse(flow, froude):
    bore = self_venting_bore_m(flow, froude)
    if bore < 1.0:
        assert self_venting_capacity_m3_s(bore, froude) == pytest.approx(flow, rel=1e-12)
