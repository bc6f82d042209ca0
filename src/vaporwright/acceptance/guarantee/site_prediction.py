"""What a performance run guarantees at the customer's site: one number, plus or minus one figure.

The readings, taken on clean water in the shop's air, are explained by a unit that differs from its design by a few
factors (`unit_fit`); that unit is then rated under the conditions of the guarantee: the job's seasons, liquor,
elevation, supply and duct. `capability_percent` is what it evaporates there, in the design's governing season, over
what was guaranteed.

What carries over from the shop to the site, and how far it may differ there, is in `unit_terms`. A burner is derated
for the site's altitude by the model; the factor found on the nameplate is taken to stay.

Uncertainty, by either of two ways with the same result:

    linearised     slopes of the site's capacity in every term, gains of every source on the terms (GUM, JCGM 100).
                   Besides the interval it tells which reading brings how much of it.
    monte carlo    readings, prior terms and steps to the site drawn at random, fitted and settled anew each time
                   (JCGM 101); for a unit near its clamp, where the slopes change.

A prediction is no approval of a burner, a circuit or a hot tank: those tests, local code and licensed practice decide.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple, TypeAlias

from vaporwright.acceptance.guarantee.fit_readings import RUN
from vaporwright.acceptance.guarantee.unit_fit import (
    MISFIT_NOTICE,
    UnitFit,
    factors_of,
    fit_unit,
    losses_W,
    told_apart,
)
from vaporwright.acceptance.guarantee.unit_terms import CONFUSED, TERMS, UNTOLD, Term
from vaporwright.acceptance.run.log import Measured, SteadyReadings
from vaporwright.acceptance.run.uncertainty import (
    COVERAGE_FACTOR,
    LEAST_DRAWS,
    combined_standard_uncertainty,
    coverage_interval,
)
from vaporwright.foundation.errors import InputError, NotConverged, VaporwrightError
from vaporwright.foundation.notice import Notice
from vaporwright.foundation.register import sourced
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.as_found import as_found
from vaporwright.unit.balance import LIMIT_HEAT, Conditions, SeasonResult, settle
from vaporwright.unit.job import SEASONS

Method: TypeAlias = Literal["linearised", "monte carlo"]
DRAWS: Final = 1000
STEP_SHARE: Final = 1.0  # of what is uncertain about a term at the site: half the width of the difference for a slope
LEAST_STEP: Final = 0.004  # above the noise of a settled balance


@dataclass(frozen=True)
class Contribution:
    """What one source brings to the uncertainty of the capability."""

    key: str
    label: str
    standard_uncertainty_percent: float  # of the capability, in its percent
    share: float  # of the variance


@dataclass(frozen=True)
class FittedFactor:
    """A factor of the unit as found, over its design."""

    name: str
    label: str
    value: float
    standard_uncertainty: float  # of the factor
    told: bool  # the readings say more of it than was known before
    apart: bool  # it can be told from the other factors


@dataclass(frozen=True)
class SeasonPrediction:
    """The unit as found, at the site in one season."""

    capacity_kg_s: Measured
    settling_temperature_K: Measured
    evaporation_per_drawn_kg_J: Measured  # over gross fuel, power, or heat of the steam
    limit: str


@dataclass(frozen=True)
class SitePrediction:
    """What the run guarantees. Percentages are of `guarantee_kg_s`."""

    capability_percent: float
    standard_uncertainty_percent: float
    interval_percent: tuple[float, float]  # 95 %
    guarantee_kg_s: float
    governing: str
    seasons: Mapping[str, SeasonPrediction]
    factors: tuple[FittedFactor, ...]
    contributions: tuple[Contribution, ...]  # largest first; empty by Monte Carlo
    far_off: tuple[tuple[str, float], ...]  # sources by how far, in their standard deviations, they are from the rest
    misfit: float  # normal deviate of the sum of squares
    notices: tuple[Notice, ...]
    departures: tuple[str, ...]  # of the test from its stated limits, as handed in
    method: Method

    @property
    def half_width_percent(self) -> float:
        """The one figure behind the plus or minus, 95 %."""
        return 0.5 * (self.interval_percent[1] - self.interval_percent[0])

    @property
    def half_of_it(self) -> tuple[Contribution, ...]:
        """The largest contributions that together bring at least half of the variance."""
        kept, sum_of_shares = [], 0.0
        for entry in self.contributions:
            if sum_of_shares >= 0.5:
                break
            kept.append(entry)
            sum_of_shares += entry.share
        return tuple(kept)


class _Settled(NamedTuple):
    """Logarithms, and the temperature."""

    capacity: float
    per_drawn: float
    temperature_K: float
    limit: str


class _Slopes(NamedTuple):
    """Slopes of one season's results in each site term."""

    capacity: list[float]
    per_drawn: list[float]
    temperature_K: list[float]


