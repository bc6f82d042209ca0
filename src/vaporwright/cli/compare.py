"""What a change order moves, in the terminal: two jobs side by side, only the lines that differ in print."""

from __future__ import annotations

import textwrap

from vaporwright.actions.compare_outcomes import compared
from vaporwright.actions.size_job import Outcome

WIDTH = 80
LABEL = 36
COLUMN = (WIDTH - LABEL) // 2


def compare_text(old: Outcome, new: Outcome, system: str) -> str:
    """Everything printed of two answers that differs, the old value beside the new."""
    names = tuple(outcome.answer.job.text("job.name") for outcome in (old, new))
    lines = [
        textwrap.fill(f"{names[0]}  ->  {names[1]}", WIDTH),
        "-" * WIDTH,
        f"{'':<{LABEL}}{'old':>{COLUMN}}{'new':>{COLUMN}}",
    ]
    sections = compared(old, new, system)
    for section, entries in sections.items():
        lines += ["", section, *(line for entry in entries for line in _line(entry.label, entry.old, entry.new))]
    if not sections:
        lines += ["", "Nothing that is printed differs."]
    return "\n".join(lines)


def _line(label: str, old: str, new: str) -> list[str]:
    if max(len(old), len(new)) < COLUMN:
        if len(label) <= LABEL - 2:
            return [f"  {label:<{LABEL - 2}}{old:>{COLUMN}}{new:>{COLUMN}}"]
        return [f"  {label}", f"{'':<{LABEL}}{old:>{COLUMN}}{new:>{COLUMN}}"]
    long = [f"{side}: {text}" for side, text in (("old", old), ("new", new))]
    return [
        f"  {label}",
        *(textwrap.fill(text, WIDTH, initial_indent="    ", subsequent_indent="    ") for text in long),
    ]
