"""Live readings from a real Modbus TCP server: killed, restarted, hung, frozen, in the wrong order, not a number."""

from __future__ import annotations

import asyncio
import math
import struct
from collections.abc import Awaitable, Callable

import pytest

from live_servers import Breaker, Clock, ModbusStand
from vaporwright.acceptance.run.log import RunLog
from vaporwright.files.register_map import Meaning
from vaporwright.files.register_map_file import read_register_map_text
from vaporwright.foundation.errors import InputError
from vaporwright.live.judging import judged
from vaporwright.live.live_log import LiveLog, LiveRow, readers_for
from vaporwright.live.samples import DROPPED_OUT, GOOD, IMPLAUSIBLE, STALE, WRONG_ORDER, RawSample

TANK, MASS, LOW_ROD = "tank_temperature_K", "make_up_mass_kg", "io.low_rod/seen"
MAP = """
poll = "1 s"
[[modbus]]
name = "panel"
host = "127.0.0.1"
port = {port}
device_id = 7
timeout = "0.25 s"
[[modbus.point]]
channel = "tank_temperature"
table = "holding"
address = 4
type = "float32"
unit = "degF"
frozen_after = "30 s"
[[modbus.point]]
channel = "make_up_mass"
table = "holding"
address = 10
type = "uint32"
scale = 0.1
unit = "lb"
[[modbus.point]]
step = "io.low_rod"
field = "seen"
quantity = "yes or no"
table = "coil"
address = 1
type = "bit"
"""
POUND = 0.45359237
Story = Callable[[ModbusStand, Clock, LiveLog], Awaitable[None]]


def told(story: Story, text: str = MAP) -> LiveLog:
    """Run a story with a device, a clock and a log; everything is closed afterwards."""

    async def run() -> LiveLog:
        stand, clock = ModbusStand(), Clock()
        await stand.start()
        stand.hold(4, 155.3)
        stand.hold(10, 1234, ">I")
        log = LiveLog(readers_for(read_register_map_text(text.format(port=stand.port), "map.toml")), clock, clock)
        try:
            await story(stand, clock, log)
        finally:
            await log.close()
            await stand.stop()
        return log

    return asyncio.run(run())


def qualities(log: LiveLog, target: str) -> list[str]:
    return [row.values[target].quality for row in log.rows]


def test_values_are_scaled_and_in_si() -> None:
    async def story(_: ModbusStand, __: Clock, log: LiveLog) -> None:
        values = (await log.poll()).values
        assert values[TANK].value == pytest.approx((155.3 + 459.67) / 1.8, abs=1e-9)
        assert values[TANK].seen == "155.3 degF"
        assert values[MASS].value == pytest.approx(123.4 * POUND, rel=1e-12)
        reading = values[LOW_ROD].reading("")
        assert (reading.step, reading.field, reading.value, reading.way) == ("io.low_rod", "seen", True, "live")

    told(story)


def test_a_device_that_dies_and_comes_back_leaves_a_gap_and_nothing_else() -> None:
    async def story(stand: ModbusStand, clock: Clock, log: LiveLog) -> None:
        await log.poll()
        await stand.stop()
        clock.on(1)
        await log.poll()
        clock.on(1)
        await log.poll()
        await stand.start()
        stand.hold(4, 156.0)
        clock.on(1)
        await log.poll()

    log = told(story)
    assert qualities(log, TANK) == [GOOD, DROPPED_OUT, DROPPED_OUT, GOOD]
    assert qualities(log, LOW_ROD) == [GOOD, DROPPED_OUT, DROPPED_OUT, GOOD]
    assert log.rows[2].values[TANK].reason == "panel cannot be reached"
    found = log.run_log()
    assert isinstance(found, RunLog)
    assert found.times_s == (0.0, 1.0, 2.0, 3.0)
    assert found.columns[TANK][1:3] == (None, None)
    assert found.columns[TANK][3] == pytest.approx((156.0 + 459.67) / 1.8, abs=1e-9)
    assert LOW_ROD not in found.columns


def test_a_device_that_hangs_is_given_up_in_time_and_asked_again() -> None:
    async def story(stand: ModbusStand, clock: Clock, log: LiveLog) -> None:
        await log.poll()
        stand.hangs = True
        clock.on(1)
        began = asyncio.get_running_loop().time()
        row = await log.poll()
        assert asyncio.get_running_loop().time() - began < 2.0
        assert row.values[TANK].reason == "panel does not answer"
        assert row.values[MASS].quality == DROPPED_OUT  # not asked any more, and no value from before
        stand.hangs = False
        clock.on(1)
        assert (await log.poll()).values[TANK].quality == GOOD
        assert stand.connections == 2  # a connection whose other end may be gone is not used again

    told(story)


