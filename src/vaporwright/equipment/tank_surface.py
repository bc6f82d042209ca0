"""What leaves an open, heated liquid surface: vapour, sensible heat and radiation, per square metre.

Model, without any fitted constant:
- air side: turbulent natural convection above a warm horizontal surface (Lloyd and Moran), driven by the
  density difference of the moist air, heat and vapour alike, with the vapour's Schmidt number for mass; the
  draught over the surface (flat plate, Gnielinski) adds to it, as in the natatorium formula. Textbooks join
  the two by the third power; that leaves 1 m/s over warm water a third short of that formula, and 3 mph would
  raise a hot tank's loss by a quarter where the energy agency's sheet says it more than doubles (sum: by 60
  to 130 %);
- Stefan flow: vapour follows the logarithm of the air's mole fractions, and the blowing takes its share off
  the sensible heat (film theory);
- liquid side: the surface is colder than the bulk, because heat must reach it through the liquid's own free
  convection (Katsaros and others, measured in an open tank). At 90 degC that is 9 K and halves the
  evaporation; models that leave it out predict 1.6 to 2.2 times what is measured on hot tanks;
- radiation to a room at room air temperature.

Why this one. Without air movement, room at 50 % humidity where the source does not say, the ratio of this
model to what open-tank sources print is (tests/published/test_tank_surface.py):
  energy agency tip sheet, 110 to 190 degF        0.90 to 1.14  (says dry, still air)
  plating-handbook table, 90 to 200 degF          0.87 to 1.26  (table calls itself rough)
  regression of still plating tanks, 120 to 180   0.92 to 0.99  (0.46 at 80 degF, the end of its line)
  Shah's correlation, still, 25 to 94 degC        0.88 to 1.03  (fits 11 measured sets within 18 % on average)
  natatorium formula, 40 and 50 degC, 0 to 1 m/s  0.89 to 1.14
  chart of plating baths, 180 degF                0.71          (0.11 at 80 degF; natatorium formula 0.2)
Shah's formula knows no draught and the natatorium formula no hot water: both stay check values. An
air-sparged tank evaporates 1.3 to 1.9 times this without draught. Solids in the liquid and stirring by the
pump are not in the liquid film: a fully stirred surface would stand at bulk temperature and evaporate about a
third more at 65 degC.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

from vaporwright.foundation.constants import (
    MOLAR_MASS_RATIO,
    MOLAR_GAS_CONSTANT_J_molK,
    MOLAR_MASS_DRY_AIR_kg_mol,
    MOLAR_MASS_WATER_kg_mol,
    STANDARD_GRAVITY_m_s2,
    STEFAN_BOLTZMANN_W_m2K4,
)
from vaporwright.foundation.errors import NotConverged, OutOfRange, require_range
from vaporwright.foundation.kernels import kernel
from vaporwright.foundation.register import sourced
from vaporwright.foundation.solvers import advance_root_search, find_root, start_root_search
from vaporwright.properties.air_transport import (
    HEAT_CAPACITY_DRY_AIR_J_kgK,
    HEAT_CAPACITY_WATER_VAPOUR_J_kgK,
    ideal_moist_air_density_kg_m3,
    moist_air_conductivity_W_mK,
    moist_air_viscosity_Pa_s,
    vapour_diffusivity_m2_s,
)
from vaporwright.properties.moist_air_kernels import (
    ideal_vapour_enthalpy_J_kg,
    liquid_water_enthalpy_J_kg,
    liquid_water_heat_capacity_J_kgK,
    saturated_vapour_pressure_Pa,
    vapour_pressure_of_pure_water_Pa,
)
from vaporwright.properties.water_transport import (
    liquid_conductivity_W_mK,
    liquid_density_kg_m3,
    liquid_expansion_per_K,
    liquid_viscosity_Pa_s,
)

BOILING_MARGIN_difference_K: Final = 1.0  # nearer to boiling, bubbles and not films carry the vapour
LEAST_EXPANSION_per_K: Final = 8.8e-5  # water at 10 degC; colder water hardly convects and hardly needs to
SKIN_TOLERANCE_K: Final = 1.0e-10


class SurfaceFluxes(NamedTuple):
    """What leaves one square metre of open surface; negative towards the liquid."""

    evaporation_kg_sm2: float
    vapour_enthalpy_W_m2: float  # evaporation x enthalpy of vapour at skin temperature, liquid at 0 degC being zero
    convection_W_m2: float
    radiation_W_m2: float
    skin_temperature_K: float
    skin_residual_W_m2: float  # what the liquid film delivers minus what leaves; the solver's last residual


@kernel
@sourced(
    "lloyd-moran-1974",
    "0.54 Ra^(1/4) to 1e7, 0.15 Ra^(1/3) to 1e11, length = area / perimeter; joined by own 10th power",
)
def natural_nusselt_facing_up(rayleigh: float) -> float:
    """Nusselt (or Sherwood) number above a warm horizontal plate, length = area / perimeter.

    Args: rayleigh (or Grashof x Schmidt): up to 1e11, beyond it carried on; zero or negative (stable) gives
        0.
    Source: lloyd-moran-1974; the two branches are joined by the tenth power, which lifts the corner by 7 %.
    """
    if rayleigh <= 0.0:
        return 0.0
    third = math.exp(math.log(rayleigh) / 3.0)
    laminar = 0.54 * math.sqrt(math.sqrt(rayleigh))
    turbulent = 0.15 * third
    low, high = min(laminar, turbulent), max(laminar, turbulent)
    return float(high * (1.0 + (low / high) ** 10.0) ** 0.1)


@kernel
@sourced("gnielinski-1975", "flat plate, mean of laminar and turbulent as root of the sum of squares, Re 10 to 1e7")
def forced_nusselt_flat_plate(reynolds: float, prandtl: float) -> float:
    """Mean Nusselt (or Sherwood) number of a flat plate swept along its length.

    Equation: sqrt(Nu_laminar^2 + Nu_turbulent^2), 0.664 Re^(1/2) Pr^(1/3) and
        0.037 Re^0.8 Pr / [1 + 2.443 Re^-0.1 (Pr^(2/3) - 1)].
    Args: reynolds: up to 1e7, zero gives 0; prandtl (or Schmidt): 0.6 to 2000.
    Source: gnielinski-1975.
    """
    if reynolds <= 0.0:
        return 0.0
    third = math.exp(math.log(prandtl) / 3.0)
    laminar = 0.664 * math.sqrt(reynolds) * third
    slowed = math.exp(-0.1 * math.log(reynolds))
    turbulent = 0.037 * reynolds * slowed * slowed * prandtl / (1.0 + 2.443 * slowed * (third * third - 1.0))
    return math.sqrt(laminar * laminar + turbulent * turbulent)


@kernel
@sourced("katsaros-1977", "Nu = 0.156 Ra^0.33, exponent taken as 1/3 (length cancels)")
def liquid_film_W_m2K43(liquid_temperature_K: float) -> float:
    """Heat flux to a cooling water surface per (temperature drop)^(4/3).

    Equation: 0.156 k [g beta / (nu alpha)]^(1/3); water's expansion is kept at its 10 degC value below 10
        degC.
    Args: liquid_temperature_K [K]: 273.15 to 383.15, unchecked.
    Returns: coefficient [W/(m2 K^(4/3))].
    Source: katsaros-1977.
    """
    T = liquid_temperature_K
    density = liquid_density_kg_m3(T)
    conductivity = liquid_conductivity_W_mK(T)
    kinematic = liquid_viscosity_Pa_s(T) / density
    diffusivity = conductivity / (density * liquid_water_heat_capacity_J_kgK(T))
    expansion = max(liquid_expansion_per_K(T), LEAST_EXPANSION_per_K)
    group = STANDARD_GRAVITY_m_s2 * expansion / (kinematic * diffusivity)
    return 0.156 * conductivity * math.exp(math.log(group) / 3.0)


@kernel
def _joined_nusselt_per_m(natural: float, forced: float, area_over_perimeter_m: float, swept_length_m: float) -> float:
    """Natural convection (never less than still conduction) and the draught's part, over their lengths."""
    still = math.exp(math.log(1.0 + natural * natural * natural) / 3.0)
    return still / area_over_perimeter_m + forced / swept_length_m


