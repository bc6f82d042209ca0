"""The book of jobs: what pages and other programs do with jobs, once. List, search, take in, revise, compare, copy.

A job's files are laid out in a folder whenever something is worked out from them, and only there: whatever a job file
names must lie within that folder.
"""

from __future__ import annotations

import difflib
import tempfile
import tomllib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from importlib.resources import files
from pathlib import Path
from typing import Final, Literal, TypeAlias, get_args

from vaporwright.acceptance.record.chain import SignedHead
from vaporwright.acceptance.record.state import RunState
from vaporwright.display_units import QUANTITIES, show, shown_unit
from vaporwright.files.job_file import CATALOGUE_KEY, TABLE_KEY, JobFile, read_job_file, started_job_text
from vaporwright.files.values import parse_toml
from vaporwright.foundation.errors import InputError
from vaporwright.store.commit import load_state
from vaporwright.store.job_store import Job, JobStore, LinkedRun, Mark, Revision, Texts
from vaporwright.store.record_store import Conflict, RecordStore
from vaporwright.unit.fields import FIELDS_BY_KEY

Stage: TypeAlias = Literal["enquiry", "sized", "controls", "dry run", "accepted", "shipped", "in service"]
STAGES: Final[tuple[Stage, ...]] = get_args(Stage)
_OF_TESTS: Final = ("dry run", "accepted", "shipped")
DEMO_JOBS: Final = ("tumbling_effluent_gas", "nickel_rinse_electric", "coolant_wash_steam")
JOB_FILE: Final = "job.toml"
LONGEST_NOTE: Final = 2000


@dataclass(frozen=True)
class Listed:
    """A job in the list, with the farthest stage that its newest revision, or its unit, has reached."""

    job: Job
    stage: Stage


@dataclass(frozen=True)
class Passed:
    """A stage of the way: whether, when, by whom and with which revision it was reached."""

    stage: Stage
    mark: Mark | None
    of_older: bool = False  # reached with a revision before the newest one


@dataclass(frozen=True)
class Change:
    """A key of the job file that differs between two revisions."""

    key: str
    meaning: str
    old: str  # empty: was not given
    new: str
    old_shown: str  # in the reader's units; empty where that says nothing more
    new_shown: str
    kind: Literal["added", "removed", "changed", "same value, written otherwise"]


@dataclass(frozen=True)
class Difference:
    """What differs between two revisions: the job's keys, and lines of the other texts."""

    changes: tuple[Change, ...]
    catalogue: tuple[str, ...]  # lines with - and +
    table: tuple[str, ...]

    @property
    def is_empty(self) -> bool:
        """Whether the revisions say the same."""
        return not (self.changes or self.catalogue or self.table)


