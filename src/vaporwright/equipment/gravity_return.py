"""The gravity return from tower to tank: a pipe that vents itself, and where it ends.

Liquid that falls freely in a pipe drags air along; where the air cannot rise back past it, the pipe surges and the
tower's sump overflows. A pipe whose superficial Froude number v / sqrt(g D) stays below 0.3 vents itself. Such pipes
are large. Two ends are usual: in air above the high rod, or, for liquor that foams, a downcomer with a vent of its
own that ends below the low rod. The return is colder than the tank: it stays away from pump suction and thermometer.

The liquor is hot: no open end may splash where people stand, and no valve belongs into a gravity return.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

from vaporwright.foundation.constants import STANDARD_GRAVITY_m_s2
from vaporwright.foundation.errors import OutOfRange, require_range
from vaporwright.foundation.register import sourced

SELF_VENTING_FROUDE: Final = 0.3
DOWNCOMER_VELOCITY_m_s: Final = 0.15
OUTLET_ABOVE_HIGH_m: Final = 0.05
DOWNCOMER_BELOW_LOW_m: Final = 0.1
VENT_SHARE_OF_BORE: Final = 0.5
LEAST_DISTANCE_BORES: Final = 10.0
LEAST_DISTANCE_m: Final = 0.5
LEAST_FALL: Final = 0.25 / 12.0  # 1/4 in per ft
LOWEST_SUMP_m: Final = -5.0  # below the tank's low corner: a conflict, as long as it is a height at all


@dataclass(frozen=True)
class ReturnPipe:
    """A pipe size with its bore. Raises OutOfRange for a bore that is no return's."""

    name: str
    bore_m: float

    def __post_init__(self) -> None:
        require_range("bore_m", self.bore_m, 0.01, 1.0, "return pipe")


# ASME B36.10M, schedule 40; plastic pipe of schedule 80 is narrower and is listed by the caller.
SCHEDULE_40: Final = (
    ReturnPipe("NPS 1 1/2 schedule 40", 0.04089),
    ReturnPipe("NPS 2 schedule 40", 0.05250),
    ReturnPipe("NPS 2 1/2 schedule 40", 0.06271),
    ReturnPipe("NPS 3 schedule 40", 0.07793),
    ReturnPipe("NPS 4 schedule 40", 0.10226),
    ReturnPipe("NPS 6 schedule 40", 0.15405),
    ReturnPipe("NPS 8 schedule 40", 0.20272),
    ReturnPipe("NPS 10 schedule 40", 0.25451),
)


@dataclass(frozen=True)
class ReturnConflict:
    """What does not fit, by how much, and what would resolve it."""

    name: str
    size_m: float
    remedies: tuple[str, ...]


@dataclass(frozen=True)
class GravityReturn:
    """A sized return. Heights are above the tank's low corner."""

    kind: Literal["outlet in air", "vented downcomer"]
    pipe: ReturnPipe
    froude_number: float
    velocity_m_s: float  # as though the pipe ran full
    capacity_m3_s: float  # self-venting
    outlet_height_m: float
    sump_head_m: float  # liquid over the pipe's mouth in the tower's sump
    least_distance_m: float  # outlet to pump suction and to thermometer
    vent_bore_m: float | None
    conflicts: tuple[ReturnConflict, ...]


def _require_flow(flow_m3_s: float) -> None:
    require_range("flow_m3_s", flow_m3_s, 1.0e-6, 1.0, "return flow")


@sourced("hills-1983", "superficial Froude number of a gravity pipe, J_L = v / sqrt(g D)")
def froude_number(flow_m3_s: float, bore_m: float) -> float:
    """Froude number of a gravity pipe as though it ran full, v / sqrt(g D).

    Args: flow_m3_s [m3/s]: 1e-6 to 1; bore_m [m]: 0.01 to 1.
    Returns: Froude number [-]; up to 0.3 the pipe vents itself, from about 1 it runs full.
    Raises: OutOfRange outside those ranges.
    Source: hills-1983.
    Example: 36 m3/h in 180 mm

        >>> round(froude_number(0.01, 0.18), 3)
        0.296
    """
    _require_flow(flow_m3_s)
    require_range("bore_m", bore_m, 0.01, 1.0, "return pipe")
    velocity_m_s = flow_m3_s / (0.25 * math.pi * bore_m**2)
    return velocity_m_s / math.sqrt(STANDARD_GRAVITY_m_s2 * bore_m)


