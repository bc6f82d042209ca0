"""What is out of the usual at a working point of the spray circuit, as notices with their figures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from vaporwright.foundation.notice import Notice
from vaporwright.foundation.register import sourced

NPSH_RATIO_WANTED: Final = 1.3
PSI_Pa: Final = 6894.757293168
USUAL_HEADER_PRESSURE_Pa: Final = (3.0 * PSI_Pa, 12.0 * PSI_Pa)
USUAL_AGITATION_SHARE: Final = (0.10, 0.30)
HIGHEST_SUCTION_VELOCITY_m_s: Final = 1.5
HIGHEST_SPRAY_VELOCITY_m_s: Final = 2.5
USUAL_SHARE_OF_BEST_FLOW: Final = (0.7, 1.2)


@dataclass(frozen=True, slots=True)
class WorkingPoint:
    """What the warnings on a solved circuit look at."""

    npsh_available_m: float
    npsh_required_m: float
    suction_velocity_m_s: float
    share_of_best_flow: float  # of the pump
    strainer_hole_m: float
    largest_strainer_hole_m: float
    nozzle_free_passage_m: float
    spray_flow_m3_s: float
    spray_velocity_m_s: float
    valve_choked: bool
    header_gauge_Pa: float
    agitation_share: float | None  # of the pump's flow; None without an agitation leg


@sourced("spray-circuit-practice", "limits of the warnings")
@sourced("strainer-practice", "a strainer hole that lets through what plugs a nozzle")
def spray_circuit_warnings(point: WorkingPoint) -> tuple[Notice, ...]:
    """What will not work well at a working point: suction, pump, strainer, spray, agitation.

    Args: point: of a solved circuit.
    Returns: notices, each with its figures; none where all is usual. Without spray nothing is said about it but that.
    Source: spray-circuit-practice, strainer-practice.
    """
    spray = _of_spray(point) if point.spray_flow_m3_s > 0.0 else (_NO_SPRAY,)
    return (*_of_pump(point), *spray)


_NO_SPRAY: Final = Notice(
    "no spray", "No spray: the valve is shut or the liquor does not reach the header. Nothing evaporates or cools."
)


def _of_pump(point: WorkingPoint) -> Iterator[Notice]:
    available, required = (point.npsh_available_m, "length"), (point.npsh_required_m, "length")
    if point.npsh_available_m < point.npsh_required_m:
        text = "The pump cavitates: NPSH available {0} is below the {1} that it requires."
        yield Notice("pump cavitates", text, (available, required))
    elif point.npsh_available_m < NPSH_RATIO_WANTED * point.npsh_required_m:
        text = (
            "NPSH available {0} is less than {1} times the {2} that the pump requires: no reserve for a dirty strainer."
        )
        yield Notice("little NPSH reserve", text, (available, (NPSH_RATIO_WANTED, "ratio"), required))
    if point.suction_velocity_m_s > HIGHEST_SUCTION_VELOCITY_m_s:
        speeds = ((point.suction_velocity_m_s, "liquid velocity"), (HIGHEST_SUCTION_VELOCITY_m_s, "liquid velocity"))
        yield Notice("fast suction", "Suction at {0}, above the usual {1}.", speeds)
    low, high = USUAL_SHARE_OF_BEST_FLOW
    if not low <= point.share_of_best_flow <= high:
        shares = ((point.share_of_best_flow, "fraction"), (low, "fraction"), (high, "fraction"))
        yield Notice("pump off its best flow", "The pump runs at {0} of its best flow: usual is {1} to {2}.", shares)
    if point.strainer_hole_m > point.largest_strainer_hole_m:
        text = "Strainer holes of {0} let through what plugs nozzles of {1} free passage: holes of {2} at most."
        sizes = (point.strainer_hole_m, point.nozzle_free_passage_m, point.largest_strainer_hole_m)
        yield Notice("coarse strainer", text, tuple((size_m, "short length") for size_m in sizes))


def _of_spray(point: WorkingPoint) -> Iterator[Notice]:
    if point.valve_choked:
        yield Notice(
            "flashing in the spray valve",
            "The liquor flashes in the spray valve: it passes less than stated, with noise and wear. Open it and take"
            " the pressure elsewhere (a smaller pump or impeller, more agitation).",
        )
    low_Pa, high_Pa = USUAL_HEADER_PRESSURE_Pa
    if not low_Pa <= point.header_gauge_Pa <= high_Pa:
        pressures = tuple((value_Pa, "gauge pressure") for value_Pa in (point.header_gauge_Pa, low_Pa, high_Pa))
        yield Notice("unusual header pressure", "Header at {0}: usual is {1} to {2}.", pressures)
    if point.spray_velocity_m_s > HIGHEST_SPRAY_VELOCITY_m_s:
        speeds = ((point.spray_velocity_m_s, "liquid velocity"), (HIGHEST_SPRAY_VELOCITY_m_s, "liquid velocity"))
        yield Notice("fast spray run", "Spray run at {0}, above the usual {1}.", speeds)
    low, high = USUAL_AGITATION_SHARE
    if point.agitation_share is not None and not low <= point.agitation_share <= high:
        shares = ((point.agitation_share, "fraction"), (low, "fraction"), (high, "fraction"))
        yield Notice("unusual agitation", "Agitation takes {0} of the pump's flow: usual is {1} to {2}.", shares)
