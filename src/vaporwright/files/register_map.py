"""What is read live, from where, and what it means: devices, and their points with scaling, unit and plausible range.

Only loopback and private addresses, unless a map allows public ones: a control panel does not belong on the internet,
and a reading from there is nobody's.
"""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

RegisterType: TypeAlias = Literal["bit", "int16", "uint16", "int32", "uint32", "float32", "float64"]
Table: TypeAlias = Literal["holding", "input", "coil", "discrete"]
Order: TypeAlias = Literal["big", "little"]
REGISTERS_OF: Final[dict[RegisterType, int]] = {
    "bit": 1,
    "int16": 1,
    "uint16": 1,
    "int32": 2,
    "uint32": 2,
    "float32": 2,
    "float64": 4,
}
TABLES: Final[tuple[Table, ...]] = ("holding", "input", "coil", "discrete")
ORDERS: Final[tuple[Order, ...]] = ("big", "little")


@dataclass(frozen=True)
class Meaning:
    """What a number that was read stands for: number in `unit` = read * scale + offset; SI = that * per_unit + at_zero.

    target: a channel of acceptance.run.log, or step and field with a "/" between them.
    """

    target: str
    quantity: str  # of display_units, or "yes or no"
    unit: str = ""
    per_unit: float = 1.0
    at_zero: float = 0.0
    scale: float = 1.0
    offset: float = 0.0
    low: float = float("-inf")  # plausible range [SI]; outside is no reading
    high: float = float("inf")
    total: bool = False
    frozen_after_s: float | None = None  # unchanged to the last bit for longer, it is stale; None: it may stand still

    def in_unit(self, read: float) -> float:
        """A number that was read, in the point's unit."""
        return read * self.scale + self.offset

    def si(self, read: float) -> float:
        """A number that was read, in SI."""
        return self.in_unit(read) * self.per_unit + self.at_zero

    def shown_limit(self, value_si: float) -> str:
        """A limit in the point's unit, for messages."""
        return f"{(value_si - self.at_zero) / self.per_unit:.6g} {self.unit}".rstrip()


@dataclass(frozen=True)
class ModbusPoint:
    """One value of a Modbus device."""

    meaning: Meaning
    table: Table
    address: int  # as it is sent, counted from 0
    type: RegisterType
    word_order: Order = "big"  # of the registers of a value: big has the highest first
    byte_order: Order = "big"  # in a register; big is the protocol's own
    bit: int = 0  # of a register, the lowest is 0


@dataclass(frozen=True)
class ModbusDevice:
    """A Modbus TCP device."""

    name: str
    host: str
    points: tuple[ModbusPoint, ...]
    port: int = 502
    device_id: int = 1
    timeout_s: float = 2.0
    allow_public: bool = False


@dataclass(frozen=True)
class OpcUaPoint:
    """One value of an OPC UA server."""

    meaning: Meaning
    node: str  # as text: ns=2;s=tank.temperature


@dataclass(frozen=True)
class OpcUaServer:
    """An OPC UA server, read without encryption and without a user: values only, nothing is ever written."""

    name: str
    host: str
    points: tuple[OpcUaPoint, ...]
    port: int = 4840
    path: str = ""
    timeout_s: float = 2.0
    stale_after_s: float = 60.0  # age of a value by the server's own stamp of its source
    allow_public: bool = False


Device: TypeAlias = ModbusDevice | OpcUaServer


@dataclass(frozen=True)
class RegisterMap:
    """Everything that is read live, at one interval."""

    poll_s: float
    devices: tuple[Device, ...]

    @property
    def meanings(self) -> tuple[Meaning, ...]:
        """What is read, in the order of the map."""
        return tuple(point.meaning for device in self.devices for point in device.points)


def is_address(host: str) -> bool:
    """Whether a host is an address and not a name."""
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True


def is_private_address(address: str) -> bool:
    """Whether an address is of this machine, or of a network that the internet does not route."""
    found = ipaddress.ip_address(address)
    mapped = found.ipv4_mapped if isinstance(found, ipaddress.IPv6Address) else None
    found = mapped or found
    if found.is_loopback or found.is_link_local:
        return True
    return found.is_private and not (found.is_unspecified or found.is_multicast or found.is_reserved)
