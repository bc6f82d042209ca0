"""The throttling ball valve of the spray branch: flow coefficient against the handle, sizing, and when it chokes.

The handle's mark is a help; the header pressure sets the spray.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

from vaporwright.equipment.pipe_run import HotLiquor, flow_coefficient_m3_h
from vaporwright.foundation.errors import InputError, require_range
from vaporwright.foundation.register import sourced

OPEN_HANDLE_deg: Final = 90.0
CRITICAL_PRESSURE_OF_WATER_Pa: Final = 22.064e6
REFERENCE_DENSITY_kg_m3: Final = 1000.0  # of Kv and of nozzle coefficients
BALL_VALVE_RECOVERY: Final = 0.6

# Weisbach's cock in a round pipe: (degrees closed, loss coefficient); shut at 82.5 degrees
_COCK: Final = (
    *((5.0, 0.05), (10.0, 0.29), (15.0, 0.75), (20.0, 1.56), (25.0, 3.10), (30.0, 5.47), (35.0, 9.68), (40.0, 17.3)),
    *((45.0, 31.2), (50.0, 52.6), (55.0, 106.0), (60.0, 206.0), (65.0, 486.0)),
)
_COCK_SHUT_deg: Final = 82.5


@dataclass(frozen=True)
class BallValve:
    """Kv [m3/h at 1 bar] against the handle's angle, 0 shut to 90 degrees open; angles and Kv rise."""

    handle_angle_deg: tuple[float, ...]
    kv_m3_h: tuple[float, ...]

    def __post_init__(self) -> None:
        angles, kvs = self.handle_angle_deg, self.kv_m3_h
        if len(angles) != len(kvs) or len(angles) < 3:
            problem = f"{len(angles)} angles and {len(kvs)} Kv"
            raise InputError("ball valve", "kv_m3_h", problem, "at least three points, one Kv for each angle")
        if angles[-1] != OPEN_HANDLE_deg or not angles[0] >= 0.0:
            raise InputError("ball valve", "handle_angle_deg", f"{angles[0]:g} to {angles[-1]:g}", "from 0 up to 90")
        if kvs[0] != 0.0:
            raise InputError("ball valve", "kv_m3_h", f"starts at {kvs[0]:g}", "0 at the first angle, where it shuts")
        for index in range(1, len(angles)):
            if not (angles[index] > angles[index - 1] and kvs[index] > kvs[index - 1] and math.isfinite(kvs[index])):
                problem = f"{kvs[index]:g} at {angles[index]:g} degrees after {kvs[index - 1]:g}"
                raise InputError("ball valve", "kv_m3_h", problem, "angles and Kv that rise")


@sourced("weisbach-cock", "loss coefficients of a cock in a round pipe, from 5 to 65 degrees closed, shut at 82.5")
@sourced("crane-tp-410", "fully open, K = 3 fT")
def full_bore_ball_valve(bore_m: float) -> BallValve:
    """Inherent characteristic of a full-bore ball valve for want of the maker's.

    Equation: Kv by K, K of Weisbach's cock: two round holes that slide across one another, as in a ball valve.
    Args: bore_m [m]: 0.008 to 0.3; the pipe has the same bore.
    Returns: BallValve with a point every 5 degrees.
    Raises: OutOfRange outside that range.
    Source: weisbach-cock; a cock's slot and a ball differ: makers' curves are up to twice this between 60 and 80
        degrees. The catalogue's own curve is to be preferred; the header pressure, not the angle, sets the spray.
    """
    from fluids.fittings import K_ball_valve_Crane

    require_range("bore_m", bore_m, 0.008, 0.3, "ball valves of such units")
    angles = [OPEN_HANDLE_deg - _COCK_SHUT_deg]
    kvs = [0.0]
    for closed_deg, K in reversed(_COCK):
        angles.append(OPEN_HANDLE_deg - closed_deg)
        kvs.append(flow_coefficient_m3_h(K, bore_m))
    open_kv = flow_coefficient_m3_h(K_ball_valve_Crane(bore_m, bore_m, 0.0), bore_m)
    kvs[-1] = min(kvs[-1], 0.98 * open_kv)  # small valves: Crane's open valve loses more than the cock at 5 degrees
    return BallValve((*angles, OPEN_HANDLE_deg), (*kvs, open_kv))


@sourced("weisbach-cock", "between the points Kv goes exponentially, from the shut valve to the first point linearly")
def valve_kv_m3_h(valve: BallValve, handle_angle_deg: float) -> float:
    """Kv at an angle of the handle.

    Args: handle_angle_deg [deg]: 0 shut to 90 open.
    Returns: Kv [m3/h]; 0 where the valve is shut.
    Raises: OutOfRange outside that range.
    """
    require_range("handle_angle_deg", handle_angle_deg, 0.0, OPEN_HANDLE_deg, "0 shut, 90 open")
    angles, kvs = valve.handle_angle_deg, valve.kv_m3_h
    if handle_angle_deg <= angles[0]:
        return 0.0
    for index in range(1, len(angles)):
        if handle_angle_deg <= angles[index]:
            share = (handle_angle_deg - angles[index - 1]) / (angles[index] - angles[index - 1])
            if kvs[index - 1] == 0.0:
                return share * kvs[index]
            return math.exp(math.log(kvs[index - 1]) + share * math.log(kvs[index] / kvs[index - 1]))
    return kvs[-1]


