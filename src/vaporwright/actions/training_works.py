"""What a trainee can do away from the panel: look at a device, put it right, or do what nobody should.

Looking tells what a person beside the unit would see, from the devices and the plant as they stand; it changes nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from vaporwright.controls.burner_safeguard import GasHeat, SteamHeat
from vaporwright.controls.simulated_unit import SimulatedUnit

TURNING: Final = 0.02  # of full speed
Parts = tuple[tuple[str, str, str | float], ...]  # verb, target, value


@dataclass(frozen=True)
class Look:
    """A place to look at; `seen` says what is there."""

    key: str
    words: str
    seen: Callable[[SimulatedUnit], str]
    only_for: str = ""


@dataclass(frozen=True)
class Work:
    """Something done at the unit by hand, and what it does."""

    key: str
    words: str
    parts: Parts
    only_for: str = ""
    bridges: bool = False  # defeats a safeguard: dangerous on any unit


def _blower(unit: SimulatedUnit) -> str:
    turns = unit.blower.position > TURNING
    motor = "The motor turns" if turns else "The motor stands"
    belt = ", the belt lies in the guard." if unit.blower_belt_broken else " and the belt is on."
    tripped = "" if unit.overloads["blower_overload"] else " Its overload has tripped."
    return motor + belt + tripped + f" The gauge across the fill reads {_pressure(unit)}."


def _pressure(unit: SimulatedUnit) -> str:
    moves = unit.blower.position > TURNING and not unit.blower_belt_broken
    return "a pressure difference" if moves else "nothing"


def _pump(unit: SimulatedUnit) -> str:
    turns = unit.pump.position > TURNING
    if not turns:
        tripped = "" if unit.overloads["pump_overload"] else " Its overload has tripped."
        casing = " Its bleed spits air: the casing holds air." if unit.pump_prime_lost else " Its bleed gives liquor."
        return "The pump stands." + tripped + casing
    if unit.pump_prime_lost:
        return "The pump screams and its discharge gauge flutters about nothing: it holds air."
    if unit.nozzle_share < 0.8:
        return "The pump runs; its discharge gauge stands higher than its mark, and the spray is thin."
    return "The pump runs quietly; its discharge gauge stands at its mark."


def _water(unit: SimulatedUnit) -> str:
    cock = "open" if unit.refill_supply else "shut, and someone has hung a tag on it"
    hose = " A hose runs over the rim into the tank." if unit.trickle_m3_s > 0.0 else ""
    return f"The hand valve of the refill is {cock}.{hose}"


def _rods(unit: SimulatedUnit) -> str:
    words = []
    for rod, tip_m in unit.rods.tips_m.items():
        wet, reached = unit.rods.wet(rod, unit.level_m), unit.level_m >= tip_m
        name = rod.removesuffix("_rod").replace("_", "-")
        if wet and not reached:
            words.append(f"the {name} rod's lamp says wet, and its tip hangs in air under a crust of scale")
        elif not wet and reached:
            words.append(f"the {name} rod's lamp says dry, and its tip is under the liquor")
    if not words:
        return "Lamps and liquor agree on each rod."
    said = "; ".join(words)
    return f"{said[0].upper()}{said[1:]}."


def _heater(unit: SimulatedUnit) -> str:
    if unit.heat_transfer_factor < 0.9:
        return "Through the hatch the heater is white with scale, as thick as a coin."
    return "Through the hatch the heater is clean."


def _tower(unit: SimulatedUnit) -> str:
    if unit.nozzle_share < 0.8:
        return "From the access door several nozzles only drip; the fill is dry beneath them."
    return "The nozzles are clear; they wet the whole fill when the pump sprays."


def _burner(unit: SimulatedUnit) -> str:
    assert isinstance(unit.heater, GasHeat)
    cock = {"on": "is open", "low": "is half shut", "high": "is open and the gauge is past its mark", "off": "is shut"}
    electrode = " The flame electrode is black and its porcelain is cracked." if unit.heater.flame_out else ""
    return f"The safeguard shows: {unit.heater.phase}. The gas cock {cock[unit.heater.supply]}.{electrode}"


def _contactor(unit: SimulatedUnit) -> str:
    hot = "The amp meter shows current." if unit.heater.load else "The amp meter shows none."
    welded = unit.effect_contacts["heat"].failure == "welded"
    return hot + (" The call's contact stays closed though nothing asks for it: it has welded." if welded else "")


def _steam(unit: SimulatedUnit) -> str:
    assert isinstance(unit.heater, SteamHeat)
    gauge = "at its mark" if unit.heater.supply == "on" else "at nothing, and the line is cold to the hand's back"
    return f"The steam valve is {unit.heater.phase}; the gauge ahead of it stands {gauge}."


def _wiring(unit: SimulatedUnit) -> str:
    if unit.shorted:
        names = " and ".join(unit.rig.table.labels[name].title for name in unit.shorted)
        return f"In the panel a loose jumper joins two terminals: {names}."
    stops = "pushed in" if "emergency stop" in unit.panel.pushed else "out"
    return f"No jumpers in the panel. The emergency stops are {stops}."


LOOKS: Final = (
    Look("blower", "the blower and its belt", _blower),
    Look("pump", "the pump and its gauge", _pump),
    Look("water", "the refill's hand valve and what else feeds the tank", _water),
    Look("rods", "the rods, lamp against liquor", _rods),
    Look("heater", "the heater, through the hatch", _heater),
    Look("tower", "the nozzles and the fill", _tower),
    Look("panel", "the panel's terminals and the emergency stops", _wiring),
    Look("burner", "the burner's safeguard and the gas train", _burner, "gas"),
    Look("contactor", "the heater's contactors and amp meter", _contactor, "electric"),
    Look("steam", "the steam line ahead of the coil", _steam, "steam"),
)
WORKS: Final = (
    Work("belt", "fit a new belt to the blower", (("fail", "blower_belt", "sound"),)),
    Work("prime", "prime the pump", (("fail", "pump_prime", "sound"),)),
    Work("low rod", "take out the low rod and clean it", (("fail", "low_rod", "sound"),)),
    Work("water", "open the refill's hand valve", (("supply", "refill", "on"),)),
    Work("hose", "shut the hose that runs into the tank", (("trickle", "", 0.0),)),
    Work("nozzles", "clean the nozzles", (("nozzles", "", 1.0),)),
    Work("descale", "take the scale off the heater", (("heat_transfer", "", 1.0),)),
    Work("jumper off", "take every jumper out of the panel",
         tuple(("short", name, "sound") for name in ("airflow", "pump_flow", "low_rod", "low_water_clear"))),
    Work("main off", "open the main disconnect and hang a lock on it", (("supply", "power", "off"),)),
    Work("main on", "take the lock off and close the main disconnect", (("supply", "power", "on"),)),
    Work("electrode", "have the burner technician fit a flame electrode", (("fail", "flame", "sound"),), "gas"),
    Work("gas cock", "open the gas cock", (("supply", "gas", "on"),), "gas"),
    Work("contact", "have the electrician change the welded contact", (("weld", "heat", "sound"),), "electric"),
    Work("steam", "open the hand valve of the steam line", (("supply", "steam", "on"),), "steam"),
    Work("bridge air", "put a jumper over the airflow switch", (("short", "airflow", "on"),), bridges=True),
    Work("bridge flow", "put a jumper over the flow switch", (("short", "pump_flow", "on"),), bridges=True),
    Work("bridge rod", "put a jumper over the low rod", (("short", "low_rod", "on"),), bridges=True),
    Work("bridge cut-off", "put a jumper over the low-water cut-off",
         (("short", "low_water_clear", "on"),), bridges=True),
)  # fmt: skip
LOOK_OF: Final[Mapping[str, Look]] = {look.key: look for look in LOOKS}
WORK_OF: Final[Mapping[str, Work]] = {work.key: work for work in WORKS}
