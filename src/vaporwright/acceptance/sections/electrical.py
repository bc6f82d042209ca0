"""Electrical safety, rotation and currents, by the electrician; emergency stop and return of power."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from vaporwright.acceptance.sections.opening import COLD_LEAK, CONDITIONS
from vaporwright.acceptance.sections.unit_under_test import UnitUnderTest
from vaporwright.acceptance.steps.making import (
    LOCAL_CODE,
    MEMORY,
    MOVING_CAUTION,
    POWER_CAUTION,
    PRACTICE,
    about_share,
    at_least,
    at_most,
    tick,
    words,
)
from vaporwright.acceptance.steps.procedure import ProcedureSection, ReadingField, Step
from vaporwright.equipment.electrical_loads import LoadTable
from vaporwright.equipment.pump import motor_current_A
from vaporwright.foundation.errors import InputError
from vaporwright.unit.electrical import MOTOR_POWER_FACTOR

LEAST_INSULATION_ohm: Final = 1.0e6
MOST_EARTH_ohm: Final = 0.1
VOLTAGE_SHARE: Final = 0.05
MOST_IMBALANCE: Final = 0.02
POWER_ON: Final = "electrical.power_on"
ROTATION: Final = "electrical.rotation"
LINES: Final = ("1", "2", "3")
CONTROLS: Final = "controls"  # the circuit of that name in the load table


def electrical_section(under: UnitUnderTest) -> ProcedureSection:
    """Dead checks first, then power, then what turns."""
    return ProcedureSection("electrical", "Electrical safety, rotation, currents", tuple(_steps(under)))


def load_table(under: UnitUnderTest) -> LoadTable:
    """The circuits at the day's voltage. Raises: InputError where they are not solved."""
    table = under.body.load_table
    if table is None:
        raise InputError("procedure", "electrical", under.body.section("electrical").problem, "a solved load table")
    return table


@dataclass(frozen=True)
class Motor:
    """A motor of the load table."""

    name: str
    full_A: float  # full-load current
    expected_A: float | None  # at today's shaft power and voltage; None where the model has no shaft power
    lines: tuple[str, ...]  # "" where it stands between two lines

    @property
    def key(self) -> str:
        """Its name in a key."""
        return self.name.replace(" ", "_")


def motors(under: UnitUnderTest) -> tuple[Motor, ...]:
    """Every motor of the load table."""
    unit, result = under.unit, under.result
    shafts = {
        "pump": (under.number("electrical", "pump_shaft_power_W"), unit.pump.motor_efficiency),
        "blower": (result.operation.tower.blower_shaft_power_W, unit.blower.motor_efficiency),
    }
    found = []
    for circuit in load_table(under).circuits:
        if circuit.kind == "heater" or circuit.name == CONTROLS:
            continue
        expected_A = None
        shaft = shafts.get(circuit.name.split(" ")[0])
        if shaft is not None:
            drawn_A = motor_current_A(
                shaft_power_W=shaft[0],
                voltage_V=under.day.supply_voltage_V,
                efficiency=shaft[1],
                power_factor=MOTOR_POWER_FACTOR,
            )
            expected_A = min(drawn_A, circuit.current_A)
        found.append(Motor(circuit.name, circuit.current_A, expected_A, LINES if circuit.kind == "motor" else ("",)))
    return tuple(found)


def _steps(under: UnitUnderTest) -> Iterator[Step]:
    yield _earth(under)
    yield _insulation(under)
    yield _panel()
    yield _power_on(under)
    yield _rotation(under)
    yield _currents(under)
    yield _emergency_stop(under)
    yield _power_return()


def _earth(under: UnitUnderTest) -> Step:
    parts = ["tank", "pump motor", "blower motor", "tower stand", "panel door"]
    parts += {"gas": ["burner and gas train"], "electric": ["heater sheaths"], "steam": ["steam coil"]}[under.heat]
    reason = f"bond of a machine this size with its test current; IEC 60204-1's idea, {MEMORY}"
    return Step(
        "electrical.earth",
        "Earth continuity",
        "A fault must trip the protection, not wait for a hand.",
        ("Prove dead and lock out.", "Measure from the supply's earth terminal to each part."),
        tuple(
            at_most(f"{part.replace(' ', '_')}_ohm", f"earth to {part}", "resistance", MOST_EARTH_ohm, reason,
                    "continuity tester", expected=0.3 * MOST_EARTH_ohm)
            for part in parts
        ),
        20.0,
        cautions=(POWER_CAUTION, LOCAL_CODE),
        by="electrician",
        point="hold",
        after=(CONDITIONS,),
    )  # fmt: skip


def _insulation(under: UnitUnderTest) -> Step:
    reason = f"at 500 V dc between power conductors and earth, 1 MΩ at least; IEC 60204-1's idea, {MEMORY}"
    circuits = [circuit.name for circuit in load_table(under).circuits if circuit.name != CONTROLS]
    return Step(
        "electrical.insulation",
        "Insulation resistance",
        "Damp, a nicked wire or a cracked sheath shows before power does.",
        (
            "Prove dead and lock out; disconnect electronics, drives and surge arresters.",
            "Measure each power circuit to earth with the tank full.",
        ),
        tuple(
            at_least(f"{name.replace(' ', '_')}_ohm", f"{name}, to earth", "insulation resistance",
                     LEAST_INSULATION_ohm, reason, "insulation tester", expected=50.0 * LEAST_INSULATION_ohm)
            for name in circuits
        ),
        25.0,
        cautions=(POWER_CAUTION, "The tester's own voltage shocks: nobody touches, discharge afterwards.", LOCAL_CODE),
        by="electrician",
        point="hold",
        after=("electrical.earth", COLD_LEAK),
        restore="Discharge, connect the electronics again.",
    )  # fmt: skip


