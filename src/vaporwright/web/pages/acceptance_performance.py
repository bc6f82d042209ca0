"""The performance run: rows typed or from a file, how it stands while it goes on, and what it comes to."""

from __future__ import annotations

import tempfile
import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Final
from weakref import WeakKeyDictionary

from fastapi import APIRouter, Form, Request, UploadFile
from fastapi.responses import JSONResponse, Response

from vaporwright.acceptance.record.certificate import Estimate
from vaporwright.acceptance.record.run_result import headline_of
from vaporwright.acceptance.record.state import RunState
from vaporwright.acceptance.run.averages import COVERAGE
from vaporwright.acceptance.run.log import CHANNEL_OF, Channel, Measured, RunLog, channels_for
from vaporwright.acceptance.run.performance_run import GO_ON, VOID, LiveState
from vaporwright.acceptance.steps.procedure import ReadingField
from vaporwright.actions.accept_run import append_log
from vaporwright.actions.desk import fresh_id
from vaporwright.actions.floor_work import shown_unit_of
from vaporwright.display_units import show, to_shown
from vaporwright.documents.measured_words import estimate_text, moment_text, reading_text
from vaporwright.files.readings_file import read_run_log
from vaporwright.foundation.errors import InputError
from vaporwright.web.context import bar_of, book, desk_of, redirect, render, require, shop, viewer
from vaporwright.web.errors import Problem, problem_of
from vaporwright.web.floor import OpenedRun, kind_of, run_of, state_of, today, words_of
from vaporwright.web.floor_tasks import ResultShown, live_in_store, result_in_store
from vaporwright.web.naming import as_named
from vaporwright.web.panel import reader_shown, reads_on
from vaporwright.web.working import TaskState, Working

LARGEST_LOG_bytes: Final = 8_000_000
CHARTED: Final = (
    "tank_temperature_K",
    "return_temperature_K",
    "exhaust_temperature_K",
    "inlet_air_temperature_K",
    "inlet_wet_bulb_K",
)
LAST_ROWS: Final = 6
MOST_CHARTED: Final = 1500  # points of a trend; a longer log is thinned out
WEIGHED_EVERY_s: Final = 15.0  # at most, while a panel is read
MOST_WORKS: Final = 100
_TASKS: Final[WeakKeyDictionary[Working, dict[str, _LiveWork]]] = WeakKeyDictionary()
_TASKS_LOCK: Final = threading.Lock()
router = APIRouter()

Typed = Annotated[str, Form()]


@router.get("/jobs/{job}/acceptance/{run}/performance")
def performance(request: Request, job: str, run: str, task: str = "") -> Response:
    """How it stands, the form for rows, the trend, the result."""
    return performance_page(request, run_of(request, job, run), task)


@router.get("/jobs/{job}/acceptance/{run}/performance/live")
def performance_live(request: Request, job: str, run: str, seq: int = -1, working: str = "") -> Response:
    """Its standing anew, where rows have come or the working out has ended."""
    opened = run_of(request, job, run)
    found, _ = _live_task(request, opened)
    if opened.state.seq == seq and (found is None or not found.done or working == "no"):
        return Response(status_code=204)
    return render(request, "acceptance_performance_live.html", **_shown(request, opened))


@router.get("/jobs/{job}/acceptance/{run}/performance/data")
def performance_data(request: Request, job: str, run: str) -> Response:
    """The trend for the plotter: minutes and values, in the reader's units."""
    state, system = run_of(request, job, run).state, viewer(request).units
    log = state.log
    if log is None:
        return JSONResponse({"minutes": [], "series": []})
    places = _charted_places(log)
    series = []
    for name in CHARTED:
        if not log.has(name):
            continue
        channel = CHANNEL_OF[name]
        values = (log.columns[name][place] for place in places)
        shown = [None if one is None else to_shown(one, channel.quantity, system) for one in values]
        series.append({"label": channel.label, "unit": shown_unit_of(channel, system), "values": shown})
    return JSONResponse({"minutes": [log.times_s[place] / 60.0 for place in places], "series": series})


