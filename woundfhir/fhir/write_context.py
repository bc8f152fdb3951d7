"""What the builders share while one history is written: ids, references, places, statuses."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from woundfhir.fhir.elements import write_date
from woundfhir.fhir.ids import NAMESPACE, escape, uuid5
from woundfhir.fhir.terms import Term, Terms
from woundfhir.record import History
from woundfhir.record.canonical import as_json

Json = Any
Resource = dict[str, Json]

#: Status of the note -> ObservationStatus (R4). None: nothing was written of it.
OBSERVATION_STATUS = {
    "draft": "preliminary",
    "final": "final",
    "amended": "amended",
    "entered in error": "entered-in-error",
    None: "unknown",
}
#: Status of the note -> EventStatus, as Procedure and Encounter-like resources use it.
EVENT_STATUS = {
    "draft": "in-progress",
    "final": "completed",
    "amended": "completed",
    "entered in error": "entered-in-error",
    None: "unknown",
}


class WriteContext:
    """One history on its way out."""

    def __init__(self, history: History, terms: Terms) -> None:
        self.terms = terms
        self.history = history
        self.resources: list[Resource] = []
        self.namespace = namespace(history.patient)
        self.system = f"urn:uuid:{_hex(self.namespace)}"
        self.bytes = self.namespace
        self.patient = self.ref("Patient", "patient")
        self.authors: dict[str, dict[str, str]] = {}

    def id(self, kind: str, place: str) -> str:
        """Return the id of the resource of a kind that stands for a place in the record."""
        return uuid5(self.bytes, f"{kind}/{place}")

    def ref(self, kind: str, place: str) -> dict[str, str]:
        """Return a reference to the resource of a kind that stands for a place."""
        return {"reference": f"{kind}/{uuid5(self.bytes, f'{kind}/{place}')}"}

    def head(self, kind: str, place: str, meta: dict[str, Json]) -> Resource:
        """Return the first members of a resource (without identifier, which follows extensions)."""
        return {"resourceType": kind, "id": uuid5(self.bytes, f"{kind}/{place}"), "meta": meta}

    def identifier(self, place: str) -> list[dict[str, str]]:
        """Return the business identifier that names the place in the record."""
        return [{"system": self.system, "value": place}]

    def add(self, resource: Resource) -> dict[str, str]:
        """Keep a finished resource and return a reference to it."""
        self.resources.append(resource)
        return {"reference": f"{resource['resourceType']}/{resource['id']}"}


def namespace(patient: Mapping[str, Json]) -> bytes:
    """Return the namespace of all ids of one client: their first business identifier, else name, birth and sex."""
    from uuid import UUID

    for identifier in patient.get("identifiers", ()):
        if "value" in identifier:
            return UUID(uuid5(NAMESPACE.bytes, f"{identifier.get('system', '')}|{identifier['value']}")).bytes
    known = {key: patient[key] for key in ("name", "born", "sex") if key in patient}
    return UUID(uuid5(NAMESPACE.bytes, "unidentified|" + as_json(known))).bytes


def _hex(raw: bytes) -> str:
    text = raw.hex()
    return f"{text[:8]}-{text[8:12]}-{text[12:16]}-{text[16:20]}-{text[20:]}"


class VisitContext:
    """One visit, or one wound at one visit: what every resource made there has in common."""

    __slots__ = ("author", "dated", "encounter", "event", "focus", "out", "place", "status", "visit")

    def __init__(
        self, out: WriteContext, visit: Mapping[str, Json], author: dict[str, str] | None, wound: str | None = None
    ) -> None:
        self.out = out
        self.visit = visit
        self.author = author
        vid = escape(visit["id"])
        self.place = vid if wound is None else f"{vid}/{escape(wound)}"
        self.encounter = out.ref("Encounter", vid)
        self.focus = None if wound is None else [out.ref("Condition", escape(wound))]
        self.status = OBSERVATION_STATUS[visit.get("status")]
        self.event = EVENT_STATUS[visit.get("status")]
        self.dated = write_date("effectiveDateTime", visit.get("at"), out.terms.written_as)

    def date(self, key: str) -> dict[str, Json]:
        """Return the visit's time under another element's name."""
        return write_date(key, self.visit.get("at"), self.out.terms.written_as)

    def observation(
        self,
        key: str,
        meta: dict[str, Json],
        code: Json,
        member: tuple[str, Json] | None = None,
        *,
        part_of: dict[str, str] | None = None,
        note: str | None = None,
        members: list[dict[str, str]] | None = None,
        components: list[Json] | None = None,
    ) -> dict[str, str]:
        """Write one Observation at ``place/key`` and return a reference to it."""
        out = self.out
        place = f"{self.place}/{key}"
        made: Resource = {
            "resourceType": "Observation",
            "id": uuid5(out.bytes, f"Observation/{place}"),
            "meta": meta,
            "identifier": [{"system": out.system, "value": place}],
        }
        if part_of is not None:
            made["partOf"] = [part_of]
        made["status"] = self.status
        made["category"] = _EXAM
        made["code"] = code
        made["subject"] = out.patient
        if self.focus is not None:
            made["focus"] = self.focus
        made["encounter"] = self.encounter
        made.update(self.dated)
        if self.author is not None:
            made["performer"] = [self.author]
        if member is not None:
            made[member[0]] = member[1]
        if note is not None:
            made["note"] = [{"text": note}]
        if members:
            made["hasMember"] = members
        if components:
            made["component"] = components
        out.resources.append(made)
        return {"reference": f"Observation/{made['id']}"}


_EXAM = [
    {
        "coding": [
            {"system": "http://terminology.hl7.org/CodeSystem/observation-category", "code": "exam", "display": "Exam"}
        ]
    }
]


def component(term: Term, answer: Json) -> Json:
    """Return one component of an Observation."""
    key, value = term.codec.write(answer)
    return {"code": term.fhir, key: value}
