"""Diagnosis: each planted cause is found again, the first split is the trade's, and what cannot be told is said."""

import math
import random
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from vaporwright.acceptance.diagnosis.causes import Case, causes_for, predicted_readings
from vaporwright.acceptance.diagnosis.diagnosis import READ, Diagnosis, diagnose
from vaporwright.acceptance.run.log import Measured, SteadyReadings
from vaporwright.acceptance.steps.day import DayConditions, job_on
from vaporwright.actions.size_job import answer_job
from vaporwright.foundation.errors import InputError
from vaporwright.unit.balance import conditions_of

EXAMPLES = Path(__file__).parents[3] / "examples"
JOBS = ("tumbling_effluent_gas", "nickel_rinse_electric", "coolant_wash_steam")
DAY = DayConditions(295.0, 288.0, 99_000.0, 200.0, 288.0, 478.0, steam_gauge_Pa=2.0e5)
FEW = ("evaporation_kg_s", "tank_temperature_K")


@cache
def design(job: str) -> Case:
    answer = answer_job(EXAMPLES / f"{job}.toml")[2]
    return Case(answer.unit, conditions_of(job_on(answer.job, DAY), "average"))


def readings_of(case: Case, names: tuple[str, ...] = (), noise: random.Random | None = None) -> SteadyReadings:
    predicted = predicted_readings(case)
    found: dict[str, Any] = {}
    for kind in READ:
        if kind.name not in predicted or (names and kind.name not in names):
            continue
        value = predicted[kind.name]
        spread = math.hypot(kind.reading_absolute, kind.reading_share * value)
        found[kind.name] = Measured(value + (noise.gauss(0.0, spread) if noise else 0.0), spread)
    air = {
        "inlet_air_temperature_K": Measured(DAY.air_temperature_K, 0.3),
        "inlet_wet_bulb_K": Measured(DAY.wet_bulb_K, 0.3),
        "pressure_Pa": Measured(DAY.pressure_Pa, 50.0),
        "feed_temperature_K": Measured(DAY.water_temperature_K, 0.3),
    }
    return SteadyReadings(**air, **found)


def diagnosed(job: str, case: Case, names: tuple[str, ...] = (), seed: int | None = None) -> Diagnosis:
    noise = None if seed is None else random.Random(seed)
    return diagnose(readings_of(case, names, noise), design(job).unit, design(job).conditions)


def planted(job: str, key: str, severity: float) -> Case:
    (cause,) = (cause for cause in causes_for(design(job).unit) if cause.key == key)
    return cause.change(design(job), severity)


SEEN = [
    # severities between those that the diagnosis tries, so that it does not just find its own grid again
    ("air_low", 0.76, "tower short"),
    ("spray_low", 0.68, "tower short"),
    ("fill_poor", 0.67, "tower short"),
    ("wet_air", 0.24, "tower short"),
    ("input_low", 0.76, "heat short"),
    ("heat_low", 0.76, "heat short"),
    ("thermometer", 3.2, "tower short"),  # by the reading; the other readings give it away
    ("evaporation_misread", 0.85, "as predicted"),
    ("set_point_low", 18.0, "heat short"),
]


@pytest.mark.parametrize("job", JOBS)
@pytest.mark.parametrize(("key", "severity", "side"), SEEN)
def test_a_planted_cause_comes_first_with_all_readings(job: str, key: str, severity: float, side: str) -> None:
    if job == "coolant_wash_steam" and key == "input_low":
        with pytest.raises(ValueError, match="not enough values"):
            planted(job, key, severity)  # a coil's steam is what condenses: it has no such cause
        return
    found = diagnosed(job, planted(job, key, severity), seed=11)
    # On a coil scale and any other loss of heat show the same in these readings: it says both.
    same = ("heat_low", "scale") if (job, key) == ("coolant_wash_steam", "heat_low") else (key,)
    assert found.suspects[0].key in same, [(suspect.key, suspect.probability) for suspect in found.suspects[:3]]
    assert sum(suspect.probability for suspect in found.suspects if suspect.key in same) > 0.6
    assert found.side == side
    assert found.explained
    tried = next(suspect.severity for suspect in found.suspects if suspect.key == key)
    assert tried == pytest.approx(severity, rel=0.06 if key != "thermometer" else 0.3)


