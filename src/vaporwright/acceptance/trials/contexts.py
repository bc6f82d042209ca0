"""The states of a unit from which its rows are tried: at rest, running without heat, running with heat called for.

Each is reached as people reach it: selectors, reset, start. Others are one turn of a selector away from these.
In "called" the burner only purges yet, the contactor closes on a heater whose disconnect is locked open, the steam
valve opens on a steam line whose hand valve is shut: so the rows about heat are tried cold. Only "fired" has a flame.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

from vaporwright.acceptance.trials.means import RESTING_SELECTORS, Means, PUSHED_s
from vaporwright.acceptance.trials.paper_unit import PaperUnit
from vaporwright.acceptance.trials.trial import Act, Context, use

SETTLED_s: Final = 20.0
REST_s: Final = 135.0  # longer than cool-down and run-on: what waits for those has seen them
RUNNING_s: Final = 60.0
CALLED_s: Final = 6.0
FIRED_s: Final = 60.0
PREPARED: Final = (
    *(("turn", name, position) for name, position in RESTING_SELECTORS.items()),
    ("dip", "", "refill-on"),
    ("supply", "refill", "off"),
)
WORDS: Final[Mapping[str, str]] = {
    "power": "power on, nothing reset yet",
    "rest": "reset, at rest",
    "running": "running, heat selector off",
    "called": "running, heat selector just turned to auto",
    "fired": "running with heat",
}


def base_contexts(paper: PaperUnit, means: Mapping[str, Means]) -> dict[str, Context]:
    """At power-up, at rest, running, heat called for; for gas with a flame too. What a table lacks is left out."""
    press_s, scan_s = PUSHED_s, paper.scan_s
    found: dict[str, Context] = {}
    scan = 0
    acts: tuple[Act, ...] = (Act(0, PREPARED),)
    steps = (
        ("power", (), 2.0),
        ("rest", ("push_reset",), REST_s),
        ("running", ("push_start",), RUNNING_s),
        ("called", ("heat_auto",), CALLED_s),
        ("fired", (), FIRED_s),
    )
    for key, uses, settle_s in steps:
        if any(name not in means for name in uses) or (key == "fired" and "flame" not in paper.inputs):
            continue
        new = tuple(act for name in uses for act in use(means[name], scan, round(press_s / scan_s)))
        scan = _done(paper, new, scan, round(settle_s / scan_s))
        acts += new
        before = next(reversed(found.values()), None)
        made = _context(paper, key, WORDS[key], acts, scan, fired=key == "fired")
        found[key] = replace(made, base=before)
        paper.load(made.state)
    return found


def turned(paper: PaperUnit, base: Context, means: Means) -> Context:
    """A base with one selector, or one rod, otherwise."""
    paper.load(base.state)
    new = use(means, base.scans, 1)
    scan = _done(paper, new, base.scans, round(SETTLED_s / paper.scan_s))
    found = _context(paper, f"{base.key}, {means.key}", f"{base.words}; {means.action}", (*base.acts, *new), scan)
    return replace(found, fired=base.fired, base=base)


def _done(paper: PaperUnit, acts: tuple[Act, ...], scan: int, settle: int) -> int:
    for act in acts:
        paper.run(act.scan - scan)
        scan = act.scan
        paper.let_go(act.let_go)
        paper.hold(act.hold)
    paper.run(settle)
    return scan + settle


def _context(
    paper: PaperUnit, key: str, words: str, acts: tuple[Act, ...], scan: int, *, fired: bool = False
) -> Context:
    outputs = tuple(paper.value(name) for name in paper.table.outputs)
    read = paper.record()[0]
    return Context(key, words, acts, scan, paper.state(), read, outputs, fired)
