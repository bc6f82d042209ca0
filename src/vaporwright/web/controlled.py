"""The control of jobs as this server has it in hand: what was prepared, proofs under way, and the units that run.

Kept in memory by job and revision, the ones used last; lost with the server, no harm.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass, field
from typing import Final

from fastapi import FastAPI, Request

from vaporwright.actions.control_desk import Prepared, faults_looked_at, prepared, proved
from vaporwright.actions.prove_job import ProvedJob
from vaporwright.actions.surroundings import Surroundings, rig_in
from vaporwright.controls.rig import Rig
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.telling import unheard
from vaporwright.store.job_store import Texts
from vaporwright.web.running.kept import RunningUnits
from vaporwright.web.working import TaskState, Working

KEPT: Final = 16
OWNER: Final = "controls"  # tasks are shared: whoever asks for the same waits for the same task


@dataclass
class Entry:
    """One revision of a job."""

    job: str
    revision: int
    texts: Texts
    prepared: Prepared | None = None
    rigs: dict[Surroundings, Rig] = field(default_factory=dict)  # other surroundings than those prepared for
    proofs: dict[bool, ProvedJob] = field(default_factory=dict)  # without and with single faults
    tasks: dict[str, str] = field(default_factory=dict)

    @property
    def proof(self) -> ProvedJob | None:
        """The fullest proof there is."""
        return self.proofs.get(True) or self.proofs.get(False)

    @property
    def known(self) -> Prepared:
        """What was prepared. Raises: InputError where it is not there yet."""
        if self.prepared is None:
            raise InputError("controls", "", "are not worked out yet", "wait a moment and load the page again")
        return self.prepared


class Controlled:
    """Entries, and the simulated units."""

    def __init__(self, working: Working, units: RunningUnits | None = None) -> None:
        self.units = units or RunningUnits()
        self._working = working
        self._entries: OrderedDict[tuple[str, int], Entry] = OrderedDict()
        self._lock = threading.Lock()

    def entry(self, job: str, revision: int, texts: Texts) -> Entry:
        """The entry of a revision, new or known."""
        with self._lock:
            found = self._entries.pop((job, revision), None) or Entry(job, revision, texts)
            self._entries[job, revision] = found
            while len(self._entries) > KEPT:
                self._entries.popitem(last=False)
            return found

    def preparing(self, entry: Entry) -> TaskState | None:
        """How far it is prepared, begun if need be; None where it is done.

        Raises: InputError, LiquidRefused, OutOfRange where it has ended so.
        """
        if entry.prepared is not None:
            return None
        state = self._task(entry, "prepare", prepared, entry.texts)
        if state.done:
            entry.prepared = state.result
            return None
        return state

    def ready(self, entry: Entry) -> Prepared:
        """What is prepared, waited for. Raises: InputError, LiquidRefused, OutOfRange."""
        if entry.prepared is None:
            entry.prepared = self._working.run(_prepared, entry.texts)
        return entry.prepared

    def rig(self, entry: Entry, where: Surroundings) -> Rig:
        """What a simulated unit is made of in some surroundings, waited for where it was not made yet.

        Raises: InputError, OutOfRange, NotConverged.
        """
        known = entry.known
        if where.governs:
            return known.rig
        if where not in entry.rigs:
            controlled = known.controlled
            entry.rigs[where] = self._working.run(rig_in, controlled.answer, controlled.unit, where)
        return entry.rigs[where]

    def proving(self, entry: Entry, *, with_faults: bool, begin: bool) -> TaskState | None:
        """How far a proof is; None where there is none under way, or it is done.

        Raises: InputError, LiquidRefused, OutOfRange where it has ended so.
        """
        kind = f"proof {with_faults}"
        if with_faults in entry.proofs or not (begin or kind in entry.tasks):
            return None
        known = entry.proofs.get(False)
        if with_faults and known is not None:  # what is proved already is not proved again
            state = self._task(entry, kind, faults_looked_at, known)
        else:
            state = self._task(entry, kind, proved, entry.texts, with_faults)
        if state.done:
            entry.proofs[with_faults] = state.result
            return None
        return state

    def proof_ready(self, entry: Entry) -> ProvedJob:
        """The proof without single faults, waited for. Raises: InputError, LiquidRefused, OutOfRange."""
        if False not in entry.proofs:
            entry.proofs[False] = self._working.run(_proved, entry.texts)
        return entry.proofs[False]

    def _task(self, entry: Entry, kind: str, function: object, *arguments: object) -> TaskState:
        with self._lock:
            if kind not in entry.tasks:
                entry.tasks[kind] = self._working.start(OWNER, function, *arguments)  # type: ignore[arg-type]
            task = entry.tasks[kind]
        try:
            state = self._working.task(OWNER, task)
        except InputError:  # forgotten among many others: begin it again
            entry.tasks.pop(kind, None)
            return TaskState()
        if state.done:
            entry.tasks.pop(kind, None)
        if state.error is not None:
            raise state.error
        return state


def controlled_of(app: FastAPI) -> Controlled:
    """The control of the jobs of an application."""
    found: Controlled | None = getattr(app.state, "controlled", None)
    if found is None:
        found = app.state.controlled = Controlled(app.state.shop.working)
    return found


def controlled(request: Request) -> Controlled:
    """The control of the jobs of this server."""
    return controlled_of(request.app)


def _prepared(texts: Texts) -> Prepared:
    return prepared(unheard, texts)


def _proved(texts: Texts) -> ProvedJob:
    return proved(unheard, texts, False)
