"""A gas burner firing into a tube immersed in the tank: what of its input reaches the bath, and what
leaves hot.

The efficiency is computed: complete combustion sets the flue gas, the march along the tube
(immersion_tube) its outlet temperature, and the difference of enthalpies the heat. Nothing is fitted to a
rating.

Fuel gas explodes and flue gas poisons. Burner, gas train, flame safeguard, venting and make-up air follow
the local fuel gas code and are set up by a licensed fitter with an analyser; the tank's low-water cut-off
and the tube's over-temperature limit are wired ahead of the burner. This module sizes; it approves nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from vaporwright.equipment.immersion_tube import (
    FLAME_STEPS,
    TUBE_STEPS,
    BathSide,
    FlueStream,
    March,
    Tube,
    bath_side,
    march_tube,
)
from vaporwright.foundation.errors import NotConverged, OutOfRange, require_range
from vaporwright.foundation.notice import Notice
from vaporwright.foundation.register import sourced
from vaporwright.foundation.solvers import find_root
from vaporwright.properties.flue_gas import (
    Combustion,
    burn,
    flue_dew_point_K,
    flue_sensible_enthalpy_J_mol,
    gas_density_kg_m3,
    gas_polynomials,
    heat_given_up_J_mol,
    reactants_sensible_enthalpy_J_mol,
)
from vaporwright.properties.flue_gas_transport import transport_polynomials
from vaporwright.properties.fuels import (
    FuelComposition,
    gross_heating_value_J_mol,
    standard_molar_volume_m3_mol,
)
from vaporwright.properties.water import saturation_temperature_K

# Common practice, no source.
FLAME_LENGTH_IN_DIAMETERS: Final = 12.0
SHARE_RELEASED_AT_BURNER: Final = 0.2
LOW_STACK_TEMPERATURE_K: Final = 394.0  # about 250 degF
HIGH_NET_FLUX_W_m2: Final = 37_850.0  # 12,000 Btu/(h ft2), mean over the tube
PACKAGED_FIRING_DENSITY_W_m2: Final = 9.085e6  # 20,000 Btu/h per square inch of tube, gross
PRESSURE_FIRED_DENSITY_W_m2: Final = 2.271e7  # 50,000 Btu/h per square inch
LOWEST_BATH_TEMPERATURE_K: Final = 278.15


@dataclass(frozen=True)
class GasBurnerRating:
    """What a gas burner in an immersion tube does at one condition."""

    heat_to_bath_W: float
    gross_input_W: float
    stack_loss_W: float  # gross input and the air's sensible heat less heat to bath
    gross_efficiency: float
    stack_temperature_K: float
    hottest_gas_K: float
    fuel_flow_mol_s: float
    fuel_flow_standard_m3_s: float
    fuel_flow_kg_s: float
    combustion_air_flow_kg_s: float
    flue_flow_kg_s: float
    flue_flow_m3_s: float  # actual, at stack temperature and site pressure
    flue_density_kg_m3: float
    oxygen_dry_fraction: float
    carbon_dioxide_dry_fraction: float
    flue_dew_point_K: float
    coldest_wall_temperature_K: float  # inner wall at the outlet
    condenses: bool
    bath_temperature_for_dry_tube_K: float  # at this stack temperature; see dry_tube_bath_temperature_K
    mean_net_heat_flux_W_m2: float  # on the outer area
    peak_net_heat_flux_W_m2: float  # on the outer area
    hottest_wall_temperature_K: float  # inner wall
    hottest_surface_temperature_K: float  # outer surface, of the scale where there is any
    surface_boils: bool
    heated_area_m2: float  # outer
    combustion: Combustion
    warnings: tuple[Notice, ...]


@dataclass(frozen=True)
class _Case:
    """One burner, tube and bath, checked and ready to march."""

    combustion: Combustion
    fuel_flow_mol_s: float
    burner_gas_K: float
    released_along_flame_W: float
    stream: FlueStream
    tube: Tube
    bath: BathSide


def _require_inputs(
    bath_temperature_K: float,
    gross_input_W: float,
    air_temperature_K: float,
    pressure_Pa: float,
    bath_coefficient_W_m2K: float | None,
) -> float:
    """Check what the march itself does not; return the boiling point."""
    require_range("pressure_Pa", pressure_Pa, 60_000.0, 110_000.0, "site pressure")
    boiling = saturation_temperature_K(pressure_Pa)
    require_range(
        "bath_temperature_K",
        bath_temperature_K,
        LOWEST_BATH_TEMPERATURE_K,
        boiling,
        "open bath, below its boiling point",
    )
    require_range("gross_input_W", gross_input_W, 1_000.0, 5.0e6, "one immersion tube")
    require_range("air_temperature_K", air_temperature_K, 233.15, 340.0, "combustion air")
    if bath_coefficient_W_m2K is not None:
        require_range("bath_coefficient_W_m2K", bath_coefficient_W_m2K, 50.0, 20_000.0, "liquid around a tube")
    return boiling


def _tube(
    tube_inner_diameter_m: float,
    tube_length_m: float,
    tube_wall_thickness_m: float,
    wall_conductivity_W_mK: float,
    fouling_resistance_m2K_W: float,
    wall_emissivity: float,
    flame_length_m: float | None,
) -> Tube:
    require_range("tube_inner_diameter_m", tube_inner_diameter_m, 0.03, 0.4, "immersion tube")
    require_range("tube_wall_thickness_m", tube_wall_thickness_m, 0.0005, 0.02, "immersion tube")
    require_range("wall_conductivity_W_mK", wall_conductivity_W_mK, 5.0, 420.0, "metal tube")
    require_range("fouling_resistance_m2K_W", fouling_resistance_m2K_W, 0.0, 0.005, "scale")
    require_range("wall_emissivity", wall_emissivity, 0.8, 1.0, "grey wall factor (1 + emissivity)/2 holds from 0.8")
    flame = FLAME_LENGTH_IN_DIAMETERS * tube_inner_diameter_m if flame_length_m is None else flame_length_m
    require_range("flame_length_m", flame, tube_inner_diameter_m, None, "at least one diameter")
    require_range("tube_length_m", tube_length_m, 1.25 * flame, 60.0, "the flame must end well inside the tube")
    outer = tube_inner_diameter_m + 2.0 * tube_wall_thickness_m
    return Tube(
        inner_diameter_m=tube_inner_diameter_m,
        outer_diameter_m=outer,
        length_m=tube_length_m,
        wall_resistance_m2K_W=outer * math.log(outer / tube_inner_diameter_m) / (2.0 * wall_conductivity_W_mK),
        fouling_resistance_m2K_W=fouling_resistance_m2K_W,
        wall_emissivity=wall_emissivity,
        flame_length_m=flame,
    )


def _stream(combustion: Combustion, fuel_flow_mol_s: float, pressure_Pa: float) -> FlueStream:
    fractions = combustion.flue_mole_fractions
    return FlueStream(
        flow_mol_s=fuel_flow_mol_s * combustion.flue_mol_mol,
        flow_kg_s=fuel_flow_mol_s * combustion.flue_kg_mol,
        molar_mass_kg_mol=combustion.flue_molar_mass_kg_mol,
        heat=gas_polynomials(fractions),
        transport=transport_polynomials(fractions),
        carbon_dioxide_Pa=fractions[0] * pressure_Pa,
        water_Pa=fractions[1] * pressure_Pa,
        pressure_Pa=pressure_Pa,
    )


@lru_cache(maxsize=256)
def _burner_gas_K(combustion: Combustion, air_temperature_K: float) -> float:
    """Temperature at which products carry the reactants' heat and the share released at the burner."""
    released = SHARE_RELEASED_AT_BURNER * _released_J_mol(combustion, air_temperature_K)
    start = flue_sensible_enthalpy_J_mol(combustion, air_temperature_K)
    return find_root(
        lambda t: flue_sensible_enthalpy_J_mol(combustion, t) - start - released,
        air_temperature_K,
        1500.0,
        tolerance=1e-9,
        name="gas temperature at the burner [K]",
    )


