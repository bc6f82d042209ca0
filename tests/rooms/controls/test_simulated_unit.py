"""The wiring between table, devices and plant; and that the shortcuts of a quiet second change no result."""

from __future__ import annotations

from dataclasses import replace

import pytest

from example_rigs import altered_rig, example_rig, library, script
from vaporwright.controls.deeds import act
from vaporwright.controls.design import CauseAndEffect, Signal
from vaporwright.controls.expressions import Is
from vaporwright.controls.rehearsal import rehearse
from vaporwright.controls.rig import Rig
from vaporwright.controls.script import Moment, Script
from vaporwright.controls.simulated_unit import SimulatedUnit
from vaporwright.controls.table import Comparator
from vaporwright.foundation.errors import InputError


def unit(rig: Rig | None = None, level: str = "refill-off") -> SimulatedUnit:
    rig = rig or example_rig("electric")
    return SimulatedUnit(
        rig,
        level_m=rig.stack.mark(level).height_m,
        temperature_K=rig.season.settling_temperature_K,  # type: ignore[arg-type]
    )


def go(subject: SimulatedUnit, seconds: int) -> SimulatedUnit:
    for _ in range(seconds):
        subject.second(nobody, due=True)
    return subject


def nobody(scan: int) -> None:
    del scan


def started() -> SimulatedUnit:
    subject = unit()
    for selector in ("blower", "pump", "refill", "heat"):
        act(subject, "turn", selector, "auto")
    for button in ("reset", "start"):
        go(subject, 2)
        act(subject, "push", "", button)
        go(subject, 1)
        act(subject, "pull", "", button)
    return go(subject, 60)


def part_of_a_day(duration_s: float) -> Script:
    """A start, a refill and what is around it, under waves; a watched sign in it."""
    text = """
    [[event]]
    at = "1 min"
    wave = "0.2 in"
    [[event]]
    when = ["refill_valve on", "refill_valve off"]
    wait = "20 s"
    wave = "0 in"
    [[expect]]
    that = "run"
    is = "on"
    from = "10 s"
    why = "it runs"
    """
    head = '[start]\nlevel = "refill-on + 1.2 in"'
    return replace(script(text, head=head), duration=Moment(duration_s))


def heat_that_cycles() -> Script:
    """In warm-up the tank passes its set point again and again."""
    text = """
    [[event]]
    at = "1 s"
    turn = { warm_up = "on" }
    set_point = "settling"
    """
    head = '[start]\ntemperature = "settling - 1 degF"'
    return script(text, duration="15 min", head=head)


