"""A tower's transfer law refined from accepted runs of the shop's record, with a before and an after."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from vaporwright.acceptance.guarantee.refinement import Refinement, RunPoint, refine
from vaporwright.acceptance.record.run_result import run_point
from vaporwright.actions.desk import Desk
from vaporwright.actions.tested_job import job_of_record
from vaporwright.files.catalogue_edit import write_refined_catalogue
from vaporwright.files.catalogue_file import read_catalogue_file
from vaporwright.foundation.errors import InputError
from vaporwright.unit.catalogue import TowerPart


@dataclass(frozen=True)
class RefinedTower:
    """A tower of a catalogue, and what runs make of its law."""

    catalogue: Path | None  # None: the demo catalogue
    tower: TowerPart
    refinement: Refinement


def refine_catalogue(desk: Desk, catalogue: Path | None, tower_id: str, runs: Iterable[str]) -> RefinedTower:
    """Refine one tower by runs of the store; nothing is written.

    Raises: InputError for an unknown tower or run, a run that was not accepted and signed, one of a unit with another
        tower, or one that could not tell the fill from the air.
    """
    read = read_catalogue_file(catalogue)
    towers, where = read.towers, str(catalogue or read.name)
    if tower_id not in towers:
        raise InputError(where, "--tower", f"{tower_id!r} is no tower of this catalogue", ", ".join(towers))
    points = [_point(desk, run, tower_id) for run in runs]
    return RefinedTower(catalogue, towers[tower_id], refine(towers[tower_id].fill, points, where=where))


def _point(desk: Desk, run: str, tower_id: str) -> RunPoint:
    state = desk.state(run)
    if state.result is None or state.signed_by("engineer") is None or state.void is not None:
        raise InputError("refine", run, "has no result that the engineer has signed", "an accepted and signed run")
    tower = job_of_record(desk.store, state).answer.unit.tower
    if tower.part_id != tower_id:
        raise InputError("refine", run, f"is of a unit with tower {tower.part_id}", f"runs of units with {tower_id}")
    ratio = state.result.figures.get("tower.water_to_air_ratio", 0.0)
    fill = tower.fill
    law = fill.merkel_coefficient * ratio**fill.merkel_exponent if ratio > 0.0 else 0.0
    return run_point(run, state.head, state.result, law)


def write_refined(refined: RefinedTower, target: Path) -> Path:
    """Write a copy of the catalogue with the refined law. Raises InputError rather than overwrite a file."""
    if refined.catalogue is None:
        raise InputError("refine", "--write", "the invented demo catalogue has no runs", "--catalogue FILE of the shop")
    law = refined.refinement.after
    names = ", ".join(entry.point.run for entry in refined.refinement.runs)
    note = f"refined from accepted runs: {names}"
    return write_refined_catalogue(
        refined.catalogue, target, refined.tower.part_id, law.coefficient, law.exponent, note
    )


def refinement_as_json(refined: RefinedTower) -> dict[str, Any]:
    """For machines: stable keys, SI."""
    found = refined.refinement
    return {
        "tower": refined.tower.part_id,
        "stated": {"coefficient": found.stated.coefficient, "exponent": found.stated.exponent},
        "before": {
            "coefficient": found.before.coefficient,
            "coefficient_95": list(found.before_coefficient),
            "exponent": found.before.exponent,
            "exponent_95": list(found.before_exponent),
        },
        "after": {
            "coefficient": found.after.coefficient,
            "coefficient_95": list(found.after_coefficient),
            "exponent": found.after.exponent,
            "exponent_95": list(found.after_exponent),
        },
        "test_points": found.from_points,
        "runs": [
            {
                "run": entry.point.run,
                "head": entry.point.head,
                "water_to_air_ratio": entry.point.water_to_air_ratio,
                "merkel_number": entry.point.merkel_number,
                "standard_share": entry.point.standard_share,
                "refined_law_merkel_number": entry.law_merkel_number,
                "deviations": entry.deviations,
                "outlier": entry.outlier,
            }
            for entry in found.runs
        ],
    }
