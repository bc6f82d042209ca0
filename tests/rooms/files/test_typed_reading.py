"""Readings as people type them into a field, and the one clear message for each way of getting them wrong."""

from __future__ import annotations

import pytest

from vaporwright.acceptance.steps.procedure import TEXT, YES_OR_NO, ReadingField
from vaporwright.files.typed_reading import is_blank, typed_reading
from vaporwright.foundation.errors import InputError

GALLON, PSI = 231 * 0.0254**3, 6894.757293168


def field(quantity: str) -> ReadingField:
    return ReadingField("key", "label", quantity)


@pytest.mark.parametrize(
    ("text", "quantity", "value"),
    [
        ("26.3 gal/min", "liquid flow", 26.3 * GALLON / 60),
        ("71 degF", "temperature", (71 + 459.67) / 1.8),
        ("71 °F", "temperature", (71 + 459.67) / 1.8),
        ("-4 degF", "temperature", (-4 + 459.67) / 1.8),
        ("5 degF", "temperature difference", 5 / 1.8),
        ("1/8 in", "short length", 0.0254 / 8),
        ("2 1/2 in", "short length", 0.0635),
        ("15 psi", "gauge pressure", 15 * PSI),
        ("15 psig", "gauge pressure", 15 * PSI),
        ("-0.02 in. w.c.", "pressure", -0.02 * 249.08891),
        ("29.1 inHg", "absolute pressure", 29.1 * 3386.389),
        ("4.5 %", "fraction", 0.045),
        ("12 MΩ", "insulation resistance", 1.2e7),
        ("50 megohm", "insulation resistance", 5e7),
        ("0.08 ohm", "resistance", 0.08),
        ("450 µS/cm", "conductivity", 0.045),
        ("1.2 mS/cm", "conductivity", 0.12),
        ("78.5 dB(A)", "sound level", 78.5),
        ("10 kWh", "energy", 3.6e7),
        ("12", "count", 12.0),
        ("8.2", "pH", 8.2),
        ("1,234.5 lb", "mass", 1234.5 * 0.45359237),
        ("1,234,567 gal", "volume", 1234567 * GALLON),
    ],
)
def test_a_number_with_its_unit_is_understood(text: str, quantity: str, value: float) -> None:
    reading = typed_reading(field(quantity), text, step="a.b", instrument="T-1")
    assert reading.value == pytest.approx(value, rel=1e-12)
    assert (reading.entered, reading.step, reading.field, reading.instrument, reading.way) == (
        text, "a.b", "key", "T-1", "typed",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("text", "quantity", "system", "entered", "value"),
    [
        ("71", "temperature", "US", "71 °F", (71 + 459.67) / 1.8),
        ("21.5", "temperature", "SI", "21.5 °C", 294.65),
        ("5", "temperature difference", "US", "5 °F", 5 / 1.8),
        ("5", "temperature difference", "SI", "5 K", 5.0),
        ("1/8", "short length", "US", "1/8 in", 0.0254 / 8),
        ("12.50", "gauge pressure", "US", "12.50 psi gauge", 12.5 * PSI),
        ("14.2", "absolute pressure", "US", "14.2 psia", 14.2 * PSI),
        ("4.5", "fraction", "US", "4.5 %", 0.045),
        ("0.45", "fraction", "SI", "0.45 %", 0.0045),
        ("450", "conductivity", "SI", "450 µS/cm", 0.045),
        ("78", "sound level", "US", "78 dB(A)", 78.0),
        ("12", "count", "US", "12", 12.0),
        ("21 °C", "temperature", "US", "21 °C", 294.15),  # a unit of its own goes before the page's
        ("\N{MINUS SIGN}4", "temperature", "US", "\N{MINUS SIGN}4 °F", (-4 + 459.67) / 1.8),
    ],
)
def test_a_bare_number_has_the_unit_that_the_page_shows(
    text: str, quantity: str, system: str, entered: str, value: float
) -> None:
    reading = typed_reading(field(quantity), text, shown_system=system)
    assert reading.value == pytest.approx(value, rel=1e-12)
    assert reading.entered == entered