@sourced("weisbach-cock", "inverse of the characteristic")
def valve_handle_angle_deg(valve: BallValve, kv_m3_h: float) -> float:
    """Angle of the handle that gives a Kv, the inverse of valve_kv_m3_h.

    Args: kv_m3_h [m3/h]: above 0 to that of the open valve.
    Returns: angle [deg].
    Raises: OutOfRange outside that range.
    """
    angles, kvs = valve.handle_angle_deg, valve.kv_m3_h
    require_range("kv_m3_h", kv_m3_h, 1.0e-12, kvs[-1] * (1.0 + 1.0e-9), "the valve's characteristic")
    for index in range(1, len(angles)):
        if kv_m3_h <= kvs[index]:
            if kvs[index - 1] == 0.0:
                share = kv_m3_h / kvs[index]
            else:
                share = math.log(kv_m3_h / kvs[index - 1]) / math.log(kvs[index] / kvs[index - 1])
            return angles[index - 1] + share * (angles[index] - angles[index - 1])
    return OPEN_HANDLE_deg


class ValveSizing(NamedTuple):
    """Kv that a duty needs, and whether the liquor flashes in the valve."""

    kv_m3_h: float
    choked: bool


@sourced("iec-60534-2-1", "sizing equations for liquids, choked and laminar flow, reducers")
def required_valve_kv(
    *,
    flow_m3_s: float,
    inlet_pressure_Pa: float,
    outlet_pressure_Pa: float,
    liquor: HotLiquor,
    pipe_diameter_m: float,
    valve_diameter_m: float,
    recovery_factor: float = BALL_VALVE_RECOVERY,
    style_modifier: float = 1.0,
    critical_pressure_Pa: float = CRITICAL_PRESSURE_OF_WATER_Pa,
) -> ValveSizing:
    """Kv that a valve must have to pass a flow between two pressures.

    Args:
        flow_m3_s [m3/s]: above 0; inlet_pressure_Pa, outlet_pressure_Pa [Pa]: absolute, the first higher.
        pipe_diameter_m, valve_diameter_m [m]: the valve not larger than the pipe.
        recovery_factor FL [-]: 0.3 to 1; a ball valve 0.6, less when fully open.
        style_modifier Fd [-]: 0.05 to 1, matters in laminar flow only; critical_pressure_Pa [Pa].
    Returns: ValveSizing.
    Raises: OutOfRange outside those ranges.
    Source: iec-60534-2-1, solved by fluids.
    """
    from fluids.control_valve import size_control_valve_l

    require_range("flow_m3_s", flow_m3_s, 1.0e-9, None)
    require_range("inlet_pressure_Pa", inlet_pressure_Pa, 1.0, None, "absolute")
    require_range(
        "outlet_pressure_Pa", outlet_pressure_Pa, 0.0, inlet_pressure_Pa * (1.0 - 1.0e-9), "below the inlet's"
    )
    require_range("valve_diameter_m", valve_diameter_m, 1.0e-3, pipe_diameter_m, "no larger than the pipe")
    require_range("recovery_factor", recovery_factor, 0.3, 1.0)
    require_range("style_modifier", style_modifier, 0.05, 1.0)
    found = size_control_valve_l(
        rho=liquor.density_kg_m3,
        Psat=liquor.vapour_pressure_Pa,
        Pc=critical_pressure_Pa,
        mu=liquor.viscosity_Pa_s,
        P1=inlet_pressure_Pa,
        P2=outlet_pressure_Pa,
        Q=flow_m3_s,
        D1=pipe_diameter_m,
        D2=pipe_diameter_m,
        d=valve_diameter_m,
        FL=recovery_factor,
        Fd=style_modifier,
        full_output=True,
    )
    return ValveSizing(float(found["Kv"]), bool(found["choked"]))


@sourced("iec-60534-2-1", "limit of the pressure drop, FL^2 (p1 - FF pv)")
def choking_outlet_pressure_Pa(
    inlet_pressure_Pa: float, vapour_pressure_Pa: float, recovery_factor: float = BALL_VALVE_RECOVERY
) -> float:
    """Pressure behind a valve below which hot liquor flashes in it and no more flows.

    Equation: p2 = p1 - FL^2 (p1 - FF pv), FF = 0.96 - 0.28 sqrt(pv / 22.064 MPa).
    Args: inlet_pressure_Pa [Pa] absolute, above vapour_pressure_Pa [Pa]; recovery_factor FL [-]: 0.3 to 1.
    Returns: outlet pressure [Pa], absolute. Cavitation with noise and wear begins well above it.
    Raises: OutOfRange outside those ranges.
    """
    from fluids.control_valve import control_valve_choke_P_l

    require_range("vapour_pressure_Pa", vapour_pressure_Pa, 0.0, inlet_pressure_Pa, "the inlet pressure, absolute")
    require_range("recovery_factor", recovery_factor, 0.3, 1.0)
    return float(
        control_valve_choke_P_l(
            Psat=vapour_pressure_Pa,
            Pc=CRITICAL_PRESSURE_OF_WATER_Pa,
            FL=recovery_factor,
            P1=inlet_pressure_Pa,
            check_choking=False,
        )
    )
