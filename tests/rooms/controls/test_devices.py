"""Devices between table and plant, and the burner safeguard, each by its own definition."""

from __future__ import annotations

import pytest

from vaporwright.controls.burner_safeguard import (
    BurnerSafeguard,
    ElectricHeat,
    GasHeat,
    HeatDevice,
    SafeguardTimes,
    SteamHeat,
    chamber_and_air,
)
from vaporwright.controls.devices import (
    EffectContact,
    HeaterSurface,
    ManualReset,
    Panel,
    Ramp,
    Rods,
    Switch,
)
from vaporwright.foundation.errors import OutOfRange
from vaporwright.unit.catalogue import GasBurnerPart

DT_s = 0.1


def scans(seconds: float) -> range:
    return range(round(seconds / DT_s))


def test_a_ramp_takes_its_time_each_way_and_stands_exactly_at_its_ends() -> None:
    blower = Ramp(5.0, 20.0)
    for _ in scans(2.5):
        blower.step(True, DT_s)
    assert blower.position == pytest.approx(0.5)
    assert not blower.settled(True)
    for _ in scans(3.0):
        blower.step(True, DT_s)
    assert blower.position == 1.0
    assert blower.settled(True)
    for _ in scans(10.0):
        blower.step(False, DT_s)
    assert blower.position == pytest.approx(0.5)
    for _ in scans(11.0):
        blower.step(False, DT_s)
    assert blower.position == 0.0
    blower.stuck = 1.0
    blower.step(False, DT_s)
    assert blower.position == 1.0
    assert blower.settled(False)
    with pytest.raises(OutOfRange, match="up_s = 0"):
        Ramp(0.0)


def test_a_switch_has_its_dead_band() -> None:
    air = Switch(0.7, 0.6)
    assert [air.step(share) for share in (0.0, 0.69, 0.7, 0.65, 0.6, 0.59, 0.65, 0.7)] == [
        False, False, True, True, True, False, False, True,
    ]  # fmt: skip
    with pytest.raises(OutOfRange, match="opens_under"):
        Switch(0.6, 0.7)


def test_a_manual_reset_works_only_in_good_order() -> None:
    limit = ManualReset()
    assert limit.step(True)
    assert not limit.step(False)
    limit.reset()
    assert not limit.clear
    assert not limit.step(True)
    limit.reset()
    assert limit.clear


def test_contacts_weld_and_stay_open() -> None:
    contact = EffectContact()
    assert [contact.closed(told) for told in (True, False)] == [True, False]
    contact.failure = "welded"
    assert [contact.closed(told) for told in (True, False)] == [True, True]
    contact.failure = "open"
    assert [contact.closed(told) for told in (True, False)] == [False, False]


def rods() -> Rods:
    return Rods({"low": 0.4, "on": 0.5, "off": 0.55, "high": 0.65}, reference_m=0.35)


def test_rods_are_wet_up_to_the_level_and_fail_both_ways() -> None:
    these = rods()
    assert [these.wet(rod, 0.52) for rod in these.tips_m] == [True, True, False, False]
    these.failures["high"] = "stuck wet"
    these.failures["low"] = "stuck dry"
    assert [these.wet(rod, 0.52) for rod in these.tips_m] == [False, True, False, True]
    these.reference_broken = True
    assert [these.wet(rod, 0.9) for rod in these.tips_m] == [False, False, False, True]  # scale bridges all the same


def test_rods_can_be_lifted_and_dipped() -> None:
    these = rods()
    these.lifted_m["low"] = 0.2
    assert not these.wet("low", 0.55)
    assert these.wet("low", 0.601)
    these.dip("on")
    assert [these.wet(rod, 0.9) for rod in these.tips_m] == [True, True, False, False]
    these.bucket = frozenset()
    assert not any(these.wet(rod, 0.9) for rod in these.tips_m)


def test_below_its_tip_the_reference_closes_no_circuit() -> None:
    these = Rods({"low": 0.2}, reference_m=0.3)
    assert not these.wet("low", 0.25)