@pytest.mark.parametrize("job", JOBS)
def test_a_healthy_unit_is_left_alone(job: str) -> None:
    wrong = 0
    for seed in range(8):
        found = diagnosed(job, design(job), seed=seed)
        wrong += found.suspects[0].key != "nothing"
        assert found.side == "as predicted"
    assert wrong <= 1


def test_two_readings_leave_the_tower_causes_open_and_say_what_to_read_next() -> None:
    found = diagnosed(JOBS[0], planted(JOBS[0], "fill_poor", 0.67), FEW)
    assert found.side == "tower short"
    tower = sum(suspect.probability for suspect in found.suspects if suspect.cause and suspect.cause.side == "tower")
    assert tower > 0.8
    assert found.suspects[0].probability < 0.5
    assert found.next_reading is not None
    assert found.next_reading.apart > 5.0
    assert found.next_reading.kind.name not in FEW


def test_the_reading_asked_for_does_tell_them_apart() -> None:
    case = planted(JOBS[0], "heat_low", 0.76)
    before = diagnosed(JOBS[0], case, FEW)
    assert before.next_reading is not None
    after = diagnosed(JOBS[0], case, (*FEW, before.next_reading.kind.name))
    assert after.suspects[0].key == "heat_low"
    assert after.suspects[0].probability > 0.95 > before.suspects[0].probability


@pytest.mark.parametrize("job", JOBS)
def test_a_set_point_turned_down_is_told_from_heat_that_is_short(job: str) -> None:
    case = planted(job, "set_point_low", 18.0)
    names = tuple(kind.name for kind in READ if kind.name != "set_point_K")
    before = diagnosed(job, case, names, seed=5)
    assert before.side == "heat short"
    assert "set_point_low" in [suspect.key for suspect in before.suspects[:3]]
    after = diagnosed(job, case, seed=5)
    assert after.suspects[0].key == "set_point_low"
    assert after.suspects[0].probability > 0.97
    # The same readings on a unit whose control stands where it should: it cannot be the set point.
    read = readings_of(case, names)
    sheet = predicted_readings(design(job))["set_point_K"]
    stands = diagnose(replace(read, set_point_K=Measured(sheet, 0.14)), design(job).unit, design(job).conditions)
    assert stands.suspects[0].key != "set_point_low"
    assert next(entry.probability for entry in stands.suspects if entry.key == "set_point_low") < 0.01


def test_an_electric_unit_held_low_is_asked_for_its_set_point() -> None:
    # Less power and a set point turned down make the same readings of everything else.
    names = tuple(kind.name for kind in READ if kind.name != "set_point_K")
    found = diagnosed(JOBS[1], planted(JOBS[1], "set_point_low", 18.0), names)
    assert {found.suspects[0].key, found.suspects[1].key} == {"input_low", "set_point_low"}
    assert found.next_reading is not None
    assert found.next_reading.kind.name == "set_point_K"


def test_a_set_point_turned_down_above_where_the_tank_settles_does_no_harm() -> None:
    found = diagnosed(JOBS[0], planted(JOBS[0], "set_point_low", 3.0))
    assert found.side == "as predicted"
    assert found.suspects[0].key == "set_point_low"
    assert found.suspects[0].severity == pytest.approx(3.0, abs=0.7)


def test_scale_is_likelier_after_years() -> None:
    case = planted(JOBS[2], "scale", 3e-4)
    readings = readings_of(case, FEW)
    new, old = (
        diagnose(readings, design(JOBS[2]).unit, design(JOBS[2]).conditions, in_service=years) for years in (0, 1)
    )
    of_scale = [next(entry.probability for entry in found.suspects if entry.key == "scale") for found in (new, old)]
    assert of_scale[1] > 2.0 * of_scale[0]


def test_readings_that_no_single_cause_makes_are_said_to_be_so() -> None:
    both = planted(JOBS[0], "air_low", 0.7)
    (heat,) = (cause for cause in causes_for(both.unit) if cause.key == "input_low")
    found = diagnosed(JOBS[0], heat.change(both, 0.75))
    assert not found.explained


@pytest.mark.parametrize("wrong", [math.nan, math.inf])
def test_nonsense_is_refused_by_name(wrong: float) -> None:
    readings = replace(readings_of(design(JOBS[0])), spray_flow_m3_s=Measured(wrong, 1e-5))
    with pytest.raises(InputError, match="spray_flow_m3_s"):
        diagnose(readings, design(JOBS[0]).unit, design(JOBS[0]).conditions)
