"""The recirculation pump: its curve, power, motor, and the suction head that hot liquor leaves it.

The catalogue's curve is joined by straight lines. Head, efficiency and NPSH required of a centrifugal pump do not
depend on density, pressure and power do; a viscosity far above water's would lower them and is not counted.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from vaporwright.foundation.constants import STANDARD_GRAVITY_m_s2
from vaporwright.foundation.errors import InputError, OutOfRange, require_range
from vaporwright.foundation.register import sourced

LEAST_POINTS: Final = 3
HORSEPOWER_W: Final = 745.6998715822702
MOTOR_TABLE_VOLTAGES_V: Final = (208.0, 230.0, 460.0, 575.0)
_MOTOR_TABLE_A: Final = {  # horsepower: full-load current at those voltages
    0.5: (2.4, 2.2, 1.1, 0.9),
    0.75: (3.5, 3.2, 1.6, 1.3),
    1.0: (4.6, 4.2, 2.1, 1.7),
    1.5: (6.6, 6.0, 3.0, 2.4),
    2.0: (7.5, 6.8, 3.4, 2.7),
    3.0: (10.6, 9.6, 4.8, 3.9),
    5.0: (16.7, 15.2, 7.6, 6.1),
    7.5: (24.2, 22.0, 11.0, 9.0),
    10.0: (30.8, 28.0, 14.0, 11.0),
    15.0: (46.2, 42.0, 21.0, 17.0),
}

MOTOR_CAUTION: Final = (
    "Electricity kills and a pump may start at any time: isolation with lock-out, and drained, cooled lines before"
    " opening. The electrical code in force and a licensed electrician decide on conductors and protection."
)


def _fault(key: str, problem: str, allowed: str) -> InputError:
    return InputError("pump curve", key, problem, allowed)


@dataclass(frozen=True)
class PumpCurve:
    """Head, shaft power and NPSH required against volume flow; power as measured on a liquid of density_kg_m3.

    At least three points, flows rising, heads falling or level. Raises one InputError that names what is wrong.
    """

    flow_m3_s: tuple[float, ...]
    head_m: tuple[float, ...]
    shaft_power_W: tuple[float, ...]
    npsh_required_m: tuple[float, ...]
    density_kg_m3: float = 998.2

    def __post_init__(self) -> None:
        require_range("density_kg_m3", self.density_kg_m3, 500.0, 2000.0, "density at which the curve was measured")
        count = len(self.flow_m3_s)
        if count < LEAST_POINTS:
            raise _fault("flow_m3_s", f"{count} points", f"at least {LEAST_POINTS} points")
        columns = {
            "flow_m3_s": self.flow_m3_s,
            "head_m": self.head_m,
            "shaft_power_W": self.shaft_power_W,
            "npsh_required_m": self.npsh_required_m,
        }
        for key, column in columns.items():
            if len(column) != count:
                raise _fault(key, f"{len(column)} values", f"{count}, one for each flow")
            for value in column:
                if not (math.isfinite(value) and value >= 0.0):
                    raise _fault(key, f"{value:.6g} is among the values", "finite numbers, not negative")
        self._require_shape()

    def _require_shape(self) -> None:
        points = list(zip(self.flow_m3_s, self.head_m, self.shaft_power_W, strict=True))
        for (flow_before, head_before, _), (flow, head, _) in pairwise(points):
            if not flow > flow_before:
                raise _fault("flow_m3_s", f"{flow:.6g} follows {flow_before:.6g}", "flows that rise")
            if head > head_before:
                problem = f"the curve rises from {head_before:.6g} to {head:.6g} m at {flow:.6g} m3/s"
                raise _fault("head_m", problem, "heads that fall or stay: a rising curve has two flows at one head")
        for flow, head, power in points:
            if not power > flow * head * self.density_kg_m3 * STANDARD_GRAVITY_m_s2:
                problem = f"{power:.6g} W at {flow:.6g} m3/s is no more than the liquid receives"
                raise _fault("shaft_power_W", problem, "shaft power above flow x head x density x gravity")


def _between(flow_m3_s: float, flows: tuple[float, ...], values: tuple[float, ...]) -> float:
    require_range("flow_m3_s", flow_m3_s, flows[0], flows[-1], "the pump's curve")
    for index in range(1, len(flows)):
        if flow_m3_s <= flows[index]:
            share = (flow_m3_s - flows[index - 1]) / (flows[index] - flows[index - 1])
            return values[index - 1] + share * (values[index] - values[index - 1])
    return values[-1]


@sourced("pump-relations", "head does not depend on density")
def pump_head_m(curve: PumpCurve, flow_m3_s: float) -> float:
    """Head at a flow, in metres of the liquid pumped, whatever its density.

    Args: flow_m3_s [m3/s] within the curve.
    Returns: head [m].
    Raises: OutOfRange outside the curve.
    """
    return _between(flow_m3_s, curve.flow_m3_s, curve.head_m)


@sourced("pump-relations", "pressure = density x gravity x head")
def pump_pressure_Pa(curve: PumpCurve, flow_m3_s: float, density_kg_m3: float) -> float:
    """Pressure that the pump adds to a liquid of this density [Pa]. Args and errors: as in pump_head_m."""
    require_range("density_kg_m3", density_kg_m3, 500.0, 2000.0, "liquors")
    return pump_head_m(curve, flow_m3_s) * density_kg_m3 * STANDARD_GRAVITY_m_s2


@sourced("pump-relations", "power goes with density at one speed and flow")
def pump_shaft_power_W(curve: PumpCurve, flow_m3_s: float, density_kg_m3: float) -> float:
    """Shaft power on a liquid of this density [W]. Args and errors: as in pump_head_m."""
    require_range("density_kg_m3", density_kg_m3, 500.0, 2000.0, "liquors")
    return _between(flow_m3_s, curve.flow_m3_s, curve.shaft_power_W) * density_kg_m3 / curve.density_kg_m3


@sourced("pump-relations", "NPSH required, as the curve gives it for cold water")
def pump_npsh_required_m(curve: PumpCurve, flow_m3_s: float) -> float:
    """NPSH that the pump requires at a flow [m]. Args and errors: as in pump_head_m.

    Hot water needs somewhat less than the cold water of the curve; that help is not counted.
    """
    return _between(flow_m3_s, curve.flow_m3_s, curve.npsh_required_m)


@sourced("pump-relations", "power received by the liquid")
def hydraulic_power_W(*, flow_m3_s: float, head_m: float, density_kg_m3: float) -> float:
    """Power that a liquid receives.

    Equation: P = rho g Q H.
    Args: flow_m3_s [m3/s], head_m [m]: not negative; density_kg_m3 [kg/m3]: 500 to 2000.
    Returns: power [W].
    Raises: OutOfRange outside those ranges.
    """
    require_range("flow_m3_s", flow_m3_s, 0.0, None)
    require_range("head_m", head_m, 0.0, None)
    require_range("density_kg_m3", density_kg_m3, 500.0, 2000.0, "liquors")
    return flow_m3_s * head_m * density_kg_m3 * STANDARD_GRAVITY_m_s2


@sourced("pump-relations", "hydraulic over shaft power")
def pump_efficiency(curve: PumpCurve, flow_m3_s: float) -> float:
    """Hydraulic over shaft power at a flow [-]. Args and errors: as in pump_head_m."""
    head_m = pump_head_m(curve, flow_m3_s)
    hydraulic_W = hydraulic_power_W(flow_m3_s=flow_m3_s, head_m=head_m, density_kg_m3=curve.density_kg_m3)
    return hydraulic_W / pump_shaft_power_W(curve, flow_m3_s, curve.density_kg_m3)


@sourced("pump-relations", "greatest efficiency among the curve's points")
def pump_best_flow_m3_s(curve: PumpCurve) -> float:
    """Flow of the curve's point with the best efficiency [m3/s]."""
    return max(curve.flow_m3_s, key=lambda flow_m3_s: pump_efficiency(curve, flow_m3_s))


