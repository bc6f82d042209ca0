"""Slow second opinion on the counterflow tower: the full Poppe model on SciPy and CoolProp.

Written from the balances, apart from the product's solver, and with other means: real-gas moist air and IAPWS
water from CoolProp, an adaptive eighth-order march, and Brent's method.

Per kilogram of dry air, with the fill measured by a = K A / G upwards from the air inlet (K on the humidity
difference, A the wetted area passed, G the dry air flow):

    water vapour    dw/da = dW           dW = w_i(Tw) - w, or w_i(Tw) - w_s(Ta) where the air carries mist
    water           r = r_out + w - w_in           r: local water flow over dry air flow
    energy          h - h_in = r hw(Tw) - r_out hw(Tw_out)           exact, nothing integrated
    water cooling   r cw dTw/da = dW (hv - hw) + Le S
    sensible heat   S = h(Tw, w) - h(Ta, w), with mist h(Tw, ws) - h(Ta, ws) + (w - ws) (hw(Tw) - hw(Ta))
    Lewis factor    Le = 0.865^(2/3) (x - 1) / ln x,   x = (w_i + eps) / (w + eps), with mist w_s(Ta) for w

w_i follows from the vapour pressure a_w f p_ws at the water's surface, f at the true composition of the air there.
hv, the enthalpy that a kilogram of vapour brings into the air, is the mean slope of h over w from w to w_i at Tw.
With it dW hv + S = h(Tw, w_i) - h exactly, so that a Lewis factor of one gives Merkel's enthalpy potential in a
real gas too, and the whole is the published form (Kloppers and Kroeger 2005) with real-gas enthalpies. Other
readings of hv are options, to measure what they move.

Two Merkel numbers come out. merkel_number = K A / (water flow in), the product's definition.
merkel_number_local = integral of K dA / (local water flow), which is what the published form sums. It is larger,
by about half of the evaporated share.

Marching over the height from a guessed outlet blows up for hot water. Here the curve (Tw, w, Me) is followed by
its own length, so that neither a pinch (no change of Tw over height) nor water resting at its wet bulb is
singular, and it stops where Tw meets the hot water: what is then left is a residual in Me that grows steadily as
the guessed outlet gets colder.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from CoolProp.CoolProp import HAProps_Aux, HAPropsSI, PropsSI
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq

MOLAR_MASS_RATIO = 18.015268 / 28.966  # the pair HAPropsSI itself uses
LEWIS_BASE = 0.865 ** (2.0 / 3.0)
FREEZING_K = 273.16


class WaterFreezesError(ArithmeticError):
    """The water would leave below its freezing point."""


class _Fit:
    """Chebyshev interpolant of a library function of temperature, to about twelve digits (tests check nine).

    CoolProp through its high-level calls costs 10 to 150 microseconds a value; a march asks for thousands.
    """

    def __init__(self, function: Callable[[float], float], low: float, high: float, degree: int) -> None:
        series = np.polynomial.Chebyshev.interpolate(np.vectorize(function), degree, domain=[low, high])
        self.coefficients = [float(c) for c in series.coef[::-1]]
        self.middle, self.half = 0.5 * (low + high), 0.5 * (high - low)

    def __call__(self, x: float) -> float:
        u = (x - self.middle) / self.half
        b1 = b2 = 0.0
        for c in self.coefficients[:-1]:
            b1, b2 = c + 2.0 * u * b1 - b2, b1
        return self.coefficients[-1] + u * b1 - b2


@functools.cache
def _liquid_fit() -> tuple[_Fit, _Fit]:
    # Enthalpy of the saturated liquid; the pressure's own share (under 0.1 kJ/kg) cancels from balances.
    series = np.polynomial.Chebyshev.interpolate(
        np.vectorize(lambda t: PropsSI("H", "T", t, "Q", 0, "Water")), 14, domain=[FREEZING_K, 378.15]
    )
    return _Fit(series, FREEZING_K, 378.15, 14), _Fit(series.deriv(), FREEZING_K, 378.15, 14)


def liquid_enthalpy_J_kg(temperature_K: float) -> float:
    """Saturated liquid water; below freezing a straight line goes on (supercooled mist)."""
    enthalpy, slope = _liquid_fit()
    if temperature_K < FREEZING_K:
        return enthalpy(FREEZING_K) + slope(FREEZING_K) * (temperature_K - FREEZING_K)
    return enthalpy(temperature_K)


def liquid_heat_capacity_J_kgK(temperature_K: float) -> float:
    """Slope of the enthalpy above."""
    return _liquid_fit()[1](max(temperature_K, FREEZING_K))


def vapour_share_over_liquor(
    share_over_water: float, temperature_K: float, pressure_Pa: float, activity: float
) -> float:
    """Mole fraction of vapour in equilibrium with liquor, from the one over pure water at the same T and p.

    Water activity is a ratio of fugacities. Both airs have the liquid's Poynting term in common and differ in
    the vapour's fugacity coefficient, ln phi = p/RT [Bww - xa^2 (Bww - 2 Baw + Baa)], xa the mole fraction of
    air. A bare product of activity and share over water is 0.3 % high in vapour pressure at an activity of 0.7.
    """
    if activity == 1.0:
        return share_over_water
    b_air, b_cross, b_water = (HAProps_Aux(n, temperature_K, pressure_Pa, 0.0)[0] for n in ("Baa", "Baw", "Bww"))
    factor = pressure_Pa / (8.314462618 * temperature_K) * (b_water - 2.0 * b_cross + b_air)
    share = activity * share_over_water
    for _ in range(20):
        share = activity * share_over_water * math.exp(factor * ((1.0 - share) ** 2 - (1.0 - share_over_water) ** 2))
    return share


def humidity_ratio_over_liquor(temperature_K: float, pressure_Pa: float, water_activity: float = 1.0) -> float:
    """Humidity ratio of air in equilibrium with liquor (over ice below freezing), from the library."""
    pure = HAPropsSI("psi_w", "T", temperature_K, "P", pressure_Pa, "R", 1.0)
    share = vapour_share_over_liquor(pure, temperature_K, pressure_Pa, water_activity)
    return MOLAR_MASS_RATIO * share / (1.0 - share)


def air_enthalpy_J_kg(temperature_K: float, humidity_ratio: float, pressure_Pa: float) -> float:
    """Moist air without mist, per kilogram of dry air (real gas; goes on beyond saturation)."""
    return HAPropsSI("H", "T", temperature_K, "P", pressure_Pa, "W", max(humidity_ratio, 1e-9))


def vapour_enthalpy_J_kg(temperature_K: float, humidity_ratio: float, pressure_Pa: float) -> float:
    """Partial enthalpy of the water vapour in moist air, dh/dw."""
    step = 1e-3 * (0.1 + humidity_ratio)
    above = air_enthalpy_J_kg(temperature_K, humidity_ratio + step, pressure_Pa)
    below_ratio = max(humidity_ratio - step, 1e-9)
    below = air_enthalpy_J_kg(temperature_K, below_ratio, pressure_Pa)
    return (above - below) / (humidity_ratio + step - below_ratio)


class Saturated:
    """Saturated air at one pressure, interpolated from the library: fast enough to march with."""

    def __init__(self, pressure_Pa: float, cold_K: float, hot_K: float, activity: float = 1.0) -> None:
        def log_share(t: float) -> float:
            return math.log(HAPropsSI("psi_w", "T", t, "P", pressure_Pa, "R", 1.0))

        def log_share_liquor(t: float) -> float:
            return math.log(vapour_share_over_liquor(math.exp(log_share(t)), t, pressure_Pa, activity))

        def enthalpy_per_mole(t: float) -> float:
            share = HAPropsSI("psi_w", "T", t, "P", pressure_Pa, "R", 1.0)
            return HAPropsSI("H", "T", t, "P", pressure_Pa, "R", 1.0) * (1.0 - share)

        self.hot_K = hot_K
        warm, cold = (FREEZING_K + 1e-6, hot_K), (cold_K, FREEZING_K - 0.02)
        self.warm = _Fit(log_share, *warm, 18), _Fit(enthalpy_per_mole, *warm, 18)
        self.liquor = _Fit(log_share_liquor, *warm, 18)
        self.cold = _Fit(log_share, *cold, 12), _Fit(enthalpy_per_mole, *cold, 12)

    def share(self, temperature_K: float) -> float:
        """Mole fraction of vapour; over ice below freezing."""
        return math.exp((self.warm if temperature_K >= FREEZING_K else self.cold)[0](temperature_K))

    def humidity_ratio(self, temperature_K: float) -> float:
        share = min(self.share(temperature_K), 0.999)  # a trial value may lie beyond boiling
        return MOLAR_MASS_RATIO * share / (1.0 - share)

    def humidity_ratio_over_liquor(self, temperature_K: float) -> float:
        share = min(math.exp(self.liquor(temperature_K)), 0.999)
        return MOLAR_MASS_RATIO * share / (1.0 - share)

    def enthalpy_J_kg(self, temperature_K: float) -> float:
        fit = (self.warm if temperature_K >= FREEZING_K else self.cold)[1]
        return fit(temperature_K) / (1.0 - min(self.share(temperature_K), 0.999))


def _root_near(function: Callable[[float], float], guess: float, slope: float) -> float:
    # Secant: enthalpies are almost straight over a kelvin.
    x0, f0 = guess, function(guess)
    if f0 == 0.0:
        return x0
    step = -f0 / slope
    for _ in range(80):
        x1 = x0 + max(-6.0, min(6.0, step))
        f1 = function(x1)
        if abs(f1) < 1e-6 or x1 == x0 or f1 == f0:
            return x1
        step = -f1 * (x1 - x0) / (f1 - f0)
        x0, f0 = x1, f1
    raise ArithmeticError(f"air temperature not found near {guess} K")


def lewis_factor(interface_ratio: float, air_ratio: float) -> float:
    """Bosnjakovic."""
    x = (interface_ratio + MOLAR_MASS_RATIO) / (air_ratio + MOLAR_MASS_RATIO)
    e = x - 1.0
    if abs(e) < 1e-5:
        return LEWIS_BASE * (1.0 + e / 2.0 - e * e / 12.0)
    return LEWIS_BASE * e / math.log(x)


@dataclass(frozen=True)
class Options:
    """Which reading of the model; the defaults are the full one, the others measure what a choice moves."""

    vapour: str = "mean"  # "mean", "partial" (dh/dw at the surface), "ideal" (2500.9 kJ/kg + 1.86 kJ/kgK)
    lewis: str = "bosnjakovic"  # or "one"
    mist_heat: bool = True  # the film also warms the mist to the water's temperature, as published
    relative_tolerance: float = 1e-7  # of the march
    ice: bool = False  # mist becomes ice over the first 4 K below freezing, instead of supercooled water


@dataclass(frozen=True)
class SlowRating:
    water_out_temperature_K: float
    water_out_flow_kg_s: float
    air_out_temperature_K: float
    air_out_humidity_ratio_kg_kg: float
    air_out_enthalpy_J_kg: float
    evaporation_kg_s: float
    merkel_number: float
    merkel_number_local: float
    supersaturated: bool


@dataclass
class _Fill:
    """One tower's given values, per kilogram of dry air."""

    hot_K: float
    ratio_in: float  # water in over dry air
    air_K: float
    air_w: float
    pressure_Pa: float
    activity: float
    options: Options

    def __post_init__(self) -> None:
        self.air_h = air_enthalpy_J_kg(self.air_K, self.air_w, self.pressure_Pa)
        self.last_air_K = self.air_K
        top_K = max(self.hot_K, self.air_K) + 0.5
        self.saturated = Saturated(self.pressure_Pa, min(self.air_K, FREEZING_K) - 2.0, top_K, self.activity)

        def at_surface(t: float) -> float:
            return vapour_enthalpy_J_kg(t, self.saturated.humidity_ratio_over_liquor(t), self.pressure_Pa)

        self.vapour = {
            "partial": lambda: _Fit(at_surface, FREEZING_K, top_K, 14),
            "mean": lambda: _Fit(lambda _t: 0.0, FREEZING_K, top_K, 2),
            "ideal": lambda: _Fit(lambda t: 2500.9e3 + 1860.0 * (t - 273.15), FREEZING_K, top_K, 2),
        }[self.options.vapour]()
        self.rest_K = self.resting_temperature_K()

    def clear_temperature_K(self, h: float, w: float) -> float:
        """Air whose water is all vapour (also beyond saturation, where the march hands over to mist)."""

        def excess(t: float) -> float:
            return air_enthalpy_J_kg(t, w, self.pressure_Pa) - h

        self.last_air_K = _root_near(excess, self.last_air_K, 1006.0 + 1860.0 * w)
        return self.last_air_K

    def misty_temperature_K(self, h: float, w: float) -> float:
        """Saturated air that carries the rest of its water as mist."""

        def excess(t: float) -> float:
            mist = liquid_enthalpy_J_kg(t)
            if self.options.ice:
                mist -= 333.4e3 * min(1.0, max(0.0, (FREEZING_K - t) / 4.0))
            return self.saturated.enthalpy_J_kg(t) + (w - self.saturated.humidity_ratio(t)) * mist - h

        t = self.last_air_K
        self.last_air_K = _root_near(excess, t, (excess(t + 0.01) - excess(t)) / 0.01)
        return self.last_air_K

    def air_state(self, h: float, w: float, misty: bool) -> tuple[float, float]:
        """Temperature and vapour: w itself, or w_s(Ta) where the air carries mist."""
        if not misty:
            return self.clear_temperature_K(h, w), w
        t = self.misty_temperature_K(h, w)
        return t, self.saturated.humidity_ratio(t)

    def saturation_excess(self, h: float, w: float, misty: bool) -> float:
        """How far the branch in use is from its limit: positive inside."""
        if misty:
            return w - self.air_state(h, w, True)[1]
        t = self.clear_temperature_K(h, w)
        return 1.0 if t >= self.saturated.hot_K else self.saturated.humidity_ratio(t) - w

    def fluxes(self, water_K: float, w: float, h: float, misty: bool) -> tuple[float, float]:
        """Humidity potential, and the heat that cools the water, both per unit of a."""
        air_K, ws = self.air_state(h, w, misty)
        wi = self.saturated.humidity_ratio_over_liquor(water_K)
        dry = air_enthalpy_J_kg(water_K, ws, self.pressure_Pa)
        sensible = dry - air_enthalpy_J_kg(air_K, ws, self.pressure_Pa)
        if self.options.mist_heat:
            sensible += (w - ws) * (liquid_enthalpy_J_kg(water_K) - liquid_enthalpy_J_kg(air_K))
        lewis = lewis_factor(wi, ws) if self.options.lewis == "bosnjakovic" else 1.0
        potential = wi - ws
        if self.options.vapour == "mean":
            carried = air_enthalpy_J_kg(water_K, wi, self.pressure_Pa) - dry
        else:
            carried = potential * self.vapour(water_K)
        return potential, carried - potential * liquid_enthalpy_J_kg(water_K) + lewis * sensible

    def resting_temperature_K(self) -> float:
        """Water that meets the entering air and neither cools nor warms: the limit of the outlet."""

        def heat(t: float) -> float:
            self.last_air_K = self.air_K
            return self.fluxes(t, self.air_w, self.air_h, False)[1]

        if heat(self.hot_K) <= 0.0:
            return float(brentq(heat, self.hot_K, max(self.air_K, self.hot_K) + 3.0, xtol=1e-11))
        if heat(FREEZING_K) > 0.0:
            return FREEZING_K
        return float(brentq(heat, FREEZING_K, self.hot_K, xtol=1e-11))

    def outlet_for(
        self, merkel_number: float, ratio_out: float, near_K: float | None, within_K: float
    ) -> tuple[float, _Top]:
        """The water outlet whose march, from a given outlet flow, meets the hot water at this Merkel number.

        For a given outlet flow the residual grows steadily as the outlet gets colder. (The other way round, the
        outlet flow for a given outlet temperature, has two answers where the fill is pinched half-way.)
        """
        rest_K, hot_K = self.rest_K, self.hot_K
        scale_K = max(abs(hot_K - rest_K), 1e-3) / 4.0
        marched: dict[float, _Top] = {}

        def residual(out_K: float) -> float:
            if out_K == hot_K:
                return -1.0
            top = marched[out_K] = self.march(out_K, ratio_out, 1.3 * merkel_number, scale_K, merkel_number)
            miss = 0.0 if top.crossed else abs(hot_K - top.water_K)
            return top.me / merkel_number - 1.0 + miss

        low_K, high_K = rest_K, hot_K
        if near_K is not None:
            width = math.copysign(within_K, hot_K - rest_K)
            low_K, high_K = near_K - width, near_K + width
            while residual(low_K) < 0.0 and low_K != rest_K:
                width *= 5.0
                low_K = near_K - width if abs(near_K - width - rest_K) < abs(near_K - rest_K) else rest_K
            while residual(high_K) > 0.0 and high_K != hot_K:
                width *= 5.0
                high_K = near_K + width if abs(near_K + width - hot_K) < abs(near_K - hot_K) else hot_K
        if low_K == rest_K and residual(rest_K) < 0.0:
            raise WaterFreezesError(f"water would leave below {FREEZING_K} K")
        out_K = float(brentq(residual, low_K, high_K, xtol=2e-9, rtol=1e-15))
        # Of the last guesses keep the one whose march met the hot water; in a pinch the other may miss it.
        met = [k for k in marched if marched[k].crossed and abs(k - out_K) < 1e-6]
        out_K = min(met, key=lambda k: abs(k - out_K)) if met else out_K
        if abs(marched[out_K].water_K - hot_K) > 1e-4:
            raise ArithmeticError(f"march missed the hot water by {marched[out_K].water_K - hot_K} K")
        return out_K, marched[out_K]

    def settle(self, solve: Callable[[float], _Top], first: float) -> _Top:
        """Find the outlet flow at which the water that enters is what was given (secant)."""
        ratio_out, slope = first, 1.0
        before: tuple[float, float] | None = None
        for _ in range(40):
            top = solve(ratio_out)
            miss = ratio_out + (top.w - self.air_w) - self.ratio_in
            if abs(miss) < 0.03 * self.options.relative_tolerance * self.ratio_in:
                return top
            if before and abs(ratio_out - before[0]) > 1e-12:
                slope = min(3.0, max(0.3, (miss - before[1]) / (ratio_out - before[0])))
            before = ratio_out, miss
            ratio_out = max(ratio_out - miss / slope, 1e-3 * self.ratio_in)
        raise ArithmeticError("the water balance of the march did not close")

    def march(self, out_K: float, ratio_out: float, cap: float, scale_K: float, scale_me: float) -> _Top:
        leaving = ratio_out * liquid_enthalpy_J_kg(out_K)
        scale_w = max(abs(self.saturated.humidity_ratio(self.hot_K) - self.air_w), 1e-3) / 4.0
        self.last_air_K, misty = self.air_K, False

        def enthalpy(water_K: float, w: float) -> float:
            return self.air_h + (ratio_out + w - self.air_w) * liquid_enthalpy_J_kg(water_K) - leaving

        def slope(_s: float, y: np.ndarray) -> list[float]:
            water_K, w = min(y[0], self.saturated.hot_K), y[1]  # a trial step may overshoot the hot water
            ratio = ratio_out + w - self.air_w
            potential, heat = self.fluxes(water_K, w, enthalpy(water_K, w), misty)
            cooling = heat / (ratio * liquid_heat_capacity_J_kgK(water_K))
            length = math.hypot(cooling / scale_K, potential / scale_w, 1.0 / (self.ratio_in * scale_me))
            rise = (cooling, potential, 1.0 / self.ratio_in, 1.0 / ratio)
            return [r / length for r in rise]

        def meets_hot_water(_s: float, y: np.ndarray) -> float:
            return y[0] - self.hot_K

        def fill_ends(_s: float, y: np.ndarray) -> float:
            return y[2] - cap

        def branch_ends(_s: float, y: np.ndarray) -> float:
            water_K = min(y[0], self.saturated.hot_K)
            return self.saturation_excess(enthalpy(water_K, y[1]), y[1], misty)

        meets_hot_water.terminal = fill_ends.terminal = branch_ends.terminal = True  # type: ignore[attr-defined]
        branch_ends.direction = -1.0  # type: ignore[attr-defined]
        y = np.array([out_K, self.air_w, 0.0, 0.0])
        rtol = self.options.relative_tolerance
        # Saturated air at the inlet may turn to mist at once: look one small step ahead.
        if branch_ends(0.0, y) < 1e-9:
            misty = branch_ends(0.0, y + 1e-6 * np.array(slope(0.0, y))) < 0.0
        for _ in range(12):
            solution = solve_ivp(
                slope,
                (0.0, 1e3),
                y,
                events=[meets_hot_water, fill_ends, branch_ends],
                method="DOP853",
                rtol=rtol,
                atol=[10.0 * rtol, rtol * scale_w, rtol * scale_me, rtol * scale_me],
            )
            if solution.status != 1:
                raise ArithmeticError(f"march did not end: {solution.message}")
            y = solution.y[:, -1]
            if not len(solution.t_events[2]):
                break
            misty = not misty
        else:
            raise ArithmeticError("march changed between clear and misty air too often")
        h = enthalpy(y[0], y[1])
        air_K, _ = self.air_state(h, y[1], misty)
        crossed = len(solution.t_events[0]) > 0
        return _Top(y[0], y[1], h, y[2], y[3], ratio_out, air_K, misty, crossed)


