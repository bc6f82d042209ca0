"""The performance run: isolated, settled, logged over hours, with rules that void it; what is seen while hot."""

from __future__ import annotations

from collections.abc import Iterator
from math import hypot
from typing import Final

from vaporwright.acceptance.guarantee.tower_code import WET_BULB_DIFFERENCE_K
from vaporwright.acceptance.run.balances import CLOSE_WITHIN
from vaporwright.acceptance.run.log import channels_for
from vaporwright.acceptance.run.steady import HOURS_AGREE_WITHIN, LEAST_STEADY_s, SETTLE_s, TANK_TREND_K_h
from vaporwright.acceptance.sections.hydraulic import AIR, AIR_SHARE, SPRAY, SPRAY_SHARE, intake_flow_m3_s
from vaporwright.acceptance.sections.opening import CONDITIONS
from vaporwright.acceptance.sections.set_points import AS_LEFT, SET_POINT_TOLERANCE_difference_K
from vaporwright.acceptance.sections.unit_under_test import UnitUnderTest
from vaporwright.acceptance.steps.making import (
    CHEMICAL_CAUTION,
    ENTRY_CAUTION,
    FAHRENHEIT_K,
    GAS_CAUTION,
    HOT_CAUTION,
    MEMORY,
    MOVING_CAUTION,
    POWER_CAUTION,
    PRACTICE,
    STEAM_CAUTION,
    about,
    about_share,
    at_least,
    at_most,
    tick,
    within,
)
from vaporwright.acceptance.steps.procedure import Limits, ProcedureSection, ReadingField, Step
from vaporwright.foundation.register import sourced
from vaporwright.unit.as_found import AsFound, as_found
from vaporwright.unit.assembly import AssembledUnit
from vaporwright.unit.balance import LIMIT_HEAT, SeasonResult, settle
from vaporwright.unit.job import SEASONS

LEAST_RUN_s: Final = 4.0 * 3600.0
LEAST_SHARE: Final = 0.95  # of the evaporation predicted
HEAT_SHARE: Final = 0.05
RANGE_SHARE: Final = 0.12
THERMOMETER_difference_K: Final = 0.5 * FAHRENHEIT_K
EXHAUST_TOLERANCE_difference_K: Final = 4.0 * FAHRENHEIT_K
WARM_UP_LONGER: Final = 1.35  # metal, piping and tower are left out of the model
MOST_TOUCH_K: Final = 333.15
MOST_SOUND_dBA: Final = 85.0
SETTLE: Final = "run.settle"
LOG: Final = "run.log"
LEAST_SETTLING_TOLERANCE_difference_K: Final = 2.0 * FAHRENHEIT_K
FILL_KNOWN_TO, HEAT_KNOWN_TO = 0.10, 0.05  # fill tests and inputs: common practice, no source
_HEAT_METERS: Final = {"gas": "gas clocked", "electric": "energy meter", "steam": "condensate weighed"}
_HEAT_CAUTIONS: Final = {"gas": GAS_CAUTION, "electric": POWER_CAUTION, "steam": STEAM_CAUTION}
_WORKED_OUT: Final = "worked out from the log, not read"


def run_section(under: UnitUnderTest) -> ProcedureSection:
    """Every step; the run itself decides by its own balances and uncertainty, this is its paper."""
    notes = [
        "Void, at once: refill or drain not isolated, a balance open beyond its limit, spray, air or heat changed by"
        " hand, a door or the weather that moves the inlet's wet bulb, less than the hours asked."
    ]
    if under.result.limit == LIMIT_HEAT:
        notes.append("Heat limits this unit: its evaporation says little of the fill, its settling temperature does.")
    return ProcedureSection("run", "Performance run", tuple(_steps(under)), " ".join(notes))


def _steps(under: UnitUnderTest) -> Iterator[Step]:
    yield _isolate(under)
    yield _warm_up(under)
    yield _settle(under)
    yield _leaks(under)
    yield _log(under)
    yield _surfaces(under)
    yield _clamp(under)
    yield _sag(under)


def _cautions(under: UnitUnderTest) -> tuple[str, ...]:
    liquor = (CHEMICAL_CAUTION,) if under.variant == "site" else ()
    return (HOT_CAUTION, MOVING_CAUTION, _HEAT_CAUTIONS[under.heat], *liquor)


