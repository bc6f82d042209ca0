"""Instruments files: certificates as TOML, with absolute and relative uncertainty told apart."""

from __future__ import annotations

from pathlib import Path

import pytest

from vaporwright.acceptance.steps.instruments import Instrument
from vaporwright.files.instruments_file import read_instruments_file, read_instruments_text
from vaporwright.foundation.errors import InputError

ONE = """
[[instrument]]
id = "T-1"
kind = "thermometer"
title = "probe in the spray line"
certificate = "C 4711"
due = "2026-12-31"
uncertainty = "0.5 degF"
resolution = "0.1 degF"
low = "32 degF"
high = "212 degF"
"""


def read(text: str) -> tuple[Instrument, ...]:
    return read_instruments_text(text, "instruments.toml")


def test_a_thermometer_with_its_range() -> None:
    (found,) = read(ONE)
    assert (found.id, found.kind, found.certificate, found.due) == ("T-1", "thermometer", "C 4711", "2026-12-31")
    assert found.expanded == pytest.approx(0.5 / 1.8)  # a difference, not a temperature
    assert found.resolution == pytest.approx(0.1 / 1.8)
    assert (found.low, found.high) == (pytest.approx(273.15), pytest.approx(373.15))
    assert (found.expanded_relative, found.coverage_factor) == (0.0, 2.0)


@pytest.mark.parametrize(
    ("kind", "uncertainty", "expanded", "relative"),
    [
        ("liquid flow meter", '"1 %"', 0.0, 0.01),
        ("liquid flow meter", '"1 % of reading"', 0.0, 0.01),
        ("liquid flow meter", '["1 %", "0.2 gal/min"]', 0.2 * 231 * 0.0254**3 / 60, 0.01),
        ("liquid flow meter", '["0.2 gal/min", "1 percent"]', 0.2 * 231 * 0.0254**3 / 60, 0.01),
        ("flue gas analyser", '"0.3 points"', 0.003, 0.0),
        ("flue gas analyser", '"2 %"', 0.0, 0.02),
        ("barometer", '"0.02 inHg"', 67.72778, 0.0),
        ("pressure gauge", '"0.5 psi"', 0.5 * 6894.757293168, 0.0),
        ("sound level meter", '"1.5 dB"', 1.5, 0.0),
        ("rule", '"1/64 in"', 0.0254 / 64, 0.0),
    ],
)
def test_uncertainties(kind: str, uncertainty: str, expanded: float, relative: float) -> None:
    text = "\n".join(line for line in ONE.splitlines() if line[:3] not in ("low", "hig", "res"))
    text = text.replace('"thermometer"', f'"{kind}"').replace('"0.5 degF"', uncertainty)
    (found,) = read(text + "\ncoverage_factor = 2.13\n")
    assert found.expanded == pytest.approx(expanded)
    assert found.expanded_relative == pytest.approx(relative)
    assert found.coverage_factor == 2.13


def test_what_says_yes_or_no_has_no_uncertainty() -> None:
    text = "\n".join(line for line in ONE.splitlines() if line[:3] not in ("low", "hig", "res", "unc"))
    text = text.replace('"thermometer"', '"gas leak detector"')
    assert read(text)[0].expanded == 0.0
    with pytest.raises(InputError, match="says yes or no"):
        read(text + '\nuncertainty = "1 %"\n')


@pytest.mark.parametrize(
    ("old", "new", "key", "problem"),
    [
        ('"thermometer"', '"thermometre"', "instrument T-1: kind", 'did you mean "thermometer"'),
        ('"0.5 degF"', '"0.5"', "instrument T-1: uncertainty", "has no unit"),
        ('"0.5 degF"', '"-0.5 degF"', "instrument T-1: uncertainty", "is negative"),
        ('"0.5 degF"', '"0 degF"', "instrument T-1: uncertainty", "no uncertainty is stated"),
        ('"0.5 degF"', '"1 %"', "instrument T-1: uncertainty", "means nothing for a temperature"),
        ('"0.5 degF"', "0.5", "instrument T-1: uncertainty", "is no text with a unit"),
        ('"0.5 degF"', '["1 degF", "2 degF"]', "instrument T-1: uncertainty", "the second of its kind"),
        ('uncertainty = "0.5 degF"', "", "instrument T-1: uncertainty", "missing"),
        ('"2026-12-31"', '"12/31/2026"', "instrument T-1: due", "is no day"),
        ('"2026-12-31"', '"2026-02-30"', "instrument T-1: due", "is no day"),
        ('due = "2026-12-31"', "", "instrument T-1: due", "missing"),
        ('"212 degF"', '"20 degF"', "instrument T-1: low", "is not below"),
        ('"C 4711"', '" "', "instrument T-1: certificate", "says nothing"),
        ("certificate", "certifcate", "instrument T-1: certifcate", "nearest valid key: certificate"),
        ('id = "T-1"', "", "instrument 1: id", "missing"),
    ],
)
def test_each_fault_names_instrument_and_key(old: str, new: str, key: str, problem: str) -> None:
    with pytest.raises(InputError) as caught:
        read(ONE.replace(old, new))
    assert (caught.value.where, caught.value.key) == ("instruments.toml", key)
    assert problem in caught.value.problem


def test_two_with_one_id_and_none_at_all(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="stands there twice"):
        read(ONE + ONE)
    with pytest.raises(InputError, match="nearest valid key: instrument"):
        read(ONE.replace("[[instrument]]", "[[instruments]]"))
    with pytest.raises(InputError, match="at least one table"):
        read("instrument = 5")
    path = tmp_path / "instruments.toml"
    path.write_text(ONE.replace('"2026-12-31"', "2026-12-31"), encoding="utf-8")
    assert read_instruments_file(path)[0].due == "2026-12-31"
