"""The outcome for machines: agreed keys, SI with suffixes, plain values, nothing that is no number."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from vaporwright.actions.answer_json import outcome_as_json
from vaporwright.actions.size_job import size_job

EXAMPLES = sorted((Path(__file__).resolve().parents[3] / "examples").glob("*.toml"))
AGREED = (
    "evaporation_kg_s",
    "settling_temperature_K",
    "limit",
    "tower_evaporation_kg_s",
    "surface_evaporation_kg_s",
    "heat_W",
    "fuel_or_power_W",
)
SUFFIXES = ("_kg_s", "_K", "_W", "_Pa", "_m3_s", "_kg_kg", "_J_kg", "_A", "_W_m2", "_W_m2K", "_m2", "_s", "_USD_m3")
SUFFIXES += ("_USD_s",)
PURE = {"towers", "circuits", "phases"}  # counts
RATIOS = ("efficiency", "share", "number", "ratio", "activity", "load", "fraction")


@pytest.fixture(scope="module", params=EXAMPLES, ids=lambda path: path.stem)
def answer(request: pytest.FixtureRequest) -> dict[str, Any]:
    return outcome_as_json(size_job(request.param))


def leaves(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from leaves(inner, f"{path}.{key}" if path else key)
    elif isinstance(value, list):
        for inner in value:
            yield from leaves(inner, path + "[]")
    else:
        yield path, value


def test_agreed_keys_are_there(answer: dict[str, Any]) -> None:
    assert {"unit", "capacity", "assumptions", "questions", "warnings"} <= set(answer)
    assert list(answer["capacity"]) == ["summer", "winter", "average"]
    for season in answer["capacity"].values():
        assert set(AGREED) <= set(season)
        assert season["limit"] in ("heat", "tower")
    for entry in answer["assumptions"]:
        assert {"key", "value", "low", "high", "basis"} <= set(entry)
    for entry in answer["questions"]:
        assert {"key", "question", "assumed", "low", "high", "moves_kg_s"} <= set(entry)
    for entry in answer["warnings"]:
        assert {"name", "text"} <= set(entry)


def test_it_is_plain_and_comes_back_the_same(answer: dict[str, Any]) -> None:
    assert json.loads(json.dumps(answer, allow_nan=False)) == json.loads(json.dumps(answer))
    for path, value in leaves(answer):
        assert value is None or isinstance(value, str | bool | int | float), path
        if isinstance(value, float):
            assert math.isfinite(value), path


def test_every_number_of_the_results_says_its_unit(answer: dict[str, Any]) -> None:
    for section in ("unit", "duty", "capacity", "end_of_batch", "warm_up"):
        for path, value in leaves(answer[section]):
            name = path.split(".")[-1]
            if isinstance(value, float) and not isinstance(value, bool) and name not in PURE:
                pure = any(part in name.split("_") for part in RATIOS)
                assert pure or name.endswith(SUFFIXES), f"{section}.{path}"


def test_temperatures_and_flows_are_si(answer: dict[str, Any]) -> None:
    for path, value in leaves(answer["capacity"]):
        if path.endswith("temperature_K"):
            assert 240.0 < value < 1600.0, path
    for season in answer["capacity"].values():
        assert 0.5e6 < season["heat_W"] / season["evaporation_kg_s"] < 5e6
        assert season["heat_per_evaporation_J_kg"] == pytest.approx(season["heat_W"] / season["evaporation_kg_s"])
        assert season["fuel_or_power_W"] == pytest.approx(season["heat_W"] / season["heat_efficiency"])


def test_energy_terms_close_to_what_is_stated(answer: dict[str, Any]) -> None:
    for season in answer["capacity"].values():
        terms = dict(season["energy"])
        closing = terms.pop("closing_W")
        into = terms.pop("heat_source_W") + terms.pop("pump_W") + terms.pop("feed_enthalpy_W")
        assert into - sum(terms.values()) == pytest.approx(closing, abs=1e-6 * into)
        assert abs(closing) < 1e-4 * season["heat_W"]


def test_costs_where_prices_are_stated() -> None:
    gas = outcome_as_json(size_job(next(path for path in EXAMPLES if "gas" in path.stem)))
    winter = gas["capacity"]["winter"]
    # 0.95 USD a therm of 100,000 Btu, 0.13 USD a kWh for blower and pump: by hand
    heat_USD_s = winter["fuel_or_power_W"] / 1055.05585 / 1e5 * 0.95
    power_USD_s = (winter["blower_power_W"] + winter["pump_power_W"]) / 3.6e6 * 0.13
    cost = winter["running_cost"]
    assert cost["heat_USD_s"] == pytest.approx(heat_USD_s, rel=1e-3)
    assert cost["power_USD_s"] == pytest.approx(power_USD_s, rel=1e-6)
    per_m3 = (heat_USD_s + power_USD_s) / (winter["evaporation_kg_s"] / 998.2)
    assert cost["per_volume_USD_m3"] == pytest.approx(per_m3, rel=1e-3)
    steam = outcome_as_json(size_job(next(path for path in EXAMPLES if "steam" in path.stem)))
    assert steam["capacity"]["winter"]["running_cost"] is None  # no price of electricity stated
