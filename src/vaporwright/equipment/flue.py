"""A vertical flue: how its gas cools, the draft that leaves, what friction takes of it; and water in a cold fire tube.

A burner with a fan pushes its gas through the immersion tube: the flue's draft has only the flue to serve. A flue whose
draft does not cover its loss stands under pressure and leaks at every joint, and carbon monoxide kills without smell.
Dilution air of a draft hood or barometric damper is left out: it cools the flue and adds to its flow. Vents are sized,
approved and tested under the fuel gas code in force by a **licensed fitter**; where he differs from this module, he is
right.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

from vaporwright.equipment.pipe_run import friction_factor
from vaporwright.foundation.constants import MOLAR_MASS_WATER_kg_mol
from vaporwright.foundation.errors import InputError, require_range
from vaporwright.foundation.notice import Notice
from vaporwright.foundation.register import sourced
from vaporwright.properties.flue_gas import (
    Combustion,
    flue_dew_point_K,
    gas_density_kg_m3,
    gas_heat_capacity_J_molK,
    gas_polynomials,
)
from vaporwright.properties.flue_gas_transport import flue_gas_viscosity_Pa_s
from vaporwright.properties.stack import stack_draft_Pa
from vaporwright.properties.water import saturation_pressure_Pa

FlueWall = Literal["single-wall", "double-wall"]

# Common practice, no source: overall, 1.3 and 0.6 Btu/(h ft2 degF) on the inner area
_WALL_COEFFICIENT_W_m2K: Final = {"single-wall": 7.38, "double-wall": 3.41}
# Velocity heads. Elbow from memory of the chimney chapter of a heating handbook; an open end gives one head away.
ELBOW_LOSS_COEFFICIENT: Final = 0.75
DISCHARGE_LOSS_COEFFICIENT: Final = 1.0
# Common practice, no source: slower, the gas cools and wind turns it round; faster, it is noisy and loses its draft.
LEAST_FLUE_VELOCITY_m_s: Final = 1.5
MOST_FLUE_VELOCITY_m_s: Final = 9.0

NO_NET_DRAFT: Final = "no net draft"
CONDENSING_FLUE: Final = "condensing flue"
FLUE_VELOCITY: Final = "flue velocity"
_SIMPSON_STEPS: Final = 16

FLUE_CAUTION: Final = (
    "Flue gas holds carbon monoxide, which kills without smell, and the flue burns whoever touches it: clearances to"
    " what can burn, guards, draft and spillage are set and tested by a licensed fitter under the local code, with"
    " every fan in the building running. A cold flue has no draft until it is warm."
)
TUBE_CONDENSATE_CAUTION: Final = (
    "Condensate of flue gas is acid and hot: drain it through a trap that lets no flue gas out, neutralise it as the"
    " local code says, and wear eye and hand protection."
)


@dataclass(frozen=True, slots=True)
class Flue:
    """A round flue of one diameter, from its connection to its end."""

    inner_diameter_m: float
    height_m: float
    roughness_m: float
    elbows: int
    cap_loss_coefficient: float  # velocity heads, the open end's one head not counted
    wall: FlueWall

    def __post_init__(self) -> None:
        require_range("inner_diameter_m", self.inner_diameter_m, 0.03, 1.0, "flues of such units")
        require_range("height_m", self.height_m, 0.1, 100.0, "vertical flue")
        require_range("roughness_m", self.roughness_m, 0.0, 0.05 * self.inner_diameter_m, "0.05 of the diameter")
        require_range("elbows", self.elbows, 0, 20, "elbows of a flue")
        require_range("cap_loss_coefficient", self.cap_loss_coefficient, 0.0, 20.0, "caps, in velocity heads")

    @property
    def loss_coefficient(self) -> float:
        """Elbows, cap and discharge together, in velocity heads."""
        return self.elbows * ELBOW_LOSS_COEFFICIENT + self.cap_loss_coefficient + DISCHARGE_LOSS_COEFFICIENT


@dataclass(frozen=True, slots=True)
class FlueCooling:
    """Gas that loses heat along a flue."""

    mean_temperature_K: float  # over the length
    end_temperature_K: float
    heat_loss_W: float


@dataclass(frozen=True, slots=True)
class FlueRating:
    """A flue at one flow of gas and one outdoor temperature."""

    mean_temperature_K: float
    end_temperature_K: float
    dew_point_K: float
    velocity_m_s: float  # at the mean temperature
    reynolds_number: float
    friction_factor: float
    draft_Pa: float  # theoretical: buoyancy alone
    friction_Pa: float
    fittings_Pa: float
    loss_Pa: float
    net_draft_Pa: float
    notices: tuple[Notice, ...]
    caution: str = FLUE_CAUTION


@dataclass(frozen=True, slots=True)
class ColdStartCondensate:
    """Water that the flue gas may leave in a tube while the bath warms up."""

    highest_kg_s: float  # at the coldest wall
    amount_kg: float
    wet_time_s: float
    caution: str = TUBE_CONDENSATE_CAUTION


@sourced("flue-wall-practice", "overall coefficient, single and double wall")
def flue_wall_coefficient_W_m2K(wall: FlueWall) -> float:
    """Overall coefficient of heat loss of a metal flue on its inner area.

    Args: wall: "single-wall" (steel pipe) or "double-wall" (vent with an air space).
    Returns: coefficient [W/(m2 K)]; in still air, wind outdoors raises a single wall's.
    Raises: InputError for another wall.
    Source: flue-wall-practice.
    """
    if wall not in _WALL_COEFFICIENT_W_m2K:
        raise InputError("flue", "wall", f"{wall!r} is not known", ", ".join(_WALL_COEFFICIENT_W_m2K))
    return _WALL_COEFFICIENT_W_m2K[wall]


@sourced("flue-cooling", "exponential approach to the surroundings")
def flue_cooling(
    *,
    inlet_temperature_K: float,
    surrounding_temperature_K: float,
    capacity_flow_W_K: float,
    inner_diameter_m: float,
    length_m: float,
    coefficient_W_m2K: float,
) -> FlueCooling:
    """Temperature of gas along a flue that loses heat to its surroundings.

    Equation: N = U pi D L / (m cp); T_end = T_s + (T_in - T_s) exp(-N); mean = T_s + (T_in - T_s) (1 - exp(-N)) / N;
        one U and cp, no condensation (below the dew point the gas cools more slowly than stated).
    Args:
        inlet_temperature_K [K]: 250 to 1500. surrounding_temperature_K [K]: 220 to 330.
        capacity_flow_W_K [W/K]: mass flow times heat capacity, above 0.01.
        inner_diameter_m [m]: 0.03 to 1. length_m [m]: 0 to 200. coefficient_W_m2K [W/(m2 K)]: 0 to 50.
    Returns: FlueCooling.
    Raises: OutOfRange outside those ranges.
    Source: flue-cooling.
    """
    require_range("inlet_temperature_K", inlet_temperature_K, 250.0, 1500.0, "flue")
    require_range("surrounding_temperature_K", surrounding_temperature_K, 220.0, 330.0, "weather")
    require_range("capacity_flow_W_K", capacity_flow_W_K, 0.01, None, "gas must flow")
    require_range("inner_diameter_m", inner_diameter_m, 0.03, 1.0, "flues of such units")
    require_range("length_m", length_m, 0.0, 200.0, "flues")
    require_range("coefficient_W_m2K", coefficient_W_m2K, 0.0, 50.0, "flue walls")
    transfer_units = coefficient_W_m2K * math.pi * inner_diameter_m * length_m / capacity_flow_W_K
    above_K = inlet_temperature_K - surrounding_temperature_K
    lost_share = -math.expm1(-transfer_units)
    mean_share = lost_share / transfer_units if transfer_units > 0.0 else 1.0
    return FlueCooling(
        mean_temperature_K=surrounding_temperature_K + mean_share * above_K,
        end_temperature_K=inlet_temperature_K - lost_share * above_K,
        heat_loss_W=capacity_flow_W_K * lost_share * above_K,
    )


@sourced("darcy-weisbach-heads", "friction and fittings in velocity heads")
@sourced("colebrook-white", "friction factor of the flue")
@sourced("stack-buoyancy", "draft at the mean temperature")
@sourced("flue-cooling", "mean and end temperature")
@sourced("flue-practice", "losses of elbow and end, limits of velocity")
def vertical_flue(
    flue: Flue,
    *,
    combustion: Combustion,
    flow_kg_s: float,
    inlet_temperature_K: float,
    outdoor_temperature_K: float,
    pressure_Pa: float,
) -> FlueRating:
    """Draft, loss and cooling of a vertical flue, no dilution air.

    Equation: draft = g H (density outdoors - density at the flue's mean temperature); loss = (f H / D + K) rho v^2 / 2
        there too; net = draft - loss. The whole height is taken in outdoor air: a part inside a warm room cools less.
    Args:
        combustion: the flue gas. flow_kg_s [kg/s]: of it, 1e-4 to 10.
        inlet_temperature_K [K]: at the connection, 273.15 to 1200. outdoor_temperature_K [K]: 220 to 330.
        pressure_Pa [Pa]: 50,000 to 110,000.
    Returns: FlueRating; notices where no draft is left, where gas leaves below its dew point, and on velocity.
    Raises: OutOfRange outside those ranges.
    Source: stack-buoyancy, darcy-weisbach-heads, colebrook-white, flue-cooling, flue-practice. A flue is approved by
        the local code and its fitter, not by this number; wind is not in it.
    """
    require_range("flow_kg_s", flow_kg_s, 1.0e-4, 10.0, "flue gas of one unit")
    require_range("inlet_temperature_K", inlet_temperature_K, 273.15, 1200.0, "flue")
    require_range("outdoor_temperature_K", outdoor_temperature_K, 220.0, 330.0, "weather")
    fractions, molar_mass = combustion.flue_mole_fractions, combustion.flue_molar_mass_kg_mol
    heat_capacity_J_kgK = gas_heat_capacity_J_molK(inlet_temperature_K, gas_polynomials(fractions)) / molar_mass
    cooling = flue_cooling(
        inlet_temperature_K=inlet_temperature_K,
        surrounding_temperature_K=outdoor_temperature_K,
        capacity_flow_W_K=flow_kg_s * heat_capacity_J_kgK,
        inner_diameter_m=flue.inner_diameter_m,
        length_m=flue.height_m,
        coefficient_W_m2K=flue_wall_coefficient_W_m2K(flue.wall),
    )
    mean_K = cooling.mean_temperature_K
    draft_Pa = stack_draft_Pa(
        combustion,
        height_m=flue.height_m,
        mean_flue_temperature_K=mean_K,
        outdoor_temperature_K=outdoor_temperature_K,
        pressure_Pa=pressure_Pa,
    )
    density = gas_density_kg_m3(molar_mass, mean_K, pressure_Pa)
    velocity_m_s = flow_kg_s / density / (0.25 * math.pi * flue.inner_diameter_m**2)
    reynolds = density * velocity_m_s * flue.inner_diameter_m / flue_gas_viscosity_Pa_s(fractions, mean_K)
    factor = friction_factor(reynolds, flue.roughness_m / flue.inner_diameter_m)
    head_Pa = 0.5 * density * velocity_m_s**2
    friction_Pa = factor * flue.height_m / flue.inner_diameter_m * head_Pa
    fittings_Pa = flue.loss_coefficient * head_Pa
    loss_Pa = friction_Pa + fittings_Pa
    dew_K = flue_dew_point_K(combustion, pressure_Pa)
    return FlueRating(
        mean_temperature_K=mean_K,
        end_temperature_K=cooling.end_temperature_K,
        dew_point_K=dew_K,
        velocity_m_s=velocity_m_s,
        reynolds_number=reynolds,
        friction_factor=factor,
        draft_Pa=draft_Pa,
        friction_Pa=friction_Pa,
        fittings_Pa=fittings_Pa,
        loss_Pa=loss_Pa,
        net_draft_Pa=draft_Pa - loss_Pa,
        notices=_flue_notices(draft_Pa, loss_Pa, cooling.end_temperature_K, dew_K, velocity_m_s),
    )


def _flue_notices(
    draft_Pa: float, loss_Pa: float, end_K: float, dew_K: float, velocity_m_s: float
) -> tuple[Notice, ...]:
    checks = (
        (
            draft_Pa <= loss_Pa,
            NO_NET_DRAFT,
            "The flue's draft of {0} does not cover its loss of {1}: it stands under pressure and leaks flue gas at its"
            " joints and into the room. A wider or taller flue with fewer elbows, or a power vent.",
            ((draft_Pa, "pressure"), (loss_Pa, "pressure")),
        ),
        (
            end_K < dew_K,
            CONDENSING_FLUE,
            "Flue gas leaves the flue at {0}, below its dew point of {1}: the flue runs wet and corrodes. A metal for"
            " acid water, pitch and a drain, or an insulated flue.",
            ((end_K, "temperature"), (dew_K, "temperature")),
        ),
        (
            velocity_m_s > MOST_FLUE_VELOCITY_m_s,
            FLUE_VELOCITY,
            "Flue gas at {0} is faster than the usual {1}: noise, and friction that eats the draft. A wider flue.",
            ((velocity_m_s, "velocity"), (MOST_FLUE_VELOCITY_m_s, "velocity")),
        ),
        (
            velocity_m_s < LEAST_FLUE_VELOCITY_m_s,
            FLUE_VELOCITY,
            "Flue gas at {0} is slower than the usual {1}: it cools, condenses, and wind turns it round. A narrower"
            " flue.",
            ((velocity_m_s, "velocity"), (LEAST_FLUE_VELOCITY_m_s, "velocity")),
        ),
    )
    return tuple(Notice(name, text, figures) for present, name, text, figures in checks if present)


@sourced("tube-condensate", "vapour of the flue gas less saturation at the wall")
def tube_condensate_kg_s(
    combustion: Combustion, *, fuel_flow_mol_s: float, wall_temperature_K: float, pressure_Pa: float
) -> float:
    """Most water that flue gas can leave on a cold wall.

    Equation: fuel flow x dry flue gas x [y/(1-y) - ps/(p-ps)] x molar mass of water, y the flue's mole fraction of
        water, ps saturation at the wall; zero from the dew point up. As if all of the gas came to the wall's
        temperature: gas that leaves a tube hot has touched the wall only in part, so the true rate is lower.
    Args: fuel_flow_mol_s [mol/s]: not negative. wall_temperature_K [K]: 273.15 to 600. pressure_Pa [Pa]: 50e3 to 110e3.
    Returns: rate [kg/s].
    Raises: OutOfRange outside those ranges.
    Source: tube-condensate.
    """
    require_range("fuel_flow_mol_s", fuel_flow_mol_s, 0.0, None, "fuel flow")
    require_range("wall_temperature_K", wall_temperature_K, 273.15, 600.0, "tube wall that does not freeze")
    if wall_temperature_K >= flue_dew_point_K(combustion, pressure_Pa):
        return 0.0
    saturation_Pa = saturation_pressure_Pa(wall_temperature_K)
    kept = combustion.dry_flue_mol_mol * saturation_Pa / (pressure_Pa - saturation_Pa)
    return fuel_flow_mol_s * (combustion.water_mol_mol - kept) * MOLAR_MASS_WATER_kg_mol


@sourced("tube-condensate", "integrated over a warm-up at an even rate")
def cold_start_condensate(
    combustion: Combustion,
    *,
    fuel_flow_mol_s: float,
    start_wall_K: float,
    end_wall_K: float,
    warm_up_s: float,
    pressure_Pa: float,
) -> ColdStartCondensate:
    """Most water in an immersion tube over a warm-up, until its wall passes the dew point.

    Equation: the integral of tube_condensate_kg_s over time, by Simpson's rule; the wall warms evenly.
    Args:
        fuel_flow_mol_s [mol/s], pressure_Pa [Pa]: as there.
        start_wall_K, end_wall_K [K]: of the tube's coldest wall, 273.15 to 600, end no colder than start.
        warm_up_s [s]: from start to end, 0 to 1e7.
    Returns: ColdStartCondensate; where the wall never passes the dew point, of the whole warm-up.
    Raises: OutOfRange outside those ranges.
    Source: tube-condensate.
    """
    require_range("warm_up_s", warm_up_s, 0.0, 1.0e7, "warm-up")
    require_range("end_wall_K", end_wall_K, start_wall_K, 600.0, "the wall warms up")

    def rate_kg_s(wall_K: float) -> float:
        return tube_condensate_kg_s(
            combustion, fuel_flow_mol_s=fuel_flow_mol_s, wall_temperature_K=wall_K, pressure_Pa=pressure_Pa
        )

    highest_kg_s = rate_kg_s(start_wall_K)
    if highest_kg_s == 0.0:
        return ColdStartCondensate(0.0, 0.0, 0.0)
    dry_K = min(end_wall_K, flue_dew_point_K(combustion, pressure_Pa))
    rise_K = end_wall_K - start_wall_K
    wet_s = warm_up_s * (dry_K - start_wall_K) / rise_K if rise_K > 0.0 else warm_up_s
    total = 0.0
    for step in range(_SIMPSON_STEPS + 1):
        weight = 1.0 if step in (0, _SIMPSON_STEPS) else (4.0 if step % 2 else 2.0)
        total += weight * rate_kg_s(start_wall_K + (dry_K - start_wall_K) * step / _SIMPSON_STEPS)
    return ColdStartCondensate(highest_kg_s, wet_s * total / (3.0 * _SIMPSON_STEPS), wet_s)
