"""How a trial goes on from its cause: what is looked at, then silence, acknowledge, restore and reset, each looked at.

An alarm that latches is tried for each way in which its reset could work too early: with the cause still there, before
it was acknowledged, and without any reset. What is expected at each look is what the unit on paper did; an item that
moves within a second of a look is left out of it, as a person could not tell which side of it he saw.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from vaporwright.acceptance.trials.contexts import CALLED_s
from vaporwright.acceptance.trials.means import Means, PUSHED_s
from vaporwright.acceptance.trials.paper_unit import PaperUnit
from vaporwright.acceptance.trials.trial import (
    ALARM,
    DEVICE,
    FIRST,
    OUTPUT,
    UNSEEN,
    Act,
    Context,
    Look,
    PaperFilm,
    Sign,
    Timing,
    Trial,
    line_of,
    perform_on_paper,
    undo,
    use,
    value_of,
)
from vaporwright.controls.design import Row
from vaporwright.controls.expressions import atoms

CAUSE_s: Final = 2.0
SETTLE_s: Final = 1.5  # from a deed to a look
STILL_s: Final = 0.8  # before and after a look nothing that it looks at may move
AGAIN_s: Final = 60.0  # a longer delay is not waited for a second time
TO_CLEAR_s: Final = 8.0  # that its own reset may take to work
BACK_s: Final = 25.0  # until what comes back by itself is back


@dataclass
class Line:
    """A trial in the making: a cursor and what was put down."""

    scan_s: float
    at: int = 0
    acts: list[Act] = field(default_factory=list)
    looks: list[tuple[str, int]] = field(default_factory=list)

    def wait(self, seconds: float) -> None:
        """Let time go by."""
        self.at += round(seconds / self.scan_s)

    def do(self, acts: tuple[Act, ...]) -> None:
        """Put acts down, made for the cursor."""
        self.acts += acts

    def look(self, key: str) -> None:
        """Look when things have settled."""
        self.wait(SETTLE_s)
        self.looks.append((key, self.at))
        self.wait(STILL_s)


class TrialBuilder:
    """Makes trials of one unit."""

    def __init__(self, paper: PaperUnit, means: Mapping[str, Means]) -> None:
        self.paper, self.means, self.table = paper, means, paper.table
        self.pushed = round(PUSHED_s / paper.scan_s)
        self.holding = {column.name: column.holds for column in paper.unit.design.columns}

    def trial(
        self, row: Row, context: Context, means: Means, after: int, ask: Means | None = None
    ) -> tuple[Trial, PaperFilm]:
        """The trial of a row that changes so many scans after the means.

        Where its cause does not come again in a unit that it has stopped, the reset is tried unacknowledged at first.
        Args: ask: what asks for an effect that the row holds off, tried while its cause stands, and while it latches.
        """
        again = after * self.paper.scan_s <= AGAIN_s
        trial, film = self._trial(row, context, means, after, ask, again=again)
        if row.alarm and row.latched and row.reset is None and not means.momentary:
            look = next((look for look in trial.looks if look.field == "again"), None)
            if look is None or not look.expected.get(f"{UNSEEN}:{row.name}"):
                return self._trial(row, context, means, after, ask, again=False)
        return trial, film

    def _trial(
        self, row: Row, context: Context, means: Means, after: int, ask: Means | None, *, again: bool
    ) -> tuple[Trial, PaperFilm]:
        line = Line(self.paper.scan_s)
        line.wait(0.5)
        line.looks.append(("before", line.at))
        line.wait(CAUSE_s - 0.5)
        cause = line.at
        line.do(use(means, cause, self.pushed))
        line.at += after
        line.wait(max(1.0, 0.1 * after * self.paper.scan_s))
        line.look("then")
        self._ask(line, ask, "asked")
        if row.alarm and self.panel:
            self._after_alarm(line, row, means, context, after if again else None, ask)
        elif not means.momentary:
            line.do(undo(means, line.at))
            line.wait(1.0)
            line.look("restored")
            if row.latched and self.panel:
                self._push(line, "push_reset")
                line.look("reset")
        line.wait(1.0)
        film = perform_on_paper(self.paper, context.state, tuple(line.acts), line.at)
        looks = tuple(
            part
            for key, scan in line.looks
            for part in self._parts(row, self._expected(film, row, key, scan))
            if part.expected
        )
        timings = self._timings(film, row, cause, after)
        hot = means.hot or context.fired or self._lit(film)
        acts = tuple(sorted(line.acts, key=lambda act: act.scan))
        return Trial(f"rows.{row.name}", context.key, acts, looks, timings, line.at, hot), film

    @property
    def panel(self) -> bool:
        """There are buttons to silence, acknowledge and reset."""
        return {"push_silence", "push_acknowledge", "push_reset"} <= set(self.means)

    def _push(self, line: Line, key: str) -> None:
        line.do(use(self.means[key], line.at, self.pushed))

    def _ask(self, line: Line, ask: Means | None, key: str) -> None:
        """Ask for an effect, look whether it stays off, and ask no more."""
        if ask is not None:
            line.do(use(ask, line.at, self.pushed))
            line.look(key)
            line.do(undo(ask, line.at))
            line.wait(0.5)

    def _after_alarm(
        self, line: Line, row: Row, means: Means, context: Context, after: int | None, ask: Means | None
    ) -> None:
        """Silence, acknowledge, reset with the cause there; restore; reset. Then, if short, reset unacknowledged."""
        self._push(line, "push_silence")
        line.look("silenced")
        if row.latched and row.reset is None and after is None:
            line.do(undo(means, line.at))
            line.wait(2.5)
            self._push(line, "push_reset")
            line.look("reset_unseen")
            self._ask(line, ask, "asked_again")
        self._push(line, "push_acknowledge")
        line.look("acknowledged")
        if any(cell == "off" and self.holding[name] for name, cell in row.effects.items()):
            self._push(line, "push_start")
            line.look("start_refused")
        if not (row.latched and row.reset is None and after is None):
            self._push(line, "push_reset")
            line.look("reset_with_cause")
            line.do(undo(means, line.at))
            line.wait(2.5)
            line.look("restored")
            self._ask(line, ask, "asked_again")
        self._push(line, "push_reset")
        line.look("reset")
        if row.latched and row.reset is not None:
            self._clear(line, row, context)
        elif row.latched and not means.momentary and after is not None:
            self._once_more(line, means, after)

    def _clear(self, line: Line, row: Row, context: Context) -> None:
        """What the row's own reset asks for, then the panel's."""
        clears = self._what_clears(row, context, line)
        if clears is not None:
            line.do(use(clears, line.at, self.pushed))
            line.wait(BACK_s)
            line.look("cleared")
            line.do(undo(clears, line.at))
            line.wait(1.0)
            self._push(line, "push_reset")
            line.look("reset_after")

    def _once_more(self, line: Line, means: Means, after: int) -> None:
        """The same cause again, and a reset before anyone has acknowledged."""
        line.wait(1.5)
        line.do(use(means, line.at, self.pushed))
        line.at += after
        line.wait(max(1.0, 0.1 * after * line.scan_s))
        line.look("again")
        line.do(undo(means, line.at))
        line.wait(2.5)
        self._push(line, "push_reset")
        line.look("reset_unseen")
        self._push(line, "push_acknowledge")
        line.wait(1.5)
        self._push(line, "push_reset")
        line.look("reset_seen")

    def _what_clears(self, row: Row, context: Context, line: Line) -> Means | None:
        """The first thing that brings a row's own reset about, after what was done so far."""
        assert row.reset is not None
        rows = {other.name: other for other in self.paper.unit.design.rows}
        reads = {
            atom.name
            for found in atoms(row.reset)
            for atom in (found, *(atoms(rows[found.name].condition) if found.name in rows else ()))
        }
        for means in self.means.values():
            if set(means.changes) & reads:
                acts = (*line.acts, *use(means, line.at, self.pushed))
                scans = line.at + round(TO_CLEAR_s / line.scan_s)
                film = perform_on_paper(self.paper, context.state, acts, scans)
                if not value_of(film, f"{ALARM}:{row.name}", scans - 1):
                    return means
        return None

    def _parts(self, row: Row, look: Look) -> tuple[Look, ...]:
        """What the row does is ticked effect by effect, its alarm and its place as the first too; the rest together."""
        if look.field != "then":
            return (look,)
        panel = self.paper.unit.design.panel
        told = (f"{OUTPUT}:{panel.horn}", f"{OUTPUT}:{panel.beacon}") if panel and row.alarm else ()
        mine = {f"{OUTPUT}:{name}": f"then_{name}" for name in row.effects}
        mine |= dict.fromkeys((f"{ALARM}:{row.name}", f"{UNSEEN}:{row.name}", *told), "then_alarm")
        mine[f"{FIRST}:{row.name}"] = "then_first"
        parts: dict[str, dict[str, bool]] = {}
        for item, value in look.expected.items():
            parts.setdefault(mine.get(item, "then"), {})[item] = value
        return tuple(Look(key, look.scan, expected) for key, expected in parts.items())

    def _expected(self, film: PaperFilm, row: Row, key: str, scan: int) -> Look:
        items = [f"{OUTPUT}:{name}" for name in self.table.outputs]
        alarms = {alarm.row for alarm in self.table.alarms}
        if row.name in alarms:
            items += [f"{ALARM}:{row.name}", f"{UNSEEN}:{row.name}"]
        if row.first_out:
            items.append(f"{FIRST}:{row.name}")
        return self.expected(film, key, scan, items)

    def expected(self, film: PaperFilm, key: str, scan: int, items: Sequence[str]) -> Look:
        """A look at some items, without those that move near it."""
        still = round(STILL_s / self.paper.scan_s)
        expected = {}
        for item in items:
            seen = line_of(film, item.replace(DEVICE, OUTPUT))
            assert seen is not None
            around = seen[max(scan - still, 0) : scan + still]
            if (around == around[0]).all():
                expected[item] = value_of(film, item, scan)
        return Look(key, scan, expected)

    def _timings(self, film: PaperFilm, row: Row, cause: int, after: int) -> tuple[Timing, ...]:
        """The delay of the row, where something seen marks both its begin and its end."""
        if not row.delay_s:
            return ()
        at = cause + after
        delay = film.column(f"{row.name}_delay")
        assert delay is not None
        rises = np.flatnonzero(delay[1:] & ~delay[:-1]) + 1
        near = [int(scan) for scan in rises if abs(int(scan) - at) <= 1] or [int(scan) for scan in rises]
        if not near:
            return ()
        end_scan = near[0]
        begin = end_scan - round(row.delay_s / self.paper.scan_s) + 1
        end = self._sign_at(film, row, end_scan)
        start = self._begin(film, row, begin, cause)
        if end is None or start is None:
            return ()
        seen = line_of(film, end.item)
        assert seen is not None
        comes = next(scan for scan in range(end_scan, end_scan + 2) if seen[scan] == end.on)
        from_scan = start if isinstance(start, int) else self._first(film, start)
        if from_scan is None or not self._only_change(film, end, from_scan, comes):
            return ()
        seconds = (comes - from_scan) * self.paper.scan_s
        near_enough = abs(seconds - row.delay_s) <= 2.5 * self.paper.scan_s  # a scan or two of counting
        return (Timing("delay_s", start, end, row.delay_s if near_enough else seconds),)

    @staticmethod
    def _only_change(film: PaperFilm, end: Sign, begin: int, comes: int) -> bool:
        seen = line_of(film, end.item)
        assert seen is not None
        return not (seen[max(begin, 1) : comes] == end.on).any()

    @staticmethod
    def _first(film: PaperFilm, sign: Sign) -> int | None:
        seen = line_of(film, sign.item)
        if seen is None:
            return None
        found = np.flatnonzero((seen[1:] == sign.on) & (seen[:-1] != sign.on))
        return int(found[0]) + 1 if found.size else None

    def _sign_at(self, film: PaperFilm, row: Row, scan: int) -> Sign | None:
        """What is seen to change in that scan, or in the next: the alarm, or an effect."""
        items = [f"{ALARM}:{row.name}"] if row.alarm else []
        items += [f"{OUTPUT}:{name}" for name in (*row.effects, *self.table.outputs)]
        for at in (scan, scan + 1):
            for item in items:
                seen = line_of(film, item)
                if seen is not None and at < len(seen) and seen[at] != seen[at - 1]:
                    return Sign(item, bool(seen[at]))
        return None

    def _begin(self, film: PaperFilm, row: Row, scan: int, cause: int) -> int | Sign | None:
        """What started the delay: the deed, or a lamp."""
        if abs(scan - cause) <= 1:
            return cause
        names = [f"input:{name}" for name in self.table.inputs]
        names += [f"{OUTPUT}:{name}" for name in self.table.outputs]
        del row
        for at in (scan, scan - 1):
            for item in names:
                seen = film.column(item.partition(":")[2])
                if seen is not None and at > 0 and seen[at] != seen[at - 1]:
                    sign = Sign(item, bool(seen[at]))
                    if self._first(film, sign) == at:
                        return sign
        return None

    def _lit(self, film: PaperFilm) -> bool:
        """Whether a burner would be past its purge: heat called for that long in one go."""
        heat = film.column("heat")
        if "flame" not in self.table.inputs or heat is None:
            return False
        longest = round(self.paper.unit.delays["pre_purge_s"] / self.paper.scan_s) - round(CALLED_s / self.paper.scan_s)
        ends = np.flatnonzero(np.diff(np.concatenate(([False], heat, [False])).astype(np.int8)))
        return bool((ends[1::2] - ends[::2] >= longest).any())
