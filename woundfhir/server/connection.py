"""One FHIR server over HTTP: what is asked, tried again, refused; never a value of a client in a message.

Plain http only on this machine; certificates are checked; a redirect to another host is refused, as the token would go
there too. What a busy or broken server did not answer is asked again, later and later: safe, because everything that
is sent is idempotent.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from typing import Any
from urllib.parse import urljoin, urlsplit

from woundfhir.errors import InputError
from woundfhir.extras import missing
from woundfhir.limits import LIMIT
from woundfhir.r4 import jsonio
from woundfhir.server.answers import Answer, Refusal

try:
    import httpx
except ModuleNotFoundError:  # pragma: no cover
    raise missing("server", "a connection to a server") from None

Json = Any
JSON = "application/fhir+json"
#: Answers after which the same is asked again (RFC 9110 section 15, RFC 6585 section 4).
BUSY = frozenset((429, 502, 503, 504))
#: How often, and how long to wait between (doubled each time), in seconds.
TRIES, FIRST_WAIT, LONGEST_WAIT = 5, 1.0, 120.0
_REDIRECTS = 3
_LOCAL = frozenset(("localhost", "127.0.0.1", "::1"))


def base_of(url: str) -> str:
    """Return the base address of a server in its one form; refuse what is not safe to send a record to.

    Examples
    --------
    >>> base_of("https://example.org/fhir/")
    'https://example.org/fhir'
    >>> base_of("http://example.org/fhir")
    Traceback (most recent call last):
    ...
    woundfhir.errors.InputError: the server's address: expected https. Plain http is taken only on this machine
    """
    where = "the server's address"
    try:
        parts = urlsplit(url)
        host, port = parts.hostname, parts.port
    except ValueError:
        host = port = None
    if host is None or parts.scheme not in ("https", "http"):
        raise InputError(where, "an address such as https://example.org/fhir", "Write it in full")
    if "@" in parts.netloc:
        raise InputError(where, "no name or password in it", "Give a token in the environment (see --help)")
    if parts.query or parts.fragment:
        raise InputError(where, "the base alone, without ? and #", "Leave them out")
    if parts.scheme == "http" and host not in _LOCAL:
        raise InputError(where, "https", "Plain http is taken only on this machine")
    name = f"[{host}]" if ":" in host else host
    return f"{parts.scheme}://{name}{f':{port}' if port else ''}{parts.path.rstrip('/')}"


def origin(url: str) -> tuple[str, str, int | None]:
    """Return scheme, host and port: what a token may be shown to; of what is no address, nothing."""
    try:
        parts = urlsplit(url)
        return parts.scheme, parts.hostname or "", parts.port or {"https": 443, "http": 80}.get(parts.scheme)
    except ValueError:
        return "", "", None


@dataclass
class Connection:
    """One server.

    Parameters
    ----------
    base
        Its address, as ``base_of`` returns it.
    authorization
        Gives the header ``Authorization`` for each request; None: none. Called with True after an answer 401, to get
        a new token.
    say
        Called with a line that says what is being waited for.
    wait
        Sleeps so many seconds.
    timeout
        Seconds to wait for the next bytes of an answer.
    tries
        How often the same is asked where no answer comes, or the server is busy.
    """

    base: str
    authorization: Callable[[bool], str | None] = lambda renew: None
    say: Callable[[str], None] = lambda line: None
    wait: Callable[[float], None] = time.sleep
    timeout: float = 120.0
    tries: int = TRIES
    client: httpx.Client = field(init=False)

    def __post_init__(self) -> None:
        local = urlsplit(self.base).hostname in _LOCAL
        self.client = httpx.Client(timeout=self.timeout, trust_env=not local, follow_redirects=False)

    def close(self) -> None:
        self.client.close()

    def url(self, path: str) -> str:
        """Return the whole address of a path or of a link; refuse another host."""
        fix = "Ask who keeps the server; nothing was sent there"
        try:
            full = path if path.startswith(("http://", "https://")) else f"{self.base}/{path.lstrip('/')}"
            there = origin(full)
        except ValueError:
            wrong = "its answer leads to what is no address"
            raise InputError("the server", "a link to itself", fix, found=wrong) from None
        if there != origin(self.base):
            raise InputError("the server", "a link to itself", fix, found="its answer leads to another host")
        return full

    def get(self, path: str, accept: str = JSON, **headers: str) -> Answer:
        """Return the answer to a GET."""
        return self._ask("GET", path, None, {"Accept": accept, **headers})

    def send(self, method: str, path: str, body: Mapping[str, Json], **headers: str) -> Answer:
        """Return the answer to a resource."""
        return self._ask(method, path, jsonio.encode(dict(body)), {"Accept": JSON, "Content-Type": JSON, **headers})

    def delete(self, path: str) -> Answer:
        """Return the answer to a DELETE: of what a server prepares for us, never of a record."""
        return self._ask("DELETE", path, None, {"Accept": JSON})

    def search(self, kind: str, **parameters: str) -> Answer:
        """Return the answer to a search by POST, so that no identifier stands in an address (R4, search)."""
        form = httpx.QueryParams(parameters)
        headers = {"Accept": JSON, "Content-Type": "application/x-www-form-urlencoded"}
        return self._ask("POST", f"{kind}/_search", str(form).encode(), headers)

    def form(self, path: str, body: Callable[[], bytes]) -> Answer:
        """Return the answer to a form, as an authorisation server takes it (RFC 6749); made anew for each try."""
        headers = {"Accept": "application/json", "Content-Type": "application/x-www-form-urlencoded"}
        return self._ask("POST", path, body, headers)

    def _ask(self, method: str, path: str, body: bytes | Callable[[], bytes] | None, headers: dict[str, str]) -> Answer:
        url, wait, renewed = self.url(path), FIRST_WAIT, False
        for attempt in range(1, self.tries + 1):
            try:
                content = body() if callable(body) else body
                answer = self._follow(method, url, content, headers, renewed)
            except (httpx.RequestError, httpx.InvalidURL) as error:
                if attempt == self.tries or _is_for_good(error):
                    raise _unreachable(error) from None
                self.say(f"The server does not answer ({_kind(error)}): trying again in {wait:.0f} s.")
                self.wait(wait)
                wait *= 2
                continue
            if answer.status == 401 and not renewed and not callable(body):
                renewed = True
                continue
            if answer.status not in BUSY or attempt == self.tries:
                return answer
            asked = retry_after(answer.headers.get("retry-after"))
            if asked is not None and asked > LONGEST_WAIT:
                return answer
            pause = max(wait, asked or 0.0)
            self.say(f"The server is busy ({answer.status}): trying again in {pause:.0f} s.")
            self.wait(pause)
            wait *= 2
        return answer

    def _follow(self, method: str, url: str, body: bytes | None, headers: dict[str, str], renew: bool) -> Answer:
        """Ask, and follow a redirect within the same host."""
        for _ in range(_REDIRECTS + 1):
            given = self.authorization(renew)
            renew = False
            asked = {**headers, "Authorization": given} if given else headers
            answer = self._once(method, url, body, asked)
            place = answer.headers.get("location")
            if answer.status not in (301, 302, 303, 307, 308) or place is None:
                return answer
            url = self.url(_joined(url, place))
            if method != "GET" and answer.status not in (307, 308):
                break
        fix = "Check the address: it may end in another word, such as /fhir"
        raise Refusal("the server", "an answer", fix, found="it redirects what was sent", status=answer.status)

    def _once(self, method: str, url: str, body: bytes | None, headers: dict[str, str]) -> Answer:
        with self.client.stream(method, url, content=body, headers=headers) as came:
            parts, size = [], 0
            with closing(came.iter_bytes()) as stream:  # type: ignore[type-var]
                for part in stream:
                    size += len(part)
                    if size > LIMIT:
                        raise InputError("the server", f"an answer of at most {LIMIT >> 20} MB", "Ask for less of it")
                    parts.append(part)
            return Answer(
                came.status_code, {name.lower(): text for name, text in came.headers.items()}, b"".join(parts)
            )


def _joined(url: str, place: str) -> str:
    """Return where a redirect leads; what is no address is left for ``url`` to refuse."""
    try:
        return urljoin(url, place)
    except ValueError:
        return f"http://[{place}"


def retry_after(text: str | None) -> float | None:
    """Return the seconds that a header Retry-After asks for (RFC 9110 section 10.2.3): a number, or a date.

    Examples
    --------
    >>> retry_after("7"), retry_after("soon"), retry_after("²"), retry_after(None)
    (7.0, None, None, None)
    """
    if text is None:
        return None
    if text.isascii() and text.strip().isdigit():
        return float(text)
    try:
        return max(0.0, (parsedate_to_datetime(text) - datetime.now(UTC)).total_seconds())
    except (TypeError, ValueError):
        return None


_Failed = httpx.RequestError | httpx.InvalidURL


def _is_for_good(error: _Failed) -> bool:
    """Whether asking again cannot help."""
    return not isinstance(error, httpx.TransportError) or isinstance(error, httpx.UnsupportedProtocol)


def _kind(error: _Failed) -> str:
    if isinstance(error, httpx.DecodingError):
        return "its answer is compressed and cannot be unpacked"
    if isinstance(error, httpx.InvalidURL):
        return "its answer leads to what is no address"
    if isinstance(error, httpx.TimeoutException):
        return "it is too slow"
    return "no connection" if isinstance(error, httpx.ConnectError) else "the connection broke"


def _unreachable(error: _Failed) -> Refusal:
    why = "its certificate is not trusted" if "CERTIFICATE" in str(error) else _kind(error)
    fix = "Check the address and the network, then send again: what is stored is not stored twice"
    return Refusal("the server", "an answer", fix, found=why)
