"""Laws of the record: whatever is entered, in whatever order, the chain stays whole and the state is its replay."""

from __future__ import annotations

import uuid
from dataclasses import replace
from typing import Any

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from invented_record import DAY, Hand, job_file, procedure, thermometer
from vaporwright.acceptance.record.canonical_json import canonical, parsed
from vaporwright.acceptance.record.chain import event_of, seal, verify
from vaporwright.acceptance.record.deciding import decide
from vaporwright.acceptance.record.events import (
    COMMANDS,
    AcceptOpenItem,
    AcceptPoint,
    AddAttachment,
    AgreeDeviation,
    AppendLogRows,
    ClosePunchItem,
    CloseRun,
    Command,
    CorrectReading,
    EnterResult,
    Interrupt,
    IssueProcedure,
    OpenPunchItem,
    OpenRun,
    RegisterInstrument,
    ReleaseToShip,
    Reopen,
    RepeatStep,
    Signed,
    Stamp,
    StepDone,
    StepNotRun,
    TakeReading,
    Void,
)
from vaporwright.acceptance.record.roles import ROLES
from vaporwright.acceptance.record.state import RunState, apply, replay
from vaporwright.acceptance.steps.instruments import Instrument
from vaporwright.acceptance.steps.outcomes import PASSES
from vaporwright.acceptance.steps.readings import Reading
from vaporwright.foundation.errors import InputError

STEPS = st.sampled_from([step.key for step in procedure().steps])
WORDS = st.sampled_from(["", " ", "because", "weil ä\x00"])
FIELDS = [(step.key, field.key) for step in procedure().steps for field in step.fields]
VALUES: st.SearchStrategy[Any] = st.one_of(
    st.booleans(), st.sampled_from([338.7, 1.2e8, 0.0, -1.0]), st.floats(allow_nan=False), st.text(max_size=8)
)
KINDS = ("thermometer", "insulation tester", "thermometer pair")


@st.composite
def readings(draw: st.DrawFn) -> Reading:
    """Mostly of fields that there are, mostly with the instrument that they need; else nonsense."""
    step, field = draw(st.sampled_from(FIELDS))
    found = procedure().step(step)
    assert found is not None
    wanted = found.field(field)
    assert wanted is not None
    usual = {"thermometer": "T1", "insulation tester": "R1"}.get(wanted.instrument, "")
    instrument = draw(st.sampled_from([usual, usual, usual, "T1", "nowhere"]))
    good = wanted.expected if wanted.expected is not None else "INV-7"
    return Reading(
        step, field, draw(st.sampled_from(["as read", ""])), draw(st.one_of(st.just(good), VALUES)), instrument
    )


