"""On site: what transport can change, and the utilities as found."""

from __future__ import annotations

from collections.abc import Iterator

from vaporwright.acceptance.sections.electrical import LINES, MOST_EARTH_ohm, motors
from vaporwright.acceptance.sections.level import ROD_TOLERANCE_m, SWITCHING_TOLERANCE_m
from vaporwright.acceptance.sections.unit_under_test import UnitUnderTest
from vaporwright.acceptance.steps.making import (
    GAS_CAUTION,
    LIFT_CAUTION,
    LOCAL_CODE,
    MEMORY,
    MOVING_CAUTION,
    POWER_CAUTION,
    PRACTICE,
    STEAM_CAUTION,
    about,
    about_share,
    at_most,
    tick,
    within,
    words,
)
from vaporwright.acceptance.steps.procedure import Limits, ProcedureSection, ReadingField, Step
from vaporwright.unit.catalogue import GasBurnerPart, SteamCoilPart

REFILL_SHARE = 0.15
OPENING_SHARE = 0.90


def transport_section(under: UnitUnderTest) -> ProcedureSection:
    """What a lorry, a crane and another fitter may have changed."""
    return ProcedureSection("transport", "After transport and installation", tuple(_transport(under)))


def utilities_section(under: UnitUnderTest) -> ProcedureSection:
    """What the site gives, as found."""
    return ProcedureSection("utilities", "Utilities as found", tuple(_utilities(under)))


def _transport(under: UnitUnderTest) -> Iterator[Step]:
    yield Step(
        "transport.condition",
        "Condition, levelling, joints",
        "A crack or a loose flange shows before water comes.",
        ("Walk round with the shop's record and photographs.", "Level the unit; tighten every flange and union."),
        (
            tick("whole", "no dent, crack or loose part; packing and transport locks removed"),
            tick("level", "level both ways, standing on all its feet, on a floor that bears it full"),
            tick("joints", "flanges and unions tightened, seals whole"),
            tick("entry", "signs and permit rules for the confined space in place"),
        ),
        30.0,
        cautions=(LIFT_CAUTION,),
    )
    yield Step(
        "transport.wiring",
        "Terminals, earth, rotation",
        "Terminals shake loose, and another supply turns motors backwards.",
        ("Lock out; pull at every power wire; measure the earth from the site's terminal to the tank.",
         "Bump each motor and watch its shaft."),
        (
            tick("tight", "terminals tight, plugs home"),
            at_most("earth_ohm", "site's earth to tank", "resistance", MOST_EARTH_ohm,
                    f"as in the shop's test (IEC 60204-1's idea, {MEMORY})", "continuity tester",
                    expected=0.3 * MOST_EARTH_ohm),
            *(tick(motor.key, f"{motor.name} turns as its arrow shows") for motor in motors(under)),
        ),
        30.0,
        cautions=(POWER_CAUTION, MOVING_CAUTION, LOCAL_CODE),
        by="electrician",
        point="hold",
        after=("utilities.power",),
    )  # fmt: skip
    yield _rods_again(under)
    yield Step(
        "transport.leaks",
        "First filling, leaks",
        "Joints that held in the shop may not after the road.",
        (
            "Fill to the high rod with clean water; run the pump; look at every joint.",
            "Leave it for an hour; look again.",
        ),
        (tick("still", "no drop after an hour"), tick("running", "no drop with the pump running")),
        30.0,
        after=("transport.condition", "transport.wiring"),
    )
    yield Step(
        "transport.guards",
        "Guards once more: stop, cut-off, high limit",
        "What protects people is tried again where people will stand.",
        ("Push each emergency stop.", "Open the low-water cut-off and the high limit by their test buttons or hands.",
         "Take each device of the limit string out of its place once, as the drawing allows."),
        (
            tick("stop", "each emergency stop: all stops, heat's utility shuts"),
            tick("cut_off", "low-water cut-off: string open, stays until its own reset"),
            tick("high_limit", "high limit: the same"),
            tick("string", "every other device of the string: the same"),
            tick("signals", "customer's own signals and remote stops act as drawn"),
        ),
        40.0,
        cautions=(POWER_CAUTION, MOVING_CAUTION, LOCAL_CODE),
        by="electrician",
        point="hold",
        after=("transport.wiring", "transport.leaks"),
        restore="Everything reset and back in place.",
    )  # fmt: skip


def _rods_again(under: UnitUnderTest) -> Step:
    holder_m = under.level_m("rod holder")
    fields: list[ReadingField] = [
        about("holder_m", "seat of the rod holder above the low corner", "short length", holder_m, ROD_TOLERANCE_m,
              "level stack-up; the seat may have been bent", "rule"),
        about("low_m", "low rod wets at", "short length", under.level_m("low"), SWITCHING_TOLERANCE_m,
              f"level stack-up, as in the shop's test ({PRACTICE})", "level gauge"),
    ]  # fmt: skip
    return Step(
        "transport.rods",
        "Rods once more",
        "A bent seat or a swapped plug shifts every level.",
        ("Measure the seat.", "Fill slowly past the low rod; watch that the inputs come in order."),
        (*fields, tick("order", "inputs come in order as the level rises")),
        20.0,
        after=("transport.wiring",),
    )


