"""The tank as a vessel: volume and level, warming, refill, draining, weights.

A rectangular tank with upright walls. Its bottom is a plane that falls along the length to the drain in the low
corner; levels are heights above that corner. Bodies that hang in the liquor (a heater, a coil) displace it evenly
between their lowest and their highest point. The free area is then linear in the level, piece by piece, so that
volume, its inverse and the time to drain are exact.

Hot liquor scalds. A tank is drained, or entered, only when cold, isolated and locked out; entry of any tank is
work in a confined space under the local rules. Floors, legs and anchors are for a structural engineer.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Final

from vaporwright.foundation.constants import STANDARD_GRAVITY_m_s2
from vaporwright.foundation.errors import OutOfRange, require_range
from vaporwright.foundation.register import sourced
from vaporwright.properties.liquor import Liquor, density_kg_m3

GREATEST_WALL_m: Final = 5.0
HIGHEST_LEVEL_m: Final = 20.0  # of any mark, also one that the tank is too low for
TIMER_OVER_EXPECTED_FILL: Final = 2.0


@dataclass(frozen=True)
class ImmersedBody:
    """A heater, coil or other body in the liquor; it displaces evenly from its bottom to its top.

    Raises OutOfRange for a body below the low corner of the tank, or without height.
    """

    bottom_m: float
    height_m: float
    volume_m3: float

    def __post_init__(self) -> None:
        require_range("bottom_m", self.bottom_m, 0.0, HIGHEST_LEVEL_m, "above the tank's low corner")
        require_range("height_m", self.height_m, 0.001, GREATEST_WALL_m, "immersed body")
        require_range("volume_m3", self.volume_m3, 0.0, None, "immersed body")

    @property
    def top_m(self) -> float:
        """Highest point above the low corner of the tank."""
        return self.bottom_m + self.height_m

    @property
    def section_m2(self) -> float:
        """Level area that it takes from the liquor."""
        return self.volume_m3 / self.height_m


@dataclass(frozen=True)
class SlopedTank:
    """A rectangular tank, inside dimensions; the walls are measured from the low corner to the rim.

    Args: length_m, width_m [m]: 0.1 to 20; wall_height_m [m]: 0.1 to 5, at the low corner; bottom_slope [m/m]:
    fall of the bottom along the length, 0 to 0.5, ending below the rim; immersed: bodies in the liquor.
    Raises OutOfRange outside those, and where the bodies fill the tank at some level.
    """

    length_m: float
    width_m: float
    wall_height_m: float
    bottom_slope: float = 0.0
    immersed: tuple[ImmersedBody, ...] = ()

    def __post_init__(self) -> None:
        require_range("length_m", self.length_m, 0.1, 20.0, "tank")
        require_range("width_m", self.width_m, 0.1, 20.0, "tank")
        require_range("wall_height_m", self.wall_height_m, 0.1, GREATEST_WALL_m, "tank")
        most = min(0.5, 0.9 * self.wall_height_m / self.length_m)
        require_range("bottom_slope", self.bottom_slope, 0.0, most, "the bottom falls to the drain, below the rim")
        for piece in _pieces(self):
            if piece.taken_m2 > 0.0 and piece.area_m2 <= 0.0:
                raise OutOfRange("immersed section_m2", piece.taken_m2, 0.0, None, "bodies leave no room for liquor")

    @property
    def surface_area_m2(self) -> float:
        """Plan area inside the walls."""
        return self.length_m * self.width_m

    @property
    def bottom_rise_m(self) -> float:
        """Height of the bottom's high end above its low end."""
        return self.bottom_slope * self.length_m


@dataclass(frozen=True)
class _Piece:
    """A range of levels over which the free area is linear; the last one has no end."""

    bottom_m: float
    height_m: float
    area_m2: float  # free area at its bottom
    growth_m: float  # of the free area per metre of level
    taken_m2: float  # by immersed bodies
    volume_m3: float  # below it


