"""Where the exhaust goes: the duct of each tower, what condenses in it, how far it ends from intakes, its plume, frost.

Each tower has a round duct of its own; figures are of one duct. Elbows, the duct's end and bare walls are counted by
common practice. The whole duct is taken to stand in the heated room; what stands outdoors loses more.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from vaporwright.equipment.blower import blower_best_flow_m3_s
from vaporwright.equipment.exhaust_duct import (
    DUCT_DRAINS,
    EXHAUST_CAUTION,
    DuctCondensate,
    ExhaustDuct,
    duct_condensate,
    duct_roughness_m,
    exhaust_duct,
    intake_separation,
)
from vaporwright.equipment.plume import exhaust_plume
from vaporwright.foundation.constants import ZERO_CELSIUS_K
from vaporwright.foundation.errors import OutOfRange
from vaporwright.foundation.notice import Notice
from vaporwright.properties.moist_air import dew_point_temperature_K
from vaporwright.unit.air_path import STANDARD_DENSITY_kg_m3, TowerRating, blower_curve
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.figures import Figure, Input, Section
from vaporwright.unit.job import SEASONS, Job

KEY: Final = "exhaust"
TITLE: Final = "Exhaust"
# Common practice, no source.
ROUND_SIZES_m: Final = tuple(0.0254 * inches for inches in range(4, 50, 2))
ELBOW_VELOCITY_HEADS: Final = 0.35  # smooth or of five pieces, centre line 1.5 diameters
END_VELOCITY_HEADS: Final = 1.2  # open end with a drained stack sleeve; a flat rain cap costs more and sends fog down
SIZES_TRIED: Final = 4  # wider ones for the sake of the loss
BARE_DUCT_W_m2K: Final = 8.0  # still air indoors; plastic walls pass a little less
LEAST_ABOVE_ROOM_difference_K: Final = 0.5  # of the dew point, for a wall to be wetted
_DUCT: Final = "equipment.exhaust_duct."


@dataclass(frozen=True)
class _Duct:
    """One tower's duct in the season in which it loses most, and the size that holds in every season."""

    season: str
    tower: TowerRating
    diameter_m: float
    found: ExhaustDuct
    length_m: float
    velocity_heads: float
    counted_Pa: float  # by the sizing, at this flow
    rated_Pa: float  # the computed loss as the job states it: at the blower's best flow and standard density

    @property
    def wall_area_m2(self) -> float:
        """Outer and inner alike: thin walls."""
        return math.pi * self.diameter_m * self.length_m


def exhaust_section(answer: UnitAnswer) -> Section:
    """The exhaust of a unit: flow and pressure at the blower, duct, condensate, intake, plume, freezing.

    Raises: OutOfRange where no round size carries the flow, or as the equipment does.
    """
    duct = _duct(answer)
    wet = _condensate(answer, duct)
    intake_figures, intake_notices = _intake(answer)
    plume_figures, plume_notices = _plume(answer)
    return Section(
        key=KEY,
        title=TITLE,
        figures=(
            *_blower_figures(answer),
            *_duct_figures(answer, duct),
            *_condensate_figures(answer, duct, wet),
            *intake_figures,
            *plume_figures,
        ),
        notices=(
            *_duct_notices(answer, duct),
            *_condensate_notices(answer, wet),
            *intake_notices,
            *plume_notices,
            *_freeze_notices(answer.job),
        ),
        cautions=(EXHAUST_CAUTION,),
    )


def _tower(answer: UnitAnswer, season: str) -> TowerRating:
    return answer.seasons[season].operation.tower


def _greatest_flow_m3_s(answer: UnitAnswer) -> float:
    return max(_tower(answer, season).exhaust_flow_m3_s for season in SEASONS)


def _duct(answer: UnitAnswer) -> _Duct:
    """The smallest duct within the shop's velocity, and within the loss that the sizing counted where one can be."""
    flow_m3_s, most_m_s = _greatest_flow_m3_s(answer), answer.unit.practice.exhaust_velocity_m_s
    wanted_m = math.sqrt(4.0 * flow_m3_s / (math.pi * most_m_s))
    wide_enough = [size for size in ROUND_SIZES_m if size >= wanted_m]
    if not wide_enough:
        most_m3_s = most_m_s * math.pi / 4.0 * ROUND_SIZES_m[-1] ** 2
        reason = "the widest round duct at practice.exhaust_velocity: more towers, or a rectangular duct"
        raise OutOfRange("exhaust flow of one tower, m3/s", flow_m3_s, None, most_m3_s, reason)
    ducts = [_duct_of(answer, size) for size in wide_enough[:SIZES_TRIED]]
    return next((duct for duct in ducts if duct.found.loss_Pa <= duct.counted_Pa), ducts[0])


