"""At which temperatures the control of a unit acts, each with its reason.

From low to high, each step with room over the one below:

    set point          the clamp of tower and tank, or lower where what follows would not fit under the plastic
    deviation alarm    over it by differential + overshoot + thermometer error at least: less, and it nuisances
    high limit         of the hard-wired device: over the clamp, never over the plastic
    plastic's limit    the lowest limit of any part that hot liquor touches
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from vaporwright.foundation.errors import OutOfRange, require_range
from vaporwright.foundation.register import sourced
from vaporwright.properties.water import liquid_heat_capacity_J_kgK
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.assembly import WATER_DENSITY_kg_m3, temperature_limits_K
from vaporwright.unit.figures import Figure, Input, Section
from vaporwright.unit.plant_design import THERMOMETER_LAG_s

_F: Final = 1.0 / 1.8  # one degree Fahrenheit as a difference in kelvin
DEVIATIONS_difference_K: Final = (4.0 * _F, 8.0 * _F)
MOST_DEVIATION_difference_K: Final = 16.0 * _F
DEVIATION_STEP_difference_K: Final = 0.5 * _F
HIGH_LIMITS_difference_K: Final = (8.0 * _F, 10.0 * _F)
ALARM_UNDER_HIGH_LIMIT_difference_K: Final = 2.0 * _F  # so that the alarm comes before the device trips
DIFFERENTIALS_difference_K: Final = (0.5 * _F, 5.0 * _F)
THERMOMETER_ERRORS_difference_K: Final = (0.2 * _F, 3.0 * _F)
HEATER_LAG_s: Final = 25.0  # a quarter inch of steel behind a film of 1000 W/m2K
PLASTIC_HYSTERESIS_difference_K: Final = 4.0 * _F
DEVIATION_HYSTERESIS_difference_K: Final = 1.0 * _F
_PRACTICE: Final = "common practice, no source"


@dataclass(frozen=True)
class TemperatureChoices:
    """What a shop may choose of the temperatures; None leaves it to the unit."""

    set_point_K: float | None = None
    differential_difference_K: float = 2.0 * _F  # of the heat: on again this far under the set point
    deviation_difference_K: float | None = None
    high_limit_difference_K: float = 9.0 * _F
    thermometer_error_difference_K: float = 1.0 * _F  # between the control's and another's


@dataclass(frozen=True)
class SetPoints:
    """The temperatures in use, with what they were worked out from."""

    set_point_K: float
    differential_difference_K: float
    deviation_alarm_K: float
    high_limit_K: float
    plastic_limit_K: float
    plastic_part: str
    clamp_K: float
    clamp_part: str
    overshoot_difference_K: float
    thermometer_error_difference_K: float

    @property
    def least_deviation_difference_K(self) -> float:
        """What the deviation alarm must stand over the set point at least."""
        return self.differential_difference_K + self.overshoot_difference_K + self.thermometer_error_difference_K

    @property
    def lowered(self) -> bool:
        """The set point is under the clamp, to make room under the plastic."""
        return self.set_point_K < self.clamp_K


@sourced("controls-practice", "heat that is under way when the control sees the set point, over the tank's capacity")
def overshoot_difference_K(*, heat_W: float, liquor_kg: float, temperature_K: float) -> float:
    """How far the tank goes past its set point: full heat for the lags of thermometer and heater, nothing cooling.

    Args: heat_W [W]: into the bath; liquor_kg [kg]: at working level, as water; temperature_K [K].
    Returns: rise [K]; an upper bound, as a tower that runs takes most of that heat.
    """
    require_range("heat_W", heat_W, 0.0, 1.0e7, "heat sources of such units")
    require_range("liquor_kg", liquor_kg, 10.0, 1.0e5, "tanks of such units")
    return heat_W * (THERMOMETER_LAG_s + HEATER_LAG_s) / (liquor_kg * liquid_heat_capacity_J_kgK(temperature_K))


@sourced("controls-practice", "deviation alarm, high limit, plastic")
def set_points_of(answer: UnitAnswer, choices: TemperatureChoices | None = None) -> SetPoints:
    """The temperatures of a unit.

    Raises: OutOfRange that names the temperature, what it is and what it may be.
    """
    chosen = choices or TemperatureChoices()
    _require_choices(chosen)
    result, tank = answer.seasons[answer.governing], answer.unit.tank
    clamp_K, clamp_part = result.clamp_K, result.clamp_part
    liquor_kg = tank.length_m * tank.width_m * tank.working_depth_m * WATER_DENSITY_kg_m3
    overshoot = overshoot_difference_K(heat_W=result.heat.heat_W, liquor_kg=liquor_kg, temperature_K=clamp_K)
    needed = chosen.differential_difference_K + overshoot + chosen.thermometer_error_difference_K
    deviation = _deviation_difference_K(chosen.deviation_difference_K, needed)
    plastic_part, plastic_K = min(temperature_limits_K(answer.unit), key=lambda limit: limit[1])
    highest_K = min(clamp_K, plastic_K - deviation - ALARM_UNDER_HIGH_LIMIT_difference_K)
    set_point_K = highest_K if chosen.set_point_K is None else chosen.set_point_K
    require_range(
        "set_point_K", set_point_K, None, highest_K, f"{clamp_part}; alarm and high limit under {plastic_part}"
    )
    over_clamp = max(chosen.high_limit_difference_K, deviation + ALARM_UNDER_HIGH_LIMIT_difference_K)
    return SetPoints(
        set_point_K=set_point_K,
        differential_difference_K=chosen.differential_difference_K,
        deviation_alarm_K=set_point_K + deviation,
        high_limit_K=min(clamp_K + over_clamp, plastic_K),
        plastic_limit_K=plastic_K,
        plastic_part=plastic_part,
        clamp_K=clamp_K,
        clamp_part=clamp_part,
        overshoot_difference_K=overshoot,
        thermometer_error_difference_K=chosen.thermometer_error_difference_K,
    )


def _require_choices(chosen: TemperatureChoices) -> None:
    for name, value, (low, high) in (
        ("differential_difference_K", chosen.differential_difference_K, DIFFERENTIALS_difference_K),
        ("high_limit_difference_K", chosen.high_limit_difference_K, HIGH_LIMITS_difference_K),
        ("thermometer_error_difference_K", chosen.thermometer_error_difference_K, THERMOMETER_ERRORS_difference_K),
    ):
        require_range(name, value, low - 1e-9, high + 1e-9, _PRACTICE)


def _deviation_difference_K(given: float | None, needed: float) -> float:
    """The alarm over the set point: as given if it is enough, else 5 degF or, in half degrees, what the unit needs.

    Usual is 4 to 8 degF; strong heat on a small tank needs more, and gets it, as far as the alarm is still worth much.
    """
    why = "at least differential + overshoot + thermometer error"
    if needed > MOST_DEVIATION_difference_K:
        most = MOST_DEVIATION_difference_K
        raise OutOfRange(
            "deviation_difference_K", needed, None, most, f"{why}; a smaller differential, or less heat on this tank"
        )
    if given is not None:
        least, usual_most = DEVIATIONS_difference_K
        least = max(needed, least)
        require_range("deviation_difference_K", given, least - 1e-9, max(usual_most, least) + 1e-9, why)
        return given
    steps = math.ceil(needed / DEVIATION_STEP_difference_K - 1e-9)
    return max(5.0 * _F, steps * DEVIATION_STEP_difference_K)


def set_points_section(points: SetPoints) -> Section:
    """The temperatures as figures with their reasons."""
    clamp = Input("clamp_K", points.clamp_K, "temperature")
    plastic = Input("plastic_limit_K", points.plastic_limit_K, "temperature")
    rise = (
        Input("differential_difference_K", points.differential_difference_K, "temperature difference"),
        Input("overshoot_difference_K", points.overshoot_difference_K, "temperature difference"),
        Input("thermometer_error_difference_K", points.thermometer_error_difference_K, "temperature difference"),
    )
    set_by = (
        "lowered under the clamp, so that alarm and high limit fit under" if points.lowered else "the clamp, set by"
    )
    limited_by = points.plastic_part if points.lowered else points.clamp_part
    functions = ("controls.set_points.set_points_of",)

    def figure(name: str, value: float, quantity: str, label: str, why: str, *inputs: Input) -> Figure:
        return Figure(name, value, quantity, why, inputs, functions, label)

    return Section(
        "set_points",
        "Temperatures at which the control acts",
        (
            figure("set_point_K", points.set_point_K, "temperature", "set point", f"{set_by} {limited_by}", clamp),
            figure(
                "differential_difference_K",
                points.differential_difference_K,
                "temperature difference",
                "differential of the heat",
                f"heat comes on again this far under the set point; {_PRACTICE}",
            ),
            figure(
                "deviation_alarm_K",
                points.deviation_alarm_K,
                "temperature",
                "deviation alarm",
                f"5 degF over the set point, {_PRACTICE}; at least differential + overshoot + thermometer error",
                *rise,
            ),
            figure(
                "high_limit_K",
                points.high_limit_K,
                "temperature",
                "high limit, hard-wired, manual reset",
                f"8 to 10 degF over the clamp, {_PRACTICE}, over the deviation alarm, never over the plastic",
                clamp,
                plastic,
            ),
            figure(
                "plastic_limit_K",
                points.plastic_limit_K,
                "temperature",
                "pump stops at",
                f"the lowest limit of a part that hot liquor touches: {points.plastic_part}",
            ),
        ),
        cautions=(
            "The high limit is a listed device of its own with its own bulb and manual reset. The control's"
            " thermometer never stands in for it. Local code and the licensed installer decide.",
        ),
    )
