"""The electrical load table of a unit: motors, heater and controls, their circuits, and the feeder that brings them.

Electricity kills. These are currents and least sizes for a connection sheet, worked out as the US electrical code does.
The electrical code in force at the site, the utility and a **licensed electrician** decide on conductors, protection,
disconnects, earthing and short-circuit rating; where they differ from this module, they are right.

The code sizes a motor's circuit by its own table of full-load currents, not by the nameplate (motor_table_current_A);
the overload relay alone goes by the nameplate. A motor that the table lacks, in size or voltage, is taken from its
efficiency and power factor instead.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

from vaporwright.equipment.electric_heater import CIRCUIT_CURRENT_LIMIT_A, standard_overcurrent_device_A
from vaporwright.equipment.pump import HORSEPOWER_W, motor_current_A, motor_table_current_A
from vaporwright.foundation.errors import InputError, OutOfRange, require_range
from vaporwright.foundation.notice import Notice
from vaporwright.foundation.register import sourced

CONTINUOUS_FACTOR: Final = 1.25
LARGEST_MOTOR_FACTOR: Final = 1.25
INVERSE_TIME_BREAKER_FACTOR: Final = 2.5
SINGLE_PHASE_TABLE_VOLTAGES_V: Final = (115.0, 208.0, 230.0)
_SINGLE_PHASE_TABLE_A: Final = {  # horsepower: full-load current at those voltages
    1.0 / 6.0: (4.4, 2.4, 2.2),
    0.25: (5.8, 3.2, 2.9),
    1.0 / 3.0: (7.2, 4.0, 3.6),
    0.5: (9.8, 5.4, 4.9),
    0.75: (13.8, 7.6, 6.9),
    1.0: (16.0, 8.8, 8.0),
    1.5: (20.0, 11.0, 10.0),
    2.0: (24.0, 13.2, 12.0),
    3.0: (34.0, 18.7, 17.0),
    5.0: (56.0, 30.8, 28.0),
    7.5: (80.0, 44.0, 40.0),
    10.0: (100.0, 55.0, 50.0),
}
THREE_PHASE_TABLE_hp: Final = (0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 5.0, 7.5, 10.0, 15.0)
# Which column of the tables serves which system: lowest and highest voltage at which such a system is delivered,
# voltage in the table. The code itself names 110 to 120, 220 to 240, 440 to 480 and 550 to 600 V.
_SYSTEM_VOLTAGES_V: Final = (
    (110.0, 127.0, 115.0),
    (191.0, math.nextafter(220.0, 0.0), 208.0),
    (220.0, 254.0, 230.0),
    (440.0, 508.0, 460.0),
    (550.0, 635.0, 575.0),
)
_SMALLEST_DEVICE_A: Final = 15.0
_LARGEST_DEVICE_A: Final = 6000.0
_WHERE: Final = "electrical loads"

LOAD_TABLE_CAUTION: Final = (
    "Electricity kills, the more so beside hot liquor: lock out and prove dead before opening, bond tank and metal,"
    " ground-fault protection on heaters. A licensed electrician designs and wires the supply to the electrical code in"
    " force at the site; these figures only size it."
)
LEFT_TO_THE_ELECTRICIAN: Final = (
    "conductor size, insulation and raceway, with the factors for ambient temperature and bundling",
    "protection between the smallest and the largest size given, its type and its coordination",
    "short-circuit current rating of the panel against the fault current at the site",
    "motor overload relays, to the nameplates",
    "disconnects in sight and lockable, ground-fault protection, earthing and bonding",
    "voltage drop, unbalance of single-phase loads, harmonics and fuses that a motor drive asks for",
)


@dataclass(frozen=True, slots=True)
class Supply:
    """The supply as the site states it: voltage between lines, nominal or measured, and phases (1 or 3)."""

    voltage_V: float
    phases: int

    def __post_init__(self) -> None:
        require_range("supply voltage_V", self.voltage_V, 100.0, 1000.0, "low voltage")
        if self.phases not in (1, 3):
            raise OutOfRange("supply phases", self.phases, None, None, "1 or 3")


@dataclass(frozen=True, slots=True)
class MotorLoad:
    """A motor. Efficiency and power factor at rated power only where the code's table is not to be used."""

    name: str
    rated_power_W: float
    efficiency: float | None = None
    power_factor: float | None = None


