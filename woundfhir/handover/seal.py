"""Integrity: a detached JWS (RFC 7515 appendix F) in Bundle.signature, or beside a file.

What is signed in a Bundle
--------------------------
The Bundle without its ``signature``, as ``canonical`` writes it: JSON in UTF-8, no space between tokens, the members
of each object sorted as RFC 8785 section 3.2.3 sorts them, strings escaped as its section 3.2.2.2 says. In one point
it differs from RFC 8785, on purpose: a number stays as it was written (4.10 is signed as 4.10), because that document
turns it into the shortest binary floating point number and would call 4.10 and 4.1 the same. It differs from FHIR's
own http://hl7.org/fhir/canonicalization/json (read from memory) too: space inside a text is signed as it stands, so
that nobody can run a nurse's lines together unseen.

The rest of the ``signature`` element (who, when, why) is outside that text. Its SHA-256 stands in the protected
header of the JWS, under the URL of FHIR's Signature type, and so it cannot be changed either. Other software, which
does not know that header, can still check the signature by the Bundle alone.

A signature says that the content is as the holder of the key left it. It does not say that the content is right.
ES256, ES384, ES512 and PS256 draw random numbers: signing twice gives two signatures, both good. RS256 and EdDSA
give the same one.
"""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from joserfc import jws
from joserfc.errors import BadSignatureError, JoseError, KeyParameterError, UnsupportedAlgorithmError
from joserfc.jws import JWSRegistry

from woundfhir.errors import InputError
from woundfhir.fhir.wire import jsonio
from woundfhir.handover import compact
from woundfhir.handover.keys import SIGNS, Key, aware
from woundfhir.handover.verdict import Answer, Verdict

Json = Any

#: A signature beside FILE is called FILE.jws.
SUFFIX = ".jws"
#: Why it was signed: from R4's value set http://hl7.org/fhir/ValueSet/signature-type (hl7.fhir.r4.core 4.0.1).
PURPOSE = {
    "system": "urn:iso-astm:E1762-95:2013",
    "code": "1.2.840.10065.1.12.1.1",
    "display": "Author's Signature",
}
#: Header that holds the SHA-256 of the signature element without its data. A URL, as RFC 7515 section 4.2 asks.
_ELEMENT = "http://hl7.org/fhir/StructureDefinition/Signature"
_ALLOWED = frozenset(name for names in SIGNS.values() for name in names)
_INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)")
_PRINTABLE = re.compile(r"[!-~]{1,200}")


class _Registry(JWSRegistry):
    """Allows our algorithms and no other, without a warning for EdDSA; whole files as content."""

    max_header_length = 16 * 1024
    max_payload_length = 1 << 31
    max_signature_length = 4 * 1024

    def get_alg(self, name: str) -> Any:
        if name not in _ALLOWED or name not in self.algorithms:
            raise UnsupportedAlgorithmError(name)
        return self.algorithms[name]


_REGISTRY = _Registry(strict_check_header=False)


# -- canonical form --------------------------------------------------------------------------------


def canonical(bundle: Mapping[str, Json]) -> bytes:
    """Return the bytes of a Bundle that are signed; see the head of this module.

    Examples
    --------
    >>> from decimal import Decimal
    >>> canonical({"type": "document", "resourceType": "Bundle", "signature": {}, "total": Decimal("4.10")})
    b'{"resourceType":"Bundle","total":4.10,"type":"document"}'
    """
    return jsonio.encode(_sorted({key: value for key, value in bundle.items() if key != "signature"}))


def _sorted(value: Json) -> Json:
    if isinstance(value, Mapping):
        return {key: _sorted(value[key]) for key in sorted(value, key=_utf16)}
    if isinstance(value, list | tuple):
        return [_sorted(item) for item in value]
    return value


def _utf16(key: str) -> bytes:
    return key.encode("utf-16-be", "surrogatepass")


def _digest(element: Mapping[str, Json]) -> str:
    bare = {key: value for key, value in element.items() if key != "data"}
    return compact.base64url(hashlib.sha256(jsonio.encode(_sorted(bare))).digest()).decode()


