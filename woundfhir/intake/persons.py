"""Which Patients are one person: by the evidence, by identifiers in references, by our own note of a name."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import combinations
from typing import Any

from woundfhir.fhir.came import Resource, logical_name
from woundfhir.fhir.elements import objects
from woundfhir.fhir.read_context import ReadContext
from woundfhir.fhir.resources.patient import client_of
from woundfhir.fhir.write_context import strong_namespace
from woundfhir.record.clients import REFERENCE, Evidence, evidence, identifiers

Json = Any


def held_together(source: ReadContext, patients: Mapping[str, Resource], named: Mapping[str, Json]) -> list[set[str]]:
    """Return the clients, each as the names that mean them.

    Patients are one where the evidence says so; references by identifier, and our own note of how a sender named a
    client, lead to the one Patient who has them.
    """
    clients: list[set[str]] = []
    home: dict[str, set[str]] = {}
    logical: dict[str, list[str]] = {}
    for name, one in patients.items():
        client = {name}
        keys = list(_logical(one))
        for other in dict.fromkeys(other for key in keys for other in logical.get(key, ())):
            if home[other] is not client and _one_person(source, patients, client, home[other]):
                clients = [some for some in clients if some is not home[other]]
                client |= home[other]
                home.update(dict.fromkeys(home[other], client))
        home[name] = client
        clients.append(client)
        for key in keys:
            logical.setdefault(key, []).append(name)
    for name, one in patients.items():
        for known in _own_note(source, one):
            if known in named and home.get(known) is not home[name]:
                other_client = home.get(known, {known})
                if known not in home or not _against(source, patients, home[name], other_client):
                    clients = [some for some in clients if some is not other_client]
                    home[name] |= other_client
                    home.update(dict.fromkeys(other_client, home[name]))
    alone = len(clients) == 1
    for name in named:
        # A name in words alone says nothing against the one client who is there.
        if name in home or (name.startswith("display:") and alone):
            continue
        having = {id(home[one]): home[one] for one in logical.get(name, ())}
        if len(having) == 1:  # a number that two clients have names neither
            home[name] = next(iter(having.values()))
            home[name].add(name)
        else:
            home[name] = {name}
            clients.append(home[name])
    first = {name: number for number, name in enumerate((*patients, *named))}
    return sorted(clients, key=lambda client: min(first[name] for name in client))


def _graded(source: ReadContext, patients: Mapping[str, Resource], one: set[str], other: set[str]) -> list[Evidence]:
    """Return the evidence of each Patient of one client against each of another."""
    mine, theirs = (
        [client_of(source.terms, patients[name]) for name in some if name in patients] for some in (one, other)
    )
    return [evidence(here, there) for here in mine for there in theirs]


def _against(source: ReadContext, patients: Mapping[str, Resource], one: set[str], other: set[str]) -> bool:
    return any(found.contradict for found in _graded(source, patients, one, other))


def _one_person(source: ReadContext, patients: Mapping[str, Resource], one: set[str], other: set[str]) -> bool:
    whole = [patients[name] for name in one | other if name in patients]
    ids = {found.get("id") for found in whole if source.came[id(found)].holder is None}
    if len(ids) > 1:  # who keeps two Patients says that they are two, and a person decides
        return False
    found = _graded(source, patients, one, other)
    return any(each.same for each in found) and not any(each.contradict for each in found)


def _own_note(source: ReadContext, patient: Resource) -> list[str]:
    """Return how a sender named the client of a Patient of ours, who has no number."""
    if not source.terms.is_ours(patient):
        return []
    return [str(one.get("value")) for one in objects(patient, "identifier") if one.get("system") == REFERENCE]


def _space(source: ReadContext, one: Resource) -> bytes | None:
    """Return what all ids of a client would grow from, unless the sender's own name of the Patient is part of it."""
    client = client_of(source.terms, one)
    named = "id" in one or source.came[id(one)].holder is not None
    return None if named and not identifiers(client) else strong_namespace(client)


def doubt_of(source: ReadContext, patients: Mapping[str, Resource], clients: list[set[str]]) -> str:
    """Say which two clients would have the same ids, and what speaks for and against one person; "" for none."""
    seen: dict[bytes, int] = {}
    for number, client in enumerate(clients):
        here = [patients[name] for name in client if name in patients]
        for space in filter(None, (_space(source, one) for one in here)):
            other = seen.setdefault(space, number)
            if other != number:
                found = _graded(source, patients, clients[other], client)
                words = min((each.words for each in found if each.contradict), default=found[0].words)
                return f"; clients {other + 1} and {number + 1} cannot be told apart by what names them ({words})"
    return ""


def shared_numbers(
    source: ReadContext, patients: Mapping[str, Resource], clients: list[set[str]]
) -> list[tuple[int, int, str]]:
    """Return which two clients have a number in common, and what speaks for and against one person."""
    bearing: dict[str, list[int]] = {}
    for number, client in enumerate(clients):
        for key in {key for name in client if name in patients for key in _logical(patients[name])}:
            bearing.setdefault(key, []).append(number)
    pairs = sorted({pair for some in bearing.values() for pair in combinations(some, 2)})
    return [(one, other, _graded(source, patients, clients[one], clients[other])[0].words) for one, other in pairs]


def _logical(patient: Resource) -> Iterable[str]:
    for one in objects(patient, "identifier"):
        if identifiers({"identifiers": [one]}) and (name := logical_name({"identifier": one})) is not None:
            yield name
