"""Units shown to people, against pint's own definitions (its default registry, not the program's)."""

import math

import pint
import pytest

from vaporwright.display_units import QUANTITIES, SI, US, rounded, show, to_shown

PINT = {
    "gal/h": "gallon/hour",
    "L/h": "liter/hour",
    "gal/min": "gallon/minute",
    "L/min": "liter/minute",
    "cfm": "foot**3/minute",
    "cfh": "foot**3/hour",
    "m³/h": "m**3/hour",
    "lb/h": "pound/hour",
    "kg/h": "kg/hour",
    "lb": "pound",
    "kg": "kg",
    "psf": "pound_force/foot**2",
    "kWh": "kW*hour",
    "MΩ": "megaohm",
    "Ω": "ohm",
    "µS/cm": "microsiemens/cm",
    "dB(A)": "dimensionless",
    "min": "minute",
    "s": "second",
    "degrees": "degree",
    "ft": "foot",
    "m": "m",
    "in": "inch",
    "mm": "mm",
    "ft²": "foot**2",
    "m²": "m**2",
    "gal": "gallon",
    "ft³": "foot**3",
    "m³": "m**3",
    "scf": "foot**3",
    "Sm³": "((60 + 459.67) / 1.8 / 288.15) * m**3",  # from 15 °C to 60 °F
    "L": "liter",
    "ft/min": "foot/minute",
    "ft/s": "foot/second",
    "m/s": "m/s",
    "in. w.c.": "inch_H2O",
    "Pa": "Pa",
    "psi gauge": "psi",
    "bar gauge": "bar",
    "psia": "psi",
    "kPa": "kPa",
    "mg/L": "mg/liter",
    "Btu/h": "Btu_it/hour",
    "kW": "kW",
    "Btu/h·ft²": "Btu_it/hour/foot**2",
    "kW/m²": "kW/m**2",
    "W/in²": "W/inch**2",
    "W/cm²": "W/cm**2",
    "Btu/gal": "Btu_it/gallon",
    "MJ/m³": "MJ/m**3",
    "h·ft²·°F/Btu": "hour*foot**2*delta_degF/Btu_it",
    "m²·K/W": "m**2*kelvin/W",
    "kg/s·m²": "kg/s/m**2",
    "Btu/h·ft·°F": "Btu_it/hour/foot/delta_degF",
    "W/m·K": "W/m/kelvin",
    "lb/ft³": "pound/foot**3",
    "kg/m³": "kg/m**3",
    "gr/lb": "grain/pound",
    "g/kg": "g/kg",
    "A": "A",
    "V": "V",
    "h": "hour",
    "%": "percent",
    "": "dimensionless",
    "USD": "USD",
    "USD/MMBtu": "USD/(1e6*Btu_it)",
    "USD/kWh": "USD/kWh",
    "USD/1000 lb": "USD/(1000*pound)",
    "USD/t": "USD/metric_ton",
    "USD/gal": "USD/gallon",
    "USD/m³": "USD/m**3",
}
# Units with a convention of ours: water of 998.2 kg/m3 for a volume of water, and numbers of hours and days.
OURS = {"h/day", "days/week", "gal/min·ft²"}


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry:
    registry = pint.UnitRegistry()
    registry.define("USD = [currency]")
    registry.define("Btu_it = 1055.05585262 * joule")  # the International Table Btu; pint's default one is rounded
    return registry


@pytest.mark.parametrize("system", [US, SI])
@pytest.mark.parametrize("quantity", QUANTITIES)
def test_shown_units_agree_with_pint(registry: pint.UnitRegistry, quantity: str, system: str) -> None:
    entry = QUANTITIES[quantity]
    unit = entry.us if system == US else entry.metric
    if unit.text in OURS or (quantity == "evaporation" and system == US):
        return
    if quantity == "temperature":
        theirs = registry.Quantity(350.0, "kelvin").to("degF" if system == US else "degC").magnitude
        assert math.isclose(to_shown(350.0, quantity, system), theirs, rel_tol=1e-12)
        return
    name = "delta_degF" if unit.text == "°F" else "delta_degC" if unit.text == "K" else PINT[unit.text]
    si = entry.si or ("second" if quantity == "duration" else "dimensionless")
    per_unit = registry.Quantity(1.0, name) if "(" not in name else registry(name)
    # inches of water: 249.08891 Pa by convention (water of 1,000 kg/m3)
    assert math.isclose(unit.si_per_unit, per_unit.to(si).magnitude, rel_tol=1e-8)


def test_a_volume_of_water_is_998_2_kilograms_per_cubic_metre(registry: pint.UnitRegistry) -> None:
    mass = registry.Quantity(1.0, "gallon/hour").to("m**3/s").magnitude * 998.2
    assert math.isclose(QUANTITIES["evaporation"].us.si_per_unit, mass, rel_tol=1e-12)
    loading = registry.Quantity(1.0, "gallon/minute/foot**2").to("m/s").magnitude * 998.2
    assert math.isclose(QUANTITIES["water loading"].us.si_per_unit, loading, rel_tol=1e-12)


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [(0.0, 3, "0"), (1234.5, 3, "1,230"), (0.012345, 3, "0.0123"), (99.96, 3, "100"), (-5.5, 2, "-5.5")],
)
def test_rounded(value: float, digits: int, text: str) -> None:
    assert rounded(value, digits) == text


def test_temperatures_and_differences_are_shown_apart() -> None:
    assert show(310.92777778, "temperature", US) == "100 °F"
    assert show(5.0 / 9.0, "temperature difference", US) == "1.0 °F"
    assert show(293.15, "temperature", SI) == "20.0 °C"
