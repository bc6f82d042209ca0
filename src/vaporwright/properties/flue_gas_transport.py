"""How flue gas carries heat: viscosity and conductivity.

Viscosity and conductivity of each gas by the equations of the CEA transport data set, mixed by Wilke and by
Wassiljewa with Mason and Saxena's factors. The march along a tube asks for
these hundreds of times, so `transport_polynomials` condenses the mixture into polynomials of ln T once per
flue gas.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final, NamedTuple

from vaporwright.foundation.constants import MOLAR_GAS_CONSTANT_J_molK
from vaporwright.foundation.errors import require_range
from vaporwright.foundation.kernels import kernel
from vaporwright.foundation.register import sourced

LOWEST_TRANSPORT_TEMPERATURE_K: Final = 220.0
HIGHEST_TRANSPORT_TEMPERATURE_K: Final = 2800.0

MoleFractions = tuple[float, float, float, float, float]  # CO2, H2O, N2, O2, Ar

_MOLAR_MASSES: Final = (44.0095, 18.01528, 28.0134, 31.9988, 39.948)
# ln(property) = A ln T + B/T + C/T^2 + D; viscosity in 1e-7 Pa s, conductivity in 1e-4 W/(m K).
# Rows CO2, H2O, N2, O2, Ar; below and above 1000 K (water 1073.2 K). Argon, monatomic, conducts 15/4 R/M
# times its viscosity. The set gives water from 373.2 K; below, its equation is carried on (see the source
# entry).
_VISCOSITY: Final = (
    ((0.51137258, -229.51321, 13710.678, 2.7075538), (0.63978285, -42.637076, -15522.605, 1.6628843)),
    ((0.50019557, -697.12796, 88163.892, 3.0836508), (0.58988538, -537.69814, 54263.513, 2.3386375)),
    ((0.62526577, -31.779652, -1640.7983, 1.7454992), (0.87395209, 561.52222, -173948.09, -0.39335958)),
    ((0.60916180, -52.244847, -599.74009, 2.0410801), (0.72216486, 175.50839, -57974.816, 1.0901044)),
    ((0.61205763, -67.714354, 190.40660, 2.1588272), (0.69357334, 70.953943, -28386.007, 1.4856447)),
)
_CONDUCTIVITY: Final = (
    ((0.48056568, -507.86720, 35088.811, 3.6747794), (0.69857277, -118.30477, -50688.859, 1.8650551)),
    ((1.0966389, -555.13429, 106234.08, -0.24664550), (0.39367933, -2252.4226, 612174.58, 5.8011317)),
    ((0.85439436, 105.73224, -12347.848, 0.47793128), (0.88407146, 133.57293, -11429.640, 0.24417019)),
    ((0.77229167, 6.8463210, -5893.3377, 1.2210365), (0.90917351, 291.24182, -79650.171, 0.064851631)),
)
_ARGON: Final = 4
_BREAKS_K: Final = (1000.0, 1073.2, 1000.0, 1000.0, 1000.0)

_LOG_MIDDLE: Final = 0.5 * (math.log(LOWEST_TRANSPORT_TEMPERATURE_K) + math.log(HIGHEST_TRANSPORT_TEMPERATURE_K))
_LOG_HALF_WIDTH: Final = 0.5 * math.log(HIGHEST_TRANSPORT_TEMPERATURE_K / LOWEST_TRANSPORT_TEMPERATURE_K)


class TransportPolynomials(NamedTuple):
    """Logarithms of a mixture's viscosity and conductivity as polynomials of ln T, scaled to -1 to 1."""

    log_viscosity: tuple[float, float, float, float, float, float, float]
    log_conductivity: tuple[float, float, float, float, float, float, float]


def _pure(species: int, temperature_K: float, row: tuple[tuple[float, float, float, float], ...]) -> float:
    a, b, c, d = row[0 if temperature_K < _BREAKS_K[species] else 1]
    return math.exp(a * math.log(temperature_K) + (b + c / temperature_K) / temperature_K + d)


def _pure_viscosity_Pa_s(species: int, temperature_K: float) -> float:
    return 1e-7 * _pure(species, temperature_K, _VISCOSITY[species])


def _pure_conductivity_W_mK(species: int, temperature_K: float) -> float:
    if species == _ARGON:
        specific_gas_constant = 1000.0 * MOLAR_GAS_CONSTANT_J_molK / _MOLAR_MASSES[species]
        return 3.75 * specific_gas_constant * _pure_viscosity_Pa_s(species, temperature_K)
    return 1e-4 * _pure(species, temperature_K, _CONDUCTIVITY[species])


def _mixed(mole_fractions: MoleFractions, viscosities: list[float], pure: list[float]) -> float:
    """Sum of x_i p_i / sum of x_j phi_ij with Wilke's phi, the form of both Wilke and Wassiljewa."""
    total = 0.0
    for i, x in enumerate(mole_fractions):
        if x == 0.0:
            continue
        weight = 0.0
        for j, other in enumerate(mole_fractions):
            ratio = _MOLAR_MASSES[j] / _MOLAR_MASSES[i]
            root = 1.0 + math.sqrt(viscosities[i] / viscosities[j]) * ratio**0.25
            weight += other * root * root / math.sqrt(8.0 * (1.0 + 1.0 / ratio))
        total += x * pure[i] / weight
    return total


