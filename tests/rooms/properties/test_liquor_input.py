"""Bad input to the liquor: one clear error each."""

import math

import pytest

from vaporwright.foundation.errors import OutOfRange
from vaporwright.properties.liquor import (
    Liquor,
    boiling_temperature_K,
    concentrated,
    density_kg_m3,
    solubility_of_sodium_chloride_kg_kg,
    water_activity,
)


@pytest.mark.parametrize("solids", [-0.001, 0.3, 5000.0, math.nan])
def test_solids_must_be_a_mass_fraction_that_dissolves(solids):
    with pytest.raises(OutOfRange, match="dissolved_solids_kg_kg"):
        Liquor(solids)


@pytest.mark.parametrize("chloride", [-0.001, 0.011])
def test_chloride_is_part_of_the_solids(chloride):
    with pytest.raises(OutOfRange, match="chloride_kg_kg"):
        Liquor(0.01, chloride)


def test_past_solubility_names_the_largest_factor():
    with pytest.raises(OutOfRange, match=r"mass_concentration_factor = 60: allowed 1 to 54\.\d+ .*crystallises"):
        concentrated(Liquor(0.005), 60.0, 333.15)


def test_factor_below_one_is_refused():
    with pytest.raises(OutOfRange, match="evaporation only removes water"):
        concentrated(Liquor(0.005), 0.5, 333.15)


def test_liquor_that_crystallises_when_cold_is_refused_there():
    strong = Liquor(0.275)
    assert 0.7 < water_activity(strong, 358.15) < 0.8
    with pytest.raises(OutOfRange, match="crystallises above this at 20 degC"):
        water_activity(strong, 293.15)
    with pytest.raises(OutOfRange, match="dissolved_solids_kg_kg"):
        density_kg_m3(strong, 293.15)


@pytest.mark.parametrize("kelvin", [25.0, 272.0, 400.0, math.nan])
def test_temperature_range(kelvin):
    with pytest.raises(OutOfRange, match="temperature_K"):
        solubility_of_sodium_chloride_kg_kg(kelvin)
    with pytest.raises(OutOfRange, match="temperature_K"):
        water_activity(Liquor(0.01), kelvin)


@pytest.mark.parametrize("pressure_Pa", [1.0, 101.325, 2.0e5])
def test_boiling_pressure_range(pressure_Pa):
    with pytest.raises(OutOfRange, match="pressure_Pa"):
        boiling_temperature_K(Liquor(0.01), pressure_Pa)
