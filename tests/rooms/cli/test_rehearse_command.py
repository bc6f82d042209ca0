"""`rehearse`: a script's verdict is the exit code; events, alarms and what was not met are told."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from vaporwright.cli.main import main
from vaporwright.cli.rehearsal_report import clock

GAS = Path(__file__).parents[3] / "examples" / "tumbling_effluent_gas.toml"
START = """
name = "Selectors, reset, start"
purpose = "The blower comes, and air is proven before the pump runs."
duration = "2 min"

[start]
level = "refill-off"

[[event]]
at = "0 s"
turn = { blower = "auto", pump = "auto", refill = "auto", heat = "auto" }

[[event]]
at = "2 s"
push = "reset"

[[event]]
at = "5 s"
push = "start"
"""
BLOWER = """
[[expect]]
that = "blower"
is = "on"
when = "run on"
within = "1 s"
why = "The blower is the first to come."
"""
NEVER = """
[[expect]]
that = "spray_pump"
is = "off"
when = "run on"
for = "1 min"
why = "Planted: the pump does come."
"""


def script(folder: Path, text: str) -> str:
    path = folder / "script.toml"
    path.write_text(text, encoding="utf-8")
    return str(path)


def test_what_is_met_is_a_yes_with_its_events(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rehearse", str(GAS), "--script", script(tmp_path, START + BLOWER)]) == 0
    text = capsys.readouterr().out
    assert "Every expectation is met: 1 of 1" in text
    assert "Events" in text
    assert "blower" in text
    assert "no functional-safety assessment" in " ".join(
        text.replace("functional-\nsafety", "functional-safety").split()
    )
    assert all(len(line) <= 80 for line in text.splitlines())


def test_what_is_not_met_is_a_no_with_its_reason(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = script(tmp_path, START + BLOWER + NEVER)
    assert main(["rehearse", str(GAS), "--script", path]) == 1
    text = capsys.readouterr().out
    assert "1 expectations are NOT met: 1 of 2" in text
    assert "Planted: the pump does come." in text
    assert main(["rehearse", str(GAS), "--script", path, "--json"]) == 1
    (told,) = json.loads(capsys.readouterr().out)["scripts"]
    assert [entry["met"] for entry in told["expectations"]] == [True, False]
    blower = next(entry for entry in told["events"] if entry["name"] == "blower" and entry["on"])
    pump = next(entry for entry in told["events"] if entry["name"] == "spray_pump" and entry["on"])
    assert pump["time_s"] - blower["time_s"] >= 10.0  # airflow is proven for 10 s before the pump may run
    assert len(told["traces"]["time_s"]) == len(told["traces"]["tank_temperature"])


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('push = "start"', 'push = "go"', '"go"'),
        ('at = "5 s"', 'at = "5 miles"', "5 miles"),
        ('that = "blower"', 'that = "bellows"', "bellows"),
        ('duration = "2 min"', "", "duration"),
    ],
)
def test_a_faulty_script_is_one_clear_message(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], old: str, new: str, words: str
) -> None:
    text = START + BLOWER
    assert old in text
    assert main(["rehearse", str(GAS), "--script", script(tmp_path, text.replace(old, new, 1))]) == 2
    message = capsys.readouterr().err
    assert "script.toml" in message
    assert words in message


def test_a_chart_is_of_one_script(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert main(["rehearse", str(GAS), "--chart", str(tmp_path / "chart.svg")]) == 2
    assert "--script FILE" in capsys.readouterr().err


def test_the_clock_of_a_rehearsal() -> None:
    assert [clock(time_s) for time_s in (0.0, 59.96, 3725.1)] == ["  0:00:00.0", "  0:01:00.0", "  1:02:05.1"]