def _charted_places(log: RunLog) -> list[int]:
    """The rows of a trend: thinned out where there are many, but each row without a value stays: there it breaks."""
    step = max(1, len(log.times_s) // MOST_CHARTED)
    columns = log.columns.values()
    return [
        place
        for place in range(len(log.times_s))
        if place % step == 0 or all(values[place] is None for values in columns)
    ]


@router.post("/jobs/{job}/acceptance/{run}/performance/file")
def log_file(
    request: Request, job: str, run: str, log: UploadFile | None = None, begun: Typed = "", your_name: Typed = ""
) -> Response:
    """Rows from a CSV or XLSX file; those that are entered already are left out."""
    opened = run_of(request, job, run)
    try:
        as_named(request, your_name, "engineer", "technician")
        content = b"" if log is None else log.file.read(LARGEST_LOG_bytes + 1)
        if log is None or not content:
            raise InputError("run log", "", "no file was chosen", "a CSV or XLSX file")
        if len(content) > LARGEST_LOG_bytes:
            raise InputError("run log", "", "is too large", f"at most {LARGEST_LOG_bytes / 1e6:.0f} MB")
        desk = desk_of(request)
        known = opened.state.log_parts
        begun = known[0].begun_at if known else _moment(begun) or desk.clock()
        rows = read_log(content, log.filename or "")
        append_log(desk, opened.run, rows, begun, {})
    except InputError as error:
        return performance_page(request, opened, "", problem_of(error))
    return redirect(request, f"{opened.address}/performance", "The rows are in the record.")


def read_log(content: bytes, name: str) -> Any:
    """The log of an uploaded file. Raises: InputError with the file called by what it is, not by where it lay."""
    suffix = ".xlsx" if name.casefold().endswith(".xlsx") else ".csv"
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"log{suffix}"
        path.write_bytes(content)
        try:
            return read_run_log(path)
        except InputError as error:
            where = error.where.replace(str(path), "run log")
            raise InputError(where, error.key, error.problem, error.allowed) from None


def _moment(text: str) -> str:
    """A typed beginning: "2026-03-04 09:30" here, or with an offset."""
    from datetime import datetime

    if not text.strip():
        return ""
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        raise InputError("run log", "begun", f"{text[:30]!r} is no time", "2026-03-04 09:30") from None
    return moment.astimezone().isoformat(timespec="seconds") if moment.tzinfo is None else moment.isoformat()


@router.post("/jobs/{job}/acceptance/{run}/performance/result")
def work_out(request: Request, job: str, run: str, enter: Typed = "", your_name: Typed = "") -> Response:
    """Work out what the run comes to; enter it, or only look."""
    opened = run_of(request, job, run)
    who = as_named(request, your_name, "engineer", "technician") if enter else require(request, *_LOOKERS)
    store = shop(request).settings.store
    desk = (who.name, desk_of(request).role) if enter else None
    task = shop(request).working.start(_owner(opened), result_in_store, store, opened.run, desk)
    return redirect(request, f"{opened.address}/performance?task={task}")


_LOOKERS: Final = ("engineer", "technician", "witness")


@router.get("/jobs/{job}/acceptance/{run}/performance/result/{task}")
def result_live(request: Request, job: str, run: str, task: str) -> Response:
    """How far the working out is; where it is done, the page that shows it."""
    opened = run_of(request, job, run)
    found = shop(request).working.task(_owner(opened), task)
    return bar_of(request, found, f"{opened.address}/performance?task={task}")


def _owner(opened: OpenedRun) -> str:
    return f"run {opened.run}"


@dataclass
class _LiveWork:
    """The working out of how a run's log stands: the latest one, and what the one before came to."""

    begun_with: str  # the log's first event: another log has nothing to do with this one
    upto: str  # the log's last event
    task: str
    begun_s: float
    before: TaskState | None = None


def _live_task(request: Request, opened: OpenedRun) -> tuple[TaskState | None, bool]:
    """The working out of how the log stands, begun once for each length of it whoever asks, and whether it is of the
    log as it is now: while a panel is read, rows come faster than they can be weighed each time.
    """
    state, working = opened.state, shop(request).working
    if state.log is None or state.procedure is None:
        return None, True
    first, last = state.log_parts[0].mark.event_id, state.log_parts[-1].mark.event_id
    with _TASKS_LOCK:
        works = _TASKS.setdefault(working, {})
        work = works.get(opened.run)
        known = None if work is None or work.begun_with != first else _task_known(working, opened, work.task)
        if work is None or known is None or (work.upto != last and _may_work_anew(request, opened, work, known)):
            before = known if known is not None and known.done else None
            task = working.start(_owner(opened), live_in_store, shop(request).settings.store, opened.run)
            work = _LiveWork(first, last, task, time.monotonic(), before)
            works.pop(opened.run, None)
            works[opened.run] = work
            while len(works) > MOST_WORKS:
                works.pop(next(iter(works)))
            known = _task_known(working, opened, task)
        if known is not None and not known.done and work.before is not None:
            return work.before, False
        return known, work.upto == last


def _may_work_anew(request: Request, opened: OpenedRun, work: _LiveWork, known: TaskState) -> bool:
    """Whether further rows are worked out at once."""
    if not reads_on(request, opened.run):
        return True
    return known.done and time.monotonic() - work.begun_s >= WEIGHED_EVERY_s


def _task_known(working: Working, opened: OpenedRun, task: str) -> TaskState | None:
    try:
        return working.task(_owner(opened), task)
    except InputError:  # the pool has forgotten it
        return None


def performance_page(
    request: Request,
    opened: OpenedRun,
    task: str,
    problem: Problem | None = None,
    typed: Mapping[str, str] | None = None,
) -> Response:
    """The page; `typed` is what the form for the panel was sent with."""
    found: TaskState | None = None
    if task:
        found = shop(request).working.task(_owner(opened), task)
        if found.done:
            opened = OpenedRun(opened.link, state_of(shop(request), opened.run))
            if isinstance(found.error, Exception):
                problem = problem or problem_of(found.error)
    return render(
        request,
        "acceptance_performance.html",
        status=problem.status if problem else 200,
        job=book(request).job(opened.link.job),
        stop="acceptance",
        problem=problem,
        task=found,
        result=found.result if found is not None and found.done and found.error is None else None,
        result_kind=kind_of(found.result.outcome) if found is not None and found.done and found.error is None else "",
        brought=_brought_words(found.result) if found is not None and found.done and found.error is None else "",
        **_shown(request, opened),
        **reader_shown(request, opened, typed),
    )


def _shown(request: Request, opened: OpenedRun) -> dict[str, Any]:
    state, who = opened.state, viewer(request)
    heat = state.procedure.heat if state.procedure else ""
    found, is_of_now = _live_task(request, opened)
    live = found.result if found is not None and found.done and found.error is None else None
    return {
        "opened": opened,
        "run": state,
        "live": live,
        "live_task": found,
        "live_behind": not is_of_now,
        "live_problem": problem_of(found.error) if found is not None and isinstance(found.error, Exception) else None,
        "live_kind": "" if live is None or live.verdict == GO_ON else "alarm" if live.verdict == VOID else "caution",
        "live_words": [] if live is None else [words_of(one, who.units) for one in live.reasons],
        "so_far": None if live is None else plus_minus(live.evaporation_kg_s, "evaporation", who.units),
        "closures": _closures(live, who.units),
        "channels": [
            (one, shown_unit_of(one, who.units), _choices(state, one, today(request))) for one in channels_for(heat)
        ],
        "last_rows": _last_rows(state, who.units),
        "stored": None if state.result is None else headline_of(state.result),
        "stored_kind": "" if state.result is None else kind_of(state.result.outcome),
        "estimate": lambda one, quantity: estimate_text(one, quantity, who.units),
        "plus_minus": lambda one, quantity: plus_minus(one, quantity, who.units),
        "in_words": lambda one: words_of(one, who.units),
        "moment": moment_text,
        "may_log": who.may("engineer", "technician") and not state.closed and not state.covering and not state.void,
        "fresh_id": fresh_id,
        "log_length": 0 if state.log is None else len(state.log.times_s),
    }


def plus_minus(measured: Measured | None, quantity: str, system: str) -> str:
    """A measured value with its expanded uncertainty and unit."""
    if measured is None:
        return ""
    return estimate_text(Estimate(measured.value, COVERAGE * measured.standard_uncertainty), quantity, system)


def _closures(live: LiveState | None, system: str) -> list[tuple[str, str, str, str]]:
    """Each balance: what it is, whether it closes, its two sides, by how much it is open."""
    if live is None or live.balances is None:
        return []
    rows: list[tuple[str, str, str, str]] = []
    for one in live.balances.closures:
        sides = [show(side, one.quantity, system) for side in (one.one, one.other) if side is not None]
        open_by = "" if one.difference is None else plus_minus(one.difference, "fraction", system)
        missing = f"not read: {', '.join(CHANNEL_OF[name].label for name in one.missing if name in CHANNEL_OF)}"
        rows.append((one.key, one.state, " against ".join(sides) if len(sides) == 2 else missing, open_by))
    return rows


def _choices(state: RunState, channel: Channel, day: str) -> list[tuple[str, str]]:
    registered = [entries[-1] for entries in state.instruments.values() if any(one.day == day for one in entries)]
    fitting = [one.instrument for one in registered if one.instrument.kind == channel.instrument]
    return [(one.id, f"{one.id}: {one.title}") for one in fitting]


def _last_rows(state: RunState, system: str) -> dict[str, Any]:
    """The newest rows, newest first, with the channels that were ever read."""
    log = state.log
    if log is None:
        return {"heads": [], "rows": []}
    names = [name for name in CHANNEL_OF if log.has(name)]
    heads = [(CHANNEL_OF[name].label, shown_unit_of(CHANNEL_OF[name], system)) for name in names]
    rows = []
    for place in range(len(log.times_s) - 1, max(len(log.times_s) - 1 - LAST_ROWS, -1), -1):
        cells = [_cell(log.columns[name][place], CHANNEL_OF[name], system) for name in names]
        rows.append((f"{log.times_s[place] / 60.0:.1f}", cells))
    return {"heads": heads, "rows": rows}


def _cell(value: float | None, channel: Channel, system: str) -> str:
    if value is None:
        return ""
    field = ReadingField(channel.name, channel.label, channel.quantity, instrument=channel.instrument)
    return reading_text(value, field, system).removesuffix(shown_unit_of(channel, system)).strip()


def _brought_words(result: ResultShown) -> str:
    """What brings the ±, as a sentence."""
    parts = [f"{label} ({share:.0%})" for label, share in result.brought_by]
    return "; ".join(parts)
