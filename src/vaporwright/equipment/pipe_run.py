"""A pipe run: pressure loss of hot liquor in pipe and fittings, its growth when warmed, its pressure rating.

Friction factors and fittings come from the `fluids` library (Colebrook's equation, Crane's coefficients); it is
imported inside the functions because it would cost at every start. Pressures lost are total pressures: a change
of velocity between runs is no loss, an "exit" fitting gives the velocity head away.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal, NamedTuple, get_args

from vaporwright.foundation.constants import ZERO_CELSIUS_K, STANDARD_GRAVITY_m_s2
from vaporwright.foundation.errors import InputError, OutOfRange, require_range
from vaporwright.foundation.register import sourced
from vaporwright.foundation.solvers import find_root
from vaporwright.properties.liquor import Liquor, density_kg_m3, water_activity
from vaporwright.properties.water import saturation_pressure_Pa
from vaporwright.properties.water_transport import liquid_viscosity_Pa_s

FittingKind = Literal[
    "flush entrance",
    "projecting entrance",
    "exit",
    "standard elbow",
    "sweep elbow",
    "45 degree elbow",
    "mitre elbow",
    "return bend",
    "run of tee",
    "branch of tee",
    "gate valve",
    "ball valve",
    "swing check valve",
    "sudden contraction",
    "sudden enlargement",
    "flow coefficient",
    "loss coefficient",
]
SIZED_BY_OTHER_DIAMETER: Final = ("sudden contraction", "sudden enlargement")
SIZED_BY_VALUE: Final = ("flow coefficient", "loss coefficient")
GREATEST_REYNOLDS: Final = 1.0e8
GREATEST_FLOW_m3_s: Final = 1.0  # far above any pump of such a unit; catches a flow in other units

# Crane's multiples of the fully turbulent friction factor of clean steel; the other fittings have functions in fluids
_CRANE_MULTIPLES: Final = {"standard elbow": 30.0, "45 degree elbow": 16.0, "return bend": 50.0}
_CRANE_TEES: Final = {"run of tee": 20.0, "branch of tee": 60.0}


@dataclass(frozen=True, slots=True)
class HotLiquor:
    """What hydraulics needs to know of a liquor at one temperature."""

    temperature_K: float
    density_kg_m3: float
    viscosity_Pa_s: float
    vapour_pressure_Pa: float

    def __post_init__(self) -> None:
        require_range("density_kg_m3", self.density_kg_m3, 500.0, 2000.0, "liquors")
        require_range("viscosity_Pa_s", self.viscosity_Pa_s, 1.0e-4, 1.0, "liquids that a centrifugal pump moves")
        require_range("vapour_pressure_Pa", self.vapour_pressure_Pa, 0.0, 1.0e6, "liquors")


@sourced("laliberte-2007", "viscosity of a mixture and of sodium chloride in it")
@sourced("laliberte-2009", "density, as the equivalent sodium chloride solution")
@sourced("moller-1988", "vapour pressure through the water activity")
def hot_liquor(liquor: Liquor, temperature_K: float) -> HotLiquor:
    """Density, viscosity and vapour pressure of a liquor, as the equivalent sodium chloride solution.

    Equation: ln mu = (1 - w) ln mu_water + w ln mu_salt, mu_salt(w, t) by Laliberte.
    Args: temperature_K [K]: 273.15 to 383.15.
    Returns: HotLiquor.
    Raises: OutOfRange outside that range or past saturation of sodium chloride.
    Source: laliberte-2007. Suspended solids, oil and antifoam are not in it: they thicken a liquor.
    """
    density = density_kg_m3(liquor, temperature_K)
    w = liquor.dissolved_solids_kg_kg
    t = temperature_K - ZERO_CELSIUS_K
    salt_mPa_s = math.exp((16.222 * math.pow(w, 1.3229) + 1.4849) / (0.0074691 * t + 1.0))
    salt_mPa_s /= 30.78 * math.pow(w, 2.0583) + 1.0
    water_mPa_s = 1.0e3 * liquid_viscosity_Pa_s(temperature_K)
    viscosity = 1.0e-3 * math.exp((1.0 - w) * math.log(water_mPa_s) + w * math.log(salt_mPa_s))
    vapour_pressure = water_activity(liquor, temperature_K) * saturation_pressure_Pa(temperature_K)
    return HotLiquor(temperature_K, density, viscosity, vapour_pressure)


@dataclass(frozen=True, slots=True)
class Fitting:
    """Some equal fittings of a run.

    value: for "flow coefficient" the Kv [m3/h at 1 bar], for "loss coefficient" K itself, for the two sudden
    changes the other, larger diameter [m]; for the rest None.
    """

    kind: FittingKind
    quantity: int = 1
    value: float | None = None

    def __post_init__(self) -> None:
        if self.kind not in get_args(FittingKind):
            raise InputError("pipe run", "fitting", f"{self.kind!r} is unknown", ", ".join(get_args(FittingKind)))
        require_range(f"quantity of {self.kind}", self.quantity, 0, 1000)
        needs_value = self.kind in SIZED_BY_VALUE or self.kind in SIZED_BY_OTHER_DIAMETER
        if needs_value and self.value is None:
            raise InputError("pipe run", self.kind, "its value is missing", "Kv in m3/h, K, or the other diameter in m")
        if not needs_value and self.value is not None:
            raise InputError("pipe run", self.kind, "it takes no value", "leave the value out")
        if self.value is not None:
            require_range(f"value of {self.kind}", self.value, 1.0e-6, 1.0e6)


@dataclass(frozen=True, slots=True)
class PipeRun:
    """A run of one inner diameter with its fittings."""

    inner_diameter_m: float
    length_m: float
    roughness_m: float
    fittings: tuple[Fitting, ...] = ()

    def __post_init__(self) -> None:
        require_range("inner_diameter_m", self.inner_diameter_m, 0.005, 1.0, "pipes of such units")
        require_range("length_m", self.length_m, 0.0, 1000.0, "pipes of such units")
        require_range("roughness_m", self.roughness_m, 0.0, 0.05 * self.inner_diameter_m, "Colebrook's equation")
        for fitting in self.fittings:
            if fitting.kind in SIZED_BY_OTHER_DIAMETER and fitting.value is not None:
                require_range(
                    f"other diameter of {fitting.kind} in m",
                    fitting.value,
                    self.inner_diameter_m,
                    None,
                    "it belongs to the run with the smaller diameter",
                )

    @property
    def area_m2(self) -> float:
        return 0.25 * math.pi * self.inner_diameter_m**2


class RunLoss(NamedTuple):
    """A run at one flow. Losses are of total pressure."""

    velocity_m_s: float
    reynolds_number: float
    friction_factor: float
    friction_Pa: float
    fittings_Pa: float
    loss_Pa: float
    head_m: float


@sourced("colebrook-white", "Darcy friction factor; 64/Re below a Reynolds number of 2040")
def friction_factor(reynolds_number: float, relative_roughness: float) -> float:
    """Darcy friction factor of a round pipe.

    Args: reynolds_number: above 0, to 1e8; relative_roughness: roughness over inner diameter, 0 to 0.05.
    Returns: factor [-]; it steps up where laminar flow ends.
    Raises: OutOfRange outside those ranges.
    Source: colebrook-white, exact solution by fluids.
    Example: smooth pipe at a Reynolds number of 100,000
        >>> round(friction_factor(1.0e5, 0.0), 5)
        0.01799
    """
    from fluids.friction import friction_factor as darcy

    require_range("reynolds_number", reynolds_number, 1.0e-6, GREATEST_REYNOLDS)
    require_range("relative_roughness", relative_roughness, 0.0, 0.05, "Colebrook's equation")
    return float(darcy(Re=reynolds_number, eD=relative_roughness))


@sourced("crane-tp-410", "loss coefficients of valves and fittings, as multiples of fT")
def fitting_loss_coefficient(fitting: Fitting, inner_diameter_m: float) -> float:
    """Loss coefficient K of some equal fittings together, on the velocity in the run.

    Equation: loss = K rho v^2 / 2. Elbows, tees and valves: a multiple of the friction factor fT of clean
        steel at full turbulence; Kv: K = 2 (A / Av)^2, Av the flow area that belongs to Kv.
    Args: inner_diameter_m [m] of the run: 0.005 to 1.
    Returns: K [-] times the quantity.
    Raises: OutOfRange outside that range.
    Source: crane-tp-410. Moulded plastic fittings differ from one another by some 30 %; a screwed one is worse
        than a socket.
    """
    from fluids import fittings as crane
    from fluids.friction import ft_Crane

    D = inner_diameter_m
    require_range("inner_diameter_m", D, 0.005, 1.0, "pipes of such units")
    value = fitting.value if fitting.value is not None else math.nan
    kind = fitting.kind
    if kind == "flush entrance":
        K = crane.entrance_sharp(method="Crane")
    elif kind == "projecting entrance":
        K = crane.entrance_distance(Di=D, t=None, method="Crane")
    elif kind == "exit":
        K = crane.exit_normal()
    elif kind == "sweep elbow":
        K = crane.bend_rounded(Di=D, angle=90.0, bend_diameters=1.5, method="Crane")
    elif kind == "mitre elbow":
        K = crane.bend_miter(angle=90.0, Di=D, method="Crane")
    elif kind == "gate valve":
        K = crane.K_gate_valve_Crane(D, D, 0.0)
    elif kind == "ball valve":
        K = crane.K_ball_valve_Crane(D, D, 0.0)
    elif kind == "swing check valve":
        K = crane.K_swing_check_valve_Crane(D)
    elif kind == "sudden contraction":
        K = crane.contraction_sharp(value, D, method="Crane")
    elif kind == "sudden enlargement":
        K = crane.diffuser_sharp(D, value)
    elif kind == "flow coefficient":
        K = crane.Kv_to_K(value, D)
    elif kind == "loss coefficient":
        K = value
    else:
        K = {**_CRANE_MULTIPLES, **_CRANE_TEES}[kind] * ft_Crane(D)
    return float(K) * fitting.quantity


@sourced("crane-tp-410", "flow coefficient from loss coefficient")
def flow_coefficient_m3_h(loss_coefficient: float, inner_diameter_m: float) -> float:
    """Kv of a valve or fitting from its loss coefficient, the inverse of "flow coefficient" in a run.

    Args: loss_coefficient K [-]: above 0; inner_diameter_m [m]: 0.005 to 1.
    Returns: Kv [m3/h of cold water at 1 bar].
    Raises: OutOfRange outside those ranges.
    """
    from fluids.fittings import K_to_Kv

    require_range("loss_coefficient", loss_coefficient, 1.0e-6, None)
    require_range("inner_diameter_m", inner_diameter_m, 0.005, 1.0, "pipes of such units")
    return float(K_to_Kv(loss_coefficient, inner_diameter_m))


@lru_cache(maxsize=256)
def _fittings_loss_coefficient(run: PipeRun) -> float:
    return math.fsum(fitting_loss_coefficient(fitting, run.inner_diameter_m) for fitting in run.fittings)


@sourced("colebrook-white", "friction of the pipe")
@sourced("crane-tp-410", "fittings")
def run_pressure_loss(run: PipeRun, flow_m3_s: float, liquor: HotLiquor) -> RunLoss:
    """What a run loses at a flow.

    Equation: loss = (f L / D + sum of K) rho v^2 / 2 (Darcy and Weisbach).
    Args: flow_m3_s [m3/s]: 0 to 1.
    Returns: RunLoss; at no flow all zero.
    Raises: OutOfRange outside that range.
    Source: colebrook-white, crane-tp-410. New, clean pipe: scale narrows and roughens it.
    """
    require_range("flow_m3_s", flow_m3_s, 0.0, GREATEST_FLOW_m3_s)
    if flow_m3_s == 0.0:
        return RunLoss(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    D = run.inner_diameter_m
    velocity = flow_m3_s / run.area_m2
    reynolds = liquor.density_kg_m3 * velocity * D / liquor.viscosity_Pa_s
    factor = friction_factor(reynolds, run.roughness_m / D)
    dynamic_Pa = 0.5 * liquor.density_kg_m3 * velocity * velocity
    friction_Pa = factor * run.length_m / D * dynamic_Pa
    fittings_Pa = _fittings_loss_coefficient(run) * dynamic_Pa
    loss_Pa = friction_Pa + fittings_Pa
    head_m = loss_Pa / (liquor.density_kg_m3 * STANDARD_GRAVITY_m_s2)
    return RunLoss(velocity, reynolds, factor, friction_Pa, fittings_Pa, loss_Pa, head_m)


@sourced("colebrook-white", "flow at which the losses use up the head")
@sourced("crane-tp-410", "fittings")
def gravity_flow_m3_s(runs: tuple[PipeRun, ...], head_m: float, liquor: HotLiquor) -> float:
    """Flow through full runs in series under a head: a drain, a feed to a filter press.

    Args: runs: in series, with entrance and exit among the fittings; head_m [m]: 1e-6 to 100.
    Returns: flow [m3/s]. The pipes run full: a self-venting return carries much less.
    Raises: OutOfRange outside that range; NotConverged where the flow would be above 1 m3/s.
    """
    require_range("head_m", head_m, 1.0e-6, 100.0)
    if not runs:
        raise InputError("pipe run", "runs", "there is none", "at least one run")

    def surplus_m(log_flow: float) -> float:
        return head_m - math.fsum(run_pressure_loss(run, math.exp(log_flow), liquor).head_m for run in runs)

    kinematic_m2_s = liquor.viscosity_Pa_s / liquor.density_kg_m3
    narrowest_m = min(run.inner_diameter_m for run in runs)
    fastest_m3_s = 0.25 * math.pi * narrowest_m * kinematic_m2_s * 0.999 * GREATEST_REYNOLDS
    low, high = math.log(1.0e-9), math.log(min(GREATEST_FLOW_m3_s, fastest_m3_s))
    return math.exp(find_root(surplus_m, low, high, tolerance=1.0e-9, name="ln of flow_m3_s"))


class PipeSize(NamedTuple):
    """A pipe of the inch series."""

    nominal_in: float
    inner_diameter_m: float
    outer_diameter_m: float


@sourced("pipe-dimensions", "the smallest pipe whose bore keeps the velocity")
def pipe_for_velocity(flow_m3_s: float, velocity_m_s: float, schedule: str = "80") -> PipeSize:
    """Smallest pipe in which a flow is no faster than a velocity.

    Args: flow_m3_s [m3/s]: 1e-6 to 1; velocity_m_s [m/s]: 0.05 to 10, in suction 1 to 1.5, in plastic runs up to
        2.5; schedule: "40" or "80", of steel and of plastic alike.
    Returns: PipeSize.
    Raises: OutOfRange outside those ranges, InputError on another schedule.
    """
    from fluids.piping import nearest_pipe

    require_range("flow_m3_s", flow_m3_s, 1.0e-6, GREATEST_FLOW_m3_s)
    require_range("velocity_m_s", velocity_m_s, 0.05, 10.0)
    if schedule not in ("40", "80"):
        raise InputError("pipe run", "schedule", f"{schedule!r} is unknown", "40 or 80")
    bore_m = math.sqrt(4.0 * flow_m3_s / (math.pi * velocity_m_s))
    require_range("bore in m for that velocity", bore_m, 0.005, 0.4, "pipes of such units")
    nominal, inner_m, outer_m, _ = nearest_pipe(Di=bore_m, schedule=schedule)
    return PipeSize(float(nominal), float(inner_m), float(outer_m))


class PipeMaterial(NamedTuple):
    """What a run's material decides; pressure_factors are (temperature in degF, share of the rating at 73 degF)."""

    roughness_m: float
    expansion_1_K: float
    pressure_factors: tuple[tuple[float, float], ...]


