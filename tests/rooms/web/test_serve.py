"""The server itself: its address, its refusals, TLS, and what is left when it is killed."""

from __future__ import annotations

import os
import re
import signal
import socket
import ssl
import stat
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import httpx
import pytest
from cryptography import x509

from vaporwright.foundation.errors import InputError
from vaporwright.store.database import Database
from vaporwright.store.job_store import JobStore
from vaporwright.web.certificate import made_pair
from vaporwright.web.serve import run, self_signed, with_names
from vaporwright.web.settings import Settings


@contextmanager
def _server(folder: Path, *options: str) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    called = [sys.executable, "-m", "vaporwright", "serve", "--port", "0", "--store", str(folder / "shop.db"), *options]
    with subprocess.Popen(called, cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        try:
            yield process.stdout.readline().strip().rstrip("/"), process
        finally:
            process.kill()


@pytest.mark.slow
def test_it_serves_the_demo_and_ends_when_it_is_told(tmp_path: Path) -> None:
    with _server(tmp_path, "--demo") as (address, process):
        assert re.fullmatch(r"http://127\.0\.0\.1:\d+", address)
        page = httpx.get(f"{address}/", follow_redirects=True)
        assert "Nickel rinse" in page.text
        assert "server" not in page.headers
        process.send_signal(signal.SIGINT)
        assert process.wait(30) == 0
        assert process.stderr is not None
        assert process.stderr.read() == ""


@pytest.mark.slow
def test_killed_while_jobs_are_entered_nothing_acknowledged_is_lost(tmp_path: Path) -> None:
    text = '[job]\nname = "Job {}"\n\n[duty]\nvolume = "26 gal/h"\n'
    acknowledged: set[str] = set()
    for turn in range(3):
        with _server(tmp_path) as (address, process), httpx.Client(base_url=address) as client:
            for place in range(4 + 3 * turn):
                sent = {"job": text.format(f"{turn}-{place}")}
                answer = client.post("/api/v1/jobs", json=sent, headers={"X-Vaporwright-Name": "Pat"})
                assert answer.status_code == 201
                acknowledged.add(answer.json()["id"])
            process.kill()
    database = Database(str(tmp_path / "shop.db"))
    assert {job.id for job in JobStore(database).jobs()} == acknowledged
    database.close()


@pytest.mark.slow
def test_it_speaks_tls_with_a_certificate_of_its_own(tmp_path: Path) -> None:
    with _server(tmp_path, "--tls") as (address, _process):
        assert address.startswith("https://127.0.0.1:")
        trusting = ssl.create_default_context(cafile=str(tmp_path / "vaporwright-data" / "tls_certificate.pem"))
        page = httpx.get(f"{address}/jobs", verify=trusting)
        assert page.status_code == 200
        assert "__Host-" in page.headers["Set-Cookie"]
        with pytest.raises(httpx.ConnectError, match="certificate"):
            httpx.get(f"{address}/jobs")


def test_the_certificate_is_for_its_names_and_not_for_long(tmp_path: Path) -> None:
    made, _ = made_pair(("shop-pc", "192.0.2.9"), datetime(2026, 1, 1, tzinfo=UTC))
    certificate = x509.load_pem_x509_certificate(made)
    names = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert set(names.get_values_for_type(x509.DNSName)) == {"localhost", "shop-pc"}
    assert {str(one) for one in names.get_values_for_type(x509.IPAddress)} == {"127.0.0.1", "::1", "192.0.2.9"}
    assert certificate.not_valid_after_utc - certificate.not_valid_before_utc <= timedelta(days=825)
    first = self_signed(tmp_path / "data", ("shop-pc",))
    assert stat.S_IMODE(os.stat(first[1]).st_mode) == 0o600
    content = [path.read_bytes() for path in first]
    assert self_signed(tmp_path / "data", ("other",)) == first
    assert [path.read_bytes() for path in first] == content  # people have been told to trust it


def test_what_cannot_be_served_is_said_in_one_line(tmp_path: Path) -> None:
    store = str(tmp_path / "shop.db")
    with pytest.raises(InputError, match=r"0\.0\.0\.0 can be reached by others, and nobody has an account"):
        run(Settings(store, tmp_path, host="0.0.0.0"))
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(InputError, match="cannot be listened at"):
            run(Settings(store, tmp_path, port=taken.getsockname()[1]))
    with pytest.raises(InputError, match="no such file"):
        run(Settings(store, tmp_path, tls_cert=tmp_path / "none", tls_key=tmp_path / "none"))
    with pytest.raises(InputError, match="belong together"):
        run(Settings(store, tmp_path, tls_cert=tmp_path / "none"))


def test_a_server_for_others_knows_the_machines_name(tmp_path: Path) -> None:
    assert socket.gethostname() in with_names(Settings("x", tmp_path, host="0.0.0.0", names=("shop",))).names
    assert with_names(Settings("x", tmp_path)).names == ()
