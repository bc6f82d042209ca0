"""What a unit's table must never do, and what it must always let people do: sentences with an id, to be proved.

The claims speak of signals and effects wherever they can, so that a fault in a row can't hide behind the row's own
name. Times are the table's own delays: a claim is exact to one scan.

`properties_of` gives them all; `recoveries_of` alone those that follow every state through a script, which take longest.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import Final

from vaporwright.controls.design import Row
from vaporwright.controls.expressions import FALSE, TRUE, All, Any, Expr, Is, Not, Was, both, either, implies, pressed
from vaporwright.controls.properties import Always, Property, Recovers, Step, UnaffectedBy, never, never_for
from vaporwright.controls.table import require_delay
from vaporwright.controls.unit_rows import TRIPS
from vaporwright.controls.unit_signals import AT_REFILL_OFF, BY_RESET, STOP_THE_UNIT
from vaporwright.controls.unit_table import PANEL, UnitTable

_REFILL: Final = {"refill_auto": True}
_AUTO: Final = {**_REFILL, "blower_auto": True, "pump_auto": True, "heat_auto": True}


def properties_of(unit: UnitTable) -> tuple[Property, ...]:
    """Every property of the unit, the quick ones first."""
    return (*claims_of(unit), silence_of(), *recoveries_of(unit))


def claims_of(unit: UnitTable) -> tuple[Always, ...]:
    """What holds in every scan."""
    return (
        *_air_claims(unit),
        *_heat_claims(unit),
        *_level_claims(unit),
        *_temperature_claims(unit),
        *_operating_claims(unit),
        *_trip_claims(unit),
    )


def trips_of(unit: UnitTable, effect: str = "") -> tuple[str, ...]:
    """The rows that compete for first-out; with an effect, those that turn it off."""
    rows = unit.design.rows
    return tuple(row.name for row in rows if row.first_out == TRIPS and (not effect or row.effects.get(effect) == "off"))


def _scans(unit: UnitTable, delay: str) -> int:
    return require_delay(unit.design.name, delay, unit.delays[delay], unit.design.scan_s)


def _any_of(*names: str) -> Expr:
    return Any(tuple(Is(name) for name in names))


def _warming(unit: UnitTable) -> Expr:
    """In warm-up with the spray proved shut: what the claims about air leave out."""
    return both(Is("warm_up"), Is("spray_shut")) if unit.options.warm_up else FALSE


def _air_claims(unit: UnitTable) -> Iterator[Always]:
    filter_scans, still = _scans(unit, "airflow_loss_s"), Not(Is("airflow"))
    apart = Not(_warming(unit))
    words = ", but in warm-up with the spray proved shut" if unit.options.warm_up else ""
    yield never_for("pump_needs_air", f"The pump never runs longer than the filter without air moving{words}.",
                    both(Is("spray_pump"), still, apart), filter_scans)  # fmt: skip
    yield never("pump_needs_blower", f"The pump never runs without the blower{words}, in hand neither.",
                both(Is("spray_pump"), Not(Is("blower")), apart))  # fmt: skip
    yield never("pump_needs_proof", f"The pump never starts without airflow proven{words}.",
                both(Is("spray_pump"), Not(Is("airflow_proven")), apart))  # fmt: skip
    yield never_for("heat_needs_air", f"Heat never stays longer than the filter without air moving{words}.",
                    both(Is("heat"), still, apart), filter_scans)  # fmt: skip
    yield never("air_switch_proved", "Airflow is proven only with a switch that was seen open since the blower stood.",
                both(Is("airflow_proven"), Not(Is("air_switch_seen_open"))))  # fmt: skip
    proving = _scans(unit, "airflow_proving_s")
    yield never_for("airflow_takes_time", "Airflow is proven only after its proving time with air moving.",
                    both(Is("airflow_proven"), Not(Was("airflow_proven")), Not(Is("airflow_proven_delay"))), 1)  # fmt: skip
    yield Always("blower_needs_open_switch", "The blower starts only with an airflow switch that is open.",
                 implies(both(Is("blower"), Not(Was("blower"))), either(still, Is("air_switch_seen_open"))))  # fmt: skip
    del proving
    if unit.options.warm_up:
        yield never_for("spray_needs_air", "The spray is never open longer than the filter without air moving.",
                        both(Is("spray_valve"), still), filter_scans)  # fmt: skip
        yield never("warm_up_shuts_spray", "In warm-up the spray is shut.", both(Is("spray_valve"), Is("warm_up")))
