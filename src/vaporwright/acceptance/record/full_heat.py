"""Heat at full output as a record has it: ten minutes clocked or weighed, in a step of its own.

For a run whose heat went on and off at the set point it is the only sight of what the heat gives (guarantee.unit_fit).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from vaporwright.acceptance.record.state import RunState, TakenReading
from vaporwright.acceptance.run.averages import COVERAGE, DEFAULT_UNCERTAINTIES
from vaporwright.acceptance.run.heat_meters import heat_of_a_weighing
from vaporwright.acceptance.run.log import Measured, SteadyReadings
from vaporwright.acceptance.sections.full_heat import FULL_HEAT, TANK_MEANWHILE, CLOCKED_s
from vaporwright.acceptance.steps.instruments import is_number
from vaporwright.acceptance.steps.outcomes import TEST_ERROR
from vaporwright.unit.assembly import AssembledUnit
from vaporwright.unit.balance import Conditions
from vaporwright.unit.heat import FUELS, kind_of

BATH_MOVES_K: Final = 1.0  # standard, of the tank's mean while it rises


def with_full_heat(
    readings: SteadyReadings, state: RunState, unit: AssembledUnit, conditions: Conditions
) -> SteadyReadings:
    """The readings of the run with the heat at full output beside them, where the record has it."""
    kind = kind_of(unit.heat_source)
    place = FULL_HEAT[kind]
    amount = _measured(state.current(place.step, place.field))
    if amount is None:
        return readings
    site = conditions.heat_site
    gauge_Pa = site.steam_gauge_pressure_Pa
    beside = {
        "barometer_Pa": readings.pressure_Pa,
        "steam_gauge_Pa": Measured(gauge_Pa, DEFAULT_UNCERTAINTIES["steam_gauge_Pa"][0] * gauge_Pa / COVERAGE),
    }
    fuel = FUELS[site.fuel] if kind == "gas" else None
    heat = heat_of_a_weighing(kind, fuel, amount, CLOCKED_s, beside)
    tank = state.current(place.step, TANK_MEANWHILE)
    bath = _measured(tank)
    if bath is not None:
        bath = Measured(bath.value, (bath.standard_uncertainty**2 + BATH_MOVES_K**2) ** 0.5)
    return replace(readings, full_heat_W=heat, full_heat_bath_K=bath)


def _measured(taken: TakenReading | None) -> Measured | None:
    """A reading with its standard uncertainty; None where there is none, or one that its test spoilt."""
    if taken is None or taken.outcome == TEST_ERROR or not is_number(taken.reading.value):
        return None
    value = float(taken.reading.value)
    return Measured(value, (taken.expanded_uncertainty or 0.0) / COVERAGE)
