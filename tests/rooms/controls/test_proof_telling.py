"""A proof says how far it is: steps that were done, of how many, stage by stage."""

from __future__ import annotations

import pytest

from example_rigs import EXAMPLES, example_table
from invented_controls import invented_table, safety_claims
from vaporwright.actions import prove_job
from vaporwright.controls.counterexample import Fault
from vaporwright.controls.expansion import expanded
from vaporwright.controls.expressions import Is, Not
from vaporwright.controls.proof import prove
from vaporwright.controls.properties import Recovers, Step
from vaporwright.controls.single_faults import single_faults
from vaporwright.controls.table import Table

EXAMPLE = EXAMPLES / "tumbling_effluent_gas.toml"


class Heard:
    """Everything that was said."""

    def __init__(self) -> None:
        self.said: list[tuple[str, int, int]] = []

    def __call__(self, stage: str, done: int = 0, of: int = 0) -> None:
        self.said.append((stage, done, of))


def _short_recovery(table: Table) -> Recovers:
    signal = table.signals[0]
    return Recovers("short", "", (Step("a", 2, {signal: False}), Step("b", 3, {signal: True})), {}, Not(Is("horn")))


def test_a_recovery_is_told_scan_by_scan() -> None:
    heard, table = Heard(), expanded(example_table("gas").design)
    prove(table, _short_recovery(table), report=heard)
    assert heard.said == [("Following every state scan by scan: short", scan, 5) for scan in range(1, 6)]


def test_single_faults_are_counted() -> None:
    heard, claims = Heard(), safety_claims()[:2]
    single_faults(invented_table(), claims, {}, (Fault("airflow", True), Fault("airflow", False)), report=heard)
    assert heard.said == [
        *(("Proving each claim without a fault", done, 2) for done in (1, 2)),
        *(("Looking at single faults", done, 2) for done in (1, 2)),
    ]


def test_a_proof_goes_through_its_stages_and_faults_are_added_to_it(monkeypatch: pytest.MonkeyPatch) -> None:
    known = prove_job.properties_of
    monkeypatch.setattr(prove_job, "properties_of", lambda unit: known(unit)[:2])
    monkeypatch.setattr(prove_job, "rows_that_never_act", lambda _: ())
    monkeypatch.setattr(prove_job, "claims_of", lambda _: ())
    heard = Heard()
    proved = prove_job.prove_job(EXAMPLE, report=heard)
    assert heard.said == [
        ("Sizing the unit and making its table", 0, 0),
        ("Proving the properties", 0, 2),
        ("Proving the properties", 1, 2),
        ("Looking for rows that nothing can make true", 0, 0),
    ]
    heard.said.clear()
    more = prove_job.with_single_faults(proved, heard)
    assert more.proofs is proved.proofs
    assert {stage for stage, _, _ in heard.said} == {"Looking at single faults"}  # nothing is proved again