def _pieces(tank: SlopedTank) -> tuple[_Piece, ...]:
    rise_m = tank.bottom_rise_m
    cuts = {0.0, rise_m}
    for body in tank.immersed:
        cuts |= {body.bottom_m, body.top_m}
    edges = [*sorted(cuts), math.inf]
    pieces = []
    volume_m3 = 0.0
    for bottom_m, top_m in itertools.pairwise(edges):
        taken_m2 = sum(body.section_m2 for body in tank.immersed if body.bottom_m <= bottom_m < body.top_m)
        in_wedge = bottom_m < rise_m
        growth_m = tank.surface_area_m2 / rise_m if in_wedge else 0.0
        area_m2 = (growth_m * bottom_m if in_wedge else tank.surface_area_m2) - taken_m2
        height_m = top_m - bottom_m
        pieces.append(_Piece(bottom_m, height_m, area_m2, growth_m, taken_m2, volume_m3))
        if math.isfinite(height_m):
            volume_m3 += height_m * (area_m2 + 0.5 * growth_m * height_m)
    return tuple(pieces)


def _volume_m3(tank: SlopedTank, level_m: float) -> float:
    """Volume with the walls prolonged upward."""
    piece = [piece for piece in _pieces(tank) if piece.bottom_m <= level_m][-1]
    y = level_m - piece.bottom_m
    return piece.volume_m3 + y * (piece.area_m2 + 0.5 * piece.growth_m * y)


def _level_m(tank: SlopedTank, volume_m3: float) -> float:
    """Inverse of _volume_m3: the root of the quadratic in the form that does not cancel."""
    piece = [piece for piece in _pieces(tank) if piece.volume_m3 <= volume_m3][-1]
    v = volume_m3 - piece.volume_m3
    if v == 0.0:
        return piece.bottom_m
    return piece.bottom_m + 2.0 * v / (piece.area_m2 + math.sqrt(piece.area_m2**2 + 2.0 * piece.growth_m * v))


@sourced("tank-geometry", "wedge over the sloped bottom, box above it, less immersed bodies")
def volume_at_level_m3(tank: SlopedTank, level_m: float) -> float:
    """Liquor in the tank at a level.

    Equation: V = A y^2 / (2 r) up to the bottom's rise r, A (y - r / 2) above, less what is displaced.
    Args: level_m [m]: above the low corner, 0 to the rim.
    Returns: volume [m3].
    Raises: OutOfRange outside that range.
    Source: tank-geometry.
    Example: 2 m x 1 m with a bottom that rises by 40 mm

        >>> round(volume_at_level_m3(SlopedTank(2.0, 1.0, 0.9, bottom_slope=0.02), 0.5), 3)
        0.96
    """
    require_range("level_m", level_m, 0.0, tank.wall_height_m, "low corner to rim")
    return _volume_m3(tank, level_m)


@sourced("tank-geometry", "exact inverse of volume_at_level_m3")
def level_at_volume_m(tank: SlopedTank, volume_m3: float) -> float:
    """Level at which the tank holds a volume of liquor.

    Args: volume_m3 [m3]: 0 to what fills the tank to the rim.
    Returns: level above the low corner [m].
    Raises: OutOfRange outside that range.
    Source: tank-geometry.
    """
    require_range("volume_m3", volume_m3, 0.0, _volume_m3(tank, tank.wall_height_m), "empty to rim")
    return min(_level_m(tank, volume_m3), tank.wall_height_m)


@sourced("tank-geometry", "volumes add, then expand")
def level_after_change_m(
    tank: SlopedTank, *, level_m: float, added_m3: float = 0.0, expansion_ratio: float = 1.0
) -> float:
    """Level after liquor is added or taken and the whole is then warmed.

    Equation: V(level after) = (V(level) + added) expansion_ratio. The walls are taken to go on above the rim, so
        that a result above it says by how much the tank is too low.
    Args:
        level_m [m]: before, at least 0; it may lie above the rim.
        added_m3 [m3]: negative where liquor is taken, no more than the tank holds.
        expansion_ratio [-]: volume after over volume before warming, 0.9 to 1.1 (liquor_expansion_ratio).
    Returns: level above the low corner [m].
    Raises: OutOfRange outside those ranges.
    Source: tank-geometry.
    """
    require_range("level_m", level_m, 0.0, None, "above the low corner")
    require_range("expansion_ratio", expansion_ratio, 0.9, 1.1, "volume of liquor, warm over cold")
    held_m3 = _volume_m3(tank, level_m)
    require_range("added_m3", added_m3, -held_m3, None, "no more can leave than the tank holds")
    return _level_m(tank, (held_m3 + added_m3) * expansion_ratio)


