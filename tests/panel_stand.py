"""A panel on loopback for tests of pages: a Modbus device in a thread of its own, and the register map of what it has.

The store of the test has instruments of the kinds that the map's channels ask for.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Coroutine, Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from typing import Any, TypeVar

from live_servers import ModbusStand
from vaporwright.acceptance.record.events import RegisterInstrument
from vaporwright.acceptance.steps.instruments import Instrument
from vaporwright.actions.desk import Desk
from vaporwright.store.record_store import RecordStore

Result = TypeVar("Result")
TANK, MASS, CLAMP = 4, 10, 14  # first registers
MAP = """# an invented panel
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
frozen_after = "never"
[[modbus.point]]
channel = "make_up_mass"
table = "holding"
address = 10
type = "uint32"
scale = 0.1
unit = "lb"
[[modbus.point]]
step = "set_points.clamp"
field = "clamp_K"
quantity = "temperature"
low = "32 degF"
high = "212 degF"
table = "holding"
address = 14
type = "float32"
unit = "degF"
"""


class Panel:
    """The device; its values are set from the test."""

    def __init__(self) -> None:
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever)
        self._thread.start()
        self._stand = ModbusStand()
        self.start()
        self.hold()

    def hold(self, tank: float = 143.2, mass: int = 1234, clamp: float = 150.0) -> None:
        """What it shows: degF, tenths of a pound, degF."""
        self._stand.hold(TANK, tank)
        self._stand.hold(MASS, mass, ">I")
        self._stand.hold(CLAMP, clamp)

    @property
    def map(self) -> str:
        """Its register map."""
        return MAP.format(port=self._stand.port)

    @property
    def connections(self) -> int:
        """How often somebody has connected, or left."""
        return self._stand.connections

    @property
    def address(self) -> str:
        """Where it is."""
        return f"modbus://127.0.0.1:{self._stand.port}"

    def start(self) -> None:
        """Answer, at the same port as before."""
        self._do(self._stand.start())

    def stop(self) -> None:
        """Be gone."""
        self._do(self._stand.stop())

    def close(self) -> None:
        """End the thread too."""
        self.stop()
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()
        self._loop.close()

    def _do(self, what: Coroutine[Any, Any, Result]) -> Result:
        return asyncio.run_coroutine_threadsafe(what, self._loop).result(10.0)


@contextmanager
def panel() -> Iterator[Panel]:
    """A panel that answers."""
    made = Panel()
    try:
        yield made
    finally:
        made.close()


def register_instruments(records: RecordStore, run: str) -> None:
    """A pair of thermometers P1 and a scale S1, for today."""
    desk = Desk(records, "Opener", "engineer")
    due = (date.today() + timedelta(days=200)).isoformat()
    for one in (
        Instrument("P1", "thermometer pair", "Pair", "C-1", due, expanded=0.11),
        Instrument("S1", "scale", "Scale", "C-2", due, expanded=0.05),
    ):
        desk.enter(run, RegisterInstrument(desk.stamp(), one))
