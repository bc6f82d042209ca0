"""Files of readings, CSV and XLSX: what is understood, what is refused with its row and column, nothing by halves."""

from __future__ import annotations

import io
import zipfile
from datetime import datetime, time, timedelta
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from vaporwright.acceptance.run.log import CHANNELS, RunLog
from vaporwright.acceptance.steps.procedure import TEXT, YES_OR_NO, Procedure, ProcedureSection, ReadingField, Step
from vaporwright.files.log_columns import stem
from vaporwright.files.readings_file import (
    read_run_log,
    read_step_readings,
    run_log_of,
    run_log_text,
    step_readings_of,
    write_run_log_csv,
)
from vaporwright.foundation.errors import InputError

GALLON, POUND = 231 * 0.0254**3, 0.45359237
STEP = Step(
    "spray.flow", "Spray", "", (),
    (
        ReadingField("spray_flow_m3_s", "spray flow", "liquid flow"),
        ReadingField("rotation", "turns as its arrow", YES_OR_NO),
        ReadingField("serial", "serial number", TEXT),
        ReadingField("depth_m", "depth", "short length"),
        ReadingField("oxygen", "oxygen", "fraction"),
    ),
    5.0,
)  # fmt: skip
PROCEDURE = Procedure("job", "customer", "unit", "gas", "full", {}, (ProcedureSection("spray", "Spray", (STEP,)),))


def steps(text: str | bytes) -> list[Any]:
    content = text.encode() if isinstance(text, str) else text
    return list(step_readings_of(content, "readings.csv", PROCEDURE))


def log(text: str | bytes) -> RunLog:
    return run_log_of(text.encode() if isinstance(text, str) else text, "run.csv")


def workbook(
    path: Path, rows: list[list[Any]], *, formats: dict[str, str] | None = None, **sheets: list[list[Any]]
) -> Path:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "readings"
    for row in rows:
        sheet.append(row)
    for cell, number_format in (formats or {}).items():
        sheet[cell].number_format = number_format
    for name, others in sheets.items():
        other = book.create_sheet(name)
        for row in others:
            other.append(row)
    book.save(path)
    return path


# Readings of steps


def test_readings_of_steps_with_all_columns() -> None:
    found = steps(
        "step,field,value,unit,instrument,by,time\n"
        "spray.flow,spray_flow_m3_s,26.3,gal/min,FM-1,Ann Roe,2026-04-30 14:05\n"
        "spray.flow,rotation,yes,,,Ann Roe,14:06\n"
        'spray.flow,serial,"SN 1,5 ""B""",,,,\n'
        "spray.flow,depth_m,-,in,,,\n"
        "\n"
        "spray.flow,oxygen,4.5 %,%,A-1,,2:07 pm\n"
    )
    assert [(item.row, item.reading.field, item.reading.entered) for item in found] == [
        (2, "spray_flow_m3_s", "26.3 gal/min"),
        (3, "rotation", "yes"),
        (4, "serial", 'SN 1,5 "B"'),
        (7, "oxygen", "4.5 %"),
    ]
    flow = found[0]
    assert flow.reading.value == pytest.approx(26.3 * GALLON / 60, rel=1e-12)
    assert (flow.reading.way, flow.reading.instrument, flow.by, flow.time) == (
        "file", "FM-1", "Ann Roe", "2026-04-30 14:05:00",
    )  # fmt: skip
    assert (found[1].reading.value, found[1].time, found[3].time) == (True, "14:06:00", "14:07:00")


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_separators_marks_and_line_ends(separator: str, mark: str, end: str) -> None:
    lines = ["Step,Field,Value", "spray.flow,depth_m,1/8 in", ""]
    text = mark + end.join(lines).replace(",", separator)
    assert steps(text)[0].reading.value == pytest.approx(0.0254 / 8)


