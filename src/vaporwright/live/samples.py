"""What a reader brings of a point, and what is made of it: a value of good quality, or none with the reason.

Quality is one of five words. Only good has a value; what was seen is kept as text, so that it can be shown.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal, Protocol, TypeAlias

from vaporwright.acceptance.steps.readings import Reading
from vaporwright.files.register_map import Meaning
from vaporwright.foundation.errors import InputError

Quality: TypeAlias = Literal["good", "stale", "dropped out", "implausible", "suspected wrong byte order"]
GOOD: Final = "good"
STALE: Final = "stale"
DROPPED_OUT: Final = "dropped out"
IMPLAUSIBLE: Final = "implausible"
WRONG_ORDER: Final = "suspected wrong byte order"


@dataclass(frozen=True)
class RawSample:
    """What a reader brought of a point.

    number: as it was read, before scaling; None where nothing came.
    fault: why nothing came, or why it must not be used.
    others: what the same registers would mean in other orders, by its words.
    age_s: by the stamp of its source; None where there is no stamp.
    """

    number: float | bool | None
    fault: str = ""
    stale: bool = False  # the fault is one of age
    others: Mapping[str, float] | None = None
    age_s: float | None = None


@dataclass(frozen=True)
class LiveValue:
    """A point at one time."""

    target: str
    quality: Quality
    value: float | bool | None = None  # SI; only where the quality is good
    seen: str = ""  # what was seen, in the unit of the map: "155.3 degF"
    reason: str = ""  # why the quality is not good

    def __post_init__(self) -> None:
        if (self.value is None) == (self.quality == GOOD):
            raise ValueError(f"{self.target}: a value goes with good quality, and with no other")

    def reading(self, instrument: str = "") -> Reading:
        """The reading of a field of a step. Raises InputError where the quality is not good."""
        step, _, field = self.target.partition("/")
        if self.value is None:
            problem = f"{self.quality}: {self.reason}" + (f"; seen {self.seen}" if self.seen else "")
            raise InputError("live reading", self.target, problem, "a value of good quality")
        return Reading(step, field, self.seen, self.value, instrument, "live")


class PointReader(Protocol):
    """Reads the points of one device. Trouble of the device is a fault of its samples, never an exception."""

    @property
    def name(self) -> str: ...
    @property
    def meanings(self) -> tuple[Meaning, ...]: ...
    async def read(self, now_s: float) -> tuple[RawSample, ...]:
        """A sample of each point, in their order; now_s is the time of day, seconds since 1970."""
        ...

    async def close(self) -> None: ...
