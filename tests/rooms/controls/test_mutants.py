"""Planted faults in the table, and how many of them the proofs find. The rehearsal has to find the rest."""

from __future__ import annotations

from itertools import groupby

import pytest

from invented_controls import SILENCE, invented_design, safety_claims
from rooms.controls.mutants import Original, mutants, score

KINDS = {
    "dropped cell",
    "inverted input",
    "swapped contact",
    "wrong delay",
    "missing latch",
    "set and reset priority",
}


def test_there_are_enough_mutants_of_every_kind() -> None:
    made = list(mutants(invented_design()))
    assert len(made) >= 200
    assert {mutant.kind for mutant in made} == KINDS
    assert len({(mutant.kind, mutant.what) for mutant in made}) == len(made)


def test_mutants_that_break_a_claim_fall() -> None:
    original = Original.of(invented_design(), safety_claims())
    by_name = {(mutant.kind, mutant.what): mutant for mutant in mutants(invented_design())}
    for key, verdict in {
        ("dropped cell", "airflow_proven on spray_valve"): "fell",
        ("inverted input", "Is(name='low_rod') of low_level"): "fell",
        ("wrong delay", "over_temperature 10.0 s"): "fell",
        ("missing latch", "over_temperature"): "fell",
        ("set and reset priority", "control_on"): "fell",
        ("dropped cell", "heat_called on heat"): "refused",  # then no row turns heat on
        ("wrong delay", "run_on_over 240.0 s"): "survived",  # no claim is about the run-on: the rehearsal's
    }.items():
        assert original.verdict(by_name[key]) == verdict, key


@pytest.mark.slow
def test_score_of_the_proofs(capsys: pytest.CaptureFixture[str]) -> None:
    original = Original.of(invented_design(), (*safety_claims(), SILENCE))
    made = list(mutants(invented_design()))
    counts, survivors = score(original, made)
    with capsys.disabled():
        print()
        for kind, lines in groupby(sorted(counts), key=lambda key: key[0]):
            print(f"  {kind}: " + ", ".join(f"{counts[key]} {key[1]}" for key in lines))
        print(f"  of {len(made)} mutants {len(survivors)} are left to the rehearsal")
    assert sum(counts.values()) == len(made)
    assert sum(number for (_, verdict), number in counts.items() if verdict == "fell") >= 90
