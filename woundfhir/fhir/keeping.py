"""Nothing is lost: what came in and has no place in the record is kept verbatim and listed.

After reading, the record is written again and each resource that came is held against the one we write for the same
place. A resource of somebody else's is kept whole, with a digest of each element of ours, so that it goes out as it
came as long as the record says the same; of ours, only the elements that differ are kept.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from hashlib import sha256
from typing import Any

from woundfhir.errors import InputError
from woundfhir.fhir import leaves
from woundfhir.fhir.came import Came, Resource
from woundfhir.fhir.carrying import carried, carried_apart, with_those_that_hang
from woundfhir.fhir.counterparts import SERVERS, Counterparts
from woundfhir.fhir.fates import CARRIER, KEPT, TWICE, VIEW, WORDED, Taken, kind_of
from woundfhir.fhir.ids import digest
from woundfhir.fhir.keys import in_record_form
from woundfhir.fhir.losses import BOOKKEEPING, Losses
from woundfhir.fhir.putting_back import came_names
from woundfhir.fhir.read_context import ReadContext
from woundfhir.fhir.reasons import shows
from woundfhir.fhir.references import rename
from woundfhir.fhir.views import is_view
from woundfhir.fhir.write_context import WriteContext
from woundfhir.limits import TOO_LONG, fits
from woundfhir.r4.definitions import resource_types
from woundfhir.record import History
from woundfhir.record.canonical import as_json

Json = Any
SHAPED = "in the record, in another shape"
CAME = "in the record; kept as it came"
NAMED = "named by reference; it did not come"
#: What is around the care of wounds, by type: it has no place in the record, and goes with it.
_OTHER_CONTENT = {
    **dict.fromkeys(("MedicationRequest", "MedicationStatement", "MedicationAdministration"), "a medicine"),
    **dict.fromkeys(("Medication", "MedicationDispense"), "a medicine"),
    **dict.fromkeys(("DocumentReference", "Composition", "Binary"), "a document"),
    **dict.fromkeys(("DiagnosticReport", "ImagingStudy", "Specimen"), "a result"),
    **dict.fromkeys(("Immunization", "FamilyMemberHistory", "NutritionOrder"), "another part of the chart"),
    **dict.fromkeys(("Device", "DeviceRequest", "SupplyRequest"), "a device or a supply"),
    **dict.fromkeys(("Provenance", "AuditEvent"), "who did what, and when"),
    **dict.fromkeys(("Location", "Organization", "Practitioner", "PractitionerRole", "RelatedPerson"), "a named party"),
}


def digests(ours: Mapping[str, Json]) -> dict[str, str]:
    """Return a short digest of each element, to find out later whether ours has changed."""
    return {key: digest(value) for key, value in ours.items()}


class Keeping:
    """One input held against what we write of the record that was read from it."""

    def __init__(self, source: ReadContext, history: History, build: Callable[[History], Any]) -> None:
        self.source = source
        self.history = history
        self.ours = Counterparts(source, *build(history))
        self.extra: list[dict[str, str]] = []
        self.server: dict[str, Json] = {}
        self.taken: list[Taken] = []
        self.carried = False

    def collect(self, named: list[tuple[str, str, str]], entries: list[tuple[str, str, Json]]) -> None:
        """Put everything that the record does not say into its ``extra``."""
        self._named(named)
        pairs = self.ours.pairs()
        if not all(mine is one or mine == one for one, mine in pairs) or named:
            names = came_names([(one, mine) for one, mine in pairs if mine is not None])
            names |= {f"{kind}/{self.ours.out.id(kind, place)}": name for kind, place, name in named if _literal(name)}
            names |= self.ours.viewed()
            for one, mine in pairs:
                self._take(one, mine, names)
        else:  # ours to the letter, and so all of it is said
            for one, _ in pairs:
                self._take_unchanged(one, one)
        for where, why, entry in entries:
            self.extra.append({"from": where, "why": why, "came": as_json(entry)})
            self.taken.append(Taken(_asked_of(entry) or where, entry, all_of=(kind_of(why), why), at=where))
        self.extra = with_those_that_hang(self.extra)
        if self.server:
            self.extra.append({"from": "server", "why": BOOKKEEPING, "came": as_json(self.server)})
        if self.extra or self.carried:
            self.history.keep(self.extra)

    def report(
        self,
        inferred: list[str],
        computed: list[Resource],
        notices: list[str],
        twice: list[tuple[Came, Came]],
        envelopes: list[Resource],
    ) -> Losses:
        """Return the report; ``twice`` came before, word for word, in the Bundles of ``envelopes``."""
        for one, first in twice:
            label = f"{one.original.get('resourceType', 'resource')}/{one.original.get('id', '')}"
            reason = self.source.reasons.get(id(first.view))
            fate = ("reworded", TWICE) if reason is None else (kind_of(reason.words), reason.words)
            self.taken.append(Taken(label, one.original, all_of=fate, ids=int(one.named), at=one.at))
        return Losses(tuple(self.taken), _unique(inferred), tuple(computed), _unique(notices), tuple(envelopes))

    # -- one resource --------------------------------------------------------------------------

    def _take(self, view: Resource, mine: Resource | None, names: Mapping[str, str]) -> None:
        source = self.source
        came = in_record_form(source.came[id(view)].original)
        if mine == came:
            self._take_unchanged(view, came)
            return
        label = f"{view.get('resourceType', 'resource')}/{view['id'] if 'id' in view else _unnamed(came)}"
        if is_view(source, view) and source.counts(view):  # one that is withdrawn is no mere view
            self._take_all(view, label, "reworded", VIEW)
            return
        if view.get("resourceType") == "Basic" and (back := carried(source, view)) is not None:
            self.extra.extend(back)
            self._take_carrier(view, came, label)
            self.carried = True
            return
        said = None if mine is None else self.ours.in_dialect(came, mine)
        said = rename(said, names) if said is not None and names else said
        if said == came:
            self._take_unchanged(view, came)
            return
        _refuse_numbers(came)
        place = source.places.get(id(view))
        if not source.counts(view):
            why = _why(came, source.reasons[id(view)].words)
            # What a request deletes must not go out as if it were there, nor what no reader of it alone would refuse:
            # it is carried. What names no type is no resource that could go out again.
            typed, shown = isinstance(kind := came.get("resourceType"), str), shows(str(kind), why)
            member = "value" if typed and shown and "Bundle.entry.request" not in why else "came"
            self.extra.append({"from": label, "why": why, member: as_json(came)})
            self._take_all(view, label, kind_of(why), why)
        elif mine is not None and said is not None and (source.place(view) or source.terms.is_ours(view)):
            self._ours(came, mine, said, str(place), label)
            self._judge(view, said, label)
        elif mine is None and view.get("id") in self.ours.inside:
            self._judge(view, came, label)
        else:
            first = source.came[id(view)].same_as
            if mine is None and first is not None and (found := self.ours.mine(first.view)) is not None:
                said = rename(found, names) if names else found
            self._theirs(view, came, mine, said, label)

    def _take_unchanged(self, view: Resource, came: Resource) -> None:
        """Take a resource that is exactly what we write."""
        label = f"{came.get('resourceType', 'resource')}/{came.get('id', '')}"
        self._judge(view, came, label)

    def _ids(self, view: Resource) -> int:
        return int(self.source.came[id(view)].named)

    def _take_all(self, view: Resource, label: str, kind: str, why: str) -> None:
        one = self.source.came[id(view)]
        self.taken.append(Taken(label, one.original, all_of=(kind, why), ids=self._ids(view), at=one.at))

    def _take_carrier(self, view: Resource, came: Resource, label: str) -> None:
        """What a carrier of ours holds has the fate that it had; the rest of the carrier is its form."""
        form, held = carried_apart(self.source, came)
        at = self.source.came[id(view)].at
        self.taken.append(Taken(label, form, all_of=("bookkeeping", CARRIER), ids=self._ids(view), at=at))
        for text, item in held:
            why = item.get("why", "")
            kind = "bookkeeping" if why == BOOKKEEPING else kind_of(why)
            came_of = {item["element"]: text} if "element" in item else text
            self.taken.append(Taken(item["from"], came_of, all_of=(kind, why), at=at))

    def _judge(self, view: Resource, said: Resource | None, label: str) -> None:
        """Note all that says what became of the leaves of a resource that counts."""
        source = self.source
        one = source.came[id(view)]
        marks = source.marks.get(id(view), set())
        again, own = id(view) in source.again, source.place(view) is not None
        inner = self._contained(view, one.original, label) if "contained" in one.original else None
        left = source.left(view)
        ids, mapped = self._ids(view), one.mapped
        self.taken.append(Taken(label, one.original, said, marks, left, None, again, inner, ids, own, mapped, one.at))

    def _contained(self, view: Resource, came: Resource, label: str) -> dict[int, Taken]:
        """What became of what a resource contains: it is read as the others are."""
        source, out = self.source, {}
        for key, one in source.came.items():
            if one.holder is not view:
                continue
            number = next(n for n, item in enumerate(came["contained"]) if item is one.original)
            if one.reason is not None or key in source.reasons:
                why = source.reasons[key].words if key in source.reasons else KEPT
                out[number] = Taken(label, one.original, all_of=(kind_of(why), why))
            elif key in source.places:
                place = source.places[key]
                mine = self.ours.at(one.original, place) if place else None
                marks = source.marks.get(key, set())
                said = mine or source.shown.get(key)
                out[number] = Taken(label, one.original, said, marks, mapped=one.mapped)
        return out

    def _ours(self, came: Resource, mine: Resource, said: Resource, place: str, label: str) -> None:
        """A resource of ours that came back: ids in the map of the server's, and what differs element by element."""
        meta = came.get("meta")
        version = meta.get("versionId") if isinstance(meta, dict) else None
        stamp = {k: v for k, v in {"id": came.get("id"), "versionId": version}.items() if v is not None}
        if came.get("id") != mine["id"] or "versionId" in stamp:
            self.server[f"{mine['resourceType']}/{place}"] = stamp
        for key, value in came.items():
            if key == "hasMember" and self.ours.inside:
                value = [one for one in value if not self.ours.names_inside(one)]
            if key in SERVERS or (key in said and leaves.covers(said[key], value)):
                continue
            why = WORDED if key in said else KEPT
            item = {"from": label, "place": place, "element": key, "why": why, "came": as_json(value)}
            if key in mine:
                item["ours"] = as_json(mine[key])
            self.extra.append(item)

    def _theirs(self, view: Resource, came: Resource, mine: Resource | None, said: Resource | None, label: str) -> None:
        """A resource of somebody else's: kept whole; each leaf that the record does not say is listed."""
        source, place = self.source, self.source.places.get(id(view))
        if id(view) not in source.places:
            why = _why(came, KEPT)
            self.extra.append({"from": label, "why": why, "value": as_json(came)})
            self._take_all(view, label, "kept", why)
            return
        item = {
            "from": label,
            "why": self._aside(view) or (CAME if mine is not None else SHAPED),
            "value": as_json(came),
        }
        if mine is not None:
            item["place"], item["ours"] = str(place), as_json(digests(mine))
        elif id(view) in source.standing:
            item["ours"] = as_json(source.standing[id(view)])
        self.extra.append(item)
        self._judge(view, said or source.shown.get(id(view)), label)

    def _aside(self, view: Resource) -> str:
        """Which parts of a resource are no facts, and why: a record that carries it says so."""
        parts = ((path, *why.partition(": ")[::2]) for path, why in self.source.left(view) if kind_of(why) != "kept")
        return "; ".join(f"{kind}: {path}: {why}" for path, kind, why in parts)

    def _named(self, named: list[tuple[str, str, str]]) -> None:
        for kind, place, name in named:
            mine = self.ours.by_id.get(self.ours.out.id(kind, place))
            if mine is not None:
                item = {"from": f"{kind}/{mine['id']}", "place": place, "why": NAMED, "came": as_json(name)}
                self.extra.append({**item, "ours": as_json(digests(mine))})


