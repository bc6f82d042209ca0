"""Register maps: what is read live from Modbus TCP and OPC UA, as TOML.

    poll = "5 s"
    [[modbus]]
    name = "panel"
    host = "192.168.10.20"
    [[modbus.point]]
    channel = "tank_temperature"    or step, field and quantity
    table = "holding"
    address = 100                   as it is sent, counted from 0
    type = "float32"
    word_order = "little"
    unit = "degF"
    [[opcua]]
    name = "heater"
    host = "192.168.10.21"
    [[opcua.point]]
    channel = "electric_energy"
    node = "ns=2;s=heater.energy"
    unit = "kWh"

A number read becomes read * scale + offset in its unit. Nothing is ever written to a device.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from vaporwright.acceptance.run.log import CHANNELS, Channel
from vaporwright.acceptance.steps.procedure import YES_OR_NO
from vaporwright.display_units import QUANTITIES
from vaporwright.files.catalogue_keys import CatalogueKey
from vaporwright.files.catalogue_values import Place, one_value, values_of
from vaporwright.files.log_columns import stem
from vaporwright.files.quantities import NUMBER_QUANTITIES, unit_line
from vaporwright.files.register_map import (
    ORDERS,
    REGISTERS_OF,
    TABLES,
    Device,
    Meaning,
    ModbusDevice,
    ModbusPoint,
    OpcUaPoint,
    OpcUaServer,
    RegisterMap,
    is_address,
    is_private_address,
)
from vaporwright.files.values import parse_toml, read_toml, typed_text, unknown_key
from vaporwright.foundation.errors import InputError

NEVER: Final = "never"
USUAL_FROZEN_AFTER_s: Final = 600.0  # ten minutes; common practice, no source
_MAY_STAND_STILL: Final = frozenset(("barometer_Pa", "steam_gauge_Pa", "tracer_kg_m3", "stilling_level_m"))
MOST_POINTS: Final = 500
_SECTIONS: Final = ("modbus", "opcua")
_MAP_KEYS: Final = (CatalogueKey("poll", "delay", "How often everything is read", 0.2, 3600.0),)
_NETWORK_KEYS: Final = (
    CatalogueKey("name", "text", "What the device is called"),
    CatalogueKey("host", "text", "Its address, or its name on the plant's network"),
    CatalogueKey("port", "count", "TCP port", 1.0, 65535.0, optional=True),
    CatalogueKey("timeout", "delay", "How long an answer may take", 0.05, 60.0, optional=True),
    CatalogueKey("allow_public", "yes or no", "Whether it may have a public address", optional=True),
)
MODBUS_KEYS: Final = (
    *_NETWORK_KEYS,
    CatalogueKey("device_id", "count", "Unit identifier behind the address", 0.0, 255.0, optional=True),
)
OPCUA_KEYS: Final = (
    *_NETWORK_KEYS,
    CatalogueKey("path", "text", "Path of the endpoint, behind the port", optional=True),
    CatalogueKey("stale_after", "delay", "Age from which a value is stale, by its source's stamp", 1.0, 86400.0,
                 optional=True),
)  # fmt: skip
_MEANING_KEYS: Final = (
    CatalogueKey("channel", "text", "Channel of a run's log", optional=True),
    CatalogueKey("step", "text", "Step of the procedure, where it is no channel", optional=True),
    CatalogueKey("field", "text", "Field of that step", optional=True),
    CatalogueKey("quantity", "text", "Quantity of that field", optional=True),
    CatalogueKey("unit", "text", "Unit of the scaled number", optional=True),
    CatalogueKey("scale", "ratio", "What one step of the number read is in that unit", optional=True),
    CatalogueKey("offset", "ratio", "What a number read of zero is in that unit", optional=True),
)
_READ_APART: Final = ("low", "high", "frozen_after")
MODBUS_POINT_KEYS: Final = (
    *_MEANING_KEYS,
    CatalogueKey("table", "choice", "Where it stands", choices=TABLES),
    CatalogueKey("address", "count", "Its address as it is sent, counted from 0", 0.0, 65535.0),
    CatalogueKey("type", "choice", "How the number is stored", choices=tuple(REGISTERS_OF)),
    CatalogueKey("word_order", "choice", "Order of registers: big has the highest first", choices=ORDERS,
                 optional=True),
    CatalogueKey("byte_order", "choice", "Order of bytes in a register", choices=ORDERS, optional=True),
    CatalogueKey("bit", "count", "Bit of a register, the lowest is 0", 0.0, 15.0, optional=True),
)  # fmt: skip
OPCUA_POINT_KEYS: Final = (*_MEANING_KEYS, CatalogueKey("node", "text", "Node id, such as ns=2;s=tank.temperature"))
_NODE = re.compile(r"(?:ns=\d{1,5};)?(?:i=\d{1,10}|s=.{1,400}|g=[0-9A-Fa-f-]{36}|b=[A-Za-z0-9+/=]{1,400})")
_LABEL: Final = r"[A-Za-z0-9](?:[A-Za-z0-9-]{0,61}[A-Za-z0-9])?"
_HOST_NAME = re.compile(rf"(?=.{{1,253}}$){_LABEL}(?:\.{_LABEL})*", re.ASCII)
_PATH = re.compile(r"[A-Za-z0-9._~/-]{0,200}", re.ASCII)


def read_register_map(path: Path) -> RegisterMap:
    """The register map of a file.

    Raises: InputError naming file, device, point, key, the value as typed and what is allowed.
    """
    _, tables = read_toml(path)
    return _read(tables, str(path))


def read_register_map_text(text: str, where: str) -> RegisterMap:
    """The same of a text; `where` stands for the file in messages."""
    return _read(parse_toml(text, where), where)


def is_host_name(text: str) -> bool:
    """Whether a text can be the name of a machine."""
    return _HOST_NAME.fullmatch(text) is not None


def is_path(text: str) -> bool:
    """Whether a text can be the path of an endpoint."""
    return _PATH.fullmatch(text) is not None


def _read(tables: Mapping[str, Any], where: str) -> RegisterMap:
    poll_s = values_of(tables, _MAP_KEYS, Place(where, ""), _SECTIONS)["poll"]
    devices: list[Device] = [_modbus(entry, place) for entry, place in _entries(tables, "modbus", Place(where, ""))]
    devices += [_opcua(entry, place) for entry, place in _entries(tables, "opcua", Place(where, ""))]
    if not devices:
        raise InputError(where, "", "names no device", "at least one table [[modbus]] or [[opcua]]")
    found = RegisterMap(poll_s, tuple(devices))
    targets: set[str] = set()
    for meaning in found.meanings:
        if meaning.target in targets:
            raise InputError(where, meaning.target, "is read twice", "each channel or field from one point")
        targets.add(meaning.target)
    names = [device.name for device in devices]
    double = next((name for name in names if names.count(name) > 1), None)
    if double is not None:
        raise InputError(where, f"device {double}: name", "stands there twice", "names that differ")
    return found


def _entries(table: Mapping[str, Any], name: str, place: Place) -> list[tuple[Mapping[str, Any], Place]]:
    entries = table.get(name, [])
    allowed = f"tables [[{'modbus' if name == 'point' else name}{'.point' if name == 'point' else ''}]]"
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        raise place.error(name, f"{typed_text(entries)} is no list of tables", allowed)
    if len(entries) > MOST_POINTS:
        raise place.error(name, f"stands there {len(entries)} times", f"at most {MOST_POINTS}")
    label = f"{place.label}, " if place.label else ""
    return [(entry, Place(place.where, f"{label}{name} {number}")) for number, entry in enumerate(entries, 1)]


def _network(values: Mapping[str, Any], place: Place) -> dict[str, Any]:
    """What Modbus devices and OPC UA servers share."""
    host = values["host"].strip()
    allow_public = bool(values.get("allow_public"))
    if not is_address(host) and not is_host_name(host):
        raise place.error("host", f'"{host[:60]}" is no address and no name', "an address such as 192.168.10.20")
    if is_address(host) and not allow_public and not is_private_address(host):
        allowed = "a loopback or private address; else allow_public = true, at the shop's own risk"
        raise place.error("host", f'"{host}" is a public address', allowed)
    found: dict[str, Any] = {"name": values["name"], "host": host, "allow_public": allow_public}
    if "port" in values:
        found["port"] = int(values["port"])
    if "timeout" in values:
        found["timeout_s"] = values["timeout"]
    return found


def _points(entry: Mapping[str, Any], place: Place) -> list[tuple[Mapping[str, Any], Place]]:
    points = _entries(entry, "point", place)
    if not points:
        raise place.error("point", "missing", "at least one point")
    return points


def _modbus(entry: Mapping[str, Any], place: Place) -> ModbusDevice:
    values = values_of(entry, MODBUS_KEYS, place, ("point",))
    points = tuple(_modbus_point(point, at) for point, at in _points(entry, place))
    given = _network(values, place)
    if "device_id" in values:
        given["device_id"] = int(values["device_id"])
    return ModbusDevice(points=points, **given)


def _modbus_point(entry: Mapping[str, Any], place: Place) -> ModbusPoint:
    values = values_of(entry, MODBUS_POINT_KEYS, place, _READ_APART)
    table, kind, address = values["table"], values["type"], int(values["address"])
    if table in ("coil", "discrete") and kind != "bit":
        raise place.error("type", f'"{kind}" does not fit a {table}', '"bit"')
    if "bit" in values and (kind != "bit" or table in ("coil", "discrete")):
        raise place.error("bit", "is for a bit in a register", "no such key here")
    if kind == "bit" and table in ("holding", "input") and "bit" not in values:
        raise place.error("bit", "missing: which bit of the register", "0 to 15, the lowest is 0")
    if "word_order" in values and REGISTERS_OF[kind] == 1:
        raise place.error("word_order", f'"{kind}" stands in one register', "no such key here")
    if address + REGISTERS_OF[kind] > 65536:
        raise place.error("address", f'"{entry["address"]}" is too high for {kind}', "an end at 65535")
    orders = {key: values[key] for key in ("word_order", "byte_order") if key in values}
    meaning = _meaning(entry, values, place, is_bit=kind == "bit")
    return ModbusPoint(meaning, table, address, kind, bit=int(values.get("bit", 0)), **orders)


def _opcua(entry: Mapping[str, Any], place: Place) -> OpcUaServer:
    values = values_of(entry, OPCUA_KEYS, place, ("point",))
    points = []
    for point, at in _points(entry, place):
        read = values_of(point, OPCUA_POINT_KEYS, at, _READ_APART)
        if not _NODE.fullmatch(read["node"]):
            raise at.error("node", f'"{read["node"][:60]}" is no node id', '"ns=2;s=tank.temperature" or "ns=2;i=17"')
        is_bit = "channel" not in read and read.get("quantity") == YES_OR_NO
        points.append(OpcUaPoint(_meaning(point, read, at, is_bit=is_bit), read["node"]))
    given = _network(values, place)
    if "path" in values:
        if not is_path(values["path"]):
            raise place.error("path", f'"{values["path"][:60]}" is no path', "letters, digits and / . _ ~ -")
        given["path"] = values["path"]
    if "stale_after" in values:
        given["stale_after_s"] = values["stale_after"]
    return OpcUaServer(points=tuple(points), **given)


def _meaning(entry: Mapping[str, Any], values: Mapping[str, Any], place: Place, *, is_bit: bool) -> Meaning:
    target, quantity, channel = _target(values, place)
    if is_bit != (quantity == YES_OR_NO):
        raise place.error("type", f"does not fit {target}: {quantity}", '"bit" for yes or no, a number for the rest')
    if is_bit:
        for key in ("unit", "scale", "offset", *_READ_APART):
            if key in entry:
                raise place.error(key, "does not fit a bit", "no such key here")
        return Meaning(target, quantity)
    unit = values.get("unit", "")
    if not unit and "" not in NUMBER_QUANTITIES.get(quantity, {}):
        raise place.error("unit", f"missing: {target} has none of its own", "the unit of the scaled number")
    per_unit, at_zero = unit_line(unit, quantity, where=place.where, key=place.key("unit"))
    scale = values.get("scale", 1.0)
    if scale == 0.0:
        raise place.error("scale", "is zero", "a number other than 0; negative where the number falls")
    low, high = _plausible(entry, quantity, channel, place)
    return Meaning(
        target, quantity, unit, per_unit, at_zero, scale, values.get("offset", 0.0), low, high,
        channel is not None and channel.total, _frozen_after_s(entry, channel, place),
    )  # fmt: skip


def _target(values: Mapping[str, Any], place: Place) -> tuple[str, str, Channel | None]:
    """What a point is read for, its quantity, and the channel where it is one."""
    if "channel" in values:
        for key in ("step", "field", "quantity"):
            if key in values:
                raise place.error(key, "stands beside a channel", "channel, or step, field and quantity")
        by_name = {spelling: channel for channel in CHANNELS for spelling in (channel.name, stem(channel.name))}
        name = values["channel"]
        if name not in by_name:
            near = unknown_key(place.where, name, [stem(channel.name) for channel in CHANNELS])
            problem = near.problem.replace("unknown key", "unknown").replace("valid key", "channel")
            raise place.error("channel", f'"{name[:60]}" is {problem}', near.allowed)
        channel = by_name[name]
        return channel.name, channel.quantity, channel
    for key in ("step", "field", "quantity"):
        if not values.get(key):
            raise place.error(key, "missing", "a channel; or step, field and quantity")
    quantity = values["quantity"]
    if quantity != YES_OR_NO and quantity not in QUANTITIES:
        near = unknown_key(place.where, quantity, (*QUANTITIES, YES_OR_NO))
        raise place.error(
            "quantity", f'"{quantity[:60]}": {near.problem}'.replace("key", "quantity"), near.allowed[:200]
        )
    return f"{values['step']}/{values['field']}", quantity, None


def _plausible(entry: Mapping[str, Any], quantity: str, channel: Channel | None, place: Place) -> tuple[float, float]:
    """The plausible range: the channel's own, narrowed by the map; a field of a step must have one in the map."""
    widest = (-math.inf, math.inf) if channel is None else (channel.low, channel.high)
    limits = []
    for key, open_end in zip(("low", "high"), widest, strict=True):
        if key in entry:
            least, most = (None, None) if channel is None else widest
            declared = CatalogueKey(key, quantity, "plausible limit", least, most)
            limits.append(float(one_value(entry[key], declared, place, key)))
        elif channel is None:
            raise place.error(key, "missing: what is plausible for this field", "the limits low and high")
        else:
            limits.append(open_end)
    if not limits[0] < limits[1]:
        raise place.error("low", "is not below high", "low below high")
    return limits[0], limits[1]


def _frozen_after_s(entry: Mapping[str, Any], channel: Channel | None, place: Place) -> float | None:
    raw = entry.get("frozen_after")
    if raw is None:
        moves = channel is not None and not channel.total and channel.name not in _MAY_STAND_STILL
        return USUAL_FROZEN_AFTER_s if moves else None
    if raw == NEVER:
        return None
    declared = CatalogueKey("frozen_after", "delay", "Unchanged for longer, it is stale", 1.0, 86400.0)
    return float(one_value(raw, declared, place, "frozen_after"))
