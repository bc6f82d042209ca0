"""The pool: results, errors, progress, whose task it is, and that no process outlives the server."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from vaporwright.files.values import parse_toml
from vaporwright.foundation.errors import InputError, OutOfRange, require_range
from vaporwright.web.working import TaskState, Working

PATIENCE_s = 60.0


@pytest.fixture
def working() -> Iterator[Working]:
    made = Working(1)
    yield made
    made.close()


def _waited(working: Working, owner: str, task: str) -> TaskState:
    end = time.monotonic() + PATIENCE_s
    while not (state := working.task(owner, task)).done:
        assert time.monotonic() < end
        time.sleep(0.01)
    return state


@pytest.mark.slow
def test_results_errors_and_owners(working: Working) -> None:
    assert working.run(parse_toml, "a = 1", "x") == {"a": 1}
    with pytest.raises(InputError, match="not valid TOML") as caught:
        working.run(parse_toml, "a = ", "where it was")
    assert (caught.value.where, caught.value.key) == ("where it was", "")  # it comes back whole
    with pytest.raises(OutOfRange) as refused:
        working.run(require_range, "length_m", 3.0, 0.0, 1.0)
    assert (refused.value.value, refused.value.high) == (3.0, 1.0)
    task = working.start("Ada", print)  # prints the function that reports
    assert _waited(working, "Ada", task).error is None
    for owner, asked in (("Eve", task), ("Ada", "none")):
        with pytest.raises(InputError, match="no such task"):
            working.task(owner, asked)


@pytest.mark.slow
def test_a_process_that_dies_is_replaced(working: Working) -> None:
    first = working.run(os.getpid)
    os.kill(first, signal.SIGKILL)
    second = working.run(os.getpid)
    assert second not in (first, os.getpid())


@pytest.mark.slow
def test_closing_does_not_wait_for_what_is_under_way(working: Working) -> None:
    process = working.run(os.getpid)
    failed: list[BaseException] = []

    def wait() -> None:
        try:
            working.run(time.sleep, 600.0)
        except BaseException as error:
            failed.append(error)

    waiting = threading.Thread(target=wait)
    waiting.start()
    time.sleep(0.2)
    working.close()
    waiting.join(PATIENCE_s)
    assert not waiting.is_alive()
    assert isinstance(failed[0], InputError)
    _assert_ends(process)


@pytest.mark.slow
def test_no_process_outlives_a_server_that_is_killed() -> None:
    text = (
        "import os, sys, time\nfrom vaporwright.web.working import Working\n"
        "if __name__ == '__main__':\n    print(Working(1).run(os.getpid), flush=True)\n    time.sleep(600)\n"
    )
    with subprocess.Popen([sys.executable, "-c", text], stdout=subprocess.PIPE, text=True) as server:
        assert server.stdout is not None
        process = int(server.stdout.readline())
        os.kill(process, 0)
        server.kill()
    _assert_ends(process)


def _assert_ends(process: int) -> None:
    end = time.monotonic() + PATIENCE_s
    while Path(f"/proc/{process}").exists() and "Z" not in _state(process):
        assert time.monotonic() < end, "it is still there"
        time.sleep(0.02)


def _state(process: int) -> str:
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return "Z"


def test_the_guess_of_the_time_left() -> None:
    assert TaskState("x", 0.25, 10.0, False).seconds_left == pytest.approx(30.0)
    assert TaskState("x", 0.01, 10.0, False).seconds_left is None
    assert TaskState("x", 1.0, 10.0, True).seconds_left is None