def _unique(lines: Iterable[str]) -> tuple[str, ...]:
    """Return each line once, in order."""
    return tuple(dict.fromkeys(lines))


def _why(came: Resource, why: str) -> str:
    """Why a resource is kept: what is around the care of wounds is called what it is."""
    content = _OTHER_CONTENT.get(str(came.get("resourceType"))) if why == KEPT else None
    return why if content is None else f"other content ({content}): carried as it came"


def _unnamed(came: Resource) -> str:
    """How what came without an id is named: by a digest, the same wherever it stands."""
    return f"no-id-{sha256(as_json(came).encode()).hexdigest()[:8]}"


def _refuse_numbers(came: Resource) -> None:
    """Nothing is kept that could not be read again: numbers are bounded here too."""
    for path, value in leaves.leaves(came):
        if isinstance(value, (int, float, Decimal)) and not isinstance(value, bool) and not fits(value):
            raise InputError(f"{came.get('resourceType')}.{leaves.words(path)}", *TOO_LONG)


def _literal(name: str) -> bool:
    return not name.startswith(("identifier:", "#", "display:"))


def _asked_of(entry: Json) -> str:
    """Return the type of the resource that a request of a Bundle is about, or ""."""
    url = str((entry.get("request") or {}).get("url", "")) if isinstance(entry, dict) else ""
    return next((part for part in re.split("[/?]", url) if part in resource_types()), "")


def collect(
    source: ReadContext,
    history: History,
    build: Callable[[History], tuple[list[Resource], WriteContext]],
    named: list[tuple[str, str, str]],
    entries: list[tuple[str, str, Json]],
) -> Keeping:
    """Keep everything that the record does not say, and return what was kept."""
    keeping = Keeping(source, history, build)
    keeping.collect(named, entries)
    return keeping
