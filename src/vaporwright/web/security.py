"""Who may come in, and how much they may bring: in front of every page.

In this order, for each request: the host it names, the length it brings, whose session it is, whether that person may
see pages at all. Every route depends on `check_form`: a witness sees only the jobs that were opened to them, and a form
comes from a page of this server. What else a page lets whom do is said there (`context.require`).
"""

from __future__ import annotations

import hmac
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping, MutableMapping
from dataclasses import replace
from typing import Any, Final
from urllib.parse import urlsplit

import anyio.to_thread
from fastapi import HTTPException, Request
from fastapi.responses import Response
from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import ClientDisconnect

from vaporwright.store.people_store import Account, PeopleStore, Session, checked_name, fresh_token
from vaporwright.web.context import SECRET_PATHS, Shop, Viewer, book

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
Application = Callable[[Scope, Receive, Send], Awaitable[None]]

COOKIE: Final = "vaporwright"
SECURE_COOKIE: Final = "__Host-vaporwright"  # with TLS: no other name of this domain can set it
TOKEN_LENGTH: Final = len(fresh_token())
SEEN_EVERY_s: Final = 60.0
FORM_FIELD: Final = "csrf"
PROGRAM_HEADER: Final = "X-Vaporwright"  # a page of another server cannot send it without asking first
NAME_HEADER: Final = "X-Vaporwright-Name"  # for whom a program at the machine itself enters something
OPEN_PATHS: Final = ("/static/", "/health", "/sign-in", SECRET_PATHS, "/api/v1/session")
POLICY: Final = (
    "default-src 'self'; img-src 'self' data:; style-src 'self'; script-src 'self'; frame-ancestors 'none'; "
    "form-action 'self'; base-uri 'none'"
)
HEADERS: Final = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), geolocation=(), microphone=()",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}
_OF_SECRET: Final = {"Referrer-Policy": "no-referrer", "X-Robots-Tag": "noindex"}  # the address is the secret
_SAFE: Final = ("GET", "HEAD", "OPTIONS")


class Guard:
    """The middleware; `refuse` and `failed` make the answers that no page makes."""

    def __init__(
        self,
        app: Application,
        shop: Shop,
        refuse: Callable[[Request, HTTPException], Response],
        failed: Callable[[Request, Exception], Response],
    ) -> None:
        self._app, self._shop, self._refuse, self._failed = app, shop, refuse, failed

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        bearer, cookie = _bearer(headers), self._cookie(headers)
        token = bearer or cookie or fresh_token()
        state = scope.setdefault("state", {})
        state["viewer"] = Viewer(address=_address(scope), token=token)
        state["by_bearer"] = bearer is not None
        headers_sent = HEADERS | (_OF_SECRET if scope["path"].startswith(SECRET_PATHS) else {})
        if self._shop.settings.has_tls:
            headers_sent |= {"Strict-Transport-Security": "max-age=31536000"}
        dressed = _Dressed(send, headers_sent, lambda: self._new_cookie(scope, cookie))
        limited = _Limited(receive, self._shop.settings.largest_upload_bytes)
        try:
            refusal = await self._refusal(scope, headers)
            if refusal is not None:
                answer = await anyio.to_thread.run_sync(self._refuse, Request(scope), refusal)
                await answer(scope, receive, dressed.send)
            else:
                await self._app(scope, limited.receive, dressed.send)
        except ClientDisconnect:  # gone while it was sending: nobody is there to be answered
            return
        except Exception as error:
            if dressed.begun:
                raise
            answer = await anyio.to_thread.run_sync(self._failed, Request(scope), error)
            await answer(scope, receive, dressed.send)

    async def _refusal(self, scope: Scope, headers: Headers) -> HTTPException | None:
        """Why a request does not reach any page, if it does not; who looks is known afterwards."""
        refusal = self._refused_at_once(headers)
        if refusal is None:
            who: Viewer = scope["state"]["viewer"]
            who = await anyio.to_thread.run_sync(self._viewer, who.token, who.address)
            if who.is_local and NAME_HEADER in headers and scope["path"].startswith("/api/"):
                who = replace(who, name=checked_name(headers[NAME_HEADER], NAME_HEADER))
            scope["state"]["viewer"] = who
            if not who.signed_in and not scope["path"].startswith(OPEN_PATHS):
                refusal = HTTPException(401, "sign in first")
        return refusal

    def _refused_at_once(self, headers: Headers) -> HTTPException | None:
        if not self._shop.settings.knows_host(headers.get("host", "")):
            return HTTPException(421, "this server does not go by that name")
        length = headers.get("content-length", "0")
        if not length.isascii() or not length.isdigit():
            return HTTPException(400, "the length of what is sent cannot be read")
        if int(length) > self._shop.settings.largest_upload_bytes:
            return HTTPException(413, too_large(self._shop.settings.largest_upload_bytes))
        return None

    def _cookie(self, headers: Headers) -> str | None:
        name = SECURE_COOKIE if self._shop.settings.has_tls else COOKIE
        for part in headers.get("cookie", "").split(";"):
            key, _, value = part.strip().partition("=")
            if key == name and len(value) == TOKEN_LENGTH:
                return value
        return None

    def _new_cookie(self, scope: Scope, brought: str | None) -> str | None:
        """The cookie of whoever comes without one, or whose secret has changed by signing in or out."""
        token = scope["state"]["viewer"].token
        if (
            scope["state"]["by_bearer"]
            or token == brought
            or scope["path"].startswith(("/static/", "/health", "/api/"))
        ):
            return None
        return self._cookie_text(token)

    def _cookie_text(self, token: str) -> str:
        """The header that keeps a secret in the browser."""
        settings = self._shop.settings
        secure = "; Secure" if settings.has_tls else ""
        name = SECURE_COOKIE if settings.has_tls else COOKIE
        return f"{name}={token}; Path=/; Max-Age={settings.lasting_s:.0f}; HttpOnly; SameSite=Strict{secure}"

    def _viewer(self, token: str, address: str) -> Viewer:
        shop = self._shop
        session = live_session(shop, token)
        if session is None:
            return Viewer(role="engineer" if shop.settings.is_local else "", address=address, token=token)
        account = shop.people.account(session.account) if session.account else None
        return viewer_of(session, account, token, address)


