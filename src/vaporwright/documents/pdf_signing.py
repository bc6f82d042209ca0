"""Digital signature of a paper: with the shop's key, or a key made on the spot, and reading a signed paper back.

The signature is CMS in an incremental revision of the PDF (PAdES baseline: ETSI EN 319 142-1 names the format; the
library pyhanko builds it), and certifies the paper as final: no later revision is allowed. The time is handed in. It
is the signer's own statement, not a trusted time stamp.

What a signature says: nobody altered the paper since (`intact`, `covers_whole_file`), and, only where the signer's
certificate leads to one that the reader trusts, who signed it (`trusted`).
"""

from __future__ import annotations

import io
import logging
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, Final

from vaporwright.foundation.errors import InputError

FIELD: Final = "Certificate"
REASON: Final = "Certificate of test, made from its record"
ROOM_bytes: Final = 16384  # kept in the paper for the signature and its certificates
SELF_SIGNED_DAYS: Final = 3650
NOBODY_VOUCHES: Final = (
    "Self-signed: this key was made on the spot by whoever ran the tool. It shows whether the paper was altered after "
    "signing, not who signed it. Compare the key's fingerprint with the one that the shop tells you by another way."
)
NOT_SIGNED: Final = "This paper carries no digital signature."


@dataclass(frozen=True)
class SigningKey:
    """A private key with its certificate; what its use must be warned of."""

    name: str
    certificate: bytes  # DER
    fingerprint: str  # SHA-256 of the certificate
    self_signed: bool
    valid_from: datetime
    valid_to: datetime
    signer: Any = field(repr=False, compare=False)

    @property
    def warning(self) -> str:
        """What must be printed beside a result signed with this key; "" for a key that an authority vouches for."""
        return f"{NOBODY_VOUCHES} Fingerprint: {self.fingerprint}" if self.self_signed else ""


@dataclass(frozen=True)
class SignatureReport:
    """What a paper's signature shows."""

    signed: bool
    intact: bool  # not a byte of what was signed is altered
    covers_whole_file: bool  # nothing was added after signing
    trusted: bool  # the certificate leads to one that the reader trusts, and was valid
    holds: bool  # all of these together
    signer: str = ""
    fingerprint: str = ""
    reason: str = ""
    signed_at: datetime | None = None  # as the signer states it
    warning: str = ""


def read_signing_key(path: Path, passphrase: str) -> SigningKey:
    """The shop's key from a PKCS#12 file.

    Raises: InputError where the file can't be read, the passphrase is wrong, or it holds no key with certificate.
    """
    from cryptography.hazmat.primitives.serialization import pkcs12

    try:
        content = path.read_bytes()
    except OSError as error:
        raise InputError(str(path), "", f"cannot be read: {error.strerror}", "a PKCS#12 file") from None
    try:
        key, certificate, others = pkcs12.load_key_and_certificates(content, passphrase.encode("utf-8"))
    except ValueError:
        problem = "cannot be opened with this passphrase, or is no PKCS#12 file"
        raise InputError(str(path), "", problem, "a PKCS#12 file and its passphrase") from None
    if key is None or certificate is None:
        raise InputError(str(path), "", "holds no private key with its certificate", "both in one PKCS#12 file")
    return _key(key, certificate, others)


