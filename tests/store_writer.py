"""A process that appends to a store and says so, for tests that kill it, count its syncs or take its room.

    more STORE COUNT   append COUNT rows one by one to those that are there
    full STORE         append until there is no room, say what is told, make room, append once more
    herd STORE         for each line read, start a child that appends to three runs at once, until it is killed

Each acknowledged row is printed at once: of the herd `run seq hash`, else its hash.
"""

from __future__ import annotations

import os
import sys
import threading
import uuid
from dataclasses import replace

from vaporwright.acceptance.record.chain import ORIGIN, Row, event_of, seal
from vaporwright.store.record_store import RecordStore, StoreError
from vaporwright.store.sql_store import open_store

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))

from invented_record import Hand

ROOM_BYTES = 200_000


def says(text: str) -> None:
    os.write(1, f"{text}\n".encode())


def next_row(run: str, last: Row | None, padding: int = 0) -> Row:
    opener = Hand(run)
    event = event_of(opener.opens())
    fresh = replace(event, event_id=str(uuid.uuid4()), data={**event.data, "job": "x" * padding})
    head, seq = (last.hash, last.seq) if last else (ORIGIN, 0)
    return seal([fresh], run, head, seq + 1)[0]


def appends(store: RecordStore, run: str, last: Row | None, padding: int = 0) -> Row:
    row = next_row(run, last, padding)
    store.append(run, row.seq - 1, (row,))
    return row


def more(where: str, count: int) -> None:
    store = open_store(where)
    last = next(reversed(store.load("demo-1")), None)
    for _ in range(count):
        last = appends(store, "demo-1", last)
        says(last.hash)
    store.close()


def full(where: str) -> None:
    import resource

    store, last = open_store(where), None
    _, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (ROOM_BYTES, hard))
    while True:
        try:
            last = appends(store, "demo-1", last, padding=10_000)
        except StoreError as error:
            says(str(error))
            break
        says(last.hash)
    resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))
    says(appends(store, "demo-1", last).hash)
    store.close()


def herd(where: str) -> None:
    open_store(where).close()  # imports what a child then has
    for _line in sys.stdin:
        child = os.fork()
        if child == 0:
            _append_for_ever(where)
        says(f"started {child}")
        os.waitpid(child, 0)
        says("dead")


def _append_for_ever(where: str) -> None:
    store = open_store(where)

    def goes_on(run: str) -> None:
        rows = store.load(run)
        last = rows[-1] if rows else None
        while True:
            last = appends(store, run, last, padding=500)
            says(f"{run} {last.seq} {last.hash}")

    for number in range(3):
        threading.Thread(target=goes_on, args=(f"run-{number}",)).start()
    threading.Event().wait()


if __name__ == "__main__":
    if sys.argv[1] == "more":
        more(sys.argv[2], int(sys.argv[3]))
    else:
        {"full": full, "herd": herd}[sys.argv[1]](sys.argv[2])
