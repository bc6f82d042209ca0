"""A steam coil's pipe and its condensate: bore, the trap's load, what pushes the condensate out, what flashes off.

A coil under a throttling valve (modulated) gives less heat at a lower pressure: at part load it falls to atmospheric
pressure and below. Then nothing pushes the condensate but the column of its drain leg, and only if a vacuum breaker
lets air in. So a modulated coil drains by gravity and lifts nothing; a coil at constant pressure may lift.

Steam and condensate burn, and a flooded coil hammers pipes apart. These are sizes for a connection sheet: steam
piping is designed and built by licensed trades to the pressure piping code in force at the site.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

from vaporwright.foundation.constants import STANDARD_ATMOSPHERE_Pa, STANDARD_GRAVITY_m_s2
from vaporwright.foundation.errors import require_range
from vaporwright.foundation.notice import Notice
from vaporwright.foundation.register import sourced
from vaporwright.properties.steam import saturated_liquid, saturated_steam, saturated_water
from vaporwright.properties.water import saturation_pressure_Pa, saturation_temperature_K

LOWEST_PRESSURE_Pa: Final = 1.0e3
HIGHEST_PRESSURE_Pa: Final = 1.55e6  # 200 degC, as in steam_coil
COLD_CONDENSATE_kg_m3: Final = 1000.0  # stands in the riser after a stop
LEAST_USUAL_DRAIN_LEG_m: Final = 0.3048  # 12 in
USUAL_DRAIN_LEG_m: Final = 0.3556  # 14 in: 1/2 psi
USUAL_BREAKER_CRACKING_Pa: Final = 846.6  # 0.25 in of mercury
LEAST_USUAL_TRAP_FACTOR: Final = 2.0
STOCKED_PIPES_in: Final = (0.5, 0.75, 1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 6.0, 8.0, 10.0, 12.0)  # not 3 1/2, not 5

CONDENSATE_CAUTION: Final = (
    "Steam and condensate burn at once; water hammer breaks pipes and traps. Isolate with lock-out and drain before"
    " opening, warm up slowly, discharge vents where nobody stands. Steam piping and pressure parts are designed and"
    " built by licensed trades to the pressure piping code in force at the site."
)


@dataclass(frozen=True, slots=True)
class CondensateDrain:
    """How a coil's condensate leaves it."""

    trap_load_kg_s: float  # condensate at full load times the stated factor
    trap_difference_Pa: float  # on which the trap must pass that load; not positive: it does not drain
    drains_at_full_load: bool
    highest_lift_m: float  # at full load; below zero where not even a level line drains
    stalls_below_load: float | None  # share of full heat below which the coil floods; None: it never does
    atmospheric_below_load: (
        float | None
    )  # share of full heat below which the coil is under the site's pressure, without a
    # breaker; 1 where it is so even at full load, None where it never is
    flash_share: float  # of the condensate, at the return's pressure
    flash_steam_kg_s: float
    returned_liquid_kg_s: float
    warnings: tuple[Notice, ...]
    caution: str = CONDENSATE_CAUTION


class SteamPipe(NamedTuple):
    """A steel pipe of schedule 40 and the velocity of the steam in it."""

    nominal_in: float
    inner_diameter_m: float
    velocity_m_s: float


@sourced("iapws-r7-97", "specific volume of saturated steam")
@sourced("steam-velocity-tables", "velocity from flow, specific volume and bore")
def steam_velocity_m_s(*, steam_flow_kg_s: float, pressure_Pa: float, inner_diameter_m: float) -> float:
    """Mean velocity of dry saturated steam in a pipe.

    Equation: v = 4 m v_steam / (pi D^2).
    Args: steam_flow_kg_s [kg/s]: not negative; pressure_Pa [Pa]: absolute, 1e3 to 1.55e6; inner_diameter_m [m]: 0.005
        to 1.
    Returns: velocity [m/s].
    Raises: OutOfRange outside those ranges.
    Source: steam-velocity-tables.
    """
    require_range("steam_flow_kg_s", steam_flow_kg_s, 0.0, None)
    require_range("pressure_Pa", pressure_Pa, LOWEST_PRESSURE_Pa, HIGHEST_PRESSURE_Pa, "absolute")
    require_range("inner_diameter_m", inner_diameter_m, 0.005, 1.0)
    volume_m3_kg = saturated_steam(saturation_temperature_K(pressure_Pa)).specific_volume_m3_kg
    return steam_flow_kg_s * volume_m3_kg / (0.25 * math.pi * inner_diameter_m**2)


