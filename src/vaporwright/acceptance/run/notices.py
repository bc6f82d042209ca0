"""What a performance run has to say in words: why it is void or not yet steady, and what to check first.

The figures stand apart from the words (foundation.notice), so that the edge prints them in the reader's units.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from vaporwright.acceptance.run.averages import COVERAGE
from vaporwright.acceptance.run.balances import Closure
from vaporwright.acceptance.run.evaporation import Agreement, TracerResult
from vaporwright.acceptance.run.log import Measured
from vaporwright.acceptance.run.steady import HOURS_AGREE_WITHIN, Hours, Steadiness
from vaporwright.foundation.notice import Notice

CHECK_FIRST: Final[Mapping[str, tuple[str, ...]]] = {
    "make-up": (
        "scale or meter of the make-up against one weighed drum",
        "leaks, a drain or fill valve that passes, a second way for water to enter",
        "gauge and connection of the stilling well",
    ),
    "heat, gas": (
        "gas clocked again, with its pressure and temperature correction; heating value from the supplier",
        "stack thermometer and analyser: false air, wet probe, calibration (by a qualified person)",
        "scale or a wet flue: heat that the stack does not show",
    ),
    "heat, electric": (
        "energy meter: transformer ratio, all phases (by a qualified electrician)",
        "heat that goes elsewhere: another load on the meter, bare lines, wet insulation",
    ),
    "heat, steam": (
        "condensate: trap that blows through, flash steam lost before the drum, wet steam",
        "pressure gauge at the coil",
    ),
    "spray": (
        "spray flow meter; agitation branch and by-pass against their marks",
        "both thermometers of the range in one bath; that in the return before the liquor mixes",
    ),
    "air": (
        "air traverse: every point, instrument, density; leaks between traverse and fill",
        "wicks and air speed at both psychrometers; exhaust sampled across the duct, out of the wet",
    ),
}


def open_balances(closures: tuple[Closure, ...]) -> tuple[Notice, ...]:
    """Balances that void a run, each with its two sides."""
    notices = []
    for closure in closures:
        if closure.one is None or closure.other is None:
            continue
        text = f"The balance of {closure.key} does not close: {{0}} against {{1}}"
        figures = [(closure.one, closure.quantity), (closure.other, closure.quantity)]
        if closure.difference is not None:
            text += ", apart by {2} with an uncertainty of {3}"
            figures += [
                (abs(closure.difference.value), "fraction"),
                (COVERAGE * closure.difference.standard_uncertainty, "fraction"),
            ]
        notices.append(Notice(f"balance open: {closure.key}", text + ".", tuple(figures)))
    return tuple(notices)


def contradiction_notice(error: Exception) -> Notice:
    """That readings cannot all be true; the error's own words, in SI."""
    words = str(error).replace("{", "{{").replace("}", "}}")
    return Notice("readings contradict", f"Readings cannot all be true: {words}.")


def moving_notices(found: Steadiness) -> tuple[Notice, ...]:
    """What is still moving."""
    return tuple(
        Notice(
            f"moving: {entry.channel}",
            f"Still moving: {entry.label}, {{0}} an hour; at most {{1}}.",
            ((entry.an_hour.value, entry.quantity), (entry.limit, entry.quantity)),
        )
        for entry in found.moving
    )


def hours_notice(hours: Hours | None) -> tuple[Notice, ...]:
    """That the last two hours disagree."""
    if hours is None or hours.agree:
        return ()
    text = "The last two hours disagree by {0}; they must agree within {1}: {2}, then {3}."
    figures = (
        (abs(hours.difference), "fraction"),
        (HOURS_AGREE_WITHIN, "fraction"),
        (hours.first_kg_s.value, "evaporation"),
        (hours.second_kg_s.value, "evaporation"),
    )
    return (Notice("hours disagree", text, figures),)


def departure_notices(departures: tuple[str, ...]) -> tuple[Notice, ...]:
    """That the test lay too far from its stated conditions."""
    return tuple(Notice("departure", f"Test conditions beyond their stated limits: {name}.") for name in departures)


def leak_notices(tracer: TracerResult | None) -> tuple[Notice, ...]:
    """That more leaves as liquid than the design says."""
    if tracer is None or not tracer.leak_suspected:
        return ()
    text = (
        "The tracer says that {0} ± {1} leave as liquid, where the design's drift is {2}: look for a leak, carry-over"
        " at the eliminator, a drain that passes. It was taken off the evaporation."
    )
    lost = tracer.lost_kg_s
    figures = (
        (lost.value, "evaporation"),
        (COVERAGE * lost.standard_uncertainty, "evaporation"),
        (tracer.design_kg_s, "evaporation"),
    )
    return (Notice("leak suspected", text, figures),)


def level_notices(by_level: Measured | None, agreement: Agreement | None) -> tuple[Notice, ...]:
    """That the two ways to the evaporation disagree."""
    if by_level is None or agreement is None or agreement.agrees:
        return ()
    text = (
        "Evaporation by the level's fall is {0}, apart from that by make-up by {1}, where both leave {2} open: check"
        " the make-up's meter, the isolation of refill and drain, the gauge."
    )
    figures = (
        (by_level.value, "evaporation"),
        (abs(agreement.difference.value), "evaporation"),
        (COVERAGE * agreement.difference.standard_uncertainty, "evaporation"),
    )
    return (Notice("level and make-up disagree", text, figures),)
