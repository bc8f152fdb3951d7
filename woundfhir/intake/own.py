"""What is to the letter what we write: read by the places that our identifiers name.

Nothing in it need be judged or looked for. The proof is in the writing: the record is written again, and where one byte
differs, all of it is read as what others send is read. So this can accept too little, and nothing wrong.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import msgspec

from woundfhir.errors import InputError
from woundfhir.fhir.came import Came, Resource
from woundfhir.fhir.convert import lines
from woundfhir.fhir.ids import unescape
from woundfhir.fhir.losses import Losses
from woundfhir.fhir.read_context import ReadContext, RecordPlace
from woundfhir.fhir.resources import (
    allergy,
    contact,
    encounter,
    illness,
    observation,
    panel,
    patient,
    photo,
    plan,
    procedure,
    supply,
    wound,
)
from woundfhir.fhir.terms import Terms, terms
from woundfhir.fhir.write_context import strong_namespace, urn
from woundfhir.intake.counting import verdict
from woundfhir.intake.order import as_written, record_key
from woundfhir.intake.own_taken import OwnTaken
from woundfhir.intake.result import ReadResult
from woundfhir.maps import in_force, shipped
from woundfhir.r4 import jsonio
from woundfhir.r4.ndjson import type_of
from woundfhir.record import History
from woundfhir.record.answers import StructureError
from woundfhir.record.canonical import canonical, to_json

Json = Any
Path = tuple[Any, ...]
#: What stands in a collection of ours around its resources.
_ENVELOPE = frozenset(("resourceType", "id", "meta", "identifier", "type", "timestamp", "entry"))
_URN = re.compile(rb'"reference":"(urn:uuid:[^"\\]*)"')
#: Types that say in a status more than whether they count.
_WITH_STATES = ("AllergyIntolerance", "Condition")
_OTHERS = (AttributeError, TypeError, KeyError, ValueError, IndexError, InputError, RecursionError, StructureError)


class _NotOurs(ValueError):
    """Something of it is not as we write it."""


def read_own(resources: list[Any], content: bytes | None = None) -> ReadResult | None:
    """Return what resources say that are to the letter what we write; None where they are not.

    They are not changed, and what comes back shares nothing with them. ``content`` is the lines that they came in.
    """
    if len(resources) == 1 and isinstance(resources[0], dict) and resources[0].get("resourceType") == "Bundle":
        return _read_collection(resources[0])
    alone = len(resources) == 1
    return _read_listed(resources, content, ["" if alone else f"[{number}]" for number in range(len(resources))])


def _read_collection(bundle: Resource) -> ReadResult | None:
    """Read a Bundle of the type ``collection``: the lines that its entries are, with references by type and id."""
    try:
        whole = jsonio.decode(to_json(bundle))  # apart from what a caller holds
        content = _as_lines(whole)
    except (*_OTHERS, msgspec.MsgspecError):
        return None
    resources = jsonio.decode_lines_unchecked(content)
    if resources is None:
        return None
    found = _read_listed(resources, content, [f"Bundle.entry[{number}]" for number in range(len(resources))])
    return None if found is None else ReadResult(found.history, replace(found.report, envelopes=(whole,)))


def _as_lines(bundle: Resource) -> bytes:
    if bundle["type"] != "collection" or not bundle.keys() <= _ENVELOPE:
        raise _NotOurs
    names: dict[bytes, bytes] = {}
    for entry in bundle["entry"]:
        name, resource = entry["fullUrl"], entry["resource"]
        if len(entry) != 2 or name != f"urn:uuid:{resource['id']}" or name.encode() in names:
            raise _NotOurs
        names[name.encode()] = f"{resource['resourceType']}/{resource['id']}".encode()
    text = jsonio.encode_lines([entry["resource"] for entry in bundle["entry"]], finite=True)
    content, found = _URN.subn(lambda match: b'"reference":"' + names[match[1]] + b'"', text)
    if found != text.count(b'"reference":'):
        raise _NotOurs
    return content


def _read_listed(resources: list[Any], content: bytes | None, at: list[str]) -> ReadResult | None:
    if in_force() is not shipped():  # a site's map may read our codes as something else
        return None
    compiled = terms()
    try:
        (client,) = [one for one in resources if isinstance(one, dict) and one.get("resourceType") == "Patient"]
        return _read(resources, client, compiled, content, at) if compiled.is_ours(client) else None
    except _OTHERS:
        return None


def read_own_lines(content: bytes) -> ReadResult | None:
    """Return what the lines of a file say that are to the byte what we write; None where they are not."""
    resources = jsonio.decode_lines_unchecked(content)
    return None if resources is None else read_own(resources, content)


def _in_time(history: History) -> bool:
    """Whether wounds, visits and the wounds in these stand in the order that ``Belonging.order`` gives them itself."""
    listed = [record_key(one, "onset") for one in history.wounds], [record_key(one, "at") for one in history.visits]
    if any(keys != sorted(keys) for keys in listed):
        return False
    rank = {wound["id"]: number for number, wound in enumerate(history.wounds)}
    ranks = ([rank.get(one["wound"], len(rank)) for one in visit.get("wounds", ())] for visit in history.visits)
    return all(numbers == sorted(numbers) for numbers in ranks)


def _read(
    resources: list[Resource], client: Resource, known: Terms, content: bytes | None, at: list[str]
) -> ReadResult | None:
    came = [Came(one, one, at=place) for one, place in zip(resources, at, strict=True)]
    for one in came:
        if one.original["resourceType"] in _WITH_STATES:
            one.states = verdict(one.original).states
    source = ReadContext(came, known)
    # Written anew, so that nothing of it is a caller's.
    history = History(msgspec.json.decode(to_json(_Reading(source, client).data())), "FHIR")
    if source.reasons or any(one.left for one in came) or not (_in_time(history) or as_written(source)):
        return None
    if content is None:
        content = jsonio.encode_lines(resources, finite=True)
    if not _same(lines(history), content):
        return None
    return ReadResult(history, Losses(OwnTaken(source, content), whole=True))


def _same(ours: bytes, came: bytes) -> bool:
    """Whether lines are ours to the byte; an export parts them by type, and keeps their order within each."""
    return ours == came or (len(ours) == len(came) and _by_type(ours) == _by_type(came))


def _by_type(content: bytes) -> list[bytes]:
    return sorted(content.splitlines(), key=type_of)


# -- the record ------------------------------------------------------------------------------------


class _Reading:
    """A reading in which the one client, and the place of everything, are named by us."""

    def __init__(self, source: ReadContext, client: Resource) -> None:
        self.source = source
        self.client = client
        self.wounds: list[dict[str, Json]] = []
        self.visits: dict[str, dict[str, Json]] = {}
        self.spots: dict[tuple[str, str], RecordPlace] = {}

    def data(self) -> dict[str, Json]:
        """Return the canonical record."""
        source, known = self.source, {"woundfhir": 1}
        found, zone = patient.read_patient(source, self.client)
        space = strong_namespace(found)
        if space is None:
            raise _NotOurs
        source.system = urn(space)
        source.own.update((id(one), _own_place(one, source.system)) for one in source.resources)
        self._read_known(found)
        visit_of = self._read_visits()
        self._read_spotted()
        for resource in source.of("Provenance"):
            encounter.read_amendment(source, resource, visit_of)
        raw = {**known, "zone": zone, "patient": found, "wounds": self.wounds, "visits": list(self.visits.values())}
        return canonical(raw)

    def _read_known(self, known: dict[str, Json]) -> None:
        source = self.source
        for resource in source.numbered("AllergyIntolerance", "allergies"):
            allergy.read_allergy(source, resource, known)
        for resource in source.of("CareTeam"):
            contact.read_contact(source, resource, known)
        for resource in source.numbered("Condition", "conditions"):
            if "/" in self._place(resource):
                illness.read_condition(source, resource, known)
            else:
                self.wounds.append(wound.read_wound(source, resource))

    def _read_visits(self) -> dict[int, dict[str, Json]]:
        visit_of = {}
        for resource in self.source.of("Encounter"):
            visit = encounter.read_encounter(self.source, resource)
            self.visits[self._place(resource)] = visit_of[id(resource)] = visit
        return visit_of

    def _read_spotted(self) -> None:
        """Read what stands at a place in a visit: ``visit/wound/key``, or ``visit/key`` of the client."""
        source, wounds = self.source, {one["id"] for one in self.wounds}
        for resource in source.resources:
            read = _READERS.get(resource["resourceType"])
            if read is None:
                continue
            visit, head, *rest = self._place(resource).split("/", 3)
            of_client = not rest or unescape(head) not in wounds
            spot = self._spot(visit, "" if of_client else head)
            if not read(source, resource, spot, head if of_client else rest[0]):
                raise _NotOurs

    def _place(self, resource: Resource) -> str:
        place = self.source.place(resource)
        if place is None:
            raise _NotOurs
        return place

    def _spot(self, visit: str, head: str) -> RecordPlace:
        spot = self.spots.get((visit, head))
        if spot is None:
            of, entry = self.visits[visit], {"wound": unescape(head)}
            if head:
                of.setdefault("wounds", []).append(entry)
            spot = RecordPlace(of, entry if head else of, f"{visit}/{head}" if head else visit)
            self.spots[visit, head] = spot
        return spot


def _own_place(resource: Resource, system: str) -> str | None:
    """The place that the identifier of a resource of ours names: it has this one alone."""
    named = resource.get("identifier")
    return named[0]["value"] if named and named[0].get("system") == system else None


def _observation(source: ReadContext, resource: Resource, spot: RecordPlace, key: str) -> bool:
    term = source.terms.by_place.get(key)
    if term is not None:
        return observation.read_own(source, resource, spot, term)
    if "hasMember" in resource and "note" not in resource:
        source.again.add(id(resource))  # its members say that it was looked at
    return panel.read_panel(source, resource, spot, key)


def _procedure(source: ReadContext, resource: Resource, spot: RecordPlace, key: str) -> bool:
    if key == procedure.CHANGE:
        source.again.add(id(resource))  # its steps say that there was one
        return spot.answers("care") is not None
    return procedure.read_step(source, resource, spot, source.terms.groups["care"][key])


_READERS: dict[str, Callable[[ReadContext, Resource, RecordPlace, str], bool]] = {
    "Observation": _observation,
    "Procedure": _procedure,
    "SupplyDelivery": lambda source, resource, spot, key: supply.read(source, resource, spot),
    "CarePlan": lambda source, resource, spot, key: plan.read(source, resource, spot),
    "DocumentReference": lambda source, resource, spot, key: photo.read(source, resource, spot),
}
