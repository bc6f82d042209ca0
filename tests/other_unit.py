"""Units that follow another model than the product's: the truth of coverage studies, many units at once on numpy.

Written apart from the product's solver, and on purpose unlike it:
- the tower is Merkel's picture carried to evaporation, marched over the fill's height by a fixed Runge-Kutta rule, with
  a constant Lewis factor of its own for each unit, a water-side film (the surface is colder than the water), two
  columns that share water and air unequally, water that runs down past the fill, and a Merkel number that falls with
  hot water and with another exponent than the catalogue's;
- ideal moist air with Magnus' vapour pressure and one enhancement factor;
- fan curve joined by straight lines against a resistance with its own error.

Heat source and tank losses are the product's curves, each unit's with factors, slopes and shifts that the prediction
does not know. Everything is per unit, arrays of one length.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

RATIO = 0.62198
WATER_J_kgK = 4186.0
STEPS = 8


def saturation_Pa(t: Array) -> Array:
    """Magnus' form (t in degC), with one enhancement factor."""
    return 1.0045 * 610.94 * np.exp(17.625 * t / (t + 243.04))


def saturated(t: Array, pressure: Array, activity: Array | float = 1.0) -> Array:
    vapour = np.minimum(activity * saturation_Pa(t), 0.95 * pressure)
    return RATIO * vapour / (pressure - vapour)


def enthalpy(t: Array, w: Array) -> Array:
    return 1006.0 * t + w * (2.501e6 + 1860.0 * t)


def air_temperature(h: Array, w: Array, pressure: Array) -> tuple[Array, Array]:
    """Temperature and vapour share of air with mist where it carries more than saturation."""
    clear = (h - 2.501e6 * w) / (1006.0 + 1860.0 * w)
    t = np.clip(clear, -40.0, 95.0)
    for _ in range(5):
        ws = saturated(t, pressure)
        slope = 1006.0 + 2.4e6 * ws * 17.625 * 243.04 / (t + 243.04) ** 2 * (1.0 + ws / RATIO)
        t = t - (enthalpy(t, ws) + (w - ws) * WATER_J_kgK * t - h) / slope
        t = np.clip(t, -20.0, 95.0)
    misty = w > saturated(np.clip(clear, -40.0, 95.0), pressure)
    return np.where(misty, t, clear), np.where(misty, np.minimum(saturated(t, pressure), w), w)


@dataclass
class Towers:
    """What is true of the towers."""

    merkel: Array  # at L/G = 1
    exponent: Array
    per_10K: Array  # lost for 10 K hotter water than 50 degC
    lewis: Array
    film_J_kgK: Array  # water-side coefficient over the mass transfer coefficient
    bypass: Array  # share of the water past the fill
    uneven: Array  # of the fill's water, beyond half, in the column with less air
    uneven_air: Array


class Leaving(NamedTuple):
    water: Array  # degC
    evaporation: Array
    enthalpy: Array  # per kg of dry air
    humidity: Array
    air: Array  # degC


