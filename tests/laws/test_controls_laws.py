"""Laws of the controls' language, on random tables: the engine, the reference and the proof have one meaning."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from rooms.controls.random_tables import random_inputs, random_table
from vaporwright.controls.counterexample import claim_at_end, replayed
from vaporwright.controls.expressions import All, Is, Not, evaluate, replace_atoms
from vaporwright.controls.proof import prove
from vaporwright.controls.properties import Always, UnaffectedBy, never, never_for
from vaporwright.controls.scan import Engine, ScanState, power_up, scanned
from vaporwright.controls.symbols import PowerUp, SymbolicScan
from vaporwright.controls.table import Table

SEEDS = st.integers(0, 10_000)


def run(table: Table, inputs: np.ndarray) -> list[ScanState]:
    states = [power_up(table)]
    for row in inputs.tolist():
        states.append(scanned(table, states[-1], dict(zip(table.signals, row, strict=True))))
    return states


@settings(max_examples=60, deadline=None)
@given(SEEDS, SEEDS)
def test_engine_and_reference_agree(seed: int, run_seed: int) -> None:
    table = random_table(seed, comparators=seed % 3 == 0)
    inputs = random_inputs(table, 80, run_seed, change=0.2)
    expected = [list(state.values.values()) for state in run(table, inputs)[1:]]
    engine = Engine(table)
    assert engine.run(inputs).tolist() == expected
    assert engine.state() == run(table, inputs)[-1]


@settings(max_examples=20, deadline=None)
@given(SEEDS, SEEDS)
def test_the_proofs_scan_and_the_reference_agree(seed: int, run_seed: int) -> None:
    table = random_table(seed)
    inputs = random_inputs(table, 12, run_seed, change=0.3)
    before: PowerUp | SymbolicScan = PowerUp()
    for place, state in enumerate(run(table, inputs)[1:], start=1):
        given_inputs = {name: state.values[name] for name in table.signals}
        before = SymbolicScan(table, before, place, inputs=given_inputs)
        assert {name: before.seen(name) for name in table.names} == state.values


@settings(max_examples=25, deadline=None)
@given(SEEDS, SEEDS)
def test_what_is_proved_never_happens_and_what_falls_replays(seed: int, run_seed: int) -> None:
    table = random_table(seed)
    names = table.names
    pair = (names[run_seed % len(names)], names[(run_seed // 7) % len(names)])
    claims: list[Always] = [
        never("both", "", All((Is(pair[0]), Not(Is(pair[1]))))),
        never_for("long", "", Is(pair[0]), 1 + run_seed % 6),
    ]
    states = run(table, random_inputs(table, 200, run_seed, change=0.15))
    for claim in claims:
        proof = prove(table, claim)
        if proof.status == "fallen":
            assert proof.counterexample is not None
            assert not claim_at_end(claim.claim, replayed(table, proof.counterexample, claim.watchers))
        elif claim.watchers:
            steady = 0
            for state in states[1:]:
                steady = steady + 1 if state.values[pair[0]] else 0
                assert steady < claim.watchers[0].scans
        else:
            assert all(evaluate(claim.claim, now.values, before.values) for before, now in pairwise(states))


@settings(max_examples=20, deadline=None)
@given(SEEDS, SEEDS)
def test_what_is_unaffected_stays_the_same_in_two_runs(seed: int, run_seed: int) -> None:
    table = random_table(seed)
    signal = table.signals[0]
    watched = [*table.outputs, *(latch.name for latch in table.latches)]
    inputs = random_inputs(table, 100, run_seed, change=0.15)
    other = inputs.copy()
    other[:, 0] ^= random_inputs(table, 100, run_seed + 1, change=0.15)[:, 0]
    one, two = run(table, inputs), run(table, other)
    for name in watched:
        apart_from = tuple(other_name for other_name in watched if other_name != name)
        if prove(table, UnaffectedBy("u", "", signal, apart_from)).status == "proved":
            assert [state.values[name] for state in one] == [state.values[name] for state in two]


@given(SEEDS)
def test_replacing_atoms_by_themselves_changes_nothing(seed: int) -> None:
    for cause in random_table(seed).causes:
        assert replace_atoms(cause.on, lambda atom: atom) == cause.on