@pytest.mark.parametrize(
    ("text", "quantity", "problem", "allowed"),
    [
        ("26.3", "liquid flow", "has no unit", '"60 gal/min" or "4 L/s"'),
        ("71", "temperature", "has no unit", '"155 degF" or "68 degC"'),
        ("71 F", "temperature", 'write "degF"', '"155 degF"'),
        ("0.045", "fraction", "it may be a share or a percentage", '"4.5 %"'),
        ("78", "sound level", 'has the unit ""', "dB(A)"),
        ("-460 degF", "temperature", "cannot be", "above absolute zero"),
        ("0 K", "temperature", "cannot be", "above absolute zero"),
        ("-16 psi", "gauge pressure", "cannot be", "above a full vacuum"),
        ("0 psia", "absolute pressure", "cannot be", "0 or more"),
        ("-1 ohm", "resistance", "cannot be", "0 or more"),
        ("2.5", "count", "is not a whole number", '"2"'),
        ("30 psia", "gauge pressure", "is an absolute pressure", '"15 psi"'),
        ("30 psig", "absolute pressure", "is a gauge pressure", '"14.5 psia"'),
        ("5 delta_degF", "temperature", "is a temperature difference", '"155 degF"'),
        ("5 lb", "liquid flow", "is a mass", '"60 gal/min"'),
        ("1,234 gal", "volume", "may mean 1234 or 1.234", "without a comma"),
        ("0,850 kg", "mass", "may mean 0850 or 0.850", "without a comma"),
        ("0,850.5 kg", "mass", "may mean", "without a comma"),
        ("26,3 gal/min", "liquid flow", "has a comma where a decimal point", '"60 gal/min"'),
        ("nan degF", "temperature", "does not start with a number", '"155 degF"'),
        ("inf degF", "temperature", "does not start with a number", '"155 degF"'),
        ("1e999 lb", "mass", "is too large a number", '"800 lb"'),
        ("70-75 degF", "temperature", "is not one number with one unit", '"155 degF"'),
        ("70 degF ok", "temperature", "unknown unit", '"155 degF"'),
        ("-", "temperature", "says that nothing was read", '"155 degF"'),
        ("", "count", "says that nothing was read", '"2"'),
        ("7\x001 degF", "temperature", "cannot be printed", '"155 degF"'),
        ("7" * 81, "temperature", "is longer than 80 characters", '"155 degF"'),
        ("\ud800", TEXT, "cannot be printed", "characters"),
        ("perhaps", YES_OR_NO, "is neither yes nor no", "yes or no"),
        ("1", YES_OR_NO, "is neither yes nor no", "yes or no"),
        ("", YES_OR_NO, "says that nothing was read", "yes or no"),
        ("x" * 401, TEXT, "is longer than 400", "400"),
    ],
)
def test_each_fault_has_one_clear_message(text: str, quantity: str, problem: str, allowed: str) -> None:
    with pytest.raises(InputError) as caught:
        typed_reading(field(quantity), text, where="step a.b")
    assert (caught.value.where, caught.value.key) == ("step a.b", "key")
    assert problem in caught.value.problem
    assert allowed in caught.value.allowed


@pytest.mark.parametrize(("text", "value"), [("yes", True), ("Yes", True), ("Y", True), ("no", False), (" NO ", False)])
def test_yes_and_no(text: str, value: bool) -> None:
    assert typed_reading(field(YES_OR_NO), text).value is value


def test_words_are_kept_as_they_are() -> None:
    reading = typed_reading(field(TEXT), "  SN 1,234 / 5-B ")
    assert (reading.entered, reading.value) == ("SN 1,234 / 5-B", "SN 1,234 / 5-B")


def test_dashes_and_nothing_say_that_nothing_was_read() -> None:
    assert all(is_blank(text) for text in ("", " ", "-", "–", "—"))
    assert not is_blank("0")