def make_self_signed(name: str, *, made_at: datetime, organization: str = "") -> SigningKey:
    """A key made on the spot, with a certificate that vouches for itself.

    Raises: InputError for an empty name or a time without offset.
    """
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import NameOID

    _check_time(made_at)
    if not name.strip() or len(name) > 64 or len(organization) > 64:
        raise InputError("signing key", "name", repr(name), "1 to 64 characters, the organization's at most 64")
    names = [x509.NameAttribute(NameOID.COMMON_NAME, name)]
    if organization:
        names.append(x509.NameAttribute(NameOID.ORGANIZATION_NAME, organization))
    key = ec.generate_private_key(ec.SECP256R1())
    usage = x509.KeyUsage(True, True, False, False, False, False, False, False, False)  # signs, and commits to content
    certificate = (
        x509.CertificateBuilder()
        .subject_name(x509.Name(names))
        .issuer_name(x509.Name(names))
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(made_at)
        .not_valid_after(made_at + timedelta(days=SELF_SIGNED_DAYS))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    return _key(key, certificate, ())


def signed_pdf(pdf: bytes, key: SigningKey, *, at: datetime, reason: str = REASON, place: str = "") -> bytes:
    """The paper with a signature of its whole content appended.

    Raises: InputError where the key's certificate is not valid at that time, or the time has no offset.
    """
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
    from pyhanko.sign import fields, signers

    _check_time(at)
    if not key.valid_from <= at <= key.valid_to:
        allowed = f"{key.valid_from:%Y-%m-%d} to {key.valid_to:%Y-%m-%d}"
        raise InputError("signing key", key.name, f"its certificate is not valid on {at:%Y-%m-%d}", allowed)

    class Signing(signers.PdfSigner):  # type: ignore[misc]
        """Takes the time that was handed in, where the library would take the machine's."""

        def init_signing_session(self, pdf_out: Any, existing_fields_only: bool = False) -> Any:
            session = super().init_signing_session(pdf_out, existing_fields_only)
            session.system_time = at
            return session

    about = signers.PdfSignatureMetadata(
        field_name=FIELD,
        name=key.name,
        reason=reason,
        location=place or None,
        md_algorithm="sha256",
        subfilter=fields.SigSeedSubFilter.ADOBE_PKCS7_DETACHED,  # the form that carries the stated time, signed
        certify=True,
        docmdp_permissions=fields.MDPPerm.NO_CHANGES,
    )
    writer = IncrementalPdfFileWriter(io.BytesIO(pdf))
    signed = Signing(about, signer=key.signer).sign_pdf(writer, bytes_reserved=ROOM_bytes).getvalue()
    assert isinstance(signed, bytes)
    return signed


def verify_signed_pdf(pdf: bytes, *, at: datetime, trusted_certificates: Sequence[bytes] = ()) -> SignatureReport:
    """What the signature of a paper shows at a time.

    Args: trusted_certificates: DER of those that the reader trusts, such as the shop's own.
    """
    _check_time(at)
    try:
        return _report(pdf, at, trusted_certificates)
    except Exception as error:  # a broken paper breaks its reader in many ways; none of them is a signature
        return _nothing(f"The paper is damaged: its signature cannot be read ({type(error).__name__}).")


def _report(pdf: bytes, at: datetime, trusted_certificates: Sequence[bytes]) -> SignatureReport:
    from pyhanko.keys.pemder import load_certs_from_pemder_data
    from pyhanko.pdf_utils.reader import PdfFileReader
    from pyhanko.sign.validation import validate_pdf_signature
    from pyhanko.sign.validation.status import SignatureCoverageLevel
    from pyhanko_certvalidator import ValidationContext

    signatures = PdfFileReader(io.BytesIO(pdf)).embedded_signatures
    if not signatures:
        return _nothing(NOT_SIGNED)
    embedded = signatures[-1]
    roots = [root for content in trusted_certificates for root in load_certs_from_pemder_data(content)]
    context = ValidationContext(trust_roots=roots, moment=at, allow_fetching=False)
    logger = logging.getLogger("pyhanko")
    level = logger.level
    logger.setLevel(logging.CRITICAL)  # what it finds is in the report, not on the terminal
    try:
        status = validate_pdf_signature(embedded, context, context)
    finally:
        logger.setLevel(level)
    intact = bool(status.intact and status.valid and _gap_is_as_written(pdf, embedded))
    covers = embedded.coverage == SignatureCoverageLevel.ENTIRE_FILE and len(signatures) == 1
    certificate = embedded.signer_cert
    own = certificate.self_signed != "no"
    return SignatureReport(
        True,
        intact,
        covers,
        bool(status.trusted),
        bool(intact and covers and status.bottom_line),
        str(certificate.subject.native.get("common_name", certificate.subject.human_friendly)),
        certificate.sha256_fingerprint,
        str(embedded.sig_object.get("/Reason", "")),
        embedded.self_reported_timestamp,
        _warning(intact, covers, bool(status.trusted), own),
    )


def _warning(intact: bool, covers: bool, trusted: bool, self_signed: bool) -> str:
    if not intact:
        return "The paper was altered after it was signed."
    if not covers:
        return "Something was added to the paper after it was signed; the signature does not cover it."
    if not trusted:
        return NOBODY_VOUCHES if self_signed else "The signer's certificate leads to none that is trusted here."
    return ""


def _nothing(warning: str) -> SignatureReport:
    return SignatureReport(False, False, False, False, False, warning=warning)


def _gap_is_as_written(pdf: bytes, embedded: Any) -> bool:
    """Whether the one gap that no digest covers holds the signature, zeros, and nothing else."""
    first, length, second, _ = (int(number) for number in embedded.byte_range)
    content = bytes(embedded.pkcs7_content)
    used = _der_length(content)
    as_written = b"<" + content.hex().upper().encode("ascii") + b">"
    return not content[used:].strip(b"\0") and pdf[first + length : second] == as_written


def _der_length(content: bytes) -> int:
    """Bytes of the one DER value that content starts with: its head (X.690, 8.1.3) and what that says follows."""
    if content[1] < 0x80:
        return 2 + content[1]
    more = content[1] & 0x7F
    return 2 + more + int.from_bytes(content[2 : 2 + more], "big")


def _key(key: Any, certificate: Any, others: Sequence[Any]) -> SigningKey:
    from cryptography.hazmat.primitives import hashes, serialization
    from pyhanko.keys.pemder import load_certs_from_pemder_data, load_private_key_from_pemder_data
    from pyhanko.sign.signers import SimpleSigner
    from pyhanko_certvalidator.registry import SimpleCertificateStore

    def der(one: Any) -> bytes:
        content = one.public_bytes(serialization.Encoding.DER)
        assert isinstance(content, bytes)
        return content

    private = key.private_bytes(
        serialization.Encoding.DER, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    own, *chain = (found for one in (certificate, *others) for found in load_certs_from_pemder_data(der(one)))
    registry = SimpleCertificateStore.from_certs(chain)
    secret = load_private_key_from_pemder_data(private, passphrase=None)
    signer = SimpleSigner(signing_cert=own, signing_key=secret, cert_registry=registry)
    print_of = certificate.fingerprint(hashes.SHA256()).hex(" ", 2).upper()
    return SigningKey(
        str(own.subject.native.get("common_name", own.subject.human_friendly)),
        der(certificate),
        print_of,
        certificate.issuer == certificate.subject,
        certificate.not_valid_before_utc,
        certificate.not_valid_after_utc,
        signer,
    )


def _check_time(at: datetime) -> None:
    if at.tzinfo is None:
        raise InputError("signature", "time", at.isoformat(), "a time with its offset")
