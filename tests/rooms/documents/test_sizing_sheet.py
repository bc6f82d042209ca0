"""The sizing sheet: part 1's numbers are the answer's; all data reaches the page; text stays text; same bytes."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cache
from importlib.resources import as_file, files
from itertools import pairwise
from typing import Any

import pytest

from vaporwright.display_units import to_shown
from vaporwright.documents.connection_part import connection_data
from vaporwright.documents.elevation_part import elevation_data, elevation_svg
from vaporwright.documents.printed import plain
from vaporwright.documents.sheet_tables import ranked_assumptions
from vaporwright.documents.sizing_sheet import ROOMS, TEMPLATES, page_count, sheet_data, sizing_sheet_pdf
from vaporwright.files.catalogue_file import read_catalogue_file
from vaporwright.foundation.notice import Notice
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.body import Body, body_of
from vaporwright.unit.figures import Section
from vaporwright.unit.job import SEASONS, build_job
from vaporwright.unit.questions import Question, questions_for
from vaporwright.unit.rate_curve import RateCurve, rate_curves
from vaporwright.unit.sizing import size_unit

MONTHLY_GALLONS_m3_s = 3.785411784e-3 / (30.4 * 86400.0)
GALLON_PER_HOUR_kg_s = 3.785411784e-3 * 998.2 / 3600.0
BTU_J = 1055.05585262
GALLON_m3 = 3.785411784e-3
NASTY = '#let x = 1; $a*b$ _it_ @ref <lab> `raw` \\ // /* "quoted" \u202e ŻÓŁĆ 東京\t\n\x00 ' + "W" * 300

Case = tuple[UnitAnswer, tuple[Question, ...], tuple[RateCurve, ...]]


@cache
def case(heat_source: str, priced: bool = False) -> Case:
    given: dict[str, Any] = {
        "duty.volume": 6000.0 * MONTHLY_GALLONS_m3_s,
        "choices.heat_source": heat_source,
        "job.name": "Effluent, building 4",
        "job.customer": "Invented Finishing",
    }
    if priced:
        given |= {"utilities.fuel_price": 1.0e-8, "utilities.power_price": 3.0e-8, "utilities.steam_price": 0.02}
    answer = size_unit(build_job(given), read_catalogue_file(None)).answer
    return answer, questions_for(answer, given), rate_curves(answer)


@cache
def body_of_case(heat_source: str, priced: bool = False) -> Body:
    return body_of(case(heat_source, priced)[0])


def data_of(heat_source: str, system: str, **changes: Any) -> dict[str, Any]:
    answer, questions, _ = case(heat_source)
    return sheet_data(answer, questions, system, **changes)


def number(text: str) -> float:
    return float(text.split("\u00a0")[0].replace(",", ""))


def close(text: str, value: float) -> bool:
    """Printed to three digits, or to a tenth of a degree; whole degrees from a hundred on."""
    return abs(number(text) - value) <= (0.501 if abs(value) >= 99.9 else 0.051)


def with_texts(found: Case, **texts: str) -> UnitAnswer:
    answer = found[0]
    values: Mapping[str, Any] = {**answer.job.values, **{key.replace("__", "."): text for key, text in texts.items()}}
    return replace(answer, job=replace(answer.job, values=values))


@pytest.mark.parametrize("system", ["US", "SI"])
@pytest.mark.parametrize("heat_source", ["gas", "electric", "steam"])
def test_capacity_rows_are_the_answers(heat_source: str, system: str) -> None:
    answer = case(heat_source)[0]
    table = data_of(heat_source, system)["capacity"]
    assert table["columns"][1] == "Tank settles at"
    results = [*(answer.seasons[season] for season in SEASONS), answer.end_of_batch]
    for row, result in zip(table["rows"], results, strict=True):
        operation = result.operation
        assert close(row[1], to_shown(result.settling_temperature_K, "temperature", system))
        rates = (
            operation.evaporation_kg_s,
            operation.tower_evaporation_kg_s,
            operation.surface_evaporation_kg_s,
        )
        for text, rate in zip(row[2:5], rates, strict=True):
            shown = rate / GALLON_PER_HOUR_kg_s if system == "US" else rate * 3600.0
            assert number(text) == pytest.approx(shown, rel=0.006)
            assert text.endswith("gal/h" if system == "US" else "kg/h")
        over = result.evaporation_kg_s / answer.required_kg_s - 1.0
        assert row[6] == (f"{100.0 * over:.0f}\u00a0% over" if over >= 0.0 else f"{-100.0 * over:.0f}\u00a0% short")


def test_a_short_unit_is_called_short() -> None:
    answer, questions, _ = case("gas")
    short = replace(answer, required_kg_s=2.0 * answer.capacity_kg_s)
    data = sheet_data(short, questions, "US")
    assert data["headline"].endswith("the unit is too small.")
    row = data["capacity"]["rows"][SEASONS.index(answer.governing)]
    assert row[6] == "50\u00a0% short"


def rows_of(data: dict[str, Any]) -> dict[str, list[str]]:
    return {row[0]: row[1:] for row in data["utilities"]["rows"]}


def test_gas_utilities() -> None:
    answer = case("gas")[0]
    rows = rows_of(data_of("gas", "US"))
    for index, season in enumerate(SEASONS):
        result = answer.seasons[season]
        detail: Any = result.heat.detail
        volume_m3_s = result.evaporation_kg_s / 998.2
        expected = {
            "Gas, gross": ("Btu/h", result.heat.drawn_W * 3600.0 / BTU_J),
            "Gas, standard volume": ("cfh", detail.fuel_flow_standard_m3_s * 3600.0 / 0.3048**3),
            "Heat into the tank, of gross": ("%", 100.0 * result.heat.heat_W / result.heat.drawn_W),
            "Flue gas leaving the tube": ("°F", detail.stack_temperature_K * 1.8 - 459.67),
            "Heat per volume evaporated": ("Btu/gal", result.heat_W / volume_m3_s * GALLON_m3 / BTU_J),
            "Gross fuel per volume": ("Btu/gal", result.fuel_or_power_W / volume_m3_s * GALLON_m3 / BTU_J),
            "Blower power": ("kW", result.blower_power_W / 1e3),
            "Pump power": ("kW", result.pump_power_W / 1e3),
            "Air to the blower": (
                "cfm",
                answer.unit.towers * result.operation.tower.blower_flow_m3_s * 60.0 / 0.3048**3,
            ),
            "Exhaust air": ("°F", result.operation.tower.rating.air_out_temperature_K * 1.8 - 459.67),
        }
        for name, (unit, value) in expected.items():
            assert rows[name][0] == unit
            assert number(rows[name][1 + index]) == pytest.approx(value, rel=0.006), name
        misty = result.operation.tower.rating.air_leaves_misty
        assert (rows["Exhaust humidity"][1 + index] == "mist") is misty


def test_gas_per_gallon_is_what_trade_expects() -> None:
    # Common practice, no source: near 7.3 gal per 100,000 Btu gross, so near 13,700 Btu/gal.
    fuel = [number(text) for text in rows_of(data_of("gas", "US"))["Gross fuel per volume"][1:]]
    assert all(11_000.0 < value < 16_000.0 for value in fuel)


def test_electric_utilities_and_circuits() -> None:
    answer = case("electric")[0]
    data = data_of("electric", "US")
    result = answer.seasons[answer.governing]
    detail: Any = result.heat.detail
    assert number(rows_of(data)["Electric heat"][1]) == pytest.approx(
        answer.seasons["summer"].heat.drawn_W / 1e3, rel=0.006
    )
    notes = data["utility_notes"]
    assert "480\u00a0V" in notes
    current = detail.power_W / (3.0**0.5 * result.conditions.heat_site.supply_voltage_V)
    printed = next(part for part in notes.split(", ") if part.endswith("a line"))
    assert number(printed) == pytest.approx(current, rel=0.006)
    assert "(125\u00a0%)" in notes


def test_steam_utilities() -> None:
    answer = case("steam")[0]
    data = data_of("steam", "US")
    detail: Any = answer.seasons["winter"].heat.detail
    unit, *values = rows_of(data)["Steam"]
    assert unit == "lb/h"
    assert number(values[1]) == pytest.approx(detail.steam_flow_kg_s * 3600.0 / 0.45359237, rel=0.006)
    assert "15.0\u00a0psi\u00a0gauge" in data["utility_notes"].replace("psi gauge", "psi\u00a0gauge")


def test_energy_cost_only_where_prices_are_given() -> None:
    assert "Energy cost of evaporation" not in rows_of(data_of("gas", "US"))
    answer, questions, _ = case("gas", True)
    rows = rows_of(sheet_data(answer, questions, "US"))
    result = answer.seasons["summer"]
    cost_USD_s = 1.0e-8 * result.fuel_or_power_W + 3.0e-8 * (result.blower_power_W + result.pump_power_W)
    per_gallon = cost_USD_s / (result.evaporation_kg_s / 998.2) * GALLON_m3
    assert number(rows["Energy cost of evaporation"][1]) == pytest.approx(per_gallon, rel=0.006)


def test_mean_load_only_where_the_clamp_cuts_the_heat() -> None:
    answer, questions, _ = case("gas")
    assert "Mean load of the heat source" not in rows_of(sheet_data(answer, questions, "US"))
    seasons = {**answer.seasons, "summer": replace(answer.seasons["summer"], load=0.62)}
    rows = rows_of(sheet_data(replace(answer, seasons=seasons), questions, "US"))
    assert number(rows["Mean load of the heat source"][1]) == pytest.approx(62.0)


def test_questions_come_ranked_with_what_they_move_and_safety_always() -> None:
    _, questions, _ = case("gas")
    for room in (ROOMS[0], ROOMS[-1]):
        data = data_of("gas", "US", room=room)
        assert len(data["questions"]) == room.questions
        first = max(questions, key=lambda question: question.moves_kg_s)
        assert data["questions"][0]["text"] == first.text
        shown = f"{first.moves_kg_s / GALLON_PER_HOUR_kg_s:.1f}\u00a0gal/h"
        assert data["questions"][0]["moves"] == f"Moves the {first.moves} by {shown}."
        assert "no flammable" in data["questions"][-1]["text"]
        assert data["more_questions"] == f"and {len(questions) - room.questions} more in the report"


def test_assumptions_printed_and_counted_add_up() -> None:
    answer, questions, _ = case("gas")
    for room in ROOMS:
        data = sheet_data(answer, questions, "US", room=room)
        left, right = data["assumptions"]
        printed = [*left, *right]
        everything = ranked_assumptions(answer, questions, "US")
        assert [entry["meaning"] for entry in printed] == [entry["meaning"] for entry in everything[: len(printed)]]
        assert len(printed) == min(room.assumptions, len(everything))
        hidden = len(answer.job.assumptions) - len(printed)
        assert data["more_assumptions"] == (f"and {hidden} more in the report" if hidden else "")


def test_assumptions_say_which_air_and_what_basis() -> None:
    answer, questions, _ = case("gas")
    texts = {entry["meaning"]: entry for entry in ranked_assumptions(answer, questions, "US")}
    assert texts["Wet bulb of summer air"]["value"] == "74 °F"
    assert not any("that air" in meaning for meaning in texts)
    assert texts["Outdoor air, yearly average"]["basis"] == "midway between summer and winter"
    assert texts["Dissolved solids of the feed"] == {
        "meaning": "Dissolved solids of the feed",
        "value": "5,000 mg/L",
        "basis": "",
    }


def test_assumptions_that_move_the_answer_come_first_and_what_is_not_given_last() -> None:
    answer, questions, _ = case("electric")
    entries = ranked_assumptions(answer, questions, "US")
    assert len(entries) == len(answer.job.assumptions)
    not_given = [entry["value"] == "not given" for entry in entries]
    assert any(not_given)
    assert not_given == sorted(not_given)
    moves = {question.key: question.moves_kg_s for question in questions}
    meanings = {
        entry.meaning: moves.get(entry.key, -1.0) for entry in answer.job.assumptions if entry.value is not None
    }
    moving = [meanings[entry["meaning"]] for entry in entries if entry["meaning"] in meanings]
    assert moving[0] > 0.0
    assert moving == sorted(moving, reverse=True)


def test_rooms_only_ever_shrink() -> None:
    for room, next_room in pairwise(ROOMS):
        before = (room.questions, room.assumptions, room.warnings, room.plot_height_px)
        after = (next_room.questions, next_room.assumptions, next_room.warnings, next_room.plot_height_px)
        assert before != after
        assert all(old >= new for old, new in zip(before, after, strict=True))


def test_warnings_come_in_the_readers_units_and_what_is_left_out_is_counted() -> None:
    answer, questions, _ = case("gas")
    notices = tuple(Notice(f"n{index}", "Too hot: {0}.", ((333.15, "temperature"),)) for index in range(9))
    seasons = {season: replace(result, warnings=notices) for season, result in answer.seasons.items()}
    data = sheet_data(replace(answer, seasons=seasons), questions, "US", room=replace(ROOMS[0], warnings=4))
    assert data["warnings"] == ["Too hot: 140\u00a0°F."] * 4
    assert data["more_warnings"] == "and 5 more in the report"


@pytest.mark.slow
@pytest.mark.parametrize(("system", "paper"), [("US", "us-letter"), ("SI", "a4")])
@pytest.mark.parametrize("heat_source", ["gas", "electric", "steam"])
def test_three_parts_and_the_same_bytes_each_time(heat_source: str, system: str, paper: str) -> None:
    answer, questions, curves = case(heat_source)
    body = body_of_case(heat_source)
    assert data_of(heat_source, system)["paper"] == paper
    pdf = sizing_sheet_pdf(answer, body, questions, curves, system, made_on="2 March 2026")
    assert pdf.startswith(b"%PDF-")
    assert page_count(pdf) in (3, 4)  # parts 1 and 2 take one page each, or there is no sheet
    assert pdf == sizing_sheet_pdf(answer, body, questions, curves, system, made_on="2 March 2026")
    assert b"CreationDate" not in pdf


@pytest.mark.slow
def test_pages_in_the_worst_case() -> None:
    answer, questions, curves = case("gas", True)
    text = "A warning that goes on for two lines of the column, says what is out of range and what to do about it."
    notices = tuple(Notice(f"n{index}", f"{text} Number {index}.") for index in range(12))
    seasons = {
        season: replace(result, warnings=notices, load=0.7, limit="tower" if season == "summer" else "heat")
        for season, result in answer.seasons.items()
    }
    tower = replace(answer.unit.tower, name="tower with a long name that a shop gave it " * 4)
    tank = replace(answer.unit.tank, name=NASTY)
    heater = replace(answer.unit.heat_source, name=NASTY)
    texts = {"job__name": NASTY, "job__customer": NASTY, "liquid__description": NASTY}
    unit = replace(answer.unit, tower=tower, tank=tank, heat_source=heater)
    worst = replace(with_texts(case("gas", True), **texts), seasons=seasons, unit=unit)
    body = conflicting_body()
    for system in ("US", "SI"):
        assert page_count(sizing_sheet_pdf(worst, body, questions, curves, system, made_on=NASTY)) in (3, 4)


@cache
def conflicting_body() -> Body:
    heights = {"low": 0.25, "refill_on": 0.5, "refill_off": 0.2, "high": 0.3, "overflow": 0.35, "reference": 0.8}
    given: dict[str, Any] = {f"levels.{name}": height_m for name, height_m in heights.items()}
    job = build_job({**case("gas", True)[0].job.values, **given, "choices.sludge_depth": 0.75})
    body = body_of(replace(case("gas", True)[0], job=job))
    assert len(body.conflicts) > 6
    return body


def test_unsolved_sections_leave_a_sheet() -> None:
    answer, questions, curves = case("gas")
    sections = tuple(
        Section(old.key, old.title, problem="#panic() = 7: allowed 0 to 1") for old in body_of_case("gas").sections
    )
    nothing = Body(sections, None, None, None, "pH = 99")
    assert page_count(sizing_sheet_pdf(answer, nothing, questions, curves, "US")) == 3


# What the templates print: every text that typst sets, asked of typst itself


def printed(answer: UnitAnswer, questions: tuple[Question, ...], body: Body, system: str) -> str:
    """All text of the three parts, loosely."""
    import typst

    folder = files("vaporwright") / "documents"
    asked = b"#show text: it => [#it#metadata(it.text)<printed>]"
    template = b"\n".join([asked, *((folder / "templates" / name).read_bytes() for name in TEMPLATES)])
    data = {
        "sheet": sheet_data(answer, questions, system),
        "elevation": elevation_data(answer, body, system),
        "connections": connection_data(answer, body, system),
    }
    drawing = "" if body.levels is None else elevation_svg(answer, body.levels, system, title="tank")
    inputs = {
        "parts": "123",
        "chart": '<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"/>',
        "drawing": drawing,
        **{name: json.dumps(entry) for name, entry in data.items()},
    }
    with as_file(folder / "fonts") as fonts:
        query: Any = typst.query
        found = query(
            template,
            "<printed>",
            field="value",
            font_paths=[str(fonts)],
            ignore_system_fonts=True,
            sys_inputs=inputs,
        )
    return loose("".join(json.loads(found)))


def loose(text: str) -> str:
    """Text without spaces, in small letters: typst sets words in pieces, and verdicts in capitals."""
    return re.sub(r"[\s\u200b]", "", text).lower()


@pytest.mark.parametrize("heat_source", ["gas", "electric", "steam"])
def test_all_data_of_the_body_reaches_the_page(heat_source: str) -> None:
    answer, questions, _ = case(heat_source)
    body = body_of_case(heat_source)
    text = printed(answer, questions, body, "US")
    for entry in [elevation_data(answer, body, "US"), connection_data(answer, body, "US")]:
        for words in texts_of(entry, {"tank", "section", "label"}):
            assert loose(words) in text, words
    for section in body.sections[1:]:
        assert loose(section.title) in text
        for figure in section.figures:
            assert loose(figure.label.removesuffix(", full load")) in text
    for part in ("1 of 3 Capacity and utilities", "2 of 3 Tank and rods", "3 of 3 Connections and loads"):
        assert loose(part) in text
    pages = text.count("page1of")
    assert pages == 1
    assert text.endswith(f"page{text[-1]}of{text[-1]}")


def texts_of(entry: Any, but: set[str]) -> Iterator[str]:
    """Every text in some data, but those under some keys."""
    if isinstance(entry, str) and entry:
        yield entry
    elif isinstance(entry, dict):
        for key, value in entry.items():
            if key not in but:
                yield from texts_of(value, but)
    elif isinstance(entry, list):
        for value in entry:
            yield from texts_of(value, but)


def test_numbers_stand_beside_their_labels_and_units() -> None:
    answer, questions, _ = case("gas")
    text = printed(answer, questions, body_of_case("gas"), "US")
    for section in connection_data(answer, body_of_case("gas"), "US")["sections"]:
        for row in section["rows"]:
            told = (
                f"{row['label']}: {row['words']}" if row["below"] else f"{row['label']} {row['words'] or row['number']}"
            )
            assert loose(f"{told} {row['unit']}") in text


def test_conflicts_and_problems_reach_the_page() -> None:
    answer, questions, _ = case("gas", True)
    body = conflicting_body()
    text = printed(answer, questions, body, "US")
    assert sum(text.count(word) for word in ("conflict:", "vortex:")) >= len(body.conflicts)
    for words in (*elevation_data(answer, body, "US")["conflicts"], connection_data(answer, body, "US")["stops"]):
        assert loose(words) in text
    assert "low,given" in text
    problem = "#read(secret) = 7: allowed 0 to 1"
    sections = tuple(Section(old.key, old.title, problem=problem) for old in body.sections)
    text = printed(answer, questions, Body(sections, None, None, None, "pH = 99"), "US")
    assert text.count(loose(f"NOT SOLVED: {problem}")) == len(sections)
    assert loose("NOT SOLVED: pH = 99") in text


@pytest.mark.parametrize(
    "name",
    [
        "#panic()",
        '#read("/etc/hostname")',
        "$ unclosed",
        "*_`~@<>[]{}\\",
        '"; sys.exit()',
        "]#[",
        "x" * 5000,
        "\u200f\u202eabc",
        "line\nbreak\tand\x07bell",
        "",
        "a\ud800b",
    ],
)
def test_text_of_the_user_stays_text(name: str) -> None:
    found = case("electric")
    answer = with_texts(found, job__name=name, job__customer=name, liquid__description=name)
    answer = replace(answer, unit=replace(answer.unit, tank=replace(answer.unit.tank, name=name)))
    data = sheet_data(answer, found[1], "US")
    assert data["job"] == (plain(name) if len(plain(name)) <= 80 else plain(name)[:79] + "…")
    text = printed(answer, found[1], body_of_case("electric"), "US")
    assert text.startswith(loose(data["job"]))
    assert text.count(loose(data["job"])) >= 3  # a loose page still says whose it is


def test_pages_are_counted_and_not_the_page_tree() -> None:
    assert page_count(b"<</Type /Pages>> <</Type/Page /Parent 1>> <</Type /Page>>") == 2


def test_plain_text() -> None:
    assert plain("  two\n\tlines ") == "two lines"
    assert plain("bell\x07 and \ud800half") == "bell and half"
    assert plain("y" * 60).split("\u200b") == ["y" * 28, "y" * 28, "y" * 4]


def test_data_is_plain_json() -> None:
    data = data_of("gas", "US", made_on="2 March 2026")
    assert json.loads(json.dumps(data)) == data
    assert data["made_on"] == "2 March 2026"
    assert data["parties"] == "Invented Finishing"


def test_font_ships_with_its_licence() -> None:
    folder = files("vaporwright") / "documents" / "fonts"
    names = sorted(entry.name for entry in folder.iterdir())
    assert [name for name in names if name.endswith(".ttf")] == [
        "SourceSansPro-It.ttf",
        "SourceSansPro-Regular.ttf",
        "SourceSansPro-Semibold.ttf",
    ]
    assert "SIL OPEN FONT LICENSE" in (folder / "SourceSansPro-LICENSE.txt").read_text(encoding="utf-8")
    assert sum(len(entry.read_bytes()) for entry in folder.iterdir()) < 1_500_000
