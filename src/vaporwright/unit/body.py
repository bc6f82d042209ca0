"""The body of a unit, solved once for an answer: levels, hydraulics, return, connections, room, weights, materials.

Each section is solved by a module of its own and stands alone: where one cannot be solved it says why, and the others
stay. Reports, papers, comparison, JSON and `--why` read from here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

from vaporwright.equipment.electrical_loads import LoadTable
from vaporwright.equipment.level_rods import LevelStack
from vaporwright.foundation.errors import VaporwrightError
from vaporwright.foundation.notice import Notice
from vaporwright.unit import electrical, exhaust_side, gas_side, hydraulics, levels, return_line, room_side, steam_side
from vaporwright.unit import weights as weights_of_unit
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.catalogue import GasBurnerPart, SteamCoilPart
from vaporwright.unit.figures import Figure, Section, section_or_problem
from vaporwright.unit.materials_at_a_glance import MaterialsAtAGlance, materials_at_a_glance

# What a connection sheet shows, in order: section and figure; what a unit does not have is left out.
CONNECTIONS: Final = (
    ("gas", "gas_flow_standard_m3_s"),
    ("gas", "gas_pipe"),
    ("gas", "train_inlet_gauge_Pa"),
    ("gas", "flue_diameter_m"),
    ("steam", "steam_flow_kg_s"),
    ("steam", "steam_pipe"),
    ("steam", "condensate_flow_kg_s"),
    ("steam", "trap_load_kg_s"),
    ("electrical", "running_current_A"),
    ("electrical", "feeder_least_ampacity_A"),
    ("electrical", "feeder_smallest_device_A"),
    ("exhaust", "exhaust_flow_m3_s"),
    ("exhaust", "blower_static_pressure_Pa"),
    ("exhaust", "duct_diameter_m"),
    ("room", "make_up_air_m3_s"),
    ("room", "make_up_heat_W"),
    ("room", "opening_area_m2"),
    ("hydraulics", "header_pressure_Pa"),
    ("return", "return_pipe"),
    ("weights", "shipping_kg"),
    ("weights", "operating_kg"),
    ("weights", "operating_floor_load_Pa"),
    ("weights", "drain_time_s"),
)


@dataclass(frozen=True)
class Body:
    """All sections of one answer, with the typed results that drawings and tables need; None where not solved."""

    sections: tuple[Section, ...]
    levels: LevelStack | None
    load_table: LoadTable | None
    materials: MaterialsAtAGlance | None
    materials_problem: str = ""

    def section(self, key: str) -> Section:
        """One section by its key; every body has levels, hydraulics, return, electrical, exhaust, room, weights."""
        return next(section for section in self.sections if section.key == key)

    def has(self, key: str) -> bool:
        """Whether there is such a section: gas and steam depend on the heat source."""
        return any(section.key == key for section in self.sections)

    @property
    def notices(self) -> tuple[Notice, ...]:
        """What to watch, over all sections."""
        return tuple(notice for section in self.sections for notice in section.notices)

    @property
    def conflicts(self) -> tuple[Notice, ...]:
        """What must be resolved before a shop can build: notices that say so by their first word in capitals."""
        return tuple(notice for notice in self.notices if notice.text.split(":", 1)[0].isupper())

    def connections(self) -> Iterator[tuple[Section, Figure]]:
        """The rows of a connection sheet."""
        for key, name in CONNECTIONS:
            if not self.has(key):
                continue
            section = self.section(key)
            yield from ((section, figure) for figure in section.figures if figure.name == name)


def body_of(answer: UnitAnswer) -> Body:
    """Solve every section of an answer's unit."""
    stack, level_problem = _levels(answer)
    sections = [
        _on_levels(levels.KEY, levels.TITLE, stack, level_problem, lambda found: levels.levels_section(answer, found)),
        _on_levels(
            hydraulics.KEY,
            hydraulics.TITLE,
            stack,
            level_problem,
            lambda found: hydraulics.hydraulics_section(answer, hydraulics.hydraulics_of(answer, found)),
        ),
        _on_levels(
            return_line.KEY,
            return_line.TITLE,
            stack,
            level_problem,
            lambda found: return_line.return_section(answer, found),
        ),
    ]
    heat_source = answer.unit.heat_source
    draft: tuple[float | None, float | None] = (None, None)
    if isinstance(heat_source, GasBurnerPart):
        gas = section_or_problem(gas_side.KEY, gas_side.TITLE, lambda: gas_side.gas_section(answer))
        sections.append(gas)
        draft = _draft(answer, gas)
    elif isinstance(heat_source, SteamCoilPart):
        sections.append(section_or_problem(steam_side.KEY, steam_side.TITLE, lambda: steam_side.steam_section(answer)))
    table: list[LoadTable] = []

    def electrical_section() -> Section:
        section, loads = electrical.electrical_section(answer)
        table.append(loads)
        return section

    sections += [
        section_or_problem(electrical.KEY, electrical.TITLE, electrical_section),
        section_or_problem(exhaust_side.KEY, exhaust_side.TITLE, lambda: exhaust_side.exhaust_section(answer)),
        section_or_problem(room_side.KEY, room_side.TITLE, lambda: room_side.room_section(answer, *draft)),
        _on_levels(
            weights_of_unit.KEY,
            weights_of_unit.TITLE,
            stack,
            level_problem,
            lambda found: weights_of_unit.weights_section(answer, found),
        ),
    ]
    materials, materials_problem = _materials(answer)
    return Body(tuple(sections), stack, table[0] if table else None, materials, materials_problem)


def _levels(answer: UnitAnswer) -> tuple[LevelStack | None, str]:
    try:
        return levels.levels_of(answer), ""
    except VaporwrightError as error:
        return None, str(error)


def _on_levels(
    key: str, title: str, stack: LevelStack | None, problem: str, solve: Callable[[LevelStack], Section]
) -> Section:
    """A section that stands on the levels; without them it cannot be solved either."""
    if stack is None:
        return Section(key, title, problem=problem if key == levels.KEY else f"needs the levels: {problem}")
    return section_or_problem(key, title, lambda: solve(stack))


def _draft(answer: UnitAnswer, gas: Section) -> tuple[float | None, float | None]:
    """Draft and loss of a natural-draft flue, for the room that may pull on it."""
    if gas.problem or answer.job.text("choices.flue") != "natural draft":
        return None, None
    draft_Pa, loss_Pa = gas.value("flue_draft_Pa"), gas.value("flue_loss_Pa")
    assert isinstance(draft_Pa, float)
    assert isinstance(loss_Pa, float)
    return draft_Pa, loss_Pa


def _materials(answer: UnitAnswer) -> tuple[MaterialsAtAGlance | None, str]:
    try:
        return materials_at_a_glance(answer), ""
    except VaporwrightError as error:
        return None, str(error)
