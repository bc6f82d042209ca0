"""Why a unit falls short: a job's unit and readings from a file, ranked causes out of them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from vaporwright.acceptance.diagnosis.diagnosis import Diagnosis, diagnose
from vaporwright.acceptance.run.log import SteadyReadings
from vaporwright.actions.size_job import answer_job
from vaporwright.controls.set_points import set_points_of
from vaporwright.files.service_readings_file import read_service_readings
from vaporwright.foundation.errors import OutOfRange
from vaporwright.unit.answer import UnitAnswer


@dataclass(frozen=True)
class DiagnosedJob:
    """A job's unit with what its readings say."""

    answer: UnitAnswer
    readings: SteadyReadings
    diagnosis: Diagnosis


def diagnose_job(path: Path | str, readings: Path, *, in_service: bool = True) -> DiagnosedJob:
    """Rank the causes by readings of a file; season and liquor are the job's, its air the readings'.

    The set point is that of the control's sheet, which may stand under the clamp of the job.

    Errors: InputError of job or readings, naming file, row, column, value and what is allowed; OutOfRange where the
    unit's model does not cover what was read.
    """
    answer = answer_job(path)[2]
    means = read_service_readings(readings)
    conditions = answer.seasons[answer.governing].conditions
    conditions = replace(conditions, set_point_K=_sheet_set_point_K(answer))
    return DiagnosedJob(answer, means, diagnose(means, answer.unit, conditions, in_service=in_service))


def _sheet_set_point_K(answer: UnitAnswer) -> float:
    """At which the unit's own control holds the tank; the clamp where no control fits under the plastic."""
    try:
        return set_points_of(answer).set_point_K
    except OutOfRange:
        return answer.seasons[answer.governing].clamp_K


def diagnosis_as_json(diagnosed: DiagnosedJob) -> dict[str, Any]:
    """For machines: stable keys, SI."""
    found = diagnosed.diagnosis
    next_reading = found.next_reading
    return {
        "split": found.side,
        "tank_difference_K": found.tank_difference_K,
        "tank_deviations": found.tank_deviations,
        "evaporation_share": found.evaporation_share,
        "explained_by_one_cause": found.explained,
        "readings_used": list(found.used),
        "predicted": dict(found.predicted),
        "causes": [
            {
                "cause": suspect.key,
                "probability": suspect.probability,
                "severity": suspect.severity,
                "misfit": suspect.misfit,
                "predicted": dict(suspect.predicted),
            }
            for suspect in found.suspects
        ],
        "next_reading": None
        if next_reading is None
        else {
            "reading": next_reading.kind.name,
            "if_first": next_reading.first,
            "if_second": next_reading.second,
            "standard_uncertainties_apart": next_reading.apart,
        },
    }
