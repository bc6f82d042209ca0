"""The room side: air that blower and burner take from the room, what replaces it, and where the exhaust goes.

A blower takes thousands of cubic feet a minute. Whatever enters no other way comes down the flue: the room's pressure
falls until the openings pass the flow, and a natural-draft flue then spills carbon monoxide, which kills without smell.
These are sizes for a connection sheet. The fuel gas and mechanical codes in force, a **licensed fitter** and a test on
site with all fans running decide; draft proved by a switch, or sealed combustion, is the usual precaution.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

from vaporwright.equipment.pipe_run import friction_factor
from vaporwright.foundation.constants import MOLAR_MASS_RATIO
from vaporwright.foundation.errors import InputError, OutOfRange, require_range
from vaporwright.foundation.register import sourced
from vaporwright.foundation.solvers import find_root
from vaporwright.properties.air_transport import moist_air_viscosity_Pa_s
from vaporwright.properties.flue_gas import AIR_MOLAR_MASS_kg_mol, Combustion
from vaporwright.properties.fuels import gross_heating_value_J_mol
from vaporwright.properties.moist_air import (
    density_kg_m3,
    enthalpy_J_kg,
    saturation_humidity_ratio_kg_kg,
    specific_volume_m3_kg,
)
from vaporwright.properties.water import liquid_enthalpy_J_kg

FlueKind = Literal["natural draft", "sealed"]

SHARP_OPENING_DISCHARGE: Final = 0.6
NATURAL_DRAFT_LIMIT_Pa: Final = 4.98  # 0.02 in. w.c.
INTAKE_DISTANCE_m: Final = 3.048  # 10 ft
DISCHARGE_ABOVE_INTAKE_m: Final = 0.9144  # 3 ft
HIGHEST_USUAL_DUCT_VELOCITY_m_s: Final = 12.7  # 2,500 ft/min
_ROUGHNESS_m: Final = {
    "PVC": 3.0e-5,
    "stainless steel": 4.6e-5,
    "galvanized steel": 9.0e-5,
    "fibreglass": 9.0e-4,
}

ROOM_AIR_CAUTION: Final = (
    "A room at negative pressure draws flue gas back in: carbon monoxide kills without smell. Interlock make-up air"
    " with the blower, prove draft or use sealed combustion, fit a carbon monoxide alarm, and test with every fan in"
    " the building running and all doors shut. The local code and a licensed fitter decide."
)
EXHAUST_CAUTION: Final = (
    "Exhaust of an evaporator is hot, wet and may carry what the liquor gives off: discharge outdoors, away from"
    " people, intakes and walkways that ice over. Permits and local codes decide."
)


@dataclass(frozen=True, slots=True)
class MakeUpAir:
    """Air that the unit takes out of the room, and what must come in for it."""

    dry_air_kg_s: float
    outdoor_volume_m3_s: float  # as it passes the opening, at outdoor temperature
    room_volume_m3_s: float
    heating_W: float  # to bring it to the room's temperature now; zero where outdoors is no colder
    caution: str = ROOM_AIR_CAUTION


@dataclass(frozen=True, slots=True)
class SeasonalAirHeat:
    """Heat for make-up air over a season."""

    mean_heat_W: float  # while running
    heat_J: float
    energy_J: float  # of fuel or power, after the heater's efficiency
    cost_USD: float | None  # None without a price


@dataclass(frozen=True, slots=True)
class FlueSpillage:
    """Whether a room's depressurisation turns a flue around."""

    depressurisation_Pa: float
    limit_Pa: float | None  # None for sealed combustion
    margin_Pa: float | None
    spills: bool
    warnings: tuple[str, ...]
    caution: str = ROOM_AIR_CAUTION


@dataclass(frozen=True, slots=True)
class ExhaustDuct:
    """Air side of the exhaust duct."""

    velocity_m_s: float
    velocity_pressure_Pa: float
    reynolds_number: float
    friction_factor: float
    friction_Pa: float
    fittings_Pa: float
    loss_Pa: float
    warnings: tuple[str, ...]
    caution: str = EXHAUST_CAUTION


@dataclass(frozen=True, slots=True)
class DuctCondensate:
    """Water that saturated exhaust leaves on the walls of its duct."""

    outlet_temperature_K: float
    heat_loss_W: float
    condensate_kg_s: float
    notes: tuple[str, ...]
    caution: str = EXHAUST_CAUTION


