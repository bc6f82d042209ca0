"""A performance run logged live from the panel: rows go into the record as they come.

A row is entered once it is older than the longest time after which a point that stands still is found out, since what
stood still is marked afterwards; the rest is entered at the end. Only good values are entered, and of a time in which
nothing came a single row without values, so that the gap is seen.
"""

from __future__ import annotations

import asyncio
import math
import time
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Final

from vaporwright.acceptance.record.state import RunState
from vaporwright.acceptance.run.log import RunLog
from vaporwright.actions.accept_run import append_log
from vaporwright.actions.desk import Desk
from vaporwright.files.register_map import RegisterMap
from vaporwright.foundation.errors import require_range
from vaporwright.live.live_log import LiveLog, LiveRow, readers_for
from vaporwright.live.patient_reader import PatientReader

SHORTEST_s: Final = 0.2  # from row to row
LONGEST_s: Final = 3600.0


@dataclass
class LiveRun:
    """Reads a panel into the record of a run.

    Args:
        begun_at: time zero of the run's log, ISO 8601.
        every_s: from row to row; an unanswering device is left alone for longer.
        instruments: the instrument of a channel, where several could be meant.
        elapsed_s, now_s: clocks, as LiveLog has them.
    Raises: OutOfRange for an interval that makes no sense.
    """

    desk: Desk
    run: str
    registers: RegisterMap
    begun_at: str
    every_s: float
    instruments: Mapping[str, str]
    elapsed_s: Callable[[], float] = time.monotonic
    now_s: Callable[[], float] = time.time
    log: LiveLog = field(init=False)
    devices: tuple[PatientReader, ...] = field(init=False)
    lag_s: float = field(init=False)  # for how long a row waits before it is entered
    known: RunState | None = None  # the run as it stood when a row was last entered
    _offset_s: float | None = None  # of the first row, on the run's log
    _dealt_s: float = -math.inf  # rows up to that time are entered, or have nothing to enter
    _in_gap: bool = True

    def __post_init__(self) -> None:
        require_range("every_s", self.every_s, SHORTEST_s, LONGEST_s, "seconds from row to row")
        made = readers_for(self.registers)
        self.devices = tuple(PatientReader(reader, self.every_s, self.elapsed_s) for reader in made)
        self.log = LiveLog(self.devices, self.elapsed_s, self.now_s)
        frozen = (meaning.frozen_after_s for meaning in self.registers.meanings)
        self.lag_s = max((after_s for after_s in frozen if after_s is not None), default=0.0)

    async def follow(
        self,
        ended: Callable[[], bool],
        seen: Callable[[LiveRow], None],
        sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
    ) -> None:
        """Read at the interval until it has ended; `seen` is told each row as it comes, good or not."""
        await self.log.follow(self.every_s, ended, sleep, lambda row: self._seen(row, seen), self._again_s)

    def enter_until(self, row: LiveRow) -> int:
        """Enter the rows that have waited for long enough when a row has come; how many."""
        return self.enter(row.time_s - self.lag_s - 1.0e-9 if self.lag_s else row.time_s)

    def enter(self, until_s: float = math.inf) -> int:
        """Enter the rows that are not entered yet, up to a time since the first one; how many.

        Raises: InputError where the record refuses them: they are tried again with the next ones.
        """
        rows = self.log.run_log(self._dealt_s, until_s)
        if not rows.times_s:
            return 0
        entered = 0
        kept, in_gap = self._kept(rows)
        if kept:
            offset_s = self._offset_s or 0.0
            times_s = tuple(rows.times_s[place] + offset_s for place in kept)
            columns = {name: tuple(values[place] for place in kept) for name, values in rows.columns.items()}
            before = self.known = self.desk.state(self.run, self.known)
            last_s = before.log_parts[-1].log.times_s[-1] if before.log_parts else -math.inf
            entered = sum(time_s > last_s for time_s in times_s)  # append_log leaves out the others
            self.known = append_log(
                self.desk, self.run, RunLog(times_s, columns), self.begun_at, self.instruments, "live", before
            )
        self._dealt_s, self._in_gap = rows.times_s[-1], in_gap
        self.log.forget(self._dealt_s)
        return entered

    @property
    def waiting(self) -> int:
        """How many rows with a value are not entered yet."""
        rows = self.log.run_log(self._dealt_s)
        return sum(
            any(values[place] is not None for values in rows.columns.values()) for place in range(len(rows.times_s))
        )

    def _kept(self, rows: RunLog) -> tuple[list[int], bool]:
        """Places of rows to enter: all with a value, and of those without one the first of each gap."""
        kept, in_gap = [], self._in_gap
        for place in range(len(rows.times_s)):
            is_empty = all(values[place] is None for values in rows.columns.values())
            if not (is_empty and in_gap):
                kept.append(place)
            in_gap = is_empty
        return kept, in_gap

    def _seen(self, row: LiveRow, seen: Callable[[LiveRow], None]) -> None:
        if self._offset_s is None:
            since = datetime.fromisoformat(self.desk.clock()) - datetime.fromisoformat(self.begun_at)
            self._offset_s = max(since.total_seconds(), 0.0)
        seen(row)

    def _again_s(self) -> float:
        """Before when no device would be asked: earlier rows would all be empty."""
        return min(device.again_s for device in self.devices)


def log_live(
    desk: Desk,
    run: str,
    registers: RegisterMap,
    *,
    begun_at: str,
    minutes: float,
    every_s: float,
    instruments: Mapping[str, str],
    seen: Callable[[LiveRow], None],
) -> None:
    """Poll every point for some minutes and enter the rows; `seen` is told each row as it comes.

    Raises: InputError where the record refuses a row; OutOfRange for a length or an interval that makes no sense.
    """
    require_range("minutes", minutes, 0.0, 7.0 * 24.0 * 60.0, "of a live log")
    reading = LiveRun(desk, run, registers, begun_at, every_s, instruments)
    end_s = time.monotonic() + 60.0 * minutes

    def told(row: LiveRow) -> None:
        seen(row)
        reading.enter_until(row)

    asyncio.run(reading.follow(lambda: time.monotonic() >= end_s, told))
    reading.enter()
