"""Proofs of the invented table, planted faults that they must find, and counterexamples that replay."""

from __future__ import annotations

from dataclasses import replace

import pytest

from invented_controls import RECOVERY, SILENCE, invented_design, invented_table, safety_claims
from vaporwright.controls.counterexample import Counterexample, Fault, Field, claim_at_end, replayed
from vaporwright.controls.expansion import expanded
from vaporwright.controls.expressions import FALSE, All, Any, Is, Not, Was, both, evaluate, implies, pressed
from vaporwright.controls.proof import prove, rows_that_never_act
from vaporwright.controls.properties import Always, Recovers, Step, UnaffectedBy, never, never_for, within
from vaporwright.controls.relations import Ahead, Counting, proved_relations
from vaporwright.controls.scan import Engine, scanned
from vaporwright.controls.table import Cause, Effect, Latch, Table, Timer
from vaporwright.foundation.errors import InputError

CLAIMS = {claim.name: claim for claim in safety_claims()}
NAMES = ("a", "b")


def small(**items: object) -> Table:
    empty = {"timers": (), "causes": (), "latches": (), "effects": (), "outputs": ()}
    return Table("small", 0.1, NAMES, (), **{**empty, **items})  # type: ignore[arg-type]


def with_row(name: str, **changes: object) -> Table:
    """The invented table with one row changed."""
    design = invented_design()
    rows = tuple(replace(row, **changes) if row.name == name else row for row in design.rows)  # type: ignore[arg-type]
    assert rows != design.rows
    return expanded(replace(design, rows=rows))


def without_cell(name: str, effect: str) -> Table:
    row = next(row for row in invented_design().rows if row.name == name)
    return with_row(name, effects={column: cell for column, cell in row.effects.items() if column != effect})


def assert_breaks(table: Table, claim: Always, example: Counterexample) -> None:
    """Replayed by the reference, the claim holds until the last scan and breaks there; the engine agrees."""
    frames = replayed(table, example, claim.watchers)
    assert not claim_at_end(claim.claim, frames)
    for place in range(2, len(frames)):
        assert claim_at_end(claim.claim, frames[:place])
    fault = example.between.fault
    engine = Engine(table)
    engine.load(example.start)
    for inputs, frame in zip(example.inputs, frames[1:], strict=True):
        stuck = {fault.name: fault.stuck} if fault and fault.name in inputs else {}
        assert engine.scan({**inputs, **stuck}) == frame.state.values


@pytest.mark.parametrize("name", CLAIMS)
def test_the_claim_is_proved(name: str) -> None:
    assert prove(invented_table(), CLAIMS[name]).status == "proved"


def test_silence_changes_only_the_horn() -> None:
    proof = prove(invented_table(), SILENCE)
    assert (proof.status, proof.how) == ("proved", "two-copy induction; it changes horn_sounding, horn")


@pytest.mark.parametrize(
    ("claim", "row", "effect"),
    [
        ("spray_needs_air", "airflow_proven", "spray_valve"),
        ("pump_needs_air", "pump_may_run", "spray_pump"),
        ("heat_needs_flow", "circulation", "heat"),
        ("low_level_stops_pump", "low_level", "spray_pump"),
        ("heat_needs_limits", "limits_closed", "heat"),
        ("over_temperature_stops_heat", "over_temperature", "heat"),
        ("hot_plastic_stops_spray", "plastic_too_hot", "spray_pump"),
        ("emergency_stop_stops", "control_there", "blower"),
        ("refill_ends_at_high", "high_level", "refill_shutoff"),
        ("refill_run_time", "refill_too_long", "refill_valve"),
    ],
)
def test_a_dropped_cell_is_found_and_replays(claim: str, row: str, effect: str) -> None:
    table = without_cell(row, effect)
    proof = prove(table, CLAIMS[claim])
    assert proof.status == "fallen"
    assert proof.counterexample is not None
    assert_breaks(table, CLAIMS[claim], proof.counterexample)


@pytest.mark.parametrize(
    ("claim", "row", "changes"),
    [
        ("heat_needs_air", "pump_may_run", {"condition": Not(Is("warm_up"))}),
        ("heat_needs_level", "low_level", {"delay_s": 2.1}),
        ("heat_needs_water", "low_water", {"condition": Is("low_water_clear")}),
        ("over_temperature_stops_heat", "over_temperature", {"delay_s": 5.2}),
        ("refill_ends_at_high", "high_level", {"condition": Not(Is("high_rod"))}),
        ("over_temperature_stays", "over_temperature", {"latched": False}),
        ("only_start_starts", "start_pushed", {"condition": Is("start")}),
        ("held_start", "start_released", {"condition": Is("start")}),
        ("only_reset_restores", "control_reset", {"condition": both(Is("reset"), Is("emergency_stop_clear"))}),
    ],
)
def test_a_changed_row_is_found_and_replays(claim: str, row: str, changes: dict[str, object]) -> None:
    table = with_row(row, **changes)
    proof = prove(table, CLAIMS[claim])
    assert proof.status == "fallen"
    assert proof.counterexample is not None
    assert_breaks(table, CLAIMS[claim], proof.counterexample)


