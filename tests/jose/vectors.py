"""Published JOSE numbers and keys for the tests, and certificates made on the spot with fixed dates."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from cryptography.x509.oid import NameOID
from joserfc.jwk import OKPKey

from woundfhir.jose.key_files import read_key
from woundfhir.jose.keys import Key

Json = Any
BEGIN, END = datetime(2026, 1, 1, tzinfo=UTC), datetime(2027, 1, 1, tzinfo=UTC)
#: JWK members of the private half (RFC 7518 section 6).
_PRIVATE = frozenset(("d", "p", "q", "dp", "dq", "qi"))


@cache
def vectors() -> Json:
    """Return the published numbers; their source stands in the file."""
    return json.loads((Path(__file__).parent / "jose_vectors.json").read_bytes())


def jwk(name: str) -> dict[str, Json]:
    """Return the private JWK of a vector, such as ``RFC 7515 A.3``."""
    return next(dict(one["key"]) for one in vectors()["jws"] + vectors()["jwe"] if one["name"] == name)


def public(found: dict[str, Json]) -> dict[str, Json]:
    """Return a JWK without its private half."""
    return {member: value for member, value in found.items() if member not in _PRIVATE}


def key(found: dict[str, Json], **more: Json) -> Key:
    """Return a JWK as a key file is read."""
    return read_key(json.dumps({**found, **more}).encode())


#: One private key of each kind that signs; P-384 and X25519 are drawn, the others are published.
P256, P521, RSA, ED25519 = (jwk(name) for name in ("RFC 7515 A.3", "RFC 7515 A.4", "RFC 7515 A.2", "RFC 8037 A.4"))
RSA_OTHER = jwk("RFC 7516 A.1")
P384 = {name: value for name, value in jwk("RFC 7520 5.4").items() if name not in ("use", "kid")}


@cache
def x25519() -> dict[str, Json]:
    """Return a drawn key on X25519."""
    return dict(OKPKey.generate_key("X25519").as_dict(private=True))


@cache
def certificate() -> tuple[bytes, bytes]:
    """Return a private key and its certificate in PEM, valid from BEGIN to END."""
    pair = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Invented home care")])
    builder = x509.CertificateBuilder(name, name, pair.public_key(), 7, BEGIN, END)
    made = builder.sign(pair, hashes.SHA256())
    private = pair.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    return private, made.public_bytes(Encoding.PEM)
