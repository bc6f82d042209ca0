"""When a run is steady, from when to when, what is still moving, and whether two consecutive hours agree.

The trade: at least 1.5 h to settle, then the tank within 1 degF an hour, and two consecutive hours whose evaporation
agrees within 3 % (common practice, no source). The other limits are this project's (common practice, no source): room
air or flows that wander move the evaporation as much as a tank that is still warming.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from vaporwright.acceptance.run.averages import trend_of
from vaporwright.acceptance.run.log import CHANNEL_OF, Measured, RunLog

HOUR_s: Final = 3600.0
SETTLE_s: Final = 1.5 * HOUR_s
LEAST_STEADY_s: Final = 2.0 * HOUR_s
HOURS_AGREE_WITHIN: Final = 0.03
TANK_TREND_K_h: Final = 1.0 / 1.8
LOOK_EVERY_s: Final = 300.0
LEAST_ROWS_AN_HOUR: Final = 10
ROW_s: Final = 1.0  # what two times may differ by and still count as whole hours
# Most that a channel may move in an hour: (share of its mean, absolute [SI])
MOVING_LIMITS: Final[Mapping[str, tuple[float, float]]] = {
    "tank_temperature_K": (0.0, TANK_TREND_K_h),
    "return_temperature_K": (0.0, TANK_TREND_K_h),
    "inlet_air_temperature_K": (0.0, 2.0),
    "inlet_wet_bulb_K": (0.0, 1.0),
    "spray_flow_m3_s": (0.03, 0.0),
    "air_flow_m3_s": (0.05, 0.0),
}


@dataclass(frozen=True)
class Moving:
    """A channel that moves more than it may: how much in an hour."""

    channel: str
    label: str
    quantity: str  # of the change
    an_hour: Measured
    limit: float


@dataclass(frozen=True)
class Steadiness:
    """The last hour judged, and the longest steady span of the log."""

    steady: bool  # the last hour, after settling
    trend_K_h: Measured | None  # of the tank over the last hour
    moving: tuple[Moving, ...]  # in the last hour
    begin_s: float | None  # the longest steady span
    end_s: float | None

    @property
    def seconds(self) -> float:
        """Length of the longest steady span."""
        return 0.0 if self.begin_s is None or self.end_s is None else self.end_s - self.begin_s


@dataclass(frozen=True)
class Hours:
    """Two consecutive hours, the last ones of the steady span."""

    first_kg_s: Measured
    second_kg_s: Measured

    @property
    def difference(self) -> float:
        """As a share of their mean."""
        return (self.second_kg_s.value - self.first_kg_s.value) / (
            0.5 * (self.second_kg_s.value + self.first_kg_s.value)
        )

    @property
    def agree(self) -> bool:
        """Within 3 %."""
        return abs(self.difference) <= HOURS_AGREE_WITHIN


def moving_in(log: RunLog) -> tuple[Moving, ...]:
    """Channels that move more than they may over a log's rows, taken as an hour's trend."""
    found = []
    for name, (share, absolute) in MOVING_LIMITS.items():
        trend = trend_of(log, name)
        if trend is None:
            continue
        values = [value for _, value in log.series(name)]
        limit = share * sum(values) / len(values) + absolute
        an_hour = Measured(trend.value * HOUR_s, trend.standard_uncertainty * HOUR_s)
        if abs(an_hour.value) > limit:
            channel = CHANNEL_OF[name]
            quantity = "temperature difference" if channel.quantity == "temperature" else channel.quantity
            found.append(Moving(name, channel.label, quantity, an_hour, limit))
    return tuple(found)


def steadiness(log: RunLog, *, settle_s: float = SETTLE_s) -> Steadiness:
    """Judge the last hour, and find the longest span whose every hour is steady.

    Args: settle_s [s]: from the log's first row, when heat, pump and blower were on.
    """
    if not log.times_s:
        return Steadiness(False, None, (), None, None)
    first_s, last_s = log.times_s[0], log.times_s[-1]
    hour = log.between(max(last_s - HOUR_s, first_s), last_s)
    trend = trend_of(hour, "tank_temperature_K")
    trend_K_h = None if trend is None else Measured(trend.value * HOUR_s, trend.standard_uncertainty * HOUR_s)
    moving = moving_in(hour)
    begin_s, end_s = _longest(log, first_s + settle_s)
    settled = last_s - HOUR_s >= first_s + settle_s - ROW_s
    steady = settled and trend_K_h is not None and not moving and len(hour.times_s) >= LEAST_ROWS_AN_HOUR
    return Steadiness(steady, trend_K_h, moving, begin_s, end_s)


def _longest(log: RunLog, settled_s: float) -> tuple[float | None, float | None]:
    """The longest run of hours, one begun every five minutes, all of them steady."""
    best: tuple[float | None, float | None] = (None, None)
    begin_s: float | None = None
    last_s = log.times_s[-1]
    count = int((last_s - settled_s - HOUR_s + ROW_s) // LOOK_EVERY_s) if last_s > settled_s else -1
    # Backwards from the last row, so that the latest hours are whole ones.
    for place in range(count, -1, -1):
        end_s = last_s - place * LOOK_EVERY_s
        hour = log.between(end_s - HOUR_s, end_s)
        enough = len(hour.series("tank_temperature_K")) >= LEAST_ROWS_AN_HOUR
        if not enough or moving_in(hour):
            begin_s = None
            continue
        begin_s = end_s - HOUR_s if begin_s is None else begin_s
        if best[0] is None or best[1] is None or end_s - begin_s >= best[1] - best[0]:
            best = (begin_s, end_s)
    return best
