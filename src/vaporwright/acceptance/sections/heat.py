"""The heat: burner by the qualified technician, electric heater by the electrician, or steam coil.

What needs no fire, current or steam comes first and belongs to a cold test too. Safety times are proven against the
limit that the code sets, less the stopwatch's uncertainty; they are never made a match to a setting.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from vaporwright.acceptance.sections.burner import burner_steps
from vaporwright.acceptance.sections.electrical import LINES, load_table
from vaporwright.acceptance.sections.full_heat import FULL_HEAT, TANK_MEANWHILE, CLOCKED_s
from vaporwright.acceptance.sections.level import CUT_OFF
from vaporwright.acceptance.sections.set_points import HIGH_LIMIT
from vaporwright.acceptance.sections.unit_under_test import UnitUnderTest
from vaporwright.acceptance.steps.making import (
    HOT_CAUTION,
    LOCAL_CODE,
    MEMORY,
    POWER_CAUTION,
    PRACTICE,
    STEAM_CAUTION,
    about_share,
    at_least,
    at_most,
    tick,
    within,
)
from vaporwright.acceptance.steps.procedure import Limits, ProcedureSection, ReadingField, Step
from vaporwright.equipment.steam_coil import SteamCoilRating
from vaporwright.foundation.errors import InputError, require_range
from vaporwright.foundation.register import sourced
from vaporwright.unit.catalogue import ElectricHeaterPart, GasBurnerPart
from vaporwright.unit.heat import rate_heat

POWER_SHARE: Final = 0.05
STEAM_SHARE: Final = 0.10
WEIGHED_UNDER_difference_K: Final = 15.0 / 1.8  # under the set point: a tank that rises for ten minutes stays below
WEIGHED_WITHIN_difference_K: Final = 5.0 / 1.8
STEAM_PRESSURE_SHARE: Final = 0.05
COLDER_RESISTANCE, HIGHER_RESISTANCE = 0.05, 0.10
LEAST_HEATER_INSULATION_ohm: Final = 1.0e6


def heat_section(under: UnitUnderTest) -> ProcedureSection:
    """The section of the unit's kind of heat."""
    before = (CUT_OFF, HIGH_LIMIT)
    if isinstance(under.unit.heat_source, GasBurnerPart):
        return ProcedureSection("burner", "Burner, by a qualified person", tuple(burner_steps(under, before)))
    if isinstance(under.unit.heat_source, ElectricHeaterPart):
        return ProcedureSection(
            "heater", "Electric heater", tuple(_heater_steps(under, under.unit.heat_source, before))
        )
    return ProcedureSection("steam", "Steam coil and condensate", tuple(_steam_steps(under, before)))


@sourced("balanced-heater", "line to line resistance of a balanced load, star or delta alike")
def heater_line_resistance_ohm(*, power_W: float, voltage_V: float, phases: int) -> float:
    """Resistance between two terminals of a heater circuit [ohm].

    Equation: R = 2 V^2 / P on three phases, star or delta alike; R = V^2 / P on one.
    Args: power_W [W] of the circuit at voltage_V [V] between lines; phases: 1 or 3.
    Raises: OutOfRange; InputError for other phases.
    Example: 18 kW at 480 V on three phases
        >>> heater_line_resistance_ohm(power_W=18000.0, voltage_V=480.0, phases=3)
        25.6
    """
    require_range("power_W", power_W, 1.0, 1.0e7, "heater circuit")
    require_range("voltage_V", voltage_V, 100.0, 1000.0, "low voltage")
    if phases not in (1, 3):
        raise InputError("heater", "phases", f"{phases}", "1 or 3")
    return (2.0 if phases == 3 else 1.0) * voltage_V**2 / power_W


def _heater_steps(under: UnitUnderTest, part: ElectricHeaterPart, before: tuple[str, ...]) -> Iterator[Step]:
    yield _heater_dead(part)
    yield _ground_fault(before)
    yield _heater_power(under, part, before)