class _AirSide(NamedTuple):
    room_K: float
    room_fraction: float
    pressure_Pa: float
    area_over_perimeter_m: float
    swept_length_m: float
    air_speed_m_s: float
    water_activity: float
    emissivity: float


@kernel
def _fluxes_at_skin(skin_K: float, air: _AirSide) -> SurfaceFluxes:
    """Air-side fluxes for a given skin temperature; the residual is left at zero."""
    room_K, room_fraction, pressure_Pa = air.room_K, air.room_fraction, air.pressure_Pa
    skin_fraction = saturated_vapour_pressure_Pa(skin_K, pressure_Pa, air.water_activity) / pressure_Pa
    film_K = 0.5 * (skin_K + room_K)
    fraction = 0.5 * (skin_fraction + room_fraction)
    density = ideal_moist_air_density_kg_m3(film_K, fraction, pressure_Pa)
    kinematic = moist_air_viscosity_Pa_s(film_K, fraction) / density
    conductivity = moist_air_conductivity_W_mK(film_K, fraction)
    share = fraction * MOLAR_MASS_WATER_kg_mol
    share /= share + (1.0 - fraction) * MOLAR_MASS_DRY_AIR_kg_mol
    capacity = share * HEAT_CAPACITY_WATER_VAPOUR_J_kgK + (1.0 - share) * HEAT_CAPACITY_DRY_AIR_J_kgK
    diffusivity = vapour_diffusivity_m2_s(film_K, pressure_Pa)
    prandtl = kinematic * density * capacity / conductivity
    schmidt = kinematic / diffusivity
    lift = ideal_moist_air_density_kg_m3(room_K, room_fraction, pressure_Pa)
    lift = (lift - ideal_moist_air_density_kg_m3(skin_K, skin_fraction, pressure_Pa)) / density
    grashof = STANDARD_GRAVITY_m_s2 * lift * air.area_over_perimeter_m**3 / (kinematic * kinematic)
    reynolds = air.air_speed_m_s * air.swept_length_m / kinematic
    heat_W_m2K = conductivity * _joined_nusselt_per_m(
        natural_nusselt_facing_up(grashof * prandtl),
        forced_nusselt_flat_plate(reynolds, prandtl),
        air.area_over_perimeter_m,
        air.swept_length_m,
    )
    mass_m_s = diffusivity * _joined_nusselt_per_m(
        natural_nusselt_facing_up(grashof * schmidt),
        forced_nusselt_flat_plate(reynolds, schmidt),
        air.area_over_perimeter_m,
        air.swept_length_m,
    )
    molar_density = pressure_Pa / (MOLAR_GAS_CONSTANT_J_molK * film_K)
    evaporation = (
        MOLAR_MASS_WATER_kg_mol * molar_density * mass_m_s * math.log((1.0 - room_fraction) / (1.0 - skin_fraction))
    )
    blowing = evaporation * HEAT_CAPACITY_WATER_VAPOUR_J_kgK / heat_W_m2K
    thinned = 1.0 - 0.5 * blowing
    if abs(blowing) > 1.0e-5:
        thinned = blowing / math.expm1(blowing)
    convection = heat_W_m2K * thinned * (skin_K - room_K)
    radiation = air.emissivity * STEFAN_BOLTZMANN_W_m2K4 * (skin_K**4 - room_K**4)
    vapour = evaporation * ideal_vapour_enthalpy_J_kg(skin_K)
    return SurfaceFluxes(evaporation, vapour, convection, radiation, skin_K, 0.0)


