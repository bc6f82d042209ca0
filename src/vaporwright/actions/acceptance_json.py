"""Studies of an acceptance test for machines: stable keys."""

from __future__ import annotations

from typing import Any

from vaporwright.actions.procedure_quality import QualityReport


def quality_as_json(found: QualityReport) -> dict[str, Any]:
    """Planted faults, what found them, and the shortest choice of steps."""
    return {
        "heat": found.heat,
        "share_found": found.share,
        "faults": [
            {
                "name": item.fault.name,
                "kind": item.fault.kind,
                "found_by": list(item.steps),
                "unseen": item.fault.unseen,
            }
            for item in found.findings
        ],
        "steps": found.steps,
        "minutes": found.minutes,
        "shortest": {
            "steps": [place.step for place in found.order],
            "minutes": found.choice.minutes,
            "exact": found.choice.exact,
            "least_minutes": found.choice.least_minutes,
        },
        "false_alarms": {"failed": found.false_alarms[0], "of": found.false_alarms[1]},
    }
