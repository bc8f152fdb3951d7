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


def understood(found: dict[str, Any]) -> bool:
    """Whether a header marks as critical only what is known here: ``b64`` (RFC 7797), and nothing else.

    RFC 7515 section 4.1.11: ``crit`` is a list that is not empty, names nothing twice, nothing of RFC 7515 itself and
    nothing that is not in the header. RFC 7797 section 6: ``b64`` is a boolean and always critical.

    Examples
    --------
    >>> understood({}), understood({"b64": False, "crit": ["b64"]}), understood({"b64": False})
    (True, True, False)
    >>> understood({"crit": []}), understood({"crit": ["alg"], "alg": "ES256"}), understood({"crit": ["b64"]})
    (False, False, False)
    """
    if "b64" in found:
        return isinstance(found["b64"], bool) and found.get("crit") == ["b64"]
    return "crit" not in found


def _decode(part: bytes) -> bytes:
    return base64.urlsafe_b64decode(part + b"=" * (-len(part) % 4))
