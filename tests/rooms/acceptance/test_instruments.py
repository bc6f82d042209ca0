"""Instruments: what a certificate must say, when an instrument may be used, and the kinds there are."""

from __future__ import annotations

from typing import Any

import pytest

from vaporwright.acceptance.run.log import CHANNELS
from vaporwright.acceptance.steps.instruments import ABSOLUTE_ONLY, KINDS, Instrument, covers, is_iso_date, usable_on
from vaporwright.acceptance.steps.procedure import YES_OR_NO
from vaporwright.display_units import QUANTITIES
from vaporwright.foundation.errors import InputError

GOOD: dict[str, Any] = {
    "id": "T-4", "kind": "thermometer", "title": "a glass thermometer", "certificate": "2026-118", "due": "2026-11-30",
    "expanded": 0.28, "coverage_factor": 2.0, "low": 273.15, "high": 373.15, "resolution": 0.1,
}  # fmt: skip


def test_kinds_are_in_quantities_of_one_unit() -> None:
    for kind in KINDS.values():
        if kind.quantity == YES_OR_NO:
            assert kind.usual_expanded == kind.usual_expanded_relative == 0.0
            continue
        units = {QUANTITIES[quantity].si for quantity in (kind.quantity, *kind.also)}
        assert len(units) == 1 or units == {"kelvin", "delta_degC"}, kind.name
        assert kind.usual_expanded > 0.0 or kind.usual_expanded_relative > 0.0, kind.name
        assert "no source" in kind.note, kind.name
        assert kind.quantity not in ABSOLUTE_ONLY or kind.usual_expanded_relative == 0.0, kind.name


def test_every_channel_of_a_run_has_a_kind() -> None:
    assert {channel.instrument for channel in CHANNELS} <= set(KINDS)


@pytest.mark.parametrize(
    ("kind", "expanded", "relative"),
    [("scale", 0.0, 0.002), ("water meter", 0.0, 0.01), ("level gauge", 7.9375e-4, 0.0), ("thermometer", 0.27778, 0.0),
     ("thermometer pair", 0.11111, 0.0), ("psychrometer", 0.55556, 0.0), ("liquid flow meter", 0.0, 0.03),
     ("air traverse", 0.0, 0.07), ("gas meter", 0.0, 0.015), ("stack thermometer", 2.77778, 0.0),
     ("flue gas analyser", 0.003, 0.0), ("clamp ammeter", 0.0, 0.02), ("voltmeter", 0.0, 0.01),
     ("stopwatch", 0.2, 0.0), ("tape", 1.5875e-3, 0.0)],
)  # fmt: skip
def test_usual_uncertainties_of_the_trade(kind: str, expanded: float, relative: float) -> None:
    """Common practice, no source: 1/32 in, 0.5, 0.2, 1 and 5 degF, 1/16 in for rods, shares as listed."""
    assert KINDS[kind].usual_expanded == pytest.approx(expanded, rel=1e-4)
    assert KINDS[kind].usual_expanded_relative == relative


@pytest.mark.parametrize(
    ("key", "value"),
    [("id", ""), ("id", " "), ("id", 4), ("title", ""), ("certificate", ""), ("certificate", None), ("kind", "gauge"),
     ("kind", ""), ("due", ""), ("due", "30.11.2026"), ("due", "20261130"), ("due", "2026-W48-1"),
     ("due", "2026-02-30"), ("due", None), ("expanded", -0.1), ("expanded", float("nan")), ("expanded", "0.3"),
     ("expanded", True),
     ("expanded", 0.0), ("expanded_relative", -0.1), ("expanded_relative", 1.0), ("expanded_relative", 0.01),
     ("coverage_factor", 0.0), ("coverage_factor", float("nan")), ("coverage_factor", 100.0), ("low", float("nan")),
     ("low", "0"), ("high", float("inf")), ("high", 273.15), ("resolution", -1.0), ("resolution", None)],
)  # fmt: skip
def test_what_no_certificate_says_is_refused_by_name(key: str, value: object) -> None:
    with pytest.raises(InputError) as caught:
        Instrument(**(GOOD | {key: value}))
    assert caught.value.key in (key, "low" if key == "high" else key)
    assert caught.value.allowed


def test_usable_through_its_last_day() -> None:
    thermometer = Instrument(**GOOD)
    assert usable_on(thermometer, "2026-11-30") == ""
    problem = usable_on(thermometer, "2026-12-01")
    assert "T-4" in problem
    assert "2026-11-30" in problem
    for day in ("", "tomorrow", "2026-13-01", "2026-1-1"):
        with pytest.raises(InputError, match="day of the test"):
            usable_on(thermometer, day)


def test_usable_in_its_range() -> None:
    thermometer = Instrument(**GOOD)
    assert usable_on(thermometer, "2026-01-01", 273.15) == usable_on(thermometer, "2026-01-01", 373.15) == ""
    for value in (273.14, 373.16, float("nan")):
        assert "range" in usable_on(thermometer, "2026-01-01", value)
    assert covers(Instrument(**(GOOD | {"low": None})), -1e9)
    assert covers(Instrument(**(GOOD | {"high": None})), 1e9)


def test_days_are_written_in_one_way() -> None:
    assert is_iso_date("2026-02-28")
    assert not is_iso_date("2026-02-29")
    assert not is_iso_date(20260228)


def test_a_leak_detector_has_no_uncertainty() -> None:
    detector = Instrument("L-1", "gas leak detector", "a detector", "bump test 7", "2026-11-30")
    assert detector.expanded == 0.0