def _duct_of(answer: UnitAnswer, diameter_m: float) -> _Duct:
    """A duct of one size in the season in which it loses most."""
    job = answer.job
    length_m = job.number("site.exhaust_duct_length")
    heads = END_VELOCITY_HEADS + ELBOW_VELOCITY_HEADS * job.number("site.exhaust_elbows")
    by_season = {season: _loss(answer, season, diameter_m, length_m, heads) for season in SEASONS}
    season = max(by_season, key=lambda name: by_season[name].loss_Pa)
    tower = _tower(answer, season)
    best_m3_s = blower_best_flow_m3_s(blower_curve(answer.unit.blower))
    # As unit.air_path counts it: with the square of the blower's flow and with the density that the blower handles.
    share = (tower.blower_flow_m3_s / best_m3_s) ** 2 * tower.blower_density_kg_m3 / STANDARD_DENSITY_kg_m3
    counted_Pa = job.number("site.exhaust_duct_loss") * share
    found = by_season[season]
    return _Duct(season, tower, diameter_m, found, length_m, heads, counted_Pa, found.loss_Pa / share)


def _loss(answer: UnitAnswer, season: str, diameter_m: float, length_m: float, velocity_heads: float) -> ExhaustDuct:
    tower = _tower(answer, season)
    return exhaust_duct(
        dry_air_kg_s=tower.dry_air_flow_kg_s,
        temperature_K=tower.rating.air_out_temperature_K,
        humidity_ratio_kg_kg=tower.rating.air_out_humidity_ratio_kg_kg,
        pressure_Pa=answer.job.pressure_Pa,
        area_m2=math.pi / 4.0 * diameter_m**2,
        hydraulic_diameter_m=diameter_m,
        length_m=length_m,
        roughness_m=duct_roughness_m(answer.job.text("choices.exhaust_duct_material")),
        fittings_loss_coefficient=velocity_heads,
    )


def _blower_figures(answer: UnitAnswer) -> tuple[Figure, ...]:
    flow_season = max(SEASONS, key=lambda season: _tower(answer, season).exhaust_flow_m3_s)
    static_season = max(SEASONS, key=lambda season: _tower(answer, season).blower_static_pressure_Pa)
    leaving, pushing = _tower(answer, flow_season), _tower(answer, static_season)
    after = answer.unit.tower.blower_after_fill
    return (
        Figure("ducts", float(answer.unit.towers), "count", "one round duct per tower", label="ducts"),
        Figure(
            "exhaust_flow_m3_s",
            leaving.exhaust_flow_m3_s,
            "air flow",
            f"dry air x volume of the exhaust as it leaves the tower; the greatest of all seasons: {flow_season}",
            (
                Input("dry air of one tower", leaving.dry_air_flow_kg_s, "mass flow"),
                Input("exhaust air", leaving.rating.air_out_temperature_K, "temperature"),
                Input("exhaust air, water in all", leaving.rating.air_out_humidity_ratio_kg_kg, "humidity ratio"),
            ),
            ("properties.moist_air.specific_volume_m3_kg",),
            "exhaust of one tower, actual",
        ),
        Figure(
            "blower_static_pressure_Pa",
            pushing.blower_static_pressure_Pa,
            "pressure",
            "the blower's curve at its flow and the density that it handles, where it meets fill, eliminator and duct;"
            f" the greatest of all seasons: {static_season}",
            (
                Input("air at the blower", pushing.blower_flow_m3_s, "air flow"),
                Input("density at the blower", pushing.blower_density_kg_m3, "density"),
            ),
            ("equipment.blower.blower_operating_flow_m3_s", "equipment.blower.blower_static_pressure_Pa"),
            "static pressure at the blower",
        ),
        Figure(
            "blower_place",
            "after the fill: drags the wet air out of the tower"
            if after
            else "before the fill: pushes the wet air out",
            "text",
            "as the catalogue has the tower",
            label="blower",
        ),
    )


