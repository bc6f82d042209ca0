"""A gas-fired unit's line, train, combustion air, flue and cold start, by hand; what to watch is raised and is not."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import lru_cache
from typing import Any

import pytest

from invented_unit import BTU_H, BURNER, FOOT, HEATER, IN_WC, INCH, TANK, fahrenheit, unit
from vaporwright.display_units import QUANTITIES
from vaporwright.foundation.errors import InputError, OutOfRange
from vaporwright.foundation.register import citations
from vaporwright.unit.answer import UnitAnswer, answer_for
from vaporwright.unit.figures import Section
from vaporwright.unit.gas_side import gas_section
from vaporwright.unit.job import build_job

CFH = FOOT**3 / 3600.0


@lru_cache(maxsize=32)
def _answered(part: Any, given: tuple[tuple[str, Any], ...]) -> UnitAnswer:
    values = {key.replace("__", "."): value for key, value in given}
    return answer_for(build_job({"duty.volume": 8.6e-6, **values}), unit(heat_source=part))


def answered(burner: dict[str, Any] | None = None, **given: Any) -> UnitAnswer:
    return _answered(
        replace(BURNER, **({"flue_diameter_m": 8.0 * INCH} | (burner or {}))), tuple(sorted(given.items()))
    )


def section(burner: dict[str, Any] | None = None, **given: Any) -> Section:
    return gas_section(answered(burner, **given))


def number(found: Section, name: str) -> float:
    value = found.value(name)
    assert isinstance(value, float)
    return value


def names(found: Section) -> list[str]:
    return [notice.name for notice in found.notices]


def test_gas_and_line_worked_by_hand() -> None:
    # Ideal gross values at 60 degF, Btu/ft3 (gas processors' tables, from memory): methane 1010.0, ethane 1769.7,
    # propane 2516.1: 0.95 x 1010.0 + 0.03 x 1769.7 + 0.005 x 2516.1 = 1025.2 for the gas of the house. 550,000 Btu/h is
    # then 536.5 ft3/h; at 60 ft and 0.5 in. w.c. 1-1/4 in. carries 528 and 1-1/2 in. 791 (table of the code), drop 0.5
    # (536.5 / 791)^1.8495 = 0.244 in. w.c., inlet 7 - 0.244 = 6.756.
    found = section(site__elevation=0.0)
    assert number(found, "gross_input_W") == pytest.approx(550_000.0 * BTU_H)
    assert number(found, "gas_flow_standard_m3_s") / CFH == pytest.approx(536.5, rel=0.005)
    assert found.value("gas_pipe") == "1-1/2 in steel, schedule 40"
    assert number(found, "gas_pipe_bore_m") / INCH == pytest.approx(1.610)
    assert number(found, "gas_line_drop_Pa") / IN_WC == pytest.approx(0.244, rel=0.03)
    assert number(found, "train_inlet_gauge_Pa") / IN_WC == pytest.approx(6.756, abs=0.01)
    assert number(found, "gas_at_rest_gauge_Pa") / IN_WC == pytest.approx(10.0)
    assert number(found, "train_lowest_gauge_Pa") / IN_WC == pytest.approx(4.5)
    assert number(found, "train_highest_gauge_Pa") / IN_WC == pytest.approx(14.0)
    assert number(found, "manifold_gauge_Pa") / IN_WC == pytest.approx(3.5)
    # half of 6.76 is 3.38, below the 4.5 that the train needs; 1.5 x 3.5
    assert number(found, "low_gas_switch_gauge_Pa") / IN_WC == pytest.approx(4.5)
    assert number(found, "high_gas_switch_gauge_Pa") / IN_WC == pytest.approx(5.25)


def test_a_high_supply_sets_the_low_switch_at_half_of_it() -> None:
    found = section(utilities__gas_pressure=12.0 * IN_WC, utilities__gas_pressure_at_rest=13.0 * IN_WC)
    inlet_Pa = number(found, "train_inlet_gauge_Pa")
    assert number(found, "low_gas_switch_gauge_Pa") == pytest.approx(0.5 * inlet_Pa)
    assert inlet_Pa > 9.0 * IN_WC


def test_altitude_derates_the_burner_and_thins_the_gas() -> None:
    # 1,500 m: 84,556 Pa (standard atmosphere). Input and flow 0.8345 of 536.5: 447.7 ft3/h, with 2.5 % 459. 1-1/4 in.
    # carries 528 at 0.5 in. w.c., so 528 x 0.8345^0.5407 = 479 at 0.5 x 0.8345. Drop 0.5 (447.7/528)^1.8495 / 0.8345 =
    # 0.4415 in. w.c. A line that forgot the thin air would drop 0.368.
    low, high = section(site__elevation=0.0), section(site__elevation=1500.0)
    ratio = number(high, "gas_flow_standard_m3_s") / number(low, "gas_flow_standard_m3_s")
    assert ratio == pytest.approx(84_556.0 / 101_325.0, rel=1e-3)
    assert high.value("gas_pipe") == "1-1/4 in steel, schedule 40"
    assert number(high, "gas_line_drop_Pa") / IN_WC == pytest.approx(0.4415, rel=0.03)
    assert number(high, "train_inlet_gauge_Pa") / IN_WC == pytest.approx(7.0 - 0.4415, abs=0.015)


def test_combustion_air_by_the_code() -> None:
    # 550,000 Btu/h: 137.5, 275, 183.3 and 550 in2
    found = section(site__elevation=0.0)
    for name, square_inches in (
        ("two_direct", 137.5),
        ("two_by_ducts", 275.0),
        ("one", 183.33),
        ("two_indoors", 550.0),
    ):
        assert number(found, f"air_opening_{name}_m2") / INCH**2 == pytest.approx(square_inches, rel=1e-4)
    assert "room" in str(found.value("combustion_air"))


def test_sealed_combustion_needs_no_openings_and_no_draft() -> None:
    found = section({"flue_diameter_m": 5.0 * INCH}, choices__flue="sealed")
    openings = [figure for figure in found.figures if figure.name.startswith("air_opening_")]
    assert len(openings) == 4
    assert all(figure.value is None and "ducted" in figure.absent for figure in openings)
    assert "ducted from outdoors" in str(found.value("combustion_air"))
    assert number(found, "flue_diameter_m") == pytest.approx(5.0 * INCH)
    assert number(found, "flue_net_draft_Pa") < 0.0
    assert "sealed combustion" in names(found)
    assert "no net draft" not in names(found)


def test_flue_worked_by_hand() -> None:
    # 8 in., 20 ft: velocity = flow / density / area; the section's own draft and loss against densities by the gas law,
    # flue gas of natural gas with 25 % of air 27.9 g/mol (see tests/published/test_flue.py), K = 2 x 0.75 + 0.5 + 1.
    answer = answered(site__elevation=0.0)
    found = gas_section(answer)
    rating = answer.seasons["summer"].heat.detail
    outdoors_K, stack_K = fahrenheit(90.0), number(found, "stack_temperature_K")
    assert stack_K == rating.stack_temperature_K  # type: ignore[union-attr]
    flow_kg_s = rating.flue_flow_kg_s  # type: ignore[union-attr]
    # N = 3.41 x pi x 0.2032 x 6.096 / (m x 1140)
    above, units = stack_K - outdoors_K, 13.27 / (flow_kg_s * 1140.0)
    mean_K = outdoors_K + above * (1.0 - 2.718282**-units) / units
    flue_kg_m3 = 101_325.0 * 0.0279 / (8.3145 * mean_K)
    air_kg_m3 = 101_325.0 * 0.028965 / (8.3145 * outdoors_K)
    assert number(found, "flue_draft_Pa") == pytest.approx(9.80665 * 6.096 * (air_kg_m3 - flue_kg_m3), rel=0.01)
    velocity_m_s = flow_kg_s / flue_kg_m3 / 0.032429
    assert number(found, "flue_velocity_m_s") == pytest.approx(velocity_m_s, rel=0.01)
    head_Pa = 0.5 * flue_kg_m3 * velocity_m_s**2
    # friction factor of the same flue there: 0.028, 5 %, over 30 diameters
    assert number(found, "flue_loss_Pa") == pytest.approx((3.0 + 0.028 * 30.0) * head_Pa, rel=0.03)
    net_Pa = number(found, "flue_draft_Pa") - number(found, "flue_loss_Pa")
    assert number(found, "flue_net_draft_Pa") == pytest.approx(net_Pa)
    assert net_Pa > 0.0
    # the end in winter air of 20 degF
    winter = answer.seasons["winter"].heat.detail
    cold_K, units = fahrenheit(20.0), 13.27 / (winter.flue_flow_kg_s * 1140.0)  # type: ignore[union-attr]
    end_K = cold_K + (winter.stack_temperature_K - cold_K) * 2.718282**-units  # type: ignore[union-attr]
    assert number(found, "flue_end_temperature_K") == pytest.approx(end_K, abs=1.5)


def test_draft_is_that_of_the_warmest_season() -> None:
    usual = section()
    cool = section(site__summer__air_temperature=fahrenheit(70.0), site__summer__wet_bulb=fahrenheit(60.0))
    tall = section(site__flue_height=12.0)
    wide = section({"flue_diameter_m": 10.0 * INCH})
    colder_winter = section(site__winter__air_temperature=fahrenheit(-10.0))
    assert number(cool, "flue_draft_Pa") > number(usual, "flue_draft_Pa")
    assert number(tall, "flue_draft_Pa") > number(usual, "flue_draft_Pa")
    assert number(wide, "flue_loss_Pa") < number(usual, "flue_loss_Pa")
    assert number(colder_winter, "flue_draft_Pa") == pytest.approx(number(usual, "flue_draft_Pa"), rel=1e-3)
    assert number(colder_winter, "flue_end_temperature_K") < number(usual, "flue_end_temperature_K")


def test_a_cold_start_by_hand() -> None:
    answer = answered()
    found, warm_up = gas_section(answer), answer.warm_up
    detail = answer.seasons[answer.governing].heat.detail
    assert warm_up.tower_off_s is not None
    # Natural gas of the house makes (0.95 x 4 + 0.03 x 6 + 0.005 x 8) / 2 = 2.01 mol of water per mol. With the air's
    # moisture that is an upper limit; a wall at some 70 degF (2.5 kPa) keeps a sixth to a fifth of it as vapour.
    water_kg_s = detail.fuel_flow_mol_s * 0.018015 * detail.combustion.water_mol_mol  # type: ignore[union-attr]
    assert detail.combustion.water_mol_mol == pytest.approx(2.01, rel=0.15)  # type: ignore[union-attr]
    assert 0.78 < number(found, "cold_start_condensate_kg_s") / water_kg_s < 0.9
    # The rate falls from there to zero at the dry tube, slowly first: more than half of rate x time, less than all.
    dry_K = number(found, "dry_tube_temperature_K")
    wet_s = warm_up.tower_off_s * (dry_K - warm_up.start_K) / (warm_up.target_K - warm_up.start_K)
    share = number(found, "cold_start_condensate_kg") / (number(found, "cold_start_condensate_kg_s") * wet_s)
    assert 0.5 < share < 0.75
    assert warm_up.start_K < dry_K < number(found, "flue_dew_point_K")
    assert "condensation in a cold start" in names(found)


def test_a_tank_that_does_not_warm_up_has_no_amount() -> None:
    answer = answered()
    stalled = gas_section(replace(answer, warm_up=replace(answer.warm_up, tower_off_s=None)))
    assert stalled.value("cold_start_condensate_kg") is None
    assert number(stalled, "cold_start_condensate_kg_s") == number(gas_section(answer), "cold_start_condensate_kg_s")


def test_a_warm_feed_leaves_the_tube_dry() -> None:
    found = section(liquid__feed_temperature=fahrenheit(125.0))
    assert found.value("cold_start_condensate_kg_s") == 0.0
    assert found.value("cold_start_condensate_kg") == 0.0
    assert "condensation in a cold start" not in names(found)


def test_a_usual_unit_has_nothing_more_to_watch() -> None:
    assert names(section()) == ["condensation in a cold start"]


@pytest.mark.parametrize(
    ("name", "burner", "given", "quantity"),
    [
        ("train inlet below its lowest", {}, {"utilities__gas_pressure": 4.4 * IN_WC}, "pressure"),
        ("little pressure for the gas line", {}, {"utilities__gas_pressure": 4.8 * IN_WC}, "pressure"),
        ("low gas switch close to the running pressure", {}, {"utilities__gas_pressure": 4.8 * IN_WC}, "pressure"),
        ("gas pressure at rest", {}, {"utilities__gas_pressure_at_rest": 14.5 * IN_WC}, "pressure"),
        ("gas pressure at rest not known", {}, {"utilities__gas_pressure": 12.0 * IN_WC}, "pressure"),
        ("pressures on propane", {}, {"utilities__fuel": "propane"}, "pressure"),
        ("cold stack", {"tube_length_m": 50.0}, {}, "temperature"),
        ("hot stack", {"tube_length_m": 25.0 * FOOT}, {}, "temperature"),
        ("no net draft", {"flue_diameter_m": 6.0 * INCH}, {}, "pressure"),
        ("flue velocity", {"flue_diameter_m": 4.0 * INCH}, {}, "velocity"),
        ("condensing flue", {"tube_length_m": 55.0}, {"site__flue_height": 60.0}, "temperature"),
        ("draft for the tube", {"fan_assisted": False}, {}, "pressure"),
        ("tube never dry", {}, {"choices__set_point": 308.15}, "temperature"),
    ],
)
def test_what_to_watch_is_raised(name: str, burner: dict[str, Any], given: dict[str, Any], quantity: str) -> None:
    assert name not in names(section())
    found = section(burner, **given)
    (notice,) = [entry for entry in found.notices if entry.name == name]
    assert notice.figures
    assert {entry for _, entry in notice.figures} == {quantity}
    assert notice.text.count("{") == len(notice.figures)
    assert not re.search(r"\d+ ?(Pa|K|m/s)\b", notice.text)


def test_stacks_are_watched_at_250_and_550_degF() -> None:
    seen: set[tuple[bool, bool]] = set()
    for length_ft in (25.0, 36.0, 40.0, 44.0, 80.0, 86.0, 89.0, 98.0):
        answer = answered({"tube_length_m": length_ft * FOOT})
        stacks_K = [result.heat.detail.stack_temperature_K for result in answer.seasons.values()]  # type: ignore[union-attr]
        cold, hot = min(stacks_K) < fahrenheit(250.0), max(stacks_K) > fahrenheit(550.0)
        found = names(gas_section(answer))
        assert ("cold stack" in found, "hot stack" in found) == (cold, hot), (length_ft, stacks_K)
        seen.add((cold, hot))
    assert seen == {(False, True), (False, False), (True, False)}


def test_too_little_gas_leaves_the_rest_of_the_section() -> None:
    found = section(utilities__gas_pressure=4.4 * IN_WC)
    assert found.value("low_gas_switch_gauge_Pa") is None
    assert number(found, "train_inlet_gauge_Pa") < number(found, "train_lowest_gauge_Pa")
    assert number(found, "flue_draft_Pa") > 0.0
    (notice,) = [entry for entry in found.notices if entry.name == "train inlet below its lowest"]
    assert notice.text.startswith("CONFLICT:")


def test_pressures_that_contradict_each_other_are_refused() -> None:
    given = {"utilities__gas_pressure": 8.0 * IN_WC, "utilities__gas_pressure_at_rest": 6.0 * IN_WC}
    with pytest.raises(InputError, match=r"gas_pressure_at_rest: 1495 Pa is below utilities.gas_pressure, 1993 Pa"):
        section(**given)


def test_a_line_too_long_for_any_pipe_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"heat_input_W.*4 in\. pipe"):
        section(utilities__gas_line_length=1000.0, utilities__gas_pressure=4.51 * IN_WC)


def test_a_unit_that_burns_no_gas_is_refused() -> None:
    answer = answer_for(build_job({"duty.volume": 8.6e-6}), unit(heat_source=HEATER, tank=TANK))
    with pytest.raises(InputError, match="burns no gas"):
        gas_section(answer)


def test_propane_takes_less_volume() -> None:
    # 2516 against 1025 Btu/ft3
    ratio = number(section(utilities__fuel="propane"), "gas_flow_standard_m3_s")
    ratio /= number(section(), "gas_flow_standard_m3_s")
    assert ratio == pytest.approx(1025.2 / 2516.1, rel=0.01)


SUFFIXES = {
    "pressure": "_Pa",
    "temperature": "_K",
    "short length": "_m",
    "area": "_m2",
    "gas flow": "_standard_m3_s",
    "air flow": "_m3_s",
    "velocity": "_m_s",
    "heat": "_W",
    "mass flow": "_kg_s",
    "mass": "_kg",
    "text": "",
}


def test_figures_are_named_explained_and_sourced() -> None:
    register = {citation.function for citation in citations()}
    found = section()
    assert found.key == "gas"
    own = {f"gas.{figure.name}" for figure in found.figures}
    assert len(own) == len(found.figures)
    keys = set(answered().job.values)
    for figure in found.figures:
        assert figure.quantity == "text" or figure.quantity in QUANTITIES
        assert figure.name.endswith(SUFFIXES[figure.quantity]), figure.name
        assert figure.equation
        assert figure.label[0].islower()
        assert set(figure.functions) <= register, figure.name
        for entry in figure.inputs:
            assert entry.quantity == "text" or entry.quantity in QUANTITIES
            assert entry.name in own | keys or "." not in entry.name, entry.name
            if entry.name in own:
                assert entry.value == found.value(entry.name.removeprefix("gas."))
    assert len(found.cautions) == 4
