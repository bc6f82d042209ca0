"""Choosing a unit for a duty from the whole catalogue, and the few others that an engineer would weigh against it.

Common practice sizes for the middle of the range, not for its end: the duty takes no more of the unit's worst season
than the shop's margin, and the tower holds the tank below its clamp by another margin, in summer with the heat full on.

Choice, among the units that do both, that nothing stands against and that no other equals or beats in everything: the
smallest installed heat input, then the fewest towers, then the least electric power, then the least floor; power and
floor within a hundredth are equal.

Shown beside it: for each of GAINS in which no unit shown so far beats the chosen one by enough to matter, the first
unit that does, in the same order, on that size of heat source or the next. A larger one would only idle more. Which
towers and how many come into it: see vaporwright.unit.candidates.

Where no unit is clean, the best that remains is chosen and what is wrong with it is said: see STANDINGS.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from vaporwright.foundation.errors import InputError
from vaporwright.foundation.notice import Notice
from vaporwright.foundation.telling import Report, unheard
from vaporwright.unit.answer import TIE_SHARE, UnitAnswer, answer_for, required_kg_s
from vaporwright.unit.candidates import Candidate, Criteria, Survey, heat_source_sizes, out_of_place
from vaporwright.unit.catalogue import Catalogue, HeatSourcePart
from vaporwright.unit.heat import kind_of
from vaporwright.unit.job import Job

CLEAN, CYCLES, TIGHT, CONFLICT, TIGHT_CONFLICT, MISS = range(6)
STANDINGS: Final = {  # best first
    CLEAN: "the smallest that meets the duty",
    CYCLES: "meets the duty, but in summer its tower does not hold the tank clear of its clamp: the heat cycles",
    TIGHT: "meets the duty, but not with the shop's margin",
    CONFLICT: "would meet the duty, but something stands against building it",
    TIGHT_CONFLICT: "would meet the duty, but not with the shop's margin, and something stands against building it",
    MISS: "the nearest miss; no unit of the catalogue meets the duty",
}
TRYING: Final = "Trying units of the catalogue"
AS_NEAR_SHARE: Final = 0.02  # of the capacity: units that miss the duty by so nearly the same are equal misses
DRAWN: Final = {"gas": "fuel", "electric": "electric heat", "steam": "steam"}


@dataclass(frozen=True)
class Gain:
    """One thing that an engineer weighs; less is better. What of it matters is common practice, no source."""

    value: Callable[[Criteria], float]
    as_share: bool  # differences count as shares of the other unit's figure, else as they are
    equal: float  # differences up to this are the searches' own
    mentioned: float  # in a sentence
    matters: float  # makes a unit worth showing
    quantity: str  # as which a difference is told; shares as "fraction"
    better: str
    worse: str

    def lead(self, of: Criteria, over: Criteria) -> float:
        """By how much one unit is better than another; negative where it is worse."""
        difference = self.value(over) - self.value(of)
        return difference / abs(self.value(over)) if self.as_share else difference


FUEL: Final = Gain(
    lambda unit: unit.heat_per_volume_J_m3,
    as_share=True,
    equal=1.0e-3,
    mentioned=0.005,
    matters=0.02,
    quantity="fraction",
    better="{} less {drawn} per volume evaporated",
    worse="{} more {drawn} per volume evaporated",
)
POWER: Final = Gain(
    lambda unit: unit.power_W,
    as_share=True,
    equal=1.0e-3,
    mentioned=0.01,
    matters=0.05,
    quantity="fraction",
    better="{} less electric power",
    worse="{} more electric power",
)
FLOOR: Final = Gain(
    lambda unit: unit.floor_area_m2,
    as_share=True,
    equal=1.0e-3,
    mentioned=0.01,
    matters=0.05,
    quantity="area",
    better="{} less floor",
    worse="{} more floor",
)
COOLER: Final = Gain(
    lambda unit: -unit.below_clamp_difference_K,
    as_share=False,
    equal=0.05,
    mentioned=0.5,
    matters=3.0,
    quantity="temperature difference",
    better="a tank {} further below its clamp in summer",
    worse="a tank {} nearer its clamp in summer",
)
RESERVE: Final = Gain(
    lambda unit: unit.share_of_capacity,
    as_share=False,
    equal=1.0e-3,
    mentioned=0.01,
    matters=0.05,
    quantity="fraction",
    better="{} more of its capacity in reserve",
    worse="{} less of its capacity in reserve",
)
GAINS: Final = (FUEL, POWER, FLOOR, COOLER, RESERVE)
INPUT: Final = Gain(
    lambda unit: unit.installed_input_W,
    as_share=True,
    equal=1.0e-6,
    mentioned=1.0e-6,
    matters=math.inf,
    quantity="heat",
    better="{} less heat input",
    worse="{} more heat input",
)
TOWERS: Final = Gain(
    lambda unit: float(unit.towers),
    as_share=False,
    equal=0.0,
    mentioned=1.0,
    matters=math.inf,
    quantity="count",
    better="a count of towers {} lower",
    worse="a count of towers {} higher",
)
WEIGHED: Final = (*GAINS, INPUT, TOWERS)


@dataclass(frozen=True)
class Sizing:
    """The chosen unit's answer, the units worth showing beside it, and all that was tried."""

    answer: UnitAnswer
    shown: tuple[Candidate, ...]  # the chosen one first; each has its criteria and its why
    tried: tuple[Candidate, ...]  # in order


