"""Where a page or a service listens: on this machine, or with a token and TLS."""

from __future__ import annotations

import asyncio
import ipaddress
import socket
import ssl
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from woundfhir.errors import InputError
from woundfhir.extras import missing
from woundfhir.secret import first_line, token_from

try:
    import uvicorn
    from starlette.types import ASGIApp
    from uvicorn.protocols.http.h11_impl import H11Protocol
except ModuleNotFoundError:  # pragma: no cover
    raise missing("server", "serve") from None

#: Variables of the environment that name the token which a request must carry.
TOKEN, TOKEN_FILE = "WOUNDFHIR_SERVE_TOKEN", "WOUNDFHIR_SERVE_TOKEN_FILE"
#: A shorter one could be guessed.
TOKEN_LENGTH = 24
#: Seconds that a connection may stay idle, and that a stop waits for what is being answered.
_IDLE, _GRACE = 5, 5
#: Seconds within which the head of a request must be there.
_HEAD = 10.0
#: Connections that may be open, idle ones too.
_CONNECTIONS = 200


@dataclass(frozen=True)
class Place:
    """Where to listen, and what a request must carry.

    Attributes
    ----------
    host, port
        As given; port 0: any that is free.
    token
        None: none is asked for.
    certificate, key, password_file
        PEM files; None: plain HTTP.
    """

    host: str
    port: int
    token: str | None = field(default=None, repr=False)
    certificate: Path | None = None
    key: Path | None = None
    password_file: Path | None = None

    @property
    def hosts(self) -> tuple[str, ...] | None:
        """The names by which this machine may be asked for; None: every name."""
        return ("localhost", "127.0.0.1", "::1", self.host) if is_loopback(self.host) else None

    @property
    def secure(self) -> bool:
        """Whether connections are TLS."""
        return self.certificate is not None


def is_loopback(host: str) -> bool:
    """Whether only this machine can reach a host.

    Examples
    --------
    >>> is_loopback("localhost"), is_loopback("::1"), is_loopback("0.0.0.0"), is_loopback("ward-3.example")
    (True, True, False, False)
    """
    try:
        return host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def place(
    host: str,
    port: int,
    certificate: Path | None = None,
    key: Path | None = None,
    password_file: Path | None = None,
    environment: Mapping[str, str] | None = None,
) -> Place:
    """Return where to listen; refuse to be reached from elsewhere without a token and TLS.

    Raises
    ------
    InputError
        Where either is missing, a token could be guessed, or the certificate and its key do not fit.

    Examples
    --------
    >>> place("127.0.0.1", 8080, environment={}).hosts
    ('localhost', '127.0.0.1', '::1', '127.0.0.1')
    >>> place("0.0.0.0", 8080, environment={})
    Traceback (most recent call last):
    ...
    woundfhir.errors.InputError: --host: expected a token, where other machines can reach it. Set \
WOUNDFHIR_SERVE_TOKEN or WOUNDFHIR_SERVE_TOKEN_FILE, or leave --host out
    """
    token = token_from(TOKEN, TOKEN_FILE, environment)
    if token is not None and len(token) < TOKEN_LENGTH:
        fix = "Make one with: python -c 'import secrets; print(secrets.token_urlsafe())'"
        raise InputError(TOKEN, f"a token of at least {TOKEN_LENGTH} characters", fix)
    if not is_loopback(host):
        if token is None:
            fix = f"Set {TOKEN} or {TOKEN_FILE}, or leave --host out"
            raise InputError("--host", "a token, where other machines can reach it", fix)
        if certificate is None:
            fix = "Give --certificate and --key, or leave --host out"
            raise InputError("--host", "TLS, where other machines can reach it", fix)
    found = Place(host, port, token, certificate, key, password_file)
    if certificate is not None:
        _tls(found)
    elif key is not None:
        raise InputError("--key", "a certificate with it", "Give --certificate")
    return found


def _password(found: Place) -> str | None:
    return None if found.password_file is None else first_line(found.password_file).decode("utf-8", "replace")


def _tls(found: Place) -> ssl.SSLContext:
    """Return the context of TLS; what does not fit is refused before anything listens."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    password = _password(found) or ""  # never asked for on the terminal
    try:
        context.load_cert_chain(str(found.certificate), found.key and str(found.key), password)
    except (OSError, ValueError):  # SSLError is one of these; a name with a zero byte is a ValueError
        fix = "Check the names of both files, that they belong together, and --password-file where the key has one"
        raise InputError("--certificate", "a certificate in PEM, with its private key", fix) from None
    return context


def _opened(found: Place) -> socket.socket:
    kind = socket.AF_INET6 if ":" in found.host else socket.AF_INET
    listening = socket.socket(kind)
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((found.host, found.port))
    except OSError as error:
        listening.close()
        wrong = f"the system says: {error.strerror or 'no such address'}"
        raise InputError("--port", "an address that is free", "Choose another with --port", found=wrong) from None
    return listening


class _Prompt(H11Protocol):
    """HTTP/1.1 with a time limit on the head of a request, against clients that send it byte by byte."""

    _late: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        self._wait_for_head()

    def data_received(self, data: bytes) -> None:
        super().data_received(data)
        self._wait_for_head()

    def connection_lost(self, exc: Exception | None) -> None:
        if self._late is not None:
            self._late.cancel()
        super().connection_lost(exc)

    def _wait_for_head(self) -> None:
        """Count from the first byte of a head; stop where a request is being answered, whose time the guard counts."""
        if self.cycle is not None and not self.cycle.response_complete:
            if self._late is not None:
                self._late.cancel()
                self._late = None
        elif self._late is None:
            self._late = self.loop.call_later(_HEAD, self.transport.close)


def listen(app: ASGIApp, found: Place, say: Callable[[str], None]) -> None:
    """Answer requests until the process is stopped (SIGINT, SIGTERM).

    Parameters
    ----------
    app
        The application, guarded.
    say
        Takes the line with the address, once connections are taken.
    """
    listening = _opened(found)
    name = f"[{found.host}]" if ":" in found.host else found.host
    address = f"{'https' if found.secure else 'http'}://{name}:{listening.getsockname()[1]}"
    config = uvicorn.Config(
        app,
        log_config=None,
        log_level="critical",  # its own lines hold paths; what went wrong, the guard writes
        access_log=False,
        server_header=False,
        date_header=True,
        proxy_headers=False,
        http=_Prompt,
        ws="none",
        lifespan="on",
        limit_concurrency=_CONNECTIONS,
        timeout_keep_alive=_IDLE,
        timeout_graceful_shutdown=_GRACE,
        ssl_certfile=found.certificate,
        ssl_keyfile=found.key,
        ssl_keyfile_password=_password(found),
    )
    with listening:
        listening.listen(128)
        say(f"Listening on {address} (Ctrl-C stops it).")
        uvicorn.Server(config).run(sockets=[listening])
