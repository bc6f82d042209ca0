"""A device that is silent is left alone for longer and longer, and nothing from before is repeated meanwhile."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, field

import pytest

from live_servers import Clock
from vaporwright.files.register_map import Meaning
from vaporwright.live.patient_reader import PatientReader
from vaporwright.live.samples import RawSample

MEANINGS = (Meaning("tank_temperature_K", "temperature", "K"), Meaning("barometer_Pa", "absolute pressure", "Pa"))


@dataclass
class Device:
    """Answers while `numbers` are there."""

    numbers: tuple[float | None, ...] = (300.0, 1.0e5)
    asked_at: list[float] = field(default_factory=list)
    clock: Clock = field(default_factory=Clock)
    name: str = "panel"
    meanings: tuple[Meaning, ...] = MEANINGS

    async def read(self, now_s: float) -> tuple[RawSample, ...]:  # noqa: ARG002
        self.asked_at.append(self.clock.s)
        return tuple(RawSample(one, "" if one is not None else "panel does not answer") for one in self.numbers)

    async def close(self) -> None:
        return None


def polled(device: Device, reader: PatientReader, until_s: float) -> list[tuple[RawSample, ...]]:
    found = []
    while device.clock.s < until_s:
        found.append(asyncio.run(reader.read(device.clock.s)))
        device.clock.on(1.0)
    return found


def test_pauses_grow_to_a_minute_and_end_with_the_first_answer() -> None:
    device = Device((None, None))
    reader = PatientReader(device, 5.0, device.clock)
    silent = polled(device, reader, 300.0)
    assert device.asked_at == [0.0, 5.0, 15.0, 35.0, 75.0, 135.0, 195.0, 255.0]
    assert all(sample.number is None for samples in silent for sample in samples)
    assert reader.fault == "panel does not answer"
    device.numbers = (301.0, 1.0e5)
    polled(device, reader, 316.0)
    assert device.asked_at[8:] == [315.0]
    assert reader.fault == ""
    assert asyncio.run(reader.read(0.0))[0].number == 301.0


def test_a_device_that_answers_in_part_is_asked_each_time() -> None:
    device = Device((None, 1.0e5))
    reader = PatientReader(device, 5.0, device.clock)
    polled(device, reader, 10.0)
    assert len(device.asked_at) == 10
    assert reader.fault == ""


@pytest.mark.parametrize(("interval_s", "longest_s"), [(1.0, 60.0), (600.0, 600.0)])
def test_no_pause_is_longer_than_a_minute_or_one_interval(interval_s: float, longest_s: float) -> None:
    device = Device((None, None))
    reader = PatientReader(device, interval_s, device.clock)
    for _ in range(3000):  # a panel that is gone for two days
        asyncio.run(reader.read(0.0))
        device.clock.s = max(reader.again_s, device.clock.s)
    pauses = [after - before for before, after in zip(device.asked_at, device.asked_at[1:], strict=False)]
    assert max(pauses) == longest_s
