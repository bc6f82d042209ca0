"""The gas line from the site's supply to the burner's train, and the openings for combustion air.

Fuel gas explodes and carbon monoxide kills. These are sizes for a connection sheet. The fuel gas code in force at
the site, the utility and a **licensed gas fitter** decide on routing, material, regulators, shut-off, venting, purging
and tightness test; where they differ from this module, they are right.

The fuel gas code's low-pressure equation is stated for supplies below 1.5 psi. It knows no altitude: at a given flow
of standard gas the drop grows as the site's absolute pressure falls, about a fifth at 1,500 m; `gas_line` counts that.
Its length is the longest run from meter or regulator to the train, with fittings and valves as equivalent length.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

from vaporwright.foundation.constants import STANDARD_ATMOSPHERE_Pa
from vaporwright.foundation.errors import InputError, OutOfRange, require_range
from vaporwright.foundation.notice import Notice
from vaporwright.foundation.register import sourced

PipedGas = Literal["natural gas", "propane"]

_FOOT_m: Final = 0.3048
_INCH_m: Final = 0.0254
_CUBIC_FOOT_PER_HOUR_m3_s: Final = _FOOT_m**3 / 3600.0
_INCH_OF_WATER_Pa: Final = 249.0889
_BTU_PER_HOUR_W: Final = 1055.05585262 / 3600.0
HIGHEST_LOW_PRESSURE_Pa: Final = 10342.14  # gauge, 1.5 psi

# The equation as printed lies up to 1.0 % above the code's own tables, mostly because its exponents are rounded, and
# the propane table counts 1.1 % less heat in the gas than pure propane has. The tables are what an inspector reads, so
# a pipe is chosen with this much in hand.
TABLE_MARGIN: Final = 1.025
# The code's factor for gravity and viscosity
_CODE_FACTOR: Final = {"natural gas": 0.6094, "propane": 1.2462}
_STEEL_PIPE_in: Final = {
    "1/2": 0.622,
    "3/4": 0.824,
    "1": 1.049,
    "1-1/4": 1.380,
    "1-1/2": 1.610,
    "2": 2.067,
    "2-1/2": 2.469,
    "3": 3.068,
    "4": 4.026,
}
_LEAST_INDOOR_OPENING_in2: Final = 100.0
_LEAST_SPARE_Pa: Final = 2.0  # between site and train, for which a line can still be sized

GAS_PIPING_CAUTION: Final = (
    "Fuel gas explodes. A licensed gas fitter designs, installs, purges and tests the line under the fuel gas code in"
    " force at the site and the utility's rules; lock out and vent before opening. This figure only sizes it."
)
COMBUSTION_AIR_CAUTION: Final = (
    "A burner short of air makes carbon monoxide, which kills. The rule counts burners only: the evaporator's blower,"
    " taking its air from the same room, can turn a flue around. Make-up air, flue draft and carbon monoxide are"
    " checked on site; the local code and a licensed fitter decide on openings, grilles and their interlocks."
)


@dataclass(frozen=True, slots=True)
class GasPipe:
    """The smallest steel pipe, schedule 40, that carries a load."""

    nominal_size: str  # in inches, as pipe is sold: "1-1/4"
    inner_diameter_m: float
    flow_standard_m3_s: float
    capacity_standard_m3_s: float  # by the equation, at the allowed drop
    pressure_drop_Pa: float  # at the load
    caution: str = GAS_PIPING_CAUTION


@dataclass(frozen=True, slots=True)
class GasLine:
    """From the site's pressure to the train."""

    pipe: GasPipe  # its drop and capacity at the site's altitude
    altitude_factor: float  # on the drop of the code's equation; 1 at sea level and below
    allowed_drop_Pa: float
    train_inlet_gauge_Pa: float  # at full fire and the site's lowest pressure
    no_flow_gauge_Pa: float  # at the site's highest pressure
    notices: tuple[Notice, ...]
    caution: str = GAS_PIPING_CAUTION


@dataclass(frozen=True, slots=True)
class CombustionAirOpenings:
    """Free area of the openings for one burner's input, by the four methods of the code; use one of them."""

    two_to_outdoors_each_m2: float  # direct or through vertical ducts, one high and one low
    two_by_horizontal_ducts_each_m2: float
    one_to_outdoors_m2: float  # high; also no less than the sum of the vent connectors' areas
    two_to_indoors_each_m2: float  # to inside rooms of enough volume
    caution: str = COMBUSTION_AIR_CAUTION


