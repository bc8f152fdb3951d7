"""What a server deleted since an instant: no search says so, its history of a type does (FHIR R4, http: history)."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any
from urllib.parse import urlencode

from woundfhir.fhir.references import relative_to
from woundfhir.server.answers import Answer, refused
from woundfhir.server.capability import capability
from woundfhir.server.connection import Connection
from woundfhir.server.fetching import TYPES, subjects_of
from woundfhir.server.pages import pages

Json = Any
Resource = dict[str, Json]
#: How many deletions are asked after, to know whose they were.
_ASKED = 100
#: How a server says that it has no history, or none for us (R4, http).
_NONE = (400, 401, 403, 404, 405, 406, 410, 422, 501)


def removed_since(server: Connection, client: str, since: str, *, count: int = 200) -> list[str]:
    """Return notices of what of a client a server has deleted since an instant.

    Parameters
    ----------
    server
        Where from.
    client
        ``Patient/ID`` there.
    since
        The instant.
    count
        Resources on one page.

    Returns
    -------
    list of str
        One for each type of which something was deleted; what the server does not tell is said on the connection.
    """
    can = capability(server)
    unknown: list[str] = []
    gone: list[str] = []
    whose: dict[str, str] = {}
    for kind in (one for one in TYPES if can.of(one).interactions):
        answer = None
        if "history-type" in can.of(kind).interactions:
            answer = server.get(f"{kind}/_history?{urlencode({'_since': since, '_count': str(count)})}")
        if answer is None or answer.status in _NONE:
            unknown.append(kind)
        else:
            gone += _deleted(server, answer, kind, whose)
    if unknown:
        server.say(f"The server does not tell what it deleted since then of: {', '.join(unknown)}")
    mine: Counter[str] = Counter()
    unsure: Counter[str] = Counter(name.split("/")[0] for name in gone[_ASKED:])
    for name in gone[:_ASKED]:
        owner = whose.get(name) or _owner(server, name)
        if owner is None or owner == client:
            (unsure if owner is None else mine)[name.split("/")[0]] += 1
    if unsure:
        listed = ", ".join(f"{kind} ({number})" for kind, number in sorted(unsure.items()))
        server.say(f"Deleted there since then, and the server does not tell whose it was: {listed}")
    return [f"Deleted there since then: {kind} ({number})" for kind, number in sorted(mine.items())]


def _deleted(server: Connection, answer: Answer, kind: str, whose: dict[str, str]) -> list[str]:
    """Return the names of what is deleted now, and note whose each is: the newest version comes first (R4, http)."""
    newest: dict[str, bool] = {}
    for entry in _entries(server, answer, kind):
        resource, request = entry.get("resource"), entry.get("request") or {}
        name = relative_to(str(entry.get("fullUrl") or request.get("url") or ""), server.base)
        if isinstance(resource, dict) and resource.get("id"):
            name = f"{kind}/{resource['id']}"
            whose.setdefault(name, _subject(resource, server.base) or "")
        name = "/".join(name.split("/")[:2])
        if name.startswith(f"{kind}/"):
            newest.setdefault(name, request.get("method") == "DELETE" or not isinstance(resource, dict))
    return [name for name, is_gone in newest.items() if is_gone]


def _entries(server: Connection, answer: Answer, what: str) -> Iterator[Resource]:
    for page in pages(server, answer, f"the history of {what}", ("history",)):
        yield from (one for one in page.get("entry") or () if isinstance(one, dict))


def _owner(server: Connection, name: str) -> str | None:
    """Return the client of whom a deleted resource was, by its versions; None where the server does not tell."""
    answer = server.get(f"{name}/_history")
    if answer.status in _NONE:
        return None
    if answer.status != 200:
        raise refused(answer)
    every = (one.get("resource") for one in _entries(server, answer, name))
    return next((who for one in every if isinstance(one, dict) and (who := _subject(one, server.base))), None)


def _subject(resource: Resource, base: str) -> str | None:
    return next(("/".join(one.split("/")[:2]) for one in subjects_of(resource, base)), None)
