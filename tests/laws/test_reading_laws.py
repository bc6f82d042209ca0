"""Laws of readings: any text and any file is a value that pint agrees with, or an InputError; nonsense is no number.

Second opinions here are pint's own registry of units, not the program's, and the csv module's own writer.
"""

from __future__ import annotations

import csv
import io
import math
import string
import struct
import zipfile
from pathlib import Path

import openpyxl
import pint
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from vaporwright.acceptance.run.log import CHANNELS, RunLog
from vaporwright.acceptance.steps.procedure import TEXT, YES_OR_NO, Procedure, ProcedureSection, ReadingField, Step
from vaporwright.display_units import QUANTITIES, SI, US
from vaporwright.files.day_file import read_day_text
from vaporwright.files.instruments_file import read_instruments_text
from vaporwright.files.readings_file import FileReading, read_run_log, run_log_of, run_log_text, step_readings_of
from vaporwright.files.register_map import REGISTERS_OF, Meaning, ModbusPoint
from vaporwright.files.register_map_file import read_register_map_text
from vaporwright.files.service_readings_file import service_readings_of
from vaporwright.files.typed_reading import typed_reading
from vaporwright.foundation.errors import InputError
from vaporwright.live.judging import judged
from vaporwright.live.registers import number_in, other_orders, shortest_single
from vaporwright.live.samples import GOOD, WRONG_ORDER, RawSample

PINT = pint.UnitRegistry()
KINDS = sorted({*QUANTITIES, YES_OR_NO, TEXT})
# Quantity, unit as typed here, the same in pint's own registry, and SI there.
UNITS = (
    ("liquid flow", "gal/min", "gallon/minute", "m**3/s"),
    ("liquid flow", "L/s", "liter/second", "m**3/s"),
    ("air flow", "cfm", "foot**3/minute", "m**3/s"),
    ("mass", "lb", "pound", "kg"),
    ("volume", "gal", "gallon", "m**3"),
    ("gas volume", "ft3", "foot**3", "m**3"),
    ("standard gas volume", "scf", "foot**3", "m**3"),
    ("short length", "in", "inch", "m"),
    ("gauge pressure", "psi", "psi", "Pa"),
    ("absolute pressure", "psia", "psi", "Pa"),
    ("mass concentration", "mg/L", "mg/L", "kg/m**3"),
    ("energy", "kWh", "kWh", "J"),
    ("conductivity", "uS/cm", "microsiemens/cm", "S/m"),
    ("insulation resistance", "Mohm", "megaohm", "ohm"),
    ("temperature difference", "degF", "delta_degF", "delta_degC"),
)
NUMBERS = st.decimals(min_value=1, max_value=9999, places=3).map(str)
FIELDS = tuple(ReadingField(f"f{place}", "label", quantity) for place, quantity in enumerate(KINDS))
STEP = Step("a.b", "Step", "", (), FIELDS, 1.0)
PROCEDURE = Procedure("job", "customer", "unit", "gas", "full", {}, (ProcedureSection("a", "Section", (STEP,)),))


@given(number=NUMBERS, unit=st.sampled_from(UNITS))
def test_a_typed_value_is_what_pint_makes_of_it(number: str, unit: tuple[str, str, str, str]) -> None:
    quantity, typed, theirs, si = unit
    value = typed_reading(ReadingField("key", "label", quantity), f"{number} {typed}").value
    expected = PINT.Quantity(float(number), theirs).to(si).magnitude
    assert isinstance(value, float)
    assert math.isclose(value, expected, rel_tol=1e-6 if "psi" in typed else 1e-12)  # pint's pound force: six digits


@given(number=st.decimals(min_value=-99, max_value=2000, places=2).map(str), unit=st.sampled_from(("degF", "degC")))
def test_a_typed_temperature_is_what_pint_makes_of_it(number: str, unit: str) -> None:
    value = typed_reading(ReadingField("key", "label", "temperature"), f"{number} {unit}").value
    assert isinstance(value, float)
    assert math.isclose(value, PINT.Quantity(float(number), unit).to("kelvin").magnitude, rel_tol=1e-10)


@settings(max_examples=400)
@given(
    text=st.one_of(
        st.text(max_size=30),
        st.text(alphabet=string.digits + ".,-+/eE% ", max_size=12),
        st.builds(lambda number, unit: f"{number} {unit}", NUMBERS, st.text(max_size=8)),
        st.text(alphabet=st.characters(), max_size=6),
    ),
    quantity=st.sampled_from(KINDS),
    system=st.sampled_from((None, US, SI)),
)
def test_any_text_is_a_reading_or_an_input_error(text: str, quantity: str, system: str | None) -> None:
    try:
        reading = typed_reading(ReadingField("key", "label", quantity), text, shown_system=system)
    except InputError:
        return
    reading.entered.encode()
    if quantity == TEXT:
        assert reading.value == reading.entered
    elif quantity == YES_OR_NO:
        assert isinstance(reading.value, bool)
    else:
        assert isinstance(reading.value, float)
        assert math.isfinite(reading.value)
        assert any(character.isdigit() for character in text)
        again = typed_reading(ReadingField("key", "label", quantity), reading.entered)
        assert again.value == reading.value  # what is kept as entered says the same without the page


