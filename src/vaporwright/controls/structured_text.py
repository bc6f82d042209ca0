"""The table as IEC 61131-3 Structured Text, for a qualified person to check, load and test.

The text is as small a part of the language as will do: assignments, counters that saturate, no function blocks, no
retained variables. It must run as a periodic task at the period of the scan, alone in writing its variables. Parsed
back, it is proved equal to the table by the tests of this project; what a controller makes of it is not.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from textwrap import wrap
from typing import Final, Literal

from vaporwright.controls.expressions import FALSE, Expr, Meaning, Was, atoms, interpret
from vaporwright.controls.table import Cause, Comparator, Effect, Item, Label, Latch, Table, Timer, conditions

CAUTIONS: Final = (
    "UNVERIFIED EXPORT. A qualified person must check it against the approved cause-and-effect table, load it,",
    "and test every row of it on the machine before heat, gas or power is let in.",
    "This is ordinary control, no safety controller. Low-water cut-off, high limit, airflow, gas pressure and",
    "emergency stop are hard-wired in series ahead of a listed burner safeguard; this text only asks for heat.",
    "Gas, flame, power, moving parts, hot liquid and chemicals hurt and kill: lock out before work, keep guards on.",
    "Local codes, the authority having jurisdiction and the licensed engineer, gas fitter and electrician decide.",
)


@dataclass(frozen=True)
class IoPoint:
    """One line of the I/O list."""

    name: str
    direction: Literal["digital input", "digital output", "analog input"]
    title: str
    device: str
    on_means: str


def io_list(table: Table) -> tuple[IoPoint, ...]:
    """What is wired to the controller: inputs, quantities behind comparators, outputs."""
    points = [_point(table, name, "digital input") for name in table.inputs]
    for quantity in _quantities(table):
        uses = "; ".join(f"{item.name}: {item.side} {item.limit:g}" for item in _comparators_of(table, quantity))
        points.append(IoPoint(quantity, "analog input", quantity, "transmitter", uses))
    return (*points, *(_point(table, name, "digital output") for name in table.outputs))


def structured_text(table: Table) -> str:
    """The whole text, one program and the task that runs it."""
    program = "PROGRAM_OF_" + "_".join(re.findall("[A-Z0-9]+", table.name.upper()))
    lines = ["(*", f"   {_comment(table.name)}", *(f"   {line}" for line in CAUTIONS)]
    lines += [f"   Order of a scan: inputs, timers, causes, latches, effects. Scan: {_period(table)}.", "*)", ""]
    lines += [f"PROGRAM {program}", *_declarations(table), "", *map(_wrapped, _body(table)), "END_PROGRAM", ""]
    lines += [
        f"CONFIGURATION {program}_UNIT",
        f"    RESOURCE {program}_CONTROLLER ON PLC",
        f"        TASK {program}_SCAN(INTERVAL := {_period(table)}, PRIORITY := 1);",
        f"        PROGRAM {program}_RUN WITH {program}_SCAN : {program};",
        "    END_RESOURCE",
        "END_CONFIGURATION",
        "",
    ]
    return "\n".join(lines)


def _wrapped(line: str) -> str:
    indent = " " * (len(line) - len(line.lstrip()))
    return (
        "\n".join(wrap(line, 118, initial_indent=indent, subsequent_indent=indent + "    ")) if line.strip() else line
    )


def _period(table: Table) -> str:
    return f"T#{round(table.scan_s * 1000)}ms"


def _point(table: Table, name: str, direction: Literal["digital input", "digital output"]) -> IoPoint:
    label = table.labels.get(name, Label(name, ""))
    return IoPoint(name, direction, label.title, label.kind, label.on_means)


def _quantities(table: Table) -> tuple[str, ...]:
    return tuple(dict.fromkeys(item.quantity for item in table.comparators))


def _comparators_of(table: Table, quantity: str) -> tuple[Comparator, ...]:
    return tuple(item for item in table.comparators if item.quantity == quantity)


def _asked_before(table: Table) -> tuple[str, ...]:
    """Names of which something asks what they were."""
    asked = {
        atom.name for item in table.items for expr in conditions(item) for atom in atoms(expr) if isinstance(atom, Was)
    }
    return tuple(name for name in table.names if name in asked)


def _declarations(table: Table) -> Iterator[str]:
    def declared(names: Iterator[str], kind: str, start: str) -> Iterator[str]:
        for name in names:
            title = table.labels[name].title if name in table.labels else ""
            yield f"    {name} : {kind} := {start};" + (f" (* {_comment(title)} *)" if title else "")

    yield "VAR_INPUT"
    yield from declared(iter(table.inputs), "BOOL", "FALSE")
    yield from declared(iter(_quantities(table)), "LREAL", "0.0")
    yield "END_VAR"
    yield "VAR_OUTPUT"
    yield from declared(iter(table.outputs), "BOOL", "FALSE")
    yield "END_VAR"
    yield "VAR"
    yield from declared((item.name for item in table.comparators), "BOOL", "FALSE")
    yield from declared((item.name for item in table.items if item.name not in table.outputs), "BOOL", "FALSE")
    yield from declared((f"{timer.name}_count" for timer in table.timers), "DINT", "0")
    yield from declared((f"was_{name}" for name in _asked_before(table)), "BOOL", "FALSE")
    yield "END_VAR"


def _comment(text: str) -> str:
    return text.replace("(*", "( *").replace("*)", "* )")


def _body(table: Table) -> Iterator[str]:
    sections: tuple[tuple[str, tuple[Item, ...]], ...] = (
        ("timers", table.timers),
        ("causes", table.causes),
        ("latches", table.latches),
        ("effects", table.effects),
    )
    yield "(* comparators *)"
    for comparator in table.comparators:
        yield from _comparator(comparator)
    for heading, items in sections:
        yield f"(* {heading} *)"
        for item in items:
            yield from _statement(item)
    yield "(* kept for the next scan *)"
    for name in _asked_before(table):
        yield f"was_{name} := {name};"


def _comparator(item: Comparator) -> Iterator[str]:
    beyond, short = (">=", "<") if item.side == "above" else ("<=", ">")
    yield f"IF {item.quantity} {beyond} {_real(item.limit)} THEN {item.name} := TRUE;"
    yield f"ELSIF {item.quantity} {short} {_real(item.back)} THEN {item.name} := FALSE;"
    yield "END_IF;"


def _real(value: float) -> str:
    """The shortest decimal number that reads back as the same value, written without an exponent."""
    return format(Decimal(repr(value)), "f")


def _statement(item: Item) -> Iterator[str]:
    match item:
        case Timer(name, when, scans):
            yield f"IF {_text(when)} THEN"
            yield f"    IF {name}_count < {scans} THEN {name}_count := {name}_count + 1; END_IF;"
            yield "ELSE"
            yield f"    {name}_count := 0;"
            yield "END_IF;"
            yield f"{name} := {name}_count >= {scans};"
        case Cause(name, on):
            yield f"{name} := {_text(on)};"
        case Latch(name, asked, ended, True):
            yield f"{name} := {_text(asked)} OR ({name} AND NOT {_text(ended)});"
        case Latch(name, asked, ended, False):
            yield f"{name} := ({_text(asked)} OR {name}) AND NOT {_text(ended)};"
        case Effect(name, on, unless):
            yield f"{name} := {_text(on)};" if unless == FALSE else f"{name} := {_text(on)} AND NOT {_text(unless)};"


def _text(expr: Expr) -> str:
    return interpret(
        expr,
        Meaning[str](
            now=lambda name: name,
            before=lambda name: f"was_{name}",
            negation=lambda part: f"(NOT {part})",
            conjunction=lambda parts: _joined(" AND ", parts, "TRUE"),
            disjunction=lambda parts: _joined(" OR ", parts, "FALSE"),
        ),
    )


def _joined(operator: str, parts: Sequence[str], empty: str) -> str:
    if not parts:
        return empty
    return parts[0] if len(parts) == 1 else f"({operator.join(parts)})"
