"""The unit's heat source at one bath temperature, whatever its kind: heat, what it draws, what it warns of.

A curve through three bath temperatures stands in for the heat source while a balance is searched; the result of
the balance is rated exactly.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal, TypeAlias

from vaporwright.equipment.burner_altitude import altitude_input_factor
from vaporwright.equipment.electric_heater import ElectricHeaterRating, rate_electric_heater
from vaporwright.equipment.gas_burner import GasBurnerRating, rate_gas_burner
from vaporwright.equipment.steam_coil import STEAM_SUPPLY, SteamCoilRating, rate_steam_coil
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.notice import Notice
from vaporwright.properties.fuels import NATURAL_GAS, PROPANE
from vaporwright.properties.steam import saturated_water
from vaporwright.properties.water import saturation_temperature_K
from vaporwright.unit.catalogue import ElectricHeaterPart, GasBurnerPart, HeatSourcePart, SteamCoilPart

HeatKind: TypeAlias = Literal["gas", "electric", "steam"]
HeatDetail: TypeAlias = GasBurnerRating | ElectricHeaterRating | SteamCoilRating
SCALING_m2K_W = 1.0e-4  # scale resistance from which heating surfaces count as scaling
FUELS = {"natural gas": NATURAL_GAS, "propane": PROPANE}


@dataclass(frozen=True)
class HeatSite:
    """What the site gives the heat source, and how that source was found to do beside its model (unit.as_found)."""

    pressure_Pa: float
    elevation_m: float
    air_temperature_K: float
    air_humidity_ratio_kg_kg: float
    fuel: str
    excess_air_fraction: float
    scale_resistance_m2K_W: float
    supply_voltage_V: float
    electric_limit_W: float | None
    steam_gauge_pressure_Pa: float
    steam_limit_kg_s: float | None
    input_factor: float = 1.0  # fuel or power over the nameplate's
    heat_factor: float = 1.0  # heat into the bath over the model's, at the same input


@dataclass(frozen=True)
class HeatRating:
    """A heat source at full output in a bath of one temperature."""

    kind: str  # "gas", "electric" or "steam"
    heat_W: float
    drawn_W: float  # gross fuel input, electric power, or heat of the steam
    efficiency: float  # heat over drawn
    limit: str  # what holds the heat down
    detail: HeatDetail
    warnings: tuple[Notice, ...]


def kind_of(part: HeatSourcePart) -> HeatKind:
    """What kind of heat a source gives."""
    if isinstance(part, GasBurnerPart):
        return "gas"
    return "electric" if isinstance(part, ElectricHeaterPart) else "steam"


@lru_cache(maxsize=4096)
def rate_heat(part: HeatSourcePart, site: HeatSite, bath_temperature_K: float) -> HeatRating:
    """Rate a heat source at full output.

    Raises:
        InputError: the site lacks what the heat source needs (its fuel).
        OutOfRange, NotConverged: from the equipment, each naming its variable.
    """
    if isinstance(part, GasBurnerPart):
        rated = _gas(part, site, bath_temperature_K)
    elif isinstance(part, ElectricHeaterPart):
        rated = _electric(part, site, bath_temperature_K)
    else:
        rated = _steam(part, site, bath_temperature_K)
    if site.heat_factor == 1.0:
        return rated
    heat_W, efficiency = rated.heat_W * site.heat_factor, rated.efficiency * site.heat_factor
    if rated.kind == "steam":  # what condenses is what it gives
        return replace(rated, heat_W=heat_W, drawn_W=heat_W)
    return replace(rated, heat_W=heat_W, efficiency=efficiency)


def full_input_W(part: GasBurnerPart, site: HeatSite) -> float:
    """Gross input of a burner at the site's altitude [W]."""
    if part.fan_assisted:
        factor = altitude_input_factor("air density", elevation_m=site.elevation_m, pressure_Pa=site.pressure_Pa)
    else:
        factor = altitude_input_factor("four percent per 1000 ft", elevation_m=site.elevation_m)
    return part.gross_input_W * factor * site.input_factor


def _gas(part: GasBurnerPart, site: HeatSite, bath_K: float) -> HeatRating:
    if site.fuel not in part.fuels or site.fuel not in FUELS:
        raise InputError("job", "utilities.fuel", f"{site.fuel!r} does not fire {part.part_id}", ", ".join(part.fuels))
    gross_W = full_input_W(part, site)
    rating = rate_gas_burner(
        bath_temperature_K=bath_K,
        fuel=FUELS[site.fuel],
        gross_input_W=gross_W,
        excess_air_fraction=site.excess_air_fraction,
        air_temperature_K=site.air_temperature_K,
        air_humidity_ratio_kg_kg=site.air_humidity_ratio_kg_kg,
        pressure_Pa=site.pressure_Pa,
        tube_inner_diameter_m=part.tube_outer_diameter_m - 2.0 * part.tube_wall_thickness_m,
        tube_length_m=part.tube_length_m,
        tube_wall_thickness_m=part.tube_wall_thickness_m,
        wall_conductivity_W_mK=part.tube_conductivity_W_mK,
        wall_emissivity=part.tube_emissivity,
        fouling_resistance_m2K_W=site.scale_resistance_m2K_W,
        flame_length_m=part.flame_length_m,
    )
    limit = (
        "burner input" if gross_W >= part.gross_input_W * site.input_factor else "burner input, derated for altitude"
    )
    return HeatRating("gas", rating.heat_to_bath_W, gross_W, rating.gross_efficiency, limit, rating, rating.warnings)


