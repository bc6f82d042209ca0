"""The file that a backup is: the same for every kind of database, read and written as a stream, sealed by a hash.

It is a plain tar archive, so that what a shop has kept can be read in twenty years by whatever unpacks it:

    README.txt                    how to read it by hand
    attachments/HASH              a file that somebody attached, named by its SHA-256
    tables/NAME/0001.jsonl.gz     some rows of a table: first the names of its columns, then a row a line
    contents.json                 format, the versions of the tables, how many rows of each
    check.txt                     SHA-256 of every byte before it; always last

Names, dates and owners are constant: the same content makes the same bytes, whichever database it came from.
"""

from __future__ import annotations

import hashlib
import json
import os
import tarfile
import zlib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import IO, Any, Final

from vaporwright.store.record_store import StoreError

FORMAT: Final = "vaporwright backup 2"
README, CONTENTS, CHECK = "README.txt", "contents.json", "check.txt"
ATTACHMENTS, TABLES = "attachments/", "tables/"
ALLOWED: Final = "an untouched file that `vaporwright backup` wrote"
_OLD: Final = {b"SQLite format 3\0": "sqlite", b"PK\x03\x04": "zip"}
_UNIT: Final = 512  # of which a tar archive is made
_END: Final = bytes(2 * _UNIT)
_BLOCK_bytes: Final = 1 << 20
_CHUNK_bytes: Final = 1 << 22  # of a table, before it is compressed
_README: Final = b"""\
Everything that Vaporwright kept: jobs, records of tests with their attachments, people, audit.

Restore it into an empty store with: vaporwright restore FILE --store STORE
By hand: each tables/NAME/*.jsonl.gz is JSON, gzipped; first the names of the columns, then one row a line. The body of
an event in record_events is the event's own JSON, byte for byte. check.txt has the SHA-256 of all bytes before it.

It holds hashes of passwords and everything about your jobs: keep it where only the shop can read it. The keys with
which the shop signs, and the server's TLS key, are not in it.
"""


class BackupWriter:
    """Writes the members of a backup one after the other."""

    def __init__(self, file: IO[bytes]) -> None:
        self._file = file
        self._digest = hashlib.sha256()
        self.add(README, _README)

    def add(self, name: str, content: bytes) -> None:
        """One member."""
        for part in _member(name, content):
            self._digest.update(part)
            self._file.write(part)

    def add_table(self, name: str, columns: Sequence[str], rows: Iterator[Sequence[Any]]) -> int:
        """A table in chunks; the number of its rows comes back."""
        count, chunks, head = 0, 0, _line(columns)
        lines, size = [head], 0
        for row in rows:
            lines.append(_line([_as_text(value) for value in row]))
            size += len(lines[-1])
            count += 1
            if size >= _CHUNK_bytes:
                chunks += 1
                self.add(_chunk_name(name, chunks), _gzipped(b"".join(lines)))
                lines, size = [head], 0
        if size or not chunks:
            self.add(_chunk_name(name, chunks + 1), _gzipped(b"".join(lines)))
        return count

    def end(self, versions: dict[str, int], rows: dict[str, int]) -> None:
        """What the file must hold, and the hash over all of it."""
        contents = {"format": FORMAT, "versions": versions, "rows": rows}
        self.add(CONTENTS, json.dumps(contents, indent=1, sort_keys=True).encode("ascii") + b"\n")
        self._file.write(_ending(self._digest.hexdigest()))


def require_whole(path: Path) -> None:
    """Read a file through, and raise StoreError unless it is a backup from which not one byte is missing or other."""
    try:
        with path.open("rb") as file:
            size, begins = os.fstat(file.fileno()).st_size, file.read(16)
            file.seek(0)
            for magic, kind in _OLD.items():
                if begins.startswith(magic):
                    raise _older(path, kind)
            left, digest = size - len(_ending("")), hashlib.sha256()
            while left > 0:
                block = file.read(min(left, _BLOCK_bytes))
                digest.update(block)
                left -= len(block)
                if not block:
                    break
            if not begins.startswith(README.encode()) or left or file.read() != _ending(digest.hexdigest()):
                problem = "is no backup" if not begins.startswith(README.encode()) else "was cut or changed"
                raise StoreError(str(path), "", f"{problem}: nothing of it is restored", ALLOWED)
    except OSError as error:
        raise StoreError(str(path), "", f"cannot be read ({error.strerror})", ALLOWED) from None


def _older(path: Path, kind: str) -> StoreError:
    if kind == "sqlite":
        problem = "is a store itself (a backup of an earlier version was one), which needs no restoring"
        return StoreError(str(path), "", problem, "copy it to where the store shall be, or `backup` it to a new file")
    problem = "is a zip archive, as an earlier version made backups of PostgreSQL, or something else"
    return StoreError(str(path), "", problem, "the version that wrote it, then its `backup` anew")


def members(path: Path) -> Iterator[tuple[str, bytes]]:
    """The members of a backup in order, one at a time in memory, those that frame it left out."""
    with path.open("rb") as file, tarfile.open(fileobj=file, mode="r|") as archive:
        for entry in archive:
            content = archive.extractfile(entry)
            if content is None:
                raise ValueError(f"{entry.name} is no file")
            if entry.name not in (README, CHECK):
                yield entry.name, content.read()


def table_of(name: str) -> str:
    """Which table a member has rows of; empty where of none."""
    return name.split("/")[1] if name.startswith(TABLES) else ""


def rows_of(content: bytes) -> tuple[list[str], list[list[Any]]]:
    """The names of the columns of a chunk, and its rows; bytes are still text, see `as_bytes`."""
    lines = zlib.decompress(content, wbits=31).splitlines()
    columns, *rows = (json.loads(line) for line in lines)
    if any(len(row) != len(columns) for row in rows):
        raise ValueError("a row has not as many values as there are columns")
    return columns, rows


def as_bytes(text: str) -> bytes:
    """Bytes that stood in a row as text: exactly those that they were."""
    return text.encode("utf-8", "surrogateescape")


def _as_text(value: Any) -> Any:
    return bytes(value).decode("utf-8", "surrogateescape") if isinstance(value, bytes | memoryview) else value


def _line(values: Any) -> bytes:
    return json.dumps(values, separators=(",", ":")).encode("ascii") + b"\n"


def _gzipped(content: bytes) -> bytes:
    packer = zlib.compressobj(1, zlib.DEFLATED, 31)  # quickly: those who write may be waiting
    return packer.compress(content) + packer.flush()


def _chunk_name(table: str, number: int) -> str:
    return f"{TABLES}{table}/{number:04d}.jsonl.gz"


def _member(name: str, content: bytes) -> tuple[bytes, ...]:
    entry = tarfile.TarInfo(name)
    entry.size, entry.mode = len(content), 0o600
    return entry.tobuf(tarfile.USTAR_FORMAT), content, bytes(-len(content) % _UNIT)


def _ending(digest: str) -> bytes:
    return b"".join(_member(CHECK, f"{digest:64} of all bytes before this member\n".encode())) + _END