# -- signing ---------------------------------------------------------------------------------------


def seal(bundle: Mapping[str, Json], key: Key, *, when: str, who: Mapping[str, Json]) -> dict[str, Json]:
    """Return the Bundle with a signature in it.

    Parameters
    ----------
    bundle
        A FHIR R4 Bundle without a signature.
    key
        A private key.
    when
        An R4 instant: date, clock time with seconds, and offset. The caller's; no clock is read here.
    who
        A FHIR Reference to the person or organisation that signs.

    Raises
    ------
    InputError
        No Bundle, signed already, no instant, nobody who signs, a key that cannot sign or is not valid at ``when``.

    Examples
    --------
    >>> from woundfhir.handover.keys import read_key
    >>> key = read_key(b'{"kty": "OKP", "crv": "Ed25519", "x": "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo",'
    ...                b' "d": "nWGxne_9WmC6hEr0kuwsxERJxWl7MmkZcDusAxyuf2A"}')  # RFC 8037 appendix A.1
    >>> who = {"reference": "urn:uuid:6d1c7b7e-8f5b-5d9e-9c55-0c8d5a3b2f10"}
    >>> sealed = seal({"resourceType": "Bundle", "type": "document"}, key, when="2026-03-06T17:30:00-05:00", who=who)
    >>> verify(sealed, key).answer.value, verify({**sealed, "type": "collection"}, key).answer.value
    ('ok', 'content changed')
    """
    if bundle.get("resourceType") != "Bundle":
        raise InputError("resourceType", "a Bundle", "Make a Bundle of the resources, or sign the file beside it")
    if "signature" in bundle:
        raise InputError("Bundle.signature", "a Bundle without a signature", "Sign the file beside it instead")
    if not any(who.get(name) for name in ("reference", "identifier", "display")):
        raise InputError("Bundle.signature.who", "who signs, as a reference", "Name the author or the organisation")
    element: dict[str, Json] = {
        "type": [dict(PURPOSE)],
        "when": when,
        "who": dict(who),
        "targetFormat": "application/fhir+json",
        "sigFormat": "application/jose",
    }
    token = _sign(canonical(bundle), key, {_ELEMENT: _digest(element)}, at=_instant(when))
    return {**bundle, "signature": {**element, "data": base64.b64encode(token).decode()}}


def seal_bytes(content: bytes, key: Key, *, at: datetime | None = None) -> bytes:
    """Return the text of the file that stands beside a signed file: a detached JWS over the file's exact bytes.

    Parameters
    ----------
    content
        The file.
    key
        A private key.
    at
        A time at which the key has to be valid; None: its limits are not looked at.
    """
    return _sign(content, key, {}, at=aware(at)) + b"\n"


def _instant(when: str) -> datetime:
    try:
        if _INSTANT.fullmatch(when):
            return datetime.fromisoformat(when)
    except ValueError:
        pass
    raise InputError(
        "Bundle.signature.when", "a date and clock time with seconds and offset", "Such as 2026-03-06T17:30:00-05:00"
    )


def _sign(content: bytes, key: Key, more: dict[str, str], at: datetime | None) -> bytes:
    names = key.algorithms("sig")
    if not key.private:
        raise InputError("key", "a private key, and this is a public one", "Sign with your own private key")
    if not names:
        raise InputError("key", "a key for signatures", "Take one on P-256 or Ed25519, or an RSA key, for that use")
    if (state := key.state(at)) != "valid":
        word = "has not expired" if state == "expired" else "is valid already"
        raise InputError("key", f"a key that {word} at the time of signing", "Sign with the key in force")
    header = {"alg": names[0], "kid": key.id, **more}
    try:
        return jws.detach_content(jws.serialize_compact(header, content, key.jose, registry=_REGISTRY)).encode()
    except JoseError:
        raise InputError("key", "a key that may sign (key_ops)", "Take the key made for signatures") from None


# -- checking --------------------------------------------------------------------------------------


