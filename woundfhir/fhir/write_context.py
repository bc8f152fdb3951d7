"""What the builders share while one history is written: ids, references, places, statuses."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any
from uuid import UUID

from woundfhir.fhir.elements import unknown, write_date
from woundfhir.fhir.ids import NAMESPACE, escape, uuid5, uuid5_below
from woundfhir.fhir.terms import Terms
from woundfhir.record import History
from woundfhir.record.canonical import as_json
from woundfhir.record.clients import REFERENCE, is_placeholder

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
    """One history on its way out.

    Parameters
    ----------
    history, terms
        The record, and the catalogue compiled.
    linked
        Whether references lead to entries of a Bundle, by ``urn:uuid``; else they are type and id.
    """

    def __init__(self, history: History, terms: Terms, *, linked: bool = False) -> None:
        self.linked = linked
        #: The ids of resources that are referred to before or without being written here.
        self.referred: set[str] = set()
        self.terms = terms
        self.history = history
        self.resources: list[Resource] = []
        self.bytes = namespace(history)
        self.system = urn(self.bytes)
        self.patient = self._client(history)
        self.authors: dict[str, dict[str, str]] = {}
        self.exam = [terms.cc["category_exam"]]

    def _client(self, history: History) -> dict[str, Json]:
        """Return the reference to the client.

        A client of whom only a sender's reference is known is named by that; one of whom nothing is known, or whom a
        sender did not name, by nothing.
        """
        patient = history.patient
        named, name = patient.get("identifiers") or [], patient.get("name") or {}
        reached = ("phone", "email", "address", "language")
        known = any(key in patient for key in ("born", "sex", "note", *reached)) or history.data.get("zone")
        only_referred = len(named) == 1 and named[0].get("system") == REFERENCE and not name.keys() - {"text"}
        if known or not (only_referred or not (named or name)):
            return self.ref("Patient", "patient")
        if named and "value" in named[0]:
            return {"reference": named[0]["value"], **({"display": name["text"]} if name else {})}
        return {**unknown(), **({"display": name["text"]} if name else {})}

    @property
    def knows_client(self) -> bool:
        """Whether there is a Patient to write."""
        return self.patient.get("reference") == self.literal("Patient", self.id("Patient", "patient"))

    def id(self, kind: str, place: str) -> str:
        """Return the id of the resource of a kind that stands for a place in the record."""
        return uuid5(self.bytes, f"{kind}/{place}")

    def ref(self, kind: str, place: str) -> dict[str, str]:
        """Return a reference to the resource of a kind that stands for a place."""
        name = uuid5(self.bytes, f"{kind}/{place}")
        self.referred.add(name)
        return {"reference": self.literal(kind, name)}

    def literal(self, kind: str, name: str) -> str:
        """Return the literal reference to the resource of a kind with an id."""
        return f"urn:uuid:{name}" if self.linked else f"{kind}/{name}"

    def head(self, kind: str, place: str, meta: Json) -> Resource:
        """Return the first members of a resource (without identifier, which follows extensions)."""
        return {"resourceType": kind, "id": uuid5(self.bytes, f"{kind}/{place}"), "meta": meta}

    def identifier(self, place: str) -> list[dict[str, str]]:
        """Return the business identifier that names the place in the record."""
        return [{"system": self.system, "value": place}]

    def add(self, resource: Resource) -> dict[str, str]:
        """Keep a finished resource and return a reference to it."""
        self.resources.append(resource)
        return {"reference": self.literal(resource["resourceType"], resource["id"])}


def strong_namespace(patient: Mapping[str, Json]) -> bytes | None:
    """Return the namespace of all ids of one client whom something names: an identifier, or name and birth together.

    Framed so that no two pairs of system and value meet: the first ``|`` ends the system, and a system that could be
    taken for another frame stands in JSON. None where nothing names the client.

    Examples
    --------
    >>> one, other = ({"identifiers": [{"system": s, "value": v}]} for s, v in (("a|b", "c"), ("a", "b|c")))
    >>> strong_namespace(one) == strong_namespace(other), strong_namespace({"sex": "female"})
    (False, None)
    """
    for identifier in patient.get("identifiers", ()):
        system, value = identifier.get("system"), identifier.get("value")
        if not is_placeholder(system) and not is_placeholder(value):
            if system == REFERENCE:  # a name within one sender's system: what else is known keeps two of them apart
                known = {key: patient[key] for key in ("name", "born", "sex") if key in patient}
                return _space(as_json(["reference", value, known]))
            odd = "|" in system or system.startswith("[") or system == _PERSON
            return _space(as_json([system, value]) if odd else f"{system}|{value}")
    if patient.get("name") and patient.get("born"):
        known = {key: patient[key] for key in ("name", "born", "sex") if key in patient}
        return _space(f"{_PERSON}|{as_json(known)}")
    return None


_PERSON = "unidentified"


def namespace(history: History) -> bytes:
    """Return the namespace of all ids of a history.

    Where nothing names the client, the ids follow from all that is written, so that two such histories share none.
    """
    space = strong_namespace(history.patient)
    if space is not None:
        return space
    return _space(as_json(["record", {key: value for key, value in history.data.items() if key != "extra"}]))


def _space(name: str) -> bytes:
    return UUID(uuid5(NAMESPACE.bytes, name)).bytes


def urn(space: bytes) -> str:
    """Return the system of the identifiers that name places in one client's record."""
    return f"urn:uuid:{UUID(bytes=space)}"