class AnyOrder(RuleBasedStateMachine):
    """Enters anything, in any role; what is refused changes nothing."""

    def __init__(self) -> None:
        super().__init__()
        self.hand = Hand()
        self.entered = 0

    def enters(self, make: Any, *args: Any, role: str, **more: Any) -> None:
        before = (self.hand.state, self.hand.rows)
        try:
            self.hand.does(make, *args, role=role, who=f"The {role}", **more)
            self.entered += 1
        except InputError:
            assert (self.hand.state, self.hand.rows) == before

    @rule(role=st.sampled_from(ROLES), kind=st.sampled_from(["dry run", "witnessed", "site", "party"]), reason=WORDS)
    def opens(self, role: str, kind: str, reason: str) -> None:
        self.enters(OpenRun, kind, "Demo", "Invented", "Unit 7", job_file(), None, reason, role=role)

    @rule(kind=st.sampled_from(["dry run", "witnessed"]))
    def begins(self, kind: str) -> None:
        """The usual beginning, so that most walks get somewhere."""
        if self.hand.state.kind is None:
            self.hand.begins(kind)

    @rule(role=st.sampled_from(ROLES), reason=WORDS)
    def issues(self, role: str, reason: str) -> None:
        self.enters(IssueProcedure, procedure(), reason, role=role)

    @rule(kind=st.sampled_from(KINDS), due=st.sampled_from(["2026-03-03", "2027-01-31"]), reason=WORDS)
    def registers(self, kind: str, due: str, reason: str) -> None:
        name = {"thermometer": "T1", "insulation tester": "R1"}.get(kind, "P1")
        relative = 0.05 if kind == "insulation tester" else 0.0
        instrument = Instrument(name, kind, "invented", "C-1", due, 0.0 if relative else 0.3, relative)
        self.enters(RegisterInstrument, instrument, reason, role="technician")

    @rule(role=st.sampled_from(ROLES), reading=readings())
    def takes(self, role: str, reading: Reading) -> None:
        self.enters(TakeReading, reading, role=role)

    @rule(data=st.data(), reading=readings(), reason=WORDS)
    def corrects(self, data: st.DataObject, reading: Reading, reason: str) -> None:
        known = [entry for taken in self.hand.state.history.values() for entry in taken]
        assume(known)
        wrong = data.draw(st.sampled_from(known))
        same = replace(reading, step=wrong.reading.step, field=wrong.reading.field)
        role = data.draw(st.sampled_from(["technician", "electrician"]))
        self.enters(CorrectReading, wrong.mark.event_id, data.draw(st.sampled_from([reading, same])), reason, role=role)

    @rule(role=st.sampled_from(ROLES), step=STEPS, reason=WORDS, data=st.data())
    def on_a_step(self, role: str, step: str, reason: str, data: st.DataObject) -> None:
        make = data.draw(st.sampled_from([StepDone, StepNotRun, RepeatStep, AcceptPoint, AgreeDeviation, Void]))
        more = {"agreed_by": "A witness"} if make is AgreeDeviation else {}
        self.enters(make, step, reason, role=role, **more)

    @rule(
        role=st.sampled_from(ROLES),
        what=st.sampled_from(["performance run", "whole test"]),
        reason=WORDS,
        data=st.data(),
    )
    def voids(self, role: str, what: str, reason: str, data: st.DataObject) -> None:
        assume(what != "whole test" or data.draw(st.integers(0, 9)) == 0)
        self.enters(Void, what, reason, role=role)

    @rule(times=st.lists(st.integers(0, 500), min_size=1, max_size=3), value=st.sampled_from([330.0, 5.0, None]))
    def logs(self, times: list[int], value: float | None) -> None:
        columns = {"tank_temperature_K": (value,) * len(times)}
        begun = f"{DAY}T09:00:00-06:00"
        named = {"tank_temperature_K": "P1"}
        self.enters(AppendLogRows, begun, tuple(map(float, times)), columns, named, role="technician")

    @rule(outcome=st.sampled_from(["accepted", "not accepted", "fine"]), value=st.floats())
    def results(self, outcome: str, value: float) -> None:
        self.enters(EnterResult, {"capability": value}, outcome, "as worked out", role="engineer")

    @rule(role=st.sampled_from(ROLES), step=st.one_of(st.just(""), STEPS), category=st.sampled_from("ABCD"))
    def opens_an_item(self, role: str, step: str, category: str) -> None:
        self.enters(OpenPunchItem, category, "paint", "the shop", step, role=role)

    @rule(role=st.sampled_from(ROLES), number=st.integers(0, 4), words=WORDS, closes=st.booleans())
    def settles_an_item(self, role: str, number: int, words: str, closes: bool) -> None:
        self.enters(ClosePunchItem if closes else AcceptOpenItem, number, words, role=role)

    @rule(role=st.sampled_from(ROLES), ships=st.booleans(), stale=st.booleans())
    def signs(self, role: str, ships: bool, stale: bool) -> None:
        head = "0" * 64 if stale else self.hand.state.head
        make = ReleaseToShip if ships else Signed
        self.enters(make, self.hand.state.seq, head, "seen", "ab" * 32, "cd" * 64, role=role)

    @rule(role=st.sampled_from(ROLES), reason=WORDS, closes=st.booleans())
    def closes_or_reopens(self, role: str, reason: str, closes: bool) -> None:
        self.enters(CloseRun if closes else Reopen, reason, role=role)

    @rule(role=st.sampled_from(ROLES), minutes=st.floats(), reason=WORDS)
    def interrupts(self, role: str, minutes: float, reason: str) -> None:
        self.enters(Interrupt, reason, minutes, role=role)
        self.enters(AddAttachment, job_file(), role=role)

    @invariant()
    def the_chain_is_whole(self) -> None:
        rows, state = self.hand.rows, self.hand.state
        assert len(rows) == state.seq
        if rows:
            found = verify(rows, rows[len(rows) // 2].hash)
            assert (found.ok, found.head, found.events) == (True, state.head, state.seq)

    @invariant()
    def what_passes_was_read_in_order_with_a_valid_instrument(self) -> None:
        state = self.hand.state
        for taken in state.readings.values():
            if taken.outcome in PASSES and taken.reading.instrument:
                known = state.instruments[taken.reading.instrument]
                assert any(entry.instrument.due >= entry.day == taken.mark.at[:10] for entry in known)

    @invariant()
    def a_release_was_signed_by_two_with_nothing_of_category_a_open_then(self) -> None:
        state = self.hand.state
        if state.release is not None:
            roles = {one.role for one in state.covering if one.kind == "signed"}
            assert {"engineer", "witness"} <= roles
            assert state.kind != "dry run"

    def teardown(self) -> None:
        """The replay from any point, and from the bytes alone, comes to the same."""
        rows = self.hand.rows
        assert replay(rows, RunState("demo-1")) == self.hand.state
        state = RunState("demo-1")
        for row in rows:
            event = event_of(row)
            assert canonical(parsed(row.body)) == row.body
            assert seal([event], "demo-1", state.head, state.seq + 1) == (row,)
            state = replace(apply(state, event), head=row.hash)
        assert state == self.hand.state


AnyOrder.TestCase.settings = settings(
    max_examples=60, stateful_step_count=40, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
TestAnyOrder = AnyOrder.TestCase


@given(
    value=st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=20), st.binary(max_size=4)),
    entered=st.text(max_size=20),
    instrument=st.text(max_size=8),
    way=st.text(max_size=5),
)
def test_nonsense_readings_never_crash_and_never_pass(value: Any, entered: str, instrument: str, way: Any) -> None:
    hand = Hand()
    hand.opens()
    hand.does(IssueProcedure, procedure())
    hand.does(RegisterInstrument, thermometer("2026-01-01"))
    for step, field in FIELDS:
        reading = Reading(step, field, entered, value, instrument, way)
        try:
            hand.does(TakeReading, reading)
        except InputError:
            continue
        taken = hand.state.history[step, field][-1]
        right = isinstance(value, str) if field == "serial" else value is False
        assert taken.outcome not in PASSES or right
    assert verify(hand.rows).ok


@given(st.sampled_from(COMMANDS), st.text(max_size=8), st.text(max_size=30), st.text(max_size=5), st.text(max_size=12))
def test_any_stamp_is_refused_or_right(make: type[Command], who: str, at: str, tool: str, role: str) -> None:
    stamp = Stamp(str(uuid.UUID(int=5)), at, who, role, tool)
    made = object.__new__(make)
    object.__setattr__(made, "stamp", stamp)
    try:
        decide(RunState("demo-1"), made)
    except InputError:
        return
    raise AssertionError("a role that is none was let in")
