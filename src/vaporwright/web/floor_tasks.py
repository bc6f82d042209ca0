"""What a test asks of the pool: opening a run, papers, the performance run, a diagnosis, a refit.

Each function runs in another process, opens the store itself, and gives back what can be sent: none holds the store.
"""

from __future__ import annotations

import math
import tempfile
import time
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from vaporwright.acceptance.record.events import RunKind
from vaporwright.acceptance.run.log import Measured
from vaporwright.acceptance.run.performance_run import LiveState
from vaporwright.acceptance.steps.day import DayConditions
from vaporwright.acceptance.steps.instruments import Instrument
from vaporwright.acceptance.steps.outcomes import Outcome
from vaporwright.acceptance.steps.procedure import Procedure, Variant
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.notice import Notice
from vaporwright.foundation.telling import Report
from vaporwright.store.job_store import Texts
from vaporwright.store.sql_store import open_store

SIZING: Final = "Sizing the unit and making its table"
WRITING: Final = "Setting the pages"
RUN: Final = "Working out the performance run"


# Opening


@dataclass(frozen=True)
class Opening:
    """A run to be opened."""

    store: str
    job: str
    revision: int
    texts: Texts
    run: str
    kind: RunKind
    variant: Variant
    day: DayConditions
    instruments: tuple[Instrument, ...]
    dry_run: str
    no_dry_run_because: str
    who: str
    role: str


def open_in_store(report: Report, order: Opening) -> str:
    """Open a run with the procedure of its day, and say which job it belongs to; its name comes back.

    Raises: InputError of the job, the day, or where the record refuses.
    """
    from vaporwright.actions.accept_run import open_run
    from vaporwright.actions.control_job import control_job
    from vaporwright.actions.desk import Desk
    from vaporwright.actions.job_book import JobBook, laid_out
    from vaporwright.store.database import Database
    from vaporwright.store.job_store import JobStore

    report(SIZING)
    with laid_out(order.texts) as path, closing(Database(order.store)) as database:
        controlled = control_job(path)
        _require_steam(controlled.unit.heat, order.day)
        desk = Desk(database.records, order.who, order.role)
        open_run(
            desk,
            order.run,
            controlled,
            order.day,
            kind=order.kind,
            variant=order.variant,
            instruments=order.instruments,
            dry_run=order.dry_run,
            no_dry_run_because=order.no_dry_run_because,
            report=report,
        )
        JobBook(JobStore(database), database.records, time.time).link_run(order.run, order.job, order.revision)
    return order.run


def _require_steam(heat: str, day: DayConditions) -> None:
    if (heat == "steam") != (day.steam_gauge_Pa is not None):
        problem = "is missing" if heat == "steam" else f"is stated, and the unit is heated by {heat}"
        raise InputError("day", "steam at the coil", problem, "stated for a unit heated by steam, and for no other")


def issue_again_in_store(report: Report, store: str, run: str, day: DayConditions, reason: str, desk: Any) -> str:
    """Issue the procedure again for changed conditions of the day. `desk`: name and role."""
    from vaporwright.actions.accept_run import issue_again
    from vaporwright.actions.desk import Desk

    report(SIZING)
    with closing(open_store(store)) as records:
        issue_again(Desk(records, *desk), run, day, reason, report)
    return run


# Papers


def procedure_paper(report: Report, procedure: Procedure, system: str, run: str, revision: str, store: str) -> bytes:
    """The procedure for paper use, with the tank of the job that the run was opened with."""
    from vaporwright.actions.acceptance_papers import tank_drawing
    from vaporwright.actions.desk import Desk
    from vaporwright.actions.tested_job import job_of_record
    from vaporwright.documents.procedure_paper import procedure_pdf

    report(SIZING)
    with closing(open_store(store)) as records:
        answer = job_of_record(records, Desk(records, "nobody", "technician").state(run)).answer
    report("Drawing the tank")
    drawing = tank_drawing(answer, system)
    report(WRITING)
    return procedure_pdf(procedure, system, drawing=drawing, run=run, revision=revision)


def reading_sheets(report: Report, procedure: Procedure, system: str, run: str, revision: str, store: str) -> bytes:
    """The sheets that are filled in by hand."""
    from vaporwright.documents.reading_sheet import reading_sheet_pdf

    del store
    report(WRITING)
    return reading_sheet_pdf(procedure, system, run=run, revision=revision)


