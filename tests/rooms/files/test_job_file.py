"""Job files: what is read, and the one clear message for each fault."""

from pathlib import Path

import pytest

from vaporwright.files.job_file import read_job_file, started_job_text, write_started_job
from vaporwright.files.quantities import NUMBER_QUANTITIES
from vaporwright.files.values import read_value
from vaporwright.foundation.errors import InputError
from vaporwright.unit.fields import FIELDS, FIELDS_BY_KEY
from vaporwright.unit.job import build_job

EXAMPLES = sorted((Path(__file__).parents[3] / "examples").glob("*.toml"))
DUTY = '[duty]\nvolume = "26 gal/h"\n'


def written(folder: Path, text: str) -> Path:
    path = folder / "job.toml"
    path.write_text(text, encoding="utf-8")
    return path


def fault(path: Path) -> InputError:
    with pytest.raises(InputError) as caught:
        read_job_file(path)
    assert caught.value.where == str(path)
    return caught.value


def test_values_come_in_si_and_as_typed(tmp_path: Path) -> None:
    text = (
        '[duty]\nvolume = "26 gal/h"\nhours_per_day = 16\navailability = "85 %"\n'
        '[liquid]\npH = 8\nhazards = ["none"]\n[site.summer]\nair_temperature = "90 degF"\n'
        '[choices]\nheat_source = "Steam"\n'
    )
    job = read_job_file(written(tmp_path, text))
    assert job.values["duty.volume"] == pytest.approx(2.7339085e-5)
    assert job.values["site.summer.air_temperature"] == pytest.approx(305.372222)
    assert job.values["duty.hours_per_day"] == 16.0
    assert job.values["duty.availability"] == 0.85
    assert job.values["liquid.pH"] == 8.0
    assert job.values["liquid.hazards"] == ("none",)
    assert job.values["choices.heat_source"] == "steam"
    assert job.texts["duty.volume"] == "26 gal/h"
    assert job.texts["duty.availability"] == "85 %"
    assert job.catalogue is None
    assert job.text == text


def test_the_catalogue_is_found_from_the_job_file(tmp_path: Path) -> None:
    (tmp_path / "ours.toml").write_text("", encoding="utf-8")
    job = read_job_file(written(tmp_path, 'catalogue = "ours.toml"\n' + DUTY))
    assert job.catalogue == tmp_path / "ours.toml"
    assert "catalogue" not in job.values


