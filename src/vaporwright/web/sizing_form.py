"""The enquiry as a form: one field for each key of a job file, in the groups of the file, all from unit.fields."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from fastapi import Request
from starlette.datastructures import FormData

from vaporwright.actions.enquiry_text import Typed
from vaporwright.actions.live_size import Enquiry
from vaporwright.display_units import QUANTITIES, show
from vaporwright.files.job_file import TABLE_WORDS
from vaporwright.files.quantities import EXAMPLES
from vaporwright.foundation.errors import InputError, VaporwrightError
from vaporwright.unit.field import COMMON, Field, Value
from vaporwright.unit.fields import FIELDS, FIELDS_BY_KEY
from vaporwright.unit.job import build_job

LONG: Final = ("job.note", "liquid.description")
OPEN_GROUPS: Final = ("duty",)
# Defaults that follow from other values: they are shown anew with each change.
FOLLOWING: Final = (
    "site.average.air_temperature",
    "site.summer.wet_bulb",
    "liquid.chloride",
    "liquid.dissolved_solids",
)


@dataclass(frozen=True)
class FormField:
    """One field, ready to be shown."""

    key: str
    label: str
    meaning: str
    kind: str  # text, long, choice, list, quantity
    typed: Typed
    default: str  # in the reader's units; empty where there is none
    otherwise: str  # what holds without a value, and why
    examples: str
    choices: tuple[str, ...]
    problem: InputError | None
    required: bool
    only_for: str
    hidden: bool

    @property
    def id(self) -> str:
        """Of the element."""
        return id_of(self.key)

    @property
    def options(self) -> list[tuple[str, str]]:
        """Of a choice: the default first, which is no choice of one's own."""
        own = self.typed if isinstance(self.typed, str) else ""
        values = [own if own.casefold() == choice.casefold() else choice for choice in self.choices]
        if own and own not in values:
            values.append(own)
        return [("", f"{self.default} (default)" if self.default else "not said"), *((one, one) for one in values)]


@dataclass(frozen=True)
class Group:
    """Fields of one table of the job file."""

    key: str
    title: str
    fields: tuple[FormField, ...]
    is_open: bool

    @property
    def given(self) -> int:
        """How many were typed."""
        return sum(1 for one in self.fields if one.typed)

    @property
    def wrong(self) -> int:
        """How many do not fit."""
        return sum(1 for one in self.fields if one.problem)


def id_of(key: str) -> str:
    """The id of a key's field."""
    return "field-" + key.replace(".", "-")


def label_of(key: str) -> str:
    """A key in words."""
    words = key.rpartition(".")[2].replace("_", " ")
    return words if words.startswith("pH") else words[0].upper() + words[1:]


def groups_of(enquiry: Enquiry, system: str, problems: Mapping[str, InputError] | None = None) -> list[Group]:
    """All fields by their groups. `problems` are further ones, of fields against each other."""
    shown = shown_defaults(enquiry.values, system)
    wrong = {**(problems or {}), **enquiry.problems}
    kind = str(enquiry.typed.get("choices.heat_source") or FIELDS_BY_KEY["choices.heat_source"].default).casefold()
    by_table: dict[str, list[FormField]] = {}
    for field in FIELDS:
        typed = enquiry.typed.get(field.key, () if field.quantity == "list" else "")
        hidden = bool(field.only_for) and field.only_for != kind and not typed
        made = _form_field(field, typed, shown.get(field.key, ""), wrong.get(field.key), hidden)
        by_table.setdefault(field.key.rpartition(".")[0], []).append(made)
    return [
        Group(table, TABLE_WORDS.get(table, table).replace("`", ""), tuple(made), _opens(table, made))
        for table, made in by_table.items()
    ]


def _opens(table: str, fields: list[FormField]) -> bool:
    return table in OPEN_GROUPS or any(one.problem for one in fields)


def shown_defaults(values: Mapping[str, Value], system: str) -> dict[str, str]:
    """The value that holds for each key that is not given, as people read it; empty where there is none."""
    try:
        held: Mapping[str, Value] = build_job(values).values
    except (VaporwrightError, KeyError):  # not whole yet, or refused: then the plain defaults
        held = {field.key: field.default for field in FIELDS if field.default is not None}
    return {
        field.key: _shown(field, held[field.key], system)
        for field in FIELDS
        if field.key in held and field.key not in values
    }


def _shown(field: Field, value: Value, system: str) -> str:
    if isinstance(value, tuple):
        return ", ".join(value) or "none stated"
    if isinstance(value, str):
        return value
    if field.key == "unit.towers" and value == 0.0:
        return ""
    return show(value, field.quantity, system, 4) if field.quantity in QUANTITIES else f"{value:g}"


def _form_field(field: Field, typed: Typed, default: str, problem: InputError | None, hidden: bool) -> FormField:
    kind = {"text": "text", "choice": "choice", "list": "list"}.get(field.quantity, "quantity")
    examples = "" if kind != "quantity" else " or ".join(EXAMPLES[field.quantity][:2])
    if field.instead_of:
        otherwise = f"in place of {label_of(field.instead_of).lower()}"
    else:
        otherwise = field.derived or ("" if field.basis == COMMON else field.basis)
    return FormField(
        key=field.key,
        label=label_of(field.key),
        meaning=field.meaning,
        kind="long" if field.key in LONG else kind,
        typed=typed,
        default="" if field.instead_of else default,
        otherwise=otherwise,
        examples=examples,
        choices=field.choices,
        problem=problem,
        required=field.required,
        only_for=field.only_for,
        hidden=hidden,
    )


class EnquiryForm:
    """What a form has brought: values by key as typed, and whatever else it carries."""

    def __init__(self, form: FormData) -> None:
        self._form = form
        self.changes: dict[str, Typed] = {}
        for field in FIELDS:
            if field.key not in form:
                continue  # a field that the form does not have stays as it is
            brought = tuple(_line(one) for one in form.getlist(field.key) if isinstance(one, str))
            is_list = field.quantity == "list"
            self.changes[field.key] = (
                tuple(one for one in brought if one) if is_list else brought[-1] if brought else ""
            )

    def text(self, name: str) -> str:
        """One of the other fields."""
        value = self._form.get(name, "")
        return value if isinstance(value, str) else ""

    def number(self, name: str) -> int:
        """A whole number.

        Raises: InputError.
        """
        text = self.text(name)
        if not (text.isascii() and text.isdigit() and len(text) < 10):
            raise InputError("form", name, f'"{text[:20]}" is no whole number', "load the page again")
        return int(text)


def _line(text: str) -> str:
    return text.replace("\r\n", "\n").strip()


async def enquiry_form(request: Request) -> EnquiryForm:
    """What the form of this request has brought."""
    return EnquiryForm(await request.form())
