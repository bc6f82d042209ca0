"""The end of a test: shut-down, drain, clean, punch list, signatures, release to ship or handing over."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from vaporwright.acceptance.sections.set_points import AS_LEFT
from vaporwright.acceptance.sections.unit_under_test import UnitUnderTest
from vaporwright.acceptance.steps.making import (
    CHEMICAL_CAUTION,
    ENTRY_CAUTION,
    HOT_CAUTION,
    LIFT_CAUTION,
    LOCAL_CODE,
    MOVING_CAUTION,
    PRACTICE,
    tick,
    within,
    words,
)
from vaporwright.acceptance.steps.procedure import Limits, ProcedureSection, Step

DRAIN_SHARE: Final = 0.30
SIGN: Final = "finish.sign"
PUNCH: Final = "finish.punch_list"


def finish_section(under: UnitUnderTest) -> ProcedureSection:
    """Every step that this variant needs."""
    return ProcedureSection("finish", _TITLES[under.variant], tuple(_steps(under)))


_TITLES: Final = {
    "full": "Shut-down, drain, clean, release",
    "cold": "Shut-down, drain, clean, release",
    "hot on site": "Shut-down, punch list, signatures",
    "site": "Shut-down, training, handing over",
}


def _steps(under: UnitUnderTest) -> Iterator[Step]:
    yield _shut_down(under)
    if under.variant != "site":
        yield _drain(under)
        yield _clean()
    else:
        yield _training()
        yield _approvals()
    yield _as_left(under)
    yield _punch_list()
    yield _sign(under)
    if under.variant in ("full", "cold"):
        yield _ship(under)


def _shut_down(under: UnitUnderTest) -> Step:
    utility = {"gas": "gas cock", "electric": "heater's disconnect", "steam": "steam stop valve"}[under.heat]
    return Step(
        "finish.shut_down",
        "Shut-down",
        "Heat stops first, then the pump cools the heater, then the blower dries the fill.",
        ("Push stop; watch what stops when.", f"When all is still, shut and lock {utility}, water and main switch."),
        (
            tick("order", "heat, then pump, then blower, each after its run-on"),
            tick("locked", f"{utility}, water and power shut and locked"),
        ),
        15.0,
        cautions=(HOT_CAUTION, MOVING_CAUTION),
        after=("hydraulics.spray_flow",),
    )


def _drain(under: UnitUnderTest) -> Step:
    drain_s = under.built_number("weights", "drain_time_s")
    return Step(
        "finish.drain",
        "Drain",
        "What stays behind freezes, smells or rusts on the way.",
        ("Cool below hand-warm. Open the drain; clock it.", "Open every low point, pump and strainer."),
        (
            within("drain_s", "from refill-off to empty", "short duration",
                   Limits((1.0 - DRAIN_SHARE) * drain_s, (1.0 + DRAIN_SHARE) * drain_s),
                   f"tank through its drain bore, free outlet; hose and valve of the day ({PRACTICE})", "stopwatch",
                   expected=drain_s),
            tick("low_points", "pump, strainer, header, sump and every low point empty"),
            tick("tracer", "salt water went where it may go"),
        ),
        30.0,
        cautions=(HOT_CAUTION,),
        after=("finish.shut_down",),
    )  # fmt: skip


def _clean() -> Step:
    return Step(
        "finish.clean",
        "Clean and dry",
        "Salt and rust that stay start pits under way.",
        ("Rinse off the tracer with clean water; open and clean strainer and nozzles.", "Blow dry; plug openings."),
        (
            tick("rinsed", "rinsed free of salt, strainer and nozzles clean"),
            tick("dry", "dry, openings capped, desiccant in the panel"),
        ),
        30.0,
        cautions=(ENTRY_CAUTION,),
        after=("finish.drain",),
    )


def _training() -> Step:
    return Step(
        "finish.training",
        "Training of the operators",
        "Who runs it must know what hurts, what each alarm asks, and what never to bridge.",
        (
            "Let each operator start, stop and empty the unit, read it and answer two alarms.",
            "Show cleaning of rods, strainer, nozzles and heater, with everything locked out.",
            "Show what is tested how often: low-water cut-off, high limit, emergency stop.",
        ),
        (
            words("names", "operators trained"),
            tick("start_stop", "each started, stopped and emptied it alone"),
            tick("alarms", "each answered low level and over-temperature rightly"),
            tick("never", "each knows: no limit is bridged, nobody enters the tank, no other liquid goes in"),
            tick("checks", "log of periodic checks handed over"),
        ),
        120.0,
        cautions=(HOT_CAUTION, CHEMICAL_CAUTION, MOVING_CAUTION),
        by="engineer",
        after=("run.log",),
    )


def _approvals() -> Step:
    return Step(
        "finish.approvals",
        "Local approvals, by others",
        "The authority decides, not this test.",
        ("Ask for each paper and note its number; they are the customer's, and given by others.",),
        (
            words("fuel_power", "gas, boiler or electrical inspection: by whom, number"),
            words("air", "air permit or exemption: by whom, number"),
            words("waste", "waste and sewer permits: by whom, number"),
            tick("present", "all present, or on the punch list with an owner"),
        ),
        20.0,
        cautions=(LOCAL_CODE,),
        by="engineer",
    )


def _as_left(under: UnitUnderTest) -> Step:
    del under
    return Step(
        "finish.as_left",
        "As left",
        "What leaves is what was tested.",
        ("Compare set points, delays, valve marks and switch settings with the sheets once more.", "Save the program."),
        (
            tick("settings", "set points, delays and seals as on the sheets"),
            tick("valves", "spray and agitation valves at their marks"),
            tick("bridges", "no jumper, blind or test wire left"),
            words("program", "program's version and check sum"),
        ),
        15.0,
        by="engineer",
        after=(AS_LEFT,),
    )


def _punch_list() -> Step:
    return Step(
        PUNCH,
        "Punch list",
        "What is left open has a class, an owner, a date and a retest.",
        (
            "Write every open point: A before it runs or ships, B before it is handed over, C when convenient.",
            "Give each an owner, a date, and the steps to repeat.",
        ),
        (
            tick("written", "every open point listed with class, owner, date and retest"),
            tick("no_a", "no A point open"),
        ),
        20.0,
        by="engineer",
        point="witness",
    )


def _sign(under: UnitUnderTest) -> Step:
    binding = "binding only together with the hot test on site" if under.variant == "cold" else "binding"
    return Step(
        SIGN,
        "Certificate and signatures",
        "One number with its uncertainty, and who stands for it.",
        ("Read the results together.", "Sign; hand the witness the certificate, the raw data and the record's seal."),
        (
            tick("read", f"results read together; this test is {binding}"),
            tick("signed", "certificate signed by shop and witness"),
            tick("raw_data", "witness has the raw data and the record's seal"),
        ),
        20.0,
        by="engineer",
        point="witness",
        after=(PUNCH,),
    )


def _ship(under: UnitUnderTest) -> Step:
    del under
    return Step(
        "finish.ship",
        "Lifting, packing, release to ship",
        "It arrives as it was tested.",
        (
            "Lift by the marked points; fix tower, blower and panel for the road.",
            "Pack loose parts, papers, keys; label weight and centre of gravity.",
        ),
        (
            tick("fixed", "tower, blower, panel and rods fixed or packed apart"),
            tick("papers", "papers, spare parts and keys packed"),
            words("released_by", "released to ship by"),
        ),
        30.0,
        cautions=(LIFT_CAUTION,),
        by="engineer",
        point="hold",
        after=(SIGN, "finish.clean"),
    )
