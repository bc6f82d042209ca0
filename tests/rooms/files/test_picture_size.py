"""Sizes of pictures by their heads: written out by hand from the formats' descriptions, and by another program."""

from __future__ import annotations

import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vaporwright.files.picture_size import picture_size

SIDES = st.integers(1, 16_000)


def png(width: int, height: int) -> bytes:
    """The beginning of one: signature, and the first chunk with its size (no data follow)."""
    return b"\x89PNG\r\n\x1a\n" + struct.pack(">I4sIIBBBBB", 13, b"IHDR", width, height, 8, 2, 0, 0, 0)


def jpeg(width: int, height: int, frame: int = 0xC0) -> bytes:
    """Start, two application segments with a fill byte between, a table, a frame header."""
    first = b"\xff\xe0\x00\x10JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00"
    second = b"\xff\xff\xe1\x00\x06\xff\xc0\xff\xc0"  # what looks like a frame stands within a segment
    table = b"\xff\xc4\x00\x04\x00\x00"
    return b"\xff\xd8" + first + second + table + struct.pack(">BBHBHHB", 0xFF, frame, 11, 8, height, width, 1)


def webp(kind: bytes, width: int, height: int) -> bytes:
    if kind == b"VP8X":
        body = bytes(4) + (width - 1).to_bytes(3, "little") + (height - 1).to_bytes(3, "little")
    elif kind == b"VP8L":
        body = b"\x2f" + ((height - 1) << 14 | (width - 1)).to_bytes(4, "little") + bytes(8)
    else:
        body = b"\x00\x00\x00\x9d\x01\x2a" + struct.pack("<HH", width, height) + bytes(8)
    return b"RIFF" + bytes(4) + b"WEBP" + kind + struct.pack("<I", len(body)) + body


@given(SIDES, SIDES)
def test_each_kind_says_its_size(width: int, height: int) -> None:
    assert picture_size(png(width, height), "image/png") == (width, height)
    for frame in (0xC0, 0xC2):  # baseline, progressive
        assert picture_size(jpeg(width, height, frame), "image/jpeg") == (width, height)
    for kind in (b"VP8X", b"VP8L", b"VP8 "):
        assert picture_size(webp(kind, width, height), "image/webp") == (width, height)


@given(st.sampled_from(["image/png", "image/jpeg", "image/webp"]), st.binary(max_size=80), st.integers(0, 40))
def test_what_says_nothing_is_no_fault(media_type: str, more: bytes, kept: int) -> None:
    for whole in (png(3, 4), jpeg(3, 4), webp(b"VP8X", 3, 4)):
        found = picture_size(whole[:kept] + more, media_type)
        assert found is None or min(found) > 0


@pytest.mark.parametrize(
    "content", [b"\x89PNG\r\n\x1a\n", png(0, 5), b"\xff\xd8\xff", jpeg(3, 4)[:40], b"\xff\xd8\xff\xda\x00\x08"]
)
def test_a_cut_or_empty_picture_has_no_size(content: bytes) -> None:
    assert picture_size(content, "image/png" if content[0] == 0x89 else "image/jpeg") is None
