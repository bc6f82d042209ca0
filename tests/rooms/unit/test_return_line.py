"""The gravity return of a unit: size and place against published points and hand work, conflicts named."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from invented_unit import FOOT, GPM, INCH, TANK, TOWER, unit
from vaporwright.equipment.level_rods import LevelMark, LevelStack, MarkName
from vaporwright.foundation.errors import OutOfRange
from vaporwright.foundation.notice import Notice
from vaporwright.foundation.register import citations
from vaporwright.unit.answer import UnitAnswer, answer_for
from vaporwright.unit.figures import Section
from vaporwright.unit.job import build_job
from vaporwright.unit.levels import levels_of
from vaporwright.unit.return_line import return_section

SUFFIXES = ("_m", "_m3_s", "_K")
WITHOUT_UNIT = {"return_kind", "return_pipe", "froude_number"}


def stack_at(**heights_m: float) -> LevelStack:
    """A stack of which only some marks count, at heights for hand work."""

    def mark(name: MarkName) -> LevelMark:
        return LevelMark(name, heights_m.get(name.replace(" ", "_"), 0.0), 0.0, "", "", ())

    marks = tuple(mark(name) for name in ("sludge top", "low", "high"))
    return LevelStack(marks, mark("reference"), mark("rod holder"), (), ())


STACK = stack_at(sludge_top=0.07, low=0.5, high=0.7)
# A tank and a tower with room for everything, so that each test brings its own shortage.
ROOMY = {
    "tank": replace(TANK, length_m=5.0, standing_height_m=0.1),
    "tower": replace(TOWER, sump_bottom_m=1.6, sump_depth_m=0.3),
}


@pytest.fixture(scope="module")
def rated() -> UnitAnswer:
    """One rating of the unit of common practice; the tests change what the return sees of it."""
    return answer_for(build_job({"duty.volume": 8.6e-6}), unit(spray_gpm=35.0))


def changed(answer: UnitAnswer, *, spray_gpm: float = 35.0, towers: int = 1, **values: float | str) -> UnitAnswer:
    given = {key.replace("__", "."): value for key, value in values.items()}
    parts = replace(answer.unit, **ROOMY, spray_flow_m3_s=spray_gpm * GPM, towers=towers)
    return replace(answer, unit=parts, job=build_job({"duty.volume": 8.6e-6, **given}))


def with_parts(
    answer: UnitAnswer, *, tank_length_m: float = 5.0, sump_m: float = 1.6, depth_m: float = 0.3
) -> UnitAnswer:
    tank = replace(answer.unit.tank, length_m=tank_length_m)
    tower = replace(answer.unit.tower, sump_bottom_m=sump_m, sump_depth_m=depth_m)
    return replace(answer, unit=replace(answer.unit, tank=tank, tower=tower))


def number(section: Section, name: str) -> float:
    value = section.value(name)
    assert isinstance(value, float)
    return value


def the_conflict(section: Section) -> Notice:
    (conflict,) = (notice for notice in section.notices if notice.name.startswith("return conflict"))
    assert conflict.text.startswith("CONFLICT: ")
    return conflict


@pytest.mark.parametrize(
    ("spray_gpm", "towers", "pipe"),
    [(39.0, 1, "NPS 4"), (40.0, 1, "NPS 6"), (78.0, 2, "NPS 4"), (80.0, 2, "NPS 6"), (19.0, 1, "NPS 3")],
)
def test_self_venting_sizes(rated: UnitAnswer, spray_gpm: float, towers: int, pipe: str) -> None:
    # Froude 0.3 (Simpson 1968; Hills 1983): NPS 3 passes 19.83 gal/min, NPS 4 39.11 gal/min; each tower has its own.
    section = return_section(changed(rated, spray_gpm=spray_gpm, towers=towers), STACK)
    assert section.value("return_pipe") == f"{pipe} schedule 40"
    assert number(section, "return_flow_m3_s") / GPM == pytest.approx(spray_gpm / towers)
    capacity_gpm = {"NPS 3": 19.83, "NPS 4": 39.11}.get(pipe)
    if capacity_gpm is not None:
        assert number(section, "self_venting_capacity_m3_s") / GPM == pytest.approx(capacity_gpm, rel=0.005)


def test_froude_number_and_sump_head_after_hills(rated: UnitAnswer) -> None:
    # Published: 36 m3/h in 180 mm has Fr 0.296 and 110 mm over the outlet. At one flow Fr goes with D^-2.5 and the head
    # with D Fr^0.5 = D^-0.25; the next listed pipe is 202.7 mm wide.
    section = return_section(changed(rated, spray_gpm=0.01 / GPM), STACK)
    assert section.value("return_pipe") == "NPS 8 schedule 40"
    assert number(section, "froude_number") == pytest.approx(0.296 * (180.0 / 202.72) ** 2.5, rel=0.01)
    assert number(section, "sump_head_m") == pytest.approx(0.110 * (180.0 / 202.72) ** 0.25, rel=0.01)


def test_outlet_in_air_by_hand(rated: UnitAnswer) -> None:
    # High rod 0.7 m and 0.05 m of air; a run of 2.4 m falls by 2.4 / 48 = 0.05 m; the sump is 1.6 - 0.1 m up.
    section = return_section(changed(rated, choices__return_run=2.4), STACK)
    assert section.value("return_kind") == "outlet in air"
    assert number(section, "return_outlet_m") == pytest.approx(0.75)
    assert number(section, "fall_m") == pytest.approx(0.05)
    assert number(section, "sump_bottom_m") == pytest.approx(1.5)
    assert number(section, "least_distance_m") == pytest.approx(1.0226)  # ten bores of NPS 4
    assert number(section, "distance_to_suction_m") == pytest.approx(4.85)
    assert number(section, "distance_to_thermometer_m") == pytest.approx(3.6375)
    assert section.value("vent_bore_m") is None
    assert [notice.name for notice in section.notices] == ["narrower plastic pipe"]
    assert "hot" in section.cautions[0]


def test_foam_switches_to_the_downcomer(rated: UnitAnswer) -> None:
    # 35 gal/min at 0.15 m/s need 136.9 mm: NPS 6. End 4 in (0.1 m) below low at 0.5 m; vent half of 154.05 mm.
    section = return_section(changed(rated, liquid__foam_depth=0.05), STACK)
    assert section.value("return_kind") == "vented downcomer"
    assert section.value("return_pipe") == "NPS 6 schedule 40"
    assert math.sqrt(35.0 * GPM / (0.25 * math.pi * 0.15)) == pytest.approx(0.1369, abs=1e-4)
    assert number(section, "return_outlet_m") == pytest.approx(0.4)
    assert number(section, "vent_bore_m") == pytest.approx(0.0770, abs=1e-4)
    assert "foam in the return" not in {notice.name for notice in section.notices}


@pytest.mark.parametrize(("foam_m", "kind"), [(0.0, "vented downcomer"), (0.05, "outlet in air")])
def test_a_kind_that_is_chosen_stands(rated: UnitAnswer, foam_m: float, kind: str) -> None:
    section = return_section(changed(rated, liquid__foam_depth=foam_m, choices__return_kind=kind), STACK)
    assert section.value("return_kind") == kind
    warned = [notice for notice in section.notices if notice.name == "foam in the return"]
    assert bool(warned) == (kind == "outlet in air")
    assert all(notice.figures == ((0.05, "short length"),) for notice in warned)


@pytest.mark.parametrize(
    ("kind", "name", "short_m"),
    [("outlet in air", "outlet above the high rod", 0.3), ("vented downcomer", "sump above the high rod", 0.25)],
)
def test_a_low_sump_is_a_named_conflict(rated: UnitAnswer, kind: str, name: str, short_m: float) -> None:
    # 0.7 m high rod, 0.05 m of fall and, in air, 0.05 m of clearance; the sump at 0.6 - 0.1 = 0.5 m.
    answer = changed(rated, choices__return_run=2.4, choices__return_kind=kind)
    conflict = the_conflict(return_section(with_parts(answer, sump_m=0.6), STACK))
    assert conflict.name == f"return conflict: {name}"
    assert conflict.figures[0] == (pytest.approx(short_m), "short length")
    assert "a higher tower" in conflict.text
    assert "vented downcomer" not in conflict.text  # it would not save enough


def test_a_sump_below_the_tank_is_a_conflict_too(rated: UnitAnswer) -> None:
    answer = changed(rated, choices__return_run=2.4)
    conflict = the_conflict(return_section(with_parts(answer, sump_m=0.05), STACK))
    assert conflict.figures[0][0] == pytest.approx(0.85)  # 0.8 m wanted, 0.05 m below the low corner


def test_a_short_tank_and_a_shallow_sump(rated: UnitAnswer) -> None:
    # 1.4 m of tank leave 1.25 m to the suction and 0.9375 m to the thermometer; ten bores of NPS 4 are 1.0226 m.
    short = return_section(with_parts(changed(rated), tank_length_m=1.4), STACK)
    (near,) = (notice for notice in short.notices if notice.name.startswith("return too near"))
    assert near.name == "return too near: thermometer"
    assert near.figures[0][0] == pytest.approx(0.0851)
    assert "a baffle" in near.text
    assert "CONFLICT" not in near.text  # a baffle, and it can be built
    # Fr = 0.3 (35 / 39.11) = 0.2685: head 0.10226 sqrt(0.2685 / 0.8) = 0.0592 m.
    conflict = the_conflict(return_section(with_parts(changed(rated), depth_m=0.04), STACK))
    assert conflict.name == "return conflict: sump depth"
    assert conflict.figures[0][0] == pytest.approx(0.0192, abs=2e-4)


def test_a_downcomer_in_sludge(rated: UnitAnswer) -> None:
    # End at 0.5 - 0.1 m, one bore of 0.15405 m above sludge at 0.3 m: 0.05405 m short.
    answer = changed(rated, liquid__foam_depth=0.05)
    conflict = the_conflict(return_section(answer, stack_at(sludge_top=0.3, low=0.5, high=0.7)))
    assert conflict.name == "return conflict: end above the sludge"
    assert conflict.figures[0][0] == pytest.approx(0.0540, abs=2e-4)


@pytest.mark.parametrize(
    ("spray_gpm", "material", "kind", "warns"),
    [
        (33.0, "CPVC", "outlet in air", False),
        (36.0, "CPVC", "outlet in air", True),
        (36.0, "stainless steel", "outlet in air", False),
        (42.0, "CPVC", "vented downcomer", True),
        (39.0, "CPVC", "vented downcomer", False),
    ],
)
def test_thick_walled_plastic_pipe(rated: UnitAnswer, spray_gpm: float, material: str, kind: str, warns: bool) -> None:
    # Schedule 80 of NPS 4 is 3.826 in wide: 39.11 (3.826 / 4.026)^2.5 = 34.4 gal/min. NPS 6, 5.761 in, at 0.15 m/s:
    # 40.0 gal/min against 44.3 of schedule 40.
    answer = changed(rated, spray_gpm=spray_gpm, choices__pipe_material=material, choices__return_kind=kind)
    found = [notice for notice in return_section(answer, STACK).notices if notice.name == "narrower plastic pipe"]
    assert bool(found) == warns
    if found:
        passes_gpm = {"outlet in air": 34.4, "vented downcomer": 40.0}[kind]
        assert found[0].figures[2][0] / GPM == pytest.approx(passes_gpm, rel=0.005)


def test_the_return_is_colder_by_the_range(rated: UnitAnswer) -> None:
    # Common practice: 12 to 25 degF colder than the tank; heat into the air over flow x heat capacity by hand.
    section = return_section(rated, levels_of(rated))
    operation = rated.seasons[rated.governing].operation
    range_K = number(section, "range_difference_K")
    assert 12.0 < 1.8 * range_K < 25.0
    assert number(section, "return_temperature_K") == pytest.approx(operation.temperature_K - range_K)
    evaporated_W = operation.tower.evaporation_kg_s * 4186.0 * (operation.temperature_K - 273.15 - range_K)
    lost_W = operation.tower.heat_to_air_W - evaporated_W
    assert operation.tower.water_flow_kg_s * operation.heat_capacity_share * 4186.0 * range_K == pytest.approx(
        lost_W, rel=0.02
    )


def test_no_pipe_is_wide_enough(rated: UnitAnswer) -> None:
    with pytest.raises(OutOfRange, match="two returns"):
        return_section(changed(rated, spray_gpm=500.0), STACK)


@pytest.mark.parametrize("foam_m", [0.0, 0.05])
def test_names_units_and_functions(rated: UnitAnswer, foam_m: float) -> None:
    section = return_section(changed(rated, liquid__foam_depth=foam_m), STACK)
    assert (section.key, section.title) == ("return", "Gravity return")
    names = [figure.name for figure in section.figures]
    assert len(set(names)) == len(names)
    assert all(name.endswith(SUFFIXES) for name in set(names) - WITHOUT_UNIT)
    cited = {citation.function for citation in citations()}
    for figure in section.figures:
        assert set(figure.functions) <= cited
        assert figure.label[0].islower() or figure.label == "Froude number"
        for entry in figure.inputs:
            if entry.name.startswith("return."):
                assert entry.value == section.value(entry.name.removeprefix("return."))


def test_levels_of_the_unit_reach_the_return(rated: UnitAnswer) -> None:
    tall = replace(rated, unit=replace(rated.unit, tank=replace(TANK, height_m=4.5 * FOOT)))
    stack = levels_of(tall)
    section = return_section(tall, stack)
    assert number(section, "return_outlet_m") - stack.mark("high").height_m == pytest.approx(2.0 * INCH, rel=0.02)
