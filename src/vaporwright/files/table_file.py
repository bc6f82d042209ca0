"""Table files: a unit's cause-and-effect table as TOML that a shop edits, written and read.

Every mistake has one message that names file, row and key. Read is the inverse of written: the tables are equal, where
limits are held to a millionth of their SI unit, as those of a unit's own table are.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from vaporwright.controls.alarms import AlarmPanel
from vaporwright.controls.design import CELLS, CauseAndEffect, Cell, Column, Row, Signal
from vaporwright.controls.expansion import expanded
from vaporwright.controls.table import Comparator, SCANS_s
from vaporwright.controls.unit_signals import LIMIT_DIGITS
from vaporwright.display_units import US, to_shown
from vaporwright.files.catalogue_keys import CatalogueKey
from vaporwright.files.catalogue_values import Place, table_of, values_of
from vaporwright.files.condition_text import WORDS, condition_text, read_condition
from vaporwright.files.quantities import parse_quantity
from vaporwright.files.values import parse_toml, read_toml, unknown_key
from vaporwright.foundation.errors import InputError

_TITLE: Final = CatalogueKey("title", "text", "What people call it")
_KIND: Final = CatalogueKey("kind", "text", "What it is: button, selector, rod, motor, valve, ...")
TABLE_KEYS: Final = (
    CatalogueKey("name", "text", "Name of the table"),
    CatalogueKey("scan", "short duration", "Period of the scan; every delay is a whole number of scans", *SCANS_s),
)
PANEL_KEYS: Final = (
    CatalogueKey("silence", "text", "Button that stops the horn"),
    CatalogueKey("acknowledge", "text", "Button that says: seen"),
    CatalogueKey("reset", "text", "Button that clears what is latched, once its cause is gone"),
    CatalogueKey("horn", "text", "Name of the horn", optional=True),
    CatalogueKey("beacon", "text", "Name of the beacon", optional=True),
)
SIGNAL_KEYS: Final = (_TITLE, _KIND, CatalogueKey("on_means", "text", "What it says when it is on"))
EFFECT_KEYS: Final = (
    _TITLE,
    _KIND,
    CatalogueKey("holds", "yes or no", "An `on` row starts it and an `off` row ends it", optional=True),
    CatalogueKey("wins", "choice", "Which wins where both ask", choices=("on", "off"), optional=True),
)
ROW_KEYS: Final = (
    _TITLE,
    CatalogueKey("when", "text", "Condition, such as not low_rod and was run"),
    CatalogueKey("delay", "short duration", "For how long the condition must stay", optional=True),
    CatalogueKey("latched", "yes or no", "It stays until reset", optional=True),
    CatalogueKey("reset", "text", "Condition that resets it; the panel's reset where it is missing", optional=True),
    CatalogueKey("alarm", "choice", "Priority of its alarm", choices=("low", "medium", "high"), optional=True),
    CatalogueKey("first_out", "text", "Group in which it competes for first-out", optional=True),
    *(CatalogueKey(cell, "list", f"Effects: {cell}", optional=True) for cell in CELLS),
    CatalogueKey("why", "text", "Why it is there", optional=True),
)
SIDES: Final = ("above", "below")
_SECTIONS: Final = ("table", "panel", "signal", "comparator", "effect", "row")
# By the suffix of a comparator's quantity: of its limit and its hysteresis, and how the file spells their unit.
_QUANTITY_OF: Final = {
    "_K": (("temperature", "degF"), ("temperature difference", "degF")),
    "_m": (("short length", "in"), ("short length", "in")),
}
_SI_TEXT: Final = {"temperature": "K", "temperature difference": "K", "short length": "m", "short duration": "s"}
# Words of the messages of controls.design and controls.expansion, with the key of a row that they are about.
_KEY_OF_PROBLEM: Final = (
    ("a delay of", "delay"),
    ("is delayed", "delay"),
    ("is latched", "latched"),
    ("its reset", "reset"),
    ("has a reset", "reset"),
    ("alarm", "alarm"),
    ("first-out", "first_out"),
)
HEAD: Final = """\
# Cause-and-effect table of an evaporator's control. Edit it, then prove it again.
#
# Rows are causes in the order in which they are worked out. A row acts on effects:
#   on = it asks for them; off = it ends them; need = without it they are off, whatever else asks.
# Conditions: name, not name, was name (one scan ago), a and b, a or b, parentheses, true, false.
#
# The table describes ordinary control and protects nobody. Limits, low-water cut-off, emergency stop and burner
# safeguard are listed devices, hard-wired ahead of it. Changing it can hurt people: local codes and the licensed
# engineer, gas fitter and electrician decide.
"""


@dataclass(frozen=True)
class TableFile:
    """What a table file holds."""

    design: CauseAndEffect
    reasons: Mapping[str, str] = field(default_factory=dict)  # row to why it is there


def table_text(design: CauseAndEffect, reasons: Mapping[str, str] | None = None) -> str:
    """The TOML text of a table.

    Raises: InputError for a name that is a word of the conditions, and for a quantity that has no unit here.
    """
    for name in (*design.inputs, *(row.name for row in design.rows), *(column.name for column in design.columns)):
        _refuse_word(design.name, name)
    blocks = [HEAD, _block("table", name=design.name, scan=_exact(design.scan_s, "short duration", "s"))]
    if design.panel:
        blocks.append(_block("panel", **{key.name: getattr(design.panel, key.name) for key in PANEL_KEYS}))
    for signal in design.signals:
        blocks.append(_block(f"signal.{signal.name}", title=signal.title, kind=signal.kind, on_means=signal.on_means))
    blocks += [_comparator_block(design.name, item) for item in design.comparators]
    for column in design.columns:
        holds = column.holds or None
        blocks.append(
            _block(f"effect.{column.name}", title=column.title, kind=column.kind, holds=holds, wins=column.wins)
        )
    blocks += [_row_block(row, (reasons or {}).get(row.name)) for row in design.rows]
    return "\n".join(blocks)


def _row_block(row: Row, why: str | None) -> str:
    cells = {cell: [name for name, entry in row.effects.items() if entry == cell] or None for cell in CELLS}
    return _block(
        f"row.{row.name}",
        title=row.title,
        when=condition_text(row.condition),
        delay=_exact(row.delay_s, "short duration", "s") if row.delay_s else None,
        latched=row.latched or None,
        reset=None if row.reset is None else condition_text(row.reset),
        alarm=row.alarm,
        first_out=row.first_out or None,
        **cells,
        why=why,
    )


def _comparator_block(where: str, item: Comparator) -> str:
    limit, hysteresis = _quantities_of(where, f"comparator.{item.name}", item.quantity)
    return _block(
        f"comparator.{item.name}",
        quantity=item.quantity,
        side=item.side,
        limit=_exact(item.limit, *limit),
        hysteresis=_exact(item.hysteresis, *hysteresis),
    )


def _block(header: str, **values: object) -> str:
    """A TOML table; keys without a value are left out."""
    lines = [f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in values.items() if value is not None]
    return "\n".join([f"[{header}]", *lines, ""])


def _exact(value_si: float, quantity: str, unit: str) -> str:
    """The shortest text in the unit that reads back as this value; in SI where none does."""
    shown = to_shown(value_si, quantity, US) if unit != _SI_TEXT[quantity] else value_si
    for digits in range(11):
        text = f"{shown:.{digits}f} {unit}"
        if round(parse_quantity(text, quantity, where="", key=""), LIMIT_DIGITS) == round(value_si, LIMIT_DIGITS):
            return text
    return f"{value_si!r} {_SI_TEXT[quantity]}"


def _quantities_of(where: str, key: str, quantity: str) -> tuple[tuple[str, str], tuple[str, str]]:
    for suffix, quantities in _QUANTITY_OF.items():
        if quantity.endswith(suffix):
            return quantities
    raise InputError(
        where, f"{key}: quantity", f'"{quantity}" has no unit that is known here', f"a name ending in {_endings()}"
    )


def _endings() -> str:
    return " or ".join(_QUANTITY_OF)


def _refuse_word(where: str, name: str) -> None:
    if name in WORDS:
        raise InputError(where, name, "is a word of the conditions", f"a name other than {', '.join(WORDS)}")


def read_table_file(path: Path) -> TableFile:
    """The table of a file, valid as a whole.

    Raises: InputError naming file, row and key.
    """
    _, tables = read_toml(path)
    return _read(tables, str(path))


def read_table_text(text: str, where: str) -> TableFile:
    """The same of a text; `where` stands for the file in messages."""
    return _read(parse_toml(text, where), where)


def _read(tables: Mapping[str, Any], where: str) -> TableFile:
    top = Place(where, "")
    for name in tables:
        if name not in _SECTIONS:
            raise unknown_key(where, name, _SECTIONS)
    table = values_of(table_of(tables, "table", top), TABLE_KEYS, Place(where, "table"))
    effects = tuple(_effect(name, entry, place) for name, entry, place in _entries(tables, "effect", where))
    rows = [
        _row(name, entry, place, [effect.name for effect in effects])
        for name, entry, place in _entries(tables, "row", where)
    ]
    given: dict[str, Any] = {
        "name": table["name"],
        "scan_s": table["scan"],
        "signals": tuple(
            Signal(name, **values_of(entry, SIGNAL_KEYS, place))
            for name, entry, place in _entries(tables, "signal", where)
        ),
        "columns": effects,
        "rows": tuple(row for row, _ in rows),
        "comparators": tuple(_comparator(*entry) for entry in _entries(tables, "comparator", where)),
        "panel": _panel(tables, top),
    }
    try:
        design = CauseAndEffect(**given)
        expanded(design)  # what only shows there: rows that read what is not worked out yet, circles
    except InputError as error:
        raise _placed(error, tables, where) from None
    return TableFile(design, {row.name: why for row, why in rows if why is not None})


def _entries(tables: Mapping[str, Any], section: str, where: str) -> Iterator[tuple[str, Mapping[str, Any], Place]]:
    """The named tables of a section, in the file's order."""
    if section not in tables:
        if section == "comparator":
            return
        raise InputError(where, section, "missing", f"at least one table [{section}.NAME]")
    entries = table_of(tables, section, Place(where, ""))
    for name in entries:
        _refuse_word(where, name)
        yield name, table_of(entries, name, Place(where, section)), Place(where, f"{section}.{name}")