class JobBook:
    """The jobs of a shop, as one person works with them."""

    def __init__(
        self,
        jobs: JobStore,
        records: RecordStore,
        clock: Callable[[], float],
        only: Callable[[str], bool] = lambda _job: True,
        state_of: Callable[[RecordStore, str], RunState] = load_state,
    ) -> None:
        """Args: only: which jobs this person may see; the others are not there. state_of: how a run is read."""
        self._jobs, self._records, self._clock, self._only = jobs, records, clock, only
        self._state_of = state_of
        self._seen: dict[str, tuple[Mark, ...]] = {}  # by job: what its tests had brought when last looked at

    def for_guest(self, account: str) -> JobBook:
        """The same book, as a guest sees it: the jobs that were opened to them."""
        opened = self._jobs.open_jobs(account)
        made = JobBook(self._jobs, self._records, self._clock, opened.__contains__, self._state_of)
        made._seen = self._seen
        return made

    # looking

    def listed(self, search: str = "", stage: str = "", *, archived: bool = False) -> tuple[Listed, ...]:
        """Jobs whose name, customer or number has every word of the search, the one revised last first."""
        words = search.casefold().split()
        by_job: dict[str, list[Mark]] = {}
        for mark in self._jobs.marks():
            by_job.setdefault(mark.job, []).append(mark)
        found = []
        for job in self._jobs.jobs():
            text = f"{job.name} {job.customer} {job.id}".casefold()
            if (job.archived_at is not None) != archived or not all(word in text for word in words):
                continue
            if not self._only(job.id):
                continue
            noted = by_job.get(job.id, [])
            if job.id in self._seen:
                noted = [*(mark for mark in noted if mark.stage not in _OF_TESTS), *self._seen[job.id]]
            entry = Listed(job, _farthest(job, noted))
            if not stage or entry.stage == stage:
                found.append(entry)
        return tuple(found)

    def job(self, job: str) -> Job:
        """A job by its id.

        Raises: NoSuchJob.
        """
        found = self._jobs.job(job) if self._only(job) else None
        if found is None:
            raise NoSuchJob(job)
        return found

    def revision(self, job: str, number: int | None = None) -> Revision:
        """A revision of a job; the newest one unless a number is given.

        Raises: NoSuchJob.
        """
        newest = self.job(job).revision
        found = self._jobs.revision(job, newest if number is None else number)
        if found is None:
            raise NoSuchJob(job)
        return found

    def revisions(self, job: str) -> tuple[Revision, ...]:
        """All revisions of a job, newest first."""
        return self._jobs.revisions(self.job(job).id)

    def runs(self, job: str) -> tuple[LinkedRun, ...]:
        """The test runs of a job, newest first."""
        return self._jobs.runs(self.job(job).id)

    def job_of_run(self, run: str) -> LinkedRun | None:
        """The job that a test run belongs to."""
        found = self._jobs.run(run)
        return found if found is not None and self._only(found.job) else None

    # taking in

    def take_in(self, texts: Texts, *, by: str, note: str = "") -> Job:
        """A new job from its texts.

        Raises: InputError of the job file, naming key, value and what is allowed.
        """
        name, customer = _name_and_customer(checked(texts))
        return self._jobs.add(name, customer, texts, at=self._clock(), by=by, note=_note(note))

    def start(self, name: str, customer: str, volume: str, *, by: str) -> Job:
        """A new job from the least that one can know: the commented start file with these three filled in.

        Raises: InputError as a job file with these values would.
        """
        text = started_job_text()
        for key, value in (("name", name), ("customer", customer), ("volume", volume)):
            text = _filled(text, key, value)
        return self.take_in(Texts(text), by=by, note="started")

    def revise(self, job: str, after: int, texts: Texts, *, by: str, note: str) -> int:
        """The next revision of a job; its number comes back, or the old one where nothing differs.

        Raises: InputError of the job file; Conflict where somebody else was faster.
        """
        known, newest = self.revision(job, after), self.job(job).revision
        if newest != after:
            raise Conflict(f"somebody else has made revision {newest} since you opened revision {after}")
        if known.texts == texts:
            return after
        name, customer = _name_and_customer(checked(texts))
        return self._jobs.revise(job, after, name, customer, texts, at=self._clock(), by=by, note=_note(note))

    def copy(self, job: str, *, by: str) -> Job:
        """A new job with the newest texts of another, its name marked as a copy."""
        source = self.revision(job)
        name, customer = self.job(job).name, self.job(job).customer
        texts = replace(source.texts, job=_filled(source.texts.job, "name", f"Copy of {name}"))
        note = f"copy of {name}, revision {source.number}"
        if _name_and_customer(checked(texts)) != (f"Copy of {name}", customer):
            texts = source.texts  # its name is written in a way that is left alone
        return self.take_in(texts, by=by, note=note)

    def archive(self, job: str, away: bool) -> None:
        """Put a job away, or bring it back."""
        self._jobs.archive(self.job(job).id, self._clock() if away else None)

    def add_demo(self, *, by: str) -> tuple[Job, ...]:
        """The demo's three invented enquiries, as jobs; those that are there already stay as they are."""
        there = {entry.job.name for entry in (*self.listed(), *self.listed(archived=True))}
        added = []
        for name in DEMO_JOBS:
            texts = Texts(demo_job_text(name))
            if _name_and_customer(checked(texts))[0] not in there:
                added.append(self.take_in(texts, by=by, note="invented demo job"))
        return tuple(added)

    # the way

    def mark(self, job: str, stage: Stage, revision: int, *, by: str, note: str = "") -> None:
        """Note that a revision has reached a stage; the first time stands."""
        assert stage in STAGES
        self._jobs.mark(self.job(job).id, stage, revision, at=self._clock(), who=by, note=note)

    def link_run(self, run: str, job: str, revision: int) -> None:
        """Say that a test run belongs to a revision of a job."""
        self._jobs.link_run(run, self.job(job).id, revision, at=self._clock())

    def way(self, job: str) -> tuple[Passed, ...]:
        """The stages in order, each with its mark. Those of tests are read from the records, where they are kept."""
        newest = self.job(job)
        marks: dict[str, Mark] = {
            "enquiry": Mark(job, "enquiry", 1, newest.made_at, newest.made_by, ""),
        }
        for mark in self.marks(job):
            known = marks.get(mark.stage)
            if known is None or mark.revision > known.revision:
                marks[mark.stage] = mark
        return tuple(_passed(stage, marks.get(stage), newest.revision) for stage in STAGES)

    def stage(self, job: str) -> Stage:
        """The farthest stage that a job has reached."""
        return _farthest(self.job(job), list(self.marks(job)))

    def marks(self, job: str) -> tuple[Mark, ...]:
        """What was noted of a job, and what its tests have brought as their records stand. Nothing is written."""
        noted = (mark for mark in self._jobs.marks(self.job(job).id) if mark.stage not in _OF_TESTS)
        return (*noted, *self._brought(job))

    def mark_from_records(self, job: str) -> None:
        """Note the stages that a job's tests have brought, and no longer those that a reopening has taken back."""
        reached = {(mark.stage, mark.revision): mark for mark in self._brought(job)}
        known = {(mark.stage, mark.revision) for mark in self._jobs.marks(job) if mark.stage in _OF_TESTS}
        for place, mark in reached.items():
            if place not in known:
                self._jobs.mark(job, mark.stage, mark.revision, at=mark.at, who=mark.who, note=mark.note)
        for name, revision in known - set(reached):
            self._jobs.unmark(job, name, revision)

    def _brought(self, job: str) -> tuple[Mark, ...]:
        """The stages that a job's tests have brought, each by the first run that did."""
        reached: dict[tuple[Stage, int], Mark] = {}
        for linked in reversed(self._jobs.runs(job)):
            for stage, signed in _brought(self._state_of(self._records, linked.run)):
                at = datetime.fromisoformat(signed.at).timestamp()
                made = Mark(job, stage, linked.revision, at, signed.name, linked.run)
                reached.setdefault((stage, linked.revision), made)
        self._seen[job] = tuple(reached.values())
        return self._seen[job]


