"""Whole units against what one practitioner describes and what the trade computes: common practice, no source."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from invented_unit import BTU_H, BURNER, CFM, FOOT, GPM, HEATER, GALLON_PER_HOUR_kg_s, fahrenheit, unit
from vaporwright.equipment.gas_burner import GasBurnerRating
from vaporwright.equipment.tower import CounterflowRating, rate_counterflow
from vaporwright.foundation.solvers import find_root
from vaporwright.properties.moist_air import humidity_ratio_kg_kg, specific_volume_m3_kg
from vaporwright.properties.water import liquid_enthalpy_J_kg
from vaporwright.unit.balance import conditions_of, settle
from vaporwright.unit.job import SEASONS, build_job

JOB = {"duty.volume": 6000.0 * 3.785411784e-3 / (365.25 / 12.0 * 86400.0), "choices.set_point": fahrenheit(160.0)}


@pytest.mark.parametrize("tube_ft", [40.0, 50.0, 60.0])
@pytest.mark.parametrize("season", SEASONS)
def test_burner_of_550_000_btu_h_drives_36_to_46_gallons_an_hour(season: str, tube_ft: float) -> None:
    # 550,000 Btu/h gross on natural gas, 45 gal/min spray, tank 7 x 4 x 3 ft, 160 degF at most: rated 40 gal/h.
    burner = replace(BURNER, tube_length_m=tube_ft * FOOT)
    result = settle(unit(heat_source=burner), conditions_of(build_job(JOB), season))
    assert result.limit == "heat"
    assert 36.0 < result.evaporation_kg_s / GALLON_PER_HOUR_kg_s < 46.0
    assert isinstance(result.heat.detail, GasBurnerRating)
    assert 0.72 < result.heat.efficiency < 0.85  # computed from the stack, not put in
    assert result.settling_temperature_K < fahrenheit(160.0)


# Unit A of the trade: 50 gal/min, 2,200 cfm at 70 degF and 50 %, sea level (computed once with a separate solver).
AIR_K = fahrenheit(70.0)
HUMIDITY = humidity_ratio_kg_kg(AIR_K, 0.5, 101325.0)
DRY_AIR_kg_s = 2200.0 * CFM / specific_volume_m3_kg(AIR_K, HUMIDITY, 101325.0)
WATER_kg_s = 50.0 * GPM * 985.0


def unit_a(tank_K: float, merkel: float) -> CounterflowRating:
    return rate_counterflow(
        water_temperature_K=tank_K,
        water_flow_kg_s=WATER_kg_s,
        air_temperature_K=AIR_K,
        air_humidity_ratio_kg_kg=HUMIDITY,
        dry_air_flow_kg_s=DRY_AIR_kg_s,
        pressure_Pa=101325.0,
        merkel_number=merkel,
    )


def settled(gal_h: float, merkel: float) -> tuple[float, CounterflowRating]:
    def short(tank_K: float) -> float:
        return unit_a(tank_K, merkel).evaporation_kg_s / GALLON_PER_HOUR_kg_s - gal_h

    tank_K = find_root(short, 300.0, 360.0, tolerance=1e-4, name="tank")
    return tank_K, unit_a(tank_K, merkel)


@pytest.mark.parametrize(("merkel", "degF"), [(0.10, 145), (0.15, 135), (0.20, 128), (0.30, 119), (0.50, 110)])
def test_better_fill_settles_colder(merkel: float, degF: float) -> None:
    assert settled(36.0, merkel)[0] * 1.8 - 459.67 == pytest.approx(degF, abs=1.0)


@pytest.mark.parametrize(("gal_h", "degF", "btu_h"), [(20, 115, 210e3), (36, 135, 367e3), (55, 151, 550e3)])
def test_rate_temperature_and_heat_belong_together(gal_h: float, degF: float, btu_h: float) -> None:
    tank_K, rating = settled(gal_h, 0.15)
    assert tank_K * 1.8 - 459.67 == pytest.approx(degF, abs=1.0)
    beyond_feed_W = rating.heat_to_air_W - rating.evaporation_kg_s * liquid_enthalpy_J_kg(fahrenheit(60.0))
    assert beyond_feed_W / BTU_H == pytest.approx(btu_h, rel=0.03)


def test_spray_range_and_the_quick_check() -> None:
    tank_K, rating = settled(36.0, 0.15)
    range_degF = (tank_K - rating.water_out_temperature_K) * 1.8
    assert range_degF == pytest.approx(14.0, abs=0.7)
    assert 50.0 * range_degF / 21.0 == pytest.approx(36.0, rel=0.1)


def test_winter_air_takes_more_heat_per_gallon() -> None:
    # About 9,900 Btu a gallon into 90 degF air, 10,800 at 20 degF, at a heat-limited rate.
    def per_gallon(air_F: float, relative: float) -> float:
        air_K = fahrenheit(air_F)
        humidity = humidity_ratio_kg_kg(air_K, relative, 101325.0)
        dry_air = 2200.0 * CFM / specific_volume_m3_kg(air_K, humidity, 101325.0)

        def rating(tank_K: float) -> CounterflowRating:
            return rate_counterflow(
                water_temperature_K=tank_K,
                water_flow_kg_s=WATER_kg_s,
                air_temperature_K=air_K,
                air_humidity_ratio_kg_kg=humidity,
                dry_air_flow_kg_s=dry_air,
                pressure_Pa=101325.0,
                merkel_number=0.15,
            )

        tank_K = find_root(
            lambda t: rating(t).evaporation_kg_s / GALLON_PER_HOUR_kg_s - 36.0, 302.0, 360.0, tolerance=1e-4, name="t"
        )
        got = rating(tank_K)
        heat_W = got.heat_to_air_W - got.evaporation_kg_s * liquid_enthalpy_J_kg(fahrenheit(60.0))
        return heat_W / BTU_H / (got.evaporation_kg_s / GALLON_PER_HOUR_kg_s)

    assert per_gallon(90.0, 0.5) == pytest.approx(9900.0, rel=0.03)
    assert per_gallon(20.0, 0.7) == pytest.approx(10800.0, rel=0.03)


def test_recirculated_exhaust_costs_a_tower_limited_unit_two_to_four_per_cent() -> None:
    small = unit(merkel=0.6, heat_source=replace(BURNER, gross_input_W=BURNER.gross_input_W * 1.6, tube_length_m=18.0))
    rates = {}
    for share in (0.0, 0.10):
        job = build_job({**JOB, "site.exhaust_recirculation": share, "choices.set_point": fahrenheit(135.0)})
        result = settle(small, conditions_of(job, "summer"))
        assert result.limit == "tower"
        rates[share] = result.evaporation_kg_s
    assert 0.01 < 1.0 - rates[0.10] / rates[0.0] < 0.05


def test_gallons_per_100_000_btu_gross() -> None:
    # About 7.3 gal per 100,000 Btu gross.
    result = settle(unit(), conditions_of(build_job(JOB), "winter"))
    gallons = result.evaporation_kg_s / GALLON_PER_HOUR_kg_s
    assert gallons / (result.fuel_or_power_W / BTU_H / 1e5) == pytest.approx(7.3, rel=0.1)


def test_energy_of_finishing_trade_journal() -> None:
    # Question-and-answer column of a finishing trade journal (2008): latent 8,500 Btu a gallon, in practice 9,500.
    result = settle(unit(heat_source=HEATER), conditions_of(build_job(JOB), "summer"))
    per_gallon = result.heat_W / BTU_H / (result.evaporation_kg_s / GALLON_PER_HOUR_kg_s)
    assert per_gallon == pytest.approx(9500.0, rel=0.07)


EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
AGREED = (
    "evaporation_kg_s",
    "settling_temperature_K",
    "limit",
    "tower_evaporation_kg_s",
    "surface_evaporation_kg_s",
    "heat_W",
    "fuel_or_power_W",
)


@pytest.mark.parametrize("name", ["tumbling_effluent_gas", "nickel_rinse_electric", "coolant_wash_steam"])
def test_demo_enquiries_end_to_end(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    from vaporwright.cli.main import main

    assert main(["size", str(EXAMPLES / f"{name}.toml"), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    for season in SEASONS:
        capacity = answer["capacity"][season]
        assert all(key in capacity for key in AGREED)
        assert abs(capacity["energy"]["closing_W"]) < 1e-4 * capacity["heat_W"]
        parts = capacity["tower_evaporation_kg_s"] + capacity["surface_evaporation_kg_s"]
        assert capacity["evaporation_kg_s"] == pytest.approx(parts, rel=1e-12)
        assert capacity["feed_kg_s"] == pytest.approx(parts + capacity["drift_kg_s"], rel=1e-12)
        assert capacity["evaporation_kg_s"] > answer["duty"]["required_evaporation_kg_s"]
    assert answer["assumptions"]
    moves = [question["moves_kg_s"] for question in answer["questions"]]
    assert moves == sorted(moves, reverse=True)
    assert moves[0] > 0.0