def size_unit(job: Job, catalogue: Catalogue, report: Report = unheard) -> Sizing:
    """Choose a unit from the catalogue for a job; the nearest miss where none meets the duty.

    `report` is told how many units were tried; how many it will be is not known before, for it ends when one fits.

    Raises InputError where the catalogue has no part of the kind that the job asks for.
    """
    sizes = heat_source_sizes(job, catalogue, required_kg_s(job))
    choice = _Choice(Survey(job, catalogue), sizes, report)
    tried = choice.clean_survey()
    pool = [candidate for candidate in tried if choice.standing(candidate) == CLEAN]
    for most_share in () if pool else (1.0, math.inf):
        tried = choice.whole_survey(most_share)
        pool = choice.best_standing(tried)
        if pool:
            break
    if not pool:
        reasons = "; ".join(f"{candidate.unit.label()}: {candidate.verdict}" for candidate in tried[-3:])
        raise InputError("catalogue", "tower", f"no tower of the catalogue works on this job ({reasons})")
    shown = choice.shown(pool)
    chosen_at = {id(found): replaced for found, replaced in shown}
    others = [found for found, _ in shown]
    tried = [chosen_at.get(id(candidate)) or choice.dropped(candidate, others) for candidate in tried]
    return Sizing(answer_for(job, shown[0][0].unit), tuple(replaced for _, replaced in shown), tuple(tried))


class _Choice:
    """Standing, order and reasons of the candidates of one survey."""

    def __init__(self, survey: Survey, sizes: Sequence[Sequence[HeatSourcePart]], report: Report) -> None:
        self.survey, self.sizes, self.practice = survey, sizes, survey.practice
        self.report, self.counted = report, 0
        self.drawn = DRAWN[kind_of(sizes[0][0])]
        if survey.job.text("site.air_supply") == "room":
            self.drawn += " and room heat"
        self.size_of = {part.part_id: number for number, size in enumerate(sizes) for part in size}

    def clean_survey(self) -> list[Candidate]:
        """Every size of heat source up to the first with a clean unit, and the next; all of them where none has."""
        tried: list[Candidate] = []
        first: Sequence[HeatSourcePart] | None = None
        for size in self.sizes:
            if first and out_of_place(self.survey.job, first[0]) != out_of_place(self.survey.job, size[0]):
                break
            found = self._of(size, self.practice.most_share_of_capacity, clean=True)
            tried += found
            if first:
                break
            if any(self.standing(candidate) == CLEAN for candidate in found):
                first = size
        return tried

    def whole_survey(self, most_share: float) -> list[Candidate]:
        """Every size of heat source, whatever stands against a unit."""
        return [found for size in self.sizes for found in self._of(size, most_share, clean=False)]

    def _of(self, size: Sequence[HeatSourcePart], most_share: float, *, clean: bool) -> list[Candidate]:
        found = []
        for source in size:
            for candidate in self.survey.candidates(source, most_share, clean=clean):
                found.append(candidate)
                self.counted += 1
                self.report(TRYING, self.counted)
        return found

    def standing(self, candidate: Candidate) -> int | None:
        """How good a unit is as an answer; None where it could not be rated, or was dropped before."""
        if candidate.criteria is None:
            return None
        share = candidate.criteria.share_of_capacity
        if share > 1.0:
            return MISS
        if share > self.practice.most_share_of_capacity:
            return TIGHT_CONFLICT if candidate.conflicts else TIGHT
        if candidate.conflicts:
            return CONFLICT
        return CLEAN if candidate.clear_of_clamp else CYCLES

    def best_standing(self, tried: Sequence[Candidate]) -> list[Candidate]:
        """Those equally near to being an answer; none where none was rated."""
        standings = [standing for standing in map(self.standing, tried) if standing is not None]
        if not standings:
            return []
        best = min(standings)
        pool = [candidate for candidate in tried if self.standing(candidate) == best]
        if best in (TIGHT, TIGHT_CONFLICT, MISS):
            least = min(_criteria(candidate).share_of_capacity for candidate in pool)
            most = least / (1.0 - AS_NEAR_SHARE)
            pool = [candidate for candidate in pool if _criteria(candidate).share_of_capacity <= most]
        fewest = min(len(candidate.conflicts) for candidate in pool)
        pool = [candidate for candidate in pool if len(candidate.conflicts) == fewest]
        clear = [candidate for candidate in pool if candidate.clear_of_clamp]
        return clear or pool

    def first(self, pool: Sequence[Candidate]) -> Candidate:
        """The first in the order of choice; of equals, that with the least part numbers."""
        left = list(pool)
        measures: tuple[tuple[Callable[[Candidate], float], float], ...] = (
            (lambda found: self.size_of[found.unit.heat_source.part_id], 0.0),
            (lambda found: found.unit.towers, 0.0),
            (lambda found: _criteria(found).power_W, TIE_SHARE),
            (lambda found: _criteria(found).floor_area_m2, TIE_SHARE),
        )
        for measure, tie in measures:
            least = min(map(measure, left))
            left = [candidate for candidate in left if measure(candidate) <= (1.0 + tie) * least]
        return min(left, key=_part_ids)

    def shown(self, pool: Sequence[Candidate]) -> list[tuple[Candidate, Candidate]]:
        """Candidates to show, as found and with verdict and why; the chosen one first."""
        standing = self.standing(pool[0])
        assert standing is not None
        left = [found for found in pool if not any(_dominates(other, found) for other in pool)]
        chosen = self.first(left)
        verdict = f"chosen: {STANDINGS[standing]}"
        if chosen.conflicts:
            verdict += f" ({'; '.join(chosen.conflicts)})"
        shown = [(chosen, replace(chosen, verdict=verdict, why=_why_chosen(chosen, standing)))]
        if standing != CLEAN:
            return shown
        for gain in GAINS:
            if len(shown) >= round(self.practice.candidates_shown):
                break
            better = [found for found in left if _gains(gain, found, chosen)]
            if not better or any(_gains(gain, found, chosen) for found, _ in shown):
                continue
            found = self.first(better)
            why = _why_shown(found, chosen, self.drawn)
            shown.append((found, replace(found, verdict="meets the duty; shown", why=why)))
        return shown

    def dropped(self, candidate: Candidate, shown: Sequence[Candidate]) -> Candidate:
        """A candidate that is not shown, with the reason."""
        if self.standing(candidate) != CLEAN:
            return candidate
        beaten_by = next((other for other in shown if _dominates(other, candidate)), None)
        reason = f"no better in anything than {beaten_by.unit.label()}" if beaten_by else "later in the order of choice"
        return replace(candidate, verdict=f"meets the duty; {reason}")