def _panel(tables: Mapping[str, Any], top: Place) -> AlarmPanel | None:
    if "panel" not in tables:
        return None
    return AlarmPanel(**values_of(table_of(tables, "panel", top), PANEL_KEYS, Place(top.where, "panel")))


def _effect(name: str, entry: Mapping[str, Any], place: Place) -> Column:
    values = values_of(entry, EFFECT_KEYS, place)
    return Column(name, values["title"], values["kind"], bool(values.get("holds")), values.get("wins"))


def _comparator(name: str, entry: Mapping[str, Any], place: Place) -> Comparator:
    named = CatalogueKey("quantity", "text", f"Name of the quantity, ending in {_endings()}")
    rest = ("side", "limit", "hysteresis")
    quantity = values_of(entry, (named,), place, rest)["quantity"]
    limit, hysteresis = _quantities_of(place.where, place.label, quantity)
    values = values_of(
        entry,
        (
            named,
            CatalogueKey("side", "choice", "On which side of the limit it is on", choices=SIDES),
            CatalogueKey("limit", limit[0], "Where it comes on"),
            CatalogueKey("hysteresis", hysteresis[0], "How far back it goes off", least=0.0),
        ),
        place,
    )
    return Comparator(name, quantity, values["side"], *(round(values[key], LIMIT_DIGITS) for key in rest[1:]))