def _code_factor(gas: str) -> float:
    if gas not in _CODE_FACTOR:
        raise InputError("gas line", "gas", f"{gas!r} has no factor in the code", ", ".join(_CODE_FACTOR))
    return _CODE_FACTOR[gas]


def _require_run(length_m: float) -> None:
    require_range("length_m", length_m, 0.3, 1000.0, "equivalent length of the longest run")


def _require_drop(pressure_drop_Pa: float) -> None:
    require_range("pressure_drop_Pa", pressure_drop_Pa, 1.0, HIGHEST_LOW_PRESSURE_Pa, "supply below 1.5 psi")


def _require_bore(inner_diameter_m: float) -> None:
    require_range("inner_diameter_m", inner_diameter_m, 0.005, 0.2, "pipes of the code's tables")


@sourced("fuel-gas-code-low-pressure", "low-pressure equation solved for diameter")
def gas_pipe_diameter_m(*, gas: PipedGas, flow_standard_m3_s: float, length_m: float, pressure_drop_Pa: float) -> float:
    """Inner diameter that carries a flow of gas at a pressure drop, supply below 1.5 psi.

    Equation: D = Q^0.381 / [19.17 (dH / (Cr L))^0.206], D in in., Q in ft3/h, dH in in. w.c., L in ft;
        Cr 0.6094 for natural gas (gravity 0.60), 1.2462 for propane (1.5).
    Args:
        gas: "natural gas" or "propane", undiluted.
        flow_standard_m3_s [m3/s at 60 degF, 14.7 psi]: above 0, to 10.
        length_m [m]: 0.3 to 1000. pressure_drop_Pa [Pa]: 1 to 10342.
    Returns: inner diameter [m].
    Raises: OutOfRange; InputError for another gas.
    Source: fuel-gas-code-low-pressure.
    """
    factor = _code_factor(gas)
    require_range("flow_standard_m3_s", flow_standard_m3_s, 1e-7, 10.0, "low-pressure gas lines")
    _require_run(length_m)
    _require_drop(pressure_drop_Pa)
    flow_cfh = flow_standard_m3_s / _CUBIC_FOOT_PER_HOUR_m3_s
    gradient = pressure_drop_Pa / _INCH_OF_WATER_Pa / (factor * length_m / _FOOT_m)
    return float(_INCH_m * flow_cfh**0.381 / (19.17 * gradient**0.206))


@sourced("fuel-gas-code-low-pressure", "low-pressure equation solved for flow")
def gas_pipe_capacity_standard_m3_s(
    *, gas: PipedGas, inner_diameter_m: float, length_m: float, pressure_drop_Pa: float
) -> float:
    """Flow that a pipe carries at a pressure drop: gas_pipe_diameter_m turned around.

    Args: inner_diameter_m [m]: 0.005 to 0.2; the others as in gas_pipe_diameter_m.
    Returns: flow [m3/s at 60 degF, 14.7 psi].
    Raises: OutOfRange; InputError for another gas.
    Source: fuel-gas-code-low-pressure.
    Example: 2 in. pipe, 100 ft, 0.5 in. w.c. against 1160 ft3/h in the code's table
        >>> flow = gas_pipe_capacity_standard_m3_s(
        ...     gas="natural gas", inner_diameter_m=2.067 * 0.0254, length_m=30.48, pressure_drop_Pa=124.54
        ... )
        >>> print(f"{flow * 3600 / 0.3048**3 / 1160:.2f}")
        1.00
    """
    factor = _code_factor(gas)
    _require_bore(inner_diameter_m)
    _require_run(length_m)
    _require_drop(pressure_drop_Pa)
    gradient = pressure_drop_Pa / _INCH_OF_WATER_Pa / (factor * length_m / _FOOT_m)
    flow_cfh = (19.17 * inner_diameter_m / _INCH_m * gradient**0.206) ** (1.0 / 0.381)
    return float(flow_cfh * _CUBIC_FOOT_PER_HOUR_m3_s)