@dataclass(frozen=True, slots=True)
class HeaterLoad:
    """A resistance heater: power at the supply in hand, divided into equal circuits.

    Each circuit is on all lines of the supply; single_phase ones stand between two lines, shared out among the three
    pairs as evenly as they go.
    """

    name: str
    power_W: float
    circuits: int = 1
    single_phase: bool = False


@dataclass(frozen=True, slots=True)
class OtherLoad:
    """Controls, lighting, metering pump and the like, between two lines (on one phase, between line and line)."""

    name: str
    apparent_power_VA: float
    continuous: bool = True


LoadKind = Literal["motor", "heater", "other"]


@dataclass(frozen=True, slots=True)
class Circuit:
    """One branch circuit of the load table."""

    name: str
    kind: LoadKind
    current_A: float  # full-load
    least_ampacity_A: float  # of its conductors
    smallest_device_A: float  # standard size not below the least ampacity
    largest_device_A: float | None  # motors: by the code for an inverse-time breaker; else up to the electrician
    basis: str  # where the current is from


@dataclass(frozen=True, slots=True)
class LoadTable:
    """All circuits and the feeder."""

    supply: Supply
    circuits: tuple[Circuit, ...]
    running_current_A: float  # in the most loaded line, all loads at full load
    apparent_power_VA: float
    feeder_least_ampacity_A: float
    feeder_smallest_device_A: float
    feeder_largest_device_A: float | None  # None where no standard size lies between
    warnings: tuple[Notice, ...]
    electrician_decides: tuple[str, ...] = LEFT_TO_THE_ELECTRICIAN
    caution: str = LOAD_TABLE_CAUTION


def _table_voltage_V(system_voltage_V: float) -> float:
    for low, high, table in _SYSTEM_VOLTAGES_V:
        if low <= system_voltage_V <= high:
            return table
    allowed = "110 to 127, 191 to 254, 440 to 508, 550 to 635 V; else state efficiency and power factor"
    raise InputError(_WHERE, "voltage_V", f"the motor tables have no column for {system_voltage_V:.6g} V", allowed)


@sourced("single-phase-motor-table", "full-load current of single-phase motors")
def single_phase_motor_table_current_A(rated_power_W: float, voltage_V: float) -> float:
    """Full-load current by which the code has the circuit of a single-phase motor sized.

    Args: rated_power_W [W]: one of 1/6, 1/4, 1/3, 1/2, 3/4, 1, 1.5, 2, 3, 5, 7.5, 10 hp, within 1 %; voltage_V [V]:
        115, 208 or 230.
    Returns: current [A].
    Raises: InputError for a size or voltage that is not in the table.
    Source: single-phase-motor-table; the local code in force decides.
    """
    horsepower = rated_power_W / HORSEPOWER_W
    for size, currents in _SINGLE_PHASE_TABLE_A.items():
        if abs(horsepower - size) <= 0.01 * size:
            for voltage, current in zip(SINGLE_PHASE_TABLE_VOLTAGES_V, currents, strict=True):
                if voltage == voltage_V:
                    return current
            raise InputError(
                "single-phase motor", "voltage_V", f"{voltage_V:.6g} V is not in the table", "115, 208, 230"
            )
    sizes = "1/6, 1/4, 1/3, 1/2, 3/4, 1, 1.5, 2, 3, 5, 7.5, 10 hp"
    raise InputError("single-phase motor", "rated_power_W", f"{horsepower:.4g} hp is not in the table", sizes)


@sourced("motor-current-table", "sizes of the table")
def table_motor_rating_W(rated_power_W: float) -> float | None:
    """The size of the three-phase table under which a motor is looked up: its own, or the next above it.

    Args: rated_power_W [W]: above 0. Metric ratings lie between sizes: 1.1 kW is looked up as 1.5 hp.
    Returns: rated power [W] of the smallest size not below it, within 1 %; None above 15 hp.
    Raises: OutOfRange.
    Source: motor-current-table; taking the next size up is on the safe side and ours.
    Example: 4 kW reads as 7.5 hp
        >>> round((table_motor_rating_W(4000.0) or 0.0) / HORSEPOWER_W, 3)
        7.5
    """
    require_range("rated_power_W", rated_power_W, 1.0e-3, None)
    horsepower = rated_power_W / HORSEPOWER_W
    return next((size * HORSEPOWER_W for size in THREE_PHASE_TABLE_hp if horsepower <= 1.01 * size), None)


