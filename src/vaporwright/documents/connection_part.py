"""Part 3 of the sizing sheet: what the site brings and bears, trade by trade, and what each trade must watch.

Every figure of every section is printed: those of the connection sheet as a trade reads them first, the others lighter.
The levels have part 2 to themselves.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from typing import Any, Final

from vaporwright.documents.material_words import material_lines
from vaporwright.documents.printed import cut, number_and_unit, plain, round_number, unbroken
from vaporwright.documents.wording import notice_text
from vaporwright.equipment.electrical_loads import LoadTable
from vaporwright.equipment.materials import MATERIALS_CAUTION, UNSUITABLE
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.body import Body
from vaporwright.unit.figures import Figure, Section
from vaporwright.unit.levels import KEY as LEVELS
from vaporwright.unit.levels import MAKE_UP_BORE_m
from vaporwright.unit.materials_at_a_glance import MaterialsAtAGlance

ORDER: Final = ("gas", "steam", "electrical", "exhaust", "room", "hydraulics", "return", "weights")  # by trade
Said = Callable[[str, str, str], str]  # section, figure, quantity: as read out; empty where there is none
LONGEST_BESIDE: Final = 34  # letters of words that stand beside their label; longer ones go below it


def connection_data(answer: UnitAnswer, body: Body, system: str) -> dict[str, Any]:
    """Every string of part 3, in the units of `system`."""
    sections = [section for section in body.sections if section.key != LEVELS]
    sections.sort(key=lambda section: ORDER.index(section.key) if section.key in ORDER else len(ORDER))
    first = {(section.key, figure.name) for section, figure in body.connections()}
    printed = [_section(section, body, first, system) for section in sections]
    after = next((index for index, section in enumerate(sections) if section.key == "hydraulics"), len(printed))
    printed.insert(after, _water(answer, system))
    data = {
        "summary": summary(answer, body, system),
        "stops": _stops(body),
        "sections": printed,
        "materials": _materials(body.materials),
        "materials_problem": body.materials_problem,
        "materials_caution": MATERIALS_CAUTION,
    }
    return unbroken(data)  # type: ignore[no-any-return]


# The sentence that opens the part


def summary(answer: UnitAnswer, body: Body, system: str) -> str:
    """What to bring and what the floor carries, as one reads it out; what is not solved is named."""
    values = {(section.key, figure.name): figure.value for section in body.sections for figure in section.figures}

    def said(section: str, name: str, quantity: str) -> str:
        value = values.get((section, name))
        return round_number(value, quantity, system) if isinstance(value, float) and value > 0.0 else ""

    brought = list(filter(None, (*_fuel(answer, said, system), *_power_and_air(answer, said, system))))
    floor, flooded = (said("weights", f"{state}_floor_load_Pa", "floor load") for state in ("operating", "flooded"))
    text = f"Bring {_listed(brought)}" if brought else "Nothing to bring is solved yet"
    if floor:
        text += f"; the floor carries {floor} in operation"
    if flooded:
        text += f", {flooded} flooded"
    missing = [section.title for section in body.sections if section.problem]
    return f"{text}. Not solved: {'; '.join(missing)}." if missing else f"{text}."


def _fuel(answer: UnitAnswer, said: Said, system: str) -> Iterator[str]:
    job = answer.job
    if gas := said("gas", "gas_flow_standard_m3_s", "gas flow"):
        pressure = round_number(job.number("utilities.gas_pressure"), "pressure", system)
        yield f"{gas} of {job.text('utilities.fuel')} at {pressure}"
    if steam := said("steam", "steam_flow_kg_s", "mass flow"):
        pressure = round_number(job.number("utilities.steam_pressure"), "gauge pressure", system)
        yield f"{steam} of steam at {pressure}"


def _power_and_air(answer: UnitAnswer, said: Said, system: str) -> Iterator[str]:
    if device := said("electrical", "feeder_smallest_device_A", "current"):
        voltage = round_number(answer.job.number("utilities.supply_voltage"), "voltage", system)
        yield f"{voltage} three-phase with {_article(device)} {device} feeder"
    if air := said("room", "make_up_air_m3_s", "air flow"):
        yield f"{air} of make-up air"
    if duct := said("exhaust", "duct_diameter_m", "short length"):
        towers = answer.unit.towers
        what = f"{_article(duct)} {duct} exhaust" if towers == 1 else f"{towers} exhausts of {duct}"
        yield f"{what} to outdoors"


def _article(number: str) -> str:
    """As a number is read out: an 8, an 11, an 18 in; a 12 in."""
    return "an" if re.match(r"8|1[18](?!\d)", number) else "a"


def _listed(entries: Sequence[str]) -> str:
    return entries[0] if len(entries) == 1 else f"{', '.join(entries[:-1])} and {entries[-1]}"


def _stops(body: Body) -> str:
    """Which sections hold what must be resolved before a shop can build."""
    titles = [section.title for section in body.sections if any(entry in body.conflicts for entry in section.notices)]
    if not titles:
        return ""
    count = len(body.conflicts)
    return f"{count} {'point' if count == 1 else 'points'} to resolve before this can be built: {'; '.join(titles)}."


# Sections


def _section(section: Section, body: Body, first: set[tuple[str, str]], system: str) -> dict[str, Any]:
    table = body.load_table if section.key == "electrical" else None
    in_table = {f"{circuit.name}, full load" for circuit in table.circuits} if table else set()
    rows = [
        _row(figure, (section.key, figure.name) in first, system)
        for figure in section.figures
        if figure.label not in in_table
    ]
    return {
        "title": section.title,
        "problem": section.problem,
        "rows": rows,
        "circuits": None if table is None else _circuits(table),
        "notes": f"Left to the electrician: {'; '.join(table.electrician_decides)}." if table else "",
        "conflicts": [notice_text(entry, system) for entry in section.notices if entry in body.conflicts],
        "watch": [notice_text(entry, system) for entry in section.notices if entry not in body.conflicts],
        "cautions": list(section.cautions),
    }


def _row(figure: Figure, main: bool, system: str) -> dict[str, Any]:
    """Label, number and unit apart; words in place of both, or below the label where they are long."""
    number, unit, words = "", "", ""
    if isinstance(figure.value, float):
        number, unit = number_and_unit(figure.value, figure.quantity, system)
    else:
        words = cut(plain(figure.absent if figure.value is None else figure.value), 240)
    below = len(words) > LONGEST_BESIDE
    return {"label": figure.label, "number": number, "unit": unit, "words": words, "below": below, "main": main}


def _circuits(table: LoadTable) -> dict[str, Any]:
    """The load table: what each circuit draws, what its conductors carry, its smallest and largest device."""

    def device(current_A: float | None) -> str:
        return "–" if current_A is None else f"{current_A:,.0f}"

    rows = [
        [
            circuit.name,
            f"{circuit.current_A:.1f}",
            f"{circuit.least_ampacity_A:.1f}",
            device(circuit.smallest_device_A),
            device(circuit.largest_device_A),
        ]
        for circuit in table.circuits
    ]
    feeder = [
        "feeder",
        f"{table.running_current_A:.1f}",
        f"{table.feeder_least_ampacity_A:.1f}",
        device(table.feeder_smallest_device_A),
        device(table.feeder_largest_device_A),
    ]
    columns = ["Circuit, in A", "full load", "conductors, least", "device, least", "most"]
    return {"columns": columns, "rows": [*rows, feeder]}


def _water(answer: UnitAnswer, system: str) -> dict[str, Any]:
    """Openings of the tank and the feed, as the job and the catalogue give them."""
    tank, job = answer.unit.tank, answer.job
    trickle_m3_s = job.number("choices.trickle_flow")
    given = [
        ("feed at the refill valve", job.number("choices.refill_flow"), "liquid flow"),
        *([("trickle feed beside it", trickle_m3_s, "liquid flow")] if trickle_m3_s > 0.0 else []),
        ("make-up outlet over the rim, bore", MAKE_UP_BORE_m, "short length"),
        ("overflow, bore", tank.overflow_bore_m, "short length"),
        ("drain, bore", tank.drain_bore_m, "short length"),
    ]
    rows = [_row(Figure("", value, quantity, "", label=label), True, system) for label, value, quantity in given]
    empty: dict[str, Any] = {"problem": "", "circuits": None, "notes": "", "conflicts": [], "watch": [], "cautions": []}
    return {"title": "Feed, overflow, drain", "rows": rows, **empty}


# Materials


def _materials(glance: MaterialsAtAGlance | None) -> list[dict[str, Any]]:
    """Parts of one material that end alike are named together."""
    if glance is None:
        return []
    return [
        {
            "parts": cut(plain(", ".join(line.parts)), 120),
            "material": cut(plain(line.material), 60),
            "verdict": line.verdict,
            "reason": line.reason,
            "abnormal": line.verdict == UNSUITABLE,
        }
        for line in material_lines(glance)
    ]
