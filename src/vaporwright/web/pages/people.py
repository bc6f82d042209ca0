"""People: signing in and out, names at the machine itself, units and look, accounts, who did what."""

from __future__ import annotations

from typing import Annotated, Final

from fastapi import APIRouter, Form, HTTPException, Query, Request
from fastapi.responses import Response

from vaporwright.actions.people import PasswordRefused, SignInRefused, TooMany, require_password, sign_in
from vaporwright.foundation.errors import InputError
from vaporwright.store.passwords import SHORTEST
from vaporwright.store.people_store import ACCOUNT_ROLES, QUALIFICATIONS, Account, fresh_token
from vaporwright.web.context import Forbidden, Stop, Viewer, note, own_path, redirect, render, require, shop, viewer
from vaporwright.web.errors import Problem, problem_of
from vaporwright.web.naming import now_with, set_name, set_preferences

STOP: Stop | None = None
PAGE_OF_AUDIT: Final = 100
router = APIRouter()

Typed = Annotated[str, Form()]
Chosen = Annotated[list[str] | None, Form()]


@router.get("/sign-in")
def sign_in_page(request: Request, next: str = "/") -> Response:
    """Name and password."""
    if viewer(request).account:
        return redirect(request, own_path(next))
    return _sign_in_page(request, next, "")


@router.post("/sign-in")
def signing_in(request: Request, name: Typed = "", password: Typed = "", next: Typed = "/") -> Response:
    """Begin a session under a fresh secret."""
    here, who = shop(request), viewer(request)
    old = who.session.token_sha256 if who.session else ""
    try:
        made = sign_in(here.people, name, password, address=who.address, clock=here.clock, old_sha256=old)
    except (SignInRefused, TooMany) as error:
        return _sign_in_page(request, next, name, problem_of(error))
    now_with(request, made.token, here.people.session(made.token), made.account)
    return redirect(request, own_path(next))


@router.post("/sign-out")
def sign_out(request: Request) -> Response:
    """End the session."""
    who = viewer(request)
    if who.session is not None:
        note(request, "signed out")
        shop(request).people.end_session(who.session.token_sha256)
    now_with(request, fresh_token(), None, None)
    return redirect(request, "/sign-in", "You are signed out.")


@router.get("/who")
def who_page(request: Request, next: str = "/") -> Response:
    """Ask whoever is at the machine itself for a name."""
    who = viewer(request)
    if who.account:
        return redirect(request, own_path(next))
    return _who_page(request, next, who.name, who.qualifications)


@router.post("/who")
def saying_who(request: Request, name: Typed = "", next: Typed = "/", qualifications: Chosen = None) -> Response:
    """Keep the name."""
    if not viewer(request).is_local:
        raise Forbidden("your name is that of your account")
    chosen = tuple(qualifications or ())
    try:
        who = set_name(request, name, chosen)
    except InputError as error:
        return _who_page(request, next, name, chosen, problem_of(error))
    note(request, "gave a name", who.name, ", ".join(who.qualifications))
    return redirect(request, own_path(next))


@router.post("/preferences")
def preferences(request: Request, units: Typed = "", theme: Typed = "", next: Typed = "/") -> Response:
    """Units and look."""
    set_preferences(request, units, theme)
    return redirect(request, own_path(next))


@router.get("/password")
def password_page(request: Request) -> Response:
    """Ask for a new password."""
    _require_account(viewer(request))
    return render(request, "password.html", problem=None, shortest=SHORTEST)


@router.post("/password")
def change_password(request: Request, old: Typed = "", password: Typed = "", again: Typed = "") -> Response:
    """Replace one's own password; every session ends, this one begins anew."""
    here, who = shop(request), viewer(request)
    people = here.people
    try:
        account = require_password(people, _require_account(who), old, address=who.address, clock=here.clock)
        if password != again:
            raise InputError("password", "the new one", "the two differ", "the same password twice")
        people.set_password(account.id, password)
    except (InputError, PasswordRefused, TooMany) as error:
        problem = problem_of(error)
        return render(request, "password.html", status=problem.status, problem=problem, shortest=SHORTEST)
    note(request, "password changed", account.name)
    token = fresh_token()
    now_with(request, token, people.open_session(token, account, account.name, at=here.clock()), account)
    return redirect(request, "/", "Your password is changed; every other session of yours has ended.")


@router.get("/people")
def people(request: Request) -> Response:
    """Everybody with an account."""
    require(request, "engineer")
    return _people_page(request, {})