@sourced("motor-current-table", "three phases, by system voltage")
@sourced("single-phase-motor-table", "one phase, by system voltage")
@sourced("system-voltage-ranges", "which column serves a voltage as measured")
@sourced("three-phase-power", "from efficiency and power factor where those are stated")
def motor_full_load_current_A(motor: MotorLoad, supply: Supply) -> float:
    """Full-load current of a motor on a supply, by the code's table or, where they are stated, by its own figures.

    Equation: table by horsepower and phases, its column by the system's voltage (440 to 508 V read 460 V); else
        I = P / (efficiency V cos phi), with sqrt(3) V on three phases.
    Args: motor: efficiency and power factor both or neither; supply.
    Returns: current in each line [A].
    Raises: InputError where the table lacks the size or the voltage, or one of the two figures is missing.
    Source: motor-current-table, single-phase-motor-table, system-voltage-ranges, three-phase-power.
    """
    if motor.efficiency is not None and motor.power_factor is not None:
        return motor_current_A(
            shaft_power_W=motor.rated_power_W,
            voltage_V=supply.voltage_V,
            efficiency=motor.efficiency,
            power_factor=motor.power_factor,
            phases=supply.phases,
        )
    if motor.efficiency is not None or motor.power_factor is not None:
        raise InputError(_WHERE, motor.name, "efficiency or power factor is missing", "both, or neither for the table")
    table_voltage_V = _table_voltage_V(supply.voltage_V)
    if supply.phases == 1:
        return single_phase_motor_table_current_A(motor.rated_power_W, table_voltage_V)
    return motor_table_current_A(motor.rated_power_W, table_voltage_V)


@sourced("motor-feeder-rule", "125 % of the largest motor, other motors, 125 % of continuous loads, other loads")
def feeder_least_ampacity_A(
    *, motor_currents_A: tuple[float, ...], continuous_A: float, noncontinuous_A: float = 0.0
) -> float:
    """Least ampacity of conductors that supply several motors and other loads.

    Equation: 1.25 I_largest + sum of the other motors + 1.25 x continuous + noncontinuous other loads.
    Args: motor_currents_A [A]: full-load current of each motor, by the table; may be empty.
        continuous_A, noncontinuous_A [A]: what is no motor; running three hours or more is continuous, and fixed
        electric heating always is.
    Returns: current [A]. The code's exceptions for interlocked or intermittent motors are not used.
    Raises: OutOfRange for a negative current.
    Source: motor-feeder-rule.
    Example: motors of 12, 11 and 6 A
        >>> feeder_least_ampacity_A(motor_currents_A=(12.0, 11.0, 6.0), continuous_A=0.0)
        32.0
    """
    for current in motor_currents_A:
        require_range("motor_currents_A", current, 0.0, None)
    require_range("continuous_A", continuous_A, 0.0, None)
    require_range("noncontinuous_A", noncontinuous_A, 0.0, None)
    largest = max(motor_currents_A, default=0.0)
    motors = sum(motor_currents_A) + (LARGEST_MOTOR_FACTOR - 1.0) * largest
    return motors + CONTINUOUS_FACTOR * continuous_A + noncontinuous_A


@sourced("motor-feeder-rule", "inverse-time breaker at 250 %, next standard size up")
def motor_largest_breaker_A(full_load_current_A: float) -> float:
    """Largest inverse-time breaker of a motor's branch circuit, unless the motor then can't start.

    Equation: the standard size at or above 2.5 I.
    Args: full_load_current_A [A]: by the table, above 0, to 2400.
    Returns: rating [A]. Fuses have factors of their own: dual-element 1.75.
    Raises: OutOfRange.
    Source: motor-feeder-rule.
    Example: 124 A, 100 hp at 460 V
        >>> motor_largest_breaker_A(124.0)
        350.0
    """
    most = _LARGEST_DEVICE_A / INVERSE_TIME_BREAKER_FACTOR
    require_range("full_load_current_A", full_load_current_A, 1.0e-3, most, "standard overcurrent devices")
    return standard_overcurrent_device_A(INVERSE_TIME_BREAKER_FACTOR * full_load_current_A)


