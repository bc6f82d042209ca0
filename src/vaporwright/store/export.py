"""A record in one file that can be verified anywhere, without a database and without this tool.

The file is a zip archive with nothing compressed and every date the same, so that a record has exactly one form:

    README.txt          how to verify it by hand
    record.txt          one event a line: its hash, a blank, its body
    attachments.txt     one a line: hash, media type, name
    attachments/HASH    the files themselves

`verify_export` reads it, verifies the chain, the attachments and the signatures, writes it anew and compares every
byte: what the chain does not hold (names, dates, the fillings of the archive) cannot be altered either.
"""

from __future__ import annotations

import hashlib
import io
import os
import struct
import zipfile
import zlib
from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Final

from vaporwright.acceptance.record.canonical_json import parsed
from vaporwright.acceptance.record.chain import ORIGIN, Row, Verification, verify
from vaporwright.acceptance.record.state import Attached, replay
from vaporwright.store.record_store import RecordStore, StoreError
from vaporwright.store.signing import verify_signatures

_README: Final = """\
The record of one acceptance test, written by Vaporwright. Format 1.

record.txt has one event a line: a hash, one blank, and the event in JSON. Each hash is

    SHA-256( "vaporwright record 1" LF  hash of the line before  LF  the JSON, byte for byte )

in hexadecimal; before the first line it is 64 zeros. In Python:

    import hashlib
    before = "0" * 64
    for line in open("record.txt", "rb"):
        hash, body = line.rstrip(b"\\n").split(b" ", 1)
        made = hashlib.sha256(b"vaporwright record 1\\n" + before.encode() + b"\\n" + body).hexdigest()
        assert made == hash.decode()
        before = made
    print(before)

The last hash is the head of the record. A chain can be made anew or cut at its end: compare the head, or one before it,
with the one on the witness's paper. An event "signed" or "ship released" carries an Ed25519 signature over

    "vaporwright signature 1" LF  {"head":...,"name":...,"role":...,"run":...,"seq":...,"statement":...}

with name and role of who signed, and the public key; head and seq are those of the line before. That the key is the
shop's is for its fingerprint to say, known from elsewhere: the first 32 digits of the key's SHA-256.

Files are named by the SHA-256 of their content in attachments/, and listed in attachments.txt.

A record shows what was read and decided. It is no approval: local codes and those licensed under them decide whether a
unit that has fuel, flame, power, hot liquid or chemicals in it may run.
"""
_MOST_BYTES: Final = 2**31  # what an archive without extensions holds, with room


def export_run(store: RecordStore, run: str, path: Path) -> Verification:
    """Write a run with its attachments to one file; what `verify` says of it comes back.

    Raises: StoreError for a run that there is not, that does not verify, or that lacks an attachment.
    """
    rows = store.load(run)
    found = verify_signatures(verify(rows))
    if not found.ok:
        raise StoreError("record", run, f"does not verify at event {found.seq}: {found.problem}")
    blobs = {entry.attachment.sha256: store.get(entry.attachment.sha256) for entry in replay(rows).attachments}
    content = exported(rows, replay(rows).attachments, blobs)
    draft = path.with_name(path.name + ".part")
    with draft.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    draft.replace(path)
    return found


def exported(rows: Iterable[Row], attachments: Iterable[Attached], blobs: Mapping[str, bytes]) -> bytes:
    """The one form of a record in a file.

    Raises: StoreError where it is larger than the format holds.
    """
    listed = sorted({(one.attachment.sha256, one.attachment.media_type, one.attachment.name) for one in attachments})
    lines = b"".join(row.hash.encode("ascii") + b" " + row.body + b"\n" for row in rows)
    names = "".join(f"{sha256} {media_type} {name}\n" for sha256, media_type, name in listed)
    members = {"README.txt": _README.encode(), "record.txt": lines, "attachments.txt": names.encode()}
    members |= {f"attachments/{sha256}": blobs[sha256] for sha256 in sorted(blobs)}
    if sum(map(len, members.values())) > _MOST_BYTES or len(members) > 60_000:
        raise StoreError("export", "", "the record with its attachments is too large for one file", "2 GB")
    return _archive(members)