_PER_F: Final = 1.8  # a coefficient per degF becomes one per K
_MATERIALS: Final = {
    "PVC": PipeMaterial(
        1.5e-6,
        3.0e-5 * _PER_F,
        ((73, 1.0), (80, 0.88), (90, 0.75), (100, 0.62), (110, 0.50), (120, 0.40), (130, 0.30), (140, 0.22)),
    ),
    "CPVC": PipeMaterial(
        1.5e-6,
        3.8e-5 * _PER_F,
        (
            *((73, 1.0), (80, 0.94), (90, 0.86), (100, 0.78), (110, 0.71), (120, 0.64), (130, 0.57), (140, 0.50)),
            *((150, 0.43), (160, 0.37), (180, 0.25), (200, 0.18)),
        ),
    ),
    "polypropylene": PipeMaterial(
        1.5e-6,
        1.5e-4,
        (
            *((73, 1.0), (80, 0.93), (90, 0.83), (100, 0.71), (110, 0.66), (120, 0.58), (130, 0.51), (140, 0.40)),
            *((150, 0.38), (160, 0.23)),
        ),
    ),
    "PVDF": PipeMaterial(
        1.5e-6,
        1.4e-4,
        (
            *((73, 1.0), (80, 0.93), (90, 0.87), (100, 0.80), (110, 0.75), (120, 0.68), (130, 0.62), (140, 0.58)),
            *((150, 0.52), (160, 0.49), (170, 0.45), (180, 0.42), (200, 0.36), (210, 0.33)),
        ),
    ),
    "stainless steel": PipeMaterial(4.572e-5, 1.65e-5, ()),
    "carbon steel": PipeMaterial(4.572e-5, 1.2e-5, ()),
}


