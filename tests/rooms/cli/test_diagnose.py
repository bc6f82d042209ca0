"""`vaporwright diagnose`: a sentence, ranked causes and the next reading; and what it says of a wrong file."""

import json
from pathlib import Path

import pytest

from vaporwright.cli.main import main

JOB = Path(__file__).parents[3] / "examples" / "tumbling_effluent_gas.toml"
HEAD = (
    "evaporation (gal/h),tank_temperature (degF),inlet_air_temperature (degF),inlet_wet_bulb (degF),"
    "pressure (psia),feed_temperature (degF),spray_flow (gal/min),air_flow (cfm),heat_drawn (Btu/h)\n"
)


def read(tmp_path: Path, row: str) -> Path:
    path = tmp_path / "readings.csv"
    path.write_text(HEAD + row + "\n")
    return path


def test_a_tank_too_hot_on_little_air_is_short_of_air(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    readings = read(tmp_path, "25.3,138,65,45,14.3,60,32,950,340000")
    assert main(["diagnose", str(JOB), str(readings)]) == 0
    out = capsys.readouterr().out
    assert "hotter than predicted" in out
    assert "Likeliest: air flow is low" in " ".join(out.split())
    assert all(len(line) <= 80 for line in out.splitlines())
    assert main(["diagnose", str(JOB), str(readings), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["split"] == "tower short"
    assert found["causes"][0]["cause"] == "air_low"
    assert sum(cause["probability"] for cause in found["causes"]) == pytest.approx(1.0)


def test_a_tank_too_cold_on_little_gas_is_short_of_heat(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["diagnose", str(JOB), str(read(tmp_path, "20.0,121,65,45,14.3,60,32,1330,275000"))]) == 0
    out = capsys.readouterr().out
    assert "colder than predicted" in out
    assert "Likeliest: less fuel or power goes in" in " ".join(out.split())


def test_a_wrong_value_is_named_with_its_row_and_column(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["diagnose", str(JOB), str(read(tmp_path, "25.2,warm,65,45,14.3,60,32,950,340000"))]) == 2
    error = capsys.readouterr().err
    assert "readings.csv" in error
    assert "tank_temperature" in error
    assert "warm" in error
