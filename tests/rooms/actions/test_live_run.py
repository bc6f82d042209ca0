"""A panel read into a record: an hour with a line lost for ten minutes, by both protocols; what the record refuses."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

import pytest

from floor_shop import RUN, open_invented
from live_servers import Clock, ModbusStand, OpcUaStand
from panel_stand import MAP, register_instruments
from vaporwright.acceptance.record.events import AppendLogRows
from vaporwright.acceptance.record.state import RunState
from vaporwright.actions.desk import Desk
from vaporwright.actions.job_book import JobBook
from vaporwright.actions.live_run import LiveRun
from vaporwright.files.register_map_file import read_register_map_text
from vaporwright.foundation.errors import InputError, OutOfRange
from vaporwright.live.live_log import LiveRow
from vaporwright.live.patient_reader import LONGEST_PAUSE_s
from vaporwright.store.database import Database
from vaporwright.store.job_store import JobStore

TANK, MASS = "tank_temperature_K", "make_up_mass_kg"
EVERY_s = 10.0
LOST_s, BACK_s, END_s = 1200.0, 1800.0, 3600.0
FROZEN = MAP.replace('frozen_after = "never"', 'frozen_after = "60 s"')
OPC_UA_MAP = """
poll = "5 s"
[[opcua]]
name = "heater"
host = "127.0.0.1"
port = {port}
path = "stand"
timeout = "0.5 s"
stale_after = "1 h"
[[opcua.point]]
channel = "tank_temperature"
node = "ns=2;s=tank"
unit = "degC"
frozen_after = "never"
"""
STAMP = datetime(2026, 4, 30, 12, 0, tzinfo=UTC)


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    with closing(Database(str(tmp_path / "shop.db"))) as database:
        book = JobBook(JobStore(database), database.records, time.time)
        job = book.start("Invented", "Invented Plating", "26 gal/h", by="test").id
        open_invented(database.records, book, job)
        register_instruments(database.records, RUN)
        yield Desk(database.records, "Pat", "technician")


def live_run(desk: Desk, text: str, clock: Clock, port: int, begun_at: str = "") -> LiveRun:
    registers = read_register_map_text(text.format(port=port), "map.toml")
    begun_at = begun_at or desk.clock()
    return LiveRun(desk, RUN, registers, begun_at, EVERY_s, {}, clock, lambda: STAMP.timestamp() + clock.s)


def check_hour(state: RunState) -> None:
    """Every reading once, nothing of the ten minutes, one empty row where they begin, the same after them."""
    log = state.log
    assert log is not None
    column = log.columns[TANK]
    assert len(set(log.times_s)) == len(log.times_s)
    empty = [place for place, value in enumerate(column) if value is None]
    assert len(empty) == 1
    before, after = log.times_s[: empty[0]], log.times_s[empty[0] + 1 :]
    assert before == pytest.approx([EVERY_s * place for place in range(len(before))], abs=1.0)
    assert len(before) == LOST_s / EVERY_s + 1
    # it is asked again after pauses that grow to a minute, so that it is found again within one
    assert BACK_s <= after[0] + 1.0
    assert after[0] <= BACK_s + LONGEST_PAUSE_s + 1.0
    assert len(after) == pytest.approx((END_s - after[0]) / EVERY_s, abs=1.5)
    assert {part.mark.who for part in state.log_parts} == {"Pat"}


@pytest.mark.slow
def test_an_hour_of_modbus_with_a_lost_line(desk: Desk) -> None:
    stand, clock, asked = ModbusStand(), Clock(), []

    async def story() -> None:
        await stand.start()
        stand.hold(4, 140.0)
        stand.hold(10, 0, ">I")
        stand.hold(14, 150.0)
        run = live_run(desk, MAP, clock, stand.port)

        def seen(row: LiveRow) -> None:
            if run.devices[0].fault:
                asked.append(clock.s)
            run.enter_until(row)

        async def sleep(seconds: float) -> None:
            before_s = clock.s
            clock.on(max(seconds, 0.001))
            stand.hold(4, 140.0 + clock.s / 1000.0)
            stand.hold(10, round(clock.s), ">I")
            if before_s <= LOST_s < clock.s:
                await stand.stop()
            if before_s < BACK_s <= clock.s:
                await stand.start()

        await run.follow(lambda: clock.s >= END_s, seen, sleep)
        await stand.stop()
        run.enter()

    asyncio.run(story())
    check_hour(desk.state(RUN))
    pauses = [after - before for before, after in pairwise(asked)]
    assert pauses == pytest.approx([10.0, 20.0, 40.0] + [60.0] * (len(pauses) - 3), abs=0.1)
    log = desk.state(RUN).log
    assert log is not None
    tenths = [round(value / 0.45359237 * 10.0) for value in log.columns[MASS] if value is not None]
    assert tenths == sorted(tenths)


@pytest.mark.slow
def test_an_hour_of_opc_ua_with_a_lost_line(desk: Desk) -> None:
    stand, clock, entered = OpcUaStand(), Clock(), list[int]()

    async def story() -> None:
        await stand.start(tank=0.0)
        await stand.put("tank", 60.0, STAMP)
        run = live_run(desk, OPC_UA_MAP, clock, stand.port)

        async def sleep(seconds: float) -> None:
            before_s = clock.s
            clock.on(max(seconds, 0.001))
            if before_s <= LOST_s < clock.s:
                await stand.stop()
            if before_s < BACK_s <= clock.s:
                await stand.start(tank=0.0)
            if not LOST_s < clock.s < BACK_s:
                await stand.put("tank", 60.0 + clock.s / 1000.0, STAMP)

        await run.follow(lambda: clock.s >= END_s, lambda row: entered.append(run.enter_until(row)), sleep)
        await stand.stop()
        run.enter()

    asyncio.run(story())
    check_hour(desk.state(RUN))


def test_rows_wait_until_it_is_known_that_nothing_stood_still(desk: Desk) -> None:
    stand, clock, entered = ModbusStand(), Clock(), []

    async def story() -> None:
        await stand.start()
        stand.hold(14, 150.0)
        run = live_run(desk, FROZEN, clock, stand.port)

        def seen(row: LiveRow) -> None:
            entered.append((clock.s, run.enter_until(row), run.waiting))

        async def sleep(seconds: float) -> None:
            clock.on(seconds)
            stand.hold(4, 140.0 + min(clock.s, 100.0) / 1000.0)  # stands still from 100 s on

        stand.hold(4, 139.0)
        await run.follow(lambda: clock.s >= 200.0, seen, sleep)
        await stand.stop()
        run.enter()

    asyncio.run(story())
    assert [count for at_s, count, _ in entered if at_s <= 60.0] == [0] * 7
    assert [waiting for at_s, _, waiting in entered if at_s == 60.0] == [7]
    log = desk.state(RUN).log
    assert log is not None
    column = dict(zip(log.times_s, log.columns[TANK], strict=True))
    first_s = log.times_s[0]
    assert all((value is not None) == (at_s - first_s <= 100.0) for at_s, value in column.items())
    assert len(log.columns[MASS]) == 20  # 0 to 190 s; a total may stand still
    assert None not in log.columns[MASS]


def test_what_the_record_refuses_waits_and_goes_in_later(desk: Desk) -> None:
    stand, clock, told = ModbusStand(), Clock(), []

    async def story() -> None:
        await stand.start()
        for address, number in ((4, 140.0), (14, 150.0)):
            stand.hold(address, number)
        run = live_run(desk, MAP, clock, stand.port)
        run.instruments = {TANK: "Z9"}  # registered only later

        def seen(row: LiveRow) -> None:
            try:
                run.enter_until(row)
            except InputError as error:
                told.append(error.problem)

        async def sleep(seconds: float) -> None:
            clock.on(seconds)
            if clock.s == 40.0:
                run.instruments = {TANK: "P1"}

        await run.follow(lambda: clock.s >= 80.0, seen, sleep)
        await stand.stop()

    asyncio.run(story())
    assert len(told) == 4
    log = desk.state(RUN).log
    assert log is not None
    assert len(log.times_s) == 8  # all of them, those that waited too


def test_a_row_that_comes_before_the_record_s_last_is_not_counted_as_entered(desk: Desk) -> None:
    begun = desk.clock()
    ahead = AppendLogRows(desk.stamp(), begun, (3000.0,), {TANK: (330.0,)}, {TANK: "P1"}, "typed")
    desk.enter(RUN, ahead)
    stand, clock, entered = ModbusStand(), Clock(), []

    async def story() -> None:
        await stand.start()
        stand.hold(4, 140.0)
        run = live_run(desk, MAP, clock, stand.port, begun)

        async def sleep(seconds: float) -> None:
            clock.on(seconds)

        await run.follow(lambda: clock.s >= 40.0, lambda row: entered.append(run.enter_until(row)), sleep)
        await stand.stop()

    asyncio.run(story())
    assert entered == [0, 0, 0, 0]
    assert len(desk.state(RUN).log_parts) == 1


@pytest.mark.parametrize("every_s", [0.1, 4000.0, float("nan")])
def test_an_interval_that_makes_no_sense_is_refused(desk: Desk, every_s: float) -> None:
    registers = read_register_map_text(MAP.format(port=1), "map.toml")
    with pytest.raises(OutOfRange):
        LiveRun(desk, RUN, registers, desk.clock(), every_s, {})
