"""How a number came about: each equation, worked again from the inputs shown, gives the number shown."""

from __future__ import annotations

import importlib
from pathlib import Path
from typing import Any

import pytest

from vaporwright.actions.answer_json import outcome_as_json
from vaporwright.actions.size_job import size_job
from vaporwright.display_units import QUANTITIES
from vaporwright.unit.explain import explanations
from vaporwright.unit.figures import Figure

EXAMPLES = sorted((Path(__file__).resolve().parents[3] / "examples").glob("*.toml"))


@pytest.fixture(scope="module", params=EXAMPLES, ids=lambda path: path.stem)
def outcome(request: pytest.FixtureRequest) -> Any:
    return size_job(request.param)


@pytest.fixture(scope="module")
def known(outcome: Any) -> dict[str, Figure]:
    return explanations(outcome.answer, outcome.body)


def inputs(entry: Figure) -> dict[str, Any]:
    return {item.name: item.value for item in entry.inputs}


def test_names_and_values_are_those_of_the_json(outcome: Any, known: dict[str, Figure]) -> None:
    answer = outcome_as_json(outcome)
    for name, entry in known.items():
        section, *rest = name.split(".")
        found = answer[section]
        for part in rest[:-1]:
            found = found[part]
        found = {**found.get("energy", {}), **found.get("tower", {}), **found}
        if rest[-1] not in found:
            pytest.fail(f"{name} is explained but not in the JSON")
        if isinstance(entry.value, float):
            assert found[rest[-1]] == pytest.approx(entry.value), name
        else:
            assert found[rest[-1]] == entry.value, name


def test_explained_inputs_carry_the_value_explained(known: dict[str, Figure]) -> None:
    for entry in known.values():
        for item in entry.inputs:
            assert item.quantity == "text" or item.quantity in QUANTITIES
            if item.name in known:
                assert item.value == pytest.approx(known[item.name].value), (entry.name, item.name)


def test_functions_named_exist(known: dict[str, Figure]) -> None:
    for entry in known.values():
        for function in entry.functions:
            module, _, name = function.rpartition(".")
            assert callable(getattr(importlib.import_module(f"vaporwright.{module}"), name))


def test_equations_hold_for_the_inputs_shown(known: dict[str, Figure]) -> None:
    duty = inputs(known["duty.required_evaporation_kg_s"])
    running = duty["duty.hours_per_day"] / 24.0 * duty["duty.days_per_week"] / 7.0 * duty["duty.availability"]
    required = duty["duty.volume"] * 998.2 * (1.0 - 1.0 / duty["liquid.concentration_factor"]) / running
    assert known["duty.required_evaporation_kg_s"].value == pytest.approx(required)
    for season in ("summer", "winter", "average"):
        stem = f"capacity.{season}."
        tower = inputs(known[stem + "tower_evaporation_kg_s"])
        gained = tower["humidity ratio out"] - tower["humidity ratio in"]
        assert tower["towers"] * tower[stem + "dry_air_flow_kg_s"] * gained == pytest.approx(
            known[stem + "tower_evaporation_kg_s"].value
        )
        fill = inputs(known[stem + "merkel_number"])
        assert fill["c"] * fill["L/G, water over dry air"] ** fill["n"] == pytest.approx(
            known[stem + "merkel_number"].value
        )
        balance = inputs(known[stem + "settling_temperature_K"])
        clamp = balance.pop("clamp")
        assert known[stem + "settling_temperature_K"].value <= clamp
        gains = [stem + "heat_W", "pump heat", "feed enthalpy above 0 degC"]
        into = sum(balance.pop(name) for name in gains)
        assert into == pytest.approx(sum(balance.values()), rel=1e-4)
        heat = inputs(known[stem + "fuel_or_power_W"])
        assert heat[stem + "heat_W"] / heat["efficiency"] == pytest.approx(known[stem + "fuel_or_power_W"].value)
