"""Readings of a unit in service: means of rows, and uncertainties stated or usual."""

from __future__ import annotations

from math import sqrt

import pytest

from vaporwright.acceptance.run.log import SteadyReadings
from vaporwright.files.service_readings_file import service_readings_of
from vaporwright.foundation.errors import InputError

HEAD = "evaporation (kg/h),tank_temperature (degC),inlet_air_temperature (degC),inlet_wet_bulb (degC),pressure (kPa),"
HEAD += "feed_temperature (degC)"
ROW = "90,66,24,16,98,15"


def read(text: str) -> SteadyReadings:
    return service_readings_of(text.encode(), "readings.csv")


def test_one_row_with_what_is_usual_for_such_instruments() -> None:
    found = read(f"{HEAD}\n{ROW}\n")
    assert found.evaporation_kg_s.value == pytest.approx(0.025)
    assert found.evaporation_kg_s.standard_uncertainty == pytest.approx(0.025 * 0.01 / 2)  # a water meter, 1 %
    assert found.tank_temperature_K.value == pytest.approx(339.15)
    assert found.tank_temperature_K.standard_uncertainty == pytest.approx(0.2 / 1.8 / 2)  # a pair, 0.2 degF
    assert found.inlet_wet_bulb_K.standard_uncertainty == pytest.approx(1.0 / 1.8 / 2)
    assert found.pressure_Pa.standard_uncertainty == pytest.approx(50.0)
    assert found.spray_flow_m3_s is None


def test_rows_are_averaged_and_their_scatter_adds_to_the_instrument() -> None:
    found = read(f"time,{HEAD},tank_temperature uncertainty (degF)\n9:00,{ROW},1.8\n10:00,{ROW.replace('66', '68')},\n")
    assert found.tank_temperature_K.value == pytest.approx(340.15)
    # stated 1.8 degF is 1 K expanded, 0.5 K standard; 66 and 68 scatter by sqrt(2) K, their mean by 1 K
    assert found.tank_temperature_K.standard_uncertainty == pytest.approx(sqrt(0.5**2 + 1.0**2))


def test_the_uncertainty_of_a_barometer_is_neither_gauge_nor_absolute() -> None:
    found = read(f"{HEAD},pressure uncertainty (psi)\n{ROW},0.02\n")
    assert found.pressure_Pa.standard_uncertainty == pytest.approx(0.01 * 6894.757293168)


def test_further_columns() -> None:
    head = f"{HEAD},spray_flow (gal/min),heat_drawn (kW),drift (kg/h),drift uncertainty (kg/h),flue_oxygen (%)"
    found = read(f"{head}\n{ROW},50,80,1.8,0.72,4\n")
    assert found.spray_flow_m3_s is not None
    assert found.spray_flow_m3_s.value == pytest.approx(50 * 231 * 0.0254**3 / 60)
    assert found.heat_drawn_W is not None
    assert found.heat_drawn_W.value == pytest.approx(80e3)
    assert found.drift_kg_s is not None
    assert (found.drift_kg_s.value, found.drift_kg_s.standard_uncertainty) == (
        pytest.approx(5e-4),
        pytest.approx(1e-4),
    )
    assert found.flue_oxygen is not None
    assert found.flue_oxygen.standard_uncertainty == pytest.approx(0.0015)


@pytest.mark.parametrize(
    ("text", "key", "problem"),
    [
        (f"{HEAD.replace(',feed_temperature (degC)', '')}\n{ROW[:-3]}", "column feed_temperature", "missing"),
        (f"{HEAD}\n{ROW[:-2]}-", "column feed_temperature", "blank in every row"),
        (f"{HEAD}\n{ROW.replace('16', '25')}", "column inlet_wet_bulb", "above the air's"),
        (f"{HEAD}\n{ROW.replace('66', '660')}", "row 2, column tank_temperature (degC)", "cannot be"),
        (f"{HEAD},drift (kg/h)\n{ROW},1", "column drift", "none is stated"),
        (f"{HEAD},spray_flow uncertainty (gpm)\n{ROW},1", "column spray_flow uncertainty (gpm)", "has no column"),
        (f"{HEAD},evaporation uncertainty\n{ROW},1", "column evaporation uncertainty", "states no unit"),
        (f"{HEAD},evaporation uncertainty (kg/h)\n{ROW},0", "row 2, column evaporation unc", "is no uncertainty"),
        (f"{HEAD},surprise (kg/h)\n{ROW},0", "column surprise (kg/h)", "is unknown"),
    ],
)
def test_each_fault_names_its_place(text: str, key: str, problem: str) -> None:
    with pytest.raises(InputError) as caught:
        read(text)
    assert caught.value.key.startswith(key)
    assert problem in caught.value.problem