@sourced("fuel-gas-code-low-pressure", "low-pressure equation solved for drop")
def gas_pipe_pressure_drop_Pa(
    *, gas: PipedGas, inner_diameter_m: float, length_m: float, flow_standard_m3_s: float
) -> float:
    """Pressure drop of a flow in a pipe: gas_pipe_diameter_m turned around.

    Args: as there; flow_standard_m3_s [m3/s at 60 degF, 14.7 psi]: 0 to 10.
    Returns: drop [Pa].
    Raises: OutOfRange, also where the drop would be more than 1.5 psi; InputError for another gas.
    Source: fuel-gas-code-low-pressure.
    """
    factor = _code_factor(gas)
    _require_bore(inner_diameter_m)
    _require_run(length_m)
    require_range("flow_standard_m3_s", flow_standard_m3_s, 0.0, 10.0, "low-pressure gas lines")
    flow_cfh = flow_standard_m3_s / _CUBIC_FOOT_PER_HOUR_m3_s
    gradient = (flow_cfh**0.381 / (19.17 * inner_diameter_m / _INCH_m)) ** (1.0 / 0.206)
    drop_Pa = float(gradient * factor * length_m / _FOOT_m * _INCH_OF_WATER_Pa)
    require_range("pressure_drop_Pa", drop_Pa, 0.0, HIGHEST_LOW_PRESSURE_Pa, "supply below 1.5 psi")
    return drop_Pa


@sourced("spitzglass-low-pressure", "below 1 psi, as US handbooks print it")
def spitzglass_capacity_standard_m3_s(
    *, specific_gravity: float, inner_diameter_m: float, length_m: float, pressure_drop_Pa: float
) -> float:
    """Flow by Spitzglass's formula, the older second opinion; the code's equation is the one used here.

    Equation: Q = 3550 sqrt(D^5 dH / [S L (1 + 3.6/D + 0.03 D)]), units as in gas_pipe_diameter_m. It lies a quarter
        below the code's equation at 1/2 in. and 2 % above it at 2 in.
    Args: specific_gravity [-] to air: 0.3 to 2.5; the others as in gas_pipe_capacity_standard_m3_s.
    Returns: flow [m3/s at 60 degF, 14.7 psi].
    Raises: OutOfRange.
    Source: spitzglass-low-pressure.
    """
    require_range("specific_gravity", specific_gravity, 0.3, 2.5, "fuel gases against air")
    _require_bore(inner_diameter_m)
    _require_run(length_m)
    _require_drop(pressure_drop_Pa)
    D = inner_diameter_m / _INCH_m
    resistance = specific_gravity * length_m / _FOOT_m * (1.0 + 3.6 / D + 0.03 * D)
    flow_cfh = 3550.0 * (D**5 * pressure_drop_Pa / _INCH_OF_WATER_Pa / resistance) ** 0.5
    return float(flow_cfh * _CUBIC_FOOT_PER_HOUR_m3_s)


@sourced("fuel-gas-code-low-pressure", "pipe by load, longest length and allowed drop")
@sourced("steel-pipe-schedule-40", "inner diameters of 1/2 to 4 in.")
def smallest_gas_pipe(
    *,
    gas: PipedGas,
    heat_input_W: float,
    heating_value_J_standard_m3: float,
    length_m: float,
    pressure_drop_Pa: float,
) -> GasPipe:
    """Smallest steel pipe, schedule 40, 1/2 to 4 in., that carries a burner's input and 2.5 % more.

    The margin keeps the choice no smaller than the code's own tables, which lie that much below its equation.
    Args:
        gas: "natural gas" or "propane".
        heat_input_W [W]: gross, at the highest fire, of all that hangs on the line; above 0.
        heating_value_J_standard_m3 [J/m3 at 60 degF, 14.7 psi]: gross, 1e7 to 1.5e8.
        length_m [m]: equivalent length of the longest run, 0.3 to 1000. pressure_drop_Pa [Pa]: allowed, 1 to 10342.
    Returns: the pipe.
    Raises: OutOfRange, also where 4 in. is too small; InputError for another gas.
    Source: fuel-gas-code-low-pressure, steel-pipe-schedule-40.
    Example: 550,000 Btu/h of natural gas, 60 ft, 0.5 in. w.c.
        >>> smallest_gas_pipe(
        ...     gas="natural gas", heat_input_W=161189.0, heating_value_J_standard_m3=3.8e7, length_m=18.29,
        ...     pressure_drop_Pa=124.54,
        ... ).nominal_size
        '1-1/2'
    """
    require_range("heat_input_W", heat_input_W, 1.0, None, "gross input at the highest fire")
    require_range("heating_value_J_standard_m3", heating_value_J_standard_m3, 1.0e7, 1.5e8, "fuel gases, gross")
    flow = heat_input_W / heating_value_J_standard_m3
    capacity = 0.0
    for nominal_size, inner_in in _STEEL_PIPE_in.items():
        bore_m = inner_in * _INCH_m
        capacity = gas_pipe_capacity_standard_m3_s(
            gas=gas, inner_diameter_m=bore_m, length_m=length_m, pressure_drop_Pa=pressure_drop_Pa
        )
        if capacity >= TABLE_MARGIN * flow:
            drop_Pa = gas_pipe_pressure_drop_Pa(
                gas=gas, inner_diameter_m=bore_m, length_m=length_m, flow_standard_m3_s=flow
            )
            return GasPipe(nominal_size, bore_m, flow, capacity, drop_Pa)
    reason = "a 4 in. pipe at this length and drop: more drop, a higher supply pressure or a second line"
    most_W = capacity / TABLE_MARGIN * heating_value_J_standard_m3
    raise OutOfRange("heat_input_W", heat_input_W, None, most_W, reason)


