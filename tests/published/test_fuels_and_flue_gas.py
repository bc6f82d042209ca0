"""Fuels and flue gas against printed values and against values computed once with a library.

Marks beside the values: "read" was read in a copy of the source, "computed" was computed once with an
independent library and is no published number, "from memory" is neither.
"""

from __future__ import annotations

import pytest

from support import verifies
from vaporwright.properties import flue_gas, fuels, stack
from vaporwright.properties.fuels import METHANE, NATURAL_GAS, PROPANE

BTU_J = 1055.05585262
FOOT_m = 0.3048
AIR_K = 298.15


# (fuel, gross and net kJ/mol, gross and net Btu/scf, air mol/mol). Case hv_*: computed; 0.3 % is stated
# with them. Published: methane 1010 to 1012, propane 2516 to 2524 Btu/scf (real gas, so above ours). The
# air of the cases is in 21 % oxygen; with the atmosphere's 20.95 % it is 0.25 % more, inside the same 0.3 %.
HEATING = [
    (METHANE, 890.57, 802.56, 1008.9, 909.2, 9.52),
    (PROPANE, 2219.98, 2043.97, 2515.1, 2315.7, 23.8),
    (NATURAL_GAS, 903.96, 815.51, 1024.1, 923.9, 9.66),
]


@pytest.mark.parametrize(("fuel", "gross", "net", "gross_scf", "net_scf", "air"), HEATING)
@verifies(
    "properties.fuels.gross_heating_value_J_mol",
    "properties.fuels.net_heating_value_J_mol",
    "properties.fuels.gross_heating_value_J_standard_m3",
    "properties.fuels.net_heating_value_J_standard_m3",
    "properties.fuels.fuel_atoms",
    "properties.fuels.stoichiometric_oxygen_mol_mol",
    "properties.flue_gas.stoichiometric_air_mol_mol",
)
def test_heating_values_and_air(fuel, gross, net, gross_scf, net_scf, air):
    scf = FOOT_m**3 / BTU_J
    assert fuels.gross_heating_value_J_mol(fuel) / 1e3 == pytest.approx(gross, rel=5e-4)
    assert fuels.net_heating_value_J_mol(fuel) / 1e3 == pytest.approx(net, rel=5e-4)
    assert fuels.gross_heating_value_J_standard_m3(fuel) * scf == pytest.approx(gross_scf, rel=5e-4)
    assert fuels.net_heating_value_J_standard_m3(fuel) * scf == pytest.approx(net_scf, rel=5e-4)
    in_21_percent = fuels.stoichiometric_oxygen_mol_mol(fuel) / 0.21
    assert in_21_percent == pytest.approx(air, rel=1e-3)
    assert flue_gas.stoichiometric_air_mol_mol(fuel) == pytest.approx(air, rel=3.2e-3)


@verifies("properties.fuels.gross_heating_value_J_mol", "properties.fuels.net_heating_value_J_mol")
def test_heats_of_combustion_from_handbook():
    # Gross heats of combustion at 25 degC, kJ/mol, from memory of the usual handbook tables:
    # methane 890.6, ethane 1560.7, propane 2219.2, n-butane 2877.6, isobutane 2868.2, n-pentane 3535.8 (gas)
    for species, expected in (
        ("CH4", 890.6),
        ("C2H6", 1560.7),
        ("C3H8", 2219.2),
        ("C4H10", 2877.6),
        ("iC4H10", 2868.2),
        ("C5H12", 3535.8),
    ):
        fuel = fuels.FuelComposition(species, ((species, 1.0),))
        assert fuels.gross_heating_value_J_mol(fuel) / 1e3 == pytest.approx(expected, abs=1.1)


