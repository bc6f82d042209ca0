"""A table with one thing changed: a cell taken out, a delay or a latch otherwise, wires in each other's terminals.

What a trial shows is worked out with these, and faults are planted with them. The changes are made in the expanded
table, so that the fault is in all that reads the row or the input, alarms and reset included.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from vaporwright.acceptance.trials.trial import TIME_SHARE, TIME_s
from vaporwright.controls.design import Row
from vaporwright.controls.expressions import FALSE, TRUE, All, Expr, Is, Was, replace_atoms
from vaporwright.controls.table import Cause, Effect, Item, Latch, Table, Timer

Aspect = tuple[str, str]  # ("cell", column), ("delay", "longer"), ("latch", ""), ("works", "")
TIMES_TOLERANCE = 2.0


def aspects_of(row: Row, table: Table) -> Iterator[tuple[Aspect, Table]]:
    """Each aspect of a row with the table that lacks it."""
    for column, cell in row.effects.items():
        yield ("cell", column), without_cell(table, row.name, column, cell)
    if row.delay_s:
        for way, sign in (("longer", 1.0), ("shorter", -1.0)):
            by_s = sign * off_by_s(row.delay_s, table)
            if row.delay_s + by_s >= table.scan_s:
                yield ("delay", way), with_delay(table, f"{row.name}_delay", by_s)
    if row.latched:
        yield ("latch", ""), without_latch(table, row.name)
        other = without_acknowledge(table, row)
        if other is not None:
            yield ("reset", "seen"), other
    if not row.effects and not row.alarm:
        yield ("works", ""), with_constant(table, row.name, FALSE)
        yield ("works", "not always"), with_constant(table, row.name, TRUE)


def changed_item(table: Table, name: str, change: object) -> Table:
    """The table with one item replaced by what `change` makes of it."""

    def group(items: tuple[Item, ...]) -> tuple[Item, ...]:
        return tuple(change(item) if item.name == name else item for item in items)  # type: ignore[operator]

    return replace(
        table,
        timers=group(table.timers),  # type: ignore[arg-type]
        causes=group(table.causes),  # type: ignore[arg-type]
        latches=group(table.latches),  # type: ignore[arg-type]
        effects=group(table.effects),  # type: ignore[arg-type]
    )


def without_cell(table: Table, row: str, column: str, cell: str) -> Table:
    """The table without what a row does to an effect."""
    silent = TRUE if cell == "need" else FALSE
    held = f"{column}_held"

    def instead(atom: Is | Was) -> Expr:
        return silent if atom == Is(row) else atom

    def change(item: Item) -> Item:
        if isinstance(item, Latch):
            return replace(item, set=replace_atoms(item.set, instead), reset=replace_atoms(item.reset, instead))
        assert isinstance(item, Effect)
        return replace(item, on=replace_atoms(item.on, instead), unless=replace_atoms(item.unless, instead))

    return changed_item(table, held if cell != "need" and held in table.item_of else column, change)


def with_delay(table: Table, timer: str, by_s: float) -> Table:
    """The table with a timer set longer, or shorter, by so much."""

    def change(item: Item) -> Item:
        assert isinstance(item, Timer)
        return replace(item, scans=item.scans + round(by_s / table.scan_s))

    return changed_item(table, timer, change)


def without_latch(table: Table, row: str) -> Table:
    """The table in which a latched row goes with its cause."""

    def change(item: Item) -> Item:
        assert isinstance(item, Latch)
        return replace(item, set=Is(f"{row}_cause"), reset=TRUE, set_wins=True)

    return changed_item(table, row, change)


def without_acknowledge(table: Table, row: Row) -> Table | None:
    """The table in which a trip can be reset before it was acknowledged; None for one with a reset of its own.

    That it can't be reset while its cause is there needs no such table: the latch's set wins.
    """
    latch = table.item_of[row.name]
    assert isinstance(latch, Latch)
    if row.reset is not None or row.alarm is None or not isinstance(latch.reset, All):
        return None
    unseen = Is(f"{row.name}_unacknowledged")
    reset = replace_atoms(latch.reset, lambda atom: FALSE if atom == unseen else atom)
    return changed_item(table, row.name, lambda item: replace(item, reset=reset))


def with_constant(table: Table, row: str, value: Expr) -> Table:
    """The table in which a row is always, or never, so."""

    def change(item: Item) -> Item:
        match item:
            case Cause():
                return replace(item, on=value)
            case Latch():
                return replace(item, set=value, reset=TRUE, set_wins=True)
            case Effect():
                return replace(item, on=value, unless=FALSE)
            case Timer():
                return item

    return changed_item(table, row, change)


def off_by_s(delay_s: float, table: Table) -> float:
    """How far a timer must be off to count: twice the tolerance of its step, and two scans."""
    return TIMES_TOLERANCE * max(TIME_SHARE * delay_s, TIME_s) + 2.0 * table.scan_s


def rewired(table: Table, instead: Callable[[Is | Was], Expr]) -> Table:
    """The table as it runs when its terminals see something else."""

    def change(item: Item) -> Item:
        match item:
            case Timer(name, when, scans):
                return Timer(name, replace_atoms(when, instead), scans)
            case Cause(name, on):
                return Cause(name, replace_atoms(on, instead))
            case Latch():
                return replace(item, set=replace_atoms(item.set, instead), reset=replace_atoms(item.reset, instead))
            case Effect(name, on, unless):
                return Effect(name, replace_atoms(on, instead), replace_atoms(unless, instead))

    return replace(
        table,
        timers=tuple(change(item) for item in table.timers),  # type: ignore[misc]
        causes=tuple(change(item) for item in table.causes),  # type: ignore[misc]
        latches=tuple(change(item) for item in table.latches),  # type: ignore[misc]
        effects=tuple(change(item) for item in table.effects),  # type: ignore[misc]
    )
