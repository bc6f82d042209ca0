"""The column of heights: lines at the heights, labels apart and in order, what is abnormal marked by more than ink."""

from __future__ import annotations

import pytest

from read_drawing import Drawing, assert_leaders_keep_order, assert_readable
from vaporwright.drawings.height_column import AXIS_mm, HeightLabel, height_column
from vaporwright.drawings.paper import Sheet

LONG = "2.00 in too low against what it is measured from"
CROWDED = (
    HeightLabel("lip", 40.0, "40.00 in", (), False, 100.0),
    HeightLabel("crown", 40.5, "39.50 in", ("a word", "another"), False, 90.0),
    HeightLabel("low", 41.0, "39.00 in", (f"CONFLICT: {LONG}",) * 2, True, 95.0),
    HeightLabel("floor", 80.0, "0.00 in", (), False, 110.0),
)


def drawn(labels: tuple[HeightLabel, ...], foot_mm: float = 90.0) -> tuple[float, Drawing]:
    sheet = Sheet()
    end_mm = height_column(sheet, labels, top_mm=20.0, foot_mm=foot_mm)
    return end_mm, Drawing(sheet.document(120.0, title="", description="", scale=20), zero="floor")


def test_crowded_labels_stand_apart_each_led_to_from_its_height() -> None:
    end_mm, drawing = drawn(CROWDED)
    assert_readable(drawing)
    assert_leaders_keep_order(drawing)
    assert end_mm <= 90.0
    for label in CROWDED:
        line, leader = drawing.one("data-mark", label.name), drawing.one("data-leader", label.name)
        assert (drawing.y(line), float(line.get("x1", "")), float(line.get("x2", ""))) == (
            label.y_mm,
            label.from_mm,
            AXIS_mm,
        )
        assert drawing.y(leader) == label.y_mm
        (name,) = [box for box in drawing.boxes() if box.text == label.name]
        assert name.top < drawing.y(leader, "y2") < name.bottom
    assert drawing.height_m(40.0) == pytest.approx(0.8)  # 40 mm of paper at 1 : 20
    axis = drawing.one("data-part", "axis")
    assert (drawing.y(axis), drawing.y(axis, "y2")) == (80.0, 40.0)


def test_flags_share_a_line_where_they_fit_and_are_broken_where_they_do_not() -> None:
    _, drawing = drawn(CROWDED)
    texts = [box.text for box in drawing.boxes()]
    assert "a word; another" in texts
    assert not [text for text in texts if text.startswith("CONFLICT") and text.endswith("from")]
    assert drawing.texts().count(f"CONFLICT: {LONG}") == 2


def test_a_conflict_is_dashed_heavier_and_has_a_shape_of_its_own() -> None:
    _, drawing = drawn(CROWDED)
    for label in CROWDED:
        line = drawing.one("data-mark", label.name)
        assert line.get("data-conflict") == ("yes" if label.conflict else "no")
        assert (line.get("stroke-dasharray") is not None) == label.conflict
        assert (float(line.get("stroke-width", "")) > 0.4) == label.conflict
    assert len([e for e in drawing.root.iter() if e.tag.endswith("polygon")]) == 1


def test_labels_that_need_more_room_end_lower() -> None:
    end_mm, drawing = drawn(CROWDED, foot_mm=30.0)
    assert end_mm > 30.0
    assert_readable(drawing)


def test_the_order_in_which_labels_are_given_does_not_matter() -> None:
    upwards = Sheet()
    height_column(upwards, CROWDED[::-1], top_mm=20.0, foot_mm=90.0)
    downwards = Sheet()
    height_column(downwards, CROWDED, top_mm=20.0, foot_mm=90.0)
    assert upwards.elements == downwards.elements
