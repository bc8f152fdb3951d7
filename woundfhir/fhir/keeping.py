"""Nothing is lost: what came in and is not said by the record is kept verbatim and listed.

After reading, the record is written again and each resource that came is held against the one we write for the same
place. A resource of somebody else's is kept whole, with a digest of each element of ours, so that it goes out as it
came as long as the record says the same; of ours, only the elements that differ are kept.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from hashlib import sha256
from typing import Any

from woundfhir.catalogue import BASE
from woundfhir.errors import InputError
from woundfhir.fhir import leaves
from woundfhir.fhir.losses import BOOKKEEPING, Loss, Losses, unique
from woundfhir.fhir.putting_back import came_names, carried
from woundfhir.fhir.read_context import ReadContext, Resource, rename
from woundfhir.fhir.write_context import WriteContext
from woundfhir.limits import TOO_LONG, fits
from woundfhir.record import History
from woundfhir.record.canonical import as_json

Json = Any
_VIEWS = frozenset(("document", "computed"))
WHOLE = "no place in the record"
SHAPED = "in the record, in another shape"
CAME = "in the record; kept as it came"
NAMED = "named by reference; it did not come"
ELEMENT = "no place in the record"
WORDED = "said by the record, here in the sender's own form"
#: Elements of our own resources that servers change: their ids are kept in one map, the rest says nothing of care.
_SERVERS = frozenset(("id", "meta", "text"))


def digests(ours: Mapping[str, Json]) -> dict[str, str]:
    """Return a short digest of each element: whether ours still says what it said."""
    return {key: sha256(as_json(value).encode()).hexdigest()[:12] for key, value in ours.items()}


class Keeping:
    """One input held against what we write of the record that was read from it."""

    def __init__(self, source: ReadContext, history: History, build: Callable[[History], Any]) -> None:
        self.source = source
        self.history = history
        ours, self.out = build(history)
        self.by_id: dict[str, Resource] = {r["id"]: r for r in ours}
        self.extra: list[dict[str, str]] = []
        self.losses: list[Loss] = []
        self.server: dict[str, Json] = {}
        self.said: list[Resource] = []
        self.understood = 0
        self.values = 0
        self.carried = False

    def collect(self, named: list[tuple[str, str, str]], entries: list[tuple[str, str, Json]]) -> None:
        """Put everything that the record does not say into its ``extra``."""
        self._named(named)
        pairs = [(one, self._mine(one)) for one in self.source.resources]
        if not all(mine is one or mine == one for one, mine in pairs) or named:
            names = came_names(self.out, [(one, mine) for one, mine in pairs if mine is not None])
            names |= {f"{kind}/{self.out.id(kind, place)}": name for kind, place, name in named if _literal(name)}
            for one, mine in pairs:
                self._take(one, mine, names)
        else:  # ours to the letter, and so all of it is said
            self._said(one for one, _ in pairs)
        for where, why, entry in entries:
            self.extra.append({"from": where, "why": why, "came": as_json(entry)})
            self.losses.append(Loss(where, where, why))
        if self.server:
            self.extra.append({"from": "server", "why": BOOKKEEPING, "came": as_json(self.server)})
        if self.extra or self.carried:
            self.history.keep(self.extra)

    def report(self, inferred: list[str], computed: list[Resource], notices: list[str]) -> Losses:
        """Return the report."""
        return Losses(
            tuple(self.losses),
            unique(inferred),
            tuple(computed),
            unique(notices),
            self.understood,
            self.values,
            tuple(self.said),
        )

    # -- one resource --------------------------------------------------------------------------

    def _mine(self, resource: Resource) -> Resource | None:
        """The resource that we write for the same place, if it is read and stands in our shape."""
        if not self.source.counts(resource):
            return None
        place = self.source.places.get(id(resource))
        if place is None:
            return None
        found = self.by_id.get(str(resource.get("id")))
        if found is None or found["resourceType"] != resource.get("resourceType"):
            found = self.by_id.get(self.out.id(str(resource.get("resourceType")), place))
        return found

    def _take(self, view: Resource, mine: Resource | None, names: Mapping[str, str]) -> None:
        source = self.source
        came = source.came[id(view)].original
        if mine == came or self._own_view(view):
            self._said([came])
            return
        if view.get("resourceType") == "Basic" and (back := carried(source, view)) is not None:
            self.extra.extend(back)
            self.losses.extend(_loss(item) for item in back if item.get("from") != "record")
            self.carried = True
            return
        said = rename(mine, names) if mine is not None and names else mine
        if said == came:
            self._said([came])
            return
        _refuse_numbers(came)
        label = f"{view.get('resourceType', 'resource')}/{view['id'] if 'id' in view else _unnamed(came)}"
        place = source.places.get(id(view))
        if not source.counts(view):
            why = source.reasons[id(view)].words
            # What a request deletes must not go out as if it were there: it is carried.
            member = "came" if "Bundle.entry.request" in why else "value"
            self.extra.append({"from": label, "why": why, member: as_json(came)})
            self.losses.append(Loss(label.split("/")[0], label, why))
            self.values += leaves.count(came)
        elif mine is not None and said is not None and (source.place(view) or source.terms.is_ours(view)):
            self._ours(came, mine, said, str(place), label)
        else:
            self._theirs(view, came, mine, said, label)

    def _said(self, resources: Iterable[Resource]) -> None:
        """Ours to the letter: counted only when somebody asks."""
        self.said.extend(resources)

    def _ours(self, came: Resource, mine: Resource, said: Resource, place: str, label: str) -> None:
        """A resource of ours that came back: ids in the map of the server's, and what differs element by element."""
        meta = came.get("meta") or {}
        stamp = {k: v for k, v in {"id": came.get("id"), "versionId": meta.get("versionId")}.items() if v is not None}
        if came.get("id") != mine["id"] or "versionId" in stamp:
            self.server[f"{mine['resourceType']}/{place}"] = stamp
        total = leaves.count(came)
        self.values += total
        for key, value in came.items():
            if key in _SERVERS or (key in said and leaves.covers(said[key], value)):
                continue
            why = WORDED if key in said else ELEMENT
            item = {"from": label, "place": place, "element": key, "why": why, "came": as_json(value)}
            if key in mine:
                item["ours"] = as_json(mine[key])
            self.extra.append(item)
            self.losses.append(Loss(f"{came['resourceType']}.{key}", label, why))
            total -= leaves.count(value, key)
        self.understood += total

    def _theirs(self, view: Resource, came: Resource, mine: Resource | None, said: Resource | None, label: str) -> None:
        """A resource of somebody else's: kept whole; each leaf that the record does not say is listed."""
        source, place = self.source, self.source.places.get(id(view))
        if id(view) not in source.places:
            self.extra.append({"from": label, "why": WHOLE, "value": as_json(came)})
            self.losses.append(Loss(label.split("/")[0], label, WHOLE))
            self.values += leaves.count(came)
            return
        item = {"from": label, "why": CAME if mine is not None else SHAPED, "value": as_json(came)}
        if mine is not None:
            item["place"], item["ours"] = str(place), as_json(digests(mine))
        elif id(view) in source.standing:
            item["ours"] = as_json(source.standing[id(view)])
        self.extra.append(item)
        away = source.left(view)
        found = leaves.fates(
            came, said or source.shown.get(id(view)), source.marks.get(id(view), frozenset()), dict(away)
        )
        self.values += found.values
        self.understood += found.understood
        self.losses.extend(Loss(path, label, why) for path, why in found.losses)

    def _named(self, named: list[tuple[str, str, str]]) -> None:
        for kind, place, name in named:
            mine = self.by_id.get(self.out.id(kind, place))
            if mine is not None:
                item = {"from": f"{kind}/{mine['id']}", "place": place, "why": NAMED, "came": as_json(name)}
                self.extra.append({**item, "ours": as_json(digests(mine))})

    @staticmethod
    def _own_view(resource: Mapping[str, Json]) -> bool:
        """Our own Composition and computed values are views of the record and say nothing that it does not."""
        meta = resource.get("meta")
        names = [str(name) for name in (meta.get("profile") or ())] if isinstance(meta, dict) else []
        return any(name.startswith(BASE) and name.rsplit("/", 1)[-1] in _VIEWS for name in names)


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


def _loss(item: Mapping[str, str]) -> Loss:
    head = item["from"].split("/")[0]
    return Loss(f"{head}.{item['element']}" if "element" in item else head, item["from"], item.get("why", ""))


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
