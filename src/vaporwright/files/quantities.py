"""Quantity strings of job and catalogue files ("26 gal/h", "155 degF", "0.25 inH2O") to SI floats, through pint.

The registry holds only the units declared here, so that a misread name is an error and not a centifermi.
What trips people has its own rule: temperature against temperature difference, gauge against absolute pressure,
standard against actual flow, ambiguous thousands of Btu, Fahrenheit and Celsius without "deg".
"""

from __future__ import annotations

import difflib
import math
import re
from functools import cache
from typing import Any, Final, NamedTuple

from vaporwright.display_units import QUANTITIES, rounded
from vaporwright.foundation.errors import InputError

# Name, definition, other spellings. Base units first. One month is a twelfth of a year of 365.25 days.
_UNITS: Final[tuple[tuple[str, str, str], ...]] = (
    ("m", "[length]", "meter meters metre metres"),
    ("kg", "[mass]", "kilogram kilograms"),
    ("s", "[time]", "sec second seconds"),
    ("K", "[temperature]; offset: 0", "kelvin degK"),
    ("A", "[current]", "amp amps ampere amperes"),
    ("USD", "[currency]", "usd dollar dollars"),
    ("degC", "K; offset: 273.15", "celsius Celsius degreeC"),
    ("degF", "5/9 * K; offset: 233.15 + 200/9", "fahrenheit Fahrenheit degreeF"),
    ("degR", "5/9 * K; offset: 0", "rankine Rankine"),
    ("degree", "0.017453292519943295", "degrees"),
    ("km", "1000 * m", ""),
    ("cm", "0.01 * m", ""),
    ("mm", "0.001 * m", ""),
    ("ft", "0.3048 * m", "foot feet"),
    ("in", "0.0254 * m", "inch inches"),
    ("g", "0.001 * kg", "gram grams"),
    ("mg", "1e-6 * kg", ""),
    ("t", "1000 * kg", "tonne tonnes"),
    ("lb", "0.45359237 * kg", "lbs pound pounds"),
    ("klb", "1000 * lb", ""),
    ("short_ton", "2000 * lb", ""),
    ("gr", "lb / 7000", "grain grains"),
    ("min", "60 * s", "minute minutes"),
    ("h", "3600 * s", "hr hrs hour hours"),
    ("day", "86400 * s", "d days"),
    ("week", "7 * day", "wk weeks"),
    ("year", "365.25 * day", "yr years"),
    ("month", "year / 12", "mo months"),
    ("L", "0.001 * m**3", "l liter liters litre litres"),
    ("mL", "1e-6 * m**3", "ml"),
    ("gal", "231 * in**3", "gals gallon gallons"),
    ("kgal", "1000 * gal", ""),
    ("imperial_gallon", "4.54609e-3 * m**3", "imperial_gallons"),
    ("bbl", "42 * gal", "barrel barrels"),
    ("gpm", "gal / min", "GPM"),
    ("gph", "gal / h", "GPH"),
    ("gpd", "gal / day", "GPD"),
    ("lpm", "L / min", ""),
    ("cf", "ft**3", ""),
    ("Mcf", "1000 * ft**3", "MCF"),
    # Gas at standard conditions, as cubic metres at 60 degF; a standard cubic metre is one at 15 degC.
    ("standard_cubic_foot", "ft**3", ""),
    ("standard_cubic_metre", "(459.67 + 60) / 1.8 / 288.15 * m**3", ""),
    ("cfm", "ft**3 / min", "CFM acfm ACFM"),
    ("cfh", "ft**3 / h", "CFH"),
    ("fpm", "ft / min", "FPM"),
    ("N", "kg * m / s**2", ""),
    ("Pa", "N / m**2", ""),
    ("hPa", "100 * Pa", ""),
    ("kPa", "1000 * Pa", ""),
    ("MPa", "1e6 * Pa", ""),
    ("bar", "1e5 * Pa", ""),
    ("mbar", "100 * Pa", ""),
    ("atm", "101325 * Pa", ""),
    ("psi", "0.45359237 * 9.80665 * N / in**2", "PSI"),
    ("psf", "0.45359237 * 9.80665 * N / ft**2", ""),
    ("inH2O", "249.08891 * Pa", "inWC inwc inWG"),
    ("ftH2O", "12 * inH2O", ""),
    ("inHg", "3386.389 * Pa", ""),
    ("J", "N * m", ""),
    ("kJ", "1000 * J", ""),
    ("MJ", "1e6 * J", ""),
    ("GJ", "1e9 * J", ""),
    ("W", "J / s", "watt watts"),
    ("kW", "1000 * W", "KW"),
    ("MW", "1e6 * W", ""),
    ("hp", "550 * ft * 0.45359237 * 9.80665 * N / s", "HP"),
    ("kWh", "1000 * W * h", "KWH kWhr"),
    ("MWh", "1e6 * W * h", ""),
    ("Btu", "1055.05585262 * J", "BTU btu"),
    ("kBtu", "1000 * Btu", "kBTU"),
    ("MMBtu", "1e6 * Btu", "MMBTU mmBtu"),
    ("therm", "1e5 * Btu", "therms thm"),
    ("V", "W / A", "volt volts"),
    ("kV", "1000 * V", ""),
    ("ohm", "V / A", "ohms"),
    ("kohm", "1000 * ohm", "kilohm kilohms"),
    ("Mohm", "1e6 * ohm", "megohm megohms"),
    ("Gohm", "1e9 * ohm", "gigohm gigohms"),
    ("S", "A / V", "siemens"),
    ("mS", "0.001 * S", ""),
    ("uS", "1e-6 * S", ""),
)

