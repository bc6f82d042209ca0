"""The flat table: what it refuses when it is made, and what its items do."""

from __future__ import annotations

from dataclasses import replace

import pytest

from vaporwright.controls.expressions import FALSE, All, Is, Not, Was, can_be_true, pressed
from vaporwright.controls.scan import power_up, scanned
from vaporwright.controls.table import Cause, Comparator, Effect, Latch, Table, Timer
from vaporwright.foundation.errors import InputError

SMALL = Table(
    "small",
    0.1,
    ("a", "b"),
    (),
    (Timer("held", Is("a"), 3),),
    (Cause("edge", pressed("b")),),
    (Latch("kept", Is("edge"), Is("a"), set_wins=False),),
    (Effect("lamp", Is("kept"), Is("held")),),
    ("lamp",),
)


@pytest.mark.parametrize(
    ("changes", "key", "problem"),
    [
        ({"inputs": ("a", "a", "b")}, "a", "written twice"),
        ({"inputs": ("a", "B")}, "B", "can't be a name"),
        ({"inputs": ("a", "b", "retain")}, "retain", "can't be a name"),
        ({"inputs": ("a", "b", "was_on")}, "was_on", "can't be a name"),
        ({"causes": (Cause("edge", Is("c")),)}, "edge", "unknown signal c"),
        ({"causes": (Cause("edge", Is("lamp")),)}, "edge", "before it is worked out"),
        ({"timers": (Timer("held", Is("edge"), 3),)}, "held", "before it is worked out"),
        ({"timers": (Timer("held", Is("held"), 3),)}, "held", "before it is worked out"),
        ({"timers": (Timer("held", Is("a"), 0),)}, "held", "out of range"),
        ({"timers": (Timer("held", Is("a"), -1),)}, "held", "out of range"),
        ({"timers": (Timer("held", Is("a"), 864_001),)}, "held", "out of range"),
        ({"outputs": ("kept",)}, "kept", "no effect"),
        ({"scan_s": 0.0}, "scan_s", "out of range"),
        ({"scan_s": 0.0125}, "scan_s", "milliseconds"),
        ({"comparators": (Comparator("hot", "t_K", "above", float("nan"), 1.0),)}, "hot", "limit nan"),
        ({"comparators": (Comparator("hot", "t_K", "above", 300.0, -1.0),)}, "hot", "hysteresis -1"),
    ],
)
def test_a_table_with_a_fault_is_not_made(changes: dict[str, object], key: str, problem: str) -> None:
    with pytest.raises(InputError) as caught:
        replace(SMALL, **changes)  # type: ignore[arg-type]
    assert caught.value.where == "small"
    assert caught.value.key == key
    assert problem in caught.value.problem
    assert caught.value.allowed


def test_the_longest_delay_is_24_hours() -> None:
    longest = replace(SMALL, timers=(Timer("held", Is("a"), 864_000),))
    assert longest.timers[0].scans * longest.scan_s == pytest.approx(24.0 * 3600.0)


def run(*scans: str) -> list[str]:
    """The names that are on after each scan, given those inputs that are."""
    state, on = power_up(SMALL), []
    for inputs in scans:
        state = scanned(SMALL, state, {name: name in inputs for name in SMALL.signals})
        on.append(" ".join(name for name in SMALL.names if state.values[name]))
    return on


def test_a_timer_is_on_in_the_last_of_its_scans_and_off_at_once() -> None:
    assert run("a", "a", "a", "a", "", "a") == ["a", "a", "a held", "a held", "", "a"]


def test_a_latch_obeys_the_stronger_and_an_edge_lasts_one_scan() -> None:
    assert run("b", "b", "", "ab", "a") == ["b edge kept lamp", "b kept lamp", "kept lamp", "a b edge", "a"]


def test_a_comparator_switches_at_its_limit_and_back_at_its_hysteresis() -> None:
    hot = Comparator("hot", "tank_temperature_K", "above", 340.0, 2.0)
    low = Comparator("low", "depth_m", "below", 0.5, 0.25)
    assert [hot.output(value, before) for value, before in ((339.9, False), (340.0, False), (338.0, True))] == [
        False,
        True,
        True,
    ]
    assert not hot.output(337.9, True)
    assert [
        low.output(value, before) for value, before in ((0.51, False), (0.5, False), (0.75, True), (0.76, True))
    ] == [
        False,
        True,
        True,
        False,
    ]
    with pytest.raises(InputError, match="tank_temperature_K is nan"):
        hot.output(float("nan"), True)


def test_what_can_be_true_is_found_up_to_16_atoms() -> None:
    assert can_be_true(All((Is("a"), Not(Was("a")))))
    assert can_be_true(FALSE) is False
    wide = tuple(Is(f"a{place}") for place in range(17))
    assert can_be_true(All((*wide, Not(wide[0])))) is None
    assert can_be_true(All((*wide[:16], Not(wide[0])))) is False