def _released_J_mol(combustion: Combustion, air_temperature_K: float) -> float:
    """Heat of combustion at the temperature of the air, water staying vapour."""
    return heat_given_up_J_mol(combustion, air_temperature_K, air_temperature_K)


@sourced("tube-march", "gas cooled along the tube; heat by difference of enthalpies")
@sourced("immersion-tube-practice", "flame length, share released at the burner, limits of the warnings")
def rate_gas_burner(
    *,
    bath_temperature_K: float,
    fuel: FuelComposition,
    gross_input_W: float,
    excess_air_fraction: float,
    air_temperature_K: float,
    air_humidity_ratio_kg_kg: float,
    pressure_Pa: float,
    tube_inner_diameter_m: float,
    tube_length_m: float,
    tube_wall_thickness_m: float,
    wall_conductivity_W_mK: float,
    wall_emissivity: float,
    fouling_resistance_m2K_W: float,
    flame_length_m: float | None = None,
    bath_coefficient_W_m2K: float | None = None,
) -> GasBurnerRating:
    """Heat to the bath, stack and wall temperatures of a gas burner in an immersion tube.

    Equation: the tube's outlet temperature by the march of immersion_tube; heat = fuel flow times (net
        heating value + reactants' - flue gas's enthalpy). Condensation in the tube is not credited: where
        it happens the heat is a little more than stated, and a warning says so.
    Args:
        bath_temperature_K [K]: 278.15 to boiling at the site.
        fuel: its composition.
        gross_input_W [W]: 1e3 to 5e6, fuel's gross heating value as fired (altitude already taken off).
        excess_air_fraction [-]: 0 to 5, as burnt, leakage included.
        air_temperature_K [K]: 233.15 to 340. air_humidity_ratio_kg_kg [kg/kg dry air]: 0 to 0.2.
        pressure_Pa [Pa]: 60,000 to 110,000.
        tube_inner_diameter_m [m]: 0.03 to 0.4. tube_length_m [m]: developed, all passes, at least 1.25
            flame lengths and at most 60. tube_wall_thickness_m [m]: 0.0005 to 0.02.
        wall_conductivity_W_mK [W/(m K)]: 5 to 420. wall_emissivity [-]: 0.8 to 1 (oxidised).
        fouling_resistance_m2K_W [m2 K/W]: 0 to 0.005, scale on the outer area.
        flame_length_m [m]: None for 12 tube diameters (common practice, no source).
        bath_coefficient_W_m2K [W/(m2 K)]: None for natural convection with boiling, else 50 to 20,000.
    Returns: the rating, with warnings.
    Raises: OutOfRange outside those ranges; NotConverged where a wall temperature is not found.
    Source: tube-march, immersion-tube-practice.
    """
    boiling = _require_inputs(bath_temperature_K, gross_input_W, air_temperature_K, pressure_Pa, bath_coefficient_W_m2K)
    tube = _tube(
        tube_inner_diameter_m,
        tube_length_m,
        tube_wall_thickness_m,
        wall_conductivity_W_mK,
        fouling_resistance_m2K_W,
        wall_emissivity,
        flame_length_m,
    )
    combustion = burn(fuel, excess_air_fraction, air_humidity_ratio_kg_kg)
    fuel_flow = gross_input_W / gross_heating_value_J_mol(fuel)
    released = fuel_flow * _released_J_mol(combustion, air_temperature_K)
    case = _Case(
        combustion=combustion,
        fuel_flow_mol_s=fuel_flow,
        burner_gas_K=_burner_gas_K(combustion, air_temperature_K),
        released_along_flame_W=(1.0 - SHARE_RELEASED_AT_BURNER) * released,
        stream=_stream(combustion, fuel_flow, pressure_Pa),
        tube=tube,
        bath=bath_side(bath_temperature_K, bath_coefficient_W_m2K or 0.0, boiling, pressure_Pa),
    )
    if case.burner_gas_K <= bath_temperature_K:
        raise OutOfRange(
            "excess_air_fraction",
            excess_air_fraction,
            None,
            None,
            "gas at the burner is colder than the bath",
        )
    march = march_tube(
        case.burner_gas_K, case.released_along_flame_W, case.stream, tube, case.bath, FLAME_STEPS, TUBE_STEPS
    )
    if not march.converged:
        raise NotConverged(f"wall temperature along the immersion tube [K]: gas had {march.outlet_temperature_K:.6g} K")
    return _rating(case, march, gross_input_W, air_temperature_K)