def viewer_of(session: Session, account: Account | None, token: str, address: str) -> Viewer:
    """Who looks, by session and account as they are now: what an engineer has changed holds at once."""
    return Viewer(
        session.name,
        account.id if account else "",
        account.role if account else "engineer",
        account.qualifications if account else session.qualifications,
        session.units,
        session.theme,
        address,
        token,
        session,
    )


def live_session(shop: Shop, token: str) -> Session | None:
    """The session of a secret, unless it has run out, its account is disabled, or the server asks for accounts now."""
    people: PeopleStore = shop.people
    session, now = people.session(token), shop.clock()
    if session is None:
        return None
    if now - session.seen_at > shop.settings.idle_s or now - session.made_at > shop.settings.lasting_s:
        people.end_session(session.token_sha256)
        return None
    if session.account is None:
        if not shop.settings.is_local:
            return None
    else:
        account = people.account(session.account)
        if account is None or account.disabled_at is not None:
            return None
    if now - session.seen_at > SEEN_EVERY_s:
        people.touch_session(session.token_sha256, now)
    return session


async def check_form(request: Request) -> AsyncIterator[None]:
    """Check a request by `_checked`, and let go of the files of its form when it is answered."""
    try:
        await _checked(request)
        yield
    finally:
        await request.close()


async def _checked(request: Request) -> None:
    """Let nobody see a job that is not theirs to see, and nothing be changed by a form that no page of ours made.

    A form brings the field `csrf`, a script the header X-CSRF-Token. Under /api a program sends JSON, a bearer's
    secret, or the header X-Vaporwright: a page of another server can send none of these unasked.

    Raises: HTTPException 403, NoSuchJob.
    """
    job = request.path_params.get("job")
    if job is not None:  # whatever page it is, and whatever that page checks
        await anyio.to_thread.run_sync(book(request).job, job)
    if request.method in _SAFE:
        return
    _require_own_origin(request)
    if request.scope["state"]["by_bearer"]:
        return
    brought = request.headers.get("X-CSRF-Token", "")
    kind = request.headers.get("content-type", "").partition(";")[0].strip().casefold()
    if request.url.path.startswith("/api/") and (kind == "application/json" or PROGRAM_HEADER in request.headers):
        return
    if not brought and kind in ("application/x-www-form-urlencoded", "multipart/form-data"):
        field = (await request.form()).get(FORM_FIELD, "")
        brought = field if isinstance(field, str) else ""
    who: Viewer = request.scope["state"]["viewer"]
    if not hmac.compare_digest(brought.encode(), who.csrf.encode()):
        raise HTTPException(403, "this form is not from a page of this server, or the page is too old: load it again")


def _require_own_origin(request: Request) -> None:
    origin = request.headers.get("origin")
    own = request.headers.get("host", "").casefold()
    if origin is not None and urlsplit(origin.casefold()).netloc != own:
        raise HTTPException(403, "this request comes from a page of another server")
    if request.headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
        raise HTTPException(403, "this request comes from a page of another server")


def too_large(most_bytes: int) -> str:
    """Why an upload is refused."""
    return f"what is sent is too large; allowed: {most_bytes / 1e6:.0f} MB"


def _bearer(headers: Headers) -> str | None:
    kind, _, token = headers.get("authorization", "").partition(" ")
    return token.strip() if kind.casefold() == "bearer" and token.strip() else None


def _address(scope: Scope) -> str:
    client = scope.get("client")
    return str(client[0]) if client else ""


class _Limited:
    """What a request brings, counted while it is read: a length that was not said, or was said wrongly."""

    def __init__(self, receive: Receive, most_bytes: int) -> None:
        self._receive, self._most, self._read = receive, most_bytes, 0

    async def receive(self) -> MutableMapping[str, Any]:
        message = await self._receive()
        self._read += len(message.get("body", b""))
        if self._read > self._most:
            raise HTTPException(413, too_large(self._most))
        return message


class _Dressed:
    """What goes back, with the headers of safety, and the cookie where one is due."""

    def __init__(self, send: Send, headers: Mapping[str, str], cookie: Callable[[], str | None]) -> None:
        self._send, self._headers, self._cookie, self.begun = send, headers, cookie, False

    async def send(self, message: MutableMapping[str, Any]) -> None:
        if message["type"] == "http.response.start":
            self.begun = True
            headers = MutableHeaders(scope=message)
            for name, value in self._headers.items():
                headers.setdefault(name, value)
            text = self._cookie()
            if text is not None:
                headers.append("Set-Cookie", text)
        await self._send(message)
