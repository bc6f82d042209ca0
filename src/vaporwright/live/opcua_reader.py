"""Reads the points of an OPC UA server, without encryption and without a user; only ever reads.

A value has a status and a stamp of its source: a bad status is a drop-out, an uncertain one or an old stamp is stale.
"""

from __future__ import annotations

import asyncio
import logging
from datetime import UTC, datetime
from typing import Any

from vaporwright.files.register_map import Meaning, OpcUaPoint, OpcUaServer
from vaporwright.live.addresses import PublicAddress, checked_address
from vaporwright.live.registers import shortest_single
from vaporwright.live.samples import RawSample

logging.getLogger("asyncua").addHandler(logging.NullHandler())  # what matters of it is the reason of a drop-out


class OpcUaReader:
    """An OPC UA server that is read."""

    def __init__(self, server: OpcUaServer) -> None:
        self._server = server
        self._client: Any = None

    @property
    def name(self) -> str:
        """What the server is called."""
        return self._server.name

    @property
    def meanings(self) -> tuple[Meaning, ...]:
        """What its points mean, in their order."""
        return tuple(point.meaning for point in self._server.points)

    async def read(self, now_s: float) -> tuple[RawSample, ...]:
        """A sample of each point."""
        fault = await self._connected()
        values: list[Any] = []
        if not fault:
            values, fault = await self._values()
        if fault:
            await self.close()
            return tuple(RawSample(None, fault) for _ in self._server.points)
        pairs = zip(self._server.points, values, strict=True)
        return tuple(self._sample(point, value, now_s) for point, value in pairs)

    async def close(self) -> None:
        """Close the connection, if there is one."""
        client, self._client = self._client, None
        if client is None:
            return
        try:
            async with asyncio.timeout(self._server.timeout_s):
                await client.disconnect()
        except Exception:
            client.disconnect_socket()  # a server that is gone cannot be told that one leaves

    async def _connected(self) -> str:
        """Connect where that has to be; why it could not be, if so."""
        if self._client is not None:
            return ""
        from asyncua import Client

        server = self._server
        try:
            async with asyncio.timeout(2.0 * server.timeout_s):
                host = await checked_address(server.host, server.port, allow_public=server.allow_public)
                place = f"[{host}]" if ":" in host else host
                url = f"opc.tcp://{place}:{server.port}/{server.path.lstrip('/')}"
                self._client = Client(url, timeout=server.timeout_s)
                await self._client.connect()
                return ""
        except PublicAddress as error:
            return str(error)
        except Exception as error:  # whatever a server, or what only looks like one, makes the library raise
            await self.close()
            return f"{server.name} cannot be reached ({_reason(error)})"

    async def _values(self) -> tuple[list[Any], str]:
        """Values of all points in one request, and the fault of the connection, if it was one."""
        from asyncua import ua

        parameters = ua.ReadParameters(
            NodesToRead=[
                ua.ReadValueId(NodeId=ua.NodeId.from_string(point.node), AttributeId=ua.AttributeIds.Value)
                for point in self._server.points
            ]
        )
        try:
            async with asyncio.timeout(self._server.timeout_s):
                values = await self._client.uaclient.read(parameters)
        except Exception as error:  # the same
            return [], f"{self._server.name} does not answer ({_reason(error)})"
        if len(values) != len(self._server.points):
            return [], f"{self._server.name} answers with {len(values)} values of {len(self._server.points)}"
        return list(values), ""

    def _sample(self, point: OpcUaPoint, value: Any, now_s: float) -> RawSample:
        status = value.StatusCode
        if status is not None and status.is_bad():
            return RawSample(None, f"{self._server.name} says {status.name}")
        number = None if value.Value is None else value.Value.Value
        if not isinstance(number, bool | int | float):
            return RawSample(None, f"{point.node} holds no number but {type(number).__name__}")
        if not isinstance(number, bool):
            number = _as_float(number)
            number = shortest_single(number) if value.Value.VariantType.name == "Float" else number
        if status is not None and status.is_uncertain():
            return RawSample(number, f"{self._server.name} says {status.name}", stale=True)
        age_s = _age_s(value.SourceTimestamp, now_s)
        if age_s is not None and abs(age_s) > self._server.stale_after_s:
            old = f"its stamp is {age_s:.0f} s old"
            ahead = f"its stamp lies {-age_s:.0f} s ahead of this clock, so that its age cannot be told"
            return RawSample(number, old if age_s > 0.0 else ahead, stale=True, age_s=age_s)
        return RawSample(number, age_s=age_s)


def _reason(error: Exception) -> str:
    return getattr(error, "strerror", None) or (
        "no answer in time" if isinstance(error, TimeoutError) else "broken off"
    )


def _as_float(number: float) -> float:
    try:
        return float(number)
    except OverflowError:  # an integer beyond every float
        return float("inf")


def _age_s(stamp: datetime | None, now_s: float) -> float | None:
    if stamp is None:
        return None
    aware = stamp if stamp.tzinfo else stamp.replace(tzinfo=UTC)
    return now_s - aware.timestamp()
