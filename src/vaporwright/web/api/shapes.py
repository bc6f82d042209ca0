"""Shapes of the JSON interface that more than one part of it uses."""

from __future__ import annotations

from typing import Any, Final

from pydantic import BaseModel, ConfigDict


class Shape(BaseModel):
    """What is sent or answered; a key that is not known is refused."""

    model_config = ConfigDict(extra="forbid")


class Fault(Shape):
    """What is wrong, where, and what is allowed."""

    where: str
    key: str
    problem: str
    allowed: str


class FaultAnswer(Shape):
    """Every answer that is not the one asked for has this shape."""

    error: Fault


def faults(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """The answers beside the good one, for `responses=` of a route."""
    return {status: {"model": FaultAnswer} for status in sorted({*_ALWAYS, *statuses})}


def faults_of_text(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """The same for a route whose good answer is a text: its faults are JSON all the same."""
    shape = {"$ref": "#/components/schemas/FaultAnswer"}
    told = {"description": "What is wrong, where, and what is allowed", "content": {_JSON: {"schema": shape}}}
    return dict.fromkeys(sorted({*_ALWAYS, *statuses}), told)


_JSON: Final = "application/json"
_ALWAYS: Final = (400, 401, 403, 413, 421, 422, 503)