def _heater_dead(part: ElectricHeaterPart) -> Step:
    circuits = round(part.circuits)
    expected_ohm = heater_line_resistance_ohm(
        power_W=part.rated_power_W / circuits, voltage_V=part.rated_voltage_V, phases=round(part.phases)
    )
    limits = Limits((1.0 - COLDER_RESISTANCE) * expected_ohm, (1.0 + HIGHER_RESISTANCE) * expected_ohm)
    reason = (
        "from rated power and voltage, the same in star and delta; elements are made to +5 / -10 % of their power"
        f" ({MEMORY})"
    )
    pairs = (("12", "1 to 2"), ("23", "2 to 3"), ("31", "3 to 1")) if round(part.phases) == 3 else (("12", "1 to 2"),)
    fields: list[ReadingField] = []
    for number in range(1, circuits + 1):
        for key, label in pairs:
            fields.append(
                within(f"circuit_{number}_{key}_ohm", f"circuit {number}, {label}", "resistance", limits, reason,
                       "continuity tester", expected=expected_ohm)
            )  # fmt: skip
        fields.append(
            at_least(f"circuit_{number}_insulation_ohm", f"circuit {number}, to earth, sheaths in water",
                     "insulation resistance", LEAST_HEATER_INSULATION_ohm,
                     f"damp elements are dried out first; 1 MΩ at 500 V dc ({MEMORY})", "insulation tester",
                     expected=50.0 * LEAST_HEATER_INSULATION_ohm)
        )  # fmt: skip
    return Step(
        "heater.dead",
        "Elements: resistance and insulation",
        "A broken element or a damp one shows before power does.",
        ("Prove dead and lock out; open the links to the contactor.", "Measure between terminals, then each to earth."),
        tuple(fields),
        10.0 + 5.0 * circuits,
        cautions=(POWER_CAUTION,),
        by="electrician",
        point="hold",
        after=("electrical.insulation",),
        restore="Close the links, covers on.",
    )


def _ground_fault(before: tuple[str, ...]) -> Step:
    return Step(
        "heater.ground_fault",
        "Ground-fault protection",
        "A cracked sheath makes the liquor live.",
        ("Push the test button of every heater circuit's protection.", "Read its setting."),
        (
            tick("trips", "every circuit trips; heat stays off until reset by hand"),
            tick("setting", "set as the drawing has it, for equipment protection at least"),
            tick("alarm", "the control shows it"),
        ),
        10.0,
        cautions=(POWER_CAUTION, LOCAL_CODE),
        by="electrician",
        point="witness",
        after=("heater.dead", *before),
        restore="Reset.",
    )


def _heater_power(under: UnitUnderTest, part: ElectricHeaterPart, before: tuple[str, ...]) -> Step:
    volts = under.day.supply_voltage_V
    power_W = under.number("electrical", "heater_power_W")
    reason = f"rated current at the day's {volts:.0f} V: power goes with its square ({PRACTICE})"
    fields: list[ReadingField] = [
        about_share("energy_J", "energy in 10 minutes, all circuits on", "energy", power_W * CLOCKED_s, POWER_SHARE,
                    f"rated power times the square of the day's {volts:.0f} V over the rated; meter and elements"
                    f" ({PRACTICE})", "energy meter"),
    ]  # fmt: skip
    for circuit in load_table(under).circuits:
        if circuit.kind != "heater":
            continue
        lines = LINES if round(part.phases) == 3 else ("1",)
        for line in lines:
            fields.append(
                about_share(f"{circuit.name.replace(' ', '_')}_line_{line}_A", f"{circuit.name}, line {line}",
                            "current", circuit.current_A, POWER_SHARE, reason, "clamp ammeter")
            )  # fmt: skip
    return Step(
        "heater.power",
        "Power and currents of the heater",
        "Expected evaporation follows from this power.",
        ("Cover the heater, run pump and blower, call for all the heat.", "Read lines, meter and volts."),
        (
            *fields,
            about_share("voltage_V", "voltage meanwhile, mean of the lines", "voltage", volts, 0.03,
                        "as entered for the day; else issue the procedure again", "voltmeter"),
            tick("stages", "circuits come on and go off as drawn; contactors quiet"),
        ),
        25.0,
        cautions=(POWER_CAUTION, HOT_CAUTION),
        by="electrician",
        point="witness",
        after=("heater.dead", "heater.ground_fault", *before),
        hot=True,
    )  # fmt: skip


