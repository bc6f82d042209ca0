"""The electrical side of a unit: its motors, heater and controls put into equipment.electrical_loads.

Currents and least sizes for the connection sheet; a licensed electrician and the code in force at the site decide.
What neither job, catalogue nor the shop's settings say is common practice, no source, and stands here as a constant.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from vaporwright.equipment.electric_heater import ElectricHeaterRating
from vaporwright.equipment.electrical_loads import (
    LOAD_TABLE_CAUTION,
    Circuit,
    HeaterLoad,
    LoadTable,
    MotorLoad,
    OtherLoad,
    Supply,
    electrical_load_table,
    motor_full_load_current_A,
    table_motor_rating_W,
)
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.notice import Notice
from vaporwright.properties.liquor import density_kg_m3
from vaporwright.properties.moist_air import density_kg_m3 as air_density_kg_m3
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.balance import SeasonResult, liquor_of, pump_shaft_power_W
from vaporwright.unit.catalogue import ElectricHeaterPart, GasBurnerPart
from vaporwright.unit.figures import Figure, Input, Section

KEY: Final = "electrical"
TITLE: Final = "Electrical"
PHASES: Final = 3  # utilities.supply_voltage is that of a three-phase supply
MOTOR_POWER_FACTOR: Final = 0.75  # where the code's table has no column; common practice, no source
FAN_POWER_FACTOR: Final = 0.6  # small single-phase fan motor; common practice, no source
COLD_LIQUOR_K: Final = 288.15  # at which the pump starts
TABLE: Final = "equipment.electrical_loads.electrical_load_table"
FEEDER: Final = "equipment.electrical_loads.feeder_least_ampacity_A"
FEEDER_DEVICE: Final = "equipment.electrical_loads.feeder_largest_device_A"
MOTOR: Final = "equipment.electrical_loads.motor_full_load_current_A"
MOTOR_SIZE: Final = "equipment.electrical_loads.table_motor_rating_W"
STANDARD_DEVICE: Final = "equipment.electric_heater.standard_overcurrent_device_A"
HEATER: Final = "equipment.electric_heater.rate_electric_heater"


@dataclass(frozen=True)
class _Motor:
    """A motor as it is looked up: in the code's table, or by efficiency and power factor."""

    load: MotorLoad
    rating_W: float  # as the catalogue has it


def electrical_section(answer: UnitAnswer) -> tuple[Section, LoadTable]:
    """Load table of a unit with its figures: circuits, running current, feeder.

    Raises: OutOfRange where a figure fits no circuit, such as a motor's efficiency below 30 % off the code's table.
    """
    supply = Supply(answer.job.number("utilities.supply_voltage"), PHASES)
    motors, burner_fan = _motors(answer, supply)
    practice = answer.unit.practice
    controls = (OtherLoad("controls", practice.control_power_VA),) if practice.control_power_VA > 0.0 else ()
    table = electrical_load_table(
        supply=supply,
        motors=tuple(motor.load for motor in motors),
        heaters=_heaters(answer),
        others=(*burner_fan, *controls),
    )
    figures = (
        *_supply_figures(table),
        *_feeder_figures(table),
        *_circuit_figures(answer, table, motors),
        *_heater_figures(answer, table),
        *_shaft_figures(answer),
    )
    notices = (*table.warnings, *_motor_notices(answer, motors), *_heater_notices(answer))
    return Section(KEY, TITLE, figures, notices, (LOAD_TABLE_CAUTION,)), table


def _motors(answer: UnitAnswer, supply: Supply) -> tuple[tuple[_Motor, ...], tuple[OtherLoad, ...]]:
    """Pump, blowers and a burner fan whose motor the code's table has; any other burner fan as a load of its own."""
    unit = answer.unit
    blowers = ["blower"] if unit.towers == 1 else [f"blower {number + 1}" for number in range(unit.towers)]
    motors = [
        _motor("pump", unit.pump.motor_rating_W, unit.pump.motor_efficiency, supply),
        *(_motor(name, unit.blower.motor_rating_W, unit.blower.motor_efficiency, supply) for name in blowers),
    ]
    burner = unit.heat_source
    if not isinstance(burner, GasBurnerPart) or burner.blower_power_W <= 0.0:
        return tuple(motors), ()
    fan = MotorLoad("burner fan", burner.blower_power_W)
    if _in_table(fan, supply):
        return (*motors, _Motor(fan, burner.blower_power_W)), ()
    return tuple(motors), (OtherLoad("burner fan", burner.blower_power_W / FAN_POWER_FACTOR),)


