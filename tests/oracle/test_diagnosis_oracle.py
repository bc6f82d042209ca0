"""Diagnosis against Bayes' rule worked by hand: one reading that tells, two hypotheses."""

import math
from dataclasses import replace

import pytest

from example_rigs import example_answer
from support import verifies
from vaporwright.acceptance.diagnosis import diagnosis
from vaporwright.acceptance.diagnosis.causes import Case, Cause, predicted_readings
from vaporwright.acceptance.diagnosis.diagnosis import diagnose
from vaporwright.acceptance.run.log import Measured, SteadyReadings
from vaporwright.acceptance.steps.day import DayConditions, job_on
from vaporwright.unit.balance import conditions_of

DAY = DayConditions(295.0, 288.0, 99_000.0, 200.0, 288.0, 478.0)


@verifies("acceptance.diagnosis.diagnosis.diagnose")
@pytest.mark.parametrize("read_over_K", [-1.0, 1.0, 2.5, 4.0])
def test_weights_are_bayes_rule(read_over_K: float, monkeypatch: pytest.MonkeyPatch) -> None:
    def shifted(case: Case, severity: float) -> Case:
        return replace(case, thermometer_difference_K=severity)

    only = Cause("thermometer", "t", "readings", (3.0,), "temperature difference", "", shifted, 1.0, 1.0, "", "")
    monkeypatch.setattr(diagnosis, "causes_for", lambda _unit: (only,))
    answer = example_answer("electric")
    conditions = conditions_of(job_on(answer.job, DAY), "average")
    truth = predicted_readings(Case(answer.unit, conditions))
    readings = SteadyReadings(
        evaporation_kg_s=Measured(truth["evaporation_kg_s"], 0.01 * truth["evaporation_kg_s"]),
        tank_temperature_K=Measured(truth["tank_temperature_K"] + read_over_K, 1.5),
        inlet_air_temperature_K=Measured(DAY.air_temperature_K, 0.3),
        inlet_wet_bulb_K=Measured(DAY.wet_bulb_K, 0.3),
        pressure_Pa=Measured(DAY.pressure_Pa, 50.0),
        feed_temperature_K=Measured(DAY.water_temperature_K, 0.3),
    )
    found = diagnose(readings, answer.unit, conditions)
    variance = 1.5**2 + 1.0**2  # of the reading, and of the model
    odds = 0.75 / 0.25 * math.exp(-0.5 * ((read_over_K - 3.0) ** 2 - read_over_K**2) / variance)
    (probability,) = (entry.probability for entry in found.suspects if entry.key == "thermometer")
    assert probability == pytest.approx(odds / (1.0 + odds), rel=1e-4)
    assert found.tank_deviations == pytest.approx(read_over_K / math.sqrt(variance), rel=1e-4)