@sourced("tank-geometry", "mass stays: volume goes with 1 / density")
@sourced("laliberte-2009", "density as the equivalent sodium chloride solution")
def liquor_expansion_ratio(liquor: Liquor, *, cold_K: float, hot_K: float) -> float:
    """Volume of a liquor when hot over its volume when cold; the tank's own growth is left out (metal 0.2 %).

    Args: cold_K, hot_K [K]: 273.15 to 383.15, in any order.
    Returns: ratio [-].
    Raises: OutOfRange outside that range or past saturation of sodium chloride.
    Source: laliberte-2009.
    """
    return density_kg_m3(liquor, cold_K) / density_kg_m3(liquor, hot_K)


# Refill


@dataclass(frozen=True)
class RefillCycle:
    """One refill from refill-on to refill-off, and how often it comes. Fields are None where no refill comes."""

    band_m3: float
    period_s: float | None  # from one start of the refill to the next
    fill_time_s: float | None
    run_timer_s: float | None  # a refill that runs longer stops with an alarm
    sag_difference_K: float  # fall of the tank's mean temperature over one refill


@sourced("refill-mixing", "balance of volume over one cycle; cold band mixed into the hot tank")
@sourced("level-practice", "run timer: twice the expected fill")
def refill_cycle(
    tank: SlopedTank,
    *,
    refill_on_m: float,
    refill_off_m: float,
    refill_flow_m3_s: float,
    evaporation_m3_s: float,
    liquor_temperature_K: float,
    feed_temperature_K: float,
    liquor_heat_capacity_J_m3K: float,
    feed_heat_capacity_J_m3K: float,
    trickle_flow_m3_s: float = 0.0,
) -> RefillCycle:
    """A refill between two rods: how long, how often, and how far the tank's temperature sags.

    Equation: sag = (T - T_feed) C_band / (C_tank + C_band), with C_tank the heat capacity of what the tank holds at
        refill-on. The heater goes on to supply what evaporation takes, and no more: a heater at its limit, the
        usual case. The sag is the mean of the tank; near the inlet it is deeper. A trickle feed as large as the
        evaporation leaves nothing to refill: no cycle, and a steady drop of none, because the steady heat balance
        already carries the feed. A smaller trickle makes refills rarer, not smaller.
    Args:
        refill_on_m, refill_off_m [m]: the two rods, above the low corner, on below off, off below the rim.
        refill_flow_m3_s, evaporation_m3_s [m3/s]: evaporation as liquid taken from the tank, from the tank's
            surface, the tower and drift; the refill must be larger. trickle_flow_m3_s [m3/s]: constant feed beside
            it, 0 to the evaporation (more would fill the tank).
        liquor_temperature_K, feed_temperature_K [K]: 273.15 to 383.15; the feed may be the warmer.
        liquor_heat_capacity_J_m3K, feed_heat_capacity_J_m3K [J/(m3 K)]: 2e6 to 6e6 (density times specific heat).
    Returns: RefillCycle; the sag is negative where the feed is warmer.
    Raises: OutOfRange outside those ranges.
    Source: refill-mixing, level-practice.
    """
    require_range("refill_on_m", refill_on_m, 0.0, tank.wall_height_m, "low corner to rim")
    require_range("refill_off_m", refill_off_m, refill_on_m, tank.wall_height_m, "refill-on to rim")
    require_range("evaporation_m3_s", evaporation_m3_s, 0.0, 1.0, "liquid that leaves")
    require_range("trickle_flow_m3_s", trickle_flow_m3_s, 0.0, evaporation_m3_s, "a larger trickle fills the tank")
    require_range("refill_flow_m3_s", refill_flow_m3_s, 1.001 * evaporation_m3_s, 1.0, "more than evaporates")
    for name, kelvin in (("liquor", liquor_temperature_K), ("feed", feed_temperature_K)):
        require_range(f"{name}_temperature_K", kelvin, 273.15, 383.15, "liquor")
    for name, capacity in (("liquor", liquor_heat_capacity_J_m3K), ("feed", feed_heat_capacity_J_m3K)):
        require_range(f"{name}_heat_capacity_J_m3K", capacity, 2.0e6, 6.0e6, "watery liquid")
    on_m3, off_m3 = _volume_m3(tank, refill_on_m), _volume_m3(tank, refill_off_m)
    band_m3 = off_m3 - on_m3
    net_loss_m3_s = evaporation_m3_s - trickle_flow_m3_s
    if net_loss_m3_s <= 0.0:
        return RefillCycle(band_m3, None, None, None, 0.0)
    band_J_K = band_m3 * feed_heat_capacity_J_m3K
    tank_J_K = on_m3 * liquor_heat_capacity_J_m3K
    sag_K = 0.0
    if band_J_K > 0.0:
        sag_K = (liquor_temperature_K - feed_temperature_K) * band_J_K / (tank_J_K + band_J_K)
    fill_s = band_m3 / (refill_flow_m3_s - net_loss_m3_s)
    return RefillCycle(band_m3, fill_s + band_m3 / net_loss_m3_s, fill_s, TIMER_OVER_EXPECTED_FILL * fill_s, sag_K)


