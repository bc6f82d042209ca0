"""IAPWS-IF97 against its own verification tables and saturated states computed with another library."""

from __future__ import annotations

import pytest

from support import verifies
from vaporwright.properties.steam import (
    compressed_liquid,
    latent_heat_J_kg,
    saturated_liquid,
    saturated_steam,
    saturated_water,
    superheated_steam,
)
from vaporwright.properties.water import saturation_pressure_Pa, saturation_temperature_K
from vaporwright.properties.water_films import liquid_film

# IAPWS R7-97(2012) table 5: region 1, from memory; cases if97_T5_300K_3MPa, if97_T5_300K_80MPa,
# if97_T5_500K_3MPa. K, MPa, v m3/kg, h kJ/kg, s kJ/(kg K), cp kJ/(kg K)
TABLE_5 = [
    (300.0, 3.0, 0.100215168e-2, 0.115331273e3, 0.392294792, 0.417301218e1),
    (300.0, 80.0, 0.971180894e-3, 0.184142828e3, 0.368563852, 0.401008987e1),
    (500.0, 3.0, 0.120241800e-2, 0.975542239e3, 0.258041912e1, 0.465580682e1),
]

# IAPWS R7-97(2012) table 15: region 2, from memory
TABLE_15 = [
    (300.0, 0.0035, 0.394913866e2, 0.254991145e4, 0.852238967e1, 0.191300162e1),
    (700.0, 0.0035, 0.923015898e2, 0.333568375e4, 0.101749996e2, 0.208141274e1),
    (700.0, 30.0, 0.542946619e-2, 0.263149474e4, 0.517540298e1, 0.103505092e2),
]

# Saturated states, cases if97_sat_20C to if97_sat_90C: IAPWS R7-97, computed with a library. degC, kPa,
# kJ/kg, kg/m3 liquid, kJ/(kg K) liquid, Pa s liquid, W/(m K) liquid, kg/m3 steam.
SATURATED = [
    (20, 2.33921, 2453.55, 998.161, 4.1851, 0.00100163, 0.59795, 0.017313),
    (25, 3.16975, 2441.706, 997.004, 4.18218, 0.00089004, 0.60646, 0.023073),
    (30, 4.24669, 2429.839, 995.609, 4.18028, 0.00079722, 0.61434, 0.030412),
    (40, 7.38443, 2406.001, 992.183, 4.17878, 0.00065272, 0.62845, 0.051237),
    (50, 12.35127, 2381.974, 988.009, 4.17976, 0.0005465, 0.64059, 0.08314),
    (65, 25.0411, 2345.432, 980.532, 4.18534, 0.00043289, 0.65555, 0.161451),
    (75, 38.59536, 2320.629, 974.829, 4.19168, 0.00037741, 0.66354, 0.242185),
    (80, 47.41472, 2308.066, 971.779, 4.19563, 0.00035404, 0.66698, 0.293663),
    (85, 57.86745, 2295.38, 968.603, 4.2001, 0.00033307, 0.67006, 0.353865),
    (90, 70.18236, 2282.56, 965.304, 4.20509, 0.00031417, 0.67278, 0.423882),
]

PRINTED = 6e-9  # nine printed digits: half of the last, relative, for mantissas from 0.1


@verifies("properties.steam.compressed_liquid")
@pytest.mark.parametrize(("kelvin", "megapascal", "v", "h", "s", "cp"), TABLE_5)
def test_region_1_verification_values(
    kelvin: float, megapascal: float, v: float, h: float, s: float, cp: float
) -> None:
    state = compressed_liquid(kelvin, megapascal * 1e6)
    assert state.specific_volume_m3_kg == pytest.approx(v, rel=PRINTED)
    assert state.enthalpy_J_kg == pytest.approx(h * 1e3, rel=PRINTED)
    assert state.entropy_J_kgK == pytest.approx(s * 1e3, rel=PRINTED)
    assert state.heat_capacity_J_kgK == pytest.approx(cp * 1e3, rel=PRINTED)


@verifies("properties.steam.superheated_steam")
@pytest.mark.parametrize(("kelvin", "megapascal", "v", "h", "s", "cp"), TABLE_15)
def test_region_2_verification_values(
    kelvin: float, megapascal: float, v: float, h: float, s: float, cp: float
) -> None:
    state = superheated_steam(kelvin, megapascal * 1e6)
    assert state.specific_volume_m3_kg == pytest.approx(v, rel=PRINTED)
    assert state.enthalpy_J_kg == pytest.approx(h * 1e3, rel=PRINTED)
    assert state.entropy_J_kgK == pytest.approx(s * 1e3, rel=PRINTED)
    assert state.heat_capacity_J_kgK == pytest.approx(cp * 1e3, rel=PRINTED)


@verifies(
    "properties.steam.saturated_water",
    "properties.steam.saturated_liquid",
    "properties.steam.saturated_steam",
    "properties.steam.latent_heat_J_kg",
    "properties.water_films.liquid_film",
)
@pytest.mark.parametrize(("celsius", "kilopascal", "hfg", "rho_l", "cp", "mu", "k", "rho_v"), SATURATED)
def test_saturated_states(
    celsius: float,
    kilopascal: float,
    hfg: float,
    rho_l: float,
    cp: float,
    mu: float,
    k: float,
    rho_v: float,
) -> None:
    """Tolerances as the cases state them: p 0.05 %, latent heat 0.1 %, densities 0.05 %, cp 0.2 %, mu and
    k 1 %."""
    temperature_K = celsius + 273.15
    both, film = saturated_water(temperature_K), liquid_film(temperature_K)
    assert both.pressure_Pa == pytest.approx(kilopascal * 1e3, rel=5e-4)
    assert both.latent_heat_J_kg == pytest.approx(hfg * 1e3, rel=1e-3)
    assert latent_heat_J_kg(temperature_K) == pytest.approx(hfg * 1e3, rel=1e-3)
    assert both.liquid_density_kg_m3 == pytest.approx(rho_l, rel=5e-4)
    assert both.steam_density_kg_m3 == pytest.approx(rho_v, rel=5e-4)
    assert 1.0 / saturated_liquid(temperature_K).specific_volume_m3_kg == pytest.approx(rho_l, rel=5e-4)
    assert 1.0 / saturated_steam(temperature_K).specific_volume_m3_kg == pytest.approx(rho_v, rel=5e-4)
    assert film.heat_capacity_J_kgK == pytest.approx(cp * 1e3, rel=2e-3)
    assert film.viscosity_Pa_s == pytest.approx(mu, rel=1e-2)
    assert film.conductivity_W_mK == pytest.approx(k, rel=1e-2)


@verifies("properties.water.saturation_pressure_Pa", "properties.water.saturation_temperature_K")
def test_region_4_verification_values() -> None:
    """IAPWS R7-97(2012) tables 35 and 36, from memory; cases if97_T35_psat_500K, if97_T36_Tsat_0.1MPa,
    _1MPa."""
    assert saturation_pressure_Pa(500.0) == pytest.approx(2.63889776e6, rel=1e-8)
    assert saturation_temperature_K(0.1e6) == pytest.approx(372.755919, rel=1e-8)
    assert saturation_temperature_K(1.0e6) == pytest.approx(453.035632, rel=1e-8)
