"""Set points and delays, found and left; thermometer, high limit and heater guard tried where they act."""

from __future__ import annotations

import math
from typing import Final

from vaporwright.acceptance.sections.electrical import POWER_ON
from vaporwright.acceptance.sections.unit_under_test import UnitUnderTest
from vaporwright.acceptance.steps.making import (
    FAHRENHEIT_K,
    HOT_CAUTION,
    LOCAL_CODE,
    PRACTICE,
    about,
    tick,
    within,
    words,
)
from vaporwright.acceptance.steps.procedure import Limits, ProcedureSection, ReadingField, Step
from vaporwright.controls.delays import DELAYS, REFILL_RUN

SET_POINT_TOLERANCE_difference_K: Final = 2.0 * FAHRENHEIT_K
DISPLAY_STEP_difference_K: Final = 0.5 * FAHRENHEIT_K  # a display's last digit: common practice, no source
FOUND_MAY_BE_OFF_difference_K: Final = 60.0 * FAHRENHEIT_K
AS_LEFT: Final = "set_points.left"
LEFT_SET_POINT: Final = "left_set_point_K"
HIGH_LIMIT: Final = "set_points.high_limit"
_BATH: Final = (
    "Put the bulb and the reference thermometer into one stirred bath of water or oil, heated outside the tank.",
    "Warm it slowly through the point, about one degree a minute at the end.",
)


def set_points_section(under: UnitUnderTest) -> ProcedureSection:
    """Thermometer, what acts at its temperature, and the sheet of what is left."""
    steps = (
        _thermometer(under),
        _acting(under),
        _high_limit(under),
        _heater_guard(under),
        _left(under),
        _delays(under),
    )
    return ProcedureSection("set_points", "Set points, found and left", steps)


def _thermometer(under: UnitUnderTest) -> Step:
    error_K = under.table.points.thermometer_error_difference_K
    reason = "what the deviation alarm allows between the control's thermometer and another's"

    def against(key: str, label: str) -> ReadingField:
        return about(key, label, "temperature difference", 0.0, error_K, reason, "thermometer")

    return Step(
        "set_points.thermometer",
        "The control's thermometer",
        "Every set point is as good as the thermometer behind it.",
        (
            "Read the control's thermometer beside the reference in one stirred bath: cold, and near the set point.",
            "Open its wire: the heat is off and an alarm stands; close it again.",
        ),
        (
            against("cold_difference_K", "control less reference, cold bath"),
            against("hot_difference_K", "control less reference, near the set point"),
            tick("broken", "wire open: heat off, alarm"),
        ),
        25.0,
        cautions=(HOT_CAUTION,),
        point="witness",
        after=(POWER_ON,),
        restore="Put the thermometer back into its well, with paste or oil, and seal it.",
    )


def _acts(key: str, label: str, at_K: float, why: str, highest_K: float = math.inf) -> ReadingField:
    """A temperature at which something acts, within its tolerance and never over the highest one."""
    reason = f"{why}; thermometer, bath and display together ({PRACTICE})"
    limits = _under(highest_K, at_K, SET_POINT_TOLERANCE_difference_K)
    return within(key, label, "temperature", limits, reason, "thermometer", expected=at_K)


def _under(highest_K: float, at_K: float, tolerance_K: float) -> Limits:
    """About a temperature, but not over the highest; a setting that is the highest keeps a digit of the display."""
    return Limits(at_K - tolerance_K, min(at_K + tolerance_K, max(highest_K, at_K + DISPLAY_STEP_difference_K)))


def _acting(under: UnitUnderTest) -> Step:
    points = under.table.points
    again_K = points.set_point_K - points.differential_difference_K
    return Step(
        "set_points.acting",
        "Temperatures at which the control acts",
        "The control does at each temperature what the sheet says.",
        (
            "Lock the heat out, so that only the call for heat is seen.",
            *_BATH,
            "Read the reference as each effect comes, then let the bath cool past the set point.",
        ),
        (
            _acts("heat_off_K", "call for heat ends at", points.set_point_K, f"set point, under {points.clamp_part}"),
            _acts("alarm_K", "deviation alarm at", points.deviation_alarm_K,
                  "differential, overshoot and thermometer error over the set point at least"),
            _acts("pump_stops_K", "pump stops at", points.plastic_limit_K, f"limit of {points.plastic_part}"),
            _acts("heat_on_K", "call for heat again, cooling, at", again_K, "set point less differential"),
        ),
        40.0,
        cautions=(HOT_CAUTION,),
        after=("set_points.thermometer",),
        restore="Thermometer back into its well, heat's lock off, trips reset.",
    )  # fmt: skip