@sourced("pipe-dimensions", "bores of schedule 40")
@sourced("steam-velocity-tables", "smallest stocked pipe that keeps the velocity")
def steam_pipe_for_velocity(*, steam_flow_kg_s: float, pressure_Pa: float, highest_velocity_m_s: float) -> SteamPipe:
    """Smallest steel pipe of schedule 40 in which dry saturated steam is no faster than a velocity.

    Args: steam_flow_kg_s [kg/s]: above 0; pressure_Pa [Pa]: absolute, 1e3 to 1.55e6; highest_velocity_m_s [m/s]: 5 to
        80. Up to 25 psi gauge 20 to 30 m/s are common, above that 30 to 50; wet steam and noise ask for the lower end.
    Returns: SteamPipe, of the sizes that are usually stocked (1/2 to 12 in, without 3 1/2 and 5 in). A long line is
        sized by its pressure drop instead.
    Raises: OutOfRange outside those ranges or where 12 in is too small.
    Source: pipe-dimensions, steam-velocity-tables.
    """
    from fluids.piping import nearest_pipe

    require_range("highest_velocity_m_s", highest_velocity_m_s, 5.0, 80.0, "steam pipe")
    bores_m = [float(nearest_pipe(NPS=nominal_in, schedule="40")[1]) for nominal_in in STOCKED_PIPES_in]
    velocities_m_s = [
        steam_velocity_m_s(steam_flow_kg_s=steam_flow_kg_s, pressure_Pa=pressure_Pa, inner_diameter_m=bore_m)
        for bore_m in bores_m
    ]
    most_kg_s = steam_flow_kg_s * highest_velocity_m_s / velocities_m_s[-1] if velocities_m_s[-1] > 0.0 else None
    require_range(
        "steam_flow_kg_s", steam_flow_kg_s, 1e-9, most_kg_s, "12 in, the largest pipe listed, at that velocity"
    )
    pipes = zip(STOCKED_PIPES_in, bores_m, velocities_m_s, strict=True)
    return next(SteamPipe(*pipe) for pipe in pipes if pipe[2] <= highest_velocity_m_s * (1.0 + 1e-9))


@sourced("iapws-r7-97", "saturated enthalpies on both sides of the trap")
@sourced("flash-steam-balance", "share = (liquid before - liquid after) / latent heat after")
def flash_steam_share(pressure_before_Pa: float, pressure_after_Pa: float) -> float:
    """Share of saturated condensate that turns to steam as it passes a trap.

    Equation: x = (h_liquid,before - h_liquid,after) / latent heat,after; enthalpy stays the same.
    Args: pressure_before_Pa [Pa]: absolute, from pressure_after_Pa to 1.55e6; pressure_after_Pa [Pa]: absolute, from
        1e3. Condensate that cooled on the way flashes less.
    Returns: share by mass [-].
    Raises: OutOfRange outside those ranges.
    Source: flash-steam-balance.
    Example: 7 bar gauge to the open, 13.4 % in a handbook
        >>> print(f"{100 * flash_steam_share(801325.0, 101325.0):.1f}")
        13.4
    """
    require_range("pressure_after_Pa", pressure_after_Pa, LOWEST_PRESSURE_Pa, HIGHEST_PRESSURE_Pa, "absolute")
    require_range("pressure_before_Pa", pressure_before_Pa, pressure_after_Pa, HIGHEST_PRESSURE_Pa, "absolute")
    before = saturated_liquid(saturation_temperature_K(pressure_before_Pa))
    after = saturated_water(saturation_temperature_K(pressure_after_Pa))
    return (before.enthalpy_J_kg - after.liquid_enthalpy_J_kg) / after.latent_heat_J_kg