def _duct_figures(answer: UnitAnswer, duct: _Duct) -> tuple[Figure, ...]:
    found, job = duct.found, answer.job
    diameter = Input("exhaust.duct_diameter_m", duct.diameter_m, "short length")
    most_m_s = answer.unit.practice.exhaust_velocity_m_s
    return (
        Figure(
            "duct_diameter_m",
            duct.diameter_m,
            "short length",
            "the smallest even inch from 4 to 48 in which the greatest exhaust flow keeps the shop's velocity and,"
            f" up to {SIZES_TRIED - 1} sizes wider, the loss below what the sizing counted",
            (
                Input("exhaust.exhaust_flow_m3_s", _greatest_flow_m3_s(answer), "air flow"),
                Input("practice.exhaust_velocity_m_s", most_m_s, "velocity"),
            ),
            label="round duct, inside",
        ),
        Figure(
            "duct_velocity_m_s",
            found.velocity_m_s,
            "velocity",
            f"exhaust flow / (pi d^2 / 4), {duct.season}",
            (Input("exhaust flow", duct.tower.exhaust_flow_m3_s, "air flow"), diameter),
            (_DUCT + "exhaust_duct",),
            "velocity in the duct",
        ),
        Figure(
            "duct_loss_Pa",
            found.loss_Pa,
            "pressure",
            f"(f L / d + {END_VELOCITY_HEADS:g} + {ELBOW_VELOCITY_HEADS:g} per elbow) x density / 2 x velocity^2,"
            f" {duct.season}; the velocity heads of end and elbows are common practice, no source",
            (
                Input("exhaust.duct_velocity_m_s", found.velocity_m_s, "velocity"),
                Input("site.exhaust_duct_length", duct.length_m, "length"),
                Input("site.exhaust_elbows", job.number("site.exhaust_elbows"), "count"),
                Input("choices.exhaust_duct_material", job.text("choices.exhaust_duct_material"), "text"),
                diameter,
            ),
            (_DUCT + "exhaust_duct", _DUCT + "duct_roughness_m"),
            "loss of the duct, computed",
        ),
        Figure(
            "duct_loss_counted_Pa",
            duct.counted_Pa,
            "pressure",
            "stated loss x (blower's flow / its best flow)^2 x density at the blower / 1.2 kg/m3, same season; stated"
            " for intake, duct and cap together",
            (
                Input("site.exhaust_duct_loss", job.number("site.exhaust_duct_loss"), "pressure"),
                Input("air at the blower", duct.tower.blower_flow_m3_s, "air flow"),
                Input("density at the blower", duct.tower.blower_density_kg_m3, "density"),
            ),
            ("equipment.blower.blower_best_flow_m3_s",),
            "loss that the sizing counted",
        ),
    )


def _duct_notices(answer: UnitAnswer, duct: _Duct) -> tuple[Notice, ...]:
    notices = list(duct.found.warnings)
    if duct.found.loss_Pa > duct.counted_Pa:
        notices.append(
            Notice(
                "duct loses more than counted",
                "The exhaust duct alone loses {0} where the sizing counted {1} for intake, duct and cap: the tower gets"
                " less air than stated. Put about {2}, and the intake on top, into the job (loss at the blower's rated"
                " flow) and size again, or build the duct wider than {3}.",
                (
                    (duct.found.loss_Pa, "pressure"),
                    (duct.counted_Pa, "pressure"),
                    (duct.rated_Pa, "pressure"),
                    (duct.diameter_m, "short length"),
                ),
            )
        )
    static_Pa = max(_tower(answer, season).blower_static_pressure_Pa for season in SEASONS)
    if answer.unit.tower.blower_after_fill:
        notices.append(
            Notice(
                "blower in the wet air",
                "The blower stands after the fill, in warm wet air: drain its casing, into which the"
                " duct's condensate runs back, and ask for a wheel and shaft seal for wet service. The tower is under"
                " suction: its return and drains need seals deeper than {0}.",
                ((static_Pa, "pressure"),),
            )
        )
    else:
        notices.append(
            Notice(
                "tower under pressure",
                "The blower stands before the fill and pushes: tower and duct are up to {0} above the room, and warm"
                " wet air leaks out of every joint. Seal them; drains and return need seals deeper than that.",
                ((static_Pa, "pressure"),),
            )
        )
    return tuple(notices)


