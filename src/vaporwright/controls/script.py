"""A rehearsal's script: where the unit stands, what people do and what fails, and what is expected of it.

Scripts know no unit. Times may name a unit's delays and quantities may be stated against its figures ("set point",
"low", "rate"), so that one script serves a gas, an electric and a steam unit; `rehearsal` resolves them.

Expected is what the trade expects of such a unit (the issue's list, and the delays with their reasons), never what a
run happened to give.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal

from vaporwright.controls.devices import BUTTONS, SELECTORS
from vaporwright.foundation.errors import InputError

LONGEST_SCRIPT_s: Final = 7.0 * 86_400.0
RODS: Final[Mapping[str, str]] = {
    "low": "low_rod",
    "refill-on": "refill_on_rod",
    "refill-off": "refill_off_rod",
    "high": "high_rod",
}
HEATS: Final = ("gas", "electric", "steam")
Quantity = Literal["temperature", "short length", "evaporation", "heat", "fraction", "short duration", "volume"]
Reading = Literal["moment", "mean", "sum"]


@dataclass(frozen=True)
class Measured:
    """A quantity of the rehearsal: its kind, and whether a bound is on each moment, on the mean or on the sum."""

    quantity: Quantity
    reading: Reading
    meaning: str


QUANTITIES: Final[Mapping[str, Measured]] = {
    "tank_temperature": Measured("temperature", "moment", "of the liquor"),
    "thermometer": Measured("temperature", "moment", "what the control's thermometer reads"),
    "heater_surface": Measured("temperature", "moment", "of the heater, at its hottest"),
    "level": Measured("short length", "moment", "of the liquor above the tank's low corner, without foam"),
    "solids": Measured("fraction", "moment", "of the liquor's mass"),
    "heat_load": Measured("fraction", "moment", "what the heater gives, of its full heat"),
    "airflow_share": Measured("fraction", "moment", "airflow, of the design's"),
    "spray_share": Measured("fraction", "moment", "spray that falls, of the design's"),
    "evaporation": Measured("evaporation", "mean", "tower and surface"),
    "heat": Measured("heat", "mean", "from the heater into the liquor"),
    "refilled": Measured("volume", "sum", "feed"),
    "overflowed": Measured("volume", "sum", "over the overflow and over the rim"),
    "heater_bare": Measured("short duration", "sum", "time with heat on and liquor under the heater's top"),
    "pump_dry": Measured("short duration", "sum", "time with the pump on and liquor under its suction"),
}
# What a quantity may be stated against; `rehearsal` has the figures of a unit.
BASES: Final[Mapping[str, tuple[str, ...]]] = {
    "temperature": ("set point", "deviation alarm", "high limit", "plastic limit", "settling", "feed"),
    "short length": ("heater top", "low", "refill-on", "refill-off", "high", "high-high", "overflow", "rim"),
    "evaporation": ("rate",),
    "heat": ("rate",),
    "fraction": (),
    "short duration": (),
    "volume": (),
    "liquid flow": ("feed rate",),
}


@dataclass(frozen=True)
class Moment:
    """A time or a length of time: seconds, and delays of the unit added or taken off."""

    seconds: float = 0.0
    delays: tuple[tuple[str, float], ...] = ()  # name in the table's delays [s], and its sign
    text: str = "0 s"

    def resolved_s(self, delays: Mapping[str, float], where: str, key: str) -> float:
        """Seconds on a unit; raises InputError for a delay that it does not have, and for less than nothing."""
        total_s = self.seconds
        for name, sign in self.delays:
            if name not in delays:
                raise InputError(where, key, f'"{self.text}" names a delay that this unit does not have')
            total_s += sign * delays[name]
        if total_s < -1.0e-9:
            raise InputError(where, key, f'"{self.text}" is {total_s:g} s on this unit', "nothing or more")
        return max(total_s, 0.0)


@dataclass(frozen=True)
class Place:
    """A value in SI: by itself, or against a figure of the unit: share x base + offset."""

    offset: float
    base: str = ""
    share: float = 1.0
    text: str = ""

    def resolved(self, figures: Mapping[str, float]) -> float:
        """The value on a unit."""
        return self.offset + (self.share * figures[self.base] if self.base else 0.0)


@dataclass(frozen=True)
class Happening:
    """A name of the table that is on, or off."""

    name: str
    on: bool

    @property
    def text(self) -> str:
        return f"{self.name} {'on' if self.on else 'off'}"


@dataclass(frozen=True)
class Crossing:
    """A momentary quantity at or above a value, or at or below it."""

    quantity: str
    above: bool
    place: Place

    @property
    def text(self) -> str:
        return f"{self.quantity} {'above' if self.above else 'below'} {self.place.text}"


Trigger = Happening | Crossing
DeedValue = str | float | Place | None


@dataclass(frozen=True)
class Verb:
    """One kind of deed: on which targets, and with which values.

    targets: () for none, None for any name that the table has; values: choices, or the name of a quantity.
    """

    meaning: str
    targets: tuple[str, ...] | None = ()
    values: tuple[str, ...] | str = ()


_FAULTS: Final = ("on", "off", "sound")
_MOTION: Final = ("stuck open", "stuck shut", "sound")
FAILURES: Final[Mapping[str, tuple[str, ...]]] = {
    "blower_belt": ("broken", "sound"),
    "pump_prime": ("lost", "sound"),
    "flame": ("out", "sound"),
    "burner_fan": ("failed", "sound"),
    "gas_valve": ("stuck open", "sound"),
    "blower_overload": ("tripped", "sound"),
    "pump_overload": ("tripped", "sound"),
    "ground_fault": ("tripped", "sound"),
    "reference_rod": ("broken", "sound"),
    "low_rod": ("stuck wet", "stuck dry", "sound"),
    "refill_on_rod": ("stuck wet", "stuck dry", "sound"),
    "refill_off_rod": ("stuck wet", "stuck dry", "sound"),
    "high_rod": ("stuck wet", "stuck dry", "sound"),
    "spray_valve": _MOTION,
    "agitation_valve": _MOTION,
    "refill_valve": _MOTION,
    "refill_shutoff": _MOTION,
    "drain_valve": _MOTION,
    "steam_valve": _MOTION,
}
SUPPLIES: Final[Mapping[str, tuple[str, ...]]] = {
    "power": ("on", "off"),
    "refill": ("on", "off"),
    "gas": ("on", "low", "high", "off"),
    "steam": ("on", "off"),
}
RESETS: Final = ("low water", "high limit", "surface limit", "burner")
VERBS: Final[Mapping[str, Verb]] = {
    "push": Verb("a button, for as long as `for` says; the emergency stop stays in until it is pulled", (), BUTTONS),
    "pull": Verb("the emergency stop", (), ("emergency stop",)),
    "turn": Verb("selectors", tuple(SELECTORS), ("off", "auto", "hand", "on")),
    "set_point": Verb("of the control, its deviation alarm with it", (), "temperature"),
    "stick": Verb("a device's contact, as table and limit string see it", None, _FAULTS),
    "short": Verb("a wire to the table, which then sees this whatever the contact says", None, _FAULTS),
    "weld": Verb("the contact of an effect", None, ("welded", "open", "sound")),
    "fail": Verb("a device, or put it right again", tuple(FAILURES), ()),
    "supply": Verb("power, gas, steam, or water to the refill", tuple(SUPPLIES), ()),
    "reset": Verb("a device with a manual reset, by hand", (), RESETS),
    "lift": Verb("a rod, by so much above its place", tuple(RODS), "short length"),
    "dip": Verb("all rods in a bucket that wets up to this one", (), (*RODS, "back in the tank")),
    "thermometer": Verb("of the control, in something else of this temperature", (), "temperature"),
    "thermometer_back": Verb("in its well", (), ("yes",)),
    "nozzles": Verb("what they let through, of the design's spray", (), "fraction"),
    "heat_transfer": Verb("of the heater, of a clean one's: scale", (), "fraction"),
    "foam": Verb("on the liquor, which rods take for level", (), "short length"),
    "wave": Verb("amplitude at the rods", (), "short length"),
    "trickle": Verb("feed past the refill valves", (), "liquid flow"),
}


@dataclass(frozen=True)
class Deed:
    """One thing that is done."""

    verb: str
    target: str
    value: DeedValue
    said: str = ""  # in words, where the value has been resolved

    @property
    def text(self) -> str:
        """In words."""
        if self.said:
            return self.said
        value = self.value.text if isinstance(self.value, Place) else self.value
        words = [self.verb.replace("_", " "), self.target.replace("_", " "), "" if value is None else str(value)]
        return " ".join(word for word in words if word)


@dataclass(frozen=True)
class Event:
    """Deeds at a time, or as soon after it as something is so, and then a while later."""

    label: str  # where it stands in the script
    at: Moment
    deeds: tuple[Deed, ...]
    when: tuple[Trigger, ...] = ()  # one after the other
    wait: Moment = Moment()
    hold: Moment | None = None  # of buttons
    only_for: str = ""
    note: str = ""


@dataclass(frozen=True)
class Bounds:
    """Least and most of a quantity, either may be absent."""

    low: Place | None = None
    high: Place | None = None


@dataclass(frozen=True)
class Count:
    """How often a name goes on within the span."""

    least: int
    most: int | None = None


Subject = Literal["name", "alarm", "first out", "quantity", "count"]
Mode = Literal["at", "within", "throughout"]


@dataclass(frozen=True)
class Expectation:
    """What is expected, and when.

    mode `at`: at the anchor. `within`: comes true at most `span` after the anchor. `throughout`: from the anchor to
    `end`, or for `span`, or to the script's end; with `whilst` only in the scans in which that is so.
    The anchor is `start`, or the first scan from there on in which `when` is so, one after the other if it is several.
    """

    label: str
    subject: Subject
    name: str
    wanted: bool | str | Bounds | Count
    mode: Mode
    start: Moment = Moment()
    when: tuple[Trigger, ...] = ()
    span: Moment | None = None
    end: Moment | None = None
    whilst: Happening | None = None
    only_for: str = ""
    why: str = ""
    text: str = ""


@dataclass(frozen=True)
class Start:
    """Where the unit stands: power on, all selectors off, nothing moving, unless the script says otherwise."""

    level: Place = Place(0.0, "refill-off", text="refill-off")
    temperature: Place = Place(0.0, "settling", text="settling")
    signals: Mapping[str, bool] = field(default_factory=dict)  # of inputs that the simulated unit does not know


@dataclass(frozen=True)
class Script:
    """The whole script."""

    where: str  # its file, for messages
    name: str
    purpose: str
    duration: Moment
    start: Start
    events: tuple[Event, ...]
    expectations: tuple[Expectation, ...]
    heats: tuple[str, ...] = HEATS
