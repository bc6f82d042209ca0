"""The exhaust of a unit against hand work: flow, duct, condensate, intake, plume; notices raised and not raised.

By hand: volume 287.042 T (1 + 1.607858 W) / p, the psychrometric handbook's form for an ideal gas (from memory).
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from invented_unit import CFM, FOOT, INCH, TOWER, unit
from vaporwright.display_units import QUANTITIES
from vaporwright.foundation.errors import OutOfRange
from vaporwright.foundation.notice import Notice
from vaporwright.foundation.register import citations
from vaporwright.unit.answer import UnitAnswer, answer_for
from vaporwright.unit.exhaust_side import exhaust_section
from vaporwright.unit.figures import Section
from vaporwright.unit.job import SEASONS, build_job

SUFFIXES = ("_m3_s", "_Pa", "_m", "_m_s", "_K", "_kg_s", "_kg_kg")
WITHOUT_UNIT = {"ducts", "blower_place", "intake_verdict", "plume_winter"}
BEST_FLOW_m3_s = 1400.0 * CFM  # of the invented blower: 1400 x 2.4 / 710 is the greatest of its points
VOLUME = {"duty.volume": 8.6e-6}


@pytest.fixture(scope="module")
def rated() -> UnitAnswer:
    return answer_for(build_job(VOLUME), unit())


def changed(answer: UnitAnswer, **values: Any) -> UnitAnswer:
    """The same rating with a job that differs only in what the exhaust's way sees."""
    given = {key.replace("__", "."): value for key, value in values.items()}
    return replace(answer, job=build_job({**VOLUME, **given}))


def leaving(answer: UnitAnswer, season: str, **state: Any) -> UnitAnswer:
    """The same answer with another exhaust state in one season."""
    result = answer.seasons[season]
    tower = result.operation.tower
    tower = replace(tower, rating=replace(tower.rating, **state))
    result = replace(result, operation=replace(result.operation, tower=tower))
    return replace(answer, seasons={**answer.seasons, season: result})


def number(section: Section, name: str) -> float:
    value = section.value(name)
    assert isinstance(value, float)
    return value


def notices(section: Section) -> dict[str, Notice]:
    return {notice.name: notice for notice in section.notices}


def exhaust_volume_m3_kg(answer: UnitAnswer, season: str) -> float:
    out = answer.seasons[season].operation.tower.rating
    share = 1.0 + 1.607858 * out.air_out_humidity_ratio_kg_kg
    return 287.042 * out.air_out_temperature_K * share / answer.job.pressure_Pa


def exhaust_flow_by_hand_m3_s(answer: UnitAnswer, season: str) -> float:
    return answer.seasons[season].operation.tower.dry_air_flow_kg_s * exhaust_volume_m3_kg(answer, season)


def test_exhaust_flow_and_pressure_of_the_worst_season(rated: UnitAnswer) -> None:
    section = exhaust_section(rated)
    by_hand = max(exhaust_flow_by_hand_m3_s(rated, season) for season in SEASONS)
    assert number(section, "exhaust_flow_m3_s") == pytest.approx(by_hand, rel=4e-3)
    # The invented blower between 2,000 cfm (1.9 in. w.c.) and 2,600 (1.1), at the density it handles
    tower = rated.seasons["winter"].operation.tower
    inches = 1.9 - 0.8 * (tower.blower_flow_m3_s / CFM - 2000.0) / 600.0
    by_hand = inches * 249.08891 * tower.blower_density_kg_m3 / 1.2
    assert number(section, "blower_static_pressure_Pa") == pytest.approx(by_hand, rel=1e-3)
    assert (section.key, section.title) == ("exhaust", "Exhaust")
    assert section.value("ducts") == 1.0
    assert section.cautions


