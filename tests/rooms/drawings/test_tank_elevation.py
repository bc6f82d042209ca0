"""The elevation reads back: heights to scale, texts apart and on the page, conflicts in words, user text escaped."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from read_drawing import Drawing, assert_leaders_keep_order, assert_readable
from vaporwright.drawings.tank_elevation import CAUTION, tank_elevation_svg
from vaporwright.equipment.level_rods import MOVABLE, LevelPlan, LevelStack, level_stack
from vaporwright.equipment.tank_volume import SlopedTank
from vaporwright.foundation.errors import InputError, OutOfRange

INCH = 0.0254
TANK = SlopedTank(1.5, 1.2, 1.35, bottom_slope=0.0125)
PLAN = LevelPlan(
    tank=TANK,
    heater_height_m=0.17,
    heater_volume_m3=0.02,
    start_drawdown_m3=0.05,
    drain_back_m3=0.04,
    refill_flow_m3_s=5e-4,
    overflow_capacity_m3_s=1e-3,
    make_up_bore_m=0.019,
    sludge_depth_m=0.05,
    heater_run_m=1.5,
    overflow_run_m=1.5,
)
CONFLICTING = replace(
    PLAN, overflow_capacity_m3_s=1e-4, fixed_heights_m={"refill-off": 0.70, "high": 0.705, "reference": 0.62}
)
LONG = replace(PLAN, tank=replace(TANK, length_m=6.0))


def inches(length_m: float) -> str:
    return f"{length_m / INCH:.2f} in"


def millimetres(length_m: float) -> str:
    return f"{1000.0 * length_m:,.0f} mm"


def drawn(
    plan: LevelPlan,
    show_length: Callable[[float], str] = inches,
    title: str = "Rinse of an invented shop",
    heater: str = "gas immersion tube, 6.5 in",
    engagement_m: float = 0.0,
) -> tuple[LevelStack, Drawing]:
    stack = level_stack(plan, holder_engagement_m=engagement_m)
    svg = tank_elevation_svg(
        stack,
        title=title,
        tank_length_m=plan.tank.length_m,
        bottom_slope=plan.tank.bottom_slope,
        heater_label=heater,
        show_length=show_length,
    )
    return stack, Drawing(svg)


def assert_to_scale(stack: LevelStack, drawing: Drawing) -> None:
    marks = {mark.name: mark.height_m for mark in (*stack.stack, stack.reference, stack.rod_holder)}
    lines = {e.get("data-mark"): e for e in drawing.all("data-mark")}
    assert set(lines) == {*marks, "low corner"}
    for name, height_m in marks.items():
        assert drawing.y(lines[name]) == drawing.y(lines[name], "y2")
        assert drawing.height_m(drawing.y(lines[name])) == pytest.approx(height_m, abs=0.0005), name
    for rod in stack.rods:
        line = drawing.one("data-rod", rod.name)
        assert drawing.height_m(drawing.y(line, "y2")) == pytest.approx(rod.tip_height_m, abs=0.0005)
        assert drawing.height_m(drawing.y(line)) == pytest.approx(stack.rod_holder.height_m, abs=0.0005)


def assert_conflicts_are_named(stack: LevelStack, drawing: Drawing) -> None:
    named = {conflict.mark for conflict in stack.conflicts}
    for element in drawing.all("data-mark"):
        conflict = element.get("data-mark") in named
        assert element.get("data-conflict") == ("yes" if conflict else "no")
        assert (element.get("stroke-dasharray") is not None) == conflict
    words = drawing.texts().count("CONFLICT:")
    assert words == (len(stack.conflicts) + 1 if stack.conflicts else 0)


@pytest.mark.parametrize("plan", [PLAN, CONFLICTING, LONG], ids=["plain", "conflicts", "broken"])
def test_heights_read_back_and_texts_stand_apart(plan: LevelPlan) -> None:
    for show_length in (inches, millimetres):
        stack, drawing = drawn(plan, show_length)
        assert_to_scale(stack, drawing)
        assert_readable(drawing)
        assert_leaders_keep_order(drawing)
        assert_conflicts_are_named(stack, drawing)
        for mark in stack.stack:
            assert show_length(mark.height_m) in drawing.texts()


def test_rods_are_drawn_as_long_as_they_are_cut_and_say_so() -> None:
    stack, drawing = drawn(PLAN, millimetres)
    for rod in stack.rods:
        line = drawing.one("data-rod", rod.name)
        assert rod.cut_length_m is not None
        drawn_m = (drawing.y(line, "y2") - drawing.y(line)) * drawing.scale / 1000.0
        assert drawn_m == pytest.approx(rod.cut_length_m, abs=0.0005)
        assert f"{rod.name} {millimetres(rod.cut_length_m)} ± {millimetres(rod.tolerance_m)}" in drawing.texts()
    longer, engaged = drawn(PLAN, millimetres, engagement_m=0.05)
    assert longer.rods[0].cut_length_m == pytest.approx(stack.rods[0].cut_length_m + 0.05)  # type: ignore[operator]
    assert "what the holder takes up" in engaged.texts()
    assert "what the holder takes up" not in drawing.texts()


def test_tank_heater_sludge_liquor_and_openings_are_to_scale() -> None:
    stack, drawing = drawn(PLAN)
    (bottom,) = drawing.points("bottom")
    (x1, y1), (x2, y2) = bottom[:2]
    assert (x2 - x1) * drawing.scale / 1000.0 == pytest.approx(1.5, abs=0.0005)
    assert drawing.height_m(y1) == pytest.approx(0.0, abs=0.0005)
    assert drawing.height_m(y2) == pytest.approx(1.5 * 0.0125, abs=0.0005)
    for wall in ("low wall", "far wall"):
        assert drawing.height_m(drawing.points(wall)[0][0][1]) == pytest.approx(1.35, abs=0.0005)
    heater = drawing.one("data-part", "heater")
    top_m = drawing.height_m(drawing.y(heater, "y"))
    assert top_m == pytest.approx(stack.mark("heater top").height_m, abs=0.0005)
    assert float(heater.get("height", "")) * drawing.scale / 1000.0 == pytest.approx(0.17, abs=0.0005)
    (sludge,) = drawing.points("sludge")
    assert drawing.height_m(sludge[0][1]) == pytest.approx(0.0125 * 1.5 + 0.05, abs=0.0005)
    assert sludge[2] == pytest.approx((x2, y2), abs=0.001)  # lies on the bottom
    for part, mark in (("liquor surface", "refill-off"), ("overflow lip", "overflow")):
        assert drawing.height_m(drawing.y(drawing.one("data-part", part))) == pytest.approx(
            stack.mark(mark).height_m, abs=0.0005
        )
    for edge in drawing.all("data-part", "make-up outlet"):
        gap_m = drawing.height_m(drawing.y(edge, "y2")) - 1.35
        assert gap_m == pytest.approx(2.0 * 0.019, abs=0.0005)  # air gap: two bores
    bar = drawing.one("data-part", "graphic scale")
    bar_mm = float(bar.get("x2", "")) - float(bar.get("x1", ""))
    assert f"{inches(bar_mm * drawing.scale / 1000.0)} at 1 : {drawing.scale}" in drawing.texts()


def test_a_bottom_without_sludge_shows_none_and_a_flat_one_no_rise() -> None:
    assert not drawn(replace(PLAN, sludge_depth_m=0.0))[1].points("sludge")
    _, drawing = drawn(replace(PLAN, tank=replace(TANK, bottom_slope=0.0)))
    assert "rises" not in drawing.texts()
    assert "rises" in drawn(PLAN)[1].texts()


def test_a_long_low_tank_is_broken_and_both_ends_stay_to_scale() -> None:
    _, whole = drawn(PLAN)
    _, drawing = drawn(LONG)
    assert not whole.all("data-part", "break")
    assert drawing.all("data-part", "break")
    assert "drawn broken" in drawing.texts()
    one, other = drawing.points("bottom")
    for (x1, y1), (x2, y2) in (one[:2], other[:2]):
        assert (y1 - y2) / (x2 - x1) == pytest.approx(0.0125, abs=1e-4)
    assert drawing.height_m(other[1][1]) == pytest.approx(6.0 * 0.0125, abs=0.0005)
    levels = {drawing.y(line) for line in drawing.all("data-part", "liquor surface")}
    assert len(levels) == 1


def test_conflicts_come_first_in_words_and_name_what_resolves_them() -> None:
    stack, drawing = drawn(CONFLICTING)
    texts = drawing.texts()
    marks = {conflict.mark for conflict in stack.conflicts}
    assert {"high", "reference", "overflow"} <= marks
    assert "Cut no rod to this drawing before that is resolved" in texts
    assert "No conflict" not in texts
    assert "passes less than the refill flow" in texts
    assert "a longer reference rod" in texts
    high = next(conflict for conflict in stack.conflicts if conflict.mark == "high")
    assert f"{inches(high.size)} too low against refill-off" in texts
    reference = next(conflict for conflict in stack.conflicts if conflict.mark == "reference")
    assert f"{inches(reference.size)} too high against low" in texts
    for rod in ("high", "reference"):
        assert drawing.one("data-rod", rod).get("stroke-dasharray")
    assert "No conflict in the stack-up" in drawn(PLAN)[1].texts()


def test_a_reference_in_the_sludge_is_too_low() -> None:
    stack, drawing = drawn(replace(PLAN, fixed_heights_m={"reference": 0.01}))
    assert [conflict.against for conflict in stack.conflicts] == ["sludge top"]
    assert f"{inches(stack.conflicts[0].size)} too low against sludge top" in drawing.texts()


def test_a_rod_whose_tip_is_above_the_holder_has_no_length() -> None:
    stack, drawing = drawn(replace(PLAN, fixed_heights_m={"rod holder": 0.5}))
    assert any(rod.cut_length_m is None for rod in stack.rods)
    assert "no length: tip above holder" in drawing.texts()
    assert_readable(drawing)
    assert_to_scale(stack, drawing)


def test_the_caution_stands_on_every_drawing() -> None:
    for plan in (PLAN, CONFLICTING):
        texts = drawn(plan)[1].texts()
        assert CAUTION in texts
    for word in ("no protection", "listed low-water cut-off of another principle", "no safety approval"):
        assert word in CAUTION


def test_user_text_is_escaped_and_cut() -> None:
    wild = 'A & B <script>alert("x")</script>\x00\x0b\ud800\n' + "W" * 400
    _, drawing = drawn(PLAN, title=wild, heater="<b>&amp;</b> " + "heater " * 60)
    assert not [e for e in drawing.root.iter() if e.tag.endswith("script") or e.tag.endswith("}b")]
    assert 'A & B <script>alert("x")</script> WWW' in drawing.texts()
    assert "…" in drawing.texts()
    assert_readable(drawing)


def test_a_heater_box_too_thin_for_its_label_has_it_in_the_column() -> None:
    _, drawing = drawn(replace(PLAN, heater_height_m=0.01, heater_volume_m3=0.001), heater="electric bundle")
    assert "heater top electric bundle" in drawing.texts()
    assert_readable(drawing)


def test_bad_input_is_named() -> None:
    stack = level_stack(PLAN)

    def draw(length_m: float = 1.5, slope: float = 0.0125, show: Callable[[float], str] = inches) -> str:
        return tank_elevation_svg(
            stack, title="", tank_length_m=length_m, bottom_slope=slope, heater_label="", show_length=show
        )

    assert draw()
    with pytest.raises(OutOfRange, match=r"^tank_length_m = 25"):
        draw(length_m=25.0)
    with pytest.raises(OutOfRange, match=r"^bottom_slope = nan"):
        draw(slope=math.nan)
    with pytest.raises(InputError, match=r"bottom_slope.*stack-up has 0\.01875 m"):
        draw(slope=0.02)
    with pytest.raises(OutOfRange, match=r"^highest mark_m = .*allowed 0 to 25"):
        drawn(replace(PLAN, tank=SlopedTank(1.5, 0.2, 1.35), start_drawdown_m3=20.0))
    with pytest.raises(InputError, match=r"show_length: '.* of an inch' is too long"):
        draw(show=lambda length_m: f"{length_m / INCH:.5f} of an inch")


@st.composite
def plans(draw: st.DrawFn) -> LevelPlan:
    """Tanks of every shape, marks that nearly coincide, marks put anywhere."""
    length, wall = draw(st.floats(0.3, 12.0)), draw(st.floats(0.4, 3.0))
    rise = min(draw(st.sampled_from([0.0, 0.02, 0.2])) * wall, 0.45 * length)
    near = draw(st.floats(0.0, wall))
    anywhere, close = st.floats(0.0, 4.0), st.floats(near, near + 0.004)
    start = draw(st.floats(0.0, 0.2))
    return replace(
        PLAN,
        tank=SlopedTank(length, draw(st.floats(0.5, 2.0)), wall, bottom_slope=rise / length),
        heater_height_m=draw(st.floats(0.005, 0.5)),
        heater_volume_m3=0.0,
        start_drawdown_m3=start,
        drain_back_m3=0.5 * start,
        overflow_capacity_m3_s=draw(st.sampled_from([1e-4, 1e-3])),
        sludge_depth_m=draw(st.sampled_from([0.0, 0.05])),
        foam_m=draw(st.sampled_from([0.0, 0.1])),
        fixed_heights_m=draw(st.dictionaries(st.sampled_from(MOVABLE), anywhere | close, max_size=len(MOVABLE))),
    )


@settings(max_examples=150, deadline=None)
@given(plans(), st.sampled_from([inches, millimetres]))
def test_any_stack_reads_back_and_no_two_texts_overlap(plan: LevelPlan, show_length: Callable[[float], str]) -> None:
    stack, drawing = drawn(plan, show_length)
    assert_to_scale(stack, drawing)
    assert_readable(drawing)
    assert_leaders_keep_order(drawing)
    assert_conflicts_are_named(stack, drawing)


@given(st.text(max_size=60), st.text(max_size=60))
@settings(max_examples=40, deadline=None)
def test_any_title_and_heater_make_a_valid_page(title: str, heater: str) -> None:
    _, drawing = drawn(PLAN, title=title, heater=heater)
    assert_to_scale(level_stack(PLAN), drawing)
    assert_leaders_keep_order(drawing)