@sourced("fuel-gas-code-low-pressure", "supply below 1.5 psi")
@sourced("own-gas-line", "lowest supply less drop at the train; highest supply at no flow; drop at altitude")
def gas_line(
    *,
    gas: PipedGas,
    heat_input_W: float,
    heating_value_J_standard_m3: float,
    length_m: float,
    most_drop_Pa: float,
    site_pressure_Pa: float,
    site_lowest_gauge_Pa: float,
    site_highest_gauge_Pa: float,
    train_lowest_gauge_Pa: float,
    train_highest_gauge_Pa: float,
) -> GasLine:
    """Pipe from the site's supply to the burner's train, and the pressures that the train then meets.

    Equation: allowed drop = the lesser of most_drop and (site's lowest - train's lowest), most_drop where the site
        gives less than the train needs; drop = the code's x 101325 / site pressure, the code's own below sea level;
        train's inlet at full fire = site's lowest - drop at the load; with no flow the train meets the site's highest.
    Args:
        gas, heat_input_W, heating_value_J_standard_m3, length_m: as in smallest_gas_pipe.
        most_drop_Pa [Pa]: what the code or the utility allows, 1 to 10342 (0.5 in. w.c. is common).
        site_pressure_Pa [Pa absolute]: 60,000 to 110,000.
        site_lowest_gauge_Pa, site_highest_gauge_Pa [Pa gauge]: at meter or line regulator, all other gas equipment
            running, and nothing running; 100 to 10342.
        train_lowest_gauge_Pa, train_highest_gauge_Pa [Pa gauge]: the train's inlet range at full fire.
    Returns: the line; notices where the train gets too little, where little is left for the line, and where the train
        must be protected from the site's highest pressure.
    Raises: OutOfRange; InputError for another gas.
    Source: fuel-gas-code-low-pressure, own-gas-line.
    """
    reason = "supply below 1.5 psi; above, a line regulator or the code's other equation"
    require_range("site_lowest_gauge_Pa", site_lowest_gauge_Pa, 100.0, HIGHEST_LOW_PRESSURE_Pa, reason)
    require_range("site_highest_gauge_Pa", site_highest_gauge_Pa, site_lowest_gauge_Pa, HIGHEST_LOW_PRESSURE_Pa, reason)
    require_range("train_lowest_gauge_Pa", train_lowest_gauge_Pa, 0.0, train_highest_gauge_Pa, "the train's own range")
    require_range("most_drop_Pa", most_drop_Pa, 1.0, HIGHEST_LOW_PRESSURE_Pa, "supply below 1.5 psi")
    require_range("site_pressure_Pa", site_pressure_Pa, 60_000.0, 110_000.0, "site pressure")
    spare_Pa = site_lowest_gauge_Pa - train_lowest_gauge_Pa
    allowed_Pa = min(most_drop_Pa, spare_Pa) if spare_Pa >= _LEAST_SPARE_Pa else most_drop_Pa
    # The same mass flow at a lower density: drop goes with the inverse of the density, Reynolds number stays.
    altitude_factor = max(STANDARD_ATMOSPHERE_Pa / site_pressure_Pa, 1.0)
    pipe = smallest_gas_pipe(
        gas=gas,
        heat_input_W=heat_input_W,
        heating_value_J_standard_m3=heating_value_J_standard_m3,
        length_m=length_m,
        pressure_drop_Pa=allowed_Pa / altitude_factor,
    )
    pipe = replace(pipe, pressure_drop_Pa=altitude_factor * pipe.pressure_drop_Pa)
    inlet_Pa = site_lowest_gauge_Pa - pipe.pressure_drop_Pa
    return GasLine(
        pipe=pipe,
        altitude_factor=altitude_factor,
        allowed_drop_Pa=allowed_Pa,
        train_inlet_gauge_Pa=inlet_Pa,
        no_flow_gauge_Pa=site_highest_gauge_Pa,
        notices=_line_notices(
            (inlet_Pa, site_highest_gauge_Pa),
            (train_lowest_gauge_Pa, train_highest_gauge_Pa),
            (allowed_Pa, most_drop_Pa),
        ),
    )