def _require_froude(greatest_froude_number: float) -> None:
    require_range("greatest_froude_number", greatest_froude_number, 0.05, SELF_VENTING_FROUDE, "self-venting pipe")


@sourced("hills-1983", "self-venting below J_L = 0.3")
def self_venting_capacity_m3_s(bore_m: float, greatest_froude_number: float = SELF_VENTING_FROUDE) -> float:
    """Largest flow that a pipe passes while it vents itself.

    Args: bore_m [m]: 0.01 to 1; greatest_froude_number [-]: 0.05 to 0.3.
    Returns: flow [m3/s].
    Raises: OutOfRange outside those ranges.
    Source: hills-1983.
    """
    require_range("bore_m", bore_m, 0.01, 1.0, "return pipe")
    _require_froude(greatest_froude_number)
    return greatest_froude_number * math.sqrt(STANDARD_GRAVITY_m_s2 * bore_m) * 0.25 * math.pi * bore_m**2


@sourced("hills-1983", "self-venting below J_L = 0.3, solved for the bore")
def self_venting_bore_m(flow_m3_s: float, greatest_froude_number: float = SELF_VENTING_FROUDE) -> float:
    """Smallest bore that passes a flow while it vents itself; inverse of self_venting_capacity_m3_s.

    Args: flow_m3_s [m3/s]: 1e-6 to 1; greatest_froude_number [-]: 0.05 to 0.3.
    Returns: bore [m].
    Raises: OutOfRange outside those ranges.
    Source: hills-1983.
    """
    _require_flow(flow_m3_s)
    _require_froude(greatest_froude_number)
    full = 0.25 * math.pi * greatest_froude_number * math.sqrt(STANDARD_GRAVITY_m_s2)
    return float((flow_m3_s / full) ** 0.4)


@sourced("hills-1983-head", "J_L = 0.8 (h / D)^2")
def head_over_outlet_m(flow_m3_s: float, bore_m: float) -> float:
    """Liquid over the mouth of a self-venting outlet: sump of the tower, or lip of a passive overflow.

    Equation: J_L = 0.8 (h / D)^2 with the Froude number J_L of the full bore.
    Args: flow_m3_s [m3/s]: 1e-6 to the pipe's self-venting capacity; bore_m [m]: 0.01 to 1.
    Returns: head [m].
    Raises: OutOfRange outside those ranges: a pipe that surges has no steady head.
    Source: hills-1983-head; its constant is from memory and meets the one published point.
    Example: 36 m3/h in 180 mm; published 110 mm

        >>> round(head_over_outlet_m(0.01, 0.18), 3)
        0.109
    """
    number = froude_number(flow_m3_s, bore_m)
    require_range("froude_number", number, 0.0, SELF_VENTING_FROUDE * (1.0 + 1.0e-9), "self-venting pipe")
    return bore_m * math.sqrt(number / 0.8)


@sourced("return-practice", "ten bores, at least 0.5 m")
def least_return_distance_m(bore_m: float) -> float:
    """Least level distance from the return's outlet to pump suction and to the tank's thermometer.

    Args: bore_m [m]: 0.01 to 1.
    Returns: distance [m]. The outlet also points away from both, or a baffle stands between.
    Raises: OutOfRange outside that range.
    Source: return-practice.
    """
    require_range("bore_m", bore_m, 0.01, 1.0, "return pipe")
    return max(LEAST_DISTANCE_m, LEAST_DISTANCE_BORES * bore_m)


def _require_heights(high_rod_m: float, sump_bottom_m: float, level_run_m: float) -> None:
    require_range("high_rod_m", high_rod_m, 0.0, 20.0, "above the tank's low corner")
    require_range("sump_bottom_m", sump_bottom_m, LOWEST_SUMP_m, 20.0, "above the tank's low corner")
    require_range("level_run_m", level_run_m, 0.0, 30.0, "return pipe")


