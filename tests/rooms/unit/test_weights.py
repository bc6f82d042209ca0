"""Weights, floor load, draining and pressing of a small invented unit, worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from invented_unit import BURNER, GPM, HEATER, TANK, unit
from vaporwright.equipment.level_rods import LevelMark, LevelStack, MarkName
from vaporwright.foundation.errors import OutOfRange
from vaporwright.foundation.register import citations
from vaporwright.unit.answer import UnitAnswer, answer_for
from vaporwright.unit.fields import FIELDS_BY_KEY
from vaporwright.unit.figures import Section
from vaporwright.unit.job import build_job
from vaporwright.unit.levels import levels_of
from vaporwright.unit.practice import ShopPractice
from vaporwright.unit.weights import SHELL_DENSITIES_kg_m3, weights_section

SUFFIXES = ("_kg", "_Pa", "_m3", "_s")
WATER_15C = 999.1  # kg/m3, handbook
G = 9.80665
LB_FT2 = 0.45359237 * G / 0.3048**2

# 2 m x 1 m x 1 m, flat, 3 mm of stainless, 50 mm of insulation; a tube of 0.1 m x 10 m that lies 0.1 to 0.3 m high;
# drain of 40 mm; refill-off at 0.6 m.
SMALL = replace(
    TANK,
    length_m=2.0,
    width_m=1.0,
    height_m=1.0,
    wall_thickness_m=0.003,
    insulation_thickness_m=0.05,
    drain_bore_m=0.04,
)
TUBE = replace(BURNER, height_m=0.2, tube_outer_diameter_m=0.1, tube_length_m=10.0)
PRACTICE = ShopPractice(bottom_slope=0.0, stiffener_share=0.25, packing_share=0.12, panel_mass_kg=90.0)
TUBE_m3 = math.pi / 4.0 * 0.1**2 * 10.0
AT_REFILL_OFF_m3 = 2.0 * 0.6 - TUBE_m3
AT_RIM_m3 = 2.0 - TUBE_m3
# Plates 2 x 2 + 2 x 1 + 2 = 8 m2: 192 kg and a quarter; lid 0.9 x 2 m2 x 3 mm: 43.2; insulation 6 m2 x 0.05 x 150: 45;
# tower 200, burner 130, pump 40, panel 90.
EMPTY_kg = 240.0 + 43.2 + 45.0 + 200.0 + 130.0 + 40.0 + 90.0


def stack_at(refill_off_m: float, heater_bottom_m: float = 0.1) -> LevelStack:
    def mark(name: MarkName, height_m: float) -> LevelMark:
        return LevelMark(name, height_m, 0.0, "", "", ())

    marks = (mark("heater bottom", heater_bottom_m), mark("refill-off", refill_off_m))
    return LevelStack(marks, mark("reference", 0.0), mark("rod holder", 0.0), (), ())


STACK = stack_at(0.6)


@pytest.fixture(scope="module")
def rated() -> UnitAnswer:
    return answer_for(build_job({"duty.volume": 8.6e-6}), unit())


def small(answer: UnitAnswer, *, towers: int = 1, parts: dict[str, Any] | None = None, **values: float) -> UnitAnswer:
    """The small unit with clear water and a hold-up of 30 mm of its tank, unless the test says otherwise."""
    given = {"liquid.dissolved_solids": 0.0, "choices.drain_back": 0.03, "liquid.concentration_factor": 1.05}
    given |= {key.replace("__", "."): value for key, value in values.items()}
    built = {"tank": SMALL, "heat_source": TUBE, "practice": PRACTICE, **(parts or {})}
    return replace(
        answer, unit=replace(answer.unit, towers=towers, **built), job=build_job({"duty.volume": 8.6e-6, **given})
    )


def number(section: Section, name: str) -> float:
    value = section.value(name)
    assert isinstance(value, float)
    return value


def test_masses_by_hand(rated: UnitAnswer) -> None:
    section = weights_section(small(rated), STACK)
    assert number(section, "tank_shell_kg") == pytest.approx(240.0)
    assert number(section, "empty_kg") == pytest.approx(EMPTY_kg)
    assert number(section, "shipping_kg") == pytest.approx(1.12 * EMPTY_kg)
    assert number(section, "refill_off_volume_m3") == pytest.approx(AT_REFILL_OFF_m3)
    assert number(section, "rim_volume_m3") == pytest.approx(AT_RIM_m3)
    hold_up_m3 = 0.03 * 2.0
    operating_kg = EMPTY_kg + WATER_15C * (AT_REFILL_OFF_m3 + hold_up_m3)
    flooded_kg = EMPTY_kg + WATER_15C * (AT_RIM_m3 + hold_up_m3)
    assert number(section, "operating_kg") == pytest.approx(operating_kg, rel=1e-4)
    assert number(section, "flooded_kg") == pytest.approx(flooded_kg, rel=1e-4)
    # 2 m2 of tank and 0.75 m2 under the tower beside it
    assert number(section, "operating_floor_load_Pa") == pytest.approx(operating_kg * G / 2.75, rel=1e-4)
    assert number(section, "flooded_floor_load_Pa") == pytest.approx(flooded_kg * G / 2.75, rel=1e-4)
    assert number(section, "flooded_load_under_tank_Pa") == pytest.approx((flooded_kg - 200.0) * G / 2.0, rel=1e-4)


def test_towers_on_top_stand_on_the_tank(rated: UnitAnswer) -> None:
    on_top = {"tower": replace(rated.unit.tower, floor_area_m2=0.0)}
    section = weights_section(small(rated, towers=2, parts=on_top), STACK)
    assert number(section, "empty_kg") == pytest.approx(EMPTY_kg + 200.0)
    flooded_kg = EMPTY_kg + 200.0 + WATER_15C * (AT_RIM_m3 + 0.06)
    for name in ("flooded_floor_load_Pa", "flooded_load_under_tank_Pa"):
        assert number(section, name) == pytest.approx(flooded_kg * G / 2.0, rel=1e-4)


def test_two_towers_beside_the_tank(rated: UnitAnswer) -> None:
    section = weights_section(small(rated, towers=2), STACK)
    assert number(section, "empty_kg") == pytest.approx(EMPTY_kg + 200.0)
    flooded_kg = number(section, "flooded_kg")
    assert number(section, "flooded_floor_load_Pa") == pytest.approx(flooded_kg * G / 3.5, rel=1e-6)
    assert number(section, "flooded_load_under_tank_Pa") == pytest.approx((flooded_kg - 400.0) * G / 2.0, rel=1e-6)


@pytest.mark.parametrize(("material", "density"), [("carbon steel", 7850.0), ("polypropylene", 910.0)])
def test_other_materials(rated: UnitAnswer, material: str, density: float) -> None:
    # Plates and lid are 8 x 1.25 + 1.8 = 11.8 m2 of 3 mm; no insulation, no lid's share lost.
    bare = replace(SMALL, material=material, insulation_thickness_m=0.0)
    section = weights_section(small(rated, parts={"tank": bare}), STACK)
    assert number(section, "empty_kg") == pytest.approx(11.8 * 0.003 * density + 460.0)


def test_every_material_of_a_catalogue_has_a_density() -> None:
    assert set(SHELL_DENSITIES_kg_m3) == set(FIELDS_BY_KEY["choices.tank_material"].choices)


def test_the_batch_at_its_end_weighs_most(rated: UnitAnswer) -> None:
    # 10 g/L ten times concentrated: 100 g of salt per litre and more; sodium chloride of 10 % at 15 degC has
    # 1072.6 kg/m3 (handbook, from memory: 1070.7 at 20 degC).
    section = weights_section(small(rated, liquid__dissolved_solids=10.0, liquid__concentration_factor=10.0), STACK)
    water = weights_section(small(rated), STACK)
    liquor_m3 = AT_RIM_m3 + 0.06
    density = (number(section, "flooded_kg") - number(section, "empty_kg")) / liquor_m3
    assert density == pytest.approx(1072.6, rel=0.01)
    assert number(section, "empty_kg") == number(water, "empty_kg")


def test_draining_by_hand(rated: UnitAnswer) -> None:
    # Torricelli, K = 0.5 + 0.1 + 0.75: t = 2 sqrt(1 + K) / (a sqrt(2 g)) times A sqrt(0.6), less what the tube takes of
    # that between 0.1 and 0.3 m.
    roots = 2.0 * math.sqrt(0.6) - TUBE_m3 / 0.2 * (math.sqrt(0.3) - math.sqrt(0.1))
    drain_m2 = math.pi / 4.0 * 0.04**2
    seconds = 2.0 * math.sqrt(2.35) * roots / (drain_m2 * math.sqrt(2.0 * G))
    assert seconds == pytest.approx(800.0, rel=0.01)  # a little over 13 min
    assert number(weights_section(small(rated), STACK), "drain_time_s") == pytest.approx(seconds, rel=1e-9)


def test_press_and_spill_by_hand(rated: UnitAnswer) -> None:
    # 1.121 m3 are 296.3 gal; at 5 gal/min 59.3 min. 110 % of 1.921 m3.
    section = weights_section(small(rated), STACK)
    assert number(section, "press_time_s") / 60.0 == pytest.approx(AT_REFILL_OFF_m3 / (5.0 * GPM) / 60.0)
    assert number(section, "press_time_s") / 60.0 == pytest.approx(59.3, abs=0.1)
    assert number(section, "spill_containment_m3") == pytest.approx(2.1136, abs=1e-4)


def test_a_sloped_bottom_holds_less_and_rods_displace_little(rated: UnitAnswer) -> None:
    sloped = replace(PRACTICE, bottom_slope=0.02)
    section = weights_section(small(rated, parts={"practice": sloped, "heat_source": HEATER}), STACK)
    rods_m3 = HEATER.sheath_area_m2 * HEATER.sheath_diameter_m / 4.0
    assert number(section, "refill_off_volume_m3") == pytest.approx(2.0 * (0.6 - 0.02) - rods_m3)


def test_floor_notice(rated: UnitAnswer) -> None:
    # Water of 1 m depth alone is 205 lb/ft2; a tank of 0.3 m and little else stays below 125.
    (notice,) = weights_section(small(rated), STACK).notices
    assert notice.name == "floor load"
    assert notice.figures[0][0] / LB_FT2 > 205.0
    assert notice.figures[1][0] / LB_FT2 == pytest.approx(125.0, rel=1e-4)
    low = {
        "tank": replace(SMALL, height_m=0.3, length_m=4.0),
        "heat_source": replace(TUBE, height_m=0.05, mass_kg=10.0),
    }
    assert weights_section(small(rated, parts=low), stack_at(0.2, 0.05)).notices == ()


def test_a_refill_above_the_rim_is_an_error(rated: UnitAnswer) -> None:
    with pytest.raises(OutOfRange, match=r"^level_m "):
        weights_section(small(rated), stack_at(1.2))


def test_names_units_functions_and_cautions(rated: UnitAnswer) -> None:
    section = weights_section(rated, levels_of(rated))
    assert (section.key, section.title) == ("weights", "Weights, floor, draining")
    names = [figure.name for figure in section.figures]
    assert len(set(names)) == len(names)
    assert all(name.endswith(SUFFIXES) for name in names)
    cited = {citation.function for citation in citations()}
    for figure in section.figures:
        assert set(figure.functions) <= cited
        assert figure.label[0].islower()
        for entry in figure.inputs:
            if entry.name.startswith("weights."):
                assert entry.value == section.value(entry.name.removeprefix("weights."))
    said = " ".join(section.cautions)
    for word in ("Lift", "structural engineer", "scalds", "confined space", "Local code"):
        assert word in said


def test_the_unit_of_common_practice(rated: UnitAnswer) -> None:
    # 7 x 4 x 3 ft are 84 ft3; the tube of 6.5 in and 50 ft takes 11.52, half the rise of the bottom, 7/8 in, 1.02.
    section = weights_section(rated, levels_of(rated))
    names = ("empty_kg", "shipping_kg", "operating_kg", "flooded_kg")
    assert number(section, "rim_volume_m3") / 0.3048**3 == pytest.approx(71.46, abs=0.01)
    masses = [number(section, name) for name in names]
    assert masses == sorted(masses)
    assert 4.0 * 60.0 < number(section, "drain_time_s") < 60.0 * 60.0
