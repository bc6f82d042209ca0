"""Values, uncertainties and limits in print: by hand, not from the code."""

from __future__ import annotations

import pytest

from invented_acceptance import GALLON_PER_MINUTE_m3_s, INCH_m, fahrenheit_K
from vaporwright.acceptance.record.certificate import Estimate
from vaporwright.acceptance.steps.procedure import Limits, ReadingField
from vaporwright.documents.measured_words import (
    clock,
    estimate_text,
    expected_text,
    fixed,
    limits_text,
    moment_text,
    places,
    trimmed,
)

F = 1.0 / 1.8


@pytest.mark.parametrize(
    ("size", "digits", "expected"),
    [(1.23, 2, 1), (0.0123, 2, 3), (12.3, 2, 0), (123.0, 2, -1), (9.97, 2, 0), (0.5, 1, 1), (0.0, 2, 0)],
)
def test_places(size: float, digits: int, expected: int) -> None:
    assert places(size, digits) == expected


def test_fixed() -> None:
    assert fixed(1234.56, 1) == "1,234.6"
    assert fixed(1234.56, -2) == "1,200"
    assert fixed(-0.04, 1) == "0.0"


@pytest.mark.parametrize(
    ("value", "uncertainty", "quantity", "system", "text"),
    [
        (fahrenheit_K(150.0), 0.5 * F, "temperature", "US", "150.00 ± 0.50 °F"),
        (338.71, 0.28, "temperature", "SI", "65.56 ± 0.28 °C"),
        (50.0 * GALLON_PER_MINUTE_m3_s, 1.5 * GALLON_PER_MINUTE_m3_s, "liquid flow", "US", "50.0 ± 1.5 gal/min"),
        (123_456.0, 2_345.0, "heat", "SI", "123.5 ± 2.3 kW"),
        (1.035, 0.054, "fraction", "US", "103.5 ± 5.4 %"),
        (150.0, 12.4, "ratio", "US", "150 ± 12"),
        (1534.0, 137.0, "ratio", "US", "1,530 ± 140"),
        (0.98, None, "fraction", "US", "98 %"),
    ],
)
def test_estimates(value: float, uncertainty: float | None, quantity: str, system: str, text: str) -> None:
    assert estimate_text(Estimate(value, uncertainty), quantity, system) == text


@pytest.mark.parametrize(
    ("expected", "low", "high", "quantity", "text"),
    [
        (14.25 * INCH_m, 14.125 * INCH_m, 14.375 * INCH_m, "short length", "14.250 ± 0.125 in"),
        (fahrenheit_K(165.0), fahrenheit_K(163.0), fahrenheit_K(167.0), "temperature", "165 ± 2 °F"),
        (5.0, 4.5, 5.5, "delay", "5.0 ± 0.5 s"),
        (50.3, 47.785, 52.815, "delay", "50.3 ± 2.5 s"),
        (None, 45.0, 52.0, "delay", "45 to 52 s"),
        (48.0, 45.0, 56.0, "delay", "48; 45 to 56 s"),
        (None, None, 4.0, "delay", "at most 4 s"),
        (3.0, None, 4.5, "delay", "3.0; at most 4.5 s"),
        (0.0, None, 4.5, "delay", "at most 4.5 s"),
        (None, 2.0e6, None, "insulation resistance", "at least 2 MΩ"),
        (7.0, None, None, "delay", "7.00 s"),
        (None, None, None, "delay", ""),
    ],
)
def test_expectations(expected: float | None, low: float | None, high: float | None, quantity: str, text: str) -> None:
    limits = None if low is None and high is None else Limits(low, high)
    assert expected_text(ReadingField("key", "label", quantity, expected, limits), "US") == text


def test_expectations_without_a_number() -> None:
    assert expected_text(ReadingField("key", "label", "yes or no", False), "US") == "no"
    assert expected_text(ReadingField("key", "label", "yes or no"), "US") == ""
    assert expected_text(ReadingField("key", "label", "text", "V-1"), "US") == "V-1"
    assert limits_text(None, None, "delay", "US") == ""


def test_entered_values_moments_and_hours() -> None:
    assert trimmed(fahrenheit_K(58.5), "temperature", "US") == "58.5 °F"
    assert trimmed(294.85, "temperature", "SI") == "21.7 °C"
    assert trimmed(480.0, "voltage", "US") == "480 V"
    assert moment_text("2026-03-05T16:42:07+00:00") == "2026-03-05 16:42 UTC"
    assert moment_text("2026-03-05T16:42:07-05:30") == "2026-03-05 16:42 UTC-05:30"
    assert moment_text("2026-03-05") == "2026-03-05"
    assert moment_text("yesterday") == "yesterday"
    assert [clock(minutes) for minutes in (0.0, 65.0, 59.6, 1440.0)] == ["0:00", "1:05", "1:00", "24:00"]
