"""`vaporwright accept`: a run at the command line, with what it refuses; its options are the record's words."""

from __future__ import annotations

import json
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path

import pytest

from vaporwright.acceptance.record.events import PERFORMANCE_RUN, WHOLE_TEST, Category, RunKind
from vaporwright.acceptance.record.roles import ROLES
from vaporwright.acceptance.steps.procedure import VARIANTS
from vaporwright.cli import accept_parser
from vaporwright.cli.main import main
from vaporwright.store.commit import load_state
from vaporwright.store.sql_store import open_store

ROOT = Path(__file__).parents[3]
JOB = ROOT / "examples" / "nickel_rinse_electric.toml"
INSTRUMENTS = ROOT / "examples" / "shop" / "test_instruments.toml"
DAY = """\
air_temperature = "22 degC"
wet_bulb = "15 degC"
pressure = "985 hPa"
elevation = "240 m"
water_temperature = "14 degC"
supply_voltage = "478 V"
"""


def test_the_words_of_the_options_are_those_of_the_record() -> None:
    assert tuple(VARIANTS) == accept_parser.VARIANTS
    assert RunKind.__args__ == accept_parser.KINDS_OF_RUN
    assert ROLES == accept_parser.ROLES
    assert Category.__args__ == accept_parser.CATEGORIES
    assert (PERFORMANCE_RUN, WHOLE_TEST) == (accept_parser.PERFORMANCE_RUN, accept_parser.WHOLE_TEST)