def _rating(case: _Case, march: March, gross_input_W: float, air_temperature_K: float) -> GasBurnerRating:
    combustion, fuel_flow, tube = case.combustion, case.fuel_flow_mol_s, case.tube
    stack = march.outlet_temperature_K
    pressure = case.stream.pressure_Pa
    heat = fuel_flow * heat_given_up_J_mol(combustion, stack, air_temperature_K)
    brought = fuel_flow * reactants_sensible_enthalpy_J_mol(combustion, air_temperature_K)
    area = math.pi * tube.outer_diameter_m * tube.length_m
    density = gas_density_kg_m3(combustion.flue_molar_mass_kg_mol, stack, pressure)
    dew = flue_dew_point_K(combustion, pressure)
    to_outer = tube.inner_diameter_m / tube.outer_diameter_m
    return GasBurnerRating(
        heat_to_bath_W=heat,
        gross_input_W=gross_input_W,
        stack_loss_W=gross_input_W + brought - heat,
        gross_efficiency=heat / gross_input_W,
        stack_temperature_K=stack,
        hottest_gas_K=march.hottest_gas_K,
        fuel_flow_mol_s=fuel_flow,
        fuel_flow_standard_m3_s=fuel_flow * standard_molar_volume_m3_mol(),
        fuel_flow_kg_s=fuel_flow * combustion.fuel_kg_mol,
        combustion_air_flow_kg_s=fuel_flow * combustion.air_kg_mol,
        flue_flow_kg_s=case.stream.flow_kg_s,
        flue_flow_m3_s=case.stream.flow_kg_s / density,
        flue_density_kg_m3=density,
        oxygen_dry_fraction=combustion.oxygen_dry_fraction,
        carbon_dioxide_dry_fraction=combustion.carbon_dioxide_dry_fraction,
        flue_dew_point_K=dew,
        coldest_wall_temperature_K=march.outlet_wall_K,
        condenses=march.outlet_wall_K < dew,
        bath_temperature_for_dry_tube_K=_dry_bath_K(case, march, dew),
        mean_net_heat_flux_W_m2=heat / area,
        peak_net_heat_flux_W_m2=march.peak_flux_W_m2 * to_outer,
        hottest_wall_temperature_K=march.hottest_wall_K,
        hottest_surface_temperature_K=march.hottest_surface_K,
        surface_boils=march.hottest_surface_K > case.bath.boiling_temperature_K,
        heated_area_m2=area,
        combustion=combustion,
        warnings=_warnings(case, march, heat / area, gross_input_W, dew),
    )


