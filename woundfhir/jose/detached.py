"""A detached JWS over some bytes (RFC 7515 appendix F), made and checked through the JOSE library."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime
from typing import Any

from woundfhir.errors import InputError
from woundfhir.jose import compact
from woundfhir.jose.keys import IN_FORCE, SIGNATURES, Key, aware
from woundfhir.jose.verification import Answer, Verdict

Json = Any
_PRINTABLE = re.compile(r"[!-~]{1,200}")


def sign(content: bytes, key: Key, more: dict[str, Json], at: datetime | None) -> bytes:
    """Return the token over some bytes.

    Parameters
    ----------
    content
        What is signed.
    key
        A private key.
    more
        Members of the protected header beside ``alg`` and ``kid``.
    at
        Time, with its zone, at which the key has to be valid. None: its limits are not looked at.

    Raises
    ------
    InputError
        For a key that cannot sign, or is not valid at that time.
    """
    from woundfhir.jose import library

    names = key.algorithms("sig")
    if not key.private:
        raise InputError("key", "a private key, and this is a public one", "Sign with your own private key")
    if not names:
        raise InputError("key", "a key for signatures", "Take one on P-256 or Ed25519, or an RSA key, for that use")
    if (state := key.state(aware(at))) != "valid":
        word = IN_FORCE[state]
        raise InputError("key", f"a key that {word} at the time of signing", "Sign with the key in force")
    header = {"alg": names[0], "kid": key.id, **more}
    try:
        token = library.jws.serialize_compact(header, content, key.jose, registry=library.SIGNING)
        return library.jws.detach_content(token).encode()
    except library.JoseError:
        raise InputError("key", "a key that may sign (key_ops)", "Take the key made for signatures") from None


def check(token: bytes, content: bytes, key: Key | None, now: datetime | None) -> Verdict:
    """Check a token against some bytes; see ``seal.verify``."""
    parts = token.split(b".")
    header = compact.header(parts[0]) if len(parts) == 3 and compact.strict(parts[2]) else {}
    name, kid = header.get("alg"), header.get("kid")
    if not isinstance(name, str):
        return Verdict(Answer.UNREADABLE)
    bare = Verdict(
        Answer.OK,
        algorithm=name if _PRINTABLE.fullmatch(name) else None,
        key_id=kid if isinstance(kid, str) and _PRINTABLE.fullmatch(kid) else None,
        expiry_checked=now is not None,
    )
    if name not in SIGNATURES:
        answer = Answer.ALGORITHM
    elif not compact.understood(header):
        return Verdict(Answer.UNREADABLE)
    elif key is None:
        answer = Answer.NO_KEY
    elif name not in key.algorithms("sig"):
        answer = Answer.WRONG_KEY
    else:
        answer = _match(parts, content, key, kid)
        if answer is Answer.OK:
            answer = {"valid": Answer.OK, "expired": Answer.EXPIRED, "early": Answer.EARLY}[key.state(aware(now))]
    return replace(bare, answer=answer)


def _match(parts: list[bytes], content: bytes, key: Key, kid: Json) -> Answer:
    """Compare content and signature. A content inside the token must be the same: it is never looked at instead."""
    from woundfhir.jose import library

    if parts[1] and parts[1] != compact.base64url(content):
        return Answer.CHANGED
    try:
        bare = b"..".join((parts[0], parts[2]))
        library.jws.deserialize_compact(bare, key.jose, registry=library.SIGNING, payload=content)
    except library.BadSignatureError:
        pass
    except library.KeyParameterError:  # its key_ops do not let it check signatures
        return Answer.WRONG_KEY
    except (library.JoseError, ValueError, TypeError):
        return Answer.UNREADABLE
    else:
        return Answer.OK
    return {"this": Answer.CHANGED, "another": Answer.WRONG_KEY, "unknown": Answer.NO_MATCH}[key.named(kid)]
