"""What came of the trainer's tasks: one's own results, and for an engineer everybody's. No certificate is made."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from vaporwright.actions.training_tasks import TASK_OF
from vaporwright.web.context import Stop, render
from vaporwright.web.running.view import clock_text
from vaporwright.web.training_view import MOST_RESULTS, jobs_in_sight, results_of

STOP: Stop | None = None
router = APIRouter()


@router.get("/training")
def training(
    request: Request, everybody: bool = False, before: Annotated[float | None, Query(ge=0.0, le=1e12)] = None
) -> Response:
    """Results, newest first."""
    found = results_of(request, everybody=everybody, before=before)
    names = {job.id: job.name for job in jobs_in_sight(request)}
    results = [
        {
            "kept": one,
            "outcome": outcome,
            "title": TASK_OF[one.task].title if one.task in TASK_OF else one.task,
            "job_name": names.get(one.job, "another job"),
            "may_look": one.job in names,
            "lasted": clock_text(one.ending.unit_s),
            "wrong": [(clock_text(w.time_s), w.words, w.dangerous) for w in one.ending.wrong],
        }
        for one, outcome in found[:MOST_RESULTS]
    ]
    older = found[MOST_RESULTS - 1][0].begun_at if len(found) > MOST_RESULTS else None
    return render(request, "training.html", results=results, everybody=everybody, older=older, is_first=before is None)
