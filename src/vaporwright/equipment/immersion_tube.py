"""Flue gas cooling along an immersed fire tube: the march that turns a flame into heat for the bath.

At each place the gas gives heat by convection (Gnielinski) and by the radiation of its CO2 and water vapour
(Leckner); wall, scale and the bath's natural convection (Churchill and Chu), helped by boiling where the
surface is hotter than the boiling point (Cooper), pass it on. Gas temperature is marched with fixed
fourth-order steps, past the flame as the logarithm of gas over bath temperature, in which even a long tube
at low fire stays smooth.

Taken as given: one gas temperature across the tube; products of complete combustion from the burner on; a
share of the heat released at the burner, the rest evenly along the flame; no soot; returns count as
length. All kernels.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from vaporwright.foundation.constants import STANDARD_GRAVITY_m_s2, STEFAN_BOLTZMANN_W_m2K4
from vaporwright.foundation.kernels import kernel
from vaporwright.foundation.register import sourced
from vaporwright.properties.flue_gas import GasPolynomials, gas_heat_capacity_J_molK
from vaporwright.properties.flue_gas_transport import TransportPolynomials, polynomial_through, transport_at
from vaporwright.properties.gas_radiation import absorptivity_kernel, emissivity_kernel
from vaporwright.properties.water_films import liquid_film

FLAME_STEPS: Final = 4
TUBE_STEPS: Final = 7
STEP_GROWTH: Final = 1.25
WALL_TOLERANCE_K: Final = 1e-3  # before a last linear correction, which leaves some 1e-5
BOILING_EXPONENT: Final = 1.0 / 0.33
CRITICAL_PRESSURE_OF_WATER_Pa: Final = 22.064e6

Cubic = tuple[float, float, float, float]


class FlueStream(NamedTuple):
    """The gas that flows through the tube."""

    flow_mol_s: float
    flow_kg_s: float
    molar_mass_kg_mol: float
    heat: GasPolynomials
    transport: TransportPolynomials
    carbon_dioxide_Pa: float
    water_Pa: float
    pressure_Pa: float


class Tube(NamedTuple):
    """The tube; its wall and scale resistances are on the outer area."""

    inner_diameter_m: float
    outer_diameter_m: float
    length_m: float
    wall_resistance_m2K_W: float
    fouling_resistance_m2K_W: float
    wall_emissivity: float
    flame_length_m: float


class BathSide(NamedTuple):
    """The liquid around the tube. A stated coefficient above zero replaces natural convection and boiling.

    The cubics are in half the difference of surface and bath temperature (film less bath temperature).
    """

    temperature_K: float
    stated_coefficient_W_m2K: float
    boiling_temperature_K: float
    boiling_factor: float
    expansion: Cubic  # beta
    log_diffusion: Cubic  # ln(rho^2 cp / (mu k))
    conductivity: Cubic
    damping: Cubic  # (1 + (0.559/Pr)^(9/16))^(-8/27)


class Flux(NamedTuple):
    """A heat flux and its slope with surface temperature."""

    flux_W_m2: float
    slope_W_m2K: float


class Station(NamedTuple):
    """One place along the tube."""

    flux_W_m2: float  # into the wall, on the inner area
    inner_wall_K: float
    outer_surface_K: float  # of the scale, where there is any
    converged: bool


class March(NamedTuple):
    """What came out of a march. Fluxes are on the inner area."""

    outlet_temperature_K: float
    hottest_gas_K: float
    peak_flux_W_m2: float
    outlet_flux_W_m2: float
    hottest_wall_K: float
    hottest_surface_K: float
    outlet_wall_K: float
    converged: bool


@sourced("churchill-chu-1975", "film properties condensed to cubics in film temperature")
@sourced("cooper-1984", "pool boiling of water at 1 um roughness, solved for the flux")
def bath_side(
    temperature_K: float, stated_coefficient_W_m2K: float, boiling_temperature_K: float, pressure_Pa: float
) -> BathSide:
    """The bath as the march needs it, once per call.

    Equation: cubics through the film properties at four temperatures between the bath and half-way to 20 K
        above boiling. Boiling flux (C (surface - boiling point))^(1/0.33),
        C = 55 pr^0.12 (-log10 pr)^-0.55 18.015^-0.5.
    Args:
        temperature_K [K]: 278.15 to the boiling point.
        stated_coefficient_W_m2K [W/(m2 K)]: zero for natural convection.
        boiling_temperature_K [K], pressure_Pa [Pa]: at the tube.
    Returns: the bath side.
    Source: churchill-chu-1975, cooper-1984.
    """
    widest = 0.5 * (boiling_temperature_K + 20.0 - temperature_K)
    nodes = [0.0, 0.25 * widest, 0.75 * widest, widest]
    films = [liquid_film(temperature_K + node) for node in nodes]

    def cubic(values: list[float]) -> Cubic:
        a = polynomial_through(nodes, values)
        return (a[0], a[1], a[2], a[3])

    reduced = pressure_Pa / CRITICAL_PRESSURE_OF_WATER_Pa
    boiling_factor = 55.0 * reduced**0.12 * (-math.log10(reduced)) ** -0.55 * 18.015**-0.5
    return BathSide(
        temperature_K=temperature_K,
        stated_coefficient_W_m2K=stated_coefficient_W_m2K,
        boiling_temperature_K=boiling_temperature_K,
        boiling_factor=boiling_factor,
        expansion=cubic([film.expansion_coefficient_1_K for film in films]),
        log_diffusion=cubic(
            [
                math.log(
                    film.density_kg_m3**2 * film.heat_capacity_J_kgK / film.viscosity_Pa_s / film.conductivity_W_mK
                )
                for film in films
            ]
        ),
        conductivity=cubic([film.conductivity_W_mK for film in films]),
        damping=cubic([(1.0 + (0.559 / film.prandtl_number) ** (9.0 / 16.0)) ** (-8.0 / 27.0) for film in films]),
    )


@kernel
def _cubic_at(s: float, a: Cubic) -> float:
    return a[0] + s * (a[1] + s * (a[2] + s * a[3]))


@kernel
@sourced("churchill-chu-1975", "horizontal cylinder")
@sourced("cooper-1984", "added where the surface is hotter than boiling")
def bath_flux(surface_temperature_K: float, outer_diameter_m: float, bath: BathSide) -> Flux:
    """Heat flux from the tube's outer surface into the bath, on the outer area; a kernel.

    Equation: h (surface - bath), h stated or by natural convection around a horizontal cylinder, plus
        Cooper's boiling flux above the boiling point.
    Args: surface_temperature_K [K]; outer_diameter_m [m]; bath: from bath_side.
    Returns: flux [W/m2] and its approximate slope [W/(m2 K)].
    Source: churchill-chu-1975, cooper-1984.
    """
    difference = surface_temperature_K - bath.temperature_K
    if bath.stated_coefficient_W_m2K > 0.0:
        return Flux(bath.stated_coefficient_W_m2K * difference, bath.stated_coefficient_W_m2K)
    s = 0.5 * difference
    expansion = abs(_cubic_at(s, bath.expansion))
    rayleigh = (
        STANDARD_GRAVITY_m_s2
        * expansion
        * abs(difference)
        * outer_diameter_m**3
        * math.exp(_cubic_at(s, bath.log_diffusion))
    )
    root = 0.60 + 0.387 * rayleigh ** (1.0 / 6.0) * _cubic_at(s, bath.damping)
    coefficient = root * root * _cubic_at(s, bath.conductivity) / outer_diameter_m
    flux, slope = coefficient * difference, 1.3 * coefficient
    superheat = surface_temperature_K - bath.boiling_temperature_K
    if superheat > 0.0:
        boiling = (bath.boiling_factor * superheat) ** BOILING_EXPONENT
        flux += boiling
        slope += BOILING_EXPONENT * boiling / superheat
    return Flux(flux, slope)


@kernel
@sourced("gnielinski-2013", "laminar, transition and turbulent flow in tubes")
def tube_nusselt_number(reynolds_number: float, prandtl_number: float, diameter_over_length: float) -> float:
    """Mean Nusselt number of flow in a tube at uniform wall temperature; a kernel.

    Equation: laminar Nu = (3.66^3 + 0.7^3 + (1.615 (Re Pr d/L)^(1/3) - 0.7)^3)^(1/3) up to Re 2300; from
        4000 Nu = (f/8)(Re - 1000) Pr / (1 + 12.7 (f/8)^0.5 (Pr^(2/3) - 1)) (1 + (d/L)^(2/3)),
        f = (1.8 log10 Re - 1.5)^-2; linear in Re between. No correction for the wall's temperature: for a
        gas that is cooled its exponent is zero.
    Args: reynolds_number, prandtl_number, diameter_over_length [-]: up to 1e6, 0.6 to 1000, up to 1.
    Returns: Nusselt number [-].
    Source: gnielinski-2013.
    """
    low, high = 2300.0, 4000.0
    laminar_reynolds = min(reynolds_number, low)
    entrance = 1.615 * (laminar_reynolds * prandtl_number * diameter_over_length) ** (1.0 / 3.0) - 0.7
    laminar = (3.66**3 + 0.7**3 + entrance**3) ** (1.0 / 3.0)
    if reynolds_number <= low:
        return float(laminar)
    turbulent_reynolds = max(reynolds_number, high)
    f8 = (1.8 * math.log10(turbulent_reynolds) - 1.5) ** -2 / 8.0
    turbulent = f8 * (turbulent_reynolds - 1000.0) * prandtl_number
    turbulent /= 1.0 + 12.7 * math.sqrt(f8) * (prandtl_number ** (2.0 / 3.0) - 1.0)
    turbulent *= 1.0 + diameter_over_length ** (2.0 / 3.0)
    if reynolds_number >= high:
        return float(turbulent)
    share = (reynolds_number - low) / (high - low)
    return float((1.0 - share) * laminar + share * turbulent)


@kernel
@sourced("tube-march", "heat through gas, wall, scale and bath in series")
@sourced("hottel-sarofim-1967", "mean beam length 0.95 d; grey wall factor (1 + emissivity)/2")
def station_at(gas_temperature_K: float, guess_K: float, stream: FlueStream, tube: Tube, bath: BathSide) -> Station:
    """Heat flux and wall temperatures where the gas has a given temperature; a kernel.

    Equation: h (Tg - Tw) + (1 + e)/2 sigma (eg Tg^4 - ag Tw^4) on the inner area equals the bath's flux on
        the outer area, with wall and scale between; Newton's method on the outer surface's temperature.
    Args:
        gas_temperature_K [K]; guess_K [K] of the outer surface; stream, tube, bath.
    Returns: flux on the inner area, inner wall, outer surface, and whether it converged.
    Source: tube-march, hottel-sarofim-1967.
    """
    gas = transport_at(gas_temperature_K, stream.transport)
    heat_capacity = gas_heat_capacity_J_molK(gas_temperature_K, stream.heat) / stream.molar_mass_kg_mol
    inner = tube.inner_diameter_m
    reynolds = 4.0 * stream.flow_kg_s / (math.pi * inner * gas.viscosity_Pa_s)
    prandtl = heat_capacity * gas.viscosity_Pa_s / gas.conductivity_W_mK
    convection = tube_nusselt_number(reynolds, prandtl, inner / tube.length_m) * gas.conductivity_W_mK / inner
    beam = 0.95 * inner
    co2, water, total = stream.carbon_dioxide_Pa, stream.water_Pa, stream.pressure_Pa
    exchange = 0.5 * (1.0 + tube.wall_emissivity) * STEFAN_BOLTZMANN_W_m2K4
    emitted = exchange * emissivity_kernel(gas_temperature_K, co2, water, total, beam) * gas_temperature_K**4
    areas = tube.outer_diameter_m / inner
    resistance = tube.wall_resistance_m2K_W + tube.fouling_resistance_m2K_W
    surface = guess_K
    absorptivity = 0.0
    for iteration in range(40):
        outer = bath_flux(surface, tube.outer_diameter_m, bath)
        wall = surface + resistance * outer.flux_W_m2
        if iteration < 2:
            absorptivity = absorptivity_kernel(gas_temperature_K, wall, co2, water, total, beam)
        flux = convection * (gas_temperature_K - wall) + emitted - exchange * absorptivity * wall**4
        gas_slope = convection + 4.0 * exchange * absorptivity * wall**3
        wall_slope = 1.0 + resistance * outer.slope_W_m2K
        step = (areas * outer.flux_W_m2 - flux) / (areas * outer.slope_W_m2K + wall_slope * gas_slope)
        step = min(max(step, -20.0), 20.0)
        surface -= step
        if iteration > 0 and abs(step) < WALL_TOLERANCE_K:
            wall -= wall_slope * step
            return Station(flux + gas_slope * wall_slope * step, wall, surface, True)
    return Station(0.0, surface, surface, False)


@kernel
def _slope(
    position: float,
    released_W_m: float,
    past_flame: bool,
    guess_K: float,
    stream: FlueStream,
    tube: Tube,
    bath: BathSide,
) -> tuple[float, float, bool]:
    """Slope of the marched variable, the outer surface's temperature, and whether the wall converged.

    The variable is gas temperature within the flame, the logarithm of gas less bath temperature past it.
    """
    if past_flame:
        excess = math.exp(position)
        gas = bath.temperature_K + excess
    else:
        excess = 1.0
        gas = position
    if not 220.0 <= gas <= 2800.0:
        return 0.0, guess_K, False
    station = station_at(gas, guess_K, stream, tube, bath)
    lost_W_m = math.pi * tube.inner_diameter_m * station.flux_W_m2
    slope = (released_W_m - lost_W_m) / (stream.flow_mol_s * gas_heat_capacity_J_molK(gas, stream.heat)) / excess
    return slope, station.outer_surface_K, station.converged


@kernel
def _advance(
    y: float,
    dx: float,
    released_W_m: float,
    past: bool,
    guess_K: float,
    stream: FlueStream,
    tube: Tube,
    bath: BathSide,
) -> tuple[float, float, bool]:
    """One classical Runge-Kutta step of fourth order."""
    k1, guess_K, ok1 = _slope(y, released_W_m, past, guess_K, stream, tube, bath)
    k2, guess_K, ok2 = _slope(y + 0.5 * dx * k1, released_W_m, past, guess_K, stream, tube, bath)
    k3, guess_K, ok3 = _slope(y + 0.5 * dx * k2, released_W_m, past, guess_K, stream, tube, bath)
    k4, guess_K, ok4 = _slope(y + dx * k3, released_W_m, past, guess_K, stream, tube, bath)
    return y + dx / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4), guess_K, ok1 and ok2 and ok3 and ok4


@kernel
@sourced("tube-march", "gas temperature along the tube")
def march_tube(
    burner_gas_K: float,
    released_along_flame_W: float,
    stream: FlueStream,
    tube: Tube,
    bath: BathSide,
    flame_steps: int,
    tube_steps: int,
) -> March:
    """Cool the flue gas from the burner to the outlet; a kernel.

    Equation: flow cp dT/dx = heat released per length - pi d flux, classical fourth-order steps; even over
        the flame, growing by 1.25 each past it.
    Args:
        burner_gas_K [K]: gas leaving the burner, hotter than the bath.
        released_along_flame_W [W]: heat released evenly over the flame length.
        stream, tube, bath; flame_steps, tube_steps: numbers of steps.
    Returns: temperatures and fluxes; converged is False where a wall did not converge or a range was left.
    Source: tube-march.
    """
    gas, surface = burner_gas_K, bath.temperature_K + 20.0
    hottest_gas, converged = gas, True
    dx = tube.flame_length_m / flame_steps
    for _ in range(flame_steps):
        gas, surface, fine = _advance(
            gas, dx, released_along_flame_W / tube.flame_length_m, False, surface, stream, tube, bath
        )
        converged = converged and fine
        hottest_gas = max(hottest_gas, gas)
    if not converged or gas <= bath.temperature_K:
        return March(gas, hottest_gas, 0.0, 0.0, surface, surface, surface, False)
    hottest = station_at(hottest_gas, surface, stream, tube, bath)
    y = math.log(gas - bath.temperature_K)
    dx = (tube.length_m - tube.flame_length_m) * (STEP_GROWTH - 1.0) / (STEP_GROWTH**tube_steps - 1.0)
    for _ in range(tube_steps):
        y, surface, fine = _advance(y, dx, 0.0, True, surface, stream, tube, bath)
        converged = converged and fine
        dx *= STEP_GROWTH
    gas = bath.temperature_K + math.exp(y)
    if not 220.0 <= gas <= 2800.0:
        return March(gas, hottest_gas, 0.0, 0.0, surface, surface, surface, False)
    outlet = station_at(gas, surface, stream, tube, bath)
    return March(
        gas,
        hottest_gas,
        hottest.flux_W_m2,
        outlet.flux_W_m2,
        hottest.inner_wall_K,
        hottest.outer_surface_K,
        outlet.inner_wall_K,
        converged and hottest.converged and outlet.converged,
    )
