"""Quantity texts as people type them, and the one clear message for each way of getting them wrong."""

import math
import subprocess
import sys

import pytest

from vaporwright.files.quantities import parse_quantity
from vaporwright.foundation.errors import InputError


def read(text: str, quantity: str) -> float:
    return parse_quantity(text, quantity, where="job.toml", key="a.key")


@pytest.mark.parametrize(
    ("text", "quantity", "value_si"),
    [
        ("26 gal/h", "volume flow", 26 * 231 * 0.0254**3 / 3600),
        ("6,000 gal/month", "volume flow", 6000 * 231 * 0.0254**3 / (365.25 * 86400 / 12)),
        ("6000 gallons per month", "volume flow", 6000 * 231 * 0.0254**3 / (365.25 * 86400 / 12)),
        ("1.2e3 L/day", "volume flow", 1.2 / 86400),
        ("155 degF", "temperature", 341.4833333333333),
        ("68 °F", "temperature", 293.15),
        ("68 deg F", "temperature", 293.15),
        ("20 °C", "temperature", 293.15),
        ("20 celsius", "temperature", 293.15),
        ("-4 degF", "temperature", 253.15),
        ("\N{MINUS SIGN}4 degF", "temperature", 253.15),
        ("5 degF", "temperature difference", 5 / 1.8),
        ("5 °C", "temperature difference", 5.0),
        ("15 psi", "gauge pressure", 15 * 6894.757293168),
        ("15 psig", "gauge pressure", 15 * 6894.757293168),
        ("15 psi gauge", "gauge pressure", 15 * 6894.757293168),
        ("100 ft3", "gas volume", 100.0 * 0.3048**3),
        ("2 cf", "gas volume", 2.0 * 0.3048**3),
        ("3 m³", "gas volume", 3.0),
        ("100 scf", "standard gas volume", 100.0 * 0.3048**3),
        ("100 std ft3", "standard gas volume", 100.0 * 0.3048**3),
        ("100 Sm3", "standard gas volume", 100.0 * 519.67 / 1.8 / 288.15),
        ("14.7 psia", "absolute pressure", 14.7 * 6894.757293168),
        ("0.25 inH2O", "pressure", 62.2722275),
        ("0.25 in. w.c.", "pressure", 62.2722275),
        ("0.25 inches of water", "pressure", 62.2722275),
        ("4000 mg/L", "mass concentration", 4.0),
        ("4000 ppm", "mass concentration", 4.0),
        ("0.85", "fraction", 0.85),
        ("85 %", "fraction", 0.85),
        ("85%", "fraction", 0.85),
        (".5", "fraction", 0.5),
        ("1/4 in", "short length", 0.00635),
        ("2 1/2 in", "short length", 0.0635),
        ("10 to 1", "ratio", 10.0),
        ("8 gpm/ft2", "water loading", 8 * 231 * 0.0254**3 / 60 / 0.3048**2 * 998.2),
    ],
)
def test_what_people_type_is_understood(text: str, quantity: str, value_si: float) -> None:
    assert math.isclose(read(text, quantity), value_si, rel_tol=1e-9)


@pytest.mark.parametrize(
    ("text", "quantity", "problem", "allowed"),
    [
        ("155 F", "temperature", 'has the unit "F": write "degF" for degrees Fahrenheit', '"155 degF"'),
        ("68 C", "temperature", 'has the unit "C": write "degC" for degrees Celsius', '"68 degC"'),
        ("5 delta_degF", "temperature", "is a temperature difference; a temperature is meant here", '"155 degF"'),
        ("5 psi", "temperature difference", "is a pressure; a temperature difference is meant here", '"5 degF"'),
        ("30 psia", "gauge pressure", "is an absolute pressure; pressure above the atmosphere is meant", '"15 psi"'),
        ("30 psig", "absolute pressure", "is a gauge pressure; an absolute pressure is meant here", '"14.5 psia"'),
        ("14 psi", "absolute pressure", "does not say whether it is gauge or absolute; write psia", '"14.5 psia"'),
        (
            "60 ft3",
            "standard gas volume",
            "does not say that it is at standard conditions; write scf or Sm3",
            '"65 scf"',
        ),
        ("65 scf", "gas volume", "is a volume at standard conditions; a gas volume is meant here", '"60 ft3"'),
        ("65 Sm3", "volume", "is a volume at standard conditions; a volume is meant here", '"275 gal"'),
        ("2 Nm3", "standard gas volume", "is a volume at 0 degC; write Sm3 (15 degC) or scf (60 degF)", '"1.8 Sm3"'),
        ("1 psig", "pressure", "is a gauge pressure; a pressure is meant here", '"0.25 inH2O"'),
        ("26", "volume flow", "has no unit", '"26 gal/h" or "6000 gal/month"'),
        ("26 gal", "volume flow", "is a volume; a volume flow is meant here", '"26 gal/h"'),
        ("20 degF", "volume flow", "is a temperature", '"26 gal/h"'),
        ("26 galons/h", "volume flow", 'has an unknown unit, "galons"; did you mean "gallons"?', '"26 gal/h"'),
        ("300 MBH", "heat", "MBH is read as a thousand or as a million Btu/h", '"300000 Btu/h"'),
        ("3 MBtu/h", "heat", "MBtu is read as a thousand or as a million Btu", '"300000 Btu/h"'),
        ("12 USD/ton", "mass price", "a ton is 2,000 lb here and 1,000 kg there", '"14 USD/1000 lb"'),
        ("2000 scfm", "air flow", "flow at standard conditions is another quantity", '"2200 cfm"'),
        ("9 USD/Mcf", "energy price", "is a volume price; an energy price is meant here", '"12 USD/MMBtu"'),
        ("about 26 gal/h", "volume flow", "does not start with a number", '"26 gal/h"'),
        ("", "volume flow", "does not start with a number", '"26 gal/h"'),
        ("nan gal/h", "volume flow", "does not start with a number", '"26 gal/h"'),
        ("1e999 gal/h", "volume flow", "is too large a number", '"26 gal/h"'),
        ("0,85", "fraction", "has a comma where a decimal point", '"0.85" or "85 %"'),
        ("15-20 psi", "gauge pressure", "is not one number with one unit", '"15 psi"'),
        ("15 to 20 psi", "gauge pressure", "is not one number with one unit", '"15 psi"'),
        ("85 kg", "fraction", 'has the unit "kg", which does not fit a fraction', '"0.85" or "85 %"'),
        ("0.4 %", "mass concentration", 'has an unknown unit, "%"', '"4000 mg/L"'),
        ("5 gal//h", "volume flow", 'has a unit that cannot be read, "gal//h"', '"26 gal/h"'),
        ("5 gal/h; rm", "volume flow", 'has an unknown unit, "rm"', '"26 gal/h"'),
        ("5 Gal/h", "volume flow", 'has an unknown unit, "Gal"; did you mean "gal"?', '"26 gal/h"'),
    ],
)
def test_each_fault_has_one_clear_message(text: str, quantity: str, problem: str, allowed: str) -> None:
    with pytest.raises(InputError) as caught:
        read(text, quantity)
    error = caught.value
    assert (error.where, error.key) == ("job.toml", "a.key")
    assert error.problem.startswith(f'"{text}" ')
    assert problem in error.problem
    assert allowed in error.allowed


def test_pint_is_imported_only_when_a_unit_is_read() -> None:
    code = "import sys, vaporwright.files.job_file, vaporwright.files.catalogue_file; sys.exit('pint' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
