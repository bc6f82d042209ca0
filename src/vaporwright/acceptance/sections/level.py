"""Rods: each cut as worked out and dipped once, in order; then all of them, and the independent switches, by level."""

from __future__ import annotations

from typing import Final

from vaporwright.acceptance.sections.electrical import POWER_ON
from vaporwright.acceptance.sections.opening import COLD_LEAK
from vaporwright.acceptance.sections.unit_under_test import UnitUnderTest
from vaporwright.acceptance.steps.making import (
    CHEMICAL_CAUTION,
    POWER_CAUTION,
    PRACTICE,
    INCH_m,
    about,
    tick,
    within,
)
from vaporwright.acceptance.steps.procedure import Limits, ProcedureSection, ReadingField, Step
from vaporwright.equipment.level_rods import MarkName, RodCut

ROD_TOLERANCE_m: Final = 0.125 * INCH_m
# Rod, seat and tank add up, and the rising water heaps up at a tip before it wets it.
SWITCHING_TOLERANCE_m: Final = 0.25 * INCH_m
FILL: Final = "rods.rising_level"
CUT_OFF: Final = "rods.low_water_cut_off"
_SWITCHED: Final[tuple[MarkName, ...]] = ("low", "refill-on", "refill-off", "high")


def rods_section(under: UnitUnderTest) -> ProcedureSection:
    """One step a rod, from the longest, then relay, then level."""
    ordered = sorted(under.stack.rods, key=lambda rod: rod.tip_height_m)
    steps = [_rod(under, rod) for rod in ordered]
    return ProcedureSection(
        "rods",
        "Level rods and level switches",
        (*steps, _relay(), _rising(under), _cut_off(under)),
        "Rods control, they do not protect: the independent low-water cut-off and the high-high switch do.",
    )


def _key(name: str) -> str:
    return name.replace(" ", "_").replace("-", "_")


def _rod(under: UnitUnderTest, rod: RodCut) -> Step:
    assert rod.cut_length_m is not None  # levels in conflict make no procedure
    length = about(
        "insertion_m",
        "from the holder's seat to the tip",
        "short length",
        rod.cut_length_m,
        ROD_TOLERANCE_m,
        f"seat of the holder less height of the tip, from the level stack-up; cut to this ({PRACTICE})",
        "rule",
    )
    if rod.name == "reference":
        dipped: tuple[ReadingField, ...] = (
            tick("earth", "joined to the relay's common terminal, and to the tank where that is metal"),
        )
    else:
        dipped = (
            tick("wet", f"dipped: the {rod.name} input turns wet, and no other"),
            tick("dry", f"lifted out: the {rod.name} input turns dry, and no other"),
        )
    return Step(
        f"rods.{_key(rod.name)}",
        f"{rod.name.capitalize()} rod",
        "The right rod hangs at the right height on the right input.",
        (
            "Lift the holder out and measure the rod.",
            "Dip this rod's tip and the reference into a beaker of "
            + ("the liquor." if under.variant == "site" else "the tank's water."),
            "Watch the inputs in the control.",
        ),
        (length, *dipped),
        6.0,
        cautions=(CHEMICAL_CAUTION,) if under.variant == "site" else (),
        after=(POWER_ON,),
        restore="Wipe the rod, put the holder back onto its seat.",
    )


def _relay() -> Step:
    return Step(
        "rods.relay",
        "Rod relay and broken wires",
        "A broken wire reads dry; what reads wet when dry is the dangerous fault, and no relay finds it.",
        (
            "Note the relay's sensitivity setting.",
            "With the rods wet, open the reference's wire: every rod reads dry.",
            "Dry and wipe the holder between the rods: no rod reads wet.",
        ),
        (
            tick("set", f"sensitivity as on the set-point sheet, usual 10 to 100 kΩ ({PRACTICE})"),
            tick("broken", "reference open: every rod reads dry"),
            tick("wiped", "holder wet with drops: no rod reads wet"),
        ),
        10.0,
        cautions=(POWER_CAUTION,),
        by="electrician",
        after=tuple(f"rods.{_key(name)}" for name in ("reference", *_SWITCHED)),
        restore="Close the reference's wire.",
    )


def _rising(under: UnitUnderTest) -> Step:
    reason = (
        "level stack-up; rod, seat and tank add up, and water heaps up at a tip before it wets it: twice the tolerance"
        f" of the cut ({PRACTICE})"
    )

    def level(key: str, label: str, height_m: float) -> ReadingField:
        return about(key, label, "short length", height_m, SWITCHING_TOLERANCE_m, reason, "level gauge")

    fields = [level(f"{_key(name)}_m", f"{name} rod wets at", under.level_m(name)) for name in
              _SWITCHED]  # fmt: skip
    return Step(
        FILL,
        "All rods by a rising level",
        "In the tank, in order, at the heights that the papers show.",
        (
            "Drain below the low rod; pump and blower off.",
            "Fill slowly by hand; at each input that turns, stop and read the level in the stilling well.",
            "Go on slowly to the high-high switch.",
        ),
        (
            *fields,
            level("high_high_m", "high-high switch opens at", under.level_m("high-high")),
            tick("order", "in order: low, refill-on, refill-off, high, high-high"),
        ),
        35.0,
        point="witness",
        after=(COLD_LEAK, "rods.relay"),
        restore="Drain to between refill-on and refill-off.",
    )


def _cut_off(under: UnitUnderTest) -> Step:
    heater_m, low_m = under.level_m("heater top"), under.level_m("low")
    reason = "must open while the heater is covered, and below the low rod that comes first: from the level stack-up"
    return Step(
        CUT_OFF,
        "Independent low-water cut-off",
        "The last guard against a tank boiled dry: another principle, hard-wired, manual reset.",
        (
            "Lock the heat out.",
            "Drain slowly past the low rod; read the level at which the cut-off opens.",
            "Try to start with it open; fill again; try to start before its reset is pushed.",
        ),
        (
            within("opens_m", "cut-off opens at", "short length", Limits(heater_m, low_m, proven=True), reason,
                   "level gauge", expected=0.5 * (heater_m + low_m)),
            tick("string", "limit string is open at its end, whatever the control says"),
            tick("reset", "stays open until its own reset is pushed by hand"),
        ),
        25.0,
        cautions=("Heat locked out throughout: the heater must never fire or glow while it may be bare.",),
        point="hold",
        after=(FILL,),
        restore="Fill to between refill-on and refill-off; reset the cut-off.",
    )  # fmt: skip
