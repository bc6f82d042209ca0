"""A photograph, or a paper, that belongs to a step: what may come in, told by its beginning, and its name."""

from __future__ import annotations

from typing import Final

from vaporwright.files.picture_size import picture_size
from vaporwright.foundation.errors import InputError

LARGEST_PHOTO_bytes: Final = 12_000_000
MOST_PIXELS: Final = 64_000_000
# What a file begins with says what it is; what its sender says does not count.
_BEGINNINGS: Final = (
    (b"\xff\xd8\xff", "image/jpeg", ".jpg"),
    (b"\x89PNG\r\n\x1a\n", "image/png", ".png"),
    (b"%PDF-", "application/pdf", ".pdf"),
)
_WEBP: Final = (b"RIFF", b"WEBP")


def kind_of_file(content: bytes) -> tuple[str, str]:
    """Media type and ending of a file, by what it begins with.

    Raises: InputError for one that is empty, too large or of another kind.
    """
    allowed = f"a photograph (JPEG, PNG, WebP) or a PDF of at most {LARGEST_PHOTO_bytes / 1e6:.0f} MB"
    if len(content) > LARGEST_PHOTO_bytes:
        raise InputError("photo", "", "is too large", allowed)
    for beginning, media_type, ending in _BEGINNINGS:
        if content.startswith(beginning):
            _require_fit_to_show(content, media_type)
            return media_type, ending
    if content[:4] == _WEBP[0] and content[8:12] == _WEBP[1]:
        _require_fit_to_show(content, "image/webp")
        return "image/webp", ".webp"
    raise InputError("photo", "", "is empty" if not content else "is of another kind", allowed)


def _require_fit_to_show(content: bytes, media_type: str) -> None:
    """Raise InputError for a picture that unfolds to more than a tablet can hold, or does not say how large it is."""
    if not media_type.startswith("image/"):
        return
    size, allowed = picture_size(content, media_type), f"a picture of at most {MOST_PIXELS / 1e6:.0f} megapixels"
    if size is None:
        raise InputError("photo", "", "is cut off or damaged: its size cannot be read", allowed)
    if size[0] * size[1] > MOST_PIXELS:
        raise InputError("photo", "", f"has {size[0]} x {size[1]} pixels, too many to show", allowed)


def plain_file_name(given: str, ending: str) -> str:
    """A plain name out of whatever a file was called where it came from."""
    base = given.replace("\\", "/").rpartition("/")[2].rpartition(".")[0] or "photo"
    plain = "".join(one if one.isascii() and (one.isalnum() or one in "-_") else "_" for one in base).strip("_-")
    return f"{plain[:60] or 'photo'}{ending}"