def _steam_steps(under: UnitUnderTest, before: tuple[str, ...]) -> Iterator[Step]:
    yield Step(
        "steam.cold",
        "Coil, valve and trap, without steam",
        "The coil is tight, the valve shuts by itself, and a coil that cools never pulls liquor in.",
        (
            "Put air of low pressure on the coil under water; look for bubbles.",
            "Take current and air off the valve: it shuts; watch its position switch.",
            "Lift the vacuum breaker's disc.",
        ),
        (
            tick("tight", "no bubbles from coil, joints and tank wall"),
            tick("shuts", "valve shuts without current, switch follows"),
            tick("breaker", "vacuum breaker free, close to the coil's inlet, its vent in a safe place"),
            tick("leg", "trap below the coil with its drain leg; condensate runs down all the way, no lift"),
        ),
        25.0,
        cautions=("Air under pressure throws what comes loose: low pressure, stand aside.",),
        after=("electrical.power_on",),
        restore="Air off and vented.",
    )
    yield _steam_pressures(under, before)
    yield _condensate(under)
    yield Step(
        "steam.cooling",
        "Cooling coil, condensate's way",
        "Liquor in a cooling coil ends in somebody's boiler.",
        ("Shut the steam with the coil hot.", "Listen at the vacuum breaker; watch trap and receiver.",
         "Take a sample of the condensate."),
        (
            tick("breaker", "vacuum breaker draws air as the coil cools, and shuts with steam"),
            tick("drains", "coil drains; no hammer when steam comes back"),
            tick("diverted", "condensate goes where the drawing shows; suspect condensate never to the boiler"),
            tick("clean", "sample is clear, without colour, foam or smell"),
        ),
        15.0,
        cautions=(STEAM_CAUTION,),
        after=("steam.condensate",),
        hot=True,
    )  # fmt: skip


def _steam_pressures(under: UnitUnderTest, before: tuple[str, ...]) -> Step:
    coil_Pa = under.number("steam", "steam_gauge_Pa")
    stroke_s = under.table.delays["steam_valve_s"]
    return Step(
        "steam.pressures",
        "Steam pressure, stroke of the valve",
        "Heat goes with the pressure at the coil, not at the boiler.",
        (
            "Warm the line slowly, drain it, then open fully.",
            "Read the gauge at the coil with the valve fully open.",
            "Clock the valve from no call to shut.",
        ),
        (
            about_share("coil_gauge_Pa", "at the coil, valve open", "gauge pressure", coil_Pa, STEAM_PRESSURE_SHARE,
                        f"pressure of the day as entered; gauge and line ({PRACTICE})", "pressure gauge"),
            at_most("stroke_s", "valve shut after", "delay", stroke_s,
                    "the control waits no longer before it complains", "stopwatch", expected=0.5 * stroke_s,
                    proven=True),
            tick("trap", "trap passes condensate and no live steam"),
            tick("quiet", "no hammer"),
        ),
        25.0,
        cautions=(STEAM_CAUTION,),
        after=("steam.cold", *before),
        hot=True,
    )  # fmt: skip


def _weighed_at_K(under: UnitUnderTest) -> float:
    """Tank temperature for weighing: where it settles, but far enough under the set point for steam throughout."""
    highest_K = under.table.points.set_point_K - WEIGHED_UNDER_difference_K
    return min(under.result.settling_temperature_K, highest_K)


def _condensate(under: UnitUnderTest) -> Step:
    tank_K = _weighed_at_K(under)
    coil = rate_heat(under.unit.heat_source, under.result.conditions.heat_site, tank_K).detail
    assert isinstance(coil, SteamCoilRating)
    return Step(
        FULL_HEAT["steam"].step,
        "Condensate weighed",
        "Condensate is the heat meter of a coil. A tank at its set point has its steam going on and off: only here is"
        " full steam seen, and the prediction for the site rests on it.",
        (
            "Near the temperature below, and rising, with the valve fully open throughout, lead the condensate into"
            " cold water on the scale. If the set point is near, let the tank cool first, heat off.",
            "Weigh ten minutes of it, and read the tank halfway. A valve that shuts meanwhile: weigh again.",
        ),
        (
            within(TANK_MEANWHILE, "tank, halfway through the weighing", "temperature",
                   Limits(tank_K - WEIGHED_WITHIN_difference_K, tank_K + WEIGHED_WITHIN_difference_K),
                   f"a coil gives about 1 % less for each kelvin that the tank is hotter ({PRACTICE})", "thermometer",
                   expected=tank_K),
            about_share(FULL_HEAT["steam"].field, "condensate of ten minutes", "mass",
                        coil.condensate_flow_kg_s * CLOCKED_s, STEAM_SHARE,
                        f"coil at the day's pressure in a tank of that temperature; its coefficient is known to about"
                        f" this ({PRACTICE})", "scale"),
            tick("open", "valve fully open throughout"),
        ),
        20.0,
        cautions=(STEAM_CAUTION, "Hot condensate flashes: lead it under the surface of cold water."),
        point="witness",
        after=("steam.pressures",),
        hot=True,
    )  # fmt: skip
