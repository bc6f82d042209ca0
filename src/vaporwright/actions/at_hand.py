"""What one can do at a simulated unit: buttons, selectors, supplies, rods, and the faults that one can plant.

Offers come from the unit's own table and devices, so that nothing is offered that this unit does not have, and what is
asked for is checked against the same offers before it reaches the unit.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from vaporwright.controls.devices import BUTTONS, SELECTORS, SIGNAL_OF
from vaporwright.controls.rig import Rig
from vaporwright.controls.script import FAILURES, RODS, SUPPLIES
from vaporwright.display_units import shown_unit, to_shown
from vaporwright.files.quantities import parse_quantity
from vaporwright.foundation.errors import InputError

WHERE: Final = "simulated unit"
Group = Literal["panel", "supply", "device", "rod", "contact", "wire", "output", "reset", "liquor"]
CONTACT_STATES: Final = (("sound", "sound"), ("on", "stuck on"), ("off", "stuck off"))
WIRE_STATES: Final = (("sound", "sound"), ("on", "seen as on"), ("off", "seen as off"))
OUTPUT_STATES: Final = (("sound", "sound"), ("welded", "welded"), ("open", "stays open"))
_VALVES: Final = ("spray_valve", "agitation_valve", "drain_valve", "refill_valve", "refill_shutoff")
_ONLY_FOR: Final = {
    "flame": "gas",
    "burner_fan": "gas",
    "gas_valve": "gas",
    "gas": "gas",
    "ground_fault": "electric",
    "steam_valve": "steam",
    "steam": "steam",
}


@dataclass(frozen=True)
class Deed:
    """One thing done at the unit; its value is checked and in SI."""

    verb: str
    target: str
    value: str | float
    words: str

    @property
    def key(self) -> str:
        """The deed as the trainer knows it: `push start`, `turn blower auto`."""
        return " ".join(str(part) for part in (self.verb, self.target, self.value) if part != "")


@dataclass(frozen=True)
class Offer:
    """A device or a contact, and the states into which it can be put; the first one is in order."""

    verb: str
    target: str
    title: str
    group: Group
    states: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Amount:
    """A quantity that one can set: from low to high, in SI; `sound` is how it is when all is well."""

    verb: str
    target: str
    title: str
    quantity: str
    low: float
    high: float
    sound: float | None
    group: Group = "liquor"


_AMOUNTS: Final = (
    *(Amount("lift", rod, f"lift the {rod} rod by", "short length", -0.3, 0.6, 0.0, "rod") for rod in RODS),
    Amount("thermometer", "", "hold the thermometer into something of", "temperature", 255.0, 400.0, None),
    Amount("set_point", "", "set point of the control", "temperature", 290.0, 372.0, None),
    Amount("nozzles", "", "share of the spray that the nozzles let through", "fraction", 0.0, 1.0, 1.0),
    Amount("heat_transfer", "", "heat through the heater, share of a clean one's", "fraction", 0.2, 1.2, 1.0),
    Amount("foam", "", "foam on the liquor", "short length", 0.0, 0.5, 0.0),
    Amount("wave", "", "wave at the rods", "short length", 0.0, 0.1, 0.0),
    Amount("trickle", "", "feed past the refill valves", "liquid flow", 0.0, 0.005, 0.0),
)
_AMOUNT_OF: Final = {(entry.verb, entry.target): entry for entry in _AMOUNTS}


def selectors_of(rig: Rig) -> dict[str, tuple[str, ...]]:
    """The panel's selectors with the positions that this table reads."""
    found = {}
    for name, positions in SELECTORS.items():
        there = [one for one in positions if one == "off" or SIGNAL_OF.get((name, one)) in rig.table.inputs]
        if len(there) > 1:
            found[name] = tuple(there)
    return found


