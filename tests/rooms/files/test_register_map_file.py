"""Register maps: scaling and units at the edge, private addresses, and the one clear message for each fault."""

from __future__ import annotations

import subprocess
import sys

import pytest

from vaporwright.files.register_map import ModbusDevice, OpcUaServer, RegisterMap, is_private_address
from vaporwright.files.register_map_file import read_register_map_text
from vaporwright.foundation.errors import InputError

MODBUS = """
poll = "5 s"
[[modbus]]
name = "panel"
host = "192.168.10.20"
[[modbus.point]]
channel = "tank_temperature"
table = "holding"
address = 100
type = "int16"
scale = 0.1
offset = -40
unit = "degF"
"""
OPCUA = """
[[opcua]]
name = "heater"
host = "heater.plant"
port = 4841
path = "unit/server"
stale_after = "90 s"
[[opcua.point]]
step = "electrical.heater"
field = "power_W"
quantity = "power"
low = "0 kW"
high = "200 kW"
node = "ns=2;s=heater.power"
unit = "kW"
"""


def read(text: str) -> RegisterMap:
    return read_register_map_text(text, "map.toml")


def test_a_map_of_both_kinds() -> None:
    found = read(MODBUS + OPCUA)
    assert found.poll_s == 5.0
    panel, heater = found.devices
    assert isinstance(panel, ModbusDevice)
    assert (panel.port, panel.device_id, panel.timeout_s) == (502, 1, 2.0)
    tank = panel.points[0].meaning
    # 1950 read is 1950 * 0.1 - 40 = 155 degF
    assert tank.in_unit(1950) == pytest.approx(155.0)
    assert tank.si(1950) == pytest.approx((155 + 459.67) / 1.8)
    assert (tank.low, tank.high, tank.total, tank.frozen_after_s) == (273.15, 373.15, False, 600.0)
    assert isinstance(heater, OpcUaServer)
    assert (heater.port, heater.path, heater.stale_after_s) == (4841, "unit/server", 90.0)
    power = heater.points[0].meaning
    assert (power.target, power.si(90.0), power.high) == ("electrical.heater/power_W", 90e3, 200e3)
    assert power.frozen_after_s is None


def test_a_range_may_be_narrowed_and_standing_still_allowed() -> None:
    text = MODBUS + 'low = "60 degF"\nhigh = "180 degF"\nfrozen_after = "never"\n'
    meaning = read(text).meanings[0]
    assert (meaning.low, meaning.high) == (pytest.approx((60 + 459.67) / 1.8), pytest.approx((180 + 459.67) / 1.8))
    assert meaning.frozen_after_s is None


@pytest.mark.parametrize(
    ("address", "private"),
    [
        ("127.0.0.1", True),
        ("10.1.2.3", True),
        ("172.16.0.9", True),
        ("172.32.0.9", False),
        ("192.168.1.1", True),
        ("169.254.9.9", True),
        ("8.8.8.8", False),
        ("0.0.0.0", False),
        ("224.0.0.1", False),
        ("255.255.255.255", False),
        ("::1", True),
        ("fd00::1", True),
        ("fe80::1", True),
        ("2600::1", False),
        ("::ffff:8.8.8.8", False),
        ("::ffff:10.0.0.1", True),
        ("::", False),
    ],
)
def test_private_addresses(address: str, private: bool) -> None:
    assert is_private_address(address) is private


def test_a_public_address_only_where_the_map_allows_it() -> None:
    public = MODBUS.replace("192.168.10.20", "8.8.8.8")
    with pytest.raises(InputError, match="is a public address"):
        read(public)
    device = read(public.replace('"8.8.8.8"', '"8.8.8.8"\nallow_public = true')).devices[0]
    assert (device.host, device.allow_public) == ("8.8.8.8", True)


POINT = "modbus 1, point 1: "