@sourced("nema-motor-sizes", "next standard size at or above the greatest shaft power")
def pump_motor_size_W(curve: PumpCurve, density_kg_m3: float) -> float:
    """Rated power of the smallest standard motor that no point of the curve overloads.

    Args: density_kg_m3 [kg/m3]: the heaviest liquor to be pumped, cold and at the end of the batch.
    Returns: rated power [W], a standard horsepower.
    Raises: OutOfRange outside 500 to 2000 kg/m3, or above the largest standard size.
    """
    from fluids.pump import motor_round_size, nema_sizes

    greatest_W = max(pump_shaft_power_W(curve, flow, density_kg_m3) for flow in curve.flow_m3_s)
    require_range("greatest shaft power in W", greatest_W, 0.0, nema_sizes[-1], "standard motor sizes")
    return float(motor_round_size(greatest_W))


@sourced("three-phase-power", "line current from shaft power")
def motor_current_A(
    *, shaft_power_W: float, voltage_V: float, efficiency: float, power_factor: float, phases: int = 3
) -> float:
    """Line current of a motor at a shaft power.

    Equation: I = P / (efficiency V cos phi) on one phase, with sqrt(3) V on three.
    Args:
        shaft_power_W [W]: not negative; voltage_V [V] between lines: 100 to 1000.
        efficiency [-]: 0.3 to 1 at that load; small three-phase motors 0.75 to 0.9.
        power_factor [-]: 0.3 to 1 at that load; small three-phase motors 0.7 to 0.85, far less at part load.
        phases: 1 or 3.
    Returns: current [A], to compare with an ammeter. Conductors are sized by motor_table_current_A.
    Raises: OutOfRange outside those ranges.
    Example: 2 hp at 460 V
        >>> round(motor_current_A(shaft_power_W=1491.4, voltage_V=460.0, efficiency=0.865, power_factor=0.76), 2)
        2.85
    """
    from fluids.pump import current_ideal

    require_range("shaft_power_W", shaft_power_W, 0.0, 1.0e6)
    require_range("voltage_V", voltage_V, 100.0, 1000.0, "low voltage")
    require_range("efficiency", efficiency, 0.3, 1.0)
    require_range("power_factor", power_factor, 0.3, 1.0)
    if phases not in (1, 3):
        raise OutOfRange("phases", phases, None, None, "1 or 3")
    return float(current_ideal(P=shaft_power_W / efficiency, V=voltage_V, phase=phases, PF=power_factor))