def refused(*args: object) -> bool:
    del args
    return False


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("refilled", "electric"),
        ("cycling", "electric"),
        ("by_hand", "electric"),
        pytest.param("normal_stop", "steam", marks=pytest.mark.slow),
        pytest.param("flame_failure", "gas", marks=pytest.mark.slow),
        pytest.param("power_loss", "gas", marks=pytest.mark.slow),
        pytest.param("silence_and_reset", "electric", marks=pytest.mark.slow),
    ],
)
def test_the_shortcuts_change_no_result(name: str, kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    own = {"refilled": part_of_a_day(600.0), "cycling": heat_that_cycles()}
    this, rig = own[name] if name in own else library(name), example_rig(kind)
    quick = rehearse(this, rig)
    counted = [0]
    step = SimulatedUnit._step_scans

    def count(subject: SimulatedUnit, *args: object) -> None:
        counted[0] += 1
        step(subject, *args)  # type: ignore[arg-type]

    monkeypatch.setattr(SimulatedUnit, "_step_scans", count)
    rehearse(this, rig)
    by_shortcuts = counted[0]
    monkeypatch.setattr(SimulatedUnit, "_stays", refused)
    monkeypatch.setattr(SimulatedUnit, "_only_rods_move", refused)
    slow = rehearse(this, rig)
    assert quick == slow
    if name in own:
        effect = {"refilled": "refill_valve", "cycling": "heat"}[name]
        assert any(entry.name == effect and entry.on is False for entry in quick.entries)
    assert by_shortcuts < 0.5 * quick.plant_time_s  # else there were none to speak of
    assert counted[0] - by_shortcuts == quick.plant_time_s


def test_what_the_table_tells_reaches_the_plant() -> None:
    subject = started()
    assert subject.heater.load == 1.0
    assert subject.plant.state.spray_share == 1.0
    before_kg = subject.plant.totals.tower_evaporation_kg
    go(subject, 10)
    assert subject.plant.totals.tower_evaporation_kg > before_kg
    assert subject.plant.state.heater_W > 0.0


def test_a_motor_whose_contact_stays_open_does_not_run() -> None:
    subject = started()
    act(subject, "weld", "spray_pump", "open")
    go(subject, 3)
    assert subject.pump.position == 0.0
    assert subject.plant.state.spray_share == 0.0


def test_the_emergency_stop_cuts_by_wire_though_every_contact_is_welded() -> None:
    subject = started()
    for name in ("blower", "spray_pump", "heat"):
        act(subject, "weld", name, "welded")
    act(subject, "push", "", "emergency stop")
    go(subject, 30)
    assert subject.heater.load == 0.0
    assert subject.blower.position == 0.0
    assert subject.pump.position == 0.0


def test_a_welded_heat_contact_is_cut_by_the_limit_string() -> None:
    subject = started()
    act(subject, "weld", "heat", "welded")
    act(subject, "turn", "heat", "off")
    assert go(subject, 5).heater.load == 1.0
    subject.low_water.step(False)
    assert go(subject, 1).heater.load == 0.0
    subject.low_water.reset()
    assert go(subject, 1).heater.load == 1.0


@pytest.mark.parametrize("kind", ["gas", "electric", "steam"])
def test_every_contact_of_the_string_opens_it(kind: str) -> None:
    devices = ["emergency_stop_clear", "low_water_clear", "high_limit_clear", "airflow"]
    devices += {
        "gas": ["tube_temperature_clear", "gas_pressure_low_clear", "gas_pressure_high_clear"],
        "electric": ["sheath_temperature_clear"],
        "steam": [],
    }[kind]
    subject = unit(example_rig(kind))
    act(subject, "stick", "airflow", "on")
    assert go(subject, 1).value("limit_string_closed")
    for name in devices:
        act(subject, "stick", name, "off")
        assert not go(subject, 1).value("limit_string_closed"), name
        act(subject, "stick", name, "on")
        assert go(subject, 1).value("limit_string_closed"), name


def test_a_string_whose_end_contact_is_stuck_on_still_cuts_the_heat() -> None:
    subject = started()
    act(subject, "stick", "limit_string_closed", "on")
    act(subject, "stick", "high_limit_clear", "off")
    assert go(subject, 1).heater.load == 0.0


def test_a_stuck_device_opens_the_string_and_a_short_to_the_table_does_not() -> None:
    stuck, short = started(), started()
    act(stuck, "stick", "high_limit_clear", "off")
    act(short, "short", "high_limit_clear", "off")
    go(stuck, 1)
    go(short, 1)
    assert not stuck.value("limit_string_closed")
    assert short.value("limit_string_closed")
    assert not short.value("high_limit_clear")
    act(short, "short", "high_limit_clear", "sound")
    assert go(short, 1).value("high_limit_clear")


def test_without_power_everything_drops_and_the_table_forgets() -> None:
    subject = started()
    act(subject, "supply", "power", "off")
    go(subject, 30)
    assert not any(subject.value(name) for name in subject.table.names)
    assert subject.heater.load == 0.0
    assert subject.blower.position == 0.0
    act(subject, "supply", "power", "on")
    go(subject, 5)
    assert subject.value("blower_auto")
    assert not subject.value("control_on")


def test_foam_wets_rods_and_no_float() -> None:
    subject = unit()
    rise_m = subject.rods.tips_m["high_rod"] - subject.level_m
    act(subject, "foam", "", rise_m + 0.2)
    go(subject, 2)
    assert subject.value("high_rod")
    assert subject.value("high_high_clear")


def test_the_set_point_moves_with_its_deviation_alarm_and_not_with_the_plastic() -> None:
    subject = unit()
    points = subject.rig.points
    act(subject, "set_point", "", points.set_point_K - 10.0)
    act(subject, "thermometer", "", points.deviation_alarm_K - 9.0)
    go(subject, 1)
    assert subject.value("over_set_point")
    assert not subject.value("at_plastic_limit")
    act(subject, "thermometer", "", points.deviation_alarm_K - 11.0)
    go(subject, 1)
    assert subject.value("at_set_point")
    assert not subject.value("over_set_point")


def test_the_drain_empties_and_the_press_draws() -> None:
    subject = go(unit(), 1)
    act(subject, "push", "", "reset")
    go(subject, 1)
    act(subject, "turn", "press", "on")
    go(subject, 130)
    pressed_kg = subject.plant.totals.pressed_kg
    assert pressed_kg == pytest.approx(129.0 * 6.3e-4 * 1000.0, rel=0.05)
    act(subject, "turn", "drain", "on")
    go(subject, 300)
    assert subject.plant.totals.drained_kg > 100.0
    assert subject.plant.totals.pressed_kg == pytest.approx(pressed_kg, rel=0.02)  # draining ends the press


def test_an_input_that_nothing_drives_is_named_and_can_be_given() -> None:
    def with_spare(design: CauseAndEffect) -> CauseAndEffect:
        spare = Signal("spare_switch", "spare", "switch", "something")
        rows = [replace(row, condition=Is("spare_switch")) if row.name == "stop_pushed" else row for row in design.rows]
        return replace(design, signals=(*design.signals, spare), rows=tuple(rows))

    rig = altered_rig("electric", with_spare)
    with pytest.raises(InputError, match=r"spare_switch: is an input that no simulated device drives.*start\.signals"):
        unit(rig)
    given = SimulatedUnit(rig, level_m=0.5, temperature_K=320.0, signals={"spare_switch": True})
    assert go(given, 1).value("spare_switch")


def test_a_quantity_that_is_not_simulated_is_named() -> None:
    def other(design: CauseAndEffect) -> CauseAndEffect:
        return replace(design, comparators=(*design.comparators, Comparator("odd", "ph_value", "above", 9.0, 0.1)))

    with pytest.raises(InputError, match="odd: reads ph_value, which is not simulated"):
        unit(altered_rig("electric", other))


def test_a_scan_that_does_not_fit_a_second_is_refused() -> None:
    rig = example_rig("electric")
    with pytest.raises(InputError, match=r"scan_s: 0\.3 s"):
        unit(replace(rig, table=replace(rig.table, scan_s=0.3)))


@pytest.mark.parametrize(("verb", "target", "value"), [("fail", "flame", "out"), ("supply", "steam", "off")])
def test_a_device_of_another_heat_is_named(verb: str, target: str, value: str) -> None:
    with pytest.raises(InputError, match="this electric unit has no such device"):
        act(unit(), verb, target, value)