def _high_limit(under: UnitUnderTest) -> Step:
    points = under.table.points
    return Step(
        HIGH_LIMIT,
        "High limit, hard-wired",
        "It opens the string by itself, with the control dead, and stays open until a hand resets it.",
        (*_BATH, "Read the reference as the contact opens; cool the bath well below, then push its reset."),
        (
            _acts("opens_K", "high limit opens at", points.high_limit_K,
                  "over clamp and deviation alarm, never over the plastic", points.plastic_limit_K),
            tick("string", "limit string is open at its end"),
            tick("manual", "cooled: stays open until its own reset is pushed"),
            tick("own_bulb", "a device of its own with its own bulb, not the control's thermometer"),
        ),
        20.0,
        cautions=(HOT_CAUTION, LOCAL_CODE),
        point="hold",
        after=("set_points.acting",),
        restore="Bulb back into the tank, clamped; limit reset; setting sealed.",
    )  # fmt: skip


def _heater_guard(under: UnitUnderTest) -> Step:
    guard = {
        "gas": "over-temperature device of the immersion tube",
        "electric": "over-temperature device of the heater's sheaths",
        "steam": "steam safety valve and pressure reducer",
    }[under.heat]
    if under.heat == "steam":
        fields = (
            tick("valve", "safety valve sealed, set at or under the coil's highest pressure, piped to a safe place"),
            tick("reducer", "reducer set to the pressure on the sheet, locked"),
        )
        actions = ("Read plate and seal of the safety valve.", "Read the setting of the reducer.")
    else:
        fields = (
            tick("string", "its contact opened by its test button or bulb: limit string open"),
            tick("manual", "stays open until its own reset is pushed"),
        )
        actions = ("Open it by its test button, or warm its bulb outside the tank.", "Push its reset.")
    return Step(
        "set_points.heater_guard",
        guard[:1].upper() + guard[1:],
        "It sees a bare or scaled heater, or too much pressure, when the tank's thermometer sees nothing.",
        actions,
        (*fields, words("setting", "setting, as its maker's sheet has it")),
        10.0,
        cautions=(LOCAL_CODE,),
        after=(HIGH_LIMIT,),
        restore="Reset; setting sealed.",
    )


def _left(under: UnitUnderTest) -> Step:
    points = under.table.points
    rows = (
        ("set_point_K", "set point", points.set_point_K),
        ("deviation_alarm_K", "deviation alarm", points.deviation_alarm_K),
        ("high_limit_K", "high limit, by its dial", points.high_limit_K),
        ("plastic_limit_K", "pump stops at", points.plastic_limit_K),
    )
    fields: list[ReadingField] = []
    kept = "as displayed; kept, not judged: what is left counts"
    sheet = "as displayed; the set-point sheet, to a digit of the display or a mark of the dial"
    for key, label, at_K in rows:
        wide = Limits(at_K - FOUND_MAY_BE_OFF_difference_K, at_K + FOUND_MAY_BE_OFF_difference_K)
        step_K = SET_POINT_TOLERANCE_difference_K if key == "high_limit_K" else DISPLAY_STEP_difference_K
        left = _under(points.plastic_limit_K, at_K, step_K)
        fields += [
            within(f"found_{key}", f"{label}, found", "temperature", wide, kept, "", expected=at_K),
            within(f"left_{key}", f"{label}, left", "temperature", left, sheet, "", expected=at_K),
        ]
    differential_K = points.differential_difference_K
    fields.append(
        about("left_differential_K", "differential of the heat, left", "temperature difference", differential_K,
              DISPLAY_STEP_difference_K, "as displayed; the set-point sheet, to a digit of the display", "")
    )  # fmt: skip
    return Step(
        AS_LEFT,
        "Temperatures, found and left",
        "What is shipped is what was tested; the sheet goes with the certificate.",
        (
            "Read each setting as found.",
            "Put right what is off, then read it as left.",
            "Seal dials, lock the display.",
        ),
        tuple(fields),
        15.0,
        by="engineer",
        point="witness",
        after=("set_points.acting", HIGH_LIMIT),
    )


def _delays(under: UnitUnderTest) -> Step:
    delays = under.table.delays
    named = [(delay.name, delay.title) for delay in DELAYS
             if delay.only_for in ("", under.heat) and not delay.of_safeguard]  # fmt: skip
    named.append((REFILL_RUN, "refill run timer"))
    scan_s = under.table.design.scan_s
    return Step(
        "set_points.delays",
        "Delays of the control, as left",
        "Their timing is measured in the rows of the table; here the settings are kept.",
        ("Read each setting in the control.", "The burner's safety times are read at the safeguard, not here."),
        tuple(
            about(f"left_{name}", f"{title}, left", "delay", delays[name], max(scan_s, 0.05 * delays[name]),
                  "as displayed; the set-point sheet, to a scan of the control or 5 %", "")
            for name, title in named
        ),
        10.0,
        by="engineer",
        after=(AS_LEFT,),
    )  # fmt: skip