def offers_of(rig: Rig) -> tuple[Offer, ...]:
    """Everything with states: supplies, devices, contacts, wires, outputs, resets at the device."""
    table, heat = rig.table, rig.heat

    def there(target: str) -> bool:
        return _ONLY_FOR.get(target, heat) == heat and (target not in _VALVES or target in table.outputs)

    supplies = (
        Offer("supply", name, name, "supply", tuple((one, one) for one in states))
        for name, states in SUPPLIES.items()
        if there(name)
    )
    devices = (
        Offer("fail", name, name.replace("_", " "), "device", (("sound", "sound"), *((s, s) for s in states[:-1])))
        for name, states in FAILURES.items()
        if there(name)
    )
    return (
        *supplies,
        *devices,
        *(Offer("stick", name, title_of(rig, name), "contact", CONTACT_STATES) for name in table.inputs),
        *(Offer("short", name, title_of(rig, name), "wire", WIRE_STATES) for name in table.signals),
        *(Offer("weld", name, title_of(rig, name), "output", OUTPUT_STATES) for name in table.outputs),
    )


def resets_of(rig: Rig) -> tuple[str, ...]:
    """Devices with a reset of their own."""
    last = {"gas": ("surface limit", "burner"), "electric": ("surface limit",), "steam": ()}[rig.heat]
    return ("low water", "high limit", *last)


def amounts_of(rig: Rig) -> tuple[Amount, ...]:
    """Everything with a quantity."""
    del rig
    return _AMOUNTS


def title_of(rig: Rig, name: str) -> str:
    """What people call a name of the table."""
    label = rig.table.labels.get(name)
    return COMPARED.get(name) or (label.title if label is not None else name.replace("_", " "))


COMPARED: Final = {
    "at_set_point": "thermometer is at the set point",
    "over_set_point": "thermometer is over the deviation alarm",
    "at_plastic_limit": "thermometer is at the plastic's limit",
    "thermometer_low": "thermometer reads colder than liquor",
}


def deed_of(rig: Rig, verb: str, target: str, value: str, system: str) -> Deed:
    """What somebody asks for, checked against what this unit has; `system` where an amount is typed without a unit.

    Raises: InputError that names what was asked for and what is allowed.
    """
    if verb in ("push", "pull"):
        _require(value, BUTTONS, verb)
        return Deed(verb, "", value, f"{verb} {value}")
    if verb == "turn":
        selectors = selectors_of(rig)
        _require(target, tuple(selectors), verb)
        _require(value, selectors[target], f"{verb} {target}")
        return Deed(verb, target, value, f"turn {target.replace('_', '-')} to {value}")
    if verb == "reset":
        _require(value, resets_of(rig), verb)
        return Deed(verb, "", value, f"reset {value} at the device")
    if verb == "dip":
        _require(value, (*RODS, BACK), verb)
        return Deed(verb, "", value, f"rods {value}" if value == BACK else f"rods in a bucket, wet up to {value}")
    if verb == "thermometer_back":
        return Deed(verb, "", "yes", "thermometer back in its well")
    if (verb, target) in _AMOUNT_OF:
        return _amount_deed(_AMOUNT_OF[verb, target], value, system)
    for offer in offers_of(rig):
        if (offer.verb, offer.target) == (verb, target):
            _require(value, tuple(name for name, _ in offer.states), f"{verb} {target}")
            return Deed(verb, target, value, f"{offer.title}: {dict(offer.states)[value]}")
    known = ", ".join(sorted({offer.target for offer in offers_of(rig) if offer.verb == verb}))
    raise InputError(WHERE, verb, f'"{target[:60]}" is nothing that this {rig.heat} unit has', known or "a known verb")


BACK: Final = "back in the tank"


def _amount_deed(amount: Amount, text: str, system: str) -> Deed:
    unit = shown_unit(amount.quantity, system).text
    plain = text.strip()
    bare = bool(plain) and all(one in "0123456789.-+" for one in plain)
    typed = f"{plain} {unit}" if bare else plain
    key = f"{amount.verb} {amount.target}".strip()
    si = parse_quantity(typed, amount.quantity, where=WHERE, key=key)
    if not amount.low - 1e-9 <= si <= amount.high + 1e-9:
        low, high = (f"{to_shown(one, amount.quantity, system):.4g}" for one in (amount.low, amount.high))
        raise InputError(WHERE, key, f"{plain} is out of range", f"{low} to {high} {unit}")
    return Deed(amount.verb, amount.target, min(max(si, amount.low), amount.high), f"{amount.title} {typed}")


def _require(value: str, allowed: tuple[str, ...], key: str) -> None:
    if value not in allowed:
        raise InputError(WHERE, key, f'"{value[:60]}" is not there', ", ".join(allowed))