@pytest.mark.parametrize(
    ("old", "new", "key", "problem"),
    [
        ('"5 s"', '"5"', "poll", "has no unit"),
        ('"5 s"', '"0.01 s"', "poll", "is too low"),
        ('"192.168.10.20"', '"no host/"', "modbus 1: host", "is no address and no name"),
        ('"192.168.10.20"', '"a..b"', "modbus 1: host", "is no address and no name"),
        ('host = "192.168.10.20"', "", "modbus 1: host", "missing"),
        ("[[modbus]]", "[[modbuss]]", "modbuss", "nearest valid key: modbus"),
        ('"tank_temperature"', '"tank_temprature"', POINT + "channel", "nearest channel: tank_temperature"),
        ('channel = "tank_temperature"', 'step = "a.b"', POINT + "field", "missing"),
        (
            'channel = "tank_temperature"',
            'channel = "tank_temperature"\nstep = "a.b"',
            POINT + "step",
            "beside a channel",
        ),
        ('"holding"', '"holdings"', POINT + "table", 'did you mean "holding"'),
        ('"holding"', '"coil"', POINT + "type", "does not fit a coil"),
        ("address = 100", "address = 65536", POINT + "address", "is too high"),
        ("address = 100", "address = 1.5", POINT + "address", "is not a whole number"),
        ("address = 100", "address = -1", POINT + "address", "is too low"),
        ('address = 100\ntype = "int16"', 'address = 65535\ntype = "int32"', POINT + "address", "too high for int32"),
        ('"int16"', '"int15"', POINT + "type", "is not among the choices"),
        ('"int16"', '"int16"\nword_order = "little"', POINT + "word_order", "stands in one register"),
        ('"int16"', '"int16"\nbit = 3', POINT + "bit", "is for a bit"),
        ('"int16"', '"bit"', POINT + "bit", "which bit of the register"),
        ("scale = 0.1", "scale = 0", POINT + "scale", "is zero"),
        ('unit = "degF"', "", POINT + "unit", "missing"),
        ('unit = "degF"', 'unit = "F"', POINT + "unit", 'write "degF"'),
        ('unit = "degF"', 'unit = "psi"', POINT + "unit", "a temperature is meant here"),
        ('unit = "degF"', 'unit = "degF"\nlow = "200 degF"\nhigh = "100 degF"', POINT + "low", "is not below high"),
        ('unit = "degF"', 'unit = "degF"\nfrozen_after = "0 s"', POINT + "frozen_after", "is too low"),
    ],
)
def test_each_fault_names_device_point_and_key(old: str, new: str, key: str, problem: str) -> None:
    assert old in MODBUS
    with pytest.raises(InputError) as caught:
        read(MODBUS.replace(old, new))
    assert (caught.value.where, caught.value.key) == ("map.toml", key)
    assert problem in caught.value.problem


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        ('"ns=2;s=heater.power"', '"heater.power"', "is no node id"),
        ('"unit/server"', '"unit server"', "is no path"),
        ('low = "0 kW"', "", "missing: what is plausible"),
        ('"power"', '"powder"', "nearest valid quantity: power"),
        ('quantity = "power"', 'quantity = "yes or no"', "does not fit a bit"),
    ],
)
def test_each_fault_of_a_server(old: str, new: str, problem: str) -> None:
    with pytest.raises(InputError) as caught:
        read('poll = "1 s"\n' + OPCUA.replace(old, new))
    assert problem in caught.value.problem


def test_nothing_is_read_twice() -> None:
    with pytest.raises(InputError, match="tank_temperature_K: is read twice"):
        read(MODBUS + MODBUS[MODBUS.index("[[modbus.point]]") :])
    with pytest.raises(InputError, match="names no device"):
        read('poll = "1 s"')


def test_libraries_of_live_readings_are_imported_only_when_a_device_is_asked() -> None:
    code = (
        "import sys, vaporwright.files.register_map_file, vaporwright.files.readings_file, vaporwright.live.live_log,"
        "vaporwright.live.modbus_reader, vaporwright.live.opcua_reader;"
        "sys.exit(bool({'pymodbus', 'asyncua', 'pint', 'openpyxl'} & set(sys.modules)))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
