"""Many clients in one input: what came is parted, so that each client's resources are read on their own.

A resource is a client's when it names that client, or hangs together with what does. People, organisations, places and
the like are everybody's who names them. What names no client, where there are several, is read as no fact of anybody.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Any

from woundfhir.errors import InputError
from woundfhir.fhir.came import Came, Resource
from woundfhir.fhir.elements import objects
from woundfhir.fhir.read_context import ReadContext
from woundfhir.fhir.reasons import CROSSED, NOBODY
from woundfhir.fhir.references import address
from woundfhir.fhir.terms import Terms
from woundfhir.intake import questions, subjects
from woundfhir.intake.gather import Gathered

Json = Any
#: Resources that are about no client by what they are (R4): shared by those that name them.
SHARED = frozenset(
    (
        *(
            "Practitioner",
            "PractitionerRole",
            "Organization",
            "OrganizationAffiliation",
            "Location",
            "HealthcareService",
        ),
        *("Endpoint", "Medication", "Substance", "ActivityDefinition", "PlanDefinition", "Questionnaire", "ValueSet"),
        *("CodeSystem", "StructureDefinition", "SearchParameter", "CapabilityStatement", "Device", "DeviceDefinition"),
        "OperationOutcome",
    )
)
#: What may not name what is another client's: it would be a fact of one client about the wound or visit of another.
OF_ONE = frozenset(
    (
        *("Observation", "Condition", "Procedure", "Encounter", "CarePlan", "SupplyDelivery", "DocumentReference"),
        *("BodyStructure", "Media", "DeviceUseStatement", "QuestionnaireResponse", "Goal", "ServiceRequest"),
    )
)


class _Parting:
    """One input with the resources of several clients."""

    def __init__(self, gathered: Gathered, compiled: Terms) -> None:
        self.gathered = gathered
        self.source = ReadContext(gathered.came, compiled)
        self.whole = [one for one in gathered.came if one.holder is None]
        self.strange = subjects.strangers(self.source)
        self.clients = subjects.clients(self.source)
        if doubt := subjects.doubt(self.source):
            fix = "Ask the sender whether it is one person, and whose number it is; nothing was read"
            raise InputError("FHIR", "a number of their own for each client", fix, found=doubt.removeprefix("; "))
        self.number = {name: number for number, client in enumerate(self.clients) for name in client}
        self.owners: dict[int, set[int]] = {}
        self.points: dict[int, list[int]] = {}

    def parts(self) -> Iterator[Gathered]:
        """Yield what came of each client, then what is nobody's."""
        for one in self.whole:
            self.owners[id(one.view)] = self._named(one.view)
            found = [self.source.follow(ref, one.view) for ref in _all_references(one.view)]
            if one.view.get("resourceType") == questions.RESPONSE:
                found.append(questions.form_of(self.source, one.view))
            self.points[id(one.view)] = [id(target) for target in found if target is not None]
        self._hang_together()
        self._share()
        self._part_crossed()
        groups: list[list[Came]] = [[] for _ in self.clients]
        left: list[Came] = []
        for one in self.gathered.came:
            owners = self.owners[id(one.view if one.holder is None else one.holder)]
            for group in [groups[number] for number in sorted(owners)] or [left]:
                group.append(one)
        for came in groups:
            self._name_what_leaves(came)
            yield self._part(came)
        requests = self._requests(self.gathered.came, here=False)
        if requests or any(one.view.get("resourceType") not in SHARED for one in left):
            for one in left:
                one.reason = one.reason or NOBODY
            nobodys = self._part(left)
            nobodys.entries += requests
            yield nobodys

    def _named(self, resource: Resource) -> set[int]:
        """Return the clients that a resource names."""
        if resource.get("resourceType") == "Patient":
            return {self.number[self.source.name_of(resource)]}
        found = {
            self.number[name] for name in subjects.names(self.source, resource, self.strange) if name in self.number
        }
        if len(found) > 1:
            fix = "Ask the sender which of them it is about; nothing was read"
            wrong = "one resource names two clients"
            raise InputError("FHIR", "resources of one client each", fix, found=wrong)
        return found

    def _hang_together(self) -> None:
        """What names nobody is the client's to whose resources alone it points, or that alone point at it."""
        kinds = {id(one.view): one.view.get("resourceType") for one in self.whole}
        pointed: dict[int, set[int]] = {}
        for key, targets in self.points.items():
            for target in targets:
                pointed.setdefault(target, set()).add(key)
        waiting = [key for key, owners in self.owners.items() if not owners and kinds[key] not in SHARED]
        while waiting:
            left = []
            for key in waiting:
                near = [*self.points[key], *pointed.get(key, ())]
                found = {number for one in near if kinds.get(one) not in SHARED for number in self.owners.get(one, ())}
                if len(found) == 1:
                    self.owners[key] = found
                else:
                    left.append(key)
            if len(left) == len(waiting):
                return
            waiting = left

    def _share(self) -> None:
        """Give everybody's to each client who names it."""
        kinds = {id(one.view): one.view.get("resourceType") for one in self.whole}
        waiting = [key for key, owners in self.owners.items() if owners]
        while waiting:
            key = waiting.pop()
            for target in self.points.get(key, ()):
                if kinds.get(target) in SHARED and not self.owners[key] <= self.owners[target]:
                    self.owners[target] = self.owners[target] | self.owners[key]
                    waiting.append(target)

    def _part_crossed(self) -> None:
        """What says whose it is, and names a wound, a visit or a finding of another client alone, is nobody's."""
        kinds = {id(one.view): one.view.get("resourceType") for one in self.whole}
        crossed = []
        for one in self.whole:
            mine = self.owners[id(one.view)]
            targets = (target for target in self.points[id(one.view)] if kinds.get(target) in OF_ONE)
            if one.reason is None and mine and kinds[id(one.view)] in OF_ONE:
                crossed += (
                    [one] if any(theirs and theirs.isdisjoint(mine) for theirs in map(self.owners.get, targets)) else []
                )
        for one in crossed:
            one.reason = CROSSED
            self.owners[id(one.view)] = set()

    def _name_what_leaves(self, came: list[Came]) -> None:
        """Name what is another client's by its address, as a reader of this part alone does."""
        here = {id(one.view) for one in came}
        others = {id(one.view): one for one in self.whole if one.base and id(one.view) not in here}
        for one in came if others else ():
            if one.holder is not None or len(self.owners[id(one.view)]) > 1:
                continue
            for ref in _all_references(one.view):
                target = others.get(id(self.source.follow(ref, one.view)))
                if target is not None and "reference" in ref:
                    ref["reference"] = str(target.full_url)

    def _part(self, came: list[Came]) -> Gathered:
        """A server's answer, and what else is a notice, is repeated for each client."""
        return Gathered(came, list(self.gathered.notices), self._requests(came))

    def _requests(self, came: list[Came], *, here: bool = True) -> list[tuple[str, str, Json]]:
        """Return the entries without a resource that name one of these; or, not here, those that name none."""
        if not self.gathered.entries:
            return []
        names = {f"{one.original.get('resourceType')}/{one.original.get('id')}" for one in came}
        return [item for item in self.gathered.entries if (_target(item) in names) is here]


