"""Transport properties against the verification tables of the releases; the film on a cylinder against
textbooks."""

from __future__ import annotations

import math

import pytest

from support import verifies
from vaporwright.properties.water_films import (
    horizontal_cylinder_nusselt_number,
    immersed_cylinder_coefficient_W_m2K,
    surface_tension_N_m,
    thermal_conductivity_W_mK,
    viscosity_Pa_s,
)

# IAPWS R12-08 table 4 (critical factor 1), read in a stored copy of a document quoting it. K, kg/m3, uPa s
VISCOSITY_TABLE_4 = [
    (298.15, 998.0, 889.735100),
    (298.15, 1200.0, 1437.649467),
    (373.15, 1000.0, 307.883622),
    (433.15, 1.0, 14.538324),
    (433.15, 1000.0, 217.685358),
    (873.15, 1.0, 32.619287),
    (873.15, 100.0, 35.802262),
    (873.15, 600.0, 77.430195),
    (1173.15, 1.0, 44.217245),
    (1173.15, 100.0, 47.640433),
    (1173.15, 400.0, 64.154608),
]

# IAPWS R15-11 table 4 (critical enhancement 0), from memory. K, kg/m3, mW/(m K)
CONDUCTIVITY_TABLE_4 = [
    (298.15, 0.0, 18.4341883),
    (298.15, 998.0, 607.712868),
    (298.15, 1200.0, 799.038144),
    (873.15, 0.0, 79.1034659),
]

# IAPWS R1-76 table 1, column of the equation, from memory. degC, mN/m
SURFACE_TENSION_TABLE = [
    (20.0, 72.74),
    (25.0, 71.97),
    (50.0, 67.94),
    (100.0, 58.91),
    (150.0, 48.74),
    (200.0, 37.67),
]


@verifies("properties.water_films.viscosity_Pa_s")
@pytest.mark.parametrize(("kelvin", "density", "micropascal_s"), VISCOSITY_TABLE_4)
def test_viscosity_verification_values(kelvin: float, density: float, micropascal_s: float) -> None:
    assert viscosity_Pa_s(kelvin, density) * 1e6 == pytest.approx(micropascal_s, abs=6e-7)


@verifies("properties.water_films.thermal_conductivity_W_mK")
@pytest.mark.parametrize(("kelvin", "density", "milliwatt"), CONDUCTIVITY_TABLE_4)
def test_conductivity_verification_values(kelvin: float, density: float, milliwatt: float) -> None:
    assert thermal_conductivity_W_mK(kelvin, density) * 1e3 == pytest.approx(milliwatt, rel=1e-9, abs=5.1e-7)


@verifies("properties.water_films.surface_tension_N_m")
@pytest.mark.parametrize(("celsius", "millinewton"), SURFACE_TENSION_TABLE)
def test_surface_tension_table(celsius: float, millinewton: float) -> None:
    assert surface_tension_N_m(celsius + 273.15) * 1e3 == pytest.approx(millinewton, abs=0.0051)


@verifies("properties.water_films.horizontal_cylinder_nusselt_number")
def test_hot_pipe_in_air() -> None:
    """Cengel, Heat and Mass Transfer, example 9-1 (read in a stored copy quoting it): 8 cm pipe at 70 degC in
    air of 20 degC, Ra 1.869e6, Pr 0.7241, Nu 17.40; with k 0.02699 h 5.869 W/(m2 K), 443 W from 6 m."""
    nusselt = horizontal_cylinder_nusselt_number(1.869e6, 0.7241)
    assert nusselt == pytest.approx(17.40, abs=0.01)
    coefficient = nusselt * 0.02699 / 0.08
    assert coefficient == pytest.approx(5.869, abs=0.003)
    assert coefficient * math.pi * 0.08 * 6.0 * 50.0 == pytest.approx(443.0, abs=0.5)


@verifies("properties.water_films.immersed_cylinder_coefficient_W_m2K")
def test_immersion_heater_in_water() -> None:
    """Som, Introduction to Heat Transfer, example 8.8 (inputs and first trial read in a stored copy): 8 mm
    rod, 300 mm, 450 W, water at 20 degC, surface found near 64 degC, that is h = 450 W / (pi 0.008 m 0.3 m
    44 K) = 1356 W/(m2 K). The example rounds its temperature to a kelvin (2.3 %) and its properties to two
    or three digits."""
    coefficient = immersed_cylinder_coefficient_W_m2K(64.0 + 273.15, 20.0 + 273.15, 0.008)
    assert coefficient == pytest.approx(1356.0, rel=0.023)