def _motor(name: str, rating_W: float, efficiency: float, supply: Supply) -> _Motor:
    table_W = table_motor_rating_W(rating_W)
    by_table = MotorLoad(name, rating_W if table_W is None else table_W)
    if _in_table(by_table, supply):
        return _Motor(by_table, rating_W)
    return _Motor(MotorLoad(name, rating_W, efficiency, MOTOR_POWER_FACTOR), rating_W)


def _in_table(motor: MotorLoad, supply: Supply) -> bool:
    try:
        motor_full_load_current_A(motor, supply)
    except InputError:
        return False
    return True


def _heaters(answer: UnitAnswer) -> tuple[HeaterLoad, ...]:
    """The electric heater with all its circuits on, whatever the site can spare: its conductors are sized for that."""
    part, rating = answer.unit.heat_source, _heater_rating(answer)
    if not isinstance(part, ElectricHeaterPart) or rating is None:
        return ()
    return (HeaterLoad("heater", rating.power_W, round(part.circuits), single_phase=part.phases == 1),)


def _heater_rating(answer: UnitAnswer) -> ElectricHeaterRating | None:
    detail = answer.seasons[answer.governing].heat.detail
    return detail if isinstance(detail, ElectricHeaterRating) else None


def _key_of(circuit: str) -> str:
    return f"{circuit.replace(' ', '_')}_current_A"


def _currents(table: LoadTable) -> tuple[Input, ...]:
    return tuple(Input(f"{KEY}.{_key_of(circuit.name)}", circuit.current_A, "current") for circuit in table.circuits)


def _supply_figures(table: LoadTable) -> tuple[Figure, ...]:
    currents = _currents(table)
    volts = Input("utilities.supply_voltage", table.supply.voltage_V, "voltage")
    return (
        Figure(
            "supply_voltage_V",
            table.supply.voltage_V,
            "voltage",
            "of the job, three phases",
            (volts,),
            label="supply voltage, three phases",
        ),
        Figure(
            "running_current_A",
            table.running_current_A,
            "current",
            "full-load currents in the most loaded line, added as numbers: power factors would make the sum less",
            currents,
            (TABLE,),
            "running current",
        ),
        Figure(
            "apparent_power",
            f"{table.apparent_power_VA / 1000.0:.1f} kVA",
            "text",
            "motors: root 3 x V x I; heater: its power; the rest as stated",
            (volts, *currents),
            (TABLE,),
            "apparent power",
        ),
        Figure(
            "circuit_count",
            float(len(table.circuits)),
            "count",
            "motors, heater circuits, controls",
            label="branch circuits",
        ),
    )


def _feeder_figures(table: LoadTable) -> tuple[Figure, ...]:
    currents = _currents(table)
    least = Input(f"{KEY}.feeder_least_ampacity_A", table.feeder_least_ampacity_A, "current")
    return (
        Figure(
            "feeder_least_ampacity_A",
            table.feeder_least_ampacity_A,
            "current",
            "1.25 x largest motor + other motors + 1.25 x heater, controls and whatever else is continuous",
            currents,
            (FEEDER,),
            "feeder conductors carry at least",
        ),
        Figure(
            "feeder_smallest_device_A",
            table.feeder_smallest_device_A,
            "current",
            "standard size at or above the feeder's least ampacity",
            (least,),
            (STANDARD_DEVICE,),
            "feeder fuse or breaker, at least",
        ),
        Figure(
            "feeder_largest_device_A",
            table.feeder_largest_device_A,
            "current",
            "breaker of the largest motor + other motors + 1.25 x continuous loads, rounded down to a standard size",
            currents,
            (FEEDER_DEVICE,),
            "feeder fuse or breaker, at most",
            "no standard size fits: the electrician decides",
        ),
    )


