"""How a technician makes a signal of the unit change in the test: what he does, and what it does to the table's inputs.

Nothing is bridged to run. A switch is made to see what it watches (a tube pulled, a paddle held, a rod dipped), a limit
is worked by its test button or its dial, a motor's overload by its test button, a temperature by a bath or a simulator
of the thermometer. Level rods hang in a bucket during these trials, so that each is wet or dry as the technician wants,
and the hand valve of the make-up is shut, so that a refill that is asked for fills nothing.

The ways are common practice, no source. A signal that a shop added to its table, and nobody described here, is worked
at its device.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final, Literal

from vaporwright.acceptance.steps.procedure import Performer
from vaporwright.controls.devices import SELECTORS, SIGNAL_OF
from vaporwright.controls.table import Comparator
from vaporwright.controls.unit_table import UnitTable

Deed = tuple[str, str, str | float]  # verb, target and value of controls.deeds
Way = Literal["selector", "button", "device"]
BATH_OVER_LIMIT_difference_K: Final = 1.5
LEAST_BATH_OVER_difference_K: Final = 0.2
PUSHED_s: Final = 0.5
STRING: Final = "limit_string_closed"


@dataclass(frozen=True)
class Means:
    """One thing that a technician does, and how he undoes it."""

    key: str
    way: Way
    changes: Mapping[str, bool]  # signals of the table, while it lasts
    deeds: tuple[Deed, ...]
    undo: tuple[Deed, ...]
    action: str  # imperative
    restore: str  # imperative; empty for a button
    caution: str = ""
    by: Performer = "technician"
    hot: bool = False

    @property
    def momentary(self) -> bool:
        """A button, which is let go at once."""
        return self.way == "button" and not self.restore


_SWITCHES: Final[Mapping[tuple[str, bool], tuple[str, str]]] = {
    ("airflow", False): (
        "pull the low-pressure tube off the airflow switch",
        "put the tube back on the airflow switch",
    ),
    ("airflow", True): (
        "press lightly on the high-pressure tube of the airflow switch with a squeeze bulb until it makes",
        "take the squeeze bulb off and put the tube back",
    ),
    ("pump_flow", False): ("hold the paddle of the flow switch back at its test lever", "let the test lever go"),
    ("pump_flow", True): ("push the paddle of the flow switch over at its test lever", "let the test lever go"),
    ("low_rod", False): ("lift the low rod out of the bucket", "hang the low rod back into the bucket"),
    ("low_rod", True): ("hold a cup of water to the tip of the low rod", "take the cup away"),
    ("refill_on_rod", False): ("lift the refill-on rod out of the bucket", "hang the refill-on rod back"),
    ("refill_on_rod", True): ("hold a cup of water to the tip of the refill-on rod", "take the cup away"),
    ("refill_off_rod", False): ("lift the refill-off rod out of the bucket", "hang the refill-off rod back"),
    ("refill_off_rod", True): ("hold a cup of water to the tip of the refill-off rod", "take the cup away"),
    ("high_rod", False): ("lift the high rod out of the bucket", "hang the high rod back"),
    ("high_rod", True): ("hold a cup of water to the tip of the high rod", "take the cup away"),
    ("high_high_clear", False): ("lift the float of the high-high switch by hand", "let the float down"),
    ("low_water_clear", False): (
        "press the test button of the low-water cut-off, or lower its probe out of the liquor",
        "let it go and reset the low-water cut-off at the device",
    ),
    ("blower_overload_clear", False): ("press the test button of the blower's overload", "reset the overload"),
    ("pump_overload_clear", False): ("press the test button of the spray pump's overload", "reset the overload"),
    ("high_limit_clear", False): (
        "turn the dial of the high limit down below the tank until it trips",
        "turn the dial back to its mark and reset the high limit at the device",
    ),
    ("limit_string_closed", False): (
        "open the isolating link at the end of the limit string",
        "close the link; see that it is tight",
    ),
    ("tube_temperature_clear", False): (
        "work the test button of the tube's over-temperature device",
        "reset the device",
    ),
    ("sheath_temperature_clear", False): (
        "work the test button of the sheaths' over-temperature device",
        "reset the device",
    ),
    ("gas_pressure_low_clear", False): (
        "turn the low gas pressure switch up until it opens",
        "turn it back to its mark and reset it",
    ),
    ("gas_pressure_high_clear", False): (
        "turn the high gas pressure switch down until it opens",
        "turn it back to its mark and reset it",
    ),
    ("combustion_air", False): (
        "pull the tube off the combustion air switch",
        "put the tube back; reset the safeguard if it has locked out",
    ),
    ("combustion_air", True): (
        "press lightly on the combustion air switch with a squeeze bulb",
        "take the bulb off, put the tube back",
    ),
    ("flame", False): (
        "open the isolating terminal of the flame signal from the safeguard to the controller",
        "close the isolating terminal of the flame signal",
    ),
    ("flame", True): (
        "hold the flame simulator to the safeguard's detector, with the firing valve shut",
        "take the flame simulator away",
    ),
    ("lockout", True): ("bring the safeguard to lock-out by its test function", "reset the safeguard at the device"),
    ("ground_fault_clear", False): ("press the test button of the ground-fault protection", "reset it"),
    ("contactor_closed", False): (
        "with the heater's disconnect locked open, hold the auxiliary of the contactor open",
        "let the auxiliary go",
    ),
    ("contactor_closed", True): (
        "with the heater's disconnect locked open, push the armature of the contactor in",
        "let the armature go",
    ),
    ("steam_valve_shut", False): (
        "with the hand valve of the steam shut, lift the steam valve off its seat by its hand override",
        "let the override go",
    ),
    ("steam_valve_shut", True): (
        "with the hand valve of the steam shut, take the actuator's air away, so that the valve shuts",
        "give the actuator its air back",
    ),
    ("spray_shut", True): (
        "work the position switch of the spray valve to shut by hand",
        "let the position switch go",
    ),
    ("spray_shut", False): (
        "work the position switch of the spray valve to open by hand",
        "let the position switch go",
    ),
}  # fmt: skip
_FUEL: Final = ("gas_pressure_low_clear", "gas_pressure_high_clear", "combustion_air", "flame", "lockout")
_POWER: Final = ("ground_fault_clear", "contactor_closed", "blower_overload_clear", "pump_overload_clear")
_FUEL_CAUTION: Final = "fuel gas and flame: by a qualified burner technician under the local code; gas hand valve shut"
_POWER_CAUTION: Final = "live panel: by a qualified electrician, guarded; what may stay dead is locked out"
_MOTION_CAUTION: Final = "blower and pump may start or stop: guards on, hands clear"
_BUTTONS: Final = {"start": "start", "reset": "reset", "silence": "silence", "acknowledge": "acknowledge"}
_SELECTOR_WORDS: Final = {"warm_up": "warm-up", "press": "filter-press request"}
RESTING_SELECTORS: Final = {"blower": "auto", "pump": "auto", "refill": "auto"}  # in these trials; the others off


def means_of(table: UnitTable) -> tuple[Means, ...]:
    """Everything that can be done to the inputs of a unit's table, each by itself."""
    signals = {signal.name: signal for signal in table.design.signals}
    found: list[Means] = [*_selectors(signals), *_buttons(signals)]
    known = {name for means in found for name in means.changes}
    for name, signal in signals.items():
        if name not in known:
            ways = (False,) if name == STRING else (False, True)  # nobody bridges the limit string
            found += [_device(name, value, signal.title, signal.on_means) for value in ways]
    return (*found, *_baths(table.design.comparators))


