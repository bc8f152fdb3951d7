"""What was found, done, supplied and planned: each resource read at the wound and the visit where it belongs."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from woundfhir.fhir.came import Resource
from woundfhir.fhir.elements import values_in
from woundfhir.fhir.read_context import ReadContext, RecordPlace
from woundfhir.fhir.resources import panel, photo, plan, procedure, supply
from woundfhir.fhir.resources.worded_size import size_in_words
from woundfhir.fhir.terms import has_code
from woundfhir.fhir.views import is_computed, is_view
from woundfhir.intake.belonging import Belonging, exclusive
from woundfhir.intake.founding import founds

Json = Any

_READERS = (
    ("Observation", panel.read),
    ("Procedure", procedure.read),
    ("SupplyDelivery", supply.read),
    ("CarePlan", plan.read),
    ("DocumentReference", photo.read),
)
_KINDS = frozenset(kind for kind, _ in _READERS)


def of_wounds(source: ReadContext, resource: Resource) -> bool:
    """Whether a resource says something that can only be about a wound, and does not deny it."""
    return exclusive(source, resource) and "negated" not in source.states(resource)


class Spotted:
    """Resources that are read where their wound and visit are known or can be made."""

    def __init__(self, source: ReadContext, belonging: Belonging) -> None:
        self.source = source
        self.terms = source.terms
        self.belonging = belonging
        #: Observations with values that we computed from the record: held against it, not read.
        self.computed: list[Resource] = []
        #: Visits by what others say was found or done at them.
        self.visit_of: dict[int, dict[str, Json]] = {}

    def read(self) -> None:
        """Read all of them; what has no place is refused with its reason."""
        placing = self._with_place()
        spots = self._spots(placing)
        by_kind: dict[Json, list[tuple[Resource, RecordPlace]]] = {}
        for resource in placing:
            if (spot := spots[id(resource)]) is not None:
                self.belonging.mark(resource, spot)
                if self.source.place(resource) is None:
                    self.visit_of[id(resource)] = spot.visit
                by_kind.setdefault(resource["resourceType"], []).append((resource, spot))
        self._count_loose(by_kind.get("Observation", ()))
        # What belongs to one of several items comes after those items.
        by_kind.get("Observation", []).sort(key=lambda one: self._is_part(one[0]))
        for kind, read in _READERS:
            for resource, spot in by_kind.get(kind, ()):
                if kind == "Observation" and any(key in self.terms.details for key in self.source.keys(resource)):
                    continue
                if read(self.source, resource, spot):
                    self.belonging.hold(spot)
                else:
                    self.source.refuse(resource, "no place in the record")
        self._read_changes(by_kind.get("Procedure", ()))
        for resource, _ in by_kind.get("Observation", ()):
            if "hasMember" in resource and not values_in(resource) and not {"component", "note"} & resource.keys():
                self.source.again.add(id(resource))

    def _with_place(self) -> list[Resource]:
        """Return what counts and whose code has a place in the record, no view of what stands elsewhere."""
        views = [one for one in self.source.of("Observation") if is_view(self.source, one)]
        self.computed = [one for one in views if is_computed(self.source, one)]
        left = {id(one) for one in views}
        waiting = [
            one
            for one in self.source.resources
            if one.get("resourceType") in _KINDS and self.source.counts(one) and id(one) not in left
        ]
        return [one for one in waiting if self._has_place(one)]

    def _spots(self, placing: list[Resource]) -> dict[int, RecordPlace | None]:
        """Return the wound and the visit of each; what founds wounds comes first, so that what names one finds it."""
        spots: dict[int, RecordPlace | None] = {}
        later: list[Resource] = []
        for resource in placing:
            place = self.source.place(resource)
            if place is not None:
                spots[id(resource)] = self.belonging.spot(resource, True, self._about_client(resource))
            elif founds(resource) and of_wounds(self.source, resource):
                spots[id(resource)] = self.belonging.spot(resource, True, False)
            else:
                later.append(resource)
        for resource in later:
            alone = of_wounds(self.source, resource)
            spots[id(resource)] = self.belonging.spot(resource, alone, not alone and self._about_client(resource))
        return spots

    def _read_changes(self, procedures: Iterable[tuple[Resource, RecordPlace]]) -> None:
        change = self.terms.code_key("dressing_change")
        for resource, spot in procedures:
            if has_code(resource.get("code"), change):
                self.source.again.add(id(resource))  # its steps say that there was one
                supply.read_used(self.source, resource, spot)
                procedure.read_change(self.source, resource, spot)

    def _is_part(self, resource: Resource) -> bool:
        """Whether an Observation is one field of a group."""
        term = self.source.term(resource)
        return term is not None and term.parent is not None

    def _count_loose(self, found: Iterable[tuple[Resource, RecordPlace]]) -> None:
        """Count the fields of groups that stand as Observations of their own, each at its place."""
        for resource, spot in found:
            term = self.source.term(resource)
            if term is not None and term.parent is not None:
                self.source.loose[spot.place, str(term.concept.of), term.concept.key] += 1
            elif term is not None and term.concept.many and self.source.place(resource) is None:  # an item of its own
                self.source.loose[spot.place, term.concept.key, ""] += 1

    def _has_place(self, resource: Resource) -> bool:
        """Whether anything of this code has a place in the record, so that its wound and visit are worth asking for."""
        kind = resource["resourceType"]
        if self.source.place(resource) is not None:
            return True
        if kind == "Observation" and self._holds_members(resource):
            self.source.placed(resource, None)
            self.source.again.add(id(resource))
            if isinstance(resource.get("subject"), dict):
                self.source.mark_ref(resource, ("subject",), resource["subject"])
            return False
        if kind in ("SupplyDelivery", "CarePlan") or self.terms.knows(resource.get("code") or resource.get("type")):
            return True
        if kind == "Observation" and (
            panel.panel_of_parts(self.source, resource) is not None or size_in_words(self.source, resource)[0]
        ):
            return True
        self.source.refuse(resource, "no place in the record")
        return False

    def _holds_members(self, resource: Resource) -> bool:
        """A panel of another guide that only holds members says nothing of its own."""
        if "hasMember" not in resource or self.terms.knows(resource.get("code")):
            return False
        return not values_in(resource) and "component" not in resource

    def _about_client(self, resource: Resource) -> bool:
        term = self.source.term(resource) if resource.get("resourceType") == "Observation" else None
        return term is not None and term.concept.group == "client"
