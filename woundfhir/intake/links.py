"""How resources hang together: what a resource's own links, and those of its whole, say of its wound."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from woundfhir.fhir.came import Resource
from woundfhir.fhir.read_context import ReadContext
from woundfhir.fhir.resources import body_site, supply
from woundfhir.intake.founding import site_of

Json = Any
TWO = "names more than one wound, and is read as a fact of none"
UNSEEN = "what it is about did not come"
_NOT_COUNTED = "its wound does not count"
_ELSEWHERE = "what it is about is no wound"
#: So many resources are asked, one behind the other, of which wound one of them is.
MOST = 100
#: What may be named by ``focus`` and the like without saying which wound it is.
_NOT_WOUNDS = frozenset(("Patient", "Practitioner", "PractitionerRole", "Organization", "Encounter", "Location"))


@dataclass(slots=True)
class Link:
    """What a resource says about the wound that it belongs to: its id, or why there is none."""

    wound: str | None = None
    why: str | None = None
    #: Names of Conditions that did not come.
    unseen: list[str] = field(default_factory=list)


class Links:
    """The links between the resources of one reading."""

    def __init__(self, source: ReadContext) -> None:
        self.source = source
        self.wound_of: dict[int, str] = {}
        self.visit_of: dict[int, dict[str, Json]] = {}
        self._parent: dict[int, Resource] = {}
        self._owner: dict[int, str] = {}
        #: The reports that name a result.
        self._reports: dict[int, list[Resource]] = {}
        #: The wholes of what is a part of more than one; and what two wounds, or wholes of two, have for theirs.
        self._wholes: dict[int, list[Resource]] = {}
        self._of_several: set[int] = set()
        #: Conditions that say a finding of a wound, and the Observations that say more of it.
        self.findings: dict[int, list[Resource]] = {}

    def parent(self, resource: Resource) -> Resource | None:
        """Return the whole that a resource is a member or a part of."""
        return self._parent.get(id(resource))

    def report(self, resource: Resource) -> Resource | None:
        """Return the one DiagnosticReport that counts and names a resource as its result."""
        found = self._reports.get(id(resource), [])
        return found[0] if len(found) == 1 else None

    def adopt(self, part: Resource, whole: Resource) -> None:
        """Note that something is a part of a whole; of the first, where it is one of several."""
        if self._parent.setdefault(id(part), whole) is not whole:
            self._wholes.setdefault(id(part), [self._parent[id(part)]]).append(whole)

    def stand_for(self, made: Resource, resource: Resource) -> None:
        """Let what was made of a resource hang together with the others as that does."""
        if id(resource) in self._parent:
            self._parent[id(made)] = self._parent[id(resource)]
        if id(resource) in self._owner:
            self._owner[id(made)] = self._owner[id(resource)]
        if id(resource) in self._of_several:
            self._of_several.add(id(made))

    def relate(self) -> None:
        """Note what is a member of what, and which Conditions point at which findings."""
        source = self.source
        for resource in source.resources:
            if not source.counts(resource):
                continue
            kind = resource.get("resourceType")
            if kind == "Observation":
                for ref in resource.get("hasMember", ()):
                    if (member := source.follow(ref, resource)) is not None and member is not resource:
                        for version in (member, *source.versions.get(id(member), ())):
                            self.adopt(version, resource)
                for ref in resource.get("derivedFrom", ()):  # a picture that was measured is of the same wound
                    picture = source.follow(ref, resource)
                    if picture is not None and picture.get("resourceType") in ("Media", "DocumentReference"):
                        self.adopt(picture, resource)
            if kind == "Observation" or id(resource) in self.findings:
                self._adopt_named(resource)
            if kind in ("Observation", "Procedure"):
                for ref in resource.get("partOf", ()):
                    whole = source.follow(ref, resource)
                    if whole is not None and whole is not resource and source.counts(whole):
                        self.adopt(resource, whole)
                        if kind == "Observation":
                            source.parts.setdefault(id(whole), []).append(resource)
            if kind == "Condition" and id(resource) in self.wound_of:
                self._own_findings(resource)
            if kind == "DiagnosticReport":
                for ref in resource.get("result", ()):
                    if (result := source.follow(ref, resource)) is not None:
                        self._reports.setdefault(id(result), []).append(resource)
        self._find_shared()

    def _find_shared(self) -> None:
        """Note the parts of which two wholes, or a whole and a wound, say different things: they are of no wound."""
        for part, parent in self._parent.items():
            if part not in self._wholes and part not in self._owner:
                continue
            wholes = self._wholes.get(part, [parent])
            wounds = {self._owner.get(part), *(self.link(whole).wound for whole in wholes)} - {None}
            sites = {site for whole in wholes if (site := site_of(self.source, whole)[0]).named}
            if len(wounds or sites) > 1:
                self._of_several.add(part)

    def _adopt_named(self, resource: Resource) -> None:
        """Note what a panel names in extensions, and a finding that is a Condition as well: parts of it."""
        refs = [one.get("valueReference") for one in resource.get("extension", ()) if isinstance(one, dict)]
        if id(resource) in self.findings:
            refs += [ref for one in resource.get("evidence", ()) for ref in one.get("detail", ())]
        for ref in refs:
            part = self.source.follow(ref, resource) if ref else None
            if part is None or part is resource or id(part) in self.wound_of:
                continue
            if part.get("resourceType") == "Observation" or id(part) in self.findings:
                self.adopt(part, resource)
                if id(resource) in self.findings:
                    self.findings[id(resource)].append(part)

    def _own_findings(self, resource: Resource) -> None:
        refs = [found.get("valueReference") for found in resource.get("extension", ())]
        refs += [ref for evidence in resource.get("evidence", ()) for ref in evidence.get("detail", ())]
        for ref in refs:
            if ref and (found := self.source.follow(ref, resource)) is not None:
                for version in (found, *self.source.versions.get(id(found), ())):
                    if self._owner.setdefault(id(version), self.wound_of[id(resource)]) != self.wound_of[id(resource)]:
                        self._of_several.add(id(version))

    def link(self, resource: Resource, asked: dict[int, Link] | None = None) -> Link:
        """Return what a resource's own links say of its wound, its whole's where it says nothing itself.

        ``asked`` holds what was worked out on the way here. What leads back to a resource says nothing more of it, and
        resources that all name each other are each asked once.
        """
        asked = {} if asked is None else asked
        if id(resource) not in asked:
            asked[id(resource)] = Link()
            asked[id(resource)] = self._said(resource, asked)
        return asked[id(resource)]

    def _said(self, resource: Resource, asked: dict[int, Link]) -> Link:
        out = Link()
        context = resource.get("context")
        related = context.get("related") if isinstance(context, dict) else None
        said = {key: resource.get(key) for key in ("focus", "reasonReference", "addresses")}
        for key, refs in {**said, "related": related}.items():
            wounds: list[str] = []
            before = len(out.unseen)
            for ref in refs or ():
                self._follow_link(out, ref, resource, asked)
                if out.wound is not None and out.wound not in wounds:
                    wounds.append(out.wound)
                out.wound = None
            # A value is of all that is in focus; a step may have a reason (an illness) beside its wound.
            if len(wounds) > 1 or (wounds and key in ("focus", "related") and len(out.unseen) > before):
                return Link(None, TWO)
            if wounds:
                return Link(wounds[0])
        body = body_site.structure_of(self.source, resource)
        if id(body) in self.wound_of:
            return Link(self.wound_of[id(body)])
        if body is not None and not self.source.counts(body):
            return Link(None, _NOT_COUNTED)
        if resource.get("resourceType") == "SupplyDelivery":
            change, _, of = supply.links(self.source, resource)
            if of is not None:
                return Link(self.wound_of.get(id(of)), None if id(of) in self.wound_of else _NOT_COUNTED)
            if change is not None:
                return self.link(change, asked)
            if (named := supply.reference(self.source, resource, "supply-wound")) is not None:
                self._follow_link(out, named, resource, asked)  # it did not come, and is no other wound
        if id(resource) in self._of_several:
            return Link(None, TWO)
        if id(resource) in self._owner:
            return Link(self._owner[id(resource)])
        if out.why is not None or out.unseen or site_of(self.source, resource)[0].named:
            return out
        parent = self._parent.get(id(resource))
        return self.link(parent, asked) if parent is not None and len(asked) < MOST else out

    def may_be_a_wound(self, ref: Json, resource: Resource) -> bool:
        """Whether a Reference says anything of a wound: one to a person or a place does not."""
        found = self.source.follow(ref, resource)
        name = None if found is not None else self.source.name(ref, resource)
        kind = found.get("resourceType") if found is not None else _kind_of(name or "")
        return kind not in _NOT_WOUNDS

    def _follow_link(self, out: Link, ref: Json, resource: Resource, asked: dict[int, Link]) -> None:
        found = self.source.follow(ref, resource)
        if found is None:
            name = self.source.name(ref, resource)
            kind = str(ref.get("type") or "")
            if name is None:
                out.why = out.why or UNSEEN
            elif (_kind_of(name) or kind) in ("Condition", "BodyStructure", ""):
                out.unseen.append(name)
            elif (_kind_of(name) or kind) not in _NOT_WOUNDS:
                out.why = out.why or UNSEEN
        elif id(found) in self.wound_of:
            out.wound = self.wound_of[id(found)]
        elif not self.source.counts(found):
            out.why = out.why or _NOT_COUNTED
        elif found.get("resourceType") in ("Observation", "Procedure") and len(asked) < MOST:
            inner = self.link(found, asked)
            out.wound, out.why = inner.wound, out.why or inner.why or (_ELSEWHERE if inner.wound is None else None)
        elif found.get("resourceType") not in _NOT_WOUNDS:
            out.why = out.why or _ELSEWHERE

    def site_above(self, resource: Resource) -> Resource | None:
        """Return the nearest whole that names a place on the body."""
        for _ in range(MOST):
            above = self._parent.get(id(resource))
            if above is None:
                return None
            if site_of(self.source, above)[0].named:
                return above
            resource = above
        return None


def _kind_of(name: str) -> str:
    if "?" in name:  # a conditional reference
        return name.partition("?")[0].rpartition("/")[2]
    parts = name.rsplit("/", 2)
    return parts[-2] if len(parts) > 1 and parts[-2].isalpha() else ""
