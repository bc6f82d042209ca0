"""Every route of an application, those of included routers too: `app.routes` alone does not list them."""

from __future__ import annotations

from fastapi import FastAPI
from fastapi.routing import iter_route_contexts

LEAST = 60  # there are more: a list that is suddenly short would make tests of every route pass for nothing


def routes_of(app: FastAPI) -> list[tuple[str, str]]:
    """Method and path of each, in order of paths; HEAD is GET without a body, and left out."""
    found = {
        (method, str(route.path))
        for route in iter_route_contexts(app.routes)
        for method in route.methods or ()
        if method != "HEAD"
    }
    assert len(found) >= LEAST, sorted(found)
    return sorted(found, key=lambda one: (one[1], one[0]))
