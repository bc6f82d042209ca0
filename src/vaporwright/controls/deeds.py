"""What people and faults do to the simulated unit: one function for each verb of a script."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from vaporwright.controls.burner_safeguard import ElectricHeat, GasHeat, SteamHeat
from vaporwright.controls.script import RODS
from vaporwright.controls.simulated_unit import SimulatedUnit
from vaporwright.foundation.errors import InputError

Value = str | float
_Act = Callable[[SimulatedUnit, str, Value], None]


def act(unit: SimulatedUnit, verb: str, target: str, value: Value) -> None:
    """Do it; the value is resolved for this unit. Raises InputError where this unit has no such device."""
    _ACTS[verb](unit, target, value)


def _push(unit: SimulatedUnit, target: str, value: Value) -> None:
    del target
    unit.panel.pushed.add(str(value))


def _pull(unit: SimulatedUnit, target: str, value: Value) -> None:
    del target
    unit.panel.pushed.discard(str(value))


def _turn(unit: SimulatedUnit, target: str, value: Value) -> None:
    unit.panel.selectors[target] = str(value)


def _stick(unit: SimulatedUnit, target: str, value: Value) -> None:
    _hold(unit.stuck, target, value)


def _short(unit: SimulatedUnit, target: str, value: Value) -> None:
    _hold(unit.shorted, target, value)


def _hold(held: dict[str, bool], target: str, value: Value) -> None:
    held.pop(target, None)
    if value != "sound":
        held[target] = value == "on"


def _weld(unit: SimulatedUnit, target: str, value: Value) -> None:
    unit.effect_contacts[target].failure = str(value)  # type: ignore[assignment]


def _fail(unit: SimulatedUnit, target: str, value: Value) -> None:
    failed, heater = value != "sound", unit.heater
    if target in RODS.values():
        unit.rods.failures[target] = str(value)  # type: ignore[assignment]
    elif target in unit.overloads:
        unit.overloads[target] = not failed
    elif target in unit.valves:
        unit.valves[target].stuck = {"stuck open": 1.0, "stuck shut": 0.0}.get(str(value))
    elif target == "reference_rod":
        unit.rods.reference_broken = failed
    elif target == "blower_belt":
        unit.blower_belt_broken = failed
    elif target == "pump_prime":
        unit.pump_prime_lost = failed
    elif isinstance(heater, GasHeat) and target in _BURNER:
        setattr(heater, _BURNER[target], failed)
    elif isinstance(heater, ElectricHeat) and target == "ground_fault":
        heater.ground_fault = failed
    elif isinstance(heater, SteamHeat) and target == "steam_valve":
        heater.valve.stuck = {"stuck open": 1.0, "stuck shut": 0.0}.get(str(value))
    else:
        raise _no_device(unit, f"fail.{target}")


_BURNER: Final = {"flame": "flame_out", "burner_fan": "fan_failed", "gas_valve": "valve_leaks"}


def _supply(unit: SimulatedUnit, target: str, value: Value) -> None:
    heater = unit.heater
    if target == "power":
        unit.switch_power(value == "on")
    elif target == "refill":
        unit.refill_supply = value == "on"
    elif (isinstance(heater, GasHeat) and target == "gas") or (isinstance(heater, SteamHeat) and target == "steam"):
        heater.supply = str(value)
    else:
        raise _no_device(unit, f"supply.{target}")


def _reset(unit: SimulatedUnit, target: str, value: Value) -> None:
    del target
    limits = {"low water": unit.low_water, "high limit": unit.high_limit, "surface limit": unit.surface_limit}
    if value in limits:
        limits[str(value)].reset()
    elif isinstance(unit.heater, GasHeat):
        unit.heater.safeguard.reset()
    else:
        raise _no_device(unit, f"reset {value}")


def _lift(unit: SimulatedUnit, target: str, value: Value) -> None:
    unit.rods.lifted_m[RODS[target]] = float(value)


def _dip(unit: SimulatedUnit, target: str, value: Value) -> None:
    del target
    if value in RODS:
        unit.rods.dip(RODS[str(value)])
    else:
        unit.rods.bucket = None


def _thermometer(unit: SimulatedUnit, target: str, value: Value) -> None:
    del target
    unit.thermometer_elsewhere_K = float(value)


def _thermometer_back(unit: SimulatedUnit, target: str, value: Value) -> None:
    del target, value
    unit.thermometer_elsewhere_K = None


def _set_point(unit: SimulatedUnit, target: str, value: Value) -> None:
    del target
    unit.move_set_point(float(value))


def _amount(attribute: str) -> _Act:
    def change(unit: SimulatedUnit, target: str, value: Value) -> None:
        del target
        setattr(unit, attribute, float(value))

    return change


def _no_device(unit: SimulatedUnit, what: str) -> InputError:
    return InputError(unit.table.name, what, f"this {unit.rig.heat} unit has no such device")


_ACTS: Final[Mapping[str, _Act]] = {
    "push": _push,
    "pull": _pull,
    "turn": _turn,
    "set_point": _set_point,
    "stick": _stick,
    "short": _short,
    "weld": _weld,
    "fail": _fail,
    "supply": _supply,
    "reset": _reset,
    "lift": _lift,
    "dip": _dip,
    "thermometer": _thermometer,
    "thermometer_back": _thermometer_back,
    "nozzles": _amount("nozzle_share"),
    "heat_transfer": _amount("heat_transfer_factor"),
    "foam": _amount("foam_m"),
    "wave": _amount("wave_m"),
    "trickle": _amount("trickle_m3_s"),
}
