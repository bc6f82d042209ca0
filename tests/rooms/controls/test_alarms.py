"""Alarms and first-out. The transitions are those of ANSI/ISA-18.2 and IEC 62682, typed in from memory."""

from __future__ import annotations

import pytest

from vaporwright.controls.alarms import AlarmPanel, alarm_state
from vaporwright.controls.design import CauseAndEffect, Column, Row, Signal
from vaporwright.controls.expansion import expanded
from vaporwright.controls.expressions import Is, Not
from vaporwright.controls.scan import ScanState, power_up, scanned

NAMES = ("plain", "trip", "other", "silence", "acknowledge", "reset")
TABLE = expanded(
    CauseAndEffect(
        "alarms",
        0.1,
        tuple(Signal(name, name, "contact", "closed") for name in NAMES),
        (Column("stop", "stop", "contact"),),
        (
            Row("plain_alarm", "plain", Is("plain"), alarm="low", first_out="group"),
            Row("trip_alarm", "trip", Is("trip"), {"stop": "on"}, latched=True, alarm="high", first_out="group"),
            Row("other_alarm", "other", Not(Not(Is("other"))), alarm="low"),
        ),
        panel=AlarmPanel("silence", "acknowledge", "reset"),
    )
)
PLAIN, TRIP, _ = TABLE.alarms


def after(*scans: str) -> ScanState:
    """The state after scans with these signals on."""
    state = power_up(TABLE)
    for signals in scans:
        state = scanned(TABLE, state, {name: name in signals.split() for name in TABLE.signals})
    return state


@pytest.mark.parametrize(
    ("scans", "state"),
    [
        ("", "normal"),
        ("plain", "unacknowledged active"),
        ("plain, plain acknowledge", "acknowledged active"),
        ("plain,", "returned to normal unacknowledged"),
        ("plain, plain acknowledge,", "normal"),
        ("plain,,acknowledge", "normal"),
        ("plain,, plain", "unacknowledged active"),
        ("plain, plain acknowledge,, plain", "unacknowledged active"),
        ("plain acknowledge", "unacknowledged active"),  # a button pushed as it comes has not seen it
        ("acknowledge, plain acknowledge, plain acknowledge", "unacknowledged active"),  # nor has one held
        ("plain, plain reset", "unacknowledged active"),
        ("plain, plain silence", "unacknowledged active"),
    ],
)
def test_an_alarm_that_is_not_latched(scans: str, state: str) -> None:
    assert alarm_state(PLAIN, after(*scans.split(",")).values) == state


@pytest.mark.parametrize(
    ("scans", "state"),
    [
        ("trip", "unacknowledged active"),
        ("trip, trip acknowledge", "acknowledged active"),
        ("trip,", "latched unacknowledged"),
        ("trip, trip acknowledge,", "latched acknowledged"),
        ("trip,, acknowledge", "latched acknowledged"),
        ("trip,, acknowledge, reset", "normal"),
        ("trip,, reset", "latched unacknowledged"),  # reset comes after acknowledge
        ("trip, trip acknowledge, trip reset", "acknowledged active"),  # and after the cause is gone
        ("trip, trip acknowledge, trip reset, reset", "latched acknowledged"),  # a button held is not pushed again
        ("trip,, acknowledge, trip", "unacknowledged active"),
    ],
)
def test_a_latched_alarm(scans: str, state: str) -> None:
    values = after(*scans.split(",")).values
    assert alarm_state(TRIP, values) == state
    assert values["stop"] == (state != "normal")


def test_silence_stops_the_horn_until_the_next_alarm_and_the_beacon_stays() -> None:
    assert after("plain").values["horn"]
    silenced = after("plain", "plain silence", "plain").values
    assert (silenced["horn"], silenced["beacon"]) == (False, True)
    assert after("plain", "plain silence", "plain other").values["horn"]
    assert after("plain", "plain silence", "plain silence other", "plain silence other").values["horn"]  # held
    assert not after("plain", "plain acknowledge").values["horn"]
    assert after("plain", "plain acknowledge").values["beacon"]
    assert not after("plain", "plain acknowledge", "").values["beacon"]


@pytest.mark.parametrize(
    ("scans", "first"),
    [
        ("trip", "trip_alarm"),
        ("plain", "plain_alarm"),
        ("plain trip", "plain_alarm"),  # in one scan: the upper row
        ("trip, trip plain", "trip_alarm"),
        ("trip, plain", "trip_alarm"),
        ("trip, plain, plain acknowledge, plain reset", "trip_alarm"),  # the group is not clear yet
        ("trip, trip plain acknowledge, , reset", ""),
        ("trip, trip plain acknowledge, , reset, plain", "plain_alarm"),
    ],
)
def test_first_out_names_the_first_until_the_group_is_clear(scans: str, first: str) -> None:
    values = after(*scans.split(",")).values
    assert [row for latch, row in TABLE.first_out.items() if values[latch]] == ([first] if first else [])