def certificate_paper(
    store: str, run: str, system: str, key: Path | None, passphrase: str, self_signed: str
) -> tuple[bytes, str]:
    """The certificate of a run as it stands, and what must be warned of."""
    from vaporwright.actions.acceptance_papers import write_certificate
    from vaporwright.actions.certificate_of_run import certificate_of
    from vaporwright.actions.desk import Desk

    with tempfile.TemporaryDirectory() as folder, closing(open_store(store)) as records:
        certificate = certificate_of(Desk(records, "nobody", "technician").state(run))
        target = Path(folder) / "certificate.pdf"
        _, warning = write_certificate(
            certificate, target, system, key=key, passphrase=passphrase, self_signed=self_signed
        )
        return target.read_bytes(), warning


# The performance run


@dataclass(frozen=True)
class ResultShown:
    """What a performance run comes to, as a page shows it."""

    outcome: Outcome
    words: str
    notices: tuple[Notice, ...]
    check_first: tuple[str, ...]
    evaporation_kg_s: Measured | None
    expected_kg_s: float
    capability_percent: float | None
    half_width_percent: float
    interval_percent: tuple[float, float]
    guarantee_kg_s: float
    governing: str
    seasons: tuple[tuple[str, str, Measured], ...]  # season, limit, capacity
    brought_by: tuple[tuple[str, float], ...]  # the largest parts of the ±, each with its share
    entered: bool


def live_in_store(report: Report, store: str, run: str) -> LiveState:
    """How the performance run of a record stands."""
    from vaporwright.actions.accept_run import live_of
    from vaporwright.actions.desk import Desk

    report(RUN)
    with closing(open_store(store)) as records:
        return live_of(Desk(records, "nobody", "technician"), run)


def result_in_store(report: Report, store: str, run: str, desk: tuple[str, str] | None) -> ResultShown:
    """What the performance run comes to; entered where a desk (name and role) is given."""
    from vaporwright.actions.accept_run import enter_result, evaluate
    from vaporwright.actions.desk import Desk

    report(RUN)
    with closing(open_store(store)) as records:
        if desk is None:
            evaluated = evaluate(Desk(records, "nobody", "technician"), run)
        else:
            evaluated = enter_result(Desk(records, *desk), run)[0]
    evaluation, prediction, result = evaluated.evaluation, evaluated.prediction, evaluated.result
    notices = (*evaluation.reasons, *evaluation.notices)
    return ResultShown(
        outcome=result.outcome,
        words=result.words,
        notices=notices if prediction is None else (*notices, *prediction.notices),
        check_first=evaluation.check_first,
        evaporation_kg_s=evaluation.evaporation_kg_s,
        expected_kg_s=result.figures["expected_kg_s"],
        capability_percent=None if prediction is None else prediction.capability_percent,
        half_width_percent=0.0 if prediction is None else prediction.half_width_percent,
        interval_percent=(0.0, 0.0) if prediction is None else prediction.interval_percent,
        guarantee_kg_s=0.0 if prediction is None else prediction.guarantee_kg_s,
        governing="" if prediction is None else prediction.governing,
        seasons=()
        if prediction is None
        else tuple((name, one.limit, one.capacity_kg_s) for name, one in prediction.seasons.items()),
        brought_by=() if prediction is None else tuple((one.label, one.share) for one in prediction.half_of_it),
        entered=desk is not None,
    )


# Service


def diagnosis_in_pool(
    report: Report, revision: int, texts: Texts, content: bytes, suffix: str, in_service: bool
) -> tuple[int, dict[str, Any], dict[str, Any]]:
    """Whose texts they are, readings and ranked causes, both as plain values (SI) with their words."""
    from vaporwright.actions.diagnose_job import diagnose_job
    from vaporwright.actions.job_book import laid_out

    report("Weighing the causes against the readings")
    with tempfile.TemporaryDirectory() as folder, laid_out(texts) as path:
        readings = Path(folder) / f"readings{suffix}"
        readings.write_bytes(content)
        try:
            diagnosed = diagnose_job(path, readings, in_service=in_service)
        except InputError as error:
            where = "readings" if error.where == str(readings) else Path(error.where).name
            raise InputError(where, error.key, error.problem, error.allowed) from None
    return revision, _readings_of(diagnosed.readings), _found_of(diagnosed)


