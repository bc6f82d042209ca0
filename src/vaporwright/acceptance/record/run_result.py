"""What a performance run came to, in figures that go into the record, and what a certificate shows of them.

The record keeps figures by name, SI; `result_of` makes them of an evaluated run and the site's prediction, and
`performance_of` and `headline_of` read them back. So a certificate is printed from the record alone, years later and
without the model. Names with a place in them: `site.winter.evaporation_kg_s`, `factor.merkel`, `closure.water`,
`departure.range`; an expanded uncertainty (k = 2) stands under the same name with `.expanded`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from vaporwright.acceptance.guarantee.refinement import RunPoint
from vaporwright.acceptance.guarantee.site_prediction import SitePrediction
from vaporwright.acceptance.guarantee.tower_code import Departure as TowerDeparture
from vaporwright.acceptance.record.certificate import (
    Departure,
    Estimate,
    Headline,
    PerformanceResult,
    ResultRow,
    SiteSeason,
)
from vaporwright.acceptance.record.state import Result
from vaporwright.acceptance.run.averages import COVERAGE
from vaporwright.acceptance.run.balances import CLOSE_WITHIN
from vaporwright.acceptance.run.log import Measured
from vaporwright.acceptance.run.performance_run import RunEvaluation
from vaporwright.acceptance.run.steady import HOURS_AGREE_WITHIN
from vaporwright.acceptance.sections.performance import LEAST_SHARE
from vaporwright.acceptance.steps.decisions import decide
from vaporwright.acceptance.steps.outcomes import PASSES, Outcome, worst
from vaporwright.acceptance.steps.procedure import Limits
from vaporwright.foundation.errors import InputError
from vaporwright.unit.balance import SeasonResult
from vaporwright.unit.job import SEASONS

EXPANDED: Final = ".expanded"
DEPARTURE_QUANTITIES: Final[Mapping[str, str]] = {
    "water flow": "fraction",
    "range": "fraction",
    "fan power": "fraction",
    "wet bulb": "temperature difference",
    "barometer": "pressure",
    "duration": "duration",
}
NEAREST: Final = "that of the nearest season"
DEPARTS_FROM: Final[Mapping[str, str]] = {"range": "that expected today"}
RESTS_ON: Final[Mapping[str, str]] = {  # what a reader of the number must know, by the prediction's notice
    "full heat not seen": (
        "full heat was not seen, as the tank stood at its set point: what it gives at the site rests on nameplate and"
        " model; ten minutes of it, clocked or weighed in a colder tank, would tell"
    ),
    "set point low": "the control holds the tank under the job's set point, and the number is for that",
}
FACTOR_LABELS: Final[Mapping[str, str]] = {
    "merkel": "transfer of the fill, over the design",
    "air": "air flow, over the design",
    "spray": "spray flow, over the design",
    "input": "fuel or power, over the nameplate",
    "heat": "heat into the liquor, over the model at that fuel, power or steam",
    "losses": "losses of tank and piping, over the model",
}


@dataclass(frozen=True)
class RunResult:
    """A run's result as it is entered into the record."""

    figures: dict[str, float]
    outcome: Outcome
    words: str


def result_of(
    evaluation: RunEvaluation,
    prediction: SitePrediction | None,
    today: SeasonResult,
    departures: tuple[TowerDeparture, ...] = (),
) -> RunResult:
    """The result of a run: a good measurement first, then the capability against 95 % of the guarantee.

    Args:
        prediction: of the site; None where the run gave no steady readings.
        today: what the unit as designed does under the conditions of the day.
        departures: of the test from its stated limits.
    """
    figures: dict[str, float] = {"expected_kg_s": today.evaporation_kg_s}
    reasons = [notice.name for notice in evaluation.reasons]
    outcome = evaluation.outcome
    if evaluation.evaporation_kg_s is not None:
        _put(figures, "evaporation_kg_s", evaluation.evaporation_kg_s)
        steadiness = evaluation.steadiness
        figures["steady_from_s"], figures["steady_to_s"] = steadiness.begin_s or 0.0, steadiness.end_s or 0.0
    if evaluation.hours is not None:
        figures["hours_apart"] = evaluation.hours.difference
    if evaluation.drift_kg_s is not None:
        _put(figures, "drift_kg_s", evaluation.drift_kg_s)
    for closure in evaluation.balances.closures if evaluation.balances else ():
        if closure.difference is not None:
            _put(figures, f"closure.{closure.key}", closure.difference)
    for departure in departures:
        figures[f"departure.{departure.name}"] = departure.found
    if prediction is not None:
        figures |= _predicted(prediction, today)
        decided = decide(
            prediction.capability_percent, prediction.standard_uncertainty_percent, Limits(100.0 * LEAST_SHARE, None)
        )
        outcome = worst((outcome, decided.outcome))
        of_guarantee = f"{prediction.capability_percent:.1f} % ± {prediction.half_width_percent:.1f} %"
        reasons.append(f"capability {of_guarantee} of the guarantee: {decided.words}")
        reasons += [RESTS_ON[notice.name] for notice in prediction.notices if notice.name in RESTS_ON]
    return RunResult(figures, outcome, "; ".join(reasons) or "no steady readings")


def _put(figures: dict[str, float], name: str, measured: Measured) -> None:
    figures[name] = measured.value
    figures[name + EXPANDED] = COVERAGE * measured.standard_uncertainty


