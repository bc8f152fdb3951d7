"""``bundle`` and ``receive`` with keys: signed, encrypted, beside the file; a wrong key takes nothing in.

The keys are drawn on the spot; the certificate's dates are fixed.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ec import SECP256R1, generate_private_key
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
)

from tests.cli.receiving import tree, whole
from tests.jose import vectors
from woundfhir.record.files import to_yaml


@pytest.fixture(scope="module")
def keys(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder, out = tmp_path_factory.mktemp("keys"), {}
    for name in ("ours", "theirs"):
        made = generate_private_key(SECP256R1())
        private = made.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
        public = made.public_key().public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo)
        for half, content in (("private", private), ("public", public)):
            out[f"{name} {half}"] = folder / f"{name}.{half}.pem"
            out[f"{name} {half}"].write_bytes(content)
        out[f"{name} private"].chmod(0o600)
    return out


def test_signed_and_encrypted(said: Any, keys: dict[str, Path], tmp_path: Path) -> None:
    record, sealed, into = tmp_path / "story.yaml", tmp_path / "sealed", tmp_path / "in"
    record.write_bytes(to_yaml(whole()))
    made = said("bundle", record, "--sign", keys["theirs private"], "--encrypt-for", keys["ours public"], "-o", sealed)
    assert made[0] == 0
    trusted = ("--verify-key", keys["theirs public"], "--key", keys["ours private"])
    code, out, _ = said("receive", sealed, *trusted, "--into", into)
    assert code == 0
    assert "Signature: ok." in out
    files = tree(into)
    assert sealed.read_bytes() in files.values()
    assert any(name.endswith(".jose") for name in files)
    said("receive", sealed, *trusted, "--into", into)
    assert tree(into) == files
    for wrong, words in (
        ((), "the private key that opens"),
        (("--key", keys["theirs private"]), "sealed"),
        (("--key", keys["ours private"], "--verify-key", keys["ours public"]), "wrong key"),
    ):
        code, out, err = said("receive", sealed, *wrong, "--into", tmp_path / "other")
        assert (code, out) == (2, "")
        assert words in err
    assert "no key" in said("receive", sealed, "--key", keys["ours private"])[1]
    assert not (tmp_path / "other").exists()


def test_a_private_key_with_a_password(said: Any, keys: dict[str, Path], tmp_path: Path) -> None:
    key, password, wrong = tmp_path / "key.pem", tmp_path / "password", tmp_path / "wrong"
    native = load_pem_private_key(keys["ours private"].read_bytes(), None)
    key.write_bytes(native.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, BestAvailableEncryption(b"open it")))
    key.chmod(0o600)
    password.write_bytes(b"open it\n")
    wrong.write_bytes(b"shut it\n")
    record, signed, sealed = tmp_path / "story.yaml", tmp_path / "signed.json", tmp_path / "sealed"
    record.write_bytes(to_yaml(whole()))
    sign = ("bundle", record, "--sign", key, "-o", signed)
    code, out, err = said(*sign)
    assert (code, out) == (2, "")
    assert "--password-file" in err
    assert "Check the password" in said(*sign, "--password-file", wrong)[2]
    assert not signed.exists()
    assert said(*sign, "--password-file", password)[0] == 0
    assert "Signature: ok." in said("receive", signed, "--verify-key", keys["ours public"])[1]
    said("bundle", record, "--encrypt-for", keys["ours public"], "-o", sealed)
    assert said("receive", sealed, "--key", key)[0] == 2
    assert said("receive", sealed, "--key", key, "--password-file", password)[0] in (0, 1)


@pytest.mark.skipif(os.name != "posix", reason="permissions of POSIX")
def test_a_private_key_that_others_can_read_is_refused(said: Any, keys: dict[str, Path], tmp_path: Path) -> None:
    # As ssh(1) does: "a private key file ... accessible by others"
    key, link, record, signed = (tmp_path / name for name in ("key.pem", "link.pem", "story.yaml", "signed.json"))
    key.write_bytes(keys["ours private"].read_bytes())
    link.symlink_to(key)
    record.write_bytes(to_yaml(whole()))
    for mode in (0o644, 0o640, 0o604, 0o620, 0o602, 0o777):
        key.chmod(mode)
        for name in (key, link):
            code, out, err = said("bundle", record, "--sign", name, "-o", signed)
            assert (code, out, signed.exists()) == (2, "", False), oct(mode)
            assert f"{name}: " in err and "chmod 600" in err
        assert "chmod 600" in said("receive", record, "--key", key)[2]
    key.chmod(0o400)
    assert said("bundle", record, "--sign", link, "-o", signed)[0] == 0
    keys["ours public"].chmod(0o644)
    assert said("receive", signed, "--verify-key", keys["ours public"])[0] in (0, 1), "a public key may be read by all"


def test_a_signature_that_was_asked_for_and_is_not_there(said: Any, came: Path, keys: dict[str, Path]) -> None:
    code, out, err = said("receive", came, "--verify-key", keys["theirs public"])
    assert (code, out) == (2, "")
    assert "no signature" in err


def test_a_changed_byte(said: Any, keys: dict[str, Path], tmp_path: Path) -> None:
    record, signed = tmp_path / "story.yaml", tmp_path / "signed.json"
    record.write_bytes(to_yaml(whole()))
    said("bundle", record, "--sign", keys["theirs private"], "-o", signed)
    assert said("receive", signed, "--verify-key", keys["theirs public"])[0] in (0, 1)
    text = signed.read_text("utf-8")
    signed.write_text(text.replace('"Example-Rowan"', '"Example-Rowen"'), "utf-8")
    code, out, err = said("receive", signed, "--verify-key", keys["theirs public"], "--into", tmp_path / "in")
    assert (code, out) == (2, "")
    assert "content changed" in err
    assert not (tmp_path / "in").exists()


def test_a_signature_beside_an_xml_bundle(said: Any, keys: dict[str, Path], tmp_path: Path) -> None:
    record, sent, into = tmp_path / "story.yaml", tmp_path / "sent.xml", tmp_path / "in"
    record.write_bytes(to_yaml(whole()))
    sign = ("bundle", record, "--to", "fhir-xml", "--sign", keys["theirs private"])
    code, out, err = said(*sign)
    assert (code, out) == (2, "")
    assert "-o FILE" in err
    assert said(*sign, "-o", sent)[0] == 0
    beside = tmp_path / "sent.xml.jws"
    code, out, _ = said("receive", sent, "--verify-key", keys["theirs public"], "--into", into)
    assert code == 0
    assert "Signature: ok." in out
    assert {sent.read_bytes(), beside.read_bytes()} <= set(tree(into).values())
    sent.write_bytes(sent.read_bytes() + b"\n")
    code, out, err = said("receive", sent, "--verify-key", keys["theirs public"], "--into", tmp_path / "other")
    assert (code, out) == (2, "")
    assert "content changed" in err
    assert f"{beside}: " in err
    sent.unlink()
    assert said(*sign, "-o", sent)[0] == 2
    assert not sent.exists(), "a name beside it that is taken writes neither"


def test_a_key_with_a_time_limit_asks_for_the_time(said: Any, came: Path, tmp_path: Path) -> None:
    private, certificate = vectors.certificate()  # valid in the year 2026
    key, trusted, signed = tmp_path / "key.pem", tmp_path / "certificate.pem", tmp_path / "signed.json"
    key.write_bytes(private)
    key.chmod(0o600)
    trusted.write_bytes(certificate)
    record = tmp_path / "story.yaml"
    record.write_bytes(to_yaml(whole()))
    assert said("bundle", record, "--sign", key, "-o", signed)[0] == 0
    code, out, err = said("receive", signed, "--verify-key", trusted)
    assert (code, out) == (2, "")
    assert "--at" in err
    assert "valid for a time only" in err
    assert "Signature: ok." in said("receive", signed, "--verify-key", trusted, "--at", "2026-12-31T23:59:59Z")[1]
    code, out, err = said("receive", signed, "--verify-key", trusted, "--at", "2027-01-01T00:00:00Z")
    assert (code, out) == (2, "")
    assert "key expired" in err
