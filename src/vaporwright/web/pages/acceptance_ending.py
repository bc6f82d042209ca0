"""The end of a test: punch list, signatures, ship release, reopening, closing, certificate, export, verifying."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import Annotated, Any, Final

from fastapi import APIRouter, Form, Request, UploadFile
from fastapi.responses import Response

from vaporwright.acceptance.record.events import (
    WHOLE_TEST,
    AcceptOpenItem,
    CloseRun,
    Command,
    Refused,
    Reopen,
)
from vaporwright.acceptance.record.roles import MAY, ROLES
from vaporwright.acceptance.record.state import RunState
from vaporwright.actions.acceptance_papers import RELEASE_STATEMENT, SIGN_STATEMENTS
from vaporwright.actions.desk import Desk, fresh_id
from vaporwright.documents.measured_words import moment_text
from vaporwright.documents.pdf_signing import NOBODY_VOUCHES, NOT_SIGNED
from vaporwright.foundation.errors import InputError
from vaporwright.store.export import export_run, verify_export
from vaporwright.store.run_pins import SHORTEST_PIN
from vaporwright.store.signing import SigningKey, fingerprint_of
from vaporwright.web.context import (
    Forbidden,
    Viewer,
    book,
    download,
    file_name_of,
    note,
    redirect,
    render,
    require_name,
    shop,
    viewer,
)
from vaporwright.web.errors import Problem, problem_of
from vaporwright.web.floor import REFUSALS, OpenedRun, desk_by_proof, enter, run_of, standing_of, system_of
from vaporwright.web.floor_tasks import certificate_paper
from vaporwright.web.naming import as_named
from vaporwright.web.pages.acceptance_steps import desk_at_point

SIGNING_KEY: Final = "signing_key.pem"  # of the data folder: signs the head of records; made on first use
SHOP_KEY: Final = "shop_key.p12"  # of the data folder, where the shop has put one: signs certificates
KEYS: Final = ("shop", "self")
PASSPHRASE: Final = "VAPORWRIGHT_KEY_PASSPHRASE"
LARGEST_RECORD_bytes: Final = 19_000_000
CATEGORIES: Final = {"A": "keeps the unit in the shop", "B": "before start-up", "C": "after start-up"}
STEPS_OF_THE_END: Final = ("sign", "release", "reopen", "close")
router = APIRouter()

Typed = Annotated[str, Form()]


# Punch list


@router.get("/jobs/{job}/acceptance/{run}/punch")
def punch(request: Request, job: str, run: str) -> Response:
    """The punch list."""
    return _punch_page(request, run_of(request, job, run))


def _punch_page(request: Request, opened: OpenedRun, problem: Problem | None = None) -> Response:
    return render(
        request,
        "acceptance_punch.html",
        status=problem.status if problem else 200,
        headers=problem.headers if problem else None,
        job=book(request).job(opened.link.job),
        stop="acceptance",
        problem=problem,
        **_end_shown(request, opened),
    )


@router.post("/jobs/{job}/acceptance/{run}/punch/{number}/leave-open")
def leave_open(
    request: Request,
    job: str,
    run: str,
    number: int,
    event_id: Typed = "",
    note: Typed = "",
    name: Typed = "",
    proof: Typed = "",
    your_name: Typed = "",
) -> Response:
    """The witness lets an item of B or C stand open."""
    opened = run_of(request, job, run)
    try:
        who = as_named(request, your_name, "engineer", "technician", "witness")
        if "witness" not in who.roles and not who.is_local:
            raise Forbidden("only the witness lets an item stand open")
        desk = desk_at_point(request, opened, "witness", name, proof)
        enter(request, opened, desk, lambda at, _: AcceptOpenItem(at.stamp(event_id), number, note.strip()))
    except (InputError, *REFUSALS) as error:
        return _punch_page(request, opened, problem_of(error))
    return redirect(request, f"{opened.address}/punch", f"Item {number} stands open, with the consent of {desk.who}.")


# Signatures


@router.get("/jobs/{job}/acceptance/{run}/sign")
def sign_page(request: Request, job: str, run: str) -> Response:
    """What is signed, by whom, and what comes after."""
    return _sign_page(request, run_of(request, job, run), {})


@router.post("/jobs/{job}/acceptance/{run}/sign")
def sign(
    request: Request,
    job: str,
    run: str,
    what: Typed = "sign",
    seq: Annotated[int, Form()] = 0,
    head: Typed = "",
    event_id: Typed = "",
    name: Typed = "",
    role: Typed = "",
    proof: Typed = "",
    statement: Typed = "",
    reason: Typed = "",
    your_name: Typed = "",
) -> Response:
    """Sign, release, reopen or close: with the password again, or at the machine itself with the run's PIN."""
    opened = run_of(request, job, run)
    typed = {"what": what, "name": name, "role": role, "statement": statement, "reason": reason}
    try:
        who = as_named(request, your_name, "engineer", "technician", "witness")
        if what not in STEPS_OF_THE_END:
            raise InputError("form", "what", f"{what[:20]!r} is nothing to sign", ", ".join(STEPS_OF_THE_END))
        role = role or who.role
        desk = desk_by_proof(request, opened.run, name, role, proof)
        if (seq, head) != (opened.state.seq, opened.state.head):
            raise Refused("the record has moved on since it was shown", "read what is new, then sign")
        words = statement.strip() or reason.strip()
        state = enter(request, opened, desk, lambda at, _: _ending(request, opened, at, what, event_id, words))
    except (InputError, *REFUSALS) as error:
        return _sign_page(request, opened, typed, problem_of(error))
    note(request, f"test run: {what}", opened.run, f"{desk.who} as {desk.role}")
    if state.kind == "site" and what == "sign" and desk.role == "engineer":
        book(request).mark(job, "in service", opened.link.revision, by=desk.who, note=opened.run)
    said = {
        "sign": f"Signed by {desk.who} as {desk.role}.",
        "release": "The unit may ship.",
        "reopen": "The record is open again; signatures before no longer cover it.",
        "close": "The run is closed.",
    }
    return redirect(request, f"{opened.address}/sign", said[what])


