"""Simulated units that run while people look: one for each browser, few at a time, none for ever.

A unit at which nobody looks any more is ended, and so is one that has run for long (`running_unit`).
"""

from __future__ import annotations

import secrets
import threading
from typing import Final

from vaporwright.actions.surroundings import Surroundings
from vaporwright.actions.training_tasks import Task
from vaporwright.controls.rig import Rig
from vaporwright.foundation.errors import InputError
from vaporwright.web.running.lit import Matrix
from vaporwright.web.running.unit import Keeper, Pace, RunningUnit

MOST_UNITS: Final = 12


class RunningUnits:
    """The units of a server. Threads are daemons: a server that ends does not wait for them."""

    def __init__(self, most: int = MOST_UNITS, pace: Pace | None = None, *, threads: bool = True) -> None:
        self._most, self._pace, self._threads = most, pace or Pace(), threads
        self._units: dict[str, RunningUnit] = {}
        self._lock = threading.Lock()
        self.streams = 0  # pages that are told of a unit as it goes; counted in the server's own loop

    def begin(
        self,
        rig: Rig,
        *,
        owner: str,
        job: str,
        revision: int,
        task: Task | None = None,
        air: Surroundings | None = None,
        matrix: Matrix | None = None,
        keeper: Keeper | None = None,
    ) -> RunningUnit:
        """A fresh unit for somebody, as RunningUnit takes it; the one that they had is ended.

        Raises: InputError where too many run.
        """
        made = RunningUnit(
            rig,
            owner=owner,
            job=job,
            revision=revision,
            pace=self._pace,
            task=task,
            air=air,
            matrix=matrix,
            keeper=keeper,
        )
        with self._lock:
            self._sweep()
            self._require_room(owner)
            mine = self._units.get(owner)
            self._units[owner] = made
        if mine is not None:
            mine.end("another one was begun")
        if self._threads:
            threading.Thread(target=made.live, name=f"unit {made.id}", daemon=True).start()
        return made

    def require_room(self, owner: str) -> None:
        """Raise InputError where somebody who has none could not begin one."""
        with self._lock:
            self._sweep()
            self._require_room(owner)

    def of(self, owner: str) -> RunningUnit | None:
        """Somebody's unit; one that ended by itself stays until it is swept away."""
        return self._units.get(owner)

    def by_id(self, unit: str) -> RunningUnit | None:
        """A unit by the id that only whoever began it was told."""
        return next((one for one in list(self._units.values()) if secrets.compare_digest(one.id, unit)), None)

    def end(self, owner: str) -> None:
        """End somebody's unit."""
        with self._lock:
            found = self._units.pop(owner, None)
        if found is not None:
            found.end("it was ended")

    @property
    def count(self) -> int:
        """How many there are that have not ended."""
        return sum(unit.state != "ended" for unit in list(self._units.values()))

    @property
    def results_to_come(self) -> frozenset[str]:
        """Of the tasks that are at work now."""
        return frozenset(unit.result for unit in list(self._units.values()))

    def close(self) -> None:
        """End all of them."""
        with self._lock:
            units = list(self._units.values())
            self._units.clear()
        for unit in units:
            unit.end("the server ends")

    def _require_room(self, owner: str) -> None:
        if owner not in self._units and len(self._units) >= self._most:
            raise InputError(
                "simulated unit", "", f"{self._most} units run already", "try again when somebody has ended theirs"
            )

    def _sweep(self) -> None:
        for owner in [owner for owner, unit in self._units.items() if unit.state == "ended"]:
            del self._units[owner]
