"""The liquor against printed values and against a geochemical code's salts."""

import pytest

from support import verifies
from vaporwright.foundation.constants import ZERO_CELSIUS_K
from vaporwright.properties import liquor
from vaporwright.properties.liquor import Liquor, MOLAR_MASS_SODIUM_CHLORIDE_kg_mol


def mass_fraction(molality_mol_kg):
    salt = molality_mol_kg * MOLAR_MASS_SODIUM_CHLORIDE_kg_mol
    return salt / (1.0 + salt)


@verifies(
    "properties.liquor.sodium_chloride_osmotic_coefficient",
    "properties.liquor.sodium_chloride_water_activity",
    "properties.liquor.water_activity",
)
@pytest.mark.parametrize(
    ("molality", "osmotic", "activity"),
    [
        # R.A. Robinson, R.H. Stokes, Electrolyte Solutions, 2nd ed., App. 8.10, 25 degC; from memory.
        # Stated agreement: osmotic coefficient 0.5 %, activity 0.0005.
        (0.1, 0.9324, 0.99665),
        (0.5, 0.9209, 0.98355),
        (3.0, 1.0453, 0.89316),
        (4.0, 1.1158, 0.85145),
        (6.0, 1.2706, 0.75981),
    ],
)
def test_sodium_chloride_against_robinson_and_stokes(molality, osmotic, activity):
    assert liquor.sodium_chloride_osmotic_coefficient(molality, 298.15) == pytest.approx(osmotic, rel=0.005)
    fraction = mass_fraction(molality)
    assert liquor.sodium_chloride_water_activity(fraction, 298.15) == pytest.approx(activity, abs=0.0005)
    assert liquor.water_activity(Liquor(fraction), 298.15) == pytest.approx(activity, abs=0.0005)


SODIUM_CHLORIDE = [
    # molality, degC, water activity, osmotic coefficient, density kg/L.
    # PHREEQC with pitzer.dat; computed with a library. Stated agreement of the activity: 0.003.
    (0.5, 50, 0.9835, 0.92358, 1.00735),
    (1, 50, 0.96662, 0.94213, 1.02577),
    (1, 75, 0.9667, 0.93993, 1.01225),
    (2, 25, 0.93154, 0.98407, 1.07204),
    (2, 50, 0.93079, 0.99522, 1.06067),
    (2, 75, 0.93088, 0.99396, 1.04685),
    (3, 25, 0.89318, 1.04509, 1.10562),
    (3, 50, 0.89198, 1.0575, 1.09337),
    (4, 75, 0.85124, 1.11751, 1.10995),
    (5, 25, 0.80677, 1.19187, 1.16651),
    (5, 75, 0.8085, 1.17998, 1.13892),
    (6, 50, 0.7608, 1.26457, 1.18064),
    (6, 75, 0.76473, 1.24077, 1.16638),
]


@verifies(
    "properties.liquor.sodium_chloride_water_activity",
    "properties.liquor.sodium_chloride_osmotic_coefficient",
    "properties.liquor.sodium_chloride_density_kg_m3",
    "properties.liquor.density_kg_m3",
)
@pytest.mark.parametrize(("molality", "celsius", "activity", "osmotic", "density"), SODIUM_CHLORIDE)
def test_sodium_chloride_against_a_geochemical_code(molality, celsius, activity, osmotic, density):
    fraction, kelvin = mass_fraction(molality), celsius + ZERO_CELSIUS_K
    # The two fits agree ten times better than the 0.003 stated; the tolerance is what catches a wrong digit.
    assert liquor.sodium_chloride_water_activity(fraction, kelvin) == pytest.approx(activity, abs=0.0005)
    assert liquor.sodium_chloride_osmotic_coefficient(molality, kelvin) == pytest.approx(osmotic, rel=0.003)
    # Densities of the code rest on other data: 0.11 % at 6 mol/kg and 50 degC.
    assert liquor.sodium_chloride_density_kg_m3(fraction, kelvin) == pytest.approx(1000.0 * density, rel=0.0015)
    assert liquor.density_kg_m3(Liquor(fraction), kelvin) == pytest.approx(1000.0 * density, rel=0.0015)


OTHER_SALTS = [
    # mass fraction, degC, water activity, density kg/L, our error of activity as the module text states it
    # (low, high). PHREEQC with pitzer.dat; computed with a library.
    ("calcium chloride", 0.0526, 25, 0.97557, 1.04091, -0.008, -0.006),
    ("calcium chloride", 0.0999, 75, 0.94773, 1.05797, -0.014, -0.012),
    ("calcium chloride", 0.1816, 25, 0.86061, 1.15849, -0.007, 0.001),
    ("calcium chloride", 0.1816, 50, 0.86503, 1.14561, -0.007, 0.001),
    ("calcium chloride", 0.2498, 25, 0.75036, 1.22688, 0.007, 0.025),
    ("calcium chloride", 0.2498, 75, 0.77019, 1.19817, 0.007, 0.025),
    ("magnesium chloride", 0.0454, 75, 0.976, 1.01285, -0.004, 0.004),
    ("magnesium chloride", 0.0869, 25, 0.94184, 1.07065, -0.004, 0.004),
    ("magnesium chloride", 0.0869, 75, 0.94593, 1.04847, -0.004, 0.004),
    ("magnesium chloride", 0.16, 50, 0.85458, 1.12642, 0.025, 0.03),
    ("magnesium chloride", 0.2222, 25, 0.72071, 1.19437, 0.06, 0.095),
    ("magnesium chloride", 0.2222, 75, 0.74977, 1.17478, 0.06, 0.095),
    ("sodium sulphate", 0.0663, 25, 0.98162, 1.05719, -0.023, -0.021),
    ("sodium sulphate", 0.1244, 50, 0.96459, 1.10046, -0.051, -0.049),
    ("sodium sulphate", 0.2212, 25, 0.93409, 1.21067, -0.125, -0.115),
    ("sodium sulphate", 0.2212, 75, 0.93115, 1.1836, -0.125, -0.115),
]