def _ending(request: Request, opened: OpenedRun, desk: Desk, what: str, event_id: str, words: str) -> Command:
    stamp = desk.stamp(event_id)
    if what == "reopen":
        return Reopen(stamp, words)
    if what == "close":
        return CloseRun(stamp, words)
    key = SigningKey(shop(request).settings.data_folder / SIGNING_KEY)
    if what == "release":
        return key.release(opened.state, stamp, words or RELEASE_STATEMENT)
    return key.sign(opened.state, stamp, words or SIGN_STATEMENTS.get(desk.role, SIGN_STATEMENTS[""]))


def _sign_page(request: Request, opened: OpenedRun, typed: dict[str, str], problem: Problem | None = None) -> Response:
    return render(
        request,
        "acceptance_sign.html",
        status=problem.status if problem else 200,
        headers=problem.headers if problem else None,
        job=book(request).job(opened.link.job),
        stop="acceptance",
        typed=typed,
        problem=problem,
        **_end_shown(request, opened),
    )


def _end_shown(request: Request, opened: OpenedRun) -> dict[str, Any]:
    who, state = viewer(request), opened.state
    may_enter = who.may("engineer", "technician", "witness")
    return {
        "opened": opened,
        "run": state,
        "standing": standing_of(state),
        "outstanding": state.outstanding,
        "titles": {step.key: step.title for step in state.steps},
        "categories": CATEGORIES,
        "sign_roles": [(one, one) for one in ROLES if who.is_local or one in who.roles],
        "statements": SIGN_STATEMENTS,
        "release_statement": RELEASE_STATEMENT,
        "fingerprint": fingerprint_of,
        "moment": moment_text,
        "fresh_id": fresh_id,
        "may_enter": may_enter,
        "may_release": "engineer" in who.roles,
        "may_reopen": bool(MAY["reopened"] & set(_roles_here(who))),
        "shortest_pin": SHORTEST_PIN,
        "has_shop_key": _shop_key(request) is not None,
        "not_signed": NOT_SIGNED,
        "nobody_vouches": NOBODY_VOUCHES,
        "lost": len(state.signatures) - len(state.covering),
        "whole_test": WHOLE_TEST,
        "waiting": _waiting(state),
    }