class NoSuchJob(InputError):
    """There is no job, or no revision, under this address."""

    def __init__(self, job: str) -> None:
        super().__init__("job", job[:40], "is no job of this shop", "a job from the list")


def demo_job_text(name: str) -> str:
    """The job file of an invented enquiry."""
    return (files("vaporwright.files") / "data" / "demo_jobs" / f"{name}.toml").read_text(encoding="utf-8")


@contextmanager
def laid_out(texts: Texts) -> Iterator[Path]:
    """The files of a job in a folder of their own, for as long as something is worked out from them.

    Raises: InputError where the job names a file that did not come with it, or one outside of the folder.
    """
    with tempfile.TemporaryDirectory(prefix="vaporwright-job-") as folder:
        yield lay_out(texts, Path(folder))


def lay_out(texts: Texts, folder: Path) -> Path:
    """Write the files of a job into an empty folder; the path of the job file comes back.

    Raises: InputError as `laid_out`.
    """
    place = folder.resolve() / "a" / "b" / "c" / "d" / "e"  # so that a path out of the job's own folder stays within
    place.mkdir(parents=True)
    path = place / JOB_FILE
    path.write_text(texts.job, encoding="utf-8", newline="\n")
    tables = parse_toml(texts.job, JOB_FILE)
    for key, text in ((CATALOGUE_KEY, texts.catalogue), (TABLE_KEY, texts.table)):
        named = tables.get(key)
        if named is None:
            continue
        if not isinstance(named, str) or "\0" in named or len(named) > 200:
            raise InputError(JOB_FILE, key, "is not a path", "a path in quotes")
        target = (place / named).resolve()
        if not target.is_relative_to(folder.resolve()) or target == path:
            raise InputError(JOB_FILE, key, f'"{named}" lies elsewhere', "a path from the job file's folder")
        if text is None:
            raise InputError(JOB_FILE, key, f'"{named}" did not come with the job file', "choose that file too")
        target.parent.mkdir(parents=True, exist_ok=True)
        if target.is_dir():
            raise InputError(JOB_FILE, key, f'"{named}" is a folder', "a file name")
        target.write_text(text, encoding="utf-8", newline="\n")
    return path


def checked(texts: Texts) -> JobFile:
    """The job file of texts as read.

    Raises: InputError as `read_job_file`, with the file named as its reader knows it.
    """
    with laid_out(texts) as path:
        try:
            return read_job_file(path)
        except InputError as error:
            where = JOB_FILE if error.where == str(path) else Path(error.where).name
            raise InputError(where, error.key, error.problem, error.allowed) from None


