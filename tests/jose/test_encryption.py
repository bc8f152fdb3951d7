"""Encryption: what goes in comes out, for the right key and no other, and no changed byte passes.

Outside sources: the numbers of RFC 7516 appendix A and RFC 7520 section 5 (test_jose asks the library the same), and,
as a second implementation, the library jwcrypto where it is installed.
"""

from __future__ import annotations

import base64
import hashlib
import json
from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from joserfc import jwe
from joserfc.jwk import ECKey, OctKey, import_key

from tests.jose import vectors
from woundfhir.errors import InputError
from woundfhir.jose import encryption as secrecy
from woundfhir.jose.key_files import read_key
from woundfhir.jose.keys import Key

Json = Any
NOTE = b'{"resourceType": "Bundle", "note": "an invented note"}'
RECEIVERS = {
    "P-256": vectors.P256,
    "P-384": vectors.P384,
    "P-521": vectors.P521,
    "X25519": vectors.x25519(),
    "RSA": vectors.RSA_OTHER,
}
_FILES = {one["name"]: one for one in vectors.vectors()["jwe"]}


def public(private: dict[str, Json]) -> Key:
    return vectors.key(vectors.public(private))


def header(content: bytes) -> dict[str, Json]:
    part = content.split(b".")[0]
    return json.loads(base64.urlsafe_b64decode(part + b"=" * (-len(part) % 4)))  # type: ignore[no-any-return]


def refused(content: bytes, key: Key | None) -> str:
    with pytest.raises(InputError) as told:
        secrecy.decrypt(content, key, "note.jwe")
    assert told.value.__cause__ is None
    text = str(told.value)
    assert text.startswith("note.jwe: ") and "invented" not in text
    return text


# -- there and back --------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", RECEIVERS)
def test_only_the_private_key_opens_it(kind: str) -> None:
    made = secrecy.encrypt(NOTE, public(RECEIVERS[kind]), content_type="application/fhir+json")
    assert secrecy.is_encrypted(made) and b"invented" not in made
    assert secrecy.decrypt(made, vectors.key(RECEIVERS[kind])) == NOTE
    wanted = "RSA-OAEP-256" if kind == "RSA" else "ECDH-ES+A256KW"
    found = header(made)
    assert (found["alg"], found["enc"], found["cty"]) == (wanted, "A256GCM", "application/fhir+json")
    assert found["kid"] == public(RECEIVERS[kind]).thumbprint


@settings(max_examples=40)
@given(st.binary(max_size=4000))
def test_any_bytes_come_back(content: bytes) -> None:
    made = secrecy.encrypt(content, public(vectors.P256))
    assert secrecy.decrypt(made + b"\r\n", vectors.key(vectors.P256)) == content


def test_a_file_far_larger_than_the_library_s_own_limit_comes_back() -> None:
    content = bytes(range(256)) * 4096 * 8  # 8 MB; the library's own limit is 64 kB
    made = secrecy.encrypt(content, public(vectors.P256))
    assert secrecy.decrypt(made, vectors.key(vectors.P256)) == content


def test_each_file_has_a_key_and_a_start_of_its_own() -> None:
    first, second = (secrecy.encrypt(NOTE, public(vectors.P256)).split(b".") for _ in range(2))
    assert first[1] != second[1] and first[2] != second[2] and first[3] != second[3]


def test_another_implementation_opens_what_we_make_and_the_other_way_round() -> None:
    other = pytest.importorskip("jwcrypto.jwe", reason="the library jwcrypto is not installed")
    jwk = pytest.importorskip("jwcrypto.jwk")
    for kind, private in RECEIVERS.items():
        theirs = jwk.JWK(**private)
        read = other.JWE()
        read.deserialize(secrecy.encrypt(NOTE, public(private)).decode().strip(), key=theirs)
        assert read.payload == NOTE, kind
        alg = "RSA-OAEP-256" if kind == "RSA" else "ECDH-ES+A256KW"
        made = other.JWE(NOTE, json.dumps({"alg": alg, "enc": "A256GCM"}), recipient=theirs)
        assert secrecy.decrypt(made.serialize(compact=True).encode(), vectors.key(private)) == NOTE, kind


@pytest.mark.parametrize("name", ["RFC 7516 A.1", "RFC 7520 5.4", "RFC 7520 5.5"])
def test_the_published_files_open(name: str) -> None:
    found = secrecy.decrypt(_FILES[name]["compact"].encode(), vectors.key(_FILES[name]["key"]))
    assert hashlib.sha256(found).hexdigest() == _FILES[name]["sha256"]


# -- another key, a changed byte -------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["P-256", "RSA"])
def test_another_key_of_the_same_kind(kind: str) -> None:
    made = secrecy.encrypt(NOTE, public(RECEIVERS[kind]))
    other = vectors.RSA if kind == "RSA" else dict(ECKey.generate_key("P-256").as_dict(private=True))
    assert "and this is another" in refused(made, vectors.key(other))


def test_a_key_of_another_kind_or_curve() -> None:
    made = secrecy.encrypt(NOTE, public(vectors.P256))
    for other in (vectors.RSA, vectors.P384, vectors.x25519(), vectors.ED25519):
        assert "and this is another" in refused(made, vectors.key(other))


def test_where_the_file_names_no_key_both_reasons_are_given() -> None:
    for algorithm, secret in (("ECDH-ES+A256KW", vectors.P256), ("ECDH-ES", vectors.P256), ("RSA-OAEP", vectors.RSA)):
        key = import_key(vectors.public(secret))
        made = jwe.encrypt_compact({"alg": algorithm, "enc": "A256GCM"}, NOTE, key, algorithms=[algorithm, "A256GCM"])
        other = vectors.RSA_OTHER if algorithm == "RSA-OAEP" else ECKey.generate_key("P-256").as_dict(private=True)
        assert "and an unchanged file" in refused(made.encode(), vectors.key(dict(other)))