@dataclass(frozen=True, slots=True)
class IntakeSeparation:
    """An intake against a discharge."""

    is_apart: bool
    least_distance_m: float
    least_height_m: float  # of the discharge above the intake, where it is nearer than that
    warnings: tuple[str, ...]


@sourced("combustion-stoichiometry", "air for the gross input at the stated excess")
def combustion_dry_air_kg_s(combustion: Combustion, gross_input_W: float) -> float:
    """Dry air that a burner takes.

    Equation: input / gross heating value x dry air per mol of fuel.
    Args: combustion: of the fuel at its excess air; gross_input_W [W]: not negative.
    Returns: flow [kg/s].
    Raises: OutOfRange.
    Source: combustion-stoichiometry.
    """
    require_range("gross_input_W", gross_input_W, 0.0, None, "gross input")
    fuel_mol_s = gross_input_W / gross_heating_value_J_mol(combustion.fuel)
    return fuel_mol_s * combustion.dry_air_mol_mol * AIR_MOLAR_MASS_kg_mol


@sourced("make-up-air-balance", "what leaves the room comes in; heat by enthalpy at outdoor humidity")
def make_up_air(
    *,
    blower_dry_air_kg_s: float,
    burner_dry_air_kg_s: float,
    dilution_dry_air_kg_s: float,
    room_temperature_K: float,
    outdoor_temperature_K: float,
    outdoor_humidity_ratio_kg_kg: float,
    pressure_Pa: float,
) -> MakeUpAir:
    """Make-up air for what blower, burner and draft hood take out of the room.

    Equation: sum of dry air; heat = sum x [h(room T, outdoor W) - h(outdoor T, outdoor W)].
    Args:
        blower_dry_air_kg_s, burner_dry_air_kg_s, dilution_dry_air_kg_s [kg/s]: what is drawn from the room; zero where
            ducted from outdoors or sealed. Dilution is air that a draft hood or barometric damper adds to the flue:
            as much again as the burner's is common.
        room_temperature_K, outdoor_temperature_K [K]: 243.15 to 323.15; outdoor_humidity_ratio_kg_kg: to 0.05.
        pressure_Pa [Pa]: 60e3 to 110e3.
    Returns: MakeUpAir; fans and heaters elsewhere in the room are not in it.
    Raises: OutOfRange.
    Source: make-up-air-balance.
    """
    flows = {"blower": blower_dry_air_kg_s, "burner": burner_dry_air_kg_s, "dilution": dilution_dry_air_kg_s}
    for name, flow in flows.items():
        require_range(f"{name}_dry_air_kg_s", flow, 0.0, None)
    total = sum(flows.values())
    humidity = outdoor_humidity_ratio_kg_kg
    heat_J_kg = _warming_J_kg(room_temperature_K, outdoor_temperature_K, humidity, pressure_Pa)
    return MakeUpAir(
        dry_air_kg_s=total,
        outdoor_volume_m3_s=total * specific_volume_m3_kg(outdoor_temperature_K, humidity, pressure_Pa),
        room_volume_m3_s=total * specific_volume_m3_kg(room_temperature_K, humidity, pressure_Pa),
        heating_W=total * heat_J_kg,
    )


def _warming_J_kg(room_K: float, outdoor_K: float, humidity: float, pressure_Pa: float) -> float:
    for name, value in (("room_temperature_K", room_K), ("outdoor_temperature_K", outdoor_K)):
        require_range(name, value, 243.15, 323.15, "rooms and weather")
    require_range("outdoor_humidity_ratio_kg_kg", humidity, 0.0, 0.05, "weather")
    if outdoor_K >= room_K:
        return 0.0
    return enthalpy_J_kg(room_K, humidity, pressure_Pa) - enthalpy_J_kg(outdoor_K, humidity, pressure_Pa)


