"""Reading of job files, and the commented file that a new job starts from.

A job file is TOML with the keys of unit.fields, plus `catalogue`, the path of the shop's catalogue file.
"""

from __future__ import annotations

import dataclasses
import textwrap
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from vaporwright.files.new_file import write_new
from vaporwright.files.quantities import (
    EXAMPLES,
    NUMBER_QUANTITIES,
    TypedQuantity,
    read_quantity,
    shown_in_typed_unit,
)
from vaporwright.files.values import Value, flattened, read_toml, read_value, typed_text
from vaporwright.foundation.errors import InputError
from vaporwright.unit.field import Field
from vaporwright.unit.fields import FIELDS, FIELDS_BY_KEY

CATALOGUE_KEY: Final = "catalogue"
TABLE_KEY: Final = "control_table"
ACCEPTED_KEY: Final = "accepted"
LEAST_REASON: Final = 12  # letters of a reason in writing
_EXAMPLE_VALUES: Final = {
    "duty.volume": "2500 gal/month",
    "site.summer.relative_humidity": "0.5",
    "site.winter.wet_bulb": "18 degF",
    "site.average.wet_bulb": "48 degF",
    "site.average.air_temperature": "55 degF",
    "utilities.power_price": "0.12 USD/kWh",
    "unit.spray_flow": "50 gal/min",
    "liquid.fluoride": "2 mg/L",
    "site.intake_distance": "20 ft",
    "site.discharge_above_intake": "5 ft",
    "site.exhaust_duct_length": "25 ft",
    "site.make_up_opening": "12 ft2",
    "utilities.condensate_lift": "5 ft",
}
TABLE_WORDS: Final = {
    "job": "The job and its papers",
    "duty": "What must be got rid of, and when the unit may run",
    "liquid": "The liquid; hazardous liquids are refused, not sized",
    "site": "The site and its air",
    "site.summer": "Outdoor design air, summer",
    "site.winter": "Outdoor design air, winter",
    "site.average": "Outdoor air, average over the year",
    "utilities": "What the site can supply, and what it costs",
    "choices": "What the shop or the customer has chosen",
    "controls": "How the unit is controlled",
    "levels": "Levels that are given instead of solved: the others follow, or the conflict is named",
    "unit": "A given unit, by catalogue ids: for `rate`, or to tie `size` to it",
}


@dataclass(frozen=True)
class JobFile:
    """A job file as read: what was given, in SI and as typed; nothing filled in."""

    path: Path
    values: Mapping[str, Value]
    texts: Mapping[str, str]
    catalogue: Path | None  # None: the demo catalogue
    text: str
    control_table: Path | None = None  # the shop's own cause-and-effect table; None: made from the unit
    accepted: Mapping[str, str] = dataclasses.field(default_factory=dict)  # fallen properties, each with its reason


def read_job_file(path: Path | str) -> JobFile:
    """Read and check a job file.

    Raises: InputError with file, key, the value as typed and what is allowed.
    """
    path = Path(path)
    text, tables = read_toml(path)
    catalogue, table = (_file_beside(tables, key, path) for key in (CATALOGUE_KEY, TABLE_KEY))
    accepted = _accepted(tables.pop(ACCEPTED_KEY, {}), str(path))
    values, texts = _checked(tables, str(path))
    return JobFile(path, values, texts, catalogue, text, table, accepted)


def _file_beside(tables: dict[str, object], key: str, path: Path) -> Path | None:
    """A file that the job names, by its path from the job file's folder."""
    named = tables.pop(key, None)
    if named is None:
        return None
    if not isinstance(named, str) or not named.strip():
        raise InputError(str(path), key, f"{typed_text(named)} is not a path", "a path in quotes")
    found = path.parent / named
    if not found.is_file():
        raise InputError(str(path), key, f'"{named}": no such file', "a path from the job file's folder")
    return found


