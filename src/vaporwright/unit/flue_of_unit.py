"""The flue of a gas-fired unit and the water in its tube on a cold start: figures and notices of the gas section.

All at full fire, in the season that makes the figure worst: draft on the warmest day, condensation on the coldest. A
burner with a fan pushes its gas through the immersion tube, so that the draft has only the flue to serve. What neither
job, catalogue nor shop practice says is common practice, no source, and stands here as a constant.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from vaporwright.equipment.flue import (
    CONDENSING_FLUE,
    NO_NET_DRAFT,
    ColdStartCondensate,
    Flue,
    FlueRating,
    cold_start_condensate,
    vertical_flue,
)
from vaporwright.equipment.gas_burner import GasBurnerRating
from vaporwright.foundation.notice import Notice
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.balance import SeasonResult
from vaporwright.unit.catalogue import GasBurnerPart
from vaporwright.unit.figures import Figure, Input

# Common practice, no source
FLUE_ROUGHNESS_m: Final = 4.6e-5  # clean metal vent
FLUE_ELBOWS: Final = 2
FLUE_CAP_LOSS_COEFFICIENT: Final = 0.5  # low-resistance cap
FLUE_WALL: Final = "double-wall"
COLD_STACK_K: Final = 394.26  # 250 degF
HOT_STACK_K: Final = 560.93  # 550 degF

_FLUE: Final = ("equipment.flue.vertical_flue", "properties.stack.stack_draft_Pa")
_CONDENSATE: Final = ("equipment.flue.cold_start_condensate", "equipment.flue.tube_condensate_kg_s")
_RATED: Final = ("equipment.gas_burner.rate_gas_burner",)


@dataclass(frozen=True)
class UnitFlue:
    """The flue of a unit, solved."""

    answer: UnitAnswer
    part: GasBurnerPart
    flue: Flue
    warmest: SeasonResult  # by outdoor air
    coldest: SeasonResult
    in_heat: FlueRating
    in_cold: FlueRating
    start: GasBurnerRating  # of the governing season, for which the warm-up is worked out
    condensate: ColdStartCondensate  # its amount and time mean nothing where the tank does not warm up

    @property
    def sealed(self) -> bool:
        return self.answer.job.text("choices.flue") == "sealed"


def gas_rating(result: SeasonResult) -> GasBurnerRating:
    """The burner's rating in a season of a gas-fired unit."""
    detail = result.heat.detail
    assert isinstance(detail, GasBurnerRating)
    return detail


def flue_of(answer: UnitAnswer, part: GasBurnerPart) -> UnitFlue:
    """Solve the flue in every season's outdoor air, and the cold start.

    Raises: OutOfRange from equipment.flue, naming its variable.
    """
    flue = Flue(
        inner_diameter_m=part.flue_diameter_m,
        height_m=answer.job.number("site.flue_height"),
        roughness_m=FLUE_ROUGHNESS_m,
        elbows=FLUE_ELBOWS,
        cap_loss_coefficient=FLUE_CAP_LOSS_COEFFICIENT,
        wall=FLUE_WALL,
    )
    by_outdoors = sorted(answer.seasons.values(), key=lambda result: result.conditions.air.outdoor_temperature_K)
    coldest, warmest = by_outdoors[0], by_outdoors[-1]
    return UnitFlue(
        answer=answer,
        part=part,
        flue=flue,
        warmest=warmest,
        coldest=coldest,
        in_heat=_rate_flue(flue, warmest),
        in_cold=_rate_flue(flue, coldest),
        start=gas_rating(answer.seasons[answer.governing]),
        condensate=_condensate(answer),
    )


def flue_figures(found: UnitFlue) -> Iterator[Figure]:
    """Flue, draft and condensate."""
    yield from _size_figures(found)
    yield from _draft_figures(found)
    yield from _condensate_figures(found)


def flue_notices(found: UnitFlue) -> Iterator[Notice]:
    """What to watch on stack, flue and tube."""
    yield from _stack_notices(found)
    yield from _draft_notices(found)
    yield from _condensate_notices(found)


def _rate_flue(flue: Flue, result: SeasonResult) -> FlueRating:
    detail = gas_rating(result)
    return vertical_flue(
        flue,
        combustion=detail.combustion,
        flow_kg_s=detail.flue_flow_kg_s,
        inlet_temperature_K=detail.stack_temperature_K,
        outdoor_temperature_K=result.conditions.air.outdoor_temperature_K,
        pressure_Pa=result.conditions.pressure_Pa,
    )


def _condensate(answer: UnitAnswer) -> ColdStartCondensate:
    """Water of a cold start; the tube's coldest wall stands above the tank by as much as where the unit settles."""
    detail, warm_up = gas_rating(answer.seasons[answer.governing]), answer.warm_up
    wall_above_tank_K = detail.flue_dew_point_K - detail.bath_temperature_for_dry_tube_K
    start_K = warm_up.start_K + wall_above_tank_K
    return cold_start_condensate(
        detail.combustion,
        fuel_flow_mol_s=detail.fuel_flow_mol_s,
        start_wall_K=start_K,
        end_wall_K=max(warm_up.target_K + wall_above_tank_K, start_K),
        warm_up_s=0.0 if warm_up.tower_off_s is None else warm_up.tower_off_s,
        pressure_Pa=answer.job.pressure_Pa,
    )


