"""The server killed while readings come in: what it has acknowledged is there, once, and the record holds.

A tablet sends a reading under an event id until it is acknowledged; each is noted down as acknowledged with the place
and the head that came back. The kill comes at a moment drawn by chance, mostly between a request and its answer.
"""

from __future__ import annotations

import random
import shutil
import threading
import time
import uuid
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx
import pytest

from finished_shop import FinishedShop
from page_forms import form_in
from vaporwright.acceptance.record.chain import event_of, verify
from vaporwright.acceptance.steps.procedure import TEXT
from vaporwright.store.commit import load_state
from vaporwright.store.sql_store import open_store
from web_server import STORE, WebServer

pytestmark = pytest.mark.slow
KILLS, HANDS = 10, 2


@dataclass(frozen=True)
class Read:
    """A reading that is there already, of a text: it can be corrected as often as one likes."""

    step: str
    field: str
    event_id: str


@dataclass
class Tablet:
    """Somebody beside the unit, with what was acknowledged and what waits."""

    address: str
    run: str
    name: str
    seed: int
    reading: Read
    acknowledged: dict[str, tuple[int, str]] = field(default_factory=dict)  # event id: place and head
    waiting: dict[str, Any] | None = None
    sent: int = 0
    refused: list[str] = field(default_factory=list)

    def works(self, ended: threading.Event) -> None:
        """Send one entry after another until the server is gone."""
        try:
            with httpx.Client(base_url=self.address, timeout=20.0) as client:
                self._come_in(client)
                while not ended.is_set():
                    self._send(client)
        except httpx.HTTPError:  # that it was killed; what waits is sent again when it is back
            pass

    def _come_in(self, client: httpx.Client) -> None:
        form = form_in(client.get("/who").text, action="/who") | {"name": self.name}
        assert client.post("/who", data=form, follow_redirects=True).status_code == 200

    def _send(self, client: httpx.Client) -> None:
        if self.waiting is None:
            self.waiting = self._entry()
        answer = client.post(f"/api/v1/runs/{self.run}/entries", json=self.waiting, headers={"X-Vaporwright": "1"})
        self.sent += 1
        if answer.status_code == 200:
            told = answer.json()
            self.acknowledged[self.waiting["event_id"]] = (told["seq"], told["head"])
            self.waiting = None
        elif answer.status_code != 409:  # another was faster: sent again
            self.refused.append(answer.text)
            self.waiting = None

    def _entry(self) -> dict[str, Any]:
        number = len(self.acknowledged)
        made = str(uuid.UUID(int=random.Random(f"{self.seed} {number}").getrandbits(128), version=4))
        entry = {"event_id": made, "typed_by": self.name, "step": self.reading.step, "field": self.reading.field}
        latest = next(reversed(self.acknowledged), self.reading.event_id)
        return entry | {"kind": "correction", "corrects": latest, "text": f"{self.name}, {number}", "reason": "again"}


def test_killed_during_writes_nothing_acknowledged_is_lost(finished: FinishedShop, tmp_path: Path) -> None:
    shutil.copy(finished.store, tmp_path / STORE)
    readings = _texts_read(finished)
    server, chance = WebServer(tmp_path), random.Random(4)
    server.start()
    before = httpx.get(f"{server.address}/api/v1/runs/{finished.half}", timeout=60.0).json()["seq"]
    tablets = [
        Tablet(server.address, finished.half, f"Hand {number}", number, reading)
        for number, reading in enumerate(readings)
    ]
    try:
        for turn in range(KILLS):
            ended = threading.Event()
            hands = [threading.Thread(target=tablet.works, args=(ended,)) for tablet in tablets]
            known = sum(len(tablet.acknowledged) for tablet in tablets)
            for hand in hands:
                hand.start()
            _wait_for_more(tablets, known)
            time.sleep(chance.uniform(0.0, 0.25))
            server.kill()
            ended.set()
            for hand in hands:
                hand.join()
            _all_there(tmp_path, finished.half, tablets, turn)
            server.start()
        answer = httpx.get(f"{server.address}/api/v1/runs/{finished.half}", timeout=60.0)
        acknowledged = sum(len(tablet.acknowledged) for tablet in tablets)
        assert before + acknowledged <= answer.json()["seq"] <= before + acknowledged + HANDS
        assert acknowledged >= 3 * KILLS
        assert all(not tablet.refused for tablet in tablets), [tablet.refused for tablet in tablets]
    finally:
        server.stop()
    assert "Traceback" not in server.said


def _texts_read(finished: FinishedShop) -> list[Read]:
    """A reading for each hand."""
    with closing(open_store(finished.store)) as store:
        state = load_state(store, finished.half)
    found = []
    for step in state.steps:
        for one in step.fields:
            taken = state.current(step.key, one.key)
            if one.quantity == TEXT and step.by == "technician" and taken is not None:
                found.append(Read(step.key, one.key, taken.mark.event_id))
    assert len(found) >= HANDS
    return found[:HANDS]


def _wait_for_more(tablets: list[Tablet], known: int) -> None:
    end = time.monotonic() + 60.0
    while sum(len(tablet.acknowledged) for tablet in tablets) < known + HANDS:
        assert time.monotonic() < end, "nothing is acknowledged"
        time.sleep(0.005)


def _all_there(folder: Path, run: str, tablets: list[Tablet], turn: int) -> None:
    with closing(open_store(str(folder / STORE))) as store:
        rows = store.load(run)
        state = load_state(store, run)
    found = verify(rows, state.head)
    assert found.ok, (turn, found.problem)
    ids = [event_of(row).event_id for row in rows]
    assert len(ids) == len(set(ids)), "something is there twice"
    places = {row.event_id: row for row in rows}
    for tablet in tablets:
        for event_id, (seq, head) in tablet.acknowledged.items():
            assert event_id in places, (turn, tablet.name, "acknowledged and lost")
            assert places[event_id].seq <= seq, "acknowledged before it was there"
            assert rows[seq - 1].hash == head, "the record is not the one that was acknowledged"