@pytest.mark.parametrize("number", [155.3, 155.0, 128.0, 68.25])
def test_swapped_words_are_named_and_never_swapped(number: float) -> None:
    async def story(stand: ModbusStand, _: Clock, log: LiveLog) -> None:
        stand.hold(4, number, swapped=True)
        value = (await log.poll()).values[TANK]
        assert value.quality == WRONG_ORDER
        assert value.value is None
        assert f'plausible would be {number:g} degF with word_order = "little"' in value.reason
        with pytest.raises(InputError, match="suspected wrong byte order"):
            value.reading()

    assert told(story).run_log().columns[TANK] == (None,)


def test_the_named_order_reads_the_same_registers_right() -> None:
    async def story(stand: ModbusStand, _: Clock, log: LiveLog) -> None:
        stand.hold(4, 155.3, swapped=True)
        assert (await log.poll()).values[TANK].seen == "155.3 degF"

    told(story, MAP.replace('type = "float32"', 'type = "float32"\nword_order = "little"'))


@pytest.mark.parametrize(
    ("content", "quality"),
    [(math.nan, IMPLAUSIBLE), (math.inf, IMPLAUSIBLE), (2000.0, IMPLAUSIBLE), (-500.0, IMPLAUSIBLE), (70.0, GOOD)],
)
def test_what_cannot_be_is_no_reading(content: float, quality: str) -> None:
    async def story(stand: ModbusStand, _: Clock, log: LiveLog) -> None:
        stand.hold(4, content)
        value = (await log.poll()).values[TANK]
        assert value.quality == quality
        assert (value.value is None) == (quality != GOOD)

    told(story)


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf, 1e308])
def test_no_reading_is_infinite_even_where_everything_is_plausible(number: float) -> None:
    value = judged(RawSample(number), Meaning("a.b/c", "mass", "lb", POUND, scale=100.0))
    assert (value.quality, value.value) == (IMPLAUSIBLE, None)


def test_a_value_that_stands_still_is_stale_and_so_is_the_stretch_since_it_stopped() -> None:
    async def story(stand: ModbusStand, clock: Clock, log: LiveLog) -> None:
        for step in range(6):
            stand.hold(4, 150.0 + min(step, 1))
            stand.hold(10, 1234, ">I")
            await log.poll()
            clock.on(10)
        stand.hold(4, 152.0)
        await log.poll()

    log = told(story)
    # it moved last at 10 s; at 50 s it has stood still for more than 30 s, and what came after 10 s is doubtful
    assert qualities(log, TANK) == [GOOD, GOOD, STALE, STALE, STALE, STALE, GOOD]
    assert log.rows[5].values[TANK].reason == "unchanged to the last bit for 40 s"
    assert log.run_log().columns[TANK][2:6] == (None,) * 4
    assert set(qualities(log, MASS)) == {GOOD}  # a total may stand still


def test_a_total_that_falls_is_implausible_and_does_not_end_the_log() -> None:
    async def story(stand: ModbusStand, clock: Clock, log: LiveLog) -> None:
        for count in (1234, 1240, 3, 1250):
            stand.hold(10, count, ">I")
            await log.poll()
            clock.on(1)

    log = told(story)
    assert qualities(log, MASS) == [GOOD, GOOD, IMPLAUSIBLE, GOOD]
    assert "fallen from 124 lb" in log.rows[2].values[MASS].reason
    assert log.run_log().columns[MASS][2] is None


def test_an_address_that_the_device_does_not_have_is_one_point_s_fault() -> None:
    async def story(_: ModbusStand, __: Clock, log: LiveLog) -> None:
        values = (await log.poll()).values
        assert values[TANK].quality == DROPPED_OUT
        assert values[TANK].reason == "panel: it has no such address"
        assert values[MASS].quality == GOOD

    told(story, MAP.replace("address = 4", "address = 400"))


def test_a_wrong_device_id_is_said() -> None:
    async def story(_: ModbusStand, __: Clock, log: LiveLog) -> None:
        assert {value.quality for value in (await log.poll()).values.values()} == {DROPPED_OUT}

    told(story, MAP.replace("device_id = 7", "device_id = 9"))


