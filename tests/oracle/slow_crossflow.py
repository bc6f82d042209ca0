"""Slow second opinion on the crossflow tower: Poppe's equations at the nodes of a fine net, on CoolProp.

Written from the balances, apart from the product's solver, and with other means: real-gas moist air and IAPWS
water from CoolProp through splines, states at nodes instead of means over cells, the plain trapezoidal rule, and
a whole diagonal of the net at once, since the nodes of a diagonal do not depend on each other.

With x from the air inlet face, z from the top, both 0 to 1, and a = K A / G (G the dry air flow):

    dw/dx = a dW      dh/dx = a (carried + Le sensible)      r: local water over dry air
    dr/dz = -a dW     d(r hw)/dz = -a (carried + Le sensible)

dW = w_i(Tw) - w_v, carried = h(Tw, w_i) - h(Tw, w_v), sensible = h(Tw, w_v) - h(Ta, w_v) + (w - w_v)(hw(Tw) - hw(Ta)),
w_v the vapour of the air: slow_tower tells why.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from CoolProp.CoolProp import HAPropsSI, PropsSI
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from oracle.slow_tower import FREEZING_K, LEWIS_BASE, MOLAR_MASS_RATIO, vapour_share_over_liquor

Array = NDArray[np.float64]
SHARES = np.array([0.0, 0.35, 0.7, 1.0])  # of saturation, at which the enthalpy of air is taken from the library


class _Table:
    """Saturation and enthalpy of moist air over temperature at one pressure, as splines of library values."""

    def __init__(self, low_K: float, high_K: float, pressure_Pa: float, activity: float) -> None:
        kelvins = np.linspace(low_K, high_K, max(int(high_K - low_K) + 2, 6))
        rows = []
        for t in kelvins:
            saturated = HAPropsSI("psi_w", "T", t, "P", pressure_Pa, "R", 1.0)
            over_liquor = vapour_share_over_liquor(saturated, t, pressure_Pa, activity) if t > FREEZING_K else saturated
            # Per mole of moist air the enthalpy is nearly a parabola of the vapour's share.
            at_shares = []
            for share in SHARES * saturated:
                ratio = MOLAR_MASS_RATIO * share / (1.0 - share)
                at_shares.append(HAPropsSI("H", "T", t, "P", pressure_Pa, "W", ratio) * (1.0 - share))
            cubic = np.polynomial.polynomial.polyfit(SHARES, at_shares, 3)
            rows.append([np.log(saturated), np.log(over_liquor), *cubic])
        self.spline = CubicSpline(kelvins, np.array(rows))


class Properties:
    """Everything a net needs at one pressure and activity, on arrays."""

    def __init__(self, pressure_Pa: float, cold_K: float, hot_K: float, activity: float) -> None:
        self.low_K, self.high_K = min(cold_K, FREEZING_K) - 25.0, hot_K
        self.warm = _Table(FREEZING_K + 1e-6, hot_K, pressure_Pa, activity).spline
        self.cold = _Table(self.low_K, FREEZING_K - 0.02, pressure_Pa, activity).spline
        kelvins = np.linspace(FREEZING_K, 378.15, 211)
        liquid = np.array([PropsSI("H", "T", t, "Q", 0, "Water") for t in kelvins])
        self.liquid = CubicSpline(kelvins, liquid)
        self.liquid_K = CubicSpline(liquid, kelvins)

    def liquid_enthalpy_J_kg(self, kelvin: Array) -> Array:
        """Below freezing a straight line goes on (supercooled)."""
        below = np.minimum(kelvin - FREEZING_K, 0.0)
        return self.liquid(np.maximum(kelvin, FREEZING_K)) + self.liquid(FREEZING_K, 1) * below

    def liquid_temperature_K(self, enthalpy: Array) -> Array:
        return self.liquid_K(np.maximum(enthalpy, 0.0)) + np.minimum(enthalpy, 0.0) / self.liquid(FREEZING_K, 1)

    def _row(self, kelvin: Array) -> Array:
        kelvin = np.clip(kelvin, self.low_K, self.high_K)
        warm = self.warm(np.maximum(kelvin, FREEZING_K))
        if kelvin.min() >= FREEZING_K:
            return warm
        return np.where((kelvin >= FREEZING_K)[:, None], warm, self.cold(np.minimum(kelvin, FREEZING_K)))

    def enthalpy_J_kg(self, kelvin: Array, ratio: Array) -> Array:
        row = self._row(kelvin)
        share = ratio / (ratio + MOLAR_MASS_RATIO)
        u = share / np.exp(row[:, 0])
        return (row[:, 2] + u * (row[:, 3] + u * (row[:, 4] + u * row[:, 5]))) / (1.0 - share)

    def saturated_ratio(self, kelvin: Array, *, liquor: bool = False) -> Array:
        share = np.minimum(np.exp(self._row(kelvin)[:, 1 if liquor else 0]), 0.999)
        return MOLAR_MASS_RATIO * share / (1.0 - share)

    def air_state(self, enthalpy: Array, ratio: Array, guess_K: Array) -> tuple[Array, Array]:
        """Temperature, and the vapour's part of the water: secants, first clear and then, where needed, misty."""
        clear_K = self._solve(lambda t: self.enthalpy_J_kg(t, ratio) - enthalpy, guess_K, 1006.0 + 1860.0 * ratio)
        misty = ratio > self.saturated_ratio(clear_K)
        vapour = ratio.copy()
        if misty.any():
            h, w = enthalpy[misty], ratio[misty]

            def excess(t: Array) -> Array:
                saturated = self.saturated_ratio(t)
                return self.enthalpy_J_kg(t, saturated) + (w - saturated) * self.liquid_enthalpy_J_kg(t) - h

            start = guess_K[misty]
            clear_K[misty] = self._solve(excess, start, (excess(start + 0.01) - excess(start)) / 0.01)
            vapour[misty] = self.saturated_ratio(clear_K[misty])
        return clear_K, vapour

    @staticmethod
    def _solve(function, guess: Array, slope: Array) -> Array:
        x0, f0 = guess, function(guess)
        step = -f0 / slope
        for _ in range(60):
            x1 = x0 + np.clip(step, -6.0, 6.0)
            f1 = function(x1)
            if np.max(np.abs(f1)) < 1e-4 or np.max(np.abs(x1 - x0)) < 1e-9:
                return x1
            moved = np.abs(f1 - f0) > 1e-9
            step = np.where(moved, -f1 * (x1 - x0) / np.where(moved, f1 - f0, 1.0), 0.0)
            x0, f0 = x1, f1
        raise ArithmeticError("air temperature not found")