def _selectors(signals: Mapping[str, object]) -> list[Means]:
    found = []
    for selector, positions in SELECTORS.items():
        mine = {position: SIGNAL_OF.get((selector, position)) for position in positions}
        there = [signal for signal in mine.values() if signal in signals]
        if not there:
            continue
        rest = RESTING_SELECTORS.get(selector, "off")
        title = _SELECTOR_WORDS.get(selector, selector)
        for position in positions:
            if position == rest or (position != "off" and mine[position] not in signals):
                continue
            changes = {signal: mine[position] == signal for signal in there if signal is not None}
            said = (
                "the filter press asks for feed" if selector == "press" else f"turn the {title} selector to {position}"
            )
            found.append(
                Means(f"{selector}_{position}", "selector", changes, (("turn", selector, position),),
                      (("turn", selector, rest),), said,
                      "take the filter press's request back" if selector == "press" else f"turn it back to {rest}",
                      _MOTION_CAUTION)
            )  # fmt: skip
    return found


def _buttons(signals: Mapping[str, object]) -> list[Means]:
    found = [
        Means(f"push_{name}", "button", {name: True}, (("push", "", name),), (("pull", "", name),),
              f"push {words}", "", _MOTION_CAUTION if name == "start" else "")
        for name, words in _BUTTONS.items()
        if name in signals
    ]  # fmt: skip
    if "stop_clear" in signals:
        found.append(
            Means("push_stop", "button", {"stop_clear": False}, (("push", "", "stop"),), (("pull", "", "stop"),),
                  "push stop", "")
        )  # fmt: skip
    if "emergency_stop_clear" in signals:
        found.append(
            Means("push_emergency_stop", "button", {"emergency_stop_clear": False}, (("push", "", "emergency stop"),),
                  (("pull", "", "emergency stop"),), "push the emergency stop in",
                  "pull the emergency stop out again")
        )  # fmt: skip
    return found


