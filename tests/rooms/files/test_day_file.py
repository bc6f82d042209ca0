"""Day files: quantities with units to the conditions of a test, and the commented example to fill in."""

from __future__ import annotations

from pathlib import Path

import pytest

from vaporwright.acceptance.steps.day import DAY_KEYS, DayConditions
from vaporwright.files.day_file import day_text, read_day_file, read_day_text
from vaporwright.foundation.errors import InputError

DAY = """
air_temperature = "75 degF"
wet_bulb = "62 degF"
pressure = "29.1 inHg"
elevation = "700 ft"
water_temperature = "58 degF"
supply_voltage = "478 V"
"""


def read(text: str, heat: str = "gas") -> DayConditions:
    return read_day_text(text, "day.toml", heat)


def test_a_day_in_si() -> None:
    day = read(DAY + 'duct_loss = "0.25 inH2O"\nexhaust_recirculation = "2 %"\n')
    assert day.air_temperature_K == pytest.approx((75 + 459.67) / 1.8)
    assert day.wet_bulb_K == pytest.approx((62 + 459.67) / 1.8)
    assert day.pressure_Pa == pytest.approx(29.1 * 3386.389)
    assert day.elevation_m == pytest.approx(213.36)
    assert day.water_temperature_K == pytest.approx((58 + 459.67) / 1.8)
    assert (day.supply_voltage_V, day.steam_gauge_Pa) == (478.0, None)
    assert day.duct_loss_Pa == pytest.approx(62.2722275)
    assert day.exhaust_recirculation == pytest.approx(0.02)


def test_steam_needs_its_pressure_and_nothing_else_has_one() -> None:
    day = read(DAY + 'steam_gauge = "15 psig"\n', "steam")
    assert day.steam_gauge_Pa == pytest.approx(15 * 6894.757293168)
    with pytest.raises(InputError, match="steam_gauge: missing"):
        read(DAY, "steam")
    with pytest.raises(InputError, match="is for a unit heated by steam; this one is heated by gas"):
        read(DAY + 'steam_gauge = "15 psig"\n')


@pytest.mark.parametrize(
    ("old", "new", "key", "problem"),
    [
        ('"75 degF"', '"75"', "air_temperature", "has no unit"),
        ('"75 degF"', "75", "air_temperature", "75 has no unit"),
        ('"75 degF"', '"750 degF"', "air_temperature", "is too high"),
        ('"62 degF"', '"76 degF"', "wet_bulb", "is above the air's"),
        ('"29.1 inHg"', '"14.2 psi"', "pressure", "does not say whether it is gauge or absolute"),
        ('"29.1 inHg"', '"14.2 psig"', "pressure", "is a gauge pressure"),
        ("water_temperature", "water_temprature", "water_temprature", "nearest valid key: water_temperature"),
        ('supply_voltage = "478 V"', "", "supply_voltage", "missing: supply voltage"),
    ],
)
def test_each_fault_names_its_key(old: str, new: str, key: str, problem: str) -> None:
    with pytest.raises(InputError) as caught:
        read(DAY.replace(old, new))
    assert (caught.value.where, caught.value.key) == ("day.toml", key)
    assert problem in caught.value.problem


@pytest.mark.parametrize("heat", ["gas", "electric", "steam"])
def test_the_example_is_not_a_day_until_it_is_filled_in(heat: str) -> None:
    text = day_text(heat)
    with pytest.raises(InputError):
        read(text, heat)
    filled = "\n".join(line.removeprefix("# ") if ' = "' in line else line for line in text.splitlines())
    assert isinstance(read(filled, heat), DayConditions)
    assert ("steam_gauge" in text) == (heat == "steam")


def test_a_day_is_written_and_read_back(tmp_path: Path) -> None:
    day = DayConditions(295.3, 288.1, 98765.4, 210.0, 287.6, 478.3, 61.0, 0.015, 103421.4)
    path = tmp_path / "day.toml"
    path.write_text(day_text("steam", day), encoding="utf-8")
    back = read_day_file(path, "steam")
    for key in DAY_KEYS:
        assert getattr(back, key.name) == pytest.approx(getattr(day, key.name), rel=2e-9), key.name
