"""What arrived to be received: the record of one client in it, whatever its form, and the bytes that are kept of it.

Where several clients came, only the part of the one who is wanted is kept, and the record is read from that part: so
the record can be made again of what is in the client's folder, and nobody else's data is in it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from hashlib import sha256
from typing import TYPE_CHECKING, Any

from woundfhir.errors import InputError
from woundfhir.fhir import mhd, parameters, to_fhir
from woundfhir.handover.bundle_check import BundleIssue, verify
from woundfhir.intake import formats
from woundfhir.intake.choosing import one_client
from woundfhir.intake.inputs import Input, from_resources_many
from woundfhir.intake.source import histories
from woundfhir.record.files import to_yaml

if TYPE_CHECKING:
    from woundfhir.r4.xmltree import Unknown

Json = Any
#: What of a Bundle is about all of it, and so about each client's part.
_OF_THE_WHOLE = ("identifier", "timestamp", "signature")


@dataclass(frozen=True, slots=True)
class Arrival:
    """One input that arrived.

    Parameters
    ----------
    name
        For messages.
    content
        Its bytes, opened where they were encrypted.
    bundle
        The Bundle; what came in another form stands in a collection.
    notices
        What is wrong with the Bundle without being a reason to refuse it.
    clients
        One history a client.
    whole
        Whether it is one file as it came; of several files the content is their bytes one after the other.
    part_of
        SHA-256 of what this is one client's part of; empty for all of it.
    """

    name: str
    content: bytes
    bundle: dict[str, Json]
    notices: Sequence[BundleIssue]
    clients: Sequence[Input]
    whole: bool = True
    part_of: str = ""

    def of(self, patient: str | None) -> tuple[Arrival, Input]:
        """Return the part of the client who is wanted, and what it says.

        Raises
        ------
        InputError
            Where there are several clients and none is chosen, or where a part alone says something else.
        """
        if self.whole and len(self.clients) == 1:
            return self, self.clients[0]
        several = sum(one.of_client for one in self.clients) > 1
        one = one_client(self.clients, patient if several else None, self.name)
        part = arrived(one.content or to_yaml(one.history), self.name)
        if len(part.clients) != 1 or part.clients[0].history != one.history:
            wrong = "the part of this client alone does not say the same as it does beside the others"
            fix = "Write it with `woundfhir bundle --patient`, look at it, and receive that. Nothing was taken in"
            raise InputError(self.name, "the record of one client", fix, found=wrong)
        bundle = {**part.bundle, **{key: self.bundle[key] for key in _OF_THE_WHOLE if key in self.bundle}}
        of = sha256(self.content).hexdigest()
        return replace(part, bundle=bundle, part_of=of), part.clients[0]


def arrived(content: bytes, name: str) -> Arrival:
    """Return what is in the bytes of any format that can be read.

    Raises
    ------
    InputError
        For what cannot be read or taken in: says where, and no value of it.
    """
    form = formats.recognised(content, name, "receive")
    if not form.media:
        clients = list(form.read_many(content, name))
        bundle = _collection([one for client in clients for one in to_fhir(client.history)])
        return Arrival(name, content, bundle, (), clients)
    undefined: list[Unknown] = []
    given = form.resources(content, name, undefined)
    inside = [held for one in given for held in (parameters.opened(one) or ([one],))[0]]
    resources = [document for one in inside for document in mhd.opened(one) or (one,)]
    bundle = resources[0] if _is_bundle(resources[0]) and len(resources) == 1 else _collection(resources)
    notices = verify(bundle, name)
    return Arrival(name, content, bundle, notices, list(from_resources_many(resources, name, form.name, undefined)))


def arrived_together(files: Sequence[tuple[str, bytes]], name: str) -> Arrival:
    """Return what is in several files, those read together that are one input; like ``arrived``."""
    content = b"".join(one for _, one in files)
    return Arrival(name, content, _collection(()), (), list(histories(files)), whole=False)


def _collection(resources: Sequence[dict[str, Json]]) -> dict[str, Json]:
    """Return resources, and those of several Bundles, as one Bundle; what came twice stands once."""
    entries: list[dict[str, Json]] = []
    for one in resources:
        held = one.get("entry") if _is_bundle(one) else [{"resource": one}]
        entries += held if isinstance(held, list) else []
    at = {str(entry.get("fullUrl")): entry for entry in reversed(entries) if isinstance(entry, dict)}
    kept = [entry for entry in entries if not _again(entry, at)]
    return {"resourceType": "Bundle", "type": "collection", "entry": kept}


def _again(entry: Json, at: Mapping[str, Json]) -> bool:
    """Whether an earlier entry of the same address brings the same resource."""
    first = at.get(str(entry.get("fullUrl"))) if isinstance(entry, dict) and "fullUrl" in entry else None
    return first is not None and first is not entry and first.get("resource") == entry.get("resource")


def _is_bundle(one: Mapping[str, Json]) -> bool:
    return one.get("resourceType") == "Bundle"
