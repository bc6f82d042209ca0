"""`controls` and `prove`: the table of a job as printed, written, edited by the shop, and proved."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from vaporwright.actions import prove_job as prove_job_module
from vaporwright.actions.control_job import control_job
from vaporwright.cli.main import main
from vaporwright.controls.properties import Property
from vaporwright.controls.unit_properties import claims_of, properties_of
from vaporwright.controls.unit_table import UnitTable

EXAMPLES = Path(__file__).parents[3] / "examples"
GAS = EXAMPLES / "tumbling_effluent_gas.toml"
FEW = ("heat_needs_level", "pump_needs_air", "low_level_locks_heat")


def job_with(folder: Path, *lines: str, tables: str = "") -> Path:
    """The gas example with keys before its first table and tables behind its last."""
    path = folder / "job.toml"
    path.write_text("\n".join([*lines, GAS.read_text(encoding="utf-8"), tables]), encoding="utf-8")
    return path


@pytest.fixture
def few(monkeypatch: pytest.MonkeyPatch) -> None:
    """Three claims instead of all: these tests are about what the command makes of a proof, not about the proof."""

    def chosen(unit: UnitTable) -> tuple[Property, ...]:
        return tuple(claim for claim in claims_of(unit) if claim.name in FEW)

    monkeypatch.setattr(prove_job_module, "properties_of", chosen)
    monkeypatch.setattr(prove_job_module, "claims_of", chosen)


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.toml")), ids=lambda path: path.stem)
def test_every_demo_unit_has_a_table(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["controls", str(path)]) == 0
    text = capsys.readouterr().out
    assert all(len(line) <= 80 for line in text.splitlines())
    for words in ("set point", "deviation alarm", "low level", "high-high level", "is no functional-safety"):
        assert words in text
    assert main(["controls", str(path), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["set_points"]["set_point_K"] < answer["set_points"]["plastic_limit_K"]
    assert answer["delays"]["rod_dry_s"] == 4.0
    assert all(row["why"] for row in answer["rows"])


def test_the_written_table_stands_in_place_of_the_made_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    table, text, points = (tmp_path / name for name in ("table.toml", "unit.st", "io.csv"))
    wanted = ["--table", str(table), "--plc-text", str(text), "--io-list", str(points)]
    assert main(["controls", str(GAS), *wanted]) == 0
    assert main(["controls", str(GAS), *wanted]) == 2
    assert "exists already" in capsys.readouterr().err
    edited = control_job(job_with(tmp_path, 'control_table = "table.toml"'))
    assert edited.is_edited
    assert edited.unit.design == control_job(GAS).unit.design
    assert edited.table == control_job(GAS).table
    assert "END_PROGRAM" in text.read_text(encoding="utf-8")
    assert "UNVERIFIED EXPORT" in text.read_text(encoding="utf-8")
    rows = list(csv.DictReader(points.read_text(encoding="utf-8").splitlines()))
    listed = {row["name"] for row in rows}
    assert {signal.name for signal in edited.unit.design.signals} <= listed
    assert {"blower", "spray_pump", "heat"} <= listed


def test_a_faulty_table_is_one_clear_message(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["controls", str(GAS), "--table", str(tmp_path / "table.toml")]) == 0
    table = tmp_path / "table.toml"
    table.write_text(table.read_text(encoding="utf-8").replace("not low_rod", "not lower_rod", 1), encoding="utf-8")
    capsys.readouterr()
    assert main(["controls", str(job_with(tmp_path, 'control_table = "table.toml"'))]) == 2
    message = capsys.readouterr().err
    assert "table.toml" in message
    assert "lower_rod" in message
    assert "low_level" in message


@pytest.mark.usefixtures("few")
def test_a_proved_table_is_a_yes(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["prove", str(GAS), "--full"]) == 0
    text = capsys.readouterr().out
    assert "All 3 properties are proved" in text
    assert all(name in text for name in FEW)


@pytest.mark.usefixtures("few")
def test_a_fallen_property_is_a_no_unless_accepted_in_writing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["controls", str(GAS), "--table", str(tmp_path / "table.toml")]) == 0
    table = tmp_path / "table.toml"
    whole = table.read_text(encoding="utf-8")
    head, row, rest = whole.partition("[row.low_level_heat]")
    assert row
    broken = rest.replace('off = ["heat"]', "", 1)  # low level no longer keeps the heat locked out
    assert broken != rest
    table.write_text(head + row + broken, encoding="utf-8")
    capsys.readouterr()
    assert main(["prove", str(job_with(tmp_path, 'control_table = "table.toml"'))]) == 1
    text = capsys.readouterr().out
    assert "1 of 3 properties are not proved; the job accepts 0" in " ".join(text.split())
    assert "FALLEN: low_level_locks_heat" in text
    assert "heat on" in text  # the counterexample, replayed
    accepted = '[accepted]\nlow_level_locks_heat = "a second, hard-wired low-water relay holds the heat"\n'
    assert main(["prove", str(job_with(tmp_path, 'control_table = "table.toml"', tables=accepted)), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["holds"]
    (fallen,) = [entry for entry in answer["properties"] if entry["status"] == "fallen"]
    assert fallen["accepted"].startswith("a second")


@pytest.mark.usefixtures("few")
def test_what_is_accepted_must_be_a_property_with_a_reason(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["prove", str(job_with(tmp_path, tables='[accepted]\nno_such = "a long enough reason"\n'))]) == 2
    assert "accepted.no_such: there is no such property" in capsys.readouterr().err
    assert main(["prove", str(job_with(tmp_path, tables='[accepted]\npump_needs_air = "ok"\n'))]) == 2
    assert "accepted.pump_needs_air" in capsys.readouterr().err


@pytest.mark.slow
@pytest.mark.usefixtures("few")
def test_single_faults_name_what_a_designer_must_add(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["prove", str(GAS), "--faults", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    found = {
        (entry["signal_or_output"], entry["stuck"], entry["property"]): entry["survives"]
        for entry in answer["single_faults"]
    }
    # By the trade: the dangerous rod failure is a false wet; a bridged airflow switch hides a lost blower.
    assert found["low_rod", True, "heat_needs_level"] == "falls"
    assert found["airflow", True, "pump_needs_air"] == "falls"
    assert ("low_rod", False, "heat_needs_level") not in found
    assert main(["prove", str(GAS), "--faults"]) == 0
    text = capsys.readouterr().out
    assert "low_rod stuck on: FALLS: " in text
    assert all(len(line) <= 80 for line in text.splitlines())


@pytest.mark.slow
@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.toml")), ids=lambda path: path.stem)
def test_every_property_of_every_demo_unit_is_proved(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["prove", str(path), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert len(answer["properties"]) == len(properties_of(control_job(path).unit))
    assert not answer["rows_that_never_act"]
