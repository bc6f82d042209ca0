"""A reader that does not press a device which is silent: it is asked again after pauses that grow.

Meanwhile its points are drop-outs with the reason that was found last; nothing from before is repeated.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

from vaporwright.files.register_map import Meaning
from vaporwright.live.samples import PointReader, RawSample

LONGEST_PAUSE_s: Final = 60.0
_MOST_DOUBLINGS: Final = 20


@dataclass
class PatientReader:
    """Another reader, asked again after one interval, then two, four, up to a minute (or one interval, if longer).

    Args: elapsed_s: a clock that only rises.
    """

    reader: PointReader
    interval_s: float
    elapsed_s: Callable[[], float]
    again_s: float = -float("inf")  # by that clock: when it is asked again; in the past where it answers
    fault: str = ""  # why it is silent; empty where it answers
    _failures: int = 0
    _silent: tuple[RawSample, ...] = field(default=())

    @property
    def name(self) -> str:
        """What the device is called."""
        return self.reader.name

    @property
    def meanings(self) -> tuple[Meaning, ...]:
        """What its points mean, in their order."""
        return self.reader.meanings

    async def read(self, now_s: float) -> tuple[RawSample, ...]:
        """A sample of each point; all of them drop-outs while the device is left alone."""
        if self.fault and self.elapsed_s() < self.again_s:
            return self._silent
        samples = await self.reader.read(now_s)
        if any(sample.number is not None for sample in samples):
            self.fault, self._failures, self.again_s = "", 0, -float("inf")
            return samples
        pause_s = self.interval_s * 2.0 ** min(self._failures, _MOST_DOUBLINGS)
        self.again_s = self.elapsed_s() + min(pause_s, max(LONGEST_PAUSE_s, self.interval_s))
        self._failures += 1
        self.fault, self._silent = samples[0].fault, samples
        return samples

    async def close(self) -> None:
        """Close the connection, if there is one."""
        await self.reader.close()