@verifies("properties.liquor.water_activity", "properties.liquor.density_kg_m3")
@pytest.mark.parametrize(("salt", "fraction", "celsius", "activity", "density", "low", "high"), OTHER_SALTS)
def test_cost_of_equivalent_sodium_chloride_is_as_stated(salt, fraction, celsius, activity, density, low, high):
    kelvin = celsius + ZERO_CELSIUS_K
    error = liquor.water_activity(Liquor(fraction), kelvin) - activity
    assert low <= error <= high, salt
    heavier = 1000.0 * density / liquor.density_kg_m3(Liquor(fraction), kelvin) - 1.0
    assert 0.0 < heavier < (0.045 if salt == "sodium sulphate" else 0.036)


@verifies("properties.liquor.boiling_temperature_K", "properties.liquor.boiling_point_elevation_difference_K")
@pytest.mark.parametrize(
    ("solids", "elevation"),
    [
        # IAPWS-08 seawater, 101325 Pa; computed with a library.
        (0.07, 1.1389),
        (0.10, 1.7659),
        # M.H. Sharqawy, J.H. Lienhard, S.M. Zubair, Desalination and Water Treatment 16 (2010) 354, 100 degC;
        # from memory.
        (0.07, 1.1392),
        (0.12, 2.2025),
    ],
)
def test_boiling_point_elevation_stands_above_sea_salt(solids, elevation):
    # Sea salt holds sulphate and magnesium: per mass it lowers the vapour pressure 7 to 12 % less than sodium
    # chloride.
    ours = liquor.boiling_point_elevation_difference_K(Liquor(solids), 101325.0)
    assert 1.06 < ours / elevation < 1.13
    assert liquor.boiling_temperature_K(Liquor(solids), 101325.0) == pytest.approx(373.124 + ours, abs=0.005)


@verifies("properties.liquor.boiling_temperature_K", "properties.liquor.boiling_point_elevation_difference_K")
def test_saturated_brine_boils_where_handbooks_say():
    # Saturated sodium chloride solution boils at 108.7 degC at 1 atm (28.4 % by mass; handbook value, from
    # memory).
    saturated = Liquor(liquor.solubility_of_sodium_chloride_kg_kg(381.0))
    assert liquor.boiling_temperature_K(saturated, 101325.0) - ZERO_CELSIUS_K == pytest.approx(108.7, abs=0.3)


@verifies("properties.liquor.solubility_of_sodium_chloride_kg_kg")
@pytest.mark.parametrize(
    ("celsius", "molality"),
    [
        (25, 6.15),  # handbook, 36.0 g per 100 g of water; from memory
        (40, 6.211),  # PHREEQC with pitzer.dat; computed with a library
        (50, 6.282),
        (60, 6.362),
    ],
)
def test_solubility(celsius, molality):
    ours = liquor.solubility_of_sodium_chloride_kg_kg(celsius + ZERO_CELSIUS_K)
    assert ours == pytest.approx(mass_fraction(molality), rel=0.01)


@verifies("properties.liquor.sodium_chloride_heat_capacity_J_kgK", "properties.liquor.heat_capacity_J_kgK")
@pytest.mark.parametrize("celsius", [60.0, 80.0, 100.0])
@pytest.mark.parametrize("solids", [0.0, 0.05, 0.1])
def test_heat_capacity_of_hot_brine_near_sea_salt(celsius, solids):
    # D.T. Jamieson and others, Desalination 7 (1969) 23, as quoted by Sharqawy and others (2010); from
    # memory. Sea salt of the same mass lies up to 1 % under sodium chloride.
    T, S = celsius + ZERO_CELSIUS_K, 1000.0 * solids
    a = 5.328 - 9.76e-2 * S + 4.04e-4 * S * S
    b = -6.913e-3 + 7.351e-4 * S - 3.15e-6 * S * S
    c = 9.6e-6 - 1.927e-6 * S + 8.23e-9 * S * S
    d = 2.5e-9 + 1.666e-9 * S - 7.125e-12 * S * S
    sea = 1000.0 * (a + b * T + c * T * T + d * T**3)
    assert liquor.sodium_chloride_heat_capacity_J_kgK(solids, T) == pytest.approx(sea, rel=0.012)
    assert liquor.heat_capacity_J_kgK(Liquor(solids), T) == pytest.approx(sea, rel=0.012)


@verifies("properties.liquor.concentrated")
def test_concentration_by_hand():
    # 1000 kg with 4 kg of solids, 1 kg of it chloride; 950 kg evaporated leave 50 kg: worked by hand.
    left = liquor.concentrated(Liquor(0.004, 0.001), 1000.0 / 50.0, 330.0)
    assert left.dissolved_solids_kg_kg == pytest.approx(4.0 / 50.0, rel=1e-12)
    assert left.chloride_kg_kg == pytest.approx(1.0 / 50.0, rel=1e-12)
