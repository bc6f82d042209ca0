"""What is acknowledged is on the disk: settings on every connection, syncs counted, the power cut, the disk full."""

from __future__ import annotations

import os
import random
import shutil
import sqlite3
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import psycopg
import pytest
from sqlalchemy import event

from invented_record import Hand
from postgres_server import fresh_database, postgres_server
from vaporwright.acceptance.record.chain import Row, verify
from vaporwright.acceptance.record.events import OpenPunchItem
from vaporwright.store import engines
from vaporwright.store.durability import BUSY_ms, sqlite_settings, wal_is_safe
from vaporwright.store.record_store import StoreError
from vaporwright.store.sql_store import SqlStore, open_store
from watched_disk import Notes, left_after_cut, watch

WAL = sqlite_settings((3, 51, 3))
JOURNAL = sqlite_settings((3, 40, 1))
MODES = {"write-ahead log": WAL, "rollback journal": JOURNAL}


@pytest.mark.parametrize(
    ("version", "safe"),
    [
        ((3, 40, 1), False), ((3, 44, 5), False), ((3, 44, 6), True), ((3, 44, 9), True), ((3, 45, 0), False),
        ((3, 50, 6), False), ((3, 50, 7), True), ((3, 51, 0), False), ((3, 51, 2), False), ((3, 51, 3), True),
        ((3, 52, 0), True), ((3, 60, 0), True),
    ],
)  # fmt: skip
def test_the_log_is_used_only_where_its_bug_is_fixed(version: tuple[int, int, int], safe: bool) -> None:
    assert wal_is_safe(version) is safe
    settings = sqlite_settings(version)
    assert (settings["journal_mode"], settings["synchronous"]) == (("wal", 2) if safe else ("delete", 3))


def test_every_connection_of_sqlite_has_them(tmp_path: Path) -> None:
    """Asked of the connections themselves, many at once; EXTRA is 3, FULL is 2."""
    store = SqlStore(str(tmp_path / "record.db"))
    seen: dict[int, tuple[object, ...]] = {}

    def asks(connection: sqlite3.Connection, *_rest: object) -> None:
        names = ("journal_mode", "synchronous", "busy_timeout", "fullfsync", "checkpoint_fullfsync")
        seen[id(connection)] = tuple(connection.execute(f"PRAGMA {name}").fetchone()[0] for name in names)

    event.listen(store._engine, "checkout", asks)
    hands = [Hand(f"run-{number}") for number in range(6)]
    for hand in hands:
        hand.runs_through()
    with ThreadPoolExecutor(6) as pool:
        list(pool.map(lambda hand: [store.append(hand.run, seq, (row,)) for seq, row in enumerate(hand.rows)], hands))
        list(pool.map(lambda hand: store.load(hand.run), hands * 20))
    wanted = ("wal", 2) if wal_is_safe(sqlite3.sqlite_version_info) else ("delete", 3)
    assert seen
    assert set(seen.values()) == {(*wanted, BUSY_ms, 1, 1)}
    store.close()


def test_a_connection_that_does_not_hold_is_refused(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="journal_mode is memory"):
        open_store("sqlite://")
    store = SqlStore(str(tmp_path / "record.db"))
    assert store.runs() == ()
    with store._engine.connect() as connection:
        connection.exec_driver_sql("COMMIT")
        connection.exec_driver_sql("PRAGMA synchronous = OFF")
    with pytest.raises(StoreError, match="synchronous is 0"):
        store.runs()
    store.close()


def test_every_connection_of_postgres_has_them(postgres_address: str) -> None:
    """Also where the database says otherwise for its sessions."""
    where = fresh_database(postgres_address)
    with psycopg.connect(where, autocommit=True) as connection:
        name = where.rsplit("/", 1)[1]
        connection.execute(f"ALTER DATABASE {name} SET synchronous_commit = off")  # type: ignore[arg-type]
    with psycopg.connect(where) as connection:
        assert connection.execute("SHOW synchronous_commit").fetchone() == ("off",)
    store = SqlStore(where)
    with store._engine.connect() as connection:
        for name in ("synchronous_commit", "fsync", "full_page_writes"):
            assert connection.exec_driver_sql(f"SHOW {name}").scalar_one() == "on"
    store.close()


