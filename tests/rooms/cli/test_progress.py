"""Progress: silent where nobody watches or the wait is short, one line that goes away where it is long."""

from __future__ import annotations

import io

from vaporwright.cli.progress import Progress


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def shown(stream: io.StringIO, seconds_per_quarter: float) -> str:
    times = iter([0.0] + [seconds_per_quarter * quarter for quarter in range(4)])
    progress = Progress(stream=stream, clock=lambda: next(times))
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        progress(share)
    return stream.getvalue()


def test_long_waits_show_the_time_left_and_clear_the_line() -> None:
    text = shown(Terminal(), 2.0)
    assert "25% done, about 6 s left" in text
    assert "75% done, about 2 s left" in text
    assert text.endswith("\r" + " " * 78 + "\r")
    assert "\n" not in text


def test_short_waits_show_nothing() -> None:
    assert shown(Terminal(), 0.2) == ""


def test_nobody_watching_sees_nothing() -> None:
    assert shown(io.StringIO(), 2.0) == ""