def _smallest(pipes: tuple[ReturnPipe, ...], least_bore_m: float, flow_m3_s: float) -> ReturnPipe:
    fitting = [pipe for pipe in pipes if pipe.bore_m >= least_bore_m]
    if not fitting:
        widest_m = max((pipe.bore_m for pipe in pipes), default=0.0)
        reason = f"{flow_m3_s:.4g} m3/s needs a wider pipe, two returns, or less spray"
        raise OutOfRange("bore_m", least_bore_m, 0.0, widest_m, reason)
    return min(fitting, key=lambda pipe: pipe.bore_m)


def _around(
    pipe: ReturnPipe, flow_m3_s: float, sump_depth_m: float, suction_m: float, thermometer_m: float
) -> list[ReturnConflict]:
    """Conflicts that both kinds share: sump too shallow, suction or thermometer too near."""
    require_range("sump_depth_m", sump_depth_m, 0.0, 5.0, "tower sump")
    found = []
    short_m = head_over_outlet_m(flow_m3_s, pipe.bore_m) - sump_depth_m
    if short_m > 0.0:
        found.append(ReturnConflict("sump depth", short_m, ("a deeper sump", "a wider return", "less spray")))
    least_m = least_return_distance_m(pipe.bore_m)
    for name, distance_m in (("pump suction", suction_m), ("thermometer", thermometer_m)):
        require_range(f"distance_m to {name}", distance_m, 0.0, 30.0, "within the tank")
        if distance_m < least_m:
            remedies = (f"move return or {name}", "a baffle between them, with the flow round it")
            found.append(ReturnConflict(f"distance to {name}", least_m - distance_m, remedies))
    return found


@sourced("hills-1983", "self-venting size")
@sourced("return-practice", "outlet above the high rod, fall of the level run, distances")
def return_in_air(
    *,
    flow_m3_s: float,
    high_rod_m: float,
    sump_bottom_m: float,
    sump_depth_m: float,
    level_run_m: float,
    distance_to_suction_m: float,
    distance_to_thermometer_m: float,
    pipes: tuple[ReturnPipe, ...] = SCHEDULE_40,
    margin_m: float = OUTLET_ABOVE_HIGH_m,
) -> GravityReturn:
    """A return that ends in air above the high rod.

    Args:
        flow_m3_s [m3/s]: spray flow, 1e-6 to 1; what evaporates is not taken off.
        high_rod_m [m]: highest level at which the outlet must be free, 0 to 20. sump_bottom_m [m]: bottom of the
            tower's sump where the return leaves, -5 to 20, both above the tank's low corner.
        sump_depth_m [m]: depth that the sump can hold over the return's mouth, 0 to 5.
        level_run_m [m]: level part of the return, which falls by 1/4 in per ft; 0 to 30.
        distance_to_suction_m, distance_to_thermometer_m [m]: from the outlet, 0 to 30.
        pipes: sizes to choose from. margin_m [m]: outlet above the high rod, 0.02 to 1.
    Returns: GravityReturn; conflicts name what does not fit.
    Raises: OutOfRange outside those ranges, and where no pipe listed is wide enough.
    Source: hills-1983, return-practice.
    """
    _require_heights(high_rod_m, sump_bottom_m, level_run_m)
    require_range("margin_m", margin_m, 0.02, 1.0, "outlet in air")
    pipe = _smallest(pipes, self_venting_bore_m(flow_m3_s), flow_m3_s)
    conflicts = _around(pipe, flow_m3_s, sump_depth_m, distance_to_suction_m, distance_to_thermometer_m)
    outlet_m = high_rod_m + margin_m
    short_m = outlet_m + LEAST_FALL * level_run_m - sump_bottom_m
    if short_m > 0.0:
        remedies = ["a higher tower", "a lower high rod", "a shorter level run"]
        if short_m <= margin_m:  # all that a submerged end saves
            remedies.append("a vented downcomer")
        conflicts.append(ReturnConflict("outlet above the high rod", short_m, tuple(remedies)))
    return _sized("outlet in air", pipe, flow_m3_s, outlet_m, None, conflicts)


