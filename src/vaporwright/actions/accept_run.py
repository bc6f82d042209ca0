"""A run of a test, from opening to result: what commands and pages do with a record, once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from vaporwright.acceptance.guarantee.site_prediction import SitePrediction, predict_site
from vaporwright.acceptance.guarantee.tower_code import Departure, TowerConditions, departures
from vaporwright.acceptance.record.deciding import signed_dry_run
from vaporwright.acceptance.record.events import (
    AddAttachment,
    AppendLogRows,
    EnterResult,
    IssueProcedure,
    OpenRun,
    RegisterInstrument,
    RunKind,
    TakeReading,
)
from vaporwright.acceptance.record.full_heat import with_full_heat
from vaporwright.acceptance.record.run_result import RunResult, result_of
from vaporwright.acceptance.record.state import RunState
from vaporwright.acceptance.run.log import CHANNEL_OF, RunLog
from vaporwright.acceptance.run.performance_run import LiveState, RunEvaluation, evaluate_run, live_state
from vaporwright.acceptance.run.span import RunBasis
from vaporwright.acceptance.sections.procedure_of_unit import as_dry_run
from vaporwright.acceptance.sections.set_points import AS_LEFT, LEFT_SET_POINT
from vaporwright.acceptance.steps.day import CLEAN_WATER_VARIANTS, DayConditions, answer_on
from vaporwright.acceptance.steps.instruments import Instrument, is_number
from vaporwright.acceptance.steps.procedure import Procedure, Variant
from vaporwright.acceptance.steps.readings import Way
from vaporwright.actions.control_job import ControlledJob
from vaporwright.actions.desk import Desk
from vaporwright.actions.tested_job import attach_job, job_of_record, procedure_on
from vaporwright.files.readings_file import FileReading
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.telling import Report, unheard
from vaporwright.unit.answer import UnitAnswer, held_at
from vaporwright.unit.assembly import WATER_DENSITY_kg_m3
from vaporwright.unit.balance import SeasonResult
from vaporwright.unit.job import SEASONS
from vaporwright.unit.levels import levels_of, sloped_tank

ENTERING: Final = "Entering it into the record"
NOT_STATED: Final = "not stated"  # a customer that the job does not name


@dataclass(frozen=True)
class EvaluatedRun:
    """A performance run with what it says of the site."""

    evaluation: RunEvaluation
    prediction: SitePrediction | None
    result: RunResult


def open_run(
    desk: Desk,
    run: str,
    controlled: ControlledJob,
    day: Path | DayConditions,
    *,
    kind: RunKind,
    variant: Variant = "full",
    instruments: Iterable[Instrument] = (),
    dry_run: str = "",
    no_dry_run_because: str = "",
    procedure: Procedure | None = None,
    report: Report = unheard,
) -> RunState:
    """Open a run with its job, the procedure of the day and the day's instruments.

    Args: dry_run: the shop's own signed run in the same store, for a witnessed one; procedure: where it is at hand.
    Raises: InputError for what does not fit; nothing is entered before everything is made.
    """
    procedure = procedure or procedure_on(controlled, day, variant, report)
    report(ENTERING)
    if kind == "dry run":
        procedure = as_dry_run(procedure)
    named = signed_dry_run(desk.state(dry_run)) if dry_run else None
    files = attach_job(desk, controlled.job_file)
    opening = OpenRun(
        desk.stamp(),
        kind,
        procedure.job,
        procedure.customer or NOT_STATED,
        procedure.unit,
        files[0],
        named,
        no_dry_run_because,
    )
    state = desk.enter(run, opening)
    for file in files[1:]:
        state = desk.enter(run, AddAttachment(desk.stamp(), file), state)
    state = desk.enter(run, IssueProcedure(desk.stamp(), procedure), state)
    for instrument in instruments:
        state = desk.enter(run, RegisterInstrument(desk.stamp(), instrument), state)
    return state


def issue_again(desk: Desk, run: str, day: Path | DayConditions, reason: str, report: Report = unheard) -> RunState:
    """The procedure anew for changed conditions of the day; readings are kept as they were judged."""
    state = desk.state(run)
    procedure = procedure_on(job_of_record(desk.store, state), day, procedure_in(state).variant, report)
    if state.kind == "dry run":
        procedure = as_dry_run(procedure)
    return desk.enter(run, IssueProcedure(desk.stamp(), procedure, reason), state)


def take_readings(desk: Desk, run: str, readings: Iterable[FileReading]) -> RunState:
    """Enter readings of a file, one event each; the first that is refused stops, and says which were entered."""
    state = desk.state(run)
    for entered, found in enumerate(readings):
        try:
            state = desk.enter(run, TakeReading(desk.stamp(), found.reading), state)
        except InputError as error:
            where = f"{found.reading.step}/{found.reading.field}"
            problem = f"{error.problem}; {entered} readings before it are entered"
            raise InputError(error.where, where, problem, error.allowed) from error
    return state


def append_log(
    desk: Desk,
    run: str,
    log: RunLog,
    begun_at: str,
    instruments: Mapping[str, str],
    way: Way = "file",
    known: RunState | None = None,
) -> RunState:
    """Enter rows of a performance run; only those after the last that is entered already.

    Args: known: a state of this run that was loaded before, to read less.
    """
    state = desk.state(run, known)
    known_s = state.log_parts[-1].log.times_s[-1] if state.log_parts else -float("inf")
    later = [place for place, time_s in enumerate(log.times_s) if time_s > known_s]
    if not later:
        return state
    columns = {name: tuple(values[place] for place in later) for name, values in log.columns.items() if log.has(name)}
    times_s = tuple(log.times_s[place] for place in later)
    picked = instruments_by_channel(state, columns, instruments)
    command = AppendLogRows(desk.stamp(), begun_at, times_s, columns, picked, way)
    return desk.enter(run, command, state)


def instruments_by_channel(state: RunState, channels: Iterable[str], named: Mapping[str, str]) -> dict[str, str]:
    """The instrument of each channel: the one named, or the only one of its kind that is registered.

    Raises: InputError where several of a kind could be meant, or none is registered.
    """
    latest = {key: entries[-1].instrument for key, entries in state.instruments.items()}
    found = {}
    for channel in channels:
        if channel in named:
            found[channel] = named[channel]
            continue
        kind = CHANNEL_OF[channel].instrument
        fitting = [key for key, instrument in latest.items() if instrument.kind == kind]
        if len(fitting) != 1:
            problem = f"{len(fitting)} instruments of kind {kind!r} are registered"
            raise InputError(
                "run log", channel, problem, f"{channel}=ID of one of them: {', '.join(fitting) or 'none'}"
            )
        found[channel] = fitting[0]
    return found


def live_of(desk: Desk, run: str) -> LiveState:
    """How the performance run of a record stands."""
    state = desk.state(run)
    today, log = _today(desk, state), _log(state)
    stack = levels_of(today.design)
    return live_state(
        log, today.design.unit, today.result.conditions, stack, channel_uncertainties(state), _basis(today)
    )


def evaluate(desk: Desk, run: str) -> EvaluatedRun:
    """Work out the performance run of a record and what it says of the site; nothing is entered."""
    state = desk.state(run)
    today, log = _today(desk, state), _log(state)
    stack = levels_of(today.design)
    evaluation = evaluate_run(
        log, today.design.unit, today.result.conditions, stack, channel_uncertainties(state), _basis(today)
    )
    prediction: SitePrediction | None = None
    found: tuple[Departure, ...] = ()
    if evaluation.readings is not None:
        found = _departures(evaluation, today)
        words = tuple(entry.name for entry in found if entry.beyond)
        prediction = predict_site(
            with_full_heat(evaluation.readings, state, today.design.unit, today.result.conditions),
            today.result.conditions,
            today.design,
            guarantee_kg_s=today.guarantee_kg_s,
            departures=words,
        )
    return EvaluatedRun(evaluation, prediction, result_of(evaluation, prediction, today.result, found))


def enter_result(desk: Desk, run: str) -> tuple[EvaluatedRun, RunState]:
    """Work out the performance run and enter what it came to."""
    evaluated = evaluate(desk, run)
    result = evaluated.result
    state = desk.enter(run, EnterResult(desk.stamp(), result.figures, result.outcome, result.words))
    return evaluated, state


@dataclass(frozen=True)
class _Today:
    """The unit by design and under the conditions of the day, both held at the set point in force."""

    design: UnitAnswer
    result: SeasonResult
    guarantee_kg_s: float  # what was sold: with the job's own clamp


def _today(desk: Desk, state: RunState) -> _Today:
    procedure = procedure_in(state)
    controlled = job_of_record(desk.store, state)
    sold = controlled.answer
    set_point_K = set_point_as_left_K(state, controlled.unit.points.set_point_K)
    clean = procedure.variant in CLEAN_WATER_VARIANTS
    today = answer_on(sold, DayConditions(**procedure.conditions), clean_water=clean, set_point_K=set_point_K)
    return _Today(held_at(sold, set_point_K), today.seasons[today.governing], sold.capacity_kg_s)


def set_point_as_left_K(state: RunState, sheet_K: float) -> float:
    """The set point as left, where it was read; else that of the sheet."""
    taken = state.current(AS_LEFT, LEFT_SET_POINT)
    return float(taken.reading.value) if taken is not None and is_number(taken.reading.value) else sheet_K


def procedure_in(state: RunState) -> Procedure:
    """The procedure in force. Raises: InputError where none is issued yet."""
    if state.procedure is None:
        raise InputError("record", state.run, "has no procedure yet", "a run whose procedure is issued")
    return state.procedure


def _log(state: RunState) -> RunLog:
    if state.log is None:
        raise InputError("record", state.run, "has no rows of a performance run yet", "log it first")
    return state.log


def _basis(today: _Today) -> RunBasis:
    return RunBasis(hold_up_kg=hold_up_kg(today.design))


def hold_up_kg(design: UnitAnswer) -> float:
    """Liquor in tower, header and pipes while the pump runs: the drain-back over the tank's area, as water."""
    return WATER_DENSITY_kg_m3 * design.job.number("choices.drain_back") * sloped_tank(design.unit).surface_area_m2


