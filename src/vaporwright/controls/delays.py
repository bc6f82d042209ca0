"""The delays of a unit's table, each with its range and its reason.

All are timers of the table, in whole scans, except the safety times. Those belong to the burner safeguard and are set
there; the table only has to know how long it must wait before it may complain. A shop that wants a delay outside the
range given here writes it into its table file, where it stands in its own hand.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from vaporwright.foundation.errors import InputError, OutOfRange, require_range
from vaporwright.foundation.register import sourced
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.figures import Figure, Section
from vaporwright.unit.levels import levels_of, refill_of

REFILL_RUN: Final = "refill_run_s"
LONGEST_REFILL_s: Final = 4.0 * 3600.0


@dataclass(frozen=True)
class Delay:
    """One delay: what it is for, its usual value and the range in which a shop may set it."""

    name: str
    title: str
    default_s: float
    low_s: float
    high_s: float
    why: str
    of_safeguard: bool = False  # a safety time: set at the burner safeguard, at most this long, never made here
    only_for: str = ""  # "gas", "electric" or "steam"


DELAYS: Final = (
    Delay("airflow_proving_s", "airflow proving", 10.0, 5.0, 15.0,
          "the blower is up to speed and the switch has stopped fluttering"),
    Delay("airflow_loss_s", "loss of airflow, filter", 2.5, 2.0, 3.0,
          "a gust must not stop the unit, and the plastic stands hot liquor without air for seconds"),
    Delay("airflow_missing_s", "airflow does not come", 30.0, 16.0, 60.0,
          "twice the longest proving time: belt, rotation or duct is at fault"),
    Delay("blower_coast_down_s", "blower coasts down", 60.0, 20.0, 180.0,
          "only then must the airflow switch be open again; until it is, the blower does not start"),
    Delay("pump_proving_s", "flow proving", 15.0, 10.0, 20.0, "the pump is primed and its header is full"),
    Delay("flow_loss_s", "loss of flow, filter", 3.0, 2.0, 5.0, "a bubble must not stop the unit"),
    Delay("flow_missing_s", "flow does not come", 30.0, 21.0, 60.0, "lost prime, shut valve or plugged nozzles"),
    Delay("rod_dry_s", "rod reads dry", 4.0, 3.0, 5.0, "waves, and the drawdown when the pump starts"),
    Delay("rod_wet_s", "rod reads wet", 1.5, 1.0, 2.0, "splashes; shorter, as what follows closes the refill"),
    Delay("rods_disagree_s", "rods disagree", 10.0, 5.0, 60.0, "longer than any rod takes to follow the level"),
    Delay("over_temperature_s", "deviation alarm", 10.0, 5.0, 60.0,
          "heat is off at once; the trip waits, so that a set point lowered by hand does not latch it while typing"),
    Delay("thermometer_s", "temperature trips, filter", 1.0, 0.5, 3.0, "a disturbed reading is not a hot tank"),
    Delay("limit_string_s", "limit string, filter", 4.0, 3.5, 10.0,
          "heat is off at once; the record waits longer than any device's own row, so that it names the device"),
    Delay("tube_cool_down_s", "pump cools the heater", 120.0, 60.0, 180.0,
          "the heater holds heat that would boil standing liquor onto it; longer than any post-purge"),
    Delay("blower_run_on_s", "blower runs on", 120.0, 60.0, 180.0, "the wet fill is blown cool before air stops"),
    Delay("pre_purge_s", "pre-purge", 30.0, 15.0, 30.0,
          "at least four volumes of chamber and tube", of_safeguard=True, only_for="gas"),
    Delay("ignition_s", "trial for ignition", 15.0, 1.0, 15.0,
          "gas flows unlit for no longer", of_safeguard=True, only_for="gas"),
    Delay("flame_failure_s", "flame failure response", 4.0, 0.8, 4.0,
          "gas flows unlit for no longer", of_safeguard=True, only_for="gas"),
    Delay("post_purge_s", "post-purge", 15.0, 15.0, 30.0,
          "the tube is cleared of burnt gas", of_safeguard=True, only_for="gas"),
    Delay("safeguard_margin_s", "patience with the safeguard", 15.0, 5.0, 60.0,
          "over pre-purge and ignition together, and over flame failure response: then the safeguard does not answer",
          only_for="gas"),
    Delay("contactor_s", "contactor answers", 2.0, 0.5, 5.0, "its auxiliary has followed", only_for="electric"),
    Delay("steam_valve_s", "steam valve answers", 30.0, 5.0, 120.0, "the stroke of its actuator", only_for="steam"),
)  # fmt: skip
DELAY_OF: Final[Mapping[str, Delay]] = {delay.name: delay for delay in DELAYS}


@sourced("controls-practice", "delays; refill timer twice the expected fill")
@sourced("burner-safety-times", "trial for ignition, flame failure response")
def delays_of(answer: UnitAnswer, given: Mapping[str, float] | None = None) -> dict[str, float]:
    """Every delay by name [s], the refill's run timer worked out from the unit's own band and refill.

    Args: given: delays that a shop sets, by name.
    Raises: InputError for an unknown name, OutOfRange for a value out of range or a refill that never fills.
    """
    chosen = dict(given or {})
    refill_s = chosen.pop(REFILL_RUN, None)
    delays = usual_delays(chosen)
    if refill_s is None:
        refill_s = _refill_run_s(answer)
    require_range(REFILL_RUN, refill_s, 10.0, LONGEST_REFILL_s, "twice the expected fill from the low rod")
    return {**delays, REFILL_RUN: float(refill_s)}


def _refill_run_s(answer: UnitAnswer) -> float:
    """Twice the expected fill, in whole seconds: of the band, and as much more as a refill from the low rod takes.

    After low level the refill has to come from there, or its timer would trip before the level clears the trip.
    """
    stack = levels_of(answer)
    timer_s = refill_of(answer, stack).run_timer_s
    if timer_s is None:
        raise OutOfRange(REFILL_RUN, math.inf, None, LONGEST_REFILL_s, "there is no band between the refill's rods")
    low_m, on_m, off_m = (stack.mark(name).height_m for name in ("low", "refill-on", "refill-off"))
    return math.ceil(timer_s * (off_m - low_m) / (off_m - on_m))


def usual_delays(given: Mapping[str, float]) -> dict[str, float]:
    """The delays that no unit decides: defaults, or what a shop sets within its range."""
    for name, value in given.items():
        if name not in DELAY_OF:
            raise InputError("delays", name, "is no delay of the table", ", ".join((*DELAY_OF, REFILL_RUN)))
        require_range(name, value, DELAY_OF[name].low_s, DELAY_OF[name].high_s, DELAY_OF[name].why)
    return {delay.name: given.get(delay.name, delay.default_s) for delay in DELAYS}


def delays_section(delays: Mapping[str, float], heat: str) -> Section:
    """The delays of a unit with that kind of heat as figures with their reasons."""
    functions = ("controls.delays.delays_of",)
    figures = [
        Figure(
            delay.name,
            delays[delay.name],
            "delay",
            f"{delay.why}; {'from memory' if delay.of_safeguard else 'common practice, no source'}",
            (),
            functions,
            f"{delay.title}{' (set at the burner safeguard)' if delay.of_safeguard else ''}",
        )
        for delay in DELAYS
        if delay.only_for in ("", heat)
    ]
    refill = Figure(
        REFILL_RUN, delays[REFILL_RUN], "delay", "twice the expected fill from the low rod", (), functions,
        "refill run timer",
    )  # fmt: skip
    return Section("delays", "Delays of the control", (*figures, refill))
