"""Root finding: known roots to the stated tolerance, and errors that name the unknown."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from vaporwright.foundation.errors import NotConverged
from vaporwright.foundation.solvers import advance_root_search, find_root, start_root_search

# Functions of the kind that the root-finding literature tries its methods on: function, bracket, root.
KNOWN: dict[str, tuple[Callable[[float], float], float, float, float]] = {
    "straight": (lambda x: 2.0 * x - 1.0, 0.0, 3.0, 0.5),
    "golden": (lambda x: x * x - x - 1.0, 1.0, 2.0, (1.0 + math.sqrt(5.0)) / 2.0),
    "cubic (Wallis)": (lambda x: x**3 - 2.0 * x - 5.0, 2.0, 3.0, 2.0945514815423265),  # Wallis, 1685
    "cosine (Dottie)": (lambda x: math.cos(x) - x, 0.0, 1.0, 0.7390851332151607),
    "falling": (lambda x: math.exp(-x) - 0.25, 0.0, 20.0, math.log(4.0)),
    "steep exponential": (lambda x: math.exp(30.0 * x) - 1.0e6, 0.0, 2.0, math.log(1.0e6) / 30.0),
    "flat, triple": (lambda x: (x - 1.0) ** 3, -3.0, 7.0, 1.0),
    "flat, ninth": (lambda x: (x - 0.3) ** 9, 0.0, 1.0, 0.3),
    "step": (lambda x: -1.0 if x < 0.7 else 1.0, 0.0, 1.0, 0.7),
    "corner": (lambda x: -1.0e-6 if x < 0.2 else x - 0.2 + 1.0e-6, 0.0, 1.0, 0.2),
    "pole outside": (lambda x: 1.0 / (x - 0.999) + 5.0, -1.0, 0.998, 0.799),
    "root near an end": (lambda x: x - 1.0e-7, 0.0, 1.0e3, 1.0e-7),
    # Magnus's formula at 5000 Pa, which has its inverse
    "temperature": (
        lambda x: 610.94 * math.exp(17.625 * x / (x + 243.04)) - 5000.0,
        -40.0,
        99.0,
        243.04 * math.log(5000.0 / 610.94) / (17.625 - math.log(5000.0 / 610.94)),
    ),
}


@pytest.mark.parametrize("name", KNOWN)
@pytest.mark.parametrize("tolerance", [1e-3, 1e-6, 1e-10])
@pytest.mark.parametrize("turned", [False, True])
def test_known_roots_to_the_tolerance(name: str, tolerance: float, turned: bool) -> None:
    function, low, high, root = KNOWN[name]
    calls = []

    def counted(x: float) -> float:
        assert low <= x <= high
        calls.append(x)
        return -function(x) if turned else function(x)

    found = find_root(counted, low, high, tolerance=tolerance, name="x_K")
    assert abs(found - root) <= tolerance + 1e-13
    # The method never needs much more than twice the halvings.
    assert len(calls) <= 4 + 2.5 * math.log2((high - low) / tolerance)


@pytest.mark.parametrize("name", ["golden", "cubic (Wallis)", "cosine (Dottie)", "falling", "temperature"])
def test_smooth_functions_take_few_evaluations(name: str) -> None:
    function, low, high, _ = KNOWN[name]
    calls = []

    def counted(x: float) -> float:
        calls.append(x)
        return function(x)

    find_root(counted, low, high, tolerance=1e-10, name="x")
    # Halving would take 34 to 41. A step that never crosses the root leaves the bracket wide and falls back to it.
    assert len(calls) <= 14


def test_loose_tolerance_costs_less() -> None:
    def evaluations(tolerance: float) -> int:
        calls = []

        def counted(x: float) -> float:
            calls.append(x)
            return math.exp(x) - 3.0

        find_root(counted, 0.0, 5.0, tolerance=tolerance, name="x")
        return len(calls)

    assert evaluations(0.5) < evaluations(1e-4) <= evaluations(1e-12)


def test_root_at_an_end() -> None:
    assert find_root(lambda x: x - 2.0, 2.0, 5.0, tolerance=1e-9, name="x") == 2.0
    assert find_root(lambda x: x - 5.0, 2.0, 5.0, tolerance=1e-9, name="x") == 5.0


def test_no_change_of_sign_names_the_unknown() -> None:
    with pytest.raises(NotConverged, match=r"^wet_bulb_temperature_K: no root between 1 and 3 \(residuals 2 and 10\)$"):
        find_root(lambda x: x * x + 1.0, 1.0, 3.0, tolerance=1e-6, name="wet_bulb_temperature_K")
    with pytest.raises(NotConverged, match="flow_m3_s: no root"):
        find_root(lambda x: -x - 1.0, 0.0, 3.0, tolerance=1e-6, name="flow_m3_s")


def test_too_few_evaluations_are_said() -> None:
    with pytest.raises(NotConverged, match=r"^air_flow_kg_s: still .* wide around .* after 3 evaluations$"):
        find_root(lambda x: x**3 - 0.2, 0.0, 1.0, tolerance=1e-12, name="air_flow_kg_s", most=3)


@pytest.mark.parametrize(
    "function",
    [
        lambda _: math.nan,
        lambda x: x - 0.3 if x < 0.5 else math.nan,
        lambda x: math.nan if x < 0.5 else 1.0,
        lambda x: math.nan if 0.1 < x < 0.9 else x - 0.3,
    ],
)
def test_a_residual_that_is_no_number_is_no_root(function: Callable[[float], float]) -> None:
    with pytest.raises(NotConverged, match=r"^x: "):
        find_root(function, 0.0, 1.0, tolerance=1e-9, name="x")


def test_reverse_communication_keeps_the_root_between() -> None:
    def function(x: float) -> float:
        return x**5 - 0.5

    root = 0.5**0.2
    search = start_root_search(0.0, function(0.0), 1.0, function(1.0))
    assert 0.0 < search.next < 1.0
    width = search.width
    for _ in range(60):
        search = advance_root_search(search, function(search.next), 1e-12)
        low, high = sorted((search.newest, search.opposite))
        assert low <= root <= high
        assert low <= search.next <= high
        assert search.width <= width
        width = search.width
        if width <= 1e-12:
            break
    assert width <= 1e-12


def test_first_look_stays_off_the_ends() -> None:
    # The secant of very unequal residuals would look at the end itself.
    search = start_root_search(0.0, -1e-30, 1.0, 1e30)
    assert search.next == pytest.approx(0.02)
    assert start_root_search(0.0, -1e30, 1.0, 1e-30).next == pytest.approx(0.98)
