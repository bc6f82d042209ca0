"""The worker that a browser keeps, so that a tablet opens pages of a test again while it has no line; only with TLS."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from typing import Final

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response

from vaporwright.web.context import shop, static_folder

PLACE: Final = "VERSION"  # in the script, where the version goes
router = APIRouter()


@router.get("/service-worker.js")
def service_worker(request: Request) -> Response:
    """The worker, another one for each version of the static files: a browser then drops what the old one kept."""
    if not shop(request).settings.has_tls:
        raise HTTPException(404, "only where the line is encrypted")
    script = (static_folder() / "service_worker.js").read_text(encoding="utf-8").replace(PLACE, _version(), 1)
    headers = {"Cache-Control": "no-cache", "Service-Worker-Allowed": "/"}
    return Response(script, media_type="text/javascript; charset=utf-8", headers=headers)


@lru_cache(maxsize=1)
def _version() -> str:
    """Differs when any static file does."""
    made = hashlib.sha256()
    for path in sorted(one for one in static_folder().rglob("*") if one.is_file()):
        made.update(path.name.encode() + b"\0" + path.read_bytes())
    return made.hexdigest()[:12]
