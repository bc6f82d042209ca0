"""Reading scripts: what is read, and one clear error for each kind of nonsense."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vaporwright.controls.script import (
    VERBS,
    Bounds,
    Count,
    Crossing,
    Happening,
    Moment,
    Place,
    Script,
)
from vaporwright.files.script_file import read_script_file, script_of
from vaporwright.foundation.errors import InputError

HEAD = 'name = "n"\npurpose = "p"\nduration = "1 h"\n'
EVENT = HEAD + "[[event]]\n"
EXPECT = HEAD + '[[expect]]\nwhy = "w"\n'


def read(text: str) -> Script:
    return script_of(tomllib.loads(text), "s.toml")


def test_a_script_as_read() -> None:
    found = read("""
        name = "Low level"
        purpose = "to see it"
        heat = ["gas", "steam"]
        duration = "2 h"
        [start]
        level = "low + 1 in"
        temperature = "60 degF"
        signals = { spare = true }
        [[event]]
        at = "1 min"
        push = "start"
        for = "2 s"
        note = "by hand"
        [[event]]
        at = "2 min"
        when = ["low_rod off", "tank_temperature above set point - 9 degF"]
        wait = "rod_dry + 1 s"
        fail = { low_rod = "stuck wet", pump_prime = "lost" }
        supply = { refill = "off" }
        nozzles = "30 %"
        only_for = "gas"
        [[expect]]
        that = "heat"
        is = "off"
        when = "low_rod off"
        within = "2 s"
        why = "dry"
    """)
    assert (found.name, found.heats, found.duration.seconds) == ("Low level", ("gas", "steam"), 7200.0)
    assert found.start.level == Place(pytest.approx(0.0254), "low", 1.0, "low + 1 in")  # type: ignore[arg-type]
    assert found.start.temperature.offset == pytest.approx(288.7056, abs=1e-4)
    assert found.start.signals == {"spare": True}
    start, failing = found.events
    assert start.hold == Moment(2.0, (), "2 s")
    assert failing.wait == Moment(1.0, (("rod_dry_s", 1.0),), "rod_dry + 1 s")
    below = Place(pytest.approx(-5.0), "set point", 1.0, "set point - 9 degF")  # type: ignore[arg-type]
    assert failing.when == (Happening("low_rod", False), Crossing("tank_temperature", True, below))
    deeds = [(deed.verb, deed.target, deed.value) for deed in failing.deeds]
    assert deeds[:3] == [("fail", "low_rod", "stuck wet"), ("fail", "pump_prime", "lost"), ("supply", "refill", "off")]
    assert deeds[3][2] == Place(pytest.approx(0.3), text="30 %")  # type: ignore[arg-type]
    expectation = found.expectations[0]
    assert (expectation.subject, expectation.name, expectation.wanted) == ("name", "heat", False)
    assert (expectation.mode, expectation.span) == ("within", Moment(2.0, (), "2 s"))


def test_what_an_expectation_can_be_about() -> None:
    lines = (
        'quantity = "evaporation"\nleast = "95 % of rate"\nmost = "40 gal/h"',
        'count = "refill_valve"\nleast = 3',
        'first_out = "low_level"\nat = "1 min"',
        'alarm = "low_level"\nis = "Latched acknowledged"\nfrom = "1 min"\nto = "2 min"',
    )
    quantity, count, first, alarm = (read(EXPECT + line).expectations[0] for line in lines)
    assert isinstance(quantity.wanted, Bounds)
    assert quantity.wanted.low == Place(0.0, "rate", pytest.approx(0.95), "95 % of rate")  # type: ignore[arg-type]
    assert quantity.wanted.high is not None
    assert quantity.wanted.high.offset == pytest.approx(40.0 * 3.785411784e-3 / 3600.0 * 998.2)
    assert count.wanted == Count(3, None)
    assert (first.subject, first.name, first.mode) == ("first out", "low_level", "at")
    assert (alarm.wanted, alarm.mode, alarm.end) == ("latched acknowledged", "throughout", Moment(120.0, (), "2 min"))


def test_high_is_not_the_beginning_of_high_high() -> None:
    found = read(EXPECT + 'quantity = "level"\nmost = "high-high - 1 in"').expectations[0].wanted
    assert isinstance(found, Bounds)
    assert found.high is not None
    assert found.high.base == "high-high"


@pytest.mark.parametrize(
    ("text", "where", "problem"),
    [
        ('name = "n"\npurpose = "p"', "duration", "is missing"),
        ('duration = "1 h"', "name", "is missing"),
        ('name = ""\npurpose = "p"\nduration = "1 h"', "name", "is empty"),
        ('name = "n"\npurpose = "p"\nduration = "1 parsec"', "duration", "unknown unit"),
        ('name = "n"\npurpose = "p"\nduration = "8 days"', "duration", "is too high"),
        ('name = "n"\npurpose = "p"\nduration = "0.5 s"', "duration", "out of range"),
        ('name = "n"\npurpose = "p"\nduration = 3600', "duration", "3600 is not a text"),
        (HEAD + 'nmae = "x"', "nmae", "unknown key; nearest valid key: name"),
        (HEAD + 'heat = ["coal"]', "heat", '"coal" is not among the choices'),
        (HEAD + "heat = []", "heat", "is an empty list"),
        (HEAD + 'start = "cold"', "start", "stands where a table belongs"),
        (HEAD + '[start]\nlevel = "5 degF"', "start.level", "is a temperature"),
        (HEAD + '[start]\nlevel = "lowest"', "start.level", 'or against "heater top"'),
        (HEAD + '[start]\ntemperature = "set point 4"', "start.temperature", '"4" follows a figure of the unit'),
        (HEAD + '[start.signals]\nspare = "on"', "start.signals.spare", '"on" is not a yes or no'),
        (HEAD + "event = 3", "event", "3 is no list of tables"),
        (EVENT + 'at = "1 s"', "event 1", "does nothing"),
        (EVENT + 'push = "start"', "event 1", "says no time"),
        (EVENT + 'at = "1 s"\npush = "strat"', "event 1.push", 'did you mean "start"'),
        (EVENT + 'at = "1 s"\npuhs = "start"', "event 1.puhs", "nearest valid key: event 1.push"),
        (EVENT + 'at = "1 s"\nturn = "blower"', "event 1.turn", "is no table"),
        (
            EVENT + 'at = "1 s"\nturn = { blowr = "auto" }',
            "event 1.turn.blowr",
            "nearest valid key: event 1.turn.blower",
        ),
        (EVENT + 'at = "1 s"\nturn = { blower = "up" }', "event 1.turn.blower", '"up" is not among the choices'),
        (EVENT + 'at = "1 s"\nfail = { flame = "stuck wet" }', "event 1.fail.flame", "not among the choices"),
        (EVENT + 'at = "1 s"\nset_point = "140"', "event 1.set_point", "has no unit"),
        (EVENT + 'at = "1 s"\nset_point = "clamp"', "event 1.set_point", 'or against "set point"'),
        (EVENT + 'at = "1 s"\nturn = { blower = "auto" }\nfor = "2 s"', "event 1.for", "nothing is pushed"),
        (EVENT + 'at = "1 s"\npush = "start"\nwait = "2 s"', "event 1.wait", "follows `when`"),
        (EVENT + 'at = "rod_drry"\npush = "start"', "event 1.at", '"rod_drry" is no delay of the table'),
        (EVENT + 'at = "-3 s"\npush = "start"', "event 1.at", "is too low"),
        (EVENT + 'when = "low rod off"\npush = "start"', "event 1.when", "is no condition"),
        (EVENT + 'when = "heat above 3"\npush = "start"', "event 1.when", '"heat" is not among the choices'),
        (EVENT + 'when = ["run on", 3]\npush = "start"', "event 1.when", "3 is not a text"),
        (EVENT + 'at = "1 s"\npush = "start"\nonly_for = "oil"', "event 1.only_for", "not among the choices"),
        (EXPECT + 'is = "on"', "expect 1", "names nothing to look at"),
        (EXPECT + 'that = "run"\nalarm = "x"\nis = "on"', "expect 1", "names that and alarm"),
        (EXPECT + 'that = "run"', "expect 1.is", "is missing"),
        (EXPECT + 'that = "run"\nis = "maybe"', "expect 1.is", "not among the choices"),
        (EXPECT + 'that = "Run!"\nis = "on"', "expect 1.that", "can't be a name"),
        (EXPECT + 'that = "run"\nleast = 3', "expect 1.least", "does not go with that"),
        (EXPECT + 'quantity = "level"', "expect 1", "expects nothing of it"),
        (EXPECT + 'quantity = "level"\nis = "on"\nleast = "low"', "expect 1.is", "does not go with quantity"),
        (EXPECT + 'quantity = "levle"\nleast = "low"', "expect 1.quantity", 'did you mean "level"'),
        (EXPECT + 'quantity = "heat"\nleast = "rate"\nat = "3 s"', "expect 1", "summed over a span"),
        (EXPECT + 'count = "run"\nleast = 1\nwithin = "3 s"', "expect 1", "summed over a span"),
        (EXPECT + 'count = "run"\nleast = 1.5', "expect 1.least", "is not a whole number"),
        (EXPECT + 'count = "run"\nleast = 3\nmost = 2', "expect 1.most", "is too low"),
        (EXPECT + 'alarm = "x"\nis = "ringing"', "expect 1.is", "not among the choices"),
        (EXPECT + 'first_out = "x"\nis = "on"', "expect 1.is", "does not go with first_out"),
        (EXPECT + 'that = "run"\nis = "on"\nat = "1 s"\nwithin = "2 s"', "expect 1", "says at and within"),
        (EXPECT + 'that = "run"\nis = "on"\nat = "1 s"\nfrom = "2 s"', "expect 1", "says at and from"),
        (EXPECT + 'that = "run"\nis = "on"\nat = "1 s"\nwhilst = "run on"', "expect 1.whilst", "does not go with at"),
        (HEAD + '[[expect]]\nthat = "run"\nis = "on"', "expect 1.why", "is missing"),
    ],
)
def test_nonsense_gives_one_error_with_entry_and_key(text: str, where: str, problem: str) -> None:
    with pytest.raises(InputError, match=re.escape(problem)) as caught:
        read(text)
    assert str(caught.value).startswith(f"s.toml: {where}: ")


@pytest.mark.parametrize(
    ("content", "problem"),
    [(b"", "is empty"), (b"a = ", "is not valid TOML"), (b"\x00", "binary"), (b"\xff\xfe\xfa", "not UTF-8")],
)
def test_a_file_that_is_no_script(content: bytes, problem: str, tmp_path: Path) -> None:
    path = tmp_path / "s.toml"
    path.write_bytes(content)
    with pytest.raises(InputError, match=problem):
        read_script_file(path)
    with pytest.raises(InputError, match="no such file"):
        read_script_file(tmp_path / "none.toml")


SCRAPS = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12) | st.sampled_from(sorted(VERBS)),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(("at", "push", "turn", "when", "is", "that", "x")), inner, max_size=3)
    ),
    max_leaves=8,
)


def said_of(tables: dict[str, object]) -> str:
    """The error's message, or that it is a script; no other exception passes."""
    try:
        script_of(tables, "s.toml")
    except InputError as error:
        return str(error)
    return "a script"


@given(st.dictionaries(st.sampled_from(("start", "event", "expect", "heat", "name", "duration")), SCRAPS, max_size=6))
def test_any_rubbish_is_an_input_error_or_a_script(scraps: dict[str, object]) -> None:
    tables = {"name": "n", "purpose": "p", "duration": "1 h", **scraps}
    assert said_of(tables).startswith(("s.toml: ", "a script"))


@given(
    st.sampled_from(sorted(VERBS)),
    st.one_of(
        st.text(max_size=20), st.integers(), st.dictionaries(st.text(max_size=8), st.text(max_size=8), max_size=2)
    ),
)
def test_any_rubbish_for_a_verb_is_an_input_error_or_an_event(verb: str, value: object) -> None:
    tables = {"name": "n", "purpose": "p", "duration": "1 h", "event": [{"at": "1 s", verb: value}]}
    assert said_of(tables).startswith(("s.toml: event 1", "a script"))
