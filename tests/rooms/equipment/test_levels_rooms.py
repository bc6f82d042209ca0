"""Bad input to tank, level rods and return: one clear error each; conflicts keep what was put."""

import math
from dataclasses import replace

import pytest

from vaporwright.equipment.gravity_return import (
    ReturnPipe,
    froude_number,
    head_over_outlet_m,
    return_in_air,
    self_venting_capacity_m3_s,
    vented_downcomer,
)
from vaporwright.equipment.level_rods import RODS, LevelPlan, LevelPractice, level_stack
from vaporwright.equipment.tank_volume import (
    ImmersedBody,
    SlopedTank,
    drain_time_s,
    level_after_change_m,
    level_at_volume_m,
    refill_cycle,
    tank_shell_kg,
    tank_weights,
    volume_at_level_m3,
)
from vaporwright.foundation.errors import OutOfRange

TANK = SlopedTank(1.8, 1.2, 1.0, bottom_slope=0.02)
PLAN = LevelPlan(
    tank=TANK,
    heater_height_m=0.15,
    heater_volume_m3=0.02,
    start_drawdown_m3=0.05,
    drain_back_m3=0.04,
    refill_flow_m3_s=5e-4,
    overflow_capacity_m3_s=6e-4,
    make_up_bore_m=0.025,
    sludge_depth_m=0.05,
)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("length_m", 0.0),
        ("width_m", math.nan),
        ("wall_height_m", 6.0),
        ("bottom_slope", -0.01),
        ("bottom_slope", 0.51),
    ],
)
def test_bad_tanks(key, value):
    with pytest.raises(OutOfRange, match=rf"^{key} = .*allowed"):
        replace(TANK, **{key: value})


def test_a_body_below_the_bottom_and_one_that_fills_the_tank():
    with pytest.raises(OutOfRange, match=r"bottom_m = -0\.1.*low corner"):
        ImmersedBody(-0.1, 0.2, 0.01)
    with pytest.raises(OutOfRange, match="no room for liquor"):
        replace(TANK, immersed=(ImmersedBody(0.2, 0.1, 0.3),))
    with pytest.raises(OutOfRange, match="no room for liquor"):
        replace(TANK, immersed=(ImmersedBody(0.001, 0.1, 0.05),))


def test_levels_and_volumes_outside_the_tank():
    with pytest.raises(OutOfRange, match="level_m"):
        volume_at_level_m3(TANK, 1.01)
    with pytest.raises(OutOfRange, match="level_m"):
        volume_at_level_m3(TANK, -0.01)
    with pytest.raises(OutOfRange, match="volume_m3"):
        level_at_volume_m(TANK, 2.2)
    with pytest.raises(OutOfRange, match=r"added_m3.*than the tank holds"):
        level_after_change_m(TANK, level_m=0.1, added_m3=-1.0)
    with pytest.raises(OutOfRange, match="expansion_ratio"):
        level_after_change_m(TANK, level_m=0.1, expansion_ratio=2.0)


GOOD_DRAIN = {"from_level_m": 0.8, "to_level_m": 0.0, "drain_bore_m": 0.05, "loss_coefficient": 2.0}


@pytest.mark.parametrize(
    ("key", "value"),
    [("to_level_m", 0.9), ("drain_bore_m", 0.0), ("loss_coefficient", -0.1), ("outlet_drop_m", -1.0)],
)
def test_bad_drains(key, value):
    with pytest.raises(OutOfRange, match=f"^{key}"):
        drain_time_s(TANK, **{**GOOD_DRAIN, key: value})