@router.post("/people")
def add(
    request: Request,
    name: Typed = "",
    role: Typed = "technician",
    password: Typed = "",
    units: Typed = "US",
    qualifications: Chosen = None,
) -> Response:
    """Make an account."""
    who = _require_manager(request)
    typed: dict[str, object] = {
        "name": name,
        "role": role,
        "units": units,
        "qualifications": tuple(qualifications or ()),
    }
    try:
        made = shop(request).people.add_account(
            name, password, role, tuple(qualifications or ()), units, at=shop(request).clock(), by=who.name
        )
    except InputError as error:
        return _people_page(request, typed, problem_of(error))
    note(request, "account made", made.name, made.role)
    return redirect(request, "/people", f"{made.name} can sign in as {made.role}.")


@router.get("/people/{account}")
def person(request: Request, account: str) -> Response:
    """One account."""
    require(request, "engineer")
    return _person_page(request, _account(request, account))


@router.post("/people/{account}")
def change(
    request: Request, account: str, role: Typed, units: Typed, qualifications: Chosen = None, disabled: Typed = ""
) -> Response:
    """What an account may do."""
    _require_manager(request)
    known = _account(request, account)
    at = (known.disabled_at or shop(request).clock()) if disabled else None
    try:
        shop(request).people.set_account(
            account, role=role, qualifications=tuple(qualifications or ()), units=units, disabled_at=at
        )
    except InputError as error:
        return _person_page(request, known, problem_of(error))
    named = ", ".join((role, *(qualifications or ()), *(("disabled",) if disabled else ())))
    note(request, "account changed", known.name, named)
    return redirect(request, "/people", f"{known.name}: {named}.")


@router.post("/people/{account}/password")
def reset(request: Request, account: str, password: Typed = "") -> Response:
    """A new password for somebody who has lost theirs."""
    _require_manager(request)
    known = _account(request, account)
    try:
        shop(request).people.set_password(account, password)
    except InputError as error:
        return _person_page(request, known, problem_of(error))
    note(request, "password reset", known.name)
    said = f"{known.name} has a new password; tell it in person, and have it changed."
    return redirect(request, "/people", said)


@router.get("/audit")
def audit(request: Request, before: Annotated[int | None, Query(ge=0, lt=2**31)] = None) -> Response:
    """Who did what, newest first."""
    require(request, "engineer")
    entries = shop(request).people.audit(limit=PAGE_OF_AUDIT + 1, before=before)
    older = entries[PAGE_OF_AUDIT - 1].number if len(entries) > PAGE_OF_AUDIT else None
    return render(request, "audit.html", entries=entries[:PAGE_OF_AUDIT], older=older, is_first=before is None)


def _account(request: Request, account: str) -> Account:
    found = shop(request).people.account(account)
    if found is None:
        raise HTTPException(404, "there is no such account")
    return found


def _require_account(who: Viewer) -> str:
    if not who.account:
        raise Forbidden("at the machine itself nobody has a password; sign in with an account first")
    return who.account


def _require_manager(request: Request) -> Viewer:
    """An engineer with an account: who is only at the machine cannot give others the keys."""
    who = require(request, "engineer")
    _require_account(who)
    return who


def _sign_in_page(request: Request, next: str, name: str, problem: Problem | None = None) -> Response:
    return render(
        request,
        "sign_in.html",
        status=problem.status if problem else 200,
        headers=problem.headers if problem else None,
        problem=problem,
        next=own_path(next),
        name=name,
        any_account=shop(request).people.has_engineer(),
    )


def _who_page(
    request: Request, next: str, name: str, chosen: tuple[str, ...], problem: Problem | None = None
) -> Response:
    return render(
        request,
        "who.html",
        status=problem.status if problem else 200,
        problem=problem,
        next=own_path(next),
        name=name,
        chosen=chosen,
        qualifications=QUALIFICATIONS,
    )


def _people_page(request: Request, typed: dict[str, object], problem: Problem | None = None) -> Response:
    return render(
        request,
        "people.html",
        status=problem.status if problem else 200,
        people=shop(request).people.accounts(),
        typed=typed,
        problem=problem,
        role_choices=[(role, role) for role in ACCOUNT_ROLES],
        qualifications=QUALIFICATIONS,
        shortest=SHORTEST,
    )


def _person_page(request: Request, account: Account, problem: Problem | None = None) -> Response:
    return render(
        request,
        "person.html",
        status=problem.status if problem else 200,
        person=account,
        problem=problem,
        role_choices=[(role, role) for role in ACCOUNT_ROLES],
        qualifications=QUALIFICATIONS,
        shortest=SHORTEST,
    )