@verifies(
    "properties.fuels.standard_molar_volume_m3_mol",
    "properties.fuels.fuel_molar_mass_kg_mol",
    "properties.fuels.specific_gravity_to_air",
)
def test_volume_mass_and_gravity():
    # 379.48 ft3/lbmol at 60 degF, 14.696 psia; molar masses; specific gravity of methane 0.554, propane
    # 1.522 (ideal)
    assert fuels.standard_molar_volume_m3_mol() * 453.59237 / FOOT_m**3 == pytest.approx(379.48, abs=0.01)
    assert fuels.fuel_molar_mass_kg_mol(METHANE) * 1e3 == pytest.approx(16.043, abs=1e-3)
    assert fuels.fuel_molar_mass_kg_mol(PROPANE) * 1e3 == pytest.approx(44.097, abs=2e-3)
    assert fuels.specific_gravity_to_air(METHANE) == pytest.approx(0.554, abs=5e-4)
    assert fuels.specific_gravity_to_air(PROPANE) == pytest.approx(1.522, abs=1e-3)
    # Dry air 28.9644 g/mol in the US Standard Atmosphere 1976; carbon dioxide of today adds 0.0014
    assert pytest.approx(28.9644e-3 + 1.4e-6, abs=1e-6) == flue_gas.AIR_MOLAR_MASS_kg_mol


# (excess air %, O2 %, CO2 % dry, dew point degC) at 101325 Pa in dry air. Cases ch4_flue_*: computed;
# stated 0.05 points and 0.3 K.
METHANE_FLUE = [
    (0.0, 0.0, 11.73, 59.24),
    (9.5, 2.02, 10.61, 57.48),
    (15.0, 3.01, 10.05, 56.53),
    (81.6, 10.02, 6.14, 47.82),
]
# Cases c3h8_flue_*: computed; the efficiencies at stack less air of 200 to 600 degF, stated 0.3 points.
PROPANE_FLUE = [
    (0.0, 0.0, 13.76, 54.92, (88.05, 86.0, 83.92, 81.81, 79.68)),
    (30.0, 5.18, 10.36, 49.91, (87.0, 84.42, 81.81, 79.16, 76.48)),
    (50.0, 7.42, 8.9, 47.22, (86.3, 83.37, 80.4, 77.39, 74.35)),
]


@pytest.mark.parametrize(("excess_percent", "oxygen", "carbon_dioxide", "dew"), METHANE_FLUE)
@verifies(
    "properties.flue_gas.burn",
    "properties.flue_gas.flue_dew_point_K",
    "properties.flue_gas.excess_air_from_oxygen_dry",
)
def test_methane_flue(excess_percent, oxygen, carbon_dioxide, dew):
    flue = flue_gas.burn(METHANE, excess_percent / 100.0, 0.0)
    assert 100.0 * flue.oxygen_dry_fraction == pytest.approx(oxygen, abs=0.05)
    assert 100.0 * flue.carbon_dioxide_dry_fraction == pytest.approx(carbon_dioxide, abs=0.05)
    assert flue_gas.flue_dew_point_K(flue, 101325.0) - 273.15 == pytest.approx(dew, abs=0.3)
    back = flue_gas.excess_air_from_oxygen_dry(METHANE, oxygen / 100.0)
    assert 100.0 * back == pytest.approx(excess_percent, abs=0.6)  # 0.05 points of oxygen


@pytest.mark.parametrize(("excess_percent", "oxygen", "carbon_dioxide", "dew", "efficiencies"), PROPANE_FLUE)
@verifies(
    "properties.flue_gas.burn",
    "properties.flue_gas.gross_combustion_efficiency",
    "properties.flue_gas.flue_dew_point_K",
)
def test_propane_flue(excess_percent, oxygen, carbon_dioxide, dew, efficiencies):
    flue = flue_gas.burn(PROPANE, excess_percent / 100.0, 0.0)
    assert 100.0 * flue.oxygen_dry_fraction == pytest.approx(oxygen, abs=0.05)
    assert 100.0 * flue.carbon_dioxide_dry_fraction == pytest.approx(carbon_dioxide, abs=0.05)
    assert flue_gas.flue_dew_point_K(flue, 101325.0) - 273.15 == pytest.approx(dew, abs=0.3)
    for rise_F, expected in zip((200, 300, 400, 500, 600), efficiencies, strict=True):
        got = 100.0 * flue_gas.gross_combustion_efficiency(flue, AIR_K + rise_F / 1.8, AIR_K)
        assert got == pytest.approx(expected, abs=0.05)  # 0.3 is stated; the same air gives 0.05


