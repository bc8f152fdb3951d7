"""The client of a message (PID), the visit (PV1), and who found a result (OBX-15, OBX-16)."""

from __future__ import annotations

from typing import Any
from uuid import NAMESPACE_URL, uuid5

from woundfhir.fhir.time_in_digits import time_in_digits
from woundfhir.r4.origin import Leaf, Source, apart
from woundfhir.v2.datatypes import identifier, person
from woundfhir.v2.message import Segment

Json = Any
Ref = dict[str, str]
_SPACE = uuid5(NAMESPACE_URL, "urn:hl7-org:v2")
GENDERS = {"F": "female", "M": "male", "O": "other", "A": "other", "N": "other", "U": "unknown"}
_CLASSES = {"E": "EMER", "I": "IMP", "O": "AMB", "P": "PRENC"}
_ACT = "http://terminology.hl7.org/CodeSystem/v3-ActCode"
_NULL = {"system": "http://terminology.hl7.org/CodeSystem/v3-NullFlavor", "code": "NI"}


class People:
    """Who and where: the resources around the results of one file.

    Parameters
    ----------
    source
        Where the resources go.
    """

    def __init__(self, source: Source) -> None:
        self.source = source
        #: Who sent the message that is read, and its place: ids grow from both.
        self.sender = self.message = ""
        #: The client and the visit that the segments behind them are about.
        self.client: Ref | None = None
        self.visit: Ref | None = None

    def id(self, *parts: str) -> str:
        """Return an id for a resource: the same for the same parts."""
        return str(uuid5(_SPACE, "|".join(parts)))

    def read_client(self, pid: Segment) -> Ref:
        """Add the client whom a PID names; return the reference to that Patient."""
        ids = [made for n in range(pid.repetitions(3)) if (made := identifier(pid, 3, self.sender, n))]
        names = [made for n in range(pid.repetitions(5)) if (made := person(pid, 5, 1, n))]
        gender = pid.get(8)
        if gender is not None and gender.value.upper() not in GENDERS:
            self.source.report(gender, "not-understood", "a code that is not known")
            gender = None
        lines = [{
            "line": [found for n in (1, 2) if (found := pid.get(11, n))], "city": pid.get(11, 3),
            "state": pid.get(11, 4), "postalCode": pid.get(11, 5), "country": pid.get(11, 6),
        }] if pid.get(11) else []  # fmt: skip
        died, dead = time_in_digits(self.source, "deceasedDateTime", pid.get(29)), pid.get(30)
        phone = pid.get(13)
        return self._known_client(pid, {
            "resourceType": "Patient", "identifier": ids, "name": names,
            "telecom": [{"system": "phone", "value": phone}] if phone else [],
            "gender": Leaf(GENDERS[gender.value.upper()], gender.at) if gender else None,
            **time_in_digits(self.source, "birthDate", pid.get(7), day=True),
            **(died or ({"deceasedBoolean": Leaf(dead.value == "Y", dead.at)} if dead else {})),
            "address": lines,
        })  # fmt: skip

    def _known_client(self, pid: Segment, made: dict[str, Json]) -> Ref:
        """Add a client: one who came before is the same where an identifier agrees and nothing contradicts."""
        plain, _ = apart(made)
        strong = [(one["system"], one["value"]) for one in plain.get("identifier", ()) if "system" in one]
        made["id"] = self.id("Patient", *strong[0]) if strong else self.id("Patient", self.message, *pid.at)
        known = next((one for one in self.source.resources if one["id"] == made["id"]), None)
        keys = ("birthDate", "gender", "name")
        if known is not None and any(known.get(key, plain.get(key)) != plain.get(key, known.get(key)) for key in keys):
            made["id"] = self.id("Patient", self.message, *pid.at)  # the doors say what speaks for and against
        ref = self.source.add(made)
        self.source.spans[pid.at] = ref["reference"]
        return ref

    def read_visit(self, pv1: Segment) -> Ref | None:
        """Add the visit of a PV1; None where it has neither number nor time."""
        number, kind = identifier(pv1, 19, self.sender), pv1.get(2)
        start = time_in_digits(self.source, "start", pv1.get(44))
        end = time_in_digits(self.source, "end", pv1.get(45))
        if number is None and not start:
            return None
        known = kind is not None and kind.value in _CLASSES
        place = pv1.get(3, 4, 1) or pv1.get(3, 1, 1)
        return self.source.add({
            "resourceType": "Encounter", "id": self.id("Encounter", self.message, *pv1.at),
            "identifier": [number], "status": "finished" if end else "unknown",
            "class": {"system": _ACT, "code": Leaf(_CLASSES[kind.value], kind.at)} if known and kind else _NULL,
            "subject": self.client, "period": {**start, **end},
            "location": [{"location": {"display": place}}] if place else [],
        })  # fmt: skip

    def read_performer(self, obx: Segment) -> Ref | None:
        """Add who found a result, and the place that did; None where it names neither."""
        name = person(obx, 16, 2)
        number = identifier(obx, 16, self.sender, authority=2) if obx.get(16) else None
        number = {"value": number["value"]} if number else None
        house = obx.get(15, 2) or obx.get(15, 1)
        if not (name or number or house):
            return None
        key = [str(obx.get(16, n)[0]) if obx.get(16, n) else "" for n in (1, 2, 3)]  # type: ignore[index]
        who = self.source.add({
            "resourceType": "Practitioner", "id": self.id("Practitioner", self.sender, *key),
            "identifier": [number], "name": [name],
        }) if name or number else None  # fmt: skip
        if house is None:
            return who
        place = self.source.add({
            "resourceType": "Organization", "id": self.id("Organization", self.sender, house.value), "name": house
        })  # fmt: skip
        role = {"resourceType": "PractitionerRole", "id": self.id("Role", self.sender, *key, house.value)}
        return self.source.add({**role, "practitioner": who, "organization": place}) if who else place


def client(source: Source, pid: Segment, sender: str) -> Json:
    """Return the client whom a PID names, as a Patient."""
    people = People(source)
    people.sender = sender
    people.read_client(pid)
    return source.resources[-1]