def test_the_smallest_even_inch_that_keeps_the_velocity(rated: UnitAnswer) -> None:
    flow_m3_s = max(exhaust_flow_by_hand_m3_s(rated, season) for season in SEASONS)
    rated = changed(rated, site__exhaust_duct_loss=1500.0)  # so that no loss asks for a wider one
    for most_m_s in (6.0, 10.2, 15.0):
        practice = replace(rated.unit.practice, exhaust_velocity_m_s=most_m_s)
        section = exhaust_section(replace(rated, unit=replace(rated.unit, practice=practice)))
        diameter_m = number(section, "duct_diameter_m")
        assert round(diameter_m / INCH, 6) % 2.0 == 0.0
        assert flow_m3_s / (math.pi / 4.0 * diameter_m**2) < most_m_s
        assert flow_m3_s / (math.pi / 4.0 * (diameter_m - 2.0 * INCH) ** 2) > most_m_s
        fast = most_m_s == 15.0  # 12.7 m/s is the usual most in a wet duct
        assert ("fast wet duct" in notices(section)) == fast
    slow = replace(rated.unit.practice, exhaust_velocity_m_s=0.5)
    with pytest.raises(OutOfRange, match="exhaust flow of one tower"):
        exhaust_section(replace(rated, unit=replace(rated.unit, practice=slow)))


def test_loss_of_the_duct_by_hand(rated: UnitAnswer) -> None:
    """Haaland's friction factor; moist air of 32 degC: about 1.87e-5 Pa s. Winter is the densest and fastest."""
    length_m, elbows = 40.0 * FOOT, 3.0
    section = exhaust_section(changed(rated, site__exhaust_duct_length=length_m, site__exhaust_elbows=elbows))
    diameter_m = number(section, "duct_diameter_m")
    losses = []
    for season in SEASONS:
        volume = exhaust_volume_m3_kg(rated, season)
        out = rated.seasons[season].operation.tower.rating
        density = (1.0 + out.air_out_humidity_ratio_kg_kg) / volume
        velocity = exhaust_flow_by_hand_m3_s(rated, season) / (math.pi / 4.0 * diameter_m**2)
        reynolds = density * velocity * diameter_m / 1.87e-5
        factor = (-1.8 * math.log10((3.0e-5 / diameter_m / 3.7) ** 1.11 + 6.9 / reynolds)) ** -2
        losses.append((factor * length_m / diameter_m + 1.2 + 0.35 * elbows) * 0.5 * density * velocity**2)
    assert number(section, "duct_loss_Pa") == pytest.approx(max(losses), rel=0.015)


@pytest.mark.parametrize("after_fill", [False, True])
def test_a_duct_that_loses_more_than_counted_says_what_to_state(after_fill: bool) -> None:
    """Counted: the stated loss at the blower's best flow and 1.2 kg/m3, with the square of the flow and the density.
    Stating what the notice names must make the notice go, but for 1 %, also after the air flow has settled anew."""
    parts = unit(tower=replace(TOWER, blower_after_fill=after_fill))
    long = {**VOLUME, "site.exhaust_duct_length": 100.0, "site.exhaust_elbows": 20.0, "site.exhaust_duct_loss": 25.0}
    answer = answer_for(build_job(long), parts)
    section = exhaust_section(answer)
    counted = []
    for season in SEASONS:
        tower = answer.seasons[season].operation.tower
        density = tower.blower_density_kg_m3
        counted.append(25.0 * (tower.blower_flow_m3_s / BEST_FLOW_m3_s) ** 2 * density / 1.2)
    assert min(abs(number(section, "duct_loss_counted_Pa") / value - 1.0) for value in counted) < 1e-3
    notice = notices(section)["duct loses more than counted"]
    assert notice.figures[0] == (section.value("duct_loss_Pa"), "pressure")
    wanted_Pa = notice.figures[2][0]
    assert wanted_Pa > 25.0
    stated = exhaust_section(answer_for(build_job({**long, "site.exhaust_duct_loss": wanted_Pa * 1.01}), parts))
    assert "duct loses more than counted" not in notices(stated)
    # The stated loss is counted in proportion, so that it covers the duct as drawn, and little more.
    assert wanted_Pa / 25.0 == pytest.approx(number(section, "duct_loss_Pa") / number(section, "duct_loss_counted_Pa"))


