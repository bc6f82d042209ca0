#!/usr/bin/env python3
"""The development loop, on a bare machine with only Python 3.11 or newer.

    python3 dev.py demo    size the three demo enquiries; leaves JSON, chart and PDF in a folder it names
    python3 dev.py test    everything that continuous integration runs
    python3 dev.py check   format, lint, strict types, import contracts, fast tests: under a minute
    python3 dev.py bench   speed as ratios to references in the same run
    python3 dev.py serve   the jobs in a browser on this machine, the demo jobs in it
    python3 dev.py docs    write the generated reference pages anew (sources, job file keys)

The first call makes .venv and installs what requirements.lock names, each package checked by its hash.
Standard library only.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
LOCK = ROOT / "requirements.lock"
STAMP = VENV / "vaporwright-stamp.txt"
WINDOWS = os.name == "nt"
BENCHMARKS = ("bench_ratings.py", "bench_controls.py", "bench_record.py")
PYTHON = VENV / ("Scripts/python.exe" if WINDOWS else "bin/python")


def clean_environment() -> dict[str, str]:
    """The environment without the settings that would mix other packages into .venv."""
    dropped = (
        *("PYTHONPATH", "PYTHONHOME", "PIP_USER", "PIP_REQUIRE_VIRTUALENV", "VIRTUAL_ENV", "UV_PROJECT_ENVIRONMENT"),
        "PYTHONDONTWRITEBYTECODE",  # without compiled modules every start would cost a second
    )
    return {name: value for name, value in os.environ.items() if name not in dropped}


def run(*command: str | Path, quiet: bool = False) -> int:
    output = subprocess.DEVNULL if quiet else None
    return subprocess.run(
        [str(part) for part in command], cwd=ROOT, env=clean_environment(), stdout=output, stderr=output, check=False
    ).returncode


def must(*command: str | Path) -> None:
    code = run(*command)
    if code:
        sys.exit(f"dev.py: this step failed ({code}): {' '.join(str(part) for part in command)}")


def stamp_text() -> str:
    pyproject = ROOT / "pyproject.toml"
    parts = (LOCK.read_bytes(), pyproject.read_bytes(), sys.version.encode(), str(ROOT).encode())
    return hashlib.sha256(b"\0".join(parts)).hexdigest()


def make_venv(uv: str | None) -> None:
    if VENV.exists():
        shutil.rmtree(VENV)
    if uv:
        must(uv, "venv", "--quiet", "--python", sys.executable, VENV)
    elif run(sys.executable, "-m", "venv", VENV, quiet=True):
        # Debian's Python comes without ensurepip: make the environment bare and let the outer pip fill it.
        shutil.rmtree(VENV, ignore_errors=True)
        if run(sys.executable, "-m", "venv", "--without-pip", VENV) or run(
            sys.executable, "-m", "pip", "--version", quiet=True
        ):
            sys.exit("dev.py: this Python has neither venv nor pip (Debian: apt install python3-venv python3-pip)")


def install(uv: str | None) -> None:
    project = ("--no-deps", "--no-build-isolation", "-e", str(ROOT))
    locked = ("--require-hashes", "--only-binary=:all:", "-r", str(LOCK))
    if uv:
        must(uv, "pip", "install", "--quiet", "--compile-bytecode", "--python", PYTHON, *locked)
        must(uv, "pip", "install", "--quiet", "--python", PYTHON, *project)
        return
    inner = run(PYTHON, "-m", "pip", "--version", quiet=True) == 0
    pip = [PYTHON, "-m", "pip"] if inner else [sys.executable, "-m", "pip", "--python", PYTHON]
    quietly = ("--quiet", "--disable-pip-version-check")
    must(*pip, "install", *quietly, *locked)
    must(*pip, "install", *quietly, *project)


def ensure_environment() -> None:
    wanted = stamp_text()
    if PYTHON.exists() and STAMP.exists() and STAMP.read_text() == wanted:
        return
    print("dev.py: first run, or the lock has changed: setting up .venv (about a minute) ...", flush=True)
    uv = shutil.which("uv")
    if uv and subprocess.run([uv, "--version"], capture_output=True, check=False).returncode:
        uv = None
    make_venv(uv)
    install(uv)
    STAMP.write_text(wanted)


def demo() -> int:
    return run(PYTHON, ROOT / "examples" / "run_demo.py")


def lint() -> int:
    steps = (
        (PYTHON, "-m", "ruff", "format", "--check", "."),
        (PYTHON, "-m", "ruff", "check", "."),
        (PYTHON, "-m", "mypy"),
        (PYTHON, "-c", "import sys; from importlinter.cli import lint_imports_command as c; c()"),
    )
    for step in steps:
        if run(*step):
            return 1
    return 0


def check() -> int:
    fast = ("tests/published", "tests/rooms", "tests/architecture", "src")
    return lint() or run(PYTHON, "-m", "pytest", "-n", "auto", "--dist", "loadfile", "-m", "not slow", *fast)


def test() -> int:
    """On every core, a file at a time; then, alone, what drives a browser or measures a server."""
    many = ("-n", "auto", "--dist", "loadfile")
    return (
        lint()
        or run(PYTHON, "-m", "pytest", *many, "tests", "src", "--ignore=tests/browser")
        or run(PYTHON, "-m", "pytest", "tests/browser")
    )


def bench() -> int:
    return max(run(PYTHON, ROOT / "benchmarks" / name) for name in BENCHMARKS)


def serve() -> int:
    folder = ROOT / "demo-output"
    folder.mkdir(exist_ok=True)
    return run(PYTHON, "-m", "vaporwright", "serve", "--demo", "--store", folder / "demo.sqlite")


def docs() -> int:
    return run(PYTHON, ROOT / "docs" / "generate.py")


COMMANDS = {"demo": demo, "test": test, "check": check, "bench": bench, "serve": serve, "docs": docs}


def main() -> int:
    if sys.version_info < (3, 11):  # noqa: UP036 (this file also meets Pythons that are too old, and says so)
        sys.exit(f"dev.py: Vaporwright needs Python 3.11 or newer; this is {sys.version.split()[0]}")
    if len(sys.argv) != 2 or sys.argv[1] not in COMMANDS:
        print(__doc__)
        return 0 if sys.argv[1:] in (["-h"], ["--help"]) else 2
    ensure_environment()
    return COMMANDS[sys.argv[1]]()


if __name__ == "__main__":
    sys.exit(main())
