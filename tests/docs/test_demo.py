"""The demo: three enquiries, each with its answer in words, JSON, chart and sheet in a folder that it names."""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path
from types import ModuleType

import pytest

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


@pytest.fixture
def demo() -> ModuleType:
    specification = importlib.util.spec_from_file_location("run_demo", EXAMPLES / "run_demo.py")
    assert specification is not None
    assert specification.loader is not None
    module = importlib.util.module_from_spec(specification)
    specification.loader.exec_module(module)
    return module


@pytest.mark.slow
def test_demo_sizes_every_enquiry(
    demo: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert demo.main() == 0
    printed = capsys.readouterr()
    assert printed.err == ""  # progress is for terminals
    folder = tmp_path / "demo-output"
    assert str(folder) in printed.out.splitlines()[-1]
    assert all(len(line) <= 80 for line in printed.out.splitlines()[:-2])
    kinds = set()
    for job in EXAMPLES.glob("*.toml"):
        answer = json.loads((folder / f"{job.stem}.json").read_text(encoding="utf-8"))
        assert answer["job"]["name"] in printed.out
        assert answer["duty"]["meets_duty"]
        assert answer["catalogue"]["invented"]
        kinds.add(answer["unit"]["heat_source"][0])
        assert (folder / f"{job.stem}.svg").read_text(encoding="utf-8").startswith("<svg")
        assert (folder / f"{job.stem}.pdf").read_bytes().startswith(b"%PDF")
    assert kinds == {"G", "E", "S"}  # gas, electric, steam
    assert printed.out.count("limits it") == 3
    tested = folder / "tumbling_effluent_gas_test"
    assert "record.zip verifies" in printed.out.replace("\n", " ")
    for name in ("procedure.pdf", "reading_sheets.pdf", "certificate.pdf"):
        assert (tested / name).read_bytes().startswith(b"%PDF")


def test_demo_says_where_it_cannot_write(
    demo: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "demo-output").write_text("in the way", encoding="utf-8")
    assert demo.main() == 2
    assert "demo-output" in capsys.readouterr().err


def test_progress_tells_the_time_left_on_a_terminal(
    demo: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    progress = demo.Progress(3)
    for what in ("one", "two", "three"):
        progress.step(what)
    progress.clear()
    printed = capsys.readouterr().err
    assert "[1 of 3] one" in printed
    assert "[3 of 3] three, about 0 s left" in printed
    assert printed.endswith("\r")