def _column(
    towers: Towers, hot: Array, water: Array, air: Array, t_in: Array, w_in: Array, pressure: Array, activity: Array
) -> Leaving:
    """One column of fill, shot from its bottom until the top meets the hot water."""
    merkel = towers.merkel * (water / air) ** towers.exponent * (1.0 - towers.per_10K * (hot - 50.0) / 10.0)
    h_in = enthalpy(t_in, w_in)
    per_air = merkel * water / air

    def slopes(t: Array, w: Array, out: Array, water_out: Array) -> tuple[Array, Array]:
        t = np.clip(t, 0.0, 92.0)
        flow = water_out + air * (w - w_in)
        h = h_in + WATER_J_kgK * (flow * t - water_out * out) / air
        ta, wv = air_temperature(h, w, pressure)

        def flux(ti: Array) -> tuple[Array, Array]:
            drive = saturated(ti, pressure, activity) - wv
            return drive, towers.lewis * (1006.0 + 1860.0 * wv) * (ti - ta) + drive * (2.501e6 + 1860.0 * ti)

        _, at_water = flux(t)
        _, below = flux(t - 1.0)
        ti = t - at_water / (towers.film_J_kgK + at_water - below)
        drive, heat = flux(ti)
        dw = per_air * drive
        return (per_air * heat - dw * WATER_J_kgK * t) * air / (flow * WATER_J_kgK), dw

    def shoot(out: Array, water_out: Array) -> tuple[Array, Array]:
        t, w = out, w_in
        step = 1.0 / STEPS
        for _ in range(STEPS):
            a = slopes(t, w, out, water_out)
            b = slopes(t + 0.5 * step * a[0], w + 0.5 * step * a[1], out, water_out)
            c = slopes(t + 0.5 * step * b[0], w + 0.5 * step * b[1], out, water_out)
            d = slopes(t + step * c[0], w + step * c[1], out, water_out)
            t = np.clip(t + step / 6.0 * (a[0] + 2.0 * b[0] + 2.0 * c[0] + d[0]), 0.0, 92.0)
            w = w + step / 6.0 * (a[1] + 2.0 * b[1] + 2.0 * c[1] + d[1])
        return t, w

    # The top rises with the bottom; kept between a bottom too cold and one too hot (false position, Illinois rule).
    # Around it, the water that is left at the bottom.
    water_out = 0.985 * water
    low, high = np.maximum(hot - 30.0, 2.0), hot - 0.3
    for _ in range(5):
        before = water_out
        miss_low, miss_high = shoot(low, water_out)[0] - hot, shoot(high, water_out)[0] - hot
        for tried in range(40):
            out = np.clip(low - miss_low * (high - low) / (miss_high - miss_low), low, high)
            if tried % 4 == 3:
                out = 0.5 * (low + high)
            top, w = shoot(out, water_out)
            miss = top - hot
            if np.all(np.abs(miss) < 2.0e-3):
                break
            above = miss > 0.0
            miss_high, miss_low = np.where(above, miss, 0.5 * miss_high), np.where(above, 0.5 * miss_low, miss)
            low, high = np.where(above, low, out), np.where(above, out, high)
        water_out = water - air * (w - w_in)
        if np.all(np.abs(water_out - before) < 2.0e-5 * water):
            break
        low, high = np.maximum(out - 1.5, 2.0), np.minimum(out + 1.5, hot - 0.1)
    if not np.all(np.abs(miss) < 5.0e-3):
        raise ArithmeticError(f"a column did not meet its hot water: {np.max(np.abs(miss)):.3g} K")
    flow = water_out + air * (w - w_in)
    h = h_in + WATER_J_kgK * (flow * top - water_out * out) / air
    return Leaving(out, air * (w - w_in), h, w, air_temperature(h, w, pressure)[0])


def tower(
    towers: Towers, hot: Array, water: Array, air: Array, t_in: Array, w_in: Array, pressure: Array, activity: Array
) -> Leaving:
    """Both columns and what runs past them, mixed."""
    through = (1.0 - towers.bypass) * water
    more_water, more_air = 0.5 + towers.uneven, 0.5 + towers.uneven_air
    given = (towers, hot), (t_in, w_in, pressure, activity)
    one = _column(*given[0], through * more_water, air * (1.0 - more_air), *given[1])
    two = _column(*given[0], through * (1.0 - more_water), air * more_air, *given[1])
    evaporation = one.evaporation + two.evaporation
    h = (1.0 - more_air) * one.enthalpy + more_air * two.enthalpy
    w = (1.0 - more_air) * one.humidity + more_air * two.humidity
    flow_one = through * more_water - one.evaporation
    flow_two = through * (1.0 - more_water) - two.evaporation
    back = towers.bypass * water
    mixed = (flow_one * one.water + flow_two * two.water + back * hot) / (flow_one + flow_two + back)
    return Leaving(mixed, evaporation, h, w, air_temperature(h, w, pressure)[0])


@dataclass
class Blowers:
    """One kind of blower, each unit's with its own speed and resistance."""

    flow_m3_s: tuple[float, ...]
    pressure_Pa: tuple[float, ...]
    density: float
    best_flow: float
    after_fill: bool
    area_m2: float
    speed: Array
    heads: Array

    def dry_air(self, t_in: Array, w_in: Array, out: Leaving, pressure: Array, duct_Pa: Array) -> tuple[Array, Array]:
        """Dry air and volume at the blower, by halving."""

        def volume(t: Array, w: Array) -> Array:
            return 287.05 * (t + 273.15) * (1.0 + w / RATIO) / pressure

        entering, leaving = volume(t_in, w_in), volume(out.air, out.humidity)
        handled, wet = (leaving, out.humidity) if self.after_fill else (entering, w_in)
        density = (1.0 + wet) / handled
        mean = 0.5 * (entering + leaving)
        mean_density = (1.0 + 0.5 * (w_in + out.humidity)) / mean
        low, high = np.full_like(t_in, 0.2 * self.best_flow), np.full_like(t_in, 3.0 * self.best_flow)
        for _ in range(40):
            flow = 0.5 * (low + high)
            velocity = flow / handled * mean / self.area_m2
            wanted = self.heads * 0.5 * mean_density * velocity**2
            wanted = wanted + duct_Pa * (flow / self.best_flow) ** 2 * density / 1.2
            given = self.speed**2 * np.interp(flow / self.speed, self.flow_m3_s, self.pressure_Pa)
            given = given * density / self.density
            low, high = np.where(given > wanted, flow, low), np.where(given > wanted, high, flow)
        return flow / handled, flow


