"""What goes wrong, said to people as a page or a line in it, and to programs as JSON of one shape.

{"error": {"where": ..., "key": ..., "problem": ..., "allowed": ...}}
"""

from __future__ import annotations

import logging
import secrets
from dataclasses import dataclass
from typing import Any, Final
from urllib.parse import quote

from fastapi import FastAPI, HTTPException, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, RedirectResponse, Response
from starlette.exceptions import HTTPException as StarletteHTTPException

from vaporwright.actions.job_book import NoSuchJob
from vaporwright.actions.people import PasswordRefused, SignInRefused, TooMany
from vaporwright.foundation.errors import InputError, LiquidRefused, NotConverged, OutOfRange, VaporwrightError
from vaporwright.store.record_store import Conflict, StoreError
from vaporwright.web.context import SECRET_PATHS, Forbidden, NameNeeded, is_partial, render

_LOG: Final = logging.getLogger("vaporwright.web")
_TITLES: Final = {
    400: "That request cannot be read",
    401: "Sign in first",
    403: "Not for you",
    404: "There is nothing under this address",
    405: "That cannot be done here",
    409: "Somebody else was faster",
    410: "This link is closed",
    413: "Too large",
    421: "Another name",
    422: "Something does not fit",
    429: "Too many attempts",
    500: "The server failed",
    503: "The store cannot do it now",
}


@dataclass(frozen=True)
class Problem:
    """What is wrong, where, and what is allowed."""

    status: int
    problem: str
    where: str = ""
    key: str = ""
    allowed: str = ""
    title: str = ""
    wait_s: float | None = None

    @property
    def headers(self) -> dict[str, str]:
        """When to come again, where that is known."""
        return {} if self.wait_s is None else {"Retry-After": f"{self.wait_s:.0f}"}

    @property
    def heading(self) -> str:
        """In a few words."""
        return self.title or _TITLES.get(self.status, "That did not work")


def problem_of(error: Exception) -> Problem:
    """An error of ours, as it is told."""
    if isinstance(error, InputError):
        status = 404 if isinstance(error, NoSuchJob) else 503 if isinstance(error, StoreError) else 422
        return Problem(status, error.problem, error.where, error.key, error.allowed)
    if isinstance(error, OutOfRange):
        low, high = error.low, error.high
        sides = [f"at least {low:.6g}" if low is not None else "", f"at most {high:.6g}" if high is not None else ""]
        return Problem(422, str(error), key=error.name, allowed=", ".join(side for side in sides if side))
    if isinstance(error, LiquidRefused):
        return Problem(422, str(error), title="This liquid is refused")
    if isinstance(error, Conflict):
        return Problem(409, str(error), allowed="load the page again, and decide again")
    if isinstance(error, TooMany):
        return Problem(429, str(error), wait_s=error.wait_s)
    statuses: tuple[tuple[type[VaporwrightError], int], ...] = (
        (SignInRefused, 401),
        (PasswordRefused, 403),
        (Forbidden, 403),
        (NameNeeded, 403),
        (NotConverged, 422),
    )
    return Problem(next((status for kind, status in statuses if isinstance(error, kind)), 422), str(error))


def install(app: FastAPI) -> None:
    """Let an application answer every error with a page, a line or JSON."""

    def ours(request: Request, error: Exception) -> Response:
        return answered(request, problem_of(error))

    def name_needed(request: Request, error: Exception) -> Response:
        if _is_api(request):
            return ours(request, error)
        back = request.headers.get("referer", "") if request.method == "POST" else str(request.url)
        return to_page(request, f"/who?next={quote(_path_of(back), safe='')}")

    def refused(request: Request, error: Exception) -> Response:
        assert isinstance(error, StarletteHTTPException)
        return refusal(request, error)

    def unreadable(request: Request, error: Exception) -> Response:
        assert isinstance(error, RequestValidationError)
        first: dict[str, Any] = error.errors()[0] if error.errors() else {}
        place = [str(part) for part in first.get("loc", ())]
        key = ".".join(place[1:])
        return answered(request, Problem(422, str(first.get("msg", "cannot be read")), place[0] if place else "", key))

    app.add_exception_handler(VaporwrightError, ours)
    app.add_exception_handler(NameNeeded, name_needed)
    app.add_exception_handler(StarletteHTTPException, refused)
    app.add_exception_handler(RequestValidationError, unreadable)


def refusal(request: Request, error: StarletteHTTPException) -> Response:
    """The answer where a request is refused; people who are not signed in are shown where to."""
    if error.status_code == 401 and not _is_api(request):
        back = _path_of(str(request.url)) if request.method == "GET" else "/"
        return to_page(request, "/sign-in" if back == "/" else f"/sign-in?next={quote(back, safe='')}")
    said = {404: "it may have been removed, or the address is mistyped", 405: f"{request.method} is not known here"}
    plain = error.detail in ("Not Found", "Method Not Allowed")
    told = said.get(error.status_code, "") if plain else str(error.detail)
    answer = answered(request, Problem(error.status_code, told))
    answer.headers.update(error.headers or {})  # what is allowed instead
    return answer


def failed(request: Request, error: Exception) -> Response:
    """The answer where the fault is ours: a number under which the log has it, and nothing of the inside."""
    if isinstance(error, HTTPException):  # from what is read: too large
        return refusal(request, error)
    if isinstance(error, VaporwrightError):  # before any page was reached
        return answered(request, problem_of(error))
    number = secrets.token_hex(4)
    _LOG.error("fault %s at %s %s", number, request.method, said_in_log(request.url.path), exc_info=error)
    said = f"nothing of what was sent is kept unless it is shown; the server's log has this as fault {number}"
    return answered(request, Problem(500, said))


def answered(request: Request, problem: Problem) -> Response:
    """A problem as JSON, as a part of a page, or as a page."""
    headers = problem.headers
    if _is_api(request):
        told = {name: getattr(problem, name) for name in ("where", "key", "problem", "allowed")}
        return JSONResponse({"error": told}, problem.status, headers)
    if is_partial(request):
        headers |= {"HX-Retarget": "#messages", "HX-Reswap": "innerHTML"}
        return render(request, "partials/problem.html", status=problem.status, headers=headers, problem=problem)
    return render(request, "error.html", status=problem.status, headers=headers, problem=problem)


def to_page(request: Request, where: str) -> Response:
    """Go on to another page, also from within a part of one."""
    if request.headers.get("HX-Request") == "true":
        return Response(headers={"HX-Redirect": where})
    return RedirectResponse(where, 303)


def said_in_log(path: str) -> str:
    """A path without what opens something: the address of a link is its secret."""
    return f"{SECRET_PATHS}..." if path.startswith(SECRET_PATHS) else path


def _is_api(request: Request) -> bool:
    return request.url.path.startswith("/api/") or request.url.path == "/api"


def _path_of(address: str) -> str:
    from urllib.parse import urlsplit

    parts = urlsplit(address)
    return (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
