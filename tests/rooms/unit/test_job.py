"""The job: duty arithmetic, assumptions register, air of the seasons, refusal of hazardous liquids."""

from __future__ import annotations

from typing import Any

import pytest

from invented_unit import GALLON, fahrenheit
from vaporwright.foundation.errors import InputError, LiquidRefused
from vaporwright.properties.moist_air import humidity_ratio_kg_kg, wet_bulb_temperature_K
from vaporwright.unit.fields import FIELDS, FIELDS_BY_KEY
from vaporwright.unit.job import REFUSALS, build_job

MONTH_s = 365.25 / 12.0 * 86400.0
VOLUME: dict[str, Any] = {"duty.volume": 6000.0 * GALLON / MONTH_s}


def test_the_duty_counts_the_calendar_the_running_hours_and_what_is_hauled() -> None:
    given = {
        **VOLUME,
        "duty.hours_per_day": 16.0,
        "duty.days_per_week": 5.0,
        "duty.availability": 0.85,
        "liquid.concentration_factor": 10.0,
    }
    duty = build_job(given).duty
    assert duty.running_share == pytest.approx(16.0 / 24.0 * 5.0 / 7.0 * 0.85)
    assert duty.evaporated_share == pytest.approx(0.9)
    assert duty.hours_per_year == pytest.approx(3548.0, abs=1.0)
    # 6000 gal over 730.5 h of the calendar, nine tenths of it, in 0.4048 of the time
    assert duty.evaporation_m3_s / GALLON * 3600.0 == pytest.approx(18.26, abs=0.01)


def test_every_key_not_given_is_an_assumption_with_a_basis_or_needs_none() -> None:
    job = build_job(VOLUME)
    assumed = {entry.key: entry for entry in job.assumptions}
    for field in FIELDS:
        silent = field.required or field.instead_of or field.key.startswith(("unit.", "levels."))
        silent = silent or field.quantity == "text" or field.only_for in ("electric", "steam")  # the job heats with gas
        if silent or field.key == "job.report_units":
            assert field.key not in assumed
        else:
            assert assumed[field.key].basis, field.key
            assert assumed[field.key].meaning, field.key


def test_what_is_given_is_not_assumed() -> None:
    given = {**VOLUME, "site.elevation": 100.0, "site.winter.wet_bulb": 265.0, "liquid.hazards": ("none",)}
    assumed = {entry.key for entry in build_job(given).assumptions}
    assert not assumed & {*given, "site.winter.relative_humidity"}


def test_the_average_air_lies_midway_and_says_so() -> None:
    job = build_job({**VOLUME, "site.summer.air_temperature": 305.0, "site.winter.air_temperature": 265.0})
    entry = next(entry for entry in job.assumptions if entry.key == "site.average.air_temperature")
    assert entry.value == pytest.approx(285.0)
    assert "midway" in entry.basis
    assert entry.low is not None
    assert entry.high is not None
    assert entry.low < 285.0 < entry.high


def test_room_air_keeps_the_moisture_of_outdoor_air() -> None:
    given = {
        **VOLUME,
        "site.winter.air_temperature": 265.0,
        "site.winter.relative_humidity": 0.8,
        "site.summer.air_temperature": 305.0,
        "site.room_winter_temperature": 291.0,
        "site.room_above_outdoors": 3.0,
    }
    room, outdoors = build_job(given), build_job({**given, "site.air_supply": "outdoors"})
    winter, summer = room.air["winter"], room.air["summer"]
    assert winter.temperature_K == 291.0
    assert summer.temperature_K == pytest.approx(308.0)
    assert winter.humidity_ratio_kg_kg == pytest.approx(humidity_ratio_kg_kg(265.0, 0.8, room.pressure_Pa))
    assert winter.relative_humidity < 0.2
    assert winter.wet_bulb_temperature_K == pytest.approx(
        wet_bulb_temperature_K(291.0, winter.humidity_ratio_kg_kg, room.pressure_Pa)
    )
    assert outdoors.air["winter"].temperature_K == 265.0
    assert outdoors.air["winter"].humidity_ratio_kg_kg == winter.humidity_ratio_kg_kg


