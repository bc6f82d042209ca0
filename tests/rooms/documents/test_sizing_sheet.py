"""The sizing sheet: every printed number is the answer's, one page always, same answer same bytes, text stays text."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from importlib.resources import files
from itertools import pairwise
from typing import Any

import pytest

from vaporwright.display_units import to_shown
from vaporwright.documents.sheet_tables import ranked_assumptions
from vaporwright.documents.sizing_sheet import ROOMS, page_count, plain, sheet_data, sizing_sheet_pdf
from vaporwright.files.catalogue_file import read_catalogue_file
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.job import SEASONS, build_job
from vaporwright.unit.notice import Notice
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


def test_assumptions_of_another_heat_source_come_last() -> None:
    answer, questions, _ = case("electric")
    order = [entry["meaning"] for entry in ranked_assumptions(answer, questions, "US")]
    assert len(order) == len(answer.job.assumptions)
    last = {"Fuel gas at the site", "Excess combustion air of the burner", "Steam pressure at the coil"}
    assert last <= set(order[-6:])
    assert "Excess combustion air of the burner" not in [
        entry["meaning"] for entry in ranked_assumptions(case("gas")[0], case("gas")[1], "US")[-6:]
    ]


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
def test_one_page_and_the_same_bytes_each_time(heat_source: str, system: str, paper: str) -> None:
    answer, questions, curves = case(heat_source)
    assert data_of(heat_source, system)["paper"] == paper
    pdf = sizing_sheet_pdf(answer, questions, curves, system, made_on="2 March 2026")
    assert pdf.startswith(b"%PDF-")
    assert page_count(pdf) == 1
    assert pdf == sizing_sheet_pdf(answer, questions, curves, system, made_on="2 March 2026")
    assert b"CreationDate" not in pdf


@pytest.mark.slow
def test_one_page_in_the_worst_case() -> None:
    answer, questions, curves = case("gas", True)
    text = "A warning that goes on for two lines of the column, says what is out of range and what to do about it."
    notices = tuple(Notice(f"n{index}", f"{text} Number {index}.") for index in range(12))
    seasons = {
        season: replace(result, warnings=notices, load=0.7, limit="tower" if season == "summer" else "heat")
        for season, result in answer.seasons.items()
    }
    tower = replace(answer.unit.tower, name="tower with a long name that a shop gave it " * 4)
    texts = {"job__name": NASTY, "job__customer": NASTY, "liquid__description": NASTY}
    worst = replace(with_texts(case("gas", True), **texts), seasons=seasons, unit=replace(answer.unit, tower=tower))
    for system in ("US", "SI"):
        assert page_count(sizing_sheet_pdf(worst, questions, curves, system, made_on=NASTY)) == 1


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
    assert page_count(sizing_sheet_pdf(answer, found[1], found[2], "US")) == 1
    data = sheet_data(answer, found[1], "US")
    assert data["job"] == (plain(name) if len(plain(name)) <= 80 else plain(name)[:79] + "…")


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
