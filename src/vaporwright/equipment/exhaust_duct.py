"""The exhaust duct: its loss, what condenses in it, and how far its end must be from an intake.

The exhaust is hot, wet and carries what the liquor gives off. These are sizes for a connection sheet; the local
mechanical code, the permit and the site decide.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from vaporwright.equipment.pipe_run import friction_factor
from vaporwright.foundation.constants import MOLAR_MASS_RATIO, ZERO_CELSIUS_K
from vaporwright.foundation.errors import InputError, OutOfRange, require_range
from vaporwright.foundation.notice import Notice
from vaporwright.foundation.register import sourced
from vaporwright.foundation.solvers import find_root
from vaporwright.properties.air_transport import moist_air_viscosity_Pa_s
from vaporwright.properties.moist_air import (
    density_kg_m3,
    enthalpy_J_kg,
    saturation_humidity_ratio_kg_kg,
    specific_volume_m3_kg,
)
from vaporwright.properties.water import liquid_enthalpy_J_kg

INTAKE_DISTANCE_m: Final = 3.048  # 10 ft
DISCHARGE_ABOVE_INTAKE_m: Final = 0.9144  # 3 ft
HIGHEST_USUAL_DUCT_VELOCITY_m_s: Final = 12.7  # 2,500 ft/min
_ROUGHNESS_m: Final = {
    "PVC": 3.0e-5,
    "stainless steel": 4.6e-5,
    "galvanized steel": 9.0e-5,
    "fibreglass": 9.0e-4,
}

EXHAUST_CAUTION: Final = (
    "Exhaust of an evaporator is hot, wet and may carry what the liquor gives off: discharge outdoors, away from"
    " people, intakes and walkways that ice over. Permits and local codes decide."
)
DUCT_DRAINS: Final = Notice(
    "exhaust duct drains",
    "Pitch the exhaust duct back to the unit or to a drain at every low point, each with a water seal deeper than the"
    " pressure in the duct; joints lapped so that water runs inside.",
)


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
    warnings: tuple[Notice, ...]
    caution: str = EXHAUST_CAUTION


@dataclass(frozen=True, slots=True)
class DuctCondensate:
    """Water that saturated exhaust leaves on the walls of its duct."""

    outlet_temperature_K: float
    heat_loss_W: float
    condensate_kg_s: float
    notes: tuple[Notice, ...]
    caution: str = EXHAUST_CAUTION


@dataclass(frozen=True, slots=True)
class IntakeSeparation:
    """An intake against a discharge."""

    is_apart: bool
    least_distance_m: float
    least_height_m: float  # of the discharge above the intake, where it is nearer than that
    warnings: tuple[Notice, ...]


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
    warnings: tuple[Notice, ...] = ()
    if velocity_m_s > HIGHEST_USUAL_DUCT_VELOCITY_m_s:
        warnings = (
            Notice(
                "fast wet duct",
                "{0} in a wet duct, above the usual {1}: the air drags the condensate along and spits it out of the"
                " end. A wider duct.",
                ((velocity_m_s, "velocity"), (HIGHEST_USUAL_DUCT_VELOCITY_m_s, "velocity")),
            ),
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
    notes: tuple[Notice, ...] = (DUCT_DRAINS,)
    if surrounding_temperature_K < ZERO_CELSIUS_K:
        freezes = Notice(
            "exhaust duct freezes",
            "The air around the exhaust duct is at {0}, below freezing: insulate, trace the drains, keep the end clear"
            " of ice.",
            ((surrounding_temperature_K, "temperature"),),
        )
        notes = (DUCT_DRAINS, freezes)
    return DuctCondensate(
        outlet_temperature_K=outlet_K,
        heat_loss_W=lost_W(outlet_K),
        condensate_kg_s=dry_air_kg_s * (inlet_W - saturation_humidity_ratio_kg_kg(outlet_K, pressure_Pa)),
        notes=notes,
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
    warnings: tuple[Notice, ...] = ()
    if not (far or above):
        warnings = (
            Notice(
                "intake near the exhaust",
                "The air intake is {0} from the exhaust's end, which stands {1} above it: the model code asks for {2},"
                " or an end at least {3} above a nearer intake.",
                (
                    (horizontal_distance_m, "length"),
                    (discharge_above_intake_m, "length"),
                    (INTAKE_DISTANCE_m, "length"),
                    (DISCHARGE_ABOVE_INTAKE_m, "length"),
                ),
            ),
        )
    return IntakeSeparation(far or above, INTAKE_DISTANCE_m, DISCHARGE_ABOVE_INTAKE_m, warnings)
