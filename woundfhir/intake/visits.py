"""Which visit? An Encounter, or the time, author and status of what came without one."""

from __future__ import annotations

from datetime import timedelta
from itertools import count
from typing import Any

from woundfhir.fhir.came import Resource
from woundfhir.fhir.elements import PERIODS, first, read_date
from woundfhir.fhir.ids import escape, shortened
from woundfhir.fhir.resources import people, supply
from woundfhir.intake.links import MOST, Links
from woundfhir.record import dates
from woundfhir.record.canonical import as_json

Json = Any
DATES = ("effectiveDateTime", "effectiveInstant", "performedDateTime", "occurrenceDateTime", "created", "date")
#: Elements that may name one time as the only event of a Timing (R4, Timing.event).
TIMINGS = ("effectiveTiming", "occurrenceTiming")
#: How long one visit may be (common practice, no source): in a longer stay a wound is seen more than once.
LONGEST = timedelta(hours=6)
#: Of a finding that still stands while its visit was taken back: whoever reads it must know.
_OF_ERROR = "its visit was entered in error, and it was not; it stands in a note of its own"
#: Status of a resource -> the status of a note of which it is the only trace.
_NOTE = {"draft": "draft", "amended": "amended", "final": "final", "negated": "final", "error": "entered in error"}