class _Site:
    """The unit as found in one season of the guarantee."""

    def __init__(self, answer: UnitAnswer, season: str) -> None:
        self.unit = answer.unit
        self.near: SeasonResult = answer.seasons[season]
        self.conditions: Conditions = self.near.conditions
        self.losses_share = losses_W(self.near.operation.energy) / self.near.heat_W

    def at(self, terms: dict[str, float]) -> _Settled:
        """What the unit does there. More losses are taken off the heat, as share of it as designed."""
        kept = 1.0 - (math.exp(terms["losses"]) - 1.0) * self.losses_share
        found = factors_of(terms | {"heat": terms["heat"] + math.log(kept)})
        unit, conditions = as_found(self.unit, self.conditions, found)
        try:
            result = settle(unit, conditions, near=self.near)
        except NotConverged:  # too far from the design to start from it
            result = settle(unit, conditions)
        capacity = math.log(result.evaporation_kg_s) + terms["vapour"]
        drawn = math.log(result.fuel_or_power_W)
        if result.heat.kind == "steam":  # what condenses is what the losses took, too
            drawn -= math.log(kept)
        return _Settled(capacity, capacity - drawn, result.settling_temperature_K, result.limit)


@sourced("site-prediction", "fit of the unit, rating of the fitted unit at the conditions of the guarantee")
@sourced("gum", "5.1.2, sensitivities by differences (5.1.3)")
def predict_site(
    readings: SteadyReadings,
    conditions: Conditions,
    answer: UnitAnswer,
    *,
    guarantee_kg_s: float | None = None,
    departures: tuple[str, ...] = (),
    seasons: tuple[str, ...] = SEASONS,
) -> SitePrediction:
    """The site's capacity from a performance run, its 95 % interval linearised.

    Args:
        readings: means over the steady span of the run, with standard uncertainties.
        conditions: of the test: those of the day, on clean water (acceptance.steps.day.answer_on).
        answer: the unit on the job, under the conditions of the guarantee.
        guarantee_kg_s [kg/s]: evaporation guaranteed; None is the design's capacity in its governing season.
        departures: of the test from its stated limits; carried into the result.
        seasons: which to predict; the governing one is always among them.
    Raises: InputError where readings are nonsense, contradict each other, or describe a unit that cannot be rated at
        the site.
    """
    guarantee = _guarantee(answer, guarantee_kg_s)
    fit = fit_unit(readings, conditions, answer.unit)
    wanted = [season for season in SEASONS if season in seasons or season == answer.governing]
    sites = {season: _Site(answer, season) for season in wanted}
    at = {season: _settled(site, _site_terms(fit)) for season, site in sites.items()}
    slopes = {season: _slopes(fit, site) for season, site in sites.items()}
    governing = slopes[answer.governing].capacity
    percent = 100.0 * math.exp(at[answer.governing].capacity) / guarantee
    contributions = _contributions(fit, governing, percent)
    standard = combined_standard_uncertainty([entry.standard_uncertainty_percent for entry in contributions])
    half = COVERAGE_FACTOR * standard
    return SitePrediction(
        capability_percent=percent,
        standard_uncertainty_percent=standard,
        interval_percent=(percent - half, percent + half),
        guarantee_kg_s=guarantee,
        governing=answer.governing,
        seasons={season: _season(fit, at[season], slopes[season]) for season in wanted},
        factors=_factors(fit),
        contributions=contributions,
        far_off=_far_off(fit),
        misfit=fit.misfit,
        notices=(*_notices(fit), *_held_notice(answer)),
        departures=departures,
        method="linearised",
    )


