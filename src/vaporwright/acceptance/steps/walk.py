"""A step in the order in which one walks through it: what to do, then what is looked at after that.

Paper and page show it so. A step of the cause-and-effect table says each of its looks among the deeds, by the name with
which the labels of its fields begin.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from vaporwright.acceptance.steps.procedure import ReadingField, Step

SET_UP: Final = "Bring the unit to: "
LOOK: Final = "Look ("


def look(when: str) -> str:
    """The deed that stands for a look."""
    return f"{LOOK}{when})."


@dataclass(frozen=True)
class Part:
    """Deeds, and what is looked at after them; `when` names the look as the record's fields do."""

    deeds: tuple[str, ...]
    when: str
    fields: tuple[ReadingField, ...]


def parts_of(step: Step) -> tuple[Part, ...]:
    """A step in the order in which it is walked through: one part for each look, else a single one."""
    looks = [words[len(LOOK) : -2] for words in step.actions if words.startswith(LOOK)]
    named = {one.key: when for one in step.fields for when in looks if one.label.startswith(f"{when}: ")}
    if not looks or len(set(looks)) < len(looks) or set(named.values()) != set(looks):
        return (Part(step.actions, "", step.fields),)
    unnamed = tuple(one for one in step.fields if one.key not in named)
    timed_at = "then" if "then" in looks else looks[-1]
    found, deeds = [], []
    for words in step.actions:
        if not words.startswith(LOOK):
            deeds.append(words)
            continue
        when = words[len(LOOK) : -2]
        seen = tuple(one for one in step.fields if named.get(one.key) == when)
        found.append(Part(tuple(deeds), when, seen + (unnamed if when == timed_at else ())))
        deeds = []
    return (*found, Part(tuple(deeds), "", ())) if deeds else tuple(found)
