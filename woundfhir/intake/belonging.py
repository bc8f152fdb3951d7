"""Which wound, which visit? What a resource names decides; an unresolved reference is a name like any other.

Links come first, then the place on the body. Only what names nothing at all, and is of wounds alone, goes to the
one wound that is there; nothing is put anywhere by default when something else is named.
"""

from __future__ import annotations

from itertools import count
from typing import Any

from woundfhir.fhir.came import Resource
from woundfhir.fhir.elements import PERIODS, first
from woundfhir.fhir.ids import escape, shortened
from woundfhir.fhir.read_context import ReadContext, RecordPlace
from woundfhir.fhir.terms import code_keys, has_code
from woundfhir.intake.founding import Site, founds, only_wounds, place, site_of
from woundfhir.intake.links import TWO, UNSEEN, Links
from woundfhir.intake.order import as_written, record_key, together
from woundfhir.intake.visits import DATES, TIMINGS, Visits, only_event, performer

Json = Any
_PUT = "names no wound; put to the only one"
_NO_WOUND = "names no wound, and its code is not of wounds alone"
_NOTHING = "names no wound, and says of none that it is there"
_SEVERAL = "names no wound, and there are several"
_OTHER_SIDE = "names a wound, and a place on the other side of the body"
_WHICH_SITE = "names a place on the body that may be that of a wound here"
_TWO_SITES = "names its wound by a place on the body alone, and contradicts itself there"


