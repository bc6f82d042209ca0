"""The application: pages, the JSON interface, static files, errors, with the guard in front of all.

A further capability is one module in web/pages with `router` and `STOP`, and its name in PAGES.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import AsyncIterator, Callable
from importlib import import_module
from typing import Final

from fastapi import Depends, FastAPI, Request
from fastapi.responses import PlainTextResponse, Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

from vaporwright.actions.job_book import JobBook
from vaporwright.store.database import Database
from vaporwright.store.job_store import JobStore
from vaporwright.store.people_store import PeopleStore
from vaporwright.web import errors
from vaporwright.web.context import Shop, Stop, static_folder
from vaporwright.web.floor import known_state
from vaporwright.web.messages import Messages
from vaporwright.web.panel import panels_of
from vaporwright.web.security import Guard, check_form
from vaporwright.web.settings import Settings
from vaporwright.web.working import Working

PAGES: Final = (
    "jobs",
    "people",
    "sizing",
    "sizing_papers",
    "controls",
    "controls_run",
    "training",
    "acceptance",
    "service",
)
API: Final = (
    "session",
    "jobs",
    "sizing",
    "controls",
    "acceptance",
    "service",
)


def make_app(settings: Settings, clock: Callable[[], float] = time.time) -> FastAPI:
    """The application of a shop. `app.state.shop.close()` lets go of everything; a server does so when it ends.

    Raises: StoreError where the store cannot be opened.
    """
    shop = open_shop(settings, clock)
    if settings.demo and not shop.jobs.jobs():
        shop.book.add_demo(by="demo")

    @contextlib.asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        yield
        panels_of(_app).close()
        shop.close()

    app = FastAPI(
        title="Vaporwright",
        summary="Jobs of a shop that builds heated-tank evaporators",
        openapi_url="/api/v1/openapi.json",
        docs_url=None,  # its pages would come from elsewhere
        redoc_url=None,
        lifespan=lifespan,
        dependencies=[Depends(check_form)],
    )
    app.state.shop = shop
    app.add_middleware(Guard, shop=shop, refuse=errors.refusal, failed=errors.failed)
    errors.install(app)
    app.add_api_route("/health", _health, include_in_schema=False)
    stops: list[Stop] = []
    for name in PAGES:
        module = import_module(f"vaporwright.web.pages.{name}")
        app.include_router(module.router, include_in_schema=False)
        if module.STOP is not None:
            stops.append(module.STOP)
    for name in API:
        app.include_router(import_module(f"vaporwright.web.api.{name}").router, prefix="/api/v1")
    shop.stops = tuple(sorted(stops, key=lambda stop: stop.order))
    app.mount("/static", _Static(directory=static_folder()), name="static")
    return app


def open_shop(settings: Settings, clock: Callable[[], float]) -> Shop:
    """The things of a server."""
    database = Database(settings.store)
    jobs, people = JobStore(database), PeopleStore(database)
    now = clock()
    people.drop_expired(idle_since=now - settings.idle_s, made_before=now - settings.lasting_s)
    book = JobBook(jobs, database.records, clock, state_of=known_state)
    return Shop(settings, database, people, jobs, book, Working(settings.workers), Messages(), clock)


def _health(request: Request) -> Response:
    """Whether the server and its store answer."""
    shop: Shop = request.app.state.shop
    shop.people.has_engineer()
    return PlainTextResponse("ok")


class _Static(StaticFiles):
    """Files that never change under one address: it has their hash in it."""

    def file_response(self, *args: object, **kwargs: object) -> Response:
        response = super().file_response(*args, **kwargs)  # type: ignore[arg-type]
        scope: Scope = args[2] if len(args) > 2 else kwargs["scope"]  # type: ignore[assignment]
        stays = b"v=" in scope.get("query_string", b"")
        response.headers["Cache-Control"] = "public, max-age=31536000, immutable" if stays else "no-cache"
        return response
