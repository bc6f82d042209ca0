"""Settings of the web application: where things are kept, where it listens, what it lets in."""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

LARGEST_UPLOAD_bytes: Final = 20_000_000
LOOPBACK_NAMES: Final = ("localhost", "127.0.0.1", "[::1]")


@dataclass(frozen=True)
class Settings:
    """How one server is set up."""

    store: str  # a path (SQLite), or postgresql://user@host/name
    data_folder: Path  # keys and certificates of this server
    host: str = "127.0.0.1"
    port: int = 8420
    tls_cert: Path | None = None
    tls_key: Path | None = None
    names: tuple[str, ...] = ()  # further names under which this server is reached
    demo: bool = False  # put the demo jobs into an empty book
    workers: int = 2  # processes that compute
    largest_upload_bytes: int = LARGEST_UPLOAD_bytes
    idle_s: float = 12 * 3600.0  # a session that nobody uses
    lasting_s: float = 7 * 86400.0  # a session however much it is used

    @property
    def is_local(self) -> bool:
        """Whether only this machine can reach the server: then nobody needs to sign in."""
        return self.host == "localhost" or _is_loopback(self.host)

    @property
    def has_tls(self) -> bool:
        """Whether what goes over the line is encrypted."""
        return self.tls_cert is not None

    @property
    def scheme(self) -> str:
        """Of the address."""
        return "https" if self.has_tls else "http"

    def knows_host(self, header: str) -> bool:
        """Whether a Host header names this server: its own names and addresses, nothing that merely points here.

        An address typed as digits cannot be a name that somebody else has pointed here.
        """
        name = _name_of(header)
        if name in LOOPBACK_NAMES or name in {one.casefold() for one in (self.host, f"[{self.host}]", *self.names)}:
            return True
        return not self.is_local and _is_address(name)


def _name_of(header: str) -> str:
    name = header.strip().casefold()
    if name.startswith("["):
        return name.partition("]")[0] + "]"
    return name.partition(":")[0]


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name.strip("[]"))
    except ValueError:
        return False
    return True


def _is_loopback(host: str) -> bool:
    return _is_address(host) and ipaddress.ip_address(host.strip("[]")).is_loopback
