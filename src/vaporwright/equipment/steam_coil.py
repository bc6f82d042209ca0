"""Steam coil in an open bath: films, wall, fouling, heat, steam and condensate.

Steam condenses inside horizontal tubes (Chato's laminar stratified film); the heat passes the wall, a fouling
layer and the film of natural convection outside (Churchill and Chu). The one unknown, the inner wall
temperature, is found in a bracket, so every temperature and flow agrees with every other. Steam comes in
saturated and leaves as condensate at the coil's saturation temperature; air in the steam, subcooling and the
pressure drop along the tube are neglected.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final, NamedTuple

from vaporwright.foundation.constants import STANDARD_ATMOSPHERE_Pa, STANDARD_GRAVITY_m_s2
from vaporwright.foundation.errors import InputError, NotConverged, OutOfRange, require_range
from vaporwright.foundation.notice import Notice
from vaporwright.foundation.register import sourced
from vaporwright.foundation.solvers import find_root
from vaporwright.properties.steam import SaturatedWater, saturated_water
from vaporwright.properties.water import saturation_pressure_Pa, saturation_temperature_K
from vaporwright.properties.water_films import (
    LiquidFilm,
    immersed_cylinder_coefficient_W_m2K,
    liquid_film,
    viscosity_Pa_s,
)

LOWEST_BATH_TEMPERATURE_K: Final = 273.16
HIGHEST_BATH_TEMPERATURE_K: Final = 373.15
HIGHEST_STEAM_PRESSURE_Pa: Final = 1.55e6  # 200 degC, where the film properties end
LEAST_TEMPERATURE_DIFFERENCE_K: Final = 0.1
HIGHEST_CHATO_VAPOUR_REYNOLDS: Final = 35_000.0
NOTICEABLE_SHARE_OF_RESISTANCE: Final = 0.2
HIGHEST_USUAL_STEAM_VELOCITY_m_s: Final = 40.0
TEMPERATURE_TOLERANCE_K: Final = 1e-8

COIL_SURFACE: Final = "coil surface"
STEAM_SUPPLY: Final = "steam supply"

_TUBE_WALL_CONDUCTIVITY_W_mK: Final = {
    "stainless steel": 16.0,
    "carbon steel": 50.0,
    "titanium": 20.0,
    "fluoropolymer": 0.2,
}

STEAM_CAUTION: Final = (
    "Steam and hot condensate burn at once and pipes under pressure can burst: pressure-relief, isolation"
    " with lock-out and drained lines before opening, guarded or insulated hot surfaces, slow warm-up"
    " against water hammer. Steam piping and pressure parts are to be designed and built by licensed trades"
    " to the pressure piping code in force at the site."
)


@dataclass(frozen=True, slots=True)
class SteamCoilRating:
    """A steam coil in a given bath; resistances and the overall coefficient refer to the outer surface."""

    heat_W: float
    limit: str  # what holds the heat down: "coil surface" or "steam supply"
    area_m2: float
    overall_coefficient_W_m2K: float
    inside_coefficient_W_m2K: float  # on the inner surface
    wall_resistance_m2K_W: float
    fouling_resistance_m2K_W: float
    outside_coefficient_W_m2K: float
    coil_pressure_Pa: float  # absolute; below the supply where the supply is short
    coil_temperature_K: float
    inner_wall_temperature_K: float
    outer_wall_temperature_K: float
    wetted_surface_temperature_K: float  # of the fouling layer
    steam_flow_kg_s: float
    condensate_flow_kg_s: float
    condensate_temperature_K: float
    steam_velocity_m_s: float  # at the inlet of each tube
    warnings: tuple[Notice, ...]
    caution: str = STEAM_CAUTION


class _Tubes(NamedTuple):
    """Geometry and layers of all tubes together."""

    outer_diameter_m: float
    inner_diameter_m: float
    inner_area_m2: float
    outer_area_m2: float
    wall_K_W: float  # resistances of the whole coil, in kelvins per watt
    fouling_K_W: float
    agitation_multiplier: float


class _Chain(NamedTuple):
    """Temperatures from steam to bath and the heat that they agree with."""

    heat_W: float
    steam_temperature_K: float
    inner_wall_temperature_K: float
    outer_wall_temperature_K: float
    wetted_surface_temperature_K: float


class _Inlet(NamedTuple):
    """Vapour where it enters a tube."""

    velocity_m_s: float
    reynolds_number: float


@sourced("tube-wall-conductivity", "near 100 degC")
def tube_wall_conductivity_W_mK(material: str) -> float:
    """Thermal conductivity of a usual coil material.

    Args: material: "stainless steel" (austenitic), "carbon steel", "titanium" (commercially pure),
        "fluoropolymer".
    Returns: conductivity [W/(m K)].
    Raises: InputError naming the materials, for any other.
    Source: tube-wall-conductivity.
    """
    if material not in _TUBE_WALL_CONDUCTIVITY_W_mK:
        allowed = ", ".join(_TUBE_WALL_CONDUCTIVITY_W_mK)
        raise InputError("steam coil", "tube material", f"{material!r} is not known", allowed)
    return _TUBE_WALL_CONDUCTIVITY_W_mK[material]


@sourced("leopold-1999", "area of a coil from heat, overall coefficient and temperature difference")
def steam_coil_area_m2(
    *, heat_W: float, overall_coefficient_W_m2K: float, steam_temperature_K: float, bath_temperature_K: float
) -> float:
    """Coil surface for a heat at a given overall coefficient.

    Equation: A = Q / (U (T_steam - T_bath)); the steam keeps its temperature, the bath is mixed.
    Args:
        heat_W [W]: zero or more.
        overall_coefficient_W_m2K [W/(m2 K)]: above zero.
        steam_temperature_K, bath_temperature_K [K]: steam at least 0.1 K hotter.
    Returns: outer surface [m2].
    Raises: OutOfRange.
    Source: leopold-1999.
    Example: 179,040 Btu/h at U 150 from 239 to 140 degF takes 12.06 ft2
        >>> area_m2 = steam_coil_area_m2(
        ...     heat_W=179040 * 0.29307107,
        ...     overall_coefficient_W_m2K=150 * 5.6782633,
        ...     steam_temperature_K=388.15,
        ...     bath_temperature_K=333.15,
        ... )
        >>> print(f"{area_m2 / 0.3048**2:.2f}")
        12.06
    """
    require_range("heat_W", heat_W, 0.0, None)
    require_range("overall_coefficient_W_m2K", overall_coefficient_W_m2K, 0.1, None)
    least_K = bath_temperature_K + LEAST_TEMPERATURE_DIFFERENCE_K
    require_range("steam_temperature_K", steam_temperature_K, least_K, None, "steam must be hotter than the bath")
    return heat_W / (overall_coefficient_W_m2K * (steam_temperature_K - bath_temperature_K))


@sourced("chato-1962", "horizontal tube, stratified laminar film")
def stratified_condensation_coefficient_W_m2K(
    *,
    film: LiquidFilm,
    vapour_density_kg_m3: float,
    latent_heat_J_kg: float,
    inner_diameter_m: float,
    temperature_difference_K: float,
) -> float:
    """Mean coefficient of a vapour condensing inside a horizontal tube at low velocity.

    Equation: h = 0.555 [g rho (rho - rho_vapour) k^3 h' / (mu d dT)]^(1/4), h' = latent heat + 3/8 cp dT.
    Args:
        film: the condensate's properties at the mean of vapour and wall temperature.
        vapour_density_kg_m3 [kg/m3], latent_heat_J_kg [J/kg]: at the vapour's temperature.
        inner_diameter_m [m]: 0.0005 to 0.2.
        temperature_difference_K [K]: vapour less wall, above zero.
    Returns: coefficient on the inner surface [W/(m2 K)].
    Raises: OutOfRange.
    Source: chato-1962; meant for vapour Reynolds numbers below 35,000, beyond which shear thins the film and
        the true coefficient is higher.
    """
    require_range("inner_diameter_m", inner_diameter_m, 0.0005, 0.2, "tubes of coils")
    require_range("temperature_difference_K", temperature_difference_K, 1e-9, None, "the wall must be colder")
    require_range("vapour_density_kg_m3", vapour_density_kg_m3, 0.0, film.density_kg_m3)
    require_range("latent_heat_J_kg", latent_heat_J_kg, 1.0, None)
    factor = _chato_factor(film, vapour_density_kg_m3, latent_heat_J_kg, inner_diameter_m, temperature_difference_K)
    return float(factor * temperature_difference_K**-0.25)


def _chato_factor(
    film: LiquidFilm,
    vapour_density_kg_m3: float,
    latent_heat_J_kg: float,
    diameter_m: float,
    difference_K: float,
) -> float:
    """Chato's coefficient times the fourth root of the temperature difference: finite where that is zero."""
    heat_J_kg = latent_heat_J_kg + 0.375 * film.heat_capacity_J_kgK * difference_K
    buoyancy = STANDARD_GRAVITY_m_s2 * film.density_kg_m3 * (film.density_kg_m3 - vapour_density_kg_m3)
    group = buoyancy * film.conductivity_W_mK**3 * heat_J_kg / (film.viscosity_Pa_s * diameter_m)
    return float(0.555 * group**0.25)


def _steam_factor(steam: SaturatedWater, steam_K: float, wall_K: float, diameter_m: float) -> float:
    film = liquid_film(0.5 * (steam_K + wall_K))
    return _chato_factor(film, steam.steam_density_kg_m3, steam.latent_heat_J_kg, diameter_m, steam_K - wall_K)


def _heat_out_W(tubes: _Tubes, surface_K: float, bath_K: float) -> float:
    """Heat that natural convection, with the stated multiplier, takes off the wetted surface."""
    film = immersed_cylinder_coefficient_W_m2K(surface_K, bath_K, tubes.outer_diameter_m)
    return tubes.agitation_multiplier * film * tubes.outer_area_m2 * (surface_K - bath_K)


def _search(
    chain: Callable[[float], _Chain], tubes: _Tubes, bath_K: float, low_K: float, high_K: float, name: str
) -> _Chain | None:
    """The chain whose heat the bath's film also takes; None if the film takes less even at the high end.

    Trial chains are kept: the search returns a point that it has been to.
    """
    kept: dict[float, _Chain] = {}

    def excess_W(unknown_K: float) -> float:
        if unknown_K not in kept:
            kept[unknown_K] = chain(unknown_K)
        surface_K = kept[unknown_K].wetted_surface_temperature_K
        out_W = _heat_out_W(tubes, surface_K, bath_K) if surface_K > bath_K else 0.0
        return out_W - kept[unknown_K].heat_W

    if excess_W(high_K) <= 0.0:
        return None
    return kept[find_root(excess_W, low_K, high_K, tolerance=TEMPERATURE_TOLERANCE_K, name=name)]


def _chain_at_temperature(tubes: _Tubes, steam_K: float, bath_K: float) -> _Chain:
    """The chain of temperatures with steam at a given temperature; the unknown is the inner wall's."""
    steam = saturated_water(steam_K)

    def chain(inner_wall_K: float) -> _Chain:
        factor = _steam_factor(steam, steam_K, inner_wall_K, tubes.inner_diameter_m)
        heat_W = factor * (steam_K - inner_wall_K) ** 0.75 * tubes.inner_area_m2
        outer_wall_K = inner_wall_K - heat_W * tubes.wall_K_W
        return _Chain(heat_W, steam_K, inner_wall_K, outer_wall_K, outer_wall_K - heat_W * tubes.fouling_K_W)

    name = "inner wall temperature of the steam coil, K"
    found = _search(chain, tubes, bath_K, bath_K, steam_K, name)
    if found is None:  # the wall at the steam's temperature always gives more than it gets
        raise NotConverged(f"{name}: none between {bath_K:.6g} and {steam_K:.6g}")
    return found


def _chain_at_supply(tubes: _Tubes, supply_kg_s: float, steam_K: float, bath_K: float) -> _Chain | None:
    """The chain where the steam supply is short: the coil's pressure falls until it condenses just that flow.

    supply_kg_s is dry steam; steam_K is the temperature at full pressure. None if the surface takes no more
    than that.
    """
    guess_K = 1.0

    def chain(coil_K: float) -> _Chain:
        nonlocal guess_K
        steam = saturated_water(coil_K)
        heat_W = supply_kg_s * steam.latent_heat_J_kg
        if coil_K <= bath_K:
            return _Chain(heat_W, coil_K, coil_K, coil_K, coil_K)
        flux_W_m2 = heat_W / tubes.inner_area_m2
        for _ in range(50):
            wall_K = max(coil_K - guess_K, 273.15)  # only at trial points; at the root it is hotter than the bath
            factor = _steam_factor(steam, coil_K, wall_K, tubes.inner_diameter_m)
            step_K = (flux_W_m2 / factor) ** (4.0 / 3.0) - guess_K
            guess_K += step_K
            if abs(step_K) <= TEMPERATURE_TOLERANCE_K * max(1.0, guess_K):
                break
        else:
            raise NotConverged(f"drop over the condensing film, K: still {step_K:.3g} off at {guess_K:.6g}")
        inner_wall_K = coil_K - guess_K
        outer_wall_K = inner_wall_K - heat_W * tubes.wall_K_W
        return _Chain(heat_W, coil_K, inner_wall_K, outer_wall_K, outer_wall_K - heat_W * tubes.fouling_K_W)

    return _search(chain, tubes, bath_K, bath_K, steam_K, "temperature in the coil on a short steam supply, K")


def _tubes(
    outer_diameter_m: float,
    wall_thickness_m: float,
    conductivity_W_mK: float,
    length_m: float,
    fouling_m2K_W: float,
    agitation_multiplier: float,
) -> _Tubes:
    require_range("tube_outer_diameter_m", outer_diameter_m, 0.001, 0.2, "tubes of coils")
    thickest_m = 0.45 * outer_diameter_m
    require_range("tube_wall_thickness_m", wall_thickness_m, 1e-5, thickest_m, "0.45 of the outer diameter")
    require_range("wall_conductivity_W_mK", conductivity_W_mK, 0.05, 500.0, "tube materials")
    require_range("tube_length_m", length_m, 0.01, None)
    require_range("fouling_resistance_m2K_W", fouling_m2K_W, 0.0, 0.1)
    reason = "1 is still water; 2 to 3 is a guess for strong agitation"
    require_range("agitation_multiplier", agitation_multiplier, 1.0, 5.0, reason)
    inner_diameter_m = outer_diameter_m - 2.0 * wall_thickness_m
    outer_area_m2 = math.pi * outer_diameter_m * length_m
    return _Tubes(
        outer_diameter_m=outer_diameter_m,
        inner_diameter_m=inner_diameter_m,
        inner_area_m2=math.pi * inner_diameter_m * length_m,
        outer_area_m2=outer_area_m2,
        wall_K_W=math.log(outer_diameter_m / inner_diameter_m) / (2.0 * math.pi * conductivity_W_mK * length_m),
        fouling_K_W=fouling_m2K_W / outer_area_m2,
        agitation_multiplier=agitation_multiplier,
    )


def _steam_temperature_K(steam_pressure_Pa: float, bath_temperature_K: float) -> float:
    lowest_K, highest_K = LOWEST_BATH_TEMPERATURE_K, HIGHEST_BATH_TEMPERATURE_K
    require_range("bath_temperature_K", bath_temperature_K, lowest_K, highest_K, "liquid water in an open tank")
    least_Pa = saturation_pressure_Pa(bath_temperature_K + LEAST_TEMPERATURE_DIFFERENCE_K)
    if not steam_pressure_Pa >= least_Pa:
        reason = f"absolute; steam below that is no hotter than the bath at {bath_temperature_K - 273.15:.1f} degC"
        raise OutOfRange("steam_pressure_Pa", steam_pressure_Pa, least_Pa, HIGHEST_STEAM_PRESSURE_Pa, reason)
    reason = "absolute, saturated, up to 200 degC"
    require_range("steam_pressure_Pa", steam_pressure_Pa, least_Pa, HIGHEST_STEAM_PRESSURE_Pa, reason)
    return saturation_temperature_K(steam_pressure_Pa)


def _condensate_warnings(
    coil_pressure_Pa: float, site_pressure_Pa: float, lift_m: float, modulated: bool, returned: bool
) -> Iterator[Notice]:
    if modulated:
        yield Notice(
            "condensate at part load",
            "On part load a modulated coil falls below atmospheric pressure and holds its condensate: fit a vacuum"
            " breaker at the inlet and the trap below the coil, draining by gravity.",
        )
        if lift_m > 0.0:
            yield Notice(
                "condensate lift",
                "Condensate lift of {0} on a modulated coil: it floods at part load and hammers. Drain to a vented"
                " receiver and pump from there.",
                ((lift_m, "length"),),
            )
    against_Pa = site_pressure_Pa + 1000.0 * STANDARD_GRAVITY_m_s2 * lift_m
    if coil_pressure_Pa < against_Pa:
        yield Notice(
            "condensate backs up",
            "The absolute pressure in the coil, {0}, does not push the condensate out against {1}: it backs up in the"
            " coil, which hammers and corrodes.",
            ((coil_pressure_Pa, "absolute pressure"), (against_Pa, "absolute pressure")),
        )
    if returned:
        yield Notice(
            "condensate returned",
            "A pinhole lets bath liquor into the condensate: send it to the boiler only past a conductivity monitor"
            " that dumps it, otherwise waste it or use it as make-up.",
        )


def _film_warnings(chain: _Chain, bath_K: float, inlet: _Inlet, boiling_K: float) -> Iterator[Notice]:
    if inlet.velocity_m_s > HIGHEST_USUAL_STEAM_VELOCITY_m_s:
        yield Notice(
            "fast steam",
            "Steam enters the tubes at {0}, above the usual {1}: the pressure drop, which is not in this rating, takes"
            " heat away. Use more tubes in parallel.",
            ((inlet.velocity_m_s, "velocity"), (HIGHEST_USUAL_STEAM_VELOCITY_m_s, "velocity")),
        )
    steam_K = chain.steam_temperature_K
    share = (steam_K - chain.inner_wall_temperature_K) / (steam_K - bath_K)
    if inlet.reynolds_number > HIGHEST_CHATO_VAPOUR_REYNOLDS and share > NOTICEABLE_SHARE_OF_RESISTANCE:
        yield Notice(
            "condensing film beyond its equation",
            "Vapour Reynolds number {0} at the inlet is above the {1} up to which the condensing film's equation is"
            " meant, and that film is {2} of the resistance: it is thinner in truth, the rating on the safe side.",
            (
                (inlet.reynolds_number, "ratio"),
                (HIGHEST_CHATO_VAPOUR_REYNOLDS, "ratio"),
                (share, "fraction"),
            ),
        )
    surface_K = chain.wetted_surface_temperature_K
    if surface_K > boiling_K:
        yield Notice(
            "boiling on coil",
            "The wetted surface at {0} is above the boiling point ({1}): it boils there (the heat is higher than rated)"
            " and scale bakes on.",
            ((surface_K, "temperature"), (boiling_K, "temperature")),
        )


def _inlet(tubes: _Tubes, parallel_tubes: int, dry_flow_kg_s: float, steam_K: float, density_kg_m3: float) -> _Inlet:
    flux_kg_m2s = dry_flow_kg_s / (0.25 * math.pi * tubes.inner_diameter_m**2 * parallel_tubes)
    reynolds_number = flux_kg_m2s * tubes.inner_diameter_m / viscosity_Pa_s(steam_K, density_kg_m3)
    return _Inlet(flux_kg_m2s / density_kg_m3, reynolds_number)


@sourced("chato-1962", "condensing film")
@sourced("radial-conduction", "wall and fouling")
@sourced("churchill-chu-1975", "film in the bath")
@sourced("submerged-coil-practice", "warnings on condensate and steam velocity")
def rate_steam_coil(
    *,
    bath_temperature_K: float,
    steam_pressure_Pa: float,
    tube_outer_diameter_m: float,
    tube_wall_thickness_m: float,
    wall_conductivity_W_mK: float,
    tube_length_m: float,
    parallel_tubes: int = 1,
    fouling_resistance_m2K_W: float = 0.0,
    agitation_multiplier: float = 1.0,
    steam_quality: float = 1.0,
    steam_supply_limit_kg_s: float | None = None,
    condensate_lift_m: float = 0.0,
    modulated: bool = True,
    condensate_returned: bool = True,
    site_pressure_Pa: float = STANDARD_ATMOSPHERE_Pa,
) -> SteamCoilRating:
    """Rate a steam coil: heat, overall coefficient, temperatures, steam and condensate.

    Equation: 1/U = 1/h_out + fouling + wall + (d_out/d_in)/h_in on the outer surface;
        Q = U A (T_coil - T_bath) = steam flow x quality x latent heat; on a short supply T_coil falls until
        both agree.
    Args:
        bath_temperature_K [K]: 273.16 to 373.15.
        steam_pressure_Pa [Pa]: absolute at the coil, saturated, hotter than the bath, up to 1.55e6.
        tube_outer_diameter_m, tube_wall_thickness_m [m], wall_conductivity_W_mK [W/(m K)]: one tube.
        tube_length_m [m]: of all tubes together; parallel_tubes: how many share it.
        fouling_resistance_m2K_W [m2 K/W]: on the outer surface.
        agitation_multiplier: on the film in the bath, 1 to 5; 1 is still water, anything else is the user's
            guess.
        steam_quality: dry share of the steam, 0.5 to 1.
        steam_supply_limit_kg_s [kg/s]: of wet steam, for the whole coil; None where it is ample.
        condensate_lift_m [m], modulated, condensate_returned: how the coil is piped; they only raise
            warnings.
        site_pressure_Pa [Pa]: for boiling point and draining.
    Returns: SteamCoilRating.
    Raises: OutOfRange (steam no hotter than the bath among them), NotConverged.
    Source: chato-1962, radial-conduction, churchill-chu-1975, submerged-coil-practice.
    """
    steam_K = _steam_temperature_K(steam_pressure_Pa, bath_temperature_K)
    require_range("parallel_tubes", parallel_tubes, 1, None)
    require_range("steam_quality", steam_quality, 0.5, 1.0, "dry share of the steam")
    require_range("condensate_lift_m", condensate_lift_m, 0.0, 100.0)
    tubes = _tubes(
        tube_outer_diameter_m,
        tube_wall_thickness_m,
        wall_conductivity_W_mK,
        tube_length_m,
        fouling_resistance_m2K_W,
        agitation_multiplier,
    )
    short = None
    if steam_supply_limit_kg_s is not None:
        require_range("steam_supply_limit_kg_s", steam_supply_limit_kg_s, 1e-9, None)
        short = _chain_at_supply(tubes, steam_supply_limit_kg_s * steam_quality, steam_K, bath_temperature_K)
    chain = short or _chain_at_temperature(tubes, steam_K, bath_temperature_K)
    saturated = saturated_water(chain.steam_temperature_K)
    coil_pressure_Pa = saturated.pressure_Pa if short else steam_pressure_Pa
    dry_flow_kg_s = chain.heat_W / saturated.latent_heat_J_kg
    inlet = _inlet(tubes, parallel_tubes, dry_flow_kg_s, chain.steam_temperature_K, saturated.steam_density_kg_m3)
    outer_drop_K = chain.wetted_surface_temperature_K - bath_temperature_K
    boiling_K = saturation_temperature_K(site_pressure_Pa)
    return SteamCoilRating(
        heat_W=chain.heat_W,
        limit=STEAM_SUPPLY if short else COIL_SURFACE,
        area_m2=tubes.outer_area_m2,
        overall_coefficient_W_m2K=chain.heat_W
        / (tubes.outer_area_m2 * (chain.steam_temperature_K - bath_temperature_K)),
        inside_coefficient_W_m2K=chain.heat_W
        / (tubes.inner_area_m2 * (chain.steam_temperature_K - chain.inner_wall_temperature_K)),
        wall_resistance_m2K_W=tubes.wall_K_W * tubes.outer_area_m2,
        fouling_resistance_m2K_W=fouling_resistance_m2K_W,
        outside_coefficient_W_m2K=chain.heat_W / (tubes.outer_area_m2 * outer_drop_K),
        coil_pressure_Pa=coil_pressure_Pa,
        coil_temperature_K=chain.steam_temperature_K,
        inner_wall_temperature_K=chain.inner_wall_temperature_K,
        outer_wall_temperature_K=chain.outer_wall_temperature_K,
        wetted_surface_temperature_K=chain.wetted_surface_temperature_K,
        steam_flow_kg_s=dry_flow_kg_s / steam_quality,
        condensate_flow_kg_s=dry_flow_kg_s / steam_quality,
        condensate_temperature_K=chain.steam_temperature_K,
        steam_velocity_m_s=inlet.velocity_m_s,
        warnings=(
            *_condensate_warnings(
                coil_pressure_Pa, site_pressure_Pa, condensate_lift_m, modulated, condensate_returned
            ),
            *_film_warnings(chain, bath_temperature_K, inlet, boiling_K),
        ),
    )