@sourced("motor-feeder-rule", "largest motor's breaker and all other loads, rounded down")
def feeder_largest_device_A(*, motor_currents_A: tuple[float, ...], other_loads_A: float) -> float:
    """Largest standard device that may protect a feeder of motors and other loads.

    Equation: largest breaker of any one motor + the other motors + other loads, rounded down to a standard size.
    Args: motor_currents_A [A]: at least one, each above 0. other_loads_A [A]: with 125 % on what is continuous.
    Returns: rating [A]; never below the motor's own breaker.
    Raises: OutOfRange; InputError without a motor: then only the conductor limits the device.
    Source: motor-feeder-rule.
    Example: motors of 124, 124, 77 and 11 A: 350 + 212 = 562 A
        >>> feeder_largest_device_A(motor_currents_A=(124.0, 124.0, 77.0, 11.0), other_loads_A=0.0)
        500.0
    """
    if not motor_currents_A:
        raise InputError(_WHERE, "motor_currents_A", "no motor on this feeder", "at least one")
    require_range("other_loads_A", other_loads_A, 0.0, None)
    largest = max(motor_currents_A)
    sum_A = motor_largest_breaker_A(largest) + sum(motor_currents_A) - largest + other_loads_A
    require_range("feeder current in A", sum_A, 0.0, _LARGEST_DEVICE_A, "standard overcurrent devices")
    most_A = sum_A * (1.0 + 1e-9)  # a sum that is a standard size but for rounding stays
    device_A = _SMALLEST_DEVICE_A
    while device_A < _LARGEST_DEVICE_A and (above := standard_overcurrent_device_A(device_A + 1.0)) <= most_A:
        device_A = above
    return device_A


def _motor_circuit(motor: MotorLoad, supply: Supply) -> Circuit:
    current = motor_full_load_current_A(motor, supply)
    ampacity = LARGEST_MOTOR_FACTOR * current
    basis = "table of the code" if motor.efficiency is None else "efficiency and power factor"
    smallest = standard_overcurrent_device_A(ampacity)
    return Circuit(motor.name, "motor", current, ampacity, smallest, motor_largest_breaker_A(current), basis)


def _heater_circuits(heater: HeaterLoad, supply: Supply) -> list[Circuit]:
    require_range(f"{heater.name}: power_W", heater.power_W, 1.0, None)
    if heater.circuits != int(heater.circuits):
        raise OutOfRange(f"{heater.name}: circuits", heater.circuits, 1, None, "a whole number")
    require_range(f"{heater.name}: circuits", heater.circuits, 1, None)
    across = 3 if supply.phases == 3 and not heater.single_phase else 1
    current = heater.power_W / (math.sqrt(across) * supply.voltage_V) / heater.circuits
    ampacity = CONTINUOUS_FACTOR * current
    device = standard_overcurrent_device_A(ampacity)
    names = [heater.name] if heater.circuits == 1 else [f"{heater.name} {i + 1}" for i in range(heater.circuits)]
    return [Circuit(name, "heater", current, ampacity, device, None, "power over voltage") for name in names]


def _heater_line_A(heater: HeaterLoad, circuit_A: float, supply: Supply) -> float:
    """Current in the most loaded line; with single-phase circuits the line between the two fullest pairs."""
    if supply.phases == 1 or not heater.single_phase:
        return heater.circuits * circuit_A
    fullest, second = (heater.circuits + 2) // 3, (heater.circuits + 1) // 3
    return circuit_A * math.sqrt(fullest**2 + fullest * second + second**2)  # two resistive currents 60 degrees apart


def _other_circuit(load: OtherLoad, supply: Supply) -> Circuit:
    require_range(f"{load.name}: apparent_power_VA", load.apparent_power_VA, 1.0e-3, None)
    current = load.apparent_power_VA / supply.voltage_V
    ampacity = CONTINUOUS_FACTOR * current if load.continuous else current
    device = standard_overcurrent_device_A(ampacity)
    return Circuit(load.name, "other", current, ampacity, device, None, "apparent power over voltage, two lines")