def _size_figures(unit_flue: UnitFlue) -> Iterator[Figure]:
    warm = gas_rating(unit_flue.warmest)
    outdoors = Input(
        "outdoor air, warmest season", unit_flue.warmest.conditions.air.outdoor_temperature_K, "temperature"
    )
    cold = Input("outdoor air, coldest season", unit_flue.coldest.conditions.air.outdoor_temperature_K, "temperature")
    diameter = Input("gas.flue_diameter_m", unit_flue.flue.inner_diameter_m, "short length")
    flow = Input("flue gas at full fire", warm.flue_flow_kg_s, "mass flow")
    height = Input("site.flue_height", unit_flue.flue.height_m, "length")
    wall = Input("wall of the flue", FLUE_WALL, "text")
    cold_stack = Input("stack in the coldest season", gas_rating(unit_flue.coldest).stack_temperature_K, "temperature")
    yield Figure(
        "flue_diameter_m",
        unit_flue.flue.inner_diameter_m,
        "short length",
        "of the catalogue",
        label="flue, inner diameter",
    )
    yield Figure(
        "flue_gas_m3_s",
        warm.flue_flow_m3_s,
        "air flow",
        "flue gas of the fuel and its excess air, at stack temperature and site pressure, warmest season",
        (flow, Input("gas.stack_temperature_K", warm.stack_temperature_K, "temperature")),
        _RATED,
        "flue gas, as hot as it leaves the tube",
    )
    yield Figure(
        "stack_temperature_K",
        warm.stack_temperature_K,
        "temperature",
        "gas at the end of the immersion tube, full fire, tank as it settles in the warmest season",
        (
            Input("tank", unit_flue.warmest.settling_temperature_K, "temperature"),
            Input("utilities.fuel", warm.combustion.fuel.name, "text"),
        ),
        _RATED,
        "stack temperature",
    )
    yield Figure(
        "flue_velocity_m_s",
        unit_flue.in_heat.velocity_m_s,
        "velocity",
        "flue gas at the flue's mean temperature / its area, warmest season, no dilution air",
        (flow, diameter, outdoors, height, wall),
        _FLUE[:1],
        "velocity in the flue",
    )
    yield Figure(
        "flue_end_temperature_K",
        unit_flue.in_cold.end_temperature_K,
        "temperature",
        "T_out + (T_stack - T_out) exp(-U pi D H / (m cp)), coldest season, the whole flue outdoors",
        (cold_stack, cold, diameter, height, wall),
        ("equipment.flue.flue_cooling", "equipment.flue.flue_wall_coefficient_W_m2K"),
        "flue gas at the flue's end, coldest season",
    )


def _draft_figures(unit_flue: UnitFlue) -> Iterator[Figure]:
    found, job = unit_flue.in_heat, unit_flue.answer.job
    height = Input("site.flue_height", unit_flue.flue.height_m, "length")
    mean = Input("mean temperature in the flue", found.mean_temperature_K, "temperature")
    outdoors = Input(
        "outdoor air, warmest season", unit_flue.warmest.conditions.air.outdoor_temperature_K, "temperature"
    )
    site = Input("site pressure", job.pressure_Pa, "absolute pressure")
    served = (
        "the burner's fan pushes the gas through the tube, the draft has only the flue to serve"
        if unit_flue.part.fan_assisted
        else "what the tube takes of it is not in it"
    )
    yield Figure(
        "flue_draft_Pa",
        found.draft_Pa,
        "pressure",
        "g H (density outdoors - density at the flue's mean temperature), warmest season",
        (height, mean, outdoors, site),
        _FLUE,
        "theoretical draft, warmest season",
    )
    yield Figure(
        "flue_loss_Pa",
        found.loss_Pa,
        "pressure",
        f"(f H / D + K) rho v^2 / 2, K = {unit_flue.flue.loss_coefficient:g}: {FLUE_ELBOWS} elbows, cap, open end",
        (
            Input("gas.flue_velocity_m_s", found.velocity_m_s, "velocity"),
            Input("gas.flue_diameter_m", unit_flue.flue.inner_diameter_m, "short length"),
            height,
            Input("friction factor", found.friction_factor, "ratio"),
        ),
        _FLUE[:1],
        "loss of the flue at full fire",
    )
    yield Figure(
        "flue_net_draft_Pa",
        found.net_draft_Pa,
        "pressure",
        f"draft - loss; {served}",
        (
            Input("gas.flue_draft_Pa", found.draft_Pa, "pressure"),
            Input("gas.flue_loss_Pa", found.loss_Pa, "pressure"),
        ),
        _FLUE[:1],
        "net draft, warmest season",
    )


