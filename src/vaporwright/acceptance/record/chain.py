"""Sealing events to one another, and finding out whether a chain is whole.

Each row keeps the bytes of its event, the hash before it and its own:

    hash = SHA-256("vaporwright record 1" LF before LF body), in hexadecimal; the first `before` is 64 zeros

A chain by itself can be made anew from any point, or lose its tail, and still be whole. What stands against that is a
head on paper or under a signature: `verify(rows, head)` fails unless the chain passes through that head.
"""

from __future__ import annotations

import hashlib
import re
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from vaporwright.acceptance.record.canonical_json import as_json, canonical, parsed
from vaporwright.acceptance.record.events import Event, Kind, Refused

PREFIX: Final = b"vaporwright record 1\n"
ORIGIN: Final = "0" * 64  # the head of a run that has no events
RUN_NAME: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._-]{0,79}")
_EVENT_KEYS: Final = ("event_id", "kind", "at", "who", "role", "tool", "data")
_SIGNATURE_KEYS: Final = ("statement", "public_key", "signature")
SIGNING: Final = frozenset({"signed", "ship released"})


@dataclass(frozen=True)
class Row:
    """One event as it is stored."""

    run: str
    seq: int
    event_id: str
    body: bytes
    before: str
    hash: str


@dataclass(frozen=True)
class SignedHead:
    """A signature in the record, as it stands there, over the head before it."""

    seq: int  # of the event that carries it; what it signs is one less
    head: str
    role: str
    name: str
    statement: str
    public_key: str  # hexadecimal
    signature: str
    kind: Kind
    at: str


@dataclass(frozen=True)
class Verification:
    """Whether a record is whole; if not, the first problem and the event where it shows (0: not at one event)."""

    ok: bool
    problem: str = ""
    seq: int = 0
    head: str = ORIGIN
    events: int = 0
    run: str = ""
    signatures: tuple[SignedHead, ...] = ()


def hash_of(before: str, body: bytes) -> str:
    """The hash of an event whose predecessor's is known."""
    return hashlib.sha256(PREFIX + before.encode("ascii") + b"\n" + body).hexdigest()


def is_event_id(text: object) -> bool:
    """A UUID in its usual form."""
    try:
        return isinstance(text, str) and str(uuid.UUID(text)) == text
    except ValueError:
        return False


def seal(events: Iterable[Event], run: str, head: str, next_seq: int) -> tuple[Row, ...]:
    """Events as rows that follow the head of a run.

    Raises: Refused for a run's name or an event's id that cannot be kept.
    """
    if not RUN_NAME.fullmatch(run):
        raise Refused(f"{run!r} cannot name a run", "letters, digits, blank, dot, dash and underscore; 80 at most")
    rows = []
    for seq, event in enumerate(events, next_seq):
        if not is_event_id(event.event_id):
            raise Refused(f"{event.event_id!r} is no id of an event", "a UUID, small letters with dashes")
        values = {name: as_json(getattr(event, name)) for name in _EVENT_KEYS}
        body = canonical({"run": run, "seq": seq, **values})
        rows.append(Row(run, seq, event.event_id, body, head, hash_of(head, body)))
        head = rows[-1].hash
    return tuple(rows)


def event_of(row: Row) -> Event:
    """The event in a row.

    Raises: ValueError where the body is not what `seal` writes, or not of this row.
    """
    value = parsed(row.body)
    if value.keys() != {"run", "seq", *_EVENT_KEYS} or not isinstance(value["data"], dict):
        raise ValueError("its body lacks what an event has, or has more")
    event = Event(**{name: value[name] for name in _EVENT_KEYS})
    if (value["run"], value["seq"], event.event_id) != (row.run, row.seq, row.event_id):
        raise ValueError("its body names another run, place or id than its row")
    return event


class Broken(ValueError):
    """A row does not follow, or is not what `seal` writes."""


class Chain:
    """Reads the rows of one run as they come, from the first or from a known head, and keeps none of them."""

    def __init__(self, run: str = "", seq: int = 0, head: str = ORIGIN) -> None:
        self.run, self.seq, self.head = run, seq, head
        self._seen: set[str] = set()

    def take(self, row: Row) -> Event:
        """The event of the next row.

        Raises: Broken, saying what is wrong with the row.
        """
        if row.seq != self.seq + 1:
            raise Broken(f"event {self.seq + 1} is missing: the next one stored is {row.seq}")
        if row.before != self.head:
            raise Broken("it does not follow the event before it")
        if not isinstance(row.body, bytes) or row.hash != hash_of(row.before, row.body):  # a file can hold anything
            raise Broken("its hash is not that of its body")
        if self.run and row.run != self.run:
            raise Broken(f"it belongs to run {row.run}, not {self.run}")
        event = self._event(row)
        self.run, self.seq, self.head = row.run, row.seq, row.hash
        return event

    def _event(self, row: Row) -> Event:
        try:
            event = event_of(row)
        except ValueError as error:
            raise Broken(str(error)) from None
        if event.event_id in self._seen:
            raise Broken(f"its id {event.event_id} stands in the record before")
        self._seen.add(event.event_id)
        if event.kind in SIGNING and (event.data.get("seq"), event.data.get("head")) != (row.seq - 1, row.before):
            raise Broken("what it signs is not the head before it")
        return event


def verify(rows: Iterable[Row], head: str | None = None) -> Verification:
    """Whether the rows of one run, in order, are a whole chain; with a head: one that passes through it.

    Signatures must name the head that they stand on; whether they are genuine is for `store.signing` to say.
    """
    chain = Chain()
    signatures: list[SignedHead] = []
    passed = head is None

    def found(problem: str = "", seq: int = 0) -> Verification:
        return Verification(not problem, problem, seq, chain.head, chain.seq, chain.run, tuple(signatures))

    for row in rows:
        try:
            event = chain.take(row)
        except Broken as error:
            return found(str(error), row.seq)
        passed = passed or row.hash == head
        if event.kind in SIGNING:
            signatures.append(signed_head(row.seq, event))
    if not chain.seq:
        return found("there are no events")
    return found("" if passed else f"no event has the head {head}: the record was cut or made anew")


def signed_head(seq: int, event: Event) -> SignedHead:
    """The signature that an event of this kind carries."""
    statement, public_key, signature = (str(event.data.get(name, "")) for name in _SIGNATURE_KEYS)
    head = str(event.data.get("head", ""))
    return SignedHead(seq, head, event.role, event.who, statement, public_key, signature, event.kind, event.at)


def signing_text(run: str, seq: int, head: str, role: str, name: str, statement: str) -> bytes:
    """What a signature stands over: the head, and who says what about it."""
    words = {"run": run, "seq": seq, "head": head, "role": role, "name": name, "statement": statement}
    return b"vaporwright signature 1\n" + canonical(as_json(words))
