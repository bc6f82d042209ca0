"""Sizing while one types: an enquiry from what a form has, the unit in hand rated at once, a full sizing behind it.

A rating of one unit takes less than a tenth of a second, a choice from the whole catalogue about a second: so the unit
that was named or chosen last stays in hand while values change, and the choice is made again when asked for.
Functions that compute take and return what can be sent to another process.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final, TypeVar

from vaporwright.actions.enquiry_text import Typed, edited_text, raw_of, raw_values
from vaporwright.actions.job_book import checked, laid_out
from vaporwright.actions.papers import sizing_sheet, tank_elevation
from vaporwright.actions.size_job import Outcome, rate_job, size_job
from vaporwright.files.catalogue_file import read_catalogue_file
from vaporwright.files.values import Value, read_value
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.telling import Report, unheard
from vaporwright.store.job_store import Texts
from vaporwright.unit.answer import UnitAnswer, answer_for
from vaporwright.unit.assembly import AssembledUnit, given_unit
from vaporwright.unit.body import Body, body_of
from vaporwright.unit.catalogue import Catalogue
from vaporwright.unit.fields import FIELDS, FIELDS_BY_KEY
from vaporwright.unit.heat import kind_of
from vaporwright.unit.job import build_job
from vaporwright.unit.questions import Question, questions_for

Result = TypeVar("Result")
Rest = tuple[Body, tuple[Question, ...]]  # of an answer: what a quick rating leaves out
FORM: Final = "form"
PARTS: Final = ("tower", "tank", "heat_source", "pump")
LONGEST_HAND: Final = 2000  # letters of a unit in hand as a form carries it
KIND_OTHER: Final = "choices.heat_source"


class OtherHeat(InputError):
    """The job asks for another kind of heat than that of the unit in hand."""

    def __init__(self, wanted: str, has: str) -> None:
        super().__init__(FORM, KIND_OTHER, f"the unit in hand is heated by {has}, the job asks for {wanted}", has)


@dataclass(frozen=True)
class Enquiry:
    """What is known of a job, and where it does not fit."""

    text: str  # the job file, with what was typed where all of it fits
    typed: Mapping[str, Typed]  # by key, as typed; only what is given
    values: Mapping[str, Value]  # SI, of everything that fits
    problems: Mapping[str, InputError]  # by key


@dataclass(frozen=True)
class UnitInHand:
    """A unit by its parts' ids. The spray flow is that of all towers; None is the tower's rated flow."""

    tower: str
    towers: int
    tank: str
    heat_source: str
    pump: str
    spray_flow_m3_s: float | None

    def as_text(self) -> str:
        """As a form carries it."""
        return json.dumps(
            [self.tower, self.towers, self.tank, self.heat_source, self.pump, self.spray_flow_m3_s], ensure_ascii=False
        )


def hand_of(unit: AssembledUnit) -> UnitInHand:
    """A unit by its parts' ids."""
    return UnitInHand(
        unit.tower.part_id,
        unit.towers,
        unit.tank.part_id,
        unit.heat_source.part_id,
        unit.pump.part_id,
        unit.spray_flow_m3_s,
    )


def hand_from(text: str) -> UnitInHand | None:
    """A unit in hand from what a form carries; None where it carries none.

    Raises: InputError for what is none.
    """
    if not text:
        return None
    try:
        tower, towers, tank, heat_source, pump, spray = json.loads(text[:LONGEST_HAND])
    except (ValueError, TypeError, RecursionError):
        tower = towers = tank = heat_source = pump = spray = None
    texts_fit = all(isinstance(one, str) for one in (tower, tank, heat_source, pump))
    count_fits = isinstance(towers, int) and not isinstance(towers, bool) and 1 <= towers <= 8
    spray_fits = spray is None or (isinstance(spray, float) and 1e-5 <= spray <= 0.5)
    if not (texts_fit and count_fits and spray_fits):
        raise InputError(FORM, "hand", "is no unit of this server", "load the page again")
    return UnitInHand(tower, towers, tank, heat_source, pump, spray)


