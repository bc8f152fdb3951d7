"""The parts of a compact JWS or JWE (RFC 7515 section 7.1, RFC 7516 section 7.1): base64url, and the header in it."""

from __future__ import annotations

import base64
import json
from typing import Any


def base64url(content: bytes) -> bytes:
    """Return base64url without padding (RFC 7515 section 2).

    Examples
    --------
    >>> base64url(b"\\xfb\\xff")
    b'-_8'
    """
    return base64.urlsafe_b64encode(content).rstrip(b"=")


def strict(part: bytes) -> bool:
    """Whether a part is base64url in its one form.

    The usual decoder leaves out stray characters and the spare bits of the last one, so that a changed byte could
    pass unseen.

    Examples
    --------
    >>> strict(b"-_8"), strict(b"-_9"), strict(b"-_8\\n"), strict(b"-_8=")
    (True, False, False, False)
    """
    try:
        return base64url(_decode(part)) == part
    except ValueError:
        return False


def header(part: bytes) -> dict[str, Any]:
    """Return the protected header; an empty dict for what is none.

    Examples
    --------
    >>> header(base64url(b'{"alg":"ES256"}')), header(b"e30x")
    ({'alg': 'ES256'}, {})
    """
    if not strict(part):
        return {}
    try:
        found = json.loads(_decode(part))
    except (ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}


def _decode(part: bytes) -> bytes:
    return base64.urlsafe_b64decode(part + b"=" * (-len(part) % 4))
