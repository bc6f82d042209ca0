"""A shop's store with something in everything: demo jobs, a revision, a finished test and one under way, a diagnosis,
people of every role, a witness's link. For tests of pages that need something to show.

The finished test is the rehearsal with simulated people; the one under way is its beginning, sealed anew.
"""

from __future__ import annotations

import uuid
import zlib
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from vaporwright.acceptance.record.chain import ORIGIN, event_of, seal
from vaporwright.acceptance.record.events import AddAttachment, OpenPunchItem
from vaporwright.actions.desk import Desk
from vaporwright.actions.job_book import JobBook, demo_job_text, laid_out
from vaporwright.actions.rehearse_acceptance import RUN, rehearse_acceptance
from vaporwright.store.commit import load_state
from vaporwright.store.database import Database
from vaporwright.store.job_store import JobStore, Texts
from vaporwright.store.people_store import PeopleStore
from vaporwright.store.record_store import RecordStore
from vaporwright.store.service_store import ServiceStore
from vaporwright.store.sql_store import open_store
from vaporwright.web.floor_tasks import diagnosis_in_pool

HALF: Final = "half-way"
HALF_OF: Final = 0.4  # of the readings
PASSWORD: Final = "seven dry pumps in a row"
PEOPLE: Final = {"Ada": "engineer", "Tim": "technician", "Wilma": "witness", "Vic": "viewer"}
JOB: Final = "nickel_rinse_electric"
# Steady readings of a unit whose air has fallen, invented.
READINGS: Final = (
    "evaporation (kg/s),inlet_air_temperature (degF),inlet_wet_bulb (degF),pressure (kPa),"
    "tank_temperature (degF),feed_temperature (degF)\n0.011,70,58,98.9,150,58\n"
)


def picture(side: int = 64) -> bytes:
    """A grey square as PNG."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        return len(content).to_bytes(4, "big") + kind + content + zlib.crc32(kind + content).to_bytes(4, "big")

    head = side.to_bytes(4, "big") * 2 + b"\x08\x00\x00\x00\x00"
    rows = zlib.compress((b"\x00" + b"\x80" * side) * side)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


@dataclass(frozen=True)
class FinishedShop:
    """Where it is, and what is in it."""

    store: str
    job: str  # whose unit was tested
    other: str  # a job at which nothing was done
    run: str
    half: str
    step: str  # of the test under way: outstanding, with a reading to take
    photo: str
    account: str
    diagnosis: str
    link: str


def make_shop(folder: Path, now: float) -> FinishedShop:
    """Fill a store in a folder; takes most of a minute."""
    store = str(folder / "shop.db")
    with closing(Database(store)) as database:
        jobs, people = JobStore(database), PeopleStore(database)
        book = JobBook(jobs, database.records, lambda: now)
        made = {entry.name: entry.id for entry in book.add_demo(by="Ada")}
        job = next(key for name, key in made.items() if name.startswith("Nickel"))
        text = demo_job_text(JOB).replace("[duty]", "[duty]  # as said by telephone", 1)
        book.revise(job, 1, Texts(text), by="Ada", note="said by telephone")
        for name, role in PEOPLE.items():
            people.add_account(name, PASSWORD, role, (), "US", at=now, by="test")
        _copy_runs(folder, database.records)
        for run in (RUN, HALF):
            book.link_run(run, job, 2)
        photo = _more_in_half(database.records)
        witness = people.account_named("Wilma")
        assert witness is not None
        jobs.open_to(job, (witness.id,))
        state = load_state(database.records, HALF)
        step = next(one for one in state.outstanding if one.fields)
        return FinishedShop(
            store,
            job,
            next(key for key in made.values() if key != job),
            RUN,
            HALF,
            step.key,
            photo,
            witness.id,
            _diagnosis(database, job, now),
            people.make_link("witness", HALF, "Wilma's phone", by="Ada", at=now, until=now + 1.0e6),
        )


def _copy_runs(folder: Path, records: RecordStore) -> None:
    with laid_out(Texts(demo_job_text(JOB))) as path:
        rehearse_acceptance(path, folder / "rehearsal")
    with closing(open_store(str(folder / "rehearsal" / "record.sqlite"))) as source:
        rows = source.load(RUN)
        for entry in load_state(source, RUN).attachments:
            records.put(source.get(entry.attachment.sha256))
    records.append(RUN, 0, rows)
    events = [replace(event_of(row), event_id=str(uuid.uuid4())) for row in rows[: int(HALF_OF * len(rows))]]
    records.append(HALF, 0, seal(events, HALF, ORIGIN, 1))


def _more_in_half(records: RecordStore) -> str:
    desk = Desk(records, "Tim", "technician")
    step = load_state(records, HALF).outstanding[0].key
    photo = desk.attach(picture(), "gauge.png", "image/png")
    desk.enter(HALF, AddAttachment(desk.stamp(), photo, step))
    desk.enter(HALF, OpenPunchItem(desk.stamp(), "B", "Tag of the pump is missing", "the shop", step))
    return photo.sha256


def _diagnosis(database: Database, job: str, now: float) -> str:
    found = diagnosis_in_pool(lambda *_told: None, 2, Texts(demo_job_text(JOB)), READINGS.encode(), ".csv", True)
    return ServiceStore(database).keep(job, *found, at=now, who="Ada")[0]
