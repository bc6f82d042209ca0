"""Judging readings and steps: the right words, and no way around an instrument."""

from __future__ import annotations

from dataclasses import replace

import pytest

from vaporwright.acceptance.steps.instruments import Instrument
from vaporwright.acceptance.steps.judging import judge_reading, judge_step
from vaporwright.acceptance.steps.outcomes import (
    ACCEPTED,
    IN_GUARD_BAND,
    NOT_ACCEPTED,
    NOT_RUN,
    TEST_ERROR,
    UNDECIDED,
)
from vaporwright.acceptance.steps.procedure import TEXT, YES_OR_NO, Limits, ReadingField, Step
from vaporwright.acceptance.steps.readings import Reading
from vaporwright.display_units import US, to_shown
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.notice import Notice

DAY = "2026-03-02"
FAHRENHEIT = 1.0 / 1.8


def kelvin(fahrenheit: float) -> float:
    return (fahrenheit + 459.67) / 1.8


def shown(notice: Notice) -> str:
    return notice.words(lambda value, quantity: f"{to_shown(value, quantity, US):.1f}")


THERMOMETER = Instrument(
    "T-4", "thermometer", "a thermometer", "C-4", "2026-06-30", 0.5 * FAHRENHEIT, low=kelvin(32.0), high=kelvin(212.0)
)
METER = Instrument("G-1", "gas meter", "a gas meter", "C-9", "2026-06-30", 0.0, 0.015)
SET_POINT = ReadingField(
    "set_point_K", "clamp", "temperature", kelvin(155.0), Limits(kelvin(153.0), kelvin(157.0)), "", "thermometer"
)
CONTACT = ReadingField("open", "contact open", YES_OR_NO, True)
SERIAL = ReadingField("serial", "serial number", TEXT, needed=False)
STEP = Step("set_points.clamp", "Clamp", "", ("Read it.",), (SET_POINT, CONTACT, SERIAL), 5.0)


def temperature(fahrenheit: float, instrument: str = "T-4") -> Reading:
    return Reading(STEP.key, "set_point_K", f"{fahrenheit} degF", kelvin(fahrenheit), instrument)


def contact(value: bool) -> Reading:
    return Reading(STEP.key, "open", "yes" if value else "no", value)


@pytest.mark.parametrize(
    ("fahrenheit", "outcome", "words"),
    [
        (155.0, ACCEPTED, "155.0 ± 0.5 (allowed 153.0 to 157.0): clear of its limits by more than the uncertainty"),
        (156.8, IN_GUARD_BAND, "it keeps them with a probability of 78.8"),  # 0.8 deviations
        (157.25, UNDECIDED, "it keeps them with a probability of 15.9"),  # 1 deviation outside
        (158.0, NOT_ACCEPTED, "158.0 ± 0.5 (allowed 153.0 to 157.0): outside its limits by more than the uncertainty"),
    ],
)
def test_a_set_point(fahrenheit: float, outcome: str, words: str) -> None:
    judged = judge_reading(SET_POINT, temperature(fahrenheit), THERMOMETER, DAY)
    assert judged.outcome == judged.words.name == outcome
    assert words in shown(judged.words)
    assert judged.probability is not None


def test_limits_on_one_side_are_said() -> None:
    for limits, words in [
        (Limits(kelvin(150.0), None), "155.0 ± 0.5 (at least 150.0): "),
        (Limits(None, kelvin(160.0)), "155.0 ± 0.5 (at most 160.0): "),
        (None, "155.0 ± 0.5: recorded"),
    ]:
        judged = judge_reading(replace(SET_POINT, limits=limits), temperature(155.0), THERMOMETER, DAY)
        assert judged.outcome == ACCEPTED
        assert shown(judged.words).startswith(words)


