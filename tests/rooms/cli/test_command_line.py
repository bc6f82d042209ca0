"""The command line: exit codes, one message for bad input, reports that fit, start-up that stays light."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from vaporwright.cli.main import main

EXAMPLES = Path(__file__).resolve().parents[3] / "examples"
GAS = EXAMPLES / "tumbling_effluent_gas.toml"
VOLUME = '[duty]\nvolume = "6000 gal/month"\n'


def job(folder: Path, text: str) -> Path:
    path = folder / "job.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize("example", sorted(EXAMPLES.glob("*.toml")), ids=lambda path: path.stem)
@pytest.mark.parametrize("units", ["US", "SI"])
def test_report_fits_80_columns_and_shows_few_digits(
    example: Path, units: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["size", str(example), "--units", units, "--full"]) == 0
    text = capsys.readouterr().out
    assert max(len(line) for line in text.splitlines()) <= 80
    assert "\033" not in text
    assert not re.search(r"\d[eE][+-]?\d|nan|inf\b", text)
    numbers = re.findall(r"(?<![\w.])\d[\d,]*\.?\d*", text)
    assert max(len(number.replace(",", "").replace(".", "").strip("0")) for number in numbers) <= 5


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("", ["is empty"]),
        ('[job]\nname = "x"\n', ["duty.volume"]),
        ("[duty\n", ["line 1"]),
        (VOLUME.replace("volume", "volumn"), ["duty.volumn", "duty.volume"]),
        (VOLUME.replace("6000", "-6000"), ["duty.volume", "-6000 gal/month"]),
        (VOLUME.replace("gal/month", "psi"), ["duty.volume", "6000 psi"]),
        (VOLUME + '[liquid]\nfeed_temperature = "300 degF"\n', ["liquid.feed_temperature", "300 degF"]),
        (VOLUME + '[site.summer]\nair_temperature = "80 degF"\nwet_bulb = "90 degF"\n', ["site.summer.wet_bulb"]),
        (
            VOLUME + '[site.summer]\nwet_bulb = "70 degF"\nrelative_humidity = "50 %"\n',
            ["site.summer.relative_humidity", "site.summer.wet_bulb"],
        ),
        (VOLUME + '[liquid]\ndissolved_solids = "60000 mg/L"\nconcentration_factor = 20\n', ["concentration_factor"]),
        (VOLUME + '[unit]\ntower = "T99"\n', ["unit.tower", "T99", "T6"]),
        (VOLUME + '[unit]\npump = "P99"\n', ["unit.pump", "P99"]),
        (VOLUME + '[utilities]\nfuel = "none"\n', ["utilities.fuel", "natural gas"]),
        ('catalogue = "none.toml"\n' + VOLUME, ["catalogue", "none.toml"]),
    ],
)
def test_bad_input_is_one_clear_message(
    text: str, parts: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = job(tmp_path, text)
    assert main(["size", str(path)]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err.count("\n") == 1
    assert str(path) in captured.err
    for part in parts:
        assert part in captured.err


def test_missing_file_and_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for path in (tmp_path / "nothing.toml", tmp_path):
        assert main(["rate", str(path)]) == 2
        assert str(path) in capsys.readouterr().err


@pytest.mark.parametrize("hazard", ["flammable", "cyanide", "strong oxidiser", "volatile"])
def test_hazardous_liquids_are_refused_with_the_reason(
    hazard: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # Refused before anything else is looked at: the catalogue named here would be an error of its own otherwise.
    path = job(tmp_path, VOLUME + f'[liquid]\nhazards = ["{hazard}"]\n')
    assert main(["size", str(path)]) == 1
    captured = capsys.readouterr()
    assert captured.out == ""
    assert hazard in captured.err
    assert "not sized" in captured.err


def test_duty_beyond_the_catalogue_is_a_no(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = job(tmp_path, VOLUME.replace("6000", "200000"))
    assert main(["size", str(path)]) == 1
    assert "too small" in capsys.readouterr().out


def test_rate_needs_a_unit_and_then_predicts_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rate", str(job(tmp_path, VOLUME))]) == 2
    assert "unit.tower" in capsys.readouterr().err
    unit = '[unit]\ntower = "T2"\ntank = "K10-316"\nheat_source = "G500"\n[choices]\nset_point = "130 degF"\n'
    assert main(["rate", str(job(tmp_path, VOLUME + unit))]) == 1  # a small tower under a large burner, on purpose
    text = capsys.readouterr().out
    assert "The tower limits it" in text
    assert "130 °F" in text


def test_why_follows_a_number_to_its_source(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["size", str(GAS), "--why", "tower_evaporation_kg_s"]) == 0
    text = capsys.readouterr().out
    assert "Poppe" in text
    assert "Kloppers" in text
    assert "(assumed)" not in text
    assert main(["size", str(GAS), "--why", "surface_evaporation_kg_s"]) == 0
    assert "choices.lid_covered" in capsys.readouterr().out
    assert main(["size", str(GAS), "--why", "settling_temperatur"]) == 2
    assert "settling_temperature_K" in capsys.readouterr().err


def test_every_number_that_why_lists_can_be_followed() -> None:
    from vaporwright.actions.size_job import size_job
    from vaporwright.cli.why import why_text

    outcome = size_job(GAS)
    answer, body = outcome.answer, outcome.body
    names = why_text(answer, body, "list", "US").splitlines()
    assert len(names) > 20
    for name in names:
        assert why_text(answer, body, name, "SI").startswith(f"{name} = ")


def test_start_writes_a_job_that_can_be_sized(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "new.toml"
    assert main(["start", str(path)]) == 0
    assert main(["size", str(path)]) in (0, 1)
    capsys.readouterr()
    before = path.read_text(encoding="utf-8")
    assert main(["start", str(path)]) == 2
    assert path.read_text(encoding="utf-8") == before


def test_papers_that_cannot_be_written_are_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "no such folder" / "chart.svg"
    assert main(["size", str(GAS), "--chart", str(target)]) == 2
    assert str(target) in capsys.readouterr().err


def test_catalogue_fit(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["catalogue", "fit", "--tower", "T6"]) == 0
    text = capsys.readouterr().out
    assert "n is negative" in text
    assert "poppe model" in text
    assert max(len(line) for line in text.splitlines()) <= 80
    assert main(["catalogue", "fit", "--tower", "T99"]) == 2


HEAVY = ("numpy", "pint", "numba", "scipy", "vl_convert", "typst")
FOR_BATCHES_AND_PAPERS = ("numba", "scipy.special", "scipy.optimize", "vl_convert", "typst", "CoolProp")


@pytest.mark.parametrize(
    ("arguments", "absent"), [(["--help"], HEAVY), (["size", str(GAS), "--json"], FOR_BATCHES_AND_PAPERS)]
)
def test_start_up_imports_only_what_it_needs(arguments: list[str], absent: tuple[str, ...]) -> None:
    code = (
        "import sys\nfrom vaporwright.cli.main import main\n"
        f"try:\n    main({arguments!r})\nexcept SystemExit:\n    pass\n"
        f"print('LOADED', [name for name in {absent!r} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.rstrip().endswith("LOADED []")
