"""A disk that is watched: what SQLite writes, syncs and deletes, in order, and what is left when the power goes.

Killing a process cannot show that commits are synced, since the system keeps what was written for it; only a power cut
takes that away. Here SQLite's own interface to the system is copied, through ctypes, with write, truncate, sync and
delete noted on their way (no other library, no debugger, no right is needed). From the notes follows what the disk may
hold after a cut at any point: all that was synced, and of the rest nothing, everything, or any part in sectors.

    watched:   sqlite:///file:PATH?vfs=watched&uri=true
"""

from __future__ import annotations

import _sqlite3
import ctypes
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

SECTOR = 512
_POINTER = ctypes.sizeof(ctypes.c_void_p)
_VFS_BYTES, _METHODS_BYTES = 16 + 19 * _POINTER, 8 + 18 * _POINTER
_X_OPEN, _X_DELETE = 16 + 3 * _POINTER, 16 + 4 * _POINTER
_X_WRITE, _X_TRUNCATE, _X_SYNC = (8 + place * _POINTER for place in (2, 3, 4))
_Pointer, _Int, _Long = ctypes.c_void_p, ctypes.c_int, ctypes.c_int64
# names are passed on as they are: SQLite keeps them, and has more behind their end
_Open = ctypes.CFUNCTYPE(_Int, _Pointer, _Pointer, _Pointer, _Int, _Pointer)
_Delete = ctypes.CFUNCTYPE(_Int, _Pointer, _Pointer, _Int)
_Write = ctypes.CFUNCTYPE(_Int, _Pointer, _Pointer, _Int, _Long)
_Truncate = ctypes.CFUNCTYPE(_Int, _Pointer, _Long)
_Sync = ctypes.CFUNCTYPE(_Int, _Pointer, _Int)


@dataclass(frozen=True)
class Deed:
    """One thing done to the disk; `acknowledged` is noted by the test itself."""

    kind: str  # write, truncate, sync, delete, acknowledged
    name: str
    offset: int = 0
    content: bytes = b""
    synced: bool = False  # of a delete: with the folder


@dataclass
class Notes:
    """What was done, in order."""

    deeds: list[Deed] = field(default_factory=list)

    def acknowledge(self, name: str) -> None:
        self.deeds.append(Deed("acknowledged", name))

    def count(self, kind: str, ending: str = "") -> int:
        return sum(deed.kind == kind and deed.name.endswith(ending) for deed in self.deeds)


NOTES = Notes()
_KEPT: list[Any] = []  # callbacks and structures that SQLite points to
_METHODS: dict[int, Any] = {}
_NAMES: dict[int, str] = {}  # of open files, by address


def watch() -> Notes:
    """Register the watched interface, once a process; the notes are emptied."""
    if not _KEPT:
        _register()
    NOTES.deeds.clear()
    return NOTES


def _register() -> None:
    library = ctypes.CDLL(_sqlite3.__file__)
    library.sqlite3_vfs_find.restype = _Pointer
    library.sqlite3_vfs_find.argtypes = [ctypes.c_char_p]
    library.sqlite3_vfs_register.argtypes = [_Pointer, _Int]
    plain = library.sqlite3_vfs_find(None)
    copy = ctypes.create_string_buffer(ctypes.string_at(plain, _VFS_BYTES), _VFS_BYTES)
    name = ctypes.create_string_buffer(b"watched")
    opens, deletes = _Open(_pointer(plain + _X_OPEN)), _Delete(_pointer(plain + _X_DELETE))

    def opened(vfs: int, path: int | None, file: int, flags: int, out: int | None) -> int:
        code = opens(vfs, path, file, flags, out)
        if code == 0 and path is not None:
            _NAMES[file] = _file_name(path)
            _set(file, _watched_methods(_pointer(file)))
        return code

    def deleted(vfs: int, path: int, folder_too: int) -> int:
        code = deletes(vfs, path, folder_too)
        if code == 0:
            NOTES.deeds.append(Deed("delete", _file_name(path), synced=bool(folder_too)))
        return code

    callbacks = (_Open(opened), _Delete(deleted))
    address = ctypes.addressof(copy)
    _set(address + 16 + _POINTER, ctypes.addressof(name))
    _set(address + _X_OPEN, _address(callbacks[0]))
    _set(address + _X_DELETE, _address(callbacks[1]))
    _KEPT.extend((library, copy, name, callbacks))
    assert library.sqlite3_vfs_register(address, 0) == 0


