"""What has been worked out of enquiries, kept in memory by what it was worked out from; lost with the server, no harm.

A chart, a drawing or an explanation of values that are not saved yet is asked for by the key of their answer.
"""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from fastapi import Request

from vaporwright.actions.live_size import UnitInHand, full_outcome, hand_of, is_named, rate_in_hand
from vaporwright.actions.size_job import Outcome
from vaporwright.charts.pointed_chart import PointedChart
from vaporwright.files.values import Value
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.telling import unheard
from vaporwright.store.job_store import Texts
from vaporwright.unit.answer import UnitAnswer
from vaporwright.web.context import shop
from vaporwright.web.working import TaskState, Working

KEPT: Final = 120
OWNER: Final = "sizing"  # tasks are shared: whoever asks for the same sizing waits for the same task


@dataclass
class Entry:
    """One state of an enquiry. With a unit in hand there is its answer; without, the outcome of a full sizing."""

    key: str
    job: str
    texts: Texts
    values: Mapping[str, Value] = field(default_factory=dict)
    hand: UnitInHand | None = None
    answer: UnitAnswer | None = None
    outcome: Outcome | None = None
    task: str = ""
    pictures: dict[tuple[str, str], str] = field(default_factory=dict)  # drawn once, by name and system of units
    pointed: dict[str, PointedChart] = field(default_factory=dict)  # by system of units

    @property
    def known(self) -> UnitAnswer:
        """The answer.

        Raises: InputError where it is not worked out yet.
        """
        if self.answer is None:
            raise InputError("sizing", "", "is not worked out yet", "wait a moment")
        return self.answer

    @property
    def unit(self) -> UnitInHand | None:
        """The unit of the answer."""
        return hand_of(self.answer.unit) if self.answer is not None else self.hand

    @property
    def is_named(self) -> bool:
        """Whether the job itself names its unit."""
        return is_named(self.values)


class Sized:
    """Entries, the ones used last."""

    def __init__(self, working: Working) -> None:
        self._working = working
        self._entries: OrderedDict[str, Entry] = OrderedDict()
        self._lock = threading.Lock()

    def find(self, job: str, key: str) -> Entry:
        """An entry by its key.

        Raises: InputError where there is none, or it is another job's.
        """
        with self._lock:
            found = self._entries.get(key)
            if found is None or found.job != job:
                raise InputError("sizing", "", "is no longer kept here", "load the page again")
            self._entries.move_to_end(key)
            return found

    def entry(self, job: str, texts: Texts, values: Mapping[str, Value], hand: UnitInHand | None = None) -> Entry:
        """The entry of a state, new or known."""
        key = _key(job, texts, hand)
        with self._lock:
            found = self._entries.pop(key, None) or Entry(key, job, texts, values, hand)
            self._entries[key] = found
            while len(self._entries) > KEPT:
                self._entries.popitem(last=False)
            return found

    def best(self, entry: Entry) -> UnitInHand | None:
        """What a full sizing of the same values has chosen; None where there was none, or the job names its unit."""
        with self._lock:
            found = self._entries.get(_key(entry.job, entry.texts, None))
        return found.unit if found is not None and found.outcome is not None and not found.is_named else None

    def rated(self, entry: Entry) -> UnitAnswer:
        """The answer for the unit in hand, worked out if need be.

        Raises: InputError, LiquidRefused, OutOfRange.
        """
        if entry.answer is None:
            assert entry.hand is not None
            catalogue = entry.texts.catalogue
            entry.answer = self._working.run(rate_in_hand, dict(entry.values), catalogue, entry.hand)
        return entry.answer

    def begun(self, entry: Entry) -> TaskState | None:
        """How far a full sizing is, begun if need be; None where it is done.

        Raises: InputError, LiquidRefused, OutOfRange, where it has ended so.
        """
        if entry.outcome is not None:
            return None
        with self._lock:
            if not entry.task:
                entry.task = self._working.start(OWNER, full_outcome, entry.texts)
            task = entry.task
        try:
            state = self._working.task(OWNER, task)
        except InputError:  # forgotten among many others: begin it again
            entry.task = ""
            return TaskState()
        if not state.done:
            return state
        if state.error is not None:
            entry.task = ""  # so that another attempt is one
            raise state.error
        self._take(entry, state.result)
        return None

    def waited_for(self, entry: Entry) -> Outcome:
        """The outcome of a full sizing, however long it takes.

        Raises: InputError, LiquidRefused, OutOfRange.
        """
        if entry.outcome is None:
            self._take(entry, self._working.run(full_outcome, unheard, entry.texts))
        assert entry.outcome is not None
        return entry.outcome

    def _take(self, entry: Entry, outcome: Outcome) -> None:
        entry.outcome, entry.answer, entry.values = outcome, outcome.answer, outcome.job_file.values


def sized(request: Request) -> Sized:
    """What this server has worked out."""
    state = request.app.state
    if not hasattr(state, "sized"):
        state.sized = Sized(shop(request).working)
    found: Sized = state.sized
    return found


def _key(job: str, texts: Texts, hand: UnitInHand | None) -> str:
    parts = (job, texts.job, texts.catalogue, texts.table, hand.as_text() if hand else None)
    return hashlib.sha256(repr(parts).encode("utf-8", "surrogatepass")).hexdigest()[:40]
