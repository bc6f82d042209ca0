"""Sizing for programs: the keys of an enquiry, the answer of a revision, a quick rating, how a number came about."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, ConfigDict, Field

from vaporwright.actions.answer_json import outcome_as_json, season_as_json
from vaporwright.actions.enquiry_text import Typed
from vaporwright.actions.explain_number import explained_in
from vaporwright.actions.live_size import UnitInHand, enquiry, hand_for, hand_of
from vaporwright.documents.wording import headline
from vaporwright.files.quantities import EXAMPLES
from vaporwright.foundation.errors import InputError
from vaporwright.store.job_store import Texts
from vaporwright.unit.fields import FIELDS, FIELDS_BY_KEY
from vaporwright.web.api.jobs import JobId, Number
from vaporwright.web.api.shapes import Shape, faults
from vaporwright.web.context import book, require, shop, viewer
from vaporwright.web.sized import Entry, sized

router = APIRouter(tags=["sizing"])
Id = Annotated[str, Field(max_length=200)]
Text = Annotated[str, Field(max_length=4000)]


class FieldEntry(Shape):
    """A key of the job file; default and limits are SI, the choices words."""

    key: str
    quantity: str
    meaning: str
    default: float | str | list[str] | None
    least: float | None
    most: float | None
    choices: list[str]
    required: bool
    only_for: str
    examples: list[str]


class SizingAnswer(BaseModel):
    """The whole answer of a revision, SI, as `vaporwright size --json` prints it; further sections may follow."""

    model_config = ConfigDict(extra="allow")

    job: dict[str, Any]
    unit: dict[str, Any]
    duty: dict[str, Any]
    capacity: dict[str, Any]
    levels: dict[str, Any]
    hydraulics: dict[str, Any]
    assumptions: list[dict[str, Any]]
    questions: list[dict[str, Any]]
    warnings: list[dict[str, Any]]


class UnitParts(Shape):
    """A unit by its parts' ids; without a spray flow, the tower's rated one."""

    tower: Id
    towers: int = Field(default=1, ge=1, le=8)
    tank: Id
    heat_source: Id
    pump: Id = ""
    spray_flow_m3_s: float | None = Field(default=None, ge=1e-5, le=0.5)


class RatingAsked(Shape):
    """Values that differ from the revision's, as typed ("26 gph"), and the unit in hand where the job names none."""

    values: dict[str, Text | list[Text]] = Field(default_factory=dict, max_length=200)
    unit: UnitParts | None = None


class RatingAnswer(Shape):
    """What the unit in hand makes of it, SI."""

    sentence: str
    unit: UnitParts
    required_evaporation_kg_s: float
    share_of_capacity: float
    meets_duty: bool
    governing_season: str
    capacity: dict[str, dict[str, Any]]


class InputEntry(Shape):
    """One input of a number, in the reader's units."""

    name: str
    value: str
    assumed: bool
    explained: bool


class Explanation(Shape):
    """How a number came about."""

    name: str
    value: str
    equation: str
    inputs: list[InputEntry]
    sources: list[str]


@router.get("/fields", summary="The keys of an enquiry", responses=faults())
def fields() -> list[FieldEntry]:
    """Every key of a job file: what it means, its default, its range."""
    return [
        FieldEntry(
            key=one.key,
            quantity=one.quantity,
            meaning=one.meaning,
            default=list(one.default) if isinstance(one.default, tuple) else one.default,
            least=one.least,
            most=one.most,
            choices=list(one.choices),
            required=one.required,
            only_for=one.only_for,
            examples=list(EXAMPLES.get(one.quantity, ())),
        )
        for one in FIELDS
    ]


@router.get("/jobs/{job}/revisions/{number}/sizing", summary="Size a revision", responses=faults(404))
def sizing(request: Request, job: JobId, number: Number) -> SizingAnswer:
    """The answer for the unit that the job names, or else for the one chosen; it takes about a second."""
    entry = _entry(request, job, number)
    return SizingAnswer(**outcome_as_json(sized(request).waited_for(entry)))


@router.post("/jobs/{job}/revisions/{number}/rating", summary="Rate the unit in hand", responses=faults(404))
def rating(request: Request, job: JobId, number: Number, asked: RatingAsked) -> RatingAnswer:
    """Quick: rate and temperatures over the seasons, for values that need not be saved."""
    require(request, "engineer")
    known = book(request).revision(job, number)
    for key in asked.values:
        if key not in FIELDS_BY_KEY:
            raise InputError("values", key[:80], "is no key of a job file", "a key of /api/v1/fields")
    changes: dict[str, Typed] = {key: _typed(key, one) for key, one in asked.values.items()}
    typed = enquiry(known.texts, changes)
    for problem in typed.problems.values():
        raise problem
    unit = None if asked.unit is None else UnitInHand(**asked.unit.model_dump())
    hand = hand_for(typed.values, unit)
    if hand is None:
        raise InputError("unit", "", "the job names no unit, and none is in hand", "tower, tank and heat source")
    texts = Texts(typed.text, known.texts.catalogue, known.texts.table)
    answer = sized(request).rated(sized(request).entry(job, texts, typed.values, hand))
    found = hand_of(answer.unit)
    return RatingAnswer(
        sentence=f"{headline(answer, viewer(request).units)}.",
        unit=UnitParts(**vars(found)),
        required_evaporation_kg_s=answer.required_kg_s,
        share_of_capacity=answer.share_of_capacity,
        meets_duty=answer.meets_duty,
        governing_season=answer.governing,
        capacity={season: season_as_json(result) for season, result in answer.seasons.items()},
    )


@router.get("/jobs/{job}/revisions/{number}/why", summary="How a number came about", responses=faults(404))
def why(
    request: Request, job: JobId, number: Number, name: Annotated[str, Query(min_length=1, max_length=200)]
) -> Explanation:
    """Equation, inputs and sources of one number of the sizing, by its name in the JSON."""
    entry = _entry(request, job, number)
    sized(request).waited_for(entry)
    found = shop(request).working.run(explained_in, entry.known, name, viewer(request).units)
    inputs = [
        InputEntry(name=one.name, value=one.value, assumed=one.is_assumed, explained=one.is_explained)
        for one in found.inputs
    ]
    return Explanation(
        name=found.name, value=found.value, equation=found.equation, inputs=inputs, sources=list(found.sources)
    )


def _entry(request: Request, job: str, number: int) -> Entry:
    known = book(request).revision(job, number)
    return sized(request).entry(job, known.texts, enquiry(known.texts).values)


def _typed(key: str, one: str | list[str]) -> Typed:
    """Raises: InputError where a list stands for one value."""
    if FIELDS_BY_KEY[key].quantity == "list":
        return (one,) if isinstance(one, str) else tuple(one)
    if isinstance(one, list):
        raise InputError("values", key, "is a list", "one value")
    return one.strip()
