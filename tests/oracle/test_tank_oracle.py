"""Tank losses against a separate, slow solution with SciPy and CoolProp's properties."""

import math

import pytest
from CoolProp.CoolProp import HAPropsSI, PropsSI
from scipy.optimize import brentq

from support import verifies
from vaporwright.equipment.tank import Tank, tank_losses, tank_rates
from vaporwright.equipment.tank_walls import FACING_DOWN, FACING_UP, UPRIGHT, panel_loss, pipe_loss
from vaporwright.foundation.kernels import compiled

GRAVITY = 9.80665
STEFAN = 5.670374419e-8


def slow_surface(liquid_K, room_K, ratio, pressure_Pa, length_m, width_m, speed_m_s, activity):
    """(evaporation kg/(s m2), convection, radiation W/m2, skin K) by the same physics, written anew on
    CoolProp."""

    def water(name):
        return PropsSI(name, "T", liquid_K, "P", max(pressure_Pa, 2e5), "Water")

    def air(name, kelvin, fraction):
        ratio_here = 0.621945 * fraction / (1.0 - fraction)
        if name == "rho":
            value = (1.0 + ratio_here) / HAPropsSI("Vda", "T", kelvin, "P", pressure_Pa, "W", ratio_here)
        elif name == "cp":
            value = HAPropsSI("cp_ha", "T", kelvin, "P", pressure_Pa, "W", ratio_here)
        else:
            value = HAPropsSI(name, "T", kelvin, "P", pressure_Pa, "W", ratio_here)
        return value

    kinematic_liquid = water("V") / water("D")
    thermal_liquid = water("L") / (water("D") * water("C"))
    group = GRAVITY * water("isobaric_expansion_coefficient") / (kinematic_liquid * thermal_liquid)
    liquid_film = 0.156 * water("L") * group ** (1 / 3)
    room = ratio / (0.621945 + ratio)

    def outward(skin_K):
        saturated = activity * HAPropsSI("psi_w", "T", skin_K, "P", pressure_Pa, "R", 1.0)
        mean_K, mean = (skin_K + room_K) / 2, (saturated + room) / 2
        rho = air("rho", mean_K, mean)
        nu = air("mu", mean_K, mean) / rho
        k, cp = air("k", mean_K, mean), air("cp", mean_K, mean)
        diffusivity = 0.211e-4 * (mean_K / 273.15) ** 1.94 * 101325.0 / pressure_Pa  # Hall and Pruppacher
        natural_m = length_m * width_m / (2 * (length_m + width_m))
        swept_m = math.sqrt(length_m * width_m)
        lift = (air("rho", room_K, room) - air("rho", skin_K, saturated)) / rho

        def per_m(number):
            rayleigh = GRAVITY * lift * natural_m**3 / nu**2 * number
            natural = max(0.54 * rayleigh**0.25, 0.15 * rayleigh ** (1 / 3)) if rayleigh > 0 else 1.0
            reynolds = speed_m_s * swept_m / nu
            forced = 0.0
            if reynolds > 0:
                laminar = 0.664 * reynolds**0.5 * number ** (1 / 3)
                turbulent = 0.037 * reynolds**0.8 * number / (1 + 2.443 * reynolds**-0.1 * (number ** (2 / 3) - 1))
                forced = math.hypot(laminar, turbulent)
            return natural / natural_m + forced / swept_m

        heat = k * per_m(nu * rho * cp / k)
        mass = diffusivity * per_m(nu / diffusivity)
        evaporation = 0.018015268 * pressure_Pa / (8.314462618 * mean_K) * mass * math.log((1 - room) / (1 - saturated))
        blowing = evaporation * 1880.0 / heat
        convection = heat * (skin_K - room_K) * (blowing / math.expm1(blowing) if blowing else 1.0)
        return evaporation, convection, 0.95 * STEFAN * (skin_K**4 - room_K**4)

    def unbalanced(skin_K):
        evaporation, convection, radiation = outward(skin_K)
        vapour = PropsSI("H", "T", skin_K, "Q", 1, "Water") - water("H")
        drop = liquid_K - skin_K
        return liquid_film * drop * abs(drop) ** (1 / 3) - evaporation * vapour - convection - radiation

    skin = brentq(unbalanced, liquid_K - 25.0, min(liquid_K + 5.0, 372.0), xtol=1e-8)
    return (*outward(skin), skin)