# Draining


@sourced("torricelli", "quasi-steady outflow, losses in velocity heads, integrated over the level")
def drain_time_s(
    tank: SlopedTank,
    *,
    from_level_m: float,
    to_level_m: float,
    drain_bore_m: float,
    loss_coefficient: float,
    outlet_drop_m: float = 0.0,
) -> float:
    """Time in which the level falls from one height to another through the drain in the low corner.

    Equation: g (y + drop) = (1 + K) v^2 / 2; A(y) dy = -a v dt, exact over each piece of A(y). With K the losses in
        velocity heads of the drain bore: 0.5 sharp inlet, valve, bends, friction f L / D; K = 1 / C^2 - 1 for an
        opening of discharge coefficient C (0.62: 1.6). The last film runs slower, and sludge may block the drain.
    Args:
        from_level_m, to_level_m [m]: above the low corner, 0 to the rim, in falling order.
        drain_bore_m [m]: 0.005 to 0.5. loss_coefficient [-]: 0 to 200, without the exit's own velocity head.
        outlet_drop_m [m]: fall of the drain pipe below the low corner that runs full, 0 to 10; 0 is slowest.
    Returns: time [s].
    Raises: OutOfRange outside those ranges.
    Source: torricelli.
    Example: 1 m2, opening of 0.01 m2 with coefficient 0.62, 2 m deep

        >>> tank = SlopedTank(1.0, 1.0, 2.0)
        >>> bore_m, loss = math.sqrt(0.04 / math.pi), 1.0 / 0.62**2 - 1.0
        >>> round(drain_time_s(tank, from_level_m=2.0, to_level_m=0.0, drain_bore_m=bore_m, loss_coefficient=loss))
        103
    """
    require_range("from_level_m", from_level_m, 0.0, tank.wall_height_m, "low corner to rim")
    require_range("to_level_m", to_level_m, 0.0, from_level_m, "the level falls")
    require_range("drain_bore_m", drain_bore_m, 0.005, 0.5, "drain")
    require_range("loss_coefficient", loss_coefficient, 0.0, 200.0, "losses in velocity heads")
    require_range("outlet_drop_m", outlet_drop_m, 0.0, 10.0, "the outlet lies below the tank")
    speed = math.sqrt(2.0 * STANDARD_GRAVITY_m_s2 / (1.0 + loss_coefficient))
    rate = 0.25 * math.pi * drain_bore_m**2 * speed  # outflow over the root of the head
    total = 0.0
    for piece in _pieces(tank):
        low_m = max(to_level_m, piece.bottom_m)
        high_m = min(from_level_m, piece.bottom_m + piece.height_m)
        if high_m <= low_m:
            continue
        # area = area at no head + growth times head; integral of area / sqrt(head) over the head
        no_head_m2 = piece.area_m2 - piece.growth_m * (piece.bottom_m + outlet_drop_m)
        low, high = math.sqrt(low_m + outlet_drop_m), math.sqrt(high_m + outlet_drop_m)
        total += 2.0 * no_head_m2 * (high - low) + 2.0 / 3.0 * piece.growth_m * (high**3 - low**3)
    return total / rate


# Weights


