"""Planted faults in the whole table of a demo unit: which of them proof and rehearsal find (a program run by hand).

    python benchmarks/table_mutants.py --heat gas

Every mutant is one small fault in the matrix. It goes through these sieves until one holds it:

    refused      the matrix or its expansion says a named error
    claims       a safety claim falls, or silence changes more than the horn
    equivalent   proved: from power-up on, whatever the inputs, all that people and plant can see is the same (outputs,
                 alarms with their states, first-out); the memory behind it may differ
    rehearsal    a script of the library has an expectation that the table meets and the mutant does not, or stops with
                 an error on the mutant only; short scripts first, the day of refills last
    recoveries   some state no longer gets back to running (slow)
    survived     none of these: a gap, or a difference that has to be explained by name

What the scripts expect was written from the unmutated table's delays and the trade's behaviour. A score says how many
planted faults were seen; it does not say that no other fault can be there.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal
from typing import Any as Term

import numpy as np
import z3

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from example_rigs import example_rig, example_table
from rooms.controls.mutants import Mutant, mutants
from vaporwright.controls.design import CauseAndEffect
from vaporwright.controls.expansion import expanded
from vaporwright.controls.expressions import Expr, Is, Not, Was, atoms, replace_atoms
from vaporwright.controls.models import model_of, truth
from vaporwright.controls.proof import Proof, prove
from vaporwright.controls.properties import Always, Property
from vaporwright.controls.rehearsal import rehearse
from vaporwright.controls.rig import Rig
from vaporwright.controls.scan import Engine
from vaporwright.controls.script import Happening, Script
from vaporwright.controls.symbols import Beginning, Count, PowerUp, SymbolicScan, disjunction
from vaporwright.controls.table import Table, Timer
from vaporwright.controls.unit_properties import SILENCE, claims_of, recoveries_of
from vaporwright.controls.unit_table import UnitTable
from vaporwright.files.script_library import library_scripts
from vaporwright.foundation.errors import InputError, NotConverged, OutOfRange

if TYPE_CHECKING:
    from numpy.typing import NDArray

Stage = Literal["refused", "claims", "equivalent", "rehearsal", "recoveries", "survived"]
STAGES: Final[tuple[Stage, ...]] = ("refused", "claims", "equivalent", "rehearsal", "recoveries", "survived")
DEEPEST: Final = 3  # scans of the induction that two tables stay alike
NAMED: Final = (InputError, OutOfRange, NotConverged)
PROCESSES: Final = 2


@dataclass(frozen=True)
class Finding:
    """What became of a mutant, and by what."""

    kind: str
    what: str
    stage: Stage
    by: str

    @property
    def name(self) -> str:
        return f"{self.kind}: {self.what}"


def all_mutants(design: CauseAndEffect) -> tuple[Mutant, ...]:
    """The single faults of `rooms.controls.mutants`, and those of what only a whole table has: resets, alarms."""
    return (*mutants(design), *_more(design))


def _more(design: CauseAndEffect) -> Iterator[Mutant]:
    for row in design.rows:
        if row.alarm:
            yield _changed("no alarm", design, row.name, alarm=None)
        if row.first_out:
            yield _changed("not in first-out", design, row.name, first_out="")
        if row.delay_s:
            yield _changed("no delay", design, row.name, delay_s=0.0)
        if row.latched and row.reset is not None:
            for atom in dict.fromkeys(atoms(row.reset)):
                yield _changed("inverted reset", design, row.name, f"{atom} of ", reset=_inverted(row.reset, atom))
            yield _changed("reset by button instead", design, row.name, reset=None)


def _changed(kind: str, design: CauseAndEffect, name: str, of: str = "", /, **changes: Term) -> Mutant:
    def make() -> CauseAndEffect:
        rows = tuple(replace(row, **changes) if row.name == name else row for row in design.rows)
        return replace(design, rows=rows)

    return Mutant(kind, f"{of}{name}", make)


def _inverted(expr: Expr, atom: Is | Was) -> Expr:
    return replace_atoms(expr, lambda found: Not(found) if found == atom else found)


# Two tables that nobody can tell apart.


class _Other(Beginning):
    """A state of the mutant: as the original's in what is alike, anything in the rest."""

    def __init__(self, first: Beginning, alike: Mapping[str, int]) -> None:
        super().__init__("other")
        self._first, self._alike = first, alike

    def seen(self, name: str) -> Term:
        return self._first.seen(name) if name in self._alike else super().seen(name)

    def count(self, timer: Timer) -> Count:
        same = self._alike.get(timer.name) == timer.scans
        return self._first.count(timer) if same else super().count(timer)