def _accepted(table: object, where: str) -> dict[str, str]:
    """Properties that the job accepts to fall, each with a reason in writing."""
    allowed = f"a table [{ACCEPTED_KEY}] of property = reason"
    if not isinstance(table, dict):
        raise InputError(where, ACCEPTED_KEY, f"{typed_text(table)} stands where a table belongs", allowed)
    for name, reason in table.items():
        if not isinstance(reason, str) or len(reason.strip()) < LEAST_REASON:
            raise InputError(where, f"{ACCEPTED_KEY}.{name}", f"{typed_text(reason)} is no reason", "a sentence")
    return dict(table)


def _checked(tables: dict[str, object], where: str) -> tuple[dict[str, Value], dict[str, str]]:
    values: dict[str, Value] = {}
    texts: dict[str, str] = {}
    for key, raw in flattened(tables, FIELDS_BY_KEY, where).items():
        values[key], texts[key] = read_value(raw, FIELDS_BY_KEY[key], where=where, key=key)
    for field in FIELDS:
        if field.required and field.key not in values:
            examples = " or ".join(f'"{example}"' for example in EXAMPLES[field.quantity])
            raise InputError(where, field.key, f"missing: {field.meaning}", f"for instance {examples}")
        if field.instead_of in values and field.key in values:
            raise InputError(where, field.key, f"given together with {field.instead_of}", "one of the two")
    return values, texts


def started_job_text() -> str:
    """A commented job file with every key: its meaning, its default and its range."""
    lines = [
        "# Job file. Fill in what the customer has said and leave the rest commented: a key that stays commented takes",
        "# the value shown, or what is said behind it, and appears in the report among assumptions and questions.",
        '# Quantities are texts with units, US or SI: "26 gal/h", "68 degC", "15 psi" (gauge), "0.25 inH2O".',
        "",
        '# catalogue = "our_catalogue.toml"  # path from this file; without it, the invented demo catalogue',
        '# control_table = "our_table.toml"  # the shop\'s own cause-and-effect table; without it, made from the unit',
    ]
    by_table: dict[str, list[Field]] = {}
    for field in FIELDS:
        by_table.setdefault(field.key.rpartition(".")[0], []).append(field)
    for table, fields in by_table.items():
        words = TABLE_WORDS.get(table)
        lines += ["", "", *([f"# {words}."] if words else []), f"[{table}]"]
        for field in fields:
            lines += ["", *_comment(field), _started_line(field)]
    return "\n".join(lines) + "\n"


def write_started_job(path: Path | str) -> None:
    """Write started_job_text; raises InputError rather than overwrite a file, or where it cannot write."""
    write_new(Path(path), started_job_text())


def _comment(field: Field) -> list[str]:
    parts = [field.meaning]
    if field.choices:
        parts.append("one of " + ", ".join(f'"{choice}"' for choice in field.choices))
    if field.least is not None and field.most is not None:
        parts.append(f"{_in_usual_unit(field, field.least)} to {_in_usual_unit(field, field.most)}")
    if field.required:
        parts.append("required")
    elif field.instead_of:
        parts.append(f"in place of {field.instead_of}")
    elif field.derived:
        parts.append(f"if absent: {field.derived}")
    return textwrap.wrap("; ".join(parts), 112, initial_indent="# ", subsequent_indent="#   ")


def _usual(field: Field) -> TypedQuantity:
    """An example of the field's value: its unit is the one in which limits and default are told."""
    example = _EXAMPLE_VALUES.get(field.key, EXAMPLES[field.quantity][0])
    return read_quantity(example, field.quantity, where="started job", key=field.key)


def _in_usual_unit(field: Field, value: float) -> str:
    return shown_in_typed_unit(value, _usual(field), field.quantity)


def _started_line(field: Field) -> str:
    name = field.key.rpartition(".")[2]
    if field.required:
        return f'{name} = "{_usual(field).text}"'
    return f"# {name} = {_started_value(field)}"


def _started_value(field: Field) -> str:
    if isinstance(field.default, tuple):
        return "[" + ", ".join(f'"{item}"' for item in field.default) + "]"
    if isinstance(field.default, str):
        return f'"{field.default}"'
    text = _usual(field).text if field.default is None else _in_usual_unit(field, field.default)
    return text if field.quantity in NUMBER_QUANTITIES else f'"{text}"'