# US Department of Energy, Steam Tip Sheet 4 (January 2006), natural gas, gross basis: read. Then the same
# computed once with a library for 95/3/0.5 gas with 1 N2 and 0.5 CO2.
TIP_4 = [
    (9.5, 2.0, (85.4, 83.1, 80.8, 78.4, 76.0), (85.8, 83.55, 81.28, 78.97, 76.64)),
    (15.0, 3.0, (85.2, 82.8, 80.4, 77.9, 75.4), (85.61, 83.27, 80.89, 78.49, 76.05)),
    (28.1, 5.0, (84.7, 82.1, 79.5, 76.7, 74.0), (85.15, 82.58, 79.97, 77.33, 74.66)),
]


@pytest.mark.parametrize(("excess_percent", "oxygen", "printed", "computed"), TIP_4)
@verifies(
    "properties.flue_gas.gross_combustion_efficiency",
    "properties.flue_gas.heat_given_up_J_mol",
    "properties.flue_gas.excess_air_from_oxygen_dry",
)
def test_steam_tip_4(excess_percent, oxygen, printed, computed):
    flue = flue_gas.burn(NATURAL_GAS, excess_percent / 100.0, 0.0)
    assert 100.0 * flue.oxygen_dry_fraction == pytest.approx(oxygen, abs=0.05)
    assert 100.0 * flue_gas.excess_air_from_oxygen_dry(NATURAL_GAS, oxygen / 100.0) == pytest.approx(
        excess_percent, abs=0.5
    )
    for rise_F, table, library in zip((200, 300, 400, 500, 600), printed, computed, strict=True):
        got = 100.0 * flue_gas.gross_combustion_efficiency(flue, AIR_K + rise_F / 1.8, AIR_K)
        assert got == pytest.approx(table, abs=0.8)
        assert got == pytest.approx(library, abs=0.02)


@pytest.mark.parametrize(
    ("fuel", "excess", "equilibrium_K", "least", "most"),
    # Case adiabatic_flame (computed): equilibrium values, with dissociation. Ours is without, so it must
    # lie above: by 102, 126 and 34 K as the difference of the two calculations in tests/oracle shows. The
    # stated 5 K is allowed on that.
    [
        (METHANE, 0.0, 2224.6, 97.0, 107.0),
        (PROPANE, 0.0, 2265.7, 121.0, 131.0),
        (METHANE, 0.15, 2094.3, 29.0, 39.0),
    ],
)
@verifies("properties.flue_gas.undissociated_flame_temperature_K")
def test_flame_temperature_lies_above_equilibrium(fuel, excess, equilibrium_K, least, most):
    got = flue_gas.undissociated_flame_temperature_K(flue_gas.burn(fuel, excess, 0.0), 298.15)
    assert least < got - equilibrium_K < most


@verifies("properties.stack.stack_draft_Pa", "properties.flue_gas.gas_density_kg_m3")
def test_draft_against_the_textbook_form():
    # Draft = 0.0342 p H (1/To - 1/Ts) for flue gas as heavy as air, Pa: from memory; 3 digits. Density of
    # dry air 1.2041 kg/m3 at 20 degC and 101325 Pa (M 28.965, the usual table, from memory).
    assert flue_gas.gas_density_kg_m3(0.0289655, 293.15, 101325.0) == pytest.approx(1.2041, abs=1e-4)
    flue = flue_gas.burn(NATURAL_GAS, 0.25, 0.008)
    got = stack.stack_draft_Pa(
        flue, height_m=6.0, mean_flue_temperature_K=480.0, outdoor_temperature_K=283.0, pressure_Pa=98_000.0
    )
    ratio = flue.flue_molar_mass_kg_mol / flue_gas.AIR_MOLAR_MASS_kg_mol
    assert got == pytest.approx(0.0342 * 98_000.0 * 6.0 * (1.0 / 283.0 - ratio / 480.0), rel=2e-3)
