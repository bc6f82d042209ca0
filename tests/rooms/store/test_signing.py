"""The shop's key, and signatures over the head of a record."""

from __future__ import annotations

import hashlib
import os
import stat
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from cryptography.hazmat.primitives.asymmetric.rsa import generate_private_key
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

from invented_record import Hand
from vaporwright.acceptance.record.chain import ORIGIN, event_of, seal, verify
from vaporwright.acceptance.record.state import replay
from vaporwright.foundation.errors import InputError
from vaporwright.store.signing import SigningKey, verify_signatures


def _signed(key: SigningKey) -> Hand:
    hand = Hand()
    hand.runs_through()
    hand.enters(key.sign(hand.state, hand.stamp("engineer"), "tested as written"))
    hand.enters(key.sign(hand.state, hand.stamp("witness"), "seen"))
    hand.enters(key.release(hand.state, hand.stamp("engineer"), "may ship"))
    return hand


def test_the_key_is_made_once_for_its_owner_alone(tmp_path: Path) -> None:
    path = tmp_path / "keys" / "shop.pem"
    first = SigningKey(path)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert os.listdir(path.parent) == ["shop.pem"]
    again = SigningKey(path)
    assert (again.public_key, again.fingerprint) == (first.public_key, first.fingerprint)
    assert first.fingerprint.replace(" ", "") == hashlib.sha256(bytes.fromhex(first.public_key)).hexdigest()[:32]
    assert SigningKey(tmp_path / "other.pem").public_key != first.public_key


def test_two_who_make_the_key_at_once_have_the_same(tmp_path: Path) -> None:
    with ThreadPoolExecutor(6) as pool:
        keys = list(pool.map(lambda _: SigningKey(tmp_path / "shop.pem").public_key, range(6)))
    assert len(set(keys)) == 1


def test_a_key_that_others_may_read_or_of_another_kind_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "shop.pem"
    SigningKey(path)
    path.chmod(0o640)
    with pytest.raises(InputError, match="others may read"):
        SigningKey(path)
    rsa = generate_private_key(65537, 2048)
    for content in (b"", b"nonsense", rsa.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())):
        path.write_bytes(content)
        path.chmod(0o600)
        with pytest.raises(InputError, match="no signing key"):
            SigningKey(path)


def test_a_signature_stands_over_the_words_that_the_readme_says(tmp_path: Path) -> None:
    hand = _signed(SigningKey(tmp_path / "shop.pem"))
    signed = hand.state.signatures[0]
    place = signed.seq - 2
    text = (
        'vaporwright signature 1\n{"head":"' + hand.rows[place].hash + '","name":"A engineer","role":"engineer",'
        '"run":"demo-1","seq":' + str(hand.rows[place].seq) + ',"statement":"tested as written"}'
    )
    public = Ed25519PublicKey.from_public_bytes(bytes.fromhex(signed.public_key))
    public.verify(bytes.fromhex(signed.signature), text.encode())  # raises where it is not genuine


def test_signatures_verify_and_name_their_key(tmp_path: Path) -> None:
    key = SigningKey(tmp_path / "shop.pem")
    found = verify_signatures(verify(_signed(key).rows), key.fingerprint)
    assert found.ok
    assert [(one.role, one.kind) for one in found.signatures] == [
        ("engineer", "signed"), ("witness", "signed"), ("engineer", "ship released"),
    ]  # fmt: skip
    other = SigningKey(tmp_path / "other.pem")
    assert "another key" in verify_signatures(verify(_signed(other).rows), key.fingerprint).problem
    unsigned = Hand()
    unsigned.runs_through()
    assert verify_signatures(verify(unsigned.rows)).ok
    assert "nobody signed" in verify_signatures(verify(unsigned.rows), key.fingerprint).problem


def test_a_chain_made_anew_under_an_old_signature_is_found(tmp_path: Path) -> None:
    """Everything sealed again after one reading was changed: hashes fit, the signature does not."""
    hand = _signed(SigningKey(tmp_path / "shop.pem"))
    events = [event_of(row) for row in hand.rows]
    events[0] = replace(events[0], data={**events[0].data, "customer": "Somebody Else"})
    rows = []
    head = ORIGIN
    for seq, event in enumerate(events, 1):
        data = dict(event.data)
        if event.kind in ("signed", "ship released"):
            data["head"] = head
        rows += seal([replace(event, data=data)], "demo-1", head, seq)
        head = rows[-1].hash
    assert verify(rows).ok
    found = verify_signatures(verify(rows))
    assert (found.ok, found.seq) == (False, hand.state.signatures[0].seq)
    assert "not genuine" in found.problem
    assert replay(rows).customer == "Somebody Else"


@pytest.mark.parametrize("change", ["who", "role", "statement", "public_key", "signature"])
def test_who_signed_what_cannot_be_changed(tmp_path: Path, change: str) -> None:
    hand = _signed(SigningKey(tmp_path / "shop.pem"))
    place = hand.state.signatures[-1].seq - 1
    event = event_of(hand.rows[place])
    if change in ("who", "role"):
        forged = replace(event, **{change: "witness"})
    else:
        value = event.data[change]
        forged = replace(event, data={**event.data, change: ("0" if value[0] != "0" else "1") + value[1:]})
    rows = (*hand.rows[:place], *seal([forged], "demo-1", hand.rows[place - 1].hash, place + 1))
    assert verify(rows).ok
    assert not verify_signatures(verify(rows)).ok
