"""The chain of hashes: what `verify` finds, and that the bytes have one form."""

from __future__ import annotations

import hashlib
import json
import time
from dataclasses import replace

import pytest

from invented_record import Hand, procedure
from vaporwright.acceptance.record.canonical_json import (
    as_json,
    canonical,
    parsed,
    procedure_as_json,
    procedure_from_json,
)
from vaporwright.acceptance.record.chain import ORIGIN, Row, event_of, hash_of, seal, verify
from vaporwright.acceptance.record.events import Event, OpenPunchItem, Refused
from vaporwright.acceptance.record.state import RunState, replay
from vaporwright.foundation.errors import InputError


@pytest.fixture(scope="module")
def rows() -> tuple[Row, ...]:
    hand = Hand()
    hand.runs_through()
    return hand.rows


def test_the_hash_is_that_of_the_words_in_the_docstring(rows: tuple[Row, ...]) -> None:
    before = "0" * 64
    for row in rows:
        made = hashlib.sha256()
        for part in ("vaporwright record 1", "\n", before, "\n"):
            made.update(part.encode())
        made.update(row.body)
        assert (row.before, row.hash) == (before, made.hexdigest())
        before = row.hash


def test_a_whole_chain_verifies_row_by_row(rows: tuple[Row, ...]) -> None:
    found = verify(row for row in rows)
    assert (found.ok, found.problem, found.events, found.run, found.head) == (
        True,
        "",
        len(rows),
        "demo-1",
        rows[-1].hash,
    )
    assert not verify(()).ok


def test_every_flipped_byte_of_a_body_is_found(rows: tuple[Row, ...]) -> None:
    place = 4
    body = rows[place].body
    for at in range(len(body)):
        forged = body[:at] + bytes([body[at] ^ 1]) + body[at + 1 :]
        found = verify((*rows[:place], replace(rows[place], body=forged), *rows[place + 1 :]))
        assert not found.ok
        assert found.seq == place + 1


@pytest.mark.parametrize("column", ["run", "seq", "event_id", "before", "hash"])
def test_every_other_column_is_held_too(rows: tuple[Row, ...], column: str) -> None:
    for place in range(len(rows)):
        value = getattr(rows[place], column)
        other = value + 1 if column == "seq" else value[:-1] + ("0" if value[-1] != "0" else "1")
        found = verify((*rows[:place], replace(rows[place], **{column: other}), *rows[place + 1 :]))
        assert not found.ok


def test_rows_left_out_doubled_or_swapped_are_found(rows: tuple[Row, ...]) -> None:
    for place in range(len(rows) - 1):
        left_out = verify((*rows[:place], *rows[place + 1 :]))
        assert (left_out.ok, left_out.seq) == (False, rows[place + 1].seq)
        assert "missing" in left_out.problem
        assert not verify((*rows[: place + 1], *rows[place:])).ok
        assert not verify((*rows[:place], rows[place + 1], rows[place], *rows[place + 2 :])).ok


def test_a_cut_tail_and_a_chain_made_anew_are_whole_but_miss_the_head(rows: tuple[Row, ...]) -> None:
    head = rows[-1].hash
    assert verify(rows, head).ok
    assert verify(rows, rows[2].hash).ok
    cut = verify(rows[:-2], head)
    assert not cut.ok
    assert "cut or made anew" in cut.problem
    assert verify(rows[:-2]).ok
    events = [event_of(row) for row in rows]
    forged = [replace(event, data={**event.data, "step": "end.drain"}) if place == 9 else event
              for place, event in enumerate(events)]  # fmt: skip
    forged[4] = replace(events[4], who="Somebody Else")
    anew = seal(forged, "demo-1", ORIGIN, 1)
    assert verify(anew).ok
    assert not verify(anew, head).ok


def test_a_last_row_that_stands_on_nothing_is_found(rows: tuple[Row, ...]) -> None:
    """Its own hash is right; only what it follows is not what is there."""
    stray = seal([event_of(rows[-1])], "demo-1", rows[2].hash, len(rows))
    assert "does not follow" in verify((*rows[:-1], *stray)).problem


def _one(body: bytes, row: Row) -> Row:
    return replace(row, body=body, hash=hash_of(row.before, body))


def test_a_body_of_another_form_is_found_though_its_hash_is_right(rows: tuple[Row, ...]) -> None:
    first = rows[0]
    value = json.loads(first.body)
    loose = json.dumps(value).encode()
    lacking = canonical({key: entry for key, entry in value.items() if key != "who"})
    more = canonical({**value, "extra": 1})
    other_run = canonical({**value, "run": "demo-2"})
    for body in (
        loose,
        lacking,
        more,
        other_run,
        b"[]",
        b"nonsense",
        b"\xff",
        b"[" * 100_000,
        canonical({**value, "data": 1}),
    ):
        assert not verify([_one(body, first)]).ok
    assert verify([_one(first.body, first)]).ok


