"""Opening a run of a test: kind and variant, the conditions of the day with their units, the day's instruments."""

from __future__ import annotations

import secrets
from typing import Final, get_args

from fastapi import APIRouter, Request
from fastapi.responses import Response

from vaporwright.acceptance.record.events import RunKind
from vaporwright.acceptance.steps.day import DAY_KEYS, DayConditions
from vaporwright.acceptance.steps.instruments import Instrument
from vaporwright.acceptance.steps.procedure import VARIANTS, Variant
from vaporwright.actions.floor_work import with_shown_unit
from vaporwright.display_units import show, shown_unit
from vaporwright.files.day_file import EXAMPLES
from vaporwright.files.instruments_file import read_instruments_text
from vaporwright.files.typed_reading import is_blank, read_number
from vaporwright.foundation.errors import InputError
from vaporwright.web.context import Viewer, bar_of, book, note, redirect, render, require, shop, viewer
from vaporwright.web.errors import Problem, problem_of
from vaporwright.web.floor import run_of, state_of, today
from vaporwright.web.floor_tasks import Opening, open_in_store
from vaporwright.web.naming import as_named

KINDS_OF_RUN: Final[dict[RunKind, str]] = {
    "dry run": "the shop's own, before the witness comes; the engineer accepts its points",
    "witnessed": "with the customer's witness, who accepts points and signs",
    "site": "start-up or hot test at the customer's",
}
OPENERS: Final = ("engineer", "technician")
LEFT_OUT: Final = ("duct_loss_Pa", "exhaust_recirculation", "steam_gauge_Pa")  # nothing, or not for this heat
LARGEST_TEXT_bytes: Final = 1_000_000
router = APIRouter()


@router.get("/jobs/{job}/acceptance/new")
def new(request: Request, job: str, kind: str = "dry run", variant: str = "full") -> Response:
    """Kind, variant, the day and the instruments."""
    require(request, *OPENERS)
    if kind == "site" and variant == "full":
        variant = "site"
    return _new_page(request, job, {"kind": kind, "variant": variant} | _last_day(request, job))


@router.post("/jobs/{job}/acceptance/new")
async def begin(request: Request, job: str) -> Response:
    """Begin to open a run: the trials of every row of the table take a while."""
    from anyio import to_thread

    async with request.form() as form:
        typed = {key: value for key, value in form.items() if isinstance(value, str)}
        upload = form.get("instruments")
        content = b"" if upload is None or isinstance(upload, str) else await upload.read(LARGEST_TEXT_bytes + 1)
    return await to_thread.run_sync(_begin, request, job, typed, content)


def _begin(request: Request, job: str, typed: dict[str, str], content: bytes) -> Response:
    require(request, *OPENERS)
    revision = book(request).revision(job)
    try:
        who = as_named(request, typed.get("your_name", ""), *OPENERS)
        kind, variant = _kind(typed.get("kind", "")), _variant(typed.get("variant", ""))
        day = day_of_form(typed, who.units)
        instruments = _instruments(request, job, typed.get("instruments_of", ""), content)
        dry_run, why = typed.get("dry_run", ""), typed.get("no_dry_run", "").strip()
        if kind == "witnessed" and bool(dry_run) == bool(why):
            allowed = "the shop's signed dry run, or a reason why there is none; not both"
            raise InputError("run", "dry run", "a witnessed run needs one of the two", allowed)
        if dry_run and dry_run not in {link.run for link in book(request).runs(job)}:
            raise InputError("run", "dry run", "is no run of this job", "a run from the list")
    except InputError as error:
        return _new_page(request, job, typed, problem_of(error))
    order = Opening(
        store=shop(request).settings.store,
        job=job,
        revision=revision.number,
        texts=revision.texts,
        run=_run_name(kind, today(request)),
        kind=kind,
        variant=variant,
        day=day,
        instruments=instruments,
        dry_run=dry_run if kind == "witnessed" else "",
        no_dry_run_because=why if kind == "witnessed" else "",
        who=who.name,
        role=who.role,
    )
    task = shop(request).working.start(owner_of(who), open_in_store, order)
    note(request, "test run begun", order.run, f"{kind}, {variant}")
    return redirect(request, f"/jobs/{job}/acceptance/opening/{task}")


@router.get("/jobs/{job}/acceptance/opening/{task}")
def opening(request: Request, job: str, task: str) -> Response:
    """How far the opening is."""
    who = require(request, *OPENERS)
    found = shop(request).working.task(owner_of(who), task)
    if found.done and found.error is None:
        return redirect(request, f"/jobs/{job}/acceptance/{found.result}")
    problem = problem_of(found.error) if isinstance(found.error, Exception) else None
    return render(
        request,
        "acceptance_opening.html",
        status=problem.status if problem else 200,
        job=book(request).job(job),
        stop="acceptance",
        task=found,
        problem=problem,
        again=f"/jobs/{job}/acceptance/new",
    )


