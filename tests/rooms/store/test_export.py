"""A record in one file: the same bytes each time, verified without a database, and no byte can be altered."""

from __future__ import annotations

import hashlib
import random
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text

from invented_record import JOB_FILE, Hand
from vaporwright.acceptance.record.chain import verify
from vaporwright.acceptance.record.events import AddAttachment, Attachment, Reopen
from vaporwright.store.export import export_run, exported, verify_export
from vaporwright.store.record_store import RecordStore, StoreError
from vaporwright.store.signing import SigningKey
from vaporwright.store.sql_store import open_store

PHOTO = bytes(range(256)) * 400  # 100 kB


@pytest.fixture
def key(tmp_path: Path) -> SigningKey:
    return SigningKey(tmp_path / "shop.pem")


def _signed(key: SigningKey, photo: bytes = PHOTO) -> Hand:
    hand = Hand()
    hand.runs_through()
    found = Attachment(hashlib.sha256(photo).hexdigest(), "Rod ä.jpg", "image/jpeg", len(photo))
    hand.does(AddAttachment, found, "tank.leak")
    hand.does(AddAttachment, found)  # twice in the record, once in the file
    hand.enters(key.sign(hand.state, hand.stamp("engineer"), "tested as written"))
    hand.enters(key.sign(hand.state, hand.stamp("witness"), "seen"))
    return hand


def _exported(store: RecordStore, hand: Hand, path: Path, photo: bytes = PHOTO) -> Path:
    store.append(hand.run, 0, hand.rows)
    store.put(JOB_FILE)
    store.put(photo)
    assert export_run(store, hand.run, path).ok
    return path


def test_it_verifies_anywhere_and_is_the_same_each_time(store: RecordStore, key: SigningKey, tmp_path: Path) -> None:
    hand = _signed(key)
    path = _exported(store, hand, tmp_path / "demo-1.zip")
    found = verify_export(path, hand.rows[-1].hash, key.fingerprint)
    assert (found.ok, found.problem, found.events, found.head) == (True, "", len(hand.rows), hand.rows[-1].hash)
    assert [one.name for one in found.signatures] == ["A engineer", "A witness"]
    assert verify_export(path, found.signatures[0].head).ok
    assert export_run(store, hand.run, tmp_path / "again.zip").ok
    assert (tmp_path / "again.zip").read_bytes() == path.read_bytes()
    assert sorted(entry.name for entry in tmp_path.glob("*.part")) == []


