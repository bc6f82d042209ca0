"""Sizing and rating a job file: what the commands `size` and `rate` do, and what a page will do."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from vaporwright.files.catalogue_file import read_catalogue_file
from vaporwright.files.job_file import JobFile, read_job_file
from vaporwright.foundation.telling import Report, unheard
from vaporwright.unit.answer import UnitAnswer, answer_for
from vaporwright.unit.assembly import given_unit
from vaporwright.unit.body import Body, body_of
from vaporwright.unit.candidates import Candidate
from vaporwright.unit.catalogue import Catalogue
from vaporwright.unit.job import build_job
from vaporwright.unit.questions import Question, questions_for
from vaporwright.unit.sizing import size_unit

RATING = "Rating the unit over the seasons"
BODY = "Levels, pipes, connections and materials"


@dataclass(frozen=True)
class Outcome:
    """An answer with everything that a report, a chart or a paper of it needs."""

    job_file: JobFile
    catalogue: Catalogue
    answer: UnitAnswer
    body: Body
    shown: tuple[Candidate, ...]  # the best few side by side, the chosen one first; none where the unit was given
    candidates: tuple[Candidate, ...]  # all that were tried
    questions: tuple[Question, ...]


def size_job(path: Path | str, report: Report = unheard) -> Outcome:
    """Choose a unit for the job of a file and answer for it.

    Errors: InputError, LiquidRefused.
    """
    job_file = read_job_file(path)
    job = build_job(job_file.values)  # the liquid's go or no-go comes before anything else
    catalogue = read_catalogue_file(job_file.catalogue)
    sizing = size_unit(job, catalogue, report)
    questions = questions_for(sizing.answer, job_file.values, report)
    report(BODY)
    return Outcome(job_file, catalogue, sizing.answer, body_of(sizing.answer), sizing.shown, sizing.tried, questions)


def answer_job(path: Path | str) -> tuple[JobFile, Catalogue, UnitAnswer]:
    """The answer for the unit that a job file names, or else for the one that a sizing chooses; no questions asked.

    Errors: InputError, LiquidRefused.
    """
    job_file = read_job_file(path)
    job = build_job(job_file.values)
    catalogue = read_catalogue_file(job_file.catalogue)
    named = all(job.text(f"unit.{part}") for part in ("tower", "tank", "heat_source"))
    answer = answer_for(job, given_unit(job, catalogue)) if named else size_unit(job, catalogue).answer
    return job_file, catalogue, answer


def rate_job(path: Path | str, report: Report = unheard) -> Outcome:
    """Answer for the unit that the job file names.

    Errors: InputError, LiquidRefused.
    """
    job_file = read_job_file(path)
    job = build_job(job_file.values)
    catalogue = read_catalogue_file(job_file.catalogue)
    report(RATING)
    answer = answer_for(job, given_unit(job, catalogue))
    questions = questions_for(answer, job_file.values, report)
    report(BODY)
    return Outcome(job_file, catalogue, answer, body_of(answer), (), (), questions)
