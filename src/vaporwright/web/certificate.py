"""A certificate that a machine signs for itself, so that a tablet's line to it is encrypted."""

from __future__ import annotations

import ipaddress
from datetime import UTC, datetime, timedelta
from typing import Final

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

LASTS: Final = timedelta(days=825)  # browsers refuse longer ones
ALWAYS: Final = ("localhost", "127.0.0.1", "::1")


def made_pair(names: tuple[str, ...], now: datetime | None = None) -> tuple[bytes, bytes]:
    """Certificate and private key in PEM, for the names and addresses under which a server is reached."""
    key = ec.generate_private_key(ec.SECP256R1())
    begins = (now or datetime.now(UTC)) - timedelta(minutes=5)
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Vaporwright on this machine")])
    known = [_named(one) for one in dict.fromkeys((*ALWAYS, *names))]
    certificate = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(begins)
        .not_valid_after(begins + LASTS)
        .add_extension(x509.SubjectAlternativeName(known), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, hashes.SHA256())
    )
    private = key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    return certificate.public_bytes(serialization.Encoding.PEM), private


def _named(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(name.strip("[]")))
    except ValueError:
        return x509.DNSName(name)
