"""Alarms and first-out: macros that become latches and effects before the table runs.

The states are those of ANSI/ISA-18.2 and IEC 62682 (from memory): normal, unacknowledged active, acknowledged active,
returned to normal unacknowledged, and for a latched alarm latched unacknowledged and latched acknowledged. Shelving,
suppression and out-of-service are not offered: a unit this small has no operator's station to keep account of them.

As the trade does it, silence is no acknowledgement: silence stops the horn and nothing else, until the next alarm
comes. Acknowledge says "seen". Reset clears what is latched, once its cause is gone and it has been acknowledged.
All three act in the scan in which the button goes down, so that a button held or welded can't do it again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from vaporwright.controls.expressions import FALSE, TRUE, Any, Expr, Is, Not, Was, both, either, pressed
from vaporwright.controls.table import Alarm, Effect, Latch
from vaporwright.foundation.register import sourced

AlarmState = Literal[
    "normal",
    "unacknowledged active",
    "acknowledged active",
    "returned to normal unacknowledged",
    "latched unacknowledged",
    "latched acknowledged",
]


@dataclass(frozen=True)
class AlarmPanel:
    """The buttons, and the names of the two effects that tell people: the horn, and the beacon that stays."""

    silence: str
    acknowledge: str
    reset: str
    horn: str = "horn"
    beacon: str = "beacon"

    @property
    def horn_memory(self) -> str:
        """The latch behind the horn."""
        return f"{self.horn}_sounding"


@sourced("alarm-states", "state transition diagram; latched alarms")
def alarm_state(alarm: Alarm, values: Mapping[str, bool]) -> AlarmState:
    """The ISA-18.2 state of an alarm after a scan."""
    unacknowledged = values[alarm.unacknowledged]
    if values[alarm.active]:
        return "unacknowledged active" if unacknowledged else "acknowledged active"
    if alarm.latched is not None and values[alarm.latched]:
        return "latched unacknowledged" if unacknowledged else "latched acknowledged"
    return "returned to normal unacknowledged" if unacknowledged else "normal"


def alarm_latches(panel: AlarmPanel, alarms: Sequence[Alarm]) -> tuple[Latch, ...]:
    """One latch an alarm that keeps it unacknowledged, then the horn's."""
    unacknowledged = tuple(
        Latch(alarm.unacknowledged, pressed(alarm.active), pressed(panel.acknowledge), set_wins=True)
        for alarm in alarms
    )
    nothing_to_tell = Not(Any(tuple(Is(alarm.unacknowledged) for alarm in alarms)))
    horn = Latch(
        panel.horn_memory,
        set=Any(tuple(pressed(alarm.active) for alarm in alarms)),
        reset=either(pressed(panel.silence), nothing_to_tell),
        set_wins=True,  # a new alarm sounds although someone leans on the button
    )
    return (*unacknowledged, horn)


def alarm_effects(panel: AlarmPanel, alarms: Sequence[Alarm]) -> tuple[Effect, ...]:
    """The horn, and the beacon: on while any alarm is in any state but normal."""
    items = [item for alarm in alarms for item in (alarm.active, alarm.unacknowledged, alarm.latched) if item]
    return (
        Effect(panel.horn, Is(panel.horn_memory), FALSE),
        Effect(panel.beacon, Any(tuple(Is(item) for item in items)), FALSE),
    )


def first_out_latches(names: Mapping[str, str]) -> tuple[Latch, ...]:
    """One latch a row: it came first in its group. Of rows in one scan the upper one is named.

    The record stands until every row of the group is clear, so a later row never takes its place.
    Args: names: latch to row, in order of the rows.
    """
    rows = tuple(names.values())
    recorded = Any(tuple(Was(latch) for latch in names))
    clear: Expr = Not(Any(tuple(Is(row) for row in rows)))
    return tuple(
        Latch(latch, both(Is(row), Not(recorded), Not(Any(tuple(Is(above) for above in rows[:place])))), clear, False)
        for place, (latch, row) in enumerate(names.items())
    )


def copied(name: str, value: Expr) -> Latch:
    """A latch that keeps nothing: a condition with a name among the latches, for rows that depend on latches."""
    return Latch(name, value, TRUE, set_wins=True)
