"""The server killed while people write: what it has acknowledged is there, once, and the records hold.

Two correct readings, one takes photographs, one takes in jobs, one signs and reopens a finished record; in either kind
of database. The kill comes at a moment drawn by chance, mostly between a request and its answer. A backup runs
meanwhile, and goes on.
"""

from __future__ import annotations

import random
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import httpx
import pytest

from finished_shop import FinishedShop
from killed_hands import Corrector, Hand, JobMaker, Photographer, Signer
from postgres_server import fresh_database, postgres_server
from vaporwright.acceptance.steps.procedure import TEXT
from vaporwright.store.backup import backup
from vaporwright.store.commit import load_state
from vaporwright.store.database import Database
from vaporwright.store.restore import restore
from vaporwright.store.sql_store import open_store
from web_server import STORE, WebServer

pytestmark = pytest.mark.slow
KILLS = 4


@pytest.fixture(params=["sqlite", "postgresql"])
def where(request: pytest.FixtureRequest, finished: FinishedShop, tmp_path: Path) -> Iterator[str]:
    """The filled shop, in each kind of database."""
    if request.param == "sqlite":
        shutil.copy(finished.store, tmp_path / STORE)
        yield str(tmp_path / STORE)
        return
    backup(finished.store, tmp_path / "moving")
    with postgres_server() as server:
        place = fresh_database(server.address)
        assert restore(tmp_path / "moving", place).unsound == ()
        yield place


def test_killed_during_writes_nothing_acknowledged_is_lost(where: str, finished: FinishedShop, tmp_path: Path) -> None:
    server, chance = WebServer(tmp_path), random.Random(4)
    server.store = where
    server.start()
    before = httpx.get(f"{server.address}/api/v1/runs/{finished.half}", timeout=60.0).json()["seq"]
    hands = _hands(server.address, finished)
    try:
        for turn in range(KILLS):
            noted = {hand.name: set(hand.acknowledged) for hand in hands}
            with _backing_up(where, tmp_path / f"backup {turn}"):
                _work_until_killed(server, hands, chance.uniform(0.0, 0.25))
                _all_there(where, hands, {}, turn)
                server.start()
        answer = httpx.get(f"{server.address}/api/v1/runs/{finished.half}", timeout=60.0)
        in_half = [hand for hand in hands if hand.run == finished.half and not isinstance(hand, JobMaker)]
        acknowledged = sum(len(hand.acknowledged) for hand in in_half)
        assert before + acknowledged <= answer.json()["seq"] <= before + acknowledged + len(in_half)
        assert all(len(hand.acknowledged) >= KILLS for hand in hands)
    finally:
        server.stop()
    assert "Traceback" not in server.said
    for number, kept in ((KILLS - 1, noted), (0, {})):
        place = str(tmp_path / f"restored {number}.db")
        assert restore(tmp_path / f"backup {number}", place).unsound == ()
        _all_there(place, hands, {hand.name: kept.get(hand.name, set()) for hand in hands}, number)


class _backing_up:  # noqa: N801
    """A backup by its command, of a process of its own; it is whole at the end, whatever became of the server."""

    def __init__(self, where: str, target: Path) -> None:
        called = [sys.executable, "-m", "vaporwright", "backup", str(target), "--store", where]
        self._process = subprocess.Popen(called, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)

    def __enter__(self) -> None: ...

    def __exit__(self, *_: object) -> None:
        said, _none = self._process.communicate(timeout=120.0)
        assert self._process.returncode == 0, said


def _hands(address: str, finished: FinishedShop) -> list[Hand]:
    """Everybody who writes."""
    with closing(open_store(finished.store)) as store:
        state = load_state(store, finished.half)
    read = [
        (step.key, one.key, taken.mark.event_id)
        for step in state.steps
        for one in step.fields
        if one.quantity == TEXT and step.by == "technician" and (taken := state.current(step.key, one.key)) is not None
    ]
    assert len(read) >= 2
    half = (address, finished.half)
    return [
        Corrector(*half, "Hand 1", 1, step=read[0][0], field=read[0][1], first_id=read[0][2]),
        Corrector(*half, "Hand 2", 2, step=read[1][0], field=read[1][1], first_id=read[1][2]),
        Photographer(*half, "Hand 3", 3, step=finished.step),
        JobMaker(*half, "Hand 4", 4),
        Signer(address, finished.run, "Hand 5", 5, job=finished.job),
    ]


def _work_until_killed(server: WebServer, hands: list[Hand], later_s: float) -> None:
    ended = threading.Event()
    threads = [threading.Thread(target=hand.works, args=(ended,)) for hand in hands]
    known = [len(hand.acknowledged) for hand in hands]
    for thread in threads:
        thread.start()
    end = time.monotonic() + 90.0
    while any(len(hand.acknowledged) <= had for hand, had in zip(hands, known, strict=True)):
        assert not [hand.failed for hand in hands if hand.failed]
        assert not [hand.refused for hand in hands if hand.refused]
        assert time.monotonic() < end, f"not everybody is answered: {[len(hand.acknowledged) for hand in hands]}"
        time.sleep(0.005)
    time.sleep(later_s)
    server.kill()
    ended.set()
    for thread in threads:
        thread.join()


def _all_there(where: str, hands: list[Hand], of: dict[str, set[str]], turn: int) -> None:
    """Nothing acknowledged is missing; with `of`: of these things."""
    with closing(Database(where)) as database:
        for hand in hands:
            missing = set(hand.missing(database))
            assert not missing & of.get(hand.name, missing), (turn, hand.name, "acknowledged and lost")
