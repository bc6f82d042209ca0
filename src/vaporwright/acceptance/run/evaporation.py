"""What a unit loses of water, two ways, and how much of that is drift and leaks and no evaporation.

    lost = make-up - what the tank holds more       evaporation = lost - (drift + leak)

By make-up: the water lost up to each row, make-up less the mass in the tank by its level, is one total; its slope is
the loss. Volume comes from the level through the tank's own shape with the heater in it, mass through the liquor's
density at its temperature, so that a level which only expands is not taken for water. By level: with the refill
isolated, the fall of that mass alone; coarser, and a check on the make-up's meter. Both at one pump state, since a
stopped pump lets tower and header drain back.

A tracer (a little salt) tells drift and leaks apart, because vapour carries none:

    d(mass x c)/dt = make-up x c_feed - (drift + leak) x c

Its gain cancels: only what becomes of it counts. Tap water brings salt of its own; state it, or use a salt that the
tap has not. The masses are those of a hot tank: keep out of it, and sample through the sampling cock.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from vaporwright.acceptance.run.averages import COVERAGE, Uncertainties, ends_rate
from vaporwright.acceptance.run.log import Measured, RunLog
from vaporwright.acceptance.run.regression import LEAST_POINTS, honest_slope
from vaporwright.equipment.tank_volume import SlopedTank, volume_at_level_m3
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.register import sourced
from vaporwright.properties.liquor import Liquor, density_kg_m3
from vaporwright.properties.water_transport import liquid_density_kg_m3
from vaporwright.unit.fill_fit import fit_straight_line

MAKE_UP: Final = ("make_up_mass_kg", "make_up_volume_m3")  # the better first
TRACER_REFERENCE_K: Final = 298.15  # conductivity meters compensate to it
# Common practice, no source
TANK_AREA_EXPANDED: Final = 0.01  # of the plan area by tape
TRACER_STABILITY: Final = 0.002  # expanded: what a tracer's meter may move between begin and end, of its reading
HOLD_UP_RELATIVE: Final = 0.3  # standard, of the liquor in tower, header and pipes
DRIFT_RELATIVE: Final = 0.65  # standard, of the design's drift where nothing measured it: 0.005 to 0.05 % of spray
ISOLATED_SHARE: Final = 0.1  # of the mean make-up: below, the refill counts as isolated
LEAST_ISOLATED_s: Final = 900.0


@dataclass(frozen=True)
class WaterLoss:
    """Water lost per second, by one way, over one span."""

    way: str  # channel of the make-up, or "level"
    begin_s: float
    end_s: float
    lost_kg_s: Measured
    make_up_kg_s: float
    held_kg: float  # mean mass in the tank
    tank_temperature_K: float


@dataclass(frozen=True)
class Agreement:
    """Two ways to one figure: they agree where their difference is within its expanded uncertainty."""

    difference: Measured

    @property
    def agrees(self) -> bool:
        """Within k = 2."""
        return abs(self.difference.value) <= COVERAGE * self.difference.standard_uncertainty


@dataclass(frozen=True)
class TracerResult:
    """Drift and leak by tracer, against the drift of the design."""

    lost_kg_s: Measured  # drift and leak together
    design_kg_s: float
    leak_suspected: bool


def compare(one: Measured, other: Measured) -> Agreement:
    """The difference of two independent figures."""
    uncertainty = math.hypot(one.standard_uncertainty, other.standard_uncertainty)
    return Agreement(Measured(one.value - other.value, uncertainty))


def make_up_channels(log: RunLog) -> tuple[str, ...]:
    """The make-up totals that were logged, the better first.

    Raises: InputError where there is none: without it a run tells no evaporation.
    """
    found = tuple(name for name in MAKE_UP if log.has(name))
    if not found:
        raise InputError("run log", MAKE_UP[0], "no make-up was logged", "make-up weighed, or metered")
    return found


@sourced("water-mass-balance", "make-up less what the tank holds more; slope of the running total")
def water_loss(
    log: RunLog, make_up: str, tank: SlopedTank, liquor: Liquor, uncertainties: Uncertainties
) -> WaterLoss | None:
    """Water lost per second over a log's rows, by make-up and level change.

    Equation: slope of [make-up mass - density(liquor, T) V(level)] over time.
    Args: make_up: "make_up_mass_kg" or "make_up_volume_m3", the latter by the density of water at the feed's
        temperature; tank: with its heater.
    Returns: None with fewer than five rows that have make-up, level, tank (and feed) temperature.
    Source: water-mass-balance (own derivation).
    """
    rows = _rows(log, make_up, tank, liquor)
    if len(rows) < LEAST_POINTS:
        return None
    times_s = [row.time_s for row in rows]
    seconds = times_s[-1] - times_s[0]
    slope = honest_slope(times_s, [row.make_up_kg - row.held_kg for row in rows])
    make_up_kg_s = fit_straight_line(times_s, [row.make_up_kg for row in rows]).slope
    unit_kg = rows[0].make_up_kg_per_unit
    parts = (
        slope.standard_uncertainty,
        uncertainties[make_up][0] * make_up_kg_s / COVERAGE,
        ends_rate(make_up, seconds, uncertainties) * unit_kg,
        _level_uncertainty_kg_s(rows, tank, uncertainties, make_up_kg_s - slope.slope),
    )
    return _loss(make_up, rows, slope.slope, math.hypot(*parts), make_up_kg_s)


@sourced("water-mass-balance", "fall of the mass in the tank with the refill isolated")
def level_fall(
    log: RunLog, make_up: str, tank: SlopedTank, liquor: Liquor, uncertainties: Uncertainties
) -> WaterLoss | None:
    """Water lost per second by the level alone, over the longest stretch with the refill isolated.

    Returns: None where no such stretch of 15 minutes was logged. The small make-up that its meter still shows there
        is not added: the refill is physically shut.
    Source: water-mass-balance (own derivation).
    """
    rows = _longest_isolated(_rows(log, make_up, tank, liquor))
    if len(rows) < LEAST_POINTS or rows[-1].time_s - rows[0].time_s < LEAST_ISOLATED_s:
        return None
    slope = honest_slope([row.time_s for row in rows], [row.held_kg for row in rows])
    by_level = _level_uncertainty_kg_s(rows, tank, uncertainties, slope.slope)
    return _loss("level", rows, -slope.slope, math.hypot(slope.standard_uncertainty, by_level), 0.0)


@sourced("salt-mass-balance", "line of the tracer held, less that fed, against the integral of its concentration")
def drift_by_tracer(
    log: RunLog,
    make_up: str,
    tank: SlopedTank,
    liquor: Liquor,
    uncertainties: Uncertainties,
    *,
    design_kg_s: float,
    hold_up_kg: float = 0.0,
    feed_tracer_kg_m3: Measured | None = None,
) -> TracerResult | None:
    """Drift and leak from what becomes of a tracer, and whether they are more than the design's drift.

    Equation: with w = c / density at 25 degC the tracer's mass fraction and S = (mass in tank + hold-up) w,
        S - w_feed make-up = S_0 - (drift + leak) integral of w dt, a straight line.
    Args:
        design_kg_s [kg/s]: drift by the catalogue. hold_up_kg [kg]: liquor in tower, header and pipes, pump running.
        feed_tracer_kg_m3 [kg/m3]: what the make-up brings of it; none where not given.
    Returns: None where tracer, level and make-up were read together fewer than five times.
    Source: salt-mass-balance (own derivation).
    """
    rows = [row for row in _rows(log, make_up, tank, liquor) if row.tracer_kg_m3 is not None]
    if len(rows) < LEAST_POINTS:
        return None
    reference_kg_m3 = density_kg_m3(liquor, TRACER_REFERENCE_K)
    feed = feed_tracer_kg_m3 or Measured(0.0, 0.0)
    shares = [(row.tracer_kg_m3 or 0.0) / reference_kg_m3 for row in rows]
    exposed = [0.0]
    for before, after, one, two in zip(rows, rows[1:], shares, shares[1:], strict=False):
        exposed.append(exposed[-1] + 0.5 * (one + two) * (after.time_s - before.time_s))
    if not exposed[-1] > 0.0:
        raise InputError("run log", "tracer_kg_m3", "reads zero throughout", "a tracer dosed and mixed, or no column")
    fed_share = feed.value / reference_kg_m3
    held = [
        (row.held_kg + hold_up_kg) * share - fed_share * row.make_up_kg for row, share in zip(rows, shares, strict=True)
    ]
    slope = honest_slope(exposed, held)
    lost = -slope.slope
    seconds = rows[-1].time_s - rows[0].time_s
    whole_kg = math.fsum(row.held_kg for row in rows) / len(rows) + hold_up_kg
    make_up_kg_s = (rows[-1].make_up_kg - rows[0].make_up_kg) / seconds
    mean_share = exposed[-1] / seconds
    # Level's ends move the mass held, and with it the tracer: (held mass change) / time, as in the loss itself.
    level = _level_uncertainty_kg_s(rows, tank, uncertainties, 0.0)
    parts = (
        slope.standard_uncertainty,
        math.sqrt(2.0) * TRACER_STABILITY / COVERAGE * whole_kg / seconds,
        feed.standard_uncertainty / reference_kg_m3 / mean_share * make_up_kg_s,
        HOLD_UP_RELATIVE * hold_up_kg / whole_kg * lost,
        level,
    )
    measured = Measured(lost, math.hypot(*parts))
    suspected = lost - design_kg_s * (1.0 + COVERAGE * DRIFT_RELATIVE) > COVERAGE * measured.standard_uncertainty
    return TracerResult(measured, design_kg_s, suspected)


def drift_by_design(design_kg_s: float) -> Measured:
    """Drift where nothing measured it: the catalogue's, as uncertain as drift is. A leak stays unseen."""
    return Measured(design_kg_s, DRIFT_RELATIVE * design_kg_s)