def verify(bundle: Mapping[str, Json], key: Key | None, *, now: datetime | None = None) -> Verdict:
    """Check the signature in a Bundle.

    Parameters
    ----------
    bundle
        As it was received.
    key
        The sender's public key, from somewhere else than the Bundle. None: the answer is ``NO_KEY``.
    now
        Time, with its zone, at which the key has to be valid. None: its limits are not looked at.

    Returns
    -------
    Verdict
        Never raises for what stands in the Bundle.
    """
    element = bundle.get("signature")
    if not isinstance(element, Mapping) or not element.get("data"):
        return Verdict(Answer.NO_SIGNATURE)
    said = element.get("when")
    when = said if isinstance(said, str) and _INSTANT.fullmatch(said) else None
    if element.get("sigFormat", "application/jose") != "application/jose":
        return Verdict(Answer.UNREADABLE, when=when)
    try:
        token = base64.b64decode(element["data"], validate=True)
    except (ValueError, TypeError):
        return Verdict(Answer.UNREADABLE, when=when)
    verdict, header = _check(token, canonical(bundle), key, aware(now))
    told = header.get(_ELEMENT)
    if verdict.answer in (Answer.OK, Answer.EXPIRED, Answer.EARLY) and told is not None and told != _digest(element):
        verdict = replace(verdict, answer=Answer.CHANGED)
    return replace(verdict, when=when, details_signed=verdict.ok and told is not None)


def verify_bytes(content: bytes, signature: bytes | None, key: Key | None, *, now: datetime | None = None) -> Verdict:
    """Check the signature that stands beside a file.

    Parameters
    ----------
    content
        The file's exact bytes.
    signature
        The bytes of the file beside it (compact JWS, detached or with the same content); None if there is none.
    key, now
        As in ``verify``.

    Examples
    --------
    >>> verify_bytes(b"note", None, None).answer.value
    'no signature'
    """
    if not signature or not signature.strip():
        return Verdict(Answer.NO_SIGNATURE)
    return _check(signature.strip(), content, key, aware(now))[0]


def _check(token: bytes, content: bytes, key: Key | None, now: datetime | None) -> tuple[Verdict, Mapping[str, Json]]:
    parts = token.split(b".")
    header = compact.header(parts[0]) if len(parts) == 3 and compact.strict(parts[2]) else {}
    name, kid = header.get("alg"), header.get("kid")
    if not isinstance(name, str):
        return Verdict(Answer.UNREADABLE), header
    bare = Verdict(
        Answer.OK,
        algorithm=name if _PRINTABLE.fullmatch(name) else None,
        key_id=kid if isinstance(kid, str) and _PRINTABLE.fullmatch(kid) else None,
        expiry_checked=now is not None,
    )
    if name not in _ALLOWED:
        answer = Answer.ALGORITHM
    elif key is None:
        answer = Answer.NO_KEY
    elif name not in key.algorithms("sig"):
        answer = Answer.WRONG_KEY
    else:
        answer = _match(parts, content, key, kid)
        if answer is Answer.OK:
            answer = {"valid": Answer.OK, "expired": Answer.EXPIRED, "early": Answer.EARLY}[key.state(now)]
    return replace(bare, answer=answer), header


def _match(parts: list[bytes], content: bytes, key: Key, kid: Json) -> Answer:
    """Compare content and signature. A content inside the token must be the same: it is never looked at instead."""
    if parts[1] and parts[1] != compact.base64url(content):
        return Answer.CHANGED
    try:
        jws.deserialize_compact(b"..".join((parts[0], parts[2])), key.jose, registry=_REGISTRY, payload=content)
    except BadSignatureError:
        pass
    except KeyParameterError:  # its key_ops do not let it check signatures
        return Answer.WRONG_KEY
    except (JoseError, ValueError, TypeError):
        return Answer.UNREADABLE
    else:
        return Answer.OK
    return {"this": Answer.CHANGED, "another": Answer.WRONG_KEY, "unknown": Answer.NO_MATCH}[key.named(kid)]
