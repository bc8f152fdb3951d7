"""Many clients at once: HL7's Bulk Data export ($export), asked for, waited for, fetched, told apart.

Source: HL7 FHIR Bulk Data Access (STU 2 and the 3.0 line), export: the kick-off request with ``Prefer: respond-async``,
the status address in ``Content-Location``, the manifest, NDJSON files. What is asked for and not needed any more is
cancelled with DELETE, whatever happened.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlencode

from woundfhir.errors import InputError
from woundfhir.fhir.elements import objects
from woundfhir.fhir.references import references, relative_to
from woundfhir.intake.inputs import Input
from woundfhir.r4 import ndjson
from woundfhir.server.answers import Answer, issues, masked, refused
from woundfhir.server.clients import has_identifier
from woundfhir.server.connection import Connection, base_of, origin, retry_after
from woundfhir.server.fetching import ITS_OWN, clients_of, named, taken

Json = Any
Resource = dict[str, Json]
#: What the standard calls the format of the files, and what servers call it.
NDJSON = "application/fhir+ndjson"
_MEDIA = frozenset((NDJSON, "application/ndjson", "ndjson", "application/x-ndjson", "application/octet-stream", ""))
#: Seconds between two questions whether it is done: where the server does not say, doubled each time.
_FIRST_WAIT, _LONGEST_WAIT = 1.0, 60.0
#: Most manifests of one export, and how long to wait for it, in seconds, unless somebody says otherwise.
_MANIFESTS, PATIENCE = 1_000, 3600.0
_GROUP = re.compile(r"Group/[A-Za-z0-9.-]{1,64}")
_AGAIN = "Nothing was written. Ask who keeps the server, or fetch again"


@dataclass
class Exported:
    """What an export brought.

    Attributes
    ----------
    resources
        Of all clients, as the server has them.
    notices
        What a person should know: what the server could not export, what was deleted there.
    """

    resources: list[Resource] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)


def path_of(level: str) -> str:
    """Return the address of an export: of the whole server, of all its clients, or of a group of them.

    Examples
    --------
    >>> path_of("system"), path_of("Patient"), path_of("Group/ward-3")
    ('$export', 'Patient/$export', 'Group/ward-3/$export')
    """
    if level == "system":
        return "$export"
    if level == "Patient" or _GROUP.fullmatch(level):
        return f"{level}/$export"
    raise InputError("--export", "system, Patient or Group/ID", "Choose one of them")


def export(server: Connection, level: str, *, since: str | None = None, patience: float = PATIENCE) -> Exported:
    """Return what a server exports.

    Parameters
    ----------
    server
        Where from.
    level
        See ``path_of``.
    since
        Only what the server has changed since this instant (``_since``).
    patience
        Seconds to wait for the export.

    Raises
    ------
    InputError
        When the server cannot or will not, when it is not done in time, when a file is not whole or not what the
        manifest says. The export is cancelled then.
    """
    asked = {"_outputFormat": NDJSON, **({"_since": since} if since else {})}
    answer = server.get(f"{path_of(level)}?{urlencode(asked)}", Prefer="respond-async")
    if answer.status != 202:
        if answer.status == 200:
            raise InputError("the server", "an export that runs on its own (202)", _AGAIN, found="it answered at once")
        raise refused(answer, "the export")
    place = answer.headers.get("content-location")
    if not place:
        raise InputError("the export", "an address to ask whether it is done", _AGAIN, found="it names none")
    status = server.url(place)
    try:
        return _files(server, _wait(server, status, answer, patience))
    finally:
        server.delete(status)


def _wait(server: Connection, status: str, answer: Answer, patience: float) -> Answer:
    """Ask until it is done: no more often than the server says."""
    left, wait = patience, _FIRST_WAIT
    while answer.status == 202:
        pause = retry_after(answer.headers.get("retry-after"))
        if pause is None:
            pause, wait = wait, min(wait * 2, _LONGEST_WAIT)
        pause = max(pause, _FIRST_WAIT)
        if pause > left:
            fix = f"It is cancelled there. Ask for less with --since, or wait longer than {patience:.0f} s with --wait"
            raise InputError("the export", "an end", fix, found="it is not done")
        left -= pause
        progress = masked(answer.headers.get("x-progress", ""))[:100]
        server.say(f"The server prepares the export{f' ({progress})' if progress else ''}: asking in {pause:.0f} s.")
        server.wait(pause)
        answer = server.get(status, accept="application/json")
    if answer.status != 200:
        raise refused(answer, "the export")
    return answer


def _files(server: Connection, answer: Answer) -> Exported:
    """Fetch the files of a manifest, and of those that follow it."""
    made, seen = Exported(), set()
    gone: Counter[str] = Counter()
    for _ in range(_MANIFESTS):
        manifest = answer.json("the export's manifest")
        token = manifest.get("requiresAccessToken") is not False
        for row in objects(manifest, "output"):
            made.resources.extend(_file(server, row, token, str(row.get("type"))))
        for row in (*objects(manifest, "error"), *objects(manifest, "outcome")):
            for outcome in _file(server, row, token, "OperationOutcome"):
                made.notices.extend(f"The server says of the export: {line}" for line in issues(outcome))
        for row in objects(manifest, "deleted"):
            for bundle in _file(server, row, token, "Bundle"):
                gone.update(_deleted(bundle))
        links = [row.get("url") for row in objects(manifest, "link") if row.get("relation") == "next"]
        if not links:
            made.notices.extend(f"Deleted there: {kind} ({number})" for kind, number in sorted(gone.items()))
            return made
        link = server.url(str(links[0]))
        if link in seen:
            break
        seen.add(link)
        answer = server.get(link, accept="application/json")
        if answer.status != 200:
            raise refused(answer, "the export's manifest")
    raise InputError("the export", "an end", _AGAIN, found="a manifest leads back to an earlier one")


def _deleted(bundle: Resource) -> Iterator[str]:
    for entry in objects(bundle, "entry"):
        request = entry.get("request")
        if isinstance(request, dict) and request.get("method") == "DELETE":
            yield str(request.get("url", "")).split("/")[0]


def _file(server: Connection, row: Resource, token: bool, kind: str) -> Iterator[Resource]:
    """Yield the resources of one file; refuse one that holds another type, or fewer than the manifest says."""
    where = f"the export's file of {kind}"
    answer = _download(server, str(row.get("url", "")), token, where)
    media = answer.headers.get("content-type", "").split(";")[0].strip().lower()
    if media not in _MEDIA:
        raise InputError(where, f"NDJSON ({NDJSON})", _AGAIN, found=f"it came as {media}")
    number = 0
    try:
        for number, resource in enumerate(ndjson.read(answer.body), 1):
            if resource.get("resourceType") != kind:
                raise InputError(f"line {number}", f"a resource of the type {kind}", _AGAIN)
            yield resource
    except InputError as error:
        raise InputError(f"{where}, {error.where}", error.expected, _AGAIN, found=error.found) from None
    said = row.get("count")
    if isinstance(said, int) and said != number:
        raise InputError(where, f"{said} resources", _AGAIN, found=f"{number} came, so that it is not whole")


def _download(server: Connection, url: str, token: bool, where: str) -> Answer:
    """Get a file: with the token where the manifest asks for it, and never with it from another host."""
    here = origin(url) == origin(server.base)
    if here and token:
        answer = server.get(url, accept=NDJSON)
    elif token and server.authorization(False) is not None:
        fix = "Nothing was sent there. Ask who keeps the server"
        raise InputError(where, "an address at the server itself", fix, found="the token would go to another host")
    else:
        host = base_of("/".join(url.split("/")[:3]))
        other = Connection(host, say=server.say, wait=server.wait)
        try:
            answer = other.get(url, accept=NDJSON)
        finally:
            other.close()
    if answer.status != 200:
        raise refused(answer, where)
    return answer


# -- client by client ------------------------------------------------------------------------------


def clients(server: Connection, exported: Exported, who: Iterable[str] = ()) -> list[Input]:
    """Return the record of each client in an export.

    Parameters
    ----------
    server
        Asked for the people and houses that are named and did not come.
    exported
        See ``export``; what belongs to no client is added to its notices.
    who
        ``system|value`` of identifiers: only these clients; all where there is none.

    Raises
    ------
    InputError
        When a client who is asked for did not come, or nobody did.
    """
    came = {f"{one['resourceType']}/{one.get('id')}": one for one in exported.resources}
    patients = {name: one for name, one in came.items() if one["resourceType"] == "Patient"}
    chosen = _chosen(patients, tuple(who))
    owners = {name: _owner(one, server.base) for name, one in came.items()}
    made = []
    used: set[str] = set()
    for patient in chosen:
        mine = {name: came[name] for name, owner in owners.items() if owner == patient}
        _reach({patient: came[patient], **mine}, came, owners, server.base, mine)
        used.update(mine)
        listed = [came[patient], *(one for name, one in mine.items() if name != patient)]
        listed = [one for one in listed if one["resourceType"] not in ITS_OWN]
        made.append(taken([*listed, *named(server, listed)], server.base))
    if not who:
        exported.notices.extend(_left_out(came, owners, used, patients.keys()))
    return made


def _left_out(
    came: Mapping[str, Resource], owners: Mapping[str, str | None], used: set[str], patients: Iterable[str]
) -> Iterator[str]:
    """Yield in words what is of no client who came."""
    nobody = Counter(one["resourceType"] for name, one in came.items() if name not in used and owners[name] is None)
    kinds = ", ".join(f"{kind} ({number})" for kind, number in sorted(nobody.items()) if kind not in ITS_OWN)
    if kinds:
        yield f"Of no client, and left out: {kinds}"
    absent = {owner for owner in owners.values() if owner is not None} - set(patients)
    if absent:
        yield f"Of {len(absent)} clients who did not come themselves something came: it is left out"


def _chosen(patients: Mapping[str, Resource], who: tuple[str, ...]) -> list[str]:
    if not patients:
        raise InputError("the export", "at least one client", _AGAIN, found="no Patient came")
    if not who:
        return sorted(patients)
    made = []
    for one in who:
        fits = [name for name, patient in sorted(patients.items()) if has_identifier(patient, one)]
        if len(fits) != 1:
            wrong = f"{len(fits) or 'none'} of the clients that came has it"
            raise InputError("--patient", "an identifier (SYSTEM|VALUE) of one client", "Check it", found=wrong)
        made.extend(fits)
    return made


def _owner(resource: Resource, base: str) -> str | None:
    """Return the client of a resource; of a Patient, that one."""
    if resource["resourceType"] == "Patient":
        return f"Patient/{resource.get('id')}"
    return next(clients_of(resource, base), None)


def _reach(
    new: Mapping[str, Resource],
    came: Mapping[str, Resource],
    owners: Mapping[str, str | None],
    base: str,
    mine: dict[str, Resource],
) -> None:
    """Add what these name and what is nobody's own, on and on: people, houses, body structures without a client."""
    while new:
        wanted = {relative_to(literal, base) for one in new.values() for literal in references(one)}
        new = {name: came[name] for name in wanted if name in came and name not in mine and owners[name] is None}
        mine.update(new)


__all__ = ["NDJSON", "Exported", "clients", "export", "path_of"]
