"""The air and the feed that a simulated unit stands in: a season of its job, or the day of a test opened on the job."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from vaporwright.acceptance.steps.day import CLEAN_WATER_VARIANTS, DayConditions, answer_on
from vaporwright.acceptance.steps.procedure import Procedure
from vaporwright.controls.rehearsal import rig_of
from vaporwright.controls.rig import Rig
from vaporwright.controls.unit_table import UnitTable
from vaporwright.foundation.errors import InputError
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.job import SEASONS

DAY: Final = "day "  # before the run's name, in the key of a test's day


@dataclass(frozen=True)
class Surroundings:
    """What a unit stands in, SI; what it comes to there is known once it was worked out."""

    key: str
    title: str
    air_temperature_K: float
    wet_bulb_K: float
    feed_temperature_K: float
    settles_K: float | None = None
    evaporates_kg_s: float | None = None
    governs: bool = False  # the season for which the unit was sized
    day: DayConditions | None = None
    clean_water: bool = False

    def worked_out(self, rig: Rig) -> Surroundings:
        """With what the unit comes to there."""
        season = rig.season
        return replace(self, settles_K=season.settling_temperature_K, evaporates_kg_s=season.evaporation_kg_s)


def seasons_of(answer: UnitAnswer) -> tuple[Surroundings, ...]:
    """The seasons of a job, as its unit was rated in them."""
    found = []
    for season in SEASONS:
        result, air = answer.seasons[season], answer.job.air[season]
        found.append(
            Surroundings(
                season,
                f"{season} of the job",
                air.temperature_K,
                air.wet_bulb_temperature_K,
                result.conditions.feed_temperature_K,
                result.settling_temperature_K,
                result.evaporation_kg_s,
                season == answer.governing,
            )
        )
    return tuple(found)


def day_of_test(run: str, procedure: Procedure) -> Surroundings | None:
    """The day of a test, from its procedure: the shop's air and feed, on clean water where the test was on it.

    None where the record, of whatever age and program it is, does not say the whole day.
    """
    try:
        day = DayConditions(**procedure.conditions)
    except TypeError:  # a key is missing, or one too many
        return None
    clean = procedure.variant in CLEAN_WATER_VARIANTS
    title = f"the day of test {run}, {'clean water' if clean else 'on the liquor'}"
    return Surroundings(
        f"{DAY}{run}",
        title,
        day.air_temperature_K,
        day.wet_bulb_K,
        day.water_temperature_K,
        day=day,
        clean_water=clean,
    )


def chosen(offered: Sequence[Surroundings], key: str) -> Surroundings:
    """The one of a key; the one that governs where none is asked for. Raises InputError where it is not offered."""
    found = [one for one in offered if (one.key == key if key else one.governs)]
    if not found:
        allowed = ", ".join(one.key for one in offered)
        raise InputError("simulated unit", "air", f'"{key[:60]}" is not offered', allowed)
    return found[0]


def rig_in(answer: UnitAnswer, table: UnitTable, where: Surroundings) -> Rig:
    """What a simulated unit is made of in these surroundings; takes under a second.

    Raises: OutOfRange, InputError and NotConverged from the unit's parts, each naming its variable.
    """
    if where.day is None:
        return rig_of(answer, table, where.key)
    return rig_of(answer_on(answer, where.day, clean_water=where.clean_water), table)
