"""What a server has of a record that was sent, held against what was sent: what did not come, what it has otherwise."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from woundfhir.fhir.keys import Key
from woundfhir.fhir.leaves import every
from woundfhir.fhir.leaves import words as written
from woundfhir.fhir.references import identifiers_of, rename
from woundfhir.fhir.transactions import body, name_of, to_send
from woundfhir.record import History
from woundfhir.record.canonical import as_json
from woundfhir.server.answers import refused
from woundfhir.server.connection import Connection
from woundfhir.server.planning import in_one_form

Json = Any
Resource = dict[str, Json]
#: Elements that one line names.
_NAMED = 3


def held_against(history: History, came: Iterable[Resource], server: Connection) -> tuple[list[Resource], list[str]]:
    """Hold what a server has of one client against the record that was sent.

    Parameters
    ----------
    history
        The record that was sent.
    came
        All resources that came of this client, as the server has them.
    server
        Asked for what did not come: some searches leave out types that a server stores all the same.

    Returns
    -------
    tuple
        The resources that came only now; and a line for each resource that is not there, or that says something else
        there. No line holds a value.
    """
    there = _by_token(came)
    more: list[Resource] = []
    lines: list[str] = []
    pairs: list[tuple[Key, Resource, Resource]] = []
    for resource, key in to_send(history):
        theirs = there.get(_token(key)) or there.get((name_of(resource), ""))
        if theirs is None:
            theirs = _asked(server, resource)
            if theirs is None:
                lines.append(f"{key.place}: it was sent, and is not there")
                continue
            more.append(theirs)
        pairs.append((key, resource, theirs))
    names = {name_of(resource): name_of(theirs) for _, resource, theirs in pairs}
    for key, resource, theirs in pairs:
        if found := _differing(rename(body(resource), names), theirs, server.base):
            rest = len(found) - _NAMED
            listed = ", ".join(found[:_NAMED]) + (f" and {rest} more" if rest > 0 else "")
            lines.append(f"{key.place}: the server has it otherwise than it was sent: {listed}")
    return more, lines


def _by_token(came: Iterable[Resource]) -> dict[tuple[str, str], Resource]:
    made: dict[tuple[str, str], Resource] = {}
    for one in came:
        kind = str(one["resourceType"])
        made.update({(f"{kind}?{named.get('system')}", str(named.get("value"))): one for named in identifiers_of(one)})
        made[f"{kind}/{one.get('id')}", ""] = one
    return made


def _token(key: Key) -> tuple[str, str]:
    return (f"{key.type}?{key.system}", key.value) if key.system else (f"{key.type}/{key.value}", "")


def _asked(server: Connection, resource: Resource) -> Resource | None:
    """Ask for a resource by the id under which we send it where a server cannot search for it."""
    answer = server.get(name_of(resource))
    if answer.status == 200:
        return answer.resource(f"the server's {resource['resourceType']}")
    if answer.status not in (400, 404, 410):
        raise refused(answer)
    return None


def _differing(ours: Resource, theirs: Resource, base: str) -> list[str]:
    """The elements that are not the same in both, as text: 4.10 and 4.1 are two."""
    mine, other = (_texts(in_one_form(one, base)) for one in (ours, theirs))
    return list(dict.fromkeys(path for path in (*mine, *other) if mine.get(path) != other.get(path)))


def _texts(resource: Mapping[str, Json]) -> dict[str, str]:
    return dict(_leaves(resource))


def _leaves(resource: Mapping[str, Json]) -> Iterator[tuple[str, str]]:
    return ((written(path), as_json(value)) for path, value in every(resource))