@kernel
def _film_residual(fluxes: SurfaceFluxes, liquid_K: float, film: float) -> float:
    """What the liquid film delivers above the liquid's own enthalpy, minus what leaves the surface [W/m2]."""
    drop = liquid_K - fluxes.skin_temperature_K
    delivered = film * drop
    if drop != 0.0:
        delivered = film * drop * math.exp(math.log(abs(drop)) / 3.0)
    carried = fluxes.vapour_enthalpy_W_m2 - fluxes.evaporation_kg_sm2 * liquid_water_enthalpy_J_kg(liquid_K)
    return delivered - carried - fluxes.convection_W_m2 - fluxes.radiation_W_m2


@kernel
@sourced("lloyd-moran-1974", "natural convection of heat and of vapour")
@sourced("bird-stewart-lightfoot-2002", "film theory of high mass-transfer rates, section 22.8")
@sourced("katsaros-1977", "temperature drop to the skin of the liquid")
@sourced("ashrae-natatorium", "draught adds to still evaporation")
@sourced("own-tank-surface", "combination; see the module text")
def free_surface_fluxes(
    liquid_temperature_K: float,
    room_temperature_K: float,
    room_humidity_ratio_kg_kg: float,
    pressure_Pa: float,
    area_over_perimeter_m: float,
    swept_length_m: float,
    air_speed_m_s: float,
    water_activity: float,
    emissivity: float,
) -> SurfaceFluxes:
    """What leaves one square metre of open surface; the unchecked kernel of free_surface_losses.

    The skin temperature is settled so that the liquid film delivers what leaves; `skin_residual_W_m2` says
    how well.
    """
    fraction = room_humidity_ratio_kg_kg / (MOLAR_MASS_RATIO + room_humidity_ratio_kg_kg)
    air = _AirSide(
        room_temperature_K,
        fraction,
        pressure_Pa,
        area_over_perimeter_m,
        swept_length_m,
        air_speed_m_s,
        water_activity,
        emissivity,
    )
    film = liquid_film_W_m2K43(liquid_temperature_K)
    edge = liquid_temperature_K
    fluxes = _fluxes_at_skin(edge, air)
    residual_edge = _film_residual(fluxes, liquid_temperature_K, film)
    if residual_edge == 0.0:
        return fluxes
    # The drop that would carry the whole flux of an unchilled surface is more than the real drop.
    reach = min(1.0e-6 + 1.05 * math.exp(0.75 * math.log(abs(residual_edge) / film)), 60.0)
    other = edge + math.copysign(reach, residual_edge)
    residual = _film_residual(_fluxes_at_skin(other, air), liquid_temperature_K, film)
    search = start_root_search(edge, residual_edge, other, residual)
    for _ in range(60):
        fluxes = _fluxes_at_skin(search.next, air)
        residual = _film_residual(fluxes, liquid_temperature_K, film)
        search = advance_root_search(search, residual, SKIN_TOLERANCE_K)
        if search.width <= SKIN_TOLERANCE_K:
            break
    return SurfaceFluxes(
        fluxes.evaporation_kg_sm2,
        fluxes.vapour_enthalpy_W_m2,
        fluxes.convection_W_m2,
        fluxes.radiation_W_m2,
        fluxes.skin_temperature_K,
        residual,
    )


