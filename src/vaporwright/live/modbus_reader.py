"""Reads the points of a Modbus TCP device; only ever reads.

Every value is one request, so that the registers of a number belong together. Where the device does not answer, the
connection is closed and tried again at the next reading: the values between are drop-outs, with the reason.
"""

from __future__ import annotations

import asyncio
import logging
from typing import Any, Final

from vaporwright.files.register_map import REGISTERS_OF, Meaning, ModbusDevice, ModbusPoint
from vaporwright.live.addresses import PublicAddress, checked_address
from vaporwright.live.registers import number_in, other_orders
from vaporwright.live.samples import RawSample

logging.getLogger("pymodbus").addHandler(logging.NullHandler())  # what matters of it is the reason of a drop-out
# What a device says instead of a value, in the protocol's numbers.
_ANSWERS: Final = {
    1: "it does not know this kind of request",
    2: "it has no such address",
    3: "it does not take this request",
    4: "it has failed",
    5: "it is busy for long",
    6: "it is busy",
    10: "the gateway has no path to it",
    11: "the gateway hears nothing from it",
}
_METHODS: Final = {
    "holding": "read_holding_registers",
    "input": "read_input_registers",
    "coil": "read_coils",
    "discrete": "read_discrete_inputs",
}


class ModbusReader:
    """A Modbus TCP device that is read."""

    def __init__(self, device: ModbusDevice) -> None:
        self._device = device
        self._client: Any = None

    @property
    def name(self) -> str:
        """What the device is called."""
        return self._device.name

    @property
    def meanings(self) -> tuple[Meaning, ...]:
        """What its points mean, in their order."""
        return tuple(point.meaning for point in self._device.points)

    async def read(self, now_s: float) -> tuple[RawSample, ...]:  # noqa: ARG002  the protocol has no stamps
        """A sample of each point."""
        fault = await self._connected()
        samples: list[RawSample] = []
        for point in self._device.points:
            sample, fault = (RawSample(None, fault), fault) if fault else await self._sample(point)
            samples.append(sample)
        if fault:
            await self.close()
        return tuple(samples)

    async def close(self) -> None:
        """Close the connection, if there is one."""
        client, self._client = self._client, None
        if client is not None:
            client.close()

    async def _connected(self) -> str:
        """Connect where that has to be; why it could not be, if so."""
        if self._client is not None and self._client.connected:
            return ""
        await self.close()
        from pymodbus.client import AsyncModbusTcpClient

        device = self._device
        try:
            async with asyncio.timeout(device.timeout_s):
                host = await checked_address(device.host, device.port, allow_public=device.allow_public)
                self._client = AsyncModbusTcpClient(
                    host, port=device.port, timeout=device.timeout_s, retries=0, reconnect_delay=0
                )
                if await self._client.connect():
                    return ""
        except PublicAddress as error:
            return str(error)
        except OSError as error:  # TimeoutError is one
            await self.close()
            return f"{device.name} cannot be reached ({error.strerror or 'no answer in time'})"
        await self.close()
        return f"{device.name} cannot be reached"

    async def _sample(self, point: ModbusPoint) -> tuple[RawSample, str]:
        """A sample, and the fault of the connection, if it was one: the points after it are not asked any more."""
        count = REGISTERS_OF[point.type]
        ask = getattr(self._client, _METHODS[point.table])
        try:
            async with asyncio.timeout(self._device.timeout_s):
                answer = await ask(point.address, count=count, device_id=self._device.device_id)
        except asyncio.CancelledError:
            if _is_cancelled():
                raise
            return self._unanswered()  # the library cancels its own waiting when a connection breaks
        except Exception:  # whatever a device, or what only looks like one, makes the library raise
            return self._unanswered()
        if answer.isError():
            code = getattr(answer, "exception_code", 0)
            return RawSample(None, f"{self._device.name}: {_ANSWERS.get(code, f'answer {code}')}"), ""
        return _decoded(answer, point, count), ""

    def _unanswered(self) -> tuple[RawSample, str]:
        fault = f"{self._device.name} does not answer"
        return RawSample(None, fault), fault


def _is_cancelled() -> bool:
    """Whether this very task is being cancelled."""
    task = asyncio.current_task()
    return task is not None and task.cancelling() > 0


def _decoded(answer: Any, point: ModbusPoint, count: int) -> RawSample:
    if point.table in ("coil", "discrete"):
        bits = list(answer.bits)
        return RawSample(bool(bits[0])) if bits else RawSample(None, "the answer is too short")
    registers = tuple(answer.registers)
    if len(registers) != count:
        return RawSample(None, f"the answer has {len(registers)} registers, not {count}")
    if point.type == "bit":
        word = int.from_bytes(registers[0].to_bytes(2, point.byte_order), "big")
        return RawSample(bool(word >> point.bit & 1))
    number = number_in(registers, point.type, point.word_order, point.byte_order)
    return RawSample(number, others=other_orders(registers, point))
