"""Every row of a unit's table as a trial, found by search; nothing about any row stands here.

For each row the search asks: what must one do to a standing unit so that this row acts, and can be seen to act? It goes
through the contexts (at rest, running, heat called for, and each with one selector turned) and the single things that a
technician can do, runs the unit on paper, and keeps where the row changes. What is still missing is tried with two
things at once, of those that the row's condition reads.

Whether a trial shows a row is not guessed: each aspect of the row (a cell, its delay, its latch, its own working) is
taken out of a copy of the table, the same inputs are put to it, and the trial counts only if what is looked at or timed
comes out differently. The shortest trials that show all aspects are taken. An aspect that no trial shows is named in
`hidden`: other rows do the same before it, or the devices' own wiring does.
"""

from __future__ import annotations

import pickle
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations, product
from typing import TYPE_CHECKING, Final, TypeVar

import numpy as np

from vaporwright.acceptance.trials.building import TrialBuilder
from vaporwright.acceptance.trials.contexts import base_contexts, turned
from vaporwright.acceptance.trials.found import ControlTrials, RowTrial
from vaporwright.acceptance.trials.means import STRING, Means, joined, means_of, resting_signals
from vaporwright.acceptance.trials.other_trials import Switching, other_trials
from vaporwright.acceptance.trials.paper_unit import PaperUnit
from vaporwright.acceptance.trials.table_changes import Aspect, aspects_of
from vaporwright.acceptance.trials.trial import (
    Context,
    PaperFilm,
    Replay,
    Trial,
    perform_on_paper,
    timed_s,
    use,
    value_of,
)
from vaporwright.controls.design import Row
from vaporwright.controls.expressions import Expr, atoms
from vaporwright.controls.table import Table
from vaporwright.controls.unit_table import UnitTable
from vaporwright.foundation.telling import Report, unheard

if TYPE_CHECKING:
    from numpy.typing import NDArray

Item = TypeVar("Item")
LOOKING: Final = "Trying everything that a technician can do to the unit"
WAITING: Final = "Waiting for what starts and stops by itself"
SHOWING: Final = "Finding the trial of each row"
CHECKING: Final = "Looking whether a trial shows each row"
DEEPER: Final = "Trying two things at once for rows not shown yet"
SHORT_s: Final = 5.0  # of a first look at what a means does
STARTS_s: Final = 0.5  # a delay that ends no earlier than this was started by what was done, not before
START_s: Final = 20.0  # of one together with a start
LONG_WAIT_s: Final = 45.0  # a start, until heat is called for
LONGEST_WAIT_s: Final = 260.0  # a stop, with both run-ons
FEW: Final = 6  # trials that are tried out for a row, and where they don't show all of it
MANY: Final = 24
ASKING: Final = ("push_start", "heat_auto")  # what makes a unit do something
ASKS: Final = 8  # trials in which an effect is asked for
LONG_ONES: Final = 3  # of those that take many minutes


@dataclass(frozen=True)
class Candidate:
    """A thing done in a context that makes a row change so many scans later."""

    context: Context
    means: Means
    after: int
    cost: float
    rises: bool  # the row comes on


def control_trials(unit: UnitTable, report: Report = unheard) -> ControlTrials:
    """Trials for every input, output, row and alarm of a unit's table.

    The search takes some seconds and depends on nothing but the table: what was found for the last few is kept.
    """
    key = pickle.dumps((unit.design, unit.heat, unit.options, unit.points, dict(unit.delays)))
    if key not in _KNOWN:
        while len(_KNOWN) >= MOST_KNOWN:
            _KNOWN.pop(next(iter(_KNOWN)))
        _KNOWN[key] = _Search(unit, report).found()
    return _KNOWN[key]


_KNOWN: dict[bytes, ControlTrials] = {}
MOST_KNOWN: Final = 8


