"""A live log: every point of a register map read at one interval, each value with its quality.

Only values of good quality are ever readings. What stands still to the last bit where it ought to move is stale, and so
is all of the stretch since it stopped; a total that falls is implausible. Both clocks are handed in.
"""

from __future__ import annotations

import asyncio
import math
from collections.abc import Awaitable, Callable, Mapping, Sequence
from dataclasses import dataclass, field

from vaporwright.acceptance.run.log import CHANNEL_OF, RunLog
from vaporwright.files.register_map import Meaning, ModbusDevice, RegisterMap
from vaporwright.foundation.errors import InputError
from vaporwright.live.judging import judged
from vaporwright.live.samples import GOOD, IMPLAUSIBLE, STALE, LiveValue, PointReader, RawSample


@dataclass(frozen=True)
class LiveRow:
    """All points at one time."""

    time_s: float  # since the log began
    values: Mapping[str, LiveValue]


@dataclass
class _Track:
    """What is remembered of a point."""

    number: float | bool | None = None  # as it was read
    since_s: float = 0.0  # when it was first read so
    highest: float | None = None  # of a total, the latest good value [SI]


@dataclass
class LiveLog:
    """Reads, judges and keeps.

    Args:
        readers: one for each device.
        elapsed_s: a clock that only rises, for the times of rows.
        now_s: the time of day, seconds since 1970, for the age of stamps.
    """

    readers: Sequence[PointReader]
    elapsed_s: Callable[[], float]
    now_s: Callable[[], float]
    _rows: list[LiveRow] = field(default_factory=list)
    _tracks: dict[str, _Track] = field(default_factory=dict)
    _begin_s: float | None = None

    @property
    def rows(self) -> tuple[LiveRow, ...]:
        """All rows so far; those of a stretch in which a value stood still are marked afterwards too."""
        return tuple(self._rows)

    async def poll(self) -> LiveRow:
        """Read everything once, and keep it.

        Raises: InputError where the clock has not gone on.
        """
        samples = await asyncio.gather(*(reader.read(self.now_s()) for reader in self.readers))
        clock_s = self.elapsed_s()
        if self._begin_s is None:
            self._begin_s = clock_s
        time_s = clock_s - self._begin_s
        if self._rows and not time_s > self._rows[-1].time_s:
            problem = f"{time_s:g} s does not come after {self._rows[-1].time_s:g} s"
            raise InputError("live log", "time", problem, "a clock that only rises")
        values: dict[str, LiveValue] = {}
        for reader, found in zip(self.readers, samples, strict=True):
            for meaning, sample in zip(reader.meanings, found, strict=True):
                values[meaning.target] = self._remembered(judged(sample, meaning), sample, meaning, time_s)
        row = LiveRow(time_s, values)
        self._rows.append(row)
        return row

    async def follow(
        self,
        poll_s: float,
        ended: Callable[[], bool],
        sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
        seen: Callable[[LiveRow], None] = lambda row: None,  # noqa: ARG005
        not_before_s: Callable[[], float] = lambda: -math.inf,
    ) -> None:
        """Poll at an interval until it has ended, and close the readers then, whatever happens.

        Args: not_before_s: by the clock that only rises, before when another poll is no use.
        """
        try:
            due_s = self.elapsed_s()
            while not ended():
                seen(await self.poll())
                due_s = max(due_s + poll_s, self.elapsed_s(), not_before_s())
                await sleep(due_s - self.elapsed_s())
        finally:
            await self.close()

    async def close(self) -> None:
        """Close all readers."""
        for reader in self.readers:
            await reader.close()

    def run_log(self, after_s: float = -math.inf, until_s: float = math.inf) -> RunLog:
        """The channels of a run over a span of times, with none where the quality was not good."""
        rows = []
        for row in reversed(self._rows):  # what is asked for lies at the end
            if row.time_s <= after_s:
                break
            if row.time_s <= until_s:
                rows.append(row)
        rows.reverse()
        names = [name for name in CHANNEL_OF if any(name in row.values for row in rows)]
        return RunLog(
            tuple(row.time_s for row in rows),
            {name: tuple(_number(row.values[name].value) for row in rows) for name in names},
        )

    def forget(self, until_s: float) -> None:
        """Let go of the rows up to a time; the last one stays, so that times go on from it."""
        kept = next((place for place, row in enumerate(self._rows) if row.time_s > until_s), len(self._rows) - 1)
        del self._rows[: max(kept, 0)]

    def _remembered(self, value: LiveValue, sample: RawSample, meaning: Meaning, time_s: float) -> LiveValue:
        """The value in the light of those before it."""
        track = self._tracks.setdefault(meaning.target, _Track())
        if value.quality != GOOD:
            track.number = None
            return value
        if track.number is None or track.number != sample.number:
            track.number, track.since_s = sample.number, time_s
        still_s = time_s - track.since_s
        if meaning.frozen_after_s is not None and still_s > meaning.frozen_after_s:
            reason = f"unchanged to the last bit for {still_s:.0f} s"
            self._mark_stretch(meaning.target, track.since_s, reason)
            return LiveValue(meaning.target, STALE, seen=value.seen, reason=reason)
        if meaning.total and isinstance(value.value, float):
            if track.highest is not None and value.value < track.highest:
                before = meaning.shown_limit(track.highest)
                return LiveValue(
                    meaning.target, IMPLAUSIBLE, seen=value.seen, reason=f"a total that has fallen from {before}"
                )
            track.highest = value.value
        return value

    def _mark_stretch(self, target: str, since_s: float, reason: str) -> None:
        """Mark what came after a value stopped: only its first reading is known to be one."""
        for place in range(len(self._rows) - 1, -1, -1):
            row = self._rows[place]
            value = row.values[target]
            if row.time_s <= since_s or value.quality != GOOD:
                break
            marked = LiveValue(target, STALE, seen=value.seen, reason=reason)
            self._rows[place] = LiveRow(row.time_s, {**row.values, target: marked})


def _number(value: float | bool | None) -> float | None:
    return None if value is None else float(value)


def readers_for(registers: RegisterMap) -> tuple[PointReader, ...]:
    """A reader for each device of a map; the libraries are imported when they are first asked."""
    from vaporwright.live.modbus_reader import ModbusReader
    from vaporwright.live.opcua_reader import OpcUaReader

    return tuple(
        ModbusReader(device) if isinstance(device, ModbusDevice) else OpcUaReader(device)
        for device in registers.devices
    )
