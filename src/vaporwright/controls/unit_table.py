"""A unit's own cause-and-effect table, from its answer and the options of its job.

How it behaves, in the words of the trade; `unit_properties` has the same as sentences that are proved:

    start      level, then blower and airflow, then pump and flow, then heat
    stop       heat, then the pump cools the heater, then the blower cools the fill
    low        heat and pump off; stays until refill-off, as drain-back wets the rod; heat comes back by hand
    high       the refill shuts at both valves, alarm; the unit goes on, or stops once where the job says so
    high-high  the unit stops and nothing refills
    too hot    heat off in the same scan, pump and blower go on, up to the plastic's limit
    power      nothing comes back by itself: reset, then start

No delay stands in a row by itself: `delays` has each with its range and its reason. Rods 4 s dry and 1.5 s wet ride
out waves; airflow is proven in 10 s and lost in 2.5 s; flow in 15 s and 3 s; pump and blower run on 2 min each; the
refill's run timer is twice the expected fill from the low rod. Safety times of the burner are the safeguard's.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from vaporwright.controls.alarms import AlarmPanel
from vaporwright.controls.delays import delays_of
from vaporwright.controls.design import CauseAndEffect
from vaporwright.controls.heat_rows import heat_rows
from vaporwright.controls.set_points import SetPoints, set_points_of
from vaporwright.controls.unit_rows import (
    Delays,
    ReasonedRow,
    air_rows,
    circulation_rows,
    level_rows,
    operating_rows,
    standing_rows,
)
from vaporwright.controls.unit_signals import UnitOptions, columns_of, comparators_of, signals_of
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.heat import HeatKind, kind_of

PANEL: Final = AlarmPanel("silence", "acknowledge", "reset")
CONTROL_CAUTION: Final = (
    "The table describes ordinary control. It protects nobody: limits, low-water cut-off, emergency stop and burner"
    " safeguard are listed devices, hard-wired ahead of it. Local codes, the authority having jurisdiction and the"
    " licensed engineer, gas fitter and electrician decide. A proof of the table is no functional-safety assessment."
)


@dataclass(frozen=True)
class UnitTable:
    """A table with the reason of each row and what its figures were worked out from."""

    design: CauseAndEffect
    reasons: dict[str, str]  # row to why it is there
    heat: HeatKind
    options: UnitOptions
    points: SetPoints
    delays: Delays


def unit_table(answer: UnitAnswer, options: UnitOptions | None = None) -> UnitTable:
    """The table of a unit, with its reasons.

    Raises: OutOfRange and InputError that name the temperature, delay or level at fault.
    """
    chosen = options or UnitOptions()
    points = set_points_of(answer, chosen.temperatures)
    return unit_table_of(kind_of(answer.unit.heat_source), chosen, points, delays_of(answer, dict(chosen.delays)))


def unit_table_of(heat: HeatKind, options: UnitOptions, points: SetPoints, delays: Delays) -> UnitTable:
    """The table from what decides it."""
    columns = columns_of(heat, options)
    rows = _rows(heat, options, delays)
    design = CauseAndEffect(
        name=f"{heat} unit",
        scan_s=options.scan_s,
        signals=signals_of(heat, options),
        columns=columns,
        rows=tuple(entry.row for entry in rows),
        comparators=comparators_of(points),
        panel=PANEL,
    )
    return UnitTable(design, {entry.row.name: entry.why for entry in rows}, heat, options, points, delays)


def _rows(heat: HeatKind, options: UnitOptions, delays: Delays) -> tuple[ReasonedRow, ...]:
    return (
        *operating_rows(options),
        *level_rows(options, delays),
        *air_rows(options, delays),
        *circulation_rows(options, delays),
        *heat_rows(heat, delays),
        *standing_rows(options),
    )
