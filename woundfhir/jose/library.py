"""What is asked of the JOSE library: signatures and encryption with our algorithms and no other.

Imported where something is signed, checked, encrypted or opened, and not before: who reads a record without keys
needs neither this library nor the one below it.
"""

from __future__ import annotations

from typing import Any

from woundfhir.extras import missing
from woundfhir.jose.keys import ENCRYPTIONS, ENCRYPTS, SIGNATURES
from woundfhir.limits import LIMIT

try:
    from cryptography.exceptions import InvalidTag
    from joserfc import jwe, jws, jwt
    from joserfc.errors import BadSignatureError, JoseError, KeyParameterError, UnsupportedAlgorithmError
except ModuleNotFoundError:
    raise missing("signatures", "signatures and encryption") from None


class _Signing(jws.JWSRegistry):
    """Allows our algorithms and no other, without a warning for EdDSA; whole files as content."""

    max_header_length = 16 * 1024
    max_payload_length = 1 << 31
    max_signature_length = 4 * 1024

    def get_alg(self, name: str) -> Any:
        if name not in SIGNATURES or name not in self.algorithms:
            raise UnsupportedAlgorithmError(name)
        return self.algorithms[name]


class _Encrypting(jwe.JWERegistry):
    """Whole files as content."""

    max_protected_header_length = 16 * 1024
    max_encrypted_key_length = 4 * 1024
    max_ciphertext_length = LIMIT * 4 // 3 + 4


SIGNING = _Signing(strict_check_header=False)
ENCRYPTING = _Encrypting(
    algorithms={name for names in ENCRYPTS.values() for name in names} | set(ENCRYPTIONS), strict_check_header=False
)

__all__ = [
    "ENCRYPTING",
    "SIGNING",
    "BadSignatureError",
    "InvalidTag",
    "JoseError",
    "KeyParameterError",
    "jwe",
    "jws",
    "jwt",
]