def enquiry(texts: Texts, changes: Mapping[str, Typed] | None = None) -> Enquiry:
    """The enquiry of a job's texts, with what was typed since; every problem by its key, and nothing typed lost.

    Raises: InputError where the job's own text cannot be read.
    """
    known = typed_of(texts)
    changed = {key: typed for key, typed in (changes or {}).items() if typed != known.get(key, "")}
    raws = raw_values(texts.job)
    for key, typed in changed.items():
        raws.pop(key, None)
        if typed:
            raws[key] = raw_of(key, typed)
    values: dict[str, Value] = {}
    problems: dict[str, InputError] = {}
    for key, raw in raws.items():
        try:
            values[key] = read_value(raw, FIELDS_BY_KEY[key], where=FORM, key=key)[0]
        except InputError as error:
            problems[key] = error
    problems |= _problems_between(raws)
    text = texts.job
    if not problems:
        try:
            text = edited_text(texts.job, changed)
        except InputError as error:
            problems[error.key] = error
    given = {key: one for key, one in (known | changed).items() if one}
    return Enquiry(text, given, values, problems)


def _problems_between(raws: Mapping[str, object]) -> dict[str, InputError]:
    """What is missing, and what excludes each other."""
    found = {}
    for field in FIELDS:
        if field.required and field.key not in raws:
            found[field.key] = InputError(FORM, field.key, f"missing: {field.meaning}", "a value with its unit")
        if field.instead_of in raws and field.key in raws:
            found[field.key] = InputError(FORM, field.key, f"given together with {field.instead_of}", "one of the two")
    return found


def typed_of(texts: Texts) -> dict[str, Typed]:
    """What is given in a job, by key, as typed."""
    found: dict[str, Typed] = {}
    for key, raw in raw_values(texts.job).items():
        if FIELDS_BY_KEY[key].quantity == "list":
            found[key] = (raw,) if isinstance(raw, str) else tuple(str(one) for one in raw)  # type: ignore[attr-defined]
        else:
            found[key] = str(raw).lower() if isinstance(raw, bool) else str(raw)
    return found


def checked_field(key: str, typed: Typed) -> InputError | None:
    """What does not fit in one field by itself, if anything."""
    field = FIELDS_BY_KEY[key]
    if not typed:
        return InputError(FORM, key, f"missing: {field.meaning}", "a value with its unit") if field.required else None
    try:
        read_value(raw_of(key, typed), field, where=FORM, key=key)
    except InputError as error:
        return error
    return None


def hand_for(values: Mapping[str, Value], hand: UnitInHand | None) -> UnitInHand | None:
    """The unit to rate: what the job names goes before what was in hand; None where parts are missing."""
    named = {part: str(values.get(f"unit.{part}", "")) for part in PARTS}
    towers = round(float(values.get("unit.towers", 0.0)))  # type: ignore[arg-type]
    spray = values.get("unit.spray_flow")
    assert spray is None or isinstance(spray, float)
    held = {part: getattr(hand, part) if hand else "" for part in PARTS}
    same_tower = hand is not None and named["tower"] in ("", hand.tower) and towers in (0, hand.towers)
    if not same_tower:
        held["pump"] = ""
    parts = {part: named[part] or held[part] for part in PARTS}
    if not all(parts[part] for part in PARTS if part != "pump"):
        return None
    if same_tower and hand is not None:
        spray, towers = spray or hand.spray_flow_m3_s, hand.towers
    return UnitInHand(parts["tower"], towers or 1, parts["tank"], parts["heat_source"], parts["pump"], spray)


def is_named(values: Mapping[str, Value]) -> bool:
    """Whether the job itself names its unit."""
    return all(values.get(f"unit.{part}") for part in PARTS if part != "pump")


def freed() -> dict[str, Typed]:
    """The changes that leave the choice of the unit to the sizing again."""
    return {key: "" for key in FIELDS_BY_KEY if key.startswith("unit.")}


def rate_in_hand(values: Mapping[str, Value], catalogue_text: str | None, hand: UnitInHand) -> UnitAnswer:
    """The answer for the unit in hand: rate and temperatures, no body and no questions.

    Raises: InputError where values contradict each other, a part is not in the catalogue, or the job asks for another
        kind of heat than the unit's; LiquidRefused; OutOfRange.
    """
    job = build_job(values)
    unit = unit_in_hand(values, _catalogue(catalogue_text), hand)
    wanted, has = job.text(KIND_OTHER), kind_of(unit.heat_source)
    if wanted != has:
        raise OtherHeat(wanted, has)
    return answer_for(job, unit)


