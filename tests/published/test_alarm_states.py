"""The alarm states of ANSI/ISA-18.2 and IEC 62682, transition by transition, typed in from memory."""

from __future__ import annotations

import pytest

from support import verifies
from vaporwright.controls.alarms import AlarmPanel, alarm_state
from vaporwright.controls.design import CauseAndEffect, Column, Row, Signal
from vaporwright.controls.expansion import expanded
from vaporwright.controls.expressions import Is
from vaporwright.controls.scan import ScanState, power_up, scanned

NAMES = ("cause", "silence", "acknowledge", "reset")
EVENTS = {  # what a scan brings: signals that are on
    "occurs": "cause",
    "acknowledged": "cause acknowledge",
    "returns": "",
    "acknowledged after return": "acknowledge",
    "reset": "reset",
}


def last_state(latched: bool, events: tuple[str, ...]) -> str:
    design = CauseAndEffect(
        "one alarm",
        0.1,
        tuple(Signal(name, name, "contact", "closed") for name in NAMES),
        (Column("stop", "stop", "contact"),),
        (Row("alarm", "alarm", Is("cause"), {"stop": "on"}, latched=latched, alarm="high"),),
        panel=AlarmPanel("silence", "acknowledge", "reset"),
    )
    table = expanded(design)
    state: ScanState = power_up(table)
    for event in events:
        signals = EVENTS[event].split()
        state = scanned(table, state, {name: name in signals for name in table.signals})
    return alarm_state(table.alarms[0], state.values)


@verifies("controls.alarms.alarm_state")
@pytest.mark.parametrize(
    ("latched", "events", "state"),
    [
        (False, ("occurs",), "unacknowledged active"),
        (False, ("occurs", "acknowledged"), "acknowledged active"),
        (False, ("occurs", "returns"), "returned to normal unacknowledged"),
        (False, ("occurs", "acknowledged", "returns"), "normal"),
        (False, ("occurs", "returns", "acknowledged after return"), "normal"),
        (False, ("occurs", "returns", "occurs"), "unacknowledged active"),
        (True, ("occurs", "acknowledged", "returns"), "latched acknowledged"),
        (True, ("occurs", "acknowledged", "returns", "reset"), "normal"),
        (True, ("occurs", "returns"), "latched unacknowledged"),
        (True, ("occurs", "returns", "acknowledged after return"), "latched acknowledged"),
    ],
)
def test_a_transition_of_the_diagram(latched: bool, events: tuple[str, ...], state: str) -> None:
    assert last_state(latched, events) == state
