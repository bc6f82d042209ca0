"""A backup while ten people write is of one moment, whole, and restores into either database.

Each writer goes round four deeds, one after the other: a job, an attachment, an event that names it in one run, an
event in another run. A copy of one moment can be one deed behind itself, never more, and never ahead.
"""

from __future__ import annotations

import hashlib
import os
import random
import signal
import subprocess
import sys
import threading
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest

from invented_record import Hand
from vaporwright.acceptance.record.chain import ORIGIN, Row, event_of, seal, verify
from vaporwright.store import backup as backup_module
from vaporwright.store.backup import backup
from vaporwright.store.database import Database
from vaporwright.store.job_store import JobStore, Texts
from vaporwright.store.record_store import StoreError
from vaporwright.store.restore import restore

WRITERS = 10


@dataclass
class Writer:
    """Somebody who writes, with what was acknowledged: jobs, and hashes of the rows of two runs."""

    number: int
    jobs: int = 0
    first: list[Row] = field(default_factory=list)
    second: list[Row] = field(default_factory=list)
    fault: Exception | None = None

    def works(self, database: Database, stop: threading.Event) -> None:
        jobs, chance = JobStore(database), random.Random(self.number)
        try:
            while not stop.is_set():
                jobs.add(f"{self.number} {self.jobs}", "", Texts("a = 1\n" * 50), at=1.0, by="Pat", note="")
                self.jobs += 1
                photo = database.records.put(chance.randbytes(20_000))
                self._appends(database, self.first, "first", photo)
                self._appends(database, self.second, "second", photo)
        except Exception as error:
            self.fault = error

    def _appends(self, database: Database, rows: list[Row], name: str, photo: str) -> None:
        run, last = f"{name} {self.number}", rows[-1] if rows else None
        opened = event_of(Hand(run).opens())
        made = hashlib.sha256(f"{run} {len(rows)}".encode()).hexdigest()
        event_id = f"{made[:8]}-{made[8:12]}-4{made[13:16]}-8{made[17:20]}-{made[20:32]}"
        event = replace(opened, event_id=event_id, data={**opened.data, "job": photo})
        head, seq = (last.hash, last.seq) if last else (ORIGIN, 0)
        rows.extend(database.records.append(run, seq, seal([event], run, head, seq + 1)))


def _state(writers: list[Writer]) -> list[tuple[int, int, int]]:
    return [(one.jobs, len(one.first), len(one.second)) for one in writers]


@pytest.mark.slow
def test_a_backup_while_ten_write_is_a_consistent_cut(where: str, place: str, tmp_path: Path) -> None:
    database, stop = Database(where), threading.Event()
    writers = [Writer(number) for number in range(WRITERS)]
    threads = [threading.Thread(target=one.works, args=(database, stop)) for one in writers]
    for thread in threads:
        thread.start()
    try:
        moments = []
        for number in range(2):
            target = [count + 5 for _, _, count in _state(writers)]
            while any(len(one.second) < goal and one.fault is None for one, goal in zip(writers, target, strict=True)):
                threads[0].join(0.01)
            before = _state(writers)
            kept = backup(where, tmp_path / f"backup {number}")
            moments.append((before, kept, _state(writers)))
    finally:
        stop.set()
        for thread in threads:
            thread.join()
        database.close()
    assert [one.fault for one in writers if one.fault] == []
    before, kept, after = moments[-1]
    assert kept.unsound == ()
    restore(tmp_path / "backup 1", place)
    _is_a_cut(place, writers, before, after)
    for number, (_, earlier, _) in enumerate(moments[:-1]):
        assert earlier.rows["record_events"] < moments[number + 1][1].rows["record_events"]


