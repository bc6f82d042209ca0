"""What every page needs: who looks and what they may, the shop's things, and how a page is made.

@router.get("/jobs/{job}/sizing")
def sizing(request: Request, job: str) -> Response:
    here = viewer(request)                    # name, role, qualifications, units, theme
    require(request, "engineer")              # 403 for others
    entry = book(request).job(job)            # 404 where there is none
    return render(request, "sizing.html", job=entry, stop="sizing", ...)

return redirect(request, "/jobs", "Copied.")  # 303 after a POST, with a message for the next page
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from importlib.metadata import version
from importlib.resources import files
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote, urlsplit

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape

from vaporwright.actions.desk import Desk
from vaporwright.actions.job_book import JobBook
from vaporwright.display_units import show
from vaporwright.foundation.errors import VaporwrightError
from vaporwright.store.database import Database
from vaporwright.store.job_store import JobStore
from vaporwright.store.people_store import PeopleStore, Session
from vaporwright.web.messages import Messages
from vaporwright.web.settings import Settings
from vaporwright.web.working import TaskState, Working

SECRET_PATHS: Final = "/witness/"  # whoever knows an address under it may look
GUEST: Final = "witness"  # comes from outside: sees no other customer's jobs
SVG_POLICY: Final = "default-src 'none'; style-src 'unsafe-inline'; font-src 'self'; frame-ancestors 'self'"


@dataclass(frozen=True)
class Stop:
    """A stop of the job's way, as the navigation shows it; `path` has {job} in it."""

    key: str
    label: str
    path: str
    order: int


@dataclass
class Shop:
    """The things of one server; pages get at them by `shop(request)`."""

    settings: Settings
    database: Database
    people: PeopleStore
    jobs: JobStore
    book: JobBook
    working: Working
    messages: Messages
    clock: Callable[[], float]
    stops: tuple[Stop, ...] = ()

    def close(self) -> None:
        """Let go of everything."""
        self.working.close()
        self.database.close()


@dataclass(frozen=True)
class Viewer:
    """Who looks. At the machine itself it is an engineer, who has a name as soon as one was typed."""

    name: str = ""
    account: str = ""  # the account's id; empty at the machine itself
    role: str = ""  # engineer, technician, witness, viewer; empty before signing in
    qualifications: tuple[str, ...] = ()
    units: str = "US"
    theme: str = "auto"
    address: str = ""
    token: str = ""  # the secret of the cookie; never shown
    session: Session | None = None

    @property
    def signed_in(self) -> bool:
        """Whether pages are shown at all."""
        return bool(self.role)

    @property
    def is_local(self) -> bool:
        """Whether at the machine itself, without an account."""
        return self.signed_in and not self.account

    @property
    def roles(self) -> tuple[str, ...]:
        """The roles of a test in which this person may enter something."""
        own = (self.role,) if self.role in ("engineer", "technician", "witness") else ()
        return (*own, *self.qualifications)

    @property
    def csrf(self) -> str:
        """What a form must bring back: only pages of this server can know it."""
        return hashlib.sha256(b"form " + self.token.encode()).hexdigest()

    def may(self, *roles: str) -> bool:
        """Whether one of the roles is this person's."""
        return self.role in roles


class Forbidden(VaporwrightError):
    """The viewer's role does not allow it."""


class NameNeeded(VaporwrightError):
    """Something goes into a record, and nobody has said yet who they are."""


def shop(request: Request) -> Shop:
    """The things of this server."""
    found: Shop = request.app.state.shop
    return found


def book(request: Request) -> JobBook:
    """The jobs, as whoever looks may see them: a witness only those that were opened to them."""
    here, who = shop(request), viewer(request)
    return here.book.for_guest(who.account) if who.role == GUEST else here.book


def viewer(request: Request) -> Viewer:
    """Who looks."""
    found: Viewer = request.scope["state"]["viewer"]
    return found


def require(request: Request, *roles: str) -> Viewer:
    """Who looks, if one of the roles is theirs. Raises: Forbidden."""
    who = viewer(request)
    if not who.may(*roles):
        raise Forbidden(f"this is for the {' or '.join(roles)}; you are here as {who.role or 'a guest'}")
    return who


def require_name(request: Request, *roles: str) -> Viewer:
    """As `require`, and with a name: before anything goes into a book or a record. Raises: Forbidden, NameNeeded."""
    who = require(request, *roles)
    if not who.name:
        raise NameNeeded("say who you are first: it goes into the record with your name")
    return who


def desk_of(request: Request, role: str = "") -> Desk:
    """The desk at which this person enters something into a record, in one of their roles.

    Raises: Forbidden, NameNeeded.
    """
    who = require_name(request, "engineer", "technician", "witness")
    role = role or who.role
    if role not in who.roles:
        raise Forbidden(f"you are not registered as {role}; an engineer can add it to your account")
    return Desk(shop(request).database.records, who.name, role)


