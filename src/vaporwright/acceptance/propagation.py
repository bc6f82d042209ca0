"""Uncertainty of a quantity worked out from readings: the law of propagation, with what the GUM adds to it.

Equations of JCGM 100:2008 (the GUM): combined standard uncertainty 5.1.2 and, of correlated inputs, 5.2.2; second-order
terms, the note to 5.1.2; effective degrees of freedom G.4.1 (Welch-Satterthwaite); coverage factor G.6.4.
Derivatives are taken numerically over one standard uncertainty of each input, which is the span that matters.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from math import floor, hypot, inf, isfinite, isnan, sqrt

from vaporwright.foundation.errors import InputError
from vaporwright.foundation.register import sourced

Correlations = Mapping[tuple[str, str], float]
_WHERE = "uncertainty"


@dataclass(frozen=True)
class Estimate:
    """One input: its value, its standard uncertainty, and the degrees of freedom of that.

    Raises: InputError for what is no number, a negative uncertainty, or no degrees of freedom.
    """

    name: str
    value: float
    standard_uncertainty: float
    degrees_of_freedom: float = inf

    def __post_init__(self) -> None:
        if not isfinite(self.value):
            raise InputError(_WHERE, self.name, f"value {self.value!r}", "a number")
        if not (isfinite(self.standard_uncertainty) and self.standard_uncertainty >= 0.0):
            raise InputError(_WHERE, self.name, f"standard uncertainty {self.standard_uncertainty!r}", "0 or more")
        if not self.degrees_of_freedom > 0.0:
            raise InputError(_WHERE, self.name, f"degrees of freedom {self.degrees_of_freedom!r}", "above 0")


@dataclass(frozen=True)
class Combined:
    """A quantity worked out from inputs, and how uncertain it is."""

    value: float
    standard_uncertainty: float
    degrees_of_freedom: float  # effective
    contributions: Mapping[str, float] = field(default_factory=dict)  # sensitivity times standard uncertainty, signed


@sourced("gum", "5.1.2 eq. 10, and its note on second-order terms; 5.2.2 eq. 16; G.4.1 eq. G.2b")
def propagate(
    model: Callable[[Mapping[str, float]], float],
    inputs: Sequence[Estimate],
    *,
    correlations: Correlations | None = None,
    second_order: bool = False,
) -> Combined:
    """The value of a model at its inputs, with its combined standard uncertainty.

    Equation: u^2 = sum (c_i u_i)^2 + 2 sum c_i u_i c_j u_j r_ij, c_i the derivative of the model to input i; with
    second order also sum sum [f_ij^2/2 + f_i f_ijj] u_i^2 u_j^2.

    Args:
        model: takes the inputs' values by name.
        correlations: coefficients between pairs of inputs; pairs not named are independent.
        second_order: for a model that bends over the span of its uncertainties. Independent inputs only.
    Raises:
        InputError: a name twice, a correlation that cannot be, or one together with what holds only for
            independent inputs (second order, finite degrees of freedom); a model that gives no number; second-order
            terms that leave no variance.
    """
    names = [estimate.name for estimate in inputs]
    if len(set(names)) != len(names):
        raise InputError(_WHERE, ", ".join(names), "a name stands twice", "each input once")
    pairs = _checked(correlations or {}, inputs, second_order)
    point = _Point(model, {estimate.name: estimate.value for estimate in inputs})
    moving = [estimate for estimate in inputs if estimate.standard_uncertainty > 0.0]
    parts = {estimate.name: point.slope(estimate) for estimate in moving}
    independent = sum(part**2 for part in parts.values())
    variance = independent
    for (one, other), coefficient in pairs.items():
        variance += 2.0 * coefficient * parts.get(one, 0.0) * parts.get(other, 0.0)
    if second_order:
        variance += _second_order(point, moving, parts)
    if variance < -1e-12 * independent:
        problem = (
            "the second-order terms leave no variance" if second_order else "the correlations contradict each other"
        )
        allowed = "a model that bends less over its uncertainties" if second_order else "a possible set of them"
        raise InputError(_WHERE, ", ".join(names), problem, allowed)
    freedom = [(parts[estimate.name], estimate.degrees_of_freedom) for estimate in moving]
    effective = effective_degrees_of_freedom(hypot(*parts.values()), freedom)
    contributions = {name: parts.get(name, 0.0) for name in names}
    return Combined(point.value(), sqrt(max(variance, 0.0)), effective, contributions)


def _checked(correlations: Correlations, inputs: Sequence[Estimate], second_order: bool) -> Correlations:
    known = {estimate.name: estimate for estimate in inputs}
    seen: set[frozenset[str]] = set()
    for (one, other), coefficient in correlations.items():
        key = f"correlation of {one} and {other}"
        if one not in known or other not in known or one == other:
            raise InputError(_WHERE, key, "not two of the inputs", ", ".join(known))
        if not -1.0 <= coefficient <= 1.0:
            raise InputError(_WHERE, key, f"{coefficient!r}", "-1 to 1")
        if frozenset((one, other)) in seen:
            raise InputError(_WHERE, key, "stands twice", "each pair once")
        seen.add(frozenset((one, other)))
        if second_order:
            raise InputError(_WHERE, key, "the second-order terms hold for independent inputs", "one of the two")
        if isfinite(known[one].degrees_of_freedom) or isfinite(known[other].degrees_of_freedom):
            problem = "effective degrees of freedom hold for independent inputs"
            raise InputError(_WHERE, key, problem, "no degrees of freedom on correlated inputs")
    return correlations


class _Point:
    """A model at a point, and its derivatives there, each already times the standard uncertainties."""

    def __init__(self, model: Callable[[Mapping[str, float]], float], values: dict[str, float]) -> None:
        self.model, self.values = model, values

    def value(self, *moves: tuple[Estimate, float]) -> float:
        """The model with inputs moved by so many of their standard uncertainties."""
        values = dict(self.values)
        for estimate, steps in moves:
            values[estimate.name] += steps * estimate.standard_uncertainty
        result = self.model(values)
        if not isfinite(result):
            moved = ", ".join(estimate.name for estimate, _ in moves)
            raise InputError(_WHERE, moved, f"the model gives {result!r}", "a number")
        return result

    def slope(self, estimate: Estimate) -> float:
        """f_i u_i: central differences over one and half a standard uncertainty, extrapolated."""
        wide = (self.value((estimate, 1.0)) - self.value((estimate, -1.0))) / 2.0
        narrow = self.value((estimate, 0.5)) - self.value((estimate, -0.5))
        return (4.0 * narrow - wide) / 3.0

    def bend(self, estimate: Estimate) -> float:
        """f_ii u_i^2."""
        return self.value((estimate, 1.0)) - 2.0 * self.value() + self.value((estimate, -1.0))

    def twist(self, one: Estimate, other: Estimate) -> float:
        """f_ij u_i u_j of two different inputs."""
        same = self.value((one, 1.0), (other, 1.0)) + self.value((one, -1.0), (other, -1.0))
        opposite = self.value((one, 1.0), (other, -1.0)) + self.value((one, -1.0), (other, 1.0))
        return (same - opposite) / 4.0

    def slope_of_bend(self, one: Estimate, other: Estimate) -> float:
        """f_ijj u_i u_j^2."""
        if one is other:
            odd = self.value((one, 2.0)) - 2.0 * self.value((one, 1.0))
            return (odd + 2.0 * self.value((one, -1.0)) - self.value((one, -2.0))) / 2.0

        def half_range(steps: float) -> float:
            return (self.value((one, 1.0), (other, steps)) - self.value((one, -1.0), (other, steps))) / 2.0

        return half_range(1.0) - 2.0 * half_range(0.0) + half_range(-1.0)


def _second_order(point: _Point, moving: Sequence[Estimate], parts: Mapping[str, float]) -> float:
    total = sum(point.bend(one) ** 2 / 2.0 for one in moving)
    total += sum(point.twist(one, other) ** 2 for one, other in combinations(moving, 2))  # stands twice, halved
    for one in moving:
        total += parts[one.name] * sum(point.slope_of_bend(one, other) for other in moving)
    return total


@sourced("gum", "G.4.1 eq. G.2b, Welch-Satterthwaite")
def effective_degrees_of_freedom(standard_uncertainty: float, parts: Sequence[tuple[float, float]]) -> float:
    """Degrees of freedom of a combined standard uncertainty of independent inputs; infinite where all are known well.

    Equation: nu = u^4 / sum((c_i u_i)^4 / nu_i).
    Args: parts: for each input its contribution c_i u_i and its degrees of freedom.
    """
    if standard_uncertainty == 0.0:
        return inf
    weight = sum((part / standard_uncertainty) ** 4 / freedom for part, freedom in parts)
    return 1.0 / weight if weight > 0.0 else inf


@sourced("gum", "G.6.4 and table G.2: Student's t at the degrees of freedom, rounded down (note to G.4.1)")
def coverage_factor(degrees_of_freedom: float, confidence: float = 0.95) -> float:
    """How many standard uncertainties on either side hold the value with this confidence.

    Raises: InputError for less than one degree of freedom or a confidence not between 0 and 1.
    """
    if not 0.0 < confidence < 1.0:
        raise InputError(_WHERE, "confidence", f"{confidence!r}", "between 0 and 1")
    if isnan(degrees_of_freedom) or degrees_of_freedom < 1.0:
        raise InputError(_WHERE, "degrees of freedom", f"{degrees_of_freedom!r}", "1 or more")
    # SciPy costs most of a second to import: only here, when a test is evaluated
    from scipy.special import ndtri, stdtrit

    share = 0.5 + confidence / 2.0
    if not isfinite(degrees_of_freedom):
        return float(ndtri(share))
    return float(stdtrit(floor(degrees_of_freedom), share))


@sourced("gum", "6.2.1 eq. 18; G.6.4")
def expanded_uncertainty(combined: Combined, confidence: float = 0.95) -> float:
    """Half the width of the interval that holds the value with this confidence."""
    return coverage_factor(combined.degrees_of_freedom, confidence) * combined.standard_uncertainty
