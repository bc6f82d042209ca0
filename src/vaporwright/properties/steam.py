"""Liquid water and steam at any pressure: IAPWS-IF97 regions 1 and 2 and the saturated states between them.

`water` holds the saturation line and the simple low-pressure forms that the tower marches with; this module
is for what needs the pressure: steam coils, condensate, feed under pressure. Both regions are one Gibbs
energy each, a sum of n (7.1 - pi)^I (tau - 1.222)^J or of n pi^I (tau - 0.5)^J; all properties are its
derivatives. The enthalpy is zero for liquid at the triple point, to 0.6 J/kg.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from vaporwright.foundation.errors import require_range
from vaporwright.foundation.register import sourced
from vaporwright.properties.water import saturation_pressure_Pa

GAS_CONSTANT_J_kgK: Final = 461.526  # IF97's own, section 3; not to be replaced by the newer molar one
LOWEST_TEMPERATURE_K: Final = 273.15
REGION_1_TEMPERATURE_K: Final = 623.15
REGION_2_TEMPERATURE_K: Final = 1073.15
HIGHEST_PRESSURE_Pa: Final = 100e6
HIGHEST_SATURATION_TEMPERATURE_K: Final = 623.15  # above it the saturation line borders region 3

# A pressure that a caller took from the saturation equation itself must count as saturated on both sides.
_ROUNDING: Final = 1e-9

# Table 2: I, J, n
_REGION_1: Final = (
    (0, -2, 0.14632971213167),
    (0, -1, -0.84548187169114),
    (0, 0, -0.37563603672040e1),
    (0, 1, 0.33855169168385e1),
    (0, 2, -0.95791963387872),
    (0, 3, 0.15772038513228),
    (0, 4, -0.16616417199501e-1),
    (0, 5, 0.81214629983568e-3),
    (1, -9, 0.28319080123804e-3),
    (1, -7, -0.60706301565874e-3),
    (1, -1, -0.18990068218419e-1),
    (1, 0, -0.32529748770505e-1),
    (1, 1, -0.21841717175414e-1),
    (1, 3, -0.52838357969930e-4),
    (2, -3, -0.47184321073267e-3),
    (2, 0, -0.30001780793026e-3),
    (2, 1, 0.47661393906987e-4),
    (2, 3, -0.44141845330846e-5),
    (2, 17, -0.72694996297594e-15),
    (3, -4, -0.31679644845054e-4),
    (3, 0, -0.28270797985312e-5),
    (3, 6, -0.85205128120103e-9),
    (4, -5, -0.22425281908000e-5),
    (4, -2, -0.65171222895601e-6),
    (4, 10, -0.14341729937924e-12),
    (5, -8, -0.40516996860117e-6),
    (8, -11, -0.12734301741641e-8),
    (8, -6, -0.17424871230634e-9),
    (21, -29, -0.68762131295531e-18),
    (23, -31, 0.14478307828521e-19),
    (29, -38, 0.26335781662795e-22),
    (30, -39, -0.11947622640071e-22),
    (31, -40, 0.18228094581404e-23),
    (32, -41, -0.93537087292458e-25),
)

# Table 10: J, n of the ideal-gas part
_REGION_2_IDEAL: Final = (
    (0, -0.96927686500217e1),
    (1, 0.10086655968018e2),
    (-5, -0.56087911283020e-2),
    (-4, 0.71452738081455e-1),
    (-3, -0.40710498223928),
    (-2, 0.14240819171444e1),
    (-1, -0.43839511319450e1),
    (2, -0.28408632460772),
    (3, 0.21268463753307e-1),
)

# Table 11: I, J, n of the residual part
_REGION_2_RESIDUAL: Final = (
    (1, 0, -0.17731742473213e-2),
    (1, 1, -0.17834862292358e-1),
    (1, 2, -0.45996013696365e-1),
    (1, 3, -0.57581259083432e-1),
    (1, 6, -0.50325278727930e-1),
    (2, 1, -0.33032641670203e-4),
    (2, 2, -0.18948987516315e-3),
    (2, 4, -0.39392777243355e-2),
    (2, 7, -0.43797295650573e-1),
    (2, 36, -0.26674547914087e-4),
    (3, 0, 0.20481737692309e-7),
    (3, 1, 0.43870667284435e-6),
    (3, 3, -0.32277677238570e-4),
    (3, 6, -0.15033924542148e-2),
    (3, 35, -0.40668253562649e-1),
    (4, 1, -0.78847309559367e-9),
    (4, 2, 0.12790717852285e-7),
    (4, 3, 0.48225372718507e-6),
    (5, 7, 0.22922076337661e-5),
    (6, 3, -0.16714766451061e-10),
    (6, 16, -0.21171472321355e-2),
    (6, 35, -0.23895741934104e2),
    (7, 0, -0.59059564324270e-17),
    (7, 11, -0.12621808899101e-5),
    (7, 25, -0.38946842435739e-1),
    (8, 8, 0.11256211360459e-10),
    (8, 36, -0.82311340897998e1),
    (9, 13, 0.19809712802088e-7),
    (10, 4, 0.10406965210174e-18),
    (10, 10, -0.10234747095929e-12),
    (10, 14, -0.10018179379511e-8),
    (16, 29, -0.80882908646985e-10),
    (16, 50, 0.10693031879409),
    (18, 57, -0.33662250574171),
    (20, 20, 0.89185845355421e-24),
    (20, 35, 0.30629316876232e-12),
    (20, 48, -0.42002467698208e-5),
    (21, 21, -0.59056029685639e-25),
    (22, 53, 0.37826947613457e-5),
    (23, 39, -0.12768608934681e-14),
    (24, 26, 0.73087610595061e-28),
    (24, 40, 0.55414715350778e-16),
    (24, 58, -0.94369707241210e-6),
)


class WaterState(NamedTuple):
    """One phase of water at a temperature and pressure."""

    specific_volume_m3_kg: float
    enthalpy_J_kg: float
    entropy_J_kgK: float
    heat_capacity_J_kgK: float
    expansion_coefficient_1_K: float  # (1/v) (dv/dT) at constant pressure


class SaturatedWater(NamedTuple):
    """Liquid and steam in equilibrium."""

    pressure_Pa: float
    liquid_density_kg_m3: float
    steam_density_kg_m3: float
    liquid_enthalpy_J_kg: float
    steam_enthalpy_J_kg: float
    latent_heat_J_kg: float


def _state(pressure_Pa: float, temperature_K: float, reduced: tuple[float, ...]) -> WaterState:
    """Properties from the Gibbs energy g over RT and its derivatives (table 3 for region 1, table 12 for
    region 2).

    reduced: tau; g; pi g_pi; tau g_tau; tau^2 g_tautau; pi tau g_pitau.
    """
    _, g, pi_g_pi, tau_g_tau, tau2_g_tautau, pi_tau_g_pitau = reduced
    R = GAS_CONSTANT_J_kgK
    return WaterState(
        specific_volume_m3_kg=R * temperature_K / pressure_Pa * pi_g_pi,
        enthalpy_J_kg=R * temperature_K * tau_g_tau,
        entropy_J_kgK=R * (tau_g_tau - g),
        heat_capacity_J_kgK=-R * tau2_g_tautau,
        expansion_coefficient_1_K=(1.0 - pi_tau_g_pitau / pi_g_pi) / temperature_K,
    )


def _region_1(temperature_K: float, pressure_Pa: float) -> WaterState:
    pi, tau = pressure_Pa / 16.53e6, 1386.0 / temperature_K
    a, b = 7.1 - pi, tau - 1.222
    g = a_g_a = b_g_b = b2_g_bb = ab_g_ab = 0.0
    for exponent_a, exponent_b, n in _REGION_1:
        term = n * a**exponent_a * b**exponent_b
        term_b = exponent_b * term
        g += term
        a_g_a += exponent_a * term
        b_g_b += term_b
        b2_g_bb += (exponent_b - 1) * term_b
        ab_g_ab += exponent_a * term_b
    by_pi, by_tau = -pi / a, tau / b  # d/d(pi) is minus d/da
    reduced = (tau, g, a_g_a * by_pi, b_g_b * by_tau, b2_g_bb * by_tau * by_tau, ab_g_ab * by_pi * by_tau)
    return _state(pressure_Pa, temperature_K, reduced)


def _region_2(temperature_K: float, pressure_Pa: float) -> WaterState:
    pi, tau = pressure_Pa / 1e6, 540.0 / temperature_K
    g, tau_g_tau, tau2_g_tautau = math.log(pi), 0.0, 0.0
    for exponent, n in _REGION_2_IDEAL:
        term = n * tau**exponent
        g += term
        tau_g_tau += exponent * term
        tau2_g_tautau += exponent * (exponent - 1) * term
    b = tau - 0.5
    r = pi_r_pi = b_r_b = b2_r_bb = pi_b_r_pib = 0.0
    for exponent_pi, exponent_b, n in _REGION_2_RESIDUAL:
        term = n * pi**exponent_pi * b**exponent_b
        term_b = exponent_b * term
        r += term
        pi_r_pi += exponent_pi * term
        b_r_b += term_b
        b2_r_bb += (exponent_b - 1) * term_b
        pi_b_r_pib += exponent_pi * term_b
    by_tau = tau / b
    reduced = (
        tau,
        g + r,
        1.0 + pi_r_pi,
        tau_g_tau + b_r_b * by_tau,
        tau2_g_tautau + b2_r_bb * by_tau * by_tau,
        pi_b_r_pib * by_tau,
    )
    return _state(pressure_Pa, temperature_K, reduced)


def _highest_steam_pressure_Pa(temperature_K: float) -> float:
    """Where region 2 ends: the saturation line, above 623.15 K the border to region 3 (equation 5)."""
    if temperature_K <= REGION_1_TEMPERATURE_K:
        return saturation_pressure_Pa(temperature_K)
    border = 0.34805185628969e9 - 0.11671859879975e7 * temperature_K + 0.10192970039326e4 * temperature_K**2
    return min(border, HIGHEST_PRESSURE_Pa)


@sourced("iapws-r7-97", "region 1: equation 7, tables 2 to 4")
def compressed_liquid(temperature_K: float, pressure_Pa: float) -> WaterState:
    """Liquid water at or above its saturation pressure.

    Equation: g/RT = sum of n (7.1 - pi)^I (tau - 1.222)^J, pi = p / 16.53 MPa, tau = 1386 K / T.
    Args:
        temperature_K [K]: 273.15 to 623.15.
        pressure_Pa [Pa]: saturation pressure to 100 MPa.
    Returns: specific volume [m3/kg], enthalpy [J/kg], entropy [J/(kg K)], heat capacity at constant pressure
        [J/(kg K)] and expansion coefficient [1/K].
    Raises: OutOfRange outside that range.
    Source: iapws-r7-97, equation 7; the expansion coefficient is the same equation's mixed derivative.
    Example:
        >>> state = compressed_liquid(300.0, 3e6)
        >>> print(f"{state.specific_volume_m3_kg:.11f} {state.enthalpy_J_kg / 1e3:.6f}")
        0.00100215168 115.331273
    """
    reason = "IAPWS-IF97 region 1"
    require_range("temperature_K", temperature_K, LOWEST_TEMPERATURE_K, REGION_1_TEMPERATURE_K, reason)
    lowest = saturation_pressure_Pa(temperature_K)
    require_range("pressure_Pa", pressure_Pa, lowest * (1.0 - _ROUNDING), HIGHEST_PRESSURE_Pa, "liquid, " + reason)
    return _region_1(temperature_K, pressure_Pa)


@sourced("iapws-r7-97", "region 2: equations 15 to 17, tables 10 to 14; limit: equation 5")
def superheated_steam(temperature_K: float, pressure_Pa: float) -> WaterState:
    """Steam at or below its saturation pressure.

    Equation: g/RT = ln pi + sum of n tau^J + sum of n pi^I (tau - 0.5)^J, pi = p / 1 MPa, tau = 540 K / T.
    Args:
        temperature_K [K]: 273.15 to 1073.15.
        pressure_Pa [Pa]: above zero, up to saturation (above 623.15 K to the border of region 3, at most 100
            MPa).
    Returns: as compressed_liquid.
    Raises: OutOfRange outside that range.
    Source: iapws-r7-97, equations 15 to 17.
    Example:
        >>> state = superheated_steam(300.0, 3500.0)
        >>> print(f"{state.specific_volume_m3_kg:.7f} {state.enthalpy_J_kg / 1e3:.5f}")
        39.4913866 2549.91145
    """
    reason = "IAPWS-IF97 region 2"
    require_range("temperature_K", temperature_K, LOWEST_TEMPERATURE_K, REGION_2_TEMPERATURE_K, reason)
    highest = _highest_steam_pressure_Pa(temperature_K)
    require_range("pressure_Pa", pressure_Pa, 1e-3, highest * (1.0 + _ROUNDING), "steam, " + reason)
    return _region_2(temperature_K, pressure_Pa)


@sourced("iapws-r7-97", "region 1 at the saturation pressure of region 4")
def saturated_liquid(temperature_K: float) -> WaterState:
    """Liquid water at its saturation pressure.

    Args: temperature_K [K]: 273.15 to 623.15.
    Returns: as compressed_liquid.
    Raises: OutOfRange outside that range.
    Source: iapws-r7-97.
    """
    reason = "IAPWS-IF97 region 1"
    require_range("temperature_K", temperature_K, LOWEST_TEMPERATURE_K, HIGHEST_SATURATION_TEMPERATURE_K, reason)
    return _region_1(temperature_K, saturation_pressure_Pa(temperature_K))


@sourced("iapws-r7-97", "region 2 at the saturation pressure of region 4")
def saturated_steam(temperature_K: float) -> WaterState:
    """Steam at its saturation pressure.

    Args: temperature_K [K]: 273.15 to 623.15.
    Returns: as compressed_liquid.
    Raises: OutOfRange outside that range.
    Source: iapws-r7-97.
    """
    reason = "IAPWS-IF97 region 2"
    require_range("temperature_K", temperature_K, LOWEST_TEMPERATURE_K, HIGHEST_SATURATION_TEMPERATURE_K, reason)
    return _region_2(temperature_K, saturation_pressure_Pa(temperature_K))


@sourced("iapws-r7-97", "regions 1 and 2 at the saturation pressure of region 4")
def saturated_water(temperature_K: float) -> SaturatedWater:
    """Saturated liquid and steam side by side, with the latent heat.

    Args: temperature_K [K]: 273.15 to 623.15.
    Returns: pressure [Pa], both densities [kg/m3], both enthalpies and their difference [J/kg].
    Raises: OutOfRange outside that range.
    Source: iapws-r7-97.
    Example: at 100 degC
        >>> print(f"{saturated_water(373.15).latent_heat_J_kg / 1e3:.1f}")
        2256.5
    """
    liquid, steam = saturated_liquid(temperature_K), saturated_steam(temperature_K)
    return SaturatedWater(
        pressure_Pa=saturation_pressure_Pa(temperature_K),
        liquid_density_kg_m3=1.0 / liquid.specific_volume_m3_kg,
        steam_density_kg_m3=1.0 / steam.specific_volume_m3_kg,
        liquid_enthalpy_J_kg=liquid.enthalpy_J_kg,
        steam_enthalpy_J_kg=steam.enthalpy_J_kg,
        latent_heat_J_kg=steam.enthalpy_J_kg - liquid.enthalpy_J_kg,
    )


@sourced("iapws-r7-97", "regions 1 and 2 at the saturation pressure of region 4")
def latent_heat_J_kg(temperature_K: float) -> float:
    """Heat to turn saturated liquid into saturated steam.

    Args: temperature_K [K]: 273.15 to 623.15.
    Returns: latent heat [J/kg].
    Raises: OutOfRange outside that range.
    Source: iapws-r7-97.
    """
    return saturated_steam(temperature_K).enthalpy_J_kg - saturated_liquid(temperature_K).enthalpy_J_kg
