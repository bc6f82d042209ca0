"""The rows of a unit's table about its heat: temperature, limit string, and what each heat source adds.

A limit string is hard-wired in series ahead of the heat: low-water cut-off, high limit, airflow (bypassed by the spray
valve's position switch where there is a warm-up), over-temperature of the heater, gas pressures, emergency stop. The
table only asks for heat behind it and reads its contacts, so that people learn which one opened first. The burner
safeguard alone purges, lights, watches the flame and locks out; its lock-out is reset at the safeguard, by hand.
"""

from __future__ import annotations

from vaporwright.controls.expressions import Expr, Is, Not, Was, both, either
from vaporwright.controls.unit_rows import Delays, ReasonedRow, reasoned, trip
from vaporwright.unit.heat import HeatKind


def heat_rows(heat: HeatKind, delays: Delays) -> tuple[ReasonedRow, ...]:
    """All rows about heat; devices of the string stand over the string, so that first-out names them."""
    by_kind = {"gas": _gas_rows, "electric": _electric_rows, "steam": _steam_rows}
    return (*_temperature_rows(delays), *by_kind[heat](delays), *_string_rows(delays), *_call_rows())


def _temperature_rows(delays: Delays) -> tuple[ReasonedRow, ...]:
    too_hot = either(Is("over_set_point"), Is("at_plastic_limit"))
    return (
        reasoned("Heat is off in the scan that sees it, before anything latches.",
                 "too_hot", "tank is over the deviation alarm", too_hot, off="heat"),
        trip("The heat goes on although it is off, or control and thermometer fail. Pump and blower go on: the tower is"
             " the cooler. It stays until reset, so that someone looks.",
             "over_temperature", "tank is over its set point", Is("over_set_point"), off="heat",
             delay_s=delays["over_temperature_s"]),
        trip("From here on the liquor harms the tower: the pump stops, the blower runs on and cools the fill.",
             "plastic_too_hot", "tank is at the plastic's limit", Is("at_plastic_limit"), off="heat spray_pump run",
             delay_s=delays["thermometer_s"]),
        trip("A shorted thermometer reads cold and would heat for ever; a broken one reads hot and trips above.",
             "thermometer_failed", "thermometer reads colder than liquor can be", Is("thermometer_low"), off="heat",
             delay_s=delays["thermometer_s"]),
    )  # fmt: skip


def _string_rows(delays: Delays) -> tuple[ReasonedRow, ...]:
    return (
        trip("An independent device with its own bulb opened: the control has failed. Reset it at the device.",
             "high_limit", "hard-wired high limit has tripped", Not(Is("high_limit_clear")), off="heat"),
        reasoned("The string opens the heat by wire; the call goes with it, so that heat never comes back unasked.",
                 "limits_closed", "hard-wired limits are closed", Is("limit_string_closed"), need="heat"),
        trip("With air and flow proven the string should be closed. Look at its devices; heat comes back by hand.",
             "limit_string_open", "limit string is open",
             both(Was("run"), Was("circulation"), Is("heat_auto"), Not(Is("limit_string_closed"))), off="heat",
             delay_s=delays["limit_string_s"]),
    )  # fmt: skip


def _call_rows() -> tuple[ReasonedRow, ...]:
    asked: Expr = both(Is("heat_auto"), Is("run"), Is("spray_pump"), Not(Is("at_set_point")))
    return (
        reasoned("Heat comes last, and only in a run: it has no hand.", "heat_called", "heat is called for", asked,
                 on="heat"),
    )  # fmt: skip


def _gas_rows(delays: Delays) -> tuple[ReasonedRow, ...]:
    start_s = delays["pre_purge_s"] + delays["ignition_s"] + delays["safeguard_margin_s"]
    end_s = delays["flame_failure_s"] + delays["safeguard_margin_s"]
    return (
        trip("The tube is scaled or bare. Hard-wired; the table records it.",
             "tube_too_hot", "immersion tube is too hot", Not(Is("tube_temperature_clear")), off="heat"),
        trip("Too little gas burns badly or blows off. Hard-wired in the safeguard's string, read while running only:"
             " a shut gas cock on a unit at rest is no alarm.",
             "gas_pressure_low", "gas pressure is low", both(Was("run"), Not(Is("gas_pressure_low_clear"))),
             off="heat"),
        trip("Too much gas overfires the tube. Hard-wired in the safeguard's string.",
             "gas_pressure_high", "gas pressure is high", both(Was("run"), Not(Is("gas_pressure_high_clear"))),
             off="heat"),
        trip("Without combustion air the flame makes CO. The safeguard shuts down; the table records why.",
             "combustion_air_lost", "combustion air is lost",
             both(Was("heat"), Was("flame"), Not(Is("combustion_air"))), off="heat"),
        trip("The flame went while heat was called for and every limit closed.",
             "flame_lost", "flame is lost",
             both(Was("heat"), Was("flame"), Not(Is("flame")), Is("limit_string_closed")), off="heat"),
        trip("The safeguard has locked out. It is reset at the safeguard, by hand, by someone who has looked why.",
             "burner_locked_out", "burner safeguard is locked out", Is("lockout"), off="heat"),
        trip("Pre-purge, ignition and patience are over: the safeguard has no power, or its string is open.",
             "no_flame", "no flame though heat is called for", both(Was("heat"), Not(Is("flame"))), off="heat",
             delay_s=start_s, alarm="medium"),
        trip("A gas valve leaks or is held open. Shut the gas by hand. Pump and blower go on: they cool the tank.",
             "flame_unasked", "flame though no heat is called for", both(Is("flame"), Not(Was("heat"))), off="heat",
             delay_s=end_s),
    )  # fmt: skip


def _electric_rows(delays: Delays) -> tuple[ReasonedRow, ...]:
    answer_s = delays["contactor_s"]
    return (
        trip("Sheaths are scaled or bare. Hard-wired; the table records it.",
             "sheath_too_hot", "heater sheaths are too hot", Not(Is("sheath_temperature_clear")), off="heat"),
        trip("A heater leaks current into the liquor: danger of shock. Lock out before touching liquor or tank.",
             "ground_fault", "ground fault of the heater", Not(Is("ground_fault_clear")), off="heat"),
        trip("Welded: the heat stays on. Open the disconnect. Pump and blower go on: they cool the tank.",
             "contactor_welded", "contactor is closed though no heat is called for",
             both(Is("contactor_closed"), Not(Was("heat"))), off="heat", delay_s=answer_s),
        trip("Coil, fuse or string: the heater does not heat.",
             "contactor_open", "contactor does not close", both(Was("heat"), Not(Is("contactor_closed"))), off="heat",
             delay_s=answer_s, alarm="medium"),
    )  # fmt: skip


def _steam_rows(delays: Delays) -> tuple[ReasonedRow, ...]:
    stroke_s = delays["steam_valve_s"]
    return (
        trip("The valve hangs: the heat stays on. Shut the hand valve. Pump and blower go on: they cool the tank.",
             "steam_valve_stuck_open", "steam valve does not shut",
             both(Not(Is("steam_valve_shut")), Not(Was("heat"))), off="heat", delay_s=stroke_s),
        trip("No air to the actuator, or the string is open: the coil stays cold.",
             "steam_valve_stuck_shut", "steam valve does not open", both(Is("steam_valve_shut"), Was("heat")),
             off="heat", delay_s=stroke_s, alarm="medium"),
    )  # fmt: skip
