"""An invented Bundle, sealed, for the tests of signatures."""

from __future__ import annotations

import base64
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from tests.jose import vectors
from woundfhir.jose import signature as seal
from woundfhir.jose.keys import Key

Json = Any
WHEN = "2026-03-06T17:30:00-05:00"
WHO = {"reference": "urn:uuid:6d1c7b7e-8f5b-5d9e-9c55-0c8d5a3b2f10", "display": "An invented nurse"}
NOON = datetime(2026, 6, 1, 12, tzinfo=UTC)
SIGNERS = {"P-256": vectors.P256, "P-384": vectors.P384, "P-521": vectors.P521, "Ed25519": vectors.ED25519}
SIGNERS |= {"RSA": vectors.RSA, "RSA, PSS": {**vectors.RSA, "alg": "PS256"}}
DIV = '<div xmlns="http://www.w3.org/1999/xhtml"><p>Wound  bed:\n slough 40&#160;%</p></div>'


def bundle() -> dict[str, Json]:
    """Return an invented Bundle with what is easily lost: exact decimals, a partial date, a note on two lines."""
    size = {"value": Decimal("4.10"), "unit": "cm", "system": "http://unitsofmeasure.org", "code": "cm"}
    observation = {
        "resourceType": "Observation",
        "text": {"status": "generated", "div": DIV},
        "status": "final",
        "code": {"text": "Length"},
        "effectiveDateTime": "2026-03",
        "valueQuantity": size,
        "note": [{"text": "One strip in.\nOne strip out. \u00e9\U0001f600"}],
    }
    return {
        "resourceType": "Bundle",
        "type": "document",
        "timestamp": "2026-03-06T17:30:00-05:00",
        "entry": [{"fullUrl": "urn:uuid:6d1c7b7e-8f5b-5d9e-9c55-0c8d5a3b2f11", "resource": observation}],
    }


def sealed(private: dict[str, Json] = vectors.ED25519) -> dict[str, Json]:
    """Return it signed."""
    return seal.seal(bundle(), vectors.key(private), when=WHEN, who=WHO)


def token(found: dict[str, Json]) -> bytes:
    """Return the JWS of a sealed Bundle."""
    return base64.b64decode(found["signature"]["data"])


def with_token(found: dict[str, Json], new: bytes) -> dict[str, Json]:
    """Return a sealed Bundle with another JWS."""
    return {**found, "signature": {**found["signature"], "data": base64.b64encode(new).decode()}}


def public(private: dict[str, Json]) -> Key:
    """Return the public half of a JWK as a key file is read."""
    return vectors.key(vectors.public(private))
