"""Signatures: the published JOSE numbers, what is signed, and a clear answer for each way it can go wrong.

Outside sources: RFC 7515 appendices A, E and F; RFC 8037 appendix A; HL7's definitions of R4 (hl7.fhir.r4.core 4.0.1);
and, as second implementations, the HL7 validation engine and the library jwcrypto where they can run.
"""

from __future__ import annotations

import base64
import json
import random
import ssl
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.jose import vectors
from tests.jose.sealing import DIV, NOON, SIGNERS, WHEN, WHO, bundle, public, sealed, token, with_token
from tests.r4 import r4core
from woundfhir.errors import InputError
from woundfhir.jose import compact
from woundfhir.jose import signature as seal
from woundfhir.jose.detached import sign
from woundfhir.jose.key_files import read_key
from woundfhir.jose.verification import MEANING, Answer, Verdict
from woundfhir.r4 import jsonio, xmlio

Json = Any


# -- the published numbers -------------------------------------------------------------------------

_NAMED = {one["name"]: one for one in vectors.vectors()["jws"]}


@pytest.mark.parametrize("name", ["RFC 7515 A.2", "RFC 7515 A.3", "RFC 7515 A.4", "RFC 8037 A.4"])
@pytest.mark.parametrize("detached", [True, False], ids=["detached", "content inside"])
def test_the_published_signatures_hold_beside_a_file(name: str, detached: bool) -> None:
    """Detached as RFC 7515 appendix F does it: the middle part is taken out."""
    one = _NAMED[name]
    head, payload, signature = one["compact"].split(".")
    content = base64.urlsafe_b64decode(payload + "=" * (-len(payload) % 4))
    beside = f"{head}..{signature}".encode() if detached else one["compact"].encode()
    verdict = seal.verify_bytes(content, beside + b"\r\n", public(one["key"]))
    assert (verdict.answer, verdict.algorithm) == (Answer.OK, one["alg"])
    changed = seal.verify_bytes(content + b" ", beside, public(one["key"]))
    assert changed.answer is (Answer.NO_MATCH if detached else Answer.CHANGED)  # no kid: the key cannot be told


def test_the_published_unsafe_ones_are_not_allowed() -> None:
    secret = _NAMED["RFC 7515 A.1"]["compact"].encode()
    unsigned = vectors.vectors()["jws_none"]["compact"].encode()
    critical = vectors.vectors()["jws_critical"]["compact"].encode()
    for found in (secret, unsigned, critical):
        payload = base64.urlsafe_b64decode(found.split(b".")[1] + b"==")
        assert seal.verify_bytes(payload, found, public(vectors.P256)).answer is Answer.ALGORITHM


# -- Bundle.signature ------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", SIGNERS)
def test_a_sealed_bundle_is_checked_with_the_public_key(kind: str) -> None:
    verdict = seal.verify(sealed(SIGNERS[kind]), public(SIGNERS[kind]), now=NOON)
    wanted = {"P-256": "ES256", "P-384": "ES384", "P-521": "ES512", "Ed25519": "EdDSA", "RSA": "RS256"}
    assert verdict == Verdict(
        Answer.OK, wanted.get(kind, "PS256"), verdict.key_id, WHEN, exact=True, expiry_checked=True
    )
    assert verdict.ok and verdict.message == MEANING[Answer.OK]


def test_the_element_is_as_r4_defines_it() -> None:
    files = {name: content for name, content in r4core.files() if "signature-type" in name}
    system = json.loads(files["CodeSystem-signature-type.json"])
    author = next(concept for concept in system["concept"] if concept["code"] == seal.PURPOSE["code"])
    assert (system["url"], author["display"]) == (seal.PURPOSE["system"], seal.PURPOSE["display"])
    from fhir.resources.R4B.bundle import Bundle

    found = sealed()
    assert list(found["signature"]) == ["type", "when", "who", "targetFormat", "sigFormat", "data"]
    read = Bundle.model_validate({"resourceType": "Bundle", "type": "collection", "signature": found["signature"]})
    assert read.signature.sigFormat == "application/jose"
    assert token(found).count(b"..") == 1  # detached: nothing between header and signature


def test_the_bundle_itself_is_untouched() -> None:
    before = bundle()
    found = seal.seal(before, vectors.key(vectors.P256), when=WHEN, who=WHO)
    assert before == bundle() == {name: item for name, item in found.items() if name != "signature"}


def test_signing_without_random_numbers_gives_the_same_bytes() -> None:
    for kind in ("Ed25519", "RSA"):
        assert jsonio.encode(sealed(SIGNERS[kind])) == jsonio.encode(sealed(SIGNERS[kind]))


def test_the_signature_outlives_json_xml_and_the_order_of_members() -> None:
    found, key = sealed(), public(vectors.ED25519)
    through_json = jsonio.decode_checked(jsonio.encode_readable(found))
    through_xml = xmlio.decode(xmlio.encode(found))
    turned = dict(reversed(found.items()))
    for other in (through_json, through_xml, turned):
        assert seal.verify(other, key).answer is Answer.OK


def test_another_implementation_accepts_the_signature() -> None:
    other = pytest.importorskip("jwcrypto.jws", reason="the library jwcrypto is not installed")
    jwk = pytest.importorskip("jwcrypto.jwk")
    for kind, private in SIGNERS.items():
        found = sealed(private)
        read = other.JWS()
        read.deserialize(token(found).decode())
        payload = seal.canonical({name: item for name, item in found.items() if name != "signature"})
        read.verify(jwk.JWK(**vectors.public(private)), detached_payload=payload)
        assert read.is_valid, kind


