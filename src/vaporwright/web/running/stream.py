"""A running unit told to a page as it goes: one stream of server-sent events, what has changed as compact JSON.

A stream holds no thread: four times a second it looks whether anything has changed, and sends that. It is ended after
two minutes; the browser comes again by itself, with the last id, and passes every check of rights anew. It ends at once
when the page is closed, and when the server ends.
"""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import AsyncIterator, Awaitable, Callable
from typing import Any, Final, NamedTuple

from vaporwright.web.running.kept import RunningUnits
from vaporwright.web.running.unit import RunningUnit
from vaporwright.web.running.view import state_of

TICK_s: Final = 0.25
ALIVE_s: Final = 5.0  # a page that hears nothing for longer asks by itself: see controls.js
LONGEST_s: Final = 120.0
RETRY_ms: Final = 300
MOST_STREAMS: Final = 60
HEADERS: Final = {"X-Accel-Buffering": "no"}  # a proxy hands on what it gets
NONE: Final = 'data: {"state":"none"}\n\n'


class Cursor(NamedTuple):
    """How far a page has heard: event, generation of the points, time of the last point in tenths of a second."""

    events: int = 0
    generation: int = 0
    points_ds: int = -10

    @classmethod
    def of(cls, text: str) -> Cursor:
        """From the id of a message; from the beginning where it is none."""
        parts = text[:60].split(".")
        if len(parts) != 3 or not all(part.removeprefix("-").isdecimal() for part in parts):
            return cls()
        return cls(*map(int, parts))

    @property
    def text(self) -> str:
        """The id of a message."""
        return ".".join(map(str, self))


class Teller:
    """What is new of a unit for one page."""

    def __init__(self, unit: RunningUnit, system: str, cursor: Cursor) -> None:
        self._unit, self._system, self._cursor = unit, system, cursor
        self._known: dict[str, Any] = {}
        self._seen = -1

    def message(self) -> str:
        """What has changed since the last one, as an event; empty where nothing has."""
        changed = self._unit.changed
        if changed == self._seen:
            return ""
        self._seen = changed  # before it is looked at: what changes meanwhile is told next time
        cursor = self._cursor
        told = state_of(
            self._unit,
            self._system,
            events_after=cursor.events,
            generation=cursor.generation,
            points_after_s=cursor.points_ds / 10.0,
        )
        news = {key: value for key, value in told.items() if key not in self._known or self._known[key] != value}
        for key in ("events", "points"):  # these are additions, not a state
            told.pop(key, None)
        self._known = told
        if not news.get("events"):
            news.pop("events", None)
        points = news.get("points")
        if points is not None:
            if points["rows"]:
                self._cursor = cursor._replace(
                    generation=points["generation"], points_ds=round(10.0 * points["rows"][-1][0])
                )
            else:
                del news["points"]
        if "events" in news:
            self._cursor = self._cursor._replace(events=news["events"][-1][0])
        if not news:
            return ""
        text = json.dumps(news, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
        return f"id: {self._cursor.text}\ndata: {text}\n\n"


async def told(
    units: RunningUnits,
    unit: RunningUnit | None,
    teller: Callable[[RunningUnit], Teller],
    is_ending: Callable[[], bool],
    *,
    now: Callable[[], float] = time.monotonic,
    rest: Callable[[float], Awaitable[None]] = asyncio.sleep,
) -> AsyncIterator[str]:
    """The lines of a stream."""
    if unit is None:
        yield NONE
        return
    units.streams += 1
    try:
        telling = teller(unit)
        begun_s = said_s = now()
        yield f"retry: {RETRY_ms}\n\n"
        while not is_ending() and now() - begun_s < LONGEST_s:
            unit.looked_at()
            is_over = unit.state == "ended"  # asked before the last message is made
            text = telling.message()
            if not text and now() - said_s >= ALIVE_s:
                text = "event: alive\ndata: 1\n\n"
            if text:
                said_s = now()
                yield text
            if is_over:
                return
            await rest(TICK_s)
    finally:
        units.streams -= 1