@sourced("make-up-air-balance", "mean heat times running time, over the heater's efficiency")
def seasonal_air_heat(
    *,
    dry_air_kg_s: float,
    running_time_s: float,
    room_temperature_K: float,
    mean_outdoor_temperature_K: float,
    mean_outdoor_humidity_ratio_kg_kg: float,
    pressure_Pa: float,
    heater_efficiency: float,
    energy_price_USD_J: float | None = None,
) -> SeasonalAirHeat:
    """Heat that warms make-up air over a stated heating season, and its cost where a price is stated.

    Equation: mean heat = dry air x [h(room T, W) - h(mean outdoor T, W)]; energy = heat x time / efficiency.
    Args:
        dry_air_kg_s [kg/s]: not negative. running_time_s [s]: hours that the unit runs in the season, to 3.2e7.
        room_temperature_K, mean_outdoor_temperature_K [K], mean_outdoor_humidity_ratio_kg_kg, pressure_Pa: as in
            make_up_air; the mean over those hours. A mean near or above the room's hides the cold hours: split it.
        heater_efficiency [-]: of the building's heater, 0.3 to 6 (above 1: heat pump).
        energy_price_USD_J [USD/J]: of what that heater burns or draws; None leaves the cost out.
    Returns: SeasonalAirHeat; zero heat where outdoors is no colder.
    Raises: OutOfRange.
    Source: make-up-air-balance.
    """
    require_range("dry_air_kg_s", dry_air_kg_s, 0.0, None)
    require_range("running_time_s", running_time_s, 0.0, 3.2e7, "one season")
    require_range("heater_efficiency", heater_efficiency, 0.3, 6.0)
    if energy_price_USD_J is not None:
        require_range("energy_price_USD_J", energy_price_USD_J, 0.0, None)
    heat_W = dry_air_kg_s * _warming_J_kg(
        room_temperature_K, mean_outdoor_temperature_K, mean_outdoor_humidity_ratio_kg_kg, pressure_Pa
    )
    heat_J = heat_W * running_time_s
    energy_J = heat_J / heater_efficiency
    cost_USD = None if energy_price_USD_J is None else energy_price_USD_J * energy_J
    return SeasonalAirHeat(heat_W, heat_J, energy_J, cost_USD)


@sourced("opening-discharge", "dp = rho/2 (Q / (Cd A))^2")
def opening_pressure_Pa(
    *,
    flow_m3_s: float,
    free_area_m2: float,
    density_kg_m3: float,
    discharge_coefficient: float = SHARP_OPENING_DISCHARGE,
) -> float:
    """Pressure by which a room falls below the outdoors when a flow must come through its openings.

    Equation: dp = rho/2 [Q / (Cd A)]^2.
    Args:
        flow_m3_s [m3/s]: outdoor air, less what a make-up fan brings; not negative.
        free_area_m2 [m2]: of all openings and cracks together, above 0; louvres pass less than their face.
        density_kg_m3 [kg/m3]: of the outdoor air, 0.5 to 2. discharge_coefficient: 0.3 to 1; 0.6 for sharp edges.
    Returns: depressurisation [Pa]; wind and stack effect come on top.
    Raises: OutOfRange.
    Source: opening-discharge.
    """
    require_range("flow_m3_s", flow_m3_s, 0.0, None)
    _require_opening(density_kg_m3, discharge_coefficient)
    require_range("free_area_m2", free_area_m2, 1.0e-6, None, "a shut room: the blower then draws through the flue")
    velocity_m_s = flow_m3_s / (discharge_coefficient * free_area_m2)
    return 0.5 * density_kg_m3 * velocity_m_s * velocity_m_s


@sourced("opening-discharge", "solved for the area")
def opening_area_m2(
    *,
    flow_m3_s: float,
    allowed_pressure_Pa: float,
    density_kg_m3: float,
    discharge_coefficient: float = SHARP_OPENING_DISCHARGE,
) -> float:
    """Free area that passes a flow at an allowed depressurisation: opening_pressure_Pa turned around.

    Args: allowed_pressure_Pa [Pa]: 0.1 to 500; the others as there.
    Returns: free area [m2] of the openings, besides those that the burner's own code rule asks for.
    Raises: OutOfRange.
    Source: opening-discharge.
    """
    require_range("flow_m3_s", flow_m3_s, 0.0, None)
    _require_opening(density_kg_m3, discharge_coefficient)
    require_range("allowed_pressure_Pa", allowed_pressure_Pa, 0.1, 500.0)
    return flow_m3_s / (discharge_coefficient * math.sqrt(2.0 * allowed_pressure_Pa / density_kg_m3))


def _require_opening(air_density_kg_m3: float, discharge_coefficient: float) -> None:
    require_range("density_kg_m3", air_density_kg_m3, 0.5, 2.0, "outdoor air")
    require_range("discharge_coefficient", discharge_coefficient, 0.3, 1.0, "openings")