def part(gathered: Gathered, compiled: Terms) -> list[tuple[Gathered, bool]]:
    """Part what came by clients.

    Parameters
    ----------
    gathered
        What came, of several clients.
    compiled
        The table of codes.

    Returns
    -------
    list
        What came of each client, in the order in which they are named first, and True; then, with False, what is
        nobody's, where there is anything but people and places.

    Raises
    ------
    InputError
        When one resource names two clients.
    """
    parting = _Parting(gathered, compiled)
    found = list(parting.parts())
    count = len(parting.clients)
    left = Counter(str(one.view.get("resourceType")) for one in parting.whole if not parting.owners[id(one.view)])
    for one, other, words in subjects.in_common(parting.source):
        said = f"clients {one + 1} and {other + 1} have a number in common, and are not joined ({words})"
        found[one].notices.append(said)
        found[other].notices.append(said)
    if left and len(found) == count:
        found[0].notices.append(named_by_none(left))
    return [(one, number < count) for number, one in enumerate(found)]


def named_by_none(kinds: Mapping[str, int]) -> str:
    """Return the notice of resources that are everybody's and nobody names, given how many there are of each type.

    Examples
    --------
    >>> named_by_none({"Organization": 2, "Location": 1})
    '1 Location, 2 Organization: named by no client here, and in none of the histories'
    """
    listed = ", ".join(f"{number} {kind}" for kind, number in sorted(kinds.items()))
    return f"{listed}: named by no client here, and in none of the histories"


def _target(item: tuple[str, str, Json]) -> str:
    request = item[2].get("request") if isinstance(item[2], dict) else None
    return address(str(request.get("url", ""))) if isinstance(request, dict) else ""


def _all_references(resource: Resource) -> list[Json]:
    """Return every Reference in a resource and in what it contains."""
    return [ref for held in (resource, *objects(resource, "contained")) for ref in _references(held)]


def _references(value: Json) -> Iterator[Json]:
    """Yield every Reference in a resource, those in what it contains apart."""
    waiting = [value[key] for key in value if key != "contained"]
    while waiting:
        one = waiting.pop()
        if isinstance(one, dict):
            if isinstance(one.get("reference"), str) or isinstance(one.get("identifier"), dict):
                yield one
            waiting.extend(one.values())
        elif isinstance(one, list):
            waiting.extend(one)