def slow_panel(inner_K, air_K, resistance, length, nusselt, emissivity=0.9):
    """Heat per area [W/m2] and outer temperature through a panel, on CoolProp's dry air; nusselt(rayleigh,
    prandtl)."""

    def outside(outer_K):
        mean_K = (outer_K + air_K) / 2
        rho, mu, k, cp = (PropsSI(name, "T", mean_K, "P", 101325.0, "Air") for name in ("D", "V", "L", "C"))
        rayleigh = GRAVITY * (outer_K - air_K) / mean_K * length**3 / (mu / rho) / (k / rho / cp)
        convection = nusselt(rayleigh, mu * cp / k) * k / length * (outer_K - air_K)
        return convection + emissivity * STEFAN * (outer_K**4 - air_K**4)

    outer = brentq(lambda t: (inner_K - t) / resistance - outside(t), air_K, inner_K, xtol=1e-9)
    return (inner_K - outer) / resistance, outer


def churchill_chu(first, corner):
    def nusselt(rayleigh, prandtl):
        return (first + 0.387 * rayleigh ** (1 / 6) / (1 + (corner / prandtl) ** (9 / 16)) ** (8 / 27)) ** 2

    return nusselt


def facing_up(rayleigh, _):
    return max(0.54 * rayleigh**0.25, 0.15 * rayleigh ** (1 / 3))


def facing_down(rayleigh, _):
    return 0.27 * rayleigh**0.25


CONDITIONS = [
    (313.15, 293.15, 0.0073, 101325.0, 0.0, 1.0),
    (338.15, 298.15, 0.0100, 101325.0, 0.1, 1.0),
    (338.15, 288.15, 0.0040, 82000.0, 0.5, 0.93),
    (355.15, 293.15, 0.0073, 95000.0, 0.25, 0.85),
    (363.15, 303.15, 0.0200, 101325.0, 0.0, 1.0),
    (288.15, 303.15, 0.0060, 101325.0, 0.2, 1.0),
]


@verifies(
    "equipment.tank.tank_losses",
    "equipment.tank.tank_rates",
    "equipment.tank_surface.free_surface_losses",
    "equipment.tank_surface.free_surface_fluxes",
)
@pytest.mark.parametrize(("liquid_K", "room_K", "ratio", "pressure_Pa", "speed", "activity"), CONDITIONS)
def test_open_surface(liquid_K, room_K, ratio, pressure_Pa, speed, activity):
    tank = Tank(length_m=2.2, width_m=1.3, liquid_depth_m=0.7, wall_height_m=0.9, lid_fraction=0.4)
    losses = tank_losses(
        tank=tank,
        liquid_temperature_K=liquid_K,
        room_temperature_K=room_K,
        room_humidity_ratio_kg_kg=ratio,
        pressure_Pa=pressure_Pa,
        air_speed_m_s=speed,
        water_activity=activity,
    )
    evaporation, convection, radiation, skin_K = slow_surface(
        liquid_K, room_K, ratio, pressure_Pa, 2.2, 1.3, speed, activity
    )
    open_m2 = 2.2 * 1.3 * 0.6
    # Viscosity and conductivity of moist air differ by 2 to 3 % between the two (convection carries
    # conductivity twice, by itself and through the blowing: 4.2 % at 90 degC), the joined branches by up to 3
    # %.
    assert losses.surface_evaporation_kg_s == pytest.approx(evaporation * open_m2, rel=0.03, abs=1e-7)
    assert losses.surface.convection_W == pytest.approx(convection * open_m2, rel=0.05)
    assert losses.surface.radiation_W == pytest.approx(radiation * open_m2, rel=0.01)
    assert losses.surface.skin_temperature_K == pytest.approx(skin_K, abs=0.15)
    rates = tank_rates(liquid_K, room_K, ratio, pressure_Pa, speed, activity, tank.numbers())
    assert rates.surface_evaporation_kg_s == pytest.approx(losses.surface_evaporation_kg_s, rel=1e-12)
    assert rates.surface_vapour_enthalpy_flow_W == pytest.approx(losses.surface_vapour_enthalpy_flow_W, rel=1e-12)
    assert rates.dry_heat_W == pytest.approx(losses.dry_heat_W, rel=1e-9)