@dataclass(frozen=True)
class _Row:
    time_s: float
    make_up_kg: float
    make_up_kg_per_unit: float
    level_m: float
    temperature_K: float
    held_kg: float
    tracer_kg_m3: float | None


def _rows(log: RunLog, make_up: str, tank: SlopedTank, liquor: Liquor) -> list[_Row]:
    """Rows with make-up, level and temperature. Raises InputError for a level above the rim."""
    empty: tuple[float | None, ...] = (None,) * len(log.times_s)
    names = (make_up, "stilling_level_m", "tank_temperature_K", "tracer_kg_m3")
    columns = [log.columns.get(name, empty) for name in names]
    feeds = [value for _, value in log.series("feed_temperature_K")]
    per_unit = 1.0
    if make_up == "make_up_volume_m3":
        if not feeds:
            raise InputError("run log", "feed_temperature_K", "not logged", "needed where make-up is metered by volume")
        per_unit = liquid_density_kg_m3(math.fsum(feeds) / len(feeds))
    rows = []
    for time_s, total, level_m, kelvin, tracer in zip(log.times_s, *columns, strict=True):
        if total is None or level_m is None or kelvin is None:
            continue
        if level_m > tank.wall_height_m:
            allowed = f"0 to the rim at {tank.wall_height_m:.4g} m above the tank's low corner"
            raise InputError("run log", f"stilling_level_m at {time_s:.0f} s", f"{level_m:.4g} m", allowed)
        held = density_kg_m3(liquor, kelvin) * volume_at_level_m3(tank, level_m)
        rows.append(_Row(time_s, total * per_unit, per_unit, level_m, kelvin, held, tracer))
    return rows


