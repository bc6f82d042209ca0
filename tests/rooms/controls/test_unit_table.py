"""A unit's own table, run scan by scan: what it does to the hand-checked tenth of a second."""

from __future__ import annotations

import pytest

from unit_controls import BARE, HEATS, STOPS, Bench, every_option, invented_answer, unit_control, unit_plain
from vaporwright.controls.delays import DELAYS
from vaporwright.controls.unit_signals import UnitOptions
from vaporwright.controls.unit_table import unit_table, unit_table_of
from vaporwright.foundation.errors import InputError, OutOfRange
from vaporwright.unit.heat import HeatKind

RUNNING = {"blower", "spray_pump", "spray_valve", "heat"}


def test_the_start_takes_level_then_air_then_flow_then_heat() -> None:
    bench = Bench(running=False).restore()
    bench.after(1.0, low_rod=True).after(0.2, blower_auto=True, pump_auto=True, heat_auto=True)
    bench.after(0.1, start=True)
    assert bench.on() == {"blower"}
    # The switch closes in the scan after the blower: 10 s of airflow from there, then 15 s of flow in the same way.
    assert bench.seconds_until("spray_pump", True) == pytest.approx(10.0)
    assert bench["spray_valve"]
    assert not bench["heat"]
    assert bench.seconds_until("heat", True) == pytest.approx(15.0)
    assert bench.on() == RUNNING


def test_a_stop_ends_heat_then_the_pump_cools_the_heater_then_the_blower_the_fill() -> None:
    bench = Bench().after(0.1, stop_clear=False)
    assert bench.on() == {"blower", "spray_pump", "spray_valve"}
    bench.after(0.1, stop_clear=True)
    assert bench.seconds_until("spray_pump", False) == pytest.approx(119.9)
    assert bench["blower"]
    assert bench.seconds_until("blower", False) == pytest.approx(120.0)
    assert bench.standing() == set()


def test_a_dry_low_rod_stops_heat_and_pump_and_stays_while_drain_back_wets_it() -> None:
    bench = Bench().after(3.9, low_rod=False)
    assert bench.on() == RUNNING
    bench.after(0.1)
    assert bench.on() == {"blower", "spray_valve"}
    assert bench.first_out() == {"low_level"}
    bench.after(1.0).after(60.0, low_rod=True)  # drain-back
    assert bench["low_level"]
    assert not bench["spray_pump"]
    assert bench["refill_valve"]  # called by low level, though the refill-on rod is wet
    bench.after(1.4, refill_off_rod=True)
    assert bench["low_level"]
    bench.after(0.1)
    assert not bench["low_level"]
    assert not bench["refill_valve"]
    bench.after(20.0)
    assert bench["spray_pump"]
    assert not bench["heat"]  # by hand only
    assert not bench.push("reset")["low_level_heat"]
    assert bench.after(0.1)["heat"]


def test_low_level_that_clears_by_reset_needs_refill_off_reset_and_start() -> None:
    bench = Bench(options=STOPS).after(5.0, low_rod=False).after(30.0, low_rod=True)
    assert not bench.restore()["spray_pump"]
    assert bench["low_level"]
    bench.after(2.0, refill_off_rod=True)
    assert bench["low_level"]
    assert not bench.restore()["low_level"]
    assert not bench.after(30.0)["run"]
    assert bench.start().after(30.0)["heat"]


def test_the_unit_does_not_start_on_low_level() -> None:
    bench = Bench(running=False).after(5.0, low_rod=False).restore().start()
    assert not bench["run"]


def test_high_level_shuts_both_refill_valves_and_the_unit_goes_on() -> None:
    bench = Bench().after(5.0, refill_on_rod=False)
    assert {"refill_valve", "refill_shutoff"} < bench.on()
    bench.after(1.4, refill_on_rod=True, high_rod=True)
    assert "refill_valve" in bench.on()
    assert bench.after(0.1).on() == RUNNING
    assert bench.standing() == {"high_level"}
    bench.after(1.0, high_rod=False)
    assert bench.standing() == set()  # by itself
    assert bench.after(5.0, refill_on_rod=False)["refill_valve"]


def test_a_shop_that_stops_at_high_starts_again_with_the_rod_still_wet() -> None:
    bench = Bench(options=STOPS).after(1.5, refill_off_rod=True, high_rod=True)
    assert bench.first_out() == {"high_level_stop"}
    assert not bench["run"]
    assert not bench.start()["run"]
    bench.restore().start().after(30.0)
    assert bench["heat"]
    assert not bench["refill_valve"]