#: How every Observation begins.
_HEAD: dict[str, Json] = {"resourceType": "Observation", "id": None, "meta": None, "identifier": None}


class VisitContext:
    """One visit, or one wound at one visit: what every resource made there has in common."""

    __slots__ = (
        "_frame",
        "_frame_of_part",
        "_leads",
        "_name",
        "author",
        "dated",
        "encounter",
        "event",
        "focus",
        "out",
        "place",
        "status",
        "visit",
    )

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
        self._name = self.names("Observation")
        self._leads = out.literal("Observation", "")
        self.dated = self.date("effectiveDateTime")
        #: What every Observation made here says, in the order of its elements; those of its own are filled in.
        self._frame: dict[str, Json] = {
            **_HEAD,
            "status": self.status,
            "category": out.exam,
            "code": None,
            "subject": out.patient,
            **({} if self.focus is None else {"focus": self.focus}),
            "encounter": self.encounter,
            **self.dated,
            **({} if author is None else {"performer": [author]}),
        }
        self._frame_of_part: dict[str, Json] = {**_HEAD, "partOf": None, **self._frame}

    def names(self, kind: str) -> Callable[[str], str]:
        """Return what gives the id of the resource of a kind at ``place/key``, from the key."""
        return uuid5_below(self.out.bytes, f"{kind}/{self.place}/")

    def date(self, key: str) -> dict[str, Json]:
        """Return the visit's time under another element's name."""
        return write_date(key, self.visit.get("at"), self.out.terms.written_as)

    def observation(
        self,
        key: str,
        meta: Json,
        code: Json,
        member: tuple[str, Json] | None = None,
        part_of: dict[str, str] | None = None,
        *,
        note: str | None = None,
        members: list[dict[str, str]] | None = None,
        components: list[Json] | None = None,
    ) -> dict[str, str]:
        """Write one Observation at ``place/key`` and return a reference to it."""
        out = self.out
        place = f"{self.place}/{key}"
        name = self._name(key)
        if part_of is None:
            made = self._frame.copy()
        else:
            made = self._frame_of_part.copy()
            made["partOf"] = [part_of]
        made["id"] = name
        made["meta"] = meta
        made["identifier"] = [{"system": out.system, "value": place}]
        made["code"] = code
        if member is not None:
            made[member[0]] = member[1]
        if note is not None:
            made["note"] = [{"text": note}]
        if members:
            made["hasMember"] = members
        if components:
            made["component"] = components
        out.resources.append(made)
        return {"reference": self._leads + name}
