"""Units shown to people: for each quantity its SI unit, and the US customary and SI units of the reports.

A leaf: only the edge (files, charts, documents, cli) uses it. Conversions here are tested against pint.
Temperature differences, gauge pressure and prices have quantities of their own: that is where conversions go wrong.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True)
class ShownUnit:
    """shown = si / si_per_unit + offset; text is printed behind the number."""

    text: str
    si_per_unit: float
    offset: float = 0.0


@dataclass(frozen=True)
class Quantity:
    """One kind of quantity: the SI unit text (as pint reads it; "" for a pure number) and the shown units."""

    si: str
    us: ShownUnit
    metric: ShownUnit


_FT = 0.3048
_GALLON = 3.785411784e-3
_BTU = 1055.05585262
_LB = 0.45359237
_PSI = 6894.757293168
_IN_WC = 249.08891
_STANDARD_m3 = (273.15 + (60.0 - 32.0) / 1.8) / 288.15  # a cubic metre at 15 °C, brought to 60 °F


def _same(text: str, si: str = "", si_per_unit: float = 1.0) -> Quantity:
    unit = ShownUnit(text, si_per_unit)
    return Quantity(si, unit, unit)


QUANTITIES: Final[dict[str, Quantity]] = {
    "volume flow": Quantity("m**3/s", ShownUnit("gal/h", _GALLON / 3600.0), ShownUnit("L/h", 1e-3 / 3600.0)),
    "liquid flow": Quantity("m**3/s", ShownUnit("gal/min", _GALLON / 60.0), ShownUnit("L/min", 1e-3 / 60.0)),
    "evaporation": Quantity("kg/s", ShownUnit("gal/h", _GALLON * 998.2 / 3600.0), ShownUnit("kg/h", 1.0 / 3600.0)),
    "air flow": Quantity("m**3/s", ShownUnit("cfm", _FT**3 / 60.0), ShownUnit("m³/h", 1.0 / 3600.0)),
    "gas flow": Quantity("m**3/s", ShownUnit("cfh", _FT**3 / 3600.0), ShownUnit("m³/h", 1.0 / 3600.0)),
    "mass flow": Quantity("kg/s", ShownUnit("lb/h", _LB / 3600.0), ShownUnit("kg/h", 1.0 / 3600.0)),
    "temperature": Quantity("kelvin", ShownUnit("°F", 1.0 / 1.8, -459.67), ShownUnit("°C", 1.0, -273.15)),
    "temperature difference": Quantity("delta_degC", ShownUnit("°F", 1.0 / 1.8), ShownUnit("K", 1.0)),
    "mass": Quantity("kg", ShownUnit("lb", _LB), ShownUnit("kg", 1.0)),
    "length": Quantity("m", ShownUnit("ft", _FT), ShownUnit("m", 1.0)),
    "short length": Quantity("m", ShownUnit("in", _FT / 12.0), ShownUnit("mm", 1e-3)),
    "area": Quantity("m**2", ShownUnit("ft²", _FT**2), ShownUnit("m²", 1.0)),
    "volume": Quantity("m**3", ShownUnit("gal", _GALLON), ShownUnit("L", 1e-3)),
    "gas volume": Quantity("m**3", ShownUnit("ft³", _FT**3), ShownUnit("m³", 1.0)),
    # SI inside: cubic metres at 60 °F and 101.325 kPa. A standard cubic metre is one at 15 °C.
    "standard gas volume": Quantity("m**3", ShownUnit("scf", _FT**3), ShownUnit("Sm³", _STANDARD_m3)),
    "velocity": Quantity("m/s", ShownUnit("ft/min", _FT / 60.0), ShownUnit("m/s", 1.0)),
    "liquid velocity": Quantity("m/s", ShownUnit("ft/s", _FT), ShownUnit("m/s", 1.0)),
    "pressure": Quantity("Pa", ShownUnit("in. w.c.", _IN_WC), ShownUnit("Pa", 1.0)),
    "gauge pressure": Quantity("Pa", ShownUnit("psi gauge", _PSI), ShownUnit("bar gauge", 1e5)),
    "absolute pressure": Quantity("Pa", ShownUnit("psia", _PSI), ShownUnit("kPa", 1e3)),
    "mass concentration": Quantity("kg/m**3", ShownUnit("mg/L", 1e-3), ShownUnit("mg/L", 1e-3)),
    "heat": Quantity("W", ShownUnit("Btu/h", _BTU / 3600.0), ShownUnit("kW", 1e3)),
    "power": Quantity("W", ShownUnit("kW", 1e3), ShownUnit("kW", 1e3)),
    "heat flux": Quantity("W/m**2", ShownUnit("Btu/h·ft²", _BTU / 3600.0 / _FT**2), ShownUnit("kW/m²", 1e3)),
    "watt density": Quantity("W/m**2", ShownUnit("W/in²", 1.0 / (_FT / 12.0) ** 2), ShownUnit("W/cm²", 1e4)),
    "heat per volume": Quantity("J/m**3", ShownUnit("Btu/gal", _BTU / _GALLON), ShownUnit("MJ/m³", 1e6)),
    "fouling resistance": Quantity(
        "m**2*delta_degC/W",
        ShownUnit("h·ft²·°F/Btu", _FT**2 / 1.8 * 3600.0 / _BTU),
        ShownUnit("m²·K/W", 1.0),
    ),
    "thermal conductivity": Quantity(
        "W/m/delta_degC",
        ShownUnit("Btu/h·ft·°F", _BTU / 3600.0 / _FT * 1.8),
        ShownUnit("W/m·K", 1.0),
    ),
    "density": Quantity("kg/m**3", ShownUnit("lb/ft³", _LB / _FT**3), ShownUnit("kg/m³", 1.0)),
    "water loading": Quantity(
        "kg/s/m**2",
        ShownUnit("gal/min·ft²", _GALLON * 998.2 / 60.0 / _FT**2),
        ShownUnit("kg/s·m²", 1.0),
    ),
    "humidity ratio": Quantity("", ShownUnit("gr/lb", 1.0 / 7000.0), ShownUnit("g/kg", 1e-3)),
    "current": _same("A", "A"),
    "voltage": _same("V", "V"),
    "duration": _same("h", "s", 3600.0),
    "fraction": _same("%", "", 0.01),
    "ratio": _same(""),
    "pH": _same(""),
    "count": _same(""),
    "hours per day": _same("h/day"),
    "days per week": _same("days/week"),
    "energy price": Quantity("USD/J", ShownUnit("USD/MMBtu", 1.0 / (_BTU * 1e6)), ShownUnit("USD/kWh", 1.0 / 3.6e6)),
    "mass price": Quantity("USD/kg", ShownUnit("USD/1000 lb", 1.0 / (_LB * 1e3)), ShownUnit("USD/t", 1e-3)),
    "money": _same("USD", "USD"),
    "volume price": Quantity("USD/m**3", ShownUnit("USD/gal", 1.0 / _GALLON), ShownUnit("USD/m³", 1.0)),
    "angle": _same("degrees", "degree"),
    "short duration": _same("min", "s", 60.0),
    "delay": _same("s", "s"),
    "energy": _same("kWh", "J", 3.6e6),
    "insulation resistance": _same("MΩ", "ohm", 1e6),
    "resistance": _same("Ω", "ohm"),
    "conductivity": _same("µS/cm", "S/m", 1e-4),
    "sound level": _same("dB(A)"),
    "floor load": Quantity("Pa", ShownUnit("psf", _LB * 9.80665 / _FT**2), ShownUnit("kPa", 1e3)),
}

US, SI = "US", "SI"


def shown_unit(quantity: str, system: str) -> ShownUnit:
    """The unit of a quantity in a system, "US" or "SI"."""
    entry = QUANTITIES[quantity]
    return entry.us if system == US else entry.metric


def to_shown(value_si: float, quantity: str, system: str) -> float:
    """Convert an SI value to the shown unit."""
    unit = shown_unit(quantity, system)
    return value_si / unit.si_per_unit + unit.offset


def rounded(value: float, digits: int = 3) -> str:
    """A number with a few significant digits, thousands separated, never in exponent form."""
    if value == 0.0:
        return "0"
    magnitude = f"{value:.{digits - 1}e}"
    exponent = int(magnitude.split("e")[1])
    decimals = max(digits - 1 - exponent, 0)
    text = f"{float(magnitude):,.{decimals}f}"
    return text.rstrip("0").rstrip(".") if decimals > digits + 2 else text


_PLAIN = ("ratio", "fraction", "pH", "count", "hours per day", "days per week")


def show(value_si: float, quantity: str, system: str, digits: int = 3) -> str:
    """An SI value as people read it: number and unit.

    Temperatures are shown to a whole degree Fahrenheit or a tenth of a degree Celsius, with a decimal more where
    more than three digits are asked for.
    """
    unit = shown_unit(quantity, system)
    value = to_shown(value_si, quantity, system)
    if quantity == "temperature":
        decimals = (0 if system == US else 1) + (1 if digits > 3 else 0)
        return f"{value:.{decimals}f} {unit.text}"
    if quantity == "temperature difference":
        return f"{value:.1f} {unit.text}"
    text = rounded(value, digits)
    if quantity in _PLAIN and "." in text:
        text = text.rstrip("0").rstrip(".")
    return f"{text} {unit.text}".rstrip()