@dataclass(frozen=True)
class SurfaceLosses:
    """What leaves the open part of a tank's surface; negative where the tank gains."""

    evaporation_kg_s: float
    vapour_enthalpy_flow_W: float  # evaporation x enthalpy of vapour at the skin, liquid water at 0 degC being zero
    convection_W: float
    radiation_W: float
    skin_temperature_K: float

    @property
    def heat_W(self) -> float:
        """All energy that leaves, with the enthalpy of the vapour above liquid at 0 degC."""
        return self.vapour_enthalpy_flow_W + self.convection_W + self.radiation_W


def _require_surface_conditions(
    *,
    liquid_temperature_K: float,
    room_temperature_K: float,
    room_humidity_ratio_kg_kg: float,
    pressure_Pa: float,
    air_speed_m_s: float,
    water_activity: float,
    emissivity: float,
) -> None:
    """Raise OutOfRange unless free_surface_fluxes may be used."""
    require_range("pressure_Pa", pressure_Pa, 50.0e3, 110.0e3, "air of the properties used")
    require_range("water_activity", water_activity, 0.5, 1.0, "liquor up to saturation of common salts")
    require_range("room_temperature_K", room_temperature_K, 243.15, 333.15, "-30 to 60 degC")
    require_range("air_speed_m_s", air_speed_m_s, 0.0, 5.0, "draught over a tank")
    require_range("emissivity", emissivity, 0.0, 1.0)
    require_range("liquid_temperature_K", liquid_temperature_K, 273.15, 383.15, "liquid water")
    saturated = saturated_vapour_pressure_Pa(room_temperature_K, pressure_Pa, 1.0)
    most = MOLAR_MASS_RATIO * saturated / (pressure_Pa - saturated)
    require_range(
        "room_humidity_ratio_kg_kg",
        room_humidity_ratio_kg_kg,
        0.0,
        1.001 * most,
        "saturation at room temperature",
    )
    hottest = vapour_pressure_of_pure_water_Pa(liquid_temperature_K + BOILING_MARGIN_difference_K) * water_activity
    if hottest > pressure_Pa:
        pure_Pa = pressure_Pa / water_activity
        boiling_K = find_root(
            lambda temperature_K: vapour_pressure_of_pure_water_Pa(temperature_K) / pure_Pa - 1.0,
            320.0,
            420.0,
            tolerance=1e-6,
            name="boiling temperature in K",
        )
        reason = f"1 K below boiling at {pressure_Pa:.0f} Pa and water activity {water_activity:.3f}"
        high = boiling_K - BOILING_MARGIN_difference_K
        raise OutOfRange("liquid_temperature_K", liquid_temperature_K, 273.15, high, reason)