@dataclass(frozen=True)
class SlowCrossflow:
    evaporation_kg_s: float
    evaporation_by_water_kg_s: float  # the same from the water's side: they differ by the net's own error
    heat_W: float
    water_out_temperature_K: float
    water_out_inlet_face_K: float
    water_out_outlet_face_K: float
    air_out_temperature_K: float
    air_out_humidity_ratio_kg_kg: float
    air_out_enthalpy_J_kg: float


@dataclass
class _Net:
    """One net of n by n meshes; per kilogram of dry air."""

    properties: Properties
    n: int
    a: float
    water: tuple[float, float]  # flow, enthalpy
    air: tuple[float, float, float]  # humidity ratio, enthalpy, temperature

    def potentials(self, water_K: Array, w: Array, h: Array, guess_K: Array) -> tuple[Array, Array, Array]:
        of = self.properties
        air_K, vapour = of.air_state(h, w, guess_K)
        interface = of.saturated_ratio(water_K, liquor=True)
        dry = of.enthalpy_J_kg(water_K, vapour)
        sensible = dry - of.enthalpy_J_kg(air_K, vapour)
        sensible += (w - vapour) * (of.liquid_enthalpy_J_kg(water_K) - of.liquid_enthalpy_J_kg(air_K))
        x = (interface + MOLAR_MASS_RATIO) / (vapour + MOLAR_MASS_RATIO) - 1.0
        near = np.abs(x) < 1e-5
        lewis = LEWIS_BASE * np.where(near, 1.0 + x / 2.0, x / np.log1p(np.where(near, 1.0, x)))
        carried = of.enthalpy_J_kg(water_K, interface) - dry
        return interface - vapour, carried + lewis * sensible, air_K

    def settle(
        self, held0: Array, r0: Array, w0: Array, h0: Array, hx: Array, hz: Array, e: Array, q: Array, air_K: Array
    ) -> tuple[Array, Array, Array]:
        """Potentials of one diagonal, whose states depend on them: repeated with a share of each change."""
        share = 1.0 / (1.0 + 2.0 * (self.a + 20.0 * self.a / self.water[0]) / self.n)
        for _ in range(400):
            water_K = self.properties.liquid_temperature_K((held0 - hz * q) / (r0 - hz * e))
            next_e, next_q, air_K = self.potentials(water_K, w0 + hx * e, h0 + hx * q, air_K)
            change = np.max(np.maximum(hx, hz) * np.abs(next_q - q))
            e, q = e + share * (next_e - e), q + share * (next_q - q)
            if change < 0.05:  # J/kg
                return e, q, air_K
            if not np.isfinite(change):
                break
        raise ArithmeticError("a diagonal did not settle: the net is too coarse")

    def run(self) -> Array:
        """Sums over the outlet faces: evaporation by air and by water, heat by air, and the water's two edges [K]."""
        n, of = self.n, self.properties
        edges = np.linspace(0.0, 1.0, n + 1) ** 2
        half = 0.5 * self.a * np.diff(edges)
        shape = (n + 1, n + 1)  # [i over x, j over z]
        w, h, r, held = (np.zeros(shape) for _ in range(4))
        e, q, air_K = (np.zeros(shape) for _ in range(3))
        for k in range(2 * n + 1):
            i = np.arange(max(0, k - n), min(n, k) + 1)
            j = k - i
            inner, under = i > 0, j > 0
            left, above = np.maximum(i - 1, 0), np.maximum(j - 1, 0)
            hx = np.where(inner, half[left], 0.0)
            hz = np.where(under, half[above], 0.0)
            w0 = np.where(inner, w[left, j] + hx * e[left, j], self.air[0])
            h0 = np.where(inner, h[left, j] + hx * q[left, j], self.air[1])
            r0 = np.where(under, r[i, above] - hz * e[i, above], self.water[0])
            held0 = np.where(under, held[i, above] - hz * q[i, above], self.water[0] * self.water[1])
            if k == 0:
                now_e, now_q, now_K = np.zeros(1), np.zeros(1), np.full(1, self.air[2])
            else:
                both = inner & under
                now_e = np.where(both, 0.5 * (e[left, j] + e[i, above]), np.where(inner, e[left, j], e[i, above]))
                now_q = np.where(both, 0.5 * (q[left, j] + q[i, above]), np.where(inner, q[left, j], q[i, above]))
                now_K = np.where(inner, air_K[left, j], self.air[2])
            now_e, now_q, now_K = self.settle(held0, r0, w0, h0, hx, hz, now_e, now_q, now_K)
            e[i, j], q[i, j], air_K[i, j] = now_e, now_q, now_K
            w[i, j], h[i, j] = w0 + hx * now_e, h0 + hx * now_q
            r[i, j], held[i, j] = r0 - hz * now_e, held0 - hz * now_q
        gained = float(np.trapezoid(w[n] - self.air[0], edges))
        heat = float(np.trapezoid(h[n] - self.air[1], edges))
        lost = self.water[0] - float(np.trapezoid(r[:, n], edges))
        edge_K = of.liquid_temperature_K(held[[0, n], n] / r[[0, n], n])
        return np.array([gained, lost, heat, *edge_K])


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
    meshes: int = 48,
) -> SlowCrossflow:
    """The arguments are rate_crossflow's; two nets, of `meshes` and twice as many, are extrapolated."""
    hot_K = max(water_temperature_K, air_temperature_K) + 0.5
    of = Properties(pressure_Pa, air_temperature_K, hot_K, water_activity)
    ratio = water_flow_kg_s / dry_air_flow_kg_s
    air_h = HAPropsSI("H", "T", air_temperature_K, "P", pressure_Pa, "W", max(air_humidity_ratio_kg_kg, 1e-9))
    water_h = PropsSI("H", "T", water_temperature_K, "Q", 0, "Water")
    sums = [
        _Net(
            of,
            n,
            merkel_number * ratio,
            (ratio, water_h),
            (air_humidity_ratio_kg_kg, air_h, air_temperature_K),
        ).run()
        for n in (meshes, 2 * meshes)
    ]
    gained, lost, heat, first_K, last_K = (4.0 * sums[1] - sums[0]) / 3.0
    w_out, h_out = air_humidity_ratio_kg_kg + gained, air_h + heat
    mixed_K, _ = of.air_state(np.array([h_out]), np.array([w_out]), np.array([air_temperature_K]))
    water_out = (ratio * water_h - heat) / (ratio - gained)
    return SlowCrossflow(
        dry_air_flow_kg_s * gained,
        dry_air_flow_kg_s * lost,
        dry_air_flow_kg_s * heat,
        float(of.liquid_temperature_K(np.array([water_out]))[0]),
        first_K,
        last_K,
        float(mixed_K[0]),
        w_out,
        h_out,
    )