@dataclass(frozen=True)
class _Wet:
    """What the duct condenses in winter; `found` is None where its walls are no colder than the dew point."""

    inlet_K: float  # from which the exhaust condenses
    is_saturated: bool  # it leaves the tower so, or with mist
    room_K: float
    found: DuctCondensate | None


def _condensate(answer: UnitAnswer, duct: _Duct) -> _Wet:
    job, tower = answer.job, _tower(answer, "winter")
    rating = tower.rating
    inlet_K = rating.air_out_temperature_K
    if not rating.air_leaves_misty:
        inlet_K = min(inlet_K, dew_point_temperature_K(rating.air_out_humidity_ratio_kg_kg, job.pressure_Pa))
    is_saturated = inlet_K > rating.air_out_temperature_K - 1.0e-3
    warmed_K = job.air["winter"].outdoor_temperature_K + job.number("site.room_above_outdoors")
    room_K = max(job.number("site.room_winter_temperature"), warmed_K)
    if duct.length_m == 0.0 or inlet_K - room_K <= LEAST_ABOVE_ROOM_difference_K:
        return _Wet(inlet_K, is_saturated, room_K, None)
    found = duct_condensate(
        dry_air_kg_s=tower.dry_air_flow_kg_s,
        inlet_temperature_K=inlet_K,
        pressure_Pa=job.pressure_Pa,
        wall_area_m2=duct.wall_area_m2,
        overall_coefficient_W_m2K=BARE_DUCT_W_m2K,
        surrounding_temperature_K=room_K,
    )
    return _Wet(inlet_K, is_saturated, room_K, found)


def _condensate_figures(answer: UnitAnswer, duct: _Duct, wet: _Wet) -> tuple[Figure, ...]:
    winter = _tower(answer, "winter")
    return (
        Figure(
            "condensing_temperature_K",
            wet.inlet_K,
            "temperature",
            "the exhaust's own temperature where it leaves saturated or misty, else its dew point; winter",
            (
                Input("exhaust air", winter.rating.air_out_temperature_K, "temperature"),
                Input("exhaust air, water in all", winter.rating.air_out_humidity_ratio_kg_kg, "humidity ratio"),
            ),
            ("properties.moist_air.dew_point_temperature_K",),
            "walls colder than this run wet, winter",
        ),
        Figure(
            "duct_condensate_kg_s",
            0.0 if wet.found is None else wet.found.condensate_kg_s,
            "evaporation",
            f"saturated air cooled through bare walls, {BARE_DUCT_W_m2K:g} W/(m2 K) (common practice, no source), by"
            " the room in winter; none where the room is no colder than that temperature",
            (
                Input("exhaust.condensing_temperature_K", wet.inlet_K, "temperature"),
                Input("room in winter", wet.room_K, "temperature"),
                Input("wall of the duct", duct.wall_area_m2, "area"),
                Input("dry air of one tower", winter.dry_air_flow_kg_s, "mass flow"),
            ),
            (_DUCT + "duct_condensate",),
            "condensate of one duct, winter",
        ),
    )


def _condensate_notices(answer: UnitAnswer, wet: _Wet) -> tuple[Notice, ...]:
    notices = [DUCT_DRAINS] if wet.found is None else list(wet.found.notes)
    if not wet.is_saturated:
        notices.append(
            Notice(
                "exhaust below saturation",
                "In winter the exhaust leaves at {0}, below saturation: it condenses only on walls colder than {1}. The"
                " condensate is counted as if it were saturated at that: rather too much.",
                ((_tower(answer, "winter").rating.air_out_temperature_K, "temperature"), (wet.inlet_K, "temperature")),
            )
        )
    return tuple(notices)


