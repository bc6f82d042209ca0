"""The equation and source register: which published source stands behind each function.

A physics function carries one `@sourced(source_id, locator)` per source. The files in sources.d beside this
module, one per topic, list every source once. The register prints as a page of the docs and as the appendix of a
calculation sheet, so that a printed number leads to its equation, its source and its test.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import Any, TypeVar

Function = TypeVar("Function", bound=Callable[..., Any])


@dataclass(frozen=True)
class Source:
    """One entry of sources.toml."""

    source_id: str
    kind: str  # "published", "common practice, no source", "from memory" or "own derivation"
    citation: str
    checked: str


@dataclass(frozen=True)
class Citation:
    """One function's use of one source."""

    function: str  # module path below the package and function name, as in "properties.water.saturation_pressure_Pa"
    source_id: str
    locator: str


_citations: list[Citation] = []


def sourced(source_id: str, locator: str) -> Callable[[Function], Function]:
    """Register the source of a function; the function itself is returned unchanged."""

    def mark(function: Function) -> Function:
        name = f"{function.__module__.removeprefix('vaporwright.')}.{function.__qualname__}"
        _citations.append(Citation(name, source_id, locator))
        return function

    return mark


def citations() -> tuple[Citation, ...]:
    """All citations of the modules imported so far, in order of function name."""
    return tuple(sorted(_citations, key=lambda citation: (citation.function, citation.source_id)))


@lru_cache(maxsize=1)
def sources() -> dict[str, Source]:
    """All sources by id, read once from the files in sources.d; an id that two files define is an error."""
    found: dict[str, Source] = {}
    folder = resources.files("vaporwright.foundation").joinpath("sources.d")
    for file in sorted(folder.iterdir(), key=lambda entry: entry.name):
        for source_id, entry in tomllib.loads(file.read_text(encoding="utf-8")).items():
            if source_id in found:
                raise ValueError(f"{file.name}: source {source_id} is defined twice")
            found[source_id] = Source(source_id, entry["kind"], entry["citation"], entry["checked"])
    return found