@router.get("/jobs/{job}/acceptance/opening/{task}/live")
def opening_live(request: Request, job: str, task: str) -> Response:
    """The bar of it; where it is done, where to go."""
    who = require(request, *OPENERS)
    found = shop(request).working.task(owner_of(who), task)
    where = f"/jobs/{job}/acceptance/opening/{task}" if found.error else f"/jobs/{job}/acceptance/{found.result}"
    return bar_of(request, found, where)


def owner_of(who: Viewer) -> str:
    """Who may ask how far a task is: whoever began it."""
    return who.account or who.token


def _run_name(kind: RunKind, day: str) -> str:
    return f"{kind.replace(' ', '-')}-{day}-{secrets.token_hex(4)}"


def _new_page(request: Request, job: str, typed: dict[str, str], problem: Problem | None = None) -> Response:
    here = shop(request)
    entry = book(request).job(job)
    states = [(link, state_of(here, link.run)) for link in book(request).runs(job)]
    signed = [
        link.run for link, state in states if state.kind == "dry run" and state.signed_by("engineer") and not state.void
    ]
    return render(
        request,
        "acceptance_new.html",
        status=problem.status if problem else 200,
        job=entry,
        stop="acceptance",
        typed=typed,
        problem=problem,
        kinds=KINDS_OF_RUN,
        variants=VARIANTS,
        day_keys=[(key, shown_unit(key.quantity, viewer(request).units).text) for key in DAY_KEYS],
        left_out=LEFT_OUT,
        examples=EXAMPLES,
        dry_runs=[(one, one) for one in signed],
        with_instruments=[(link.run, link.run) for link, state in states if state.instruments],
    )


def day_of_form(typed: dict[str, str], units: str) -> DayConditions:
    """The conditions of the day from the fields of a form.

    Raises: InputError naming the condition.
    """
    values: dict[str, float] = {}
    for key in DAY_KEYS:
        text = typed.get(f"day.{key.name}", "")
        if is_blank(text):
            if key.name in LEFT_OUT:
                continue
            raise InputError("day", f"day.{key.name}", f"{key.label}: is missing", EXAMPLES[key.name])
        plain = with_shown_unit(text, key.quantity, "", units)
        values[key.name] = read_number(plain, key.quantity, where="day", key=f"day.{key.name}")
    try:
        return DayConditions(**values)
    except InputError as error:
        raise InputError("day", f"day.{error.key}", error.problem, error.allowed) from None


def shown_bare(value: float, quantity: str, system: str) -> str:
    """A value for a box that has its unit beside it."""
    shown = show(value, quantity, system, 5).replace(",", "")
    return shown.removesuffix(shown_unit(quantity, system).text).strip()


def _last_day(request: Request, job: str) -> dict[str, str]:
    """What hardly changes from one day to the next, from the newest run of the job."""
    system = viewer(request).units
    for link in book(request).runs(job):
        procedure = state_of(shop(request), link.run).procedure
        if procedure is not None:
            kept = {key.name: key for key in DAY_KEYS if key.name in ("elevation_m", "supply_voltage_V")}
            return {
                f"day.{name}": shown_bare(procedure.conditions[name], key.quantity, system)
                for name, key in kept.items()
                if name in procedure.conditions
            }
    return {}


def _kind(text: str) -> RunKind:
    for kind in KINDS_OF_RUN:
        if kind == text:
            return kind
    raise InputError("run", "kind", f"{text[:40]!r} is no kind of run", ", ".join(KINDS_OF_RUN))


def _variant(text: str) -> Variant:
    for variant in get_args(Variant):
        if variant == text:
            found: Variant = variant
            return found
    raise InputError("run", "variant", f"{text[:40]!r} is no variant", ", ".join(VARIANTS))


def _instruments(request: Request, job: str, of_run: str, content: bytes) -> tuple[Instrument, ...]:
    """From a file, or as registered in an earlier run of the job; none at all is fine, they can be added later."""
    found: dict[str, Instrument] = {}
    if of_run:
        state = run_of(request, job, of_run).state
        found |= {key: entries[-1].instrument for key, entries in state.instruments.items()}
    if content:
        found |= {one.id: one for one in instruments_of_file(content)}
    return tuple(found.values())


def instruments_of_file(content: bytes) -> tuple[Instrument, ...]:
    """The instruments of an uploaded file. Raises: InputError."""
    where = "instruments file"
    if len(content) > LARGEST_TEXT_bytes or b"\0" in content:
        raise InputError(where, "", "is too large or no text", "a TOML text file of at most 1 MB")
    try:
        return read_instruments_text(content.decode("utf-8-sig"), where)
    except UnicodeDecodeError:
        raise InputError(where, "", "is not UTF-8 text", "a TOML text file saved as UTF-8") from None