def test_decimal_commas_are_read_and_kept_as_entered() -> None:
    found = steps("step;field;value\nspray.flow;spray_flow_m3_s;26,3 gal/min\nspray.flow;depth_m;1,125 in\n")
    assert [item.reading.entered for item in found] == ["26,3 gal/min", "1,125 in"]
    assert found[0].reading.value == pytest.approx(26.3 * GALLON / 60)
    assert found[1].reading.value == pytest.approx(1.125 * 0.0254)  # the 26,3 leaves no other reading


HEAD = "step,field,value\n"


@pytest.mark.parametrize(
    ("text", "place", "problem"),
    [
        (HEAD + "spray.flow,spray_flow_m3_s,26.3", "row 2, column value", "has no unit"),
        (HEAD + "spray.flow,spray_flow_m3_s,26.3 psi", "row 2, column value", "is a pressure"),
        (HEAD + 'spray.flow,spray_flow_m3_s,"1,234 gal/min"', "row 2, column value", "may mean 1234 or 1.234"),
        (HEAD + "spray.flow,oxygen,4.5", "row 2, column value", "may be a share or a percentage"),
        (HEAD + "spray.flow,rotation,perhaps", "row 2, column value", "neither yes nor no"),
        (HEAD + "spray.flo,rotation,yes", "row 2, column step", "nearest valid key: spray.flow"),
        (HEAD + "spray.flow,rotatoin,yes", "row 2, column field", "is no field of spray.flow"),
        (HEAD + "spray.flow,rotation,yes\nspray.flow,rotation,no", "row 3", "stands in row 2 too"),
        (HEAD + "spray.flow,rotation,yes,more", "row 2", "has 4 cells under 3 columns"),
        (HEAD + "spray.flow,rotation", "row 2", "has 2 cells under 3 columns"),
        (HEAD + 'spray.flow,serial,"a"b', "row 2", "cannot be read"),
        (HEAD + 'spray.flow,serial,"a', "row 2", "cannot be read"),
        (HEAD + "spray.flow,rotation,-", "", "has no value in any row"),
        (HEAD, "", "has no row under its header"),
        ("step,field,value,valeu\na,b,c,d", "column valeu", "nearest valid key: value"),
        ("step,field,value,value\na,b,c,d", "row 1", 'names the column "value" twice'),
        ("step,field\na,b", "first row", "does not have the columns"),
        ("step,field,value,unit\nspray.flow,depth_m,2 in,mm", "row 2, column value", "another unit than its column"),
        ("step,field,value,unit\nspray.flow,rotation,yes,mm", "row 2, column value", "but is a yes or no"),
        ("step,field,value,time\nspray.flow,rotation,yes,3/4/2026", "row 2, column time", "is no time"),
        ("step,field,value,time\nspray.flow,rotation,yes,25:00", "row 2, column time", "is no time"),
        ("step;field;value\nspray.flow;depth_m;26,3 in\nspray.flow;spray_flow_m3_s;1.5 gpm", "row 3", "decimal point"),
        (b"", "", "is empty"),
        (b"step,field,value\nspray.flow,serial,\xb0", "row 2", "is not UTF-8 text"),
        ("step,field,value\n".encode("utf-16"), "", "is UTF-16 text"),
        (b"PK\x03\x04rest", "", "is a workbook"),
        (b"step\0", "", "is a binary file"),
    ],
)
def test_each_fault_names_its_row_and_column(text: str | bytes, place: str, problem: str) -> None:
    with pytest.raises(InputError) as caught:
        steps(text)
    assert caught.value.where == "readings.csv"
    assert caught.value.key.startswith(place)
    assert problem in caught.value.problem


# Logs of runs


def test_a_log_with_clock_times() -> None:
    found = log(
        "# an hour on water\n"
        "time,tank_temperature (degF),Make_up_mass (lb),flue_oxygen (%),barometer_Pa,note\n"
        "11:59:30 PM,155.2,0,4.5,98000,\n"
        "23:59:45,,10.5 lb,-,98000,swung over\n"
    )
    assert found.times_s == (0.0, 15.0)
    assert found.columns["tank_temperature_K"] == (pytest.approx((155.2 + 459.67) / 1.8), None)
    assert found.columns["make_up_mass_kg"] == (0.0, pytest.approx(10.5 * POUND))
    assert found.columns["flue_oxygen"] == (pytest.approx(0.045), None)
    assert found.columns["barometer_Pa"] == (98000.0, 98000.0)


