"""`vaporwright serve`, `people`, `backup` and `restore`: the pages, who may use them, and a copy of everything."""

from __future__ import annotations

import argparse
import getpass
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final

from vaporwright.cli.accept_parser import add_store_option, store_of
from vaporwright.cli.progress import Progress

USUAL_PORT: Final = 8420
# Written here again so that --help need not import the store; a test holds the two together.
ROLES: Final = ("engineer", "technician", "witness", "viewer")
QUALIFICATIONS: Final = ("electrician", "burner technician")


def add_serving(commands: Any) -> None:
    """Put the commands among the others."""
    serve = commands.add_parser("serve", help="the jobs in a browser, on this machine or for the shop")
    add_store_option(serve)
    serve.add_argument("--host", default="127.0.0.1", help="address to listen at; any other than this machine's own"
                       " needs accounts")  # fmt: skip
    serve.add_argument("--port", type=int, default=USUAL_PORT, help=f"default: {USUAL_PORT}; 0 for any that is free")
    serve.add_argument("--name", action="append", default=[], help="a further name under which it is reached")
    serve.add_argument("--demo", action="store_true", help="put the invented demo jobs into an empty store")
    serve.add_argument("--tls-cert", metavar="FILE", type=Path, help="certificate (PEM)")
    serve.add_argument("--tls-key", metavar="FILE", type=Path, help="its key (PEM)")
    serve.add_argument("--tls", action="store_true", help="with a certificate that this machine signs for itself")
    people = commands.add_parser("people", help="accounts of the pages")
    tasks = people.add_subparsers(dest="task", required=True, metavar="TASK")
    add = tasks.add_parser("add", help="make an account; asks for its password")
    add.add_argument("name", metavar="NAME")
    add.add_argument("--role", choices=ROLES, required=True)
    add.add_argument("--qualified", choices=QUALIFICATIONS, action="append", default=[], help="may be given twice")
    add.add_argument("--units", choices=("US", "SI"), default="US", help="that this person sees; default: US")
    add_store_option(add)
    backup = commands.add_parser("backup", help="copy everything of a store to one file, while it is in use")
    backup.add_argument("file", metavar="FILE", type=Path, help="file to write")
    add_store_option(backup)
    restore = commands.add_parser("restore", help="put a backup into an empty store, and look it through")
    restore.add_argument("file", metavar="FILE", type=Path, help="a backup")
    add_store_option(restore)


def serving(options: argparse.Namespace) -> int:
    """Run one of the commands; returns the exit code."""
    return _COMMANDS[options.command](options, store_of(options))


def _serve(options: argparse.Namespace, store: str) -> int:
    from dataclasses import replace

    from vaporwright.web.serve import run, self_signed, with_names
    from vaporwright.web.settings import Settings

    folder = _data_folder(store)
    settings = Settings(
        store,
        folder,
        options.host,
        options.port,
        options.tls_cert,
        options.tls_key,
        names=tuple(options.name),
        demo=options.demo,
    )
    if options.tls and options.tls_cert is None:
        certificate, key = self_signed(folder, with_names(settings).names)
        settings = replace(settings, tls_cert=certificate, tls_key=key)
    run(settings, lambda line: print(line, flush=True))
    return 0


def _data_folder(store: str) -> Path:
    """Where the server keeps its keys: beside the store, or where it was started."""
    return (Path.cwd() if "://" in store else Path(store).resolve().parent) / "vaporwright-data"


def _people(options: argparse.Namespace, store: str) -> int:
    from vaporwright.actions.people import add_person, read_password

    password = read_password(getpass.getpass)
    account = add_person(
        store,
        options.name,
        options.role,
        password,
        qualifications=tuple(options.qualified),
        units=options.units,
        clock=time.time,
    )
    print(f"{account.name} can sign in as {account.role}.")
    return 0


def _backup(options: argparse.Namespace, store: str) -> int:
    from vaporwright.store.backup import backup

    progress = Progress()
    kept = backup(store, options.file, progress.told)
    progress(1.0)
    size_MB = kept.file.stat().st_size / 1e6
    print(f"Wrote {kept.file}: {_counts(kept.jobs, kept.attachments, kept.rows)}, {size_MB:.1f} MB; read back, whole.")
    print("Not in it: the keys with which the shop signs and the server's TLS key and certificate.")
    print(f"Copy the folder {_data_folder(store)}, and any signing_key.pem that you made beside the store, by hand to")
    print("where only the shop can read them. The backup holds hashes of passwords: keep it there too.")
    return _told(kept.unsound, "The store holds, and so the backup:")


def _restore(options: argparse.Namespace, store: str) -> int:
    from vaporwright.store.engines import shown
    from vaporwright.store.restore import restore

    progress = Progress()
    kept = restore(options.file, store, progress.told)
    progress(1.0)
    print(f"Restored {_counts(kept.jobs, kept.attachments, kept.rows)} into {shown(store)}.")
    if not kept.unsound:
        print("Every record and every attachment verifies.")
    print(f"Keys are in no backup: copy the shop's into {_data_folder(store)} before serving. Without them old")
    print("signatures still verify; new ones come from a new key, whose fingerprint people must be told.")
    return _told(kept.unsound, "Restored as the backup holds it, but not sound:")


def _counts(jobs: int, attachments: int, rows: Mapping[str, int]) -> str:
    return (
        f"{jobs} jobs, {rows['record_events']} entries of tests, {attachments} attachments, {sum(rows.values())} rows"
    )


def _told(unsound: tuple[str, ...], what: str) -> int:
    """Say what is not sound; the exit code."""
    for problem in unsound:
        print(f"{what} {problem}.")
    return 1 if unsound else 0


_COMMANDS: Final[Mapping[str, Callable[[argparse.Namespace, str], int]]] = {
    "serve": _serve,
    "people": _people,
    "backup": _backup,
    "restore": _restore,
}