def _isolate(under: UnitUnderTest) -> Step:
    wet_bulbs_K = [under.design.job.air[season].wet_bulb_temperature_K for season in SEASONS]
    reach = Limits(min(wet_bulbs_K) - WET_BULB_DIFFERENCE_K, max(wet_bulbs_K) + WET_BULB_DIFFERENCE_K)
    tracer = (
        "Dose the salt tracer, mix for ten minutes, read it."
        if under.variant != "site"
        else "Read the liquor's own conductivity as the tracer; dose nothing into the customer's liquor unasked."
    )
    return Step(
        "run.isolate",
        "Isolate and instrument",
        "A weeping valve or a thermometer in the wrong place makes hours worthless.",
        (
            "Blind or take off refill, drain, dosing, press feed and trickle feed: shutting a valve is not enough.",
            "Make-up by hand through scale or meter alone.",
            "Thermometer pair into spray and return; psychrometers at the blower's inlet and in the exhaust.",
            tracer,
            "Fix the stilling well's gauge; all level readings in the same state of the pump.",
        ),
        (
            tick("isolated", "refill, drain and every other way in or out blinded"),
            tick("placed", "thermometers where they see mixed flow; psychrometers wetted and drawn"),
            within("inlet_wet_bulb_K", "wet bulb at the blower's inlet", "temperature", reach,
                   f"no further beyond the air of the rated seasons than a correction reaches ({PRACTICE}; ATC-105's"
                   f" idea, {MEMORY})", "psychrometer", expected=under.day.wet_bulb_K),
            tick("tracer", "tracer read"),
        ),
        40.0,
        cautions=(ENTRY_CAUTION, *((CHEMICAL_CAUTION,) if under.variant == "site" else ())),
        by="engineer",
        point="witness",
        after=(CONDITIONS, SPRAY, AIR, AS_LEFT),
        hot=True,
    )  # fmt: skip


def _warm_up(under: UnitUnderTest) -> Step:
    off_s = under.today.warm_up.tower_off_s
    fields: list[ReadingField] = [tick("quiet", "no boiling noise at the heater, no hammer, no odd smell")]
    if off_s is not None and off_s > 0.0:
        fields.insert(
            0,
            at_most("warm_up_s", "from cold to working temperature, tower off", "duration", WARM_UP_LONGER * off_s,
                    "full heat into the water of the working depth, from the day's make-up; metal and piping are left"
                    f" out, a third is theirs at most ({PRACTICE})", "stopwatch", expected=1.1 * off_s),
        )  # fmt: skip
    mode = (
        "Warm-up selector on: agitation open, spray shut, blower off; heat on."
        if under.table.options.warm_up
        else "No warm-up mode: heat on with pump and blower; it takes longer, and is not timed against the model."
    )
    if not under.table.options.warm_up:
        fields = [field for field in fields if field.key != "warm_up_s"]
    return Step(
        "run.warm_up",
        "Warm-up",
        "Shows heat and losses by themselves, before the tower takes part.",
        (mode, "Note the time from cold to the predicted settling temperature.", "Then spray and blower on."),
        tuple(fields),
        max(30.0, (off_s or 3600.0) / 60.0),
        cautions=_cautions(under),
        after=("run.isolate", *_heat_first(under)),
        hot=True,
    )


def _heat_first(under: UnitUnderTest) -> tuple[str, ...]:
    """The step by which the heat is known to be what it should be."""
    return ({"gas": "burner.clocked_high", "electric": "heater.power", "steam": "steam.pressures"}[under.heat],)


@sourced("settling-tolerance", "root of the squares of the two shifts and of the thermometer")
def settling_tolerance_K(unit: AssembledUnit, result: SeasonResult) -> float:
    """How far a sound unit may settle from its prediction [K].

    Equation: sqrt(dT(Me - 10 %)^2 + dT(heat - 5 %)^2 + thermometer^2), each shift by rating the unit anew; 2 degF at
    least. A unit that sits at its clamp does not move: then the tolerance of a set point.
    """

    def shift_K(found: AsFound) -> float:
        changed, conditions = as_found(unit, result.conditions, found)
        return settle(changed, conditions, near=result).settling_temperature_K - result.settling_temperature_K

    fill_K = shift_K(AsFound(merkel_factor=1.0 - FILL_KNOWN_TO))
    heat_K = shift_K(AsFound(heat_factor=1.0 - HEAT_KNOWN_TO))
    return max(hypot(fill_K, heat_K, THERMOMETER_difference_K), LEAST_SETTLING_TOLERANCE_difference_K)


