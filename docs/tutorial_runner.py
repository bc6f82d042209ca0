"""Runs the tutorial: types its job files, runs its commands, and puts what they print into the page.

In docs/tutorial.md a block of TOML or CSV whose first line is `# NAME.toml` is a file to type. A line
`<!-- edit NAME.toml: OLD => NEW -->` changes one line of it. A console block holds one command; the comment before it
says which of its output lines the page shows, as spans of lines that begin with given words:

    <!-- show: First words ... Last words | Other first words -->

Without that comment everything is shown. `...` in the page stands for lines left out.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import shlex
import tempfile
from collections.abc import Iterator
from pathlib import Path

from vaporwright.cli.main import main as vaporwright

_PIECE = re.compile(
    r"```(?:toml|csv)\n# (?P<file>[\w.]+\.(?:toml|csv))\n(?P<text>.*?)```"
    r"|<!-- edit (?P<edited>[\w.]+): (?P<old>.+?) => (?P<new>.+?) -->"
    r"|(?:<!-- show: (?P<show>[^\n]+?) -->\n)?```console\n\$ (?P<command>[^\n]+)\n(?P<printed>.*?)```",
    re.S,
)
LEFT_OUT = "..."


def refreshed(text: str) -> str:
    """The page with the output of its commands as they print now."""
    with tempfile.TemporaryDirectory() as scratch, contextlib.chdir(scratch):
        return _PIECE.sub(_played, text)


def _played(piece: re.Match[str]) -> str:
    if piece["file"]:
        Path(piece["file"]).write_text(piece["text"], encoding="utf-8")
        return piece.group()
    if piece["edited"]:
        _edit(Path(piece["edited"]), piece["old"], piece["new"])
        return piece.group()
    lines = output_of(piece["command"]).rstrip("\n").split("\n")
    shown = list(_chosen(lines, piece["show"])) if piece["show"] else lines
    head = piece.group().split("```console\n")[0]
    return f"{head}```console\n$ {piece['command']}\n" + "\n".join(shown) + "\n```"


def _edit(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    if text.count(old) != 1:
        raise ValueError(f"tutorial: {path} holds {old!r} {text.count(old)} times")
    path.write_text(text.replace(old, new), encoding="utf-8")


def output_of(command: str) -> str:
    """What a vaporwright command prints, both streams together, as on a terminal."""
    words = shlex.split(command)
    if words[0] != "vaporwright":
        raise ValueError(f"tutorial: {command!r} is no vaporwright command")
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed), contextlib.redirect_stderr(printed):
        vaporwright(words[1:])
    return printed.getvalue()


def _chosen(lines: list[str], show: str) -> Iterator[str]:
    """The spans of lines that `show` names, with a mark wherever lines are left out."""
    at = 0
    for span in show.split(" | "):
        first, _, last = span.partition(" ... ")
        start = _line(lines, first, at)
        end = _line(lines, last, start) if last else start
        if start > at:
            yield LEFT_OUT
        yield from lines[start : end + 1]
        at = end + 1
    if at < len(lines):
        yield LEFT_OUT


def _line(lines: list[str], words: str, at: int) -> int:
    for number in range(at, len(lines)):
        if lines[number].strip().startswith(words.strip()):
            return number
    raise ValueError(f"tutorial: no line begins with {words!r}, in:{os.linesep}" + os.linesep.join(lines))
