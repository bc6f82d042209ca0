"""The papers of a test: procedure, reading sheets, certificate, each written to a file."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Final

from vaporwright.acceptance.record.certificate import Certificate
from vaporwright.actions.papers import write_bytes
from vaporwright.actions.tested_job import TestedJob
from vaporwright.foundation.errors import InputError
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.levels import levels_of

SIGN_STATEMENTS: Final[Mapping[str, str]] = {
    "": "I took part in this test; the record shows what was read.",
    "engineer": "The test was run as the procedure says; deviations are in the record.",
    "witness": "I have witnessed this test and have a copy of its head.",
}
RELEASE_STATEMENT: Final = "Every item of category A is closed; the unit may ship."


def tank_drawing(answer: UnitAnswer, system: str) -> str:
    """The tank with its rods as a procedure shows it, as SVG."""
    from vaporwright.documents.elevation_part import elevation_svg

    return elevation_svg(answer, levels_of(answer), system, title=answer.job.text("job.name"))


def write_procedure(tested: TestedJob, path: Path, system: str, *, run: str = "") -> Path:
    """Write the procedure for paper use, the tank with its rods in it; run: its name, where it has one already.

    Raises: InputError where it can't be written.
    """
    from vaporwright.documents.procedure_paper import procedure_pdf

    drawing = tank_drawing(tested.controlled.answer, system)
    return write_bytes(path, procedure_pdf(tested.procedure, system, drawing=drawing, run=run))


def write_reading_sheets(tested: TestedJob, path: Path, system: str, *, run: str = "") -> Path:
    """Write the sheets that are filled in by hand and typed in later; run: as there.

    Raises: InputError where it can't be written.
    """
    from vaporwright.documents.reading_sheet import reading_sheet_pdf

    return write_bytes(path, reading_sheet_pdf(tested.procedure, system, run=run))


def write_certificate(
    certificate: Certificate,
    path: Path,
    system: str,
    *,
    key: Path | None = None,
    passphrase: str = "",
    self_signed: str = "",
) -> tuple[Path, str]:
    """Write the certificate, signed where a key is given; the file and what must be warned of come back.

    Args: key: PKCS #12 file of the shop, with its passphrase; self_signed: a name, for a key made on the spot.
    Raises: InputError for both at once, a key that does not open, or a file that can't be written.
    """
    from vaporwright.documents.certificate_paper import certificate_pdf
    from vaporwright.documents.pdf_signing import NOT_SIGNED, make_self_signed, read_signing_key, signed_pdf

    if key is not None and self_signed:
        raise InputError("certificate", "--self-signed", "a key is given too", "one of the two")
    pdf = certificate_pdf(certificate, system)
    if key is None and not self_signed:
        return write_bytes(path, pdf), NOT_SIGNED
    at = datetime.now().astimezone()
    signing = read_signing_key(key, passphrase) if key is not None else make_self_signed(self_signed, made_at=at)
    return write_bytes(path, signed_pdf(pdf, signing, at=at)), signing.warning