@sourced("site-prediction", "fit of the unit, rating of the fitted unit at the conditions of the guarantee")
@sourced("jcgm-101-2008", "clause 7: propagation of distributions")
def predict_site_by_monte_carlo(
    readings: SteadyReadings,
    conditions: Conditions,
    answer: UnitAnswer,
    *,
    guarantee_kg_s: float | None = None,
    departures: tuple[str, ...] = (),
    draws: int = DRAWS,
    seed: int = 1,
) -> SitePrediction:
    """The same prediction in the governing season, every draw fitted and settled anew; normal distributions.

    Args: as predict_site; draws: at least 100; seed: of the random numbers, so that a record can be worked out again.
    Raises: as predict_site, and InputError where a draw describes a unit that cannot be rated.
    """
    if draws < LEAST_DRAWS:
        raise InputError(RUN, "draws", f"{draws}", f"at least {LEAST_DRAWS}")
    guarantee = _guarantee(answer, guarantee_kg_s)
    fit = fit_unit(readings, conditions, answer.unit)
    site = _Site(answer, answer.governing)
    settled = _drawn(fit, site, draws, seed)
    capacities = [math.exp(entry.capacity) for entry in settled]
    best = _settled(site, _site_terms(fit))
    low, high = coverage_interval(capacities)
    to_percent = 100.0 / guarantee
    capacity = _mean_of(capacities)
    season = SeasonPrediction(
        capacity,
        _mean_of([entry.temperature_K for entry in settled]),
        _mean_of([math.exp(entry.per_drawn) for entry in settled]),
        best.limit,
    )
    return SitePrediction(
        capability_percent=capacity.value * to_percent,
        standard_uncertainty_percent=capacity.standard_uncertainty * to_percent,
        interval_percent=(low * to_percent, high * to_percent),
        guarantee_kg_s=guarantee,
        governing=answer.governing,
        seasons={answer.governing: season},
        factors=_factors(fit),
        contributions=(),
        far_off=_far_off(fit),
        misfit=fit.misfit,
        notices=(*_notices(fit), *_held_notice(answer)),
        departures=departures,
        method="monte carlo",
    )


def _drawn(fit: UnitFit, site: _Site, draws: int, seed: int) -> list[_Settled]:
    """The unit at the site, of so many draws of every source and of every step to the site."""
    import numpy as np

    random = np.random.default_rng(seed)
    found = []
    for _ in range(draws):
        shifts = np.asarray(random.standard_normal(fit.gain.shape[1]))
        try:
            values = fit.again(shifts)
        except VaporwrightError as error:
            raise InputError(RUN, "readings", f"a draw describes no unit that can be rated ({error})") from error
        terms = _site_terms(fit, values)
        for term in _terms(fit):
            terms[term.name] += term.carried[fit.heat] * float(random.standard_normal())
        found.append(_settled(site, terms))
    return found


def _mean_of(draws: list[float]) -> Measured:
    mean = math.fsum(draws) / len(draws)
    return Measured(mean, math.sqrt(math.fsum((draw - mean) ** 2 for draw in draws) / (len(draws) - 1)))


def _guarantee(answer: UnitAnswer, stated_kg_s: float | None) -> float:
    guarantee = answer.capacity_kg_s if stated_kg_s is None else stated_kg_s
    if not (math.isfinite(guarantee) and guarantee > 0.0):
        raise InputError(RUN, "guarantee_kg_s", f"{guarantee:.6g}", "above 0 (kg/s)")
    return guarantee