def test_high_high_stops_the_unit_and_nothing_refills_before_reset() -> None:
    bench = Bench().after(5.0, refill_on_rod=False).after(1.0, high_high_clear=False)
    assert not {"refill_valve", "refill_shutoff", "heat"} & bench.on()
    assert not bench["run"]
    bench.after(10.0, high_high_clear=True)
    assert not {"refill_valve", "refill_shutoff"} & bench.on()
    bench.restore()
    assert {"refill_valve", "refill_shutoff"} <= bench.on()
    assert not bench["run"]


def test_over_temperature_ends_heat_in_the_scan_and_latches_after_its_delay() -> None:
    bench = Bench().after(0.1, over_set_point=True)
    assert bench.on() == RUNNING - {"heat"}
    assert bench.after(9.8)["over_temperature"] is False  # a set point lowered and put back
    bench.after(0.2)
    assert bench["over_temperature"]
    assert bench.on() == RUNNING - {"heat"}
    assert bench["horn"]
    assert bench["beacon"]
    bench.push("silence")
    assert not bench["horn"]
    assert bench["beacon"]
    assert bench.restore()["over_temperature"]  # its cause is there
    bench.after(60.0, over_set_point=False, at_set_point=True)
    assert bench["over_temperature"]
    assert not bench.push("reset")["over_temperature"]
    assert not bench["beacon"]
    assert bench.after(0.1, at_set_point=False)["heat"]


def test_at_the_plastic_limit_the_pump_stops_and_the_blower_cools_the_fill() -> None:
    bench = Bench().after(1.0, over_set_point=True, at_plastic_limit=True)
    assert bench.on() == {"blower", "spray_valve"}
    assert bench.seconds_until("blower", False) == pytest.approx(120.0)


def test_a_thermometer_that_reads_too_cold_ends_heat() -> None:
    bench = Bench().after(1.0, thermometer_low=True)
    assert bench.on() == RUNNING - {"heat"}


def test_a_gust_is_ridden_out_and_lost_airflow_stops_pump_and_heat() -> None:
    bench = Bench().after(2.4, airflow=False).after(1.0, airflow=True)
    assert bench.on() == RUNNING
    bench.after(2.5, airflow=False)
    assert bench.on() == set()
    assert bench.first_out() == {"airflow_lost"}


def test_an_airflow_switch_that_never_opened_lets_no_blower_start() -> None:
    bench = Bench(running=False).after(0.5, airflow=True).restore().start()
    assert bench["run"]
    assert not bench["blower"]
    assert bench.after(60.0).standing() == {"airflow_stuck"}
    assert not bench["run"]
    bench.after(1.0, airflow=False).free("airflow").restore().start().after(26.0)
    assert bench["heat"]


def test_airflow_that_does_not_come_gives_the_start_up() -> None:
    bench = Bench(running=False).restore().start().after(29.0, airflow=False)
    assert bench.on() == {"blower"}
    assert bench.after(2.0).on() == set()
    assert bench.first_out() == {"airflow_missing"}


def test_a_blower_overload_stops_the_pump_in_the_same_scan() -> None:
    bench = Bench().after(0.1, blower_overload_clear=False)
    assert not {"blower", "spray_pump", "heat"} & bench.on()


def test_a_bubble_is_ridden_out_and_lost_flow_stops_the_pump() -> None:
    bench = Bench().after(2.9, pump_flow=False).after(1.0, pump_flow=True)
    assert bench.on() == RUNNING
    bench.after(3.0, pump_flow=False)
    assert not {"spray_pump", "heat"} & bench.on()
    assert bench.first_out() == {"pump_flow_lost"}


def test_power_return_and_a_welded_start_button_start_nothing() -> None:
    bench = Bench(running=False).after(30.0, blower_auto=True, pump_auto=True, heat_auto=True, start=True)
    assert bench.on() == set()
    bench.restore().after(30.0)
    assert bench["control_on"]
    assert not bench["run"]
    assert bench.after(0.2, start=False).start()["run"]


def test_emergency_stop_lets_everything_go_and_comes_back_by_reset_then_start() -> None:
    bench = Bench().after(5.0, refill_on_rod=False).after(0.1, emergency_stop_clear=False)
    assert bench.on() == set()
    assert not bench["control_on"]
    bench.after(5.0, emergency_stop_clear=True)
    assert bench.on() == set()
    assert not bench.restore().after(5.0)["run"]
    assert bench.start().after(30.0)["heat"]


def test_a_reset_button_held_restores_nothing_twice() -> None:
    bench = Bench().after(1.0, reset=True).after(0.1, emergency_stop_clear=False).after(5.0, emergency_stop_clear=True)
    assert not bench["control_on"]


