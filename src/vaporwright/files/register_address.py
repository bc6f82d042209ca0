"""The address of a panel as somebody types it, in place of the one in a register map.

modbus://192.168.10.20:502      opc.tcp://panel.plant:4840/path
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final
from urllib.parse import urlsplit

from vaporwright.files.register_map import (
    Device,
    ModbusDevice,
    OpcUaServer,
    RegisterMap,
    is_address,
    is_private_address,
)
from vaporwright.files.register_map_file import is_host_name, is_path
from vaporwright.foundation.errors import InputError

MODBUS: Final = "modbus"
OPC_UA: Final = "opc.tcp"
ALLOWED: Final = "modbus://HOST:PORT or opc.tcp://HOST:PORT/PATH, such as modbus://192.168.10.20:502"
WHERE: Final = "address of the panel"


def with_address(registers: RegisterMap, text: str) -> RegisterMap:
    """A map whose one device of the address's protocol is at that address; an empty text leaves the map as it is.

    Raises: InputError for another scheme, a public address, what is no address, or a map that has not exactly one
        device of that protocol.
    """
    text = text.strip()
    if not text:
        return registers
    scheme, host, port, path = _parts(text)
    kind: type[Device] = ModbusDevice if scheme == MODBUS else OpcUaServer
    meant = [device for device in registers.devices if isinstance(device, kind)]
    if len(meant) != 1:
        problem = f"{text!r} could be of {len(meant)} devices of the register map"
        raise InputError(WHERE, "", problem, "an empty box, and the addresses in the map itself")
    moved = _moved(meant[0], host, port, path)
    return replace(registers, devices=tuple(moved if one is meant[0] else one for one in registers.devices))


def require_private(registers: RegisterMap, where: str) -> None:
    """Raise InputError where a map allows public addresses: a server must not be sent into the internet by a file."""
    for device in registers.devices:
        if device.allow_public:
            allowed = "a loopback or private address; a public one only with the command, at the shop's own risk"
            raise InputError(where, f"device {device.name}: allow_public", '"true"', allowed)


def address_of(device: Device) -> str:
    """Where a device is, as it would be typed."""
    host = f"[{device.host}]" if ":" in device.host else device.host
    if isinstance(device, ModbusDevice):
        return f"{MODBUS}://{host}:{device.port}"
    return f"{OPC_UA}://{host}:{device.port}" + (f"/{device.path.lstrip('/')}" if device.path else "")


def _moved(device: Device, host: str, port: int | None, path: str) -> Device:
    if isinstance(device, OpcUaServer):
        path = path.lstrip("/") or device.path
        return replace(device, host=host, port=port or device.port, path=path, allow_public=False)
    return replace(device, host=host, port=port or device.port, allow_public=False)


def _parts(text: str) -> tuple[str, str, int | None, str]:
    """Scheme, host, port and path."""
    shown = f'"{text[:80]}"'
    try:
        parts = urlsplit(text)
        host, port = parts.hostname or "", parts.port
    except ValueError:
        raise InputError(WHERE, "", f"{shown} is no address", ALLOWED) from None
    if parts.scheme not in (MODBUS, OPC_UA):
        raise InputError(WHERE, "", f"{shown} is none of the two protocols", ALLOWED)
    is_plain = not (parts.query or parts.fragment or "@" in parts.netloc) and text.isprintable() and port != 0
    if not is_plain or not (is_address(host) or is_host_name(host)):
        raise InputError(WHERE, "", f"{shown} is no address", ALLOWED)
    if (parts.scheme == MODBUS and parts.path not in ("", "/")) or not is_path(parts.path):
        raise InputError(WHERE, "", f"{shown} has a path that is none", ALLOWED)
    if is_address(host) and not is_private_address(host):
        raise InputError(WHERE, "", f"{shown} is a public address", "a loopback or private address")
    return parts.scheme, host, port, parts.path