def _waiting(state: RunState) -> str:
    """What of the punch list still keeps the unit from being released; the record decides, this says it beforehand."""
    open_items = [item for item in state.punch_list if not item.settled]
    return "; ".join(f"Item {item.number}, {item.category}, is open: {item.text}" for item in open_items)


def _roles_here(who: Viewer) -> tuple[str, ...]:
    """The roles in which somebody may act here: at the machine itself any, with a PIN."""
    return ROLES if who.is_local else who.roles


# Certificate, export, verifying


@router.get("/jobs/{job}/acceptance/{run}/certificate.pdf")
def certificate(request: Request, job: str, run: str) -> Response:
    """The certificate as the record gives it now, unsigned."""
    return _certificate(request, run_of(request, job, run), None, "")


@router.post("/jobs/{job}/acceptance/{run}/certificate.pdf")
def certificate_signed(request: Request, job: str, run: str, signed: Typed = "") -> Response:
    """The certificate with the shop's key, or with a key made on the spot: who had it signed is noted."""
    who = require_name(request, "engineer")
    opened = run_of(request, job, run)
    if signed not in KEYS:
        raise InputError("certificate", "signed", f"{signed[:20]!r} is no key", " or ".join(KEYS))
    key = _shop_key(request) if signed == "shop" else None
    if signed == "shop" and key is None:
        raise InputError("certificate", "key", "the shop has put no key here", f"{SHOP_KEY} in the data folder")
    answer = _certificate(request, opened, key, who.name if signed == "self" else "")
    note(request, "certificate signed", opened.run, signed)
    return answer


def _certificate(request: Request, opened: OpenedRun, key: Path | None, own: str) -> Response:
    here = shop(request)
    passphrase = os.environ.get(PASSPHRASE, "") if key is not None else ""
    system = system_of(here, opened.state)
    content, _ = here.working.run(certificate_paper, here.settings.store, opened.run, system, key, passphrase, own)
    return download(content, f"{file_name_of(opened.state.job)}_certificate.pdf", "application/pdf")


def _shop_key(request: Request) -> Path | None:
    path = shop(request).settings.data_folder / SHOP_KEY
    return path if path.is_file() else None


@router.get("/jobs/{job}/acceptance/{run}/record.zip")
def export(request: Request, job: str, run: str) -> Response:
    """The whole record with its files, to be verified anywhere."""
    return exported_record(request, run_of(request, job, run))


def exported_record(request: Request, opened: OpenedRun) -> Response:
    """The record of a run in one file."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "record.zip"
        export_run(shop(request).database.records, opened.run, path)
        return download(path.read_bytes(), f"{opened.run}.zip", "application/zip")


@router.get("/verify")
def verify_page(request: Request) -> Response:
    """Whether an exported record is untouched."""
    return render(request, "acceptance_verify.html", found=None, problem=None, name="", fingerprint=fingerprint_of)


@router.post("/verify")
def verify(request: Request, record: UploadFile | None = None, head: Typed = "", fingerprint: Typed = "") -> Response:
    """The verdict on an uploaded record."""
    problem, found = None, None
    try:
        content = b"" if record is None else record.file.read(LARGEST_RECORD_bytes + 1)
        if not content or len(content) > LARGEST_RECORD_bytes:
            what = "is too large for this page" if content else "no file was chosen"
            raise InputError(
                "record", "", what, "an exported record of at most 19 MB; larger: vaporwright accept verify"
            )
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "record.zip"
            path.write_bytes(content)
            found = verify_export(path, head.strip() or None, fingerprint.strip() or None)
    except InputError as error:
        problem = problem_of(error)
    return render(
        request,
        "acceptance_verify.html",
        status=problem.status if problem else 200,
        found=found,
        problem=problem,
        name=(record.filename or "")[:80] if record else "",
        fingerprint=fingerprint_of,
    )
