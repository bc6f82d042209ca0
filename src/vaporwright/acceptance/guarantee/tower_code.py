"""What the acceptance code for cooling towers asks of a test, as far as it carries over to an evaporator's tower.

Capability is the water flow that the tower handled, corrected to the design fan power, as a share of the flow that its
model predicts for the conditions of the test. A contract may allow a tolerance; that is agreed beforehand and has
nothing to do with the uncertainty of the test. The code's limits on how far a test may sit from the design are from
memory: a departure is named for the two parties to agree on, and voids nothing by itself.
"""

from __future__ import annotations

from dataclasses import astuple, dataclass
from math import isfinite
from typing import Final

from vaporwright.foundation.errors import InputError, OutOfRange
from vaporwright.foundation.register import sourced

WATER_FLOW_SHARE: Final = 0.10
RANGE_SHARE: Final = 0.20
FAN_POWER_SHARE: Final = 0.10
WET_BULB_DIFFERENCE_K: Final = 15.0 / 1.8  # 15 degF
BAROMETER_DIFFERENCE_Pa: Final = 3386.389  # 1 inHg
SHORTEST_TEST_s: Final = 3600.0


@dataclass(frozen=True)
class TowerConditions:
    """Conditions of a test, or those of the design.

    Raises: InputError for what is no number, and for a flow, range, power or pressure that is not above 0.
    """

    water_flow_kg_s: float
    range_difference_K: float
    fan_power_W: float
    wet_bulb_K: float
    pressure_Pa: float

    def __post_init__(self) -> None:
        for name, value in zip(self.__dataclass_fields__, astuple(self), strict=True):
            if not (isfinite(value) and value > 0.0):
                raise InputError("conditions of the test", name, f"{value!r}", "above 0 (SI)")


@dataclass(frozen=True)
class Departure:
    """How far one condition of a test sits from the design, and how far it may [SI, or a share]."""

    name: str
    found: float
    low: float | None
    high: float | None
    quantity: str  # of display_units

    @property
    def beyond(self) -> bool:
        """Whether it sits further off than the code allows."""
        return (self.low is not None and self.found < self.low) or (self.high is not None and self.found > self.high)


@sourced("tower-test-limits", "water flow 10 %, range 20 %, fan power 10 %, wet bulb 15 degF, barometer 1 inHg, 1 h")
def departures(test: TowerConditions, design: TowerConditions, duration_s: float) -> tuple[Departure, ...]:
    """Every condition that the code limits, with how far it departs; `beyond` says which go too far.

    Raises: InputError for a duration that is no number.
    """
    if not isfinite(duration_s):
        raise InputError("conditions of the test", "duration_s", f"{duration_s!r}", "a number")

    def share(name: str, found: float, designed: float, limit: float) -> Departure:
        return Departure(name, found / designed - 1.0, -limit, limit, "fraction")

    def difference(name: str, found: float, limit: float, quantity: str) -> Departure:
        return Departure(name, found, -limit, limit, quantity)

    wet_bulb_K, pressure_Pa = test.wet_bulb_K - design.wet_bulb_K, test.pressure_Pa - design.pressure_Pa
    return (
        share("water flow", test.water_flow_kg_s, design.water_flow_kg_s, WATER_FLOW_SHARE),
        share("range", test.range_difference_K, design.range_difference_K, RANGE_SHARE),
        share("fan power", test.fan_power_W, design.fan_power_W, FAN_POWER_SHARE),
        difference("wet bulb", wet_bulb_K, WET_BULB_DIFFERENCE_K, "temperature difference"),
        difference("barometer", pressure_Pa, BAROMETER_DIFFERENCE_Pa, "pressure"),
        Departure("duration", duration_s, SHORTEST_TEST_s, None, "duration"),
    )


@sourced("tower-capability", "adjusted flow = tested flow x (design power/tested power)^(1/3)")
def adjusted_water_flow(test_flow: float, design_power_W: float, test_power_W: float) -> float:
    """The water flow tested, corrected to the design fan power; in the unit of the flow given.

    Equation: flow follows air flow, and air flow the cube root of fan power.
    Raises: OutOfRange for a flow or power that is not above 0.
    """
    _require_positive(test_flow=test_flow, design_power_W=design_power_W, test_power_W=test_power_W)
    return float(test_flow * (design_power_W / test_power_W) ** (1.0 / 3.0))


@sourced("tower-capability", "capability = adjusted flow/predicted flow")
@sourced("tower-tolerance", "page 1: water flow, corrected to design fan power, over predicted flow")
def capability(adjusted_flow: float, predicted_flow: float) -> float:
    """Share of the predicted water flow that the tower handles; 1 is as promised.

    Raises: OutOfRange for a flow that is not above 0.
    """
    _require_positive(adjusted_flow=adjusted_flow, predicted_flow=predicted_flow)
    return adjusted_flow / predicted_flow


@sourced("tower-tolerance", "page 1, test tolerance: 97 % is acceptable under a tolerance of 3.2 %")
def accepted_with_tolerance(tested_capability: float, contract_tolerance: float) -> bool:
    """Whether a capability meets the guarantee, with the tolerance that the contract allows (0 where it names none).

    Raises: OutOfRange for a capability that is no number or a tolerance outside 0 to 0.2.
    """
    _require_positive(tested_capability=tested_capability)
    if not 0.0 <= contract_tolerance <= 0.2:
        raise OutOfRange("contract_tolerance", contract_tolerance, 0.0, 0.2, "share of the guarantee")
    return tested_capability + contract_tolerance >= 1.0


def _require_positive(**values: float) -> None:
    for name, value in values.items():
        if not (isfinite(value) and value > 0.0):
            raise OutOfRange(name, value, 0.0, None, "above 0")