@pytest.mark.parametrize(
    ("head", "first", "second", "times_s"),
    [
        ("time", "2026-04-30 23:59", "2026-05-01T00:01:00.5", (0.0, 120.5)),
        ("time", "2026-04-30T10:00:00Z", "2026-04-30T11:30:00+01:00", (0.0, 1800.0)),
        ("time", "9:05", "10:05", (0.0, 3600.0)),
        ("time (s)", "30", "90.5", (30.0, 90.5)),
        ("time (min)", "0", "1.5", (0.0, 90.0)),
        ("Elapsed (h)", "0", "0.5", (0.0, 1800.0)),
    ],
)
def test_times(head: str, first: str, second: str, times_s: tuple[float, ...]) -> None:
    assert log(f"{head},room_temperature (degC)\n{first},20\n{second},21\n").times_s == pytest.approx(times_s)


@pytest.mark.parametrize(
    ("text", "place", "problem"),
    [
        ("time,tank_temperature\n9:00,155", "column tank_temperature", "states no unit"),
        ("time,tank_temprature (degF)\n9:00,155", "column tank_temprature", "nearest: tank_temperature"),
        ("time,tank_temperature (psi)\n9:00,155", "column tank_temperature (psi)", "a temperature is meant here"),
        ("time,tank_temperature (F)\n9:00,155", "column tank_temperature (F)", 'write "degF"'),
        ("time,steam_gauge (psia)\n9:00,15", "column steam_gauge (psia)", "is an absolute pressure"),
        ("time,barometer (psi)\n9:00,15", "column barometer (psi)", "does not say whether it is gauge"),
        ("time,tank_temperature_K (degF)\n9:00,155", "column tank_temperature_K", "SI unit in its name"),
        ("time,tank_temperature (degF),tank_temperature_K\n9:00,1,1", "column tank_temperature_K", "is read twice"),
        ("time,tank_temperature (degF)\n9:00,lots", "row 2, column tank_temperature (degF)", "is no number"),
        ("time,tank_temperature (degF)\n9:00,nan", "row 2, column tank_temperature (degF)", "is no number"),
        ("time,tank_temperature (degF)\n9:00,68 degC", "row 2, column tank_temperature (degF)", "is no number"),
        ("time,tank_temperature (degF)\n9:00,1e999", "row 2, column tank_temperature (degF)", "cannot be"),
        ("time,tank_temperature (degF)\n9:00,213", "row 2, column tank_temperature (degF)", '"213" cannot be'),
        ("time,make_up_mass (lb)\n9:00,10\n9:01,\n9:02,9", "row 4, column make_up_mass (lb)", "10 lb in row 2"),
        ("time,make_up_mass (lb)\n9:00,10\n9:00,11", "row 3, column time", "does not come after"),
        ("time,make_up_mass (lb)\n23:59,10\n0:01,11", "row 3, column time", "does not come after"),
        ("time,make_up_mass (lb)\n9:00,10\n,11", "row 3, column time", "is missing"),
        ("time,make_up_mass (lb)\n9:00,10\n2026-04-30 09:01,11", "row 3, column time", "the first row has a clock"),
        ("time,make_up_mass (lb)\n5,10", "row 2, column time", "is no time"),
        ("time (gal),make_up_mass (lb)\n5,10", "column time (gal)", "is a volume"),
        ("time;make_up_mass (lb)\n9:00;1,234", "row 2, column make_up_mass (lb)", "is no number"),
        ("time,note\n9:00,x", "", "has no channel"),
        ("clock,make_up_mass (lb)\n9:00,1", "first row", "does not have the columns"),
    ],
)
def test_each_fault_of_a_log_names_its_row_and_column(text: str, place: str, problem: str) -> None:
    with pytest.raises(InputError) as caught:
        log(text)
    assert caught.value.where == "run.csv"
    assert caught.value.key.startswith(place)
    assert problem in caught.value.problem


