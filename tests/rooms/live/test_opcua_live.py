"""Live readings from a real OPC UA server: bad and uncertain status, old stamps, not a number, killed and restarted."""

from __future__ import annotations

import asyncio
import math
from collections.abc import Awaitable, Callable
from datetime import UTC, datetime, timedelta

import pytest

from live_servers import Breaker, Clock, OpcUaStand
from vaporwright.files.register_map_file import read_register_map_text
from vaporwright.live.live_log import LiveLog, readers_for
from vaporwright.live.samples import DROPPED_OUT, GOOD, IMPLAUSIBLE, STALE, LiveValue

TANK, ENERGY = "tank_temperature_K", "electric_energy_J"
MAP = """
poll = "1 s"
[[opcua]]
name = "heater"
host = "127.0.0.1"
port = {port}
path = "stand"
timeout = "1 s"
stale_after = "20 s"
[[opcua.point]]
channel = "tank_temperature"
node = "ns=2;s=tank"
unit = "degC"
[[opcua.point]]
channel = "electric_energy"
node = "ns=2;s=energy"
unit = "kWh"
[[opcua.point]]
channel = "room_temperature"
node = "ns=2;s=nobody"
unit = "degC"
[[opcua.point]]
step = "io.low_rod"
field = "seen"
quantity = "yes or no"
node = "ns=2;s=rod"
[[opcua.point]]
step = "io.list"
field = "value_K"
quantity = "temperature"
low = "0 degC"
high = "100 degC"
node = "ns=2;s=list"
unit = "degC"
"""
NOW = datetime(2026, 4, 30, 12, 0, tzinfo=UTC)
BAD_SENSOR, UNCERTAIN_LAST_VALUE = 0x808C0000, 0x40900000  # of the protocol's list of status codes
Story = Callable[[OpcUaStand, Clock, LiveLog], Awaitable[None]]


def told(story: Story) -> None:
    async def run() -> None:
        stand, clock = OpcUaStand(), Clock()
        await stand.start(tank=0.0, energy=0.0, rod=True, list=[1.0, 2.0])
        await stand.put("tank", 68.0, NOW)
        await stand.put("energy", 12.5, NOW)
        registers = read_register_map_text(MAP.format(port=stand.port), "map.toml")
        log = LiveLog(readers_for(registers), clock, lambda: NOW.timestamp() + clock.s)
        try:
            await story(stand, clock, log)
        finally:
            await log.close()
            await stand.stop()

    asyncio.run(run())


async def tank(log: LiveLog, clock: Clock) -> LiveValue:
    clock.on(1)
    return (await log.poll()).values[TANK]


@pytest.mark.slow
def test_values_statuses_and_stamps() -> None:
    async def story(stand: OpcUaStand, clock: Clock, log: LiveLog) -> None:
        values = (await log.poll()).values
        assert values[TANK].value == pytest.approx(341.15, abs=1e-9)
        assert values[ENERGY].value == pytest.approx(12.5 * 3.6e6)
        assert values["room_temperature_K"].quality == DROPPED_OUT
        assert "BadNodeIdUnknown" in values["room_temperature_K"].reason
        assert values["io.list/value_K"].reason == "ns=2;s=list holds no number but list"
        # the rod was written without a stamp of this test's day: its age cannot be told
        assert values["io.low_rod/seen"].quality == STALE

        await stand.put("tank", 68.5, NOW - timedelta(seconds=30))
        value = await tank(log, clock)
        assert (value.quality, value.value, value.seen) == (STALE, None, "68.5 degC")
        assert value.reason == "its stamp is 31 s old"

        await stand.put("tank", 68.5, NOW + timedelta(seconds=60))
        assert "ahead of this clock" in (await tank(log, clock)).reason

        await stand.put("tank", 68.5, NOW, UNCERTAIN_LAST_VALUE)
        value = await tank(log, clock)
        assert (value.quality, value.reason) == (STALE, "heater says UncertainLastUsableValue")

        await stand.put("tank", 68.5, NOW, BAD_SENSOR)
        value = await tank(log, clock)
        assert (value.quality, value.value, value.reason) == (DROPPED_OUT, None, "heater says BadSensorFailure")

        await stand.put("tank", math.nan, NOW)
        assert (await tank(log, clock)).quality == IMPLAUSIBLE
        await stand.put("tank", 500.0, NOW)
        assert (await tank(log, clock)).quality == IMPLAUSIBLE
        await stand.put("tank", 69.0, NOW)
        assert (await tank(log, clock)).quality == GOOD

    told(story)


@pytest.mark.slow
def test_a_server_that_dies_and_comes_back_leaves_a_gap_and_nothing_else() -> None:
    async def story(stand: OpcUaStand, clock: Clock, log: LiveLog) -> None:
        assert (await tank(log, clock)).quality == GOOD
        await stand.stop()
        assert (await tank(log, clock)).quality == DROPPED_OUT
        assert "heater cannot be reached" in (await tank(log, clock)).reason
        await stand.start(tank=0.0, energy=0.0, rod=True, list=[1.0, 2.0])
        await stand.put("tank", 70.0, NOW)
        value = await tank(log, clock)
        assert value.value == pytest.approx(343.15, abs=1e-9)
        assert log.run_log().columns[TANK] == (pytest.approx(341.15), None, None, pytest.approx(343.15))

    told(story)


@pytest.mark.parametrize("answer", [b"", b"HTTP/1.1 400 Bad Request\r\n\r\n", b"ACKF\x08\0\0\0", b"\xff" * 64])
def test_what_is_no_such_server_is_a_drop_out(answer: bytes) -> None:
    async def run() -> LiveValue:
        breaker, clock = Breaker(answer), Clock()
        await breaker.start()
        registers = read_register_map_text(MAP.format(port=breaker.port).replace('"1 s"', '"0.3 s"'), "map.toml")
        log = LiveLog(readers_for(registers), clock, clock)
        try:
            return (await log.poll()).values[TANK]
        finally:
            await log.close()
            await breaker.stop()

    value = asyncio.run(run())
    assert value.quality == DROPPED_OUT
    assert value.reason.startswith("heater cannot be reached")