def look_alike(one: Table, two: Table, claims: Sequence[Always] = ()) -> bool:
    """Whether outputs, alarm states and first-out of two tables are the same from power-up on, whatever comes in.

    By induction over up to DEEPEST scans: two states that agree in what is alike, followed through the same inputs,
    agree again. What is alike shrinks by whatever differs, and the two look alike as long as nothing visible goes.
    Args: claims: proved of the first table and without watchers, taken as given of its states.
    """
    visible = visible_of(one)
    if one.signals != two.signals or visible.keys() != visible_of(two).keys():
        return False
    return any(_alike(one, two, claims, depth) for depth in range(1, DEEPEST + 1))


def visible_of(table: Table) -> dict[str, str]:
    """What people and plant see of a table: what it is, and the name of the item that has it."""
    seen = {f"output {name}": name for name in table.outputs}
    for alarm in table.alarms:
        seen |= {f"alarm {alarm.row}": alarm.active, f"alarm {alarm.row} unacknowledged": alarm.unacknowledged}
        seen[f"alarm {alarm.row} stands"] = alarm.latched or alarm.active
    return seen | {f"first out {row}": latch for latch, row in table.first_out.items()}


def _alike(one: Table, two: Table, claims: Sequence[Always], depth: int) -> bool:
    presets = {timer.name: timer.scans for timer in one.timers}
    others = {timer.name: timer.scans for timer in two.timers}
    alike = {name: presets.get(name, 0) for name in one.names if name in two.names}
    alike = {name: scans for name, scans in alike.items() if others.get(name, 0) == scans}
    first_seen, second_seen = visible_of(one), visible_of(two)
    while True:
        start = Beginning()
        found = _differing(one, two, start, _Other(start, alike), alike, claims, range(depth, depth + 1))
        if not found and depth > 1:
            found = _differing(one, two, PowerUp(), PowerUp(), alike, (), range(1, depth))
        if not found:
            return True
        for name in found:
            alike.pop(name, None)
        if any(found & {first_seen[what], second_seen[what]} for what in first_seen):
            return False


def _differing(
    one: Table, two: Table, start: Beginning, other: Beginning, alike: Mapping[str, int],
    claims: Sequence[Always], places: Iterable[int],
) -> set[str]:  # fmt: skip
    """Names that some run makes differ at one of these scans, having been alike in all scans before."""
    visible = [(first, visible_of(two)[what]) for what, first in visible_of(one).items()]
    before, before_two, given = start, other, []
    for place in range(1, max(places) + 1):
        scan, scan_two = SymbolicScan(one, before, place), SymbolicScan(two, before_two, place)
        apart: dict[str, Term] = {
            name: z3.Xor(scan.seen(name), scan_two.seen(name)) for name in alike if name not in one.signals
        }
        for first, second in visible:
            if first != second or first not in alike:
                apart[first] = z3.Xor(scan.seen(first), scan_two.seen(second))
        for timer in one.timers:
            if alike.get(timer.name) == timer.scans:
                differs = scan.count(timer).term(timer.scans) != scan_two.count(timer).term(timer.scans)
                apart[timer.name] = z3.Or(differs, apart[timer.name])
        given += [scan.claim(item.claim) for item in claims]
        if place in places:
            model = model_of([disjunction(list(apart.values())), *given, *other.conditions], start)
            if model is not None:
                return {name for name, term in apart.items() if truth(model, term)}
        given += [z3.Not(term) for term in apart.values()]
        before, before_two = scan, scan_two
    return set()


# A script played once: what came in, and what a mutant that makes the same of it need not be rehearsed for.

BLOCK_scans: Final = 40_000