@verifies("equipment.tank.tank_rates")
def test_compiled_tank_gives_the_same():
    tank = Tank(length_m=2.2, width_m=1.3, liquid_depth_m=0.7, wall_height_m=0.9, lid_fraction=0.4)
    twin = compiled(tank_rates)
    for liquid_K, room_K, ratio, pressure_Pa, speed, activity in CONDITIONS:
        plain = tank_rates(liquid_K, room_K, ratio, pressure_Pa, speed, activity, tank.numbers())
        fast = twin(liquid_K, room_K, ratio, pressure_Pa, speed, activity, tank.numbers())
        assert tuple(fast) == pytest.approx(tuple(plain), rel=1e-9)


@verifies("equipment.tank_walls.panel_loss", "equipment.tank_walls.heat_through")
@pytest.mark.parametrize(
    ("shape", "length", "nusselt"),
    [
        (UPRIGHT, 0.9, churchill_chu(0.825, 0.492)),
        (FACING_UP, 0.45, facing_up),
        (FACING_DOWN, 0.45, facing_down),
    ],
)
@pytest.mark.parametrize("insulation_m", [0.0, 0.03, 0.1])
@pytest.mark.parametrize("liquid_K", [318.15, 366.15])
def test_panels(shape, length, nusselt, insulation_m, liquid_K):
    resistance = 1.0 / 500.0 + insulation_m / 0.045
    loss = panel_loss(
        liquid_temperature_K=liquid_K,
        room_temperature_K=293.15,
        pressure_Pa=101325.0,
        area_m2=2.0,
        size_m=length,
        shape=shape,
        resistance_m2K_W=resistance,
        emissivity=0.9,
    )
    flux, outer_K = slow_panel(liquid_K, 293.15, resistance, length, nusselt)
    assert loss.heat_W == pytest.approx(2.0 * flux, rel=0.02)
    assert loss.outer_temperature_K == pytest.approx(outer_K, abs=0.2)


@verifies("equipment.tank_walls.pipe_loss")
@pytest.mark.parametrize("insulation_m", [0.0, 0.025])
def test_pipe(insulation_m):
    # 2 in steel pipe, 60.3 mm, water at 70 degC, 3 m; resistance per outer area written out anew.
    loss = pipe_loss(
        liquid_temperature_K=343.15,
        room_temperature_K=293.15,
        pressure_Pa=101325.0,
        pipe_diameter_m=0.0603,
        length_m=3.0,
        insulation_thickness_m=insulation_m,
        insulation_conductivity_W_mK=0.04,
        emissivity=0.9,
    )
    outer_m = 0.0603 + 2 * insulation_m
    per_length = 1 / (500 * math.pi * 0.0603) + math.log(outer_m / 0.0603) / (2 * math.pi * 0.04)
    flux, outer_K = slow_panel(343.15, 293.15, per_length * math.pi * outer_m, outer_m, churchill_chu(0.60, 0.559))
    assert loss.heat_W == pytest.approx(flux * math.pi * outer_m * 3.0, rel=0.01)
    assert loss.outer_temperature_K == pytest.approx(outer_K, abs=0.2)
