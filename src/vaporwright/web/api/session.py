"""Signing in for programs: a secret to be sent as `Authorization: Bearer SECRET`."""

from __future__ import annotations

from fastapi import APIRouter, Request
from pydantic import Field

from vaporwright.actions.people import sign_in
from vaporwright.web.api.shapes import Shape, faults
from vaporwright.web.context import note, shop, viewer

router = APIRouter(tags=["session"])


class Credentials(Shape):
    """Name and password of an account."""

    name: str = Field(max_length=200)
    password: str = Field(max_length=200)


class Opened(Shape):
    """A session."""

    token: str
    name: str
    role: str


class Who(Shape):
    """Who asks, as the server sees it."""

    name: str
    role: str
    qualifications: list[str]
    units: str


@router.post("/session", summary="Sign in", status_code=201, responses=faults(429))
def open_session(request: Request, credentials: Credentials) -> Opened:
    """Begin a session; its secret goes into the header `Authorization: Bearer` of further requests."""
    here = shop(request)
    made = sign_in(
        here.people, credentials.name, credentials.password, address=viewer(request).address, clock=here.clock
    )
    return Opened(token=made.token, name=made.account.name, role=made.account.role)


@router.delete("/session", summary="Sign out", status_code=204, responses=faults())
def close_session(request: Request) -> None:
    """End the session of this secret."""
    who = viewer(request)
    if who.session is not None:
        note(request, "signed out")
        shop(request).people.end_session(who.session.token_sha256)


@router.get("/me", summary="Who asks", responses=faults())
def me(request: Request) -> Who:
    """Name, role, qualifications and units of whoever asks."""
    who = viewer(request)
    return Who(name=who.name, role=who.role, qualifications=list(who.qualifications), units=who.units)