def test_a_claim_about_time_is_exact_to_one_scan() -> None:
    dry_heat = both(Is("heat"), Not(Is("low_rod")))
    assert prove(invented_table(), never_for("just", "", dry_heat, 20)).status == "proved"
    short = never_for("short", "", dry_heat, 19)
    proof = prove(invented_table(), short)
    assert proof.status == "fallen"
    assert proof.counterexample is not None
    assert_breaks(invented_table(), short, proof.counterexample)


def test_a_counterexample_near_power_up_starts_there() -> None:
    table = small(causes=(Cause("c", All((Is("a"), Was("b")))),))
    proof = prove(table, never("never_c", "", Is("c")))
    assert proof.counterexample is not None
    assert proof.counterexample.from_power_up
    assert len(proof.counterexample.inputs) == 2


def test_induction_needs_its_base() -> None:
    """From a state that keeps the claim it is never broken, but power-up itself breaks it."""
    table = small(
        latches=(Latch("once", Not(Is("once_more")), Is("once_more"), False),), causes=(Cause("once_more", Is("a")),)
    )
    claim = Always("was", "", Was("once"))
    assert prove(table, claim).status == "fallen"


def test_what_no_run_reaches_is_proved_by_longer_induction() -> None:
    """A ring of two latches: both on is no state that a run leads to, and one scan alone can't tell."""
    ring = (Latch("x", Was("y"), Not(Was("y")), True), Latch("y", Was("x"), Not(Was("x")), True))
    table = small(latches=ring)
    proof = prove(table, never("not_x", "", Is("x")))
    assert proof.status == "proved"
    assert proof.how == "induction over 3 scans"


def test_silence_wired_to_more_than_the_horn_is_found() -> None:
    design = invented_design()
    row = next(row for row in design.rows if row.name == "blower_by_hand")
    table = with_row(row.name, condition=both(row.condition, Not(pressed("silence"))))
    proof = prove(table, SILENCE)
    assert proof.status == "fallen"
    example = proof.counterexample
    assert example is not None
    assert example.other is not None
    one = scanned(table, example.start, example.inputs[0]).values
    two = scanned(table, example.other[0], example.other[1][0]).values
    differing = {name for name in (*table.outputs, *(latch.name for latch in table.latches)) if one[name] != two[name]}
    assert differing - set(SILENCE.apart_from)
    same_inputs = {name for name in table.signals if example.inputs[0][name] == example.other[1][0][name]}
    assert same_inputs >= set(table.signals) - {"silence"}


def test_what_silence_can_reach_through_memory_is_found() -> None:
    """The latch that silence sets is allowed to differ, the lamp that it lights later is not."""
    table = small(
        latches=(Latch("m", Is("a"), Is("b"), True),),
        effects=(Effect("lamp", Was("m"), Not(Was("m"))),),
        outputs=("lamp",),
    )
    assert prove(table, UnaffectedBy("u", "", "a", ("m",))).status == "fallen"
    assert prove(table, UnaffectedBy("u", "", "a", ("m", "lamp"))).status == "proved"
    with pytest.raises(InputError, match="unknown item horn"):
        prove(table, UnaffectedBy("u", "", "a", ("horn",)))


def test_what_an_input_can_reach_through_a_count_is_found() -> None:
    """While b is on, a changes nothing at once; but it has counted before."""
    lamp = Effect("lamp", both(Is("t"), Is("b")), FALSE)
    table = small(timers=(Timer("t", Any((Is("a"), Is("b"))), 3),), effects=(lamp,), outputs=("lamp",))
    proof = prove(table, UnaffectedBy("u", "", "a", ()))
    assert (proof.status, proof.how) == ("fallen", "two-copy induction; it changes t, lamp")


@pytest.mark.slow
def test_the_unit_recovers_from_any_state() -> None:
    assert prove(invented_table(), RECOVERY).status == "proved"


@pytest.mark.slow
def test_a_deadlock_is_found_and_replays() -> None:
    """Low level clears at refill-off only: with the level in the band and no call for refill it never would."""
    table = with_row("refill_called", condition=both(Is("refill_auto"), Not(Is("refill_on_rod"))))
    proof = prove(table, RECOVERY)
    assert proof.status == "fallen"
    assert proof.counterexample is not None
    frames = replayed(table, proof.counterexample)
    assert not evaluate(RECOVERY.goal, frames[-1].real, frames[-2].real)
    assert frames[-1].real["low_level"]
    for name, expr in RECOVERY.healthy.items():
        for place, frame in enumerate(frames[1:]):
            if name not in step_at(RECOVERY, place).signals:
                assert frame.real[name] == evaluate(expr, {}, frames[place].real)


def step_at(script: Recovers, scan: int) -> Step:
    for step in script.script:
        if scan < step.scans:
            return step
        scan -= step.scans
    raise AssertionError