def _heater_figures(answer: UnitAnswer, table: LoadTable) -> tuple[Figure, ...]:
    part, rating = answer.unit.heat_source, _heater_rating(answer)
    electric = isinstance(part, ElectricHeaterPart)
    ground_fault = Figure(
        "ground_fault_protection",
        "required on every heater circuit" if electric else "no electric heater",
        "text",
        "electricity in and around water kills; the code in force decides on the device",
        label="ground-fault protection of heaters",
    )
    if not isinstance(part, ElectricHeaterPart) or rating is None:
        return (ground_fault,)
    return (
        Figure(
            "heater_power_W",
            rating.power_W,
            "power",
            "rated power x (supply voltage / rated voltage)^2, all circuits on",
            (
                Input("rated power", part.rated_power_W, "power"),
                Input("rated voltage", part.rated_voltage_V, "voltage"),
                Input("utilities.supply_voltage", table.supply.voltage_V, "voltage"),
            ),
            (HEATER,),
            "heater, all circuits on",
        ),
        ground_fault,
    )


def _circuit_figures(answer: UnitAnswer, table: LoadTable, motors: tuple[_Motor, ...]) -> tuple[Figure, ...]:
    by_name = {motor.load.name: motor for motor in motors}
    return tuple(
        _circuit_figure(answer, table.supply, circuit, by_name.get(circuit.name)) for circuit in table.circuits
    )


def _circuit_figure(answer: UnitAnswer, supply: Supply, circuit: Circuit, motor: _Motor | None) -> Figure:
    volts = Input("utilities.supply_voltage", supply.voltage_V, "voltage")
    functions: tuple[str, ...] = (TABLE,)
    inputs: tuple[Input, ...]
    if motor is not None:
        equation, inputs = _motor_law(motor)
        functions = (MOTOR, MOTOR_SIZE)
    elif circuit.kind == "heater":
        equation = "power of the circuit / (root 3 x V); / V where it stands between two lines"
        inputs = (Input("electrical.heater_power_W", _heaters(answer)[0].power_W, "power"),)
    elif circuit.name == "controls":
        equation = "apparent power / V, between two lines"
        inputs = (Input("practice.control_power_VA", f"{answer.unit.practice.control_power_VA:.0f} VA", "text"),)
    else:
        equation = "electric power / (power factor x V), between two lines; power factor: common practice, no source"
        burner = answer.unit.heat_source
        assert isinstance(burner, GasBurnerPart)
        inputs = (
            Input("electric power of the fan", burner.blower_power_W, "power"),
            Input("power factor", FAN_POWER_FACTOR, "ratio"),
        )
    return Figure(
        _key_of(circuit.name),
        circuit.current_A,
        "current",
        equation,
        (*inputs, volts),
        functions,
        f"{circuit.name}, full load",
    )


def _motor_law(motor: _Motor) -> tuple[str, tuple[Input, ...]]:
    rating = Input("rated power of the motor", motor.rating_W, "power")
    if motor.load.efficiency is None or motor.load.power_factor is None:
        looked_up = Input("size in the table, its own or the next above", motor.load.rated_power_W, "power")
        return "table of the electrical code by size and system voltage", (rating, looked_up)
    return (
        "rated power / (root 3 x V x efficiency x power factor): the code's table lacks this size or voltage; power"
        " factor: common practice, no source",
        (
            rating,
            Input("efficiency of the motor", motor.load.efficiency, "fraction"),
            Input("power factor", motor.load.power_factor, "ratio"),
        ),
    )


def _blower_shaft_W(answer: UnitAnswer) -> tuple[float, str]:
    """Greatest shaft power of one blower and when: running, or starting on air as cold as its intake's."""
    asked: list[tuple[float, str]] = []
    for season, result in answer.seasons.items():
        running_W = result.operation.tower.blower_shaft_power_W
        asked.append((running_W, season))
        if answer.unit.tower.blower_after_fill:
            asked.append((running_W * _cold_over_running(result), f"{season}, tank still cold"))
    return max(asked)