def _terms(fit: UnitFit) -> list[Term]:
    return [term for term in TERMS if term.applies(fit.heat)]


def _site_terms(fit: UnitFit, values: object = None) -> dict[str, float]:
    """The unit's terms as they carry over, by name."""
    taken = fit.values if values is None else values
    found = {}
    for term in _terms(fit):
        place = fit.place(term.name)
        assert place is not None
        found[term.name] = float(taken[place])  # type: ignore[index]
    return found


def _settled(site: _Site, terms: dict[str, float]) -> _Settled:
    try:
        return site.at(terms)
    except VaporwrightError as error:
        problem = f"the unit they describe cannot be rated in the site's {site.near.season} ({error})"
        raise InputError(RUN, "readings", problem, "check every channel, then the heat source") from error


def _spread_at_site(fit: UnitFit, term: Term) -> float:
    """Standard uncertainty of a term at the site."""
    place = fit.place(term.name)
    assert place is not None
    own = math.sqrt(float(fit.covariance[place, place])) * float(fit.spreads[place])
    return math.hypot(own, term.carried[fit.heat])


def _slopes(fit: UnitFit, site: _Site) -> _Slopes:
    """Slopes over what is uncertain, not at a point: a capacity bends where the clamp is near."""
    slopes = _Slopes([], [], [])
    here = _site_terms(fit)
    for term in _terms(fit):
        if term.name == "vapour":
            slopes.capacity.append(1.0)
            slopes.per_drawn.append(1.0)
            slopes.temperature_K.append(0.0)
            continue
        step = max(STEP_SHARE * _spread_at_site(fit, term), LEAST_STEP)
        up = _settled(site, here | {term.name: here[term.name] + step})
        down = _settled(site, here | {term.name: here[term.name] - step})
        slopes.capacity.append((up.capacity - down.capacity) / (2.0 * step))
        slopes.per_drawn.append((up.per_drawn - down.per_drawn) / (2.0 * step))
        slopes.temperature_K.append((up.temperature_K - down.temperature_K) / (2.0 * step))
    return slopes


def _by_source(fit: UnitFit, slopes: list[float]) -> list[float]:
    """What one standard deviation of every source of the fit moves a result of the site, and of every carried step."""
    moved = [0.0] * fit.gain.shape[1]
    for term, slope in zip(_terms(fit), slopes, strict=True):
        place = fit.place(term.name)
        assert place is not None
        row = fit.gain[place] * (slope * fit.spreads[place])
        moved = [before + float(more) for before, more in zip(moved, row, strict=True)]
    carried = [slope * term.carried[fit.heat] for term, slope in zip(_terms(fit), slopes, strict=True)]
    return moved + carried


def _contributions(fit: UnitFit, slopes: list[float], percent: float) -> tuple[Contribution, ...]:
    moved = _by_source(fit, slopes)
    whole = combined_standard_uncertainty(moved)
    found: list[Contribution] = []

    def add(key: str, label: str, standard: float) -> None:
        if standard != 0.0:
            found.append(Contribution(key, label, percent * standard, (standard / whole) ** 2))

    for source, standard in zip(fit.sources, moved, strict=False):
        add(source.key, source.label, abs(standard) * math.sqrt(source.by_instrument))
        beside = abs(standard) * math.sqrt(1.0 - source.by_instrument)
        if source.by_instrument == 0.0:
            add(source.key, source.label, beside)
        else:
            add(f"{source.key} model", f"the model where this is read: {source.label}", beside)
    for term, standard in zip(_terms(fit), moved[len(fit.sources) :], strict=True):
        add(f"{term.name} carried", term.carried_label, abs(standard))
    return tuple(sorted(found, key=lambda entry: -entry.share))


