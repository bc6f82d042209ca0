"""Part 3: every section and figure is there, in the reader's units, under its heading; what is not solved says so."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from vaporwright.display_units import to_shown
from vaporwright.documents.connection_part import connection_data, summary
from vaporwright.equipment.materials import MATERIALS_CAUTION
from vaporwright.files.catalogue_file import read_catalogue_file
from vaporwright.foundation.notice import Notice
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.body import Body, body_of
from vaporwright.unit.figures import Figure, Section
from vaporwright.unit.job import build_job
from vaporwright.unit.sizing import size_unit

MONTHLY_GALLONS_m3_s = 3.785411784e-3 / (30.4 * 86400.0)
FOOT = 0.3048
POUND = 0.45359237
POUND_PER_SQUARE_FOOT_Pa = POUND * 9.80665 / FOOT**2
HEAT_SOURCES = ("gas", "electric", "steam")


@cache
def case(heat_source: str, air_supply: str = "room") -> tuple[UnitAnswer, Body]:
    values: dict[str, Any] = {
        "duty.volume": 6000.0 * MONTHLY_GALLONS_m3_s,
        "choices.heat_source": heat_source,
        "site.air_supply": air_supply,
    }
    answer = size_unit(build_job(values), read_catalogue_file(None)).answer
    return answer, body_of(answer)


def with_section(body: Body, section: Section) -> Body:
    return replace(body, sections=tuple(section if old.key == section.key else old for old in body.sections))


def loose(entry: Any) -> Any:
    """The data with the spaces that hold numbers to their units as plain ones."""
    if isinstance(entry, str):
        return entry.replace("\u00a0", " ")
    if isinstance(entry, dict):
        return {key: loose(value) for key, value in entry.items()}
    return [loose(value) for value in entry] if isinstance(entry, list) else entry


def section_of(data: dict[str, Any], title: str) -> dict[str, Any]:
    (found,) = [section for section in data["sections"] if section["title"] == title]
    return found  # type: ignore[no-any-return]


def number(text: str) -> float:
    return float(text.replace(",", ""))


@pytest.mark.parametrize("system", ["US", "SI"])
@pytest.mark.parametrize("heat_source", HEAT_SOURCES)
def test_every_figure_of_every_section_is_printed(heat_source: str, system: str) -> None:
    answer, body = case(heat_source)
    data = loose(connection_data(answer, body, system))
    printed_titles = [section["title"] for section in data["sections"]]
    assert sorted(printed_titles) == sorted(
        [section.title for section in body.sections if section.key != "levels"] + ["Feed, overflow, drain"]
    )
    in_circuits = [f"{row[0]}, full load" for row in section_of(data, "Electrical")["circuits"]["rows"]]
    for section in body.sections:
        if section.key == "levels":
            continue
        rows = {row["label"]: row for row in section_of(data, section.title)["rows"]}
        for figure in section.figures:
            if section.key == "electrical" and figure.label in in_circuits:
                continue
            row = rows[figure.label]
            if not isinstance(figure.value, float):
                assert row["words"] == (figure.value or figure.absent), figure.name
                assert row["number"] == row["unit"] == ""
                continue
            shown = to_shown(figure.value, figure.quantity, system)
            assert number(row["number"]) == pytest.approx(shown, rel=0.006, abs=0.51 if abs(shown) > 10.0 else 0.051)
            assert not re.search(r"\d", row["unit"].replace("²", "").replace("³", ""))


@pytest.mark.parametrize("heat_source", HEAT_SOURCES)
def test_connection_figures_stand_out(heat_source: str) -> None:
    answer, body = case(heat_source)
    data = loose(connection_data(answer, body, "US"))
    wanted = {(section.title, figure.label) for section, figure in body.connections()}
    assert len(wanted) > 12
    found = {
        (section["title"], row["label"])
        for section in data["sections"]
        for row in section["rows"]
        if row["main"] and section["title"] != "Feed, overflow, drain"
    }
    assert found == wanted


def test_trades_come_in_their_order() -> None:
    titles = [section["title"] for section in connection_data(*case("gas"), "US")["sections"]]
    body = case("gas")[1]
    order = [body.section(key).title for key in ("gas", "electrical", "exhaust", "room")]
    order += ["Feed, overflow, drain", *(body.section(key).title for key in ("hydraulics", "return", "weights"))]
    assert titles == order


def test_a_section_that_nobody_ordered_is_printed_last() -> None:
    answer, body = case("gas")
    figure = Figure("flow_m3_s", 1.0e-3, "liquid flow", "", label="compressed air")
    more = replace(body, sections=(Section("air", "Compressed air", (figure,)), *body.sections))
    assert connection_data(answer, more, "SI")["sections"][-1]["title"] == "Compressed air"


def test_figures_in_trade_units_by_hand() -> None:
    answer, body = case("gas")
    data = loose(connection_data(answer, body, "US"))
    rows = {row["label"]: (row["number"], row["unit"]) for section in data["sections"] for row in section["rows"]}
    labels = {(section.key, figure.name): figure.label for section, figure in body.connections()}

    def printed(key: str, name: str) -> tuple[str, str]:
        return rows[labels[key, name]]

    for key, name, factor, unit in (
        ("gas", "gas_flow_standard_m3_s", 3600.0 / FOOT**3, "cfh"),
        ("gas", "train_inlet_gauge_Pa", 1.0 / 249.08891, "in. w.c."),
        ("electrical", "feeder_least_ampacity_A", 1.0, "A"),
        ("exhaust", "exhaust_flow_m3_s", 60.0 / FOOT**3, "cfm"),
        ("exhaust", "duct_diameter_m", 12.0 / FOOT, "in"),
        ("room", "make_up_air_m3_s", 60.0 / FOOT**3, "cfm"),
        ("weights", "operating_kg", 1.0 / POUND, "lb"),
        ("weights", "operating_floor_load_Pa", 1.0 / POUND_PER_SQUARE_FOOT_Pa, "psf"),
    ):
        value = body.section(key).value(name)
        assert isinstance(value, float)
        text, shown_unit = printed(key, name)
        assert shown_unit == unit
        assert number(text) == pytest.approx(value * factor, rel=0.006), name


def test_load_table_by_circuit() -> None:
    answer, body = case("electric")
    assert body.load_table is not None
    electrical = section_of(connection_data(answer, body, "US"), "Electrical")
    table = electrical["circuits"]
    assert table["columns"] == ["Circuit, in A", "full load", "conductors, least", "device, least", "most"]
    *rows, feeder = table["rows"]
    for row, circuit in zip(rows, body.load_table.circuits, strict=True):
        assert row[0] == circuit.name
        assert number(row[1]) == pytest.approx(circuit.current_A, abs=0.051)
        assert number(row[2]) == pytest.approx(1.25 * circuit.current_A, abs=0.1)  # motors, heat, continuous loads
        assert number(row[3]) >= number(row[2])
        assert number(row[3]) == circuit.smallest_device_A
        assert (row[4] == "–") is (circuit.largest_device_A is None)
    assert feeder[0] == "feeder"
    assert number(feeder[1]) == pytest.approx(body.load_table.running_current_A, abs=0.051)
    assert number(feeder[1]) < number(feeder[2]) <= number(feeder[3])
    assert "disconnects" in electrical["notes"]
    assert not any(row["label"].startswith("heater 1") for row in electrical["rows"])  # once is enough


def test_the_sentence_that_one_could_read_out() -> None:
    answer, body = case("gas")
    gas, air = (
        body.section(key).value(name) for key, name in (("gas", "gas_flow_standard_m3_s"), ("room", "make_up_air_m3_s"))
    )
    assert isinstance(gas, float)
    assert isinstance(air, float)
    text = summary(answer, body, "US")
    pattern = (
        r"Bring ([\d,.]+) cfh of natural gas at 7 in\. w\.c\., 480 V three-phase with an? (\d+) A feeder, ([\d,]+) cfm "
        r"of make-up air and an? (\d+) in exhaust to outdoors; the floor carries (\d+) psf in operation, "
        r"(\d+) psf flooded\."
    )
    if answer.unit.towers > 1:
        pattern = pattern.replace(r"an? (\d+) in exhaust", r"\d exhausts of (\d+) in")
    found = re.fullmatch(pattern, text)
    assert found, text
    assert number(found[1]) == pytest.approx(gas * 3600.0 / FOOT**3, rel=0.006)
    assert number(found[3]) == pytest.approx(air * 60.0 / FOOT**3, rel=0.006)
    assert number(found[5]) < number(found[6])


def test_the_sentence_of_the_other_heat_sources() -> None:
    assert summary(*case("electric"), "SI").startswith("Bring 480 V three-phase with ")
    assert re.match(r"Bring [\d,.]+ lb/h of steam at 15 psi gauge, 480 V ", summary(*case("steam"), "US"))
    assert "make-up air" not in summary(*case("steam", "outdoors"), "US")


@pytest.mark.parametrize(
    ("device", "words"), [(15.0, "a 15 A"), (80.0, "an 80 A"), (110.0, "a 110 A"), (800.0, "an 800 A")]
)
def test_numbers_take_the_article_they_are_read_with(device: float, words: str) -> None:
    answer, body = case("electric")
    section = body.section("electrical")
    figures = tuple(
        replace(figure, value=device) if figure.name == "feeder_smallest_device_A" else figure
        for figure in section.figures
    )
    assert f"with {words} feeder" in summary(answer, with_section(body, replace(section, figures=figures)), "US")


@pytest.mark.parametrize("key", ["gas", "electrical", "exhaust", "room", "hydraulics", "return", "weights"])
def test_a_problem_prints_in_its_place_and_in_the_sentence(key: str) -> None:
    answer, body = case("gas")
    title = body.section(key).title
    broken = with_section(body, Section(key, title, problem="flow_m3_s = 7: allowed 0 to 1"))
    if key == "electrical":
        broken = replace(broken, load_table=None)
    data = connection_data(answer, broken, "US")
    section = section_of(data, title)
    assert section["problem"] == "flow_m3_s = 7: allowed 0 to 1"
    assert section["rows"] == []
    assert data["summary"].endswith(f" Not solved: {title}.")
    others = [entry["title"] for entry in data["sections"] if not entry["problem"]]
    assert len(others) == len(data["sections"]) - 1


def test_nothing_solved_is_said() -> None:
    answer, body = case("gas")
    broken = replace(body, sections=tuple(Section(old.key, old.title, problem="no") for old in body.sections))
    text = connection_data(answer, replace(broken, load_table=None), "US")["summary"]
    assert text.startswith("Nothing to bring is solved yet. Not solved: ")


def test_conflicts_what_to_watch_and_cautions_stand_under_their_trade() -> None:
    answer, body = case("gas")
    section = body.section("return")
    notices = (
        Notice(
            "c", "CONFLICT: return is {0} short. What would resolve it: a higher tower.", ((0.0254, "short length"),)
        ),
        Notice("w", "Watch it."),
    )
    changed = with_section(body, replace(section, notices=notices))
    data = connection_data(answer, changed, "US")
    printed = section_of(data, section.title)
    assert printed["conflicts"] == ["CONFLICT: return is 1.00\u00a0in short. What would resolve it: a higher tower."]
    assert printed["watch"] == ["Watch it."]
    assert data["stops"].startswith(f"{len(changed.conflicts)} point")
    assert section.title in data["stops"]
    for old in body.sections:
        if old.key != "levels":
            assert section_of(data, old.title)["cautions"] == list(old.cautions)
            assert old.cautions


def test_nothing_stops_where_nothing_conflicts() -> None:
    answer, body = case("gas")
    calm = replace(body, sections=tuple(replace(section, notices=()) for section in body.sections))
    assert connection_data(answer, calm, "US")["stops"] == ""


def test_feed_and_openings_of_the_tank() -> None:
    answer, body = case("gas")
    rows = {
        row["label"]: row for row in section_of(connection_data(answer, body, "US"), "Feed, overflow, drain")["rows"]
    }
    tank = answer.unit.tank
    assert number(rows["overflow, bore"]["number"]) == pytest.approx(tank.overflow_bore_m * 12.0 / FOOT, rel=0.006)
    assert number(rows["drain, bore"]["number"]) == pytest.approx(tank.drain_bore_m * 12.0 / FOOT, rel=0.006)
    feed_m3_s = answer.job.number("choices.refill_flow")
    assert number(rows["feed at the refill valve"]["number"]) == pytest.approx(
        feed_m3_s * 60.0 / 3.785411784e-3, rel=0.006
    )
    assert "trickle feed beside it" not in rows
    values = {**answer.job.values, "choices.trickle_flow": 1.0e-5}
    trickling = replace(answer, job=replace(answer.job, values=values))
    rows = {
        row["label"]: row for row in section_of(connection_data(trickling, body, "SI"), "Feed, overflow, drain")["rows"]
    }
    assert (rows["trickle feed beside it"]["number"], rows["trickle feed beside it"]["unit"]) == ("0.600", "L/min")


def test_materials_name_part_verdict_and_what_decides() -> None:
    answer, body = case("gas")
    assert body.materials is not None
    data = connection_data(answer, body, "US")
    printed = ", ".join(entry["parts"] for entry in data["materials"])
    for verdict in body.materials.parts:
        assert verdict.part in printed
    for entry in data["materials"]:
        verdict = next(verdict for verdict in body.materials.parts if verdict.part in entry["parts"].split(", "))
        assert (entry["material"], entry["verdict"]) == (verdict.material, verdict.suitability)
        deciding = [finding for finding in verdict.findings if finding.suitability == verdict.suitability]
        assert deciding
        assert all(finding.reason in entry["reason"] for finding in deciding)
        assert entry["abnormal"] is (verdict.suitability == "unsuitable")
    assert data["materials_caution"] == MATERIALS_CAUTION
    unsolved = connection_data(answer, replace(body, materials=None, materials_problem="pH = 99"), "US")
    assert (unsolved["materials"], unsolved["materials_problem"]) == ([], "pH = 99")


def test_long_words_go_below_their_label_and_stay_words() -> None:
    answer, body = case("gas")
    figures = (
        Figure("way", "#panic() " + "long words " * 9, "text", "", label="goes to"),
        Figure("short", "NPS 4", "text", "", label="pipe"),
        Figure("none", None, "length", "", label="distance", absent="not given"),
    )
    section = replace(body.section("return"), figures=figures)
    rows = section_of(connection_data(answer, with_section(body, section), "US"), section.title)["rows"]
    assert [row["below"] for row in rows] == [True, False, False]
    assert rows[0]["words"].startswith("#panic() long words")
    assert rows[2]["words"] == "not given"
