"""Laws of the immersed burner: energy closes, the flux adds up, more tube more heat, hotter bath less
heat."""

from __future__ import annotations

import dataclasses
import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vaporwright.equipment import gas_burner, immersion_tube
from vaporwright.properties import flue_gas, fuels

CASE = {
    "bath_temperature_K": st.floats(278.15, 358.0),
    "fuel": st.sampled_from((fuels.NATURAL_GAS, fuels.PROPANE)),
    "gross_input_W": st.floats(32_000.0, 162_000.0),
    "excess_air_fraction": st.floats(0.05, 1.5),
    "air_temperature_K": st.floats(243.15, 318.15),
    "air_humidity_ratio_kg_kg": st.floats(0.0, 0.03),
    "pressure_Pa": st.floats(65_000.0, 106_000.0),
    "tube_inner_diameter_m": st.floats(0.1, 0.25),
    "tube_length_m": st.floats(5.0, 30.0),
    "tube_wall_thickness_m": st.floats(0.001, 0.006),
    "wall_conductivity_W_mK": st.floats(10.0, 60.0),
    "wall_emissivity": st.floats(0.8, 1.0),
    "fouling_resistance_m2K_W": st.floats(0.0, 1e-3),
}
ANY_CASE = st.fixed_dictionaries(CASE)
FEW = settings(max_examples=60, deadline=None)


@FEW
@given(ANY_CASE)
def test_energy_and_mass_close(case):
    r = gas_burner.rate_gas_burner(**case)
    air_K = case["air_temperature_K"]
    brought = r.fuel_flow_mol_s * flue_gas.reactants_sensible_enthalpy_J_mol(r.combustion, air_K)
    atoms = fuels.fuel_atoms(case["fuel"])
    vapour = 0.5 * atoms.hydrogen * (285_830.0 - 241_826.0)  # leaves uncondensed
    sensible = flue_gas.flue_sensible_enthalpy_J_mol(r.combustion, r.stack_temperature_K)
    carried = r.fuel_flow_mol_s * (sensible + vapour)
    assert r.heat_to_bath_W + carried == pytest.approx(r.gross_input_W + brought, rel=1e-8)
    assert r.stack_loss_W == pytest.approx(carried, rel=1e-8, abs=1e-8 * r.gross_input_W)
    assert r.fuel_flow_kg_s + r.combustion_air_flow_kg_s == pytest.approx(r.flue_flow_kg_s, rel=1e-10)
    assert r.flue_flow_m3_s * r.flue_density_kg_m3 == pytest.approx(r.flue_flow_kg_s, rel=1e-12)
    assert case["bath_temperature_K"] < r.stack_temperature_K < r.hottest_gas_K
    assert r.hottest_gas_K < flue_gas.undissociated_flame_temperature_K(r.combustion, air_K)
    assert case["bath_temperature_K"] <= r.coldest_wall_temperature_K <= r.hottest_wall_temperature_K
    assert 0.0 < r.gross_efficiency < 1.0
    assert all(math.isfinite(v) for v in dataclasses.asdict(r).values() if isinstance(v, float))


@FEW
@given(ANY_CASE)
def test_monotone_in_length_bath_temperature_and_excess_air(case):
    here = gas_burner.rate_gas_burner(**case)
    longer = gas_burner.rate_gas_burner(**{**case, "tube_length_m": 1.05 * case["tube_length_m"]})
    warmer = gas_burner.rate_gas_burner(**{**case, "bath_temperature_K": case["bath_temperature_K"] + 2.0})
    leaner = gas_burner.rate_gas_burner(**{**case, "excess_air_fraction": case["excess_air_fraction"] + 0.05})
    scaled = gas_burner.rate_gas_burner(**{**case, "fouling_resistance_m2K_W": case["fouling_resistance_m2K_W"] + 5e-4})
    assert longer.heat_to_bath_W > here.heat_to_bath_W
    assert longer.stack_temperature_K < here.stack_temperature_K
    assert warmer.heat_to_bath_W < here.heat_to_bath_W
    assert here.heat_to_bath_W - warmer.heat_to_bath_W < 0.01 * here.heat_to_bath_W
    assert scaled.heat_to_bath_W < here.heat_to_bath_W
    if case["air_temperature_K"] < case["bath_temperature_K"] - 1.0:
        assert leaner.gross_efficiency < here.gross_efficiency