@sourced("pipe-material-values", "roughness and expansion")
@sourced("plastic-pressure-derating", "pressure factors")
def pipe_material(name: str) -> PipeMaterial:
    """Roughness, expansion and pressure factors of a material.

    Args: name: PVC, CPVC, polypropylene, PVDF, stainless steel, carbon steel.
    Returns: PipeMaterial; the metals have no pressure factors here.
    Raises: InputError where the name is unknown.
    """
    if name not in _MATERIALS:
        raise InputError("pipe run", "material", f"{name!r} is unknown", ", ".join(_MATERIALS))
    return _MATERIALS[name]


@sourced("pipe-material-values", "coefficient of expansion")
def thermal_growth_m(material: str, length_m: float, temperature_difference_K: float) -> float:
    """By how much a straight run grows when it is warmed from the temperature at which it was fitted.

    Equation: growth = coefficient x length x temperature difference.
    Args: length_m [m]: 0 to 1000; temperature_difference_K [K]: -60 to 120, negative where it cools.
    Returns: growth [m]. An anchored plastic run that may not grow bows, and pushes on pump and tank nozzles:
        offsets, loops or expansion joints, and guides instead of clamps.
    Raises: InputError on an unknown material, OutOfRange outside those ranges.
    Example: 10 m of CPVC warmed by 45 K
        >>> round(thermal_growth_m("CPVC", 10.0, 45.0), 3)
        0.031
    """
    require_range("length_m", length_m, 0.0, 1000.0)
    require_range("temperature_difference_K", temperature_difference_K, -60.0, 120.0)
    return pipe_material(material).expansion_1_K * length_m * temperature_difference_K


