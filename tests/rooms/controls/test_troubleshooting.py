"""The guide follows the table: every suspect brings its symptom about, and a changed table changes the guide."""

from __future__ import annotations

from dataclasses import replace

import pytest

from invented_controls import invented_design
from vaporwright.controls.troubleshooting import ALARM, LIKELIHOOD, Symptom, troubleshooting_guide

DESIGN = invented_design()
GUIDE = {symptom.name: symptom for symptom in troubleshooting_guide(DESIGN)}


def states(symptom: Symptom) -> dict[str, str]:
    return {suspect.name: suspect.state for suspect in symptom.suspects}


def test_every_alarm_and_every_effect_has_its_symptom() -> None:
    alarms = {row.name for row in DESIGN.rows if row.alarm}
    assert alarms <= set(GUIDE)
    assert {column.name for column in DESIGN.columns} <= set(GUIDE)
    for symptom in GUIDE.values():
        assert symptom.suspects
        for suspect in symptom.suspects:
            assert suspect.look
            assert suspect.state


@pytest.mark.parametrize(
    ("symptom", "suspect", "state"),
    [
        # Trade knowledge: what keeps a spray pump or the heat of such a unit away, and what each alarm watches.
        ("spray_pump", "low_level", "stands"),
        ("spray_pump", "pump_auto", 'not "auto"'),
        ("heat", "low_water_clear", 'not "liquor covers the tube"'),
        ("heat", "over_temperature", "stands"),
        ("low_level", "low_rod", 'not "wet"'),
        ("high_level", "high_rod", '"wet"'),
        ("refill_too_long", "refill_valve", "is on"),
    ],
)
def test_a_suspect_stands_in_the_state_that_brings_the_symptom_about(symptom: str, suspect: str, state: str) -> None:
    assert states(GUIDE[symptom])[suspect] == state


def test_what_stands_in_an_alarm_list_comes_first_then_what_people_set() -> None:
    for symptom in GUIDE.values():
        ranks = [LIKELIHOOD.get(suspect.kind, len(LIKELIHOOD)) for suspect in symptom.suspects]
        assert ranks == sorted(ranks)
    kinds = [suspect.kind for suspect in GUIDE["heat"].suspects]
    assert kinds[0] == ALARM
    assert kinds.index("selector") < kinds.index("contact")


def test_whoever_opens_something_is_told_what_can_hurt() -> None:
    for symptom in GUIDE.values():
        for suspect in symptom.suspects:
            if suspect.kind in ("rod", "switch", "contact"):
                assert suspect.caution


def test_a_changed_table_changes_the_guide() -> None:
    rows = tuple(
        replace(row, effects={name: cell for name, cell in row.effects.items() if name != "spray_pump"})
        if row.name == "low_level"
        else row
        for row in DESIGN.rows
    )
    changed = {symptom.name: symptom for symptom in troubleshooting_guide(replace(DESIGN, rows=rows))}
    assert "low_level" in states(GUIDE["spray_pump"])
    assert "low_level" not in states(changed["spray_pump"])
