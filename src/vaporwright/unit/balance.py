"""The balance: at which tank temperature the unit settles, and what it evaporates there.

A unit evaporates the lesser of what the tower carries and what the heat drives. With the heat source full on,
the tank settles where the heat equals what tower, surface, walls, piping and feed take; the set point only clamps
it. Steady state, tank well mixed; the liquor's activity, density and heat capacity count.

    heat + pump + feed x h(feed) = towers x air x (h_out - h_in) + surface + walls + piping + drift x h(tank)
    feed = evaporation of towers and surface + drift

The concentrate leaves between runs; while running the tank's solids rise from feed strength to end of batch, and
the balance is struck at the strength halfway.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from vaporwright.equipment.tank import TankLosses, tank_losses
from vaporwright.equipment.tank_walls import pipe_loss
from vaporwright.foundation.constants import STANDARD_GRAVITY_m_s2
from vaporwright.foundation.errors import InputError, NotConverged, OutOfRange
from vaporwright.foundation.notice import Notice
from vaporwright.foundation.solvers import advance_root_search, start_root_search
from vaporwright.properties.liquor import Liquor, concentrated, density_kg_m3, heat_capacity_J_kgK, water_activity
from vaporwright.properties.moist_air import wet_bulb_temperature_K
from vaporwright.properties.moist_air_kernels import vapour_pressure_of_pure_water_Pa
from vaporwright.properties.water import liquid_enthalpy_J_kg, liquid_heat_capacity_J_kgK, saturation_temperature_K
from vaporwright.unit.air_path import Intake, TowerRating, rate_tower_on_blower
from vaporwright.unit.assembly import AssembledUnit, WATER_DENSITY_kg_m3, tank_of, temperature_limits_K
from vaporwright.unit.heat import HeatCurve, HeatRating, HeatSite, heat_curve, rate_heat
from vaporwright.unit.job import AirState, Job
from vaporwright.unit.operation_notices import fill_notices, tank_notices

PIPE_DIAMETER_m = 0.0603  # 2 in. pipe
PIPE_EMISSIVITY = 0.9
SOLIDS_DENSITY_SLOPE = 0.65  # growth of a cold solution's density over its solids per volume
SETTLED_SHARE = 3.0e-5  # of the heat: what the balance may leave over
CLOSE_TO_WET_BULB_difference_K = 3.0
LEAST_ABOVE_LOW_difference_K = 0.05  # a settling temperature closer to the low end of the search is not believed
BELOW_BOILING_difference_K = 5.0
COLDEST_TANK_K = 283.15
CURVE_REACH_difference_K = 25.0  # below the clamp: where most units settle
LIMIT_HEAT, LIMIT_TOWER = "heat", "tower"


@dataclass(frozen=True)
class Conditions:
    """Everything around the unit in one season, SI."""

    air: AirState
    pressure_Pa: float
    intake: Intake
    heat_site: HeatSite
    liquor: Liquor
    feed_temperature_K: float
    lid_fraction: float
    air_speed_m_s: float
    piping_length_m: float
    set_point_K: float


@dataclass(frozen=True)
class EnergyTerms:
    """Where the heat goes [W]; `closing_W` is what the balance leaves over, by rounding and the solver."""

    heat_source_W: float
    pump_W: float
    feed_enthalpy_W: float
    tower_air_W: float
    surface_vapour_W: float
    surface_dry_W: float
    walls_W: float
    piping_W: float
    drift_W: float

    @property
    def closing_W(self) -> float:
        """Energy in less energy out."""
        return (
            self.heat_source_W
            + self.pump_W
            + self.feed_enthalpy_W
            - self.tower_air_W
            - self.surface_vapour_W
            - self.surface_dry_W
            - self.walls_W
            - self.piping_W
            - self.drift_W
        )

    @property
    def demand_W(self) -> float:
        """Heat that the source must give."""
        return self.heat_source_W - self.closing_W


@dataclass(frozen=True)
class Operation:
    """The unit at one tank temperature, heat not yet matched."""

    temperature_K: float
    water_activity: float
    heat_capacity_share: float  # of the liquor over water
    tower: TowerRating
    tank: TankLosses
    evaporation_kg_s: float
    tower_evaporation_kg_s: float
    surface_evaporation_kg_s: float
    drift_kg_s: float
    feed_kg_s: float
    energy: EnergyTerms


@dataclass(frozen=True)
class SeasonResult:
    """What the unit does in one season."""

    season: str
    conditions: Conditions
    settling_temperature_K: float
    limit: str  # LIMIT_HEAT or LIMIT_TOWER
    clamp_K: float  # set point or the lowest temperature limit of a part
    clamp_part: str
    operation: Operation
    heat: HeatRating  # the source at full output in this bath
    heat_curve: HeatCurve
    heat_W: float  # drawn into the bath
    load: float  # share of full output
    fuel_or_power_W: float
    blower_power_W: float
    pump_power_W: float
    at_clamp: Operation | None  # what the tower would carry at the clamp; None where it already sits there
    warnings: tuple[Notice, ...]

    @property
    def evaporation_kg_s(self) -> float:
        """Tower and surface together."""
        return self.operation.evaporation_kg_s


def conditions_of(job: Job, season: str, *, end_of_batch: bool = False) -> Conditions:
    """What surrounds the unit in a season of the job.

    Raises InputError where the batch would pass the solubility of salt.
    """
    air = job.air[season]
    pressure = job.pressure_Pa
    intake = Intake(
        air.temperature_K,
        air.humidity_ratio_kg_kg,
        pressure,
        job.number("site.exhaust_recirculation"),
        job.number("site.exhaust_duct_loss"),
    )
    heat_site = HeatSite(
        pressure_Pa=pressure,
        elevation_m=job.number("site.elevation"),
        air_temperature_K=air.temperature_K,
        air_humidity_ratio_kg_kg=air.humidity_ratio_kg_kg,
        fuel=job.text("utilities.fuel"),
        excess_air_fraction=job.number("choices.excess_air"),
        scale_resistance_m2K_W=job.number("choices.scale_resistance"),
        supply_voltage_V=job.number("utilities.supply_voltage"),
        electric_limit_W=job.optional("utilities.electric_limit"),
        steam_gauge_pressure_Pa=job.number("utilities.steam_pressure"),
        steam_limit_kg_s=job.optional("utilities.steam_limit"),
    )
    return Conditions(
        air=air,
        pressure_Pa=pressure,
        intake=intake,
        heat_site=heat_site,
        liquor=liquor_of(job, end_of_batch=end_of_batch),
        feed_temperature_K=job.number("liquid.feed_temperature"),
        lid_fraction=job.number("choices.lid_covered"),
        air_speed_m_s=job.number("site.air_speed_over_tank"),
        piping_length_m=job.number("choices.piping_length"),
        set_point_K=job.number("choices.set_point"),
    )


def in_air(conditions: Conditions, air: AirState, pressure_Pa: float, feed_temperature_K: float) -> Conditions:
    """The conditions in other air, which tank, intake and heat source all have, and on other make-up."""
    return replace(
        conditions,
        air=air,
        pressure_Pa=pressure_Pa,
        feed_temperature_K=feed_temperature_K,
        intake=replace(
            conditions.intake,
            temperature_K=air.temperature_K,
            humidity_ratio_kg_kg=air.humidity_ratio_kg_kg,
            pressure_Pa=pressure_Pa,
        ),
        heat_site=replace(
            conditions.heat_site,
            pressure_Pa=pressure_Pa,
            air_temperature_K=air.temperature_K,
            air_humidity_ratio_kg_kg=air.humidity_ratio_kg_kg,
        ),
    )


def liquor_of(job: Job, *, end_of_batch: bool) -> Liquor:
    """The liquor halfway through a batch, or at its end; solids rise linearly with the volume fed."""
    solids_kg_m3 = job.number("liquid.dissolved_solids")
    feed = Liquor(
        solids_kg_m3 / _cold_density_kg_m3(solids_kg_m3),
        job.number("liquid.chloride") / _cold_density_kg_m3(solids_kg_m3),
    )
    factor = job.number("liquid.concentration_factor")
    strength = factor if end_of_batch else 0.5 * (1.0 + factor)
    temperature = job.number("choices.set_point")
    try:
        concentrated(feed, _by_mass(factor, solids_kg_m3), temperature)
        return concentrated(feed, _by_mass(strength, solids_kg_m3), temperature)
    except OutOfRange as error:
        # By volume, the largest factor brings the solids per volume to those of a saturated liquor.
        most = (error.high or 1.0) * feed.dissolved_solids_kg_kg
        largest = most * WATER_DENSITY_kg_m3 / (1.0 - SOLIDS_DENSITY_SLOPE * most) / solids_kg_m3
        raise InputError(
            "job",
            "liquid.concentration_factor",
            f"{factor:.3g} would crystallise salt from {solids_kg_m3 * 1e3:.0f} mg/L dissolved solids ({error})",
            f"at most {largest:.3g} for this feed",
        ) from error


def _cold_density_kg_m3(solids_kg_m3: float) -> float:
    """Density of a cold solution by its solids per volume; sodium chloride to 250 g/L within 0.5 %."""
    return WATER_DENSITY_kg_m3 + SOLIDS_DENSITY_SLOPE * solids_kg_m3


def _by_mass(volume_factor: float, solids_kg_m3: float) -> float:
    """Mass fed over mass left, of volume fed over volume left, both cold."""
    return volume_factor * _cold_density_kg_m3(solids_kg_m3) / _cold_density_kg_m3(volume_factor * solids_kg_m3)


def pump_shaft_power_W(unit: AssembledUnit, density: float) -> float:
    """Shaft power of the pump at its duty point [W]; all of it ends as heat in the liquor."""
    pump = unit.pump
    return density * STANDARD_GRAVITY_m_s2 * pump.head_m * pump.flow_m3_s / pump.efficiency


def operate(
    unit: AssembledUnit,
    conditions: Conditions,
    temperature_K: float,
    heat_source_W: float,
    earlier: Sequence[TowerRating] = (),
) -> Operation:
    """The unit at one tank temperature with a given heat into the bath; its energy terms need not close."""
    activity = water_activity(conditions.liquor, temperature_K)
    density = density_kg_m3(conditions.liquor, temperature_K)
    share = heat_capacity_J_kgK(conditions.liquor, temperature_K) / liquid_heat_capacity_J_kgK(temperature_K)
    spray_kg_s = unit.spray_flow_m3_s * density
    tower = rate_tower_on_blower(
        tower=unit.tower,
        blower=unit.blower,
        intake=conditions.intake,
        water_temperature_K=temperature_K,
        water_flow_kg_s=spray_kg_s / unit.towers,
        water_activity=activity,
        heat_capacity_share=share,
        earlier=earlier,
    )
    air = conditions.air
    tank = tank_losses(
        tank=tank_of(unit.tank, conditions.lid_fraction),
        liquid_temperature_K=temperature_K,
        room_temperature_K=air.temperature_K,
        room_humidity_ratio_kg_kg=air.humidity_ratio_kg_kg,
        pressure_Pa=conditions.pressure_Pa,
        air_speed_m_s=conditions.air_speed_m_s,
        water_activity=activity,
    )
    piping = pipe_loss(
        liquid_temperature_K=temperature_K,
        room_temperature_K=air.temperature_K,
        pressure_Pa=conditions.pressure_Pa,
        pipe_diameter_m=PIPE_DIAMETER_m,
        length_m=conditions.piping_length_m,
        insulation_thickness_m=0.0,
        insulation_conductivity_W_mK=0.045,
        emissivity=PIPE_EMISSIVITY,
    )
    by_tower = unit.towers * tower.evaporation_kg_s
    drift = unit.tower.drift_fraction * spray_kg_s
    feed = by_tower + tank.surface_evaporation_kg_s + drift
    energy = EnergyTerms(
        heat_source_W=heat_source_W,
        pump_W=pump_shaft_power_W(unit, density),
        feed_enthalpy_W=feed * liquid_enthalpy_J_kg(conditions.feed_temperature_K),
        tower_air_W=unit.towers * tower.heat_to_air_W,
        surface_vapour_W=tank.surface_vapour_enthalpy_flow_W,
        surface_dry_W=tank.surface_sensible_W,
        walls_W=tank.lid_heat_W + tank.wall_heat_W + tank.floor_heat_W,
        piping_W=piping.heat_W,
        drift_W=drift * liquid_enthalpy_J_kg(temperature_K),
    )
    return Operation(
        temperature_K=temperature_K,
        water_activity=activity,
        heat_capacity_share=share,
        tower=tower,
        tank=tank,
        evaporation_kg_s=by_tower + tank.surface_evaporation_kg_s,
        tower_evaporation_kg_s=by_tower,
        surface_evaporation_kg_s=tank.surface_evaporation_kg_s,
        drift_kg_s=drift,
        feed_kg_s=feed,
        energy=energy,
    )


def clamp_of(unit: AssembledUnit, conditions: Conditions) -> tuple[float, str]:
    """Highest tank temperature allowed, and by what: the set point, a part, or boiling."""
    boiling = saturation_temperature_K(conditions.pressure_Pa) - BELOW_BOILING_difference_K
    limits = [("set point", conditions.set_point_K), *temperature_limits_K(unit), ("5 K under boiling", boiling)]
    part, limit = min(limits, key=lambda entry: entry[1])
    return limit, part


def settle(
    unit: AssembledUnit,
    conditions: Conditions,
    *,
    near: SeasonResult | None = None,
    closing_share: float = SETTLED_SHARE,
) -> SeasonResult:
    """Find the tank temperature at which the unit settles with the heat full on, or its clamp.

    Args:
        near: an earlier result of nearly the same unit; narrows the search.
        closing_share [-]: what the energy balance may leave over, as a share of the heat.
    Raises: OutOfRange and NotConverged from the parts, each naming its variable.
    """
    clamp_K, clamp_part = clamp_of(unit, conditions)
    air = conditions.air
    coldest_K = wet_bulb_temperature_K(air.temperature_K, air.humidity_ratio_kg_kg, conditions.pressure_Pa)
    low_K = max(coldest_K + CLOSE_TO_WET_BULB_difference_K, COLDEST_TANK_K)
    if low_K >= clamp_K:
        raise OutOfRange("set_point_K", clamp_K, low_K, None, f"the wet bulb of the {air.season} air")
    balance = _HeatBalance(unit, conditions, _curve_to_search_with(unit, conditions, clamp_K, near), closing_share)
    at_clamp: Operation | None = None
    start_K = near.settling_temperature_K if near is not None and near.limit == LIMIT_HEAT else None
    if start_K is None or not balance.search_from(start_K, low_K, clamp_K):
        if balance.shortfall_W(clamp_K) <= 0.0:
            limit = LIMIT_TOWER
            heat = rate_heat(unit.heat_source, conditions.heat_site, clamp_K)
            heat_W = min(balance.latest().energy.demand_W, heat.heat_W)
            clamp = (clamp_K, clamp_part)
            return _result(unit, conditions, balance.latest(), heat, balance.curve, heat_W, limit, clamp, None)
        at_clamp = balance.latest()
        _search(balance, low_K, clamp_K, -at_clamp.energy.closing_W)
    heat = balance.refine(low_K, clamp_K)
    operation = balance.latest()
    clamp = (clamp_K, clamp_part)
    return _result(unit, conditions, operation, heat, balance.curve, heat.heat_W, LIMIT_HEAT, clamp, at_clamp)


def _curve_to_search_with(
    unit: AssembledUnit, conditions: Conditions, clamp_K: float, near: SeasonResult | None
) -> HeatCurve:
    if near is None:
        low_K = max(clamp_K - CURVE_REACH_difference_K, COLDEST_TANK_K)
        return heat_curve(unit.heat_source, conditions.heat_site, low_K, clamp_K)
    at_K = round(near.settling_temperature_K, 4)
    return near.heat_curve.through(at_K, rate_heat(unit.heat_source, conditions.heat_site, at_K).heat_W)


class _HeatBalance:
    """One search for the settling temperature: the heat curve in use and every operation tried."""

    def __init__(self, unit: AssembledUnit, conditions: Conditions, curve: HeatCurve, closing_share: float) -> None:
        self.unit, self.conditions, self.curve, self.closing_share = unit, conditions, curve, closing_share
        self._tried: list[Operation] = []

    def latest(self) -> Operation:
        """The operation tried last; where a search succeeded, the one found."""
        return self._tried[-1]

    def shortfall_W(self, temperature_K: float) -> float:
        """Heat wanted less heat there is; rises with temperature."""
        earlier = [operation.tower for operation in self._tried[-2:]]
        heat_W = self.curve.heat_W(temperature_K)
        self._tried.append(operate(self.unit, self.conditions, temperature_K, heat_W, earlier))
        return -self.latest().energy.closing_W

    def search_from(self, start_K: float, low_K: float, clamp_K: float) -> bool:
        """Secants in vapour pressure from a temperature nearby; False where they lead out of the range."""
        low, high = vapour_pressure_of_pure_water_Pa(low_K), vapour_pressure_of_pure_water_Pa(clamp_K)
        if not low_K + LEAST_ABOVE_LOW_difference_K < start_K <= clamp_K:
            return False
        x0 = vapour_pressure_of_pure_water_Pa(start_K)
        heat_W = self.curve.heat_W(start_K)
        slope_W_Pa = heat_W / (x0 - low)
        y0 = self.shortfall_W(start_K)
        for _ in range(8):
            if abs(y0) < self.closing_share * heat_W:
                return True
            x1 = x0 - y0 / slope_W_Pa
            if not low < x1 < high:
                return False
            y1 = self.shortfall_W(saturation_temperature_K(x1))
            if y1 != y0:
                slope_W_Pa = (y1 - y0) / (x1 - x0)
            x0, y0 = x1, y1
        return False

    def refine(self, low_K: float, clamp_K: float) -> HeatRating:
        """Rate the heat source exactly where the search ended, and search on from there until both agree."""
        for _ in range(6):
            settled_K = self.latest().temperature_K
            heat = rate_heat(self.unit.heat_source, self.conditions.heat_site, settled_K)
            if abs(heat.heat_W - self.curve.heat_W(settled_K)) <= self.closing_share * heat.heat_W:
                return heat
            self.curve = self.curve.through(settled_K, heat.heat_W)
            if not self.search_from(settled_K, low_K, clamp_K):
                break
        raise NotConverged(f"settling temperature [K]: heat source and tank do not agree near {settled_K:.2f} K")


def _search(balance: _HeatBalance, low_K: float, clamp_K: float, at_clamp_W: float) -> None:
    """Search in vapour pressure, in which the heat wanted is nearly a straight line; ends at the temperature found.

    At the low end, just above the wet bulb, the tower takes next to nothing: its residual is taken as known.
    """
    low, high = vapour_pressure_of_pure_water_Pa(low_K), vapour_pressure_of_pure_water_Pa(clamp_K)
    at_low_W = -balance.curve.heat_W(low_K)
    search = start_root_search(low, at_low_W, high, at_clamp_W)
    for _ in range(60):
        temperature_K = saturation_temperature_K(search.next)
        residual_W = balance.shortfall_W(temperature_K)
        if abs(residual_W) < balance.closing_share * abs(at_low_W):
            if temperature_K - low_K < LEAST_ABOVE_LOW_difference_K:
                break
            return
        search = advance_root_search(search, residual_W, 1.0e-7 * high)
        if search.width < 1.0e-7 * high and temperature_K - low_K > LEAST_ABOVE_LOW_difference_K:
            return
    raise NotConverged(
        f"settling temperature [K]: none between {low_K:.2f} K (close to the wet bulb or to freezing) and "
        f"{clamp_K:.2f} K; the heat source does not cover the losses of the tank, or the tower is far too large for it"
    )


def _result(
    unit: AssembledUnit,
    conditions: Conditions,
    operation: Operation,
    heat: HeatRating,
    curve: HeatCurve,
    heat_W: float,
    limit: str,
    clamp: tuple[float, str],
    at_clamp: Operation | None,
) -> SeasonResult:
    load = heat_W / heat.heat_W
    operation = replace(operation, energy=replace(operation.energy, heat_source_W=heat_W))
    density = density_kg_m3(conditions.liquor, operation.temperature_K)
    return SeasonResult(
        season=conditions.air.season,
        conditions=conditions,
        settling_temperature_K=operation.temperature_K,
        limit=limit,
        clamp_K=clamp[0],
        clamp_part=clamp[1],
        operation=operation,
        heat=heat,
        heat_curve=curve,
        heat_W=heat_W,
        load=load,
        fuel_or_power_W=heat.drawn_W * load,
        blower_power_W=unit.towers * operation.tower.blower_input_W,
        pump_power_W=pump_shaft_power_W(unit, density) / unit.pump.motor_efficiency,
        at_clamp=at_clamp,
        warnings=(
            *fill_notices(unit.tower.fill, operation.tower, operation.temperature_K),
            *tank_notices(unit, operation.tank, conditions.set_point_K, clamp),
            *heat.warnings,
        ),
    )
