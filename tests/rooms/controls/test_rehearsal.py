"""A rehearsal's lists and verdicts, on scripts made for one question each; and what a script may not ask of a unit."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from example_rigs import example_rig, library, script
from vaporwright.controls.rehearsal import Rehearsal, rehearse
from vaporwright.controls.script import QUANTITIES
from vaporwright.controls.verdicts import Timeline, Verdict
from vaporwright.foundation.errors import InputError, OutOfRange


def played(
    text: str, *, duration: str = "2 min", opening: bool = True, head: str = "", every_s: float = 60.0
) -> Rehearsal:
    rig = example_rig("electric")
    return rehearse(script(text, duration=duration, opening=opening, head=head), rig, trace_interval_s=every_s)


def expected(line: str, *, duration: str = "2 min", opening: bool = True, head: str = "") -> Verdict:
    """The verdict on one expectation of a start: run and blower at 5 s, pump at 18.4 s, heat at 36.7 s."""
    lines = "\n".join(part.strip() for part in line.split(";"))
    found = played(f'[[expect]]\nwhy = "a test"\n{lines}', duration=duration, opening=opening, head=head)
    return found.verdicts[0]


@pytest.mark.parametrize(
    ("line", "met", "time_s"),
    [
        ('that = "run"; is = "on"; at = "5 s"', True, 5.0),
        ('that = "run"; is = "on"; at = "4.9 s"', False, 4.9),
        ('that = "run"; is = "off"; at = "4.9 s"', True, 4.9),
        ('that = "run"; is = "on"; within = "5 s"', True, 5.0),
        ('that = "run"; is = "on"; within = "4.9 s"', False, 4.9),
        ('that = "run"; is = "off"; to = "5 s"', True, 4.9),
        ('that = "run"; is = "off"; to = "5.1 s"', False, 5.0),
        ('that = "run"; is = "off"; for = "4.9 s"', True, 4.9),
        ('that = "run"; is = "off"; for = "5 s"', False, 5.0),
        ('that = "run"; is = "on"; from = "5 s"', True, 119.9),
        ('that = "run"; is = "on"; from = "4.9 s"', False, 4.9),
        ('that = "blower"; is = "on"; when = "start on"; within = "0 s"', True, 5.0),
        ('that = "spray_pump"; is = "on"; when = "blower on"; within = "airflow_proving + 3.4 s"', True, 18.4),
        ('that = "spray_pump"; is = "on"; when = "blower on"; within = "airflow_proving + 3.3 s"', False, 18.3),
        ('that = "spray_pump"; is = "off"; when = "blower on"; for = "airflow_proving + 3.3 s"', True, 18.3),
        ('that = "blower"; is = "on"; whilst = "spray_pump on"', True, 119.9),
        ('that = "blower"; is = "off"; whilst = "run off"', True, 119.9),
        ('that = "spray_pump"; is = "on"; whilst = "blower on"', False, 5.0),
        ('count = "start"; least = 1; most = 1', True, 120.0),
        ('count = "start"; least = 2', False, 120.0),
        ('count = "start"; most = 0; from = "6 s"', True, 120.0),
    ],
)
def test_a_verdict_on_a_name_is_exact_to_a_scan(line: str, met: bool, time_s: float) -> None:
    verdict = expected(line)
    assert verdict.met == met
    assert verdict.time_s == pytest.approx(time_s)


@pytest.mark.parametrize(
    ("line", "note"),
    [
        ('that = "run"; is = "on"; when = "horn on"', "never came about: horn on"),
        ('that = "run"; is = "on"; when = ["run on", "run off"]; within = "1 s"', "never came about: run off"),
        ('that = "run"; is = "on"; whilst = "horn on"', "never came about: horn on"),
        ('that = "run"; is = "on"; when = "heat on"; for = "100 s"', "its span ends after the script"),
        ('quantity = "level"; least = "low"; whilst = "horn on"', "never came about: horn on"),
    ],
)
def test_an_expectation_whose_time_never_comes_is_not_met(line: str, note: str) -> None:
    verdict = expected(line)
    assert not verdict.met
    assert verdict.note == note


@pytest.mark.parametrize(
    ("line", "met"),
    [
        ('quantity = "heat_load"; least = 1.0; from = "40 s"', True),
        ('quantity = "heat_load"; least = 1.0; from = "30 s"', False),
        ('quantity = "heat_load"; most = 0.0; to = "36 s"', True),
        ('quantity = "heat_load"; most = 0.0; to = "38 s"', False),
        ('quantity = "heat_load"; least = 0.99; within = "38 s"', True),
        ('quantity = "heat_load"; least = 0.99; within = "35 s"', False),
        ('quantity = "heat_load"; least = 1.0; at = "60 s"', True),
        ('quantity = "heat_load"; least = 1.0; whilst = "contactor_closed on"', True),
        ('quantity = "tank_temperature"; least = "settling - 1 degF"; most = "settling + 1 degF"; to = "20 s"', True),
        ('quantity = "level"; least = "refill-off - 0.01 in"; to = "10 s"', True),
        ('quantity = "level"; least = "refill-off + 1 in"; to = "10 s"', False),
        ('quantity = "heat"; least = "95 % of rate"; most = "105 % of rate"; from = "60 s"', True),
        ('quantity = "heat"; least = "95 % of rate"; from = "0 s"', False),  # the mean, from the very start
        ('quantity = "refilled"; most = "0 gal"', True),
        ('quantity = "overflowed"; most = "0 gal"; from = "10 s"; to = "1 min"', True),
        ('quantity = "heater_bare"; most = "0 s"', True),
        ('quantity = "spray_share"; most = 0.0; when = "run on"; for = "13 s"', True),
        ('that = "run"; is = "on"; when = "heat_load above 0.5"; within = "0 s"', True),
    ],
)
def test_a_verdict_on_a_quantity(line: str, met: bool) -> None:
    assert expected(line).met == met


def test_a_verdict_says_what_was_found() -> None:
    assert expected('that = "run"; is = "on"; at = "1 s"').found is False
    assert expected('count = "start"; least = 3').found == 1.0
    assert expected('alarm = "low_level"; is = "normal"').found == "normal"
    verdict = expected('quantity = "heat_load"; most = 0.5; at = "60 s"')
    assert (verdict.found, verdict.time_s) == (1.0, 60.0)


PUMP_TRIPS = """
[[event]]
at = "60 s"
fail = { pump_overload = "tripped" }
[[event]]
at = "70 s"
push = "silence"
[[event]]
at = "80 s"
push = "acknowledge"
[[event]]
at = "85 s"
push = "reset"
[[event]]
at = "90 s"
fail = { pump_overload = "sound" }
[[event]]
at = "100 s"
push = "reset"
"""


def test_the_alarm_list_goes_through_its_states_and_first_out_names_the_row() -> None:
    found = played(PUMP_TRIPS)
    states = [(entry.time_s, entry.state) for entry in found.alarms if entry.row == "pump_overload"]
    assert states == [
        (60.0, "unacknowledged active"),
        (80.0, "acknowledged active"),
        (90.0, "latched acknowledged"),
        (100.0, "normal"),
    ]
    assert found.first_out == ((60.0, "pump_overload"),)
    horn = [(entry.time_s, entry.on) for entry in found.entries if entry.name == "horn"]
    assert horn == [(60.0, True), (70.0, False)]


@pytest.mark.parametrize(
    ("line", "met"),
    [
        ('alarm = "pump_overload"; is = "latched acknowledged"; at = "95 s"', True),
        ('alarm = "pump_overload"; is = "normal"; at = "95 s"', False),
        ('alarm = "pump_overload"; is = "normal"; to = "60 s"', True),
        ('alarm = "pump_overload"; is = "acknowledged active"; from = "60 s"; within = "20 s"', True),
        ('alarm = "pump_overload"; is = "acknowledged active"; from = "60 s"; within = "19.9 s"', False),
        ('first_out = "pump_overload"; from = "60 s"; to = "100 s"', True),
        ('first_out = "pump_overload"; from = "60 s"', False),
        ('first_out = "airflow_lost"; at = "70 s"', False),
    ],
)
def test_verdicts_on_alarms_and_first_out(line: str, met: bool) -> None:
    lines = line.replace("; ", "\n")
    assert played(f'{PUMP_TRIPS}\n[[expect]]\nwhy = "a test"\n{lines}').verdicts[0].met == met


def test_the_event_list_is_in_order_and_in_words() -> None:
    found = played('[[event]]\nat = "50 s"\nset_point = "set point - 2 degF"')
    times = [entry.time_s for entry in found.entries]
    assert times == sorted(times)
    deeds = [(entry.time_s, entry.text) for entry in found.entries if entry.kind == "deed"]
    assert (5.0, "push start") in deeds
    assert (5.5, "pull start") in deeds
    assert (50.0, "set point set point - 2 degF") in deeds
    assert any(entry.kind == "device" and entry.text == "heating" for entry in found.entries)
    blower = next(entry for entry in found.entries if entry.name == "blower")
    assert (blower.kind, blower.text, blower.on, blower.time_s) == ("effect", "blower", True, 5.0)


def test_the_trace_has_every_quantity_and_effect_at_its_interval() -> None:
    found = played("", every_s=10.0)
    assert found.trace.time_s == tuple(10.0 * place for place in range(13))
    assert set(found.trace.quantities) == set(QUANTITIES)
    assert all(len(values) == 13 for values in found.trace.quantities.values())
    assert found.trace.effects["blower"] == (False, *(True,) * 12)
    rig = example_rig("electric")
    assert found.trace.quantities["evaporation"][-1] == pytest.approx(rig.season.evaporation_kg_s, rel=0.1)
    assert found.trace.quantities["heat"][-1] == pytest.approx(rig.season.heat_W, rel=0.02)
    with pytest.raises(OutOfRange, match="trace_interval_s"):
        played("", every_s=0.5)


def test_the_same_script_gives_the_same_result() -> None:
    first, second = (rehearse(library("silence_and_reset"), example_rig("electric")) for _ in range(2))
    assert first == second
    assert first.plant_time_s == 1200.0
    assert first.speed > 1.0


def test_water_and_heat_close() -> None:
    balance = played("", duration="10 min").balance
    assert balance.totals.evaporation_kg > 1.0
    assert abs(balance.water_gap) < 1e-9
    assert abs(balance.heat_gap) < 1e-5
    assert abs(replace(balance, mass_kg=(balance.mass_kg[0] + 1.0, balance.mass_kg[1])).water_gap) > 0.01


def test_events_follow_their_signs_in_turn_and_wait() -> None:
    text = """
    [[event]]
    when = ["run on", "heat on"]
    wait = "10 s"
    push = "stop"
    """
    found = played(text)
    stop = next(entry.time_s for entry in found.entries if entry.name == "stop_clear" and entry.on is False)
    heat = next(entry.time_s for entry in found.entries if entry.name == "heat" and entry.on)
    assert stop == pytest.approx(heat + 10.1)  # people see an effect a scan later


def test_a_button_is_held_as_long_as_the_script_says() -> None:
    found = played('[[event]]\nat = "1 s"\npush = "silence"\nfor = "3 s"', opening=False)
    assert [entry.time_s for entry in found.entries if entry.name == "silence"] == [1.0, 4.0]


def test_entries_for_another_heat_are_left_out() -> None:
    text = """
    [[event]]
    at = "1 s"
    fail = { flame = "out" }
    only_for = "gas"
    [[expect]]
    that = "flame"
    is = "on"
    only_for = "gas"
    why = "a test"
    """
    found = played(text)
    assert found.verdicts == ()
    assert found.met


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('[[event]]\nat = "1 s"\nstick = { flame = "on" }', 'event 4.stick: "flame" is not on this unit'),
        ('[[event]]\nat = "1 s"\nweld = { fan = "welded" }', 'event 4.weld: "fan" is not on this unit'),
        ('[[event]]\nat = "5 min"\npush = "stop"', 'event 4.at: "5 min" lies after the end'),
        ('[[event]]\nwhen = "flame on"\npush = "stop"', 'event 4.when: "flame" is not on this unit'),
        ('[[event]]\nat = "1 s"\nturn = { pump = "on" }', 'event 4.turn.pump: "on" is not on this unit'),
        ('[[expect]]\nthat = "flame"\nis = "on"\nwhy = "x"', 'expect 1.that: "flame" is not on this unit'),
        ('[[expect]]\nalarm = "run"\nis = "normal"\nwhy = "x"', 'expect 1.alarm: "run" is not on this unit'),
        ('[[expect]]\nfirst_out = "run"\nwhy = "x"', 'expect 1.first_out: "run" is not on this unit'),
        ('[[expect]]\nthat = "run"\nis = "on"\nwhilst = "flame on"\nwhy = "x"', 'expect 1.whilst: "flame"'),
        ('[[expect]]\nthat = "run"\nis = "on"\nfrom = "60 s"\nto = "30 s"\nwhy = "x"', "lies before `from`"),
        (
            '[[expect]]\nthat = "run"\nis = "on"\nfrom = "60 s"\nwithin = "90 s"\nwhy = "x"',
            "span ends after the script",
        ),
        ('[[expect]]\nthat = "run"\nis = "on"\nat = "1 s - rod_dry"\nwhy = "x"', "is -3 s on this unit"),
        ('[[expect]]\nquantity = "level"\nleast = "high"\nmost = "low"\nwhy = "x"', "least below most"),
    ],
)
def test_what_the_unit_does_not_have_is_named(text: str, message: str) -> None:
    with pytest.raises(InputError, match=re.escape(message)) as caught:
        played(text)
    assert str(caught.value).startswith("test.toml: ")


def test_a_script_for_another_heat_is_refused() -> None:
    with pytest.raises(InputError, match=r"this unit is heated by electric\. Allowed: gas"):
        rehearse(library("flame_failure"), example_rig("electric"))


def test_a_given_signal_must_be_an_input() -> None:
    with pytest.raises(InputError, match=r'start\.signals\.odd: "odd" is not on this unit'):
        played("", head="[start.signals]\nodd = true")


def test_a_timeline_between_its_steps() -> None:
    line = Timeline(((3, True), (7, False)), 10)
    assert [line.value(scan) for scan in (0, 2, 3, 6, 7, 9)] == [False, False, True, True, False, False]
    assert line.first(True, 0, 10) == 3
    assert line.first(True, 5, 10) == 5
    assert line.first(True, 0, 3) is None
    assert line.first(True, 7, 10) is None
    assert line.first(False, 3, 10) == 7
    assert line.first(False, 4, 4) is None
