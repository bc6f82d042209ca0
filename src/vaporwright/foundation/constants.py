"""Physical constants, each used by more than one room. SI units in the names."""

from __future__ import annotations

from typing import Final

ZERO_CELSIUS_K: Final = 273.15
MOLAR_GAS_CONSTANT_J_molK: Final = 8.314462618  # exact to these digits since the 2019 SI
MOLAR_MASS_WATER_kg_mol: Final = 0.018015268  # IAPWS R6-95
MOLAR_MASS_DRY_AIR_kg_mol: Final = 0.02896546  # Herrmann, Kretzschmar & Gatley (2009), ASHRAE RP-1485
MOLAR_MASS_RATIO: Final = MOLAR_MASS_WATER_kg_mol / MOLAR_MASS_DRY_AIR_kg_mol
STANDARD_ATMOSPHERE_Pa: Final = 101325.0
STANDARD_GRAVITY_m_s2: Final = 9.80665
STEFAN_BOLTZMANN_W_m2K4: Final = 5.670374419e-8