class Belonging(Visits):
    """The wounds and visits of one reading, and what belongs to them."""

    def __init__(self, source: ReadContext) -> None:
        super().__init__(Links(source))
        self.wounds: list[dict[str, Json]] = []
        self.inferred: list[str] = []
        self._entries: dict[tuple[str, str], RecordPlace] = {}
        self._unseen: dict[str, str] = {}
        #: The pairs of visit and wound at which a resource of ours stood.
        self.ours_at: set[tuple[str, str]] = set()
        #: Places that something stands in.
        self._held: set[tuple[str, str]] = set()

    # -- the wound -----------------------------------------------------------------------------

    def wound(self, resource: Resource, exclusive: bool) -> str | None:
        """Return the wound that a resource is about, made where it says that there is one; None, and why, where not."""
        link = self.links.link(resource)
        if link.wound is not None:
            if self._other_side(resource, link.wound):
                self.source.refuse(resource, _OTHER_SIDE, "conflict")
                return None
            return link.wound
        if len(set(link.unseen)) > 1:
            self.source.refuse(resource, TWO)
            return None
        if link.unseen:
            return self._unseen_wound(resource, link.unseen[0], exclusive)
        if link.why is not None:
            self.source.refuse(resource, link.why)
            return None
        site, answers = site_of(self.source, resource)
        if not site.named and (parent := self.links.site_above(resource)) is not None:
            site, answers = site_of(self.source, parent)
        if site.named:
            return self._wound_at(resource, site, answers, exclusive)
        if any(where == "bodySite" for where, _ in self.source.came[id(resource)].left):
            self.source.refuse(resource, _TWO_SITES, "conflict")
            return None
        return self._only_wound(resource, exclusive)

    def _other_side(self, resource: Resource, wound_id: str) -> bool:
        """Whether a finding names a wound on one side, and a place on the other."""
        if "bodySite" not in resource or self.source.place(resource) is not None:
            return False
        wound = next((one for one in self.wounds if one["id"] == wound_id), {})
        here, there = site_of(self.source, resource)[0].side, place(self.terms, wound).side
        return here is not None and there is not None and here != there

    def _unseen_wound(self, resource: Resource, name: str, exclusive: bool) -> str | None:
        if name in self._unseen:
            return self._unseen[name]
        if not exclusive:
            self.source.refuse(resource, UNSEEN)
            return None
        made = self._unseen[name] = shortened(name)
        self.named.append(("Condition", escape(made), name))
        if all(wound["id"] != made for wound in self.wounds):  # one of ours may stand for it
            self.wounds.append({"id": made})
            self.made_of["wound", made] = "a wound: named by findings, and did not come; it stands under that name"
        return made

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
        self.made_of["wound", made] = f"wound {made}: made of findings that name a place where no other wound is"
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
            made = self._new_wound()
            self.wounds.append({"id": made})
            self.made_of["wound", made] = f"wound {made}: made because findings came without a wound"
        at, kind = self.source.came[id(resource)].at, resource.get("resourceType")
        self.inferred.append(f"{at}: {kind}: {_PUT}" if at else f"{kind}: {_PUT}")
        return str(self.wounds[0]["id"])

    def _new_wound(self) -> str:
        taken = {wound["id"] for wound in self.wounds}
        names = (f"W{n}" for n in count(1))
        return next(one for one in names if one not in taken and not self.source.named_already("Condition", one))

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
        if self.source.place(resource) is not None or self.terms.is_ours(resource):
            self.ours_at.add((visit["id"], wound))
        return self.at(visit, wound)

    def at(self, visit: dict[str, Json], wound: str) -> RecordPlace:
        """Return the place of one wound at one visit."""
        key = (visit["id"], wound)
        if key not in self._entries:
            entry: dict[str, Json] = {"wound": wound}
            visit.setdefault("wounds", []).append(entry)
            self._entries[key] = RecordPlace(visit, entry, f"{escape(visit['id'])}/{escape(wound)}")
        return self._entries[key]

    def order(self) -> None:
        """Put wounds, visits and what was seen at each into an order that does not come from that of the entries.

        Ours stand as they came, that is as whoever wrote the record put them, unless something has put them into
        another order since; and what others wrote by its date, then its name.
        """
        written = as_written(self.source)
        wounds, visits = (self.ours[kind] if written else set() for kind in ("wound", "visit"))
        self.wounds[:] = together(self.wounds, "id", wounds, lambda one: record_key(one, "onset"))
        self.visits[:] = together(self.visits, "id", visits, lambda one: record_key(one, "at"))
        rank = {wound["id"]: number for number, wound in enumerate(self.wounds)}
        for visit in self.visits:
            if len(visit.get("wounds", ())) > 1:
                mine = {wound for at, wound in self.ours_at if at == visit["id"]} if written else set()
                visit["wounds"] = together(
                    visit["wounds"], "wound", mine, lambda one: rank.get(one["wound"], len(rank))
                )

    def hold(self, spot: RecordPlace) -> None:
        """Note that something was read into a place."""
        self._held.add(("visit", spot.visit["id"]))
        self._held.add(("wound", str(spot.entry.get("wound", ""))))

    def settle(self) -> None:
        """Take back wounds and visits that were made for resources which were then not read; say the others."""
        empty = {key for key in self.made_of if key not in self._held}
        self.wounds[:] = [one for one in self.wounds if ("wound", one["id"]) not in empty]
        self.visits[:] = [one for one in self.visits if ("visit", one["id"]) not in empty]
        for visit in self.visits:
            visit["wounds"] = [
                one
                for one in visit.get("wounds", ())
                if ("wound", one["wound"]) not in empty and self._says(visit, one)
            ]
        gone = {("Condition" if kind == "wound" else "Encounter", escape(name)) for kind, name in empty}
        self.named[:] = [one for one in self.named if one[:2] not in gone]
        self.inferred[:0] = [line for key, line in self.made_of.items() if key not in empty]

    def _says(self, visit: dict[str, Json], entry: dict[str, Json]) -> bool:
        """Whether anything is said of a wound at a visit.

        A wound that is named and nothing more was not looked at: a nurse may write that, and nobody else has said it.
        """
        said = any(value for key, value in entry.items() if key != "wound")
        return said or (visit["id"], entry["wound"]) in self.ours_at

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
            if not isinstance(refs, list) or len(refs) != 1 or not self.links.may_be_a_wound(refs[0], resource):
                continue
            if key != "partOf" or source.follow(refs[0], resource):
                source.mark_ref(resource, (key, 0), refs[0])
        at = spot.visit.get("at")
        for path in [*((key,) for key in DATES), *((key, "start") for key in PERIODS), ("issued",)]:
            holder = resource if len(path) == 1 else resource.get(path[0])
            if isinstance(holder, dict) and at is not None and holder.get(path[-1]) == at:
                source.mark(resource, path)
                break
        for key in TIMINGS:
            if at is not None and only_event(resource, key) == at:
                source.mark(resource, (key, "event", 0))
        if spot.visit["id"] in self.dated and (ref := performer(resource)):
            key = next((k for k in ("performer", "author", "recorder") if k in resource), "performer")
            where: tuple[Json, ...] = (key, 0) if isinstance(resource[key], list) else (key,)
            source.mark_ref(resource, (*where, "actor") if "actor" in first(resource[key]) else where, ref)

    @staticmethod
    def free(name: str, taken: set[str]) -> str:
        """Return a name that is not taken: the name itself, or with a number behind it."""
        if name not in taken:
            return name
        return next(f"{name} ({n})" for n in count(2) if f"{name} ({n})" not in taken)


def exclusive(source: ReadContext, resource: Resource) -> bool:
    """Whether a resource is of wounds alone, by its code; a CarePlan by our category of it."""
    if resource.get("resourceType") == "CarePlan":
        categories = resource.get("category")
        plan = source.terms.code_key("plan_category")
        return isinstance(categories, list) and any(has_code(one, plan) for one in categories)
    return only_wounds(source.keys(resource)) or only_wounds(code_keys(resource.get("type")))