@dataclass
class Surroundings:
    """What is true around the units, in one condition: temperatures in degC."""

    t_air: Array  # before any exhaust is drawn in again
    w_air: Array
    pressure: Array
    recirculated: Array
    duct_Pa: Array
    feed: Array
    activity: Array
    density: Array
    heat_capacity_share: Array
    heat_low_W: Array  # full heat at the low and at the high temperature of the tables
    heat_high_W: Array
    loss_low_W: Array  # walls, lid, floor, piping, dry surface
    loss_high_W: Array
    surface_low_kg_s: Array
    surface_high_kg_s: Array
    pump_W: Array
    storing_W: Array  # a tank that is not quite steady


class Settled(NamedTuple):
    tank: Array  # degC
    evaporation: Array
    water_out: Array
    exhaust_air: Array
    exhaust_humidity: Array
    blower_m3_s: Array
    t_mixed: Array
    w_mixed: Array
    full: Array  # whether the heat was full on
    load: Array


def settle(
    towers: Towers,
    count: int,
    blowers: Blowers,
    spray_m3_s: Array,
    drift_kg_s: Array,
    at: Surroundings,
    table: tuple[float, float],
    clamp: float,
) -> Settled:
    """Where every unit settles with its heat full on, or its clamp; `table`: the two temperatures of the curves."""
    low_t, high_t = table

    def between(low: Array, high: Array, t: Array) -> Array:
        return low + (high - low) * (t - low_t) / (high_t - low_t)

    water = spray_m3_s * at.density / count
    share = at.heat_capacity_share
    state = Leaving(at.t_air, 0.0 * at.t_air, enthalpy(at.t_air, at.w_air), at.w_air, at.t_air + 15.0)

    def shortfall(t: Array, state: Leaving) -> tuple[Array, Leaving, Array, Array, Array, Array, Array]:
        r = at.recirculated
        h0 = enthalpy(at.t_air, at.w_air)
        w_in = (1.0 - r) * at.w_air + r * state.humidity
        h_in = (1.0 - r) * h0 + r * state.enthalpy
        t_in, _ = air_temperature(h_in, w_in, at.pressure)
        w_in = np.minimum(w_in, saturated(t_in, at.pressure))
        dry, flow = blowers.dry_air(t_in, w_in, state, at.pressure, at.duct_Pa)
        warmed = t_in if blowers.after_fill else t_in + 0.5  # the blower's own warmth
        hot = Towers(**{**vars(towers), "merkel": towers.merkel / share})
        out = tower(hot, t, water * share, dry, warmed, w_in, at.pressure, at.activity)
        log_low, log_high = np.log(at.surface_low_kg_s), np.log(at.surface_high_kg_s)
        surface = np.exp(between(log_low, log_high, t))
        evaporation = count * out.evaporation + surface
        wanted = count * dry * (out.enthalpy - enthalpy(warmed, w_in))
        wanted = wanted + surface * (2.501e6 + 1860.0 * t) + between(at.loss_low_W, at.loss_high_W, t)
        wanted = wanted + drift_kg_s * WATER_J_kgK * t - (evaporation + drift_kg_s) * WATER_J_kgK * at.feed
        wanted = wanted - at.pump_W + at.storing_W
        return wanted - between(at.heat_low_W, at.heat_high_W, t), out, evaporation, flow, t_in, w_in, wanted

    t = np.full_like(at.t_air, 0.5 * (low_t + high_t))
    for _ in range(4):  # the exhaust that a first air flow needs
        _, state, *_ = shortfall(t, state)
    miss, state, *_ = shortfall(t, state)
    slope = np.full_like(t, 0.05) * at.heat_low_W
    for _ in range(14):
        further = np.clip(t - miss / slope, t - 6.0, t + 6.0)
        further = np.minimum(further, clamp)
        new, state, evaporation, flow, t_in, w_in, wanted = shortfall(further, state)
        apart = further - t
        safe = np.abs(apart) > 1.0e-4
        raw = (new - miss) / np.where(safe, apart, 1.0)
        slope = np.where(safe & (raw > 0.01 * at.heat_low_W), raw, slope)
        t, miss = further, new
    heat = between(at.heat_low_W, at.heat_high_W, t)
    full = t < clamp - 1.0e-9
    if not np.all((np.abs(miss) < 2.0e-4 * heat) | (~full & (miss < 0.0))):
        raise ArithmeticError(f"units did not settle: {np.max(np.abs(miss) / heat):.3g} of their heat")
    load = np.where(full, 1.0, wanted / heat)
    return Settled(t, evaporation, state.water, state.air, state.humidity, flow * count, t_in, w_in, full, load)
