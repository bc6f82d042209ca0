"""Water and air, unheated: spray, header, agitation, return, sump, drawdown, refill, overflow, blower."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from vaporwright.acceptance.sections.electrical import ROTATION
from vaporwright.acceptance.sections.level import FILL
from vaporwright.acceptance.sections.opening import COLD_LEAK
from vaporwright.acceptance.sections.unit_under_test import UnitUnderTest
from vaporwright.acceptance.steps.making import (
    CHEMICAL_CAUTION,
    HOT_CAUTION,
    MOVING_CAUTION,
    PRACTICE,
    INCH_m,
    about,
    about_share,
    at_most,
    tick,
    within,
    words,
)
from vaporwright.acceptance.steps.procedure import Limits, ProcedureSection, ReadingField, Step
from vaporwright.foundation.errors import InputError
from vaporwright.properties.moist_air import specific_volume_m3_kg
from vaporwright.unit.air_path import TowerRating

SPRAY: Final = "hydraulics.spray_flow"
AIR: Final = "hydraulics.air_flow"
SPRAY_SHARE: Final = 0.05
HEADER_SHARE: Final = 0.10  # flow goes with its root
AGITATION_SHARE: Final = 0.20
AIR_SHARE: Final = 0.10
STATIC_SHARE: Final = 0.20  # pressure goes with the square of the flow
DRAWDOWN_TOLERANCE_m: Final = 0.5 * INCH_m
SUMP_TOLERANCE_m: Final = 1.0 * INCH_m
REFILL_SHARE: Final = 0.10
REFILL_TIME_SHARE: Final = 0.25
CLOCKED_s: Final = 120.0


def hydraulic_section(under: UnitUnderTest) -> ProcedureSection:
    """Every step."""
    return ProcedureSection("hydraulics", "Water and air", tuple(_steps(under)))


def _steps(under: UnitUnderTest) -> Iterator[Step]:
    yield _spray(under)
    yield _leaks(under)
    yield _agitation(under)
    yield _return(under)
    yield _drawdown(under)
    yield _refill(under)
    yield _overflow(under)
    yield _air(under)


def _spray(under: UnitUnderTest) -> Step:
    circuit = under.cold_circuit
    if not circuit.reaches_spray:
        problem = "pump and pipes do not reach it with the valve wide open"
        raise InputError("procedure", "hydraulics.spray_flow_m3_s", problem, "a unit that reaches its spray flow")
    return Step(
        SPRAY,
        "Spray flow, header pressure, valve",
        "Evaporation is rated at this flow; header pressure and a handle mark bring it back after every cleaning.",
        (
            "Strainer clean, level between the refill rods, blower on.",
            "Turn the spray valve until the flow meter shows the flow; mark the handle against its plate.",
            "Read the header's gauge; look through the hatch at every nozzle.",
        ),
        (
            about_share("spray_flow_m3_s", "spray, all towers together", "liquid flow", under.unit.spray_flow_m3_s,
                        SPRAY_SHARE, f"flow at which the unit is rated; set by its valve ({PRACTICE})",
                        "liquid flow meter"),
            about_share("header_gauge_Pa", "header", "gauge pressure", circuit.flows.header_gauge_Pa,
                        HEADER_SHARE,
                        "nozzles at that flow on the day's cold water, and the air's pressure in the tower; flow goes"
                        f" with its root ({PRACTICE})", "pressure gauge"),
            tick("mark", "handle marked against its plate; the position is not read in degrees"),
            tick("nozzles", "every nozzle sprays a full cone, no dry patch on the fill, nothing blows out"),
            tick("suction", "no air drawn in at the suction, pump quiet"),
            words("mark_place", "where the mark is", needed=False),
        ),
        25.0,
        cautions=(MOVING_CAUTION, *((HOT_CAUTION, CHEMICAL_CAUTION) if under.variant == "site" else ())),
        point="witness",
        after=(ROTATION, FILL),
        restore="Leave the valve as marked.",
    )  # fmt: skip


def _leaks(under: UnitUnderTest) -> Step:
    del under
    return Step(
        "hydraulics.leaks",
        "Leaks with the pump running",
        "Header, return and seal hold under pressure.",
        ("Look at each joint from pump to header, at sump, return and mechanical seal.",),
        (tick("dry", "no drop at any joint or seal"), tick("tower", "nothing runs or blows out of tower and duct")),
        10.0,
        after=(COLD_LEAK, SPRAY),
    )


def _agitation(under: UnitUnderTest) -> Step:
    flow_m3_s = under.cold_circuit.flows.agitation_flow_m3_s
    return Step(
        "hydraulics.agitation",
        "Agitation branch",
        "Still corners settle out and boil on the heater.",
        ("With the spray as set, read the branch's flow.", "Look at the surface in every corner."),
        (
            about_share("agitation_flow_m3_s", "agitation branch", "liquid flow", flow_m3_s, AGITATION_SHARE,
                        f"pump's curve on this circuit, branch valve as set; shares are not critical ({PRACTICE})",
                        "liquid flow meter"),
            tick("moves", "water moves in every corner and over the heater"),
        ),
        10.0,
        cautions=(MOVING_CAUTION,),
        after=(SPRAY,),
    )  # fmt: skip


def _return(under: UnitUnderTest) -> Step:
    head_m = under.number("return", "sump_head_m")
    depth_m = under.unit.tower.sump_depth_m
    in_air = under.built_text("return", "return_kind") == "outlet in air"
    ends = tick("outlet", "mouth of the return stands in air, water falls free" if in_air else
                "downcomer ends under the surface, its vent breathes")  # fmt: skip
    return Step(
        "hydraulics.return",
        "Gravity return and sump",
        "A return that gulps air surges, and a sump that fills drowns the blower.",
        ("Run pump and blower for ten minutes.", "Look into the sump; listen along the return.", "Stop; look again."),
        (
            ends,
            within("sump_head_m", "water over the mouth in the sump", "short length",
                   Limits(0.0, min(head_m + SUMP_TOLERANCE_m, depth_m)),
                   f"head that passes the spray, an inch of waves, never over the sump's wall ({PRACTICE})", "rule",
                   expected=head_m),
            tick("steady", "flow is steady: no gulping, no surging, no backing up into the fill"),
            tick("empties", "pump off: sump and return run empty"),
        ),
        20.0,
        cautions=(MOVING_CAUTION,),
        point="witness",
        after=(SPRAY,),
    )  # fmt: skip


def _drawdown(under: UnitUnderTest) -> Step:
    drawn_m = under.design.job.number("choices.drain_back")
    reason = f"what pipe, header and tower hold, over the tank; that of this unit shows now ({PRACTICE})"

    def moved(key: str, label: str) -> ReadingField:
        return about(key, label, "short length", drawn_m, DRAWDOWN_TOLERANCE_m, reason, "level gauge")

    return Step(
        "hydraulics.drawdown",
        "Drawdown at a start, drain-back at a stop",
        "A start must not trip low level, a stop must not trip high.",
        (
            "Refill off. Bring the level to refill-on, pump off; read the stilling well.",
            "Start the pump; read when it has settled. Stop; read again when all has run back.",
            "Do the stop once more from refill-off.",
        ),
        (
            moved("drawdown_m", "level falls at the start by"),
            moved("drain_back_m", "level rises at the stop by"),
            tick("low", "the start from refill-on does not trip low level"),
            tick("high", "the stop at refill-off does not trip high level"),
        ),
        25.0,
        cautions=(MOVING_CAUTION,),
        after=(SPRAY,),
        restore="Refill to auto.",
    )


def _refill(under: UnitUnderTest) -> Step:
    refill_m3_s = under.design.job.number("choices.refill_flow")
    band_m3 = under.built_number("levels", "refill_volume_m3")
    return Step(
        "hydraulics.refill",
        "Refill: flow, time, second valve",
        "The run timer is made for this flow, and one stuck valve must not flood the floor.",
        (
            "Open the refill by hand; meter two minutes of it.",
            "Let it fill by itself from refill-on to refill-off; clock it.",
            "Hold the first valve open: the second shuts at the high rod.",
        ),
        (
            about_share("metered_m3", "make-up of two minutes", "volume", refill_m3_s * CLOCKED_s, REFILL_SHARE,
                        f"refill flow of the job; the supply's pressure wanders ({PRACTICE})", "water meter"),
            about_share("fill_s", "from refill-on to refill-off", "short duration", band_m3 / refill_m3_s,
                        REFILL_TIME_SHARE,
                        "volume between the rods over that flow, nothing evaporating; flow, and an eighth of an inch at"
                        f" either rod of a narrow band ({PRACTICE})", "stopwatch"),
            tick("second", "second valve shuts by itself at the high rod"),
            tick("air_gap", "make-up ends in free air above the rim"),
        ),
        30.0,
        after=(FILL,),
        restore="Refill to auto.",
    )  # fmt: skip


def _overflow(under: UnitUnderTest) -> Step:
    lip_m, rim_m = under.level_m("overflow"), under.level_m("rim")
    return Step(
        "hydraulics.overflow",
        "Overflow",
        "The last way out carries more than the refill brings, with freeboard left.",
        (
            "Hold the refill open past the high-high switch, pump off, somebody at the valve.",
            "Wait until the level stands still; read it.",
        ),
        (
            within("stands_m", "level stands at, refill full open", "short length",
                   Limits(lip_m - 0.125 * INCH_m, lip_m + 0.5 * (rim_m - lip_m)),
                   f"over the lip of the overflow and under half of the way to the rim ({PRACTICE})", "level gauge",
                   expected=min(lip_m + 0.5 * INCH_m, lip_m + 0.25 * (rim_m - lip_m))),
            tick("carries", "all of it leaves by the overflow, to the place drawn"),
            tick("gap", "the make-up's outlet stays clear of the water"),
        ),
        20.0,
        point="witness",
        after=("hydraulics.refill",),
        restore="Shut the refill, drain to between refill-on and refill-off.",
    )  # fmt: skip


def _air(under: UnitUnderTest) -> Step:
    tower = under.cold_tower
    together = "" if under.unit.towers == 1 else ", all blowers together"
    return Step(
        AIR,
        "Air flow, spray running",
        "Fill and air cannot be told apart by evaporation alone: the air is measured.",
        (
            "Spray as set, eliminator in, duct as it stands today.",
            "Traverse the blower's inlet; read its static pressure at the casing's tap.",
        ),
        (
            about_share("air_flow_m3_s", f"air at the blower's inlet{together}", "air flow",
                        intake_flow_m3_s(under, tower), AIR_SHARE,
                        f"blower's curve on this tower, at the day's air and barometer; traverse ({PRACTICE})",
                        "air traverse"),
            about_share("static_Pa", "static pressure of the blower", "pressure", tower.blower_static_pressure_Pa,
                        STATIC_SHARE, f"the same; goes with the flow's square ({PRACTICE})", "manometer"),
            tick("eliminator", "no droplets leave the eliminator"),
            at_most("vibration_sound", "sound beside the blower", "sound level", 95.0,
                    f"above, ear protection and a second look at balance and bearings ({PRACTICE})",
                    "sound level meter", expected=82.0),
        ),
        40.0,
        cautions=(MOVING_CAUTION,),
        point="witness",
        after=(ROTATION, SPRAY),
    )  # fmt: skip


def intake_flow_m3_s(under: UnitUnderTest, tower: TowerRating) -> float:
    """Air that all blowers draw together, as their intakes have it: colder and drier than the exhaust that a blower
    behind the fill handles."""
    towers = under.unit.towers
    if not under.unit.tower.blower_after_fill:
        return towers * tower.blower_flow_m3_s
    volume_m3_kg = specific_volume_m3_kg(
        tower.air_in_temperature_K, tower.air_in_humidity_ratio_kg_kg, under.day.pressure_Pa
    )
    return towers * tower.dry_air_flow_kg_s * volume_m3_kg
