"""A clear answer for each way that a signature can go wrong, and for each attack that JOSE is known for."""

from __future__ import annotations

import base64
import hmac
import json
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ec import ECDSA
from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature
from cryptography.hazmat.primitives.hashes import SHA256
from joserfc import jws
from joserfc.jwk import ECKey, import_key

from tests.jose import vectors
from tests.jose.sealing import NOON, WHEN, WHO, bundle, public, sealed, token, with_token
from woundfhir.errors import InputError
from woundfhir.jose import signature as seal
from woundfhir.jose.key_files import read_key
from woundfhir.jose.verification import MEANING, Answer

Json = Any


def test_no_signature_and_no_key() -> None:
    key = public(vectors.P256)
    assert seal.verify(bundle(), key).answer is Answer.NO_SIGNATURE
    assert seal.verify({**bundle(), "signature": {"when": WHEN}}, key).answer is Answer.NO_SIGNATURE
    assert seal.verify_bytes(b"x", b" \n", key).answer is Answer.NO_SIGNATURE
    assert seal.verify(sealed(), None).answer is Answer.NO_KEY


def test_another_key() -> None:
    found = sealed(vectors.P256)
    assert seal.verify(found, public(vectors.RSA)).answer is Answer.WRONG_KEY
    drawn = dict(ECKey.generate_key("P-256").as_dict())
    assert seal.verify(found, vectors.key(drawn)).answer is Answer.WRONG_KEY
    assert seal.verify(found, vectors.key(vectors.public(vectors.P256), use="enc")).answer is Answer.WRONG_KEY
    ops = vectors.key(vectors.public(vectors.P256), key_ops=["deriveKey"])
    assert seal.verify(found, ops).answer is Answer.WRONG_KEY


def test_a_name_that_cannot_be_compared_is_reported_as_such() -> None:
    named = {**vectors.P256, "kid": "ward-3"}
    found = seal.seal(bundle(), vectors.key(named), when=WHEN, who=WHO)
    assert seal.verify(found, public(vectors.P256)).answer is Answer.OK  # the name does not matter where it holds
    changed = {**found, "type": "collection"}
    assert seal.verify(changed, public(vectors.P256)).answer is Answer.NO_MATCH
    assert seal.verify(changed, public(named)).answer is Answer.CHANGED
    assert seal.verify(changed, vectors.key(vectors.public(vectors.P256), kid="ward-4")).answer is Answer.WRONG_KEY


def test_a_key_that_has_expired_or_is_not_valid_yet() -> None:
    private, certificate = vectors.certificate()
    found = seal.seal(bundle(), read_key(private), when=WHEN, who=WHO)
    key = read_key(certificate)
    assert seal.verify(found, key, now=NOON).answer is Answer.OK
    assert seal.verify(found, key, now=vectors.END).answer is Answer.EXPIRED
    assert seal.verify(found, key, now=datetime(2025, 6, 1, tzinfo=UTC)).answer is Answer.EARLY
    unchecked = seal.verify(found, key)
    assert unchecked.ok and not unchecked.expiry_checked
    changed = {**found, "type": "collection"}  # the worse of two faults is told
    assert seal.verify(changed, key, now=vectors.END).answer is Answer.CHANGED
    until = vectors.key(vectors.public(vectors.P256), exp=int(vectors.END.timestamp()))
    beside = seal.seal_bytes(b"x", vectors.key(vectors.P256))
    assert seal.verify_bytes(b"x", beside, until, now=vectors.END).answer is Answer.EXPIRED


@pytest.mark.parametrize("algorithm", ["none", "HS256", "HS512", "ES256K", "RS1", "\u00e9"])
def test_an_algorithm_that_proves_nothing(algorithm: str) -> None:
    head = base64.urlsafe_b64encode(json.dumps({"alg": algorithm}).encode()).rstrip(b"=")
    found = with_token(sealed(), head + b"..")
    assert seal.verify(found, public(vectors.P256)).answer is Answer.ALGORITHM


def test_a_public_key_used_as_a_shared_secret_does_not_pass() -> None:
    certificate = vectors.certificate()[1]
    content = b".".join(base64.urlsafe_b64encode(part).rstrip(b"=") for part in (b'{"alg":"HS256"}', b"x"))
    mark = base64.urlsafe_b64encode(hmac.digest(certificate, content, "sha256")).rstrip(b"=")
    assert seal.verify_bytes(b"x", content + b"." + mark, read_key(certificate)).answer is Answer.ALGORITHM