def test_the_day_file_that_is_written_is_one_that_is_read_when_filled_in(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from vaporwright.files.day_file import read_day_file

    path = tmp_path / "day.toml"
    assert main(["accept", "day", str(JOB), str(path)]) == 0
    lines = [line.removeprefix("# ") if " = " in line else line for line in path.read_text().split("\n")]
    path.write_text("\n".join(lines))
    assert read_day_file(path, "electric").supply_voltage_V == 480.0
    assert "procedure" in capsys.readouterr().out
    assert main(["accept", "day", str(JOB), str(path)]) == 2


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a store in which the dry run `dry` is open."""
    folder = tmp_path_factory.mktemp("shop")
    (folder / "day.toml").write_text(DAY)
    given = ["--store", str(folder / "s.sqlite"), "--by", "A. Invented", "--day", str(folder / "day.toml")]
    code = main(["accept", "open", "dry", str(JOB), *given, "--instruments", str(INSTRUMENTS), "--role", "engineer"])
    assert code == 0
    return folder


def run(shop: Path, *words: str, by: str = "A. Invented", role: str = "technician") -> int:
    entering = [] if words[0] in ("status", "export", "certificate", "runs") else ["--by", by, "--role", role]
    return main(["accept", *words, "--store", str(shop / "s.sqlite"), *entering])


def status(shop: Path, capsys: pytest.CaptureFixture[str]) -> dict[str, object]:
    capsys.readouterr()
    assert run(shop, "status", "dry", "--json") == 0
    found = json.loads(capsys.readouterr().out)
    assert isinstance(found, dict)
    return found


@pytest.mark.slow
def test_a_step_is_read_judged_corrected_and_kept(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with closing(open_store(str(shop / "s.sqlite"))) as store:
        step = load_state(store, "dry").steps[0]
    ticks = [f"{field.key}=yes" for field in step.fields]
    role = "engineer" if step.by == "engineer" else "technician"
    assert run(shop, "read", "dry", step.key, *ticks, role=role) == 0
    out = capsys.readouterr().out
    assert "accepted" in out
    assert run(shop, "read", "dry", step.key, ticks[0], role=role) == 2
    assert "is read already" in capsys.readouterr().err
    assert run(shop, "read", "dry", step.key, ticks[0].replace("yes", "no"), "--correct", "misread", role=role) == 0
    assert "not accepted" in capsys.readouterr().out
    before = status(shop, capsys)
    assert before["counts"]["not accepted"] == 1  # type: ignore[index]
    assert run(shop, "repeat", "dry", step.key, "--reason", "paper was found", role=role) == 0
    assert run(shop, "read", "dry", step.key, *ticks, role=role) == 0
    assert status(shop, capsys)["counts"]["accepted"] == 1  # type: ignore[index]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("read", "dry", "no.such", "x=1"), "no.such"),
        (("skip", "dry", "documents.list", "--reason", " "), "reason"),
        (("point", "dry", "documents.list"), "hold or witness point"),
        (("sign", "dry"), ""),
        (("result", "dry"), "no rows of a performance run"),
        (("retested", "dry", "7", "--evidence", "seen"), "7"),
        (("read", "nowhere", "documents.list", "x=1"), "is no run of this store"),
    ],
)
def test_what_does_not_fit_is_refused_with_one_message_and_nothing_is_entered(
    shop: Path, words: tuple[str, ...], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    seq = status(shop, capsys)["seq"]
    assert run(shop, *words, role="engineer") == 2
    error = capsys.readouterr().err
    assert error.startswith("vaporwright: ")
    assert error.count("\n") == 1
    assert said in error
    assert status(shop, capsys)["seq"] == seq


@pytest.mark.slow
def test_punch_list_and_attachments_and_export(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    photo = shop / "photo.png"
    photo.write_bytes(b"\x89PNG invented")
    assert run(shop, "attach", "dry", str(photo)) == 0
    assert run(shop, "punch", "dry", "B", "label of the drain", "--owner", "shop") == 0
    assert run(shop, "retested", "dry", "1", "--evidence", "label seen") == 0
    assert run(shop, "runs") == 0
    assert "dry run" in capsys.readouterr().out
    record = shop / "record.zip"
    assert run(shop, "export", "dry", str(record)) == 0
    assert run(shop, "export", "dry", str(record)) == 2  # never overwritten
    capsys.readouterr()
    assert main(["accept", "verify", str(record)]) == 0
    assert "nobody has signed it" in capsys.readouterr().out
    content = bytearray(record.read_bytes())
    content[-40] ^= 1
    (shop / "altered.zip").write_bytes(content)
    assert main(["accept", "verify", str(shop / "altered.zip")]) == 1
    assert "does NOT verify" in capsys.readouterr().out


@pytest.mark.slow
def test_a_certificate_of_an_unfinished_run_says_that_it_is_none(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(shop, "certificate", "dry", "--pdf", str(shop / "c.pdf")) == 1
    found = capsys.readouterr()
    assert "not run" in found.out
    assert "no digital signature" in found.err


@pytest.mark.slow
def test_a_witnessed_run_needs_a_signed_dry_run_or_a_reason(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    given = ["open", "seen", str(JOB), "--day", str(shop / "day.toml"), "--kind", "witnessed"]
    assert run(shop, *given) == 2
    assert "dry run" in capsys.readouterr().err
    assert run(shop, *given, "--dry-run", "dry") == 2
    assert "no dry run signed" in capsys.readouterr().err


@pytest.mark.slow
def test_an_expired_instrument_passes_nothing(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    yesterday = date.today() - timedelta(days=1)
    text = f"""[[instrument]]
id = "OLD"
kind = "barometer"
title = "expired"
certificate = "invented 1"
uncertainty = "1 hPa"
due = {yesterday.isoformat()}
"""
    (shop / "old.toml").write_text(text)
    assert run(shop, "register", "dry", str(shop / "old.toml")) == 0
    capsys.readouterr()
    step = "documents.conditions"
    state = status(shop, capsys)
    assert step in state["steps"]  # type: ignore[operator]
    given = ("--step", "documents.instruments", "--agreed-by", "B. Invented")
    assert run(shop, "deviate", "dry", "registered later", *given, role="engineer") == 0
    capsys.readouterr()
    assert run(shop, "read", "dry", step, "pressure_Pa=985 hPa", "--with", "OLD", role="engineer") == 0
    assert "error of the test itself" in capsys.readouterr().out


def test_what_may_go_on_for_days_keeps_collecting_its_waste(monkeypatch: pytest.MonkeyPatch) -> None:
    """The commands that end soon switch the collector off; a server or a live log would grow without end."""
    import gc
    import sys

    switched: list[str] = []
    monkeypatch.setattr(gc, "disable", lambda: switched.append("off"))
    monkeypatch.setattr("vaporwright.cli.main.serving", lambda _options: 0)
    monkeypatch.setattr(sys, "argv", ["vaporwright", "serve"])
    assert main() == 0
    assert switched == []
    monkeypatch.setattr(sys, "argv", ["vaporwright", "catalogue", "fit"])
    assert main() == 0
    assert switched == ["off"]