def _readings_of(readings: Any) -> dict[str, Any]:
    from dataclasses import asdict

    return {name: value for name, value in asdict(readings).items() if value is not None}


def _found_of(diagnosed: Any) -> dict[str, Any]:
    from vaporwright.acceptance.diagnosis.diagnosis import KINDS

    found = diagnosed.diagnosis
    likeliest, reading = found.suspects[0], found.next_reading
    return {
        "split": {"text": found.split.text, "figures": [list(pair) for pair in found.split.figures]},
        "explained": found.explained,
        "suspects": [
            {
                "title": one.title,
                "probability": one.probability,
                "severity": one.severity if one.cause else None,
                "severity_quantity": one.cause.severity_quantity if one.cause else "",
                "severity_label": one.cause.severity_label if one.cause else "",
                "look": one.cause.look if one.cause else "",
                "caution": one.cause.caution if one.cause else "",
            }
            for one in found.suspects
        ],
        "next": None
        if reading is None
        else {
            "label": reading.kind.label,
            "quantity": reading.kind.quantity,
            "first": reading.first,
            "second": reading.second,
        },
        "rows": [
            {
                "label": kind.label,
                "quantity": kind.quantity,
                "read": getattr(diagnosed.readings, kind.name).value,
                "predicted": found.predicted[kind.name],
                "likeliest": likeliest.predicted[kind.name],
            }
            for kind in KINDS
            if kind.name in found.used and kind.name in found.predicted
        ],
    }


@dataclass(frozen=True)
class Refit:
    """What accepted runs make of a tower's law, and the catalogue with it written in; "" where there is none."""

    tower: str
    rows: tuple[tuple[str, float, tuple[float, float] | None, float, tuple[float, float] | None], ...]
    runs: tuple[tuple[str, float, float, float, bool], ...]  # run, L/G, Me, standard share, far off
    change: float  # of Me in the middle of the range tested
    middle: float  # that L/G
    written: str


def refit_in_pool(report: Report, store: str, catalogue: str | None, tower: str, runs: tuple[str, ...]) -> Refit:
    """Refine a tower's law by runs of the store; a catalogue of the shop's comes back refined."""
    from vaporwright.actions.desk import Desk
    from vaporwright.actions.refine_catalogue import refine_catalogue, write_refined

    report("Working out each run, and fitting the tower's law to them")
    with (
        tempfile.TemporaryDirectory() as folder,
        closing(open_store(store)) as records,
    ):
        source = None if catalogue is None else Path(folder) / "catalogue.toml"
        if source is not None and catalogue is not None:
            source.write_text(catalogue, encoding="utf-8", newline="\n")
        try:
            refined = refine_catalogue(Desk(records, "nobody", "technician"), source, tower, runs)
            written = ""
            if source is not None:
                written = write_refined(refined, Path(folder) / "refined.toml").read_text(encoding="utf-8")
        except InputError as error:
            where = "catalogue" if error.where == str(source) else error.where
            raise InputError(where, error.key.removeprefix("--"), error.problem, error.allowed) from None
    found, fill = refined.refinement, refined.tower.fill
    middle = math.sqrt(fill.tested_ratio_low * fill.tested_ratio_high)

    def pair(interval: Any) -> tuple[float, float]:
        return interval.low, interval.high

    return Refit(
        refined.tower.name,
        (
            ("in the catalogue", found.stated.coefficient, None, found.stated.exponent, None),
            (
                "before the runs",
                found.before.coefficient,
                pair(found.before_coefficient),
                found.before.exponent,
                pair(found.before_exponent),
            ),
            (
                "refined",
                found.after.coefficient,
                pair(found.after_coefficient),
                found.after.exponent,
                pair(found.after_exponent),
            ),
        ),
        tuple(
            (
                one.point.run,
                one.point.water_to_air_ratio,
                one.point.merkel_number,
                one.point.standard_share,
                one.outlier,
            )
            for one in found.runs
        ),
        found.change_at(middle) - 1.0,
        middle,
        written,
    )