@FEW
@given(ANY_CASE)
def test_condensation_is_named(case):
    r = gas_burner.rate_gas_burner(**case)
    assert r.condenses == (r.coldest_wall_temperature_K < r.flue_dew_point_K)
    assert r.condenses == (case["bath_temperature_K"] < r.bath_temperature_for_dry_tube_K)
    assert r.condenses == any(warning.name == "condensation in tube" for warning in r.warnings)


def _base():
    return {
        "bath_temperature_K": 330.0,
        "fuel": fuels.NATURAL_GAS,
        "gross_input_W": 161_188.0,
        "excess_air_fraction": 0.25,
        "air_temperature_K": 294.0,
        "air_humidity_ratio_kg_kg": 0.008,
        "pressure_Pa": 101325.0,
        "tube_inner_diameter_m": 0.1524,
        "tube_length_m": 15.0,
        "tube_wall_thickness_m": 0.0028,
        "wall_conductivity_W_mK": 16.0,
        "wall_emissivity": 0.85,
        "fouling_resistance_m2K_W": 1e-4,
    }


@pytest.mark.parametrize("share_of_input", [1.0, 0.35, 0.2])
def test_smooth_in_bath_temperature(share_of_input):
    case = {**_base(), "gross_input_W": share_of_input * 161_188.0}
    baths = [300.0 + 0.1 * i for i in range(120)]
    efficiencies = [
        gas_burner.rate_gas_burner(**{**case, "bath_temperature_K": bath}).gross_efficiency for bath in baths
    ]
    steps = [b - a for a, b in itertools.pairwise(efficiencies)]
    assert max(steps) < 0.0
    assert max(abs(b - a) for a, b in itertools.pairwise(steps)) < 1e-6


def _march_arguments(monkeypatch, case):
    seen = []
    march = gas_burner.march_tube

    def watched(*arguments):
        seen.append(arguments)
        return march(*arguments)

    monkeypatch.setattr(gas_burner, "march_tube", watched)
    gas_burner.rate_gas_burner(**case)
    return seen[0]


@pytest.mark.parametrize("share_of_input", [1.0, 0.2])
def test_finer_steps_hardly_change_it(monkeypatch, share_of_input):
    case = {**_base(), "gross_input_W": share_of_input * 161_188.0}
    arguments = _march_arguments(monkeypatch, case)
    coarse = immersion_tube.march_tube(*arguments)
    fine = immersion_tube.march_tube(*arguments[:5], 60, 80)
    assert coarse.outlet_temperature_K == pytest.approx(fine.outlet_temperature_K, abs=0.1)


def test_flux_along_the_tube_adds_up_to_the_balance(monkeypatch):
    # The heat comes from enthalpies; here the flux is summed along the tube in short steps instead.
    case = _base()
    gas, released, stream, tube, bath, _, _ = _march_arguments(monkeypatch, case)
    total, steps = 0.0, 2000
    past_flame = tube.length_m - tube.flame_length_m
    for dx, release in ((tube.flame_length_m / steps, released / tube.flame_length_m), (past_flame / steps, 0.0)):
        for _ in range(steps):
            slope, flux = _slope(gas, release, stream, tube, bath)
            slope_ahead, flux_ahead = _slope(gas + slope * dx, release, stream, tube, bath)  # Heun's method
            gas += 0.5 * dx * (slope + slope_ahead)
            total += 0.5 * dx * math.pi * tube.inner_diameter_m * (flux + flux_ahead)
    assert total == pytest.approx(gas_burner.rate_gas_burner(**case).heat_to_bath_W, rel=1e-4)


def _slope(gas_K, release_W_m, stream, tube, bath):
    flux = immersion_tube.station_at(gas_K, bath.temperature_K + 5.0, stream, tube, bath).flux_W_m2
    heat_capacity = stream.flow_mol_s * flue_gas.gas_heat_capacity_J_molK(gas_K, stream.heat)
    return (release_W_m - math.pi * tube.inner_diameter_m * flux) / heat_capacity, flux
