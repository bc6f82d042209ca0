"""A process that appends is killed at any instant: all that it acknowledged is there, and the chain is whole.

This alone could not fail for want of syncs (the system keeps what was written): see test_durability for those.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from postgres_server import fresh_database, postgres_server
from vaporwright.acceptance.record.chain import verify
from vaporwright.store.sql_store import open_store

WRITER = Path(__file__).parents[2] / "store_writer.py"
pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="the writers are forked")


def _killed(where: str, times: int) -> tuple[dict[str, list[str]], int]:
    """Start a writer, kill it after some acknowledgements, again and again; the hashes acknowledged, by run."""
    chance = random.Random(20260304)
    acknowledged: dict[str, list[str]] = {}
    kills = 0
    called = [sys.executable, str(WRITER), "herd", where]
    with subprocess.Popen(called, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as herd:
        assert herd.stdin is not None
        assert herd.stdout is not None
        for _ in range(times):
            herd.stdin.write("go\n")
            herd.stdin.flush()
            child, before = 0, chance.randrange(0, 12)
            for line in herd.stdout:
                words = line.split()
                if words[0] == "dead":
                    break
                if words[0] == "started":
                    child = int(words[1])
                else:
                    acknowledged.setdefault(words[0], []).append(words[2])
                    before -= 1
                if before <= 0 and child:
                    _spin(chance.uniform(0.0, 0.004))
                    os.kill(child, signal.SIGKILL)
                    child, kills = 0, kills + 1
        herd.stdin.close()
        assert herd.wait(60) == 0
    return acknowledged, kills


def _spin(duration_s: float) -> None:
    end = time.perf_counter() + duration_s
    while time.perf_counter() < end:
        pass


def _check(where: str, acknowledged: dict[str, list[str]]) -> int:
    store = open_store(where)
    for run, hashes in acknowledged.items():
        rows = store.load(run)
        assert verify(rows).ok
        stored = iter(row.hash for row in rows)
        assert all(one in stored for one in hashes), f"{run}: acknowledged, and not there or not in order"
    store.close()
    return sum(map(len, acknowledged.values()))


def test_a_writer_killed_a_few_times_loses_nothing(where: str) -> None:
    acknowledged, kills = _killed(where, 6)
    assert kills == 6
    assert _check(where, acknowledged) > 6


@pytest.mark.slow
def test_a_writer_killed_hundreds_of_times_loses_nothing(where: str, capsys: pytest.CaptureFixture[str]) -> None:
    acknowledged, kills = _killed(where, 200)
    assert kills == 200
    count = _check(where, acknowledged)
    with capsys.disabled():
        print(
            f"\n{where.split(':')[0] if '://' in where else 'sqlite'}: {kills} kills, {count} acknowledged, none lost"
        )


@pytest.mark.slow
def test_a_server_that_crashes_loses_nothing() -> None:
    """PostgreSQL itself stopped as by a crash, while rows are appended, four times."""
    with postgres_server() as server:
        where = fresh_database(server.address)
        acknowledged: list[str] = []
        for crash in range(4):
            called = [sys.executable, str(WRITER), "more", where, "100000"]
            with subprocess.Popen(called, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as writer:
                assert writer.stdout is not None
                for number, line in enumerate(writer.stdout):
                    acknowledged.append(line.strip())
                    if number == 20 + 7 * crash:
                        server.stop()
                assert writer.wait(60) != 0
            server.start()
        assert _check(where, {"demo-1": acknowledged}) > 4 * 20
