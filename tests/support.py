"""What tests share: the mark that ties an independent check to the function that it checks."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

Test = TypeVar("Test", bound=Callable[..., Any])


def verifies(*functions: str) -> Callable[[Test], Test]:
    """Name the functions (module path below the package, function name) that a published or oracle test checks."""

    def mark(test: Test) -> Test:
        test.__verifies__ = functions  # type: ignore[attr-defined]
        return test

    return mark