@dataclass(frozen=True)
class _Top:
    water_K: float
    w: float
    h: float
    me: float
    me_local: float
    ratio_out: float
    air_K: float
    mist: bool
    crossed: bool


def rate(
    *,
    water_temperature_K: float,
    water_flow_kg_s: float,
    air_temperature_K: float,
    air_humidity_ratio_kg_kg: float,
    dry_air_flow_kg_s: float,
    pressure_Pa: float,
    merkel_number: float,
    water_activity: float = 1.0,
    options: Options = Options(),
) -> SlowRating:
    """Outlet of a counterflow fill of given Merkel number K a V / (water flow in)."""
    trouble: Exception | None = None
    # A long stretch along a pinch can throw a trial step out of the physical range: then march more finely.
    for finer in (1.0, 0.1, 0.01):
        fill = _Fill(
            water_temperature_K,
            water_flow_kg_s / dry_air_flow_kg_s,
            air_temperature_K,
            air_humidity_ratio_kg_kg,
            pressure_Pa,
            water_activity,
            replace(options, relative_tolerance=finer * options.relative_tolerance),
        )
        try:
            return _rate(fill, merkel_number, dry_air_flow_kg_s)
        except WaterFreezesError:
            raise
        except (ArithmeticError, ValueError) as error:
            trouble = error
    raise ArithmeticError(f"no march succeeded: {trouble}")