@pytest.mark.parametrize(
    ("text", "key", "problem", "allowed"),
    [
        ('[duty]\nvolum = "26 gal/h"', "duty.volum", "unknown key; nearest valid key: duty.volume", ""),
        (DUTY + 'elevation = "700 ft"', "duty.elevation", "unknown key; nearest valid key: site.elevation", ""),
        (DUTY + "[sight]\nelevation = 3", "sight.elevation", "unknown key; nearest valid key: site.elevation", ""),
        (DUTY + "[zzz]\nqqq = 3", "zzz.qqq", "unknown key", "tables [job], [duty]"),
        (DUTY + '[site.summer]\nrh = "50 %"', "site.summer.rh", "unknown key", "site.summer.wet_bulb"),
        ("title = 3\n" + DUTY, "title", "unknown key", "tables [job], [duty]"),
        ('[site]\nelevation = "700 ft"', "duty.volume", "missing: Wastewater to get rid of", '"26 gal/h"'),
        ("[duty]\nvolume = 26", "duty.volume", "26 has no unit", 'a volume flow such as "26 gal/h"'),
        ('[duty]\nvolume = "26"', "duty.volume", '"26" has no unit', '"26 gal/h"'),
        ('[duty]\nvolume = "26 degF"', "duty.volume", '"26 degF" is a temperature; a volume flow', '"26 gal/h"'),
        ('[duty]\nvolume = "-26 gal/h"', "duty.volume", '"-26 gal/h" is too low', "0.00951 gal/h to 9,510 gal/h"),
        ('[duty]\nvolume = "9e9 gal/month"', "duty.volume", '"9e9 gal/month" is too high', "6,947,000 gal/month"),
        ("[duty]\nvolume = true", "duty.volume", "true is not a volume flow", '"26 gal/h"'),
        ("[duty]\nvolume = 2020-01-01", "duty.volume", "2020-01-01 is a date, not a volume flow", '"26 gal/h"'),
        ("[duty]\nvolume = [1, 2]", "duty.volume", "a list is not a volume flow", '"26 gal/h"'),
        ("[duty.volume]\nmonth = 3", "duty.volume", "a table is not a volume flow", '"26 gal/h"'),
        (DUTY + "availability = nan", "duty.availability", "nan is not a finite number", '"0.85"'),
        (DUTY + "availability = inf", "duty.availability", "inf is not a finite number", '"0.85"'),
        (
            DUTY + "availability = 85",
            "duty.availability",
            '"85" is too high',
            '0.1 to 1; a percentage is written "85 %"',
        ),
        (DUTY + '[levels]\nlow = "-2 in"', "levels.low", '"-2 in" is too low', "0 in to 236"),
        (DUTY + 'availability = "5 %"', "duty.availability", '"5 %" is too low', "10 % to 100 %"),
        (DUTY + "[unit]\ntowers = 1.5", "unit.towers", "1.5 is not a whole number", '"2"'),
        (
            DUTY + '[site]\nelevation = "20000 ft"',
            "site.elevation",
            '"20000 ft" is too high',
            "-984.3 ft to 11,480 ft",
        ),
        (
            DUTY + '[site.summer]\nair_temperature = "90 degC"',
            "site.summer.air_temperature",
            '"90 degC" is too high',
            "-15 degC to 50 degC",
        ),
        (
            DUTY + '[utilities]\nsteam_pressure = "30 psia"',
            "utilities.steam_pressure",
            '"30 psia" is an absolute pressure',
            '"15 psi"',
        ),
        (
            DUTY + '[choices]\nheat_source = "oil"',
            "choices.heat_source",
            '"oil" is not among the choices',
            '"gas" or "electric" or "steam"',
        ),
        (
            DUTY + '[choices]\nheat_source = "electrical"',
            "choices.heat_source",
            '"electrical" is not among the choices; did you mean "electric"?',
            '"gas"',
        ),
        (DUTY + "[choices]\nheat_source = 3", "choices.heat_source", "3 is not among the choices", '"gas"'),
        (DUTY + '[liquid]\nhazards = ["poison"]', "liquid.hazards", '"poison" is not among', '"flammable" or'),
        (DUTY + "[liquid]\nhazards = 3", "liquid.hazards", "3 is not a list", 'a list of "none"'),
        (DUTY + '[liquid]\nhazards = ["none", "cyanide"]', "liquid.hazards", '"none" stands together', "a list of"),
        (DUTY + "[job]\nname = 3", "job.name", "3 is not a text", "a text in quotes"),
        (DUTY + '[job]\nname = "a\\u0007b"', "job.name", "has control characters", "a readable text"),
        ("site = 3\n" + DUTY, "site", "3 stands where a table belongs", "a table [site]"),
        (DUTY.replace("[duty]", "[[duty]]"), "duty", "is written as a list of tables", "one table [duty]"),
        ("catalogue = 3\n" + DUTY, "catalogue", "3 is not a path", "a path in quotes"),
        ('catalogue = "none.toml"\n' + DUTY, "catalogue", '"none.toml": no such file', "job file's folder"),
        (
            DUTY + '[site.summer]\nwet_bulb = "70 degF"\nrelative_humidity = 0.5',
            "site.summer.relative_humidity",
            "given together with site.summer.wet_bulb",
            "one of the two",
        ),
        ("[duty]\nvolume = 26 gal/h", "", "is not valid TOML at line 2, column 13", 'volume = "26 gal/h"'),
        ("[duty]\nvolume = 26 gal/h", "", "in: volume = 26 gal/h", "TOML lines"),
        (DUTY + DUTY, "", "is not valid TOML at line 3, column 6", "TOML lines"),
        ("[duty", "", "is not valid TOML", "TOML lines"),
        ("", "", "is empty", "a TOML text file"),
        ("# nothing\n", "", "is empty", "a TOML text file"),
        ("a = " + "[" * 5000, "", "", ""),
    ],
)
def test_each_fault_has_one_clear_message(tmp_path: Path, text: str, key: str, problem: str, allowed: str) -> None:
    error = fault(written(tmp_path, text))
    assert error.key == key
    assert problem in error.problem
    assert allowed in error.allowed
    assert "\n" not in str(error)


