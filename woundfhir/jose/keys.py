"""Keys that sign and encrypt: what a key may do, and until when (they are read in ``key_files.py``).

Only pairs of a private and a public key are taken. A secret that both sides share (JWK type ``oct``) would let
everybody who can check a signature also make one. A key is trusted because the caller holds it: no chain of
certificates is followed, and a key that comes inside a signature is never used.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Literal

from woundfhir.errors import InputError

if TYPE_CHECKING:
    from joserfc.jwk import ECKey, OKPKey, RSAKey

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
#: The algorithms that a signature may have.
SIGNATURES = frozenset(name for names in SIGNS.values() for name in names)
#: How the content of an encrypted file may be encrypted (RFC 7518 section 5), the one that is written first.
ENCRYPTIONS = ("A256GCM", "A128GCM", "A192GCM", "A128CBC-HS256", "A192CBC-HS384", "A256CBC-HS512")
#: What a key in force is that another is not, by the ``state`` of that other.
IN_FORCE = {"expired": "has not expired", "early": "is valid already"}
_THUMBPRINT = re.compile(r"[A-Za-z0-9_-]{43}")


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