def _settle(under: UnitUnderTest) -> Step:
    points, result = under.table.points, under.result
    expected_K = result.settling_temperature_K
    tolerance_K = settling_tolerance_K(under.unit, result)
    low_K = expected_K - tolerance_K
    if result.limit != LIMIT_HEAT:
        low_K -= points.differential_difference_K
    reason = (
        "where heat and tower agree today; colder: heat short, hotter: tower short. Tolerance: what 10 % of the fill's"
        f" number and 5 % of heat move it, and the thermometer ({PRACTICE})"
    )
    return Step(
        SETTLE,
        "Settle",
        "Readings of a tank that still moves are of the tank's heat, not of the unit.",
        (
            f"Full heat, spray and blower for {SETTLE_s / 3600.0:g} h at least; nobody touches a setting.",
            "Read the tank every five minutes until an hour's change is within the limit.",
        ),
        (
            at_least("settled_s", "time with everything on", "duration", SETTLE_s,
                     f"{SETTLE_s / 3600.0:g} h at least ({PRACTICE})", "stopwatch", expected=SETTLE_s + 1800.0),
            within("hourly_difference_K", "change of the tank over the last hour", "temperature difference",
                   Limits(-TANK_TREND_K_h, TANK_TREND_K_h), f"steady to a degree Fahrenheit an hour ({PRACTICE})",
                   "thermometer", expected=0.0),
            within("tank_temperature_K", "tank", "temperature", Limits(low_K, expected_K + tolerance_K), reason,
                   "thermometer", expected=expected_K),
        ),
        SETTLE_s / 60.0 + 30.0,
        cautions=_cautions(under),
        after=("run.warm_up",),
        hot=True,
    )  # fmt: skip


def _leaks(under: UnitUnderTest) -> Step:
    return Step(
        "run.leaks",
        "Leaks, hot",
        "Joints that hold cold can open as plastic grows and gaskets soften; a leak counts as evaporation.",
        ("At working temperature look at every joint once more.",),
        (
            tick("dry", "no drop at any joint, seal, heater flange or valve"),
            tick("growth", "pipes grow freely at guides and loops; nothing bears on the pump"),
        ),
        15.0,
        cautions=_cautions(under),
        point="hold",
        after=(SETTLE,),
        hot=True,
    )


def _log(under: UnitUnderTest) -> Step:
    channels = channels_for(under.heat)
    return Step(
        LOG,
        f"Logged run, {LEAST_RUN_s / 3600.0:g} h",
        "The number that the certificate states, with its uncertainty.",
        (
            "Log every five minutes, all at one time; make-up in small portions, or weighed as it runs.",
            *(f"Log {channel.name}: {channel.label}, by {channel.instrument}." for channel in channels),
            "Look at both balances every half hour: if one is open beyond its limit, stop and look for the reason.",
            "Make-up by scale or by meter, one of the two; the stilling well and the tracer are the second way.",
            *(
                ("Gas by a meter that corrects, or by a dial with the gas's temperature and pressure.",)
                if under.heat == "gas"
                else ()
            ),
        ),
        tuple(_run_fields(under)),
        LEAST_RUN_s / 60.0,
        cautions=_cautions(under),
        by="engineer",
        point="witness",
        after=(SETTLE, "run.leaks"),
        restore="Keep the raw log; the witness takes a copy along.",
        hot=True,
    )


def _run_fields(under: UnitUnderTest) -> Iterator[ReadingField]:
    result = under.result
    operation, tower = result.operation, result.operation.tower
    evaporated_kg = result.evaporation_kg_s * LEAST_STEADY_s
    today = "predicted by the unit's model at the day's conditions"
    yield at_least("run_s", "length of the log", "duration", LEAST_RUN_s, f"4 h or more ({PRACTICE})", "stopwatch",
                   expected=LEAST_RUN_s + 600.0)  # fmt: skip
    yield at_least("evaporated_kg", "evaporated in the two steady hours, drift taken off", "mass",
                   LEAST_SHARE * evaporated_kg, f"95 % of what is {today} ({PRACTICE})", "scale",
                   expected=evaporated_kg)  # fmt: skip
    yield at_most("hours_apart", "the two hours apart, over their mean", "fraction", HOURS_AGREE_WITHIN,
                  f"{_WORKED_OUT}; two consecutive hours within 3 % ({PRACTICE})", "", expected=0.005)  # fmt: skip
    for key, label in (("water_gap", "water balance open by"), ("heat_gap", "heat balance open by")):
        yield within(key, label, "fraction", Limits(-CLOSE_WITHIN, CLOSE_WITHIN),
                     f"{_WORKED_OUT}; beyond about 7 % the run is void ({PRACTICE})", "", expected=0.0)  # fmt: skip
    range_K = operation.temperature_K - tower.rating.water_out_temperature_K
    yield about_share("range_difference_K", "tank less return", "temperature difference", range_K, RANGE_SHARE,
                      f"{today}; spray and evaporation together, a matched pair", "thermometer pair")  # fmt: skip
    yield about_share("spray_flow_m3_s", "spray flow, mean", "liquid flow", under.unit.spray_flow_m3_s, SPRAY_SHARE,
                      "as set; nobody touched the valve", "liquid flow meter")  # fmt: skip
    yield about_share("air_flow_m3_s", "air at the blower's inlet, mean", "air flow",
                      intake_flow_m3_s(under, tower), AIR_SHARE,
                      f"{today}, hot; without it fill and air cannot be told apart ({PRACTICE})",
                      "air traverse")  # fmt: skip
    yield about("exhaust_temperature_K", "exhaust air, mean", "temperature", tower.rating.air_out_temperature_K,
                EXHAUST_TOLERANCE_difference_K, f"{today}; air and fill each within their own tolerance ({PRACTICE})",
                "psychrometer")  # fmt: skip
    yield from _heat_field(under)


