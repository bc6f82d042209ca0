"""People who write to a server that is killed again and again: each notes what was acknowledged, and looks for it.

What is not acknowledged is sent again under its event id when the server is back, as a tablet does. A job has no such
id: one more than was acknowledged may be there.
"""

from __future__ import annotations

import hashlib
import random
import threading
import uuid
from dataclasses import dataclass, field
from typing import Any, ClassVar

import httpx

from finished_shop import picture
from page_forms import form_in
from vaporwright.acceptance.record.chain import Row, event_of, verify
from vaporwright.store.database import Database
from vaporwright.store.job_store import JobStore
from vaporwright.store.signing import verify_signatures

AGAIN = 409  # another was faster
PIN = "271828"
JOB_TEXT = '[job]\nname = "{}"\n\n[duty]\nvolume = "26 gal/h"\n'


@dataclass
class Hand:
    """Somebody at a page."""

    address: str
    run: str
    name: str
    seed: int
    acknowledged: dict[str, tuple[int, str]] = field(default_factory=dict)  # what was sent: place and head, if told
    waiting: dict[str, Any] | None = None
    refused: list[str] = field(default_factory=list)
    failed: Exception | None = None

    def works(self, ended: threading.Event) -> None:
        """Send one thing after another until the server is gone."""
        try:
            with httpx.Client(base_url=self.address, timeout=20.0) as client:
                self._come_in(client)
                while not ended.is_set():
                    self.waiting = self.waiting or self.next(client)
                    self._settle(self.send(client, self.waiting), self.waiting)
        except httpx.HTTPError:  # that it was killed; what waits is sent again when it is back
            pass
        except Exception as error:
            self.failed = error

    def next(self, client: httpx.Client) -> dict[str, Any]:
        """What is sent next."""
        raise NotImplementedError

    def send(self, client: httpx.Client, what: dict[str, Any]) -> httpx.Response:
        """Send it."""
        raise NotImplementedError

    def missing(self, database: Database) -> list[str]:
        """What was acknowledged and is not there as it was; the chain is whole."""
        rows = database.records.load(self.run)
        found = verify_signatures(verify(rows))
        assert found.ok, found.problem
        ids = [event_of(row).event_id for row in rows]
        assert len(ids) == len(set(ids)), "something is there twice"
        places = {row.event_id: row for row in rows}
        return [event_id for event_id in self.acknowledged if not self.holds(event_id, places, rows, database)]

    def holds(self, event_id: str, places: dict[str, Row], rows: tuple[Row, ...], _database: Database) -> bool:
        """Whether one of them is there, before the place that was told with it."""
        seq, head = self.acknowledged[event_id]
        return event_id in places and places[event_id].seq <= seq <= len(rows) and rows[seq - 1].hash == head

    def fresh_id(self) -> str:
        """The event id of the next thing."""
        chance = random.Random(f"{self.seed} {len(self.acknowledged)} {len(self.refused)}")
        return str(uuid.UUID(int=chance.getrandbits(128), version=4))

    def _come_in(self, client: httpx.Client) -> None:
        form = form_in(client.get("/who").text, action="/who") | {"name": self.name}
        assert client.post("/who", data=form, follow_redirects=True).status_code == 200

    def _settle(self, answer: httpx.Response, what: dict[str, Any]) -> None:
        if answer.status_code in (200, 201, 303):
            self.acknowledged[self.key(answer, what)] = self.told(answer)
        elif answer.status_code == AGAIN:
            return
        else:
            self.refused.append(answer.text[-2000:])
        self.waiting = None

    def key(self, _answer: httpx.Response, what: dict[str, Any]) -> str:
        """What it is found by afterwards."""
        return str(what["event_id"])

    def told(self, answer: httpx.Response) -> tuple[int, str]:
        """Place and head, as acknowledged."""
        told = answer.json()
        return told["seq"], told["head"]