# Names that two trades read differently, or that mean something else than their writer thinks.
_REFUSED: Final[dict[str, str]] = {
    "F": 'write "degF" for degrees Fahrenheit',
    "C": 'write "degC" for degrees Celsius',
    "f": 'write "degF" for degrees Fahrenheit',
    "c": 'write "degC" for degrees Celsius',
    "MBH": "MBH is read as a thousand or as a million Btu/h; write Btu/h, kBtu/h or MMBtu/h",
    "MBtu": "MBtu is read as a thousand or as a million Btu; write kBtu or MMBtu",
    "MBTU": "MBTU is read as a thousand or as a million Btu; write kBtu or MMBtu",
    "ton": "a ton is 2,000 lb here and 1,000 kg there; write short_ton, lb or t",
    "tons": "a ton is 2,000 lb here and 1,000 kg there; write short_ton, lb or t",
    "scfm": "flow at standard conditions is another quantity; write actual flow in cfm",
    "SCFM": "flow at standard conditions is another quantity; write actual flow in cfm",
    "scfh": "flow at standard conditions is another quantity; write actual flow in cfh",
}

EXAMPLES: Final[dict[str, tuple[str, ...]]] = {
    "volume flow": ("26 gal/h", "6000 gal/month", "100 L/h"),
    "liquid flow": ("60 gal/min", "4 L/s"),
    "evaporation": ("200 lb/h", "95 kg/h"),
    "air flow": ("2200 cfm", "3700 m3/h"),
    "gas flow": ("400 cfh", "11 m3/h"),
    "mass flow": ("500 lb/h", "220 kg/h"),
    "mass": ("800 lb", "360 kg"),
    "floor load": ("150 psf", "7 kPa"),
    "temperature": ("155 degF", "68 degC"),
    "temperature difference": ("5 degF", "3 K"),
    "length": ("700 ft", "210 m"),
    "short length": ("4 in", "100 mm"),
    "area": ("6 ft2", "0.55 m2"),
    "volume": ("275 gal", "1000 L"),
    "gas volume": ("60 ft3", "1.7 m3"),
    "standard gas volume": ("65 scf", "1.8 Sm3"),
    "velocity": ("30 ft/min", "0.15 m/s"),
    "liquid velocity": ("4 ft/s", "1.2 m/s"),
    "pressure": ("0.25 inH2O", "60 Pa"),
    "gauge pressure": ("15 psi", "1 bar"),
    "absolute pressure": ("14.5 psia", "100 kPa", "29.5 inHg"),
    "mass concentration": ("4000 mg/L", "4 g/L"),
    "heat": ("300000 Btu/h", "90 kW"),
    "power": ("90 kW", "2 hp"),
    "heat flux": ("8000 Btu/h/ft2", "25 kW/m2"),
    "watt density": ("15 W/in2", "2.3 W/cm2"),
    "heat per volume": ("9500 Btu/gal", "2600 MJ/m3"),
    "fouling resistance": ("0.001 h*ft2*degF/Btu", "0.0002 m2*K/W"),
    "water loading": ("8 gal/min/ft2", "5.4 kg/s/m2"),
    "humidity ratio": ("60 gr/lb", "0.0086"),
    "thermal conductivity": ("0.02 Btu/h/ft/degF", "0.04 W/m/K"),
    "density": ("0.075 lb/ft3", "1.2 kg/m3"),
    "current": ("30 A",),
    "voltage": ("480 V",),
    "duration": ("8 h", "90 s"),
    "short duration": ("12 min", "90 s"),
    "delay": ("4 s", "2 min"),
    "angle": ("36 degrees",),
    "fraction": ("0.85", "85 %"),
    "ratio": ("10",),
    "pH": ("8.5",),
    "count": ("2",),
    "hours per day": ("16", "16 h/day"),
    "days per week": ("5", "5 days/week"),
    "energy price": ("12 USD/MMBtu", "1.1 USD/therm", "0.12 USD/kWh"),
    "mass price": ("14 USD/1000 lb", "30 USD/t"),
    "money": ("1200 USD",),
    "volume price": ("0.45 USD/gal", "120 USD/m3"),
    "energy": ("150 kWh", "9 therm"),
    "insulation resistance": ("50 Mohm",),
    "resistance": ("0.1 ohm",),
    "conductivity": ("450 uS/cm", "1.2 mS/cm"),
    "sound level": ("78 dB(A)",),
}

