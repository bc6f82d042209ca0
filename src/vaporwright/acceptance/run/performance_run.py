"""The performance run: what its log says of evaporation, balances and steadiness, while it runs and when it is over.

`live_state` answers the one question that the technician has while water and fuel are being spent: go on, not yet
steady, or void: stop now, and what to check first. `evaluate_run` is the verdict on the finished run, with the steady
readings from which the site is predicted. Neither judges capacity: a run that is accepted here is a good measurement,
not yet a good unit.

A balance voids a run where it is open by more than 7 % beyond its own uncertainty: live, in two quarters of an hour
one after the other or since the start; at the end, over the steady span.

Hot liquor, flame or live parts are at work during a run. Whoever stops one follows the unit's stopping order (heat,
then pump, then blower), and none of this replaces the watch of a qualified person.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

from vaporwright.acceptance.run.averages import COVERAGE, Uncertainties, complete_uncertainties
from vaporwright.acceptance.run.balances import Balances
from vaporwright.acceptance.run.evaporation import Agreement, TracerResult, WaterLoss
from vaporwright.acceptance.run.log import Measured, RunLog, SteadyReadings
from vaporwright.acceptance.run.notices import (
    contradiction_notice,
    departure_notices,
    hours_notice,
    leak_notices,
    level_notices,
    moving_notices,
    open_balances,
)
from vaporwright.acceptance.run.span import Run, RunBasis, Span, WINDOW_s
from vaporwright.acceptance.run.steady import HOUR_s, Hours, LEAST_STEADY_s, Moving, Steadiness, steadiness
from vaporwright.acceptance.steps.outcomes import ACCEPTED, NOT_RUN, TEST_ERROR, UNDECIDED, Outcome
from vaporwright.equipment.level_rods import LevelStack
from vaporwright.foundation.errors import InputError, OutOfRange
from vaporwright.foundation.notice import Notice
from vaporwright.unit.assembly import AssembledUnit
from vaporwright.unit.balance import Conditions

Verdict: TypeAlias = Literal["go on", "not yet steady", "void: stop now"]
GO_ON: Final = "go on"
NOT_YET: Final = "not yet steady"
VOID: Final = "void: stop now"


@dataclass(frozen=True)
class LiveState:
    """What a screen shows while the run goes on."""

    time_s: float
    evaporation_kg_s: Measured | None
    since_s: float  # begin of the span that the evaporation stands for
    trend_K_h: Measured | None
    steady: bool
    moving: tuple[Moving, ...]
    balances: Balances | None  # over the last quarter of an hour
    verdict: Verdict
    reasons: tuple[Notice, ...]
    check_first: tuple[str, ...]
    seconds_to_go: float | None  # until two steady hours are there, if nothing moves any more; None where void

    @property
    def expanded_kg_s(self) -> float | None:
        """Of the evaporation so far, k = 2."""
        return None if self.evaporation_kg_s is None else COVERAGE * self.evaporation_kg_s.standard_uncertainty


@dataclass(frozen=True)
class RunEvaluation:
    """What a finished run says."""

    steadiness: Steadiness
    outcome: Outcome  # of the run as a measurement
    reasons: tuple[Notice, ...]  # why it is not accepted
    notices: tuple[Notice, ...]  # what its reader must know all the same
    check_first: tuple[str, ...]
    evaporation_kg_s: Measured | None = None
    hours: Hours | None = None
    loss: WaterLoss | None = None
    by_level_kg_s: Measured | None = None  # evaporation by the level's fall, brought to the span's tank temperature
    level_agrees: Agreement | None = None
    tracer: TracerResult | None = None
    drift_kg_s: Measured | None = None
    balances: Balances | None = None
    readings: SteadyReadings | None = None
    departures: tuple[str, ...] = ()

    @property
    def expanded_kg_s(self) -> float | None:
        """Of the evaporation, k = 2."""
        return None if self.evaporation_kg_s is None else COVERAGE * self.evaporation_kg_s.standard_uncertainty


def evaluate_run(
    log: RunLog,
    unit: AssembledUnit,
    conditions: Conditions,
    stack: LevelStack,
    uncertainties: Uncertainties | None = None,
    basis: RunBasis | None = None,
) -> RunEvaluation:
    """The verdict on a finished run.

    Args:
        conditions: of the day, on the liquor of the test; air, barometer and feed are taken from the log.
        stack: of the unit's levels, for the shape of the tank with its heater.
        uncertainties: by channel, (share, absolute), expanded k = 2; those given replace run_means' defaults.
    Raises: InputError for a channel that no run can do without, or readings that contradict each other.
    """
    run = Run(log, unit, conditions, stack, complete_uncertainties(uncertainties), basis or RunBasis())
    run.require_channels()
    found = steadiness(log, settle_s=run.basis.settle_s)
    if found.begin_s is None or found.end_s is None or found.seconds < LEAST_STEADY_s - 1.0:
        stopped = run.pump_changes(log.times_s[0] + run.basis.settle_s, log.times_s[-1]) if log.times_s else ()
        return _without_span(log, found, run.basis, stopped)
    span = run.span(found.begin_s, found.end_s)
    if span is None:
        problem = "fewer than five rows with make-up, level and temperatures together in the steady span"
        raise InputError("run log", "rows", problem, "a row a minute, or every five minutes")
    hours = run.hours(found.end_s)
    by_level, agreement = run.by_level(span)
    void = (*open_balances(span.balances.open), *run.pump_changes(found.begin_s, found.end_s))
    undecided = (*hours_notice(hours), *departure_notices(run.basis.departures))
    outcome: Outcome = TEST_ERROR if void else UNDECIDED if undecided else ACCEPTED
    return RunEvaluation(
        steadiness=found,
        outcome=outcome,
        reasons=(*void, *undecided),
        notices=(*leak_notices(span.tracer), *level_notices(by_level, agreement), *run.meters_notice(span)),
        check_first=run.check_first(span.balances),
        evaporation_kg_s=span.evaporation_kg_s,
        hours=hours,
        loss=span.loss,
        by_level_kg_s=by_level,
        level_agrees=agreement,
        tracer=span.tracer,
        drift_kg_s=span.drift_kg_s,
        balances=span.balances,
        readings=_readings(span),
        departures=run.basis.departures,
    )


def live_state(
    log: RunLog,
    unit: AssembledUnit,
    conditions: Conditions,
    stack: LevelStack,
    uncertainties: Uncertainties | None = None,
    basis: RunBasis | None = None,
) -> LiveState:
    """How a run stands at its last row.

    Args: as evaluate_run.
    Raises: InputError for a log without a row. A channel that is missing, and readings that contradict each other, are
        reasons and no errors.
    """
    run = Run(log, unit, conditions, stack, complete_uncertainties(uncertainties), basis or RunBasis())
    if not log.times_s:
        raise InputError("run log", "rows", "none yet", "at least one")
    now_s, first_s = log.times_s[-1], log.times_s[0]
    found = steadiness(log, settle_s=run.basis.settle_s)
    silent = run.silent_channels(now_s)
    missing = tuple(notice for notice in silent if notice.name == "channel missing")
    if missing:
        return LiveState(
            now_s, None, now_s, found.trend_K_h, False, found.moving, None, NOT_YET, silent, (), run.to_go(found)
        )
    since_s = found.begin_s if found.steady and found.begin_s is not None else max(now_s - HOUR_s, first_s)
    try:
        latest = run.span(max(now_s - WINDOW_s, first_s), now_s)
        so_far = run.span(since_s, now_s)
        void, blamed = run.void_now(latest, first_s, now_s)
    except (InputError, OutOfRange) as error:  # a screen says so and goes on
        reasons = (contradiction_notice(error), *silent)
        return LiveState(
            now_s, None, since_s, found.trend_K_h, False, found.moving, None, NOT_YET, reasons, (), run.to_go(found)
        )
    reasons = (*void, *silent, *moving_notices(found), *run.early(found, now_s - first_s))
    verdict: Verdict = VOID if void else GO_ON if found.steady and not silent else NOT_YET
    return LiveState(
        time_s=now_s,
        evaporation_kg_s=None if so_far is None else so_far.evaporation_kg_s,
        since_s=since_s,
        trend_K_h=found.trend_K_h,
        steady=found.steady,
        moving=found.moving,
        balances=None if latest is None else latest.balances,
        verdict=verdict,
        reasons=reasons if verdict != GO_ON else (),
        check_first=() if blamed is None else run.check_first(blamed),
        seconds_to_go=None if void else run.to_go(found),
    )


def _without_span(log: RunLog, found: Steadiness, basis: RunBasis, stopped: tuple[Notice, ...]) -> RunEvaluation:
    """A run too short, or never steady for two hours."""
    lasted_s = log.times_s[-1] - log.times_s[0] if log.times_s else 0.0
    least_s = basis.settle_s + LEAST_STEADY_s
    if lasted_s < least_s - 1.0:
        text = "The run lasted {0}; settling and two steady hours take {1}."
        notice = Notice("too short", text, ((lasted_s, "duration"), (least_s, "duration")))
        return RunEvaluation(found, NOT_RUN, (notice,), (), (), departures=basis.departures)
    text = "No two hours were steady; the longest steady span is {0}."
    reasons = (Notice("not steady", text, ((found.seconds, "duration"),)), *moving_notices(found), *stopped)
    return RunEvaluation(found, UNDECIDED, reasons, (), (), departures=basis.departures)


def _readings(span: Span) -> SteadyReadings:
    means = span.means
    return SteadyReadings(
        evaporation_kg_s=span.evaporation_kg_s,
        tank_temperature_K=means["tank_temperature_K"],
        inlet_air_temperature_K=means["inlet_air_temperature_K"],
        inlet_wet_bulb_K=means["inlet_wet_bulb_K"],
        pressure_Pa=means["barometer_Pa"],
        feed_temperature_K=means["feed_temperature_K"],
        spray_flow_m3_s=means.get("spray_flow_m3_s"),
        return_temperature_K=means.get("return_temperature_K"),
        air_flow_m3_s=means.get("air_flow_m3_s"),
        exhaust_temperature_K=means.get("exhaust_temperature_K"),
        exhaust_wet_bulb_K=means.get("exhaust_wet_bulb_K"),
        room_temperature_K=means.get("room_temperature_K"),
        heat_drawn_W=span.balances.heat_drawn_W,
        stack_temperature_K=means.get("stack_temperature_K"),
        flue_oxygen=means.get("flue_oxygen"),
        drift_kg_s=span.drift_kg_s,
    )
