"""The room side of a unit against hand work: what is taken, what it costs to warm, how far the room is pulled down.

By hand: volume 287.042 T (1 + 1.607858 W) / p and heat (1.006 + 1.86 W) kJ/(kg K), the psychrometric handbook's forms
for an ideal gas (from memory); hot-weather air differs from them by 0.1 %.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from invented_unit import BTU_H, FOOT, HEATER, unit
from vaporwright.display_units import QUANTITIES
from vaporwright.foundation.errors import InputError, OutOfRange
from vaporwright.foundation.register import citations
from vaporwright.unit.answer import UnitAnswer, answer_for
from vaporwright.unit.figures import Section
from vaporwright.unit.job import build_job
from vaporwright.unit.room_side import room_section

SUFFIXES = ("_m3_s", "_W", "_s", "_J_m3", "_USD", "_USD_m3", "_m2", "_Pa")
WITHOUT_UNIT = {"air_taken_by", "flue_verdict"}
LIMIT_Pa = 4.0  # the shop's setting where its catalogue says nothing
PRICE_USD_J = 12.0 / 1.05506e9
WIDE_m2 = 3.0


@pytest.fixture(scope="module")
def rated() -> UnitAnswer:
    return answer_for(build_job({"duty.volume": 8.6e-6}), unit())


def changed(answer: UnitAnswer, **values: Any) -> UnitAnswer:
    """The same rating with a job that differs only in what the room sees."""
    given = {key.replace("__", "."): value for key, value in values.items()}
    return replace(answer, job=build_job({"duty.volume": 8.6e-6, **given}))


def room(answer: UnitAnswer, draft_Pa: float | None = None, loss_Pa: float | None = None, **values: Any) -> Section:
    return room_section(changed(answer, **values), draft_Pa, loss_Pa)


def number(section: Section, name: str) -> float:
    value = section.value(name)
    assert isinstance(value, float)
    return value


def names(section: Section) -> list[str]:
    return [notice.name for notice in section.notices]


def burner_by_hand_kg_s(answer: UnitAnswer, season: str) -> float:
    """Methane: 9.52 mol of air and 1,012 Btu per ft3 at 60 degF, 25 % excess, 0.0764 lb/ft3."""
    input_Btu_h = answer.seasons[season].heat.drawn_W / BTU_H
    return input_Btu_h / 1012.0 * 9.52 * 1.25 * 0.0764 * 0.45359237 / 3600.0


def dry_air_by_hand_kg_s(answer: UnitAnswer, season: str) -> float:
    blower = answer.unit.towers * answer.seasons[season].operation.tower.dry_air_flow_kg_s
    return blower + burner_by_hand_kg_s(answer, season)


def volume_m3_kg(answer: UnitAnswer, season: str) -> float:
    air = answer.job.air[season]
    share = 1.0 + 1.607858 * air.humidity_ratio_kg_kg
    return 287.042 * air.outdoor_temperature_K * share / answer.job.pressure_Pa


def test_make_up_air_is_what_blower_and_burner_take(rated: UnitAnswer) -> None:
    section = room(rated)
    for season in ("winter", "summer"):
        expected = dry_air_by_hand_kg_s(rated, season) * volume_m3_kg(rated, season)
        assert number(section, f"make_up_air_{season}_m3_s") == pytest.approx(expected, rel=3e-3)
    assert number(section, "make_up_air_m3_s") == number(section, "make_up_air_summer_m3_s")
    assert section.value("air_taken_by") == "blower and burner"
    assert (section.key, section.title) == ("room", "Room air")
    assert "carbon monoxide" in section.cautions[0]
    two = room_section(replace(rated, unit=replace(rated.unit, towers=2)), None, None)
    more = rated.seasons["winter"].operation.tower.dry_air_flow_kg_s * volume_m3_kg(rated, "winter")
    apart = number(two, "make_up_air_winter_m3_s") - number(section, "make_up_air_winter_m3_s")
    assert apart == pytest.approx(more, rel=3e-3)


def test_air_from_outdoors_and_sealed_combustion_leave_the_room_alone(rated: UnitAnswer) -> None:
    burner = room(rated, site__air_supply="outdoors")
    assert burner.value("air_taken_by") == "burner"
    by_hand = burner_by_hand_kg_s(rated, "winter") * volume_m3_kg(rated, "winter")
    assert number(burner, "make_up_air_winter_m3_s") == pytest.approx(by_hand, rel=0.02)  # the gas is not all methane
    blower = room(rated, choices__flue="sealed")
    assert blower.value("air_taken_by") == "blower"
    whole = number(room(rated), "make_up_air_winter_m3_s")
    assert number(burner, "make_up_air_winter_m3_s") + number(blower, "make_up_air_winter_m3_s") == pytest.approx(whole)
    nothing = room(rated, site__air_supply="outdoors", choices__flue="sealed", utilities__fuel_price=PRICE_USD_J)
    assert nothing.value("air_taken_by") == "nothing"
    for name in ("make_up_air_m3_s", "make_up_heat_W", "opening_area_m2", "make_up_yearly_cost_USD"):
        assert nothing.value(name) == 0.0
    assert nothing.notices == ()


def test_an_electric_unit_takes_the_blowers_air_only() -> None:
    answer = answer_for(build_job({"duty.volume": 8.6e-6}), unit(heat_source=HEATER))
    assert room_section(answer, None, None).value("air_taken_by") == "blower"


def test_heat_to_warm_the_air_at_winter_design(rated: UnitAnswer) -> None:
    air = rated.job.air["winter"]
    room_K = rated.job.number("site.room_winter_temperature")
    heat_kJ_kg = (1.006 + 1.86 * air.humidity_ratio_kg_kg) * (room_K - air.outdoor_temperature_K)
    expected_W = 1e3 * heat_kJ_kg * dry_air_by_hand_kg_s(rated, "winter")
    assert number(room(rated), "make_up_heat_W") == pytest.approx(expected_W, rel=3e-3)


def test_a_heating_season_and_its_cost(rated: UnitAnswer) -> None:
    section = room(rated, utilities__fuel_price=PRICE_USD_J, site__heating_efficiency=0.75)
    hours = 16.0 / 24.0 * 5.0 / 7.0 * 0.85 * 8766.0  # the defaults of the job
    assert number(section, "heating_season_s") == pytest.approx(0.5 * hours * 3600.0)
    cold, mean, room_K = (
        rated.job.number(f"site.{key}")
        for key in ("winter.air_temperature", "average.air_temperature", "room_winter_temperature")
    )
    winter, average = rated.job.air["winter"], rated.job.air["average"]
    humidity = 0.5 * (winter.humidity_ratio_kg_kg + average.humidity_ratio_kg_kg)
    heat_W = 1e3 * (1.006 + 1.86 * humidity) * (room_K - 0.5 * (cold + mean)) * dry_air_by_hand_kg_s(rated, "winter")
    assert number(section, "heating_season_heat_W") == pytest.approx(heat_W, rel=3e-3)
    cost = heat_W * 0.5 * hours * 3600.0 / 0.75 * PRICE_USD_J
    assert number(section, "make_up_yearly_cost_USD") == pytest.approx(cost, rel=3e-3)
    evaporated_m3 = rated.seasons["average"].evaporation_kg_s / 998.2 * hours * 3600.0
    assert number(section, "make_up_cost_USD_m3") == pytest.approx(cost / evaporated_m3, rel=3e-3)
    assert number(section, "make_up_heat_J_m3") == pytest.approx(
        heat_W * 0.5 * hours * 3600.0 / evaporated_m3, rel=3e-3
    )


def test_without_a_price_there_is_no_cost(rated: UnitAnswer) -> None:
    figures = {figure.name: figure for figure in room(rated).figures}
    for name in ("make_up_yearly_cost_USD", "make_up_cost_USD_m3"):
        assert figures[name].value is None
        assert figures[name].absent == "no price"
    assert number(room(rated), "make_up_heat_J_m3") > 0.0


def test_a_burner_that_cycles_takes_less_over_the_season_but_not_at_once(rated: UnitAnswer) -> None:
    idle = replace(rated.seasons["winter"], load=0.0)
    cycling = replace(rated, seasons={**rated.seasons, "winter": idle})
    before, after = room_section(rated, None, None), room_section(cycling, None, None)
    assert number(after, "make_up_heat_W") == number(before, "make_up_heat_W")
    share = burner_by_hand_kg_s(rated, "winter") / dry_air_by_hand_kg_s(rated, "winter")
    lost = 1.0 - number(after, "heating_season_heat_W") / number(before, "heating_season_heat_W")
    assert lost == pytest.approx(share, rel=0.03)


def test_the_opening_that_keeps_the_room_near_outdoors(rated: UnitAnswer) -> None:
    area_m2 = 0.0
    for season in ("summer", "winter", "average"):
        volume = volume_m3_kg(rated, season)
        density = (1.0 + rated.job.air[season].humidity_ratio_kg_kg) / volume
        speed_m_s = 0.6 * (2.0 * LIMIT_Pa / density) ** 0.5
        area_m2 = max(area_m2, dry_air_by_hand_kg_s(rated, season) * volume / speed_m_s)
    section = room(rated)
    assert number(section, "opening_area_m2") == pytest.approx(area_m2, rel=3e-3)
    assert section.value("depressurisation_Pa") is None
    assert names(section) == ["make-up air"]
    assert section.notices[0].figures[1] == (section.value("opening_area_m2"), "area")
    # Through that opening the limit, through half of it four times as much
    for share in (1.0, 0.5):
        through = room(rated, site__make_up_opening=share * number(section, "opening_area_m2"))
        assert number(through, "depressurisation_Pa") == pytest.approx(LIMIT_Pa / share**2)
    assert names(through) == ["room pulled down"]
    assert through.notices[0].figures[1] == (through.value("depressurisation_Pa"), "pressure")
    assert names(room(rated, site__make_up_opening=WIDE_m2)) == []


def test_a_flue_spills_where_the_room_pulls_more_than_it_bears(rated: UnitAnswer) -> None:
    area_m2 = number(room(rated), "opening_area_m2")
    # 1.2 times the area: 4 / 1.44 = 2.78 Pa; the flue has 2.5 Pa to spare, then 3.1
    weak, strong = (room(rated, draft_Pa, 5.0, site__make_up_opening=1.2 * area_m2) for draft_Pa in (7.5, 8.1))
    assert weak.value("flue_verdict") == "spills"
    assert weak.value("flue_limit_Pa") == 2.5
    assert names(weak) == ["flue spillage"]
    assert strong.value("flue_verdict") == "keeps its draft"
    assert strong.notices == ()
    assert not {"flue_limit_Pa", "flue_verdict"} & {figure.name for figure in room(rated).figures}


def test_a_flue_weaker_than_the_shops_limit_asks_for_more_opening(rated: UnitAnswer) -> None:
    plain, weak = room(rated, 20.0, 5.0), room(rated, 6.0, 5.0)
    assert names(plain) == ["make-up air"]
    assert names(weak) == ["make-up air", "weak flue"]
    figures = {figure.name: figure for figure in weak.figures}
    assert figures["flue_verdict"].value is None
    # A quarter of the pressure (4 Pa / 1 Pa) takes twice the opening
    assert weak.notices[1].figures[2][0] == pytest.approx(2.0 * number(weak, "opening_area_m2"), rel=1e-6)
    dead = room(rated, 3.0, 5.0)
    assert dead.value("flue_verdict") == "spills"
    assert "flue without draft" in names(dead)


def test_an_opening_too_small_for_the_blower_names_the_key(rated: UnitAnswer) -> None:
    with pytest.raises(OutOfRange, match="make_up_opening") as caught:
        room(rated, site__make_up_opening=0.05 * FOOT**2)
    # At the least opening named, the room takes all that the blower has: about 1.2 in. w.c.
    least_m2 = caught.value.low
    assert least_m2 is not None
    static_Pa = max(result.operation.tower.blower_static_pressure_Pa for result in rated.seasons.values())
    through = room(rated, site__make_up_opening=1.01 * least_m2)
    assert number(through, "depressurisation_Pa") == pytest.approx(static_Pa, rel=0.1)


def test_a_draft_without_its_loss_is_no_input(rated: UnitAnswer) -> None:
    with pytest.raises(InputError, match="one without the other"):
        room_section(rated, 8.0, None)


def test_names_quantities_and_functions(rated: UnitAnswer) -> None:
    known = {citation.function for citation in citations()}
    section = room(rated, 20.0, 5.0, site__make_up_opening=WIDE_m2, utilities__fuel_price=PRICE_USD_J)
    seen = [figure.name for figure in section.figures]
    assert len(seen) == len(set(seen))
    for figure in section.figures:
        assert figure.name.endswith(SUFFIXES) or figure.name in WITHOUT_UNIT
        assert figure.quantity == "text" or figure.quantity in QUANTITIES
        assert all(entry.quantity == "text" or entry.quantity in QUANTITIES for entry in figure.inputs)
        assert set(figure.functions) <= known, figure.name
        assert figure.label
        assert figure.equation
        for entry in figure.inputs:
            if entry.name.startswith("room."):
                assert section.value(entry.name.removeprefix("room.")) == entry.value