def _dry_bath_K(case: _Case, march: March, dew_point_K: float) -> float:
    """Bath temperature at which the outlet's inner wall just reaches the dew point, at this flux there.

    The wall stands above the bath by what the flux needs through bath, scale and wall. That rise changes
    little with bath temperature, so it is taken as found.
    """
    return dew_point_K - (march.outlet_wall_K - case.bath.temperature_K)


def _warnings(
    case: _Case, march: March, net_flux_W_m2: float, gross_input_W: float, dew_point_K: float
) -> tuple[Notice, ...]:
    bore_m2 = 0.25 * math.pi * case.tube.inner_diameter_m**2
    packaged_W, pressure_fired_W = PACKAGED_FIRING_DENSITY_W_m2 * bore_m2, PRESSURE_FIRED_DENSITY_W_m2 * bore_m2
    boiling = case.bath.boiling_temperature_K
    stack, wall, surface = march.outlet_temperature_K, march.outlet_wall_K, march.hottest_surface_K
    checks = (
        (
            wall < dew_point_K,
            "condensation in tube",
            "Flue gas condenses on the tube's coldest wall ({0}; dew point {1}): pitch the tube, drain it, choose its "
            "metal for acid water. The heat of condensation is not credited.",
            ((wall, "temperature"), (dew_point_K, "temperature")),
        ),
        (
            stack < LOW_STACK_TEMPERATURE_K,
            "cold stack",
            "The stack at {0} is colder than common practice ({1}): expect condensation in the flue and little draft.",
            ((stack, "temperature"), (LOW_STACK_TEMPERATURE_K, "temperature")),
        ),
        (
            net_flux_W_m2 > HIGH_NET_FLUX_W_m2,
            "high heat flux",
            "Net heat flux of {0} is above common practice for immersion tubes ({1}): scale will bake on.",
            ((net_flux_W_m2, "heat flux"), (HIGH_NET_FLUX_W_m2, "heat flux")),
        ),
        (
            packaged_W < gross_input_W <= pressure_fired_W,
            "firing density above packaged burners",
            "An input of {0} is more than packaged burners fire into a tube of this bore ({1}): use a pressure-fired "
            "one.",
            ((gross_input_W, "heat"), (packaged_W, "heat")),
        ),
        (
            gross_input_W > pressure_fired_W,
            "firing density beyond practice",
            "An input of {0} is beyond common practice for a tube of this bore, pressure-fired included ({1}).",
            ((gross_input_W, "heat"), (pressure_fired_W, "heat")),
        ),
        (
            surface > boiling,
            "boiling on tube",
            "Near the flame the surface is at {0}, above the boiling point ({1}): liquid boils there and scale forms.",
            ((surface, "temperature"), (boiling, "temperature")),
        ),
    )
    return tuple(Notice(name, text, figures) for present, name, text, figures in checks if present)