def _condensate_figures(unit_flue: UnitFlue) -> Iterator[Figure]:
    start, warm_up = unit_flue.start, unit_flue.answer.warm_up
    dew = Input("gas.flue_dew_point_K", start.flue_dew_point_K, "temperature")
    dry = Input("gas.dry_tube_temperature_K", start.bath_temperature_for_dry_tube_K, "temperature")
    cold = Input("tank at the start", warm_up.start_K, "temperature")
    off_s = warm_up.tower_off_s
    time = Input("warm-up, tower off", "none" if off_s is None else off_s, "text" if off_s is None else "duration")
    target = Input("tank when warm", warm_up.target_K, "temperature")
    limit = "as if all of the flue gas came to the tube's coldest wall: an upper limit"
    yield Figure(
        "flue_dew_point_K",
        start.flue_dew_point_K,
        "temperature",
        "saturation temperature at the partial pressure of water in the flue gas; governing season",
        (Input("site pressure", unit_flue.answer.job.pressure_Pa, "absolute pressure"),),
        ("properties.flue_gas.flue_dew_point_K",),
        "dew point of the flue gas",
    )
    yield Figure(
        "dry_tube_temperature_K",
        start.bath_temperature_for_dry_tube_K,
        "temperature",
        "dew point - (tube's coldest wall - tank), at full fire; governing season",
        (dew, Input("tube's coldest wall", start.coldest_wall_temperature_K, "temperature")),
        _RATED,
        "tube stays dry from a tank temperature of",
    )
    yield Figure(
        "cold_start_condensate_kg_s",
        unit_flue.condensate.highest_kg_s,
        "mass flow",
        f"vapour of the flue gas - saturation at the coldest wall, at full fire and the start; {limit}",
        (dew, dry, cold),
        _CONDENSATE[1:],
        "condensate of a cold start, at most",
    )
    yield Figure(
        "cold_start_condensate_kg",
        None if off_s is None else unit_flue.condensate.amount_kg,
        "mass",
        f"that rate over the warm-up with the tower off until the tube is dry, tank warming evenly; {limit}",
        (
            Input("gas.cold_start_condensate_kg_s", unit_flue.condensate.highest_kg_s, "mass flow"),
            dry,
            cold,
            target,
            time,
        ),
        _CONDENSATE,
        "condensate until the tube is dry, at most",
        absent="the tank does not warm up",
    )


def _stack_notices(unit_flue: UnitFlue) -> Iterator[Notice]:
    stacks_K = [gas_rating(result).stack_temperature_K for result in unit_flue.answer.seasons.values()]
    coldest_K, hottest_K = min(stacks_K), max(stacks_K)
    if coldest_K < COLD_STACK_K:
        yield Notice(
            "cold stack",
            "The stack at {0} is colder than the usual {1}: flue gas condenses in the flue, and there is little draft.",
            ((coldest_K, "temperature"), (COLD_STACK_K, "temperature")),
        )
    if hottest_K > HOT_STACK_K:
        yield Notice(
            "hot stack",
            "The stack at {0} is hotter than the usual {1}: heat goes up the flue, and its vent must be listed for that"
            " temperature. A longer tube or less input.",
            ((hottest_K, "temperature"), (HOT_STACK_K, "temperature")),
        )


def _draft_notices(unit_flue: UnitFlue) -> Iterator[Notice]:
    yield from (notice for notice in unit_flue.in_heat.notices if notice.name not in (NO_NET_DRAFT, CONDENSING_FLUE))
    yield from (notice for notice in unit_flue.in_cold.notices if notice.name == CONDENSING_FLUE)
    found = unit_flue.in_heat
    if not unit_flue.sealed:
        yield from (notice for notice in found.notices if notice.name == NO_NET_DRAFT)
    else:
        yield Notice(
            "sealed combustion",
            "Combustion air comes ducted from outdoors: no draft is taken from the room, and openings are not counted."
            " The burner's fan bears the loss of its air duct and flue, here {0} in the flue against a draft of {1};"
            " the vent is gas-tight and listed with the burner.",
            ((found.loss_Pa, "pressure"), (found.draft_Pa, "pressure")),
        )
    if not unit_flue.part.fan_assisted:
        yield Notice(
            "draft for the tube",
            "This burner has no fan: besides the flue, the net draft of {0} must pull the gas through the immersion"
            " tube, whose loss is not counted here. The burner's manual says which draft it needs.",
            ((found.net_draft_Pa, "pressure"),),
        )


def _condensate_notices(unit_flue: UnitFlue) -> Iterator[Notice]:
    dry_K = unit_flue.start.bath_temperature_for_dry_tube_K
    target_K = unit_flue.answer.warm_up.target_K
    if unit_flue.condensate.highest_kg_s > 0.0:
        text = (
            "From cold, flue gas condenses in the tube, up to {0}, until the tank passes {1}: pitch the tube, trap and"
        )
        yield Notice(
            "condensation in a cold start",
            text + " drain its end. The condensate is acid.",
            ((unit_flue.condensate.highest_kg_s, "mass flow"), (dry_K, "temperature")),
        )
    if target_K < dry_K:
        yield Notice(
            "tube never dry",
            "The tank works at {0}, below the {1} from which the tube is dry: flue gas condenses in it all the time, at"
            " full fire. A metal for acid water, and a drain that cannot block.",
            ((target_K, "temperature"), (dry_K, "temperature")),
        )