@sourced("cea-transport", "viscosities of CO2, H2O, N2, O2, Ar")
@sourced("wilke-1950", "mixture rule")
def flue_gas_viscosity_Pa_s(mole_fractions: MoleFractions, temperature_K: float) -> float:
    """Dynamic viscosity of a mixture of CO2, H2O, N2, O2 and Ar at low pressure.

    Equation: ln mu = A ln T + B/T + C/T^2 + D for each gas; Wilke's rule for the mixture.
    Args:
        mole_fractions: of CO2, H2O, N2, O2, Ar.
        temperature_K [K]: 220 to 2800.
    Returns: viscosity [Pa s].
    Raises: OutOfRange outside that range.
    Source: cea-transport, wilke-1950.
    """
    _require(temperature_K)
    viscosities = [_pure_viscosity_Pa_s(i, temperature_K) for i in range(5)]
    return _mixed(mole_fractions, viscosities, viscosities)


@sourced("cea-transport", "conductivities of CO2, H2O, N2, O2")
@sourced("wassiljewa-mason-saxena-1958", "mixture rule with Wilke's factors")
def flue_gas_conductivity_W_mK(mole_fractions: MoleFractions, temperature_K: float) -> float:
    """Thermal conductivity of a mixture of CO2, H2O, N2, O2 and Ar at low pressure.

    Equation: ln k = A ln T + B/T + C/T^2 + D for each gas; Wassiljewa's form with Wilke's factors for the
        mixture.
    Args:
        mole_fractions: of CO2, H2O, N2, O2, Ar.
        temperature_K [K]: 220 to 2800.
    Returns: conductivity [W/(m K)].
    Raises: OutOfRange outside that range.
    Source: cea-transport, wassiljewa-mason-saxena-1958.
    """
    _require(temperature_K)
    viscosities = [_pure_viscosity_Pa_s(i, temperature_K) for i in range(5)]
    return _mixed(mole_fractions, viscosities, [_pure_conductivity_W_mK(i, temperature_K) for i in range(5)])


def _require(temperature_K: float) -> None:
    require_range(
        "temperature_K",
        temperature_K,
        LOWEST_TRANSPORT_TEMPERATURE_K,
        HIGHEST_TRANSPORT_TEMPERATURE_K,
        "transport properties of flue gas",
    )


@lru_cache(maxsize=256)
@sourced("cea-transport", "condensed to polynomials of ln T")
def transport_polynomials(mole_fractions: MoleFractions) -> TransportPolynomials:
    """Viscosity and conductivity of one flue gas as polynomials, for the kernels of a march along a tube.

    Equation: the polynomial of degree 6 in ln T through seven Chebyshev nodes between 220 and 2800 K;
        within 0.3 % of the two functions above.
    Args: mole_fractions: of CO2, H2O, N2, O2, Ar.
    Returns: coefficients.
    Source: cea-transport.
    """
    nodes = [math.cos(math.pi * (k + 0.5) / 7.0) for k in range(7)]
    temperatures = [math.exp(_LOG_MIDDLE + _LOG_HALF_WIDTH * z) for z in nodes]
    viscosities = [math.log(flue_gas_viscosity_Pa_s(mole_fractions, t)) for t in temperatures]
    conductivities = [math.log(flue_gas_conductivity_W_mK(mole_fractions, t)) for t in temperatures]
    v, c = polynomial_through(nodes, viscosities), polynomial_through(nodes, conductivities)
    return TransportPolynomials((v[0], v[1], v[2], v[3], v[4], v[5], v[6]), (c[0], c[1], c[2], c[3], c[4], c[5], c[6]))


@sourced("newton-interpolation", "divided differences, expanded to powers")
def polynomial_through(nodes: list[float], values: list[float]) -> list[float]:
    """Coefficients, lowest power first, of the polynomial through given points.

    Equation: Newton's divided differences.
    Args: nodes: distinct. values: as many.
    Returns: coefficients.
    Source: newton-interpolation.
    """
    n = len(nodes)
    differences = list(values)
    for level in range(1, n):
        for i in range(n - 1, level - 1, -1):
            differences[i] = (differences[i] - differences[i - 1]) / (nodes[i] - nodes[i - level])
    coefficients = [differences[-1]]
    for i in range(n - 2, -1, -1):
        shifted = [0.0, *coefficients]
        for k, coefficient in enumerate(coefficients):
            shifted[k] -= nodes[i] * coefficient
        shifted[0] += differences[i]
        coefficients = shifted
    return coefficients


class GasTransport(NamedTuple):
    """Viscosity and conductivity at one temperature."""

    viscosity_Pa_s: float
    conductivity_W_mK: float


@kernel
@sourced("cea-transport", "condensed to polynomials of ln T")
def transport_at(temperature_K: float, gas: TransportPolynomials) -> GasTransport:
    """Viscosity and conductivity of a flue gas; a kernel, the caller keeps 220 to 2800 K.

    Equation: polynomials of transport_polynomials.
    Args: temperature_K [K]: 220 to 2800. gas: its coefficients.
    Returns: viscosity [Pa s] and conductivity [W/(m K)].
    Source: cea-transport.
    """
    z = (math.log(temperature_K) - _LOG_MIDDLE) / _LOG_HALF_WIDTH
    v, c = gas.log_viscosity, gas.log_conductivity
    log_v = v[0] + z * (v[1] + z * (v[2] + z * (v[3] + z * (v[4] + z * (v[5] + z * v[6])))))
    log_c = c[0] + z * (c[1] + z * (c[2] + z * (c[3] + z * (c[4] + z * (c[5] + z * c[6])))))
    return GasTransport(math.exp(log_v), math.exp(log_c))
