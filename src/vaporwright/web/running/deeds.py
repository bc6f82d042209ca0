"""What somebody asks for at a running unit, put into its queue: the same for pages and programs."""

from __future__ import annotations

from typing import Final

from vaporwright.actions.at_hand import deed_of
from vaporwright.actions.training import look_of, work_of
from vaporwright.foundation.errors import InputError
from vaporwright.web.running.unit import Asked, RunningUnit

PANEL_VERBS: Final = ("push", "pull", "press", "turn", "reset")  # what a trainee has; the rest is by hand, as works


def ask(unit: RunningUnit, verb: str, target: str, value: str, system: str) -> None:
    """Put what somebody asks for into a unit's queue; a press lets go by itself.

    Raises: InputError that names what was asked for and what is allowed.
    """
    if verb == "look":
        unit.do(Asked(look=look_of(unit.rig, value)))
    elif verb == "work":
        if unit.task is None:
            raise InputError("simulated unit", verb, "is for the trainer's tasks", "a fault, as no task is at work")
        unit.do(Asked(work=work_of(unit.rig, value)))
    elif unit.task is not None and verb not in PANEL_VERBS:
        raise InputError("trainer", verb, "is not offered while a task is at work", ", ".join(PANEL_VERBS))
    else:
        unit.do(Asked(deed_of(unit.rig, "push" if verb == "press" else verb, target, value, system)))
        if verb == "press":
            unit.do(Asked(deed_of(unit.rig, "pull", "", value, system)))
