"""Kernels: one source of each equation, plain Python for one rating, compiled for batches.

A kernel is a scalar function on floats that uses only `math`, other kernels, module constants and NamedTuples.
`@kernel` marks it and returns it unchanged, so that one rating needs no compiler and starts at once.
`compiled(f)` builds a compiled twin of the whole call tree on first batch use (numba, no GIL, cached on disk).

Rules, each learnt from a failure: kernels import kernels by name; positional arguments only; no function
arguments (a solver is reverse communication: `state = advance(state, residual)`); a march that leaves the valid
range returns a sentinel instead of raising.
"""

from __future__ import annotations

import hashlib
import os
import sys
import tempfile
import types
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

Function = TypeVar("Function", bound=Callable[..., Any])

_twins: dict[Callable[..., Any], Any] = {}


def kernel(function: Function) -> Function:
    """Mark a function as a kernel."""
    function.__kernel__ = True  # type: ignore[attr-defined]
    return function


def is_kernel(thing: object) -> bool:
    return isinstance(thing, types.FunctionType) and getattr(thing, "__kernel__", False)


def compiled(function: Callable[..., Any]) -> Any:
    """The compiled twin of a kernel and of every kernel it calls; made once per process."""
    if function in _twins:
        return _twins[function]
    if not isinstance(function, types.FunctionType) or not is_kernel(function):
        raise TypeError(f"{function!r} is not marked as a kernel")
    import numba

    cache = _prepare_cache(numba)
    scope = dict(function.__globals__)
    for name in _global_names(function.__code__):
        callee = scope.get(name)
        if is_kernel(callee):
            scope[name] = compiled(callee)  # type: ignore[arg-type]
    twin = types.FunctionType(function.__code__, scope, function.__name__, function.__defaults__)
    twin.__module__ = function.__module__
    twin.__qualname__ = function.__qualname__
    _twins[function] = numba.njit(nogil=True, cache=cache, error_model="python")(twin)
    return _twins[function]


def _global_names(code: types.CodeType) -> set[str]:
    names = set(code.co_names)
    for constant in code.co_consts:
        if isinstance(constant, types.CodeType):
            names |= _global_names(constant)
    return names


@lru_cache(maxsize=1)
def cache_folder() -> Path | None:
    """The folder for compiled kernels, named after everything that shapes them; None if it can't be written.

    numba's own cache looks only at the file of the outermost function and would give a stale answer after a
    constant changed elsewhere, so the folder is keyed by the text of all modules that hold physics.
    """
    import numba

    package = Path(__file__).resolve().parent.parent
    digest = hashlib.sha256(f"{numba.__version__} {sys.version} {package}".encode())
    for room in ("foundation", "properties", "equipment", "unit", "controls"):
        for path in sorted((package / room).glob("*.py")):
            digest.update(path.read_bytes())
    base = os.environ.get("VAPORWRIGHT_CACHE") or os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    folder = Path(base) / "vaporwright" / f"kernels-{digest.hexdigest()[:16]}"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return folder
    except OSError:
        return None


def _prepare_cache(numba: Any) -> bool:
    """Point numba at our cache folder; False turns caching off rather than let numba write elsewhere."""
    folder = cache_folder()
    if folder is None:
        return False
    numba.config.CACHE_DIR = str(folder)
    return True
