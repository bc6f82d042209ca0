"""What was done beside the unit before it could be entered: a tablet without a line keeps it, and sends it later.

The record then says both times. The time at which it was done comes from the age of the entry, or is typed with a
reason; either way it lies before the time of the entry, after the opening of the run, and without a reason not more
than a day back.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final

from vaporwright.acceptance.record.events import Refused, Stamp
from vaporwright.acceptance.record.state import RunState

LATEST: Final = timedelta(days=1)  # after which nothing is entered without a reason; common practice, no source


def moment_of(text: str) -> datetime:
    """A time that was checked when it was entered."""
    return datetime.fromisoformat(text)


def check_waited(stamp: Stamp) -> None:
    """Raise Refused unless what waited was done before it is entered, and not too long before without a reason."""
    if not stamp.happened_at:
        if stamp.late_because:
            raise Refused("the reason of a late entry stands alone", "the time at which it was done, with it")
        return
    waited = moment_of(stamp.at) - moment_of(stamp.happened_at)
    if waited < timedelta(0):
        problem = f"it was done at {stamp.happened_at}, which is after now, {stamp.at}"
        raise Refused(problem, "a time before now: type it, with the reason")
    if waited > LATEST and not stamp.late_because.strip():
        problem = f"it was done at {stamp.happened_at}, {waited.total_seconds() / 3600.0:.1f} h ago"
        allowed = f"at most {LATEST.total_seconds() / 3600.0:.0f} h; beyond that type the time, with the reason"
        raise Refused(problem, allowed)


def require_after_opening(state: RunState, stamp: Stamp) -> None:
    """Raise Refused where something was done before the run was opened."""
    if stamp.happened_at and state.opened and moment_of(stamp.happened_at) < moment_of(state.opened.at):
        problem = f"it was done at {stamp.happened_at}, before the run was opened at {state.opened.at}"
        raise Refused(problem, "what was done in this run: type its time, with the reason")


def late_data(stamp: Stamp) -> dict[str, str]:
    """What the event says of it: nothing where it was entered at once."""
    told = {"happened_at": stamp.happened_at, "late_because": stamp.late_because.strip()}
    return {name: text for name, text in told.items() if text}


def day_of(stamp: Stamp) -> str:
    """The day by whose register and due dates an entry is judged.

    It is the day of the reading, not of its arrival: whether an instrument was in date, and which were registered,
    hangs on when it was in somebody's hand. A reading of 23:50 that finds its line after midnight was taken with
    yesterday's instruments; one of the last day before the due date does not expire in a tablet.
    """
    return (stamp.happened_at or stamp.at)[:10]
