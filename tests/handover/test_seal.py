"""Signatures: the published JOSE numbers, what is signed, and a clear answer for each way it can go wrong.

Outside sources: RFC 7515 appendices A, E and F; RFC 8037 appendix A; RFC 8785 section 3.2.3; HL7's definitions of R4
(hl7.fhir.r4.core 4.0.1); and, as a second implementation, the libraries jwcrypto and rfc8785 where they are installed.
"""

from __future__ import annotations

import base64
import json
import random
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.fhir.wire import r4core
from tests.handover import vectors
from tests.handover.sealing import NOON, SIGNERS, WHEN, WHO, bundle, public, sealed, token, with_token
from woundfhir.errors import InputError
from woundfhir.fhir.wire import jsonio, xmlio
from woundfhir.handover import seal
from woundfhir.handover.keys import read_key
from woundfhir.handover.verdict import MEANING, Answer, Verdict

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


# -- what is signed --------------------------------------------------------------------------------


def test_members_are_sorted_as_rfc_8785_sorts_them() -> None:
    # The example of RFC 8785 section 3.2.3: sorted by UTF-16 code units, so the emoji comes before U+FB33.
    keys = ["\u20ac", "\r", "\ufb33", "1", "\U0001f600", "\u0080", "\u00f6"]
    found = seal.canonical(dict.fromkeys(keys, 0))
    assert list(json.loads(found)) == ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]


_texts = st.text(max_size=8)
_values = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | _texts,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(_texts, inner, max_size=3),
    max_leaves=12,
)


@settings(max_examples=300)
@given(st.dictionaries(_texts.filter(lambda key: key != "signature"), _values, max_size=5))
def test_without_fractions_the_canonical_form_is_that_of_rfc_8785(value: dict[str, Json]) -> None:
    other = pytest.importorskip("rfc8785", reason="the library rfc8785 is not installed")
    assert seal.canonical(value) == other.dumps(value)


def test_decimals_are_signed_as_they_were_written() -> None:
    for text in ("4.10", "4.1", "0.30", "100", "1E+2", "12345678901234567890.123456789"):
        assert seal.canonical({"value": Decimal(text)}) == b'{"value":' + text.encode() + b"}"


# -- Bundle.signature ------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", SIGNERS)
def test_a_sealed_bundle_is_checked_with_the_public_key(kind: str) -> None:
    verdict = seal.verify(sealed(SIGNERS[kind]), public(SIGNERS[kind]), now=NOON)
    wanted = {"P-256": "ES256", "P-384": "ES384", "P-521": "ES512", "Ed25519": "EdDSA", "RSA": "RS256"}
    assert verdict == Verdict(
        Answer.OK, wanted.get(kind, "PS256"), verdict.key_id, WHEN, details_signed=True, expiry_checked=True
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
    "no Bundle": ({"bundle": {"resourceType": "Patient"}}, "resourceType: a Bundle"),
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