# Quantities that are pure numbers, with what may stand behind the number, and the factor that it means.
NUMBER_QUANTITIES: Final[dict[str, dict[str, float]]] = {
    "fraction": {"": 1.0, "%": 0.01, "percent": 0.01},
    "ratio": {"": 1.0, "times": 1.0, "to 1": 1.0},
    "pH": {"": 1.0},
    "count": {"": 1.0},
    "humidity ratio": {
        "": 1.0,
        "kg/kg": 1.0,
        "lb/lb": 1.0,
        "g/kg": 1e-3,
        "gr/lb": 1.0 / 7000.0,
        "grains/lb": 1.0 / 7000.0,
    },
    "hours per day": dict.fromkeys(("", "h", "hours", "h/day", "h/d", "hours/day", "hours per day"), 1.0),
    "days per week": dict.fromkeys(("", "days", "days/week", "d/week", "days per week"), 1.0),
    "sound level": dict.fromkeys(("dB(A)", "dBA", "dB A"), 1.0),
}

WATER_AT_20_degC_kg_m3: Final = 998.2  # as in display_units: volume of water to mass of water
# Other kinds of unit that a quantity may be given in, with the SI value that one SI unit of them means.
_ALSO: Final[dict[str, tuple[tuple[str, float], ...]]] = {
    "water loading": (("m/s", WATER_AT_20_degC_kg_m3),),
    "evaporation": (("m**3/s", WATER_AT_20_degC_kg_m3),),
}
# The unit texts in which display_units names SI, in names of this registry.
_SI_NAMES: Final = {"kelvin": "K", "delta_degC": "delta_degC"}

_IN_WORDS: Final = {
    "evaporation": "evaporation rate",
    "heat": "heat flow",
    "count": "whole number",
    "hours per day": "number of hours per day",
    "days per week": "number of days per week",
}