def difference(old: Texts, new: Texts, system: str) -> Difference:
    """What differs between two revisions of a job, in words and in the reader's units."""
    before, after = checked(old), checked(new)
    changes = []
    keys = dict.fromkeys((*FIELDS_BY_KEY, *before.texts, *after.texts))
    for key in keys:
        if before.texts.get(key) != after.texts.get(key):
            changes.append(_change(key, before, after, system))
    for name in dict.fromkeys((*before.accepted, *after.accepted)):
        was, becomes = before.accepted.get(name, ""), after.accepted.get(name, "")
        if was != becomes:
            meaning = "property accepted to fall, with its reason"
            changes.append(Change(f"accepted.{name}", meaning, was, becomes, "", "", _kind(was, becomes)))
    return Difference(tuple(changes), _lines(old.catalogue, new.catalogue), _lines(old.table, new.table))


def _change(key: str, before: JobFile, after: JobFile, system: str) -> Change:
    field = FIELDS_BY_KEY[key]
    was, becomes = before.texts.get(key, ""), after.texts.get(key, "")
    kind = _kind(was, becomes)
    if kind == "changed" and before.values[key] == after.values[key]:
        kind = "same value, written otherwise"

    def shown(job: JobFile) -> str:
        value = job.values.get(key)
        if field.quantity not in QUANTITIES or not isinstance(value, float):
            return ""
        unit = shown_unit(field.quantity, system).text
        typed_so = unit and job.texts[key].endswith(unit)
        return "" if typed_so else show(value, field.quantity, system, 4)

    return Change(key, field.meaning, was, becomes, shown(before), shown(after), kind)


def _kind(was: str, becomes: str) -> Literal["added", "removed", "changed", "same value, written otherwise"]:
    if not was:
        return "added"
    return "changed" if becomes else "removed"


def _lines(old: str | None, new: str | None) -> tuple[str, ...]:
    if old == new:
        return ()
    lines = difflib.unified_diff((old or "").splitlines(), (new or "").splitlines(), lineterm="", n=0)
    return tuple(line for line in lines if not line.startswith(("---", "+++", "@@")))


def _brought(state: RunState) -> Iterator[tuple[Stage, SignedHead]]:
    """The stages that a run has brought as it stands, and the signature; tests at the site bring none."""
    if state.void is not None or state.kind == "site":
        return
    signing = "engineer" if state.kind == "dry run" else "witness"
    for signed in state.covering:
        if signed.role == signing:
            yield "dry run" if state.kind == "dry run" else "accepted", signed
    if state.release is not None:
        yield "shipped", state.release


def _farthest(job: Job, marks: list[Mark]) -> Stage:
    """What is made with papers counts for the newest revision alone; what was done with the unit stays done."""
    of_papers = ("sized", "controls")
    counts = [mark.stage for mark in marks if mark.revision == job.revision or mark.stage not in of_papers]
    return max((stage for stage in STAGES if stage in counts), key=STAGES.index, default="enquiry")


def _passed(stage: Stage, mark: Mark | None, newest: int) -> Passed:
    return Passed(stage, mark, mark is not None and stage != "enquiry" and mark.revision < newest)


def _name_and_customer(job_file: JobFile) -> tuple[str, str]:
    default = FIELDS_BY_KEY["job.name"].default
    name = str(job_file.values.get("job.name", default or "")).strip()
    return name or "A job without a name", str(job_file.values.get("job.customer", "")).strip()


def _note(note: str) -> str:
    note = note.strip()
    if len(note) > LONGEST_NOTE:
        raise InputError("note", "", f"has {len(note)} characters", f"at most {LONGEST_NOTE}")
    return note


def _filled(text: str, key: str, value: str) -> str:
    """A job file's text with the first line of a key, commented or not, given a new value."""
    lines = text.splitlines()
    for place, line in enumerate(lines):
        if line.removeprefix("# ").startswith(f"{key} = "):
            lines[place] = f"{key} = {_quoted(value)}"
            break
    return "\n".join(lines) + "\n"


def _quoted(value: str) -> str:
    """A text as TOML writes it."""
    plain = value.replace("\\", "\\\\").replace('"', '\\"')
    spelt = "".join(
        one if one.isprintable() else f"\\u{ord(one):04X}" for one in plain if ord(one) <= 0xFFFF or one.isprintable()
    )
    made = f'"{spelt}"'
    assert tomllib.loads(f"value = {made}")
    return made
