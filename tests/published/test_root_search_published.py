"""Root finding against roots known in closed form or printed since long."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from support import verifies
from vaporwright.foundation.solvers import find_root

# Wallis's cubic (1685; de Morgan printed its root to many digits): from memory. The fixed point of the cosine:
# from memory. The golden section and Magnus's formula (whose inverse is exact) by hand.
PRINTED: dict[str, tuple[Callable[[float], float], float, float, float]] = {
    "Wallis": (lambda x: x**3 - 2.0 * x - 5.0, 2.0, 3.0, 2.0945514815423265),
    "cosine": (lambda x: math.cos(x) - x, 0.0, 1.0, 0.7390851332151607),
    "golden section": (lambda x: x * x - x - 1.0, 1.0, 2.0, 1.618033988749895),
    "Magnus": (
        lambda x: 610.94 * math.exp(17.625 * x / (x + 243.04)) - 5000.0,
        -40.0,
        99.0,
        243.04 * math.log(5000.0 / 610.94) / (17.625 - math.log(5000.0 / 610.94)),
    ),
}


@pytest.mark.parametrize("name", PRINTED)
@verifies("foundation.solvers.advance_root_search")
def test_printed_roots(name: str) -> None:
    function, low, high, root = PRINTED[name]
    assert find_root(function, low, high, tolerance=1e-12, name=name) == pytest.approx(root, abs=1e-12)
