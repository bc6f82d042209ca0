"""Electric immersion heater: power at the supply in hand, currents, subdivision, sheath temperature.

All power enters the bath: the sheath is immersed, losses of the terminal box are neglected. Electrics are
those of a constant resistance; the film around the sheath is Churchill and Chu's for a horizontal cylinder in
still water.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, NamedTuple

from vaporwright.foundation.constants import STANDARD_ATMOSPHERE_Pa
from vaporwright.foundation.errors import InputError, OutOfRange, require_range
from vaporwright.foundation.notice import Notice
from vaporwright.foundation.register import sourced
from vaporwright.foundation.solvers import find_root
from vaporwright.properties.water import saturation_temperature_K
from vaporwright.properties.water_films import immersed_cylinder_coefficient_W_m2K

CONTINUOUS_LOAD_FACTOR: Final = 1.25
CIRCUIT_CURRENT_LIMIT_A: Final = 48.0
WATT_PER_SQUARE_INCH_W_m2: Final = 1.0 / 0.0254**2
LOWEST_BATH_TEMPERATURE_K: Final = 273.16
HIGHEST_BATH_TEMPERATURE_K: Final = 373.15
HIGHEST_SURFACE_TEMPERATURE_K: Final = 523.15  # where the search ends; real surfaces boil long before
LOWEST_VOLTAGE_RATIO: Final = 0.4
HIGHEST_VOLTAGE_RATIO: Final = 1.1

# Highest of the usual range, by service, in W/in2
_HIGHEST_USUAL_WATT_DENSITY: Final = {"clean": 30.0, "scaling": 15.0, "fluoropolymer": 10.0}

_STANDARD_DEVICES_A: Final = (
    *(15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100, 110, 125, 150, 175, 200, 225, 250, 300, 350, 400),
    *(450, 500, 600, 700, 800, 1000, 1200, 1600, 2000, 2500, 3000, 4000, 5000, 6000),
)

ELECTRICAL_CAUTION: Final = (
    "Electricity in and around water kills: ground-fault protection on every heater circuit, bonded metal"
    " tank and sheath, a lockable disconnect in sight, lock-out before opening. A sheath out of the liquid"
    " glows and starts fires: independent low-level cut-off and sheath over-temperature device, both with"
    " manual reset. Circuits are to be designed and wired by a licensed electrician to the electrical code"
    " in force at the site."
)


@dataclass(frozen=True, slots=True)
class ElectricHeaterRating:
    """An electric immersion heater on a given supply in a given bath."""

    heat_W: float  # into the bath
    power_W: float  # from the supply
    line_current_A: float
    branch_rating_A: float  # 125 % of the line current
    circuits: int
    circuit_current_A: float
    circuit_branch_rating_A: float
    overcurrent_device_A: float  # of each circuit, the standard size at or above its rating
    watt_density_W_m2: float
    highest_usual_watt_density_W_m2: float
    film_coefficient_W_m2K: float
    surface_temperature_K: float  # where the water touches: scale or coating if there is one
    sheath_temperature_K: float
    warnings: tuple[Notice, ...]
    caution: str = ELECTRICAL_CAUTION


class _Sheath(NamedTuple):
    film_coefficient_W_m2K: float
    surface_temperature_K: float
    sheath_temperature_K: float


@sourced("watt-density-practice", "highest value of the usual range")
def highest_usual_watt_density_W_m2(service: str) -> float:
    """Highest watt density in common use.

    Args: service: "clean", "scaling" or "fluoropolymer" (a coated sheath, in any liquor).
    Returns: power per sheath area [W/m2].
    Raises: InputError naming the services, for any other.
    Source: watt-density-practice: 30, 15 and 10 W/in2.
    """
    if service not in _HIGHEST_USUAL_WATT_DENSITY:
        allowed = ", ".join(_HIGHEST_USUAL_WATT_DENSITY)
        raise InputError("electric heater", "service", f"{service!r} is not known", allowed)
    return _HIGHEST_USUAL_WATT_DENSITY[service] * WATT_PER_SQUARE_INCH_W_m2


@sourced("heater-branch-practice", "standard ratings of fuses and inverse-time breakers, 240.6")
def standard_overcurrent_device_A(least_A: float) -> float:
    """The smallest standard fuse or breaker that is not below a current.

    Args: least_A [A]: above zero, up to 6000.
    Returns: rating [A].
    Raises: OutOfRange above 6000 A.
    Source: heater-branch-practice.
    Example:
        >>> standard_overcurrent_device_A(54.12)
        60.0
    """
    require_range("least_A", least_A, 0.0, float(_STANDARD_DEVICES_A[-1]), "standard overcurrent devices")
    return float(next(size for size in _STANDARD_DEVICES_A if size >= least_A * (1.0 - 1e-9)))


def _require_supply(
    rated_power_W: float,
    rated_voltage_V: float,
    supply_voltage_V: float,
    phases: int,
    circuit_current_limit_A: float,
) -> None:
    require_range("rated_power_W", rated_power_W, 1.0, None)
    require_range("rated_voltage_V", rated_voltage_V, 1.0, 1000.0, "low-voltage equipment")
    lowest_V, highest_V = LOWEST_VOLTAGE_RATIO * rated_voltage_V, HIGHEST_VOLTAGE_RATIO * rated_voltage_V
    reason = "0.4 to 1.1 times the rated voltage; power goes with its square"
    require_range("supply_voltage_V", supply_voltage_V, lowest_V, highest_V, reason)
    if phases not in (1, 3):
        raise OutOfRange("phases", phases, None, None, "1 or 3")
    require_range("circuit_current_limit_A", circuit_current_limit_A, 1.0, None)


def _require_bath(
    bath_temperature_K: float,
    sheath_area_m2: float,
    fouling_resistance_m2K_W: float,
    coating_resistance_m2K_W: float,
) -> None:
    lowest_K, highest_K = LOWEST_BATH_TEMPERATURE_K, HIGHEST_BATH_TEMPERATURE_K
    require_range("bath_temperature_K", bath_temperature_K, lowest_K, highest_K, "liquid water in an open tank")
    require_range("sheath_area_m2", sheath_area_m2, 1e-4, None)
    require_range("fouling_resistance_m2K_W", fouling_resistance_m2K_W, 0.0, 0.1)
    require_range("coating_resistance_m2K_W", coating_resistance_m2K_W, 0.0, 0.1)


def _circuits(line_current_A: float, limit_A: float, element_count: int | None, phases: int) -> int:
    """The least number of equal circuits within the limit that the elements can be divided into."""
    least = max(1, math.ceil(line_current_A / limit_A - 1e-9))
    if element_count is None:
        return least
    groups, rest = divmod(element_count, phases)
    if rest or groups < 1:
        raise OutOfRange(
            "element_count",
            element_count,
            phases,
            None,
            f"on {phases} phase(s) it must be a multiple of {phases}",
        )
    if groups < least:
        reason = f"{least} circuits of at most {limit_A:g} A need at least one group of elements each"
        raise OutOfRange("element_count", element_count, least * phases, None, reason)
    return next(count for count in range(least, groups + 1) if groups % count == 0)


def _sheath(watt_density_W_m2: float, bath_temperature_K: float, diameter_m: float, layers_m2K_W: float) -> _Sheath:
    """Where natural convection carries the watt density off, and the sheath temperature below its layers."""

    def excess_flux(surface_temperature_K: float) -> float:
        film = immersed_cylinder_coefficient_W_m2K(surface_temperature_K, bath_temperature_K, diameter_m)
        return film * (surface_temperature_K - bath_temperature_K) - watt_density_W_m2

    highest_flux = excess_flux(HIGHEST_SURFACE_TEMPERATURE_K) + watt_density_W_m2
    reason = f"what still water carries off a surface at {HIGHEST_SURFACE_TEMPERATURE_K - 273.15:.0f} degC"
    require_range("watt_density_W_m2", watt_density_W_m2, 0.0, highest_flux, reason)
    surface = find_root(
        excess_flux,
        bath_temperature_K,
        HIGHEST_SURFACE_TEMPERATURE_K,
        tolerance=1e-7,
        name="surface_temperature_K",
    )
    film = immersed_cylinder_coefficient_W_m2K(surface, bath_temperature_K, diameter_m)
    return _Sheath(film, surface, surface + watt_density_W_m2 * layers_m2K_W)


def _warnings(
    rated_voltage_V: float,
    supply_voltage_V: float,
    watt_density_W_m2: float,
    highest_usual_W_m2: float,
    service: str,
    sheath: _Sheath,
    boiling_temperature_K: float,
) -> Iterator[Notice]:
    ratio = supply_voltage_V / rated_voltage_V
    voltages = ((supply_voltage_V, "voltage"), (rated_voltage_V, "voltage"))
    if ratio > 1.05:
        text = "The supply of {0} is {2} above the rated {1}: element life falls."
        yield Notice("supply above rated voltage", text, (*voltages, (ratio - 1.0, "fraction")))
    elif ratio < 0.95:
        text = "On a supply of {0} instead of {1} the heater gives {2} of its rated power."
        yield Notice("supply below rated voltage", text, (*voltages, (ratio**2, "fraction")))
    if watt_density_W_m2 > highest_usual_W_m2 * (1.0 + 1e-9):
        yield Notice(
            "high watt density",
            f"Watt density {{0}} is above the {{1}} usual for {service} service: hotter sheath, faster scaling, shorter"
            " life.",
            ((watt_density_W_m2, "watt density"), (highest_usual_W_m2, "watt density")),
        )
    if sheath.surface_temperature_K > boiling_temperature_K:
        yield Notice(
            "boiling on sheath",
            "The surface at {0} is above the boiling point ({1}): it boils there, scale bakes on, and the temperatures"
            " given (from natural convection alone) are upper limits.",
            ((sheath.surface_temperature_K, "temperature"), (boiling_temperature_K, "temperature")),
        )


@sourced("resistance-heater", "power by the square of the voltage; line current")
@sourced("heater-branch-practice", "125 % and subdivision")
@sourced("churchill-chu-1975", "film on the sheath")
def rate_electric_heater(
    *,
    rated_power_W: float,
    rated_voltage_V: float,
    supply_voltage_V: float,
    phases: int,
    sheath_area_m2: float,
    sheath_diameter_m: float,
    bath_temperature_K: float,
    element_count: int | None = None,
    circuit_current_limit_A: float = CIRCUIT_CURRENT_LIMIT_A,
    service: str = "clean",
    fouling_resistance_m2K_W: float = 0.0,
    coating_resistance_m2K_W: float = 0.0,
    site_pressure_Pa: float = STANDARD_ATMOSPHERE_Pa,
) -> ElectricHeaterRating:
    """Rate an electric immersion heater: heat, currents, circuits, watt density, sheath temperature.

    Equation: P = P_rated (V / V_rated)^2; I = P / V or P / (sqrt(3) V); surface from q = h(T) (T - T_bath);
        sheath = surface + q (fouling + coating).
    Args:
        rated_power_W [W], rated_voltage_V, supply_voltage_V [V]: supply 0.4 to 1.1 times rated; line to line.
        phases: 1 or 3, balanced.
        sheath_area_m2, sheath_diameter_m: heated area in the bath, diameter of one element.
        bath_temperature_K [K]: 273.16 to 373.15.
        element_count: number of equal elements, to divide into circuits; None where it is not known.
        circuit_current_limit_A [A]: 48 is the usual subdivision of resistance elements.
        service: "clean", "scaling" or "fluoropolymer", for the watt density in common use.
        fouling_resistance_m2K_W, coating_resistance_m2K_W [m2 K/W]: layers over the sheath.
        site_pressure_Pa [Pa]: for the boiling point.
    Returns: ElectricHeaterRating. Heat equals power: the sheath is immersed, terminal losses are neglected.
    Raises: OutOfRange; InputError for an unknown service.
    Source: resistance-heater, heater-branch-practice, churchill-chu-1975.
    """
    _require_supply(rated_power_W, rated_voltage_V, supply_voltage_V, phases, circuit_current_limit_A)
    _require_bath(bath_temperature_K, sheath_area_m2, fouling_resistance_m2K_W, coating_resistance_m2K_W)
    highest_usual = highest_usual_watt_density_W_m2(service)

    power_W = rated_power_W * (supply_voltage_V / rated_voltage_V) ** 2
    line_current_A = power_W / (supply_voltage_V * (math.sqrt(3.0) if phases == 3 else 1.0))
    circuits = _circuits(line_current_A, circuit_current_limit_A, element_count, phases)
    circuit_current_A = line_current_A / circuits
    circuit_branch_rating_A = CONTINUOUS_LOAD_FACTOR * circuit_current_A
    watt_density_W_m2 = power_W / sheath_area_m2
    layers_m2K_W = fouling_resistance_m2K_W + coating_resistance_m2K_W
    sheath = _sheath(watt_density_W_m2, bath_temperature_K, sheath_diameter_m, layers_m2K_W)
    return ElectricHeaterRating(
        heat_W=power_W,
        power_W=power_W,
        line_current_A=line_current_A,
        branch_rating_A=CONTINUOUS_LOAD_FACTOR * line_current_A,
        circuits=circuits,
        circuit_current_A=circuit_current_A,
        circuit_branch_rating_A=circuit_branch_rating_A,
        overcurrent_device_A=standard_overcurrent_device_A(circuit_branch_rating_A),
        watt_density_W_m2=watt_density_W_m2,
        highest_usual_watt_density_W_m2=highest_usual,
        film_coefficient_W_m2K=sheath.film_coefficient_W_m2K,
        surface_temperature_K=sheath.surface_temperature_K,
        sheath_temperature_K=sheath.sheath_temperature_K,
        warnings=tuple(
            _warnings(
                rated_voltage_V,
                supply_voltage_V,
                watt_density_W_m2,
                highest_usual,
                service,
                sheath,
                saturation_temperature_K(site_pressure_Pa),
            )
        ),
    )