def _is_a_cut(place: str, writers: list[Writer], before: list[tuple[int, ...]], after: list[tuple[int, ...]]) -> None:
    restored = Database(place)
    try:
        names = [job.name for job in JobStore(restored).jobs()]
        for one, had, has in zip(writers, before, after, strict=True):
            jobs = sorted(int(name.split()[1]) for name in names if name.split()[0] == str(one.number))
            first, second = (restored.records.load(f"{name} {one.number}") for name in ("first", "second"))
            counts = (len(jobs), len(first), len(second))
            assert jobs == list(range(len(jobs)))
            assert verify(first).ok
            assert verify(second).ok
            assert list(first) == one.first[: len(first)]  # what was acknowledged, in its order
            assert list(second) == one.second[: len(second)]
            for low, count, high in zip(had, counts, has, strict=True):
                assert low <= count <= high + 1  # one may have been written and not yet counted
            assert 0 <= counts[0] - counts[1] <= 1, "jobs and first run are of two moments"
            assert 0 <= counts[1] - counts[2] <= 1, "the two runs are of two moments"
            for row in first:
                assert len(restored.records.get(str(event_of(row).data["job"]))) == 20_000
    finally:
        restored.close()


def test_what_is_written_during_the_snapshot_is_not_in_it(
    where: str, place: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once the first table is read, somebody adds a job; in PostgreSQL at once, in SQLite when the snapshot is done."""
    database = Database(where)
    jobs = JobStore(database)
    jobs.add("before", "", Texts("a = 1"), at=1.0, by="Pat", note="")
    adds = threading.Thread(target=lambda: jobs.add("late", "", Texts("a = 1"), at=2.0, by="Pat", note=""))
    read = backup_module._add_rows

    def and_meanwhile(*given: Any) -> int:
        count = read(*given)
        if not adds.ident:
            adds.start()
            adds.join(30.0 if "://" in where else 0.5)
            assert "sqlite" in str(given[0].engine.url) or not adds.is_alive()
        return count

    monkeypatch.setattr(backup_module, "_add_rows", and_meanwhile)
    assert backup(where, tmp_path / "backup").rows["web_revisions"] == 1
    adds.join(30.0)
    assert {job.name for job in jobs.jobs()} == {"before", "late"}
    database.close()
    assert restore(tmp_path / "backup", place).jobs == 1


KILLED = """
import sys
from pathlib import Path
from vaporwright.store import backup
late = backup._add_late

def halted(*args):
    late(*args)
    print("snapshot", flush=True)
    sys.stdin.read()

backup._add_late = halted
backup.backup(sys.argv[1], Path(sys.argv[2]))
"""


def test_a_backup_that_is_killed_leaves_no_backup_and_hinders_nobody(where: str, place: str, tmp_path: Path) -> None:
    """Killed within its snapshot, when the file is nearly written."""
    database = Database(where)
    JobStore(database).add("one", "", Texts("a = 1"), at=1.0, by="Pat", note="")
    target = tmp_path / "backup"
    called = [sys.executable, "-c", KILLED, where, str(target)]
    with subprocess.Popen(called, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as backing:
        assert backing.stdout is not None
        assert backing.stdout.readline() == "snapshot\n"
        os.kill(backing.pid, signal.SIGKILL)
        assert backing.wait(30) == -signal.SIGKILL
    assert not target.exists()
    with pytest.raises(StoreError, match=r"is no backup|was cut"):
        restore(tmp_path / "backup.part", place)
    JobStore(database).add("two", "", Texts("a = 1"), at=1.0, by="Pat", note="")
    database.close()
    assert backup(where, target).jobs == 2
    assert restore(target, place).jobs == 2


HALF_RESTORED = """
import sys
from pathlib import Path
from vaporwright.store import restore
insert = restore._insert

def halted(connection, table, columns, rows):
    insert(connection, table, columns, rows)
    if table.name == "web_jobs":
        print("half way", flush=True)
        sys.stdin.read()

restore._insert = halted
restore.restore(Path(sys.argv[1]), sys.argv[2])
"""


def test_a_restore_that_is_killed_leaves_the_place_empty(place: str, tmp_path: Path) -> None:
    where = str(tmp_path / "shop.db")
    database = Database(where)
    JobStore(database).add("one", "", Texts("a = 1"), at=1.0, by="Pat", note="")
    database.close()
    backup(where, tmp_path / "backup")
    called = [sys.executable, "-c", HALF_RESTORED, str(tmp_path / "backup"), place]
    with subprocess.Popen(called, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as restoring:
        assert restoring.stdout is not None
        assert restoring.stdout.readline() == "half way\n"
        os.kill(restoring.pid, signal.SIGKILL)
        assert restoring.wait(30) == -signal.SIGKILL
    assert restore(tmp_path / "backup", place).jobs == 1  # which refuses a place that is not empty
