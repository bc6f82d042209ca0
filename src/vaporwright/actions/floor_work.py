"""Work on the floor: what somebody enters beside the unit, as a page or a program sends it, and in which role.

An entry carries the id of its event, made where it was typed: sent again, it is entered once. It names who typed it,
so that what waited in one person's tablet never goes into the record under another's name.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final, Literal, TypeAlias, get_args

from vaporwright.acceptance.record.checks import step_named
from vaporwright.acceptance.record.events import (
    PERFORMANCE_RUN,
    WHOLE_TEST,
    AgreeDeviation,
    AppendLogRows,
    ClosePunchItem,
    Command,
    CorrectReading,
    Interrupt,
    Kind,
    OpenPunchItem,
    Refused,
    RepeatStep,
    Stamp,
    StepDone,
    StepNotRun,
    TakeReading,
    Void,
)
from vaporwright.acceptance.record.roles import require_performer, require_role
from vaporwright.acceptance.record.state import RunState
from vaporwright.acceptance.run.log import CHANNEL_OF, Channel
from vaporwright.acceptance.steps.procedure import TEXT, YES_OR_NO, ReadingField, Step
from vaporwright.acceptance.steps.readings import Reading
from vaporwright.actions.accept_run import instruments_by_channel
from vaporwright.documents.measured_words import paper_quantity, unit_of
from vaporwright.files.typed_reading import BARE_NUMBERS, is_bare_number, is_blank, read_number, typed_reading
from vaporwright.foundation.errors import InputError

EntryKind: TypeAlias = Literal[
    "reading",
    "correction",
    "step done",
    "step not run",
    "repeat",
    "deviation",
    "interruption",
    "void",
    "punch item",
    "retested",
    "log row",
]
ENTRY_KINDS: Final[tuple[EntryKind, ...]] = get_args(EntryKind)
EVENT_OF: Final[Mapping[EntryKind, Kind]] = {
    "reading": "reading taken",
    "correction": "reading corrected",
    "step done": "step done",
    "step not run": "step not run",
    "repeat": "step repeated",
    "deviation": "deviation agreed",
    "interruption": "interrupted",
    "void": "voided",
    "punch item": "punch item opened",
    "retested": "punch item closed",
    "log row": "log rows appended",
}
_OF_THE_PERFORMER: Final = frozenset(("reading", "correction", "step done"))
_SHOWN_SYSTEMS: Final = ("US", "SI")


@dataclass(frozen=True)
class Waited:
    """How long something waited before it came here: by the clock of where it was kept, or typed with the reason.

    An age, because two clocks never agree on the hour, but do on how long it was ago.
    """

    age_s: float = 0.0
    happened: str = ""  # typed: ISO 8601, without an offset by the clock of this place
    late_because: str = ""


AT_ONCE: Final = Waited()


@dataclass(frozen=True)
class Entry:
    """Something typed on the floor. Which fields count depends on the kind."""

    event_id: str
    kind: EntryKind
    typed_by: str
    step: str = ""  # key; "" for the whole test
    field: str = ""
    text: str = ""  # the reading as typed, the deviation, the punch item
    units: str = ""  # US or SI: in which the unit stood beside the box
    instrument: str = ""
    corrects: str = ""  # event id of the reading corrected
    reason: str = ""
    by: str = ""  # who wished, agreed or owns
    category: str = ""
    number: int = 0  # of a punch item
    minutes: float = 0.0
    at: str = ""  # of a log row, ISO 8601
    cells: Mapping[str, str] = dataclasses.field(default_factory=dict)  # of a log row, by channel
    instruments: Mapping[str, str] = dataclasses.field(default_factory=dict)  # of a log row, by channel
    waited: Waited = AT_ONCE


def stamped(stamp: Stamp, waited: Waited) -> Stamp:
    """The stamp of what waited: entered now, done before. Within the second nothing is said.

    Raises: InputError for a typed time that is none, or that comes without its reason.
    """
    because = waited.late_because.strip()
    if waited.happened:
        if not because:
            raise InputError("entry", "late_because", "a typed time stands alone", "the reason why it comes late")
        return dataclasses.replace(stamp, happened_at=_moment(waited.happened), late_because=because)
    age_s = round(waited.age_s)
    if not age_s:
        return stamp
    happened = datetime.fromisoformat(stamp.at) - timedelta(seconds=age_s)
    return dataclasses.replace(stamp, happened_at=_here(happened), late_because=because)


def _moment(typed: str) -> str:
    try:
        return _here(datetime.fromisoformat(typed.strip()))
    except (ValueError, OverflowError):
        allowed = "day and time by the clock on the wall, such as 2026-03-04 09:30"
        raise InputError("entry", "happened", f"{typed[:40]!r} is no time", allowed) from None


def _here(moment: datetime) -> str:
    """By the clock of this place, as it went then: the offset may have changed in between."""
    return moment.astimezone().isoformat(timespec="seconds")


def role_for(roles: Sequence[str], kind: EntryKind, step: Step | None) -> str:
    """The first of somebody's roles in which they may enter something.

    Raises: Refused where none of them may, or for a kind of entry that there is not.
    """
    if kind not in EVENT_OF:
        raise Refused(f"{kind[:40]!r} is no entry", ", ".join(ENTRY_KINDS))
    problem: Refused | None = None
    for role in roles:
        try:
            require_role(EVENT_OF[kind], role)
            if step is not None and kind in _OF_THE_PERFORMER:
                require_performer(step.key, step.by, role)
        except Refused as refused:
            problem = problem or refused
        else:
            return role
    raise problem or Refused("you may look at this test, and enter nothing", "an account with a role in the test")


def may_perform(roles: Sequence[str], step: Step) -> bool:
    """Whether somebody with these roles may take the readings of a step."""
    try:
        role_for(roles, "reading", step)
    except Refused:
        return False
    return True


def step_of(state: RunState, entry: Entry) -> Step | None:
    """The step that an entry is about. Raises: Refused for one that there is not."""
    if entry.kind == "void" and entry.step in (PERFORMANCE_RUN, WHOLE_TEST):
        return None
    return step_named(state, entry.step) if entry.step else None


def command_of(state: RunState, entry: Entry, stamp: Stamp) -> Command:
    """The command that an entry means, on a run as it stands.

    Raises: InputError for what cannot be read; Refused for a step, a field or a kind that there is not.
    """
    step, reason = entry.step, entry.reason.strip()
    if entry.kind in ("reading", "correction"):
        reading = _reading(state, entry)
        if entry.kind == "reading":
            return TakeReading(stamp, reading)
        return CorrectReading(stamp, entry.corrects, reading, reason)
    if entry.kind == "log row":
        return _row(state, entry, stamp)
    made: dict[EntryKind, Command] = {
        "step done": StepDone(stamp, step, reason),
        "step not run": StepNotRun(stamp, step, reason),
        "repeat": RepeatStep(stamp, step, reason, entry.by.strip()),
        "deviation": AgreeDeviation(stamp, step, entry.text.strip(), entry.by.strip()),
        "interruption": Interrupt(stamp, reason, entry.minutes, step),
        "void": Void(stamp, step, reason),
        "punch item": OpenPunchItem(
            stamp,
            entry.category,  # type: ignore[arg-type]  # the record checks it
            entry.text.strip(),
            entry.by.strip(),
            step,
        ),
        "retested": ClosePunchItem(stamp, entry.number, reason),
    }
    if entry.kind not in made:
        raise Refused(f"{entry.kind!r} is no entry", ", ".join(ENTRY_KINDS))
    return made[entry.kind]


def _reading(state: RunState, entry: Entry) -> Reading:
    step = step_named(state, entry.step)
    found = step.field(entry.field)
    if found is None:
        allowed = ", ".join(one.key for one in step.fields) or "the step has nothing to read: mark it as done"
        raise Refused(f"{entry.field!r} is no reading of step {step.key}", allowed)
    text = with_shown_unit(entry.text, found.quantity, found.instrument, entry.units)
    instrument = entry.instrument if found.instrument else ""
    return typed_reading(found, text, step=step.key, instrument=instrument, where=found.label)


def with_shown_unit(text: str, quantity: str, instrument: str, units: str) -> str:
    """A bare number with the unit that stood beside its box; anything else as it is.

    Raises: InputError for a system of units that there is not.
    """
    if units and units not in _SHOWN_SYSTEMS:
        raise InputError("units", "", f"{units[:20]!r} is no system of units", " or ".join(_SHOWN_SYSTEMS))
    text = text.strip()
    if not units or quantity in (TEXT, YES_OR_NO) or quantity in BARE_NUMBERS or not is_bare_number(text):
        return text
    return f"{text} {unit_of(paper_quantity(quantity, instrument), units).text}".strip()


def shown_unit_of(one: ReadingField | Channel, system: str) -> str:
    """The unit beside a box; "" where there is none."""
    if one.quantity in (TEXT, YES_OR_NO):
        return ""
    return unit_of(paper_quantity(one.quantity, one.instrument), system).text


def _row(state: RunState, entry: Entry, stamp: Stamp) -> AppendLogRows:
    """One row of the performance run, typed."""
    at = entry.at or stamp.at
    columns: dict[str, tuple[float | None, ...]] = {}
    for name, text in entry.cells.items():
        channel = CHANNEL_OF.get(name)
        if channel is None:
            raise InputError("run log", name[:40], "is no channel", ", ".join(CHANNEL_OF))
        if is_blank(text):
            continue
        plain = with_shown_unit(text, channel.quantity, channel.instrument, entry.units)
        columns[name] = (read_number(plain, channel.quantity, where="run log", key=channel.label),)
    if not columns:
        raise InputError("run log", "row", "has no value", "at least one reading")
    begun = state.log_parts[0].begun_at if state.log_parts else at
    picked = instruments_by_channel(state, columns, {key: one for key, one in entry.instruments.items() if one})
    return AppendLogRows(stamp, begun, (_seconds(begun, at),), columns, picked, "typed")


def _seconds(begun: str, at: str) -> float:
    try:
        return (datetime.fromisoformat(at) - datetime.fromisoformat(begun)).total_seconds()
    except (ValueError, TypeError):
        allowed = "ISO 8601 with its offset, such as 2026-03-04T09:30:00-06:00"
        raise InputError("run log", "time", f"{at[:40]!r} is no time", allowed) from None