@dataclass
class Corrector(Hand):
    """Corrects a text that was read, as often as one likes."""

    step: str = ""
    field: str = ""
    first_id: str = ""

    def next(self, client: httpx.Client) -> dict[str, Any]:  # noqa: ARG002
        latest = next(reversed(self.acknowledged), self.first_id)
        entry = {"event_id": self.fresh_id(), "typed_by": self.name, "step": self.step, "field": self.field}
        text = f"{self.name}, {len(self.acknowledged)}"
        return entry | {"kind": "correction", "corrects": latest, "text": text, "reason": "again"}

    def send(self, client: httpx.Client, what: dict[str, Any]) -> httpx.Response:
        return client.post(f"/api/v1/runs/{self.run}/entries", json=what, headers={"X-Vaporwright": "1"})


@dataclass
class Photographer(Hand):
    """Takes one photograph after the other, none like another."""

    step: str = ""
    sent: dict[str, str] = field(default_factory=dict)  # event id: SHA-256

    def next(self, client: httpx.Client) -> dict[str, Any]:  # noqa: ARG002
        made = {"event_id": self.fresh_id(), "typed_by": self.name, "step": self.step}
        self.sent[made["event_id"]] = hashlib.sha256(self._photo()).hexdigest()
        return made

    def send(self, client: httpx.Client, what: dict[str, Any]) -> httpx.Response:
        photo = {"photo": ("gauge.png", self._photo(), "image/png")}
        return client.post(f"/api/v1/runs/{self.run}/photos", data=what, files=photo, headers={"X-Vaporwright": "1"})

    def holds(self, event_id: str, places: dict[str, Row], rows: tuple[Row, ...], database: Database) -> bool:
        if not super().holds(event_id, places, rows, database):
            return False
        database.records.get(self.sent[event_id])  # which says so where it is missing or altered
        return self.sent[event_id].encode() in places[event_id].body

    def _photo(self) -> bytes:
        return picture(40 + len(self.acknowledged))


@dataclass
class Signer(Hand):
    """Reopens a finished record and signs it, again and again."""

    job: str = ""
    kinds: ClassVar = {"sign": "signed", "reopen": "reopened"}
    done: dict[str, str] = field(default_factory=dict)  # event id: what

    def next(self, client: httpx.Client) -> dict[str, Any]:
        page = client.get(self._page)
        form = form_in(page.text, action=self._page)
        what = "reopen" if client.get(f"/api/v1/runs/{self.run}").json()["signed"] else "sign"
        form |= {"what": what, "name": self.name, "role": "engineer", "proof": PIN, "reason": "once more"}
        form |= {"statement": "I have read it.", "event_id": self.fresh_id()}
        self.done[form["event_id"]] = what
        return form

    def send(self, client: httpx.Client, what: dict[str, Any]) -> httpx.Response:
        csrf = form_in(client.get(self._page).text, action=self._page)["csrf"]  # of the session of today
        return client.post(self._page, data=what | {"csrf": csrf})

    def told(self, _answer: httpx.Response) -> tuple[int, str]:
        return 0, ""

    def holds(self, event_id: str, places: dict[str, Row], _rows: tuple[Row, ...], _database: Database) -> bool:
        return event_id in places and event_of(places[event_id]).kind == self.kinds[self.done[event_id]]

    @property
    def _page(self) -> str:
        return f"/jobs/{self.job}/acceptance/{self.run}/sign"


@dataclass
class JobMaker(Hand):
    """Takes in one job after the other."""

    def next(self, client: httpx.Client) -> dict[str, Any]:  # noqa: ARG002
        return {"job": JOB_TEXT.format(f"{self.name} {len(self.acknowledged)}")}

    def send(self, client: httpx.Client, what: dict[str, Any]) -> httpx.Response:
        return client.post("/api/v1/jobs", json=what, headers={"X-Vaporwright-Name": self.name})

    def key(self, answer: httpx.Response, what: dict[str, Any]) -> str:  # noqa: ARG002
        return str(answer.json()["id"])

    def told(self, _answer: httpx.Response) -> tuple[int, str]:
        return 0, ""

    def missing(self, database: Database) -> list[str]:
        jobs = JobStore(database)
        texts = {found.id: jobs.revision(found.id, 1) for found in jobs.jobs()}
        wanted = {one: JOB_TEXT.format(f"{self.name} {number}") for number, one in enumerate(self.acknowledged)}
        return [one for one, text in wanted.items() if texts.get(one) is None or texts[one].texts.job != text]  # type: ignore[union-attr]