_SENT = {
    kind: secrecy.encrypt(NOTE, vectors.key(vectors.public(RECEIVERS[kind]), kid="ward-3")) for kind in ("P-256", "RSA")
}


@settings(max_examples=300)
@given(st.sampled_from(sorted(_SENT)), st.data())
def test_no_changed_byte_passes(kind: str, data: Any) -> None:
    sent = _SENT[kind].rstrip(b"\n")
    place = data.draw(st.integers(0, len(sent) - 1))
    changed = bytes([sent[place] ^ data.draw(st.integers(1, 255))])
    refused(sent[:place] + changed + sent[place + 1 :], vectors.key(RECEIVERS[kind], kid="ward-3"))


@pytest.mark.parametrize("kind", sorted(_SENT))
@pytest.mark.parametrize("part", range(5))
def test_a_changed_part_is_distinguished_from_another_key(kind: str, part: int) -> None:
    """Also in the last character, whose spare bits the usual decoder leaves out."""
    for place in (5, -1):
        parts = [bytearray(one) for one in _SENT[kind].rstrip(b"\n").split(b".")]
        parts[part][place] = ord("A") if parts[part][place] != ord("A") else ord("B")
        text = refused(b".".join(parts), vectors.key(RECEIVERS[kind], kid="ward-3"))
        assert "this one was changed or cut" in text


def test_a_file_that_was_cut() -> None:
    sent, key = _SENT["P-256"], vectors.key(vectors.P256, kid="ward-3")
    assert "this one was changed or cut" in refused(sent[:-9], key)
    assert "this one was changed or cut" in refused(sent[: sent.rindex(b".")], key)
    assert "this one was changed or cut" in refused(sent + sent, key)


# -- what is no encrypted file, no key, no safe algorithm ------------------------------------------

_NOT_ENCRYPTED = [NOTE, b"", b"a note", b"eyJhbGciOiJFUzI1NiJ9..AAAA", b"\x00\x01.\x02", b"<Bundle/>"]


@pytest.mark.parametrize("content", _NOT_ENCRYPTED)
def test_what_is_not_encrypted_is_reported_as_such(content: bytes) -> None:
    assert not secrecy.is_encrypted(content)
    assert "and this is not one" in refused(content, vectors.key(vectors.P256))


def test_no_key_and_a_public_key() -> None:
    assert "Give the key" in refused(_SENT["P-256"], None)
    assert "this is a public one" in refused(_SENT["P-256"], public(vectors.P256))


@pytest.mark.filterwarnings("ignore:JWE algorithm")
def test_unsafe_algorithms_are_not_used() -> None:
    key = vectors.key(vectors.RSA)
    assert "an algorithm that is safe" in refused(_FILES["RFC 7516 A.2"]["compact"].encode(), key)  # RSA1_5
    assert "an algorithm that is safe" in refused(_FILES["RFC 7516 A.3"]["compact"].encode(), key)  # A128KW: shared
    shared = jwe.encrypt_compact({"alg": "dir", "enc": "A128GCM"}, NOTE, OctKey.generate_key(128))
    assert "an algorithm that is safe" in refused(shared.encode(), key)
    small = jwe.encrypt_compact(
        {"alg": "RSA-OAEP", "enc": "A128GCM", "zip": "DEF"}, bytes(100_000), import_key(vectors.public(vectors.RSA))
    )
    assert "an algorithm that is safe" in refused(small.encode(), key)


@pytest.mark.parametrize("epk", [{}, {"kty": "EC"}, {"kty": "EC", "crv": "P-256", "x": "AAAA", "y": "AAAA"}, 3, None])
def test_a_header_of_nonsense_is_refused(epk: Json) -> None:
    found = {**header(_SENT["P-256"]), "epk": epk}
    head = base64.urlsafe_b64encode(json.dumps(found).encode()).rstrip(b"=")
    text = refused(head + b"." + _SENT["P-256"].strip().split(b".", 1)[1], vectors.key(vectors.P256, kid="ward-3"))
    assert "this one was changed or cut" in text


# -- keys for encryption ---------------------------------------------------------------------------


def test_a_key_that_cannot_encrypt_is_refused() -> None:
    for key, expected in (
        (public(vectors.ED25519), "a key for encryption"),
        (vectors.key(vectors.public(vectors.P256), use="sig"), "a key for encryption"),
        (vectors.key(vectors.public(vectors.P256), alg="ES256"), "a key for encryption"),
        (vectors.key(vectors.public(vectors.RSA), key_ops=["verify"]), "key_ops"),
    ):
        with pytest.raises(InputError, match=expected):
            secrecy.encrypt(NOTE, key)


def test_an_expired_key_does_not_encrypt_and_still_decrypts() -> None:
    private, certificate = vectors.certificate()
    key = read_key(certificate)
    made = secrecy.encrypt(NOTE, key, now=datetime(2026, 6, 1, tzinfo=UTC))
    with pytest.raises(InputError, match="has not expired"):
        secrecy.encrypt(NOTE, key, now=vectors.END)
    with pytest.raises(InputError, match="is valid already"):
        secrecy.encrypt(NOTE, key, now=datetime(2025, 6, 1, tzinfo=UTC))
    assert secrecy.decrypt(made, read_key(private + certificate)) == NOTE


def test_a_file_too_large_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(secrecy, "LIMIT", 10)
    with pytest.raises(InputError, match="at most 10 bytes"):
        secrecy.encrypt(NOTE, public(vectors.P256))