def _electric(part: ElectricHeaterPart, site: HeatSite, bath_K: float) -> HeatRating:
    rating = rate_electric_heater(
        rated_power_W=part.rated_power_W * site.input_factor,
        rated_voltage_V=part.rated_voltage_V,
        supply_voltage_V=site.supply_voltage_V,
        phases=part.phases,
        sheath_area_m2=part.sheath_area_m2,
        sheath_diameter_m=part.sheath_diameter_m,
        bath_temperature_K=bath_K,
        service="scaling" if site.scale_resistance_m2K_W >= SCALING_m2K_W else "clean",
        fouling_resistance_m2K_W=site.scale_resistance_m2K_W,
        site_pressure_Pa=site.pressure_Pa,
    )
    heat, limit = rating.heat_W, "heater power"
    if site.electric_limit_W is not None and site.electric_limit_W < heat:
        heat, limit = site.electric_limit_W, "electric power of the site"
    return HeatRating("electric", heat, heat, 1.0, limit, rating, rating.warnings)


def _steam(part: SteamCoilPart, site: HeatSite, bath_K: float) -> HeatRating:
    if site.steam_gauge_pressure_Pa > part.highest_gauge_pressure_Pa:
        raise InputError(
            "job",
            "utilities.steam_pressure",
            f"{site.steam_gauge_pressure_Pa / 1e5:.3g} bar gauge is above what {part.part_id} bears",
            f"at most {part.highest_gauge_pressure_Pa / 1e5:.3g} bar gauge",
        )
    rating = rate_steam_coil(
        bath_temperature_K=bath_K,
        steam_pressure_Pa=site.steam_gauge_pressure_Pa + site.pressure_Pa,
        tube_outer_diameter_m=part.tube_outer_diameter_m,
        tube_wall_thickness_m=part.tube_wall_thickness_m,
        wall_conductivity_W_mK=part.wall_conductivity_W_mK,
        tube_length_m=part.tube_length_m,
        parallel_tubes=part.parallel_tubes,
        fouling_resistance_m2K_W=site.scale_resistance_m2K_W,
        steam_supply_limit_kg_s=site.steam_limit_kg_s,
        condensate_returned=False,
        site_pressure_Pa=site.pressure_Pa,
    )
    limit = "steam supply of the site" if rating.limit == STEAM_SUPPLY else "coil surface"
    return HeatRating("steam", rating.heat_W, rating.heat_W, 1.0, limit, rating, rating.warnings)


@dataclass(frozen=True)
class HeatCurve:
    """Heat at full output as a parabola through three bath temperatures."""

    low_K: float
    high_K: float
    at_low_W: float
    at_middle_W: float
    at_high_W: float

    def heat_W(self, bath_temperature_K: float) -> float:
        """Heat at a bath temperature, inside or a little outside the three [W]."""
        s = 2.0 * (bath_temperature_K - self.low_K) / (self.high_K - self.low_K) - 1.0
        even = 0.5 * (self.at_high_W + self.at_low_W) - self.at_middle_W
        return self.at_middle_W + s * (0.5 * (self.at_high_W - self.at_low_W) + s * even)

    def through(self, bath_temperature_K: float, heat_W: float) -> HeatCurve:
        """The same curve shifted to pass through one rating, for a site that differs a little."""
        shift_W = heat_W - self.heat_W(bath_temperature_K)
        return HeatCurve(
            self.low_K, self.high_K, self.at_low_W + shift_W, self.at_middle_W + shift_W, self.at_high_W + shift_W
        )


@lru_cache(maxsize=512)
def heat_curve(part: HeatSourcePart, site: HeatSite, low_K: float, high_K: float) -> HeatCurve:
    """The curve of a heat source between two bath temperatures."""
    middle_K = 0.5 * (low_K + high_K)
    at = [rate_heat(part, site, bath_K).heat_W for bath_K in (low_K, middle_K, high_K)]
    return HeatCurve(low_K, high_K, *at)


def steam_for_heat_kg_s(heat_W: float, gauge_pressure_Pa: float, pressure_Pa: float) -> float:
    """Steam that gives this heat by condensing, dry and saturated at the coil [kg/s]."""
    return heat_W / saturated_water(saturation_temperature_K(gauge_pressure_Pa + pressure_Pa)).latent_heat_J_kg
