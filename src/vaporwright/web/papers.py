"""Papers that take a moment to write: made in the pool, once, and fetched when they are done.

A link to a paper answers with the paper, however long that takes. The page's script asks the same address with
`how_far` first: it is told how far it is, and where to fetch it once it is there. See static/papers.js.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from typing import Any, Final
from urllib.parse import urlencode

from fastapi import Request
from fastapi.responses import Response

from vaporwright.foundation.errors import InputError
from vaporwright.web.context import download, render, shop
from vaporwright.web.working import TaskState, Working

KEPT: Final = 24
OWNER: Final = "papers"  # whoever may ask for a paper waits for the same task
HOW_FAR: Final = "how_far"
PDF: Final = "application/pdf"


class Papers:
    """Papers under way or made, the ones used last, each by what it is made from."""

    def __init__(self, working: Working) -> None:
        self._working = working
        self._tasks: OrderedDict[tuple[str, ...], str] = OrderedDict()
        self._lock = threading.Lock()

    def state(self, key: tuple[str, ...], wait: bool, function: Callable[..., bytes], *arguments: Any) -> TaskState:
        """How far a paper is, begun if need be; its bytes are the result. One that failed is begun anew next time."""
        with self._lock:
            task = self._tasks.pop(key, None) or self._working.start(OWNER, function, *arguments)
            self._tasks[key] = task
            while len(self._tasks) > KEPT:
                self._tasks.popitem(last=False)
        try:
            found = self._working.waited_for(OWNER, task) if wait else self._working.task(OWNER, task)
        except InputError:  # forgotten among many others
            self._forget(key)
            return self.state(key, wait, function, *arguments)
        if found.error is not None:
            self._forget(key)
        return found

    def _forget(self, key: tuple[str, ...]) -> None:
        with self._lock:
            self._tasks.pop(key, None)


def paper(request: Request, made_from: str, name: str, function: Callable[..., bytes], *arguments: Any) -> Response:
    """A PDF to keep, or how far it is. `made_from` changes with what the paper says, beside address and arguments.

    Args: function: as Working.start takes it: of a module, told `report` first.
    Raises: what the function raises.
    """
    state = request.app.state
    if not hasattr(state, "papers"):
        state.papers = Papers(shop(request).working)
    papers: Papers = state.papers
    asks = HOW_FAR in request.query_params
    found = papers.state((request.url.path, made_from), not asks, function, *arguments)
    if found.error is not None:
        raise found.error
    if not asks:
        return download(found.result, name, PDF)
    if not found.done:
        return render(request, "working_part.html", task=found)
    query = urlencode([(key, value) for key, value in request.query_params.multi_items() if key != HOW_FAR])
    return Response(status_code=204, headers={"X-Go-To": request.url.path + (f"?{query}" if query else "")})