@sourced("plastic-pressure-derating", "the lower of the tables seen, straight lines between")
def pressure_rating_factor(material: str, temperature_K: float) -> float:
    """Share of its 73 degF pressure rating that a plastic run keeps when warm.

    Args: material: PVC, CPVC, polypropylene or PVDF; temperature_K [K] of the liquor: 273.15 to the material's
        last temperature with a rating (PVC 140 degF, polypropylene 160, CPVC 200, PVDF 210).
    Returns: factor [-], 1 up to 73 degF.
    Raises: OutOfRange above that: there is no rating, whatever the pressure; InputError for a metal.
    Source: plastic-pressure-derating; the maker's table for the part decides. Threaded ends take half of the
        rating or less. Hot liquid under pressure from a burst pipe scalds: guards and a shut-off.
    Example:
        >>> pressure_rating_factor("PVC", 333.15)
        0.22
    """
    points = pipe_material(material).pressure_factors
    if not points:
        raise InputError("pipe run", "material", f"no derating for {material}", "plastics; see the code for a metal")
    temperature_F = round((temperature_K - ZERO_CELSIUS_K) * 1.8 + 32.0, 9)
    highest_F, factor = points[-1]
    highest_K = (highest_F - 32.0) / 1.8 + ZERO_CELSIUS_K
    if not 32.0 <= temperature_F <= highest_F:
        reason = f"{material} has a pressure rating up to {highest_F:.0f} degF"
        raise OutOfRange("temperature_K", temperature_K, ZERO_CELSIUS_K, highest_K, reason)
    before_F, before = points[0]
    if temperature_F <= before_F:
        return before
    for at_F, factor in points[1:]:
        if temperature_F <= at_F:
            share = (temperature_F - before_F) / (at_F - before_F)
            return before + share * (factor - before)
        before_F, before = at_F, factor
    return factor
