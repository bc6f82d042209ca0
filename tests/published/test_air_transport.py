"""Transport properties of air, vapour and water against printed values."""

import pytest

from support import verifies
from vaporwright.properties import air_transport as air


@verifies("properties.air_transport.vapour_diffusivity_m2_s")
@pytest.mark.parametrize("celsius", [0.0, 10.0, 20.0, 30.0, 40.0])
def test_diffusivity_against_hall_and_pruppacher(celsius):
    # W.D. Hall, H.R. Pruppacher, J. Atmos. Sci. 33 (1976) 1995: D = 0.211 cm2/s (T/273.15)^1.94 (1013.25
    # mbar/p), stated for -40 to 40 degC; from memory. Agreement of the two fits: 1.5 %.
    kelvin = celsius + 273.15
    expected = 0.211e-4 * (kelvin / 273.15) ** 1.94
    assert air.vapour_diffusivity_m2_s(kelvin, 101325.0) == pytest.approx(expected, rel=0.015)
    assert air.vapour_diffusivity_m2_s(kelvin, 80000.0) == pytest.approx(expected * 101325.0 / 80000.0, rel=0.015)


@verifies(
    "properties.air_transport.dry_air_viscosity_Pa_s",
    "properties.air_transport.dry_air_conductivity_W_mK",
)
def test_dry_air_against_standard_atmosphere_table():
    # U.S. Standard Atmosphere 1976, sea level, 288.15 K: mu = 1.7894e-5 Pa s, k = 0.025326 W/(m K); from
    # memory.
    assert air.dry_air_viscosity_Pa_s(288.15) == pytest.approx(1.7894e-5, abs=0.0001e-5)
    assert air.dry_air_conductivity_W_mK(288.15) == pytest.approx(0.025326, abs=0.00001)


@verifies("properties.air_transport.dry_air_prandtl")
@pytest.mark.parametrize(("kelvin", "expected"), [(300.0, 0.707), (350.0, 0.700), (400.0, 0.690)])
def test_prandtl_against_textbook_table(kelvin, expected):
    # Incropera and DeWitt, table A.4, air at 1 atm; from memory. Conductivities of the two differ by 1.5 %.
    assert air.dry_air_prandtl(kelvin) == pytest.approx(expected, rel=0.015)
