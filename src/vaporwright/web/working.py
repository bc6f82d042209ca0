"""Work that takes more than a moment, in processes of its own: the pages stay quick while a unit is sized.

    shop.working.run(function, *arguments)            waits for it, in the thread of the page
    shop.working.start(owner, function, *arguments)   begins it; the id of a task comes back
    shop.working.task(owner, id)                      how far it is; its result or its error when done

Functions are those of a module (they are sent by name), their arguments and results can be pickled. One that is
started gets, as its first argument, `report`, to be called with the share done.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import secrets
import signal
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from typing import Any, Final, TypeVar

from vaporwright.foundation.errors import InputError

Result = TypeVar("Result")
PLACES: Final = 64  # tasks whose progress is told at a time
KEPT: Final = 200  # tasks whose results are kept
_shares: Any = None  # in a worker: how far each task is


@dataclass(frozen=True)
class TaskState:
    """How far a task is."""

    id: str
    share: float  # 0 to 1
    seconds: float  # since it was begun
    done: bool
    result: Any = None
    error: BaseException | None = None

    @property
    def seconds_left(self) -> float | None:
        """A guess, once there is something to guess from."""
        return self.seconds * (1.0 - self.share) / self.share if 0.05 < self.share < 1.0 else None


@dataclass
class _Task:
    owner: str
    place: int
    begun: float
    future: Future[_Carried]


class Working:
    """The pool. Its processes are started when first needed, or by `warm`."""

    def __init__(self, workers: int) -> None:
        self._workers = workers
        self._context = multiprocessing.get_context("spawn")
        self._shares: Any = None
        self._pool: ProcessPoolExecutor | None = None
        self._leash: Any = None
        self._closed = False
        self._tasks: OrderedDict[str, _Task] = OrderedDict()
        self._next = 0
        self._lock = threading.Lock()

    def warm(self) -> None:
        """Start the processes and have them import what sizing needs."""
        pool = self._ready()
        for _ in range(self._workers):
            pool.submit(_warmed)

    def run(self, function: Callable[..., Result], *arguments: Any) -> Result:
        """What a function returns or raises, worked out in another process."""
        try:
            carried = self._ready().submit(_carried, function, *arguments).result()
        except BrokenProcessPool:
            self._let_go()
            carried = self._ready().submit(_carried, function, *arguments).result()
        if carried.error is not None:
            raise carried.error.remade()
        found: Result = carried.result
        return found

    def start(self, owner: str, function: Callable[..., Any], *arguments: Any) -> str:
        """Begin a task; its id comes back. `owner` is whoever may ask for it."""
        pool = self._ready()
        with self._lock:
            place, self._next = self._next % PLACES, self._next + 1
            self._shares[place] = 0.0
            task = secrets.token_hex(12)
            future = pool.submit(_carried, _reported, place, function, *arguments)
            self._tasks[task] = _Task(owner, place, time.monotonic(), future)
            while len(self._tasks) > KEPT:
                self._tasks.popitem(last=False)
        return task

    def task(self, owner: str, task: str) -> TaskState:
        """How far a task is.

        Raises: InputError where there is none of that id, or it is another's.
        """
        found = self._tasks.get(task)
        if found is None or found.owner != owner:
            raise InputError("task", "", "there is no such task, or the server was started anew", "begin it again")
        seconds = time.monotonic() - found.begun
        if not found.future.done():
            return TaskState(task, self._shares[found.place], seconds, False)
        broken = found.future.exception()
        if broken is not None:
            return TaskState(task, 1.0, seconds, True, None, broken)
        carried: _Carried = found.future.result()
        error = carried.error.remade() if carried.error else None
        return TaskState(task, 1.0, seconds, True, carried.result, error)

    def close(self) -> None:
        """End the processes, whatever they are at: nothing of theirs is kept anyway."""
        self._closed = True
        self._let_go()

    def _ready(self) -> ProcessPoolExecutor:
        with self._lock:
            if self._closed:
                raise InputError("server", "", "is being stopped", "begin it again when it is back")
            if self._pool is None:
                self._shares = self._shares or self._context.Array("d", PLACES)
                held, self._leash = self._context.Pipe(duplex=False)
                begun_with = (self._shares, held)
                self._pool = ProcessPoolExecutor(self._workers, self._context, _begin, begun_with)
            return self._pool

    def _let_go(self) -> None:
        """Of the pool; the next one is new."""
        with self._lock:
            pool, leash, self._pool, self._leash = self._pool, self._leash, None, None
        if pool is not None:
            pool.shutdown(wait=False, cancel_futures=True)
            leash.close()


@dataclass(frozen=True)
class _Error:
    """An error on its way between processes: those of ours cannot be made anew from their message alone."""

    kind: type[Exception]
    said: tuple[Any, ...]
    more: dict[str, Any]

    def remade(self) -> Exception:
        made = self.kind.__new__(self.kind)
        made.args = self.said
        made.__dict__.update(self.more)
        return made


@dataclass(frozen=True)
class _Carried:
    """What came of a function."""

    result: Any = None
    error: _Error | None = None


def _carried(function: Callable[..., Any], *arguments: Any) -> _Carried:
    try:
        return _Carried(function(*arguments))
    except Exception as error:
        return _Carried(error=_Error(type(error), error.args, dict(error.__dict__)))


def _begin(shares: Any, held: Any) -> None:
    global _shares  # the only way to hand something to the tasks of a process
    _shares = shares
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the server ends its processes itself
    threading.Thread(target=_end_with, args=(held,), daemon=True).start()


def _end_with(held: Any) -> None:
    """End this process when the other end of the line is let go: by the server, or because it was killed."""
    with contextlib.suppress(EOFError, OSError):
        held.recv_bytes()
    os._exit(0)


def _warmed() -> None:
    import vaporwright.actions.control_job
    import vaporwright.actions.size_job
    import vaporwright.files.quantities

    vaporwright.files.quantities.unit_registry()


def _reported(place: int, function: Callable[..., Any], *arguments: Any) -> Any:
    def report(share: float) -> None:
        _shares[place] = min(max(share, 0.0), 1.0)

    return function(report, *arguments)