def test_limits_are_told_in_the_unit_of_the_column() -> None:
    with pytest.raises(InputError, match="32 degF to 212 degF"):
        log("time,tank_temperature (degF)\n9:00,250\n")
    assert log("time,tank_temperature (degF)\n9:00,32\n").columns["tank_temperature_K"] == (273.15,)


def test_every_channel_has_a_name_of_its_own_without_its_unit() -> None:
    assert len({stem(channel.name) for channel in CHANNELS}) == len(CHANNELS)


@pytest.mark.parametrize("system", ["US", "SI"])
def test_a_written_log_is_read_back_to_its_printed_digits(system: str, tmp_path: Path) -> None:
    columns = {
        channel.name: (channel.low, None, channel.low + 0.6180339887 * (channel.high - channel.low), channel.high)
        for channel in CHANNELS
    }
    written = RunLog((0.0, 0.5, 60.123456, 14400.0), columns)
    path = write_run_log_csv(tmp_path / "run.csv", written, system=system, comment='simulated, "seed 1"\nfor a test')
    found = read_run_log(path)
    assert found.times_s == written.times_s
    for name, values in columns.items():
        for value, back in zip(values, found.columns[name], strict=True):
            assert (value is None) == (back is None)
            if value is not None:
                assert back == pytest.approx(value, rel=6e-9, abs=1e-12), name
    again = run_log_text(found, system=system, comment='simulated, "seed 1"\nfor a test')
    assert again == path.read_text(encoding="utf-8")
    with pytest.raises(InputError, match="not overwritten"):
        write_run_log_csv(path, written)


# Workbooks


def test_a_workbook_of_readings(tmp_path: Path) -> None:
    rows = [
        ["step", "field", "value", "unit", "time"],
        ["spray.flow", "spray_flow_m3_s", 26.3, "gal/min", datetime(2026, 4, 30, 14, 5)],
        ["spray.flow", "rotation", True, None, time(14, 6)],
        ["spray.flow", "serial", 1234, None, None],
        ["spray.flow", "oxygen", 0.045, None, None],
        [None, None, None, None, None],
        ["spray.flow", "depth_m", None, "in", None],
    ]
    path = workbook(tmp_path / "readings.xlsx", rows, formats={"C5": "0.0%"}, scratch=[["nothing", 5]])
    found = read_step_readings(path, PROCEDURE)
    assert [(item.row, item.reading.entered, item.time) for item in found] == [
        (2, "26.3 gal/min", "2026-04-30 14:05:00"),
        (3, "TRUE", "14:06:00"),
        (4, "1234", ""),
        (5, "4.5 %", ""),  # as its writer sees it; 0.045 would be read a hundred times too small
    ]
    assert found[3].reading.value == pytest.approx(0.045)
    assert found[1].reading.value is True


def test_a_fraction_that_the_spreadsheet_made_a_date_of_is_refused(tmp_path: Path) -> None:
    rows = [["step", "field", "value", "unit"], ["spray.flow", "depth_m", datetime(2026, 1, 8), "in"]]
    with pytest.raises(InputError, match=r"row 2, column value: .* a day or a time; .* such as 1/8"):
        read_step_readings(workbook(tmp_path / "readings.xlsx", rows), PROCEDURE)


def test_a_workbook_of_a_log(tmp_path: Path) -> None:
    rows = [["time", "tank_temperature (degF)"], [datetime(2026, 4, 30, 23, 59), 155.2], [datetime(2026, 5, 1), None]]
    found = read_run_log(workbook(tmp_path / "run.xlsx", rows))
    assert found.times_s == (0.0, 60.0)
    assert found.columns["tank_temperature_K"] == (pytest.approx((155.2 + 459.67) / 1.8), None)
    rows = [["time", "tank_temperature (degF)"], [timedelta(hours=23), 155], [timedelta(hours=25), 156]]
    assert read_run_log(workbook(tmp_path / "elapsed.xlsx", rows)).times_s == (0.0, 7200.0)