def _line_notices(
    met_Pa: tuple[float, float], range_Pa: tuple[float, float], drop_Pa: tuple[float, float]
) -> tuple[Notice, ...]:
    """What is wrong with the pressures (full fire, rest) that a train meets, against its range and the drop allowed."""
    (inlet_Pa, rest_Pa), (lowest_Pa, highest_Pa), (allowed_Pa, most_Pa) = met_Pa, range_Pa, drop_Pa
    checks = (
        (
            inlet_Pa < lowest_Pa,
            "train inlet below its lowest",
            "CONFLICT: at full fire the gas train gets {0}, less than the {1} that it needs, and the burner will not"
            " reach its input. Ask the utility for more pressure, change the train, or fit a booster that the utility"
            " allows.",
            ((inlet_Pa, "pressure"), (lowest_Pa, "pressure")),
        ),
        (
            inlet_Pa >= lowest_Pa and allowed_Pa < most_Pa,
            "little pressure for the gas line",
            "The site's gas pressure leaves {0} for the line, less than the usual {1}: the pipe is larger for it.",
            ((allowed_Pa, "pressure"), (most_Pa, "pressure")),
        ),
        (
            rest_Pa > highest_Pa,
            "gas pressure at rest",
            "With no flow the site's gas pressure of {0} is above the train's highest, {1}: a line regulator with"
            " overpressure protection is needed ahead of the train, vented as the code says.",
            ((rest_Pa, "pressure"), (highest_Pa, "pressure")),
        ),
    )
    return tuple(Notice(name, text, figures) for present, name, text, figures in checks if present)


@sourced("fuel-gas-code-combustion-air", "section 304: free area by input")
def combustion_air_openings(heat_input_W: float) -> CombustionAirOpenings:
    """Free area of combustion-air openings for the gas input of a room.

    Equation: two openings outdoors, direct or vertical: 1 in2 each per 4000 Btu/h; by horizontal ducts per 2000; one
        opening high up per 3000; two to indoor rooms of enough volume per 1000, each at least 100 in2.
    Args: heat_input_W [W]: gross input of all burners in the room, above 0.
    Returns: free areas; grilles and louvres pass less than their face.
    Raises: OutOfRange.
    Source: fuel-gas-code-combustion-air. Burners of much excess air, and blowers, need more: the local code decides.
    """
    require_range("heat_input_W", heat_input_W, 1.0, None, "gross input of all burners in the room")
    input_Btu_h = heat_input_W / _BTU_PER_HOUR_W
    square_inch_m2 = _INCH_m**2
    return CombustionAirOpenings(
        two_to_outdoors_each_m2=input_Btu_h / 4000.0 * square_inch_m2,
        two_by_horizontal_ducts_each_m2=input_Btu_h / 2000.0 * square_inch_m2,
        one_to_outdoors_m2=input_Btu_h / 3000.0 * square_inch_m2,
        two_to_indoors_each_m2=max(input_Btu_h / 1000.0, _LEAST_INDOOR_OPENING_in2) * square_inch_m2,
    )
