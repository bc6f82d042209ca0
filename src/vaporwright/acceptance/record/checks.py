"""What every entry of the record must have, whatever it says: names, times, words, hashes."""

from __future__ import annotations

import re
from datetime import datetime

from vaporwright.acceptance.record.chain import is_event_id
from vaporwright.acceptance.record.events import Attachment, Refused, Stamp
from vaporwright.acceptance.record.late_entries import check_waited
from vaporwright.acceptance.record.state import RunState, TakenReading
from vaporwright.acceptance.steps.instruments import is_number
from vaporwright.acceptance.steps.procedure import Step

LONGEST_NAME = 120


def check_stamp(stamp: Stamp) -> None:
    """Raise Refused unless who, when and with what are told."""
    if not is_event_id(stamp.event_id):
        raise Refused(f"{stamp.event_id!r} is no id of an event", "a UUID, small letters with dashes")
    require_moment("the time", stamp.at)
    for what, text in (("who it is", stamp.who), ("the version of the tool", stamp.tool)):
        require_words(what, text)
        if len(text) > LONGEST_NAME or not text.isprintable():
            raise Refused(f"{what}: {text[:LONGEST_NAME]!r}", f"one line of at most {LONGEST_NAME} letters")
    if stamp.happened_at:
        require_moment("the time at which it was done", stamp.happened_at)
    check_waited(stamp)


def require_words(what: str, text: object) -> None:
    """Raise Refused unless something is said."""
    if not isinstance(text, str) or not text.strip():
        raise Refused(f"{what} is missing", "a few words")


def require_moment(what: str, text: object) -> None:
    """Raise Refused unless it is a time with its offset."""
    try:
        moment = datetime.fromisoformat(text) if isinstance(text, str) and text[4:5] == "-" else None
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise Refused(f"{what}: {text!r}", "ISO 8601 with its offset, such as 2026-03-04T09:30:00-06:00")


def require_figure(what: str, value: object, *, least: float | None = None) -> None:
    """Raise Refused unless it is a finite number, not below the least."""
    if not is_number(value) or (least is not None and isinstance(value, int | float) and value < least):
        raise Refused(
            f"{what}: {value!r}", "a finite number" if least is None else f"a finite number, at least {least:g}"
        )


def require_attachment(found: Attachment) -> None:
    """Raise Refused unless an attachment is told fully."""
    require_words("the name of the attachment", found.name)
    if not found.name.isprintable():
        raise Refused(f"the name of the attachment {found.name!r}", "one line")
    if not is_hexadecimal(found.sha256, 64):
        raise Refused(f"{found.name}: {found.sha256!r}", "SHA-256 of the content, 64 hexadecimal digits, small letters")
    if not re.fullmatch(r"[\w.+-]+/[\w.+-]+", found.media_type, re.ASCII):
        raise Refused(f"{found.name}: media type {found.media_type!r}", "such as image/jpeg")
    if not isinstance(found.size, int) or isinstance(found.size, bool) or found.size < 0:
        raise Refused(f"{found.name}: size {found.size!r}", "a whole number of bytes")


def is_hexadecimal(text: object, digits: int) -> bool:
    """Whether a text is so many hexadecimal digits, small letters."""
    return isinstance(text, str) and len(text) == digits and not set(text) - set("0123456789abcdef")


def step_named(state: RunState, key: str) -> Step:
    """A step of the procedure in force.

    Raises: Refused where there is none.
    """
    if state.procedure is None:
        raise Refused("no procedure is issued yet", "issue the procedure with the conditions of the day")
    step = state.procedure.step(key)
    if step is None:
        raise Refused(f"{key!r} is no step of this procedure")
    return step


def reading_of(state: RunState, event_id: str) -> TakenReading:
    """A reading by the id of its event.

    Raises: Refused where there is none.
    """
    for taken in state.history.values():
        for entry in taken:
            if entry.mark.event_id == event_id:
                return entry
    raise Refused(f"{event_id!r} is no reading of this run")
