"""Signed papers: whole and covered where nothing was touched, and never where a byte was."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from io import BytesIO
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.hazmat.primitives.serialization import pkcs12
from cryptography.x509.oid import NameOID
from pypdf import PdfReader, PdfWriter

from vaporwright.documents.pdf_signing import (
    SigningKey,
    make_self_signed,
    read_signing_key,
    signed_pdf,
    verify_signed_pdf,
)
from vaporwright.documents.typeset import typeset
from vaporwright.foundation.errors import InputError

AT = datetime(2026, 3, 5, 17, 0, tzinfo=UTC)
FLIPS = 120


@cache
def paper() -> bytes:
    data = {
        "paper": "us-letter",
        "created": None,
        "title": "Paper",
        "job": "Invented",
        "foot": "",
        "sentence": "Words.",
    }
    data |= {"customer": "", "how": [], "advice": "", "sections": [], "log": None}
    return typeset("reading_sheet.typ", data)


@cache
def own_key() -> SigningKey:
    return make_self_signed("Invented Shop", made_at=AT, organization="Invented Fabrication")


@cache
def signed() -> bytes:
    return signed_pdf(paper(), own_key(), at=AT, place="test bay")


def shop_key(folder: Path) -> tuple[Path, bytes]:
    """A key whose certificate an authority of the shop signed; the authority's certificate."""

    def name(text: str) -> x509.Name:
        return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, text)])

    def certificate(
        subject: str, key: rsa.RSAPrivateKey, by: rsa.RSAPrivateKey, *, authority: bool
    ) -> x509.Certificate:
        usage = x509.KeyUsage(not authority, not authority, False, False, False, authority, authority, False, False)
        return (
            x509.CertificateBuilder()
            .subject_name(name(subject))
            .issuer_name(name("Invented authority"))
            .public_key(key.public_key())
            .serial_number(7 if authority else 8)
            .not_valid_before(AT - timedelta(days=30))
            .not_valid_after(AT + timedelta(days=300))
            .add_extension(x509.BasicConstraints(ca=authority, path_length=None), critical=True)
            .add_extension(usage, critical=True)
            .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
            .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(by.public_key()), critical=False)
            .sign(by, hashes.SHA256())
        )

    root_key, key = (rsa.generate_private_key(65537, 2048) for _ in range(2))
    root = certificate("Invented authority", root_key, root_key, authority=True)
    own = certificate("Invented Shop, test bay", key, root_key, authority=False)
    secret = serialization.BestAvailableEncryption(b"open sesame")
    path = folder / "shop.p12"
    path.write_bytes(pkcs12.serialize_key_and_certificates(b"shop", key, own, [root], secret))
    return path, root.public_bytes(serialization.Encoding.DER)


def test_a_self_signed_paper_is_whole_but_vouched_for_by_nobody() -> None:
    report = verify_signed_pdf(signed(), at=AT)
    assert report.signed
    assert report.intact
    assert report.covers_whole_file
    assert not report.trusted
    assert not report.holds
    assert report.signer == "Invented Shop"
    assert report.signed_at == AT
    assert report.reason.startswith("Certificate of test")
    assert "not who signed it" in report.warning
    assert own_key().self_signed
    assert own_key().fingerprint in own_key().warning
    assert report.fingerprint.replace(" ", "") == own_key().fingerprint.replace(" ", "")


def test_with_its_certificate_trusted_it_holds() -> None:
    report = verify_signed_pdf(signed(), at=AT, trusted_certificates=[own_key().certificate])
    assert report.holds
    assert report.warning == ""
    other = make_self_signed("Invented Shop", made_at=AT, organization="Invented Fabrication")
    assert not verify_signed_pdf(signed(), at=AT, trusted_certificates=[other.certificate]).trusted


def test_the_signed_paper_reads_as_before() -> None:
    before, after = PdfReader(BytesIO(paper())), PdfReader(BytesIO(signed()))
    assert [page.extract_text() for page in after.pages] == [page.extract_text() for page in before.pages]
    assert signed().startswith(paper())


def test_no_clock_but_the_one_handed_in() -> None:
    then = AT + timedelta(days=400)
    content = signed_pdf(paper(), own_key(), at=then)
    assert b"20270409170000" in content
    assert verify_signed_pdf(content, at=then).signed_at == then