@sourced("hills-1983", "self-venting size")
@sourced("return-practice", "velocity at which bubbles rise back, submergence, vent")
def vented_downcomer(
    *,
    flow_m3_s: float,
    low_rod_m: float,
    high_rod_m: float,
    sludge_top_m: float,
    sump_bottom_m: float,
    sump_depth_m: float,
    level_run_m: float,
    distance_to_suction_m: float,
    distance_to_thermometer_m: float,
    pipes: tuple[ReturnPipe, ...] = SCHEDULE_40,
    submergence_m: float = DOWNCOMER_BELOW_LOW_m,
    greatest_velocity_m_s: float = DOWNCOMER_VELOCITY_m_s,
) -> GravityReturn:
    """A return that ends below the low rod, with a vent of its own at its top: for liquor that foams.

    Equation: bore for Froude 0.3 and for the velocity at which bubbles still rise back (they do so at about 0.25 m/s),
        whichever is wider. The vent rises above the sump's rim; foam in it needs a way back into the sump. Liquor
        stands in the downcomer as high as in the tank: the sump lies above the high rod by the level run's fall.
    Args:
        flow_m3_s [m3/s]: spray flow, 1e-6 to 1.
        low_rod_m, sludge_top_m [m]: above the tank's low corner, 0 to 20.
        high_rod_m, sump_bottom_m, sump_depth_m, level_run_m, distance_to_suction_m, distance_to_thermometer_m, pipes:
            as in return_in_air.
        submergence_m [m]: end below the low rod, 0.02 to 1. greatest_velocity_m_s [m/s]: 0.02 to 0.25.
    Returns: GravityReturn; conflicts name what does not fit.
    Raises: OutOfRange outside those ranges, and where no pipe listed is wide enough.
    Source: hills-1983, return-practice.
    """
    _require_heights(high_rod_m, sump_bottom_m, level_run_m)
    require_range("low_rod_m", low_rod_m, 0.0, 20.0, "above the tank's low corner")
    require_range("sludge_top_m", sludge_top_m, 0.0, 20.0, "above the tank's low corner")
    require_range("submergence_m", submergence_m, 0.02, 1.0, "sealed end")
    require_range("greatest_velocity_m_s", greatest_velocity_m_s, 0.02, 0.25, "bubbles rise back")
    least_bore_m = max(self_venting_bore_m(flow_m3_s), math.sqrt(flow_m3_s / (0.25 * math.pi * greatest_velocity_m_s)))
    pipe = _smallest(pipes, least_bore_m, flow_m3_s)
    conflicts = _around(pipe, flow_m3_s, sump_depth_m, distance_to_suction_m, distance_to_thermometer_m)
    outlet_m = low_rod_m - submergence_m
    short_m = sludge_top_m + pipe.bore_m - outlet_m  # one bore free below the end
    if short_m > 0.0:
        remedies = ("a higher low rod", "less sludge", "a smaller submergence", "an outlet in air and antifoam")
        conflicts.append(ReturnConflict("end above the sludge", short_m, remedies))
    flooded_m = high_rod_m + LEAST_FALL * level_run_m - sump_bottom_m
    if flooded_m > 0.0:
        higher = ("a higher tower", "a lower high rod", "a shorter level run")
        conflicts.append(ReturnConflict("sump above the high rod", flooded_m, higher))
    return _sized("vented downcomer", pipe, flow_m3_s, outlet_m, VENT_SHARE_OF_BORE * pipe.bore_m, conflicts)


def _sized(
    kind: Literal["outlet in air", "vented downcomer"],
    pipe: ReturnPipe,
    flow_m3_s: float,
    outlet_m: float,
    vent_bore_m: float | None,
    conflicts: list[ReturnConflict],
) -> GravityReturn:
    return GravityReturn(
        kind=kind,
        pipe=pipe,
        froude_number=froude_number(flow_m3_s, pipe.bore_m),
        velocity_m_s=flow_m3_s / (0.25 * math.pi * pipe.bore_m**2),
        capacity_m3_s=self_venting_capacity_m3_s(pipe.bore_m),
        outlet_height_m=outlet_m,
        sump_head_m=head_over_outlet_m(flow_m3_s, pipe.bore_m),
        least_distance_m=least_return_distance_m(pipe.bore_m),
        vent_bore_m=vent_bore_m,
        conflicts=tuple(conflicts),
    )