def test_an_id_that_comes_twice_and_a_signature_on_another_head_are_found(rows: tuple[Row, ...]) -> None:
    events = [event_of(row) for row in rows]
    twice = seal([*events[:5], replace(events[5], event_id=events[4].event_id)], "demo-1", ORIGIN, 1)
    assert "stands in the record before" in verify(twice).problem
    signs = replace(events[5], kind="signed", data={"seq": 5, "head": rows[3].hash})
    assert "not the head before it" in verify(seal([*events[:5], signs], "demo-1", ORIGIN, 1)).problem
    signs = replace(events[5], kind="signed", data={"seq": 5, "head": rows[4].hash})
    assert verify(seal([*events[:5], signs], "demo-1", ORIGIN, 1)).ok


def test_what_cannot_be_kept_is_refused() -> None:
    event = Event("not an id", "run opened", "2026-03-04T09:00:00Z", "A", "engineer", "0.1.0", {})
    with pytest.raises(Refused, match="UUID"):
        seal([event], "demo", ORIGIN, 1)
    good = replace(event, event_id="00000000-0000-0000-0000-000000000001")
    for name in ("", " x", "a/b", "a:b", "x" * 81, "a\nb", "ä"):
        with pytest.raises(Refused, match="cannot name a run"):
            seal([good], name, ORIGIN, 1)
    for value in (float("nan"), float("inf"), "\ud800", b"bytes", {1: 2}, {3}):
        with pytest.raises(InputError):
            seal([replace(good, data={"value": value})], "demo", ORIGIN, 1)


def test_canonical_json_has_one_form() -> None:
    assert canonical({"b": [1, 0.1], "a": "ä\n"}) == '{"a":"ä\\n","b":[1,0.1]}'.encode()
    assert parsed(b'{"a":0.1}') == {"a": 0.1}
    for body in (
        b'{"a": 1}',
        b'{"b":1,"a":1}',
        b'{"a":1,"a":1}',
        b'{"a":1.0e0}',
        b'{"a":NaN}',
        b'{"a":"\\u00e4"}',
        b"3",
    ):
        with pytest.raises(ValueError, match="canonical"):
            parsed(body)
    assert as_json((1, None, (True, "x"))) == [1, None, [True, "x"]]


def test_a_procedure_comes_back_exactly() -> None:
    value = json.loads(canonical(procedure_as_json(procedure())))
    assert procedure_from_json(value) == procedure()
    assert repr(procedure_from_json(value)) == repr(procedure())  # 2.0 is not 2, and no tuple is a list


def test_an_event_of_a_kind_unknown_here_is_no_crash(rows: tuple[Row, ...]) -> None:
    event = event_of(rows[5])
    for strange in (replace(event, kind="kept for later"), replace(event, data={"step": "x"})):
        made = seal([strange], "demo-1", rows[4].hash, 6)
        with pytest.raises(ValueError, match="not as this version writes it"):
            replay((*rows[:5], *made))


def test_ten_thousand_events_are_verified_at_once(capsys: pytest.CaptureFixture[str]) -> None:
    hand = Hand()
    hand.begins()
    event = event_of(hand.enters(OpenPunchItem(hand.stamp("witness"), "C", "paint " * 60, "shop")))
    ids = (f"00000000-0000-0000-0001-{number:012d}" for number in range(10_000))
    more = seal((replace(event, event_id=one) for one in ids), "demo-1", hand.rows[-1].hash, 6)
    rows = (*hand.rows, *more)
    start = time.perf_counter()
    found = verify(rows)
    took_s = time.perf_counter() - start
    start = time.perf_counter()
    for row in rows:
        hashlib.sha256(row.body).hexdigest()
    hashing_s = time.perf_counter() - start
    assert (found.ok, found.events) == (True, 10_005)
    broken = list(rows)
    broken[7000] = replace(rows[7000], body=rows[7000].body.replace(b"paint", b"taint", 1))
    assert verify(broken).seq == 7001
    with capsys.disabled():
        print(
            f"\n10,005 events verified in {took_s * 1e3:.0f} ms, {took_s / hashing_s:.0f} times as long as hashing them"
        )


def test_state_does_not_depend_on_where_the_replay_is_cut(rows: tuple[Row, ...]) -> None:
    whole = replay(rows)
    for place in range(len(rows)):
        assert replay(rows[place:], replay(rows[:place])) == whole
    with pytest.raises(ValueError, match="missing"):
        replay(rows[3:], replay(rows[:2]))
    assert replay(()) == RunState()


def test_a_body_that_is_no_bytes_is_found_and_no_crash() -> None:
    hand = Hand("invented")
    hand.runs_through()
    rows = list(hand.rows)
    rows[2] = replace(rows[2], body=rows[2].body.decode())  # type: ignore[arg-type]
    found = verify(rows)
    assert not found.ok
    assert found.seq == rows[2].seq
