"""The answer to an enquiry: what a unit does over the seasons, against the duty, with everything assumed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from vaporwright.foundation.notice import Notice, merged
from vaporwright.unit.assembly import AssembledUnit, WATER_DENSITY_kg_m3
from vaporwright.unit.balance import SeasonResult, conditions_of, settle
from vaporwright.unit.job import SEASONS, Job
from vaporwright.unit.warm_up import WarmUp, warm_up

TIE_SHARE = 0.01  # seasons closer than this are as good as equal


@dataclass(frozen=True)
class UnitAnswer:
    """One unit on one job. Flows in kg/s of water evaporated."""

    job: Job
    unit: AssembledUnit
    seasons: Mapping[str, SeasonResult]
    governing: str  # the season with the least capacity
    end_of_batch: SeasonResult  # the governing season at the batch's last strength
    required_kg_s: float  # what the duty needs while running
    warm_up: WarmUp

    @property
    def capacity_kg_s(self) -> float:
        """Evaporation of the governing season."""
        return self.seasons[self.governing].evaporation_kg_s

    @property
    def share_of_capacity(self) -> float:
        """Where the duty sits in the unit's range: required over capacity, 1 is the very end."""
        return self.required_kg_s / self.capacity_kg_s

    @property
    def meets_duty(self) -> bool:
        """The unit evaporates at least what the duty needs, in every season."""
        return self.share_of_capacity <= 1.0

    @property
    def warnings(self) -> tuple[Notice, ...]:
        """Warnings of all seasons, each once, with the seasons that raise it."""
        return merged({season: result.warnings for season, result in self.seasons.items()})


def required_kg_s(job: Job) -> float:
    """Water that the duty needs evaporated while the unit runs [kg/s]."""
    return job.duty.evaporation_m3_s * WATER_DENSITY_kg_m3


def governing_season(seasons: Mapping[str, SeasonResult]) -> str:
    """The season with the least capacity; the average counts only where it is clearly the least."""
    worst = min(("summer", "winter"), key=lambda season: seasons[season].evaporation_kg_s)
    average = seasons["average"].evaporation_kg_s
    return "average" if average < (1.0 - TIE_SHARE) * seasons[worst].evaporation_kg_s else worst


def answer_for(job: Job, unit: AssembledUnit) -> UnitAnswer:
    """Rate a unit over the seasons of a job, at the end of a batch, and through warm-up."""
    seasons = {season: settle(unit, conditions_of(job, season)) for season in SEASONS}
    governing = governing_season(seasons)
    end = settle(unit, conditions_of(job, governing, end_of_batch=True), near=seasons[governing])
    return UnitAnswer(job, unit, seasons, governing, end, required_kg_s(job), warm_up(unit, seasons[governing]))


def held_at(answer: UnitAnswer, set_point_K: float) -> UnitAnswer:
    """The same unit where its control holds the tank at a set point under the clamp; at or over it, as it was.

    A season that settles colder stays as it is. One that would settle hotter evaporates what its tower does there.
    """
    if set_point_K >= answer.seasons[answer.governing].conditions.set_point_K:
        return answer

    def held(result: SeasonResult) -> SeasonResult:
        return settle(answer.unit, replace(result.conditions, set_point_K=set_point_K), near=result)

    seasons = {season: held(result) for season, result in answer.seasons.items()}
    governing = governing_season(seasons)
    end = conditions_of(answer.job, governing, end_of_batch=True)
    end_of_batch = settle(answer.unit, replace(end, set_point_K=set_point_K), near=seasons[governing])
    return replace(answer, seasons=seasons, governing=governing, end_of_batch=end_of_batch)
