"""The procedure of a test as PDF, to be walked through with a pen where no screen is wanted.

`procedure_data` builds every printed string; the template only places it. Expected values are those of the procedure
as issued: nothing is worked out here.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from typing import Any, Final

from vaporwright.acceptance.record.canonical_json import canonical, procedure_as_json
from vaporwright.acceptance.steps.day import DAY_KEYS
from vaporwright.acceptance.steps.procedure import Procedure, ProcedureSection, Step, Variant
from vaporwright.documents.measured_words import clock, trimmed
from vaporwright.documents.printed import cut, plain
from vaporwright.documents.procedure_steps import caution_letters, section_data, shared_of
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
ISSUE_DIGITS: Final = 8
HOW: Final = (
    "A shaded line is a step: sign it there when it is done. In it: who does it, minutes as estimated, hot where it "
    "needs fire or heat, the steps that must be accepted before, and last its key in the record.",
    "A letter behind the warning sign is a caution that binds the step: its words stand at the head of the section.",
    "Of yes and no the heavier one is expected. A figure stands with what is allowed around it, and why.",
    "Several deeds at the left of a line: do them in order, then look. ″ is the same instrument as above.",
)


def procedure_pdf(procedure: Procedure, system: str, *, drawing: str = "", run: str = "", revision: str = "") -> bytes:
    """The procedure as PDF, US letter or A4 (SI); the same procedure gives the same bytes.

    Args: system "US" or "SI"; drawing: the tank and rod elevation as SVG, in the same units, "" for none; run, revision
        of the job: printed at the head of each page, a line to write on where they are not known yet.
    """
    return typeset("procedure.typ", procedure_data(procedure, system, run, revision), drawing=drawing)


def procedure_data(procedure: Procedure, system: str, run: str = "", revision: str = "") -> dict[str, Any]:
    """Every string of the procedure, in the units of `system`."""
    letters = caution_letters(tuple(procedure.steps))
    known = frozenset(words for step in procedure.steps for words in step.cautions)
    numbers = {step.key: number for _, number, step in numbered(procedure)}
    return {
        "paper": paper_of(system),
        "created": None,
        "title": TITLES[procedure.variant],
        "marks": running_marks(procedure, run, revision),
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
        "how": list(HOW),
        "rules": [plain(rule) for rule in procedure.rules],
        "advice": ADVICE,
        "roles": list(ROLES),
        "drawing_width_mm": DRAWING_WIDTH_mm,
        "sections": [
            section_data(
                place, section, shared_of(section, letters, known), numbers, system, section.key == PICTURE_SECTION
            )
            for place, section in _sections(procedure)
        ],
    }


def running_marks(procedure: Procedure, run: str, revision: str) -> list[list[str]]:
    """What the head of each page says of a paper beside its job: name and value, "" to be written in.

    The issue follows from the procedure's content: two papers with the same mark have the same steps and limits.
    """
    digest = hashlib.sha256(canonical(procedure_as_json(procedure))).hexdigest()
    return [["issue", digest[:ISSUE_DIGITS]], ["revision", cut(plain(revision), 20)], ["run", cut(plain(run), 40)]]


def sentence(procedure: Procedure) -> str:
    """The one sentence of the cover."""
    steps = list(procedure.steps)
    holds = _counted(sum(step.point == "hold" for step in steps), "hold point")
    witnessed = _counted(sum(step.point == "witness" for step in steps), "witness point")
    whole = f"{_counted(len(steps), 'step')} in {_counted(len(procedure.sections), 'section')}"
    return f"{whole}, about {_hours(procedure.minutes)}, with {holds} and {witnessed}."


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
