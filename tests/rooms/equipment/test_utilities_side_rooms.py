"""Electrical loads, condensate and room air: bad input is one message, warnings come where they belong."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from vaporwright.equipment import condensate, exhaust_duct, room_air
from vaporwright.equipment.electrical_loads import (
    LEFT_TO_THE_ELECTRICIAN,
    HeaterLoad,
    MotorLoad,
    OtherLoad,
    Supply,
    electrical_load_table,
    feeder_largest_device_A,
    feeder_least_ampacity_A,
    motor_full_load_current_A,
    motor_largest_breaker_A,
    table_motor_rating_W,
)
from vaporwright.foundation.errors import InputError, OutOfRange
from vaporwright.foundation.notice import Notice

HP_W = 745.69987
NAN = float("nan")
SUPPLY = Supply(480.0, 3)
PUMP = MotorLoad("pump", 2 * HP_W)

DRAIN: dict[str, Any] = {
    "condensate_flow_kg_s": 0.06,
    "coil_pressure_Pa": 205e3,
    "bath_temperature_K": 338.7,
    "trap_factor": 3.0,
    "drain_leg_m": 0.36,
}
AIR: dict[str, Any] = {
    "blower_dry_air_kg_s": 1.2,
    "burner_dry_air_kg_s": 0.06,
    "dilution_dry_air_kg_s": 0.0,
    "room_temperature_K": 294.0,
    "outdoor_temperature_K": 270.0,
    "outdoor_humidity_ratio_kg_kg": 0.002,
    "pressure_Pa": 101325.0,
}
SEASON: dict[str, Any] = {
    "dry_air_kg_s": 1.2,
    "running_time_s": 1e7,
    "room_temperature_K": 294.0,
    "mean_outdoor_temperature_K": 275.0,
    "mean_outdoor_humidity_ratio_kg_kg": 0.003,
    "pressure_Pa": 101325.0,
    "heater_efficiency": 0.8,
}
DUCT: dict[str, Any] = {
    "dry_air_kg_s": 1.2,
    "temperature_K": 323.0,
    "humidity_ratio_kg_kg": 0.08,
    "pressure_Pa": 101325.0,
    "area_m2": 0.1257,
    "hydraulic_diameter_m": 0.4,
    "length_m": 8.0,
    "roughness_m": 3e-5,
    "fittings_loss_coefficient": 2.0,
}
WALL: dict[str, Any] = {
    "dry_air_kg_s": 1.2,
    "inlet_temperature_K": 323.0,
    "pressure_Pa": 101325.0,
    "wall_area_m2": 10.0,
    "overall_coefficient_W_m2K": 8.0,
    "surrounding_temperature_K": 288.0,
}


def drain(**changes: Any) -> condensate.CondensateDrain:
    return condensate.condensate_drain(**{**DRAIN, **changes})


def steam_pipe(**changes: Any) -> condensate.SteamPipe:
    usual: dict[str, Any] = {"steam_flow_kg_s": 0.06, "pressure_Pa": 205e3, "highest_velocity_m_s": 30.0}
    return condensate.steam_pipe_for_velocity(**{**usual, **changes})


def noticed(found: tuple[Notice, ...]) -> dict[str, tuple[tuple[float, str], ...]]:
    """Figures of each notice by its name; every sentence has a place for each of its figures."""
    for notice in found:
        places = {f"{{{index}}}" for index in range(len(notice.figures))}
        assert all(place in notice.text for place in places), notice
        notice.words(lambda value, quantity: f"{value} {quantity}")
    return {notice.name: notice.figures for notice in found}


@pytest.mark.parametrize(
    ("call", "error", "word"),
    [
        (lambda: Supply(480.0, 2), OutOfRange, "phases"),
        (lambda: Supply(4160.0, 3), OutOfRange, "voltage_V"),
        (lambda: Supply(NAN, 3), OutOfRange, "voltage_V"),
        (lambda: electrical_load_table(supply=SUPPLY), InputError, "no load"),
        (lambda: electrical_load_table(supply=SUPPLY, motors=(PUMP, PUMP)), InputError, "twice"),
        (lambda: electrical_load_table(supply=SUPPLY, heaters=(HeaterLoad("h", 0.0),)), OutOfRange, "power_W"),
        (lambda: electrical_load_table(supply=SUPPLY, heaters=(HeaterLoad("h", 9e3, 0),)), OutOfRange, "circuits"),
        (lambda: electrical_load_table(supply=SUPPLY, others=(OtherLoad("c", NAN),)), OutOfRange, "c: apparent"),
        (lambda: motor_full_load_current_A(PUMP, Supply(400.0, 3)), InputError, "400 V"),
        (lambda: motor_full_load_current_A(MotorLoad("x", 20 * HP_W), SUPPLY), InputError, "20 hp"),
        (lambda: motor_full_load_current_A(PUMP, Supply(480.0, 1)), InputError, "460 V"),
        (lambda: motor_full_load_current_A(MotorLoad("x", HP_W, 0.8), SUPPLY), InputError, "both, or neither"),
        (lambda: motor_full_load_current_A(MotorLoad("x", HP_W, 1.8, 0.8), SUPPLY), OutOfRange, "efficiency"),
        (lambda: feeder_least_ampacity_A(motor_currents_A=(-1.0,), continuous_A=0.0), OutOfRange, "motor_currents"),
        (lambda: feeder_least_ampacity_A(motor_currents_A=(), continuous_A=NAN), OutOfRange, "continuous_A"),
        (lambda: feeder_largest_device_A(motor_currents_A=(), other_loads_A=5.0), InputError, "no motor"),
        (lambda: feeder_largest_device_A(motor_currents_A=(9.0,), other_loads_A=1e4), OutOfRange, "feeder current"),
        (lambda: motor_largest_breaker_A(0.0), OutOfRange, "full_load_current_A"),
        (lambda: table_motor_rating_W(0.0), OutOfRange, "rated_power_W"),
        (lambda: steam_pipe(steam_flow_kg_s=0.0), OutOfRange, "steam_flow_kg_s"),
        (lambda: steam_pipe(steam_flow_kg_s=NAN), OutOfRange, "steam_flow_kg_s"),
        (lambda: steam_pipe(steam_flow_kg_s=50.0), OutOfRange, "12 in"),
        (lambda: steam_pipe(pressure_Pa=2e6), OutOfRange, "pressure_Pa"),
        (lambda: steam_pipe(highest_velocity_m_s=500.0), OutOfRange, "highest_velocity_m_s"),
        (lambda: condensate.flash_steam_share(1e5, 2e5), OutOfRange, "pressure_before_Pa"),
        (lambda: condensate.flash_steam_share(1e5, 0.0), OutOfRange, "pressure_after_Pa"),
        (lambda: condensate.condensate_column_m(-1.0, 373.0), OutOfRange, "pressure_difference_Pa"),
        (lambda: drain(coil_pressure_Pa=20e3), OutOfRange, "full_load_coil_temperature_K"),
        (lambda: drain(condensate_flow_kg_s=0.0), OutOfRange, "condensate_flow_kg_s"),
        (lambda: drain(trap_factor=0.5), OutOfRange, "trap_factor"),
        (lambda: drain(lift_m=NAN), OutOfRange, "lift_m"),
        (lambda: drain(site_pressure_Pa=1.0), OutOfRange, "site_pressure_Pa"),
        (lambda: room_air.make_up_air(**{**AIR, "burner_dry_air_kg_s": -0.1}), OutOfRange, "burner_dry_air_kg_s"),
        (lambda: room_air.make_up_air(**{**AIR, "outdoor_temperature_K": 20.0}), OutOfRange, "outdoor_temperature_K"),
        (lambda: room_air.seasonal_air_heat(**SEASON, energy_price_USD_J=-1.0), OutOfRange, "energy_price"),
        (lambda: room_air.seasonal_air_heat(**{**SEASON, "running_time_s": 9e7}), OutOfRange, "one season"),
        (
            lambda: room_air.opening_pressure_Pa(flow_m3_s=1.0, free_area_m2=0.0, density_kg_m3=1.2),
            OutOfRange,
            "through the flue",
        ),
        (
            lambda: room_air.opening_area_m2(flow_m3_s=1.0, allowed_pressure_Pa=0.0, density_kg_m3=1.2),
            OutOfRange,
            "allowed_pressure_Pa",
        ),
        (
            lambda: room_air.flue_spillage(kind="draft", depressurisation_Pa=1.0, flue_draft_Pa=9.0),  # type: ignore[arg-type]
            InputError,
            "sealed",
        ),
        (lambda: exhaust_duct.duct_roughness_m("brass"), InputError, "galvanized"),
        (lambda: exhaust_duct.exhaust_duct(**{**DUCT, "hydraulic_diameter_m": 0.5}), OutOfRange, "round duct"),
        (lambda: exhaust_duct.exhaust_duct(**{**DUCT, "length_m": -1.0}), OutOfRange, "length_m"),
        (lambda: exhaust_duct.duct_condensate(**{**WALL, "surrounding_temperature_K": 323.0}), OutOfRange, "colder"),
        (
            lambda: exhaust_duct.duct_condensate(**{**WALL, "wall_area_m2": 1000.0, "dry_air_kg_s": 0.01}),
            OutOfRange,
            "insulate or shorten",
        ),
        (
            lambda: exhaust_duct.intake_separation(horizontal_distance_m=-1.0, discharge_above_intake_m=0.0),
            OutOfRange,
            "horizontal_distance_m",
        ),
    ],
)
def test_bad_input_is_one_message(call: Callable[[], object], error: type[Exception], word: str) -> None:
    with pytest.raises(error) as caught:
        call()
    assert word in str(caught.value)


def test_heater_above_48_A_on_one_circuit_is_named() -> None:
    one = electrical_load_table(supply=SUPPLY, heaters=(HeaterLoad("tank heater", 60e3),))
    # 60 kW over the root of 3 and 480 V: 72.2 A
    current, circuits, limit = noticed(one.warnings)["tank heater circuit too large"]
    assert current == (pytest.approx(72.17, abs=0.01), "current")
    assert (circuits, limit) == ((1.0, "count"), (48.0, "current"))
    two = electrical_load_table(supply=SUPPLY, heaters=(HeaterLoad("tank heater", 60e3, 2),))
    assert not two.warnings
    assert [circuit.name for circuit in two.circuits] == ["tank heater 1", "tank heater 2"]
    assert two.feeder_largest_device_A is None  # no motor: only the conductor limits it
    assert two.electrician_decides == LEFT_TO_THE_ELECTRICIAN
    assert "licensed electrician" in two.caution


def test_no_standard_size_between_is_said() -> None:
    # 1 hp, 2.1 A: least 2.625 + 1.25 x 100.8 = 128.6, next 150 A; largest 15 + 126 = 141, down to 125 A
    heater = HeaterLoad("heater", 100.8 * 480.0 * 3.0**0.5, 3)
    table = electrical_load_table(supply=SUPPLY, motors=(MotorLoad("blower", HP_W),), heaters=(heater,))
    assert table.feeder_smallest_device_A == 150.0
    assert table.feeder_largest_device_A is None
    assert noticed(table.warnings)["no standard feeder device between"] == ((150.0, "current"),)


def test_single_phase_heater_circuits_load_the_line_between_the_fullest_pairs() -> None:
    """Each circuit carries 10 A between two lines of 480 V. By vectors, in multiples of a circuit's current: one
    circuit 1, two circuits on two pairs root 3, three (one to a pair) root 3, four (2, 1, 1) root 7."""
    for circuits, multiple in ((1, 1.0), (2, 3.0**0.5), (3, 3.0**0.5), (4, 7.0**0.5), (6, 2.0 * 3.0**0.5)):
        heater = HeaterLoad("heater", 4800.0 * circuits, circuits, single_phase=True)
        table = electrical_load_table(supply=SUPPLY, heaters=(heater,))
        assert [circuit.current_A for circuit in table.circuits] == pytest.approx([10.0] * circuits)
        assert table.running_current_A == pytest.approx(10.0 * multiple), circuits
        assert table.feeder_least_ampacity_A == pytest.approx(12.5 * multiple)
        assert table.apparent_power_VA == pytest.approx(4800.0 * circuits)


def test_single_phase_supply() -> None:
    table = electrical_load_table(
        supply=Supply(240.0, 1),
        motors=(PUMP,),
        heaters=(HeaterLoad("heater", 9600.0),),
        others=(OtherLoad("c", 240.0),),
    )
    assert [circuit.current_A for circuit in table.circuits] == [12.0, 40.0, 1.0]
    assert table.feeder_least_ampacity_A == pytest.approx(1.25 * 12.0 + 1.25 * 41.0)
    assert table.apparent_power_VA == pytest.approx(240.0 * 53.0)


def test_a_modulated_coil_lifts_nothing() -> None:
    lifted = drain(lift_m=3.0)
    assert lifted.drains_at_full_load
    assert lifted.stalls_below_load is not None
    assert lifted.trap_difference_Pa < 0.0
    notices = noticed(lifted.warnings)
    assert notices["lift behind a modulated coil"] == ((3.0, "length"),)
    assert notices["coil floods at part load"] == ((lifted.stalls_below_load, "fraction"),)
    assert "no pressure left for the trap" in notices
    steady = drain(lift_m=3.0, modulated=False)
    assert steady.stalls_below_load is None
    assert steady.atmospheric_below_load is None
    assert steady.trap_difference_Pa > 0.0
    assert list(noticed(steady.warnings)) == ["flash steam"]


def test_lift_beyond_the_pressure_floods() -> None:
    got = drain(lift_m=12.0, modulated=False)
    assert not got.drains_at_full_load
    assert got.highest_lift_m < 12.0
    assert "coil floods at full load" in noticed(got.warnings)
    assert "no pressure left for the trap" not in noticed(got.warnings)


def test_usual_piping_has_no_complaint_but_the_flash() -> None:
    got = drain()
    assert got.stalls_below_load is None
    assert noticed(got.warnings) == {"flash steam": ((got.flash_share, "fraction"),)}
    short = noticed(drain(drain_leg_m=0.05, vacuum_breaker=False, trap_factor=1.2, returned=True).warnings)
    assert short["small trap factor"] == ((1.2, "ratio"),)
    assert short["short drain leg"][:2] == ((0.05, "short length"), (0.3048, "short length"))
    # 14 in of condensate push with 1/2 psi, as trap instructions have it (read); cold water to 2 %
    assert short["short drain leg"][3] == (pytest.approx(3447.4, rel=0.02), "pressure")
    assert short["no vacuum breaker"] == ((846.6, "pressure"),)
    assert "condensate returned" in short


def test_a_leg_shorter_than_the_breakers_cracking_pressure_stalls() -> None:
    assert drain(drain_leg_m=0.07).stalls_below_load is not None


def test_coil_below_atmospheric_at_full_load() -> None:
    got = drain(coil_pressure_Pa=80e3)
    assert not got.drains_at_full_load
    assert got.atmospheric_below_load == 1.0
    assert got.flash_share == 0.0


def test_sealed_combustion_does_not_mind_the_room() -> None:
    got = room_air.flue_spillage(kind="sealed", depressurisation_Pa=100.0, flue_draft_Pa=NAN)
    assert not got.spills
    assert got.limit_Pa is None
    without_draft = room_air.flue_spillage(kind="natural draft", depressurisation_Pa=0.0, flue_draft_Pa=-1.0)
    assert without_draft.spills
    assert [notice.name for notice in without_draft.warnings] == ["flue without draft"]


def test_spillage_says_by_how_much() -> None:
    got = room_air.flue_spillage(kind="natural draft", depressurisation_Pa=7.0, flue_draft_Pa=6.0, flue_loss_Pa=3.5)
    (notice,) = got.warnings
    assert notice.name == "flue spillage"
    assert notice.figures == ((7.0, "pressure"), (2.5, "pressure"))
    assert not room_air.flue_spillage(kind="natural draft", depressurisation_Pa=2.0, flue_draft_Pa=9.0).warnings


def test_no_price_no_cost_and_no_heat_in_summer() -> None:
    assert room_air.seasonal_air_heat(**SEASON).cost_USD is None
    summer = room_air.seasonal_air_heat(**{**SEASON, "mean_outdoor_temperature_K": 300.0}, energy_price_USD_J=1e-8)
    assert summer.heat_J == summer.cost_USD == 0.0


def test_fast_wet_duct_and_freezing_are_named() -> None:
    assert not exhaust_duct.exhaust_duct(**DUCT).warnings
    narrow = {**DUCT, "area_m2": 0.0707, "hydraulic_diameter_m": 0.3}
    fast = exhaust_duct.exhaust_duct(**narrow)
    assert fast.warnings[0].name == "fast wet duct"
    assert fast.warnings[0].figures == ((fast.velocity_m_s, "velocity"), (12.7, "velocity"))
    assert exhaust_duct.duct_condensate(**WALL).notes == (exhaust_duct.DUCT_DRAINS,)
    freezing = exhaust_duct.duct_condensate(**{**WALL, "surrounding_temperature_K": 260.0}).notes
    assert freezing[0] == exhaust_duct.DUCT_DRAINS
    assert freezing[1].name == "exhaust duct freezes"
    assert freezing[1].figures == ((260.0, "temperature"),)


def test_near_intake_says_the_distance() -> None:
    got = exhaust_duct.intake_separation(horizontal_distance_m=2.0, discharge_above_intake_m=0.5)
    assert not got.is_apart
    (notice,) = got.warnings
    # 10 ft apart or 3 ft below: International Mechanical Code 401.4, in metres as it prints them
    assert notice.figures == tuple(
        (metres, "length") for metres in (2.0, 0.5, pytest.approx(3.048), pytest.approx(0.914, abs=1e-3))
    )
    assert notice.words(lambda value, _: f"{value:.2f} m").count(" m") >= 4
