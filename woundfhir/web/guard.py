"""What stands before every page and every service: who may ask, how much at once, and what leaves the house.

An ASGI application around another one. Nothing that a client's record holds stands in a log line or in the text of an
error: the log names the method, the name of our own function, the status and the time.
"""

from __future__ import annotations

import asyncio
import hmac
import time
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from urllib.parse import urlsplit

from woundfhir.border import fault_at
from woundfhir.errors import InputError, WoundfhirError
from woundfhir.extras import missing
from woundfhir.limits import check_size

try:
    from starlette.datastructures import Headers, MutableHeaders
    from starlette.exceptions import HTTPException
    from starlette.requests import ClientDisconnect
    from starlette.responses import JSONResponse, Response
    from starlette.types import ASGIApp, Message, Receive, Scope, Send
except ModuleNotFoundError:  # pragma: no cover
    raise missing("server", "serve") from None

#: No script, no picture, no frame: what a service answers is data.
NOTHING = "default-src 'none'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
#: On every answer, where it has no such header of its own.
HEADERS = {
    "Cache-Control": "no-store",
    "Content-Security-Policy": NOTHING,
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
}
_LASTING = "max-age=31536000"


class Refused(InputError):
    """A request that is not answered as it was asked.

    Parameters
    ----------
    status
        Of HTTP.
    headers
        Of the answer.
    """

    def __init__(
        self,
        status: int,
        where: str,
        expected: str,
        fix: str,
        *,
        found: str = "",
        headers: Mapping[str, str] | None = None,
    ) -> None:
        super().__init__(where, expected, fix, found=found)
        self.status = status
        self.headers = dict(headers or {})


@dataclass(frozen=True, slots=True)
class Limits:
    """How much is taken.

    Attributes
    ----------
    body
        The largest request, in bytes.
    seconds
        From the first byte of a request to its answer.
    at_once
        So many requests are worked on or wait; the next one is asked to try again later.
    """

    body: int = 10 * 1024 * 1024
    seconds: float = 60.0
    at_once: int = 16


def as_json(error: Refused, scope: Scope) -> Response:
    """Return the answer to a refused request, in plain JSON."""
    return JSONResponse({"error": str(error)}, error.status, error.headers)