@sourced("motor-current-table", "full-load current of three-phase induction motors")
def motor_table_current_A(rated_power_W: float, voltage_V: float) -> float:
    """Full-load current by which the code has conductors and short-circuit protection of a motor sized.

    Args: rated_power_W [W]: one of 0.5, 0.75, 1, 1.5, 2, 3, 5, 7.5, 10, 15 hp, within 1 %; voltage_V [V]: 208,
        230, 460 or 575, three phases.
    Returns: current [A], on the high side of most motors. A branch circuit carries 125 % of it; the overload
        relay is set by the nameplate instead.
    Raises: InputError for a size or voltage that is not in the table.
    Source: motor-current-table; the local code in force decides.
    """
    horsepower = rated_power_W / HORSEPOWER_W
    for size, currents in _MOTOR_TABLE_A.items():
        if abs(horsepower - size) <= 0.01 * size:
            for voltage, current in zip(MOTOR_TABLE_VOLTAGES_V, currents, strict=True):
                if voltage == voltage_V:
                    return current
            voltages = ", ".join(f"{voltage:.0f}" for voltage in MOTOR_TABLE_VOLTAGES_V)
            raise InputError("motor", "voltage_V", f"{voltage_V:.6g} V is not in the table", voltages)
    sizes = ", ".join(f"{size:g}" for size in _MOTOR_TABLE_A)
    raise InputError("motor", "rated_power_W", f"{horsepower:.4g} hp is not in the table", f"{sizes} hp")


@sourced("pump-relations", "NPSH available at the pump's centreline")
def npsh_available_m(
    *,
    site_pressure_Pa: float,
    vapour_pressure_Pa: float,
    density_kg_m3: float,
    level_above_pump_m: float,
    suction_loss_m: float,
) -> float:
    """Net positive suction head that an open tank leaves at the pump.

    Equation: NPSH = (p_site - p_vapour) / (rho g) + level - loss.
    Args:
        site_pressure_Pa [Pa]: absolute, of the air over the tank: 50e3 to 250e3.
        vapour_pressure_Pa [Pa]: of the liquor at tank temperature: water activity x saturation pressure.
        density_kg_m3 [kg/m3]: 500 to 2000.
        level_above_pump_m [m]: -20 to 50; take the low-level rod. Negative where the pump must lift.
        suction_loss_m [m]: not negative; strainer as dirty as it is left to get.
    Returns: NPSH available [m], negative where the liquor would boil before the pump.
    Raises: OutOfRange outside those ranges.
    """
    require_range("site_pressure_Pa", site_pressure_Pa, 50.0e3, 250.0e3, "absolute")
    require_range("vapour_pressure_Pa", vapour_pressure_Pa, 0.0, site_pressure_Pa, "an open tank boils above that")
    require_range("density_kg_m3", density_kg_m3, 500.0, 2000.0, "liquors")
    require_range("level_above_pump_m", level_above_pump_m, -20.0, 50.0)
    require_range("suction_loss_m", suction_loss_m, 0.0, None)
    surface_m = (site_pressure_Pa - vapour_pressure_Pa) / (density_kg_m3 * STANDARD_GRAVITY_m_s2)
    return surface_m + level_above_pump_m - suction_loss_m