@sourced("hydrostatics", "height of a column of condensate")
def condensate_column_m(pressure_difference_Pa: float, temperature_K: float) -> float:
    """Height of saturated condensate that a pressure difference holds up: a lift, or a drain leg.

    Equation: H = dp / (rho g).
    Args: pressure_difference_Pa [Pa]: 0 to 1.55e6; temperature_K [K]: of the condensate, 273.16 to 473.15.
    Returns: height [m].
    Raises: OutOfRange outside those ranges.
    Source: hydrostatics.
    Example: 1 psi and cold water, 2.31 ft
        >>> print(f"{condensate_column_m(6894.757, 288.7) / 0.3048:.2f}")
        2.31
    """
    require_range("pressure_difference_Pa", pressure_difference_Pa, 0.0, HIGHEST_PRESSURE_Pa)
    require_range("temperature_K", temperature_K, 273.16, 473.15, "condensate")
    return pressure_difference_Pa * saturated_liquid(temperature_K).specific_volume_m3_kg / STANDARD_GRAVITY_m_s2


@sourced("modulated-coil-pressure", "steam temperature falls with the load toward the bath's")
def modulated_coil_pressure_Pa(
    *, load_share: float, full_load_coil_temperature_K: float, bath_temperature_K: float
) -> float:
    """Pressure in a coil whose valve throttles it to a share of its full heat.

    Equation: T_coil = T_bath + share (T_coil,full - T_bath), the overall coefficient kept; p = saturation pressure.
        Less heat goes with a somewhat smaller coefficient, so the true pressure is a little higher.
    Args: load_share [-]: 0 to 1; full_load_coil_temperature_K [K]: above the bath, to 473.15; bath_temperature_K [K]:
        273.16 to 373.15.
    Returns: absolute pressure [Pa], without a vacuum breaker.
    Raises: OutOfRange outside those ranges.
    Source: modulated-coil-pressure.
    """
    require_range("load_share", load_share, 0.0, 1.0)
    _require_coil(full_load_coil_temperature_K, bath_temperature_K)
    rise_K = load_share * (full_load_coil_temperature_K - bath_temperature_K)
    return saturation_pressure_Pa(bath_temperature_K + rise_K)


@sourced("modulated-coil-pressure", "load at which the coil's pressure meets a given one")
def load_share_at_pressure(
    *, pressure_Pa: float, full_load_coil_temperature_K: float, bath_temperature_K: float
) -> float:
    """Share of full heat at which a modulated coil stands at a pressure: modulated_coil_pressure_Pa turned around.

    Equation: (T_saturation(p) - T_bath) / (T_coil,full - T_bath).
    Args: pressure_Pa [Pa]: absolute, 1e3 to 1.55e6; the others as in modulated_coil_pressure_Pa.
    Returns: share [-]; above 1 where even full load is below that pressure, below 0 where the bath alone is above it.
    Raises: OutOfRange.
    Source: modulated-coil-pressure.
    """
    require_range("pressure_Pa", pressure_Pa, LOWEST_PRESSURE_Pa, HIGHEST_PRESSURE_Pa, "absolute")
    _require_coil(full_load_coil_temperature_K, bath_temperature_K)
    saturation_K = saturation_temperature_K(pressure_Pa)
    return (saturation_K - bath_temperature_K) / (full_load_coil_temperature_K - bath_temperature_K)


def _require_coil(coil_K: float, bath_K: float) -> None:
    require_range("bath_temperature_K", bath_K, 273.16, 373.15, "liquid water in an open tank")
    require_range("full_load_coil_temperature_K", coil_K, bath_K + 0.1, 473.15, "steam must be hotter than the bath")