@pytest.mark.slow
@pytest.mark.parametrize("option", ["fsync", "full_page_writes"])
def test_a_server_that_does_not_hold_is_refused(option: str) -> None:
    with postgres_server(f"{option}=off") as server, pytest.raises(StoreError, match=f"{option} is off"):
        open_store(fresh_database(server.address))


def _some_rows(count: int) -> Hand:
    hand = Hand()
    hand.begins()
    for number in range(count):
        hand.does(OpenPunchItem, "C", f"item {number}", "the shop", role="witness")
    return hand


def _appended(where: str, hand: Hand, notes: Notes) -> None:
    store = open_store(where)
    for seq, row in enumerate(hand.rows):
        store.append(hand.run, seq, (row,))
        notes.acknowledge(str(row.seq))
    store.close()


def _watched(tmp_path: Path, settings: dict[str, str | int], patch: pytest.MonkeyPatch, hand: Hand) -> Notes:
    (tmp_path / "disk").mkdir()
    patch.setattr(engines, "sqlite_settings", lambda _version: settings)
    notes = watch()
    _appended(f"sqlite:///file:{tmp_path / 'disk' / 'record.db'}?vfs=watched&uri=true", hand, notes)
    return notes


def _lost(notes: Notes, tmp_path: Path, rows: tuple[Row, ...], shares: tuple[float, ...], every: int) -> list[str]:
    """What is wrong after cuts of the power: acknowledged rows missing, a broken chain, a broken database."""
    wrong = []
    chance = random.Random(20260304)
    begun = next(place for place, deed in enumerate(notes.deeds) if deed.kind == "acknowledged")
    for cut in range(begun + 1, len(notes.deeds) + 1, every):
        deeds = notes.deeds[:cut]
        acknowledged = max(int(deed.name) for deed in deeds if deed.kind == "acknowledged")
        for share in shares:
            folder = tmp_path / "after"
            folder.mkdir()
            left_after_cut(deeds, folder, share, chance)
            try:
                store = open_store(str(folder / "record.db"))
                kept = store.load("demo-1")
                store.close()
                whole = sqlite3.connect(folder / "record.db")
                sound = whole.execute("PRAGMA integrity_check").fetchone()[0]
                whole.close()
                if kept != rows[: len(kept)] or not verify(kept).ok or sound != "ok":
                    wrong.append(f"deed {cut}, share {share}: broken")
                elif len(kept) < acknowledged:
                    wrong.append(f"deed {cut}, share {share}: {acknowledged} acknowledged, {len(kept)} there")
            except (StoreError, sqlite3.DatabaseError) as error:
                wrong.append(f"deed {cut}, share {share}: {error}")
            shutil.rmtree(folder)
    return wrong


