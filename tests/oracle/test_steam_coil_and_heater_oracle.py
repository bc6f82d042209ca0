"""Coil and heater against a chain of resistances written apart, with CoolProp's properties and SciPy's
root finder."""

from __future__ import annotations

import math

import pytest
from CoolProp import CoolProp
from scipy.optimize import brentq

from support import verifies
from vaporwright.equipment.electric_heater import rate_electric_heater
from vaporwright.equipment.steam_coil import rate_steam_coil
from vaporwright.properties.water_films import immersed_cylinder_coefficient_W_m2K

# CoolProp's conductivity with critical enhancement and IAPWS-95 heat capacities differ by up to 0.2 % from
# the properties used here; the films pass on about that much.
AGREEMENT = 2.5e-3


def _water(output: str, temperature_K: float, quality: float = 0.0) -> float:
    return float(CoolProp.PropsSI(output, "T", temperature_K, "Q", quality, "HEOS::Water"))


def _outside(surface_K: float, bath_K: float, diameter_m: float) -> float:
    mean_K = (surface_K + bath_K) / 2
    kinematic = _water("V", mean_K) / _water("D", mean_K)
    prandtl = _water("Prandtl", mean_K)
    grashof = 9.80665 * _water("isobaric_expansion_coefficient", mean_K) * (surface_K - bath_K) * diameter_m**3
    rayleigh = grashof / kinematic**2 * prandtl
    root = 0.6 + 0.387 * rayleigh ** (1 / 6) / (1 + (0.559 / prandtl) ** 0.5625) ** 0.2962963
    return root**2 * _water("L", mean_K) / diameter_m


def _inside(steam_K: float, wall_K: float, diameter_m: float) -> float:
    mean_K, drop_K = (steam_K + wall_K) / 2, steam_K - wall_K
    latent = _water("H", steam_K, 1) - _water("H", steam_K, 0) + 3 / 8 * _water("C", mean_K) * drop_K
    liquid, vapour = _water("D", mean_K), _water("D", steam_K, 1)
    group = 9.80665 * liquid * (liquid - vapour) * _water("L", mean_K) ** 3 * latent
    return 0.555 * (group / (_water("V", mean_K) * diameter_m * drop_K)) ** 0.25


@verifies("properties.water_films.immersed_cylinder_coefficient_W_m2K")
@pytest.mark.parametrize(
    ("surface_C", "bath_C", "diameter_m"),
    [(40, 20, 0.012), (75, 65, 0.033), (110, 60, 0.05), (150, 90, 0.006)],
)
def test_film_in_still_water(surface_C: float, bath_C: float, diameter_m: float) -> None:
    surface_K, bath_K = surface_C + 273.15, bath_C + 273.15
    film = immersed_cylinder_coefficient_W_m2K(surface_K, bath_K, diameter_m)
    assert film == pytest.approx(_outside(surface_K, bath_K, diameter_m), rel=AGREEMENT)


@verifies("equipment.steam_coil.rate_steam_coil")
@pytest.mark.parametrize(
    ("bath_C", "pressure_Pa", "outer_m", "wall_m", "conductivity", "fouling", "agitation"),
    [
        (60.0, 170e3, 0.0334, 0.0028, 16.0, 0.0, 1.0),
        (60.0, 170e3, 0.0334, 0.0034, 50.0, 0.00035, 1.0),
        (20.0, 800e3, 0.0267, 0.0009, 20.0, 0.0001, 2.0),
        (85.0, 125e3, 0.00635, 0.00064, 0.2, 0.0, 1.0),
        (10.0, 1.1e6, 0.06, 0.004, 50.0, 0.001, 1.0),
    ],
)
def test_coil(
    bath_C: float,
    pressure_Pa: float,
    outer_m: float,
    wall_m: float,
    conductivity: float,
    fouling: float,
    agitation: float,
) -> None:
    bath_K, steam_K = bath_C + 273.15, float(CoolProp.PropsSI("T", "P", pressure_Pa, "Q", 0, "HEOS::Water"))
    length_m, inner_m = 12.0, outer_m - 2 * wall_m
    inner_area, outer_area = math.pi * inner_m * length_m, math.pi * outer_m * length_m

    def heat_in(surface_K: float) -> float:
        """Heat that steam at steam_K sends to the wetted surface through film, wall and fouling."""
        layers = fouling / outer_area + math.log(outer_m / inner_m) / (2 * math.pi * conductivity * length_m)

        def surplus(wall_K: float) -> float:
            return _inside(steam_K, wall_K, inner_m) * inner_area * (steam_K - wall_K) - (wall_K - surface_K) / layers

        wall_K = brentq(surplus, surface_K, steam_K - 1e-11, xtol=1e-10)
        return float((wall_K - surface_K) / layers)

    def excess(surface_K: float) -> float:
        out = agitation * _outside(surface_K, bath_K, outer_m) * outer_area * (surface_K - bath_K)
        return out - heat_in(surface_K)

    surface_K = float(brentq(excess, bath_K + 1e-6, steam_K - 0.01, xtol=1e-8))
    rating = rate_steam_coil(
        bath_temperature_K=bath_K,
        steam_pressure_Pa=pressure_Pa,
        tube_outer_diameter_m=outer_m,
        tube_wall_thickness_m=wall_m,
        wall_conductivity_W_mK=conductivity,
        tube_length_m=length_m,
        fouling_resistance_m2K_W=fouling,
        agitation_multiplier=agitation,
    )
    heat_W = heat_in(surface_K)
    latent = _water("H", steam_K, 1) - _water("H", steam_K, 0)
    assert rating.heat_W == pytest.approx(heat_W, rel=AGREEMENT)
    assert rating.wetted_surface_temperature_K == pytest.approx(surface_K, abs=0.2)
    assert rating.steam_flow_kg_s == pytest.approx(heat_W / latent, rel=AGREEMENT)
    assert rating.coil_temperature_K == pytest.approx(steam_K, abs=0.02)


@verifies("equipment.electric_heater.rate_electric_heater")
@pytest.mark.parametrize(
    ("watt_density", "bath_C", "diameter_m"), [(8e3, 70, 0.0121), (28e3, 65, 0.0121), (45e3, 15, 0.008)]
)
def test_sheath(watt_density: float, bath_C: float, diameter_m: float) -> None:
    bath_K = bath_C + 273.15
    surface_K = brentq(
        lambda trial_K: _outside(trial_K, bath_K, diameter_m) * (trial_K - bath_K) - watt_density,
        bath_K + 1e-6,
        500.0,
        xtol=1e-8,
    )
    rating = rate_electric_heater(
        rated_power_W=watt_density * 0.5,
        rated_voltage_V=480.0,
        supply_voltage_V=480.0,
        phases=3,
        sheath_area_m2=0.5,
        sheath_diameter_m=diameter_m,
        bath_temperature_K=bath_K,
        fouling_resistance_m2K_W=2e-4,
        coating_resistance_m2K_W=1e-4,
    )
    assert rating.surface_temperature_K - bath_K == pytest.approx(surface_K - bath_K, rel=AGREEMENT)
    assert rating.sheath_temperature_K - rating.surface_temperature_K == pytest.approx(watt_density * 3e-4)