def test_in_hand_a_motor_runs_against_no_interlock() -> None:
    bench = Bench(running=False).restore().after(60.0, pump_hand=True)
    assert bench.on() == set()  # no air
    bench.after(0.1, blower_hand=True)
    assert bench.seconds_until("spray_pump", True) == pytest.approx(10.0)
    assert not bench.after(60.0, heat_auto=True)["heat"]
    assert not bench.after(4.0, low_rod=False)["spray_pump"]
    assert bench["blower"]


def test_a_selector_turned_away_and_back_does_not_start_the_unit() -> None:
    bench = Bench().after(0.5, pump_auto=False)
    assert not bench["heat"]
    assert not bench.after(30.0, pump_auto=True)["run"]


def test_warm_up_heats_over_the_agitation_branch_without_the_tower() -> None:
    bench = Bench(running=False).after(0.2, warm_up=True).restore().start()
    assert bench.seconds_until("heat", True) == pytest.approx(15.0, abs=0.5)
    assert bench.on() == {"spray_pump", "agitation_valve", "heat"}
    assert not {"spray_pump", "heat"} & bench.after(0.1, spray_shut=False).on()  # the spray valve leaks through
    bench.after(0.1, spray_shut=True)
    bench.free("spray_shut").after(0.1, warm_up=False)
    assert bench.on() == {"blower"}
    assert bench.seconds_until("heat", True) == pytest.approx(25.0, abs=0.5)
    assert bench.on() == RUNNING


def test_the_drain_waits_for_stop_and_cool_heater_and_then_holds_the_unit() -> None:
    bench = Bench().after(200.0, drain_selected=True)
    assert bench.on() == RUNNING
    bench.push("stop_clear").after(0.1, stop_clear=False).after(0.1, stop_clear=True)
    assert bench.seconds_until("drain_valve", True) == pytest.approx(120.0, abs=1.0)
    bench.after(10.0, refill_on_rod=False, pump_hand=True, pump_auto=False)
    assert not {"refill_valve", "spray_pump"} & bench.on()
    assert not bench.after(0.2, pump_hand=False, pump_auto=True).start()["run"]


def test_a_refill_that_never_ends_is_ended_by_its_timer() -> None:
    bench = Bench(options=UnitOptions(delays=(("refill_run_s", 120.0),))).after(4.0, refill_on_rod=False)
    assert bench["refill_valve"]
    assert bench.seconds_until("refill_valve", False) == pytest.approx(120.0)
    assert bench.standing() == {"refill_too_long"}
    assert bench.on() == RUNNING


def test_refill_in_hand_ends_at_high() -> None:
    bench = Bench().after(1.0, refill_auto=False, refill_hand=True)
    assert {"refill_valve", "refill_shutoff"} < bench.on()
    assert not {"refill_valve", "refill_shutoff"} & bench.after(1.5, refill_off_rod=True, high_rod=True).on()


def test_a_rod_that_is_wet_over_a_dry_one_is_told() -> None:
    assert Bench().after(10.0, high_rod=True).standing() == {"high_level", "rods_disagree"}


def test_the_press_is_fed_while_the_level_is_up() -> None:
    bench = Bench().after(0.1, press_feed_asked=True)
    assert bench["press_feed"]
    assert not bench.after(4.0, low_rod=False)["press_feed"]


@pytest.mark.parametrize("heat", HEATS)
@pytest.mark.parametrize("device", ["low_water_clear", "high_limit_clear"])
def test_first_out_names_the_device_and_not_the_string(heat: HeatKind, device: str) -> None:
    bench = Bench(heat).after(2.0, **{device: False, "limit_string_closed": False})
    assert bench.first_out() == {{"low_water_clear": "low_water", "high_limit_clear": "high_limit"}[device]}
    assert not bench["heat"]
    assert bench["blower"]


def test_lost_airflow_is_named_although_it_opens_the_string_at_once() -> None:
    bench = Bench().after(5.0, airflow=False, limit_string_closed=False)
    assert bench.first_out() == {"airflow_lost"}


def test_an_open_string_ends_heat_in_the_scan_and_is_recorded() -> None:
    bench = Bench().after(0.1, limit_string_closed=False)
    assert not bench["heat"]
    assert bench.after(3.8).first_out() == set()
    assert bench.after(0.2).first_out() == {"limit_string_open"}
    assert not bench.after(5.0, limit_string_closed=True)["heat"]
    assert bench.restore()["heat"]