def _row(name: str, entry: Mapping[str, Any], place: Place, effects: list[str]) -> tuple[Row, str | None]:
    values = values_of(entry, ROW_KEYS, place)
    if "delay" in values and values["delay"] <= 0.0:
        raise place.error("delay", f'"{entry["delay"]}" is no delay', "more than 0 s, or no delay")
    reset = values.get("reset")
    row = Row(
        name,
        values["title"],
        read_condition(values["when"], where=place.where, key=place.key("when")),
        _cells(values, place, effects),
        values.get("delay", 0.0),
        bool(values.get("latched")),
        None if reset is None else read_condition(reset, where=place.where, key=place.key("reset")),
        values.get("alarm"),
        values.get("first_out", ""),
    )
    return row, values.get("why")


def _cells(values: Mapping[str, Any], place: Place, effects: list[str]) -> dict[str, Cell]:
    cells: dict[str, Cell] = {}
    for cell in CELLS:
        for name in values.get(cell, ()):
            if name not in effects:
                near = unknown_key(place.where, name, effects)
                raise place.error(cell, f'"{name}" is no effect; {near.problem}', ", ".join(effects))
            if name in cells:
                raise place.error(cell, f'"{name}" stands under {cells[name]} too', "each effect once in a row")
            cells[name] = cell
    return cells


def _placed(error: InputError, tables: Mapping[str, Any], where: str) -> InputError:
    """An error of the table as a whole, with the file, the section and the key that it is about."""
    name, problem = error.key, error.problem
    if name == "scan_s":
        return InputError(where, "table: scan", problem, error.allowed)
    section = next((part for part in ("row", "effect", "comparator", "signal") if name in tables.get(part, {})), "")
    if not section:
        panel = [key for key, value in tables.get("panel", {}).items() if value == name]
        return InputError(where, f"panel: {panel[0]}" if panel else name, f"{name} {problem}", error.allowed)
    label = f"{section}.{name}"
    if section != "row" or "can't be a name" in problem or "written twice" in problem:
        return InputError(where, label, problem, error.allowed)
    row = tables["row"][name]
    unknown = re.fullmatch(r"(?:names the unknown signal|is delayed and reads|reads) (\w+).*", problem)
    if unknown:
        for key in ("when", "reset"):
            found = re.search(rf"\b{unknown[1]}\b", row.get(key, ""))
            if found:
                place = f'{problem}, at position {found.start() + 1} of "{row[key]}"'
                return InputError(where, f"{label}: {key}", place, error.allowed)
    key = next((key for words, key in _KEY_OF_PROBLEM if words in problem), "when")
    return InputError(where, f"{label}: {key}", problem, error.allowed)