def _panel() -> Step:
    feeder = "as on the connection sheet"
    return Step(
        "electrical.panel",
        "Panel, protection, short-circuit rating",
        "The panel bears the fault current of its supply, and protects each circuit at the right size.",
        (
            "Read the panel's short-circuit rating and the fault current stated for the supply.",
            "Read each breaker, fuse and overload; compare with load table and nameplates.",
            "Pull at every power wire; look for ferrules, numbers, covers, segregation.",
        ),
        (
            words("short_circuit_rating", "short-circuit rating, and fault current of the supply"),
            tick("rating", "the rating is no less than the fault current"),
            tick("breakers", f"breakers and fuses {feeder}"),
            tick("overloads", "overload relays set to the nameplates"),
            tick("disconnect", "main switch locks in off, and everything is dead behind it"),
            tick("wires", "wires tight, numbered, covered; no bare or loose strand"),
            tick("limit_string", "limits in series ahead of the heat, hard-wired, as drawn; heat has no hand position"),
        ),
        30.0,
        cautions=(POWER_CAUTION, LOCAL_CODE),
        by="electrician",
    )


def _power_on(under: UnitUnderTest) -> Step:
    volts = under.day.supply_voltage_V
    pairs = (("12", "lines 1 to 2"), ("23", "lines 2 to 3"), ("31", "lines 3 to 1"))
    reason = f"supply of the day as entered; motors and heaters bear 5 % ({PRACTICE})"
    return Step(
        POWER_ON,
        "Power on",
        "Expected powers and currents go with the voltage.",
        ("Close the main switch with every branch off.", "Read all three voltages, then the control voltage."),
        (
            *(about_share(f"volts_{key}_V", label, "voltage", volts, VOLTAGE_SHARE, reason, "voltmeter")
              for key, label in pairs),
            at_most("imbalance", "greatest deviation from their mean, over the mean", "fraction", MOST_IMBALANCE,
                    f"worked out from the three readings of one voltmeter; motors heat up beyond 2 % ({PRACTICE})", "",
                    expected=0.005),
            tick("control", "control voltage within its devices' range; nothing starts"),
        ),
        15.0,
        cautions=(POWER_CAUTION,),
        by="electrician",
        after=("electrical.earth", "electrical.insulation", "electrical.panel"),
    )  # fmt: skip


def _rotation(under: UnitUnderTest) -> Step:
    return Step(
        ROTATION,
        "Direction of rotation",
        "A pump or blower turning backwards still moves something, and fools a contactor's auxiliary.",
        (
            "Fill the tank above the low rod; open the pump's suction.",
            "Bump each motor and watch its shaft against the arrow on the casing.",
        ),
        tuple(tick(motor.key, f"{motor.name} turns as its arrow shows") for motor in motors(under)),
        10.0,
        cautions=(MOVING_CAUTION, POWER_CAUTION),
        by="electrician",
        point="witness",
        after=(POWER_ON,),
    )


def _currents(under: UnitUnderTest) -> Step:
    fields: list[ReadingField] = []
    reason = (
        "expected from shaft power at the day's conditions; at most the full-load current of the load table, or the"
        f" nameplate's where that is less ({PRACTICE})"
    )
    for motor in motors(under):
        for line in motor.lines:
            key, label = (f"{motor.key}_line_{line}_A", f"{motor.name}, line {line}") if line else (
                f"{motor.key}_A", motor.name)  # fmt: skip
            fields.append(
                at_most(key, label, "current", motor.full_A, reason, "clamp ammeter", expected=motor.expected_A)
            )
    return Step(
        "electrical.currents",
        "Currents of the motors, each line",
        "No motor is overloaded, no line carries more than its share.",
        ("Run pump with spray, blower with its duct as it stands today.", "Read each line when it has settled."),
        (*fields, tick("balanced", "the three lines of each motor are alike")),
        20.0,
        cautions=(POWER_CAUTION, MOVING_CAUTION),
        by="electrician",
        after=(ROTATION,),
        restore="Stop pump and blower.",
    )


def _emergency_stop(under: UnitUnderTest) -> Step:
    fuel = {"gas": "gas valves shut", "electric": "heater's contactor drops", "steam": "steam valve shuts"}[under.heat]
    return Step(
        "electrical.emergency_stop",
        "Emergency stop, every button",
        "One push makes it safe, hard-wired, and nothing comes back by pulling the button out.",
        (
            "Run pump and blower with heat called for as far as today's test allows.",
            "Push each button in turn; pull it out; wait; reset; start again.",
        ),
        (
            tick("stops", f"each button: pump and blower stop, {fuel}"),
            tick("stays", "released: nothing starts"),
            tick("needs_start", "reset alone starts nothing either: start must be pushed"),
        ),
        15.0,
        cautions=(MOVING_CAUTION,),
        by="electrician",
        point="witness",
        after=(ROTATION,),
        restore="All buttons out, trips reset.",
    )


def _power_return() -> Step:
    return Step(
        "electrical.power_return",
        "Failure and return of power",
        "After a dip nothing starts by itself, heat least of all.",
        ("Run pump and blower.", "Open the main switch for a minute, close it; the same with a blink of a second."),
        (
            tick("minute", "after a minute: nothing starts, heat is off, refill shut"),
            tick("blink", "after a blink: the same"),
            tick("remembers", "set points and alarms are as before"),
        ),
        10.0,
        cautions=(MOVING_CAUTION, POWER_CAUTION),
        by="electrician",
        point="witness",
        after=(ROTATION,),
        restore="Reset.",
    )