@pytest.mark.parametrize(
    ("heat", "signals", "seconds", "row"),
    [
        ("gas", {"gas_pressure_low_clear": False}, 0.1, "gas_pressure_low"),
        ("gas", {"gas_pressure_high_clear": False}, 0.1, "gas_pressure_high"),
        ("gas", {"tube_temperature_clear": False}, 0.1, "tube_too_hot"),
        ("gas", {"combustion_air": False, "flame": False}, 0.1, "combustion_air_lost"),
        ("gas", {"flame": False}, 0.1, "flame_lost"),
        ("gas", {"lockout": True}, 0.1, "burner_locked_out"),
        ("electric", {"sheath_temperature_clear": False}, 0.1, "sheath_too_hot"),
        ("electric", {"ground_fault_clear": False}, 0.1, "ground_fault"),
        ("electric", {"contactor_closed": False}, 2.0, "contactor_open"),
        ("steam", {"steam_valve_shut": True}, 30.0, "steam_valve_stuck_shut"),
    ],
)
def test_each_heat_source_trips_by_its_own_device_and_cooling_goes_on(
    heat: HeatKind, signals: dict[str, bool], seconds: float, row: str
) -> None:
    bench = Bench(heat).after(seconds, **signals)
    assert bench.first_out() == {row}
    assert bench.on() == RUNNING - {"heat"}
    bench.after(5.0).free(*signals)
    assert not bench.after(5.0)["heat"]
    assert bench.restore().after(1.0)["heat"]


@pytest.mark.parametrize(
    ("heat", "signal", "stuck", "seconds", "row"),
    [
        ("gas", "flame", True, 19.0, "flame_unasked"),
        ("electric", "contactor_closed", True, 2.0, "contactor_welded"),
        ("steam", "steam_valve_shut", False, 30.0, "steam_valve_stuck_open"),
    ],
)
def test_heat_that_does_not_end_is_told(heat: HeatKind, signal: str, stuck: bool, seconds: float, row: str) -> None:
    bench = Bench(heat).after(seconds, at_set_point=True, **{signal: stuck})
    assert bench.standing() == set()
    assert bench.after(0.2).standing() == {row}
    assert bench.on() == RUNNING - {"heat"}


def test_the_safeguard_has_purge_ignition_and_patience_before_the_table_complains() -> None:
    bench = Bench(running=False).after(0.1, flame=False).restore().start()
    bench.seconds_until("heat", True)
    assert bench.seconds_until("no_flame", True) == pytest.approx(60.0)
    assert not bench["heat"]


def test_every_row_says_why_and_variants_expand() -> None:
    for heat in HEATS:
        for options in every_option()[::9]:
            control = unit_control(heat, options)
            unit_plain(heat, options)
            assert set(control.reasons) == {row.name for row in control.design.rows}
            assert all(why.endswith(".") for why in control.reasons.values())


def test_a_job_without_an_option_has_none_of_its_signals() -> None:
    bare = unit_control("steam", BARE).design
    whole = unit_control("steam").design
    gone = set(whole.inputs) - set(bare.inputs)
    assert gone == {"warm_up", "spray_shut", "refill_hand", "drain_selected", "press_feed_asked"}
    effects = {column.name for column in whole.columns} - {column.name for column in bare.columns}
    assert effects == {"spray_valve", "agitation_valve", "drain_valve", "press_feed"}


def test_the_table_of_an_answer_has_its_heat_its_temperatures_and_its_refill_timer() -> None:
    answer = invented_answer()
    design = unit_table(answer).design
    assert design == unit_control("gas").design
    limits = {item.name: item.limit for item in design.comparators}
    assert limits["at_set_point"] == pytest.approx(answer.seasons[answer.governing].clamp_K)
    slow = unit_table(answer, UnitOptions(delays=(("rod_dry_s", 5.0), ("refill_run_s", 900.0)))).design
    assert {row.name: row.delay_s for row in slow.rows}["low_level"] == 5.0
    assert {row.name: row.delay_s for row in slow.rows}["refill_too_long"] == 900.0
    with pytest.raises(OutOfRange, match="rod_dry_s = 9: allowed 3 to 5"):
        unit_table(answer, UnitOptions(delays=(("rod_dry_s", 9.0),)))


def test_every_delay_is_used_by_some_row() -> None:
    usual = unit_control("gas").delays
    for delay in DELAYS:
        if delay.name == "post_purge_s":
            assert delay.high_s < next(d.low_s for d in DELAYS if d.name == "tube_cool_down_s")  # the pump outlasts it
            continue
        longer = {**usual, delay.name: usual[delay.name] + 1.0}
        control = unit_control(delay.only_for or "gas")  # type: ignore[arg-type]
        other = unit_table_of(control.heat, control.options, control.points, longer).design
        assert other != control.design, delay.name


def test_delays_are_whole_scans_or_refused() -> None:
    assert unit_table(invented_answer(), UnitOptions(scan_s=0.5)).design.scan_s == 0.5
    with pytest.raises(InputError, match="no whole number of scans"):
        unit_table(invented_answer(), UnitOptions(scan_s=1.0))  # rods that read wet take 1.5 s
