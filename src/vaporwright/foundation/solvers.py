"""Root finding in a bracket, as kernels by reverse communication and as a plain function.

The method is Chandrupatla's: inverse quadratic interpolation where it is safe, bisection elsewhere. The bracket
always holds the root, so it cannot diverge.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from vaporwright.foundation.errors import NotConverged
from vaporwright.foundation.kernels import kernel
from vaporwright.foundation.register import sourced


class RootSearch(NamedTuple):
    """A root search: the newest point, the opposite end of the bracket, the point before, and where to look next."""

    newest: float
    residual_newest: float
    opposite: float
    residual_opposite: float
    next: float
    width: float  # of the bracket


@kernel
def start_root_search(low: float, residual_low: float, high: float, residual_high: float) -> RootSearch:
    """Begin between two points whose residuals differ in sign; first look where the secant points, kept inside."""
    share = residual_low / (residual_low - residual_high)
    share = min(max(share, 0.02), 0.98)
    return RootSearch(low, residual_low, high, residual_high, low + share * (high - low), abs(high - low))


@kernel
@sourced("chandrupatla-1997", "algorithm of section 3")
def advance_root_search(search: RootSearch, residual: float, tolerance: float) -> RootSearch:
    """Take the residual found at `search.next` and say where to look next.

    Args:
        search: the state so far.
        residual: value of the function at search.next; its sign must be meaningful, also where it is huge.
        tolerance: width of the bracket below which steps are no longer shortened, in the unit of the unknown.
    """
    x1, f1 = search.next, residual
    if (residual > 0.0) == (search.residual_newest > 0.0):
        x3, f3 = search.newest, search.residual_newest
        x2, f2 = search.opposite, search.residual_opposite
    else:
        x3, f3 = search.opposite, search.residual_opposite
        x2, f2 = search.newest, search.residual_newest
    width = abs(x2 - x1)
    if width == 0.0 or residual == 0.0:
        return RootSearch(x1, f1, x2, f2, x1, 0.0)
    t = 0.5
    if f3 != f1 and f3 != f2 and x3 != x2:
        xi = (x1 - x2) / (x3 - x2)
        phi = (f1 - f2) / (f3 - f2)
        if phi * phi < xi and (1.0 - phi) * (1.0 - phi) < 1.0 - xi:
            t = f1 / (f2 - f1) * f3 / (f2 - f3) + (x3 - x1) / (x2 - x1) * f1 / (f3 - f1) * f2 / (f3 - f2)
    least = min(0.5, 0.5 * tolerance / width)
    t = min(max(t, least), 1.0 - least)
    return RootSearch(x1, f1, x2, f2, x1 + t * (x2 - x1), width)


def find_root(
    function: Callable[[float], float], low: float, high: float, *, tolerance: float, name: str, most: int = 100
) -> float:
    """The root of `function` between low and high.

    Args:
        function: continuous; its values at low and high must differ in sign (a zero counts as a root).
        tolerance: width of the final bracket, in the unit of the unknown.
        name: what the unknown is, for messages.
    Raises:
        NotConverged: no change of sign, a residual that is no number, or not within `most` evaluations.
    """

    def residual_at(x: float) -> float:
        residual = function(x)
        if residual != residual:
            raise NotConverged(f"{name}: no number at {x:.6g}")
        return residual

    residual_low, residual_high = residual_at(low), residual_at(high)
    if residual_low == 0.0:
        return low
    if residual_high == 0.0:
        return high
    if not (residual_low > 0.0) ^ (residual_high > 0.0):
        raise NotConverged(
            f"{name}: no root between {low:.6g} and {high:.6g} (residuals {residual_low:.4g} and {residual_high:.4g})"
        )
    search = start_root_search(low, residual_low, high, residual_high)
    for _ in range(most):
        search = advance_root_search(search, residual_at(search.next), tolerance)
        if search.width <= tolerance:
            return search.newest
    raise NotConverged(f"{name}: still {search.width:.3g} wide around {search.newest:.6g} after {most} evaluations")
