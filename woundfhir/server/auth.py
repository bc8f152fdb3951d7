"""Who is asking: a bearer token, or SMART Backend Services (a JWT that the site's own key signs).

Secrets come from the environment or from a file, never from an argument, and stand in no message, log or receipt.
SMART App Launch, client-confidential-asymmetric and backend-services: ES384 or RS384, five minutes at most, each JWT
once.
"""

from __future__ import annotations

import os
import time
import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from woundfhir.errors import InputError
from woundfhir.jose.keys import Key
from woundfhir.secret import first_line, key_in, token_from, visible
from woundfhir.server.answers import Answer, Refusal
from woundfhir.server.connection import Connection, base_of

Json = Any
#: Names in the environment.
TOKEN, TOKEN_FILE = "WOUNDFHIR_TOKEN", "WOUNDFHIR_TOKEN_FILE"
CLIENT_ID, KEY_FILE, PASSWORD_FILE = "WOUNDFHIR_CLIENT_ID", "WOUNDFHIR_KEY_FILE", "WOUNDFHIR_KEY_PASSWORD_FILE"
TOKEN_URL, SCOPE = "WOUNDFHIR_TOKEN_URL", "WOUNDFHIR_SCOPE"
#: How each kind of key signs (SMART: both are to be supported).
ALGORITHMS = {"P-384": "ES384", "RSA": "RS384"}
#: Seconds that a JWT is good for: at most 300 (SMART). A token is renewed so long before its end.
LIFETIME, EARLY = 240, 30
_ASSERTION = "urn:ietf:params:oauth:client-assertion-type:jwt-bearer"


@dataclass
class Backend:
    """A client of SMART Backend Services.

    Parameters
    ----------
    server
        The FHIR server, which says where tokens are to be had.
    client_id
        As the server's keeper registered it.
    key
        A private key on the curve P-384, or an RSA key.
    scope
        What is asked for, such as ``system/*.cruds``.
    token_url
        Where tokens are to be had, if not as the server says.
    """

    server: Connection
    client_id: str
    key: Key
    scope: str
    token_url: str | None = None
    now: Callable[[], float] = time.time
    _token: str | None = field(default=None, repr=False)
    _until: float = 0.0

    def __call__(self, renew: bool) -> str | None:
        """Return the header ``Authorization``; a new token where the old one ends, or was refused."""
        if renew or self._token is None or self.now() >= self._until - EARLY:
            self._token = None
            self._ask()
        return f"Bearer {self._token}"

    def _ask(self) -> None:
        place = self.token_url or self._discovered()

        def form() -> bytes:  # anew for each try: a JWT is good once
            said = {
                "grant_type": "client_credentials",
                "scope": self.scope,
                "client_assertion_type": _ASSERTION,
                "client_assertion": assertion(self.key, self.client_id, place, self.now()),
            }
            return urlencode(said).encode()

        host = Connection(base_of(place), say=self.server.say, wait=self.server.wait, timeout=self.server.timeout)
        try:
            answer = host.form(place, form)
        finally:
            host.close()
        said = _read(answer)
        token = said.get("access_token")
        if answer.status != 200 or not isinstance(token, str) or str(said.get("token_type")).lower() != "bearer":
            raise _refused(answer, said)
        seconds = said.get("expires_in")
        self._token = visible(token, "the authorisation server")
        self._until = self.now() + (float(seconds) if isinstance(seconds, int) and seconds > 0 else LIFETIME)
        granted = str(said.get("scope", self.scope)).split()
        if lacking := [one for one in self.scope.split() if one not in granted]:
            self.server.say(f"The authorisation server did not grant all scopes: {len(lacking)} are missing.")

    def _discovered(self) -> str:
        """Where the server says that tokens are to be had (SMART, conformance)."""
        plain = Connection(self.server.base, say=self.server.say, wait=self.server.wait, timeout=self.server.timeout)
        try:
            answer = plain.get(".well-known/smart-configuration", accept="application/json")
        finally:
            plain.close()
        place = _read(answer).get("token_endpoint") if answer.status == 200 else None
        if not isinstance(place, str):
            fix = f"Ask who keeps the server, and write it into {TOKEN_URL}"
            raise InputError("the server", "the address for tokens (.well-known/smart-configuration)", fix)
        return place


