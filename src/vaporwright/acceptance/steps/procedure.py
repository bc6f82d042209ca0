"""What a test procedure is: sections of steps, each with what to do, what to read and what that must lie within.

A procedure is made for one unit on one day (see `procedure_of_unit`), and goes into the record as it was issued: the
expectation that a reading was judged by is never worked out again later.

Numbers are SI; `quantity` is one of display_units, or

    "yes or no"   a contact, or something seen: expected True or False, no tolerance and no guard band
    "text"        words, such as a serial number; judged only for being there
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final, Literal, TypeAlias

YES_OR_NO: Final = "yes or no"
TEXT: Final = "text"
Performer: TypeAlias = Literal["technician", "engineer", "electrician", "burner technician"]
Point: TypeAlias = Literal["", "witness", "hold"]
Variant: TypeAlias = Literal["full", "cold", "hot on site", "site"]
VARIANTS: Final[dict[Variant, str]] = {
    "full": "the whole test in the shop, with fire or heat",
    "cold": "the shop cannot fire: everything that needs no heat; binds only together with the hot test on site",
    "hot on site": "what the cold test left: binding, on site, on clean water",
    "site": "start-up at the customer's, with site air and the liquor itself",
}


@dataclass(frozen=True)
class Limits:
    """What a reading must lie within [SI]; None leaves that side open.

    proven: safety hangs on it: a reading passes only if it clears the limits by its expanded uncertainty.
    """

    low: float | None
    high: float | None
    proven: bool = False


@dataclass(frozen=True)
class ReadingField:
    """One thing to be read in a step."""

    key: str  # in its step; ends in the SI suffix where it has one
    label: str
    quantity: str  # of display_units, or YES_OR_NO or TEXT
    expected: float | bool | str | None = None  # SI
    limits: Limits | None = None
    reason: str = ""  # where the expected value comes from, and why this tolerance
    instrument: str = ""  # kind of instrument, of instruments.KINDS; "" for the eye
    needed: bool = True


@dataclass(frozen=True)
class Step:
    """One step. Its key is stable over days and units, so that records can be compared."""

    key: str  # "section.name"
    title: str
    purpose: str
    actions: tuple[str, ...]  # imperative, in order
    fields: tuple[ReadingField, ...]
    minutes: float  # estimated
    cautions: tuple[str, ...] = ()
    by: Performer = "technician"
    point: Point = ""  # witness: the witness is called; hold: nothing goes on before it is accepted
    restore: str = ""  # what is put back afterwards
    after: tuple[str, ...] = ()  # keys of steps that must be accepted before
    hot: bool = False  # needs fire or heat

    def field(self, key: str) -> ReadingField | None:
        """A field by its key."""
        return next((found for found in self.fields if found.key == key), None)


@dataclass(frozen=True)
class ProcedureSection:
    """A section of steps, done in order."""

    key: str
    title: str
    steps: tuple[Step, ...]
    note: str = ""


@dataclass(frozen=True)
class Procedure:
    """The procedure of one unit on one day."""

    job: str
    customer: str
    unit: str
    heat: str  # gas, electric or steam
    variant: Variant
    conditions: dict[str, float]  # of the day, by key [SI], as day.DayConditions has them
    sections: tuple[ProcedureSection, ...]
    guarantee: dict[str, float] = field(default_factory=dict)  # what the performance run must show [SI]
    rules: tuple[str, ...] = ()  # void, interruption, rerun, witness rights

    @property
    def steps(self) -> Iterator[Step]:
        """Every step in order."""
        return (step for section in self.sections for step in section.steps)

    def step(self, key: str) -> Step | None:
        """A step by its key."""
        return next((step for step in self.steps if step.key == key), None)

    @property
    def minutes(self) -> float:
        """Estimated time of all steps."""
        return sum(step.minutes for step in self.steps)