@sourced("tube-march", "bath temperature at which the outlet wall reaches the dew point")
def dry_tube_bath_temperature_K(
    *,
    fuel: FuelComposition,
    gross_input_W: float,
    excess_air_fraction: float,
    air_temperature_K: float,
    air_humidity_ratio_kg_kg: float,
    pressure_Pa: float,
    tube_inner_diameter_m: float,
    tube_length_m: float,
    tube_wall_thickness_m: float,
    wall_conductivity_W_mK: float,
    wall_emissivity: float,
    fouling_resistance_m2K_W: float,
    flame_length_m: float | None = None,
    bath_coefficient_W_m2K: float | None = None,
) -> float:
    """Bath temperature from which the tube stays dry inside: below it the flue gas condenses at the outlet.

    Equation: the root of outlet wall temperature less flue dew point, some five marches.
    Args: as rate_gas_burner.
    Returns: bath temperature [K]; the lowest allowed, 278.15 K, where the tube is dry even there.
    Raises: as rate_gas_burner.
    Source: tube-march.
    """

    def margin(bath_temperature_K: float) -> float:
        rating = rate_gas_burner(
            bath_temperature_K=bath_temperature_K,
            fuel=fuel,
            gross_input_W=gross_input_W,
            excess_air_fraction=excess_air_fraction,
            air_temperature_K=air_temperature_K,
            air_humidity_ratio_kg_kg=air_humidity_ratio_kg_kg,
            pressure_Pa=pressure_Pa,
            tube_inner_diameter_m=tube_inner_diameter_m,
            tube_length_m=tube_length_m,
            tube_wall_thickness_m=tube_wall_thickness_m,
            wall_conductivity_W_mK=wall_conductivity_W_mK,
            wall_emissivity=wall_emissivity,
            fouling_resistance_m2K_W=fouling_resistance_m2K_W,
            flame_length_m=flame_length_m,
            bath_coefficient_W_m2K=bath_coefficient_W_m2K,
        )
        return rating.coldest_wall_temperature_K - rating.flue_dew_point_K

    if margin(LOWEST_BATH_TEMPERATURE_K) >= 0.0:
        return LOWEST_BATH_TEMPERATURE_K
    dew = flue_dew_point_K(burn(fuel, excess_air_fraction, air_humidity_ratio_kg_kg), pressure_Pa)
    return find_root(margin, LOWEST_BATH_TEMPERATURE_K, dew, tolerance=1e-3, name="bath temperature of a dry tube [K]")
