"""Complete combustion of a gaseous fuel in humid air, and what its flue gas carries.

Atoms give the composition, NASA polynomials the enthalpies. Burning is taken as complete and without
dissociation: exact enough below some 1700 K, and a few to a hundred kelvin high at the flame itself. No
carbon monoxide is predicted; it is measured on site.

Flue gas holds carbon dioxide, moisture and, when a burner is out of tune, carbon monoxide, which kills
without smell. Venting, make-up air and CO alarms follow the local fuel gas code and a licensed fitter.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final, NamedTuple

from vaporwright.foundation.constants import (
    MOLAR_GAS_CONSTANT_J_molK,
    MOLAR_MASS_WATER_kg_mol,
)
from vaporwright.foundation.errors import require_range
from vaporwright.foundation.kernels import kernel
from vaporwright.foundation.register import sourced
from vaporwright.foundation.solvers import find_root
from vaporwright.properties.fuels import (
    REFERENCE_TEMPERATURE_K,
    FuelComposition,
    MOLAR_MASS_ARGON_kg_mol,
    MOLAR_MASS_CARBON_kg_mol,
    MOLAR_MASS_NITROGEN_ATOM_kg_mol,
    MOLAR_MASS_OXYGEN_ATOM_kg_mol,
    fuel_atoms,
    fuel_molar_mass_kg_mol,
    fuel_sensible_enthalpy_J_mol,
    gross_heating_value_J_mol,
    net_heating_value_J_mol,
    stoichiometric_oxygen_mol_mol,
)
from vaporwright.properties.water import saturation_temperature_K

# Dry air by volume: US Standard Atmosphere 1976 with carbon dioxide at 400 ppm; neon and helium count as
# nitrogen.
AIR_OXYGEN: Final = 0.209476
AIR_ARGON: Final = 0.00934
AIR_CARBON_DIOXIDE: Final = 0.0004
AIR_NITROGEN: Final = 1.0 - AIR_OXYGEN - AIR_ARGON - AIR_CARBON_DIOXIDE

MOST_EXCESS_AIR: Final = 5.0
LOWEST_GAS_TEMPERATURE_K: Final = 200.0
HIGHEST_GAS_TEMPERATURE_K: Final = 3500.0
POLYNOMIAL_BREAK_K: Final = 1000.0

_MOLAR_MASSES: Final = (
    MOLAR_MASS_CARBON_kg_mol + 2.0 * MOLAR_MASS_OXYGEN_ATOM_kg_mol,
    MOLAR_MASS_WATER_kg_mol,
    2.0 * MOLAR_MASS_NITROGEN_ATOM_kg_mol,
    2.0 * MOLAR_MASS_OXYGEN_ATOM_kg_mol,
    MOLAR_MASS_ARGON_kg_mol,
)
AIR_MOLAR_MASS_kg_mol: Final = (
    AIR_CARBON_DIOXIDE * _MOLAR_MASSES[0]
    + AIR_NITROGEN * _MOLAR_MASSES[2]
    + AIR_OXYGEN * _MOLAR_MASSES[3]
    + AIR_ARGON * _MOLAR_MASSES[4]
)

# cp/R = a1 + a2 T + ... + a5 T^4; a6 is the constant of integration of h/R. Order: CO2, H2O, N2, O2, Ar.
_LOW: Final = (
    (2.35677352, 0.00898459677, -7.12356269e-06, 2.45919022e-09, -1.43699548e-13, -48371.9697),
    (4.19864056, -0.0020364341, 6.52040211e-06, -5.48797062e-09, 1.77197817e-12, -30293.7267),
    (3.53100528, -0.000123660987, -5.02999437e-07, 2.43530612e-09, -1.40881235e-12, -1046.97628),
    (3.78245636, -0.00299673415, 9.847302e-06, -9.68129508e-09, 3.24372836e-12, -1063.94356),
    (2.5, 0.0, 0.0, 0.0, 0.0, -745.375),
)
_HIGH: Final = (
    (4.63659493, 0.00274131991, -9.95828531e-07, 1.60373011e-10, -9.16103468e-15, -49024.9341),
    (2.67703787, 0.00297318329, -7.7376969e-07, 9.44336689e-11, -4.26900959e-15, -29885.8938),
    (2.95257626, 0.00139690057, -4.92631691e-07, 7.86010367e-11, -4.60755321e-15, -923.948645),
    (3.66096083, 0.000656365523, -1.41149485e-07, 2.05797658e-11, -1.29913248e-15, -1215.97725),
    (2.5, 0.0, 0.0, 0.0, 0.0, -745.375),
)


class GasPolynomials(NamedTuple):
    """Coefficients of a mixture: heat capacity over R below and above 1000 K, with the enthalpy
    constants."""

    low: tuple[float, float, float, float, float, float]
    high: tuple[float, float, float, float, float, float]


@dataclass(frozen=True)
class Combustion:
    """What one mole of fuel becomes when it burns completely. All amounts in mol per mol of fuel.

    The excess air fraction is air beyond stoichiometric over stoichiometric air.
    """

    fuel: FuelComposition
    excess_air_fraction: float
    air_humidity_ratio_kg_kg: float
    dry_air_mol_mol: float
    air_moisture_mol_mol: float
    carbon_dioxide_mol_mol: float
    water_mol_mol: float
    nitrogen_mol_mol: float
    oxygen_mol_mol: float
    argon_mol_mol: float

    @property
    def flue_mol_mol(self) -> float:
        return self.dry_flue_mol_mol + self.water_mol_mol

    @property
    def dry_flue_mol_mol(self) -> float:
        return self.carbon_dioxide_mol_mol + self.nitrogen_mol_mol + self.oxygen_mol_mol + self.argon_mol_mol

    @property
    def flue_mole_fractions(self) -> tuple[float, float, float, float, float]:
        """CO2, H2O, N2, O2, Ar in the wet flue gas."""
        n = self.flue_mol_mol
        return (
            self.carbon_dioxide_mol_mol / n,
            self.water_mol_mol / n,
            self.nitrogen_mol_mol / n,
            self.oxygen_mol_mol / n,
            self.argon_mol_mol / n,
        )

    @property
    def oxygen_dry_fraction(self) -> float:
        return self.oxygen_mol_mol / self.dry_flue_mol_mol

    @property
    def carbon_dioxide_dry_fraction(self) -> float:
        return self.carbon_dioxide_mol_mol / self.dry_flue_mol_mol

    @property
    def flue_molar_mass_kg_mol(self) -> float:
        return sum(x * m for x, m in zip(self.flue_mole_fractions, _MOLAR_MASSES, strict=True))

    @property
    def air_kg_mol(self) -> float:
        """Humid combustion air [kg per mol of fuel]."""
        return self.dry_air_mol_mol * AIR_MOLAR_MASS_kg_mol + self.air_moisture_mol_mol * MOLAR_MASS_WATER_kg_mol

    @property
    def flue_kg_mol(self) -> float:
        """Wet flue gas [kg per mol of fuel]."""
        return self.flue_mol_mol * self.flue_molar_mass_kg_mol

    @property
    def fuel_kg_mol(self) -> float:
        return fuel_molar_mass_kg_mol(self.fuel)


@sourced("combustion-stoichiometry", "complete combustion in dry air")
@sourced("us-standard-atmosphere-1976", "table 3, oxygen in dry air")
def stoichiometric_air_mol_mol(fuel: FuelComposition) -> float:
    """Dry air that complete combustion needs.

    Equation: oxygen needed over the mole fraction of oxygen in dry air, 0.209476.
    Args: fuel: its composition.
    Returns: dry air [mol per mol of fuel], which is also the ratio of volumes.
    Source: combustion-stoichiometry.
    """
    return stoichiometric_oxygen_mol_mol(fuel) / AIR_OXYGEN


@lru_cache(maxsize=256)
@sourced("combustion-stoichiometry", "complete combustion with excess humid air")
@sourced("us-standard-atmosphere-1976", "table 3, composition of dry air")
def burn(fuel: FuelComposition, excess_air_fraction: float, air_humidity_ratio_kg_kg: float) -> Combustion:
    """Composition of the flue gas of complete combustion in humid air.

    Equation: balances of carbon, hydrogen, oxygen, nitrogen and argon.
    Args:
        fuel: its composition.
        excess_air_fraction [-]: 0 to 5; less than zero would burn incompletely and make carbon monoxide.
        air_humidity_ratio_kg_kg [kg/kg dry air]: 0 to 0.2.
    Returns: amounts per mole of fuel.
    Raises: OutOfRange outside that range.
    Source: combustion-stoichiometry, us-standard-atmosphere-1976.
    """
    require_range("excess_air_fraction", excess_air_fraction, 0.0, MOST_EXCESS_AIR, "complete combustion")
    require_range("air_humidity_ratio_kg_kg", air_humidity_ratio_kg_kg, 0.0, 0.2, "combustion air")
    atoms = fuel_atoms(fuel)
    stoichiometric = stoichiometric_air_mol_mol(fuel)
    air = stoichiometric * (1.0 + excess_air_fraction)
    moisture = air * AIR_MOLAR_MASS_kg_mol * air_humidity_ratio_kg_kg / MOLAR_MASS_WATER_kg_mol
    return Combustion(
        fuel=fuel,
        excess_air_fraction=excess_air_fraction,
        air_humidity_ratio_kg_kg=air_humidity_ratio_kg_kg,
        dry_air_mol_mol=air,
        air_moisture_mol_mol=moisture,
        carbon_dioxide_mol_mol=atoms.carbon + AIR_CARBON_DIOXIDE * air,
        water_mol_mol=0.5 * atoms.hydrogen + moisture,
        nitrogen_mol_mol=0.5 * atoms.nitrogen + AIR_NITROGEN * air,
        oxygen_mol_mol=AIR_OXYGEN * stoichiometric * excess_air_fraction,
        argon_mol_mol=AIR_ARGON * air,
    )


@sourced("combustion-stoichiometry", "oxygen in dry flue gas solved for the excess air")
def excess_air_from_oxygen_dry(fuel: FuelComposition, oxygen_dry_fraction: float) -> float:
    """Excess air from the oxygen that an analyser reads in dried flue gas.

    Equation: dry flue gas at no excess air, d0, and air A0 per mole of fuel give
        y = 0.209476 A0 e / (d0 + A0 e), solved for e. The air's humidity does not enter.
    Args:
        fuel: its composition.
        oxygen_dry_fraction [mol/mol dry]: 0 to that of five-fold excess air, about 0.17.
    Returns: excess air fraction [-].
    Raises: OutOfRange outside that range.
    Source: combustion-stoichiometry.
    """
    highest = burn(fuel, MOST_EXCESS_AIR, 0.0).oxygen_dry_fraction
    require_range("oxygen_dry_fraction", oxygen_dry_fraction, 0.0, highest, "excess air 0 to 5")
    air = stoichiometric_air_mol_mol(fuel)
    dry = burn(fuel, 0.0, 0.0).dry_flue_mol_mol
    return min(oxygen_dry_fraction * dry / (air * (AIR_OXYGEN - oxygen_dry_fraction)), MOST_EXCESS_AIR)


@sourced("combustion-stoichiometry", "partial pressure of the flue gas's water")
@sourced("iapws-r7-97", "eq. 31 (region 4, backward)")
def flue_dew_point_K(combustion: Combustion, pressure_Pa: float) -> float:
    """Temperature below which water condenses from the flue gas; acids are not counted (sulphur-free fuel).

    Equation: saturation temperature at the partial pressure of water, ideal gas.
    Args:
        combustion: the flue gas.
        pressure_Pa [Pa]: 50,000 to 110,000, at the site.
    Returns: dew point [K].
    Raises: OutOfRange outside that range.
    Source: iapws-r7-97, eq. 31.
    """
    require_range("pressure_Pa", pressure_Pa, 50_000.0, 110_000.0, "site pressure")
    return saturation_temperature_K(combustion.flue_mole_fractions[1] * pressure_Pa)


@sourced("nasa-tm-4513", "seven-coefficient polynomials of CO2, H2O, N2, O2, Ar")
def gas_polynomials(mole_fractions: tuple[float, float, float, float, float]) -> GasPolynomials:
    """Coefficients of a mixture of CO2, H2O, N2, O2 and Ar, for the two kernels below.

    Equation: mole-weighted sum of each coefficient.
    Args: mole_fractions: of CO2, H2O, N2, O2, Ar; or amounts, for the heat capacity and enthalpy of those
        amounts.
    Returns: coefficients below and above 1000 K.
    Source: nasa-tm-4513.
    """

    def mixed(rows: tuple[tuple[float, ...], ...], column: int) -> float:
        return sum(x * row[column] for x, row in zip(mole_fractions, rows, strict=True))

    return GasPolynomials(
        (mixed(_LOW, 0), mixed(_LOW, 1), mixed(_LOW, 2), mixed(_LOW, 3), mixed(_LOW, 4), mixed(_LOW, 5)),
        (
            mixed(_HIGH, 0),
            mixed(_HIGH, 1),
            mixed(_HIGH, 2),
            mixed(_HIGH, 3),
            mixed(_HIGH, 4),
            mixed(_HIGH, 5),
        ),
    )


@kernel
@sourced("nasa-tm-4513", "heat capacity polynomial")
def gas_heat_capacity_J_molK(temperature_K: float, gas: GasPolynomials) -> float:
    """Molar heat capacity at constant pressure of a gas mixture; a kernel, the caller keeps 200 to 3500 K.

    Equation: cp/R = a1 + a2 T + a3 T^2 + a4 T^3 + a5 T^4.
    Args: temperature_K [K]: 200 to 3500. gas: its coefficients.
    Returns: heat capacity [J/(mol K)].
    Source: nasa-tm-4513.
    """
    a = gas.low if temperature_K < POLYNOMIAL_BREAK_K else gas.high
    t = temperature_K
    return MOLAR_GAS_CONSTANT_J_molK * (a[0] + t * (a[1] + t * (a[2] + t * (a[3] + t * a[4]))))


@kernel
@sourced("nasa-tm-4513", "enthalpy polynomial")
def gas_enthalpy_J_mol(temperature_K: float, gas: GasPolynomials) -> float:
    """Molar enthalpy of a gas mixture, formation from the elements at 25 degC included; a kernel.

    Equation: h/R = a6 + a1 T + a2 T^2/2 + a3 T^3/3 + a4 T^4/4 + a5 T^5/5.
    Args: temperature_K [K]: 200 to 3500. gas: its coefficients.
    Returns: enthalpy [J/mol].
    Source: nasa-tm-4513.
    """
    a = gas.low if temperature_K < POLYNOMIAL_BREAK_K else gas.high
    t = temperature_K
    series = a[0] + t * (a[1] / 2.0 + t * (a[2] / 3.0 + t * (a[3] / 4.0 + t * a[4] / 5.0)))
    return MOLAR_GAS_CONSTANT_J_molK * (a[5] + t * series)


def _flue_amounts(combustion: Combustion) -> tuple[float, float, float, float, float]:
    return (
        combustion.carbon_dioxide_mol_mol,
        combustion.water_mol_mol,
        combustion.nitrogen_mol_mol,
        combustion.oxygen_mol_mol,
        combustion.argon_mol_mol,
    )


@lru_cache(maxsize=256)
def _sensible_polynomials(combustion: Combustion) -> tuple[GasPolynomials, GasPolynomials]:
    """Polynomials of the flue gas and of the humid air, both per mole of fuel."""
    air = combustion.dry_air_mol_mol
    amounts = (
        AIR_CARBON_DIOXIDE * air,
        combustion.air_moisture_mol_mol,
        AIR_NITROGEN * air,
        AIR_OXYGEN * air,
        AIR_ARGON * air,
    )
    return gas_polynomials(_flue_amounts(combustion)), gas_polynomials(amounts)


@sourced("nasa-tm-4513", "enthalpy polynomials of CO2, H2O, N2, O2, Ar")
def flue_sensible_enthalpy_J_mol(combustion: Combustion, temperature_K: float) -> float:
    """Enthalpy of the flue gas of one mole of fuel above 25 degC, its water staying vapour.

    Equation: enthalpy polynomial less its value at 298.15 K.
    Args:
        combustion: the flue gas.
        temperature_K [K]: 200 to 3500.
    Returns: enthalpy [J per mol of fuel].
    Raises: OutOfRange outside that range.
    Source: nasa-tm-4513.
    """
    require_range(
        "temperature_K", temperature_K, LOWEST_GAS_TEMPERATURE_K, HIGHEST_GAS_TEMPERATURE_K, "gas polynomials"
    )
    flue, _ = _sensible_polynomials(combustion)
    return gas_enthalpy_J_mol(temperature_K, flue) - gas_enthalpy_J_mol(REFERENCE_TEMPERATURE_K, flue)


@sourced("nasa-tm-4513", "enthalpy polynomials of the air and the fuel")
def reactants_sensible_enthalpy_J_mol(combustion: Combustion, air_temperature_K: float) -> float:
    """Enthalpy above 25 degC of one mole of fuel and its humid air, both at the temperature of the air.

    Equation: as for the flue gas; fuel by its own heat capacity.
    Args:
        combustion: fuel and air.
        air_temperature_K [K]: 200 to 700.
    Returns: enthalpy [J per mol of fuel].
    Raises: OutOfRange outside that range.
    Source: nasa-tm-4513.
    """
    require_range("air_temperature_K", air_temperature_K, LOWEST_GAS_TEMPERATURE_K, 700.0, "combustion air")
    _, air = _sensible_polynomials(combustion)
    return (
        gas_enthalpy_J_mol(air_temperature_K, air)
        - gas_enthalpy_J_mol(REFERENCE_TEMPERATURE_K, air)
        + fuel_sensible_enthalpy_J_mol(combustion.fuel, air_temperature_K)
    )


@sourced("nasa-tm-4513", "enthalpies of reactants and products")
def heat_given_up_J_mol(combustion: Combustion, stack_temperature_K: float, air_temperature_K: float) -> float:
    """Heat that one mole of fuel has given up by the time its flue gas is at the stack temperature.

    Equation: net heating value at 25 degC, plus reactants' less flue gas's enthalpy above 25 degC. Water
        stays vapour.
    Args:
        combustion: fuel, air and flue gas.
        stack_temperature_K [K]: 200 to 3500.
        air_temperature_K [K]: 200 to 700; the fuel arrives at the same temperature.
    Returns: heat [J per mol of fuel].
    Raises: OutOfRange outside that range.
    Source: nasa-tm-4513.
    """
    return (
        net_heating_value_J_mol(combustion.fuel)
        + reactants_sensible_enthalpy_J_mol(combustion, air_temperature_K)
        - flue_sensible_enthalpy_J_mol(combustion, stack_temperature_K)
    )


@sourced("nasa-tm-4513", "enthalpies of reactants and products")
@sourced("doe-steam-tip-4", "definition: stack loss only, gross heating value")
def gross_combustion_efficiency(combustion: Combustion, stack_temperature_K: float, air_temperature_K: float) -> float:
    """Share of the gross heating value that does not leave by the stack; losses of the casing are not in
    it.

    Equation: heat given up over the gross heating value at 25 degC.
    Args:
        combustion: fuel, air and flue gas.
        stack_temperature_K [K]: 200 to 3500. Below the dew point water condenses and the true value is
            higher.
        air_temperature_K [K]: 200 to 700; the fuel arrives at the same temperature.
    Returns: efficiency [-].
    Raises: OutOfRange outside that range.
    Source: nasa-tm-4513, doe-steam-tip-4.
    """
    return heat_given_up_J_mol(combustion, stack_temperature_K, air_temperature_K) / gross_heating_value_J_mol(
        combustion.fuel
    )


@sourced("nasa-tm-4513", "enthalpies of reactants and products")
def undissociated_flame_temperature_K(combustion: Combustion, air_temperature_K: float) -> float:
    """Adiabatic flame temperature of complete combustion, without dissociation.

    Above the true, equilibrium, value: by about 100 K for natural gas at no excess air, 35 K at 15 %,
    7 K at 60 %. Gas in a cooled tube cools from there at once, and what had dissociated gives its heat back.

    Equation: flue gas enthalpy equals that of reactants plus the net heating value.
    Args:
        combustion: fuel, air and flue gas.
        air_temperature_K [K]: 200 to 700; the fuel arrives at the same temperature.
    Returns: temperature [K].
    Raises: OutOfRange outside that range; NotConverged.
    Source: nasa-tm-4513.
    """
    reactants = reactants_sensible_enthalpy_J_mol(combustion, air_temperature_K)
    released = net_heating_value_J_mol(combustion.fuel) + reactants
    return find_root(
        lambda t: flue_sensible_enthalpy_J_mol(combustion, t) - released,
        air_temperature_K,
        HIGHEST_GAS_TEMPERATURE_K,
        tolerance=1e-6,
        name="adiabatic flame temperature [K]",
    )


@sourced("ideal-gas-standard-volume", "ideal gas law")
def gas_density_kg_m3(molar_mass_kg_mol: float, temperature_K: float, pressure_Pa: float) -> float:
    """Density of an ideal gas, such as flue gas or air.

    Equation: p M / (R T).
    Args: molar_mass_kg_mol [kg/mol]; temperature_K [K]: 200 to 3500; pressure_Pa [Pa], absolute: above
        zero.
    Returns: density [kg/m3].
    Raises: OutOfRange outside that range.
    Source: ideal-gas-standard-volume.
    """
    require_range("temperature_K", temperature_K, LOWEST_GAS_TEMPERATURE_K, HIGHEST_GAS_TEMPERATURE_K)
    require_range("pressure_Pa", pressure_Pa, 1.0, None)
    return pressure_Pa * molar_mass_kg_mol / (MOLAR_GAS_CONSTANT_J_molK * temperature_K)