def _piping_warnings(
    *, trap_factor: float, drain_leg_m: float, lift_m: float, modulated: bool, vacuum_breaker: bool
) -> list[Notice]:
    found = []
    if trap_factor < LEAST_USUAL_TRAP_FACTOR:
        text = "Trap factor {0} is below the usual 2 to 4: start-up brings far more condensate."
        found.append(Notice("small trap factor", text, ((trap_factor, "ratio"),)))
    if drain_leg_m < LEAST_USUAL_DRAIN_LEG_m:
        text = "The trap hangs {0} below the coil; {1} is the usual least, {2} push with {3}."
        push_Pa = COLD_CONDENSATE_kg_m3 * STANDARD_GRAVITY_m_s2 * USUAL_DRAIN_LEG_m
        legs = [(leg_m, "short length") for leg_m in (drain_leg_m, LEAST_USUAL_DRAIN_LEG_m, USUAL_DRAIN_LEG_m)]
        found.append(Notice("short drain leg", text, (*legs, (push_Pa, "pressure"))))
    if modulated and not vacuum_breaker:
        text = (
            "A modulated coil without a vacuum breaker falls below atmospheric pressure at part load and holds its"
            " condensate: fit one close to the coil's inlet, opening at no more than {0}."
        )
        found.append(Notice("no vacuum breaker", text, ((USUAL_BREAKER_CRACKING_Pa, "pressure"),)))
    if modulated and lift_m > 0.0:
        text = (
            "Condensate lift of {0} behind a modulated coil: at part load nothing lifts it."
            " Drain by gravity to a vented receiver and pump from there."
        )
        found.append(Notice("lift behind a modulated coil", text, ((lift_m, "length"),)))
    return found


def _flow_warnings(
    *, difference_Pa: float, drains_at_full: bool, stall: float | None, flash_share: float, returned: bool
) -> list[Notice]:
    found = []
    if not drains_at_full:
        text = "Even at full load the coil's pressure does not push the condensate out: it floods."
        found.append(Notice("coil floods at full load", text))
    elif stall is not None:
        text = "Below {0} of its full heat the coil floods, hammers and corrodes."
        found.append(Notice("coil floods at part load", text, ((stall, "fraction"),)))
    if difference_Pa <= 0.0 and drains_at_full:
        text = "No pressure difference is left for the trap at low load: it can't be sized as piped."
        found.append(Notice("no pressure left for the trap", text))
    if returned:
        text = (
            "A pinhole lets bath liquor into the condensate: send it to the boiler only past a conductivity monitor"
            " that dumps it, otherwise waste it or use it as make-up."
        )
        found.append(Notice("condensate returned", text))
    if flash_share > 0.0:
        text = "{0} of the condensate flashes to steam: vent the receiver to a safe place."
        found.append(Notice("flash steam", text, ((flash_share, "fraction"),)))
    return found


