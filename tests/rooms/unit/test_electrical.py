"""The load table of a sized unit against the code's arithmetic worked by hand; what is too small is said."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from invented_unit import BLOWER, BURNER, HEATER, PUMP, TOWER, unit
from vaporwright.display_units import QUANTITIES, show
from vaporwright.equipment.electrical_loads import LoadTable
from vaporwright.foundation.notice import Notice
from vaporwright.foundation.register import citations
from vaporwright.unit.answer import UnitAnswer, answer_for
from vaporwright.unit.electrical import electrical_section
from vaporwright.unit.figures import Section
from vaporwright.unit.job import build_job
from vaporwright.unit.practice import ShopPractice

HP_W = 745.69987
ROOT_3 = math.sqrt(3.0)


def answered(parts: dict[str, Any] | None = None, **given: Any) -> UnitAnswer:
    values = {key.replace("__", "."): value for key, value in given.items()}
    return answer_for(build_job({"duty.volume": 8.6e-6, **values}), unit(**(parts or {})))


def solved(parts: dict[str, Any] | None = None, **given: Any) -> tuple[Section, LoadTable]:
    return electrical_section(answered(parts, **given))


def number(section: Section, name: str) -> float:
    value = section.value(name)
    assert isinstance(value, float), name
    return value


def by_name(section: Section) -> dict[str, Notice]:
    return {notice.name: notice for notice in section.notices}


def test_feeder_of_an_electric_unit_by_hand() -> None:
    """480 V. Pump 1.5 kW read as 2 hp: 3.4 A. Blower 1.1 kW, 1.475 hp, read as 1 1/2 hp: 3.0 A. Heater 60 kW in four
    circuits: 72.17 A in all, 18.04 each. Controls 1.5 kVA on two lines: 3.125 A. Feeder 1.25 x 3.4 + 3.0 + 1.25 x
    (72.17 + 3.125) = 101.37 A, at least 110 A; at most 15 (2.5 x 3.4 = 8.5) + 3.0 + 94.12 = 112.1, down to 110 A."""
    section, table = solved({"heat_source": HEATER})
    assert number(section, "pump_current_A") == 3.4
    assert number(section, "blower_current_A") == 3.0
    for circuit in (1, 2, 3, 4):
        assert number(section, f"heater_{circuit}_current_A") == pytest.approx(18.04, abs=0.005)
    assert number(section, "controls_current_A") == pytest.approx(3.125)
    assert number(section, "running_current_A") == pytest.approx(3.4 + 3.0 + 72.169 + 3.125, abs=0.001)
    assert number(section, "feeder_least_ampacity_A") == pytest.approx(101.37, abs=0.005)
    assert number(section, "feeder_smallest_device_A") == number(section, "feeder_largest_device_A") == 110.0
    # root 3 x 480 x 6.4 + 60,000 + 1,500 = 66,821
    assert section.value("apparent_power") == "66.8 kVA"
    assert number(section, "circuit_count") == len(table.circuits) == 7.0
    assert section.value("ground_fault_protection") == "required on every heater circuit"
    assert section.notices == ()
    assert "licensed electrician" in section.cautions[0]


def test_a_voltage_between_the_tables_columns() -> None:
    # 490 V is a 480 V system: the table's 460 V. The heater draws (490 / 480)^2 x 60 kW = 62.53 kW, 73.67 A.
    section, _ = solved({"heat_source": HEATER}, utilities__supply_voltage=490.0)
    assert number(section, "pump_current_A") == 3.4
    assert number(section, "heater_power_W") == pytest.approx(62526.0, rel=1e-4)
    assert number(section, "heater_1_current_A") == pytest.approx(73.67 / 4.0, abs=0.005)
    assert not section.notices


def test_a_voltage_that_the_table_has_not() -> None:
    # 400 V: 1500 / (root 3 x 400 x 0.82 x 0.75) = 3.52 A, 1100 / (root 3 x 400 x 0.85 x 0.75) = 2.49 A
    section, table = solved(utilities__supply_voltage=400.0)
    assert number(section, "pump_current_A") == pytest.approx(3.520, abs=0.001)
    assert number(section, "blower_current_A") == pytest.approx(2.491, abs=0.001)
    assert by_name(section)["pump motor not in the code's table"].figures == (
        (1500.0, "power"),
        (0.82, "fraction"),
        (0.75, "ratio"),
    )
    assert "efficiency" in next(circuit.basis for circuit in table.circuits if circuit.name == "pump")


@pytest.mark.parametrize(
    ("rating_W", "current_A", "noticed"),
    # 460 V: the table starts at 1/2 hp, 1.1 A; 4 kW reads as 7 1/2 hp, 11 A; 20 hp is beyond it: 14,914 / (root 3 x 480
    # x 0.82 x 0.75) = 29.17 A, a little above the code's 27
    [(40.0, 1.1, False), (4000.0, 11.0, False), (20 * HP_W, 29.17, True)],
)
def test_a_motor_that_is_no_size_of_the_table(rating_W: float, current_A: float, noticed: bool) -> None:
    section, _ = solved({"pump": replace(PUMP, motor_rating_W=rating_W)})
    assert number(section, "pump_current_A") == pytest.approx(current_A, abs=0.005)
    assert ("pump motor not in the code's table" in by_name(section)) is noticed


def test_two_towers_have_two_blowers() -> None:
    answer = answered()
    one, _ = electrical_section(answer)
    two, _ = electrical_section(replace(answer, unit=replace(answer.unit, towers=2)))
    assert number(two, "blower_1_current_A") == number(two, "blower_2_current_A") == 3.0
    assert number(two, "running_current_A") - number(one, "running_current_A") == pytest.approx(3.0)
    assert number(two, "feeder_least_ampacity_A") - number(one, "feeder_least_ampacity_A") == pytest.approx(3.0)


def test_the_burners_fan_is_a_load_or_a_motor_of_the_table() -> None:
    small, table = solved()
    assert number(small, "burner_fan_current_A") == pytest.approx(300.0 / 0.6 / 480.0)
    assert [circuit.kind for circuit in table.circuits] == ["motor", "motor", "other", "other"]
    assert small.value("ground_fault_protection") == "no electric heater"
    large, table = solved({"heat_source": replace(BURNER, blower_power_W=HP_W)})
    assert number(large, "burner_fan_current_A") == 2.1  # 1 hp at 460 V
    assert [circuit.kind for circuit in table.circuits] == ["motor", "motor", "motor", "other"]
    draft, _ = solved({"heat_source": replace(BURNER, blower_power_W=0.0)})
    assert "burner_fan_current_A" not in [figure.name for figure in draft.figures]


def test_a_heater_on_too_few_circuits_is_named() -> None:
    section, _ = solved({"heat_source": replace(HEATER, circuits=1)})
    current, circuits, limit = by_name(section)["heater circuit too large"].figures
    assert current == (pytest.approx(72.17, abs=0.005), "current")
    assert (circuits, limit) == ((1.0, "count"), (48.0, "current"))
    assert "heater circuit too large" not in by_name(solved({"heat_source": replace(HEATER, circuits=2)})[0])


def test_single_phase_elements_between_two_lines() -> None:
    # Six circuits of 10 kW between two lines: 20.83 A each, two to a pair, 2 root 3 x 20.83 = 72.17 A in a line
    section, _ = solved({"heat_source": replace(HEATER, phases=1, circuits=6)})
    assert number(section, "heater_6_current_A") == pytest.approx(20.833, abs=0.001)
    assert number(section, "running_current_A") == pytest.approx(3.4 + 3.0 + 72.169 + 3.125, abs=0.001)


def test_a_blower_motor_below_its_shaft_power_is_named() -> None:
    answer = answered()
    section, _ = electrical_section(answer)
    greatest_W = max(result.operation.tower.blower_shaft_power_W for result in answer.seasons.values())
    assert number(section, "blower_shaft_power_W") == greatest_W
    assert "blower motor too small" not in by_name(section)
    weak = replace(answer, unit=replace(answer.unit, blower=replace(BLOWER, motor_rating_W=0.99 * greatest_W)))
    notice = by_name(electrical_section(weak)[0])["blower motor too small"]
    assert notice.figures == ((greatest_W, "power"), (0.99 * greatest_W, "power"))


def test_a_wet_blower_starts_on_cold_air() -> None:
    """Power goes with density; by the ideal gas, (1 + W) / (T (1 + 1.6078 W)) of intake over exhaust."""
    answer = answered({"tower": replace(TOWER, blower_after_fill=True)})
    section, _ = electrical_section(answer)
    asked = []
    for result in answer.seasons.values():
        tower = result.operation.tower
        states = (
            (tower.air_in_temperature_K, tower.air_in_humidity_ratio_kg_kg),
            (tower.rating.air_out_temperature_K, tower.rating.air_out_humidity_ratio_kg_kg),
        )
        cold, hot = ((1.0 + ratio) / (kelvin * (1.0 + 1.6078 * ratio)) for kelvin, ratio in states)
        assert cold > 1.03 * hot
        asked.append(tower.blower_shaft_power_W * cold / hot)
    assert number(section, "blower_shaft_power_W") == pytest.approx(max(asked), rel=2e-3)


def test_a_pump_motor_below_its_duty_is_named() -> None:
    # 60 gal/min over 40 ft at half efficiency: 0.904 kW on water; the liquor at the end of a batch is a little heavier
    section, _ = solved({"pump": replace(PUMP, motor_rating_W=900.0)})
    shaft, rated = by_name(section)["pump motor too small"].figures
    assert shaft[0] == pytest.approx(998.2 * 9.80665 * 3.7854e-3 * 12.192 / 0.5, rel=0.05)
    assert rated == (900.0, "power")
    assert "pump motor too small" not in by_name(solved()[0])


def test_the_pump_starts_on_cold_liquor_of_the_end_of_a_batch() -> None:
    # Power goes with density. 6 g/L boiled down 15 times are 8.5 % salt by weight where the factor is one of volumes,
    # 9.0 % where it is one of masses: 1.059 to 1.064 times water when cold (brine, from memory); 1.033 halfway
    water, brine = (
        number(solved(liquid__dissolved_solids=solids, liquid__concentration_factor=15.0)[0], "pump_shaft_power_W")
        for solids in (0.0, 6.0)
    )
    assert water == pytest.approx(999.1 * 9.80665 * 3.7854e-3 * 12.192 / 0.5, rel=1e-3)
    assert brine / water == pytest.approx(1.062, abs=0.006)


@pytest.mark.parametrize(
    ("limit_W", "name"),
    [
        (50e3, "heater above the electric limit"),
        (61e3, "heater and motors above the electric limit"),
        (64e3, None),
        (None, None),
    ],
)
def test_what_the_site_can_spare(limit_W: float | None, name: str | None) -> None:
    given = {} if limit_W is None else {"utilities__electric_limit": limit_W}
    section, _ = solved({"heat_source": HEATER}, **given)
    assert list(by_name(section)) == ([] if name is None else [name])
    # conductors are for the heater with all its circuits on, limited or not
    assert number(section, "heater_power_W") == pytest.approx(60e3)
    assert number(section, "feeder_least_ampacity_A") == pytest.approx(101.37, abs=0.005)


def test_the_limit_on_electric_heat_is_no_matter_of_a_gas_unit() -> None:
    assert by_name(solved(utilities__electric_limit=1e3)[0]) == {}


def test_the_shops_control_power_counts() -> None:
    answer = answered()
    bare, _ = electrical_section(
        replace(answer, unit=replace(answer.unit, practice=ShopPractice(control_power_VA=0.0)))
    )
    assert "controls_current_A" not in [figure.name for figure in bare.figures]
    usual, _ = electrical_section(answer)
    assert number(usual, "running_current_A") - number(bare, "running_current_A") == pytest.approx(1500.0 / 480.0)


@pytest.mark.parametrize("heat", [{}, {"heat_source": HEATER}])
def test_figures_are_named_sourced_and_printable(heat: dict[str, Any]) -> None:
    section, _ = solved(heat, utilities__supply_voltage=400.0)
    known = {citation.function for citation in citations()}
    names = [figure.name for figure in section.figures]
    assert len(set(names)) == len(names)
    for figure in section.figures:
        assert figure.label, figure.name
        assert figure.equation, figure.name
        assert (figure.quantity == "text") == isinstance(figure.value, str), figure.name
        assert figure.quantity in ("text", "count") or figure.name.endswith(("_A", "_V", "_W")), figure.name
        assert figure.name == figure.name.replace(" ", "_"), figure.name
        assert all(function in known for function in figure.functions), figure
        for quantity in (figure.quantity, *(given.quantity for given in figure.inputs)):
            assert quantity in QUANTITIES or quantity == "text"
    for notice in section.notices:
        assert "{" not in notice.words(lambda value, quantity: show(value, quantity, "US"))
    assert section.key == "electrical"
