"""Planted faults in the gas unit's whole table: each is refused, breaks a claim, fails a script, or changes nothing.

`benchmarks/table_mutants.py` has the mutants and the sieves, and prints the whole score. Here stand a sample in which
each mutant is held against the one claim or script that must find it, and, slowly, all of them. What the scripts
expect was written from the delays' names and the trade's behaviour on the unmutated table.
"""

from __future__ import annotations

import sys
from functools import lru_cache
from pathlib import Path

import pytest

from vaporwright.controls.expansion import expanded
from vaporwright.controls.expressions import All, Is, Not
from vaporwright.controls.proof import prove
from vaporwright.controls.properties import Property, never_for
from vaporwright.files.script_library import library_scripts
from vaporwright.foundation.errors import InputError

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "benchmarks"))

from table_mutants import Mutant, Sieves, example_rig, example_table, findings, look_alike, mutants_of

SPREAD = 15
# Found by a claim: the mutant, and the claim that must fall.
BY_CLAIM = {
    "inverted input: Is(name='high_rod') of high_level": "refill_valve_shuts_at_high",
    "swapped contact: Is(name='low_rod') of low_level by Is(name='refill_on_rod')": "heat_needs_level",
    "swapped contact: Is(name='at_set_point') of heat_called by Is(name='over_set_point')": "heat_under_set_point",
    "wrong delay: high_level 3.0 s": "refill_valve_shuts_at_high",
    "inverted reset: Was(name='spray_pump') of circulation": "heat_comes_last",
    "reset by button instead: low_level": "low_level_holds",
}
# Found by the rehearsal only: the mutant, and the script that must fail.
BY_SCRIPT = {
    "dropped cell: airflow_stuck on blower": "airflow_switch_repaired",
    "dropped cell: draining on press_feed": "drain_at_rest",
    "dropped cell: control_there on agitation_valve": "selectors",
    "inverted input: Is(name='refill_on_rod') of rods_disagree": "rods_disagree",
    "inverted input: Is(name='blower_hand') of blower_by_hand": "by_hand",
    "swapped contact: Is(name='refill_auto') of refill_satisfied by Is(name='heat_auto')": "selectors",
    "swapped contact: Is(name='low_rod') of rods_disagree by Is(name='refill_on_rod')": "rods_disagree",
    "swapped contact: Is(name='limit_string_closed') of flame_lost by Is(name='tube_temperature_clear')": (
        "passing_readings"
    ),
    "wrong delay: low_level 0.1 s": "rod_delays",
    "wrong delay: heater_cooled 240.0 s": "normal_stop",
    "missing latch: airflow_proven": "airflow_lost",
    "no delay: plastic_too_hot": "passing_readings",
}
ALIKE = ("dropped cell: low_level on heat", "dropped cell: high_level on refill_shutoff")
REFUSED = ("dropped cell: heat_called on heat", "dropped cell: emergency_stop on control_on")
# Flow that is gone for its filter trips the pump, in the very scan in which `flow_absent` would take the proof of flow
# away; the pump that stops takes it away a scan later. So nothing but the proof's own memory can tell these.
_PUMP_STOPS_FIRST = "the trip on lost flow stops pump and heat in the same scan: flow_absent is a second guard"
EXPLAINED = {
    "inverted input: Is(name='pump_flow') of flow_absent": _PUMP_STOPS_FIRST,
    "swapped contact: Is(name='pump_flow') of flow_absent by Is(name='blower_overload_clear')": _PUMP_STOPS_FIRST,
    "wrong delay: flow_absent 6.0 s": _PUMP_STOPS_FIRST,
}


@lru_cache
def named() -> dict[str, Mutant]:
    return {f"{mutant.kind}: {mutant.what}": mutant for mutant in mutants_of("gas")}


@lru_cache
def sieves(*scripts: str) -> Sieves:
    chosen = [script for script in library_scripts() if script.where.removesuffix(".toml") in scripts]
    assert len(chosen) == len(scripts)
    return Sieves(example_table("gas"), example_rig("gas"), chosen)


def test_there_are_enough_mutants_of_every_kind() -> None:
    kinds = {mutant.kind for mutant in mutants_of("gas")}
    assert len(mutants_of("gas")) >= 400
    assert {"dropped cell", "swapped contact", "wrong delay", "inverted input", "missing latch"} <= kinds


@pytest.mark.parametrize("name", BY_CLAIM)
def test_a_mutant_breaks_its_claim(name: str) -> None:
    wanted: dict[str, Property] = {claim.name: claim for claim in sieves().claims}
    assert prove(expanded(named()[name].make()), wanted[BY_CLAIM[name]]).status == "fallen"


@pytest.mark.parametrize("name", BY_SCRIPT)
def test_a_mutant_fails_its_script(name: str) -> None:
    assert sieves(BY_SCRIPT[name]).unmet(expanded(named()[name].make())) != ""


def test_the_unmutated_table_meets_these_scripts() -> None:
    for name in set(BY_SCRIPT.values()):
        table = sieves(name)
        assert table.unmet(table.table) == ""
        for script in table.scripts:
            asked = [item for item in script.expectations if item.only_for in ("", "gas")]
            assert len(table.recording(script).met) == len(asked), name


@pytest.mark.parametrize("name", REFUSED)
def test_a_mutant_is_refused(name: str) -> None:
    with pytest.raises(InputError):
        expanded(named()[name].make())


@pytest.mark.parametrize("name", ALIKE)
def test_a_mutant_changes_nothing_that_shows(name: str) -> None:
    assert look_alike(sieves().table, expanded(named()[name].make()))


def test_what_shows_is_not_called_alike() -> None:
    """An alarm is no output and shows all the same; so does its delay."""
    for name in ("no alarm: high_level", "wrong delay: rods_disagree 20.0 s"):
        assert not look_alike(sieves().table, expanded(named()[name].make()))


@pytest.mark.parametrize("name", EXPLAINED)
def test_what_explains_a_survivor_is_proved_of_it(name: str) -> None:
    scans = round(example_table("gas").delays["flow_loss_s"] / example_table("gas").design.scan_s)
    dry = All((Is("circulation"), Is("spray_pump"), Not(Is("pump_flow"))))
    stops = never_for("pump_stops_first", "Proven flow that is gone for its filter finds the pump off.", dry, scans)
    assert prove(expanded(named()[name].make()), stops).status == "proved"


@pytest.mark.slow
def test_a_spread_of_all_mutants_is_caught_equivalent_or_explained() -> None:
    """Every SPREAD-th of all; `benchmarks/table_mutants.py` scores each of them, in a quarter of an hour."""
    chosen = range(0, len(mutants_of("gas")), SPREAD)
    found = list(findings("gas", chosen, rehearse_first=True))
    assert {item.name for item in found if item.stage == "survived"} <= set(EXPLAINED)
    assert sum(item.stage == "rehearsal" for item in found) >= 0.7 * len(chosen)
