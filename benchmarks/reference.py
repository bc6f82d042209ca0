"""The named reference of the bench: one counterflow rating with SciPy and CoolProp.

An honest and direct implementation (solve_ivp, brentq, HAPropsSI; saturated states interpolated from CoolProp so
that the march does not wait for it), and the same code that tests hold the product against. Marches run to 1e-6,
which leaves under 2e-5 of evaporation; it is not slowed down for the comparison.
"""

from __future__ import annotations

import sys
from pathlib import Path

TESTS = Path(__file__).resolve().parent.parent / "tests"
if str(TESTS) not in sys.path:
    sys.path.insert(0, str(TESTS))

from oracle.slow_tower import Options, SlowRating, rate  # noqa: E402  (the tests folder is no package)

OPTIONS = Options(relative_tolerance=1e-6)


def reference_rating(
    *,
    water_temperature_K: float,
    water_flow_kg_s: float,
    air_temperature_K: float,
    air_humidity_ratio_kg_kg: float,
    dry_air_flow_kg_s: float,
    pressure_Pa: float,
    merkel_number: float,
    water_activity: float = 1.0,
) -> SlowRating:
    """Rate one counterflow tower; arguments and result names as in vaporwright.equipment.tower.rate_counterflow."""
    return rate(
        water_temperature_K=water_temperature_K,
        water_flow_kg_s=water_flow_kg_s,
        air_temperature_K=air_temperature_K,
        air_humidity_ratio_kg_kg=air_humidity_ratio_kg_kg,
        dry_air_flow_kg_s=dry_air_flow_kg_s,
        pressure_Pa=pressure_Pa,
        merkel_number=merkel_number,
        water_activity=water_activity,
        options=OPTIONS,
    )