def test_the_archive_is_plain_and_undated(tmp_path: Path) -> None:
    hand = Hand()
    hand.opens()
    content = exported(hand.rows, hand.state.attachments, {hashlib.sha256(JOB_FILE).hexdigest(): JOB_FILE})
    with zipfile.ZipFile(_written(tmp_path / "x.zip", content)) as archive:
        assert archive.testzip() is None
        assert archive.namelist() == [
            "README.txt", "record.txt", "attachments.txt", f"attachments/{hashlib.sha256(JOB_FILE).hexdigest()}",
        ]  # fmt: skip
        assert {entry.date_time for entry in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert archive.read("record.txt") == hand.rows[0].hash.encode() + b" " + hand.rows[0].body + b"\n"


def _written(path: Path, content: bytes) -> Path:
    path.write_bytes(content)
    return path


def test_the_readme_s_own_program_verifies_it(store: RecordStore, key: SigningKey, tmp_path: Path) -> None:
    hand = _signed(key)
    with zipfile.ZipFile(_exported(store, hand, tmp_path / "demo-1.zip")) as archive:
        archive.extractall(tmp_path / "out")
    readme = (tmp_path / "out" / "README.txt").read_text()
    program = readme[readme.index("    import hashlib") : readme.index("    print(before)") + len("    print(before)")]
    lines = "\n".join(line[4:] for line in program.splitlines())
    called = [sys.executable, "-c", lines]
    said = subprocess.run(called, cwd=tmp_path / "out", capture_output=True, text=True, check=True).stdout
    assert said.strip() == hand.rows[-1].hash
    for entry in (tmp_path / "out" / "attachments").iterdir():
        assert hashlib.sha256(entry.read_bytes()).hexdigest() == entry.name


def test_altered_bytes_are_found_all_over_a_signed_record(key: SigningKey, tmp_path: Path) -> None:
    store = open_store(str(tmp_path / "record.db"))
    path = _exported(store, _signed(key, b"small"), tmp_path / "demo-1.zip", b"small")
    store.close()
    content = path.read_bytes()
    assert _undetected(path, content, range(0, len(content), 41)) == []


@pytest.mark.slow
def test_every_altered_byte_of_a_short_record_is_found(tmp_path: Path) -> None:
    """None is without meaning: README, names, dates and fillings of the archive included."""
    hand = Hand()
    hand.opens()
    content = exported(hand.rows, hand.state.attachments, {hashlib.sha256(JOB_FILE).hexdigest(): JOB_FILE})
    path = _written(tmp_path / "x.zip", content)
    assert verify_export(path).ok
    assert _undetected(path, content, range(len(content))) == []


def _undetected(path: Path, content: bytes, places: range) -> list[int]:
    """Places where a flipped bit goes unseen."""
    chance = random.Random(1)
    found = []
    for place in places:
        forged = bytearray(content)
        forged[place] ^= 1 << chance.randrange(8)
        if verify_export(_written(path, bytes(forged))).ok:
            found.append(place)
    return found


def test_a_large_attachment_is_held_too(key: SigningKey, tmp_path: Path) -> None:
    store = open_store(str(tmp_path / "record.db"))
    photo = PHOTO * 30
    path = _exported(store, _signed(key, photo), tmp_path / "demo-1.zip", photo)
    store.close()
    content = path.read_bytes()
    chance = random.Random(2)
    for _ in range(40):
        forged = bytearray(content)
        forged[chance.randrange(len(content))] ^= 0x10
        assert not verify_export(_written(path, bytes(forged))).ok


def test_added_cut_and_foreign_files_are_found(key: SigningKey, tmp_path: Path) -> None:
    store = open_store(str(tmp_path / "record.db"))
    hand = _signed(key)
    path = _exported(store, hand, tmp_path / "demo-1.zip")
    store.close()
    content = path.read_bytes()
    for forged in (
        content + b"\0",
        b"\0" + content,
        content[:-1],
        content[: len(content) // 2],
        b"",
        b"PK\x05\x06" + bytes(18),
    ):
        assert not verify_export(_written(path, forged)).ok
    path.write_bytes(content)
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr("more.txt", "more")
    assert "around the record" in verify_export(path).problem
    with zipfile.ZipFile(_written(path, content)) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, entry in members.items():
            archive.writestr(name, entry)
    assert "compressed" in verify_export(path).problem
    photo = hashlib.sha256(PHOTO).hexdigest()
    job_file = hashlib.sha256(JOB_FILE).hexdigest()
    blobs = {photo: PHOTO, job_file: JOB_FILE}
    for other, words in (
        ({job_file: JOB_FILE}, "is missing"),
        ({**blobs, photo: PHOTO[:-1]}, "was altered"),
        ({**blobs, photo: b"x" + PHOTO[1:]}, "was altered"),
        ({**blobs, "f" * 64: b"x"}, "does not know"),
    ):
        assert words in verify_export(_written(path, exported(hand.rows, hand.state.attachments, other))).problem


def test_a_cut_tail_is_found_through_the_witness_s_head(key: SigningKey, tmp_path: Path) -> None:
    """Cut, the file is a whole record still: only the head on paper tells."""
    hand = _signed(key)
    printed = hand.state.head
    hand.does(Reopen, "a reading is doubted", role="witness")
    blobs = {hashlib.sha256(PHOTO).hexdigest(): PHOTO, hashlib.sha256(JOB_FILE).hexdigest(): JOB_FILE}
    cut = exported(hand.rows[:-2], hand.state.attachments, blobs)
    path = _written(tmp_path / "cut.zip", cut)
    assert verify_export(path).ok
    assert "cut or made anew" in verify_export(path, printed).problem
    assert verify_export(_written(path, exported(hand.rows, hand.state.attachments, blobs)), printed).ok


def test_what_does_not_verify_or_lacks_a_file_is_not_exported(key: SigningKey, tmp_path: Path) -> None:
    place = tmp_path / "record.db"
    store = open_store(str(place))
    hand = _signed(key)
    store.append(hand.run, 0, hand.rows)
    with pytest.raises(StoreError, match="not in the store"):
        export_run(store, hand.run, tmp_path / "x.zip")
    with pytest.raises(StoreError, match="no events"):
        export_run(store, "another", tmp_path / "x.zip")
    store.put(JOB_FILE)
    store.put(PHOTO)
    engine = create_engine(f"sqlite:///{place}")
    with engine.begin() as connection:
        connection.execute(text("UPDATE record_events SET before = hash WHERE seq = 4"))
    engine.dispose()
    with pytest.raises(StoreError, match="does not verify at event 4"):
        export_run(store, hand.run, tmp_path / "x.zip")
    assert not verify(store.load(hand.run)).ok
    assert not (tmp_path / "x.zip").exists()
    store.close()
