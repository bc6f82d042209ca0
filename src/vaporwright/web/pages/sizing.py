"""Enquiry and sizing: the enquiry as a form, what a unit makes of it while one types, the choice from the catalogue.

`/live` rates the unit in hand for what the form has; `/best` chooses from the catalogue, in the background, and `/full`
tells how far that is. Chart, drawing, explanations and papers are asked for by the key of an answer (`of`), saved or
not; without it they are those of a revision.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import Response

from vaporwright.actions.explain_number import explained_in
from vaporwright.actions.live_size import (
    Enquiry,
    OtherHeat,
    UnitInHand,
    checked_field,
    enquiry,
    freed,
    hand_for,
    hand_from,
    is_named,
    names_of,
    with_unit,
)
from vaporwright.foundation.errors import InputError, LiquidRefused, VaporwrightError
from vaporwright.store.job_store import Texts
from vaporwright.store.record_store import Conflict
from vaporwright.unit.fields import FIELDS_BY_KEY
from vaporwright.web.context import Stop, book, is_partial, note, redirect, render, require, shop, viewer
from vaporwright.web.errors import Problem, problem_of
from vaporwright.web.naming import as_named
from vaporwright.web.sized import Entry, sized
from vaporwright.web.sizing_form import FOLLOWING, EnquiryForm, enquiry_form, groups_of, id_of, label_of, shown_defaults
from vaporwright.web.sizing_view import LiveView, full_view, live_view
from vaporwright.web.working import TaskState

STOP: Final = Stop("sizing", "Enquiry and sizing", "/jobs/{job}/sizing", 1)
ENGINEER: Final = "engineer"
router = APIRouter()

Form = Annotated[EnquiryForm, Depends(enquiry_form)]
Number = Annotated[int, Query(ge=1, le=2**31 - 1)]


@router.get("/jobs/{job}/sizing")
def sizing(request: Request, job: str, revision: Number | None = None, wait: str = "") -> Response:
    """The enquiry, and what has been worked out of it; `wait` for browsers that cannot ask again by themselves."""
    known = book(request).revision(job, revision)
    known_enquiry = enquiry(known.texts)
    entry = sized(request).entry(job, known.texts, known_enquiry.values)
    problem, state = None, None
    try:
        if wait:
            sized(request).waited_for(entry)
        state = sized(request).begun(entry)
    except VaporwrightError as error:
        problem = error
    return _page(request, job, known.number, known_enquiry, live=entry, full=entry, state=state, live_problem=problem)


@router.post("/jobs/{job}/sizing")
def save(request: Request, job: str, form: Form) -> Response:
    """What the form has becomes the next revision; with `settle`, the unit in hand is named in it, and it is sized."""
    require(request, ENGINEER)
    after = form.number("after")
    known = book(request).revision(job, after)
    typed = enquiry(known.texts, form.changes)
    settles = bool(form.text("settle"))
    try:
        who = as_named(request, form.text("your_name"), ENGINEER)
        if typed.problems:
            raise _first(typed)
        texts = replace(known.texts, job=typed.text)
        label = ""
        if settles:
            texts, label = _settled(request, job, texts, typed, form)
        number = book(request).revise(job, after, texts, by=who.name, note=form.text("why"))
    except (VaporwrightError, Conflict) as error:
        problem = problem_of(error)
        if problem.status in (403, 404):
            raise
        return _typed_page(request, job, form, typed, problem)
    if settles:
        book(request).mark(job, "sized", number, by=who.name, note=label)
    if number != after:
        note(request, "job revised", job, f"revision {number}")
    said = f"Revision {number} is in the book." if number != after else f"Nothing differs from revision {after}."
    if settles:
        said = f"Sized: revision {number} names the unit, {label}."
    return redirect(request, f"/jobs/{job}/sizing", said)


def _first(typed: Enquiry) -> InputError:
    count = len(typed.problems)
    if count == 1:
        return next(iter(typed.problems.values()))
    names = ", ".join(label_of(key) for key in typed.problems)
    return InputError("form", "", f"{count} values do not fit: {names}", "what is said at each of them")


def _settled(request: Request, job: str, texts: Texts, typed: Enquiry, form: EnquiryForm) -> tuple[Texts, str]:
    """The texts with the unit in hand named, once it has an answer; and what it is made of."""
    hand = hand_for(typed.values, hand_from(form.text("hand")))
    if hand is None:
        raise InputError("form", "unit", "no unit is in hand", "look for the best unit first, or name its parts")
    answer = sized(request).rated(sized(request).entry(job, texts, typed.values, hand))
    return with_unit(texts, hand), answer.unit.label()


@router.post("/jobs/{job}/sizing/look")
def look(request: Request, job: str, form: Form) -> Response:
    """The page for what the form has, nothing saved: for another unit in hand, and for browsers without scripts."""
    require(request, ENGINEER)
    known = book(request).revision(job, form.number("after"))
    taken = form.text("take_hand")
    if form.text("free"):
        form.changes |= freed()
    if taken and is_named(enquiry(known.texts, form.changes).values):
        hand = hand_from(taken)
        form.changes |= {**freed(), **(names_of(hand) if hand else {})}
    return _typed_page(request, job, form, enquiry(known.texts, form.changes), None)


def _typed_page(request: Request, job: str, form: EnquiryForm, typed: Enquiry, problem: Problem | None) -> Response:
    """The page for what a form has, with its result as far as there is one."""
    after = form.number("after")
    known = book(request).revision(job, after)
    live, live_problem = None, None
    hand = hand_from(form.text("take_hand") or form.text("hand"))
    if not typed.problems:
        try:
            live = _rated(request, job, replace(known.texts, job=typed.text), typed, hand)
        except VaporwrightError as error:
            live_problem = error
    return _page(
        request,
        job,
        after,
        typed,
        live=live,
        full=_beside(request, job, form.text("beside")),
        hand=hand,
        problem=problem,
        live_problem=live_problem,
        why=form.text("why"),
        your_name=form.text("your_name"),
        changed=True,
    )


def _beside(request: Request, job: str, key: str) -> Entry | None:
    """The full sizing that stood beside the form."""
    try:
        found = sized(request).find(job, key)
    except InputError:
        return None
    return found if found.outcome is not None else None


@router.post("/jobs/{job}/sizing/live")
def live(request: Request, job: str, form: Form) -> Response:
    """The unit in hand for what the form has: a part of the page."""
    require(request, ENGINEER)
    known = book(request).revision(job, form.number("after"))
    typed = enquiry(known.texts, form.changes)
    units = viewer(request).units
    data: dict[str, Any] = {"job": book(request).job(job), "live": None, "problem": None, "looks": ""}
    data["problems"] = [(key, label_of(key), error) for key, error in typed.problems.items()]
    if typed.problems:
        return render(request, "sizing_note.html", **data)
    try:
        entry = _rated(request, job, replace(known.texts, job=typed.text), typed, hand_from(form.text("hand")))
    except OtherHeat as error:
        return render(request, "sizing_live.html", **data | {"looks": error.problem})
    except LiquidRefused as error:
        return render(request, "sizing_live.html", **data | {"problem": problem_of(error)})
    except VaporwrightError as error:
        problem = problem_of(error)
        key = problem.key if problem.key in FIELDS_BY_KEY else ""
        data["problems"] = [(key, label_of(key) if key else "", InputError("", "", problem.problem, problem.allowed))]
        return render(request, "sizing_note.html", **data)
    if entry is None:
        return render(request, "sizing_live.html", **data | {"looks": "no unit is in hand"})
    defaults = shown_defaults(typed.values, units)
    data["defaults"] = [(id_of(key), defaults[key]) for key in FOLLOWING if key in defaults]
    return render(request, "sizing_live.html", **data | {"live": _view(request, entry)})


def _rated(request: Request, job: str, texts: Texts, typed: Enquiry, hand: UnitInHand | None) -> Entry | None:
    """The entry of the unit in hand with its answer; None where there is no unit."""
    wanted = hand_for(typed.values, hand)
    if wanted is None:
        return None
    entry = sized(request).entry(job, texts, typed.values, wanted)
    sized(request).rated(entry)
    return entry


@router.post("/jobs/{job}/sizing/field/{key}")
def field_check(request: Request, job: str, key: str, form: Form) -> Response:
    """What does not fit in one field, when it is left: a part of the page."""
    require(request, ENGINEER)
    book(request).job(job)
    if key not in FIELDS_BY_KEY:
        raise InputError("form", key[:80], "is no field of the enquiry", "a key of the job file")
    found = checked_field(key, form.changes.get(key, ""))
    return render(request, "sizing_field.html", id=id_of(key), problem=found)


@router.post("/jobs/{job}/sizing/best")
def best(request: Request, job: str, form: Form) -> Response:
    """Choose from the catalogue for what the form has: a part of the page, with how far it is."""
    require(request, ENGINEER)
    known = book(request).revision(job, form.number("after"))
    if is_named(enquiry(known.texts, form.changes).values):
        form.changes |= freed()
    typed = enquiry(known.texts, form.changes)
    if typed.problems:
        return _full_part(request, job, None, problem=problem_of(_first(typed)))
    entry = sized(request).entry(job, replace(known.texts, job=typed.text), typed.values)
    return _followed(request, job, entry, first=False)


@router.get("/jobs/{job}/sizing/full")
def full(request: Request, job: str, of: str, first: str = "") -> Response:
    """How far a full sizing is, or what it has found: a part of the page."""
    return _followed(request, job, asked_for(request, job, of, None), first=bool(first))


def _followed(request: Request, job: str, entry: Entry, *, first: bool) -> Response:
    try:
        state = sized(request).begun(entry)
    except VaporwrightError as error:
        return _full_part(request, job, None, problem=problem_of(error), first=first)
    return _full_part(request, job, entry, state=state, first=first)


def _full_part(
    request: Request,
    job: str,
    entry: Entry | None,
    *,
    state: TaskState | None = None,
    problem: Problem | None = None,
    first: bool = False,
) -> Response:
    units = viewer(request).units
    done = entry if entry is not None and state is None else None
    hand = done.unit if done else None
    return render(
        request,
        "sizing_full_part.html",
        job=book(request).job(job),
        waits_for=entry.key if entry is not None and state is not None else "",
        state=state,
        problem=problem,
        first=first,
        live=_view(request, done) if done else None,
        full=full_view(done, units, hand.as_text() if hand else "") if done else None,
        looks="",
    )


@router.get("/jobs/{job}/sizing/why")
def why(request: Request, job: str, name: str, of: str = "", revision: Number | None = None) -> Response:
    """How a number came about: a part of the page, or a page."""
    entry = asked_for(request, job, of, revision)
    found = shop(request).working.run(explained_in, entry.known, name, viewer(request).units)
    address = f"/jobs/{job}/sizing/why?of={entry.key}&name="
    return aside(request, job, "sizing_why.html", found=found, address=address)


def aside(request: Request, job: str, template: str, **data: Any) -> Response:
    """Something beside a sizing: a part of its page, or a page of its own."""
    shown = template if is_partial(request) else "sizing_aside.html"
    return render(request, shown, job=book(request).job(job), stop="sizing", inner=template, **data)


def _view(request: Request, entry: Entry) -> LiveView:
    return live_view(entry, viewer(request).units, sized(request).best(entry))


def asked_for(request: Request, job: str, of: str, revision: int | None) -> Entry:
    """The entry that an address names: by its key, or by the revision, for which one waits."""
    if of:
        book(request).job(job)  # whoever may not see the job does not see its sizing
        return sized(request).find(job, of)
    known = book(request).revision(job, revision)
    entry = sized(request).entry(job, known.texts, enquiry(known.texts).values)
    sized(request).waited_for(entry)
    return entry


def _page(
    request: Request,
    job: str,
    after: int,
    shown: Enquiry,
    *,
    live: Entry | None,
    full: Entry | None,
    state: TaskState | None = None,
    hand: UnitInHand | None = None,
    problem: Problem | None = None,
    live_problem: Exception | None = None,
    why: str = "",
    your_name: str = "",
    changed: bool = False,
) -> Response:
    """The whole page. `live` has the answer, `full` the outcome; `state` is that of the sizing one waits for."""
    units = viewer(request).units
    entry = book(request).job(job)
    waits_for = full.key if full is not None and state is not None else ""
    shown_live = _view(request, live) if live is not None and live.answer is not None else None
    has_full = full is not None and full.outcome is not None
    held = shown_live.hand if shown_live else hand.as_text() if hand else ""
    told = problem_of(live_problem) if live_problem else None
    between = {told.key: live_problem} if told and isinstance(live_problem, InputError) else {}
    looks = live_problem.problem if isinstance(live_problem, OtherHeat) else ""
    if changed and not shown_live and not live_problem and not shown.problems:
        looks = "no unit is in hand"
    return render(
        request,
        "sizing.html",
        status=problem.status if problem else 200,
        job=entry,
        stop="sizing",
        after=after,
        is_newest=after == entry.revision,
        editable=(viewer(request).may(ENGINEER) and after == entry.revision)
        or (changed and viewer(request).may(ENGINEER)),
        groups=groups_of(shown, units, between),
        live=shown_live,
        live_problem=None if looks else told,
        looks=looks,
        full=full_view(full, units, held) if full is not None and has_full else None,
        full_is_of_before=changed,
        waits_for=waits_for,
        state=state,
        held=held,
        problem=problem,
        why=why,
        your_name=your_name,
        changed=changed,
        known=book(request).revision(job, after).texts,
    )
