"""The day of a test: its conditions, and the unit's answer under them."""

import math
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from vaporwright.acceptance.steps.day import DayConditions, answer_on, job_on
from vaporwright.actions.size_job import answer_job
from vaporwright.foundation.errors import InputError
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.body import body_of

EXAMPLES = Path(__file__).parents[3] / "examples"
DAY = DayConditions(
    air_temperature_K=294.0,
    wet_bulb_K=288.0,
    pressure_Pa=98_500.0,
    elevation_m=240.0,
    water_temperature_K=287.0,
    supply_voltage_V=474.0,
    steam_gauge_Pa=2.0e5,
)


@cache
def design(job: str) -> UnitAnswer:
    return answer_job(EXAMPLES / f"{job}.toml")[2]


@pytest.mark.parametrize("job", ["tumbling_effluent_gas", "nickel_rinse_electric", "coolant_wash_steam"])
def test_the_answer_of_the_day_is_on_clean_water_in_the_days_air(job: str) -> None:
    found = answer_on(design(job), DAY)
    result = found.seasons[found.governing]
    assert result.conditions.air.temperature_K == DAY.air_temperature_K
    assert result.conditions.pressure_Pa == DAY.pressure_Pa
    assert result.operation.water_activity == pytest.approx(1.0, abs=1e-3)
    assert abs(result.operation.energy.closing_W) < 1e-3 * result.heat_W
    assert [section.problem for section in body_of(found).sections if section.problem] == []


def test_electric_heat_goes_with_the_square_of_the_supply() -> None:
    full, low = (
        answer_on(design("nickel_rinse_electric"), replace(DAY, supply_voltage_V=volts)) for volts in (480.0, 456.0)
    )
    ratio = low.seasons["average"].fuel_or_power_W / full.seasons["average"].fuel_or_power_W
    assert ratio == pytest.approx((456.0 / 480.0) ** 2, rel=1e-9)


def test_the_liquor_itself_is_used_on_site() -> None:
    clean, liquor = (answer_on(design("coolant_wash_steam"), DAY, clean_water=wanted) for wanted in (True, False))
    activities = [answer.end_of_batch.operation.water_activity for answer in (clean, liquor)]
    assert activities[0] > activities[1]
    assert (
        job_on(design("coolant_wash_steam").job, DAY, clean_water=False).number("liquid.concentration_factor") == 15.0
    )


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("air_temperature_K", 24.0),  # degrees Celsius by mistake
        ("pressure_Pa", 1_013.0),  # hectopascal by mistake
        ("supply_voltage_V", math.nan),
        ("wet_bulb_K", 296.0),  # above the air
        ("exhaust_recirculation", -0.1),
    ],
)
def test_a_day_that_cannot_be_is_refused_by_name(key: str, value: float) -> None:
    with pytest.raises(InputError, match=key):
        replace(DAY, **{key: value})
