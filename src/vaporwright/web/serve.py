"""Running the server: on this machine alone unless accounts exist, with TLS where it is asked for."""

from __future__ import annotations

import contextlib
import socket
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from vaporwright.foundation.errors import InputError
from vaporwright.web.settings import Settings


def run(settings: Settings, say: Callable[[str], None] = print) -> None:
    """Serve until interrupted.

    Raises: InputError where the address is not this machine's alone and nobody has an account, where the port is
    taken, or where a certificate is missing.
    """
    settings = with_names(settings)
    _require_files(settings)
    import uvicorn

    from vaporwright.web.app import make_app

    app = make_app(settings)
    shop = app.state.shop
    try:
        require_accounts(settings, shop.people.has_engineer())
        with bound(settings) as listening:
            port = listening.getsockname()[1]
            config = uvicorn.Config(
                app,
                log_level="warning",
                access_log=False,
                server_header=False,
                proxy_headers=False,
                ssl_certfile=str(settings.tls_cert) if settings.tls_cert else None,
                ssl_keyfile=str(settings.tls_key) if settings.tls_key else None,
                timeout_graceful_shutdown=10,
                lifespan="on",
            )
            shop.working.warm()
            say(f"{settings.scheme}://{_in_address(settings.host)}:{port}/")
            server = uvicorn.Server(config)
            app.state.is_ending = lambda: server.should_exit  # streams end then, or the server waits for them
            with contextlib.suppress(KeyboardInterrupt):  # the way to end it
                server.run(sockets=[listening])
    finally:
        shop.close()


def require_accounts(settings: Settings, has_engineer: bool) -> None:
    """Raise InputError where others could reach the server and nobody has an account."""
    if not settings.is_local and not has_engineer:
        problem = f"{settings.host} can be reached by others, and nobody has an account"
        allowed = "127.0.0.1, or first: vaporwright people add NAME --role engineer"
        raise InputError("serve", "host", problem, allowed)


def with_names(settings: Settings) -> Settings:
    """The settings with the names of this machine, for a server that others reach."""
    if settings.is_local:
        return settings
    own = socket.gethostname()
    return replace(settings, names=tuple(dict.fromkeys((*settings.names, own, f"{own.partition('.')[0]}.local"))))


def bound(settings: Settings) -> socket.socket:
    """A socket at the address.

    Raises: InputError where it is taken, or is none of this machine's.
    """
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    made = socket.socket(family, socket.SOCK_STREAM)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((settings.host.strip("[]"), settings.port))
        made.listen(2048)  # whoever comes before the application is up waits in line
    except OSError as error:
        made.close()
        problem = f"{settings.host}:{settings.port} cannot be listened at ({error.strerror})"
        raise InputError("serve", "port", problem, "another port, or 0 for any that is free") from None
    return made


def self_signed(folder: Path, names: tuple[str, ...]) -> tuple[Path, Path]:
    """A certificate that this machine signs for itself, and its key; made once, then used again.

    A browser warns of it until it is told to trust it: compare the fingerprint with the one that is printed.
    """
    certificate, key = folder / "tls_certificate.pem", folder / "tls_key.pem"
    if certificate.is_file() and key.is_file():
        return certificate, key
    from vaporwright.web.certificate import made_pair

    folder.mkdir(parents=True, exist_ok=True)
    certificate_text, key_text = made_pair(names)
    key.touch(mode=0o600)
    key.write_bytes(key_text)
    certificate.write_bytes(certificate_text)
    return certificate, key


def _require_files(settings: Settings) -> None:
    if (settings.tls_cert is None) != (settings.tls_key is None):
        raise InputError("serve", "tls", "a certificate and its key belong together", "--tls-cert and --tls-key")
    for name, path in (("tls_cert", settings.tls_cert), ("tls_key", settings.tls_key)):
        if path is not None and not path.is_file():
            raise InputError("serve", name, f"{path}: no such file", "a PEM file")


def _in_address(host: str) -> str:
    return f"[{host}]" if ":" in host else host
