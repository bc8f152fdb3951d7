"""Keys as they stand in files: a JWK or a JWK Set of one key (RFC 7517), or PEM."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from woundfhir.errors import InputError
from woundfhir.extras import missing
from woundfhir.jose.keys import ENCRYPTS, SIGNS, Key
from woundfhir.r4 import jsonio

try:
    from cryptography import x509
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.serialization import (
        load_pem_private_key,
        load_pem_public_key,
        load_ssh_private_key,
    )
    from joserfc.errors import JoseError
    from joserfc.jwk import ECKey, OKPKey, RSAKey, import_key
except ModuleNotFoundError:
    raise missing("signatures", "a key file") from None

#: Largest key file, in bytes.
KEY_LIMIT = 64 * 1024
#: Shortest RSA modulus, in bits (RFC 7518 sections 3.3 and 4.3).
RSA_BITS = 2048
_BLOCK = re.compile(rb"-----BEGIN ([A-Z0-9 ]{1,40})-----.+?-----END \1-----", re.DOTALL)
_BROKEN = (JoseError, ValueError, TypeError, KeyError, AttributeError, UnsupportedAlgorithm)
_KINDS = "a key on the curve P-256, P-384, P-521, Ed25519 or X25519, or an RSA key"


def read_key(content: bytes, where: str = "key", password: bytes | None = None) -> Key:
    """Read one key from the bytes of a file.

    Parameters
    ----------
    content
        A JWK or a JWK Set of one key (JSON, RFC 7517); or PEM: a private key (PKCS #8, PKCS #1, SEC 1, OpenSSH), a
        public key, an X.509 certificate, or a private key together with its certificate.
    where
        Name of the file, for the error.
    password
        Of an encrypted private key in PEM.

    Raises
    ------
    InputError
        For anything else. No part of the key is in the text.

    Examples
    --------
    >>> key = read_key(b'{"kty": "OKP", "crv": "Ed25519", "x": "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo"}')
    >>> key.kind, key.private, key.thumbprint
    ('Ed25519', False, 'kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k')
    >>> read_key(b'{"kty": "oct", "k": "c2VjcmV0"}')
    Traceback (most recent call last):
    ...
    woundfhir.errors.InputError: key: expected a private or public key, and this is a shared secret. Make a pair of keys
    """
    if len(content) > KEY_LIMIT:
        raise InputError(where, f"a key file of at most {KEY_LIMIT // 1024} kB", "Choose the key, not the document")
    text = content.removeprefix(b"\xef\xbb\xbf").strip()
    if text.startswith(b"{"):
        return _from_jwk(_one(_json(text, where), where), where)
    blocks = {match[1]: match[0] for match in reversed(list(_BLOCK.finditer(text)))}
    if not blocks:
        raise InputError(where, "a key: a JWK in JSON, or PEM text", "Convert the key to one of the two")
    return _from_pem(blocks, where, password)


def _json(text: bytes, where: str) -> dict[str, Any]:
    try:
        return jsonio.decode_checked(text)
    except InputError as error:
        raise error.at(where) from None


def _one(found: dict[str, Any], where: str) -> dict[str, Any]:
    if "keys" not in found:
        return found
    keys = found["keys"]
    if not isinstance(keys, list) or len(keys) != 1 or not isinstance(keys[0], dict):
        raise InputError(where, "one key", "Put the key that you mean into a file of its own")
    return keys[0]


def _from_jwk(jwk: dict[str, Any], where: str) -> Key:
    if jwk.get("kty") == "oct":
        raise InputError(where, "a private or public key, and this is a shared secret", "Make a pair of keys")
    starts, expires = (_moment(jwk, name, where) for name in ("nbf", "exp"))
    try:
        return _key(import_key(jwk), where, starts, expires)
    except _BROKEN:
        raise InputError(where, "a whole JWK (RFC 7517)", "Export the key again") from None


def _moment(jwk: dict[str, Any], name: str, where: str) -> datetime | None:
    seconds = jwk.get(name)
    if seconds is None:
        return None
    try:
        if not isinstance(seconds, int | Decimal) or isinstance(seconds, bool):
            raise ValueError
        return datetime.fromtimestamp(int(seconds), UTC)
    except (ValueError, OverflowError, OSError):
        raise InputError(f"{where}, {name}", "seconds since 1970-01-01 UTC", "Write the time as a number") from None


def _from_pem(blocks: dict[bytes, bytes], where: str, password: bytes | None) -> Key:
    private = next((block for name, block in blocks.items() if name.endswith(b"PRIVATE KEY")), None)
    public = next((block for name, block in blocks.items() if name.endswith(b"PUBLIC KEY")), None)
    try:
        leaf = x509.load_pem_x509_certificate(blocks[b"CERTIFICATE"]) if b"CERTIFICATE" in blocks else None
        if private is not None:
            native: Any = _private(private, where, password)
        elif leaf is not None:
            native = leaf.public_key()
        elif public is not None:
            native = load_pem_public_key(public)
        else:
            raise ValueError
        if leaf is None:
            return _key(_wrap(native), where)
        key = _key(_wrap(native), where, leaf.not_valid_before_utc, leaf.not_valid_after_utc)
        other = _key(_wrap(leaf.public_key()), where)
    except _BROKEN:
        raise InputError(where, f"a whole PEM file with {_KINDS}", "Export the key again") from None
    if other.thumbprint != key.thumbprint:
        raise InputError(where, "a private key and its own certificate", "Take the other certificate out of the file")
    return key


def _private(block: bytes, where: str, password: bytes | None) -> Any:
    load = load_ssh_private_key if b"OPENSSH" in block else load_pem_private_key
    try:
        return load(block, password or None)
    except TypeError:
        if password:
            return load(block, None)  # the key is not encrypted: the password is not needed
        raise InputError(where, "the password of this private key", "Give it with --password-file") from None
    except ValueError:
        if not password:
            raise
        raise InputError(where, "a private key that this password opens", "Check the password") from None


def _wrap(native: Any) -> RSAKey | ECKey | OKPKey:
    """Give a key of the cryptography library to the JOSE library; each kind refuses what is not its own."""
    for kind in (RSAKey, ECKey, OKPKey):
        if kind.binding.check_cryptography_key(native):
            return kind.import_key(native)
    raise ValueError("no kind of key that JOSE has")


def _key(jose: Any, where: str, starts: datetime | None = None, expires: datetime | None = None) -> Key:
    kind = "RSA" if isinstance(jose, RSAKey) else str(jose.curve_name)
    if kind not in SIGNS and kind not in ENCRYPTS:
        raise InputError(where, _KINDS, "Make a key of one of these kinds")
    if isinstance(jose, RSAKey) and jose.public_key.key_size < RSA_BITS:
        raise InputError(where, f"an RSA key of at least {RSA_BITS} bits", "Make a longer key")
    kid = jose.get("kid")
    return Key(jose, kind, jose.thumbprint(), kid if isinstance(kid, str) else None, starts, expires)
