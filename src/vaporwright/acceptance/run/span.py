"""A performance run's log read against its unit: every figure over any span of it.

`Run` holds what does not change while a log is read; `Span` is what one stretch of it says. performance_run makes the
verdicts of them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from vaporwright.acceptance.run.averages import Uncertainties, means_of, trend_of
from vaporwright.acceptance.run.balances import Balances, balances_of, measured_conditions
from vaporwright.acceptance.run.evaporation import (
    Agreement,
    TracerResult,
    WaterLoss,
    compare,
    drift_by_design,
    drift_by_tracer,
    level_fall,
    make_up_channels,
    water_loss,
)
from vaporwright.acceptance.run.log import CHANNEL_OF, Measured, RunLog
from vaporwright.acceptance.run.notices import CHECK_FIRST, open_balances
from vaporwright.acceptance.run.steady import HOUR_s, Hours, LEAST_STEADY_s, SETTLE_s, Steadiness
from vaporwright.equipment.level_rods import LevelStack
from vaporwright.equipment.tank_volume import SlopedTank
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.notice import Notice
from vaporwright.properties.liquor import density_kg_m3
from vaporwright.unit.assembly import AssembledUnit
from vaporwright.unit.balance import Conditions, operate
from vaporwright.unit.heat import kind_of
from vaporwright.unit.levels import tank_with_heater

# Common practice, no source
MIXED_AFTER_s: Final = 1800.0  # before, tank and tracer are not mixed and no balance is held against the run
WINDOW_s: Final = 900.0
STALE_s: Final = 600.0
PUMP_STOPPED_BELOW: Final = 0.8  # of the median spray flow
TRACER_WORTH: Final = 0.01  # of the water lost: a tracer less certain than that, and than the design's drift, waits
TEMPERATURE_CORRECTION_RELATIVE: Final = 0.25
NEEDED: Final = (
    "stilling_level_m",
    "tank_temperature_K",
    "feed_temperature_K",
    "inlet_air_temperature_K",
    "inlet_wet_bulb_K",
    "barometer_Pa",
)


@dataclass(frozen=True)
class RunBasis:
    """What is known of a run beside its log."""

    settle_s: float = SETTLE_s
    hold_up_kg: float = 0.0  # liquor in tower, header and pipes while the pump runs
    feed_tracer_kg_m3: Measured | None = None  # what the make-up brings of the tracer
    departures: tuple[str, ...] = ()  # of the test from its stated limits, found elsewhere (tower_code)


@dataclass(frozen=True)
class Span:
    """Everything over one span of the log."""

    means: Mapping[str, Measured]
    loss: WaterLoss
    tracer: TracerResult | None
    drift_kg_s: Measured
    balances: Balances

    @property
    def evaporation_kg_s(self) -> Measured:
        """Water lost less drift and leak."""
        uncertainty = math.hypot(self.loss.lost_kg_s.standard_uncertainty, self.drift_kg_s.standard_uncertainty)
        return Measured(self.loss.lost_kg_s.value - self.drift_kg_s.value, uncertainty)


@dataclass(frozen=True)
class Run:
    """A log with what it is read against."""

    log: RunLog
    unit: AssembledUnit
    conditions: Conditions
    stack: LevelStack
    uncertainties: Uncertainties
    basis: RunBasis

    @property
    def tank(self) -> SlopedTank:
        return tank_with_heater(self.unit, self.stack)

    def require_channels(self) -> None:
        """Raise InputError for the first channel that no run can do without."""
        make_up_channels(self.log)
        for name in NEEDED:
            if not self.log.has(name):
                raise InputError("run log", name, "was not logged", f"{CHANNEL_OF[name].label}: every run needs it")

    def silent_channels(self, now_s: float) -> tuple[Notice, ...]:
        """Channels that are missing or have stopped coming in."""
        notices = []
        if not any(self.log.has(name) for name in ("make_up_mass_kg", "make_up_volume_m3")):
            notices.append(Notice("channel missing", "Nothing was read yet of: make-up, weighed or metered."))
        for name in NEEDED:
            if not self.log.has(name):
                notices.append(Notice("channel missing", f"Nothing was read yet of: {CHANNEL_OF[name].label}."))
        for name in self.log.columns:
            series = self.log.series(name)
            if series and now_s - series[-1][0] > STALE_s:
                text = f"No reading for {{0}} of: {CHANNEL_OF[name].label}."
                notices.append(Notice("channel silent", text, ((now_s - series[-1][0], "short duration"),)))
        return tuple(notices)

    def span(self, begin_s: float, end_s: float) -> Span | None:
        """All figures of a span; None where it has too few rows."""
        log = self.log.between(begin_s, end_s)
        liquor = self.conditions.liquor
        make_up = make_up_channels(self.log)[0]
        loss = water_loss(log, make_up, self.tank, liquor, self.uncertainties)
        trend = trend_of(log, "tank_temperature_K")
        means = means_of(log, self.uncertainties)
        if loss is None or trend is None or any(name not in means for name in NEEDED):
            return None
        tracer, drift = self._drift(make_up, means, loss, end_s)
        balances = balances_of(
            means,
            loss,
            drift,
            self.unit,
            self.conditions,
            tank_trend_K_s=trend,
            hold_up_kg=self.basis.hold_up_kg,
        )
        return Span(means, loss, tracer, drift, balances)

    def _drift(
        self, make_up: str, means: Mapping[str, Measured], loss: WaterLoss, end_s: float
    ) -> tuple[TracerResult | None, Measured]:
        """Drift by tracer where it tells anything, else by design; the tracer counts from when it is mixed."""
        liquor = self.conditions.liquor
        flow = means.get("spray_flow_m3_s", Measured(self.unit.spray_flow_m3_s, 0.0)).value
        design_kg_s = self.unit.tower.drift_fraction * flow * density_kg_m3(liquor, loss.tank_temperature_K)
        tracer = drift_by_tracer(
            self.log.between(self.log.times_s[0] + MIXED_AFTER_s, end_s),
            make_up,
            self.tank,
            liquor,
            self.uncertainties,
            design_kg_s=design_kg_s,
            hold_up_kg=self.basis.hold_up_kg,
            feed_tracer_kg_m3=self.basis.feed_tracer_kg_m3,
        )
        by_design = drift_by_design(design_kg_s)
        if tracer is None:
            return None, by_design
        worth = max(by_design.standard_uncertainty, TRACER_WORTH * loss.lost_kg_s.value)
        if tracer.leak_suspected or tracer.lost_kg_s.standard_uncertainty <= worth:
            return tracer, tracer.lost_kg_s
        return tracer, by_design

    def hours(self, end_s: float) -> Hours | None:
        """Evaporation of the last two hours of a span; drift and meter are common to both."""
        make_up = make_up_channels(self.log)[0]
        found = []
        for begin_s in (end_s - 2.0 * HOUR_s, end_s - HOUR_s):
            log = self.log.between(begin_s, begin_s + HOUR_s)
            loss = water_loss(log, make_up, self.tank, self.conditions.liquor, self.uncertainties)
            if loss is None:
                return None
            found.append(loss.lost_kg_s)
        return Hours(*found)

    def by_level(self, span: Span) -> tuple[Measured | None, Agreement | None]:
        """Evaporation by the level with the refill isolated, at the tank temperature of the span."""
        make_up = make_up_channels(self.log)[0]
        mixed = self.log.between(self.log.times_s[0] + MIXED_AFTER_s, self.log.times_s[-1])
        fall = level_fall(mixed, make_up, self.tank, self.conditions.liquor, self.uncertainties)
        if fall is None:
            return None, None
        measured = measured_conditions(self.conditions, span.means)
        at = [
            operate(self.unit, measured, kelvin, 0.0).evaporation_kg_s
            for kelvin in (fall.tank_temperature_K, span.loss.tank_temperature_K)
        ]
        ratio = at[1] / at[0]
        evaporated = fall.lost_kg_s.value - span.drift_kg_s.value
        uncertainty = math.hypot(
            fall.lost_kg_s.standard_uncertainty,
            span.drift_kg_s.standard_uncertainty,
            TEMPERATURE_CORRECTION_RELATIVE * (ratio - 1.0) * evaporated,
        )
        level = Measured(evaporated * ratio, uncertainty * ratio)
        return level, compare(span.evaporation_kg_s, level)

    def pump_changes(self, begin_s: float, end_s: float) -> tuple[Notice, ...]:
        """A pump that stopped within the span: tower and header drained back, and levels do not compare."""
        flows = [value for _, value in self.log.between(begin_s, end_s).series("spray_flow_m3_s")]
        if not flows or min(flows) >= PUMP_STOPPED_BELOW * sorted(flows)[len(flows) // 2]:
            return ()
        text = "The pump did not run alike throughout: spray flow fell to {0}. Levels before and after do not compare."
        return (Notice("pump stopped", text, ((min(flows), "liquid flow"),)),)

    def meters_notice(self, span: Span) -> tuple[Notice, ...]:
        """Scale and meter of the make-up beside each other, where both were logged."""
        channels = make_up_channels(self.log)
        if len(channels) < 2:
            return ()
        log = self.log.between(span.loss.begin_s, span.loss.end_s)
        other = water_loss(log, channels[1], self.tank, self.conditions.liquor, self.uncertainties)
        if other is None or compare(span.loss.lost_kg_s, other.lost_kg_s).agrees:
            return ()
        text = "Make-up weighed and metered disagree beyond their uncertainty: {0} by scale, {1} by meter."
        figures = ((span.loss.lost_kg_s.value, "evaporation"), (other.lost_kg_s.value, "evaporation"))
        return (Notice("make-up meters disagree", text, figures),)

    def void_now(self, latest: Span | None, first_s: float, now_s: float) -> tuple[tuple[Notice, ...], Balances | None]:
        """Balances that cannot close: in both of the last quarters of an hour, or since tank and tower were mixed."""
        mixed_s = first_s + MIXED_AFTER_s
        if latest is None or now_s - mixed_s < WINDOW_s - 1.0:
            return (), None
        open_now = {closure.key for closure in latest.balances.open}
        if now_s - mixed_s >= 2.0 * WINDOW_s - 1.0:
            whole = self.span(max(mixed_s, now_s - LEAST_STEADY_s), now_s)
            if whole is not None and whole.balances.open:
                return open_balances(whole.balances.open), whole.balances
        if not open_now:
            return (), None
        before = self.span(now_s - 2.0 * WINDOW_s, now_s - WINDOW_s)
        if before is None:
            return (), None
        twice = tuple(closure for closure in before.balances.open if closure.key in open_now)
        return open_balances(twice), latest.balances if twice else None

    def check_first(self, balances: Balances) -> tuple[str, ...]:
        """What would explain the open balances."""
        if not balances.suspect:
            return ()
        name = balances.suspect
        return CHECK_FIRST[f"heat, {kind_of(self.unit.heat_source)}" if name == "heat" else name]

    def early(self, found: Steadiness, since_begin_s: float) -> tuple[Notice, ...]:
        """That the run has not lasted long enough to be steady."""
        left_s = self.basis.settle_s + HOUR_s - since_begin_s
        if found.steady or left_s <= 1.0:
            return ()
        text = "Still settling: the first steady hour can end in {0} at the earliest."
        return (Notice("settling", text, ((left_s, "short duration"),)),)

    def to_go(self, found: Steadiness) -> float:
        """Time until two steady hours are there, if all keeps still from now on [s]."""
        now_s, first_s = self.log.times_s[-1], self.log.times_s[0]
        if found.steady and found.begin_s is not None and found.end_s == now_s:
            return max(found.begin_s + LEAST_STEADY_s - now_s, 0.0)
        return max(first_s + self.basis.settle_s - now_s, 0.0) + LEAST_STEADY_s