def test_a_wet_bulb_and_its_relative_humidity_give_the_same_air() -> None:
    base = {**VOLUME, "site.air_supply": "outdoors", "site.summer.air_temperature": 306.0}
    by_wet_bulb = build_job({**base, "site.summer.wet_bulb": 297.0}).air["summer"]
    by_humidity = build_job({**base, "site.summer.relative_humidity": by_wet_bulb.relative_humidity}).air["summer"]
    assert by_humidity.humidity_ratio_kg_kg == pytest.approx(by_wet_bulb.humidity_ratio_kg_kg, rel=1e-6)
    assert by_humidity.wet_bulb_temperature_K == pytest.approx(297.0, abs=0.01)


@pytest.mark.parametrize("season", ["summer", "winter", "average"])
def test_a_wet_bulb_that_cannot_be_names_its_key_and_both_degrees(season: str) -> None:
    base = {**VOLUME, f"site.{season}.air_temperature": fahrenheit(60.0)}
    with pytest.raises(InputError, match=r"70.0 degF \(21.1 degC\) is above the air temperature 60.0 degF") as caught:
        build_job({**base, f"site.{season}.wet_bulb": fahrenheit(70.0)})
    assert caught.value.key == f"site.{season}.wet_bulb"
    with pytest.raises(InputError, match=r"below what dry air of 60\.0 degF") as caught:
        build_job({**base, f"site.{season}.wet_bulb": fahrenheit(20.0)})
    assert caught.value.key == f"site.{season}.wet_bulb"
    assert caught.value.allowed.startswith("at least 3")


def test_wet_bulb_and_relative_humidity_together_contradict() -> None:
    given = {**VOLUME, "site.winter.wet_bulb": 265.0, "site.winter.relative_humidity": 0.5}
    with pytest.raises(InputError, match="one of the two"):
        build_job(given)


@pytest.mark.parametrize("air_F", [5.0, 60.0, 72.0, 80.0])
def test_an_assumed_wet_bulb_never_contradicts_a_cool_summer(air_F: float) -> None:
    job = build_job({**VOLUME, "site.summer.air_temperature": fahrenheit(air_F), "site.air_supply": "outdoors"})
    entry = next(entry for entry in job.assumptions if entry.key == "site.summer.wet_bulb")
    assert entry.value == job.number("site.summer.wet_bulb")
    assert job.air["summer"].wet_bulb_temperature_K == pytest.approx(entry.value, abs=0.02)
    assert job.air["summer"].relative_humidity == pytest.approx(0.6, abs=0.005)
    assert entry.low is not None
    assert entry.high is not None
    assert entry.low < job.number("site.summer.wet_bulb") < entry.high < fahrenheit(air_F)


def test_a_usual_summer_keeps_the_usual_wet_bulb() -> None:
    job = build_job({**VOLUME, "site.summer.air_temperature": fahrenheit(92.0)})
    assert job.number("site.summer.wet_bulb") == FIELDS_BY_KEY["site.summer.wet_bulb"].default


@pytest.mark.parametrize("hazard", sorted(REFUSALS))
def test_hazards_are_refused_before_anything_else(hazard: str) -> None:
    # The other values contradict each other: the refusal must come first.
    given = {"liquid.hazards": (hazard,), "site.summer.air_temperature": 290.0, "site.summer.wet_bulb": 300.0}
    with pytest.raises(LiquidRefused, match=hazard) as caught:
        build_job(given)
    assert REFUSALS[hazard] in str(caught.value)
    assert "qualified chemist" in str(caught.value)


def test_every_hazard_has_its_reason() -> None:
    assert set(FIELDS_BY_KEY["liquid.hazards"].choices) == {"none", *REFUSALS}


def test_two_hazards_are_both_named() -> None:
    with pytest.raises(LiquidRefused, match=r"flammable: .*; cyanide: "):
        build_job({**VOLUME, "liquid.hazards": ("flammable", "cyanide")})


def test_chloride_is_part_of_the_dissolved_solids() -> None:
    with pytest.raises(InputError, match="800 mg/L is more than the dissolved solids of 500 mg/L"):
        build_job({**VOLUME, "liquid.chloride": 0.8, "liquid.dissolved_solids": 0.5})
    # The one that is only assumed gives way to the one that is stated, and the register says so.
    for given, follows in (
        ("liquid.chloride", "liquid.dissolved_solids"),
        ("liquid.dissolved_solids", "liquid.chloride"),
    ):
        value = 8.0 if given == "liquid.chloride" else 0.05
        job = build_job({**VOLUME, given: value})
        entry = next(entry for entry in job.assumptions if entry.key == follows)
        assert job.number(follows) == entry.value == value
