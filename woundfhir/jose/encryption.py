"""Secrecy: a file encrypted for one public key, as JWE in compact form (RFC 7516).

A new key is drawn for each file (A256GCM); it is sent encrypted for the receiver: RSA-OAEP-256 for an RSA key,
ECDH-ES+A256KW for one on a curve (RFC 7518 section 4). So encrypting twice gives two files, and both open. Files of
other senders may use the algorithms of ``keys.ENCRYPTS``; not RSA1_5, whose padding can be probed (RFC 3218), no
secrets that both sides share, and no compression, which can betray the content (RFC 8725 section 3.6).

Who can open the file is settled by the key. Who made it is not: sign it first.
"""

from __future__ import annotations

import re
from datetime import datetime

from woundfhir.errors import InputError
from woundfhir.jose import compact
from woundfhir.jose.keys import ENCRYPTIONS, ENCRYPTS, IN_FORCE, Key, aware
from woundfhir.limits import LIMIT, readable_size

#: A file encrypted from FILE is called FILE.jwe.
SUFFIX = ".jwe"
_AGREES = frozenset(name for names in ENCRYPTS.values() for name in names)
_FIVE = re.compile(rb"[\w-]+\.[\w-]*\.[\w-]*\.[\w-]*\.[\w-]*")
_BROKEN = (ValueError, TypeError, KeyError, AttributeError, AssertionError, OverflowError)
_CHANGED = ("an encrypted file as it was sent, and this one was changed or cut", "Ask for it to be sent again")
_OTHER = ("the private key it was encrypted for, and this is another", "Take that key, or ask the sender to use yours")
_EITHER = ("the private key it was encrypted for, and an unchanged file", "Check the key, then ask for the file again")


def is_encrypted(content: bytes) -> bool:
    """Whether the bytes have the form of a compact JWE.

    Examples
    --------
    >>> is_encrypted(b'{"resourceType": "Bundle"}'), is_encrypted(b"eyJhbGciOiJ4In0.a.b.c.d\\n")
    (False, True)
    """
    return _FIVE.fullmatch(content.strip()) is not None


def encrypt(content: bytes, key: Key, *, content_type: str | None = None, now: datetime | None = None) -> bytes:
    """Return the text of an encrypted file.

    Parameters
    ----------
    content
        The file, at most 200 MB.
    key
        The receiver's public key.
    content_type
        Media type of the file, such as ``application/fhir+json``. It is written in clear.
    now
        Time, with its zone, at which the key has to be valid. None: its limits are not looked at.

    Raises
    ------
    InputError
        A file too large; a key that cannot encrypt, has expired or is not valid yet.
    """
    from woundfhir.jose import library

    if len(content) > LIMIT:
        raise InputError("file", f"at most {readable_size(LIMIT)} to encrypt", "Split it, or leave photos out")
    names = key.algorithms("enc")
    if not names:
        raise InputError("key", "a key for encryption", "Take one on P-256 or X25519, or an RSA key, for that use")
    if (state := key.state(aware(now))) != "valid":
        raise InputError("key", f"a key that {IN_FORCE[state]}", "Ask the receiver for the key in force")
    header = {"alg": names[0], "enc": ENCRYPTIONS[0], "kid": key.id, **({"cty": content_type} if content_type else {})}
    try:
        return library.jwe.encrypt_compact(header, content, key.jose, registry=library.ENCRYPTING).encode() + b"\n"
    except library.JoseError:
        raise InputError("key", "a key that may encrypt (key_ops)", "Take the key made for encryption") from None


def decrypt(content: bytes, key: Key | None, where: str = "file") -> bytes:
    """Return the bytes of the file that was encrypted, all of them or none.

    Parameters
    ----------
    content
        The encrypted file.
    key
        The receiver's private key. An expired one still opens what was encrypted for it.
    where
        Name of the file, for the error.

    Raises
    ------
    InputError
        Not encrypted, no key or a public one, another key, a changed byte, an algorithm that is not allowed.

    Examples
    --------
    >>> decrypt(b'{"resourceType": "Bundle"}', None)
    Traceback (most recent call last):
    ...
    woundfhir.errors.InputError: file: expected an encrypted file (JWE), and this is not one. Read it without a key
    """
    token = content.strip()
    if not is_encrypted(token):
        if "enc" in compact.header(token.split(b".", 1)[0]):
            raise InputError(where, *_CHANGED)
        raise InputError(where, "an encrypted file (JWE), and this is not one", "Read it without a key")
    if key is None:
        raise InputError(where, "the private key that opens this encrypted file", "Give the key")
    if not key.private:
        raise InputError(where, "a private key, and this is a public one", "Open it with your own private key")
    return _open(token, key, where)


def _open(token: bytes, key: Key, where: str) -> bytes:
    from woundfhir.jose import library

    parts = token.split(b".")
    header = compact.header(parts[0])
    algorithm, encryption = header.get("alg"), header.get("enc")
    if not isinstance(algorithm, str) or not isinstance(encryption, str) or not all(map(compact.strict, parts)):
        raise InputError(where, *_CHANGED)
    if "crit" in header:  # no extension of JWE is known here (RFC 7516 section 4.1.13)
        raise InputError(where, "an encrypted file without extensions (crit)", "Ask the sender to leave them out")
    if algorithm not in _AGREES or encryption not in ENCRYPTIONS or "zip" in header:
        raise InputError(where, "an algorithm that is safe", "Ask the sender for RSA-OAEP-256 or ECDH-ES with A256GCM")
    if algorithm not in key.algorithms("enc"):
        raise InputError(where, *_OTHER)
    try:
        plain = library.jwe.decrypt_compact(token, key.jose, registry=library.ENCRYPTING).plaintext
    except (library.JoseError, *_BROKEN) as error:
        tag = isinstance(error.__cause__, library.InvalidTag)  # of the content: the key part had opened
        raise InputError(where, *_why(tag, algorithm, key, header.get("kid"))) from None
    if plain is None:
        raise InputError(where, *_CHANGED)
    return plain


def _why(tag: bool, algorithm: str, key: Key, kid: object) -> tuple[str, str]:
    """Tell another key from a changed file.

    Where the key part opened and the content did not, the key is right. ECDH-ES alone has no key part: there, and
    where the key part itself does not open, only the name of the key shows it.
    """
    if tag and algorithm != "ECDH-ES":
        return _CHANGED
    return {"this": _CHANGED, "another": _OTHER, "unknown": _EITHER}[key.named(kid)]