@given(
    text=st.text(alphabet=st.characters(exclude_categories=("Nd", "No", "Nl")), max_size=30),
    quantity=st.sampled_from(sorted(QUANTITIES)),
)
def test_a_text_without_a_digit_is_never_a_number(text: str, quantity: str) -> None:
    with pytest.raises(InputError):
        typed_reading(ReadingField("key", "label", quantity), text, shown_system=US)


CELLS = st.one_of(
    st.sampled_from(
        ("", "-", "yes", "a.b", "f1", "26.3 gal/min", "26,3", "1,234", "9:00", "5", "nan", '"', "=1+1", "68 °F")
    ),
    st.text(max_size=8),
    st.floats().map(repr),
)
HEADS = st.sampled_from(
    (
        "step", "field", "value", "unit", "time", "time (s)", "tank_temperature (degF)", "make_up_mass (lb)",
        "flue_oxygen (%)", "note", "", "evaporation (gal/h)", "tank_temperature uncertainty (degF)", "x (",
    )
)  # fmt: skip


@settings(max_examples=400, suppress_health_check=[HealthCheck.too_slow])
@given(
    content=st.one_of(
        st.binary(max_size=200),
        st.builds(
            lambda separator, mark, head, rows: (mark + "\n".join(separator.join(row) for row in [head, *rows])).encode(
                errors="replace"
            ),
            st.sampled_from((",", ";", "\t")),
            st.sampled_from(("", "\ufeff")),
            st.lists(HEADS, min_size=1, max_size=5),
            st.lists(st.lists(CELLS, max_size=5), max_size=4),
        ),
        st.builds(lambda rest: b"time (s),tank_temperature (degF)\n" + rest, st.binary(max_size=60)),
        st.builds(lambda rest: b"step,field,value\n" + rest, st.binary(max_size=60)),
    )
)
def test_any_bytes_of_a_file_are_readings_or_an_input_error(content: bytes) -> None:
    wheres: list[str] = []
    for read in (
        lambda: run_log_of(content, "file.csv"),
        lambda: step_readings_of(content, "file.csv", PROCEDURE),
        lambda: service_readings_of(content, "file.csv"),
    ):
        try:
            found = read()
        except InputError as error:
            wheres.append(error.where)
            continue
        if isinstance(found, RunLog):
            values = [value for column in found.columns.values() for value in column if value is not None]
            assert all(math.isfinite(value) for value in (*values, *found.times_s))
        elif isinstance(found, tuple):
            assert all(isinstance(item, FileReading) for item in found)
    assert set(wheres) <= {"file.csv"}


@given(
    separator=st.sampled_from((",", ";", "\t")),
    values=st.lists(st.one_of(st.none(), st.decimals(min_value=33, max_value=211, places=2)), min_size=1, max_size=8),
    comma=st.booleans(),
    quoting=st.sampled_from((csv.QUOTE_MINIMAL, csv.QUOTE_ALL)),
)
def test_what_other_programs_write_is_read_as_it_was_meant(
    separator: str, values: list[object], comma: bool, quoting: int
) -> None:
    text = io.StringIO(newline="")
    writer = csv.writer(text, delimiter=separator, quoting=quoting)
    writer.writerow(["time (min)", "tank_temperature (degF)"])
    for place, value in enumerate(values):
        shown = "" if value is None else str(value)
        writer.writerow([place, shown.replace(".", ",") if comma else shown])
    found = run_log_of(text.getvalue().encode(), "file.csv").columns["tank_temperature_K"]
    for value, back in zip(values, found, strict=True):
        assert (value is None) == (back is None)
        if value is not None:
            assert back == pytest.approx((float(str(value)) + 459.67) / 1.8, rel=1e-12)