def _watched_methods(plain: int) -> int:
    if plain not in _METHODS:
        copy = ctypes.create_string_buffer(ctypes.string_at(plain, _METHODS_BYTES), _METHODS_BYTES)
        address = ctypes.addressof(copy)
        callbacks = []
        for place, kind, noted in (
            (_X_WRITE, _Write, lambda name, content, amount, offset: Deed(
                "write", name, offset, ctypes.string_at(content, amount))),
            (_X_TRUNCATE, _Truncate, lambda name, size: Deed("truncate", name, size)),
            (_X_SYNC, _Sync, lambda name, _flags: Deed("sync", name)),
        ):  # fmt: skip
            callbacks.append(kind(_noting(kind(_pointer(plain + place)), noted)))
            _set(address + place, _address(callbacks[-1]))
        _METHODS[plain] = (copy, callbacks)
        return address
    return ctypes.addressof(_METHODS[plain][0])


def _file_name(path: int) -> str:
    return Path(ctypes.string_at(path).decode()).name


def _noting(plain: Callable[..., int], noted: Callable[..., Deed]) -> Callable[..., int]:
    def does(file: int, *rest: Any) -> int:
        code = plain(file, *rest)
        if code == 0:
            NOTES.deeds.append(noted(_NAMES[file], *rest))
        return code

    return does


def _pointer(address: int) -> int:
    return _Pointer.from_address(address).value or 0


def _set(address: int, value: int) -> None:
    _Pointer.from_address(address).value = value


def _address(callback: Any) -> int:
    return ctypes.cast(callback, _Pointer).value or 0


def left_after_cut(deeds: list[Deed], folder: Path, share: float, chance: random.Random) -> None:
    """Write into a folder what the disk may hold when the power goes after these deeds.

    Args: share: of what was not synced, the part that reached the disk all the same: 0, 1, or between, by sectors.
    """
    safe: dict[str, bytes] = {}
    pending: dict[str, list[Deed]] = {}
    entered: set[str] = set()  # journals and logs whose name is synced in their folder
    for deed in deeds:
        if deed.kind == "sync":
            safe[deed.name] = _done(safe.get(deed.name, b""), pending.pop(deed.name, []))
            if deed.name not in entered and deed.name.endswith(("-journal", "-wal")):
                _sync_folder(safe, pending)  # SQLite does so with the first sync of each
                entered.add(deed.name)
        elif deed.kind != "acknowledged":
            pending.setdefault(deed.name, []).append(deed)
        if deed.kind == "delete":
            entered.discard(deed.name)
            if deed.synced:
                _sync_folder(safe, pending)
    for name in safe.keys() | pending.keys():
        kept: list[Deed] = []
        for deed in pending.get(name, []):
            kept += [part for part in _parts(deed) if chance.random() < share]
        if name in safe or kept:
            content = _done(safe.get(name, b""), kept)
            gone = bool(kept) and kept[-1].kind == "delete"
            if not gone:
                (folder / name).write_bytes(content)


def _sync_folder(safe: dict[str, bytes], pending: dict[str, list[Deed]]) -> None:
    """Files that were deleted are gone for good; what was written to new ones of their names is not there yet."""
    for name, deeds in pending.items():
        last = max((place for place, deed in enumerate(deeds) if deed.kind == "delete"), default=None)
        if last is not None:
            safe.pop(name, None)
            del deeds[: last + 1]


def _parts(deed: Deed) -> list[Deed]:
    if deed.kind != "write":
        return [deed]
    cuts = range(0, len(deed.content), SECTOR)
    return [Deed("write", deed.name, deed.offset + cut, deed.content[cut : cut + SECTOR]) for cut in cuts]


def _done(content: bytes, deeds: list[Deed]) -> bytes:
    made = bytearray(content)
    for deed in deeds:
        if deed.kind == "write":
            made.extend(bytes(max(0, deed.offset + len(deed.content) - len(made))))
            made[deed.offset : deed.offset + len(deed.content)] = deed.content
        elif deed.kind == "truncate":
            del made[deed.offset :]
        elif deed.kind == "delete":
            made.clear()
    return bytes(made)
