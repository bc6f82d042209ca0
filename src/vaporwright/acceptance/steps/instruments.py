"""Instruments of a test: the kinds there are, and each one registered once a day with its certificate.

Figures of KINDS are what a shop may usually expect of such an instrument, for planning and for the simulated ones.
Common practice, no source. A decision is taken with the uncertainty that the certificate of the instrument states.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from math import hypot, isfinite, sqrt
from typing import Final, TypeGuard

from vaporwright.acceptance.steps.procedure import YES_OR_NO
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.register import sourced

_INCH_m = 0.0254
_FAHRENHEIT_K = 1.0 / 1.8
_TRADE = "usual in the trade; common practice, no source"
_ASSUMED = "assumed here; common practice, no source"
ABSOLUTE_ONLY: Final = frozenset(("temperature", "sound level"))  # a share of kelvin or of decibels means nothing


@dataclass(frozen=True)
class InstrumentKind:
    """A kind of instrument, and the expanded uncertainty (k = 2) usual for it: absolute [SI] plus share of reading."""

    name: str
    quantity: str  # of display_units, or YES_OR_NO; what the absolute figures are in
    title: str
    usual_expanded: float = 0.0
    usual_expanded_relative: float = 0.0
    note: str = ""
    also: tuple[str, ...] = ()  # other quantities in the same SI unit


def _kinds() -> dict[str, InstrumentKind]:
    kinds = (
        InstrumentKind("scale", "mass", "weighing scale under the make-up or condensate drum", 0.0, 0.002, _TRADE),
        InstrumentKind("water meter", "volume", "water meter in the make-up line", 0.0, 0.01, _TRADE),
        InstrumentKind("level gauge", "short length", "gauge in a stilling well", _INCH_m / 32.0, 0.0, _TRADE,
                       ("length",)),
        InstrumentKind("thermometer", "temperature", "calibrated thermometer", 0.5 * _FAHRENHEIT_K, 0.0, _TRADE,
                       ("temperature difference",)),
        InstrumentKind("thermometer pair", "temperature", "two thermometers matched for reading a range",
                       0.2 * _FAHRENHEIT_K, 0.0, _TRADE + "; of the difference", ("temperature difference",)),
        InstrumentKind("psychrometer", "temperature", "aspirated dry and wet bulb", 1.0 * _FAHRENHEIT_K, 0.0, _TRADE,
                       ("temperature difference",)),
        InstrumentKind("liquid flow meter", "liquid flow", "flow meter in or clamped on the spray line", 0.0, 0.03,
                       _TRADE, ("volume flow",)),
        InstrumentKind("air traverse", "air flow", "velocity traverse at the blower's inlet", 0.0, 0.07, _TRADE),
        InstrumentKind("barometer", "absolute pressure", "barometer, not reduced to sea level", 100.0, 0.0, _ASSUMED),
        InstrumentKind("gas meter", "gas volume", "gas meter, clocked", 0.0, 0.015, _TRADE,
                       ("standard gas volume", "volume")),
        InstrumentKind("stack thermometer", "temperature", "thermocouple in the stack", 5.0 * _FAHRENHEIT_K, 0.0,
                       _TRADE, ("temperature difference",)),
        InstrumentKind("flue gas analyser", "fraction", "analyser of dry flue gas", 0.003, 0.0,
                       _TRADE + "; of the oxygen cell. Register the carbon monoxide cell under an id of its own"),
        InstrumentKind("energy meter", "energy", "energy meter of the heater", 0.0, 0.01, _ASSUMED),
        InstrumentKind("pressure gauge", "gauge pressure", "gauge for steam, gas or spray header", 0.0, 0.02, _ASSUMED,
                       ("pressure",)),
        InstrumentKind("manometer", "pressure", "manometer for gas, draft and fan", 5.0, 0.01, _ASSUMED,
                       ("gauge pressure",)),
        InstrumentKind("conductivity meter", "conductivity", "conductivity meter, also for the tracer", 0.0, 0.02,
                       _ASSUMED),
        InstrumentKind("tape", "length", "tape", _INCH_m / 16.0, 0.0, _TRADE + "; as for dipping rods",
                       ("short length",)),
        InstrumentKind("rule", "short length", "steel rule", 5.0e-4, 0.0, _ASSUMED, ("length",)),
        InstrumentKind("stopwatch", "delay", "stopwatch, with the hand that holds it", 0.2, 0.0, _TRADE,
                       ("short duration", "duration")),
        InstrumentKind("clamp ammeter", "current", "clamp ammeter", 0.0, 0.02, _TRADE),
        InstrumentKind("voltmeter", "voltage", "voltmeter", 0.0, 0.01, _TRADE),
        InstrumentKind("insulation tester", "insulation resistance", "insulation tester", 0.0, 0.05, _ASSUMED,
                       ("resistance",)),
        InstrumentKind("continuity tester", "resistance", "low-resistance tester for earth continuity", 0.01, 0.02,
                       _ASSUMED),
        InstrumentKind("sound level meter", "sound level", "sound level meter", 2.0, 0.0, _ASSUMED),
        InstrumentKind("surface thermometer", "temperature", "contact thermometer for surfaces", 2.0, 0.0, _ASSUMED,
                       ("temperature difference",)),
        InstrumentKind("gas leak detector", YES_OR_NO, "gas leak detector, or leak fluid", 0.0, 0.0,
                       "says yes or no; bump-tested as its maker says"),
    )  # fmt: skip
    return {kind.name: kind for kind in kinds}


KINDS: Final[Mapping[str, InstrumentKind]] = _kinds()


@dataclass(frozen=True)
class Instrument:
    """One instrument, as its certificate has it.

    Its expanded uncertainty at a reading is `expanded` plus `expanded_relative` times the reading, at the coverage
    factor of the certificate.

    Raises: InputError for what no certificate says; it names the instrument, the key and what is allowed.
    """

    id: str
    kind: str  # of KINDS
    title: str  # what it is, in words
    certificate: str  # its number
    due: str  # the last day of its calibration, as ISO text: 2026-04-30
    expanded: float = 0.0  # [SI of the kind's quantity]
    expanded_relative: float = 0.0
    coverage_factor: float = 2.0
    low: float | None = None  # calibrated range [SI]
    high: float | None = None
    resolution: float = 0.0  # smallest step that can be read [SI]

    def __post_init__(self) -> None:
        where = f"instrument {self.id}" if isinstance(self.id, str) and self.id.strip() else "instrument"
        for key in ("id", "title", "certificate"):
            value = getattr(self, key)
            if not isinstance(value, str) or not value.strip():
                raise InputError(where, key, f"{value!r} says nothing", "a text")
        if self.kind not in KINDS:
            raise InputError(where, "kind", f"{self.kind!r} is none", ", ".join(KINDS))
        if not is_iso_date(self.due):
            raise InputError(where, "due", f"{self.due!r}", "a day as YYYY-MM-DD")
        _check_numbers(self, where)
        _check_uncertainty(self, where)


def _check_numbers(instrument: Instrument, where: str) -> None:
    for key in ("expanded", "expanded_relative", "resolution"):
        value = getattr(instrument, key)
        if not is_number(value) or value < 0.0:
            raise InputError(where, key, f"{value!r}", "a number, 0 or more (SI)")
    if not instrument.expanded_relative < 1.0:
        raise InputError(where, "expanded_relative", f"{instrument.expanded_relative:g}", "a share below 1")
    if not is_number(instrument.coverage_factor) or not 1.0 <= instrument.coverage_factor <= 10.0:
        raise InputError(where, "coverage_factor", f"{instrument.coverage_factor!r}", "1 to 10, as certified; mostly 2")
    for key in ("low", "high"):
        value = getattr(instrument, key)
        if value is not None and not is_number(value):
            raise InputError(where, key, f"{value!r}", "a number (SI), or nothing where that side is open")
    if instrument.low is not None and instrument.high is not None and not instrument.low < instrument.high:
        problem = f"{instrument.low:g} is not below {instrument.high:g}"
        raise InputError(where, "low", problem, "low below high")


def _check_uncertainty(instrument: Instrument, where: str) -> None:
    quantity = KINDS[instrument.kind].quantity
    if quantity == YES_OR_NO:
        return
    if quantity in ABSOLUTE_ONLY and instrument.expanded_relative > 0.0:
        problem = f"a share of the reading means nothing for a {quantity}"
        raise InputError(where, "expanded_relative", problem, "0; state `expanded`")
    if instrument.expanded == 0.0 and instrument.expanded_relative == 0.0:
        raise InputError(where, "expanded", "no uncertainty is stated", "what the certificate states, above 0")


def is_number(value: object) -> TypeGuard[float]:
    """A finite number, and no truth value."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    try:
        return isfinite(value)
    except OverflowError:  # an integer beyond every float
        return False


