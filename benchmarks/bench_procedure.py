"""How good the generated procedure of a demo unit is: planted faults and which of its steps finds each.

    python benchmarks/bench_procedure.py --heat gas

Printed: the share found by kind, which step finds how many and which alone, what no step found and why nobody could,
the shortest choice of steps that keeps it in the order that finds most per minute, and false alarms of a sound unit.
Faults of the table that nobody can see are proved to be so, as far as the proof of `table_mutants` reaches.

The share says how many of these planted faults were seen; it does not say that no other fault can be there.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from example_rigs import EXAMPLES, JOBS
from vaporwright.acceptance.quality.fault_study import ENOUGH
from vaporwright.actions.procedure_quality import QualityReport, measure_quality

AIM = 0.99


def lines_of(found: QualityReport, seconds: float) -> Iterator[str]:
    """The report."""
    width = max(len(kind) for kind in found.by_kind)
    yield f"{'':{width}}{'found':>8}{'unseen':>8}{'missed':>8}"
    for kind, counts in found.by_kind.items():
        yield f"{kind:{width}}" + "".join(f"{count:8d}" for count in counts)
    totals = tuple(map(sum, zip(*found.by_kind.values(), strict=True)))
    yield f"{'all':{width}}" + "".join(f"{count:8d}" for count in totals)
    yield f"{found.share:.2%} of the faults that anyone could see are found, in {seconds:.0f} s"
    failed, done = found.false_alarms
    yield f"false alarms of a sound unit: {failed} of {done} steps {found.false_alarm_steps or ''}"
    yield ""
    yield f"steps by faults found (at most {ENOUGH} performed steps are counted for a fault), and found by it alone:"
    by_step = Counter(step for item in found.findings for step in item.steps)
    for step, count in by_step.most_common():
        yield f"  {step:<44}{count:6d}{found.only_by.get(step, 0):6d}"
    yield ""
    yield f"the whole procedure: {found.steps} steps, {found.minutes / 60.0:.1f} h"
    exact = "no shorter choice exists" if found.choice.exact else f"at least {found.choice.least_minutes:.0f} min"
    yield f"shortest that keeps it: {len(found.choice.steps)} steps, {found.choice.minutes / 60.0:.1f} h ({exact})"
    for place in found.order:
        yield f"  {place.minutes:7.0f} min {place.found:5d} found  {place.step}"


def unseen_of(found: QualityReport, heat: str) -> Iterator[str]:
    """What nobody could see, and whether that is proved."""
    from table_mutants import look_alike

    from example_rigs import example_table
    from vaporwright.controls.expansion import expanded
    from vaporwright.controls.properties import Always
    from vaporwright.controls.unit_properties import claims_of

    unit = example_table(heat)
    table = expanded(unit.design)
    claims = [claim for claim in claims_of(unit) if isinstance(claim, Always) and not claim.watchers]
    for item in found.unseen:
        other = item.fault.wiring.table
        proved = other is not None and look_alike(table, other, claims)
        yield f"{'proved' if proved else 'argued':<8} {item.fault.name}: {item.fault.unseen}"


def main() -> int:
    """Measure and print; the verdict is whether the aim is reached."""
    parser = argparse.ArgumentParser(
        description="Planted faults in a demo unit, and which step of its test finds each."
    )
    parser.add_argument("--heat", choices=tuple(JOBS), default="gas")
    parser.add_argument("--limit", type=int, default=0, help="so many faults, evenly spread over all")
    parser.add_argument("--all", action="store_true", help="print every fault with its steps")
    parser.add_argument("--prove", action="store_true", help="prove that what is unseen cannot be seen (a minute more)")
    given = parser.parse_args()

    def tell(share: float) -> None:
        print(f"\r{share:4.0%}", end="", file=sys.stderr, flush=True)

    begun = time.perf_counter()
    found = measure_quality(EXAMPLES / f"{JOBS[given.heat]}.toml", limit=given.limit, report=tell)
    print(file=sys.stderr)
    print("\n".join(lines_of(found, time.perf_counter() - begun)))
    for item in found.survivors:
        print(f"missed   {item.fault.name}")
    if given.prove:
        print("\n".join(unseen_of(found, given.heat)))
    else:
        for item in found.unseen:
            print(f"unseen   {item.fault.name}: {item.fault.unseen}")
    if given.all:
        for item in found.findings:
            print(f"{item.fault.name}: {', '.join(item.steps) or 'nothing'}")
    print(f"\nTarget: {AIM:.0%}: {'reached' if found.share >= AIM else 'NOT reached'}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