@sourced("room-pressure-practice", "natural draft: at most 0.02 in. w.c., and less than the flue's own draft")
def flue_spillage(
    *, kind: FlueKind, depressurisation_Pa: float, flue_draft_Pa: float, flue_loss_Pa: float = 0.0
) -> FlueSpillage:
    """Whether a flue keeps its draft in a room below outdoor pressure.

    Equation: limit = the lesser of 0.02 in. w.c. (4.98 Pa) and flue draft - flue loss; it spills at or above the limit.
    Args:
        kind: "natural draft", or "sealed" (air and flue both ducted outdoors: the room does not matter).
        depressurisation_Pa [Pa]: room below outdoors, not negative, to 1000.
        flue_draft_Pa [Pa]: theoretical (properties.stack.stack_draft_Pa), at the warmest outdoor temperature in use
            and, for start-up, with a cold flue. flue_loss_Pa [Pa]: friction and fittings of the flue.
    Returns: FlueSpillage. A calculation is no proof: a draft switch, and a test with all fans on, are.
    Raises: OutOfRange; InputError for another kind.
    Source: room-pressure-practice.
    """
    require_range("depressurisation_Pa", depressurisation_Pa, 0.0, 1000.0)
    require_range("flue_loss_Pa", flue_loss_Pa, 0.0, None)
    if kind == "sealed":
        return FlueSpillage(depressurisation_Pa, None, None, False, ())
    if kind != "natural draft":
        raise InputError("room air", "kind", f"{kind!r} is not known", "natural draft, sealed")
    require_range("flue_draft_Pa", flue_draft_Pa, -100.0, 1000.0, "a vertical flue")
    net_Pa = flue_draft_Pa - flue_loss_Pa
    limit_Pa = min(NATURAL_DRAFT_LIMIT_Pa, net_Pa)
    spills = depressurisation_Pa >= limit_Pa
    warnings = []
    if net_Pa <= 0.0:
        warnings.append("The flue has no draft of its own left: it spills without any fan. Power vent or sealed unit.")
    elif spills:
        warnings.append(
            f"The room stands {depressurisation_Pa:.1f} Pa below outdoors, a natural-draft flue bears {limit_Pa:.1f}:"
            " it spills flue gas into the room. Bring in make-up air, interlocked with the blower, or use sealed"
            " combustion."
        )
    return FlueSpillage(depressurisation_Pa, limit_Pa, limit_Pa - depressurisation_Pa, spills, tuple(warnings))


@sourced("duct-roughness", "absolute roughness by material")
def duct_roughness_m(material: str) -> float:
    """Absolute roughness of a duct.

    Args: material: "PVC", "stainless steel", "galvanized steel", "fibreglass" (lined inside, rough).
    Returns: roughness [m].
    Raises: InputError naming the materials, for any other.
    Source: duct-roughness.
    """
    if material not in _ROUGHNESS_m:
        raise InputError("exhaust duct", "material", f"{material!r} is not known", ", ".join(_ROUGHNESS_m))
    return _ROUGHNESS_m[material]


@sourced("hydraulic-diameter", "four times area over perimeter")
def rectangular_duct_diameter_m(width_m: float, height_m: float) -> float:
    """Hydraulic diameter of a rectangular duct, to be used with its true area.

    Equation: D = 4 A / perimeter = 2 a b / (a + b).
    Args: width_m, height_m [m]: 0.02 to 5.
    Returns: hydraulic diameter [m].
    Raises: OutOfRange.
    Source: hydraulic-diameter.
    """
    require_range("width_m", width_m, 0.02, 5.0, "ducts")
    require_range("height_m", height_m, 0.02, 5.0, "ducts")
    return 2.0 * width_m * height_m / (width_m + height_m)


