"""A reading as it was taken: what was entered, in which unit, what that is in SI, with which instrument, by whom."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

Way: TypeAlias = Literal["typed", "file", "live"]


@dataclass(frozen=True)
class Reading:
    """One value of one field of one step."""

    step: str
    field: str
    entered: str  # as it was entered, with its unit: "26.3 gal/min", "yes"
    value: float | bool | str  # SI
    instrument: str = ""  # id of a registered instrument; "" for the eye
    way: Way = "typed"
