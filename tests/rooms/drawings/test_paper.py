"""The paper that drawings share: texts fit and never overlap, dimensions and scale bar read back, SVG is valid."""

from __future__ import annotations

import itertools
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from read_drawing import Drawing, advances, assert_readable
from vaporwright.drawings.paper import (
    Sheet,
    TitleCell,
    balanced,
    cut,
    dimension_across,
    graphic_scale,
    hatching,
    head,
    one_line,
    paragraphs,
    spread_apart,
    text_width_mm,
    title_block,
    wrapped,
)
from vaporwright.foundation.errors import OutOfRange

CAUTION = "Hot liquor scalds: lock out, drain and cool before opening. Local codes decide. " * 3
CELLS = (TitleCell(0.0, "drawing", "A drawing of nothing"), TitleCell(60.0, "scale", "1 : 20, printed 180 mm wide"))


def inches(length_m: float) -> str:
    return f"{length_m / 0.0254:.2f} in"


def page(sheet: Sheet, height_mm: float, scale: int = 20) -> Drawing:
    return Drawing(sheet.document(height_mm, title="A & B", description="<nothing>", scale=scale))


def test_head_paragraphs_and_title_block_stand_apart_and_on_the_page() -> None:
    sheet = Sheet()
    end_mm = head(sheet, "W" * 100, "It stands. " * 30)
    last_mm = paragraphs(sheet, end_mm, ["One thing to say. " * 12, "Another."])
    drawing = page(sheet, title_block(sheet, last_mm + 3.0, CELLS, CAUTION))
    assert_readable(drawing)
    texts = drawing.texts()
    assert "W…" in texts
    for said in (("It stands. " * 30).strip(), "Another.", "A drawing of nothing", "CAUTION", CAUTION.strip()):
        assert said in texts
    boxes = {box.text: box for box in drawing.boxes()}
    assert boxes["Another."].bottom < boxes["drawing"].top
    assert max(box.bottom for box in boxes.values()) < drawing.height_mm - 1.0
    rules = [e for e in drawing.root.iter() if e.tag.endswith("line") and e.get("x1") == "0.5000"]
    upper_mm, lower_mm = (drawing.y(rule) for rule in rules)
    assert upper_mm < boxes["drawing"].top < boxes["A drawing of nothing"].bottom < lower_mm < boxes["CAUTION"].top


def test_a_sentence_about_something_abnormal_is_bold() -> None:
    for abnormal in (False, True):
        sheet = Sheet()
        head(sheet, "T", "It conflicts.", abnormal=abnormal)
        assert ("font-weight" in sheet.elements[-1]) == abnormal


@pytest.mark.parametrize(("right_mm", "inside"), [(60.0, True), (24.0, False)])
def test_a_dimension_line_has_its_arrowheads_outside_where_it_is_short(right_mm: float, inside: bool) -> None:
    sheet = Sheet()
    dimension_across(sheet, 50.0, (20.0, 30.0), (right_mm, 35.0), more='data-part="measured"')
    drawing = page(sheet, 80.0)
    line = drawing.one("data-part", "measured")
    assert [float(line.get(key, "")) for key in ("x1", "x2", "y1", "y2")] == [20.0, right_mm, 50.0, 50.0]
    tips = [
        [tuple(map(float, pair.split(","))) for pair in e.get("points", "").split()]
        for e in drawing.root.iter()
        if e.tag.endswith("polygon")
    ]
    assert [tip[0] for tip in tips] == [(20.0, 50.0), (right_mm, 50.0)]
    # An arrowhead inside the dimension has its back between the extension lines, pointing at its own.
    assert [20.0 < tip[1][0] < right_mm for tip in tips] == [inside, inside]
    starts = [drawing.y(e) for e in drawing.root.iter() if e.tag.endswith("line") and e.get("x1") == e.get("x2")]
    assert starts == [30.0, 35.0]


