"""Electric heater: bad input is one clear error; overload and boiling are warnings."""

from __future__ import annotations

from typing import Any

import pytest

from vaporwright.equipment.electric_heater import (
    ElectricHeaterRating,
    highest_usual_watt_density_W_m2,
    rate_electric_heater,
    standard_overcurrent_device_A,
)
from vaporwright.foundation.errors import InputError, OutOfRange

HEATER: dict[str, Any] = {
    "rated_power_W": 36e3,
    "rated_voltage_V": 480.0,
    "supply_voltage_V": 480.0,
    "phases": 3,
    "sheath_area_m2": 1.5,
    "sheath_diameter_m": 0.0121,
    "bath_temperature_K": 338.15,
}


def _rate(**changes: Any) -> ElectricHeaterRating:
    return rate_electric_heater(**{**HEATER, **changes})


@pytest.mark.parametrize(
    ("changes", "name"),
    [
        ({"rated_power_W": 0.0}, "rated_power_W"),
        ({"rated_voltage_V": 5000.0}, "rated_voltage_V"),
        ({"supply_voltage_V": 600.0}, "supply_voltage_V"),
        ({"supply_voltage_V": float("nan")}, "supply_voltage_V"),
        ({"phases": 2}, "phases"),
        ({"sheath_area_m2": 0.0}, "sheath_area_m2"),
        ({"sheath_area_m2": 0.01}, "watt_density_W_m2"),
        ({"sheath_diameter_m": 0.0}, "diameter_m"),
        ({"bath_temperature_K": 380.0}, "bath_temperature_K"),
        ({"circuit_current_limit_A": 0.0}, "circuit_current_limit_A"),
        ({"element_count": 4}, "element_count"),
        ({"element_count": 0}, "element_count"),
        ({"element_count": 3, "circuit_current_limit_A": 20.0}, "element_count"),
        ({"fouling_resistance_m2K_W": -1.0}, "fouling_resistance_m2K_W"),
        ({"coating_resistance_m2K_W": 1.0}, "coating_resistance_m2K_W"),
        ({"site_pressure_Pa": 10.0}, "pressure_Pa"),
    ],
)
def test_out_of_range_names_the_argument(changes: dict[str, Any], name: str) -> None:
    with pytest.raises(OutOfRange) as raised:
        _rate(**changes)
    assert raised.value.name == name


def test_unknown_service_lists_the_known() -> None:
    with pytest.raises(InputError, match="clean, scaling, fluoropolymer"):
        highest_usual_watt_density_W_m2("soup")
    with pytest.raises(InputError, match="service"):
        _rate(service="soup")


def test_no_device_above_the_largest_standard_one() -> None:
    with pytest.raises(OutOfRange, match="least_A"):
        standard_overcurrent_device_A(6001.0)


def _has(rating: ElectricHeaterRating, words: str) -> bool:
    return any(words in warning for warning in rating.warnings)


def test_warnings() -> None:
    assert _rate().warnings == ()
    assert _has(_rate(service="fluoropolymer"), "above the 10 W/in2 usual for fluoropolymer")
    assert not _has(_rate(service="scaling", sheath_area_m2=1.6), "W/in2")
    assert _has(_rate(supply_voltage_V=510.0), "above the rated voltage")
    assert _has(_rate(supply_voltage_V=440.0), "84 % of its rated power")
    assert _has(_rate(bath_temperature_K=368.15), "boils there")
    assert not _has(_rate(bath_temperature_K=333.15), "boils there")
    assert _has(_rate(bath_temperature_K=353.15, site_pressure_Pa=60e3), "boils there")


def test_the_caution_names_ground_fault_and_licensed_electrician() -> None:
    assert "ground-fault" in _rate().caution
    assert "licensed electrician" in _rate().caution