GOOD_REFILL = {
    "refill_on_m": 0.5,
    "refill_off_m": 0.55,
    "refill_flow_m3_s": 5e-4,
    "evaporation_m3_s": 4e-5,
    "liquor_temperature_K": 333.15,
    "feed_temperature_K": 288.15,
    "liquor_heat_capacity_J_m3K": 4.1e6,
    "feed_heat_capacity_J_m3K": 4.2e6,
}


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("refill_off_m", 0.49),
        ("refill_off_m", 1.1),
        ("refill_flow_m3_s", 4e-5),
        ("trickle_flow_m3_s", 5e-5),
        ("feed_temperature_K", 15.0),
        ("liquor_heat_capacity_J_m3K", 4180.0),
    ],
)
def test_bad_refills(key, value):
    with pytest.raises(OutOfRange, match=f"^{key}"):
        refill_cycle(TANK, **{**GOOD_REFILL, key: value})


def test_no_evaporation_needs_no_refill():
    cycle = refill_cycle(TANK, **{**GOOD_REFILL, "evaporation_m3_s": 0.0})
    assert cycle.period_s is None
    assert cycle.sag_difference_K == 0.0


def test_bad_weights():
    with pytest.raises(OutOfRange, match="thickness_m"):
        tank_shell_kg(TANK, thickness_m=3.0, shell_density_kg_m3=8000.0)
    with pytest.raises(OutOfRange, match="bearing_area_m2"):
        tank_weights(
            TANK,
            empty_kg=300.0,
            packing_kg=0.0,
            operating_level_m=0.5,
            liquor_density_kg_m3=1000.0,
            hold_up_kg=0.0,
            bearing_area_m2=0.0,
        )


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("heater_height_m", 0.0),
        ("drain_back_m3", 0.06),
        ("expansion_ratio", 0.99),
        ("foam_m", -0.01),
        ("refill_run_on_s", math.nan),
        ("make_up_bore_m", 0.0),
        ("sludge_depth_m", -0.1),
    ],
)
def test_bad_plans(key, value):
    with pytest.raises(OutOfRange, match=f"^{key}"):
        replace(PLAN, **{key: value})


@pytest.mark.parametrize("rod", RODS)
def test_a_rod_below_the_bottom(rod):
    with pytest.raises(OutOfRange, match=rf"height_m of {rod} = -0\.05: .*low corner"):
        replace(PLAN, fixed_heights_m={rod: -0.05})


@pytest.mark.parametrize("mark", ["rim", "heater top", "sludge top", "hgih"])
def test_marks_that_cannot_be_given(mark):
    with pytest.raises(OutOfRange, match="can be given: heater bottom, low"):
        replace(PLAN, fixed_heights_m={mark: 0.5})


@pytest.mark.parametrize(
    ("key", "value"), [("refill_band_m", -0.01), ("floor_tilt", 0.5), ("air_gap_bores", 1.0), ("least_air_gap_m", 0.0)]
)
def test_bad_practice(key, value):
    with pytest.raises(OutOfRange, match=f"^{key}"):
        LevelPractice(**{key: value})


def test_bad_cutting():
    with pytest.raises(OutOfRange, match="cut_tolerance_m"):
        level_stack(PLAN, cut_tolerance_m=0.02)
    with pytest.raises(OutOfRange, match="holder_engagement_m"):
        level_stack(PLAN, holder_engagement_m=-0.01)


def test_a_good_plan_has_no_conflict_and_five_rods():
    stack = level_stack(PLAN, holder_engagement_m=0.02)
    assert stack.conflicts == ()
    assert [rod.name for rod in stack.rods] == list(RODS)
    for rod in stack.rods:
        assert rod.tip_height_m + rod.cut_length_m - 0.02 == pytest.approx(stack.rod_holder.height_m)


def test_a_swapped_rod_is_a_conflict_and_drags_no_other():
    """Refill-on put below low: it stays there, is named, and the rest stand as though it were right."""
    least = level_stack(PLAN).mark("refill-on").least_height_m
    low = level_stack(PLAN).mark("low").height_m
    stack = level_stack(replace(PLAN, fixed_heights_m={"refill-on": low - 0.02}))
    (conflict,) = stack.conflicts
    assert (conflict.mark, conflict.against) == ("refill-on", "low")
    assert conflict.size == pytest.approx(least - low + 0.02)
    assert stack.mark("refill-on").height_m == pytest.approx(low - 0.02)
    assert stack.mark("refill-off").height_m >= least
    changes = [remedy.change for remedy in conflict.remedies]
    assert changes[0] == "raise refill-on"
    assert "a lower heater" in changes


