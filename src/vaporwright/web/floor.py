"""A test run as pages and the JSON interface work with it: which job it belongs to, its state, who may enter what.

The state of a run is kept in memory as far as it has been read, and only what came since is read again; that it is
still the same record is checked each time by the hash of its last event.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final
from weakref import WeakKeyDictionary

from fastapi import HTTPException, Request

from vaporwright.acceptance.record.chain import Broken
from vaporwright.acceptance.record.events import Command, Refused
from vaporwright.acceptance.record.roles import ROLES
from vaporwright.acceptance.record.state import RunState, replay
from vaporwright.acceptance.steps.outcomes import NOT_ACCEPTED, PASSES, TEST_ERROR, UNDECIDED, Outcome
from vaporwright.acceptance.steps.procedure import Step
from vaporwright.actions.desk import Desk
from vaporwright.actions.floor_work import Entry, command_of, role_for, stamped, step_of
from vaporwright.actions.people import MOST_PER_NAME, PasswordRefused, TooMany, WINDOW_s, require_password
from vaporwright.actions.tested_job import report_units_of
from vaporwright.display_units import show
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.notice import Notice
from vaporwright.store.commit import load_state
from vaporwright.store.job_store import LinkedRun
from vaporwright.store.people_store import checked_name
from vaporwright.store.record_store import RecordStore, StoreError
from vaporwright.store.run_pins import RunPins
from vaporwright.web.context import Forbidden, Shop, Viewer, book, desk_of, note, require_name, shop

MOST_KNOWN: Final = 50  # runs whose state is kept in memory
REFUSALS: Final = (Forbidden, PasswordRefused, TooMany)  # of whoever is to show that it is them
FLOOR_ROLES: Final = ("engineer", "technician", "witness")
_BAD: Final = (NOT_ACCEPTED, TEST_ERROR, UNDECIDED)


class _Known:
    """States of runs as far as they have been read."""

    def __init__(self) -> None:
        self._states: OrderedDict[str, RunState] = OrderedDict()
        self._lock = threading.Lock()

    def state(self, store: RecordStore, run: str) -> RunState:
        with self._lock:
            known = self._states.get(run)
        if known is not None and known.seq:
            rows = store.load(run, known.seq - 1)
            if rows and rows[0].hash == known.head:
                try:
                    found = replay(rows[1:], known)
                except Broken as error:
                    problem = f"does not verify: {error}"
                    raise StoreError("record", run, problem, "an untouched copy, or the last export") from None
                return self.keep(found)
        return self.keep(load_state(store, run))

    def keep(self, state: RunState) -> RunState:
        with self._lock:
            self._states[state.run] = state
            self._states.move_to_end(state.run)
            while len(self._states) > MOST_KNOWN:
                self._states.popitem(last=False)
        return state


_KNOWN: Final[WeakKeyDictionary[RecordStore, _Known]] = WeakKeyDictionary()
_KNOWN_LOCK: Final = threading.Lock()


def _known(store: RecordStore) -> _Known:
    with _KNOWN_LOCK:
        return _KNOWN.setdefault(store, _Known())


def known_state(store: RecordStore, run: str) -> RunState:
    """A run as it stands now; what was read of it before is not read again."""
    return _known(store).state(store, run)


def state_of(here: Shop, run: str) -> RunState:
    """A run as it stands now."""
    return known_state(here.database.records, run)


@dataclass(frozen=True)
class OpenedRun:
    """A run of a job, as it stands."""

    link: LinkedRun
    state: RunState

    @property
    def run(self) -> str:
        """Its name."""
        return self.link.run

    @property
    def address(self) -> str:
        """Its page."""
        return f"/jobs/{self.link.job}/acceptance/{self.link.run}"


def run_of(request: Request, job: str, run: str) -> OpenedRun:
    """A run by its job and name. Raises: HTTPException 404 where the job has no such run."""
    here = shop(request)
    link = here.book.job_of_run(run)
    if link is None or link.job != job:
        raise HTTPException(404, "there is no such test run of this job")
    return OpenedRun(link, state_of(here, run))


def run_named(request: Request, run: str) -> OpenedRun:
    """A run by its name alone. Raises: HTTPException 404."""
    here = shop(request)
    link = here.book.job_of_run(run)
    if link is None:
        raise HTTPException(404, "there is no such test run")
    book(request).job(link.job)  # a guest sees no other customer's
    return OpenedRun(link, state_of(here, run))


def step_named_in(opened: OpenedRun, key: str) -> Step:
    """A step of a run. Raises: HTTPException 404."""
    found = opened.state.procedure.step(key) if opened.state.procedure else None
    if found is None:
        raise HTTPException(404, "there is no such step in this test")
    return found


def enter(request: Request, opened: OpenedRun, desk: Desk, make: Callable[[Desk, RunState], Command]) -> RunState:
    """Enter a command into a run; what others have entered meanwhile is there afterwards too."""
    here, before = shop(request), opened.state
    state = _known(here.database.records).keep(desk.enter(opened.run, make(desk, before), before))
    if (state.covering, state.void) != (before.covering, before.void):
        here.book.mark_from_records(opened.link.job)  # so that the list of jobs says it at once
    return state


def enter_entry(request: Request, opened: OpenedRun, entry: Entry) -> RunState:
    """Enter what somebody typed on the floor, in the first of their roles that may.

    Raises: Forbidden, NameNeeded; Refused where it was typed by somebody else; InputError of the entry.
    """
    who = require_typist(request, entry.typed_by)
    role = role_for(who.roles, entry.kind, step_of(opened.state, entry))
    desk = desk_of(request, role)

    def make(at: Desk, state: RunState) -> Command:
        return command_of(state, entry, stamped(at.stamp(entry.event_id), entry.waited))

    return enter(request, opened, desk, make)


def require_typist(request: Request, typed_by: str) -> Viewer:
    """Who looks, where it is they who typed what comes. Raises: Forbidden, NameNeeded, Refused."""
    who = require_name(request, *FLOOR_ROLES)
    if typed_by != who.name:
        problem = f"this was typed by {typed_by[:80] or 'nobody'}; you are here as {who.name}"
        raise Refused(problem, "sent by whoever typed it")
    return who


def today(request: Request) -> str:
    """The day here, ISO, by the clock that stamps entries."""
    return Desk(shop(request).database.records, "nobody", "technician").clock()[:10]


# Signing


def desk_by_proof(request: Request, run: str, name: str, role: str, proof: str) -> Desk:
    """The desk of somebody who has shown that it is them: password again, or at the machine itself the run's PIN.

    Raises: REFUSALS: for a role that is not theirs, a wrong PIN or password, too many wrong ones.
    """
    who = require_name(request, *FLOOR_ROLES)
    here = shop(request)
    if who.account:
        return _desk_by_password(request, who, role, proof)
    name = checked_name(name or who.name, "name")
    if role not in ROLES:
        raise InputError("role", "", f"{role[:40]!r} is no role", ", ".join(ROLES))
    subject = f"{run} {name.casefold()} {role}"
    if here.people.count_noted("PIN refused", since=here.clock() - WINDOW_s, subject=subject) >= MOST_PER_NAME:
        raise TooMany(WINDOW_s)
    if not RunPins(here.database).matches(run, name, role, proof):
        note(request, "PIN refused", subject)
        raise Forbidden(f"this is not the PIN that {name} chose as {role} in this run")
    return Desk(here.database.records, name, role)


def _desk_by_password(request: Request, who: Viewer, role: str, password: str) -> Desk:
    desk = desk_of(request, role)
    here = shop(request)
    require_password(here.people, who.account, password, address=who.address, clock=here.clock)
    return desk


# Words


def words_of(notice: Notice, system: str) -> str:
    """A notice in the reader's units."""
    return notice.words(lambda value, quantity: show(value, quantity, system))


