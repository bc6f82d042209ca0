"""The rows of a unit's table that no heat source decides: operation, level, air, circulation. Each with its reason.

Two kinds of latched row stand here. A trip has no reset of its own: the panel's reset clears it, once its cause is gone
and it has been acknowledged. A proof (`airflow_proven`, `circulation`, `air_switch_seen_open`) and low level clear by
what their reset says. A proof comes after its proving time and goes after its filter, so that neither a flutter at the
start nor a gust later decides.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any as Anything
from typing import Final

from vaporwright.controls.design import CELLS, Cell, Row
from vaporwright.controls.expressions import All, Any, Expr, Is, Not, Was, both, either, pressed
from vaporwright.controls.unit_signals import AT_REFILL_OFF, BY_RESET, STOP_THE_UNIT, UnitOptions

TRIPS: Final = "trips"  # the first-out group
Delays = Mapping[str, float]


@dataclass(frozen=True)
class ReasonedRow:
    """A row, and why it is there."""

    row: Row
    why: str


def reasoned(why: str, name: str, title: str, condition: Expr, /, **rest: Anything) -> ReasonedRow:
    """A row with its reason; `on`, `off`, `need` name the effects of each cell."""
    effects: dict[str, Cell] = {}
    for cell in CELLS:
        for column in rest.pop(cell, "").split():
            effects[column] = cell
    return ReasonedRow(Row(name, title, condition, effects, **rest), why)


def trip(why: str, name: str, title: str, condition: Expr, /, **rest: Anything) -> ReasonedRow:
    """A row that stays until reset, alarms, and competes for first-out."""
    return reasoned(why, name, title, condition, latched=True, first_out=TRIPS, **{"alarm": "high", **rest})


def operating_rows(options: UnitOptions) -> tuple[ReasonedRow, ...]:
    """Emergency stop, control relay, start and stop."""
    optional = " spray_valve agitation_valve" * options.warm_up + " drain_valve" * options.drain
    optional += " press_feed" * options.filter_press
    return (
        trip("Everything the table drives lets go; the string also cuts power by wire. Back by reset, then start.",
             "emergency_stop", "emergency stop", Not(Is("emergency_stop_clear")), off="control_on run"),
        reasoned("A reset counts only if the button was seen up: held or welded, it does nothing.",
                 "reset_released", "reset button is up", Not(Is("reset"))),
        reasoned("After power loss or emergency stop nothing moves until someone presses reset.",
                 "control_reset", "control relay is asked for", both(Is("reset"), Was("reset_released")),
                 on="control_on"),
        reasoned("A start counts only if the button was seen up: held or welded, it does nothing.",
                 "start_released", "start button is up", Not(Is("start"))),
        reasoned("A start is a person's act, with the control relay in and the level right: level comes first.",
                 "start_pushed", "start",
                 both(Is("start"), Was("start_released"), Was("control_on"), Not(Was("low_level"))), on="run"),
        reasoned("Heat goes at once; the pump cools the heater, then the blower cools the fill.",
                 "stop_pushed", "stop", Not(Is("stop_clear")), off="run"),
        reasoned("After a power loss the unit stays stopped.",
                 "control_lost", "control relay has dropped out", Not(Was("control_on")), off="run"),
        reasoned("A selector turned away and back must not start a motor or the burner: out of auto ends the run.",
                 "not_in_auto", "blower or pump is not in auto", Not(both(Is("blower_auto"), Is("pump_auto"))),
                 off="run"),
        reasoned("One relay holds everything that the table drives.",
                 "control_there", "control relay is in", Is("control_on"),
                 need=f"blower spray_pump heat refill_valve refill_shutoff{optional}"),
    )  # fmt: skip


def level_rows(options: UnitOptions, delays: Delays) -> tuple[ReasonedRow, ...]:
    """Rods, refill, high-high, low water."""
    refill_hand = (Is("refill_hand"),) if options.refill_by_hand else ()
    wet, dry = delays["rod_wet_s"], delays["rod_dry_s"]
    return (
        reasoned("Splashes do not count.", "refill_off_reached", "refill-off rod is wet", Is("refill_off_rod"),
                 delay_s=wet),
        *_low_level_rows(options, dry),
        trip("The rod has failed or the tank runs out: another principle says that the heater is bare. It is hard-wired"
             " ahead of the heat and reset at the device; the table stops the pump too.",
             "low_water", "low-water cut-off has tripped", Not(Is("low_water_clear")), off="heat spray_pump run"),
        reasoned("Drain-back raises the level and only evaporation lowers it: the refill closes at both valves, the"
                 " unit goes on. It clears itself.",
                 "high_level", "high level", Is("high_rod"), off="refill_valve refill_shutoff", delay_s=wet,
                 alarm="medium"),
        *_high_level_stop(options),
        trip("Something fills the tank that the table does not hold: nothing may add to it, and hot liquor is near the"
             " overflow.",
             "high_high_level", "high-high level", Not(Is("high_high_clear")),
             off="refill_valve refill_shutoff run", delay_s=1.0),
        reasoned("The refill is called under its band; after low level too, or that would never clear.",
                 "refill_called", "refill is called for",
                 both(Is("refill_auto"), either(Not(Is("refill_on_rod")), Was("low_level"))), on="refill_valve",
                 delay_s=dry),
        reasoned("The band ends here.", "refill_satisfied", "refill-off is reached",
                 both(Is("refill_auto"), Is("refill_off_reached")), off="refill_valve"),
        *(reasoned("For the first fill and for testing; high, high-high and the run timer end it too.",
                   "refill_by_hand", "refill in hand", part, on="refill_valve") for part in refill_hand),
        reasoned("Off means off.", "refill_selected_off", "refill selector is off",
                 Not(either(Is("refill_auto"), *refill_hand)), off="refill_valve"),
        trip("Twice the expected fill is over and no rod ended it: a broken rod, an open drain, no water. A rod that"
             " reads dry when wet would overfill.",
             "refill_too_long", "refill runs too long", Was("refill_valve"), off="refill_valve refill_shutoff",
             delay_s=delays["refill_run_s"], alarm="medium"),
        reasoned("The second valve opens with the first and has its own reasons to shut, so that one stuck valve does"
                 " not overfill.",
                 "refill_open", "refill valve is open", Is("refill_valve"), on="refill_shutoff"),
        reasoned("A rod over a dry one is wet: reference, scale or wire is at fault. Only an alarm: each rod already"
                 " acts on its safe side.",
                 "rods_disagree", "rods disagree",
                 Any((both(Is("high_rod"), Not(Is("refill_off_rod"))),
                      both(Is("refill_off_rod"), Not(Is("refill_on_rod"))),
                      both(Is("refill_on_rod"), Not(Is("low_rod"))))),
                 delay_s=delays["rods_disagree_s"], alarm="medium"),
    )  # fmt: skip


def _low_level_rows(options: UnitOptions, delay_s: float) -> tuple[ReasonedRow, ...]:
    why = "Heater and pump would run dry. The stopped pump's drain-back wets the rod again, so it does not clear there"
    if options.low_level_clears == BY_RESET:
        reset = both(Is("refill_off_reached"), pressed("reset"), Not(Was("low_level_unacknowledged")))
        return (
            trip(f"{why}, but at refill-off, by reset; the unit starts again by hand.", "low_level", "low level",
                 Not(Is("low_rod")), off="heat spray_pump run", delay_s=delay_s, reset=reset),
        )  # fmt: skip
    assert options.low_level_clears == AT_REFILL_OFF
    return (
        trip(f"{why}, but at refill-off; the pump then goes on by itself.", "low_level", "low level",
             Not(Is("low_rod")), off="heat spray_pump", delay_s=delay_s, reset=Is("refill_off_reached")),
        reasoned("The heat comes back by hand only: someone has looked why the level fell.",
                 "low_level_heat", "heat locked out by low level", Is("low_level"), off="heat", latched=True),
    )  # fmt: skip


def _high_level_stop(options: UnitOptions) -> tuple[ReasonedRow, ...]:
    if options.high_level != STOP_THE_UNIT:
        return ()
    return (
        trip("The shop stops the unit at high. It trips once, as the level gets there: after reset and start the unit"
             " runs with the rod still wet, or nothing would ever lower the level.",
             "high_level_stop", "stopped by high level", both(Is("high_level"), Not(Was("high_level"))), off="run"),
    )  # fmt: skip


def standing_rows(options: UnitOptions) -> tuple[ReasonedRow, ...]:
    """Drain and filter press."""
    rows: tuple[ReasonedRow, ...] = ()
    if options.drain:
        at_rest = Not(Any((Was("run"), Was("heat"), Was("spray_pump"))))
        rows += (
            reasoned(
                "The drain waits until the unit has been stopped and the heater has cooled; while it is selected"
                " nothing starts and nothing refills.",
                "draining",
                "drain, with the unit at rest and the heater cool",
                both(Is("drain_selected"), at_rest, Is("heater_cooled")),
                on="drain_valve",
                off="refill_valve spray_pump run" + " press_feed" * options.filter_press,
            ),
        )
    if options.filter_press:
        rows += (
            reasoned(
                "The press draws from the tank. Its own limits of temperature and pressure are its maker's.",
                "press_asks",
                "filter press asks for feed",
                Is("press_feed_asked"),
                on="press_feed",
            ),
            reasoned(
                "The press must not draw the tank down to the heater.",
                "level_for_press",
                "level is up",
                Not(either(Is("low_level"), Is("low_water"))),
                need="press_feed",
            ),
        )
    return rows  # fmt: skip


def air_rows(options: UnitOptions, delays: Delays) -> tuple[ReasonedRow, ...]:
    """Blower and proof of airflow."""
    in_auto = (Is("blower_auto"), Is("run"), *((Not(Is("warm_up")),) if options.warm_up else ()))
    spraying = both(Was("spray_pump"), Was("spray_valve")) if options.warm_up else Was("spray_pump")
    spray_valve = " spray_valve" * options.warm_up
    return (
        trip("A motor out of its overload must not come back by itself. Without air the pump stops as well.",
             "blower_overload", "blower overload", Not(Is("blower_overload_clear")), off="blower spray_pump run"),
        reasoned("A switch that is stuck on proves nothing: it must have been seen open while the blower stood.",
                 "air_switch_seen_open", "airflow switch was open before the start",
                 both(Not(Is("airflow")), Not(Was("blower"))), need="blower", latched=True,
                 reset=both(Is("airflow"), Not(Was("blower")))),
        reasoned("Shorter is a gust.", "airflow_absent", "no air moves", Not(Is("airflow")),
                 delay_s=delays["airflow_loss_s"]),
        reasoned("Hot liquor without moving air reaches the plastic uncooled. Airflow is proof, a contactor is not.",
                 "airflow_proven", "airflow is proven", both(Is("airflow"), Was("blower")),
                 delay_s=delays["airflow_proving_s"], latched=True,
                 reset=either(Not(Was("blower")), Is("airflow_absent")), need=spray_valve),
        trip("The tower has lost its cooler. A blower that moves no air stops too, before belt and motor burn.",
             "airflow_lost", "airflow is lost", both(Was("airflow_proven"), Was("blower"), Not(Is("airflow"))),
             off="blower run", delay_s=delays["airflow_loss_s"]),
        trip("Belt, rotation, duct or switch: the start is given up.",
             "airflow_missing", "airflow does not come", both(Was("blower"), Not(Is("airflow"))), off="blower run",
             delay_s=delays["airflow_missing_s"]),
        trip("Long after coast-down the switch still says air: stuck, or wind in the duct.",
             "airflow_stuck", "airflow switch is on without blower", both(Is("airflow"), Not(Was("blower"))),
             off="blower run", delay_s=delays["blower_coast_down_s"], alarm="medium"),
        reasoned("The spray has been off for the run-on: the fill is cool.", "fill_cooled", "blower has run on",
                 Not(spraying), delay_s=delays["blower_run_on_s"]),
        reasoned("Air comes before spray; in warm-up the tower rests.", "blower_in_auto", "blower in auto, running",
                 All(in_auto), on="blower"),
        reasoned("The wet fill is blown cool; a blower stopped by its own trip stays stopped.",
                 "blower_runs_on", "blower runs on after the spray",
                 both(Is("blower_auto"), Was("blower"), Not(Is("fill_cooled"))), on="blower"),
        reasoned("For testing alone; trips and control relay hold in hand too.", "blower_by_hand", "blower in hand",
                 Is("blower_hand"), on="blower"),
    )  # fmt: skip


def circulation_rows(options: UnitOptions, delays: Delays) -> tuple[ReasonedRow, ...]:
    """Spray pump, its branches, and proof of flow."""
    air = both(Is("airflow_proven"), Is("blower"))
    may_run = either(air, both(Is("warm_up"), Is("spray_shut"))) if options.warm_up else air
    words = ", or the spray is proved shut for warm-up" if options.warm_up else ""
    branches = (
        reasoned("Out of warm-up the spray falls, once air is proven.", "spraying", "spray branch is wanted",
                 Not(Is("warm_up")), on="spray_valve"),
        reasoned("With the tower running warm-up stalls: liquor goes round through the tank only.",
                 "agitating", "agitation branch is wanted", Is("warm_up"), on="agitation_valve"),
    )  # fmt: skip
    return (
        trip("A motor out of its overload must not come back by itself.",
             "pump_overload", "spray pump overload", Not(Is("pump_overload_clear")), off="spray_pump run"),
        reasoned("The pump never lifts hot liquor into a tower without moving air, in hand too. The blower's own"
                 " command counts as well as its airflow: it is gone first.",
                 "pump_may_run", f"blower runs and air is proven{words}", may_run, need="spray_pump heat"),
        reasoned("Long enough off, the heater boils nothing any more.", "heater_cooled", "heat has been off for long",
                 Not(Was("heat")), delay_s=delays["tube_cool_down_s"]),
        reasoned("Air, then flow.", "pump_in_auto", "spray pump in auto, running", both(Is("pump_auto"), Is("run")),
                 on="spray_pump"),
        reasoned("After a stop the pump carries the heater's heat away; a pump stopped by its own trip stays stopped.",
                 "pump_runs_on", "spray pump cools the heater",
                 both(Is("pump_auto"), Was("spray_pump"), Not(Is("heater_cooled"))), on="spray_pump"),
        reasoned("For testing alone; air, level, trips and control relay hold in hand too.",
                 "pump_by_hand", "spray pump in hand", Is("pump_hand"), on="spray_pump"),
        *(branches if options.warm_up else ()),
        reasoned("Shorter is a bubble.", "flow_absent", "no liquor flows", Not(Is("pump_flow")),
                 delay_s=delays["flow_loss_s"]),
        reasoned("Standing liquor boils onto the heater. Flow is proof, a contactor is not.",
                 "circulation", "circulation is proven", both(Is("pump_flow"), Was("spray_pump")),
                 delay_s=delays["pump_proving_s"], latched=True,
                 reset=either(Not(Was("spray_pump")), Is("flow_absent")), need="heat"),
        trip("Prime is lost, or a valve was shut: the pump's seal runs dry.",
             "pump_flow_lost", "flow is lost", both(Was("circulation"), Was("spray_pump"), Not(Is("pump_flow"))),
             off="spray_pump run", delay_s=delays["flow_loss_s"]),
        trip("No prime, a shut valve, plugged nozzles, or a flow switch that hangs: the start is given up.",
             "pump_flow_missing", "flow does not come", both(Was("spray_pump"), Not(Is("pump_flow"))),
             off="spray_pump run", delay_s=delays["flow_missing_s"]),
    )  # fmt: skip