@settings(max_examples=60)
@given(data=st.data(), system=st.sampled_from((US, SI)), rows=st.integers(1, 6))
def test_a_log_is_the_same_text_when_it_is_read_and_written_again(data: st.DataObject, system: str, rows: int) -> None:
    columns = {}
    for channel in data.draw(st.lists(st.sampled_from(CHANNELS), min_size=1, max_size=6, unique=True)):
        found = data.draw(st.lists(st.floats(channel.low, channel.high), min_size=rows, max_size=rows))
        missing = data.draw(st.lists(st.booleans(), min_size=rows, max_size=rows))
        ordered = sorted(found) if channel.total else found
        columns[channel.name] = tuple(None if gone else value for value, gone in zip(ordered, missing, strict=True))
    steps = data.draw(st.lists(st.floats(0.01, 1e4), min_size=rows, max_size=rows))
    log = RunLog(tuple(sum(steps[: place + 1]) for place in range(rows)), columns)
    text = run_log_text(log, system=system)
    back = run_log_of(text.encode(), "file.csv")
    assert run_log_text(back, system=system) == text
    assert back.times_s == pytest.approx(log.times_s, rel=1e-11)


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("book") / "run.xlsx"
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    assert sheet is not None
    for row in (["time (s)", "tank_temperature (degF)"], [0, 155.5], [60, 156.5]):
        sheet.append(row)
    workbook.save(path)
    return path


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(place=st.integers(0, 10**6), byte=st.integers(0, 255), inside=st.booleans(), part=st.integers(0, 20))
def test_a_damaged_workbook_is_a_log_or_an_input_error(
    book: Path, place: int, byte: int, inside: bool, part: int
) -> None:
    content = bytearray(book.read_bytes())
    damaged = book.with_name("damaged.xlsx")
    if inside:  # within a part of the archive, so that its check sum holds
        with zipfile.ZipFile(book) as old, zipfile.ZipFile(damaged, "w") as new:
            names = old.namelist()
            for name in names:
                text = bytearray(old.read(name))
                if name == names[part % len(names)]:
                    text[place % len(text)] = byte
                new.writestr(name, bytes(text))
    else:
        content[place % len(content)] = byte
        damaged.write_bytes(bytes(content))
    try:
        found = read_run_log(damaged)
    except InputError:
        return
    assert all(math.isfinite(value) for column in found.columns.values() for value in column if value is not None)


@given(text=st.one_of(st.text(max_size=60), st.text(alphabet='[]="\n.modbuspointinstrument 1', max_size=60)))
def test_any_text_of_a_settings_file_is_read_or_an_input_error(text: str) -> None:
    for read in (
        lambda: read_day_text(text, "file.toml", "steam"),
        lambda: read_instruments_text(text, "file.toml"),
        lambda: read_register_map_text(text, "file.toml"),
    ):
        with pytest.raises(InputError):  # no such short text is a whole file
            read()


@given(number=st.floats(width=32, allow_nan=False, allow_infinity=False))
def test_the_shortest_decimal_of_a_single_is_that_single(number: float) -> None:
    assert struct.pack(">f", shortest_single(number)) == struct.pack(">f", number)


@given(
    kind=st.sampled_from([kind for kind in REGISTERS_OF if kind != "bit"]),
    data=st.data(),
)
def test_registers_in_any_order_are_a_good_value_or_none(kind: str, data: st.DataObject) -> None:
    count = REGISTERS_OF[kind]  # type: ignore[index]
    registers = data.draw(st.lists(st.integers(0, 65535), min_size=count, max_size=count))
    meaning = Meaning("tank_temperature_K", "temperature", "degC", 1.0, 273.15, 0.1, 0.0, 273.15, 373.15)
    point = ModbusPoint(meaning, "holding", 0, kind)  # type: ignore[arg-type]
    number = number_in(registers, point.type, "big", "big")
    value = judged(RawSample(number, others=other_orders(registers, point)), meaning)
    assert (value.value is not None) == (value.quality == GOOD)
    if value.value is not None:
        assert 273.15 <= value.value <= 373.15
        assert value.value == pytest.approx(273.15 + 0.1 * number, abs=1e-9)


@given(celsius=st.floats(1.0, 99.0, width=32), swaps=st.sampled_from((("little", "big"), ("big", "little"))))
def test_a_plausible_float_in_a_wrong_order_is_never_a_reading_unless_that_is_plausible_too(
    celsius: float, swaps: tuple[str, str]
) -> None:
    content = struct.pack(">f", celsius)
    words = [content[:2], content[2:]]
    if swaps[0] == "little":
        words.reverse()
    if swaps[1] == "little":
        words = [word[::-1] for word in words]
    registers = [int.from_bytes(word, "big") for word in words]
    meaning = Meaning("tank_temperature_K", "temperature", "degC", 1.0, 273.15, low=273.15, high=373.15)
    point = ModbusPoint(meaning, "holding", 0, "float32")
    seen = number_in(registers, "float32", "big", "big")
    assume(not (seen == 0.0 or 1e-7 <= seen <= 100.0))  # in that order it is plausible too: nothing can tell
    value = judged(RawSample(seen, others=other_orders(registers, point)), meaning)
    assert value.quality == WRONG_ORDER
    assert (f'word_order = "{swaps[0]}"' if swaps[0] == "little" else f'byte_order = "{swaps[1]}"') in value.reason