def _cold_over_running(result: SeasonResult) -> float:
    """Density of the intake's air over that which the blower handles while the tower is hot; power goes with it."""
    tower = result.operation.tower
    intake = air_density_kg_m3(
        tower.air_in_temperature_K, tower.air_in_humidity_ratio_kg_kg, result.conditions.pressure_Pa
    )
    return intake / tower.blower_density_kg_m3


def _pump_shaft_W(answer: UnitAnswer) -> float:
    density = density_kg_m3(liquor_of(answer.job, end_of_batch=True), COLD_LIQUOR_K)
    return pump_shaft_power_W(answer.unit, density)


def _shaft_figures(answer: UnitAnswer) -> tuple[Figure, ...]:
    unit = answer.unit
    blower_W, when = _blower_shaft_W(answer)
    return (
        Figure(
            "blower_shaft_power_W",
            blower_W,
            "power",
            f"greatest over the seasons ({when}); goes with the density of the air that the blower handles",
            (Input("blower motor", unit.blower.motor_rating_W, "power"),),
            ("equipment.blower.blower_shaft_power_W",),
            "shaft power of each blower, greatest",
        ),
        Figure(
            "pump_shaft_power_W",
            _pump_shaft_W(answer),
            "power",
            "density x g x head x flow / efficiency at its duty point, cold liquor at the end of a batch",
            (
                Input("pump motor", unit.pump.motor_rating_W, "power"),
                Input("head at the duty point", unit.pump.head_m, "length"),
                Input("flow at the duty point", unit.pump.flow_m3_s, "liquid flow"),
            ),
            ("equipment.pump.pump_head_m", "equipment.pump.pump_efficiency"),
            "shaft power of the pump at its duty",
        ),
    )


def _motor_notices(answer: UnitAnswer, motors: tuple[_Motor, ...]) -> tuple[Notice, ...]:
    unit = answer.unit
    blower_W, when = _blower_shaft_W(answer)
    asked = (
        ("blower", blower_W, unit.blower.motor_rating_W),
        ("pump", _pump_shaft_W(answer), unit.pump.motor_rating_W),
    )
    found = [
        Notice(
            f"{name} motor too small",
            f"The {name} takes {{0}} at its shaft{f' ({when})' if name == 'blower' else ''}, its motor is rated {{1}}.",
            ((shaft_W, "power"), (rating_W, "power")),
        )
        for name, shaft_W, rating_W in asked
        if shaft_W > rating_W
    ]
    for motor in motors:
        if motor.load.efficiency is not None and motor.load.power_factor is not None:
            text = (
                f"{motor.load.name}: the electrical code's table has no motor of {{0}} at this voltage. Its current is"
                " from efficiency {1} and power factor {2} (common practice, no source): the nameplate decides."
            )
            figures = (
                (motor.rating_W, "power"),
                (motor.load.efficiency, "fraction"),
                (motor.load.power_factor, "ratio"),
            )
            found.append(Notice(f"{motor.load.name} motor not in the code's table", text, figures))
    return tuple(found)


def _heater_notices(answer: UnitAnswer) -> tuple[Notice, ...]:
    rating, limit_W = _heater_rating(answer), answer.job.optional("utilities.electric_limit")
    if rating is None or limit_W is None:
        return ()
    seasons = answer.seasons.values()
    motors_W = max(result.blower_power_W + result.pump_power_W for result in seasons)
    if limit_W < rating.power_W:
        text = (
            "The site can spare {0} for heat, the heater takes {1}: hold it down with circuits left off or a limiter."
        )
        return (Notice("heater above the electric limit", text, ((limit_W, "power"), (rating.power_W, "power"))),)
    if limit_W < rating.power_W + motors_W:
        text = (
            "The site can spare {0} for heat; heater and motors together take {1}: ask whether the motors come out of"
            " that as well."
        )
        figures = ((limit_W, "power"), (rating.power_W + motors_W, "power"))
        return (Notice("heater and motors above the electric limit", text, figures),)
    return ()