def _utilities(under: UnitUnderTest) -> Iterator[Step]:
    job = under.design.job
    volts = under.day.supply_voltage_V
    yield Step(
        "utilities.power",
        "Electrical supply",
        "Power of heaters goes with the voltage's square.",
        ("Read all three voltages at the main switch.", "Ask for the fault current; compare with the panel's rating."),
        (
            *(about_share(f"volts_{line}_V", f"voltage at line {line} to the next", "voltage", volts, 0.05,
                          f"supply as entered for the day ({PRACTICE})", "voltmeter") for line in LINES),
            words("fault_current", "fault current stated by"),
            tick("rating", "the panel's short-circuit rating is no less"),
            tick("protection", "feeder, protection and disconnect as on the connection sheet"),
        ),
        20.0,
        cautions=(POWER_CAUTION, LOCAL_CODE),
        by="electrician",
        point="hold",
    )  # fmt: skip
    yield Step(
        "utilities.water_drain",
        "Make-up, drain, overflow",
        "The run timer is made for one refill flow.",
        ("Meter two minutes of make-up.", "Pour a bucket into drain and overflow lines; see where it comes out."),
        (
            about_share("metered_m3", "make-up of two minutes", "volume", job.number("choices.refill_flow") * 120.0,
                        REFILL_SHARE, f"refill flow of the job; else set it or change the timer ({PRACTICE})",
                        "water meter"),
            tick("air_gap", "air gap or backflow preventer as the water code asks"),
            tick("drain", "drain and overflow free, to the place agreed"),
        ),
        20.0,
        cautions=(LOCAL_CODE,),
    )  # fmt: skip
    yield _exhaust(under)
    heat = _heat_utility(under)
    if heat is not None:
        yield heat


def _exhaust(under: UnitUnderTest) -> Step:
    fields = [
        tick("duct", "duct pitched, drained by seals, supported, tight"),
        tick("discharge", "discharge clear of intakes, walkways and neighbours; cap as drawn"),
    ]
    opening_m2 = under.built_number("room", "opening_area_m2")
    if opening_m2 > 0.0:
        fields.append(
            within("opening_m2", "free opening for the blower's air", "area", Limits(OPENING_SHARE * opening_m2, None),
                   "keeps the room near outdoor pressure: flues spill otherwise; measured by tape, net of louvres", "",
                   expected=opening_m2)
        )  # fmt: skip
    return Step(
        "utilities.exhaust",
        "Exhaust duct, make-up air of the room",
        "A starved blower evaporates less, and pulls flue gas into the room.",
        ("Follow the duct from tower to cap.", "Measure the free openings of the room."),
        tuple(fields),
        25.0,
    )


def _heat_utility(under: UnitUnderTest) -> Step | None:
    part = under.unit.heat_source
    if isinstance(part, GasBurnerPart):
        return Step(
            "utilities.gas",
            "Gas supply, flue, combustion air",
            "The train bears the pressure at rest and gets enough at full fire.",
            ("See the gas line's test paper.", "Read the pressure at rest before the train.", "Follow the flue."),
            (
                within("at_rest_gauge_Pa", "gas at rest, before the train", "pressure",
                       Limits(part.train_lowest_gauge_Pa, part.train_highest_gauge_Pa),
                       "between the lowest and the highest inlet pressure of the train", "manometer",
                       expected=under.number("gas", "gas_at_rest_gauge_Pa")),
                tick("line", "gas line tested by its fitter, paper seen"),
                tick("flue", "flue as drawn, by a qualified fitter"),
                tick("air", "openings for combustion air as on the connection sheet"),
            ),
            25.0,
            cautions=(GAS_CAUTION,),
            by="burner technician",
            point="hold",
        )  # fmt: skip
    if isinstance(part, SteamCoilPart):
        return Step(
            "utilities.steam",
            "Steam supply, condensate",
            "Heat goes with the pressure; a coil bears only so much.",
            ("Read the reduced pressure.", "Follow the condensate to where it goes."),
            (
                within("steam_gauge_Pa", "steam at the stop valve", "gauge pressure",
                       Limits(0.9 * under.number("steam", "steam_gauge_Pa"), part.highest_gauge_pressure_Pa),
                       f"pressure of the day, at most what the coil bears ({PRACTICE})", "pressure gauge",
                       expected=under.number("steam", "steam_gauge_Pa")),
                tick("safety_valve", "safety valve behind the reducer, sealed, piped to a safe place"),
                tick("condensate", "condensate line falls all the way; suspect condensate is not returned"),
            ),
            20.0,
            cautions=(STEAM_CAUTION,),
            by="engineer",
            point="hold",
        )  # fmt: skip
    return None
