"""What is wired in series with the outputs, whatever the table asks: the limit string, overloads, emergency stop.

These contacts are the devices' own. They open the circuit of what is driven without table or controller; the proof
looks at them only to say which single faults they catch. Their wiring is proved on the machine, by a qualified person.
"""

from __future__ import annotations

from typing import Final

from vaporwright.controls.expressions import All, Any, Expr, Is
from vaporwright.controls.unit_table import UnitTable

EMERGENCY_STOP: Final = "emergency_stop_clear"
# Limits ahead of the heat, as far as such a unit has them; airflow apart, since warm-up runs without the blower.
HEAT_LIMITS: Final = (
    EMERGENCY_STOP,
    "limit_string_closed",
    "low_water_clear",
    "high_limit_clear",
    "tube_temperature_clear",
    "sheath_temperature_clear",
    "ground_fault_clear",
    "gas_pressure_low_clear",
    "gas_pressure_high_clear",
)
OVERLOADS: Final = {"blower": "blower_overload_clear", "spray_pump": "pump_overload_clear"}
NOT_DRIVEN: Final = ("control_on", "run", "horn", "beacon")  # relay, lamps and horn stay with the table


def hard_wired_of(unit: UnitTable) -> dict[str, Expr]:
    """For each output that drives something, the contacts in series with it."""
    signals = {signal.name for signal in unit.design.signals}
    wired: dict[str, Expr] = {}
    for column in unit.design.columns:
        if column.kind == "internal" or column.name in NOT_DRIVEN:
            continue
        contacts = [EMERGENCY_STOP]
        if column.name == "heat":
            contacts = [*HEAT_LIMITS]
        elif column.name in OVERLOADS:
            contacts.append(OVERLOADS[column.name])
        there: list[Expr] = [Is(name) for name in contacts if name in signals]
        if column.name == "heat" and "airflow" in signals:
            there.append(_air_or_warm_up(signals))
        wired[column.name] = All(tuple(there))
    return wired


def _air_or_warm_up(signals: set[str]) -> Expr:
    """The airflow switch, bridged by the warm-up selector while the spray valve's own switch says that it is shut."""
    if not {"warm_up", "spray_shut"} <= signals:
        return Is("airflow")
    return Any((Is("airflow"), All((Is("warm_up"), Is("spray_shut")))))
