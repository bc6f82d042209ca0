"""The procedure of a test as PDF, to be walked through with a pen where no screen is wanted.

`procedure_data` builds every printed string; the template only places it. Expected values are those of the procedure
as issued: nothing is worked out here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise, zip_longest
from typing import Any, Final

from vaporwright.acceptance.steps.day import DAY_KEYS
from vaporwright.acceptance.steps.procedure import YES_OR_NO, Procedure, ProcedureSection, ReadingField, Step, Variant
from vaporwright.documents.measured_words import clock, expected_text, paper_quantity, trimmed, unit_of
from vaporwright.documents.printed import cut, plain
from vaporwright.documents.typeset import ADVICE, paper_of, typeset

TITLES: Final[dict[Variant, str]] = {
    "full": "Factory acceptance test: procedure",
    "cold": "Cold factory acceptance test: procedure",
    "hot on site": "Hot test on site: procedure",
    "site": "Site acceptance test and start-up: procedure",
}
FLAGS: Final[dict[Variant, str]] = {
    "full": "",
    "cold": "No fire, no heat in this test",
    "hot on site": "Hot test on site, after the cold test in the shop",
    "site": "At the customer's, with the liquor itself",
}
VARIANT_TEXTS: Final[dict[Variant, str]] = {
    "full": "",
    "cold": "The shop cannot fire or heat. What needs heat is left for the hot test on site, which is binding; this "
    "test alone proves no capacity and guarantees none.",
    "hot on site": "What the cold test left open, on clean water. Only both together are the acceptance test.",
    "site": "Site air, supply and liquor take the place of the shop's clean water; expected values follow from them.",
}
GUARANTEE: Final = (
    ("guaranteed_site_kg_s", "guaranteed at the site", "evaporation"),
    ("required_site_kg_s", "needed by the duty", "evaporation"),
    ("evaporation_kg_s", "expected of the run, on the day", "evaporation"),
    ("least_share", "of it, at least", "fraction"),
    ("settling_temperature_K", "tank settles at, on the day", "temperature"),
    ("heat_W", "heat given to the liquor, on the day", "heat"),
    ("fuel_or_power_W", "fuel, power or steam drawn, on the day", "heat"),
    ("least_run_s", "run lasts, at least", "duration"),
)
ROLES: Final = ("Test technician", "Engineer", "Electrician", "Burner technician", "Witness")
PICTURE_SECTION: Final = "rods"
DRAWING_WIDTH_mm: Final = 180.0  # at which its scale holds
LONGEST_TITLE: Final = 90
TALLEST_pt: Final = 500.0  # a step longer than this may break over pages; a shorter one moves on whole


def procedure_pdf(procedure: Procedure, system: str, *, drawing: str = "") -> bytes:
    """The procedure as PDF, US letter or A4 (SI); the same procedure gives the same bytes.

    Args: system "US" or "SI"; drawing: the tank and rod elevation as SVG, in the same units, "" for none.
    """
    return typeset("procedure.typ", procedure_data(procedure, system), drawing=drawing)


def procedure_data(procedure: Procedure, system: str) -> dict[str, Any]:
    """Every string of the procedure, in the units of `system`."""
    return {
        "paper": paper_of(system),
        "created": None,
        "title": TITLES[procedure.variant],
        "foot": "Take readings in ink; strike out, never erase. Then type them in: the record decides.",
        "job": cut(plain(procedure.job), LONGEST_TITLE),
        "customer": cut(plain(procedure.customer), LONGEST_TITLE),
        "unit": cut(plain(procedure.unit), 200),
        "sentence": sentence(procedure),
        "variant_flag": FLAGS[procedure.variant],
        "variant": VARIANT_TEXTS[procedure.variant],
        "conditions": conditions_rows(procedure.conditions, system),
        "guarantee": [] if procedure.variant == "cold" else guarantee_rows(procedure.guarantee, system),
        "points": [
            {"point": step.point, "number": number, "title": plain(step.title)}
            for _, number, step in numbered(procedure)
            if step.point
        ],
        "agenda": _agenda(procedure),
        "agenda_note": "Hours and minutes from the start, estimated; time that the unit stands alone is not in it.",
        "rules": [plain(rule) for rule in procedure.rules],
        "advice": ADVICE,
        "roles": list(ROLES),
        "drawing_width_mm": DRAWING_WIDTH_mm,
        "sections": [_section(place, section, procedure, system) for place, section in _sections(procedure)],
    }


def sentence(procedure: Procedure) -> str:
    """The one sentence of the cover."""
    steps = list(procedure.steps)
    holds = sum(step.point == "hold" for step in steps)
    witnessed = sum(step.point == "witness" for step in steps)
    return (
        f"{len(steps)} steps in {len(procedure.sections)} sections, about {_hours(procedure.minutes)}, with "
        f"{_counted(holds, 'hold point')} and {_counted(witnessed, 'witness point')}."
    )


def _hours(minutes: float) -> str:
    return f"{minutes:.0f} min" if minutes < 120.0 else f"{minutes / 60.0:.0f} h"


def _counted(count: int, noun: str) -> str:
    return f"{count or 'no'} {noun}{'' if count == 1 else 's'}"


def numbered(procedure: Procedure) -> Iterator[tuple[ProcedureSection, str, Step]]:
    """Every step with its section and its number: "4.2"."""
    for place, section in _sections(procedure):
        for count, step in enumerate(section.steps, 1):
            yield section, f"{place}.{count}", step


def _sections(procedure: Procedure) -> Iterator[tuple[int, ProcedureSection]]:
    return enumerate(procedure.sections, 1)


def conditions_rows(conditions: Mapping[str, float], system: str) -> list[list[str]]:
    """Conditions of the day with their labels, in the order of day.DAY_KEYS."""
    return [
        [key.label, trimmed(conditions[key.name], key.quantity, system)] for key in DAY_KEYS if key.name in conditions
    ]


def guarantee_rows(guarantee: Mapping[str, float], system: str) -> list[list[str]]:
    """What the performance run must show; a figure that is not known here is printed by its name, in SI."""
    known = {key: (label, quantity) for key, label, quantity in GUARANTEE}
    found = [
        [label, trimmed(guarantee[key], quantity, system)]
        for key, (label, quantity) in known.items()
        if key in guarantee
    ]
    return found + [[key, f"{value:.6g} (SI)"] for key, value in guarantee.items() if key not in known]


def _agenda(procedure: Procedure) -> list[list[str]]:
    rows = []
    begins = 0.0
    for place, section in _sections(procedure):
        takes = sum(step.minutes for step in section.steps)
        times = [clock(begins), clock(takes), clock(begins + takes)]
        rows.append([str(place), plain(section.title), str(len(section.steps)), *times])
        begins += takes
    return rows


def _section(place: int, section: ProcedureSection, procedure: Procedure, system: str) -> dict[str, Any]:
    numbers = {step.key: number for _, number, step in numbered(procedure)}
    return {
        "number": str(place),
        "title": plain(section.title),
        "note": plain(section.note),
        "picture": section.key == PICTURE_SECTION,
        "steps": [_step(step, numbers, system) for step in section.steps],
    }


def _height_pt(step: Step) -> float:
    """About how tall a step prints: measured off the template, on the long side."""

    def lines(words: str, letters: int) -> int:
        return -(-len(words) // letters)

    height = 62.0 + 12.5 * (lines(step.purpose, 110) + lines(step.restore, 110) + lines(" ".join(step.cautions), 105))
    height += sum(12.5 * lines(words, 110) for words in step.actions)
    for one, following in pairwise((*step.fields, None)):
        assert one is not None
        wide = 72 if one.quantity == YES_OR_NO else 40
        height += max(19.0, 7.0 + 11.5 * (lines(one.label, wide) + bool(one.instrument)))
        if following is None or following.reason != one.reason:
            height += 11.0 * lines(one.reason, 125)
    return height


def _step(step: Step, numbers: dict[str, str], system: str) -> dict[str, Any]:
    facts = [step.by, f"about {max(round(step.minutes), 1)} min"]
    facts += ["needs fire or heat"] if step.hot else []
    facts += [f"only after {listed([numbers.get(key, key) for key in step.after])}"] if step.after else []
    return {
        "number": numbers[step.key],
        "title": plain(step.title),
        "point": step.point,
        "facts": " · ".join([*facts, step.key]),
        "purpose": plain(step.purpose),
        "caution": " ".join(full_sentence(plain(words)) for words in step.cautions),
        "actions": [plain(words) for words in step.actions],
        "fields": [
            _field(one, system, following)
            for one, following in zip_longest(step.fields, step.fields[1:])  # a step of actions alone has none
        ],
        "restore": full_sentence(plain(step.restore)),
        "breakable": _height_pt(step) > TALLEST_pt,
    }


def full_sentence(words: str) -> str:
    """Words with a capital first and a stop last, so that they may stand beside others."""
    return words and words[0].upper() + words[1:] + ("" if words[-1] in ".:;)" else ".")


def listed(words: Sequence[str]) -> str:
    """Words in a row: "4.1, 4.2 and 4.3"."""
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))


def _field(one: ReadingField, system: str, following: ReadingField | None) -> dict[str, Any]:
    """A reading; a reason that the next one shares is printed there, once for all."""
    shared = following is not None and following.reason == one.reason
    return {
        "kind": YES_OR_NO if one.quantity == YES_OR_NO else "",
        "label": plain(one.label),
        "unit": unit_of(paper_quantity(one.quantity, one.instrument), system).text,
        "expected": expected_text(one, system),
        "proven": one.limits is not None and one.limits.proven,
        "reason": "" if shared else plain(one.reason),
        "instrument": one.instrument,
        "optional": not one.needed,
    }
