"""Electric heater: currents, standard devices, watt densities, and a textbook immersion heater's surface."""

from __future__ import annotations

import math

import pytest

from support import verifies
from vaporwright.equipment.electric_heater import (
    highest_usual_watt_density_W_m2,
    rate_electric_heater,
    standard_overcurrent_device_A,
)

# Cases 3ph_36kW_208V, _240V, _480V, 3ph_60kW_480V: I = P / (sqrt(3) V), 125 % continuous load (NEC 424, 427);
# computed. kW, V, A, A
THREE_PHASE = [
    (36, 208, 99.93, 124.91),
    (36, 240, 86.60, 108.25),
    (36, 480, 43.30, 54.12),
    (60, 480, 72.17, 90.21),
]


@verifies("equipment.electric_heater.rate_electric_heater")
@pytest.mark.parametrize(("kilowatt", "volt", "ampere", "branch_ampere"), THREE_PHASE)
def test_three_phase_currents(kilowatt: float, volt: float, ampere: float, branch_ampere: float) -> None:
    rating = rate_electric_heater(
        rated_power_W=kilowatt * 1e3,
        rated_voltage_V=volt,
        supply_voltage_V=volt,
        phases=3,
        sheath_area_m2=kilowatt * 1e3 / 27900.0,
        sheath_diameter_m=0.0121,
        bath_temperature_K=338.15,
    )
    assert rating.line_current_A == pytest.approx(ampere, rel=1e-3)
    assert rating.branch_rating_A == pytest.approx(branch_ampere, rel=1e-3)
    assert rating.heat_W == rating.power_W == kilowatt * 1e3


@verifies("equipment.electric_heater.rate_electric_heater")
def test_power_goes_with_the_square_of_the_voltage() -> None:
    """A 240 V element on 208 V gives 75 % of its rating: (208/240)^2 = 0.7511, trade rule from memory."""
    rating = rate_electric_heater(
        rated_power_W=12e3,
        rated_voltage_V=240.0,
        supply_voltage_V=208.0,
        phases=3,
        sheath_area_m2=0.43,
        sheath_diameter_m=0.0121,
        bath_temperature_K=338.15,
    )
    assert rating.power_W == pytest.approx(0.7511 * 12e3, rel=1e-4)
    (low,) = [notice for notice in rating.warnings if notice.name == "supply below rated voltage"]
    assert low.figures[-1] == (pytest.approx(0.7511, rel=1e-4), "fraction")


@verifies("equipment.electric_heater.rate_electric_heater")
@pytest.mark.parametrize(
    ("kilowatt", "element_count", "circuits"),
    [
        (36, None, 1),
        (39.9, None, 1),
        (40.7, None, 2),
        (60, None, 2),
        (60, 9, 3),
        (100, None, 3),
        (100, 12, 4),
        (100, 9, 3),
    ],
)
def test_subdivision_at_48_ampere(kilowatt: float, element_count: int | None, circuits: int) -> None:
    """NEC 424.22 and 425, from memory: no subdivided load above 48 A. At 480 V 39.9 kW is 47.99 A, 40.7 kW
    is 48.95 A. 60 kW at 480 V is 72.2 A, two circuits; three groups of elements only divide into three.
    100 kW is 120.3 A, three circuits, with four groups four."""
    rating = rate_electric_heater(
        rated_power_W=kilowatt * 1e3,
        rated_voltage_V=480.0,
        supply_voltage_V=480.0,
        phases=3,
        sheath_area_m2=kilowatt * 1e3 / 27900.0,
        sheath_diameter_m=0.0121,
        bath_temperature_K=338.15,
        element_count=element_count,
    )
    assert rating.circuits == circuits
    assert rating.circuit_current_A <= 48.0
    assert rating.circuit_current_A * rating.circuits == pytest.approx(rating.line_current_A)
    assert rating.overcurrent_device_A <= 60.0


@verifies("equipment.electric_heater.rate_electric_heater")
def test_surface_of_a_textbook_immersion_heater() -> None:
    """Som, Introduction to Heat Transfer, example 8.8 (read in a stored copy): 8 mm by 300 mm, 450 W,
    water at 20 degC; the surface comes out near 64 degC, with properties of two or three digits."""
    rating = rate_electric_heater(
        rated_power_W=450.0,
        rated_voltage_V=120.0,
        supply_voltage_V=120.0,
        phases=1,
        sheath_area_m2=math.pi * 0.008 * 0.3,
        sheath_diameter_m=0.008,
        bath_temperature_K=293.15,
    )
    assert rating.surface_temperature_K - 273.15 == pytest.approx(64.0, abs=1.0)


@verifies("equipment.electric_heater.standard_overcurrent_device_A")
@pytest.mark.parametrize(
    ("least", "device"),
    [(12.0, 15.0), (60.0, 60.0), (60.1, 70.0), (90.21, 100.0), (108.25, 110.0), (124.91, 125.0)],
)
def test_standard_overcurrent_devices(least: float, device: float) -> None:
    """NEC 240.6(A), from memory."""
    assert standard_overcurrent_device_A(least) == device


@verifies("equipment.electric_heater.highest_usual_watt_density_W_m2")
@pytest.mark.parametrize(("service", "watt_in2"), [("clean", 30.0), ("scaling", 15.0), ("fluoropolymer", 10.0)])
def test_usual_watt_densities(service: str, watt_in2: float) -> None:
    """Common practice, no source. One W/in2 is 1550.0 W/m2."""
    assert highest_usual_watt_density_W_m2(service) == pytest.approx(watt_in2 * 1550.0, rel=1e-4)