def test_a_key_that_comes_inside_the_signature_is_not_used() -> None:
    drawn = ECKey.generate_key("P-256")
    header = {"alg": "ES256", "jwk": drawn.as_dict(private=False)}
    forged = jws.detach_content(jws.serialize_compact(header, seal.canonical(bundle()), drawn)).encode()
    found = with_token(sealed(), forged)
    assert seal.verify(found, public(vectors.P256)).answer is Answer.NO_MATCH


def test_a_content_inside_the_signature_is_never_taken_for_the_bundle() -> None:
    """A good signature over something else, with its content inside, put beside another Bundle."""
    key = import_key(vectors.P256)
    other = jws.serialize_compact({"alg": "ES256"}, b"something else", key).encode()
    assert seal.verify_bytes(b"something else", other, public(vectors.P256)).answer is Answer.OK
    assert seal.verify_bytes(b"a note", other, public(vectors.P256)).answer is Answer.CHANGED
    assert seal.verify(with_token(sealed(), other), public(vectors.P256)).answer is Answer.CHANGED


def foreign(header: dict[str, Json], form: str = seal.CANON, content: dict[str, Json] | None = None) -> dict[str, Json]:
    """Return a Bundle as other software may sign it: without our header."""
    content = content or bundle()
    made = jws.serialize_compact(
        {"alg": "ES256", **header},
        seal.canonical(content, form),
        import_key(vectors.P256),
        registry=jws.JWSRegistry(strict_check_header=False),
    )
    return with_token({**sealed(), **content}, jws.detach_content(made).encode())


def test_a_signature_by_the_bundle_alone_holds_and_says_what_is_not_covered() -> None:
    for header in ({}, {"canon": seal.CANON}, {"sigT": WHEN}):
        verdict = seal.verify(foreign(header), public(vectors.P256))
        assert verdict.ok and not verdict.exact
    found = foreign({})
    found["entry"][0]["resource"]["valueQuantity"]["value"] = Decimal("4.1")  # FHIR's form cannot tell: not exact
    assert seal.verify(found, public(vectors.P256)).ok


def test_the_time_in_the_header_has_to_be_the_time_given() -> None:
    assert seal.verify(foreign({"sigT": "2026-03-07T17:30:00-05:00"}), public(vectors.P256)).answer is Answer.CHANGED


def test_the_form_of_a_document_leaves_out_what_a_server_sets() -> None:
    form = f"{seal.CANON}#document"
    named = {"id": "b1", "meta": {"versionId": "2"}, **bundle()}
    for header in ({}, {"canon": form}):  # the engine of HL7 takes this form for a document where none is named
        assert seal.verify(foreign(header, form, named), public(vectors.P256)).ok
    assert seal.verify(foreign({"canon": seal.CANON}, form, named), public(vectors.P256)).answer is Answer.NO_MATCH
    told = foreign({}, content={**named, "type": "collection"})
    assert seal.verify(told, public(vectors.P256)).ok
    by_format = foreign({}, content=named)
    by_format["signature"]["targetFormat"] = f"application/fhir+json;canonicalization={seal.CANON}"
    assert seal.verify(by_format, public(vectors.P256)).ok


def test_another_canonical_form_is_not_taken_for_one_of_these() -> None:
    for form in ("http://hl7.org/fhir/canonicalization/json#data", "urn:x", 3):
        assert seal.verify(foreign({"canon": form}), public(vectors.P256)).answer is Answer.UNREADABLE


def test_a_content_that_is_not_encoded_holds_too() -> None:
    # RFC 7797: the header says that the content is signed as it is.
    header = {"alg": "ES256", "b64": False, "crit": ["b64"]}
    made = jws.serialize_compact(header, b"a note. ", import_key(vectors.P256)).encode()
    assert seal.verify_bytes(b"a note. ", made, public(vectors.P256)).answer is Answer.OK
    assert not seal.verify_bytes(b"a note.", made, public(vectors.P256)).ok


CRITICAL: dict[str, dict[str, Json]] = {
    "an empty list": {"crit": []},
    "no list": {"crit": "b64"},
    "null": {"crit": None},
    "a name that the header lacks": {"crit": ["b64"]},
    "a name of RFC 7515 itself": {"crit": ["kid"], "kid": "ward-3"},
    "a name that nobody knows": {"crit": ["urn:x"], "urn:x": 1},
    "a name twice": {"crit": ["b64", "b64"], "b64": True},
    "b64 that is not critical": {"b64": False},
    "b64 that is a text": {"b64": "false", "crit": ["b64"]},
}