def _require_settled(fluxes: SurfaceFluxes) -> None:
    leaving = abs(fluxes.vapour_enthalpy_W_m2) + abs(fluxes.convection_W_m2) + abs(fluxes.radiation_W_m2)
    if not abs(fluxes.skin_residual_W_m2) <= 1e-3 + 1e-5 * leaving:
        left = f"{fluxes.skin_residual_W_m2:.3g} W/m2 unbalanced"
        raise NotConverged(f"skin_temperature_K: {fluxes.skin_temperature_K:.4f} leaves {left}")


@sourced("own-tank-surface", "fluxes x area")
def free_surface_losses(
    *,
    liquid_temperature_K: float,
    room_temperature_K: float,
    room_humidity_ratio_kg_kg: float,
    pressure_Pa: float,
    length_m: float,
    width_m: float,
    open_fraction: float,
    air_speed_m_s: float,
    water_activity: float = 1.0,
    emissivity: float = 0.95,
) -> SurfaceLosses:
    """What leaves the open part of a rectangular liquid surface.

    Equation: fluxes of free_surface_fluxes x length x width x open fraction. The lengths of the correlations
        are those of the whole surface: area / perimeter for natural convection, sqrt(area) for the draught.
    Args: liquid_temperature_K [K]: bulk, 273.15 to 1 K below boiling; room_temperature_K [K]: 243.15 to
        333.15; room_humidity_ratio_kg_kg: 0 to saturation; pressure_Pa [Pa]: 50e3 to 110e3; length_m, width_m
        [m]: 0.1 to 20; open_fraction: 0 (covered) to 1 (no lid); air_speed_m_s [m/s]: 0 to 5 over the
        surface; water_activity: 0.5 to 1; emissivity of the liquid: 0 to 1 (water 0.95).
    Returns: losses; negative where the room heats the liquid or its vapour condenses on it. They rise with
        liquid temperature, unless a strong brine draws water from a room more humid than the brine's
        activity.
    Raises: OutOfRange outside that range; NotConverged where the skin temperature was not found.
    Source: own-tank-surface; lloyd-moran-1974, katsaros-1977, gnielinski-1975 within.
    """
    _require_surface_conditions(
        liquid_temperature_K=liquid_temperature_K,
        room_temperature_K=room_temperature_K,
        room_humidity_ratio_kg_kg=room_humidity_ratio_kg_kg,
        pressure_Pa=pressure_Pa,
        air_speed_m_s=air_speed_m_s,
        water_activity=water_activity,
        emissivity=emissivity,
    )
    require_range("length_m", length_m, 0.1, 20.0, "tank")
    require_range("width_m", width_m, 0.1, 20.0, "tank")
    require_range("open_fraction", open_fraction, 0.0, 1.0)
    area_m2 = length_m * width_m
    fluxes = free_surface_fluxes(
        liquid_temperature_K,
        room_temperature_K,
        room_humidity_ratio_kg_kg,
        pressure_Pa,
        area_m2 / (2.0 * (length_m + width_m)),
        math.sqrt(area_m2),
        air_speed_m_s,
        water_activity,
        emissivity,
    )
    _require_settled(fluxes)
    open_m2 = area_m2 * open_fraction
    return SurfaceLosses(
        evaporation_kg_s=fluxes.evaporation_kg_sm2 * open_m2,
        vapour_enthalpy_flow_W=fluxes.vapour_enthalpy_W_m2 * open_m2,
        convection_W=fluxes.convection_W_m2 * open_m2,
        radiation_W=fluxes.radiation_W_m2 * open_m2,
        skin_temperature_K=fluxes.skin_temperature_K,
    )
