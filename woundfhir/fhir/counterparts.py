"""What we write of a record: which resource of ours stands for one that came, and in which dialect."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from woundfhir.fhir import leaves
from woundfhir.fhir.dialects.names import dialect_of
from woundfhir.fhir.read_context import ReadContext
from woundfhir.fhir.views import is_view
from woundfhir.fhir.write_context import Resource, WriteContext

Json = Any
#: Elements that every Observation of ours has from its visit and its wound.
_FRAME = frozenset(("resourceType", "identifier", "partOf", "status", "category", "subject", "focus", "encounter"))
_FRAME |= {"effectiveDateTime", "_effectiveDateTime", "performer"}
#: Elements of our own resources that servers change: their ids are kept in one map, the rest says nothing of care.
SERVERS = frozenset(("id", "meta", "text"))


class Counterparts:
    """The resources that we write of a record, each of which may stand for one that came.

    Parameters
    ----------
    source
        What came.
    ours
        What we write of the record that was read from it.
    out
        The context in which it was written.
    """

    def __init__(self, source: ReadContext, ours: Iterable[Resource], out: WriteContext) -> None:
        self.source, self.out = source, out
        self.by_id: dict[str, Resource] = {one["id"]: one for one in ours}
        #: Ids of Observations of ours that stand inside other resources now.
        self.inside: set[str] = set()
        #: Ours as a dialect writes them, by dialect and id.
        self._spoken: dict[str, dict[str, Resource]] = {}

    def pairs(self) -> list[tuple[Resource, Resource | None]]:
        """Return each resource that came with ours for the same, and find out what stands inside others."""
        found = [(one, self.mine(one)) for one in self.source.resources]
        self.inside = {
            str(one.get("id"))
            for one, mine in found
            if mine is None and self._stands_inside(one, self.source.came[id(one)].original)
        }
        return found

    def mine(self, resource: Resource) -> Resource | None:
        """The resource that we write for the same place, if it is read and stands in our shape."""
        if not self.source.counts(resource):
            return None
        place = self.source.places.get(id(resource))
        if place is None:
            # Ours that nothing read: beside what came from others, it may say what stands there once more.
            same = self.by_id.get(str(resource.get("id"))) if self.source.place(resource) is not None else None
            return same if same == resource else None
        found = self.by_id.get(str(resource.get("id")))
        if found is None or found["resourceType"] != resource.get("resourceType"):
            found = self.at(resource, place)
        return found

    def at(self, resource: Resource, place: str) -> Resource | None:
        """Return ours of the same type for a place in the record."""
        return self.by_id.get(self.out.id(str(resource.get("resourceType")), place))

    def viewed(self) -> dict[str, str]:
        """How our references to views of a dialect are renamed: a server gives them other ids, as it does the rest."""
        found = (one for one in self.source.resources if dialect_of(one) is not None and is_view(self.source, one))
        names = ((str(one["resourceType"]), str(self.source.place(one)), one.get("id")) for one in found)
        return {f"{kind}/{self.out.id(kind, place)}": f"{kind}/{came}" for kind, place, came in names}

    def in_dialect(self, came: Resource, mine: Resource) -> Resource:
        """How we write a resource in the dialect in which it came."""
        name = dialect_of(came)
        if name is None:
            return mine
        if name not in self._spoken:
            from woundfhir.fhir.dialects.spoken import spoken

            self._spoken[name] = {one["id"]: one for one in spoken(name, self.by_id.values(), self.out)}
        return self._spoken[name].get(mine["id"], mine)

    def _stands_inside(self, view: Resource, came: Resource) -> bool:
        """Whether all that an Observation of ours, of an earlier version, says stands inside another resource now."""
        shown = self.source.shown.get(id(view))
        if shown is None or self.source.place(view) is None or not self.source.terms.is_ours(view):
            return False
        rest = {key: value for key, value in came.items() if key not in _FRAME | SERVERS}
        return all(key in shown and leaves.covers(shown[key], value) for key, value in rest.items())

    def names_inside(self, member: Json) -> bool:
        """Whether a member of a panel is an Observation that stands inside another resource now."""
        name = str(member.get("reference")) if isinstance(member, dict) else ""
        return name.removeprefix("urn:uuid:").rpartition("/")[2] in self.inside
