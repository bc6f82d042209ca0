"""Results of the trainer as whoever looks may see them: one's own, and for an engineer everybody's."""

from __future__ import annotations

from typing import Final

from fastapi import Request

from vaporwright.store.job_store import Job
from vaporwright.store.training_store import KeptAttempt, TrainingStore
from vaporwright.web.context import GUEST, Forbidden, book, shop, viewer
from vaporwright.web.controlled import controlled

MOST_RESULTS: Final = 100
CUT_SHORT: Final = "cut short"  # the server was ended while it was at work


def results_of(request: Request, *, everybody: bool, before: float | None = None) -> list[tuple[KeptAttempt, str]]:
    """Results with their outcome in words, newest first, one more than a page shows. Raises: Forbidden."""
    who = viewer(request)
    if everybody and not who.may("engineer"):
        raise Forbidden("the results of others are for the engineer; you see your own")
    results = TrainingStore(shop(request).database)
    jobs = [job.id for job in jobs_in_sight(request)] if who.role == GUEST else None
    found = results.attempts(
        limit=MOST_RESULTS + 1,
        account=None if everybody else who.account,
        who=who.name,
        jobs=jobs,
        before=before,
    )
    at_work = controlled(request).units.results_to_come
    return [(one, _outcome(one, at_work)) for one in found]


def jobs_in_sight(request: Request) -> list[Job]:
    """Every job that whoever looks may see, put away or not."""
    here = book(request)
    return [one.job for archived in (False, True) for one in here.listed(archived=archived)]


def _outcome(one: KeptAttempt, at_work: frozenset[str]) -> str:
    is_cut = one.ended_at is None and one.id not in at_work
    return CUT_SHORT if is_cut else one.ending.outcome