def note(request: Request, what: str, subject: str = "", detail: str = "") -> None:
    """Add to the audit: this person, from this address, now."""
    who = viewer(request)
    here = shop(request)
    here.people.note(
        what,
        at=here.clock(),
        who=who.name or "somebody at the machine",
        account=who.account,
        address=who.address,
        subject=subject,
        detail=detail,
    )


def is_partial(request: Request) -> bool:
    """Whether htmx asks for a part of a page."""
    return request.headers.get("HX-Request") == "true" and request.headers.get("HX-Request-Type") != "full"


def render(
    request: Request, template: str, *, status: int = 200, headers: Mapping[str, str] | None = None, **data: Any
) -> HTMLResponse:
    """A page, or a part of one, for whoever looks."""
    who = viewer(request)
    here = shop(request)
    partial = is_partial(request)
    common = {
        "viewer": who,
        "csrf": who.csrf,
        "path": request.url.path,
        "here": request.url.path + (f"?{request.url.query}" if request.url.query else ""),
        "stops": here.stops,
        "settings": here.settings,
        "messages": () if partial else here.messages.taken(who.token),
        "shown": lambda value, quantity, digits=3: show(value, quantity, who.units, digits),
        "job": None,
        "revision": None,
        "stage": None,
        "stop": "",
    }
    if (entry := data.get("job")) is not None and not partial and "stage" not in data:
        common["stage"] = here.book.stage(entry.id)
        common["revision"] = entry.revision
    text = _environment().get_template(template).render(common | data)
    return HTMLResponse(text, status, headers)


def bar_of(request: Request, task: TaskState, where: str) -> Response:
    """How far a task is, as a part of a page; once it is done, the address for the page's script to go on to."""
    if task.done:
        return Response(status_code=204, headers={"X-Go-To": where})
    return render(request, "acceptance_progress.html", task=task)


def redirect(request: Request, where: str, message: str = "", kind: str = "notice") -> Response:
    """Go on to another page of this server after a POST, with a message that it shows once."""
    if message:
        shop(request).messages.leave(viewer(request).token, message, kind)
    where = own_path(where)
    if request.headers.get("HX-Request") == "true":
        return Response(headers={"HX-Redirect": where})
    return RedirectResponse(where, 303)


def own_path(where: str) -> str:
    """A path of this server, whatever was asked for."""
    parts = urlsplit(where)
    good = where.startswith("/") and not where.startswith(("//", "/\\")) and not parts.scheme and not parts.netloc
    return quote(where, safe="/?=&%+-._~:@,#") if good and where.isprintable() else "/"


def svg_response(text: str) -> Response:
    """A drawing or a chart, to be shown by <img> or <object>: its own styles work, scripts do not."""
    headers = {"Content-Security-Policy": SVG_POLICY, "X-Frame-Options": "SAMEORIGIN"}
    return Response(text, media_type="image/svg+xml", headers=headers)


def download(content: str | bytes, name: str, media_type: str) -> Response:
    """A file to keep; its name is made harmless."""
    plain = "".join(one if one.isascii() and (one.isalnum() or one in "-_. ") else "_" for one in name).strip(". ")
    headers = {
        "Content-Disposition": f'attachment; filename="{plain or "file"}"',
        "Content-Security-Policy": "default-src 'none'; sandbox",
    }
    return Response(content, media_type=media_type, headers=headers)


def file_name_of(name: str) -> str:
    """A job's name as the beginning of a file's name."""
    words = "".join(one if one.isascii() and one.isalnum() else " " for one in name.casefold()).split()
    return "_".join(words)[:60] or "job"


@lru_cache(maxsize=1)
def _environment() -> Environment:
    made = Environment(
        loader=PackageLoader("vaporwright.web", "templates"),
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["static"] = static_url
    made.globals["tool_version"] = version("vaporwright")
    made.filters["when"] = when
    made.filters["day"] = lambda at: datetime.fromtimestamp(at).astimezone().strftime("%Y-%m-%d")
    made.filters["words"] = lambda items, last="and": _listed(tuple(items), last)
    return made


def when(at: float) -> str:
    """A time as people read it: day and minute, here."""
    return datetime.fromtimestamp(at).astimezone().strftime("%Y-%m-%d %H:%M")


def _listed(items: tuple[str, ...], last: str) -> str:
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} {last} {items[-1]}" if items else ""


@lru_cache(maxsize=256)
def static_url(name: str) -> str:
    """The address of a static file, which changes with its content."""
    content = (files("vaporwright.web") / "static" / name).read_bytes()
    return f"/static/{quote(name)}?v={hashlib.sha256(content).hexdigest()[:12]}"


def static_folder() -> Path:
    """Where the static files are."""
    return Path(str(files("vaporwright.web") / "static"))
