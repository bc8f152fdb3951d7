"""Keys that sign and encrypt, read from a JWK (RFC 7517) or a PEM file: what a key may do, and until when.

Only pairs of a private and a public key are taken. A secret that both sides share (JWK type ``oct``) would let
everybody who can check a signature also make one. A key is trusted because the caller holds it: no chain of
certificates is followed, and a key that comes inside a signature is never used.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any, Literal

from cryptography import x509
from cryptography.exceptions import UnsupportedAlgorithm
from cryptography.hazmat.primitives.serialization import load_pem_private_key, load_pem_public_key, load_ssh_private_key
from joserfc.errors import JoseError
from joserfc.jwk import ECKey, OKPKey, RSAKey, import_key

from woundfhir.errors import InputError
from woundfhir.r4 import jsonio

#: Largest key file, in bytes.
KEY_LIMIT = 64 * 1024
#: Shortest RSA modulus, in bits (RFC 7518 sections 3.3 and 4.3).
RSA_BITS = 2048
#: How each kind of key signs: JWS algorithms (RFC 7518 section 3, RFC 8037, RFC 9864), the one that is written first.
SIGNS = {
    "P-256": ("ES256",),
    "P-384": ("ES384",),
    "P-521": ("ES512",),
    "Ed25519": ("EdDSA", "Ed25519"),
    "RSA": ("RS256", "PS256", "RS384", "PS384", "RS512", "PS512"),
}
#: How a file is encrypted for each kind of key: JWE algorithms (RFC 7518 section 4), the one that is written first.
ENCRYPTS = {
    "P-256": ("ECDH-ES+A256KW", "ECDH-ES", "ECDH-ES+A128KW", "ECDH-ES+A192KW"),
    "P-384": ("ECDH-ES+A256KW", "ECDH-ES", "ECDH-ES+A128KW", "ECDH-ES+A192KW"),
    "P-521": ("ECDH-ES+A256KW", "ECDH-ES", "ECDH-ES+A128KW", "ECDH-ES+A192KW"),
    "X25519": ("ECDH-ES+A256KW", "ECDH-ES", "ECDH-ES+A128KW", "ECDH-ES+A192KW"),
    "RSA": ("RSA-OAEP-256", "RSA-OAEP"),
}
_BLOCK = re.compile(rb"-----BEGIN ([A-Z0-9 ]{1,40})-----.+?-----END \1-----", re.DOTALL)
_THUMBPRINT = re.compile(r"[A-Za-z0-9_-]{43}")
_BROKEN = (JoseError, ValueError, TypeError, KeyError, AttributeError, UnsupportedAlgorithm)
_KINDS = "a key on the curve P-256, P-384, P-521, Ed25519 or X25519, or an RSA key"


@dataclass(frozen=True, slots=True)
class Key:
    """A key and what is known of it.

    Attributes
    ----------
    jose
        The key as the JOSE library holds it.
    kind
        ``P-256``, ``P-384``, ``P-521``, ``Ed25519``, ``X25519`` or ``RSA``.
    thumbprint
        SHA-256 of the public half (RFC 7638), base64url.
    own_id
        ``kid`` of the JWK, if it has one.
    starts, expires
        Of a certificate (notBefore, notAfter), or of a JWK's members ``nbf`` and ``exp`` (seconds since 1970-01-01
        UTC, as in RFC 7519; RFC 7517 has no member for it). None: no limit given.
    """

    jose: RSAKey | ECKey | OKPKey
    kind: str
    thumbprint: str
    own_id: str | None = None
    starts: datetime | None = None
    expires: datetime | None = None

    @property
    def private(self) -> bool:
        """Whether the private half is there."""
        return self.jose.is_private

    @property
    def id(self) -> str:
        """What is written as ``kid``: the JWK's own, else the thumbprint."""
        return self.own_id or self.thumbprint

    def algorithms(self, use: Literal["sig", "enc"]) -> tuple[str, ...]:
        """Return the algorithms that the key may be used with; none when the JWK is for another use.

        The JWK's ``use`` and ``alg`` bind (RFC 7517 sections 4.2 and 4.4).
        """
        if self.jose.get("use") not in (None, use):
            return ()
        names = (SIGNS if use == "sig" else ENCRYPTS).get(self.kind, ())
        return tuple(name for name in names if self.jose.alg in (None, name))

    def named(self, kid: object) -> Literal["this", "another", "unknown"]:
        """Say whether a ``kid`` names this key; unknown where it says nothing that can be compared.

        A name that is not ours is another key's only if both are of one sort: the JWK's own, or the thumbprint.
        """
        if isinstance(kid, str) and kid in (self.own_id, self.thumbprint):
            return "this"
        comparable = isinstance(kid, str) and (self.own_id is not None or _THUMBPRINT.fullmatch(kid))
        return "another" if comparable else "unknown"

    def state(self, now: datetime | None) -> Literal["valid", "early", "expired"]:
        """Say whether the key is valid at a time; with no time, the limits are not looked at."""
        if now is None:
            return "valid"
        if self.expires is not None and now >= self.expires:
            return "expired"
        return "early" if self.starts is not None and now < self.starts else "valid"


def aware(now: datetime | None) -> datetime | None:
    """Return the time as it came; refuse one without a zone, which cannot be compared with a key's limits."""
    if now is not None and now.tzinfo is None:
        raise InputError("now", "a time with its zone", "Add the offset, such as +00:00")
    return now


# -- reading ---------------------------------------------------------------------------------------


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
