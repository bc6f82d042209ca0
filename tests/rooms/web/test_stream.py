"""What a page is told of a unit as it goes: changes alone, a sign of life while nothing changes, and an end to it."""

from __future__ import annotations

import asyncio
import json
import threading
from collections.abc import Callable, Coroutine
from typing import Any

import pytest

from example_rigs import example_rig
from vaporwright.actions.at_hand import deed_of
from vaporwright.web.running import stream
from vaporwright.web.running.kept import RunningUnits
from vaporwright.web.running.stream import ALIVE_s, Cursor, LONGEST_s, Teller, told
from vaporwright.web.running.unit import Asked, Pace, RunningUnit


class Still(Pace):
    """No time passes but what is waited for."""

    at = 0.0

    def now(self) -> float:
        return self.at

    def wait(self, condition: threading.Condition, seconds: float) -> None:
        del condition
        self.at += seconds


class Told:
    """A stream that is heard: its clock goes on by what it rests, and `between` is done at each rest."""

    def __init__(self, between: Callable[[int], None] = lambda _: None) -> None:
        self.units = RunningUnits(2, Still(), threads=False)
        self.unit = self.units.begin(example_rig("gas"), owner="ann", job="j", revision=1)
        self.unit.prepare()
        self.at, self.rests, self._between = 0.0, 0, between
        self.lines: list[str] = []

    async def _rest(self, seconds: float) -> None:
        self.at += seconds
        self.rests += 1
        self._between(self.rests)

    async def hear(self, is_ending: Callable[[], bool] = lambda: False, cursor: Cursor | None = None) -> None:
        def teller(unit: RunningUnit) -> Teller:
            return Teller(unit, "SI", cursor or Cursor())

        lines = told(self.units, self.unit, teller, is_ending, now=lambda: self.at, rest=self._rest)
        async for line in lines:
            self.lines.append(line)

    @property
    def news(self) -> list[dict[str, Any]]:
        found = []
        for line in self.lines:
            head, _, data = line.partition("data: ")
            if head.startswith("id: "):
                found.append(json.loads(data))
        return found


def _run(made: Coroutine[Any, Any, None]) -> None:
    with asyncio.Runner() as runner:
        runner.run(made)


def _deed(unit: RunningUnit, verb: str, target: str, value: str) -> None:
    unit.do(Asked(deed_of(unit.rig, verb, target, value, "SI")))


def test_only_what_has_changed_is_told() -> None:
    def between(rests: int) -> None:
        if rests == 1:
            _deed(heard.unit, "turn", "blower", "auto")
            heard.unit.turn()

    heard = Told(between)
    _run(heard.hear(lambda: heard.rests >= 4))
    first, second = heard.news
    assert {"bits", "lit", "selectors", "alarms", "devices", "shown", "standing"} <= set(first)
    assert second["selectors"]["blower"] == "auto"
    assert second["events"][0][3] == "turn blower to auto"
    assert not {"id", "alarms", "altered", "supplies", "speed", "state", "power"} & set(second)
    assert all("\n\n" in line and line.endswith("\n\n") for line in heard.lines)


def test_while_nothing_changes_there_is_a_sign_of_life_and_nothing_else() -> None:
    heard = Told()
    heard.unit.set_speed(0)
    _run(heard.hear(lambda: heard.at >= 3.5 * ALIVE_s))
    assert len(heard.news) == 1
    assert [line.partition("\n")[0] for line in heard.lines[2:]] == ["event: alive"] * 3


def test_a_stream_ends_by_itself_and_goes_on_where_it_was_heard_last() -> None:
    heard = Told(lambda _: heard.unit.turn())
    _run(heard.hear())
    assert heard.at == pytest.approx(LONGEST_s, abs=0.5)
    assert heard.units.streams == 0
    last = next(line for line in reversed(heard.lines) if line.startswith("id: "))
    cursor = Cursor.of(last.partition("\n")[0].removeprefix("id: "))
    assert cursor.points_ds / 10.0 == heard.news[-1]["points"]["rows"][-1][0]
    again = Told()
    again.unit, again.units = heard.unit, heard.units
    _run(again.hear(lambda: again.rests >= 1, cursor))
    rows = again.news[0]["points"]["rows"]  # what happened after the last message, and nothing that was heard already
    assert [row[0] for row in rows] == [cursor.points_ds / 10.0 + 1.0]
    assert all(event[0] > cursor.events for event in again.news[0].get("events", []))


def test_the_end_of_a_unit_is_told_and_ends_the_stream() -> None:
    heard = Told(lambda rests: heard.unit.end("it was ended") if rests == 2 else None)
    _run(heard.hear())
    assert heard.news[-1]["state"] == "ended"
    assert heard.rests == 2
    assert heard.units.streams == 0


def test_a_page_that_is_closed_leaves_no_stream_behind() -> None:
    heard = Told()

    async def closed() -> None:
        waits = asyncio.Event()

        async def rest(_: float) -> None:
            waits.set()
            await asyncio.Event().wait()

        async def listen() -> None:
            lines = told(heard.units, heard.unit, lambda unit: Teller(unit, "SI", Cursor()), lambda: False, rest=rest)
            async for line in lines:
                heard.lines.append(line)

        task = asyncio.create_task(listen())
        await waits.wait()
        assert heard.units.streams == 1
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task

    _run(closed())
    assert heard.units.streams == 0


def test_somebody_who_listens_keeps_the_unit_alive() -> None:
    heard = Told()
    pace = heard.unit._pace
    assert isinstance(pace, Still)
    pace.at = 200.0
    _run(heard.hear(lambda: heard.rests >= 1))
    pace.at = 400.0  # 400 s after it was begun, 200 s after it was looked at
    heard.unit.turn()
    assert heard.unit.state == "running"


@pytest.mark.parametrize("text", ["", "x", "1.2", "1.2.3.4", "1..2", "1e3.0.0", "٣.0.0.0", "9" * 70])
def test_what_is_no_id_is_a_beginning(text: str) -> None:
    assert Cursor.of(text) == Cursor()


def test_without_a_unit_that_is_said_at_once() -> None:
    async def hear() -> None:
        units = RunningUnits(1, Still(), threads=False)
        lines = [line async for line in told(units, None, lambda unit: Teller(unit, "SI", Cursor()), lambda: False)]
        assert lines == [stream.NONE]

    _run(hear())
