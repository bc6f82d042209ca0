"""Beginning a simulated unit for somebody, for pages and for programs: what it stands in, and, with a task, under whose
name the result is kept.
"""

from __future__ import annotations

import logging
from typing import Final

from fastapi import Request

from vaporwright.actions.surroundings import Surroundings, chosen, day_of_test, seasons_of
from vaporwright.actions.training import tasks_for
from vaporwright.actions.training_results import KeptTry, Trainee
from vaporwright.actions.training_tasks import TASK_OF
from vaporwright.foundation.errors import InputError, VaporwrightError
from vaporwright.store.people_store import ACCOUNT_ROLES
from vaporwright.web.context import book, require_name, shop
from vaporwright.web.controlled import Entry, controlled
from vaporwright.web.floor import state_of
from vaporwright.web.running.lit import matrix_of
from vaporwright.web.running.unit import RunningUnit

MOST_DAYS: Final = 5  # of tests that are offered, the newest
_LOG: Final = logging.getLogger("vaporwright.web")


def surroundings_of(request: Request, job: str, entry: Entry) -> tuple[Surroundings, ...]:
    """The seasons of a job, and the days of its newest tests whose procedure is issued."""
    here = shop(request)
    procedures = ((link.run, state_of(here, link.run).procedure) for link in book(request).runs(job))
    days = (day_of_test(run, procedure) for run, procedure in procedures if procedure is not None)
    whole = [one for one in days if one is not None]
    return (*seasons_of(entry.known.controlled.answer), *whole[:MOST_DAYS])


def begun_unit(request: Request, job: str, entry: Entry, owner: str, air: str = "") -> RunningUnit:
    """A fresh unit at rest, in the air of a key: that of the season which governs, where none is asked for.

    Raises: InputError, OutOfRange, NotConverged.
    """
    where = chosen(surroundings_of(request, job, entry), air)
    here, known = controlled(request), entry.known
    rig = here.rig(entry, where)
    return here.units.begin(
        rig,
        owner=owner,
        job=job,
        revision=entry.revision,
        air=where.worked_out(rig),
        matrix=matrix_of(known.controlled, rig),
    )


def begun_task(request: Request, job: str, entry: Entry, owner: str, task: str) -> RunningUnit:
    """A fresh unit as a task hands it over, in the season that governs; the result is kept under the viewer's name.

    Raises: InputError, Forbidden, NameNeeded.
    """
    who = require_name(request, *ACCOUNT_ROLES)
    known, here = entry.known, shop(request)
    rig = known.rig
    found = TASK_OF.get(task)
    if found is None or found not in tasks_for(rig):
        allowed = ", ".join(one.key for one in tasks_for(rig))
        raise InputError("trainer", "task", f'"{task[:40]}" is no task for this unit', allowed)
    controlled(request).units.require_room(owner)
    trainee = Trainee(who.name, who.account, who.address)
    kept = KeptTry(here.database, here.clock, trainee, job, entry.revision, found)
    return controlled(request).units.begin(
        rig,
        owner=owner,
        job=job,
        revision=entry.revision,
        task=found,
        air=chosen(seasons_of(known.controlled.answer), "").worked_out(rig),
        matrix=matrix_of(known.controlled, rig),
        keeper=_Keeper(kept),
    )


class _Keeper:
    """Keeps how a try ended; a store that cannot take it ends no unit."""

    def __init__(self, kept: KeptTry) -> None:
        self._kept = kept

    @property
    def id(self) -> str:
        return self._kept.id

    def over(self, unit: RunningUnit) -> None:
        view = unit.view()
        try:
            self._kept.over(unit.attempt, view.time_s if view is not None else 0.0, unit.why_ended)
        except VaporwrightError:
            _LOG.exception("the result of a task could not be kept")