def assertion(key: Key, client_id: str, audience: str, now: float) -> str:
    """Return a signed JWT that says who is asking (SMART, client-confidential-asymmetric).

    Parameters
    ----------
    audience
        The address for tokens.
    now
        Seconds since 1970-01-01 UTC.

    Raises
    ------
    InputError
        For a key that cannot sign so, or is no private one.
    """
    from woundfhir.jose import library

    algorithm = ALGORITHMS.get(key.kind)
    if algorithm is None or not key.private or algorithm not in key.algorithms("sig"):
        fix = "Make one, and give its public half to who keeps the server"
        raise InputError(KEY_FILE, "a private key on the curve P-384, or an RSA key, for signatures", fix)
    header = {"alg": algorithm, "kid": key.id, "typ": "JWT"}
    claims = {"iss": client_id, "sub": client_id, "aud": audience, "jti": str(uuid.uuid4())}
    claims |= {"iat": int(now), "exp": int(now) + LIFETIME}  # type: ignore[dict-item]
    try:
        return library.jwt.encode(header, claims, key.jose, algorithms=[algorithm])
    except library.JoseError:
        raise InputError(KEY_FILE, "a key that signs", "Make a new one") from None


def _read(answer: Answer) -> dict[str, Json]:
    try:
        return answer.json("the authorisation server")
    except Refusal as error:
        if answer.status == 200:
            raise
        raise Refusal(error.where, "a token", error.fix, found=f"it answered {answer.status}") from None


#: What an error of OAuth means (RFC 6749 section 5.2), and what to do.
_ERRORS = {
    "invalid_client": (
        "it does not know the client, or does not accept its JWT",
        "Check the client id, the key and this machine's clock",
    ),
    "invalid_scope": ("it does not grant the scope", f"Ask who keeps the server, and write the scope into {SCOPE}"),
    "invalid_grant": ("it does not accept the JWT", "Check this machine's clock, and the address for tokens"),
    "unauthorized_client": ("the client may not do this", "Ask who keeps the server"),
}


def _refused(answer: Answer, said: Mapping[str, Json]) -> Refusal:
    means, fix = _ERRORS.get(str(said.get("error")), ("it gives no token", "Ask who keeps the server"))
    return Refusal(
        "the authorisation server", "a token", fix, found=f"it answered {answer.status}: {means}", status=answer.status
    )


def from_environment(server: Connection, environment: Mapping[str, str] | None = None) -> Callable[[bool], str | None]:
    """Return what gives the header ``Authorization``, by what stands in the environment; nothing there: no header.

    Raises
    ------
    InputError
        Where half of it is missing, or two ways are named.
    """
    said = os.environ if environment is None else environment
    ways = [name for name in (TOKEN, TOKEN_FILE, CLIENT_ID) if said.get(name)]
    if len(ways) > 1:
        raise InputError("the environment", f"one of {', '.join(ways)}", "Leave the others out")
    if not ways:
        return lambda renew: None
    if ways == [CLIENT_ID]:
        if not said.get(KEY_FILE):
            raise InputError(KEY_FILE, "the name of the file with the private key", "Set it in the environment")
        secret = first_line(said[PASSWORD_FILE]) if said.get(PASSWORD_FILE) else None
        key = key_in(Path(said[KEY_FILE]), KEY_FILE, secret)
        place = said.get(TOKEN_URL) or None
        if place is not None:
            base_of(place)
        made = Backend(server, said[CLIENT_ID], key, said.get(SCOPE) or "system/*.cruds", place)
        assertion(key, "check", "check", 0)  # a key that cannot sign is refused before anything is asked
        return made
    token = token_from(TOKEN, TOKEN_FILE, said)
    return lambda renew: f"Bearer {token}"


__all__ = ["Backend", "assertion", "from_environment"]