@pytest.mark.parametrize("name", CRITICAL)
def test_a_header_that_breaks_the_rules_of_crit_is_refused_though_its_signature_holds(name: str) -> None:
    # RFC 7515 section 4.1.11 and RFC 7797 section 6, signed without a JOSE library, which would refuse some.
    head = base64.urlsafe_b64encode(json.dumps({"alg": "ES256", **CRITICAL[name]}).encode()).rstrip(b"=")
    encoded = CRITICAL[name].get("b64") is not False
    payload = base64.urlsafe_b64encode(b"a note.").rstrip(b"=") if encoded else b"a note."
    native = import_key(vectors.P256).private_key  # type: ignore[union-attr]
    r, s = decode_dss_signature(native.sign(head + b"." + payload, ECDSA(SHA256())))
    mark = base64.urlsafe_b64encode(r.to_bytes(32, "big") + s.to_bytes(32, "big")).rstrip(b"=")
    found = seal.verify_bytes(b"a note.", head + b".." + mark, public(vectors.P256))
    assert found.answer is Answer.UNREADABLE


def test_the_words_say_what_a_signature_does_not_protect() -> None:
    plain = seal.verify(foreign({}), public(vectors.P256))
    assert plain.ok and "4.10" in plain.limit
    ours = seal.verify(sealed(vectors.P256), public(vectors.P256))
    assert ours.ok and not ours.limit
    beside = seal.seal_bytes(b"4.10", vectors.key(vectors.P256))
    assert seal.verify_bytes(b"4.10", beside, public(vectors.P256)).limit == ""
    assert not seal.verify_bytes(b"4.1", beside, public(vectors.P256)).limit


_HEAD = base64.urlsafe_b64encode(b'{"alg":"ES256","crit":["x"],"x":1}').rstrip(b"=")
UNREADABLE = {
    "no JWS": b"signed by the ward",
    "two parts": b"eyJhbGciOiJFUzI1NiJ9.AAAA",
    "no header": b"AAAA..AAAA",
    "a header that is a list": b"W10..AAAA",
    "no algorithm": b"e30..AAAA",
    "an algorithm that is a number": base64.urlsafe_b64encode(b'{"alg":1}').rstrip(b"=") + b"..AAAA",
    "a critical header that nobody knows": _HEAD + b".." + token(sealed(vectors.P256)).split(b".")[2],
    "no base64url": b"eyJhbGciOiJFUzI1NiJ9..A+/=",
    "binary": bytes(range(256)),
}


@pytest.mark.parametrize("name", UNREADABLE)
def test_what_cannot_be_read_is_reported_as_such(name: str) -> None:
    assert seal.verify_bytes(b"x", UNREADABLE[name], public(vectors.P256)).answer is Answer.UNREADABLE
    assert seal.verify(with_token(sealed(), UNREADABLE[name]), public(vectors.P256)).answer is Answer.UNREADABLE


_OTHER_KINDS = [{"sigFormat": "image/png"}, {"sigFormat": "application/signature+xml"}, {"data": "?"}, {"data": 3}]
_OTHER_KINDS += [{"targetFormat": "application/fhir+xml"}, {"targetFormat": 3}]


@pytest.mark.parametrize("change", _OTHER_KINDS)
def test_a_signature_of_another_kind_is_reported_as_such(change: dict[str, Json]) -> None:
    found = sealed()
    found["signature"] |= change
    assert seal.verify(found, public(vectors.ED25519)).answer is Answer.UNREADABLE


def test_a_number_that_no_signed_bundle_can_hold_is_a_change() -> None:
    found = {**sealed(), "total": Decimal("1E+400")}
    assert seal.verify(found, public(vectors.ED25519)).answer is Answer.CHANGED


def test_a_time_without_a_zone_is_refused_and_not_taken_for_a_change() -> None:
    with pytest.raises(InputError, match="a time with its zone"):
        seal.verify(sealed(), public(vectors.ED25519), now=datetime(2026, 6, 1))


def test_every_answer_has_its_meaning() -> None:
    assert set(MEANING) == set(Answer)
