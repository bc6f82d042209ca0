"""One panel that is read into one run while a server runs: a thread that reads, enters, and can say how it stands.

What the record does not take is told and tried again with the next row; where the record takes nothing any more the
reading ends by itself.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final, Literal, TypeAlias

from vaporwright.actions.desk import Desk
from vaporwright.actions.live_run import LiveRun
from vaporwright.actions.panel_plan import PanelPlan, closed_to_rows
from vaporwright.foundation.errors import InputError, VaporwrightError
from vaporwright.live.live_log import LiveRow
from vaporwright.live.samples import LiveValue

Phase: TypeAlias = Literal["reading", "ending", "ended"]
TAKEN_WITHIN_s: Final = 120.0  # how long a value that was shown may still be taken
_LOG: Final = logging.getLogger("vaporwright.live")


@dataclass(frozen=True)
class Silent:
    """A device that does not answer."""

    name: str
    why: str
    since_s: float  # how long already
    again_s: float  # in how long it is asked again


@dataclass(frozen=True)
class Standing:
    """How a reading stands."""

    phase: Phase
    rows_read: int
    rows_entered: int
    rows_waiting: int  # read with a value, and not entered yet
    lag_s: float  # for how long a row waits
    row: LiveRow | None = None  # the last one
    number: int = 0  # of that row, from 1
    age_s: float = 0.0  # of that row
    value_age_s: float | None = None  # of the last row with a value; none where none has come yet
    silent: tuple[Silent, ...] = ()
    refused: str = ""  # why the record does not take the rows now
    why_ended: str = ""


@dataclass(frozen=True)
class _Seen:
    """A row that can still be taken a value of."""

    number: int
    at_s: float
    row: LiveRow


@dataclass
class LiveReading:
    """Reads by `live`, in a thread of its own; everything else may be called from others.

    Args:
        plan: what is read, from where.
        desk: of whoever has begun it: rows go into the record in their name.
        begun_at: time zero of the run's log, ISO 8601.
        heard: told after each row, in the thread.
    """

    plan: PanelPlan
    desk: Desk
    run: str
    begun_at: str
    heard: Callable[[], None] = lambda: None
    elapsed_s: Callable[[], float] = time.monotonic
    now_s: Callable[[], float] = time.time
    _live: LiveRun = field(init=False)
    _phase: Phase = "reading"
    _why: str = ""
    _refused: str = ""
    _read: int = 0
    _waiting: int = 0
    _value_at_s: float | None = None
    _entered: int = 0
    _recent: deque[_Seen] = field(default_factory=deque)
    _silent_since_s: dict[str, float] = field(default_factory=dict)
    _lock: threading.RLock = field(default_factory=threading.RLock)
    _wake: Callable[[], None] = lambda: None

    def __post_init__(self) -> None:
        plan = self.plan
        self._live = LiveRun(
            self.desk, self.run, plan.registers, self.begun_at, plan.every_s, plan.instruments,
            self.elapsed_s, self.now_s,
        )  # fmt: skip

    def live(self) -> None:
        """Read until stopped, then enter the rest; never raises."""
        try:
            asyncio.run(self._follow())
            self._enter(None)
        except Exception:
            _LOG.exception("the reading of a panel failed")
            self._end("the reader failed; the server's log has it")
        finally:
            with self._lock:
                self._phase = "ended"

    def stop(self, why: str) -> None:
        """Let it end, for a reason that people can read; the first one counts."""
        self._end(why)
        self._wake()

    def standing(self) -> Standing:
        """How it stands now."""
        now_s = self.elapsed_s()
        with self._lock:
            last = self._recent[-1] if self._recent else None
            silent = tuple(
                Silent(one.name, one.fault, now_s - self._silent_since_s.get(one.name, now_s), one.again_s - now_s)
                for one in self._live.devices
                if one.fault
            )
            return Standing(
                self._phase,
                self._read,
                self._entered,
                self._waiting,
                self._live.lag_s,
                last.row if last else None,
                last.number if last else 0,
                now_s - last.at_s if last else 0.0,
                None if self._value_at_s is None else now_s - self._value_at_s,
                silent,
                self._refused,
                self._why,
            )

    def taken(self, number: int, target: str) -> LiveValue:
        """The value of a point in a row that was shown, so that it can be entered as a reading.

        Raises: InputError where that row was never read, or is too old.
        """
        with self._lock:
            found = next((one for one in self._recent if one.number == number), None)
            if found is None or self.elapsed_s() - found.at_s > TAKEN_WITHIN_s or target not in found.row.values:
                problem = "what was shown is not held any more"
                raise InputError("live reading", target, problem, f"a value of the last {TAKEN_WITHIN_s:.0f} s")
            return found.row.values[target]

    # its own thread

    async def _follow(self) -> None:
        stopped = asyncio.Event()
        loop = asyncio.get_running_loop()

        def wake() -> None:
            with contextlib.suppress(RuntimeError):  # the loop has ended meanwhile
                loop.call_soon_threadsafe(stopped.set)

        async def sleep(seconds: float) -> None:
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(max(seconds, 0.0)):
                    await stopped.wait()

        self._wake = wake
        await self._live.follow(lambda: self._phase != "reading", self._seen, sleep)

    def _seen(self, row: LiveRow) -> None:
        now_s = self.elapsed_s()
        with self._lock:
            self._read += 1
            self._recent.append(_Seen(self._read, now_s, row))
            if any(value.value is not None for value in row.values.values()):
                self._value_at_s = now_s
            while len(self._recent) > 1 and now_s - self._recent[0].at_s > TAKEN_WITHIN_s:
                self._recent.popleft()
            for device in self._live.devices:
                if device.fault:
                    self._silent_since_s.setdefault(device.name, now_s)
                else:
                    self._silent_since_s.pop(device.name, None)
        self._enter(row)
        self.heard()

    def _enter(self, row: LiveRow | None) -> None:
        """Enter what has waited for long enough, or at the end everything."""
        try:
            entered = self._live.enter() if row is None else self._live.enter_until(row)
        except VaporwrightError as error:
            self._refuse(error)
        else:
            with self._lock:
                self._entered += entered
                self._refused = ""
        with self._lock:
            self._waiting = self._live.waiting

    def _refuse(self, error: VaporwrightError) -> None:
        """Tell why the record does not take rows; where it never will again, end."""
        why = ""
        with contextlib.suppress(VaporwrightError):
            why = closed_to_rows(self.desk.state(self.run, self._live.known))
        with self._lock:
            self._refused = str(error)
        if why:
            self._end(why)

    def _end(self, why: str) -> None:
        with self._lock:
            if self._phase == "reading":
                self._phase, self._why = "ending", why
