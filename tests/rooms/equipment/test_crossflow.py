"""Crossflow tower: bad input is one clear error; a batch is the single rating, row by row."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from vaporwright.equipment.crossflow import (
    CrossflowSolution,
    _raise_unless_solved,
    rate_crossflow,
    rate_crossflow_batch,
)
from vaporwright.equipment.tower_kernels import NOT_SOLVED, WATER_BOILS
from vaporwright.foundation.errors import NotConverged, OutOfRange

TOWER: dict[str, Any] = {
    "water_temperature_K": 333.15,
    "water_flow_kg_s": 2.5,
    "air_temperature_K": 293.15,
    "air_humidity_ratio_kg_kg": 0.007,
    "dry_air_flow_kg_s": 1.0,
    "pressure_Pa": 101325.0,
    "merkel_number": 0.3,
}


@pytest.mark.parametrize(
    ("changes", "name"),
    [
        ({"water_temperature_K": 273.0}, "water_temperature_K"),
        ({"water_temperature_K": 369.0}, "water_temperature_K"),
        ({"water_temperature_K": 364.0, "pressure_Pa": 7e4}, "water_temperature_K"),  # 5 K under boiling there
        ({"water_temperature_K": float("nan")}, "water_temperature_K"),
        ({"water_flow_kg_s": 0.0}, "water_flow_kg_s"),
        ({"water_flow_kg_s": 0.29}, "water_flow_kg_s / dry_air_flow_kg_s"),
        ({"water_flow_kg_s": 31.0}, "water_flow_kg_s / dry_air_flow_kg_s"),
        ({"air_temperature_K": 243.0}, "air_temperature_K"),
        ({"air_temperature_K": 324.0}, "air_temperature_K"),
        ({"air_humidity_ratio_kg_kg": -0.001}, "air_humidity_ratio_kg_kg"),
        ({"dry_air_flow_kg_s": -1.0}, "dry_air_flow_kg_s"),
        ({"pressure_Pa": 5e4}, "pressure_Pa"),
        ({"merkel_number": 0.0}, "merkel_number"),
        ({"merkel_number": 5.1}, "merkel_number"),
        ({"water_activity": 0.3}, "water_activity"),
        ({"water_activity": 1.01}, "water_activity"),
    ],
)
def test_out_of_range_names_the_argument(changes: dict[str, Any], name: str) -> None:
    with pytest.raises(OutOfRange) as raised:
        rate_crossflow(**{**TOWER, **changes})
    assert raised.value.name == name
    with pytest.raises(OutOfRange) as in_batch:
        rate_crossflow_batch(**{**TOWER, **changes})
    assert in_batch.value.name == name


def test_water_at_the_wet_bulb_is_refused() -> None:
    with pytest.raises(OutOfRange, match="wet bulb"):
        rate_crossflow(**{**TOWER, "water_temperature_K": 283.15})


def test_water_that_would_freeze_along_the_air_inlet_is_refused() -> None:
    cold = {
        "water_temperature_K": 313.15,
        "air_temperature_K": 248.15,
        "air_humidity_ratio_kg_kg": 3e-4,
        "merkel_number": 3.0,
    }
    with pytest.raises(OutOfRange, match="would freeze along the air inlet face") as raised:
        rate_crossflow(**{**TOWER, **cold})
    assert raised.value.name == "water_out_coldest_temperature_K"
    assert raised.value.value < 273.15


@pytest.mark.parametrize(
    ("status", "error", "words"), [(WATER_BOILS, OutOfRange, "boils"), (NOT_SOLVED, NotConverged, "grids")]
)
def test_every_failure_is_worded(status: int, error: type[Exception], words: str) -> None:
    with pytest.raises(error, match=words):
        _raise_unless_solved(CrossflowSolution(status, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0), 360.0, 101325.0, 1.0)


def test_batch_equals_single_on_any_number_of_threads() -> None:
    water_K = np.linspace(305.0, 365.0, 7)
    merkel = np.array([0.02, 0.1, 0.3, 0.6, 1.0, 2.0, 5.0])
    batch = rate_crossflow_batch(**{**TOWER, "water_temperature_K": water_K, "merkel_number": merkel})
    assert rate_crossflow_batch(
        **{**TOWER, "water_temperature_K": water_K, "merkel_number": merkel}, threads=2
    ).evaporation_kg_s == pytest.approx(batch.evaporation_kg_s, rel=1e-13)
    for row in range(7):
        single = rate_crossflow(**{**TOWER, "water_temperature_K": water_K[row], "merkel_number": merkel[row]})
        for name in batch._fields:
            assert getattr(batch, name)[row] == pytest.approx(getattr(single, name), rel=1e-9)


def test_batch_names_the_failing_row() -> None:
    with pytest.raises(OutOfRange) as raised:
        rate_crossflow_batch(**{**TOWER, "merkel_number": np.array([0.3, 0.3, 6.0])})
    assert raised.value.__notes__ == ["row 2 of 3"]
    with pytest.raises(OutOfRange, match="wet bulb") as cold:
        rate_crossflow_batch(**{**TOWER, "water_temperature_K": np.array([333.15, 283.15])})
    assert cold.value.__notes__ == ["row 1 of 2"]
