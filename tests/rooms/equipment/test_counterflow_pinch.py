"""The search over the height, where it must agree with the march over water temperature and with itself."""

from __future__ import annotations

import pytest

from vaporwright.equipment.counterflow_pinch import PinchedOutlet, solve_pinched
from vaporwright.equipment.counterflow_solver import solve_counterflow
from vaporwright.equipment.tower_kernels import Bottom
from vaporwright.foundation.kernels import compiled
from vaporwright.properties.moist_air import enthalpy_J_kg

SEA_LEVEL_Pa = 101325.0


def lowest(ratio: float, air_K: float, humidity: float) -> Bottom:
    air_J_kg = enthalpy_J_kg(air_K, humidity, SEA_LEVEL_Pa)
    return Bottom(air_K - 30.0, ratio, ratio, air_J_kg, humidity, air_K, SEA_LEVEL_Pa, 1.0)


@pytest.mark.parametrize(
    ("hot_K", "ratio", "merkel"), [(338.15, 3.0, 0.25), (323.15, 1.5, 0.8), (353.15, 6.0, 0.1), (345.15, 2.0, 0.5)]
)
def test_both_marches_find_one_outlet(hot_K: float, ratio: float, merkel: float) -> None:
    bottom = lowest(ratio, 293.15, 0.0073)
    over_height = solve_pinched(bottom, hot_K, merkel)
    given = (hot_K, ratio, bottom.air_enthalpy_J_kg, 0.0073, 293.15, 1.0, SEA_LEVEL_Pa, merkel, 1.0)
    over_temperature = solve_counterflow(*given)
    assert over_height.water_out_temperature_K == pytest.approx(over_temperature.water_out_temperature_K, abs=1e-2)
    picked_up = over_temperature.air_out_humidity_ratio_kg_kg - 0.0073
    assert over_height.picked_up_kg_kg == pytest.approx(picked_up, rel=4e-4)


def test_more_fill_than_a_pinch_can_use_changes_nothing() -> None:
    bottom = lowest(20.0, 268.15, 0.001)
    outlets: list[PinchedOutlet] = [solve_pinched(bottom, 323.15, merkel) for merkel in (2.0, 3.0, 5.0)]
    assert all(outlet.found for outlet in outlets)
    for more in outlets[1:]:
        assert more.water_out_temperature_K == pytest.approx(outlets[0].water_out_temperature_K, abs=1e-4)
        assert more.picked_up_kg_kg == pytest.approx(outlets[0].picked_up_kg_kg, rel=1e-4)


def test_compiled_finds_the_same_pinched_outlet() -> None:
    bottom = lowest(20.0, 268.15, 0.001)
    python, twin = solve_pinched(bottom, 323.15, 3.0), compiled(solve_pinched)(bottom, 323.15, 3.0)
    # Where the last digit of the outlet ends the search, the arithmetic's last digits show in what is picked up.
    assert tuple(twin) == pytest.approx(tuple(python), rel=2e-5)