@dataclass
class Guard:
    """An application, guarded.

    Parameters
    ----------
    app
        The application, such as a Router of Starlette. It may raise ``Refused``, and ``InputError`` for 400.
    refuse
        Makes the answer to a refused request, which it gets too: it may ask for a language.
    token
        What a request must show (``Authorization: Bearer``); None: nothing.
    token_of
        Where else a request may show it, such as in a cookie; returns None where it does not.
    open_paths
        Paths that hold nothing of a client, and need no token.
    hosts
        Names that the header ``Host`` may hold, without the port, so that a page of others whose name was turned to
        this machine reads nothing; None: every name.
    headers
        Instead of, or beside, those of ``HEADERS``.
    secure
        Whether the connection is TLS.
    log
        Takes a line for each answer.
    """

    app: ASGIApp
    refuse: Callable[[Refused, Scope], Response] = as_json
    limits: Limits = field(default_factory=Limits)
    token: str | None = field(default=None, repr=False)
    token_of: Callable[[Headers], str | None] = lambda headers: None
    open_paths: Collection[str] = ()
    hosts: Collection[str] | None = None
    headers: Mapping[str, str] = field(default_factory=dict)
    secure: bool = False
    log: Callable[[str], None] = lambda line: None
    _running: int = field(default=0, init=False)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return
        scope["app"] = self  # so that Starlette's router raises what it does not find
        started, status = time.monotonic(), 0

        async def sending(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                self._strict(MutableHeaders(raw=message["headers"]))
            await send(message)

        self._running += 1
        try:
            if (error := await self._answered(scope, receive, sending)) is not None and not status:
                await self.refuse(error, scope)(scope, receive, sending)
        finally:
            self._running -= 1
            named = getattr(scope.get("endpoint"), "__name__", "nothing of ours")
            spent = int((time.monotonic() - started) * 1000)
            self.log(f"{scope['method'][:10]} {named}: {status or 'no answer'}, {spent} ms")

    async def _answered(self, scope: Scope, receive: Receive, send: Send) -> Refused | None:
        """Let the application answer; return why it did not."""
        try:
            self._admit(scope)
            async with asyncio.timeout(self.limits.seconds):
                await self.app(scope, self._counted(receive), send)
        except Refused as error:
            return error
        except InputError as error:
            return Refused(400, error.where, error.expected, error.fix, found=error.found)
        except HTTPException as error:
            return _of_http(error)
        except TimeoutError:
            seconds = f"{self.limits.seconds:.0f} seconds"
            return Refused(
                503, "the request", f"one that is answered in {seconds}", "Send less at once", found="too long"
            )
        except ClientDisconnect:
            return None
        except Exception as error:
            what = str(error) if isinstance(error, WoundfhirError) else fault_at(error)
            self.log(what)
            return _fault(what)
        return None

    def _admit(self, scope: Scope) -> None:
        """Refuse who may not ask, and what is too much."""
        headers = Headers(scope=scope)
        host, origin = headers.get("host", ""), headers.get("origin")
        if self.hosts is not None and _name(host) not in self.hosts:
            raise Refused(421, "the header Host", "the name of this machine", "Ask by the address that it printed")
        if origin is not None and urlsplit(origin).netloc.casefold() != host.casefold():
            raise Refused(403, "the header Origin", "a page of this address", "Nothing of other pages is answered")
        if scope["path"] not in self.open_paths and not self._known(headers):
            fix = "Send Authorization: Bearer and the token that this service was started with"
            raise Refused(401, "the request", "the token", fix, headers={"WWW-Authenticate": "Bearer"})
        length = headers.get("content-length", "0")
        if length.isdecimal() and len(length) < 20:
            self._check_size(int(length))
        else:
            raise Refused(400, "the header Content-Length", "a number of bytes", "Send it again")
        if self._running > self.limits.at_once:
            fix = "Send it again in a second"
            raise Refused(503, "the service", "fewer requests at once", fix, headers={"Retry-After": "1"})

    def _known(self, headers: Headers) -> bool:
        if self.token is None:
            return True
        scheme, _, bearer = headers.get("authorization", "").partition(" ")
        shown = bearer.strip() if scheme.lower() == "bearer" else self.token_of(headers)
        return shown is not None and hmac.compare_digest(shown.encode(), self.token.encode())

    def _counted(self, receive: Receive) -> Receive:
        size = 0

        async def counting() -> Message:
            nonlocal size
            message = await receive()
            size += len(message.get("body", b""))
            self._check_size(size)
            return message

        return counting

    def _check_size(self, size: int) -> None:
        try:
            check_size(size, self.limits.body, "the request")
        except InputError as error:
            raise Refused(413, error.where, error.expected, "Send it in parts") from None

    def _strict(self, headers: MutableHeaders) -> None:
        lasting = {"Strict-Transport-Security": _LASTING} if self.secure else {}
        for name, value in {**HEADERS, **lasting, **self.headers}.items():
            headers.setdefault(name, value)


def _name(host: str) -> str:
    """Return the name in a header ``Host``, without the port.

    Examples
    --------
    >>> _name("localhost:8080"), _name("[::1]:8080"), _name("a b")
    ('localhost', '::1', 'a b')
    """
    try:
        return urlsplit(f"//{host}").hostname or ""
    except ValueError:
        return ""


_HTTP = {
    404: ("an address of this service", "See /openapi.json"),
    405: ("a method that this address takes", "See /openapi.json"),
}


def _of_http(error: HTTPException) -> Refused:
    expected, fix = _HTTP.get(error.status_code, ("a request in HTTP", "Look at what was sent"))
    return Refused(error.status_code, "the request", expected, fix, headers=error.headers)


def _fault(what: str) -> Refused:
    fix = "Nothing was half-written. Please report this line, and leave the client's record out"
    return Refused(500, "the service", "an answer", fix, found=what)