def test_recovery_of_a_small_table() -> None:
    table = small(
        timers=(Timer("t", Is("a"), 50),), latches=(Latch("trip", Is("t"), both(Is("b"), Not(Is("a"))), True),)
    )
    gone = Not(Is("trip"))
    healthy = {"a": Was("b"), "b": Not(Was("a"))}
    release = (Step("release", 1, {"a": False, "b": True}),)
    assert prove(table, Recovers("r", "", release, healthy, gone)).status == "proved"
    assert prove(table, Recovers("r", "", (Step("b only", 60, {"b": True}),), {}, gone)).status == "fallen"
    with pytest.raises(InputError, match="unknown signal c"):
        prove(table, Recovers("r", "", (Step("s", 1, {"c": True}),), {}, gone))
    with pytest.raises(InputError, match="no scan"):
        prove(table, Recovers("r", "", (), {}, gone))
    with pytest.raises(InputError, match="can't follow"):
        prove(table, Recovers("r", "", release, {"a": Is("b")}, gone))


def test_recovery_counts_scans_exactly() -> None:
    table = small(timers=(Timer("t", Is("a"), 50),))
    for scans, status in ((49, "fallen"), (50, "proved")):
        script = (Step("hold a", scans, {"a": True}),)
        assert prove(table, Recovers("r", "", script, {}, Is("t"))).status == status


def test_recovery_keeps_what_is_open_tied_to_what_it_follows_from() -> None:
    """Two latches that copy each other's opposite are never known, yet one of them is always on."""
    twins = (Latch("x", Is("a"), Not(Is("a")), True), Latch("y", Not(Is("x")), Is("x"), True))
    script = (Step("anything", 3, {}),)
    goal = Any((Is("x"), Is("y")))
    assert prove(small(latches=twins), Recovers("r", "", script, {}, goal)).status == "proved"
    later = (*twins, Latch("z", Any((Was("x"), Was("y"))), FALSE, True))
    assert prove(small(latches=later), Recovers("r", "", script, {}, Is("z"))).status == "proved"


def test_recovery_keeps_counts_that_are_open() -> None:
    """Off for a scan, then anything for two: a timer of three scans can't be on, one of two can."""
    script = (Step("a is off", 1, {"a": False}), Step("anything", 2, {}))
    for scans, status in ((3, "proved"), (2, "fallen")):
        table = small(timers=(Timer("t", Is("a"), scans),))
        assert prove(table, Recovers("r", "", script, {}, Not(Is("t")))).status == status


def test_only_relations_that_every_scan_keeps_are_used() -> None:
    table = small(
        timers=(Timer("with_b", both(Is("a"), Is("b")), 5), Timer("same", Is("a"), 5), Timer("late", Was("a"), 5))
    )
    claim = never_for("claim", "", Is("a"), 9)
    relations, _ = proved_relations(table, claim, Field(), frozenset())
    (watcher,) = claim.watchers
    same, late = (next(timer for timer in table.timers if timer.name == name) for name in ("same", "late"))
    assert relations == (Counting(watcher), Ahead(watcher, same, 0), Ahead(watcher, late, 1))


def test_within_counts_from_the_first_scan() -> None:
    table = small(timers=(Timer("t", Is("a"), 4),), effects=(Effect("e", Is("t"), Is("b")),), outputs=("e",))
    asked = both(Is("a"), Not(Is("b")))
    assert prove(table, within("w", "", Is("a"), 3, Is("t"))).status == "proved"
    assert prove(table, within("w", "", Is("a"), 2, Is("t"))).status == "fallen"
    assert prove(table, within("w", "", asked, 3, Is("e"))).status == "proved"


def test_a_row_that_nothing_can_bring_about_is_named() -> None:
    table = small(
        latches=(Latch("m", Is("a"), Not(Is("a")), True),),
        causes=(
            Cause("possible", Is("a")),
            Cause("idle", both(Was("m"), Not(Was("a")))),
            Cause("always", Not(Was("idle"))),
        ),
    )
    assert rows_that_never_act(table) == ("idle",)


@pytest.mark.slow
def test_every_row_of_the_invented_table_can_act() -> None:
    assert rows_that_never_act(invented_table()) == ()


def test_a_fault_and_a_limit_are_in_the_counterexample() -> None:
    table = invented_table()
    claim = CLAIMS["spray_needs_air"]
    proof = prove(table, claim, Field(Fault("airflow", True)))
    assert proof.counterexample is not None
    assert proof.counterexample.between.fault == Fault("airflow", True)
    assert_breaks(table, claim, proof.counterexample)
    welded = prove(table, CLAIMS["heat_needs_flow"], Field(Fault("heat", True)))
    assert welded.counterexample is not None
    assert_breaks(table, CLAIMS["heat_needs_flow"], welded.counterexample)


def test_a_claim_of_what_always_was_so_is_proved_without_reading_the_table() -> None:
    claim = Always("tautology", "", implies(Is("heat"), Is("heat")))
    assert prove(invented_table(), claim).status == "proved"
