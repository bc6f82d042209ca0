"""The crossflow tower against a slow net of nodes on CoolProp, written apart from it.

Within 0.1 % of evaporation and 0.02 K of the mixed outlet; the streaks are sharper and settle to 0.3 K.
"""

from __future__ import annotations

import numpy as np
import pytest

from oracle import slow_crossflow
from support import verifies
from vaporwright.equipment.crossflow import rate_crossflow, rate_crossflow_batch

BASE = {
    "water_temperature_K": 330.0,
    "water_flow_kg_s": 3.0,
    "air_temperature_K": 293.15,
    "air_humidity_ratio_kg_kg": 0.0073,
    "dry_air_flow_kg_s": 1.0,
    "pressure_Pa": 101325.0,
    "merkel_number": 0.2,
    "water_activity": 1.0,
}
CASES = {
    "usual": {},
    "tall fill": {"merkel_number": 1.0},
    "little water": {"water_temperature_K": 345.0, "water_flow_kg_s": 1.0, "merkel_number": 0.6},
    "arctic air": {"air_temperature_K": 255.0, "air_humidity_ratio_kg_kg": 0.0006},
    "strong liquor": {"water_activity": 0.85, "merkel_number": 0.5},
    "a touch of fill": {"merkel_number": 0.01},
    "much water": {"water_flow_kg_s": 10.0, "merkel_number": 0.5},
    "hot and thin air": {"water_temperature_K": 355.0, "pressure_Pa": 75e3, "merkel_number": 0.3},
    "humid air": {"air_temperature_K": 308.15, "air_humidity_ratio_kg_kg": 0.033, "merkel_number": 0.4},
}


@pytest.mark.parametrize("change", CASES.values(), ids=CASES)
@verifies(
    "equipment.crossflow.rate_crossflow",
    "equipment.crossflow_kernels.solve_crossflow",
    "equipment.crossflow_kernels.local_transfer",
)
def test_crossflow_against_the_slow_net(change: dict[str, float]) -> None:
    case = {**BASE, **change}
    got, slow = rate_crossflow(**case), slow_crossflow.rate(**case)
    assert got.evaporation_kg_s == pytest.approx(slow.evaporation_kg_s, rel=1e-3)
    assert got.water_out_temperature_K == pytest.approx(slow.water_out_temperature_K, abs=0.02)
    assert got.air_out_temperature_K == pytest.approx(slow.air_out_temperature_K, abs=0.1)


@verifies("equipment.crossflow.rate_crossflow_batch")
def test_batch_against_the_slow_net_and_against_single() -> None:
    cases = [{**BASE, **change} for change in CASES.values()]
    batch = rate_crossflow_batch(**{name: np.array([case[name] for case in cases]) for name in BASE}, threads=2)
    for row, case in enumerate(cases):
        single = rate_crossflow(**case)
        assert batch.evaporation_kg_s[row] == pytest.approx(single.evaporation_kg_s, rel=1e-9)
        assert batch.water_out_temperature_K[row] == pytest.approx(single.water_out_temperature_K, abs=1e-7)
    slow = slow_crossflow.rate(**cases[0])
    assert batch.evaporation_kg_s[0] == pytest.approx(slow.evaporation_kg_s, rel=1e-3)
