"""Writing chart and sheet: into the file named, or one clear error and no file."""

from __future__ import annotations

from pathlib import Path

import pytest

from vaporwright.actions.papers import write_chart, write_elevation, write_sizing_sheet
from vaporwright.actions.size_job import Outcome, size_job
from vaporwright.foundation.errors import InputError

EXAMPLE = Path(__file__).resolve().parents[3] / "examples" / "tumbling_effluent_gas.toml"


@pytest.fixture(scope="module")
def outcome() -> Outcome:
    return size_job(EXAMPLE)


def test_chart_elevation_and_sheet_are_what_their_names_say(outcome: Outcome, tmp_path: Path) -> None:
    chart = write_chart(outcome, tmp_path / "chart.svg", "US")
    assert chart.read_text(encoding="utf-8").lstrip().startswith("<svg")
    elevation = write_elevation(outcome, tmp_path / "elevation.svg", "US").read_text(encoding="utf-8")
    assert "<svg" in elevation
    assert "Tumbling effluent, gas" in elevation
    sheet = write_sizing_sheet(outcome, tmp_path / "sheet.pdf", "SI")
    assert sheet.read_bytes().startswith(b"%PDF-")


@pytest.mark.parametrize("write", [write_chart, write_elevation, write_sizing_sheet])
@pytest.mark.parametrize("name", ["missing/paper", "", "a" * 400])
def test_a_file_that_cannot_be_written_is_named(outcome: Outcome, tmp_path: Path, write, name: str) -> None:  # type: ignore[no-untyped-def]
    target = tmp_path / name
    with pytest.raises(InputError, match="cannot be written") as caught:
        write(outcome, target, "US")
    assert caught.value.where == str(target)
    assert list(tmp_path.iterdir()) == []
