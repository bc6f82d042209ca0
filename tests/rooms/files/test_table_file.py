"""Table files: what is written reads back as the same table, and each mistake is named by file, row and key."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invented_controls import invented_design
from unit_controls import BARE, HEATS, STOPS, unit_control
from vaporwright.controls.expansion import expanded
from vaporwright.controls.expressions import All, Any, Expr, Is, Not, Was
from vaporwright.controls.table import Comparator
from vaporwright.controls.unit_signals import UnitOptions
from vaporwright.files.condition_text import WORDS, condition_text, read_condition
from vaporwright.files.table_file import read_table_file, read_table_text, table_text
from vaporwright.foundation.errors import InputError
from vaporwright.unit.heat import HeatKind

NAMES = st.from_regex(r"[a-z][a-z0-9]{0,5}(_[a-z0-9]{1,4}){0,2}", fullmatch=True).filter(lambda name: name not in WORDS)
ATOMS: st.SearchStrategy[Expr] = st.one_of(NAMES.map(Is), NAMES.map(Was), st.sampled_from((All(()), Any(()))))


def groups(parts: st.SearchStrategy[Expr]) -> st.SearchStrategy[Expr]:
    many = st.lists(parts, min_size=2, max_size=4).map(tuple)
    return st.one_of(parts.map(Not), many.map(All), many.map(Any))


@given(st.recursive(ATOMS, groups, max_leaves=12))
def test_a_condition_reads_back_as_it_was(expr: Expr) -> None:
    assert read_condition(condition_text(expr), where="f", key="k") == expr


@pytest.mark.parametrize(
    ("text", "expr"),
    [
        ("low_rod", Is("low_rod")),
        ("not low_rod", Not(Is("low_rod"))),
        ("was run", Was("run")),
        ("not was run", Not(Was("run"))),
        ("a and b or c", Any((All((Is("a"), Is("b"))), Is("c")))),
        ("a and (b or c)", All((Is("a"), Any((Is("b"), Is("c")))))),
        ("not (a or b)", Not(Any((Is("a"), Is("b"))))),
        ("not a and b", All((Not(Is("a")), Is("b")))),
        ("  ( a ) and(b)", All((Is("a"), Is("b")))),
        ("true", All(())),
        ("false", Any(())),
    ],
)
def test_conditions_by_hand(text: str, expr: Expr) -> None:
    assert read_condition(text, where="f", key="k") == expr


@pytest.mark.parametrize(
    ("text", "position", "allowed"),
    [
        ("", 1, "a name, not, was, true, false, ("),
        ("a and", 6, "a name, not"),
        ("a b", 3, "and, or, the end"),
        ("a and and b", 7, "a name, not"),
        ("(a or b", 8, "and, or, )"),
        ("a) or b", 2, "no parenthesis is open"),
        ("was not a", 5, "a name behind was"),
        ("was was", 5, "a name behind was"),
        ("a & b", 3, "and, or, the end"),
        ("A", 1, "a name, not"),
        ("_a", 1, "a name, not"),
        ("not " * 60 + "a", 201, "at most 50 deep"),
    ],
)
def test_a_misspelt_condition_is_shown_its_position_and_what_may_stand_there(
    text: str, position: int, allowed: str
) -> None:
    with pytest.raises(InputError) as caught:
        read_condition(text, where="f.toml", key="row.r: when")
    assert (caught.value.where, caught.value.key) == ("f.toml", "row.r: when")
    assert f"position {position} of" in caught.value.problem
    assert allowed in caught.value.allowed


def test_a_condition_of_any_length_is_no_trap() -> None:
    with pytest.raises(InputError, match="at most 2000"):
        read_condition("(" * 3000, where="f", key="k")


@pytest.mark.parametrize("heat", HEATS)
@pytest.mark.parametrize("options", [UnitOptions(), STOPS, BARE])
def test_a_unit_table_reads_back_equal(heat: HeatKind, options: UnitOptions) -> None:
    control = unit_control(heat, options)
    read = read_table_text(table_text(control.design, control.reasons), "t.toml")
    assert read.design == control.design
    assert dict(read.reasons) == control.reasons
    assert expanded(read.design) == expanded(control.design)


def test_the_invented_table_reads_back_equal(tmp_path: Path) -> None:
    path = tmp_path / "table.toml"
    path.write_text(table_text(invented_design()), encoding="utf-8")
    assert read_table_file(path).design == invented_design()
    assert not read_table_file(path).reasons


def test_limits_are_written_in_trade_units() -> None:
    text = table_text(unit_control("gas").design)
    assert 'limit = "155 degF"\nhysteresis = "2 degF"' in text
    assert 'when = "not low_rod"\ndelay = "4 s"\nlatched = true' in text
    assert 'scan = "0.1 s"' in text


def test_a_shop_edits_a_delay_and_a_set_point() -> None:
    control = unit_control("gas")
    text = table_text(control.design, control.reasons)
    edited = text.replace('when = "not low_rod"\ndelay = "4 s"', 'when = "not low_rod"\ndelay = "5000 ms"')
    edited = edited.replace("5000 ms", "5 s").replace('limit = "155 degF"', 'limit = "66 degC"')
    design = read_table_text(edited, "t.toml").design
    assert next(row for row in design.rows if row.name == "low_level").delay_s == 5.0
    assert next(item for item in design.comparators if item.name == "at_set_point").limit == pytest.approx(339.15)


SMALL = """
[table]
name = "small"
scan = "0.1 s"
[panel]
silence = "silence"
acknowledge = "acknowledge"
reset = "reset"
[signal.wet]
title = "rod"
kind = "rod"
on_means = "wet"
[signal.silence]
title = "silence"
kind = "button"
on_means = "pushed"
[signal.acknowledge]
title = "acknowledge"
kind = "button"
on_means = "pushed"
[signal.reset]
title = "reset"
kind = "button"
on_means = "pushed"
[comparator.hot]
quantity = "tank_temperature_K"
side = "above"
limit = "160 degF"
hysteresis = "1 degF"
[effect.pump]
title = "pump"
kind = "motor"
wins = "off"
[row.level]
title = "level is up"
when = "wet"
on = ["pump"]
[row.dry]
title = "level is low"
when = "not wet"
delay = "4 s"
latched = true
alarm = "high"
first_out = "trips"
off = ["pump"]
"""


def test_the_small_file_is_right() -> None:
    design = read_table_text(SMALL, "small.toml").design
    assert [row.name for row in design.rows] == ["level", "dry"]
    assert design.comparators == (Comparator("hot", "tank_temperature_K", "above", 344.261111, 0.555556),)


@pytest.mark.parametrize(
    ("old", "new", "key", "problem"),
    [
        ('when = "not wet"', 'when = "not wett"', "row.dry: when", 'unknown signal wett, at position 5 of "not wett"'),
        ('when = "not wet"', 'when = "was wett or wet"', "row.dry: when", "unknown signal wett, at position 5"),
        ('when = "not wet"', 'when = "not"', "row.dry: when", "position 4"),
        ('when = "not wet"', 'when = "wet and not wet"', "row.dry: when", "can never be true"),
        ('when = "not wet"', 'when = "pump"', "row.dry: when", "pump"),
        ('when = "not wet"\n', "", "row.dry: when", "missing"),
        ('when = "not wet"', "when = 3", "row.dry: when", "3 is not a text"),
        ('delay = "4 s"', 'delay = "4.05 s"', "row.dry: delay", "no whole number of scans"),
        ('delay = "4 s"', 'delay = "25 h"', "row.dry: delay", "out of range"),
        ('delay = "4 s"', 'delay = "0 s"', "row.dry: delay", "is no delay"),
        ('delay = "4 s"', "delay = 4", "row.dry: delay", "4 has no unit"),
        ('delay = "4 s"', 'delay = "4 degF"', "row.dry: delay", '"4 degF"'),
        ("latched = true", 'latched = "yes"', "row.dry: latched", "not a yes or no"),
        ("latched = true", "latched = false\nreset = 'wet'", "row.dry: reset", "has a reset but is not latched"),
        ("latched = true", "latched = true\nreset = 'wet and not wet'", "row.dry: reset", "reset can never be true"),
        ("latched = true", "latched = true\nreset = 'wet or ham'", "row.dry: reset", "at position 8"),
        ('alarm = "high"', 'alarm = "loud"', "row.dry: alarm", "not among the choices"),
        ('off = ["pump"]', 'off = ["pmup"]', "row.dry: off", 'no effect; unknown key; nearest valid key: pump'),
        ('off = ["pump"]', 'off = ["pump"]\nneed = ["pump"]', "row.dry: need", '"pump" stands under off too'),
        ('off = ["pump"]', 'of = ["pump"]', "row.dry: of", "nearest valid key"),
        ('wins = "off"\n', "", "effect.pump", "level turns it on while dry turns it off"),
        ('on = ["pump"]', "on = []", "effect.pump", "no row turns it on"),
        ('wins = "off"', 'wins = "neither"', "effect.pump: wins", "not among the choices"),
        ('[row.dry]', "[row.wet]", "row.wet", "written twice"),
        ('[row.dry]', "[row.and]", "and", "word of the conditions"),
        ('[row.dry]', "[row.Dry]", "row.Dry", "can't be a name"),
        ('[row.dry]', "[rows.dry]", "rows", "nearest valid key: row"),
        ('scan = "0.1 s"', 'scan = "1 h"', "table: scan", "too high"),
        ('scan = "0.1 s"', 'scan = "0.0125 s"', "table: scan", "no whole number of milliseconds"),
        ('silence = "silence"', 'silence = "quiet"', "panel: silence", "quiet is a button of the alarm panel but no"),
        ('limit = "160 degF"', 'limit = "160 F"', "comparator.hot: limit", '"160 F"'),
        ('hysteresis = "1 degF"', 'hysteresis = "-1 degF"', "comparator.hot: hysteresis", "too low"),
        ('quantity = "tank_temperature_K"', 'quantity = "mood"', "comparator.hot: quantity", "no unit"),
        ('side = "above"', 'side = "beside"', "comparator.hot: side", "not among the choices"),
        ('[effect.pump]\ntitle = "pump"', '[effect.pump]', "effect.pump: title", "missing"),
        ('on_means = "wet"', "", "signal.wet: on_means", "missing"),
    ],
)  # fmt: skip
def test_a_mistake_is_named_by_file_row_and_key(old: str, new: str, key: str, problem: str) -> None:
    assert old in SMALL
    with pytest.raises(InputError) as caught:
        read_table_text(SMALL.replace(old, new, 1), "small.toml")
    assert caught.value.where == "small.toml"
    assert caught.value.key == key
    assert problem in caught.value.problem
    assert "\n" not in str(caught.value)


def test_an_alarm_without_a_panel_is_named() -> None:
    start, end = SMALL.index("[panel]"), SMALL.index("[signal.wet]")
    with pytest.raises(InputError) as caught:
        read_table_text(SMALL[:start] + SMALL[end:], "small.toml")
    assert caught.value.key == "row.dry: latched"


@pytest.mark.parametrize("section", ["table", "signal", "effect", "row"])
def test_a_missing_section_is_named(section: str) -> None:
    kept = [block for block in SMALL.split("\n[") if not block.lstrip("[").startswith(section)]
    with pytest.raises(InputError) as caught:
        read_table_text("\n[".join(kept), "small.toml")
    assert caught.value.key == section


def test_what_has_no_text_is_refused_when_written() -> None:
    design = invented_design()
    word = replace(design.rows[0], name="was")
    with pytest.raises(InputError, match="word of the conditions"):
        table_text(replace(design, rows=(word, *design.rows[1:])))
    odd = tuple(replace(item, quantity="mood") for item in design.comparators)
    with pytest.raises(InputError, match='quantity: "mood" has no unit'):
        table_text(replace(design, comparators=odd))
