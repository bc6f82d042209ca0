"""The example units under test: procedure, trials and simulated unit, made once a process, as that takes seconds."""

from __future__ import annotations

from functools import lru_cache

from example_rigs import example_answer, example_table
from vaporwright.acceptance.quality.simulated_floor import Subject, subject_of
from vaporwright.acceptance.steps.day import DayConditions, usual_day


def day_of(heat: str) -> DayConditions:
    """A mild day in a shop at the job's own elevation, with the job's own supplies."""
    return usual_day(example_answer(heat))


@lru_cache
def example_subject(heat: str) -> Subject:
    """One of the demo units on that day, whole test."""
    return subject_of(example_answer(heat), example_table(heat), day_of(heat))
