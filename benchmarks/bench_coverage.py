"""Do the 95 % intervals of site predictions hold? Simulated units that follow another model, printed per kind of heat.

    python benchmarks/bench_coverage.py [--units 1000] [--seed 20261125] [--short]

1,000 units of the three demo designs are tested and run at their sites by tests/other_unit.py; predictions see the
readings alone. Then two things that were not looked at while the method was made: other shops' parts, and steps from
shop to site half and one and a half times as large as stated (the interval cannot know; coverage says what that
costs). Last, linearised intervals against Monte Carlo on a few. Minutes; --short leaves all but the first part out.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from dataclasses import replace
from pathlib import Path

TESTS = Path(__file__).resolve().parent.parent / "tests"
if str(TESTS) not in sys.path:
    sys.path.insert(0, str(TESTS))

from coverage_study import Study, simulated_tests, study  # noqa: E402  (the tests folder is no package)
from example_rigs import JOBS, example_answer  # noqa: E402
from invented_unit import HEATER, unit  # noqa: E402
from vaporwright.acceptance.guarantee.site_prediction import predict_site, predict_site_by_monte_carlo  # noqa: E402
from vaporwright.unit.answer import UnitAnswer, answer_for  # noqa: E402

LOW, HIGH = 0.93, 0.97
CHECKED_BY_DRAWS = 3


def other_shops() -> dict[str, UnitAnswer]:
    """Parts of common practice on the demo jobs: another fill, blower, tank and burner."""
    gas, electric = example_answer("gas"), example_answer("electric")
    free = replace(electric.job, values={**electric.job.values, "utilities.electric_limit": 80.0e3})
    return {
        "other shop, gas": answer_for(gas.job, unit(spray_gpm=48.0)),
        "other shop, gas, smaller fill": answer_for(gas.job, unit(spray_gpm=40.0, merkel=0.75)),
        "other shop, electric, more air": answer_for(free, unit(spray_gpm=45.0, blower=1.15, heat_source=HEATER)),
    }


def line(name: str, found: Study) -> str:
    errors = [entry.error_percent for entry in found.checked]
    halves = [entry.half_width_percent for entry in found.checked]
    scaled = statistics.pstdev(1.96 * entry.error_percent / entry.half_width_percent for entry in found.checked)
    return (
        f"{name:<34}{found.count:>7}{100.0 * found.covered / found.count:>10.1f}{statistics.fmean(halves):>12.2f}"
        f"{statistics.fmean(errors):>10.2f}{statistics.pstdev(errors):>10.2f}{scaled:>12.2f}{len(found.refused):>9}"
    )


def worst(found: Study) -> str:
    order = sorted(found.checked, key=lambda entry: -abs(entry.error_percent) / entry.half_width_percent)
    shown = []
    for entry in order[:3]:
        predicted = entry.truth_percent + entry.error_percent
        shown.append(f"{predicted:.1f} +- {entry.half_width_percent:.1f} % for {entry.truth_percent:.1f}")
    return "; ".join(shown)


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--units", type=int, default=1000)
    asked.add_argument("--seed", type=int, default=20261125)
    asked.add_argument("--short", action="store_true")
    given = asked.parse_args()
    begun = time.perf_counter()
    print(
        f"{'':<34}{'units':>7}{'covered %':>10}{'half-width %':>13}{'bias %':>9}{'scatter %':>10}"
        f"{'error / u':>12}{'refused':>9}"
    )
    each = -(-given.units // len(JOBS))
    demo = {kind: study(example_answer(kind), each, given.seed + place) for place, kind in enumerate(JOBS)}
    for kind, found in demo.items():
        print(line(f"demo, {kind}", found))
    count = sum(found.count for found in demo.values())
    covered = sum(found.covered for found in demo.values()) / count
    print(f"{'together':<34}{count:>7}{100.0 * covered:>10.1f}")
    print(f"target, {100 * LOW:.0f} to {100 * HIGH:.0f} %: {'reached' if LOW <= covered <= HIGH else 'NOT reached'}")
    print("worst, predicted for true, of the guarantee:")
    for kind, found in demo.items():
        print(f"  {kind}: {worst(found)}")
        for words in found.refused[:2]:
            print(f"  {kind}, refused: {words}")
    if not given.short:
        further(given.seed + 100, max(each // 2, 20))
    print(f"\n{time.perf_counter() - begun:.0f} s")


def further(seed: int, count: int) -> None:
    print("\nother shops, looked at by no one while the method was made")
    for place, (name, answer) in enumerate(other_shops().items()):
        print(line(name, study(answer, count, seed + place)))
    print("\nsteps from shop to site other than stated")
    for steps in (0.5, 1.5):
        for place, kind in enumerate(JOBS):
            print(line(f"{steps:g} x stated, {kind}", study(example_answer(kind), count, seed + 10 + place, 2, steps)))
    print("\nlinearised against Monte Carlo (1,000 draws), percent of the guarantee")
    for place, kind in enumerate(JOBS):
        answer = example_answer(kind)
        for one in simulated_tests(answer, CHECKED_BY_DRAWS, seed + 20 + place):
            linear = predict_site(one.readings, one.conditions, answer, seasons=())
            drawn = predict_site_by_monte_carlo(one.readings, one.conditions, answer)
            ratio = drawn.half_width_percent / linear.half_width_percent
            print(
                f"  {kind:<10}{linear.capability_percent:8.2f} +- {linear.half_width_percent:.2f}"
                f"{drawn.capability_percent:10.2f} +- {drawn.half_width_percent:.2f}   width x {ratio:.2f}"
            )


if __name__ == "__main__":
    main()