@sourced("darcy-weisbach-heads", "friction and fittings in velocity heads")
@sourced("colebrook-white", "friction factor of the duct")
def exhaust_duct(
    *,
    dry_air_kg_s: float,
    temperature_K: float,
    humidity_ratio_kg_kg: float,
    pressure_Pa: float,
    area_m2: float,
    hydraulic_diameter_m: float,
    length_m: float,
    roughness_m: float,
    fittings_loss_coefficient: float,
) -> ExhaustDuct:
    """Velocity and pressure loss of the exhaust duct.

    Equation: dp = (f L / D + K) rho v^2 / 2.
    Args:
        dry_air_kg_s [kg/s]: above 0. temperature_K [K], humidity_ratio_kg_kg [kg/kg], pressure_Pa [Pa]: of the exhaust,
            as in moist_air.
        area_m2 [m2], hydraulic_diameter_m [m]: of the cross-section; round: pi D^2/4 and D.
        length_m [m]: 0 to 200. roughness_m [m]: duct_roughness_m.
        fittings_loss_coefficient [-]: of elbows, cap and discharge together, in velocity heads; an open end is 1.
    Returns: ExhaustDuct; loss counts the velocity pressure lost at the end only as far as K does.
    Raises: OutOfRange.
    Source: darcy-weisbach-heads, colebrook-white.
    """
    require_range("dry_air_kg_s", dry_air_kg_s, 1.0e-6, None)
    require_range("area_m2", area_m2, 1.0e-4, 20.0, "ducts")
    widest_m = 2.0 * math.sqrt(area_m2 / math.pi) * (1.0 + 1e-4)
    require_range(
        "hydraulic_diameter_m", hydraulic_diameter_m, 0.01, widest_m, "a round duct of that area has the most"
    )
    require_range("length_m", length_m, 0.0, 200.0, "exhaust ducts")
    require_range("roughness_m", roughness_m, 0.0, 0.05 * hydraulic_diameter_m, "0.05 of the diameter")
    require_range("fittings_loss_coefficient", fittings_loss_coefficient, 0.0, 100.0)
    volume_m3_kg = specific_volume_m3_kg(temperature_K, humidity_ratio_kg_kg, pressure_Pa)
    density = density_kg_m3(temperature_K, humidity_ratio_kg_kg, pressure_Pa)
    velocity_m_s = dry_air_kg_s * volume_m3_kg / area_m2
    vapour_fraction = humidity_ratio_kg_kg / (MOLAR_MASS_RATIO + humidity_ratio_kg_kg)
    viscosity_Pa_s = moist_air_viscosity_Pa_s(temperature_K, vapour_fraction)
    reynolds_number = density * velocity_m_s * hydraulic_diameter_m / viscosity_Pa_s
    factor = friction_factor(reynolds_number, roughness_m / hydraulic_diameter_m)
    head_Pa = 0.5 * density * velocity_m_s * velocity_m_s
    friction_Pa = factor * length_m / hydraulic_diameter_m * head_Pa
    fittings_Pa = fittings_loss_coefficient * head_Pa
    warnings: tuple[str, ...] = ()
    if velocity_m_s > HIGHEST_USUAL_DUCT_VELOCITY_m_s:
        warnings = (
            f"{velocity_m_s:.1f} m/s in a wet duct, above the usual {HIGHEST_USUAL_DUCT_VELOCITY_m_s:.1f}: the air"
            " drags the condensate along and spits it out of the end. A wider duct.",
        )
    return ExhaustDuct(
        velocity_m_s=velocity_m_s,
        velocity_pressure_Pa=head_Pa,
        reynolds_number=reynolds_number,
        friction_factor=factor,
        friction_Pa=friction_Pa,
        fittings_Pa=fittings_Pa,
        loss_Pa=friction_Pa + fittings_Pa,
        warnings=warnings,
    )


