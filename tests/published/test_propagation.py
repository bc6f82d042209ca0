"""Propagation of uncertainty against the worked example H.1 of the GUM, from its inputs."""

from __future__ import annotations

from collections.abc import Mapping
from math import sqrt

import pytest

from support import verifies
from vaporwright.acceptance.run.averages import Measured, combined
from vaporwright.acceptance.steps.instruments import Instrument, standard_uncertainty

# JCGM 100:2008, H.1, an end gauge of nominally 50 mm against a standard: lengths in nm, temperatures in degC.
# Typed from memory; the inputs agree with several public copies of the example. Expected values: table H.1
# and H.1.5 (shared case gum_h1): u 32 nm. Its degrees of freedom and second-order terms have no use here: what is read
# in a test has certified uncertainties, and models that hardly bend over them.
DIFFERENCE = {
    "repeated": Measured(215.0, 5.8),  # 13 nm over the root of 5, pooled over 25 observations
    "comparator, random": Measured(0.0, 3.9),
    "comparator, systematic": Measured(0.0, 6.7),
}
TABLE_nm = {
    "standard": 25.0,
    "difference": 9.7,
    "expansion": 0.0,
    "temperature": 0.0,
    "expansion, difference": 2.9,
    "temperature, difference": 16.6,
}


def total(at: Mapping[str, float]) -> float:
    return sum(at.values())


def end_gauge() -> dict[str, Measured]:
    swing = 0.5 / sqrt(2.0)  # cyclic, +-0.5 degC: arcsine
    return {
        "standard": Measured(50.000623e6, 25.0),
        "difference": combined(total, DIFFERENCE),
        "expansion": Measured(11.5e-6, 2e-6 / sqrt(3.0)),
        "temperature": Measured(-0.1, sqrt(0.2**2 + swing**2)),
        "expansion, difference": Measured(0.0, 1e-6 / sqrt(3.0)),
        "temperature, difference": Measured(0.0, 0.05 / sqrt(3.0)),
    }


def length(inputs: Mapping[str, float]) -> float:
    standard = inputs["standard"]
    thermal = inputs["expansion, difference"] * inputs["temperature"]
    thermal += inputs["expansion"] * inputs["temperature, difference"]
    return standard + inputs["difference"] - standard * thermal


@verifies("acceptance.run.averages.combined")
def test_the_difference_of_the_end_gauge_has_9_7_nm() -> None:
    assert combined(total, DIFFERENCE).standard_uncertainty == pytest.approx(9.7, abs=0.05)


@verifies("acceptance.run.averages.combined")
def test_the_end_gauge_of_the_guide() -> None:
    whole = combined(length, end_gauge())
    assert whole.value == pytest.approx(50.000838e6, abs=0.5)
    assert whole.standard_uncertainty == pytest.approx(32.0, abs=0.5)


@pytest.mark.parametrize("name", TABLE_nm)
@verifies("acceptance.run.averages.combined")
def test_each_line_of_the_budget_of_the_end_gauge(name: str) -> None:
    inputs = {key: entry if key == name else Measured(entry.value, 0.0) for key, entry in end_gauge().items()}
    assert combined(length, inputs).standard_uncertainty == pytest.approx(TABLE_nm[name], abs=0.06)


@verifies("acceptance.steps.instruments.standard_uncertainty")
def test_a_resolution_is_rectangular() -> None:
    """GUM, F.2.2.1: the resolution alone contributes 0.29 of its step; 4.3.3: a certified U is divided by its k."""
    scale = Instrument("S", "scale", "a scale", "C-1", "2026-12-31", expanded=1e-9, resolution=1.0)
    assert standard_uncertainty(scale, 50.0) == pytest.approx(0.29, abs=0.002)
    # GUM 4.3.3, example: 240 microgram at the level of three standard deviations is 80 microgram
    mass = Instrument("M", "scale", "a standard of mass", "C-2", "2026-12-31", expanded=240e-9, coverage_factor=3.0)
    assert standard_uncertainty(mass, 1.000000325) == pytest.approx(80e-9, rel=1e-3)
    # a share of the reading, and all three together: ((0.1 + 0.02 x 5)/2)^2 + 0.06^2/12
    flow = Instrument("F", "water meter", "a meter", "C-3", "2026-12-31", 0.1, 0.02, resolution=0.06)
    assert standard_uncertainty(flow, -5.0) == pytest.approx(sqrt(0.01 + 0.0003), rel=1e-12)


def nothing(_at: Mapping[str, float]) -> float:
    return float("nan")