def _intake(answer: UnitAnswer) -> tuple[tuple[Figure, ...], tuple[Notice, ...]]:
    job = answer.job
    distance_m, height_m = job.optional("site.intake_distance"), job.number("site.discharge_above_intake")
    # Where the distance is not known, an end high enough is far enough at any.
    found = intake_separation(horizontal_distance_m=distance_m or 0.0, discharge_above_intake_m=height_m)
    notices = found.warnings
    verdict: str | None = "far enough" if found.is_apart else "too near"
    if distance_m is None and not found.is_apart:
        verdict = None
        notices = (
            Notice(
                "intake not stated",
                "Where the nearest air intake is, is not stated: the model code asks for {0} to it, or for an end at"
                " least {1} above a nearer one.",
                ((found.least_distance_m, "length"), (found.least_height_m, "length")),
            ),
        )
    distance = Input("site.intake_distance", "not given", "text")
    if distance_m is not None:
        distance = Input("site.intake_distance", distance_m, "length")
    height = Input("site.discharge_above_intake", height_m, "length")
    functions = (_DUCT + "intake_separation",)
    return (
        Figure(
            "least_intake_distance_m",
            found.least_distance_m,
            "length",
            "10 ft level distance, or the end at least 3 ft above a nearer intake",
            (),
            functions,
            "distance to an air intake that the model code asks for",
        ),
        Figure(
            "intake_verdict",
            verdict,
            "text",
            "distance and height against the model code; the local code and the permit decide",
            (distance, height),
            functions,
            "nearest air intake",
            "distance not given",
        ),
    ), notices


def _plume(answer: UnitAnswer) -> tuple[tuple[Figure, ...], tuple[Notice, ...]]:
    job, rating = answer.job, _tower(answer, "winter").rating
    air = job.air["winter"]
    plume = exhaust_plume(
        exhaust_temperature_K=rating.air_out_temperature_K,
        exhaust_humidity_ratio_kg_kg=rating.air_out_humidity_ratio_kg_kg,
        outdoor_temperature_K=air.outdoor_temperature_K,
        outdoor_humidity_ratio_kg_kg=air.humidity_ratio_kg_kg,
        pressure_Pa=job.pressure_Pa,
    )
    inputs = (
        Input("exhaust air", rating.air_out_temperature_K, "temperature"),
        Input("exhaust air, water in all", rating.air_out_humidity_ratio_kg_kg, "humidity ratio"),
        Input("site.winter.air_temperature", air.outdoor_temperature_K, "temperature"),
        Input("outdoor air", air.humidity_ratio_kg_kg, "humidity ratio"),
    )
    functions = ("equipment.plume.exhaust_plume",)
    never = "never: saturated outdoor air" if plume.is_visible else "no plume"
    figures = (
        Figure(
            "plume_winter",
            "visible" if plume.is_visible else "not visible",
            "text",
            "visible where the line of all mixes of exhaust and outdoor air crosses saturation; the exhaust as it"
            " leaves the tower",
            inputs,
            functions,
            "plume in winter",
        ),
        Figure(
            "plume_fog_kg_kg",
            plume.greatest_liquid_kg_kg,
            "humidity ratio",
            "greatest height of that line above saturation: liquid water per dry air of the mix",
            inputs,
            functions,
            "fog at its densest",
        ),
        Figure(
            "plume_clears_kg_kg",
            plume.clears_ratio,
            "ratio",
            "outdoor air over exhaust, dry, where that line falls below saturation for good",
            inputs,
            functions,
            "outdoor air per exhaust at which the plume is gone",
            never,
        ),
    )
    if not plume.is_visible:
        return figures, ()
    until = "saturated outdoor air does not clear it"
    shown: tuple[tuple[float, str], ...] = ()
    if plume.clears_ratio is not None:
        until, shown = "it clears once {0} times as much outdoor air is mixed in", ((plume.clears_ratio, "ratio"),)
    text = (
        f"The exhaust shows as a white plume in winter; {until}. Lead it away from walkways, roads, intakes and"
        " windows: it wets and ices what it touches."
    )
    return figures, (Notice("visible plume", text, shown),)


def _freeze_notices(job: Job) -> tuple[Notice, ...]:
    outdoor_K = job.air["winter"].outdoor_temperature_K
    if outdoor_K >= ZERO_CELSIUS_K:
        return ()
    return (
        Notice(
            "freezing",
            "Outdoors falls to {0}: every wet leg must drain back when the unit stops (spray riser, header, tower sump,"
            " duct drains and their seals, feed line); heat-trace and insulate what does not. Duct outdoors ices at its"
            " end.",
            ((outdoor_K, "temperature"),),
        ),
    )