def test_a_heater_runs_hot_bare_or_scaled() -> None:
    clean, bare, scaled = (HeaterSurface() for _ in range(3))
    for _ in range(600):
        clean.second(1.0, 1.0, 1.0)
        bare.second(1.0, 0.0, 1.0)
        scaled.second(1.0, 1.0, 0.5)
    assert clean.rise_K == pytest.approx(60.0, rel=1e-3)
    assert bare.rise_K == pytest.approx(500.0, rel=1e-3)
    assert scaled.rise_K == pytest.approx(2.0 * clean.rise_K)
    cooling = HeaterSurface(rise_K=60.0)
    for _ in range(60):
        cooling.second(0.0, 1.0, 1.0)
    assert cooling.rise_K == pytest.approx(60.0 / 2.718281828, rel=1e-6)  # one time constant


def test_the_panels_contacts() -> None:
    panel = Panel()
    assert not any(on for name, on in panel.contacts().items() if not name.endswith("_clear"))
    panel.selectors["blower"] = "hand"
    panel.pushed |= {"stop", "emergency stop", "start"}
    found = panel.contacts()
    assert found["blower_hand"]
    assert not found["blower_auto"]
    assert found["start"]
    assert not found["stop_clear"]
    assert not found["emergency_stop_clear"]


# The burner safeguard. Its limits are those of TRADE practice: trial at most 15 s, response at most 4 s, four volumes.

TIMES = SafeguardTimes()


def hold(subject: BurnerSafeguard, seconds: float, **signals: bool) -> str:
    given = {"called": True, "string": True, "air": False, "flame": False, **signals}
    for _ in scans(seconds):
        subject.step(**given, dt_s=DT_s)
    return subject.phase


def running() -> BurnerSafeguard:
    subject = BurnerSafeguard(TIMES)
    hold(subject, 0.1)
    hold(subject, 30.2, air=True)
    assert hold(subject, 0.2, air=True, flame=True) == "run"
    return subject


def test_the_purge_counts_only_with_air_and_in_one_go() -> None:
    subject = BurnerSafeguard(TIMES)
    assert hold(subject, 5.0) == "pre-purge"
    assert subject.fan
    assert not subject.gas
    assert hold(subject, 29.0, air=True) == "pre-purge"
    assert hold(subject, 1.0) == "pre-purge"  # air flutters: from the start
    assert hold(subject, 29.0, air=True) == "pre-purge"
    assert hold(subject, 1.2, air=True) == "ignition"
    assert subject.gas


def test_without_air_or_with_its_switch_stuck_it_locks_out() -> None:
    subject = BurnerSafeguard(TIMES)
    assert hold(subject, 11.0) == "lock-out"
    assert subject.reason == "no combustion air"
    stuck = BurnerSafeguard(TIMES)
    assert hold(stuck, 29.0, air=True) == "standby"
    assert hold(stuck, 2.0, air=True) == "lock-out"


def test_the_trial_for_ignition_ends_in_lock_out_and_only_a_reset_ends_that() -> None:
    subject = BurnerSafeguard(TIMES)
    hold(subject, 0.1)
    hold(subject, 30.2, air=True)
    assert hold(subject, 14.7, air=True) == "ignition"
    assert hold(subject, 0.4, air=True) == "lock-out"
    assert not subject.gas
    subject.power_lost()
    assert (subject.phase, subject.reason) == ("lock-out", "no flame in the trial for ignition")
    assert hold(subject, 60.0) == "lock-out"
    assert subject.reason == "no flame in the trial for ignition"
    subject.reset()
    assert subject.phase == "standby"


def test_flame_failure_shuts_the_gas_in_its_response_time() -> None:
    subject = running()
    assert hold(subject, 3.8, air=True) == "run"
    assert subject.gas
    assert hold(subject, 0.4, air=True) == "lock-out"
    assert not subject.gas
    assert not subject.flame_relay


@pytest.mark.parametrize("lost", ["called", "string"])
def test_an_ended_call_or_open_string_shuts_the_gas_at_once_and_purges(lost: str) -> None:
    subject = running()
    assert hold(subject, 0.1, air=True, flame=True, **{lost: False}) == "post-purge"
    assert not subject.gas
    assert subject.fan
    assert hold(subject, 14.8, air=True) == "post-purge"
    assert hold(subject, 0.3, air=True, called=False) == "standby"
    assert not subject.fan


def test_lost_air_locks_out_even_as_the_call_ends() -> None:
    subject = running()
    assert hold(subject, 0.1, air=False, flame=True, called=False) == "lock-out"