class _Search:
    def __init__(self, unit: UnitTable, report: Report) -> None:
        self.report = report
        self.unit, self.design = unit, unit.design
        self.paper = PaperUnit(unit, resting_signals(unit))
        self.table = self.paper.table
        self.means = {means.key: means for means in means_of(unit)}
        self.bases = base_contexts(self.paper, self.means)
        self.builder = TrialBuilder(self.paper, self.means)
        self.switching: Switching = {}
        self._replays: dict[str, dict[Aspect, Replay]] = {}
        self.candidates: dict[str, list[Candidate]] = {row.name: [] for row in self.design.rows}

    def found(self) -> ControlTrials:
        """Search wide, then for what is missing deeper."""
        for context in self._counted(LOOKING, self.contexts):
            for means in self.means.values():
                self.look(context, means, SHORT_s)
        for key, wait_s in (("push_start", LONG_WAIT_s), ("push_stop", LONGEST_WAIT_s)):
            for context in self._counted(WAITING, self.contexts if key in self.means else ()):
                self.look(context, self.means[key], wait_s)
        rows = self.design.rows
        shown = {row.name: self.trials_of(row) for row in self._counted(SHOWING, rows)}
        left = self.not_shown(shown)
        for row in self._counted(DEEPER, [row for row in rows if left[row.name]]):
            singles, self.candidates[row.name] = self.candidates[row.name], []
            for context, means in self.pairs(row):
                self.look(context, means, START_s if any(key in means.key for key in ASKING) else SHORT_s, only=row)
            shown[row.name] += self.trials_of(row, left[row.name])
            self.candidates[row.name] += singles
        left = self.not_shown(shown)
        for row in self.design.rows:
            for kind, column in left[row.name]:
                if kind == "cell" and row.effects[column] == "off":
                    shown[row.name] += self.asked(row, column)
        left = self.not_shown(shown)
        trials = tuple(_numbered(item, place) for found in shown.values() for place, item in enumerate(found, 1))
        others = other_trials(self.builder, self.bases, self.switching, trials)
        used = {item.context.key: item.context for item in trials}
        used |= {item.context.key: item.context for item in others}
        hidden = {row: tuple(aspects) for row, aspects in left.items() if aspects}
        return ControlTrials(trials, others, {**self.bases, **used}, hidden, self.covered(trials))

    def _counted(self, stage: str, items: Sequence[Item]) -> Iterator[Item]:
        for place, item in enumerate(items):
            self.report(stage, place, len(items))
            yield item

    def covered(self, trials: Sequence[RowTrial]) -> dict[str, str]:
        """For rows without a trial of their own, the first step in which they change."""
        found = {}
        for row in self.design.rows:
            if any(item.row is row for item in trials):
                continue
            column = [item.film.made[:, self.paper.place[row.name]] for item in trials]
            moves = [item for item, line in zip(trials, column, strict=True) if _moves(line)]
            if moves:
                found[row.name] = moves[0].trial.key
        return found

    def not_shown(self, shown: Mapping[str, Sequence[RowTrial]]) -> dict[str, list[Aspect]]:
        """Aspects that no trial shows, be it another row's."""
        every = [item for found in shown.values() for item in found]
        left = {}
        for row in self._counted(CHECKING, self.design.rows):
            own = {aspect for item in shown[row.name] for aspect in item.shows}
            place = self.paper.place[row.name]
            moves = [item for item in every if item.row is not row and _moves(item.film.made[:, place])]
            left[row.name] = [
                aspect
                for aspect, replay in self.replays(row).items()
                if aspect not in own
                and not any(tells(item.trial, item.film, replay.film(item.context, item.film)) for item in moves)
                and not self.shown_by_devices(replay.table, shown[row.name])
            ]
        return left

    def shown_by_devices(self, table: Table, trials: Sequence[RowTrial]) -> bool:
        """Whether a trial shows the aspect once the devices follow what the other table tells them."""
        for item in trials:
            other = PaperUnit(self.unit, resting_signals(self.unit), table)
            perform_on_paper(other, None, item.context.acts, item.context.scans)
            film = perform_on_paper(other, other.state(), item.trial.acts, item.trial.scans)
            if tells(item.trial, item.film, film):
                return True
        return False

    def replays(self, row: Row) -> dict[Aspect, Replay]:
        """Tables that lack one aspect of a row each."""
        if row.name not in self._replays:
            self._replays[row.name] = {aspect: Replay(table) for aspect, table in aspects_of(row, self.table)}
        return self._replays[row.name]

    @cached_property
    def contexts(self) -> tuple[Context, ...]:
        """The bases, and each with one turn that leaves the unit in another state than all before."""
        found = [context for context in self.bases.values() if not context.fired]
        fired = [context for context in self.bases.values() if context.fired]
        for base in tuple(found):
            for means in self.means.values():
                if means.way == "selector" or set(means.changes) & {"refill_on_rod", "refill_off_rod"}:
                    found.append(turned(self.paper, base, means))
        return (*self._new(found), *fired)

    @staticmethod
    def _new(contexts: Sequence[Context]) -> Iterator[Context]:
        seen = set()
        for context in contexts:
            held = tuple(sorted(context.state.held.items()))
            mark = (context.outputs, held if "," not in context.key or context.key.startswith("rest") else ())
            if mark not in seen:
                seen.add(mark)
                yield context

    def pairs(self, row: Row) -> Iterator[tuple[Context, Means]]:
        """Two things at once of those that the row's condition reads."""
        support = self.supports[row.name]
        mine = [means for means in self.means.values() if set(means.changes) & support]
        start = [self.means[key] for key in ASKING if key in self.means]
        near = [context for context in self.contexts if "," not in context.key or "hand" in context.key]
        for first, second in (*combinations(mine, 2), *product(mine, start)):
            if not set(first.changes) & set(second.changes):
                for context in near:
                    yield context, joined(first, second)

    @cached_property
    def supports(self) -> dict[str, set[str]]:
        """Signals that each row reads."""
        return {row.name: self.support(row.condition) for row in self.design.rows}

    def support(self, expr: Expr) -> set[str]:
        """Signals that a condition reads, through rows."""
        rows = {row.name: row for row in self.design.rows}
        found: set[str] = set()
        waiting, done = [expr], set()
        while waiting:
            for atom in atoms(waiting.pop()):
                name = atom.name.removesuffix("_delay")
                if name in self.table.signals:
                    found.add(name)
                elif name in rows and name not in done:
                    done.add(name)
                    waiting.append(rows[name].condition)
        return found

    # What makes a row change

    def look(self, context: Context, means: Means, wait_s: float, only: Row | None = None) -> None:
        """Do it on paper and note which rows change, or will once their delay is over."""
        paper, scans = self.paper, round(wait_s / self.paper.scan_s)
        paper.load(context.state)
        before = paper.last.copy()
        for act in use(means, 0, round(0.5 / paper.scan_s)):
            paper.run(act.scan)
            paper.let_go(act.let_go)
            paper.hold(act.hold)
        paper.run(max(scans, 1))
        _, made = paper.record()
        if only is None:
            self.switched(context, means, before, made)
        counts = paper.engine.state().counts
        presets = {timer.name: timer.scans for timer in self.table.timers}
        for row in (only,) if only else self.design.rows:
            place = paper.place[row.name]
            changed = np.flatnonzero(made[:, place] != before[place])
            delay = f"{row.name}_delay"
            after = None
            if changed.size:
                after = int(changed[0])
            elif delay in presets and 0 < counts[delay] < presets[delay] and not before[place]:
                after = len(made) + presets[delay] - counts[delay]
            if after is not None:
                own = sum(name in self.supports[row.name] for name in means.changes)
                at = min(after, len(made) - 1)
                last = made[at - 1] if at else before
                seen = [paper.place[name] for name in row.effects if name in paper.place]
                acting = (
                    int((made[min(at + 1, len(made) - 1), seen] != last[seen]).sum())
                    if seen and after < len(made)
                    else 0
                )
                cost = (
                    after * paper.scan_s / 10.0
                    + 2.0 * len(means.deeds)
                    + 3.0 * ("," in context.key)
                    + 5.0 * means.hot
                    + 20.0 * context.fired
                    + 4.0 * (own == 0 and means.way != "button")
                    - 3.0 * acting
                    - 10.0 * (row.delay_s > 0.0 and after * paper.scan_s > row.delay_s - STARTS_s)
                    + 1.0 * (STRING in means.changes)
                )
                self.candidates[row.name].append(Candidate(context, means, after, cost, not before[place]))

    def switched(self, context: Context, means: Means, before: NDArray[np.bool_], made: NDArray[np.bool_]) -> None:
        """Note which outputs go on, and stay on."""
        for name in self.table.outputs:
            place = self.paper.place[name]
            if not before[place] and made[-1, place] and not context.fired:
                after = int(np.flatnonzero(made[:, place])[0])
                cost = 3.0 * (means.way == "device") + 2.0 * ("," in context.key) + 0.01 * after
                cost += 2.0 * (context.key.split(",")[0] not in ("power", "rest"))
                self.switching.setdefault(name, []).append((cost, context, means, after))

    # Which trials show it

    def trials_of(self, row: Row, wanted: Sequence[Aspect] | None = None) -> list[RowTrial]:
        """The fewest, shortest trials that show all wanted aspects of a row, all where not given."""
        replays = {aspect: item for aspect, item in self.replays(row).items() if wanted is None or aspect in wanted}
        tried: list[RowTrial] = []
        found: set[Aspect] = set()
        for place, candidate in enumerate(self._ordered(row)):
            if place >= (FEW if found >= set(replays) else MANY):
                break
            if place >= LONG_ONES and candidate.after * self.paper.scan_s > LONGEST_WAIT_s:
                continue
            trial, film = self.builder.trial(row, candidate.context, candidate.means, candidate.after)
            shows = tuple(
                aspect for aspect, replay in replays.items() if tells(trial, film, replay.film(candidate.context, film))
            )
            wait_s = candidate.after * self.paper.scan_s
            if shows or (not replays and not tried):
                tried.append(
                    RowTrial(row, trial, film, candidate.context, candidate.means, shows, wait_s, candidate.cost)
                )
            found |= set(shows)
            if len(shows) == len(replays):
                break
        return _fewest(tried)

    def asked(self, row: Row, column: str) -> list[RowTrial]:
        """A trial in which somebody asks for the effect that the row holds off, and does not get it."""
        ways = sorted(self.switching.get(column, ()), key=lambda entry: entry[0])
        asks = {means.key: means for _, _, means, _ in ways if means.way == "selector"}
        there = {context.key for _, context, means, _ in ways if means.key in asks}
        ordered = self._ordered(row)
        first = [item for item in ordered if item.context.key in there] + [item for item in ordered if item.rises]
        replay = self.replays(row)["cell", column]
        tries = [
            (item, ask)
            for item in list({id(item): item for item in first}.values())[:ASKS]
            for ask in list(asks.values())[:2]
        ]
        for item, ask in tries:
            if set(ask.changes) & set(item.means.changes) or any(name in item.context.key for name in asks):
                continue
            trial, film = self.builder.trial(row, item.context, item.means, item.after, ask)
            if tells(trial, film, replay.film(item.context, film)):
                wait_s = item.after * self.paper.scan_s
                return [RowTrial(row, trial, film, item.context, item.means, (("cell", column),), wait_s, item.cost)]
        return []

    def _ordered(self, row: Row) -> list[Candidate]:
        """Candidates by cost, of each thing done in each context the cheapest; for a delay, those that wait for it."""
        best: dict[tuple[str, str], Candidate] = {}
        for item in self.candidates[row.name]:
            mark = (item.context.key, item.means.key)
            if mark not in best or item.cost < best[mark].cost:
                best[mark] = item
        ordered = sorted(best.values(), key=lambda item: item.cost)
        if row.delay_s:
            waits = [item for item in ordered if item.rises]
            return [*waits[: MANY // 2], *(item for item in ordered if item not in waits[: MANY // 2])]
        return ordered


def _moves(line: NDArray[np.bool_]) -> bool:
    return bool(line.any()) and not line.all()


def _numbered(item: RowTrial, place: int) -> RowTrial:
    return replace(item, trial=replace(item.trial, key=f"{item.trial.key}_{place}")) if place > 1 else item


def _fewest(tried: Sequence[RowTrial]) -> list[RowTrial]:
    """Greedy: the trial that shows most of what is not shown yet, the shorter of two."""
    chosen: list[RowTrial] = []
    left = {aspect for item in tried for aspect in item.shows}
    while left:
        best = max(tried, key=lambda item: (len(left & set(item.shows)), -item.trial.hot, -item.cost))
        chosen.append(best)
        left -= set(best.shows)
    return chosen or list(tried[:1])


def tells(trial: Trial, film: PaperFilm, other: PaperFilm) -> bool:
    """Whether looks and timings of a trial come out differently on another table."""
    for look in trial.looks:
        if any(value_of(other, item, look.scan) != wanted for item, wanted in look.expected.items()):
            return True
    scan_s = film.table.scan_s
    for timing in trial.timings:
        found_s = timed_s(other, timing, trial.scans, scan_s)
        if found_s is None or abs(found_s - timing.expected_s) > timing.tolerance_s:
            return True
    return False
