"""The book of jobs: list, new, one job with its way and its revisions, what differs between two of them."""

from __future__ import annotations

from typing import Annotated, Final

from fastapi import APIRouter, Form, Query, Request, UploadFile
from fastapi.responses import Response

from vaporwright.actions.job_book import JOB_FILE, STAGES, NoSuchJob, difference
from vaporwright.files.job_file import started_job_text
from vaporwright.foundation.errors import InputError
from vaporwright.store.job_store import Texts
from vaporwright.store.people_store import Account
from vaporwright.store.record_store import Conflict
from vaporwright.web.context import (
    GUEST,
    Stop,
    book,
    download,
    file_name_of,
    note,
    redirect,
    render,
    require,
    require_name,
    shop,
    viewer,
)
from vaporwright.web.errors import Problem, problem_of
from vaporwright.web.naming import as_named

STOP: Final = Stop("job", "Job", "/jobs/{job}", 0)
LARGEST_FILE_bytes: Final = 4_000_000
TOML: Final = "application/toml; charset=utf-8"
_WORKERS: Final = ("engineer",)
router = APIRouter()

Typed = Annotated[str, Form()]


@router.get("/")
def root(request: Request) -> Response:
    """To the list."""
    return redirect(request, "/jobs")


@router.get("/jobs")
def jobs(request: Request, search: str = "", stage: str = "", archived: Annotated[bool, Query()] = False) -> Response:
    """The list, searched and filtered."""
    found = book(request).listed(search[:200], stage, archived=archived)
    is_empty = not found and not (search or stage or archived) and not book(request).listed(archived=True)
    return render(
        request,
        "jobs.html",
        found=found,
        search=search[:200],
        chosen=stage,
        archived=archived,
        stage_choices=[("", "any"), *((name, name) for name in STAGES)],
        is_empty=is_empty,
    )


@router.get("/jobs/new")
def new(request: Request) -> Response:
    """The two ways to a new job."""
    require(request, *_WORKERS)
    return _new_page(request, {})


@router.post("/jobs/new")
def start(
    request: Request, name: Typed = "", customer: Typed = "", volume: Typed = "", your_name: Typed = ""
) -> Response:
    """A job from the least that one can know."""
    require(request, *_WORKERS)
    typed = {"name": name, "customer": customer, "volume": volume, "your_name": your_name}
    try:
        if not name.strip():
            raise InputError("new job", "job.name", "is missing", "a name by which the shop will know the job")
        who = as_named(request, your_name, *_WORKERS)
        made = book(request).start(name.strip(), customer.strip(), volume.strip(), by=who.name)
    except InputError as error:
        return _new_page(request, typed, problem_of(error))
    note(request, "job made", made.id, made.name)
    return redirect(request, f"/jobs/{made.id}", f"{made.name} is in the book.")


@router.post("/jobs/upload")
def upload(
    request: Request,
    job_file: UploadFile | None = None,
    catalogue_file: UploadFile | None = None,
    table_file: UploadFile | None = None,
    your_name: Typed = "",
) -> Response:
    """A job from a job file, with the shop's own catalogue and control table where it names them."""
    require(request, *_WORKERS)
    try:
        texts = _uploaded(job_file, catalogue_file, table_file)
        who = as_named(request, your_name, *_WORKERS)
        made = book(request).take_in(texts, by=who.name, note=f"from {_plain(job_file)}")
    except InputError as error:
        return _new_page(request, {"your_name": your_name}, problem_of(error))
    note(request, "job made", made.id, made.name)
    return redirect(request, f"/jobs/{made.id}", f"{made.name} is in the book.")


@router.get("/start-file")
def start_file() -> Response:
    """The commented job file with every key."""
    return download(started_job_text(), "job.toml", TOML)


