"""What a running unit leaves behind for whoever looks: a view of it, its events, its alarms, points of its trends."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, NamedTuple

from vaporwright.controls.alarms import AlarmState
from vaporwright.controls.table import Table


class Event(NamedTuple):
    """One line of the event list."""

    number: int
    time_s: float
    kind: Literal["deed", "input", "row", "effect", "device", "alarm", "seen", "trainer"]
    name: str
    text: str
    on: bool | None


class Point(NamedTuple):
    """One point of the trends, in SI."""

    time_s: float
    temperature_K: float
    level_m: float
    heat_W: float
    evaporation_kg_s: float


class AlarmLine(NamedTuple):
    """An alarm in a state other than normal, or back to it."""

    row: str
    state: AlarmState
    since_s: float


@dataclass(frozen=True)
class View:
    """The unit as it stood after a scan."""

    time_s: float
    bits: str  # of table.names, a 0 or 1 each
    alarms: tuple[AlarmLine, ...]
    figures: Mapping[str, float]  # SI
    phase: str
    selectors: Mapping[str, str]
    pushed: tuple[str, ...]
    power: bool
    supplies: Mapping[str, str]  # as set here; those that are not named are on
    altered: tuple[tuple[str, str], ...]  # what is not in order, as done here, with words; not what a task planted


def kinds_of_events(table: Table) -> dict[int, Literal["input", "row", "effect"]]:
    """Which names of the table make an event: signals, rows, outputs; never timers and latches behind them."""
    found: dict[int, Literal["input", "row", "effect"]] = {}
    behind = ("_delay", "_cause", "_unacknowledged", "_first", "_held", "_sounding")
    for index, name in enumerate(table.names):
        if name in table.signals:
            found[index] = "input"
        elif name in table.outputs:
            found[index] = "effect"
        elif not name.endswith(behind) and name in table.labels:
            found[index] = "row"
    return found