def _rate(fill: _Fill, merkel_number: float, dry_air_flow_kg_s: float) -> SlowRating:
    near_K: float | None = None
    within_K = 0.1

    def solve(ratio_out: float) -> _Top:
        nonlocal near_K, within_K
        found_K, top = fill.outlet_for(merkel_number, ratio_out, near_K, within_K)
        within_K = 0.1 if near_K is None else max(0.1 * abs(found_K - near_K), 2e-8)
        near_K = found_K
        return top

    top = fill.settle(solve, fill.ratio_in)
    assert near_K is not None
    return _result(near_K, top, dry_air_flow_kg_s, fill.air_w)


def from_fill_test(
    *,
    water_in_temperature_K: float,
    water_out_temperature_K: float,
    water_flow_kg_s: float,
    air_temperature_K: float,
    air_humidity_ratio_kg_kg: float,
    dry_air_flow_kg_s: float,
    pressure_Pa: float,
    water_activity: float = 1.0,
    options: Options = Options(),
) -> SlowRating:
    """Poppe Merkel numbers and outlet air from measured water temperatures."""
    fill = _Fill(
        water_in_temperature_K,
        water_flow_kg_s / dry_air_flow_kg_s,
        air_temperature_K,
        air_humidity_ratio_kg_kg,
        pressure_Pa,
        water_activity,
        options,
    )
    scale_K = abs(water_in_temperature_K - water_out_temperature_K) / 4.0
    # Half-way pinched, a fill has two outlet flows for one outlet temperature, and only the smaller one's march meets
    # the hot water. So begin below it: 2.2 MJ given off per kilogram evaporated is less than any water needs.
    range_J_kg = liquid_enthalpy_J_kg(water_in_temperature_K) - liquid_enthalpy_J_kg(water_out_temperature_K)
    first = fill.ratio_in * (1.0 - range_J_kg / 2.2e6)
    top = fill.settle(lambda flow: fill.march(water_out_temperature_K, flow, 50.0, scale_K, 1.0), first)
    if not top.crossed:
        raise ArithmeticError("the measured water outlet is colder than any fill reaches")
    return _result(water_out_temperature_K, top, dry_air_flow_kg_s, air_humidity_ratio_kg_kg)


def _result(out_K: float, top: _Top, dry_air_flow_kg_s: float, air_w: float) -> SlowRating:
    return SlowRating(
        out_K,
        top.ratio_out * dry_air_flow_kg_s,
        top.air_K,
        top.w,
        top.h,
        (top.w - air_w) * dry_air_flow_kg_s,
        top.me,
        top.me_local,
        top.mist,
    )


def merkel_method_number(
    *,
    water_in_temperature_K: float,
    water_out_temperature_K: float,
    water_to_air_ratio: float,
    air_enthalpy_in_J_kg: float,
    pressure_Pa: float,
) -> float:
    """Merkel's own integral of dhw / (h_s(Tw) - h): Lewis factor one, no water loss."""
    base = liquid_enthalpy_J_kg(water_out_temperature_K)

    def integrand(t: float) -> float:
        h = air_enthalpy_in_J_kg + water_to_air_ratio * (liquid_enthalpy_J_kg(t) - base)
        saturated = HAPropsSI("H", "T", t, "P", pressure_Pa, "R", 1.0)
        return liquid_heat_capacity_J_kgK(t) / (saturated - h)

    return float(quad(integrand, water_out_temperature_K, water_in_temperature_K, epsrel=1e-9)[0])
