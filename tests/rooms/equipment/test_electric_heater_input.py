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
from vaporwright.foundation.notice import Notice

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


def _notice(rating: ElectricHeaterRating, name: str) -> Notice | None:
    return next((notice for notice in rating.warnings if notice.name == name), None)


def test_warnings() -> None:
    assert _rate().warnings == ()
    coated = _notice(_rate(service="fluoropolymer"), "high watt density")
    assert coated is not None
    assert "usual for fluoropolymer service" in coated.text
    # 36 kW on 1.5 m2; 10 W/in2 of 25.4 mm
    assert [value for value, _ in coated.figures] == pytest.approx([24e3, 15500.03])
    assert {quantity for _, quantity in coated.figures} == {"watt density"}
    assert not _notice(_rate(service="scaling", sheath_area_m2=1.6), "high watt density")
    high = _notice(_rate(supply_voltage_V=510.0), "supply above rated voltage")
    assert high is not None
    assert high.figures == ((510.0, "voltage"), (480.0, "voltage"), (pytest.approx(0.0625), "fraction"))
    low = _notice(_rate(supply_voltage_V=440.0), "supply below rated voltage")
    assert low is not None
    assert low.figures == ((440.0, "voltage"), (480.0, "voltage"), (pytest.approx(0.840278), "fraction"))
    assert not _rate(supply_voltage_V=500.0).warnings
    assert not _rate(supply_voltage_V=460.0).warnings
    boils = _notice(_rate(bath_temperature_K=368.15), "boiling on sheath")
    assert boils is not None
    surface, boiling = boils.figures
    assert surface == (_rate(bath_temperature_K=368.15).surface_temperature_K, "temperature")
    assert boiling == (pytest.approx(373.12, abs=0.05), "temperature")  # steam tables at 101.325 kPa
    assert not _notice(_rate(bath_temperature_K=333.15), "boiling on sheath")
    assert _notice(_rate(bath_temperature_K=353.15, site_pressure_Pa=60e3), "boiling on sheath")


def test_each_warning_takes_the_figures_that_it_has() -> None:
    def bare(value: float, quantity: str) -> str:
        return f"{value:.4g} ({quantity})"

    low = _notice(_rate(supply_voltage_V=440.0), "supply below rated voltage")
    assert low is not None
    assert low.words(bare) == (
        "On a supply of 440 (voltage) instead of 480 (voltage) the heater gives 0.8403 (fraction) of its rated power."
    )
    for changes in ({"supply_voltage_V": 510.0}, {"service": "fluoropolymer"}, {"bath_temperature_K": 368.15}):
        for notice in _rate(**changes).warnings:
            words = notice.words(bare)
            assert "{" not in words
            assert words.count("(") >= len(notice.figures)


def test_the_caution_names_ground_fault_and_licensed_electrician() -> None:
    assert "ground-fault" in _rate().caution
    assert "licensed electrician" in _rate().caution