_NUMBER = re.compile(r"\s*([+-]?(?:\d{1,3}(?:,\d{3})+(?![\d,])|\d+|(?=\.\d))(?:\.\d*)?(?:[eE][+-]?\d+)?)\s*(.*)", re.S)
_FRACTION = re.compile(r"\s*(?:(\d+)[ -]+)?(\d+)/([1-9]\d*)(?=\s*[A-Za-z])\s*(.*)", re.S)
_NAME = re.compile(r"[A-Za-z%$µ°][A-Za-z0-9%$_°]*")
_RESPELT: Final[tuple[tuple[re.Pattern[str], str], ...]] = tuple(
    (re.compile(pattern), text)
    for pattern, text in (
        (r"\bin(?:ches)?\.?\s*(?:of\s+)?(?:w\.\s?c\.?|w\.\s?g\.?|wc\b|WC\b|wg\b|water\b|H2O\b)", "inH2O"),
        (r"\bft\.?\s*(?:of\s+)?(?:w\.\s?c\.?|wc\b|water\b|H2O\b)", "ftH2O"),
        (r"(?:°|º|\bdegrees?\s|\bdeg\.?\s)\s*([FCRK])\b", r"deg\1"),
        ("℉", "degF"),
        ("℃", "degC"),
        (r"\bsq\.?\s?(ft|in|m)\b", r"\1**2"),
        (r"\bcu\.?\s?(ft|in|m)\b", r"\1**3"),
        (r"/\s*1,?000\s*(lb|gal)\b", r"/k\1"),
        (r"\bper\b", "/"),
        ("²", "**2"),
        ("³", "**3"),
        (r"\^", "**"),
        (r"\b((?!H2O)[A-Za-z]+)([23])\b", r"\1**\2"),
        ("⋅", "·"),
        ("[\u03a9\u2126]", "ohm"),  # the Greek letter, and the sign of its own
        ("[\u00b5\u03bc]S", "uS"),  # the sign of its own, and the Greek letter
    )
)
_PRODUCT = re.compile(r"[^\s/*()·]+(?:\*\*[23])?(?:\s*·\s*[^\s/*()·]+(?:\*\*[23])?)+")
_GAUGE = re.compile(r"^(.*?)(?:\s+(?:gauge|g)|(?<=psi)g|(?<=PSI)G|(?<=bar)g|(?<=kPa)g)$")
_STANDARD_FOOT = re.compile(r"scf|SCF|(?:std\.?|standard) ?(?:cf|cu\.? ?ft|ft(?:3|\^3|³))")
_STANDARD_METRE = re.compile(r"(?:S|s|(?:std\.?|standard) ?)(?:cu\.? ?m|m(?:3|\^3|³))")
_NORMAL_METRE = re.compile(r"Nm(?:3|\^3|³)")
_ABSOLUTE = re.compile(r"^(.*?)(?:\s+(?:absolute|abs\.?|a)|(?<=psi)a|(?<=PSI)A|(?<=bar)a|(?<=kPa)a)$")


class TypedQuantity(NamedTuple):
    """A quantity as typed and as understood."""

    text: str
    unit_text: str  # as typed; "" for a pure number
    unit: str  # in the registry's spelling
    value_si: float


class _Fault(Exception):
    """What is wrong with a text; becomes an InputError where file and key are known."""


def parse_quantity(text: str, quantity: str, *, where: str, key: str) -> float:
    """The SI value of a quantity string.

    Args:
        text: number and unit as typed, such as "26 gal/h".
        quantity: a name of display_units.QUANTITIES.
        where, key: file and key, for the message.
    Raises: InputError saying what is wrong with the text and giving examples of what is allowed.
    """
    return read_quantity(text, quantity, where=where, key=key).value_si


def read_quantity(text: str, quantity: str, *, where: str, key: str) -> TypedQuantity:
    """As parse_quantity, keeping text and unit, so that limits can be told in the unit that was typed."""
    try:
        number, unit_text = _split(text)
        if quantity in NUMBER_QUANTITIES:
            return _pure_number(text, number, unit_text, quantity)
        unit = _understood_unit(unit_text, quantity)
        return TypedQuantity(text, unit_text, unit, _to_si(number, unit, quantity))
    except _Fault as fault:
        raise InputError(where, key, f'"{text}" {fault}', allowed_examples(quantity)) from None


def unit_line(unit_text: str, quantity: str, *, where: str, key: str) -> tuple[float, float]:
    """SI value of one unit, and of the unit's zero: SI value = number times the first, plus the second.

    Raises: InputError as parse_quantity does, for a unit that stands apart from its numbers: a column, a register.
    """
    try:
        if quantity in NUMBER_QUANTITIES:
            return _pure_number(unit_text, 1.0, unit_text, quantity).value_si, 0.0
        return _line(_understood_unit(unit_text, quantity), quantity)
    except _Fault as fault:
        raise InputError(where, key, f'"{unit_text}" {fault}', allowed_examples(quantity)) from None


def allowed_examples(quantity: str) -> str:
    """Examples of a quantity in words, for messages and comments."""
    quoted = [f'"{example}"' for example in EXAMPLES[quantity]]
    return f"{_article(quantity)} such as " + " or ".join(quoted)


