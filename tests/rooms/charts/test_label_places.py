"""Placing labels: gaps kept, order kept, inside the bounds, and no move without need."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vaporwright.charts.label_places import Span, between, spread

ROUNDING = 1e-9


@given(st.lists(st.floats(-50.0, 250.0), min_size=1, max_size=9))
def test_spread_keeps_gap_order_and_bounds(wanted: list[float]) -> None:
    places = spread(sorted(wanted), 11.0, 0.0, 150.0)
    assert len(places) == len(wanted)
    assert all(later - earlier >= 11.0 - ROUNDING for earlier, later in pairwise(places))
    assert places[0] >= -ROUNDING
    assert places[-1] <= 150.0 + ROUNDING


def test_spread_leaves_labels_that_do_not_overlap_where_they_are() -> None:
    assert spread([5.0, 40.0, 90.0], 11.0, 0.0, 150.0) == [5.0, 40.0, 90.0]


def test_spread_shares_the_shift_between_overlapping_labels() -> None:
    assert spread([50.0, 50.0, 50.0], 10.0, 0.0, 150.0) == pytest.approx([40.0, 50.0, 60.0])


def test_spread_grows_below_the_bound_rather_than_overlap() -> None:
    places = spread([0.0] * 5, 10.0, 0.0, 20.0)
    assert places == pytest.approx([0.0, 10.0, 20.0, 30.0, 40.0])


@given(st.integers(1, 5), st.floats(20.0, 150.0), st.lists(st.floats(-60.0, 150.0), max_size=4))
def test_between_goes_up_and_avoids_what_is_taken(count: int, lowest: float, taken: list[float]) -> None:
    places = between(count, 11.0, lowest, taken)
    assert len(places) == count
    assert places[0] <= lowest
    assert all(lower - upper >= 11.0 - ROUNDING for lower, upper in pairwise(places))
    assert all(abs(other - place) >= 0.75 * 11.0 - ROUNDING for other in taken for place in places)


def test_span_share_and_its_inverse() -> None:
    span = Span(100.0, 150.0)
    assert span.share(125.0) == 0.5
    assert span.at(0.5) == 125.0
