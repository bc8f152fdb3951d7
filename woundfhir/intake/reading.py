"""Reading: which visit and which wound each resource belongs to, and the record that grows from them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec

from woundfhir.catalogue import BASE
from woundfhir.errors import InputError
from woundfhir.fhir import form
from woundfhir.fhir.elements import first, read_date, target, targets
from woundfhir.fhir.ids import escape
from woundfhir.fhir.read_context import ReadContext, RecordPlace
from woundfhir.fhir.resources import encounter, observation, patient, people, photo, plan, procedure, supply, wound
from woundfhir.fhir.terms import code_keys, has_code
from woundfhir.fhir.write_context import _hex, namespace
from woundfhir.record.answers import StructureError
from woundfhir.record.canonical import canonical
from woundfhir.record.schema import explain

Json = Any
Resource = dict[str, Json]

_encode = msgspec.json.Encoder(decimal_format="number").encode
_FROM_STATUS = {
    "registered": "draft",
    "preliminary": "draft",
    "final": "final",
    "amended": "amended",
    "corrected": "amended",
    "entered-in-error": "entered in error",
    "completed": "final",
    "in-progress": "draft",
    "preparation": "draft",
}
_SPOTTED = ("Observation", "Procedure", "SupplyDelivery", "CarePlan", "DocumentReference")
_DATES = ("effectiveDateTime", "performedDateTime", "occurrenceDateTime", "created", "date")


class Reading:
    """One reading of all that came in."""

    def __init__(self, source: ReadContext) -> None:
        self.source = source
        self.terms = source.terms
        self.patient: dict[str, Json] = {}
        self.zone: str | None = None
        self.visits: list[dict[str, Json]] = []
        self.wounds: list[dict[str, Json]] = []
        self.inferred: list[str] = []
        self.computed: list[Resource] = []
        self._visit_of: dict[int, dict[str, Json]] = {}
        self._wound_of: dict[int, str] = {}
        self._parent: dict[int, Resource] = {}
        self._owner: dict[int, str] = {}
        self._entries: dict[tuple[str, str], RecordPlace] = {}
        self._by_time: dict[Json, dict[str, Json]] = {}

    def data(self) -> dict[str, Json]:
        """Return the canonical record."""
        self._refuse_modified()
        self._read_client()
        self._read_wounds()
        for resource in self._open("Encounter"):
            visit = encounter.read_encounter(self.source, resource)
            self.visits.append(visit)
            self._visit_of[id(resource)] = visit
        self._relate()
        for resource in self._open("QuestionnaireResponse"):
            self._read_form(resource)
        self.computed = [r for r in self.source.of("Observation") if self._is_computed(r)]
        derived = {id(resource) for resource in self.computed}
        waiting = [r for r in self.source.resources if self._is_open(r) and id(r) not in derived]
        spots = [(resource, self._spot(resource)) for resource in waiting]
        self._read_spotted([(resource, spot) for resource, spot in spots if spot is not None])
        for resource in self._open("Provenance"):
            encounter.read_amendment(self.source, resource, self._visit_of)
        raw: dict[str, Json] = {"woundfhir": 1}
        if self.zone:
            raw["zone"] = self.zone
        raw.update(patient=self.patient, wounds=self.wounds, visits=self.visits)
        try:
            return canonical(raw)
        except StructureError:
            raise explain(raw, "FHIR") from None

    def _is_open(self, resource: Resource) -> bool:
        return resource.get("resourceType") in _SPOTTED and id(resource) not in self.source.reasons

    def _is_computed(self, resource: Resource) -> bool:
        """Whether an Observation is a computed value of ours: recomputed from the record, never read."""
        return f"{BASE}/StructureDefinition/computed" in resource.get("meta", {}).get("profile", ())

    def _open(self, kind: str) -> Iterator[Resource]:
        return (resource for resource in self.source.of(kind) if id(resource) not in self.source.reasons)

    # -- the client ----------------------------------------------------------------------------

    def _refuse_modified(self) -> None:
        """A modifier that we do not know may turn the meaning round: the resource is kept and not interpreted."""
        if b'"modifierExtension"' not in _encode(self.source.resources):
            return
        for resource in self.source.resources:
            if b'"modifierExtension"' in _encode(resource):
                self.source.refuse(resource, "has a modifierExtension that is not known here; not interpreted")

    def _read_client(self) -> None:
        found = list(self.source.of("Patient"))
        subjects = {ref for r in self.source.resources if (ref := target(r.get("subject") or r.get("patient")))}
        resolved = {id(self.source.follow(ref)) if self.source.follow(ref) else ref for ref in subjects}
        resolved -= {id(one) for one in found}
        if len(found) > 1 or len(resolved) > (0 if found else 1):
            raise InputError(
                "FHIR", "resources of one client", "Split the input by client; records of two are never joined"
            )
        for resource in found:
            if id(resource) in self.source.reasons:
                continue
            self.patient, self.zone = patient.read_patient(self.source, resource)
        self.source.system = f"urn:uuid:{_hex(namespace(self.patient))}"
        for resource in self._open("AllergyIntolerance"):
            patient.read_allergy(self.source, resource, self.patient)
        for resource in self._open("CareTeam"):
            patient.read_contact(self.source, resource, self.patient)

    def _read_form(self, resource: Resource) -> None:
        """Take one wound at one visit from a QuestionnaireResponse of our form."""
        if not form.is_form(resource):
            return
        visit_id, wound_id = form.place(resource)
        visit, seen, entry = form.read_response(resource, self.terms)
        told = {(v["id"], e["wound"]) for v in self.visits for e in v.get("wounds", ())}
        if visit_id is None or wound_id is None:
            taken = {v["id"] for v in self.visits}
            visit_id = next(f"form-{n}" for n in range(1, len(taken) + 2) if f"form-{n}" not in taken)
            wound_id = str(self.wounds[0]["id"]) if len(self.wounds) == 1 else f"wound-{visit_id}"
            self.inferred.append(f"visit {visit_id}: made from a form that names no visit and no wound")
        self.source.placed(resource, None)
        if (visit_id, wound_id) in told:
            return
        if resource.get("author") and (by := people.read_author(self.source, resource["author"], resource)):
            visit["by"] = by
        known = next((v for v in self.visits if v["id"] == visit_id), None)
        if known is None:
            known = {"id": visit_id}
            self.visits.append(known)
        for key, value in visit.items():
            known.setdefault(key, value)
        known.setdefault("wounds", []).append({"wound": wound_id, **entry})
        mine = next((w for w in self.wounds if w["id"] == wound_id), None)
        if mine is None:
            mine = {"id": wound_id}
            self.wounds.append(mine)
        for key, value in seen.items():
            mine.setdefault(key, value)

    def _read_wounds(self) -> None:
        for resource in self._open("Condition"):
            if wound.is_wound(self.source, resource):
                found = wound.read_wound(self.source, resource)
                self.wounds.append(found)
                self._wound_of[id(resource)] = found["id"]
            elif not self._is_finding(resource):
                patient.read_condition(self.source, resource, self.patient)

    def _is_finding(self, resource: Resource) -> bool:
        """Whether a Condition says a finding of a wound (another guide's shape), not an illness of the client."""
        keys = {(c.get("system"), c.get("code")) for c in (resource.get("code") or {}).get("coding", ())}
        known = self.terms.finding_codes
        if keys & known:
            self.source.refuse(resource, "a finding of a wound as a Condition: another guide's shape, kept as it came")
            return True
        return False

    # -- where things belong -------------------------------------------------------------------

    def _relate(self) -> None:
        """Note what is a member of what, and which Conditions point at which findings."""
        for resource in self.source.resources:
            kind = resource.get("resourceType")
            if kind == "Observation":
                for ref in targets(resource.get("hasMember")):
                    if (member := self.source.follow(ref, resource)) is not None:
                        self._parent.setdefault(id(member), resource)
                for ref in targets(resource.get("partOf")):
                    if (whole := self.source.follow(ref, resource)) is not None:
                        self._parent.setdefault(id(resource), whole)
                        self.source.parts.setdefault(id(whole), []).append(resource)
            elif kind == "Procedure":
                for ref in targets(resource.get("partOf")):
                    if (whole := self.source.follow(ref, resource)) is not None:
                        self._parent.setdefault(id(resource), whole)
            elif kind == "Condition" and id(resource) in self._wound_of:
                self._own_findings(resource)

    def _own_findings(self, resource: Resource) -> None:
        refs = [target(extension.get("valueReference")) for extension in resource.get("extension", ())]
        refs += [ref for evidence in resource.get("evidence", ()) for ref in targets(evidence.get("detail"))]
        for ref in refs:
            if ref and (found := self.source.follow(ref, resource)) is not None:
                self._owner.setdefault(id(found), self._wound_of[id(resource)])

    def _wound_ref(self, resource: Resource, depth: int = 0) -> str | None:
        """Return the id of the wound that a resource is about."""
        context = resource.get("context")
        related = context.get("related") if isinstance(context, dict) else None
        for refs in (resource.get("focus"), resource.get("reasonReference"), resource.get("addresses"), related):
            for ref in targets(refs):
                found = self.source.follow(ref, resource)
                if found is not None and id(found) in self._wound_of:
                    return self._wound_of[id(found)]
        if resource.get("resourceType") == "SupplyDelivery":
            change, _, of = supply.links(self.source, resource)
            if of is not None:
                return self._wound_of.get(id(of))
            return self._wound_ref(change, depth + 1) if change is not None and depth < 4 else None
        if id(resource) in self._owner:
            return self._owner[id(resource)]
        parent = self._parent.get(id(resource))
        return self._wound_ref(parent, depth + 1) if parent is not None and depth < 8 else None

    def _visit(self, resource: Resource, depth: int = 0) -> dict[str, Json] | None:
        """Return the visit of a resource: its Encounter, its parent's, or one made from its time and author."""
        context = resource.get("context")
        refs = [resource.get("encounter"), *(context.get("encounter", ()) if isinstance(context, dict) else ())]
        if resource.get("resourceType") == "SupplyDelivery":
            change, seen, _ = supply.links(self.source, resource)
            if seen is not None:
                return self._visit_of.get(id(seen))
            if change is not None and depth < 4:
                return self._visit(change, depth + 1)
        for ref in refs:
            found = self.source.follow(ref, resource) if ref else None
            if found is not None and id(found) in self._visit_of:
                return self._visit_of[id(found)]
        parent = self._parent.get(id(resource))
        if parent is not None and depth < 8:
            return self._visit(parent, depth + 1)
        return self._made_visit(resource)

    def _made_visit(self, resource: Resource) -> dict[str, Json]:
        at = next((found for key in _DATES if (found := read_date(resource, key, self.terms.written_as))), None)
        who: Json = first(resource.get("performer"))
        who = who.get("actor", who) or first(resource.get("author")) or resource.get("author")
        status = _FROM_STATUS.get(str(resource.get("status")))
        key = (at, target(who), status)
        if key not in self._by_time:
            taken = {visit["id"] for visit in self.visits}
            number = next(n for n in range(1, len(taken) + 2) if f"came-{n}" not in taken)
            by = people.read_author(self.source, who, resource) if who else None
            visit = {"id": f"came-{number}", "at": at, "by": by, "status": status}
            made = {name: value for name, value in visit.items() if value}
            self.visits.append(made)
            self._by_time[key] = made
            self.inferred.append(f"visit {made['id']}: made from the time and author of resources without an Encounter")
        return self._by_time[key]

    def _spot(self, resource: Resource) -> RecordPlace | None:
        """Return where a resource belongs, or None (and why) where that cannot be told."""
        wound_id = self._wound_ref(resource)
        client = wound_id is None and self._about_client(resource)
        if wound_id is None and not client:
            wound_id = self._only_wound(resource)
            if wound_id is None:
                return None
        visit = self._visit(resource)
        if visit is None:
            self.source.refuse(resource, "its visit is not among the resources")
            return None
        if client or wound_id is None:
            return RecordPlace(visit, visit, escape(visit["id"]))
        key = (visit["id"], wound_id)
        if key not in self._entries:
            entry: dict[str, Json] = {"wound": wound_id}
            visit.setdefault("wounds", []).append(entry)
            self._entries[key] = RecordPlace(visit, entry, f"{escape(visit['id'])}/{escape(wound_id)}")
        return self._entries[key]

    def _about_client(self, resource: Resource) -> bool:
        term = self.terms.find(resource.get("code")) if resource.get("resourceType") == "Observation" else None
        return term is not None and term.concept.group == "client"

    def _only_wound(self, resource: Resource) -> str | None:
        if not self._known(resource):
            self.source.refuse(resource, "no place in the record")
            return None
        if len(self.wounds) > 1:
            self.source.refuse(resource, "names no wound, and there are several")
            return None
        if not self.wounds:
            self.wounds.append({"id": "W1"})
            self.inferred.append("wound W1: made because findings came without a wound")
        kind = resource.get("resourceType")
        self.inferred.append(f"{kind}/{resource.get('id', '')}: names no wound; put to the only one")
        return str(self.wounds[0]["id"])

    def _known(self, resource: Resource) -> bool:
        code = resource.get("code") or resource.get("type")
        if resource.get("resourceType") == "SupplyDelivery":
            return True
        return self.terms.knows(code)

    # -- findings, care, supplies, plans, photos ----------------------------------------------

    def _read_spotted(self, spotted: list[tuple[Resource, RecordPlace]]) -> None:
        details = self.terms.details
        by_kind: dict[Json, list[tuple[Resource, RecordPlace]]] = {}
        for pair in spotted:
            by_kind.setdefault(pair[0]["resourceType"], []).append(pair)
        for kind, read in _READERS:
            for resource, spot in by_kind.get(kind, ()):
                if kind == "Observation" and any(key in details for key in code_keys(resource.get("code"))):
                    continue
                if not read(self.source, resource, spot):
                    self.source.refuse(resource, "no place in the record")
        change = self.terms.code_key("dressing_change")
        for resource, spot in by_kind.get("Procedure", ()):
            if has_code(resource.get("code"), change):
                supply.read_used(self.source, resource, spot)


_READERS = (
    ("Observation", observation.read),
    ("Procedure", procedure.read),
    ("SupplyDelivery", supply.read),
    ("CarePlan", plan.read),
    ("DocumentReference", photo.read),
)
