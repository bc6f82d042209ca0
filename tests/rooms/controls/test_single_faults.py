"""Single faults: what the table survives by itself, what by hard-wired limits, what not."""

from __future__ import annotations

import pytest

from invented_controls import invented_table, safety_claims
from vaporwright.controls.counterexample import Fault, claim_at_end, replayed
from vaporwright.controls.expressions import All, Is, Was
from vaporwright.controls.single_faults import every_fault, single_faults
from vaporwright.foundation.errors import InputError

CLAIMS = {claim.name: claim for claim in safety_claims()}
LIMITS = {"heat": All((Is("low_water_clear"), Is("limit_string_closed"), Is("emergency_stop_clear")))}


def survival(claim: str, name: str, stuck: bool) -> str:
    (outcome,) = single_faults(invented_table(), (CLAIMS[claim],), LIMITS, (Fault(name, stuck),))
    assert (outcome.counterexample is not None) == (outcome.survival == "falls")
    if outcome.counterexample is not None:
        frames = replayed(invented_table(), outcome.counterexample, CLAIMS[claim].watchers)
        assert not claim_at_end(CLAIMS[claim].claim, frames)
    return outcome.survival


@pytest.mark.parametrize(
    ("claim", "name", "stuck", "expected"),
    [
        ("spray_needs_air", "airflow", True, "falls"),  # a second switch, or the hard-wired one, is needed
        ("spray_needs_air", "airflow", False, "by the table alone"),
        ("spray_needs_air", "blower", False, "by the table alone"),  # contact open: no air, and the switch says so
        ("spray_needs_air", "spray_valve", True, "falls"),
        ("heat_needs_water", "heat", True, "by the hard-wired limits"),
        ("heat_needs_water", "low_rod", True, "by the table alone"),  # false-wet: the cut-off is another device
        ("heat_needs_water", "low_water_clear", True, "falls"),
        ("heat_needs_level", "low_rod", True, "falls"),  # false-wet, the dangerous one: why a cut-off is required
        ("heat_needs_level", "low_rod", False, "by the table alone"),
        ("heat_needs_limits", "heat", True, "by the hard-wired limits"),
        ("heat_needs_flow", "heat", True, "falls"),  # flow is in no hard-wired string here
        ("held_start", "start", True, "by the table alone"),  # welded: it never starts, and so never wrongly
        ("held_start", "reset", True, "by the table alone"),
    ],
)
def test_what_one_fault_does(claim: str, name: str, stuck: bool, expected: str) -> None:
    assert survival(claim, name, stuck) == expected


def test_every_signal_and_output_is_stuck_both_ways() -> None:
    table = invented_table()
    faults = every_fault(table)
    assert len(faults) == len(set(faults)) == 2 * (len(table.signals) + len(table.outputs))


def test_limits_are_contacts_of_signals_wired_to_outputs() -> None:
    with pytest.raises(InputError, match="no output"):
        single_faults(invented_table(), (), {"low_level": Is("airflow")})
    for wrong in (Is("run"), Was("airflow")):
        with pytest.raises(InputError, match="no contact to wire"):
            single_faults(invented_table(), (), {"heat": wrong})


@pytest.mark.slow
def test_a_proof_that_never_read_a_name_is_the_same_with_a_fault_in_it() -> None:
    """The short cut against the long way, for all faults of three claims."""
    from vaporwright.controls.counterexample import Field
    from vaporwright.controls.proof import prove

    table = invented_table()
    claims = [CLAIMS[name] for name in ("spray_needs_air", "pump_needs_air", "over_temperature_stays")]
    for outcome in single_faults(table, claims, {}):
        proof = prove(table, CLAIMS[outcome.claim], Field(outcome.fault))
        assert (proof.status == "proved") == (outcome.survival == "by the table alone")