def is_iso_date(text: object) -> bool:
    """A day written as YYYY-MM-DD, and in no other way."""
    try:
        return isinstance(text, str) and date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


@sourced("gum", "4.3.3 a certificate's U and k; 4.3.7 rectangular; F.2.2.1 resolution, 0.29 of a step")
def standard_uncertainty(instrument: Instrument, value: float) -> float:
    """Standard uncertainty of one reading [SI].

    Equation: u^2 = ((U_absolute + U_relative |x|)/k)^2 + (resolution/sqrt(12))^2; the two parts of a certificate add
    up as they are meant: a zero error and a span error of the same instrument.
    """
    certified = (instrument.expanded + instrument.expanded_relative * abs(value)) / instrument.coverage_factor
    return hypot(certified, instrument.resolution / sqrt(12.0))


def usable_on(instrument: Instrument, iso_date: str, value: float | None = None) -> str:
    """Why an instrument cannot be used on a day, or for a value [SI]; empty where it can.

    Raises: InputError for a day that is none.
    """
    if not is_iso_date(iso_date):
        raise InputError("day of the test", "", f"{iso_date!r}", "a day as YYYY-MM-DD")
    if iso_date > instrument.due:
        return f"the calibration of {instrument.id} ended on {instrument.due}"
    if value is not None and not covers(instrument, value):
        return f"the reading lies outside the range for which {instrument.id} is calibrated"
    return ""


def covers(instrument: Instrument, value: float) -> bool:
    """Whether a value [SI] lies in the range for which the instrument is calibrated."""
    above = instrument.low is None or value >= instrument.low
    return above and (instrument.high is None or value <= instrument.high)
