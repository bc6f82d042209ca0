"""Propagation of uncertainty against the worked examples H.1 and H.2 of the GUM, from their inputs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import cos, inf, sin, sqrt
from statistics import correlation, mean, stdev

import pytest

from support import verifies
from vaporwright.acceptance.instruments import Instrument, standard_uncertainty
from vaporwright.acceptance.propagation import (
    Combined,
    Estimate,
    coverage_factor,
    effective_degrees_of_freedom,
    expanded_uncertainty,
    propagate,
)
from vaporwright.foundation.errors import InputError

# JCGM 100:2008, H.1, an end gauge of nominally 50 mm against a standard: lengths in nm, temperatures in degC.
# Typed from memory; the inputs agree with several public copies of the example. Expected values: table H.1
# and H.1.5 to H.1.7 (shared case gum_h1): u 32 nm, 16 degrees of freedom, k99 2.92, U99 93 nm, 34 nm with second order.
DIFFERENCE = (
    Estimate("repeated", 215.0, 5.8, 24),  # 13 nm over the root of 5, pooled over 25 observations
    Estimate("comparator, random", 0.0, 3.9, 5),
    Estimate("comparator, systematic", 0.0, 6.7, 8),
)


def total(at: Mapping[str, float]) -> float:
    return sum(at.values())


def end_gauge() -> tuple[Estimate, ...]:
    difference = propagate(total, DIFFERENCE)
    swing = 0.5 / sqrt(2.0)  # cyclic, +-0.5 degC: arcsine
    return (
        Estimate("standard", 50.000623e6, 25.0, 18),
        Estimate("difference", difference.value, difference.standard_uncertainty, difference.degrees_of_freedom),
        Estimate("expansion", 11.5e-6, 2e-6 / sqrt(3.0)),
        Estimate("temperature", -0.1, sqrt(0.2**2 + swing**2)),
        Estimate("expansion, difference", 0.0, 1e-6 / sqrt(3.0), 50),
        Estimate("temperature, difference", 0.0, 0.05 / sqrt(3.0), 2),
    )


def length(inputs: Mapping[str, float]) -> float:
    standard = inputs["standard"]
    thermal = inputs["expansion, difference"] * inputs["temperature"]
    thermal += inputs["expansion"] * inputs["temperature, difference"]
    return standard + inputs["difference"] - standard * thermal


@verifies("acceptance.propagation.propagate", "acceptance.propagation.effective_degrees_of_freedom")
def test_the_difference_of_the_end_gauge_has_9_7_nm_and_25_6_degrees_of_freedom() -> None:
    difference = propagate(total, DIFFERENCE)
    assert difference.standard_uncertainty == pytest.approx(9.7, abs=0.05)
    parts = [(5.8, 24.0), (3.9, 5.0), (6.7, 8.0)]
    assert effective_degrees_of_freedom(9.7, parts) == pytest.approx(25.6, abs=0.05)  # as the guide: from 9.7, rounded
    assert difference.degrees_of_freedom == pytest.approx(25.6, abs=0.2)  # from 9.68


@verifies(
    "acceptance.propagation.propagate",
    "acceptance.propagation.coverage_factor",
    "acceptance.propagation.expanded_uncertainty",
)
def test_the_end_gauge_of_the_guide() -> None:
    combined = propagate(length, end_gauge())
    assert combined.value == pytest.approx(50.000838e6, abs=0.5)
    assert combined.standard_uncertainty == pytest.approx(32.0, abs=0.5)
    assert int(combined.degrees_of_freedom) == 16
    assert coverage_factor(combined.degrees_of_freedom, 0.99) == pytest.approx(2.92, abs=0.005)
    assert expanded_uncertainty(combined, 0.99) == pytest.approx(93.0, abs=1.0)
    budget = {name: abs(part) for name, part in combined.contributions.items()}
    table = {"standard": 25.0, "difference": 9.7, "expansion": 0.0, "temperature": 0.0,
             "expansion, difference": 2.9, "temperature, difference": 16.6}  # fmt: skip
    assert budget == pytest.approx(table, abs=0.06)


@verifies("acceptance.propagation.propagate")
def test_the_end_gauge_with_second_order_terms() -> None:
    combined = propagate(length, end_gauge(), second_order=True)
    assert combined.standard_uncertainty == pytest.approx(34.0, abs=0.5)
    # the two terms that the guide names: 11.7 nm and 1.7 nm
    first = propagate(length, end_gauge()).standard_uncertainty
    assert sqrt(combined.standard_uncertainty**2 - first**2) == pytest.approx(sqrt(11.7**2 + 1.7**2), abs=0.2)


# JCGM 100:2008, H.2, table H.2: five simultaneous readings of voltage, current and phase. From memory. Expected values
# of table H.4, by the first approach: correlated means.
VOLTAGES_V = (5.007, 4.994, 5.005, 4.990, 4.999)
CURRENTS_A = (19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3)
PHASES = (1.0456, 1.0438, 1.0468, 1.0428, 1.0433)


def one(_phase: float) -> float:
    return 1.0


@pytest.mark.parametrize(
    ("of_phase", "value_ohm", "uncertainty_ohm"),
    [(cos, 127.732, 0.071), (sin, 219.847, 0.295), (one, 254.260, 0.236)],
    ids=["resistance", "reactance", "impedance"],
)
@verifies("acceptance.propagation.propagate")
def test_correlated_readings_of_the_guide(
    of_phase: Callable[[float], float], value_ohm: float, uncertainty_ohm: float
) -> None:
    columns = {"voltage": VOLTAGES_V, "current": CURRENTS_A, "phase": PHASES}
    inputs = [Estimate(name, mean(column), stdev(column) / sqrt(5.0)) for name, column in columns.items()]
    pairs = [("voltage", "current"), ("voltage", "phase"), ("current", "phase")]
    correlations = {pair: correlation(columns[pair[0]], columns[pair[1]]) for pair in pairs}
    assert list(correlations.values()) == pytest.approx([-0.36, 0.86, -0.65], abs=0.006)
    combined = propagate(
        lambda at: at["voltage"] / at["current"] * of_phase(at["phase"]), inputs, correlations=correlations
    )
    assert combined.value == pytest.approx(value_ohm, abs=0.0006)
    assert combined.standard_uncertainty == pytest.approx(uncertainty_ohm, abs=0.0006)


@pytest.mark.parametrize(
    ("freedom", "confidence", "factor"),
    [(1, 0.95, 12.71), (3, 0.95, 3.18), (10, 0.95, 2.23), (16, 0.99, 2.92), (50, 0.99, 2.68), (inf, 0.95, 1.960),
     (inf, 0.99, 2.576), (10.9, 0.95, 2.23)],
)  # fmt: skip
@verifies("acceptance.propagation.coverage_factor")
def test_students_t_as_tabled(freedom: float, confidence: float, factor: float) -> None:
    """Table G.2 of the GUM; degrees of freedom that are no whole number are rounded down."""
    assert coverage_factor(freedom, confidence) == pytest.approx(factor, abs=0.005)


@verifies("acceptance.propagation.expanded_uncertainty")
def test_expanded_by_students_t() -> None:
    assert expanded_uncertainty(Combined(1.0, 0.01, 10.0)) == pytest.approx(0.0223, abs=0.0001)


@verifies("acceptance.instruments.standard_uncertainty")
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


def test_what_cannot_be_is_refused() -> None:
    first, other = Estimate("one", 1.0, 0.1), Estimate("other", 2.0, 0.1)
    bad: list[dict[str, object]] = [
        {"correlations": {("one", "third"): 0.5}},
        {"correlations": {("one", "one"): 0.5}},
        {"correlations": {("one", "other"): 1.5}},
        {"correlations": {("one", "other"): 0.5, ("other", "one"): 0.5}},
        {"correlations": {("one", "other"): 0.5}, "second_order": True},
    ]
    for arguments in bad:
        with pytest.raises(InputError):
            propagate(total, (first, other), **arguments)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="twice"):
        propagate(total, (first, first))
    with pytest.raises(InputError, match="degrees of freedom"):
        propagate(total, (first, Estimate("other", 2.0, 0.1, 5)), correlations={("one", "other"): 0.5})
    with pytest.raises(InputError, match="the model gives nan"):
        propagate(nothing, (first,))
    third = Estimate("third", 0.0, 0.1)
    pairs = {("one", "other"): -1.0, ("other", "third"): -1.0, ("one", "third"): -1.0}
    with pytest.raises(InputError, match="contradict"):
        propagate(total, (first, other, third), correlations=pairs)
    for value, uncertainty, freedom in [(float("nan"), 0.1, 5.0), (1.0, -0.1, 5.0), (1.0, 0.1, 0.0)]:
        with pytest.raises(InputError):
            Estimate("x", value, uncertainty, freedom)
    for arguments_of_factor in [(0.5, 0.95), (float("nan"), 0.95), (5.0, 1.0), (5.0, 0.0)]:
        with pytest.raises(InputError):
            coverage_factor(*arguments_of_factor)


def test_second_order_of_a_square_is_exact() -> None:
    """x^2 of a normal x: variance 4 m^2 s^2 + 2 s^4, which the second-order terms give exactly; and x^3 near 0."""
    square = propagate(lambda at: at["x"] ** 2, (Estimate("x", 1.0, 0.5),), second_order=True)
    assert square.standard_uncertainty**2 == pytest.approx(4.0 * 0.25 + 2.0 * 0.0625, rel=1e-9)
    # x^3: f_i = 3, f_ii = 6, f_iii = 6: 9 s^2 + 18 s^4 + 18 s^4
    cube = propagate(lambda at: at["x"] ** 3, (Estimate("x", 1.0, 0.1),), second_order=True)
    assert cube.standard_uncertainty**2 == pytest.approx(9.0 * 1e-2 + 36.0 * 1e-4, rel=1e-9)
    # x y^2: f_y f_yxx 0; f_x f_xyy = y^2 2; f_xy = 2y; f_yy = 2x
    mixed = propagate(
        lambda at: at["x"] * at["y"] ** 2, (Estimate("x", 3.0, 0.1), Estimate("y", 2.0, 0.2)), second_order=True
    )
    first = (4.0 * 0.1) ** 2 + (12.0 * 0.2) ** 2
    second = (4.0 * 0.1 * 0.2) ** 2 + (6.0 * 0.2**2) ** 2 / 2.0 + 4.0 * 2.0 * (0.1 * 0.2) ** 2
    assert mixed.standard_uncertainty**2 == pytest.approx(first + second, rel=1e-9)


def test_an_exact_input_has_no_share_and_nothing_uncertain_is_certain() -> None:
    combined = propagate(lambda at: at["x"] * 2.0, (Estimate("x", 1.0, 0.0, 3),))
    assert combined == Combined(2.0, 0.0, inf, {"x": 0.0})
