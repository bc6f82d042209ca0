"""Whose session it is, changed by what people say: a name at the machine itself, units, look, signing in and out."""

from __future__ import annotations

from fastapi import Request

from vaporwright.store.people_store import Account, Session, checked_name, fresh_token
from vaporwright.web.context import Viewer, require, shop, viewer
from vaporwright.web.security import viewer_of


def as_named(request: Request, typed: str, *roles: str) -> Viewer:
    """Who looks, with the name that a form has asked for where there was none.

    Raises: Forbidden; InputError where no name was typed.
    """
    who = require(request, *roles)
    return who if who.name else set_name(request, typed, who.qualifications)


def set_name(request: Request, typed: str, qualifications: tuple[str, ...]) -> Viewer:
    """Keep the name of whoever is at the machine itself. Raises: InputError for what is no name."""
    who = viewer(request)
    name = checked_name(typed, "your name")
    return _kept(request, name=name, qualifications=qualifications, units=who.units, theme=who.theme)


def set_preferences(request: Request, units: str, theme: str) -> Viewer:
    """Keep units and look; an empty one stays as it is. Raises: InputError for what is none of them."""
    who = viewer(request)
    return _kept(
        request,
        name=who.name,
        qualifications=who.qualifications,
        units=units or who.units,
        theme=theme or who.theme,
    )


def now_with(request: Request, token: str, session: Session | None, account: Account | None) -> Viewer:
    """From here on the request is that of another session, and the answer brings its cookie."""
    address = viewer(request).address
    if session is None:
        local = shop(request).settings.is_local
        made = Viewer(role="engineer" if local else "", address=address, token=token)
    else:
        made = viewer_of(session, account, token, address)
    request.scope["state"]["viewer"] = made
    return made


def _kept(request: Request, *, name: str, qualifications: tuple[str, ...], units: str, theme: str) -> Viewer:
    people, who = shop(request).people, viewer(request)
    token, session = who.token, who.session
    if session is None:  # under a secret of our own making, whatever cookie was brought
        token = fresh_token()
        session = people.open_session(token, None, name, at=shop(request).clock())
    people.set_session(session, name=name, qualifications=qualifications, units=units, theme=theme)
    account = people.account(session.account) if session.account else None
    return now_with(request, token, people.session(token), account)