def _heat_field(under: UnitUnderTest) -> Iterator[ReadingField]:
    """Heat drawn over the two steady hours, by the meter of its kind."""
    drawn = under.result.fuel_or_power_W * LEAST_STEADY_s
    reason = f"full heat at the day's supply, by load where the set point holds it down ({PRACTICE})"
    label = f"{_HEAT_METERS[under.heat]} over the two steady hours"
    if under.heat == "gas":
        heating_J_m3 = under.number("gas", "gross_input_W") / under.number("gas", "gas_flow_standard_m3_s")
        yield about_share("gas_volume_standard_m3", f"{label}, at standard conditions", "standard gas volume",
                          drawn / heating_J_m3, HEAT_SHARE, reason, "gas meter")  # fmt: skip
    elif under.heat == "electric":
        yield about_share("electric_energy_J", label, "energy", drawn, HEAT_SHARE, reason, "energy meter")
    else:
        steam_kg_s = under.number("steam", "steam_flow_kg_s") * under.result.load
        yield about_share("condensate_kg", label, "mass", steam_kg_s * LEAST_STEADY_s, 2.0 * HEAT_SHARE, reason,
                          "scale")  # fmt: skip


def _surfaces(under: UnitUnderTest) -> Step:
    return Step(
        "run.surfaces",
        "Touch temperature and noise",
        "Nobody is burnt by leaning on it, nor deafened beside it.",
        ("Read the hottest surface within reach.", "Read the sound a metre from the unit, at ear height, all round."),
        (
            at_most("touch_K", "hottest surface within reach, unguarded", "temperature", MOST_TOUCH_K,
                    f"metal touched for seconds; hotter ones are guarded or labelled (ASTM C1055's idea, {MEMORY})",
                    "surface thermometer", expected=MOST_TOUCH_K - 10.0),
            at_most("sound", "loudest place at a metre", "sound level", MOST_SOUND_dBA,
                    f"a shift without ear protection; the customer's own limit counts if lower ({MEMORY})",
                    "sound level meter", expected=MOST_SOUND_dBA - 6.0),
            tick("labels", "hot surfaces that stay bare are guarded or labelled"),
            tick("exhaust", "no droplets out of the exhaust; duct drains run to a seal"),
        ),
        20.0,
        cautions=_cautions(under),
        after=(SETTLE,),
        hot=True,
    )  # fmt: skip


def _clamp(under: UnitUnderTest) -> Step:
    points = under.table.points
    settles_K = under.result.settling_temperature_K
    lowered_K = settles_K - points.differential_difference_K - 4.0 * FAHRENHEIT_K
    return Step(
        "run.clamp",
        "Set point holds the tank",
        "The set point is a clamp: the unit settles under it, and heat stops at it.",
        (
            "Lower the set point below the settled tank, to the value expected below; wait for the call to end.",
            "Watch the tank come down to it and the heat cycle twice.",
        ),
        (
            tick("off", "heat ends at once, pump and blower go on, no trip latches"),
            about("holds_K", "tank as the heat ends again, cycling", "temperature", lowered_K,
                  SET_POINT_TOLERANCE_difference_K, f"set point as lowered; thermometers ({PRACTICE})", "thermometer"),
        ),
        40.0,
        cautions=_cautions(under),
        after=(LOG,),
        restore="Set point back to the sheet; read it again.",
        hot=True,
    )  # fmt: skip


def _sag(under: UnitUnderTest) -> Step:
    sag_K = under.number("levels", "refill_sag_difference_K")
    return Step(
        "run.refill_sag",
        "Refill, hot",
        "One refill of cold water cools the tank; it must not trip anything.",
        ("Take the blinds off, refill to auto.", "Let it refill once from refill-on; read the tank before and after."),
        (
            at_most("sag_difference_K", "tank cooled by one refill", "temperature difference", 1.5 * sag_K + 1.0,
                    f"band of cold make-up mixed into the tank; mixing takes a while ({PRACTICE})",
                    "thermometer", expected=sag_K),
            tick("no_trip", "no trip, no alarm"),
        ),
        25.0,
        cautions=_cautions(under),
        after=(LOG, "run.clamp"),
        hot=True,
    )  # fmt: skip