def shown_in_typed_unit(value_si: float, typed: TypedQuantity, quantity: str) -> str:
    """An SI value in the unit of a typed quantity, rounded to what a message needs."""
    if quantity in NUMBER_QUANTITIES:
        return f"{value_si / NUMBER_QUANTITIES[quantity][typed.unit]:.6g} {typed.unit_text}".rstrip()
    per_unit, at_zero = _line(typed.unit, quantity)
    value = (value_si - at_zero) / per_unit
    digits = f"{value:.1f}" if quantity.startswith("temperature") else rounded(value, 4)
    whole, point, decimals = digits.partition(".")
    decimals = decimals.rstrip("0")
    return f"{whole}{point if decimals else ''}{decimals} {typed.unit_text}"


def _article(quantity: str) -> str:
    words = _IN_WORDS.get(quantity, quantity)
    return f"an {words}" if words[0] in "aei" else f"a {words}"


def _split(text: str) -> tuple[float, str]:
    plain = text.replace("\u2212", "-").replace("\u00a0", " ").strip()
    fraction = _FRACTION.fullmatch(plain)
    if fraction:
        whole, over, under, rest = fraction.groups()
        return float(whole or 0) + float(over) / float(under), rest.strip()
    match = _NUMBER.fullmatch(plain)
    if not match or not match[1].strip("+-"):
        raise _Fault("does not start with a number")
    number = float(match[1].replace(",", ""))
    if not math.isfinite(number):
        raise _Fault("is too large a number")
    rest = match[2].strip()
    if rest.startswith(","):
        raise _Fault("has a comma where a decimal point or a thousands separator belongs")
    if rest[:1] in ("-", "–", "+") or (rest.startswith("to ") and rest != "to 1"):
        raise _Fault("is not one number with one unit")
    return number, rest


def _pure_number(text: str, number: float, unit_text: str, quantity: str) -> TypedQuantity:
    factors = NUMBER_QUANTITIES[quantity]
    if unit_text not in factors:
        raise _Fault(f'has the unit "{unit_text}", which does not fit {_article(quantity)}')
    return TypedQuantity(text, unit_text, unit_text, number * factors[unit_text])


def _understood_unit(unit_text: str, quantity: str) -> str:
    """The unit in the registry's spelling, checked against what the quantity allows."""
    if not unit_text:
        raise _Fault("has no unit")
    standard = _standard_unit(unit_text, quantity)
    if standard:
        return standard
    unit_text = _without_pressure_mark(unit_text, quantity)
    if quantity == "mass concentration" and unit_text in ("ppm", "PPM"):
        unit_text = "mg/L"  # of water: one litre weighs one kilogram
    unit = unit_text
    for pattern, replacement in _RESPELT:
        unit = pattern.sub(replacement, unit)
    unit = _PRODUCT.sub(lambda match: "(" + match[0].replace("·", "*") + ")", unit)
    for name in _NAME.findall(unit):
        _require_known(name)
    if not _is_well_formed(unit):
        raise _Fault(f'has a unit that cannot be read, "{unit_text}"')
    if quantity == "temperature" and "delta_" in unit:
        raise _Fault("is a temperature difference; a temperature is meant here")
    if quantity == "temperature difference" and not unit.startswith("delta_"):
        unit = f"delta_{_canonical(unit)}" if _canonical(unit) in ("degF", "degC", "degR", "K") else unit
        unit = "delta_degC" if unit == "delta_K" else unit
    return unit


def _is_well_formed(unit: str) -> bool:
    """Names joined by single signs; digits only as small powers: pint itself would take more."""
    shape = re.sub(r"\*\*\s*-?[1-4](?![0-9.])", "", _NAME.sub("u", unit))
    return bool(re.fullmatch(r"[u/*()\s]+", shape)) and not re.search(r"[/*]\s*[/*]|u\s+u|\)\s*u|u\s*\(", shape)