def _archive(members: Mapping[str, bytes]) -> bytes:
    """A zip archive, stored, dated 1980-01-01, written by hand: the library's bytes differ with its version."""
    out, directory = io.BytesIO(), io.BytesIO()
    for name, content in members.items():
        raw, size = name.encode("ascii"), len(content)
        # version 2.0, no flags, stored, 00:00:00, 1980-01-01
        common = struct.pack("<HHHHHIIIHH", 20, 0, 0, 0, 0x21, zlib.crc32(content), size, size, len(raw), 0)
        directory.write(b"PK\x01\x02" + struct.pack("<H", 20) + common)
        directory.write(struct.pack("<HHHII", 0, 0, 0, 0, out.tell()) + raw)
        out.write(b"PK\x03\x04" + common + raw + content)
    start, listing, count = out.tell(), directory.getvalue(), len(members)
    ending = struct.pack("<HHHHIIH", 0, 0, count, count, len(listing), start, 0)
    return b"".join((out.getvalue(), listing, b"PK\x05\x06", ending))


def verify_export(path: Path, head: str | None = None, fingerprint: str | None = None) -> Verification:
    """Whether a file is a record as it was exported, untouched; nothing else is needed than the file.

    Args: head: from the witness's copy; the chain must pass through it. fingerprint: of the shop's key.
    Raises: OSError where the file cannot be read.
    """
    content = path.read_bytes()
    try:
        rows, blobs = _read(content)
    except (zipfile.BadZipFile, ValueError, KeyError, NotImplementedError, RuntimeError, EOFError, OSError) as error:
        return Verification(False, f"is no exported record, or is damaged: {error}")
    found = verify_signatures(verify(rows, head), fingerprint)
    if not found.ok:
        return found
    try:
        attachments = replay(rows).attachments
    except ValueError as error:
        return replace(found, ok=False, problem=str(error))
    needed = {entry.attachment.sha256: entry.attachment for entry in attachments}
    for sha256, attachment in needed.items():
        if sha256 not in blobs:
            return replace(found, ok=False, problem=f"the attachment {attachment.name} is missing")
        if hashlib.sha256(blobs[sha256]).hexdigest() != sha256 or len(blobs[sha256]) != attachment.size:
            return replace(found, ok=False, problem=f"the attachment {attachment.name} was altered")
    if blobs.keys() - needed.keys():
        return replace(found, ok=False, problem="there are files in it that the record does not know")
    if exported(rows, attachments, blobs) != content:
        return replace(found, ok=False, problem="the file around the record was altered")
    return found


def _read(content: bytes) -> tuple[list[Row], dict[str, bytes]]:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        if any(entry.compress_type != zipfile.ZIP_STORED for entry in archive.infolist()):
            raise ValueError("it is compressed")
        rows = _rows(archive.read("record.txt"))
        names = [name for name in archive.namelist() if name.startswith("attachments/")]
        return rows, {name.removeprefix("attachments/"): archive.read(name) for name in names}


def _rows(text: bytes) -> list[Row]:
    rows: list[Row] = []
    before = ORIGIN
    for line in text.split(b"\n")[:-1]:
        found, blank, body = line.partition(b" ")
        value = parsed(body)
        run, seq, event_id = value.get("run"), value.get("seq"), value.get("event_id")
        if not (blank and isinstance(run, str) and isinstance(seq, int) and isinstance(event_id, str)):
            raise ValueError(f"line {len(rows) + 1} of record.txt is no event")
        rows.append(Row(run, seq, event_id, body, before, found.decode("ascii")))
        before = rows[-1].hash
    return rows
