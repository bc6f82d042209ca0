"""Entering a command into a stored record: load, decide, seal, append; and again where somebody was faster."""

from __future__ import annotations

from vaporwright.acceptance.record.chain import Broken, event_of, seal
from vaporwright.acceptance.record.deciding import decide
from vaporwright.acceptance.record.events import Command, Refused
from vaporwright.acceptance.record.state import RunState, replay
from vaporwright.store.record_store import Conflict, RecordStore, StoreError

TRIES = 50  # how often others may be faster before it is given up


def load_state(store: RecordStore, run: str, known: RunState | None = None) -> RunState:
    """The state of a run as stored; from a state known before, only what came since is read.

    Raises: StoreError where what is stored is no chain: nothing is entered into a record that was tampered with.
    """
    known = known or RunState(run)
    try:
        return replay(store.load(run, known.seq), known)
    except Broken as error:
        raise StoreError("record", run, f"does not verify: {error}", "an untouched copy, or the last export") from None


def commit(store: RecordStore, run: str, command: Command, known: RunState | None = None) -> RunState:
    """Enter a command; the state after it comes back, with whatever others have entered meanwhile.

    A command sent twice is entered once. When it returns, the entry is on the disk.

    Args: known: a state of this run that was loaded before, to read less.
    Raises: Refused or InputError from `decide`; StoreError; Conflict when others were faster every time.
    """
    state = known
    for _ in range(TRIES):
        state = load_state(store, run, state)
        if _entered_before(store, run, command):
            return state
        rows = seal(decide(state, command), run, state.head, state.seq + 1)
        try:
            stored = store.append(run, state.seq, rows)
        except Conflict:
            continue
        if stored == rows:
            return replay(rows, state)
        # the same entry, sent twice at once: the next turn finds it
    raise Conflict(f"run {run}: others were faster {TRIES} times; send it again")


def _entered_before(store: RecordStore, run: str, command: Command) -> bool:
    """Whether an event of the command's id is stored.

    Raises: Refused where it is another entry's id.
    """
    stored = store.find(run, command.stamp.event_id)
    if stored is None:
        return False
    if not command.asks_for(event_of(stored)):
        raise Refused(f"the id {command.stamp.event_id} belongs to another entry", "a fresh id for each entry")
    return True
