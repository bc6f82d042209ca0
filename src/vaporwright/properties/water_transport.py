"""Density and transport properties of liquid water near atmospheric pressure, for convection inside a tank.

Kernels without range checks: 273.15 K to 383.15 K.
"""

from __future__ import annotations

import math

from vaporwright.foundation.constants import ZERO_CELSIUS_K
from vaporwright.foundation.kernels import kernel
from vaporwright.foundation.register import sourced


@kernel
@sourced("kell-1975", "equation for the density at 1 atm, 0 to 150 degC")
def liquid_density_kg_m3(temperature_K: float) -> float:
    """Density of water at 1 atm.

    Equation: a quintic in t (degC) over 1 + 0.01687985 t.
    Args: temperature_K [K]: 273.15 to 383.15, unchecked.
    Returns: density [kg/m3].
    Source: kell-1975.
    Example: greatest near 4 degC.
        >>> round(liquid_density_kg_m3(277.13), 2)
        999.97
    """
    t = temperature_K - ZERO_CELSIUS_K
    quintic = 999.83952 + t * (
        16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - 280.54253e-12 * t)))
    )
    return quintic / (1.0 + 16.87985e-3 * t)


@kernel
@sourced("kell-1975", "derivative of the same equation")
def liquid_expansion_per_K(temperature_K: float) -> float:
    """Volumetric expansion coefficient of water at 1 atm, -(d rho/dT)/rho; negative below 4 degC.

    Args: temperature_K [K]: 273.15 to 383.15, unchecked.
    Returns: coefficient [1/K].
    Source: kell-1975, differentiated.
    """
    t = temperature_K - ZERO_CELSIUS_K
    quintic = 999.83952 + t * (
        16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - 280.54253e-12 * t)))
    )
    slope = 16.945176 + t * (
        -2.0 * 7.9870401e-3 + t * (-3.0 * 46.170461e-6 + t * (4.0 * 105.56302e-9 - 5.0 * 280.54253e-12 * t))
    )
    return 16.87985e-3 / (1.0 + 16.87985e-3 * t) - slope / quintic


@kernel
@sourced("iapws-sr6-08", "viscosity, section 3")
def liquid_viscosity_Pa_s(temperature_K: float) -> float:
    """Dynamic viscosity of water at 0.1 MPa.

    Equation: 1e-6 sum a_i (T/300)^b_i.
    Args: temperature_K [K]: 253.15 to 383.15, unchecked.
    Returns: viscosity [Pa s].
    Source: iapws-sr6-08.
    """
    x = math.log(temperature_K / 300.0)
    cold = 61.131 * math.exp(-19.6 * x) + 0.45903 * math.exp(-40.0 * x)
    return 1.0e-6 * (280.68 * math.exp(-1.9 * x) + 511.45 * math.exp(-7.7 * x) + cold)


@kernel
@sourced("iapws-sr6-08", "thermal conductivity, section 3")
def liquid_conductivity_W_mK(temperature_K: float) -> float:
    """Thermal conductivity of water at 0.1 MPa.

    Equation: sum c_i (T/300)^d_i.
    Args: temperature_K [K]: 253.15 to 383.15, unchecked.
    Returns: conductivity [W/(m K)].
    Source: iapws-sr6-08.
    """
    x = math.log(temperature_K / 300.0)
    rising = 1.6630 * math.exp(-1.15 * x) + 1.1567 * math.exp(-6.0 * x)
    return rising - 1.7781 * math.exp(-3.4 * x) - 0.432115 * math.exp(-7.6 * x)