def test_the_header_says_when_why_and_in_which_form() -> None:
    header = compact.header(token(sealed()).split(b".")[0])
    assert header["sigT"] == WHEN and header["canon"] == "http://hl7.org/fhir/canonicalization/json"
    assert header["srCms"] == [{"commId": {"id": "urn:oid:1.2.840.10065.1.12.1.1", "desc": "Author's Signature"}}]


@pytest.mark.engine
def test_the_engine_of_hl7_finds_the_signature_good() -> None:
    """Its own canonical form and its own JWS: it takes the certificate from the header, so a header is given one."""
    from tests.conformance.conftest import plain

    private, certificate = vectors.certificate()
    der = ssl.PEM_cert_to_DER_cert(certificate.decode())
    changed = {}
    for name, value in (("as signed", Decimal("4.10")), ("another number", Decimal("4.2"))):
        content = bundle()
        content["entry"][0]["resource"]["text"]["div"] = DIV.replace("  ", " ").replace("\n", "").replace("&#160;", "")
        found = seal.seal(content, read_key(private), when=WHEN, who=WHO)
        header = compact.header(token(found).split(b".")[0]) | {"x5c": [base64.b64encode(der).decode()]}
        with_certificate = sign(seal.canonical(found), read_key(private), header, None)
        content["entry"][0]["resource"]["valueQuantity"]["value"] = value
        issues = plain().validate([jsonio.encode(with_token({**found, **content}, with_certificate))])
        changed[name] = {issue.message_id for issue in issues}
    assert "BUNDLE_SIGNATURE_SIG_OK" in changed["as signed"]
    assert "BUNDLE_SIGNATURE_SIGNED_AT_VERIFIED" in changed["as signed"]
    assert "BUNDLE_SIGNATURE_SIG_OK" not in changed["another number"]
    assert any(one.startswith("BUNDLE_SIGNATURE_SIG_FAIL") for one in changed["another number"])


def paths(value: Json, path: tuple[Json, ...] = ()) -> list[tuple[Json, ...]]:
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [path, *(deeper for name, item in items for deeper in paths(item, (*path, name)))]


_PLACES = [path for path in paths(sealed()) if path and path != ("signature",)]


@pytest.mark.parametrize("path", _PLACES, ids=lambda path: ".".join(map(str, path)))
def test_whatever_is_changed_it_no_longer_holds(path: tuple[Json, ...]) -> None:
    """Every member and item of the Bundle in turn, who and when included: changed a little, and taken out."""
    for edit in ("changed", "gone"):
        found = jsonio.decode(jsonio.encode(sealed()))
        place: Json = found
        for name in path[:-1]:
            place = place[name]
        old = place[path[-1]]
        if edit == "gone":
            del place[path[-1]]
        elif isinstance(old, Decimal):
            place[path[-1]] = old.normalize()  # 4.10 -> 4.1
        elif isinstance(old, str):
            place[path[-1]] = old.replace("\n", " ") if "\n" in old else old + " "
        else:
            place[path[-1]] = [old]
        verdict = seal.verify(found, public(vectors.ED25519))
        wanted = {Answer.NO_SIGNATURE, Answer.UNREADABLE} if path[0] == "signature" else set()
        assert verdict.answer in wanted | {Answer.CHANGED}


_SIGNED = sealed(vectors.P256)


@given(st.integers(0, len(token(_SIGNED)) - 1), st.integers(1, 255))
def test_no_changed_byte_of_the_signature_passes(place: int, change: int) -> None:
    old = token(_SIGNED)
    new = old[:place] + bytes([old[place] ^ change]) + old[place + 1 :]
    assert not seal.verify(with_token(_SIGNED, new), public(vectors.P256)).ok


# -- signing ---------------------------------------------------------------------------------------

_EXPIRED = read_key(vectors.certificate()[0] + vectors.certificate()[1])
REFUSED: dict[str, tuple[dict[str, Json], str]] = {
    "no Bundle": ({"bundle": {"resourceType": "Patient"}}, "resourceType: expected a Bundle"),
    "signed already": ({"bundle": sealed()}, "a Bundle without a signature"),
    "a public key": ({"key": public(vectors.P256)}, "a private key, and this is a public one"),
    "a key for encryption": ({"key": vectors.key(vectors.x25519())}, "a key for signatures"),
    "a key that may not": ({"key": vectors.key(vectors.P256, key_ops=["verify"])}, "key_ops"),
    "an expired key": ({"key": _EXPIRED, "when": "2027-01-01T00:00:00Z"}, "has not expired"),
    "an early key": ({"key": _EXPIRED, "when": "2026-01-01T05:00:00+05:30"}, "is valid already"),
    "nobody": ({"who": {}}, "who signs"),
    "a day": ({"when": "2026-03-06"}, "Bundle.signature.when"),
    "no offset": ({"when": "2026-03-06T17:30:00"}, "Bundle.signature.when"),
    "no such day": ({"when": "2026-02-30T17:30:00Z"}, "Bundle.signature.when"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_signed_is_refused(name: str) -> None:
    change, expected = REFUSED[name]
    asked: dict[str, Json] = {"bundle": bundle(), "key": vectors.key(vectors.P256), "when": WHEN, "who": WHO} | change
    with pytest.raises(InputError) as told:
        seal.seal(asked.pop("bundle"), asked.pop("key"), **asked)
    assert expected in str(told.value)


def test_a_file_of_any_bytes_is_signed_beside_it() -> None:
    key, check = vectors.key(vectors.ED25519), public(vectors.ED25519)
    for content in (b"", b"\x00\xff\r\n", random.Random(1).randbytes(300_000)):
        beside = seal.seal_bytes(content, key)
        assert seal.verify_bytes(content, beside, check).ok
        assert seal.verify_bytes(content + b"\n", beside, check).answer is Answer.CHANGED