def test_any_byte_altered_shows() -> None:
    rng = random.Random(20260305)
    content = signed()
    gap = content.index(b"/Contents <") + 11  # the signature itself, and the zeros behind it
    places = [rng.randrange(len(content)) for _ in range(FLIPS)]
    places += [gap, gap + 7, gap + 5000, gap + 16000, len(content) - 1, 0]
    for place in places:
        broken = bytearray(content)
        broken[place] ^= 1 << rng.randrange(8)
        report = verify_signed_pdf(bytes(broken), at=AT, trusted_certificates=[own_key().certificate])
        assert not report.intact, place
        assert not report.holds, place
        assert report.warning, place


@pytest.mark.parametrize("more", [b"\n", b"% a remark\n"])
def test_bytes_appended_are_not_covered(more: bytes) -> None:
    report = verify_signed_pdf(signed() + more, at=AT, trusted_certificates=[own_key().certificate])
    assert not report.covers_whole_file
    assert not report.holds


def test_a_later_revision_is_not_covered() -> None:
    writer = PdfWriter(BytesIO(signed()), incremental=True)
    writer.add_metadata({"/Keywords": "added later"})
    out = BytesIO()
    writer.write(out)
    assert out.getvalue().startswith(signed())
    report = verify_signed_pdf(out.getvalue(), at=AT, trusted_certificates=[own_key().certificate])
    assert not report.covers_whole_file
    assert not report.holds
    assert "added" in report.warning


def test_a_cut_tail_shows() -> None:
    for length in (len(signed()) - 1, len(signed()) // 2, 10):
        assert not verify_signed_pdf(signed()[:length], at=AT).holds


def test_an_unsigned_paper_and_no_paper() -> None:
    assert verify_signed_pdf(paper(), at=AT).warning == "This paper carries no digital signature."
    assert not verify_signed_pdf(paper(), at=AT).signed
    for content in (b"", b"no paper"):
        report = verify_signed_pdf(content, at=AT)
        assert not report.signed
        assert "damaged" in report.warning


def test_the_shops_key(tmp_path: Path) -> None:
    path, root = shop_key(tmp_path)
    key = read_signing_key(path, "open sesame")
    assert key.name == "Invented Shop, test bay"
    assert not key.self_signed
    assert key.warning == ""
    content = signed_pdf(paper(), key, at=AT)
    assert verify_signed_pdf(content, at=AT, trusted_certificates=[root]).holds
    alone = verify_signed_pdf(content, at=AT)
    assert alone.intact
    assert not alone.trusted
    assert "none that is trusted" in alone.warning


def test_the_shops_key_expires(tmp_path: Path) -> None:
    path, root = shop_key(tmp_path)
    key = read_signing_key(path, "open sesame")
    with pytest.raises(InputError, match="not valid on 2027-03-05"):
        signed_pdf(paper(), key, at=AT + timedelta(days=365))
    report = verify_signed_pdf(
        signed_pdf(paper(), key, at=AT), at=AT + timedelta(days=365), trusted_certificates=[root]
    )
    assert report.intact
    assert not report.trusted


def test_keys_that_cannot_be_used(tmp_path: Path) -> None:
    path, _ = shop_key(tmp_path)
    with pytest.raises(InputError, match="passphrase"):
        read_signing_key(path, "wrong")
    with pytest.raises(InputError, match="cannot be read"):
        read_signing_key(tmp_path / "none.p12", "open sesame")
    (tmp_path / "junk.p12").write_bytes(b"junk")
    with pytest.raises(InputError, match="PKCS#12"):
        read_signing_key(tmp_path / "junk.p12", "")
    with pytest.raises(InputError, match="name"):
        make_self_signed(" ", made_at=AT)
    with pytest.raises(InputError, match="offset"):
        make_self_signed("Shop", made_at=AT.replace(tzinfo=None))
    with pytest.raises(InputError, match="offset"):
        signed_pdf(paper(), own_key(), at=AT.replace(tzinfo=None))


def test_a_key_never_prints_its_secret() -> None:
    assert "signer" not in repr(own_key())
    assert replace(own_key(), signer=None) == own_key()
