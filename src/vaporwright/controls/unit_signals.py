"""What a unit's table reads and drives: options of the job, signals, comparators, effects.

A contact is wired so that the safe state is the one with current: a broken wire reads as the fault. Rods alone are
the other way for `dry`: a broken wire reads dry, which stops heat at the low rod; the high-high switch is a device of
its own. What a rod that reads wet when dry can do, only the hard-wired low-water cut-off survives.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final, Literal

from vaporwright.controls.design import Column, Signal
from vaporwright.controls.set_points import (
    DEVIATION_HYSTERESIS_difference_K,
    PLASTIC_HYSTERESIS_difference_K,
    SetPoints,
    TemperatureChoices,
)
from vaporwright.controls.table import Comparator, Direction
from vaporwright.unit.heat import HeatKind

KEEP_EVAPORATING: Final = "keep evaporating"
STOP_THE_UNIT: Final = "stop the unit"
AT_REFILL_OFF: Final = "at refill-off"
BY_RESET: Final = "by reset"
LIMIT_DIGITS: Final = 6  # limits are held to a microkelvin, so that 155 degF is one number however it was made
COLDEST_READING_K: Final = 268.15  # a tank of liquor is warmer; a shorted thermometer is not


@dataclass(frozen=True)
class UnitOptions:
    """What a job chooses of its control.

    high_level: whether the unit goes on evaporating at the high rod, or stops and is started again by hand.
    low_level_clears: at refill-off the pump goes on by itself and heat waits for reset; by reset the whole unit waits.
    """

    high_level: Literal["keep evaporating", "stop the unit"] = "keep evaporating"
    low_level_clears: Literal["at refill-off", "by reset"] = "at refill-off"
    warm_up: bool = True  # agitation branch on, spray shut, blower off
    refill_by_hand: bool = True
    drain: bool = True
    filter_press: bool = True
    temperatures: TemperatureChoices = field(default_factory=TemperatureChoices)
    delays: tuple[tuple[str, float], ...] = ()  # those that the shop sets, by name [s]
    scan_s: float = 0.1


def signals_of(heat: HeatKind, options: UnitOptions) -> tuple[Signal, ...]:
    """Every two-state input."""
    rows = (*_OPERATOR, *_FIELD, *_HEAT_SIGNALS[heat])
    if options.warm_up:
        rows += (
            ("warm_up", "warm-up selector", "selector", "warm-up: agitate, spray shut, blower off"),
            ("spray_shut", "position switch of the spray valve", "switch", "the valve is shut"),
        )
    if options.refill_by_hand:
        rows += (("refill_hand", "refill selector, hand", "selector", "hand"),)
    if options.drain:
        rows += (("drain_selected", "drain selector", "selector", "drain"),)
    if options.filter_press:
        rows += (("press_feed_asked", "filter press asks for feed", "contact", "asks"),)
    return tuple(Signal(*row) for row in rows)


_OPERATOR: Final = (
    ("emergency_stop_clear", "emergency stop string", "contact", "no button is pushed"),
    ("blower_auto", "blower selector, auto", "selector", "auto"),
    ("blower_hand", "blower selector, hand", "selector", "hand"),
    ("pump_auto", "spray pump selector, auto", "selector", "auto"),
    ("pump_hand", "spray pump selector, hand", "selector", "hand"),
    ("refill_auto", "refill selector, auto", "selector", "auto"),
    ("heat_auto", "heat selector, auto (it has no hand)", "selector", "auto"),
    ("start", "start button", "button", "pushed"),
    ("stop_clear", "stop button, opens", "button", "not pushed"),
    ("reset", "reset button", "button", "pushed"),
    ("silence", "silence button", "button", "pushed"),
    ("acknowledge", "acknowledge button", "button", "pushed"),
)
_FIELD: Final = (
    ("airflow", "airflow switch, pressure difference across the fill", "switch", "air moves"),
    ("pump_flow", "flow switch in the pump's discharge", "switch", "liquor flows"),
    ("blower_overload_clear", "blower overload", "contact", "not tripped"),
    ("pump_overload_clear", "spray pump overload", "contact", "not tripped"),
    ("low_rod", "low rod", "rod", "wet"),
    ("refill_on_rod", "refill-on rod", "rod", "wet"),
    ("refill_off_rod", "refill-off rod", "rod", "wet"),
    ("high_rod", "high rod", "rod", "wet"),
    ("high_high_clear", "independent high-high switch", "switch", "level is below"),
    ("low_water_clear", "low-water cut-off, hard-wired, another principle", "contact", "liquor covers the heater"),
    ("high_limit_clear", "high limit, hard-wired, manual reset", "contact", "tank is below it"),
    ("limit_string_closed", "end of the hard-wired limit string", "contact", "every limit is closed"),
)
_HEAT_SIGNALS: Final = {
    "gas": (
        ("tube_temperature_clear", "over-temperature of the immersion tube, hard-wired", "contact", "tube is below it"),
        ("gas_pressure_low_clear", "low gas pressure switch, hard-wired", "contact", "pressure is high enough"),
        ("gas_pressure_high_clear", "high gas pressure switch, hard-wired", "contact", "pressure is low enough"),
        ("combustion_air", "combustion air switch, at the safeguard", "contact", "air is proven"),
        ("flame", "burner safeguard, flame proven", "contact", "flame"),
        ("lockout", "burner safeguard, lock-out", "contact", "locked out"),
    ),
    "electric": (
        ("sheath_temperature_clear", "over-temperature of the sheaths, hard-wired", "contact", "sheaths are below it"),
        ("ground_fault_clear", "ground-fault protection of the heater", "contact", "not tripped"),
        ("contactor_closed", "auxiliary of the heater's contactor", "contact", "closed"),
    ),
    "steam": (("steam_valve_shut", "position switch of the steam valve", "switch", "the valve is shut"),),
}
HEAT_TITLES: Final = {
    "gas": "call for heat, to the burner safeguard",
    "electric": "contactor of the heater, behind the limit string",
    "steam": "steam valve, shut without current",
}


def comparators_of(points: SetPoints) -> tuple[Comparator, ...]:
    """The thermometer of the control against its set points; the high limit is a device of its own."""
    limits: tuple[tuple[str, Direction, float, float], ...] = (
        ("at_set_point", "above", points.set_point_K, points.differential_difference_K),
        ("over_set_point", "above", points.deviation_alarm_K, DEVIATION_HYSTERESIS_difference_K),
        ("at_plastic_limit", "above", points.plastic_limit_K, PLASTIC_HYSTERESIS_difference_K),
        ("thermometer_low", "below", COLDEST_READING_K, 1.0),
    )
    return tuple(
        Comparator(name, "tank_temperature_K", side, round(limit, LIMIT_DIGITS), round(hysteresis, LIMIT_DIGITS))
        for name, side, limit, hysteresis in limits
    )


def columns_of(heat: HeatKind, options: UnitOptions) -> tuple[Column, ...]:
    """Every effect."""
    columns = [
        Column("control_on", "control relay", "relay", holds=True, wins="off"),
        Column("run", "running lamp, and the memory of the start", "lamp", holds=True, wins="off"),
        Column("blower", "blower", "motor", wins="off"),
        Column("spray_pump", "spray pump", "motor", wins="off"),
        Column("heat", HEAT_TITLES[heat], "valve" if heat == "steam" else "contact", wins="off"),
        Column("refill_valve", "refill valve, shut without current", "valve", holds=True, wins="off"),
        Column("refill_shutoff", "second refill valve, in series, shut without current", "valve", wins="off"),
    ]
    if options.warm_up:
        columns += [
            Column("spray_valve", "spray branch, shut without current", "valve", wins="off"),
            Column("agitation_valve", "agitation branch, full", "valve", wins="off"),
        ]
    if options.drain:
        columns.append(Column("drain_valve", "drain valve, shut without current", "valve", wins="off"))
    if options.filter_press:
        columns.append(Column("press_feed", "filter-press feed permissive", "contact", wins="off"))
    return tuple(columns)