def test_a_formula_counts_only_with_the_value_that_was_kept(tmp_path: Path) -> None:
    rows = [["time (s)", "tank_temperature (degF)"], [0, 155], [60, "=B2+1"]]
    path = workbook(tmp_path / "run.xlsx", rows)
    with pytest.raises(InputError, match=r"sheet readings: cell B3: is a formula whose value the file does not keep"):
        read_run_log(path)
    kept = tmp_path / "kept.xlsx"
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(kept, "w") as new:
        for part in old.namelist():
            content = old.read(part)
            if part.endswith("sheet1.xml"):
                assert b"<f>B2+1</f><v" in content
                content = content.replace(b"<f>B2+1</f><v></v>", b"<f>B2+1</f><v>156</v>")
                content = content.replace(b"<f>B2+1</f><v />", b"<f>B2+1</f><v>156</v>")
                content = content.replace(b"<f>B2+1</f><v/>", b"<f>B2+1</f><v>156</v>")
            new.writestr(part, content)
    assert read_run_log(kept).columns["tank_temperature_K"][1] == pytest.approx((156 + 459.67) / 1.8)


def test_rows_past_the_size_that_a_sheet_states_are_read_too(tmp_path: Path) -> None:
    rows = [["time (s)", "tank_temperature (degF)"], *([60 * row, 150 + row] for row in range(20))]
    path, short = workbook(tmp_path / "run.xlsx", rows), tmp_path / "short.xlsx"
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(short, "w") as new:
        for part in old.namelist():
            new.writestr(part, old.read(part).replace(b'<dimension ref="A1:B21"', b'<dimension ref="A1:B3"'))
    assert b'ref="A1:B3"' in zipfile.ZipFile(short).read("xl/worksheets/sheet1.xml")
    assert len(read_run_log(short).times_s) == 20


def test_sheets_are_chosen_and_never_guessed(tmp_path: Path) -> None:
    rows: list[list[Any]] = [["time (s)", "tank_temperature (degF)"], [0, 155]]
    path = workbook(tmp_path / "run.xlsx", rows, second=[rows[0], [0, 160]])
    with pytest.raises(InputError, match="readings, second: each look like readings"):
        read_run_log(path)
    assert read_run_log(path, sheet="second").columns["tank_temperature_K"][0] == pytest.approx((160 + 459.67) / 1.8)
    with pytest.raises(InputError, match='has no sheet "third"'):
        read_run_log(path, sheet="third")


def test_what_is_no_workbook(tmp_path: Path) -> None:
    path = tmp_path / "run.xlsx"
    path.write_text("time (s),tank_temperature (degF)\n0,155\n")
    with pytest.raises(InputError, match="is no workbook"):
        read_run_log(path)
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("a.txt", "x")
    with pytest.raises(InputError, match="cannot be read as a workbook"):
        read_run_log(path)
    with pytest.raises(InputError, match="no such file"):
        read_run_log(tmp_path / "none.csv")
    with pytest.raises(InputError, match="is a folder"):
        read_run_log(tmp_path)
    (tmp_path / "run.ods").write_bytes(b"x")
    with pytest.raises(InputError, match="is no kind of file that is read here"):
        read_run_log(tmp_path / "run.ods")


def test_an_error_value_of_a_spreadsheet_is_refused(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for row in (["time (s)", "tank_temperature (degF)"], [0, "#DIV/0!"]):
        sheet.append(row)
    sheet["B2"].data_type = "e"
    content = io.BytesIO()
    book.save(content)
    path = tmp_path / "run.xlsx"
    path.write_bytes(content.getvalue())
    with pytest.raises(InputError, match="cell B2: holds the error #DIV/0!"):
        read_run_log(path)
