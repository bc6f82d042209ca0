"""Writing a text to a file that must not be there yet."""

from __future__ import annotations

from pathlib import Path

from vaporwright.foundation.errors import InputError


def write_new(path: Path, text: str) -> Path:
    """Write a new file; raises InputError rather than overwrite one, or where it cannot write."""
    try:
        with path.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError:
        raise InputError(str(path), "", "exists already and is not overwritten", "a new file name") from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else "not a usable path"
        raise InputError(str(path), "", f"cannot be written ({reason})") from None
    return path
