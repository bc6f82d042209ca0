"""The conditions of the day of a test, and the unit's answer under them.

Every expectation of a test follows from the same model as the design, on clean water, with the shop's air, water and
supply instead of the site's: `answer_on` is an answer like any other, so that levels, hydraulics, gas, electrical and
exhaust sections of the unit (vaporwright.unit.body) are worked out from it by the same functions.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from typing import Final

from vaporwright.foundation.errors import InputError
from vaporwright.properties.moist_air import (
    humidity_ratio_from_wet_bulb_kg_kg,
    relative_humidity_from_humidity_ratio,
)
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.balance import SeasonResult, conditions_of, settle
from vaporwright.unit.heat import kind_of
from vaporwright.unit.job import SEASONS, AirState, Job
from vaporwright.unit.warm_up import warm_up

TEST_SEASON: Final = "average"  # under which the one result of the day stands
CLEAN_WATER_VARIANTS: Final = ("full", "cold", "hot on site")  # of a procedure; the start-up is on the liquor
CLEAN_SOLIDS_kg_m3: Final = 0.3  # tap water


@dataclass(frozen=True)
class DayKey:
    """One condition of the day: key, what it is, quantity, and the plausible range [SI]."""

    name: str
    label: str
    quantity: str
    low: float
    high: float
    only_for: str = ""


DAY_KEYS: Final = (
    DayKey("air_temperature_K", "air at the blower's inlet", "temperature", 250.0, 325.0),
    DayKey("wet_bulb_K", "wet bulb at the blower's inlet", "temperature", 245.0, 315.0),
    DayKey("pressure_Pa", "barometer, as it stands here (not reduced to sea level)", "absolute pressure",
           6.5e4, 1.08e5),
    DayKey("elevation_m", "elevation, which derates a burner", "length", -100.0, 3500.0),
    DayKey("water_temperature_K", "make-up water", "temperature", 273.65, 323.15),
    DayKey("supply_voltage_V", "supply voltage, line to line", "voltage", 100.0, 700.0),
    DayKey("duct_loss_Pa", "loss of the exhaust duct as the unit stands today", "pressure", 0.0, 1000.0),
    DayKey("exhaust_recirculation", "exhaust drawn in again", "fraction", 0.0, 0.3),
    DayKey("steam_gauge_Pa", "steam at the coil", "gauge pressure", 1.0e3, 1.5e6, only_for="steam"),
)  # fmt: skip


@dataclass(frozen=True)
class DayConditions:
    """What surrounds the unit on the day of the test, SI.

    Raises: InputError for a value that no day has, or a wet bulb above the air.
    """

    air_temperature_K: float
    wet_bulb_K: float
    pressure_Pa: float
    elevation_m: float
    water_temperature_K: float
    supply_voltage_V: float
    duct_loss_Pa: float = 0.0
    exhaust_recirculation: float = 0.0
    steam_gauge_Pa: float | None = None

    def __post_init__(self) -> None:
        for key in DAY_KEYS:
            value = getattr(self, key.name)
            if value is not None and not key.low <= value <= key.high:
                raise InputError("day", key.name, f"{value:.6g}", f"{key.low:g} to {key.high:g} (SI): {key.label}")
        if self.wet_bulb_K > self.air_temperature_K:
            problem = f"{self.wet_bulb_K:.2f} K is above the air's {self.air_temperature_K:.2f} K"
            raise InputError("day", "wet_bulb_K", problem, "at most the air's temperature")

    def as_dict(self) -> dict[str, float]:
        """By key, without what is not there."""
        return {name: value for name, value in asdict(self).items() if value is not None}


def usual_day(answer: UnitAnswer) -> DayConditions:
    """An invented day where nobody has measured one: mild air, the job's own elevation and supplies."""
    job = answer.job
    steam = kind_of(answer.unit.heat_source) == "steam"
    return DayConditions(
        air_temperature_K=294.15,
        wet_bulb_K=288.15,
        pressure_Pa=job.pressure_Pa,
        elevation_m=job.number("site.elevation"),
        water_temperature_K=288.15,
        supply_voltage_V=job.number("utilities.supply_voltage"),
        steam_gauge_Pa=job.number("utilities.steam_pressure") if steam else None,
    )


def job_on(job: Job, day: DayConditions, *, clean_water: bool = True) -> Job:
    """The job with the day's air, water and supply; on clean water, or on the job's own liquor."""
    air = _air(day)
    values = dict(job.values)
    values |= {
        "liquid.feed_temperature": day.water_temperature_K,
        "site.elevation": day.elevation_m,
        "site.exhaust_recirculation": day.exhaust_recirculation,
        "site.exhaust_duct_loss": day.duct_loss_Pa,
        "utilities.supply_voltage": day.supply_voltage_V,
    }
    if clean_water:
        values |= {
            "liquid.dissolved_solids": CLEAN_SOLIDS_kg_m3,
            "liquid.chloride": 0.0,
            "liquid.concentration_factor": 1.0,
            "choices.scale_resistance": 0.0,
        }
    if day.steam_gauge_Pa is not None:
        values["utilities.steam_pressure"] = day.steam_gauge_Pa
    seasons = {season: replace(air, season=season) for season in SEASONS}
    return replace(job, values=values, pressure_Pa=day.pressure_Pa, air=seasons)


def answer_on(
    answer: UnitAnswer, day: DayConditions, *, clean_water: bool = True, set_point_K: float | None = None
) -> UnitAnswer:
    """The unit's answer under the conditions of the day; all its seasons are that day.

    Args: set_point_K: in force, where the control holds the tank lower than the job says.
    Raises: OutOfRange and NotConverged from the unit's parts, each naming its variable.
    """
    job = job_on(answer.job, day, clean_water=clean_water)

    def settled(end_of_batch: bool) -> SeasonResult:
        conditions = conditions_of(job, TEST_SEASON, end_of_batch=end_of_batch)
        held_K = conditions.set_point_K if set_point_K is None else min(set_point_K, conditions.set_point_K)
        return settle(answer.unit, replace(conditions, set_point_K=held_K))

    result = settled(False)
    seasons: dict[str, SeasonResult] = dict.fromkeys(SEASONS, result)
    end = result if clean_water else settled(True)
    return UnitAnswer(job, answer.unit, seasons, TEST_SEASON, end, answer.required_kg_s, warm_up(answer.unit, result))


def _air(day: DayConditions) -> AirState:
    humidity = humidity_ratio_from_wet_bulb_kg_kg(day.air_temperature_K, day.wet_bulb_K, day.pressure_Pa)
    relative = relative_humidity_from_humidity_ratio(day.air_temperature_K, humidity, day.pressure_Pa)
    return AirState(TEST_SEASON, day.air_temperature_K, day.air_temperature_K, humidity, relative, day.wet_bulb_K)