def test_an_overflow_smaller_than_the_refill():
    (conflict,) = level_stack(replace(PLAN, overflow_capacity_m3_s=4e-4)).conflicts
    assert (conflict.mark, conflict.against, conflict.unit) == ("overflow", "refill flow", "m3/s")
    assert conflict.size == pytest.approx(1e-4)


def test_a_reference_in_the_sludge_and_one_that_dries_first():
    (deep,) = level_stack(replace(PLAN, fixed_heights_m={"reference": 0.02})).conflicts
    assert (deep.mark, deep.against) == ("reference", "sludge top")
    (high,) = level_stack(replace(PLAN, fixed_heights_m={"reference": 0.6})).conflicts
    assert (high.mark, high.against) == ("reference", "low")
    assert high.remedies[0].change == "a longer reference rod"


def test_a_holder_below_a_tip_leaves_that_rod_uncut():
    high = level_stack(PLAN).mark("high").height_m
    stack = level_stack(replace(PLAN, fixed_heights_m={"rod holder": high - 0.01}))
    assert [conflict.mark for conflict in stack.conflicts] == ["rod holder"]
    assert [rod.name for rod in stack.rods if rod.cut_length_m is None] == ["high"]


def test_foam_lifts_low_and_high():
    """A rod in foam reads wet: low trips late, high early; both get the foam's depth."""
    calm, foamy = level_stack(PLAN), level_stack(replace(PLAN, foam_m=0.1))
    assert foamy.mark("low").height_m - calm.mark("low").height_m == pytest.approx(0.1)
    assert foamy.mark("high").least_height_m - foamy.mark("refill-off").height_m == pytest.approx(
        calm.mark("high").least_height_m - calm.mark("refill-off").height_m + 0.1, abs=0.005
    )


RETURN = {
    "flow_m3_s": 0.003,
    "high_rod_m": 0.6,
    "sump_bottom_m": 1.0,
    "sump_depth_m": 0.2,
    "level_run_m": 1.0,
    "distance_to_suction_m": 2.0,
    "distance_to_thermometer_m": 2.0,
}


@pytest.mark.parametrize(
    ("key", "value"),
    [("flow_m3_s", 0.0), ("high_rod_m", -0.1), ("sump_depth_m", -0.1), ("margin_m", 0.0), ("level_run_m", math.nan)],
)
def test_bad_returns(key, value):
    with pytest.raises(OutOfRange, match=f"^{key}"):
        return_in_air(**{**RETURN, key: value})


def test_a_return_wider_than_any_pipe():
    with pytest.raises(OutOfRange, match="two returns"):
        return_in_air(**{**RETURN, "flow_m3_s": 0.1})
    with pytest.raises(OutOfRange, match="two returns"):
        return_in_air(**RETURN, pipes=())


def test_bad_pipes_and_numbers():
    with pytest.raises(OutOfRange, match="bore_m"):
        ReturnPipe("thin", 0.0)
    with pytest.raises(OutOfRange, match="bore_m"):
        froude_number(0.001, -0.1)
    with pytest.raises(OutOfRange, match="greatest_froude_number"):
        self_venting_capacity_m3_s(0.1, 0.5)
    with pytest.raises(OutOfRange, match="froude_number"):
        head_over_outlet_m(0.01, 0.1)
    with pytest.raises(OutOfRange, match="submergence_m"):
        vented_downcomer(**RETURN, low_rod_m=0.4, sludge_top_m=0.05, submergence_m=0.0)


def test_a_sump_too_shallow_for_its_return():
    (conflict,) = return_in_air(**{**RETURN, "sump_depth_m": 0.05}).conflicts
    assert conflict.name == "sump depth"
    assert conflict.size_m == pytest.approx(head_over_outlet_m(0.003, 0.15405) - 0.05)