class Visits:
    """The visits of one reading, and what belongs to which."""

    def __init__(self, links: Links) -> None:
        self.source = links.source
        self.terms = links.source.terms
        self.links = links
        self.visits: list[dict[str, Json]] = []
        #: Type, place in the record, and name of what was named and did not come.
        self.named: list[tuple[str, str, str]] = []
        #: Wounds and visits that were made, with what is known of each.
        self.made_of: dict[tuple[str, str], str] = {}
        #: Ids of the wounds and visits that came in a resource of ours.
        self.ours: dict[str, set[str]] = {"wound": set(), "visit": set()}
        #: Visits that only a time and an author make.
        self.dated: set[str] = set()
        self._made: dict[str, dict[str, Json]] = {}
        #: Name of an Encounter that did not come -> the visits made for it.
        self._named: dict[str, list[dict[str, Json]]] = {}

    def visit(self, resource: Resource, depth: int = 0) -> dict[str, Json]:
        """Return the visit of a resource: its Encounter, its whole's, or one made from its time, author and status."""
        context = resource.get("context")
        refs = [resource.get("encounter"), *(context.get("encounter", ()) if isinstance(context, dict) else ())]
        if resource.get("resourceType") == "SupplyDelivery":
            change, seen, _ = supply.links(self.source, resource)
            if id(seen) in self.links.visit_of:
                return self.links.visit_of[id(seen)]
            if change is not None and depth < MOST:
                return self.visit(change, depth + 1)
            refs.append(supply.reference(self.source, resource, "supply-visit"))
        for ref in refs:
            if not ref:
                continue
            found = self.source.follow(ref, resource)
            known = self.links.visit_of.get(id(found))
            if known is not None and self._fits(known, resource, found):
                self._date(known, resource)
                return known
            taken_back = known is not None and known.get("status") == "entered in error"
            if taken_back and "error" not in self.source.states(resource):
                self.source.leave(resource, "encounter", _OF_ERROR, "conflict")
            name = known["id"] if known is not None else self.source.name(ref, resource)
            if name is not None:
                return self._made_visit(resource, name, seen=found is not None)
        parent = self.links.parent(resource)
        if parent is not None and depth < MOST:
            above = self.visit(parent, depth + 1)
            undated = (
                above["id"] in self.dated and "at" not in above and when(resource, self.terms.written_as) is not None
            )
            if not undated and self._fits(above, resource) and self._same_author(above, resource):
                self._date(above, resource)
                return above
        if (known := self._of_report(resource)) is not None:
            return known
        return self._made_visit(resource, None)

    def _of_report(self, resource: Resource) -> dict[str, Json] | None:
        """Return the visit at which the one report was made that names a result (R4, DiagnosticReport.encounter)."""
        report = self.links.report(resource)
        found = self.source.follow(report.get("encounter"), report) if report is not None else None
        known = self.links.visit_of.get(id(found))
        return known if known is not None and self._fits(known, resource, found) else None

    def _date(self, visit: dict[str, Json], resource: Resource) -> None:
        """Take the time of what was charted for a visit that says none itself."""
        if "at" not in visit and (at := when(resource, self.terms.written_as)) is not None:
            visit["at"] = at

    def _same_author(self, visit: dict[str, Json], resource: Resource) -> bool:
        """Whether what is charted in a note of others was charted by whoever wrote it, where it says by whom."""
        ref = performer(resource) if self.source.place(resource) is None else None
        by = people.read_author(self.source, ref, resource) if ref else None
        return by is None or visit.get("by") in (None, by)

    def _fits(self, visit: dict[str, Json], resource: Resource, encounter: Resource | None = None) -> bool:
        """Whether a note and what is charted in it agree in their state and their day, or the visit lasted so long."""
        status, states = visit.get("status"), self.source.states(resource)
        if ("draft" in states) != (status == "draft") and states & {"draft", "final", "amended", "unknown"}:
            return False
        if ("error" in states) != (status == "entered in error") and states & {"error", "draft", "final", "amended"}:
            return False
        at, here = visit.get("at"), when(resource, self.terms.written_as)
        return dates.same_day(at, here) is not False or (encounter is not None and _within(encounter, here))

    def _made_visit(self, resource: Resource, name: str | None, seen: bool = False) -> dict[str, Json]:
        """Return a visit made from the time, author and status of a resource, once for all of which these are the same.

        ``name`` is that of its Encounter, if it names one; ``seen``, whether that came (and does not fit).
        """
        at = when(resource, self.terms.written_as)
        ref = performer(resource)
        by = people.read_author(self.source, ref, resource) if ref else None
        states = self.source.states(resource)
        status = next((_NOTE[state] for state in _NOTE if state in states), None)
        said = {key: value for key, value in {"at": at, "by": by, "status": status}.items() if value}
        if name is None:
            key = as_json([None, at and dates.instant(at), by, status])
            return self._made.get(key) or self._made.setdefault(key, self._without_encounter(said))
        if not seen and (known := self._of_name(name, at, by, status)) is not None:
            return known
        day = at and at[:10]
        key = as_json([name, day, None, status])
        if key not in self._made:
            parts = [part for part in (day, status) if part]
            self._made[key] = self._beside(name, parts, said) if seen else self._instead_of(name, parts, said)
        return self._made[key]

    def _without_encounter(self, said: dict[str, Json]) -> dict[str, Json]:
        """Make the visit of resources that name no Encounter."""
        names = (f"came-{n}" for n in count(1))
        taken = {visit["id"] for visit in self.visits}
        made_id = next(one for one in names if one not in taken and not self.source.named_already("Encounter", one))
        self.dated.add(made_id)
        why = f"visit {made_id}: made from the time and author of resources without an Encounter"
        return self._new(made_id, said, why)

    def _beside(self, name: str, parts: list[str], said: dict[str, Json]) -> dict[str, Json]:
        """Return the visit of resources of another day or state than their Encounter, which came."""
        made_id = shortened(" ".join([name, *parts]))
        why = "a visit: made from the time and author of resources of another day or state than their Encounter"
        return self._of_id(made_id) or self._of_ours(parts) or self._new(made_id, said, why)

    def _instead_of(self, name: str, parts: list[str], said: dict[str, Json]) -> dict[str, Json]:
        """Return the visit that stands for an Encounter that did not come: under its name, where that is free."""
        made_id = shortened(name)
        if self._of_id(made_id) is not None:
            made_id = shortened(" ".join([name, *parts]))
        if (known := self._of_id(made_id)) is not None:
            return known
        if made_id == shortened(name):
            self.named.append(("Encounter", escape(made_id), name))
        why = "a visit: made from the time and author of resources that name an Encounter that did not come"
        made = self._new(made_id, said, why)
        self._named[name].append(made)
        return made

    def _of_id(self, visit_id: str) -> dict[str, Json] | None:
        return next((visit for visit in self.visits if visit["id"] == visit_id), None)

    def _new(self, made_id: str, said: dict[str, Json], why: str) -> dict[str, Json]:
        """Add a visit with what resources say of it; ``why`` is what the report says of it."""
        made = {"id": made_id, **said}
        self.visits.append(made)
        self.made_of["visit", made_id] = why
        return made

    def _of_name(self, name: str, at: Json, by: Json, status: str | None) -> dict[str, Json] | None:
        """Return the visit made for an Encounter that did not come, in which a resource of this day and state fits.

        An amended note has parts whose resource has no such status (a CarePlan), and parts without a time.
        """
        for visit in self._named.setdefault(name, []):
            if dates.same_day(visit.get("at"), at) is False:
                continue
            held = visit.get("status")
            if held != status and {held, status} & {"draft", "entered in error"} and held and status:
                continue
            if "at" not in visit and at is not None:
                visit["at"] = at
            if "by" not in visit and by is not None:
                visit["by"] = by
            if held is None or (held, status) == ("final", "amended"):
                visit.update({"status": status} if status else {})
            return visit
        return None

    def _of_ours(self, parts: list[str]) -> dict[str, Json] | None:
        """Return the one visit of ours that was made in this way of an Encounter whose id a server has replaced."""
        end = " ".join(["", *parts])
        found = [one for one in self.visits if one["id"] in self.ours["visit"] and str(one["id"]).endswith(end)]
        return found[0] if len(found) == 1 and parts else None

    def remember(self, visit: dict[str, Json]) -> None:
        """Note a visit of ours that was made from time and author: what it was made from finds it again."""
        if str(visit["id"]).startswith("came-"):
            at = visit.get("at")
            at = dates.instant(at) if isinstance(at, str) else at
            self._made.setdefault(as_json([None, at, visit.get("by"), visit.get("status")]), visit)


