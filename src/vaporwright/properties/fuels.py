"""Gaseous fuels by composition: heating values, air needed, density.

Everything follows from the mole fractions: enthalpies of formation give the heating values, the atoms give
the air. Ideal gas throughout: a real gas at standard conditions is denser by 0.2 % (methane) to 1.8 %
(propane), which is why published values per standard volume for propane lie a little higher.

Fuel gas burns and explodes, and its flue gas poisons: gas trains, burners and venting are work for licensed
fitters under the local fuel gas code. This module only counts molecules.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, NamedTuple

from vaporwright.foundation.constants import (
    MOLAR_GAS_CONSTANT_J_molK,
    MOLAR_MASS_DRY_AIR_kg_mol,
    MOLAR_MASS_WATER_kg_mol,
)
from vaporwright.foundation.errors import OutOfRange, require_range
from vaporwright.foundation.register import sourced

REFERENCE_TEMPERATURE_K: Final = 298.15
STANDARD_FUEL_TEMPERATURE_K: Final = 288.7055556  # 60 degF
STANDARD_FUEL_PRESSURE_Pa: Final = 101325.0  # 14.696 psia

MOLAR_MASS_CARBON_kg_mol: Final = 0.012011
MOLAR_MASS_OXYGEN_ATOM_kg_mol: Final = 0.015999
# From the agreed molar mass of water, so that the mass of fuel and air equals that of the flue gas to the
# last digit.
MOLAR_MASS_HYDROGEN_ATOM_kg_mol: Final = 0.5 * (MOLAR_MASS_WATER_kg_mol - MOLAR_MASS_OXYGEN_ATOM_kg_mol)
MOLAR_MASS_NITROGEN_ATOM_kg_mol: Final = 0.014007
MOLAR_MASS_ARGON_kg_mol: Final = 0.039948

FORMATION_ENTHALPY_CARBON_DIOXIDE_J_mol: Final = -393510.0
FORMATION_ENTHALPY_WATER_VAPOUR_J_mol: Final = -241826.0
FORMATION_ENTHALPY_LIQUID_WATER_J_mol: Final = -285830.0


class _Species(NamedTuple):
    """Atoms, enthalpy of formation of the gas at 25 degC, and heat capacity polynomial below 1000 K (over
    R)."""

    carbon: int
    hydrogen: int
    oxygen: int
    nitrogen: int
    formation_J_mol: float
    heat_capacity: tuple[float, float, float, float, float]


# Heat capacity polynomials and enthalpies of formation: NASA TM-4513 as distributed with Chemkin-form data
# sets.
SPECIES: Final[dict[str, _Species]] = {
    "CH4": _Species(1, 4, 0, 0, -74600.0, (5.14987613, -0.0136709788, 4.91800599e-05, -4.84743026e-08, 1.66693956e-11)),
    "C2H6": _Species(
        2, 6, 0, 0, -83851.0, (4.29142492, -0.0055015427, 5.99438288e-05, -7.08466285e-08, 2.68685771e-11)
    ),
    "C3H8": _Species(
        3, 8, 0, 0, -104680.0, (4.2110262, 0.00171599803, 7.06183472e-05, -9.19594116e-08, 3.64421372e-11)
    ),
    "C4H10": _Species(
        4, 10, 0, 0, -125790.0, (6.14746806, 0.000155947389, 9.67913517e-05, -1.2548391e-07, 4.97816555e-11)
    ),
    "iC4H10": _Species(
        4, 10, 0, 0, -134990.0, (4.45479276, 0.00826057985, 8.29886664e-05, -1.14647642e-07, 4.64570101e-11)
    ),
    "C5H12": _Species(5, 12, 0, 0, -146760.0, (1.8983679, 0.041203037, 1.2312175e-05, -3.6589501e-08, 1.5042509e-11)),
    "CO2": _Species(
        1,
        0,
        2,
        0,
        FORMATION_ENTHALPY_CARBON_DIOXIDE_J_mol,
        (2.35677352, 0.00898459677, -7.12356269e-06, 2.45919022e-09, -1.43699548e-13),
    ),
    "N2": _Species(0, 0, 0, 2, 0.0, (3.53100528, -0.000123660987, -5.02999437e-07, 2.43530612e-09, -1.40881235e-12)),
}


@dataclass(frozen=True)
class FuelComposition:
    """A fuel gas: its name and (species, mole fraction) pairs that add up to one.

    Species: CH4, C2H6, C3H8, C4H10 (n-butane), iC4H10, C5H12 (n-pentane), CO2, N2.
    """

    name: str
    mole_fractions: tuple[tuple[str, float], ...]

    def __post_init__(self) -> None:
        seen: set[str] = set()
        for species, fraction in self.mole_fractions:
            if species not in SPECIES:
                raise OutOfRange(f"species {species} of fuel {self.name}", fraction, 0.0, 0.0, f"known: {_KNOWN}")
            if species in seen:
                raise OutOfRange(f"species {species} of fuel {self.name}, given twice", fraction, None, None)
            seen.add(species)
            require_range(f"mole fraction of {species} in {self.name}", fraction, 0.0, 1.0)
        total = sum(fraction for _, fraction in self.mole_fractions)
        require_range(f"sum of mole fractions of {self.name}", total, 1.0 - 1e-6, 1.0 + 1e-6, "they must add up to one")
        combustible = sum(fraction for species, fraction in self.mole_fractions if SPECIES[species].hydrogen)
        require_range(
            f"combustible mole fraction of {self.name}",
            combustible,
            0.3,
            1.0 + 1e-6,
            "leaner gas may not burn",
        )

    @classmethod
    def from_mole_fractions(cls, name: str, mole_fractions: Mapping[str, float]) -> FuelComposition:
        """The same from a mapping of species to mole fraction."""
        return cls(name, tuple(mole_fractions.items()))


_KNOWN: Final = ", ".join(SPECIES)

# A typical pipeline gas (common practice, no source); ask the supplier for the real one.
NATURAL_GAS: Final = FuelComposition(
    "natural gas", (("CH4", 0.95), ("C2H6", 0.03), ("C3H8", 0.005), ("N2", 0.01), ("CO2", 0.005))
)
METHANE: Final = FuelComposition("methane", (("CH4", 1.0),))
PROPANE: Final = FuelComposition("propane", (("C3H8", 1.0),))


class FuelAtoms(NamedTuple):
    """Atoms per molecule of fuel, averaged over its composition (mol/mol)."""

    carbon: float
    hydrogen: float
    oxygen: float
    nitrogen: float


@lru_cache(maxsize=64)
@sourced("combustion-stoichiometry", "sum of atoms over the composition")
def fuel_atoms(fuel: FuelComposition) -> FuelAtoms:
    """Atoms of carbon, hydrogen, oxygen and nitrogen per mole of fuel.

    Equation: sum of mole fraction times atoms of each species.
    Args: fuel: its composition.
    Returns: atoms per molecule [mol/mol].
    Source: combustion-stoichiometry.
    """
    sums = [0.0, 0.0, 0.0, 0.0]
    for name, fraction in fuel.mole_fractions:
        for index in range(4):
            sums[index] += fraction * SPECIES[name][index]  # type: ignore[operator]
    return FuelAtoms(*sums)


@lru_cache(maxsize=64)
@sourced("combustion-stoichiometry", "atomic masses")
def fuel_molar_mass_kg_mol(fuel: FuelComposition) -> float:
    """Mean molar mass of a fuel gas.

    Equation: sum of atoms times atomic mass.
    Args: fuel: its composition.
    Returns: molar mass [kg/mol].
    Source: combustion-stoichiometry.
    Example:
        >>> round(fuel_molar_mass_kg_mol(METHANE), 5)
        0.01604
    """
    atoms = fuel_atoms(fuel)
    return (
        atoms.carbon * MOLAR_MASS_CARBON_kg_mol
        + atoms.hydrogen * MOLAR_MASS_HYDROGEN_ATOM_kg_mol
        + atoms.oxygen * MOLAR_MASS_OXYGEN_ATOM_kg_mol
        + atoms.nitrogen * MOLAR_MASS_NITROGEN_ATOM_kg_mol
    )


@lru_cache(maxsize=64)
@sourced("nasa-tm-4513", "enthalpies of formation at 298.15 K")
@sourced("combustion-stoichiometry", "complete combustion to CO2 and water vapour")
def net_heating_value_J_mol(fuel: FuelComposition) -> float:
    """Net (lower) heating value at 25 degC: the water of combustion leaves as vapour.

    Equation: enthalpy of formation of the fuel less that of its CO2 and H2O.
    Args: fuel: its composition.
    Returns: net heating value [J per mol of fuel].
    Source: nasa-tm-4513.
    """
    return _heating_value_J_mol(fuel, FORMATION_ENTHALPY_WATER_VAPOUR_J_mol)


@lru_cache(maxsize=64)
@sourced("nasa-tm-4513", "enthalpies of formation at 298.15 K")
@sourced("combustion-stoichiometry", "complete combustion to CO2 and liquid water")
def gross_heating_value_J_mol(fuel: FuelComposition) -> float:
    """Gross (higher) heating value at 25 degC: the water of combustion ends as liquid.

    Equation: enthalpy of formation of the fuel less that of its CO2 and H2O.
    Args: fuel: its composition.
    Returns: gross heating value [J per mol of fuel].
    Source: nasa-tm-4513.
    Example:
        >>> round(gross_heating_value_J_mol(METHANE) / 1e3, 1)
        890.6
    """
    return _heating_value_J_mol(fuel, FORMATION_ENTHALPY_LIQUID_WATER_J_mol)


def _heating_value_J_mol(fuel: FuelComposition, formation_of_water_J_mol: float) -> float:
    atoms = fuel_atoms(fuel)
    formation = sum(fraction * SPECIES[name].formation_J_mol for name, fraction in fuel.mole_fractions)
    return (
        formation
        - atoms.carbon * FORMATION_ENTHALPY_CARBON_DIOXIDE_J_mol
        - 0.5 * atoms.hydrogen * formation_of_water_J_mol
    )


@sourced("ideal-gas-standard-volume", "60 degF and 14.696 psia, ideal gas")
def standard_molar_volume_m3_mol() -> float:
    """Volume of a mole of ideal gas at 60 degF and 14.696 psia.

    Equation: R T / p.
    Returns: molar volume [m3/mol].
    Source: ideal-gas-standard-volume.
    Example:
        >>> round(standard_molar_volume_m3_mol() * 453.59237 / 0.3048**3, 2)  # ft3 per lbmol
        379.48
    """
    return MOLAR_GAS_CONSTANT_J_molK * STANDARD_FUEL_TEMPERATURE_K / STANDARD_FUEL_PRESSURE_Pa


@sourced("combined-gas-law", "V p / T is the same before and after")
def standard_gas_volume_factor(
    *,
    temperature_K: float,
    pressure_Pa: float,
    base_temperature_K: float = STANDARD_FUEL_TEMPERATURE_K,
    base_pressure_Pa: float = STANDARD_FUEL_PRESSURE_Pa,
) -> float:
    """What a volume of gas as a meter shows it is worth at standard conditions.

    Equation: V_base / V = (p / p_base) (T_base / T). Ideal gas, supercompressibility left out: up to 5 psi over the
        atmosphere and down to 23 degF methane departs from it by less than 0.15 %, propane by less than 1.4 %.
    Args:
        temperature_K [K]: of the gas at the meter, 223.15 to 343.15.
        pressure_Pa [Pa]: absolute, of the gas at the meter: barometer plus gauge; 5e4 to 8e5.
        base_temperature_K [K], base_pressure_Pa [Pa]: what "standard" means; 60 degF and 14.696 psia.
    Returns: standard volume over the meter's [-].
    Raises: OutOfRange.
    Source: combined-gas-law.
    Example: two pounds of pressure and a cold meter, at 14.4 psi of barometer and 40 degF
        >>> factor = standard_gas_volume_factor(temperature_K=277.594, pressure_Pa=16.4 * 6894.757)
        >>> print(f"{factor:.3f}")
        1.161
    """
    require_range("temperature_K", temperature_K, 223.15, 343.15, "gas at its meter")
    require_range("pressure_Pa", pressure_Pa, 5.0e4, 8.0e5, "gas at its meter, absolute")
    return pressure_Pa / base_pressure_Pa * base_temperature_K / temperature_K


@sourced("ideal-gas-standard-volume", "60 degF and 14.696 psia, ideal gas")
def gross_heating_value_J_standard_m3(fuel: FuelComposition) -> float:
    """Gross heating value per standard volume (60 degF, 14.696 psia, dry, ideal gas).

    Equation: molar gross heating value over the standard molar volume.
    Args: fuel: its composition.
    Returns: gross heating value [J/m3 standard].
    Source: ideal-gas-standard-volume.
    """
    return gross_heating_value_J_mol(fuel) / standard_molar_volume_m3_mol()


@sourced("ideal-gas-standard-volume", "60 degF and 14.696 psia, ideal gas")
def net_heating_value_J_standard_m3(fuel: FuelComposition) -> float:
    """Net heating value per standard volume (60 degF, 14.696 psia, dry, ideal gas).

    Equation: molar net heating value over the standard molar volume.
    Args: fuel: its composition.
    Returns: net heating value [J/m3 standard].
    Source: ideal-gas-standard-volume.
    """
    return net_heating_value_J_mol(fuel) / standard_molar_volume_m3_mol()


@sourced("combustion-stoichiometry", "ratio of molar masses")
def specific_gravity_to_air(fuel: FuelComposition) -> float:
    """Density of the fuel gas over that of dry air at the same pressure and temperature (ideal gas).

    Equation: ratio of molar masses.
    Args: fuel: its composition.
    Returns: specific gravity [-].
    Source: combustion-stoichiometry.
    """
    return fuel_molar_mass_kg_mol(fuel) / MOLAR_MASS_DRY_AIR_kg_mol


@sourced("combustion-stoichiometry", "oxygen for CO2 and H2O, less the fuel's own")
def stoichiometric_oxygen_mol_mol(fuel: FuelComposition) -> float:
    """Oxygen that complete combustion needs.

    Equation: C + H/4 - O/2.
    Args: fuel: its composition.
    Returns: O2 [mol per mol of fuel].
    Source: combustion-stoichiometry.
    """
    atoms = fuel_atoms(fuel)
    return atoms.carbon + 0.25 * atoms.hydrogen - 0.5 * atoms.oxygen


@sourced("nasa-tm-4513", "heat capacity polynomials, 200 to 1000 K")
def fuel_sensible_enthalpy_J_mol(fuel: FuelComposition, temperature_K: float) -> float:
    """Enthalpy of the unburnt fuel gas above 25 degC.

    Equation: integral of the heat capacity polynomial from 298.15 K.
    Args:
        fuel: its composition.
        temperature_K [K]: 200 to 1000.
    Returns: enthalpy [J per mol of fuel].
    Raises: OutOfRange outside that range.
    Source: nasa-tm-4513.
    """
    require_range("temperature_K", temperature_K, 200.0, 1000.0, "range of the heat capacity polynomial")
    total = 0.0
    for name, fraction in fuel.mole_fractions:
        a = SPECIES[name].heat_capacity
        for power, coefficient in enumerate(a, start=1):
            total += fraction * coefficient / power * (temperature_K**power - REFERENCE_TEMPERATURE_K**power)
    return MOLAR_GAS_CONSTANT_J_molK * total