def channel_uncertainties(state: RunState) -> dict[str, tuple[float, float]]:
    """Share and absolute expanded uncertainty (k = 2) of each channel, by the certificate of its instrument."""
    found: dict[str, tuple[float, float]] = {}
    for part in state.log_parts:
        for channel, key in part.instruments.items():
            entries = state.instruments.get(key, ())
            if entries:
                instrument = entries[-1].instrument
                scale = 2.0 / instrument.coverage_factor
                found[channel] = (instrument.expanded_relative * scale, instrument.expanded * scale)
    return found


def _departures(evaluation: RunEvaluation, today: _Today) -> tuple[Departure, ...]:
    """How far the test sat from the season of the guarantee that is nearest to it in wet bulb.

    The range is compared with what the unit as designed has today: it follows from the heat, and clean water on a clean
    surface takes up more of that than the site's liquor.
    """
    readings = evaluation.readings
    assert readings is not None
    seasons = today.design.seasons
    nearest = min(
        SEASONS,
        key=lambda season: abs(seasons[season].conditions.air.wet_bulb_temperature_K - readings.inlet_wet_bulb_K.value),
    )
    expected = _tower_conditions(today.result)
    test = replace(
        expected,
        wet_bulb_K=readings.inlet_wet_bulb_K.value,
        pressure_Pa=readings.pressure_Pa.value,
    )
    if readings.spray_flow_m3_s is not None:
        share = readings.spray_flow_m3_s.value / today.design.unit.spray_flow_m3_s
        test = replace(test, water_flow_kg_s=test.water_flow_kg_s * share)
    if readings.return_temperature_K is not None:
        range_K = readings.tank_temperature_K.value - readings.return_temperature_K.value
        test = replace(test, range_difference_K=range_K)
    design = replace(_tower_conditions(seasons[nearest]), range_difference_K=expected.range_difference_K)
    return departures(test, design, evaluation.steadiness.seconds)


def _tower_conditions(result: SeasonResult) -> TowerConditions:
    tower = result.operation.tower
    return TowerConditions(
        water_flow_kg_s=tower.water_flow_kg_s,
        range_difference_K=result.settling_temperature_K - tower.rating.water_out_temperature_K,
        fan_power_W=tower.blower_shaft_power_W,
        wet_bulb_K=result.conditions.air.wet_bulb_temperature_K,
        pressure_Pa=result.conditions.pressure_Pa,
    )


def moment_of_log(state: RunState, seconds: float) -> str:
    """A time of the log as a clock shows it, ISO 8601."""
    begun = datetime.fromisoformat(state.log_parts[0].begun_at)
    return (begun + timedelta(seconds=seconds)).isoformat(timespec="seconds")
