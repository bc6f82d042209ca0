"""What waited for its line: the record says when it was done and when it was entered, and judges by the former.

record_without_late_entries.txt is the record of an invented run as a version wrote it that knew one time only.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from invented_record import Hand, procedure, thermometer
from vaporwright.acceptance.record.chain import ORIGIN, Row, seal, verify
from vaporwright.acceptance.record.deciding import decide
from vaporwright.acceptance.record.events import (
    AcceptPoint,
    CorrectReading,
    IssueProcedure,
    Refused,
    RegisterInstrument,
    Stamp,
    StepDone,
    TakeReading,
)
from vaporwright.acceptance.record.state import replay
from vaporwright.acceptance.steps.outcomes import ACCEPTED, TEST_ERROR
from vaporwright.acceptance.steps.readings import Reading

OLD = Path(__file__).with_name("record_without_late_entries.txt")
SERIAL = Reading("documents.nameplate", "serial", "INV-7", "INV-7")
DRY = Reading("tank.leak", "drops", "no", False)
CLAMP = Reading("set_points.clamp", "clamp_K", "150.0 degF", 338.7056, "T1")


@pytest.fixture
def hand() -> Hand:
    begun = Hand()
    begun.begins()
    return begun


def ago(stamp: Stamp, **back: float) -> Stamp:
    """The stamp of something done so long before it is entered."""
    happened = datetime.fromisoformat(stamp.at) - timedelta(**back)
    return replace(stamp, happened_at=happened.isoformat(timespec="seconds"))


def old_rows() -> list[Row]:
    rows, before = [], ORIGIN
    for line in OLD.read_bytes().splitlines():
        found, _, body = line.partition(b" ")
        told = json.loads(body)
        rows.append(Row(told["run"], told["seq"], told["event_id"], body, before, found.decode()))
        before = rows[-1].hash
    return rows


def test_a_record_of_before_still_verifies_and_would_be_written_the_same() -> None:
    rows = old_rows()
    before = ORIGIN.encode()
    for row in rows:  # as the record's own README says, without our code
        made = hashlib.sha256(b"vaporwright record 1\n" + before + b"\n" + row.body).hexdigest()
        assert made == row.hash
        before = made.encode()
    assert verify(rows).ok
    state, again = replay(rows), 0
    assert state.readings[DRY.step, DRY.field].read_at == state.readings[DRY.step, DRY.field].mark.at
    for place, row in enumerate(rows):
        told = json.loads(row.body)
        stamp = Stamp(told["event_id"], told["at"], told["who"], told["role"], told["tool"])
        known = replay(rows[:place])
        if told["kind"] == "reading taken":
            command = TakeReading(stamp, Reading(**told["data"]["reading"]))
        elif told["kind"] == "step done":
            command = StepDone(stamp, told["data"]["step"], told["data"]["note"])  # type: ignore[assignment]
        else:
            continue
        (same,) = seal(decide(known, command), row.run, known.head, row.seq)
        assert (same.body, same.hash) == (row.body, row.hash)
        again += 1
    assert again == 5


def test_both_times_are_kept_and_a_reading_entered_at_once_has_one(hand: Hand) -> None:
    stamp = ago(hand.stamp(), minutes=4)
    hand.state = replace(hand.state, opened=replace(hand.state.opened, at="2026-03-04T07:00:00-06:00"))  # type: ignore[type-var]
    row = hand.enters(TakeReading(stamp, SERIAL))
    told = json.loads(row.body)
    assert (told["at"], told["data"]["happened_at"]) == (stamp.at, stamp.happened_at)
    taken = hand.state.readings[SERIAL.step, SERIAL.field]
    assert (taken.read_at, taken.mark.at) == (stamp.happened_at, stamp.at)
    at_once = json.loads(hand.does(TakeReading, DRY).body)
    assert not {"happened_at", "late_because"} & at_once["data"].keys()


def opened_a_day_before() -> Hand:
    """A run that was opened on 3 March; the instruments of both days differ."""
    hand = Hand(day="2026-03-03")
    hand.opens()
    hand.does(IssueProcedure, procedure())
    hand.does(RegisterInstrument, thermometer("2026-03-03"))  # due on that day: good for it, and not for the next
    hand.does(TakeReading, DRY)
    hand.does(AcceptPoint, "tank.leak", role="witness")
    hand.day = "2026-03-04"
    return hand


def test_an_instrument_is_judged_by_the_day_on_which_it_was_read() -> None:
    hand = opened_a_day_before()
    hand.does(RegisterInstrument, thermometer("2026-03-03"))
    late = hand.stamp()
    assert json.loads(hand.enters(TakeReading(late, CLAMP)).body)["data"]["outcome"] == TEST_ERROR  # of today: expired
    hand = opened_a_day_before()
    late = ago(hand.stamp(), hours=9)  # yesterday at 23 o'clock, when it was in date and registered
    assert late.happened_at.startswith("2026-03-03T23")
    assert json.loads(hand.enters(TakeReading(late, CLAMP)).body)["data"]["outcome"] == ACCEPTED


def test_an_instrument_of_today_was_not_in_the_hand_yesterday() -> None:
    hand = opened_a_day_before()
    hand.does(RegisterInstrument, replace(thermometer(), id="T2"))
    with pytest.raises(Refused, match="'T2' is not registered on 2026-03-03"):
        hand.enters(TakeReading(ago(hand.stamp(), hours=9), replace(CLAMP, instrument="T2")))


def test_a_correction_keeps_the_day_of_the_reading_however_often_it_is_corrected() -> None:
    hand = opened_a_day_before()
    first = hand.enters(TakeReading(ago(hand.stamp(), hours=9), CLAMP))
    second = hand.does(CorrectReading, first.event_id, replace(CLAMP, entered="150.2 degF"), "typing")
    hand.does(CorrectReading, second.event_id, CLAMP, "typing once more")  # T1 is not registered today
    read = {taken.read_at for taken in hand.state.history[CLAMP.step, CLAMP.field]}
    assert len(read) == 1
    assert read.pop().startswith("2026-03-03T23")


@pytest.mark.parametrize(
    ("back", "because", "words"),
    [
        ({"seconds": -1.0}, "", "which is after now"),
        ({"hours": 24.0, "seconds": 1.0}, "", "24.0 h ago"),
        ({"days": 9.0}, "the battery was flat", "before the run was opened"),
    ],
)
def test_a_time_that_cannot_be_is_refused(hand: Hand, back: dict[str, float], because: str, words: str) -> None:
    stamp = replace(ago(hand.stamp(), **back), late_because=because)
    with pytest.raises(Refused, match=words):
        hand.enters(TakeReading(stamp, SERIAL))


def test_a_reason_lets_in_what_is_older_than_a_day_and_stands_in_the_record() -> None:
    hand = opened_a_day_before()
    hand.day = "2026-03-06"
    stamp = replace(ago(hand.stamp(), hours=57.0), late_because="the tablet lay in a locked office")
    hand.enters(TakeReading(stamp, CLAMP))
    assert hand.state.history[CLAMP.step, CLAMP.field][0].mark.late_because == "the tablet lay in a locked office"
    with pytest.raises(Refused, match="stands alone"):
        hand.enters(TakeReading(replace(hand.stamp(), late_because="only words"), SERIAL))


def test_exactly_a_day_is_not_too_old() -> None:
    hand = opened_a_day_before()
    hand.state = replace(hand.state, opened=replace(hand.state.opened, at="2026-03-01T07:00:00-06:00"))  # type: ignore[type-var]
    hand.enters(TakeReading(ago(hand.stamp(), hours=24.0), SERIAL))


def test_a_hold_point_accepted_meanwhile_does_not_let_in_what_was_read_before_it(hand: Hand) -> None:
    hand.does(TakeReading, DRY)
    before_it = hand.stamp().at
    hand.does(AcceptPoint, "tank.leak", role="witness")
    with pytest.raises(Refused, match=r"before the hold point tank\.leak was accepted"):
        hand.enters(TakeReading(replace(hand.stamp(), happened_at=before_it), CLAMP))
    hand.does(TakeReading, CLAMP)


def test_sent_again_it_is_the_same_entry_though_its_age_is_worked_out_anew(hand: Hand) -> None:
    first = replace(hand.stamp(), happened_at="2026-03-04T08:00:01-06:00")
    (event,) = decide(hand.state, TakeReading(first, SERIAL))
    assert TakeReading(replace(first, happened_at="2026-03-04T08:00:03-06:00"), SERIAL).asks_for(event)


def test_whoever_is_second_is_told_what_stands_there(hand: Hand) -> None:
    hand.does(TakeReading, replace(SERIAL, entered="INV-1", value="INV-1"), who="Kim")
    with pytest.raises(Refused, match=r"is read already: INV-1 by Kim, 2026-03-04T08:00:"):
        hand.does(TakeReading, SERIAL, who="Tim")
