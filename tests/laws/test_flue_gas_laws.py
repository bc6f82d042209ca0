"""Laws of combustion: what goes in comes out, inverses invert, efficiency falls where physics says so."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vaporwright.properties import flue_gas, flue_gas_transport, fuels, gas_radiation

EXCESS = st.floats(0.0, 2.0)
HUMIDITY = st.floats(0.0, 0.05)
FUEL = st.sampled_from((fuels.NATURAL_GAS, fuels.PROPANE, fuels.METHANE))
AIR_K = st.floats(240.0, 330.0)
STACK_K = st.floats(350.0, 1500.0)


@st.composite
def any_fuel(draw):
    weights = draw(st.lists(st.floats(0.1, 1.0), min_size=len(fuels.SPECIES), max_size=len(fuels.SPECIES)))
    inert = weights[-1] + weights[-2]
    weights[-1] *= 0.5 / inert
    weights[-2] *= 0.5 / inert
    total = sum(weights)
    return fuels.FuelComposition.from_mole_fractions(
        "mixed", {name: w / total for name, w in zip(fuels.SPECIES, weights, strict=True)}
    )


@given(any_fuel(), EXCESS, HUMIDITY)
def test_mass_is_kept(fuel, excess, humidity):
    c = flue_gas.burn(fuel, excess, humidity)
    assert c.fuel_kg_mol + c.air_kg_mol == pytest.approx(c.flue_kg_mol, rel=1e-12)
    assert sum(c.flue_mole_fractions) == pytest.approx(1.0, rel=1e-12)


@given(any_fuel(), EXCESS, HUMIDITY)
def test_excess_air_from_oxygen_inverts(fuel, excess, humidity):
    oxygen = flue_gas.burn(fuel, excess, humidity).oxygen_dry_fraction
    assert flue_gas.excess_air_from_oxygen_dry(fuel, oxygen) == pytest.approx(excess, rel=1e-9, abs=1e-12)


@given(any_fuel())
def test_gross_less_net_is_the_latent_heat_of_its_water(fuel):
    latent = 0.5 * fuels.fuel_atoms(fuel).hydrogen * (285_830.0 - 241_826.0)
    difference = fuels.gross_heating_value_J_mol(fuel) - fuels.net_heating_value_J_mol(fuel)
    assert difference == pytest.approx(latent, rel=1e-9)


@given(FUEL, EXCESS, HUMIDITY, AIR_K, STACK_K)
def test_efficiency_falls_with_stack_temperature_and_excess_air(fuel, excess, humidity, air_K, stack_K):
    def efficiency(e, t):
        return flue_gas.gross_combustion_efficiency(flue_gas.burn(fuel, e, humidity), t, air_K)

    assert efficiency(excess, stack_K + 1.0) < efficiency(excess, stack_K)
    assert efficiency(excess + 0.01, stack_K) < efficiency(excess, stack_K)


@given(FUEL, EXCESS, HUMIDITY, AIR_K, STACK_K)
def test_energy_in_is_energy_out(fuel, excess, humidity, air_K, stack_K):
    c = flue_gas.burn(fuel, excess, humidity)
    given_up = flue_gas.heat_given_up_J_mol(c, stack_K, air_K)
    into = fuels.net_heating_value_J_mol(fuel) + flue_gas.reactants_sensible_enthalpy_J_mol(c, air_K)
    assert given_up + flue_gas.flue_sensible_enthalpy_J_mol(c, stack_K) == pytest.approx(into, rel=1e-12)
    flame = flue_gas.undissociated_flame_temperature_K(c, air_K)
    gross = fuels.gross_heating_value_J_mol(fuel)
    assert flue_gas.heat_given_up_J_mol(c, flame, air_K) == pytest.approx(0.0, abs=1e-8 * gross)


@given(STACK_K, EXCESS)
def test_enthalpy_slope_is_heat_capacity(stack_K, excess):
    gas = flue_gas.gas_polynomials(flue_gas.burn(fuels.NATURAL_GAS, excess, 0.01).flue_mole_fractions)
    if abs(stack_K - 1000.0) > 1.0:
        above, below = (flue_gas.gas_enthalpy_J_mol(stack_K + half, gas) for half in (0.5, -0.5))
        assert above - below == pytest.approx(flue_gas.gas_heat_capacity_J_molK(stack_K, gas), rel=1e-6)


@given(EXCESS, HUMIDITY)
def test_dew_point_falls_with_excess_air_and_rises_with_humidity_and_pressure(excess, humidity):
    def dew(e, w, p):
        return flue_gas.flue_dew_point_K(flue_gas.burn(fuels.NATURAL_GAS, e, w), p)

    here = dew(excess, humidity, 95_000.0)
    assert dew(excess + 0.01, humidity, 95_000.0) < here
    assert dew(excess, humidity + 0.001, 95_000.0) > here
    assert dew(excess, humidity, 96_000.0) > here


@given(EXCESS, st.floats(250.0, 2700.0))
def test_mixture_lies_between_its_gases(excess, temperature_K):
    fractions = flue_gas.burn(fuels.PROPANE, excess, 0.01).flue_mole_fractions
    pure = [tuple(1.0 if i == k else 0.0 for i in range(5)) for k in range(5)]
    for function in (
        flue_gas_transport.flue_gas_viscosity_Pa_s,
        flue_gas_transport.flue_gas_conductivity_W_mK,
    ):
        each = [function(gas, temperature_K) for gas in pure]
        assert min(each) < function(fractions, temperature_K) < max(each)


@given(st.floats(300.0, 2400.0), st.floats(0.05, 0.4), st.floats(65_000.0, 106_000.0))
def test_emissivity_is_a_share_and_grows_with_the_tube(temperature_K, length_m, pressure_Pa):
    thin = gas_radiation.gas_emissivity(temperature_K, 0.08 * pressure_Pa, 0.16 * pressure_Pa, pressure_Pa, length_m)
    thick = gas_radiation.gas_emissivity(
        temperature_K, 0.08 * pressure_Pa, 0.16 * pressure_Pa, pressure_Pa, 1.05 * length_m
    )
    assert 0.0 < thin < thick < 0.5