def _predicted(prediction: SitePrediction, today: SeasonResult) -> dict[str, float]:
    found: dict[str, float] = {
        "capability": prediction.capability_percent / 100.0,
        "capability" + EXPANDED: prediction.half_width_percent / 100.0,
        "guarantee_kg_s": prediction.guarantee_kg_s,
        f"governing.{prediction.governing}": 1.0,
        "misfit": prediction.misfit,
    }
    for season, entry in prediction.seasons.items():
        _put(found, f"site.{season}.evaporation_kg_s", entry.capacity_kg_s)
        _put(found, f"site.{season}.settling_temperature_K", entry.settling_temperature_K)
        _put(found, f"site.{season}.per_drawn_kg_J", entry.evaporation_per_drawn_kg_J)
    factors = {factor.name: factor for factor in prediction.factors}
    for name, factor in factors.items():
        if name in FACTOR_LABELS:
            _put(found, f"factor.{name}", Measured(factor.value, factor.standard_uncertainty))
    tower, merkel = today.operation.tower, factors["merkel"]
    over_air = factors["spray"].value / factors["air"].value
    found["tower.water_to_air_ratio"] = tower.water_to_air_ratio * over_air
    found["tower.merkel_factor"] = merkel.value
    found["tower.merkel_share"] = merkel.standard_uncertainty / merkel.value
    found["tower.told"] = float(merkel.told and merkel.apart)
    return found


def run_point(run: str, head: str, result: Result, law_merkel_number: float) -> RunPoint:
    """What an accepted run says of its tower, for refining the catalogue.

    Args: law_merkel_number: of the design's law at the run's ratio of water to air.
    Raises: InputError where the run was not accepted, or could not tell the fill from air and heat.
    """
    if result.outcome not in PASSES:
        raise InputError("refine", run, f"its performance run is {result.outcome}", "an accepted run")
    if not result.figures.get("tower.told", 0.0):
        problem = "its readings could not tell the fill from the air flow"
        raise InputError("refine", run, problem, "a run with air flow and exhaust measured")
    figures = result.figures
    number = law_merkel_number * figures["tower.merkel_factor"]
    return RunPoint(run, head, figures["tower.water_to_air_ratio"], number, figures["tower.merkel_share"])


def headline_of(result: Result) -> Headline | None:
    """The one number of the certificate; None where the run predicted nothing."""
    figures = result.figures
    season = governing_of(result)
    if season is None:
        return None
    return Headline(
        _estimate(figures, "capability"),
        _estimate(figures, f"site.{season}.evaporation_kg_s"),
        figures["guarantee_kg_s"],
        season,
        result.outcome,
    )


def governing_of(result: Result) -> str | None:
    """The season in which the guarantee stands."""
    return next((season for season in SEASONS if f"governing.{season}" in result.figures), None)


def performance_of(result: Result, steady_from: str = "", steady_to: str = "") -> PerformanceResult | None:
    """The performance run of a certificate; None where nothing was measured."""
    figures = result.figures
    if "evaporation_kg_s" not in figures:
        return None
    seasons = tuple(
        SiteSeason(
            season,
            _estimate(figures, f"site.{season}.evaporation_kg_s"),
            _estimate(figures, f"site.{season}.settling_temperature_K"),
        )
        for season in SEASONS
        if f"site.{season}.evaporation_kg_s" in figures
    )
    governing = governing_of(result)
    per_heat = _estimate(figures, f"site.{governing}.per_drawn_kg_J") if governing else None
    return PerformanceResult(
        outcome=result.outcome,
        measured_kg_s=_estimate(figures, "evaporation_kg_s"),
        expected_kg_s=figures["expected_kg_s"],
        seasons=seasons,
        evaporation_per_heat_kg_J=per_heat,
        steady_from=steady_from,
        steady_to=steady_to,
        rows=tuple(_rows(figures)),
        departures=tuple(_departures(figures)),
        notes=(result.words,),
    )


def _estimate(figures: Mapping[str, float], name: str) -> Estimate:
    return Estimate(figures[name], figures.get(name + EXPANDED))


def _rows(figures: Mapping[str, float]) -> list[ResultRow]:
    rows = []
    if "drift_kg_s" in figures:
        rows.append(ResultRow("drift taken off", "evaporation", _estimate(figures, "drift_kg_s")))
    if "hours_apart" in figures:
        apart = Estimate(figures["hours_apart"])
        rows.append(
            ResultRow("two consecutive hours apart", "fraction", apart, None, -HOURS_AGREE_WITHIN, HOURS_AGREE_WITHIN)
        )
    for name in figures:
        if name.startswith("closure.") and not name.endswith(EXPANDED):
            label = f"balance of {name.removeprefix('closure.')}, open by"
            rows.append(ResultRow(label, "fraction", _estimate(figures, name), 0.0, -CLOSE_WITHIN, CLOSE_WITHIN))
    for key, label in FACTOR_LABELS.items():
        if f"factor.{key}" in figures:
            rows.append(ResultRow(label, "fraction", _estimate(figures, f"factor.{key}"), 1.0))
    return rows


def _departures(figures: Mapping[str, float]) -> list[Departure]:
    from vaporwright.acceptance.guarantee import tower_code

    limits = {
        "water flow": tower_code.WATER_FLOW_SHARE,
        "range": tower_code.RANGE_SHARE,
        "fan power": tower_code.FAN_POWER_SHARE,
        "wet bulb": tower_code.WET_BULB_DIFFERENCE_K,
        "barometer": tower_code.BAROMETER_DIFFERENCE_Pa,
    }
    found = {name: figures.get(f"departure.{name}") for name in limits}
    return [
        Departure(f"{name}, from {DEPARTS_FROM.get(name, NEAREST)}", DEPARTURE_QUANTITIES[name], by, 0.0, limits[name])
        for name, by in found.items()
        if by is not None
    ]