@dataclass(frozen=True)
class Recording:
    """A script on the unmutated table: which expectations were met, and every signal and watched name that changed.

    A rehearsal is deterministic, and a table acts on it through its outputs only, and through the names that events
    wait for. A mutant that makes the same of the recorded inputs gives the same rehearsal, to the last digit; what it
    makes of them takes a hundredth of the time. Where it makes anything else, the script is rehearsed in full.
    """

    met: frozenset[int]
    scans: int
    watched: tuple[str, ...]
    inputs: tuple[tuple[int, str, bool], ...]
    changes: frozenset[tuple[int, str, bool]]

    @classmethod
    def of(cls, script: Script, rig: Rig) -> Recording:
        played = rehearse(script, rig)
        table, watched = rig.table, watched_by(script, rig.table, rig.heat)
        moved = [
            (round(entry.time_s * rig.scans_per_s), entry.name, bool(entry.on))
            for entry in played.entries
            if entry.kind in ("input", "row", "effect")
        ]
        return cls(
            frozenset(place for place, verdict in enumerate(played.verdicts) if verdict.met),
            round(played.plant_time_s) * rig.scans_per_s,
            watched,
            tuple(item for item in moved if item[1] in table.signals),
            frozenset(item for item in moved if item[1] in watched),
        )

    def same_of(self, table: Table) -> bool:
        """Whether a table makes of the recorded inputs, in all that is watched, what the unmutated one did."""
        if any(name not in table.names for name in self.watched):
            return False
        engine, columns = Engine(table), [table.names.index(name) for name in self.watched]
        last, made = np.zeros((1, len(columns)), dtype=np.bool_), set()
        for begin, rows in self._blocks(table):
            seen = engine.run(rows)[:, columns]
            for scan, place in np.argwhere(seen != np.concatenate((last, seen[:-1]))).tolist():
                made.add((begin + scan, self.watched[place], bool(seen[scan, place])))
            last = seen[-1:]
            if not made <= self.changes:
                return False
        return made == self.changes

    def _blocks(self, table: Table) -> Iterator[tuple[int, NDArray[np.bool_]]]:
        """The recorded inputs, some thousand scans at a time."""
        place = {name: column for column, name in enumerate(table.signals)}
        row, moved, at = np.zeros((1, len(place)), dtype=np.bool_), iter(self.inputs), 0
        coming = next(moved, None)
        while at < self.scans:
            end = min(at + BLOCK_scans, self.scans)
            rows = np.empty((end - at, len(place)), dtype=np.bool_)
            filled = at
            while coming is not None and coming[0] < end:
                rows[filled - at : coming[0] - at] = row
                filled = coming[0]
                row[0, place[coming[1]]] = coming[2]
                coming = next(moved, None)
            rows[filled - at :] = row
            yield at, rows
            at = end


def watched_by(script: Script, table: Table, heat: str) -> tuple[str, ...]:
    """Names through which a table acts on the rehearsal of a script and on what is said of it."""
    names, expectations = set(table.outputs), [item for item in script.expectations if item.only_for in ("", heat)]
    for item in (*(event for event in script.events if event.only_for in ("", heat)), *expectations):
        names |= {trigger.name for trigger in item.when if isinstance(trigger, Happening)}
    first = {row: latch for latch, row in table.first_out.items()}
    for item in expectations:
        names |= {item.whilst.name} if item.whilst else set()
        if item.subject in ("name", "count"):
            names.add(item.name)
        elif item.subject == "first out":
            names.add(first[item.name])
        elif item.subject == "alarm":
            alarm = next(alarm for alarm in table.alarms if alarm.row == item.name)
            names |= {alarm.active, alarm.unacknowledged} | ({alarm.latched} if alarm.latched else set())
    return tuple(sorted(names))


# All sieves for one unit.


class Sieves:
    """The unmutated table with its proofs and what it makes of each script."""

    def __init__(self, unit: UnitTable, rig: Rig, scripts: Sequence[Script]) -> None:
        self.unit, self.rig = unit, rig
        self.table = expanded(unit.design)
        self.claims: tuple[Property, ...] = (*claims_of(unit), SILENCE)
        fitting = [script for script in scripts if rig.heat in script.heats]
        self.scripts = sorted(fitting, key=lambda script: script.duration.seconds)
        self._recordings: dict[str, Recording] = {}

    @cached_property
    def proofs(self) -> tuple[Proof, ...]:
        """Of the claims, on the table as it is."""
        proofs = tuple(prove(self.table, wanted) for wanted in self.claims)
        assert all(proof.status == "proved" for proof in proofs), "the unmutated table does not keep its claims"
        return proofs

    @cached_property
    def plain_claims(self) -> tuple[Always, ...]:
        """Claims about one scan and the one before, which any state of the table keeps."""
        return tuple(wanted for wanted in self.claims if isinstance(wanted, Always) and not wanted.watchers)

    def finding(self, mutant: Mutant, *, rehearse_first: bool = False, recoveries: bool = True) -> Finding:
        """The first sieve that holds it; with the rehearsal first most mutants are found in a tenth of the time."""
        try:
            table = expanded(mutant.make())
        except InputError as error:
            return Finding(mutant.kind, mutant.what, "refused", str(error))
        sieves: list[tuple[Stage, Callable[[Table], str]]] = [
            ("claims", self.fallen),
            ("equivalent", self.alike),
            ("rehearsal", self.unmet),
        ]
        if rehearse_first:
            sieves.insert(0, sieves.pop())
        if recoveries:
            sieves.append(("recoveries", self.stuck))
        for stage, sieve in sieves:
            if by := sieve(table):
                return Finding(mutant.kind, mutant.what, stage, by)
        return Finding(mutant.kind, mutant.what, "survived", "")

    def alike(self, table: Table) -> str:
        """Why nobody can tell a mutant from the table, or nothing."""
        return "nothing visible differs" if look_alike(self.table, table, self.plain_claims) else ""

    def stuck(self, table: Table) -> str:
        """The first recovery that a mutant loses."""
        lost = (wanted.name for wanted in recoveries_of(self.unit) if prove(table, wanted).status == "fallen")
        return next(lost, "")

    def fallen(self, table: Table) -> str:
        """The first claim that a mutant breaks."""
        before, after = self.table.item_of, table.item_of
        changed = {name for name in before | after if before.get(name) != after.get(name)}
        for wanted, proof in zip(self.claims, self.proofs, strict=True):
            if isinstance(wanted, Always) and not changed & proof.rests_on:
                continue  # the proof holds for the mutant, word for word
            try:
                if prove(table, wanted).status == "fallen":
                    return wanted.name
            except (KeyError, InputError):
                return f"{wanted.name}, which names an item that is gone"
        return ""

    def unmet(self, table: Table) -> str:
        """The first script with an expectation that the table meets and the mutant does not."""
        rig = replace(self.rig, table=table)
        for script in self.scripts:
            recording = self.recording(script)
            powered = all(deed.target != "power" for event in script.events for deed in event.deeds)
            if powered and recording.same_of(table):
                continue
            try:
                verdicts = rehearse(script, rig).verdicts
            except NAMED as error:
                return f"{script.where}: stops: {error}"
            for place in sorted(recording.met):
                if not verdicts[place].met:
                    return f"{script.where}: {verdicts[place].expectation.text}"
        return ""

    def recording(self, script: Script) -> Recording:
        """Of the unmutated table; only expectations that it meets can tell a mutant."""
        if script.where not in self._recordings:
            self._recordings[script.where] = Recording.of(script, self.rig)
        return self._recordings[script.where]


