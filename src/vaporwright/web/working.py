"""Work that takes more than a moment, in processes of its own: the pages stay quick while a unit is sized.

    shop.working.run(function, *arguments)            waits for it, in the thread of the page
    shop.working.start(owner, function, *arguments)   begins it; the id of a task comes back
    shop.working.task(owner, id)                      how far it is; its result or its error when done

Functions are those of a module (they are sent by name), their arguments and results can be pickled. One that is
started gets, as its first argument, `report` (vaporwright.foundation.telling.Report): `report("Trying units", 3, 40)`
says the stage, and how many of how many of its steps are done; `report("Writing the paper")` one that cannot be
counted. A page shows a TaskState by `how_far` of the template working_parts.html: a bar moves by counted steps only.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import secrets
import signal
import struct
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from concurrent import futures
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from typing import Any, Final, TypeVar

from vaporwright.foundation.errors import InputError

Result = TypeVar("Result")
PLACES: Final = 64  # tasks whose progress is told at a time
KEPT: Final = 200  # tasks whose results are kept
TOLD: Final = struct.Struct("=iidd120s")  # steps done, of how many, when the stage began, when told, the stage
_told: Any = None  # in a worker: how far each task is, TOLD after TOLD


@dataclass(frozen=True)
class TaskState:
    """How far a task is, as the task itself has said."""

    id: str = ""
    seconds: float = 0.0  # since it was asked for
    done: bool = False
    stage: str = ""  # in words; empty while it waits for its turn
    step: int = 0  # done in this stage
    steps: int = 0  # of the stage; 0 where they cannot be counted
    stage_seconds: float = 0.0  # from the stage's beginning to the last step done
    silent_seconds: float = 0.0  # since that
    result: Any = None
    error: BaseException | None = None

    @property
    def share(self) -> float | None:
        """Of the stage, 0 to 1; None where its steps cannot be counted."""
        return min(self.step / self.steps, 1.0) if self.steps else None

    @property
    def seconds_left(self) -> float | None:
        """Of the stage, by how long its steps have taken; None before there are some to go by."""
        if not self.steps or self.step < 1 or self.stage_seconds < 0.2:
            return None
        return max(self.stage_seconds / self.step * (self.steps - self.step) - self.silent_seconds, 0.0)


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
        self._told: Any = None
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
            TOLD.pack_into(self._told, place * TOLD.size, 0, 0, 0.0, 0.0, b"")
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
            return self._under_way(task, found.place, seconds)
        broken = found.future.exception()
        if broken is not None:
            return TaskState(task, seconds, done=True, error=broken)
        carried: _Carried = found.future.result()
        error = carried.error.remade() if carried.error else None
        return TaskState(task, seconds, done=True, result=carried.result, error=error)

    def _under_way(self, task: str, place: int, seconds: float) -> TaskState:
        step, steps, began, told, stage = TOLD.unpack_from(self._told, place * TOLD.size)
        words = stage.rstrip(b"\0").decode("utf-8", "ignore")
        silent = max(time.monotonic() - told, 0.0)
        return TaskState(task, seconds, False, words, step, steps, told - began, silent)

    def waited_for(self, owner: str, task: str) -> TaskState:
        """A task that is done, however long it takes. Raises: InputError as `task`."""
        self.task(owner, task)
        futures.wait([self._tasks[task].future])
        return self.task(owner, task)

    def close(self) -> None:
        """End the processes, whatever they are at: nothing of theirs is kept anyway."""
        self._closed = True
        self._let_go()

    def _ready(self) -> ProcessPoolExecutor:
        with self._lock:
            if self._closed:
                raise InputError("server", "", "is being stopped", "begin it again when it is back")
            if self._pool is None:
                # No lock: a process that is killed would keep it. What is read in the middle of a write is told
                # wrong for a moment, and only told.
                self._told = self._told or self._context.RawArray("b", PLACES * TOLD.size)
                held, self._leash = self._context.Pipe(duplex=False)
                begun_with = (self._told, held)
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


def _begin(told: Any, held: Any) -> None:
    global _told  # the only way to hand something to the tasks of a process
    _told = told
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
    stage_before, began = "", 0.0

    def report(stage: str, done: int = 0, of: int = 0) -> None:
        nonlocal stage_before, began
        now = time.monotonic()  # one clock for all processes of a machine
        if stage != stage_before:
            stage_before, began = stage, now
        TOLD.pack_into(_told, place * TOLD.size, done, of, began, now, stage.encode("utf-8"))

    return function(report, *arguments)
