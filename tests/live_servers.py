"""Servers on loopback that tests of live readings start, stop and start again, on ports that the system picks."""

from __future__ import annotations

import asyncio
import struct
from collections.abc import Callable
from contextlib import suppress
from typing import Any

from pymodbus.server import ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

LOOPBACK = "127.0.0.1"


class ModbusStand:
    """A Modbus TCP device with 40 registers of each kind and 32 bits of each kind."""

    def __init__(self) -> None:
        self.registers: dict[int, int] = {}
        self.port = 0
        self.hangs = False
        self.connections = 0
        self._let_go = asyncio.Event()
        self._server: Any = None

    async def start(self) -> None:
        device = SimDevice(
            id=7,
            simdata=(
                [SimData(0, values=[False, True] * 16, datatype=DataType.BITS)],
                [SimData(0, values=[True, False] * 16, datatype=DataType.BITS)],
                [SimData(0, values=[0] * 40, datatype=DataType.REGISTERS)],
                [SimData(0, values=list(range(40)), datatype=DataType.REGISTERS)],
            ),
            action=self._act,
        )
        self._server = ModbusTcpServer(device, address=(LOOPBACK, self.port), trace_connect=self._count)
        await self._server.serve_forever(background=True)
        self.port = self._server.transport.sockets[0].getsockname()[1]

    async def stop(self) -> None:
        self._let_go.set()
        if self._server is not None:
            await self._server.shutdown()
            self._server = None

    def _count(self, connected: bool) -> None:
        self.connections += connected

    async def _act(self, function: int, start: int, address: int, count: int, registers: list[int], _: Any) -> None:
        if self.hangs:
            await self._let_go.wait()
        if function == 3:
            for place in range(address, address + count):
                registers[place - start] = self.registers.get(place, 0)

    def hold(self, address: int, number: float, kind: str = ">f", *, swapped: bool = False) -> None:
        """Put a number into holding registers, highest word first; swapped has the lowest first."""
        content = struct.pack(kind, number)
        words = [int.from_bytes(content[place : place + 2], "big") for place in range(0, len(content), 2)]
        for place, word in enumerate(reversed(words) if swapped else words):
            self.registers[address + place] = word


class Breaker:
    """A server that takes a connection, reads a request and breaks off, or answers with what it was given."""

    def __init__(self, answer: bytes = b"") -> None:
        self.answer = answer
        self.port = 0
        self._server: Any = None

    async def start(self) -> None:
        self._server = await asyncio.start_server(self._serve, LOOPBACK, 0)
        self.port = self._server.sockets[0].getsockname()[1]

    async def stop(self) -> None:
        self._server.close()
        await self._server.wait_closed()

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with suppress(OSError):
            await reader.read(12)
            writer.write(self.answer)
            await writer.drain()
            writer.close()
            await writer.wait_closed()


class OpcUaStand:
    """An OPC UA server with named variables of doubles."""

    def __init__(self) -> None:
        self.port = 0
        self._server: Any = None
        self._nodes: dict[str, Any] = {}

    async def start(self, **values: float | bool | str | list[float]) -> None:
        from asyncua import Server, ua

        self._server = Server()
        await self._server.init()
        self._server.set_endpoint(f"opc.tcp://{LOOPBACK}:{self.port}/stand")
        self._server.set_security_policy([ua.SecurityPolicyType.NoSecurity])
        space = await self._server.register_namespace("urn:stand")
        assert space == 2
        unit = await self._server.nodes.objects.add_object(space, "unit")
        for name, value in values.items():
            self._nodes[name] = await unit.add_variable(ua.NodeId(name, space), name, value)
        await self._server.start()
        self.port = self._server.bserver._server.sockets[0].getsockname()[1]

    async def stop(self) -> None:
        if self._server is not None:
            await self._server.stop()
            self._server = None

    async def put(self, name: str, value: float, stamp: Any = None, status: int = 0) -> None:
        """Write a value with a stamp of its source and a status."""
        from asyncua import ua

        variant = ua.Variant(value, ua.VariantType.Double)
        await self._nodes[name].write_value(ua.DataValue(variant, ua.StatusCode(status), SourceTimestamp=stamp))


class Clock:
    """A clock that a test turns."""

    def __init__(self) -> None:
        self.s = 0.0

    def __call__(self) -> float:
        return self.s

    def on(self, seconds: float) -> Callable[[], float]:
        self.s += seconds
        return self