def _season(fit: UnitFit, at: _Settled, slopes: _Slopes) -> SeasonPrediction:
    def standard(of: list[float]) -> float:
        return combined_standard_uncertainty(_by_source(fit, of))

    capacity, per_drawn = math.exp(at.capacity), math.exp(at.per_drawn)
    return SeasonPrediction(
        Measured(capacity, capacity * standard(slopes.capacity)),
        Measured(at.temperature_K, standard(slopes.temperature_K)),
        Measured(per_drawn, per_drawn * standard(slopes.per_drawn)),
        at.limit,
    )


def _factors(fit: UnitFit) -> tuple[FittedFactor, ...]:
    known = told_apart(fit, [term.name for term in _terms(fit)])
    found = []
    for term in _terms(fit):
        place = fit.place(term.name)
        assert place is not None
        left, together = known[term.name]
        value = math.exp(float(fit.values[place]))
        standard = value * left * float(fit.spreads[place])
        found.append(FittedFactor(term.name, term.label, value, standard, left < UNTOLD, together < CONFUSED))
    return tuple(found)


def _far_off(fit: UnitFit) -> tuple[tuple[str, float], ...]:
    read = [source for source in fit.sources if source.by_instrument > 0.0]
    return tuple((source.label, source.deviate) for source in sorted(read, key=lambda entry: -abs(entry.deviate)))


def _held_notice(answer: UnitAnswer) -> tuple[Notice, ...]:
    """That the control holds the tank lower than the job says, and where that costs capacity."""
    result, job_K = answer.seasons[answer.governing], answer.job.number("choices.set_point")
    if result.clamp_part != "set point" or result.clamp_K >= job_K or result.limit == LIMIT_HEAT:
        return ()
    text = (
        "The control holds the tank at {0}, under the {1} of the job: at the site the heat goes on and off there, and "
        "the capability is what the tower carries at that temperature."
    )
    return (Notice("set point low", text, ((result.clamp_K, "temperature"), (job_K, "temperature"))),)


def _notices(fit: UnitFit) -> tuple[Notice, ...]:
    factors = {factor.name: factor for factor in _factors(fit)}
    measured = {source.key for source in fit.sources}
    notices = []
    merkel, air = factors["merkel"], factors["air"]
    if not merkel.told:
        notices.append(
            Notice(
                "fill not told",
                "The readings say nothing of the fill: a rate that the heat limits does not. The settling temperature "
                "of the tank tells it, with air flow and exhaust.",
            )
        )
    if not measured & {"air_flow_m3_s", "exhaust_temperature_K", "exhaust_wet_bulb_K"}:
        notices.append(
            Notice(
                "air not measured",
                "Neither air flow nor exhaust was measured: fill and air cannot be told apart, and the interval is "
                "wider for it.",
            )
        )
    elif not (merkel.apart and air.apart):
        notices.append(
            Notice("fill and air alike", "Fill and air can hardly be told apart: measure air flow and exhaust better.")
        )
    if fit.cycling and "full_heat_W" not in measured:
        notices.append(
            Notice(
                "full heat not seen",
                "The tank stood at its clamp or set point and the heat went on and off: the tower was seen at work, "
                "full heat was not. What the heat gives at the site rests on nameplate and model, and the interval is "
                "as wide as they are. It needs ten minutes with the heat on throughout, in a tank well under its set "
                "point: gas clocked, power metered or condensate weighed, and the tank read.",
            )
        )
    elif fit.cycling:
        notices.append(
            Notice(
                "heat cycled",
                "The tank stood at its clamp or set point and the heat went on and off: what the heat gives at full "
                "output was taken from what was clocked apart.",
            )
        )
    if fit.misfit > MISFIT_NOTICE:
        worst = _far_off(fit)[0]
        notices.append(
            Notice(
                "readings far apart",
                f"The readings fit together badly; farthest from the rest, by {abs(worst[1]):.1f} of its standard "
                f"deviations: {worst[0]}. Check it before signing.",
            )
        )
    return tuple(notices)