@pytest.mark.parametrize(
    ("instrument", "words"),
    [
        (None, "instrument T-4 is not registered"),
        (replace(THERMOMETER, due="2026-03-01"), "the calibration of T-4 ended on 2026-03-01"),
        (
            replace(THERMOMETER, kind="surface thermometer"),
            "taken with a surface thermometer; this needs a thermometer",
        ),
        (replace(THERMOMETER, id="T-5"), "taken with T-4, not with T-5"),
        (replace(THERMOMETER, high=kelvin(150.0)), "155.0: the reading lies outside the range"),
        (
            replace(THERMOMETER, expanded=3.0 * FAHRENHEIT),
            "155.0 ± 3.0 (allowed 153.0 to 157.0): the uncertainty is larger",
        ),
    ],
)
def test_no_way_around_the_instrument(instrument: Instrument | None, words: str) -> None:
    judged = judge_reading(SET_POINT, temperature(155.0), instrument, DAY)
    assert judged.outcome == TEST_ERROR
    assert words in shown(judged.words)


def test_read_by_eye_where_an_instrument_is_asked_for() -> None:
    judged = judge_reading(SET_POINT, temperature(155.0, ""), None, DAY)
    assert judged.outcome == TEST_ERROR
    assert "without a registered thermometer" in shown(judged.words)
    by_eye = judge_reading(replace(SET_POINT, instrument=""), temperature(155.0, ""), None, DAY)
    assert by_eye.outcome == ACCEPTED
    assert shown(by_eye.words).startswith("155.0 (allowed")


def test_a_contact_needs_its_detector_in_calibration_too() -> None:
    detector = Instrument("L-1", "gas leak detector", "a detector", "bump test", "2026-03-02")
    field = ReadingField("tight", "no leak found", YES_OR_NO, True, instrument="gas leak detector")
    reading = Reading(STEP.key, "tight", "yes", True, "L-1")
    assert judge_reading(field, reading, detector, DAY).outcome == ACCEPTED
    assert judge_reading(field, reading, detector, "2026-03-03").outcome == TEST_ERROR
    assert judge_reading(field, replace(reading, instrument=""), None, DAY).outcome == TEST_ERROR


def test_a_flow_from_a_meter_and_a_stopwatch_has_the_share_of_the_meter() -> None:
    field = ReadingField("gas_m3_s", "gas", "gas flow", 3e-3, Limits(2.85e-3, 3.15e-3), "", "gas meter")
    reading = Reading(STEP.key, "gas_m3_s", "381 cfh", 3e-3, "G-1")
    judged = judge_reading(field, reading, METER, DAY)
    assert judged.outcome == ACCEPTED
    figure, quantity = judged.words.figures[1]
    assert figure == pytest.approx(0.015 * 3e-3)
    assert quantity == "gas flow"
    for in_volume in (replace(METER, expanded=1e-3), replace(METER, resolution=1e-3)):
        poor = judge_reading(field, reading, in_volume, DAY)
        assert poor.outcome == TEST_ERROR
        assert "about gas volume, not gas flow" in shown(poor.words)


def test_an_instrument_that_does_not_read_this_lends_it_no_certainty() -> None:
    detector = Instrument("X", "gas leak detector", "a detector", "bump test", "2026-06-30")
    ammeter = Instrument("X", "clamp ammeter", "an ammeter", "C", "2026-06-30", 0.0, 0.02)
    for instrument in (detector, ammeter):
        judged = judge_reading(replace(SET_POINT, instrument=""), temperature(155.0, "X"), instrument, DAY)
        assert judged.outcome == TEST_ERROR
        asked_for = replace(SET_POINT, instrument=instrument.kind)
        assert judge_reading(asked_for, temperature(155.0, "X"), instrument, DAY).outcome == TEST_ERROR


def test_a_difference_is_not_held_against_a_range_of_temperatures() -> None:
    field = ReadingField(
        "range_difference_K", "range", "temperature difference", 8.0, Limits(7.0, 9.0), "", "thermometer"
    )
    reading = Reading(STEP.key, "range_difference_K", "8 K", 8.0, "T-4")
    assert judge_reading(field, reading, THERMOMETER, DAY).outcome == ACCEPTED


def test_contacts_have_no_guard_band() -> None:
    assert judge_reading(CONTACT, contact(True), None, DAY).outcome == ACCEPTED
    wrong = judge_reading(CONTACT, contact(False), None, DAY)
    assert wrong.outcome == NOT_ACCEPTED
    assert shown(wrong.words) == "no; it must be yes"
    assert judge_reading(replace(CONTACT, expected=None), contact(False), None, DAY).outcome == ACCEPTED
    assert judge_reading(replace(CONTACT, expected=1.0), contact(True), None, DAY).outcome == TEST_ERROR


