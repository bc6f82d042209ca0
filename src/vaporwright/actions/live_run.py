"""A performance run logged live from the panel: rows go into the record as they come.

A row is entered once it is older than the longest time after which a point that stands still is found out, since what
stood still is marked afterwards; the rest is entered at the end. Only good values are entered.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable, Mapping

from vaporwright.acceptance.run.log import CHANNEL_OF, RunLog
from vaporwright.actions.accept_run import append_log
from vaporwright.actions.desk import Desk
from vaporwright.files.register_map import RegisterMap
from vaporwright.foundation.errors import require_range
from vaporwright.live.live_log import LiveLog, LiveRow, readers_for


def log_live(
    desk: Desk,
    run: str,
    registers: RegisterMap,
    *,
    begun_at: str,
    minutes: float,
    every_s: float,
    instruments: Mapping[str, str],
    seen: Callable[[LiveRow], None] = lambda row: None,  # noqa: ARG005
) -> LiveLog:
    """Poll every point for some minutes and enter the rows.

    Args: begun_at: time zero of the run's log, ISO 8601; seen: told each row as it comes, good or not.
    Raises: InputError where the record refuses a row; OutOfRange for a length or an interval that makes no sense.
    """
    from datetime import datetime

    require_range("minutes", minutes, 0.0, 7.0 * 24.0 * 60.0, "of a live log")
    require_range("every_s", every_s, 0.2, 3600.0, "seconds from row to row")
    log = LiveLog(readers_for(registers), time.monotonic, time.time)
    offset_s = max((datetime.fromisoformat(desk.clock()) - datetime.fromisoformat(begun_at)).total_seconds(), 0.0)
    end_s = time.monotonic() + 60.0 * minutes
    frozen = [
        meaning.frozen_after_s
        for reader in log.readers
        for meaning in reader.meanings
        if meaning.frozen_after_s is not None
    ]
    lag_s = max(frozen, default=0.0)

    def enter(until_s: float) -> None:
        rows = log.run_log()
        kept = [place for place, time_s in enumerate(rows.times_s) if time_s <= until_s]
        if not kept:
            return
        columns = {name: tuple(values[place] for place in kept) for name, values in rows.columns.items()}
        shifted = RunLog(tuple(rows.times_s[place] + offset_s for place in kept), columns)
        if any(shifted.has(name) for name in CHANNEL_OF):
            append_log(desk, run, shifted, begun_at, instruments, "live")

    def told(row: LiveRow) -> None:
        seen(row)
        enter(row.time_s - lag_s - 1.0e-9)

    asyncio.run(log.follow(every_s, lambda: time.monotonic() >= end_s, seen=told))
    enter(float("inf"))
    return log
