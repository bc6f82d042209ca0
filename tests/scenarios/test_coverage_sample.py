"""A sample of the coverage study (benchmarks/bench_coverage.py): intervals against units of another model."""

from __future__ import annotations

import math
import statistics

import pytest

from coverage_study import Study, study
from example_rigs import JOBS, example_answer

EACH = 20
PROMISED = 0.95


def fewer_than(covered: int, count: int) -> float:
    """How often fewer would be covered, if each were with the promised probability."""
    return sum(
        math.comb(count, found) * PROMISED**found * (1.0 - PROMISED) ** (count - found) for found in range(covered)
    )


@pytest.fixture(scope="module")
def studies() -> dict[str, Study]:
    return {kind: study(example_answer(kind), EACH, 4100 + place, 1) for place, kind in enumerate(JOBS)}


@pytest.mark.slow
def test_95_percent_intervals_hold_the_true_site_capacity(studies: dict[str, Study]) -> None:
    count = sum(found.count for found in studies.values())
    covered = sum(found.covered for found in studies.values())
    assert count == EACH * len(JOBS)
    # 53 of 60: less than one sample in a hundred would fall below it by chance.
    least = next(least for least in range(count, 0, -1) if fewer_than(least, count) < 0.01)
    assert least == 53
    assert covered >= least
    assert not [words for found in studies.values() for words in found.refused]


@pytest.mark.slow
def test_intervals_are_as_narrow_as_the_errors_are(studies: dict[str, Study]) -> None:
    # An interval that is always wide enough because it is far too wide would say nothing.
    for kind, widest in (("gas", 4.0), ("electric", 3.2), ("steam", 7.0)):
        halves = [entry.half_width_percent for entry in studies[kind].checked]
        assert statistics.fmean(halves) < widest
    scaled = [
        1.96 * entry.error_percent / entry.half_width_percent for found in studies.values() for entry in found.checked
    ]
    # The root mean square of 60 standard normal deviates lies in 0.77 to 1.24 in 99 of 100 samples.
    assert 0.77 < math.sqrt(statistics.fmean(deviate**2 for deviate in scaled)) < 1.24


@pytest.mark.slow
def test_units_differ_enough_for_the_sample_to_say_something(studies: dict[str, Study]) -> None:
    for kind, found in studies.items():
        truths = [entry.truth_percent for entry in found.checked]
        scatter = statistics.pstdev(entry.error_percent for entry in found.checked)
        assert statistics.pstdev(truths) > 1.4 * scatter, kind