@pytest.mark.parametrize("mode", MODES)
def test_each_acknowledgement_comes_after_its_syncs(mode: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Counted by SQLite's own calls: between two acknowledgements the journal is synced, and database or log."""
    hand = _some_rows(6)
    notes = _watched(tmp_path, MODES[mode], monkeypatch, hand)
    kinds = {deed.kind for deed in notes.deeds}
    assert {"write", "sync", "acknowledged"} <= kinds
    between: list[list[str]] = [[]]
    for deed in notes.deeds:
        if deed.kind == "acknowledged":
            between.append([])
        elif deed.kind in ("sync", "delete"):
            between[-1].append(f"{deed.kind} {deed.name}{' with folder' if deed.synced else ''}")
    for found in between[1:-1]:
        if mode == "write-ahead log":
            assert "sync record.db-wal" in found
        else:
            assert found[-2:] == ["sync record.db", "delete record.db-journal with folder"]
            assert "sync record.db-journal" in found


@pytest.mark.parametrize("mode", MODES)
def test_a_power_cut_anywhere_loses_nothing_acknowledged(
    mode: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hand = _some_rows(3)
    notes = _watched(tmp_path, MODES[mode], monkeypatch, hand)
    assert _lost(notes, tmp_path, hand.rows, (0.0, 0.5, 1.0), every=2) == []


@pytest.mark.slow
@pytest.mark.parametrize("mode", MODES)
def test_a_power_cut_after_every_deed_loses_nothing(mode: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    hand = _some_rows(8)
    notes = _watched(tmp_path, MODES[mode], monkeypatch, hand)
    assert _lost(notes, tmp_path, hand.rows, (0.0, 0.2, 0.5, 0.8, 1.0), every=1) == []


@pytest.mark.parametrize(
    "weaker",
    [
        {**WAL, "synchronous": 1},
        {**WAL, "synchronous": 0},
        {**JOURNAL, "synchronous": 2},
        {**JOURNAL, "synchronous": 0},
    ],
    ids=["log NORMAL", "log OFF", "journal FULL", "journal OFF"],
)
def test_weaker_settings_do_lose_in_a_power_cut(
    weaker: dict[str, str | int], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The cut can tell: weaker settings lose what was acknowledged, where killing the process would show nothing."""
    hand = _some_rows(3)
    notes = _watched(tmp_path, weaker, monkeypatch, hand)
    assert _lost(notes, tmp_path, hand.rows, (0.0, 0.5), every=5)


@pytest.mark.skipif(
    shutil.which("strace") is None and os.environ.get("VAPORWRIGHT_CI") != "1",  # CI installs it, and fails without
    reason="no strace here: syncs are counted by watched_disk alone",
)
def test_the_system_sees_the_syncs_too(tmp_path: Path) -> None:
    """fsync and fdatasync as the kernel gets them, of a process that appends 20 rows one by one."""
    called = ["strace", "-f", "-c", "-e", "trace=fsync,fdatasync", "-o", str(tmp_path / "calls")]
    writer = [sys.executable, str(Path(__file__).parents[2] / "store_writer.py"), "more", str(tmp_path / "a.db"), "20"]
    ran = subprocess.run([*called, *writer], capture_output=True, text=True, check=False, timeout=120)
    if ran.returncode != 0 and "ptrace" in ran.stderr.lower():
        pytest.skip("strace may not trace here: syncs are counted by watched_disk alone")
    assert ran.returncode == 0, ran.stderr
    lines = [line.split() for line in (tmp_path / "calls").read_text().splitlines()]
    syncs = sum(int(words[3]) for words in lines if words and words[-1] in ("fsync", "fdatasync"))
    each = 1 if wal_is_safe(sqlite3.sqlite_version_info) else 3
    assert syncs >= 20 * each


def test_postgres_syncs_its_log_for_every_acknowledgement(postgres_address: str) -> None:
    where = fresh_database(postgres_address)
    hand = _some_rows(20)
    store = open_store(where)
    with psycopg.connect(where, autocommit=True) as watcher:
        before = _log_syncs(watcher)
        for seq, row in enumerate(hand.rows):
            store.append(hand.run, seq, (row,))
        store.close()  # its session reports what it did when it ends
        end = time.monotonic() + 20.0
        while _log_syncs(watcher) - before < len(hand.rows) and time.monotonic() < end:
            time.sleep(0.05)
        assert _log_syncs(watcher) - before >= len(hand.rows)


def _log_syncs(connection: psycopg.Connection[tuple[object, ...]]) -> int:
    newer = connection.info.server_version >= 180_000
    asked = "SELECT sum(fsyncs) FROM pg_stat_io WHERE object = 'wal'" if newer else "SELECT wal_sync FROM pg_stat_wal"
    found = connection.execute(asked).fetchone()  # type: ignore[arg-type]
    assert found is not None
    return int(str(found[0]))


@pytest.mark.skipif(os.name != "posix", reason="a limit on file sizes is POSIX")
def test_a_full_disk_is_told_and_loses_nothing(tmp_path: Path) -> None:
    """A limit on file sizes stands for the full disk; the same store goes on once there is room."""
    writer = [sys.executable, str(Path(__file__).parents[2] / "store_writer.py"), "full", str(tmp_path / "a.db")]
    ran = subprocess.run(writer, capture_output=True, text=True, check=True, timeout=120)
    *acknowledged, told, after = ran.stdout.splitlines()
    assert "disk is full or failing" in told
    assert "this entry is not kept, all that was acknowledged is" in told
    assert len(acknowledged) >= 3
    store = open_store(str(tmp_path / "a.db"))
    rows = store.load("demo-1")
    store.close()
    assert [row.hash for row in rows] == [*acknowledged, after]
    assert verify(rows).ok
