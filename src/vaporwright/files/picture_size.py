"""How many pixels a picture has, by its head alone: a small file may unfold to more than a tablet holds.

Nothing is decoded here: PNG says its size in its first chunk, JPEG in a frame header, WebP in one of three ways.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

# JPEG markers that begin a frame: all of C0 to CF but the tables C4, C8, CC.
_FRAMES: Final = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_ALONE: Final = frozenset({0x01, *range(0xD0, 0xD9)})  # JPEG markers without a length


def picture_size(content: bytes, media_type: str) -> tuple[int, int] | None:
    """Width and height of a JPEG, PNG or WebP in pixels; None where its head does not say them."""
    try:
        width, height = _READERS[media_type](content)
    except (IndexError, ValueError):
        return None
    return (width, height) if width > 0 and height > 0 else None


def _png(content: bytes) -> tuple[int, int]:
    if content[12:16] != b"IHDR" or len(content) < 24:
        raise ValueError
    return int.from_bytes(content[16:20]), int.from_bytes(content[20:24])


def _jpeg(content: bytes) -> tuple[int, int]:
    place = 2
    while True:
        while content[place] == 0xFF:  # any number of them may stand before a marker
            place += 1
        marker = content[place]
        if marker in _FRAMES:
            head = content[place + 4 : place + 8]  # after the length and the bits of a sample
            if len(head) < 4:
                raise ValueError
            return int.from_bytes(head[2:]), int.from_bytes(head[:2])
        place += 1
        if marker not in _ALONE:
            length = int.from_bytes(content[place : place + 2])
            if marker == 0xDA or length < 2:  # the picture itself begins, and no frame was said
                raise ValueError
            place += length
        if content[place] != 0xFF:
            raise ValueError


def _webp(content: bytes) -> tuple[int, int]:
    if len(content) < 30:
        raise ValueError
    kind = content[12:16]
    if kind == b"VP8X":
        return int.from_bytes(content[24:27], "little") + 1, int.from_bytes(content[27:30], "little") + 1
    if kind == b"VP8L":
        bits = int.from_bytes(content[21:25], "little")
        return (bits & 0x3FFF) + 1, (bits >> 14 & 0x3FFF) + 1
    if kind == b"VP8 ":
        sides = (int.from_bytes(content[at : at + 2], "little") & 0x3FFF for at in (26, 28))
        return next(sides), next(sides)
    raise ValueError


_READERS: Final[dict[str, Callable[[bytes], tuple[int, int]]]] = {
    "image/png": _png,
    "image/jpeg": _jpeg,
    "image/webp": _webp,
}
