"""The readings of panels of one server: one for each run, and what is known of the last one when the server comes back.

A reading never begins by itself. What was read last, from where and by whom, and when its last row came, stands in a
small file of the server's own folder; the register map is in the store by its hash, and named in the record.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import logging
import os
import threading
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Final

from vaporwright.actions.desk import Desk
from vaporwright.actions.live_reading import LiveReading
from vaporwright.actions.panel_plan import PanelPlan, keep_map
from vaporwright.foundation.errors import InputError

MOST_READINGS: Final = 8  # at a time, on one server
KEPT_EVERY_s: Final = 5.0
PATIENCE_s: Final = 15.0  # for the last answer of a panel when the server is stopped
SERVER_STOPPED: Final = "the server was stopped"
_LOG: Final = logging.getLogger("vaporwright.live")


@dataclass(frozen=True)
class KeptReading:
    """What is known of the latest reading of a run. Times are seconds since 1970."""

    run: str
    who: str
    role: str
    began_at: float
    map_sha256: str
    address: str  # as typed; "" where the map's own hold
    every_s: float
    instruments: Mapping[str, str]
    last_at: float  # when it was last known to read
    rows_entered: int = 0
    rows_waiting: int = 0  # read and not entered when that was noted
    ended_at: float | None = None  # none where the server was killed while it read
    why_ended: str = ""


class LiveReadings:
    """Those of a server.

    Args: folder: of the server's own; clock: seconds since 1970; ended: told of each that ends without anybody
        having stopped it, or with the server.
    """

    def __init__(self, folder: Path, clock: Callable[[], float], ended: Callable[[KeptReading], None]) -> None:
        self._folder, self._clock, self._ended = folder, clock, ended
        self._readings: dict[str, LiveReading] = {}
        self._threads: dict[str, threading.Thread] = {}
        self._kept: dict[str, KeptReading] = {}
        self._lock = threading.RLock()

    def begin(self, desk: Desk, run: str, plan: PanelPlan) -> LiveReading:
        """Read a panel into a run.

        Raises: InputError where that run is read already, or too many are.
        """
        with self._lock:
            self._require_room(run)
            state = keep_map(desk, run, plan)
            begun_at = state.log_parts[0].begun_at if state.log_parts else desk.clock()
            reading = LiveReading(plan, desk, run, begun_at, lambda: self._heard(run))
            self._readings[run] = reading
            now = self._clock()
            self._keep(
                KeptReading(
                    run, desk.who, desk.role, now, plan.sha256, plan.typed_address, plan.every_s,
                    dict(plan.instruments), now,
                )
            )  # fmt: skip
            thread = threading.Thread(target=self._live, args=(run, reading), name=f"panel of {run}", daemon=True)
            self._threads[run] = thread
        thread.start()
        return reading

    def stop(self, run: str, why: str) -> None:
        """Stop the reading of a run. Raises: InputError where none goes on."""
        reading = self.of(run)
        if reading is None or reading.standing().phase != "reading":
            raise InputError("panel", run, "is not being read", "a reading that goes on")
        reading.stop(why)

    def of(self, run: str) -> LiveReading | None:
        """The latest reading of a run since the server was started."""
        return self._readings.get(run)

    def kept(self, run: str) -> KeptReading | None:
        """What is known of the latest reading of a run, also from before the server was started."""
        with self._lock:
            if run not in self._kept:
                found = self._from_file(run)
                if found is not None:
                    self._kept[run] = found
            return self._kept.get(run)

    def close(self) -> None:
        """Stop all of them, and wait until what was read is in the records."""
        for reading in list(self._readings.values()):
            reading.stop(SERVER_STOPPED)
        for thread in list(self._threads.values()):
            thread.join(PATIENCE_s)

    def _require_room(self, run: str) -> None:
        going_on = {key for key, one in self._readings.items() if one.standing().phase != "ended"}
        if run in going_on:
            who = self._readings[run].desk
            problem = f"is being read already, begun by {who.who} ({who.role})"
            raise InputError("panel", run, problem, "one reading of a run at a time: stop that one first")
        if len(going_on) >= MOST_READINGS:
            problem = f"{MOST_READINGS} panels are being read already"
            raise InputError("panel", run, problem, "try again when one of those readings has been stopped")

    # in the thread of a reading

    def _live(self, run: str, reading: LiveReading) -> None:
        reading.live()
        standing = reading.standing()
        with self._lock:
            kept = replace(
                self._kept[run],
                rows_entered=standing.rows_entered,
                rows_waiting=standing.rows_waiting,
                ended_at=self._clock(),
                why_ended=standing.why_ended,
            )
            self._keep(kept)
        try:
            self._ended(kept)
        except Exception:
            _LOG.exception("the end of a panel's reading could not be noted")

    def _heard(self, run: str) -> None:
        now = self._clock()
        with self._lock:
            kept, standing = self._kept[run], self._readings[run].standing()
            changed = replace(kept, last_at=now, rows_entered=standing.rows_entered, rows_waiting=standing.rows_waiting)
            if now - kept.last_at >= KEPT_EVERY_s:
                self._keep(changed)

    # the file

    def _keep(self, kept: KeptReading) -> None:
        self._kept[kept.run] = kept
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            target = self._file(kept.run)
            draft = target.with_suffix(".part")
            draft.write_text(json.dumps(asdict(kept)), encoding="utf-8")
            os.replace(draft, target)
        except OSError:  # the reading itself does not hang on it
            _LOG.exception("how a panel's reading stands could not be kept")

    def _from_file(self, run: str) -> KeptReading | None:
        with contextlib.suppress(OSError, ValueError, TypeError):
            found = json.loads(self._file(run).read_text(encoding="utf-8"))
            kept = KeptReading(
                **{entry.name: found[entry.name] for entry in fields(KeptReading) if entry.name in found}
            )
            return kept if kept.run == run else None
        return None

    def _file(self, run: str) -> Path:
        return self._folder / f"{hashlib.sha256(run.encode()).hexdigest()[:32]}.json"
