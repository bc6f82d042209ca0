"""The real server as a process of its own, for tests and benchmarks: on a loopback port that the system picks, with a
store in a folder of the test, ended by its process id.
"""

from __future__ import annotations

import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit

PATIENCE_s = 60.0
STORE = "shop.db"


class WebServer:
    """A server and its folder; it can be killed, and started again at the same address."""

    def __init__(self, folder: Path, *options: str) -> None:
        self.folder, self._options, self._port = folder, options, 0
        self.store = str(folder / STORE)
        self.address = ""
        self._process: subprocess.Popen[str] | None = None
        self._log = folder / "server.log"

    def start(self) -> None:
        """Run it, and wait until it has said where it is."""
        called = [sys.executable, "-m", "vaporwright", "serve", "--port", str(self._port), "--store", self.store]
        with self._log.open("a", encoding="utf-8") as log:
            self._process = subprocess.Popen(
                [*called, *self._options],
                cwd=self.folder,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=log,
                text=True,
            )
        assert self._process.stdout is not None
        self.address = self._process.stdout.readline().strip().rstrip("/")  # it says so, or it ends
        if not self.address:
            self._process.wait(PATIENCE_s)
            raise RuntimeError(f"the server did not start:\n{self.said}")
        self._port = urlsplit(self.address).port or 0

    @property
    def pid(self) -> int:
        """Its process id."""
        assert self._process is not None
        return self._process.pid

    @property
    def said(self) -> str:
        """What it has written to its error output: nothing, where all is well."""
        return self._log.read_text(encoding="utf-8")

    def kill(self) -> None:
        """End it at once, as a crash would: it can do nothing about it."""
        self._end(signal.SIGKILL)

    def stop(self) -> None:
        """End it as its user would."""
        self._end(signal.SIGINT)

    def _end(self, how: signal.Signals) -> None:
        process, self._process = self._process, None
        if process is None:
            return
        process.send_signal(how)
        try:
            process.wait(PATIENCE_s)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        assert process.stdout is not None
        process.stdout.close()


@contextmanager
def web_server(folder: Path, *options: str) -> Iterator[WebServer]:
    """A running server, stopped afterwards."""
    server = WebServer(folder, *options)
    try:
        server.start()
        yield server
    finally:
        server.stop()
