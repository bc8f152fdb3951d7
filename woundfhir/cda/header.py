"""The header of a CDA document: whose it is, who wrote it, and the visit that it is about."""

from __future__ import annotations

from hashlib import sha256
from typing import Any
from uuid import NAMESPACE_URL, uuid5

from lxml import etree

from woundfhir.cda.datatypes import NULL_FLAVOR, Types
from woundfhir.cda.tree import SDTC, Element, Tree, key_of, kid, kids
from woundfhir.r4.origin import Leaf, Source

Json = Any
Ref = dict[str, str]
#: Names of everything that is made of CDA grow from this.
_SPACE = uuid5(NAMESPACE_URL, "urn:hl7-org:v3")
_GENDERS = {"M": "male", "F": "female", "UN": "other"}  # v3-AdministrativeGender, hl7.fhir.r4.core 4.0.1


class Header:
    """Reads the header of one document.

    Parameters
    ----------
    tree
        The document.
    source
        Takes the resources.
    """

    def __init__(self, tree: Tree, source: Source) -> None:
        self.tree, self.source = tree, source
        self.types = Types(tree)
        #: The name of the document: its id; of one that has none, all that it says.
        self._document = self._key(tree.root) or sha256(etree.tostring(tree.root, method="c14n")).hexdigest()

    # -- names ---------------------------------------------------------------------------------

    def name(self, kind: str, element: Element, *, alone: bool = False) -> str:
        """Return the id of a resource: grown from the element's own id, else from its place in this document."""
        key = None if alone else self._key(element)
        return str(uuid5(_SPACE, f"{kind}|{key or self._document + ''.join(self.tree.at[element])}"))

    def _key(self, element: Element) -> str | None:
        named = (one for one in kids(element, "id") if one.get("root") and not self.tree.null(one))
        return next(map(key_of, named), None)

    # -- the client ----------------------------------------------------------------------------

    def clients(self) -> list[Ref]:
        """Add the clients and return references to them."""
        return [
            self._client(role)
            for role in (kid(one, "patientRole") for one in kids(self.tree.root, "recordTarget"))
            if role is not None
        ]

    def _client(self, role: Element) -> Ref:
        types, person = self.types, kid(role, "patient")
        made: dict[str, Json] = {
            "resourceType": "Patient",
            "id": self.name("Patient", role),
            "identifier": types.identifiers(role),
            "name": types.names(person),
            "telecom": types.telecoms(role),
            "gender": self._gender(kid(person, "administrativeGenderCode")),
            **types.said_time("birthDate", self.tree.attribute(kid(person, "birthTime"), "value"), day=True),
            **self._deceased(person),
            "address": types.addresses(role),
            "maritalStatus": types.concept(kid(person, "maritalStatusCode")),
            "communication": [
                {"language": {"coding": [{"system": "urn:ietf:bcp:47", "code": code}]}}
                for one in kids(person, "languageCommunication")
                if (code := self.tree.attribute(kid(one, "languageCode"), "code"))
            ],
        }
        return self.source.add(made)

    def _gender(self, one: Element | None) -> Leaf | None:
        code = self.tree.attribute(one, "code")
        if code is not None and code.value.upper() not in _GENDERS:
            self.tree.source.report(code, "not-understood", "a code that is not known")
            return None
        return Leaf(_GENDERS[code.value.upper()], code.at) if code else None

    def _deceased(self, person: Element | None) -> dict[str, Json]:
        when = self.types.time("deceasedDateTime", kid(person, f"{SDTC}deceasedTime"))
        if when:
            return when
        said = self.tree.attribute(kid(person, f"{SDTC}deceasedInd"), "value")
        return {"deceasedBoolean": Leaf(said.value == "true", said.at)} if said else {}

    # -- people --------------------------------------------------------------------------------

    def author(self, holder: Element | None, *names: str) -> Ref | None:
        """Add whoever an author, performer or participant names, and return a reference; None for a device."""
        role = next((found for name in names if (found := kid(holder, name)) is not None), None)
        if role is None or kid(role, "assignedAuthoringDevice") is not None:
            return None
        person = kid(role, "assignedPerson")
        house = next(
            (
                one
                for name in ("representedOrganization", "representedCustodianOrganization")
                if (one := kid(role, name)) is not None
            ),
            None,
        )
        names_of, named = self.types.names(person), self.types.identifiers(role)
        who = (
            self.source.add(
                {
                    "resourceType": "Practitioner",
                    "id": self.name("Practitioner", role),
                    "identifier": named,
                    "name": names_of,
                    "telecom": self.types.telecoms(role),
                    "address": self.types.addresses(role),
                }
            )
            if names_of or named
            else None
        )
        place = self.organization(house)
        code = self.types.concept(kid(role, "code"))
        if place is None and code is None:
            return who
        key = "|".join(((who or {}).get("reference", ""), (place or {}).get("reference", "")))
        made: dict[str, Json] = {"resourceType": "PractitionerRole", "id": str(uuid5(_SPACE, f"role|{key}"))}
        return self.source.add({**made, "practitioner": who, "organization": place, "code": [code]})

    def organization(self, house: Element | None) -> Ref | None:
        """Add an organisation that has a name or an id."""
        name, named = self.tree.text(kid(house, "name")), self.types.identifiers(house)
        if house is None or not (name or named):
            return None
        made = {"resourceType": "Organization", "id": self.name("Organization", house), "identifier": named}
        return self.source.add(
            {**made, "name": name, "telecom": self.types.telecoms(house), "address": self.types.addresses(house)}
        )

    # -- the visit -----------------------------------------------------------------------------

    def encounter(self, client: Ref | None, author: Ref | None) -> Ref | None:
        """Add the visit that the document is about, if it names one."""
        one = kid(self.tree.root, "componentOf", "encompassingEncounter")
        if one is None:
            return None
        period = self.types.when(kid(one, "effectiveTime"), "start", "period")
        period = period.get("period", period)
        people = [
            self.author(found, "assignedEntity")
            for found in (*kids(one, "responsibleParty"), *kids(one, "encounterParticipant"))
        ]
        who = next((found for found in people if found), author)
        place = kid(one, "location", "healthCareFacility")
        where = self.tree.text(kid(place, "location", "name")) or self.tree.text(
            kid(place, "serviceProviderOrganization", "name")
        )
        return self.source.add(
            {
                "resourceType": "Encounter",
                "id": self.name("Encounter", one),
                "identifier": self.types.identifiers(one),
                "status": "finished" if period and any("end" in key for key in period) else "unknown",
                "class": {"system": NULL_FLAVOR, "code": "NI"},
                "type": [self.types.concept(kid(one, "code"))],
                "subject": client,
                "participant": [{"individual": who}] if who else [],
                "period": period,
                "location": [{"location": {"display": where}}] if where else [],
                "serviceProvider": self.organization(kid(place, "serviceProviderOrganization")),
            }
        )


__all__ = ["Header", "Ref"]