@sourced("trap-practice", "trap factor, drain leg, no lift on a modulated coil, vacuum breaker")
@sourced("hydrostatics", "drain leg and lift against coil and return pressure")
@sourced("modulated-coil-pressure", "load below which the coil no longer drains")
@sourced("flash-steam-balance", "flash at the return's pressure")
def condensate_drain(
    *,
    condensate_flow_kg_s: float,
    coil_pressure_Pa: float,
    bath_temperature_K: float,
    trap_factor: float,
    drain_leg_m: float,
    lift_m: float = 0.0,
    return_gauge_pressure_Pa: float = 0.0,
    modulated: bool = True,
    vacuum_breaker: bool = True,
    breaker_cracking_Pa: float = USUAL_BREAKER_CRACKING_Pa,
    returned: bool = False,
    site_pressure_Pa: float = STANDARD_ATMOSPHERE_Pa,
) -> CondensateDrain:
    """The way of the condensate out of a coil: trap, drain leg, lift, stall and flash.

    Equation: difference over the trap = coil pressure + rho g leg - site - return - 1000 g lift. At full load with the
        coil's pressure, and (modulated) at low load with atmospheric pressure less the breaker's cracking pressure,
        for which the trap is sized. Without a breaker the coil goes down to the bath's saturation pressure. Stall is
        the load at which the difference is zero. Friction in the lines is left out.
    Args:
        condensate_flow_kg_s [kg/s]: at full load, above 0. coil_pressure_Pa [Pa]: absolute, then.
        bath_temperature_K [K]: 273.16 to 373.15, colder than the coil.
        trap_factor [-]: 1 to 10, as the shop or the trap's maker states it; 2 for float, 3 for bucket and
            thermostatic traps are common.
        drain_leg_m [m]: coil outlet down to the trap, 0 to 5. lift_m [m]: trap up to the return, 0 to 30.
        return_gauge_pressure_Pa [Pa gauge]: 0 where it is vented, to 1e6.
        modulated: a throttling valve; False for on/off or none. vacuum_breaker, breaker_cracking_Pa [Pa]: 0 to 5000.
        returned: the condensate goes back to the boiler. site_pressure_Pa [Pa]: 60e3 to 110e3.
    Returns: CondensateDrain. Density of the leg is that of the hottest condensate, of the lift that of cold water:
        both on the safe side.
    Raises: OutOfRange.
    Source: trap-practice, hydrostatics, modulated-coil-pressure, flash-steam-balance.
    """
    require_range("condensate_flow_kg_s", condensate_flow_kg_s, 1e-9, None)
    require_range("coil_pressure_Pa", coil_pressure_Pa, LOWEST_PRESSURE_Pa, HIGHEST_PRESSURE_Pa, "absolute")
    require_range("trap_factor", trap_factor, 1.0, 10.0, "trap load over condensate")
    require_range("drain_leg_m", drain_leg_m, 0.0, 5.0)
    require_range("lift_m", lift_m, 0.0, 30.0)
    require_range("return_gauge_pressure_Pa", return_gauge_pressure_Pa, 0.0, 1.0e6, "0 where it is vented")
    require_range("breaker_cracking_Pa", breaker_cracking_Pa, 0.0, 5.0e3, "vacuum breakers")
    require_range("site_pressure_Pa", site_pressure_Pa, 60.0e3, 110.0e3, "absolute")
    coil_K = saturation_temperature_K(coil_pressure_Pa)
    _require_coil(coil_K, bath_temperature_K)
    leg_Pa = STANDARD_GRAVITY_m_s2 * drain_leg_m / saturated_liquid(coil_K).specific_volume_m3_kg
    after_Pa = site_pressure_Pa + return_gauge_pressure_Pa
    level_Pa = coil_pressure_Pa + leg_Pa - after_Pa  # without lift
    lift_Pa = COLD_CONDENSATE_kg_m3 * STANDARD_GRAVITY_m_s2 * lift_m
    full_Pa = level_Pa - lift_Pa

    def share_at(pressure_Pa: float) -> float:
        return load_share_at_pressure(
            pressure_Pa=pressure_Pa, full_load_coil_temperature_K=coil_K, bath_temperature_K=bath_temperature_K
        )

    difference_Pa, stall, atmospheric = full_Pa, None, None
    if modulated:
        lowest_Pa = saturation_pressure_Pa(bath_temperature_K)
        if vacuum_breaker:
            lowest_Pa = max(lowest_Pa, min(site_pressure_Pa - breaker_cracking_Pa, coil_pressure_Pa))
        difference_Pa = full_Pa - (coil_pressure_Pa - lowest_Pa)
        if full_Pa > 0.0 >= difference_Pa:
            stall = share_at(coil_pressure_Pa - full_Pa)
        if saturation_temperature_K(site_pressure_Pa) > bath_temperature_K:
            atmospheric = min(share_at(site_pressure_Pa), 1.0)
    flash = flash_steam_share(coil_pressure_Pa, after_Pa) if coil_pressure_Pa > after_Pa else 0.0
    return CondensateDrain(
        trap_load_kg_s=trap_factor * condensate_flow_kg_s,
        trap_difference_Pa=difference_Pa,
        drains_at_full_load=full_Pa > 0.0,
        highest_lift_m=level_Pa / (COLD_CONDENSATE_kg_m3 * STANDARD_GRAVITY_m_s2),
        stalls_below_load=stall,
        atmospheric_below_load=atmospheric,
        flash_share=flash,
        flash_steam_kg_s=flash * condensate_flow_kg_s,
        returned_liquid_kg_s=(1.0 - flash) * condensate_flow_kg_s,
        warnings=(
            *_piping_warnings(
                trap_factor=trap_factor,
                drain_leg_m=drain_leg_m,
                lift_m=lift_m,
                modulated=modulated,
                vacuum_breaker=vacuum_breaker,
            ),
            *_flow_warnings(
                difference_Pa=difference_Pa,
                drains_at_full=full_Pa > 0.0,
                stall=stall,
                flash_share=flash,
                returned=returned,
            ),
        ),
    )
