"""The pool: results, errors, progress, whose task it is, and that no process outlives the server."""

from __future__ import annotations

import importlib
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
    def state(step: int, steps: int, stage_seconds: float, silent_seconds: float = 0.0) -> TaskState:
        return TaskState("x", 60.0, False, "Trying", step, steps, stage_seconds, silent_seconds)

    assert state(3, 12, 6.0).seconds_left == pytest.approx(18.0)
    assert state(3, 12, 6.0, silent_seconds=2.5).seconds_left == pytest.approx(15.5)  # the next step is under way
    assert state(11, 12, 11.0, silent_seconds=4.0).seconds_left == 0.0  # longer than the others: never less than none
    assert state(0, 12, 6.0).seconds_left is None  # nothing to go by
    assert state(3, 0, 6.0).seconds_left is None  # steps that cannot be counted
    assert (state(3, 12, 6.0).share, state(3, 0, 6.0).share) == (0.25, None)


COUNTING = """
import time
from pathlib import Path


def counting(report, folder):
    for stage, done, of in (("Trying units", 3, 40), ("Writing – the paper", 0, 0)):
        report(stage, 0, of)
        report(stage, done, of)
        Path(folder, stage).touch()
        while Path(folder, stage).exists():
            time.sleep(0.01)
"""


@pytest.mark.slow
def test_a_task_tells_its_stage_and_steps(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "counting_task.py").write_text(COUNTING, encoding="utf-8")
    monkeypatch.syspath_prepend(str(tmp_path))  # the pool's processes look there too
    counting = importlib.import_module("counting_task").counting
    working = Working(1)
    try:
        task = working.start("Ada", counting, str(tmp_path))
        waits = working.task("Ada", working.start("Ada", counting, str(tmp_path)))  # one process: it has to wait
        assert (waits.stage, waits.share, waits.seconds_left) == ("", None, None)
        for stage, done, of in (("Trying units", 3, 40), ("Writing – the paper", 0, 0)):
            end = time.monotonic() + PATIENCE_s
            while not (tmp_path / stage).exists():
                assert time.monotonic() < end
                time.sleep(0.01)
            state = working.task("Ada", task)
            assert (state.stage, state.step, state.steps, state.done) == (stage, done, of, False)
            assert 0.0 <= state.stage_seconds <= state.seconds
            (tmp_path / stage).unlink()
    finally:
        working.close()