def kind_of(outcome: Outcome) -> str:
    """How a verdict is shown: only what is abnormal has a colour."""
    if outcome == NOT_ACCEPTED:
        return "alarm"
    return "caution" if outcome in (TEST_ERROR, UNDECIDED) else ""


def system_of(here: Shop, state: RunState) -> str:
    """US or SI, as the run's job asks for: the units of its papers."""
    return report_units_of(here.database.records, state)


@dataclass(frozen=True)
class Standing:
    """Where a run stands, in a few numbers."""

    settled: int
    of: int
    bad: tuple[tuple[Outcome, int], ...]
    open_items: int
    minutes_left: float
    next_step: str  # key; "" where nothing is outstanding

    @property
    def share(self) -> float:
        """Of the steps that are settled, 0 to 1."""
        return self.settled / self.of if self.of else 0.0


def standing_of(state: RunState) -> Standing:
    """Where a run stands."""
    verdicts = list(state.verdicts.values())
    outstanding = state.outstanding
    left = {step.key for step in outstanding}
    not_done = [step for step in outstanding if state.verdict(step) not in PASSES]
    return Standing(
        sum(step.key not in left for step in state.steps),
        len(state.steps),
        tuple((one, verdicts.count(one)) for one in _BAD if one in verdicts),
        sum(not item.settled for item in state.punch_list),
        sum(step.minutes for step in not_done),
        outstanding[0].key if outstanding else "",
    )


def neighbours(steps: Sequence[Step], key: str, wanted: set[str]) -> tuple[str, str]:
    """The nearest steps before and after one that are wanted; "" where there is none."""
    keys = [step.key for step in steps]
    place = keys.index(key)
    before = next((one for one in reversed(keys[:place]) if one in wanted), "")
    return before, next((one for one in keys[place + 1 :] if one in wanted), "")


def latest_of(state: RunState, system: str, most: int = 8) -> list[dict[str, str]]:
    """The latest readings, newest first: who entered what."""
    labels = {(step.key, field.key): (step.title, field.label) for step in state.steps for field in step.fields}
    taken = [one for history in state.history.values() for one in history]
    taken.sort(key=lambda one: one.mark.at, reverse=True)
    return [
        {
            "step": one.reading.step,
            "title": labels.get((one.reading.step, one.reading.field), ("", one.reading.field))[0],
            "label": labels.get((one.reading.step, one.reading.field), ("", one.reading.field))[1],
            "entered": one.reading.entered,
            "outcome": one.outcome,
            "kind": kind_of(one.outcome),
            "words": words_of(one.words, system),
            "who": one.mark.who,
            "at": one.mark.at,
        }
        for one in taken[:most]
    ]