@lru_cache
def sieves_of(heat: str) -> Sieves:
    """Of a demo unit, with the library of scripts."""
    return Sieves(example_table(heat), example_rig(heat), library_scripts())


@lru_cache
def mutants_of(heat: str) -> tuple[Mutant, ...]:
    """Of a demo unit's table, in a fixed order."""
    return all_mutants(example_table(heat).design)


def spread(number: int, limit: int) -> list[int]:
    """Places of a sample, evenly spread over all."""
    return sorted({place * number // limit for place in range(limit)}) if limit < number else list(range(number))


# The program.


def _found(task: tuple[str, int, bool]) -> Finding:
    heat, place, rehearse_first = task
    return sieves_of(heat).finding(mutants_of(heat)[place], rehearse_first=rehearse_first)


def findings(heat: str, places: Sequence[int], *, rehearse_first: bool = False) -> Iterator[Finding]:
    """What becomes of these mutants, as it comes out of two processes."""
    with get_context("spawn").Pool(PROCESSES) as pool:
        yield from pool.imap_unordered(_found, [(heat, place, rehearse_first) for place in places])


def report(found: Sequence[Finding], seconds: float) -> Iterator[str]:
    """The score by kind and stage, and every survivor."""
    counts = Counter((item.kind, item.stage) for item in found)
    width = max(len(item.kind) for item in found)
    yield " " * width + "".join(f"{stage:>12}" for stage in STAGES)
    for kind in dict.fromkeys(item.kind for item in found):
        yield kind.ljust(width) + "".join(f"{counts[kind, stage]:12d}" for stage in STAGES)
    totals = Counter(item.stage for item in found)
    yield "all".ljust(width) + "".join(f"{totals[stage]:12d}" for stage in STAGES)
    told = len(found) - totals["equivalent"]
    caught = told - totals["survived"]
    yield f"{len(found)} mutants, {totals['equivalent']} proved equivalent; {caught} of {told} caught"
    yield f"{caught / max(told, 1):.1%} in {seconds:.0f} s"
    for item in sorted((item for item in found if item.stage == "survived"), key=lambda item: item.name):
        yield f"survived  {item.name}"


def main() -> None:
    """Score the mutants of a demo unit's table."""
    parser = argparse.ArgumentParser(description="Planted faults in a demo unit's table: score and survivors.")
    parser.add_argument("--heat", choices=("gas", "electric", "steam"), default="gas")
    parser.add_argument("--limit", type=int, default=0, help="so many mutants, evenly spread over all")
    parser.add_argument("--rehearse-first", action="store_true", help="what the rehearsal finds by itself; faster")
    parser.add_argument("--all", action="store_true", help="print every mutant, not only the survivors")
    given = parser.parse_args()
    begun, number = time.perf_counter(), len(mutants_of(given.heat))
    places, found = spread(number, given.limit or number), []
    for item in findings(given.heat, places, rehearse_first=given.rehearse_first):
        found.append(item)
        if given.all:
            print(f"{item.stage:<11} {item.name}  {item.by}", flush=True)
        print(f"\r{len(found)} of {len(places)}", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    print("\n".join(report(found, time.perf_counter() - begun)))


if __name__ == "__main__":
    main()