def _device(name: str, value: bool, title: str, on_means: str) -> Means:
    words = f'work the device so that its contact says {"" if value else "not "}"{on_means}": {title}'
    action, restore = _SWITCHES.get((name, value), (words, f"put it back as it was: {title}"))
    caution = _FUEL_CAUTION if name in _FUEL else _POWER_CAUTION if name in _POWER else _MOTION_CAUTION
    by: Performer = "burner technician" if name in _FUEL else "electrician" if name in _POWER else "technician"
    state = "on" if value else "off"
    return Means(
        f"{name}_{state}", "device", {name: value}, (("stick", name, state),), (("stick", name, "sound"),),
        action, restore, caution, by, hot=(name, value) in (("flame", True), ("combustion_air", False)),
    )  # fmt: skip


def _baths(comparators: tuple[Comparator, ...]) -> list[Means]:
    """The thermometer in baths past each limit, one after the other, each short of the next one."""
    found = []
    for item in comparators:
        beyond = [other.limit for other in comparators if _further(other, item)]
        room = min((abs(limit - item.limit) for limit in beyond), default=BATH_OVER_LIMIT_difference_K * 2.0)
        step = max(min(BATH_OVER_LIMIT_difference_K, 0.5 * room), LEAST_BATH_OVER_difference_K)
        at = item.limit + (step if item.side == "above" else -step)
        changes = {other.name: other.output(at, False) for other in comparators if other.quantity == item.quantity}
        side = f"{item.side} its limit ({item.name.replace('_', ' ')})"
        found.append(
            Means(
                f"bath_{item.name}",
                "device",
                changes,
                (("thermometer", "", at),),
                (("thermometer_back", "", "yes"),),
                f"bring the control's thermometer to a bath, or a simulator of it, {side}",
                "put the thermometer back into its well",
                "hot bath: eye protection, gloves",
            )
        )
    return found


def _further(other: Comparator, item: Comparator) -> bool:
    if other is item or other.quantity != item.quantity or other.side != item.side:
        return False
    return other.limit > item.limit if item.side == "above" else other.limit < item.limit


def resting_signals(table: UnitTable) -> dict[str, bool]:
    """Inputs of a sound unit at rest with cold liquor, its rods in a bucket up to the refill-on rod."""
    found = {}
    for name in table.design.inputs:
        found[name] = name.endswith("_clear") or name in _RESTING_ON
    for (selector, position), signal in SIGNAL_OF.items():
        if signal in found:
            found[signal] = RESTING_SELECTORS.get(selector) == position
    return found


_RESTING_ON: Final = ("low_rod", "refill_on_rod")


def joined(first: Means, second: Means) -> Means:
    """Two means at once."""
    return replace(
        first,
        key=f"{first.key}+{second.key}",
        changes={**first.changes, **second.changes},
        deeds=(*first.deeds, *second.deeds),
        undo=(*second.undo, *first.undo),
        action=f"{first.action}; at once {second.action}",
        restore="; ".join(text for text in (second.restore, first.restore) if text),
        caution="; ".join(dict.fromkeys(text for text in (first.caution, second.caution) if text)),
        by=second.by if first.by == "technician" else first.by,
        hot=first.hot or second.hot,
    )