def _within(encounter: Resource, at: str | None) -> bool:
    """Whether a time is in the period of a visit, which may go on past midnight; of a longer stay each day is one."""
    period = encounter.get("period")
    ends = (period.get("start"), period.get("end"), at) if isinstance(period, dict) else (None,)
    if not all(isinstance(one, str) and dates.has_clock(one) for one in ends):
        return False
    start, end, here = (dates.moment(one) for one in ends)
    if start is None or end is None or here is None or None in (start.tzinfo, end.tzinfo, here.tzinfo):
        return False
    return start <= here <= end <= start + LONGEST


def when(resource: Resource, written_as: str) -> str | None:
    """Return the time at which a resource says that it was so: its own, the start of its period, else its issue."""
    for key in DATES:
        if found := read_date(resource, key, written_as):
            return found
    for key in PERIODS:
        period = resource.get(key)
        if isinstance(period, dict) and (found := read_date(period, "start", written_as)):
            return found
    for key in TIMINGS:
        if (at := only_event(resource, key)) is not None:
            return at
    issued = resource.get("issued")
    return issued if isinstance(issued, str) else None


def only_event(resource: Resource, key: str) -> str | None:
    """Return the time of a Timing that names one and no more; of several nothing says which is meant."""
    timing = resource.get(key)
    events = timing.get("event") if isinstance(timing, dict) and "repeat" not in timing else None
    return events[0] if isinstance(events, list) and len(events) == 1 and isinstance(events[0], str) else None


def performer(resource: Resource) -> Json:
    """Return the reference to whoever did, or wrote, what a resource says."""
    found: Json = first(resource.get("performer"))
    found = found.get("actor", found)
    return found or first(resource.get("author")) or resource.get("author") or resource.get("recorder")
