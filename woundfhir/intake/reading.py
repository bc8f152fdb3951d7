"""Reading: the record that grows from the resources that count, door by door."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from typing import Any

from woundfhir.fhir.came import Resource
from woundfhir.fhir.elements import texts_of
from woundfhir.fhir.ids import escape
from woundfhir.fhir.read_context import CONFLICT, ReadContext
from woundfhir.fhir.references import own_systems
from woundfhir.fhir.resources import allergy, contact, encounter, illness, patient, wound
from woundfhir.fhir.terms import code_keys
from woundfhir.fhir.views import is_view
from woundfhir.fhir.write_context import strong_namespace, urn
from woundfhir.intake import subjects
from woundfhir.intake.belonging import Belonging
from woundfhir.intake.form_responses import read_form
from woundfhir.intake.founding import founds, is_wound
from woundfhir.intake.healed import settle_state
from woundfhir.intake.readmitting import readmit
from woundfhir.intake.shaped import Shaped
from woundfhir.intake.spotted import Spotted, of_wounds
from woundfhir.intake.structures import read_structures
from woundfhir.maps import in_force
from woundfhir.record.answers import StructureError
from woundfhir.record.canonical import canonical
from woundfhir.record.clients import REFERENCE, identifiers
from woundfhir.record.schema import explain

Json = Any
_FINDING = "a finding of a wound as a Condition: another guide's shape, kept as it came"


class Reading:
    """One reading of all that came in."""

    def __init__(self, source: ReadContext, belonging: Belonging | None = None) -> None:
        self.source = source
        self.terms = source.terms
        self.patient: dict[str, Json] = {}
        self.zone: str | None = None
        self.belonging = belonging or Belonging(source)
        self.inferred = self.belonging.inferred
        self.shaped = Shaped(source, self.belonging, in_force())
        self.spotted = Spotted(source, self.belonging)

    def data(self) -> dict[str, Json]:
        """Return the canonical record."""
        self._read_client()
        readmit(self.source)
        self._read_known()
        self._read_wounds()
        self._read_visits()
        self.belonging.links.relate()
        for resource in self.source.open("QuestionnaireResponse"):
            read_form(self.source, self.belonging, resource)
        self.spotted.read()
        self.shaped.read()
        self._read_findings()
        self.belonging.settle()
        self.belonging.order()
        self.source.settle_lists()
        for resource in self.source.open("Provenance"):
            visits = self.belonging.links.visit_of
            if not encounter.read_amendment(self.source, resource, visits):
                encounter.read_authorship(self.source, resource, self.spotted.visit_of | visits)
        encounter.refuse_circles(self.source, self.belonging.visits)
        raw: dict[str, Json] = {"woundfhir": 1}
        if self.zone:
            raw["zone"] = self.zone
        raw.update(patient=self.patient, wounds=self.belonging.wounds, visits=self.belonging.visits)
        try:
            return canonical(raw)
        except StructureError:
            raise explain(raw, "FHIR") from None

    # -- the client ----------------------------------------------------------------------------

    def _read_client(self) -> None:
        found, known = subjects.read_subject(self.source)
        self.patient = known
        for number, one in enumerate(found):
            read, zone = patient.read_patient(self.source, one)
            self.zone = self.zone or zone
            if number == 0:
                self.patient = read
                continue
            self.source.again.add(id(one))  # the same client once more: what only this one says is added
            mine = self.patient.get("identifiers", [])
            more = [item for item in read.pop("identifiers", ()) if item not in mine]
            self.patient = {**read, **self.patient, **({"identifiers": [*mine, *more]} if mine or more else {})}
        if found:
            self._name_as_sent(found[0])
        if self.patient:
            for kind, number in sorted(Counter(subjects.nameless(self.source)).items()):
                self.inferred.append(f"{number} {kind}: no client named; read as of the one client here")
        self.source.system = self._system()

    def _name_as_sent(self, found: Resource) -> None:
        """Add the sender's own name of the resource, within what they sent, where no number names the client.

        Two may have one name and birth date: that tells them apart.
        """
        contained = self.source.came[id(found)].holder is not None
        nameless = "id" not in found and strong_namespace(self.patient) is not None
        if identifiers(self.patient) or self.terms.is_ours(found) or (nameless and not contained):
            return
        name = self.source.name_of(found) if contained else f"Patient/{found.get('id', '')}"
        self.patient["identifiers"] = [*self.patient.get("identifiers", ()), {"system": REFERENCE, "value": name}]

    def _system(self) -> str | None:
        """The system of our own identifiers: that of this client, else the one by which what is ours is named."""
        space = strong_namespace(self.patient)
        mine = urn(space) if space is not None else None
        seen: set[str] = set()
        for resource in self.source.resources:
            if self.terms.is_ours(resource):
                seen.update(own_systems(resource))
        return seen.pop() if len(seen) == 1 else mine

    def _read_known(self) -> None:
        for resource in self.source.numbered("AllergyIntolerance", "allergies"):
            allergy.read_allergy(self.source, resource, self.patient)
        for resource in self.source.open("CareTeam"):
            contact.read_contact(self.source, resource, self.patient)
        for resource in self.source.open("RelatedPerson"):
            if "patient" in resource:
                contact.read_related(self.source, resource, self.patient)

    # -- wounds and visits ---------------------------------------------------------------------

    def _read_wounds(self) -> None:
        to, taken = self.belonging, set[str]()
        known: dict[int, dict[str, Json]] = {}
        measured = self._measured()
        for resource in self.source.numbered("Condition", "conditions", contained=True):
            first = self._first_version(resource)
            if is_view(self.source, first):
                continue
            if is_wound(self.source, first) or (id(first) in measured and not any(texts_of(first.get("code")))):
                found = wound.read_wound(self.source, resource)
                settle_state(self.source, resource, found, texts_of(resource.get("code")))
                if id(first) in known:
                    _contest(known[id(first)], found, self.terms.groups["wound"].keys())
                    to.links.wound_of[id(resource)] = known[id(first)]["id"]
                    self._again(resource)
                    continue
                if (ours := self._standing_for(resource, found)) is not None:
                    to.links.wound_of[id(resource)] = ours
                    continue
                found["id"] = to.free(found["id"], taken)
                taken.add(found["id"])
                self._note_ours(resource, "wound", found["id"])
                self.shaped.wound(resource, found)
                to.wounds.append(found)
                known[id(first)] = found
                to.links.wound_of[id(resource)] = found["id"]
                self.source.placed(resource, escape(found["id"]))
            elif self.source.came[id(resource)].holder is None and not self._is_finding(resource):
                illness.read_condition(self.source, resource, self.patient)
        read_structures(self.source, to, measured)

    def _measured(self) -> set[int]:
        """Return the Conditions, and what else findings of wounds alone are about: without words a wound by that."""
        found: set[int] = set()
        for resource in self.source.open("Observation"):
            if "focus" in resource and founds(resource) and of_wounds(self.source, resource):
                found |= {id(self.source.follow(ref, resource)) for ref in resource["focus"]}
        return found

    def _again(self, resource: Resource) -> None:
        """Note another version of what is read already."""
        self.source.again.add(id(resource))
        self.source.placed(resource, None)

    def _first_version(self, resource: Resource) -> Resource:
        """Return what stands for a resource of which several versions came and none is the newest."""
        first = self.source.came[id(resource)].same_as
        return resource if first is None else first.view

    def _standing_for(self, resource: Resource, found: dict[str, Json]) -> str | None:
        """Return the id of a wound of ours that stands for a contained one, or None.

        It has the name of the contained one; the resource around it may have been given an id, or another one, since.
        """
        holder = self.source.came[id(resource)].holder
        if holder is None:
            return None
        wounds = {wound["id"]: wound for wound in self.belonging.wounds}
        if found["id"] in wounds:
            return str(found["id"])
        head, tail = f"{holder.get('resourceType')}/", f"#{resource.get('id', '')}"
        there = {self.source.name_of(one) for one in self.source.open("Condition", contained=True)}
        alike = [name for name in wounds if name.startswith((head, "#")) and name.endswith(tail) and name not in there]
        same = [name for name in alike if all(wounds[name].get(key) == found[key] for key in found if key != "id")]
        return same[0] if len(same) == 1 else None

    def _is_finding(self, resource: Resource) -> bool:
        """Whether a Condition says a finding of a wound (another guide's shape), not an illness of the client."""
        if self.terms.finding_codes & set(code_keys(resource.get("code"))) and self.source.place(resource) is None:
            self.belonging.links.findings[id(resource)] = []
            return True
        return False

    def _read_findings(self) -> None:
        """Say of each finding as a Condition what became of it: its Observations say it, or nothing does."""
        findings, source = self.belonging.links.findings, self.source
        for resource in source.of("Condition"):
            parts = findings.get(id(resource))
            if parts is None or not source.counts(resource):
                continue
            if any(source.counts(one) and id(one) in source.places for one in parts):
                source.placed(resource, None)
                source.again.add(id(resource))
                links = [n for n, one in enumerate(resource.get("extension", ())) if "valueReference" in one]
                source.mark(resource, *(("extension", n, "valueReference", "reference") for n in links))
            else:
                source.refuse(resource, _FINDING)

    def _read_visits(self) -> None:
        to, taken = self.belonging, set[str]()
        for resource in self.source.open("Encounter"):
            visit = encounter.read_encounter(self.source, resource)
            if (known := to.links.visit_of.get(id(self._first_version(resource)))) is not None:
                _contest(known, visit, self.terms.groups["visit"].keys())
                to.links.visit_of[id(resource)] = known
                self._again(resource)
                continue
            visit["id"] = to.free(visit["id"], taken)
            taken.add(visit["id"])
            to.visits.append(visit)
            to.links.visit_of[id(resource)] = visit
            self.source.placed(resource, escape(visit["id"]))
            self._note_ours(resource, "visit", visit["id"])
            if self.source.place(resource) is not None:
                to.remember(visit)

    def _note_ours(self, resource: Resource, kind: str, name: str) -> None:
        if self.source.place(resource) is not None:
            self.belonging.ours[kind].add(name)


def _contest(known: dict[str, Json], other: dict[str, Json], answers: Collection[str]) -> None:
    """Add what another version says of one thing: of what they say differently, neither is chosen."""
    for key, value in other.items():
        if key == "id" or known.setdefault(key, value) == value:
            continue
        if key in answers:
            known[key] = dict(CONFLICT)
        else:
            del known[key]
