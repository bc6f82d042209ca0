"""The certificate's values: joined from procedure, readings and verdicts, and refused where they do not belong."""

from __future__ import annotations

from dataclasses import replace

import pytest

import invented_acceptance as invented
from vaporwright.acceptance.record.certificate import (
    Departure,
    Deviation,
    RecordHead,
    StepAct,
    Verdict,
    certificate_from,
)
from vaporwright.acceptance.record.punch_list import PunchItem
from vaporwright.acceptance.steps.outcomes import ACCEPTED, IN_GUARD_BAND, NOT_ACCEPTED, NOT_RUN, OUTCOMES, UNDECIDED
from vaporwright.acceptance.steps.readings import Reading
from vaporwright.foundation.errors import InputError


def test_counts_are_those_of_the_steps() -> None:
    found = invented.certificate()
    assert found.counts == {**dict.fromkeys(OUTCOMES, 0), ACCEPTED: 8, IN_GUARD_BAND: 1, NOT_ACCEPTED: 1}
    assert found.outcome == NOT_ACCEPTED
    rods = found.sections[2]
    assert [step.outcome for step in rods.steps] == [ACCEPTED, IN_GUARD_BAND, NOT_ACCEPTED]
    assert rods.outcome == NOT_ACCEPTED


def test_every_step_and_field_of_the_procedure_is_there_in_order() -> None:
    found = invented.certificate()
    steps = [step for section in found.sections for step in section.steps]
    assert [step.step for step in steps] == list(invented.PROCEDURE.steps)
    for step in steps:
        assert [one.field for one in step.readings] == list(step.step.fields)


def test_a_needed_field_without_reading_was_not_run_and_an_optional_one_does_not_count() -> None:
    key = ("tank_leak.cold", "dry_outside")
    readings = {one: reading for one, reading in invented.READINGS.items() if one != key}
    verdicts = {one: verdict for one, verdict in invented.VERDICTS.items() if one != key}
    found = certificate_from(invented.PROCEDURE, readings, verdicts, invented.FACTS)
    assert found.sections[1].steps[0].outcome == NOT_RUN
    combustion = found.sections[3].steps[1]
    assert combustion.readings[1].reading is None
    assert combustion.outcome == ACCEPTED


def test_an_act_overrides_the_readings() -> None:
    acts = {"performance.run": StepAct("A", "2026-03-05T10:00:00+00:00", UNDECIDED)}
    found = certificate_from(invented.PROCEDURE, invented.READINGS, invented.VERDICTS, invented.FACTS, acts=acts)
    assert found.sections[4].steps[1].outcome == UNDECIDED


def test_the_performance_run_counts_into_the_outcome() -> None:
    accepted = dict.fromkeys(invented.READINGS, Verdict(ACCEPTED))
    good = certificate_from(invented.PROCEDURE, invented.READINGS, accepted, invented.FACTS)
    assert good.outcome == ACCEPTED
    short = replace(invented.FACTS, performance=replace(invented.PERFORMANCE, outcome=NOT_ACCEPTED))
    assert certificate_from(invented.PROCEDURE, invented.READINGS, accepted, short).outcome == NOT_ACCEPTED


def test_the_punch_list_is_sorted_and_open_items_of_a_keep_the_unit() -> None:
    items = invented.certificate().facts.punch_list
    assert [(item.category, item.number) for item in items] == [("A", 1), ("B", 2)]
    assert [item.number for item in invented.certificate().open_before_shipping] == [1]
    closed = PunchItem(1, "A", "High rod", "Shop", "rods.high", invented.OPENED, invented.CLOSED)
    assert invented.certificate(punch_list=(closed,)).open_before_shipping == ()


@pytest.mark.parametrize(("apart", "within"), [(14.9, True), (15.0, True), (15.1, False), (-15.1, False)])
def test_departures_either_way(apart: float, within: bool) -> None:
    assert Departure("wet bulb", "temperature", 290.0 + apart, 290.0, 15.0).within is within


def test_what_does_not_belong_is_refused() -> None:
    stray = {("rods.low", "no_such"): Reading("rods.low", "no_such", "1", 1.0)}
    with pytest.raises(InputError, match=r"rods\.low/no_such"):
        certificate_from(invented.PROCEDURE, stray, {}, invented.FACTS)
    with pytest.raises(InputError, match="accepted without a reading"):
        certificate_from(invented.PROCEDURE, {}, {("rods.low", "made_at_m"): Verdict(ACCEPTED)}, invented.FACTS)
    with pytest.raises(InputError, match=r"no\.such"):
        certificate_from(invented.PROCEDURE, {}, {}, invented.FACTS, acts={"no.such": StepAct()})
    with pytest.raises(InputError, match=r"no\.such"):
        invented.certificate(deviations=(Deviation("no.such", "text", "somebody"),))


@pytest.mark.parametrize("made_at", ["yesterday", "2026-03-05T16:42:07", ""])
def test_a_time_without_offset_is_refused(made_at: str) -> None:
    with pytest.raises(InputError, match="made_at"):
        replace(invented.FACTS, made_at=made_at)


@pytest.mark.parametrize(("run", "digest"), [("a:b", "0" * 64), ("", "0" * 64), ("a", "0" * 63), ("a", "G" * 64)])
def test_a_head_that_is_none_is_refused(run: str, digest: str) -> None:
    with pytest.raises(InputError):
        RecordHead(run, 1, digest)
