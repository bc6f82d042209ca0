"""Resistance between the terminals of a heater circuit against nodal analysis of its network."""

from __future__ import annotations

import numpy as np
import pytest

from support import verifies
from vaporwright.acceptance.sections.heat import heater_line_resistance_ohm
from vaporwright.foundation.errors import InputError, OutOfRange

STAR = ((0, 3), (1, 3), (2, 3))
DELTA = ((0, 1), (1, 2), (2, 0))
SINGLE = ((0, 1),)


def between(branches: tuple[tuple[int, int], ...], element_ohm: float) -> float:
    """Resistance between nodes 0 and 1: one ampere in at 0, out at 1, node 1 earthed."""
    nodes = max(max(branch) for branch in branches) + 1
    conductance = np.zeros((nodes, nodes))
    for one, two in branches:
        for place, other in ((one, two), (two, one)):
            conductance[place, place] += 1.0 / element_ohm
            conductance[place, other] -= 1.0 / element_ohm
    kept = [node for node in range(nodes) if node != 1]
    current = np.array([1.0 if node == 0 else 0.0 for node in kept])
    return float(np.linalg.solve(conductance[np.ix_(kept, kept)], current)[kept.index(0)])


@verifies("acceptance.sections.heat.heater_line_resistance_ohm")
@pytest.mark.parametrize(("power_W", "voltage_V"), [(18_000.0, 480.0), (9_000.0, 240.0), (4_500.0, 208.0)])
def test_star_and_delta_look_alike_from_outside(power_W: float, voltage_V: float) -> None:
    found = heater_line_resistance_ohm(power_W=power_W, voltage_V=voltage_V, phases=3)
    # A star's element stands on V/root 3, a delta's on V; each gives a third of the power.
    assert between(STAR, (voltage_V / np.sqrt(3.0)) ** 2 / (power_W / 3.0)) == pytest.approx(found, rel=1e-12)
    assert between(DELTA, voltage_V**2 / (power_W / 3.0)) == pytest.approx(found, rel=1e-12)


@verifies("acceptance.sections.heat.heater_line_resistance_ohm")
def test_one_phase() -> None:
    found = heater_line_resistance_ohm(power_W=4_500.0, voltage_V=240.0, phases=1)
    assert between(SINGLE, 240.0**2 / 4_500.0) == pytest.approx(found, rel=1e-12)


def test_what_is_no_heater_is_named() -> None:
    with pytest.raises(OutOfRange, match="power_W"):
        heater_line_resistance_ohm(power_W=0.0, voltage_V=480.0, phases=3)
    with pytest.raises(OutOfRange, match="voltage_V"):
        heater_line_resistance_ohm(power_W=1e3, voltage_V=24.0, phases=3)
    with pytest.raises(InputError, match="phases"):
        heater_line_resistance_ohm(power_W=1e3, voltage_V=480.0, phases=2)
