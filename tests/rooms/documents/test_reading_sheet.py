"""Reading sheets: a line for every reading, by the keys that a readings file knows; the log's columns likewise."""

from __future__ import annotations

import re
from dataclasses import replace
from io import BytesIO

import pytest
from pypdf import PdfReader

import invented_acceptance as invented
from vaporwright.acceptance.run.log import CHANNELS
from vaporwright.acceptance.steps.procedure import YES_OR_NO
from vaporwright.documents.reading_sheet import log_data, reading_sheet_data, reading_sheet_pdf
from vaporwright.documents.typeset import ADVICE
from vaporwright.files.readings_file import run_log_of, step_readings_of

PLAIN_UNITS = {"°F": "degF", "°C": "degC", "m³/h": "m3/h", "ft³": "ft3", "m³": "m3", "µS/cm": "uS/cm"}


def squeezed(text: str) -> str:
    return re.sub(r"[\s\u200b\u2060\u00a0\u2002]+", "", text)


def lines_of(system: str) -> list[dict[str, object]]:
    """Each line with the step in whose block it stands."""
    sections = reading_sheet_data(invented.PROCEDURE, system)["sections"]
    steps = [step for section in sections for step in section["steps"]]
    return [{**line, "step": step["key"], "number": step["number"]} for step in steps for line in step["lines"]]


@pytest.mark.parametrize("system", ["US", "SI"])
def test_a_line_for_every_reading_in_order(system: str) -> None:
    keys = [(line["step"], line["key"]) for line in lines_of(system)]
    assert keys == [(step.key, one.key) for step in invented.PROCEDURE.steps for one in step.fields]


@pytest.mark.parametrize("system", ["US", "SI"])
def test_everything_reaches_the_paper(system: str) -> None:
    data = reading_sheet_data(invented.PROCEDURE, system)
    text = squeezed(
        "".join(page.extract_text() for page in PdfReader(BytesIO(reading_sheet_pdf(invented.PROCEDURE, system))).pages)
    )
    for line in lines_of(system):
        for name in ("label", "step", "key", "expected", "unit", "number"):
            assert squeezed(str(line[name])) in text, line
    assert squeezed(ADVICE) in text
    for channel in data["log"]["channels"]:
        for name in ("letter", "unit", "key", "instrument", "range"):
            assert squeezed(channel[name]) in text, channel
    for time in data["log"]["times"]:
        assert time in text
    assert "16readingsof10steps." in text


@pytest.mark.parametrize("system", ["US", "SI"])
def test_what_is_typed_in_from_the_sheet_is_read(system: str) -> None:
    rows = ["step,field,value,unit"]
    for line in lines_of(system):
        step, field = line["step"], line["key"]
        if line["kind"] == YES_OR_NO:
            rows.append(f"{step},{field},yes,")
        elif line["kind"]:
            rows.append(f"{step},{field},V-1,")
        else:
            unit = str(line["unit"])
            rows.append(f"{step},{field},15,{PLAIN_UNITS.get(unit, unit)}")
    content = "\n".join(rows).encode("utf-8")
    read = step_readings_of(content, "sheet.csv", invented.PROCEDURE)
    assert [(one.reading.step, one.reading.field) for one in read] == [
        (step.key, one.key) for step in invented.PROCEDURE.steps for one in step.fields
    ]


@pytest.mark.parametrize("heat", ["gas", "electric", "steam"])
@pytest.mark.parametrize("system", ["US", "SI"])
def test_the_logs_columns_are_read_back(heat: str, system: str) -> None:
    channels = log_data(heat, system)["channels"]
    expected = [channel.name for channel in CHANNELS if channel.only_for in ("", heat)]
    heads = [f"{entry['key']} ({PLAIN_UNITS.get(entry['unit'], entry['unit'])})" for entry in channels]
    content = ",".join(["time (min)", *heads]) + "\n0" + "," * len(heads) + "\n15" + "," * len(heads) + "\n"
    log = run_log_of(content.encode("utf-8"), "log.csv")
    assert list(log.columns) == expected
    assert [entry["letter"] for entry in channels] == [chr(65 + place) for place in range(len(expected))]


def test_four_hours_every_quarter_hour() -> None:
    times = log_data("gas", "US")["times"]
    assert len(times) == 17
    assert times[:3] == ["0:00", "0:15", "0:30"]
    assert times[-1] == "4:00"


def test_a_gas_meter_counts_no_gallons() -> None:
    units = {entry["key"]: entry["unit"] for entry in log_data("gas", "US")["channels"]}
    assert units["gas_volume_meter"] == "ft³"
    assert units["make_up_volume"] == "gal"


@pytest.mark.parametrize("heat", ["gas", "electric", "steam"])
@pytest.mark.parametrize("system", ["US", "SI"])
def test_the_log_takes_one_page_across(heat: str, system: str) -> None:
    reader = PdfReader(BytesIO(reading_sheet_pdf(replace(invented.PROCEDURE, heat=heat), system)))
    across = [page for page in reader.pages if page.mediabox.width > page.mediabox.height]
    assert len(across) == 1
    assert across[0].extract_text().count("4:00") == 1


def test_a_cold_test_has_no_log() -> None:
    assert reading_sheet_data(replace(invented.PROCEDURE, variant="cold"), "US")["log"] is None


def test_same_procedure_same_bytes() -> None:
    assert reading_sheet_pdf(invented.PROCEDURE, "SI") == reading_sheet_pdf(invented.PROCEDURE, "SI")