def _level_uncertainty_kg_s(
    rows: list[_Row], tank: SlopedTank, uncertainties: Uncertainties, held_rise_kg_s: float
) -> float:
    """Of the mass in the tank: the gauge at both ends, and the tank's area on what the level moved."""
    level_m = min(rows[-1].level_m, tank.wall_height_m - 1.0e-3)
    area_m2 = (volume_at_level_m3(tank, level_m + 1.0e-3) - volume_at_level_m3(tank, level_m)) / 1.0e-3
    density = rows[-1].held_kg / volume_at_level_m3(tank, rows[-1].level_m)
    seconds = rows[-1].time_s - rows[0].time_s
    gauge = ends_rate("stilling_level_m", seconds, uncertainties) * area_m2 * density
    return math.hypot(gauge, TANK_AREA_EXPANDED / COVERAGE * held_rise_kg_s)


def _longest_isolated(rows: list[_Row]) -> list[_Row]:
    """The longest stretch over which the make-up stands nearly still."""
    if len(rows) < LEAST_POINTS:
        return []
    mean_kg_s = (rows[-1].make_up_kg - rows[0].make_up_kg) / (rows[-1].time_s - rows[0].time_s)
    best = (0, 0)
    begin = 0
    for place in range(1, len(rows)):
        risen = rows[place].make_up_kg - rows[place - 1].make_up_kg
        if risen > ISOLATED_SHARE * mean_kg_s * (rows[place].time_s - rows[place - 1].time_s):
            begin = place
        elif rows[place].time_s - rows[begin].time_s > rows[best[1]].time_s - rows[best[0]].time_s:
            best = (begin, place)
    return rows[best[0] : best[1] + 1]


def _loss(way: str, rows: list[_Row], lost_kg_s: float, uncertainty_kg_s: float, make_up_kg_s: float) -> WaterLoss:
    count = len(rows)
    return WaterLoss(
        way=way,
        begin_s=rows[0].time_s,
        end_s=rows[-1].time_s,
        lost_kg_s=Measured(lost_kg_s, uncertainty_kg_s),
        make_up_kg_s=make_up_kg_s,
        held_kg=math.fsum(row.held_kg for row in rows) / count,
        tank_temperature_K=math.fsum(row.temperature_K for row in rows) / count,
    )