@router.post("/jobs/demo")
def demo(request: Request) -> Response:
    """The invented demo jobs."""
    who = require(request, *_WORKERS)
    added = book(request).add_demo(by=who.name or "demo")
    note(request, "demo jobs added", detail=str(len(added)))
    said = "The invented demo jobs are in the book." if added else "The demo jobs were in the book already."
    return redirect(request, "/jobs", said)


@router.get("/jobs/{job}")
def one(request: Request, job: str) -> Response:
    """A job: how far it has come, its file, its revisions."""
    entry, revision = book(request).job(job), book(request).revision(job)
    return render(
        request,
        "job.html",
        job=entry,
        stop="job",
        newest=revision,
        revisions=book(request).revisions(job),
        way=book(request).way(job),
        runs=book(request).runs(job),
        witnesses=_witnesses(request, job),
    )


@router.get("/jobs/{job}/file")
def job_file(request: Request, job: str, revision: int | None = None, part: str = "job") -> Response:
    """One of a revision's texts, to keep."""
    found = book(request).revision(job, revision)
    text = {"job": found.texts.job, "catalogue": found.texts.catalogue, "table": found.texts.table}.get(part)
    if text is None:
        raise NoSuchJob(job)
    name = file_name_of(book(request).job(job).name)
    return download(text, f"{name}_r{found.number}{'' if part == 'job' else f'_{part}'}.toml", TOML)


@router.get("/jobs/{job}/revise")
def edit(request: Request, job: str) -> Response:
    """The newest job file, to be changed."""
    require(request, *_WORKERS)
    revision = book(request).revision(job)
    return _edit_page(request, job, revision.number, revision.texts.job, "", "")


@router.post("/jobs/{job}/revise")
def revise(
    request: Request, job: str, after: Annotated[int, Form()], text: Typed = "", why: Typed = "", your_name: Typed = ""
) -> Response:
    """The next revision from a text."""
    known = book(request).revision(job, after)
    texts = Texts(text.replace("\r\n", "\n"), known.texts.catalogue, known.texts.table)
    try:
        who = as_named(request, your_name, *_WORKERS)
        number = book(request).revise(job, after, texts, by=who.name, note=why)
    except (InputError, Conflict) as error:
        if isinstance(error, NoSuchJob):
            raise
        return _edit_page(request, job, after, text, why, your_name, problem_of(error))
    return _revised(request, job, after, number)


@router.post("/jobs/{job}/replace")
def replace_files(
    request: Request,
    job: str,
    after: Annotated[int, Form()],
    job_file: UploadFile | None = None,
    catalogue_file: UploadFile | None = None,
    table_file: UploadFile | None = None,
    why: Typed = "",
    your_name: Typed = "",
) -> Response:
    """The next revision from files; a file that is not chosen stays as it is."""
    known = book(request).revision(job, after).texts
    try:
        who = as_named(request, your_name, *_WORKERS)
        texts = Texts(
            _text_of(job_file, JOB_FILE) or known.job,
            _text_of(catalogue_file, "catalogue") or known.catalogue,
            _text_of(table_file, "table") or known.table,
        )
        number = book(request).revise(job, after, texts, by=who.name, note=why)
    except (InputError, Conflict) as error:
        if isinstance(error, NoSuchJob):
            raise
        return _edit_page(request, job, after, known.job, why, your_name, problem_of(error))
    return _revised(request, job, after, number)


@router.get("/jobs/{job}/difference")
def compare(request: Request, job: str, old: int, new: int) -> Response:
    """What differs between two revisions."""
    before, after = book(request).revision(job, old), book(request).revision(job, new)
    return render(
        request,
        "difference.html",
        job=book(request).job(job),
        stop="job",
        before=before,
        after=after,
        pairs=[(str(entry.number), str(entry.number)) for entry in book(request).revisions(job)],
        difference=difference(before.texts, after.texts, viewer(request).units),
    )


@router.post("/jobs/{job}/copy")
def copy(request: Request, job: str) -> Response:
    """A new job with the same texts."""
    who = require_name(request, *_WORKERS)
    made = book(request).copy(job, by=who.name)
    note(request, "job copied", made.id, f"from {job}")
    return redirect(request, f"/jobs/{made.id}", f"{made.name} is in the book.")