def _standard_unit(unit_text: str, quantity: str) -> str:
    """The registry's unit of a gas volume at standard conditions; "" for another quantity.

    A dial's cubic foot and a standard one look alike and differ by the meter's pressure and temperature: each
    quantity takes its own.
    """
    foot, metre = _STANDARD_FOOT.fullmatch(unit_text), _STANDARD_METRE.fullmatch(unit_text)
    if _NORMAL_METRE.fullmatch(unit_text):
        raise _Fault("is a volume at 0 degC; write Sm3 (15 degC) or scf (60 degF)")
    if quantity == "standard gas volume":
        if not (foot or metre):
            raise _Fault("does not say that it is at standard conditions; write scf or Sm3")
        return "standard_cubic_foot" if foot else "standard_cubic_metre"
    if foot or metre:
        raise _Fault(f"is a volume at standard conditions; {_article(quantity)} is meant here")
    return ""


def _without_pressure_mark(unit_text: str, quantity: str) -> str:
    """Strip "gauge" or "absolute" where it agrees with the quantity; refuse it where it contradicts."""
    gauge, absolute = _GAUGE.match(unit_text), _ABSOLUTE.match(unit_text)
    if gauge and quantity in ("gauge pressure", "absolute pressure", "pressure"):
        if quantity != "gauge pressure":
            raise _Fault(f"is a gauge pressure; {_article(quantity)} is meant here")
        return gauge[1]
    if absolute and quantity in ("gauge pressure", "absolute pressure", "pressure"):
        if quantity != "absolute pressure":
            what = "pressure above the atmosphere" if quantity == "gauge pressure" else "a pressure difference"
            raise _Fault(f"is an absolute pressure; {what} is meant here")
        return absolute[1]
    if quantity == "absolute pressure" and unit_text in ("psi", "PSI"):
        raise _Fault("does not say whether it is gauge or absolute; write psia")
    return unit_text


def _require_known(name: str) -> None:
    if name in _names():
        return
    if name in _REFUSED:
        raise _Fault(f'has the unit "{name}": {_REFUSED[name]}')
    near = difflib.get_close_matches(name, _names(), n=1, cutoff=0.6)
    hint = f'; did you mean "{near[0]}"?' if near else ""
    raise _Fault(f'has an unknown unit, "{name}"{hint}')


@cache
def _names() -> dict[str, str]:
    """Every accepted spelling with the name that it stands for."""
    names = {spelling: name for name, _, others in _UNITS for spelling in (name, *others.split())}
    return names | {f"delta_{name}": f"delta_{name}" for name in ("degF", "degC", "degR")}


def _canonical(unit: str) -> str:
    return _names().get(unit.strip(), unit)


@cache
def unit_registry() -> Any:
    """The pint registry of the declared units; built once, on first use."""
    import pint

    registry = pint.UnitRegistry(None, autoconvert_offset_to_baseunit=False)
    registry.load_definitions(
        [" = ".join((name, definition, "_", *others.split())) for name, definition, others in _UNITS]
    )
    return registry


@cache
def _unit(unit: str) -> Any:
    try:
        return unit_registry().parse_units(unit)
    except Exception:  # pint lets errors of tokenizer, parser and arithmetic through
        raise _Fault(f'has a unit that cannot be read, "{unit}"') from None


def _to_si(number: float, unit: str, quantity: str) -> float:
    per_unit, at_zero = _line(unit, quantity)
    return number * per_unit + at_zero


@cache
def _line(unit: str, quantity: str) -> tuple[float, float]:
    """SI value of one unit, and of the unit's zero; raises _Fault where the unit is of another kind."""
    si = QUANTITIES[quantity].si
    kinds: tuple[tuple[str, float], ...] = ((_SI_NAMES.get(si, si), 1.0), *_ALSO.get(quantity, ()))
    typed = _unit(unit)
    for kind, factor in kinds:
        target = _unit(kind)
        if typed.dimensionality == target.dimensionality:
            at_zero, at_one = (
                float(unit_registry().Quantity(value, typed).to(target).magnitude) for value in (0.0, 1.0)
            )
            return (at_one - at_zero) * factor, at_zero * factor
    raise _Fault(f"is {_kind_of(typed)}; {_article(quantity)} is meant here")


def _kind_of(typed: Any) -> str:
    """In words, what kind of quantity a unit belongs to."""
    for name, quantity in QUANTITIES.items():
        if name in NUMBER_QUANTITIES or name == "evaporation":
            continue
        if _unit(_SI_NAMES.get(quantity.si, quantity.si)).dimensionality == typed.dimensionality:
            return _article(name)
    return "something else"
