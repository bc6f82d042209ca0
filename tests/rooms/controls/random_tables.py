"""Random small tables and random runs of their inputs, from a seed: shapes that no one would think of."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from random import Random

import numpy as np
from numpy.typing import NDArray

from vaporwright.controls.expressions import All, Any, Expr, Is, Not, Was
from vaporwright.controls.table import Cause, Comparator, Effect, Latch, Table, Timer


def random_table(seed: int, *, comparators: bool = False) -> Table:
    """Up to a dozen items of each kind, reading one another as a table may."""
    dice = Random(seed)
    compared = (
        Comparator("hot", "tank_temperature_K", "above", 344.25, 1.5),
        Comparator("shallow", "depth_m", "below", 0.3, 0.01),
    )
    inputs = tuple(f"input_{place}" for place in range(dice.randint(1, 5)))
    kinds = ("timer", "cause", "latch", "effect")
    names = {kind: [f"{kind}_{place}" for place in range(dice.randint(1, 4))] for kind in kinds}
    signals = [*inputs, *(("hot", "shallow") if comparators else ())]
    everything, earlier = [*signals, *(name for kind in kinds for name in names[kind])], list(signals)

    def expr(depth: int = 3) -> Expr:
        choice = dice.randint(0, 4) if depth else dice.randint(0, 1)
        if choice == 0:
            return Is(dice.choice(earlier))
        if choice == 1:
            return Was(dice.choice(everything))
        if choice == 2:
            return Not(expr(depth - 1))
        parts = tuple(expr(depth - 1) for _ in range(dice.randint(0, 3)))
        return All(parts) if choice == 3 else Any(parts)

    items: dict[str, list[Timer | Cause | Latch | Effect]] = {kind: [] for kind in kinds}
    for kind in kinds:
        for name in names[kind]:
            made: Timer | Cause | Latch | Effect
            if kind == "timer":
                made = Timer(name, expr(), dice.choice((1, 2, 3, 5, 8)))
            elif kind == "cause":
                made = Cause(name, expr())
            elif kind == "latch":
                made = Latch(name, expr(), expr(), dice.random() < 0.5)
            else:
                made = Effect(name, expr(), expr())
            items[kind].append(made)
            earlier.append(name)
    return Table(
        f"random {seed}",
        0.1,
        inputs,
        compared if comparators else (),
        tuple(item for item in items["timer"] if isinstance(item, Timer)),
        tuple(item for item in items["cause"] if isinstance(item, Cause)),
        tuple(item for item in items["latch"] if isinstance(item, Latch)),
        tuple(item for item in items["effect"] if isinstance(item, Effect)),
        tuple(name for name in names["effect"] if dice.random() < 0.7),
    )


def random_inputs(table: Table, scans: int, seed: int, *, change: float = 0.05) -> NDArray[np.bool_]:
    """Signals that stay for a while, so that timers get somewhere; change is the chance of each in each scan."""
    dice = np.random.default_rng(seed)
    return _wandering(dice, scans, len(table.signals), change)


def disturbed_inputs(
    table: Table, scans: int, seed: int, resting: Mapping[str, bool], buttons: Collection[str]
) -> NDArray[np.bool_]:
    """A unit that mostly is well: signals off their resting value 1 scan in 64, buttons pushed often, 1 scan in 8."""
    dice = np.random.default_rng(seed)
    width = len(table.signals)
    slow = np.logical_and.reduce([_wandering(dice, scans, width, 0.003) for _ in range(6)])
    quick = np.logical_and.reduce([_wandering(dice, scans, width, 0.05) for _ in range(3)])
    busy = np.array([name in buttons for name in table.signals])
    return np.array([resting[name] for name in table.signals]) ^ np.where(busy, quick, slow)


def _wandering(dice: np.random.Generator, scans: int, width: int, change: float) -> NDArray[np.bool_]:
    flips = dice.random((scans, width)) < change
    return (np.cumsum(flips, axis=0) + dice.integers(0, 2, width)) % 2 == 1