@router.post("/jobs/{job}/archive")
def archive(request: Request, job: str, away: Annotated[bool, Form()] = True) -> Response:
    """Put a job away, or bring it back."""
    require(request, *_WORKERS)
    entry = book(request).job(job)
    book(request).archive(job, away)
    note(request, "job put away" if away else "job brought back", job, entry.name)
    said = f"{entry.name} is put away: it is kept, and listed under put away." if away else f"{entry.name} is back."
    return redirect(request, "/jobs" if away else f"/jobs/{job}", said)


@router.post("/jobs/{job}/witnesses")
def open_to(request: Request, job: str, witness: Annotated[list[str] | None, Form()] = None) -> Response:
    """Which witnesses may look at a job and its tests."""
    require(request, *_WORKERS)
    known = {account.id: account.name for account, _ in _witnesses(request, job)}
    chosen = tuple(one for one in dict.fromkeys(witness or ()) if one in known)
    shop(request).jobs.open_to(book(request).job(job).id, chosen)
    named = ", ".join(known[one] for one in chosen) or "nobody"
    note(request, "job opened to witnesses", job, named)
    return redirect(request, f"/jobs/{job}", f"Witnesses who may look at this job: {named}.")


def _witnesses(request: Request, job: str) -> list[tuple[Account, bool]]:
    """The shop's witnesses, and whether the job is opened to each."""
    guests = shop(request).jobs.guests(job)
    accounts = shop(request).people.accounts() if viewer(request).may(*_WORKERS) else ()
    return [(one, one.id in guests) for one in accounts if one.role == GUEST and one.disabled_at is None]


def _new_page(request: Request, typed: dict[str, str], problem: Problem | None = None) -> Response:
    status = problem.status if problem else 200
    return render(request, "job_new.html", status=status, typed=typed, problem=problem)


def _edit_page(
    request: Request, job: str, after: int, text: str, why: str, your_name: str, problem: Problem | None = None
) -> Response:
    entry = book(request).job(job)
    return render(
        request,
        "job_edit.html",
        status=problem.status if problem else 200,
        job=entry,
        stop="job",
        after=after,
        text=text,
        why=why,
        your_name=your_name,
        known=book(request).revision(job, after).texts,
        problem=problem,
    )


def _revised(request: Request, job: str, after: int, number: int) -> Response:
    if number == after:
        return redirect(request, f"/jobs/{job}", f"Nothing differs from revision {after}: it stays the newest.")
    note(request, "job revised", job, f"revision {number}")
    return redirect(request, f"/jobs/{job}/difference?old={after}&new={number}", f"Revision {number} is in the book.")


def _uploaded(job: UploadFile | None, catalogue: UploadFile | None, table: UploadFile | None) -> Texts:
    text = _text_of(job, JOB_FILE)
    if text is None:
        raise InputError("upload", "job file", "is missing", "a job file (TOML)")
    return Texts(text, _text_of(catalogue, "catalogue"), _text_of(table, "table"))


def _text_of(file: UploadFile | None, where: str) -> str | None:
    """The text of an upload; none where no file was chosen."""
    if file is None or not file.filename:
        return None
    content = file.file.read(LARGEST_FILE_bytes + 1)
    if len(content) > LARGEST_FILE_bytes:
        raise InputError(where, "", "is too large for such a file", "a TOML text file of at most 4 MB")
    if b"\0" in content:
        raise InputError(where, "", "is a binary file", "a TOML text file")
    try:
        return content.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise InputError(where, "", f"is not UTF-8 text (line {line})", "a TOML text file saved as UTF-8") from None


def _plain(file: UploadFile | None) -> str:
    name = (file.filename or "" if file else "").replace("\\", "/").rpartition("/")[2]
    return "".join(one for one in name if one.isprintable())[:80] or "a file"