def test_files_that_are_no_job_files(tmp_path: Path) -> None:
    assert "is a folder" in fault(tmp_path).problem
    assert "no such file" in fault(tmp_path / "absent.toml").problem
    path = tmp_path / "job.toml"
    path.write_bytes(b"\x00\x01")
    assert "is a binary file" in fault(path).problem
    path.write_bytes(b"[job]\nname = '\xff'\n")
    assert "is not UTF-8 text (line 2)" in fault(path).problem
    path.write_bytes(b" " * 5_000_000)
    assert "is too large" in fault(path).problem
    path.write_bytes(b"\xef\xbb\xbf" + DUTY.encode())
    assert read_job_file(path).texts["duty.volume"] == "26 gal/h"


def test_the_started_job_reads_back_and_has_every_key(tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    write_started_job(path)
    job = read_job_file(path)
    assert job.values.keys() == {"duty.volume"}
    assert build_job(job.values).assumptions
    lines = started_job_text().splitlines()
    for field in FIELDS:
        name = field.key.rpartition(".")[2]
        assert any(line.startswith((f"{name} = ", f"# {name} = ")) for line in lines), field.key
        assert field.meaning.split()[0] in path.read_text(encoding="utf-8")


def test_every_commented_line_of_the_started_job_may_be_uncommented(tmp_path: Path) -> None:
    lines = started_job_text().splitlines()
    alternatives = {field.key for field in FIELDS if field.instead_of}
    table, kept = "", []
    for line in lines:
        if line.startswith("["):
            table = line.strip("[]")
        name = line.removeprefix("# ").partition(" = ")[0]
        key = f"{table}.{name}"
        if key in FIELDS_BY_KEY and " = " in line and key not in alternatives:
            line = line.removeprefix("# ")
        kept.append(line)
    job = read_job_file(written(tmp_path, "\n".join(kept)))
    for field in FIELDS:
        if isinstance(field.default, float):
            # shown to four digits, temperatures and differences to a tenth of a degree
            digit = 0.03 if field.quantity.startswith("temperature") else 2e-3 * field.default
            assert job.values[field.key] == pytest.approx(field.default, abs=digit)
        elif field.default is not None:
            assert job.values[field.key] == field.default


def test_a_started_job_never_overwrites(tmp_path: Path) -> None:
    path = written(tmp_path, "keep me")
    with pytest.raises(InputError, match="exists already and is not overwritten"):
        write_started_job(path)
    assert path.read_text(encoding="utf-8") == "keep me"
    with pytest.raises(InputError, match="cannot be written"):
        write_started_job(tmp_path / "no_folder" / "job.toml")


@pytest.mark.parametrize("field", FIELDS, ids=lambda field: field.key)
def test_defaults_and_limits_agree_with_each_other(field) -> None:  # type: ignore[no-untyped-def]
    if isinstance(field.default, float):
        assert field.least <= field.default <= field.most
    if field.low is not None:
        assert field.least <= field.low <= field.high <= field.most
    if field.quantity in NUMBER_QUANTITIES and field.least is not None:
        assert read_value(field.most, field, where="", key="")[0] == field.most


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_example_enquiries_read_and_say_that_they_are_invented(path: Path) -> None:
    job = read_job_file(path)
    assert job.text.splitlines()[0].startswith("# Invented enquiry")
    built = build_job(job.values)
    assert 15 <= len(built.assumptions) <= 50
    assert not [entry.key for entry in built.assumptions if entry.key.startswith("levels.")]


def test_the_example_enquiries_differ_in_what_the_issue_asks() -> None:
    jobs = [build_job(read_job_file(path).values) for path in EXAMPLES]
    assert len(jobs) == 3
    for key in ("choices.heat_source", "site.elevation", "duty.volume", "liquid.description"):
        assert len({job.values[key] for job in jobs}) == 3
    gallons = sorted(job.duty.evaporation_m3_s * 3600 / 3.785411784e-3 for job in jobs)
    assert gallons == pytest.approx([8.0, 18.3, 44.7], rel=0.01)