def test_a_wider_duct_is_taken_where_it_keeps_the_loss_counted(rated: UnitAnswer) -> None:
    wide, narrow = (
        exhaust_section(changed(rated, site__exhaust_duct_length=30.0, site__exhaust_duct_loss=loss_Pa))
        for loss_Pa in (40.0, 1500.0)
    )
    assert number(wide, "duct_diameter_m") > number(narrow, "duct_diameter_m")
    assert number(wide, "duct_loss_Pa") <= number(wide, "duct_loss_counted_Pa") < number(narrow, "duct_loss_Pa")
    assert "duct loses more than counted" not in notices(wide)


def test_a_short_duct_loses_less_than_counted(rated: UnitAnswer) -> None:
    section = exhaust_section(rated)
    assert number(section, "duct_loss_Pa") < number(section, "duct_loss_counted_Pa")
    assert "duct loses more than counted" not in notices(section)


def test_where_the_blower_stands_is_said(rated: UnitAnswer) -> None:
    before = exhaust_section(rated)
    assert "pushes" in str(before.value("blower_place"))
    assert "tower under pressure" in notices(before)
    after = exhaust_section(
        replace(rated, unit=replace(rated.unit, tower=replace(rated.unit.tower, blower_after_fill=True)))
    )
    assert "drags" in str(after.value("blower_place"))
    wet = notices(after)["blower in the wet air"]
    assert wet.figures == ((after.value("blower_static_pressure_Pa"), "pressure"),)
    assert "tower under pressure" not in notices(after)


def test_condensate_in_the_duct_by_hand(rated: UnitAnswer) -> None:
    """Bare walls lose 8 W/(m2 K) x wall x (exhaust - room). Between 30 and 40 degC saturated air gives up (0.049144 -
    0.027333) kg for (166.688 - 100.01) - 0.0218 x 146 = 63.5 kJ (printed tables): 3.43e-4 kg/kJ, 3 % less at 32 degC
    and 2 % more at 99 kPa."""
    section = exhaust_section(rated)
    out = rated.seasons["winter"].operation.tower.rating
    assert out.air_leaves_misty
    wall_m2 = math.pi * number(section, "duct_diameter_m") * rated.job.number("site.exhaust_duct_length")
    apart_K = out.air_out_temperature_K - rated.job.number("site.room_winter_temperature")
    by_hand = 8.0 * wall_m2 * apart_K / 1e3 * 3.43e-4
    assert number(section, "duct_condensate_kg_s") == pytest.approx(by_hand, rel=0.05)
    assert section.value("condensing_temperature_K") == out.air_out_temperature_K
    assert "exhaust duct drains" in notices(section)
    assert "exhaust below saturation" not in notices(section)


def test_unsaturated_exhaust_condenses_from_its_dew_point(rated: UnitAnswer) -> None:
    # 0.027333 kg/kg is saturated at 30 degC and sea level (printed table)
    state = {"air_out_temperature_K": 318.15, "air_out_humidity_ratio_kg_kg": 0.027333, "air_leaves_misty": False}
    dry = leaving(changed(rated, site__elevation=0.0), "winter", **state)
    section = exhaust_section(dry)
    assert number(section, "condensing_temperature_K") == pytest.approx(303.15, abs=0.02)
    notice = notices(section)["exhaust below saturation"]
    assert notice.figures[0] == (318.15, "temperature")
    saturated = leaving(
        changed(rated, site__elevation=0.0),
        "winter",
        air_out_temperature_K=number(section, "condensing_temperature_K"),
        air_out_humidity_ratio_kg_kg=0.027333,
        air_leaves_misty=True,
    )
    wet = exhaust_section(saturated)
    assert number(wet, "duct_diameter_m") == number(section, "duct_diameter_m")
    assert number(wet, "duct_condensate_kg_s") == pytest.approx(number(section, "duct_condensate_kg_s"), rel=1e-6)