def test_a_flame_where_none_should_be_locks_out() -> None:
    subject = running()
    hold(subject, 0.1, air=True, flame=True, called=False)
    assert hold(subject, 3.7, air=True, flame=True, called=False) == "post-purge"
    assert hold(subject, 0.5, air=True, flame=True, called=False) == "lock-out"
    assert subject.flame_relay  # it says that there is a flame
    purging = BurnerSafeguard(TIMES)
    hold(purging, 0.1)
    assert hold(purging, 4.2, air=True, flame=True) == "lock-out"


@pytest.mark.parametrize(
    ("field", "value"),
    [("ignition_s", 15.1), ("flame_failure_s", 4.1), ("pre_purge_s", 14.9), ("purge_air_m3_s", 0.0)],
)
def test_safety_times_out_of_range_are_refused(field: str, value: float) -> None:
    with pytest.raises(OutOfRange, match=field):
        SafeguardTimes(**{field: value})


def test_a_purge_of_less_than_four_volumes_is_refused() -> None:
    SafeguardTimes(pre_purge_s=20.0, chamber_m3=0.5, purge_air_m3_s=0.1)
    with pytest.raises(OutOfRange, match=r"pre_purge_s = 20: allowed 24 to"):
        SafeguardTimes(pre_purge_s=20.0, chamber_m3=0.6, purge_air_m3_s=0.1)


def test_chamber_and_air_of_a_burner_by_hand() -> None:
    part = GasBurnerPart(
        "x", "x", ("natural gas",), 370_000.0, 1.0, True, 0.2, "steel", 0.22, 0.01, 10.0, 50.0, 0.8, 1.0, 0.0, 0.0,
        0.0, 0.0, 0.15, 1.0,
    )  # fmt: skip
    chamber_m3, air_m3_s = chamber_and_air(part)
    assert chamber_m3 == pytest.approx(0.314159, rel=1e-5)  # bore 0.2 m, 10 m
    assert air_m3_s == pytest.approx(0.1)


def beat(heater: HeatDevice, seconds: float, *, called: bool = True, string: bool = True, live: bool = True) -> float:
    for _ in scans(seconds):
        heater.step(called=called, string=string, live=live, dt_s=DT_s)
    return heater.load


def test_gas_from_call_to_flame_takes_about_half_a_minute() -> None:
    heater = GasHeat(TIMES)
    assert beat(heater, 30.0) == 0.0
    assert beat(heater, 10.0) == 1.0
    assert heater.contacts()["flame"]
    assert heater.settled
    assert beat(heater, 0.2, string=False) == 0.0


def test_gas_without_supply_or_power_burns_nothing() -> None:
    heater = GasHeat(TIMES)
    heater.supply = "off"
    assert beat(heater, 60.0) == 0.0
    assert heater.contacts()["lockout"]
    assert not heater.contacts()["gas_pressure_low_clear"]
    dark = GasHeat(TIMES)
    assert beat(dark, 60.0, live=False) == 0.0
    assert not dark.contacts()["combustion_air"]


def test_a_leaking_gas_valve_burns_on_until_the_cock_is_shut() -> None:
    heater = GasHeat(TIMES)
    beat(heater, 45.0)
    heater.valve_leaks = True
    assert beat(heater, 20.0, called=False) == 1.0
    assert heater.contacts()["lockout"]
    heater.supply = "off"
    assert beat(heater, 0.1, called=False) == 0.0


def test_electric_heat_needs_call_string_power_and_no_ground_fault() -> None:
    heater = ElectricHeat()
    assert beat(heater, 0.3) == 1.0
    assert heater.contacts()["contactor_closed"]
    for off in ("called", "string", "live"):
        assert beat(heater, 0.3, **{off: False}) == 0.0, off
        assert beat(heater, 0.3) == 1.0
    heater.ground_fault = True
    assert beat(heater, 0.3) == 0.0
    assert not heater.contacts()["ground_fault_clear"]


def test_a_steam_valve_strokes_and_can_hang() -> None:
    heater = SteamHeat()
    assert heater.contacts()["steam_valve_shut"]
    assert beat(heater, 7.5) == pytest.approx(0.5)
    assert not heater.contacts()["steam_valve_shut"]
    assert beat(heater, 8.0) == 1.0
    heater.valve.stuck = 1.0
    assert beat(heater, 30.0, string=False) == 1.0
    heater.supply = "off"
    assert beat(heater, 0.1) == 0.0
