"""The example units under test: procedure, trials and simulated unit, made once a process, as that takes seconds."""

from __future__ import annotations

from functools import lru_cache

from example_rigs import example_answer, example_table
from vaporwright.acceptance.quality.simulated_floor import Subject, subject_of
from vaporwright.acceptance.steps.day import DayConditions


def day_of(heat: str) -> DayConditions:
    """A mild day in a shop at the job's own elevation, with the job's own supplies."""
    job = example_answer(heat).job
    steam_Pa = job.number("utilities.steam_pressure") if heat == "steam" else None
    volts, elevation_m = job.number("utilities.supply_voltage"), job.number("site.elevation")
    return DayConditions(294.15, 288.15, job.pressure_Pa, elevation_m, 288.15, volts, steam_gauge_Pa=steam_Pa)


@lru_cache
def example_subject(heat: str) -> Subject:
    """One of the demo units on that day, whole test."""
    return subject_of(example_answer(heat), example_table(heat), day_of(heat))