@dataclass(frozen=True)
class TankWeights:
    """Masses of the unit on its tank, and what its floor carries."""

    empty_kg: float
    shipping_kg: float
    operating_kg: float
    flooded_kg: float
    operating_floor_load_Pa: float  # over the bearing area
    flooded_floor_load_Pa: float


@sourced("tank-geometry", "plates by area, thickness and density")
def tank_shell_kg(
    tank: SlopedTank, *, thickness_m: float, shell_density_kg_m3: float, stiffener_share: float = 0.0
) -> float:
    """Mass of the bare shell: four walls and the bottom, open above.

    Args: thickness_m [m]: 0.5 mm to 0.1; shell_density_kg_m3 [kg/m3]: 800 to 9000 (polypropylene 910, stainless
        8000); stiffener_share: rim, ribs and legs over the plates' mass, 0 to 2.
    Returns: mass [kg]; inside dimensions are taken for the plates.
    Raises: OutOfRange outside those ranges.
    Source: tank-geometry.
    """
    require_range("thickness_m", thickness_m, 0.0005, 0.1, "tank shell")
    require_range("shell_density_kg_m3", shell_density_kg_m3, 800.0, 9000.0, "plastic or metal")
    require_range("stiffener_share", stiffener_share, 0.0, 2.0, "rim, ribs and legs")
    rise_m = tank.bottom_rise_m
    sides_m2 = 2.0 * tank.length_m * (tank.wall_height_m - 0.5 * rise_m)
    ends_m2 = tank.width_m * (2.0 * tank.wall_height_m - rise_m)
    bottom_m2 = tank.width_m * math.hypot(tank.length_m, rise_m)
    return (sides_m2 + ends_m2 + bottom_m2) * thickness_m * shell_density_kg_m3 * (1.0 + stiffener_share)


@sourced("tank-geometry", "sums of masses; load over bearing area")
def tank_weights(
    tank: SlopedTank,
    *,
    empty_kg: float,
    packing_kg: float,
    operating_level_m: float,
    liquor_density_kg_m3: float,
    hold_up_kg: float,
    bearing_area_m2: float,
) -> TankWeights:
    """Empty, shipping, operating and flooded mass of the unit, and the load on its floor.

    Equation: operating is the liquor at the operating level with the pump running plus what pipe, header and tower
        then hold; flooded is the tank full to the rim and the same hold-up.
    Args:
        empty_kg [kg]: everything that stands on the tank's feet, dry: shell, heater, tower, pump, panel; above 0.
        packing_kg [kg]: skid, crate, loose parts shipped along; at least 0.
        operating_level_m [m]: above the low corner, 0 to the rim; refill-off is the highest in normal use.
        liquor_density_kg_m3 [kg/m3]: 900 to 1400, at end-of-batch strength; cold is the heavier.
        hold_up_kg [kg]: liquor in pipe, header and tower while the pump runs; at least 0.
        bearing_area_m2 [m2]: of the feet or skid on the floor, above 0, to 400.
    Returns: TankWeights. Wind, earthquake and the movement of a full tank are not in it.
    Raises: OutOfRange outside those ranges.
    Source: tank-geometry.
    """
    require_range("empty_kg", empty_kg, 1.0, 1.0e6, "the unit, dry")
    require_range("packing_kg", packing_kg, 0.0, 1.0e6, "skid and crate")
    require_range("liquor_density_kg_m3", liquor_density_kg_m3, 900.0, 1400.0, "liquor")
    require_range("hold_up_kg", hold_up_kg, 0.0, 1.0e6, "liquor outside the tank")
    require_range("bearing_area_m2", bearing_area_m2, 0.001, 400.0, "feet or skid")
    operating_kg = empty_kg + hold_up_kg + liquor_density_kg_m3 * volume_at_level_m3(tank, operating_level_m)
    flooded_kg = empty_kg + hold_up_kg + liquor_density_kg_m3 * volume_at_level_m3(tank, tank.wall_height_m)
    return TankWeights(
        empty_kg=empty_kg,
        shipping_kg=empty_kg + packing_kg,
        operating_kg=operating_kg,
        flooded_kg=flooded_kg,
        operating_floor_load_Pa=operating_kg * STANDARD_GRAVITY_m_s2 / bearing_area_m2,
        flooded_floor_load_Pa=flooded_kg * STANDARD_GRAVITY_m_s2 / bearing_area_m2,
    )
