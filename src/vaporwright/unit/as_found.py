"""A unit as it was found: how it differs from its catalogue parts, by a few factors that a test can tell apart.

    merkel_factor   transfer of the fill over its law (fouled, bypassed, better than tested)
    air_factor      air flow over the blower's, by the fan law: flow x f, pressure x f^2, power x f^3
    spray_factor    spray flow over the design's
    input_factor    fuel or power over the nameplate's at the same supply; a steam coil has none
    heat_factor     heat into the bath over the model's at the same input (scale, excess air, a worse tube)

All are 1 for a unit as designed. Site prediction fits them, diagnosis and simulated faults set them. Beside them
stands the set point in force, where somebody moved it: the control ends the heat at it, so that a tank which would
settle hotter is held there, with the tower's evaporation at that temperature and its heat going on and off.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

from vaporwright.foundation.errors import InputError, require_range
from vaporwright.unit.assembly import AssembledUnit
from vaporwright.unit.balance import Conditions
from vaporwright.unit.catalogue import BlowerPart, SteamCoilPart

LEAST, MOST = 0.05, 3.0


@dataclass(frozen=True)
class AsFound:
    """Factors on the design, each 0.05 to 3, and the set point in force. Raises OutOfRange beyond."""

    merkel_factor: float = 1.0
    air_factor: float = 1.0
    spray_factor: float = 1.0
    input_factor: float = 1.0
    heat_factor: float = 1.0
    set_point_K: float | None = None  # None: where the conditions have it

    def __post_init__(self) -> None:
        for entry in fields(self):
            if entry.name != "set_point_K":
                require_range(entry.name, getattr(self, entry.name), LEAST, MOST, "a unit as found over its design")


def as_found(unit: AssembledUnit, conditions: Conditions, found: AsFound) -> tuple[AssembledUnit, Conditions]:
    """Unit and conditions with the factors put in.

    Raises: InputError for an input factor on a steam coil, whose steam is what condenses.
    """
    if found.input_factor != 1.0 and isinstance(unit.heat_source, SteamCoilPart):
        raise InputError("as found", "input_factor", f"{found.input_factor:g} on a steam coil", "1; use heat_factor")
    fill = replace(unit.tower.fill, merkel_coefficient=unit.tower.fill.merkel_coefficient * found.merkel_factor)
    site = replace(
        conditions.heat_site,
        input_factor=conditions.heat_site.input_factor * found.input_factor,
        heat_factor=conditions.heat_site.heat_factor * found.heat_factor,
    )
    changed = replace(
        unit,
        tower=replace(unit.tower, fill=fill),
        blower=_faster(unit.blower, found.air_factor),
        spray_flow_m3_s=unit.spray_flow_m3_s * found.spray_factor,
    )
    # The duct's loss is stated at the blower's best flow, which moves with the blower; the duct itself stays.
    intake = replace(conditions.intake, duct_loss_Pa=conditions.intake.duct_loss_Pa * found.air_factor**2)
    set_point_K = conditions.set_point_K if found.set_point_K is None else found.set_point_K
    return changed, replace(conditions, heat_site=site, intake=intake, set_point_K=set_point_K)


def _faster(blower: BlowerPart, factor: float) -> BlowerPart:
    return replace(
        blower,
        flow_m3_s=tuple(flow * factor for flow in blower.flow_m3_s),
        static_pressure_Pa=tuple(pressure * factor**2 for pressure in blower.static_pressure_Pa),
        shaft_power_W=tuple(power * factor**3 for power in blower.shaft_power_W),
    )