def _warnings(
    heaters: tuple[HeaterLoad, ...],
    heater_currents_A: tuple[float, ...],
    smallest_A: float,
    largest_A: float | None,
    has_motor: bool,
) -> tuple[Notice, ...]:
    limit_A = CIRCUIT_CURRENT_LIMIT_A
    found = [
        Notice(
            f"{heater.name} circuit too large",
            f"{heater.name}: {{0}} on each circuit, {{1}} in all; the code subdivides resistance elements above {{2}}.",
            ((current_A, "current"), (float(heater.circuits), "count"), (limit_A, "current")),
        )
        for heater, current_A in zip(heaters, heater_currents_A, strict=True)
        if current_A > limit_A * (1.0 + 1e-9)
    ]
    if has_motor and largest_A is None:
        text = (
            "No standard size lies between the feeder's least ampacity and what its largest motor allows;"
            " {0} is the next above: the electrician decides."
        )
        found.append(Notice("no standard feeder device between", text, ((smallest_A, "current"),)))
    return tuple(found)


@sourced("motor-feeder-rule", "branch circuits and feeder")
@sourced("heater-branch-practice", "heating is continuous; subdivision; standard sizes")
@sourced("resistance-heater", "line current of a heater")
def electrical_load_table(
    *,
    supply: Supply,
    motors: tuple[MotorLoad, ...] = (),
    heaters: tuple[HeaterLoad, ...] = (),
    others: tuple[OtherLoad, ...] = (),
) -> LoadTable:
    """The unit's load table: branch circuits, and the feeder with 125 % of the largest motor and continuous loads.

    Equation: motors by table or by their own figures; heater I = P / V or P / (sqrt(3) V); other loads I = S / V in
        two lines, all counted in the same line, so the feeder is on the safe side. Single-phase heater circuits count
        as the line between the two fullest pairs carries them. Branch ampacity 1.25 I for motors, heating and
        continuous loads. Currents of motors and heaters add as numbers: power factors would make the sum less.
    Args:
        supply: stated by the site. motors, heaters, others: at least one load in all, names all different.
            A heater's circuits come from its rating (48 A each at most).
    Returns: LoadTable, with warnings and what is left to the electrician.
    Raises: InputError (no loads, a name twice, a motor that the table lacks), OutOfRange.
    Source: motor-feeder-rule, heater-branch-practice, resistance-heater.
    """
    names = [motor.name for motor in motors] + [heater.name for heater in heaters] + [load.name for load in others]
    if not names:
        raise InputError(_WHERE, "", "there is no load", "at least one motor, heater or other load")
    for name in names:
        if names.count(name) > 1:
            raise InputError(_WHERE, name, "the name stands twice", "one name for each load")
    circuits = [_motor_circuit(motor, supply) for motor in motors]
    motor_currents = tuple(circuit.current_A for circuit in circuits)
    of_heaters = [_heater_circuits(heater, supply) for heater in heaters]
    circuits.extend(circuit for its_circuits in of_heaters for circuit in its_circuits)
    heater_currents = tuple(its_circuits[0].current_A for its_circuits in of_heaters)
    heater_A = sum(map(_heater_line_A, heaters, heater_currents, (supply,) * len(heaters)))
    other_circuits = [_other_circuit(load, supply) for load in others]
    circuits.extend(other_circuits)
    pairs = list(zip(others, other_circuits, strict=True))
    continuous_A = heater_A + sum(circuit.current_A for load, circuit in pairs if load.continuous)
    noncontinuous_A = sum(circuit.current_A for load, circuit in pairs if not load.continuous)
    ampacity = feeder_least_ampacity_A(
        motor_currents_A=motor_currents, continuous_A=continuous_A, noncontinuous_A=noncontinuous_A
    )
    smallest = standard_overcurrent_device_A(ampacity)
    largest = None
    if motor_currents:
        other_loads_A = CONTINUOUS_FACTOR * continuous_A + noncontinuous_A
        by_code = feeder_largest_device_A(motor_currents_A=motor_currents, other_loads_A=other_loads_A)
        largest = by_code if by_code >= smallest else None
    motors_VA = math.sqrt(supply.phases) * supply.voltage_V * sum(motor_currents)
    return LoadTable(
        supply=supply,
        circuits=tuple(circuits),
        running_current_A=sum(motor_currents) + continuous_A + noncontinuous_A,
        apparent_power_VA=motors_VA
        + sum(heater.power_W for heater in heaters)
        + sum(load.apparent_power_VA for load in others),
        feeder_least_ampacity_A=ampacity,
        feeder_smallest_device_A=smallest,
        feeder_largest_device_A=largest,
        warnings=_warnings(heaters, heater_currents, smallest, largest, bool(motors)),
    )
