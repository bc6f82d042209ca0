"""The rules of the record: who may enter what, and when; and what the state then says."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from invented_record import DAY, Hand, insulation_tester, job_file, procedure, readings, thermometer
from vaporwright.acceptance.record.deciding import decide, signed_dry_run
from vaporwright.acceptance.record.events import (
    COMMANDS,
    PERFORMANCE_RUN,
    WHOLE_TEST,
    AcceptOpenItem,
    AcceptPoint,
    AddAttachment,
    AgreeDeviation,
    AppendLogRows,
    Attachment,
    ClosePunchItem,
    CloseRun,
    Command,
    CorrectReading,
    DryRun,
    EnterResult,
    Interrupt,
    IssueProcedure,
    OpenPunchItem,
    OpenRun,
    Refused,
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
from vaporwright.acceptance.record.roles import MAY, ROLES
from vaporwright.acceptance.record.state import RunState
from vaporwright.acceptance.steps.outcomes import ACCEPTED, NOT_ACCEPTED, NOT_RUN, TEST_ERROR
from vaporwright.acceptance.steps.readings import Reading
from vaporwright.foundation.errors import InputError

KEY, SIGNATURE = "ab" * 32, "cd" * 64  # the form only: whether it is genuine is for the store to say
SERIAL = Reading("documents.nameplate", "serial", "INV-7", "INV-7")
DRY = Reading("tank.leak", "drops", "no", False)
WET = Reading("tank.leak", "drops", "yes", True)
CLAMP = Reading("set_points.clamp", "clamp_K", "150.0 degF", 338.7056, "T1")


def _refuses(hand: Hand, words: str, make: Callable[..., Command], *args: Any, **more: Any) -> None:
    before = hand.state
    with pytest.raises(Refused, match=words):
        hand.does(make, *args, **more)
    assert hand.state is before


def _signs(hand: Hand, role: str, who: str = "") -> None:
    hand.does(Signed, hand.state.seq, hand.state.head, "I have seen it", KEY, SIGNATURE, role=role, who=who)


def _signed_run() -> Hand:
    hand = Hand()
    hand.runs_through()
    _signs(hand, "engineer")
    _signs(hand, "witness")
    return hand


@pytest.fixture
def hand() -> Hand:
    begun = Hand()
    begun.begins()
    return begun


def test_a_run_opens_once_and_first() -> None:
    hand = Hand()
    _refuses(hand, "not open yet", TakeReading, SERIAL)
    hand.opens("dry run")
    _refuses(hand, "open already", OpenRun, "dry run", "a", "b", "c", job_file())
    assert (hand.state.kind, hand.state.job, hand.state.unit) == ("dry run", "Demo job", "Unit 7")
    assert hand.state.attachments[0].attachment == job_file()
    _refuses(hand, "no procedure", TakeReading, SERIAL)


def test_a_witnessed_run_names_its_dry_run_or_says_why_there_is_none() -> None:
    who = ("Demo job", "Invented Plating", "Unit 7", job_file())
    _refuses(Hand(), "signed dry run, or a reason", OpenRun, "witnessed", *who)
    both = {"dry_run": DryRun("dry", "a" * 64), "no_dry_run_because": "but"}
    _refuses(Hand(), "signed dry run, or a reason", OpenRun, "witnessed", *who, **both)
    _refuses(Hand(), "head of the dry run", OpenRun, "witnessed", *who, dry_run=DryRun("dry", "A" * 64))
    _refuses(Hand(), "names no dry run", OpenRun, "dry run", *who, no_dry_run_because="it is one")
    dry = Hand("dry")
    dry.runs_through("dry run")
    with pytest.raises(Refused, match="no dry run signed"):
        signed_dry_run(dry.state)
    seen = dry.state.head
    _signs(dry, "engineer")
    named = signed_dry_run(dry.state)
    assert named == DryRun("dry", seen)
    hand = Hand()
    hand.opens(dry_run=named)
    assert hand.state.dry_run == named
    dry.does(Reopen, "a rod was wrong", role="engineer")
    with pytest.raises(Refused, match="no dry run signed"):
        signed_dry_run(dry.state)


def test_readings_are_judged_when_taken_and_keep_what_was_entered(hand: Hand) -> None:
    for reading, role in readings():
        hand.does(TakeReading, reading, role=role)
        if reading.step == "tank.leak":
            hand.does(AcceptPoint, "tank.leak", role="witness")
    taken = hand.state.readings["set_points.clamp", "clamp_K"]
    assert taken.reading.entered == "150.0 degF"
    assert (taken.outcome, taken.issue) == (ACCEPTED, 1)
    assert taken.expanded_uncertainty == pytest.approx(0.3)  # of the invented certificate
    assert (taken.mark.who, taken.mark.role, taken.mark.at[:10]) == ("A technician", "technician", DAY)
    assert (338.7056, "temperature") in taken.words.figures
    assert [step.key for step in hand.state.outstanding] == ["end.drain"]
    hand.does(StepDone, "end.drain", note="dry")
    assert hand.state.outstanding == ()
    assert set(hand.state.verdicts.values()) == {ACCEPTED}


def test_nothing_goes_on_before_a_hold_point_is_accepted(hand: Hand) -> None:
    hand.does(TakeReading, SERIAL)
    _refuses(hand, "hold point tank.leak", TakeReading, CLAMP)
    _refuses(hand, "hold point tank.leak", StepDone, "end.drain")
    _refuses(hand, "is not run", AcceptPoint, "tank.leak", role="witness")
    hand.does(TakeReading, DRY)
    _refuses(hand, "hold point tank.leak", TakeReading, CLAMP)
    _refuses(hand, "dry run only", AcceptPoint, "tank.leak", role="engineer")
    hand.does(AcceptPoint, "tank.leak", role="witness")
    _refuses(hand, "accepted already", AcceptPoint, "tank.leak", role="witness")
    _refuses(hand, "no hold or witness point", AcceptPoint, "end.drain", role="witness")
    hand.does(TakeReading, CLAMP)
    assert hand.state.points["tank.leak"].role == "witness"


def test_a_hold_point_holds_again_when_its_step_changes(hand: Hand) -> None:
    first = hand.does(TakeReading, DRY)
    hand.does(AcceptPoint, "tank.leak", role="witness")
    hand.does(CorrectReading, first.event_id, WET, "mixed up")
    assert hand.state.verdicts["tank.leak"] == NOT_ACCEPTED
    _refuses(hand, "hold point tank.leak", TakeReading, CLAMP)
    assert "tank.leak" in [step.key for step in hand.state.outstanding]


def test_the_order_that_a_step_asks_for_is_kept() -> None:
    hand = Hand()
    hand.begins()
    insulation = Reading("electrical.insulation", "resistance_ohm", "120 Mohm", 1.2e8, "R1")
    hand.does(StepNotRun, "tank.leak", "tested at the tank maker's")
    hand.does(AcceptPoint, "tank.leak", role="witness")
    _refuses(hand, "comes after tank.leak", TakeReading, insulation, role="electrician")


def test_work_stays_with_who_is_qualified_for_it(hand: Hand) -> None:
    hand.does(TakeReading, DRY)
    hand.does(AcceptPoint, "tank.leak", role="witness")
    insulation = Reading("electrical.insulation", "resistance_ohm", "120 Mohm", 1.2e8, "R1")
    for role in ("technician", "engineer", "burner technician"):
        _refuses(hand, f"not for the {role}", TakeReading, insulation, role=role)
    _refuses(hand, "not for the witness", TakeReading, SERIAL, role="witness")
    hand.does(TakeReading, insulation, role="electrician")
    hand.does(TakeReading, SERIAL, role="engineer")


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command.kind)
def test_every_kind_of_entry_has_its_roles(command: type[Command]) -> None:
    assert MAY[command.kind] <= set(ROLES)
    for role in {*ROLES, "owner"} - MAY[command.kind]:
        stamp = Hand().stamp(role)
        with pytest.raises(Refused, match=f"not for the {role}|is no role"):
            decide(RunState("demo-1"), _blank(command, stamp))


def test_the_witness_accepts_and_signs_and_enters_no_readings() -> None:
    assert {kind for kind, roles in MAY.items() if "witness" in roles} == {
        "instrument registered", "step repeated", "point accepted", "deviation agreed", "interrupted", "voided",
        "attachment added", "punch item opened", "punch item closed", "punch item accepted open", "signed", "reopened",
    }  # fmt: skip


def _blank(command: type[Command], stamp: Stamp) -> Command:
    made = object.__new__(command)
    object.__setattr__(made, "stamp", stamp)
    return made


def test_a_field_is_read_once_and_then_corrected_with_a_reason(hand: Hand) -> None:
    first = hand.does(TakeReading, replace(SERIAL, entered="INV-1", value="INV-1"))
    _refuses(hand, "is read already", TakeReading, SERIAL)
    _refuses(hand, "reason of the correction is missing", CorrectReading, first.event_id, SERIAL, " ")
    _refuses(hand, "is no reading of this run", CorrectReading, hand.rows[0].event_id, SERIAL, "typing")
    _refuses(hand, "same step and field", CorrectReading, first.event_id, DRY, "typing")
    second = hand.does(CorrectReading, first.event_id, SERIAL, "typing")
    _refuses(hand, "does not count any more", CorrectReading, first.event_id, SERIAL, "typing")
    wrong, right = hand.state.history["documents.nameplate", "serial"]
    assert (wrong.reading.value, wrong.counts) == ("INV-1", False)
    assert (right.reading.value, right.counts, right.corrects, right.mark.words) == (
        "INV-7",
        True,
        first.event_id,
        "typing",
    )
    assert hand.state.current("documents.nameplate", "serial") == right
    assert right.mark.event_id == second.event_id


def test_instruments_are_registered_once_a_day_and_then_picked(hand: Hand) -> None:
    hand.does(TakeReading, DRY)
    hand.does(AcceptPoint, "tank.leak", role="witness")
    _refuses(hand, "registered today already", RegisterInstrument, thermometer())
    hand.does(RegisterInstrument, thermometer("2028-01-31"), reason="the due date was misread")
    _refuses(hand, "'T9' is not registered", TakeReading, replace(CLAMP, instrument="T9"))
    hand.day = "2026-03-05"
    _refuses(hand, "'T1' is not registered on 2026-03-05", TakeReading, CLAMP)
    hand.does(RegisterInstrument, thermometer())
    hand.does(TakeReading, CLAMP)
    assert [entry.day for entry in hand.state.instruments["T1"]] == [DAY, DAY, "2026-03-05"]


def test_an_expired_instrument_is_recorded_and_passes_nothing() -> None:
    hand = Hand()
    hand.opens()
    hand.does(IssueProcedure, procedure())
    hand.does(RegisterInstrument, thermometer("2026-03-03"))
    hand.does(TakeReading, DRY)
    hand.does(AcceptPoint, "tank.leak", role="witness")
    taken = hand.does(TakeReading, CLAMP)
    assert hand.state.verdicts["set_points.clamp"] == TEST_ERROR
    hand.day = "2026-03-04"
    hand.does(RegisterInstrument, thermometer(), reason="another certificate")
    hand.does(CorrectReading, taken.event_id, CLAMP, "the certificate was renewed")
    assert hand.state.verdicts["set_points.clamp"] == ACCEPTED


def test_a_reading_that_makes_no_sense_is_an_error_or_refused(hand: Hand) -> None:
    hand.does(TakeReading, replace(DRY, entered="purple", value="purple"))
    assert hand.state.verdicts["tank.leak"] == TEST_ERROR
    _refuses(hand, "is no reading of step", TakeReading, replace(SERIAL, field="colour"))
    _refuses(hand, "is no step", TakeReading, replace(SERIAL, step="nowhere"))
    _refuses(hand, "what was entered", TakeReading, replace(SERIAL, entered=" "))
    with pytest.raises(InputError, match="finite"):
        hand.does(TakeReading, replace(SERIAL, value=float("nan")))


def test_steps_are_left_out_done_and_repeated_with_reasons(hand: Hand) -> None:
    hand.does(TakeReading, DRY)
    hand.does(AcceptPoint, "tank.leak", role="witness")
    _refuses(hand, "is done when its readings", StepDone, "set_points.clamp")
    hand.does(StepDone, "end.drain")
    _refuses(hand, "done already", StepDone, "end.drain")
    _refuses(hand, "has entries", StepNotRun, "end.drain", "no time")
    _refuses(hand, "nothing to repeat", RepeatStep, "set_points.clamp", "again")
    _refuses(hand, "reason .* is missing", RepeatStep, "end.drain", "")
    hand.does(RepeatStep, "end.drain", "still wet", wished_by="A witness", role="witness")
    assert hand.state.verdicts["end.drain"] == NOT_RUN
    hand.does(StepNotRun, "end.drain", "no time")
    assert "end.drain" not in [step.key for step in hand.state.outstanding]
    hand.does(StepDone, "end.drain")
    assert hand.state.verdicts["end.drain"] == ACCEPTED
    hand.does(StepNotRun, "documents.nameplate", "not fitted yet")
    hand.does(TakeReading, SERIAL)
    assert hand.state.verdicts["documents.nameplate"] == ACCEPTED
    hand.does(RepeatStep, "tank.leak", "the witness wishes it", wished_by="A witness")
    assert hand.state.current("tank.leak", "drops") is None
    assert len(hand.state.history["tank.leak", "drops"]) == 1
    hand.does(TakeReading, WET)
    hand.does(Void, "tank.leak", "the wrong valve was open")
    assert hand.state.verdicts["tank.leak"] == NOT_RUN
    assert [(note.kind, note.about) for note in hand.state.notes][-1] == ("voided", "tank.leak")
    assert hand.state.notes[0].by_wish_of == "A witness"


def test_interruptions_and_deviations_are_noted(hand: Hand) -> None:
    hand.does(Interrupt, "power failed", 25.0)
    hand.does(AgreeDeviation, "tank.leak", "two hours instead of four", "A witness", role="engineer")
    assert [(note.kind, note.minutes, note.mark.words) for note in hand.state.notes] == [
        ("interrupted", 25.0, "power failed"),
        ("deviation agreed", 0.0, "two hours instead of four"),
    ]
    _refuses(hand, "minutes", Interrupt, "power failed", float("nan"))
    _refuses(hand, "minutes", Interrupt, "power failed", -1.0)
    _refuses(hand, "is no step", AgreeDeviation, "nowhere", "x", "y")


def test_a_procedure_issued_again_needs_a_reason_and_keeps_the_readings(hand: Hand) -> None:
    hand.does(TakeReading, SERIAL)
    other = replace(procedure(), conditions={"air_temperature_K": 300.0})
    _refuses(hand, "reason for issuing", IssueProcedure, other)
    hand.does(IssueProcedure, other, "warmer after noon")
    assert hand.state.procedure == other
    assert [issue.mark.words for issue in hand.state.issues] == ["", "warmer after noon"]
    assert hand.state.verdicts["documents.nameplate"] == ACCEPTED
    hand.does(TakeReading, DRY)
    assert hand.state.readings["tank.leak", "drops"].issue == 2
    twice = replace(other, sections=(*other.sections, other.sections[0]))
    _refuses(hand, "stands twice", IssueProcedure, twice, "by mistake")
    _refuses(hand, "no steps", IssueProcedure, replace(other, sections=()), "by mistake")


LOG: dict[str, Any] = {"columns": {"tank_temperature_K": (330.0, 331.0)}, "instruments": {"tank_temperature_K": "P1"}}
PAIR = replace(thermometer(), id="P1", kind="thermometer pair")


def test_the_log_grows_and_is_checked_across_its_parts(hand: Hand) -> None:
    begun = f"{DAY}T10:00:00-06:00"
    _refuses(hand, "'P1' is not registered", AppendLogRows, begun, (0.0, 60.0), **LOG)
    _refuses(hand, "with no thermometer pair", AppendLogRows, begun, (0.0, 60.0), LOG["columns"])
    hand.does(RegisterInstrument, PAIR)
    wrong = {**LOG, "instruments": {"tank_temperature_K": "T1"}}
    _refuses(hand, "with no thermometer pair", AppendLogRows, begun, (0.0, 60.0), **wrong)
    hand.does(AppendLogRows, begun, (0.0, 60.0), **LOG)
    scale = replace(insulation_tester(), id="S1", kind="scale")
    hand.does(RegisterInstrument, scale)
    mass = {"columns": {"make_up_mass_kg": (10.0, 11.0)}, "instruments": {"make_up_mass_kg": "S1"}}
    with pytest.raises(InputError, match="does not come after"):
        hand.does(AppendLogRows, begun, (60.0, 120.0), **mass)
    hand.does(AppendLogRows, begun, (120.0, 180.0), **mass)
    with pytest.raises(InputError, match="a total never falls"):
        hand.does(AppendLogRows, begun, (240.0, 300.0), **{**mass, "columns": {"make_up_mass_kg": (10.5, 12.0)}})
    _refuses(hand, "the log began at", AppendLogRows, f"{DAY}T11:00:00-06:00", (240.0, 300.0), **mass)
    log = hand.state.log
    assert log is not None
    assert log.times_s == (0.0, 60.0, 120.0, 180.0)
    assert log.columns["make_up_mass_kg"] == (None, None, 10.0, 11.0)
    assert log.columns["tank_temperature_K"] == (330.0, 331.0, None, None)


def test_the_performance_run_has_a_result_unless_it_is_void(hand: Hand) -> None:
    begun = f"{DAY}T10:00:00-06:00"
    _refuses(hand, "has no rows", EnterResult, {"capability": 1.02}, ACCEPTED, "it does")
    _refuses(hand, "no rows to void", Void, PERFORMANCE_RUN, "wind")
    hand.does(RegisterInstrument, PAIR)
    hand.does(AppendLogRows, begun, (0.0, 60.0), **LOG)
    _refuses(hand, "capability", EnterResult, {"capability": float("inf")}, ACCEPTED, "it does")
    _refuses(hand, "outcome", EnterResult, {}, "splendid", "it does")
    hand.does(EnterResult, {"capability": 1.02}, ACCEPTED, "it does")
    assert hand.state.result is not None
    assert hand.state.result.figures == {"capability": 1.02}
    hand.does(Void, PERFORMANCE_RUN, "the door stood open", role="witness")
    assert (hand.state.log, hand.state.result) == (None, None)


def test_a_run_logged_with_an_expired_instrument_cannot_pass(hand: Hand) -> None:
    hand.does(RegisterInstrument, replace(PAIR, due="2026-03-03"))
    hand.does(AppendLogRows, f"{DAY}T10:00:00-06:00", (0.0, 60.0), **LOG)
    _refuses(hand, "cannot pass", EnterResult, {}, ACCEPTED, "it does")
    hand.does(EnterResult, {}, TEST_ERROR, "the thermometers are out of date")


def test_the_punch_list_keeps_category_a_in_the_shop() -> None:
    hand = Hand()
    hand.runs_through()
    hand.does(OpenPunchItem, "A", "label missing", "the shop", role="witness")
    hand.does(OpenPunchItem, "C", "paint", "the shop", "end.drain", role="witness")
    _refuses(hand, "category 'D'", OpenPunchItem, "D", "paint", "the shop")
    _refuses(hand, "owner", OpenPunchItem, "A", "paint", "")
    _signs(hand, "engineer")
    _signs(hand, "witness")
    sign = (hand.state.seq, hand.state.head, "may ship", KEY, SIGNATURE)
    _refuses(hand, "category A are open: 1", ReleaseToShip, *sign, role="engineer")
    _refuses(hand, "of category A", AcceptOpenItem, 1, role="witness")
    _refuses(hand, "not for the engineer", AcceptOpenItem, 2, role="engineer")
    _refuses(hand, "evidence", ClosePunchItem, 1, "")
    hand.does(ClosePunchItem, 1, "label fitted, seen", role="technician")
    _refuses(hand, "is not open", ClosePunchItem, 1, "again")
    sign = (hand.state.seq, hand.state.head, "may ship", KEY, SIGNATURE)
    _refuses(hand, "items are open: 2", ReleaseToShip, *sign, role="engineer")
    hand.does(AcceptOpenItem, 2, "before the summer", role="witness")
    _refuses(hand, "does not wait", AcceptOpenItem, 2, role="witness")
    sign = (hand.state.seq, hand.state.head, "may ship", KEY, SIGNATURE)
    _refuses(hand, "not for the witness", ReleaseToShip, *sign, role="witness")
    hand.does(ReleaseToShip, *sign, role="engineer")
    assert hand.state.release is not None
    assert hand.state.release.statement == "may ship"
    first, second = hand.state.punch_list
    assert first.closed is not None
    assert (first.closed.words, first.closed.who) == ("label fitted, seen", "A technician")
    assert second.closed is None
    assert second.settled


def test_an_item_on_a_step_is_closed_by_a_step_that_passes(hand: Hand) -> None:
    hand.does(TakeReading, WET)
    hand.does(OpenPunchItem, "A", "weld leaks", "the shop", "tank.leak")
    _refuses(hand, "test it again first", ClosePunchItem, 1, "welded")
    hand.does(RepeatStep, "tank.leak", "welded")
    hand.does(TakeReading, DRY)
    hand.does(ClosePunchItem, 1, "welded, four hours dry")


def test_nothing_is_signed_around() -> None:
    hand = Hand()
    hand.begins()
    hand.does(TakeReading, SERIAL)
    sign = (hand.state.seq, hand.state.head, "seen", KEY, SIGNATURE)
    _refuses(hand, "tank.leak is not run", Signed, *sign, role="engineer")
    _refuses(hand, "moved on", Signed, hand.state.seq, "a" * 64, "seen", KEY, SIGNATURE, role="engineer")
    _refuses(hand, "form", Signed, *sign[:3], "k", SIGNATURE, role="engineer")
    for step in ("tank.leak", "electrical.insulation", "set_points.clamp", "end.drain"):
        hand.does(OpenPunchItem, "A", f"{step} is to be done", "the shop", step)
    _signs(hand, "engineer", "One Person")
    sign = (hand.state.seq, hand.state.head, "seen", KEY, SIGNATURE)
    _refuses(hand, "signs once", Signed, *sign, role="witness", who=" one person")


def test_a_signature_covers_what_was_there_and_reopening_leaves_a_trace() -> None:
    hand = _signed_run()
    heads = [signed.head for signed in hand.state.covering]
    assert heads == [hand.rows[-3].hash, hand.rows[-2].hash]
    _refuses(hand, r"signed by A engineer \(engineer\), A witness", Void, "end.drain", "x")
    _refuses(hand, "reopen it", RepeatStep, "end.drain", "x")
    hand.does(AddAttachment, Attachment("a" * 64, "signed copy.pdf", "application/pdf", 9))
    hand.does(CloseRun, role="engineer")
    _refuses(hand, "is closed", AddAttachment, Attachment("a" * 64, "x", "a/b", 1))
    _refuses(hand, "reason for reopening", Reopen, "", role="witness")
    hand.does(Reopen, "a reading is doubted", role="witness")
    assert hand.state.covering == ()
    assert [signed.head for signed in hand.state.signatures] == heads
    assert hand.state.notes[-1].kind == "reopened"
    assert hand.state.closed is None
    _refuses(hand, "neither signed nor closed", Reopen, "again", role="witness")
    _refuses(hand, "engineer has not signed", CloseRun, role="engineer")
    hand.does(RepeatStep, "end.drain", "doubted")


def test_a_release_needs_both_signatures_and_no_dry_run_has_one() -> None:
    hand = Hand()
    hand.runs_through()
    _signs(hand, "engineer")
    sign = (hand.state.seq, hand.state.head, "may ship", KEY, SIGNATURE)
    _refuses(hand, "witness has not signed", ReleaseToShip, *sign, role="engineer")
    dry = Hand()
    dry.runs_through("dry run")
    _signs(dry, "engineer")
    sign = (dry.state.seq, dry.state.head, "may ship", KEY, SIGNATURE)
    _refuses(dry, "releases nothing", ReleaseToShip, *sign, role="engineer")
    dry.does(CloseRun, role="engineer")


def test_a_void_test_can_only_be_closed(hand: Hand) -> None:
    hand.does(Void, WHOLE_TEST, "the pump broke", role="witness")
    _refuses(hand, "whole test is void: the pump broke", TakeReading, SERIAL)
    hand.does(CloseRun, role="engineer")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"at": "2026-03-04T09:00:00"}, "ISO 8601"),
        ({"at": "yesterday"}, "ISO 8601"),
        ({"at": "20260304T090000Z"}, "ISO 8601"),
        ({"who": " "}, "who it is"),
        ({"who": "two\nlines"}, "one line"),
        ({"who": "x" * 121}, "one line"),
        ({"tool": ""}, "version of the tool"),
        ({"event_id": "7"}, "UUID"),
        ({"event_id": "00000000-0000-0000-0000-00000000000A"}, "UUID"),
        ({"role": "owner"}, "is no role"),
    ],
)
def test_every_entry_says_who_when_and_with_what(hand: Hand, changes: dict[str, str], words: str) -> None:
    stamp = replace(hand.stamp("technician"), **changes)
    with pytest.raises(Refused, match=words):
        decide(hand.state, TakeReading(stamp, SERIAL))


@pytest.mark.parametrize(
    "attachment",
    [
        Attachment("A" * 64, "x", "a/b", 1),
        Attachment("a" * 63, "x", "a/b", 1),
        Attachment("a" * 64, "", "a/b", 1),
        Attachment("a" * 64, "x\ny", "a/b", 1),
        Attachment("a" * 64, "x", "a b/c", 1),
        Attachment("a" * 64, "x", "a/b", -1),
        Attachment("a" * 64, "x", "a/b", True),
    ],
)
def test_an_attachment_is_told_fully(hand: Hand, attachment: Attachment) -> None:
    with pytest.raises(Refused):
        hand.does(AddAttachment, attachment)
