"""Control and proof of a job as JSON for machines: stable keys, SI, unit suffixes."""

from __future__ import annotations

from typing import Any

from vaporwright.actions.control_job import ControlledJob
from vaporwright.actions.prove_job import ProvedJob
from vaporwright.actions.rehearse_job import RehearsedJob
from vaporwright.controls.delays import delays_section
from vaporwright.controls.rehearsal import Rehearsal
from vaporwright.controls.set_points import set_points_section


def controls_as_json(controlled: ControlledJob) -> dict[str, Any]:
    """Set points, delays and the matrix."""
    unit, design = controlled.unit, controlled.unit.design
    return {
        "job": {"name": controlled.answer.job.text("job.name")},
        "heat": unit.heat,
        "edited": controlled.is_edited,
        "scan_s": design.scan_s,
        "set_points": {figure.name: figure.value for figure in set_points_section(unit.points).figures},
        "delays": {figure.name: figure.value for figure in delays_section(unit.delays, unit.heat).figures},
        "signals": [{"name": entry.name, "title": entry.title, "kind": entry.kind} for entry in design.signals],
        "effects": [{"name": entry.name, "title": entry.title, "kind": entry.kind} for entry in design.columns],
        "rows": [
            {
                "name": row.name,
                "title": row.title,
                "effects": dict(row.effects),
                "delay_s": row.delay_s,
                "latched": row.latched,
                "alarm": row.alarm,
                "first_out": row.first_out,
                "why": unit.reasons.get(row.name, ""),
            }
            for row in design.rows
        ],
    }


def rehearsals_as_json(rehearsed: RehearsedJob) -> dict[str, Any]:
    """Every script with its verdicts, events, alarms and traces."""
    return {
        "job": {"name": rehearsed.controlled.answer.job.text("job.name")},
        "met": rehearsed.met,
        "left_out": list(rehearsed.left_out),
        "scripts": [_rehearsal(rehearsal) for rehearsal in rehearsed.rehearsals],
    }


def _rehearsal(rehearsal: Rehearsal) -> dict[str, Any]:
    return {
        "name": rehearsal.script.name,
        "met": rehearsal.met,
        "plant_time_s": rehearsal.plant_time_s,
        "expectations": [
            {
                "expectation": verdict.expectation.text,
                "why": verdict.expectation.why,
                "met": verdict.met,
                "time_s": verdict.time_s,
                "found": verdict.found,
                "note": verdict.note,
            }
            for verdict in rehearsal.verdicts
        ],
        "events": [
            {"time_s": entry.time_s, "kind": entry.kind, "name": entry.name, "text": entry.text, "on": entry.on}
            for entry in rehearsal.entries
        ],
        "alarms": [
            {"time_s": entry.time_s, "row": entry.row, "priority": entry.priority, "state": entry.state}
            for entry in rehearsal.alarms
        ],
        "first_out": [{"time_s": time_s, "row": row} for time_s, row in rehearsal.first_out],
        "traces": {
            "time_s": list(rehearsal.trace.time_s),
            **{name: list(values) for name, values in rehearsal.trace.quantities.items()},
        },
        "water_gap": rehearsal.balance.water_gap,
        "heat_gap": rehearsal.balance.heat_gap,
    }


def proof_as_json(proved: ProvedJob) -> dict[str, Any]:
    """Every property with what became of it, and the single faults that take one away."""
    return {
        "job": {"name": proved.controlled.answer.job.text("job.name")},
        "holds": proved.holds,
        "properties": [
            {
                "name": proof.name,
                "sentence": proof.sentence,
                "status": proof.status,
                "how": proof.how,
                "accepted": proved.accepted.get(proof.name),
            }
            for proof in proved.proofs
        ],
        "rows_that_never_act": list(proved.never_act),
        "single_faults": [
            {
                "signal_or_output": outcome.fault.name,
                "stuck": outcome.fault.stuck,
                "property": outcome.claim,
                "survives": outcome.survival,
            }
            for outcome in proved.faults
            if outcome.survival != "by the table alone"
        ],
        "single_faults_tried": len(proved.faults),
    }