def test_no_condensate_where_the_room_is_warm_or_there_is_no_duct(rated: UnitAnswer) -> None:
    for given in ({"site__room_winter_temperature": 313.15}, {"site__exhaust_duct_length": 0.0}):
        section = exhaust_section(changed(rated, **given))
        assert section.value("duct_condensate_kg_s") == 0.0
        assert "exhaust duct drains" in notices(section)  # a cold start still wets it
    # Unheated but warm from machines: 20 K above 290 K of outdoor air
    lifted = {"site__winter__air_temperature": 290.0, "site__room_above_outdoors": 20.0}
    assert exhaust_section(changed(rated, **lifted)).value("duct_condensate_kg_s") == 0.0


def test_intake_separation(rated: UnitAnswer) -> None:
    unknown = exhaust_section(rated)
    assert unknown.value("intake_verdict") is None
    # 10 ft and 3 ft: International Mechanical Code 401.4
    feet = [value / FOOT for value, _ in notices(unknown)["intake not stated"].figures]
    assert feet == pytest.approx([10.0, 3.0])
    assert number(unknown, "least_intake_distance_m") == pytest.approx(10.0 * FOOT)
    near = exhaust_section(changed(rated, site__intake_distance=9.9 * FOOT))
    assert near.value("intake_verdict") == "too near"
    assert "intake near the exhaust" in notices(near)
    for apart in (
        {"site__intake_distance": 10.1 * FOOT},
        {"site__intake_distance": 2.0 * FOOT, "site__discharge_above_intake": 3.1 * FOOT},
        {"site__discharge_above_intake": 3.1 * FOOT},
    ):
        far = exhaust_section(changed(rated, **apart))
        assert far.value("intake_verdict") == "far enough"
        assert not {"intake near the exhaust", "intake not stated"} & notices(far).keys()


def test_the_winter_plume(rated: UnitAnswer) -> None:
    """The hand-worked case of tests/published/test_plume.py: nine of outdoor air clear one of exhaust."""
    job = build_job({**VOLUME, "site.elevation": 0.0})
    air = replace(job.air["winter"], outdoor_temperature_K=275.243, humidity_ratio_kg_kg=0.0029908)
    answer = replace(rated, job=replace(job, air={**job.air, "winter": air}))
    state = {"air_out_temperature_K": 303.15, "air_out_humidity_ratio_kg_kg": 0.027333}
    section = exhaust_section(leaving(answer, "winter", **state))
    assert section.value("plume_winter") == "visible"
    assert number(section, "plume_clears_kg_kg") == pytest.approx(9.0, rel=0.01)
    assert notices(section)["visible plume"].figures == ((section.value("plume_clears_kg_kg"), "ratio"),)
    assert number(section, "plume_fog_kg_kg") > 1e-4


def test_no_plume_and_a_plume_that_stays(rated: UnitAnswer) -> None:
    dry = {"air_out_humidity_ratio_kg_kg": 0.008, "air_leaves_misty": False}
    clear = exhaust_section(leaving(changed(rated, site__winter__air_temperature=290.0), "winter", **dry))
    assert clear.value("plume_winter") == "not visible"
    assert clear.value("plume_fog_kg_kg") == 0.0
    assert next(figure for figure in clear.figures if figure.name == "plume_clears_kg_kg").absent == "no plume"
    assert "visible plume" not in notices(clear)
    stays = exhaust_section(changed(rated, site__winter__relative_humidity=1.0))
    assert stays.value("plume_clears_kg_kg") is None
    assert notices(stays)["visible plume"].figures == ()


def test_freezing_is_named_only_below_freezing(rated: UnitAnswer) -> None:
    cold = exhaust_section(changed(rated, site__winter__air_temperature=272.0))
    assert notices(cold)["freezing"].figures == ((272.0, "temperature"),)
    assert "freezing" not in notices(exhaust_section(changed(rated, site__winter__air_temperature=274.0)))


def test_names_quantities_and_functions(rated: UnitAnswer) -> None:
    known = {citation.function for citation in citations()}
    section = exhaust_section(changed(rated, site__intake_distance=5.0))
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
            if entry.name.startswith("exhaust."):
                assert section.value(entry.name.removeprefix("exhaust.")) == entry.value