@pytest.mark.parametrize(
    ("kind", "packed", "number"),
    [
        ("int16", ">h", -40.0),
        ("uint16", ">H", 155.0),
        ("int32", ">i", -40.0),
        ("uint32", ">I", 155.0),
        ("float32", ">f", 155.3),
        ("float64", ">d", 155.3),
    ],
)
def test_every_type_is_read_from_its_registers(kind: str, packed: str, number: float) -> None:
    async def story(stand: ModbusStand, _: Clock, log: LiveLog) -> None:
        stand.hold(4, number if packed in (">f", ">d") else int(number), packed)
        value = (await log.poll()).values["a.b/c"]
        assert value.value == pytest.approx((number + 459.67) / 1.8, abs=1e-9)

    text = MAP[: MAP.index("[[modbus.point]]")] + (
        '[[modbus.point]]\nstep = "a.b"\nfield = "c"\nquantity = "temperature"\nlow = "-50 degF"\nhigh = "300 degF"\n'
        f'table = "holding"\naddress = 4\ntype = "{kind}"\nunit = "degF"\n'
    )
    told(story, text)


@pytest.mark.parametrize(
    ("table", "address", "bit", "value"),
    [
        ("coil", 0, None, False),
        ("coil", 1, None, True),
        ("discrete", 0, None, True),
        ("discrete", 1, None, False),
        ("input", 5, 0, True),  # input registers hold their own address
        ("input", 5, 1, False),
        ("input", 5, 2, True),
    ],
)
def test_every_table_has_its_bits(table: str, address: int, bit: int | None, value: bool) -> None:
    async def story(_: ModbusStand, __: Clock, log: LiveLog) -> None:
        assert (await log.poll()).values["a.b/c"].value is value

    text = MAP[: MAP.index("[[modbus.point]]")] + (
        '[[modbus.point]]\nstep = "a.b"\nfield = "c"\nquantity = "yes or no"\n'
        f'table = "{table}"\naddress = {address}\ntype = "bit"\n' + ("" if bit is None else f"bit = {bit}\n")
    )
    told(story, text)


@pytest.mark.parametrize("answer", [b"", b"HTTP/1.1 400 Bad Request\r\n\r\n", b"\0\1\0\0\0\x03\x07\x03"])
def test_what_is_no_such_device_is_a_drop_out(answer: bytes) -> None:
    async def run() -> LiveRow:
        breaker, clock = Breaker(answer), Clock()
        await breaker.start()
        log = LiveLog(readers_for(read_register_map_text(MAP.format(port=breaker.port), "map.toml")), clock, clock)
        try:
            return await log.poll()
        finally:
            await log.close()
            await breaker.stop()

    assert {value.quality for value in asyncio.run(run()).values.values()} == {DROPPED_OUT}


def test_a_name_that_leads_to_a_public_address_is_not_connected(monkeypatch: pytest.MonkeyPatch) -> None:
    async def story(stand: ModbusStand, _: Clock, log: LiveLog) -> None:
        async def leads_out(*_: object, **__: object) -> list[tuple[object, ...]]:
            return [(2, 1, 6, "", ("8.8.4.4", stand.port))]

        monkeypatch.setattr(asyncio.get_running_loop(), "getaddrinfo", leads_out)
        value = (await log.poll()).values[TANK]
        assert value.quality == DROPPED_OUT
        assert "public address" in value.reason

    told(story, MAP.replace('"127.0.0.1"', '"panel.plant"'))


def test_the_log_follows_the_clock_and_closes_its_readers() -> None:
    async def story(_: ModbusStand, clock: Clock, log: LiveLog) -> None:
        slept: list[float] = []

        async def sleep(seconds: float) -> None:
            slept.append(seconds)
            clock.on(seconds)

        await log.follow(5.0, lambda: len(slept) >= 3, sleep)
        assert slept == [5.0, 5.0, 5.0]

    assert [row.time_s for row in told(story).rows] == [0.0, 5.0, 10.0]


def test_a_clock_that_stands_still_is_refused() -> None:
    async def story(_: ModbusStand, __: Clock, log: LiveLog) -> None:
        await log.poll()
        with pytest.raises(InputError, match="a clock that only rises"):
            await log.poll()

    told(story)


def test_a_float_so_small_that_it_passes_for_zero_is_what_swapped_words_look_like() -> None:
    swapped = struct.unpack(">f", bytes((0, 0, 0x43, 0x1B)))[0]  # 155 is 431B 0000
    assert 0.0 < swapped < 1e-40