def _criteria(candidate: Candidate) -> Criteria:
    assert candidate.criteria is not None
    return candidate.criteria


def _part_ids(candidate: Candidate) -> tuple[str, ...]:
    unit = candidate.unit
    return (unit.heat_source.part_id, unit.tower.part_id, unit.tank.part_id, unit.pump.part_id)


def _dominates(one: Candidate, other: Candidate) -> bool:
    """Whether a unit is as good as another in everything and better in something."""
    leads = [(gain.lead(_criteria(one), _criteria(other)), gain.equal) for gain in WEIGHED]
    return all(lead >= -equal for lead, equal in leads) and any(lead > equal for lead, equal in leads)


def _gains(gain: Gain, one: Candidate, other: Candidate) -> bool:
    return gain.lead(_criteria(one), _criteria(other)) >= gain.matters


def _why_chosen(chosen: Candidate, standing: int) -> Notice:
    criteria = _criteria(chosen)
    text = f"{STANDINGS[standing]}: the duty takes {{0}} of it in {criteria.governing}"
    text = text[0].upper() + text[1:] + ", and in summer the tank settles {1} below its clamp."
    if chosen.conflicts:
        text += " Against it: " + "; ".join(chosen.conflicts).replace("{", "{{").replace("}", "}}") + "."
    figures = (
        (criteria.share_of_capacity, "fraction"),
        (criteria.below_clamp_difference_K, "temperature difference"),
    )
    return Notice("choice", text, figures)


def _why_shown(found: Candidate, chosen: Candidate, drawn: str) -> Notice:
    """What a unit does better than the chosen one, and what that takes."""
    figures: list[tuple[float, str]] = []

    def phrases(sign: float) -> Iterator[str]:
        for gain in WEIGHED:
            lead = sign * gain.lead(_criteria(found), _criteria(chosen))
            if lead < gain.mentioned:
                continue
            amount = abs(gain.value(_criteria(found)) - gain.value(_criteria(chosen)))
            text = gain.better if sign > 0.0 else gain.worse
            figures.append((lead if gain.quantity == "fraction" else amount, gain.quantity))
            yield text.format(f"{{{len(figures) - 1}}}", drawn=drawn)

    gained, paid = list(phrases(1.0)), list(phrases(-1.0))
    text = f"{_and(gained)}, for {_and(paid)}." if paid else f"{_and(gained)}."
    return Notice("choice", text[0].upper() + text[1:], tuple(figures))


def _and(words: Sequence[str]) -> str:
    return ", ".join(words[:-1]) + " and " + words[-1] if len(words) > 1 else "".join(words)
