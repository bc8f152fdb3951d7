"""Integrity: a detached JWS (RFC 7515 appendix F) in Bundle.signature, or beside a file.

What is signed in a Bundle
--------------------------
The Bundle without its ``signature``, in FHIR's canonical JSON, http://hl7.org/fhir/canonicalization/json: RFC 8785.
The protected header names that form (``canon``), the time (``sigT``) and the reason (``srCms``), where the HL7
validation engine looks for them, so that other software can check the signature too.

That form writes 4.10 as 4.1, and leaves who signed outside. So the protected header also holds ``exact#S256``: the
SHA-256 of the Bundle with its ``signature`` (all of it but ``data``) and with every number as it was written. With
it, nothing can be changed, not the last digit and not the name of the signer. Space inside a text is signed as it
stands, so that nobody can run a nurse's lines together unseen.

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

from woundfhir.errors import InputError
from woundfhir.jose import canonical_json, compact
from woundfhir.jose.detached import check, sign
from woundfhir.jose.keys import Key, aware
from woundfhir.jose.verification import HOLDS, Answer, Verdict
from woundfhir.r4.times import instant

Json = Any

#: A signature beside FILE is called FILE.jws.
SUFFIX = ".jws"
#: Why it was signed: from R4's value set http://hl7.org/fhir/ValueSet/signature-type (hl7.fhir.r4.core 4.0.1).
PURPOSE = {"system": "urn:iso-astm:E1762-95:2013", "code": "1.2.840.10065.1.12.1.1", "display": "Author's Signature"}
#: FHIR's canonical JSON of a whole Bundle, and of a document, where a server may set id and meta.
CANON = "http://hl7.org/fhir/canonicalization/json"
_LEFT_OUT = {CANON: ("signature",), f"{CANON}#document": ("signature", "id", "meta")}
#: Our header: a private name (RFC 7515 section 4.3) in the manner of x5t#S256. Other software passes over it.
_EXACT = "exact#S256"
_PARAMETER = re.compile(r";\s*canonicalization=\"?([^\";\s]+)")


# -- canonical form --------------------------------------------------------------------------------


def canonical(bundle: Mapping[str, Json], form: str = CANON) -> bytes:
    """Return the bytes of a Bundle that are signed.

    Parameters
    ----------
    bundle
        With or without a signature.
    form
        ``CANON``, or the same with ``#document``, which leaves out ``id`` and ``meta`` of the Bundle.

    Examples
    --------
    >>> from decimal import Decimal
    >>> canonical({"type": "document", "resourceType": "Bundle", "signature": {}, "total": Decimal("4.10")})
    b'{"resourceType":"Bundle","total":4.1,"type":"document"}'
    """
    return canonical_json.canonical({key: value for key, value in bundle.items() if key not in _LEFT_OUT[form]})


def _exact(bundle: Mapping[str, Json], element: Mapping[str, Json]) -> str:
    """Return the digest of everything but the signature's own data, with the digits as they were written."""
    bare = {key: value for key, value in element.items() if key != "data"}
    return compact.base64url(hashlib.sha256(canonical_json.exact({**bundle, "signature": bare})).digest()).decode()


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
    >>> from woundfhir.jose.key_files import read_key
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
    purpose = {"commId": {"id": f"urn:oid:{PURPOSE['code']}", "desc": PURPOSE["display"]}}
    header = {"sigT": when, "canon": CANON, "srCms": [purpose], _EXACT: _exact(bundle, element)}
    token = sign(canonical(bundle), key, header, at=_time_of_signing(when))
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
    return sign(content, key, {}, at=at) + b"\n"


def _time_of_signing(when: str) -> datetime:
    found = instant(when)
    if found is None:
        expected = "a date and clock time with seconds and offset"
        raise InputError("Bundle.signature.when", expected, "Such as 2026-03-06T17:30:00-05:00")
    return found


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
    when = said if isinstance(said, str) and instant(said) is not None else None
    try:
        token = base64.b64decode(element["data"], validate=True)
    except (ValueError, TypeError):
        token = b""
    header = compact.header(token.split(b".")[0])
    form = _form(bundle, element, header)
    if form is None:
        return Verdict(Answer.UNREADABLE, when=when)
    aware(now)
    try:
        verdict = check(token, canonical(bundle, form), key, now)
        exact = _EXACT in header
        same = header[_EXACT] == _exact(bundle, element) if exact else header.get("sigT", said) == said
    except InputError:  # a number or a text that no signed Bundle can hold
        return Verdict(Answer.CHANGED, when=when)
    if verdict.answer in HOLDS and not same:
        verdict = replace(verdict, answer=Answer.CHANGED)
    return replace(verdict, when=when, exact=exact and verdict.answer in HOLDS)


def _form(bundle: Mapping[str, Json], element: Mapping[str, Json], header: Mapping[str, Json]) -> str | None:
    """Return the canonical form that was signed, as the HL7 validation engine settles it; None for one not known."""
    target = element.get("targetFormat", "application/fhir+json")
    if element.get("sigFormat", "application/jose") != "application/jose":
        return None
    if not isinstance(target, str) or "xml" in target:
        return None
    named = _PARAMETER.search(target)
    default = f"{CANON}#document" if bundle.get("type") == "document" else CANON
    form = header.get("canon", named[1] if named else default)
    return form if isinstance(form, str) and form in _LEFT_OUT else None


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
    verdict = check(signature.strip(), content, key, now)
    return replace(verdict, exact=verdict.answer in HOLDS)
