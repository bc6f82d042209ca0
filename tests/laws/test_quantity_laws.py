"""Laws of quantity texts: a value written in any unit comes back; any other text gives an InputError, nothing else."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vaporwright.display_units import QUANTITIES, SI, US, shown_unit
from vaporwright.files.quantities import EXAMPLES, NUMBER_QUANTITIES, parse_quantity
from vaporwright.foundation.errors import InputError

# Exact definitions of the units, written out here apart from the program's table: SI value of one unit.
INCH, FOOT, POUND, BTU = 0.0254, 0.3048, 0.45359237, 1055.05585262
GALLON = 231 * INCH**3
YEAR = 365.25 * 86400
UNITS = {
    "volume flow": {
        "gal/h": GALLON / 3600,
        "gal/day": GALLON / 86400,
        "gal/week": GALLON / 604800,
        "gal/month": 12 * GALLON / YEAR,
        "gallons per year": GALLON / YEAR,
        "gph": GALLON / 3600,
        "L/h": 1e-3 / 3600,
        "m3/day": 1 / 86400,
    },
    "liquid flow": {"gal/min": GALLON / 60, "gpm": GALLON / 60, "GPM": GALLON / 60, "L/s": 1e-3, "m³/h": 1 / 3600},
    "air flow": {"cfm": FOOT**3 / 60, "ft3/min": FOOT**3 / 60, "m3/s": 1.0, "cu ft/min": FOOT**3 / 60},
    "mass flow": {"lb/h": POUND / 3600, "lbs/hr": POUND / 3600, "kg/h": 1 / 3600},
    "temperature difference": {"degF": 5 / 9, "°F": 5 / 9, "delta_degF": 5 / 9, "degC": 1.0, "K": 1.0},
    "length": {"ft": FOOT, "in": INCH, "m": 1.0, "mm": 1e-3},
    "gas volume": {"ft3": FOOT**3, "cf": FOOT**3, "m³": 1.0},
    "standard gas volume": {"scf": FOOT**3, "std ft³": FOOT**3, "Sm³": 519.67 / 1.8 / 288.15},
    "area": {"ft2": FOOT**2, "sq ft": FOOT**2, "ft²": FOOT**2, "m2": 1.0, "in^2": INCH**2},
    "pressure": {"inH2O": 249.08891, "in. w.c.": 249.08891, "in wc": 249.08891, "Pa": 1.0, "mbar": 100.0},
    "gauge pressure": {"psi": POUND * 9.80665 / INCH**2, "psig": POUND * 9.80665 / INCH**2, "bar": 1e5, "kPa g": 1e3},
    "absolute pressure": {"psia": POUND * 9.80665 / INCH**2, "kPa": 1e3, "inHg": 3386.389, "bar abs": 1e5},
    "mass concentration": {"mg/L": 1e-3, "ppm": 1e-3, "g/L": 1.0, "gr/gal": POUND / 7000 / GALLON},
    "heat": {"Btu/h": BTU / 3600, "kBtu/h": BTU / 3.6, "MMBtu/h": BTU / 3.6e-3, "kW": 1e3},
    "power": {"kW": 1e3, "hp": 550 * FOOT * POUND * 9.80665},
    "watt density": {"W/in2": 1 / INCH**2, "W/cm2": 1e4},
    "heat flux": {"Btu/h/ft2": BTU / 3600 / FOOT**2, "Btu/h·ft²": BTU / 3600 / FOOT**2, "W/m²": 1.0},
    "fouling resistance": {
        "h*ft2*degF/Btu": 3600 * FOOT**2 / 1.8 / BTU,
        "h·ft²·°F/Btu": 3600 * FOOT**2 / 1.8 / BTU,
        "m2*K/W": 1.0,
    },
    "thermal conductivity": {"Btu/h/ft/degF": BTU / 3600 / FOOT * 1.8, "W/m·K": 1.0, "W/(m*K)": 1.0},
    "water loading": {"gal/min/ft2": GALLON * 998.2 / 60 / FOOT**2, "gpm/ft2": GALLON * 998.2 / 60 / FOOT**2},
    "energy price": {
        "USD/MMBtu": 1e-6 / BTU,
        "USD/therm": 1e-5 / BTU,
        "USD/kWh": 1 / 3.6e6,
        "dollars per therm": 1e-5 / BTU,
    },
    "mass price": {"USD/1000 lb": 1e-3 / POUND, "USD/1,000 lb": 1e-3 / POUND, "USD/t": 1e-3},
    "duration": {"h": 3600.0, "min": 60.0, "s": 1.0},
    "fraction": {"": 1.0, "%": 0.01, "percent": 0.01},
    "hours per day": {"": 1.0, "h/day": 1.0},
}
CASES = [(quantity, unit, factor) for quantity, units in UNITS.items() for unit, factor in units.items()]


def read(text: str, quantity: str) -> float:
    return parse_quantity(text, quantity, where="job.toml", key="a.key")


@pytest.mark.parametrize(("quantity", "unit", "factor"), CASES)
@settings(max_examples=20)
@given(value_si=st.floats(1e-9, 1e9))
def test_a_value_written_in_any_unit_comes_back(quantity: str, unit: str, factor: float, value_si: float) -> None:
    assert math.isclose(read(f"{value_si / factor!r} {unit}", quantity), value_si, rel_tol=1e-12)


@given(kelvin=st.floats(200.0, 1500.0))
def test_temperatures_come_back_from_every_scale(kelvin: float) -> None:
    for text in (
        f"{kelvin * 1.8 - 459.67!r} degF",
        f"{kelvin * 1.8 - 459.67!r} °F",
        f"{kelvin - 273.15!r} degC",
        f"{kelvin!r} K",
    ):
        assert math.isclose(read(text, "temperature"), kelvin, rel_tol=1e-12)


@pytest.mark.parametrize("quantity", QUANTITIES)
@pytest.mark.parametrize("system", [US, SI])
def test_what_reports_show_can_be_typed_in_again(quantity: str, system: str) -> None:
    unit = shown_unit(quantity, system)
    if quantity == "water loading" and system == SI:
        assert unit.text == "kg/s·m²"
    assert math.isclose(read(f"3.7 {unit.text}", quantity), (3.7 - unit.offset) * unit.si_per_unit, rel_tol=2e-9)


@given(text=st.text(max_size=30), quantity=st.sampled_from(sorted(QUANTITIES)))
def test_any_text_is_a_finite_number_or_an_input_error(text: str, quantity: str) -> None:
    for attempt in (text, f"5 {text}", f"5 gal{text}", f"5 /{text}"):
        try:
            value = read(attempt, quantity)
        except InputError:
            continue
        assert math.isfinite(value)


@given(
    words=st.lists(
        st.sampled_from(
            ["gal", "h", "/", "*", "**", "(", ")", "2", "3", "degF", "K", "·", "²", "ft", "per", "-", "1e9"]
        ),
        max_size=8,
    ),
    quantity=st.sampled_from(sorted(QUANTITIES)),
)
def test_any_arrangement_of_units_is_a_finite_number_or_an_input_error(words: list[str], quantity: str) -> None:
    for text in ("5 " + " ".join(words), "5 " + "".join(words)):
        try:
            value = read(text, quantity)
        except InputError:
            continue
        assert math.isfinite(value)


def test_every_quantity_has_examples_that_can_be_read() -> None:
    assert EXAMPLES.keys() == QUANTITIES.keys()
    assert NUMBER_QUANTITIES.keys() <= QUANTITIES.keys()
    for quantity, examples in EXAMPLES.items():
        for example in examples:
            assert read(example, quantity) > 0.0
