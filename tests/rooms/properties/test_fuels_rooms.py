"""Fuels and flue gas: bad input is one clear error."""

from __future__ import annotations

import math

import pytest

from vaporwright.foundation.errors import OutOfRange
from vaporwright.properties import flue_gas, flue_gas_transport, fuels, gas_radiation, stack


@pytest.mark.parametrize(
    ("fractions", "word"),
    [
        ((("CH4", 0.9),), "sum of mole fractions"),
        ((("CH4", 0.5), ("XX", 0.5)), "XX"),
        ((("CH4", 0.5), ("CH4", 0.5)), "twice"),
        ((("CH4", 1.2), ("N2", -0.2)), "CH4"),
        ((("CH4", 0.2), ("CO2", 0.8)), "combustible"),
        ((("CH4", math.nan),), "CH4"),
    ],
)
def test_bad_composition(fractions, word):
    with pytest.raises(OutOfRange, match=word):
        fuels.FuelComposition("bad", fractions)


def test_composition_from_a_mapping():
    fuel = fuels.FuelComposition.from_mole_fractions("digester gas", {"CH4": 0.6, "CO2": 0.4})
    assert fuel.mole_fractions == (("CH4", 0.6), ("CO2", 0.4))
    # carbon dioxide of the fuel burns nothing and passes through
    methane_J_mol = fuels.net_heating_value_J_mol(fuels.METHANE)
    assert fuels.net_heating_value_J_mol(fuel) == pytest.approx(0.6 * methane_J_mol)


def test_ranges_are_named():
    natural = fuels.NATURAL_GAS
    flue = flue_gas.burn(natural, 0.25, 0.01)
    with pytest.raises(OutOfRange, match="excess_air_fraction"):
        flue_gas.burn(natural, -0.01, 0.0)
    with pytest.raises(OutOfRange, match="air_humidity_ratio_kg_kg"):
        flue_gas.burn(natural, 0.2, 0.5)
    with pytest.raises(OutOfRange, match="oxygen_dry_fraction"):
        flue_gas.excess_air_from_oxygen_dry(natural, 0.2)
    with pytest.raises(OutOfRange, match="temperature_K"):
        flue_gas.flue_sensible_enthalpy_J_mol(flue, 150.0)
    with pytest.raises(OutOfRange, match="air_temperature_K"):
        flue_gas.gross_combustion_efficiency(flue, 500.0, 800.0)
    with pytest.raises(OutOfRange, match="pressure_Pa"):
        flue_gas.flue_dew_point_K(flue, 14.7)
    with pytest.raises(OutOfRange, match="temperature_K"):
        fuels.fuel_sensible_enthalpy_J_mol(natural, 1100.0)
    with pytest.raises(OutOfRange, match="temperature_K"):
        flue_gas_transport.flue_gas_viscosity_Pa_s(flue.flue_mole_fractions, 3000.0)
    with pytest.raises(OutOfRange, match="total_Pa"):
        gas_radiation.gas_emissivity(1000.0, 8e3, 16e3, 1.0, 0.1)
    with pytest.raises(OutOfRange, match="water_Pa x length_m"):
        gas_radiation.gas_emissivity(1000.0, 8e3, 0.0, 1e5, 0.1)
    with pytest.raises(OutOfRange, match="surface_temperature_K"):
        gas_radiation.gas_absorptivity(
            1000.0,
            surface_temperature_K=100.0,
            carbon_dioxide_Pa=8e3,
            water_Pa=16e3,
            total_Pa=1e5,
            length_m=0.1,
        )


def test_stack_ranges():
    flue = flue_gas.burn(fuels.NATURAL_GAS, 0.25, 0.01)
    with pytest.raises(OutOfRange, match="height_m"):
        stack.stack_draft_Pa(
            flue, height_m=-1.0, mean_flue_temperature_K=450.0, outdoor_temperature_K=290.0, pressure_Pa=1e5
        )


def test_no_water_in_the_air_and_no_draft_without_heat():
    dry = flue_gas.burn(fuels.METHANE, 0.0, 0.0)
    assert dry.water_mol_mol == 2.0
    assert dry.oxygen_mol_mol == 0.0
    level = stack.stack_draft_Pa(
        dry, height_m=0.0, mean_flue_temperature_K=450.0, outdoor_temperature_K=290.0, pressure_Pa=1e5
    )
    assert level == 0.0
