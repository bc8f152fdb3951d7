"""Which wound, which visit? What a resource names decides; an unresolved reference is a name like any other.

Links come first, then the place on the body. Only what names nothing at all, and is of wounds alone, goes to the
one wound that is there; nothing is put anywhere by default when something else is named.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from woundfhir.fhir.elements import first, read_date
from woundfhir.fhir.ids import escape
from woundfhir.fhir.read_context import ReadContext, RecordPlace, Resource
from woundfhir.fhir.resources import people, supply
from woundfhir.fhir.terms import code_keys
from woundfhir.intake.founding import Site, founds, only_wounds, place, site_of
from woundfhir.record import dates
from woundfhir.record.canonical import as_json

Json = Any
_NO_WOUND = "names no wound, and its code is not of wounds alone"
_NOTHING = "names no wound, and says of none that it is there"
_SEVERAL = "names no wound, and there are several"
_NOT_COUNTED = "its wound does not count"
_ELSEWHERE = "what it is about is no wound"
_UNSEEN = "what it is about did not come"
_TWO = "names more than one wound, and is read as a fact of none"
_OTHER_SIDE = "names a wound, and a place on the other side of the body"
_WHICH_SITE = "names a place on the body that may be that of a wound here"
#: What may be named by ``focus`` and the like without saying which wound it is.
_NOT_WOUNDS = frozenset(("Patient", "Practitioner", "PractitionerRole", "Organization", "Encounter", "Location"))
_DATES = ("effectiveDateTime", "effectiveInstant", "performedDateTime", "occurrenceDateTime", "created", "date")
_PERIODS = ("effectivePeriod", "performedPeriod", "occurrencePeriod", "period")
#: Status of a resource -> the status of a note of which it is the only trace.
_NOTE = {"draft": "draft", "amended": "amended", "final": "final", "negated": "final", "error": "entered in error"}


@dataclass(slots=True)
class Link:
    """What a resource says about the wound that it belongs to: its id, or why there is none."""

    wound: str | None = None
    why: str | None = None
    #: Names of Conditions that did not come.
    unseen: list[str] = field(default_factory=list)


class Belonging:
    """The wounds and visits of one reading, and what belongs to them."""

    def __init__(self, source: ReadContext) -> None:
        self.source = source
        self.terms = source.terms
        self.visits: list[dict[str, Json]] = []
        self.wounds: list[dict[str, Json]] = []
        self.inferred: list[str] = []
        #: Type, place in the record, and name of what was named and did not come.
        self.named: list[tuple[str, str, str]] = []
        self.visit_of: dict[int, dict[str, Json]] = {}
        self.wound_of: dict[int, str] = {}
        self._parent: dict[int, Resource] = {}
        self._owner: dict[int, str] = {}
        self._entries: dict[tuple[str, str], RecordPlace] = {}
        self._made: dict[str, dict[str, Json]] = {}
        self._unseen: dict[str, str] = {}
        #: Visits that only a time and an author make.
        self._dated: set[str] = set()
        #: Wounds and visits that were made, with what is known of each; and the places that something stands in.
        self._made_of: dict[tuple[str, str], str] = {}
        self._held: set[tuple[str, str]] = set()

    # -- how resources hang together -----------------------------------------------------------

    def relate(self) -> None:
        """Note what is a member of what, and which Conditions point at which findings."""
        source = self.source
        for resource in source.resources:
            if not source.counts(resource):
                continue
            kind = resource.get("resourceType")
            if kind == "Observation" and "hasMember" in resource:
                for ref in resource["hasMember"]:
                    if (member := source.follow(ref, resource)) is not None and member is not resource:
                        self._parent.setdefault(id(member), resource)
            if kind in ("Observation", "Procedure") and "partOf" in resource:
                for ref in resource["partOf"]:
                    whole = source.follow(ref, resource)
                    if whole is not None and whole is not resource and source.counts(whole):
                        self._parent.setdefault(id(resource), whole)
                        if kind == "Observation":
                            source.parts.setdefault(id(whole), []).append(resource)
            if kind == "Condition" and id(resource) in self.wound_of:
                self._own_findings(resource)

    def _own_findings(self, resource: Resource) -> None:
        refs = [found.get("valueReference") for found in resource.get("extension", ())]
        refs += [ref for evidence in resource.get("evidence", ()) for ref in evidence.get("detail", ())]
        for ref in refs:
            if ref and (found := self.source.follow(ref, resource)) is not None:
                self._owner.setdefault(id(found), self.wound_of[id(resource)])

    # -- the wound -----------------------------------------------------------------------------

    def link(self, resource: Resource, depth: int = 0) -> Link:
        """Return what a resource's own links say of its wound, its whole's where it says nothing itself."""
        out = Link()
        context = resource.get("context")
        related = context.get("related") if isinstance(context, dict) else None
        for refs in (resource.get("focus"), resource.get("reasonReference"), resource.get("addresses"), related):
            wounds: list[str] = []
            for ref in refs or ():
                self._follow_link(out, ref, resource, depth)
                if out.wound is not None and out.wound not in wounds:
                    wounds.append(out.wound)
                out.wound = None
            if len(wounds) > 1:
                return Link(None, _TWO)
            if wounds:
                return Link(wounds[0])
        if resource.get("resourceType") == "SupplyDelivery":
            change, _, of = supply.links(self.source, resource)
            if of is not None:
                return Link(self.wound_of.get(id(of)), None if id(of) in self.wound_of else _NOT_COUNTED)
            if change is not None and depth < 4:
                return self.link(change, depth + 1)
        if id(resource) in self._owner:
            return Link(self._owner[id(resource)])
        if out.why is not None or out.unseen or site_of(self.source, resource)[0].named:
            return out
        parent = self._parent.get(id(resource))
        return self.link(parent, depth + 1) if parent is not None and depth < 8 else out

    def _follow_link(self, out: Link, ref: Json, resource: Resource, depth: int) -> None:
        found = self.source.follow(ref, resource)
        if found is None:
            name = self.source.name(ref, resource)
            kind = str(ref.get("type") or "") if isinstance(ref, dict) else ""
            if name is None:
                out.why = out.why or _UNSEEN
            elif (_kind_of(name) or kind) in ("Condition", "BodyStructure", ""):
                out.unseen.append(name)
            elif (_kind_of(name) or kind) not in _NOT_WOUNDS:
                out.why = out.why or _UNSEEN
        elif id(found) in self.wound_of:
            out.wound = self.wound_of[id(found)]
        elif not self.source.counts(found):
            out.why = out.why or _NOT_COUNTED
        elif found.get("resourceType") in ("Observation", "Procedure") and depth < 4:
            inner = self.link(found, depth + 1)
            out.wound, out.why = inner.wound, out.why or inner.why or (_ELSEWHERE if inner.wound is None else None)
        elif found.get("resourceType") not in _NOT_WOUNDS:
            out.why = out.why or _ELSEWHERE

    def wound(self, resource: Resource, exclusive: bool) -> str | None:
        """Return the wound that a resource is about, made where it says that there is one; None, and why, where not."""
        link = self.link(resource)
        if link.wound is not None:
            if self._other_side(resource, link.wound):
                self.source.refuse(resource, _OTHER_SIDE, "conflict")
                return None
            return link.wound
        if len(set(link.unseen)) > 1:
            self.source.refuse(resource, _TWO)
            return None
        if link.unseen:
            return self._unseen_wound(resource, link.unseen[0], exclusive)
        if link.why is not None:
            self.source.refuse(resource, link.why)
            return None
        site, answers = site_of(self.source, resource)
        if not site.named and (parent := self._site_above(resource)) is not None:
            site, answers = site_of(self.source, parent)
        if site.named:
            return self._wound_at(resource, site, answers, exclusive)
        return self._only_wound(resource, exclusive)

    def _other_side(self, resource: Resource, wound_id: str) -> bool:
        """Whether a finding names a wound on one side, and a place on the other."""
        if "bodySite" not in resource or self.source.place(resource) is not None:
            return False
        wound = next((one for one in self.wounds if one["id"] == wound_id), {})
        here, there = site_of(self.source, resource)[0].side, place(self.terms, wound).side
        return here is not None and there is not None and here != there

    def _site_above(self, resource: Resource) -> Resource | None:
        for _ in range(8):
            above = self._parent.get(id(resource))
            if above is None:
                return None
            if site_of(self.source, above)[0].named:
                return above
            resource = above
        return None

    def _unseen_wound(self, resource: Resource, name: str, exclusive: bool) -> str | None:
        if name in self._unseen:
            return self._unseen[name]
        if not exclusive:
            self.source.refuse(resource, _UNSEEN)
            return None
        self._unseen[name] = name
        self.named.append(("Condition", escape(name), name))
        if all(wound["id"] != name for wound in self.wounds):  # one of ours may stand for it
            self.wounds.append({"id": name})
            self._made_of["wound", name] = "a wound: named by findings, and did not come; it stands under that name"
        return name

    def _wound_at(self, resource: Resource, site: Site, answers: dict[str, Json], exclusive: bool) -> str | None:
        found = [(wound, site.fits(place(self.terms, wound))) for wound in self.wounds]
        same = [wound for wound, fits in found if fits]
        if len(same) == 1:
            return str(same[0]["id"])
        unsure = same or [wound for wound, fits in found if fits is None]
        if unsure:
            self.source.refuse(resource, _WHICH_SITE)
            return None
        if not exclusive or not founds(resource):
            self.source.refuse(resource, _NO_WOUND if not exclusive else _NOTHING)
            return None
        made = self._new_wound()
        self.wounds.append({"id": made, **answers})
        self._made_of["wound", made] = f"wound {made}: made of findings that name a place where no other wound is"
        return made

    def _only_wound(self, resource: Resource, exclusive: bool) -> str | None:
        if not exclusive:
            self.source.refuse(resource, _NO_WOUND)
            return None
        if len(self.wounds) > 1:
            self.source.refuse(resource, _SEVERAL)
            return None
        if not self.wounds and not founds(resource):
            self.source.refuse(resource, _NOTHING)
            return None
        if not self.wounds:
            self.wounds.append({"id": "W1"})
            self._made_of["wound", "W1"] = "wound W1: made because findings came without a wound"
        self.inferred.append(f"{self.label(resource)}: names no wound; put to the only one")
        return str(self.wounds[0]["id"])

    def _new_wound(self) -> str:
        taken = {wound["id"] for wound in self.wounds}
        return next(f"W{n}" for n in range(1, len(taken) + 2) if f"W{n}" not in taken)

    # -- the visit -----------------------------------------------------------------------------

    def visit(self, resource: Resource, depth: int = 0) -> dict[str, Json]:
        """Return the visit of a resource: its Encounter, its whole's, or one made from its time, author and status."""
        context = resource.get("context")
        refs = [resource.get("encounter"), *(context.get("encounter", ()) if isinstance(context, dict) else ())]
        if resource.get("resourceType") == "SupplyDelivery":
            change, seen, _ = supply.links(self.source, resource)
            if seen is not None and id(seen) in self.visit_of:
                return self.visit_of[id(seen)]
            if change is not None and depth < 4:
                return self.visit(change, depth + 1)
        for ref in refs:
            if not ref:
                continue
            found = self.source.follow(ref, resource)
            known = self.visit_of.get(id(found)) if found is not None else None
            if known is not None and self._fits(known, resource):
                return known
            name = known["id"] if known is not None else self.source.name(ref, resource)
            if name is not None:
                return self._made_visit(resource, name, seen=found is not None)
        parent = self._parent.get(id(resource))
        if parent is not None and depth < 8:
            above = self.visit(parent, depth + 1)
            if self._fits(above, resource):
                return above
        return self._made_visit(resource, None)

    def _fits(self, visit: dict[str, Json], resource: Resource) -> bool:
        """Whether a note and what is charted in it agree in their state and their day."""
        status, states = visit.get("status"), self.source.states(resource)
        if status in states and visit.get("at") == resource.get("effectiveDateTime"):
            return True
        if ("draft" in states) != (status == "draft") and states & {"draft", "final", "amended", "unknown"}:
            return False
        if ("error" in states) != (status == "entered in error") and states & {"error", "draft", "final", "amended"}:
            return False
        at, here = visit.get("at"), when(resource, self.terms.written_as)
        if at == here:
            return True
        return not (at and here and dates.day(at) and dates.day(here)) or dates.day(at) == dates.day(here)

    def _made_visit(self, resource: Resource, name: str | None, seen: bool = False) -> dict[str, Json]:
        at = when(resource, self.terms.written_as)
        ref = performer(resource)
        by = people.read_author(self.source, ref, resource) if ref else None
        states = self.source.states(resource)
        status = next((_NOTE[state] for state in _NOTE if state in states), None)
        day = None if name is None else at[:10] if isinstance(at, str) else at
        key = as_json([name, day if name is not None else at, None if name is not None else by, status])
        if key in self._made:
            return self._made[key]
        if name is None:
            taken = {visit["id"] for visit in self.visits}
            made_id = next(f"came-{n}" for n in range(1, len(taken) + 2) if f"came-{n}" not in taken)
            said = f"visit {made_id}: made from the time and author of resources without an Encounter"
        else:
            parts = [name] if not seen else [name, *(part for part in (day, status) if part)]
            made_id = " ".join(parts)
            taken = {visit["id"] for visit in self.visits}
            if made_id in taken and not seen:
                made_id = " ".join([name, *(part for part in (day, status) if part)])
            known = next((visit for visit in self.visits if visit["id"] == made_id), None)
            if known is not None:
                self._made[key] = known
                return known
            why = "of another day or state than their Encounter" if seen else "that name an Encounter that did not come"
            said = f"a visit: made from the time and author of resources {why}"
            if not seen and made_id == name:
                self.named.append(("Encounter", escape(made_id), name))
        made = {k: v for k, v in {"id": made_id, "at": at, "by": by, "status": status}.items() if v}
        self.visits.append(made)
        self._made[key] = made
        self._made_of["visit", made_id] = said
        if name is None:
            self._dated.add(made_id)
        return made

    def remember(self, visit: dict[str, Json]) -> None:
        """Note a visit of ours that was made from time and author: what it was made from finds it again."""
        if str(visit["id"]).startswith("came-"):
            self._made.setdefault(as_json([None, visit.get("at"), visit.get("by"), visit.get("status")]), visit)

    # -- both ----------------------------------------------------------------------------------

    def spot(self, resource: Resource, exclusive: bool, client: bool) -> RecordPlace | None:
        """Return where a resource belongs, or None (and why) where that cannot be told."""
        if client:
            visit = self.visit(resource)
            return RecordPlace(visit, visit, escape(visit["id"]))
        wound = self.wound(resource, exclusive)
        if wound is None:
            return None
        visit = self.visit(resource)
        return self.at(visit, wound)

    def at(self, visit: dict[str, Json], wound: str) -> RecordPlace:
        """Return the place of one wound at one visit."""
        key = (visit["id"], wound)
        if key not in self._entries:
            entry: dict[str, Json] = {"wound": wound}
            visit.setdefault("wounds", []).append(entry)
            self._entries[key] = RecordPlace(visit, entry, f"{escape(visit['id'])}/{escape(wound)}")
        return self._entries[key]

    def hold(self, spot: RecordPlace) -> None:
        """Note that something was read into a place."""
        self._held.add(("visit", spot.visit["id"]))
        self._held.add(("wound", str(spot.entry.get("wound", ""))))

    def settle(self) -> None:
        """Take back wounds and visits that were made for resources which were then not read; say the others."""
        empty = {key for key in self._made_of if key not in self._held}
        self.wounds[:] = [one for one in self.wounds if ("wound", one["id"]) not in empty]
        self.visits[:] = [one for one in self.visits if ("visit", one["id"]) not in empty]
        for visit in self.visits:
            if "wounds" in visit:
                visit["wounds"] = [one for one in visit["wounds"] if ("wound", one["wound"]) not in empty]
                if not visit["wounds"]:
                    del visit["wounds"]
        gone = {("Condition" if kind == "wound" else "Encounter", escape(name)) for kind, name in empty}
        self.named[:] = [one for one in self.named if one[:2] not in gone]
        self.inferred[:0] = [line for key, line in self._made_of.items() if key not in empty]

    def mark(self, resource: Resource, spot: RecordPlace) -> None:
        """Note the leaves that name whose a resource of others is, and which wound and visit it belongs to."""
        source = self.source
        if source.place(resource) is not None:
            return
        for key in ("subject", "patient", "encounter"):
            if isinstance(ref := resource.get(key), dict):
                source.mark_ref(resource, (key,), ref)
        for key in ("focus", "reasonReference", "addresses", "partOf"):
            refs = resource.get(key)
            if isinstance(refs, list) and len(refs) == 1:
                source.mark_ref(resource, (key, 0), refs[0])
        at = spot.visit.get("at")
        for path in [*((key,) for key in _DATES), *((key, "start") for key in _PERIODS), ("issued",)]:
            holder = resource if len(path) == 1 else resource.get(path[0])
            if isinstance(holder, dict) and at is not None and holder.get(path[-1]) == at:
                source.mark(resource, path)
                break
        if spot.visit["id"] in self._dated and (ref := performer(resource)):
            key = next((k for k in ("performer", "author", "recorder") if k in resource), "performer")
            where: tuple[Json, ...] = (key, 0) if isinstance(resource[key], list) else (key,)
            source.mark_ref(resource, (*where, "actor") if "actor" in first(resource[key]) else where, ref)

    def label(self, resource: Resource) -> str:
        """Return how messages name a resource."""
        return f"{resource.get('resourceType')}/{resource.get('id', '')}"

    @staticmethod
    def free(name: str, taken: set[str]) -> str:
        """Return a name that is not taken: the name itself, or with a number behind it."""
        if name not in taken:
            return name
        return next(f"{name} ({n})" for n in range(2, len(taken) + 3) if f"{name} ({n})" not in taken)


def _kind_of(name: str) -> str:
    parts = name.rsplit("/", 2)
    return parts[-2] if len(parts) > 1 and parts[-2].isalpha() else ""


def when(resource: Resource, written_as: str) -> str | None:
    """Return the time at which a resource says that it was so: its own, the start of its period, else its issue."""
    if "effectiveDateTime" in resource and "_effectiveDateTime" not in resource:
        return str(resource["effectiveDateTime"])
    for key in _DATES:
        if found := read_date(resource, key, written_as):
            return found
    for key in _PERIODS:
        period = resource.get(key)
        if isinstance(period, dict) and (found := read_date(period, "start", written_as)):
            return found
    issued = resource.get("issued")
    return issued if isinstance(issued, str) else None


def performer(resource: Resource) -> Json:
    """Return the reference to whoever did, or wrote, what a resource says."""
    found: Json = first(resource.get("performer"))
    found = found.get("actor", found)
    return found or first(resource.get("author")) or resource.get("author") or resource.get("recorder")


def exclusive(source: ReadContext, resource: Resource) -> bool:
    """Whether a resource is of wounds alone, by its code."""
    return only_wounds(source.keys(resource)) or only_wounds(code_keys(resource.get("type")))