def test_texts_are_judged_for_being_there() -> None:
    def entered(text: str) -> Reading:
        return Reading(STEP.key, "serial", text, text)

    assert judge_reading(SERIAL, entered("A-12"), None, DAY).outcome == ACCEPTED
    assert judge_reading(SERIAL, entered("  "), None, DAY).outcome == TEST_ERROR
    other = judge_reading(replace(SERIAL, expected="A-{0}"), entered("A-12"), None, DAY)
    assert shown(other.words) == "entered; A-{0} was expected"


def test_a_reading_of_another_field_or_step() -> None:
    stray = replace(temperature(155.0), field="high_limit_K")
    assert "belongs to high_limit_K" in shown(judge_reading(SET_POINT, stray, THERMOMETER, DAY).words)
    elsewhere = replace(temperature(155.0), step="set_points.high_limit")
    verdict = judge_step(STEP, {"set_point_K": elsewhere, "open": contact(True)}, {"T-4": THERMOMETER}, DAY)
    assert verdict.outcome == TEST_ERROR
    unknown = {"set_point_K": temperature(155.0), "open": contact(True), "other": replace(contact(True), field="other")}
    verdict = judge_step(STEP, unknown, {"T-4": THERMOMETER}, DAY)
    assert verdict.outcome == TEST_ERROR
    assert shown(verdict.words) == "other: the step has no such field: enter it where it belongs"


@pytest.mark.parametrize(
    ("fahrenheit", "open_", "outcome", "words"),
    [
        (155.0, True, ACCEPTED, "every reading is accepted"),
        (156.8, True, IN_GUARD_BAND, "clamp: 156.8 ± 0.5"),
        (157.2, True, UNDECIDED, "clamp: 157.2 ± 0.5"),
        (156.8, False, NOT_ACCEPTED, "contact open: no; it must be yes"),
        (None, True, NOT_RUN, "clamp: not read yet"),
        (None, False, NOT_ACCEPTED, "contact open: no"),
        (155.0, None, NOT_RUN, "contact open: not read yet"),
        (157.2, None, UNDECIDED, "clamp: 157.2"),
        (None, None, NOT_RUN, "clamp: not read yet"),
    ],
)
def test_a_step_is_as_good_as_its_worst_field(
    fahrenheit: float | None, open_: bool | None, outcome: str, words: str
) -> None:
    readings: dict[str, Reading] = {}
    if fahrenheit is not None:
        readings["set_point_K"] = temperature(fahrenheit)
    if open_ is not None:
        readings["open"] = contact(open_)
    verdict = judge_step(STEP, readings, {"T-4": THERMOMETER}, DAY)
    assert verdict.outcome == outcome
    assert shown(verdict.words).startswith(words)
    assert set(verdict.fields) == {"set_point_K", "open"}


def test_a_step_without_anything_read_was_not_run() -> None:
    for fields in ((), (SERIAL,)):
        verdict = judge_step(replace(STEP, fields=fields), {}, {}, DAY)
        assert verdict.outcome == NOT_RUN
        assert shown(verdict.words) == "nothing was read"


def test_the_day_is_the_callers_fault() -> None:
    for day in ("", "2.3.2026"):
        with pytest.raises(InputError, match="day of the test"):
            judge_step(STEP, {}, {}, day)
        with pytest.raises(InputError, match="day of the test"):
            judge_reading(CONTACT, contact(True), None, day)


def test_braces_and_long_entries_are_shown_as_they_are() -> None:
    strange = Reading(STEP.key, "open", "{5}" + "x" * 100, "{5}")
    words = shown(judge_reading(CONTACT, strange, None, DAY).words)
    assert words == "{5}" + "x" * 37 + "... is neither yes nor no: enter it again"
    assert shown(judge_reading(CONTACT, replace(strange, entered=""), None, DAY).words).startswith("an empty entry is")
    labelled = replace(STEP, fields=(replace(CONTACT, label="set {0}"),))
    assert shown(judge_step(labelled, {}, {}, DAY).words) == "set {0}: not read yet"