def unit_in_hand(values: Mapping[str, Value], catalogue: Catalogue, hand: UnitInHand) -> AssembledUnit:
    """The unit of catalogue parts."""
    parts: dict[str, Value] = {f"unit.{part}": getattr(hand, part) for part in PARTS}
    parts["unit.towers"] = float(hand.towers)
    named = {key: value for key, value in values.items() if key != "unit.spray_flow"} | parts
    if hand.spray_flow_m3_s is not None:
        named["unit.spray_flow"] = hand.spray_flow_m3_s
    return given_unit(build_job(named), catalogue)


@lru_cache(maxsize=16)
def _catalogue(text: str | None) -> Catalogue:
    """A shop's catalogue by its text, read once in each process."""
    if text is None:
        return read_catalogue_file(None)
    with TemporaryDirectory(prefix="vaporwright-catalogue-") as folder:
        path = Path(folder) / "catalogue.toml"
        path.write_text(text, encoding="utf-8", newline="\n")
        return _plainly(lambda: read_catalogue_file(path))


def full_outcome(report: Report, texts: Texts) -> Outcome:
    """The whole answer for a job's texts: for the unit that it names, or else for the one chosen.

    Raises: InputError, LiquidRefused, OutOfRange.
    """
    report("Reading job and catalogue")
    with laid_out(texts) as path:
        named = is_named(checked(texts).values)
        return _plainly(lambda: (rate_job if named else size_job)(path, report))


def _plainly(work: Callable[[], Result]) -> Result:
    """What a function returns; where it names a file, by its name alone: the folder is of the moment."""
    try:
        return work()
    except InputError as error:
        raise InputError(Path(error.where).name or error.where, error.key, error.problem, error.allowed) from None


def with_unit(texts: Texts, hand: UnitInHand) -> Texts:
    """A job's texts with the unit in hand named in the job file.

    Raises: InputError where a part is not in the catalogue, or its id cannot be written.
    """
    changes, known = names_of(hand), typed_of(texts)
    if hand.spray_flow_m3_s is not None and not known.get("unit.spray_flow") and not _is_rated(texts, hand):
        changes["unit.spray_flow"] = f"{hand.spray_flow_m3_s * 1000.0:.6g} L/s"
    changes = {key: one for key, one in changes.items() if known.get(key, "") != one}
    return replace(texts, job=edited_text(texts.job, changes))


def names_of(hand: UnitInHand) -> dict[str, Typed]:
    """A unit in hand as the keys of a job file that name it."""
    return {**{f"unit.{part}": getattr(hand, part) for part in PARTS}, "unit.towers": str(hand.towers)}


def _is_rated(texts: Texts, hand: UnitInHand) -> bool:
    """Whether the spray flow is the one that the tower's rated loading asks for: then it need not be named."""
    rated = unit_in_hand(checked(texts).values, _catalogue(texts.catalogue), replace(hand, spray_flow_m3_s=None))
    assert hand.spray_flow_m3_s is not None
    return abs(rated.spray_flow_m3_s - hand.spray_flow_m3_s) <= 1e-6 * hand.spray_flow_m3_s


# What is made of an answer whose body and questions have not been worked out: in one go, in another process.


def rest_of(answer: UnitAnswer, values: Mapping[str, Value], report: Report = unheard) -> Rest:
    """Body and questions of an answer."""
    return body_of(answer), questions_for(answer, values, report)


def elevation_of(answer: UnitAnswer, system: str) -> str:
    """Tank and rods to scale, as SVG. Raises InputError where the levels could not be solved."""
    return tank_elevation(answer, body_of(answer), system)


def sheet_of(report: Report, answer: UnitAnswer, values: Mapping[str, Value], rest: Rest | None, system: str) -> bytes:
    """The sizing sheet as PDF; `rest` where it is known."""
    body, questions = rest or rest_of(answer, values, report)
    report("Setting the pages")
    return sizing_sheet(answer, body, questions, system)
