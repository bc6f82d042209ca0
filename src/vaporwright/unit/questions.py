"""What to ask the customer next: every assumption that moves the answer, by how far it moves it.

Each assumed value is set to the low and to the high end of what is realistic, and the governing season is settled
again (for the duty, the required rate is computed again).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from vaporwright.foundation.errors import VaporwrightError
from vaporwright.foundation.telling import Report, unheard
from vaporwright.unit.answer import UnitAnswer, required_kg_s
from vaporwright.unit.balance import conditions_of, settle
from vaporwright.unit.field import Value
from vaporwright.unit.fields import FIELDS_BY_KEY
from vaporwright.unit.heat import kind_of
from vaporwright.unit.job import Assumption, Job, build_job

MOVING = "What each assumption moves"
LEAST_MOVE_SHARE = 0.002  # of the capacity: below this an assumption does not move the answer
CLOSING_SHARE = 3.0e-4  # of the heat: a tenth of what would count as a move
DUTY_KEYS = ("duty.hours_per_day", "duty.days_per_week", "duty.availability")
KEYS_OF_HEAT = {
    "gas": ("choices.excess_air", "choices.scale_resistance"),
    "electric": ("utilities.supply_voltage",),
    "steam": ("utilities.steam_pressure", "choices.scale_resistance"),
}
# Asked whether or not they move the rate, and why.
ASKED_ANYWAY = {
    "liquid.hazards": "safety: a wrong answer can hurt people",
    "liquid.chloride": "pitting; does not move the rate",
    "liquid.pH": "decides the metal of tank and heater",
    "liquid.oil": "foam, and the coating of fill and heater",
    "liquid.pH_end_of_batch": "decides the metal of tank and heater",
    "liquid.fluoride": "decides the metal of tank and heater",
    "liquid.mild_oxidiser": "decides tower, tank and pipe",
    "liquid.organics": "decides the plastics of tower, tank and pipe",
    "liquid.foam_depth": "decides levels and return",
    "site.intake_distance": "wet exhaust drawn in again; does not move the rate as asked",
    "site.make_up_opening": "carbon monoxide: a fan can turn a flue around",
    "site.flue_height": "draft of the flue",
    "site.exhaust_duct_length": "loss and condensate of the exhaust duct",
    "utilities.gas_pressure": "decides gas line and train",
    "utilities.gas_line_length": "decides the gas line",
    "utilities.condensate_lift": "decides trap and condensate line",
    "choices.flue": "carbon monoxide: a fan can turn a flue around",
}


@dataclass(frozen=True)
class Question:
    """One question, what was assumed, and how the answer moves between its low and high value."""

    key: str
    text: str
    quantity: str
    assumed: Value | None
    low: Value | None
    high: Value | None
    at_low_kg_s: float | None  # evaporation of the governing season, or the rate required
    at_high_kg_s: float | None
    moves_kg_s: float
    moves: str  # "capacity", "required rate", or why it is asked though it moves neither


def questions_for(answer: UnitAnswer, given: Mapping[str, Value], report: Report = unheard) -> tuple[Question, ...]:
    """The questions of an answer, the one that moves most first; those asked for other reasons at the end.

    `report` is told which assumption is gone through.
    """
    asked = []
    count = len(answer.job.assumptions)
    for number, assumption in enumerate(answer.job.assumptions):
        report(MOVING, number, count)
        if not assumption.question:
            continue
        question = _moving_question(answer, given, assumption)
        if question is not None:
            asked.append(question)
        elif assumption.key in ASKED_ANYWAY:
            asked.append(_question(assumption, None, None, 0.0, ASKED_ANYWAY[assumption.key]))
    report(MOVING, count, count)
    return tuple(sorted(asked, key=lambda question: -question.moves_kg_s))


def _moving_question(answer: UnitAnswer, given: Mapping[str, Value], assumption: Assumption) -> Question | None:
    ends = _ends(assumption)
    if ends is None or not _may_move(answer, assumption.key):
        return None
    rates = [_rate(answer, given, assumption.key, end) for end in ends]
    known = [rate for rate in rates if rate is not None]
    base = answer.required_kg_s if assumption.key in DUTY_KEYS else answer.capacity_kg_s
    spread = (
        max(known, default=base) - min(known, default=base) if len(known) == 2 else abs(base - (known or [base])[0])
    )
    if spread < LEAST_MOVE_SHARE * answer.capacity_kg_s:
        return None
    moves = "required rate" if assumption.key in DUTY_KEYS else "capacity"
    return _question(assumption, rates[0], rates[1], spread, moves, ends)


def _question(
    assumption: Assumption,
    at_low: float | None,
    at_high: float | None,
    moves_kg_s: float,
    moves: str,
    ends: tuple[Value | None, Value | None] = (None, None),
) -> Question:
    return Question(
        assumption.key,
        assumption.question,
        assumption.quantity,
        assumption.value,
        ends[0],
        ends[1],
        at_low,
        at_high,
        moves_kg_s,
        moves,
    )


def _ends(assumption: Assumption) -> tuple[Value, Value] | None:
    if assumption.low is not None and assumption.high is not None:
        return assumption.low, assumption.high
    if assumption.key == "site.air_supply":
        return FIELDS_BY_KEY[assumption.key].choices[0], FIELDS_BY_KEY[assumption.key].choices[1]
    return None


def _may_move(answer: UnitAnswer, key: str) -> bool:
    """Whether an assumption has a path to the governing case at all; spares settling what cannot move."""
    if key in DUTY_KEYS:
        return True
    heat_keys = {entry for keys in KEYS_OF_HEAT.values() for entry in keys}
    if key in heat_keys:
        return key in KEYS_OF_HEAT[kind_of(answer.unit.heat_source)]
    season = key.split(".")[1] if key.startswith("site.") and key.count(".") == 2 else ""
    if season:
        return season == answer.governing
    return key not in ASKED_ANYWAY and not key.startswith("unit.")


def _rate(answer: UnitAnswer, given: Mapping[str, Value], key: str, value: Value) -> float | None:
    """Capacity of the governing season, or the required rate, with one value changed; None where it cannot be."""
    try:
        job: Job = build_job({**given, key: value})
        if key in DUTY_KEYS:
            return required_kg_s(job)
        near = answer.seasons[answer.governing]
        conditions = conditions_of(job, answer.governing)
        return settle(answer.unit, conditions, near=near, closing_share=CLOSING_SHARE).evaporation_kg_s
    except VaporwrightError:
        return None
