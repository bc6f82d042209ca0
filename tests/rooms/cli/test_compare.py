"""A change order: what moves is printed with both values, what does not is left out."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from vaporwright.cli.main import main

EXAMPLE = next(path for path in (Path(__file__).parents[3] / "examples").glob("*gas*.toml"))


@pytest.fixture
def changed(tmp_path: Path) -> Path:
    text = EXAMPLE.read_text(encoding="utf-8")
    assert "6000 gal/month" in text
    path = tmp_path / "more.toml"
    path.write_text(text.replace("6000 gal/month", "9000 gal/month"), encoding="utf-8")
    return path


def test_more_to_evaporate_moves_the_duty_the_burner_and_the_rods(
    changed: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["compare", str(EXAMPLE), str(changed)]) == 0
    text = capsys.readouterr().out
    duty = next(line for line in text.splitlines() if "needed while running" in line)
    old, new = (float(part) for part in duty.replace("gal/h", "").split()[-2:])
    assert new == pytest.approx(1.5 * old, rel=0.005)
    assert "old: gas burner" in text
    assert "new: gas burner" in text
    assert "low rod, cut to" in text
    assert "Gas, combustion air, flue" in text
    assert "Electrical" in text
    assert all(len(line) <= 80 for line in text.splitlines())
    sections = [line for line in text.splitlines() if line and not line.startswith((" ", "-"))]
    assert len(sections) == len(set(sections))


def test_the_same_job_moves_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["compare", str(EXAMPLE), str(EXAMPLE)]) == 0
    assert "Nothing that is printed differs." in capsys.readouterr().out


def test_an_error_names_the_file_at_fault(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text(EXAMPLE.read_text(encoding="utf-8").replace('"700 ft"', '"-9000 ft"'), encoding="utf-8")
    assert main(["compare", str(EXAMPLE), str(bad)]) == 2
    assert "bad.toml: site.elevation" in capsys.readouterr().err


def test_a_part_that_cannot_be_solved_leaves_the_rest(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # A header below the liquor is no spray circuit; capacity and levels stand all the same.
    text = EXAMPLE.read_text(encoding="utf-8").replace(
        'heat_source = "gas"', 'heat_source = "gas"\nheader_height = "2 ft"'
    )
    low = tmp_path / "low.toml"
    low.write_text(text, encoding="utf-8")
    assert main(["compare", str(EXAMPLE), str(low)]) == 0
    assert "the header stands above the level" in " ".join(capsys.readouterr().out.split())
    assert main(["size", str(low)]) == 0
    report = capsys.readouterr().out
    assert "Hydraulics at the low rod, hottest liquor: NOT SOLVED:" in report
    assert "Levels above the low corner" in report
    assert main(["size", str(low), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert "the header stands above the level" in answer["hydraulics"]["problem"]
    assert answer["levels"]["low_m"] > 0.0
    assert answer["capacity"]["winter"]["evaporation_kg_s"] > 0.0


def test_for_machines_every_value_that_differs_by_its_path(changed: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["compare", str(EXAMPLE), str(changed), "--json"]) == 0
    moved = json.loads(capsys.readouterr().out)
    required = moved["duty.required_evaporation_kg_s"]
    assert required["new"] == pytest.approx(1.5 * required["old"])
    assert all(entry["old"] != entry["new"] for entry in moved.values())
    assert "job.name" not in moved
    assert main(["compare", str(EXAMPLE), str(EXAMPLE), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {}
