"""What a unit weighs, what its floor carries, how its tank drains, how long a filter press takes to be fed a batch.

Tank and heater are put into equipment.tank_volume. What the job, the catalogue and the shop's settings do not say is
common practice, no source, and stands here as a constant.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from vaporwright.equipment.level_rods import LevelStack
from vaporwright.equipment.tank_volume import (
    SlopedTank,
    TankWeights,
    drain_time_s,
    tank_shell_kg,
    tank_weights,
    volume_at_level_m3,
)
from vaporwright.foundation.constants import STANDARD_GRAVITY_m_s2
from vaporwright.foundation.notice import Notice
from vaporwright.properties.liquor import density_kg_m3
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.assembly import AssembledUnit
from vaporwright.unit.balance import liquor_of
from vaporwright.unit.field import GALLON_PER_MINUTE_m3_s
from vaporwright.unit.figures import Figure, Input, Section
from vaporwright.unit.levels import sloped_tank, tank_with_heater

KEY: Final = "weights"
TITLE: Final = "Weights, floor, draining"
# Handbook values, from memory.
SHELL_DENSITIES_kg_m3: Final = {
    "304 stainless": 8000.0,
    "316 stainless": 8000.0,
    "carbon steel": 7850.0,
    "polypropylene": 910.0,
}
# All of these: common practice, no source.
INSULATION_DENSITY_kg_m3: Final = 150.0  # mineral wool slab with its thin jacket, over the slab's volume
COLD_LIQUOR_K: Final = 288.15  # liquor at rest is heavier than hot
DRAIN_LOSS: Final = 0.5 + 0.1 + 0.75  # sharp inlet, full-bore ball valve, one elbow
PRESS_FLOW_m3_s: Final = 5.0 * GALLON_PER_MINUTE_m3_s  # mean over a run; it falls as the cake grows
SPILL_FACTOR: Final = 1.1
LIGHT_FLOOR_Pa: Final = 5985.0  # 125 lb/ft2: what floors of light manufacturing are often made for

WEIGHTS_CAUTION: Final = (
    "Lift the unit only empty, by its lifting points, with rated gear and a rigger. Floor, legs and anchors, with wind"
    " and earthquake, are for a structural engineer: feet press harder than the mean stated."
)
DRAINING_CAUTION: Final = (
    "Hot liquor scalds: drain, open or press it only when cold, with the heat locked out and eyes and skin protected."
    " Entry of a tank is work in a confined space under the local rules. Local code decides spill containment and where"
    " liquor, filtrate and cake may go."
)


@dataclass(frozen=True)
class _Masses:
    """Dry masses of the parts [kg]."""

    shell_kg: float
    lid_kg: float
    insulation_kg: float
    towers_kg: float
    heat_source_kg: float
    pump_kg: float
    panel_kg: float

    @property
    def empty_kg(self) -> float:
        return float(sum(vars(self).values()))


def weights_section(answer: UnitAnswer, stack: LevelStack) -> Section:
    """Masses, floor loads, volumes, drain and filter press of an answer's unit.

    Raises: OutOfRange where refill-off lies above the rim, or the liquor would crystallise when cold.
    """
    unit = answer.unit
    tank = tank_with_heater(unit, stack)
    off_m = stack.mark("refill-off").height_m
    liquor_kg_m3 = density_kg_m3(liquor_of(answer.job, end_of_batch=True), COLD_LIQUOR_K)
    hold_up_m3 = answer.job.number("choices.drain_back") * tank.surface_area_m2
    masses = _masses(answer)
    weights = tank_weights(
        tank,
        empty_kg=masses.empty_kg,
        packing_kg=unit.practice.packing_share * masses.empty_kg,
        operating_level_m=off_m,
        liquor_density_kg_m3=liquor_kg_m3,
        hold_up_kg=liquor_kg_m3 * hold_up_m3,
        bearing_area_m2=_bearing_area_m2(unit, tank),
    )
    under_tank_Pa = _flooded_load_under_tank_Pa(unit, tank, weights)
    figures = (
        *_volume_figures(tank, off_m),
        *_dry_figures(answer, masses, weights),
        *_wet_figures(tank, off_m, liquor_kg_m3, hold_up_m3, weights),
        *_floor_figures(unit, tank, weights, under_tank_Pa),
        *_emptying_figures(unit, tank, off_m),
    )
    return Section(KEY, TITLE, figures, _notices(under_tank_Pa), (WEIGHTS_CAUTION, DRAINING_CAUTION))


def _masses(answer: UnitAnswer) -> _Masses:
    """What stands on the floor, dry."""
    unit, tank = answer.unit, sloped_tank(answer.unit)
    part, density = unit.tank, SHELL_DENSITIES_kg_m3[unit.tank.material]
    walls_m2 = 2.0 * (part.length_m + part.width_m) * part.height_m
    covered_m2 = answer.job.number("choices.lid_covered") * tank.surface_area_m2
    return _Masses(
        shell_kg=tank_shell_kg(
            tank,
            thickness_m=part.wall_thickness_m,
            shell_density_kg_m3=density,
            stiffener_share=unit.practice.stiffener_share,
        ),
        lid_kg=covered_m2 * part.wall_thickness_m * density,
        insulation_kg=walls_m2 * part.insulation_thickness_m * INSULATION_DENSITY_kg_m3,
        towers_kg=unit.towers * unit.tower.mass_kg,
        heat_source_kg=unit.heat_source.mass_kg,
        pump_kg=unit.pump.mass_kg,
        panel_kg=unit.practice.panel_mass_kg,
    )


def _bearing_area_m2(unit: AssembledUnit, tank: SlopedTank) -> float:
    return tank.surface_area_m2 + unit.towers * unit.tower.floor_area_m2


def _flooded_load_under_tank_Pa(unit: AssembledUnit, tank: SlopedTank, weights: TankWeights) -> float:
    """Load under the tank alone: the mean over tank and towers hides it where the light towers stand beside it."""
    beside_kg = unit.towers * unit.tower.mass_kg if unit.tower.floor_area_m2 > 0.0 else 0.0
    return (weights.flooded_kg - beside_kg) * STANDARD_GRAVITY_m_s2 / tank.surface_area_m2


def _volume_figures(tank: SlopedTank, off_m: float) -> tuple[Figure, ...]:
    by = ("equipment.tank_volume.volume_at_level_m3",)
    floor = (
        Input("tank's plan area", tank.surface_area_m2, "area"),
        Input("rise of its bottom", tank.bottom_rise_m, "short length"),
        Input("taken by the heater", sum(body.volume_m3 for body in tank.immersed), "volume"),
    )
    equation = "plan area x (level - half the rise of the bottom) - what the heater takes up below the level"
    return (
        Figure(
            "refill_off_volume_m3",
            volume_at_level_m3(tank, off_m),
            "volume",
            equation,
            (Input("levels.refill_off_m", off_m, "short length"), *floor),
            by,
            "liquor in the tank at refill-off",
        ),
        Figure(
            "rim_volume_m3",
            volume_at_level_m3(tank, tank.wall_height_m),
            "volume",
            equation,
            (Input("levels.rim_m", tank.wall_height_m, "short length"), *floor),
            by,
            "liquor in the tank at the rim",
        ),
    )


def _dry_figures(answer: UnitAnswer, masses: _Masses, weights: TankWeights) -> tuple[Figure, ...]:
    unit = answer.unit
    return (
        Figure(
            "tank_shell_kg",
            masses.shell_kg,
            "mass",
            "area of walls and bottom x wall x density x (1 + share of rim, ribs and legs)",
            (
                Input("wall", unit.tank.wall_thickness_m, "short length"),
                Input(f"density of {unit.tank.material}", SHELL_DENSITIES_kg_m3[unit.tank.material], "density"),
                Input("practice.stiffener_share", unit.practice.stiffener_share, "fraction"),
            ),
            ("equipment.tank_volume.tank_shell_kg",),
            "tank's shell",
        ),
        Figure(
            "empty_kg",
            weights.empty_kg,
            "mass",
            "shell + lid of the wall's plate over the covered share + insulation of the walls + towers + heat source"
            " + pump + panel, piping and valves",
            (
                Input("weights.tank_shell_kg", masses.shell_kg, "mass"),
                Input("lid", masses.lid_kg, "mass"),
                Input("insulation (its density is common practice, no source)", masses.insulation_kg, "mass"),
                Input("towers", masses.towers_kg, "mass"),
                Input("heat source", masses.heat_source_kg, "mass"),
                Input("pump", masses.pump_kg, "mass"),
                Input("practice.panel_mass", masses.panel_kg, "mass"),
            ),
            ("equipment.tank_volume.tank_weights",),
            "empty",
        ),
        Figure(
            "shipping_kg",
            weights.shipping_kg,
            "mass",
            "empty x (1 + share of skid and crate)",
            (
                Input("weights.empty_kg", weights.empty_kg, "mass"),
                Input("practice.packing_share", unit.practice.packing_share, "fraction"),
            ),
            ("equipment.tank_volume.tank_weights",),
            "as shipped",
        ),
    )


def _wet_figures(
    tank: SlopedTank, off_m: float, liquor_kg_m3: float, hold_up_m3: float, weights: TankWeights
) -> tuple[Figure, ...]:
    by = ("equipment.tank_volume.tank_weights", "properties.liquor.density_kg_m3")
    shared = (
        Input("weights.empty_kg", weights.empty_kg, "mass"),
        Input("density of cold liquor at the end of a batch", liquor_kg_m3, "density"),
        Input("hold-up of tower, header and pipe: choices.drain_back x tank's plan area", hold_up_m3, "volume"),
    )
    return (
        Figure(
            "operating_kg",
            weights.operating_kg,
            "mass",
            "empty + density x (volume at refill-off + hold-up), the pump running",
            (*shared, Input("weights.refill_off_volume_m3", volume_at_level_m3(tank, off_m), "volume")),
            by,
            "operating",
        ),
        Figure(
            "flooded_kg",
            weights.flooded_kg,
            "mass",
            "empty + density x (volume at the rim + hold-up)",
            (*shared, Input("weights.rim_volume_m3", volume_at_level_m3(tank, tank.wall_height_m), "volume")),
            by,
            "flooded to the rim",
        ),
    )


def _floor_figures(
    unit: AssembledUnit, tank: SlopedTank, weights: TankWeights, under_tank_Pa: float
) -> tuple[Figure, ...]:
    by = ("equipment.tank_volume.tank_weights",)
    on_top = unit.tower.floor_area_m2 == 0.0
    plan = Input("tank's plan area", tank.surface_area_m2, "area")
    area = (plan, Input("floor under the towers", unit.towers * unit.tower.floor_area_m2, "area"))
    equation = "mass x g / (tank's plan area + towers' floor): the mean; feet press harder"
    return (
        Figure(
            "operating_floor_load_Pa",
            weights.operating_floor_load_Pa,
            "floor load",
            equation,
            (Input("weights.operating_kg", weights.operating_kg, "mass"), *area),
            by,
            "floor load, operating",
        ),
        Figure(
            "flooded_floor_load_Pa",
            weights.flooded_floor_load_Pa,
            "floor load",
            equation,
            (Input("weights.flooded_kg", weights.flooded_kg, "mass"), *area),
            by,
            "floor load, flooded",
        ),
        Figure(
            "flooded_load_under_tank_Pa",
            under_tank_Pa,
            "floor load",
            "flooded mass x g / tank's plan area, the towers standing on the tank"
            if on_top
            else "(flooded mass - dry towers beside the tank) x g / tank's plan area",
            (Input("weights.flooded_kg", weights.flooded_kg, "mass"), plan),
            by,
            "under the tank alone, flooded",
        ),
    )


def _emptying_figures(unit: AssembledUnit, tank: SlopedTank, off_m: float) -> tuple[Figure, ...]:
    batch_m3, rim_m3 = volume_at_level_m3(tank, off_m), volume_at_level_m3(tank, tank.wall_height_m)
    return (
        Figure(
            "drain_time_s",
            drain_time_s(
                tank,
                from_level_m=off_m,
                to_level_m=0.0,
                drain_bore_m=unit.tank.drain_bore_m,
                loss_coefficient=DRAIN_LOSS,
            ),
            "short duration",
            "integral of A dy / (a sqrt(2 g y / (1 + K))) from refill-off to the low corner; sludge makes it longer",
            (
                Input("levels.refill_off_m", off_m, "short length"),
                Input("drain's bore", unit.tank.drain_bore_m, "short length"),
                Input("K: sharp inlet, full-bore ball valve, elbow (common practice, no source)", DRAIN_LOSS, "ratio"),
            ),
            ("equipment.tank_volume.drain_time_s",),
            "drains in",
        ),
        Figure(
            "press_time_s",
            batch_m3 / PRESS_FLOW_m3_s,
            "duration",
            "liquor at refill-off / mean feed of an air-driven diaphragm pump; the feed falls as the cake grows, and"
            " the capacity of the press decides: a full press is emptied in between",
            (
                Input("weights.refill_off_volume_m3", batch_m3, "volume"),
                Input("mean feed (common practice, no source)", PRESS_FLOW_m3_s, "liquid flow"),
            ),
            (),
            "feeding a batch through a filter press",
        ),
        Figure(
            "spill_containment_m3",
            SPILL_FACTOR * rim_m3,
            "volume",
            "factor x liquor at the rim; local code decides",
            (
                Input("factor (common practice, no source)", SPILL_FACTOR, "fraction"),
                Input("weights.rim_volume_m3", rim_m3, "volume"),
            ),
            (),
            "spill containment",
        ),
    )


def _notices(under_tank_Pa: float) -> tuple[Notice, ...]:
    if under_tank_Pa <= LIGHT_FLOOR_Pa:
        return ()
    text = (
        "Flooded, the tank loads its floor by {0}. Floors of light manufacturing are often made for {1}: ask what this"
        " one bears."
    )
    return (Notice("floor load", text, ((under_tank_Pa, "floor load"), (LIGHT_FLOOR_Pa, "floor load"))),)
