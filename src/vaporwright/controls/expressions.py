"""The conditions of a cause-and-effect table: five kinds of node, no arithmetic, no clock.

    Is(name)     what the item is in this scan; only items that are worked out earlier may be named
    Was(name)    what it was at the end of the scan before; the only feedback, inputs included
    Not, All, Any

All(()) is always true and Any(()) never. Scan engine, proof and PLC text read the same nodes through `interpret`, so
that a condition has one meaning.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Final, Generic, TypeAlias, TypeVar

Value = TypeVar("Value")


@dataclass(frozen=True)
class Is:
    """The item in this scan."""

    name: str


@dataclass(frozen=True)
class Was:
    """The item at the end of the scan before; false at power-up."""

    name: str


@dataclass(frozen=True)
class Not:
    """True where the part is false."""

    part: Expr


@dataclass(frozen=True)
class All:
    """True where every part is."""

    parts: tuple[Expr, ...]


@dataclass(frozen=True)
class Any:
    """True where at least one part is."""

    parts: tuple[Expr, ...]


Expr: TypeAlias = Is | Was | Not | All | Any
TRUE: Final = All(())
FALSE: Final = Any(())
TRUTH_TABLE_ATOMS: Final = 16  # 65,536 lines; beyond that only the proof looks


def both(*parts: Expr) -> Expr:
    """All of them."""
    return parts[0] if len(parts) == 1 else All(parts)


def either(*parts: Expr) -> Expr:
    """Any of them."""
    return parts[0] if len(parts) == 1 else Any(parts)


def implies(condition: Expr, consequence: Expr) -> Expr:
    """Wherever the condition holds, so does the consequence."""
    return Any((Not(condition), consequence))


def pressed(button: str) -> Expr:
    """The scan in which a button goes down; a button held or welded is not pressed again."""
    return All((Is(button), Not(Was(button))))


@dataclass(frozen=True)
class Meaning(Generic[Value]):
    """What the five nodes mean to one reader of the table."""

    now: Callable[[str], Value]
    before: Callable[[str], Value]
    negation: Callable[[Value], Value]
    conjunction: Callable[[Sequence[Value]], Value]
    disjunction: Callable[[Sequence[Value]], Value]


def interpret(expr: Expr, meaning: Meaning[Value]) -> Value:
    """The expression as that reader sees it."""
    match expr:
        case Is(name):
            return meaning.now(name)
        case Was(name):
            return meaning.before(name)
        case Not(part):
            return meaning.negation(interpret(part, meaning))
        case All(parts):
            return meaning.conjunction([interpret(part, meaning) for part in parts])
        case Any(parts):
            return meaning.disjunction([interpret(part, meaning) for part in parts])


def evaluate(expr: Expr, now: Mapping[str, bool], before: Mapping[str, bool]) -> bool:
    """True or false, from the values of this scan and of the one before.

    Example:
        >>> evaluate(pressed("start"), {"start": True}, {"start": False})
        True
    """
    return interpret(expr, Meaning(now.__getitem__, before.__getitem__, lambda part: not part, all, any))


def atoms(expr: Expr) -> Iterator[Is | Was]:
    """Every Is and Was in it, in written order, repeats included."""
    match expr:
        case Is() | Was():
            yield expr
        case Not(part):
            yield from atoms(part)
        case All(parts) | Any(parts):
            for part in parts:
                yield from atoms(part)


def replace_atoms(expr: Expr, instead: Callable[[Is | Was], Expr]) -> Expr:
    """The expression with each Is and Was replaced."""
    return interpret(
        expr,
        Meaning[Expr](
            now=lambda name: instead(Is(name)),
            before=lambda name: instead(Was(name)),
            negation=Not,
            conjunction=lambda parts: All(tuple(parts)),
            disjunction=lambda parts: Any(tuple(parts)),
        ),
    )


def can_be_true(expr: Expr) -> bool | None:
    """Whether any values of its atoms, each free, make it true; None where a truth table would be too long.

    Example:
        >>> can_be_true(All((Is("wet"), Not(Is("wet")))))
        False
    """
    found = tuple(dict.fromkeys(atoms(expr)))
    if len(found) > TRUTH_TABLE_ATOMS:
        return None
    now = [atom.name for atom in found if isinstance(atom, Is)]
    before = [atom.name for atom in found if isinstance(atom, Was)]
    return any(
        evaluate(expr, dict(zip(now, line, strict=False)), dict(zip(before, line[len(now) :], strict=True)))
        for line in product((False, True), repeat=len(found))
    )