@pytest.mark.parametrize("scale", [5, 15, 20, 75, 250])
def test_the_scale_bar_is_as_long_as_it_says(scale: int) -> None:
    sheet = Sheet()
    assert graphic_scale(sheet, 20.0, scale, inches) == 24.0
    drawing = page(sheet, 40.0, scale)
    bar = drawing.one("data-part", "graphic scale")
    bar_m = (float(bar.get("x2", "")) - float(bar.get("x1", ""))) * scale / 1000.0
    assert f"{inches(bar_m)} at 1 : {scale}" in drawing.texts()
    assert bar_m / 0.3048 == pytest.approx(round(bar_m / 0.3048, 1))  # round in feet, for a reader in inches
    boxes = [e for e in drawing.root.iter() if e.tag.endswith("rect")][1:]  # after the page's own
    assert sum(float(box.get("width", "")) for box in boxes) == pytest.approx(1000.0 * bar_m / scale, abs=1e-3)


def test_a_document_escapes_its_words_and_defines_only_what_it_is_given() -> None:
    sheet = Sheet()
    sheet.text(10.0, 10.0, "a < b & c")
    plain = sheet.document(30.0, title="<T>", description="D & D", scale=10)
    root = ElementTree.fromstring(plain)
    title, description = list(root)[:2]
    assert (title.text, description.text) == ("<T>", "D & D")
    assert "<defs>" not in plain
    hatched = ElementTree.fromstring(
        sheet.document(30.0, title="", description="", scale=10, definitions=hatching("mud"))
    )
    (pattern,) = [e for e in hatched.iter() if e.tag.endswith("pattern")]
    assert pattern.get("id") == "mud"


def test_lines_fit_keep_every_word_and_balance() -> None:
    text = "the quick brown fox jumps over a lazy dog and then over another one"
    for fold in (wrapped, balanced):
        lines = fold(text, 2.4, 40.0)
        assert " ".join(lines) == text
        assert all(text_width_mm(line, 2.4) <= 40.0 for line in lines)
    assert len(balanced(text, 2.4, 40.0)) == len(wrapped(text, 2.4, 40.0))

    def longest(lines: list[str]) -> float:
        return max(text_width_mm(line, 2.4) for line in lines)

    assert longest(balanced("one two three four five six seven eight", 2.4, 40.0)) < longest(
        wrapped("one two three four five six seven eight", 2.4, 40.0)
    )
    assert cut("W" * 50, 2.4, 20.0).endswith("W…")
    assert text_width_mm(cut("W" * 50, 2.4, 20.0), 2.4) <= 20.0
    assert one_line("a\x00b\n c\ud800") == "a b c"


def test_widths_are_estimated_no_narrower_than_the_typeface_sets_them() -> None:
    for weight in ("Regular", "Semibold"):
        for letter in (*map(chr, range(0x20, 0x7F)), *"\u00a0±×·°…–½"):
            assert text_width_mm(letter, 1.0) >= advances(weight)[ord(letter)], letter


@given(st.lists(st.tuples(st.floats(-50.0, 150.0), st.floats(0.1, 9.0)), min_size=1, max_size=10))
def test_labels_are_spread_in_order_inside_and_no_further_than_needed(entries: list[tuple[float, float]]) -> None:
    wanted = sorted(place for place, _ in entries)
    sizes = [size for _, size in entries]
    centres = spread_apart(wanted, sizes, 0.0, 100.0)
    edges = [
        edge for centre, size in zip(centres, sizes, strict=True) for edge in (centre - size / 2, centre + size / 2)
    ]
    assert all(upper >= lower - 1e-9 for lower, upper in itertools.pairwise(edges))
    assert edges[0] >= -1e-9
    assert edges[-1] <= 100.0 + 1e-9

    def cost(places: list[float]) -> float:
        return sum((place - want) ** 2 for place, want in zip(places, wanted, strict=True))

    # No other arrangement that is allowed, between this one and any spread elsewhere, is nearer to what is wanted.
    for shift in (-3.0, 3.0):
        other = spread_apart([want + shift for want in wanted], sizes, 0.0, 100.0)
        assert cost(centres) <= cost(other) + 1e-6


def test_two_labels_at_one_place_move_apart_by_half_each() -> None:
    assert spread_apart([10.0, 10.0], [4.0, 2.0], 0.0, 30.0) == pytest.approx([8.5, 11.5])
    assert spread_apart([0.0, 10.0], [4.0, 2.0], 0.0, 30.0) == pytest.approx([2.0, 10.0])
    with pytest.raises(OutOfRange, match="room of the labels"):
        spread_apart([0.0, 1.0], [4.0, 4.0], 0.0, 7.0)
