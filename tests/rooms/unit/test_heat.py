"""The heat source of the unit: limits of the site, what it cannot burn or bear, and its curve."""

from __future__ import annotations

from dataclasses import replace

import pytest

from invented_unit import BTU_H, BURNER, HEATER
from vaporwright.files.catalogue_file import read_catalogue_file
from vaporwright.foundation.errors import InputError, OutOfRange
from vaporwright.unit.heat import (
    HeatCurve,
    HeatSite,
    full_input_W,
    heat_curve,
    kind_of,
    rate_heat,
    steam_for_heat_kg_s,
)

COILS = read_catalogue_file(None).heat_sources
SITE = HeatSite(
    pressure_Pa=101325.0,
    elevation_m=0.0,
    air_temperature_K=293.15,
    air_humidity_ratio_kg_kg=0.007,
    fuel="natural gas",
    excess_air_fraction=0.25,
    scale_resistance_m2K_W=0.0,
    supply_voltage_V=480.0,
    electric_limit_W=None,
    steam_gauge_pressure_Pa=1.0e5,
    steam_limit_kg_s=None,
)


def test_kinds() -> None:
    assert [kind_of(part) for part in (BURNER, HEATER, COILS["S-SS16"])] == ["gas", "electric", "steam"]


def test_a_burner_gives_input_times_the_efficiency_of_its_stack() -> None:
    rating = rate_heat(BURNER, SITE, 330.0)
    assert rating.drawn_W == pytest.approx(550_000.0 * BTU_H)
    assert rating.heat_W == pytest.approx(rating.efficiency * rating.drawn_W)
    assert rating.limit == "burner input"


def test_altitude_derates_the_burner_by_its_kind_of_draught() -> None:
    high = replace(SITE, elevation_m=2000.0, pressure_Pa=79495.0)  # ICAO standard atmosphere, table value at 2000 m
    assert full_input_W(BURNER, high) / BURNER.gross_input_W == pytest.approx(79495.0 / 101325.0, abs=0.06)
    atmospheric = replace(BURNER, fan_assisted=False)
    # 4 % for each 1000 ft: common practice of fuel gas codes
    assert full_input_W(atmospheric, high) / BURNER.gross_input_W == pytest.approx(1.0 - 0.04 * 2000.0 / 304.8, abs=0.1)
    assert rate_heat(BURNER, high, 330.0).limit == "burner input, derated for altitude"


def test_a_fuel_that_the_burner_does_not_fire_is_said() -> None:
    with pytest.raises(InputError, match="'propane' does not fire G") as caught:
        rate_heat(replace(BURNER, fuels=("natural gas",)), replace(SITE, fuel="propane"), 330.0)
    assert caught.value.key == "utilities.fuel"
    with pytest.raises(InputError, match="'none' does not fire"):
        rate_heat(BURNER, replace(SITE, fuel="none"), 330.0)


def test_electric_power_goes_with_the_square_of_the_voltage_up_to_what_the_site_spares() -> None:
    assert rate_heat(HEATER, SITE, 330.0).heat_W == pytest.approx(60e3)
    sagging = rate_heat(HEATER, replace(SITE, supply_voltage_V=432.0), 330.0)
    assert sagging.heat_W == pytest.approx(0.81 * 60e3)
    assert sagging.limit == "heater power"
    limited = rate_heat(HEATER, replace(SITE, electric_limit_W=25e3), 330.0)
    assert (limited.heat_W, limited.drawn_W, limited.limit) == (25e3, 25e3, "electric power of the site")
    assert rate_heat(HEATER, replace(SITE, electric_limit_W=99e3), 330.0).limit == "heater power"


def test_steam_is_limited_by_coil_or_supply() -> None:
    coil = COILS["S-SS16"]
    free = rate_heat(coil, SITE, 330.0)
    assert free.limit == "coil surface"
    short = rate_heat(coil, replace(SITE, steam_limit_kg_s=0.02), 330.0)
    assert short.limit == "steam supply of the site"
    assert 0.02 * 2.15e6 < short.heat_W < 0.02 * 2.45e6  # latent heat between 1 and 2 bar, steam tables
    assert short.heat_W < free.heat_W


def test_steam_above_what_the_coil_bears_is_refused() -> None:
    plastic = COILS["S-FP120"]
    with pytest.raises(InputError, match="bar gauge is above what S-FP120 bears") as caught:
        rate_heat(plastic, replace(SITE, steam_gauge_pressure_Pa=4.0e5), 330.0)
    assert caught.value.key == "utilities.steam_pressure"


def test_steam_needed_at_one_atmosphere() -> None:
    # IAPWS-IF97 saturation at 0.101325 MPa: latent heat 2256.5 kJ/kg
    assert steam_for_heat_kg_s(2256.5e3, 0.0, 101325.0) == pytest.approx(1.0, rel=1e-3)


@pytest.mark.parametrize("part", [BURNER, HEATER, COILS["S-SS40"]], ids=lambda part: kind_of(part))
def test_the_curve_stands_in_for_the_heat_source_within_two_tenths_of_a_per_cent(part: object) -> None:
    curve = heat_curve(part, SITE, 300.0, 345.0)  # type: ignore[arg-type]
    for bath_K in (300.0, 306.0, 322.5, 333.0, 345.0):
        exact = rate_heat(part, SITE, bath_K).heat_W  # type: ignore[arg-type]
        assert curve.heat_W(bath_K) == pytest.approx(exact, rel=2e-3)


def test_a_curve_is_the_parabola_through_its_three_points() -> None:
    def parabola(bath_K: float) -> float:
        return 5e4 - 30.0 * (bath_K - 300.0) + 0.7 * (bath_K - 300.0) ** 2

    curve = HeatCurve(300.0, 340.0, parabola(300.0), parabola(320.0), parabola(340.0))
    assert [curve.heat_W(bath_K) for bath_K in (295.0, 311.0, 350.0)] == pytest.approx(
        [parabola(bath_K) for bath_K in (295.0, 311.0, 350.0)]
    )
    moved = curve.through(311.0, 4e4)
    assert moved.heat_W(311.0) == pytest.approx(4e4)
    assert moved.heat_W(340.0) - curve.heat_W(340.0) == pytest.approx(4e4 - parabola(311.0))


def test_a_voltage_that_the_heater_is_not_made_for_is_named() -> None:
    with pytest.raises(OutOfRange, match="supply_voltage_V"):
        rate_heat(HEATER, replace(SITE, supply_voltage_V=690.0), 330.0)


@pytest.mark.parametrize("part", [BURNER, HEATER, COILS["S-SS40"]], ids=lambda part: kind_of(part))
def test_what_the_equipment_warns_of_passes_on_with_its_figures(part: object) -> None:
    high = replace(SITE, pressure_Pa=75e3, elevation_m=2500.0, supply_voltage_V=432.0, scale_resistance_m2K_W=5e-4)
    rating = rate_heat(part, high, 345.0)  # type: ignore[arg-type]
    assert rating.warnings
    assert rating.warnings == rating.detail.warnings
    boils = [notice for notice in rating.warnings if notice.name.startswith("boiling on")]
    # Water boils at 91.8 degC under 75 kPa (steam tables)
    assert all(notice.figures[1] == (pytest.approx(364.9, abs=0.1), "temperature") for notice in boils)
