"""Density and heat capacity of sodium chloride solutions against CoolProp's brine (used up to 40 degC
only)."""

import pytest
from CoolProp.CoolProp import PropsSI

from support import verifies
from vaporwright.properties.liquor import Liquor, density_kg_m3, heat_capacity_J_kgK


@verifies(
    "properties.liquor.density_kg_m3",
    "properties.liquor.heat_capacity_J_kgK",
    "properties.liquor.sodium_chloride_density_kg_m3",
    "properties.liquor.sodium_chloride_heat_capacity_J_kgK",
)
@pytest.mark.parametrize("celsius", [5.0, 20.0, 39.0])
@pytest.mark.parametrize("solids", [0.05, 0.1, 0.15, 0.2, 0.23])
def test_sodium_chloride_solution(celsius, solids):
    def coolprop(name):
        return PropsSI(name, "T", celsius + 273.15, "P", 101325.0, f"INCOMP::MNA[{solids}]")

    assert density_kg_m3(Liquor(solids), celsius + 273.15) == pytest.approx(coolprop("D"), rel=0.001)
    assert heat_capacity_J_kgK(Liquor(solids), celsius + 273.15) == pytest.approx(coolprop("C"), rel=0.005)
