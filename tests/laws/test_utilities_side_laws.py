"""Laws of electrical loads, condensate and room air: sums, round trips, monotony."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vaporwright.equipment import condensate, exhaust_duct, room_air
from vaporwright.equipment.electric_heater import standard_overcurrent_device_A
from vaporwright.equipment.electrical_loads import (
    HeaterLoad,
    MotorLoad,
    OtherLoad,
    Supply,
    electrical_load_table,
    feeder_largest_device_A,
    feeder_least_ampacity_A,
)
from vaporwright.foundation.errors import OutOfRange
from vaporwright.properties.moist_air import enthalpy_J_kg, saturation_humidity_ratio_kg_kg
from vaporwright.properties.water import liquid_enthalpy_J_kg

HP_W = 745.69987
SIZES = st.sampled_from([0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 5.0, 7.5, 10.0])
CURRENTS = st.lists(st.floats(0.5, 60.0), min_size=1, max_size=6)


@settings(max_examples=100, deadline=None)
@given(
    voltage_V=st.sampled_from([208.0, 240.0, 480.0, 600.0]),
    horsepowers=st.lists(SIZES, max_size=5),
    heater_W=st.floats(1e3, 150e3),
    circuits=st.integers(1, 4),
    controls_VA=st.floats(50.0, 5e3),
    continuous=st.booleans(),
)
def test_the_table_adds_up(
    voltage_V: float, horsepowers: list[float], heater_W: float, circuits: int, controls_VA: float, continuous: bool
) -> None:
    table = electrical_load_table(
        supply=Supply(voltage_V, 3),
        motors=tuple(MotorLoad(f"motor {i}", size * HP_W) for i, size in enumerate(horsepowers)),
        heaters=(HeaterLoad("heater", heater_W, circuits),),
        others=(OtherLoad("controls", controls_VA, continuous),),
    )
    assert len(table.circuits) == len(horsepowers) + circuits + 1
    assert table.running_current_A == pytest.approx(sum(circuit.current_A for circuit in table.circuits))
    heater_A = sum(circuit.current_A for circuit in table.circuits if circuit.kind == "heater")
    assert math.sqrt(3.0) * voltage_V * heater_A == pytest.approx(heater_W)
    # The feeder lies between what runs and 125 % of it, and its devices are standard sizes in order
    assert table.running_current_A <= table.feeder_least_ampacity_A * (1 + 1e-9)
    assert table.feeder_least_ampacity_A <= 1.25 * table.running_current_A * (1 + 1e-9)
    assert table.feeder_smallest_device_A == standard_overcurrent_device_A(table.feeder_least_ampacity_A)
    if table.feeder_largest_device_A is not None:
        assert table.feeder_largest_device_A >= table.feeder_smallest_device_A
    elif horsepowers:
        assert any(warning.name == "no standard feeder device between" for warning in table.warnings)
    for circuit in table.circuits:
        assert circuit.smallest_device_A >= circuit.least_ampacity_A * (1 - 1e-9)
        if circuit.largest_device_A is not None:
            assert circuit.largest_device_A >= circuit.smallest_device_A


@settings(max_examples=100, deadline=None)
@given(currents=CURRENTS, continuous_A=st.floats(0.0, 300.0), more_A=st.floats(0.01, 50.0))
def test_feeder_rises_with_every_load(currents: list[float], continuous_A: float, more_A: float) -> None:
    before = feeder_least_ampacity_A(motor_currents_A=tuple(currents), continuous_A=continuous_A)
    for index in range(len(currents)):
        raised = tuple(current + more_A if i == index else current for i, current in enumerate(currents))
        after = feeder_least_ampacity_A(motor_currents_A=raised, continuous_A=continuous_A)
        assert before + more_A * (1 - 1e-9) <= after <= before + 1.25 * more_A * (1 + 1e-9)
    shuffled = feeder_least_ampacity_A(motor_currents_A=tuple(reversed(currents)), continuous_A=continuous_A)
    assert shuffled == pytest.approx(before)


@settings(max_examples=100, deadline=None)
@given(currents=CURRENTS, other_A=st.floats(0.0, 800.0))
def test_largest_feeder_device_is_rounded_down_to_a_standard_size(currents: list[float], other_A: float) -> None:
    device = feeder_largest_device_A(motor_currents_A=tuple(currents), other_loads_A=other_A)
    largest = max(currents)
    sum_A = standard_overcurrent_device_A(2.5 * largest) + sum(currents) - largest + other_A
    assert device == standard_overcurrent_device_A(device)
    assert device <= sum_A * (1 + 1e-9)
    assert standard_overcurrent_device_A(device + 1.0) > sum_A


@settings(max_examples=100, deadline=None)
@given(
    bath_K=st.floats(283.15, 368.15),
    rise_K=st.floats(10.0, 100.0),
    share=st.floats(0.01, 1.0),
)
def test_throttled_coil_round_trip(bath_K: float, rise_K: float, share: float) -> None:
    coil = {"full_load_coil_temperature_K": min(bath_K + rise_K, 473.0), "bath_temperature_K": bath_K}
    pressure = condensate.modulated_coil_pressure_Pa(load_share=share, **coil)
    assert condensate.load_share_at_pressure(pressure_Pa=pressure, **coil) == pytest.approx(share, abs=1e-5)
    higher = condensate.modulated_coil_pressure_Pa(load_share=min(1.0, share + 0.01), **coil)
    assert higher >= pressure


@settings(max_examples=100, deadline=None)
@given(before_Pa=st.floats(2.0e5, 1.5e6), middle=st.floats(0.1, 0.9), site_Pa=st.floats(60e3, 110e3))
def test_flash_in_two_stages_leaves_less_than_in_one(before_Pa: float, middle: float, site_Pa: float) -> None:
    middle_Pa = site_Pa + middle * (before_Pa - site_Pa)
    first = condensate.flash_steam_share(before_Pa, middle_Pa)
    second = (1.0 - first) * condensate.flash_steam_share(middle_Pa, site_Pa)
    at_once = condensate.flash_steam_share(before_Pa, site_Pa)
    # Steam taken off early carries more heat, so somewhat less flashes in all
    assert 0.95 * at_once < first + second <= at_once * (1 + 1e-9)
    assert condensate.flash_steam_share(site_Pa, site_Pa) == pytest.approx(0.0, abs=1e-9)


@settings(max_examples=150, deadline=None)
@given(
    gauge_Pa=st.floats(10e3, 700e3),
    bath_K=st.floats(300.0, 365.0),
    leg_m=st.floats(0.1, 2.0),
    lift_m=st.floats(0.0, 12.0),
    return_Pa=st.floats(0.0, 100e3),
    breaker=st.booleans(),
)
def test_stall_is_where_the_pressures_meet(
    gauge_Pa: float, bath_K: float, leg_m: float, lift_m: float, return_Pa: float, breaker: bool
) -> None:
    coil_Pa = 101325.0 + gauge_Pa
    got = condensate.condensate_drain(
        condensate_flow_kg_s=0.05,
        coil_pressure_Pa=coil_Pa,
        bath_temperature_K=bath_K,
        trap_factor=2.0,
        drain_leg_m=leg_m,
        lift_m=lift_m,
        return_gauge_pressure_Pa=return_Pa,
        vacuum_breaker=breaker,
    )
    assert got.flash_steam_kg_s + got.returned_liquid_kg_s == pytest.approx(0.05)
    assert got.drains_at_full_load == (got.highest_lift_m > lift_m)
    full_Pa = (got.highest_lift_m - lift_m) * 9806.65
    if not got.drains_at_full_load:
        assert got.stalls_below_load is None
        assert any(warning.name == "coil floods at full load" for warning in got.warnings)
        return
    if got.stalls_below_load is None:
        assert got.trap_difference_Pa > 0.0
        return
    assert got.trap_difference_Pa <= 0.0
    assert got.stalls_below_load <= 1.0 + 1e-6
    # At the stall load the coil's pressure is below full pressure by just what full load had to spare
    coil_K = condensate.saturation_temperature_K(coil_Pa)
    if got.stalls_below_load >= 0.0:
        stalled_Pa = condensate.modulated_coil_pressure_Pa(
            load_share=min(got.stalls_below_load, 1.0), full_load_coil_temperature_K=coil_K, bath_temperature_K=bath_K
        )
        assert coil_Pa - stalled_Pa == pytest.approx(full_Pa, rel=1e-4, abs=20.0)


@settings(max_examples=100, deadline=None)
@given(
    flow=st.floats(0.01, 10.0),
    pressure=st.floats(0.5, 100.0),
    density=st.floats(0.9, 1.5),
    discharge=st.floats(0.4, 1.0),
)
def test_opening_round_trip(flow: float, pressure: float, density: float, discharge: float) -> None:
    law = {"flow_m3_s": flow, "density_kg_m3": density, "discharge_coefficient": discharge}
    area = room_air.opening_area_m2(allowed_pressure_Pa=pressure, **law)
    assert room_air.opening_pressure_Pa(free_area_m2=area, **law) == pytest.approx(pressure)
    assert room_air.opening_pressure_Pa(free_area_m2=2.0 * area, **law) == pytest.approx(pressure / 4.0)


@settings(max_examples=60, deadline=None)
@given(
    flow=st.floats(0.1, 5.0),
    outdoor_K=st.floats(250.0, 290.0),
    colder_K=st.floats(0.5, 5.0),
    efficiency=st.floats(0.5, 1.0),
    hours=st.floats(10.0, 5000.0),
)
def test_heat_for_make_up_air_is_in_proportion(
    flow: float, outdoor_K: float, colder_K: float, efficiency: float, hours: float
) -> None:
    def season(flow_kg_s: float, temperature_K: float) -> room_air.SeasonalAirHeat:
        return room_air.seasonal_air_heat(
            dry_air_kg_s=flow_kg_s,
            running_time_s=3600.0 * hours,
            room_temperature_K=294.0,
            mean_outdoor_temperature_K=temperature_K,
            mean_outdoor_humidity_ratio_kg_kg=0.0005,
            pressure_Pa=101325.0,
            heater_efficiency=efficiency,
            energy_price_USD_J=1e-8,
        )

    first, double, colder = season(flow, outdoor_K), season(2 * flow, outdoor_K), season(flow, outdoor_K - colder_K)
    assert double.heat_J == pytest.approx(2.0 * first.heat_J)
    assert colder.mean_heat_W > first.mean_heat_W
    # Near 1.006 kJ per kg and K
    assert first.mean_heat_W / flow / (294.0 - outdoor_K) == pytest.approx(1007.0, rel=5e-3)
    assert first.energy_J * efficiency == pytest.approx(first.mean_heat_W * 3600.0 * hours)
    assert first.cost_USD == pytest.approx(first.energy_J * 1e-8)


@settings(max_examples=60, deadline=None)
@given(
    dry_air=st.floats(0.2, 3.0),
    inlet_K=st.floats(300.0, 350.0),
    area_m2=st.floats(1.0, 40.0),
    overall=st.floats(0.5, 20.0),
    below_K=st.floats(5.0, 60.0),
    pressure_Pa=st.floats(80e3, 105e3),
)
def test_duct_loses_what_the_air_gives_up(
    dry_air: float, inlet_K: float, area_m2: float, overall: float, below_K: float, pressure_Pa: float
) -> None:
    given_duct = {
        "dry_air_kg_s": dry_air,
        "inlet_temperature_K": inlet_K,
        "pressure_Pa": pressure_Pa,
        "surrounding_temperature_K": max(inlet_K - below_K, 234.0),
    }
    try:
        got = exhaust_duct.duct_condensate(wall_area_m2=area_m2, overall_coefficient_W_m2K=overall, **given_duct)
    except OutOfRange:  # it would freeze
        return
    inlet_W = saturation_humidity_ratio_kg_kg(inlet_K, pressure_Pa)
    outlet_W = saturation_humidity_ratio_kg_kg(got.outlet_temperature_K, pressure_Pa)
    assert got.condensate_kg_s == pytest.approx(dry_air * (inlet_W - outlet_W), rel=1e-9, abs=1e-15)
    inlet_h = dry_air * enthalpy_J_kg(inlet_K, inlet_W, pressure_Pa)
    outlet_h = dry_air * enthalpy_J_kg(got.outlet_temperature_K, outlet_W, pressure_Pa)
    liquid_W = got.condensate_kg_s * liquid_enthalpy_J_kg(got.outlet_temperature_K)
    assert inlet_h == pytest.approx(outlet_h + liquid_W + got.heat_loss_W, rel=1e-6)
    assert given_duct["surrounding_temperature_K"] < got.outlet_temperature_K < inlet_K
    shorter = exhaust_duct.duct_condensate(wall_area_m2=0.5 * area_m2, overall_coefficient_W_m2K=overall, **given_duct)
    assert 0.0 < shorter.condensate_kg_s < got.condensate_kg_s


@settings(max_examples=60, deadline=None)
@given(dry_air=st.floats(0.2, 2.0), diameter_m=st.floats(0.25, 0.8), temperature_K=st.floats(290.0, 345.0))
def test_duct_loss_adds_and_rises(dry_air: float, diameter_m: float, temperature_K: float) -> None:
    def duct(flow: float, length_m: float, fittings: float) -> exhaust_duct.ExhaustDuct:
        return exhaust_duct.exhaust_duct(
            dry_air_kg_s=flow,
            temperature_K=temperature_K,
            humidity_ratio_kg_kg=saturation_humidity_ratio_kg_kg(temperature_K, 101325.0),
            pressure_Pa=101325.0,
            area_m2=math.pi / 4 * diameter_m**2,
            hydraulic_diameter_m=diameter_m,
            length_m=length_m,
            roughness_m=exhaust_duct.duct_roughness_m("PVC"),
            fittings_loss_coefficient=fittings,
        )

    whole = duct(dry_air, 8.0, 2.5)
    assert whole.loss_Pa == pytest.approx(duct(dry_air, 5.0, 1.0).loss_Pa + duct(dry_air, 3.0, 1.5).loss_Pa)
    assert whole.loss_Pa == pytest.approx(whole.friction_Pa + whole.fittings_Pa)
    assert 3.0 * whole.loss_Pa < duct(2.0 * dry_air, 8.0, 2.5).loss_Pa < 4.0 * whole.loss_Pa


@settings(max_examples=100, deadline=None)
@given(room_Pa=st.floats(0.0, 30.0), draft_Pa=st.floats(-5.0, 40.0), loss_Pa=st.floats(0.0, 10.0))
def test_spillage_limit_never_exceeds_either(room_Pa: float, draft_Pa: float, loss_Pa: float) -> None:
    got = room_air.flue_spillage(
        kind="natural draft", depressurisation_Pa=room_Pa, flue_draft_Pa=draft_Pa, flue_loss_Pa=loss_Pa
    )
    assert got.limit_Pa is not None
    assert got.limit_Pa <= room_air.NATURAL_DRAFT_LIMIT_Pa
    assert got.limit_Pa <= draft_Pa - loss_Pa
    assert got.spills == (room_Pa >= got.limit_Pa) == bool(got.warnings)
