"""Speed of the record: durable appends against bare synced writes of the same bytes, in the same minute.

The reference opens a file on the same disk, and for each event writes its bytes and syncs. A store that keeps what it
acknowledges cannot be faster for one writer; with several in line a commit is shared. Syncs on a shared disk vary from
minute to minute: the ratio says more than the rate.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import statistics
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

from invented_record import Hand
from postgres_server import binaries, fresh_database, postgres_server
from vaporwright.acceptance.record.chain import ORIGIN, Row, event_of, seal, verify
from vaporwright.store.sql_store import open_store

ROUNDS, ROWS, HANDS, VERIFIED = 5, 40, 24, 10_000
REFERENCE = "reference: bare write and sync of the same bytes"


def sealed(run: str, count: int) -> tuple[Row, ...]:
    """Events such as a reading makes, chained."""
    hand = Hand(run)
    hand.runs_through()
    event = event_of(hand.rows[4])
    stamps = (hand.stamp("technician") for _ in range(count))
    events = [type(event)(one.event_id, event.kind, one.at, one.who, one.role, one.tool, event.data) for one in stamps]
    return seal(events, run, ORIGIN, 1)


def bare_s(path: str, rows: tuple[Row, ...]) -> float:
    handle = os.open(path, os.O_CREAT | os.O_WRONLY | os.O_APPEND, 0o600)
    start = time.perf_counter()
    for row in rows:
        os.write(handle, row.body)
        os.fsync(handle)
    took_s = time.perf_counter() - start
    os.close(handle)
    return took_s / len(rows)


def appended_s(where: str, runs: list[tuple[Row, ...]]) -> float:
    """A writer for each run, all at once through one store: those who wait are written with one commit."""
    store = open_store(where)

    def sends(rows: tuple[Row, ...]) -> None:
        for row in rows:
            store.append(row.run, row.seq - 1, (row,))

    with ThreadPoolExecutor(len(runs)) as pool:
        start = time.perf_counter()
        list(pool.map(sends, runs))
        took_s = time.perf_counter() - start
    store.close()
    return took_s / sum(map(len, runs))


def measure(folder: Path, postgres: str | None) -> dict[str, list[float]]:
    """Seconds per event, in rounds one after the other, so that a slow minute hits all of them."""
    places = {"SQLite": str(folder / "record.db")} | ({"PostgreSQL": postgres} if postgres else {})
    found: dict[str, list[float]] = {}
    for number in range(ROUNDS):
        one = sealed(f"one-{number}", ROWS)
        many = [sealed(f"run-{number}-{hand}", ROWS // 4) for hand in range(HANDS)]
        found.setdefault(REFERENCE, []).append(bare_s(str(folder / "bare"), one))
        for name, where in places.items():
            found.setdefault(f"{name}, one writer", []).append(appended_s(where, [one]))
            found.setdefault(f"{name}, {HANDS} in line", []).append(appended_s(where, many))
    return found


def shown(what: str, each_s: float, reference_s: float) -> None:
    rate = f"{1.0 / each_s:,.0f}/s"
    print(f"{what:<62}{rate:>16}{reference_s / each_s:>14.3f}")


def main() -> int:
    print(f"{'measured in this run':<62}{'events':>16}{'x reference':>14}")
    with tempfile.TemporaryDirectory() as name, contextlib.ExitStack() as stack:
        address = None
        if binaries() is None:
            print("PostgreSQL: none on this machine, left out")
        else:
            address = fresh_database(stack.enter_context(postgres_server()).address)
        found = measure(Path(name), address)
    reference_s = statistics.median(found[REFERENCE])
    for what, each_s in found.items():
        shown(what, statistics.median(each_s), reference_s)

    many = sealed("many", VERIFIED)
    start = time.perf_counter()
    assert verify(many, many[-1].hash).ok
    verified_s = (time.perf_counter() - start) / len(many)
    start = time.perf_counter()
    for row in many:
        hashlib.sha256(row.body).hexdigest()
    hashed_s = (time.perf_counter() - start) / len(many)
    shown("reference: hashing the same bytes", hashed_s, hashed_s)
    shown(f"{VERIFIED:,} events verified", verified_s, hashed_s)
    return 0


if __name__ == "__main__":
    sys.exit(main())