@sourced("saturated-duct-cooling", "heat loss against enthalpy of saturated air and condensate")
@sourced("duct-drain-practice", "notes on pitch, drains and freezing")
def duct_condensate(
    *,
    dry_air_kg_s: float,
    inlet_temperature_K: float,
    pressure_Pa: float,
    wall_area_m2: float,
    overall_coefficient_W_m2K: float,
    surrounding_temperature_K: float,
) -> DuctCondensate:
    """Water that saturated exhaust leaves in its duct as it cools.

    Equation: m [h_s(T_in) - h_s(T_out) - (W_s(T_in) - W_s(T_out)) h_liquid(T_out)] = U A x logarithmic mean of the
        differences to the surroundings; condensate = m [W_s(T_in) - W_s(T_out)]. The air stays saturated, without mist;
        the logarithmic mean is exact for small cooling; at 6 K condensate is 1 % low, at 18 K 3 %, at 40 K 6 %.
    Args:
        dry_air_kg_s [kg/s]: above 0. inlet_temperature_K [K]: saturated, 283.15 to 363.15. pressure_Pa [Pa]: 60e3 to
            110e3.
        wall_area_m2 [m2]: of the duct, 0.01 to 1000.
        overall_coefficient_W_m2K [W/(m2 K)]: 0.1 to 50; bare sheet metal indoors about 6 to 10, outdoors in wind to 25,
            under 25 mm of insulation about 1.2.
        surrounding_temperature_K [K]: 233.15 to 0.5 K below the inlet.
    Returns: DuctCondensate.
    Raises: OutOfRange, also where the exhaust would cool below 0.5 degC; NotConverged.
    Source: saturated-duct-cooling, duct-drain-practice.
    """
    require_range("dry_air_kg_s", dry_air_kg_s, 1.0e-6, None)
    require_range("inlet_temperature_K", inlet_temperature_K, 283.15, 363.15, "saturated exhaust")
    require_range("wall_area_m2", wall_area_m2, 0.01, 1000.0, "ducts")
    require_range("overall_coefficient_W_m2K", overall_coefficient_W_m2K, 0.1, 50.0, "duct walls")
    warmest_K = inlet_temperature_K - 0.5
    require_range("surrounding_temperature_K", surrounding_temperature_K, 233.15, warmest_K, "colder than the exhaust")
    inlet_W = saturation_humidity_ratio_kg_kg(inlet_temperature_K, pressure_Pa)
    inlet_h = enthalpy_J_kg(inlet_temperature_K, inlet_W, pressure_Pa)
    inlet_K = inlet_temperature_K - surrounding_temperature_K
    conductance_W_K = overall_coefficient_W_m2K * wall_area_m2

    def given_up_W(outlet_K: float) -> float:
        humidity = saturation_humidity_ratio_kg_kg(outlet_K, pressure_Pa)
        liquid_J_kg = (inlet_W - humidity) * liquid_enthalpy_J_kg(outlet_K)
        return dry_air_kg_s * (inlet_h - enthalpy_J_kg(outlet_K, humidity, pressure_Pa) - liquid_J_kg)

    def lost_W(outlet_K: float) -> float:
        difference_K = outlet_K - surrounding_temperature_K
        drop_K = inlet_K - difference_K
        if drop_K < 1.0e-6 * inlet_K:
            return conductance_W_K * inlet_K
        return conductance_W_K * drop_K / math.log(inlet_K / difference_K)

    coldest_K = max(273.65, surrounding_temperature_K + 1.0e-6 * inlet_K)
    if given_up_W(coldest_K) < lost_W(coldest_K):
        reason = "the exhaust would cool below 0.5 degC or to its surroundings: insulate or shorten the duct"
        raise OutOfRange("wall_area_m2", wall_area_m2, 0.01, None, reason)
    outlet_K = find_root(
        lambda temperature_K: given_up_W(temperature_K) - lost_W(temperature_K),
        coldest_K,
        inlet_temperature_K,
        tolerance=1.0e-7,
        name="temperature at the end of the exhaust duct, K",
    )
    notes = [
        "Pitch the duct back to the unit or to a drain at every low point, each with a water seal deeper than the"
        " pressure in the duct; joints lapped so that water runs inside.",
    ]
    if surrounding_temperature_K < 273.15:
        notes.append("The surroundings are below freezing: insulate, trace the drains, keep the end clear of ice.")
    return DuctCondensate(
        outlet_temperature_K=outlet_K,
        heat_loss_W=lost_W(outlet_K),
        condensate_kg_s=dry_air_kg_s * (inlet_W - saturation_humidity_ratio_kg_kg(outlet_K, pressure_Pa)),
        notes=tuple(notes),
    )


@sourced("intake-separation-code", "10 ft apart, or the intake 3 ft below the discharge")
def intake_separation(*, horizontal_distance_m: float, discharge_above_intake_m: float) -> IntakeSeparation:
    """Whether an outdoor air intake is far enough from the exhaust's discharge.

    Equation: at least 10 ft horizontally, or nearer with the discharge at least 3 ft above the intake.
    Args: horizontal_distance_m [m]: not negative; discharge_above_intake_m [m]: negative where it is below.
    Returns: IntakeSeparation. The rule keeps fumes out of buildings; a wet plume in the wrong wind still finds the
        blower's inlet: discharge up, above roof and parapet, downwind of the inlet.
    Raises: OutOfRange.
    Source: intake-separation-code; the local mechanical code and the permit decide.
    """
    require_range("horizontal_distance_m", horizontal_distance_m, 0.0, None)
    require_range("discharge_above_intake_m", discharge_above_intake_m, -500.0, 500.0)
    far = horizontal_distance_m >= INTAKE_DISTANCE_m
    above = discharge_above_intake_m >= DISCHARGE_ABOVE_INTAKE_m
    warnings = []
    if not (far or above):
        warnings.append(
            f"The intake is {horizontal_distance_m:.1f} m from the discharge and {discharge_above_intake_m:.1f} m below"
            f" it: the model code asks for {INTAKE_DISTANCE_m:.2f} m, or {DISCHARGE_ABOVE_INTAKE_m:.2f} m below."
        )
    return IntakeSeparation(far or above, INTAKE_DISTANCE_m, DISCHARGE_ABOVE_INTAKE_m, tuple(warnings))
