"""What a certificate shows, as values: the paper and the page only word it.

Everything comes from the record of one run: nothing here is worked out again from a model, and nothing is rounded or
worded. Numbers are SI with their expanded uncertainty (95 % coverage) where one is known; times are ISO 8601 text, as
the record has them. `certificate_from` joins a procedure with its readings and verdicts; the rest is handed in.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Final

from vaporwright.acceptance.record.chain import SignedHead
from vaporwright.acceptance.record.events import WHOLE_TEST, Category, RunKind
from vaporwright.acceptance.record.punch_list import PunchItem, keeps_in_the_shop
from vaporwright.acceptance.steps.instruments import Instrument
from vaporwright.acceptance.steps.outcomes import NOT_RUN, OUTCOMES, Outcome, worst
from vaporwright.acceptance.steps.procedure import Procedure, ProcedureSection, ReadingField, Step, Variant
from vaporwright.acceptance.steps.readings import Reading
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.notice import Notice

PUNCH_CATEGORIES: Final[dict[Category, str]] = {
    "A": "keeps the unit in the shop",
    "B": "put right before start-up",
    "C": "put right after start-up",
}
HASH_DIGITS: Final = 64  # of a SHA-256 in hexadecimal


@dataclass(frozen=True)
class Estimate:
    """A value and its expanded uncertainty (95 % coverage), both SI; None where no uncertainty is known."""

    value: float
    expanded_uncertainty: float | None = None


@dataclass(frozen=True)
class Headline:
    """The one number of the certificate, and what it means at the site."""

    capability: Estimate  # of the guarantee; 1 is just met
    site_evaporation_kg_s: Estimate
    guarantee_kg_s: float
    season: str  # in which the guarantee stands: summer, winter, average
    outcome: Outcome


@dataclass(frozen=True)
class SiteSeason:
    """What the unit as tested will do at the site in one season."""

    season: str
    evaporation_kg_s: Estimate
    settling_temperature_K: Estimate | None = None


@dataclass(frozen=True)
class ResultRow:
    """A further result of the performance run: a balance, a fitted number; limits None where it is only told."""

    label: str
    quantity: str  # of display_units
    measured: Estimate
    expected: float | None = None
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Departure:
    """How far a condition of the test lay from that of the guarantee, and how far it may."""

    label: str
    quantity: str
    at_test: float
    at_guarantee: float
    most: float  # allowed difference [SI of a difference], either way

    @property
    def within(self) -> bool:
        """Whether the departure is allowed."""
        return abs(self.at_test - self.at_guarantee) <= self.most


@dataclass(frozen=True)
class PerformanceResult:
    """The performance run: what was measured, what the model expected, what follows for the site."""

    outcome: Outcome
    measured_kg_s: Estimate  # evaporation on the day, drift taken off
    expected_kg_s: float  # on the day, by the model as designed
    seasons: tuple[SiteSeason, ...]
    evaporation_per_heat_kg_J: Estimate | None = None  # per gross heat drawn
    steady_from: str = ""  # ISO 8601
    steady_to: str = ""
    rows: tuple[ResultRow, ...] = ()
    departures: tuple[Departure, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Verdict:
    """What was decided of one reading."""

    outcome: Outcome
    expanded_uncertainty: float | None = None  # of the reading [SI]
    words: Notice | None = None  # why, where there is more to say than the outcome
    read_at: str = ""  # ISO 8601
    entered_at: str = ""  # later, where the reading waited for its line, or was corrected


@dataclass(frozen=True)
class ReadingResult:
    """One field of a step with what was read; reading None where nothing was."""

    field: ReadingField
    reading: Reading | None
    verdict: Verdict


@dataclass(frozen=True)
class StepAct:
    """How a step was closed: by whom and when; an outcome of None is that of its readings."""

    by: str = ""
    when: str = ""  # ISO 8601
    outcome: Outcome | None = None
    note: str = ""
    point_accepted_by: str = ""  # hold and witness points


@dataclass(frozen=True)
class StepResult:
    """One step of the procedure as it went."""

    step: Step
    outcome: Outcome
    readings: tuple[ReadingResult, ...]
    act: StepAct


@dataclass(frozen=True)
class SectionResult:
    """One section of the procedure as it went."""

    key: str
    title: str
    steps: tuple[StepResult, ...]

    @property
    def outcome(self) -> Outcome:
        """The worst of its steps."""
        return worst(step.outcome for step in self.steps)

    @property
    def counts(self) -> dict[Outcome, int]:
        """Steps by outcome, each outcome named, worst first."""
        return {outcome: sum(step.outcome == outcome for step in self.steps) for outcome in OUTCOMES}


@dataclass(frozen=True)
class Deviation:
    """Something done otherwise than the procedure says, agreed at the time."""

    step: str  # its key, or record_events.WHOLE_TEST
    text: str
    agreed_by: str
    when: str = ""


@dataclass(frozen=True)
class AsLeft:
    """A set point or delay as it was left in the unit."""

    name: str
    label: str
    quantity: str
    left: float
    designed: float | None = None


@dataclass(frozen=True)
class RecordHead:
    """The last event of the record that the certificate was made from.

    Raises: InputError for a hash that is none.
    """

    run: str
    sequence: int
    hash: str

    def __post_init__(self) -> None:
        if len(self.hash) != HASH_DIGITS or set(self.hash) - set("0123456789abcdef"):
            raise InputError("certificate", "hash", repr(self.hash), f"{HASH_DIGITS} hexadecimal digits, small letters")
        if not self.run or ":" in self.run:
            raise InputError("certificate", "run", repr(self.run), "the run's name, without a colon")

    @property
    def text(self) -> str:
        """What the QR code says."""
        return f"vaporwright-record:{self.run}:{self.sequence}:{self.hash}"


@dataclass(frozen=True)
class CertificateFacts:
    """What the record knows beside procedure, readings and verdicts.

    made_at: time of the record's last event, ISO 8601 with its offset; no other clock enters the paper.
    Raises: InputError for a time that is none.
    """

    head: RecordHead
    kind: RunKind
    made_at: str
    tool_version: str
    serial: str = ""
    place: str = ""
    tested_on: str = ""  # first and last day, ISO 8601 dates, "2026-03-04" or "2026-03-04 to 2026-03-05"
    headline: Headline | None = None
    performance: PerformanceResult | None = None
    deviations: tuple[Deviation, ...] = ()
    guarantee_conditions: tuple[str, ...] = ()  # under which the guarantee holds, beyond the figures
    instruments: tuple[Instrument, ...] = ()
    as_left: tuple[AsLeft, ...] = ()
    punch_list: tuple[PunchItem, ...] = ()
    release: SignedHead | None = None
    signatures: tuple[SignedHead, ...] = ()
    dry_run: str = ""  # run and head of the shop's own dry run, or why there is none
    void: str = ""  # why the run does not count, where it does not
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        try:
            moment = datetime.fromisoformat(self.made_at)
        except ValueError:
            moment = None
        if moment is None or moment.tzinfo is None:
            raise InputError("certificate", "made_at", repr(self.made_at), "a time with its offset, as ISO 8601")


@dataclass(frozen=True)
class Certificate:
    """Everything that a certificate shows."""

    job: str
    customer: str
    unit: str
    heat: str
    variant: Variant
    conditions: Mapping[str, float]  # of the day [SI], by key
    sections: tuple[SectionResult, ...]
    rules: tuple[str, ...]
    facts: CertificateFacts
    counts: Mapping[Outcome, int] = field(default_factory=dict)

    @property
    def outcome(self) -> Outcome:
        """The worst of its steps and of the performance run."""
        found = [section.outcome for section in self.sections]
        if self.facts.performance is not None:
            found.append(self.facts.performance.outcome)
        return worst(found)

    @property
    def open_before_shipping(self) -> tuple[PunchItem, ...]:
        """Items of category A that are not closed: the unit may not ship with them."""
        return keeps_in_the_shop(self.facts.punch_list)


def certificate_from(
    procedure: Procedure,
    readings: Mapping[tuple[str, str], Reading],
    verdicts: Mapping[tuple[str, str], Verdict],
    facts: CertificateFacts,
    *,
    acts: Mapping[str, StepAct] | None = None,
) -> Certificate:
    """The certificate of a run.

    Args: readings and verdicts by key of step and key of field, the latest of each; acts by key of step: who closed
        it, and its outcome where that is not the worst of its readings (a step of actions alone, or one left out).
    Raises: InputError for a reading, verdict or act of a step or field that the procedure has not, a verdict without
        its reading, or a deviation of no step.
    """
    acts = acts or {}
    _check_keys(procedure, readings, verdicts, acts, facts)
    sections = tuple(_section(section, readings, verdicts, acts) for section in procedure.sections)
    counts = {outcome: sum(section.counts[outcome] for section in sections) for outcome in OUTCOMES}
    return Certificate(
        procedure.job,
        procedure.customer,
        procedure.unit,
        procedure.heat,
        procedure.variant,
        dict(procedure.conditions),
        sections,
        procedure.rules,
        replace(facts, punch_list=tuple(sorted(facts.punch_list, key=lambda item: (item.category, item.number)))),
        counts,
    )


def _check_keys(
    procedure: Procedure,
    readings: Mapping[tuple[str, str], Reading],
    verdicts: Mapping[tuple[str, str], Verdict],
    acts: Mapping[str, StepAct],
    facts: CertificateFacts,
) -> None:
    fields = {(step.key, one.key) for step in procedure.steps for one in step.fields}
    steps = {step.key for step in procedure.steps}
    for key in (*readings, *verdicts):
        if key not in fields:
            raise InputError("certificate", "/".join(key), "is no reading of this procedure")
    for key, verdict in verdicts.items():
        if key not in readings and verdict.outcome != NOT_RUN:
            raise InputError("certificate", "/".join(key), f"is {verdict.outcome} without a reading")
    named: Iterable[str] = (
        *acts,
        *(entry.step for entry in facts.deviations if entry.step != WHOLE_TEST),
    )
    for step in named:
        if step not in steps:
            raise InputError("certificate", step, "is no step of this procedure")


def _section(
    section: ProcedureSection,
    readings: Mapping[tuple[str, str], Reading],
    verdicts: Mapping[tuple[str, str], Verdict],
    acts: Mapping[str, StepAct],
) -> SectionResult:
    steps = tuple(_step(step, readings, verdicts, acts.get(step.key, StepAct())) for step in section.steps)
    return SectionResult(section.key, section.title, steps)


def _step(
    step: Step,
    readings: Mapping[tuple[str, str], Reading],
    verdicts: Mapping[tuple[str, str], Verdict],
    act: StepAct,
) -> StepResult:
    found = tuple(
        ReadingResult(one, readings.get((step.key, one.key)), verdicts.get((step.key, one.key), Verdict(NOT_RUN)))
        for one in step.fields
    )
    counted = [entry.verdict.outcome for entry in found if entry.field.needed or entry.reading is not None]
    outcome = act.outcome if act.outcome is not None else worst(counted)
    return StepResult(step, outcome, found, act)
